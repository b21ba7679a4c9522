//! The whole way from two listened-to cuts to the new cut's map.

use super::carry::{self, Carried};
use super::likeness::Likeness;
use super::path::{Path, Shape, likeliest, posterior};
use crate::rhythm::Features;
use crate::song::form::BeatSounds;
use crate::song::{Pulse, SetPhrase, SongMap, SongView, Tapped, UserSet};
use crate::units::Count;

/// Less of the new cut than this found again, and of the old one, is another song.
const SAME_SONG: f64 = 0.35;
/// A stretch that says less for itself is chance: what this many counts on the way say in the mean, but from 5
/// to 12 nats. Where another band plays, single counts say less, and short phrases are still there.
const LEAST_COUNTS: f32 = 8.0;
const MEANS_SOMETHING: [f32; 2] = [5.0, 12.0];
/// Counts on the way that say less than this in the mean, nats, are not of one song: songs have chords and
/// grooves in common.
const OF_ONE_SONG: f32 = 0.3;
/// Then a stretch must say this much a count.
const OF_CHANCE: f32 = 0.6;
/// A part of a medley: so many counts that say so much each.
const PART_COUNTS: usize = 64;
const PART_SAYS: f32 = 1.0;
/// Counts covered by talk, applause or noise in the midst of what is in step.
const MOST_COVERED: usize = 16;
/// Counts that say more than this against it, nats, in the mean, are not covered but other music.
const COVERED: f32 = -1.6;
/// Tempo may change by this much, either way, before another pulse is the likelier reading.
const MOST_TEMPO: f64 = 1.45;

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
    /// Whether it is the same song at all.
    pub same: bool,
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

/// One way of counting the new cut.
struct Counting {
    beats_s: Vec<f64>,
    bar: Vec<u32>,
    /// Counts to one heard beat.
    ratio: f64,
    /// How many of the first beats were not heard, but may have been missed.
    guessed: usize,
    /// How many of the last.
    guessed_last: usize,
}

/// Most counts that a recording is followed beyond its own first and last: talk, an upbeat, what rings on.
const MOST_BEYOND: usize = 64;
/// Most beats that may have been missed at the start, and at the end.
const MOST_MISSED: usize = 16;
const MOST_MISSED_LAST: usize = 4;

/// The counts of the old cut, and the places of counts before the first and after the last, so that what
/// sounds there is known and not taken for new.
struct Old {
    times_s: Vec<f64>,
    /// How many stand before count 1.
    before: usize,
    bar: Vec<u32>,
    starts: Vec<bool>,
}

impl Old {
    fn new(song: &SongView) -> Old {
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
        Old {
            times_s: (first..=last).map(time).collect(),
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
}

/// Matches a new cut, as listened to, to an old one.
pub fn recut(old: &SongView, old_sound: &Features, new: &SongMap, new_sound: &Features) -> Recut {
    let old_counts = Old::new(old);
    let old_sounds = BeatSounds::new(old_sound, &old_counts.times_s);
    let mut best: Option<(f32, Counting, Likeness, Shape, Path)> = None;
    for counting in countings(old, new) {
        let new_sounds = BeatSounds::new(new_sound, &counting.beats_s);
        let mut likeness = Likeness::new(&old_sounds, &new_sounds);
        let shape = Shape {
            starts: old_counts.starts.clone(),
            old_bar: old_counts.bar.clone(),
            new_bar: counting.bar.clone(),
        };
        let mut path = likeliest(&likeness, &shape);
        for _ in 0..2 {
            likeness.weigh(apart(&likeness, &path));
            path = likeliest(&likeness, &shape);
        }
        let score = path.score / counting.beats_s.len().max(1) as f32;
        if best.as_ref().is_none_or(|(other, ..)| score > *other) {
            best = Some((score, counting, likeness, shape, path));
        }
    }
    let Some((_, counting, likeness, shape, mut path)) = best else {
        return nothing(new);
    };
    let says = density(&path);
    forget_chance(&mut path, &likeness);
    fill_covered(&mut path, &likeness, &shape);
    let sounds = (&old_sounds, new_sound);
    finish(old, &old_counts, sounds, new, &counting, &likeness, &shape, &path, says)
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
        same: false,
    }
}

/// The new cut at every pulse that its tempo allows: as heard, at half with either beat counted, at double.
fn countings(old: &SongView, new: &SongMap) -> Vec<Counting> {
    let mut plain = new.clone();
    plain.set = UserSet::default();
    let mut grid = plain.corrected_grid();
    let mut bar = grid.bar_positions();
    let guessed = guess_missed(&mut grid.beats_s, &mut bar, grid.beats_per_bar);
    let duration_s = new.recording.duration_s;
    let guessed_last = guess_last(&mut grid.beats_s, &mut bar, grid.beats_per_bar, duration_s);
    let relative = grid.tempo_bpm / old.counts_per_minute.max(1.0);
    let mut all = Vec::new();
    let plausible = |ratio: f64| (1.0 / MOST_TEMPO..=MOST_TEMPO).contains(&(relative * ratio));
    let none = ![0.5, 1.0, 2.0].into_iter().any(plausible);
    if plausible(1.0) || none {
        let (beats_s, bar) = (grid.beats_s.clone(), bar.clone());
        all.push(Counting { beats_s, bar, ratio: 1.0, guessed, guessed_last });
    }
    if plausible(0.5) {
        for first in 0..2 {
            let every = |k: usize| k % 2 == first;
            let kept = (0..grid.beats_s.len()).filter(|&k| every(k));
            all.push(Counting {
                beats_s: kept.clone().map(|k| grid.beats_s[k]).collect(),
                bar: kept.map(|k| bar[k].div_ceil(2)).collect(),
                ratio: 0.5,
                guessed: guessed.div_ceil(2),
                guessed_last: guessed_last.div_ceil(2),
            });
        }
    }
    if plausible(2.0) {
        let mut beats_s = Vec::with_capacity(2 * grid.beats_s.len());
        let mut doubled = Vec::with_capacity(2 * grid.beats_s.len());
        for (k, &at_s) in grid.beats_s.iter().enumerate() {
            beats_s.push(at_s);
            doubled.push(2 * bar[k] - 1);
            if let Some(next_s) = grid.beats_s.get(k + 1) {
                beats_s.push((at_s + next_s) / 2.0);
                doubled.push(2 * bar[k]);
            }
        }
        let (guessed, guessed_last) = (2 * guessed, 2 * guessed_last);
        all.push(Counting { beats_s, bar: doubled, ratio: 2.0, guessed, guessed_last });
    }
    all
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

/// Mean standing of the pairs that are in step along a path.
fn apart(likeness: &Likeness, path: &Path) -> f32 {
    let (mut sum, mut n) = (0.0, 0.0);
    for j in 1..path.old.len() {
        if let (Some(before), Some(here)) = (path.old[j - 1], path.old[j])
            && here == before + 1
        {
            sum += likeness.standing(j, here);
            n += 1.0;
        }
    }
    if n > 0.0 { sum / n } else { 0.0 }
}

/// What a path says for each count on it, nats.
fn density(path: &Path) -> f32 {
    path.score / path.old.iter().flatten().count().max(1) as f32
}

/// Takes back stretches that are no likelier than chance: where counts on the way say little each, shorter ones
/// are kept; where all of it together says too little, only what stands out is.
fn forget_chance(path: &mut Path, likeness: &Likeness) {
    let says = density(path);
    let of_each = if says < OF_ONE_SONG { OF_CHANCE } else { 0.0 };
    let least = (LEAST_COUNTS * says).clamp(MEANS_SOMETHING[0], MEANS_SOMETHING[1]);
    let mut start = 0;
    while start < path.old.len() {
        let mut end = start + 1;
        // A stretch goes on through slips of a beat.
        while end < path.old.len()
            && let (Some(before), Some(here)) = (path.old[end - 1], path.old[end])
            && here >= before
            && here <= before + 2
        {
            end += 1;
        }
        let news: f32 = (start..end).filter_map(|j| Some(likeness.news(j, path.old[j]?))).sum();
        let least = least.max(of_each * (end - start) as f32);
        if news < least && path.old[start].is_some() {
            path.old[start..end].fill(None);
        }
        start = end;
    }
}

/// Counts of a phrase that noise covers, while both cuts stay in step before and behind, or from the phrase's
/// first count on where the cut begins.
fn fill_covered(path: &mut Path, likeness: &Likeness, shape: &Shape) {
    let Some(first) = path.old.iter().position(Option::is_some) else { return };
    let known = path.old.clone();
    let mut fill = |from: usize, to: usize, old: usize| {
        let pairs = (from..to).zip(old..);
        let news: f32 = pairs.clone().map(|(j, i)| likeness.news(j, i)).sum();
        if news > COVERED * (to - from) as f32 {
            pairs.for_each(|(j, i)| path.old[j] = Some(i));
        }
    };
    if let Some(old) = known[first] {
        let start = (0..=old).rfind(|&i| shape.starts[i]).unwrap_or(0);
        let missed = old - start;
        if (1..=MOST_COVERED.min(first)).contains(&missed) {
            fill(first - missed, first, start);
        }
    }
    let mut before = first;
    for j in first + 1..known.len() {
        let (Some(a), Some(b)) = (known[before], known[j]) else { continue };
        let gap = j - before;
        if gap > 1 && gap <= MOST_COVERED + 1 && b == a + gap {
            fill(before + 1, j, a + 1);
        }
        before = j;
    }
}

#[allow(clippy::too_many_arguments)]
fn finish(
    old: &SongView,
    old_counts: &Old,
    (old_sounds, new_sound): (&BeatSounds, &Features),
    new: &SongMap,
    counting: &Counting,
    likeness: &Likeness,
    shape: &Shape,
    path: &Path,
    says: f32,
) -> Recut {
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
    let matched = path.old.iter().flatten().count();
    let mut there = vec![false; old.counts.len()];
    path.old.iter().flatten().for_each(|&i| there[i] = true);
    let share = matched as f64 / end.saturating_sub(skipped).max(1) as f64;
    let share_of_old = there.iter().filter(|x| **x).count() as f64 / there.len().max(1) as f64;

    // Counting starts with the first old count that is there, or before it where music is that is counted.
    let first_matched = path.old.iter().position(Option::is_some).unwrap_or(0);
    let heard_first = new.heard.grid.beats_s.get(new.heard.first_count_beat.0).copied();
    let heard_first =
        heard_first.map_or(0, |s| counting.beats_s.partition_point(|b| *b < s - 0.05));
    let heard_first = heard_first.max(skipped);
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
    let first = first.min(end);
    let tail = Path { old: path.old[first..].to_vec(), score: path.score };
    let carried = carry::phrases(&tail, old);
    // What rings on after the last phrase is not counted.
    let end = carried.last().map_or(end, |last| first + last.start + last.counts as usize);
    let sure = sureness(old, old_counts.before, likeness, shape, first, &carried);

    let mut map = new.clone();
    map.set = set(old, new, counting, (first, end), &carried, path, shape);
    let view = map.view().unwrap_or_else(|_| nothing(new).song);
    let phrases = carried.iter().zip(&sure).map(|(phrase, sure)| Phrase {
        of: phrase.of.map(|source| source.phrase),
        from: phrase.of.map_or(0, |source| source.from),
        counts: phrase.counts,
        sure: *sure,
    });
    let phrases: Vec<Phrase> = phrases.collect();
    let missing = (0..old.phrases.len()).filter(|p| !phrases.iter().any(|q| q.of == Some(*p)));
    let new_sounds = BeatSounds::new(new_sound, &counting.beats_s);
    Recut {
        semitones: likeness.semitones,
        tempo_ratio: tempo_ratio(old, counting, path),
        missing: missing.collect(),
        share,
        share_of_old,
        same_sound: same_sound(old_sounds, old_counts.before, &new_sounds, path),
        same: says >= OF_ONE_SONG && share.max(share_of_old) >= SAME_SONG
            || says >= PART_SAYS && matched >= PART_COUNTS,
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

/// What is set in the new map: where counting starts, the pulse, the bar line, and the phrases.
fn set(
    old: &SongView,
    new: &SongMap,
    counting: &Counting,
    (first, end): (usize, usize),
    carried: &[Carried],
    path: &Path,
    shape: &Shape,
) -> UserSet {
    let at_s = |j: usize| counting.beats_s.get(j).copied();
    let grid_bpm = new.heard.grid.tempo_bpm;
    let pulse =
        (counting.ratio != 1.0).then_some(Pulse { counts_per_minute: grid_bpm * counting.ratio });
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
        pulse,
        bar_line_s: bar_line.filter(|_| disagree),
        phrases: phrases.collect(),
        phrases_complete: true,
        // What rings on after the last count of the old cut is not counted.
        end_s: at_s(end),
        tapped: missed_beats(counting, first, end),
        ..UserSet::default()
    }
}

/// The beats that are counted though they were not heard, with two that were.
fn missed_beats(counting: &Counting, first: usize, end: usize) -> Vec<Tapped> {
    let n = counting.beats_s.len();
    let heard = counting.guessed..n - counting.guessed_last;
    let mut taps = Vec::new();
    if first < heard.start {
        taps.push(first..(heard.start + 2).min(n));
    }
    if end > heard.end {
        taps.push(heard.end.saturating_sub(2)..end);
    }
    taps.into_iter().map(|taps| Tapped { beats_s: counting.beats_s[taps].to_vec() }).collect()
}

/// How much shorter stretches of eight counts in step last in the new cut, all taken together: where the tempo
/// drifts, the mean.
fn tempo_ratio(old: &SongView, counting: &Counting, path: &Path) -> f64 {
    const STRETCH: usize = 8;
    let (mut in_old_s, mut in_new_s) = (0.0, 0.0);
    for j in STRETCH..path.old.len() {
        if let (Some(from), Some(to)) = (path.old[j - STRETCH], path.old[j])
            && to == from + STRETCH
        {
            in_old_s += old.counts.times_s[to] - old.counts.times_s[from];
            in_new_s += counting.beats_s[j] - counting.beats_s[j - STRETCH];
        }
    }
    if in_new_s > 0.0 { in_old_s / in_new_s } else { 1.0 }
}

/// Likeness of timbre and attacks where both are in step, beside that of counts out of step.
fn same_sound(old: &BeatSounds, before: usize, new: &BeatSounds, path: &Path) -> f64 {
    let pairs: Vec<(usize, usize)> =
        path.old.iter().enumerate().filter_map(|(j, i)| Some((j, (*i)? + before))).collect();
    let distance = |j: usize, i: usize| -> f64 {
        let apart =
            |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum::<f32>();
        f64::from(apart(&old.rhythm[i], &new.rhythm[j]))
    };
    let (mut in_step, mut out_of_step) = (0.0, 1e-9);
    for (k, &(j, i)) in pairs.iter().enumerate() {
        in_step += distance(j, i);
        out_of_step += distance(j, pairs[(k + pairs.len() / 2) % pairs.len()].1);
    }
    if pairs.is_empty() { 0.0 } else { (1.0 - in_step / out_of_step).clamp(0.0, 1.0) }
}
