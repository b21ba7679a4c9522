//! Where the harmony changes, beat by beat: chords change on bar lines.
//!
//! The chroma of the two beats from each beat on against that of the two before it (beat-synchronous
//! chroma as in Papadopoulos & Peeters 2011, *Joint estimation of chords and downbeats from an audio
//! signal*). The learned front hears eleven seconds; this is measured against the whole song's beats.

use super::features::{FRAMES_PER_SECOND, Features};
use super::onset::chroma;
use super::pulse::STEPS_PER_SECOND;

/// Running sums of a recording's chroma, to average any stretch of it at once.
pub(crate) struct Harmony {
    sums: Vec<[f64; 12]>,
}

impl Harmony {
    pub(crate) fn of(features: &Features) -> Harmony {
        let mut sums = vec![[0.0; 12]];
        let mut sum = [0f64; 12];
        for frame in chroma(features) {
            sum.iter_mut().zip(frame).for_each(|(s, x)| *s += f64::from(x));
            sums.push(sum);
        }
        Harmony { sums }
    }

    /// Mean chroma from one step to another, but for a constant factor.
    fn between(&self, from: usize, to: usize) -> [f64; 12] {
        let frame = |step: usize| {
            let frame = step as f64 * FRAMES_PER_SECOND / STEPS_PER_SECOND;
            (frame.round() as usize).min(self.sums.len() - 1)
        };
        let (mut mean, from) = (self.sums[frame(to)], &self.sums[frame(from)]);
        mean.iter_mut().zip(from).for_each(|(m, f)| *m -= f);
        mean
    }

    /// For each of a run's beats, how much the harmony changes there against the run's mean: 1 as much
    /// as at a usual beat, at most 4. All 1 where it never changes.
    pub(crate) fn change_at(&self, run: &[usize]) -> Vec<f32> {
        const BEATS: usize = 2;
        const MOST: f32 = 4.0;
        /// A sound's attack belongs to neither side, steps.
        const ATTACK: usize = 4;
        let at = |k: usize| run[k.min(run.len() - 1)];
        let distance = |k: usize| {
            let (from, here) = (at(k.saturating_sub(BEATS)), at(k));
            let to = at(k + BEATS).max(here + 30);
            let before = self.between(from + ATTACK, here.saturating_sub(2).max(from + ATTACK));
            let after = self.between(here + ATTACK, to);
            let dot =
                |a: &[f64; 12], b: &[f64; 12]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
            let norms = (dot(&before, &before) * dot(&after, &after)).sqrt();
            if norms > 1e-9 { (1.0 - dot(&before, &after) / norms) as f32 } else { 0.0 }
        };
        let distances: Vec<f32> = (0..run.len()).map(distance).collect();
        let mean = distances.iter().sum::<f32>() / distances.len().max(1) as f32;
        let against = |d: f32| if mean > 1e-6 { (d / mean).min(MOST) } else { 1.0 };
        distances.into_iter().map(against).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rhythm::FeatureFront;

    #[test]
    fn the_harmony_changes_where_another_chord_starts() {
        // A chord a second, each of two tones.
        let chords = [[440.0, 554.4], [392.0, 493.9], [349.2, 440.0], [523.3, 659.3]];
        let sample = |n: usize| {
            let t = n as f64 / 22_050.0;
            let tones = chords[(t as usize) % 4];
            tones.iter().map(|hz| 0.2 * (std::f64::consts::TAU * hz * t).sin()).sum::<f64>() as f32
        };
        let samples: Vec<f32> = (0..22_050 * 16).map(sample).collect();
        let mut front = FeatureFront::default();
        front.push(&samples);
        let harmony = Harmony::of(&front.finish());
        let run: Vec<usize> = (1..60).map(|k| 25 * k).collect();
        let change = harmony.change_at(&run);
        for (k, step) in run.iter().enumerate().skip(4).take(50) {
            assert_eq!(step % 100 == 0, change[k] > 1.7, "{step}: {}", change[k]);
        }
        assert!(harmony.change_at(&[]).is_empty());
    }
}
