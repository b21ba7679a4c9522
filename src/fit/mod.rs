//! A routine laid on a song: `(SongView, Routine) → Fit`.

mod align;
mod ground;
mod judgement;
mod model;
mod table;

#[cfg(test)]
mod exactness;
#[cfg(test)]
mod testing;

pub use judgement::CLOSING_COUNTS;
pub use model::{Fit, Mismatch, MismatchKind, Placement, Suggestion, SuggestionKind, Wait};
