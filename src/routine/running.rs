//! Columns of numbers at the right of a page: counts, bars beside them, and running totals. The counts of each line
//! stay; what only sums up or says the same in bars is taken off.

use super::book::Book;
use super::line::{Line, Piece};
use super::numbers::{counts_of, number_in_front};
use super::words::number;

/// Fewest lines that make a column.
const FEWEST_LINES: usize = 3;

/// A line with numbers at its right.
struct Row {
    line: usize,
    /// Where what stands before them ends.
    words: usize,
    /// Each number and its bytes.
    numbers: Vec<(u32, (usize, usize))>,
    /// What the steps before them come to, where all are known.
    steps: Option<u32>,
}

/// Sets `Triple x 2   2   8   24` as `Triple x 2 (8)` where the columns are bars, counts and running totals.
pub(super) fn set_columns(lines: &mut [Line<'_>]) {
    let book = Book::default();
    let rows: Vec<Row> =
        lines.iter().enumerate().filter_map(|(i, line)| row(i, line, &book)).collect();
    let widest = rows.iter().map(|r| r.numbers.len()).max().unwrap_or(0);
    for width in 1..=widest {
        let of_width: Vec<&Row> = rows.iter().filter(|r| r.numbers.len() == width).collect();
        if of_width.len() >= FEWEST_LINES {
            set_rows(lines, &of_width, width);
        }
    }
}

fn set_rows(lines: &mut [Line<'_>], rows: &[&Row], width: usize) {
    let counts = (0..width).find(|&c| is_counts(rows, c));
    let of = |row: &Row| counts.map_or(row.steps, |c| Some(row.numbers[c].0));
    let spare = |c: usize| {
        Some(c) == counts || is_running(rows, c, &of) || counts.is_some_and(|k| is_bars(rows, c, k))
    };
    if width == 1 && counts.is_some() || !(0..width).all(spare) {
        return;
    }
    for row in rows {
        let mut pieces = vec![Piece::Kept(0, row.words)];
        if let Some((_, (from, to))) = counts.map(|c| row.numbers[c]) {
            pieces.extend([Piece::Put(" (", from), Piece::Kept(from, to), Piece::Put(")", to)]);
        }
        lines[row.line].set(&pieces);
    }
}

/// Sets `Buffalo R, Buffalo L    1&a2 3&a4` as `Buffalo R, Buffalo L (4)` where several lines have their timing at the
/// right.
pub(super) fn set_timing_at_the_right(lines: &mut [Line<'_>]) {
    let found: Vec<(usize, usize, usize, u32)> = lines
        .iter()
        .enumerate()
        .filter_map(|(i, line)| {
            let (from, at, counts) = timing_at_the_right(&line.text)?;
            Some((i, from, at, counts))
        })
        .collect();
    if found.len() < FEWEST_LINES {
        return;
    }
    for (line, from, at, counts) in found {
        lines[line].set(&[Piece::Kept(0, from), Piece::Put(&format!(" ({counts})"), at)]);
    }
}

/// Timing behind a gap: where the words before it end, where it begins, and how many counts it names.
fn timing_at_the_right(text: &str) -> Option<(usize, usize, u32)> {
    const GAP: &str = "   ";
    let end = text.trim_end().len();
    let gap = text[..end].rfind(GAP)? + GAP.len();
    let timing = &text[gap..end];
    let (mut digits, mut upbeats): (Vec<u32>, usize) = (Vec::new(), 0);
    for word in timing.split_whitespace() {
        let marks =
            word.chars().all(|c| matches!(c, '1'..='8' | '&' | 'a' | 'e' | '(' | ')' | '.'));
        if !marks && !word.eq_ignore_ascii_case("hold") {
            return None;
        }
        upbeats += word.matches('&').count();
        digits.extend(word.chars().filter_map(|c| c.to_digit(10)).filter(|_| marks));
    }
    let goes_on = timing.contains("...");
    digits.dedup();
    let counts = match (goes_on, digits.first(), digits.last()) {
        (true, Some(first), Some(last)) => (last + 1).checked_sub(*first)?,
        _ => digits.len() as u32,
    };
    let words = text[..gap].trim_end().len();
    let said = text[..words].chars().any(char::is_alphabetic);
    (said && upbeats > 0 && counts > 0).then_some((words, gap, counts))
}

/// Numbers at the end of a line of steps, each behind a gap.
fn row(line: usize, text: &Line<'_>, book: &Book) -> Option<Row> {
    const GAP: &str = "  ";
    let text = text.text.as_str();
    let mut end = text.trim_end().len();
    let mut numbers = Vec::new();
    loop {
        let digits = text[..end].bytes().rev().take_while(u8::is_ascii_digit).count();
        let before = &text[..end - digits];
        let Some(n) = number(&text[end - digits..end]).filter(|_| before.ends_with(GAP)) else {
            break;
        };
        numbers.insert(0, (n, (end - digits, end)));
        end = before.trim_end().len();
    }
    let steps = counts_of(&text[..end], book);
    (!numbers.is_empty() && text[..end].chars().any(char::is_alphabetic)).then_some(Row {
        line,
        words: end,
        numbers,
        steps,
    })
}

/// Whether a column is what the steps of each line come to, mostly.
fn is_counts(rows: &[&Row], column: usize) -> bool {
    let known = rows.iter().filter(|r| r.steps.is_some()).count();
    let same = rows.iter().filter(|r| r.steps == Some(r.numbers[column].0)).count();
    same >= FEWEST_LINES && same * 4 >= known * 3
}

/// Whether a column sums up the lines' counts, anew from part to part.
fn is_running(rows: &[&Row], column: usize, counts: &impl Fn(&Row) -> Option<u32>) -> bool {
    let (mut sum, mut grows, mut known, mut wrong) = (0u32, 0, 0, 0);
    for row in rows {
        let said = row.numbers[column].0;
        if let Some(here) = counts(row) {
            known += 1;
            let more = said == sum.saturating_add(here);
            grows += usize::from(more && sum > 0);
            wrong += usize::from(!more && said != here);
        }
        sum = said;
    }
    grows >= FEWEST_LINES - 1 && wrong * 4 <= known
}

/// Sets `16 Basic x4` below `8 Triple, Triple` as `9-16 Basic x4` where the numbers in front sum up the counts of a part.
pub(super) fn set_totals_in_front(lines: &mut [Line<'_>]) {
    let book = Book::default();
    let mut before = 0;
    let (mut sums, mut known, mut fit) = (Vec::new(), 0, 0);
    for (i, line) in lines.iter().enumerate() {
        let plain = |(_, (from, to, words)): &(u32, (usize, usize, usize))| {
            line.indent() == *from && line.text[*to..*words].trim().is_empty()
        };
        let Some((n, (from, _, words))) = number_in_front(&line.text).filter(plain) else {
            before = 0;
            continue;
        };
        before = if n > before { before } else { 0 };
        if let Some(counts) = counts_of(&line.text[words..], &book) {
            known += 1;
            fit += usize::from(n - before == counts && before > 0);
            // A number that is neither is how often, or the line's own counts.
            if n - before != counts {
                known += 2;
            }
        }
        sums.push((i, from, before + 1));
        before = n;
    }
    if fit < FEWEST_LINES || fit * 2 < known {
        return;
    }
    for (line, from, first) in sums {
        let end = lines[line].text.len();
        let first = format!("{first}-");
        lines[line].set(&[Piece::Kept(0, from), Piece::Put(&first, from), Piece::Kept(from, end)]);
    }
}

/// Whether a column is another by so many counts a bar.
fn is_bars(rows: &[&Row], column: usize, counts: usize) -> bool {
    const MOST_COUNTS: u32 = 12;
    (2..=MOST_COUNTS).any(|each| {
        let whole = |r: &&&Row| r.numbers[column].0.saturating_mul(each) == r.numbers[counts].0;
        rows.iter().filter(whole).count() * 4 >= rows.len() * 3
    })
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    #[test]
    fn running_totals_and_bars_are_taken_off() {
        let sheet = [
            "Triple x 2      2    8    8",
            "Basic x 4       2    8   16",
            "Fancy Double    1    4   20",
            "Chain x 2       2    8    8",
        ];
        let wanted = ["Triple x 2 (8)", "Basic x 4 (8)", "Fancy Double (4)", "Chain x 2 (8)"];
        assert_eq!(set_by(set_columns, &sheet), wanted);
        let alone = ["2 Triple     8", "4 Basic     16", "Fancy Double    20"];
        assert_eq!(set_by(set_columns, &alone), ["2 Triple", "4 Basic", "Fancy Double"]);
    }

    #[test]
    fn timing_at_the_right_is_taken_as_counts() {
        let sheet = [
            "Buffalo R, Buffalo L     1&a2 3&a4",
            "Time step R      8 1 2 &3 &",
            "Stamp, clap   1&2 ... 8",
        ];
        let wanted = ["Buffalo R, Buffalo L (4)", "Time step R (4)", "Stamp, clap (8)"];
        assert_eq!(set_by(set_timing_at_the_right, &sheet), wanted);
        assert_eq!(
            set_by(set_timing_at_the_right, &sheet[..1]),
            ["Buffalo R, Buffalo L 1&a2 3&a4"]
        );
    }

    #[test]
    fn running_totals_in_front_are_ranges() {
        let sheet = [
            "4 Chain",
            "12 Basic x4",
            "20 Triple x2",
            "24 Otter Slide",
            "",
            "8 Triple x2",
            "16 Cowboy",
        ];
        let wanted = [
            "1-4 Chain",
            "5-12 Basic x4",
            "13-20 Triple x2",
            "21-24 Otter Slide",
            "",
            "1-8 Triple x2",
            "9-16 Cowboy",
        ];
        assert_eq!(set_by(set_totals_in_front, &sheet), wanted);
        let often = ["2 Triple", "4 Basic", "8 Stomp", "1 Cowboy", "2 Chain", "4 Triple"];
        assert_eq!(set_by(set_totals_in_front, &often), often);
    }

    #[test]
    fn counts_at_the_right_stay() {
        let counts = ["2 Triple   8", "4 Basic   8", "Fancy Double   4", "Chain   5"];
        assert_eq!(
            set_by(set_columns, &counts),
            ["2 Triple 8", "4 Basic 8", "Fancy Double 4", "Chain 5"]
        );
    }
}
