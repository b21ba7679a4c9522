//! A routine laid on a song: `(SongView, Routine) → Fit`.

mod model;

pub use model::{Fit, Mismatch, MismatchKind, Placement, Suggestion, SuggestionKind, Wait};
