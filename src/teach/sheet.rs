//! The cue sheet: what a teacher reads from while teaching.
//!
//! ```text
//! (Routine, SongView, Fit) ─▶ Sheet (headings, parts, order: words in cells) ─▶ text · HTML · PDF
//! ```
//!
//! [`Sheet`] holds every word in its cell, so that all formats lay out the same words. The text can be
//! read again as a routine and says the same dance.

mod again;
mod build;
mod canonical;
mod html;
mod pdf;
mod text;

#[cfg(test)]
mod tests;

pub use crate::draw::Paper;
use crate::error::Result;
use crate::fit::Fit;
use crate::routine::Routine;
use crate::song::SongView;

pub use again::same_dance;
pub(crate) use html::{escaped, page as html_page};

/// A cue sheet, every word in its cell and cleaned for showing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sheet {
    /// Title of the routine.
    pub title: String,
    /// Music, level, wait, …: what it is and its value, as the routine says it.
    pub facts: Vec<(String, String)>,
    /// The recording, its tempo, where counting and dancing start; empty without a song.
    pub song_facts: Vec<(String, String)>,
    /// Notes, as typed.
    pub notes: Vec<String>,
    /// Steps of the routine's own: name and movements.
    pub own_steps: Vec<(String, String)>,
    /// Names of the parts in the order danced.
    pub names: Vec<String>,
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
    /// Index into the routine's parts.
    pub index: Option<usize>,
    /// As typed.
    pub name: String,
    /// Its length in counts.
    pub counts: u32,
    /// `4 eights (32 counts)`.
    pub length: String,
    /// Which foot it starts on, and when.
    pub feet: String,
    /// The walls that it starts and ends towards.
    pub walls: String,
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
    /// Where it turns, the wall faced after it the first time round.
    pub faces: String,
    /// A call or note.
    pub note: String,
    /// The line as the glossary writes it, for where the words as typed would be read otherwise here.
    pub plain: Vec<String>,
}

/// Movements of a step and the feet under them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Movements {
    /// `DS DS DS RS`, in words.
    pub words: Vec<String>,
    /// `L R L RL`: one for each movement where both are known; else all in one.
    pub feet: Vec<String>,
    /// How often it is danced so, one after the other.
    pub times: u32,
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

/// How a sheet is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Look {
    /// The paper.
    pub paper: Paper,
    /// Large type, to be read from across the studio.
    pub big: bool,
    /// The order and the names alone, without steps.
    pub short: bool,
}

impl Sheet {
    /// As text 80 columns wide. The full text, read again as a routine, says the same dance as `routine`,
    /// of which this is the sheet.
    pub fn text(&self, routine: &Routine, short: bool) -> String {
        text::write(self, routine, short)
    }

    /// As one HTML page that needs no other file.
    pub fn html(&self, look: Look) -> String {
        html::write(self, look)
    }

    /// As a PDF with its own type. The same sheet gives the same bytes.
    ///
    /// # Errors
    /// [`Error::Usage`](crate::Error::Usage) where the PDF cannot be made, with the reason.
    pub fn pdf(&self, look: Look) -> Result<Vec<u8>> {
        pdf::write(self, look)
    }
}

/// The cue sheet of a routine laid on a song, as text 80 columns wide.
pub fn sheet(routine: &Routine, song: &SongView, fit: &Fit) -> String {
    Sheet::of(routine, Some((song, fit))).text(routine, false)
}

/// The cue sheet of a routine alone, as text 80 columns wide: no times, counts from the first step.
pub fn sheet_without_song(routine: &Routine) -> String {
    Sheet::of(routine, None).text(routine, false)
}
