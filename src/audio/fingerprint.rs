//! A mark of the sound itself, alike for two copies of one recording and unlike for two recordings.
//!
//! After Haitsma and Kalker, "A highly robust audio fingerprinting system" (ISMIR 2002): one bit for
//! each pair of neighbouring frequency bands and neighbouring stretches of time, set when the difference
//! of the bands' energies grew. Levels and smooth tone controls cancel out. The paper's words come every
//! 11.6 ms to find a song by three seconds of it; here one comes every 1.5 s, which is enough to compare
//! two whole recordings and keeps the mark short.

use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex, num_complex::Complex};

use super::WORKING_RATE_HZ;

/// The kind of fingerprint; another method gets another name.
const KIND: &str = "hb1:";
/// Samples averaged into one: only sound up to 2 kHz is looked at, where all codecs keep their bits.
const DECIMATION: usize = 4;
/// Length of a transform, in decimated samples: 0.37 s, as in the paper.
const WINDOW: usize = 2048;
/// Transforms start this far apart, in decimated samples.
const HOP: usize = WINDOW / 2;
/// Transforms summed into one word: 8 × 0.186 s = 1.49 s.
const HOPS_PER_WORD: usize = 8;
/// Bits in a word, one for each pair of neighbouring bands.
const BITS: usize = 32;
/// Lowest and highest frequency looked at, in hertz, as in the paper.
const RANGE_HZ: (f32, f32) = (300.0, 2000.0);
/// Words kept: the first 12.7 minutes. More would make maps of long mixes large and tell nothing new.
const MOST_WORDS: usize = 512;
/// Words that two copies may be apart: 6 s of silence cut off or added in front.
const FURTHEST_OFFSET: usize = 4;
/// Fewer words than this in common are too few to tell anything: 9 s.
const FEWEST_WORDS: usize = 6;

/// Share of agreeing bits from which two recordings count as one. Different recordings agree in about
/// half of their bits by chance; see the measured figures in `docs/` and the test below.
pub const SAME: f64 = 0.70;

/// Listens to blocks at the working rate and makes the fingerprint.
pub struct Listener {
    fft: Arc<dyn RealToComplex<f32>>,
    scratch: Vec<Complex<f32>>,
    spectrum: Vec<Complex<f32>>,
    frame: Vec<f32>,
    shape: Vec<f32>,
    edges: Vec<usize>,
    decimated: Vec<f32>,
    sum: f32,
    summed: usize,
    hops: usize,
    energy: [f32; BITS + 1],
    before: Option<[f32; BITS]>,
    words: Vec<u32>,
}

impl Default for Listener {
    fn default() -> Listener {
        Listener::new()
    }
}

impl Listener {
    /// A listener that has heard nothing yet.
    pub fn new() -> Listener {
        let fft = RealFftPlanner::new().plan_fft_forward(WINDOW);
        let bin_hz = WORKING_RATE_HZ as f32 / (DECIMATION * WINDOW) as f32;
        let (low, high) = RANGE_HZ;
        let edges = (0..=BITS + 1)
            .map(|edge| {
                let hz = low * (high / low).powf(edge as f32 / (BITS + 1) as f32);
                (hz / bin_hz).round() as usize
            })
            .collect();
        let shape = (0..WINDOW)
            .map(|n| 0.5 - 0.5 * (std::f32::consts::TAU * n as f32 / WINDOW as f32).cos())
            .collect();
        Listener {
            scratch: fft.make_scratch_vec(),
            spectrum: fft.make_output_vec(),
            frame: vec![0.0; WINDOW],
            shape,
            edges,
            decimated: Vec::with_capacity(2 * WINDOW),
            sum: 0.0,
            summed: 0,
            hops: 0,
            energy: [0.0; BITS + 1],
            before: None,
            words: Vec::new(),
            fft,
        }
    }

    /// Takes the next samples at the working rate.
    pub fn push(&mut self, block: &[f32]) {
        if self.words.len() >= MOST_WORDS {
            return;
        }
        for sample in block {
            self.sum += sample;
            self.summed += 1;
            if self.summed == DECIMATION {
                self.decimated.push(self.sum);
                (self.sum, self.summed) = (0.0, 0);
            }
        }
        let mut start = 0;
        while self.decimated.len() >= start + WINDOW {
            self.transform(start);
            start += HOP;
        }
        self.decimated.drain(..start);
    }

    fn transform(&mut self, start: usize) {
        let samples = &self.decimated[start..start + WINDOW];
        for ((out, sample), shape) in self.frame.iter_mut().zip(samples).zip(&self.shape) {
            *out = sample * shape;
        }
        // The buffers come from the transform itself, so their lengths are right.
        let (frame, spectrum) = (&mut self.frame, &mut self.spectrum);
        if self.fft.process_with_scratch(frame, spectrum, &mut self.scratch).is_err() {
            return;
        }
        for (band, edge) in self.edges.windows(2).enumerate() {
            self.energy[band] +=
                spectrum[edge[0]..edge[1]].iter().map(|x| x.norm_sqr()).sum::<f32>();
        }
        self.hops += 1;
        if self.hops == HOPS_PER_WORD {
            self.finish_word();
        }
    }

    fn finish_word(&mut self) {
        // Logarithms, so that a loud band does not drown its neighbours; the floor keeps silence still.
        let level = self.energy.map(|energy| (energy + 1e-6).ln());
        let slope: [f32; BITS] = std::array::from_fn(|band| level[band] - level[band + 1]);
        if let Some(before) = &self.before {
            let bits = (0..BITS).map(|bit| u32::from(slope[bit] > before[bit]) << bit);
            self.words.push(bits.sum());
        }
        self.before = Some(slope);
        self.energy = [0.0; BITS + 1];
        self.hops = 0;
    }

    /// The fingerprint as text.
    pub fn finish(self) -> String {
        let words = self.words.iter().take(MOST_WORDS);
        words.fold(KIND.to_string(), |text, word| format!("{text}{word:08x}"))
    }
}

/// How alike two fingerprints are: the share of bits that agree, at the best of a few small offsets.
/// About 0.5 for different recordings, near 1 for copies of one. `None` when either is too short or
/// of another kind.
pub fn similarity(a: &str, b: &str) -> Option<f64> {
    let (a, b) = (words(a)?, words(b)?);
    (0..=FURTHEST_OFFSET)
        .flat_map(|skip| {
            let ahead = a.get(skip..).and_then(|a| agreement(a, &b));
            let behind = b.get(skip..).and_then(|b| agreement(&a, b));
            [ahead, behind]
        })
        .flatten()
        .reduce(f64::max)
}

fn agreement(a: &[u32], b: &[u32]) -> Option<f64> {
    let common = a.len().min(b.len());
    if common < FEWEST_WORDS {
        return None;
    }
    let differing: u32 = a.iter().zip(b).map(|(a, b)| (a ^ b).count_ones()).sum();
    Some(1.0 - f64::from(differing) / (common * BITS) as f64)
}

fn words(text: &str) -> Option<Vec<u32>> {
    let digits = text.strip_prefix(KIND)?;
    if !digits.is_ascii() {
        return None;
    }
    (0..digits.len() / 8)
        .map(|index| u32::from_str_radix(&digits[index * 8..index * 8 + 8], 16).ok())
        .collect()
}
