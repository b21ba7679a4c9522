//! From activations to a grid.

use thiserror::Error;

use super::activations::Activations;
use super::attack::AttackEnvelope;
use super::confidence::{self, Judgement};
use super::constraints::Constraints;
use super::features::Features;
use super::first_sound::beats_before;
use super::grid::Grid;
use super::harmony::Harmony;
use super::level::{Reading, best_reading, read};
use super::place::place_on_attacks;
use super::pulse::{FASTEST_BPM, PulseModel, SLOWEST_BPM, STEPS_PER_SECOND};
use crate::units::{Beat, clock};

/// Why there is no grid.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum NoPulse {
    /// Too little sound to hear a pulse in.
    #[error("it lasts only {duration_s:.1} s; a pulse needs at least {LEAST_S:.0} s to show")]
    TooShort {
        /// Its length in seconds.
        duration_s: f64,
    },
    /// Nothing but silence.
    #[error("it is silent throughout")]
    Silent,
    /// Sound without a steady beat.
    #[error("there is sound, but no steady beat in it{}", best_words(.most_likely))]
    NoSteadyBeat {
        /// Where something most like a beat was heard: start and end in seconds.
        most_likely: Option<(f64, f64)>,
    },
}

/// Shortest recording in which a pulse is looked for, seconds: eight beats at 120 a minute.
const LEAST_S: f64 = 4.0;
/// A grid with fewer beats is none.
const LEAST_BEATS: usize = 8;

fn best_words(most_likely: &Option<(f64, f64)>) -> String {
    match most_likely {
        Some((from, to)) => {
            format!("; nearest to one is the stretch from {} to {}", clock(*from), clock(*to))
        }
        None => String::new(),
    }
}

/// Follows the activations to the grid that explains the whole recording best.
///
/// Beats are found by Viterbi over a bar-pointer model, then bars by another over the beats, then each
/// beat is put on its attack. What `constraints` say holds; the rest follows from it.
///
/// # Errors
/// [`NoPulse`] where the recording is too short, silent, or has no steady beat.
pub fn solve(
    activations: &Activations,
    features: &Features,
    constraints: &Constraints,
) -> Result<Grid, NoPulse> {
    let taps = tapped(constraints);
    if features.duration_s() < LEAST_S && taps.is_empty() {
        return Err(NoPulse::TooShort { duration_s: features.duration_s() });
    }
    if features.is_silent() && taps.is_empty() {
        return Err(NoPulse::Silent);
    }
    let mut heard = beat_evidence(activations);
    doubt_what_is_not_played(&mut heard, features.attack());
    let mut evidence = heard.clone();
    hold_taps(&mut evidence, &taps);
    let model = model_for(constraints);
    let harmony = Harmony::of(features);
    let given = !taps.is_empty() || constraints.beats_per_minute.is_some();
    let reading = if given || !constraints.changes_s.is_empty() {
        read(&evidence, activations, &harmony, &model, constraints)
    } else {
        best_reading(&evidence, activations, &harmony, &model, constraints)
    };
    let runs = &reading.runs;

    let beats: usize = runs.iter().map(Vec::len).sum();
    let judgement = confidence::judge(runs, &heard, &model);
    let is_chance = || confidence::judge(&reading.as_heard, &heard, &model).is_chance();
    if !given && (beats < LEAST_BEATS || is_chance()) {
        let longest =
            runs.iter().max_by_key(|run| run.len()).filter(|run| run.len() >= LEAST_BEATS);
        let ends = longest.and_then(|run| Some((time_at(*run.first()?), time_at(*run.last()?))));
        return Err(NoPulse::NoSteadyBeat { most_likely: ends });
    }
    Ok(grid(&reading, &taps, features, constraints, &judgement))
}

fn grid(
    reading: &Reading,
    taps: &[Vec<f64>],
    features: &Features,
    constraints: &Constraints,
    judgement: &Judgement,
) -> Grid {
    let mut grid = Grid::default();
    for (run, bars) in reading.runs.iter().zip(&reading.bars) {
        let times: Vec<f64> = run.iter().map(|&step| time_at(step)).collect();
        let first = grid.beats_s.len();
        let starts = bars.places.iter().enumerate().filter(|&(_, &place)| place == 0);
        grid.downbeats.extend(starts.map(|(i, _)| Beat(first + i)));
        let placed = place_on_attacks(&times, features.attack());
        grid.beats_s.extend(restore_taps(placed, taps));
    }
    grid.beats_per_bar = commonest_bar(&grid.downbeats).or(constraints.beats_per_bar).unwrap_or(4);
    // What the user tapped starts where they tapped it.
    if taps.is_empty() {
        let before_s = beats_before(&grid.beats_s, features);
        grid.put_before(&before_s);
    }
    let tempo = confidence::tempo(reading.runs.iter().map(Vec::len), &grid.beats_s);
    grid.tempo_bpm = tempo.bpm;
    grid.steady = tempo.steady;
    grid.tempo_confidence = judgement.tempo_confidence();
    let beating = beating_s(&reading.runs) / features.duration_s().max(1.0);
    grid.grid_confidence = judgement.grid_confidence(tempo.steady, beating);
    grid.other_pulses = judgement.other_pulses(tempo.bpm);
    grid
}

/// Time between the first and the last beat of each run, all together.
fn beating_s(runs: &[Vec<usize>]) -> f64 {
    let of = |run: &Vec<usize>| Some(time_at(run.last()? - run.first()?));
    runs.iter().filter_map(of).sum()
}

fn step_at(seconds: f64) -> usize {
    (seconds * STEPS_PER_SECOND).round().max(0.0) as usize
}

fn time_at(step: usize) -> f64 {
    step as f64 / STEPS_PER_SECOND
}

/// Least and most that one beat's evidence counts, nats. One loud or missing beat must not outweigh
/// its neighbours.
const LEAST_EVIDENCE: f32 = -3.0;
const MOST_EVIDENCE: f32 = 5.0;
/// Added to every log-odds. One frame in 25 is a beat, which would make this 3.2 if frames erred one by
/// one; but what misleads the ear misleads it all through a song, so a level between beats that is half
/// believed everywhere must not add up to certainty.
const PRIOR_ODDS: f32 = 1.0;

/// Log-odds of a beat at each step, from the beat activation by straight lines between frames.
pub(crate) fn beat_evidence(activations: &Activations) -> Vec<f32> {
    let logits: Vec<f32> = activations.beat.iter().map(|&p| logit(p)).collect();
    let per_step = activations.frames_per_second / STEPS_PER_SECOND;
    let steps = if per_step > 0.0 { (logits.len() as f64 / per_step) as usize } else { 0 };
    (0..steps)
        .map(|step| {
            let at = step as f64 * per_step;
            let (k, part) = (at as usize, at.fract() as f32);
            let here = logits.get(k).copied().unwrap_or(LEAST_EVIDENCE);
            let next = logits.get(k + 1).copied().unwrap_or(here);
            (here + part * (next - here) + PRIOR_ODDS).clamp(LEAST_EVIDENCE, MOST_EVIDENCE)
        })
        .collect()
}

/// Where nothing starts within 70 ms there is evidence against a beat, however much the music so far
/// leads one to expect it.
fn doubt_what_is_not_played(evidence: &mut [f32], attacks: &AttackEnvelope) {
    const NEAR_S: f64 = 0.07;
    /// Mild enough to beat on through a bar's rest.
    const UNPLAYED: f32 = -1.5;
    let mut clear_from = 0;
    let mut doubt = |steps: std::ops::Range<usize>| {
        let steps = steps.start.min(evidence.len())..steps.end.min(evidence.len());
        evidence[steps].iter_mut().for_each(|e| *e = e.min(UNPLAYED));
    };
    for point in (0..attacks.len()).filter(|&point| attacks.has_attack(point)) {
        let time = AttackEnvelope::time_s(point as f64);
        let first = step_at(time - NEAR_S);
        if first > clear_from {
            doubt(clear_from..first);
        }
        clear_from = step_at(time + NEAR_S) + 1;
    }
    doubt(clear_from..usize::MAX);
}

fn logit(p: f32) -> f32 {
    let p = if p.is_finite() { p.clamp(1e-4, 1.0 - 1e-4) } else { 1e-4 };
    (p / (1.0 - p)).ln()
}

fn model_for(constraints: &Constraints) -> PulseModel {
    let mut model = PulseModel::default();
    if let Some(bpm) = constraints.beats_per_minute.filter(|b| b.is_finite() && *b > 0.0) {
        const WITHIN: f64 = 1.4;
        // What the user asks for may lie outside what is looked for unasked.
        let bpm = bpm.clamp(SLOWEST_BPM / 2.0, FASTEST_BPM * 2.0);
        model.slowest_bpm = bpm / WITHIN;
        model.fastest_bpm = bpm * WITHIN;
        model.prior_bpm = bpm;
        model.prior_octaves = 0.2;
        model.prior_weight = 1.0;
    }
    model
}

/// Stretches of taps that can be used: finite, ascending, two or more.
fn tapped(constraints: &Constraints) -> Vec<Vec<f64>> {
    let usable = |taps: &&Vec<f64>| {
        taps.len() >= 2
            && taps.iter().all(|t| t.is_finite() && *t >= 0.0)
            && taps.windows(2).all(|w| w[0] < w[1])
    };
    constraints.taps.iter().filter(usable).cloned().collect()
}

/// Makes the taps certain and everything between them impossible.
fn hold_taps(evidence: &mut [f32], taps: &[Vec<f64>]) {
    const CERTAIN: f32 = 60.0;
    for stretch in taps {
        let (Some(&first), Some(&last)) = (stretch.first(), stretch.last()) else { continue };
        let half = (last - first) / (stretch.len() - 1) as f64 / 2.0;
        let from = step_at(first - half).min(evidence.len());
        let to = step_at(last + half).min(evidence.len());
        evidence[from..to].fill(-CERTAIN);
        for &tap in stretch {
            if let Some(e) = evidence.get_mut(step_at(tap)) {
                *e = CERTAIN;
            }
        }
    }
}

/// Puts tapped times in the place of beats solved within their stretch.
fn restore_taps(mut beats_s: Vec<f64>, taps: &[Vec<f64>]) -> Vec<f64> {
    for stretch in taps {
        let (Some(&first), Some(&last)) = (stretch.first(), stretch.last()) else { continue };
        let half = (last - first) / (stretch.len() - 1) as f64 / 2.0;
        let from = beats_s.partition_point(|&b| b < first - half);
        let to = beats_s.partition_point(|&b| b <= last + half);
        if from < to {
            beats_s.splice(from..to, stretch.iter().copied());
        }
    }
    beats_s
}

fn commonest_bar(downbeats: &[Beat]) -> Option<u32> {
    let mut tally = [0usize; 17];
    for pair in downbeats.windows(2) {
        if let Some(count) = tally.get_mut(pair[1].0 - pair[0].0) {
            *count += 1;
        }
    }
    let most = tally.iter().max().filter(|&&m| m > 0)?;
    tally.iter().position(|count| count == most).map(|beats| beats as u32)
}
