//! The words of an order: those that name no part, and where each stands.

use super::heading::part_word;
use super::numerals::ordinal;
use super::phrases::{ONCE_MORE, times_word};
use super::words::key;

/// Words that stand between the names where an order is told in words: `we dance A twice, then the fill`.
pub(super) fn is_order_word(lower: &str) -> bool {
    matches!(
        lower,
        "then"
            | "and"
            | "&"
            | "to"
            | "the"
            | "again"
            | "times"
            | "part"
            | "other"
            | "half"
            | "second"
            | "only"
            | "opposite"
            | "foot"
            | "parts"
            | "dance"
            | "dances"
            | "with"
            | "of"
            | "we"
            | "you"
            | "it"
            | "goes"
            | "go"
            | "once"
            | "more"
            | "back"
            | "is"
            | "start"
            | "starts"
            | "begin"
            | "begins"
            | "end"
            | "ends"
            | "finish"
            | "finally"
            | "last"
            | "first"
            | "next"
            | "do"
            | "followed"
            | "by"
            | "another"
            | "time"
            | "plus"
            | "on"
            | "from"
            | "there"
            | "all"
            | "over"
            | "routine"
            | "in"
            | "this"
            | "its"
            | "it's"
            | "so"
            | "that"
            | "both"
            | "them"
            | "a"
    )
}

/// `2nd time B ends at the front`, below the order: how a part goes then.
pub(super) fn tells_of_a_time(text: &str) -> bool {
    let mut words = text.split_whitespace();
    let first = words.next().is_some_and(|w| ordinal(w).is_some());
    first && words.next().is_some_and(|w| w.eq_ignore_ascii_case("time")) && !text.contains(':')
}

/// `but the last four Basics turn`, `swap both Chains for Joeys`: how a part is danced otherwise.
pub(super) fn says_otherwise(piece: &str) -> bool {
    let words = [
        "but", "except", "swap", "leave", "facing", "face", "without", "instead", "turning", "nos",
        "no", "minus",
    ];
    let first = key(piece.split_whitespace().next().unwrap_or(""));
    words.contains(&first.as_str())
}

/// How a dance ends, and nothing that counts: it is told, since it may be a part that is not written out.
pub(super) fn is_told(word: &str) -> bool {
    ["freeze", "pose", "bow", "bows", "stop"].iter().any(|told| word.eq_ignore_ascii_case(told))
}

/// Whether words are one in small letters behind an article, `the banjo`.
pub(super) fn is_beside_a_name(text: &str, (from, to): (usize, usize)) -> bool {
    let word = text.get(from..to).unwrap_or("");
    let before = text.get(..from).and_then(|t| t.split_whitespace().next_back()).unwrap_or("");
    word.chars().all(char::is_lowercase) && matches!(before, "the" | "a" | "an")
}

/// How many words behind a name only say that the part comes again, `one more time`.
pub(super) fn words_of_once_more(text: &str, words: &[(usize, usize)]) -> usize {
    let said = |n: usize| Some(key(text.get(words.first()?.0..words.get(n - 1)?.1)?));
    [3, 2].into_iter().find(|n| said(*n).is_some_and(|s| ONCE_MORE.contains(&&*s))).unwrap_or(0)
}

/// Where a line begins behind the number of a list, `2. Break`.
pub(super) fn list_number_end(text: &str, from: usize) -> usize {
    let rest = &text[from..];
    let indent = rest.len() - rest.trim_start().len();
    let digits = rest[indent..].bytes().take_while(u8::is_ascii_digit).count();
    let behind = &rest[indent + digits..];
    let is_list = digits > 0
        && behind.starts_with(['.', ')'])
        && behind[1..].starts_with(char::is_whitespace);
    if is_list { from + indent + digits + 1 } else { from }
}

/// The stretches between separators, in bytes.
pub(super) fn pieces(text: &str, from: usize) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut start = from;
    for (at, c) in text.char_indices().filter(|(at, _)| *at >= from) {
        // `Fig. 1` is one name.
        let short = c == '.' && {
            let before = text[start..at].rsplit(|c: char| !c.is_alphabetic()).next().unwrap_or("");
            let behind = text[at + 1..].trim_start();
            let numbered = behind.starts_with(|c: char| c.is_ascii_alphanumeric());
            numbered && before.len() < 5 && before != "end" && part_word(before).is_some()
        };
        if !short && matches!(c, ',' | ';' | '>' | '|' | '+' | '.' | '\u{2022}') {
            out.push((start, at));
            start = at + c.len_utf8();
        }
    }
    out.push((start, text.len()));
    out.retain(|(a, b)| a < b);
    out
}

/// Words with their places; brackets fall away, and a dash between short names parts them.
pub(super) fn words_between(text: &str, start: usize, end: usize) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut word: Option<usize> = None;
    let mut depth = 0usize;
    let Some(piece) = text.get(start..end) else { return out };
    // `A-B-A` is three parts; `pre-chorus` is one.
    let dashes_part = piece
        .split_whitespace()
        .any(|w| w.contains('-') && w.split('-').any(|p| p.chars().count() == 1));
    for (i, c) in piece.char_indices() {
        let at = start + i;
        let parts_here = c.is_whitespace()
            || matches!(c, '(' | ')' | '[' | ']' | ':' | '/' | '"')
            || (c == '-' && dashes_part);
        if parts_here || depth > 0 {
            if let Some(from) = word.take() {
                out.push((from, at));
            }
            match c {
                '(' => {
                    // `(x2)` says how often; anything else in brackets is a note.
                    let closed = piece[i + 1..].split_once(')');
                    depth = usize::from(
                        closed.is_some_and(|(inner, _)| times_word(inner.trim()).is_none()),
                    );
                }
                ')' => depth = 0,
                _ => {}
            }
        } else if word.is_none() {
            word = Some(at);
        }
    }
    if let Some(from) = word {
        out.push((from, end));
    }
    out
}
