//! What is known of a recording, apart from its sound.

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
