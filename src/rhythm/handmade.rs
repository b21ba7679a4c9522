//! A front without learning: beats lie where onset strength stands out, downbeats where the bass
//! enters and the chord changes.

use super::activations::Activations;
use super::onset::{OnsetStrength, moving_mean};

/// Steepness and threshold of beat probability over standing-out onset strength, and of downbeat
/// probability over its evidence.
const BEAT_SLOPE: f32 = 1.2;
const BEAT_THRESHOLD: f32 = 2.2;
const DOWNBEAT_SLOPE: f32 = 1.0;
const DOWNBEAT_THRESHOLD: f32 = 3.5;

/// Activations from onset strength alone.
pub fn activations(onset: &OnsetStrength) -> Activations {
    let n = onset.all.len();
    let beat_evidence = peaks(&onset.all);
    let low = peaks(&onset.low);
    let change = relative(&onset.harmonic_change);
    let sigmoid = |x: f32| 1.0 / (1.0 + (-x).exp());
    let beat: Vec<f32> =
        beat_evidence.iter().map(|&e| sigmoid(BEAT_SLOPE * (e - BEAT_THRESHOLD))).collect();
    let downbeat = (0..n)
        .map(|k| {
            let evidence = 0.5 * low[k].min(4.0) + 0.5 * beat_evidence[k].min(4.0) + change[k];
            sigmoid(DOWNBEAT_SLOPE * (evidence - DOWNBEAT_THRESHOLD)) * beat[k].sqrt()
        })
        .collect();
    Activations { frames_per_second: onset.frames_per_second, beat, downbeat }
}

/// What of a curve stands above its mean over a fifth of a second to either side, widened by a frame so
/// that a peak between two frames is not lost.
fn peaks(curve: &[f32]) -> Vec<f32> {
    let near = moving_mean(curve, 10);
    let above: Vec<f32> =
        curve.iter().zip(near).map(|(&x, m)| (x - 0.7 * m as f32).max(0.0)).collect();
    (0..above.len())
        .map(|k| {
            let side = |at: Option<usize>| at.and_then(|at| above.get(at)).copied().unwrap_or(0.0);
            above[k].max(0.6 * side(k.checked_sub(1)).max(side(Some(k + 1))))
        })
        .collect()
}

/// A curve in units of its own mean, at most 4.
fn relative(curve: &[f32]) -> Vec<f32> {
    let mean = curve.iter().sum::<f32>() / curve.len().max(1) as f32;
    curve.iter().map(|&x| if mean > 1e-6 { (x / mean).min(4.0) } else { 0.0 }).collect()
}
