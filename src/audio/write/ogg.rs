//! Ogg Vorbis.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::num::{NonZeroU8, NonZeroU32};

use vorbis_rs::{
    VorbisBitrateManagementStrategy, VorbisEncoder, VorbisEncoderBuilder, VorbisError,
};

use super::{Failure, Tags};

/// Vorbis quality 6: about 190 kilobits a second for two channels.
const QUALITY: f32 = 0.6;
/// The stream's number; always the same, so that the same sound gives the same bytes.
const SERIAL: i32 = 1;

pub struct Ogg {
    encoder: VorbisEncoder<BufWriter<File>>,
    planes: Vec<Vec<f32>>,
}

impl Ogg {
    pub fn new(
        file: BufWriter<File>,
        channels: u16,
        rate_hz: u32,
        tags: &Tags,
    ) -> Result<Ogg, String> {
        let rate = NonZeroU32::new(rate_hz).ok_or("a sample rate of 0 Hz")?;
        let count = u8::try_from(channels).ok().and_then(NonZeroU8::new).ok_or("no channels")?;
        let mut builder = VorbisEncoderBuilder::new_with_serial(rate, count, file, SERIAL);
        builder.bitrate_management_strategy(VorbisBitrateManagementStrategy::QualityVbr {
            target_quality: QUALITY,
        });
        for (field, value) in [("TITLE", &tags.title), ("ARTIST", &tags.artist)] {
            if let Some(value) = value {
                builder.comment_tag(field, value.as_str()).map_err(|e| e.to_string())?;
            }
        }
        let encoder = builder.build().map_err(|e| e.to_string())?;
        Ok(Ogg { encoder, planes: vec![Vec::new(); usize::from(channels)] })
    }

    pub fn push(&mut self, samples: &[f32]) -> Result<(), Failure> {
        let channels = self.planes.len();
        for (channel, plane) in self.planes.iter_mut().enumerate() {
            plane.clear();
            let own = samples.iter().skip(channel).step_by(channels);
            plane.extend(own.map(|x| if x.is_finite() { x.clamp(-1.0, 1.0) } else { 0.0 }));
        }
        match samples.len() >= channels {
            true => self.encoder.encode_audio_block(&self.planes).map_err(failure),
            false => Ok(()),
        }
    }

    pub fn finish(self) -> Result<(), Failure> {
        let mut file = self.encoder.finish().map_err(failure)?;
        Ok(file.flush()?)
    }
}

fn failure(error: VorbisError) -> Failure {
    match error {
        VorbisError::Io(error) => Failure::Io(error),
        other => Failure::Other(other.to_string()),
    }
}
