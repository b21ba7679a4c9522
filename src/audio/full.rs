//! A recording at its own rate, one or two channels, to be read at any place.

use std::fs::File;
use std::io::{BufWriter, Read, Seek, SeekFrom, Write};
use std::path::Path;

use super::decode::lay_all;
use super::source::{Mix, Source};
use crate::error::{Error, Result};
use crate::warning::Warning;

/// A decoded recording, kept in a temporary file that goes when this is dropped; memory does not grow with
/// its length. Frame `n` stands at `n / rate_hz` seconds, as everywhere.
#[derive(Debug)]
pub struct Full {
    file: File,
    rate_hz: u32,
    channels: usize,
    frames: u64,
    /// What the user should know.
    pub warnings: Vec<Warning>,
    bytes: Vec<u8>,
}

impl Full {
    /// Decodes a file. More than two channels are averaged into one.
    ///
    /// # Errors
    /// Those of [`decode`](super::decode), and [`Error::Io`] when there is no room for the temporary file.
    pub fn decode(path: &Path, progress: &mut dyn FnMut(f64)) -> Result<Full> {
        let mut source = Source::open(path, Mix::AsRecorded)?;
        let kept = |source| Error::Io {
            path: std::env::temp_dir().join("(temporary copy of the recording)"),
            source,
        };
        let file = tempfile::tempfile().map_err(kept)?;
        let mut out = BufWriter::new(file);
        let mut samples: u64 = 0;
        let mut failure = None;
        let mut sink = |block: &[f32]| {
            samples += block.len() as u64;
            if failure.is_none() {
                let written = block.iter().try_for_each(|x| out.write_all(&x.to_le_bytes()));
                failure = written.err();
            }
        };
        let (_, warnings) = lay_all(path, &mut source, &mut sink, progress)?;
        if let Some(failure) = failure {
            return Err(kept(failure));
        }
        let file = out.into_inner().map_err(|e| kept(e.into_error()))?;
        let (rate_hz, channels) = (source.rate_hz(), source.width());
        let frames = samples / channels as u64;
        progress(1.0);
        Ok(Full { file, rate_hz, channels, frames, warnings, bytes: Vec::new() })
    }

    /// Frames a second.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Channels: 1 or 2.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Length in frames.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// Reads interleaved frames from frame `from` on; silence outside the recording.
    ///
    /// # Errors
    /// [`Error::Io`].
    pub fn read(&mut self, from: i64, out: &mut [f32]) -> Result<()> {
        out.fill(0.0);
        let wanted = (out.len() / self.channels) as i64;
        let end = from.saturating_add(wanted).min(self.frames as i64);
        let start = from.max(0);
        if start >= end {
            return Ok(());
        }
        let width = self.channels as i64;
        self.bytes.resize(4 * ((end - start) * width) as usize, 0);
        let read = self
            .file
            .seek(SeekFrom::Start(4 * (start * width).unsigned_abs()))
            .and_then(|_| self.file.read_exact(&mut self.bytes));
        read.map_err(|source| Error::Io {
            path: "temporary copy of the recording".into(),
            source,
        })?;
        let skipped = ((start - from) * width) as usize;
        for (out, bytes) in out[skipped..].iter_mut().zip(self.bytes.as_chunks::<4>().0) {
            *out = f32::from_le_bytes(*bytes);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::write::{Tags, Writer};
    use crate::save::Overwrite;

    #[test]
    fn both_channels_come_back_at_any_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("two.flac");
        let mut writer = Writer::create(&path, 2, 32_000, &Tags::default(), Overwrite::No).unwrap();
        let value = |n: i64, channel: i64| ((n * 7 + channel * 100) % 1000) as f32 / 32_767.0;
        let samples: Vec<f32> = (0..20_000).flat_map(|n| [value(n, 0), value(n, 1)]).collect();
        writer.push(&samples).unwrap();
        writer.finish(&[]).unwrap();
        let mut full = Full::decode(&path, &mut |_| {}).unwrap();
        assert_eq!((full.rate_hz(), full.channels(), full.frames()), (32_000, 2, 20_000));
        for from in [-5, 0, 777, 19_998, 30_000, i64::MAX - 2, i64::MIN] {
            let mut out = [9.0; 8];
            full.read(from, &mut out).unwrap();
            for (k, x) in out.iter().enumerate() {
                let n = from.saturating_add(k as i64 / 2);
                let true_value =
                    if (0..20_000).contains(&n) { value(n, k as i64 % 2) } else { 0.0 };
                assert!((x - true_value).abs() < 1e-4, "{from} {k}: {x} {true_value}");
            }
        }
    }
}
