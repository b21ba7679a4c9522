//! One touch rights it: solving again with the user's corrections held fast.
//!
//! Input: what was heard unaided, what is set, and the sound; output: what is heard under the
//! corrections. Laid over that, the corrections change nothing more. What the user says holds wherever
//! the beat runs evenly on from it (as [`SongMap::corrected_grid`] lays it); where it does not (a
//! section at another level, a change of tempo, a stretch lost) the sound is followed anew.

use std::ops::Range;

use crate::rhythm::{self, Activations, Constraints, Grid, median_interval_s};
use crate::units::Beat;

use super::carry::carried;
use super::corrected::{nearest_index, shift_of};
use super::form::{self, Taught};
use super::json::rounded;
use super::lay::nearness;
use super::listen::counted;
use super::map::{Heard, SongMap, UserSet};
use super::pulse::{Ratio, Stretch};

/// Two intervals are of one level when they differ less than this, as a ratio.
const ALIKE: f64 = 1.3;
/// A rate further off than this, as a ratio, is another rate.
const NEAR: f64 = 1.15;
/// Beats fewer than this are no grid.
const FEWEST_BEATS: usize = 8;

impl UserSet {
    /// Whether anything is set that the beats depend on.
    pub(super) fn corrects_beats(&self) -> bool {
        !self.same_beats(&UserSet::default())
    }

    /// Whether phrases that are set, or taken away, may teach the others.
    fn teaches(&self) -> bool {
        let said = !self.phrases.is_empty() || !self.removed_s.is_empty();
        said && !self.phrases_complete
    }

    /// Whether both say the same of everything that what is heard depends on.
    pub(super) fn same_hearing(&self, other: &UserSet) -> bool {
        let phrases =
            |set: &UserSet| (set.phrases.clone(), set.removed_s.clone(), set.phrases_complete);
        self.same_beats(other) && phrases(self) == phrases(other)
    }

    /// Whether both say the same of first count, pulse, bars, beats and changes.
    pub(super) fn same_beats(&self, other: &UserSet) -> bool {
        let beats = |set: &UserSet| UserSet {
            first_count_s: set.first_count_s,
            pulse: set.pulse,
            bar_line_s: set.bar_line_s,
            beats_per_bar: set.beats_per_bar,
            tapped: set.tapped.clone(),
            changes_s: set.changes_s.clone(),
            ..UserSet::default()
        };
        beats(self) == beats(other)
    }
}

impl SongMap {
    /// What was heard before any correction was held fast.
    pub fn heard_unaided(&self) -> &Heard {
        self.unaided.as_deref().unwrap_or(&self.heard)
    }

    /// Renews what was heard under what is set. Without the sound, or where it gives nothing under
    /// these corrections, what was heard unaided stands, for the corrections to be laid over it.
    pub fn hear_again(&mut self, sound: Option<&rhythm::Heard>) {
        if let Some(unaided) = self.unaided.take() {
            self.heard = *unaided;
        }
        let Some(sound) = sound else { return };
        let unaided = self.heard.clone();
        let grid = self.set.corrects_beats().then(|| grid_under_corrections(self, sound)).flatten();
        let first = grid.as_ref().and_then(|grid| first_of(&self.set, grid));
        let suggested = |grid: Grid| rounded_to_file(counted(&sound.features, grid, first));
        match (grid, first) {
            // What is taught gives the phrases; they are not suggested twice, which takes long.
            (Some(grid), Some(first)) if self.set.teaches() => {
                let beats =
                    Heard { grid: grid.clone(), first_count_beat: first, ..Heard::default() };
                self.heard = rounded_to_file(beats);
                self.heard = self.taught(sound).unwrap_or_else(|| suggested(grid));
            }
            (grid, _) => {
                if let Some(grid) = grid {
                    self.heard = suggested(grid);
                }
                if let Some(heard) = self.taught(sound) {
                    self.heard = heard;
                }
            }
        }
        if self.heard != unaided {
            self.unaided = Some(Box::new(unaided));
        }
    }

    /// The same song with its beats alone renewed, to be looked at: phrases are not heard anew, which takes long. `None`
    /// where nothing else comes of it.
    pub(crate) fn with_beats_heard_again(&self, sound: &rhythm::Heard) -> Option<SongMap> {
        let unaided = self.heard_unaided().clone();
        let plain = SongMap { heard: unaided.clone(), unaided: None, ..self.clone() };
        let grid = grid_under_corrections(&plain, sound)?;
        if grid == unaided.grid {
            return None;
        }
        let first_s = unaided.grid.beats_s.get(unaided.first_count_beat.0);
        let first = first_s.and_then(|&first_s| nearest_index(&grid.beats_s, first_s));
        let heard = Heard {
            first_count_beat: Beat(first.unwrap_or(0)),
            grid,
            phrases: Vec::new(),
            other_waits: Vec::new(),
            entrance: None,
        };
        let heard = rounded_to_file(heard);
        Some(SongMap { heard, unaided: Some(Box::new(unaided)), ..plain })
    }

    /// What is heard when the phrases that are set, and those taken away, teach the others.
    fn taught(&self, sound: &rhythm::Heard) -> Option<Heard> {
        if self.set.phrases_complete || self.heard.grid.beats_s.is_empty() {
            return None;
        }
        let view = self.view().ok()?;
        let grid = &self.heard.grid;
        let beat = |time_s: f64| nearest_index(&grid.beats_s, time_s).map(Beat);
        let taught = Taught {
            starts: view.phrases.iter().filter(|p| p.set).filter_map(|p| beat(p.start_s)).collect(),
            none: self.set.removed_s.iter().filter_map(|&time_s| beat(time_s)).collect(),
        };
        if taught.is_empty() {
            return None;
        }
        let first = self.set.first_count_s.and_then(beat);
        let near = nearness(view.counts_per_bar) as usize;
        let form = form::suggest_taught(&sound.features, grid, first, &taught, near);
        let mut heard = self.heard.clone();
        (heard.phrases, heard.other_waits) = (form.phrases, form.other_waits);
        heard.entrance = form.entrance;
        Some(rounded_to_file(heard))
    }
}

/// Beats and bars when what `map` has set holds. `map.heard` is what was heard unaided.
fn grid_under_corrections(map: &SongMap, sound: &rhythm::Heard) -> Option<Grid> {
    let set = &map.set;
    let unaided = Stretch { times_s: map.heard.grid.beats_s.clone(), downbeats: Vec::new() };
    let tempo = unaided.tempo_bpm();
    let wanted = set.pulse.map(|pulse| pulse.counts_per_minute);
    let ratio = match (tempo, wanted) {
        (Some(tempo), Some(wanted)) => Ratio::nearest(tempo, wanted),
        _ => Ratio::ONE,
    };
    // Whether the pulse wanted is one of those that can be laid on the beats heard.
    let laid = match (tempo, wanted) {
        (Some(tempo), Some(wanted)) => near(tempo * ratio.as_f64(), wanted),
        _ => true,
    };
    let as_heard = laid
        && ratio == Ratio::ONE
        && tempo.is_some()
        && wanted.is_none_or(|wanted| goes_at(&unaided.times_s, wanted));
    let solved = !as_heard
        || !set.tapped.is_empty()
        || !set.changes_s.is_empty()
        || set.beats_per_bar.is_some();
    let mut grid = match solved {
        false => map.heard.grid.clone(),
        true => solve(map, sound, wanted, ratio, laid)?,
    };
    start_bars(&mut grid, set);
    Some(grid)
}

fn solve(
    map: &SongMap,
    sound: &rhythm::Heard,
    wanted: Option<f64>,
    ratio: Ratio,
    laid: bool,
) -> Option<Grid> {
    let set = &map.set;
    let heard = &map.heard.grid;
    let corrected = map.corrected();
    let mut expected = Expected::default();
    let mut rate = wanted;
    if laid && !heard.beats_s.is_empty() {
        expected.expect_laid(&heard.beats_s, &corrected.grid.beats_s);
        rate = rate.or(expected.expect_taps(map, sound, ratio));
    }
    let mut taps: Vec<Vec<f64>> =
        set.tapped.iter().map(|tapped| taps_at(&tapped.beats_s, rate)).collect();
    let unlike = |taps: &Vec<f64>| {
        median_interval_s(taps)
            .zip(rate)
            .is_some_and(|(interval, rate)| !within(60.0 / interval, rate, ALIKE))
    };
    let rate = rate.filter(|_| !taps.iter().any(unlike));
    if wanted.is_none() && taps.is_empty() && set.changes_s.is_empty() {
        // Only the bars are to be found anew.
        taps = unbroken(&heard.beats_s);
    }
    let constraints = Constraints {
        taps,
        beats_per_minute: rate,
        beats_per_bar: set.beats_per_bar.or_else(|| {
            // A bar heard is divided into bars that are counted: the ear has no such bars.
            (ratio.counts > 1 && laid).then_some(corrected.grid.beats_per_bar)
        }),
        changes_s: set.changes_s.clone(),
        ..Constraints::default()
    };
    let activations = expected.laid_over(&sound.activations);
    let mut grid = rhythm::solve(&activations, &sound.features, &constraints).ok()?;
    let reached = median_interval_s(&grid.beats_s).map(|interval| 60.0 / interval)?;
    if grid.beats_s.len() < FEWEST_BEATS || wanted.is_some_and(|rate| !near(reached, rate)) {
        return None;
    }
    if rate.is_none() && !heard.beats_s.is_empty() {
        // How sure it is comes from the sound, not from what was laid over it.
        grid.tempo_confidence = grid.tempo_confidence.min(heard.tempo_confidence);
        grid.grid_confidence = grid.grid_confidence.min(heard.grid_confidence);
    }
    Some(grid)
}

/// Whether beats go at a rate, but for single ones and pauses.
fn goes_at(beats_s: &[f64], rate: f64) -> bool {
    /// One in so many beats at another rate is a stretch of the song.
    const A_PART: usize = 20;
    let rates = beats_s.windows(2).map(|pair| 60.0 / (pair[1] - pair[0]).max(1e-3));
    let off = rates.filter(|r| !within(*r, rate, ALIKE) && *r > rate / 2.5).count();
    A_PART * off < beats_s.len()
}

/// Whether taps say that the beats heard around them are wrong, in pace or place.
fn deny(taps_s: &[f64], heard_s: &[f64]) -> bool {
    /// Of an interval: tapping scatters by a few hundredths of a second.
    const SCATTER: f64 = 0.2;
    let (Some(interval), [first, .., last]) = (median_interval_s(taps_s), taps_s) else {
        return false;
    };
    let apart = |tap: f64| {
        nearest_index(heard_s, tap).is_none_or(|k| (heard_s[k] - tap).abs() > SCATTER * interval)
    };
    let half = interval / 2.0;
    let heard = heard_s.partition_point(|&t| t < last + half)
        - heard_s.partition_point(|&t| t < first - half);
    let off = taps_s.iter().filter(|&&tap| apart(tap)).count();
    4 * off > taps_s.len() || heard.abs_diff(taps_s.len()) * 4 > taps_s.len()
}

/// The beat on which the first count that is set falls.
fn first_of(set: &UserSet, grid: &Grid) -> Option<Beat> {
    nearest_index(&grid.beats_s, set.first_count_s?).map(Beat)
}

/// Times and likelihoods as the map's file keeps them, so that what is solved from a map just made and
/// from one read again is the same.
pub(super) fn rounded_to_file(mut heard: Heard) -> Heard {
    let grid = &mut heard.grid;
    grid.beats_s.iter_mut().for_each(|time| *time = rounded(*time));
    for value in [&mut grid.tempo_bpm, &mut grid.tempo_confidence, &mut grid.grid_confidence] {
        *value = rounded(*value);
    }
    for other in &mut grid.other_pulses {
        for value in [&mut other.tempo_bpm, &mut other.ratio, &mut other.score] {
            *value = rounded(*value);
        }
    }
    heard.phrases.iter_mut().for_each(|phrase| phrase.strength = rounded(phrase.strength));
    heard
}

fn within(a: f64, b: f64, ratio: f64) -> bool {
    a / b < ratio && b / a < ratio
}

fn near(a: f64, b: f64) -> bool {
    within(a, b, NEAR)
}

/// Beats in stretches without a pause.
fn unbroken(beats_s: &[f64]) -> Vec<Vec<f64>> {
    let usual = median_interval_s(beats_s).unwrap_or(1.0);
    beats_s.chunk_by(|a, b| b - a < 2.5 * usual).map(<[f64]>::to_vec).collect()
}

/// Taps as counts at the rate.
fn taps_at(times_s: &[f64], rate: Option<f64>) -> Vec<f64> {
    let taps = Stretch { times_s: times_s.to_vec(), downbeats: Vec::new() };
    match (taps.tempo_bpm(), rate) {
        (Some(tempo), Some(rate)) => {
            let ratio = Ratio::nearest(tempo, rate);
            if near(tempo * ratio.as_f64(), rate) {
                taps.at_pulse(ratio, 0, 4).times_s
            } else {
                taps.times_s
            }
        }
        _ => taps.times_s,
    }
}

/// Bars through what the user set: each change starts a bar, and so does the bar line, or else count
/// 1, or else the first tap, between the changes around it.
fn start_bars(grid: &mut Grid, set: &UserSet) {
    let mut changes: Vec<usize> =
        set.changes_s.iter().filter_map(|&time| nearest_index(&grid.beats_s, time)).collect();
    changes.sort_unstable();
    changes.dedup();
    let line = set.bar_line_s.or(set.first_count_s).or(first_tap_s(set));
    let line = line.and_then(|time| nearest_index(&grid.beats_s, time));
    let mut start = 0;
    for end in changes.iter().copied().chain([grid.beats_s.len()]) {
        let stretch = start..end;
        let anchor = line.filter(|line| stretch.contains(line)).or((start > 0).then_some(start));
        if let Some(anchor) = anchor {
            move_bars(grid, stretch, anchor);
        }
        start = end;
    }
}

/// The first tap of the stretch tapped last, where that is so short that whoever tapped it began on a 1:
/// who taps a bar or a few does, who taps a song may begin with its pickup.
fn first_tap_s(set: &UserSet) -> Option<f64> {
    const FEW: usize = 17;
    let tapped = set.tapped.last().filter(|tapped| tapped.beats_s.len() <= FEW)?;
    tapped.beats_s.first().copied()
}

/// Moves the bars of a stretch of beats so that one starts at `to`. Where none did and one of them is of
/// another length than the rest, that one was a makeshift between right bars and wrong: they are then laid
/// alike throughout.
fn move_bars(grid: &mut Grid, stretch: Range<usize>, to: usize) {
    let inside: Vec<usize> =
        grid.downbeats.iter().map(|b| b.0).filter(|b| stretch.contains(b)).collect();
    let bar = match inside.as_slice() {
        [.., before, last] if inside.len() == 2 => last - before,
        _ => {
            let mut lengths: Vec<usize> = inside.windows(2).map(|w| w[1] - w[0]).collect();
            lengths.sort_unstable();
            lengths.get(lengths.len() / 2).copied().unwrap_or(grid.beats_per_bar.max(1) as usize)
        }
    };
    let shift = shift_of(&inside, to, bar);
    if shift != 0 && inside.windows(2).any(|w| w[1] - w[0] != bar) {
        let first = stretch.start + (to - stretch.start) % bar.max(1);
        grid.downbeats.retain(|beat| !stretch.contains(&beat.0));
        grid.downbeats.extend((first..stretch.end).step_by(bar.max(1)).map(Beat));
        grid.downbeats.sort_unstable();
        return;
    }
    let mut moved: Vec<usize> = inside
        .iter()
        .filter_map(|beat| beat.checked_add_signed(shift))
        .filter(|beat| stretch.contains(beat))
        .collect();
    // Bars that moved away from an end leave room for another.
    while let Some(before) = moved.first().and_then(|first| first.checked_sub(bar))
        && stretch.contains(&before)
    {
        moved.insert(0, before);
    }
    while let Some(after) = moved.last().map(|last| last + bar)
        && stretch.contains(&after)
    {
        moved.push(after);
    }
    if moved.is_empty() {
        moved.push(to);
    }
    grid.downbeats.retain(|beat| !stretch.contains(&beat.0));
    grid.downbeats.extend(moved.into_iter().map(Beat));
    grid.downbeats.sort_unstable();
}

/// Where the corrections put beats, and where they leave none, over even stretches.
#[derive(Debug, Default)]
struct Expected {
    beats_s: Vec<f64>,
    none_s: Vec<f64>,
    /// Stretches, from and to, with no beats but these.
    only_s: Vec<(f64, f64)>,
}

impl Expected {
    /// What laying the corrections over the beats heard says, where those run evenly.
    fn expect_laid(&mut self, heard_s: &[f64], laid_s: &[f64]) {
        let Some(usual) = median_interval_s(heard_s) else { return };
        let even = |pair: &[f64]| within(pair[1] - pair[0], usual, ALIKE);
        let is_in = |times_s: &[f64], time: f64| {
            nearest_index(times_s, time).is_some_and(|k| (times_s[k] - time).abs() < usual / 8.0)
        };
        for pair in heard_s.windows(2).filter(|pair| even(pair)) {
            let from = laid_s.partition_point(|&time| time < pair[0] - 1e-6);
            let here = laid_s[from..].iter().take_while(|&&time| time < pair[1] - 1e-6);
            self.beats_s.extend(here);
        }
        let around = heard_s.windows(3).filter(|three| even(&three[..2]) && even(&three[1..]));
        let left_out = around.map(|three| three[1]).filter(|&time| !is_in(laid_s, time));
        self.none_s.extend(left_out);
    }

    /// What taps that deny the beats heard around them say of the others: that the pulse tapped runs on,
    /// as far as it meets what was heard. Where that is most of the song, the taps' pace is returned, as
    /// the song's.
    fn expect_taps(&mut self, map: &SongMap, sound: &rhythm::Heard, ratio: Ratio) -> Option<f64> {
        let heard = &map.heard.grid.beats_s;
        let mut pace = None;
        for tapped in map.set.tapped.iter().filter(|_| ratio == Ratio::ONE) {
            let taps = &tapped.beats_s;
            let Some(interval) = median_interval_s(taps).filter(|_| deny(taps, heard)) else {
                continue;
            };
            let beats = carried(taps, heard, &sound.activations);
            let all = beats.iter().chain(taps);
            let from_s = all.clone().copied().fold(f64::INFINITY, f64::min) - interval / 2.0;
            let to_s = all.copied().fold(0.0, f64::max) + interval / 2.0;
            let outside = |time: &f64| !(from_s..=to_s).contains(time);
            self.beats_s.retain(outside);
            self.none_s.retain(outside);
            self.only_s.push((from_s, to_s));
            if (to_s - from_s) * 2.0 > sound.activations.duration_s() {
                pace = Some(60.0 / interval);
            }
            self.beats_s.extend(beats);
        }
        pace
    }

    /// The activations with all of it made likely or unlikely.
    fn laid_over(&self, heard: &Activations) -> Activations {
        const LIKELY: f32 = 0.9;
        const BESIDE: f32 = 0.3;
        const UNLIKELY: f32 = 0.01;
        let mut activations = heard.clone();
        let frame = |time: f64| (time * heard.frames_per_second).round().max(0.0) as usize;
        let around = |centre: usize, reach: usize| {
            (centre.saturating_sub(reach)..=centre + reach).map(move |k| (k, k.abs_diff(centre)))
        };
        for &(from_s, to_s) in &self.only_s {
            let to = frame(to_s).min(activations.beat.len());
            activations.beat[frame(from_s).min(to)..to]
                .iter_mut()
                .for_each(|p| *p = p.min(UNLIKELY));
        }
        for &time in &self.none_s {
            for (k, _) in around(frame(time), 2) {
                if let Some(p) = activations.beat.get_mut(k) {
                    *p = p.min(UNLIKELY);
                }
            }
        }
        for &time in &self.beats_s {
            for (k, away) in around(frame(time), 1) {
                let least = if away == 0 { LIKELY } else { BESIDE };
                if let Some(p) = activations.beat.get_mut(k) {
                    *p = p.max(least);
                }
            }
        }
        activations
    }
}
