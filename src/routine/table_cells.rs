//! What a row of a table says in its cells of counts: ranges, counts of each, a wait.

use super::heading::part_word;
use super::line::Piece;
use super::model::PartKind;
use super::phrases::count_range;
use super::tables::{Cell, Column};
use super::vocabulary::content;
use super::words::{key, number};

/// `Intro | - | 16 | stand still`: a row of counts in which nothing is danced, before the first part.
pub(super) fn waiting_row(
    text: &str,
    cells: &[Cell],
    columns: &[Column],
) -> Option<Vec<Piece<'static>>> {
    let &(from, to) = cells.first()?;
    let intro = part_word(&text[from..to]).is_some_and(|(_, kind)| kind == PartKind::Intro);
    let (a, b) = *cells.iter().zip(columns).find(|(_, c)| **c == Column::Counts)?.0;
    number(&text[a..b]).filter(|_| intro)?;
    let others = cells[1..].iter().filter(|c| **c != (a, b)).map(|&(a, b)| &text[a..b]);
    let still =
        others.clone().all(|cell| content(&cell.to_lowercase().replace("hold", "")).steps == 0);
    let said = others
        .flat_map(str::split_whitespace)
        .any(|w| matches!(key(w).as_str(), "wait" | "hold" | "stand" | "still" | "rest"));
    (still && said).then(|| {
        vec![
            Piece::Kept(from, to),
            Piece::Put(": wait ", a),
            Piece::Kept(a, b),
            Piece::Put(" counts", b),
        ]
    })
}

/// `9-16` in a column of counts: from one to another, and how many these are.
pub(super) fn ranges_as_counts(
    text: &str,
    cells: &[Cell],
    columns: &[Column],
) -> Vec<(Cell, String)> {
    let counts = cells.iter().zip(columns).filter(|(_, c)| **c == Column::Counts);
    counts
        .filter_map(|(&(from, to), _)| Some(((from, to), count_range(&text[from..to])?)))
        .map(|(cell, counts)| (cell, format!(" ({counts})")))
        .collect()
}

/// Counts of a row whose table says only how long the step is once and how often it is danced, and where they stand.
pub(super) fn counts_by_each(
    text: &str,
    cells: &[Cell],
    columns: &[Column],
) -> Option<(String, usize)> {
    let of = |wanted: Column| {
        let cell = cells.iter().zip(columns).find(|(_, c)| **c == wanted)?.0;
        Some((number(&text[cell.0..cell.1])?, cell.0))
    };
    let (each, at) = of(Column::Each).filter(|_| !columns.contains(&Column::Counts))?;
    let times = of(Column::Times).map_or(1, |(times, _)| times);
    Some((format!(" ({})", each.saturating_mul(times)), at))
}
