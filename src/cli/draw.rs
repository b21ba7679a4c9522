//! `hoofbeat draw`: the timeline as a page to print.

use std::ffi::OsString;
use std::io::Read;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::draw::{Options, Paper, is_timeline, timeline};
use crate::error::Result;
use crate::fit::fit;
use crate::routine;
use crate::song::SongMap;

use super::args::Output;
use super::output;

/// Draws the timeline: the song's phrases, the routine's parts on them, eights, times, and what does
/// not meet. One page to print, or several for long songs.
///
/// Without -o it is saved beside the map as NAME.timeline.svg; a timeline saved there before is
/// replaced.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct DrawArgs {
    /// The song map.
    pub map: PathBuf,
    /// The routine's sheet; without one the song alone is drawn.
    pub routine: Option<PathBuf>,
    /// The paper it is for.
    #[arg(long, value_enum, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
    /// Where it goes.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat draw lantern-road.song.json                      the song's phrases
  hoofbeat draw lantern-road.song.json lantern-road.txt     and the routine on them
  hoofbeat draw lantern-road.song.json lantern-road.txt --paper letter -o wall.svg";

/// Papers by their names on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PaperArg {
    /// 297 × 210 mm
    A4,
    /// 11 × 8.5 inches
    Letter,
}

impl From<PaperArg> for Paper {
    fn from(arg: PaperArg) -> Paper {
        match arg {
            PaperArg::A4 => Paper::A4,
            PaperArg::Letter => Paper::Letter,
        }
    }
}

/// Runs `draw`.
///
/// # Errors
/// Those of [`SongMap::load`], [`SongMap::view`], [`routine::read`] and of writing.
pub fn run(args: &DrawArgs) -> Result<()> {
    let song = SongMap::load(&args.map)?.view()?;
    let laid = match &args.routine {
        None => None,
        Some(path) => {
            let routine = routine::read(path)?.routine;
            let fit = fit(&song, &routine);
            Some((routine, fit))
        }
    };
    let options = Options { paper: args.paper.into() };
    let svg = timeline(&song, laid.as_ref().map(|(routine, fit)| (routine, fit)), &options);
    if let Some(path) = &args.output.output {
        return output::write(Some(path), svg.as_bytes(), args.output.force);
    }
    let path = beside(&args.map);
    let force = args.output.force || holds_a_timeline(&path);
    output::write(Some(&path), svg.as_bytes(), force)?;
    output::write(None, format!("wrote {}\n", path.display()).as_bytes(), false)
}

/// `lantern-road.timeline.svg` beside `lantern-road.song.json`.
fn beside(map: &Path) -> PathBuf {
    let stem = map.file_stem().unwrap_or(map.as_os_str());
    let mut name: OsString = match Path::new(stem).extension() {
        Some(extension) if extension == "song" => Path::new(stem).with_extension("").into(),
        _ => stem.to_os_string(),
    };
    name.push(".timeline.svg");
    map.with_file_name(name)
}

/// Whether the file there was drawn by this command, so that it may be drawn anew.
fn holds_a_timeline(path: &Path) -> bool {
    let mut start = [0; 1024];
    let read = std::fs::File::open(path).and_then(|mut file| file.read(&mut start));
    read.is_ok_and(|length| is_timeline(&start[..length]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_timeline_lies_beside_its_map() {
        assert_eq!(beside(Path::new("a/b.song.json")), Path::new("a/b.timeline.svg"));
        assert_eq!(beside(Path::new("b.json")), Path::new("b.timeline.svg"));
        assert_eq!(beside(Path::new("a/b c.v2.song.json")), Path::new("a/b c.v2.timeline.svg"));
    }
}
