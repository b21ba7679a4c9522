//! What the user has set of a form, held fast while the rest is suggested anew.
//!
//! Where a phrase was set to start, one starts; where one was taken away, none does. And what is set teaches:
//! places that sound as a set start does, before and after, are likelier starts, so that a moved verse moves its
//! twins, and a length typed for one chorus is tried on the others.

use super::segment::Evidence;
use super::sound::BeatSounds;
use crate::units::Beat;

/// Phrase starts that are set, and places where none is.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Held {
    /// Beats on which a phrase starts.
    pub starts: Vec<Beat>,
    /// Beats on which none starts.
    pub none: Vec<Beat>,
    /// Beats on which one was suggested so far. What was not corrected may well be right.
    pub likely: Vec<Beat>,
}

impl Held {
    /// Whether nothing is held.
    pub fn is_empty(&self) -> bool {
        self.starts.is_empty() && self.none.is_empty()
    }
}

/// Log odds of what is held.
const CERTAIN: f64 = 40.0;
/// Log odds that a start which was suggested so far gains.
const LIKELY: f64 = 6.0;
/// Beats compared before and after a start.
const BEFORE: usize = 4;
const AFTER: usize = 16;
/// How unlike twins may be at most: 1 is like two places taken at random.
const TWINS: f32 = 0.35;
/// Log odds that a perfect twin of a set start gains, and that a suggestion beside it loses.
const GAIN: f64 = 8.0;
/// A suggestion this close to a start, in beats, is beside it.
const BESIDE: usize = 8;

/// Lays what is held over the evidence. `from` is the beat that the evidence starts with.
pub(super) fn lay(
    held: &Held,
    sounds: &BeatSounds,
    from: usize,
    near: usize,
    evidence: &mut Evidence,
) {
    let n = evidence.starts.len();
    let inside = |beat: &Beat| beat.0.checked_sub(from).filter(|b| *b < n);
    let starts: Vec<usize> = held.starts.iter().filter_map(inside).collect();
    let vectors = vectors(sounds);
    let scale = mean_square_distance(&vectors);
    for &start in &starts {
        for (twin, unlike) in twins(&vectors, scale, start) {
            let gain = GAIN * f64::from(1.0 - unlike / TWINS);
            for beside in twin.saturating_sub(BESIDE)..(twin + BESIDE + 1).min(n) {
                evidence.starts[beside] += if beside == twin { gain } else { -gain / 2.0 };
            }
        }
    }
    for likely in held.likely.iter().filter_map(inside) {
        evidence.starts[likely] += LIKELY;
    }
    for none in held.none.iter().filter_map(inside) {
        evidence.starts[none] = f64::NEG_INFINITY;
    }
    for start in starts {
        for beside in start.saturating_sub(near.saturating_sub(1))..(start + near).min(n) {
            evidence.starts[beside] = if beside == start { CERTAIN } else { f64::NEG_INFINITY };
        }
    }
}

/// Places that sound as `start` does, each the best within a bar or two, and how unlike it they are.
fn twins(vectors: &[Vec<f32>], scale: f32, start: usize) -> Vec<(usize, f32)> {
    let n = vectors.len();
    let unlike = |other: usize| {
        let (mut sum, mut beats) = (0.0, 0.0);
        for k in 0..BEFORE + AFTER {
            let at = |place: usize| (place + k).checked_sub(BEFORE).filter(|i| *i < n);
            if let (Some(a), Some(b)) = (at(start), at(other)) {
                sum += distance(&vectors[a], &vectors[b]);
                beats += 1.0;
            }
        }
        if beats < AFTER as f32 { 1.0 } else { sum / beats / scale }
    };
    let curve: Vec<f32> = (0..n).map(unlike).collect();
    (0..n)
        .filter(|&c| c.abs_diff(start) > BESIDE && curve[c] < TWINS)
        .filter(|&c| {
            (c.saturating_sub(BESIDE)..(c + BESIDE + 1).min(n)).all(|o| curve[o] >= curve[c])
        })
        .map(|c| (c, curve[c]))
        .collect()
}

/// Harmony and timbre of each beat, each with an equal share.
fn vectors(sounds: &BeatSounds) -> Vec<Vec<f32>> {
    let harmony: Vec<Vec<f32>> = sounds.harmony.iter().map(|v| v.to_vec()).collect();
    let timbre: Vec<Vec<f32>> = sounds.timbre.iter().map(|v| v.to_vec()).collect();
    let scales = [&harmony, &timbre].map(|group| 1.0 / mean_square_distance(group).sqrt());
    let scaled = |v: &[f32], scale: f32| v.iter().map(|x| x * scale).collect::<Vec<f32>>();
    harmony
        .iter()
        .zip(&timbre)
        .map(|(h, t)| [scaled(h, scales[0]), scaled(t, scales[1])].concat())
        .collect()
}

fn distance(a: &[f32], b: &[f32]) -> f32 {
    a.iter().zip(b).map(|(x, y)| (x - y) * (x - y)).sum()
}

/// Mean squared distance of two entries taken at random: twice the summed variance.
fn mean_square_distance(entries: &[Vec<f32>]) -> f32 {
    let n = entries.len().max(1) as f32;
    let width = entries.first().map_or(0, Vec::len);
    let variance: f32 = (0..width)
        .map(|k| {
            let mean = entries.iter().map(|e| e[k]).sum::<f32>() / n;
            entries.iter().map(|e| (e[k] - mean).powi(2)).sum::<f32>() / n
        })
        .sum();
    (2.0 * variance).max(1e-9)
}
