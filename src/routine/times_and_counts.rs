//! Lines that say how often behind a step's name and its counts elsewhere, `8  Triple 2`, `Triple (2)   8`: where the
//! counts of several lines come out so, all lines of this shape are read so.

use super::glossary;
use super::line::{Line, Piece};
use super::vocabulary::content;
use super::words::in_figures;

/// Fewest lines of which the counts come out.
const FEWEST_LINES: usize = 2;

/// A line of such a shape.
struct Shaped {
    line: usize,
    /// Where numbers of times stand: from the sign in front of the number to the byte behind it, and the number.
    times: Vec<(usize, usize, u32)>,
    /// Where counts in front stand.
    in_front: Option<(usize, usize)>,
    counts: u32,
    /// What the steps come to, where all are known.
    steps: Option<u32>,
}

/// Sets both shapes as `1-8  Triple x2` and `Triple x2   8`.
pub(super) fn set_times_and_counts(lines: &mut [Line<'_>]) {
    for shape in [counts_in_front, counts_behind] {
        let found: Vec<Shaped> =
            lines.iter().enumerate().filter_map(|(i, line)| shape(i, &line.text)).collect();
        let fit = found.iter().filter(|s| s.steps == Some(s.counts)).count();
        let differ = found.iter().filter(|s| s.steps.is_some_and(|n| n != s.counts)).count();
        if fit >= FEWEST_LINES && fit > 2 * differ {
            found.iter().for_each(|shaped| set_line(&mut lines[shaped.line], shaped));
        }
    }
}

fn set_line(line: &mut Line<'_>, shaped: &Shaped) {
    let often: Vec<String> = shaped.times.iter().map(|(.., n)| format!(" x{n}")).collect();
    let mut pieces = Vec::new();
    let mut kept = 0;
    if let Some((from, to)) = shaped.in_front {
        pieces.extend([Piece::Put("1-", from), Piece::Kept(from, to)]);
        kept = to;
    }
    for ((from, to, _), often) in shaped.times.iter().zip(&often) {
        pieces.extend([Piece::Kept(kept, *from), Piece::Put(often, *from)]);
        kept = *to;
    }
    pieces.push(Piece::Kept(kept, line.text.len()));
    line.set(&pieces);
}

/// A number of one or two figures.
fn plain_number(word: &str) -> Option<u32> {
    in_figures(word).filter(|_| word.len() <= 2)
}

/// The counts of a step so often, by its name.
fn counts_of(name: &str, times: u32) -> Option<u32> {
    glossary::length_of(name.trim()).filter(|n| *n > 0).map(|n| n * times)
}

/// Whether words may be a step's name.
fn is_name(words: &str) -> bool {
    let plain = |c: char| c.is_alphabetic() || matches!(c, ' ' | '-' | '\'');
    words.contains(char::is_alphabetic) && words.chars().all(plain)
}

/// `8  Stomp 4, Clap 4`, `8  Push-off 2, turning`.
fn counts_in_front(line: usize, text: &str) -> Option<Shaped> {
    let from = text.len() - text.trim_start().len();
    let to = from + text[from..].find(' ')?;
    let counts = plain_number(&text[from..to])?;
    let (mut times, mut steps) = (Vec::new(), Some(0));
    let mut at = to;
    for clause in text[to..].split(',') {
        let end = at + clause.trim_end().len();
        let number_at = text[..end].rfind(' ').filter(|space| *space >= at);
        let often = number_at.and_then(|space| plain_number(&text[space + 1..end]));
        match (number_at, often) {
            (Some(space), Some(n)) if is_name(&text[at..space]) => {
                steps = steps.zip(counts_of(&text[at..space], n)).map(|(a, b)| a + b);
                times.push((space, end, n));
            }
            // What stands behind the steps says how they are danced.
            _ if !times.is_empty() && content(clause).steps == 0 => {}
            _ => return None,
        }
        at += clause.len() + 1;
    }
    Some(Shaped { line, times, in_front: Some((from, to)), counts, steps })
}

/// `Triple (2)      8`.
fn counts_behind(line: usize, text: &str) -> Option<Shaped> {
    let (open, close) = (text.find('(')?, text.find(')')?);
    let times = plain_number(text.get(open + 1..close)?.trim())?;
    let name = text[..open].trim_end();
    let behind = &text[close + 1..];
    let counts = plain_number(behind.trim()).filter(|_| behind.starts_with(' '))?;
    let steps = counts_of(name, times);
    is_name(name).then(|| Shaped {
        line,
        times: vec![(name.len(), close + 1, times)],
        in_front: None,
        counts,
        steps,
    })
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_times_and_counts, texts)
    }

    #[test]
    fn numbers_behind_names_are_times_where_counts_stand_in_front() {
        let sheet =
            ["8   Stomp 4, Clap 4", "8   Triple 2, turning", "12  Pond Hop 2", "8 2 Triple"];
        let wanted =
            ["1-8 Stomp x4, Clap x4", "1-8 Triple x2, turning", "1-12 Pond Hop x2", "8 2 Triple"];
        assert_eq!(set(&sheet), wanted);
    }

    #[test]
    fn numbers_in_brackets_are_times_where_counts_stand_behind() {
        let sheet = ["Triple (2) 8", "Basic (4) 8", "Chain (2) 12"];
        let wanted = ["Triple x2 8", "Basic x4 8"];
        // One that differs beside two is too many.
        assert_eq!(set(&sheet), sheet);
        let more = [&sheet[..], &["Cowboy (1) 8", "Joey (2) 8", "Outhouse (2) 8"]].concat();
        assert_eq!(set(&more)[..2], wanted);
        // Counts of one time, and those of all.
        let each = ["Triple (4) 8", "Basic (2) 8"];
        assert_eq!(set(&each), each);
    }
}
