//! What each line of a sheet is: field, heading, order, definition, steps, feet, timing, note.

use std::collections::HashSet;

use crate::units::Foot;

use super::field::{Field, field};
use super::foot_rows::join_foot_rows;
use super::glossary;
use super::heading::{Heading, heading, part_word};
use super::line_marks::Marks;
use super::notation::{read_feet, read_movements, read_timing};
use super::order_words::is_order_word;
use super::parse::steps_file;
use super::phrases::{times_word, wall_claim};
use super::words::{Line, is_counts_word, key, length, number, turn};

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
            ordered: &ordered,
        };
        let kind = classify_line(line, &context);
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
            Kind::Blank if section == Section::Order && order_begun => section = Section::Top,
            Kind::Steps(_) if section == Section::Order => section = Section::Top,
            _ => {}
        }
        out.push(kind);
    }
    join_foot_rows(lines, &mut out);
    order_without_a_name(lines, &mut out);
    out
}

/// A sheet may give its order on a line of its own, `A B A B`, without the word: such a line names parts
/// and nothing else.
fn order_without_a_name(lines: &[Line<'_>], kinds: &mut [Kind]) {
    let named = |k: &Kind| matches!(k, Kind::Order(_) | Kind::Field(Field::Order, _));
    if kinds.iter().any(named) {
        return;
    }
    let mut names = HashSet::new();
    for kind in kinds.iter() {
        if let Kind::Heading(h) = kind {
            let name = key(&h.name);
            if let Some((_, label)) = name.split_once(' ') {
                names.insert(label.to_string());
            }
            names.insert(name);
        }
    }
    let mut in_words = false;
    for (line, kind) in lines.iter().zip(kinds.iter_mut()) {
        let at = match kind {
            Kind::Steps(at) => *at,
            // `VERSE - CHORUS - VERSE` begins like a heading.
            Kind::Heading(h) if h.rest.is_some() && h.counts.is_none() => line.indent(),
            _ => {
                in_words = false;
                continue;
            }
        };
        let text = &line.text[at..];
        let words: Vec<String> = text
            .split(|c: char| {
                c.is_whitespace() || matches!(c, ',' | '-' | '>' | '/' | ';' | '.' | '\u{2022}')
            })
            .map(key)
            .filter(|w| !w.is_empty() && times_word(w).is_none())
            .collect();
        let is_name =
            |w: &String| names.contains(w) || part_word(w).is_some_and(|(n, _)| names.contains(n));
        // An order told in words has other words between the names.
        let named = words.iter().filter(|w| is_name(w) && w.as_str() != "part").count();
        let by_words = words.len() > 1
            && named > usize::from(!in_words)
            && words.iter().all(|w| is_name(w) || is_order_word(w));
        let letters = text.trim();
        let by_letters = letters.len() > 2
            && letters.chars().all(|c| c.is_ascii_uppercase())
            && letters.chars().all(|c| names.contains(&c.to_lowercase().to_string()));
        in_words = by_words || by_letters;
        if in_words {
            *kind = Kind::Order(at);
        }
    }
}

pub(super) struct Context<'c> {
    pub(super) section: Section,
    pub(super) after_gap: bool,
    pub(super) step_below: bool,
    pub(super) below_movements: bool,
    pub(super) steps_below: bool,
    pub(super) ordered: &'c HashSet<String>,
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
    if trimmed.starts_with('#') && !numbered || trimmed.starts_with("//") {
        return Kind::Note;
    }
    let start = bullet_end(text);
    if let Some(field) = field(text, start, context) {
        return field;
    }
    if let Some(definition) = definition(text, start, context) {
        return definition;
    }
    // An order may be a list of lines that look like headings; a heading has counts or steps.
    if let Some(heading) = heading(text, start, context)
        && (context.section != Section::Order || heading.counts.is_some() || context.steps_below)
    {
        return Kind::Heading(heading);
    }
    if context.section == Section::Order {
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
    if is_wrapped_note(trimmed) {
        return Kind::Note;
    }
    Kind::Steps(start)
}

/// Whether a line begins with a step of the glossary or with movements.
fn looks_like_steps(text: &str) -> bool {
    let words: Vec<&str> = text
        .split_whitespace()
        .map(|w| w.trim_end_matches([',', ':']))
        .skip_while(|w| number(w).is_some() || times_word(w).is_some())
        .take(4)
        .collect();
    (1..=words.len()).any(|n| glossary::find(&words[..n].join(" ")).is_some())
        || words.len() > 1 && read_movements(&words[..2].join(" ")).is_some()
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

fn is_wrapped_note(trimmed: &str) -> bool {
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
    let (at, width) = by_sign.or(by_section)?;
    let name = rest[..at].trim();
    if name.is_empty() || name.chars().count() > 60 || !name.chars().any(char::is_alphabetic) {
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

/// Every name that stands in an order, as keys: between separators, and each word.
fn names_in_orders(lines: &[Line<'_>]) -> HashSet<String> {
    let mut names = HashSet::new();
    let mut in_order = false;
    let mut begun = false;
    for line in lines {
        let text = line.text.trim();
        let first = key(text.split([':', ' ']).next().unwrap_or(""));
        let begins =
            matches!(first.as_str(), "order" | "sequence" | "seq") && text.len() > first.len();
        let mut value = text;
        if begins {
            in_order = true;
            value = text.get(first.len()..).unwrap_or("").trim_start_matches([':', ' ']);
            begun = !value.is_empty();
        } else if text.is_empty() {
            in_order = in_order && !begun;
        }
        if !in_order || value.is_empty() {
            continue;
        }
        begun = true;
        for piece in value.split([',', ';', '>', '|', '/']).flat_map(|p| p.split(" - ")) {
            let words: Vec<&str> = piece
                .split_whitespace()
                .filter(|w| times_word(w).is_none() && !w.starts_with('('))
                .collect();
            // Words of letters and digits alone are the usual short names, which are known anyway.
            if words.len() <= 5 {
                names.insert(key(&words.join(" ")));
            }
            for word in &words {
                if word.chars().count() > 1 {
                    names.insert(key(word));
                }
            }
        }
    }
    names.remove("");
    names
}

#[cfg(test)]
mod tests {
    use super::super::model::PartKind;
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
        assert!(matches!(&kinds[3], Kind::Heading(h) if h.name == "🌙 night"));
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
