//! Bits, the highest of a byte first.

/// Reads bits from any place on; beyond the end lie zeros.
pub(super) struct Bits<'a> {
    bytes: &'a [u8],
    pub at: usize,
}

impl<'a> Bits<'a> {
    /// Bits that [`Bits::window`] surely holds.
    pub const WINDOW: usize = 57;

    pub fn new(bytes: &'a [u8], at: usize) -> Bits<'a> {
        Bits { bytes, at }
    }

    /// The next bits, at the top of a word.
    #[inline(always)]
    pub fn window(&self) -> u64 {
        let from = self.bytes.get(self.at / 8..).unwrap_or_default();
        let word = match from.first_chunk() {
            Some(eight) => u64::from_be_bytes(*eight),
            None => {
                let mut eight = [0; 8];
                eight[..from.len()].copy_from_slice(from);
                u64::from_be_bytes(eight)
            }
        };
        word << (self.at % 8)
    }

    /// Up to 32 bits.
    #[inline(always)]
    pub fn take(&mut self, count: usize) -> u64 {
        let taken = if count == 0 { 0 } else { self.window() >> (64 - count) };
        self.at += count;
        taken
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_come_in_order_and_zeros_after_the_end() {
        let bytes: Vec<u8> = (0..12u8).map(|n| n.wrapping_mul(73)).collect();
        let bit =
            |at: usize| bytes.get(at / 8).map_or(0, |byte| u64::from(byte >> (7 - at % 8) & 1));
        let mut bits = Bits::new(&bytes, 3);
        for count in [1, 0, 7, 32, 13, 20, 31] {
            let wanted = (bits.at..bits.at + count).fold(0, |sum, at| sum << 1 | bit(at));
            assert_eq!(bits.take(count), wanted);
        }
    }
}
