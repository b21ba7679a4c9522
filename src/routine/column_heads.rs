//! Names of columns that share their line with a part's name, `BEATS  PART A`: numbers in front of the lines below are
//! counts; under `Measures` they are bars, how many or which.

use super::bars::USUAL;
use super::heading::part_word;
use super::line::{Line, Piece};
use super::words::{is_bars_word, is_counts_word, number, runs};

/// A number or a range in front of a line: from and to, the byte behind it, and whether it is a range.
struct InFront {
    line: usize,
    from: u32,
    to: u32,
    end: usize,
    range: bool,
}

/// Takes the column's name off, and sets the numbers below it as ranges of counts.
pub(super) fn set_column_heads(lines: &mut [Line<'_>]) {
    for i in 0..lines.len() {
        let Some((from, to, bars)) = column_head(&lines[i].text) else { continue };
        let below = lines[i + 1..].iter().enumerate();
        let block: Vec<InFront> = below
            .take_while(|(_, l)| !l.text.trim().is_empty() && column_head(&l.text).is_none())
            .filter_map(|(n, l)| in_front(i + 1 + n, &l.text))
            .collect();
        if block.first().is_none_or(|first| first.line != i + 1) {
            continue;
        }
        lines[i].blank(from, to);
        let goes_on = block.windows(2).all(|w| w[1].from == w[0].to + 1);
        let running = block[0].from == 1 && (goes_on || block.iter().all(|n| n.range));
        for n in block.iter().filter(|n| bars || !n.range) {
            set_range(&mut lines[n.line], n, if bars { USUAL } else { 1 }, bars && running);
        }
    }
}

/// Sets a number in front as the counts that it comes to, or those that it names.
fn set_range(line: &mut Line<'_>, n: &InFront, each: u32, which: bool) {
    let first = if which { (n.from - 1) * each + 1 } else { 1 };
    let last = if which || n.range { n.to * each } else { n.from * each };
    let put = format!("{first}-{last}");
    let end = line.text.len();
    let again = which.then(|| bars_again(&line.text, n.end, each)).flatten();
    let from = line.indent();
    match again {
        Some((at, to, counts)) => line.set(&[
            Piece::Put(&put, from),
            Piece::Kept(n.end, at),
            Piece::Put(&counts, at),
            Piece::Kept(to, end),
        ]),
        None => line.set(&[Piece::Put(&put, from), Piece::Kept(n.end, end)]),
    }
}

/// `Repeat 1-4`: the bars as counts, and where they stand.
fn bars_again(text: &str, from: usize, each: u32) -> Option<(usize, usize, String)> {
    let behind = text.get(from..)?;
    let word = behind.split_whitespace().next().filter(|w| w.eq_ignore_ascii_case("repeat"))?;
    let at = from + behind.find(word)? + word.len();
    let rest = text[at..].trim_start();
    let at = text.len() - rest.len();
    let range = rest.split_whitespace().next()?;
    let (first, last) = range.split_once('-')?;
    let (first, last) = (number(first)?, number(last)?);
    let counts = format!("{}-{}", first.checked_sub(1)? * each + 1, last * each);
    Some((at, at + range.len(), counts))
}

/// The name of a column in front of a part's name: where it stands, and whether it says bars.
fn column_head(text: &str) -> Option<(usize, usize, bool)> {
    const GAP: usize = 2;
    let words = runs(text, |c| !c.is_whitespace());
    let (&(from, to), &(next, end)) = (words.first()?, words.get(1)?);
    let name = text[from..to].trim_end_matches(':');
    let bars = is_bars_word(name);
    let part = &text[next..end];
    let letter = words.len() == 2 && part.len() == 1 && part.starts_with(char::is_uppercase);
    let column = (bars || is_counts_word(name)) && next - to >= GAP;
    (column && (part_word(part).is_some() || letter)).then_some((from, to, bars))
}

fn in_front(line: usize, text: &str) -> Option<InFront> {
    const MOST: u32 = 99;
    let word = text.split_whitespace().next()?;
    let (from, to, range) = match word.split_once('-') {
        Some((from, to)) => (number(from)?, number(to)?, true),
        None => (number(word)?, number(word)?, false),
    };
    let figures = word.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    let end = text.find(word)? + word.len();
    let said = text[end..].chars().any(char::is_alphabetic);
    (figures && said && (1..=MOST).contains(&from) && from <= to && to <= MOST).then_some(InFront {
        line,
        from,
        to,
        end,
        range,
    })
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_column_heads, texts)
    }

    #[test]
    fn numbers_below_a_column_of_beats_are_counts() {
        let sheet =
            ["BEATS  PART A", "  8    2 TRIPLES", "       L R", " 16    REPEAT", "", "4 Basics"];
        let wanted = ["PART A", "1-8 2 TRIPLES", "L R", "1-16 REPEAT", "", "4 Basics"];
        assert_eq!(set(&sheet), wanted);
        // A number of beats is no column, and neither is one without numbers below.
        for other in [["Beats per minute 120", "2 Triples"], ["Counts Part A", "8 Triple"]] {
            assert_eq!(set(&other), other);
        }
    }

    #[test]
    fn numbers_below_a_column_of_measures_are_bars() {
        let which = ["Measures   Part A", "1-2   Vine", "3   Chain", "4-6   Repeat 1-3"];
        assert_eq!(set(&which), ["Part A", "1-8 Vine", "9-12 Chain", "13-24 Repeat 1-12"]);
        let many = ["Bars   Part B", "2   Vine", "4   Chain"];
        assert_eq!(set(&many), ["Part B", "1-8 Vine", "1-16 Chain"]);
    }
}
