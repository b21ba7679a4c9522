//! The song map's file: what was heard, what was set.

use serde::{Deserialize, Serialize};

use crate::audio::Recording;
use crate::rhythm::Grid;
use crate::units::Beat;

/// One recording, heard and marked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SongMap {
    /// Always `hoofbeat-song`.
    pub format: String,
    /// Version of the format; this release writes 1.
    pub version: u64,
    /// The recording it is of.
    pub recording: Recording,
    /// What was heard. Replaced by listening again.
    pub heard: Heard,
    /// What the user set. Never touched by listening.
    #[serde(default)]
    pub set: UserSet,
    /// What was heard before any correction was held fast; there while `heard` was solved again under
    /// what is set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unaided: Option<Box<Heard>>,
    /// What was set before the last change, for undo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub undo: Option<Box<UserSet>>,
}

impl SongMap {
    /// The value of `format`.
    pub const FORMAT: &str = "hoofbeat-song";
    /// The version written by this release.
    pub const VERSION: u64 = 1;
}

/// What the ear made of the recording.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Heard {
    /// Beats, bars and pulse.
    #[serde(flatten)]
    pub grid: Grid,
    /// The beat on which counting can start: the first downbeat of the first full bar.
    pub first_count_beat: Beat,
    /// Suggested phrases in order. Each ends where the next starts; the last with the last count.
    pub phrases: Vec<HeardPhrase>,
    /// Where else the phrase after the first may start, likeliest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_waits: Vec<OtherWait>,
    /// What comes in while the dancers wait.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entrance: Option<Entrance>,
}

/// What comes in while the dancers wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Entered {
    /// Drums: attacks in the lowest and the highest band grow at once.
    Drums,
    /// More players: all grows louder at once.
    Band,
}

/// Something that comes in on a beat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entrance {
    /// The beat it comes in on.
    pub beat: Beat,
    /// What it is.
    pub what: Entered,
}

/// Another end of the wait.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OtherWait {
    /// The beat that the second phrase may start on.
    pub beat: Beat,
    /// Likelihood, 0 to 1.
    pub score: f64,
}

/// A suggested phrase.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HeardPhrase {
    /// What it seems to be: intro, verse, chorus, … or `phrase`.
    pub label: String,
    /// The same for phrases that sound the same again: A, B, …
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub letter: String,
    /// The beat it starts on.
    pub beat: Beat,
    /// How likely a phrase starts there, 0 to 1.
    pub strength: f64,
}

/// Everything the user set. Places are kept in seconds, so that they hold when beats are heard anew.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct UserSet {
    /// Time of count 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_count_s: Option<f64>,
    /// How the counts sit on the beats.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pulse: Option<Pulse>,
    /// Time of a beat that starts a bar.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bar_line_s: Option<f64>,
    /// Counts to the bar.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beats_per_bar: Option<u32>,
    /// Stretches whose beats the user typed; they replace what was heard from their first beat to
    /// their last.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tapped: Vec<Tapped>,
    /// Times at which tempo or bars change; a bar starts there.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub changes_s: Vec<f64>,
    /// Phrases the user marked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub phrases: Vec<SetPhrase>,
    /// Starts of suggested phrases that the user took away.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub removed_s: Vec<f64>,
    /// The set phrases are the whole form: suggestions are not shown beside them.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub phrases_complete: bool,
    /// Where the last phrase ends, when the user said so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_s: Option<f64>,
}

/// A pulse set by the user. Kept as a rate, so that it holds when the beats are heard at another
/// level next time: the ratio to the beats that comes nearest to it is taken.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pulse {
    /// Counts a minute that the user dances.
    pub counts_per_minute: f64,
}

/// A stretch tapped anew.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tapped {
    /// Beat times in seconds, ascending, at least two.
    pub beats_s: Vec<f64>,
}

/// A phrase marked by the user.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetPhrase {
    /// The user's word for it.
    pub label: String,
    /// Where it starts, seconds; the nearest count is meant.
    pub start_s: f64,
}
