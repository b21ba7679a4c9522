//! Leaders of dots, and sums written out.

use super::field::is_field_name;
use super::line::{Line, Piece};
use super::phrases::times_word;
use super::titles::is_known_part;
use super::vocabulary::content;
use super::words::{is_counts_word, key, number};

/// Whether dots lead from steps to their counts in a sheet, `2 TR ... 8`, and from no part to its.
pub(super) fn lead_from_steps(lines: &[Line<'_>]) -> bool {
    const FEWEST: usize = 2;
    let dotted: Vec<&str> = lines.iter().filter_map(|line| led_to_counts(&line.text)).collect();
    let steps = dotted.iter().filter(|before| is_counted_step(before)).count();
    steps >= FEWEST && 2 * steps >= dotted.len() && !dotted.iter().any(|b| is_known_part(b))
}

/// What stands in front of dots and counts, where nothing else is on the line.
fn led_to_counts(text: &str) -> Option<&str> {
    let text = text.trim();
    let from = text.find("...").or_else(|| text.find('\u{2026}'))?;
    let behind = text[from..].trim_start_matches(['.', '\u{2026}', ' ']);
    let before = text[..from].trim();
    (says_counts(behind) && !before.is_empty()).then_some(before)
}

/// `8` or `8 cts`, and nothing else.
fn says_counts(text: &str) -> bool {
    let (digits, unit) = text.split_once(' ').unwrap_or((text, "counts"));
    !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit()) && is_counts_word(unit)
}

fn is_counted_step(text: &str) -> bool {
    let first = text.split_whitespace().next().unwrap_or_default();
    number(first).is_some() || content(text).steps > 0
}

/// `TRIPLE LEFT ........ 4` as `TRIPLE LEFT (4)`, `VERSE ... CHORUS` as `VERSE , CHORUS`; where dots lead `from_steps`, what
/// stands in front of them is one, `SAM ... 8` as `1 SAM (8)`.
pub(super) fn leaders(line: &mut Line<'_>, from_steps: bool) {
    const FEWEST_DOTS: usize = 3;
    let mut pieces: Vec<Piece<'_>> = Vec::new();
    let text = line.text.clone();
    let end = text.trim_end().len();
    let (mut at, mut kept) = (0, 0);
    if from_steps && led_to_counts(&text).is_some_and(|before| !is_counted_step(before)) {
        kept = line.indent();
        pieces.extend([Piece::Kept(0, kept), Piece::Put("1 ", kept)]);
    }
    while at < end {
        let run = run_of_dots(&text[at..end]);
        if run.1 < FEWEST_DOTS {
            at += text[at..].chars().next().map_or(1, char::len_utf8);
            continue;
        }
        let (from, to) = (at, at + run.0);
        at = to;
        let before = text[..from].trim();
        let behind = text[to..end].trim();
        pieces.push(Piece::Kept(kept, from));
        kept = to;
        if before.is_empty() || behind.is_empty() {
            continue;
        }
        // `8 .... 2 Triples`
        if kept == to && number(before).is_some() && pieces.len() == 1 && !says_counts(behind) {
            pieces = vec![
                Piece::Put("1-", from),
                Piece::Kept(from - before.len(), from),
                Piece::Put(" ", from),
            ];
            continue;
        }
        // `(1) Basic ....... 2   L foot`
        if let Some(note) = behind.find("  ").filter(|note| says_counts(&behind[..*note])) {
            let start = end - behind.len();
            let rest = end - behind[note..].trim_start().len();
            pieces.extend([Piece::Put(" (", start), Piece::Kept(start, start + note)]);
            pieces.push(Piece::Put(if behind.ends_with(')') { ") " } else { "), " }, rest));
            kept = rest;
            break;
        }
        if says_counts(behind) {
            let start = end - behind.len();
            pieces.extend([Piece::Put(" (", start), Piece::Kept(start, end), Piece::Put(")", end)]);
            kept = end;
            break;
        }
        let often = times_word(behind).is_some();
        let sign = if is_field_name(&key(before)) { ": " } else { " , " };
        pieces.push(Piece::Put(if often { " " } else { sign }, from));
    }
    if kept > 0 {
        pieces.push(Piece::Kept(kept, end));
        line.set(&pieces);
    }
}

/// Bytes and dots of a run of dots, `....`, `. . . .`, `\u{2026}`, from the start of a text.
fn run_of_dots(text: &str) -> (usize, usize) {
    let (mut bytes, mut dots) = (0, 0);
    for (at, c) in text.char_indices() {
        match c {
            '.' => dots += 1,
            '\u{2026}' => dots += 3,
            ' ' if dots > 0 && text[at + 1..].starts_with('.') => continue,
            _ => break,
        }
        bytes = at + c.len_utf8();
    }
    (bytes, dots)
}

/// `2 x 4 = 8  triple` as `triple x2 (8)`, `CH = 2 x 16 = 32` as `CH: (32)`.
pub(super) fn sums(line: &mut Line<'_>) {
    let text = line.text.clone();
    let end = text.trim_end().len();
    let from = line.indent();
    let Some(sign) = text[from..].rfind('=').map(|at| from + at) else { return };
    let behind = text[sign + 1..end].trim_start();
    let digits = behind.bytes().take_while(u8::is_ascii_digit).count();
    if digits == 0 {
        return;
    }
    let total = (end - behind.len(), end - behind.len() + digits);
    let before = text[from..sign].trim_end();
    let rest = behind[digits..].trim_start();
    if let Some((times, _)) = product(before) {
        let times = format!(" x{times} (");
        let name = end - rest.len();
        if content(rest).steps + content(rest).other > 0 {
            // What is said behind a comma goes behind the numbers.
            let cut = rest.find([',', '(']).map_or(end, |at| name + at);
            line.set(&[
                Piece::Kept(name, cut),
                Piece::Put(&times, from),
                Piece::Kept(total.0, total.1),
                Piece::Put(") ", total.1),
                Piece::Kept(cut, end),
            ]);
        }
        return;
    }
    // `Chain, Chain = 8   (L, R)`
    if rest.starts_with('(') && !before.contains('=') && content(before).is_steps() {
        line.set(&[
            Piece::Kept(0, from + before.len()),
            Piece::Put(" (", total.0),
            Piece::Kept(total.0, total.1),
            Piece::Put(") ", total.1),
            Piece::Kept(end - rest.len(), end),
        ]);
        return;
    }
    let (name, factors) = match before.split_once('=') {
        Some((name, factors)) => (name.trim_end(), product(factors.trim())),
        None => (before, None),
    };
    let one_sum = !before.contains('=') || factors.is_some();
    let named = (1..=3).contains(&name.split_whitespace().count())
        && name.chars().all(|c| c.is_alphanumeric() || c == ' ')
        && (content(name).steps == 0 || is_known_part(name));
    if rest.is_empty() && one_sum && named {
        line.set(&[
            Piece::Kept(from, from + name.len()),
            Piece::Put(": (", sign),
            Piece::Kept(total.0, total.1),
            Piece::Put(")", total.1),
        ]);
    }
}

/// `2 x 8`: both factors.
fn product(text: &str) -> Option<(u32, u32)> {
    let (a, b) = text.split_once(['x', 'X', '*'])?;
    Some((number(a.trim())?, number(b.trim())?))
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    #[test]
    fn counts_in_front_of_leaders_are_a_range() {
        assert_eq!(
            set_by(
                |lines| lines.iter_mut().for_each(|l| leaders(l, false)),
                &["8....2 Otters, up"]
            ),
            ["1-8 2 Otters, up"]
        );
    }

    #[test]
    fn dots_lead_to_how_often() {
        let set = |lines: &mut [Line<'_>]| lines.iter_mut().for_each(|l| leaders(l, false));
        let sheet = ["Joey ... twice", "Wren Hop ..... once", "VERSE ... HOOK", "Joey .... 8"];
        let wanted = ["Joey twice", "Wren Hop once", "VERSE , HOOK", "Joey (8)"];
        assert_eq!(set_by(set, &sheet), wanted);
    }
}
