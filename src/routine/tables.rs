//! Tables: rows between bars, and rows whose cells are parted by commas or tabs. A row is set as the line that a
//! teacher would type, `Triple | 2 | 8` as `Triple x2 (8)`.

use super::bar_rows::set_bar_row;
use super::heading::part_word;
use super::line::{Line, Piece};
use super::notation::read_movements;
use super::table_cells::{counts_by_each, ranges_as_counts, waiting_row};
use super::vocabulary::content;
use super::words::{foot, is_counts_word, key, runs};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    Part,
    Step,
    Times,
    Counts,
    /// Counts of the step danced once.
    Each,
    Turn,
    Other,
}

/// A cell: its first byte and the byte after its last, without blanks around.
pub(super) type Cell = (usize, usize);

/// Sets the rows of tables as plain lines.
pub(super) fn set_tables(lines: &mut [Line<'_>]) {
    let mut columns: Vec<Column> = Vec::new();
    let mut part = String::new();
    for line in lines.iter_mut() {
        if let Some(cells) = bar_cells(&line.text) {
            if set_bar_row(line, &cells) {
                continue;
            }
            let of_parts = columns.contains(&Column::Part) && cells.len() == columns.len();
            if of_parts && columns_named(&line.text, &cells).is_none() {
                let new = new_part(line, &cells, &columns, &mut part);
                set_separated(line, &cells, &columns, new);
                continue;
            }
            if let Some(named) = columns_named(&line.text, &cells) {
                columns = named;
                // Where a column says how often, the rows are set by their columns alone.
                if columns.contains(&Column::Times) {
                    line.set_as_note();
                }
                continue;
            }
            set_row(line, &cells, &columns);
        }
    }
    for sign in [',', ';', '\t', '|'] {
        separated(lines, sign);
    }
    spaced(lines);
}

/// Rows set in columns with blanks, under a head that names a column of parts:
///
/// ```text
/// PART  STEPS            CTS
/// A     2 triples         8
///       4 basics          8
/// ```
fn spaced(lines: &mut [Line<'_>]) {
    let head = lines.iter().enumerate().find_map(|(n, line)| {
        let cells = gap_cells(&line.text);
        let columns = columns_named(&line.text, &cells).filter(|_| cells.len() > 2)?;
        columns.contains(&Column::Part).then_some((n, cells, columns))
    });
    let Some((head, starts, columns)) = head else { return };
    let mut part = String::new();
    for line in lines.iter_mut().skip(head + 1) {
        let found = gap_cells(&line.text);
        let mut cells: Vec<Cell> = vec![(0, 0); columns.len()];
        for &(from, to) in &found {
            let column = starts.iter().rposition(|(start, _)| *start <= from + 1).unwrap_or(0);
            cells[column] = if cells[column].1 == 0 { (from, to) } else { (cells[column].0, to) };
        }
        let filled = |wanted: Column| {
            cells
                .iter()
                .zip(&columns)
                .find(|(c, kind)| **kind == wanted && c.1 > 0)
                .map(|(c, _)| *c)
        };
        if found.is_empty() {
            continue;
        }
        if filled(Column::Step).is_none() || filled(Column::Counts).is_none() {
            return;
        }
        let cell = filled(Column::Part);
        let name = cell.map(|(from, to)| line.text[from..to].to_string()).unwrap_or_default();
        let new = !name.is_empty() && name != part;
        if new {
            part = name;
        }
        set_separated(line, &cells, &columns, cell.filter(|_| new));
    }
}

/// What stands between two blanks and more.
fn gap_cells(text: &str) -> Vec<Cell> {
    let mut out: Vec<Cell> = Vec::new();
    for (from, to) in runs(text, |c| c != ' ') {
        match out.last_mut().filter(|last| from - last.1 < 2) {
            Some(last) => last.1 = to,
            None => out.push((from, to)),
        }
    }
    out
}

/// Cells of a row between bars; of one without words or numbers, or of a drawn line, none.
fn bar_cells(text: &str) -> Option<Vec<Cell>> {
    let row = text.trim();
    if row.len() < 3 || !row.starts_with('|') || !row.ends_with('|') {
        return None;
    }
    let said = row.chars().any(char::is_alphanumeric);
    said.then(|| {
        let all = cells(text, '|');
        // Before the first bar and behind the last there is nothing.
        all[1..all.len() - 1].to_vec()
    })
}

/// What stands between signs, without blanks around.
pub(super) fn cells(text: &str, sign: char) -> Vec<Cell> {
    let mut out = Vec::new();
    let mut at = 0;
    for piece in text.split(sign) {
        let indent = piece.len() - piece.trim_start().len();
        out.push((at + indent, at + indent.max(piece.trim_end().len())));
        at += piece.len() + sign.len_utf8();
    }
    out
}

/// What columns hold by their names; `None` where some cell is no column's name.
fn columns_named(text: &str, cells: &[Cell]) -> Option<Vec<Column>> {
    let column = |&(from, to): &Cell| {
        let name = key(&text[from..to]);
        Some(match name.trim_end_matches('s') {
            "part" | "section" => Column::Part,
            "step" | "cue" | "name" | "movement" | "figure" | "move" | "what" | "what you do"
            | "what we do" | "what to do" => Column::Step,
            "time" | "no" | "number" | "qty" | "how many" | "repeat" | "rep" | "x" | "#" | "n" => {
                Column::Times
            }
            "each" | "beats each" | "counts each" | "cts each" | "beats per" => Column::Each,
            "turn" | "rotation" => Column::Turn,
            "" | "facing" | "wall" | "how" | "foot" | "feet" | "note" | "lead" | "direction"
            | "call" | "description" | "footwork" | "timing" | "definition" | "breakdown"
            | "way" | "remark" | "comment" => Column::Other,
            name if is_counts_word(name) || matches!(name, "length" | "total") => Column::Counts,
            _ => return None,
        })
    };
    // One column may be called anything.
    let known = cells.iter().filter(|cell| column(cell).is_some()).count();
    let spelled_out = |&(from, to): &Cell| {
        let name = key(&text[from..to]);
        name.contains(' ') && (name.contains("definition") || name.contains("breakdown"))
    };
    if known + 1 < cells.len() || cells.iter().any(spelled_out) {
        return None;
    }
    let mut named: Vec<Column> = cells.iter().map(|c| column(c).unwrap_or(Column::Other)).collect();
    // Beside the steps a cue says how they go.
    let steps = named.iter().filter(|c| **c == Column::Step).count();
    for (column, &(from, to)) in named.iter_mut().zip(cells).filter(|_| steps > 1) {
        if matches!(key(&text[from..to]).as_str(), "cue" | "cues" | "movement" | "movements") {
            *column = Column::Other;
        }
    }
    let said = named.iter().filter(|c| **c != Column::Other).count();
    (said >= 2 && named.contains(&Column::Step)).then_some(named)
}

/// Rows under a head whose cells, parted by a sign, are names of columns.
fn separated(lines: &mut [Line<'_>], sign: char) {
    let typed_cells = |line: &Line<'_>| match sign {
        '\t' => tab_cells(line),
        _ => cells(&line.text, sign),
    };
    let head = lines.iter().position(|line| {
        let cells = typed_cells(line);
        let set_already = sign == '|' && line.text.trim_start().starts_with(['|', '#']);
        cells.len() > 2 && !set_already && columns_named(&line.text, &cells).is_some()
    });
    let Some(head) = head else { return };
    let cells = typed_cells(&lines[head]);
    let Some(columns) = columns_named(&lines[head].text, &cells) else { return };
    let mut part = String::new();
    for (n, line) in lines.iter_mut().enumerate() {
        let cells = typed_cells(line);
        let filled = cells.iter().filter(|c| c.0 < c.1).count();
        if n == head || filled == 0 {
            continue;
        }
        if cells.len() < 2 {
            // A part's name on a line of its own above its rows.
            part = line.text.trim().to_string();
            continue;
        }
        let (a, mut b) = cells[0];
        b -= usize::from(line.text[a..b].ends_with(':'));
        if is_order_name(&line.text[a..b]) {
            let mut pieces = vec![Piece::Kept(a, b), Piece::Put(": ", b)];
            for &(from, to) in cells[1..].iter().filter(|c| c.0 < c.1) {
                pieces.extend([Piece::Kept(from, to), Piece::Put(", ", to)]);
            }
            line.set(&pieces);
            continue;
        }
        if filled == 2 && cells[0].0 < cells[0].1 && cells[1].0 < cells[1].1 && cells.len() > 2 {
            // `Artist, The Ladder Band, ,`
            let [(a, b), (c, d), ..] = cells[..] else { continue };
            let named = part_word(line.text[a..b].split(' ').next().unwrap_or("")).is_some();
            if n < head || !named {
                line.set(&[Piece::Kept(a, b), Piece::Put(": ", b), Piece::Kept(c, d)]);
                continue;
            }
        }
        if n < head || cells.len() < columns.len().min(3) {
            continue;
        }
        if let Some(pieces) = waiting_row(&line.text, &cells, &columns) {
            line.set(&pieces);
            continue;
        }
        let new = new_part(line, &cells, &columns, &mut part);
        set_separated(line, &cells, &columns, new);
    }
}

/// The cell of a part's name, where it is another than that of the rows before.
fn new_part(
    line: &Line<'_>,
    cells: &[Cell],
    columns: &[Column],
    part: &mut String,
) -> Option<Cell> {
    let at = columns.iter().position(|c| *c == Column::Part)?;
    let (from, to) = cells.get(at).copied().filter(|c| c.0 < c.1)?;
    let name = &line.text[from..to];
    if name == part {
        return None;
    }
    *part = name.to_string();
    Some((from, to))
}

/// Cells between tabs, which are blanks in the plain text; none where the line was set in another order.
fn tab_cells(line: &Line<'_>) -> Vec<Cell> {
    if line.text.chars().count() != line.typed.chars().count() {
        return Vec::new();
    }
    let tabs = line.typed.chars().zip(line.text.char_indices());
    let tabs = tabs.filter(|(c, _)| *c == '\t').map(|(_, (at, _))| at);
    let mut out = Vec::new();
    let mut from = 0;
    for to in tabs.chain([line.text.len()]) {
        let cell = line.text.get(from..to).unwrap_or("");
        let indent = cell.len() - cell.trim_start().len();
        out.push((from + indent, from + indent.max(cell.trim_end().len())));
        from = (to + 1).min(line.text.len());
    }
    out
}

/// `A,Triple,2,8` as `A: Triple x2 (8)`, in the part's other rows without its name.
fn set_separated(line: &mut Line<'_>, cells: &[Cell], columns: &[Column], part: Option<Cell>) {
    if let Some(pieces) = ending_row(&line.text, cells, columns) {
        line.set(&pieces);
        return;
    }
    let mut pieces = Vec::new();
    if let Some((from, to)) = part {
        pieces.extend([Piece::Kept(from, to), Piece::Put(": ", to)]);
    }
    let several = first_foot_of_several(&line.text, cells, columns);
    let ranges = ranges_as_counts(&line.text, cells, columns);
    let each = counts_by_each(&line.text, cells, columns);
    for wanted in [Column::Step, Column::Times, Column::Counts, Column::Turn, Column::Other] {
        for (&(from, to), _) in cells.iter().zip(columns).filter(|(_, c)| **c == wanted) {
            if let Some((comma, foot)) = several.filter(|_| from < to) {
                if wanted == Column::Step {
                    pieces.extend([Piece::Kept(from, comma), Piece::Put(" (", comma)]);
                    pieces.extend([Piece::Kept(foot.0, foot.1), Piece::Put(")", foot.1)]);
                    pieces.push(Piece::Kept(comma, to));
                    continue;
                }
                if wanted == Column::Other && feet_only(&line.text[from..to]) {
                    continue;
                }
            }
            if let Some((_, counts)) = ranges.iter().find(|(cell, _)| *cell == (from, to)) {
                pieces.push(Piece::Put(counts, from));
                continue;
            }
            let nothing = if wanted == Column::Turn { &["-", "0"][..] } else { &["-"] };
            if from < to && !nothing.contains(&&line.text[from..to]) {
                put_cell(&mut pieces, &line.text, (from, to), wanted);
            }
        }
        if let Some((counts, at)) = each.as_ref().filter(|_| wanted == Column::Counts) {
            pieces.push(Piece::Put(counts, *at));
        }
    }
    line.set(&pieces);
}

/// `3 Stomp, 1 Clap | 4 | L R L`: the feet are those of the line, so that the first is its first step's. Gives the comma
/// and that foot.
fn first_foot_of_several(text: &str, cells: &[Cell], columns: &[Column]) -> Option<(usize, Cell)> {
    let of = |wanted: Column| {
        let mut typed = cells.iter().zip(columns).filter(move |(_, c)| **c == wanted);
        move || typed.next().map(|(cell, _)| *cell)
    };
    let step = of(Column::Step)()?;
    let comma = step.0 + text[step.0..step.1].find(',')?;
    let mut others = of(Column::Other);
    let feet = std::iter::from_fn(&mut others).find(|&(a, b)| feet_only(&text[a..b]))?;
    let word = text[feet.0..feet.1].split(|c: char| !c.is_alphanumeric()).next()?;
    Some((comma, (feet.0, feet.0 + word.len())))
}

/// `End | L | 1 | Stomp, arms up` under columns of other things: a part's name, and its step in whatever cell.
fn ending_row(text: &str, cells: &[Cell], columns: &[Column]) -> Option<Vec<Piece<'static>>> {
    let first = cells.iter().position(|c| c.0 < c.1)?;
    let ((from, to), rest) = (cells[first], &cells[first + 1..]);
    let of = |c: &Column| matches!(c, Column::Times | Column::Step | Column::Counts);
    let named = columns.get(first).is_some_and(of) && part_word(&text[from..to]).is_some();
    let is_step = |text: &str| content(text).is_steps() && !feet_only(text);
    let step = rest.iter().position(|&(a, b)| is_step(&text[a..b]));
    let &(a, b) = rest.get(step.filter(|_| named)?)?;
    let mut pieces = vec![Piece::Kept(from, to), Piece::Put(": ", to), Piece::Kept(a, b)];
    for (n, &(a, b)) in rest.iter().enumerate() {
        if a < b && Some(n) != step && text[a..b].bytes().all(|c| c.is_ascii_digit()) {
            pieces.extend([Piece::Put(" (", a), Piece::Kept(a, b), Piece::Put(")", b)]);
        }
    }
    Some(pieces)
}

fn put_cell<'p>(pieces: &mut Vec<Piece<'p>>, text: &str, (from, to): Cell, column: Column) {
    let number = text[from..to].bytes().all(|b| b.is_ascii_digit());
    let kept = Piece::Kept(from, to);
    // What stands in brackets in the column of steps is danced as well.
    let inner = text[from..to].strip_prefix('(').and_then(|t| t.strip_suffix(')'));
    match column {
        Column::Step if inner.is_some_and(|t| !t.contains('(')) => {
            pieces.push(Piece::Kept(from + 1, to - 1));
        }
        Column::Part | Column::Step => pieces.push(kept),
        Column::Turn => pieces.extend([Piece::Put(" ", from), kept]),

        Column::Times if number => pieces.extend([Piece::Put(" x", from), kept]),
        Column::Counts if number => {
            pieces.extend([Piece::Put(" (", from), kept, Piece::Put(")", to)])
        }
        _ if feet_only(&text[from..to]) => {
            pieces.extend([Piece::Put(" (", from), kept, Piece::Put(")", to)])
        }
        _ if spelled_out(&text[from..to]) => {
            pieces.extend([Piece::Put(" [", from), kept, Piece::Put("]", to)])
        }
        _ => pieces.extend([Piece::Put(" - ", from), kept]),
    }
}

/// Movements of the step, not danced once more.
fn spelled_out(cell: &str) -> bool {
    cell.contains(' ') && !cell.contains(['(', '[']) && read_movements(cell).is_some()
}

fn feet_only(cell: &str) -> bool {
    let mut words = cell.split(|c: char| c.is_whitespace() || matches!(c, '&' | ','));
    let said = |w: &str| !w.is_empty() && w != "and" && w != "then";
    words.clone().any(said) && words.all(|w| foot(w).is_some() || !said(w))
}

/// `Sequence`, `Order of dance`.
fn is_order_name(cell: &str) -> bool {
    let name = key(cell);
    matches!(name.as_str(), "order" | "sequence" | "seq")
        || ["order of ", "sequence of "].iter().any(|start| name.starts_with(start))
}

/// A row between bars, by the names of its columns or by what its cells hold: a number alone behind the step is
/// counts, of two the first is how often.
fn set_row(line: &mut Line<'_>, cells: &[Cell], columns: &[Column]) {
    if columns.len() == cells.len() && !columns.contains(&Column::Part) {
        set_separated(line, cells, columns, None);
        return;
    }
    let text = &line.text;
    let filled: Vec<Cell> = cells.iter().copied().filter(|c| c.0 < c.1).collect();
    let Some((&(from, to), rest)) = filled.split_first() else { return };
    let number = |&(from, to): &Cell| text[from..to].bytes().all(|b| b.is_ascii_digit());
    let mut pieces = vec![Piece::Kept(from, to)];
    let name = key(&text[from..to]);
    if is_order_name(&name) {
        pieces.push(Piece::Put(":", to));
        for &(from, to) in rest {
            pieces.extend([Piece::Put(" ", from), Piece::Kept(from, to)]);
        }
        line.set(&pieces);
        return;
    }
    let numbers = rest.iter().filter(|c| number(c)).count();
    let mut numbers_seen = 0;
    // `| 8 | 2 Triple |`: counts in front stay in front.
    let mut behind_number = number(&(from, to));
    for &cell in rest {
        let is_number = number(&cell) && !behind_number;
        numbers_seen += usize::from(is_number);
        match (is_number, behind_number) {
            (true, _) if numbers > 1 && numbers_seen == 1 => {
                put_cell(&mut pieces, text, cell, Column::Times)
            }
            (true, _) => put_cell(&mut pieces, text, cell, Column::Counts),
            (false, true) => {
                pieces.extend([Piece::Put("   ", cell.0), Piece::Kept(cell.0, cell.1)])
            }
            (false, false) => put_cell(&mut pieces, text, cell, Column::Other),
        }
        behind_number = false;
    }
    line.set(&pieces);
}

#[cfg(test)]
mod tests {
    use super::super::line::lines_of;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        let mut lines = lines_of(texts);
        set_tables(&mut lines);
        lines.into_iter().map(|l| l.text.trim().to_string()).collect()
    }

    #[test]
    fn rows_between_bars_are_set_as_lines() {
        assert_eq!(set(&["| 8 | 2 Triple | low | |"]), ["8   2 Triple - low"]);
        assert_eq!(set(&["| Triple | 4 | L |"]), ["Triple (4) (L)"]);
        assert_eq!(set(&["| Triple | 2 | 8 |"]), ["Triple x2 (8)"]);
        assert_eq!(set(&["| PART A | 32 |   |"]), ["PART A (32)"]);
        assert_eq!(set(&["| ORDER | A, B, A |"]), ["ORDER: A, B, A"]);
        assert_eq!(set(&["|-----|---|"]), ["|-----|---|"]);
    }

    #[test]
    fn rows_of_cells_parted_by_commas_or_tabs_are_set_as_lines() {
        let sheet = [
            "Artist,The Ladder Band,,",
            "Part,Step,Times,Beats",
            "A,Triple,2,8",
            "A,Chain L,1,4",
            "B,Basic,4,8",
            "Order,A B A,,",
        ];
        let wanted = [
            "Artist: The Ladder Band",
            "Part,Step,Times,Beats",
            "A: Triple x2 (8)",
            "Chain L x1 (4)",
            "B: Basic x4 (8)",
            "Order: A B A,",
        ];
        assert_eq!(set(&sheet), wanted);
        let tabs: Vec<String> = sheet.iter().map(|l| l.replace(',', "\t")).collect();
        let tabs: Vec<&str> = tabs.iter().map(String::as_str).collect();
        assert_eq!(set(&tabs)[2..], wanted[2..]);
    }

    #[test]
    fn columns_say_how_long_a_step_is_and_how_it_turns() {
        let sheet = [
            "Section,Move,Reps,Counts each,Total,Turn",
            "A,Joey,2,4,8,1/4 L each",
            "A,Chain,2,4,8,",
        ];
        assert_eq!(set(&sheet)[1..], ["A: Joey x2 (8) 1/4 L each", "Chain x2 (8)"]);
        let sheet = ["| step | n | each | turn |", "| Joey | 2 | 4 | - |"];
        assert_eq!(set(&sheet)[1..], ["Joey x2 (8)"]);
        let sheet = [
            "| counts | step | n | rotation |",
            "| 1-8 | Joey | 2 | 90 left each |",
            "PART C",
            "| 9-12 | (Chain) | 1 | 0 |",
        ];
        assert_eq!(set(&sheet)[1..], ["Joey x2 (8) 90 left each", "PART C", "Chain x1 (4)"]);
        let sheet = ["Step\tTimes\tCounts\tNotes", "Intro\t-\t16\thold, hands on hips"];
        assert_eq!(set(&sheet)[1..], ["Intro: wait 16 counts"]);
    }

    #[test]
    fn places_stay_where_they_were_typed() {
        let mut lines = [Line::new(1, "Part,Step,Times,Beats"), Line::new(2, "A,Tripple,2,9")];
        set_tables(&mut lines);
        let line = &lines[1];
        let at = line.text.find("Tripple").unwrap();
        assert_eq!((line.column(at), line.typed_between(at, at + 7)), (3, "Tripple".to_string()));
        let nine = line.text.find('9').unwrap();
        assert_eq!(line.column(nine), 13);
    }
}
