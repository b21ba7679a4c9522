//! A [`Sheet`] as text: 80 columns of a fixed-width type, ready to print, and to be read again.
//!
//! The upper part is a routine as one types it. What is worked out stands in lines that begin with a
//! colon, and below [`WORKED_OUT`]; neither is read again. What was typed is kept as typed where it is
//! read here as it was there; else the line is written as the glossary says it.

use crate::plain::{columns, wrapped_columns};
use crate::routine::{Part, Routine, WORKED_OUT, parse};
use crate::units::eights;

use super::again::{same_dance, same_step};
use super::{Flag, Movements, PartSheet, Row, RowKind, Sheet, StepRow};

/// Columns on a line.
const WIDTH: usize = 80;
/// Where facts begin, and where steps do.
const AT: usize = 9;
/// Between two steps' movements.
const BETWEEN_STEPS: usize = 2;

/// How the words that were typed are written.
struct Words {
    /// Parts whose lines are written as the glossary says them.
    plain: Vec<bool>,
    /// The title gets its field's name.
    named_title: bool,
}

/// Writes the sheet; where the words as typed would be read otherwise, plainer ones are taken.
pub(super) fn write(sheet: &Sheet, routine: &Routine, short: bool) -> String {
    let mut words = Words { plain: vec![false; routine.parts.len()], named_title: false };
    let first = lay_out(sheet, &words, short);
    if short {
        return first;
    }
    let mut text = first.clone();
    for round in 0..3 {
        let (read, _) = parse(&text);
        let titled = read.title == sheet.title;
        if titled && same_dance(&read, routine) {
            return text;
        }
        words.named_title |= !titled;
        for (index, plain) in words.plain.iter_mut().enumerate() {
            let same = match (routine.parts.get(index), read.parts.get(index)) {
                (Some(a), Some(b)) => same_part(a, b),
                _ => false,
            };
            *plain |= !same || round == 1;
        }
        text = lay_out(sheet, &words, short);
    }
    // Nothing says it: the words as typed are the best there is.
    if same_dance(&parse(&text).0, routine) { text } else { first }
}

fn same_part(a: &Part, b: &Part) -> bool {
    a.name == b.name
        && a.counts() == b.counts()
        && a.steps().count() == b.steps().count()
        && a.steps().zip(b.steps()).all(|(a, b)| same_step(a, b))
}

fn lay_out(sheet: &Sheet, words: &Words, short: bool) -> String {
    let mut out = String::new();
    if words.named_title {
        put(&mut out, &format!("Title: {}", sheet.title));
    } else {
        put(&mut out, &sheet.title);
        put(&mut out, &"=".repeat(columns(&sheet.title).clamp(1, WIDTH)));
    }
    for (what, value) in &sheet.facts {
        put(&mut out, &format!("{}{value}", label(&format!("{what}:"), AT)));
    }
    for note in &sheet.notes {
        put(&mut out, &noted(note));
    }
    if !short {
        for (name, movements) in &sheet.own_steps {
            put(&mut out, &format!("Step: {name} = {movements}"));
        }
    }
    if !sheet.names.is_empty() {
        put_order(&mut out, &sheet.names);
    }
    put(&mut out, "");
    for (index, part) in sheet.parts.iter().enumerate() {
        let plain = words.plain.get(index).copied().unwrap_or(false);
        write_part(&mut out, part, plain, short);
    }
    if short && !sheet.parts.is_empty() {
        put(&mut out, "");
    }
    put(&mut out, WORKED_OUT);
    put(&mut out, "");
    for (what, value) in &sheet.song_facts {
        put_wrapped(&mut out, value, 11, &format!("{what}:"));
    }
    if !sheet.song_facts.is_empty() {
        put(&mut out, "");
    }
    write_order(&mut out, sheet);
    put(&mut out, "");
    put_wrapped(&mut out, &sheet.cautions, 0, "");
    out
}

/// A note so that it is read as one.
fn noted(note: &str) -> String {
    let says_so = note.split_once(':').is_some_and(|(first, _)| first.len() <= 12);
    let wrapped = note.starts_with(['(', '"', '#']) || note.starts_with("//");
    if says_so || wrapped { note.to_string() } else { format!("{}{note}", label("Note:", AT)) }
}

fn put(out: &mut String, line: &str) {
    out.push_str(line.trim_end());
    out.push('\n');
}

/// Words in lines that begin at a column, with others before the first.
fn put_wrapped(out: &mut String, words: &str, from: usize, before: &str) {
    for (number, line) in wrapped_columns(words, WIDTH - from).iter().enumerate() {
        let before = if number == 0 { before } else { "" };
        put(out, &format!("{}{line}", label(before, from)));
    }
}

/// The names of the order; a line ends behind a comma, never within a name.
fn put_order(out: &mut String, names: &[String]) {
    let mut line = label("Order:", AT);
    for (index, name) in names.iter().enumerate() {
        let comma = if index + 1 < names.len() { ", " } else { "" };
        let begun = columns(&line) > AT;
        if begun && columns(&line) + columns(name) + 1 > WIDTH {
            put(out, &line);
            line = " ".repeat(AT);
        }
        line.push_str(name);
        line.push_str(comma);
    }
    put(out, &line);
}

/// Words that are not read again: each of their lines begins with a colon.
fn put_gutter(out: &mut String, words: &str, from: usize) {
    for line in wrapped_columns(words, WIDTH - from) {
        put(out, &format!("{}{line}", padded(":", from)));
    }
}

/// The text filled up to a width; a longer one as it is.
fn padded(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(columns(text))))
}

/// A label filled up to a width, with a blank behind it whatever its length.
fn label(text: &str, width: usize) -> String {
    let blanks = width.saturating_sub(columns(text)).max(usize::from(!text.is_empty()));
    format!("{text}{}", " ".repeat(blanks))
}

fn write_part(out: &mut String, part: &PartSheet, plain: bool, short: bool) {
    let counts = if part.counts == 1 { "count" } else { "counts" };
    put(out, &format!("{} ({} {counts})", part.name, part.counts));
    if short {
        return;
    }
    let mut about = vec![eights(part.counts), part.feet.clone(), part.walls.clone()];
    about.retain(|words| !words.is_empty());
    put_gutter(out, &about.join("; "), 2);
    for line in &part.lines {
        write_step_line(out, line, plain);
    }
    put(out, "");
}

/// The steps; below them, in the gutter, movements with their feet.
fn write_step_line(out: &mut String, row: &StepRow, plain: bool) {
    if plain {
        // Each line stands for itself, so the range in front would claim too much.
        for line in &row.plain {
            put(out, &format!("{}{line}", " ".repeat(AT)));
        }
    } else {
        put(out, &format!("{}{}", label(&row.running, AT), row.steps));
    }
    for line in movement_lines(&row.movements, WIDTH - AT - 2) {
        put(out, &format!("{}{line}", padded(":", AT + 2)));
    }
    if !row.faces.is_empty() {
        put(out, &format!("{}now facing {}", padded(":", AT + 2), row.faces));
    }
    if !row.note.is_empty() && !plain {
        put_gutter(out, &format!("({})", row.note), AT + 2);
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
        if step.times > 1 {
            cells.push((format!("x{}", step.times), " ".repeat(1 + step.times.to_string().len())));
        }
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
