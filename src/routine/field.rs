//! The lines at the top of a sheet: title, music, wait, the foot that starts.

use crate::units::Foot;

use super::heading::part_word;
use super::lines::{Context, Kind, Section, named_movements};
use super::notation::read_movements;
use super::phrases::times_word;
use super::vocabulary::content;
use super::words::{foot, is_counts_word, is_slip, key, length, nearest, number};

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
    ("band", Field::Music),
    ("rec", Field::Music),
    ("record by", Field::Music),
    ("recording", Field::Music),
    ("record", Field::Music),
    ("track", Field::Music),
    ("choreo", Field::Choreographer),
    ("choreographer", Field::Choreographer),
    ("choreography", Field::Choreographer),
    ("choreography by", Field::Choreographer),
    ("choreographed by", Field::Choreographer),
    ("choreo by", Field::Choreographer),
    ("by", Field::Choreographer),
    ("cued by", Field::Choreographer),
    ("cue by", Field::Choreographer),
    ("sheet by", Field::Choreographer),
    ("instructor", Field::Choreographer),
    ("taught", Field::Choreographer),
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
    ("steps used", Field::Steps),
    ("step definitions", Field::Steps),
    ("steps defined", Field::Steps),
    ("step breakdown", Field::Steps),
    ("step breakdowns", Field::Steps),
    ("breakdown", Field::Steps),
    ("breakdowns", Field::Steps),
    ("new steps", Field::Steps),
    ("special steps", Field::Steps),
    ("step key", Field::Steps),
    ("glossary", Field::Steps),
    ("step glossary", Field::Steps),
    ("step notes", Field::Steps),
    ("step descriptions", Field::Steps),
    ("steps you need", Field::Steps),
    ("steps needed", Field::Steps),
    ("steps to know", Field::Steps),
    ("steps in this dance", Field::Steps),
    ("what the steps are", Field::Steps),
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
    ("abbrev", Field::Note),
    ("nb", Field::Note),
    ("ps", Field::Note),
    ("tip", Field::Note),
    ("tips", Field::Note),
    ("reminder", Field::Note),
    ("remember", Field::Note),
    ("pose", Field::Note),
    ("restart", Field::Note),
    ("hint", Field::Note),
    ("remark", Field::Note),
    ("comment", Field::Note),
    ("comments", Field::Note),
];

/// Whether a line that begins with this name and a colon is a field.
pub(super) fn is_field_name(name: &str) -> bool {
    FIELDS.iter().any(|(known, _)| *known == name)
}

pub(super) fn field(text: &str, start: usize, context: &Context<'_>) -> Option<Kind> {
    let rest = &text[start..];
    let top = context.section == Section::Top;
    if let Some(colon) = rest.find(':')
        && colon <= 40
    {
        let name = key(&rest[..colon]);
        let value = start + colon + 1;
        let is_clock = rest[..colon].ends_with(|c: char| c.is_ascii_digit())
            && rest[colon + 1..].starts_with(|c: char| c.is_ascii_digit());
        let waited = top
            && !context.steps_in_block
            && !context.steps_below
            && !context.ordered.contains("intro");
        if name == "intro"
            && (reads_wait(&rest[colon + 1..]) || waited && only_a_length(&rest[colon + 1..]))
        {
            return Some(Kind::Field(Field::Wait, value));
        }
        // `Chor: Ann Reed` is no chorus.
        let somebody =
            rest[colon + 1..].split_whitespace().filter(|w| w.starts_with(char::is_uppercase));
        if name == "chor" && top && somebody.count() > 1 && content(&rest[colon + 1..]).steps == 0 {
            return Some(Kind::Field(Field::Choreographer, value));
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
            && read_movements(&rest[colon + 1..]).is_none()
        {
            if name.ends_with(" by") && content(&rest[colon + 1..]).steps == 0 {
                return Some(Kind::Field(Field::Choreographer, value));
            }
            let near = nearest(&name, known).filter(|n| n.len() > 3);
            if near.is_some_and(|n| is_slip(&name, n)) {
                return Some(Kind::UnknownField);
            }
            if near.is_some() {
                return Some(Kind::Field(Field::Note, value));
            }
        }
    }
    // `Chor. Ann Reed`
    let somebody = |text: &str| {
        let names = text.split_whitespace().filter(|w| w.starts_with(char::is_uppercase)).count();
        names > 1 && content(text).steps == 0
    };
    let short =
        ["chor. ", "choreo. ", "chor "].iter().find(|w| rest.to_lowercase().starts_with(**w));
    if let Some(word) = short.filter(|w| top && somebody(&rest[w.len()..])) {
        return Some(Kind::Field(Field::Choreographer, start + word.len()));
    }
    // `--- Steps used ---`, `-- Order --`: a field that stands alone between strokes.
    if let Some((_, field)) = FIELDS.iter().find(|(n, field)| {
        matches!(field, Field::Order | Field::Steps) && *n == key(without_strokes(rest))
    }) {
        return Some(Kind::Field(*field, text.len()));
    }
    if let Some(at) = waited_anywhere(rest).filter(|_| top) {
        return Some(Kind::Field(Field::Wait, start + at));
    }
    // `16 count intro`, `start after 16 counts`.
    let may_be_danced = context.steps_in_block && key(without_strokes(rest)).starts_with("intro");
    if (top || context.order_over)
        && !may_be_danced
        && let Some(at) = waited_in_words(rest)
    {
        return Some(Kind::Field(Field::Wait, start + at));
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
    if second.is_empty() && matches!(first.as_str(), "order" | "sequence") {
        return Some(Kind::Field(Field::Order, text.len()));
    }
    if second.is_empty() && matches!(first.as_str(), "steps" | "definitions" | "glossary") {
        return Some(Kind::Field(Field::Steps, text.len()));
    }
    match first.as_str() {
        "intro"
            if top
                && !context.steps_in_block
                && !context.steps_below
                && !context.ordered.contains("intro") =>
        {
            only_a_length(&rest["intro".len()..]).then(|| Kind::Field(Field::Wait, after(1)))
        }
        "wait" if (top || context.section == Section::Steps) && reads_wait(rest) => {
            Some(Kind::Field(Field::Wait, after(1)))
        }
        "intro" if reads_wait(&rest["intro".len()..]) => Some(Kind::Field(Field::Wait, after(1))),
        "order" | "sequence"
            if second == "-"
                || !second.is_empty() && context.section != Section::Part
                || rest.starts_with(char::is_uppercase) && names_parts(&rest[first.len()..]) =>
        {
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

/// Whether a text names several parts by their letters or the trade's words, and no step.
fn names_parts(text: &str) -> bool {
    const FEWEST: usize = 3;
    let is_name = |w: &&str| {
        let letter = w.len() == 1 && w.starts_with(|c: char| c.is_ascii_uppercase());
        letter || part_word(w).is_some()
    };
    let words = text.split(|c: char| c.is_whitespace() || matches!(c, ',' | '-' | '/'));
    content(text).steps == 0 && words.filter(is_name).count() >= FEWEST
}

/// A text without the strokes drawn around it.
fn without_strokes(text: &str) -> &str {
    text.trim_matches(|c: char| {
        c.is_whitespace() || matches!(c, '-' | '=' | '*' | '~' | '_' | '[' | ']' | '<' | '>' | ':')
    })
}

/// A wait among other words, `Left foot. Hold 16 cts.`, `16 ct wait`: the byte where its counts begin. A line that
/// names a step waits for nothing.
pub(super) fn waited_anywhere(text: &str) -> Option<usize> {
    let signs = |c: char| c.is_whitespace() || matches!(c, ',' | ';' | '(' | ')' | '+' | '[' | ']');
    let mut words: Vec<(usize, &str)> = Vec::new();
    let mut at = 0;
    for piece in text.split(signs) {
        let word = piece.trim_matches(|c: char| matches!(c, '.' | ':' | '=' | '"'));
        if !word.is_empty() {
            words.push((at + piece.find(word).unwrap_or(0), word));
        }
        at += piece.len() + text[at + piece.len()..].chars().next().map_or(0, char::len_utf8);
    }
    if words.len() > 16 || words.iter().any(|(_, w)| times_word(w).is_some()) {
        return None;
    }
    let is_wait = |w: &str| {
        ["wait", "hold", "waits", "intro"].iter().any(|name| w.eq_ignore_ascii_case(name))
    };
    for (i, (_, word)) in words.iter().enumerate().filter(|(_, (_, w))| is_wait(w)) {
        let behind = words[i + 1..].iter().take(3).map(|w| w.1).collect::<Vec<_>>();
        let for_ = usize::from(behind.first().is_some_and(|w| w.eq_ignore_ascii_case("for")));
        let intro = word.eq_ignore_ascii_case("intro");
        if !intro && length(&behind[for_.min(behind.len())..]).is_some() {
            return Some(words[i + 1 + for_].0);
        }
        let counted = i.checked_sub(1).filter(|&b| is_counts_word(words[b].1)).unwrap_or(i);
        let number_at = counted.checked_sub(1).filter(|&b| number(words[b].1).is_some());
        if let Some(b) = number_at
            && (!intro || counted < i)
        {
            return Some(words[b].0);
        }
    }
    None
}

/// A wait told otherwise than by its own word, `lead in = 2 x 8`, `8 in front`, `start on count 17`: the byte where its
/// counts begin.
fn waited_in_words(text: &str) -> Option<usize> {
    const CUES: &[&str] = &[
        "in front",
        "lead in",
        "lead-in",
        "leadin",
        "count in",
        "vamp",
        "intro",
        "introduction",
        "stand still",
        "before we",
        "before you",
        "before dancing",
        "before starting",
        "before the first",
        "then go",
        "talk",
        "wait",
        "hold",
        "no steps",
        "start after",
        "starts after",
        "begin after",
        "come in after",
        "start on",
        "starts on",
        "begin on",
        "pickup",
    ];
    const FEWEST: u32 = 4;
    if content(text).steps > 0 || text.len() > 120 {
        return None;
    }
    let lower = text.to_ascii_lowercase();
    let cued = |part: &str| CUES.iter().any(|cue| part.contains(cue));
    let clauses = |text: &str| -> Vec<(usize, usize)> {
        let mut from = 0;
        let ends = text.char_indices().filter(|(_, c)| matches!(c, ',' | ';' | '.' | '/'));
        let ends: Vec<usize> = ends.map(|(at, _)| at).chain([text.len()]).collect();
        ends.into_iter()
            .map(|to| (std::mem::replace(&mut from, (to + 1).min(text.len())), to))
            .collect()
    };
    if !cued(&lower) {
        return short_wait(&lower).or_else(|| music_alone(&lower));
    }
    let all = clauses(&lower);
    // The clause that says so, else the one behind it, or before it.
    let said = all.iter().position(|&(a, b)| cued(&lower[a..b]))?;
    let before = said.checked_sub(1).map(|i| all[i]);
    all[said..].iter().copied().take(2).chain(before).find_map(|(from, to)| {
        let words = placed_words(&lower, from, to);
        (0..words.len()).find_map(|i| {
            let ahead: Vec<&str> = words[i..].iter().map(|w| w.1).take(4).collect();
            let (n, used) = length(&ahead)?;
            // `Four potatoes (4 bars)`: of a clause before the word a bare number may count anything.
            if Some((from, to)) == before && used == 1 {
                return None;
            }
            let tempo = words.get(i + used).is_some_and(|w| {
                matches!(w.1, "bpm" | "sec" | "seconds" | "am" | "pm" | "wall" | "walls" | "min")
            });
            (n >= FEWEST && !tempo).then_some(words[i].0)
        })
    })
}

/// `Band plays 8 beats and then we go`, `let the fiddle have 16 beats`: the byte where the only length begins in a sentence
/// that says that the music goes on alone.
fn music_alone(lower: &str) -> Option<usize> {
    const CUES: &[&str] = &[
        "play",
        "plays",
        "have",
        "has",
        "let",
        "listen",
        "after",
        "before",
        "until",
        "go",
        "start",
        "starts",
        "begin",
        "begins",
        "give",
        "comes",
        "alone",
        "itself",
        "themselves",
        "skip",
        "then",
        "off",
    ];
    const FEWEST_WORDS: usize = 4;
    let words = placed_words(lower, 0, lower.len());
    let cued = words.iter().any(|(_, w)| CUES.contains(w));
    let of_bars =
        |w: &str| matches!(w, "per" | "each" | "every" | "total" | "wall" | "walls" | "minute");
    if words.len() < FEWEST_WORDS
        || !cued
        || words.iter().any(|(_, w)| of_bars(w) || part_word(w).is_some())
    {
        return None;
    }
    let lengths: Vec<usize> = (0..words.len())
        .filter(|&i| {
            let ahead: Vec<&str> = words[i..].iter().map(|w| w.1).take(4).collect();
            length(&ahead).is_some_and(|(n, used)| used > 1 && n >= 4)
        })
        .collect();
    match lengths[..] {
        [only] => Some(words[only].0),
        _ => None,
    }
}

/// `W16`.
fn short_wait(lower: &str) -> Option<usize> {
    let text = lower.trim();
    let digits = text.strip_prefix('w').map(|d| d.trim_start_matches([' ', '-', '=', ':']))?;
    number(digits).is_some().then_some(lower.trim_end().len() - digits.len())
}

/// Words between two bytes of a text, each with its first byte.
fn placed_words(text: &str, from: usize, to: usize) -> Vec<(usize, &str)> {
    let mut out = Vec::new();
    let mut at = from;
    for piece in text[from..to].split(|c: char| c.is_whitespace() || "()[]=:\"#!>".contains(c)) {
        let word = piece.trim_matches(|c: char| !c.is_alphanumeric());
        if !word.is_empty() {
            out.push((at + piece.find(word).unwrap_or(0), word));
        }
        at += piece.len() + text[at + piece.len()..].chars().next().map_or(0, char::len_utf8);
    }
    out
}

/// Whether a text is a length and nothing else: `16 counts`.
fn only_a_length(text: &str) -> bool {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || matches!(c, '(' | ')' | ':' | '=' | ','))
        .filter(|w| w.chars().any(char::is_alphanumeric))
        .collect();
    length(&words).is_some_and(|(_, used)| used == words.len())
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
        match foot(word) {
            Some(foot) if found.is_none() => found = Some(foot),
            Some(_) => return None,
            None => {
                let word = word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
                let usual = [
                    "start",
                    "starts",
                    "starting",
                    "on",
                    "with",
                    "the",
                    "foot",
                    "lead",
                    "leads",
                    "free",
                    "first",
                    "ft",
                    "feet",
                    "your",
                    "to",
                    "begin",
                    "begins",
                    "beginning",
                    "",
                ];
                if !usual.contains(&word.as_str()) {
                    return None;
                }
            }
        }
    }
    found
}
