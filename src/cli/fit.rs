//! `hoofbeat fit`: a routine laid on a song.

use std::path::PathBuf;

use clap::Args;

use crate::error::{Error, Result};
use crate::fit;
use crate::routine;
use crate::song::SongMap;

use super::args::Output;
use super::{Outcome, output};

/// Lays a routine on a song: where each part falls, what does not meet, what would mend it.
///
/// Exit code 0: it fits. 1: it does not. 2: an error.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct FitArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// The routine's sheet, plain text.
    pub routine: PathBuf,
    /// Answer as JSON.
    #[arg(long)]
    pub json: bool,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat fit lantern-road.song.json lantern-road.txt
  hoofbeat fit lantern-road.song.json lantern-road.txt --json -o fit.json";

/// Runs `fit`.
///
/// # Errors
/// Those of reading the map and the routine, and of writing.
pub fn run(args: &FitArgs) -> Result<Outcome> {
    let map = SongMap::load(&args.map)?;
    let song = map.view()?;
    for warning in map.warnings() {
        eprintln!("warning: {}: {warning}", args.map.display());
    }
    let routine = routine::read(&args.routine)?.routine;
    let laid = fit::fit(&song, &routine);
    let text = if args.json {
        let mut json = serde_json::to_string_pretty(&laid)
            .map_err(|e| Error::Usage(format!("no JSON could be made: {e}")))?;
        json.push('\n');
        json
    } else {
        fit::report(&laid, &song, &routine)
    };
    output::write(args.output.output.as_deref(), text.as_bytes(), args.output.force)?;
    Ok(if laid.fits { Outcome::Done } else { Outcome::DoesNotFit })
}
