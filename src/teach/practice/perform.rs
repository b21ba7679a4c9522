//! A script made into sound.

use std::collections::{HashMap, VecDeque};

use super::limiter::Limiter;
use super::script::{Event, Layer, Script, Segment};
use super::sounds::{Sound, chime, click, step};
use super::voice::Voice;
use crate::audio::Full;
use crate::audio::stretch::Stretcher;
use crate::error::Result;

/// Music changes over to the next segment so long before its first count, and in so long, seconds.
const BEFORE_COUNT_S: f64 = 0.016;
const FADE_S: f64 = 0.012;
/// Channels written.
pub const CHANNELS: usize = 2;

/// Writes a script's sound to `sink`, two interleaved channels at the recording's rate. `calls` holds the teacher's
/// own words by name in lower case; what has none is called by a chime. `progress` is told the share done.
///
/// # Errors
/// Those of reading the recording and of the sink.
pub fn perform(
    script: &Script,
    recording: &mut Full,
    voice: &Voice,
    calls: &HashMap<String, Sound>,
    sink: &mut dyn FnMut(&[f32]) -> Result<()>,
    progress: &mut dyn FnMut(f64),
) -> Result<()> {
    let rate_hz = recording.rate_hz();
    let rate = f64::from(rate_hz);
    let frame = |s: f64| (s * rate).round() as i64;
    let kit = Kit {
        clicks: [click(rate_hz, 1100.0, 0.03), click(rate_hz, 1760.0, 0.045)],
        steps: [step(rate_hz, false), step(rate_hz, true)],
        chime: chime(rate_hz),
        voice,
        calls,
        script,
    };
    let start = |event: &Event| frame(event.at_s) - kit.sound(&event.layer).0.onset as i64;
    let mut events: Vec<(i64, &Event)> = script.events.iter().map(|e| (start(e), e)).collect();
    events.sort_by_key(|(start, _)| *start);
    let mut desk = Desk {
        kit,
        at: 0,
        total: frame(script.duration_s).max(1),
        events: events.into(),
        sounding: Vec::new(),
        limiter: Limiter::new(CHANNELS, rate_hz),
        sink,
        progress,
    };
    let mut stretcher = Stretcher::new(recording.channels(), rate_hz);
    let fade = frame(FADE_S) as usize;
    let mut tail: Vec<f32> = Vec::new();
    let music = script.layers.music.map(gain);
    let count = script.segments.len();
    for (k, segment) in script.segments.iter().enumerate() {
        let Some(music) = music else { break };
        let start = frame(segment.at_s - BEFORE_COUNT_S).max(0);
        let next = script.segments.get(k + 1);
        let last = k + 1 == count;
        let ends_s = if last {
            segment.end_s + super::script::RING_S
        } else {
            segment.end_s - BEFORE_COUNT_S
        };
        let goes_on = next.is_some_and(|next| next.at_s - segment.end_s < 1e-6);
        let end = frame(ends_s);
        desk.silence_until(start, &mut tail)?;
        let long = (end - start).max(0) as usize;
        let extra = if last { 0 } else { fade };
        let channels = recording.channels();
        let mut player = Player {
            desk: &mut desk,
            channels,
            gain: music,
            apart: script.layers.apart,
            fade,
            done: 0,
            long,
            fade_out: (last || !goes_on)
                .then(|| frame(FADE_S.max(if last { 0.4 } else { 0.0 })) as usize),
            before: std::mem::take(&mut tail),
            after: Vec::new(),
        };
        play(&mut stretcher, recording, segment, start as f64 / rate, long + extra, &mut player)?;
        tail = std::mem::take(&mut player.after);
    }
    let total = desk.total;
    desk.silence_until(total, &mut tail)?;
    desk.finish()
}

fn play(
    stretcher: &mut Stretcher,
    recording: &mut Full,
    segment: &Segment,
    start_s: f64,
    frames: usize,
    player: &mut Player<'_, '_>,
) -> Result<()> {
    let rate = f64::from(recording.rate_hz());
    // What stands at the segment's time is its first count.
    let from = (segment.from_s + (start_s - segment.at_s) * segment.tempo) * rate;
    let mut read = |at: i64, out: &mut [f32]| recording.read(at, out);
    let mut sink = |block: &[f32]| player.take(block);
    stretcher.stretch(&mut read, from, segment.tempo, frames, &mut sink)
}

/// Music of one segment on its way to the desk.
struct Player<'a, 'b> {
    desk: &'a mut Desk<'b>,
    channels: usize,
    gain: f32,
    apart: bool,
    fade: usize,
    done: usize,
    long: usize,
    /// Frames at the end that fade out, where nothing follows at once.
    fade_out: Option<usize>,
    /// The end of the segment before, which fades while this one comes.
    before: Vec<f32>,
    /// The end of this one, for the next.
    after: Vec<f32>,
}

impl Player<'_, '_> {
    fn take(&mut self, block: &[f32]) -> Result<()> {
        let mut out = Vec::with_capacity(block.len() / self.channels * CHANNELS);
        for frame in block.chunks_exact(self.channels) {
            let mut two = match (frame, self.apart) {
                ([left, right], false) => [*left, *right],
                ([left, right], true) => [(left + right) / 2.0, 0.0],
                ([mono, ..], apart) => [*mono, if apart { 0.0 } else { *mono }],
                ([], _) => [0.0; 2],
            };
            two.iter_mut().for_each(|x| *x *= self.gain);
            if self.done >= self.long {
                self.after.extend(two);
                self.done += 1;
                continue;
            }
            if self.done < self.fade {
                let share = (self.done as f32 + 0.5) / self.fade as f32;
                let angle = share * std::f32::consts::FRAC_PI_2;
                for (c, x) in two.iter_mut().enumerate() {
                    let old = self.before.get(self.done * CHANNELS + c).copied().unwrap_or(0.0);
                    *x = *x * angle.sin() + old * angle.cos();
                }
            }
            let left = self.long - self.done;
            if let Some(fade_out) = self.fade_out.filter(|fade_out| left < *fade_out) {
                let share = left as f32 / fade_out as f32;
                two.iter_mut().for_each(|x| *x *= share * share);
            }
            out.extend(two);
            self.done += 1;
        }
        self.desk.put(out)
    }
}

/// The sounds there are.
struct Kit<'a> {
    clicks: [Sound; 2],
    steps: [Sound; 2],
    chime: Sound,
    voice: &'a Voice,
    calls: &'a HashMap<String, Sound>,
    script: &'a Script,
}

impl Kit<'_> {
    /// The sound of an event and how loud it is.
    fn sound(&self, layer: &Layer) -> (&Sound, f32) {
        let layers = &self.script.layers;
        let loud = |db: Option<f64>| gain(db.unwrap_or(0.0));
        match layer {
            Layer::Click { first } => (&self.clicks[usize::from(*first)], loud(layers.click)),
            Layer::Count(number) => (self.voice.count(*number), loud(layers.voice)),
            Layer::And => (self.voice.and(), 0.7 * loud(layers.voice)),
            Layer::Step { heavy } => (&self.steps[usize::from(*heavy)], loud(layers.steps)),
            Layer::Call(name) => {
                (self.calls.get(&name.to_lowercase()).unwrap_or(&self.chime), loud(layers.calls))
            }
        }
    }
}

/// Where all sounds come together.
struct Desk<'a> {
    kit: Kit<'a>,
    /// Frames put so far.
    at: i64,
    total: i64,
    /// Sounds to come, by the frame that each starts on.
    events: VecDeque<(i64, &'a Event)>,
    /// Sounds that go on, with the frame that each started on.
    sounding: Vec<(&'a Event, i64)>,
    limiter: Limiter,
    sink: &'a mut dyn FnMut(&[f32]) -> Result<()>,
    progress: &'a mut dyn FnMut(f64),
}

impl Desk<'_> {
    /// Silence, but for what fades out.
    fn silence_until(&mut self, frame: i64, tail: &mut Vec<f32>) -> Result<()> {
        const MOST: i64 = 1 << 14;
        while self.at < frame {
            let frames = (frame - self.at).min(MOST) as usize;
            let mut block = vec![0.0; frames * CHANNELS];
            let fades = tail.len().min(block.len());
            let long = tail.len().max(1) as f32;
            for (k, (x, old)) in block.iter_mut().zip(tail.drain(..fades)).enumerate() {
                *x = old * (1.0 - k as f32 / long);
            }
            self.put(block)?;
        }
        Ok(())
    }

    /// Adds the sounds of a block's time to it and hands it on.
    fn put(&mut self, mut block: Vec<f32>) -> Result<()> {
        let end = self.at + (block.len() / CHANNELS) as i64;
        while let Some(&(start, event)) = self.events.front().filter(|(start, _)| *start < end) {
            self.sounding.push((event, start));
            self.events.pop_front();
        }
        let apart = self.kit.script.layers.apart;
        for (event, start) in &self.sounding {
            let (sound, gain) = self.kit.sound(&event.layer);
            let from = (self.at - start).max(0) as usize;
            for (k, x) in sound.samples.iter().enumerate().skip(from) {
                let place = start + k as i64;
                if place >= end {
                    break;
                }
                if place < self.at {
                    continue;
                }
                let frame = (place - self.at) as usize * CHANNELS;
                if !apart {
                    block[frame] += gain * x;
                }
                block[frame + 1] += gain * x;
            }
        }
        let kit = &self.kit;
        self.sounding
            .retain(|(event, start)| start + kit.sound(&event.layer).0.samples.len() as i64 > end);
        self.at = end;
        let mut out = Vec::with_capacity(block.len());
        self.limiter.push(&block, &mut out);
        (self.progress)((self.at as f64 / self.total as f64).min(1.0));
        (self.sink)(&out)
    }

    fn finish(mut self) -> Result<()> {
        let mut out = Vec::new();
        self.limiter.finish(&mut out);
        (self.progress)(1.0);
        (self.sink)(&out)
    }
}

fn gain(db: f64) -> f32 {
    10f64.powf(db / 20.0) as f32
}
