//! Decibels kept in a byte: 0.4 dB steps from -95 dB (re a full-scale sine) up.

use std::sync::LazyLock;

const FLOOR: f32 = -95.0;
const STEP: f32 = 0.4;

/// The power that each byte stands for.
static POWERS: LazyLock<[f32; 256]> =
    LazyLock::new(|| std::array::from_fn(|byte| 10f32.powf(of(byte as u8) / 10.0)));

/// The byte for a power.
#[inline(always)]
pub(crate) fn quantise(power: f32) -> u8 {
    const DB: f32 = 10.0 * std::f32::consts::LOG10_2;
    let db = DB * log2(power.max(1e-12));
    // A float becomes the nearest end of the range where it lies outside.
    ((db - FLOOR) / STEP + 0.5) as u8
}

/// The decibels that a byte stands for.
#[inline(always)]
pub(crate) fn of(byte: u8) -> f32 {
    FLOOR + STEP * f32::from(byte)
}

/// The power that a byte stands for.
pub(crate) fn power(byte: u8) -> f32 {
    POWERS[usize::from(byte)]
}

/// Binary logarithm of a positive normal number to within 1e-6, by arithmetic that vectorises.
#[inline(always)]
fn log2(x: f32) -> f32 {
    // The bits of the square root of one half: the mantissa then lies between that and its double.
    const ROOT: u32 = 0x3f35_04f3;
    let exponent = (x.to_bits().wrapping_sub(ROOT) as i32) >> 23;
    let mantissa = f32::from_bits(x.to_bits().wrapping_sub((exponent << 23) as u32));
    // ln m = 2 (s + s³/3 + s⁵/5 + …), s = (m - 1) / (m + 1).
    let s = (mantissa - 1.0) / (mantissa + 1.0);
    let square = s * s;
    let series = 1.0 + square * (1.0 / 3.0 + square * (0.2 + square * (1.0 / 7.0)));
    exponent as f32 + 2.0 * std::f32::consts::LOG2_E * s * series
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_byte_stands_for_the_nearest_power() {
        for byte in 0..=u8::MAX {
            for off_db in [-0.19, 0.0, 0.19] {
                assert_eq!(quantise(10f32.powf((of(byte) + off_db) / 10.0)), byte);
            }
        }
        assert_eq!((quantise(0.0), quantise(f32::NAN), quantise(1e30)), (0, 0, 255));
    }

    #[test]
    fn the_logarithm_is_that_of_the_library() {
        for n in 0..100_000 {
            let x = 1e-12 * 1.0006f32.powi(n);
            assert!((log2(x) - x.log2()).abs() < 2e-6 * x.log2().abs().max(1.0), "{x}");
        }
    }
}
