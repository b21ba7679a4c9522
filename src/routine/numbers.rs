//! What the numbers of a sheet mean, learned from the whole of it: a number in brackets behind a step is its counts, or
//! how often it is danced.

use super::book::Book;
use super::glossary;
use super::line::{Line, Piece};
use super::phrases::count_range;
use super::step_line::parse_step_line;
use super::vocabulary::{MOST_NAME_WORDS, content, plain_words};
use super::words::{counts_in_brackets, is_bars_word, is_counts_word, length, number};

/// Fewest lines that show a habit.
const FEWEST_LINES: usize = 3;

/// Sets `Triple (2)` as `Triple x2` where numbers in brackets are seldom a step's counts and make it several times.
pub(super) fn set_times_in_brackets(lines: &mut [Line<'_>]) {
    let found: Vec<(usize, Bracketed)> = lines
        .iter()
        .enumerate()
        .filter_map(|(i, line)| Some((i, bracketed(&line.text)?)))
        .collect();
    let counts = found.iter().filter(|(_, (_, n, counts))| n == counts).count();
    let times = found.iter().filter(|(_, (_, n, counts))| n % counts != 0).count();
    let whole = found.iter().filter(|(_, (_, n, counts))| n % counts == 0).count();
    if times < FEWEST_LINES || counts > 0 || whole * 2 > times {
        return;
    }
    for (i, ((from, to), ..)) in found {
        let text = lines[i].text.clone();
        lines[i].set(&[
            Piece::Kept(0, from),
            Piece::Put(" x", from),
            Piece::Kept(from + 1, to - 1),
            Piece::Kept(to, text.len()),
        ]);
    }
}

/// Sets `9-16 Double (2), Basic (1)` as `9-16 Double x2, Basic x1` where the counts of the range say so on several lines.
pub(super) fn set_times_beside_ranges(lines: &mut [Line<'_>]) {
    const FEWEST_SURE: usize = 2;
    let found: Vec<_> = lines.iter().map(|line| beside_range(&line.text)).collect();
    if found.iter().flatten().filter(|(_, sure)| *sure).count() < FEWEST_SURE {
        return;
    }
    for (i, (numbers, _)) in found.into_iter().enumerate().filter_map(|(i, f)| Some((i, f?))) {
        let end = lines[i].text.len();
        let mut pieces = Vec::new();
        let mut kept = 0;
        for (open, close) in numbers {
            pieces.push(Piece::Kept(kept, open));
            if number(lines[i].text[open + 1..close].trim()) != Some(1) {
                pieces.extend([Piece::Put(" x", open), Piece::Kept(open + 1, close)]);
            }
            kept = close + 1;
        }
        pieces.push(Piece::Kept(kept, end));
        lines[i].set(&pieces);
    }
}

/// Brackets behind the steps of a line that holds its range of counts when the numbers in them are times; and whether it
/// does not when they are counts.
fn beside_range(text: &str) -> Option<(Vec<(usize, usize)>, bool)> {
    let first = text.split_whitespace().next()?;
    let range = count_range(first)?;
    let mut at = text.find(first)? + first.len();
    let (mut places, mut as_times, mut as_counts) = (Vec::new(), 0, 0);
    for clause in text[at..].split([',', ';']) {
        if let Some(((open, close), n, counts)) = bracketed(clause) {
            let name = clause[..open].trim();
            if !name.chars().all(|c| c.is_alphabetic() || matches!(c, ' ' | '-' | '\'')) {
                return None;
            }
            places.push((at + open, at + close - 1));
            as_times += n.checked_mul(counts)?;
            as_counts += n;
        } else if places.is_empty() || content(clause).steps > 0 {
            return None;
        }
        at += clause.len() + 1;
    }
    (as_times == range).then_some((places, as_counts != range))
}

/// Where a number in brackets stands, the number, and the counts of the step before it.
type Bracketed = ((usize, usize), u32, u32);

/// A step alone with a number in brackets behind it.
fn bracketed(text: &str) -> Option<Bracketed> {
    let open = text.find(['(', '['])?;
    let close = open + text[open..].find([')', ']'])?;
    let n = number(text[open + 1..close].trim()).filter(|n| *n > 0)?;
    let name = plain_words(&text[..open]).join(" ");
    let counts = glossary::length_of(&name).filter(|counts| *counts > 0)?;
    Some(((open, close + 1), n, counts))
}

/// Sets `8  2 Triples` and `8 - Outhouse, Outhouse` with their counts as a range in front, `1-8 2 Triples`, where the
/// number in front is what the steps behind it come to. `4 Triple` may say either and shows nothing.
pub(super) fn set_counts_in_front(lines: &mut [Line<'_>]) {
    const FEWEST_CLEAR: usize = 2;
    let book = Book::default();
    // Cells between tabs are read by the names of their columns.
    let cells = |line: &Line<'_>| line.typed.matches('\t').count() > 1;
    let plain = lines.iter().enumerate().filter(|(_, line)| !cells(line));
    let found: Vec<Numbered> =
        plain.filter_map(|(i, line)| numbered(i, &line.text, &book)).collect();
    let same = found.iter().filter(|l| l.clear && l.counts == Some(l.number)).count();
    let other = found.iter().filter(|l| l.counts.is_some_and(|c| c != l.number)).count();
    let found = match same < FEWEST_CLEAR || same < 3 * other {
        true => sums_of_headings(lines, &book),
        false => found,
    };
    for Numbered { line, place: (from, to, words), .. } in found {
        let end = lines[line].text.len();
        lines[line].set(&[
            Piece::Put("1-", from),
            Piece::Kept(from, to),
            Piece::Put(" ", to),
            Piece::Kept(words, end),
        ]);
    }
}

/// The lines of parts whose heading states the sum of the numbers in front of them: they are counts, `4  Triple` below
/// `Part A  32 beats`, where none goes against its steps.
fn sums_of_headings(lines: &[Line<'_>], book: &Book) -> Vec<Numbered> {
    const FEWEST_LINES: usize = 2;
    let mut out = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let Some(stated) = counts_of_a_heading(&line.text) else { continue };
        let below = lines.iter().enumerate().skip(i + 1);
        let below: Option<Vec<Numbered>> = below
            .take_while(|(_, line)| !line.text.trim().is_empty())
            .map(|(n, line)| {
                numbered(n, &line.text, book).filter(|l| !has_unit(&line.text[l.place.2..]))
            })
            .collect();
        let Some(below) = below else { continue };
        let sum: u32 = below.iter().map(|l| l.number).sum();
        let against = |l: &&Numbered| l.counts.is_some_and(|c| l.number != c);
        let one_each = below.iter().all(|l| l.counts == Some(1));
        if below.len() >= FEWEST_LINES
            && sum == stated
            && !one_each
            && below.iter().filter(against).count() * 4 <= below.len()
        {
            out.extend(below);
        }
    }
    out
}

/// Whether words begin with what is counted, `counts`, `meas.`, or with a sign of times.
fn has_unit(words: &str) -> bool {
    let first = plain_words(words).first().map(|w| w.to_lowercase()).unwrap_or_default();
    is_counts_word(&first) || is_bars_word(&first) || matches!(&*first, "x" | "×" | "times")
}

/// The counts at the end of a line that names no step: `Part A  32 beats`, `OPENING, four eights (32)`.
fn counts_of_a_heading(text: &str) -> Option<u32> {
    const MOST_WORDS: usize = 6;
    let words = plain_words(text);
    let named = words.first().is_some_and(|w| w.starts_with(char::is_alphabetic));
    if !named || words.len() > MOST_WORDS || content(text).steps > 0 {
        return None;
    }
    let in_brackets = counts_in_brackets(text.trim()).map(|(_, n)| n);
    let at_the_end = words
        .len()
        .checked_sub(2)
        .filter(|at| *at > 0)
        .and_then(|at| length(&words[at..]).filter(|(_, used)| *used == 2).map(|(n, _)| n));
    in_brackets.or(at_the_end)
}

/// A line with a number in front.
struct Numbered {
    line: usize,
    number: u32,
    /// Where the number begins and ends, and where the words behind it begin.
    place: (usize, usize, usize),
    /// What the steps behind it come to, where all are known.
    counts: Option<u32>,
    /// Whether it cannot say how often: a sign or a second number stands behind it, or several steps.
    clear: bool,
}

fn numbered(line: usize, text: &str, book: &Book) -> Option<Numbered> {
    let (number, place) = number_in_front(text)?;
    let behind = &text[place.2..];
    let sign = text[place.1..place.2].contains(['-', ':', '=']);
    // `2 Basics, turn 1/4 left`
    if !sign && begins_with_several(behind, book) {
        return None;
    }
    let several = behind.contains([',', '+', ';']);
    let clear = sign || several || behind.starts_with(|c: char| c.is_ascii_digit());
    Some(Numbered { line, number, place, counts: counts_of(behind, book), clear })
}

/// A number in front of a line, and where it begins, ends, and where the words behind it begin.
pub(super) fn number_in_front(text: &str) -> Option<(u32, (usize, usize, usize))> {
    let indent = text.len() - text.trim_start().len();
    let from = text.len() - text[indent..].trim_start_matches(['(', '[']).len();
    let digits = text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let n = number(&text[from..from + digits]).filter(|n| (1..=64).contains(n))?;
    let to = from + digits;
    // `2-3` is a range already.
    let behind = text[to..].strip_prefix('-');
    if behind.is_some_and(|b| b.starts_with(|c: char| c.is_ascii_digit())) {
        return None;
    }
    let behind = text[to..].trim_start_matches([' ', ')', ']', '-', ':', '=', '.']);
    let gap = text.len() - behind.len() > to;
    (gap && behind.starts_with(char::is_alphanumeric))
        .then_some((n, (from, to, text.len() - behind.len())))
}

/// Whether a line begins with the name of a step typed as more than one, so that a number in front says how often.
fn begins_with_several(text: &str, book: &Book) -> bool {
    let end = text.find(|c: char| !c.is_alphabetic() && !matches!(c, ' ' | '-'));
    let name = &text[..end.unwrap_or(text.len())];
    let words: Vec<&str> = name.split_whitespace().take(MOST_NAME_WORDS).collect();
    (1..=words.len()).any(|n| is_several(&words[..n].join(" "), book))
}

/// Whether a step's name is typed as more than one: `Basics`.
pub(super) fn is_several(typed: &str, book: &Book) -> bool {
    let typed = typed.trim().to_lowercase();
    let Some(single) = typed.strip_suffix('s') else { return false };
    !single.ends_with('s') && book.find(&glossary::name_key(single)).is_some()
}

/// Counts of a line of known steps; `None` where any is not known.
pub(super) fn counts_of(text: &str, book: &Book) -> Option<u32> {
    let parsed = parse_step_line(text, 0, book);
    let mut each = parsed.items.iter().map(|item| item.usual_counts(book));
    let sum = each.try_fold(0u32, |sum, n| Some(sum.saturating_add(n?)))?;
    (sum > 0).then_some(sum)
}

#[cfg(test)]
mod tests {
    use super::super::line::lines_of;
    use super::*;

    fn set_by(stage: impl Fn(&mut [Line<'_>]), texts: &[&str]) -> Vec<String> {
        let mut lines = lines_of(texts);
        stage(&mut lines);
        lines.into_iter().map(|l| l.text).collect()
    }

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_times_in_brackets, texts)
    }

    fn set_in_front(texts: &[&str]) -> Vec<String> {
        set_by(set_counts_in_front, texts)
    }

    #[test]
    fn numbers_in_front_are_counts_where_a_heading_states_their_sum() {
        let sheet = [
            "Part A  16 beats",
            "4  Triple  forward",
            "4 Chain",
            "8 Repeat A above",
            "",
            "4 Triple",
        ];
        assert_eq!(
            set_in_front(&sheet),
            [
                "Part A  16 beats",
                "1-4 Triple  forward",
                "1-4 Chain",
                "1-8 Repeat A above",
                "",
                "4 Triple"
            ]
        );
        let often = ["Part A  32 beats", "4 Triple", "4 Chain"];
        assert_eq!(set_in_front(&often), often);
    }

    #[test]
    fn a_number_in_front_of_several_is_how_often() {
        let turned = ["2 Basics, turn 1/4 left", "2 Basics, turn 1/4 left"];
        assert_eq!(set_in_front(&turned), turned);
        let counted = ["2 Basic, turn 1/4 left", "8 Basic, Basic, Triple", "2 Basics"];
        assert_eq!(
            set_in_front(&counted),
            ["1-2 Basic, turn 1/4 left", "1-8 Basic, Basic, Triple", "2 Basics"]
        );
    }

    #[test]
    fn numbers_in_brackets_beside_ranges_are_times_where_the_counts_say_so() {
        let sheet = [
            "1-8 Triple (2), going home",
            "9-16 Double (2), Basic (1)",
            "17-20 Stomp (4)",
            "21-24 Chain (4)",
        ];
        let wanted = [
            "1-8 Triple  x2, going home",
            "9-16 Double  x2, Basic ",
            "17-20 Stomp  x4",
            "21-24 Chain (4)",
        ];
        assert_eq!(set_by(set_times_beside_ranges, &sheet), wanted);
        assert_eq!(set_by(set_times_beside_ranges, &sheet[1..]), sheet[1..]);
    }

    #[test]
    fn numbers_in_brackets_are_times_where_they_are_no_counts() {
        assert_eq!(
            set(&["CHAIN (2)", "TRIPLE (2)", "COWBOY (1)"]),
            ["CHAIN  x2", "TRIPLE  x2", "COWBOY  x1"]
        );
        // One that does not fit is a mistake, and stays.
        let counted = ["Chain (4)", "Triple (2)", "Basic (2)"];
        assert_eq!(set(&counted), counted);
    }
}
