//! The lesson plan: in what order to teach a routine to a class, and how long on what.
//!
//! ```text
//! (Routine, SongView, Fit), minutes ─▶ Lesson (items with minutes) ─▶ text · HTML · JSON
//! ```
//!
//! What is danced most and soonest is taught first, what is easy before what is hard, and two parts that
//! meet are joined as soon as both are known. It is a suggestion: the teacher's own judgement stands.

mod needs;
mod plan;
mod write;

use serde::Serialize;

use crate::fit::Fit;
use crate::routine::Routine;
use crate::song::SongView;

pub use write::{html, text};

/// The shortest and the longest class that is planned, in minutes.
pub const MINUTES: std::ops::RangeInclusive<u32> = 15..=240;

/// A class planned.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lesson {
    /// Title of the routine.
    pub title: String,
    /// The recording.
    pub song: String,
    /// Length of the class in minutes.
    pub minutes: u32,
    /// Counts a minute on the recording.
    pub counts_per_minute: f64,
    /// Shares of the recording's tempo to build it up by, in percent.
    pub ladder: Vec<u32>,
    /// What is done, one after the other.
    pub items: Vec<Item>,
    /// Parts for which this class is too short, in the order in which to teach them.
    pub next_class: Vec<String>,
    /// What does not meet on this recording; to be settled before class.
    pub settle_first: Vec<String>,
    /// Warm up, floor and shoes, tempo, pain.
    pub cautions: Vec<String>,
}

/// Sorts of item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ItemKind {
    /// Warming up.
    WarmUp,
    /// Hearing the song: the wait and the phrases.
    Song,
    /// A part and its new steps.
    Part,
    /// The end of one part into the start of another.
    Join,
    /// The dance through.
    Through,
    /// Cooling down.
    CoolDown,
}

/// One thing done in class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// What sort.
    pub kind: ItemKind,
    /// In a few words.
    pub title: String,
    /// When it begins, minutes from the start of the class.
    pub at_minute: u32,
    /// How long.
    pub minutes: u32,
    /// Why it stands here.
    pub why: String,
    /// What to do, in sentences.
    pub doing: Vec<String>,
    /// Steps that are new here.
    pub new_steps: Vec<NewStep>,
    /// Where it is in the song: start and end, seconds.
    pub in_song: Vec<Span>,
    /// The command that makes the practice track.
    pub practice: Option<String>,
}

/// A stretch of the song.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Span {
    /// Start, seconds.
    pub start_s: f64,
    /// End, seconds.
    pub end_s: f64,
}

/// A step taken apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NewStep {
    /// Its name.
    pub name: String,
    /// Its length in counts.
    pub counts: u32,
    /// Movements: `DS BR DS RS`.
    pub movements: String,
    /// Feet under them, started on the left.
    pub feet: String,
    /// When they sound: `&a1 &2 &a3 &4`.
    pub timing: String,
    /// Each movement in words.
    pub in_words: Vec<String>,
    /// The level from which on it is usually taught, where the glossary says one.
    pub level: Option<String>,
    /// Whether the other foot is free after it.
    pub changes_foot: bool,
}

/// The names that practice commands are made with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Names {
    /// The song map, as typed.
    pub map: String,
    /// The routine, as typed.
    pub routine: String,
}

/// Plans a class of so many minutes; they are kept within [`MINUTES`].
pub fn lesson(
    routine: &Routine,
    song: &SongView,
    fit: &Fit,
    minutes: u32,
    names: &Names,
) -> Lesson {
    plan::plan(routine, song, fit, minutes.clamp(*MINUTES.start(), *MINUTES.end()), names)
}

#[cfg(test)]
mod tests;
