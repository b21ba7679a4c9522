//! The whole way from two listened-to cuts to the new cut's map.

use super::carry::{self, Carried};
use super::chance::{OF_ONE_SONG, density, fill_covered, forget_chance};
use super::counting::missed_beats;
use super::likeness::Likeness;
use super::old::Old;
use super::path::{Path, Shape, posterior};
use super::way::{MOST_DRIFT, Way, likeliest_way};
use crate::rhythm::{self, Features};
use crate::song::form::BeatSounds;
use crate::song::{Pulse, SetPhrase, SongMap, SongView, UserSet};
use crate::units::Count;
use serde::Serialize;

/// Less of the new cut than this found again, and of the old one, is another song.
const SAME_SONG: f64 = 0.35;
/// A part of a medley: so many counts that say so much each.
const PART_COUNTS: usize = 64;
const PART_SAYS: f32 = 1.0;
/// So many counts of other music before or after it make it a part; fewer are an intro or an ending that was added.
const OTHER_MUSIC: usize = 48;
/// With as much of the song there it is the song, whatever stands around it.
const WHOLE: f64 = 0.9;
/// How alike the sound must be for two cuts to be of one recording.
const ONE_RECORDING: f64 = 0.45;

/// A phrase that is less sure is not carried.
const LEAST_SURE: f64 = 0.5;

/// What a new cut is of an old one.
#[derive(Debug, Clone)]
pub struct Recut {
    /// The new cut's map with the marks carried over.
    pub map: SongMap,
    /// The new cut as danced.
    pub song: SongView,
    /// Semitones by which the new cut is higher; lower is negative.
    pub semitones: i32,
    /// Tempo of the new cut over that of the old.
    pub tempo_ratio: f64,
    /// What each phrase of `song` is, in its order.
    pub phrases: Vec<Phrase>,
    /// Old phrases of which nothing is there, as indices.
    pub missing: Vec<usize>,
    /// Share of the new cut's counts that are in the old one, 0 to 1.
    pub share: f64,
    /// Share of the old cut's counts that are in the new one, 0 to 1.
    pub share_of_old: f64,
    /// How alike the instruments are where both cuts are in step, 0 to 1: near 1 for copies of one
    /// performance.
    pub same_sound: f64,
    /// What it is of the old cut.
    pub what: What,
    /// What stands around it.
    pub beside: Beside,
}

impl Recut {
    /// Whether it is the same song at all.
    pub fn same(&self) -> bool {
        self.what != What::Other
    }
}

/// What a recording is of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// A copy or an edit of one recording.
    Recording,
    /// The same song played again: live, re-recorded, or by others.
    Performance,
    /// A part of it, of either sort, stands among other music.
    Part,
    /// Another song.
    Other,
}

/// Counts of other music before and after what is of the song.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Beside {
    /// Before it.
    pub before: usize,
    /// After it.
    pub after: usize,
}

/// A phrase of the new cut and what it is of the old one.
#[derive(Debug, Clone, PartialEq)]
pub struct Phrase {
    /// Index of the old phrase; `None` for what is new.
    pub of: Option<usize>,
    /// Counts of the old phrase that are left out before its first that is there.
    pub from: u32,
    /// Its length in counts.
    pub counts: u32,
    /// How sure, 0 to 1.
    pub sure: f64,
}

/// Matches a new cut, as listened to, to an old one.
pub fn recut(
    song: &SongView,
    old_sound: &Features,
    new: &SongMap,
    new_sound: &rhythm::Heard,
) -> Recut {
    let old = Old::new(song, old_sound);
    let Some(mut way) = likeliest_way(&old, new, new_sound) else {
        return nothing(new);
    };
    let says = density(&way.path);
    forget_chance(&mut way.path, &way.likeness);
    fill_covered(&mut way.path, &way.likeness, &way.shape);
    finish(song, &old, way, new_sound, says)
}

/// A cut without beats has nothing of anything.
fn nothing(new: &SongMap) -> Recut {
    let song = SongView {
        entrance: None,
        title: new.recording.file.clone(),
        artist: None,
        duration_s: new.recording.duration_s,
        counts_per_minute: 0.0,
        counts_per_bar: 4,
        counts_per_beat: 1.0,
        counts: crate::song::CountLine {
            times_s: Vec::new(),
            bar_positions: Vec::new(),
            end_s: new.recording.duration_s,
        },
        phrases: Vec::new(),
    };
    Recut {
        map: new.clone(),
        song,
        semitones: 0,
        tempo_ratio: 1.0,
        phrases: Vec::new(),
        missing: Vec::new(),
        share: 0.0,
        share_of_old: 0.0,
        same_sound: 0.0,
        what: What::Other,
        beside: Beside::default(),
    }
}

fn finish(
    old: &SongView,
    old_counts: &Old,
    mut way: Way,
    sound: &rhythm::Heard,
    says: f32,
) -> Recut {
    let Way { map: new, counting, likeness, shape, path, .. } = &way;
    // From here on old counts alone; what sounds before the first or after the last is not counted.
    let range = old_counts.before..old_counts.before + old.counts.len();
    let outside =
        |j: usize| path.old.get(j).copied().flatten().is_some_and(|i| !range.contains(&i));
    let skipped = (0..path.old.len()).find(|&j| !outside(j)).unwrap_or(0);
    let heard = path.old.len().saturating_sub(counting.guessed_last);
    let last = path.old.iter().rposition(Option::is_some).map_or(0, |last| last + 1);
    let end = end_of(path, &range).min(last.max(heard));
    let counted: Vec<Option<usize>> = path.old[..end]
        .iter()
        .map(|i| i.filter(|i| range.contains(i)).map(|i| i - old_counts.before))
        .collect();
    let mut inside = Path { old: counted, score: path.score };
    // A beat heard twice at the very start is one.
    if let Some(start) = inside.old.iter().position(Option::is_some) {
        let same = |j: &usize| inside.old.get(j + 1) == inside.old.get(*j);
        let twice = (start..end).take_while(same).count();
        inside.old[start..start + twice].fill(None);
    }
    let path = &inside;
    let there = |n: usize| (0..n).filter(|i| path.old.contains(&Some(*i))).count();
    let matched = path.old.iter().flatten().count();
    let share = matched as f64 / end.saturating_sub(skipped).max(1) as f64;
    let share_of_old = there(old.counts.len()) as f64 / old.counts.len().max(1) as f64;
    let same_sound = same_sound(old_counts, &way.sounds, path);

    let heard_first = heard_first(&way).max(skipped);
    let beside = Beside::new(path, heard_first);
    let what = if !(says >= OF_ONE_SONG && share.max(share_of_old) >= SAME_SONG
        || says >= PART_SAYS && matched >= PART_COUNTS)
    {
        What::Other
    } else if beside.is_other_music() && share_of_old < WHOLE {
        What::Part
    } else if same_sound >= ONE_RECORDING && old_counts.drift(&way) <= MOST_DRIFT {
        What::Recording
    } else {
        What::Performance
    };
    // Of a part, it alone is counted: what stands around it has counts of its own.
    let (first, end) = match what {
        What::Part => {
            let end = end - beside.after;
            (first_count(old, path, usize::MAX, end), end)
        }
        _ => (first_count(old, path, heard_first, end), end),
    };
    let tail = Path { old: path.old[first..end].to_vec(), score: path.score };
    let mut carried = carry::phrases(&tail, old);
    let first = first + carry::enter_in_time(&mut carried, old);
    // What rings on after the last phrase is not counted.
    let end = carried.last().map_or(end, |last| first + last.start + last.counts as usize);
    let sure = sureness(old, old_counts.before, likeness, shape, first, &carried);
    let unsure =
        carried.iter().zip(&sure).filter(|(c, sure)| c.of.is_some() && **sure < LEAST_SURE);
    let unsure: Vec<usize> = unsure
        .flat_map(|(c, _)| first + c.start..first + c.start + c.counts as usize)
        .filter(|&j| way.path.old.get(j).is_some_and(Option::is_some))
        .collect();
    if !unsure.is_empty() {
        unsure.into_iter().for_each(|j| way.path.old[j] = None);
        return finish(old, old_counts, way, sound, says);
    }

    let mut map = new.clone();
    map.set = set(old, &way, (first, end), &carried, path);
    keep_bars(&mut map, old);
    hear_again(&mut map, sound, &carried);
    let view = map.view().unwrap_or_else(|_| nothing(new).song);
    let phrases = carried.iter().zip(&sure).map(|(phrase, sure)| Phrase {
        of: phrase.of.map(|source| source.phrase),
        from: phrase.of.map_or(0, |source| source.from),
        counts: phrase.counts,
        sure: *sure,
    });
    let phrases: Vec<Phrase> = phrases.collect();
    let missing = (0..old.phrases.len()).filter(|p| !phrases.iter().any(|q| q.of == Some(*p)));
    Recut {
        semitones: likeness.semitones,
        tempo_ratio: old_counts.tempo_ratio(&way),
        missing: missing.collect(),
        share,
        share_of_old,
        same_sound,
        what,
        beside,
        song: view,
        map,
        phrases,
    }
}

/// The new count before which counting ends: after the last count of the old cut, where little comes after it.
fn end_of(path: &Path, range: &std::ops::Range<usize>) -> usize {
    const LITTLE: usize = 16;
    let n_new = path.old.len();
    let Some(last) = path.old.iter().rposition(Option::is_some) else { return n_new };
    let inside =
        path.old.iter().rposition(|i| i.is_some_and(|i| range.contains(&i))).unwrap_or(last);
    let at_end = path.old[inside].is_some_and(|i| i + 1 == range.end);
    if !at_end || n_new - last > LITTLE {
        return n_new;
    }
    // A beat heard twice at the very end is one.
    let here = path.old[inside];
    (0..=inside).rev().take_while(|&j| path.old[j] == here).last().unwrap_or(inside) + 1
}

/// How sure each phrase is: the likelihood, summed over all ways, that its counts stand at their places in a
/// phrase of that name; for what is new, that they are new.
fn sureness(
    old: &SongView,
    before: usize,
    likeness: &Likeness,
    shape: &Shape,
    first: usize,
    carried: &[Carried],
) -> Vec<f64> {
    let mut sums = vec![0f64; carried.len()];
    posterior(likeness, shape, &mut |j, row| {
        let Some(at) = j.checked_sub(first) else { return };
        let Some(k) = carried.iter().rposition(|phrase| phrase.start <= at) else { return };
        let into = (at - carried[k].start) as u32;
        sums[k] += match carried[k].of {
            None => f64::from(row[row.len() - 1]),
            Some(source) => {
                let label = &old.phrases[source.phrase].label;
                let twins = old.phrases.iter().filter(|p| p.label == *label);
                // A slip of a count or two within the phrase is still the phrase.
                twins
                    .flat_map(|p| {
                        let start = before + p.start.index().unwrap_or(0);
                        let at = start + (source.from + into) as usize;
                        at.saturating_sub(2)..(at + 3).min(row.len() - 1)
                    })
                    .map(|i| f64::from(row[i]))
                    .sum()
            }
        };
    });
    carried.iter().zip(sums).map(|(c, sum)| (sum / f64::from(c.counts.max(1))).min(1.0)).collect()
}

impl Beside {
    fn new(path: &Path, heard_first: usize) -> Beside {
        let first = path.old.iter().position(Option::is_some).unwrap_or(0);
        let last = path.old.iter().rposition(Option::is_some).map_or(0, |last| last + 1);
        Beside { before: first.saturating_sub(heard_first), after: path.old.len() - last }
    }

    fn is_other_music(self) -> bool {
        self.before.max(self.after) >= OTHER_MUSIC
    }
}

/// The new count on which counting can start by what was heard.
fn heard_first(way: &Way) -> usize {
    let heard = &way.map.heard;
    let first_s = heard.grid.beats_s.get(heard.first_count_beat.0);
    first_s.map_or(0, |s| way.counting.beats_s.partition_point(|b| *b < s - 0.05))
}

/// The new count that is count 1: the first old count that is there, or before it where music is that is counted.
fn first_count(old: &SongView, path: &Path, heard_first: usize, end: usize) -> usize {
    let first_matched = path.old.iter().position(Option::is_some).unwrap_or(0);
    let starts_old = path.old.get(first_matched).copied().flatten() == Some(0);
    let added = first_matched.saturating_sub(heard_first);
    // What is there of the bar before the first whole one is an upbeat. Bars are counted from where the phrase
    // starts, as dancers count; single bar lines may have been heard elsewhere.
    let per_bar = old.counts_per_bar.max(1) as i32;
    let starts_bar = |i: usize| {
        let count = Count::from_index(i);
        let phrase = old.phrase_at(count).map(|p| old.phrases[p].start);
        phrase.is_some_and(|start| (count - start) % per_bar == 0)
    };
    let bar_line =
        (first_matched..end.min(first_matched + 4)).find(|&j| path.old[j].is_some_and(starts_bar));
    let first = match (starts_old, added) {
        (true, added) if added < 4 => first_matched,
        (false, 0) => bar_line.unwrap_or(first_matched),
        (_, added) => first_matched - added / 4 * 4,
    };
    first.min(end)
}

/// What is set in the new map: where counting starts, the pulse, the bar line, and the phrases.
fn set(
    old: &SongView,
    Way { map: new, counting, shape, .. }: &Way,
    (first, end): (usize, usize),
    carried: &[Carried],
    path: &Path,
) -> UserSet {
    let at_s = |j: usize| counting.beats_s.get(j).copied();
    let grid_bpm = new.heard.grid.tempo_bpm;
    let otherwise = counting.ratio != 1.0;
    let pulse = otherwise.then_some(Pulse { counts_per_minute: grid_bpm * counting.ratio });
    let phrases = carried.iter().filter_map(|phrase| {
        let label = match phrase.of {
            Some(source) => old.phrases[source.phrase].label.clone(),
            None if phrase.start == 0 => "intro".into(),
            None => "new".into(),
        };
        Some(SetPhrase { label, start_s: at_s(first + phrase.start)? })
    });
    // Bars as in the old cut, where most counts say that they were heard elsewhere.
    let pairs = path.old.iter().enumerate().filter_map(|(j, i)| Some((j, (*i)?)));
    let old_bar = &old.counts.bar_positions;
    let agree = pairs.clone().filter(|&(j, i)| shape.new_bar[j] == old_bar[i]).count();
    let disagree = 2 * agree < pairs.clone().count();
    let bar_line = pairs.clone().find(|&(_, i)| old_bar[i] == 1).and_then(|(j, _)| at_s(j));
    UserSet {
        first_count_s: at_s(first),
        pulse: new.set.pulse.or(pulse),
        bar_line_s: bar_line.filter(|_| disagree),
        phrases: phrases.collect(),
        phrases_complete: true,
        // What rings on after the last count of the old cut is not counted.
        end_s: at_s(end),
        tapped: missed_beats(counting, first, end),
        ..UserSet::default()
    }
}

/// Where every bar of the old cut has as many counts, the bars of the new one have so too.
fn keep_bars(map: &mut SongMap, old: &SongView) {
    let per_bar = old.counts_per_bar;
    let places = &old.counts.bar_positions;
    let even = places.windows(2).all(|pair| pair[1] == pair[0] % per_bar.max(1) + 1);
    if even && map.view().is_ok_and(|view| view.counts_per_bar != per_bar) {
        map.set.beats_per_bar = Some(per_bar);
    }
}

/// Follows the sound anew under what is set, as every correction does, where that carries the same phrases.
fn hear_again(map: &mut SongMap, sound: &rhythm::Heard, carried: &[Carried]) {
    let UserSet { pulse, beats_per_bar, tapped, .. } = &map.set;
    if pulse.is_none() && beats_per_bar.is_none() && tapped.is_empty() {
        return;
    }
    let mut again = map.clone();
    again.hear_again(Some(sound));
    let as_carried = again.view().is_ok_and(|view| {
        view.phrases.len() == carried.len()
            && view.phrases.iter().zip(carried).all(|(a, b)| a.counts == b.counts)
    });
    if as_carried {
        *map = again;
    }
}

/// Likeness of timbre and attacks where both are in step, beside that of counts out of step.
fn same_sound(old: &Old, new: &BeatSounds, path: &Path) -> f64 {
    let pairs: Vec<(usize, usize)> =
        path.old.iter().enumerate().filter_map(|(j, i)| Some((j, (*i)? + old.before))).collect();
    let distance = |j: usize, i: usize| -> f64 {
        let apart =
            |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum::<f32>();
        f64::from(apart(&old.sounds.rhythm[i], &new.rhythm[j]))
    };
    let (mut in_step, mut out_of_step) = (0.0, 1e-9);
    for (k, &(j, i)) in pairs.iter().enumerate() {
        in_step += distance(j, i);
        out_of_step += distance(j, pairs[(k + pairs.len() / 2) % pairs.len()].1);
    }
    if pairs.is_empty() { 0.0 } else { (1.0 - in_step / out_of_step).clamp(0.0, 1.0) }
}
