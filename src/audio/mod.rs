//! From a file to mono samples at the working rate, every sample at its true time.
//!
//! ```text
//! file ─▶ source: packets, decoded to mono, each with its place ─▶ timeline: gaps filled, overlaps
//! cut ─▶ resample to [`WORKING_RATE_HZ`] ─▶ blocks for whoever listens, and for the fingerprint
//! ```
//!
//! A packet is placed by its timestamp, never by what came before it, so a lost packet costs its own
//! length and no more. Formats without timestamps (MP3) get them from a walk over the file's frames.

mod decode;
pub mod fingerprint;
mod halving;
mod m4a;
mod mpeg;
mod ogg;
mod recording;
mod resample;
mod sniff;
mod source;
mod timeline;
mod wav;

pub use decode::{Decoded, decode, decode_beside};
pub use recording::{Recording, is_same_recording};
pub use wav::write_wav;

/// Sample rate of all analysis, in hertz. Half of a CD's: sound up to 11 kHz, where percussion is still
/// bright, at half the work.
pub const WORKING_RATE_HZ: u32 = 22_050;
