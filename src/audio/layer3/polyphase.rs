//! From samples of the subbands to sound (ISO/IEC 11172-3, 2.4.3.2.2), at the full rate or at half of it.
//!
//! With the lower half of the subbands alone nothing sounds above a quarter of the sample rate, so that every other
//! sample tells all; only those are made.

use pulp::{Arch, NullaryFnOnce};

use super::hybrid::{Rows, SLOTS};

/// Slots that a sample is made of beside its own.
const HISTORY: usize = 15;

/// The synthesis of the `N` lowest of 32 subbands: `N` samples a slot.
pub(super) struct Polyphase<const N: usize> {
    /// What each subband adds to the first and the second half of a slot's vector, in even and in odd slots.
    matrices: Box<[[[[f32; N]; 2]; N]; 2]>,
    /// The window, for first and second halves in turn, from the newest slot to the oldest.
    window: [[f32; N]; 16],
    /// Vectors of the slots, the oldest first.
    vectors: Box<[[[f32; N]; 2]; HISTORY + SLOTS]>,
}

impl<const N: usize> Polyphase<N> {
    /// Of each `32 / N` samples the one numbered `phase` is made.
    pub fn new(phase: usize) -> Polyphase<N> {
        let place = |m: usize| m * (32 / N) + phase;
        let turn = std::f64::consts::PI / 64.0;
        let weight = |half: usize, m: usize, band: usize| {
            (turn * ((16 + 32 * half + place(m)) * (2 * band + 1)) as f64).cos() as f32
        };
        // In odd slots odd subbands are upside down (2.4.3.4.10.5).
        let sign = |odd: usize, band: usize| if odd * band % 2 == 1 { -1.0 } else { 1.0 };
        Polyphase {
            matrices: Box::new(std::array::from_fn(|odd| {
                std::array::from_fn(|band| {
                    std::array::from_fn(|half| {
                        std::array::from_fn(|m| sign(odd, band) * weight(half, m, band))
                    })
                })
            })),
            window: std::array::from_fn(|part| {
                std::array::from_fn(|m| window(32 * part + place(m)))
            }),
            vectors: Box::new([[[0.0; N]; 2]; HISTORY + SLOTS]),
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
    let mirrored = at > 256 && at % 64 != 0;
    let value = WINDOW[if at > 256 { 512 - at } else { at }] as f32 / 65_536.0;
    if mirrored { -value } else { value }
}

struct Apply<'a, const N: usize> {
    polyphase: &'a mut Polyphase<N>,
    subbands: &'a Rows<N>,
    out: &'a mut [f32],
}

impl<const N: usize> NullaryFnOnce for Apply<'_, N> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Polyphase { matrices, window, vectors } = self.polyphase;
        vectors.copy_within(SLOTS.., 0);
        for (slot, row) in self.subbands.iter().enumerate() {
            let mut vector = [[0f32; N]; 2];
            for (x, weights) in row.iter().zip(&matrices[slot % 2]) {
                for (half, weights) in vector.iter_mut().zip(weights) {
                    for (to, weight) in half.iter_mut().zip(weights) {
                        *to += x * weight;
                    }
                }
            }
            vectors[HISTORY + slot] = vector;
        }
        for (slot, out) in self.out.as_chunks_mut::<N>().0.iter_mut().enumerate() {
            let mut sums = [0f32; N];
            for (part, window) in window.iter().enumerate() {
                let half = &vectors[HISTORY + slot - part][part % 2];
                for ((sum, x), weight) in sums.iter_mut().zip(half).zip(window) {
                    *sum += x * weight;
                }
            }
            *out = sums;
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
