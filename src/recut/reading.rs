//! From a way to phrases: where the new cut is counted from and to, what each of its phrases is, and how sure that is.

use std::ops::Range;

use super::carry::{self, Carried, Source};
use super::old::Old;
use super::path::{Path, Posterior};
use super::way::Way;
use super::what::{Beside, Found, Met, What, same_sound};
use crate::song::SongView;
use crate::units::Count;

/// A phrase that is less sure is not carried.
const LEAST_SURE: f64 = 0.5;

/// The new cut, read along a way.
pub(super) struct Reading {
    /// Which count of the song, 0-based, each new count is.
    pub path: Path,
    pub what: What,
    pub beside: Beside,
    pub met: Met,
    /// New counts that are counted.
    pub counted: Range<usize>,
    pub carried: Vec<Carried>,
    /// How sure each is, 0 to 1.
    pub sure: Vec<f64>,
}

/// Reads a way; what turns out not to be sure is taken from it.
pub(super) fn read(song: &SongView, old: &Old, way: &mut Way, found: Found) -> Reading {
    // Of the sound alone: it stays as it is, whatever is taken from the way.
    let likely = Posterior::new(&way.likeness, &way.shape);
    loop {
        let reading = Reading::new(song, old, way, found, &likely);
        let unsure = reading.unsure(&way.path);
        if unsure.is_empty() {
            return reading;
        }
        unsure.into_iter().for_each(|j| way.path.old[j] = None);
    }
}

impl Reading {
    fn new(song: &SongView, old: &Old, way: &Way, found: Found, likely: &Posterior) -> Reading {
        let (path, whole) = of_the_song(song, old, way);
        let counts = path.old.iter().flatten().count();
        let of_old = (0..song.counts.len()).filter(|i| path.old.contains(&Some(*i))).count();
        let met = Met {
            found,
            counts,
            share: counts as f64 / whole.len().max(1) as f64,
            share_of_old: of_old as f64 / song.counts.len().max(1) as f64,
            same_sound: same_sound(old, &way.sounds, &counted_alone(&way.path, old, song)),
        };
        let heard_first = heard_first(way).max(whole.start);
        let beside = Beside::new(&path, heard_first);
        let what = What::of(&met, beside, old, way);
        // Of a part, it alone is counted: what stands around it has counts of its own.
        let (from, end) = match what {
            What::Part => (usize::MAX, whole.end - beside.after),
            _ => (heard_first, whole.end),
        };
        let first = first_count(song, &path, from, end);
        let tail = Path { old: path.old[first..end].to_vec(), score: path.score };
        let mut carried = carry::phrases(&tail, song);
        let first = first + carry::enter_in_time(&mut carried, song);
        carry::leave_in_time(&mut carried, song);
        // What rings on after the last phrase is not counted.
        let end = carried.last().map_or(end, |last| first + last.start + last.counts as usize);
        let sure = sureness(song, old.before, likely, first, &carried);
        Reading { path, what, beside, met, counted: first..end, carried, sure }
    }

    fn is_sure(&self, k: usize) -> bool {
        self.sure[k] >= LEAST_SURE
    }

    /// Whether a phrase is held by those around it: what was before it and after it is there, sure, and as far away. Players
    /// may play one phrase quite otherwise; that other music of just its length stands there is less likely.
    fn is_held(&self, k: usize) -> bool {
        let of = |k: usize| self.carried.get(k)?.of;
        let beside = |k: usize| of(k).filter(|_| self.is_sure(k));
        let (Some(before), Some(here), Some(after)) =
            (k.checked_sub(1).and_then(beside), of(k), beside(k + 1))
        else {
            return false;
        };
        let next = |source: Source| source.phrase + 1;
        next(before) == here.phrase
            && next(here) == after.phrase
            && here.from == 0
            && after.from == 0
    }

    /// New counts, on the way, of phrases that are not sure.
    fn unsure(&self, way: &Path) -> Vec<usize> {
        let first = self.counted.start;
        (0..self.carried.len())
            .filter(|&k| self.carried[k].of.is_some() && !self.is_sure(k) && !self.is_held(k))
            .map(|k| &self.carried[k])
            .flat_map(|phrase| first + phrase.start..first + phrase.start + phrase.counts as usize)
            .filter(|&j| way.old.get(j).is_some_and(Option::is_some))
            .collect()
    }
}

/// The old counts, on a way, that are the song's: some may sound before its first and after its last.
fn counted_of(song: &SongView, old: &Old) -> Range<usize> {
    old.before..old.before + song.counts.len()
}

/// The way without what sounds before the song's first count and after its last.
fn counted_alone(path: &Path, old: &Old, song: &SongView) -> Path {
    let range = counted_of(song, old);
    let inside = path.old.iter().map(|i| i.filter(|i| range.contains(i)));
    Path { old: inside.collect(), score: path.score }
}

/// The way in counts of the song alone, to where counting ends; and the new counts that are not before the song's first:
/// what sounds before that or after its last is not counted.
fn of_the_song(song: &SongView, old: &Old, way: &Way) -> (Path, Range<usize>) {
    let path = &way.path;
    let range = counted_of(song, old);
    let outside = |j: usize| path.old[j].is_some_and(|i| !range.contains(&i));
    let skipped = (0..path.old.len()).find(|&j| !outside(j)).unwrap_or(0);
    let heard = path.old.len().saturating_sub(way.counting.guessed_last);
    let last = path.old.iter().rposition(Option::is_some).map_or(0, |last| last + 1);
    let end = end_of(path, &range).min(last.max(heard));
    let in_song = |i: &Option<usize>| i.filter(|i| range.contains(i)).map(|i| i - old.before);
    let mut inside: Vec<Option<usize>> = path.old[..end].iter().map(in_song).collect();
    // A beat heard twice at the very start is one.
    if let Some(start) = inside.iter().position(Option::is_some) {
        let same = |j: &usize| inside.get(j + 1) == inside.get(*j);
        let twice = (start..end).take_while(same).count();
        inside[start..start + twice].fill(None);
    }
    (Path { old: inside, score: path.score }, skipped.min(end)..end)
}

/// The new count before which counting ends: after the last count of the old cut, where little comes after it.
fn end_of(path: &Path, range: &Range<usize>) -> usize {
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
    likely: &Posterior,
    first: usize,
    carried: &[Carried],
) -> Vec<f64> {
    let mut sums = vec![0f64; carried.len()];
    for (at, row) in likely.rows().skip(first).enumerate() {
        let Some(k) = carried.iter().rposition(|phrase| phrase.start <= at) else { continue };
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
    }
    carried.iter().zip(sums).map(|(c, sum)| (sum / f64::from(c.counts.max(1))).min(1.0)).collect()
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
    // Counted back from the phrase after it, too: whole bars before that are all counted.
    let starts_bar = |i: usize| {
        let count = Count::from_index(i);
        let phrase = old.phrase_at(count).map(|p| &old.phrases[p]);
        phrase.is_some_and(|phrase| {
            let into = count - phrase.start;
            into % per_bar == 0 || (phrase.counts as i32 - into) % per_bar == 0
        })
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
