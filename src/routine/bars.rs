//! How many counts a bar has, where the sheet says so: lengths in bars are then read as counts.

use super::words::{Line, Piece, is_bars_word, is_counts_word, number};

/// A bar has four counts in most of the music that is clogged to: common practice.
pub(super) const USUAL: u32 = 4;

/// Sets `4 bars` as `8 counts` in a sheet that says `8 bars (16 beats)` or `2 counts to a bar`.
pub(super) fn set_bars(lines: &mut [Line<'_>]) {
    let said = lines.iter().find_map(|line| counts_of_a_bar(&line.text));
    let Some(each) = said.filter(|each| *each != USUAL) else { return };
    for line in lines.iter_mut() {
        let text = line.text.clone();
        let lengths: Vec<(usize, usize, String)> = words(&text)
            .windows(2)
            .filter_map(|pair| {
                let [(from, word), (at, unit)] = pair else { return None };
                let bars = number(word).filter(|_| is_bars_word(unit))?;
                Some((*from, at + unit.len(), format!("{} counts", bars.saturating_mul(each))))
            })
            .collect();
        if lengths.is_empty() {
            continue;
        }
        let mut kept = 0;
        let mut pieces: Vec<Piece<'_>> = Vec::new();
        for (from, to, counts) in &lengths {
            pieces.extend([Piece::Kept(kept, *from), Piece::Put(counts, *from)]);
            kept = *to;
        }
        pieces.push(Piece::Kept(kept, text.len()));
        line.set(&pieces);
    }
}

/// Counts of a bar, of a line that gives one length in both, or says it outright.
fn counts_of_a_bar(text: &str) -> Option<u32> {
    let words: Vec<&str> = words(text).into_iter().map(|(_, word)| word).collect();
    let both = words.windows(4).find_map(|w| {
        let (bars, counts) = (number(w[0])?, number(w[2])?);
        let said = is_bars_word(w[1]) && is_counts_word(w[3]) && bars > 0 && counts % bars == 0;
        said.then(|| counts / bars)
    });
    let outright = || {
        words.windows(5).find_map(|w| {
            let said = is_counts_word(w[1])
                && ["to", "in", "per"].contains(&w[2].to_lowercase().as_str())
                && ["a", "the", "each"].contains(&w[3].to_lowercase().as_str())
                && is_bars_word(w[4]);
            number(w[0]).filter(|_| said)
        })
    };
    both.or_else(outright).filter(|each| (1..=12).contains(each))
}

/// Runs of letters and digits, and where they begin.
fn words(text: &str) -> Vec<(usize, &str)> {
    let mut out = Vec::new();
    let mut from = None;
    for (at, c) in text.char_indices().chain([(text.len(), ' ')]) {
        match (from, c.is_alphanumeric()) {
            (None, true) => from = Some(at),
            (Some(start), false) => {
                out.push((start, &text[start..at]));
                from = None;
            }
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::words::set_by;
    use super::*;

    #[test]
    fn bars_are_set_as_counts_where_the_sheet_says_how_long_they_are() {
        let sheet = ["Wait 4 bars (8 beats)", "2 Chains - 4 bars, a Joey - 2 bars"];
        let wanted = ["Wait 8 counts (8 beats)", "2 Chains - 8 counts, a Joey - 4 counts"];
        assert_eq!(set_by(set_bars, &sheet), wanted);
        assert_eq!(set_by(set_bars, &sheet[1..]), sheet[1..]);
    }

    #[test]
    fn a_sheet_says_how_many_counts_a_bar_has() {
        assert_eq!(counts_of_a_bar("Wait for 4 bars (8 beats)."), Some(2));
        assert_eq!(counts_of_a_bar("a reel, 2 counts to a bar"), Some(2));
        assert_eq!(counts_of_a_bar("waltz time, 3 beats in the measure"), Some(3));
        assert_eq!(counts_of_a_bar("Part A, 8 bars, 2 Triples"), None);
        assert_eq!(counts_of_a_bar("5 bars (16 beats)"), None);
    }
}
