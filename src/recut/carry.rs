//! From a path to phrases: what each phrase of the new cut is of the old one.

use serde::Serialize;

use super::path::Path;
use crate::song::SongView;

/// Shorter stretches than this, in counts, are no phrase of their own.
const SHORTEST: usize = 4;

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
    absorb_short(&mut out);
    out
}

/// Gives stretches too short for a phrase to the phrase before them, or to the one after at the beginning.
fn absorb_short(phrases: &mut Vec<Carried>) {
    let short = |phrase: &Carried| (phrase.counts as usize) < SHORTEST;
    let mut k = 0;
    while k < phrases.len() && phrases.len() > 1 {
        if !short(&phrases[k]) {
            k += 1;
            continue;
        }
        let gone = phrases.remove(k);
        match k.checked_sub(1) {
            Some(before) => phrases[before].counts += gone.counts,
            None => {
                phrases[0].start = gone.start;
                phrases[0].counts += gone.counts;
            }
        }
        // Two halves of one phrase meet again.
        if let Some(before) = k.checked_sub(1)
            && k < phrases.len()
            && let (Some(a), Some(b)) = (phrases[before].of, phrases[k].of)
            && a.phrase == b.phrase
            && b.from >= a.from + phrases[before].counts.saturating_sub(SHORTEST as u32)
        {
            let next = phrases.remove(k);
            phrases[before].counts += next.counts;
        }
    }
}
