//! How well beats found agree with beats known.
//!
//! The measures of PyPI `mir_eval` (Raffel et al. 2014, *mir_eval: a transparent implementation of
//! common MIR metrics*), to the same numbers: F-measure with a window of 70 ms (Dixon 2007, *Evaluation
//! of the audio beat tracking system BeatRoot*) and the continuity measures of Hainsworth (2004) and
//! Klapuri, Eronen & Astola (2006). Times are seconds, ascending.

/// Window within which a beat is right, seconds.
pub const BEAT_WINDOW_S: f64 = 0.07;
/// Beats before this time are usually left out of a score, seconds.
pub const USUAL_TRIM_S: f64 = 5.0;
/// How far a beat may lie off, and how far its distance from the one before, in beats.
const CONTINUITY: f64 = 0.175;

/// Continuity scores, each 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Continuity {
    /// Longest unbroken stretch that is right, at the reference's own metrical level.
    pub cml_c: f64,
    /// Share that is right, at the reference's own level.
    pub cml_t: f64,
    /// As `cml_c`, at the best of: its own level, off the beat, twice, half on odd or on even beats.
    pub aml_c: f64,
    /// As `cml_t`, at the best of those levels.
    pub aml_t: f64,
}

/// The times from `from_s` on: what `mir_eval.beat.trim_beats` keeps.
pub fn trimmed(times_s: &[f64], from_s: f64) -> &[f64] {
    &times_s[times_s.partition_point(|&t| t < from_s)..]
}

/// Share of times that agree within `window_s`: twice the matches over all times of both. 0 when
/// either has none.
pub fn f_measure(reference_s: &[f64], found_s: &[f64], window_s: f64) -> f64 {
    if reference_s.is_empty() || found_s.is_empty() {
        return 0.0;
    }
    // All windows are alike, so pairing the earliest that fit gives the most pairs there can be.
    let (mut r, mut f, mut pairs) = (0, 0, 0usize);
    while let (Some(&reference), Some(&found)) = (reference_s.get(r), found_s.get(f)) {
        if found < reference - window_s {
            f += 1;
        } else if found <= reference + window_s
            || (found - window_s <= reference && reference <= found + window_s)
        {
            (r, f, pairs) = (r + 1, f + 1, pairs + 1);
        } else {
            r += 1;
        }
    }
    if pairs == 0 {
        return 0.0;
    }
    let precision = pairs as f64 / found_s.len() as f64;
    let recall = pairs as f64 / reference_s.len() as f64;
    2.0 * precision * recall / (precision + recall)
}

/// Continuity of the beats found. All 0 where either side has fewer than two beats.
pub fn continuity(reference_s: &[f64], found_s: &[f64]) -> Continuity {
    if reference_s.len() < 2 || found_s.len() < 2 {
        return Continuity::default();
    }
    let own = unbroken(reference_s, found_s);
    let mut best = own;
    for level in other_levels(reference_s) {
        let (longest, total) = unbroken(&level, found_s);
        best = (best.0.max(longest), best.1.max(total));
    }
    Continuity { cml_c: own.0, cml_t: own.1, aml_c: best.0, aml_t: best.1 }
}

/// The reference off the beat, at twice its tempo, and at half on its odd and its even beats.
fn other_levels(reference_s: &[f64]) -> [Vec<f64>; 4] {
    let off: Vec<f64> = reference_s.windows(2).map(|w| (w[0] + w[1]) / 2.0).collect();
    let mut double = Vec::with_capacity(2 * reference_s.len());
    for (k, &beat) in reference_s.iter().enumerate() {
        double.push(beat);
        double.extend(off.get(k));
    }
    let odd = reference_s.iter().step_by(2).copied().collect();
    let even = reference_s.iter().skip(1).step_by(2).copied().collect();
    [off, double, odd, even]
}

/// Longest unbroken run of right beats and number of right beats, as shares.
fn unbroken(reference_s: &[f64], found_s: &[f64]) -> (f64, f64) {
    let mut used = vec![false; reference_s.len()];
    let (mut run, mut longest, mut right) = (0usize, 0usize, 0usize);
    for m in 0..found_s.len() {
        let good = nearest(reference_s, found_s[m])
            .filter(|&near| !used[near] && agrees(reference_s, found_s, near, m));
        match good {
            Some(near) => {
                used[near] = true;
                run += 1;
                right += 1;
                longest = longest.max(run);
            }
            None => run = 0,
        }
    }
    let all = reference_s.len().max(found_s.len()) as f64;
    (longest as f64 / all, right as f64 / all)
}

/// Index of the nearest time; the earlier of two as near.
fn nearest(times_s: &[f64], time: f64) -> Option<usize> {
    let after = times_s.partition_point(|&t| t < time);
    let distance = |k: usize| times_s.get(k).map(|t| (t - time).abs());
    match (after.checked_sub(1).and_then(distance), distance(after)) {
        (Some(before), Some(next)) => {
            // Equal times stand first to last; take the first, as a search from the start does.
            let near = if before <= next { after - 1 } else { after };
            Some(times_s.partition_point(|&t| t < times_s[near]))
        }
        (Some(_), None) => Some(times_s.partition_point(|&t| t < times_s[after - 1])),
        (None, next) => next.map(|_| after),
    }
}

/// Whether beat `m` lies near reference beat `near` and its distance from its neighbour is right: the
/// neighbour before, or after for the first beat on either side.
fn agrees(reference_s: &[f64], found_s: &[f64], near: usize, m: usize) -> bool {
    let first = m == 0 || near == 0;
    let step = |times: &[f64], k: usize| {
        if first && k + 1 < times.len() {
            times[k + 1] - times[k]
        } else if k > 0 {
            times[k] - times[k - 1]
        } else {
            // One time alone, seen from itself round to itself.
            0.0
        }
    };
    let wanted = step(reference_s, near);
    let found = step(found_s, m);
    let off = (found_s[m] - reference_s[near]).abs();
    let (phase, period) = if wanted == 0.0 && first {
        let phase = if off == 0.0 { 1.0 } else { f64::INFINITY };
        (phase, if found == 0.0 { 0.0 } else { f64::INFINITY })
    } else {
        (off / wanted, (1.0 - found / wanted).abs())
    };
    phase < CONTINUITY && period < CONTINUITY
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<f64> {
        value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
    }

    /// Scores by mir_eval 0.8.2, written by `fixtures/make_beat_scores.py`.
    #[test]
    fn scores_equal_those_of_mir_eval() {
        let text = include_str!("../../fixtures/beat_scores.json");
        let cases: Value = serde_json::from_str(text).unwrap();
        let cases = cases.as_array().unwrap();
        assert!(cases.len() >= 40);
        for case in cases {
            let name = &case["name"];
            let (all_reference, all_found) = (numbers(&case["reference"]), numbers(&case["found"]));
            for (from_s, wanted) in [(f64::MIN, "whole"), (USUAL_TRIM_S, "trimmed")] {
                let wanted = numbers(&case[wanted]);
                let reference = trimmed(&all_reference, from_s);
                let found = trimmed(&all_found, from_s);
                let c = continuity(reference, found);
                let f = f_measure(reference, found, BEAT_WINDOW_S);
                let got = [f, c.cml_c, c.cml_t, c.aml_c, c.aml_t];
                for (what, (got, wanted)) in
                    ["F", "CMLc", "CMLt", "AMLc", "AMLt"].iter().zip(got.iter().zip(wanted))
                {
                    assert!((got - wanted).abs() < 1e-6, "{name} {what}: {got}, not {wanted}");
                }
            }
        }
    }

    #[test]
    fn nothing_against_something_scores_nothing() {
        let beats = [1.0, 2.0, 3.0];
        for (reference, found) in [(&[][..], &beats[..]), (&beats[..], &[][..]), (&[], &[])] {
            assert_eq!(f_measure(reference, found, BEAT_WINDOW_S), 0.0);
            assert_eq!(continuity(reference, found), Continuity::default());
        }
        assert_eq!(continuity(&beats, &beats[..1]), Continuity::default());
    }

    #[test]
    fn the_same_beats_score_one() {
        let beats: Vec<f64> = (0..20).map(|n| f64::from(n) * 0.5).collect();
        assert_eq!(f_measure(&beats, &beats, BEAT_WINDOW_S), 1.0);
        let c = continuity(&beats, &beats);
        assert_eq!([c.cml_c, c.cml_t, c.aml_c, c.aml_t], [1.0; 4]);
    }
}
