//! From a path to phrases: what each phrase of the new cut is of the old one.

use serde::Serialize;

use super::path::Path;
use crate::song::SongView;

/// Shorter stretches than this, in counts, are no phrase of their own.
const SHORTEST: usize = 4;
/// Counts before a phrase that may be taken for its first, and its last for those of what follows.
const MOST_ADDED: u32 = 2;

/// A phrase of the new cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Carried {
    /// Index of its first new count, among all that were compared.
    pub start: usize,
    /// Its length in counts.
    pub counts: u32,
    /// What it is of the old cut; `None` for what is new.
    pub of: Option<Source>,
}

/// Where a phrase comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Source {
    /// Index of the old phrase.
    pub phrase: usize,
    /// Counts of it that are left out before the first that is there.
    pub from: u32,
}

/// The phrases along a path, in order, without holes.
pub fn phrases(path: &Path, old: &SongView) -> Vec<Carried> {
    let place = |i: usize| {
        old.phrases.iter().enumerate().find_map(|(p, phrase)| {
            let start = phrase.start.index()?;
            (start..start + phrase.counts as usize).contains(&i).then(|| (p, (i - start) as u32))
        })
    };
    let mut out: Vec<Carried> = Vec::new();
    let mut last: Option<(usize, u32)> = None;
    for (j, old) in path.old.iter().enumerate() {
        let here = old.and_then(place);
        let goes_on = match (last, here, out.last()) {
            (_, _, None) => false,
            (None, None, Some(_)) => true,
            // Within a phrase; a jump back to its start is another turn of it.
            (Some((p, before)), Some((q, now)), _) => p == q && !(now == 0 && before > 0),
            _ => false,
        };
        match out.last_mut().filter(|_| goes_on) {
            Some(phrase) => phrase.counts += 1,
            None => out.push(Carried {
                start: j,
                counts: 1,
                of: here.map(|(phrase, from)| Source { phrase, from }),
            }),
        }
        last = here;
    }
    let whole = |phrase: &Carried| {
        phrase.of.is_some_and(|source| {
            source.from == 0 && old.phrases[source.phrase].counts == phrase.counts
        })
    };
    drop_ring(&mut out, old);
    absorb_short(&mut out, &whole);
    out
}

/// Where a phrase is entered at its beginning after something new, or at the start, and lasts a count or two longer than
/// it did, those counts are before it: nobody adds a count to an intro, but a count-in may be heard as its first.
/// Returns by how many counts the first phrase starts later.
pub fn enter_in_time(phrases: &mut [Carried], old: &SongView) -> usize {
    let mut later = 0;
    // The last has no phrase behind it that tells where it ends.
    for k in 0..phrases.len().saturating_sub(1) {
        let entered = k == 0 || phrases[k - 1].of.is_none();
        let Some(source) = phrases[k].of.filter(|source| entered && source.from == 0) else {
            continue;
        };
        let more = phrases[k].counts.saturating_sub(old.phrases[source.phrase].counts);
        if !(1..=MOST_ADDED).contains(&more) {
            continue;
        }
        phrases[k].counts -= more;
        phrases[k].start += more as usize;
        match k.checked_sub(1) {
            Some(before) => phrases[before].counts += more,
            None => later = more as usize,
        }
    }
    phrases.iter_mut().for_each(|phrase| phrase.start -= later);
    later
}

/// Where something new comes after a phrase that lasts a count or two shorter than it did, those counts are still the
/// phrase's: nobody cuts a count off, but the new music sounds into the last.
pub fn leave_in_time(phrases: &mut [Carried], old: &SongView) {
    for k in 1..phrases.len() {
        let (before, rest) = phrases.split_at_mut(k);
        let (Some(phrase), Some(new)) = (before.last_mut(), rest.first_mut()) else { continue };
        let Some(source) = phrase.of.filter(|_| new.of.is_none()) else { continue };
        let whole = old.phrases[source.phrase].counts.saturating_sub(source.from);
        let fewer = whole.saturating_sub(phrase.counts);
        if (1..=MOST_ADDED).contains(&fewer) && new.counts >= fewer + SHORTEST as u32 {
            phrase.counts += fewer;
            new.start += fewer as usize;
            new.counts -= fewer;
        }
    }
}

/// Leaves out what is too short for a phrase after the last one, and what the last is longer by: there is
/// nothing after it to dance to.
fn drop_ring(phrases: &mut Vec<Carried>, old: &SongView) {
    let shortest = SHORTEST as u32;
    if let [.., before, last] = &phrases[..]
        && last.counts < shortest
        && last.of.is_none_or(|source| last.counts < old.phrases[source.phrase].counts)
        && before.of.is_some()
    {
        phrases.pop();
    }
    if let Some(last) = phrases.last_mut()
        && let Some(source) = last.of
    {
        let rest = old.phrases[source.phrase].counts.saturating_sub(source.from);
        if rest > 0 && (rest..rest + shortest).contains(&last.counts) {
            last.counts = rest;
        }
    }
}

/// Gives stretches too short for a phrase, and no whole phrase of the old cut, to what is new beside them, or
/// to the phrase before them, or to the one after at the beginning.
fn absorb_short(phrases: &mut Vec<Carried>, whole: &dyn Fn(&Carried) -> bool) {
    let short = |phrase: &Carried| (phrase.counts as usize) < SHORTEST && !whole(phrase);
    let is_new = |phrase: Option<&Carried>| phrase.is_some_and(|phrase| phrase.of.is_none());
    let mut k = 0;
    while k < phrases.len() && phrases.len() > 1 {
        let after = phrases.get(k + 1);
        // What is there of an opening before a phrase starts is no part of that phrase.
        let opening = k == 0
            && !is_new(Some(&phrases[0]))
            && after.and_then(|next| next.of).is_some_and(|next| next.from == 0);
        if !short(&phrases[k]) || opening {
            k += 1;
            continue;
        }
        let to_after = k == 0 || is_new(after) && !is_new(phrases.get(k - 1));
        let gone = phrases.remove(k);
        match k.checked_sub(1).filter(|_| !to_after) {
            Some(before) => phrases[before].counts += gone.counts,
            None => {
                phrases[k].start = gone.start;
                phrases[k].counts += gone.counts;
            }
        }
        // Two halves of one phrase, or of what is new, meet again.
        if let Some(before) = k.checked_sub(1)
            && k < phrases.len()
            && match (phrases[before].of, phrases[k].of) {
                (Some(a), Some(b)) => {
                    a.phrase == b.phrase
                        && b.from >= a.from + phrases[before].counts.saturating_sub(SHORTEST as u32)
                }
                (a, b) => a == b,
            }
        {
            let next = phrases.remove(k);
            phrases[before].counts += next.counts;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song::testing::song;

    #[test]
    fn counts_before_an_entry_are_not_of_the_phrase() {
        // An intro of 16 and a verse of 32.
        let old = song(200).view().unwrap();
        let carried =
            |start, counts, phrase| Carried { start, counts, of: Some(Source { phrase, from: 0 }) };
        let mut heard = vec![carried(0, 17, 0), carried(17, 32, 1)];
        assert_eq!(enter_in_time(&mut heard, &old), 1);
        assert_eq!(heard, [carried(0, 16, 0), carried(16, 32, 1)]);
        // Four counts more are music.
        let mut longer = vec![carried(0, 20, 0), carried(20, 32, 1)];
        assert_eq!(enter_in_time(&mut longer, &old), 0);
        assert_eq!(longer[0].counts, 20);
    }

    #[test]
    fn the_last_counts_before_new_music_are_of_the_phrase() {
        let old = song(200).view().unwrap();
        let intro = |counts| Carried { start: 0, counts, of: Some(Source { phrase: 0, from: 0 }) };
        let new = |start, counts| Carried { start, counts, of: None };
        let mut heard = vec![intro(15), new(15, 17)];
        leave_in_time(&mut heard, &old);
        assert_eq!(heard, [intro(16), new(16, 16)]);
        // Four counts fewer are left out.
        let mut shorter = vec![intro(12), new(12, 16)];
        leave_in_time(&mut shorter, &old);
        assert_eq!(shorter[0].counts, 12);
    }
}
