//! How many counts a bar has, where the sheet says so: lengths in bars are then read as counts.

use super::line::{Line, Piece};
use super::metre::{BAR_IN_THREE, in_three};
use super::words::{is_bars_word, is_counts_word, number, runs};

/// A bar has four counts in most of the music that is clogged to: common practice.
pub(super) const USUAL: u32 = 4;

/// Sets `4 bars` as `8 counts` in a sheet that says `8 bars (16 beats)` or `2 counts to a bar`, and `bars 1-4` in front
/// of a line as the counts of that line.
pub(super) fn set_bars(lines: &mut [Line<'_>]) {
    let said = lines.iter().find_map(|line| counts_of_a_bar(&line.text));
    let said = said.or_else(|| in_three(lines).then_some(BAR_IN_THREE));
    let in_bars = lines.iter().any(|l| words(&l.text).iter().any(|(_, w)| is_bars_word(w)));
    for line in lines.iter_mut() {
        bars_in_front(line, said.unwrap_or(USUAL));
        if in_bars {
            short_measures(line);
        }
    }
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

/// `2 m. 4 Basics` as `2 measures 4 Basics`, in a sheet that counts in them.
fn short_measures(line: &mut Line<'_>) {
    let text = line.text.clone();
    let short = words(&text).windows(2).find_map(|pair| {
        let [(_, before), (at, unit)] = pair else { return None };
        let dot = text[at + unit.len()..].starts_with('.');
        let is_short = unit.eq_ignore_ascii_case("m") && dot || unit.eq_ignore_ascii_case("ms");
        (is_short && number(before).is_some()).then_some((*at, at + unit.len()))
    });
    if let Some((from, to)) = short {
        let rest = to + usize::from(text[to..].starts_with('.'));
        line.set(&[
            Piece::Kept(0, from),
            Piece::Put("measures", from),
            Piece::Kept(rest, text.len()),
        ]);
    }
}

/// `bars 5-8   4 Basics` as `8 counts 4 Basics`.
fn bars_in_front(line: &mut Line<'_>, each: u32) {
    let text = line.text.clone();
    let all = words(&text);
    let [(_, unit), (from, first), ..] = all[..] else { return };
    let Some(first_bar) = number(first).filter(|_| is_bars_word(unit)) else { return };
    let starts_so = text.trim_start().starts_with(unit);
    if !starts_so || !first.starts_with(|c: char| c.is_ascii_digit()) {
        return;
    }
    let behind = from + first.len();
    let second = all.get(2).filter(|&&(at, _)| text[behind..at].trim() == "-");
    let second = second.and_then(|&(at, word)| Some((number(word)?, at + word.len())));
    let (last_bar, end) = second.unwrap_or((first_bar, behind));
    let Some(bars) = last_bar.checked_sub(first_bar).map(|more| more.saturating_add(1)) else {
        return;
    };
    let rest = text[end..].trim_start_matches([' ', ':', '.', ')', '-', '=']);
    if rest.chars().any(char::is_alphabetic) {
        let counts = format!("{} counts ", bars.saturating_mul(each));
        let at = line.indent();
        line.set(&[
            Piece::Kept(0, at),
            Piece::Put(&counts, at),
            Piece::Kept(text.len() - rest.len(), text.len()),
        ]);
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
                && ["a", "the", "each", "every", "one"].contains(&w[3].to_lowercase().as_str())
                && is_bars_word(w[4]);
            number(w[0]).filter(|_| said)
        })
    };
    // `A measure here is 4 beats`
    let told = || {
        let bar = words.iter().position(|w| is_bars_word(w) && !w.to_lowercase().ends_with('s'))?;
        let says = ["is", "has", "means", "equals"];
        let verb = words[bar..].iter().take(4).position(|w| says.contains(&&*w.to_lowercase()))?;
        let behind = words.get(bar + verb + 1..bar + verb + 3)?;
        number(behind[0]).filter(|_| is_counts_word(behind[1]))
    };
    both.or_else(outright).or_else(told).filter(|each| (1..=12).contains(each))
}

/// Runs of letters and digits, and where they begin.
fn words(text: &str) -> Vec<(usize, &str)> {
    runs(text, char::is_alphanumeric)
        .into_iter()
        .map(|(from, to)| (from, &text[from..to]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    #[test]
    fn bars_are_set_as_counts_where_the_sheet_says_how_long_they_are() {
        let sheet = ["Wait 4 bars (8 beats)", "2 Chains - 4 bars, a Joey - 2 bars"];
        let wanted = ["Wait 8 counts (8 beats)", "2 Chains - 8 counts, a Joey - 4 counts"];
        assert_eq!(set_by(set_bars, &sheet), wanted);
        assert_eq!(set_by(set_bars, &sheet[1..]), sheet[1..]);
    }

    #[test]
    fn bars_in_front_of_a_line_are_its_counts() {
        let sheet = ["2 beats to every bar", "bars 5-8  4 Basics", "Bar 9: Chug", "bars and bells"];
        let wanted =
            ["2 beats to every bar", "8 counts 4 Basics", "2 counts Chug", "bars and bells"];
        assert_eq!(set_by(set_bars, &sheet), wanted);
        assert_eq!(set_by(set_bars, &["bars 1-2 a Cowboy"]), ["8 counts a Cowboy"]);
    }

    #[test]
    fn a_sheet_says_how_many_counts_a_bar_has() {
        assert_eq!(counts_of_a_bar("Wait for 4 bars (8 beats)."), Some(2));
        assert_eq!(counts_of_a_bar("a reel, 2 counts to a bar"), Some(2));
        assert_eq!(counts_of_a_bar("waltz time, 3 beats in the measure"), Some(3));
        assert_eq!(counts_of_a_bar("(one measure here is 3 beats)"), Some(3));
        assert_eq!(counts_of_a_bar("Part A, 8 bars, 2 Triples"), None);
        assert_eq!(counts_of_a_bar("5 bars (16 beats)"), None);
    }
}
