//! MP3 to one channel, at the file's rate or at half of it: a decoder of our own for what listening needs.
//!
//! The mean of both channels is all that is listened to, and nothing above 10 kHz. Most frames of joint stereo hold
//! the channels' sum, so that the difference need not be decoded; all from the spectrum on is linear, so that two
//! channels are added there; and from the lower half of the subbands half as many samples are made. What is left is
//! about a third of the work of decoding all.
//!
//! MPEG 1, layer III (ISO/IEC 11172-3). Other kinds are refused.

mod bands;
mod bits;
mod codes;
mod huffman;
mod hybrid;
mod polyphase;
mod side;

use std::sync::LazyLock;

use self::bands::{LONG, MIXED, SHORT, Scales};
use self::bits::Bits;
use self::huffman::Lines;
use self::hybrid::{Hybrid, SLOTS};
use self::polyphase::Polyphase;
use self::side::{Frame, Granule, Shape};

/// Bytes that a frame may borrow from those before, and their decoder may hold.
const MOST_BYTES: usize = 2048;
/// Subbands at the full rate.
const ALL: usize = 32;

/// Quarters of a doubling off the step size that halve a channel …
const HALF: i32 = 4;
/// … and that make the sum, which frames hold divided by the square root of two, the mean.
const ROOT_OF_HALF: i32 = 2;

/// Step sizes by quarters of a doubling, from -[`SOFTEST`] up.
static STEPS: LazyLock<Vec<f32>> = LazyLock::new(|| {
    (0..=SOFTEST + 48).map(|q| (0.25 * f64::from(q - SOFTEST)).exp2() as f32).collect()
});
/// Quarters of a doubling: the lowest gain, with the softest window and scale factor, halved.
const SOFTEST: i32 = 210 + 56 + 72 + HALF;

/// Why a frame was not decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// It is damaged.
    Damaged,
    /// It is of another kind.
    Unsuited,
}

/// Decodes frames to the mean of their channels, of which the `N` lowest of 32 subbands sound: `N` samples for each 32
/// of the file.
struct Mean<const N: usize> {
    arch: pulp::Arch,
    /// Bytes of spectrum that no frame has used yet.
    unused: Vec<u8>,
    hybrid: Hybrid<N>,
    polyphase: Polyphase<N>,
    /// Lines of both channels.
    lines: Box<[Lines; 2]>,
    /// How loud each line is let through.
    gains: Option<Box<Lines>>,
}

impl<const N: usize> Mean<N> {
    fn new(phase: usize, gains: Option<Box<Lines>>) -> Mean<N> {
        Mean {
            arch: crate::vector::arch(),
            unused: Vec::new(),
            hybrid: Hybrid::new(),
            polyphase: Polyphase::new(phase),
            lines: Box::new([[0.0; 576]; 2]),
            gains,
        }
    }

    fn decode(&mut self, frame: &[u8], out: &mut Vec<f32>) -> Result<(), Refused> {
        Frame::kind(frame).ok_or(Refused::Unsuited)?;
        let mut head = Frame::read(frame).ok_or(Refused::Damaged)?;
        // Sum and difference are those of lines, so that both must have the same windows.
        let differ = |[a, b]: &[Granule; 2]| b.bits > 0 && a.shape != b.shape;
        if head.sum && head.granules.iter().any(differ) {
            return Err(Refused::Damaged);
        }
        let data = frame.get(head.data..).ok_or(Refused::Damaged)?;
        let used = self.find(data, &mut head)?;
        out.clear();
        let mut scales = [[0; 40]; 2];
        for granule in 0..2 {
            self.hybrid.advance();
            self.add_granule(&head, granule, &mut scales)?;
            self.polyphase.push(self.arch, &self.hybrid.now, out);
        }
        self.unused.drain(..used.min(self.unused.len()));
        Ok(())
    }

    /// Takes in a frame's bytes of spectrum and finds where each granule's bits begin. Returns the bytes used. Where
    /// bytes that the frame borrows are missing, so are the granules that they belong to.
    fn find(&mut self, data: &[u8], head: &mut Frame) -> Result<usize, Refused> {
        let missing = head.borrowed.saturating_sub(self.unused.len()) * 8;
        let spare = self.unused.len().saturating_sub(head.borrowed);
        self.unused.drain(..spare);
        self.unused.extend_from_slice(data);
        if self.unused.len() > MOST_BYTES {
            return Err(Refused::Damaged);
        }
        let (mut skipped, mut at) = (0, 0);
        for both in &mut head.granules {
            if skipped < missing {
                skipped += both.iter().map(|granule| granule.bits).sum::<usize>();
                at = skipped.saturating_sub(missing);
                continue;
            }
            for granule in both {
                granule.start = Some(at);
                at += granule.bits;
                if at > self.unused.len() * 8 {
                    return Err(Refused::Damaged);
                }
            }
        }
        Ok(at.div_ceil(8))
    }

    fn add_granule(
        &mut self,
        head: &Frame,
        granule: usize,
        scales: &mut [Scales; 2],
    ) -> Result<(), Refused> {
        let [first, second] = head.granules[granule];
        let part = |channel: usize, softer: i32| Part {
            channel,
            rate: head.rate,
            shared: if granule == 0 { 0 } else { head.shared[channel] },
            softer,
            limit: needed::<N>(head.granules[granule][channel].shape, head.rate),
        };
        let two = head.channels == 2 && !head.sum;
        if head.sum {
            let mut both = None;
            if head.intensity {
                // All of the second channel tells which bands of the first are for both.
                let whole = Part { limit: 576, ..part(1, 0) };
                let end = self.read(&whole, &second, &mut scales[1], None)?;
                both = Some(Both::find(&self.lines[1], end, &second, &scales[1], head.rate));
            }
            self.read(&part(0, ROOT_OF_HALF), &first, &mut scales[0], both.as_ref())?;
        } else {
            let softer = if two { HALF } else { 0 };
            self.read(&part(0, softer), &first, &mut scales[0], None)?;
            if two {
                self.read(&part(1, softer), &second, &mut scales[1], None)?;
            }
        }
        let [one, other] = &mut *self.lines;
        let gains = self.gains.as_deref();
        if two && first.shape == second.shape {
            one.iter_mut().zip(other).for_each(|(sum, line)| *sum += *line);
        } else if two {
            self.hybrid.add(self.arch, other, second.shape, head.rate, gains);
        }
        self.hybrid.add(self.arch, one, first.shape, head.rate, gains);
        Ok(())
    }

    /// Reads the lines of a channel. Returns where they end.
    fn read(
        &mut self,
        part: &Part,
        granule: &Granule,
        scales: &mut Scales,
        both: Option<&Both>,
    ) -> Result<usize, Refused> {
        let lines = &mut self.lines[part.channel];
        let Some(start) = granule.start else {
            lines.fill(0.0);
            return Ok(0);
        };
        let mut bits = Bits::new(&self.unused, start);
        *scales = bands::read_scales(&mut bits, granule, part.shared, scales);
        let end = start + granule.bits;
        if bits.at > end {
            return Err(Refused::Damaged);
        }
        let last = huffman::read(&mut bits, granule, end, part.limit, lines);
        let mut from = 0;
        let steps = &*STEPS;
        bands::stretches(granule, scales, part.rate, |(to, step)| {
            if from < last {
                let halved = both.is_some_and(|both| both.covers(from));
                let softer = if halved { HALF } else { part.softer };
                let step = steps.get((step - softer + SOFTEST) as usize).copied();
                lines[from..to].iter_mut().for_each(|line| *line *= step.unwrap_or_default());
            }
            from = to;
        });
        Ok(last)
    }
}

/// What is wanted of a channel in a granule.
struct Part {
    channel: usize,
    rate: usize,
    /// Groups of scale factors that are those of the granule before.
    shared: u64,
    /// Quarters of a doubling by which it is made softer.
    softer: i32,
    /// Lines needed.
    limit: usize,
}

/// Bands of the first channel that sound in both, in a frame that holds sum and difference elsewhere: those above the
/// last that the second channel holds anything in (2.4.3.4.9.3). The mean of the channels is half of what is sent.
struct Both {
    /// By the first line of a band.
    covered: [bool; 576],
}

impl Both {
    /// A place that says that a band is not for both.
    const NOT: u8 = 7;

    fn find(lines: &Lines, end: usize, granule: &Granule, scales: &Scales, rate: usize) -> Both {
        let mut starts = Vec::with_capacity(40);
        let mut from = 0;
        bands::stretches(granule, scales, rate, |(to, _)| {
            starts.push((from, to));
            from = to;
        });
        let long = match granule.shape {
            Shape::Short => 0,
            Shape::Mixed => MIXED.1,
            _ => LONG[rate].len() - 1,
        };
        let mut covered = [false; 576];
        // Windows that nothing was found in so far, from the highest band down.
        let mut empty = [true; 3];
        for (index, &(from, to)) in starts.iter().enumerate().rev() {
            let (windows, same) = if index < long { (1, 1) } else { (3, 3) };
            let window = if index < long { 0 } else { (index - long) % 3 };
            if index + 1 == long {
                empty[0] = empty.iter().all(|empty| *empty);
            }
            empty[window] &= from >= end || lines[from..to].iter().all(|line| *line == 0.0);
            // The last band has no place of its own but that of the band before.
            let place =
                if index + windows >= starts.len() { index.saturating_sub(same) } else { index };
            covered[from] = empty[window] && scales[place] != Both::NOT;
        }
        Both { covered }
    }

    fn covers(&self, line: usize) -> bool {
        self.covered.get(line).is_some_and(|covered| *covered)
    }
}

/// Lines that `N` subbands need, in the order in which they are sent.
fn needed<const N: usize>(shape: Shape, rate: usize) -> usize {
    match shape {
        _ if N == ALL => 576,
        Shape::Short | Shape::Mixed => {
            let bands = SHORT[rate].iter().map(|line| 3 * line);
            bands.into_iter().find(|line| *line >= SLOTS * N).unwrap_or(576)
        }
        _ => SLOTS * N + 8,
    }
}

/// Decodes the frames of a file.
pub struct Decoder {
    mean: Box<dyn Decode + Send>,
    /// How a decoder is made that has heard nothing.
    made: (bool, usize, Option<Box<Lines>>),
}

trait Decode {
    fn decode(&mut self, frame: &[u8], out: &mut Vec<f32>) -> Result<(), Refused>;
}

impl<const N: usize> Decode for Mean<N> {
    fn decode(&mut self, frame: &[u8], out: &mut Vec<f32>) -> Result<(), Refused> {
        Mean::decode(self, frame, out)
    }
}

impl Decoder {
    /// At the file's rate.
    pub fn whole() -> Decoder {
        Decoder { mean: Box::new(Mean::<ALL>::new(0, None)), made: (false, 0, None) }
    }

    /// Every other sample, those with odd numbers if `phase` is 1. `response` tells how loud a frequency is let through,
    /// in cycles a sample of the file.
    pub fn halved(phase: usize, response: impl Fn(f64) -> f64) -> Decoder {
        let gain = |line: usize| response((line as f64 + 0.5) / 1152.0) as f32;
        let gains = Box::new(std::array::from_fn(gain));
        let mean = Mean::<{ ALL / 2 }>::new(phase, Some(gains.clone()));
        Decoder { mean: Box::new(mean), made: (true, phase, Some(gains)) }
    }

    /// Decodes a frame into `out`: the mean of its channels.
    pub fn decode(&mut self, frame: &[u8], out: &mut Vec<f32>) -> Result<(), Refused> {
        self.mean.decode(frame, out)
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        let (halved, phase, gains) = self.made.clone();
        self.mean = match halved {
            true => Box::new(Mean::<{ ALL / 2 }>::new(phase, gains)),
            false => Box::new(Mean::<ALL>::new(phase, gains)),
        };
    }
}

/// Sample rate and number of channels of a frame, if it is of the kind that [`Decoder`] decodes.
pub fn kind(frame: &[u8]) -> Option<(u32, u32)> {
    let (rate, channels) = Frame::kind(frame)?;
    Some((*[44_100, 48_000, 32_000].get(rate)?, channels as u32))
}
