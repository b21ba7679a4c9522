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
            if next > longest || intervals.len() >= usize::from(NONE) {
                break;
            }
            intervals.push(next);
        }
        intervals
    }
}

/// No beat length: "no pulse ends here".
const NONE: u8 = u8::MAX;
/// A change of tempo reaches this many neighbouring beat lengths to either side.
const REACH: usize = 5;
/// How a beat length came after another: by a change of that many neighbours up, less [`REACH`]; or by a jump from
/// the best; or with nothing before, because the pulse starts. Four bits, so that two hours stay small.
const JUMPED: u8 = 2 * REACH as u8 + 1;
const STARTED: u8 = JUMPED + 1;
const IMPOSSIBLE: f32 = f32::NEG_INFINITY;
/// Beat lengths worked on at once.
const LANES: usize = 8;

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
    let Some(lattice) = Lattice::new(model) else { return Path::default() };
    let mut trail = Trail::new(evidence.len(), lattice.width);
    let free_jump = &free_jump;
    let walk = Walk { lattice: &lattice, evidence, model, free_jump, trail: &mut trail };
    crate::vector::arch().dispatch(walk);
    let runs = trail.back(&lattice.intervals);
    Path { runs, score: trail.silent[evidence.len()] }
}

/// The beat lengths and what it costs to go from one to another.
struct Lattice {
    /// Beat lengths in steps, ascending.
    intervals: Vec<usize>,
    /// Number of beat lengths, up to a whole number of [`LANES`]; those past the last are never reached.
    width: usize,
    /// What a beat of each length gains by its length alone.
    prior: Vec<f32>,
    /// For each group of lanes, the shifts worth looking at, each with its cost to come by it.
    changes: Vec<Vec<(u8, [f32; LANES])>>,
}

/// A walk to be made with the processor's vector instructions.
struct Walk<'a, F> {
    lattice: &'a Lattice,
    evidence: &'a [f32],
    model: &'a PulseModel,
    free_jump: &'a F,
    trail: &'a mut Trail,
}

impl<F: Fn(usize) -> bool> pulp::NullaryFnOnce for Walk<'_, F> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.lattice.follow(self.evidence, self.model, self.free_jump, self.trail);
    }
}

impl Lattice {
    fn new(model: &PulseModel) -> Option<Lattice> {
        let intervals = model.intervals();
        intervals.last()?;
        let width = intervals.len().next_multiple_of(LANES);
        let mut prior: Vec<f32> = intervals
            .iter()
            .map(|&steps| {
                let seconds = steps as f64 / STEPS_PER_SECOND;
                let prior = model.prior_weight * model.log_prior(60.0 / seconds);
                seconds as f32 * (prior + model.beating_gain)
            })
            .collect();
        prior.resize(width, IMPOSSIBLE);
        let costs = change_costs(&intervals, model);
        let worth = |group: usize| {
            let of = |costs: &Vec<f32>| std::array::from_fn(|lane| costs[group * LANES + lane]);
            let all = costs.iter().map(of).enumerate().map(|(shift, costs)| (shift as u8, costs));
            // Where a jump costs no more, it is the jump.
            all.filter(|(_, costs): &(u8, [f32; LANES])| {
                costs.iter().any(|&cost| cost < model.jump_cost)
            })
            .collect()
        };
        let changes = (0..width / LANES).map(worth).collect();
        Some(Lattice { intervals, width, prior, changes })
    }

    /// Walks through the evidence and leaves a trail.
    #[inline(always)]
    fn follow(
        &self,
        evidence: &[f32],
        model: &PulseModel,
        free_jump: impl Fn(usize) -> bool,
        trail: &mut Trail,
    ) {
        let Lattice { intervals, width, prior, changes } = self;
        let (width, shortest) = (*width, intervals[0]);
        // best[i]: best score of a beat now whose last interval was i.
        let mut best = vec![IMPOSSIBLE; width + 2 * REACH];
        // For the next `longest` steps, a ring: the best score before a beat that interval i leads to, and how i
        // came about.
        let rows = (intervals[intervals.len() - 1] + 1).next_power_of_two();
        let mut ahead = vec![IMPOSSIBLE; rows * width];
        let mut ahead_how = vec![STARTED; rows * width];
        let (mut scores, mut how) = (vec![IMPOSSIBLE; width], vec![STARTED; width]);
        for (t, &here) in evidence.iter().enumerate() {
            // A pulse may start only a fastest beat after silence, or the end of one run and the start of the next
            // would both take the same loud step.
            let enter = trail.silent[t.saturating_sub(shortest)] - model.enter_cost;
            let row = (t & (rows - 1)) * width;
            let arriving = ahead[row..row + width].iter().zip(&ahead_how[row..row + width]);
            let now = best[REACH..REACH + width].iter_mut().zip(&mut how);
            for (((best, how), (&score, &came)), prior) in now.zip(arriving).zip(prior) {
                let goes_on = score > enter;
                *best = (if goes_on { score } else { enter }) + here + prior;
                *how = if goes_on { came } else { STARTED };
            }
            let kept = trail.how[t * width / 2..][..width / 2].iter_mut();
            for (kept, [a, b]) in kept.zip(how.as_chunks::<2>().0) {
                *kept = a | b << 4;
            }
            let now = &best[REACH..REACH + width];
            let mut tops = [IMPOSSIBLE; LANES];
            for group in now.as_chunks::<LANES>().0 {
                tops.iter_mut().zip(group).for_each(|(top, &score)| *top = top.max(score));
            }
            let top = tops.iter().fold(IMPOSSIBLE, |top, &score| top.max(score));
            let top_at = now.iter().position(|&score| score == top).unwrap_or(0) as u8;
            trail.top[t] = top_at;

            let jump = if free_jump(t) { top } else { top - model.jump_cost };
            let lanes = scores.as_chunks_mut::<LANES>().0.iter_mut();
            let lanes = lanes.zip(how.as_chunks_mut::<LANES>().0).zip(changes);
            for (group, ((scores, how), changes)) in lanes.enumerate() {
                best_change(&best[group * LANES..], changes, jump, scores, how);
            }
            let leaving = intervals.iter().zip(&scores).zip(&how).enumerate();
            for (i, ((interval, &score), &came)) in leaving {
                let at = ((t + interval) & (rows - 1)) * width + i;
                (ahead[at], ahead_how[at]) = (score, came);
            }

            trail.silent[t + 1] = trail.silent[t];
            if top - model.leave_cost > trail.silent[t] {
                trail.silent[t + 1] = top - model.leave_cost;
                trail.left[t + 1] = top_at;
            }
        }
    }
}

/// For [`LANES`] intervals: the best score of going on with each, and how. `best` starts at the neighbour
/// furthest below the first. All lanes are worked on alike, and shifts are as wide as scores, so that it compiles to
/// vector instructions.
#[inline(always)]
fn best_change(
    best: &[f32],
    changes: &[(u8, [f32; LANES])],
    jump: f32,
    scores: &mut [f32; LANES],
    how: &mut [u8; LANES],
) {
    let (mut most, mut shifts) = ([jump; LANES], [u32::from(JUMPED); LANES]);
    for (shift, costs) in changes {
        let from = &best[usize::from(*shift)..][..LANES];
        for lane in 0..LANES {
            let this = from[lane] - costs[lane];
            let better = this > most[lane];
            most[lane] = if better { this } else { most[lane] };
            shifts[lane] = if better { u32::from(*shift) } else { shifts[lane] };
        }
    }
    *scores = most;
    *how = shifts.map(|shift| shift as u8);
}

/// What is remembered of each step, to find the best path from its end.
struct Trail {
    width: usize,
    /// How each beat length came about, two to a byte. Shape `[n_steps, width / 2]`.
    how: Vec<u8>,
    /// Best beat length at each step.
    top: Vec<u8>,
    /// Best score of having no pulse before each step, and the beat length that it was left with there.
    silent: Vec<f32>,
    left: Vec<u8>,
}

impl Trail {
    fn new(steps: usize, width: usize) -> Trail {
        Trail {
            width,
            how: vec![0; steps * width / 2],
            top: vec![0; steps],
            silent: vec![0.0; steps + 1],
            left: vec![NONE; steps + 1],
        }
    }

    /// The beats of each run.
    fn back(&self, intervals: &[usize]) -> Vec<Vec<usize>> {
        let mut runs = Vec::new();
        let mut t = self.left.len() - 1;
        loop {
            // Walk back through the silence to where a run was left.
            while t > 0 && self.left[t] == NONE {
                t -= 1;
            }
            if t == 0 {
                break;
            }
            let mut interval = usize::from(self.left[t]);
            let mut beat = t - 1;
            let mut run = vec![beat];
            loop {
                let at = beat * self.width + interval;
                let how = self.how[at / 2] >> (at % 2 * 4) & 15;
                if how == STARTED {
                    break;
                }
                beat -= intervals[interval];
                interval = match how {
                    JUMPED => usize::from(self.top[beat]),
                    shift => interval + usize::from(shift) - REACH,
                };
                run.push(beat);
            }
            run.reverse();
            runs.push(run);
            t = beat.saturating_sub(intervals[0]);
        }
        runs.reverse();
        runs
    }
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
