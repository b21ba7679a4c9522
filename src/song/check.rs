//! Whether a song map makes sense, before anything is built on it.

use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

use crate::audio::Recording;
use crate::rhythm::OtherPulse;
use crate::units::Beat;

use super::map::{Heard, HeardPhrase, Pulse, SetPhrase, SongMap, Tapped, UserSet};

/// Ten times the beats of two hours at 200 a minute.
const MOST_BEATS: usize = 240_000;
/// More phrases than eights in two hours.
const MOST_PHRASES: usize = 5_000;
/// A little over eleven days; no recording is longer.
pub(super) const LAST_S: f64 = 1e6;
/// Two beats nearer than a millisecond are one beat, and would be one after rounding.
pub(super) const NEAREST_S: f64 = 0.001;
/// Bars are counted by people.
const LONGEST_BAR: u32 = 64;
/// Longest name of a phrase, in characters.
pub(super) const LONGEST_LABEL: usize = 80;

type Sound = Result<(), String>;

/// Says what does not make sense: the field, its value, and what it should be.
pub(super) fn sound(map: &SongMap) -> Sound {
    seconds("recording.duration_s", map.recording.duration_s)?;
    heard(&map.heard)?;
    map.unaided.as_deref().map_or(Ok(()), |unaided| {
        heard(unaided).map_err(|why| why.replacen("heard", "unaided", 1))
    })?;
    set("set", &map.set)?;
    map.undo.as_deref().map_or(Ok(()), |undo| set("undo", undo))
}

fn heard(heard: &Heard) -> Sound {
    let grid = &heard.grid;
    at_most("heard.beats_s", grid.beats_s.len(), MOST_BEATS)?;
    ascending("heard.beats_s", &grid.beats_s)?;
    at_most("heard.downbeats", grid.downbeats.len(), grid.beats_s.len())?;
    for (place, beat) in grid.downbeats.iter().enumerate() {
        in_range(&format!("heard.downbeats[{place}]"), *beat, grid.beats_s.len())?;
    }
    if let Some(place) = grid.downbeats.windows(2).position(|pair| pair[0] >= pair[1]) {
        let (a, b) = (grid.downbeats[place].0, grid.downbeats[place + 1].0);
        return Err(format!(
            "heard.downbeats[{}] is {b}, which does not come after {a}",
            place + 1
        ));
    }
    if grid.beats_per_bar > LONGEST_BAR {
        return Err(format!("heard.beats_per_bar is {}, over {LONGEST_BAR}", grid.beats_per_bar));
    }
    if !(0.0..=1e4).contains(&grid.tempo_bpm) {
        return Err(format!("heard.tempo_bpm is {}, which is no tempo", grid.tempo_bpm));
    }
    share("heard.tempo_confidence", grid.tempo_confidence)?;
    share("heard.grid_confidence", grid.grid_confidence)?;
    at_most("heard.other_pulses", grid.other_pulses.len(), 1000)?;
    for (place, pulse) in grid.other_pulses.iter().enumerate() {
        let at = |field: &str| format!("heard.other_pulses[{place}].{field}");
        share(&at("score"), pulse.score)?;
        for (field, value) in [("tempo_bpm", pulse.tempo_bpm), ("ratio", pulse.ratio)] {
            if !(value > 0.0 && value <= 1e4) {
                return Err(format!("{} is {value}", at(field)));
            }
        }
    }
    if !grid.beats_s.is_empty() || heard.first_count_beat != Beat(0) {
        in_range("heard.first_count_beat", heard.first_count_beat, grid.beats_s.len())?;
    }
    at_most("heard.other_waits", heard.other_waits.len(), MOST_PHRASES)?;
    for (place, wait) in heard.other_waits.iter().enumerate() {
        in_range(&format!("heard.other_waits[{place}].beat"), wait.beat, grid.beats_s.len())?;
        share(&format!("heard.other_waits[{place}].score"), wait.score)?;
    }
    at_most("heard.phrases", heard.phrases.len(), MOST_PHRASES)?;
    for (place, phrase) in heard.phrases.iter().enumerate() {
        in_range(&format!("heard.phrases[{place}].beat"), phrase.beat, grid.beats_s.len())?;
        share(&format!("heard.phrases[{place}].strength"), phrase.strength)?;
        label(&format!("heard.phrases[{place}].label"), &phrase.label)?;
    }
    Ok(())
}

fn set(name: &str, set: &UserSet) -> Sound {
    let singles = [
        ("first_count_s", set.first_count_s),
        ("bar_line_s", set.bar_line_s),
        ("end_s", set.end_s),
    ];
    for (field, value) in singles {
        value.map_or(Ok(()), |value| seconds(&format!("{name}.{field}"), value))?;
    }
    if let Some(beats) = set.beats_per_bar
        && !(1..=LONGEST_BAR).contains(&beats)
    {
        return Err(format!("{name}.beats_per_bar is {beats}, not 1 to {LONGEST_BAR}"));
    }
    if let Some(Pulse { counts_per_minute: rate }) = set.pulse
        && !(rate > 0.0 && rate <= 1e4)
    {
        return Err(format!("{name}.pulse.counts_per_minute is {rate}, which is no tempo"));
    }
    let taps = set.tapped.iter().map(|tapped| tapped.beats_s.len()).sum();
    at_most(&format!("{name}.tapped"), taps, MOST_BEATS)?;
    for (place, tapped) in set.tapped.iter().enumerate() {
        let field = format!("{name}.tapped[{place}].beats_s");
        if tapped.beats_s.len() < 2 {
            return Err(format!("{field} holds fewer than two beats"));
        }
        ascending(&field, &tapped.beats_s)?;
    }
    at_most(&format!("{name}.phrases"), set.phrases.len(), MOST_PHRASES)?;
    for (place, phrase) in set.phrases.iter().enumerate() {
        seconds(&format!("{name}.phrases[{place}].start_s"), phrase.start_s)?;
        label(&format!("{name}.phrases[{place}].label"), &phrase.label)?;
    }
    at_most(&format!("{name}.removed_s"), set.removed_s.len(), MOST_PHRASES)?;
    at_most(&format!("{name}.changes_s"), set.changes_s.len(), MOST_PHRASES)?;
    for (place, change) in set.changes_s.iter().enumerate() {
        seconds(&format!("{name}.changes_s[{place}]"), *change)?;
    }
    for (place, removed) in set.removed_s.iter().enumerate() {
        seconds(&format!("{name}.removed_s[{place}]"), *removed)?;
    }
    Ok(())
}

fn seconds(field: &str, value: f64) -> Sound {
    if value.is_finite() && value.abs() <= LAST_S {
        return Ok(());
    }
    Err(format!("{field} is {value}, which is no time in a recording"))
}

fn share(field: &str, value: f64) -> Sound {
    if (0.0..=1.0).contains(&value) {
        return Ok(());
    }
    Err(format!("{field} is {value}, not between 0 and 1"))
}

fn at_most(field: &str, found: usize, most: usize) -> Sound {
    if found <= most { Ok(()) } else { Err(format!("{field} holds {found} items, over {most}")) }
}

fn in_range(field: &str, beat: Beat, beats: usize) -> Sound {
    if beat.0 < beats {
        return Ok(());
    }
    Err(format!("{field} is {}, but there are only {beats} beats, counted from 0", beat.0))
}

fn ascending(field: &str, times_s: &[f64]) -> Sound {
    for (place, &time) in times_s.iter().enumerate() {
        seconds(&format!("{field}[{place}]"), time)?;
        if place > 0 && time < times_s[place - 1] + NEAREST_S {
            let before = times_s[place - 1];
            return Err(format!("{field}[{place}] is {time}, which does not come after {before}"));
        }
    }
    Ok(())
}

fn label(field: &str, label: &str) -> Sound {
    if label.trim().is_empty() {
        return Err(format!("{field} is empty"));
    }
    if label.chars().count() > LONGEST_LABEL {
        return Err(format!("{field} is longer than {LONGEST_LABEL} characters"));
    }
    Ok(())
}

/// The first field that is missing or of another sort than it should be, in words. Asked before the
/// map as a whole is read, because the reader does not name the field, and takes lists for fields.
pub(super) fn misfit(map: &Map<String, Value>) -> Option<String> {
    let recording = object(map, "recording", true).or_else(|| {
        let fields = map.get("recording")?.as_object()?;
        let r = |key| typed::<f64>(fields, key, "recording.", true);
        r("duration_s").or_else(|| typed::<Recording>(map, "recording", "", true))
    });
    recording
        .or_else(|| object(map, "heard", true))
        .or_else(|| heard_misfit(map.get("heard")?.as_object()?))
        .or_else(|| object(map, "unaided", false))
        .or_else(|| {
            heard_misfit(map.get("unaided")?.as_object()?)
                .map(|why| why.replacen("heard", "unaided", 1))
        })
        .or_else(|| set_misfit(map, "set"))
        .or_else(|| set_misfit(map, "undo"))
}

fn heard_misfit(heard: &Map<String, Value>) -> Option<String> {
    let at = "heard.";
    ["tempo_bpm", "tempo_confidence", "grid_confidence"]
        .into_iter()
        .find_map(|key| typed::<f64>(heard, key, at, true))
        .or_else(|| typed::<bool>(heard, "steady", at, true))
        .or_else(|| typed::<u32>(heard, "beats_per_bar", at, true))
        .or_else(|| typed::<usize>(heard, "first_count_beat", at, true))
        .or_else(|| items::<f64>(heard, "beats_s", at, true))
        .or_else(|| items::<usize>(heard, "downbeats", at, true))
        .or_else(|| items::<OtherPulse>(heard, "other_pulses", at, true))
        .or_else(|| items::<HeardPhrase>(heard, "phrases", at, true))
}

fn set_misfit(map: &Map<String, Value>, key: &str) -> Option<String> {
    if let Some(wrong) = object(map, key, false) {
        return Some(wrong);
    }
    let set = map.get(key)?.as_object()?;
    let at = &format!("{key}.");
    ["first_count_s", "bar_line_s", "end_s"]
        .into_iter()
        .find_map(|key| typed::<f64>(set, key, at, false))
        .or_else(|| typed::<Pulse>(set, "pulse", at, false))
        .or_else(|| typed::<u32>(set, "beats_per_bar", at, false))
        .or_else(|| typed::<bool>(set, "phrases_complete", at, false))
        .or_else(|| items::<Tapped>(set, "tapped", at, false))
        .or_else(|| items::<SetPhrase>(set, "phrases", at, false))
        .or_else(|| items::<f64>(set, "removed_s", at, false))
        .or_else(|| items::<f64>(set, "changes_s", at, false))
}

fn object(map: &Map<String, Value>, key: &str, needed: bool) -> Option<String> {
    match map.get(key) {
        Some(Value::Object(_)) => None,
        Some(Value::Null) | None if !needed => None,
        Some(other) => Some(format!("{key} is {}, not fields in braces", short(other))),
        None => Some(format!("{key} is missing")),
    }
}

fn typed<T: DeserializeOwned>(
    map: &Map<String, Value>,
    key: &str,
    at: &str,
    needed: bool,
) -> Option<String> {
    match map.get(key) {
        None if needed => Some(format!("{at}{key} is missing")),
        None => None,
        Some(Value::Null) if !needed => None,
        Some(value) => misread::<T>(value).map(|why| format!("{at}{key}: {why}")),
    }
}

fn items<T: DeserializeOwned>(
    map: &Map<String, Value>,
    key: &str,
    at: &str,
    needed: bool,
) -> Option<String> {
    match map.get(key) {
        None if needed => Some(format!("{at}{key} is missing")),
        None => None,
        Some(Value::Array(values)) => values.iter().enumerate().find_map(|(place, value)| {
            misread::<T>(value).map(|why| format!("{at}{key}[{place}]: {why}"))
        }),
        Some(other) => Some(format!("{at}{key} is {}, not a list", short(other))),
    }
}

fn misread<T: DeserializeOwned>(value: &Value) -> Option<String> {
    let error = T::deserialize(value).err()?;
    let words = error
        .to_string()
        .replace("expected f64", "expected a number")
        .replace("expected u32", "expected a whole number")
        .replace("expected usize", "expected a whole number");
    Some(format!("{} does not fit here ({words})", short(value)))
}

/// A value as the file has it, not too much of it.
fn short(value: &Value) -> String {
    let text = value.to_string();
    match text.char_indices().nth(40) {
        Some((end, _)) => format!("{} …", &text[..end]),
        None => text,
    }
}
