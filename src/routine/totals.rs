//! Lines that only sum up: `= 32`, `32  total A`, `TOTAL: 192 beats`. Under a part they are its counts, and checked; of
//! the whole dance they are a note.

use super::field::Field;
use super::heading::part_word;
use super::line::Line;
use super::lines::Kind;
use super::vocabulary::plain_words;
use super::words::{is_bars_word, is_counts_word, key, length, number};

/// What a line sums up to, where it says so by name and says nothing else.
pub(super) fn named_total(text: &str) -> Option<u32> {
    const NAMES: &[&str] = &["total", "totals", "subtotal", "sum"];
    const BESIDE: &[&str] = &[
        "of", "for", "in", "all", "the", "is", "are", "a", "grand", "dance", "routine", "whole",
        "makes", "about", "approx", "min", "mins", "minutes", "s", "sec", "secs", "seconds",
        "time",
    ];
    let words: Vec<String> = plain_words(text).into_iter().map(key).collect();
    let name = words.iter().position(|w| NAMES.contains(&w.as_str()))?;
    let counted = |w: &String| number(w).is_some() || is_counts_word(w) || is_bars_word(w);
    // A number or `grand` may stand in front; a name of several words is a heading of its own.
    let in_front = words[..name].iter().all(|w| counted(w) || BESIDE.contains(&w.as_str()));
    let label = |w: &String| w.chars().count() <= 2 || part_word(w).is_some();
    let plain =
        words[name + 1..].iter().all(|w| counted(w) || label(w) || BESIDE.contains(&w.as_str()));
    if !in_front || !plain {
        return None;
    }
    let with_unit = words.windows(2).find(|w| is_counts_word(&w[1])).and_then(|w| number(&w[0]));
    with_unit.or_else(|| words.iter().find_map(|w| number(w))).filter(|n| *n > 0)
}

/// `= 32`, or a number alone below a drawn line.
fn signed_total(text: &str, drawn: bool) -> Option<u32> {
    let text = text.trim();
    let sum = text.strip_prefix('=').or(drawn.then_some(text))?;
    let words: Vec<&str> = sum.split([' ', ':', '=']).filter(|w| !w.is_empty()).collect();
    length(&words).filter(|l| l.1 == words.len()).map(|l| l.0)
}

/// A number alone, in the column of counts of one of the two lines above it.
fn is_below_counts(lines: &[Line<'_>]) -> bool {
    let Some((here, above)) = lines.split_last() else { return false };
    let here = here.text.trim_end();
    let figures = here.trim_start().bytes().all(|b| b.is_ascii_digit());
    let counted = |line: &Line<'_>| {
        let above = line.text.trim_end();
        let counts = above.rsplit(' ').next().is_some_and(|w| number(w).is_some());
        counts && above.chars().count() == here.chars().count()
    };
    figures && here.starts_with("    ") && above.iter().rev().take(2).any(counted)
}

/// A sum is what the part above it comes to; where its heading says no counts, they are these.
pub(super) fn sums(lines: &[Line<'_>], kinds: &mut [Kind]) {
    let mut heading = None;
    // Whether nothing but steps and gaps of one line stands between the part and its sum.
    let mut apart = false;
    for i in 0..kinds.len() {
        let sum = match &kinds[i] {
            Kind::Heading(_) => {
                (heading, apart) = (Some(i), false);
                continue;
            }
            Kind::Order(_) | Kind::Field(Field::Order, _) => {
                heading = None;
                continue;
            }
            Kind::Sum => named_total(&lines[i].text),
            Kind::Steps(_) | Kind::Timing(_) => {
                let drawn = i > 0 && (kinds[i - 1] == Kind::Rule || is_below_counts(&lines[..=i]));
                apart = false;
                signed_total(&lines[i].text, drawn)
            }
            Kind::Blank => {
                apart = true;
                continue;
            }
            _ => continue,
        };
        let Some(counts) = sum else { continue };
        let named = kinds[i] == Kind::Sum;
        // Below a gap it may be the sum of the whole dance.
        let whole = named && apart;
        let Some(Kind::Heading(h)) =
            heading.take().filter(|_| !whole).and_then(|h| kinds.get_mut(h))
        else {
            continue;
        };
        // A sum that the heading contradicts is told as a line that says nothing known.
        let stated = h.counts.get_or_insert((counts, 0)).0;
        kinds[i] = match (stated == counts, named) {
            (true, _) => Kind::Sum,
            (false, true) => Kind::Steps(lines[i].indent()),
            (false, false) => continue,
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn totals_are_told_from_headings_and_steps() {
        let table = [
            ("32   total A", Some(32)),
            ("Total: 32", Some(32)),
            ("TOTAL  : 192 beats = 48 measures = approx. 1 min 38 s", Some(192)),
            ("total for verse 32 counts", Some(32)),
            ("48 bars = 192 beats total", Some(192)),
            ("Grand total 224", Some(224)),
            ("Total Eclipse", None),
            ("2 Triple, 8 in total", None),
            ("Total Eclipse (32)", None),
        ];
        for (typed, counts) in table {
            assert_eq!(named_total(typed), counts, "{typed}");
        }
    }
}
