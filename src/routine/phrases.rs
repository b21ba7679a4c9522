//! Short phrases behind a step: how often, which wall, and words that only say how.

use crate::units::Wall;

use super::item::MOST_PAUSE;
use super::movement::MOVEMENTS;
use super::words::number;

/// `x4`, `4x`, `twice`.
pub fn times_word(word: &str) -> Option<u32> {
    let lower = word.trim_end_matches([':', '.']).to_lowercase();
    match lower.as_str() {
        "once" => return Some(1),
        "twice" => return Some(2),
        "thrice" => return Some(3),
        _ => {}
    }
    let digits = lower.strip_prefix('x').or_else(|| lower.strip_suffix('x'))?;
    number(digits).filter(|_| digits.bytes().all(|b| b.is_ascii_digit()))
}

/// Words behind a part's name that say that it comes again.
pub const ONCE_MORE: [&str; 5] =
    ["one more time", "once more", "one last time", "another time", "last time"];

/// A name without words at its end that say that it comes again, `Chorus again`, `Verse one more time`; `None` where there
/// are none.
pub(super) fn without_again(name: &str) -> Option<&str> {
    let name = name.trim();
    let lower = name.to_ascii_lowercase();
    let part = ["again"].iter().chain(&ONCE_MORE).find_map(|again| lower.strip_suffix(again))?;
    name.get(..part.trim_end().len()).filter(|part| !part.is_empty())
}

/// Whether a word says outright that what stands above comes again: `repeat`, `rpt`.
pub(super) fn is_repeat_word(lower: &str) -> bool {
    matches!(lower, "repeat" | "repeats" | "rep" | "rpt")
}

/// `1-4` and `5-8`, as line dance sheets number their counts: how many counts that is.
pub fn count_range(word: &str) -> Option<u32> {
    let (from, to) = word.split_once('-')?;
    let (from, to) = (number(from)?, number(to)?);
    (from > 0 && to >= from && to - from < MOST_PAUSE).then(|| to - from + 1)
}

/// A word in small letters without what ends or encloses it; a clock keeps its colon.
fn without_signs(word: &str) -> String {
    word.trim_matches(['.', ',', '!', '(', ')']).to_lowercase()
}

/// The wall that the words say is faced: `facing back`, `face the front wall`, `6:00`, `6 o'clock`. Gives
/// it and how many words were used.
pub fn wall_claim(words: &[&str]) -> Option<(Wall, usize)> {
    let lower: Vec<String> = words.iter().take(6).map(|w| without_signs(w)).collect();
    let mut i = 0;
    let mut facing = false;
    while let Some(word) = lower.get(i) {
        match word.as_str() {
            "face" | "facing" | "faces" | "ends" | "end" | "fc" | "fcg" => facing = true,
            "to" | "the" | "at" | "on" | "up" if facing => {}
            _ => break,
        }
        i += 1;
    }
    let name = lower.get(i)?;
    let clock = match name.as_str() {
        "12:00" | "12" => Some(Wall::Front),
        "1:30" => Some(Wall::FrontRight),
        "3:00" | "3" => Some(Wall::Right),
        "4:30" => Some(Wall::BackRight),
        "6:00" | "6" => Some(Wall::Back),
        "7:30" => Some(Wall::BackLeft),
        "9:00" | "9" => Some(Wall::Left),
        "10:30" => Some(Wall::FrontLeft),
        _ => None,
    };
    let next = lower.get(i + 1).map(String::as_str);
    if let Some(wall) = clock {
        let oclock = next.is_some_and(|w| matches!(w, "o'clock" | "oclock"));
        return (name.contains(':') || oclock).then_some((wall, i + 1 + usize::from(oclock)));
    }
    let wall = match name.as_str() {
        "front" | "forward" => Wall::Front,
        "back" | "rear" | "bk" => Wall::Back,
        "right" => Wall::Right,
        "left" => Wall::Left,
        _ => return None,
    };
    let said = next == Some("wall");
    (said || (facing && next != Some("foot"))).then_some((wall, i + 1 + usize::from(said)))
}

/// `turn left to back`, `turn to face the front`: the side, where it is said, the wall that is turned to, and how many
/// words were used.
pub(super) fn turn_to_wall(words: &[&str]) -> Option<(i32, Wall, usize)> {
    let lower: Vec<String> = words.iter().take(8).map(|w| without_signs(w)).collect();
    if !matches!(lower.first()?.as_str(), "turn" | "turning" | "turns") {
        return None;
    }
    let (mut side, mut to, mut i) = (0, false, 1);
    while let Some(word) = lower.get(i) {
        match word.as_str() {
            "left" | "l" if side == 0 && !to => side = -1,
            "right" | "r" if side == 0 && !to => side = 1,
            "to" | "toward" | "towards" => to = true,
            "the" | "face" | "facing" => {}
            _ => break,
        }
        i += 1;
    }
    let wall = match lower.get(i)?.as_str() {
        "front" | "f" => Wall::Front,
        "back" | "b" => Wall::Back,
        _ => return None,
    };
    let said = lower.get(i + 1).is_some_and(|w| w == "wall");
    to.then_some((side, wall, i + 1 + usize::from(said)))
}

/// A word that begins a way to go, behind a comma: `circle left`, `moving forward`.
pub(super) fn is_way_word(lower: &str) -> bool {
    matches!(
        lower,
        "circle"
            | "circling"
            | "moving"
            | "move"
            | "travel"
            | "traveling"
            | "travelling"
            | "turning"
            | "facing"
            | "backing"
            | "going"
            | "box"
            | "clockwise"
            | "counterclockwise"
            | "second"
            | "first"
            | "last"
            | "every"
            | "alternating"
            | "coming"
            | "no"
            | "not"
            | "without"
    )
}

/// A word such as cue sheets put behind a step to say how or where it goes.
pub(super) fn is_style_word(lower: &str) -> bool {
    const WORDS: &[&str] = &[
        "forward",
        "fwd",
        "forwards",
        "backward",
        "backwards",
        "back",
        "bkwd",
        "moving",
        "making",
        "move",
        "travel",
        "traveling",
        "travelling",
        "to",
        "in",
        "on",
        "at",
        "with",
        "while",
        "around",
        "across",
        "circle",
        "circling",
        "turning",
        "turn",
        "spin",
        "rolling",
        "facing",
        "face",
        "from",
        "toward",
        "towards",
        "up",
        "down",
        "out",
        "side",
        "sideways",
        "together",
        "partner",
        "partners",
        "hands",
        "arms",
        "clap",
        "clapping",
        "lines",
        "line",
        "left",
        "right",
        "starting",
        "start",
        "beginning",
        "using",
        "for",
        "step",
        "steps",
        "lead",
        "leading",
        "alternating",
        "alternate",
        "as",
        "over",
        "away",
        "into",
        "keep",
        "use",
        "like",
        "ends",
        "end",
        "no",
        "not",
        "shout",
        "yell",
        "smile",
        "your",
        "style",
        "diagonal",
        "diagonally",
        "place",
        "slowly",
        "fast",
        "or",
    ];
    WORDS.contains(&lower)
}

/// Whether a movement is written short, not as a whole word such as `Kick`.
pub(super) fn is_abbreviation(word: &str) -> bool {
    word.contains(['-', '*', '/']) || word.chars().count() <= 3
}

/// Whether a word among movements is meant as one: letters only, three at most.
pub(super) fn is_code_like(word: &str) -> bool {
    const ENGLISH: &[&str] = &[
        "it", "is", "in", "on", "to", "the", "and", "you", "we", "for", "as", "at", "up", "so",
        "if", "or", "of", "no", "not", "all", "my", "big", "now", "out", "off", "end", "our",
        "too", "two", "one", "he", "she", "me", "us",
    ];
    let length = word.chars().count();
    let english = ENGLISH.contains(&word.to_lowercase().as_str());
    (1..=3).contains(&length) && word.chars().all(char::is_alphabetic) && !english
}

/// The two-letter movement that shares a first letter with a mistyped one.
pub(super) fn near_code(upper: &str) -> Option<String> {
    let first = upper.chars().next()?;
    MOVEMENTS
        .iter()
        .map(|m| m.code)
        .find(|c| c.starts_with(first) && c.len() == upper.len())
        .map(str::to_string)
}

pub(super) fn is_pause_sign(inner: &str) -> bool {
    inner.trim().eq_ignore_ascii_case("p")
}
