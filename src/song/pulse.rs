//! The pulse: how counts sit on beats.
//!
//! Input: beats and downbeats of one stretch; output: its counts and their downbeats. A count may take
//! two, three or four beats, or a beat may hold two, three or four counts.

use crate::rhythm::median_interval_s;

/// Counts to beats, as a fraction in lowest terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ratio {
    /// Counts …
    pub counts: u32,
    /// … to this many beats. One of the two is 1.
    pub beats: u32,
}

impl Ratio {
    pub const ONE: Ratio = Ratio { counts: 1, beats: 1 };

    /// Every pulse that can be danced, slowest first.
    pub const ALL: [Ratio; 7] = [
        Ratio { counts: 1, beats: 4 },
        Ratio { counts: 1, beats: 3 },
        Ratio { counts: 1, beats: 2 },
        Ratio::ONE,
        Ratio { counts: 2, beats: 1 },
        Ratio { counts: 3, beats: 1 },
        Ratio { counts: 4, beats: 1 },
    ];

    pub fn as_f64(self) -> f64 {
        f64::from(self.counts) / f64::from(self.beats)
    }

    /// The pulse at which beats of `tempo_bpm` come nearest to `counts_per_minute`, by ratio and not
    /// by difference: half and double are equally far. One to one where either is no tempo.
    pub fn nearest(tempo_bpm: f64, counts_per_minute: f64) -> Ratio {
        let wanted = (counts_per_minute / tempo_bpm).ln();
        if !wanted.is_finite() {
            return Ratio::ONE;
        }
        let distance = |r: &Ratio| (r.as_f64().ln() - wanted).abs();
        Ratio::ALL
            .into_iter()
            .min_by(|a, b| distance(a).total_cmp(&distance(b)))
            .unwrap_or(Ratio::ONE)
    }

    /// Counts to the bar where a bar has `beats_per_bar` beats.
    ///
    /// Fewer counts than beats: the bar's share of them, or the same number over several bars where
    /// it does not divide (three beats danced at half: three counts over two bars). More counts: up
    /// to six stay one bar; more are bars of three where a beat holds three, else bars of the size
    /// that was heard, as nobody counts a bar of eight.
    pub fn counts_per_bar(self, beats_per_bar: u32) -> u32 {
        if self.beats > 1 {
            let whole = beats_per_bar.is_multiple_of(self.beats);
            return if whole { beats_per_bar / self.beats } else { beats_per_bar };
        }
        match beats_per_bar.saturating_mul(self.counts) {
            few @ 0..=6 => few,
            _ if self.counts == 3 => 3,
            _ => beats_per_bar,
        }
    }
}

/// Times with the ones among them that start a bar.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Stretch {
    /// Seconds, ascending.
    pub times_s: Vec<f64>,
    /// 0-based indices into `times_s`, ascending.
    pub downbeats: Vec<usize>,
}

impl Stretch {
    /// Beats a minute, from the median interval; `None` with fewer than two beats.
    pub fn tempo_bpm(&self) -> Option<f64> {
        median_interval_s(&self.times_s).map(|interval| 60.0 / interval)
    }

    /// The counts of this stretch. `anchor` is a beat that must stay a count when beats are left out.
    pub fn at_pulse(&self, ratio: Ratio, anchor: usize, beats_per_bar: u32) -> Stretch {
        if ratio.beats > 1 {
            self.thinned(ratio.beats as usize, anchor, beats_per_bar)
        } else if ratio.counts > 1 {
            self.divided(ratio, beats_per_bar)
        } else {
            self.clone()
        }
    }

    /// The same beats, each bar starting so many beats later. Bars moved out of the song are gone.
    pub fn with_bars_moved(self, shift: isize) -> Stretch {
        let len = self.times_s.len();
        let moved = self.downbeats.iter().filter_map(|beat| beat.checked_add_signed(shift));
        Stretch { downbeats: moved.filter(|beat| *beat < len).collect(), times_s: self.times_s }
    }

    fn divided(&self, ratio: Ratio, beats_per_bar: u32) -> Stretch {
        let parts = ratio.counts as usize;
        let mut times_s = Vec::with_capacity(self.times_s.len() * parts);
        for pair in self.times_s.windows(2) {
            let step = (pair[1] - pair[0]) / parts as f64;
            times_s.extend((0..parts).map(|part| pair[0] + step * part as f64));
        }
        times_s.extend(self.times_s.last());
        let bar = ratio.counts_per_bar(beats_per_bar).max(1) as usize;
        let mut downbeats = Vec::new();
        for (place, &beat) in self.downbeats.iter().enumerate() {
            let end = self.downbeats.get(place + 1).map_or(times_s.len(), |next| next * parts);
            downbeats.extend((beat * parts..end).step_by(bar));
        }
        Stretch { times_s, downbeats }
    }

    fn thinned(&self, every: usize, anchor: usize, beats_per_bar: u32) -> Stretch {
        let bars_divide = (beats_per_bar as usize).is_multiple_of(every);
        let kept = kept_beats(self.times_s.len(), &self.downbeats, every, anchor, bars_divide);
        let on_count = |beat: &usize| kept.binary_search(beat).ok();
        let mut downbeats: Vec<usize> = self.downbeats.iter().filter_map(on_count).collect();
        if downbeats.is_empty() {
            // The user counts on the beats between: each bar starts with the count before its line.
            let before = |beat: &usize| kept.partition_point(|k| k <= beat).checked_sub(1);
            downbeats = self.downbeats.iter().filter_map(before).collect();
            downbeats.dedup();
        }
        Stretch { times_s: kept.iter().map(|&beat| self.times_s[beat]).collect(), downbeats }
    }
}

/// The beats that stay when only every `every`th is counted, `anchor` among them.
///
/// Where bars hold a whole number of counts, an odd bar in the song moves the counting with it, so
/// that counts stay on the downbeats: once two downbeats in a row agree on the new place. The count
/// before the odd bar line grows or shrinks to what is nearer a whole one, a tie growing.
fn kept_beats(
    len: usize,
    downbeats: &[usize],
    every: usize,
    anchor: usize,
    bars_divide: bool,
) -> Vec<usize> {
    let mut starts = vec![anchor % every];
    if bars_divide {
        // Where downbeats lie behind the counts; normally 0, unless the user counts between them.
        let mut usual = None;
        for (place, &beat) in downbeats.iter().enumerate().filter(|(_, beat)| **beat >= anchor) {
            let start = starts[starts.len() - 1];
            let behind = (beat - start) % every;
            let usual = *usual.get_or_insert(behind);
            let agreed = downbeats.get(place + 1).is_some_and(|n| (n - beat).is_multiple_of(every));
            if behind != usual && agreed && beat > start + usual {
                starts.push(beat - usual);
            }
        }
    }
    let mut kept: Vec<usize> = Vec::with_capacity(len / every + 1);
    for (place, &start) in starts.iter().enumerate() {
        let crowded = kept
            .last()
            .is_some_and(|&last| start <= last || (last > anchor && 2 * (start - last) <= every));
        if crowded {
            kept.pop();
        }
        let end = starts.get(place + 1).copied().unwrap_or(len).min(len);
        kept.extend((start..end).step_by(every));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(beats: usize, bar: usize) -> Stretch {
        Stretch {
            times_s: (0..beats).map(|b| b as f64).collect(),
            downbeats: (0..beats).step_by(bar).collect(),
        }
    }

    const HALF: Ratio = Ratio { counts: 1, beats: 2 };
    const DOUBLE: Ratio = Ratio { counts: 2, beats: 1 };

    #[test]
    fn the_nearest_pulse_is_found_by_ratio() {
        assert_eq!(Ratio::nearest(120.0, 60.0), HALF);
        assert_eq!(Ratio::nearest(120.0, 118.0), Ratio::ONE);
        assert_eq!(Ratio::nearest(60.0, 118.0), DOUBLE);
        assert_eq!(Ratio::nearest(60.0, 185.0).counts, 3);
        assert_eq!(Ratio::nearest(180.0, 59.0).beats, 3);
        for nonsense in [f64::NAN, f64::INFINITY, 0.0, -4.0] {
            assert_eq!(Ratio::nearest(nonsense, 100.0), Ratio::ONE);
            assert_eq!(Ratio::nearest(100.0, nonsense), Ratio::ONE);
        }
    }

    #[test]
    fn halving_keeps_the_downbeats() {
        let song = Stretch { downbeats: vec![1, 5, 9], ..steady(12, 4) };
        let half = song.at_pulse(HALF, 1, 4);
        assert_eq!(half.times_s, [1.0, 3.0, 5.0, 7.0, 9.0, 11.0]);
        assert_eq!(half.downbeats, [0, 2, 4]);
    }

    #[test]
    fn halving_a_waltz_gives_bars_of_three_over_two() {
        let half = steady(12, 3).at_pulse(HALF, 0, 3);
        assert_eq!(half.times_s, [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(half.downbeats, [0, 3]);
        assert_eq!(HALF.counts_per_bar(3), 3);
    }

    #[test]
    fn an_odd_bar_moves_the_counting_with_it() {
        let song = Stretch { downbeats: vec![0, 4, 9, 13, 17], ..steady(20, 4) };
        let half = song.at_pulse(HALF, 0, 4);
        // The last count of the bar of five is one and a half long; then counts are on 9, 11, …
        assert_eq!(half.times_s, [0., 2., 4., 6., 9., 11., 13., 15., 17., 19.]);
    }

    #[test]
    fn one_stray_downbeat_moves_nothing() {
        let song = Stretch { downbeats: vec![0, 4, 9, 12, 16], ..steady(20, 4) };
        let half = song.at_pulse(HALF, 0, 4);
        assert_eq!(half.times_s, [0., 2., 4., 6., 8., 10., 12., 14., 16., 18.]);
    }

    #[test]
    fn counting_between_the_downbeats_is_left_alone() {
        let half = steady(12, 4).at_pulse(HALF, 1, 4);
        assert_eq!(half.times_s, [1.0, 3.0, 5.0, 7.0, 9.0, 11.0]);
    }

    #[test]
    fn doubling_puts_counts_midway_and_splits_bars_of_eight() {
        let double = steady(9, 4).at_pulse(DOUBLE, 0, 4);
        assert_eq!(double.times_s.len(), 17);
        assert_eq!(double.times_s[1], 0.5);
        assert_eq!(double.downbeats, [0, 4, 8, 12, 16]);
        assert_eq!(DOUBLE.counts_per_bar(4), 4);
        assert_eq!(DOUBLE.counts_per_bar(2), 4);
    }

    #[test]
    fn nothing_at_all_stays_nothing() {
        for ratio in Ratio::ALL {
            assert_eq!(Stretch::default().at_pulse(ratio, 0, 4), Stretch::default());
            assert_eq!(Stretch::default().at_pulse(ratio, 7, 0), Stretch::default());
        }
    }
}
