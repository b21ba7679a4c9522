//! A [`Sheet`] as text: 80 columns of a fixed-width type, ready to print.

use crate::plain::{columns, wrapped_columns};

use super::{Flag, Movements, PartSheet, Row, RowKind, Sheet, StepRow};

/// Columns on a line.
pub(super) const WIDTH: usize = 80;
/// Width of the words before facts.
const FACT: usize = 9;
/// Where each cell of a line of steps begins, and how wide the typed steps may be.
const COUNTS_AT: usize = 9;
const STEPS_AT: usize = 13;
const STEPS_WIDTH: usize = 24;
const MOVEMENTS_AT: usize = STEPS_AT + STEPS_WIDTH + 2;
/// Between two steps' movements.
const BETWEEN_STEPS: usize = 2;

pub(super) fn write(sheet: &Sheet) -> String {
    let mut out = String::new();
    put_wrapped(&mut out, &sheet.title.to_uppercase(), 0, "");
    put(&mut out, &"=".repeat(columns(&sheet.title.to_uppercase()).min(WIDTH)));
    for (what, value) in &sheet.facts {
        put_wrapped(&mut out, value, FACT, &format!("{what}:"));
    }
    for note in &sheet.notes {
        put_wrapped(&mut out, note, FACT, "Note:");
    }
    for part in &sheet.parts {
        put(&mut out, "");
        write_part(&mut out, part);
    }
    put(&mut out, "");
    write_order(&mut out, sheet);
    put(&mut out, "");
    put_wrapped(&mut out, &sheet.cautions, 0, "");
    out
}

fn put(out: &mut String, line: &str) {
    out.push_str(line.trim_end());
    out.push('\n');
}

/// Words in lines that begin at a column, with others before the first.
fn put_wrapped(out: &mut String, words: &str, from: usize, before: &str) {
    for (number, line) in wrapped_columns(words, WIDTH - from).iter().enumerate() {
        let before = if number == 0 { before } else { "" };
        put(out, &format!("{}{line}", padded(before, from)));
    }
}

/// The text filled up to a width; a longer one as it is.
fn padded(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(columns(text))))
}

fn write_part(out: &mut String, part: &PartSheet) {
    put_wrapped(
        out,
        &format!("{}: {} - {}", part.name.to_uppercase(), part.length, part.feet),
        0,
        "",
    );
    for line in &part.lines {
        write_step_line(out, line);
    }
}

/// Typed steps on the left, movements with their feet under them on the right.
fn write_step_line(out: &mut String, row: &StepRow) {
    let steps = wrapped_columns(&row.steps, STEPS_WIDTH);
    let movements = movement_lines(&row.movements, WIDTH - MOVEMENTS_AT);
    let front = format!("{}{:>3}", padded(&row.running, COUNTS_AT), row.counts);
    let has_room = columns(&front) < STEPS_AT;
    if !has_room {
        put(out, &format!("{}  {}", row.running, row.counts));
    }
    for number in 0..steps.len().max(movements.len()) {
        let front = if number == 0 && has_room { front.as_str() } else { "" };
        let left = steps.get(number).map_or("", String::as_str);
        let right = movements.get(number).map_or("", String::as_str);
        put(
            out,
            &format!("{}{}{right}", padded(front, STEPS_AT), padded(left, MOVEMENTS_AT - STEPS_AT)),
        );
    }
    if !row.note.is_empty() {
        put_wrapped(out, &format!("({})", row.note), STEPS_AT, "");
    }
}

/// Pairs of lines: movements, and feet under them. Broken between steps, and between movements where
/// one step alone is too long.
fn movement_lines(steps: &[Movements], width: usize) -> Vec<String> {
    let mut lines: Vec<(String, String)> = Vec::new();
    let mut current = (String::new(), String::new());
    for step in steps {
        let gap = if current.0.is_empty() { 0 } else { BETWEEN_STEPS };
        let mut cells = cells(step, width);
        let whole: usize = cells.iter().map(|(m, _)| columns(m) + 1).sum();
        if gap > 0 && columns(&current.0) + gap + whole > width + 1 {
            lines.push(std::mem::take(&mut current));
        } else if gap > 0 {
            // The cells bring one blank of their own.
            extend(&mut current, " ", " ");
        }
        for (movement, feet) in cells.drain(..) {
            let blank = usize::from(!current.0.is_empty());
            if blank > 0 && columns(&current.0) + blank + columns(&movement) > width {
                lines.push(std::mem::take(&mut current));
            } else if blank > 0 {
                extend(&mut current, " ", " ");
            }
            extend(&mut current, &movement, &feet);
        }
    }
    lines.push(current);
    lines
        .into_iter()
        .flat_map(|(movements, feet)| [movements, feet])
        .filter(|line| !line.trim().is_empty())
        .collect()
}

fn extend(line: &mut (String, String), movement: &str, feet: &str) {
    line.0.push_str(movement);
    line.1.push_str(feet);
}

/// Movements and feet of a step, each pair filled to one width and none wider than the line.
fn cells(step: &Movements, width: usize) -> Vec<(String, String)> {
    let pair = |movement: &str, feet: &str| {
        let width = columns(movement).max(columns(feet));
        (padded(movement, width), padded(feet, width))
    };
    let all_narrow = |words: &[String]| words.iter().all(|w| columns(w) <= width);
    if step.feet.len() == step.words.len() && all_narrow(&step.words) && all_narrow(&step.feet) {
        return step.words.iter().zip(&step.feet).map(|(m, f)| pair(m, f)).collect();
    }
    // Not known which foot is whose: the feet stand under the movements as a whole, or follow them.
    let (movements, feet) = (step.words.join(" "), step.feet.join(" "));
    if columns(&movements).max(columns(&feet)) <= width {
        return vec![pair(&movements, &feet)];
    }
    let broken = |words: &str| wrapped_columns(words, width);
    let movements = broken(&movements).into_iter().map(|m| pair(&m, ""));
    movements.chain(broken(&feet).into_iter().map(|f| pair("", &f))).collect()
}

/// Columns of the order: its heading and width.
const ORDER: [(&str, usize); 7] = [
    ("Counts", 9),
    ("Time", 8),
    ("Part", 20),
    ("Phrase", 14),
    ("Length", 15),
    ("Ft", 2),
    ("Wall", 5),
];

fn write_order(out: &mut String, sheet: &Sheet) {
    put(
        out,
        if sheet.with_song { "ORDER, on the song" } else { "ORDER, counted from the first step" },
    );
    // Without a song there are neither times nor phrases.
    let shown: Vec<usize> =
        (0..ORDER.len()).filter(|c| sheet.with_song || !matches!(c, 1 | 3)).collect();
    let headings = ORDER.map(|(heading, _)| heading.to_string());
    write_cells(out, &headings, &shown);
    for row in &sheet.order {
        write_cells(out, &row_cells(row), &shown);
        for flag in &row.flags {
            write_flag(out, flag);
        }
    }
    for flag in &sheet.elsewhere {
        write_flag(out, flag);
    }
}

fn row_cells(row: &Row) -> [String; 7] {
    let name = match row.kind {
        RowKind::Part | RowKind::NoRoom => row.name.clone(),
        RowKind::Fill => format!("+ {}", row.name),
        RowKind::Wait | RowKind::Free => format!("- {}", row.name),
    };
    [
        row.running.clone(),
        row.time.clone(),
        name,
        row.phrase.clone(),
        row.length.clone(),
        row.foot.clone(),
        row.wall.clone(),
    ]
}

/// One row; cells whose words are too long go on below.
fn write_cells(out: &mut String, cells: &[String; 7], shown: &[usize]) {
    let broken: Vec<Vec<String>> =
        shown.iter().map(|&c| wrapped_columns(&cells[c], ORDER[c].1)).collect();
    let height = broken.iter().map(Vec::len).max().unwrap_or(0);
    for number in 0..height {
        let mut line = String::new();
        for (lines, &column) in broken.iter().zip(shown) {
            let words = lines.get(number).map_or("", String::as_str);
            line.push_str(&padded(words, ORDER[column].1));
            line.push(' ');
        }
        put(out, &line);
    }
}

fn write_flag(out: &mut String, flag: &Flag) {
    let number = format!("    ({})", flag.number);
    put_wrapped(out, &format!("DOES NOT MEET: {}", flag.words), 9, &number);
    for mend in &flag.mends {
        put_wrapped(out, &format!("to mend it: {mend}"), 9, "");
    }
}
