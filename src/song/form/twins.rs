//! Where else in a song the music around a beat stands again, and what is heard there.

use super::inputs::N_INPUTS;
use super::label::likeness_of_beats;
use super::likeness::ONE_SONG;
use super::network::Heard;

/// Likeness from which on music is held to be the same, and at which it surely is.
const ALIKE: f32 = 0.5;
const SAME: f32 = 0.9;
/// Beats before and after a beat that are compared.
const BEFORE: usize = 8;
const AFTER: usize = 16;
/// What is heard at a beat's twins counts half as much as what is heard at itself.
const SHARED: f64 = 0.5;

/// How alike the surroundings of any two beats of a song are.
pub struct Twins {
    n: usize,
    /// Likenesses of the pairs of beats before a pair, that lie as far from each other, summed up. Shape `[n + 1, n + 1]`.
    sums: Vec<f32>,
}

impl Twins {
    /// Compares all beats of a song; those of a recording longer than a song have no twins.
    pub fn new(heard: &Heard, inputs: &[[f32; N_INPUTS]]) -> Twins {
        let n = heard.directions.len().min(inputs.len());
        let n = if n > ONE_SONG { 0 } else { n };
        let width = n + 1;
        let mut sums = vec![0.0; width * width];
        for a in 0..n {
            for b in 0..=a {
                let sum = sums[a * width + b] + likeness_of_beats(heard, inputs, a, b);
                sums[(a + 1) * width + b + 1] = sum;
                sums[(b + 1) * width + a + 1] = sum;
            }
        }
        Twins { n, sums }
    }

    /// Beats whose surroundings are those of `beat`, with how much they are, 0 to 1.
    pub fn of_beat(&self, beat: usize) -> Vec<(usize, f64)> {
        let alike: Vec<f32> = (0..self.n).map(|other| self.alike(beat, other)).collect();
        let most_near = |at: usize| {
            let around = &alike[at.saturating_sub(BEFORE)..(at + BEFORE + 1).min(self.n)];
            around.iter().all(|&other| other <= alike[at])
        };
        (0..self.n)
            .filter(|&at| alike[at] > ALIKE && most_near(at))
            .map(|at| (at, f64::from((alike[at] - ALIKE) / (SAME - ALIKE)).min(1.0)))
            .collect()
    }

    /// Odds of each beat, drawn towards those of its twins: what is hard to hear in one verse may be plain in another.
    pub fn shared(&self, odds: &[f64]) -> Vec<f64> {
        let drawn = odds.iter().enumerate().map(|(beat, &own)| {
            let twins = self.of_beat(beat);
            let weights: f64 = twins.iter().map(|(_, alike)| alike).sum();
            let apart: f64 = twins.iter().map(|&(twin, alike)| alike * (odds[twin] - own)).sum();
            own + SHARED * apart / (1.0 + weights)
        });
        drawn.collect()
    }

    /// Mean likeness of the beats around two beats; 0 where they are too near each other, or one too near an end of the song.
    fn alike(&self, beat: usize, other: usize) -> f32 {
        let before = beat.min(BEFORE);
        let after = AFTER.min(self.n - beat.min(self.n));
        if beat.abs_diff(other) <= AFTER || other < before || other + after > self.n {
            return 0.0;
        }
        let sum = |a: usize, b: usize| self.sums[a * (self.n + 1) + b];
        (sum(beat + after, other + after) - sum(beat - before, other - before))
            / (before + after) as f32
    }
}

#[cfg(test)]
mod tests {
    use super::super::network::DIRECTION;
    use super::*;

    /// A song of phrases of 32 beats, one to a letter: beats at the same place of the same letter are alike, no others are.
    fn song(form: &str) -> Twins {
        const BEATS: usize = 32;
        let mut inputs = Vec::new();
        let mut heard = Heard::default();
        for letter in form.bytes().map(usize::from) {
            for beat in 0..BEATS {
                let mut random = (letter * BEATS + beat) as u64 * 0x9e37_79b9_7f4a_7c15;
                let mut direction = [0.0; DIRECTION];
                for x in &mut direction {
                    random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                    *x = if random >> 63 == 1 { 1.0 } else { -1.0 } / (DIRECTION as f32).sqrt();
                }
                let mut input = [0.0; N_INPUTS];
                input[(beat + 5 * letter) % 12] = 1.0;
                heard.directions.push(direction);
                inputs.push(input);
            }
        }
        Twins::new(&heard, &inputs)
    }

    #[test]
    fn the_same_place_of_the_same_music_is_a_twin() {
        let beats = |beat| song("vcvcx").of_beat(beat).iter().map(|t| t.0).collect::<Vec<_>>();
        assert_eq!(beats(32), [96]);
        assert_eq!(beats(96), [32]);
        assert!(beats(128).is_empty());
    }

    #[test]
    fn odds_are_drawn_towards_those_of_twins() {
        let mut odds = vec![-4.0; 160];
        odds[32] = 8.0;
        let shared = song("vcvcx").shared(&odds);
        assert!(shared[96] > odds[96] + 2.0, "{}", shared[96]);
        assert!(shared[32] < odds[32] && shared[32] > shared[96], "{}", shared[32]);
        assert!((shared[128] - odds[128]).abs() < 1e-9);
    }

    #[test]
    fn what_is_longer_than_a_song_has_no_twins() {
        assert!(song(&"v".repeat(ONE_SONG / 32 + 1)).of_beat(64).is_empty());
        let short = song("v").shared(&[1.0; 32]);
        assert_eq!(short, [1.0; 32]);
    }
}
