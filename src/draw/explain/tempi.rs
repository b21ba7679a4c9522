//! The tempogram in shades, coarse enough to draw.

use std::ops::Range;

use super::Ink;
use crate::rhythm::Tempogram;

/// Slowest and fastest tempo shown, beats a minute, and rows to the octave.
pub(super) const SLOWEST_BPM: f64 = 40.0;
pub(super) const FASTEST_BPM: f64 = 280.0;
const ROWS_AN_OCTAVE: f64 = 14.0;
/// Shades beside white.
pub(super) const LEVELS: u8 = 5;
/// Columns to a line at most.
const MOST_COLUMNS: usize = 60;
/// A column is measured against its own strongest tempo, but never against less than this share of the
/// strongest anywhere: silence stays white.
const LEAST_MEASURE: f32 = 0.3;

/// A rectangle of one shade: columns as times in seconds, rows as shares of the height from below.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cell {
    pub from_s: f64,
    pub to_s: f64,
    pub low: f64,
    pub high: f64,
    pub level: u8,
}

/// Strength of each tempo over time.
pub(super) struct Tempi {
    tempogram: Tempogram,
}

impl Tempi {
    pub(super) fn of(curve: &[f32], frames_per_second: f64) -> Tempi {
        Tempi { tempogram: Tempogram::of(curve, frames_per_second) }
    }

    /// The shaded rectangles from one time to another; equal neighbours in time are one.
    pub(super) fn cells(&self, from_s: f64, to_s: f64) -> Vec<Cell> {
        let columns = ((to_s - from_s).round().max(1.0) as usize).min(MOST_COLUMNS);
        let width = (to_s - from_s) / columns as f64;
        let rows = rows();
        let levels: Vec<Vec<u8>> = (0..columns)
            .map(|column| {
                let start = from_s + column as f64 * width;
                self.column(start, start + width, rows)
            })
            .collect();
        let mut cells = Vec::new();
        for row in 0..rows {
            let mut column = 0;
            while column < columns {
                let level = levels[column][row];
                let same = levels[column..].iter().take_while(|c| c[row] == level).count();
                if level > 0 {
                    cells.push(Cell {
                        from_s: from_s + column as f64 * width,
                        to_s: from_s + (column + same) as f64 * width,
                        low: row as f64 / rows as f64,
                        high: (row + 1) as f64 / rows as f64,
                        level,
                    });
                }
                column += same;
            }
        }
        cells
    }

    /// Shade of each row, the strongest within it and within the time.
    fn column(&self, from_s: f64, to_s: f64, rows: usize) -> Vec<u8> {
        let times: Range<usize> = from_s.round().max(0.0) as usize..to_s.round().max(1.0) as usize;
        let mut strongest = vec![0f32; rows];
        for time in times.take_while(|&t| t < self.tempogram.times_s.len()) {
            for (&bpm, &strength) in
                self.tempogram.tempi_bpm.iter().zip(self.tempogram.column(time))
            {
                let row = (height_of(bpm) * rows as f64).floor();
                if row >= 0.0
                    && let Some(most) = strongest.get_mut(row as usize)
                {
                    *most = most.max(strength);
                }
            }
        }
        let measure = strongest.iter().fold(LEAST_MEASURE, |a, &b| a.max(b));
        let level =
            |s: f32| (s / measure * f32::from(LEVELS) + 0.15).floor().min(f32::from(LEVELS));
        strongest.into_iter().map(|s| level(s) as u8).collect()
    }
}

fn rows() -> usize {
    ((FASTEST_BPM / SLOWEST_BPM).log2() * ROWS_AN_OCTAVE).round() as usize
}

/// Where a tempo stands, 0 at the slowest and 1 at the fastest shown.
pub(super) fn height_of(bpm: f64) -> f64 {
    (bpm / SLOWEST_BPM).log2() / (FASTEST_BPM / SLOWEST_BPM).log2()
}

/// The grey of a level.
pub(super) fn shade(level: u8) -> Ink {
    let grey = 255 - (205 / LEVELS).saturating_mul(level);
    Ink(grey, grey, grey)
}
