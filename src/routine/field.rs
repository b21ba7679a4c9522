//! The lines at the top of a sheet: title, music, wait, the foot that starts.

use crate::units::Foot;

use super::heading::part_word;
use super::lines::{Context, Kind, Section, named_movements};
use super::notation::read_movements;
use super::vocabulary::{content, plain_words};
use super::waits::{only_a_length, reads_wait, waited_anywhere, waited_in_words};
use super::words::{foot, is_counts_word, is_slip, key, nearest, number};

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
    ("musik", Field::Music),
    ("musique", Field::Music),
    ("muziek", Field::Music),
    ("musica", Field::Music),
    ("música", Field::Music),
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
    ("choreographie", Field::Choreographer),
    ("choreograph", Field::Choreographer),
    ("choreografie", Field::Choreographer),
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
    ("we dance", Field::Order),
    ("steps", Field::Steps),
    ("step list", Field::Steps),
    ("own steps", Field::Steps),
    ("our steps", Field::Steps),
    ("our own steps", Field::Steps),
    ("my steps", Field::Steps),
    ("my own steps", Field::Steps),
    ("step help", Field::Steps),
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
    ("check", Field::Note),
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
        // `Steps to know before we start:`
        let steps = ["steps to know", "steps you need", "steps used", "steps in this dance"];
        if rest[colon + 1..].trim().is_empty() && steps.iter().any(|w| name.starts_with(w)) {
            return Some(Kind::Field(Field::Steps, value));
        }
        // `Dance order: …`, `Order of the dance: …`
        let says_order = [" order", " sequence"].iter().any(|end| name.ends_with(end))
            || ["order of ", "sequence of "].iter().any(|start| name.starts_with(start));
        if says_order && name.split(' ').count() <= 4 {
            return Some(Kind::Field(Field::Order, value));
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
    if let Some(found) = credited(rest).filter(|_| top) {
        return Some(Kind::Field(found.0, start + found.1));
    }
    // `--- Steps used ---`, `-- Order --`: a field that stands alone between strokes.
    let alone = without_strokes(rest);
    // `STEPS (shown for the left foot)`
    let note = alone.split_once(" (").filter(|(_, note)| {
        note.ends_with(')') && note.split(' ').count() > 1 && !note.contains(['(', ','])
    });
    let alone = note.map_or(alone, |(name, _)| name);
    if let Some((_, field)) = FIELDS
        .iter()
        .find(|(n, field)| matches!(field, Field::Order | Field::Steps) && *n == key(alone))
    {
        return Some(Kind::Field(*field, text.len()));
    }
    if says_counts_and_walls(rest) {
        return Some(Kind::Note);
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
        _ if top && foot_in_a_sentence(rest).is_some() => Some(Kind::Field(Field::Starts, start)),
        _ => None,
    }
}

/// `Linedance for clog shoes, 32 counts, 4 walls`: what sort of dance it is.
fn says_counts_and_walls(text: &str) -> bool {
    let words = plain_words(text);
    let numbered = |is_unit: fn(&str) -> bool| {
        words.windows(2).any(|w| number(w[0]).is_some() && is_unit(&w[1].to_lowercase()))
    };
    numbered(is_counts_word) && numbered(|w| matches!(w, "wall" | "walls"))
}

/// `"Paper Lanterns", sung by Ann Reed`, `Dance put together by Ann Reed`: whose they are in words, and where the value
/// begins.
fn credited(text: &str) -> Option<(Field, usize)> {
    const SONG: &[&str] = &["sung by ", "performed by ", "played by ", "recorded by ", "by "];
    const SET: &[&str] = &[
        "put together by ",
        "set down by ",
        "set by ",
        "arranged by ",
        "made up by ",
        "written by ",
    ];
    let lower = text.to_ascii_lowercase();
    let named = |at: usize| text.get(at..).is_some_and(|t| t.starts_with(char::is_uppercase));
    if let Some(close) = lower.strip_prefix('"').and_then(|t| t.find('"')).map(|at| at + 2) {
        let behind = lower.get(close..)?.trim_start_matches([' ', ',', '-', '(']);
        let by = SONG.iter().find(|by| behind.starts_with(**by))?;
        return named(lower.len() - behind.len() + by.len()).then_some((Field::Music, 0));
    }
    let (at, by) = SET.iter().find_map(|by| Some((lower.find(by)?, by)))?;
    let before = lower[..at].split_whitespace().all(|w| {
        matches!(w, "steps" | "dance" | "routine" | "all" | "the" | "this" | "was" | "were" | "and")
    });
    let value = at + by.len();
    (before && named(value) && content(&text[value..]).steps == 0)
        .then_some((Field::Choreographer, value))
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

/// `Begin on your right foot, please.`, `every part starts on the left`: the one foot that a sentence says it starts on.
pub(super) fn foot_in_a_sentence(text: &str) -> Option<Foot> {
    const MOST_WORDS: usize = 12;
    let words = plain_words(text);
    let says = ["start", "starts", "starting", "begin", "begins", "free", "unless"];
    let feet: Vec<Foot> = words.iter().filter_map(|w| foot(w)).collect();
    let foot_word =
        words.iter().any(|w| matches!(&*w.to_lowercase(), "foot" | "ft" | "left" | "right"));
    let said = words.iter().any(|w| says.contains(&&*w.to_lowercase()));
    let counted = text.contains(|c: char| c.is_ascii_digit());
    let plain = words.len() <= MOST_WORDS && !counted;
    match feet[..] {
        [one] if said && plain && foot_word && content(text).steps == 0 => Some(one),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn song_and_author_may_be_told_in_words() {
        let said = |text: &str| credited(text).map(|(field, _)| field);
        assert_eq!(said("\"Wren Lane\", sung by Ada Moss"), Some(Field::Music));
        assert_eq!(said("\"Wren Lane\" by Ada Moss"), Some(Field::Music));
        assert_eq!(said("This dance was made up by Ada Moss"), Some(Field::Choreographer));
        assert_eq!(said("Two Joeys made up by Ada Moss"), None);
        assert_eq!(said("\"Wren Lane\" by and by"), None);
    }
}
