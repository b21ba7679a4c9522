//! One routine on two cuts: what holds on both, and changes after which it does.

use super::edit::{Edit, apply};
use super::fit;
use super::model::{Fit, Mismatch};
use crate::routine::Routine;
use crate::song::SongView;

/// Rounds of changes that are tried.
const MOST_CHANGES: usize = 8;

/// A routine laid on two cuts.
#[derive(Debug, Clone)]
pub struct Both {
    /// On the first and on the second.
    pub fits: [Fit; 2],
    /// Changes, one after the other, that make it meet better on both together; each in a sentence.
    pub changes: Vec<(Vec<Edit>, String)>,
    /// After them, on the first and on the second.
    pub after: [Fit; 2],
}

impl Both {
    /// Whether one sheet holds on both, as it is or changed.
    pub fn one_sheet_holds(&self) -> bool {
        self.after.iter().all(|fit| fit.fits)
    }

    /// What is amiss on both, and what on one of them alone. The same thing is one of the same kind at the same
    /// turn of the same part, of the same length.
    pub fn shared_and_own(&self) -> (Vec<&Mismatch>, [Vec<&Mismatch>; 2]) {
        let [first, second] = &self.fits;
        let same = |a: &Mismatch, b: &Mismatch| {
            (a.kind, &a.part, a.time_round, a.counts) == (b.kind, &b.part, b.time_round, b.counts)
        };
        let in_other = |m: &Mismatch, other: &Fit| other.mismatches.iter().any(|o| same(m, o));
        let shared = first.mismatches.iter().filter(|m| in_other(m, second)).collect();
        let own = |fit: &'_ Fit, other: &Fit| -> Vec<usize> {
            (0..fit.mismatches.len()).filter(|&k| !in_other(&fit.mismatches[k], other)).collect()
        };
        let (a, b) = (own(first, second), own(second, first));
        (
            shared,
            [
                a.into_iter().map(|k| &first.mismatches[k]).collect(),
                b.into_iter().map(|k| &second.mismatches[k]).collect(),
            ],
        )
    }
}

/// Lays a routine on two cuts, and looks for one routine that holds on both: the mends of either are tried on
/// both, and the one that leaves least amiss in all is kept, as long as there is one.
pub fn against(songs: [&SongView; 2], routine: &Routine) -> Both {
    let lay = |routine: &Routine| songs.map(|song| fit(song, routine));
    let amiss = |fits: &[Fit; 2]| fits.iter().map(|f| f.mismatches.len()).sum::<usize>();
    let fits = lay(routine);
    let mut after = fits.clone();
    let mut changed = routine.clone();
    let mut changes = Vec::new();
    for _ in 0..MOST_CHANGES {
        let now = amiss(&after);
        let mut best: Option<(usize, Routine, [Fit; 2], Vec<Edit>, String)> = None;
        for mend in after.iter().flat_map(|fit| &fit.suggestions).filter(|s| !s.edits.is_empty()) {
            let tried = apply(&changed, &mend.edits);
            let then = lay(&tried);
            let left = amiss(&then);
            if left < best.as_ref().map_or(now, |(left, ..)| *left) {
                best = Some((left, tried, then, mend.edits.clone(), mend.message.clone()));
            }
        }
        let Some((_, routine, fits, edits, message)) = best else { break };
        (changed, after) = (routine, fits);
        changes.push((edits, message));
    }
    Both { fits, changes, after }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::testing;
    use crate::routine::parse;

    const SHEET: &str = "Wait: 16\n\nPart A: 32 counts\n8 Triples\n\nPart B: 32 counts\n8 Triples\n\n\
         Order: A, B, A, B\n";

    #[test]
    fn a_fill_that_both_cuts_need_is_found_for_both() {
        let form = [("intro", 16), ("verse", 32), ("chorus", 36), ("verse", 32), ("chorus", 32)];
        let longer = [&form[..], &[("ending", 4)]].concat();
        let songs = [testing::song(&form), testing::song(&longer)];
        let both = against([&songs[0], &songs[1]], &parse(SHEET).0);
        assert!(!both.fits[0].fits && !both.fits[1].fits);
        assert!(both.one_sheet_holds(), "{:?}", both.after);
        assert_eq!(both.changes.len(), 1);
        let (shared, own) = both.shared_and_own();
        assert_eq!((shared.len(), own[0].len(), own[1].len()), (1, 0, 0));
    }

    #[test]
    fn cuts_that_ask_for_different_things_have_no_sheet_in_common() {
        let first = [("intro", 16), ("verse", 32), ("chorus", 36), ("verse", 32), ("chorus", 32)];
        let second = [("intro", 16), ("verse", 32), ("chorus", 32), ("verse", 32), ("chorus", 32)];
        let songs = [testing::song(&first), testing::song(&second)];
        let both = against([&songs[0], &songs[1]], &parse(SHEET).0);
        assert!(!both.fits[0].fits && both.fits[1].fits);
        assert!(!both.one_sheet_holds());
        let (shared, own) = both.shared_and_own();
        assert_eq!((shared.len(), own[0].len(), own[1].len()), (0, 1, 0));
    }
}
