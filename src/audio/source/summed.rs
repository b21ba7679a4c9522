//! Two-channel MP3 decoded straight to one channel: half the work where a frame holds the channels' sum.
//!
//! Most frames of joint stereo hold the sum and the difference of the channels (ISO/IEC 11172-3, 2.4.3.4.9.2). The
//! mean of both channels is the sum alone, so the difference need not be decoded. And all from the spectrum on is
//! linear, so scaling may be done in the step size of the spectrum, which a frame states in quarters of a doubling
//! (2.4.2.7, `global_gain`). Each frame is therefore written anew as a frame of one channel, the bits of its spectrum
//! copied as they are, for the decoder to decode; a frame that holds left and right becomes two, one for each of two
//! decoders whose outputs are added.

use std::collections::VecDeque;

use symphonia::core::audio::{Audio, GenericAudioBufferRef};
use symphonia::core::codecs::audio::AudioDecoder;
use symphonia::core::errors::Error as Failure;
use symphonia::core::packet::PacketRef;
use symphonia::core::units::{Duration, Timestamp};

/// Quarters of a doubling off the step size that halve a channel …
const HALF: u64 = 4;
/// … and that make the sum, which frames hold divided by the square root of two, the mean.
const ROOT_OF_HALF: u64 = 2;
/// Bytes that a frame may borrow from those before, and their decoder may hold.
const MOST_BYTES: usize = 2048;
/// Frames remembered for a decoder that must take over: as many as data may be borrowed from at the lowest bit rate, and some.
const REMEMBERED: usize = 12;
/// Bits of one granule of one channel in the side information.
const GRANULE: usize = 59;
/// Bit rates of layer III by index, kbit/s.
const KBITS: [usize; 15] = [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320];

/// Decodes frames of two channels to the mean of both.
pub(super) struct Summed {
    decoders: [Box<dyn AudioDecoder>; 2],
    /// Whether the second decoder still sounds from the frame before.
    second_sounds: bool,
    /// Bytes of spectrum that no frame has used yet.
    unused: Vec<u8>,
    written: BitWriter,
    remembered: VecDeque<Vec<u8>>,
}

/// Why a frame was not decoded.
pub(super) enum Refused {
    /// It is damaged.
    Damaged,
    /// It is of another kind: a decoder of the whole must take over.
    Unsuited,
}

/// One granule of one channel.
#[derive(Clone, Copy, Default)]
struct Granule {
    side: u64,
    /// Where its bits begin among the bytes of spectrum; `None` where they are missing.
    start: Option<usize>,
    bits: usize,
}

impl Summed {
    /// With two decoders of one channel each.
    pub(super) fn new(decoders: [Box<dyn AudioDecoder>; 2]) -> Summed {
        Summed {
            decoders,
            second_sounds: false,
            unused: Vec::new(),
            written: BitWriter::default(),
            remembered: VecDeque::new(),
        }
    }

    /// Whether a frame is of the kind that this can decode.
    pub(super) fn suits(frame: &[u8]) -> bool {
        // MPEG 1, layer III, a bit rate, a sample rate, two channels, no intensity stereo.
        matches!(*frame, [0xff, second, third, fourth, ..]
            if second & 0xfe == 0xfa
                && (0x10..0xf0).contains(&(third & 0xf0))
                && third & 0x0c != 0x0c
                && (fourth & 0xc0 == 0x40 && fourth & 0x10 == 0 || matches!(fourth & 0xc0, 0x00 | 0x80)))
    }

    /// Forgets what came before.
    pub(super) fn reset(&mut self) {
        self.decoders.iter_mut().for_each(|decoder| decoder.reset());
        self.second_sounds = false;
        self.unused.clear();
        self.remembered.clear();
    }

    /// The last frames before this one, for a decoder that takes over.
    pub(super) fn remembered(&self) -> impl Iterator<Item = &[u8]> {
        self.remembered.iter().map(Vec::as_slice)
    }

    /// Decodes a frame into `out`.
    pub(super) fn decode(&mut self, frame: &[u8], out: &mut Vec<f32>) -> Result<(), Refused> {
        if !Summed::suits(frame) {
            return Err(Refused::Unsuited);
        }
        out.clear();
        let [_, second, _, fourth, ..] = *frame else { return Err(Refused::Damaged) };
        let sum = fourth & 0xc0 == 0x40 && fourth & 0x20 != 0;
        let start = if second & 1 == 0 { 6 } else { 4 };
        let side = frame.get(start..start + 32).ok_or(Refused::Damaged)?;
        let bit = |at: usize, count: usize| bits(side, at, count);
        let mut granules = [[Granule::default(); 2]; 2];
        for (index, granule) in granules.iter_mut().flatten().enumerate() {
            let side = bit(20 + index * GRANULE, GRANULE);
            let (big_values, switching, kind) = (side >> 38 & 511, side >> 25 & 1, side >> 23 & 3);
            if big_values > 288 || switching == 1 && kind == 0 {
                return Err(Refused::Damaged);
            }
            *granule = Granule { side, start: None, bits: (side >> 47) as usize };
        }
        // Sum and difference must have the same windows, for the sum alone to be the same.
        let window = |g: &Granule| if g.side >> 25 & 1 == 1 { g.side >> 22 & 7 } else { 0 };
        if sum && granules.iter().any(|[a, b]| b.bits > 0 && window(a) != window(b)) {
            return Err(Refused::Unsuited);
        }
        let used = self.find(bit(0, 9) as usize, &frame[start + 32..], &mut granules)?;

        let gain = if sum { ROOT_OF_HALF } else { HALF };
        let first = [granules[0][0], granules[1][0]];
        self.decode_channel(0, frame, bit(12, 4), &first, gain)?;
        add(self.decoders[0].last_decoded(), out).ok_or(Refused::Damaged)?;
        let mut second = [granules[0][1], granules[1][1]];
        if sum {
            second = Default::default();
        }
        let sounds = second.iter().any(|granule| granule.bits > 0);
        if sounds || self.second_sounds {
            self.decode_channel(1, frame, bit(16, 4), &second, gain)?;
            add(self.decoders[1].last_decoded(), out).ok_or(Refused::Damaged)?;
        }
        // A frame without sound is enough for the last one's to end.
        self.second_sounds = sounds;
        self.unused.drain(..used.min(self.unused.len()));
        self.remember(frame);
        Ok(())
    }

    /// Takes in a frame's bytes of spectrum and finds where each granule's bits begin. Returns the bytes used. Where
    /// bytes that the frame borrows are missing, so are the granules that they belong to.
    fn find(
        &mut self,
        borrowed: usize,
        data: &[u8],
        granules: &mut [[Granule; 2]; 2],
    ) -> Result<usize, Refused> {
        let missing = borrowed.saturating_sub(self.unused.len()) * 8;
        let spare = self.unused.len().saturating_sub(borrowed);
        self.unused.drain(..spare);
        self.unused.extend_from_slice(data);
        if self.unused.len() > MOST_BYTES {
            return Err(Refused::Damaged);
        }
        let (mut skipped, mut at) = (0, 0);
        for both in granules {
            if skipped < missing {
                skipped += both.iter().map(|granule| granule.bits).sum::<usize>();
                at = skipped.saturating_sub(missing);
                *both = both.map(|granule| Granule { start: None, bits: 0, ..granule });
                continue;
            }
            for granule in both {
                granule.start = Some(at);
                at += granule.bits;
                if at > self.unused.len() * 8 {
                    return Err(Refused::Damaged);
                }
            }
        }
        Ok(at.div_ceil(8))
    }

    /// Writes a frame of one channel and lets its decoder decode it.
    fn decode_channel(
        &mut self,
        decoder: usize,
        frame: &[u8],
        shared: u64,
        granules: &[Granule; 2],
        gain: u64,
    ) -> Result<(), Refused> {
        let rate_index = frame[2] >> 2 & 3;
        let rate =
            [44_100, 48_000, 32_000].get(usize::from(rate_index)).ok_or(Refused::Unsuited)?;
        let needed = 21 + granules.iter().map(|granule| granule.bits).sum::<usize>().div_ceil(8);
        let sizes = KBITS.map(|kbits| 144_000 * kbits / rate);
        let fits = |padding: usize| sizes.iter().position(|size| size + padding >= needed);
        let (index, padding) = match fits(0) {
            Some(index) => (index, 0),
            None => (fits(1).ok_or(Refused::Unsuited)?, 1),
        };
        let size = sizes[index] + padding;
        let to = &mut self.written;
        to.clear();
        to.put(0xfffb, 16);
        to.put((index << 4 | usize::from(rate_index) << 2 | padding << 1) as u64, 8);
        to.put(0xc0, 8);
        // Nothing borrowed, no private bits, scale factors shared as before.
        to.put(0, 14);
        to.put(shared, 4);
        for granule in granules {
            let step = (granule.side >> 30 & 255).saturating_sub(gain);
            let side = granule.side & !(255 << 30) | step << 30;
            // What is missing has neither bits nor values.
            let side = if granule.start.is_some() { side } else { 0 };
            to.put(side >> 32, GRANULE - 32);
            to.put(side & 0xffff_ffff, 32);
        }
        for granule in granules {
            if let Some(start) = granule.start {
                to.copy(&self.unused, start, granule.bits);
            }
        }
        let bytes = to.finish(size);
        let packet = PacketRef::new(0, Timestamp::default(), Duration::default(), bytes);
        match self.decoders[decoder].decode_ref(&packet) {
            Ok(_) => Ok(()),
            Err(Failure::Unsupported(_)) => Err(Refused::Unsuited),
            Err(_) => Err(Refused::Damaged),
        }
    }

    fn remember(&mut self, frame: &[u8]) {
        let mut kept = match self.remembered.len() {
            REMEMBERED.. => self.remembered.pop_front().unwrap_or_default(),
            _ => Vec::new(),
        };
        kept.clear();
        kept.extend_from_slice(frame);
        self.remembered.push_back(kept);
    }
}

/// Adds a decoder's samples to `out`, which may be empty; `None` where they are not samples of one channel.
fn add(buffer: GenericAudioBufferRef<'_>, out: &mut Vec<f32>) -> Option<()> {
    let GenericAudioBufferRef::F32(buffer) = buffer else { return None };
    let samples = buffer.plane(0)?;
    if out.is_empty() {
        out.extend_from_slice(samples);
    } else {
        out.iter_mut().zip(samples).for_each(|(sum, sample)| *sum += sample);
    }
    Some(())
}

/// Up to 32 bits from bit `at` on; beyond the end lie zeros.
fn few_bits(bytes: &[u8], at: usize, count: usize) -> u64 {
    match bytes.get(at / 8..).and_then(|from| from.first_chunk()) {
        Some(eight) if count > 0 => u64::from_be_bytes(*eight) << (at % 8) >> (64 - count),
        _ => bits(bytes, at, count),
    }
}

/// Up to 64 bits from bit `at` on; beyond the end lie zeros.
fn bits(bytes: &[u8], at: usize, count: usize) -> u64 {
    let mut nine = [0u8; 16];
    let from = bytes.get(at / 8..).unwrap_or_default();
    let whole = from.len().min(9);
    nine[..whole].copy_from_slice(&from[..whole]);
    let window = u128::from_be_bytes(nine) << (at % 8);
    if count == 0 { 0 } else { (window >> (128 - count)) as u64 }
}

/// Writes bits, the highest first.
#[derive(Default)]
struct BitWriter {
    bytes: Vec<u8>,
    waiting: u64,
    count: usize,
}

impl BitWriter {
    fn clear(&mut self) {
        self.bytes.clear();
        (self.waiting, self.count) = (0, 0);
    }

    /// Up to 32 bits.
    fn put(&mut self, value: u64, count: usize) {
        self.waiting = self.waiting << count | value;
        self.count += count;
        if self.count >= 32 {
            self.count -= 32;
            let word = (self.waiting >> self.count) as u32;
            self.bytes.extend_from_slice(&word.to_be_bytes());
            self.waiting &= (1 << self.count) - 1;
        }
    }

    fn copy(&mut self, from: &[u8], start: usize, count: usize) {
        for done in (0..count).step_by(32) {
            let part = (count - done).min(32);
            self.put(few_bits(from, start + done, part), part);
        }
    }

    /// All of it in `size` bytes, zeros at the end.
    fn finish(&mut self, size: usize) -> &[u8] {
        if self.count > 0 {
            self.put(0, 32 - self.count);
        }
        self.bytes.resize(size, 0);
        &self.bytes
    }
}

#[cfg(test)]
mod tests {
    use std::path::{Path, PathBuf};

    use super::super::{Mix, Piece, Source};
    use super::*;

    #[test]
    fn bits_are_copied_from_anywhere_to_anywhere() {
        let from: Vec<u8> = (0..40u8).map(|n| n.wrapping_mul(73)).collect();
        for (start, count, before) in
            [(0, 64, 0), (3, 77, 5), (17, 300, 31), (319, 1, 7), (5, 0, 3)]
        {
            let mut writer = BitWriter::default();
            writer.put(0, before);
            writer.copy(&from, start, count);
            let written = writer.finish(60).to_vec();
            for bit in 0..count {
                let (got, wanted) = (bits(&written, before + bit, 1), bits(&from, start + bit, 1));
                assert_eq!(got, wanted, "{bit}");
            }
            assert_eq!(bits(&written, before + count, 64), 0);
        }
    }

    /// All samples, and how many packets were decoded and failed.
    fn decoded(path: &Path, mix: Mix) -> (Vec<f32>, (u64, u64)) {
        let mut source = Source::open(path, mix).unwrap();
        let mut samples = Vec::new();
        while let Some(piece) = source.next().unwrap() {
            if let Piece::Sound { samples: these, .. } = piece {
                samples.extend_from_slice(these);
            }
        }
        (samples, source.counts())
    }

    /// Whether the sum is the mean of what the whole decoder makes of both channels.
    fn assert_is_the_mean(path: &Path) {
        let (both, counts) = decoded(path, Mix::AsRecorded);
        let (one, counts_of_one) = decoded(path, Mix::Mono);
        assert_eq!(counts, counts_of_one, "{path:?}");
        assert_eq!(both.len(), 2 * one.len());
        for (n, (one, [left, right])) in one.iter().zip(both.as_chunks::<2>().0).enumerate() {
            assert!((one - 0.5 * (left + right)).abs() < 2e-6, "{path:?}, sample {n}");
        }
        assert!(one.iter().any(|sample| sample.abs() > 0.05));
    }

    fn bundled(name: &str) -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
    }

    #[test]
    fn the_sum_is_the_mean_of_both_channels() {
        assert_is_the_mean(&bundled("demo-audio/lantern-road.mp3"));
        for name in ["long-cbr.mp3", "long-vbr.mp3", "cbr-lame.mp3", "vbr-lame.mp3"] {
            assert_is_the_mean(&bundled("fixtures/audio").join(name));
        }
    }

    #[test]
    fn frames_of_another_kind_are_left_to_the_whole_decoder_without_a_seam() {
        let mut bytes = std::fs::read(bundled("demo-audio/lantern-road.mp3")).unwrap();
        // Intensity stereo from the middle on, in all frames of joint stereo.
        let middle = bytes.len() / 2;
        let starts: Vec<usize> = (middle..bytes.len() - 4)
            .filter(|&at| {
                bytes[at] == 0xff && bytes[at + 1] == 0xfb && bytes[at + 3] & 0xc0 == 0x40
            })
            .collect();
        assert!(starts.len() > 100);
        starts.iter().for_each(|at| bytes[at + 3] |= 0x10);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("changed.mp3");
        std::fs::write(&path, bytes).unwrap();
        assert_is_the_mean(&path);
    }

    #[test]
    fn frames_of_one_channel_of_other_layers_and_with_intensity_stereo_are_left_alone() {
        assert!(Summed::suits(&[0xff, 0xfb, 0x90, 0x64]));
        assert!(Summed::suits(&[0xff, 0xfa, 0x90, 0x00]));
        for other in [
            [0xff, 0xfb, 0x90, 0xc4],
            [0xff, 0xf3, 0x90, 0x64],
            [0xff, 0xfd, 0x90, 0x64],
            [0xff, 0xfb, 0x90, 0x54],
            [0xff, 0xfb, 0x0, 0x64],
        ] {
            assert!(!Summed::suits(&other), "{other:x?}");
        }
    }
}
