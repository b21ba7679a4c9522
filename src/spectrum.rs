//! Power spectra, two windows to a transform.
//!
//! A complex transform of one window in the real part and another in the imaginary part holds the spectra of both:
//! the even part of it is the first's, the odd part the second's (Oppenheim and Schafer, *Discrete-Time Signal
//! Processing*, 8.6).

use std::sync::Arc;

use pulp::{Arch, NullaryFnOnce};
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

/// Bins worked on at once.
const LANES: usize = 8;

/// Power spectra of Hann-windowed samples, scaled so that a full-scale sine peaks at 1.
pub(crate) struct PowerSpectrum {
    arch: Arch,
    fft: Arc<dyn Fft<f32>>,
    hann: Vec<f32>,
    buffer: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    powers: [Vec<f32>; 2],
}

impl PowerSpectrum {
    /// For windows of `size` samples, of whose spectra `bins` are wanted from 0 up: no more than half of `size`.
    pub(crate) fn new(size: usize, bins: usize) -> PowerSpectrum {
        let fft = FftPlanner::new().plan_fft_forward(size);
        // The scale goes into the window: a sine of amplitude 1 gives a peak of `size / 4`. Half of it, because each
        // spectrum is half of a sum.
        let scale = 2.0 / size as f64;
        let turn = std::f64::consts::TAU / size as f64;
        PowerSpectrum {
            arch: crate::vector::arch(),
            hann: (0..size)
                .map(|n| (scale * (0.5 - 0.5 * (turn * n as f64).cos())) as f32)
                .collect(),
            buffer: vec![Complex::default(); size],
            scratch: vec![Complex::default(); fft.get_inplace_scratch_len()],
            powers: [vec![0.0; bins.min(size / 2)], vec![0.0; bins.min(size / 2)]],
            fft,
        }
    }

    /// Powers of two windows of the size given to `new`.
    pub(crate) fn of(&mut self, first: &[f32], second: &[f32]) -> [&[f32]; 2] {
        let PowerSpectrum { arch, fft, hann, buffer, scratch, powers } = self;
        arch.dispatch(Join { first, second, hann, out: buffer });
        fft.process_with_scratch(buffer, scratch);
        let [one, two] = powers;
        arch.dispatch(Part { transform: buffer, one, two });
        [one, two]
    }
}

/// Two windows as one of complex numbers.
struct Join<'a> {
    first: &'a [f32],
    second: &'a [f32],
    hann: &'a [f32],
    out: &'a mut [Complex<f32>],
}

impl NullaryFnOnce for Join<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let windows = self.first.iter().zip(self.second).zip(self.hann);
        for (to, ((a, b), w)) in self.out.iter_mut().zip(windows) {
            *to = Complex::new(a * w, b * w);
        }
    }
}

/// The powers of the two spectra that a transform holds.
struct Part<'a> {
    transform: &'a [Complex<f32>],
    one: &'a mut [f32],
    two: &'a mut [f32],
}

impl NullaryFnOnce for Part<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Part { transform, one, two } = self;
        let ([first, rest @ ..], [one_at_0, one @ ..], [two_at_0, two @ ..]) =
            (transform, one, two)
        else {
            return;
        };
        *one_at_0 = 4.0 * first.re * first.re;
        *two_at_0 = 4.0 * first.im * first.im;
        let mirrored = &rest[rest.len() - one.len()..];
        let bins =
            rest.as_chunks::<LANES>().0.iter().zip(mirrored.as_rchunks::<LANES>().1.iter().rev());
        let (one_groups, one_rest) = one.as_chunks_mut::<LANES>();
        let (two_groups, two_rest) = two.as_chunks_mut::<LANES>();
        for ((one, two), (x, y)) in one_groups.iter_mut().zip(&mut *two_groups).zip(bins) {
            for lane in 0..LANES {
                (one[lane], two[lane]) = powers(x[lane], y[LANES - 1 - lane]);
            }
        }
        let done = one_groups.len() * LANES;
        let bins = rest[done..].iter().zip(mirrored.iter().rev().skip(done));
        for ((one, two), (x, y)) in one_rest.iter_mut().zip(two_rest).zip(bins) {
            (*one, *two) = powers(*x, *y);
        }
    }
}

/// The powers in one bin of two spectra, from that bin of their transform and the one mirrored at the middle.
#[inline(always)]
fn powers(x: Complex<f32>, y: Complex<f32>) -> (f32, f32) {
    let (even, odd) = ((x.re + y.re, x.im - y.im), (x.im + y.im, y.re - x.re));
    (even.0 * even.0 + even.1 * even.1, odd.0 * odd.0 + odd.1 * odd.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_window_has_its_own_spectrum() {
        let sine = |bin: f64, amplitude: f64| -> Vec<f32> {
            let angle = |n: usize| std::f64::consts::TAU * bin * n as f64 / 256.0;
            (0..256).map(|n| (amplitude * angle(n).sin()) as f32).collect()
        };
        let mut spectrum = PowerSpectrum::new(256, 128);
        let [loud, soft] = spectrum.of(&sine(40.0, 1.0), &sine(9.0, 0.1));
        for (bin, (loud, soft)) in loud.iter().zip(soft).enumerate() {
            // Hann's window: half the amplitude in the bins beside a tone, nothing further off.
            let wanted = |tone: usize| [1.0, 0.25].get(tone.abs_diff(bin)).copied().unwrap_or(0.0);
            assert!((loud - wanted(40)).abs() < 1e-6, "{bin}: {loud}");
            assert!((soft - 0.01 * wanted(9)).abs() < 1e-8, "{bin}: {soft}");
        }
    }
}
