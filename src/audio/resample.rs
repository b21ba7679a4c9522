//! Any sample rate to the working rate, block by block, without shifting time.
//!
//! Nearly all music comes at 44.1 kHz, exactly twice the working rate; that goes through a half-band
//! filter of our own, which costs a fifth of a general resampler. All else goes through rubato.

use rubato::audioadapter_buffers::direct::SequentialSlice;
use rubato::{Fft, FixedSync, Indexing, Resampler as _, WindowFunction};

use super::WORKING_RATE_HZ;
use super::halving::Halving;

/// Input frames handled at a time. Long enough that the cost of a call does not show.
const CHUNK: usize = 4096;
/// Input frames to a transform: short enough for little delay and ringing, long enough that the filter
/// falls off within the top tenth of the band.
const TRANSFORM: usize = 512;

/// What a resampler's output goes to.
pub type Sink<'a> = dyn FnMut(&[f32]) + 'a;

/// Mono samples in at the file's rate, out at the working rate. The filter's delay is taken off, and
/// the output is as long as the input to within half a sample.
pub struct Resampler {
    rate_hz: u32,
    filter: Filter,
    /// Output samples still to drop, so that the filter's delay does not shift time.
    delay_left: usize,
    taken: u64,
    given: u64,
}

enum Filter {
    None,
    Halving(Halving),
    General(Box<General>),
}

struct General {
    filter: Fft<f32>,
    waiting: Vec<f32>,
    ready: Vec<f32>,
}

impl Resampler {
    /// A resampler from `rate_hz`; `None` where the rate is beyond what one can be built for.
    pub fn new(rate_hz: u32) -> Option<Resampler> {
        let filter = if rate_hz == WORKING_RATE_HZ {
            Filter::None
        } else if rate_hz == 2 * WORKING_RATE_HZ {
            Filter::Halving(Halving::new())
        } else {
            Filter::General(Box::new(General::new(rate_hz)?))
        };
        let delay_left = match &filter {
            Filter::None => 0,
            Filter::Halving(_) => Halving::DELAY,
            Filter::General(general) => general.filter.output_delay(),
        };
        Some(Resampler { rate_hz, filter, delay_left, taken: 0, given: 0 })
    }

    /// Takes samples in and hands on what is ready.
    pub fn push(&mut self, samples: &[f32], sink: &mut Sink) {
        self.taken += samples.len() as u64;
        self.work(samples, sink);
    }

    /// Flushes the rest. Total output: input length times the ratio of rates, rounded.
    pub fn finish(mut self, sink: &mut Sink) -> u64 {
        let (rate, to) = (u64::from(self.rate_hz), u64::from(WORKING_RATE_HZ));
        let goal = (self.taken * to + rate / 2) / rate;
        // The flush may pass the goal; whatever lies beyond is the filter's tail over silence.
        let mut given = self.given;
        let mut until_goal = |block: &[f32]| {
            let wanted = goal.saturating_sub(given).min(block.len() as u64) as usize;
            if wanted > 0 {
                sink(&block[..wanted]);
            }
            given += wanted as u64;
        };
        while self.given < goal {
            self.work(&[0.0; CHUNK], &mut until_goal);
        }
        goal
    }

    fn work(&mut self, samples: &[f32], sink: &mut Sink) {
        let (delay_left, given) = (&mut self.delay_left, &mut self.given);
        let mut hand_on = |block: &[f32]| {
            let skipped = block.len().min(*delay_left);
            *delay_left -= skipped;
            if block.len() > skipped {
                *given += (block.len() - skipped) as u64;
                sink(&block[skipped..]);
            }
        };
        match &mut self.filter {
            Filter::None => hand_on(samples),
            Filter::Halving(halving) => halving.push(samples, &mut hand_on),
            Filter::General(general) => general.push(samples, &mut hand_on),
        }
    }
}

impl General {
    fn new(rate_hz: u32) -> Option<General> {
        let filter = Fft::new_custom(
            rate_hz as usize,
            WORKING_RATE_HZ as usize,
            CHUNK,
            CHUNK / TRANSFORM,
            1,
            WindowFunction::BlackmanHarris2,
            FixedSync::Input,
        )
        .ok()?;
        let ready = vec![0.0; filter.output_frames_max()];
        Some(General { filter, waiting: Vec::with_capacity(2 * CHUNK), ready })
    }

    fn push(&mut self, samples: &[f32], sink: &mut Sink) {
        self.waiting.extend_from_slice(samples);
        let mut start = 0;
        loop {
            let need = self.filter.input_frames_next();
            let Some(chunk) = self.waiting.get(start..start + need) else { break };
            let space = self.ready.len();
            let done = (|| {
                let input = SequentialSlice::new(chunk, 1, need).ok()?;
                let mut output = SequentialSlice::new_mut(&mut self.ready, 1, space).ok()?;
                self.filter.process_into_buffer(&input, &mut output, None::<&Indexing>).ok()
            })();
            // The buffers are sized by the filter's own figures, so it cannot refuse them; were it to,
            // silence of the right length keeps time.
            let (used, made) = done.unwrap_or_else(|| {
                self.ready.fill(0.0);
                (need, self.filter.output_frames_next().min(space))
            });
            start += used.max(1);
            sink(&self.ready[..made]);
        }
        self.waiting.drain(..start.min(self.waiting.len()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn resampled(rate_hz: u32, input: &[f32], step: usize) -> Vec<f32> {
        let mut out = Vec::new();
        let mut resampler = Resampler::new(rate_hz).unwrap();
        for part in input.chunks(step) {
            resampler.push(part, &mut |b| out.extend_from_slice(b));
        }
        let goal = resampler.finish(&mut |b| out.extend_from_slice(b));
        assert_eq!(out.len() as u64, goal);
        out
    }

    #[test]
    fn a_click_keeps_its_time_at_every_rate() {
        for rate in [8_000, 11_025, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000] {
            let mut input = vec![0.0; 2 * rate as usize];
            input[rate as usize] = 1.0;
            let out = resampled(rate, &input, 1152);
            assert_eq!(out.len(), 2 * WORKING_RATE_HZ as usize, "{rate}");
            let peak =
                (0..out.len()).max_by(|a, b| out[*a].abs().total_cmp(&out[*b].abs())).unwrap();
            assert!(peak.abs_diff(WORKING_RATE_HZ as usize) <= 1, "{rate}: {peak}");
        }
    }

    #[test]
    fn a_tone_within_the_band_keeps_its_level_and_one_beyond_vanishes() {
        let tone = |hz: f64| -> f32 {
            let angle = |n: u32| std::f64::consts::TAU * hz * f64::from(n) / 44_100.0;
            let input: Vec<f32> = (0..88_200).map(|n| angle(n).sin() as f32).collect();
            let out = resampled(44_100, &input, 1000);
            let middle = &out[4000..40_000];
            (middle.iter().map(|x| x * x).sum::<f32>() / middle.len() as f32).sqrt()
        };
        // A sine's root mean square is 1/√2.
        assert!((tone(1000.0) - std::f32::consts::FRAC_1_SQRT_2).abs() < 0.001, "{}", tone(1000.0));
        assert!((tone(9000.0) - std::f32::consts::FRAC_1_SQRT_2).abs() < 0.01, "{}", tone(9000.0));
        assert!(tone(13_000.0) < 0.001, "{}", tone(13_000.0));
    }

    #[test]
    fn the_size_of_the_blocks_does_not_change_a_sample() {
        let input: Vec<f32> = (0..30_000).map(|n| ((n * n) as f32 * 0.001).sin()).collect();
        assert_eq!(resampled(44_100, &input, 1), resampled(44_100, &input, 30_000));
        assert_eq!(resampled(48_000, &input, 1024), resampled(48_000, &input, 777));
    }

    #[test]
    fn lengths_come_out_rounded() {
        assert_eq!(resampled(44_100, &[], 1).len(), 0);
        assert_eq!(resampled(44_100, &[0.5], 1).len(), 1);
        assert_eq!(resampled(192_000, &[0.5; 4], 1).len(), 0);
        assert_eq!(resampled(8_000, &[0.5; 8], 3).len(), 22);
    }
}
