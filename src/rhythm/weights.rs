//! Trained weights as they are kept in files: little-endian words and half floats.

use super::convolve::{Block, Convolution};

/// Reads them one after another; `None` where they are over.
pub(crate) struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    pub(crate) fn new(rest: &'a [u8]) -> Reader<'a> {
        Reader { rest }
    }

    /// Whether all has been read.
    pub(crate) fn is_empty(&self) -> bool {
        self.rest.is_empty()
    }

    pub(crate) fn u32(&mut self) -> Option<u32> {
        let (word, rest) = self.rest.split_first_chunk()?;
        self.rest = rest;
        Some(u32::from_le_bytes(*word))
    }

    pub(crate) fn f32(&mut self) -> Option<f32> {
        self.u32().map(f32::from_bits)
    }

    /// An IEEE half float; no weight is infinite.
    pub(crate) fn f16(&mut self) -> Option<f32> {
        let (half, rest) = self.rest.split_first_chunk()?;
        self.rest = rest;
        Some(whole(*half))
    }

    pub(crate) fn dilations(&mut self, count: usize) -> Option<Vec<usize>> {
        (0..count).map(|_| self.u32().map(|d| d as usize)).collect()
    }

    pub(crate) fn halves(&mut self, count: usize) -> Option<Vec<f32>> {
        let (halves, rest) = self.rest.split_at_checked(count.checked_mul(2)?)?;
        self.rest = rest;
        Some(halves.as_chunks::<2>().0.iter().map(|half| whole(*half)).collect())
    }

    pub(crate) fn convolution(
        &mut self,
        from: usize,
        to: usize,
        taps: usize,
        dilation: usize,
    ) -> Option<Convolution> {
        let weights = self.halves(taps * from * to)?;
        Convolution::new(&weights, &self.halves(to)?, from, dilation)
    }

    pub(crate) fn block(&mut self, width: usize, taps: usize, dilation: usize) -> Option<Block> {
        Some(Block {
            conv: self.convolution(width, width, taps, dilation)?,
            mix: self.convolution(width, width, 1, 1)?,
        })
    }

    pub(crate) fn blocks(
        &mut self,
        width: usize,
        taps: usize,
        dilations: &[usize],
    ) -> Option<Vec<Block>> {
        dilations.iter().map(|&dilation| self.block(width, taps, dilation)).collect()
    }
}

/// The number that an IEEE half float stands for, if it is finite.
fn whole(half: [u8; 2]) -> f32 {
    let half = u32::from(u16::from_le_bytes(half));
    // Sign, exponent and mantissa in their places; the exponent's zero lies 112 higher in the longer format.
    let size = f32::from_bits((half & 0x7fff) << 13) * f32::from_bits((127 + 112) << 23);
    if half & 0x8000 == 0 { size } else { -size }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_are_numbers() {
        // Examples of IEEE 754 binary16: one, two thirds, the least and the greatest.
        for (half, number) in
            [(0x3c00u16, 1.0), (0x3955, 0.666_503_9), (0x8001, -5.960_464_5e-8), (0x7bff, 65_504.0)]
        {
            assert_eq!(whole(half.to_le_bytes()), number);
        }
    }
}
