//! What each line of a sheet is: field, heading, order, definition, steps, feet, timing, note.

use std::collections::HashSet;

use crate::units::Foot;

use super::field::{Field, field};
use super::foot_rows::join_foot_rows;
use super::glossary::{self, name_key};
use super::heading::{Heading, heading, part_word};
use super::heading_rows::{headings_line_by_line, in_one_row, title_is_no_order};
use super::line::Line;
use super::line_marks::Marks;
use super::model::PartKind;
use super::named_order::{names_in_orders, order_without_a_name};
use super::notation::{read_feet, read_movements};
use super::parse::steps_file;
use super::part_names::{Structure, structure};
use super::phrases::{is_repeat_word, times_word, wall_claim};
use super::sections::begins_the_end;
use super::step_lists::{name_and_movements, step_lists, steps_spelled_below};
use super::timing_lines::read_timing;
use super::totals::{named_total, sums};
use super::vocabulary::content;
use super::words::{bare, counts_in_brackets, is_counts_word, length, number, turn};

/// What a line is. Offsets are in bytes of [`Line::text`].
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// Nothing on it.
    Blank,
    /// A drawn line.
    Rule,
    /// A field and where its value begins.
    Field(Field, usize),
    /// Something like a field whose name is not known.
    UnknownField,
    /// A part begins.
    Heading(Heading),
    /// The order, from here on.
    Order(usize),
    /// A step's own definition: name and where its movements begin.
    Definition(String, usize),
    /// Feet under movements.
    Feet(Vec<Foot>),
    /// Timing under movements.
    Timing(Vec<Vec<char>>),
    /// Names of columns; whether a number in front means counts.
    Columns(bool),
    /// Movements on two rows, one for each foot, joined into one line.
    FootRows(String),
    /// A section of a line dance.
    LineSection,
    /// Counts of a line dance, with what is danced behind them.
    LineSteps(Marks),
    /// A tag or a restart of a line dance.
    TagOrRestart,
    /// A note.
    Note,
    /// Steps, from here on.
    Steps(usize),
    /// Parts that are danced again here, named from one byte to another: `Repeat parts A and B`.
    Again(usize, usize),
    /// The sum of a part's counts on a line of its own: `= 32`.
    Sum,
}

impl Kind {
    /// Whether the line gives the order of the parts, or goes on with it.
    pub(super) fn is_order(&self) -> bool {
        matches!(self, Kind::Order(_) | Kind::Field(Field::Order, _))
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Section {
    Top,
    Part,
    Order,
    Steps,
}

/// Says what each line of a sheet is.
pub fn classify(lines: &[Line<'_>]) -> Vec<Kind> {
    classify_from(lines, Section::Top)
}

/// Says what each line of a file of steps is.
pub fn classify_steps(lines: &[Line<'_>]) -> Vec<Kind> {
    classify_from(lines, Section::Steps)
}

fn classify_from(lines: &[Line<'_>], first: Section) -> Vec<Kind> {
    let ordered = names_in_orders(lines);
    let defined: HashSet<String> =
        lines.iter().filter_map(|l| Some(name_key(&name_and_movements(&l.text)?.0))).collect();
    let known = match first {
        Section::Top => structure(lines),
        _ => Structure::default(),
    };
    let mut section = first;
    let mut order_begun = false;
    let mut out = Vec::with_capacity(lines.len());
    for (i, line) in lines.iter().enumerate() {
        let context = Context {
            section,
            after_gap: i == 0 || matches!(out.last(), Some(Kind::Blank | Kind::Rule)),
            step_below: lines.get(i + 1).is_some_and(|l| !l.text.trim().is_empty()),
            below_movements: matches!(
                out.last(),
                Some(
                    Kind::Steps(_)
                        | Kind::Feet(_)
                        | Kind::Timing(_)
                        | Kind::Definition(..)
                        | Kind::Heading(_)
                )
            ),
            steps_below: lines.get(i + 1).is_some_and(|l| looks_like_steps(&l.text)),
            steps_in_block: steps_in_block(&lines[i + 1..]),
            defined_below: lines.get(i + 1).is_some_and(|l| spells_out(&l.text)),
            order_over: order_begun && known.names_none(&line.text),
            ordered: &ordered,
            defined: &defined,
        };
        let order = known.orders.get(i).copied().flatten();
        // A comma at the end of a line of the order leads to the next.
        let order_goes_on = i > 0
            && out.last().is_some_and(Kind::is_order)
            && lines[i - 1].typed.trim_end().ends_with(',');
        let head = known.heads.get(i).cloned().flatten();
        // `All repeat (16)` is none.
        let repeats =
            |h: &Heading| h.name.split_whitespace().any(|w| is_repeat_word(&w.to_lowercase()));
        let head = head.filter(|h| !defined.contains(&name_key(&h.name)) && !repeats(h));
        let kind = match (classify_line(line, &context), head) {
            (Kind::Blank, _) => Kind::Blank,
            _ if order_goes_on => Kind::Order(line.indent()),
            (
                Kind::Steps(_)
                | Kind::Heading(_)
                | Kind::Note
                | Kind::UnknownField
                | Kind::Definition(..),
                _,
            ) if order.is_some() => Kind::Order(order.unwrap_or(0)),
            // `ends with a stomp` below the order ends the dance.
            (Kind::Order(at), _)
                if order_begun
                    && begins_the_end(&line.text)
                    && order.is_none()
                    && content(&line.text).is_steps() =>
            {
                Kind::Steps(at)
            }
            // The names may stand behind a label, `2nd verse: Main Bit`.
            (Kind::Order(at), _) => {
                Kind::Order(order.filter(|o| *o < line.text.trim_end().len()).unwrap_or(at))
            }
            (Kind::Steps(_) | Kind::Note, Some(head)) => Kind::Heading(head),
            (Kind::Heading(found), Some(head)) => Kind::Heading(better(found, head)),
            (kind, _) => kind,
        };
        match &kind {
            Kind::Field(Field::Order, at) => {
                section = Section::Order;
                order_begun = !line.text[*at..].trim().is_empty();
            }
            Kind::Order(_) => {
                section = Section::Order;
                order_begun = true;
            }
            Kind::Field(Field::Steps, _) if steps_file(&line.text).is_none() => {
                section = Section::Steps;
            }
            Kind::Heading(_) => section = Section::Part,
            Kind::Blank | Kind::Rule if section == Section::Order && order_begun => {
                section = Section::Top;
            }
            Kind::Steps(_) | Kind::Note if section == Section::Order => section = Section::Top,
            _ => {}
        }
        out.push(kind);
    }
    join_foot_rows(lines, &mut out);
    headings_line_by_line(lines, &mut out);
    sums(lines, &mut out);
    order_without_a_name(lines, &mut out);
    title_is_no_order(lines, &mut out);
    in_one_row(lines, &mut out);
    step_lists(lines, &mut out);
    steps_spelled_below(lines, &mut out);
    out
}

/// Whether steps stand in the lines up to the next gap.
fn steps_in_block(lines: &[Line<'_>]) -> bool {
    const MOST_LINES: usize = 4;
    let block = lines.iter().take_while(|l| !l.text.trim().is_empty());
    block.take(MOST_LINES).any(|l| content(&l.text).is_steps())
}

/// Of two readings of a heading the one that makes more of it.
fn better(found: Heading, head: Heading) -> Heading {
    let more = found.counts.is_none() && found.rest.is_none() && head.counts.is_some();
    // `Short Break`: what sort of part it is may stand in its second word.
    let kind = if found.kind == PartKind::Part { head.kind } else { found.kind };
    if more { head } else { Heading { kind, ..found } }
}

pub(super) struct Context<'c> {
    pub(super) section: Section,
    pub(super) after_gap: bool,
    pub(super) step_below: bool,
    pub(super) below_movements: bool,
    pub(super) steps_below: bool,
    /// Whether steps stand below before the next gap.
    pub(super) steps_in_block: bool,
    /// Whether a step is spelled out on the line below: `Triple = DS DS DS RS`.
    pub(super) defined_below: bool,
    /// Whether the order has begun and the line names no part.
    pub(super) order_over: bool,
    pub(super) ordered: &'c HashSet<String>,
    /// The keys of steps that the sheet spells out by name.
    pub(super) defined: &'c HashSet<String>,
}

fn classify_line(line: &Line<'_>, context: &Context<'_>) -> Kind {
    let text = line.text.as_str();
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Kind::Blank;
    }
    if trimmed.chars().all(|c| "-_=*~#.+|\u{2022}\u{2500}\u{2501}\u{2550}".contains(c)) {
        return Kind::Rule;
    }
    // Signs alone say nothing.
    if trimmed.chars().all(|c| c.is_ascii_punctuation() && c != '&') {
        return Kind::Rule;
    }
    let numbered =
        trimmed.starts_with('#') && trimmed[1..].starts_with(|c: char| c.is_ascii_digit());
    if trimmed.starts_with('#') && !numbered
        || trimmed.starts_with("//")
        || trimmed.starts_with("++")
    {
        return Kind::Note;
    }
    if named_total(trimmed).is_some() {
        return Kind::Sum;
    }
    let start = bullet_end(text);
    let spelled = context.section == Section::Top && spells_out_by_dash(&text[start..]);
    if let Some(field) = field(text, start, context).filter(|_| !spelled) {
        return field;
    }
    if let Some(definition) = definition(text, start, context) {
        return definition;
    }
    // An order may be a list of lines that look like headings; a heading has counts or steps.
    if let Some(heading) = heading(text, start, context)
        && (context.section != Section::Order
            || heading.counts.is_some()
            || context.steps_below
            || heading
                .rest
                .is_some_and(|at| looks_like_steps(&text[at..]) || content(&text[at..]).is_steps()))
    {
        return Kind::Heading(heading);
    }
    if context.section == Section::Order && is_starred_sentence(line.typed.trim()) {
        return Kind::Note;
    }
    if context.section == Section::Order && !context.order_over {
        return Kind::Order(start);
    }
    if context.below_movements
        && let Some(feet) = read_feet(text)
    {
        return Kind::Feet(feet);
    }
    if let Some(timing) = read_timing(text) {
        return Kind::Timing(timing);
    }
    if let Some(counts_first) = columns(trimmed) {
        return Kind::Columns(counts_first);
    }
    if let Some(feet) = read_feet(text) {
        return Kind::Feet(feet);
    }
    if is_wrapped_note(trimmed)
        || tells_each_time(trimmed)
        || tells_of_a_step(trimmed)
        || tells_the_length(trimmed)
    {
        return Kind::Note;
    }
    Kind::Steps(start)
}

/// Whether a line begins with a step of the glossary or with movements.
fn looks_like_steps(text: &str) -> bool {
    let words: Vec<&str> = text
        .split_whitespace()
        .map(|w| w.trim_matches(['(', ')', ',', ':']))
        .skip_while(|w| number(w).is_some() || times_word(w).is_some())
        .take(4)
        .collect();
    name_in_front(&words).is_some()
        || words.len() > 1 && read_movements(&words[..2].join(" ")).is_some()
}

/// How many words at the start name a step of the glossary, as many as may be.
fn name_in_front(words: &[&str]) -> Option<usize> {
    (1..=words.len()).rev().find(|&n| glossary::find(&words[..n].join(" ")).is_some())
}

/// Where the line begins behind a bullet.
fn bullet_end(text: &str) -> usize {
    let indent = text.len() - text.trim_start().len();
    let rest = &text[indent..];
    for bullet in ["* ", "- ", "\u{2022} ", "> ", "\u{2022}"] {
        if let Some(after) = rest.strip_prefix(bullet) {
            return text.len() - after.trim_start().len();
        }
    }
    indent
}

/// `Doubles take 3 beats each, so listen!`: a sentence of which a step is what it speaks of.
fn tells_of_a_step(text: &str) -> bool {
    const VERBS: [&str; 10] =
        ["go", "goes", "take", "takes", "are", "is", "start", "starts", "come", "comes"];
    let words: Vec<&str> = text.split_whitespace().collect();
    let named = name_in_front(&words[..words.len().min(3)]);
    text.ends_with(['.', '!'])
        && named.and_then(|n| words.get(n)).is_some_and(|w| VERBS.contains(&bare(w).as_str()))
}

/// `152 beats of dancing in all`: how long the dance is.
fn tells_the_length(text: &str) -> bool {
    let words: Vec<&str> = text.split_whitespace().collect();
    let [n, unit, rest @ ..] = &words[..] else { return false };
    let said = rest.join(" ").to_lowercase();
    let all = ["in all", "in total", "altogether", "of dancing"];
    number(n).is_some()
        && is_counts_word(unit)
        && all.iter().any(|w| said.contains(w))
        && content(text).steps == 0
}

/// `*now twice at the end, not three times*`: a remark between stars.
fn is_starred_sentence(text: &str) -> bool {
    const FEWEST_WORDS: usize = 5;
    let inner = text.strip_prefix('*').and_then(|t| t.strip_suffix('*'));
    inner.is_some_and(|t| !t.contains('*') && t.split_whitespace().count() >= FEWEST_WORDS)
}

/// `First Joey to the left, second to the right`: how a step of the line above goes each time.
fn tells_each_time(text: &str) -> bool {
    let words: Vec<String> = text.split_whitespace().map(bare).collect();
    let said = |w: &[&str]| words.iter().any(|word| w.contains(&word.as_str()));
    words.first().is_some_and(|w| matches!(w.as_str(), "first" | "1st"))
        && said(&["second", "2nd"])
        && content(text).steps > 0
        && said(&["left", "right", "forward", "back", "front"])
        && !words.iter().any(|w| number(w).is_some() || is_counts_word(w))
}

pub(super) fn is_wrapped_note(trimmed: &str) -> bool {
    let quoted = trimmed.starts_with('"') && trimmed.ends_with('"') && trimmed.len() > 1;
    let inner = trimmed.strip_prefix('(').and_then(|t| t.strip_suffix(')'));
    quoted
        || inner.is_some_and(|inner| {
            let words: Vec<&str> = inner.split_whitespace().collect();
            !inner.contains(['(', ')'])
                && read_movements(inner).is_none()
                && (0..words.len())
                    .all(|i| turn(&words[i..]).is_none() && wall_claim(&words[i..]).is_none())
                && !words.first().is_some_and(|w| {
                    matches!(w.to_lowercase().as_str(), "repeat" | "pause" | "hold")
                        || number(w).is_some()
                })
        })
}

/// `Lantern Kick = DS K DS RS`, and in the steps section `Lantern Kick: DS K DS RS` or with a dash.
fn definition(text: &str, start: usize, context: &Context<'_>) -> Option<Kind> {
    let rest = &text[start..];
    let by_sign = rest.find('=').map(|at| (at, 1));
    let by_section = (context.section == Section::Steps)
        .then(|| rest.find(": ").map(|at| (at, 1)).or_else(|| rest.find(" - ").map(|at| (at, 3))))
        .flatten();
    let lower = rest.to_ascii_lowercase();
    let by_word = [" is ", " means "].iter().find_map(|word| {
        let at = lower.find(word)?;
        is_spelled(&rest[..at], &rest[at + word.len()..]).then_some((at, word.len()))
    });
    let by_dash = (context.section == Section::Top && spells_out_by_dash(rest))
        .then(|| rest.find(" - ").map(|at| (at, 3)).or_else(|| rest.find(": ").map(|at| (at, 2))))
        .flatten();
    // `Lantern Kick:  DS K DS RS`, below the order.
    let by_order = (context.section == Section::Order)
        .then(|| rest.find(": ").map(|at| (at, 1)))
        .flatten()
        .filter(|(at, _)| {
            read_movements(&rest[at + 1..]).is_some_and(|(moves, _)| moves.len() > 1)
        });
    // `Part A - The Wagon Ride`, below a list of steps.
    let first = rest.split_whitespace().next().unwrap_or("");
    let titled = part_word(first).is_some() && !rest.contains('=');
    let by_section = by_section.filter(|(at, width)| {
        !titled || read_movements(&rest[at + width..]).is_some_and(|(moves, _)| moves.len() > 1)
    });
    let (at, width) = by_sign.or(by_section).or(by_word).or(by_dash).or(by_order)?;
    let name = rest[..at].trim();
    let name = counts_in_brackets(name).map_or(name, |(alone, _)| alone);
    if name.is_empty() || name.chars().count() > 60 || !name.chars().any(char::is_alphabetic) {
        return None;
    }
    // `120 counts a minute, so 8 counts = 4 sec` is one too.
    const MOST_NAME_WORDS: usize = 4;
    let meaning = &rest[at + width..];
    let long = name.split_whitespace().count() > MOST_NAME_WORDS
        || meaning.split_whitespace().count() > MOST_NAME_WORDS;
    if long && content(meaning).steps == 0 && read_movements(meaning).is_none() {
        return None;
    }
    // `Tag = 3 Stomps` is a part with its steps.
    if part_word(name).is_some() && content(meaning).is_steps() && read_movements(meaning).is_none()
    {
        return None;
    }
    // `(each line = 8)` is a note.
    if is_wrapped_note(text.trim()) {
        return None;
    }
    let value = start + at + width;
    // `Chorus = 36` is a heading.
    let words: Vec<&str> = text[value..].split_whitespace().collect();
    if length(&words).is_some_and(|(_, used)| used == words.len()) || words.is_empty() {
        return None;
    }
    Some(Kind::Definition(name.to_string(), value))
}

/// Whether a line gives a step's movements: `Triple = DS DS DS RS`.
pub(super) fn spells_out(text: &str) -> bool {
    let by_sign = text.split_once('=').is_some_and(|(name, moves)| is_spelled(name, moves));
    by_sign || spells_out_by_dash(text)
}

/// Whether words are a name and movements.
fn is_spelled(name: &str, movements: &str) -> bool {
    const MOST_NAME_WORDS: usize = 4;
    let words: Vec<&str> = movements.split_whitespace().take(2).collect();
    (1..=MOST_NAME_WORDS).contains(&name.split_whitespace().count())
        && words.len() > 1
        && words[0].chars().all(|c| !c.is_lowercase())
        && read_movements(&words.join(" ")).is_some()
}

/// Whether a line gives a step's movements and their counts behind a dash or a colon: `Lark Kick - DS K DS RS, 4 counts`.
fn spells_out_by_dash(text: &str) -> bool {
    let Some((name, movements)) = text.split_once(" - ").or_else(|| text.split_once(": ")) else {
        return false;
    };
    let mut clauses = movements.split([',', '(', ';', '.']);
    let spelled = clauses.next().is_some_and(|moves| is_spelled(name, moves));
    spelled
        && clauses.any(|c| {
            let words: Vec<&str> = c.split_whitespace().map(|w| w.trim_matches(')')).collect();
            length(&words).is_some_and(|(_, used)| used == 2 && words.len() == 2)
        })
}

/// Splits `Lantern Kick = DS K DS RS` behind `Step:`.
pub(super) fn named_movements(text: &str, from: usize) -> Option<(String, usize)> {
    let rest = &text[from..];
    let at = rest.find(['=', ':']).or_else(|| rest.find(" - ").map(|at| at + 1))?;
    let name = rest[..at].trim();
    (!name.is_empty()).then(|| (name.to_string(), from + at + 1))
}

/// The names of columns, `Beats  Cue  Step definition`: whether a number in front means counts.
fn columns(trimmed: &str) -> Option<bool> {
    let lower = trimmed.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| c.is_whitespace() || matches!(c, '/' | '|' | '.' | '#' | '-'))
        .filter(|w| !w.is_empty())
        .collect();
    let names = [
        "beats",
        "counts",
        "count",
        "cts",
        "cue",
        "cues",
        "step",
        "steps",
        "definition",
        "definitions",
        "no",
        "times",
        "foot",
        "feet",
        "footwork",
        "timing",
        "movement",
        "movements",
        "name",
        "number",
        "of",
        "description",
        "notes",
        "beat",
        "breakdown",
        "direction",
        "turn",
    ];
    let all = words.iter().all(|w| names.contains(w));
    (all && words.len() >= 2 && trimmed.contains(|c: char| c.is_whitespace() || c == '|'))
        .then(|| words.first().is_some_and(|w| is_counts_word(w)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kinds(text: &str) -> Vec<Kind> {
        let lines: Vec<Line<'_>> =
            text.lines().enumerate().map(|(i, l)| Line::new(i + 1, l)).collect();
        classify(&lines)
    }

    fn heading_of(text: &str) -> Option<(String, Option<u32>, PartKind)> {
        match kinds(text).into_iter().next() {
            Some(Kind::Heading(h)) => Some((h.name, h.counts.map(|c| c.0), h.kind)),
            _ => None,
        }
    }

    #[test]
    fn headings_are_read_as_teachers_write_them() {
        use PartKind::*;
        let table = [
            ("Part A (32)", "Part A", Some(32), Part),
            ("PART A - 32 counts", "PART A", Some(32), Part),
            ("Part A – 32 counts", "Part A", Some(32), Part),
            ("Chorus 4 eights", "Chorus", Some(32), Part),
            ("Break: 16", "Break", Some(16), Break),
            ("Chorus = 36", "Chorus", Some(36), Part),
            ("Part B, 32 beats", "Part B", Some(32), Part),
            ("A (32)", "A", Some(32), Part),
            ("B:", "B", None, Part),
            ("Verse 2", "Verse 2", None, Part),
            ("Break 8", "Break", Some(8), Break),
            ("Break 2 (8)", "Break 2", Some(8), Break),
            ("End     Stomp L   (1)", "End", None, Ending),
            ("B  Joey, 2 Triples (12)", "B", None, Part),
            ("C (Chorus)", "C", None, Part),
            ("Ending", "Ending", None, Ending),
            ("Fill (4)", "Fill", Some(4), Fill),
            ("[Chorus]", "Chorus", None, Part),
            ("Second Verse (32)", "Second Verse", Some(32), Part),
            ("bridge\t(2 eights and 4)", "bridge", Some(20), Bridge),
        ];
        for (typed, name, counts, kind) in table {
            assert_eq!(heading_of(typed), Some((name.to_string(), counts, kind)), "{typed}");
        }
    }

    #[test]
    fn steps_are_no_headings() {
        for typed in [
            "2 Triple",
            "Rocking Chair (4)",
            "DS DS RS",
            "Triple x2",
            "Basic",
            "End on the left foot",
            "4 Chain L",
            "R",
            "L R L RL",
        ] {
            assert_eq!(heading_of(typed), None, "{typed}");
        }
    }

    #[test]
    fn own_names_are_headings_when_the_order_names_them() {
        let sheet = "שיר\n2 Triple\n\n🌙 night\n2 Triple\n\nOrder: שיר, 🌙 night, שיר\n";
        let kinds = kinds(sheet);
        assert!(matches!(&kinds[0], Kind::Heading(h) if h.name == "שיר"));
        assert!(matches!(&kinds[3], Kind::Heading(h) if h.name == "night"));
    }

    #[test]
    fn the_order_may_run_over_lines() {
        let kinds = kinds("Order:\nA B\nfill A\n\nPart A (8)\n2 Triple");
        assert!(matches!(kinds[1], Kind::Order(_)));
        assert!(matches!(kinds[2], Kind::Order(_)));
        assert!(matches!(kinds[4], Kind::Heading(_)));
        assert!(matches!(kinds[5], Kind::Steps(_)));
    }
}
