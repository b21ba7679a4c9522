//! Opening a recording and decoding it to mono, packet by packet, each with its place in time.
//!
//! The only file that knows symphonia.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{ErrorKind, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use symphonia::core::audio::sample::Sample;
use symphonia::core::audio::{Audio, AudioBuffer, GenericAudioBufferRef};
use symphonia::core::codecs::audio::well_known::{
    CODEC_ID_AAC, CODEC_ID_AC3, CODEC_ID_ALAC, CODEC_ID_EAC3, CODEC_ID_FLAC, CODEC_ID_MP1,
    CODEC_ID_MP2, CODEC_ID_MP3, CODEC_ID_OPUS, CODEC_ID_SPEEX, CODEC_ID_VORBIS,
};
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions,
};
use symphonia::core::codecs::registry::CodecRegistry;
use symphonia::core::errors::Error as Failure;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::{MetadataOptions, MetadataRevision, StandardTag};
use symphonia::core::packet::Packet;

use super::{m4a, mpeg, ogg, sniff};
use crate::error::{Error, Result};

/// Sample rates outside this range are not sound; they come from damaged headers.
const RATES_HZ: std::ops::RangeInclusive<u32> = 1_000..=768_000;
/// Failures in a row after which a file is given up.
const PATIENCE: u32 = 1000;
/// WAV writers that cannot know the length put a number near this there, or near half of it.
const UNKNOWN_LENGTH: u64 = 0x7fff_0000;

/// One step of decoding. Places are in frames at the file's rate, from the first true sample.
pub enum Piece<'a> {
    /// Mono samples; `bad` of them were no numbers and are now silence.
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
    mono: Vec<f32>,
    first: Option<(i64, u64)>,
    lost_before_first: u64,
    bytes_done: u64,
    bytes: u64,
    failures: u32,
    good: u64,
    failed: u64,
    ended: bool,
    cut_off: bool,
}

/// What a walk over the file found missing.
enum Repair {
    None,
    Frames(Vec<mpeg::Break>),
    Pages(VecDeque<ogg::Break>),
}

impl Source {
    /// Opens a file and decodes up to the first sound in it.
    pub fn open(path: &Path) -> Result<Source> {
        let io = |source| Error::Io { path: path.to_path_buf(), source };
        let not_audio =
            |found: &str| Error::NotAudio { path: path.to_path_buf(), found: found.to_string() };
        let facts = std::fs::metadata(path).map_err(io)?;
        if facts.is_dir() {
            return Err(Error::IsAFolder(path.to_path_buf()));
        }
        if !facts.is_file() {
            return Err(not_audio("it is a device or a pipe, not a file"));
        }
        let mut file = File::open(path).map_err(io)?;
        let mut head = Vec::new();
        (&mut file).take(4096).read_to_end(&mut head).map_err(io)?;
        if head.is_empty() {
            return Err(not_audio(sniff::what_is(&head)));
        }
        let mut walked = file.try_clone().map_err(io)?;
        file.seek(SeekFrom::Start(0)).map_err(io)?;
        let stream = MediaSourceStream::new(Box::new(file), MediaSourceStreamOptions::default());
        let reader = symphonia::default::get_probe()
            .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
            .map_err(|failure| match failure {
                Failure::IoError(e) if is_of_the_system(&e) => io(e),
                _ => not_audio(sniff::what_is(&head)),
            })?;
        // The walks read through a handle of their own: a cloned one would share its place.
        if let Ok(own) = File::open(path) {
            walked = own;
        }
        let mut source = Source::choose_track(path, reader, &head)?;
        source.bytes = facts.len();
        source.look_through(&mut walked, &head)?;
        source.decode_to_first_sound(&head)?;
        Ok(source)
    }

    fn choose_track(path: &Path, reader: Box<dyn FormatReader>, head: &[u8]) -> Result<Source> {
        let default = reader.default_track(TrackType::Audio).map(|track| track.id);
        let mut tracks: Vec<&Track> = reader.tracks().iter().collect();
        tracks.sort_by_key(|track| Some(track.id) != default);
        let mut refusal = None;
        let mut chosen = None;
        for track in tracks {
            let Some(params) = track.codec_params.as_ref().and_then(|params| params.audio()) else {
                continue;
            };
            match make_decoder(params) {
                Ok(decoder) => {
                    chosen = Some((track.clone(), params.clone(), decoder));
                    break;
                }
                Err(_) => refusal = refusal.or(Some(codec_name(params))),
            }
        }
        let path = path.to_path_buf();
        let Some((track, params, decoder)) = chosen else {
            return Err(match refusal {
                Some(codec) => Error::UnsupportedCodec { path, codec },
                None if reader.tracks().is_empty() => {
                    Error::NotAudio { path, found: sniff::what_is(head).into() }
                }
                None => {
                    Error::NotAudio { path, found: "it holds no sound that can be read".into() }
                }
            });
        };
        let rate_hz = params.sample_rate.unwrap_or_default();
        let ticks_per_s = track.time_base.map_or(f64::from(rate_hz), |base| {
            f64::from(base.denom.get()) / f64::from(base.numer.get())
        });
        Ok(Source {
            path,
            reader,
            decoder,
            codec: params.codec,
            track_id: track.id,
            ticks_per_s,
            exact_ticks: true,
            rate_hz,
            channels: 0,
            start: 0,
            promised: track.num_frames,
            delay_known: track.delay.is_some(),
            repair: Repair::None,
            ahead: VecDeque::new(),
            index: 0,
            mono: Vec::new(),
            first: None,
            lost_before_first: 0,
            bytes_done: 0,
            bytes: 0,
            failures: 0,
            good: 0,
            failed: 0,
            ended: false,
            cut_off: false,
        })
    }

    /// Learns from the file itself what the demuxer does not tell: delay, length, holes.
    fn look_through(&mut self, file: &mut File, head: &[u8]) -> Result<()> {
        let not_audio =
            |found: &str| Error::NotAudio { path: self.path.clone(), found: found.into() };
        match self.reader.format_info().short_name {
            "mp1" | "mp2" | "mp3" => {
                // Without the encoder's own record the length is a guess from the bit rate.
                self.promised = self.promised.filter(|_| self.delay_known);
                let walk = mpeg::walk(file).ok_or_else(|| not_audio(sniff::what_is(head)))?;
                if walk.solid_bytes.saturating_mul(2) < walk.span_bytes {
                    return Err(not_audio(sniff::what_is(head)));
                }
                self.repair = Repair::Frames(walk.breaks);
            }
            "ogg" => {
                self.repair = Repair::Pages(ogg::walk(file).into());
                self.delay_known = true;
                let first = self.reader.tracks().iter().find(|t| t.id == self.track_id);
                // A stream cut from a longer one begins at its own first sample.
                self.start = first.map_or(0, |t| t.start_ts.get().max(0));
                let start = self.start.unsigned_abs();
                self.promised = self.promised.map(|end| end.saturating_sub(start));
                if self.codec == CODEC_ID_OPUS {
                    self.start = self.start.saturating_add(self.opus_delay());
                }
            }
            "isomp4" => {
                let tag = self.tags().find_map(|text| m4a::from_itunes_tag(&text, self.rate_hz));
                let edit = m4a::edit(file, self.track_id);
                let edit = edit.filter(|edit| edit.skip > 0 || tag.is_none()).or(tag);
                self.delay_known = edit.is_some() || self.codec != CODEC_ID_AAC;
                if let Some(edit) = edit {
                    self.apply(edit);
                }
            }
            "aac" => self.delay_known = false,
            "wave" | "wav" => {
                self.delay_known = true;
                self.promised = self.promised.filter(|_| !length_is_unknown(head));
            }
            _ => self.delay_known = true,
        }
        Ok(())
    }

    fn apply(&mut self, edit: m4a::Edit) {
        let rate = f64::from(self.rate_hz);
        let skip = edit.skip as f64 * rate / self.ticks_per_s.max(1.0);
        let silence = edit.silence_s * rate;
        self.start = (skip - silence).round() as i64;
        let rest = self.promised.map(|all| all.saturating_add_signed(-self.start));
        let stated = edit.length_s.map(|s| ((s + edit.silence_s) * rate).round() as u64);
        // The movie's clock is coarse, often milliseconds: where both agree, the samples are exact.
        self.promised = match (rest, stated) {
            (Some(rest), Some(stated)) if rest.abs_diff(stated) as f64 <= rate / 500.0 => {
                Some(rest)
            }
            (rest, stated) => stated.or(rest),
        };
    }

    fn opus_delay(&self) -> i64 {
        let track = self.reader.tracks().iter().find(|t| t.id == self.track_id);
        let params = track.and_then(|t| t.codec_params.as_ref()).and_then(|p| p.audio());
        let header = params.and_then(|p| p.extra_data.as_deref());
        // RFC 7845, section 5.1: pre-skip is the 16-bit number at byte 10.
        header
            .and_then(|h| h.get(10..12))
            .map_or(0, |f| i64::from(u16::from_le_bytes([f[0], f[1]])))
    }

    fn decode_to_first_sound(&mut self, head: &[u8]) -> Result<()> {
        while self.first.is_none() {
            match self.step()? {
                Some(Step::Sound { at, bad }) => self.first = Some((at, bad)),
                Some(_) => self.lost_before_first += 1,
                None => break,
            }
        }
        if self.first.is_none() {
            let empty = self.failed == 0 && self.promised.is_none_or(|frames| frames == 0);
            let found = if empty { "it holds no sound" } else { sniff::what_is(head) };
            return Err(Error::NotAudio { path: self.path.clone(), found: found.into() });
        }
        if !RATES_HZ.contains(&self.rate_hz) {
            let found = format!("a sample rate of {} Hz", self.rate_hz);
            return Err(Error::NotAudio { path: self.path.clone(), found });
        }
        Ok(())
    }

    /// Sample rate of the decoded sound, in hertz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Channels in the file.
    pub fn channels(&self) -> u32 {
        self.channels
    }

    /// Frames that the file says it holds, where it says so reliably.
    pub fn promised(&self) -> Option<u64> {
        self.promised
    }

    /// Whether decoding yields more than the true sound, so that it must be cut at the promised length.
    pub fn is_padded(&self) -> bool {
        matches!(self.repair, Repair::Frames(_)) || self.reader.format_info().short_name == "isomp4"
    }

    /// How far timestamps may stray by rounding, in frames.
    pub fn rounding(&self) -> u64 {
        if self.exact_ticks { 0 } else { u64::from(self.rate_hz / 50) }
    }

    /// Packets decoded and packets failed so far.
    pub fn counts(&self) -> (u64, u64) {
        (self.good, self.failed)
    }

    /// Whether the file broke off in the middle of something.
    pub fn is_cut_off(&self) -> bool {
        self.cut_off
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

    /// Title and artist from the tags.
    pub fn title_and_artist(&mut self) -> (Option<String>, Option<String>) {
        let mut titles = Vec::new();
        let mut artists = Vec::new();
        let mut look = |revision: &MetadataRevision| {
            let tracks = revision.per_track.iter().flat_map(|track| &track.metadata.tags);
            for tag in revision.media.tags.iter().chain(tracks) {
                match &tag.std {
                    Some(StandardTag::TrackTitle(text)) => titles.push(text.to_string()),
                    Some(StandardTag::Artist(text)) => artists.push((0, text.to_string())),
                    Some(StandardTag::AlbumArtist(text)) => artists.push((1, text.to_string())),
                    Some(StandardTag::Performer(text)) => artists.push((2, text.to_string())),
                    Some(StandardTag::OriginalArtist(text)) => artists.push((3, text.to_string())),
                    _ => {}
                }
            }
        };
        let mut metadata = self.reader.metadata();
        while let Some(revision) = metadata.pop() {
            look(&revision);
        }
        if let Some(revision) = metadata.current() {
            look(revision);
        }
        let clean = |text: &String| {
            let text = text.trim_matches(|c: char| c.is_whitespace() || c == '\0');
            (!text.is_empty()).then(|| text.to_string())
        };
        artists.sort_by_key(|(rank, _)| *rank);
        (titles.iter().find_map(clean), artists.iter().find_map(|(_, text)| clean(text)))
    }

    fn tags(&mut self) -> std::vec::IntoIter<String> {
        let mut found = Vec::new();
        if let Some(revision) = self.reader.metadata().current() {
            for tag in &revision.media.tags {
                if tag.raw.key.ends_with("iTunSMPB") {
                    found.push(tag.raw.value.to_string());
                }
            }
        }
        found.into_iter()
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
            Step::Sound { at, bad } => Piece::Sound { at, samples: &self.mono, bad },
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
            match self.decoder.decode(&packet) {
                Ok(buffer) => {
                    let spec = buffer.spec();
                    let (rate_hz, channels) = (spec.rate(), spec.channels().count() as u32);
                    if self.good == 0 {
                        (self.rate_hz, self.channels) = (rate_hz, channels);
                        self.exact_ticks = self.ticks_per_s == f64::from(rate_hz);
                    } else if rate_hz != self.rate_hz {
                        self.failed += 1;
                        return Ok(Some(Step::LostUnplaced));
                    }
                    let bad = mix(buffer, &mut self.mono);
                    if self.mono.is_empty() {
                        continue;
                    }
                    self.good += 1;
                    // The delay that libopus itself leaves out lies before the first sample.
                    let at = self.frames(at.saturating_add_unsigned(trimmed)) - self.start;
                    let at = if self.codec == CODEC_ID_OPUS { at.max(0) } else { at };
                    return Ok(Some(Step::Sound { at, bad }));
                }
                Err(_) => {
                    self.failed += 1;
                    self.decoder.reset();
                    let frames = self.frames(i64::try_from(packet.dur.get()).unwrap_or(0));
                    let at = self.frames(at.saturating_add_unsigned(packet.trim_start.get()));
                    return Ok(Some(Step::Lost {
                        at: at - self.start,
                        frames: frames.unsigned_abs(),
                    }));
                }
            }
        }
        Ok(None)
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
        self.decoder.reset();
        Ok(Some(packet))
    }

    fn read_packet(&mut self) -> Result<Option<Packet>> {
        while !self.ended {
            match self.reader.next_packet() {
                Ok(Some(packet)) => {
                    self.failures = 0;
                    self.bytes_done += packet.data.len() as u64;
                    if packet.track_id == self.track_id {
                        return Ok(Some(packet));
                    }
                }
                Ok(None) => self.ended = true,
                Err(Failure::IoError(e)) if is_of_the_system(&e) => {
                    return Err(Error::Io { path: self.path.clone(), source: e });
                }
                // What came before is good.
                Err(Failure::IoError(_)) => (self.ended, self.cut_off) = (true, true),
                Err(Failure::ResetRequired) => self.ended = true,
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

fn make_decoder(
    params: &AudioCodecParameters,
) -> symphonia::core::errors::Result<Box<dyn AudioDecoder>> {
    // MPEG audio is trimmed here, after lost frames are accounted for.
    let mpeg = [CODEC_ID_MP1, CODEC_ID_MP2, CODEC_ID_MP3].contains(&params.codec);
    codecs().make_audio_decoder(params, &AudioDecoderOptions::default().gapless(!mpeg))
}

#[cfg(not(feature = "opus"))]
fn codecs() -> &'static CodecRegistry {
    symphonia::default::get_codecs()
}

#[cfg(feature = "opus")]
fn codecs() -> &'static CodecRegistry {
    static CODECS: std::sync::LazyLock<CodecRegistry> = std::sync::LazyLock::new(|| {
        let mut codecs = CodecRegistry::new();
        symphonia::default::register_enabled_codecs(&mut codecs);
        codecs.register_audio_decoder::<symphonia_adapter_libopus::OpusDecoder>();
        codecs
    });
    &CODECS
}

/// The codec's name as people know it.
fn codec_name(params: &AudioCodecParameters) -> String {
    let channels = params.channels.as_ref().map_or(0, |channels| channels.count());
    match params.codec {
        CODEC_ID_OPUS => "Opus".into(),
        CODEC_ID_AAC if channels > 2 => format!("AAC with {channels} channels"),
        CODEC_ID_AAC => "HE-AAC".into(),
        CODEC_ID_AC3 | CODEC_ID_EAC3 => "Dolby Digital".into(),
        CODEC_ID_SPEEX => "Speex".into(),
        CODEC_ID_ALAC => "this kind of ALAC".into(),
        CODEC_ID_FLAC => "this kind of FLAC".into(),
        CODEC_ID_VORBIS => "this kind of Vorbis".into(),
        _ => "this kind of".into(),
    }
}

/// A WAV or RF64 file whose header says that its length was not known when it was begun.
fn length_is_unknown(head: &[u8]) -> bool {
    head.windows(8).find(|w| w.starts_with(b"data")).is_some_and(|w| {
        let length = u64::from(u32::from_le_bytes([w[4], w[5], w[6], w[7]]));
        length >= UNKNOWN_LENGTH
    })
}

/// Averages all channels into `mono`; returns how many samples were no numbers and became silence.
fn mix(buffer: GenericAudioBufferRef<'_>, mono: &mut Vec<f32>) -> u64 {
    use GenericAudioBufferRef as B;
    mono.clear();
    match buffer {
        B::F32(b) => average(b, mono, |s| s),
        B::F64(b) => average(b, mono, |s| s as f32),
        B::U8(b) => average(b, mono, |s| (f32::from(s) - 128.0) / 128.0),
        B::S8(b) => average(b, mono, |s| f32::from(s) / 128.0),
        B::U16(b) => average(b, mono, |s| (f32::from(s) - 32_768.0) / 32_768.0),
        B::S16(b) => average(b, mono, |s| f32::from(s) / 32_768.0),
        B::U24(b) => average(b, mono, |s| (s.inner() as f32 - 8_388_608.0) / 8_388_608.0),
        B::S24(b) => average(b, mono, |s| s.inner() as f32 / 8_388_608.0),
        B::U32(b) => average(b, mono, |s| (s as f32 - 2_147_483_648.0) / 2_147_483_648.0),
        B::S32(b) => average(b, mono, |s| s as f32 / 2_147_483_648.0),
    }
    // Full scale is 1; a value a million times that is damage, and its square would not stay finite.
    let mut bad = 0;
    for sample in mono.iter_mut() {
        if !sample.is_finite() || sample.abs() > 1e6 {
            *sample = 0.0;
            bad += 1;
        }
    }
    bad
}

fn average<S: Sample>(buffer: &AudioBuffer<S>, mono: &mut Vec<f32>, to_f32: impl Fn(S) -> f32) {
    let planes = buffer.num_planes();
    let share = 1.0 / planes.max(1) as f32;
    mono.resize(if planes == 0 { 0 } else { buffer.frames() }, 0.0);
    for index in 0..planes {
        let Some(plane) = buffer.plane(index) else { continue };
        for (sum, sample) in mono.iter_mut().zip(plane) {
            *sum += to_f32(*sample) * share;
        }
    }
}
