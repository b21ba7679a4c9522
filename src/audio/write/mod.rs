//! Writing sound, as it comes: WAV with markers, FLAC, Ogg Vorbis. The file appears when it is whole.

mod flac;
mod ogg;
mod wav;

use std::path::Path;

use crate::error::{Error, Result};
use crate::save::{Draft, Overwrite};

/// A named place in a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Marker {
    /// When, in seconds.
    pub at_s: f64,
    /// What it is called.
    pub name: String,
}

/// What is written about a recording beside its sound.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tags {
    /// Title.
    pub title: Option<String>,
    /// Artist.
    pub artist: Option<String>,
}

/// A recording being written, at 16 bits (Ogg: lossy, at a quality that keeps practice and performance clean).
pub struct Writer {
    draft: Draft,
    channels: usize,
    frames: u64,
    format: Format,
}

enum Format {
    Wav(wav::Wav),
    Flac(Box<flac::Flac>),
    Ogg(Box<ogg::Ogg>),
}

impl Writer {
    /// Starts a recording; its ending (`.wav`, `.flac`, `.ogg`) says which format.
    ///
    /// # Errors
    /// [`Error::Usage`] for another ending, or a rate or number of channels that the format does not have;
    /// those of [`Draft::new`].
    pub fn create(
        path: &Path,
        channels: u16,
        rate_hz: u32,
        tags: &Tags,
        overwrite: Overwrite,
    ) -> Result<Writer> {
        let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        if !matches!(ending.as_str(), "wav" | "flac" | "ogg") {
            return Err(Error::Usage(format!(
                "{}: sound is written as .wav, .flac or .ogg; end the name in one of these",
                path.display()
            )));
        }
        if !(1..=2).contains(&channels) {
            return Err(Error::Usage(format!("{}: {channels} channels", path.display())));
        }
        let draft = Draft::new(path, overwrite)?;
        let file = std::io::BufWriter::new(draft.handle()?);
        let cannot = |why: String| cannot(path, why);
        let format = match ending.as_str() {
            "wav" => Format::Wav(wav::Wav::new(file, channels, rate_hz).map_err(cannot)?),
            "flac" => {
                let flac = flac::Flac::new(file, channels, rate_hz, tags).map_err(cannot)?;
                Format::Flac(Box::new(flac))
            }
            _ => {
                let ogg = ogg::Ogg::new(file, channels, rate_hz, tags).map_err(cannot)?;
                Format::Ogg(Box::new(ogg))
            }
        };
        Ok(Writer { draft, channels: usize::from(channels), frames: 0, format })
    }

    /// Channels.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Writes interleaved samples; full scale is ±1, beyond is clipped, no number is silence.
    ///
    /// # Errors
    /// [`Error::Io`] when the disk is full, [`Error::Usage`] when the format can hold no more.
    pub fn push(&mut self, samples: &[f32]) -> Result<()> {
        self.frames += (samples.len() / self.channels) as u64;
        let pushed = match &mut self.format {
            Format::Wav(wav) => wav.push(samples),
            Format::Flac(flac) => flac.push(samples),
            Format::Ogg(ogg) => ogg.push(samples),
        };
        pushed.map_err(|failure| failure.at(self.draft.path()))
    }

    /// Finishes the file and puts it in its place. Markers are written into WAV, which alone has a place for
    /// them that readers agree on.
    ///
    /// # Errors
    /// Those of [`Writer::push`] and [`Draft::keep`].
    pub fn finish(self, markers: &[Marker]) -> Result<()> {
        let Writer { draft, format, .. } = self;
        let finished = match format {
            Format::Wav(wav) => wav.finish(markers),
            Format::Flac(flac) => flac.finish(),
            Format::Ogg(ogg) => ogg.finish(),
        };
        finished.map_err(|failure| failure.at(draft.path()))?;
        draft.keep()
    }
}

/// Why sound could not be written.
#[derive(Debug)]
enum Failure {
    Io(std::io::Error),
    Other(String),
}

impl Failure {
    fn at(self, path: &Path) -> Error {
        match self {
            Failure::Io(source) => Error::Io { path: path.to_path_buf(), source },
            Failure::Other(why) => cannot(path, why),
        }
    }
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Failure {
        Failure::Io(error)
    }
}

fn cannot(path: &Path, why: String) -> Error {
    Error::Usage(format!("{}: the sound cannot be written: {why}", path.display()))
}

/// A sample at 16 bits. Not a number becomes 0 in this cast; beyond full scale is clipped.
fn to_16_bits(sample: f32) -> i16 {
    (f64::from(sample) * 32_767.0).round().clamp(-32_768.0, 32_767.0) as i16
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::decode;

    /// A second of quiet with a click in its middle, in uneven blocks.
    fn clicked(path: &Path, markers: &[Marker]) {
        let tags = Tags { title: Some("Lamp Oil".into()), artist: Some("The Wicks".into()) };
        let mut writer = Writer::create(path, 2, 44_100, &tags, Overwrite::No).unwrap();
        let mut samples = vec![0f32; 2 * 44_100];
        for k in 0..200 {
            let x = 0.8 * (-(k as f32) / 40.0).exp() * if k % 8 < 4 { 1.0 } else { -1.0 };
            samples[2 * (22_050 + k)] = x;
            samples[2 * (22_050 + k) + 1] = -0.5 * x;
        }
        for block in samples.chunks(2 * 1234) {
            writer.push(block).unwrap();
        }
        writer.finish(markers).unwrap();
    }

    #[test]
    fn every_format_is_read_back_in_time_and_in_length() {
        let folder = tempfile::tempdir().unwrap();
        for ending in ["wav", "flac", "ogg"] {
            let path = folder.path().join(format!("click.{ending}"));
            clicked(&path, &[]);
            let mut mono = Vec::new();
            let decoded =
                decode(&path, &mut |block| mono.extend_from_slice(block), &mut |_| {}).unwrap();
            assert!((decoded.recording.duration_s - 1.0).abs() < 1e-9, "{ending}");
            assert_eq!(decoded.recording.channels, 2);
            if ending != "wav" {
                assert_eq!(decoded.recording.title.as_deref(), Some("Lamp Oil"), "{ending}");
                assert_eq!(decoded.recording.artist.as_deref(), Some("The Wicks"));
            }
            let peak = mono.iter().fold(0f32, |p, x| p.max(x.abs()));
            let click = mono.iter().position(|x| x.abs() > peak / 2.0).unwrap();
            assert!(click.abs_diff(11_025) <= 11, "{ending}: {click}"); // half a millisecond
        }
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3, "no leftovers");
    }

    #[test]
    fn markers_stand_behind_the_sound_of_a_wav() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("marked.wav");
        let marker = |at_s: f64, name: &str| Marker { at_s, name: name.into() };
        clicked(&path, &[marker(0.25, "verse é"), marker(0.5, "fill")]);
        let bytes = std::fs::read(&path).unwrap();
        let size = u32::from_le_bytes(bytes[4..8].try_into().unwrap());
        assert_eq!(size as usize + 8, bytes.len());
        // Chunks after Multimedia Programming Interface and Data Specifications 1.0 (IBM/Microsoft, 1991).
        let cue = bytes.windows(4).position(|w| w == b"cue ").unwrap();
        assert_eq!(bytes[cue + 8], 2);
        let place = |k: usize| {
            let at = cue + 12 + 24 * k + 20;
            u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
        };
        assert_eq!((place(0), place(1)), (11_025, 22_050));
        let mut reader = hound::WavReader::open(&path).unwrap();
        assert_eq!(reader.samples::<i16>().count(), 2 * 44_100);
    }

    #[test]
    fn other_endings_and_files_that_exist_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let tags = Tags::default();
        let create =
            |name: &str| Writer::create(&folder.path().join(name), 1, 8000, &tags, Overwrite::No);
        assert!(matches!(create("a.mp3"), Err(Error::Usage(_))));
        assert!(matches!(create("a"), Err(Error::Usage(_))));
        create("a.wav").unwrap().finish(&[]).unwrap();
        assert!(matches!(create("a.wav"), Err(Error::Exists(_))));
        drop(create("b.flac").unwrap());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
