//! `hoofbeat listen`: recordings in, song maps out.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;

use crate::audio::is_same_recording;
use crate::draw;
use crate::error::{Error, Result};
use crate::save::Overwrite;
use crate::song::{Beats, Listened, SongMap, UserSet, kept, listen};

use super::progress::Progress;
use super::{Outcome, mark::listing, output};

pub(super) mod report;

/// Listens to recordings and writes their song maps: beats, bars, counts and suggested phrases.
///
/// Each map is saved beside its recording as NAME.song.json. Listening again renews what was heard
/// and keeps every mark you made.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct ListenArgs {
    /// The recordings: MP3, M4A, FLAC, Ogg Vorbis, WAV or AIFF.
    #[arg(required = true, value_name = "AUDIO")]
    pub audio: Vec<PathBuf>,
    /// Write the map here; `-` is standard output. With several recordings: a folder.
    #[arg(short, long, value_name = "MAP")]
    pub output: Option<PathBuf>,
    /// Replace a map of another recording that stands there already, marks and all.
    #[arg(long)]
    pub force: bool,
    /// Write a map without beats where no pulse is found, to be tapped with `mark MAP tap`.
    #[arg(long)]
    pub without_beats: bool,
    /// Do not keep NAME.heard beside the map. It lets a correction right the rest of the song without
    /// listening again, takes about 6 kB a second, and may be deleted at any time.
    #[arg(long)]
    pub no_cache: bool,
    /// Draw how it was heard: onsets, tempogram, beats, bars, how clear they are, and which stretches
    /// sound alike, as SVG. For one recording at a time.
    #[arg(long, value_name = "FILE")]
    pub explain: Option<PathBuf>,
    /// Answer as JSON.
    #[arg(long)]
    pub json: bool,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat listen lantern-road.mp3                  writes lantern-road.song.json
  hoofbeat listen *.mp3                             one map each, on all cores
  hoofbeat listen lantern-road.mp3 -o maps/lr.json  writes the map there
  hoofbeat listen lantern-road.mp3 --explain why.svg  draws how it was heard";

/// Runs `listen`.
///
/// # Errors
/// Those of [`listen`] and of reading and writing maps. Of several recordings those that can be
/// listened to are; the error then names the others.
pub fn run(args: &ListenArgs) -> Result<Outcome> {
    let places = places(args)?;
    if args.explain.is_some() && places.len() > 1 {
        return Err(Error::Usage(
            "--explain draws one recording; listen to them one at a time, each with its own picture"
                .into(),
        ));
    }
    let progress = Progress::new();
    if let [(audio, place)] = &places[..] {
        let answer = one(args, audio, place, &progress)?;
        output::write(None, answer.as_bytes(), false)?;
        return Ok(Outcome::Done);
    }
    let answers: Vec<Result<String>> =
        places.par_iter().map(|(audio, place)| one(args, audio, place, &progress)).collect();
    let mut failed = Vec::new();
    for answer in answers {
        match answer {
            Ok(answer) => output::write(None, format!("{answer}\n").as_bytes(), false)?,
            Err(error) => failed.push(match error.advice() {
                Some(advice) => format!("{error}\n  {advice}"),
                None => error.to_string(),
            }),
        }
    }
    match failed.len() {
        0 => Ok(Outcome::Done),
        _ => Err(Error::SomeFailed { failed, of: places.len() }),
    }
}

/// Where a map goes.
enum Place {
    Stdout,
    File(PathBuf),
}

/// Each recording with the place of its map; no two share one.
fn places(args: &ListenArgs) -> Result<Vec<(PathBuf, Place)>> {
    let several = args.audio.len() > 1;
    let mut taken = HashSet::new();
    let mut places = Vec::new();
    for audio in &args.audio {
        let beside = SongMap::default_path(audio);
        let place = match &args.output {
            None => Place::File(beside),
            Some(to) if to.as_os_str() == "-" && !several => Place::Stdout,
            Some(to) if to.is_dir() => {
                Place::File(to.join(beside.file_name().unwrap_or(beside.as_os_str())))
            }
            Some(_) if several => {
                return Err(Error::Usage(
                    "with several recordings, -o must name a folder that exists; \
                     leave it out to save each map beside its recording"
                        .into(),
                ));
            }
            Some(to) => Place::File(to.clone()),
        };
        if let Place::File(path) = &place
            && !taken.insert(path.clone())
        {
            return Err(Error::Usage(format!(
                "two of the recordings would both write {}; listen to them one at a time, each with its own -o",
                path.display()
            )));
        }
        places.push((audio.clone(), place));
    }
    Ok(places)
}

/// Listens to one recording, saves its map, and says what was heard.
fn one(args: &ListenArgs, audio: &Path, place: &Place, progress: &Progress) -> Result<String> {
    let before = match place {
        // A file that is no map is an error before the work is done, not after.
        Place::File(path) if path.exists() && !args.force => Some(SongMap::load(path)?),
        _ => None,
    };
    // A recording without a pulse is drawn all the same, and is an error after that.
    let beats =
        if args.without_beats || args.explain.is_some() { Beats::IfAny } else { Beats::Wanted };
    let set = before.as_ref().map_or_else(UserSet::default, |map| map.set.clone());
    let bar = progress.bar("listening to", audio);
    let heard = listen(audio, &set, beats, &mut |share| bar.set_position((share * 100.0) as u64));
    bar.finish_and_clear();
    let Listened { recording, heard, unaided, sound, no_pulse, warnings } = heard?;
    progress.warn(audio, &warnings);
    if let Some(picture) = &args.explain {
        let mut map = SongMap::new(recording.clone(), heard.clone());
        map.set = set;
        let svg = draw::explanation(&map, &sound);
        output::replacing(picture, svg.as_bytes(), args.force, draw::is_explanation)?;
    }
    if let Some(why) = no_pulse.filter(|_| !args.without_beats) {
        return Err(Error::NoPulse { path: audio.to_path_buf(), why });
    }
    let fingerprint = recording.fingerprint.clone();
    let again = before.is_some();
    let map = match place {
        Place::Stdout => {
            let map = SongMap::new(recording, heard);
            output::write(None, &map.to_bytes(audio)?, false)?;
            return Ok(String::new());
        }
        Place::File(path) => match before {
            Some(map) if !is_same_recording(&map.recording, &recording) => {
                return Err(Error::OtherRecording {
                    map: path.clone(),
                    audio: audio.to_path_buf(),
                    map_of: map.recording.file,
                });
            }
            Some(_) => SongMap::update(path, |map| {
                map.listen_again(heard, recording);
                map.unaided = unaided;
                Ok(map.clone())
            })?,
            None => {
                let map = SongMap::new(recording, heard);
                let overwrite = if args.force { Overwrite::Yes } else { Overwrite::No };
                map.save(path, overwrite)?;
                map
            }
        },
    };
    if let Place::File(path) = place
        && !args.no_cache
    {
        kept::keep(path, &sound, &fingerprint);
    }
    if args.json {
        return listing::json(&map, None);
    }
    let Place::File(path) = place else { return Ok(String::new()) };
    Ok(report::text(&map, path, again))
}
