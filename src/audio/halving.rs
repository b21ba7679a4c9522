//! Half the sample rate: a half-band low-pass filter and every other sample.
//!
//! Half-band filters: every second coefficient is zero but the middle one, so a quarter of the products
//! of a plain filter remain (Crochiere and Rabiner, *Multirate Digital Signal Processing*, 1983, 4.4).
//! The window is Kaiser's, for 60 dB from 0.28 of the input rate up; 0.22 and below pass.

/// Coefficients on each side of the middle that are not zero. With `TAPS` of them the filter reaches
/// `2 TAPS - 1` input samples to each side.
const TAPS: usize = 16;
/// Kaiser's shape for 60 dB: 0.1102 (60 - 8.7).
const SHAPE: f64 = 5.65;

/// Halves the rate of a stream of samples.
pub struct Halving {
    arch: pulp::Arch,
    /// Coefficient of the samples at distance 1, 3, 5, … from the middle.
    sides: [f32; TAPS],
    even: Vec<f32>,
    odd: Vec<f32>,
    ready: Vec<f32>,
    /// A sample whose pair has not come yet.
    single: Option<f32>,
}

impl Halving {
    /// Samples, at the lower rate, by which the output is late.
    pub const DELAY: usize = TAPS - 1;

    /// A filter that has heard silence so far.
    pub fn new() -> Halving {
        Halving {
            arch: crate::vector::arch(),
            sides: sides().map(|side| side as f32),
            even: vec![0.0; 2 * TAPS - 1],
            odd: vec![0.0; 2 * TAPS - 1],
            ready: Vec::new(),
            single: None,
        }
    }

    /// Takes samples in and hands on half as many.
    pub fn push(&mut self, samples: &[f32], sink: &mut dyn FnMut(&[f32])) {
        let mut samples = samples;
        if let (Some(first), [second, rest @ ..]) = (self.single, samples) {
            self.even.push(first);
            self.odd.push(*second);
            (self.single, samples) = (None, rest);
        }
        let pairs = samples.chunks_exact(2);
        if let [last] = pairs.remainder() {
            self.single = Some(*last);
        }
        self.even.extend(samples.chunks_exact(2).map(|pair| pair[0]));
        self.odd.extend(pairs.map(|pair| pair[1]));
        self.filter(sink);
    }

    fn filter(&mut self, sink: &mut dyn FnMut(&[f32])) {
        let history = 2 * TAPS - 1;
        let made = self.even.len() - history;
        if made == 0 {
            return;
        }
        self.ready.clear();
        self.ready.resize(made, 0.0);
        let Halving { arch, sides, even, odd, ready, .. } = &mut *self;
        arch.dispatch(Filter { sides, even, odd, out: ready });
        self.even.drain(..made);
        self.odd.drain(..made);
        sink(&self.ready);
    }
}

/// Coefficients of the samples at distance 1, 3, 5, … from the middle.
fn sides() -> [f64; TAPS] {
    let reach = (2 * TAPS) as f64;
    let sides: [f64; TAPS] = std::array::from_fn(|k| {
        let distance = (2 * k + 1) as f64;
        let angle = std::f64::consts::FRAC_PI_2 * distance;
        let window = bessel(SHAPE * (1.0 - (distance / reach).powi(2)).sqrt()) / bessel(SHAPE);
        0.5 * angle.sin() / angle * window
    });
    // The sides take exactly half of a constant, the middle the other half.
    let scale = 0.25 / sides.iter().sum::<f64>();
    sides.map(|side| side * scale)
}

/// How much of a frequency, in cycles an input sample, the filter lets through.
pub fn response(frequency: f64) -> f64 {
    let cosine = |k: usize| (std::f64::consts::TAU * frequency * (2 * k + 1) as f64).cos();
    0.5 + sides().iter().enumerate().map(|(k, side)| 2.0 * side * cosine(k)).sum::<f64>()
}

struct Filter<'a> {
    sides: &'a [f32; TAPS],
    even: &'a [f32],
    odd: &'a [f32],
    out: &'a mut [f32],
}

impl pulp::NullaryFnOnce for Filter<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        filter(self.sides, self.even, self.odd, self.out);
    }
}

/// Outputs worked on at once.
const LANES: usize = 16;

/// Output m stands at even sample m + `TAPS`; odd samples at distance 1, 3, 5, … lie around it.
#[inline(always)]
fn filter(sides: &[f32; TAPS], even: &[f32], odd: &[f32], out: &mut [f32]) {
    let (groups, rest) = out.as_chunks_mut::<LANES>();
    for (group, out) in groups.iter_mut().enumerate() {
        let first = group * LANES;
        let even = &even[first + TAPS..][..LANES];
        let odd = &odd[first..][..LANES + 2 * TAPS - 1];
        let mut sums: [f32; LANES] = std::array::from_fn(|lane| 0.5 * even[lane]);
        for (k, side) in sides.iter().enumerate() {
            let (before, after) = (&odd[TAPS - 1 - k..][..LANES], &odd[TAPS + k..][..LANES]);
            for lane in 0..LANES {
                sums[lane] += side * (before[lane] + after[lane]);
            }
        }
        *out = sums;
    }
    let first = groups.len() * LANES;
    for (m, out) in (first..).zip(rest) {
        *out = 0.5 * even[m + TAPS];
        for (k, side) in sides.iter().enumerate() {
            *out += side * (odd[m + TAPS - 1 - k] + odd[m + TAPS + k]);
        }
    }
}

/// The modified Bessel function of the first kind and order 0, by its power series.
fn bessel(x: f64) -> f64 {
    let mut term = 1.0;
    (1..40).fold(1.0, |sum, k| {
        term *= (x / (2.0 * f64::from(k))).powi(2);
        sum + term
    })
}
