//! Suggested phrases: where a song's sections start and what they seem to be.
//!
//! Each beat gets a sound (harmony, timbre, rhythm, loudness; [`sound`]). How much changes at a beat,
//! and whether a repetition starts or ends there, gives the odds that a phrase starts on it
//! ([`novelty`]). The phrases are the most likely cutting of the song under those odds and the
//! lengths that real songs have ([`lengths`], [`segment`]). Phrases that sound the same get the same
//! name ([`label`]).
//!
//! Novelty after Foote (2000), *Automatic audio segmentation using a measure of audio novelty*;
//! repetition after Serrà, Müller, Grosche & Arcos (2014), *Unsupervised music structure annotation
//! by time series structure features and segment similarity*.

mod label;
mod lengths;
mod novelty;
mod segment;
mod sound;

pub use novelty::{CUE_NAMES, Cues, cues};
pub use sound::BeatSounds;

use crate::rhythm::{Features, Grid};
use crate::song::HeardPhrase;
use crate::units::Beat;

/// Suggests the phrases of a song from its sound and its grid, from the beat `first` on, first to
/// last. Empty when there are too few beats to speak of phrases (fewer than 16).
pub fn suggest_phrases(features: &Features, grid: &Grid, first: Beat) -> Vec<HeardPhrase> {
    const FEWEST_BEATS: usize = 16;
    let beats_s = grid.beats_s.get(first.0..).unwrap_or_default();
    if beats_s.len() < FEWEST_BEATS {
        return Vec::new();
    }
    let sounds = BeatSounds::new(features, beats_s);
    let cues = cues(&sounds, &grid.bar_positions()[first.0..]);
    let odds = novelty::boundary_odds(&cues);
    let evidence: Vec<f64> = odds.iter().map(|o| o - novelty::BASE_ODDS).collect();
    let starts = segment::most_likely(&evidence, grid.beats_per_bar.max(1) as usize);
    let labels = label::labels(&sounds, &starts);
    starts
        .iter()
        .zip(labels)
        .map(|(&start, label)| HeardPhrase {
            label,
            beat: Beat(first.0 + start),
            strength: round3(1.0 / (1.0 + (-odds[start]).exp())),
        })
        .collect()
}

fn round3(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}
