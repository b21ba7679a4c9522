//! What a sheet says, set in type: blocks of words at their places, none of them on a page yet.

use crate::teach::sheet::{Flag, Look, Movements, PartSheet, Row, RowKind, Sheet, StepRow};

use super::typeface::Typeface;

/// Shades of ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// What is read first.
    Black,
    /// What is beside it.
    Grey,
    /// What does not meet.
    Red,
    /// Hairlines.
    Light,
}

/// Words at a place: the left end of their base line, from the block's upper left corner, in points.
#[derive(Debug, Clone)]
pub(super) struct Words {
    pub(super) x: f32,
    pub(super) y: f32,
    pub(super) text: String,
    pub(super) size: f32,
    pub(super) bold: bool,
    pub(super) ink: Ink,
}

/// A line drawn.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    pub(super) from: (f32, f32),
    pub(super) to: (f32, f32),
    pub(super) thick: f32,
    pub(super) ink: Ink,
}

/// Words and lines that stay together.
#[derive(Debug, Clone, Default)]
pub(super) struct Block {
    pub(super) words: Vec<Words>,
    pub(super) rules: Vec<Rule>,
    pub(super) height: f32,
    /// Where it may be split if it is taller than a page.
    breaks: Vec<f32>,
}

impl Block {
    /// The block, split only where it is taller than `most`.
    pub(super) fn pieces(&self, most: f32) -> Vec<Block> {
        let mut out = Vec::new();
        let mut from = 0.0;
        while self.height - from > most {
            let to = self.breaks.iter().copied().filter(|b| *b > from && *b - from <= most);
            let to = to.fold(from, f32::max);
            // One row taller than a page: cut where the page ends.
            let to = if to > from { to } else { from + most };
            out.push(self.between(from, to));
            from = to;
        }
        out.push(self.between(from, self.height));
        out
    }

    fn between(&self, from: f32, to: f32) -> Block {
        let within = |y: f32| y > from && y <= to || (from == 0.0 && y <= 0.0);
        Block {
            words: self
                .words
                .iter()
                .filter(|w| within(w.y))
                .map(|w| Words { y: w.y - from, ..w.clone() })
                .collect(),
            rules: self
                .rules
                .iter()
                .filter(|r| within(r.from.1))
                .map(|r| Rule {
                    from: (r.from.0, r.from.1 - from),
                    to: (r.to.0, (r.to.1 - from).min(to - from)),
                    ..r.clone()
                })
                .collect(),
            height: to - from,
            breaks: Vec::new(),
        }
    }
}

/// All blocks of a sheet.
pub(super) struct Blocks {
    /// Over the whole width, in order.
    pub(super) head: Vec<Block>,
    /// In columns.
    pub(super) parts: Vec<Block>,
    /// Small, at the bottom.
    pub(super) foot: Block,
}

/// Sets a sheet at a type size: `full` and `column` are the widths of the page and of a column.
pub(super) fn of(
    sheet: &Sheet,
    look: Look,
    type_: &Typeface,
    size: f32,
    full: f32,
    column: f32,
) -> Blocks {
    let setter = |width: f32| Setter { type_, size, width, block: Block::default() };
    let mut parts = Vec::new();
    if look.short {
        parts.extend(sheet.parts.iter().map(|part| setter(column).part_name(part)));
    } else {
        parts.extend(sheet.parts.iter().map(|part| setter(column).part(part)));
        if !sheet.own_steps.is_empty() {
            parts.push(setter(column).own_steps(&sheet.own_steps));
        }
    }
    Blocks {
        head: vec![setter(full).top(sheet), setter(full).order(sheet)],
        parts,
        foot: Setter {
            type_,
            size: (size * 0.75).clamp(6.5, 9.0),
            width: full,
            block: Block::default(),
        }
        .foot(&sheet.cautions),
    }
}

/// Line height as a share of the type size.
const LEADING: f32 = 1.22;

/// Sets type from the top of a block down.
struct Setter<'t> {
    type_: &'t Typeface,
    size: f32,
    width: f32,
    block: Block,
}

impl Setter<'_> {
    fn words(&mut self, x: f32, y: f32, text: &str, size: f32, bold: bool, ink: Ink) {
        let text = self.type_.printable(text);
        if !text.trim().is_empty() {
            self.block.words.push(Words { x, y, text, size, bold, ink });
        }
    }

    fn wide(&self, text: &str, size: f32, bold: bool) -> f32 {
        self.type_.width(text, size, bold)
    }

    /// A paragraph from `x` to the right edge.
    fn lines(&mut self, x: f32, text: &str, size: f32, bold: bool, ink: Ink) {
        for line in self.type_.wrapped(text, self.width - x, size, bold) {
            self.block.height += size * LEADING;
            let y = self.block.height - size * 0.25;
            self.words(x, y, &line, size, bold, ink);
        }
    }

    fn rule(&mut self, x: f32, thick: f32, ink: Ink) {
        let y = self.block.height;
        self.block.rules.push(Rule { from: (x, y), to: (self.width, y), thick, ink });
    }

    fn space(&mut self, share: f32) {
        self.block.height += self.size * share;
    }

    fn top(mut self, sheet: &Sheet) -> Block {
        self.lines(0.0, &sheet.title, self.size * 1.9, true, Ink::Black);
        self.space(0.25);
        self.rule(0.0, 1.2, Ink::Black);
        self.space(0.3);
        self.facts(&sheet.facts);
        self.facts(&sheet.song_facts);
        for note in &sheet.notes {
            self.lines(0.0, note, self.size, false, Ink::Grey);
        }
        self.block
    }

    /// Facts one behind the other, as many on a line as fit.
    fn facts(&mut self, facts: &[(String, String)]) {
        let size = self.size;
        let mut x = 0.0;
        for (what, value) in facts {
            let what = format!("{what}: ");
            let name = self.wide(&what, size, true);
            let whole = name + self.wide(value, size, false);
            if x == 0.0 || x + whole > self.width {
                x = 0.0;
                self.block.height += size * LEADING;
            }
            let y = self.block.height - size * 0.25;
            self.words(x, y, &what, size, true, Ink::Black);
            let lines = self.type_.wrapped(value, (self.width - x - name).max(size), size, false);
            for (number, line) in lines.iter().enumerate() {
                if number > 0 {
                    self.block.height += size * LEADING;
                }
                let y = self.block.height - size * 0.25;
                self.words(x + name, y, line, size, false, Ink::Black);
            }
            x = if lines.len() > 1 { self.width } else { x + whole + size * 1.6 };
        }
    }

    fn heading(&mut self, name: &str, beside: &str) {
        let (size, small) = (self.size * 1.2, self.size * 0.9);
        self.lines(0.0, name, size, true, Ink::Black);
        let x = self.wide(name, size, true) + self.size * 0.8;
        if x + self.wide(beside, small, false) <= self.width {
            let y = self.block.height - size * 0.25;
            self.words(x, y, beside, small, false, Ink::Grey);
        } else if !beside.is_empty() {
            self.lines(0.0, beside, small, false, Ink::Grey);
        }
        self.space(0.15);
        self.rule(0.0, 0.8, Ink::Black);
        self.space(0.15);
    }

    fn order(mut self, sheet: &Sheet) -> Block {
        let about = if sheet.with_song {
            "counts of the song, from count 1"
        } else {
            "counted from the first step"
        };
        self.heading("Order", about);
        let heads = ["Counts", "Time", "Part", "Phrase", "Length", "Foot", "Wall"];
        let cells = |row: &Row| {
            [
                row.running.clone(),
                row.time.clone(),
                row.name.clone(),
                row.phrase.clone(),
                row.length.clone(),
                row.foot.clone(),
                row.wall.clone(),
            ]
        };
        let shown: Vec<usize> =
            (0..heads.len()).filter(|c| sheet.with_song || !matches!(c, 1 | 3)).collect();
        let widths_at = |size: f32| {
            let mut widths = [0f32; 7];
            for (column, width) in widths.iter_mut().enumerate() {
                let bold = column == 2;
                let rows = sheet.order.iter().map(|row| self.wide(&cells(row)[column], size, bold));
                let head = self.wide(heads[column], size * 0.85, false);
                *width = rows.fold(head, f32::max) + size * 1.1;
            }
            widths
        };
        // Large type may be set a little smaller here before names are broken.
        let sizes = [1.0, 0.9, 0.8, 0.7].map(|share| self.size * share);
        let fits = |size: &&f32| {
            let widths = widths_at(**size);
            shown.iter().map(|&c| widths[c]).sum::<f32>() <= self.width
        };
        let size =
            sizes.iter().find(fits).copied().unwrap_or((self.size * 0.7).max(8.5)).min(self.size);
        let pad = size * 1.1;
        let mut widths = widths_at(size);
        // Names may be long: what does not fit is taken from the part's and the phrase's.
        let total: f32 = shown.iter().map(|&c| widths[c]).sum();
        let over = (total - self.width).max(0.0);
        let [part, phrase] = [widths[2], widths[3]];
        if over > 0.0 && part + phrase > 0.0 {
            widths[2] = (part - over * part / (part + phrase)).max(size * 5.0);
            widths[3] = (phrase - over * phrase / (part + phrase)).max(size * 4.0);
        }
        let mut x = [0f32; 7];
        let mut next = 0.0;
        for &column in &shown {
            x[column] = next;
            next += widths[column];
        }
        self.block.height += size * LEADING;
        for &column in &shown {
            let y = self.block.height - size * 0.25;
            self.words(x[column], y, heads[column], size * 0.85, false, Ink::Grey);
        }
        for row in &sheet.order {
            self.block.breaks.push(self.block.height);
            let cells = cells(row);
            let free = matches!(row.kind, RowKind::Wait | RowKind::Free | RowKind::NoRoom);
            let ink = if free { Ink::Grey } else { Ink::Black };
            let broken: Vec<(usize, Vec<String>)> = shown
                .iter()
                .map(|&c| {
                    let room = (widths[c] - pad * 0.5).max(size);
                    (c, self.type_.wrapped(&cells[c], room, size, c == 2 && !free))
                })
                .collect();
            let height = broken.iter().map(|(_, lines)| lines.len()).max().unwrap_or(1);
            let top = self.block.height;
            for (column, lines) in broken {
                for (number, line) in lines.iter().enumerate() {
                    let y = top + (number + 1) as f32 * size * LEADING - size * 0.25;
                    self.words(x[column], y, line, size, column == 2 && !free, ink);
                }
            }
            self.block.height = top + height as f32 * size * LEADING;
            if row.kind == RowKind::Fill {
                let y = (top + size * 0.2, self.block.height);
                let left = x[2] - size * 0.4;
                self.block.rules.push(Rule {
                    from: (left, y.0),
                    to: (left, y.1),
                    thick: 2.0,
                    ink: Ink::Grey,
                });
            }
            for flag in &row.flags {
                self.flag(flag);
            }
            self.rule(0.0, 0.4, Ink::Light);
        }
        for flag in &sheet.elsewhere {
            self.flag(flag);
        }
        self.space(0.3);
        self.block
    }

    fn flag(&mut self, flag: &Flag) {
        let size = self.size * 0.95;
        let indent = self.size * 1.2;
        let from = self.block.height + size * 0.25;
        self.lines(
            indent,
            &format!("Does not meet ({}): {}", flag.number, flag.words),
            size,
            true,
            Ink::Red,
        );
        for mend in &flag.mends {
            self.lines(indent, &format!("To mend it: {mend}"), size, false, Ink::Black);
        }
        let x = indent - self.size * 0.5;
        let to = self.block.height;
        self.block.rules.push(Rule { from: (x, from), to: (x, to), thick: 2.0, ink: Ink::Red });
    }

    fn part_name(mut self, part: &PartSheet) -> Block {
        let mut about = vec![part.length.as_str(), &part.feet, &part.walls];
        about.retain(|words| !words.is_empty());
        self.heading(&part.name, &about.join("; "));
        self.block
    }

    fn part(self, part: &PartSheet) -> Block {
        let size = self.size;
        let ranges = part.lines.iter().map(|line| self.wide(&line.running, size, false));
        let at = ranges.fold(0.0, f32::max) + size * 0.7;
        let (type_, width) = (self.type_, self.width);
        let mut setter = Setter { type_, size, width, block: self.part_name(part) };
        for line in &part.lines {
            setter.step_line(line, at);
        }
        setter.block
    }

    fn step_line(&mut self, row: &StepRow, at: f32) {
        let size = self.size;
        self.block.breaks.push(self.block.height);
        let first = self.block.height + size * LEADING - size * 0.25;
        self.words(0.0, first, &row.running, size, false, Ink::Black);
        self.lines(at, &row.steps, size, true, Ink::Black);
        self.movements(&row.movements, at);
        if !row.faces.is_empty() {
            self.lines(at, &format!("now facing {}", row.faces), size * 0.9, false, Ink::Grey);
        }
        if !row.note.is_empty() {
            self.lines(at, &format!("“{}”", row.note), size * 0.9, false, Ink::Grey);
        }
        self.space(0.25);
    }

    /// Movements with their feet below them, broken between steps where it can be.
    fn movements(&mut self, steps: &[Movements], at: f32) {
        let size = self.size * 0.95;
        let blank = size * 0.55;
        let mut x = at;
        let mut begun = false;
        for step in steps {
            let cells = cells(step);
            let wide = |(m, f): &(String, String)| {
                self.type_.width(m, size, false).max(self.type_.width(f, size, false))
            };
            let widths: Vec<f32> = cells.iter().map(wide).collect();
            let whole: f32 = widths.iter().map(|w| w + blank).sum();
            if begun && x + whole - blank > self.width {
                begun = false;
            }
            for ((movement, feet), width) in cells.iter().zip(widths) {
                if !begun || x + width > self.width {
                    x = at;
                    self.block.height += 2.0 * size * 1.12;
                    begun = true;
                }
                let y = self.block.height - size * 0.2;
                self.words(x, y - size * 1.08, movement, size, false, Ink::Black);
                self.words(x, y, feet, size, false, Ink::Grey);
                x += width + blank;
            }
            x += blank * 1.4;
        }
    }

    fn own_steps(mut self, steps: &[(String, String)]) -> Block {
        self.heading("Steps of this routine", "");
        for (name, movements) in steps {
            self.lines(0.0, name, self.size, true, Ink::Black);
            self.lines(self.size, movements, self.size, false, Ink::Black);
        }
        self.block
    }

    fn foot(mut self, cautions: &str) -> Block {
        self.rule(0.0, 0.4, Ink::Grey);
        self.lines(0.0, cautions, self.size, false, Ink::Grey);
        self.block
    }
}

/// Each movement over its feet; as a whole where it is not known whose feet are whose.
fn cells(step: &Movements) -> Vec<(String, String)> {
    let mut cells: Vec<(String, String)> = if step.words.len() == step.feet.len() {
        step.words.iter().cloned().zip(step.feet.iter().cloned()).collect()
    } else {
        vec![(step.words.join(" "), step.feet.join(" "))]
    };
    if step.times > 1 {
        cells.push((format!("×{}", step.times), String::new()));
    }
    cells
}
