//! Onset strength: how much of a new sound starts at each frame.
//!
//! Log-compressed spectral flux against a maximum-filtered earlier frame (Böck & Widmer 2013, *Maximum
//! filter vibrato suppression for onset detection*, DAFx), in three bands, each measured against its
//! own recent past as adaptive whitening does (Stowell & Plumbley 2007, *Adaptive whitening for
//! improved real-time audio onset detection*, ICMC), joined by the rises of the attack envelope.
//! Bello et al. (2005), *A tutorial on onset detection in music signals*, compares the family.

use super::features::{FRAMES_PER_SECOND, Features};

/// Onset strength of a recording, with the parts that it was made of.
#[derive(Debug, Clone, Default)]
pub struct OnsetStrength {
    /// Frames a second of every curve here.
    pub frames_per_second: f64,
    /// All bands together; about 1 on average over sounding stretches. Shape `[n_frames]`.
    pub all: Vec<f32>,
    /// Below 200 Hz alone (bass, bass drum). Shape `[n_frames]`.
    pub low: Vec<f32>,
    /// From 200 Hz to 2 kHz alone (chords, tune, snare). Shape `[n_frames]`.
    pub middle: Vec<f32>,
    /// Above 2 kHz alone (cymbals, consonants, picks). Shape `[n_frames]`.
    pub high: Vec<f32>,
    /// Rises of the attack envelope, all bands. Shape `[n_frames]`.
    pub attack: Vec<f32>,
    /// How much the pitches after a frame differ from those before, 0 to 2. Shape `[n_frames]`.
    pub harmonic_change: Vec<f32>,
}

/// Frames looked back for the flux: 40 ms, near half the window.
const LAG: usize = 2;
/// Seconds to either side over which a band's own strength is averaged.
const OWN_PAST_S: f64 = 3.0;
/// Frames before and after over which pitches are gathered for harmonic change: 0.4 s.
const CHANGE_SPAN: usize = 20;

impl OnsetStrength {
    /// Onset strength of all frames.
    pub fn of(features: &Features) -> OnsetStrength {
        let n_bands = features.n_bands();
        let group_of: Vec<usize> = features
            .band_centres_hz()
            .iter()
            .map(|&hz| usize::from(hz > 200.0) + usize::from(hz > 2000.0))
            .collect();
        let n = features.n_frames();
        let mut flux = vec![vec![0f32; n]; 3];
        let mut attack = vec![0f32; n];
        let mut ring = vec![vec![0f32; n_bands]; LAG + 1];
        let mut frame = vec![0f32; features.width()];
        for k in 0..n {
            features.frame(k, &mut frame);
            attack[k] = frame[n_bands..].iter().sum();
            if k >= LAG {
                let before = &ring[(k - LAG) % (LAG + 1)];
                for band in 0..n_bands {
                    let around = band.saturating_sub(1)..(band + 2).min(n_bands);
                    let most = before[around].iter().fold(0f32, |a, &b| a.max(b));
                    flux[group_of[band]][k] += (frame[band] - most).max(0.0);
                }
            }
            ring[k % (LAG + 1)].copy_from_slice(&frame[..n_bands]);
        }
        let radius = (OWN_PAST_S * FRAMES_PER_SECOND) as usize;
        let [mut low, mut middle, mut high] = [0, 1, 2].map(|g| std::mem::take(&mut flux[g]));
        for curve in [&mut low, &mut middle, &mut high, &mut attack] {
            whiten(curve, radius);
        }
        let all = (0..n).map(|k| 0.25 * (low[k] + middle[k] + high[k] + attack[k])).collect();
        OnsetStrength {
            frames_per_second: FRAMES_PER_SECOND,
            all,
            low,
            middle,
            high,
            attack,
            harmonic_change: harmonic_change(features),
        }
    }
}

/// Divides a curve by its own mean over `radius` frames to either side; a fifth of the whole curve's
/// mean is the least divisor, so that the hiss of a pause is not taken for onsets.
fn whiten(curve: &mut [f32], radius: usize) {
    let total: f64 = curve.iter().map(|&x| f64::from(x)).sum();
    let floor = (0.2 * total / curve.len().max(1) as f64).max(1e-6);
    let means = moving_mean(curve, radius);
    for (x, mean) in curve.iter_mut().zip(means) {
        *x = (f64::from(*x) / mean.max(floor)) as f32;
    }
}

/// Mean over `radius` values to either side, fewer at the ends.
pub(crate) fn moving_mean(curve: &[f32], radius: usize) -> Vec<f64> {
    let mut sums = Vec::with_capacity(curve.len() + 1);
    let mut sum = 0.0;
    sums.push(0.0);
    for &x in curve {
        sum += f64::from(x);
        sums.push(sum);
    }
    (0..curve.len())
        .map(|k| {
            let (from, to) = (k.saturating_sub(radius), (k + radius + 1).min(curve.len()));
            (sums[to] - sums[from]) / (to - from) as f64
        })
        .collect()
}

/// Distance between the pitch classes sounding after each frame and before it: 1 - cosine of the two
/// chroma vectors (Fujishima 1999), so 0 when the chord stays.
fn harmonic_change(features: &Features) -> Vec<f32> {
    let chroma = chroma(features);
    let n = chroma.len();
    let mut after = [0f64; 12];
    let mut before = [0f64; 12];
    let add = |to: &mut [f64; 12], from: &[f32; 12], sign: f64| {
        for (t, &f) in to.iter_mut().zip(from) {
            *t += sign * f64::from(f);
        }
    };
    for c in chroma.iter().take(CHANGE_SPAN) {
        add(&mut after, c, 1.0);
    }
    (0..n)
        .map(|k| {
            if k > 0 {
                add(&mut before, &chroma[k - 1], 1.0);
                add(&mut after, &chroma[k - 1], -1.0);
                if let Some(next) = chroma.get(k - 1 + CHANGE_SPAN) {
                    add(&mut after, next, 1.0);
                }
                if k > CHANGE_SPAN {
                    add(&mut before, &chroma[k - 1 - CHANGE_SPAN], -1.0);
                }
            }
            let dot: f64 = before.iter().zip(&after).map(|(a, b)| a * b).sum();
            let norms: f64 = [&before, &after]
                .map(|v| v.iter().map(|x| x * x).sum::<f64>().max(0.0).sqrt())
                .iter()
                .product();
            if norms > 1e-6 { (1.0 - dot / norms) as f32 } else { 0.0 }
        })
        .collect()
}

/// Compressed strength of each pitch class from 180 Hz (where bands are semitones) to 2 kHz, less the
/// frame's mean so that noise says nothing. Shape `[n_frames, 12]`.
pub(crate) fn chroma(features: &Features) -> Vec<[f32; 12]> {
    let classes: Vec<Option<usize>> = features
        .band_centres_hz()
        .iter()
        .map(|&hz| {
            let tone = (180.0..2000.0).contains(&hz);
            tone.then(|| (12.0 * (hz / 440.0).log2()).round().rem_euclid(12.0) as usize % 12)
        })
        .collect();
    (0..features.n_frames())
        .map(|k| {
            let mut classes_of_frame = [0f32; 12];
            for (value, class) in features.bands(k).zip(&classes) {
                if let Some(class) = class {
                    classes_of_frame[*class] += value * value;
                }
            }
            let mean = classes_of_frame.iter().sum::<f32>() / 12.0;
            classes_of_frame.map(|x| (x - mean).max(0.0))
        })
        .collect()
}
