//! From a file to a song map: decoding, hearing, following, suggesting.

use std::path::Path;

use super::{Heard, UserSet, form};
use crate::audio::{self, Recording};
use crate::error::{Error, Result};
use crate::rhythm::{self, Constraints, Ear};
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
            let form::Form { first, end, phrases, other_waits } =
                form::suggest(&sound.features, &grid);
            Heard { grid, first_count_beat: first, end_beat: end, phrases, other_waits }
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
