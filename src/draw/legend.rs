//! What the looks on a timeline mean; only those that are on it.

use super::content::{Content, Look, Side};
use super::ink::{BLACK, GREY, PALE, SKY, VERMILLION, WHITE};
use super::marks::draw_shape;
use super::scene::{Anchor, Group, Rect, Text, width_mm};

const TYPE: f64 = 2.6;
const LEADING: f64 = 4.8;
/// Above the legend, millimetres.
const ABOVE: f64 = 2.4;
const SAMPLE: f64 = 6.0;
const AFTER_SAMPLE: f64 = 1.2;
const BETWEEN: f64 = 4.5;

/// A look and what it means.
#[derive(Debug, Clone, Copy)]
enum Sample {
    Eights,
    Heard,
    Part,
    Fill,
    Gap,
    Overhang,
    Mark(Side),
}

impl Sample {
    fn words(self) -> &'static str {
        match self {
            Sample::Eights => "eights of the phrase; +4: counts over",
            Sample::Heard => "? heard, not set by you",
            Sample::Part => "part, with ticks at its eights; left foot: starts on it",
            Sample::Fill => "fill",
            Sample::Gap => "no steps",
            Sample::Overhang => "past its phrase",
            Sample::Mark(Side::TooFew) => "counts left over",
            Sample::Mark(Side::TooMany) => "too many counts",
            Sample::Mark(Side::Elsewhere) => "starts elsewhere",
        }
    }

    fn width(self) -> f64 {
        SAMPLE + AFTER_SAMPLE + width_mm(self.words(), TYPE, false)
    }

    fn draw(self, group: &mut Group, rect: Rect) {
        match self {
            Sample::Eights => draw_eights(group, rect),
            Sample::Heard | Sample::Gap => outlined(group, rect, true),
            Sample::Part => draw_part(group, rect),
            Sample::Fill => {
                group.hatch(rect, BLACK, 1.3, true);
                outlined(group, rect, false);
            }
            Sample::Overhang => draw_overhang(group, rect),
            Sample::Mark(side) => {
                draw_shape(group, side, (rect.right() - 2.0, rect.y + rect.h / 2.0), 1.6);
            }
        }
    }
}

/// Samples in lines.
#[derive(Debug, Clone)]
pub(crate) struct Legend {
    lines: Vec<Vec<Sample>>,
}

impl Legend {
    pub(crate) fn new(content: &Content, width: f64) -> Legend {
        let blocks = || content.song.iter().chain(&content.routine);
        let has = |look: Look| blocks().any(|b| b.look == look);
        let marked = |side: Side| content.marks.iter().any(|m| m.side == side);
        let samples = [
            (Sample::Eights, true),
            (Sample::Heard, content.some_only_heard),
            (Sample::Part, !content.routine.is_empty()),
            (Sample::Fill, has(Look::Fill)),
            (Sample::Gap, has(Look::Gap)),
            (Sample::Overhang, !content.overhangs.is_empty()),
            (Sample::Mark(Side::TooFew), marked(Side::TooFew)),
            (Sample::Mark(Side::TooMany), marked(Side::TooMany)),
            (Sample::Mark(Side::Elsewhere), marked(Side::Elsewhere)),
        ];
        let mut lines: Vec<Vec<Sample>> = vec![Vec::new()];
        let mut used = 0.0;
        for (sample, _) in samples.into_iter().filter(|s| s.1) {
            if used > 0.0 && used + sample.width() > width {
                lines.push(Vec::new());
                used = 0.0;
            }
            used += sample.width() + BETWEEN;
            if let Some(line) = lines.last_mut() {
                line.push(sample);
            }
        }
        Legend { lines }
    }

    /// Millimetres.
    pub(crate) fn height(&self) -> f64 {
        ABOVE + LEADING * self.lines.len() as f64
    }

    /// Draws it above `bottom`.
    pub(crate) fn draw(&self, left: f64, bottom: f64) -> Group {
        let mut group = Group::new("legend");
        for (number, line) in self.lines.iter().enumerate() {
            let middle = bottom - 1.8 - LEADING * (self.lines.len() - 1 - number) as f64;
            let mut x = left;
            for sample in line {
                let rect = Rect::new(x, middle - 1.6, SAMPLE, 3.2);
                sample.draw(&mut group, rect);
                group.text(Text {
                    words: sample.words().to_string(),
                    at: (rect.right() + AFTER_SAMPLE, middle + TYPE * 0.36),
                    size: TYPE,
                    bold: false,
                    anchor: Anchor::Start,
                    ink: BLACK,
                    on: WHITE,
                    upwards: false,
                });
                x += sample.width() + BETWEEN;
            }
        }
        group
    }
}

fn outlined(group: &mut Group, rect: Rect, dashed: bool) {
    let [a, b, c, d] = rect.corners();
    for (from, to) in [(a, b), (b, c), (c, d), (d, a)] {
        if dashed {
            group.dashes(from, to, BLACK, 0.3, 0.8);
        } else {
            group.line(vec![from, to], BLACK, 0.3);
        }
    }
}

fn draw_eights(group: &mut Group, rect: Rect) {
    let third = rect.w / 3.0;
    group.fill(rect, WHITE);
    group.fill(Rect { x: rect.x + third, w: third, ..rect }, PALE);
    let last = Rect { x: rect.x + 2.0 * third, w: third, ..rect };
    group.hatch(last, GREY, 0.9, true);
    outlined(group, rect, false);
    for at in [rect.x + third, last.x] {
        group.line(vec![(at, rect.y), (at, rect.bottom())], BLACK, 0.25);
    }
}

fn draw_part(group: &mut Group, rect: Rect) {
    group.fill(rect, SKY.thinned(0.4));
    let band = Rect { h: 1.2, ..rect };
    group.fill(band, SKY);
    for share in [1.0 / 3.0, 2.0 / 3.0] {
        let x = rect.x + rect.w * share;
        group.line(vec![(x, band.y), (x, band.bottom())], BLACK, 0.25);
    }
    outlined(group, rect, false);
}

fn draw_overhang(group: &mut Group, rect: Rect) {
    group.fill(rect, SKY.thinned(0.4));
    let band = Rect { h: 1.3, ..rect };
    group.fill(band, VERMILLION);
    group.hatch(band, BLACK, 1.0, true);
    group.hatch(band, BLACK, 1.0, false);
    outlined(group, rect, false);
}
