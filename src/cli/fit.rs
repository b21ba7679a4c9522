//! `hoofbeat fit`: a routine laid on a song.

use std::path::PathBuf;

use clap::Args;

use crate::error::{Error, Result};
use crate::fit;
use crate::routine;
use crate::song::{SongMap, SongView};

use super::args::{Output, Steps};
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
    #[arg(long, conflicts_with = "apply")]
    pub json: bool,
    /// Write the routine's sheet with this mend made: its number in the report, from 1 on.
    #[arg(long, value_name = "NUMBER")]
    pub apply: Option<usize>,
    /// Files of own steps.
    #[command(flatten)]
    pub steps: Steps,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat fit lantern-road.song.json lantern-road.txt
  hoofbeat fit lantern-road.song.json lantern-road.txt --json -o fit.json
  hoofbeat fit lantern-road.song.json lantern-road.txt --apply 1 -o mended.txt";

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
    let read = routine::read_with(&args.routine, &args.steps.steps)?;
    let routine = &read.routine;
    let laid = fit::fit(&song, routine);
    if let Some(number) = args.apply {
        return apply(args, &song, &read, &laid, number);
    }
    let text = if args.json {
        let mut json = serde_json::to_string_pretty(&laid)
            .map_err(|e| Error::Usage(format!("no JSON could be made: {e}")))?;
        json.push('\n');
        json
    } else {
        fit::report(&laid, &song, routine)
            + &routine::load::load_section(routine, Some(song.counts_per_minute))
    };
    output::write(args.output.output.as_deref(), text.as_bytes(), args.output.force)?;
    Ok(if laid.fits { Outcome::Done } else { Outcome::DoesNotFit })
}

/// Writes the sheet with one mend made, and says what then still does not meet.
fn apply(
    args: &FitArgs,
    song: &SongView,
    read: &routine::Read,
    laid: &fit::Fit,
    number: usize,
) -> Result<Outcome> {
    let chosen = number.checked_sub(1).and_then(|n| laid.suggestions.get(n));
    let Some(mend) = chosen else {
        let why = match laid.suggestions.len() {
            0 => "there is no mend to apply".to_string(),
            most => format!("--apply {number}: the report numbers its mends from 1 to {most}"),
        };
        return Err(Error::Usage(why));
    };
    let Some(sheet) = fit::rewrite(&read.text, &mend.edits) else {
        return Err(Error::Usage(format!(
            "mend {number} cannot be written into this sheet without changing more of it; make it by \
             hand: {}",
            mend.message
        )));
    };
    output::write(args.output.output.as_deref(), sheet.as_bytes(), args.output.force)?;
    let after = fit::fit(song, &routine::parse_with(&sheet, &read.steps).0);
    eprintln!("mend {number} made: {}", mend.message);
    match after.mismatches.len() {
        0 => eprintln!("it fits"),
        1 => eprintln!("1 thing still does not meet"),
        n => eprintln!("{n} things still do not meet"),
    }
    Ok(if after.fits { Outcome::Done } else { Outcome::DoesNotFit })
}
