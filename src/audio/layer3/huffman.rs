//! A granule's values from their codes, with magnitudes to the power of four thirds (ISO/IEC 11172-3, 2.4.3.4).

use std::sync::LazyLock;

use super::bits::Bits;
use super::codes::*;
use super::side::Granule;

/// Lines of a granule in the order in which they are sent.
pub(super) type Lines = [f32; 576];

/// Bits looked up at once; longer codes take a second look.
const FIRST: u32 = 9;
/// Bits looked up for four values with their signs.
const QUAD: u32 = 10;

/// What a code stands for.
#[derive(Clone, Copy, Default)]
struct Entry {
    /// The two values; of a link, where its entries begin, as 16 bits.
    values: [u8; 2],
    /// Bits of the code; of a link [`LINK`].
    code: u8,
    /// Bits of the code and the signs; of a link, bits to look up.
    all: u8,
}

const LINK: u8 = 255;

/// A code of pairs.
#[derive(Default)]
struct Pairs {
    entries: Vec<Entry>,
}

/// The codes 1 to 13, 15, 16 and 24; those between are these with more bits for large values.
static PAIRS: LazyLock<[Pairs; 32]> = LazyLock::new(|| {
    std::array::from_fn(|index| match index {
        1 => Pairs::new(&PAIRS_1),
        2 => Pairs::new(&PAIRS_2),
        3 => Pairs::new(&PAIRS_3),
        5 => Pairs::new(&PAIRS_5),
        6 => Pairs::new(&PAIRS_6),
        7 => Pairs::new(&PAIRS_7),
        8 => Pairs::new(&PAIRS_8),
        9 => Pairs::new(&PAIRS_9),
        10 => Pairs::new(&PAIRS_10),
        11 => Pairs::new(&PAIRS_11),
        12 => Pairs::new(&PAIRS_12),
        13 => Pairs::new(&PAIRS_13),
        15 => Pairs::new(&PAIRS_15),
        16 => Pairs::new(&PAIRS_16),
        24 => Pairs::new(&PAIRS_24),
        _ => Pairs::default(),
    })
});

/// Bits that follow on a value of 15, for the codes from 16 on.
const MORE: [usize; 16] = [1, 2, 3, 4, 6, 8, 10, 13, 4, 5, 6, 7, 8, 9, 11, 13];

/// Four values and the bits that they took, with signs.
#[derive(Clone, Copy, Default)]
struct Four {
    values: [i8; 4],
    bits: u8,
}

static QUADS: LazyLock<[Vec<Four>; 2]> = LazyLock::new(|| [quads(&QUADS_A), quads(&plain())]);

/// The second code of four values: the values themselves, inverted.
fn plain() -> [u32; 16] {
    std::array::from_fn(|values| 31 - values as u32)
}

/// Magnitudes to the power of four thirds.
static POWERS: LazyLock<Vec<f32>> =
    LazyLock::new(|| (0..LARGEST).map(|n| f64::from(n).powf(4.0 / 3.0) as f32).collect());
const LARGEST: u32 = 15 + (1 << 13);

/// Length of a code with a 1 before its first bit, and its bits.
fn code(with_one: u32) -> (u32, u32) {
    let length = with_one.ilog2();
    (length, with_one - (1 << length))
}

impl Pairs {
    fn new(codes: &[u32]) -> Pairs {
        let side = codes.len().isqrt().max(1);
        let mut pairs = Pairs { entries: vec![Entry::default(); 1 << FIRST] };
        for (index, (length, bits)) in codes.iter().map(|one| code(*one)).enumerate() {
            let values = [(index / side) as u8, (index % side) as u8];
            let signs = values.iter().filter(|value| **value > 0).count() as u32;
            let entry = Entry { values, code: length as u8, all: (length + signs) as u8 };
            if length <= FIRST {
                let from = (bits << (FIRST - length)) as usize;
                pairs.entries[from..from + (1 << (FIRST - length))].fill(entry);
                continue;
            }
            let first = (bits >> (length - FIRST)) as usize;
            let link = pairs.link(first, codes);
            let (start, more) = (usize::from(u16::from_le_bytes(link.values)), u32::from(link.all));
            let left = length - FIRST;
            let from = start + (((bits & ((1 << left) - 1)) << (more - left)) as usize);
            pairs.entries[from..from + (1 << (more - left))].fill(entry);
        }
        pairs
    }

    /// The link for codes that begin with `first`, made where there is none yet.
    fn link(&mut self, first: usize, codes: &[u32]) -> Entry {
        if self.entries[first].code != LINK {
            let begins = |(length, bits): (u32, u32)| {
                length > FIRST && (bits >> (length - FIRST)) as usize == first
            };
            let lengths = codes.iter().map(|one| code(*one)).filter(|one| begins(*one));
            let more = lengths.map(|(length, _)| length - FIRST).max().unwrap_or_default();
            let start = (self.entries.len() as u16).to_le_bytes();
            self.entries[first] = Entry { values: start, code: LINK, all: more as u8 };
            self.entries.resize(self.entries.len() + (1 << more), Entry::default());
        }
        self.entries[first]
    }

    /// The entry for the bits at the top of a word.
    #[inline(always)]
    fn entry(&self, window: u64) -> Entry {
        let entry = self.entries[(window >> (64 - FIRST)) as usize];
        if entry.code != LINK {
            return entry;
        }
        let start = usize::from(u16::from_le_bytes(entry.values));
        let more = window << FIRST >> (64 - u32::from(entry.all));
        self.entries[start + more as usize]
    }
}

fn quads(codes: &[u32; 16]) -> Vec<Four> {
    let mut quads = vec![Four::default(); 1 << QUAD];
    for (four, (length, bits)) in codes.iter().map(|one| code(*one)).enumerate() {
        let signs = four.count_ones();
        for sign in 0..1u32 << signs {
            let mut values = [0; 4];
            let mut left = signs;
            for (place, value) in values.iter_mut().enumerate() {
                if four >> (3 - place) & 1 == 1 {
                    left -= 1;
                    *value = if sign >> left & 1 == 1 { -1 } else { 1 };
                }
            }
            let all = length + signs;
            let from = ((bits << signs | sign) << (QUAD - all)) as usize;
            let entry = Four { values, bits: all as u8 };
            quads[from..from + (1 << (QUAD - all))].fill(entry);
        }
    }
    quads
}

/// Reads the values of a granule, which end at bit `end`, up to line `limit` or a few more; the lines behind are 0.
/// Returns the end of those read.
pub(super) fn read(
    bits: &mut Bits<'_>,
    granule: &Granule,
    end: usize,
    limit: usize,
    lines: &mut Lines,
) -> usize {
    let mut line = 0;
    let [second, third] = granule.regions;
    for (region, code) in [second, third, 576].into_iter().zip(granule.codes) {
        let to = region.min(granule.paired).min(limit.next_multiple_of(2));
        let more = code.checked_sub(16).map_or(0, |index| MORE[index]);
        let pairs = match code {
            16..=23 => &PAIRS[16],
            24.. => &PAIRS[24],
            _ => &PAIRS[code],
        };
        if line >= to {
            continue;
        }
        if pairs.entries.is_empty() {
            lines[line..to].fill(0.0);
            line = to;
        } else if more > 0 {
            line = read_large(bits, pairs, more, end, line, &mut lines[..to]);
        } else {
            line = read_pairs(bits, pairs, end, line, &mut lines[..to]);
        }
    }
    if line >= granule.paired.min(576) {
        line = read_quads(bits, granule.plain_quads, end, line, limit, lines);
    }
    lines[line..].fill(0.0);
    line
}

/// A magnitude with the sign that is the top bit of a word.
#[inline(always)]
fn signed(magnitude: f32, window: u64) -> f32 {
    f32::from_bits(magnitude.to_bits() | ((window >> 63) as u32) << 31)
}

/// Values below 16.
fn read_pairs(
    bits: &mut Bits<'_>,
    pairs: &Pairs,
    end: usize,
    line: usize,
    lines: &mut [f32],
) -> usize {
    /// Bits of the longest code with its signs.
    const LONGEST: usize = 21;
    let Some(powers) = POWERS.first_chunk::<16>() else { return line };
    let (mut window, mut left) = (bits.window(), Bits::WINDOW);
    let mut read = line;
    for two in lines[line..].as_chunks_mut::<2>().0 {
        if bits.at >= end {
            break;
        }
        if left < LONGEST {
            (window, left) = (bits.window(), Bits::WINDOW);
        }
        let entry = pairs.entry(window);
        let [first, second] = entry.values.map(|value| value & 15);
        let signs = window << entry.code;
        two[0] = signed(powers[usize::from(first)], signs);
        two[1] = signed(powers[usize::from(second)], signs << u32::from(first > 0));
        window <<= entry.all;
        bits.at += usize::from(entry.all);
        left -= usize::from(entry.all);
        read += 2;
    }
    read
}

/// Values of which those of 15 are followed by `more` bits, to be added.
fn read_large(
    bits: &mut Bits<'_>,
    pairs: &Pairs,
    more: usize,
    end: usize,
    line: usize,
    lines: &mut [f32],
) -> usize {
    let powers = &POWERS[..LARGEST as usize];
    let mut read = line;
    for two in lines[line..].as_chunks_mut::<2>().0 {
        if bits.at >= end {
            break;
        }
        let mut window = bits.window();
        let entry = pairs.entry(window);
        window <<= entry.code;
        let mut used = usize::from(entry.all);
        for (to, value) in two.iter_mut().zip(entry.values) {
            let mut value = usize::from(value & 15);
            if value == 15 {
                value += (window >> (64 - more)) as usize;
                window <<= more;
                used += more;
            }
            *to = signed(powers[value], window);
            window <<= u32::from(value > 0);
        }
        bits.at += used;
        read += 2;
    }
    read
}

/// Values of 0 and 1, four to a code.
fn read_quads(
    bits: &mut Bits<'_>,
    plain: bool,
    end: usize,
    line: usize,
    limit: usize,
    lines: &mut Lines,
) -> usize {
    let quads = &QUADS[usize::from(plain)];
    let (mut window, mut left) = (bits.window(), Bits::WINDOW);
    let mut read = line;
    for four in lines[line..].as_chunks_mut::<4>().0 {
        if bits.at >= end || read >= limit {
            break;
        }
        if left < QUAD as usize {
            (window, left) = (bits.window(), Bits::WINDOW);
        }
        let entry = quads[(window >> (64 - QUAD)) as usize];
        *four = entry.values.map(f32::from);
        window <<= entry.bits;
        bits.at += usize::from(entry.bits);
        left -= usize::from(entry.bits);
        read += 4;
    }
    // What runs over the end of the granule is no sound: encoders fill up with bits of any kind.
    if bits.at > end && read > line { read - 4 } else { read }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_is_read_as_what_it_stands_for() {
        let tables: [(usize, &[u32]); 15] = [
            (1, &PAIRS_1),
            (2, &PAIRS_2),
            (3, &PAIRS_3),
            (5, &PAIRS_5),
            (6, &PAIRS_6),
            (7, &PAIRS_7),
            (8, &PAIRS_8),
            (9, &PAIRS_9),
            (10, &PAIRS_10),
            (11, &PAIRS_11),
            (12, &PAIRS_12),
            (13, &PAIRS_13),
            (15, &PAIRS_15),
            (16, &PAIRS_16),
            (24, &PAIRS_24),
        ];
        for (index, codes) in tables {
            let side = codes.len().isqrt();
            let mut share = 0.0;
            for (n, (length, bits)) in codes.iter().map(|one| code(*one)).enumerate() {
                share += 0.5f64.powi(length as i32);
                for rest in [0, u64::MAX >> length] {
                    let entry = PAIRS[index].entry(u64::from(bits) << (64 - length) | rest);
                    assert_eq!(entry.values, [(n / side) as u8, (n % side) as u8], "{index}");
                    assert_eq!(u32::from(entry.code), length);
                }
            }
            // No bits are left that stand for nothing.
            assert_eq!(share, 1.0, "{index}");
        }
    }
}
