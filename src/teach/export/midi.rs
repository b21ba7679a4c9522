//! A Standard MIDI File (MIDI Association, version 1.0) with the song's tempo map: a quarter note a
//! count, a tempo for each, bars as time signatures, phrases and parts as markers; on a second track a
//! click for every count, in the percussion of General MIDI.
//!
//! Tempos are whole microseconds; each is taken from the rounded times of its count and the next, so
//! that errors never add up and every count lies within half a microsecond of its time.

use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind,
};

use crate::error::{Error, Result};
use crate::plain::clean;
use crate::rhythm::Grid;
use crate::song::SongMap;

use super::{Dance, Export, grid_with_beats};

/// The format.
pub(super) struct Midi;

/// Ticks to a quarter note.
const TICKS: u32 = 480;
/// Times nearer than this are one.
const NEAR_S: f64 = 1e-4;
/// General MIDI 1 percussion: channel 10, keys of the high and the low wood block.
const PERCUSSION: u8 = 9;
const HIGH_WOOD_BLOCK: u8 = 76;
const LOW_WOOD_BLOCK: u8 = 77;
/// The longest quarter note that a tempo of 24 bits can say: 16.8 seconds.
const LONGEST_US: u64 = 0xff_ffff;
/// Longest bar that is written as one.
const LONGEST_BAR: usize = 32;
/// A quarter note is 2 to the power of this to the whole.
const QUARTER: u8 = 2;
/// MIDI clocks to a metronome click and 32nd notes to a quarter, both as usual.
const CLOCKS: (u8, u8) = (24, 8);

impl Export for Midi {
    fn bytes(&self, song: &SongMap, dance: Dance<'_>) -> Result<Vec<u8>> {
        let grid = grid_with_beats(song)?;
        let view = song.view()?;
        let quarters = Quarters::new(&grid);
        let mut events: Vec<(u64, MetaMessage)> = Vec::new();
        events.push((0, MetaMessage::TrackName(view.title.as_bytes())));
        events.extend(quarters.tempos());
        events.extend(quarters.bars(&grid));
        let tick_at =
            |time_s: f64| quarters.tick(grid.beats_s.partition_point(|&t| t < time_s - NEAR_S));
        let names = view.names();
        for (phrase, name) in view.phrases.iter().zip(&names) {
            events.push((tick_at(phrase.start_s), MetaMessage::Marker(name.as_bytes())));
        }
        let parts: Vec<(f64, String)> = dance
            .iter()
            .flat_map(|(_, fit)| fit.placements.iter().filter(|p| p.danced > 0))
            .map(|p| (p.start_s, clean(&p.part)))
            .collect();
        for (start_s, name) in &parts {
            events.push((tick_at(*start_s), MetaMessage::Marker(name.as_bytes())));
        }
        let end = quarters.tick(grid.beats_s.len());
        let conductor =
            events.into_iter().map(|(tick, m)| (tick, TrackEventKind::Meta(m))).collect();
        let clicks =
            clicks(&grid, &quarters, view.counts.times_s.first().copied(), view.counts.end_s);
        let timing = Timing::Metrical(u15::new(TICKS as u16));
        let header = Header::new(Format::Parallel, timing);
        let mut bytes = Vec::new();
        Smf { header, tracks: vec![track(conductor, end), track(clicks, end)] }
            .write_std(&mut bytes)
            .map_err(|source| Error::Io { path: "MIDI".into(), source })?;
        Ok(bytes)
    }
}

/// Events at their ticks, in order, up to the end.
fn track(mut events: Vec<(u64, TrackEventKind<'_>)>, end: u64) -> Track<'_> {
    events.sort_by_key(|(tick, _)| *tick);
    let end = events.last().map_or(end, |(tick, _)| end.max(*tick));
    events.push((end, TrackEventKind::Meta(MetaMessage::EndOfTrack)));
    let mut now = 0;
    events
        .into_iter()
        .map(|(tick, kind)| {
            let delta = u28::new(u32::try_from(tick - now).unwrap_or(0));
            now = tick;
            TrackEvent { delta, kind }
        })
        .collect()
}

/// A click for every count from count 1 on, the first of each bar higher.
fn clicks(
    grid: &Grid,
    quarters: &Quarters,
    first_s: Option<f64>,
    end_s: f64,
) -> Vec<(u64, TrackEventKind<'static>)> {
    let mut events = vec![(0, TrackEventKind::Meta(MetaMessage::TrackName(b"Click")))];
    let Some(first_s) = first_s else { return events };
    let beats = grid.beats_s.iter().zip(grid.bar_positions()).enumerate();
    for (beat, (time_s, position)) in beats {
        if *time_s < first_s - NEAR_S || *time_s >= end_s - NEAR_S {
            continue;
        }
        let key = u7::new(if position == 1 { HIGH_WOOD_BLOCK } else { LOW_WOOD_BLOCK });
        let vel = u7::new(if position == 1 { 112 } else { 88 });
        let tick = quarters.tick(beat);
        let note = |message| TrackEventKind::Midi { channel: u4::new(PERCUSSION), message };
        events.push((tick, note(MidiMessage::NoteOn { key, vel })));
        let off = MidiMessage::NoteOff { key, vel: u7::new(64) };
        events.push((tick + u64::from(TICKS / 8), note(off)));
    }
    events
}

/// The song in quarter notes: those that lead in from 0 to the first beat, then one to a beat. A hole
/// too long for one quarter is several.
struct Quarters {
    /// Start and end of each quarter in microseconds are this and the next.
    starts_us: Vec<u64>,
    /// The quarter with which each beat starts, and the one after the last beat.
    of_beat: Vec<usize>,
}

impl Quarters {
    fn new(grid: &Grid) -> Quarters {
        let mut beats_us: Vec<u64> =
            grid.beats_s.iter().map(|t| (t.max(0.0) * 1e6).round() as u64).collect();
        let mut intervals: Vec<u64> = beats_us.windows(2).map(|pair| pair[1] - pair[0]).collect();
        intervals.sort_unstable();
        let period = intervals.get(intervals.len() / 2).copied().unwrap_or(500_000).max(1);
        // As many quarters lead in as go at the song's own pace, one at least where time passes.
        let first = beats_us.first().copied().unwrap_or(0);
        let lead_in = first.div_ceil(LONGEST_US).max((first + period / 2) / period);
        let mut starts_us = Vec::new();
        spread(&mut starts_us, 0, first, lead_in);
        let last = beats_us.last().copied().unwrap_or(0);
        let before = beats_us.iter().rev().nth(1).map_or(period, |before| last - before);
        beats_us.push(last + before.clamp(1, LONGEST_US));
        let mut of_beat = Vec::with_capacity(beats_us.len());
        for pair in beats_us.windows(2) {
            of_beat.push(starts_us.len());
            let quarters = (pair[1] - pair[0]).div_ceil(LONGEST_US).max(1);
            spread(&mut starts_us, pair[0], pair[1], quarters);
        }
        of_beat.push(starts_us.len());
        starts_us.extend(beats_us.last());
        Quarters { starts_us, of_beat }
    }

    /// Tick on which a beat stands; the end for the beat after the last.
    fn tick(&self, beat: usize) -> u64 {
        let quarter = self.of_beat.get(beat).or(self.of_beat.last());
        quarter.map_or(0, |quarter| *quarter as u64 * u64::from(TICKS))
    }

    /// A tempo wherever it changes.
    fn tempos(&self) -> Vec<(u64, MetaMessage<'static>)> {
        let mut tempos = Vec::new();
        let mut current = 0;
        for (quarter, pair) in self.starts_us.windows(2).enumerate() {
            let us = (pair[1] - pair[0]).clamp(1, LONGEST_US) as u32;
            if us != current {
                let tick = quarter as u64 * u64::from(TICKS);
                tempos.push((tick, MetaMessage::Tempo(u24::new(us))));
                current = us;
            }
        }
        tempos
    }

    /// A time signature wherever the length of the bar changes. What leads up to the first bar line is
    /// one short bar and then whole ones.
    fn bars(&self, grid: &Grid) -> Vec<(u64, MetaMessage<'static>)> {
        let usual = (grid.beats_per_bar.max(1) as usize).min(LONGEST_BAR);
        let mut lines: Vec<usize> =
            grid.downbeats.iter().filter_map(|beat| self.of_beat.get(beat.0).copied()).collect();
        let end = self.starts_us.len().saturating_sub(1);
        let first = lines.first().copied().unwrap_or(end);
        let mut starts: Vec<usize> = std::iter::once(0).filter(|_| first > 0).collect();
        starts.extend((first % usual..first).step_by(usual).filter(|start| *start > 0));
        lines.push(end);
        for pair in lines.windows(2) {
            let step = if pair[1] - pair[0] > LONGEST_BAR { usual } else { LONGEST_BAR };
            starts.extend((pair[0]..pair[1]).step_by(step));
        }
        starts.push(end);
        let mut signatures = Vec::new();
        let mut current = 0;
        for (place, pair) in starts.windows(2).enumerate() {
            let whole = pair[1] - pair[0];
            // The song may end within its last bar, which is no other bar for it.
            let ends_within = place + 2 == starts.len() && whole < usual;
            let length = if ends_within { usual } else { whole };
            if length != current && length > 0 {
                let tick = pair[0] as u64 * u64::from(TICKS);
                let (clocks, thirty_seconds) = CLOCKS;
                let signature =
                    MetaMessage::TimeSignature(length as u8, QUARTER, clocks, thirty_seconds);
                signatures.push((tick, signature));
                current = length;
            }
        }
        signatures
    }
}

/// Starts of `parts` quarters, as even as whole microseconds allow, from `from` to `to`.
fn spread(starts_us: &mut Vec<u64>, from: u64, to: u64, parts: u64) {
    starts_us.extend((0..parts).map(|part| from + (to - from) * part / parts));
}
