//! From a file to mono samples at the working rate, every sample at its true time.
//!
//! ```text
//! file ─▶ source: packets, decoded to mono, each with its place ─▶ timeline: gaps filled, overlaps
//! cut ─▶ resample to [`WORKING_RATE_HZ`] ─▶ blocks for whoever listens, and for the fingerprint
//! ```
//!
//! [`Full`] holds a recording at its own rate and with its own channels, on the same time line, for those who
//! write sound; [`mod@write`] writes it.
//!
//! A packet is placed by its timestamp, never by what came before it, so a lost packet costs its own
//! length and no more. Formats without timestamps (MP3) get them from a walk over the file's frames.

mod decode;
pub mod fingerprint;
mod full;
mod halving;
mod layer3;
mod m4a;
mod mpeg;
mod ogg;
mod recording;
mod resample;
mod reservoir;
mod sniff;
mod source;
pub mod stretch;
mod timeline;
pub mod write;

pub use decode::{Decoded, decode, decode_beside};
pub use full::Full;
pub use recording::{Recording, is_same_recording};

/// Sample rate of all analysis, in hertz. Half of a CD's: sound up to 11 kHz, where percussion is still
/// bright, at half the work.
pub const WORKING_RATE_HZ: u32 = 22_050;
