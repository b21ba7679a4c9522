//! Steps in an author's own shorthand with no key to it, `2 fd 8`, `4 bas 8`, `2 mt goat 8`: the counts at the end tell
//! which step is meant.

use super::glossary;
use super::heading::part_word;
use super::line::{Line, Piece};
use super::phrases::is_way_word;
use super::vocabulary::content;
use super::words::{foot, in_figures, key, number, runs, turn};

/// Fewest lines that make it a habit of the sheet.
const FEWEST_LINES: usize = 3;

/// A line of shorthand.
struct Short {
    line: usize,
    /// Where the words of the name end.
    end: usize,
    /// Where the counts stand.
    counts: (usize, usize),
    known: bool,
}

/// Puts the counts in brackets behind the name, so that `2 tripl fwd 8` is read as `2 tripl (8) fwd`.
pub(super) fn set_shorthand(lines: &mut [Line<'_>]) {
    let found: Vec<Short> =
        lines.iter().enumerate().filter_map(|(i, line)| short(i, &line.text)).collect();
    let known = found.iter().filter(|s| s.known).count();
    if known < FEWEST_LINES || known * 2 <= found.len() {
        return;
    }
    for Short { line, end, counts: (from, to), .. } in found {
        let put = format!(" ({})", &lines[line].text[from..to]);
        let all = lines[line].text.len();
        lines[line].set(&[
            Piece::Kept(0, end),
            Piece::Put(&put, from),
            Piece::Kept(end, from),
            Piece::Kept(to, all),
        ]);
    }
}

/// A number or none, a name that is no step's, how it goes, counts, and a turn or nothing.
fn short(line: usize, text: &str) -> Option<Short> {
    const MOST_WORDS: usize = 3;
    let places = runs(text, |c| !c.is_whitespace());
    let words: Vec<&str> = places.iter().map(|&(from, to)| &text[from..to]).collect();
    let times = in_figures(words.first()?);
    let first = usize::from(times.is_some());
    let at = first + words[first..].iter().position(|w| in_figures(w).is_some())?;
    let counts = in_figures(words[at])?;
    let behind = &words[at + 1..];
    const WHERE_TO: [&str; 6] = ["fwd", "forward", "bk", "bkwd", "back", "bwd"];
    let says_how =
        |w: &str| is_way_word(&key(w)) || WHERE_TO.contains(&&*key(w)) || foot(w).is_some();
    if !behind.is_empty() && turn(behind).is_none() {
        return None;
    }
    // `Verse 2` is a part, and so is a letter.
    let part = |w: &str| part_word(w).is_some() || w.chars().count() == 1 && number(w).is_none();
    if part(words[0]) || content(text).steps > 0 {
        return None;
    }
    let name: Vec<&str> = words[first..at].iter().copied().take_while(|w| !says_how(w)).collect();
    let letters = |w: &&str| w.chars().all(char::is_alphabetic);
    let how = &words[first + name.len()..at];
    let shaped = (1..=MOST_WORDS).contains(&name.len())
        && name.iter().all(letters)
        && how.iter().all(|w| says_how(w));
    let each = counts.checked_div(times.unwrap_or(1)).filter(|n| n * times.unwrap_or(1) == counts);
    shaped.then(|| Short {
        line,
        end: places[first + name.len() - 1].1,
        counts: places[at],
        known: each.is_some_and(|n| glossary::only_step_short_for(&name, n).is_some()),
    })
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_shorthand, texts)
    }

    #[test]
    fn counts_tell_what_shorthand_means() {
        let sheet =
            ["2 tripl fwd 8", "2 fd 8", "4 bas 8 1/4 L ea", "4 zzz 8", "Triple 4", "Verse 2"];
        let wanted = [
            "2 tripl (8) fwd",
            "2 fd (8)",
            "4 bas (8) 1/4 L ea",
            "4 zzz (8)",
            "Triple 4",
            "Verse 2",
        ];
        assert_eq!(set(&sheet), wanted);
        // Two lines are no habit.
        assert_eq!(set(&sheet[1..3]), sheet[1..3]);
    }

    #[test]
    fn shorthand_is_of_one_step_of_those_counts() {
        for (typed, counts, step) in [
            ("fd", 4, Some("fancy double")),
            ("bas", 2, Some("basic")),
            ("mt goat", 4, Some("mountain goat")),
            ("sam", 8, Some("samantha")),
            ("fd", 8, None),
            ("q", 4, None),
        ] {
            let words: Vec<&str> = typed.split(' ').collect();
            let found = glossary::only_step_short_for(&words, counts);
            let meant = |name: &str| {
                let known = glossary::find(name).map(|(s, _)| s.name);
                glossary::name_key(known.unwrap_or(name))
            };
            assert_eq!(found, step.map(meant), "{typed}");
        }
    }
}
