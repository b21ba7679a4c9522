//! From samples of the subbands to sound (ISO/IEC 11172-3, 2.4.3.2.2), at the full rate or at half of it.
//!
//! With the lower half of the subbands alone nothing sounds above a quarter of the sample rate, so that every other
//! sample tells all; only those are made.

use pulp::{Arch, Simd, WithSimd};

use super::hybrid::{Rows, SLOTS};

/// Slots that a sample is made of beside its own.
const HISTORY: usize = 15;

/// Slots worked on at once, for which there are registers.
const AT_ONCE: usize = SLOTS / 2;

/// The synthesis of the `N` lowest of 32 subbands: `N` samples a slot.
pub(super) struct Polyphase<const N: usize> {
    /// What each subband adds to the first and to the second half of a slot's vector.
    matrices: Box<[[[f32; N]; N]; 2]>,
    /// The window, for first and second halves in turn, from the newest slot to the oldest.
    window: [[f32; N]; HISTORY + 1],
    /// Vectors of the slots, the oldest first: first halves and second halves.
    vectors: Box<[[[f32; N]; HISTORY + SLOTS]; 2]>,
}

impl<const N: usize> Polyphase<N> {
    /// Of each `32 / N` samples the one numbered `phase` is made.
    pub fn new(phase: usize) -> Polyphase<N> {
        let place = |m: usize| m * (32 / N) + phase;
        let turn = std::f64::consts::PI / 64.0;
        let weight = |half: usize, m: usize, band: usize| {
            (turn * ((16 + 32 * half + place(m)) * (2 * band + 1)) as f64).cos() as f32
        };
        let matrix = |half: usize| {
            std::array::from_fn(|band| std::array::from_fn(|m| weight(half, m, band)))
        };
        Polyphase {
            matrices: Box::new([matrix(0), matrix(1)]),
            window: std::array::from_fn(|part| {
                std::array::from_fn(|m| window(32 * part + place(m)))
            }),
            vectors: Box::new([[[0.0; N]; HISTORY + SLOTS]; 2]),
        }
    }

    /// Adds the sound of a granule to `out`.
    pub fn push(&mut self, arch: Arch, subbands: &Rows<N>, out: &mut Vec<f32>) {
        let start = out.len();
        out.resize(start + SLOTS * N, 0.0);
        arch.dispatch(Apply { polyphase: self, subbands, out: &mut out[start..] });
    }
}

/// The window at one of its 512 places.
fn window(at: usize) -> f32 {
    let mirrored = at > 256 && !at.is_multiple_of(64);
    let value = WINDOW[if at > 256 { 512 - at } else { at }] as f32 / 65_536.0;
    if mirrored { -value } else { value }
}

struct Apply<'a, const N: usize> {
    polyphase: &'a mut Polyphase<N>,
    subbands: &'a Rows<N>,
    out: &'a mut [f32],
}

impl<const N: usize> WithSimd for Apply<'_, N> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Polyphase { matrices, window, vectors } = self.polyphase;
        let mut subbands = *self.subbands;
        // In odd slots odd subbands are upside down (2.4.3.4.10.5).
        for row in subbands.iter_mut().skip(1).step_by(2) {
            row.iter_mut().skip(1).step_by(2).for_each(|x| *x = -*x);
        }
        for (vectors, matrix) in vectors.iter_mut().zip(matrices.iter()) {
            vectors.copy_within(SLOTS.., 0);
            for (rows, vectors) in subbands
                .as_chunks::<AT_ONCE>()
                .0
                .iter()
                .zip(vectors[HISTORY..].as_chunks_mut::<AT_ONCE>().0)
            {
                for column in 0..N / S::F32_LANES {
                    let mut sums = [simd.splat_f32s(0.0); AT_ONCE];
                    for (band, weights) in matrix.iter().enumerate() {
                        let weight = S::as_simd_f32s(weights).0[column];
                        for (sum, row) in sums.iter_mut().zip(rows) {
                            *sum = simd.mul_add_e_f32s(simd.splat_f32s(row[band]), weight, *sum);
                        }
                    }
                    for (vector, sum) in vectors.iter_mut().zip(sums) {
                        S::as_mut_simd_f32s(vector).0[column] = sum;
                    }
                }
            }
        }
        let slots = self.out.as_chunks_mut::<N>().0.as_chunks_mut::<AT_ONCE>().0;
        for (part, out) in slots.iter_mut().enumerate() {
            for column in 0..N / S::F32_LANES {
                let mut sums = [simd.splat_f32s(0.0); AT_ONCE];
                for (ago, window) in window.iter().enumerate() {
                    let weight = S::as_simd_f32s(window).0[column];
                    let vectors = &vectors[ago % 2][HISTORY - ago + part * AT_ONCE..][..AT_ONCE];
                    for (sum, vector) in sums.iter_mut().zip(vectors) {
                        let x = S::as_simd_f32s(vector).0[column];
                        *sum = simd.mul_add_e_f32s(x, weight, *sum);
                    }
                }
                for (out, sum) in out.iter_mut().zip(sums) {
                    S::as_mut_simd_f32s(out).0[column] = sum;
                }
            }
        }
    }
}

/// The synthesis window in units of 2⁻¹⁶, up to its middle: ISO/IEC 11172-3, table B.3.
#[rustfmt::skip]
const WINDOW: [i32; 257] = [
    0, -1, -1, -1, -1, -1, -1, -2, -2, -2, -2, -3, -3, -4, -4, -5, -5, -6, -7, -7, -8, -9, -10,
    -11, -13, -14, -16, -17, -19, -21, -24, -26, -29, -31, -35, -38, -41, -45, -49, -53, -58, -63,
    -68, -73, -79, -85, -91, -97, -104, -111, -117, -125, -132, -139, -147, -154, -161, -169,
    -176, -183, -190, -196, -202, -208, 213, 218, 222, 225, 227, 228, 228, 227, 224, 221, 215,
    208, 200, 189, 177, 163, 146, 127, 106, 83, 57, 29, -2, -36, -72, -111, -153, -197, -244,
    -294, -347, -401, -459, -519, -581, -645, -711, -779, -848, -919, -991, -1064, -1137, -1210,
    -1283, -1356, -1428, -1498, -1567, -1634, -1698, -1759, -1817, -1870, -1919, -1962, -2001,
    -2032, -2057, -2075, -2085, -2087, -2080, -2063, 2037, 2000, 1952, 1893, 1822, 1739, 1644,
    1535, 1414, 1280, 1131, 970, 794, 605, 402, 185, -45, -288, -545, -814, -1095, -1388, -1692,
    -2006, -2330, -2663, -3004, -3351, -3705, -4063, -4425, -4788, -5153, -5517, -5879, -6237,
    -6589, -6935, -7271, -7597, -7910, -8209, -8491, -8755, -8998, -9219, -9416, -9585, -9727,
    -9838, -9916, -9959, -9966, -9935, -9863, -9750, -9592, -9389, -9139, -8840, -8492, -8092,
    -7640, -7134, 6574, 5959, 5288, 4561, 3776, 2935, 2037, 1082, 70, -998, -2122, -3300, -4533,
    -5818, -7154, -8540, -9975, -11455, -12980, -14548, -16155, -17799, -19478, -21189, -22929,
    -24694, -26482, -28289, -30112, -31947, -33791, -35640, -37489, -39336, -41176, -43006,
    -44821, -46617, -48390, -50137, -51853, -53534, -55178, -56778, -58333, -59838, -61289,
    -62684, -64019, -65290, -66494, -67629, -68692, -69679, -70590, -71420, -72169, -72835,
    -73415, -73908, -74313, -74630, -74856, -74992, 75038,
];
