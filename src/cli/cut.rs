//! `hoofbeat cut`: a recording cut to order.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use crate::audio::Full;
use crate::audio::write::{Marker, Tags, Writer};
use crate::cut::{self, Frames, Joints, Limit, Plan};
use crate::error::{Error, Result};
use crate::save::Overwrite;
use crate::song::form::BeatSounds;
use crate::song::{Beats, SongMap, SongView, UserSet, kept, listen, recording_of, sound_of};
use crate::units::parse_clock;
use crate::{fit, routine};

use super::progress::Progress;
use super::{Outcome, output};

/// Cuts a recording of yours to order, on the beat, at the joins that sound best.
///
/// The new recording gets a song map of its own, with your phrases in it. Nothing is taken from the recording
/// that was cut. Recordings may be under copyright: what you may do with a cut of one is for you to know.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct CutArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// No longer than this, ending on a phrase: `2:00`, or `1:30-2:00` for at least and at most.
    #[arg(long, value_name = "TIME", group = "order")]
    pub to: Option<String>,
    /// So that this routine fits: its counts, part by part on phrases.
    #[arg(long, value_name = "SHEET", group = "order")]
    pub routine: Option<PathBuf>,
    /// These phrases, in this order: "intro, verse 1, chorus 1, chorus 3".
    #[arg(long, value_name = "PHRASES", group = "order")]
    pub keep: Option<String>,
    /// The recording, where it is not beside the map.
    #[arg(long, value_name = "FILE")]
    pub recording: Option<PathBuf>,
    /// Write the new recording here: .wav, .flac or .ogg. Left out, the cut is only told.
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace files that exist already.
    #[arg(long)]
    pub force: bool,
    /// Answer as JSON.
    #[arg(long)]
    pub json: bool,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat cut lantern-road.song.json --to 1:30
  hoofbeat cut lantern-road.song.json --to 1:15-1:30 -o short.flac
  hoofbeat cut lantern-road.song.json --routine lantern-road.txt -o for-the-routine.wav
  hoofbeat cut lantern-road.song.json --keep \"intro, verse 1, chorus 1, chorus 4, ending\" -o class.ogg

Listen to each join before you use a cut. Half a minute to two minutes is what most competitions
allow; ask for the rule of yours.";

/// Runs `cut`.
///
/// # Errors
/// Those of reading the map, the recording and the routine, of finding a cut, and of writing.
pub fn run(args: &CutArgs) -> Result<Outcome> {
    let map = SongMap::load(&args.map)?;
    let song = map.view()?;
    for warning in map.warnings() {
        eprintln!("warning: {}: {warning}", args.map.display());
    }
    let progress = Progress::new();
    // What stands in the way of writing is said before the work.
    let places = args.output.as_deref().map(|audio| places(args, audio)).transpose()?;
    let plan = plan(args, &map, &song, &progress)?;
    let joins = match &places {
        Some((audio, new_map)) => {
            let recording = recording_of(&args.map, &map, args.recording.as_deref())?;
            write(args, &map, &song, &plan, &recording, audio, new_map, &progress)?
        }
        None => plan.joins.clone(),
    };
    let text = if args.json {
        let answer = json!({
            "counts": plan.counts(),
            "duration_s": plan.duration_s,
            "pieces": plan.pieces,
            "joins": joins,
            "ending": plan.ending,
            "recording": places.as_ref().map(|(audio, _)| audio),
            "map": places.as_ref().map(|(_, map)| map),
        });
        format!("{answer:#}\n")
    } else {
        cut::report(&song, &plan, &joins)
    };
    output::write(None, text.as_bytes(), false)?;
    if let Some((audio, new_map)) = &places {
        eprintln!("saved {} and {}", audio.display(), new_map.display());
        eprintln!(
            "the recording may be under copyright: what you may do with this cut is for you to know"
        );
    }
    Ok(Outcome::Done)
}

/// Where the new recording and its map go.
fn places(args: &CutArgs, audio: &Path) -> Result<(PathBuf, PathBuf)> {
    let map = SongMap::default_path(audio);
    for path in [audio, &map] {
        if path.exists() && !args.force {
            return Err(Error::Exists(path.to_path_buf()));
        }
    }
    if same_file(audio, &args.map.with_file_name("x")) || same_file(&map, &args.map) {
        return Err(Error::Usage(format!(
            "{}: a cut needs a name of its own, so that the song it comes from is kept",
            audio.display()
        )));
    }
    Ok((audio.to_path_buf(), map))
}

fn same_file(a: &Path, b: &Path) -> bool {
    matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}

fn plan(args: &CutArgs, map: &SongMap, song: &SongView, progress: &Progress) -> Result<Plan> {
    let routine = args.routine.as_deref().map(routine::read).transpose()?;
    let limit = args.to.as_deref().map(limit).transpose()?;
    let bar = progress.bar("listening to", Path::new(&map.recording.file));
    let mut tell = |share: f64| bar.set_position((share * 100.0) as u64);
    let sound = sound_of(&args.map, map, args.recording.as_deref(), &mut tell)?;
    bar.finish_and_clear();
    let joints = Joints::new(song, &BeatSounds::new(&sound.features, &song.counts.times_s));
    match (limit, routine, &args.keep) {
        (Some(limit), ..) => cut::shorten(song, &joints, limit),
        (_, Some(read), _) => {
            cut::for_routine(song, &joints, &read.routine, &fit::fit(song, &read.routine))
        }
        (.., Some(named)) => cut::keep(song, &joints, named),
        _ => Err(Error::Usage(
            "say what the cut is for: --to 2:00, --routine SHEET or --keep \"intro, verse 1, …\""
                .into(),
        )),
    }
}

/// Reads `2:00` or `1:30-2:00`.
fn limit(text: &str) -> Result<Limit> {
    let (least, most) = text.split_once(['-', '–']).unwrap_or(("0", text));
    match (parse_clock(least), parse_clock(most)) {
        (Some(least_s), Some(most_s)) if least_s <= most_s && most_s > 0.0 => {
            Ok(Limit { least_s, most_s })
        }
        _ => Err(Error::Usage(format!(
            "--to {text}: a time is typed as 2:00, or 1:30-2:00 for at least and at most"
        ))),
    }
}

#[allow(clippy::too_many_arguments)]
fn write(
    args: &CutArgs,
    map: &SongMap,
    song: &SongView,
    plan: &Plan,
    recording: &Path,
    audio: &Path,
    new_map: &Path,
    progress: &Progress,
) -> Result<Vec<cut::Join>> {
    let overwrite = if args.force { Overwrite::Yes } else { Overwrite::No };
    let bar = progress.bar("reading", recording);
    let mut full = Full::decode(recording, &mut |share| bar.set_position((share * 100.0) as u64))?;
    bar.finish_and_clear();
    let apart_s =
        (full.frames() as f64 / f64::from(full.rate_hz()) - map.recording.duration_s).abs();
    if apart_s > 0.1 {
        return Err(Error::OtherRecording {
            map: args.map.clone(),
            audio: recording.to_path_buf(),
            map_of: map.recording.file.clone(),
        });
    }
    let tags = Tags {
        title: map.recording.title.as_ref().map(|title| format!("{title} (cut)")),
        artist: map.recording.artist.clone(),
    };
    let channels = full.channels() as u16;
    let mut writer = Writer::create(audio, channels, full.rate_hz(), &tags, overwrite)?;
    let bar = progress.bar("writing", audio);
    let mut tell = |share: f64| bar.set_position((share * 100.0) as u64);
    let spliced = cut::splice(song, plan, &mut full, &mut |block| writer.push(block), &mut tell)?;
    bar.finish_and_clear();
    let markers = spliced.joins.iter().map(|join| Marker { at_s: join.at_s, name: "join".into() });
    writer.finish(&markers.collect::<Vec<_>>())?;

    let heard = listen(audio, &UserSet::default(), Beats::IfAny, &mut |_| {})?;
    let fingerprint = heard.recording.fingerprint.clone();
    let made = SongMap::new(heard.recording, heard.heard);
    cut::carried(made, song, plan, &spliced.played_s).save(new_map, overwrite)?;
    kept::keep(new_map, &heard.sound, &fingerprint);
    Ok(spliced.joins)
}

impl Frames for Full {
    fn rate_hz(&self) -> f64 {
        f64::from(Full::rate_hz(self))
    }
    fn channels(&self) -> usize {
        Full::channels(self)
    }
    fn read(&mut self, from: i64, out: &mut [f32]) -> Result<()> {
        Full::read(self, from, out)
    }
}
