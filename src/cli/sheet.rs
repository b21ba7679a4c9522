//! `hoofbeat sheet`: the cue sheet.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::error::{Error, Result};
use crate::fit::fit;
use crate::routine::{self, Routine};
use crate::song::SongMap;
use crate::teach::sheet::{Look, Sheet};

use super::args::{Output, Steps};
use super::draw::Paper;
use super::{Outcome, output};

/// Writes the cue sheet: steps with feet and running counts, and the order with song times.
///
/// Give the song map and the routine, or the routine alone for a sheet without times. The ending of the file's
/// name says what is written: .txt, .html or .pdf. The text can be read again as a routine.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct SheetArgs {
    /// The song map and the routine's sheet, or the routine's sheet alone.
    #[arg(required = true, num_args = 1..=2, value_names = ["MAP", "ROUTINE"])]
    pub files: Vec<PathBuf>,
    /// Files of own steps.
    #[command(flatten)]
    pub steps: Steps,
    /// The order and the names of the parts alone, without steps.
    #[arg(long)]
    pub short: bool,
    /// The paper it is printed on.
    #[arg(long, value_enum, default_value_t)]
    pub paper: Paper,
    /// Large type, to be read from across the studio (HTML and PDF).
    #[arg(long)]
    pub big: bool,
    /// What to write, where the file's name does not say it.
    #[arg(long = "as", value_enum, value_name = "FORMAT")]
    pub format: Option<SheetFormat>,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

/// What a sheet is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SheetFormat {
    /// Text 80 columns wide, which can be read again
    Text,
    /// One HTML page
    Html,
    /// A PDF
    Pdf,
}

impl SheetFormat {
    /// What the ending of a file's name says; text where it says nothing.
    pub fn of(path: Option<&Path>) -> SheetFormat {
        let ending = path.and_then(Path::extension).map(|e| e.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("html" | "htm") => SheetFormat::Html,
            Some("pdf") => SheetFormat::Pdf,
            _ => SheetFormat::Text,
        }
    }
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat sheet lantern-road.song.json lantern-road.txt
  hoofbeat sheet lantern-road.song.json lantern-road.txt -o sheet.pdf --paper letter
  hoofbeat sheet lantern-road.txt --short -o order.html";

/// Runs `sheet`.
///
/// # Errors
/// Those of reading the map and the routine, and of writing; [`Error::Usage`] for a map alone.
pub fn run(args: &SheetArgs) -> Result<Outcome> {
    let (sheet, routine) = match &args.files[..] {
        [map, routine] => {
            let song = SongMap::load(map)?.view()?;
            let routine = routine::read_with(routine, &args.steps.steps)?.routine;
            (Sheet::of(&routine, Some((&song, &fit(&song, &routine)))), routine)
        }
        [map] if map.extension().is_some_and(|e| e == "json") && SongMap::load(map).is_ok() => {
            return Err(Error::Usage(format!(
                "{} is a song map; name the routine's sheet behind it",
                map.display()
            )));
        }
        files => {
            let read = files
                .first()
                .map(|path| routine::read_with(path, &args.steps.steps))
                .transpose()?;
            let routine: Routine = read.map(|read| read.routine).unwrap_or_default();
            (Sheet::of(&routine, None), routine)
        }
    };
    let path = args.output.output.as_deref();
    let format = args.format.unwrap_or_else(|| SheetFormat::of(path));
    let look = Look { paper: args.paper.into(), big: args.big, short: args.short };
    let bytes = match format {
        SheetFormat::Text => sheet.text(&routine, args.short).into_bytes(),
        SheetFormat::Html => sheet.html(look).into_bytes(),
        SheetFormat::Pdf => sheet.pdf(look)?,
    };
    let to_stdout = path.is_none_or(|path| path.as_os_str() == "-");
    if to_stdout && format == SheetFormat::Pdf && std::io::stdout().is_terminal() {
        return Err(Error::Usage("a PDF is not text; name a file for it with -o".into()));
    }
    output::write(path, &bytes, args.output.force)?;
    Ok(Outcome::Done)
}
