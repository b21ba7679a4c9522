//! WAV, with markers.

use std::fs::File;
use std::io::{BufWriter, Seek, SeekFrom, Write};

use super::{Failure, Marker, to_16_bits};

/// Most bytes of sound: a WAV file counts to 4 GiB, and markers stand behind.
const MOST_BYTES: u64 = u32::MAX as u64 - (1 << 20);

pub struct Wav {
    writer: hound::WavWriter<BufWriter<File>>,
    /// Another handle, for what stands behind the sound.
    file: File,
    rate_hz: u32,
    bytes: u64,
}

impl Wav {
    pub fn new(file: BufWriter<File>, channels: u16, rate_hz: u32) -> Result<Wav, String> {
        let spec = hound::WavSpec {
            channels,
            sample_rate: rate_hz,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let behind = file.get_ref().try_clone().map_err(|e| e.to_string())?;
        let writer = hound::WavWriter::new(file, spec).map_err(|e| e.to_string())?;
        Ok(Wav { writer, file: behind, rate_hz, bytes: 0 })
    }

    pub fn push(&mut self, samples: &[f32]) -> Result<(), Failure> {
        self.bytes += 2 * samples.len() as u64;
        if self.bytes > MOST_BYTES {
            return Err(Failure::Other(
                "a WAV file holds no more than 4 GiB; write .flac or .ogg instead".into(),
            ));
        }
        samples.iter().try_for_each(|x| self.writer.write_sample(to_16_bits(*x))).map_err(failure)
    }

    pub fn finish(self, markers: &[Marker]) -> Result<(), Failure> {
        let Wav { writer, mut file, rate_hz, .. } = self;
        writer.finalize().map_err(failure)?;
        if markers.is_empty() {
            return Ok(());
        }
        let end = file.seek(SeekFrom::End(0))?;
        let chunks = chunks(markers, rate_hz);
        file.write_all(&chunks)?;
        file.seek(SeekFrom::Start(4))?;
        let size = u32::try_from(end + chunks.len() as u64 - 8);
        file.write_all(&size.map_err(|_| Failure::Other("it is too long".into()))?.to_le_bytes())?;
        Ok(())
    }
}

/// `cue ` and `LIST adtl` after *Multimedia Programming Interface and Data Specifications 1.0* (IBM and
/// Microsoft, 1991).
fn chunks(markers: &[Marker], rate_hz: u32) -> Vec<u8> {
    let mut points = (markers.len() as u32).to_le_bytes().to_vec();
    let mut labels = b"adtl".to_vec();
    for (id, marker) in (1u32..).zip(markers) {
        let frame = (marker.at_s.max(0.0) * f64::from(rate_hz)).round() as u32;
        points.extend(id.to_le_bytes());
        points.extend(frame.to_le_bytes());
        points.extend(b"data");
        points.extend([0; 8]); // chunk and block, used by compressed forms only
        points.extend(frame.to_le_bytes());
        let mut label = id.to_le_bytes().to_vec();
        label.extend(marker.name.bytes().filter(|byte| *byte != 0));
        label.push(0);
        push_chunk(&mut labels, b"labl", &label);
    }
    let mut out = Vec::new();
    push_chunk(&mut out, b"cue ", &points);
    push_chunk(&mut out, b"LIST", &labels);
    out
}

fn push_chunk(out: &mut Vec<u8>, name: &[u8; 4], body: &[u8]) {
    out.extend(name);
    out.extend((body.len() as u32).to_le_bytes());
    out.extend(body);
    if !body.len().is_multiple_of(2) {
        out.push(0);
    }
}

fn failure(error: hound::Error) -> Failure {
    match error {
        hound::Error::IoError(error) => Failure::Io(error),
        other => Failure::Other(other.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use crate::audio::write::{Tags, Writer};
    use crate::save::Overwrite;

    #[test]
    fn what_is_written_is_read_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("count.wav");
        let samples = [0.0, 0.5, -0.5, 1.0, -2.0, f32::NAN];
        let mut writer = Writer::create(&path, 2, 44_100, &Tags::default(), Overwrite::No).unwrap();
        writer.push(&samples).unwrap();
        writer.finish(&[]).unwrap();
        let mut reader = hound::WavReader::open(&path).unwrap();
        assert_eq!((reader.spec().channels, reader.spec().sample_rate), (2, 44_100));
        let back: Vec<i16> = reader.samples().map(|s| s.unwrap()).collect();
        assert_eq!(back, [0, 16_384, -16_384, 32_767, -32_768, 0]);
    }
}
