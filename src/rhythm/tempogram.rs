//! The tempogram: which tempi a curve of onsets holds, over time.
//!
//! The Fourier tempogram of Grosche & Müller (2011), *Extracting predominant local pulse information
//! from music recordings*, IEEE TASLP 19(6): the curve, less its local mean, is correlated with a
//! windowed sinusoid of each tempo.

use std::f64::consts::TAU;

use super::onset::moving_mean;

/// Strength of each tempo at each time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tempogram {
    /// Tempi, beats a minute, ascending, a fortieth of an octave apart. Shape `[n_tempi]`.
    pub tempi_bpm: Vec<f64>,
    /// Times of the columns, seconds: one a second. Shape `[n_times]`.
    pub times_s: Vec<f64>,
    /// Strength, 0 to 1 of the strongest anywhere. Shape `[n_times, n_tempi]`.
    pub strength: Vec<f32>,
}

/// Slowest and fastest tempo shown.
const SLOWEST_BPM: f64 = 30.0;
const FASTEST_BPM: f64 = 300.0;
const TEMPI_AN_OCTAVE: f64 = 40.0;
/// Length of the window, seconds: long enough to tell tempi 6 % apart at 120 a minute.
const WINDOW_S: f64 = 8.0;

impl Tempogram {
    /// Tempogram of a curve (onset strength or beat activation) of `frames_per_second`.
    pub fn of(curve: &[f32], frames_per_second: f64) -> Tempogram {
        if curve.is_empty() || frames_per_second <= 0.0 {
            return Tempogram::default();
        }
        let n_tempi = ((FASTEST_BPM / SLOWEST_BPM).log2() * TEMPI_AN_OCTAVE) as usize + 1;
        let tempi_bpm: Vec<f64> =
            (0..n_tempi).map(|k| SLOWEST_BPM * 2f64.powf(k as f64 / TEMPI_AN_OCTAVE)).collect();
        let means = moving_mean(curve, frames_per_second as usize);
        let curve: Vec<f64> = curve.iter().zip(means).map(|(&x, m)| f64::from(x) - m).collect();
        let half = (WINDOW_S * frames_per_second / 2.0) as i64;
        let seconds = (curve.len() as f64 / frames_per_second).ceil() as usize;
        let times_s: Vec<f64> = (0..seconds).map(|s| s as f64).collect();
        let mut strength = Vec::with_capacity(seconds * n_tempi);
        for &time in &times_s {
            let centre = (time * frames_per_second).round() as i64;
            let windowed: Vec<f64> = (-half..=half)
                .map(|n| {
                    let x = usize::try_from(centre + n).ok().and_then(|k| curve.get(k)).copied();
                    let hann = 0.5 + 0.5 * (TAU * n as f64 / (2 * half + 2) as f64).cos();
                    x.unwrap_or(0.0) * hann
                })
                .collect();
            strength.extend(
                tempi_bpm
                    .iter()
                    .map(|bpm| magnitude(&windowed, TAU * bpm / 60.0 / frames_per_second) as f32),
            );
        }
        let strongest = strength.iter().fold(0f32, |a, &b| a.max(b));
        if strongest > 1e-6 {
            strength.iter_mut().for_each(|s| *s /= strongest);
        }
        Tempogram { tempi_bpm, times_s, strength }
    }

    /// Strength of every tempo at a column. Shape `[n_tempi]`.
    pub fn column(&self, time: usize) -> &[f32] {
        let n = self.tempi_bpm.len();
        self.strength.get(time * n..(time + 1) * n).unwrap_or_default()
    }
}

/// Magnitude of a signal at one angular frequency, by Goertzel's recursion.
fn magnitude(signal: &[f64], angle: f64) -> f64 {
    let twice = 2.0 * angle.cos();
    let (mut last, mut before) = (0.0, 0.0);
    for &x in signal {
        let next = x + twice * last - before;
        (before, last) = (last, next);
    }
    (last * last + before * before - twice * last * before).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pulses_are_strongest_at_their_own_tempo() {
        // Smooth pulses at 90 a minute: no overtone is as strong as the pulse itself.
        let curve: Vec<f32> =
            (0..1500).map(|k| ((TAU * 1.5 * k as f64 / 50.0).cos().max(0.0)) as f32).collect();
        let tempogram = Tempogram::of(&curve, 50.0);
        let column = tempogram.column(15);
        let strongest = (0..column.len()).max_by(|&a, &b| column[a].total_cmp(&column[b])).unwrap();
        assert!((tempogram.tempi_bpm[strongest] / 90.0).log2().abs() < 0.5 / TEMPI_AN_OCTAVE);
    }

    #[test]
    fn nothing_has_no_tempo() {
        assert_eq!(Tempogram::of(&[], 50.0), Tempogram::default());
        let still = Tempogram::of(&[0.3; 500], 50.0);
        assert!(still.strength.iter().all(|s| s.is_finite()));
    }
}
