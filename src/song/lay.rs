//! Counts and phrases: the user's marks laid over what was heard.
//!
//! Input: a song map; output: its [`SongView`]. Times come from the corrected grid alone.

use std::collections::BTreeMap;

use crate::error::{Error, Result};
use crate::rhythm::median_interval_s;
use crate::units::Count;
use crate::warning::Warning;

use super::corrected::{Corrected, nearest_index};
use super::map::{Entered, Entrance, SetPhrase, SongMap};
use super::view::{self, CountLine, Phrase, SongView};

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
            entrance: entrance(self, &corrected, &counts),
            counts,
            phrases,
        };
        Ok(Laid { view, warnings })
    }
}

/// What comes in, on the count it was heard on.
fn entrance(map: &SongMap, corrected: &Corrected, counts: &CountLine) -> Option<(Count, Entered)> {
    let Entrance { beat, what } = map.heard.entrance?;
    let time_s = corrected.time_of_heard(beat, true)?;
    match fall(time_s, counts) {
        Fall::On(count) => Some((Count(count), what)),
        _ => None,
    }
}

struct Laid {
    view: SongView,
    warnings: Vec<Warning>,
}

fn count_line(map: &SongMap, corrected: &Corrected) -> Option<CountLine> {
    let first = corrected.first?;
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
    letter: String,
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
            } else if let Some((_, set)) = starts
                .range_mut(count - near + 1..count + near)
                .find(|(_, set)| set.set && same_name(&set.label, &start.label))
            {
                set.letter = start.letter;
            }
        }
    }
    letter_by_name(&mut starts);
    // An intro that was heard to start late begins with the counts all the same.
    if let Some(entry) = starts.first_entry()
        && !entry.get().set
        && view::is_intro(&entry.get().label)
    {
        let intro = entry.get().clone();
        entry.remove();
        starts.insert(Count::FIRST.0, intro);
    }
    starts.entry(Count::FIRST.0).or_insert_with(|| Start {
        label: IMPLICIT.into(),
        letter: String::new(),
        set: false,
        strength: 0.0,
        mark_s: counts.times_s[0],
    });
    let ends = starts.keys().skip(1).copied().chain([counts.end().0]).collect::<Vec<_>>();
    let phrases = starts.into_iter().zip(ends).map(|((start, mark), end)| Phrase {
        label: mark.label,
        letter: mark.letter,
        start: Count(start),
        counts: (end - start).max(0) as u32,
        start_s: counts.time_or_beyond_s(Count(start)),
        end_s: counts.time_or_beyond_s(Count(end)),
        set: mark.set,
        strength: if mark.set { 1.0 } else { mark.strength },
    });
    (phrases.collect(), warnings)
}

/// A phrase that the user named as others were heard to be is the same as the first of them.
fn letter_by_name(starts: &mut BTreeMap<i32, Start>) {
    let heard: Vec<(String, String)> = starts
        .values()
        .filter(|start| !start.letter.is_empty())
        .map(|start| (start.label.clone(), start.letter.clone()))
        .collect();
    for start in starts.values_mut().filter(|start| start.letter.is_empty()) {
        if let Some((_, letter)) = heard.iter().find(|(name, _)| same_name(name, &start.label)) {
            start.letter.clone_from(letter);
        }
    }
}

fn same_name(a: &str, b: &str) -> bool {
    a.to_lowercase() == b.to_lowercase()
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
        let start = Start {
            label: mark.label.clone(),
            letter: String::new(),
            set: true,
            strength: 1.0,
            mark_s: mark.start_s,
        };
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
        let on_bar = grid.downbeats.contains(&phrase.beat);
        let Some(time_s) = corrected.time_of_heard(phrase.beat, on_bar) else {
            continue;
        };
        let start = Start {
            label: phrase.label.clone(),
            letter: phrase.letter.clone(),
            set: false,
            strength: phrase.strength,
            mark_s: time_s,
        };
        match fall(time_s, counts) {
            Fall::Before if before.as_ref().is_none_or(|other| other.mark_s < time_s) => {
                before = Some(start);
            }
            Fall::On(count)
                if starts.get(&count).is_none_or(|other| other.strength < start.strength) =>
            {
                starts.insert(count, start);
            }
            _ => {}
        }
    }
    if let Some(start) = before {
        starts.entry(Count::FIRST.0).or_insert(start);
    }
    starts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song::{Mark, Pulse, Tapped, testing};

    fn form(map: &SongMap) -> Vec<(String, i32, u32)> {
        let view = map.view().unwrap();
        view.phrases.iter().map(|p| (p.label.clone(), p.start.0, p.counts)).collect()
    }

    fn lengths(map: &SongMap) -> Vec<u32> {
        form(map).into_iter().map(|(_, _, counts)| counts).collect()
    }

    fn marked(start_s: f64, label: &str) -> SetPhrase {
        SetPhrase { label: label.into(), start_s }
    }

    #[test]
    fn lengths_are_differences_and_the_last_runs_to_the_last_beat() {
        let map = testing::song(210);
        assert_eq!(lengths(&map), [16, 32, 36, 32, 36, 56]);
        let view = map.view().unwrap();
        assert_eq!(view.wait(), 16);
        assert_eq!(view.counts.len(), 208);
        assert!((view.phrases[1].start_s - 9.86).abs() < 1e-9);
        assert!((view.counts.end_s - 105.86).abs() < 1e-9);
        assert_eq!(view.names()[1..4], ["verse 1", "chorus 1", "verse 2"]);
    }

    #[test]
    fn a_set_phrase_supersedes_suggestions_less_than_a_bar_away() {
        let mut map = testing::song(210);
        map.set.phrases = vec![marked(10.86, "verse")]; // count 19, two after the suggestion
        assert_eq!(
            form(&map)[..3],
            [("intro".into(), 1, 18), ("verse".into(), 19, 30), ("chorus".into(), 49, 36)]
        );
        map.set.phrases = vec![marked(11.86, "verse")]; // count 21, a bar after: another phrase
        assert_eq!(lengths(&map)[..3], [16, 4, 28]);
    }

    #[test]
    fn what_was_taken_away_stays_away_when_beats_are_heard_a_little_elsewhere() {
        let mut map = testing::song(210);
        map.set.removed_s = vec![9.86];
        assert_eq!(lengths(&map)[..2], [48, 36]);
        map.heard.phrases[1].beat.0 += 1;
        assert_eq!(lengths(&map)[..2], [48, 36]);
    }

    #[test]
    fn counts_before_the_first_phrase_are_an_intro() {
        let mut map = testing::song(210);
        map.heard.phrases.clear();
        assert_eq!(form(&map), [("intro".to_string(), 1, 208)]);
        map.set.phrases = vec![marked(17.86, "verse")];
        assert_eq!(form(&map), [("intro".to_string(), 1, 32), ("verse".into(), 33, 176)]);
        map.set.phrases = vec![marked(1.86, "verse")];
        assert_eq!(form(&map), [("verse".to_string(), 1, 208)]);
    }

    #[test]
    fn the_phrase_that_began_before_counting_is_the_one_on_count_1() {
        let mut map = testing::song(210);
        map.set.first_count_s = Some(17.86);
        assert_eq!(form(&map)[..2], [("verse".into(), 1, 16), ("chorus".into(), 17, 36)]);
        map.set.phrases = vec![marked(3.0, "talk"), marked(10.0, "walk")];
        assert_eq!(form(&map)[0], ("walk".into(), 1, 16));
        assert!(
            matches!(&map.warnings()[..], [Warning::MarkOutside { mark, .. }] if mark == "talk")
        );
    }

    #[test]
    fn marks_past_the_end_are_kept_unused_with_a_warning() {
        let mut map = testing::song(210);
        map.set.phrases = vec![marked(300.0, "coda")];
        assert_eq!(lengths(&map), [16, 32, 36, 32, 36, 56]);
        assert!(matches!(&map.warnings()[..], [Warning::MarkOutside { .. }]));
    }

    #[test]
    fn of_two_marks_on_one_count_the_nearer_is_used() {
        let mut map = testing::song(210);
        map.set.phrases = vec![marked(17.86, "here"), marked(17.95, "near")];
        assert_eq!(form(&map)[2].0, "here");
        assert!(
            matches!(&map.warnings()[..], [Warning::MarksTogether { unused, .. }] if unused == "near")
        );
    }

    #[test]
    fn a_whole_form_hides_suggestions() {
        let mut map = testing::song(210);
        map.set.phrases = vec![marked(17.86, "verse")];
        map.set.phrases_complete = true;
        assert_eq!(lengths(&map), [32, 176]);
    }

    #[test]
    fn the_end_cuts_the_counts() {
        let mut map = testing::song(210);
        map.set.end_s = Some(81.86);
        let view = map.view().unwrap();
        assert_eq!(view.counts.len(), 160);
        assert!((view.counts.end_s - 81.86).abs() < 1e-9);
        assert_eq!(view.phrases.last().unwrap().counts, 8);
        // An end past the last beat is none.
        map.set.end_s = Some(500.0);
        assert_eq!(map.view().unwrap().counts.len(), 208);
    }

    #[test]
    fn a_pulse_holds_when_beats_are_heard_at_another_level() {
        let mut map = testing::song(210);
        map.set.pulse = Some(Pulse { counts_per_minute: 60.0 });
        let half = map.view().unwrap();
        assert_eq!((half.counts.len(), half.counts_per_beat), (104, 0.5));
        map.heard.grid.beats_s = map.heard.grid.beats_s.iter().copied().step_by(2).collect();
        map.heard.grid.downbeats = (1..105).step_by(2).map(crate::units::Beat).collect();
        map.heard.first_count_beat.0 = 1;
        map.heard.phrases.clear();
        let same = map.view().unwrap();
        assert_eq!(same.counts_per_beat, 1.0);
        assert_eq!(same.counts.times_s, half.counts.times_s);
    }

    #[test]
    fn counts_before_the_first_are_not_counted_and_times_come_from_the_grid() {
        let mut map = testing::song(60);
        map.set.tapped = vec![Tapped { beats_s: vec![4.9, 5.5, 6.0] }];
        let view = map.view().unwrap();
        let grid = map.corrected_grid();
        assert_eq!(view.counts.times_s[..], grid.beats_s[2..]);
        assert_eq!(view.counts.times_s[5..10], [4.36, 4.9, 5.5, 6.0, 6.36]);
    }

    #[test]
    fn bars_go_on_through_a_tapped_stretch() {
        let mut map = testing::song(60);
        // One beat more than was heard between 4.86 and 6.86.
        map.set.tapped = vec![Tapped { beats_s: vec![4.86, 5.26, 5.66, 6.06, 6.46] }];
        let grid = map.corrected_grid();
        let at = |time: f64| grid.beats_s.iter().position(|t| (t - time).abs() < 1e-6).unwrap();
        let places = grid.bar_positions();
        let bar: Vec<u32> = [3.86, 4.36, 4.86, 5.26, 5.66, 6.06, 6.46, 6.86]
            .into_iter()
            .map(|t| places[at(t)])
            .collect();
        assert_eq!(bar, [1, 2, 3, 4, 1, 2, 3, 4]);
        // What was heard goes on after it.
        assert_eq!(places[at(7.86)], 1);
    }

    #[test]
    fn a_song_tapped_from_nothing_has_counts_and_bars() {
        let mut map = testing::song(0);
        assert!(matches!(map.view(), Err(Error::NoPulse { .. })));
        map.recording.duration_s = 20.0;
        map.mark(&Mark::Tap((0..32).map(|b| 1.0 + 0.5 * f64::from(b)).collect())).unwrap();
        let view = map.view().unwrap();
        assert_eq!(view.counts.len(), 32);
        assert_eq!(view.counts.bar_positions[..5], [1, 2, 3, 4, 1]);
        assert!((view.counts_per_minute - 120.0).abs() < 1e-9);
    }

    #[test]
    fn moving_the_bars_moves_count_1_and_what_was_heard_on_bar_lines() {
        let mut map = testing::song(210);
        map.mark(&Mark::BarShift(1)).unwrap();
        let view = map.view().unwrap();
        assert!((view.counts.times_s[0] - 2.36).abs() < 1e-9);
        assert_eq!(lengths(&map), [16, 32, 36, 32, 36, 55]);
        assert_eq!(view.counts.bar_positions[..5], [1, 2, 3, 4, 1]);
        map.mark(&Mark::Half).unwrap();
        let half = map.view().unwrap();
        assert!((half.counts.times_s[0] - 2.36).abs() < 1e-9);
        assert_eq!(lengths(&map), [8, 16, 18, 16, 18, 28]);
    }
}
