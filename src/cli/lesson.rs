//! `hoofbeat lesson`: a plan for a class.

use std::path::PathBuf;

use clap::Args;

use crate::error::{Error, Result};
use crate::fit::fit;
use crate::routine;
use crate::song::SongMap;
use crate::teach::lesson::{self, MINUTES, Names};
use crate::teach::sheet::Look;

use super::args::Output;
use super::sheet::SheetFormat;
use super::{Outcome, output};

/// Plans a class: in what order to teach the parts and joins, how long on each, and the practice tracks.
///
/// The ending of the file's name says what is written: .txt or .html. The plan is a suggestion; the
/// teacher's own judgement stands.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct LessonArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// The routine's sheet, plain text.
    pub routine: PathBuf,
    /// Length of the class in minutes, 15 to 240.
    #[arg(long, default_value_t = 60)]
    pub minutes: u32,
    /// Print the plan as JSON.
    #[arg(long)]
    pub json: bool,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat lesson lantern-road.song.json lantern-road.txt --minutes 45
  hoofbeat lesson lantern-road.song.json lantern-road.txt -o plan.html";

/// Runs `lesson`.
///
/// # Errors
/// Those of reading the map and the routine, and of writing; [`Error::Usage`] for a class of another length.
pub fn run(args: &LessonArgs) -> Result<Outcome> {
    if !MINUTES.contains(&args.minutes) {
        return Err(Error::Usage(format!(
            "--minutes {}: a class is {} to {} minutes long",
            args.minutes,
            MINUTES.start(),
            MINUTES.end()
        )));
    }
    let song = SongMap::load(&args.map)?.view()?;
    let routine = routine::read(&args.routine)?.routine;
    let names =
        Names { map: args.map.display().to_string(), routine: args.routine.display().to_string() };
    let plan = lesson::lesson(&routine, &song, &fit(&song, &routine), args.minutes, &names);
    let path = args.output.output.as_deref();
    let text = if args.json {
        let json = serde_json::to_string_pretty(&plan)
            .map_err(|e| Error::Usage(format!("the plan cannot be written as JSON: {e}")))?;
        json + "\n"
    } else {
        match SheetFormat::of(path) {
            SheetFormat::Html => lesson::html(&plan, Look::default()),
            SheetFormat::Text => lesson::text(&plan),
            SheetFormat::Pdf => {
                return Err(Error::Usage(
                    "a lesson plan is written as .txt or .html; a browser prints the .html as PDF"
                        .into(),
                ));
            }
        }
    };
    output::write(path, text.as_bytes(), args.output.force)?;
    Ok(Outcome::Done)
}
