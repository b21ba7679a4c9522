//! Suggested phrases: where a song's sections start and what they seem to be.
//!
//! Each beat gets a sound (harmony, timbre, rhythm, loudness; `sound`). How much changes at a beat,
//! and whether a repetition starts or ends there, gives the odds that a phrase starts on it
//! (`novelty`); where counting starts has odds of its own (`edges`). The phrases are the
//! most likely cutting of the song under those odds and the lengths that real songs have (`lengths`,
//! `segment`). Phrases that sound the same get the same name (`label`).
//!
//! Novelty after Foote (2000), *Automatic audio segmentation using a measure of audio novelty*;
//! repetition after Serrà, Müller, Grosche & Arcos (2014), *Unsupervised music structure annotation
//! by time series structure features and segment similarity*.

mod edges;
mod label;
mod lengths;
mod novelty;
mod segment;
mod sound;
#[cfg(test)]
mod testing;

pub use edges::{EdgeCues, edge_cues};
pub use novelty::{Cues, cues};
pub use sound::BeatSounds;

use crate::rhythm::{Features, Grid};
use crate::song::{HeardPhrase, OtherWait};
use crate::units::Beat;

/// The form of a song, as far as it can be heard.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Form {
    /// The beat that counting starts on.
    pub first: Beat,
    /// The phrases, first to last; the first starts on `first`. Empty when there are too few beats to
    /// speak of phrases (fewer than 16).
    pub phrases: Vec<HeardPhrase>,
    /// Where else the second phrase may start, likeliest first.
    pub other_waits: Vec<OtherWait>,
}

/// Suggests a song's form from its sound and its grid.
pub fn suggest(features: &Features, grid: &Grid) -> Form {
    let sounds = BeatSounds::new(features, &grid.beats_s);
    of_sounds(&sounds, &grid.bar_positions(), per_bar(grid))
}

/// The same where it is known that counting starts on `first`.
pub fn suggest_from(features: &Features, grid: &Grid, first: Beat) -> Form {
    let from = first.0.min(grid.beats_s.len());
    let sounds = BeatSounds::new(features, &grid.beats_s[from..]);
    let positions = &grid.bar_positions()[from..];
    let mut evidence = evidence(&sounds, positions, per_bar(grid));
    evidence.firsts.fill(f64::NEG_INFINITY);
    if let Some(odds) = evidence.firsts.first_mut() {
        *odds = 0.0;
    }
    let mut form = likeliest(&sounds, &evidence, per_bar(grid));
    let shifted = |beat: Beat| Beat(beat.0 + from);
    form.first = first;
    form.phrases.iter_mut().for_each(|phrase| phrase.beat = shifted(phrase.beat));
    form.other_waits.iter_mut().for_each(|wait| wait.beat = shifted(wait.beat));
    form
}

/// Suggests the form of a song of `per_bar` beats to the bar from the sound of its beats.
/// `bar_positions` is each beat's place in its bar, 1-based.
pub fn of_sounds(sounds: &BeatSounds, bar_positions: &[u32], per_bar: usize) -> Form {
    likeliest(sounds, &evidence(sounds, bar_positions, per_bar), per_bar)
}

fn per_bar(grid: &Grid) -> usize {
    grid.beats_per_bar.max(1) as usize
}

fn evidence(sounds: &BeatSounds, bar_positions: &[u32], per_bar: usize) -> segment::Evidence {
    let starts = novelty::boundary_odds(&cues(sounds, bar_positions, per_bar));
    let firsts = edges::edge_odds(&edge_cues(sounds, bar_positions));
    let mut ends = vec![f64::NEG_INFINITY; sounds.len()];
    ends.push(0.0);
    segment::Evidence { starts, firsts, ends }
}

fn likeliest(sounds: &BeatSounds, evidence: &segment::Evidence, per_bar: usize) -> Form {
    const FEWEST_BEATS: usize = 16;
    if sounds.len() < FEWEST_BEATS {
        return Form::default();
    }
    let Some(cutting) = segment::cut(evidence, per_bar) else { return Form::default() };
    let labels = label::labels(sounds, &cutting.starts, cutting.end);
    let first = cutting.starts.first().copied().unwrap_or_default();
    let phrases = cutting.starts.iter().zip(labels).zip(&cutting.sure);
    let phrases = phrases.map(|((&start, label), &sure)| HeardPhrase {
        label,
        beat: Beat(start),
        strength: round3(sure),
    });
    Form {
        first: Beat(first),
        phrases: phrases.collect(),
        other_waits: cutting
            .other_seconds
            .iter()
            .map(|&(beat, likelihood)| OtherWait { beat: Beat(beat), score: round3(likelihood) })
            .collect(),
    }
}

fn round3(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}
