//! The song map: a recording, heard and marked, and the counts and phrases that follow from both.
//!
//! What was heard and what the user set are kept apart. [`SongMap::view`] lays the one over the other
//! and is the only place where counts are found; everything later reads the [`SongView`].

pub mod form;
mod map;
mod view;

pub use map::{Heard, HeardPhrase, Pulse, SetPhrase, SongMap, Tapped, UserSet};
pub use view::{CountLine, Phrase, SongView};
