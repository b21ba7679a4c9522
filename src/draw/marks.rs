//! Numbered marks where something does not meet: a square, a diamond or a disc under the line.

use super::content::{Content, Mark, Side};
use super::ink::{BLACK, VERMILLION, WHITE};
use super::lanes::Measures;
use super::rows::Row;
use super::scene::{Anchor, Group, Point, Rect, Text, width_mm};

/// Across, millimetres at scale 1.
const SIZE: f64 = 4.9;
const LANE: f64 = 5.8;
/// Width of a mark's coloured ring, millimetres.
const RING: f64 = 0.55;

/// Draws the marks of a line below `top`; gives them and where they end.
pub(crate) fn draw_lane(
    row: Row,
    content: &Content,
    measures: &Measures,
    top: f64,
) -> (Vec<Group>, f64) {
    let k = measures.scale;
    let half = SIZE * k / 2.0;
    let is_last = row.end == content.end;
    let is_first = row.start == content.start;
    let mut here: Vec<(f64, &Mark)> = content
        .marks
        .iter()
        .filter(|m| {
            let before = m.at < row.start && !is_first;
            let after = m.at >= row.end && !is_last;
            !before && !after
        })
        .map(|m| (measures.x(row, m.at.clamp(row.start, row.end)), m))
        .collect();
    here.sort_by(|a, b| a.0.total_cmp(&b.0));

    // Each mark stands at its count, in the first lane where it is clear of the one before.
    let mut lanes: Vec<Vec<(f64, &Mark)>> = Vec::new();
    for (x, mark) in here {
        let x = x.clamp(measures.left - half, measures.right - half);
        let clear = |lane: &Vec<(f64, &Mark)>| {
            lane.last().is_none_or(|(before, _)| x - before > half * 2.0 + 0.5)
        };
        match lanes.iter_mut().find(|lane| clear(lane)) {
            Some(lane) => lane.push((x, mark)),
            None => lanes.push(vec![(x, mark)]),
        }
    }

    let mut groups = Vec::new();
    for (number, lane) in lanes.iter().enumerate() {
        let middle = top + (0.6 + LANE * (number as f64 + 0.5)) * k;
        for (place, &(x, mark)) in lane.iter().enumerate() {
            let mut group = Group::titled("mismatch", mark.sentence.clone());
            if number == 0 {
                group.line(vec![(x, top), (x, middle)], BLACK, 0.35);
            }
            draw_mark(&mut group, mark, (x, middle), half, measures.type_size(2.9));
            let next = lane.get(place + 1).map_or(measures.right, |(x, _)| x - half - 0.8);
            let size = measures.type_size(2.7);
            let from = x + half + 0.9;
            if from + width_mm(&mark.words, size, false) <= next {
                group.text(plain(mark.words.clone(), (from, middle + size * 0.36), size));
            }
            groups.push(group);
        }
    }
    (groups, top + (LANE * lanes.len() as f64) * k + if lanes.is_empty() { 0.0 } else { 0.6 * k })
}

fn plain(words: String, at: Point, size: f64) -> Text {
    Text {
        words,
        at,
        size,
        bold: false,
        anchor: Anchor::Start,
        ink: BLACK,
        on: WHITE,
        upwards: false,
    }
}

/// The mark itself, `half` millimetres from its middle to its edge.
pub(crate) fn draw_mark(group: &mut Group, mark: &Mark, at: Point, half: f64, size: f64) {
    draw_shape(group, mark.side, at, half);
    let words = mark.number.to_string();
    // Longer numbers are set smaller, to stay inside.
    let size = size.min((half - RING) * 1.9 / width_mm(&words, 1.0, true));
    group.text(Text {
        words,
        at: (at.0, at.1 + size * 0.36),
        size,
        bold: true,
        anchor: Anchor::Middle,
        ink: BLACK,
        on: WHITE,
        upwards: false,
    });
}

/// The shape of a side, without a number: a coloured ring around white, so that the number in it is as
/// easy to read as any.
pub(crate) fn draw_shape(group: &mut Group, side: Side, (x, y): Point, half: f64) {
    for (inset, ink) in [(0.0, VERMILLION), (RING, WHITE)] {
        match side {
            Side::TooFew => {
                let h = half * 0.92 - inset;
                group.fill(Rect::new(x - h, y - h, 2.0 * h, 2.0 * h), ink);
            }
            Side::TooMany => {
                let h = half * 1.3 - inset * 1.4;
                group.area(vec![(x, y - h), (x + h, y), (x, y + h), (x - h, y)], ink);
            }
            Side::Elsewhere => group.disc((x, y), half - inset, ink),
        }
    }
}
