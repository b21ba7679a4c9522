//! From a file to a song map: decoding, hearing, following, suggesting.

use std::path::Path;

use super::form::suggest_phrases;
use super::{Heard, HeardPhrase, UserSet};
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
    let constraints = constraints(set);
    let heard = match rhythm::solve(&sound.activations, &sound.features, &constraints) {
        Ok(grid) => {
            let (first_count_beat, phrases) = counted(&sound.features, &grid);
            Heard { grid, first_count_beat, phrases }
        }
        Err(_) if beats == Beats::IfAny => Heard::default(),
        Err(why) => {
            return Err(Error::NoPulse { path: path.to_path_buf(), why: why.to_string() });
        }
    };
    Ok(Listened { recording: decoded.recording, heard, warnings: decoded.warnings })
}

fn constraints(set: &UserSet) -> Constraints {
    Constraints {
        taps: set.tapped.iter().map(|t| t.beats_s.clone()).collect(),
        beats_per_minute: set.pulse.map(|p| p.counts_per_minute),
        bar_line_s: set.bar_line_s,
        beats_per_bar: set.beats_per_bar,
        changes_s: Vec::new(),
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
/// counting starts with the phrase that it leads into.
fn counted(features: &Features, grid: &Grid) -> (Beat, Vec<HeardPhrase>) {
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
