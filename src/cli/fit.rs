//! `hoofbeat fit`: a routine laid on a song.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use crate::error::{Error, Result};
use crate::fit::{fit, report};
use crate::routine::read;
use crate::song::SongMap;

use super::args::Output;
use super::{Outcome, output};

/// Lays a routine on a song: where each part falls, what does not meet, what would mend it.
///
/// Exit code 0 when it fits, 1 when it does not, 2 for an error.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  hoofbeat fit lantern-road.song.json lantern-road.txt")]
pub struct FitArgs {
    /// The song map.
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

/// Runs `fit`.
///
/// # Errors
/// Those of [`SongMap::load`], [`SongMap::view`] and [`read`], and of writing.
pub fn run(args: &FitArgs) -> Result<Outcome> {
    let map = SongMap::load(&args.map)?;
    let sheet = read(&args.routine)?;
    let song = map.view()?;
    for warning in map.warnings() {
        eprintln!("warning: {}: {warning}", args.map.display());
    }
    let fitted = fit(&song, &sheet.routine);
    let text = if args.json { json(&fitted)? } else { report(&fitted, &song, &sheet.routine) };
    output::write(args.output.output.as_deref(), text.as_bytes(), args.output.force)?;
    Ok(if fitted.fits { Outcome::Done } else { Outcome::DoesNotFit })
}

fn json(answer: &impl Serialize) -> Result<String> {
    serde_json::to_string_pretty(answer)
        .map(|text| text + "\n")
        .map_err(|e| Error::Usage(format!("the fit cannot be written as JSON: {e}")))
}
