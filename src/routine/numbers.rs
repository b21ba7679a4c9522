//! What the numbers of a sheet mean, learned from the whole of it: a number in brackets behind a step is its counts, or
//! how often it is danced.

use super::glossary;
use super::vocabulary::plain_words;
use super::words::{Line, Piece, number};

/// Fewest lines that show a habit.
const FEWEST_LINES: usize = 3;

/// Sets `Triple (2)` as `Triple x2` where numbers in brackets are seldom a step's counts and make it several times.
pub(super) fn set_times_in_brackets(lines: &mut [Line<'_>]) {
    let found: Vec<(usize, (usize, usize), u32, u32)> =
        lines.iter().enumerate().filter_map(|(i, line)| bracketed(i, &line.text)).collect();
    let counts = found.iter().filter(|(.., n, counts)| n == counts).count();
    let times = found.iter().filter(|(.., n, counts)| n % counts != 0).count();
    let whole = found.iter().filter(|(.., n, counts)| n % counts == 0).count();
    if times < FEWEST_LINES || counts > 0 || whole * 2 > times {
        return;
    }
    for (i, (from, to), ..) in found {
        let text = lines[i].text.clone();
        lines[i].set(&[
            Piece::Kept(0, from),
            Piece::Put(" x", from),
            Piece::Kept(from + 1, to - 1),
            Piece::Kept(to, text.len()),
        ]);
    }
}

/// A step alone on its line with a number in brackets behind it: where, the number, the step's counts.
fn bracketed(line: usize, text: &str) -> Option<(usize, (usize, usize), u32, u32)> {
    let open = text.find(['(', '['])?;
    let close = open + text[open..].find([')', ']'])?;
    let n = number(text[open + 1..close].trim()).filter(|n| *n > 0)?;
    let name = plain_words(&text[..open]).join(" ");
    let counts = glossary::length_of(&name).filter(|counts| *counts > 0)?;
    Some((line, (open, close + 1), n, counts))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        let mut lines: Vec<Line<'_>> = texts.iter().enumerate().map(|(i, t)| Line::new(i + 1, t)).collect();
        set_times_in_brackets(&mut lines);
        lines.into_iter().map(|l| l.text).collect()
    }

    #[test]
    fn numbers_in_brackets_are_times_where_they_are_no_counts() {
        assert_eq!(set(&["CHAIN (2)", "TRIPLE (2)", "COWBOY (1)"]), ["CHAIN  x2", "TRIPLE  x2", "COWBOY  x1"]);
        // One that does not fit is a mistake, and stays.
        let counted = ["Chain (4)", "Triple (2)", "Basic (2)"];
        assert_eq!(set(&counted), counted);
    }
}
