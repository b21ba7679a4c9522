//! What a frame says of itself: header and side information (ISO/IEC 11172-3, 2.4.1.3, 2.4.1.7).

use super::bands::LONG;
use super::bits::Bits;

/// A frame before its spectrum is read.
#[derive(Clone, Copy, Default)]
pub(super) struct Frame {
    /// 44 100, 48 000 or 32 000 Hz.
    pub rate: usize,
    pub channels: usize,
    /// Sum and difference in place of left and right.
    pub sum: bool,
    /// Bands of one channel that sound in both.
    pub intensity: bool,
    /// Bytes of spectrum that lie in frames before.
    pub borrowed: usize,
    /// Groups of scale factors that the second granule has from the first, for each channel.
    pub shared: [u64; 2],
    pub granules: [[Granule; 2]; 2],
    /// Where its own bytes of spectrum begin.
    pub data: usize,
}

/// One granule of one channel.
#[derive(Clone, Copy, Default)]
pub(super) struct Granule {
    /// Bits of scale factors and spectrum.
    pub bits: usize,
    /// Where they begin among the bytes of spectrum; `None` where they are missing.
    pub start: Option<usize>,
    /// Values coded in pairs.
    pub paired: usize,
    /// Step size in quarters of a doubling.
    pub gain: i32,
    /// Index of the lengths of scale factors.
    pub lengths: usize,
    pub shape: Shape,
    /// The code of each region of pairs, and where the second and third region begin.
    pub codes: [usize; 3],
    pub regions: [usize; 2],
    /// Quarters of a doubling by which each short window is softer.
    pub softer: [i32; 3],
    pub emphasis: bool,
    /// A scale factor's step in quarters of a doubling: 2 or 4.
    pub step: i32,
    /// Whether the second code of four values is used.
    pub plain_quads: bool,
}

/// Windows in a granule.
#[derive(Clone, Copy, Default, PartialEq, Eq, Debug)]
pub(super) enum Shape {
    #[default]
    Long,
    Start,
    Short,
    /// The two lowest subbands long, all others short.
    Mixed,
    End,
}

impl Frame {
    /// Sample rate and channels of a frame of MPEG 1, layer III; `None` for any other.
    pub fn kind(frame: &[u8]) -> Option<(usize, usize)> {
        let [0xff, second, third, fourth, ..] = *frame else { return None };
        let rate = usize::from(third >> 2 & 3);
        let known = second & 0xfe == 0xfa && (0x10..0xf0).contains(&(third & 0xf0)) && rate != 3;
        known.then_some((rate, if fourth >> 6 == 3 { 1 } else { 2 }))
    }

    /// Reads a frame that has a [`Frame::kind`]; `None` where it is damaged.
    pub fn read(frame: &[u8]) -> Option<Frame> {
        let (rate, channels) = Frame::kind(frame)?;
        let joint = frame[3] >> 6 == 1;
        let read = Frame {
            rate,
            channels,
            sum: joint && frame[3] & 0x20 != 0,
            intensity: joint && frame[3] & 0x10 != 0,
            ..Frame::default()
        };
        read.read_side(frame, if frame[1] & 1 == 0 { 6 } else { 4 })
    }

    fn read_side(mut self, frame: &[u8], start: usize) -> Option<Frame> {
        let length = if self.channels == 1 { 17 } else { 32 };
        let mut bits = Bits::new(frame.get(start..start + length)?, 0);
        self.data = start + length;
        self.borrowed = bits.take(9) as usize;
        bits.take(if self.channels == 1 { 5 } else { 3 });
        for shared in &mut self.shared[..self.channels] {
            *shared = bits.take(4);
        }
        for granule in &mut self.granules {
            for channel in &mut granule[..self.channels] {
                *channel = Granule::read(&mut bits, self.rate)?;
            }
        }
        Some(self)
    }
}

impl Granule {
    fn read(bits: &mut Bits<'_>, rate: usize) -> Option<Granule> {
        let mut granule = Granule {
            bits: bits.take(12) as usize,
            paired: 2 * bits.take(9) as usize,
            gain: bits.take(8) as i32 - 210,
            lengths: bits.take(4) as usize,
            ..Granule::default()
        };
        if granule.paired > 576 {
            return None;
        }
        if bits.take(1) == 1 {
            let (kind, mixed) = (bits.take(2), bits.take(1) == 1);
            granule.shape = match (kind, mixed) {
                (1, _) => Shape::Start,
                (2, false) => Shape::Short,
                (2, true) => Shape::Mixed,
                (3, _) => Shape::End,
                _ => return None,
            };
            granule.codes = [bits.take(5) as usize, bits.take(5) as usize, 0];
            granule.softer = std::array::from_fn(|_| 8 * bits.take(3) as i32);
            granule.regions = [36, 576];
        } else {
            granule.codes = std::array::from_fn(|_| bits.take(5) as usize);
            let first = bits.take(4) as usize + 1;
            let second = first + bits.take(3) as usize + 1;
            granule.regions = [first, second].map(|band| LONG[rate].get(band).map_or(576, |b| *b));
        }
        granule.emphasis = bits.take(1) == 1;
        granule.step = 2 << bits.take(1);
        granule.plain_quads = bits.take(1) == 1;
        Some(granule)
    }
}
