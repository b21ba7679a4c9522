//! A text cut into lines, whatever their ends; what a printed sheet has worked out falls away.

use super::compositions::set_compositions;
use super::front::set_front;
use super::groups::set_groups;
use super::layout::set_layout;
use super::line::Line;
use super::markup::without_markup;
use super::signed_turns::set_signed_turns;
use super::tables::set_tables;
use super::tongues::set_in_english;

/// The lines of a text, each with its line end.
pub fn lines_with_ends(text: &str) -> Vec<(&str, &str)> {
    let mut out: Vec<(&str, &str)> = Vec::new();
    let mut rest = text;
    // Windows, Unix and old Macintosh ends, and the line and page breaks that word processors leave.
    while !rest.is_empty() {
        let end = rest.find(['\n', '\r', '\u{0B}', '\u{0C}', '\u{2028}', '\u{2029}', '\u{85}']);
        let (line, width) = match end.map(|at| rest.split_at(at)) {
            Some((line, after)) if after.starts_with("\r\n") => (line, 2),
            Some((line, after)) => (line, after.chars().next().map_or(1, char::len_utf8)),
            None => (rest, 0),
        };
        out.push((line, &rest[line.len()..line.len() + width]));
        rest = &rest[line.len() + width..];
    }
    out
}

/// Begins the foot of a printed sheet: what stands from here on was worked out and is not read again.
pub const WORKED_OUT: &str = ": Worked out from here on, and not read again";

/// Whether a line is one that a printed sheet puts below what it says of itself, for the reader's eyes.
fn is_gutter(line: &str) -> bool {
    line.trim_start().strip_prefix(':').is_some_and(|rest| rest.starts_with(' '))
}

/// Whether a text is a printed sheet. In any other a line that begins with a colon is the author's.
fn is_printed(text: &str) -> bool {
    text.lines().any(|line| line.trim_start().starts_with(WORKED_OUT))
}

/// The text without what a printed sheet has worked out: lines that begin with a colon, and its foot.
pub fn without_worked_out(text: &str) -> String {
    if !is_printed(text) {
        return text.to_string();
    }
    let lines = lines_with_ends(text).into_iter();
    lines
        .take_while(|(line, _)| !line.trim_start().starts_with(WORKED_OUT))
        .filter(|(line, _)| !is_gutter(line))
        .flat_map(|(line, end)| [line, end])
        .collect()
}

/// Lines whatever their ends; a byte order mark in front falls away. What was worked out is a drawn line.
pub(super) fn split_lines(text: &str) -> Vec<Line<'_>> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let mut over = false;
    let printed = is_printed(text);
    let lines = lines_with_ends(text).into_iter().enumerate();
    let mut lines: Vec<Line<'_>> = lines
        .map(|(n, (line, _))| {
            over = over || line.trim_start().starts_with(WORKED_OUT);
            Line::new(n + 1, if over || (printed && is_gutter(line)) { "-" } else { line })
        })
        .collect();
    without_markup(&mut lines);
    set_in_english(&mut lines);
    set_signed_turns(&mut lines);
    set_front(&mut lines);
    set_groups(&mut lines);
    set_tables(&mut lines);
    set_layout(&mut lines);
    set_compositions(&mut lines);
    lines
}
