//! A front without a network: beats lie where onset strength stands out, downbeats where the bass
//! enters and the chord changes.
//!
//! How much each kind of evidence weighs was fitted by logistic regression on rendered songs of known
//! beats (eleven numbers in all), so that the probabilities mean what they say.

use super::activations::Activations;
use super::onset::{OnsetStrength, moving_mean};

/// Weights of low, middle, high, attack and harmonic change, and the log-odds where there is nothing.
struct Weights {
    bands: [f32; 4],
    change: f32,
    nothing: f32,
}

const BEAT: Weights = Weights { bands: [0.93, 0.10, 0.68, 0.81], change: 0.06, nothing: -5.2 };
/// Of a downbeat where there is a beat.
const DOWNBEAT: Weights =
    Weights { bands: [0.64, -0.25, -0.22, 0.24], change: 0.56, nothing: -1.99 };

/// Activations from onset strength alone.
pub fn activations(onset: &OnsetStrength) -> Activations {
    let curves = [&onset.low, &onset.middle, &onset.high, &onset.attack].map(|c| standing_out(c));
    let mean_change =
        onset.harmonic_change.iter().sum::<f32>() / onset.harmonic_change.len().max(1) as f32;
    let (beat, downbeat) = (0..onset.all.len())
        .map(|k| {
            let bands = [0, 1, 2, 3].map(|c: usize| curves[c][k]);
            let change = (onset.harmonic_change[k] / mean_change.max(1e-6)).min(4.0);
            let beat = BEAT.probability(&bands, change);
            (beat, beat * DOWNBEAT.probability(&bands, change))
        })
        .unzip();
    Activations { frames_per_second: onset.frames_per_second, beat, downbeat }
}

impl Weights {
    fn probability(&self, bands: &[f32; 4], change: f32) -> f32 {
        let weighed: f32 = self.bands.iter().zip(bands).map(|(w, b)| w * b).sum();
        1.0 / (1.0 + (-(self.nothing + weighed + self.change * change)).exp())
    }
}

/// Square root of what stands above a curve's mean over a fifth of a second to either side, at most
/// 3; widened by a frame so that a peak between two frames is not lost.
fn standing_out(curve: &[f32]) -> Vec<f32> {
    let near = moving_mean(curve, 10);
    let above: Vec<f32> =
        curve.iter().zip(near).map(|(&x, m)| (x - 0.7 * m as f32).max(0.0)).collect();
    (0..above.len())
        .map(|k| {
            let side = |at: Option<usize>| at.and_then(|at| above.get(at)).copied().unwrap_or(0.0);
            let widened = above[k].max(0.6 * side(k.checked_sub(1)).max(side(Some(k + 1))));
            widened.min(9.0).sqrt()
        })
        .collect()
}
