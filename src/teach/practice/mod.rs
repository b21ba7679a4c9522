//! Practice audio: the song or a stretch of it, slower or at full tempo with the pitch kept, looped, with clicks,
//! spoken counts, the sound of the steps and calls.
//!
//! ```text
//! (SongView, Routine, Fit) ─passage─▶ counts to practise ─script─▶ music segments and sounds, each at its
//!                                                                  frame ─perform─▶ sound, with markers
//! ```
//!
//! Sounds are made after the music is stretched and stand at their counts to the sample, at any tempo.

mod limiter;
mod passage;
mod perform;
mod script;
mod sounds;
mod voice;

pub use passage::{Passage, Where};
pub use perform::perform;
pub use script::{Layer, Layers, Script, Wishes, script};
pub use sounds::Sound;
pub use voice::{Voice, own_calls};

/// Slowest and fastest practice tempo, share of the song's.
pub const TEMPI: std::ops::RangeInclusive<f64> = 0.6..=1.2;

/// What goes with every practice track, in words.
pub const CAUTION: &str = "Warm up, mind floor and shoes, build tempo up slowly, stop at pain.";
