//! Figures of line dances by the words that name them, and words that say where or how.
//!
//! Meanings and weight follow published glossaries: *Steps and Moves*, Palm Coast Line Dance (after an
//! Australian glossary); T. and L. Wilson, *Basic Line Dance Terms*; *Linedance Terminology*, Passion Linedance
//! Club; *Line dancing terms*, Midland Mavericks. What they do not have is common practice.

use crate::units::Foot;

use super::words::foot;

/// What is danced, by the words that name it; the longest name wins.
const STEPS: &[(&str, &str)] = &[
    ("kick ball change", "K S S"),
    ("kick ball step", "K S S"),
    ("kick ball cross", "K S S"),
    ("kick ball point", "K S TCH"),
    ("kick ball touch", "K S TCH"),
    ("ball change", "S S"),
    ("rocking chair", "S S S S"),
    ("jazz box", "S S S S"),
    ("jazz square", "S S S S"),
    ("grapevine", "S S S"),
    ("vine", "S S S"),
    ("weave", "S S S S"),
    ("coaster cross", "S S S"),
    ("coaster step", "S S S"),
    ("coaster", "S S S"),
    ("sailor step", "S S S"),
    ("sailor", "S S S"),
    ("side shuffle", "S S S"),
    ("lock shuffle", "S S S"),
    ("lock step", "S S S"),
    ("shuffle", "S S S"),
    ("triple step", "S S S"),
    ("triple", "S S S"),
    ("cha cha", "S S S"),
    ("chasse", "S S S"),
    ("chass\u{e9}", "S S S"),
    ("mambo step", "S S S"),
    ("mambo", "S S S"),
    ("anchor step", "S S S"),
    ("anchor", "S S S"),
    ("toe strut", "TCH S"),
    ("heel strut", "TCH S"),
    ("strut", "TCH S"),
    ("monterey turn", "TCH S TCH S"),
    ("monterey", "TCH S TCH S"),
    ("step touch", "S TCH"),
    ("side touch", "S TCH"),
    ("step pivot", "S S"),
    ("pivot turn", "S S"),
    ("rock recover", "S S"),
    ("rock replace", "S S"),
    ("out out", "S S"),
    ("in in", "S S"),
    ("walk", "S"),
    ("run", "S"),
    ("step", "S"),
    ("stepping", "S"),
    ("cross rock", "S"),
    ("cross", "S"),
    ("side rock", "S"),
    ("side", "S"),
    ("together", "S"),
    ("close", "S"),
    ("behind", "S"),
    ("back", "S"),
    ("forward", "S"),
    ("fwd", "S"),
    ("lock", "S"),
    ("ball", "S"),
    ("change", "S"),
    ("rock", "S"),
    ("recover", "S"),
    ("replace", "S"),
    ("return", "S"),
    ("pivot", "S"),
    ("sway", "S"),
    ("press", "S"),
    ("drop", "S"),
    ("stomp", "STO"),
    ("stamp", "STA"),
    ("touch", "TCH"),
    ("tap", "TCH"),
    ("point", "TCH"),
    ("dig", "DIG"),
    ("heel", "TCH"),
    ("toe", "TCH"),
    ("kick", "K"),
    ("scuff", "SK"),
    ("brush", "BR"),
    ("hitch", "HITCH"),
    ("hook", "HITCH"),
    ("flick", "HITCH"),
    ("sweep", "HITCH"),
    ("hold", "HOLD"),
    ("pause", "HOLD"),
    ("clap", "CLAP"),
    ("snap", "CLAP"),
    ("bump", "BUMP"),
    ("hip bump", "BUMP"),
    ("bump hips", "BUMP"),
    ("swivel", "BUMP"),
    ("bounce heels", "BUMP"),
    ("unwind", "BUMP"),
];

/// The movements of a figure one by one.
pub(super) fn codes(moves: &'static str) -> impl Iterator<Item = &'static str> {
    moves.split(' ')
}

/// The step named at the start of the words: its name, movements and how many words.
pub(super) fn step_named(ahead: &[&str]) -> Option<(&'static str, &'static str, usize)> {
    for used in (1..=ahead.len().min(3)).rev() {
        let typed = ahead[..used].join(" ").to_lowercase().replace('-', " ");
        let single = typed.strip_suffix('s').unwrap_or(&typed);
        let found = STEPS.iter().find(|(name, _)| *name == typed || *name == single);
        if let Some((name, moves)) = found {
            return Some((name, moves, used));
        }
    }
    None
}

/// `R`, `left`, `RLR`, `R-L-R`.
pub(super) fn feet_word(word: &str) -> Option<Vec<Foot>> {
    if let Some(one) = foot(word) {
        return Some(vec![one]);
    }
    if matches!(word.to_lowercase().as_str(), "rf" | "lf") {
        return foot(&word[..1]).map(|f| vec![f]);
    }
    let several: Option<Vec<Foot>> = word
        .chars()
        .filter(|c| !matches!(c, '-' | '/' | ','))
        .map(|c| matches!(c, 'L' | 'R').then(|| foot(c.encode_utf8(&mut [0; 4]))).flatten())
        .collect();
    several.filter(|feet| feet.len() > 1 && feet.len() <= 16)
}

/// A word that says where or how.
pub(super) fn is_way(lower: &str) -> bool {
    matches!(
        lower,
        "forward"
            | "fwd"
            | "back"
            | "backward"
            | "backwards"
            | "side"
            | "sideways"
            | "diagonal"
            | "diagonally"
            | "diag"
            | "place"
            | "in"
            | "at"
            | "the"
            | "a"
            | "front"
            | "of"
            | "foot"
            | "toe"
            | "toes"
            | "heel"
            | "heels"
            | "together"
            | "out"
            | "up"
            | "down"
            | "weight"
            | "turning"
            | "making"
            | "make"
            | "while"
            | "slightly"
            | "big"
            | "long"
            | "small"
            | "close"
            | "center"
            | "centre"
            | "home"
            | "again"
            | "repeat"
            | "from"
            | "travelling"
            | "traveling"
            | "moving"
            | "hips"
            | "hip"
            | "knee"
            | "ball"
            | "shoulder"
            | "corner"
            | "angle"
            | "it"
            | "your"
            | "for"
            | "step"
            | "change"
            | "taking"
            | "ends"
            | "end"
            | "finish"
            | "then"
            | "now"
            | "left"
            | "right"
            | "leg"
            | "high"
            | "low"
            | "touching"
            | "crossing"
            | "swaying"
            | "turn"
    )
}
