//! Counts and phrases: the user's marks laid over what was heard.
//!
//! Input: a song map; output: its [`SongView`]. Times come from the corrected grid alone.

use std::collections::BTreeMap;

use crate::error::{Error, Result};
use crate::units::Count;
use crate::warning::Warning;

use super::corrected::{Corrected, first_count, nearest_index};
use super::map::{SetPhrase, SongMap};
use super::pulse::median_interval_s;
use super::view::{CountLine, Phrase, SongView};

/// What the counts before the first phrase are called.
const IMPLICIT: &str = "intro";

impl SongMap {
    /// The song as it is danced: counts from the first count on, and its phrases without holes.
    ///
    /// Phrases are the suggestions, overlaid by what the user marked:
    /// - a marked phrase supersedes the suggestions less than a bar from it. No phrase is shorter than
    ///   a bar, so a suggestion that near is the same start, heard less well;
    /// - a suggestion less than a bar from a start that the user took away stays away;
    /// - when the user gave the whole form, no suggestion is shown;
    /// - the last phrase that starts at or before count 1 is the one heard there. Without one, the
    ///   counts before the first phrase are an intro.
    ///
    /// # Errors
    /// [`Error::NoPulse`] when there are no beats to count.
    pub fn view(&self) -> Result<SongView> {
        let laid = self.laid()?;
        Ok(laid.view)
    }

    /// Marks that are kept but have no effect: outside the counted beats, or two on one count.
    pub fn warnings(&self) -> Vec<Warning> {
        self.laid().map_or_else(|_| Vec::new(), |laid| laid.warnings)
    }

    fn laid(&self) -> Result<Laid> {
        let corrected = self.corrected();
        let counts = count_line(self, &corrected).ok_or_else(|| Error::NoPulse {
            path: self.recording.file.clone().into(),
            why: "its song map holds no beats".into(),
        })?;
        let counts_per_minute = match median_interval_s(&counts.times_s) {
            Some(interval) => 60.0 / interval,
            None => corrected.grid.tempo_bpm,
        };
        let (phrases, warnings) = phrases(self, &corrected, &counts);
        let recording = &self.recording;
        let view = SongView {
            title: recording.title.clone().unwrap_or_else(|| recording.file.clone()),
            artist: recording.artist.clone(),
            duration_s: recording.duration_s,
            counts_per_minute,
            counts_per_bar: corrected.grid.beats_per_bar,
            counts_per_beat: corrected.ratio.as_f64(),
            counts,
            phrases,
        };
        Ok(Laid { view, warnings })
    }
}

struct Laid {
    view: SongView,
    warnings: Vec<Warning>,
}

/// Index of count 1 in the corrected grid.
pub(super) fn first_index(map: &SongMap, corrected: &Corrected) -> Option<usize> {
    let times = &corrected.grid.beats_s;
    let first = first_count(map, times)?;
    if map.set.first_count_s.is_some() {
        return Some(first);
    }
    // Counting was heard to start with a bar; when the user moves the bars, it moves with them.
    let moved = first as isize + corrected.bar_shift;
    let moved = if moved < 0 { moved + corrected.grid.beats_per_bar as isize } else { moved };
    Some(moved.clamp(0, times.len() as isize - 1) as usize)
}

fn count_line(map: &SongMap, corrected: &Corrected) -> Option<CountLine> {
    let first = first_index(map, corrected)?;
    let mut times_s = corrected.grid.beats_s[first..].to_vec();
    let mut bar_positions = corrected.grid.bar_positions().split_off(first);
    let last = *times_s.last()?;
    let recent = &times_s[times_s.len().saturating_sub(5)..];
    let period = median_interval_s(recent).or(median_interval_s(&corrected.grid.beats_s));
    let over = last + period.unwrap_or(0.5);
    let duration = map.recording.duration_s;
    let mut end_s = if duration > last { over.min(duration) } else { over };
    if let Some(set) = map.set.end_s.filter(|t| t.is_finite()) {
        let beyond = set > last + (over - last) / 2.0;
        if let Some(end) = nearest_index(&times_s, set).filter(|&end| end > 0 && !beyond) {
            end_s = times_s[end];
            times_s.truncate(end);
            bar_positions.truncate(end);
        }
    }
    Some(CountLine { times_s, bar_positions, end_s })
}

/// A phrase start on its way into the view.
#[derive(Clone)]
struct Start {
    label: String,
    set: bool,
    strength: f64,
    /// Where the mark itself lies, seconds.
    mark_s: f64,
}

fn phrases(
    map: &SongMap,
    corrected: &Corrected,
    counts: &CountLine,
) -> (Vec<Phrase>, Vec<Warning>) {
    let (mut starts, warnings) = set_starts(&map.set.phrases, counts);
    if !map.set.phrases_complete {
        let suggestions = suggestions(map, corrected, counts);
        let near = nearness(corrected.grid.beats_per_bar);
        let taken: Vec<i32> = starts.keys().copied().collect();
        let removed = map.set.removed_s.iter().filter(|t| t.is_finite());
        let removed: Vec<i32> =
            removed.filter_map(|&t| counts.nearest(t)).map(|count| count.0).collect();
        for (count, start) in suggestions {
            let close = |others: &[i32]| others.iter().any(|o| (o - count).abs() < near);
            if !close(&taken) && !close(&removed) {
                starts.insert(count, start);
            }
        }
    }
    starts.entry(Count::FIRST.0).or_insert_with(|| Start {
        label: IMPLICIT.into(),
        set: false,
        strength: 0.0,
        mark_s: counts.times_s[0],
    });
    let ends = starts.keys().skip(1).copied().chain([counts.end().0]).collect::<Vec<_>>();
    let phrases = starts.into_iter().zip(ends).map(|((start, mark), end)| Phrase {
        label: mark.label,
        start: Count(start),
        counts: (end - start).max(0) as u32,
        start_s: counts.time_or_beyond_s(Count(start)),
        end_s: counts.time_or_beyond_s(Count(end)),
        set: mark.set,
        strength: if mark.set { 1.0 } else { mark.strength },
    });
    (phrases.collect(), warnings)
}

/// Within how many counts two starts are one: closer than a bar, or than four counts where a bar has
/// more; at least the same count.
pub(super) fn nearness(counts_per_bar: u32) -> i32 {
    counts_per_bar.clamp(1, 4) as i32
}

/// Where a time falls among the counts.
pub(super) enum Fall {
    Before,
    On(i32),
    After,
}

/// Half a count outside the first or last is still that count.
pub(super) fn fall(time_s: f64, counts: &CountLine) -> Fall {
    let first = counts.times_s[0];
    let last = counts.times_s[counts.len() - 1];
    let period = counts.times_s.get(1).map_or(counts.end_s, |second| *second) - first;
    if time_s < first - period / 2.0 {
        Fall::Before
    } else if time_s > last + (counts.end_s - last) / 2.0 {
        Fall::After
    } else {
        counts.nearest(time_s).map_or(Fall::After, |count| Fall::On(count.0))
    }
}

/// The user's phrases by count, and the marks that cannot be used.
fn set_starts(marks: &[SetPhrase], counts: &CountLine) -> (BTreeMap<i32, Start>, Vec<Warning>) {
    let mut starts: BTreeMap<i32, Start> = BTreeMap::new();
    let mut warnings = Vec::new();
    let mut before: Option<Start> = None;
    for mark in marks.iter().filter(|mark| mark.start_s.is_finite()) {
        let start =
            Start { label: mark.label.clone(), set: true, strength: 1.0, mark_s: mark.start_s };
        match fall(mark.start_s, counts) {
            Fall::Before => {
                let unused = match &before {
                    Some(other) if other.mark_s > start.mark_s => Some(start),
                    _ => before.replace(start),
                };
                warnings.extend(unused.map(outside));
            }
            Fall::After => warnings.push(outside(start)),
            Fall::On(count) => {
                let there = counts.time_or_beyond_s(Count(count));
                let far = |s: &Start| (s.mark_s - there).abs();
                match starts.get(&count) {
                    Some(used) if far(used) < far(&start) => warnings.push(together(used, &start)),
                    unused => {
                        warnings.extend(unused.map(|unused| together(&start, unused)));
                        starts.insert(count, start);
                    }
                }
            }
        }
    }
    if let Some(start) = before {
        match starts.contains_key(&Count::FIRST.0) {
            true => warnings.push(outside(start)),
            false => {
                starts.insert(Count::FIRST.0, start);
            }
        }
    }
    (starts, warnings)
}

fn outside(start: Start) -> Warning {
    Warning::MarkOutside { mark: start.label, at_s: start.mark_s }
}

fn together(used: &Start, unused: &Start) -> Warning {
    Warning::MarksTogether {
        used: used.label.clone(),
        unused: unused.label.clone(),
        at_s: unused.mark_s,
    }
}

/// The suggestions by count, before the user's marks take some away. Of two on one count the
/// stronger stays.
fn suggestions(map: &SongMap, corrected: &Corrected, counts: &CountLine) -> BTreeMap<i32, Start> {
    let grid = &map.heard.grid;
    let mut starts: BTreeMap<i32, Start> = BTreeMap::new();
    let mut before: Option<Start> = None;
    for phrase in &map.heard.phrases {
        let Some(&time_s) = grid.beats_s.get(phrase.beat.0).filter(|t| t.is_finite()) else {
            continue;
        };
        // A suggestion on a bar line goes with it when the user moves the bars.
        let on_bar = grid.downbeats.contains(&phrase.beat);
        let shift = if on_bar { corrected.bar_shift as i32 } else { 0 };
        let count = match fall(time_s, counts) {
            Fall::Before => i32::MIN / 2,
            Fall::On(count) => count,
            Fall::After => continue,
        } + shift;
        let start = Start {
            label: phrase.label.clone(),
            set: false,
            strength: phrase.strength,
            mark_s: time_s,
        };
        if count < Count::FIRST.0 {
            if before.as_ref().is_none_or(|other| other.mark_s < time_s) {
                before = Some(start);
            }
        } else if count < counts.end().0
            && starts.get(&count).is_none_or(|other| other.strength < start.strength)
        {
            starts.insert(count, start);
        }
    }
    if let Some(start) = before {
        starts.entry(Count::FIRST.0).or_insert(start);
    }
    starts
}
