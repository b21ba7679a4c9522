//! MP3 decoded straight to one channel, at half the file's rate where that is enough.

use crate::audio::halving;
use crate::audio::layer3::{self, Decoder, Refused};

/// Rates from which half is enough to listen to.
const HALVED_HZ: [u32; 2] = [44_100, 48_000];

/// Decodes frames to the mean of their channels.
pub(super) struct Mean {
    /// Made when the place of the first frame is known.
    decoder: Option<Decoder>,
    rate_hz: u32,
    /// Samples of the file for one of those handed out.
    step: u32,
    /// Which of them it is, so that those at even places of the true sound are handed out.
    phase: i64,
}

impl Mean {
    /// For an MP3 of a sample rate; `None` for those of MPEG 2.
    pub fn new(rate_hz: u32) -> Option<Mean> {
        let step = if HALVED_HZ.contains(&rate_hz) { 2 } else { 1 };
        let known = HALVED_HZ.contains(&rate_hz) || rate_hz == 32_000;
        known.then_some(Mean { decoder: None, rate_hz, step, phase: 0 })
    }

    /// Samples of the file for one of those handed out.
    pub fn step(&self) -> u32 {
        self.step
    }

    /// Place of the first sample handed out of a frame that begins at `at`.
    pub fn place(&self, at: i64) -> i64 {
        at.saturating_add(self.phase).div_euclid(i64::from(self.step))
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        if let Some(decoder) = &mut self.decoder {
            decoder.reset();
        }
    }

    /// Decodes a frame that begins at `at` into `out`. Returns how many channels it has.
    pub fn decode(&mut self, at: i64, frame: &[u8], out: &mut Vec<f32>) -> Result<u32, Refused> {
        let (rate_hz, channels) = layer3::kind(frame).ok_or(Refused::Unsuited)?;
        if rate_hz != self.rate_hz {
            return Err(Refused::Unsuited);
        }
        let decoder = self.decoder.get_or_insert_with(|| {
            self.phase = at.rem_euclid(i64::from(self.step));
            match (self.step, rate_hz) {
                (1, _) => Decoder::whole(),
                // As loud as what is halved by a filter; other rates are filtered after this.
                (_, 44_100) => Decoder::halved(self.phase as usize, halving::response),
                _ => Decoder::halved(self.phase as usize, |_| 1.0),
            }
        });
        decoder.decode(frame, out)?;
        Ok(channels)
    }
}

#[cfg(test)]
mod tests {
    use std::fs::File;
    use std::path::{Path, PathBuf};

    use symphonia::core::io::MediaSourceStream;

    use super::super::{Mix, Piece, Source, mix};
    use super::*;
    use crate::spectrum::PowerSpectrum;

    fn bundled() -> Vec<PathBuf> {
        let from = |name: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
        let fixtures = ["long-cbr", "long-vbr", "cbr-lame", "vbr-lame", "cbr-ffmpeg"];
        let fixtures = fixtures.map(|name| from(&format!("fixtures/audio/{name}.mp3")));
        [from("demo-audio/lantern-road.mp3")].into_iter().chain(fixtures).collect()
    }

    /// The frames of a file, and the mean of both channels by another decoder; damaged frames are silence.
    fn frames(path: &Path, change: impl Fn(&mut [u8])) -> Vec<(Vec<u8>, Vec<f32>)> {
        let mut bytes = std::fs::read(path).unwrap();
        change(&mut bytes);
        let folder = tempfile::tempdir().unwrap();
        let changed = folder.path().join("changed.mp3");
        std::fs::write(&changed, bytes).unwrap();
        let file = File::open(changed).unwrap();
        let stream = MediaSourceStream::new(Box::new(file), Default::default());
        let probe = symphonia::default::get_probe();
        let mut reader = probe
            .probe(&Default::default(), stream, Default::default(), Default::default())
            .unwrap();
        let params = reader.tracks()[0].codec_params.as_ref().unwrap().audio().unwrap().clone();
        let options = symphonia::core::codecs::audio::AudioDecoderOptions::default().gapless(false);
        let mut decoder =
            symphonia::default::get_codecs().make_audio_decoder(&params, &options).unwrap();
        let mut frames = Vec::new();
        while let Ok(Some(packet)) = reader.next_packet() {
            let mut wanted = Vec::new();
            mix::lay(decoder.decode(&packet).unwrap(), 1, &mut wanted);
            frames.push((packet.data.to_vec(), wanted));
        }
        frames
    }

    fn assert_is_the_mean(frames: &[(Vec<u8>, Vec<f32>)]) {
        let mut decoder = Decoder::whole();
        let (mut out, mut loudest) = (Vec::new(), 0f32);
        for (n, (frame, wanted)) in frames.iter().enumerate() {
            decoder.decode(frame, &mut out).unwrap();
            assert_eq!(out.len(), wanted.len());
            for (got, wanted) in out.iter().zip(wanted) {
                assert!((got - wanted).abs() < 2e-6, "frame {n}: {got} for {wanted}");
                loudest = loudest.max(got.abs());
            }
        }
        assert!(loudest > 0.05);
    }

    #[test]
    fn the_mean_is_that_of_both_channels() {
        for path in bundled() {
            assert_is_the_mean(&frames(&path, |_| {}));
        }
    }

    /// Sets bits in the last byte of headers of frames, all of joint stereo, from the middle on.
    fn set_in_headers(bytes: &mut [u8], keep: u8, set: u8) {
        for at in bytes.len() / 2..bytes.len() - 4 {
            let head = &mut bytes[at..at + 4];
            if head[0] == 0xff && head[1] == 0xfb && head[3] & 0xc0 == 0x40 {
                head[3] = head[3] & keep | set;
            }
        }
    }

    #[test]
    fn bands_for_both_channels_and_left_and_right_come_out_right_too() {
        let path = &bundled()[0];
        // With sum and difference as they were, without, and two channels apart.
        for (keep, set) in [(0xff, 0x10), (0xdf, 0x10), (0x0f, 0x00), (0x0f, 0x80)] {
            assert_is_the_mean(&frames(path, |bytes| set_in_headers(bytes, keep, set)));
        }
    }

    #[test]
    fn half_the_samples_are_those_of_a_filter() {
        let path = &bundled()[0];
        let frames = frames(path, |_| {});
        for phase in [0, 1] {
            let mut decoder = Decoder::halved(phase, halving::response);
            let mut halving = halving::Halving::new();
            let (mut out, mut got, mut wanted) = (Vec::new(), Vec::new(), Vec::new());
            for (n, (frame, whole)) in frames.iter().enumerate() {
                decoder.decode(frame, &mut out).unwrap();
                got.extend_from_slice(&out);
                let skipped = if n == 0 { phase } else { 0 };
                halving.push(&whole[skipped..], &mut |made| wanted.extend_from_slice(made));
            }
            let wanted = &wanted[halving::Halving::DELAY..];
            // Bins of 10.8 Hz: below 9.6 kHz both are the same, above it nearly.
            let mut spectrum = PowerSpectrum::new(2048, 1024);
            let (mut all, mut off, mut off_above) = (0.0, 0.0, 0.0);
            for (got, wanted) in got.chunks_exact(2048).zip(wanted.chunks_exact(2048)) {
                let differences: Vec<f32> = got.iter().zip(wanted).map(|(a, b)| a - b).collect();
                let [sound, difference] = spectrum.of(wanted, &differences);
                all += sound.iter().sum::<f32>();
                off += difference[..890].iter().sum::<f32>();
                off_above += difference[890..].iter().sum::<f32>();
            }
            assert!(off < 1e-7 * all, "{off} of {all}");
            assert!(off_above < 1e-4 * all, "{off_above} of {all}");
        }
    }

    #[test]
    fn halved_sound_stands_at_its_place() {
        for path in bundled() {
            let mut source = Source::open(&path, Mix::Mono).unwrap();
            let halved = source.file_rate_hz() == 44_100;
            let step = if halved { 2 } else { 1 };
            assert_eq!(source.rate_hz() * step as u32, source.file_rate_hz());
            let Some(Piece::Sound { at, samples, .. }) = source.next().unwrap() else { panic!() };
            assert_eq!(samples.len(), 1152 / step);
            // The encoder's delay is odd: 1105 samples.
            assert_eq!(at, if halved { -552 } else { -1105 }, "{path:?}");
        }
    }

    #[test]
    fn other_kinds_are_refused() {
        let mut mean = Mean::new(44_100).unwrap();
        for other in [
            [0xff, 0xf3, 0x90, 0x64],
            [0xff, 0xfd, 0x90, 0x64],
            [0xff, 0xfb, 0x0, 0x64],
            [0xff, 0xfb, 0x94, 0x64],
        ] {
            assert_eq!(mean.decode(0, &other, &mut Vec::new()), Err(Refused::Unsuited));
        }
        assert_eq!(mean.decode(0, &[0xff, 0xfb, 0x90, 0x64], &mut vec![]), Err(Refused::Damaged));
        assert!(Mean::new(24_000).is_none());
    }
}
