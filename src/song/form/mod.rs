//! Suggested phrases: where a song's sections start and what they seem to be.
//!
//! Each beat gets a sound (harmony, timbre, rhythm, loudness; `sound`) and cues (how much changes at it, whether a
//! repetition starts or ends there; `novelty`). From these a network (`network`) hears each beat's odds that a phrase
//! starts on it, what sort of phrase it lies in, and a direction that beats of the same music share. The phrases are
//! the most likely cutting of the song under those odds and the lengths that real songs have (`lengths`, `segment`).
//! Phrases whose beats point the same way get the same letter, and a word where one can be told (`label`).
//!
//! Novelty after Foote (2000), *Automatic audio segmentation using a measure of audio novelty*;
//! repetition after Serrà, Müller, Grosche & Arcos (2014), *Unsupervised music structure annotation
//! by time series structure features and segment similarity*.

mod edges;
mod inputs;
mod label;
mod lengths;
mod network;
mod novelty;
mod segment;
mod sound;
#[cfg(test)]
mod testing;

pub use inputs::{N_INPUTS, inputs};
pub(super) use label::letter;
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
    likeliest(&Evidence::new(features, grid))
}

/// The same where it is known that counting starts on `first`.
pub fn suggest_from(features: &Features, grid: &Grid, first: Beat) -> Form {
    let mut evidence = Evidence::new(features, grid);
    evidence.odds.firsts.fill(f64::NEG_INFINITY);
    if let Some(odds) = evidence.odds.firsts.get_mut(first.0) {
        *odds = 0.0;
    }
    Form { first, ..likeliest(&evidence) }
}

/// What is heard of a song's beats, and what that says of its phrases.
struct Evidence {
    inputs: Vec<[f32; N_INPUTS]>,
    heard: network::Heard,
    odds: segment::Evidence,
    per_bar: usize,
}

impl Evidence {
    fn new(features: &Features, grid: &Grid) -> Evidence {
        let sounds = BeatSounds::new(features, &grid.beats_s);
        let per_bar = grid.beats_per_bar.max(1) as usize;
        let inputs = inputs(&sounds, &grid.bar_positions(), per_bar);
        let heard = network::hear(&inputs);
        let mut ends = vec![f64::NEG_INFINITY; sounds.len()];
        ends.push(0.0);
        let odds = segment::Evidence {
            starts: heard.starts.iter().map(|&odds| f64::from(odds)).collect(),
            firsts: edges::first_odds(&heard),
            ends,
        };
        Evidence { inputs, heard, odds, per_bar }
    }
}

fn likeliest(evidence: &Evidence) -> Form {
    const FEWEST_BEATS: usize = 16;
    if evidence.heard.starts.len() < FEWEST_BEATS {
        return Form::default();
    }
    let Some(cutting) = segment::cut(&evidence.odds, evidence.per_bar) else {
        return Form::default();
    };
    let labels = label::labels(&evidence.heard, &evidence.inputs, &cutting.starts, cutting.end);
    let first = cutting.starts.first().copied().unwrap_or_default();
    let phrases = cutting.starts.iter().zip(labels).zip(&cutting.sure);
    let phrases = phrases.map(|((&start, label), &sure)| HeardPhrase {
        label: label.word,
        letter: label.letter,
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
