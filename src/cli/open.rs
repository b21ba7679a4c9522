//! `hoofbeat open`: another teacher's pack on one's own copy of the recording.

use std::path::PathBuf;

use clap::Args;

use crate::audio::{self, is_same_recording};
use crate::error::{Error, Result};
use crate::save::{Overwrite, save};
use crate::song::{Beats, SongMap, listen};
use crate::teach::pack;

use super::Outcome;
use super::progress::Progress;

/// Opens another teacher's pack on your own copy of the recording, so that nothing has to be marked again.
///
/// The copy is known by its sound. The song map is saved beside it, with all that was set, and so is the
/// routine. Of another cut of the song it says so.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct OpenArgs {
    /// The pack: a folder or a zip file.
    pub pack: PathBuf,
    /// Your own copy of the recording.
    pub recording: PathBuf,
    /// Write the map and the routine into this folder, and not beside the recording.
    #[arg(long, value_name = "FOLDER")]
    pub into: Option<PathBuf>,
    /// Replace a map and a routine that exist already.
    #[arg(long)]
    pub force: bool,
}

const EXAMPLES: &str = "\
Example:
  hoofbeat open lantern-road-pack.zip my-copy.ogg";

/// Runs `open`.
///
/// # Errors
/// Those of reading the pack and the recording, [`Error::PackOfAnother`], and of writing.
pub fn run(args: &OpenArgs) -> Result<Outcome> {
    let opened = pack::open(&args.pack)?;
    let mut map = opened.map;
    let beside = SongMap::default_path(&args.recording);
    let at = |name: &std::ffi::OsStr| match &args.into {
        Some(folder) => folder.join(name),
        None => args.recording.with_file_name(name),
    };
    let map_path = at(beside.file_name().unwrap_or(beside.as_os_str()));
    let routine_path = at(opened.routine_name.as_ref());
    // What is there already is an error before the work is done, not after.
    for path in [&map_path, &routine_path] {
        if !args.force && path.exists() {
            return Err(Error::Exists(path.clone()));
        }
    }
    let progress = Progress::new();
    let bar = progress.bar("comparing", &args.recording);
    let decoded =
        audio::decode_beside(&args.recording, |blocks| blocks.for_each(drop), &mut |share| {
            bar.set_position((share * 100.0) as u64)
        });
    bar.finish_and_clear();
    let (decoded, ()) = decoded?;
    let (theirs, own) = (&map.recording, &decoded.recording);
    if !is_same_recording(theirs, own) {
        return Err(Error::PackOfAnother {
            pack: args.pack.clone(),
            audio: args.recording.clone(),
            pack_of: theirs.file.clone(),
            pack_s: theirs.duration_s,
            audio_s: own.duration_s,
        });
    }
    // A map keeps its length to a tenth of a millisecond.
    let as_long = (theirs.duration_s - own.duration_s).abs() < 0.001;
    let same_file = theirs.fingerprint == own.fingerprint && as_long;
    if same_file {
        map.recording.file = own.file.clone();
    } else {
        // Another encoding sounds a little different: it is heard anew, what was set held fast.
        let bar = progress.bar("listening to", &args.recording);
        let heard = listen(&args.recording, &map.set, Beats::IfAny, &mut |share| {
            bar.set_position((share * 100.0) as u64);
        });
        bar.finish_and_clear();
        let heard = heard?;
        progress.warn(&args.recording, &heard.warnings);
        map.listen_again(heard.heard, heard.recording);
        map.unaided = heard.unaided;
    }
    let overwrite = if args.force { Overwrite::Yes } else { Overwrite::No };
    map.save(&map_path, overwrite)?;
    save(&routine_path, opened.routine_text.as_bytes(), overwrite)?;
    eprintln!(
        "{}",
        if same_file {
            "the very recording that the pack was made on: its map holds as it is"
        } else {
            "a copy of the recording that the pack was made on: heard anew, with all that was set"
        }
    );
    println!("saved {}\nsaved {}", map_path.display(), routine_path.display());
    Ok(Outcome::Done)
}
