//! A routine laid on a song: `(SongView, Routine) → Fit`.

mod against;
mod align;
mod alternatives;
mod bound;
mod edit;
mod fill;
mod ground;
mod homes;
mod judgement;
mod lay;
mod mend;
mod model;
mod moves;
mod report;
mod resume;
mod rewrite;
mod task;
mod trim;
mod ways;
mod words;

#[cfg(test)]
mod exactness;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod rewrite_tests;
#[cfg(test)]
mod sparing;
#[cfg(test)]
mod stories;
#[cfg(test)]
mod testing;

pub use against::{Both, against};
pub use alternatives::{Alternative, AlternativeKind, OtherPulse};
pub use edit::{Edit, apply};
pub use judgement::CLOSING_COUNTS;
pub use model::{Fit, Mismatch, MismatchKind, Placement, Suggestion, SuggestionKind, Wait};
pub use report::report;
pub use rewrite::{rewrite, rewrite_with};

use crate::routine::Routine;
use crate::song::SongView;

/// Lays a routine on a song: where each part falls, what does not meet, what would mend it.
///
/// The placing is the exact best by a teacher's judgement, whose prices stand in `judgement.rs`. Each
/// cause is reported once, where it shows. Music of up to [`CLOSING_COUNTS`] after the last step is
/// no mismatch.
pub fn fit(song: &SongView, routine: &Routine) -> Fit {
    told(&lay::lay(song, routine))
}

/// As [`fit`], with other ways of which less is amiss, the one that costs least first; at most three. `pulses`, at which the
/// song can be counted too, are asked for only where something is amiss.
pub fn fit_with_alternatives(
    song: &SongView,
    routine: &Routine,
    pulses: impl FnOnce() -> Vec<OtherPulse>,
) -> (Fit, Vec<Alternative>) {
    let laid = lay::lay(song, routine);
    let fit = told(&laid);
    let others = if fit.fits {
        Vec::new()
    } else {
        alternatives::alternatives(&laid, &fit.suggestions, &pulses())
    };
    (fit, others)
}

fn told(laid: &lay::Laid<'_>) -> Fit {
    let mismatches: Vec<Mismatch> = laid.causes.iter().map(|&c| laid.mismatch(c)).collect();
    let suggestions = mend::suggestions(laid);
    Fit {
        fits: mismatches.is_empty(),
        wait: laid.wait.clone(),
        placements: laid.placements.clone(),
        mismatches,
        suggestions,
    }
}
