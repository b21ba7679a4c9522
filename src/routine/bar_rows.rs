//! Movements, feet and timing written in bars, `| DS DS DS RS | DS BR DS RS |`: the bars fall away, and the counts go on
//! from bar to bar.

use super::line::{Line, Piece};
use super::notation::{read_feet, read_movements};
use super::tables::Cell;
use super::timing_lines::read_timing;

/// Sets a row whose every cell is movements, feet or timing as one line. False where it is any other row.
pub(super) fn set_bar_row(line: &mut Line<'_>, cells: &[Cell]) -> bool {
    let text = line.text.clone();
    let filled: Vec<Cell> = cells.iter().copied().filter(|c| c.0 < c.1).collect();
    if filled.len() < 2 {
        return false;
    }
    let all = |is: &dyn Fn(&str) -> bool| filled.iter().all(|&(from, to)| is(&text[from..to]));
    let moves = |cell: &str| read_movements(&without_rests(cell)).is_some();
    if all(&|cell| read_timing(cell).is_some()) {
        set_timing(line, &text, &filled);
    } else if all(&|cell| read_feet(cell).is_some()) || all(&moves) && is_notation(&text, &filled) {
        let mut pieces = Vec::new();
        for &(from, to) in &filled {
            put_moves(&mut pieces, &text, from, to);
            pieces.push(Piece::Put("  ", to));
        }
        line.set(&pieces);
    } else {
        return false;
    }
    true
}

/// Whether every cell has several movements: a lone word may be a step's name.
fn is_notation(text: &str, cells: &[Cell]) -> bool {
    cells.iter().all(|&(from, to)| text[from..to].split_whitespace().count() > 1)
}

fn is_rest(word: &str) -> bool {
    word.chars().all(|c| c == '-')
}

fn without_rests(cell: &str) -> String {
    cell.split_whitespace().filter(|w| !is_rest(w)).collect::<Vec<_>>().join(" ")
}

/// Movements of a cell; a drawn stroke among them is a count on which nobody moves.
fn put_moves<'p>(pieces: &mut Vec<Piece<'p>>, text: &str, from: usize, to: usize) {
    let mut at = from;
    for word in text[from..to].split_whitespace() {
        let start = at + text[at..to].find(word).unwrap_or(0);
        if is_rest(word) {
            pieces.extend([Piece::Kept(at, start), Piece::Put(", pause 1,", start)]);
            at = start + word.len();
        }
    }
    pieces.push(Piece::Kept(at, to));
}

/// Timing of one bar after another, each counted from 1, counted on through the row. What stands in brackets is silent.
fn set_timing(line: &mut Line<'_>, text: &str, cells: &[Cell]) {
    let mut before = 0;
    let mut out = String::new();
    for &(from, to) in cells {
        let mut last = 0;
        for word in text[from..to].split_whitespace() {
            let silent = word.starts_with('(');
            for c in word.chars().filter(|c| !matches!(c, '(' | ')')) {
                match c.to_digit(10) {
                    Some(n) => {
                        last = n;
                        if !silent {
                            out.push_str(&(before + n).to_string());
                        }
                    }
                    None if !silent => out.push(c),
                    None => {}
                }
            }
            out.push(' ');
        }
        before += last;
    }
    // Places in one go: the whole row is told where its timing is wrong.
    if before < 10 {
        let from = cells.first().map_or(0, |c| c.0);
        line.set(&[Piece::Put(out.trim_end(), from)]);
    }
}

#[cfg(test)]
mod tests {
    use super::super::line::lines_of;
    use super::super::tables::cells;
    use super::*;

    #[test]
    fn bars_of_notation_are_one_line() {
        let table = [
            ("| DS DS RS | DS RS -- |", "DS DS RS DS RS , pause 1,"),
            ("| &1 &2 &3 | &1 &2 (3) |", "&1 &2 &3 &4 &5"),
            ("| L R LR | R LR |", "L R LR R LR"),
            ("| Triple | Stomp |", "| Triple | Stomp |"),
        ];
        for (typed, wanted) in table {
            let mut lines = lines_of(&[typed]);
            let cells = cells(&lines[0].text, '|');
            set_bar_row(&mut lines[0], &cells);
            let set = lines[0].text.split_whitespace().collect::<Vec<_>>().join(" ");
            assert_eq!(set, wanted);
        }
    }
}
