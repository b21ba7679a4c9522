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
mod entrance;
mod inputs;
mod label;
mod lengths;
mod likeness;
mod network;
mod novelty;
mod segment;
mod sound;
mod taught;
#[cfg(test)]
mod testing;
mod twins;

pub use inputs::{N_INPUTS, inputs};
pub(super) use label::letter;
pub use likeness::SelfLikeness;
pub use sound::{BeatSounds, PITCHES};
pub use taught::Taught;

use crate::rhythm::{Features, Grid};
use crate::song::{Entrance, HeardPhrase, OtherWait};
use crate::units::Beat;
use network::SORTS;
use twins::Twins;

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
    /// What comes in while the dancers wait.
    pub entrance: Option<Entrance>,
}

/// Suggests a song's form from its sound and its grid. Where `first` is given, counting starts there.
pub fn suggest(features: &Features, grid: &Grid, first: Option<Beat>) -> Form {
    let evidence = Evidence::new(features, grid, first);
    likeliest(&evidence, &evidence.odds)
}

/// The same under what the user said of phrase starts; those nearer than `near` beats to another are one.
pub fn suggest_taught(
    features: &Features,
    grid: &Grid,
    first: Option<Beat>,
    taught: &Taught,
    near: usize,
) -> Form {
    Evidence::new(features, grid, first).taught(taught, near.max(1))
}

/// What is heard of a song's beats, and what that says of its phrases.
struct Evidence {
    inputs: Vec<[f32; N_INPUTS]>,
    heard: network::Heard,
    odds: segment::Evidence,
    twins: Twins,
    sounds: BeatSounds,
    bar_positions: Vec<u32>,
    per_bar: usize,
}

impl Evidence {
    fn new(features: &Features, grid: &Grid, first: Option<Beat>) -> Evidence {
        let sounds = BeatSounds::new(features, &grid.beats_s);
        let per_bar = grid.beats_per_bar.max(1) as usize;
        let bar_positions = grid.bar_positions();
        let inputs = inputs(&sounds, &bar_positions, per_bar);
        let heard = network::hear(&inputs);
        let mut ends = vec![f64::NEG_INFINITY; sounds.len()];
        ends.push(0.0);
        let weighed = |weight: f64| -> Vec<f64> {
            heard.starts.iter().map(|&odds| weight * f64::from(odds)).collect()
        };
        let twins = Twins::new(&heard, &inputs);
        let starts = twins.shared(&weighed(BESIDE_LENGTHS));
        let firsts = edges::first_odds(&weighed(BESIDE_LEFT_OUT), &heard.sorts);
        let sorts = sums_of_sorts(&heard.sorts);
        let mut odds = segment::Evidence { starts, firsts, ends, sorts };
        // Where the wait is sooner over than not, a phrase starts, the first or a later one.
        for (beat, step) in heard.first_steps.iter().enumerate() {
            if step.exp() > 0.5 {
                odds.starts[beat] += SURELY;
                odds.firsts[beat] += SURELY;
            }
        }
        if let Some(first) = first {
            odds.firsts.fill(f64::NEG_INFINITY);
            odds.firsts.iter_mut().skip(first.0).take(1).for_each(|odds| *odds = 0.0);
        }
        Evidence { inputs, heard, odds, twins, sounds, bar_positions, per_bar }
    }
}

/// Log probabilities of the sorts, over all beats before each; no beat rules a sort out.
fn sums_of_sorts(sorts: &[[f32; SORTS]]) -> Vec<[f64; SORTS]> {
    const LEAST: f64 = 0.001;
    let mut sum = [0.0; SORTS];
    let mut out = vec![sum];
    for beat in sorts {
        for (sum, &log) in sum.iter_mut().zip(beat) {
            *sum += (f64::from(log).exp() + LEAST).ln();
        }
        out.push(sum);
    }
    out
}

/// How much the networks' odds of a start weigh beside what lengths are usual: more than once, for the networks know of
/// lengths too. On 865 songs for tuning it takes 0.80, 0.785 and 0.77 corrections a song with 2, 2.5 and 3.
const BESIDE_LENGTHS: f64 = 3.0;
/// The same for the first start, beside what is left out before it. On 422 songs for tuning count 1 is right in 94.8 % with
/// 2.5, 95.5 % with 2, 95.3 % with 1.75 and 93.8 % with 1.
const BESIDE_LEFT_OUT: f64 = 2.0;

/// Log odds that outweigh whatever lengths say.
const SURELY: f64 = 10.0;

/// The form that is likeliest under `odds`.
fn likeliest(evidence: &Evidence, odds: &segment::Evidence) -> Form {
    const FEWEST_BEATS: usize = 16;
    if evidence.heard.starts.len() < FEWEST_BEATS {
        return Form::default();
    }
    let Some(cutting) = segment::cut(odds, evidence.per_bar) else {
        return Form::default();
    };
    let labels = label::labels(&evidence.heard, &evidence.inputs, &cutting.starts, cutting.end);
    let first = cutting.starts.first().copied().unwrap_or_default();
    let waits = labels.iter().take_while(|label| label.word == label::INTRO_WORD).count();
    let entrance = cutting.starts.get(waits).filter(|_| waits > 0).and_then(|&over| {
        entrance::entrance(&evidence.sounds, &evidence.bar_positions, first..over)
    });
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
        entrance,
    }
}

fn round3(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}
