//! Movements in a column beside the names of their steps, at the right or at the left of them, are set so that nobody takes
//! them for another step.

use super::glossary;
use super::line::{Line, Piece};
use super::notation::read_movements;
use super::phrases::{count_range, times_word};
use super::vocabulary::plain_words;
use super::words::{foot, number};

/// Fewest lines that make a column.
const FEWEST_LINES: usize = 2;
/// Blanks between two columns.
const GAP: &str = "   ";

/// `2 Triples, L & R     DS DS DS RS`, `1 Stomp     STO`: movements in a column beside a name whose feet stand before them, or
/// whose step is one movement, are put in brackets, so that nobody takes them for another step.
pub(super) fn movements_at_the_right(line: &mut Line<'_>) {
    let text = line.text.trim_end();
    let Some(gap) =
        text.get(line.indent()..).and_then(|t| t.find(GAP)).map(|at| line.indent() + at)
    else {
        return;
    };
    let from = text.len() - text[gap..].trim_start().len();
    let to = text[from..].find("  ").map_or(text.len(), |at| from + at);
    let (name, moves) = (&text[..gap], &text[from..to]);
    let capitals = !moves.contains(|c: char| c.is_lowercase() || matches!(c, '(' | ')'));
    let one = moves.split_whitespace().count() == 1 && moves.len() > 1;
    let feet = name.rsplit([' ', ',']).next().is_some_and(|w| foot(w).is_some());
    let spelled = capitals && read_movements(moves).is_some() && foot(moves).is_none();
    if spelled && (one || feet) && is_a_step(name) {
        line.enclose((from, to), "(", ")");
    }
}

/// Sets `DS DS DS RS    Triple, turn 1/2 R    4` as `Triple (DS DS DS RS), turn 1/2 R (4)` where several lines are typed so.
pub(super) fn movements_at_the_left(lines: &mut [Line<'_>]) {
    let columns = |text: &str| {
        let start = text.len() - text.trim_start().len();
        let gap = start + text[start..].find(GAP)?;
        let name = text.len() - text[gap..].trim_start().len();
        // `4`, in a column of its own, or `(4)`
        let (end, counts) = match text[name..].find(GAP).map(|at| name + at) {
            Some(end) => {
                (end, (text.len() - text[end..].trim_start().len(), text.trim_end().len()))
            }
            None => {
                let inner = text.trim_end().strip_suffix(')')?;
                let open = inner.rfind('(').filter(|open| *open > name)?;
                (text[..open].trim_end().len(), (open + 1, inner.len()))
            }
        };
        let first = text[name..end].split([',', '(']).next()?;
        // `2 Triples forward`: the name goes as far as it is one.
        let ends = first.match_indices(' ').map(|(at, _)| at).chain([first.trim_end().len()]);
        let first = ends.map(|at| &first[..at]).rfind(|name| is_a_step(name));
        let named = first.is_some();
        let first = first.unwrap_or("");
        let codes = &text[start..gap];
        let code = codes.len() > 1 && codes.chars().all(|c| c.is_ascii_uppercase());
        let spelled = read_movements(codes).is_some_and(|(moves, _)| moves.len() > 1 || code);
        (spelled && number(text.get(counts.0..counts.1)?).is_some() && named).then_some((
            (start, gap),
            (name, name + first.trim_end().len(), end),
            counts,
        ))
    };
    let found: Vec<_> =
        lines.iter().enumerate().filter_map(|(i, l)| Some((i, columns(&l.text)?))).collect();
    if found.len() < FEWEST_LINES {
        return;
    }
    for (i, (moves, (name, name_end, end), counts)) in found {
        lines[i].set(&[
            Piece::Kept(name, name_end),
            Piece::Put(" (", moves.0),
            Piece::Kept(moves.0, moves.1),
            Piece::Put(")", moves.1),
            Piece::Kept(name_end, end),
            Piece::Put(" (", counts.0),
            Piece::Kept(counts.0, counts.1),
            Piece::Put(")", counts.1),
        ]);
    }
}

/// Whether words are a step's name, how often, and feet, and nothing else.
fn is_a_step(text: &str) -> bool {
    let figure = |w: &str| {
        number(w).is_some() || times_word(w).is_some() || count_range(w).is_some() || w == "&"
    };
    let of_name = |w: &&str| foot(w).is_none() && !figure(w);
    let name: Vec<&str> = plain_words(text).into_iter().filter(of_name).collect();
    glossary::length_of(&name.join(" ")).is_some()
}
