//! `hoofbeat export`: a song map in another program's format.

use std::io::IsTerminal;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::error::{Error, Result};
use crate::song::SongMap;
use crate::teach::Format;

use super::args::Output;
use super::{Outcome, output};

/// Writes beats, phrases, captions or a tempo map for other programs.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  hoofbeat export song.song.json --as beats -o beats.txt")]
pub struct ExportArgs {
    /// The song map.
    pub map: PathBuf,
    /// What to write.
    #[arg(long = "as", value_name = "FORMAT")]
    pub format: FormatArg,
    /// Where it goes.
    #[command(flatten)]
    pub output: Output,
}

/// The formats by their names on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FormatArg {
    /// Text: seconds and place in the bar, a beat a line
    Beats,
    /// Text: start, end, name and counts, a phrase a line
    Phrases,
    /// WebVTT: captions that count each eight along
    Captions,
    /// Standard MIDI File: the tempo map, bars and phrases as markers
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
    let bytes = format.bytes(&SongMap::load(&args.map)?)?;
    let path = args.output.output.as_deref();
    let to_stdout = path.is_none_or(|path| path.as_os_str() == "-");
    if to_stdout && !format.is_text() && std::io::stdout().is_terminal() {
        return Err(Error::Usage("this format is not text; name a file for it with -o".into()));
    }
    output::write(path, &bytes, args.output.force)?;
    Ok(Outcome::Done)
}
