//! The old cut as the new one is held against it.

use super::way::Way;
use crate::rhythm::{Features, median};
use crate::song::SongView;
use crate::song::form::BeatSounds;
use crate::units::Count;

/// Most counts that a recording is followed beyond its own first and last: talk, an upbeat, what rings on.
const MOST_BEYOND: usize = 64;
/// The counts of the old cut, and the places of counts before the first and after the last, so that what
/// sounds there is known and not taken for new.
pub(super) struct Old {
    pub times_s: Vec<f64>,
    pub sounds: BeatSounds,
    pub counts_per_minute: f64,
    /// How many stand before count 1.
    pub before: usize,
    pub bar: Vec<u32>,
    pub starts: Vec<bool>,
}

impl Old {
    pub fn new(song: &SongView, sound: &Features) -> Old {
        let counts = &song.counts;
        let time = |count: i32| counts.time_or_beyond_s(Count(count));
        let n = counts.len() as i32;
        let most = MOST_BEYOND as i32;
        let first = (1 - most..=1).find(|&c| time(c) >= 0.0).unwrap_or(1);
        let last = (n..n + most).rfind(|&c| time(c) < song.duration_s).unwrap_or(n);
        let per_bar = song.counts_per_bar.max(1) as i32;
        let bar_of = |count: i32| {
            let known =
                |c: i32| counts.bar_positions.get((c - 1).max(0) as usize).copied().unwrap_or(1);
            let (near, away) = if count < 1 { (1, count - 1) } else { (n, count - n) };
            ((known(near) as i32 - 1 + away).rem_euclid(per_bar) + 1) as u32
        };
        let is_start = |count: i32| song.phrases.iter().any(|p| p.start == Count(count));
        let times_s: Vec<f64> = (first..=last).map(time).collect();
        Old {
            sounds: BeatSounds::new(sound, &times_s),
            counts_per_minute: song.counts_per_minute,
            times_s,
            before: (1 - first) as usize,
            bar: (first..=last)
                .map(|c| match counts.bar_positions.get((c - 1).max(0) as usize) {
                    Some(&place) if c >= 1 => place,
                    _ => bar_of(c),
                })
                .collect(),
            // Where the last phrase ends, one may leave as where any ends.
            starts: (first..=last).map(|c| is_start(c) || c == n + 1).collect(),
        }
    }

    /// How much shorter stretches of eight counts in step last in the new cut, all taken together: where the tempo
    /// drifts, the mean.
    pub fn tempo_ratio(&self, way: &Way) -> f64 {
        let (in_old_s, in_new_s) =
            self.stretches(way, 8).fold((0.0, 0.0), |sum, of| (sum.0 + of.0, sum.1 + of.1));
        if in_new_s > 0.0 { in_old_s / in_new_s } else { 1.0 }
    }

    /// How far the tempo of stretches is from the usual one, median: copies of one recording keep one ratio throughout.
    /// Stretches are as long as are often in step, so that a few hundredths of a second at either end weigh little.
    pub fn drift(&self, way: &Way) -> f64 {
        const OFTEN: usize = 96;
        let in_step = |counts: usize| -> Vec<f64> {
            self.stretches(way, counts).map(|(a, b)| a / b.max(1e-9)).collect()
        };
        let long = [64, 32].into_iter().map(in_step).find(|ratios| ratios.len() >= OFTEN);
        let ratios = long.unwrap_or_else(|| in_step(16));
        let usual = median(ratios.clone()).unwrap_or(0.0);
        let off = ratios.iter().map(|ratio| (ratio / usual.max(1e-9) - 1.0).abs());
        median(off.collect()).unwrap_or(0.0)
    }

    /// How many beats go at a pulse that is nowhere the old cut's, at so many times its tempo.
    pub fn at_other_pulses(&self, beats_s: &[f64], ratio: f64) -> usize {
        /// As a ratio.
        const OTHER: f64 = 1.25;
        let mut known: Vec<f64> = self.times_s.windows(5).map(|five| five[4] - five[0]).collect();
        known.sort_by(f64::total_cmp);
        // Single bars may have been heard wrongly.
        let spare = known.len() / 20;
        let (Some(&shortest), Some(&longest)) =
            (known.get(spare), known.get(known.len().saturating_sub(spare + 1)))
        else {
            return 0;
        };
        let in_old_s = beats_s.windows(5).map(|five| (five[4] - five[0]) * ratio);
        in_old_s.filter(|s| *s < shortest / OTHER || *s > longest * OTHER).count()
    }

    /// Seconds in the old cut and in the new one of each stretch of `counts` in step.
    fn stretches(&self, way: &Way, counts: usize) -> impl Iterator<Item = (f64, f64)> {
        let (old, new_s) = (&way.path.old, &way.counting.beats_s);
        (counts..old.len()).filter_map(move |j| {
            let (from, to) = (old[j - counts]?, old[j]?);
            (to == from + counts)
                .then(|| (self.times_s[to] - self.times_s[from], new_s[j] - new_s[j - counts]))
        })
    }
}
