//! The odds that a phrase starts on a beat.

use super::sound::{BeatSounds, PITCHES, TIMBRE};

/// How many cues there are.
pub const N_CUES: usize = 21;

/// Evidence at each beat that a phrase starts there. Shape `[n_beats, N_CUES]`; all but the last
/// two are in standard deviations over the song.
///
/// In order: timbre 4, timbre 8, timbre 16, rhythm 4, rhythm 8, rhythm 16, harmony 8, harmony 16,
/// harmony 32, louder, softer, cymbal, fill, rhythm left before, rhythm new, repeat starts,
/// repeat ends, long repeat starts, long repeat ends, downbeat, middle of the bar.
#[derive(Debug, Clone, Default)]
pub struct Cues(pub Vec<[f64; N_CUES]>);

/// Gathers the evidence. `bar_positions` is each beat's place in its bar, 1-based.
pub fn cues(sounds: &BeatSounds, bar_positions: &[u32], per_bar: usize) -> Cues {
    let n = sounds.len();
    let mut columns: Vec<Vec<f64>> = Vec::with_capacity(N_CUES);
    for window in [4, 8, 16] {
        columns.push(contrast(&sounds.timbre, window));
    }
    for window in [4, 8, 16] {
        columns.push(contrast(&sounds.rhythm, window));
    }
    for window in [8, 16, 32] {
        columns.push(contrast(&sounds.harmony, window));
    }
    let loudness: Vec<[f32; 1]> = sounds.loudness.iter().map(|&l| [l]).collect();
    let steps: Vec<f64> = (0..n)
        .map(|i| {
            let level = |from, to| f64::from(mean(&loudness, from, to)[0]);
            level(i, i + 4) - level(i.saturating_sub(4), i)
        })
        .collect();
    columns.push(steps.iter().map(|step| step.max(0.0)).collect());
    columns.push(steps.iter().map(|step| (-step).max(0.0)).collect());
    columns.push(over_recent(&sounds.cymbal.iter().map(|&c| f64::from(c)).collect::<Vec<_>>()));
    let busy: Vec<f64> =
        sounds.rhythm.iter().map(|r| r.iter().map(|&x| f64::from(x)).sum()).collect();
    columns.push(one_later(&over_recent(&busy)));
    let unlike = unlike_earlier_bars(&sounds.rhythm, per_bar);
    let half_bar = per_bar.div_ceil(2);
    columns.push((0..n).map(|i| average(&unlike, i.saturating_sub(half_bar), i)).collect());
    columns.push(over_recent(&unlike));
    let harmony = particular(&sounds.harmony);
    let (starts, ends) = repetition(&harmony, 16);
    columns.push(starts);
    columns.push(ends);
    let both = beside(&harmony, &particular(&sounds.timbre));
    let (starts, ends) = repetition(&both, if n > 160 { 32 } else { 16 });
    columns.push(starts);
    columns.push(ends);
    columns.iter_mut().for_each(|c| standardise(c));
    columns.push((0..n).map(|i| f64::from(bar_positions.get(i) == Some(&1))).collect());
    let in_middle = |place: &u32| per_bar > 1 && (*place as usize - 1) * 2 == per_bar;
    columns.push((0..n).map(|i| f64::from(bar_positions.get(i).is_some_and(in_middle))).collect());
    let cues = (0..n)
        .map(|i| {
            let mut row = [0.0; N_CUES];
            row.iter_mut().zip(&columns).for_each(|(to, column)| *to = column[i]);
            row
        })
        .collect();
    Cues(cues)
}

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
                let within = f64::from(sb[d] + sa[d]) / 2.0 + 0.1 * f64::from(overall[d]) + 1e-6;
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

/// Each value moved to the next beat.
fn one_later(values: &[f64]) -> Vec<f64> {
    (0..values.len()).map(|i| if i == 0 { 0.0 } else { values[i - 1] }).collect()
}

fn average(values: &[f64], from: usize, to: usize) -> f64 {
    let window = values.get(from..to).unwrap_or_default();
    window.iter().sum::<f64>() / window.len().max(1) as f64
}

/// How unlike the same place of one and of two bars earlier each beat's rhythm is: root mean square,
/// each value in standard deviations over the song.
fn unlike_earlier_bars<const D: usize>(rhythm: &[[f32; D]], per_bar: usize) -> Vec<f64> {
    let overall = spread(rhythm, &mean(rhythm, 0, rhythm.len()), 0, rhythm.len());
    let unlike = |i: usize, earlier: usize| -> f64 {
        let Some(j) = i.checked_sub(earlier) else { return 0.0 };
        let square = |d: usize| (rhythm[i][d] - rhythm[j][d]).powi(2) / overall[d].max(1e-12);
        (f64::from((0..D).map(square).sum::<f32>()) / D as f64).sqrt()
    };
    (0..rhythm.len()).map(|i| (unlike(i, per_bar) + unlike(i, 2 * per_bar)) / 2.0).collect()
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
/// the sum of the five clearest jumps in how like the `span` beats after it and the `span` before it
/// are to those at the lag.
fn repetition<const D: usize>(sounds: &[[f32; D]], span: usize) -> (Vec<f64>, Vec<f64>) {
    /// Beyond this (half an hour of beats) comparing all pairs would take too long.
    const MOST_BEATS: usize = 3600;
    const SHORTEST_LAG: usize = 8;
    const CLEAREST: usize = 5;
    let n = sounds.len();
    if !(2 * span..=MOST_BEATS).contains(&n) {
        return (vec![0.0; n], vec![0.0; n]);
    }
    let mut starts = vec![[0f32; CLEAREST]; n];
    let mut ends = vec![[0f32; CLEAREST]; n];
    let mut sums = Vec::with_capacity(n + 1);
    for lag in SHORTEST_LAG..n - span {
        // Running sums make every window's mean a difference.
        sums.clear();
        sums.push(0f32);
        for (i, (a, b)) in sounds.iter().zip(&sounds[lag..]).enumerate() {
            let like: f32 = a.iter().zip(b).map(|(a, b)| a * b).sum();
            sums.push(sums[i] + like);
        }
        for i in span..(n - lag).saturating_sub(span) {
            let before = (sums[i] - sums[i - span]) / span as f32;
            let after = (sums[i + span] - sums[i]) / span as f32;
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

/// Sounds with the song's mean taken out, unit length: what is particular to each beat.
pub(super) fn particular<const D: usize>(rows: &[[f32; D]]) -> Vec<[f32; D]> {
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

/// Harmony and timbre in one, unit length; harmony weighs more.
fn beside(harmony: &[[f32; PITCHES]], timbre: &[[f32; TIMBRE]]) -> Vec<[f32; PITCHES + TIMBRE]> {
    const TIMBRE_WEIGHT: f32 = 0.6;
    harmony
        .iter()
        .zip(timbre)
        .map(|(harmony, timbre)| {
            let mut both = [0.0; PITCHES + TIMBRE];
            both[..PITCHES].copy_from_slice(harmony);
            both[PITCHES..].iter_mut().zip(timbre).for_each(|(to, t)| *to = TIMBRE_WEIGHT * t);
            let norm = both.iter().map(|x| x * x).sum::<f32>().sqrt().max(1e-6);
            both.map(|x| x / norm)
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
    // Less than this is rounding, not music.
    if deviation > 1e-3 {
        // A clear boundary stands six deviations out; more says no more.
        values.iter_mut().for_each(|x| *x = ((*x - mean) / deviation).min(6.0));
    } else {
        values.iter_mut().for_each(|x| *x = 0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{bars_of_four, song};
    use super::*;

    #[test]
    fn a_change_of_sound_stands_out_where_phrases_start() {
        let (sounds, starts) = song("v32 C32 v32 C36 b32 C32");
        let n = sounds.len();
        let cues = cues(&sounds, &bars_of_four(n), 4).0;
        let timbre = |beat: usize| cues[beat][..3].iter().sum::<f64>();
        let mut order: Vec<usize> = (8..n - 8).collect();
        order.sort_by(|&a, &b| timbre(b).total_cmp(&timbre(a)));
        let mut best = order[..starts.len() - 1].to_vec();
        best.sort_unstable();
        assert_eq!(best, starts[1..]);
    }

    #[test]
    fn a_song_that_never_changes_has_no_cue_but_its_bars() {
        let (sounds, _) = song("v160");
        let cues = cues(&sounds, &bars_of_four(160), 4);
        // The opening itself is a change; well inside the song nothing is.
        let inside = &cues.0[40..120];
        assert!(inside.iter().all(|row| row[..3].iter().all(|&timbre| timbre.abs() < 1e-6)));
    }

    #[test]
    fn no_beats_no_cues() {
        assert!(cues(&BeatSounds::default(), &[], 4).0.is_empty());
    }
}
