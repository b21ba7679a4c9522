//! Bands of scale factors at 44.1, 48 and 32 kHz (ISO/IEC 11172-3, table B.8), and how loud each band is.

use super::bits::Bits;
use super::side::{Granule, Shape};

/// First line of each band of a long window.
#[rustfmt::skip]
pub(super) const LONG: [[usize; 23]; 3] = [
    [0, 4, 8, 12, 16, 20, 24, 30, 36, 44, 52, 62, 74, 90, 110, 134, 162, 196, 238, 288, 342, 418, 576],
    [0, 4, 8, 12, 16, 20, 24, 30, 36, 42, 50, 60, 72, 88, 106, 128, 156, 190, 230, 276, 330, 384, 576],
    [0, 4, 8, 12, 16, 20, 24, 30, 36, 44, 54, 66, 82, 102, 126, 156, 194, 240, 296, 364, 448, 550, 576],
];
/// First line of each band of a short window.
pub(super) const SHORT: [[usize; 14]; 3] = [
    [0, 4, 8, 12, 16, 22, 30, 40, 52, 66, 84, 106, 136, 192],
    [0, 4, 8, 12, 16, 22, 28, 38, 50, 64, 80, 100, 126, 192],
    [0, 4, 8, 12, 16, 22, 30, 42, 58, 78, 104, 138, 180, 192],
];
/// Lines of a mixed granule that belong to its long windows; bands of them; the first short band behind them.
pub(super) const MIXED: (usize, usize, usize) = (36, 8, 3);

/// Bits of a scale factor in the lower and the upper bands (2.4.2.7).
const LENGTHS: [[usize; 16]; 2] = [
    [0, 0, 0, 0, 3, 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4],
    [0, 1, 2, 3, 0, 1, 2, 3, 1, 2, 3, 1, 2, 3, 2, 3],
];
/// Added to scale factors where a granule says so (table B.6).
const EMPHASIS: [i32; 22] = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 3, 3, 3, 2, 0];

/// Scale factors in the order in which they are sent; those after the last are 0.
pub(super) type Scales = [u8; 40];

/// Reads the scale factors of a granule. `before` are those of the first granule, for the groups that `shared` names.
pub(super) fn read_scales(
    bits: &mut Bits<'_>,
    granule: &Granule,
    shared: u64,
    before: &Scales,
) -> Scales {
    let mut scales = [0; 40];
    let (low, high) = (LENGTHS[0][granule.lengths], LENGTHS[1][granule.lengths]);
    let mut read = |scales: &mut [u8], length: usize| {
        for scale in scales {
            *scale = bits.take(length) as u8;
        }
    };
    match granule.shape {
        Shape::Short | Shape::Mixed => {
            let lower = if granule.shape == Shape::Mixed { 17 } else { 18 };
            read(&mut scales[..lower], low);
            read(&mut scales[lower..lower + 18], high);
        }
        _ => {
            for (group, bands) in [0..6, 6..11, 11..16, 16..21].into_iter().enumerate() {
                if shared >> (3 - group) & 1 == 1 {
                    scales[bands.clone()].copy_from_slice(&before[bands]);
                } else {
                    read(&mut scales[bands], if group < 2 { low } else { high });
                }
            }
        }
    }
    scales
}

/// A stretch of lines of one loudness: its end, and its step size in quarters of a doubling.
pub(super) type Stretch = (usize, i32);

/// The stretches of a granule, in the order in which lines are sent.
pub(super) fn stretches(
    granule: &Granule,
    scales: &Scales,
    rate: usize,
    mut each: impl FnMut(Stretch),
) {
    let mut scales = scales.iter().map(|scale| i32::from(*scale));
    let mut scale = || scales.next().unwrap_or_default();
    let long = match granule.shape {
        Shape::Short => 0,
        Shape::Mixed => MIXED.1,
        _ => 22,
    };
    for band in 0..long {
        let emphasis = if granule.emphasis { EMPHASIS[band] } else { 0 };
        each((LONG[rate][band + 1], granule.gain - granule.step * (scale() + emphasis)));
    }
    let short = match granule.shape {
        Shape::Short => 0,
        Shape::Mixed => MIXED.2,
        _ => return,
    };
    for bounds in SHORT[rate][short..].windows(2) {
        for window in 0..3 {
            let end = 3 * bounds[0] + (window + 1) * (bounds[1] - bounds[0]);
            each((end, granule.gain - granule.softer[window] - granule.step * scale()));
        }
    }
}
