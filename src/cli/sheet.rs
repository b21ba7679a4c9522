//! `hoofbeat sheet`: the cue sheet to teach from.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::error::{Error, Result};
use crate::fit::fit;
use crate::routine;
use crate::song::SongMap;
use crate::teach;

use super::args::Output;
use super::output;

/// Writes the cue sheet: parts with counts, steps and feet; the order with running counts, walls and,
/// given a song map, the song's times and what does not meet.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct SheetArgs {
    /// The song map and the routine's sheet; or the routine's sheet alone.
    #[arg(required = true, num_args = 1..=2, value_names = ["MAP", "ROUTINE"])]
    pub files: Vec<PathBuf>,
    /// Where it goes.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat sheet lantern-road.song.json lantern-road.txt    with the song's times
  hoofbeat sheet lantern-road.txt                           the routine alone
  hoofbeat sheet lantern-road.song.json lantern-road.txt -o lantern-road.sheet.txt";

/// Runs `sheet`.
///
/// # Errors
/// Those of [`SongMap::load`], [`SongMap::view`], [`routine::read`] and of writing; [`Error::Usage`]
/// for a map alone.
pub fn run(args: &SheetArgs) -> Result<()> {
    let text = match args.files.as_slice() {
        [map, sheet] => {
            let song = SongMap::load(map)?.view()?;
            let routine = routine::read(sheet)?.routine;
            let fit = fit(&song, &routine);
            teach::sheet(&routine, &song, &fit)
        }
        [map] if is_map(map) => {
            return Err(Error::Usage(format!(
                "{} is a song map; name the routine's sheet behind it",
                map.display()
            )));
        }
        files => {
            let sheet = files.first().map_or(Path::new(""), PathBuf::as_path);
            teach::sheet_without_song(&routine::read(sheet)?.routine)
        }
    };
    output::write(args.output.output.as_deref(), text.as_bytes(), args.output.force)
}

/// Whether a file is a song map, not a sheet.
fn is_map(path: &Path) -> bool {
    path.extension().is_some_and(|e| e == "json") && SongMap::load(path).is_ok()
}
