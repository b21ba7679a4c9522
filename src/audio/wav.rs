//! Writing sound as 16-bit WAV.

use std::io::Cursor;
use std::path::Path;

use crate::error::{Error, Result};
use crate::save::{Overwrite, save};

/// Writes interleaved samples (full scale is ±1; beyond is clipped) as 16-bit PCM, whole or not at all.
///
/// # Errors
/// [`Error::Usage`] when `channels` is 0, or the sound is longer than a WAV file can hold (4 GiB);
/// those of [`save`].
pub fn write_wav(
    path: &Path,
    samples: &[f32],
    channels: u16,
    rate_hz: u32,
    overwrite: Overwrite,
) -> Result<()> {
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate_hz,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let cannot =
        |why: &str| Error::Usage(format!("{}: cannot write this WAV: {why}", path.display()));
    if channels == 0 || !samples.len().is_multiple_of(usize::from(channels)) {
        return Err(cannot("the samples do not fill all channels"));
    }
    if samples.len() as u64 * 2 > u64::from(u32::MAX) - 64 {
        return Err(cannot("it is too long"));
    }
    let mut bytes = Cursor::new(Vec::with_capacity(samples.len() * 2 + 64));
    let write = |bytes: &mut Cursor<Vec<u8>>| -> hound::Result<()> {
        let mut writer = hound::WavWriter::new(bytes, spec)?;
        for sample in samples {
            let scaled = (f64::from(*sample) * 32_767.0).round();
            // Not a number becomes 0 in this cast; anything beyond full scale is clipped.
            writer.write_sample(scaled.clamp(-32_768.0, 32_767.0) as i16)?;
        }
        writer.finalize()
    };
    write(&mut bytes).map_err(|e| cannot(&e.to_string()))?;
    save(path, bytes.get_ref(), overwrite)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("count.wav");
        let samples = [0.0, 0.5, -0.5, 1.0, -2.0, f32::NAN];
        write_wav(&path, &samples, 2, 44_100, Overwrite::No).unwrap();
        let mut reader = hound::WavReader::open(&path).unwrap();
        assert_eq!((reader.spec().channels, reader.spec().sample_rate), (2, 44_100));
        let back: Vec<i16> = reader.samples().map(|s| s.unwrap()).collect();
        assert_eq!(back, [0, 16_384, -16_384, 32_767, -32_768, 0]);
        let again = write_wav(&path, &samples, 2, 44_100, Overwrite::No);
        assert!(matches!(again, Err(Error::Exists(_))), "{again:?}");
        assert!(matches!(write_wav(&path, &samples, 4, 8, Overwrite::Yes), Err(Error::Usage(_))));
    }
}
