//! Under the lines: what does not meet, keyed to the marks; short names in full.

use super::content::{Content, Mark};
use super::ink::{BLACK, WHITE};
use super::legend::Legend;
use super::marks::draw_mark;
use super::scene::{Anchor, Group, Text};
use super::text::wrapped;

/// Type of the list, and from line to line, millimetres.
const SIZE: f64 = 2.9;
const LEADING: f64 = 3.9;
/// Before words, for the mark.
const INDENT: f64 = 6.4;
const BETWEEN_ITEMS: f64 = 1.0;
const BETWEEN_COLUMNS: f64 = 6.0;
const COLUMNS: usize = 2;

/// An entry of the list.
#[derive(Debug, Clone)]
struct Item {
    mark: Option<Mark>,
    /// Lines already broken; the ones after `bold` lines are plain.
    lines: Vec<String>,
    bold: usize,
}

impl Item {
    fn height(&self) -> f64 {
        self.lines.len() as f64 * LEADING + BETWEEN_ITEMS
    }
}

/// All entries, in order.
#[derive(Debug, Clone)]
pub(crate) struct Foot {
    items: Vec<Item>,
    /// Room for the legend below, millimetres.
    legend: f64,
}

fn column_width(width: f64) -> f64 {
    (width - BETWEEN_COLUMNS * (COLUMNS - 1) as f64) / COLUMNS as f64
}

impl Foot {
    pub(crate) fn new(content: &Content, names: &[(String, String)], width: f64) -> Foot {
        let em = (column_width(width) - INDENT) / SIZE;
        let mut items: Vec<Item> = content
            .marks
            .iter()
            .map(|mark| {
                let mut lines = wrapped(&mark.sentence, em, false);
                for mend in &mark.mends {
                    lines.extend(wrapped(&format!("To mend it: {mend}"), em, false));
                }
                Item { mark: Some(mark.clone()), lines, bold: 0 }
            })
            .collect();
        if !names.is_empty() {
            let mut lines = vec!["Short names".to_string()];
            for (short, full) in names {
                lines.extend(wrapped(&format!("{short} = {full}"), em, false));
            }
            items.push(Item { mark: None, lines, bold: 1 });
        }
        Foot { items, legend: Legend::new(content, width).height() }
    }

    /// Height on one page with the legend, millimetres.
    pub(crate) fn height(&self) -> f64 {
        self.columns_height() + self.legend
    }

    /// The least height in which the entries go into the columns without being torn.
    fn columns_height(&self) -> f64 {
        let all: f64 = self.items.iter().map(Item::height).sum();
        let (mut too_low, mut enough) = (0.0, all);
        // Halving twenty times finds it to a ten-thousandth of a millimetre on any page.
        for _ in 0..20 {
            let middle = (too_low + enough) / 2.0;
            if self.fitting(middle) == self.items.len() {
                enough = middle
            } else {
                too_low = middle
            }
        }
        enough
    }

    /// How many entries go into columns of a height.
    fn fitting(&self, height: f64) -> usize {
        let mut used = 0;
        for _ in 0..COLUMNS {
            let mut left = height + 1e-6;
            while let Some(item) = self.items.get(used) {
                left -= item.height();
                if left < 0.0 {
                    break;
                }
                used += 1;
            }
        }
        used
    }

    /// What goes on this page with the legend, and what is left for the next. Room that takes nothing
    /// is left empty; an entry higher than a page is cut into pieces first.
    pub(crate) fn split(self, room: f64) -> (Foot, Option<Foot>) {
        let legend = self.legend;
        let used = self.fitting((room - legend).max(0.0));
        if used == self.items.len() && room >= legend {
            return (self, None);
        }
        let mut items = self.items;
        let rest = items.split_off(used);
        (Foot { items, legend }, Some(Foot { items: torn(rest), legend }))
    }
}

/// Entries with more lines than a page should take, in pieces.
fn torn(items: Vec<Item>) -> Vec<Item> {
    const MOST_LINES: usize = 30;
    let mut pieces = Vec::new();
    for mut item in items {
        while item.lines.len() > MOST_LINES {
            let rest = item.lines.split_off(MOST_LINES);
            pieces.push(item);
            item = Item { mark: None, lines: rest, bold: 0 };
        }
        pieces.push(item);
    }
    pieces
}

/// The entries in columns below `top`.
pub(crate) fn draw_columns(foot: &Foot, left: f64, top: f64, width: f64) -> Vec<Group> {
    let height = foot.columns_height() + 1e-6;
    let mut groups = Vec::new();
    let (mut column, mut at) = (0, 0.0);
    for item in &foot.items {
        if at + item.height() > height && at > 0.0 {
            column += 1;
            at = 0.0;
        }
        let x = left + column as f64 * (column_width(width) + BETWEEN_COLUMNS);
        let mut group = Group::new("list");
        if let Some(mark) = &item.mark {
            draw_mark(&mut group, mark, (x + 2.4, top + at + 1.75), 2.0, 2.6);
        }
        for (number, words) in item.lines.iter().enumerate() {
            let baseline = top + at + 2.8 + number as f64 * LEADING;
            group.text(Text {
                words: words.clone(),
                at: (x + INDENT, baseline),
                size: SIZE,
                bold: number < item.bold,
                anchor: Anchor::Start,
                ink: BLACK,
                on: WHITE,
                upwards: false,
            });
        }
        groups.push(group);
        at += item.height();
    }
    groups
}
