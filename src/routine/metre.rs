//! Whether a sheet is in three: a waltz, whose bars have three counts and whose steps fill bars.

use super::line::Line;
use super::model::StepUse;
use super::vocabulary::plain_words;
use super::words::{bare, is_bars_word, is_counts_word, number, turn};

/// Counts of a bar in three.
pub(super) const BAR_IN_THREE: u32 = 3;

/// Whether the sheet says that it is in three, and its counts do not say otherwise.
pub(super) fn in_three(lines: &[Line<'_>]) -> bool {
    let texts = || lines.iter().map(|l| l.typed.to_lowercase());
    let outright = texts().any(|text| says_three(&text));
    if !outright && !texts().any(|text| plain_words(&text).contains(&"waltz")) {
        return false;
    }
    let (mut threes, mut fours) = (0, 0);
    for n in texts().flat_map(|text| stated(&text)) {
        threes += usize::from(n % 3 == 0 && n % 4 != 0);
        fours += usize::from(n % 4 == 0 && n % 3 != 0);
    }
    // A song may be called a waltz and be none.
    if outright { threes >= fours } else { threes > fours }
}

/// In three a step fills one bar or two; how its movements fall there is not written down.
pub(super) fn bars_in_three(step: &StepUse) -> Option<StepUse> {
    const LONGEST_OF_ONE_BAR: u32 = 4;
    let bars = if step.counts > LONGEST_OF_ONE_BAR { 2 } else { 1 };
    let other = step.counts > 1 && !step.counts.is_multiple_of(BAR_IN_THREE);
    let (name, counts) = (step.name.clone(), bars * BAR_IN_THREE);
    other.then(|| StepUse { name, counts, ..StepUse::default() })
}

/// `3/4 time`, `waltz time`, `waltz basic`, `three counts to a bar`.
fn says_three(text: &str) -> bool {
    const BEHIND_WALTZ: [&str; 9] =
        ["time", "tempo", "basic", "basics", "step", "steps", "clog", "box", "balance"];
    let words: Vec<&str> = text.split_whitespace().collect();
    let plain: Vec<String> = words.iter().map(|w| bare(w)).collect();
    let quarters = |i: usize| {
        let turned = turn(&words[i..]).is_some() || i > 0 && turn(&words[i - 1..]).is_some();
        plain[i] == "3/4" && !turned
    };
    let three = |w: &String| number(w) == Some(BAR_IN_THREE);
    // `3 counts to the measure`, `a bar is three beats`.
    let bars = plain.windows(2).any(|w| three(&w[0]) && is_counts_word(&w[1]))
        && plain.iter().any(|w| is_bars_word(w));
    let waltz = plain.windows(2).any(|w| w[0] == "waltz" && BEHIND_WALTZ.contains(&&*w[1]));
    waltz || bars || (0..words.len()).any(quarters)
}

/// Numbers that state counts: with their unit, or alone in brackets. Those of a wait say nothing of the dance.
fn stated(text: &str) -> Vec<u32> {
    if ["wait", "intro"].iter().any(|w| text.contains(w)) {
        return Vec::new();
    }
    let words = plain_words(text);
    let with_unit = words.windows(2).filter(|w| is_counts_word(w[1])).filter_map(|w| number(w[0]));
    let brackets = text.split(['(', '[']).skip(1).filter_map(|b| b.split([')', ']']).next());
    let alone = brackets.filter_map(|inner| number(inner.trim()));
    with_unit.chain(alone).filter(|n| *n > 2).collect()
}

#[cfg(test)]
mod tests {
    use super::super::line::lines_of;
    use super::*;

    #[test]
    fn a_waltz_is_told_by_its_words_and_counts() {
        assert!(in_three(&lines_of(&["Larkspur", "3/4 time", "Part A (48)"])));
        assert!(in_three(&lines_of(&["Larkspur", "2 waltz basics (6)"])));
        assert!(in_three(&lines_of(&["Larkspur Waltz", "Basic (3)", "Part A (24)"])));
        assert!(in_three(&lines_of(&["Larkspur", "3 counts to a bar"])));
        assert!(!in_three(&lines_of(&["Larkspur Waltz", "Part A (32)", "2 Triple (8)"])));
        assert!(!in_three(&lines_of(&["Larkspur Waltz", "Part A (48)"])));
        assert!(!in_three(&lines_of(&["Larkspur", "Triple turn 3/4 L", "Part A (24)"])));
    }
}
