//! The odds that a phrase starts on a beat.

use super::sound::BeatSounds;

/// How many cues there are.
pub const N_CUES: usize = 16;

/// What each cue is, in the order of [`Cues`].
pub const CUE_NAMES: [&str; N_CUES] = [
    "timbre 4",
    "timbre 8",
    "timbre 16",
    "rhythm 4",
    "rhythm 8",
    "rhythm 16",
    "harmony 8",
    "harmony 16",
    "louder",
    "softer",
    "cymbal",
    "fill",
    "repeat starts",
    "repeat ends",
    "downbeat",
    "bar known",
];

/// Evidence at each beat that a phrase starts there. Shape `[n_beats, N_CUES]`; all but the last two
/// are in standard deviations over the song.
#[derive(Debug, Clone, Default)]
pub struct Cues(pub Vec<[f64; N_CUES]>);

/// Gathers the evidence. `bar_positions` is each beat's place in its bar, 1-based.
pub fn cues(sounds: &BeatSounds, bar_positions: &[u32]) -> Cues {
    let n = sounds.len();
    let mut columns: Vec<Vec<f64>> = Vec::with_capacity(N_CUES);
    for window in [4, 8, 16] {
        columns.push(contrast(&sounds.timbre, window));
    }
    for window in [4, 8, 16] {
        columns.push(contrast(&sounds.rhythm, window));
    }
    for window in [8, 16] {
        columns.push(contrast(&sounds.harmony, window));
    }
    let loudness: Vec<[f32; 1]> = sounds.loudness.iter().map(|&l| [l]).collect();
    let step = |sign: f64| -> Vec<f64> {
        (0..n)
            .map(|i| {
                let (before, after) =
                    (mean(&loudness, i.saturating_sub(4), i), mean(&loudness, i, i + 4));
                (sign * f64::from(after[0] - before[0])).max(0.0)
            })
            .collect()
    };
    columns.push(step(1.0));
    columns.push(step(-1.0));
    columns.push(over_recent(&sounds.cymbal.iter().map(|&c| f64::from(c)).collect::<Vec<_>>()));
    let busy: Vec<f64> =
        sounds.rhythm.iter().map(|r| r.iter().map(|&x| f64::from(x)).sum()).collect();
    let fills = over_recent(&busy);
    columns.push((0..n).map(|i| if i == 0 { 0.0 } else { fills[i - 1] }).collect());
    let (starts, ends) = repetition(sounds);
    columns.push(starts);
    columns.push(ends);
    columns.iter_mut().for_each(|c| standardise(c));
    columns.push((0..n).map(|i| f64::from(bar_positions.get(i) == Some(&1))).collect());
    columns.push(vec![1.0; n]);
    let cues = (0..n)
        .map(|i| {
            let mut row = [0.0; N_CUES];
            row.iter_mut().zip(&columns).for_each(|(to, column)| *to = column[i]);
            row
        })
        .collect();
    Cues(cues)
}

/// Log odds at each beat that a phrase starts there, from a logistic regression over the cues.
pub fn boundary_odds(cues: &Cues) -> Vec<f64> {
    let odds = |row: &[f64; N_CUES]| row.iter().zip(WEIGHTS).map(|(x, w)| x * w).sum();
    cues.0.iter().map(odds).collect()
}

/// Weights of the cues, learned by `training/form.py` on rendered songs with known phrases.
const WEIGHTS: [f64; N_CUES] = [
    0.47, 0.35, 0.33, 0.14, 0.39, -0.09, -0.18, 0.09, -0.05, -0.22, 0.15, 0.13, 0.32, 0.41, 4.81,
    -7.94,
];

/// Log odds that a beat starts a phrase, over all beats of the songs that the weights were learned on.
/// The lengths of phrases say as much again, so where both are added it is taken off once.
pub const BASE_ODDS: f64 = -3.28;

/// How differently the beats after `i` sound from those before it: squared distance of the means over
/// the spread within both, summed over dimensions (Fisher's ratio). Shape `[n_beats]`.
fn contrast<const D: usize>(sounds: &[[f32; D]], window: usize) -> Vec<f64> {
    let n = sounds.len();
    let overall = spread(sounds, &mean(sounds, 0, n), 0, n);
    (0..n)
        .map(|i| {
            if i < window / 2 || i + window / 2 > n {
                return 0.0;
            }
            let (from, to) = (i.saturating_sub(window), (i + window).min(n));
            let (before, after) = (mean(sounds, from, i), mean(sounds, i, to));
            let (sb, sa) = (spread(sounds, &before, from, i), spread(sounds, &after, i, to));
            let mut sum = 0.0;
            for d in 0..D {
                let within = f64::from(sb[d] + sa[d]) / 2.0 + 0.1 * f64::from(overall[d]) + 1e-9;
                sum += f64::from(after[d] - before[d]).powi(2) / within;
            }
            (sum / D as f64).sqrt()
        })
        .collect()
}

fn mean<const D: usize>(sounds: &[[f32; D]], from: usize, to: usize) -> [f32; D] {
    let rows = sounds.get(from.min(sounds.len())..to.min(sounds.len())).unwrap_or_default();
    let mut mean = [0.0; D];
    for row in rows {
        for (m, x) in mean.iter_mut().zip(row) {
            *m += x / rows.len() as f32;
        }
    }
    mean
}

fn spread<const D: usize>(
    sounds: &[[f32; D]],
    mean: &[f32; D],
    from: usize,
    to: usize,
) -> [f32; D] {
    let rows = &sounds[from..to];
    let mut spread = [0.0; D];
    for row in rows {
        for d in 0..D {
            spread[d] += (row[d] - mean[d]).powi(2) / rows.len() as f32;
        }
    }
    spread
}

/// How far each value stands above the mean of the 16 before it.
fn over_recent(values: &[f64]) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let recent = &values[i.saturating_sub(16)..i];
            if recent.is_empty() {
                return 0.0;
            }
            (values[i] - recent.iter().sum::<f64>() / recent.len() as f64).max(0.0)
        })
        .collect()
}

/// For each beat, how clearly stretches that come again start there, and end there: over all lags,
/// the mean of the five clearest jumps in how like the beats `i` and `i + lag` onwards are.
fn repetition(sounds: &BeatSounds) -> (Vec<f64>, Vec<f64>) {
    /// Beats compared on each side.
    const SPAN: usize = 16;
    /// Beyond this (half an hour of beats) the table of all pairs would be too large.
    const MOST_BEATS: usize = 3600;
    const SHORTEST_LAG: usize = 8;
    const CLEAREST: usize = 5;
    let n = sounds.len();
    if !(2 * SPAN..=MOST_BEATS).contains(&n) {
        return (vec![0.0; n], vec![0.0; n]);
    }
    let centred = centre(&sounds.harmony);
    let mut starts = vec![[0f32; CLEAREST]; n];
    let mut ends = vec![[0f32; CLEAREST]; n];
    let mut sums = Vec::with_capacity(n + 1);
    for lag in SHORTEST_LAG..n - SPAN {
        // Running sums make every window's mean a difference.
        sums.clear();
        sums.push(0f32);
        for i in 0..n - lag {
            let like: f32 = centred[i].iter().zip(&centred[i + lag]).map(|(a, b)| a * b).sum();
            sums.push(sums[i] + like);
        }
        for i in SPAN..(n - lag).saturating_sub(SPAN) {
            let before = (sums[i] - sums[i - SPAN]) / SPAN as f32;
            let after = (sums[i + SPAN] - sums[i]) / SPAN as f32;
            for at in [i, i + lag] {
                keep_largest(&mut starts[at], after - before);
                keep_largest(&mut ends[at], before - after);
            }
        }
    }
    let total = |rows: Vec<[f32; CLEAREST]>| {
        rows.iter().map(|r| f64::from(r.iter().sum::<f32>())).collect()
    };
    (total(starts), total(ends))
}

/// Harmony with the song's mean taken out, unit length again: what is particular to each beat.
fn centre<const D: usize>(rows: &[[f32; D]]) -> Vec<[f32; D]> {
    let mean = mean(rows, 0, rows.len());
    rows.iter()
        .map(|row| {
            let mut out = [0.0; D];
            for d in 0..D {
                out[d] = row[d] - mean[d];
            }
            let norm = out.iter().map(|x| x * x).sum::<f32>().sqrt().max(0.05);
            out.map(|x| x / norm)
        })
        .collect()
}

/// Keeps `value` among the largest, which are held in falling order.
fn keep_largest<const N: usize>(largest: &mut [f32; N], mut value: f32) {
    for kept in largest.iter_mut() {
        if value > *kept {
            std::mem::swap(kept, &mut value);
        }
    }
}

fn standardise(values: &mut [f64]) {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    let deviation = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
    if deviation > 1e-12 {
        // A clear boundary stands six deviations out; more says no more.
        values.iter_mut().for_each(|x| *x = ((*x - mean) / deviation).min(6.0));
    } else {
        values.iter_mut().for_each(|x| *x = 0.0);
    }
}
