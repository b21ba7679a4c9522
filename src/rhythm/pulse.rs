//! The pulse: which beats explain the whole song best.
//!
//! A bar-pointer model (Whiteley, Cemgil & Godsill 2006) on the state space of Krebs, Böck & Widmer
//! (2015), *An efficient state-space model for joint tempo and meter tracking*: within a beat the
//! pointer moves at one tempo, at a beat the tempo may change a little. Because nothing is chosen
//! between two beats, only the beats are kept as states: (time of the beat, length of the beat before
//! it), with one more state for stretches without a pulse. The best path through all of the song is
//! found by Viterbi, so the end of a song can correct its beginning.

/// Steps a second on which beats are placed here (they are moved onto the attack later).
pub(crate) const STEPS_PER_SECOND: f64 = 100.0;

/// Slowest and fastest pulse that is looked for, beats a minute.
pub(crate) const SLOWEST_BPM: f64 = 50.0;
pub(crate) const FASTEST_BPM: f64 = 230.0;

/// What the path may do, at what cost (in nats, as the evidence is).
#[derive(Debug, Clone)]
pub(crate) struct PulseModel {
    /// Cost of a change of tempo from one beat to the next, for each e-fold of tempo.
    pub change_cost: f32,
    /// Change in steps that is free, because a steady tempo between two whole steps needs it.
    pub free_change: f32,
    /// Cost of any other change of tempo.
    pub jump_cost: f32,
    /// Cost of starting to beat, and of stopping.
    pub enter_cost: f32,
    pub leave_cost: f32,
    /// Slowest and fastest pulse allowed.
    pub slowest_bpm: f64,
    pub fastest_bpm: f64,
    /// Weight of the tempo prior, nats a second of beating for each nat of the prior.
    pub prior_weight: f32,
    /// What a second of beating gains over a second without a pulse, nats. It lets evidence weigh
    /// pulses against each other strictly, as sparse beats against dense ones, without losing the
    /// pulse where evidence is thin.
    pub beating_gain: f32,
    /// Centre of the tempo prior (log-normal), beats a minute, and its spread in octaves.
    pub prior_bpm: f64,
    pub prior_octaves: f64,
}

impl Default for PulseModel {
    fn default() -> Self {
        PulseModel {
            change_cost: 200.0,
            free_change: 0.75,
            jump_cost: 15.0,
            enter_cost: 10.0,
            leave_cost: 6.0,
            slowest_bpm: SLOWEST_BPM,
            fastest_bpm: FASTEST_BPM,
            prior_weight: 0.5,
            beating_gain: 3.0,
            prior_bpm: 120.0,
            prior_octaves: 0.55,
        }
    }
}

impl PulseModel {
    /// Log of the tempo prior: 0 at its centre, negative elsewhere.
    pub(crate) fn log_prior(&self, bpm: f64) -> f32 {
        let octaves = (bpm / self.prior_bpm).log2() / self.prior_octaves;
        (-0.5 * octaves * octaves) as f32
    }

    /// Beat lengths in steps: each step while that is finer than 1.6 %, that fine above.
    fn intervals(&self) -> Vec<usize> {
        let steps = |bpm: f64| 60.0 * STEPS_PER_SECOND / bpm.max(1.0);
        let longest = steps(self.slowest_bpm).round() as usize;
        let mut intervals = vec![(steps(self.fastest_bpm).round() as usize).max(2)];
        while let Some(&last) = intervals.last() {
            let next = (last + 1).max((last as f64 * 1.016).round() as usize);
            if next > longest || intervals.len() >= usize::from(ENTERED) {
                break;
            }
            intervals.push(next);
        }
        intervals
    }
}

/// Stands for "the pulse starts here" among the backpointers.
const ENTERED: u8 = u8::MAX;
/// A change of tempo reaches this many neighbouring beat lengths to either side.
const REACH: usize = 5;
const IMPOSSIBLE: f32 = f32::NEG_INFINITY;
/// Beat lengths worked on at once.
const LANES: usize = 8;
/// Stands for "tempo jumped" among the shifts.
const JUMPED: u32 = u32::MAX;

/// The best path: runs of beats, each a list of steps. Between two runs there is no pulse.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Path {
    pub runs: Vec<Vec<usize>>,
    /// Evidence gathered less costs paid, nats.
    pub score: f32,
}

/// Finds the best path through `evidence`: log-odds of a beat for each step of
/// [`STEPS_PER_SECOND`]. `free_jump` says at which steps the tempo may change at no cost.
pub(crate) fn best_path(
    evidence: &[f32],
    model: &PulseModel,
    free_jump: impl Fn(usize) -> bool,
) -> Path {
    let intervals = model.intervals();
    let n = intervals.len();
    let Some(&longest) = intervals.last() else { return Path::default() };
    let changes = change_costs(&intervals, model);
    let prior: Vec<f32> = intervals
        .iter()
        .map(|&steps| {
            let seconds = steps as f64 / STEPS_PER_SECOND;
            let prior = model.prior_weight * model.log_prior(60.0 / seconds);
            seconds as f32 * (prior + model.beating_gain)
        })
        .collect();

    // best[i]: best score of a beat now whose last interval was i. leaving[t][i]: best score of a beat
    // at t that is followed by interval i, for the last `longest` steps, with whom it came from.
    let mut best = vec![IMPOSSIBLE; n.next_multiple_of(LANES) + 2 * REACH];
    let rows = longest + 1;
    let mut leaving = vec![IMPOSSIBLE; rows * n];
    let mut leaving_from = vec![ENTERED; rows * n];
    let mut came_from = vec![ENTERED; evidence.len() * n];
    // silent[t]: best score of having no pulse at t. A pulse may start only a fastest beat after that,
    // or the end of one run and the start of the next would both take the same loud step.
    let mut silent = vec![0f32; evidence.len() + 1];
    let mut silent_from = vec![ENTERED; evidence.len() + 1];

    for (t, &here) in evidence.iter().enumerate() {
        let from = &mut came_from[t * n..(t + 1) * n];
        let enter = silent[t.saturating_sub(intervals[0])] - model.enter_cost;
        let (mut top, mut top_at) = (IMPOSSIBLE, 0);
        for i in 0..n {
            let (mut score, mut origin) = (enter, ENTERED);
            if let Some(then) = t.checked_sub(intervals[i]) {
                let at = (then % rows) * n + i;
                if leaving[at] > score {
                    (score, origin) = (leaving[at], leaving_from[at]);
                }
            }
            let score = score + here + prior[i];
            best[REACH + i] = score;
            from[i] = origin;
            if score > top {
                (top, top_at) = (score, i);
            }
        }

        let row = (t % rows) * n;
        let (out, out_from) = (&mut leaving[row..row + n], &mut leaving_from[row..row + n]);
        let jump = if free_jump(t) { top } else { top - model.jump_cost };
        let groups = out.chunks_mut(LANES).zip(out_from.chunks_mut(LANES));
        for (group, (out, out_from)) in groups.enumerate() {
            let first = group * LANES;
            let (scores, shifts) = best_change(&best[first..], &changes, first, jump);
            for (lane, (out, from)) in out.iter_mut().zip(out_from).enumerate() {
                *out = scores[lane];
                let came = (first + lane + shifts[lane] as usize).wrapping_sub(REACH);
                *from = if shifts[lane] == JUMPED { top_at as u8 } else { came as u8 };
            }
        }

        silent[t + 1] = silent[t];
        if top - model.leave_cost > silent[t] {
            silent[t + 1] = top - model.leave_cost;
            silent_from[t + 1] = top_at as u8;
        }
    }
    let runs = backtrack(&intervals, &came_from, &silent_from);
    Path { runs, score: silent[evidence.len()] }
}

/// For [`LANES`] intervals from `first` on: the best score of going on with each, and by which shift it
/// was reached, or [`JUMPED`]. `best` starts at the neighbour furthest below `first`. All lanes are
/// worked on alike, and shifts are as wide as scores, so that it compiles to vector instructions.
fn best_change(
    best: &[f32],
    changes: &[Vec<f32>],
    first: usize,
    jump: f32,
) -> ([f32; LANES], [u32; LANES]) {
    let (mut scores, mut shifts) = ([jump; LANES], [JUMPED; LANES]);
    for (shift, costs) in changes.iter().enumerate() {
        let from = best[shift..shift + LANES].iter().zip(&costs[first..first + LANES]);
        for ((score, chosen), (from, cost)) in scores.iter_mut().zip(&mut shifts).zip(from) {
            let this = from - cost;
            let better = this > *score;
            *score = if better { this } else { *score };
            *chosen = if better { shift as u32 } else { *chosen };
        }
    }
    (scores, shifts)
}

/// For each shift from `-REACH` to `REACH` neighbours, the cost of coming from there to interval `i`;
/// infinite where there is no such neighbour, and up to a whole number of [`LANES`].
fn change_costs(intervals: &[usize], model: &PulseModel) -> Vec<Vec<f32>> {
    (0..=2 * REACH)
        .map(|shift| {
            (0..intervals.len().next_multiple_of(LANES))
                .map(|i| {
                    let before =
                        (i + shift).checked_sub(REACH).and_then(|from| intervals.get(from));
                    let (Some(&here), Some(&before)) = (intervals.get(i), before) else {
                        return f32::INFINITY;
                    };
                    let steps = (here as f32 - before as f32).abs();
                    model.change_cost * (steps - model.free_change).max(0.0) / here as f32
                })
                .collect()
        })
        .collect()
}

fn backtrack(intervals: &[usize], came_from: &[u8], silent_from: &[u8]) -> Vec<Vec<usize>> {
    let n = intervals.len();
    let mut runs = Vec::new();
    let mut t = silent_from.len() - 1;
    loop {
        // Walk back through the silence to where a run was left.
        while t > 0 && silent_from[t] == ENTERED {
            t -= 1;
        }
        if t == 0 {
            break;
        }
        let mut interval = usize::from(silent_from[t]);
        let mut beat = t - 1;
        let mut run = vec![beat];
        loop {
            let origin = came_from[beat * n + interval];
            if origin == ENTERED {
                break;
            }
            beat -= intervals[interval];
            interval = usize::from(origin);
            run.push(beat);
        }
        run.reverse();
        runs.push(run);
        t = beat.saturating_sub(intervals[0]);
    }
    runs.reverse();
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Evidence with a beat at each of the times.
    fn evidence(times_s: &[f64], duration_s: f64) -> Vec<f32> {
        let mut evidence = vec![-2.0; (duration_s * STEPS_PER_SECOND) as usize];
        for &time in times_s {
            evidence[(time * STEPS_PER_SECOND).round() as usize] = 3.0;
        }
        evidence
    }

    #[test]
    fn a_steady_pulse_is_followed_even_between_two_steps() {
        let beats: Vec<f64> = (0..60).map(|n| 1.0 + n as f64 * 60.0 / 116.3).collect();
        let path = best_path(&evidence(&beats, 34.0), &PulseModel::default(), |_| false);
        assert_eq!(path.runs.len(), 1);
        let wanted: Vec<usize> = beats.iter().map(|t| (t * 100.0).round() as usize).collect();
        assert_eq!(path.runs[0], wanted);
    }

    #[test]
    fn a_change_of_tempo_is_followed() {
        let mut beats: Vec<f64> = (0..30).map(|n| 0.5 + n as f64 * 0.5).collect();
        beats.extend((1..30).map(|n| 15.0 + n as f64 * 0.62));
        let path = best_path(&evidence(&beats, 34.0), &PulseModel::default(), |_| false);
        let wanted: Vec<usize> = beats.iter().map(|t| (t * 100.0).round() as usize).collect();
        assert_eq!(path.runs, [wanted]);
    }

    #[test]
    fn a_long_pause_has_no_beats() {
        let mut beats: Vec<f64> = (0..30).map(|n| 0.5 + n as f64 * 0.5).collect();
        beats.extend((0..30).map(|n| 40.0 + n as f64 * 0.5));
        let path = best_path(&evidence(&beats, 60.0), &PulseModel::default(), |_| false);
        assert_eq!(path.runs.iter().map(Vec::len).collect::<Vec<_>>(), [30, 30]);
    }

    #[test]
    fn no_evidence_no_beats() {
        let model = PulseModel::default();
        assert!(best_path(&[], &model, |_| false).runs.is_empty());
        assert!(best_path(&[-2.0; 3000], &model, |_| false).runs.is_empty());
    }
}
