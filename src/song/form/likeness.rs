//! How alike the bars of a song are, for the eye.

use super::Evidence;
use super::label::likeness;
use crate::rhythm::{Features, Grid};

/// More beats than this are no one song: there is nothing to compare.
pub(super) const ONE_SONG: usize = 2400;

/// A song's likeness to itself, a few beats by a few (Foote, 1999, *Visualizing music and audio using
/// self-similarity*).
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SelfLikeness {
    /// How many beats are taken together: four, or more in a long song.
    pub beats: usize,
    /// Time of the first of them, seconds.
    pub times_s: Vec<f64>,
    /// Likeness of each stretch to each, as phrases are told to be the same by it; from about 0 up to 1.
    pub like: Vec<Vec<f32>>,
}

impl SelfLikeness {
    /// How alike the stretches of a song are; nothing for a recording longer than a song.
    pub fn of(features: &Features, grid: &Grid) -> SelfLikeness {
        const BEATS: usize = 4;
        const MOST: usize = 160;
        let n = grid.beats_s.len();
        if n > ONE_SONG {
            return SelfLikeness::default();
        }
        let beats = BEATS * n.div_ceil(BEATS * MOST).max(1);
        let evidence = Evidence::new(features, grid, None);
        let fours: Vec<usize> = (0..n / beats).map(|k| k * beats).collect();
        let stretch = |from: usize| (from, from + beats);
        let like = |&a: &usize| -> Vec<f32> {
            let to =
                |&b: &usize| likeness(&evidence.heard, &evidence.inputs, stretch(a), stretch(b));
            fours.iter().map(to).collect()
        };
        SelfLikeness {
            beats,
            times_s: fours.iter().map(|&beat| grid.beats_s[beat]).collect(),
            like: fours.iter().map(like).collect(),
        }
    }
}
