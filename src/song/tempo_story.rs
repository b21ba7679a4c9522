//! The tempo's story: where it changes, slows or quickens, and stops.
//!
//! Input: the times of counts; output: what a teacher would say of them, in order. Counting goes on across a stop.

use crate::rhythm::median_interval_s;
use crate::units::clock;

/// Something that the tempo does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TempoEvent {
    /// From here on it is another.
    Changes {
        /// When, seconds.
        at_s: f64,
        /// Counts a minute before.
        from: f64,
        /// And after.
        to: f64,
    },
    /// It slows down (or quickens) gradually.
    Bends {
        /// When it begins to, seconds.
        from_s: f64,
        /// When it has, seconds.
        to_s: f64,
        /// Counts a minute before.
        from: f64,
        /// And after.
        to: f64,
    },
    /// There is a gap of more than a count and a half.
    Stops {
        /// The last count before it, seconds.
        from_s: f64,
        /// The next after it, seconds.
        to_s: f64,
    },
}

/// Counts that a tempo is taken over.
const SPAN: usize = 8;
/// A tempo that differs by more than this, as a ratio, is another.
const CHANGE: f64 = 1.06;
/// An interval longer than this, in usual intervals, is a stop.
const STOP: f64 = 1.6;
/// Counts within which a change from one tempo to another is sudden.
const SUDDEN: usize = 4;

/// The story of counts at `times_s`, seconds, ascending. Empty where the tempo holds.
pub fn tempo_story(times_s: &[f64]) -> Vec<TempoEvent> {
    let intervals: Vec<f64> = times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mut events = Vec::new();
    let mut from = 0;
    for i in 0..=intervals.len() {
        let stop = intervals.get(i).is_some_and(|&interval| {
            let around = &times_s[i.saturating_sub(SPAN)..(i + SPAN + 2).min(times_s.len())];
            median_interval_s(around).is_some_and(|usual_s| interval > STOP * usual_s)
        });
        if stop || i == intervals.len() {
            bends(times_s.get(from..=i).unwrap_or_default(), &mut events);
            from = i + 1;
        }
        if stop {
            events.push(TempoEvent::Stops { from_s: times_s[i], to_s: times_s[i + 1] });
        }
    }
    events
}

/// Changes and bends of a stretch without a stop.
fn bends(times_s: &[f64], events: &mut Vec<TempoEvent>) {
    if times_s.len() < 2 * SPAN {
        return;
    }
    let intervals: Vec<f64> = times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    // Medians over a few counts: people do not play to the hundredth.
    let local = |at: usize| {
        let from = at.saturating_sub(SPAN / 2).min(intervals.len() - SPAN);
        median_interval_s(&times_s[from..=from + SPAN]).map_or(0.0, |usual_s| 60.0 / usual_s)
    };
    let mut held = local(0);
    let mut i = 1;
    while i < intervals.len() {
        if !differ(local(i), held) {
            // A tempo that drifts slowly is followed, and no event.
            held += (local(i) - held) * 0.05;
            i += 1;
            continue;
        }
        // On from here the tempo moves until it holds for a while.
        let mut end = i;
        while end + 1 < intervals.len() && differ_by(local(end), local(end + SPAN / 2), 1.015) {
            end += 1;
        }
        let from = i.saturating_sub(SPAN / 2);
        let last = intervals.len() - 1;
        let to =
            if end >= last { 60.0 / intervals[last] } else { local((end + SPAN / 2).min(last)) };
        let sharp = steepest(&intervals, from, (end + SPAN / 2).min(last));
        events.push(match sharp {
            Some(at) => TempoEvent::Changes { at_s: times_s[at], from: held, to },
            None => TempoEvent::Bends {
                from_s: times_s[from],
                to_s: times_s[(end + 1).min(times_s.len() - 1)],
                from: held,
                to,
            },
        });
        held = to;
        i = end + SPAN / 2 + 1;
    }
}

/// The count at which the tempo changes, if within few counts it does most of what it does between two places.
fn steepest(intervals: &[f64], from: usize, to: usize) -> Option<usize> {
    let mean = |range: std::ops::Range<usize>| {
        let part = intervals.get(range).unwrap_or_default();
        part.iter().sum::<f64>() / part.len().max(1) as f64
    };
    let whole = (mean(to.saturating_sub(SUDDEN)..to + 1) / mean(from..from + SUDDEN)).ln();
    let jump = |at: usize| (mean(at..at + SUDDEN) / mean(at.saturating_sub(SUDDEN)..at)).ln();
    let at = (from + SUDDEN..=to.saturating_sub(SUDDEN - 1).max(from + SUDDEN))
        .filter(|at| at + SUDDEN <= intervals.len())
        .max_by(|&a, &b| jump(a).abs().total_cmp(&jump(b).abs()))?;
    (jump(at) / whole > 0.85 && to + 1 < intervals.len()).then_some(at)
}

fn differ(a: f64, b: f64) -> bool {
    differ_by(a, b, CHANGE)
}

fn differ_by(a: f64, b: f64, ratio: f64) -> bool {
    a / b > ratio || b / a > ratio
}

impl TempoEvent {
    /// As a teacher would say it.
    pub fn words(&self) -> String {
        match *self {
            TempoEvent::Changes { at_s, from, to } => {
                let how = if to > from { "quickens" } else { "slows" };
                format!("{how} at once at {}, from {from:.0} to {to:.0} a minute", clock(at_s))
            }
            TempoEvent::Bends { from_s, to_s, from, to } => {
                let how = if to > from { "quickens" } else { "slows down" };
                format!(
                    "{how} from {} to {}, from {from:.0} to {to:.0} a minute",
                    clock(from_s),
                    clock(to_s)
                )
            }
            TempoEvent::Stops { from_s, to_s } => format!(
                "stops for {:.1} s after the count at {}; counting goes on at {}",
                to_s - from_s,
                clock(from_s),
                clock(to_s)
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counts with the given intervals, after one at 2 s; each wavers by a hundredth as people do.
    fn counts(intervals: impl IntoIterator<Item = f64>) -> Vec<f64> {
        let mut at = 2.0;
        let mut times = vec![at];
        for (k, interval) in intervals.into_iter().enumerate() {
            at += interval * (1.0 + 0.01 * ((k * 37 % 11) as f64 / 5.0 - 1.0));
            times.push(at);
        }
        times
    }

    #[test]
    fn a_tempo_that_holds_has_no_story() {
        assert_eq!(tempo_story(&counts([0.5; 300])), []);
        assert_eq!(tempo_story(&[]), []);
        assert_eq!(tempo_story(&[1.0]), []);
        // Nor has a band that drifts a little.
        let drift = (0..300).map(|k| 0.5 * (1.0 + 0.02 * (k as f64 / 30.0).sin()));
        assert_eq!(tempo_story(&counts(drift)), []);
    }

    #[test]
    fn a_sudden_change_is_told_to_the_count() {
        let times = counts([0.5; 64].into_iter().chain([0.4; 64]));
        let story = tempo_story(&times);
        let [TempoEvent::Changes { at_s, from, to }] = story[..] else { panic!("{story:?}") };
        assert!((at_s - times[64]).abs() < 0.6, "{at_s}, not {}", times[64]);
        assert!((from - 120.0).abs() < 2.0 && (to - 150.0).abs() < 3.0, "{from} {to}");
        assert!(story[0].words().starts_with("quickens at once at 0:3"), "{}", story[0].words());
    }

    #[test]
    fn a_slowing_ending_is_told() {
        let slowing = (0..12).map(|k| 0.5 * (1.0 + 0.05 * f64::from(k + 1)));
        let times = counts([0.5; 100].into_iter().chain(slowing));
        let story = tempo_story(&times);
        let [TempoEvent::Bends { from_s, to_s, from, to }] = story[..] else { panic!("{story:?}") };
        assert!((from_s - times[100]).abs() < 3.0, "{from_s}");
        assert!(to_s > times[108], "{to_s}");
        assert!((from - 120.0).abs() < 3.0 && to < 85.0, "{from} {to}");
    }

    #[test]
    fn a_stop_is_told_and_nothing_else() {
        let times = counts([0.5; 64].into_iter().chain([2.2]).chain([0.5; 64]));
        let story = tempo_story(&times);
        let [TempoEvent::Stops { from_s, to_s }] = story[..] else { panic!("{story:?}") };
        assert!((from_s - times[64]).abs() < 1e-9 && (to_s - times[65]).abs() < 1e-9);
        assert!(story[0].words().starts_with("stops for 2.2 s"), "{}", story[0].words());
    }
}
