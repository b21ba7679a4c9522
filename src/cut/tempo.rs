//! Where beats fall when each one's small accident is left out: a tempo that wanders, and beats heard about it.
//!
//! A beat comes an interval after the last, a little off; intervals wander. How much of each, and how far what is heard
//! strays from the beat, is what makes all beats of the recording likeliest: a drum machine's beats come to lie on a
//! line, a live band's stay where they were played. Then every beat is where those before and after it and its own
//! sound put it (a Kalman filter there, a Rauch-Tung-Striebel smoother back).

use crate::rhythm::median;

/// Intervals further apart than this share are of another tempo, or stand beside a pause.
pub(super) const OTHER_TEMPO: f64 = 0.08;
/// Fewer beats than these say nothing about tempo.
const FEW: usize = 8;

/// A beat as it was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    pub at_s: f64,
    sort: Sort,
    /// What its variance is multiplied by.
    doubt: f64,
}

/// What a beat's time was taken from; how far each strays is told apart.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Sort {
    Grid = 2,
    Attack = 3,
}

impl Seen {
    /// By the grid.
    pub fn by_grid(at_s: f64) -> Seen {
        Seen { at_s, sort: Sort::Grid, doubt: 1.0 }
    }

    /// By its own sharp attack.
    pub fn by_attack(at_s: f64) -> Seen {
        Seen { at_s, sort: Sort::Attack, doubt: 1.0 }
    }
}

/// Standard deviations, seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Noise([f64; 4]);

/// Places in [`Noise`]: of a beat about the last one's interval, of an interval from the last; then as in [`Sort`].
const BEAT: usize = 0;
const INTERVAL: usize = 1;

impl Noise {
    const USUAL: Noise = Noise([1e-3, 2e-4, 2e-3, 2e-3]);
    const LEAST: [f64; 4] = [6e-5, 6e-6, 2e-4, 2e-4];
    const MOST: [f64; 4] = [2e-2, 2e-2, 2e-2, 2e-2];

    fn variance(&self, of: usize) -> f64 {
        self.0[of].powi(2)
    }

    /// The noise that makes runs of beats likeliest, but for short ones, found by doubling and halving.
    fn likeliest(runs: &[Vec<Seen>]) -> Noise {
        let long = || runs.iter().filter(|run| run.len() >= FEW);
        let likelihood = |noise: &Noise| long().map(|run| filter(run, noise).1).sum::<f64>();
        let mut best = Noise::USUAL;
        let mut most = likelihood(&best);
        loop {
            let before = most;
            for of in 0..4 {
                for factor in [0.5, 2.0] {
                    let mut tried = best;
                    tried.0[of] = (tried.0[of] * factor).clamp(Noise::LEAST[of], Noise::MOST[of]);
                    let likely = likelihood(&tried);
                    if likely > most {
                        (best, most) = (tried, likely);
                    }
                }
            }
            if most <= before + 1e-3 {
                return best;
            }
        }
    }
}

/// Time of a beat and interval to the next, and how unsure both are.
#[derive(Debug, Clone, Copy)]
struct State {
    time_s: f64,
    interval_s: f64,
    /// Variance of the time, covariance, variance of the interval.
    unsure: [f64; 3],
}

impl State {
    fn next(self, noise: &Noise) -> State {
        let [time, both, interval] = self.unsure;
        State {
            time_s: self.time_s + self.interval_s,
            interval_s: self.interval_s,
            unsure: [
                time + 2.0 * both + interval + noise.variance(BEAT),
                both + interval,
                interval + noise.variance(INTERVAL),
            ],
        }
    }

    /// Takes in when the beat was heard; the log-likelihood of it.
    fn take(&mut self, seen: &Seen, variance: f64) -> f64 {
        let [time, both, interval] = self.unsure;
        let spread = time + seen.doubt * variance;
        let off_s = seen.at_s - self.time_s;
        let gain = [time / spread, both / spread];
        self.time_s += gain[0] * off_s;
        self.interval_s += gain[1] * off_s;
        self.unsure = [time - gain[0] * time, both - gain[0] * both, interval - gain[1] * both];
        -0.5 * (spread.ln() + off_s * off_s / spread)
    }
}

/// States after each beat, with what was expected of each before it was heard, and how likely all is.
fn filter(run: &[Seen], noise: &Noise) -> (Vec<(State, State)>, f64) {
    /// Beats by which time and interval are found first.
    const FIRST: usize = 3;
    let mut states: Vec<(State, State)> = Vec::with_capacity(run.len());
    let mut likely = 0.0;
    for (k, seen) in run.iter().enumerate() {
        let expected = match states.last() {
            Some((_, last)) => last.next(noise),
            None => State {
                time_s: seen.at_s,
                interval_s: usual_interval_s(run),
                unsure: [1e-2, 0.0, 1e-2],
            },
        };
        let mut state = expected;
        let here = state.take(seen, noise.variance(seen.sort as usize));
        likely += if k < FIRST { 0.0 } else { here };
        states.push((expected, state));
    }
    (states, likely)
}

fn usual_interval_s(run: &[Seen]) -> f64 {
    median(run.windows(2).map(|pair| pair[1].at_s - pair[0].at_s).collect()).unwrap_or(0.0)
}

/// Times of a run of beats by all that was heard of it.
fn smoothed(run: &[Seen], noise: &Noise) -> Vec<f64> {
    let (states, _) = filter(run, noise);
    let mut times_s = vec![0.0; states.len()];
    let mut later: Option<(State, f64, f64)> = None;
    for (k, (expected, state)) in states.iter().enumerate().rev() {
        let (mut time_s, mut interval_s) = (state.time_s, state.interval_s);
        if let Some((expected_next, next_s, next_interval_s)) = later {
            let [time, both, interval] = state.unsure;
            let [a, b, c] = expected_next.unsure;
            let det = (a * c - b * b).max(1e-30);
            let (off_s, off_interval_s) =
                (next_s - expected_next.time_s, next_interval_s - expected_next.interval_s);
            // The covariance with the next beat's state, times the inverse of its variance.
            let pull = |to_time: f64, to_interval: f64| {
                let by_time = (to_time * c - to_interval * b) / det;
                let by_interval = (to_interval * a - to_time * b) / det;
                by_time * off_s + by_interval * off_interval_s
            };
            time_s += pull(time + both, both);
            interval_s += pull(both + interval, interval);
        }
        times_s[k] = time_s;
        later = Some((*expected, time_s, interval_s));
    }
    times_s
}

/// Where beats fall when each one's small accident is left out. Times stay as heard where too few follow one another.
pub(super) fn even_times_s(beats: &[Seen]) -> Vec<f64> {
    /// A beat this many standard deviations off is doubted.
    const FAR: f64 = 2.0;
    let mut runs = steady_runs(beats);
    let noise = Noise::likeliest(&runs);
    for run in runs.iter_mut().filter(|run| run.len() >= FEW) {
        let times_s = smoothed(run, &noise);
        for (seen, time_s) in run.iter_mut().zip(times_s) {
            let off = (seen.at_s - time_s) / noise.0[seen.sort as usize];
            seen.doubt = (off / FAR).powi(2).max(1.0);
        }
    }
    let noise = Noise::likeliest(&runs);
    let times_s = runs.iter().flat_map(|run| {
        if run.len() >= FEW {
            smoothed(run, &noise)
        } else {
            run.iter().map(|seen| seen.at_s).collect()
        }
    });
    times_s.collect()
}

/// Beats parted where the music stops or turns to another tempo; one beat heard at a wrong time parts nothing.
fn steady_runs(beats: &[Seen]) -> Vec<Vec<Seen>> {
    const RECENT: usize = 4;
    let gap_s = |k: usize| Some(beats.get(k + 1)?.at_s - beats.get(k)?.at_s);
    let mut runs: Vec<Vec<Seen>> = Vec::new();
    let mut recent_s: Vec<f64> = Vec::new();
    // The beat before this one was heard at a wrong time.
    let mut outlier = false;
    for (k, seen) in beats.iter().enumerate() {
        let gap = k.checked_sub(1).and_then(gap_s);
        let usual_s = median(recent_s.iter().rev().take(RECENT).copied().collect());
        let alike =
            |gap_s: f64| usual_s.is_none_or(|usual_s| (gap_s / usual_s - 1.0).abs() < OTHER_TEMPO);
        let in_time = gap.is_some_and(alike);
        let mends = gap.zip(gap_s(k)).is_some_and(|(gap, next)| alike((gap + next) / 2.0));
        match runs.last_mut() {
            Some(run) if in_time || outlier || mends => {
                recent_s.extend(gap.filter(|_| in_time));
                outlier = !in_time && !outlier;
                run.push(*seen);
            }
            _ => {
                outlier = false;
                recent_s.clear();
                runs.push(vec![*seen]);
            }
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Small numbers that look random, in -1..1, the same each time.
    fn jitter(k: usize) -> f64 {
        let mixed = (k as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        ((mixed >> 40) as f64) / f64::from(1u32 << 23) - 1.0
    }

    fn heard(times_s: &[f64]) -> Vec<Seen> {
        times_s.iter().copied().map(Seen::by_grid).collect()
    }

    fn worst_s(found: &[f64], true_s: &[f64]) -> f64 {
        found.iter().zip(true_s).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
    }

    #[test]
    fn a_machines_beats_come_to_lie_on_a_line() {
        let true_s: Vec<f64> = (0..200).map(|k| 0.5 * f64::from(k)).collect();
        let strayed: Vec<f64> =
            true_s.iter().enumerate().map(|(k, t)| t + 0.006 * jitter(k)).collect();
        let found = even_times_s(&heard(&strayed));
        assert!(worst_s(&found[2..198], &true_s[2..198]) < 0.002);
    }

    #[test]
    fn a_tempo_that_wanders_is_followed() {
        let true_s: Vec<f64> = (0..200)
            .scan(0.0, |at_s, k| {
                *at_s += 0.5 * (1.0 + 0.05 * (f64::from(k) / 15.0).sin());
                Some(*at_s)
            })
            .collect();
        assert!(worst_s(&even_times_s(&heard(&true_s)), &true_s) < 0.0005);
        let strayed: Vec<f64> =
            true_s.iter().enumerate().map(|(k, t)| t + 0.004 * jitter(k)).collect();
        let found = even_times_s(&heard(&strayed));
        let off =
            |times: &[f64]| times.iter().zip(&true_s).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
        assert!(off(&found) < off(&strayed), "{} {}", off(&found), off(&strayed));
    }

    #[test]
    fn sharp_attacks_say_more_than_soft_beats() {
        let true_s: Vec<f64> = (0..120).map(|k| 0.5 * f64::from(k)).collect();
        let beats: Vec<Seen> = true_s
            .iter()
            .enumerate()
            .map(|(k, t)| match k % 2 {
                0 => Seen::by_attack(t + 0.0005 * jitter(k + 500)),
                _ => Seen::by_grid(t + 0.012 * jitter(k)),
            })
            .collect();
        assert!(worst_s(&even_times_s(&beats)[1..119], &true_s[1..119]) < 0.0008);
    }

    #[test]
    fn a_pause_and_a_new_tempo_part_the_runs_and_one_wrong_beat_does_not() {
        let mut times_s: Vec<f64> = (0..40).map(|k| 0.5 * f64::from(k)).collect();
        times_s.extend((0..40).map(|k| 22.0 + 0.5 * f64::from(k)));
        times_s.extend((0..40).map(|k| 42.0 + 0.4 * f64::from(k)));
        let true_s = times_s.clone();
        times_s[20] += 0.06;
        let found = even_times_s(&heard(&times_s));
        assert_eq!(found.len(), 120);
        assert!(
            (found[20] - true_s[20]).abs() < 0.005,
            "the wrong beat is put right: {}",
            found[20]
        );
        for (k, (a, b)) in found.iter().zip(&true_s).enumerate() {
            assert!((a - b).abs() < 0.005, "{k}: {a} {b}");
        }
    }

    #[test]
    fn few_beats_stay_as_heard() {
        assert_eq!(even_times_s(&heard(&[1.0, 1.51, 2.0])), [1.0, 1.51, 2.0]);
        assert!(even_times_s(&[]).is_empty());
    }
}
