//! How clearly each beat was heard: what the eye wants beside the beats, over time.

use super::activations::Activations;

/// Beats to either side over which clarity is averaged.
const AROUND: usize = 4;
/// How far from a beat its likelihood is looked for, seconds.
const REACH_S: f64 = 0.04;

impl Activations {
    /// For each beat (seconds, ascending), how far the beats around it stand out from the places half
    /// way between them: 1 where all that is heard lies on the beats, 0.5 where as much lies between.
    pub fn clarity(&self, beats_s: &[f64]) -> Vec<f32> {
        let on: Vec<f64> = beats_s.iter().map(|&beat| self.most_near(beat)).collect();
        let between: Vec<f64> =
            beats_s.windows(2).map(|pair| self.most_near((pair[0] + pair[1]) / 2.0)).collect();
        (0..beats_s.len())
            .map(|beat| {
                let from = beat.saturating_sub(AROUND);
                let mean = |values: &[f64], to: usize| {
                    let values = values.get(from..to.min(values.len())).unwrap_or_default();
                    values.iter().sum::<f64>() / values.len().max(1) as f64
                };
                let (on, between) = (mean(&on, beat + AROUND + 1), mean(&between, beat + AROUND));
                // A little of nothing on both sides: silence says neither.
                ((on + 0.02) / (on + between + 0.04)) as f32
            })
            .collect()
    }

    fn most_near(&self, seconds: f64) -> f64 {
        let frame = |seconds: f64| (seconds * self.frames_per_second).round().max(0.0) as usize;
        let (from, to) = (frame(seconds - REACH_S), frame(seconds + REACH_S) + 1);
        let near = self.beat.get(from..to.min(self.beat.len())).unwrap_or_default();
        near.iter().fold(0.0, |most, &p| f64::from(p).max(most))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Likelihood 0.9 every half second, and `between` half way.
    fn ticking(between: f32) -> Activations {
        let at = |k: usize| match k % 25 {
            0 => 0.9,
            12 | 13 => between,
            _ => 0.01,
        };
        let beat: Vec<f32> = (0..1000).map(at).collect();
        Activations { frames_per_second: 50.0, downbeat: vec![0.0; beat.len()], beat }
    }

    #[test]
    fn beats_alone_are_clear_and_as_much_between_them_is_not() {
        let beats: Vec<f64> = (0..40).map(|k| f64::from(k) * 0.5).collect();
        assert!(ticking(0.01).clarity(&beats).iter().all(|&c| c > 0.9));
        assert!(ticking(0.9).clarity(&beats).iter().all(|&c| (c - 0.5).abs() < 0.02));
        let off: Vec<f64> = beats.iter().map(|beat| beat + 0.25).collect();
        assert!(ticking(0.01).clarity(&off)[..38].iter().all(|&c| c < 0.1));
    }

    #[test]
    fn no_beats_have_no_clarity() {
        assert!(ticking(0.0).clarity(&[]).is_empty());
        assert_eq!(Activations::default().clarity(&[1.0, 2.0]), [0.5, 0.5]);
    }
}
