//! Words as teachers type them: folding of typography, numbers, counts, turns, and nearest names.

use crate::units::Foot;

pub(super) use super::numerals::in_figures;
pub use super::numerals::number;

/// Runs of characters of a sort, each with its first byte and the byte after its last.
pub fn runs(text: &str, is_within: impl Fn(char) -> bool) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut from = None;
    for (at, c) in text.char_indices() {
        match (is_within(c), from) {
            (true, None) => from = Some(at),
            (false, Some(start)) => {
                out.push((start, at));
                from = None;
            }
            _ => {}
        }
    }
    out.extend(from.map(|start| (start, text.len())));
    out
}

/// A word in small letters, without the signs around it.
pub fn bare(word: &str) -> String {
    word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase()
}

/// Words of a text, each with its first byte: pieces between characters that part, without those that only stand around.
pub fn placed_words(
    text: &str,
    parts: impl Fn(char) -> bool,
    around: impl Fn(char) -> bool,
) -> Vec<(usize, &str)> {
    runs(text, |c| !parts(c))
        .into_iter()
        .filter_map(|(from, to)| {
            let end = text[from..to].trim_end_matches(&around);
            let word = end.trim_start_matches(&around);
            (!word.is_empty()).then_some((from + end.len() - word.len(), word))
        })
        .collect()
}

/// The key under which a name is looked up: lower case, letters, digits and signs, single spaces.
pub fn key(name: &str) -> String {
    let mut out = String::with_capacity(name.len());
    for word in name.split(|c: char| c.is_whitespace() || matches!(c, '-' | '_' | '.' | ',' | '\''))
    {
        if word.is_empty() {
            continue;
        }
        if !out.is_empty() {
            out.push(' ');
        }
        out.extend(word.chars().flat_map(char::to_lowercase));
    }
    out
}

/// The name among `names` that `typed` most likely means; `None` when nothing is near.
pub fn nearest<'n>(typed: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    let typed = key(typed);
    let length = typed.chars().count();
    if length == 0 || length > 60 {
        return None;
    }
    let mut best: Option<(f64, &str)> = None;
    for name in names {
        let name_key = key(name);
        let longer = length.max(name_key.chars().count());
        if longer > 60 {
            continue;
        }
        // A third of the letters may be wrong, one at least: more than that is another word.
        let allowed = ((longer + 1) / 3).max(1).min(longer.saturating_sub(1));
        let wrong = strsim::osa_distance(&typed, &name_key);
        let shared_start = name_key.starts_with(&typed) && length >= 4;
        if wrong > allowed && !shared_start {
            continue;
        }
        let score = wrong as f64 - strsim::jaro_winkler(&typed, &name_key);
        if best.is_none_or(|(s, _)| score < s) {
            best = Some((score, name));
        }
    }
    best.map(|(_, name)| name)
}

/// Whether `typed` can be `name` with a slip of the fingers: word by word nearly the same, or cut short. A name of which
/// a whole word is another is another name.
pub fn is_slip(typed: &str, name: &str) -> bool {
    is_slip_of_keys(&key(typed), &key(name))
}

/// As [`is_slip`], of their keys.
pub(super) fn is_slip_of_keys(typed: &str, name: &str) -> bool {
    if typed.len() > 60 || name.len() > 60 {
        return false;
    }
    let near = |a: &str, b: &str| {
        let allowed = match a.chars().count().min(b.chars().count()) {
            0..=2 => 0,
            3..=5 => 1,
            _ => 2,
        };
        strsim::osa_distance(a, b) <= allowed
    };
    let (a, b): (Vec<&str>, Vec<&str>) = (typed.split(' ').collect(), name.split(' ').collect());
    match a.len() == b.len() {
        true => a.iter().zip(&b).all(|(a, b)| near(a, b)),
        false => {
            let begins_alike = typed.chars().next() == name.chars().next();
            name.starts_with(typed) && typed.len() >= 4
                || begins_alike && near(&a.concat(), &b.concat())
        }
    }
}

/// Whether a word means counts: `counts`, `cts`, `beats`.
pub fn is_counts_word(word: &str) -> bool {
    matches!(
        bare(word).as_str(),
        "count" | "counts" | "ct" | "cts" | "cnt" | "cnts" | "beat" | "beats" | "bt" | "bts" | "c"
    )
}

/// Whether a word means bars: `bars`, `meas.`.
pub fn is_bars_word(word: &str) -> bool {
    matches!(bare(word).as_str(), "bar" | "bars" | "measure" | "measures" | "meas")
}

/// Reads a length: `32`, `32 counts`, `4 eights`, `2 eights and 4`, `4x8`, `8 bars`. Gives the counts
/// and how many words were used. A bare number is a length too.
pub fn length(words: &[&str]) -> Option<(u32, usize)> {
    let first = words.first()?.trim_matches(|c: char| matches!(c, ':' | '.' | '='));
    let lower = first.to_lowercase();
    if let Some((times, each)) = lower.split_once('x')
        && let (Some(times), Some(each)) = (number(times), number(each))
    {
        let used = 1 + usize::from(words.get(1).is_some_and(|w| is_counts_word(w)));
        return Some((times.saturating_mul(each), used));
    }
    // `8 + 8`
    if let [_, "+", more, ..] = words
        && let (Some(n), Some(more)) = (number(first), number(more))
    {
        return Some((n.saturating_add(more), 3));
    }
    let (n, mut used) = match number(first) {
        Some(n) => (n, 1),
        None => {
            // `32cts`, `32-count`
            let digits: String = lower.chars().take_while(char::is_ascii_digit).collect();
            let unit = lower[digits.len()..].trim_start_matches('-');
            let n = number(&digits)?;
            let bars = is_bars_word(unit).then(|| n.saturating_mul(super::bars::USUAL));
            return is_counts_word(unit).then_some(n).or(bars).map(|n| (n, 1));
        }
    };
    let unit = words.get(1).map(|w| bare(w));
    let mut counts = n;
    match unit.as_deref() {
        Some("eights" | "8s" | "8's" | "phrases") => {
            counts = n.saturating_mul(8);
            used = 2;
        }
        Some("eight" | "8" | "of" | "x") => {
            let of = matches!(unit.as_deref(), Some("of" | "x"));
            let each = words.get(if of { 2 } else { 1 }).and_then(|w| number(w));
            if each == Some(8) || (of && each.is_some()) {
                counts = n.saturating_mul(each.unwrap_or(8));
                used = if of { 3 } else { 2 };
            }
        }
        Some(word) if is_bars_word(word) => {
            counts = n.saturating_mul(super::bars::USUAL);
            used = 2;
        }
        Some(word) if is_counts_word(word) => used = 2,
        _ => {}
    }
    let mut rest = &words[used.min(words.len())..];
    // `two 8s and a 4`
    let with_a = rest.get(1).is_some_and(|w| w.eq_ignore_ascii_case("a"))
        && rest.get(2).is_some_and(|w| number(w.trim_end_matches('s')).is_some());
    if with_a
        && counts != n
        && rest.first().is_some_and(|w| w.eq_ignore_ascii_case("and"))
        && let Some(more) = rest.get(2).and_then(|w| number(w))
    {
        return Some((counts.saturating_add(more), used + 3));
    }
    if rest.first().is_some_and(|w| matches!(w.to_lowercase().as_str(), "and" | "plus" | "+" | "&"))
        && counts != n
        && let Some(more) = rest.get(1).and_then(|w| number(w))
    {
        counts = counts.saturating_add(more);
        used += 2;
        rest = &rest[2..];
        used += usize::from(rest.first().is_some_and(|w| is_counts_word(w)));
    }
    Some((counts, used))
}

/// `Loop Vine (4)`: what stands before the counts in brackets, and the counts.
pub fn counts_in_brackets(text: &str) -> Option<(&str, u32)> {
    let (before, inner) = text.strip_suffix(')')?.rsplit_once('(')?;
    let words: Vec<&str> = inner.split_whitespace().collect();
    let (counts, _) = length(&words).filter(|(_, used)| *used == words.len())?;
    Some((before.trim_end(), counts))
}

/// A turn as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Turn {
    /// Eighths of a turn, right positive. Of a turn without a direction that needs one: as if right.
    pub eighths: i32,
    /// Whether the direction was needed but missing: a quarter or three quarters.
    pub undirected: bool,
    /// Whether it holds for each time the step is danced.
    pub each: bool,
}

/// Reads a turn at the start of `words`: `turn 1/4 L`, `1/2 right`, `360`, `full turn left`, `¼L`. Gives
/// the turn and how many words were used.
pub fn turn(words: &[&str]) -> Option<(Turn, usize)> {
    // `L quarter right`: a foot, and the turn behind it.
    let is_side = |word: Option<&&str>| word.is_some_and(|w| foot(w).is_some());
    if is_side(words.first()) && words.len() > 2 && is_side(words.get(2)) {
        return None;
    }
    let mut eighths = None;
    let mut side = None;
    let (mut each, mut said_turn, mut around, mut used) = (false, false, false, 0);
    for (i, word) in words.iter().enumerate() {
        let bare = word.trim_matches(|c: char| matches!(c, '.' | ',' | ':' | '°')).to_lowercase();
        match bare.as_str() {
            "turn" | "turns" | "turning" | "pivot" | "spin" | "roll" | "rotate" => said_turn = true,
            // `Walk around yourself to the right`
            "walk" | "go" | "going" | "walking"
                if words.get(i + 1).is_some_and(|w| w.eq_ignore_ascii_case("around")) =>
            {
                said_turn = true
            }
            // `bring yourself around the other half to the left`
            "bring" | "swing" | "take"
                if words.get(i + 1).is_some_and(|w| w.eq_ignore_ascii_case("yourself")) =>
            {
                said_turn = true
            }
            // `Basics, making a half turn left`
            "make" | "making" | "doing" if i == 0 => continue,
            "yourself" if around || said_turn => continue,
            "other" if around => continue,
            "l" | "left" | "lt" | "ccw" | "counterclockwise" | "anticlockwise"
                if side.is_none() =>
            {
                side = Some(-1)
            }
            "r" | "right" | "rt" | "cw" | "clockwise" if side.is_none() => side = Some(1),
            // `each 1/4 turn left`
            "each" | "ea" | "every" | "per" if eighths.is_some() || i == 0 => each = true,
            "one" | "time" if each => {}
            // `turn around left` is all the way round.
            "around" if said_turn && eighths.is_none() => (eighths, around) = (Some(8), true),
            "a" | "to" | "the" | "on" | "of" | "time" | "one" | "wall" => continue,
            // `a quarter turn left with each`
            "with" | "in" if words.get(i + 1).is_some_and(|w| bare_each(w)) => continue,
            other => match fraction(other) {
                Some((q, s)) if eighths.is_none() || around => {
                    eighths = Some(q);
                    around = false;
                    side = s.or(side);
                }
                _ => break,
            },
        }
        used = i + 1;
    }
    // "turn left" alone says no amount; it is a note.
    let eighths: i32 = eighths?;
    // A bare fraction, without a side and without the word, is no turn: it may be anything.
    if side.is_none() && (around || !said_turn && eighths != 8) {
        return None;
    }
    let undirected = side.is_none() && eighths % 4 != 0;
    Some((Turn { eighths: eighths * side.unwrap_or(1), undirected, each }, used))
}

/// `each` and its kin, with what ends a sentence.
fn bare_each(word: &str) -> bool {
    matches!(bare(word).as_str(), "each" | "every")
}

/// A fraction of a turn in eighths, with the side when it is typed on to it: `1/4`, `½`, `360`, `¼L`.
fn fraction(word: &str) -> Option<(i32, Option<i32>)> {
    let (word, side) = match word.chars().last() {
        Some('l') if word != "full" => (&word[..word.len() - 1], Some(-1)),
        Some('r') if word != "quarter" => (&word[..word.len() - 1], Some(1)),
        _ => (word, None),
    };
    let eighths = match word.trim_end_matches(['°', '-']) {
        "1/8" | "⅛" | "eighth" | "45" => 1,
        "1/4" | "¼" | "quarter" | "90" | "2/8" => 2,
        "3/8" | "⅜" | "135" => 3,
        "1/2" | "½" | "half" | "180" | "2/4" | "4/8" => 4,
        "5/8" | "⅝" => 5,
        "3/4" | "¾" | "270" | "6/8" => 6,
        "7/8" | "⅞" => 7,
        "full" | "360" | "4/4" | "1/1" | "8/8" => 8,
        "1-1/4" | "1¼" | "5/4" => 10,
        "1-1/2" | "1½" => 12,
        "720" => 16,
        _ => return None,
    };
    Some((eighths, side))
}

/// A foot as typed: `L`, `left`, `R`, `right`.
pub fn foot(word: &str) -> Option<Foot> {
    match word.trim_matches(|c: char| matches!(c, '.' | ',' | '(' | ')')) {
        "L" | "l" | "LF" => Some(Foot::Left),
        "R" | "r" | "RF" => Some(Foot::Right),
        w if w.eq_ignore_ascii_case("left") || w.eq_ignore_ascii_case("lt") => Some(Foot::Left),
        w if w.eq_ignore_ascii_case("right") || w.eq_ignore_ascii_case("rt") => Some(Foot::Right),
        _ => None,
    }
}

/// A word that stands beside a foot and says only that it is one: `left foot`, `R ft`, `left lead`.
pub fn is_foot_word(word: &str) -> bool {
    matches!(bare(word).as_str(), "foot" | "feet" | "ft" | "footwork" | "lead")
}

/// A word for the foot that was not danced on before: `other foot`, `opp. ft`.
pub fn is_other_word(word: &str) -> bool {
    matches!(bare(word).as_str(), "other" | "opposite" | "opp")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_read_as_teachers_write_them() {
        let read = |s: &str| length(&s.split_whitespace().collect::<Vec<_>>()).map(|(n, _)| n);
        assert_eq!(read("32"), Some(32));
        assert_eq!(read("32 counts"), Some(32));
        assert_eq!(read("32cts"), Some(32));
        assert_eq!(read("4 eights"), Some(32));
        assert_eq!(read("4 x 8"), Some(32));
        assert_eq!(read("4x8"), Some(32));
        assert_eq!(read("2 eights and 4"), Some(20));
        assert_eq!(read("8 + 8"), Some(16));
        assert_eq!(read("sixteen beats"), Some(16));
        assert_eq!(read("soon"), None);
        assert_eq!(read("99999999999"), None);
    }

    #[test]
    fn turns_are_read_as_teachers_write_them() {
        let read =
            |s: &str| turn(&s.split_whitespace().collect::<Vec<_>>()).map(|(t, _)| t.eighths);
        assert_eq!(read("turn 1/4 L"), Some(-2));
        assert_eq!(read("turn left 1/4"), Some(-2));
        assert_eq!(read("1/8 turn left"), Some(-1));
        assert_eq!(read("turn 3/8 R"), Some(3));
        assert_eq!(read("1/2 right"), Some(4));
        assert_eq!(read("¼L"), Some(-2));
        assert_eq!(read("360"), Some(8));
        assert_eq!(read("full turn left"), Some(-8));
        assert_eq!(read("walk around yourself to the right"), Some(8));
        assert_eq!(read("go around to the left"), Some(-8));
        assert_eq!(read("go around"), None);
        assert_eq!(read("bring yourself around the other half to the left"), Some(-4));
        assert_eq!(read("turn around a quarter to the right"), Some(2));
        assert_eq!(read("left"), None);
        assert!(turn(&["turn", "1/4"]).unwrap().0.undirected);
        assert!(turn(&["turn", "1/4", "L", "on", "each"]).unwrap().0.each);
        assert!(turn(&["each", "time", "1/4", "turn", "left"]).unwrap().0.each);
    }

    #[test]
    fn nearest_names_are_near() {
        let names = ["Triple basic", "Rocking chair", "Fancy double"];
        assert_eq!(nearest("Rocking chiar", names), Some("Rocking chair"));
        assert_eq!(nearest("Fansy Doubel", names), Some("Fancy double"));
        assert_eq!(nearest("Waltz across", names), None);
        assert_eq!(nearest("", names), None);
    }
}
