//! The corrected grid: the user's corrections laid over what was heard.
//!
//! Input: a song map's heard grid, its tapped stretches, pulse and bars; output: a [`Grid`] whose beats
//! are counts. In order: the pulse is applied to what was heard and to each tapped stretch, tapped
//! stretches replace what was heard under them, then bars are laid.

use crate::rhythm::{Grid, OtherPulse};
use crate::units::Beat;

use super::map::SongMap;
use super::pulse::{Ratio, Stretch, median_interval_s};

/// Bars where none were heard: four beats, the commonest.
const USUAL_BAR: u32 = 4;

/// The corrected grid, and what later steps must know of how it came about.
pub(crate) struct Corrected {
    /// Counts and bars.
    pub grid: Grid,
    /// Counts to heard beats.
    pub ratio: Ratio,
    /// By how many counts the user's bar line moves the bars that were heard.
    pub bar_shift: isize,
}

impl SongMap {
    /// The beats as danced: tapped stretches, pulse, bar line and beats to the bar laid over what was
    /// heard. Its beats are counts, those before the first count included; times in seconds,
    /// ascending. Empty where nothing was heard or tapped.
    pub fn corrected_grid(&self) -> Grid {
        self.corrected().grid
    }

    pub(crate) fn corrected(&self) -> Corrected {
        let heard = heard_stretch(self);
        let heard_bar = match self.heard.grid.beats_per_bar {
            0 => USUAL_BAR,
            beats => beats,
        };
        let wanted = self.set.pulse.map(|pulse| pulse.counts_per_minute);
        let ratio_of = |stretch: &Stretch| match (stretch.tempo_bpm(), wanted) {
            (Some(tempo), Some(wanted)) => Ratio::nearest(tempo, wanted),
            _ => Ratio::ONE,
        };
        let ratio = ratio_of(&heard);
        let counts = heard.at_pulse(ratio, anchor(self, &heard, true), heard_bar);
        let mut line: Vec<Place> = places(&counts, ratio);
        for tapped in &self.set.tapped {
            let taps = Stretch { times_s: tapped.beats_s.clone(), downbeats: Vec::new() };
            if !is_ascending(&taps.times_s) || taps.times_s.len() < 2 {
                continue;
            }
            let ratio = ratio_of(&taps);
            let counts = taps.at_pulse(ratio, anchor(self, &taps, false), heard_bar);
            lay_over(&mut line, &counts, ratio);
        }
        fill_last_beat(&mut line, self.recording.duration_s);
        let times_s: Vec<f64> = line.iter().map(|place| place.time_s).collect();
        let counts_per_bar =
            self.set.beats_per_bar.unwrap_or(ratio.counts_per_bar(heard_bar)).max(1);
        let (downbeats, bar_shift) = bars(self, &line, &times_s, counts_per_bar as usize);
        let tempo_bpm = match median_interval_s(&times_s) {
            Some(interval) if !self.set.tapped.is_empty() => 60.0 / interval,
            Some(interval) if self.heard.grid.tempo_bpm <= 0.0 => 60.0 / interval,
            _ => self.heard.grid.tempo_bpm * ratio.as_f64(),
        };
        let other = |p: &OtherPulse| OtherPulse { ratio: p.ratio / ratio.as_f64(), ..p.clone() };
        let grid = Grid {
            tempo_bpm,
            beats_s: times_s,
            downbeats: downbeats.into_iter().map(Beat).collect(),
            beats_per_bar: counts_per_bar,
            other_pulses: self.heard.grid.other_pulses.iter().map(other).collect(),
            ..self.heard.grid.clone()
        };
        Corrected { grid, ratio, bar_shift }
    }
}

/// A count on its way into the grid.
struct Place {
    time_s: f64,
    downbeat: bool,
    tapped: bool,
    /// Counts to a beat of the stretch it comes from, when more than one.
    division: u32,
}

fn places(counts: &Stretch, ratio: Ratio) -> Vec<Place> {
    let mut line: Vec<Place> = counts
        .times_s
        .iter()
        .map(|&time_s| Place { time_s, downbeat: false, tapped: false, division: ratio.counts })
        .collect();
    for &beat in &counts.downbeats {
        if let Some(place) = line.get_mut(beat) {
            place.downbeat = true;
        }
    }
    line
}

/// What was heard, so far as it is sound: a map made by hand may hold anything.
fn heard_stretch(map: &SongMap) -> Stretch {
    let grid = &map.heard.grid;
    if !is_ascending(&grid.beats_s) {
        return Stretch::default();
    }
    let mut downbeats: Vec<usize> =
        grid.downbeats.iter().map(|b| b.0).filter(|&b| b < grid.beats_s.len()).collect();
    downbeats.sort_unstable();
    downbeats.dedup();
    Stretch { times_s: grid.beats_s.clone(), downbeats }
}

fn is_ascending(times_s: &[f64]) -> bool {
    times_s.iter().all(|t| t.is_finite()) && times_s.windows(2).all(|pair| pair[0] < pair[1])
}

/// The beat of a stretch that must stay a count: the first count the user set, else the user's bar
/// line, where they lie in it; else the first count that was heard, or the stretch's first beat.
fn anchor(map: &SongMap, stretch: &Stretch, is_heard: bool) -> usize {
    let (Some(&first), Some(&last)) = (stretch.times_s.first(), stretch.times_s.last()) else {
        return 0;
    };
    let slack = median_interval_s(&stretch.times_s).unwrap_or(0.0) / 2.0;
    let inside = |t: &f64| *t >= first - slack && *t <= last + slack;
    let set = [map.set.first_count_s, map.set.bar_line_s];
    match set.into_iter().flatten().find(inside) {
        Some(time) => nearest_index(&stretch.times_s, time).unwrap_or(0),
        None if is_heard => map.heard.first_count_beat.0.min(stretch.times_s.len() - 1),
        None => 0,
    }
}

/// Index of the count on which counting starts, before the user's bar line moves it: the one the user
/// set, else the one that was heard.
pub(crate) fn first_count(map: &SongMap, times_s: &[f64]) -> Option<usize> {
    let heard = || map.heard.grid.beats_s.get(map.heard.first_count_beat.0).copied();
    let set = map.set.first_count_s.filter(|t| t.is_finite());
    let time = set.or_else(heard).filter(|t| t.is_finite());
    time.and_then(|time| nearest_index(times_s, time)).or(times_s.first().map(|_| 0))
}

/// Index of the time nearest to `time_s`, the earlier of two as near.
pub(crate) fn nearest_index(times_s: &[f64], time_s: f64) -> Option<usize> {
    let after = times_s.partition_point(|&t| t < time_s);
    let distance = |i: &usize| (times_s[*i] - time_s).abs();
    [after.checked_sub(1), Some(after)]
        .into_iter()
        .flatten()
        .filter(|&i| i < times_s.len())
        .min_by(|a, b| distance(a).total_cmp(&distance(b)))
}

/// Puts a tapped stretch in place of what lies under it. A beat less than half an interval outside
/// is the first or last tap heard elsewhere, and goes too.
fn lay_over(line: &mut Vec<Place>, counts: &Stretch, ratio: Ratio) {
    let times = &counts.times_s;
    let [first, .., last] = times.as_slice() else {
        return;
    };
    let from = first - (times[1] - first) / 2.0;
    let to = last + (last - times[times.len() - 2]) / 2.0;
    line.retain(|place| place.time_s < from || place.time_s > to);
    let at = line.partition_point(|place| place.time_s < from);
    let tapped = places(counts, ratio).into_iter().map(|place| Place { tapped: true, ..place });
    line.splice(at..at, tapped);
}

/// A divided last beat has its later counts too, so far as the recording goes on.
fn fill_last_beat(line: &mut Vec<Place>, duration_s: f64) {
    let [.., before, last] = line.as_slice() else {
        return;
    };
    let (step, from, division, tapped) =
        (last.time_s - before.time_s, last.time_s, last.division, last.tapped);
    for part in 1..division {
        let time_s = from + step * f64::from(part);
        if time_s < duration_s {
            line.push(Place { time_s, downbeat: false, tapped, division });
        }
    }
}

/// The downbeats, and the counts by which the user's bar line moved them.
fn bars(map: &SongMap, line: &[Place], times_s: &[f64], bar: usize) -> (Vec<usize>, isize) {
    let heard: Vec<usize> = (0..line.len()).filter(|&i| line[i].downbeat).collect();
    let bar_line = map.set.bar_line_s.and_then(|time| nearest_index(times_s, time));
    let regular = map.set.beats_per_bar.is_some();
    if regular || heard.is_empty() {
        let first_tap = || line.iter().position(|place| place.tapped);
        let start =
            bar_line.or_else(|| if regular { first_count(map, times_s) } else { first_tap() });
        // Nothing heard and nothing set: where bars start is not known, and none are made up.
        let Some(start) = start else {
            return (Vec::new(), 0);
        };
        let shift = bar_line.map_or(0, |to| shift_of(&heard, to, bar));
        return ((start % bar..line.len()).step_by(bar).collect(), shift);
    }
    let filled = fill_tapped(line, &heard, bar);
    let shift = bar_line.map_or(0, |to| shift_of(&filled, to, bar));
    let moved = filled.iter().filter_map(|&beat| beat.checked_add_signed(shift));
    (moved.filter(|&beat| beat < line.len()).collect(), shift)
}

/// By how many counts bars move so that one starts at `to`; the shorter way round, later on a tie.
fn shift_of(downbeats: &[usize], to: usize, bar: usize) -> isize {
    let before = downbeats.partition_point(|&beat| beat <= to).checked_sub(1);
    let later = match (before, downbeats.first()) {
        (Some(place), _) => (to - downbeats[place]) as isize,
        (None, Some(&first)) => to as isize - first as isize,
        (None, None) => 0,
    };
    let later = later.rem_euclid(bar.max(1) as isize);
    if 2 * later > bar as isize { later - bar as isize } else { later }
}

/// Bars through the tapped stretches: they go on from the downbeat before, or lead up to the one after.
fn fill_tapped(line: &[Place], heard: &[usize], bar: usize) -> Vec<usize> {
    let mut downbeats = Vec::with_capacity(heard.len());
    let mut beat = 0;
    while beat < line.len() {
        if !line[beat].tapped {
            if line[beat].downbeat {
                downbeats.push(beat);
            }
            beat += 1;
            continue;
        }
        let end = (beat..line.len()).find(|&b| !line[b].tapped).unwrap_or(line.len());
        let start = match (downbeats.last(), heard.iter().find(|&&b| b >= end)) {
            (Some(before), _) => (before + 1..).find(|b| *b >= beat && (b - before) % bar == 0),
            (None, Some(after)) => (beat..).find(|b| after.abs_diff(*b).is_multiple_of(bar)),
            (None, None) => Some(beat),
        };
        downbeats.extend((start.unwrap_or(beat)..end).step_by(bar));
        beat = end;
    }
    downbeats
}
