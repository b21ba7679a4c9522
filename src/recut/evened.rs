//! Directions in which all counts of a recording spread widely tell its counts apart no better than others: the chords of
//! its key are everywhere. They are made narrower, so that what is rare weighs more.

use crate::song::form::PITCHES;

type Vector = [f32; PITCHES];
type Matrix = [[f64; PITCHES]; PITCHES];

/// Each direction is divided by its variance to this power; a half would make all spread alike, noise too.
const EVENED: f64 = 0.35;
/// Least variance of a direction, as a share of the mean one's.
const LEAST: f64 = 1e-3;
/// Rounds of rotations; a matrix of this size is done in six to eight.
const ROUNDS: usize = 12;

/// Rows around nought, with the directions in which those that are `usual` spread made more even.
pub(super) fn evened(rows: &[Vector], usual: impl Fn(usize) -> bool) -> Vec<Vector> {
    let Some(variance) = variance(rows, usual) else { return rows.to_vec() };
    let (values, axes) = principal(variance);
    let mean = values.iter().sum::<f64>() / PITCHES as f64;
    if mean <= 0.0 {
        return rows.to_vec();
    }
    let gain = values.map(|value| (value.max(0.0) / mean + LEAST).powf(-EVENED));
    // There and back, so that pitch classes stay pitch classes.
    let by = |a: usize, b: usize| -> f64 {
        (0..PITCHES).map(|axis| axes[a][axis] * gain[axis] * axes[b][axis]).sum()
    };
    let matrix: [Vector; PITCHES] =
        std::array::from_fn(|a| std::array::from_fn(|b| by(a, b) as f32));
    let times = |row: &Vector| matrix.map(|of| of.iter().zip(row).map(|(m, x)| m * x).sum());
    rows.iter().map(times).collect()
}

fn variance(rows: &[Vector], usual: impl Fn(usize) -> bool) -> Option<Matrix> {
    let mut sums = Matrix::default();
    let mut n = 0;
    for (_, row) in rows.iter().enumerate().filter(|(i, _)| usual(*i)) {
        n += 1;
        for (sums, x) in sums.iter_mut().zip(row) {
            sums.iter_mut().zip(row).for_each(|(sum, y)| *sum += f64::from(x * y));
        }
    }
    (n > 0).then(|| sums.map(|row| row.map(|sum| sum / f64::from(n))))
}

/// Variances along the principal axes, and the axes as columns (Jacobi's rotations).
fn principal(mut m: Matrix) -> ([f64; PITCHES], Matrix) {
    let mut axes: Matrix =
        std::array::from_fn(|a| std::array::from_fn(|b| f64::from(u8::from(a == b))));
    for _ in 0..ROUNDS {
        for p in 0..PITCHES {
            for q in p + 1..PITCHES {
                rotate(&mut m, &mut axes, p, q);
            }
        }
    }
    (std::array::from_fn(|k| m[k][k]), axes)
}

/// Turns two axes so that nothing is common to both.
fn rotate(m: &mut Matrix, axes: &mut Matrix, p: usize, q: usize) {
    if m[p][q].abs() < 1e-15 {
        return;
    }
    let theta = (m[q][q] - m[p][p]) / (2.0 * m[p][q]);
    let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
    let c = 1.0 / (t * t + 1.0).sqrt();
    let s = t * c;
    let turned = |x: f64, y: f64| (c * x - s * y, s * x + c * y);
    for row in m.iter_mut().chain(axes.iter_mut()) {
        (row[p], row[q]) = turned(row[p], row[q]);
    }
    for k in 0..PITCHES {
        (m[p][k], m[q][k]) = turned(m[p][k], m[q][k]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows that spread four times as far along a chord as along its neighbour, and in a key.
    fn rows(key: usize) -> Vec<Vector> {
        (0..64)
            .map(|k| {
                let mut row = Vector::default();
                let (wide, narrow) = ([-2.0, -1.0, 1.0, 2.0][k % 4], [-0.5, 0.5][k / 4 % 2]);
                for pitch in [0, 4, 7] {
                    row[(pitch + key) % PITCHES] += wide;
                    row[(pitch + key + 1) % PITCHES] += narrow;
                }
                row
            })
            .collect()
    }

    fn spread(rows: &[Vector], pitch: usize) -> f32 {
        rows.iter().map(|row| row[pitch] * row[pitch]).sum()
    }

    #[test]
    fn what_spreads_widely_is_made_narrower() {
        let (before, after) = (rows(0), evened(&rows(0), |_| true));
        let ratio = |rows: &[Vector]| spread(rows, 0) / spread(rows, 5);
        assert!(ratio(&before) > 9.0, "{}", ratio(&before));
        assert!(ratio(&after) < 3.0, "{}", ratio(&after));
    }

    #[test]
    fn another_key_is_evened_alike() {
        let (here, higher) = (evened(&rows(0), |_| true), evened(&rows(3), |_| true));
        for (a, b) in here.iter().zip(&higher) {
            for pitch in 0..PITCHES {
                let apart = (a[pitch] - b[(pitch + 3) % PITCHES]).abs();
                assert!(apart < 1e-4, "{apart}");
            }
        }
    }

    #[test]
    fn silence_stays_silent() {
        assert_eq!(evened(&[Vector::default(); 3], |_| true), [Vector::default(); 3]);
        assert!(evened(&[], |_| true).is_empty());
    }
}
