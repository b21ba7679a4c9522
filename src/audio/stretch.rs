//! Slower and faster with the pitch kept.
//!
//! Short-time Fourier transforms of the recording are laid at another distance, with phases predicted from
//! three sides: how each band moved on in the recording, how it stands to its neighbours near and far in the
//! same block, and how channels stand to each other. The neighbours keep attacks sharp, the movement keeps tones
//! clean. The method and its weights are those of Signalsmith Stretch 1.3 (Geraint Luff, Signalsmith Audio; MIT
//! licence, notice below), without its changes of pitch, in Rust and for recordings that can be read at any place.
//!
//! MIT License, Copyright (c) 2022 Geraint Luff / Signalsmith Audio Ltd. Permission is hereby granted, free of
//! charge, to any person obtaining a copy of this software and associated documentation files (the "Software"),
//! to deal in the Software without restriction, including without limitation the rights to use, copy, modify,
//! merge, publish, distribute, sublicense, and/or sell copies of the Software, and to permit persons to whom the
//! Software is furnished to do so, subject to the following conditions: The above copyright notice and this
//! permission notice shall be included in all copies or substantial portions of the Software. THE SOFTWARE IS
//! PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR IMPLIED, INCLUDING BUT NOT LIMITED TO THE WARRANTIES
//! OF MERCHANTABILITY, FITNESS FOR A PARTICULAR PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE AUTHORS OR
//! COPYRIGHT HOLDERS BE LIABLE FOR ANY CLAIM, DAMAGES OR OTHER LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR
//! OTHERWISE, ARISING FROM, OUT OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN THE SOFTWARE.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::error::Result;

/// Length of a block, seconds. Long enough to tell low tones apart.
const BLOCK_S: f64 = 0.12;
/// Blocks that overlap at each place.
const OVERLAP: usize = 4;
const NOISE_FLOOR: f32 = 1e-15;
/// Beyond this, neighbours say too little of each other.
const MOST_FACTOR: f32 = 2.0;

type Bins = Vec<Complex<f32>>;

/// Reads interleaved frames from a place on; silence outside.
pub type Reader<'a> = dyn FnMut(i64, &mut [f32]) -> Result<()> + 'a;

/// Stretches stretches of a recording, one after the other.
pub struct Stretcher {
    channels: Vec<Channel>,
    block: usize,
    hop: usize,
    window: Vec<f32>,
    /// What a band turns by in one hop.
    turns: Bins,
    forward: Arc<dyn RealToComplex<f32>>,
    backward: Arc<dyn ComplexToReal<f32>>,
    scratch: Bins,
    frame: Vec<f32>,
    raw: Vec<f32>,
}

#[derive(Clone)]
struct Channel {
    input: Bins,
    previous: Bins,
    output: Bins,
    energy: Vec<f32>,
    /// Sound that later blocks still add to.
    overlap: Vec<f32>,
}

impl Stretcher {
    /// For a recording of so many channels and frames a second.
    pub fn new(channels: usize, rate_hz: u32) -> Stretcher {
        let block = good_length((BLOCK_S * f64::from(rate_hz)) as usize);
        let hop = block / OVERLAP;
        let mut planner = RealFftPlanner::new();
        let (forward, backward) =
            (planner.plan_fft_forward(block), planner.plan_fft_inverse(block));
        let bands = block / 2 + 1;
        let turn = |band: usize| std::f64::consts::TAU * (band * hop) as f64 / block as f64;
        let scratch = forward.get_scratch_len().max(backward.get_scratch_len());
        let zero = Complex::new(0.0, 0.0);
        Stretcher {
            channels: vec![
                Channel {
                    input: vec![zero; bands],
                    previous: vec![zero; bands],
                    output: vec![zero; bands],
                    energy: vec![0.0; bands],
                    overlap: vec![0.0; block],
                };
                channels.max(1)
            ],
            block,
            hop,
            window: (0..block)
                .map(|k| {
                    let angle = std::f64::consts::TAU * (k as f64 + 0.5) / block as f64;
                    (0.5 - 0.5 * angle.cos()) as f32
                })
                .collect(),
            turns: (0..bands).map(|b| Complex::from_polar(1.0, turn(b)).to_f32()).collect(),
            forward,
            backward,
            scratch: vec![zero; scratch],
            frame: vec![0.0; block],
            raw: Vec::new(),
        }
    }

    /// Writes `frames` frames of sound from `from` on (in frames of the recording, fractions allowed), `tempo`
    /// times as fast: output frame `n` is what stands at `from + n * tempo`. At tempo 1 the sound is untouched.
    ///
    /// # Errors
    /// Those of `read` and `sink`.
    pub fn stretch(
        &mut self,
        read: &mut Reader<'_>,
        from: f64,
        tempo: f64,
        frames: usize,
        sink: &mut dyn FnMut(&[f32]) -> Result<()>,
    ) -> Result<()> {
        let width = self.channels.len();
        if (tempo - 1.0).abs() < 1e-9 {
            return copy(read, from.round() as i64, frames, width, sink);
        }
        self.forget();
        // The first blocks are centred before the start, so that it is as loud as all the rest. A block's hop is
        // finished half a block before its centre.
        let mut at = -((OVERLAP / 2 * self.hop) as f64);
        let mut skip = self.block;
        let mut left = frames;
        let mut out = Vec::new();
        while left > 0 {
            let centre = (from + at * tempo).round() as i64;
            self.analyse(read, centre)?;
            self.predict((1.0 / tempo) as f32);
            self.synthesise(&mut out);
            at += self.hop as f64;
            let ready = out.len() / width;
            let gone = skip.min(ready);
            skip -= gone;
            let wanted = (ready - gone).min(left);
            if wanted > 0 {
                sink(&out[gone * width..(gone + wanted) * width])?;
                left -= wanted;
            }
            out.clear();
        }
        Ok(())
    }

    fn forget(&mut self) {
        for channel in &mut self.channels {
            channel.output.fill(Complex::new(0.0, 0.0));
            channel.energy.fill(0.0);
            channel.overlap.fill(0.0);
        }
    }

    /// Spectra of the block around a frame, and of the one a hop before it.
    fn analyse(&mut self, read: &mut Reader<'_>, centre: i64) -> Result<()> {
        let width = self.channels.len();
        let long = self.block + self.hop;
        self.raw.resize(long * width, 0.0);
        read(centre - self.hop as i64 - self.block as i64 / 2, &mut self.raw)?;
        let half = self.block / 2;
        for (c, channel) in self.channels.iter_mut().enumerate() {
            for (start, spectrum) in [(0, &mut channel.previous), (self.hop, &mut channel.input)] {
                for (k, window) in self.window.iter().enumerate() {
                    // The centre first, so that neighbouring bands turn alike.
                    let place = if k >= half { k - half } else { k + half };
                    self.frame[place] = window * self.raw[(start + k) * width + c];
                }
                // Lengths are those of the plan, so that it cannot fail.
                let _ =
                    self.forward.process_with_scratch(&mut self.frame, spectrum, &mut self.scratch);
            }
        }
        Ok(())
    }

    /// Spectra of the next block of output.
    fn predict(&mut self, factor: f32) {
        let bands = self.turns.len();
        let far = OVERLAP;
        let factor = factor.clamp(1.0 / MOST_FACTOR, MOST_FACTOR);
        for channel in &mut self.channels {
            for b in 0..bands {
                let turn = self.turns[b];
                let energy = channel.input[b].norm_sqr();
                let moved = channel.input[b] * (channel.previous[b] * turn).conj();
                let phase = channel.output[b] * turn * moved;
                channel.output[b] = phase / (channel.energy[b].max(energy) + NOISE_FLOOR);
                channel.energy[b] = energy;
            }
        }
        for b in 0..bands {
            let loudest = (0..self.channels.len())
                .max_by(|&x, &y| self.channels[x].energy[b].total_cmp(&self.channels[y].energy[b]))
                .unwrap_or(0);
            let channel = &mut self.channels[loudest];
            let input = channel.input[b];
            let mut phase = Complex::new(0.0, 0.0);
            if b > 0 {
                let below = between(&channel.input, b as f32 - factor);
                phase += channel.output[b - 1] * (input * below.conj());
                if b >= far {
                    let below = between(&channel.input, b as f32 - far as f32 * factor);
                    phase += channel.output[b - far] * (input * below.conj());
                }
            }
            if b + 1 < bands {
                let here = between(&channel.input, (b + 1) as f32 - factor);
                phase += channel.output[b + 1] * (channel.input[b + 1] * here.conj()).conj();
                if b + far < bands {
                    let here = between(&channel.input, (b + far) as f32 - far as f32 * factor);
                    phase +=
                        channel.output[b + far] * (channel.input[b + far] * here.conj()).conj();
                }
            }
            let told = scaled(phase, input, channel.energy[b]);
            channel.output[b] = told;
            for other in 0..self.channels.len() {
                if other != loudest {
                    let channel = &mut self.channels[other];
                    let phase = told * (channel.input[b] * input.conj());
                    channel.output[b] = scaled(phase, channel.input[b], channel.energy[b]);
                }
            }
        }
    }

    /// Adds the block to what is there; puts what no later block changes into `out`, interleaved.
    fn synthesise(&mut self, out: &mut Vec<f32>) {
        let width = self.channels.len();
        let half = self.block / 2;
        // Hann twice, overlapping four times, sums to three halves; the transform scales by its length.
        let scale = 1.0 / (1.5 * self.block as f32) * 4.0 / OVERLAP as f32;
        let start = out.len();
        out.resize(start + self.hop * width, 0.0);
        let mut spectrum = Vec::with_capacity(self.turns.len());
        for (c, channel) in self.channels.iter_mut().enumerate() {
            spectrum.clear();
            spectrum.extend_from_slice(&channel.output);
            // A real sound has real ends of its spectrum.
            if let Some(first) = spectrum.first_mut() {
                first.im = 0.0;
            }
            if let Some(last) = spectrum.last_mut() {
                last.im = 0.0;
            }
            let _ = self.backward.process_with_scratch(
                &mut spectrum,
                &mut self.frame,
                &mut self.scratch,
            );
            for (k, window) in self.window.iter().enumerate() {
                let place = if k >= half { k - half } else { k + half };
                channel.overlap[k] += window * scale * self.frame[place];
            }
            for k in 0..self.hop {
                out[start + k * width + c] = channel.overlap[k];
            }
            channel.overlap.copy_within(self.hop.., 0);
            let rest = self.block - self.hop;
            channel.overlap[rest..].fill(0.0);
        }
    }
}

/// The phase of a prediction at the loudness of the input; the input's own where nothing is predicted.
fn scaled(phase: Complex<f32>, input: Complex<f32>, energy: f32) -> Complex<f32> {
    let strength = phase.norm_sqr();
    match strength <= NOISE_FLOOR {
        true => input * (energy / (input.norm_sqr() + NOISE_FLOOR)).sqrt(),
        false => phase * (energy / strength).sqrt(),
    }
}

/// A spectrum between two bands; nothing outside.
fn between(spectrum: &[Complex<f32>], band: f32) -> Complex<f32> {
    let low = band.floor();
    let at = |index: f32| {
        if index < 0.0 {
            Complex::new(0.0, 0.0)
        } else {
            spectrum.get(index as usize).copied().unwrap_or_default()
        }
    };
    let (a, b) = (at(low), at(low + 1.0));
    a + (b - a) * (band - low)
}

trait ToF32 {
    fn to_f32(self) -> Complex<f32>;
}

impl ToF32 for Complex<f64> {
    fn to_f32(self) -> Complex<f32> {
        Complex::new(self.re as f32, self.im as f32)
    }
}

fn copy(
    read: &mut Reader<'_>,
    from: i64,
    frames: usize,
    width: usize,
    sink: &mut dyn FnMut(&[f32]) -> Result<()>,
) -> Result<()> {
    const BLOCK: usize = 1 << 14;
    let mut done = 0;
    while done < frames {
        let mut block = vec![0.0; (frames - done).min(BLOCK) * width];
        read(from + done as i64, &mut block)?;
        sink(&block)?;
        done += block.len() / width;
    }
    Ok(())
}

/// The length nearest below whose transform is quick: no prime factor over 5, divided by the overlap twice.
fn good_length(most: usize) -> usize {
    let unit = 2 * OVERLAP;
    let quick = |mut n: usize| {
        for factor in [2, 3, 5] {
            while n.is_multiple_of(factor) {
                n /= factor;
            }
        }
        n == 1
    };
    (1..=(most / unit).max(1)).rev().map(|k| k * unit).find(|&n| quick(n)).unwrap_or(unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 44_100;

    fn stretched(sound: &[f32], width: usize, tempo: f64) -> Vec<f32> {
        let mut read = |from: i64, out: &mut [f32]| {
            for (k, x) in out.iter_mut().enumerate() {
                let at = from * width as i64 + k as i64;
                *x = usize::try_from(at).ok().and_then(|i| sound.get(i)).copied().unwrap_or(0.0);
            }
            Ok(())
        };
        let mut out = Vec::new();
        let frames = (sound.len() as f64 / width as f64 / tempo) as usize;
        let mut sink = |block: &[f32]| {
            out.extend_from_slice(block);
            Ok(())
        };
        Stretcher::new(width, RATE).stretch(&mut read, 0.0, tempo, frames, &mut sink).unwrap();
        assert_eq!(out.len(), frames * width);
        out
    }

    /// Share of power that is not at the tones, decibels: tones are fitted by least squares in blocks of half a
    /// second, away from the ends.
    fn tones_over_rest_db(sound: &[f32], tones_hz: &[f64]) -> f64 {
        let (mut tones, mut rest) = (0.0, 0.0);
        let middle = &sound[sound.len() / 8..7 * sound.len() / 8];
        for block in middle.chunks_exact(RATE as usize / 2) {
            let basis: Vec<Vec<f64>> = tones_hz
                .iter()
                .flat_map(|hz| [0.0, std::f64::consts::FRAC_PI_2].map(|phase| (hz, phase)))
                .map(|(hz, phase)| {
                    let turn = std::f64::consts::TAU * hz / f64::from(RATE);
                    (0..block.len()).map(|n| (turn * n as f64 + phase).cos()).collect()
                })
                .collect();
            // Tones half a second long are all but orthogonal; a few rounds make it exact.
            let mut left: Vec<f64> = block.iter().map(|x| f64::from(*x)).collect();
            let before: f64 = left.iter().map(|x| x * x).sum();
            for _ in 0..20 {
                for tone in &basis {
                    let dot: f64 = tone.iter().zip(&left).map(|(a, b)| a * b).sum();
                    let share = dot / tone.iter().map(|x| x * x).sum::<f64>();
                    left.iter_mut().zip(tone).for_each(|(x, t)| *x -= share * t);
                }
            }
            let after: f64 = left.iter().map(|x| x * x).sum();
            tones += before - after;
            rest += after;
        }
        10.0 * (tones / rest).log10()
    }

    #[test]
    fn tones_stay_clean_and_at_their_pitch() {
        let tones = [220.0, 440.0, 554.37];
        let sound: Vec<f32> = (0..6 * RATE)
            .map(|n| {
                let t = f64::from(n) / f64::from(RATE);
                tones.iter().map(|hz| 0.2 * (std::f64::consts::TAU * hz * t).sin()).sum::<f64>()
                    as f32
            })
            .collect();
        for tempo in [0.6, 0.75, 0.8, 1.2] {
            let db = tones_over_rest_db(&stretched(&sound, 1, tempo), &tones);
            println!("tempo {tempo}: tones {db:.1} dB over the rest");
            assert!(db > 40.0, "{tempo}: {db}");
        }
    }

    #[test]
    fn attacks_stay_in_their_places_and_sharp() {
        let mut sound = vec![0f32; 20 * RATE as usize / 4];
        let times: Vec<usize> = (1..9).map(|k| k * RATE as usize / 2 + 777).collect();
        for &start in &times {
            for k in 0..300 {
                if let Some(x) = sound.get_mut(start + k) {
                    *x += 0.8 * (-(k as f32) / 60.0).exp() * if k % 6 < 3 { 1.0 } else { -1.0 };
                }
            }
        }
        for tempo in [0.6, 2.0 / 3.0, 0.75, 0.8, 1.2] {
            let out = stretched(&sound, 1, tempo);
            let mut worst: f64 = 0.0;
            let mut ahead: f64 = 0.0;
            for &start in &times {
                let centre = (start as f64 / tempo) as usize;
                let reach = RATE as usize / 25;
                let window = &out[centre - reach..(centre + reach).min(out.len())];
                let peak = window.iter().fold(0f32, |p, x| p.max(x.abs()));
                let found = window.iter().position(|x| x.abs() > 0.4 * peak).unwrap() as f64;
                worst = worst.max((found - reach as f64).abs() / f64::from(RATE));
                let power = |range: &[f32]| range.iter().map(|x| f64::from(x * x)).sum::<f64>();
                let before = power(&window[..reach - RATE as usize / 500]);
                ahead = ahead.max(before / power(window));
            }
            println!(
                "tempo {tempo}: worst {:.2} ms, before {:.1} %",
                1000.0 * worst,
                100.0 * ahead
            );
            assert!(worst < 0.002, "{tempo}: {worst}");
            assert!(ahead < 0.1, "{tempo}: {ahead}");
        }
    }

    #[test]
    fn channels_stay_together_and_levels_stay() {
        let sound: Vec<f32> = (0..2 * RATE as usize)
            .flat_map(|n| {
                let x = 0.3 * ((n * n / 7919) as f32 * 0.37).sin() + 0.2 * (n as f32 * 0.05).sin();
                [x, 0.5 * x]
            })
            .collect();
        let out = stretched(&sound, 2, 0.8);
        let power = |s: &[f32], c: usize| {
            let own: Vec<f32> = s.iter().skip(c).step_by(2).copied().collect();
            own.iter().map(|x| x * x).sum::<f32>() / own.len() as f32
        };
        assert!((power(&out, 0) / power(&sound, 0)).log10().abs() < 0.1);
        assert!((power(&out, 1) / power(&out, 0) - 0.25).abs() < 0.02);
        let same: f32 = out.chunks_exact(2).map(|f| (f[0] * 0.5 - f[1]).abs()).sum();
        assert!(same / (out.len() as f32) < 0.01, "one channel is half the other: {same}");
    }

    #[test]
    fn at_full_tempo_nothing_is_changed() {
        let sound: Vec<f32> = (0..10_000).map(|n| (n as f32 * 0.1).sin()).collect();
        assert_eq!(stretched(&sound, 1, 1.0), sound);
    }
}
