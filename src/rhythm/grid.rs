//! The beat grid: what the ear heard.

use serde::{Deserialize, Serialize};

use crate::units::Beat;

/// Beats and bars of a song as heard.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Grid {
    /// Beats a minute, over the song's steady middle; 0 where no pulse was found.
    pub tempo_bpm: f64,
    /// How sure the tempo (and so the pulse) is, 0 to 1.
    pub tempo_confidence: f64,
    /// Whether one tempo holds for the whole song, within what a dancer would notice.
    pub steady: bool,
    /// Times of the beats in seconds, ascending.
    pub beats_s: Vec<f64>,
    /// The beats that start a bar.
    pub downbeats: Vec<Beat>,
    /// The commonest number of beats to the bar.
    pub beats_per_bar: u32,
    /// How sure the beats are, 0 to 1.
    pub grid_confidence: f64,
    /// Other pulses a dancer might tap, best first.
    pub other_pulses: Vec<OtherPulse>,
}

/// Another pulse that the same sound could be tapped at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OtherPulse {
    /// Its beats a minute.
    pub tempo_bpm: f64,
    /// Its beats to one beat of the grid: 0.5 is half as fast.
    pub ratio: f64,
    /// Likelihood beside the chosen one and each other, 0 to 1.
    pub score: f64,
}

impl Grid {
    /// Each beat's place in its bar, 1-based, one for each of `beats_s`. Beats before the first
    /// downbeat count back from it; without downbeats every place is 1.
    pub fn bar_positions(&self) -> Vec<u32> {
        let per_bar = self.beats_per_bar.max(1) as usize;
        let Some(first) = self.downbeats.first().map(|b| b.0) else {
            return vec![1; self.beats_s.len()];
        };
        let mut positions = Vec::with_capacity(self.beats_s.len());
        let mut next_downbeat = self.downbeats.iter().map(|b| b.0).peekable();
        let mut bar_start = 0;
        for beat in 0..self.beats_s.len() {
            if next_downbeat.peek() == Some(&beat) {
                bar_start = beat;
                next_downbeat.next();
            }
            let place = if beat < first {
                (per_bar - (first - beat) % per_bar) % per_bar
            } else {
                beat - bar_start
            };
            positions.push(place as u32 + 1);
        }
        positions
    }

    /// Puts beats before the first, with the bars that they fill.
    pub(crate) fn put_before(&mut self, beats_s: &[f64]) {
        let (n, per_bar) = (beats_s.len(), self.beats_per_bar.max(1) as usize);
        let Some(first) = self.downbeats.first().map(|beat| beat.0 + n) else {
            self.beats_s.splice(0..0, beats_s.iter().copied());
            return;
        };
        self.downbeats.iter_mut().for_each(|beat| beat.0 += n);
        let bars = (first % per_bar..n).step_by(per_bar).take_while(|&beat| beat < first);
        self.downbeats.splice(0..0, bars.map(Beat));
        self.beats_s.splice(0..0, beats_s.iter().copied());
    }

    /// The time of a first beat on which nobody plays: one beat before the first that was heard, where that is the second of
    /// its bar and the recording has begun.
    pub(crate) fn resting_first_beat_s(&self) -> Option<f64> {
        let missing = (self.beats_per_bar as usize).checked_sub(self.downbeats.first()?.0)?;
        let period_s = first_period_s(&self.beats_s)?;
        let rest_s = self.beats_s.first()? - period_s;
        (missing == 1 && rest_s >= 0.0).then_some(rest_s)
    }
}

/// The usual interval between the first few of these times, seconds; `None` with fewer than two.
pub(crate) fn first_period_s(times_s: &[f64]) -> Option<f64> {
    const FEW: usize = 10;
    median_interval_s(&times_s[..times_s.len().min(FEW)])
}

/// Median of the intervals between neighbours, seconds; `None` with fewer than two times.
pub(crate) fn median_interval_s(times_s: &[f64]) -> Option<f64> {
    let intervals = times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    median(intervals).filter(|interval| *interval > 0.0)
}

/// The upper median; `None` of nothing.
pub(crate) fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_count_back_to_the_pickup_and_restart_at_each_downbeat() {
        let grid = Grid {
            beats_s: (0..10).map(f64::from).collect(),
            downbeats: vec![Beat(2), Beat(6), Beat(8)],
            beats_per_bar: 4,
            ..Grid::default()
        };
        assert_eq!(grid.bar_positions(), [3, 4, 1, 2, 3, 4, 1, 2, 1, 2]);
    }

    #[test]
    fn beats_put_before_make_whole_bars() {
        let mut grid = Grid {
            beats_s: (4..14).map(f64::from).collect(),
            downbeats: vec![Beat(2), Beat(6), Beat(8)],
            beats_per_bar: 4,
            ..Grid::default()
        };
        grid.put_before(&[3.0]);
        assert_eq!(grid.downbeats, [3, 7, 9].map(Beat));
        grid.put_before(&[1.0, 2.0]);
        assert_eq!(grid.downbeats, [1, 5, 9, 11].map(Beat));
        assert_eq!(grid.beats_s[..4], [1.0, 2.0, 3.0, 4.0]);
        assert_eq!(grid.bar_positions()[..6], [4, 1, 2, 3, 4, 1]);
    }

    #[test]
    fn a_first_bar_that_lacks_its_first_beat_begins_with_a_rest() {
        let from = |first: f64, downbeat: usize| Grid {
            beats_s: (0..12).map(|beat| first + f64::from(beat)).collect(),
            downbeats: vec![Beat(downbeat), Beat(downbeat + 4)],
            beats_per_bar: 4,
            ..Grid::default()
        };
        assert_eq!(from(1.5, 3).resting_first_beat_s(), Some(0.5));
        assert_eq!(from(0.5, 3).resting_first_beat_s(), None, "before the recording");
        assert_eq!(from(1.5, 0).resting_first_beat_s(), None, "a whole bar");
        assert_eq!(from(1.5, 2).resting_first_beat_s(), None, "two beats are a pickup");
    }
}
