//! `hoofbeat export`: a song map in another program's format.

use std::io::IsTerminal;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::error::{Error, Result};
use crate::fit::fit;
use crate::routine;
use crate::song::SongMap;
use crate::teach::Format;

use super::args::Output;
use super::{Outcome, output};

/// Writes beats, phrases, captions, markers or a tempo map for other programs.
///
/// With a routine its parts are in markers, MIDI and JAMS too, and its steps can be called ahead of time.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct ExportArgs {
    /// The song map.
    pub map: PathBuf,
    /// The routine's sheet, for calls and for the parts among the markers.
    pub routine: Option<PathBuf>,
    /// What to write.
    #[arg(long = "as", value_name = "FORMAT")]
    pub format: FormatArg,
    /// Where it goes.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat export lantern-road.song.json --as beats -o beats.txt
  hoofbeat export lantern-road.song.json lantern-road.txt --as calls -o calls.vtt";

/// The formats by their names on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FormatArg {
    /// Text: seconds and place in the bar, a beat a line
    Beats,
    /// Text: start, end, name and counts, a phrase a line
    Phrases,
    /// WebVTT: captions that count each eight along
    Captions,
    /// WebVTT: each line of steps called ahead of time; needs the routine
    Calls,
    /// CSV: count 1, phrases, parts and what does not meet, with times and counts
    Markers,
    /// Standard MIDI File: the tempo map, bars, phrases and parts as markers, a click track
    Midi,
    /// JAMS: beats and segments for research tools
    Jams,
}

impl From<FormatArg> for Format {
    fn from(arg: FormatArg) -> Format {
        match arg {
            FormatArg::Beats => Format::Beats,
            FormatArg::Phrases => Format::Phrases,
            FormatArg::Captions => Format::Captions,
            FormatArg::Calls => Format::Calls,
            FormatArg::Markers => Format::Markers,
            FormatArg::Midi => Format::Midi,
            FormatArg::Jams => Format::Jams,
        }
    }
}

/// Runs `export`.
///
/// # Errors
/// Those of [`SongMap::load`], [`Format::bytes`] and of writing.
pub fn run(args: &ExportArgs) -> Result<Outcome> {
    let format = Format::from(args.format);
    let song = SongMap::load(&args.map)?;
    let routine = args.routine.as_ref().map(|path| routine::read(path)).transpose()?;
    let dance = match &routine {
        Some(read) => Some((&read.routine, fit(&song.view()?, &read.routine))),
        None => None,
    };
    let bytes = format.bytes(&song, dance.as_ref().map(|(routine, fit)| (*routine, fit)))?;
    let path = args.output.output.as_deref();
    let to_stdout = path.is_none_or(|path| path.as_os_str() == "-");
    if to_stdout && !format.is_text() && std::io::stdout().is_terminal() {
        return Err(Error::Usage("this format is not text; name a file for it with -o".into()));
    }
    output::write(path, &bytes, args.output.force)?;
    Ok(Outcome::Done)
}
