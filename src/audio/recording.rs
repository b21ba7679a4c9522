//! What is known of a recording, apart from its sound.

use super::fingerprint;
use serde::{Deserialize, Serialize};

/// A recording's facts, as the song map keeps them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Recording {
    /// File name without its folder.
    pub file: String,
    /// Length of the decoded sound in seconds, encoder delay and padding trimmed.
    pub duration_s: f64,
    /// Sample rate of the file in hertz.
    pub sample_rate_hz: u32,
    /// Channels in the file.
    pub channels: u32,
    /// Title from the tags.
    pub title: Option<String>,
    /// Artist from the tags.
    pub artist: Option<String>,
    /// A mark of the sound itself, the same for two copies of one recording in different formats or
    /// at different bit rates, up to a few bits.
    pub fingerprint: String,
}

/// Whether two recordings are copies of one, so that times in one are times in the other: in other
/// formats, at other bit rates or levels they are; another cut, another take, another song, or a copy
/// with seconds added in front is not. Too short to compare by sound (under about
/// 10 s): whether they are equally long.
pub fn is_same_recording(a: &Recording, b: &Recording) -> bool {
    /// Copies differ in length by padding and by silence cut off, in seconds.
    const LENGTH_MAY_DIFFER_S: f64 = 5.0;
    let apart = (a.duration_s - b.duration_s).abs();
    match fingerprint::similarity_in_place(&a.fingerprint, &b.fingerprint) {
        Some(alike) => alike >= fingerprint::SAME && apart <= LENGTH_MAY_DIFFER_S,
        None => a.fingerprint == b.fingerprint && apart <= 0.1,
    }
}
