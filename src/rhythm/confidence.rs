//! How sure the ear is, and what else it might be.

use super::grid::OtherPulse;
use super::pulse::{PulseModel, STEPS_PER_SECOND};

/// Other pulses that are weighed: their beats to one beat of the grid.
const RATIOS: [f64; 6] = [0.5, 2.0, 1.0 / 3.0, 3.0, 2.0 / 3.0, 1.5];

/// What speaks for and against the beats found.
#[derive(Debug, Clone, Default)]
pub(crate) struct Judgement {
    /// Mean evidence at the beats, nats.
    pub on_beats: f32,
    /// Mean evidence of the same beats shifted to every other place between beats.
    pub between: f32,
    /// For each of [`RATIOS`]: score a beat of the grid less the grid's own.
    rivals: [f32; RATIOS.len()],
}

/// A tempo and whether it holds.
pub(crate) struct Tempo {
    pub bpm: f64,
    pub steady: bool,
}

/// Weighs the beats found against chance and against other pulses.
pub(crate) fn judge(runs: &[Vec<usize>], evidence: &[f32], model: &PulseModel) -> Judgement {
    let beats: usize = runs.iter().map(Vec::len).sum();
    if beats == 0 {
        return Judgement::default();
    }
    let at = |step: f64| evidence.get(step.round() as usize).copied().unwrap_or(-2.5);
    // Best within a step, as beats themselves were chosen.
    let near = |step: f64| at(step).max(at(step - 1.0)).max(at(step + 1.0));
    let mut own = 0f64;
    let mut between = 0f64;
    let mut beating_s = 0f64;
    let mut others = [0f64; RATIOS.len()];
    for run in runs {
        let score = |places: &mut dyn Iterator<Item = f64>| -> f64 {
            places.map(|place| f64::from(near(interpolated(run, place)))).sum()
        };
        let last = run.len().saturating_sub(1) as f64;
        let every = |first: f64, stride: f64| {
            let many = ((last - first) / stride + 1e-9).floor().max(-1.0) as i64 + 1;
            (0..many).map(move |k| first + k as f64 * stride)
        };
        own += score(&mut every(0.0, 1.0));
        for phase in 1..8 {
            between += score(&mut every(f64::from(phase) / 8.0, 1.0)) / 7.0;
        }
        if let (Some(&first), Some(&end)) = (run.first(), run.last()) {
            beating_s += (end - first) as f64 / STEPS_PER_SECOND;
        }
        for (other, ratio) in others.iter_mut().zip(RATIOS) {
            let stride = 1.0 / ratio;
            // A slower pulse may start on any of the grid's beats.
            let phases = stride.ceil() as usize;
            *other += (0..phases)
                .map(|phase| score(&mut every(phase as f64, stride)))
                .fold(f64::NEG_INFINITY, f64::max);
        }
    }
    let n = beats as f64;
    let bpm = 60.0 * n / beating_s.max(0.1);
    let prior = |bpm: f64| f64::from(model.prior_weight * model.log_prior(bpm)) * beating_s;
    let whole = own + prior(bpm);
    let mut rivals = [0f32; RATIOS.len()];
    for (k, ratio) in RATIOS.into_iter().enumerate() {
        rivals[k] = ((others[k] + prior(bpm * ratio) - whole) / n) as f32;
    }
    Judgement { on_beats: (own / n) as f32, between: (between / n) as f32, rivals }
}

/// Step at a place (not whole) among a run's beats.
fn interpolated(run: &[usize], place: f64) -> f64 {
    let k = (place.max(0.0) as usize).min(run.len().saturating_sub(1));
    let here = run.get(k).map_or(0.0, |&s| s as f64);
    let next = run.get(k + 1).map_or(here, |&s| s as f64);
    here + (place - k as f64) * (next - here)
}

impl Judgement {
    /// Whether what was found is no better than what a search finds in talk and noise.
    pub(crate) fn is_chance(&self) -> bool {
        /// Nats a beat. Rendered speech, noise and notes at random times reach 2.6; of a hundred
        /// rendered and recorded songs the least is 3.3.
        const LEAST_CONTRAST: f32 = 2.8;
        self.contrast() < LEAST_CONTRAST
    }

    /// How much more speaks for the beats than for the places between them, nats a beat.
    pub(crate) fn contrast(&self) -> f32 {
        self.on_beats - self.between
    }

    /// How sure it is that the pulse is this one and not a rival.
    pub(crate) fn tempo_confidence(&self) -> f64 {
        let shares = self.shares();
        f64::from(shares.0) * self.sureness()
    }

    /// How sure the beats are: the chance that a song heard so clearly is right (F of 0.95 or more).
    /// `beating`: share of the recording's time that lies between two beats.
    ///
    /// Logistic regression: over 104 rendered and recorded songs with an earlier network, and what that
    /// gave, with `beating`, over 70 with this one (`training/reliability.py --fit`).
    pub(crate) fn grid_confidence(&self, steady: bool, beating: f64) -> f64 {
        let clearness = 1.55 * f64::from(self.contrast()) + 1.43 * f64::from(u8::from(steady));
        sigmoid(clearness + 1.12 * beating - 10.23)
    }

    /// The rivals that have any share, best first.
    pub(crate) fn other_pulses(&self, bpm: f64) -> Vec<OtherPulse> {
        let (_, shares) = self.shares();
        let mut others: Vec<OtherPulse> = RATIOS
            .into_iter()
            .zip(shares)
            .map(|(ratio, share)| OtherPulse {
                tempo_bpm: bpm * ratio,
                ratio,
                score: f64::from(share),
            })
            .filter(|other| other.score >= 0.01 && (25.0..=400.0).contains(&other.tempo_bpm))
            .collect();
        others.sort_by(|a, b| b.score.total_cmp(&a.score));
        others
    }

    /// Share of belief of the grid's own pulse and of each rival.
    fn shares(&self) -> (f32, [f32; RATIOS.len()]) {
        /// Nats a beat that make a rival e times less likely: beats of one song are far from
        /// independent, so the whole sum would claim too much.
        const TEMPERATURE: f32 = 0.5;
        let weights = self.rivals.map(|r| (r / TEMPERATURE).min(0.0).exp());
        let total = 1.0 + weights.iter().sum::<f32>();
        (1.0 / total, weights.map(|w| w / total))
    }

    fn sureness(&self) -> f64 {
        sigmoid(1.2 * (f64::from(self.contrast()) - 2.0))
    }
}

fn sigmoid(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// Tempo of the grid's beats. `runs`: how many beats each unbroken run has, in order.
///
/// Steady means that over any eight beats the tempo stays within 4 % of the whole song's: listeners
/// notice slower drifts than that only side by side.
pub(crate) fn tempo(runs: impl Iterator<Item = usize>, beats_s: &[f64]) -> Tempo {
    const SPAN: usize = 8;
    const STEADY_WITHIN: f64 = 0.04;
    let mut local = Vec::new();
    let mut longest: &[f64] = &[];
    let mut from = 0;
    for beats in runs {
        let run = beats_s.get(from..from + beats).unwrap_or_default();
        from += beats;
        let span = SPAN.min(run.len().saturating_sub(1));
        if span > 0 {
            local.extend(run.windows(span + 1).map(|w| (w[span] - w[0]) / span as f64));
        }
        if run.len() > longest.len() {
            longest = run;
        }
    }
    local.sort_by(f64::total_cmp);
    let Some(&median) = local.get(local.len() / 2) else {
        return Tempo { bpm: 0.0, steady: false };
    };
    let within = local.iter().filter(|&&p| (p / median - 1.0).abs() <= STEADY_WITHIN).count();
    let steady = within * 100 >= local.len() * 98;
    let period = if steady { slope(longest).unwrap_or(median) } else { median };
    Tempo { bpm: if period > 0.0 { 60.0 / period } else { 0.0 }, steady }
}

/// Seconds a beat by least squares over beats that follow one another.
fn slope(beats_s: &[f64]) -> Option<f64> {
    if beats_s.len() < 2 {
        return None;
    }
    let n = beats_s.len() as f64;
    let middle = (n - 1.0) / 2.0;
    let mean = beats_s.iter().sum::<f64>() / n;
    let (mut up, mut across) = (0.0, 0.0);
    for (k, time) in beats_s.iter().enumerate() {
        let x = k as f64 - middle;
        up += x * (time - mean);
        across += x * x;
    }
    Some(up / across)
}
