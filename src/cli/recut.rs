//! `hoofbeat recut`: another cut of a song, with the marks carried over.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};

use crate::error::{Error, Result};
use crate::recut::{self, Recut};
use crate::save::Overwrite;
use crate::song::{Beats, SongMap, SongView, UserSet, kept, listen, sound_of};
use crate::units::clock;

use super::progress::Progress;
use super::{Outcome, output};

/// Says what another cut of a song has of it, and carries the marks over.
///
/// Exit code 0: done, and with --routine it fits. 1: the routine does not fit. 2: an error, or another song.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct RecutArgs {
    /// The song map of the cut that is marked.
    pub map: PathBuf,
    /// The new cut.
    #[arg(required = true, value_name = "NEW-AUDIO")]
    pub audio: Vec<PathBuf>,
    /// Where to save the new cut's song map; `-` prints it. Left out, it is saved beside the new cut.
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace a song map that exists already.
    #[arg(long)]
    pub force: bool,
    /// Answer as JSON.
    #[arg(long)]
    pub json: bool,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat recut lantern-road.song.json lantern-road-radio-edit.m4a";

/// Runs `recut`.
///
/// # Errors
/// Those of reading the map and listening, [`Error::OtherSong`], and those of writing.
pub fn run(args: &RecutArgs) -> Result<Outcome> {
    let map = SongMap::load(&args.map)?;
    let old = map.view()?;
    let progress = Progress::new();
    let bar = progress.bar("listening to", Path::new(&map.recording.file));
    let sound =
        sound_of(&args.map, &map, None, &mut |share| bar.set_position((share * 100.0) as u64))?;
    bar.finish_and_clear();
    for audio in &args.audio {
        let bar = progress.bar("listening to", audio);
        let heard = listen(audio, &UserSet::default(), Beats::Wanted, &mut |share| {
            bar.set_position((share * 100.0) as u64);
        })?;
        bar.finish_and_clear();
        let fingerprint = heard.recording.fingerprint.clone();
        let new = SongMap::new(heard.recording, heard.heard);
        let cut = recut::recut(&old, &sound.features, &new, &heard.sound.features);
        let text = if args.json {
            format!("{:#}\n", answer(&old, &cut))
        } else {
            format!("{}\n", recut::tell(&old, &cut))
        };
        output::write(None, text.as_bytes(), false)?;
        if !cut.same {
            return Err(Error::Usage(format!(
                "not the same song: {:.0} % matches",
                100.0 * cut.share
            )));
        }
        let path = args.output.clone().unwrap_or_else(|| SongMap::default_path(audio));
        let overwrite = if args.force { Overwrite::Yes } else { Overwrite::No };
        cut.map.save(&path, overwrite)?;
        kept::keep(&path, &heard.sound, &fingerprint);
    }
    Ok(Outcome::Done)
}

fn answer(old: &SongView, cut: &Recut) -> Value {
    let names = old.names();
    let phrases: Vec<Value> = cut
        .song
        .phrases
        .iter()
        .zip(&cut.phrases)
        .map(|(phrase, carried)| {
            let of = carried.of.map(|p| {
                json!({
                    "name": names[p], "label": old.phrases[p].label, "index": p,
                    "start_count": old.phrases[p].start, "counts": old.phrases[p].counts,
                    "from": carried.from,
                })
            });
            json!({
                "label": phrase.label, "start_count": phrase.start, "counts": phrase.counts,
                "start_s": phrase.start_s, "end_s": phrase.end_s, "of": of,
                "confidence": (1000.0 * carried.sure).round() / 1000.0,
            })
        })
        .collect();
    json!({
        "same_song": cut.same,
        "matches": cut.share,
        "matches_of_old": cut.share_of_old,
        "same_sound": cut.same_sound,
        "shift_semitones": cut.semitones,
        "tempo_ratio": cut.tempo_ratio,
        "phrases": phrases,
        "missing": cut.missing.iter().map(|&p| names[p].clone()).collect::<Vec<_>>(),
        "ends": clock(cut.song.duration_s),
    })
}
