//! Titles of sections, with a range of counts in front: `[9-16] Rocks and turns` over `9-10 …`.

use super::line::{Line, Piece};
use super::line_marks::{counts_with_unit, marks};
use super::own_steps::calls_itself_a_line_dance;
use super::vocabulary::content;
use super::words::number;

/// Sets those without brackets as notes, and says which lines are such titles.
pub(super) fn set_section_titles(lines: &mut [Line<'_>]) -> Vec<bool> {
    let titles = section_titles(lines);
    let line_dance = titles.contains(&true) && calls_itself_a_line_dance(lines);
    for (line, _) in lines.iter_mut().zip(&titles).filter(|(_, is_title)| **is_title) {
        set_section_title(line, line_dance);
    }
    titles
}

/// A range of counts in front of a text, with brackets or without: its first and last count, and where words follow.
fn range_in_front(text: &str) -> Option<(u32, u32, usize)> {
    let open = text.len() - text.trim_start_matches([' ', '[', '(']).len();
    let number_at = |from: usize| {
        let digits = text[from..].bytes().take_while(u8::is_ascii_digit).count();
        Some((number(&text[from..from + digits])?, from + digits))
    };
    let (first, to) = number_at(open)?;
    let rest = text[to..].trim_start().strip_prefix('-')?.trim_start();
    let (last, to) = number_at(text.len() - rest.len())?;
    let words = text.len() - text[to..].trim_start_matches([' ', ']', ')', ':', '-', '.']).len();
    (last > first).then_some((first, last, words))
}

/// Counts in front of a line: those of a range or of figures, or with their unit, `4 cts: 2 struts`; their first, and how
/// many.
fn counts_of_line(line: &Line<'_>) -> Option<(Option<u32>, u32)> {
    let by_unit = counts_with_unit(&line.text).map(|(counts, _)| (None, counts));
    by_unit.or_else(|| marks(&line.text, line.indent()).map(|m| (Some(m.first), m.counts)))
}

/// Which lines are titles: one after another, each counting on from the one before.
fn section_titles(lines: &[Line<'_>]) -> Vec<bool> {
    let ranges: Vec<Option<(u32, u32)>> = lines
        .iter()
        .map(|l| {
            let (first, last, _) = range_in_front(&l.text)?;
            range_in_front(l.typed).map(|_| (first, last))
        })
        .collect();
    let mut before = None;
    let title = |(i, range): (usize, &Option<(u32, u32)>)| {
        let Some((first, last)) = *range else { return false };
        // Behind one title the next counts on, whatever is wrong beneath it.
        let goes_on = before.is_some_and(|end| first == end + 1);
        let is_title = is_section_title(lines, i, (first, last), goes_on);
        before = if is_title { Some(last) } else { before };
        is_title
    };
    ranges.iter().enumerate().map(title).collect()
}

/// Whether nothing is danced on a line with a range of counts, since the line below begins with the same count, or each
/// eight anew, and has fewer.
fn is_section_title(
    lines: &[Line<'_>],
    at: usize,
    (first, last): (u32, u32),
    goes_on: bool,
) -> bool {
    let all = last - first + 1;
    let below = |l: &&Line<'_>| !l.text.trim().is_empty();
    let mut below = lines[at + 1..].iter().filter(below).map(counts_of_line);
    let Some(Some((begins, counts))) = below.next() else { return false };
    let on = begins.is_none_or(|n| n == first || n == 1);
    if goes_on {
        return on && (counts < all || begins.is_none());
    }
    if lines[at].text.trim_start().starts_with(['[', '(']) {
        return on && begins.is_some() && counts < all;
    }
    // Without brackets it is one where the lines below make up its counts.
    let mut sum = counts;
    let mut number = 1;
    while sum < all
        && let Some(Some((_, more))) = below.next()
    {
        sum += more;
        number += 1;
    }
    on && sum == all && (number > 1 || begins.is_none())
}

/// `9-16: HEELS AND TOES` over its lines as `# [9-16] HEELS AND TOES`, in line dances, or where its own words
/// name no step.
fn set_section_title(line: &mut Line<'_>, line_dance: bool) {
    let Some((first, last, words)) = range_in_front(&line.text) else { return };
    let (text, (from, end)) = (line.text.clone(), line.whole());
    let bracketed = text[from..].starts_with(['[', '(']);
    if !bracketed && (line_dance || content(&text[words..]).steps == 0) {
        let range = format!("# [{first}-{last}] ");
        line.set(&[Piece::Put(&range, from), Piece::Kept(words, end)]);
    }
}
