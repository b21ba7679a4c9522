//! `hoofbeat sheet`: the cue sheet.

use std::path::PathBuf;

use clap::Args;

use crate::error::{Error, Result};
use crate::fit::fit;
use crate::routine;
use crate::song::SongMap;
use crate::teach;

use super::args::{Output, Steps};
use super::{Outcome, output};

/// Writes the cue sheet: steps with feet and running counts, and the order with song times.
///
/// Give the song map and the routine, or the routine alone for a sheet without times.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct SheetArgs {
    /// The song map and the routine's sheet, or the routine's sheet alone.
    #[arg(required = true, num_args = 1..=2, value_names = ["MAP", "ROUTINE"])]
    pub files: Vec<PathBuf>,
    /// Files of own steps.
    #[command(flatten)]
    pub steps: Steps,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat sheet lantern-road.song.json lantern-road.txt
  hoofbeat sheet lantern-road.txt -o sheet.txt";

/// Runs `sheet`.
///
/// # Errors
/// Those of reading the map and the routine, and of writing; [`Error::Usage`] for a map alone.
pub fn run(args: &SheetArgs) -> Result<Outcome> {
    let text = match &args.files[..] {
        [map, routine] => {
            let song = SongMap::load(map)?.view()?;
            let routine = routine::read_with(routine, &args.steps.steps)?.routine;
            teach::sheet(&routine, &song, &fit(&song, &routine))
        }
        [map] if map.extension().is_some_and(|e| e == "json") && SongMap::load(map).is_ok() => {
            return Err(Error::Usage(format!(
                "{} is a song map; name the routine's sheet behind it",
                map.display()
            )));
        }
        files => {
            let routine = files
                .first()
                .map(|path| routine::read_with(path, &args.steps.steps))
                .transpose()?;
            teach::sheet_without_song(&routine.map(|read| read.routine).unwrap_or_default())
        }
    };
    output::write(args.output.output.as_deref(), text.as_bytes(), args.output.force)?;
    Ok(Outcome::Done)
}
