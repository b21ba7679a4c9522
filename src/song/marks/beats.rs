//! Marks on beats: first count, end, pulse, bars, and stretches tapped anew.

use crate::error::{Error, Result};
use crate::rhythm::{self, median_interval_s};
use crate::units::{Count, clock};

use super::super::corrected::{Corrected, nearest_index};
use super::super::json::rounded;
use super::super::map::{Pulse, SongMap, Tapped};
use super::super::pulse::Ratio;
use super::{At, Place, bad};

/// Counts a minute that can be danced at all, generously: from a step every four seconds to eight a
/// second.
const DANCEABLE: std::ops::RangeInclusive<f64> = 15.0..=480.0;
/// Taps nearer together than this, in seconds, are no beats: 600 a minute.
const NEAREST_TAPS_S: f64 = 0.1;
/// An interval this many times the usual one probably holds a tap that was missed.
const GAP: f64 = 1.6;
/// A rate this many times off the nearest pulse is no slip in counting out a minute: something else
/// is meant.
const AS_MEANT: f64 = 1.15;
/// Longest bar that is counted.
const LONGEST_BAR: u32 = 16;

impl SongMap {
    pub(super) fn mark_first(&mut self, place: &Place) -> Result<String> {
        let corrected = self.corrected();
        let beat = self.beat_at(place, &corrected)?;
        let before = corrected.first;
        let time_s = corrected.grid.beats_s[beat];
        self.set.first_count_s = Some(rounded(time_s));
        let at = clock(time_s);
        Ok(match before {
            Some(before) if before == beat => format!("counting starts at {at}, as before"),
            Some(before) => format!(
                "counting starts at {at}; that was count {}",
                Count(1) + (beat as i32 - before as i32)
            ),
            None => format!("counting starts at {at}"),
        })
    }

    pub(super) fn mark_end(&mut self, place: &Place) -> Result<String> {
        let before = self.set.end_s.take();
        let view = self.view()?;
        let count = place.count(&view).inspect_err(|_| self.set.end_s = before)?;
        // A count is named by the one that is danced last, a time by when it is over.
        let (last, end) = match place.at {
            At::Count(_) => (count, count + 1),
            At::Time(_) => (count + -1, count),
        };
        if last < Count::FIRST {
            self.set.end_s = before;
            return Err(bad(format!("\"{}\" would leave no count to dance to", place.typed)));
        }
        if end < view.counts.end() {
            self.set.end_s = Some(rounded(view.counts.time_or_beyond_s(end)));
        }
        let over = clock(view.counts.time_or_beyond_s(end));
        Ok(format!("the last count is {last}; it is over at {over}"))
    }

    pub(super) fn scale_pulse(&mut self, factor: f64) -> Result<String> {
        let tempo = self.beat_tempo()?;
        let now = self.set.pulse.map_or(Ratio::ONE, |p| Ratio::nearest(tempo, p.counts_per_minute));
        let wanted = now.as_f64() * factor;
        let possible = Ratio::ALL.into_iter().find(|r| (r.as_f64() / wanted - 1.0).abs() < 1e-9);
        let Some(ratio) = possible else {
            return Err(bad(format!(
                "counts are {} already; no pulse further from the beats can be counted",
                self.pulse_words(tempo, now)
            )));
        };
        self.take_pulse(tempo, ratio)
    }

    pub(super) fn set_pulse(&mut self, rate: f64) -> Result<String> {
        let tempo = self.beat_tempo()?;
        let ratio = Ratio::nearest(tempo, rate);
        let reached = tempo * ratio.as_f64();
        if !(reached / AS_MEANT..=reached * AS_MEANT).contains(&rate) {
            let choices: Vec<String> = Ratio::ALL
                .iter()
                .map(|r| tempo * r.as_f64())
                .filter(|rate| DANCEABLE.contains(rate))
                .map(|rate| format!("{rate:.0}"))
                .collect();
            return Err(bad(format!(
                "{rate} counts a minute do not go with the beats, which allow {}; where the beats \
                 themselves are wrong, tap them anew with \"tap\"",
                choices.join(", ")
            )));
        }
        self.take_pulse(tempo, ratio)
    }

    fn take_pulse(&mut self, tempo: f64, ratio: Ratio) -> Result<String> {
        let rate = tempo * ratio.as_f64();
        if !DANCEABLE.contains(&rate) {
            return Err(bad(format!(
                "that would make {rate:.0} counts a minute, which nobody can dance ({} to {})",
                DANCEABLE.start(),
                DANCEABLE.end()
            )));
        }
        self.set.pulse = Some(Pulse { counts_per_minute: rounded(rate) });
        Ok(format!("counts are {}", self.pulse_words(tempo, ratio)))
    }

    /// Solves the song at a rate that does not go with the beats heard; `None` where the sound does
    /// not allow it either.
    pub(super) fn follow_pulse(
        &mut self,
        rate: f64,
        sound: Option<&rhythm::Heard>,
    ) -> Option<String> {
        if !DANCEABLE.contains(&rate) {
            return None;
        }
        self.set.pulse = Some(Pulse { counts_per_minute: rounded(rate) });
        self.hear_again(sound);
        let reached = 60.0 / median_interval_s(&self.heard.grid.beats_s)?;
        let followed =
            self.unaided.is_some() && (reached / AS_MEANT..=reached * AS_MEANT).contains(&rate);
        followed.then(|| format!("counts are heard anew, {reached:.0} a minute"))
    }

    pub(super) fn mark_change(&mut self, place: &Place) -> Result<String> {
        let corrected = self.corrected();
        let beat = self.beat_at(place, &corrected)?;
        let time_s = match place.at {
            At::Count(_) => corrected.grid.beats_s[beat],
            At::Time(time_s) => time_s,
        };
        let time_s = rounded(time_s);
        if !self.set.changes_s.contains(&time_s) {
            self.set.changes_s.push(time_s);
            self.set.changes_s.sort_by(f64::total_cmp);
        }
        Ok(format!("tempo or bars change at {}, and a bar starts there", clock(time_s)))
    }

    fn pulse_words(&self, tempo: f64, ratio: Ratio) -> String {
        let rate = tempo * ratio.as_f64();
        let how = match (ratio.counts, ratio.beats) {
            (1, 1) => "one to a beat".to_string(),
            (1, beats) => format!("one to {beats} beats"),
            (counts, _) => format!("{counts} to a beat"),
        };
        format!("{how}, {rate:.0} a minute")
    }

    /// Beats a minute of what was heard, or tapped where nothing was.
    fn beat_tempo(&self) -> Result<f64> {
        let heard = std::iter::once(&self.heard_unaided().grid.beats_s);
        heard
            .chain(self.set.tapped.iter().map(|tapped| &tapped.beats_s))
            .find_map(|times_s| median_interval_s(times_s))
            .map(|interval| 60.0 / interval)
            .ok_or_else(|| self.no_beats())
    }

    pub(super) fn shift_bars(&mut self, counts: i32) -> Result<String> {
        let corrected = self.corrected();
        let first = corrected.first.ok_or_else(|| self.no_beats())?;
        let bar = corrected.grid.beats_per_bar.max(1) as i32;
        // The bar line nearest to the first count; without any, the first count is one.
        let line = corrected.grid.downbeats.iter().map(|b| b.0);
        let line = line.min_by_key(|beat| beat.abs_diff(first)).unwrap_or(first);
        let shift = counts.rem_euclid(bar);
        let beats = corrected.grid.beats_s.len() as i32;
        let target = [line as i32 + shift, line as i32 + shift - bar]
            .into_iter()
            .find(|beat| (0..beats).contains(beat))
            .and_then(|beat| usize::try_from(beat).ok())
            .ok_or_else(|| bad(format!("the song is too short to move its bars by {counts}")))?;
        self.start_bar(&corrected, target)
    }

    pub(super) fn bar_at(&mut self, place: &Place) -> Result<String> {
        let corrected = self.corrected();
        let beat = self.beat_at(place, &corrected)?;
        self.start_bar(&corrected, beat)
    }

    fn start_bar(&mut self, before: &Corrected, beat: usize) -> Result<String> {
        let time_s = before.grid.beats_s[beat];
        let was = before.first.map(|first| before.grid.beats_s[first]);
        if before.grid.downbeats.iter().any(|b| b.0 == beat) {
            return Ok(format!("a bar starts at {} already", clock(time_s)));
        }
        self.set.bar_line_s = Some(rounded(time_s));
        let after = self.corrected();
        let is = after.first.map(|first| after.grid.beats_s[first]);
        let first = match (was, is) {
            (Some(was), Some(is)) if was != is => {
                format!("; count 1 went with it, from {} to {}", clock(was), clock(is))
            }
            _ => String::new(),
        };
        Ok(format!("a bar starts at {}{first}", clock(time_s)))
    }

    pub(super) fn mark_beats_per_bar(&mut self, beats: u32) -> Result<String> {
        if !(1..=LONGEST_BAR).contains(&beats) {
            return Err(bad(format!(
                "{beats} counts to the bar cannot be; 1 to {LONGEST_BAR} can, 4 and 3 are usual"
            )));
        }
        self.set.beats_per_bar = Some(beats);
        Ok(format!("{beats} counts to every bar"))
    }

    /// The corrected beat that is meant, also before count 1.
    fn beat_at(&self, place: &Place, corrected: &Corrected) -> Result<usize> {
        let times = &corrected.grid.beats_s;
        let (Some(&start), Some(&end)) = (times.first(), times.last()) else {
            return Err(self.no_beats());
        };
        let outside = || {
            bad(format!(
                "there is no beat at {}: beats are known from {} to {}. Type the missing ones with \
                 \"tap\"",
                place.typed,
                clock(start),
                clock(end)
            ))
        };
        let first = corrected.first.ok_or_else(outside)?;
        match place.at {
            At::Count(count) => {
                let index = i64::from(count.0) - 1 + first as i64;
                usize::try_from(index).ok().filter(|i| *i < times.len()).ok_or_else(outside)
            }
            At::Time(time_s) => {
                let beat = nearest_index(times, time_s).ok_or_else(outside)?;
                let around = &times[beat.saturating_sub(2)..(beat + 3).min(times.len())];
                let slack = median_interval_s(around).unwrap_or(1.0) * 0.6;
                if (times[beat] - time_s).abs() <= slack { Ok(beat) } else { Err(outside()) }
            }
        }
    }

    fn no_beats(&self) -> Error {
        Error::NoPulse {
            path: self.recording.file.clone().into(),
            why: "its song map holds no beats".into(),
        }
    }

    pub(super) fn tap(&mut self, times_s: &[f64]) -> Result<(String, Vec<String>)> {
        let times: Vec<f64> = times_s.iter().map(|&t| rounded(t)).collect();
        let [first, .., last] = times.as_slice() else {
            return Err(bad(format!(
                "{} typed: a stretch needs two beats at least, better eight",
                if times.is_empty() { "no time was" } else { "only one time was" }
            )));
        };
        let duration = self.recording.duration_s;
        if let Some((place, time)) = times.iter().enumerate().find(|(_, t)| !t.is_finite()) {
            return Err(bad(format!("time {} of the list is {time}", place + 1)));
        }
        if *last > duration && duration > 0.0 {
            return Err(bad(format!(
                "{} is past the end of the recording, which is {} long",
                clock(*last),
                clock(duration)
            )));
        }
        for (place, pair) in times.windows(2).enumerate() {
            let (a, b) = (clock(pair[0]), clock(pair[1]));
            if pair[1] <= pair[0] {
                return Err(bad(format!(
                    "time {} of the list, {b}, does not come after {a}; times must go forward",
                    place + 2
                )));
            }
            if pair[1] - pair[0] < NEAREST_TAPS_S {
                return Err(bad(format!(
                    "times {} and {} of the list, {a} and {b}, are less than {NEAREST_TAPS_S} s apart; \
                     one of them is too many",
                    place + 1,
                    place + 2
                )));
            }
        }
        let usual = median_interval_s(&times).unwrap_or(1.0);
        let mut notes: Vec<String> = times
            .windows(2)
            .filter(|pair| pair[1] - pair[0] > GAP * usual)
            .take(5)
            .map(|pair| {
                format!("a tap may be missing between {} and {}", clock(pair[0]), clock(pair[1]))
            })
            .collect();
        notes.extend(self.other_pace(usual));
        let message = format!(
            "{} beats tapped from {} to {}, {:.0} a minute; they replace what was heard there",
            times.len(),
            clock(*first),
            clock(*last),
            60.0 / usual
        );
        let covered = |old: &Tapped| old.beats_s.iter().all(|time| (*first..=*last).contains(time));
        self.set.tapped.retain(|old| !covered(old));
        self.set.tapped.push(Tapped { beats_s: times });
        Ok((message, notes))
    }

    /// Says so when taps go at another pulse than the beats heard, and the pulse was not set.
    fn other_pace(&self, interval_s: f64) -> Option<String> {
        let heard = median_interval_s(&self.heard_unaided().grid.beats_s)?;
        let ratio = Ratio::nearest(60.0 / heard, 60.0 / interval_s);
        let (word, command) = match (ratio.counts, ratio.beats) {
            (1, 2) => ("half as fast as", "half"),
            (2, 1) => ("twice as fast as", "double"),
            _ => return None,
        };
        self.set.pulse.is_none().then(|| {
            format!(
                "the taps go {word} the beats heard; if the whole song is danced so, add \"{command}\""
            )
        })
    }
}
