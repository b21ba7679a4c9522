//! Where each count of a recording falls when every count's small accident is left out: by its sharp attacks and by the
//! tempo around it.

use super::splice::{Frames, read_s};
use super::tempo::{Seen, even_times_s};
use crate::error::Result;
use crate::rhythm::median;
use crate::song::SongView;
use crate::units::Count;

/// Even times of a song's counts.
pub(super) struct EvenCounts<'a> {
    song: &'a SongView,
    /// Of each count, and of the end.
    times_s: Vec<f64>,
}

impl<'a> EvenCounts<'a> {
    /// Listens to a recording where its counts are.
    ///
    /// # Errors
    /// When the sound cannot be read.
    pub fn of(song: &'a SongView, source: &mut impl Frames) -> Result<EvenCounts<'a>> {
        let heard_s: Vec<f64> =
            song.counts.times_s.iter().copied().chain([song.counts.end_s]).collect();
        let by_grid: Vec<Seen> = heard_s.iter().copied().map(Seen::by_grid).collect();
        let near_s = even_times_s(&by_grid);
        let mut attacks = Vec::with_capacity(heard_s.len());
        for at_s in near_s {
            attacks.push(sharp_attack_s(source, at_s)?);
        }
        // The grid may stand a little before or after the attacks all through.
        let apart =
            attacks.iter().zip(&heard_s).filter_map(|(attack, heard)| Some((*attack)? - heard));
        let late_s = median(apart.collect()).unwrap_or(0.0);
        let seen = heard_s.iter().zip(attacks).map(|(heard_s, attack_s)| {
            attack_s.map_or(Seen::by_grid(heard_s + late_s), Seen::by_attack)
        });
        let times_s = even_times_s(&seen.collect::<Vec<_>>());
        Ok(EvenCounts { song, times_s: times_s.iter().map(|at_s| at_s - late_s).collect() })
    }

    /// Time of a count.
    pub fn at_s(&self, count: Count) -> f64 {
        let known = count.index().and_then(|i| self.times_s.get(i));
        known.copied().unwrap_or_else(|| self.song.counts.time_or_beyond_s(count))
    }

    /// The interval that leads up to a count.
    pub fn step_s(&self, count: Count) -> f64 {
        self.at_s(count) - self.at_s(count + -1)
    }
}

/// How far from its count an attack is looked for, seconds, and how much nearer ones are preferred.
const REACH_S: f64 = 0.025;
const SCATTER_S: f64 = 0.010;
/// Power so long after an attack is held against power so long before it, seconds.
const AFTER_S: f64 = 0.004;
const BEFORE_S: f64 = 0.008;
/// An attack is sharp when it is louder by this ratio (6.5 dB).
const SHARP: f64 = 4.5;
/// Only what is above this pitch is heard: sticks and cymbals are sharp there, bass and voices are not.
const ABOVE_HZ: f64 = 3000.0;
/// What is so far under the loudest frames nearby is not heard (30 dB), nor is power under this.
const MASKED: f64 = 1e-3;
const SILENCE: f64 = 1e-8;

/// Time of the sharp attack near a time, where there is one.
fn sharp_attack_s(source: &mut impl Frames, near_s: f64) -> Result<Option<f64>> {
    const STEP_S: f64 = 0.000_25;
    const SETTLES_S: f64 = 0.005;
    let (rate, channels) = (source.rate_hz(), source.channels().max(1));
    let from_s = near_s - REACH_S - BEFORE_S - SETTLES_S;
    let samples = read_s(source, from_s, near_s + REACH_S + AFTER_S)?;
    let power = power_above(&samples, channels, rate);
    let mut sums = vec![0.0; power.len() + 1];
    for (k, power) in power.iter().enumerate() {
        sums[k + 1] = sums[k] + power;
    }
    let mean = |from: usize, to: usize| {
        let to = to.min(power.len());
        if from < to { (sums[to] - sums[from]) / (to - from) as f64 } else { 0.0 }
    };
    let loudest = power
        .chunks(1 + (AFTER_S * rate) as usize)
        .map(|some| some.iter().sum::<f64>() / some.len() as f64);
    let masked = SILENCE + MASKED * loudest.fold(0.0, f64::max);
    let frames = |seconds: f64| (seconds * rate).round().max(0.0) as usize;
    let mut best = (0.0, None);
    for step in 0..=(2.0 * REACH_S / STEP_S) as usize {
        let off_s = STEP_S * step as f64 - REACH_S;
        let at = frames(near_s + off_s - from_s);
        let after = mean(at, at + frames(AFTER_S)) + masked;
        let before = mean(at.saturating_sub(frames(BEFORE_S)), at) + masked;
        let clear = (after / before).ln() * (-0.5 * (off_s / SCATTER_S).powi(2)).exp();
        if clear > best.0 {
            best = (clear, (after > SHARP * before).then_some(near_s + off_s));
        }
    }
    Ok(best.1)
}

/// Power of each frame above [`ABOVE_HZ`], all channels together: a Butterworth filter of the second order.
fn power_above(samples: &[f32], channels: usize, rate: f64) -> Vec<f64> {
    let turn = 2.0 * std::f64::consts::PI * (ABOVE_HZ / rate).min(0.45);
    let (cos, alpha) = (turn.cos(), turn.sin() / std::f64::consts::SQRT_2);
    let scale = 1.0 + alpha;
    let (b0, a1, a2) = ((1.0 + cos) / 2.0 / scale, -2.0 * cos / scale, (1.0 - alpha) / scale);
    let mut power = vec![0.0; samples.len() / channels];
    for channel in 0..channels {
        let (mut x, mut y) = ([0.0; 2], [0.0; 2]);
        for (power, frame) in power.iter_mut().zip(samples.chunks_exact(channels)) {
            let now = f64::from(frame[channel]);
            let out = b0 * (now - 2.0 * x[0] + x[1]) - a1 * y[0] - a2 * y[1];
            (x, y) = ([now, x[0]], [out, y[0]]);
            *power += out * out / channels as f64;
        }
    }
    power
}
