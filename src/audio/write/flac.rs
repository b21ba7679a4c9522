//! FLAC.

use std::fs::File;
use std::io::BufWriter;

use flac_codec::encode::{FlacSampleWriter, Options};

use super::{Failure, Tags, to_16_bits};

pub struct Flac {
    writer: FlacSampleWriter<BufWriter<File>>,
    block: Vec<i32>,
}

impl Flac {
    pub fn new(
        file: BufWriter<File>,
        channels: u16,
        rate_hz: u32,
        tags: &Tags,
    ) -> Result<Flac, String> {
        let mut options = Options::default();
        for (field, value) in [("TITLE", &tags.title), ("ARTIST", &tags.artist)] {
            if let Some(value) = value {
                options = options.tag(field, value);
            }
        }
        let writer = FlacSampleWriter::new(file, options, rate_hz, 16, channels as u8, None);
        Ok(Flac { writer: writer.map_err(|e| e.to_string())?, block: Vec::new() })
    }

    pub fn push(&mut self, samples: &[f32]) -> Result<(), Failure> {
        self.block.clear();
        self.block.extend(samples.iter().map(|x| i32::from(to_16_bits(*x))));
        self.writer.write(&self.block).map_err(failure)
    }

    pub fn finish(self) -> Result<(), Failure> {
        self.writer.finalize().map_err(failure)
    }
}

fn failure(error: flac_codec::Error) -> Failure {
    match error {
        flac_codec::Error::Io(error) => Failure::Io(error),
        other => Failure::Other(other.to_string()),
    }
}
