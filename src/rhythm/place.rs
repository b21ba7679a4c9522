//! Puts beats on the attack: from steps of 10 ms to where the sound starts.

use super::attack::{ATTACK_BANDS, AttackEnvelope};

/// How far from where the pulse puts it a beat may be moved, seconds.
const REACH_S: f64 = 0.045;
/// How far attacks scatter about the pulse, seconds: the weight of nearness.
const SCATTER_S: f64 = 0.018;
/// Beats to either side that say where a beat should lie.
const NEIGHBOURS: usize = 4;
/// How much of a beat's own attack is believed against its neighbours.
const OWN_SHARE: f64 = 0.6;

/// Moves each beat (seconds, ascending) to its attack where there is a clear one, and to where its
/// neighbours put it where there is none.
pub(crate) fn place_on_attacks(beats_s: &[f64], attack: &AttackEnvelope) -> Vec<f64> {
    let (times, weights): (Vec<f64>, Vec<f64>) =
        beats_s.iter().map(|&beat| nearest_attack(beat, attack)).unzip();
    let placed = (0..times.len()).map(|i| {
        let (from, to) = alike_around(i, beats_s);
        let expected = line_at(i, from, &times[from..to], &weights[from..to]);
        let own = OWN_SHARE * weights[i] / (weights[i] + 0.2);
        expected + own * (times[i] - expected)
    });
    let mut last = f64::NEG_INFINITY;
    placed
        .map(|time| {
            // Neighbours never cross, whatever the attacks said.
            let time = time.max(0.0).max(last + 1e-3);
            last = time;
            time
        })
        .collect()
}

/// The beats around beat `i` that keep its tempo: from the first to one past the last. A line through
/// beats before and after a sudden change of tempo would pull both off.
fn alike_around(i: usize, beats_s: &[f64]) -> (usize, usize) {
    const ALIKE: f64 = 0.08;
    let gap = |k: usize| beats_s[k + 1] - beats_s[k];
    let alike = |k: usize, l: usize| (gap(k) / gap(l) - 1.0).abs() < ALIKE;
    let (mut from, mut to) = (i, i + 1);
    while from > 0 && i - from < NEIGHBOURS && (from == i || alike(from - 1, from)) {
        from -= 1;
    }
    while to < beats_s.len() && to - i <= NEIGHBOURS && (to == i + 1 || alike(to - 1, to - 2)) {
        to += 1;
    }
    // On the beat where the tempo changes, the two sides disagree: keep the longer one.
    if from < i && to > i + 1 && !alike(i - 1, i) {
        if i - from >= to - 1 - i {
            to = i + 1;
        } else {
            from = i;
        }
    }
    (from, to)
}

/// Time of the clearest attack near a beat, and how clear it is (0 none, 1 very).
fn nearest_attack(beat_s: f64, attack: &AttackEnvelope) -> (f64, f64) {
    let centre = AttackEnvelope::point_at(beat_s).round() as i64;
    let reach = AttackEnvelope::point_at(REACH_S).ceil() as i64;
    let rises = rises(attack, centre - reach - 1, centre + reach + 1);
    let mean = rises.iter().sum::<f64>() / rises.len() as f64;
    let peak = rises.iter().fold(0f64, |a, &b| a.max(b));
    if peak <= 1e-9 {
        return (beat_s, 0.0);
    }
    let weighted = |k: usize| {
        let point = (centre - reach - 1 + k as i64) as f64;
        let off = (AttackEnvelope::time_s(point) - beat_s) / SCATTER_S;
        rises[k] * (-0.5 * off * off).exp()
    };
    let best = (1..rises.len() - 1)
        .max_by(|&a, &b| weighted(a).total_cmp(&weighted(b)))
        .unwrap_or(reach as usize + 1);
    let at = (centre - reach - 1 + best as i64) as f64 + summit(&rises, best);
    let clear = (rises[best] / (mean + 1e-9) - 1.5).clamp(0.0, 3.0) / 3.0;
    (AttackEnvelope::time_s(at), clear)
}

/// Rise of amplitude at each point from `from` to `to`: bands are added after each is measured
/// against its own loudest within the stretch and a little beyond, so that a hi-hat and a bass drum
/// weigh the same.
fn rises(attack: &AttackEnvelope, from: i64, to: i64) -> Vec<f64> {
    const MARGIN: i64 = 2;
    let amplitude: Vec<[f64; ATTACK_BANDS]> = (from - MARGIN..=to + MARGIN)
        .map(|point| match usize::try_from(point) {
            Ok(point) => attack.powers(point).map(|p| f64::from(p).sqrt()),
            Err(_) => [0.0; ATTACK_BANDS],
        })
        .collect();
    let mut loudest = [1e-4; ATTACK_BANDS];
    for point in &amplitude {
        for band in 0..ATTACK_BANDS {
            loudest[band] = point[band].max(loudest[band]);
        }
    }
    let m = MARGIN as usize;
    (m..amplitude.len() - m)
        .map(|k| {
            (0..ATTACK_BANDS)
                .map(|b| {
                    let rise = (amplitude[k + 1][b] - amplitude[k - 1][b])
                        + 0.5 * (amplitude[k + 2][b] - amplitude[k - 2][b]);
                    (rise / loudest[b]).max(0.0)
                })
                .sum()
        })
        .collect()
}

/// Where between two points a peak's summit lies: a parabola through it and its neighbours.
fn summit(curve: &[f64], peak: usize) -> f64 {
    match (peak.checked_sub(1).and_then(|k| curve.get(k)), curve.get(peak + 1)) {
        (Some(&before), Some(&after)) => {
            let bend = before - 2.0 * curve[peak] + after;
            if bend < -1e-12 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 }
        }
        _ => 0.0,
    }
}

/// Value at beat `i` of the line that best fits `times` (of beats from `from` on) by weighted least
/// squares.
fn line_at(i: usize, from: usize, times: &[f64], weights: &[f64]) -> f64 {
    let (mut sw, mut sx, mut sy) = (0.0, 0.0, 0.0);
    let place = |k: usize| (from + k) as f64 - i as f64;
    for (k, (&y, &w)) in times.iter().zip(weights).enumerate() {
        let w = w + 0.05;
        sw += w;
        sx += w * place(k);
        sy += w * y;
    }
    let (mx, my) = (sx / sw, sy / sw);
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for (k, (&y, &w)) in times.iter().zip(weights).enumerate() {
        let w = w + 0.05;
        sxx += w * (place(k) - mx) * (place(k) - mx);
        sxy += w * (place(k) - mx) * (y - my);
    }
    if sxx > 1e-12 { my - mx * sxy / sxx } else { my }
}
