//! From a file to a song map: decoding, hearing, following, suggesting.

use std::path::Path;

use super::again::rounded_to_file;
use super::form::suggest_phrases;
use super::{Heard, HeardPhrase, SongMap, UserSet};
use crate::audio::{self, Recording};
use crate::error::{Error, Result};
use crate::rhythm::{self, Constraints, Ear, Features, Grid, features};
use crate::units::Beat;
use crate::warning::Warning;

/// A recording listened to.
#[derive(Debug)]
pub struct Listened {
    /// Its facts.
    pub recording: Recording,
    /// Beats, bars and suggested phrases; without beats where the recording has none and [`Beats::IfAny`] was asked for.
    pub heard: Heard,
    /// What was heard before corrections were held fast, where there are any.
    pub unaided: Option<Box<Heard>>,
    /// The sound, to solve again from or to look at.
    pub sound: rhythm::Heard,
    /// Why no pulse was heard, in words, where none was.
    pub no_pulse: Option<String>,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

/// Whether a recording without a pulse is an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beats {
    /// It is: [`Error::NoPulse`].
    Wanted,
    /// It gives a map without beats, for the user to tap.
    IfAny,
}

/// Listens to a recording. `set` is what the user has said of it before, if anything; it is held fast.
/// `progress` is told the share done, 0 to 1, from another thread.
///
/// # Errors
/// Those of [`audio::decode`], and [`Error::NoPulse`].
pub fn listen(
    path: &Path,
    set: &UserSet,
    beats: Beats,
    progress: &mut (dyn FnMut(f64) + Send),
) -> Result<Listened> {
    let hear = |blocks: &mut dyn Iterator<Item = Vec<f32>>| {
        let mut ear = Ear::new();
        blocks.for_each(|block| ear.hear(&block));
        ear.finish()
    };
    let (decoded, sound) = audio::decode_beside(path, hear, progress)?;
    let unaided = rhythm::solve(&sound.activations, &sound.features, &Constraints::default());
    let heard = match &unaided {
        Ok(grid) => {
            let (first_count_beat, phrases) = counted(&sound.features, grid, None);
            Heard { grid: grid.clone(), first_count_beat, phrases }
        }
        Err(_) => Heard::default(),
    };
    let mut map = SongMap::new(decoded.recording, rounded_to_file(heard));
    map.set = set.clone();
    map.hear_again(Some(&sound));
    let SongMap { recording, heard, unaided: without, .. } = map;
    let silent = heard.grid.beats_s.is_empty() && set.tapped.is_empty();
    // What the user tapped gives a pulse where none was heard.
    let no_pulse = unaided.err().filter(|_| silent).map(|why| why.to_string());
    match no_pulse {
        Some(why) if beats == Beats::Wanted => {
            Err(Error::NoPulse { path: path.to_path_buf(), why })
        }
        no_pulse => {
            let warnings = decoded.warnings;
            Ok(Listened { recording, heard, unaided: without, sound, no_pulse, warnings })
        }
    }
}

/// Share of a bar's frames that must sound for counting to start on it.
const SOUNDING: f64 = 0.75;
/// Sound further below the recording's loud frames than this is silence, decibels.
const SILENT_DB: f32 = 45.0;

/// Counting starts on the first bar that sounds for most of its length; a pickup before it is not
/// counted. The first beat where no bar does.
fn first_full_bar(features: &Features, grid: &Grid) -> Beat {
    let frame = |beat: Option<&f64>| {
        let time_s = beat.copied().unwrap_or(features.duration_s());
        (time_s.max(0.0) * features::FRAMES_PER_SECOND) as usize
    };
    let bars = grid.downbeats.windows(2).map(|pair| (pair[0], pair[1]));
    let sounds = |&(from, to): &(Beat, Beat)| {
        let frames = frame(grid.beats_s.get(from.0))..frame(grid.beats_s.get(to.0));
        let sounding = frames.clone().filter(|&k| {
            let power: f32 = features.band_powers(k).sum();
            10.0 * power.max(1e-12).log10() > features.reference_db() - SILENT_DB
        });
        sounding.count() as f64 >= SOUNDING * frames.len() as f64
    };
    bars.into_iter().find(sounds).map(|(bar, _)| bar).unwrap_or_default()
}

/// Where counting starts, and the phrases from there on. An opening of a bar or less is a pickup:
/// counting starts with the phrase that it leads into. Where `first` is given, counting starts there.
pub(super) fn counted(
    features: &Features,
    grid: &Grid,
    first: Option<Beat>,
) -> (Beat, Vec<HeardPhrase>) {
    if let Some(first) = first {
        return (first, suggest_phrases(features, grid, first));
    }
    let first = first_full_bar(features, grid);
    let mut phrases = suggest_phrases(features, grid, first);
    match phrases[..] {
        [ref pickup, ref next, ..]
            if next.beat.0 - pickup.beat.0 <= grid.beats_per_bar.max(1) as usize =>
        {
            let first = next.beat;
            phrases.remove(0);
            (first, phrases)
        }
        _ => (first, phrases),
    }
}
