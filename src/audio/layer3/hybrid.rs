//! From a granule's lines to samples of its subbands (ISO/IEC 11172-3, 2.4.3.4.10).
//!
//! All subbands are worked on side by side: row `i` holds line `i` of each, so that each step is a product of a small
//! matrix with long rows.

use std::sync::LazyLock;

use pulp::{Simd, WithSimd};

use super::bands::{MIXED, SHORT};
use super::huffman::Lines;
use super::side::Shape;

/// Samples of a subband in a granule, and lines.
pub(super) const SLOTS: usize = 18;
/// Lines on each side of a subband's edge that alias.
const ALIASED: usize = 8;
/// Values summed at once, for which there are registers.
const AT_ONCE: usize = 9;

/// A row for each slot or line, with a value for each of `N` subbands.
pub(super) type Rows<const N: usize> = [[f32; N]; SLOTS];

/// Samples of the subbands of this granule, and what overlaps into the next.
pub(super) struct Hybrid<const N: usize> {
    pub now: Rows<N>,
    pub next: Rows<N>,
    x: Rows<N>,
    /// Lines of the subband above the last.
    edge: [f32; ALIASED],
}

/// An inverse transform with its window. Half of what a transform makes mirrors the other half, so that 18 values are
/// enough for 36 samples; those of three short windows overlap.
struct Transform {
    /// Shape `[line, value]`.
    matrix: [[f32; SLOTS]; SLOTS],
    /// For each sample, two values and what each is multiplied by.
    samples: [[(usize, f32); 2]; 2 * SLOTS],
}

struct Transforms {
    long: Transform,
    start: Transform,
    short: Transform,
    end: Transform,
    /// Factors of lower and upper line where they alias (table B.9).
    keep: [f32; ALIASED],
    cross: [f32; ALIASED],
}

static TRANSFORMS: LazyLock<Transforms> = LazyLock::new(|| {
    let slope = |n: usize, length: f64| (std::f64::consts::PI / length * (n as f64 + 0.5)).sin();
    let starting = move |n: usize| match n {
        0..18 => slope(n, 36.0),
        18..24 => 1.0,
        24..30 => slope(n - 18, 12.0),
        _ => 0.0,
    };
    const COUPLING: [f64; ALIASED] = [0.6, 0.535, 0.33, 0.185, 0.095, 0.041, 0.0142, 0.0037];
    Transforms {
        long: Transform::long(|n| slope(n, 36.0)),
        start: Transform::long(starting),
        short: Transform::short(|n| slope(n, 12.0)),
        end: Transform::long(|n| starting(35 - n)),
        keep: COUPLING.map(|c| (1.0 / (1.0 + c * c).sqrt()) as f32),
        cross: COUPLING.map(|c| (-c / (1.0 + c * c).sqrt()) as f32),
    }
});

/// Sample `n` that line `k` alone makes, of `length` samples.
fn cosine(n: usize, k: usize, length: usize) -> f32 {
    let turn = std::f64::consts::PI / (2 * length) as f64;
    (turn * ((2 * n + 1 + length / 2) * (2 * k + 1)) as f64).cos() as f32
}

/// Where sample `n` of `length` is found among the first quarter and the third, and with what sign.
fn mirrored(n: usize, length: usize) -> (usize, f32) {
    let quarter = length / 4;
    match n / quarter {
        0 => (n, 1.0),
        1 => (2 * quarter - 1 - n, -1.0),
        2 => (n - quarter, 1.0),
        _ => (length - 1 - n + quarter, 1.0),
    }
}

impl Transform {
    fn long(window: impl Fn(usize) -> f64) -> Transform {
        let matrix = std::array::from_fn(|k| {
            std::array::from_fn(|value| cosine(if value < 9 { value } else { value + 9 }, k, 36))
        });
        let samples = std::array::from_fn(|n| {
            let (value, sign) = mirrored(n, 36);
            [(value, sign * window(n) as f32), (0, 0.0)]
        });
        Transform { matrix, samples }
    }

    /// Three transforms of six lines; lines and values of one after those of the other.
    fn short(window: impl Fn(usize) -> f64) -> Transform {
        let mut matrix = [[0.0; SLOTS]; SLOTS];
        for (line, row) in matrix.iter_mut().enumerate() {
            for (value, to) in row.iter_mut().enumerate().skip(line / 6 * 6).take(6) {
                let value = value % 6;
                *to = cosine(if value < 3 { value } else { value + 3 }, line % 6, 12);
            }
        }
        let samples = std::array::from_fn(|n| {
            // A sample lies in one or two windows of twelve, which begin at 6, 12 and 18.
            let mut lies = [(0, 0.0); 2];
            let windows = (0..3).filter(|w| (6 + 6 * w..18 + 6 * w).contains(&n));
            for (to, w) in lies.iter_mut().zip(windows) {
                let within = n - 6 - 6 * w;
                let (value, sign) = mirrored(within, 12);
                *to = (6 * w + value, sign * window(within) as f32);
            }
            lies
        });
        Transform { matrix, samples }
    }
}

impl<const N: usize> Hybrid<N> {
    pub fn new() -> Hybrid<N> {
        Hybrid {
            now: [[0.0; N]; SLOTS],
            next: [[0.0; N]; SLOTS],
            x: [[0.0; N]; SLOTS],
            edge: [0.0; ALIASED],
        }
    }

    /// Begins a granule.
    pub fn advance(&mut self) {
        self.now = self.next;
        self.next = [[0.0; N]; SLOTS];
    }

    /// Adds the sound of some lines, `gains` (in the order of long windows) on top.
    pub fn add(
        &mut self,
        arch: pulp::Arch,
        lines: &Lines,
        shape: Shape,
        rate: usize,
        gains: Option<&Lines>,
    ) {
        self.x = [[0.0; N]; SLOTS];
        self.edge = [0.0; ALIASED];
        let transforms = &*TRANSFORMS;
        let long = match shape {
            Shape::Short => return self.add_short(arch, lines, rate, 0, gains),
            Shape::Mixed => {
                self.lay_long(&lines[..MIXED.0], None);
                &transforms.long
            }
            Shape::Long => &transforms.long,
            Shape::Start => &transforms.start,
            Shape::End => &transforms.end,
        };
        if shape == Shape::Mixed {
            self.transform(arch, long, 1);
            self.x = [[0.0; N]; SLOTS];
            return self.add_short(arch, lines, rate, MIXED.2, gains);
        }
        self.lay_long(lines, gains);
        self.transform(arch, long, N);
    }

    fn add_short(
        &mut self,
        arch: pulp::Arch,
        lines: &Lines,
        rate: usize,
        band: usize,
        gains: Option<&Lines>,
    ) {
        let mut sent = lines.iter();
        (0..3 * SHORT[rate][band]).for_each(|_| {
            sent.next();
        });
        for bounds in SHORT[rate][band..].windows(2) {
            for window in 0..3 {
                for line in bounds[0]..bounds[1] {
                    let Some(value) = sent.next() else { return };
                    if let Some(to) = self.x[6 * window + line % 6].get_mut(line / 6) {
                        *to = value * gains.map_or(1.0, |gains| gains[3 * line + 1]);
                    }
                }
            }
        }
        self.transform(arch, &TRANSFORMS.short, 0);
    }

    fn lay_long(&mut self, lines: &[f32], gains: Option<&Lines>) {
        for (band, lines) in lines.as_chunks::<SLOTS>().0.iter().enumerate().take(N) {
            for (row, line) in self.x.iter_mut().zip(lines) {
                row[band] = *line;
            }
        }
        if let Some(above) = lines.get(SLOTS * N..SLOTS * N + ALIASED) {
            self.edge.copy_from_slice(above);
        }
        let Some(gains) = gains else { return };
        for (i, row) in self.x.iter_mut().enumerate() {
            for (band, x) in row.iter_mut().enumerate() {
                *x *= gains[SLOTS * band + i];
            }
        }
        if let Some(above) = gains.get(SLOTS * N..SLOTS * N + ALIASED) {
            self.edge.iter_mut().zip(above).for_each(|(x, gain)| *x *= gain);
        }
    }

    /// Transforms `x`; edges alias of the `aliased` lowest subbands.
    fn transform(&mut self, arch: pulp::Arch, transform: &Transform, aliased: usize) {
        arch.dispatch(Apply { transform, aliased, hybrid: self });
    }
}

struct Apply<'a, const N: usize> {
    transform: &'a Transform,
    aliased: usize,
    hybrid: &'a mut Hybrid<N>,
}

impl<const N: usize> WithSimd for Apply<'_, N> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Hybrid { now, next, x, edge } = self.hybrid;
        reduce_aliases(x, edge, self.aliased);
        let mut values = [[0f32; N]; SLOTS];
        for (part, values) in values.as_chunks_mut::<AT_ONCE>().0.iter_mut().enumerate() {
            for column in 0..N / S::F32_LANES {
                let mut sums = [simd.splat_f32s(0.0); AT_ONCE];
                for (row, weights) in x.iter().zip(&self.transform.matrix) {
                    let x = S::as_simd_f32s(row).0[column];
                    let weights = &weights.as_chunks::<AT_ONCE>().0[part];
                    for (sum, weight) in sums.iter_mut().zip(weights) {
                        *sum = simd.mul_add_e_f32s(simd.splat_f32s(*weight), x, *sum);
                    }
                }
                for (row, sum) in values.iter_mut().zip(sums) {
                    S::as_mut_simd_f32s(row).0[column] = sum;
                }
            }
        }
        for (to, [one, two]) in now.iter_mut().chain(next).zip(&self.transform.samples) {
            let (first, second) = (&values[one.0], &values[two.0]);
            for band in 0..N {
                to[band] += one.1 * first[band] + two.1 * second[band];
            }
        }
    }
}

/// The butterflies at the edges of subbands (2.4.3.4.10.1).
#[inline(always)]
fn reduce_aliases<const N: usize>(x: &mut Rows<N>, edge: &[f32; ALIASED], aliased: usize) {
    let factors = TRANSFORMS.keep.iter().zip(&TRANSFORMS.cross);
    for (i, (keep, cross)) in factors.enumerate() {
        let (lower, upper) = (x[SLOTS - 1 - i], x[i]);
        for band in 0..aliased.min(N - 1) {
            x[SLOTS - 1 - i][band] = keep * lower[band] - cross * upper[band + 1];
            x[i][band + 1] = keep * upper[band + 1] + cross * lower[band];
        }
        if aliased == N {
            x[SLOTS - 1 - i][N - 1] = keep * lower[N - 1] - cross * edge[i];
        }
    }
}
