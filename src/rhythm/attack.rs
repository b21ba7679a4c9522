//! When sound attacks, to a few milliseconds: energy in four wide bands through a short window.
//!
//! The spectrogram's window of 93 ms blurs an attack; this one of 11.6 ms, every 2.86 ms, does not. A
//! window centred on its time has no delay of its own: where a sound starts and holds, the energy
//! rises fastest when the centre passes the start. Beats are placed on these rises.

use super::db;
use super::features::SAMPLE_RATE_HZ;
use super::framer::Framer;
use crate::spectrum::PowerSpectrum;

/// Number of attack bands.
pub const ATTACK_BANDS: usize = 4;
/// Samples from one point of the attack envelope to the next: a seventh of a frame.
pub const ATTACK_HOP: usize = 63;
/// Points a frame.
pub(crate) const PER_FRAME: usize = 7;

const WINDOW: usize = 256;
/// Upper edge of each band in bins of 86 Hz: drum and bass body up to 215 Hz, then up to 900 Hz, up to
/// 3.5 kHz, and the rest to 10 kHz.
const EDGES: [usize; ATTACK_BANDS + 1] = [1, 3, 11, 41, 117];

/// Energy in [`ATTACK_BANDS`] bands every [`ATTACK_HOP`] samples.
#[derive(Debug, Clone)]
pub struct AttackEnvelope {
    /// `[n_points, ATTACK_BANDS]`, decibel bytes.
    levels: Vec<u8>,
}

impl AttackEnvelope {
    /// Number of points; point `j` is centred on sample `63 j`.
    pub fn len(&self) -> usize {
        self.levels.len() / ATTACK_BANDS
    }

    /// Whether nothing was heard.
    pub fn is_empty(&self) -> bool {
        self.levels.is_empty()
    }

    /// Its decibel bytes. Shape `[n_points, ATTACK_BANDS]`.
    pub(crate) fn bytes_of_all(&self) -> &[u8] {
        &self.levels
    }

    /// The envelope that has these bytes.
    pub(crate) fn from_bytes(levels: Vec<u8>) -> AttackEnvelope {
        AttackEnvelope { levels }
    }

    /// Time of a point's centre in seconds.
    pub fn time_s(point: f64) -> f64 {
        point * ATTACK_HOP as f64 / f64::from(SAMPLE_RATE_HZ)
    }

    /// The point (not whole) at a time in seconds.
    pub fn point_at(seconds: f64) -> f64 {
        seconds * f64::from(SAMPLE_RATE_HZ) / ATTACK_HOP as f64
    }

    /// Power in each band at a point; silence outside the recording.
    pub fn powers(&self, point: usize) -> [f32; ATTACK_BANDS] {
        self.bytes(point).map(db::power)
    }

    /// Whether anything starts at a point: a rise of 3 dB over 5.7 ms in some band, to a level no more
    /// than 60 dB under a full-scale sine.
    pub fn has_attack(&self, point: usize) -> bool {
        const RISE: u8 = 8;
        const AUDIBLE: u8 = 88;
        let (before, after) = (self.bytes(point.saturating_sub(1)), self.bytes(point + 1));
        (0..ATTACK_BANDS).any(|b| after[b] >= AUDIBLE && after[b] >= before[b].saturating_add(RISE))
    }

    fn bytes(&self, point: usize) -> [u8; ATTACK_BANDS] {
        let at = point * ATTACK_BANDS;
        let mut bytes = [0; ATTACK_BANDS];
        if let Some(found) = self.levels.get(at..at + ATTACK_BANDS) {
            bytes.copy_from_slice(found);
        }
        bytes
    }

    /// The steepest rise in each band within 10 ms of a frame's centre: decibels gained over 5.7 ms,
    /// divided by 20. Levels more than 60 dB under `reference_db` count as that low.
    pub fn steepest_rise(&self, frame: usize, reference_db: f32) -> [f32; ATTACK_BANDS] {
        const LAG: usize = 2;
        let floor = reference_db - 60.0;
        let centre = frame * PER_FRAME;
        let mut steepest = [0f32; ATTACK_BANDS];
        let half = PER_FRAME / 2;
        for point in centre.saturating_sub(half)..=centre + half {
            // A rise over a lag belongs to its middle.
            let (before, after) = (point.saturating_sub(LAG / 2), point + LAG / 2);
            if after >= self.len() {
                break;
            }
            let (before, after) = (self.bytes(before), self.bytes(after));
            for band in 0..ATTACK_BANDS {
                let rise = db::of(after[band]).max(floor) - db::of(before[band]).max(floor);
                steepest[band] = steepest[band].max(rise / 20.0);
            }
        }
        steepest
    }
}

/// Takes samples and keeps their attack envelope.
pub(crate) struct AttackFront {
    framer: Framer,
    spectrum: PowerSpectrum,
    levels: Vec<u8>,
}

impl AttackFront {
    pub(crate) fn new() -> AttackFront {
        AttackFront {
            framer: Framer::new(WINDOW, ATTACK_HOP),
            spectrum: PowerSpectrum::new(WINDOW, EDGES[ATTACK_BANDS]),
            levels: Vec::new(),
        }
    }

    pub(crate) fn push(&mut self, samples: &[f32]) {
        let AttackFront { framer, spectrum, levels } = self;
        framer.push(samples, |first, second| keep(first, second, spectrum, levels));
    }

    pub(crate) fn finish(self) -> AttackEnvelope {
        let AttackFront { mut framer, mut spectrum, mut levels } = self;
        framer.finish(|first, second| keep(first, second, &mut spectrum, &mut levels));
        levels.shrink_to_fit();
        AttackEnvelope { levels }
    }
}

fn keep(first: &[f32], second: Option<&[f32]>, spectrum: &mut PowerSpectrum, levels: &mut Vec<u8>) {
    let powers = spectrum.of(first, second.unwrap_or(first));
    for power in powers.into_iter().take(1 + usize::from(second.is_some())) {
        let mut sums = [0.0; ATTACK_BANDS];
        for (sum, edges) in sums.iter_mut().zip(EDGES.windows(2)) {
            // Four sums side by side, so that the compiler may use vector instructions.
            let (groups, rest) = power[edges[0]..edges[1]].as_chunks::<4>();
            let mut lanes = [0f32; 4];
            for group in groups {
                lanes.iter_mut().zip(group).for_each(|(lane, p)| *lane += p);
            }
            *sum = lanes.iter().sum::<f32>() + rest.iter().sum::<f32>();
        }
        levels.extend(sums.map(db::quantise));
    }
}
