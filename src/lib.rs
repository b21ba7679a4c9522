//! Hoofbeat fits a dance routine to the beats of a song.
//!
//! Data flows one way; each stage has one named input and one named output:
//!
//! ```text
//! audio file ──decode──▶ samples ──▶ OnsetStrength ──▶ Tempogram ──▶ Grid (beats, bars, pulse)
//!                                                                     │
//!                                    suggested phrases, user's marks ─▶ SongMap ──▶ SongView
//! routine text ──parse──▶ Routine ───────────────────────────────────────────────────▶ Fit
//!                                                                                       │
//!                                            report · timeline · cue sheet · exports ◀──┘
//! ```

pub mod audio;
pub mod cli;
pub mod cut;
pub mod draw;
pub mod error;
pub mod fit;
#[cfg(test)]
mod golden;
mod plain;
pub mod recut;
pub mod rhythm;
pub mod routine;
pub mod save;
pub mod song;
mod spectrum;
pub mod teach;
pub mod units;
mod vector;
pub mod warning;

pub use error::{Error, Result};
pub use warning::Warning;
