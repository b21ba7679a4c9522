//! The front of the ear: from samples to a compact log-frequency spectrogram and attack envelope.
//!
//! Fifty frames a second, each centred on sample `441 k` of 22 050 Hz audio, a Hann window of 2048
//! samples, power summed into bands a semitone wide where the window can tell them apart, kept in
//! decibels at 0.4 dB steps: one byte a band, so that two hours take under 50 MB. A second, finer curve
//! ([`AttackEnvelope`]) keeps when attacks happen.
//!
//! What later stages read is [`Features::frame`]: level relative to the recording's own loud frames,
//! log-compressed, so that a quiet copy of a recording gives the same features. Log-frequency bands
//! and log compression as in Böck & Widmer (2013), *Maximum filter vibrato suppression for onset
//! detection*, DAFx.

use pulp::{Arch, NullaryFnOnce};

use super::attack::{ATTACK_BANDS, AttackEnvelope, AttackFront};
use super::db;
use super::filterbank::Filterbank;
use super::framer::Framer;
use crate::spectrum::PowerSpectrum;

/// Rate the ear works at, samples a second.
pub const SAMPLE_RATE_HZ: u32 = 22_050;
/// Samples from one frame to the next.
pub const HOP: usize = 441;
/// Frames a second.
pub const FRAMES_PER_SECOND: f64 = SAMPLE_RATE_HZ as f64 / HOP as f64;

/// Window length in samples: 93 ms, long enough to tell semitones apart from about 180 Hz up.
const WINDOW: usize = 2048;
const LOW_HZ: f64 = 30.0;
/// Below this, bands are a semitone apart; above, pitch says little and a whole tone is enough.
const FINE_UP_TO_HZ: f64 = 4000.0;
const HIGH_HZ: f64 = 10_000.0;

/// Sound further below the recording's loud frames than this is silence, decibels.
pub const SILENT_DB: f32 = 45.0;

/// Time of a frame's centre in seconds.
pub fn frame_time_s(frame: usize) -> f64 {
    frame as f64 / FRAMES_PER_SECOND
}

/// A recording's spectrogram and attacks, as all later stages read them.
#[derive(Debug, Clone)]
pub struct Features {
    n_samples: u64,
    centres_hz: Vec<f32>,
    /// `[n_frames, n_bands]`, decibel bytes.
    levels: Vec<u8>,
    /// Loud-frame level of the recording in decibels.
    reference_db: f32,
    /// What each byte is worth in [`Features::frame`].
    compressed: Vec<f32>,
    attack: AttackEnvelope,
}

/// What a recording's features are made of, to keep them and have them back exactly.
#[derive(Debug, Clone, PartialEq)]
pub struct FeatureParts<'a> {
    /// Samples heard.
    pub n_samples: u64,
    /// As [`Features::reference_db`].
    pub reference_db: f32,
    /// Decibel bytes of the bands. Shape `[n_frames, n_bands]`.
    pub levels: &'a [u8],
    /// Decibel bytes of the attack bands. Shape `[n_points, 4]`.
    pub attack: &'a [u8],
}

impl Features {
    /// What these features are made of.
    pub fn parts(&self) -> FeatureParts<'_> {
        FeatureParts {
            n_samples: self.n_samples,
            reference_db: self.reference_db,
            levels: &self.levels,
            attack: self.attack.bytes_of_all(),
        }
    }

    /// The features that were made of these parts; `None` where they do not go together.
    pub fn from_parts(parts: &FeatureParts<'_>) -> Option<Features> {
        let bank = Filterbank::new(bin_hz(), LOW_HZ, FINE_UP_TO_HZ, HIGH_HZ);
        let n_frames = usize::try_from(parts.n_samples).ok()?.div_ceil(HOP);
        let whole = parts.levels.len() == n_frames.checked_mul(bank.len())?
            && parts.attack.len().is_multiple_of(ATTACK_BANDS)
            && parts.reference_db.is_finite();
        whole.then(|| Features {
            n_samples: parts.n_samples,
            centres_hz: bank.centres_hz(bin_hz()),
            levels: parts.levels.to_vec(),
            reference_db: parts.reference_db,
            compressed: compressed(parts.reference_db),
            attack: AttackEnvelope::from_bytes(parts.attack.to_vec()),
        })
    }

    /// Number of frames; frame `k` is centred on `k / 50` seconds.
    pub fn n_frames(&self) -> usize {
        self.levels.len() / self.n_bands().max(1)
    }

    /// Number of spectral bands.
    pub fn n_bands(&self) -> usize {
        self.centres_hz.len()
    }

    /// Values in one [`Features::frame`]: the spectral bands, low to high, then the attack bands.
    pub fn width(&self) -> usize {
        self.n_bands() + ATTACK_BANDS
    }

    /// Centre of each spectral band in hertz.
    pub fn band_centres_hz(&self) -> &[f32] {
        &self.centres_hz
    }

    /// Length of the recording in seconds.
    pub fn duration_s(&self) -> f64 {
        self.n_samples as f64 / f64::from(SAMPLE_RATE_HZ)
    }

    /// Level of the recording's loud frames in decibels below a full-scale sine.
    pub fn reference_db(&self) -> f32 {
        self.reference_db
    }

    /// Whether no frame is louder than the noise of an empty track.
    pub fn is_silent(&self) -> bool {
        self.reference_db <= QUIETEST_MUSIC_DB
    }

    /// The fine-time attack envelope.
    pub fn attack(&self) -> &AttackEnvelope {
        &self.attack
    }

    /// Spectral bands of a frame, log-compressed: `log10(1 + 10^6 p / p_ref) / 6`, about 0 to 1, where
    /// `p_ref` is the power of the recording's loud frames. Shape `[n_bands]`.
    pub fn bands(&self, frame: usize) -> impl Iterator<Item = f32> + '_ {
        let n = self.n_bands();
        let levels = self.levels.get(frame * n..(frame + 1) * n).unwrap_or_default();
        levels.iter().map(|&byte| self.compressed[usize::from(byte)])
    }

    /// Power of each spectral band of a frame, linear (1 is a full-scale sine). Shape `[n_bands]`.
    pub fn band_powers(&self, frame: usize) -> impl Iterator<Item = f32> + '_ {
        let n = self.n_bands();
        let levels = self.levels.get(frame * n..(frame + 1) * n).unwrap_or_default();
        levels.iter().map(|&byte| db::power(byte))
    }

    /// Level of a frame in decibels over the recording's loud frames: mostly negative.
    pub fn level_db(&self, frame: usize) -> f32 {
        let power: f32 = self.band_powers(frame).sum();
        10.0 * power.max(1e-12).log10() - self.reference_db
    }

    /// Writes a frame to `out` (shape `[width]`): [`Features::bands`], then for each attack band the
    /// steepest rise within 10 ms of the frame's centre ([`AttackEnvelope::steepest_rise`]).
    pub fn frame(&self, frame: usize, out: &mut [f32]) {
        for (value, to) in self.bands(frame).zip(out.iter_mut()) {
            *to = value;
        }
        let rises = self.attack.steepest_rise(frame, self.reference_db);
        for (value, to) in rises.into_iter().zip(out.iter_mut().skip(self.n_bands())) {
            *to = value;
        }
    }
}

/// Takes mono samples at [`SAMPLE_RATE_HZ`] in blocks of any size and keeps their features.
pub struct FeatureFront {
    framer: Framer,
    keeper: Keeper,
    attack: AttackFront,
    clean: Vec<f32>,
    n_samples: u64,
}

impl Default for FeatureFront {
    fn default() -> Self {
        FeatureFront::new()
    }
}

impl FeatureFront {
    /// A front that has heard nothing yet.
    pub fn new() -> FeatureFront {
        let bank = Filterbank::new(bin_hz(), LOW_HZ, FINE_UP_TO_HZ, HIGH_HZ);
        FeatureFront {
            framer: Framer::new(WINDOW, HOP),
            keeper: Keeper {
                arch: crate::vector::arch(),
                spectrum: PowerSpectrum::new(WINDOW, bank.bins()),
                bands: vec![0.0; bank.len()],
                bank,
                levels: Vec::new(),
                loudness: [0; 256],
            },
            attack: AttackFront::new(),
            clean: Vec::new(),
            n_samples: 0,
        }
    }

    /// Takes the next samples. Values that are not numbers count as silence.
    pub fn push(&mut self, samples: &[f32]) {
        let FeatureFront { framer, keeper, attack, clean, .. } = self;
        clean.clear();
        clean.extend(samples.iter().map(|&x| if x.is_finite() { x.clamp(-8.0, 8.0) } else { 0.0 }));
        self.n_samples += clean.len() as u64;
        framer.push(clean, |first, second| keeper.keep(first, second));
        attack.push(clean);
    }

    /// Ends the recording.
    pub fn finish(self) -> Features {
        let FeatureFront { mut framer, mut keeper, attack, n_samples, .. } = self;
        framer.finish(|first, second| keeper.keep(first, second));
        let Keeper { bank, mut levels, loudness, .. } = keeper;
        levels.shrink_to_fit();
        let reference_db = loud_level_db(&loudness);
        Features {
            n_samples,
            centres_hz: bank.centres_hz(bin_hz()),
            levels,
            reference_db,
            compressed: compressed(reference_db),
            attack: attack.finish(),
        }
    }
}

/// What each byte is worth in [`Features::bands`].
fn compressed(reference_db: f32) -> Vec<f32> {
    let reference = 10f32.powf(reference_db / 10.0);
    (0..=255).map(|byte| (1.0 + 1e6 * db::power(byte) / reference).log10() / 6.0).collect()
}

fn bin_hz() -> f64 {
    f64::from(SAMPLE_RATE_HZ) / WINDOW as f64
}

/// Keeps the bands of windows.
struct Keeper {
    arch: Arch,
    spectrum: PowerSpectrum,
    bank: Filterbank,
    bands: Vec<f32>,
    levels: Vec<u8>,
    /// How many frames had each level (of all bands together).
    loudness: [u64; 256],
}

impl Keeper {
    fn keep(&mut self, first: &[f32], second: Option<&[f32]>) {
        let Keeper { arch, spectrum, bank, bands, levels, loudness } = self;
        let powers = spectrum.of(first, second.unwrap_or(first));
        for power in powers.into_iter().take(1 + usize::from(second.is_some())) {
            let start = levels.len();
            levels.resize(start + bank.len(), 0);
            arch.dispatch(ToBytes { bank, power, bands, bytes: &mut levels[start..] });
            loudness[usize::from(db::quantise(bands.iter().sum()))] += 1;
        }
    }
}

/// A power spectrum to the bytes of its bands.
struct ToBytes<'a> {
    bank: &'a Filterbank,
    power: &'a [f32],
    bands: &'a mut [f32],
    bytes: &'a mut [u8],
}

impl NullaryFnOnce for ToBytes<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.bank.apply(self.power, self.bands);
        for (byte, power) in self.bytes.iter_mut().zip(self.bands.iter()) {
            *byte = db::quantise(*power);
        }
    }
}

/// Nothing quieter than this is taken for music.
const QUIETEST_MUSIC_DB: f32 = -70.0;

/// The level that a tenth of the sounding frames exceed: loud passages, not the one loudest crash.
/// Frames within 40 dB of the loudest count as sounding. Never below -70 dB, so that the noise of an
/// empty track is not blown up into music.
fn loud_level_db(loudness: &[u64; 256]) -> f32 {
    let Some(loudest) = loudness.iter().rposition(|&frames| frames > 0) else {
        return QUIETEST_MUSIC_DB;
    };
    let sounding = loudest.saturating_sub(100)..=loudest;
    let total: u64 = loudness[sounding.clone()].iter().sum();
    let mut louder = 0;
    for byte in sounding.rev() {
        louder += loudness[byte];
        if louder * 10 >= total {
            return db::of(byte as u8).max(QUIETEST_MUSIC_DB);
        }
    }
    QUIETEST_MUSIC_DB
}

#[cfg(test)]
mod tests {
    use super::*;

    fn features_of(samples: &[f32]) -> Features {
        let mut front = FeatureFront::new();
        for block in samples.chunks(1000) {
            front.push(block);
        }
        front.finish()
    }

    fn sine(hz: f64, amplitude: f64, seconds: f64) -> Vec<f32> {
        let turn = std::f64::consts::TAU * hz / f64::from(SAMPLE_RATE_HZ);
        (0..(seconds * f64::from(SAMPLE_RATE_HZ)) as usize)
            .map(|n| (amplitude * (turn * n as f64).sin()) as f32)
            .collect()
    }

    #[test]
    fn a_tone_lands_in_its_own_band_at_its_own_level() {
        for hz in [110.0, 440.0, 1760.0, 7040.0] {
            let features = features_of(&sine(hz, 0.5, 1.0));
            let powers: Vec<f32> = features.band_powers(25).collect();
            let loudest =
                (0..powers.len()).max_by(|&a, &b| powers[a].total_cmp(&powers[b])).unwrap();
            let centre = f64::from(features.band_centres_hz()[loudest]);
            assert!(
                (centre / hz).log2().abs() < 1.0 / 12.0 + 0.05,
                "{hz} Hz in band of {centre} Hz"
            );
            let level = 10.0 * powers.iter().sum::<f32>().log10();
            // Half of full scale is -6 dB; the Hann window's main lobe holds 1.8 dB more than its peak.
            assert!((level - (-6.0 + 1.8)).abs() < 0.7, "{hz} Hz at {level} dB");
        }
    }

    #[test]
    fn a_quiet_copy_has_the_same_features() {
        let loud = sine(330.0, 0.5, 2.0);
        let quiet: Vec<f32> = loud.iter().map(|x| x / 8.0).collect();
        let (a, b) = (features_of(&loud), features_of(&quiet));
        let (mut fa, mut fb) = (vec![0.0; a.width()], vec![0.0; a.width()]);
        for k in 0..a.n_frames() {
            a.frame(k, &mut fa);
            b.frame(k, &mut fb);
            for (x, y) in fa.iter().zip(&fb) {
                assert!((x - y).abs() < 0.03, "frame {k}: {x} against {y}");
            }
        }
    }

    #[test]
    fn blocks_of_any_size_give_the_same_features() {
        let samples = sine(523.0, 0.3, 0.7);
        let whole = features_of(&samples);
        let mut front = FeatureFront::new();
        for block in samples.chunks(77) {
            front.push(block);
        }
        let parts = front.finish();
        assert_eq!(whole.levels, parts.levels);
        assert_eq!(whole.n_frames(), samples.len().div_ceil(HOP));
    }

    #[test]
    fn not_a_number_counts_as_silence() {
        let features = features_of(&[f32::NAN, f32::INFINITY, f32::NEG_INFINITY].repeat(5000));
        assert_eq!(features.reference_db(), -70.0);
        assert!(features.levels.iter().all(|&byte| byte == 0));
    }

    #[test]
    fn nothing_heard_is_no_frames() {
        let features = FeatureFront::new().finish();
        assert_eq!((features.n_frames(), features.duration_s()), (0, 0.0));
    }
}
