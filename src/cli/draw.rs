//! `hoofbeat draw`: the timeline as SVG.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::draw::{self, Options};
use crate::error::Result;
use crate::fit::fit;
use crate::routine;
use crate::song::SongMap;

use super::args::Output;
use super::{Outcome, output};

/// Draws the timeline: song phrases, with a routine laid under them if one is given.
///
/// Saved beside the map as NAME.timeline.svg unless -o says otherwise; a timeline drawn there before
/// is replaced. It opens in any browser and prints on one page for songs of up to six minutes.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct DrawArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// The routine's sheet, plain text.
    pub routine: Option<PathBuf>,
    /// The paper it is for.
    #[arg(long, value_enum, default_value_t)]
    pub paper: Paper,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat draw lantern-road.song.json
  hoofbeat draw lantern-road.song.json lantern-road.txt --paper letter -o wall.svg";

/// Paper, lying on its long side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum Paper {
    /// 297 × 210 mm.
    #[default]
    A4,
    /// 11 × 8.5 inches.
    Letter,
}

impl From<Paper> for draw::Paper {
    fn from(paper: Paper) -> draw::Paper {
        match paper {
            Paper::A4 => draw::Paper::A4,
            Paper::Letter => draw::Paper::Letter,
        }
    }
}

/// Runs `draw`.
///
/// # Errors
/// Those of reading the map and the routine, and of writing.
pub fn run(args: &DrawArgs) -> Result<Outcome> {
    let song = SongMap::load(&args.map)?.view()?;
    let routine = match &args.routine {
        Some(path) => Some(routine::read(path)?.routine),
        None => None,
    };
    let laid = routine.as_ref().map(|routine| (routine, fit(&song, routine)));
    let options = Options { paper: args.paper.into() };
    let svg = draw::timeline(&song, laid.as_ref().map(|(r, f)| (*r, f)), &options);
    output::beside(&args.output, &args.map, "timeline.svg", svg.as_bytes(), draw::is_timeline)?;
    Ok(Outcome::Done)
}
