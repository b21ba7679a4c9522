//! The metrical level: which of the pulses that fit the sound is the one, beats and bars together.
//!
//! The pulse model alone weighs beats; where the evidence for single beats is thin (a fast waltz that
//! is felt in one) its best path may wander between levels, or take two beats for three. So the path
//! is read again at each level nearby, kept to it, and the bars of each reading are weighed with its
//! beats. A joint model of tempo and bar (Krebs, Böck & Widmer 2015) says the same at far greater cost.

use rayon::prelude::*;

use super::activations::Activations;
use super::bars::{Bars, find_bars};
use super::constraints::Constraints;
use super::harmony::Harmony;
use super::pulse::{Path, PulseModel, STEPS_PER_SECOND, best_path};
use super::steady::one_pulse;

/// Levels beside the first path's own, as beats to one of its beats.
const LEVELS: [f64; 7] = [1.0, 2.0, 0.5, 1.5, 2.0 / 3.0, 3.0, 1.0 / 3.0];
/// How far a reading may stray from its level, as a ratio: less than half way to the nearest other.
const STRAY: f64 = 1.22;
/// Weight of the bars' evidence beside the beats'. On 815 rendered songs for tuning .7, .85 and 1 do alike; .5 takes one waltz
/// for twos.
const BAR_WEIGHT: f32 = 0.7;
/// What a path that is free to wander must gain over one that keeps its level, nats.
const FREEDOM_COST: f32 = 60.0;
/// And for each time that it goes over to another level at once: parts played in half time are counted through at the
/// song's own pulse, and music that really goes on twice or half again as fast does so hardly ever. On the same songs
/// 80 mends the beats of seven beside 50 and spoils none; 120 does no more.
const LEVEL_COST: f32 = 80.0;

/// Weight of a change of harmony beside what the front hears of bars, nats for each usual change. Logistic
/// regression over the beats of 62 rendered songs gives 0.32 for beats one by one; over whole songs, where
/// the front errs alike throughout, a little more does better.
const HARMONY_WEIGHT: f32 = 0.5;

/// One way to hear the song: runs of beats and the bars of each.
#[derive(Debug, Clone, Default)]
pub(crate) struct Reading {
    /// Steps of the beats of each unbroken run.
    pub runs: Vec<Vec<usize>>,
    /// The same where they were heard, before parts half a beat beside the rest were moved.
    pub as_heard: Vec<Vec<usize>>,
    /// Bars of each run.
    pub bars: Vec<Bars>,
    score: f32,
}

/// The best reading at any level that the model allows.
pub(crate) fn best_reading(
    evidence: &[f32],
    activations: &Activations,
    harmony: &Harmony,
    model: &PulseModel,
    constraints: &Constraints,
) -> Reading {
    let free = read(evidence, activations, harmony, model, constraints);
    let Some(bpm) = usual_bpm(&free.runs) else { return free };
    let freedom = FREEDOM_COST + LEVEL_COST * changes_of_level(&free.runs) as f32;
    let mut best = Reading { score: free.score - freedom, ..free };
    let kept = LEVELS.map(|level| {
        let near = bpm * level;
        let kept = PulseModel {
            slowest_bpm: model.slowest_bpm.max(near / STRAY),
            fastest_bpm: model.fastest_bpm.min(near * STRAY),
            ..model.clone()
        };
        (kept.slowest_bpm < near && near < kept.fastest_bpm).then_some(kept)
    });
    let readings: Vec<Reading> = kept
        .par_iter()
        .flatten()
        .map(|kept| read(evidence, activations, harmony, kept, constraints))
        .collect();
    for reading in readings {
        if reading.score > best.score {
            best = reading;
        }
    }
    best
}

/// The model's best path and its bars.
pub(crate) fn read(
    evidence: &[f32],
    activations: &Activations,
    harmony: &Harmony,
    model: &PulseModel,
    constraints: &Constraints,
) -> Reading {
    let changes: Vec<f64> = constraints
        .changes_s
        .iter()
        .map(|s| s * STEPS_PER_SECOND)
        .filter(|s| s.is_finite())
        .collect();
    let free_jump = |t: usize| changes.iter().any(|c| (c - t as f64).abs() <= STEPS_PER_SECOND);
    let Path { runs, score } = best_path(evidence, model, free_jump);
    let as_heard = trimmed(joined(runs), evidence);
    // What the user tapped or says of changes is no error to be mended.
    let runs: Vec<Vec<usize>> = match changes.is_empty() && constraints.taps.is_empty() {
        true => as_heard.iter().map(|run| one_pulse(run.clone(), evidence)).collect(),
        false => as_heard.clone(),
    };
    let bars: Vec<Bars> = runs
        .iter()
        .map(|run| {
            let change = harmony.change_at(run);
            let mut evidence: Vec<f32> = run
                .iter()
                .zip(change)
                .map(|(&step, change)| {
                    downbeat_evidence(activations, step) + HARMONY_WEIGHT * (change - 1.0)
                })
                .collect();
            centre(&mut evidence);
            let mut only = constraints.beats_per_bar;
            if hold_bar_line(&mut evidence, run, constraints.bar_line_s) && only.is_none() {
                // One bar line set right moves them all, not the one bar it stands in.
                only = commonest_length(&find_bars(&evidence, None));
            }
            find_bars(&evidence, only)
        })
        .collect();
    let score = score + BAR_WEIGHT * bars.iter().map(|b| b.score).sum::<f32>();
    Reading { runs, as_heard, bars, score }
}

/// Takes beats that nothing sounds on off both ends of each run: music begins and ends with a beat that
/// is played, whatever the pulse would lead one to expect next.
fn trimmed(runs: Vec<Vec<usize>>, evidence: &[f32]) -> Vec<Vec<usize>> {
    let played = |&step: &usize| {
        let near = step.saturating_sub(1)..(step + 2).min(evidence.len());
        evidence[near].iter().any(|&e| e > 0.0)
    };
    let kept = |run: Vec<usize>| {
        let first = run.iter().position(played)?;
        let last = run.iter().rposition(played)?;
        Some(run[first..=last].to_vec())
    };
    runs.into_iter().filter_map(kept).collect()
}

/// How often a beat is about twice or one and a half times as long as its neighbour, or half or two thirds.
fn changes_of_level(runs: &[Vec<usize>]) -> usize {
    const WITHIN: f64 = 1.08;
    let changes = |w: &[usize]| {
        let (before, after) = ((w[1] - w[0]) as f64, (w[2] - w[1]) as f64);
        let ratio = before.max(after) / before.min(after);
        [1.5, 2.0].iter().any(|level| (level / WITHIN..level * WITHIN).contains(&ratio))
    };
    runs.iter().map(|run| run.windows(3).filter(|w| changes(w)).count()).sum()
}

/// Tempo of the median beat.
fn usual_bpm(runs: &[Vec<usize>]) -> Option<f64> {
    let mut gaps: Vec<usize> =
        runs.iter().flat_map(|run| run.windows(2).map(|w| w[1] - w[0])).collect();
    gaps.sort_unstable();
    let median = *gaps.get(gaps.len() / 2)?;
    Some(60.0 * STEPS_PER_SECOND / median.max(1) as f64)
}

/// Runs that follow each other within two beats are one: the tempo changed between them, the pulse
/// did not stop.
fn joined(runs: Vec<Vec<usize>>) -> Vec<Vec<usize>> {
    let mut whole: Vec<Vec<usize>> = Vec::new();
    for run in runs {
        if let (Some(before), Some(&start)) = (whole.last_mut(), run.first()) {
            let last = before.len() - 1;
            let beat = if last > 0 { before[last] - before[last - 1] } else { 0 };
            if start - before[last] <= 2 * beat {
                before.extend(run);
                continue;
            }
        }
        whole.push(run);
    }
    whole
}

/// Log-odds that the beat at a step starts a bar, given that it is a beat; 0 says nothing.
fn downbeat_evidence(activations: &Activations, step: usize) -> f32 {
    const ONE_BEAT_IN_FOUR: f32 = 1.1;
    const MOST: f32 = 2.5;
    let seconds = step as f64 / STEPS_PER_SECOND;
    let frame = (seconds * activations.frames_per_second).round() as usize;
    let near = |curve: &[f32]| {
        let from = frame.saturating_sub(2).min(curve.len());
        let to = (frame + 3).min(curve.len());
        curve[from..to].iter().fold(0f32, |a, &b| a.max(b))
    };
    let (down, beat) = (near(&activations.downbeat), near(&activations.beat));
    let p = (down / beat.max(down).max(0.05)).clamp(1e-4, 1.0 - 1e-4);
    let odds = (p / (1.0 - p)).ln() + ONE_BEAT_IN_FOUR;
    if odds.is_finite() { odds.clamp(-MOST, MOST) } else { 0.0 }
}

/// Shifts evidence that finds too many downbeats: no music has more beats that start a bar than that
/// do not, so the mean must be below 0.
fn centre(evidence: &mut [f32]) {
    const MOST: f32 = -0.3;
    let mean = evidence.iter().sum::<f32>() / evidence.len().max(1) as f32;
    evidence.iter_mut().for_each(|e| *e -= (mean - MOST).max(0.0));
}

/// Makes the beat nearest to the given time certain to start a bar; false where there is none.
fn hold_bar_line(evidence: &mut [f32], run: &[usize], bar_line_s: Option<f64>) -> bool {
    /// More than all bars of a long song can gather.
    const CERTAIN: f32 = 1e5;
    let Some(line) = bar_line_s.filter(|l| l.is_finite()) else { return false };
    let off = |&k: &usize| (run[k] as f64 / STEPS_PER_SECOND - line).abs();
    let nearest = (0..run.len()).min_by(|a, b| off(a).total_cmp(&off(b)));
    let Some(nearest) = nearest.filter(|k| off(k) < 1.0) else { return false };
    evidence[nearest] = CERTAIN;
    true
}

/// The commonest number of beats in a bar.
fn commonest_length(bars: &Bars) -> Option<u32> {
    let starts: Vec<usize> = (0..bars.places.len()).filter(|&i| bars.places[i] == 0).collect();
    let mut lengths: Vec<usize> = starts.windows(2).map(|w| w[1] - w[0]).collect();
    lengths.sort_unstable();
    lengths
        .chunk_by(|a, b| a == b)
        .max_by_key(|alike| alike.len())
        .and_then(|alike| Some(*alike.first()? as u32))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rhythm::features::FeatureFront;

    /// Log-odds of a beat every `every` steps in each of the stretches, and of one half way as `between` says.
    fn clicks(stretches: &[(usize, usize, f32)]) -> Vec<f32> {
        let mut evidence = Vec::new();
        for &(beats, every, between) in stretches {
            for step in 0..beats * every {
                evidence.push(match step % every {
                    0 => 4.0,
                    k if 2 * k == every => between,
                    _ => -3.0,
                });
            }
        }
        evidence
    }

    /// The beats of the freest reading and of the best.
    fn heard(evidence: &[f32]) -> [Vec<usize>; 2] {
        let activations = Activations {
            frames_per_second: STEPS_PER_SECOND,
            beat: vec![0.5; evidence.len()],
            downbeat: vec![0.1; evidence.len()],
        };
        let (harmony, model) = (Harmony::of(&FeatureFront::new().finish()), PulseModel::default());
        let nothing_set = Constraints::default();
        let free = read(evidence, &activations, &harmony, &model, &nothing_set);
        let best = best_reading(evidence, &activations, &harmony, &model, &nothing_set);
        [free, best].map(|reading| reading.runs.concat())
    }

    #[test]
    fn a_part_in_half_time_is_counted_through() {
        let [free, best] = heard(&clicks(&[(64, 38, -3.0), (40, 76, -3.0), (64, 38, -3.0)]));
        assert_eq!(changes_of_level(&[free]), 2);
        assert!(best.windows(2).all(|w| w[1] - w[0] == 38), "{best:?}");
    }

    #[test]
    fn two_tempos_stay_two() {
        let [_, beats] = heard(&clicks(&[(64, 60, -3.0), (64, 41, -3.0)]));
        let gaps: Vec<usize> = beats.windows(2).map(|w| w[1] - w[0]).collect();
        assert!(gaps[..60].iter().all(|&g| g == 60), "{gaps:?}");
        assert!(gaps[70..].iter().all(|&g| (40..=42).contains(&g)), "{gaps:?}");
    }
}
