//! The whole way from a file to blocks at the working rate.

use std::path::Path;
use std::sync::mpsc::sync_channel;

use super::fingerprint::Listener;
use super::resample::Resampler;
use super::source::{Mix, Piece, Source};
use super::timeline::Timeline;
use super::{Recording, WORKING_RATE_HZ};
use crate::error::{Error, Result};
use crate::warning::Warning;

/// Less missing at the end than this, in seconds, is not worth a word: less than a frame of any codec.
const WORTH_A_WORD_S: f64 = 0.02;
/// Blocks that may wait between decoding and whoever listens beside it.
const BLOCKS_WAITING: usize = 8;

/// A recording that has been decoded to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    /// What is known of it.
    pub recording: Recording,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

/// Decodes a file to mono at [`WORKING_RATE_HZ`], handing each block to `on_block` as it comes; blocks
/// vary in length, and sample `n` of all blocks together stands at `n / WORKING_RATE_HZ` seconds of the
/// true sound. `progress` is told the share done, 0 to 1. Memory does not grow with the length.
///
/// Lost or damaged packets become silence of the same length, with a warning.
///
/// # Errors
/// [`Error::Io`], [`Error::IsAFolder`]; [`Error::NotAudio`] with what it is instead;
/// [`Error::UnsupportedCodec`]; [`Error::TooDamaged`] when more packets fail than decode.
pub fn decode(
    path: &Path,
    on_block: &mut dyn FnMut(&[f32]),
    progress: &mut dyn FnMut(f64),
) -> Result<Decoded> {
    let mut source = Source::open(path, Mix::Mono)?;
    let rate_hz = source.rate_hz();
    let mut resampler = Resampler::new(rate_hz).ok_or_else(|| Error::NotAudio {
        path: path.to_path_buf(),
        found: format!("a sample rate of {rate_hz} Hz"),
    })?;
    let mut listener = Listener::new();
    let mut sink = |block: &[f32]| {
        listener.push(block);
        on_block(block);
    };
    let mut resample = |frames: &[f32]| resampler.push(frames, &mut sink);
    let (decoded_s, warnings) = lay_all(path, &mut source, &mut resample, progress)?;
    resampler.finish(&mut sink);
    progress(1.0);
    let (title, artist) = source.title_and_artist();
    let recording = Recording {
        file: path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned(),
        duration_s: decoded_s,
        sample_rate_hz: source.file_rate_hz(),
        channels: source.channels(),
        title,
        artist,
        fingerprint: listener.finish(),
    };
    Ok(Decoded { recording, warnings })
}

/// Decodes all of a source on one time line, frame 0 the first true sample. Returns its length in seconds
/// and what the user should know.
pub(super) fn lay_all(
    path: &Path,
    source: &mut Source,
    sink: &mut dyn FnMut(&[f32]),
    progress: &mut dyn FnMut(f64),
) -> Result<(f64, Vec<Warning>)> {
    let rate_hz = source.rate_hz();
    let seconds = |frames: u64| frames as f64 / f64::from(rate_hz.max(1));
    let limit = source.promised().filter(|_| source.is_padded());
    let mut timeline = Timeline::new(rate_hz, source.width(), limit, source.rounding());
    let mut told = 0.0;
    let (mut bad_samples, mut first_bad_at) = (0, None);
    while let Some(piece) = source.next()? {
        match piece {
            Piece::Sound { at, samples, bad } => {
                if bad > 0 {
                    bad_samples += bad;
                    first_bad_at.get_or_insert(at.max(0).unsigned_abs());
                }
                timeline.lay(at, samples, sink);
            }
            Piece::Lost { at, frames } => timeline.lay_loss(at, frames, sink),
            Piece::LostUnplaced => timeline.lose_unplaced(),
        }
        let share = source.progress();
        if share >= told + 0.005 {
            told = share;
            progress(share);
        }
    }

    let (good, failed) = source.counts();
    if failed > good {
        return Err(Error::TooDamaged {
            path: path.to_path_buf(),
            lost: failed,
            packets: good + failed,
        });
    }
    if timeline.len() == 0 {
        return Err(Error::NotAudio {
            path: path.to_path_buf(),
            found: "it holds no sound".into(),
        });
    }

    let mut warnings = Vec::new();
    let losses = timeline.losses();
    if losses.packets > 0 {
        warnings.push(Warning::LostAudio {
            packets: losses.packets,
            lost_s: seconds(losses.frames),
            first_at_s: seconds(losses.first_at.unwrap_or(0)),
        });
    }
    if source.missing_frames() > 0 {
        warnings.push(Warning::MissingSomewhere { missing_s: seconds(source.missing_frames()) });
    }
    if bad_samples > 0 {
        warnings.push(Warning::BadSamples {
            samples: bad_samples,
            first_at_s: seconds(first_bad_at.unwrap_or(0)),
        });
    }
    let decoded_s = seconds(timeline.len());
    if let Some(promised_s) = source.promised().map(seconds)
        && promised_s > decoded_s + WORTH_A_WORD_S
    {
        warnings.push(Warning::EndsEarly { decoded_s, promised_s });
    } else if source.is_cut_off() && source.promised().is_none_or(|p| p <= timeline.len()) {
        warnings.push(Warning::CutOff { decoded_s });
    }
    if let Some((format, usual_s)) = source.unknown_delay() {
        warnings.push(Warning::UnknownDelay { format: format.into(), usual_s });
    }
    Ok((decoded_s, warnings))
}

/// Decodes in a thread of its own while `consumer` works on the blocks in this one, in order. Returns
/// what `consumer` made of them. The consumer should read all blocks; those it leaves are dropped.
///
/// # Errors
/// Those of [`decode`]; the consumer has then seen the blocks before the error, and its result is lost.
pub fn decode_beside<T>(
    path: &Path,
    consumer: impl FnOnce(&mut dyn Iterator<Item = Vec<f32>>) -> T,
    progress: &mut (dyn FnMut(f64) + Send),
) -> Result<(Decoded, T)> {
    std::thread::scope(|scope| {
        let (sender, receiver) = sync_channel::<Vec<f32>>(BLOCKS_WAITING);
        // Long enough that waking the listener costs nothing beside what there is to do.
        let whole = WORKING_RATE_HZ as usize;
        let decoding = scope.spawn(move || {
            let mut block = Vec::with_capacity(whole + whole / 4);
            let mut heard = true;
            let decoded = decode(
                path,
                &mut |samples| {
                    block.extend_from_slice(samples);
                    if block.len() >= whole && heard {
                        let next = Vec::with_capacity(whole + whole / 4);
                        heard = sender.send(std::mem::replace(&mut block, next)).is_ok();
                    }
                    if !heard {
                        block.clear();
                    }
                },
                progress,
            )?;
            if heard && !block.is_empty() {
                // Nobody listening any more is no error: the consumer had enough.
                let _ = sender.send(block);
            }
            Ok(decoded)
        });
        let made = consumer(&mut receiver.iter());
        drop(receiver);
        match decoding.join() {
            Ok(decoded) => Ok((decoded?, made)),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}
