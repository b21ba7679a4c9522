//! The song map: a recording, heard and marked, and the counts and phrases that follow from both.
//!
//! What was heard and what the user set are kept apart. [`SongMap::view`] lays the one over the other
//! and is the only place where counts are found; everything later reads the [`SongView`].

mod again;
mod beside;
mod carry;
mod check;
mod corrected;
mod file;
pub mod form;
mod form_line;
mod json;
pub mod kept;
mod lay;
mod listen;
mod map;
pub mod marks;
mod pulse;
mod tempo_story;
#[cfg(test)]
pub(crate) mod testing;
mod view;

pub use beside::{recording_of, sound_of};
pub use listen::{Beats, Listened, heard_of, listen};
pub use map::{
    Entered, Entrance, Heard, HeardPhrase, OtherWait, Pulse, SetPhrase, SongMap, Tapped, UserSet,
};
pub use marks::{Done, Mark};
pub use tempo_story::{TempoEvent, tempo_story};
pub use view::{CountLine, Phrase, SongView};
