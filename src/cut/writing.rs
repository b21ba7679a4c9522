//! Sound of a new cut as it is written: played on, crossfaded, faded in and out.

use super::splice::Frames;
use crate::error::Result;

/// Length of a crossfade, seconds.
pub(super) const FADE_S: f64 = 0.020;
/// Frames written at a time.
const BLOCK: usize = 1 << 14;

/// A change of loudness that goes back to none.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gain {
    pub db: f64,
    /// From when, and over how long, in the new cut.
    pub from_s: f64,
    pub over_s: f64,
}

impl Gain {
    pub const NONE: Gain = Gain { db: 0.0, from_s: 0.0, over_s: 1.0 };

    fn at(&self, time_s: f64) -> f32 {
        let left = 1.0 - ((time_s - self.from_s) / self.over_s).clamp(0.0, 1.0);
        10f64.powf(self.db * left / 20.0) as f32
    }
}

/// Writes a new cut.
pub(super) struct Writer<'a> {
    pub rate: f64,
    pub channels: usize,
    /// Frames written.
    pub at: i64,
    pub total_s: f64,
    /// How long the very start fades in.
    pub fade_in_s: f64,
    /// From when to when the end fades out.
    pub fade_out_s: Option<(f64, f64)>,
    pub sink: &'a mut dyn FnMut(&[f32]) -> Result<()>,
    pub progress: &'a mut dyn FnMut(f64),
}

impl Writer<'_> {
    /// Plays the recording on until a time of the new cut.
    pub fn play(
        &mut self,
        source: &mut impl Frames,
        shift_s: f64,
        gain: Gain,
        until_s: f64,
    ) -> Result<()> {
        let until = (until_s * self.rate).round() as i64;
        let shift = (shift_s * self.rate).round() as i64;
        while self.at < until {
            let frames = ((until - self.at) as usize).min(BLOCK);
            let mut block = vec![0.0; frames * self.channels];
            source.read(self.at + shift, &mut block)?;
            self.put(block, |time_s| gain.at(time_s))?;
        }
        Ok(())
    }

    /// Goes over from one place of the recording to another.
    pub fn crossfade(
        &mut self,
        source: &mut impl Frames,
        from: (f64, Gain),
        to: (f64, Gain),
    ) -> Result<()> {
        let frames = (FADE_S * self.rate).round() as usize;
        let mut read = |(shift_s, gain): (f64, Gain)| {
            let mut block = vec![0.0; frames * self.channels];
            source.read(self.at + (shift_s * self.rate).round() as i64, &mut block)?;
            for (frame, samples) in block.chunks_exact_mut(self.channels).enumerate() {
                let gain = gain.at((self.at + frame as i64) as f64 / self.rate);
                samples.iter_mut().for_each(|x| *x *= gain);
            }
            Ok::<_, crate::error::Error>(block)
        };
        let (old, new) = (read(from)?, read(to)?);
        let alike = correlation(&old, &new).max(0.0);
        let mut block = Vec::with_capacity(old.len());
        let sides = old.chunks_exact(self.channels).zip(new.chunks_exact(self.channels));
        for (frame, (a, b)) in sides.enumerate() {
            let angle = (frame as f32 + 0.5) / frames as f32 * std::f32::consts::FRAC_PI_2;
            let (out, into) = (angle.cos(), angle.sin());
            // Power stays even whether the two sounds are one or strangers.
            let even = (1.0 + 2.0 * alike * out * into).sqrt();
            block.extend(a.iter().zip(b).map(|(a, b)| (a * out + b * into) / even));
        }
        self.put(block, |_| 1.0)
    }

    fn put(&mut self, mut block: Vec<f32>, gain: impl Fn(f64) -> f32) -> Result<()> {
        for (frame, samples) in block.chunks_exact_mut(self.channels).enumerate() {
            let time_s = (self.at + frame as i64) as f64 / self.rate;
            let mut gain = gain(time_s);
            if time_s < self.fade_in_s {
                gain *= (time_s / self.fade_in_s) as f32;
            }
            if let Some((from_s, to_s)) = self.fade_out_s {
                let over = ((time_s - from_s) / (to_s - from_s).max(1e-3)).clamp(0.0, 1.0);
                gain *= (std::f64::consts::FRAC_PI_2 * over).cos().powi(2) as f32;
            }
            if gain != 1.0 {
                samples.iter_mut().for_each(|x| *x *= gain);
            }
        }
        self.at += (block.len() / self.channels.max(1)) as i64;
        (self.sink)(&block)?;
        (self.progress)((self.at as f64 / self.rate / self.total_s.max(1e-3)).min(1.0));
        Ok(())
    }
}

/// How far two sounds are one: 1 the same, 0 strangers.
fn correlation(a: &[f32], b: &[f32]) -> f32 {
    let dot: f32 = a.iter().zip(b).map(|(x, y)| x * y).sum();
    let power = |v: &[f32]| v.iter().map(|x| x * x).sum::<f32>();
    dot / (power(a) * power(b)).sqrt().max(1e-9)
}
