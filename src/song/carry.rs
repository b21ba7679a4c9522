//! A pulse tapped, carried through the song.
//!
//! Input: taps, the beats heard and where beats are likely; output: where the pulse tapped goes on to.
//! What misled the ear misled it alike all through: half a beat beside, or at another level. So from
//! the taps on, both ways, a phase-locked loop follows whatever was heard on the pulse or half way
//! between its beats, and stops where the two no longer meet: there the song really changes. Where no
//! beats were heard at all it is counted on for a while.

use crate::rhythm::{Activations, median_interval_s};

use super::corrected::nearest_index;

/// How far from where the pulse is expected a beat may lie: a share of the interval, and the least in
/// seconds, while it is only known from taps and later.
const REACH: f64 = 0.06;
const LEAST_REACH_S: f64 = 0.025;
const FIRST_REACH_S: f64 = 0.045;
const FIRST_BEATS: usize = 4;
/// How much of a deviation goes into the next beat's place, and into the interval.
const PLACE_GAIN: f64 = 0.6;
const PACE_GAIN: f64 = 0.12;
/// No further than this share of the distance between two beats heard, or any pulse would meet something.
const MOST_REACH: f64 = 0.11;
/// Of this many beats in a row at least two thirds must meet something.
const SPAN: usize = 12;
/// Where no beat was heard within so many intervals, none need be met, for so many beats: a few taps
/// scatter too much to count further on.
const DEAF: f64 = 4.0;
const MOST_DEAF: usize = 32;

/// Where the pulse of the taps runs on before and after them, seconds, ascending; the taps left out.
pub(super) fn carried(taps_s: &[f64], heard_s: &[f64], activations: &Activations) -> Vec<f64> {
    let marks = marks(heard_s, activations);
    let Some((first, last, interval)) = straightened(taps_s, &marks) else { return Vec::new() };
    let end = activations.duration_s();
    let forward = followed(last, interval, &marks, heard_s, 0.0..end);
    // The same backward, on a clock that runs backward.
    let mirrored: Vec<f64> = marks.iter().rev().map(|time| -time).collect();
    let heard: Vec<f64> = heard_s.iter().rev().map(|time| -time).collect();
    let back = followed(-first, interval, &mirrored, &heard, -end..0.0);
    back.into_iter().rev().map(|time| -time).chain(forward).collect()
}

/// First and last tap and the interval, of the straight line through the taps, moved to the marks that they
/// lie beside: people tap a few hundredths of a second early (Aschersleben 2002, *Temporal control of
/// movements in sensorimotor synchronization*).
fn straightened(taps_s: &[f64], marks: &[f64]) -> Option<(f64, f64, f64)> {
    /// Of an interval.
    const BESIDE: f64 = 0.2;
    let n = taps_s.len() as f64;
    let (middle, mean) = ((n - 1.0) / 2.0, taps_s.iter().sum::<f64>() / n);
    let places = || taps_s.iter().enumerate().map(|(k, tap)| (k as f64 - middle, tap - mean));
    let across: f64 = places().map(|(x, _)| x * x).sum();
    let interval = places().map(|(x, y)| x * y).sum::<f64>() / across;
    if !interval.is_finite() || interval <= 0.0 {
        return None;
    }
    let line = |k: usize| mean + interval * (k as f64 - middle);
    let mut offs: Vec<f64> = (0..taps_s.len())
        .filter_map(|k| {
            let at = nearest_index(marks, line(k))?;
            Some(marks[at] - line(k)).filter(|off| off.abs() < BESIDE * interval)
        })
        .collect();
    offs.sort_by(f64::total_cmp);
    let met = 2 * offs.len() > taps_s.len();
    let off = if met { offs[offs.len() / 2] } else { 0.0 };
    Some((line(0) + off, line(taps_s.len() - 1) + off, interval))
}

/// Beats heard, the places half way between them, and whatever else is half likely a beat; ascending.
fn marks(heard_s: &[f64], activations: &Activations) -> Vec<f64> {
    const LIKELY: f32 = 0.2;
    let usual = median_interval_s(heard_s).unwrap_or(0.0);
    let between = heard_s.windows(2).filter(|pair| pair[1] - pair[0] < 1.5 * usual);
    let between = between.map(|pair| (pair[0] + pair[1]) / 2.0);
    let peaks = activations.beat.windows(3).enumerate().filter_map(|(k, p)| {
        let summit = p[1] >= LIKELY && p[1] >= p[0] && p[1] > p[2];
        summit.then(|| (k + 1) as f64 / activations.frames_per_second)
    });
    let mut marks: Vec<f64> = heard_s.iter().copied().chain(between).chain(peaks).collect();
    marks.sort_by(f64::total_cmp);
    marks
}

/// Beats after `from_s`, as far as they meet the marks.
fn followed(
    from_s: f64,
    interval_s: f64,
    marks: &[f64],
    heard_s: &[f64],
    within: std::ops::Range<f64>,
) -> Vec<f64> {
    let mut deaf = 0;
    let usual = median_interval_s(heard_s).unwrap_or(interval_s);
    let is_deaf = |time: f64, reach: f64| {
        let at = heard_s.partition_point(|&heard| heard < time - reach);
        heard_s.get(at).is_none_or(|&heard| heard > time + reach)
    };
    let (mut beats, mut met): (Vec<f64>, Vec<bool>) = (Vec::new(), Vec::new());
    let (mut last, mut interval) = (from_s, interval_s);
    loop {
        let expected = last + interval;
        if !within.contains(&expected) || interval <= 0.1 {
            break;
        }
        let least = if beats.len() < FIRST_BEATS { FIRST_REACH_S } else { LEAST_REACH_S };
        let reach = (REACH * interval).min(MOST_REACH * usual).max(least);
        let at = marks.partition_point(|&mark| mark < expected);
        let near = [at.checked_sub(1), Some(at)];
        let near = near.iter().flatten().filter_map(|&k| marks.get(k)).map(|mark| mark - expected);
        let off = near.min_by(|a, b| a.abs().total_cmp(&b.abs())).filter(|off| off.abs() <= reach);
        let unheard = off.is_none() && deaf < MOST_DEAF && is_deaf(expected, DEAF * interval);
        deaf += usize::from(unheard);
        met.push(off.is_some() || unheard);
        let off = off.unwrap_or(0.0);
        last = expected + PLACE_GAIN * off;
        interval += PACE_GAIN * off;
        beats.push(last);
        let recent = &met[met.len().saturating_sub(SPAN)..];
        if recent.len() == SPAN && is_lost(recent) {
            break;
        }
    }
    // The last beats that met nothing are no beats of the song's.
    let recent = met.len().saturating_sub(SPAN);
    let lost = is_lost(&met[recent..]);
    let first_lost = || met[recent..].iter().position(|met| !met).unwrap_or(0);
    let keep = if lost { recent + first_lost() } else { met.len() };
    let keep = met[..keep].iter().rposition(|met| *met).map_or(0, |k| k + 1);
    beats.truncate(keep);
    beats
}

/// Whether too few beats in a row met something.
fn is_lost(met: &[bool]) -> bool {
    3 * met.iter().filter(|met| **met).count() < 2 * met.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn every(interval_s: f64, from_s: f64, to_s: f64) -> Vec<f64> {
        (0..).map(|k| from_s + f64::from(k) * interval_s).take_while(|time| *time < to_s).collect()
    }

    fn quiet(seconds: usize) -> Activations {
        let frames = vec![0.0; 50 * seconds];
        Activations { frames_per_second: 50.0, beat: frames.clone(), downbeat: frames }
    }

    fn all_near(found: &[f64], wanted: &[f64]) -> bool {
        found.len() == wanted.len() && found.iter().zip(wanted).all(|(f, w)| (f - w).abs() < 0.03)
    }

    #[test]
    fn taps_half_a_beat_beside_run_on_though_the_ear_changed_its_mind_midway() {
        // Heard late by half a beat up to 0:20, right after that.
        let mut heard = every(0.5, 0.25, 20.1);
        heard.extend(every(0.5, 20.5, 40.0));
        let taps = [9.99, 10.51, 11.0, 11.49, 12.01];
        let found = carried(&taps, &heard, &quiet(41));
        let wanted: Vec<f64> =
            every(0.5, 0.5, 39.6).into_iter().filter(|t| !(9.9..12.1).contains(t)).collect();
        assert!(all_near(&found, &wanted), "{found:?}");
    }

    #[test]
    fn a_drift_is_followed_and_a_change_of_tempo_ends_it() {
        let mut heard = vec![1.0];
        while heard[heard.len() - 1] < 30.0 {
            let last: f64 = heard[heard.len() - 1];
            heard.push(last + 0.5 + 0.002 * last);
        }
        let change = heard[heard.len() - 1];
        heard.extend(every(0.411, change + 0.411, 50.0));
        // Tapped at half the pace heard.
        let taps: Vec<f64> = heard[10..19].iter().step_by(2).copied().collect();
        let found = carried(&taps, &heard, &quiet(51));
        let before: Vec<f64> = heard.iter().step_by(2).copied().filter(|t| *t < change).collect();
        let missed = before
            .iter()
            .filter(|&&b| !taps.contains(&b) && !found.iter().any(|f| (f - b).abs() < 0.04));
        assert!(missed.count() <= 1, "{found:?}");
        assert!(found.iter().all(|&f| f < change + 4.0), "runs on past the change: {found:?}");
    }

    #[test]
    fn where_nothing_was_heard_it_is_counted_on_for_a_while() {
        let found = carried(&[20.0, 20.5, 21.0], &[], &quiet(60));
        let (from, to) = (found[0], found[found.len() - 1]);
        assert!(from < 9.0 && from >= 20.0 - 0.5 * MOST_DEAF as f64, "{found:?}");
        assert!(to > 32.0 && to <= 21.0 + 0.5 * MOST_DEAF as f64, "{found:?}");
        assert!(carried(&[1.0], &[], &quiet(3)).is_empty());
    }
}
