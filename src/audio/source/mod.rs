//! Opening a recording and decoding it, packet by packet, each with its place in time.
//!
//! The only folder that knows symphonia.

mod mean;
mod mix;
mod open;
mod stretched;
mod tags;

use std::collections::VecDeque;
use std::io::ErrorKind;
use std::path::PathBuf;

use symphonia::core::codecs::audio::well_known::{
    CODEC_ID_AAC, CODEC_ID_MP1, CODEC_ID_MP2, CODEC_ID_MP3, CODEC_ID_OPUS,
};
use symphonia::core::codecs::audio::{AudioCodecId, AudioDecoder};
use symphonia::core::errors::Error as Failure;
use symphonia::core::formats::FormatReader;
use symphonia::core::packet::Packet;

use self::mean::Mean;
pub use self::mix::Mix;
use super::layer3::Refused;
use super::{mpeg, ogg};
use crate::error::{Error, Result};

/// Failures in a row after which a file is given up.
const PATIENCE: u32 = 1000;
/// One step of decoding. Places are in frames at the file's rate, from the first true sample.
pub enum Piece<'a> {
    /// Samples, interleaved; `bad` of them were no numbers and are now silence.
    Sound {
        /// Place of the first sample; negative within the encoder's delay.
        at: i64,
        /// The samples.
        samples: &'a [f32],
        /// How many were no numbers.
        bad: u64,
    },
    /// A packet that could not be decoded.
    Lost {
        /// Place of its first frame.
        at: i64,
        /// Its length.
        frames: u64,
    },
    /// Something that failed before it told its place.
    LostUnplaced,
}

/// A recording being decoded.
pub struct Source {
    path: PathBuf,
    reader: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    /// Stands in for the decoder where one channel of an MP3 is wanted.
    mean: Option<Mean>,
    codec: AudioCodecId,
    track_id: u32,
    ticks_per_s: f64,
    exact_ticks: bool,
    rate_hz: u32,
    channels: u32,
    /// Frames from the packets' own zero to the true start of the sound.
    start: i64,
    promised: Option<u64>,
    delay_known: bool,
    repair: Repair,
    ahead: VecDeque<Packet>,
    index: u64,
    mix: Mix,
    /// Samples handed out for each frame.
    width: usize,
    samples: Vec<f32>,
    first: Option<(i64, u64)>,
    lost_before_first: u64,
    bytes_done: u64,
    bytes: u64,
    failures: u32,
    good: u64,
    failed: u64,
    ended: bool,
    cut_off: bool,
    /// The header says that the length was not known, so the end of the file is the end.
    open_ended: bool,
    missing_samples: u64,
    /// Zeros stand behind the file's true end.
    stretched: bool,
    /// End of the furthest piece so far, in frames.
    end: i64,
}

/// What a walk over the file found missing.
enum Repair {
    None,
    Frames(Vec<mpeg::Break>),
    Pages(VecDeque<ogg::Break>),
}

impl Source {
    /// Sample rate of the file, in hertz.
    pub fn file_rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Sample rate of what is handed out, in hertz: that of the file, or half of it.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz / self.step_by()
    }

    /// Frames of the file for one that is handed out.
    fn step_by(&self) -> u32 {
        self.mean.as_ref().map_or(1, Mean::step)
    }

    /// Channels in the file.
    pub fn channels(&self) -> u32 {
        self.channels
    }

    /// Samples handed out for each frame: 1, or 2 where they are handed out as recorded.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Frames that the file says it holds, where it says so reliably.
    pub fn promised(&self) -> Option<u64> {
        self.promised.map(|frames| frames.div_ceil(self.step_by().into()))
    }

    /// Whether decoding yields more than the true sound, so that it must be cut at the promised length.
    pub fn is_padded(&self) -> bool {
        matches!(self.repair, Repair::Frames(_)) || self.reader.format_info().short_name == "isomp4"
    }

    /// How far timestamps may stray by rounding, in frames.
    pub fn rounding(&self) -> u64 {
        if self.exact_ticks { 0 } else { u64::from(self.rate_hz() / 50) }
    }

    /// Packets decoded and packets failed so far.
    pub fn counts(&self) -> (u64, u64) {
        (self.good, self.failed)
    }

    /// Frames that were cut out of the file nobody can tell where.
    pub fn missing_frames(&self) -> u64 {
        self.missing_samples / u64::from(self.step_by())
    }

    /// Whether the file broke off in the middle of something.
    pub fn is_cut_off(&self) -> bool {
        self.cut_off && !self.open_ended
    }

    /// Share of the file worked through, 0 to 1.
    pub fn progress(&self) -> f64 {
        (self.bytes_done as f64 / self.bytes.max(1) as f64).min(1.0)
    }

    /// Name of the format and usual delay in seconds, where the file does not record the delay.
    pub fn unknown_delay(&self) -> Option<(&'static str, f64)> {
        if self.delay_known {
            return None;
        }
        // Samples by which common encoders and this decoder delay: LAME's 576 and the decoder's 529;
        // the filter bank of layer II; one AAC frame.
        let (name, samples) = match self.codec {
            CODEC_ID_MP3 => ("MP3 files without a LAME tag", 1105.0),
            CODEC_ID_MP1 | CODEC_ID_MP2 => ("MP2 files", 481.0),
            CODEC_ID_AAC => ("AAC files without an edit list", 1024.0),
            _ => return None,
        };
        Some((name, samples / f64::from(self.rate_hz.max(1))))
    }

    /// The next piece; `None` at the end.
    pub fn next(&mut self) -> Result<Option<Piece<'_>>> {
        if self.lost_before_first > 0 {
            self.lost_before_first -= 1;
            return Ok(Some(Piece::LostUnplaced));
        }
        let step = match self.first.take() {
            Some((at, bad)) => Some(Step::Sound { at, bad }),
            None => self.step()?,
        };
        Ok(step.map(|step| match step {
            Step::Sound { at, bad } => Piece::Sound { at, samples: &self.samples, bad },
            Step::Lost { at, frames } => Piece::Lost { at, frames },
            Step::LostUnplaced => Piece::LostUnplaced,
        }))
    }

    fn step(&mut self) -> Result<Option<Step>> {
        while let Some(packet) = self.next_packet()? {
            let index = self.index;
            self.index += 1;
            let placed = self.place(&packet, index);
            let Some(at) = placed else { continue };
            let gapless = !matches!(self.repair, Repair::Frames(_));
            let trimmed = if gapless { packet.trim_start.get() } else { 0 };
            if self.is_half_missing(index) {
                // What frames borrow from those before is missing too; better silence than noise.
                self.reset_decoder();
            }
            match self.decode(&packet, at) {
                Ok((rate_hz, channels, bad)) => {
                    if self.good == 0 {
                        self.correct_rate(rate_hz);
                        self.channels = channels;
                        self.exact_ticks = self.ticks_per_s == f64::from(rate_hz);
                    } else if rate_hz != self.rate_hz {
                        self.failed += 1;
                        return Ok(Some(Step::LostUnplaced));
                    }
                    if self.samples.is_empty() || self.is_half_missing(index) {
                        continue;
                    }
                    self.good += 1;
                    // The delay that libopus itself leaves out lies before the first sample.
                    let at = self.frames(at.saturating_add_unsigned(trimmed)) - self.start;
                    let at = if self.codec == CODEC_ID_OPUS { at.max(0) } else { at };
                    let at = self.mean.as_ref().map_or(at, |mean| mean.place(at));
                    self.end = self
                        .end
                        .max(at.saturating_add_unsigned((self.samples.len() / self.width) as u64));
                    return Ok(Some(Step::Sound { at, bad }));
                }
                Err(_) => {
                    self.failed += 1;
                    self.reset_decoder();
                    let frames = self.frames(i64::try_from(packet.dur.get()).unwrap_or(0));
                    let at = self.frames(at.saturating_add_unsigned(packet.trim_start.get()));
                    let at = at - self.start;
                    return Ok(Some(Step::Lost {
                        at: self.mean.as_ref().map_or(at, |mean| mean.place(at)),
                        frames: frames.unsigned_abs() / u64::from(self.step_by()),
                    }));
                }
            }
        }
        Ok(None)
    }

    /// Decodes a packet, which begins at `at`, into `samples`; returns its sample rate, its channels, and how many
    /// samples were no numbers.
    fn decode(&mut self, packet: &Packet, at: i64) -> Result<(u32, u32, u64), Failure> {
        if let Some(mean) = &mut self.mean {
            match mean.decode(at, &packet.data, &mut self.samples) {
                Ok(channels) => {
                    let bad = mix::silence_bad(&mut self.samples);
                    return Ok((self.rate_hz, channels, bad));
                }
                Err(Refused::Unsuited) if self.good == 0 => self.mean = None,
                Err(_) => return Err(Failure::DecodeError("damaged frame")),
            }
        }
        let buffer = self.decoder.decode(packet)?;
        let (rate_hz, channels) = (buffer.spec().rate(), buffer.spec().channels().count() as u32);
        if self.good == 0 {
            self.width = match (self.mix, channels) {
                (Mix::AsRecorded, 2) => 2,
                _ => 1,
            };
        }
        Ok((rate_hz, channels, mix::lay(buffer, self.width, &mut self.samples)))
    }

    fn reset_decoder(&mut self) {
        self.decoder.reset();
        if let Some(mean) = &mut self.mean {
            mean.reset();
        }
    }

    /// Takes the decoder's word for the sample rate; a header may give that of an extension.
    fn correct_rate(&mut self, rate_hz: u32) {
        let ratio = f64::from(rate_hz) / f64::from(self.rate_hz.max(1));
        if self.rate_hz != rate_hz && self.rate_hz > 0 {
            self.start = (self.start as f64 * ratio).round() as i64;
            self.promised = self.promised.map(|frames| (frames as f64 * ratio).round() as u64);
        }
        self.rate_hz = rate_hz;
    }

    /// A packet's true timestamp in ticks; `None` for what is not sound at all.
    fn place(&self, packet: &Packet, index: u64) -> Option<i64> {
        let pts = packet.pts.get();
        let Repair::Frames(breaks) = &self.repair else { return Some(pts) };
        let passed = breaks.partition_point(|one| one.resume <= index);
        if breaks.get(passed).is_some_and(|one| one.first_false <= index) {
            return None;
        }
        let shift = passed.checked_sub(1).and_then(|last| breaks.get(last)).map_or(0, |b| b.shift);
        Some(pts.saturating_add(shift))
    }

    /// Whether a frame overlaps one that is missing. Its first half would hold the mirror image of what
    /// the missing one should have cancelled, which can sound like a beat.
    fn is_half_missing(&self, index: u64) -> bool {
        let Repair::Frames(breaks) = &self.repair else { return false };
        breaks.binary_search_by_key(&index, |one| one.resume).is_ok()
    }

    fn frames(&self, ticks: i64) -> i64 {
        if self.exact_ticks && self.ticks_per_s == f64::from(self.rate_hz) {
            return ticks;
        }
        (ticks as f64 * f64::from(self.rate_hz) / self.ticks_per_s.max(1e-9)).round() as i64
    }

    /// The next packet of our track, those behind a hole in an Ogg file moved to their true time.
    fn next_packet(&mut self) -> Result<Option<Packet>> {
        if let Some(packet) = self.ahead.pop_front() {
            return Ok(Some(packet));
        }
        let Some(mut packet) = self.read_packet()? else { return Ok(None) };
        let Repair::Pages(breaks) = &mut self.repair else { return Ok(Some(packet)) };
        let pts = packet.pts.get();
        while breaks.front().is_some_and(|b| b.serial != self.track_id || b.false_start < pts) {
            breaks.pop_front();
        }
        let Some(hole) = breaks.front().copied().filter(|b| b.false_start == pts) else {
            return Ok(Some(packet));
        };
        breaks.pop_front();
        let mut length = packet.block_dur().get();
        while self.ahead.len() + 1 < hole.packets {
            let Some(next) = self.read_packet()? else { break };
            length = length.saturating_add(next.block_dur().get());
            self.ahead.push_back(next);
        }
        let start = hole.end.saturating_sub_unsigned(length);
        let Ok(late) = u64::try_from(start.saturating_sub(pts)) else { return Ok(Some(packet)) };
        for moved in self.ahead.iter_mut().chain([&mut packet]) {
            moved.pts = moved.pts.saturating_add(late.into());
        }
        self.reset_decoder();
        Ok(Some(packet))
    }

    fn read_packet(&mut self) -> Result<Option<Packet>> {
        while !self.ended {
            match self.reader.next_packet() {
                Ok(Some(packet)) => {
                    self.failures = 0;
                    self.bytes_done += packet.data.len() as u64;
                    if packet.track_id != self.track_id {
                        continue;
                    }
                    if self.stretched && packet.data.iter().all(|byte| *byte == 0) {
                        (self.ended, self.cut_off) = (true, true);
                        break;
                    }
                    return Ok(Some(packet));
                }
                Ok(None) => self.ended = true,
                Err(Failure::IoError(e)) if is_of_the_system(&e) => {
                    return Err(Error::Io { path: self.path.clone(), source: e });
                }
                // What came before is good.
                Err(Failure::IoError(_)) => (self.ended, self.cut_off) = (true, true),
                Err(Failure::ResetRequired) => {
                    (self.ended, self.cut_off) =
                        if self.follow_chain() { (false, false) } else { (true, true) };
                }
                Err(_) => {
                    self.failures += 1;
                    self.ended = self.failures > PATIENCE;
                }
            }
        }
        Ok(None)
    }
}

enum Step {
    Sound { at: i64, bad: u64 },
    Lost { at: i64, frames: u64 },
    LostUnplaced,
}

/// Whether an error is the disk's and not the format's.
fn is_of_the_system(error: &std::io::Error) -> bool {
    error.raw_os_error().is_some() || error.kind() == ErrorKind::PermissionDenied
}
