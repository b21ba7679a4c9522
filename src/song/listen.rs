//! From a file to a song map: decoding, hearing, following, suggesting.

use std::path::Path;

use super::again::rounded_to_file;
use super::{Heard, SongMap, UserSet, form};
use crate::audio::{self, Recording};
use crate::error::{Error, Result};
use crate::rhythm::{self, Constraints, Ear, Features, Grid};
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
        Ok(grid) => counted(&sound.features, grid.clone(), None),
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

/// What is heard of a grid: where counting starts and the phrases from there on. Where `first` is given,
/// counting starts there.
pub(super) fn counted(features: &Features, grid: Grid, first: Option<Beat>) -> Heard {
    let form = form::suggest(features, &grid, first);
    let form::Form { first: found, phrases, other_waits, entrance } = form;
    let first = first.unwrap_or(found);
    Heard { grid, first_count_beat: first, phrases, other_waits, entrance }
}
