//! Ways of counting a new cut: at the pulse that was heard, at half and at double.

use std::ops::Range;

use crate::song::{SongMap, Tapped, UserSet};

/// Tempo may change by this much, either way, before another pulse is the likelier reading.
const MOST_TEMPO: f64 = 1.45;
/// Share of the beats that are to be at a plausible tempo.
const A_PART: f64 = 0.15;

/// Most beats that may have been missed at the start, and at the end.
const MOST_MISSED: usize = 16;
const MOST_MISSED_LAST: usize = 4;

/// One way of counting the new cut.
#[derive(Debug, Clone)]
pub(super) struct Counting {
    pub beats_s: Vec<f64>,
    pub bar: Vec<u32>,
    /// Counts to one heard beat.
    pub ratio: f64,
    /// How many of the first beats were not heard, but may have been missed.
    pub guessed: usize,
    /// How many of the last.
    pub guessed_last: usize,
    /// Beats that are laid where the old cut has counts, as ranges.
    pub laid: Vec<Range<usize>>,
}

impl Counting {
    /// As a map has its counts, and beats before the first and after the last that may have been missed.
    pub fn as_danced(map: &SongMap) -> Counting {
        let mut grid = map.corrected_grid();
        let mut bar = grid.bar_positions();
        let per_bar = grid.beats_per_bar;
        let guessed = guess_missed(&mut grid.beats_s, &mut bar, per_bar);
        let duration_s = map.recording.duration_s;
        let guessed_last = guess_last(&mut grid.beats_s, &mut bar, per_bar, duration_s);
        Counting { beats_s: grid.beats_s, bar, ratio: 1.0, guessed, guessed_last, laid: Vec::new() }
    }

    /// Every second beat, from the first or the second.
    fn halved(&self, first: usize) -> Counting {
        let kept = (first..self.beats_s.len()).step_by(2);
        Counting {
            beats_s: kept.clone().map(|k| self.beats_s[k]).collect(),
            bar: kept.map(|k| self.bar[k].div_ceil(2)).collect(),
            ratio: 0.5,
            guessed: self.guessed.div_ceil(2),
            guessed_last: self.guessed_last.div_ceil(2),
            laid: Vec::new(),
        }
    }

    /// A count on each beat and one midway.
    fn doubled(&self) -> Counting {
        let mut beats_s = Vec::with_capacity(2 * self.beats_s.len());
        let mut bar = Vec::with_capacity(2 * self.beats_s.len());
        for (k, &at_s) in self.beats_s.iter().enumerate() {
            beats_s.push(at_s);
            bar.push(2 * self.bar[k] - 1);
            if let Some(next_s) = self.beats_s.get(k + 1) {
                beats_s.push((at_s + next_s) / 2.0);
                bar.push(2 * self.bar[k]);
            }
        }
        let (guessed, guessed_last) = (2 * self.guessed, 2 * self.guessed_last);
        Counting { beats_s, bar, ratio: 2.0, guessed, guessed_last, laid: Vec::new() }
    }
}

/// The new cut at every pulse that its tempo allows: as heard, at half with either beat counted, at double.
pub(super) fn countings(counts_per_minute: f64, new: &SongMap) -> Vec<Counting> {
    let mut plain = new.clone();
    plain.set = UserSet::default();
    let heard = Counting::as_danced(&plain);
    let plausible = |ratio: f64| plausible(&heard.beats_s, ratio, counts_per_minute);
    let none = ![0.5, 1.0, 2.0].into_iter().any(plausible);
    let mut all = Vec::new();
    if plausible(0.5) {
        all.extend([heard.halved(0), heard.halved(1)]);
    }
    if plausible(2.0) {
        all.push(heard.doubled());
    }
    if plausible(1.0) || none {
        all.push(heard);
    }
    all
}

/// Whether a good part of the beats, counted so, goes at about the tempo of the old cut: in a medley others may not.
fn plausible(beats_s: &[f64], ratio: f64, counts_per_minute: f64) -> bool {
    let tempos = beats_s.windows(2).map(|pair| 60.0 / (pair[1] - pair[0]).max(1e-3));
    let relative = tempos.map(|bpm| bpm * ratio / counts_per_minute.max(1.0));
    let near = relative.filter(|x| (1.0 / MOST_TEMPO..=MOST_TEMPO).contains(x)).count();
    near as f64 >= A_PART * beats_s.len().saturating_sub(1) as f64 && near > 0
}

/// Beats before the first that was heard, as far as there is sound for them; how many were put there.
fn guess_missed(beats_s: &mut Vec<f64>, bar: &mut Vec<u32>, per_bar: u32) -> usize {
    let &[first_s, second_s, ..] = &beats_s[..] else { return 0 };
    let period_s = second_s - first_s;
    let fits = |k: &usize| first_s - *k as f64 * period_s >= 0.0;
    let missed = (1..=MOST_MISSED).take_while(fits).count();
    let per_bar = per_bar.max(1) as i32;
    let first_place = bar.first().map_or(1, |place| *place as i32);
    for k in 1..=missed {
        beats_s.insert(0, first_s - k as f64 * period_s);
        bar.insert(0, ((first_place - 1 - k as i32).rem_euclid(per_bar) + 1) as u32);
    }
    missed
}

/// Beats after the last that was heard, likewise.
fn guess_last(beats_s: &mut Vec<f64>, bar: &mut Vec<u32>, per_bar: u32, duration_s: f64) -> usize {
    let &[.., before_s, last_s] = &beats_s[..] else { return 0 };
    let period_s = last_s - before_s;
    let ends_s = (1..=MOST_MISSED_LAST).map(|k| last_s + k as f64 * period_s);
    let missed: Vec<f64> = ends_s.take_while(|s| s + period_s / 2.0 < duration_s).collect();
    let last_place = bar.last().copied().unwrap_or(1);
    bar.extend((1..=missed.len() as u32).map(|k| (last_place - 1 + k) % per_bar.max(1) + 1));
    beats_s.extend(&missed);
    missed.len()
}

/// The beats that are counted though they were not heard, with two that were.
pub(super) fn missed_beats(counting: &Counting, first: usize, end: usize) -> Vec<Tapped> {
    let n = counting.beats_s.len();
    let heard = counting.guessed..n - counting.guessed_last;
    let mut taps = Vec::new();
    if first < heard.start {
        taps.push(first..(heard.start + 2).min(n));
    }
    let inside = |laid: &&Range<usize>| laid.end > first && laid.start < end;
    taps.extend(counting.laid.iter().filter(inside).cloned());
    if end > heard.end {
        taps.push(heard.end.saturating_sub(2)..end);
    }
    taps.into_iter().map(|taps| Tapped { beats_s: counting.beats_s[taps].to_vec() }).collect()
}
