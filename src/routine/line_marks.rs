//! Counts in front of a line of a line dance's sheet: `1&2`, `5-8`.

use super::movement::{QUARTERS_PER_COUNT, Quarters};
use super::words::{is_counts_word, number, placed_words};

/// The most counts on one line.
const MOST_COUNTS: u32 = 64;

/// Counts written in front of a line: where each mark falls, and where the words begin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Marks {
    /// Quarters of each mark, from the start of the line.
    pub places: Vec<Quarters>,
    /// Whole counts.
    pub counts: u32,
    /// The first number.
    pub first: u32,
    /// Byte where the words begin.
    pub at: usize,
}

/// Counts in front with their unit, `4 cts: 2 struts`: how many, and the byte where the words begin.
pub(super) fn counts_with_unit(text: &str) -> Option<(u32, usize)> {
    let words = placed_words(text, char::is_whitespace, |c| matches!(c, ':' | '.' | '-'));
    let [(_, n), (_, unit), (at, _), ..] = words[..] else { return None };
    number(n).filter(|_| is_counts_word(unit)).map(|counts| (counts, at))
}

/// Reads counts in front: `1-4`, `1&2`, `5 6 7 8`, `1-2,3&4`, `1, 2`. `None` where no words follow.
pub fn marks(text: &str, start: usize) -> Option<Marks> {
    let bullet = ["* ", "\u{2022} ", "> "].iter().find(|b| text[start..].starts_with(**b));
    let start = start + bullet.map_or(0, |b| b.len());
    let mut places: Vec<Quarters> = Vec::new();
    let (mut first, mut number, mut to) = (None, None::<u32>, false);
    let mut chars = text[start..].char_indices().peekable();
    let mut at = start;
    let mut counts = 0;
    while let Some(&(i, c)) = chars.peek() {
        let signs = c.is_whitespace() || matches!(c, ',' | '-' | '.' | ':' | '(' | ')');
        if c.is_ascii_digit() {
            let mut n = 0u32;
            let mut digits = 0;
            while let Some(d) = chars.peek().and_then(|(_, c)| c.to_digit(10)) {
                n = n.saturating_mul(10).saturating_add(d);
                digits += 1;
                chars.next();
            }
            // `4x`, `1/4`, `2nd` are no counts.
            let next = chars.peek().map(|(_, c)| *c);
            let counts_on = number.is_none_or(|last| n == last + 1 || (to && n > last));
            let goes_on = next.is_none_or(|c| c.is_whitespace() || ",-.:()&aAeE".contains(c));
            if digits > 2 || n == 0 || !counts_on || !goes_on {
                break;
            }
            let steps = number.map_or(1, |last| n - last);
            if counts + steps > MOST_COUNTS {
                return None;
            }
            for _ in 0..steps {
                counts += 1;
                places.push(counts * QUARTERS_PER_COUNT);
            }
            first.get_or_insert(n);
            number = Some(n);
            to = false;
        } else if matches!(c, '&' | 'a' | 'e') && !places_word(&text[start + i..]) {
            let within = match c {
                'e' => 1,
                '&' => 2,
                _ => 3,
            };
            places.push(counts * QUARTERS_PER_COUNT + within);
            chars.next();
        } else if signs {
            to |= c == '-';
            chars.next();
        } else {
            break;
        }
        at = chars.peek().map_or(text.len(), |(i, _)| start + i);
    }
    let words = text.get(at..)?;
    let said = words.chars().any(char::is_alphabetic);
    (counts > 0 && said).then_some(Marks { places, counts, first: first.unwrap_or(1), at })
}

/// Whether a text begins with a word of several letters, so that its first is no mark.
fn places_word(text: &str) -> bool {
    let mut chars = text.chars();
    let first = chars.next();
    first.is_some_and(char::is_alphabetic)
        && chars.next().is_some_and(|c| c.is_alphabetic() || c == '\'')
        || text.starts_with("a ")
}
