//! The most likely cutting of a song into phrases.

use super::lengths::{LONGEST_BARS, log_share};

/// Beats on which phrases start, ascending, the first always 0: the exact optimum, by dynamic
/// programming, of the summed log odds of the starts and log shares of the lengths.
///
/// `odds` holds the log odds of a start at each beat. A short stretch at the start or the end of a
/// song may have any length: a recording starts and fades where it will.
pub fn most_likely(odds: &[f64], per_bar: usize) -> Vec<usize> {
    let n = odds.len();
    let longest = (LONGEST_BARS * per_bar).min(n);
    let shares: Vec<f64> = (0..=longest).map(|counts| log_share(counts.max(1), per_bar)).collect();
    let free = ANY_LENGTH.ln();
    let short = SHORT_BARS * per_bar;
    let mut best = vec![f64::NEG_INFINITY; n + 1];
    let mut before = vec![0usize; n + 1];
    best[0] = 0.0;
    for end in 1..=n {
        for start in end.saturating_sub(longest)..end {
            let length = end - start;
            let outer = start == 0 || end == n;
            if length < per_bar && !outer {
                continue;
            }
            let any = outer && length <= short;
            let share = if any { shares[length].max(free) } else { shares[length] };
            let start_odds = if start == 0 { 0.0 } else { odds[start] };
            let score = best[start] + start_odds + share;
            if score > best[end] {
                best[end] = score;
                before[end] = start;
            }
        }
    }
    let mut starts = Vec::new();
    let mut at = n;
    while at > 0 {
        at = before[at];
        starts.push(at);
    }
    starts.reverse();
    starts
}

/// Probability given to a short opening or closing stretch of whatever length.
const ANY_LENGTH: f64 = 0.02;
/// Longest stretch that counts as short, in bars: the usual phrase.
const SHORT_BARS: usize = 8;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clear_starts_are_taken_and_lengths_fill_the_rest() {
        let mut odds = vec![-4.0; 160];
        for start in [16, 48, 84, 116] {
            odds[start] = 6.0;
        }
        assert_eq!(most_likely(&odds, 4), [0, 16, 48, 84, 116, 148][..5]);
    }

    #[test]
    fn no_beats_no_starts() {
        assert!(most_likely(&[], 4).is_empty());
        assert_eq!(most_likely(&[0.0], 4), [0]);
    }
}
