//! The learned front: a small two-rate temporal convolutional network, trained in `training/`.
//!
//! A first layer sees small patches of the spectrogram, a dense layer folds the bands, a few blocks work
//! at 50 frames a second, and the long view (10 s to either side) is taken at a quarter of that rate,
//! where it is cheap. Weights are half floats in `weights.bin`; the format is written down in
//! `training/export.py`. All arithmetic is in `f32` and in a fixed order, so the same features give the
//! same activations on one core or many.

use std::sync::LazyLock;

use ndarray::linalg::general_mat_mul;
use ndarray::{Array1, Array2, ArrayView2, ArrayViewMut2, Axis, Slice};
use rayon::prelude::*;

use super::activations::Activations;
use super::features::{FRAMES_PER_SECOND, Features};

static WEIGHTS: &[u8] = include_bytes!("weights.bin");

/// The trained network. The bytes are part of the program and tested, so reading them does not fail.
static NETWORK: LazyLock<Network> = LazyLock::new(|| Network::read(WEIGHTS).unwrap_or_default());

/// Frames of the fast rate in one of the slow.
const POOL: usize = 4;
/// A long song is worked through in stretches of this many frames (two and a half minutes) …
const STRETCH: usize = 7680;
/// … each seen with this much before and after it: no less than the network looks at.
const CONTEXT: usize = 576;

/// Activations by the network.
pub fn activations(features: &Features) -> Activations {
    let n = features.n_frames();
    // Equal stretches, each a whole number of slow frames.
    let stretches = n.div_ceil(STRETCH).max(1);
    let length = n.div_ceil(stretches).next_multiple_of(POOL).max(POOL);
    let parts: Vec<Array2<f32>> = (0..stretches)
        .into_par_iter()
        .map(|i| {
            let (from, to) = ((i * length).min(n), ((i + 1) * length).min(n));
            let (first, last) = (from.saturating_sub(CONTEXT), (to + CONTEXT).min(n));
            let mut input = Array2::zeros((last - first, features.width()));
            for (row, frame) in input.rows_mut().into_iter().zip(first..last) {
                if let Some(row) = row.into_slice() {
                    features.frame(frame, row);
                }
            }
            rows(NETWORK.run(input).view(), from - first, to - first).to_owned()
        })
        .collect();
    let column = |c: usize| parts.iter().flat_map(|p| p.column(c).to_vec()).collect();
    Activations { frames_per_second: FRAMES_PER_SECOND, beat: column(0), downbeat: column(1) }
}

#[derive(Default)]
struct Network {
    bands: usize,
    fold: usize,
    mean: Array1<f32>,
    scale: Array1<f32>,
    patch: Patch,
    dense: Convolution,
    fast: Vec<Block>,
    down: Convolution,
    slow: Vec<Block>,
    up: Convolution,
    last: Block,
    head: Convolution,
}

/// Three by three, over time and bands, in several channels.
#[derive(Default)]
struct Patch {
    /// `[channel][time * 3 + band]`
    kernels: Vec<[f32; 9]>,
    bias: Vec<f32>,
}

/// A dilated convolution in time.
#[derive(Default)]
struct Convolution {
    /// From past to future, each `[in, out]`.
    taps: Vec<Array2<f32>>,
    bias: Array1<f32>,
    dilation: usize,
}

/// `x + mix(relu(conv(x)))`
#[derive(Default)]
struct Block {
    conv: Convolution,
    mix: Convolution,
}

impl Network {
    /// Reads `weights.bin`; `None` where the bytes are not a whole network.
    fn read(bytes: &[u8]) -> Option<Network> {
        let mut r = Reader { rest: bytes.strip_prefix(b"HBNET001")? };
        let mut sizes = [0; 9];
        for size in &mut sizes {
            *size = r.u32()? as usize;
        }
        let [bands, attacks, patch, fold, fast, slow, taps, n_fast, n_slow] = sizes;
        let fast_dilations = r.dilations(n_fast)?;
        let slow_dilations = r.dilations(n_slow)?;
        let values = bands + attacks;
        let mean = (0..values).map(|_| r.f32()).collect::<Option<Array1<f32>>>()?;
        let scale = (0..values).map(|_| r.f32()).collect::<Option<Array1<f32>>>()?;
        let kernels = (0..patch)
            .map(|_| {
                let mut kernel = [0.0; 9];
                for k in &mut kernel {
                    *k = r.f16()?;
                }
                Some(kernel)
            })
            .collect::<Option<_>>()?;
        let patch_bias = (0..patch).map(|_| r.f16()).collect::<Option<_>>()?;
        let network = Network {
            bands,
            fold,
            mean,
            scale,
            patch: Patch { kernels, bias: patch_bias },
            dense: r.convolution(patch * (bands / fold.max(1)) + attacks, fast, 3, 1)?,
            fast: r.blocks(fast, taps, &fast_dilations)?,
            down: r.convolution(fast, slow, 1, 1)?,
            slow: r.blocks(slow, taps, &slow_dilations)?,
            up: r.convolution(slow, fast, 1, 1)?,
            last: r.block(fast, taps, 1)?,
            head: r.convolution(fast, 2, 1, 1)?,
        };
        r.rest.is_empty().then_some(network)
    }

    /// Features `[frames, values]` to probabilities `[frames, 2]`: beat, downbeat.
    fn run(&self, features: Array2<f32>) -> Array2<f32> {
        let frames = features.nrows();
        if features.ncols() != self.mean.len() {
            return Array2::zeros((frames, 2));
        }
        // Whole slow frames: silence after the end.
        let mut input = Array2::zeros((frames.next_multiple_of(POOL), features.ncols()));
        rows_mut(input.view_mut(), 0, frames).assign(&features);
        input -= &self.mean;
        input *= &self.scale;

        let mut fast = relu(self.dense.apply(&self.patches(&input)));
        for block in &self.fast {
            block.apply(&mut fast);
        }
        let mut slow = self.down.apply(&pooled(&fast));
        for block in &self.slow {
            block.apply(&mut slow);
        }
        add_stretched(&self.up.apply(&slow), &mut fast);
        let mut fast = relu(fast);
        self.last.apply(&mut fast);
        let mut out = self.head.apply(&fast);
        out.mapv_inplace(|logit| 1.0 / (1.0 + (-logit).exp()));
        rows(out.view(), 0, frames).to_owned()
    }

    /// The patch layer, the larger of each `fold` neighbouring bands, and the attack values beside it.
    fn patches(&self, input: &Array2<f32>) -> Array2<f32> {
        let (frames, bands) = (input.nrows(), self.bands);
        let folded = bands / self.fold;
        let spectral = self.patch.kernels.len() * folded;
        let mut out = Array2::zeros((frames, spectral + input.ncols() - bands));
        // Rows before, at and after a frame, with a zero band at either end.
        let mut rows = vec![vec![0f32; bands + 2]; 3];
        let mut sums = vec![0f32; bands];
        let load = |row: &mut [f32], frame: usize| match input.row(frame).as_slice() {
            Some(values) => row[1..=bands].copy_from_slice(&values[..bands]),
            None => row.fill(0.0),
        };
        if frames > 0 {
            load(&mut rows[2], 0);
        }
        for frame in 0..frames {
            rows.rotate_left(1);
            if frame + 1 < frames {
                load(&mut rows[2], frame + 1);
            } else {
                rows[2].fill(0.0);
            }
            let mut to = out.row_mut(frame);
            for (c, (kernel, &bias)) in self.patch.kernels.iter().zip(&self.patch.bias).enumerate()
            {
                sums.fill(bias);
                for (row, k) in rows.iter().zip(kernel.chunks_exact(3)) {
                    let (below, at, above) = (&row[..bands], &row[1..=bands], &row[2..]);
                    for (((sum, a), b), c) in sums.iter_mut().zip(below).zip(at).zip(above) {
                        *sum += k[0] * a + k[1] * b + k[2] * c;
                    }
                }
                for (f, group) in sums.chunks_exact(self.fold).enumerate() {
                    to[c * folded + f] = group.iter().fold(0.0, |most: f32, &x| most.max(x));
                }
            }
            for (to, attack) in
                to.iter_mut().skip(spectral).zip(input.row(frame).iter().skip(bands))
            {
                *to = *attack;
            }
        }
        out
    }
}

impl Convolution {
    fn apply(&self, x: &Array2<f32>) -> Array2<f32> {
        let mut out = Array2::zeros((x.nrows(), self.bias.len()));
        out += &self.bias;
        self.add_to(x.view(), out.view_mut());
        out
    }

    /// Adds the taps' products, without the bias.
    fn add_to(&self, x: ArrayView2<f32>, mut out: ArrayViewMut2<f32>) {
        let frames = x.nrows();
        let middle = self.taps.len() / 2;
        for (k, tap) in self.taps.iter().enumerate() {
            // Output frame t takes input frame t + shift; outside lies silence.
            let (ahead, behind) = (
                k.saturating_sub(middle) * self.dilation,
                middle.saturating_sub(k) * self.dilation,
            );
            if ahead.max(behind) >= frames {
                continue;
            }
            let from = rows(x, ahead, frames - behind);
            let mut to = rows_mut(out.view_mut(), behind, frames - ahead);
            general_mat_mul(1.0, &from, tap, 1.0, &mut to);
        }
    }
}

impl Block {
    fn apply(&self, x: &mut Array2<f32>) {
        let inner = relu(self.conv.apply(x));
        *x += &self.mix.bias;
        self.mix.add_to(inner.view(), x.view_mut());
    }
}

fn relu(mut x: Array2<f32>) -> Array2<f32> {
    x.mapv_inplace(|v| v.max(0.0));
    x
}

fn rows(x: ArrayView2<f32>, from: usize, to: usize) -> ArrayView2<f32> {
    x.slice_axis_move(Axis(0), Slice::from(from..to))
}

fn rows_mut(x: ArrayViewMut2<f32>, from: usize, to: usize) -> ArrayViewMut2<f32> {
    x.slice_axis_move(Axis(0), Slice::from(from..to))
}

/// Means of each [`POOL`] frames.
fn pooled(x: &Array2<f32>) -> Array2<f32> {
    let mut out = Array2::zeros((x.nrows() / POOL, x.ncols()));
    for (mut to, group) in out.rows_mut().into_iter().zip(x.axis_chunks_iter(Axis(0), POOL)) {
        for row in group.rows() {
            to += &row;
        }
        to /= POOL as f32;
    }
    out
}

/// Adds the slow rate to the fast, in between by straight lines. A slow frame's middle lies between its
/// second and third fast frame.
fn add_stretched(slow: &Array2<f32>, fast: &mut Array2<f32>) {
    let last = slow.nrows().saturating_sub(1);
    for (frame, mut to) in fast.rows_mut().into_iter().enumerate() {
        let at = ((frame as f32 + 0.5) / POOL as f32 - 0.5).max(0.0);
        let before = (at as usize).min(last);
        let share = at - before as f32;
        to.scaled_add(1.0 - share, &slow.row(before));
        to.scaled_add(share, &slow.row((before + 1).min(last)));
    }
}

struct Reader<'a> {
    rest: &'a [u8],
}

impl Reader<'_> {
    fn u32(&mut self) -> Option<u32> {
        let (word, rest) = self.rest.split_first_chunk()?;
        self.rest = rest;
        Some(u32::from_le_bytes(*word))
    }

    fn f32(&mut self) -> Option<f32> {
        self.u32().map(f32::from_bits)
    }

    /// An IEEE half float; no weight is infinite.
    fn f16(&mut self) -> Option<f32> {
        let (half, rest) = self.rest.split_first_chunk()?;
        self.rest = rest;
        let half = u16::from_le_bytes(*half);
        let sign = if half & 0x8000 == 0 { 1.0 } else { -1.0 };
        let (exponent, mantissa) = (i32::from(half >> 10 & 0x1f), f32::from(half & 0x3ff));
        let size = match exponent {
            0 => mantissa * 2f32.powi(-24),
            _ => (1.0 + mantissa / 1024.0) * 2f32.powi(exponent - 15),
        };
        Some(sign * size)
    }

    fn dilations(&mut self, count: usize) -> Option<Vec<usize>> {
        (0..count).map(|_| self.u32().map(|d| d as usize)).collect()
    }

    fn matrix(&mut self, rows: usize, columns: usize) -> Option<Array2<f32>> {
        let values = (0..rows * columns).map(|_| self.f16()).collect::<Option<Vec<f32>>>()?;
        Array2::from_shape_vec((rows, columns), values).ok()
    }

    fn convolution(
        &mut self,
        from: usize,
        to: usize,
        taps: usize,
        dilation: usize,
    ) -> Option<Convolution> {
        let taps = (0..taps).map(|_| self.matrix(from, to)).collect::<Option<_>>()?;
        let bias = (0..to).map(|_| self.f16()).collect::<Option<_>>()?;
        Some(Convolution { taps, bias, dilation })
    }

    fn block(&mut self, width: usize, taps: usize, dilation: usize) -> Option<Block> {
        Some(Block {
            conv: self.convolution(width, width, taps, dilation)?,
            mix: self.convolution(width, width, 1, 1)?,
        })
    }

    fn blocks(&mut self, width: usize, taps: usize, dilations: &[usize]) -> Option<Vec<Block>> {
        dilations.iter().map(|&dilation| self.block(width, taps, dilation)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Features and what PyTorch made of them, written by `training/export.py`.
    fn fixture() -> (Array2<f32>, Array2<f32>) {
        let mut r = Reader { rest: include_bytes!("network_fixture.bin") };
        let frames = r.u32().unwrap() as usize;
        let mut read = |columns: usize| {
            let values = (0..frames * columns).map(|_| r.f32().unwrap()).collect();
            Array2::from_shape_vec((frames, columns), values).unwrap()
        };
        let features = read(NETWORK.mean.len());
        (features, read(2))
    }

    #[test]
    fn the_weights_are_a_whole_network_for_these_features() {
        let network = Network::read(WEIGHTS).expect("weights.bin reads to its end");
        let mut front = crate::rhythm::FeatureFront::new();
        front.push(&[0.0; 1000]);
        assert_eq!(network.mean.len(), front.finish().width());
        assert!(WEIGHTS.len() < 2_000_000);
    }

    #[test]
    fn pytorch_says_the_same() {
        let (features, wanted) = fixture();
        let found = NETWORK.run(features);
        let worst = (&found - &wanted).mapv(f32::abs).fold(0.0, |a: f32, &b| a.max(b));
        assert!(worst < 1e-4, "off by {worst}");
        for column in wanted.columns() {
            let most = column.fold(0.0, |a: f32, &b| a.max(b));
            assert!(most > 0.5, "the fixture holds beats and downbeats to find: {most}");
        }
    }

    #[test]
    fn context_covers_all_that_the_network_looks_at() {
        let reach = |blocks: &[Block]| -> usize {
            blocks.iter().map(|b| b.conv.dilation * (b.conv.taps.len() / 2)).sum()
        };
        let fast = 1 + 1 + reach(&NETWORK.fast) + 2;
        let slow = reach(&NETWORK.slow) + 2;
        assert!(fast + POOL * slow <= CONTEXT, "{fast} + {POOL} x {slow}");
        assert_eq!(CONTEXT % POOL, 0);
    }

    #[test]
    fn nothing_in_nothing_out() {
        assert_eq!(NETWORK.run(Array2::zeros((0, NETWORK.mean.len()))).nrows(), 0);
    }
}
