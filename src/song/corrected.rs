//! The corrected grid: the user's corrections laid over what was heard.
//!
//! Input: a song map's heard grid, its tapped stretches, pulse and bars; output: a [`Grid`] whose beats
//! are counts. In order: the pulse is applied to what was heard and to each tapped stretch, tapped
//! stretches replace what was heard under them, then bars are laid.

use crate::rhythm::{Grid, OtherPulse, median_interval_s};
use crate::units::Beat;

use super::check::{LAST_S, NEAREST_S};
use super::map::SongMap;
use super::pulse::{Ratio, Stretch};

/// Bars where none were heard: four beats, the commonest.
const USUAL_BAR: u32 = 4;

/// The corrected grid, and what later steps must know of how it came about.
pub(crate) struct Corrected {
    /// Counts and bars.
    pub grid: Grid,
    /// Counts to heard beats.
    pub ratio: Ratio,
    /// Index of count 1 in the grid; `None` without beats.
    pub first: Option<usize>,
    heard: HeardBars,
}

impl Corrected {
    /// When a heard beat sounds. One on a bar line goes with it when the user moves the bars.
    pub fn time_of_heard(&self, beat: Beat, on_bar: bool) -> Option<f64> {
        self.heard.time_s(beat.0, if on_bar { self.heard.shift } else { 0 })
    }
}

impl SongMap {
    /// The beats as danced: tapped stretches, pulse, bar line and beats to the bar laid over what was
    /// heard. Its beats are counts, those before the first count included; times in seconds,
    /// ascending. Empty where nothing was heard or tapped.
    pub fn corrected_grid(&self) -> Grid {
        self.corrected().grid
    }

    pub(crate) fn corrected(&self) -> Corrected {
        let stretch = heard_stretch(self);
        let heard_bar = match self.heard.grid.beats_per_bar {
            0 => USUAL_BAR,
            beats => beats,
        };
        let wanted = self.set.pulse.map(|pulse| pulse.counts_per_minute);
        let ratio_of = |stretch: &Stretch| match (stretch.tempo_bpm(), wanted) {
            (Some(tempo), Some(wanted)) => Ratio::nearest(tempo, wanted),
            _ => Ratio::ONE,
        };
        let ratio = ratio_of(&stretch);
        let (heard, counts) = heard_counts(self, stretch, ratio, heard_bar);
        let mut line: Vec<Place> = places(&counts, ratio);
        for tapped in &self.set.tapped {
            let taps = Stretch { times_s: tapped.beats_s.clone(), downbeats: Vec::new() };
            if !is_ascending(&taps.times_s) || taps.times_s.len() < 2 {
                continue;
            }
            let ratio = ratio_of(&taps);
            let set = [self.set.first_count_s, self.set.bar_line_s];
            let anchor = set.into_iter().flatten().find_map(|time| inside(&taps.times_s, time));
            lay_over(&mut line, &taps.at_pulse(ratio, anchor.unwrap_or(0), heard_bar), ratio);
        }
        fill_last_beat(&mut line, self.recording.duration_s);
        let times_s: Vec<f64> = line.iter().map(|place| place.time_s).collect();
        let counts_per_bar =
            self.set.beats_per_bar.unwrap_or(ratio.counts_per_bar(heard_bar)).max(1);
        let first = first_count(self, &heard, &times_s);
        let downbeats = bars(self, &line, &times_s, first, counts_per_bar as usize);
        let first = match (self.set.first_count_s, self.set.bar_line_s, self.set.beats_per_bar) {
            // Bars laid anew throughout: counting starts with the one nearest to where it was heard to.
            (None, Some(_), Some(_)) => {
                downbeats.iter().copied().min_by_key(|b| b.abs_diff(first.unwrap_or(0))).or(first)
            }
            _ => first,
        };
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
        Corrected { grid, ratio, first, heard }
    }
}

/// Where the heard beats and their bars went.
struct HeardBars {
    /// Heard beats, or their counts where a beat holds several.
    fine_s: Vec<f64>,
    /// How many of `fine_s` there are to a heard beat.
    per_beat: usize,
    /// By how many of `fine_s` the user's bar line moves the bars; the shorter way, later on a tie.
    shift: isize,
    /// `fine_s` to the bar.
    bar: usize,
}

impl HeardBars {
    fn time_s(&self, beat: usize, shift: isize) -> Option<f64> {
        let place = beat.checked_mul(self.per_beat)?;
        // Moved to before the first beat: the bar after is the first whole one.
        let moved =
            place.checked_add_signed(shift).or(place.checked_add_signed(shift + self.bar as isize));
        self.fine_s.get(moved?).copied()
    }
}

/// What was heard, its bars moved to the user's bar line, at the pulse. Bars are moved at the finer of
/// the two levels, where the bar line certainly has a place.
fn heard_counts(
    map: &SongMap,
    heard: Stretch,
    ratio: Ratio,
    heard_bar: u32,
) -> (HeardBars, Stretch) {
    let anchor_of = |bars: &HeardBars| {
        let set = map.set.first_count_s.and_then(|time| inside(&bars.fine_s, time));
        let heard = map.heard.first_count_beat.0;
        let moved = || bars.time_s(heard, bars.shift).and_then(|t| nearest_index(&bars.fine_s, t));
        set.or_else(moved).unwrap_or(0)
    };
    let in_taps =
        |time: f64| map.set.tapped.iter().any(|tapped| inside(&tapped.beats_s, time).is_some());
    let line = map.set.bar_line_s.filter(|time| !in_taps(*time));
    let finer = if ratio.beats > 1 { heard } else { heard.at_pulse(ratio, 0, heard_bar) };
    let bar = if ratio.beats > 1 { heard_bar } else { ratio.counts_per_bar(heard_bar) };
    let to = line.and_then(|time| nearest_index(&finer.times_s, time));
    let mut bars = HeardBars {
        fine_s: Vec::new(),
        per_beat: ratio.counts.max(1) as usize,
        shift: to.map_or(0, |to| shift_of(&finer.downbeats, to, bar as usize)),
        bar: bar as usize,
    };
    let finer = finer.with_bars_moved(bars.shift);
    bars.fine_s = finer.times_s.clone();
    let counts = match ratio.beats {
        1 => finer,
        _ => finer.at_pulse(ratio, anchor_of(&bars), heard_bar),
    };
    (bars, counts)
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
    times_s.iter().all(|t| t.abs() <= LAST_S)
        && times_s.windows(2).all(|pair| pair[0] + NEAREST_S <= pair[1])
}

/// Index of the beat nearest to a time that lies in a stretch, or half an interval outside it.
fn inside(times_s: &[f64], time_s: f64) -> Option<usize> {
    let (first, last) = (times_s.first()?, times_s.last()?);
    let slack = median_interval_s(times_s).unwrap_or(0.0) / 2.0;
    let within = time_s >= first - slack && time_s <= last + slack;
    nearest_index(times_s, time_s).filter(|_| within)
}

/// Index of count 1: where the user set it, else where it was heard, moved with the bars.
fn first_count(map: &SongMap, heard: &HeardBars, times_s: &[f64]) -> Option<usize> {
    let set = map.set.first_count_s.filter(|t| t.is_finite());
    let time = set.or_else(|| heard.time_s(map.heard.first_count_beat.0, heard.shift));
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

/// Puts a tapped stretch in place of what lies under it. A beat less than half an interval outside,
/// the tapped or the usual one, is the first or last tap heard elsewhere, and goes too.
fn lay_over(line: &mut Vec<Place>, counts: &Stretch, ratio: Ratio) {
    let times = &counts.times_s;
    let [first, .., last] = times.as_slice() else {
        return;
    };
    let under: Vec<f64> = line.iter().map(|place| place.time_s).collect();
    let usual = median_interval_s(&under).unwrap_or(f64::INFINITY);
    let from = first - (times[1] - first).min(usual) / 2.0;
    let to = last + (last - times[times.len() - 2]).min(usual) / 2.0;
    line.retain(|place| place.time_s <= from || place.time_s >= to);
    let at = line.partition_point(|place| place.time_s <= from);
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

/// The counts that start a bar.
fn bars(
    map: &SongMap,
    line: &[Place],
    times_s: &[f64],
    first: Option<usize>,
    bar: usize,
) -> Vec<usize> {
    let heard: Vec<usize> = (0..line.len()).filter(|&i| line[i].downbeat).collect();
    let bar_line = map.set.bar_line_s.and_then(|time| nearest_index(times_s, time));
    let regular = map.set.beats_per_bar.is_some();
    if !regular && !heard.is_empty() {
        return fill_tapped(line, &heard, bar_line, bar);
    }
    let first_tap = || line.iter().position(|place| place.tapped);
    let start = bar_line.or_else(|| if regular { first } else { first_tap() });
    // Nothing heard and nothing set: where bars start is not known, and none are made up.
    start.map_or_else(Vec::new, |start| (start % bar..line.len()).step_by(bar).collect())
}

/// By how many counts bars move so that one starts at `to`; the shorter way round, later on a tie.
pub(super) fn shift_of(downbeats: &[usize], to: usize, bar: usize) -> isize {
    let before = downbeats.partition_point(|&beat| beat <= to).checked_sub(1);
    let later = match (before, downbeats.first()) {
        (Some(place), _) => (to - downbeats[place]) as isize,
        (None, Some(&first)) => to as isize - first as isize,
        (None, None) => 0,
    };
    let later = later.rem_euclid(bar.max(1) as isize);
    if 2 * later > bar as isize { later - bar as isize } else { later }
}

/// Bars through the tapped stretches: through the user's bar line where it lies in one, else they go
/// on from the downbeat before, or lead up to the one after.
fn fill_tapped(line: &[Place], heard: &[usize], bar_line: Option<usize>, bar: usize) -> Vec<usize> {
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
        let bar_line = bar_line.filter(|line| (beat..end).contains(line));
        let start = match (downbeats.last(), heard.iter().find(|&&b| b >= end)) {
            _ if bar_line.is_some() => {
                bar_line.and_then(|line| (beat..).find(|b| line.abs_diff(*b).is_multiple_of(bar)))
            }
            (Some(before), _) => (before + 1..).find(|b| *b >= beat && (b - before) % bar == 0),
            (None, Some(after)) => (beat..).find(|b| after.abs_diff(*b).is_multiple_of(bar)),
            (None, None) => Some(beat),
        };
        downbeats.extend((start.unwrap_or(beat)..end).step_by(bar));
        beat = end;
    }
    downbeats
}
