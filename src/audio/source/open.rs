//! Finding the sound in a file, and what the file says about its delay and length.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use symphonia::core::codecs::audio::well_known::{
    CODEC_ID_AAC, CODEC_ID_AC3, CODEC_ID_ALAC, CODEC_ID_EAC3, CODEC_ID_FLAC, CODEC_ID_MP1,
    CODEC_ID_MP2, CODEC_ID_MP3, CODEC_ID_OPUS, CODEC_ID_SPEEX, CODEC_ID_VORBIS,
};
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::codecs::registry::CodecRegistry;
use symphonia::core::errors::Error as Failure;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;

use super::mean::Mean;
use super::stretched::Stretched;
use super::{Mix, Repair, Source, Step, is_of_the_system};
use crate::audio::{m4a, mpeg, ogg, sniff};
use crate::error::{Error, Result};

/// Sample rates outside this range are not sound; they come from damaged headers.
const RATES_HZ: std::ops::RangeInclusive<u32> = 1_000..=768_000;
/// WAV writers that cannot know the length put a number near this there, or near half of it.
const UNKNOWN_LENGTH: u64 = 0x7fff_0000;

impl Source {
    /// Opens a file and decodes up to the first sound in it.
    pub fn open(path: &Path, mix: Mix) -> Result<Source> {
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
        // What the file is searched for later is read through a handle of its own.
        let mut searched = File::open(path).map_err(io)?;
        let declared = m4a::declared_length(&mut searched).unwrap_or(0);
        file.seek(SeekFrom::Start(0)).map_err(io)?;
        let stretched = declared > facts.len();
        let file = Stretched::new(file, facts.len(), declared);
        let stream = MediaSourceStream::new(Box::new(file), MediaSourceStreamOptions::default());
        let reader = symphonia::default::get_probe()
            .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
            .map_err(|failure| match failure {
                Failure::IoError(e) if is_of_the_system(&e) => io(e),
                _ => not_audio(sniff::what_is(&head)),
            })?;
        let mut source = Source::choose_track(path, reader, &head)?;
        (source.bytes, source.stretched) = (facts.len(), stretched);
        source.mix = mix;
        source.sum_channels();
        source.look_through(&mut searched, &head)?;
        source.decode_to_first_sound(&head)?;
        Ok(source)
    }

    fn choose_track(path: &Path, reader: Box<dyn FormatReader>, head: &[u8]) -> Result<Source> {
        let (chosen, refusal) = pick_track(reader.as_ref());
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
        let ticks_per_s = ticks_per_s(&track, rate_hz);
        Ok(Source {
            path,
            reader,
            decoder,
            mean: None,
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
            mix: Mix::Mono,
            width: 1,
            samples: Vec::new(),
            first: None,
            lost_before_first: 0,
            bytes_done: 0,
            bytes: 0,
            failures: 0,
            good: 0,
            failed: 0,
            ended: false,
            cut_off: false,
            stretched: false,
            open_ended: false,
            missing_samples: 0,
            end: 0,
        })
    }

    /// Has an MP3 decoded straight to one channel, where one is wanted.
    fn sum_channels(&mut self) {
        if self.codec == CODEC_ID_MP3 && self.mix == Mix::Mono {
            self.mean = Mean::new(self.rate_hz);
        }
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
                self.missing_samples = walk.missing_samples;
                self.repair = Repair::Frames(walk.breaks);
            }
            "ogg" => {
                self.repair = Repair::Pages(ogg::walk(file).into());
                self.delay_known = true;
                self.start_ogg_stream(0);
            }
            "isomp4" => {
                let tag = self.itunes_gapless_tag();
                let tag = tag.and_then(|text| m4a::from_itunes_tag(&text, self.rate_hz));
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
                self.open_ended = length_is_unknown(head);
                self.promised = self.promised.filter(|_| !self.open_ended);
            }
            _ => self.delay_known = true,
        }
        Ok(())
    }

    /// Places an Ogg stream whose first sample belongs at frame `place`.
    fn start_ogg_stream(&mut self, place: i64) {
        let track = self.reader.tracks().iter().find(|t| t.id == self.track_id);
        // A stream cut from a longer one begins at its own first sample.
        let first = track.map_or(0, |t| t.start_ts.get().max(0));
        self.promised = self.promised.map(|end| end.saturating_sub(first.unsigned_abs()));
        let delay = if self.codec == CODEC_ID_OPUS { self.opus_delay() } else { 0 };
        self.start = first.saturating_add(delay).saturating_sub(place);
    }

    /// Goes on with the stream that an Ogg file chains behind the one that ended. `false` when there
    /// is none that can follow.
    pub(super) fn follow_chain(&mut self) -> bool {
        let (Some((track, params, decoder)), _) = pick_track(self.reader.as_ref()) else {
            return false;
        };
        if params.sample_rate != Some(self.rate_hz) || params.codec != self.codec {
            return false;
        }
        (self.track_id, self.decoder) = (track.id, decoder);
        self.ticks_per_s = ticks_per_s(&track, self.rate_hz);
        self.promised = None;
        self.start_ogg_stream(self.end);
        true
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
}

type Chosen = (Track, AudioCodecParameters, Box<dyn AudioDecoder>);

/// The sound track that a player would choose, of those that can be decoded; and the name of the codec
/// of one that cannot.
fn pick_track(reader: &dyn FormatReader) -> (Option<Chosen>, Option<String>) {
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
    (chosen, refusal)
}

fn ticks_per_s(track: &Track, rate_hz: u32) -> f64 {
    track.time_base.map_or(f64::from(rate_hz), |base| {
        f64::from(base.denom.get()) / f64::from(base.numer.get())
    })
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
