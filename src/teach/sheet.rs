//! The cue sheet: what a teacher reads from while teaching.
//!
//! ```text
//! (Routine, SongView, Fit) ─▶ Sheet (headings, parts, order: words in cells) ─▶ text
//! ```
//!
//! [`Sheet`] holds every word in its cell, so that other formats lay out the same words.

mod build;
mod text;

#[cfg(test)]
mod tests;

use crate::fit::Fit;
use crate::routine::Routine;
use crate::song::SongView;

/// A cue sheet, every word in its cell and cleaned for showing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sheet {
    /// Title of the routine.
    pub title: String,
    /// Music, level, wait, tempo, …: what it is and its value.
    pub facts: Vec<(String, String)>,
    /// Notes, as typed.
    pub notes: Vec<String>,
    /// Each part once.
    pub parts: Vec<PartSheet>,
    /// The order as danced, with the song's times where a song is given.
    pub order: Vec<Row>,
    /// Whether times and counts of a song are in `order`.
    pub with_song: bool,
    /// What does not meet and belongs to no row of the order.
    pub elsewhere: Vec<Flag>,
    /// The usual cautions.
    pub cautions: String,
}

/// A part with its steps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PartSheet {
    /// As typed.
    pub name: String,
    /// `4 eights (32 counts)`.
    pub length: String,
    /// Which foot it starts on, and when.
    pub feet: String,
    /// Its lines.
    pub lines: Vec<StepRow>,
}

/// A line of steps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StepRow {
    /// Counts of the part that it takes: `9-16`.
    pub running: String,
    /// Its length in counts.
    pub counts: u32,
    /// As typed.
    pub steps: String,
    /// Each step's movements and, one under the other, its feet.
    pub movements: Vec<Movements>,
    /// A call or note.
    pub note: String,
}

/// Movements of a step and the feet under them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Movements {
    /// `DS DS DS RS`, in words.
    pub words: Vec<String>,
    /// `L R L RL`: one for each movement where both are known; else all in one.
    pub feet: Vec<String>,
}

/// A row of the order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Row {
    /// What sort of row.
    pub kind: RowKind,
    /// Part and time round.
    pub name: String,
    /// Running counts: `17-48`.
    pub running: String,
    /// Where it starts in the song.
    pub time: String,
    /// The phrase it starts in.
    pub phrase: String,
    /// Its length.
    pub length: String,
    /// The foot it starts on.
    pub foot: String,
    /// The wall it starts towards.
    pub wall: String,
    /// What does not meet here.
    pub flags: Vec<Flag>,
}

/// Sorts of row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RowKind {
    /// A part.
    #[default]
    Part,
    /// A fill.
    Fill,
    /// The wait.
    Wait,
    /// Counts without steps.
    Free,
    /// A part for which there is no room.
    NoRoom,
}

/// Something that does not meet, in words, with what would mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flag {
    /// Its number on the timeline.
    pub number: usize,
    /// In a sentence.
    pub words: String,
    /// In sentences.
    pub mends: Vec<String>,
}

/// The cue sheet of a routine laid on a song, as text 80 columns wide.
pub fn sheet(routine: &Routine, song: &SongView, fit: &Fit) -> String {
    text::write(&Sheet::of(routine, Some((song, fit))))
}

/// The cue sheet of a routine alone, as text 80 columns wide: no times, counts from the first step.
pub fn sheet_without_song(routine: &Routine) -> String {
    text::write(&Sheet::of(routine, None))
}
