//! Keeps sound below full scale without a click: the gain goes down ahead of a peak and back slowly.

use std::collections::VecDeque;

/// Highest sample that comes out: 1 dB below full scale.
pub const CEILING: f32 = 0.891;

/// A limiter that looks five milliseconds ahead. What comes out is that much later; [`Limiter::finish`] gives
/// the rest.
///
/// The gain of a frame is the mean, over the five milliseconds up to it, of the least gain that any of the next five
/// milliseconds needs: so it is never more than the frame needs, and never jumps.
pub struct Limiter {
    width: usize,
    ahead: usize,
    release: f64,
    /// Samples of frames that wait.
    waiting: VecDeque<f32>,
    /// Frames taken, and frames handed out.
    taken: u64,
    handed: u64,
    /// Gains that may still be the least of a window, with their frames; rising.
    least: VecDeque<(u64, f64)>,
    /// Least gains over the past window, and their sum.
    recent: VecDeque<f64>,
    sum: f64,
    held: f64,
}

impl Limiter {
    /// For interleaved frames of `width` samples.
    pub fn new(width: usize, rate_hz: u32) -> Limiter {
        let rate = f64::from(rate_hz);
        let ahead = ((0.005 * rate) as usize).max(1);
        Limiter {
            width,
            ahead,
            release: 1.0 / (0.12 * rate),
            waiting: VecDeque::new(),
            taken: 0,
            handed: 0,
            least: VecDeque::new(),
            recent: std::iter::repeat_n(1.0, ahead).collect(),
            sum: ahead as f64,
            held: 1.0,
        }
    }

    /// Takes frames, and hands out those that are ready.
    pub fn push(&mut self, block: &[f32], out: &mut Vec<f32>) {
        for frame in block.chunks_exact(self.width) {
            let peak = frame.iter().fold(0f32, |p, x| p.max(x.abs()));
            let need = f64::from(CEILING / peak.max(CEILING));
            while self.least.back().is_some_and(|(_, gain)| *gain >= need) {
                self.least.pop_back();
            }
            self.least.push_back((self.taken, need));
            self.taken += 1;
            self.waiting.extend(frame);
            if self.taken > self.handed + self.ahead as u64 {
                self.hand_out(out);
            }
        }
    }

    /// Hands out what is left.
    pub fn finish(&mut self, out: &mut Vec<f32>) {
        while self.handed < self.taken {
            self.hand_out(out);
        }
    }

    fn hand_out(&mut self, out: &mut Vec<f32>) {
        while self.least.front().is_some_and(|(frame, _)| *frame < self.handed) {
            self.least.pop_front();
        }
        let needed = self.least.front().map_or(1.0, |(_, gain)| *gain);
        self.held = needed.min(self.held + self.release);
        self.recent.push_back(self.held);
        self.sum += self.held - self.recent.pop_front().unwrap_or(1.0);
        let gain = (self.sum / self.ahead as f64).min(1.0) as f32;
        for _ in 0..self.width {
            let sample = self.waiting.pop_front().unwrap_or(0.0);
            out.push((sample * gain).clamp(-CEILING, CEILING));
        }
        self.handed += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limited(sound: &[f32]) -> Vec<f32> {
        let mut limiter = Limiter::new(1, 10_000);
        let mut out = Vec::new();
        sound.chunks(77).for_each(|block| limiter.push(block, &mut out));
        limiter.finish(&mut out);
        out
    }

    #[test]
    fn nothing_reaches_full_scale_and_quiet_sound_is_untouched() {
        let quiet: Vec<f32> = (0..5000).map(|n| 0.5 * (n as f32 * 0.3).sin()).collect();
        assert_eq!(limited(&quiet), quiet);
        let loud: Vec<f32> = (0..20_000)
            .map(|n| if (5000..6000).contains(&n) { 2.0 } else { 0.6 } * (n as f32 * 0.3).sin())
            .collect();
        let out = limited(&loud);
        assert_eq!(out.len(), loud.len());
        assert!(out.iter().all(|x| x.abs() <= CEILING));
        assert_eq!(out[..4900], loud[..4900], "before it looks ahead");
        assert_eq!(out[15_000..], loud[15_000..], "after it has come back");
        // No jumps: the gain moves slowly.
        for n in 4900..15_000 {
            let gain = |n: usize| if loud[n].abs() > 0.1 { out[n] / loud[n] } else { f32::NAN };
            let change = (gain(n) - gain(n - 1)).abs();
            assert!(change.is_nan() || change < 0.03, "{n}: {change}");
        }
    }
}
