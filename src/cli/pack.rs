//! `hoofbeat pack`: everything for another teacher.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::error::{Error, Result};
use crate::routine;
use crate::save::Overwrite;
use crate::song::{SongMap, recording_of};
use crate::teach::lesson::MINUTES;
use crate::teach::pack::{Source, pack, write_folder, write_zip};

use super::Outcome;

/// Makes a folder or zip file for another teacher: sheets, timeline, lesson plan, captions, map and routine.
///
/// The recording is not in it. Whoever gets the pack opens it on their own copy with `hoofbeat open` and need
/// not mark anything again.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct PackArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// The routine's sheet, plain text.
    pub routine: PathBuf,
    /// The folder to make, or a file that ends in .zip.
    #[arg(short, long, value_name = "FOLDER|FILE.zip")]
    pub output: PathBuf,
    /// Replace a zip file that exists already.
    #[arg(long)]
    pub force: bool,
    /// Length of the class that the lesson plan is for, in minutes.
    #[arg(long, default_value_t = 60)]
    pub minutes: u32,
    /// Put the recording into the pack too. It may be under copyright: only if you may pass it on.
    #[arg(long)]
    pub with_recording: bool,
    /// Where the recording is, if not beside the map.
    #[arg(long, value_name = "FILE", requires = "with_recording")]
    pub recording: Option<PathBuf>,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat pack lantern-road.song.json lantern-road.txt -o lantern-road-pack.zip
  hoofbeat pack lantern-road.song.json lantern-road.txt -o for-the-tuesday-class";

/// Runs `pack`.
///
/// # Errors
/// Those of reading map, routine and recording, and of writing.
pub fn run(args: &PackArgs) -> Result<Outcome> {
    if !MINUTES.contains(&args.minutes) {
        return Err(Error::Usage(format!(
            "--minutes {}: a class is {} to {} minutes long",
            args.minutes,
            MINUTES.start(),
            MINUTES.end()
        )));
    }
    let map = SongMap::load(&args.map)?;
    let read = routine::read(&args.routine)?;
    let recording = match args.with_recording {
        true => Some(recording_of(&args.map, &map, args.recording.as_deref())?),
        false => None,
    };
    if let Some(path) = recording.as_ref().filter(|path| !path.is_file()) {
        let source = std::io::Error::from(std::io::ErrorKind::NotFound);
        return Err(Error::Io { path: path.clone(), source });
    }
    let named =
        |path: &Path| path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    let (map_name, routine_name) = (named(&args.map), named(&args.routine));
    let recording_name = recording.as_deref().map(named);
    let files = pack(Source {
        map: &map,
        map_name: &map_name,
        routine: &read.routine,
        routine_text: &read.text,
        routine_name: &routine_name,
        recording: recording_name.as_deref(),
        minutes: args.minutes,
    })?;
    let along = recording.as_deref().zip(recording_name.as_deref());
    if args.output.extension().is_some_and(|e| e.eq_ignore_ascii_case("zip")) {
        let overwrite = if args.force { Overwrite::Yes } else { Overwrite::No };
        write_zip(&args.output, &files, along, overwrite)?;
    } else {
        write_folder(&args.output, &files, along)?;
    }
    let number = files.len() + usize::from(along.is_some());
    eprintln!("saved {}: {number} files; begin with index.html", args.output.display());
    eprintln!(
        "{}",
        match along {
            Some(_) =>
                "the recording is in it and may be under copyright: pass it on only if you may",
            None => "the recording is not in it; it opens on their own copy with `hoofbeat open`",
        }
    );
    Ok(Outcome::Done)
}
