//! The wait before the first step, told by its own word or in others.

use super::heading::part_word;
use super::phrases::times_word;
use super::vocabulary::content;
use super::words::{bare, is_counts_word, length, number, placed_words};

/// A wait among other words, `Left foot. Hold 16 cts.`, `16 ct wait`: the byte where its counts begin. A line that
/// names a step waits for nothing.
pub(super) fn waited_anywhere(text: &str) -> Option<usize> {
    let signs = |c: char| c.is_whitespace() || matches!(c, ',' | ';' | '(' | ')' | '+' | '[' | ']');
    let words = placed_words(text, signs, |c| matches!(c, '.' | ':' | '=' | '"'));
    if words.len() > 16 || words.iter().any(|(_, w)| times_word(w).is_some()) {
        return None;
    }
    let is_wait = |w: &str| {
        ["wait", "hold", "waits", "intro", "wt"].iter().any(|name| w.eq_ignore_ascii_case(name))
    };
    // `Robot = stomp, hold, stomp, hold (4)` says what a step is.
    let equals = text.find('=').unwrap_or(0);
    let first = words.iter().find(|(_, w)| is_wait(w)).map_or(0, |w| w.0);
    if equals > 0 && first > equals && content(&text[equals..]).steps > 0 {
        return None;
    }
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
pub(super) fn waited_in_words(text: &str) -> Option<usize> {
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
        "stand at",
        "listen for",
        "listens for",
        "go by",
        "goes by",
        "listen to",
        "hold still",
        "keep still",
        "at rest",
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
        "hang on",
        "sit out",
        "sit tight",
        "stay put",
    ];
    const FEWEST: u32 = 4;
    let lower = text.to_ascii_lowercase();
    // No kick is danced in it, and to hold still is no step.
    let danced = ["kick-off", "kickoff", "hold still"]
        .iter()
        .fold(lower.clone(), |l, w| l.replace(w, "wait"));
    if content(&danced).steps > 0 || text.len() > 120 {
        return None;
    }
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
        return short_wait(&lower).or_else(|| counts_in(&lower)).or_else(|| music_alone(&lower));
    }
    let all = clauses(&lower);
    // The clause that says so, else the one behind it, or before it.
    let said = all.iter().position(|&(a, b)| cued(&lower[a..b]))?;
    let before = said.checked_sub(1).map(|i| all[i]);
    all[said..].iter().copied().take(2).chain(before).find_map(|(from, to)| {
        let words = sentence_words(&lower[from..to]);
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
            (n >= FEWEST && !tempo).then_some(from + words[i].0)
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
    let words = sentence_words(lower);
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
    // The foot may stand behind, `W16 LF`.
    let (counts, behind) = digits.split_once(' ').unwrap_or((digits, ""));
    let is_foot = matches!(behind.trim(), "" | "l" | "r" | "lf" | "rf" | "lfl" | "rfl");
    (is_foot && number(counts).is_some()).then_some(lower.trim_end().len() - digits.len())
}

/// `Piano rag, moderate. 8 counts in.`: a length that ends in `in`.
fn counts_in(lower: &str) -> Option<usize> {
    let words = sentence_words(lower);
    let [.., (_, before), (_, last)] = words[..] else { return None };
    let at = words.len().checked_sub(3)?;
    let counted = number(words[at].1).is_some_and(|n| n >= 4) && is_counts_word(before);
    (counted && last == "in").then_some(words[at].0)
}

/// The words of a sentence, each with its first byte.
fn sentence_words(text: &str) -> Vec<(usize, &str)> {
    let parts = |c: char| c.is_whitespace() || "()[]=:\"#!>".contains(c);
    placed_words(text, parts, |c| !c.is_alphanumeric())
}

/// Whether a text is a length and nothing else: `16 counts`.
pub(super) fn only_a_length(text: &str) -> bool {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || matches!(c, '(' | ')' | ':' | '=' | ','))
        .filter(|w| w.chars().any(char::is_alphanumeric))
        .collect();
    length(&words).is_some_and(|(_, used)| used == words.len())
}

/// Whether words say a wait: `wait 16 beats`, `- wait 16`.
pub(super) fn reads_wait(text: &str) -> bool {
    text.split_whitespace().map(bare).find(|w| !w.is_empty()).is_some_and(|w| w == "wait")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_waits_are_read_with_their_foot() {
        let behind = |text: &'static str| waited_in_words(text).map(|at| &text[at..]);
        assert_eq!(behind("W16 LF"), Some("16 LF"));
        assert_eq!(behind("W 32 RFL"), Some("32 RFL"));
        assert_eq!(behind("Slow swing. 8 counts in."), Some("8 counts in."));
        assert_eq!(behind("W16 Lark"), None);
        assert_eq!(behind("Keep still, everybody: 8 beats"), Some("8 beats"));
        assert_eq!(behind("Stay at rest for 16 counts"), Some("16 counts"));
        assert_eq!(behind("Keep still 8 beats, then kick-off"), Some("8 beats, then kick-off"));
    }
}
