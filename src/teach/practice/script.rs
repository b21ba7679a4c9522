//! What sounds when: music and sounds, each at its time.

use super::passage::Passage;
use crate::fit::{Fit, Placement};
use crate::routine::{QUARTERS_PER_COUNT, Routine, Weight};
use crate::song::SongView;
use crate::units::Count;

/// One kind of sound beside the music.
#[derive(Debug, Clone, PartialEq)]
pub enum Layer {
    /// A click on a count; on the first of an eight it is higher.
    Click {
        /// Whether it starts an eight.
        first: bool,
    },
    /// A spoken count, 1 to 8.
    Count(u32),
    /// The word between two counts.
    And,
    /// A step; heavy when it takes weight.
    Step {
        /// Whether weight is taken.
        heavy: bool,
    },
    /// A call: the name of what comes.
    Call(String),
}

/// Loudness of each layer, decibels; `None` leaves it out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layers {
    /// The recording.
    pub music: Option<f64>,
    /// Clicks.
    pub click: Option<f64>,
    /// Spoken counts.
    pub voice: Option<f64>,
    /// The word "and" between the counts, as loud as the counts.
    pub and: bool,
    /// The sound of the steps.
    pub steps: Option<f64>,
    /// Calls.
    pub calls: Option<f64>,
    /// Music on the left, all the rest on the right.
    pub apart: bool,
}

/// How a passage is practised.
#[derive(Debug, Clone, PartialEq)]
pub struct Wishes {
    /// What.
    pub passage: Passage,
    /// How often at each tempo.
    pub times: u32,
    /// Tempi, shares of the song's, one after the other.
    pub tempi: Vec<f64>,
    /// Counts that lead in, before the first time at each tempo.
    pub lead_in: u32,
    /// Which layers, how loud.
    pub layers: Layers,
    /// How many counts ahead a call comes.
    pub call_ahead: u32,
}

/// A stretch of music.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// When it starts in the practice track, seconds.
    pub at_s: f64,
    /// When it ends there.
    pub end_s: f64,
    /// Where it starts in the recording, seconds.
    pub from_s: f64,
    /// How many times as fast.
    pub tempo: f64,
}

/// A sound at a time.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// When, seconds.
    pub at_s: f64,
    /// What.
    pub layer: Layer,
}

/// A practice track before it is made.
#[derive(Debug, Clone, PartialEq)]
pub struct Script {
    /// Music, in order.
    pub segments: Vec<Segment>,
    /// Sounds, in order of time.
    pub events: Vec<Event>,
    /// Named places.
    pub markers: Vec<(f64, String)>,
    /// Its length, seconds.
    pub duration_s: f64,
    /// Layers as wished.
    pub layers: Layers,
}

/// Silence before the first sound, so that no player swallows it, seconds.
const LEAD_S: f64 = 0.1;
/// What rings on after the last count, seconds.
pub(super) const RING_S: f64 = 0.5;
/// Between one tempo and the next, counts of rest.
const REST_COUNTS: f64 = 4.0;

/// Lays out a practice track.
pub fn script(song: &SongView, routine: Option<(&Routine, &Fit)>, wishes: &Wishes) -> Script {
    let passage = &wishes.passage;
    let time = |count: Count| song.counts.time_or_beyond_s(count);
    let (from_s, to_s) = match passage.whole {
        true => (0.0, song.duration_s),
        false => (time(passage.from), time(passage.to)),
    };
    let inside = sounds_inside(song, routine, wishes);
    let marks = marks_inside(song, routine, passage);
    let mut script = Script {
        segments: Vec::new(),
        events: Vec::new(),
        markers: Vec::new(),
        duration_s: 0.0,
        layers: wishes.layers,
    };
    let mut at_s = LEAD_S;
    for (turn, &tempo) in wishes.tempi.iter().enumerate() {
        let period_s = (time(passage.from + 1) - time(passage.from)) / tempo;
        if turn > 0 {
            at_s += REST_COUNTS * period_s;
        }
        for k in 0..wishes.lead_in {
            let left = wishes.lead_in - k;
            let number = (cycle(song) - (left - 1) % cycle(song)).max(1);
            let count_s = at_s + f64::from(k) * period_s;
            lead(&mut script.events, count_s, number, &wishes.layers);
        }
        at_s += f64::from(wishes.lead_in) * period_s;
        // Calls that come before the passage sound in its lead-in.
        for time_round in 1..=wishes.times {
            let name = match wishes.times {
                1 => format!("{} at {:.0} %", passage.name, 100.0 * tempo),
                _ => format!("{} at {:.0} %, time {time_round}", passage.name, 100.0 * tempo),
            };
            script.markers.push((at_s, name));
            let placed = |song_s: f64| at_s + (song_s - from_s) / tempo;
            for (song_s, layer) in &inside {
                let heard_s = placed(*song_s);
                if heard_s >= 0.0
                    && (*song_s >= from_s - 1e-6 || time_round > 1 || wishes.lead_in > 0)
                {
                    script.events.push(Event { at_s: heard_s, layer: layer.clone() });
                }
            }
            script
                .markers
                .extend(marks.iter().map(|(song_s, name)| (placed(*song_s), name.clone())));
            let end_s = at_s + (to_s - from_s) / tempo;
            script.segments.push(Segment { at_s, end_s, from_s, tempo });
            at_s = end_s;
        }
    }
    script.duration_s = at_s + RING_S;
    script.events.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    script.markers.sort_by(|a, b| a.0.total_cmp(&b.0));
    script
}

/// Counts to a spoken round: eight, or six where bars have three.
fn cycle(song: &SongView) -> u32 {
    if song.counts_per_bar.is_multiple_of(3) { 6 } else { 8 }
}

fn lead(events: &mut Vec<Event>, at_s: f64, number: u32, layers: &Layers) {
    // A lead-in is heard even where nothing else is counted.
    if layers.click.is_some() || layers.voice.is_none() {
        events.push(Event { at_s, layer: Layer::Click { first: number == 1 } });
    }
    if layers.voice.is_some() {
        events.push(Event { at_s, layer: Layer::Count(number) });
    }
}

/// Sounds of a passage with their times in the song, a call perhaps before its start.
fn sounds_inside(
    song: &SongView,
    routine: Option<(&Routine, &Fit)>,
    wishes: &Wishes,
) -> Vec<(f64, Layer)> {
    let Wishes { passage, layers, .. } = wishes;
    let time = |count: Count| song.counts.time_or_beyond_s(count);
    // Between counts, as the song runs from one to the next.
    let between = |place: f64| {
        let whole = place.floor();
        let (a, b) = (time(Count(whole as i32)), time(Count(whole as i32 + 1)));
        a + (b - a) * (place - whole)
    };
    let mut sounds = Vec::new();
    for number in passage.from.0..passage.to.0 {
        let count = Count(number);
        let into = (count - start_of(song, routine, count)) as u32 % cycle(song);
        if layers.click.is_some() {
            sounds.push((time(count), Layer::Click { first: into == 0 }));
        }
        if layers.voice.is_some() {
            sounds.push((time(count), Layer::Count(into + 1)));
            if layers.and {
                sounds.push((between(f64::from(number) + 0.5), Layer::And));
            }
        }
    }
    let Some((routine, fit)) = routine else { return sounds };
    for placement in fit.placements.iter().filter(|p| !p.left_out) {
        if layers.calls.is_some() {
            call(&mut sounds, placement.start_count, &placement.part, wishes, &between);
        }
        let part = routine.order.get(placement.order_index).map(|item| item.part);
        let Some(part) = part.and_then(|p| routine.parts.get(p)) else { continue };
        let end = placement.start_count + placement.danced as i32;
        let mut start = placement.start_count;
        let mut last = "";
        for step in part.steps() {
            if start >= end {
                break;
            }
            if layers.calls.is_some() && step.name != last && start != placement.start_count {
                call(&mut sounds, start, &step.name, wishes, &between);
            }
            last = &step.name;
            if layers.steps.is_some() {
                for movement in step.moves.iter().filter(|m| !m.joined) {
                    let weight = movement.movement.weight;
                    let heavy = matches!(weight, Weight::Onto | Weight::Rock | Weight::Both);
                    let last_sound = movement.sounds.last();
                    for quarter in &movement.sounds {
                        // Count 1 of a step sounds at its fourth quarter.
                        let quarters = f64::from(*quarter) / f64::from(QUARTERS_PER_COUNT);
                        let place = f64::from(start.0) + quarters - 1.0;
                        let takes_weight =
                            heavy && (Some(quarter) == last_sound || weight == Weight::Rock);
                        if within(passage, place) {
                            sounds.push((between(place), Layer::Step { heavy: takes_weight }));
                        }
                    }
                }
            }
            start = start + step.counts as i32;
        }
    }
    sounds
}

fn within(passage: &Passage, place: f64) -> bool {
    // The upbeat into the first count belongs to it; that into the count after the last does not.
    place > f64::from(passage.from.0) - 0.9 && place < f64::from(passage.to.0) - 0.6
}

fn call(
    sounds: &mut Vec<(f64, Layer)>,
    at: Count,
    name: &str,
    wishes: &Wishes,
    between: &dyn Fn(f64) -> f64,
) {
    if at >= wishes.passage.from && at < wishes.passage.to {
        let place = f64::from(at.0) - f64::from(wishes.call_ahead);
        sounds.push((between(place), Layer::Call(name.to_string())));
    }
}

/// Where counting in eights starts anew at or before a count: the part danced there, or the phrase.
fn start_of(song: &SongView, routine: Option<(&Routine, &Fit)>, count: Count) -> Count {
    let holds = |p: &&Placement| {
        !p.left_out && p.start_count <= count && count < p.start_count + p.danced as i32
    };
    let part = routine.and_then(|(_, fit)| fit.placements.iter().find(holds));
    match (part, song.phrase_at(count)) {
        (Some(part), _) => part.start_count,
        (None, Some(phrase)) => song.phrases[phrase].start,
        (None, None) => Count::FIRST,
    }
}

/// Named places in a passage, after its start.
fn marks_inside(
    song: &SongView,
    routine: Option<(&Routine, &Fit)>,
    passage: &Passage,
) -> Vec<(f64, String)> {
    let names = song.names();
    let phrases = song.phrases.iter().zip(names).map(|(p, name)| (p.start, name));
    let parts = routine.into_iter().flat_map(|(_, fit)| &fit.placements);
    let parts = parts.filter(|p| !p.left_out).map(|p| (p.start_count, p.part.clone()));
    let all: Vec<(Count, String)> = match routine {
        Some(_) => parts.collect(),
        None => phrases.collect(),
    };
    let inside = |at: &Count| {
        *at >= passage.from && *at < passage.to && (passage.whole || *at > passage.from)
    };
    all.into_iter()
        .filter(|(at, _)| inside(at))
        .map(|(at, name)| (song.counts.time_or_beyond_s(at), name))
        .collect()
}
