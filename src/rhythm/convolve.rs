//! Convolutions in time over rows of values, with the processor's vector instructions found at run time.
//!
//! Four frames by three vectors of outputs are summed at once, which keeps all sums in registers. Each output is
//! summed over the taps and inputs in the same order whatever the width of a vector and whatever rows are asked
//! for together, so the result depends on neither.

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

/// Frames summed at once.
const ROWS: usize = 4;
/// Vectors of outputs summed at once.
const VECTORS: usize = 3;
/// Outputs come in whole multiples of this: a vector of the widest kind.
const OUTPUTS: usize = 16;
/// Most outputs that a block may have, and most taps.
const WIDEST: usize = 96;
const MOST_TAPS: usize = 5;
/// Silence kept before and after all rows: the furthest that a convolution may look, and a few rows more because rows are
/// worked on together.
const PAD: usize = FURTHEST + ROWS;
const FURTHEST: usize = 64;
/// Frames that are worked on in one piece of work for one core.
const PIECE: usize = 128 * ROWS;

/// Values of each frame, with silence before and after.
pub(crate) struct Rows {
    width: usize,
    frames: usize,
    values: Vec<f32>,
}

impl Rows {
    /// Silence.
    pub(crate) fn new(frames: usize, width: usize) -> Rows {
        Rows { width, frames, values: vec![0.0; (frames + 2 * PAD) * width] }
    }

    /// Number of frames.
    pub(crate) fn frames(&self) -> usize {
        self.frames
    }

    /// Values of a frame.
    pub(crate) fn row(&self, frame: usize) -> &[f32] {
        &self.values[(PAD + frame) * self.width..][..self.width]
    }

    /// Frames from first to last, one after another.
    pub(crate) fn inside(&mut self) -> &mut [f32] {
        &mut self.values[PAD * self.width..(PAD + self.frames) * self.width]
    }

    /// Lets `work` fill the frames, a stretch of them at a time, on all cores: it is told the first frame.
    pub(crate) fn fill(&mut self, work: impl Fn(usize, &mut [f32]) + Sync) {
        let piece = PIECE * self.width;
        let pieces = self.inside().par_chunks_mut(piece.max(1)).enumerate();
        pieces.for_each(|(index, rows)| work(index * PIECE, rows));
    }
}

/// A dilated convolution in time.
#[derive(Default)]
pub(crate) struct Convolution {
    inputs: usize,
    /// A multiple of [`OUTPUTS`]; those past the last that is asked for have weight 0.
    outputs: usize,
    asked: usize,
    taps: usize,
    dilation: usize,
    /// Taps from past to future. Shape `[taps, inputs, outputs]`.
    weights: Vec<f32>,
    bias: Vec<f32>,
}

/// `x + mix(relu(conv(x)))`
#[derive(Default)]
pub(crate) struct Block {
    pub conv: Convolution,
    pub mix: Convolution,
}

impl Convolution {
    /// From weights of shape `[taps, inputs, bias.len()]`; `None` where that is not their shape or too large.
    pub(crate) fn new(
        weights: &[f32],
        bias: &[f32],
        inputs: usize,
        dilation: usize,
    ) -> Option<Convolution> {
        let outputs = bias.len().next_multiple_of(OUTPUTS);
        let padded = |row: &[f32]| {
            let mut row = row.to_vec();
            row.resize(outputs, 0.0);
            row
        };
        let convolution = Convolution {
            inputs,
            outputs,
            asked: bias.len(),
            taps: weights.len() / (inputs * bias.len()).max(1),
            dilation,
            weights: weights.chunks(bias.len().max(1)).flat_map(padded).collect(),
            bias: padded(bias),
        };
        let whole = weights.len() == convolution.taps * inputs * bias.len();
        let fits = outputs <= WIDEST
            && convolution.taps <= MOST_TAPS
            && convolution.reach() <= FURTHEST
            && !weights.is_empty();
        (whole && fits).then_some(convolution)
    }

    /// Frames that it looks to each side.
    pub(crate) fn reach(&self) -> usize {
        self.taps / 2 * self.dilation
    }

    /// Values in a row that it makes.
    pub(crate) fn outputs(&self) -> usize {
        self.outputs
    }

    /// All rows of `x` convolved.
    pub(crate) fn apply(&self, x: &Rows) -> Rows {
        let mut out = Rows::new(x.frames, self.outputs);
        out.fill(|first, rows| self.apply_from(x, first, false, rows));
        out
    }

    /// Rows of `x` convolved into `out`, from frame `first` on.
    pub(crate) fn apply_from(&self, x: &Rows, first: usize, relu: bool, out: &mut [f32]) {
        // The widest vectors that there are: nothing else has so much to do.
        Arch::new().dispatch(Plain { layer: self, x, first, relu, out });
    }

    /// The rows that each tap reads for [`ROWS`] frames from `frame` on.
    #[inline(always)]
    fn reads<'a>(&self, x: &'a Rows, frame: usize) -> [[&'a [f32]; ROWS]; MOST_TAPS] {
        let mut reads = [[&[][..]; ROWS]; MOST_TAPS];
        for (tap, rows) in reads.iter_mut().enumerate().take(self.taps) {
            for (k, row) in rows.iter_mut().enumerate() {
                let at = (PAD + frame + k + tap * self.dilation - self.reach()) * x.width;
                *row = &x.values[at..at + self.inputs];
            }
        }
        reads
    }

    /// Sums for all outputs of [`ROWS`] frames, the bias included.
    #[inline(always)]
    fn sum<S: Simd>(
        &self,
        simd: S,
        reads: &[[&[f32]; ROWS]; MOST_TAPS],
        out: &mut [[f32; WIDEST]; ROWS],
    ) {
        let vectors = self.asked.div_ceil(S::F32_LANES);
        let mut from = 0;
        while from < vectors {
            from += match vectors - from {
                1 => self.sum_some::<S, 1>(simd, reads, from, out),
                2 => self.sum_some::<S, 2>(simd, reads, from, out),
                _ => self.sum_some::<S, VECTORS>(simd, reads, from, out),
            };
        }
    }

    /// Sums for `N` vectors of outputs.
    #[inline(always)]
    fn sum_some<S: Simd, const N: usize>(
        &self,
        simd: S,
        reads: &[[&[f32]; ROWS]; MOST_TAPS],
        from: usize,
        out: &mut [[f32; WIDEST]; ROWS],
    ) -> usize {
        let sums = self.sums::<S, N>(simd, reads, from);
        for (row, sums) in out.iter_mut().zip(&sums) {
            S::as_mut_simd_f32s(row).0[from..from + N].copy_from_slice(sums);
        }
        N
    }

    #[inline(always)]
    fn sums<S: Simd, const N: usize>(
        &self,
        simd: S,
        reads: &[[&[f32]; ROWS]; MOST_TAPS],
        from: usize,
    ) -> [[S::f32s; N]; ROWS] {
        let (bias, _) = S::as_simd_f32s(&self.bias);
        let bias = &bias[from..from + N];
        let mut sums = [std::array::from_fn(|vector| bias[vector]); ROWS];
        let (weights, _) = S::as_simd_f32s(&self.weights);
        let vectors = self.outputs / S::F32_LANES;
        let taps = weights.chunks_exact(self.inputs * vectors);
        for (weights, &[a, b, c, d]) in taps.zip(reads) {
            let values = a.iter().zip(b).zip(c).zip(d);
            for (weights, (((a, b), c), d)) in weights.chunks_exact(vectors).zip(values) {
                let weights = &weights[from..from + N];
                for (sums, value) in sums.iter_mut().zip([a, b, c, d]) {
                    let value = simd.splat_f32s(*value);
                    for (sum, weight) in sums.iter_mut().zip(weights) {
                        *sum = simd.mul_add_e_f32s(value, *weight, *sum);
                    }
                }
            }
        }
        sums
    }
}

impl Block {
    /// Rows of `x` through the block.
    pub(crate) fn apply(&self, x: &Rows) -> Rows {
        let mut out = Rows::new(x.frames, x.width);
        out.fill(|first, rows| Arch::new().dispatch(Through { block: self, x, first, out: rows }));
        out
    }
}

struct Plain<'a> {
    layer: &'a Convolution,
    x: &'a Rows,
    first: usize,
    relu: bool,
    out: &'a mut [f32],
}

impl WithSimd for Plain<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Plain { layer, x, first, relu, out } = self;
        let least = if relu { 0.0 } else { f32::NEG_INFINITY };
        let mut sums = [[0f32; WIDEST]; ROWS];
        for (tile, out) in out.chunks_mut(ROWS * layer.outputs).enumerate() {
            layer.sum(simd, &layer.reads(x, first + tile * ROWS), &mut sums);
            // The last few rows may be fewer.
            for (row, sums) in out.chunks_exact_mut(layer.outputs).zip(&sums) {
                row.iter_mut().zip(sums).for_each(|(to, sum)| *to = sum.max(least));
            }
        }
    }
}

struct Through<'a> {
    block: &'a Block,
    x: &'a Rows,
    first: usize,
    out: &'a mut [f32],
}

impl WithSimd for Through<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Through { block: Block { conv, mix }, x, first, out } = self;
        let mut inner = [[0f32; WIDEST]; ROWS];
        let mut sums = [[0f32; WIDEST]; ROWS];
        for (tile, out) in out.chunks_mut(ROWS * mix.outputs).enumerate() {
            let frame = first + tile * ROWS;
            conv.sum(simd, &conv.reads(x, frame), &mut inner);
            inner.iter_mut().flatten().for_each(|value| *value = value.max(0.0));
            let mut reads = [[&[][..]; ROWS]; MOST_TAPS];
            reads[0] = inner.each_ref().map(|row| &row[..mix.inputs]);
            mix.sum(simd, &reads, &mut sums);
            for (k, (row, sums)) in out.chunks_exact_mut(mix.outputs).zip(&sums).enumerate() {
                for ((to, before), sum) in row.iter_mut().zip(x.row(frame + k)).zip(sums) {
                    *to = before + sum;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_convolution_is_its_definition() {
        let value = |n: usize| ((n * 7919) % 101) as f32 / 50.0 - 1.0;
        for (frames, inputs, outputs, taps, dilation) in
            [(23, 5, 2, 5, 3), (1100, 40, 40, 3, 1), (3, 96, 96, 5, 32)]
        {
            let weights: Vec<f32> = (0..taps * inputs * outputs).map(value).collect();
            let bias: Vec<f32> = (0..outputs).map(value).collect();
            let layer = Convolution::new(&weights, &bias, inputs, dilation).unwrap();
            let mut x = Rows::new(frames, inputs);
            x.inside().iter_mut().enumerate().for_each(|(n, to)| *to = value(n + 3));
            let y = layer.apply(&x);
            for frame in (0..frames).step_by(7) {
                for o in 0..outputs {
                    let mut wanted = bias[o];
                    for tap in 0..taps {
                        let at = (frame + tap * dilation).checked_sub(taps / 2 * dilation);
                        let Some(at) = at.filter(|&at| at < frames) else { continue };
                        for i in 0..inputs {
                            wanted += x.row(at)[i] * weights[(tap * inputs + i) * outputs + o];
                        }
                    }
                    assert!((y.row(frame)[o] - wanted).abs() < 1e-3, "{frame} {o}");
                }
            }
        }
    }

    #[test]
    fn weights_of_another_shape_are_refused() {
        assert!(Convolution::new(&[0.0; 11], &[0.0; 2], 5, 1).is_none());
        assert!(Convolution::new(&[0.0; 10], &[0.0; 2], 5, 1).is_some());
        assert!(Convolution::new(&[0.0; 30], &[0.0; 2], 5, 65).is_none());
        assert!(Convolution::new(&[], &[], 5, 1).is_none());
    }
}
