//! Exports: a song map in other programs' formats.
//!
//! Input: a [`SongMap`], and a routine laid on it where there is one; output: the bytes of a file. One
//! trait, one file per format; nothing here writes to disk.

mod beats;
mod calls;
mod captions;
mod jams;
mod markers;
mod midi;
mod phrases;

use crate::error::{Error, Result};
use crate::fit::Fit;
use crate::rhythm::Grid;
use crate::routine::Routine;
use crate::song::SongMap;

/// A format that a song map can be written in.
trait Export {
    /// The whole file.
    fn bytes(&self, song: &SongMap, dance: Dance<'_>) -> Result<Vec<u8>>;
}

/// A routine and how it lies on the song, where there is one.
pub type Dance<'a> = Option<(&'a Routine, &'a Fit)>;

/// The formats there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Beat times and places in the bar, as text.
    Beats,
    /// Phrases with their times and lengths, as text.
    Phrases,
    /// WebVTT captions that count along.
    Captions,
    /// WebVTT captions that call each line of steps ahead of time; needs a routine.
    Calls,
    /// Every place worth finding, as comma-separated values.
    Markers,
    /// Standard MIDI File: tempo map, bars, markers.
    Midi,
    /// JAMS annotation.
    Jams,
}

impl Format {
    /// All of them.
    pub const ALL: [Format; 7] = [
        Format::Beats,
        Format::Phrases,
        Format::Captions,
        Format::Calls,
        Format::Markers,
        Format::Midi,
        Format::Jams,
    ];

    /// A song map in this format, with the dance on it where the format has a place for it.
    ///
    /// # Errors
    /// [`Error::NoPulse`] when the map holds no beats; [`Error::Usage`] for calls without a routine.
    pub fn bytes(self, song: &SongMap, dance: Dance<'_>) -> Result<Vec<u8>> {
        let export: &dyn Export = match self {
            Format::Beats => &beats::Beats,
            Format::Phrases => &phrases::Phrases,
            Format::Captions => &captions::Captions,
            Format::Calls => &calls::Calls,
            Format::Markers => &markers::Markers,
            Format::Midi => &midi::Midi,
            Format::Jams => &jams::Jams,
        };
        export.bytes(song, dance)
    }

    /// Whether the file is text, so that a terminal can show it.
    pub fn is_text(self) -> bool {
        self != Format::Midi
    }
}

/// The corrected grid, which must have beats.
fn grid_with_beats(song: &SongMap) -> Result<Grid> {
    let grid = song.corrected_grid();
    if grid.beats_s.is_empty() {
        let path = song.recording.file.clone().into();
        return Err(Error::NoPulse { path, why: "its song map holds no beats".into() });
    }
    Ok(grid)
}
