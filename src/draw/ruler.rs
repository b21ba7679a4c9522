//! The ruler of a line: the clock above, eights below, counted afresh from where each phrase starts.

use crate::song::SongView;
use crate::units::{Count, clock};

use super::content::{Block, Content};
use super::ink::{BLACK, GREY, PALE, WHITE};
use super::lanes::Measures;
use super::rows::Row;
use super::scene::{Anchor, Group, Rect, Text, width_mm};

/// Heights at scale 1, millimetres.
const TOP: f64 = 3.8;
const HEIGHT: f64 = 4.8;

/// Seconds between the clock's marks, the finest for which there is room.
const CLOCK_STEPS: [f64; 5] = [5.0, 10.0, 30.0, 60.0, 300.0];

pub(crate) fn draw(row: Row, content: &Content, song: &SongView, measures: &Measures) -> Group {
    let mut group = Group::new("ruler");
    draw_clock(&mut group, row, song, measures);
    let whole = [Block {
        start: content.start,
        end: content.end,
        ..content.song.first().cloned().unwrap_or_else(Block::unnamed)
    }];
    let stretches = if content.song.is_empty() { &whole[..] } else { &content.song[..] };
    for stretch in stretches {
        draw_eights(&mut group, stretch, row, measures);
    }
    draw_counts(&mut group, row, song, measures);
    group
}

fn draw_clock(group: &mut Group, row: Row, song: &SongView, measures: &Measures) {
    let k = measures.scale;
    let size = measures.type_size(2.4);
    let (from, to) =
        (song.counts.time_or_beyond_s(row.start), song.counts.time_or_beyond_s(row.end));
    let widest = width_mm("00:00", size, false);
    let per_second = f64::from(row.end - row.start) * measures.count / (to - from).max(0.001);
    let Some(step) = CLOCK_STEPS.into_iter().find(|s| s * per_second > widest * 1.6) else {
        return;
    };
    let mut reached = f64::NEG_INFINITY;
    let mut mark = (from / step).ceil().max(0.0);
    while mark * step < to {
        let time = mark * step;
        mark += 1.0;
        let Some(at) = place_of(song, time) else { continue };
        let x = measures.left + (at - f64::from(row.start.0)) * measures.count;
        group.line(vec![(x, (TOP - 0.9) * k), (x, TOP * k)], GREY, 0.25);
        let half = widest / 2.0;
        let middle = x.clamp(measures.left + half, measures.right - half);
        if middle - half < reached {
            continue;
        }
        reached = middle + half;
        group.text(Text {
            words: clock(time).trim_end_matches(".00").to_string(),
            at: (middle, 2.4 * k),
            size,
            bold: false,
            anchor: Anchor::Middle,
            ink: GREY,
            on: WHITE,
            upwards: false,
        });
    }
}

/// The place of a time in counts, with the fraction: 1.0 is the start of count 1.
fn place_of(song: &SongView, time_s: f64) -> Option<f64> {
    let times = &song.counts.times_s;
    let after = times.partition_point(|t| *t <= time_s);
    let before = Count::from_index(after.checked_sub(1)?);
    let (from, to) =
        (song.counts.time_or_beyond_s(before), song.counts.time_or_beyond_s(before + 1));
    let past = if to > from { (time_s - from) / (to - from) } else { 0.0 };
    Some(f64::from(before.0) + past)
}

/// The eights of a phrase, every second one shaded; counts that make no whole eight are hatched.
fn draw_eights(group: &mut Group, stretch: &Block, row: Row, measures: &Measures) {
    let k = measures.scale;
    let size = measures.type_size(3.0);
    if stretch.start >= row.start && stretch.start < row.end {
        let x = measures.x(row, stretch.start);
        group.line(vec![(x, TOP * k - 1.0), (x, (TOP + HEIGHT) * k)], BLACK, 0.7);
    }
    // The first eight of the phrase that reaches into this line.
    let skipped = (row.start - stretch.start).max(0) / 8;
    let mut number = skipped;
    let mut start = stretch.start + skipped.saturating_mul(8);
    while start < stretch.end && start < row.end {
        let end = (start + 8).min(stretch.end);
        let counts = end - start;
        let begins_here = start >= row.start;
        let (from, to) = (start.max(row.start), end.min(row.end));
        let (x, right) = (measures.x(row, from), measures.x(row, to));
        let cell = Rect::new(x, TOP * k, right - x, HEIGHT * k);
        let odd = counts < 8;
        let ground = if number % 2 == 1 && !odd { PALE } else { WHITE };
        group.fill(cell, ground);
        if odd {
            group.hatch(cell, GREY, 1.1, true);
        }
        let [a, b, c, d] = cell.corners();
        group.line(vec![a, b, c, d, a], BLACK, 0.25);
        let words = if odd { format!("+{counts}") } else { (number + 1).to_string() };
        let length = width_mm(&words, size, true);
        if begins_here && length + 0.8 * k <= cell.w {
            let at = (x + 0.7 * k, (TOP + 3.35) * k);
            if odd {
                group.fill(Rect::new(at.0 - 0.2, at.1 - size * 0.85, length, size), WHITE);
            }
            group.text(Text {
                words,
                at,
                size,
                bold: true,
                anchor: Anchor::Start,
                ink: BLACK,
                on: ground,
                upwards: false,
            });
        }
        number += 1;
        start = end;
    }
}

/// A tick for each count, a heavier one where a bar starts.
fn draw_counts(group: &mut Group, row: Row, song: &SongView, measures: &Measures) {
    let k = measures.scale;
    let bottom = (TOP + HEIGHT) * k;
    for count in row.start.0..row.end.0 {
        let count = Count(count);
        let place_in_bar = count.index().and_then(|i| song.counts.bar_positions.get(i));
        let (height, width) = if place_in_bar == Some(&1) { (1.2, 0.35) } else { (0.7, 0.15) };
        let x = measures.x(row, count);
        group.line(vec![(x, bottom - height * k), (x, bottom)], BLACK, width);
    }
}
