//! What each line of a sheet is: field, heading, order, definition, steps, feet, timing, note.

use std::collections::HashSet;

use crate::units::Foot;

use super::glossary;
use super::model::PartKind;
use super::notation::{read_feet, read_movements, read_timing};
use super::step_line::times_word;
use super::words::{Line, is_counts_word, key, length, nearest, number};

/// A line at the top of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Field {
    /// Title of the dance.
    Title,
    /// Song and artist.
    Music,
    /// Who set it.
    Choreographer,
    /// Level of difficulty.
    Level,
    /// Counts before the first step.
    Wait,
    /// The foot that starts.
    Starts,
    /// The order of the parts.
    Order,
    /// Definitions of steps follow.
    Steps,
    /// Anything else worth keeping.
    Note,
}

/// Names of fields, each with what it is.
const FIELDS: &[(&str, Field)] = &[
    ("title", Field::Title),
    ("dance", Field::Title),
    ("routine", Field::Title),
    ("name", Field::Title),
    ("music", Field::Music),
    ("song", Field::Music),
    ("artist", Field::Music),
    ("song by", Field::Music),
    ("music by", Field::Music),
    ("record", Field::Music),
    ("track", Field::Music),
    ("choreo", Field::Choreographer),
    ("choreographer", Field::Choreographer),
    ("choreography", Field::Choreographer),
    ("choreography by", Field::Choreographer),
    ("choreographed by", Field::Choreographer),
    ("choreo by", Field::Choreographer),
    ("by", Field::Choreographer),
    ("level", Field::Level),
    ("difficulty", Field::Level),
    ("wait", Field::Wait),
    ("intro wait", Field::Wait),
    ("starts", Field::Starts),
    ("starts on", Field::Starts),
    ("start on", Field::Starts),
    ("starting foot", Field::Starts),
    ("start", Field::Starts),
    ("lead", Field::Starts),
    ("lead foot", Field::Starts),
    ("order", Field::Order),
    ("sequence", Field::Order),
    ("seq", Field::Order),
    ("sequence of parts", Field::Order),
    ("order of dance", Field::Order),
    ("order of parts", Field::Order),
    ("steps", Field::Steps),
    ("step list", Field::Steps),
    ("own steps", Field::Steps),
    ("definitions", Field::Steps),
    ("glossary", Field::Steps),
    ("note", Field::Note),
    ("notes", Field::Note),
    ("call", Field::Note),
    ("calls", Field::Note),
    ("cue", Field::Note),
    ("cues", Field::Note),
    ("source", Field::Note),
    ("tempo", Field::Note),
    ("speed", Field::Note),
    ("bpm", Field::Note),
    ("time", Field::Note),
    ("length", Field::Note),
    ("album", Field::Note),
    ("date", Field::Note),
    ("formation", Field::Note),
    ("position", Field::Note),
    ("style", Field::Note),
    ("type", Field::Note),
    ("counts", Field::Note),
    ("count", Field::Note),
    ("walls", Field::Note),
    ("wall", Field::Note),
    ("class", Field::Note),
    ("teacher", Field::Note),
    ("taught by", Field::Note),
    ("email", Field::Note),
    ("phone", Field::Note),
    ("web", Field::Note),
    ("website", Field::Note),
    ("available", Field::Note),
    ("abbreviations", Field::Note),
    ("restart", Field::Note),
    ("hint", Field::Note),
    ("remark", Field::Note),
    ("comment", Field::Note),
    ("comments", Field::Note),
];

/// Words with which a part's heading begins, with the sort of part and other ways to write them.
pub(super) const PART_WORDS: &[(&str, PartKind, &[&str])] = &[
    ("part", PartKind::Part, &["pt", "section"]),
    ("chorus", PartKind::Part, &["ch", "cho", "chor", "refrain"]),
    ("verse", PartKind::Part, &["v", "vs"]),
    ("pre-chorus", PartKind::Part, &["prechorus", "pre"]),
    ("break", PartKind::Break, &["br", "brk"]),
    ("bridge", PartKind::Bridge, &["brg", "brdg"]),
    ("intro", PartKind::Intro, &["introduction", "int", "opening"]),
    ("ending", PartKind::Ending, &["end", "outro", "finale", "coda", "finish"]),
    ("tag", PartKind::Tag, &["tags"]),
    ("fill", PartKind::Fill, &["filler", "fills", "transition"]),
    ("instrumental", PartKind::Part, &["inst", "instr", "solo"]),
    ("interlude", PartKind::Part, &[]),
    ("hook", PartKind::Part, &[]),
    ("restart", PartKind::Tag, &[]),
];

/// The sort of part that a word begins, and the word as it is usually written.
pub(super) fn part_word(word: &str) -> Option<(&'static str, PartKind)> {
    let word = word.trim_matches(|c: char| matches!(c, ':' | '.' | '(' | ')')).to_lowercase();
    PART_WORDS
        .iter()
        .find(|(name, _, also)| *name == word || also.contains(&word.as_str()))
        .map(|(name, kind, _)| (*name, *kind))
}

/// A part's heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Heading {
    /// As typed.
    pub name: String,
    /// Sort of part.
    pub kind: PartKind,
    /// Counts stated, and where.
    pub counts: Option<(u32, usize)>,
    /// Where steps or a note begin on the same line.
    pub rest: Option<usize>,
}

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
    /// A note.
    Note,
    /// Steps, from here on.
    Steps(usize),
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Section {
    Top,
    Part,
    Order,
    Steps,
}

/// Says what each line is.
pub fn classify(lines: &[Line<'_>]) -> Vec<Kind> {
    let ordered = names_in_orders(lines);
    let mut section = Section::Top;
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
            Kind::Field(Field::Steps, _) => section = Section::Steps,
            Kind::Heading(_) => section = Section::Part,
            Kind::Blank if section == Section::Order && order_begun => section = Section::Top,
            Kind::Steps(_) if section == Section::Order => section = Section::Top,
            _ => {}
        }
        out.push(kind);
    }
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
    for (line, kind) in lines.iter().zip(kinds.iter_mut()) {
        let Kind::Steps(at) = kind else { continue };
        let text = &line.text[*at..];
        let words: Vec<String> = text
            .split(|c: char| c.is_whitespace() || matches!(c, ',' | '-' | '>' | '/' | ';'))
            .map(key)
            .filter(|w| !w.is_empty() && times_word(w).is_none())
            .collect();
        let by_words = words.len() > 1
            && words
                .iter()
                .all(|w| names.contains(w) || part_word(w).is_some_and(|(n, _)| names.contains(n)));
        let letters = text.trim();
        let by_letters = letters.len() > 2
            && letters.chars().all(|c| c.is_ascii_uppercase())
            && letters.chars().all(|c| names.contains(&c.to_lowercase().to_string()));
        if by_words || by_letters {
            *kind = Kind::Order(*at);
        }
    }
}

struct Context<'c> {
    section: Section,
    after_gap: bool,
    step_below: bool,
    below_movements: bool,
    steps_below: bool,
    ordered: &'c HashSet<String>,
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
    if trimmed.starts_with('#') || trimmed.starts_with("//") {
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
                && (0..words.len()).all(|i| {
                    super::words::turn(&words[i..]).is_none()
                        && super::step_line::wall_claim(&words[i..]).is_none()
                })
                && !words.first().is_some_and(|w| {
                    matches!(w.to_lowercase().as_str(), "repeat" | "pause" | "hold")
                        || number(w).is_some()
                })
        })
}

fn field(text: &str, start: usize, context: &Context<'_>) -> Option<Kind> {
    let rest = &text[start..];
    if let Some(colon) = rest.find(':')
        && colon <= 40
    {
        let name = key(&rest[..colon]);
        let value = start + colon + 1;
        let is_clock = rest[..colon].ends_with(|c: char| c.is_ascii_digit())
            && rest[colon + 1..].starts_with(|c: char| c.is_ascii_digit());
        if name == "intro" && reads_wait(&rest[colon + 1..]) {
            return Some(Kind::Field(Field::Wait, value));
        }
        if let Some((_, field)) = FIELDS.iter().find(|(n, _)| *n == name) {
            return Some(Kind::Field(*field, value));
        }
        if name == "step" || name == "own step" {
            let (name, at) = named_movements(text, value)?;
            return Some(Kind::Definition(name, at));
        }
        let one_or_two_words = (1..=3).contains(&name.split(' ').count());
        let known = FIELDS.iter().map(|(n, _)| *n);
        if context.section == Section::Top
            && !is_clock
            && one_or_two_words
            && name.chars().count() > 3
            && part_word(name.split(' ').next().unwrap_or("")).is_none()
            && !context.ordered.contains(&name)
            && number(name.split(' ').next().unwrap_or("")).is_none()
            && nearest(&name, known).is_some_and(|n| n.len() > 3)
            && read_movements(&rest[colon + 1..]).is_none()
        {
            return Some(Kind::UnknownField);
        }
    }
    let mut words = rest.split_whitespace();
    let first = words.next()?.trim_end_matches([':', '-', '.']).to_lowercase();
    let second = words.next().unwrap_or("").to_lowercase();
    let after = |n: usize| {
        let mut at = start;
        for word in rest.split_whitespace().take(n) {
            at += text[at..].find(word).unwrap_or(0) + word.len();
        }
        at
    };
    let top = context.section == Section::Top;
    match first.as_str() {
        "wait" if top && reads_wait(rest) => Some(Kind::Field(Field::Wait, after(1))),
        "intro" if reads_wait(&rest["intro".len()..]) => Some(Kind::Field(Field::Wait, after(1))),
        "order" | "sequence" if !second.is_empty() && context.section != Section::Part => {
            Some(Kind::Field(Field::Order, after(1)))
        }
        "choreo" | "choreographed" | "choreography" if top && second == "by" => {
            Some(Kind::Field(Field::Choreographer, after(2)))
        }
        "by" if top && !second.is_empty() => Some(Kind::Field(Field::Choreographer, after(1))),
        "music" | "song" if top && second == "by" => Some(Kind::Field(Field::Music, after(2))),
        "level" if top && !second.is_empty() => Some(Kind::Field(Field::Level, after(1))),
        "start" | "starts" | "left" | "right" if top && starting_foot(rest).is_some() => {
            Some(Kind::Field(Field::Starts, start))
        }
        _ => None,
    }
}

/// Whether words say a wait: `wait 16 beats`, `- wait 16`.
fn reads_wait(text: &str) -> bool {
    let mut words = text.split_whitespace().map(|w| w.trim_matches(|c: char| !c.is_alphanumeric()));
    words.find(|w| !w.is_empty()).is_some_and(|w| w.eq_ignore_ascii_case("wait"))
}

/// The foot that words say the dance starts on: `left foot start`, `starts on the right foot`, `L`.
pub(super) fn starting_foot(text: &str) -> Option<Foot> {
    let mut found = None;
    for word in text
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | ':' | ';'))
        .filter(|w| !w.is_empty())
    {
        match super::words::foot(word) {
            Some(foot) if found.is_none() => found = Some(foot),
            Some(_) => return None,
            None => {
                let word = word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
                let usual = [
                    "start", "starts", "starting", "on", "with", "the", "foot", "lead", "leads",
                    "free", "first", "ft", "feet", "your", "",
                ];
                if !usual.contains(&word.as_str()) {
                    return None;
                }
            }
        }
    }
    found
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
fn named_movements(text: &str, from: usize) -> Option<(String, usize)> {
    let rest = &text[from..];
    let at = rest.find(['=', ':']).or_else(|| rest.find(" - ").map(|at| at + 1))?;
    let name = rest[..at].trim();
    (!name.is_empty()).then(|| (name.to_string(), from + at + 1))
}

/// The names of columns, `Beats  Cue  Step definition`: whether a number in front means counts.
fn columns(trimmed: &str) -> Option<bool> {
    let lower = trimmed.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| c.is_whitespace() || matches!(c, '/' | '|' | '.' | '#'))
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

/// Reads a part's heading.
fn heading(text: &str, start: usize, context: &Context<'_>) -> Option<Heading> {
    let rest = &text[start..];
    let words: Vec<(usize, &str)> = words_with_places(rest);
    let (_, first) = *words.first()?;
    // `[Chorus]` and `(B)` are headings too.
    let bare = |w: &str| {
        w.trim_matches(|c: char| matches!(c, '[' | ']' | '(' | ')' | ':' | '.' | '*' | ','))
            .to_string()
    };
    let opened = first.starts_with(['[', '(']);
    let mut used;
    let mut kind = PartKind::Part;
    let first_bare = bare(first);
    let ordinal = ["first", "second", "third", "1st", "2nd", "3rd", "last", "final"];
    let lead_in =
        usize::from(ordinal.contains(&first_bare.to_lowercase().as_str()) && words.len() > 1);
    let second_bare = words.get(lead_in).map(|(_, w)| bare(w)).unwrap_or_default();
    if let Some((_, k)) = part_word(&second_bare) {
        let abbreviated = second_bare.chars().count() <= 3
            && second_bare.to_lowercase() != "tag"
            && second_bare.to_lowercase() != "end";
        kind = k;
        used = lead_in + 1;
        // `Part A`, `Chorus 2`, `Break B2`: the label belongs to the name.
        let closed =
            words[used - 1].1.ends_with([':', ',']) || words[used - 1].1.ends_with(['-', '=']);
        if !closed && let Some((_, label)) = words.get(used) {
            let label_bare = bare(label);
            let is_label = is_part_label(&label_bare);
            let as_count =
                number(&label_bare).is_some_and(|n| n > 3 && kind != PartKind::Part || n > 12);
            let counts_follow = words.get(used + 1).is_some_and(|(_, w)| {
                is_counts_word(w)
                    || matches!(w.to_lowercase().as_str(), "eights" | "eight" | "x" | "bars" | "of")
            });
            if is_label && !as_count && !counts_follow && !label.starts_with('(') {
                used += 1;
            }
        }
        if abbreviated && used == 1 && words.len() > 1 {
            return None;
        }
    } else if is_letter_label(&first_bare)
        || (first.ends_with([':', ')']) && is_letter_label(&first_bare.to_uppercase()))
    {
        let marked = first.ends_with([':', ')', '.', ']']) || opened || words.len() == 1;
        let tail: Vec<&str> = words[1..].iter().map(|(_, w)| *w).collect();
        if !marked && tail_counts(&tail).is_none() {
            return None;
        }
        // A lone L or R is a foot.
        if words.len() == 1
            && !first.contains([':', ')'])
            && super::words::foot(&first_bare).is_some()
        {
            return None;
        }
        used = 1;
    } else {
        used = custom_name(rest, &words, context)?;
    }
    let name_end = words.get(used.checked_sub(1)?).map(|(at, w)| at + w.len())?;
    let name = rest[..name_end].trim_matches(|c: char| {
        c.is_whitespace() || matches!(c, ':' | '-' | '=' | ',' | '.' | '[' | ']' | '(' | ')' | '*')
    });
    if name.is_empty() {
        return None;
    }
    let mut found = Heading { name: name.to_string(), kind, counts: None, rest: None };
    let tail_words = &words[used..];
    let punctuated = words[used - 1].1.ends_with([':', '.', ')', ']', '=', ',']) || opened;
    let first_tail = tail_words
        .iter()
        .position(|(_, w)| !w.chars().all(|c| matches!(c, '-' | ':' | '=' | '.' | ',' | '*')));
    let dashed = first_tail.is_some_and(|i| i > 0);
    let Some(from) = first_tail else { return Some(found) };
    let tail: Vec<&str> = tail_words[from..].iter().map(|(_, w)| *w).collect();
    let mut next = from;
    if let Some((counts, n)) = tail_counts(&tail) {
        found.counts = Some((counts, start + tail_words[from].0));
        next += n;
    }
    if let Some((at, _)) = tail_words.get(next) {
        let left: Vec<&str> = tail_words[next..].iter().map(|(_, w)| *w).collect();
        let only_signs = left.iter().all(|w| w.chars().all(|c| !c.is_alphanumeric()));
        if !only_signs {
            if !punctuated
                && !dashed
                && found.counts.is_none()
                && !left[0].starts_with(['(', '"', '['])
            {
                return None;
            }
            found.rest = Some(start + at);
        }
    }
    Some(found)
}

/// Words of a text with their places. Brackets with spaces inside stay apart word by word.
fn words_with_places(text: &str) -> Vec<(usize, &str)> {
    let mut out = Vec::new();
    let mut at = 0;
    for word in text.split_whitespace().take(40) {
        let place = text[at..].find(word).map_or(at, |p| p + at);
        out.push((place, word));
        at = place + word.len();
    }
    out
}

/// `A`, `B2`, `1`, `II`: what follows the word Part.
fn is_part_label(word: &str) -> bool {
    let length = word.chars().count();
    (1..=3).contains(&length) && word.chars().all(|c| c.is_alphanumeric()) && {
        let lower = word.to_lowercase();
        let letter_first = word.chars().next().is_some_and(char::is_alphabetic);
        let digits_after = word.chars().skip(1).all(|c| c.is_ascii_digit());
        (letter_first && digits_after)
            || number(word).is_some()
            || lower.chars().all(|c| c == 'i' || c == 'v')
    }
}

/// A single letter, with a number or without: `A`, `B2`. Feet are no parts.
fn is_letter_label(word: &str) -> bool {
    let mut chars = word.chars();
    chars.next().is_some_and(|c| c.is_ascii_uppercase())
        && word.chars().count() <= 2
        && chars.all(|c| c.is_ascii_digit() || c == '\'')
}

/// Counts in a heading's tail: `(32)`, `32 counts`, `4 eights`, `(32 cts)`.
fn tail_counts(tail: &[&str]) -> Option<(u32, usize)> {
    let first = tail.first()?;
    let open = first.starts_with(['(', '[']);
    let stripped: Vec<String> = tail
        .iter()
        .take(6)
        .map(|w| {
            w.trim_matches(|c: char| matches!(c, '(' | ')' | '[' | ']' | ',' | ':' | '.'))
                .to_string()
        })
        .collect();
    let words: Vec<&str> = stripped.iter().map(String::as_str).collect();
    // Only up to the end of the bracket.
    let within = if open {
        tail.iter()
            .position(|w| w.contains([')', ']']))
            .map_or(words.len(), |p| p + 1)
            .min(words.len())
    } else {
        words.len()
    };
    let (counts, used) = length(&words[..within])?;
    if open && used < within {
        return None;
    }
    // `2 Triple` is a step, no length; `32 - call` is one.
    let bare_number = used == 1 && number(words[0]).is_some() && !open;
    let followed =
        tail.get(used).is_some_and(|w| w.chars().next().is_some_and(char::is_alphanumeric));
    if bare_number && followed {
        return None;
    }
    Some((counts, used))
}

/// How many words name a part whose name is the sheet's own: it stands in the order, or counts stand
/// behind it and steps below it.
fn custom_name(rest: &str, words: &[(usize, &str)], context: &Context<'_>) -> Option<usize> {
    let strip = |w: &str| w.trim_end_matches([':', ',']).to_string();
    for used in (1..=words.len().min(5)).rev() {
        let last = words[used - 1];
        let name = strip(&rest[..last.0 + last.1.len()]);
        if !context.ordered.contains(&key(&name)) || glossary::find(&name).is_some() {
            continue;
        }
        let tail: Vec<&str> =
            words[used..].iter().map(|(_, w)| *w).filter(|w| *w != "-" && *w != "=").collect();
        let complete = tail.is_empty() || tail_counts(&tail).is_some_and(|(_, n)| n == tail.len());
        if complete || last.1.ends_with(':') {
            return Some(used);
        }
    }
    // `Lantern Walk (32)` after a gap, with steps below; `Lantern Walk:` alone.
    let used = words.iter().position(|(_, w)| {
        w.starts_with(['(', '[']) || *w == "-" || *w == "=" || number(w).is_some()
    });
    let colon_alone = words.last().is_some_and(|(_, w)| w.ends_with(':')) && words.len() <= 5;
    let used = match used {
        Some(used) if used > 0 => used,
        None if colon_alone => words.len(),
        _ => return None,
    };
    let name_end = words[used - 1].0 + words[used - 1].1.len();
    let name = strip(&rest[..name_end]);
    let first = words[0].1;
    if number(first).is_some()
        || times_word(first).is_some()
        || glossary::find(&name).is_some()
        || read_movements(&name).is_some()
    {
        return None;
    }
    if colon_alone && used == words.len() {
        return (context.step_below && context.section != Section::Order).then_some(used);
    }
    let tail: Vec<&str> =
        words[used..].iter().map(|(_, w)| *w).filter(|w| *w != "-" && *w != "=").collect();
    let (counts, n) = tail_counts(&tail)?;
    let near_step = nearest(&name, glossary::names()).is_some();
    (n == tail.len() && counts >= 8 && context.after_gap && context.step_below && !near_step)
        .then_some(used)
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
