//! What on a path is no likelier than chance, and what noise only covers.

use super::likeness::Likeness;
use super::path::{Path, Shape, likeliest};

/// A stretch that says less for itself is chance: what this many counts on the way say in the mean, but from 5
/// to 12 nats. Where another band plays, single counts say less, and short phrases are still there.
const LEAST_COUNTS: f32 = 8.0;
const MEANS_SOMETHING: [f32; 2] = [5.0, 12.0];
/// Songs have chords and grooves in common, but not in one order: a way says this much more, nats, than the best through
/// the same bars backwards, where it is of one song.
const IN_ORDER: f32 = 25.0;
/// Counts that say this much each are of one song in any order: some songs are one loop.
pub(super) const PLAINLY: f32 = 1.0;
/// Where the way is no likelier than backwards, a stretch must say this much a count.
const OF_CHANCE: f32 = 0.6;
/// Counts covered by talk, applause or noise in the midst of what is in step.
const MOST_COVERED: usize = 16;
/// Counts that say more than this against it, nats, in the mean, are not covered but other music.
const COVERED: f32 = -1.6;

/// That a stretch ends where a phrase does, and another phrase is entered at once, says this much too, nats: one count in
/// thirty ends a phrase.
const ENDS_A_PHRASE: f32 = 3.0;

/// Mean standing of the pairs that are in step along a path.
pub(super) fn apart(likeness: &Likeness, path: &Path) -> f32 {
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
pub(super) fn density(path: &Path) -> f32 {
    path.score / path.old.iter().flatten().count().max(1) as f32
}

/// Whether a way says more than two songs have in common by chance: by harmony alone, since one band sounds alike in all
/// its songs.
pub(super) fn of_one_song(path: &Path, shape: &Shape, harmony: impl FnOnce() -> Likeness) -> bool {
    if path.score < IN_ORDER || density(path) >= PLAINLY {
        return path.score >= IN_ORDER;
    }
    let mut harmony = harmony();
    harmony.weigh(apart(&harmony, path));
    let order = bars_backwards(&shape.new_bar);
    let new_bar = order.iter().map(|&j| shape.new_bar[j]).collect();
    let backwards = Shape { new_bar, ..shape.clone() };
    let chance = likeliest(&harmony.reordered(&order), &backwards).score;
    likeliest(&harmony, shape).score - chance.max(0.0) >= IN_ORDER
}

/// Counts bar by bar from the last bar to the first: bands have grooves in common, which are the same in every bar.
fn bars_backwards(bar: &[u32]) -> Vec<usize> {
    let mut order: Vec<usize> = Vec::with_capacity(bar.len());
    let mut end = bar.len();
    for start in (0..bar.len()).rev() {
        if bar[start] == 1 || start == 0 {
            order.extend(start..end);
            end = start;
        }
    }
    order
}

/// Takes back stretches that are no likelier than chance: where counts on the way say little each, shorter ones
/// are kept; where all of it together says too little for one song, only what stands out is.
pub(super) fn forget_chance(path: &mut Path, likeness: &Likeness, shape: &Shape, one_song: bool) {
    let says = density(path);
    let of_each = if one_song { 0.0 } else { OF_CHANCE };
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
        let ends_a_phrase = path.old[end - 1]
            .is_some_and(|last| shape.starts.get(last + 1) == Some(&true))
            && path.old.get(end).copied().flatten().is_some_and(|next| shape.starts[next]);
        let news = if ends_a_phrase { news + ENDS_A_PHRASE } else { news };
        let least = least.max(of_each * (end - start) as f32);
        if news < least && path.old[start].is_some() {
            path.old[start..end].fill(None);
        }
        start = end;
    }
}

/// Counts of a phrase that noise covers, while both cuts stay in step before and behind, or from the phrase's
/// first count on where the cut begins.
pub(super) fn fill_covered(path: &mut Path, likeness: &Likeness, shape: &Shape) {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song::form::{BeatSounds, PITCHES};

    /// Counts with the pitches of `chord` sounding, and nothing else to tell them by.
    fn sounds(chords: &[usize]) -> BeatSounds {
        let harmony = chords.iter().map(|&chord| {
            let mut harmony = [0.1f32; PITCHES];
            [0, 4, 7].into_iter().for_each(|k| harmony[(chord + k) % PITCHES] = 1.0);
            harmony
        });
        let n = chords.len();
        BeatSounds {
            harmony: harmony.collect(),
            timbre: vec![Default::default(); n],
            rhythm: vec![Default::default(); n],
            loudness: vec![0.0; n],
            cymbal: vec![0.0; n],
            level_db: vec![0.0; n],
            sounding: vec![1.0; n],
        }
    }

    /// Chords of one key in no order: the same ones for the same seed.
    fn chords(mut seed: u64, n: usize) -> Vec<usize> {
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            [0, 2, 5, 7, 9][(seed >> 33) as usize % 5]
        };
        (0..n).map(|_| next()).collect()
    }

    fn is_one_song(old: &[usize], new: &[usize]) -> bool {
        let shape = Shape {
            starts: (0..old.len()).map(|i| i % 16 == 0).collect(),
            old_bar: (0..old.len()).map(|i| i as u32 % 4 + 1).collect(),
            new_bar: (0..new.len()).map(|j| j as u32 % 4 + 1).collect(),
        };
        let mut likeness = Likeness::in_key(&sounds(old), &sounds(new), 0);
        let mut path = likeliest(&likeness, &shape);
        for _ in 0..2 {
            likeness.weigh(apart(&likeness, &path));
            path = likeliest(&likeness, &shape);
        }
        of_one_song(&path, &shape, || Likeness::of_harmony(&sounds(old), &sounds(new), 0))
    }

    #[test]
    fn the_same_chords_in_the_same_order_are_one_song() {
        let song = chords(1, 128);
        assert!(is_one_song(&song, &song));
        // Every third count plays something else, and a phrase is gone.
        let mut cover = song.clone();
        cover.iter_mut().step_by(3).zip(chords(9, 43)).for_each(|(here, other)| *here = other);
        cover.drain(32..48);
        assert!(is_one_song(&song, &cover));
    }

    #[test]
    fn the_same_chords_in_another_order_are_not() {
        let song = chords(1, 128);
        let backwards: Vec<usize> = song.chunks(4).rev().flatten().copied().collect();
        assert!(!is_one_song(&song, &backwards));
        for seed in 2..8 {
            assert!(!is_one_song(&song, &chords(seed, 128)), "{seed}");
        }
    }
}
