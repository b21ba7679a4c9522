//! From a file to a song map: decoding, hearing, following, suggesting.

use std::path::Path;

use super::again::rounded_to_file;
use super::{Heard, SongMap, UserSet, form};
use crate::audio::{self, Recording};
use crate::error::{Error, Result};
use crate::rhythm::{self, Constraints, Ear, Features, Grid, median_interval_s};
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
        Ok(grid) => heard_of(&sound.features, grid.clone()),
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

/// What is heard of a grid where nothing is set: where counting starts and the phrases from there on. Where nobody plays on the
/// first beat of the first bar, it is counted all the same.
pub fn heard_of(features: &Features, mut grid: Grid) -> Heard {
    let rest_s = grid.resting_first_beat_s();
    grid.put_before(rest_s.as_slice());
    let heard = counted(features, grid, None);
    match one_count_sooner(&heard) {
        Some((grid, first)) => counted(features, grid, Some(first)),
        None => heard,
    }
}

/// The grid and the beat to count from, one beat sooner, where the first phrase lacks a single count of whole eights (sixes where
/// a bar has three): its first beat rests, or is too soft to be heard. Where no beat was heard there, the grid has one more.
fn one_count_sooner(heard: &Heard) -> Option<(Grid, Beat)> {
    const FEW: usize = 9;
    let grid = &heard.grid;
    let first = heard.first_count_beat.0;
    let length = heard.phrases.get(1)?.beat.0.checked_sub(first)?;
    let whole = if grid.beats_per_bar == 3 { 6 } else { 8 };
    if !(length + 1).is_multiple_of(whole) {
        return None;
    }
    if let Some(sooner) = first.checked_sub(1) {
        return Some((grid.clone(), Beat(sooner)));
    }
    let period_s = median_interval_s(&grid.beats_s[..grid.beats_s.len().min(FEW)])?;
    let at_s = grid.beats_s.first()? - period_s;
    (at_s >= 0.0).then(|| {
        let mut grid = grid.clone();
        grid.put_before(&[at_s]);
        (grid, Beat(0))
    })
}

/// What is heard of a grid: where counting starts and the phrases from there on. Where `first` is given,
/// counting starts there.
pub(super) fn counted(features: &Features, grid: Grid, first: Option<Beat>) -> Heard {
    let form = form::suggest(features, &grid, first);
    let form::Form { first: found, phrases, other_waits, entrance } = form;
    let first = first.unwrap_or(found);
    Heard { grid, first_count_beat: first, phrases, other_waits, entrance }
}

#[cfg(test)]
mod tests {
    use super::super::testing;
    use super::*;

    /// A song heard from its second beat on, with a wait of one count less than 16.
    fn without_first_beat() -> Heard {
        let mut heard = testing::song(210).heard;
        heard.grid.beats_s.drain(..3);
        heard.grid.downbeats = (3..207).step_by(4).map(Beat).collect();
        heard.first_count_beat = Beat(0);
        heard.phrases.iter_mut().for_each(|phrase| phrase.beat.0 = phrase.beat.0.saturating_sub(3));
        heard
    }

    #[test]
    fn a_wait_that_lacks_one_count_of_whole_eights_is_made_whole() {
        let (grid, first) = one_count_sooner(&without_first_beat()).unwrap();
        assert_eq!(first, Beat(0));
        assert!((grid.beats_s[0] - 1.86).abs() < 1e-9);
        assert_eq!(grid.downbeats[..3], [0, 4, 8].map(Beat));
        // Where a beat was heard there it is the first count.
        let mut heard = testing::song(210).heard;
        heard.first_count_beat.0 += 1;
        let (grid, first) = one_count_sooner(&heard).unwrap();
        assert_eq!((grid, first.0 + 1), (heard.grid, heard.first_count_beat.0));
    }

    #[test]
    fn whole_and_odd_phrases_and_what_starts_the_recording_are_left_as_heard() {
        assert_eq!(one_count_sooner(&testing::song(210).heard), None);
        let mut odd = without_first_beat();
        odd.phrases[1].beat.0 += 1;
        assert_eq!(one_count_sooner(&odd), None);
        let mut at_once = without_first_beat();
        at_once.grid.beats_s.iter_mut().for_each(|t| *t -= 2.3);
        assert_eq!(one_count_sooner(&at_once), None);
    }
}
