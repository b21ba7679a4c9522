//! The learned front: a small two-rate temporal convolutional network, trained in `training/`.
//!
//! A first layer sees small patches of the spectrogram, a dense layer folds the bands, a few blocks work
//! at 50 frames a second, and the long view (10 s to either side) is taken at a quarter of that rate,
//! where it is cheap. Weights are half floats in `weights.bin`; the format is written down in
//! `training/export.py`. All arithmetic is in `f32` and in a fixed order, so the same features give the
//! same activations on one core or many.

use std::sync::LazyLock;

use pulp::NullaryFnOnce;

use super::activations::Activations;
use super::convolve::{Block, Convolution, Rows};
use super::features::{FRAMES_PER_SECOND, Features};
use super::weights::Reader;

static WEIGHTS: &[u8] = include_bytes!("weights.bin");

/// The trained network. The bytes are part of the program and tested, so reading them does not fail.
static NETWORK: LazyLock<Network> = LazyLock::new(|| Network::read(WEIGHTS).unwrap_or_default());

/// Frames of the fast rate in one of the slow.
const POOL: usize = 4;
/// A long song is worked through in stretches of this many frames (over five minutes) …
const STRETCH: usize = 15_360;
/// … each seen with this much before and after it: no less than the network looks at.
const CONTEXT: usize = 576;
/// Neighbouring bands of which the patch layer keeps the largest.
const FOLD: usize = 4;
/// Groups of [`FOLD`] bands that are worked on together; a whole number of vectors of any kind.
const GROUPS: usize = 24;

/// Activations by the network.
pub fn activations(features: &Features) -> Activations {
    let n = features.n_frames();
    // Equal stretches, each a whole number of slow frames.
    let stretches = n.div_ceil(STRETCH).max(1);
    let length = n.div_ceil(stretches).next_multiple_of(POOL).max(POOL);
    let (mut beat, mut downbeat) = (Vec::with_capacity(n), Vec::with_capacity(n));
    for i in 0..stretches {
        let (from, to) = ((i * length).min(n), ((i + 1) * length).min(n));
        let (first, last) = (from.saturating_sub(CONTEXT), (to + CONTEXT).min(n));
        let found =
            NETWORK.run(last - first, |frame, values| features.frame(first + frame, values));
        let found = &found[from - first..to - first];
        beat.extend(found.iter().map(|both| both[0]));
        downbeat.extend(found.iter().map(|both| both[1]));
    }
    Activations { frames_per_second: FRAMES_PER_SECOND, beat, downbeat }
}

#[derive(Default)]
struct Network {
    bands: usize,
    mean: Vec<f32>,
    scale: Vec<f32>,
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

/// The bands of a frame, every fourth in a row of its own; a band of silence before the first and after the last.
type Folded = [[f32; GROUPS + 2]; FOLD];

impl Network {
    /// Reads `weights.bin`; `None` where the bytes are not a whole network, or not one of this form.
    fn read(bytes: &[u8]) -> Option<Network> {
        let mut r = Reader::new(bytes.strip_prefix(b"HBNET001")?);
        let mut sizes = [0; 9];
        for size in &mut sizes {
            *size = r.u32()? as usize;
        }
        let [bands, attacks, patch, fold, fast, slow, taps, n_fast, n_slow] = sizes;
        if fold != FOLD || !bands.is_multiple_of(FOLD) || bands / FOLD > GROUPS {
            return None;
        }
        let fast_dilations = r.dilations(n_fast)?;
        let slow_dilations = r.dilations(n_slow)?;
        let values = bands + attacks;
        let mean = (0..values).map(|_| r.f32()).collect::<Option<_>>()?;
        let scale = (0..values).map(|_| r.f32()).collect::<Option<_>>()?;
        let kernels = (0..patch)
            .map(|_| {
                let mut kernel = [0.0; 9];
                for k in &mut kernel {
                    *k = r.f16()?;
                }
                Some(kernel)
            })
            .collect::<Option<_>>()?;
        let patch_bias = r.halves(patch)?;
        let network = Network {
            bands,
            mean,
            scale,
            patch: Patch { kernels, bias: patch_bias },
            dense: r.convolution(patch * (bands / FOLD) + attacks, fast, 3, 1)?,
            fast: r.blocks(fast, taps, &fast_dilations)?,
            down: r.convolution(fast, slow, 1, 1)?,
            slow: r.blocks(slow, taps, &slow_dilations)?,
            up: r.convolution(slow, fast, 1, 1)?,
            last: r.block(fast, taps, 1)?,
            head: r.convolution(fast, 2, 1, 1)?,
        };
        r.is_empty().then_some(network)
    }

    /// Features of each frame, which `features` writes, to probabilities of a beat and a downbeat.
    fn run(&self, frames: usize, features: impl Fn(usize, &mut [f32]) + Sync) -> Vec<[f32; 2]> {
        if self.mean.is_empty() {
            return vec![[0.0; 2]; frames];
        }
        // Whole slow frames: silence after the end.
        let whole = frames.next_multiple_of(POOL);
        let input = |frame: usize, values: &mut [f32]| {
            values.fill(0.0);
            if frame < frames {
                features(frame, values);
            }
            for ((value, mean), scale) in values.iter_mut().zip(&self.mean).zip(&self.scale) {
                *value = (*value - mean) * scale;
            }
        };
        let mut fast = Rows::new(whole, self.dense.outputs());
        fast.fill(|first, rows| {
            let seen = self.patches(first, rows.len() / self.dense.outputs(), whole, &input);
            self.dense.apply_from(&seen, 1, true, rows);
        });
        for block in &self.fast {
            fast = block.apply(&fast);
        }
        let mut slow = self.down.apply(&pooled(&fast));
        for block in &self.slow {
            slow = block.apply(&slow);
        }
        add_stretched(&self.up.apply(&slow), &mut fast);
        let out = self.head.apply(&self.last.apply(&fast));
        let sure = |logit: f32| 1.0 / (1.0 + (-logit).exp());
        (0..frames).map(|frame| [sure(out.row(frame)[0]), sure(out.row(frame)[1])]).collect()
    }

    /// The patch layer, the larger of each [`FOLD`] neighbouring bands, and the attack values beside it: for `count`
    /// frames of `whole` from `first` on, and one more before and after, so that row 0 is frame `first - 1`.
    fn patches(
        &self,
        first: usize,
        count: usize,
        whole: usize,
        input: &impl Fn(usize, &mut [f32]),
    ) -> Rows {
        let folded = self.bands / FOLD;
        let spectral = self.patch.kernels.len() * folded;
        let mut out = Rows::new(count + 2, spectral + self.mean.len() - self.bands);
        let width = out.row(0).len();
        // Two frames more than are made, because a patch reaches one to each side.
        let mut values = vec![0f32; self.mean.len()];
        let (mut seen, mut attacks) = (Vec::with_capacity(count + 4), Vec::new());
        for frame in 0..count + 4 {
            let mut bands: Folded = Default::default();
            if let Some(frame) = (first + frame).checked_sub(2).filter(|&frame| frame < whole) {
                input(frame, &mut values);
                for (group, four) in values[..self.bands].as_chunks::<FOLD>().0.iter().enumerate() {
                    for (row, value) in bands.iter_mut().zip(four) {
                        row[group + 1] = *value;
                    }
                }
            } else {
                values.fill(0.0);
            }
            seen.push(bands);
            attacks.extend_from_slice(&values[self.bands..]);
        }
        let per_frame = self.mean.len() - self.bands;
        let arch = crate::vector::arch();
        for (k, to) in out.inside().chunks_exact_mut(width).enumerate() {
            // Beyond the ends there are no frames, not even silent ones.
            if !(1..=whole).contains(&(first + k)) {
                continue;
            }
            let Some(three) = seen[k..].first_chunk::<3>() else { continue };
            arch.dispatch(ApplyPatch { patch: &self.patch, three, folded, out: to });
            to[spectral..].copy_from_slice(&attacks[(k + 1) * per_frame..][..per_frame]);
        }
        out
    }
}

struct ApplyPatch<'a> {
    patch: &'a Patch,
    three: &'a [Folded; 3],
    folded: usize,
    out: &'a mut [f32],
}

impl NullaryFnOnce for ApplyPatch<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.patch.apply(self.three, self.folded, self.out);
    }
}

impl Patch {
    /// The frame in the middle of three, all channels, `folded` values each.
    #[inline(always)]
    fn apply(&self, three: &[Folded; 3], folded: usize, out: &mut [f32]) {
        let channels = self.kernels.iter().zip(&self.bias).zip(out.chunks_exact_mut(folded));
        for ((kernel, &bias), out) in channels {
            let mut most = [0f32; GROUPS];
            for band in 0..FOLD {
                let mut sums = [bias; GROUPS];
                for (rows, k) in three.iter().zip(kernel.as_chunks::<3>().0) {
                    // The neighbour of the first of four bands is the last of the four before.
                    let (below, from) = if band > 0 { (band - 1, 1) } else { (FOLD - 1, 0) };
                    let (above, to) = if band + 1 < FOLD { (band + 1, 1) } else { (0, 2) };
                    let below = &rows[below][from..from + GROUPS];
                    let at = &rows[band][1..1 + GROUPS];
                    let above = &rows[above][to..to + GROUPS];
                    for (((sum, a), b), c) in sums.iter_mut().zip(below).zip(at).zip(above) {
                        *sum += k[0] * a + k[1] * b + k[2] * c;
                    }
                }
                most.iter_mut().zip(sums).for_each(|(most, sum)| *most = most.max(sum));
            }
            out.copy_from_slice(&most[..folded]);
        }
    }
}

/// Means of each [`POOL`] frames.
fn pooled(x: &Rows) -> Rows {
    let width = x.row(0).len();
    let mut out = Rows::new(x.frames() / POOL, width);
    for (k, to) in out.inside().chunks_exact_mut(width).enumerate() {
        for frame in k * POOL..(k + 1) * POOL {
            to.iter_mut().zip(x.row(frame)).for_each(|(to, x)| *to += x / POOL as f32);
        }
    }
    out
}

/// Adds the slow rate to the fast, in between by straight lines; what is below 0 then becomes 0. A slow frame's
/// middle lies between its second and third fast frame.
fn add_stretched(slow: &Rows, fast: &mut Rows) {
    let last = slow.frames().saturating_sub(1);
    let width = fast.row(0).len();
    for (frame, to) in fast.inside().chunks_exact_mut(width).enumerate() {
        let at = ((frame as f32 + 0.5) / POOL as f32 - 0.5).max(0.0);
        let before = (at as usize).min(last);
        let share = at - before as f32;
        let slow = slow.row(before).iter().zip(slow.row((before + 1).min(last)));
        for (to, (before, after)) in to.iter_mut().zip(slow) {
            *to = (*to + (1.0 - share) * before + share * after).max(0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Features and what PyTorch made of them, written by `training/export.py`.
    fn fixture() -> (Vec<Vec<f32>>, Vec<[f32; 2]>) {
        let mut r = Reader::new(include_bytes!("network_fixture.bin"));
        let frames = r.u32().unwrap();
        let mut read = |columns: usize| -> Vec<Vec<f32>> {
            let mut row = || (0..columns).map(|_| r.f32().unwrap()).collect();
            (0..frames).map(|_| row()).collect()
        };
        let features = read(NETWORK.mean.len());
        (features, read(2).into_iter().map(|row| [row[0], row[1]]).collect())
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
        let found =
            NETWORK.run(features.len(), |frame, values| values.copy_from_slice(&features[frame]));
        for column in 0..2 {
            let pairs = found.iter().zip(&wanted).map(|(f, w)| (f[column], w[column]));
            let worst = pairs.clone().fold(0f32, |worst, (f, w)| worst.max((f - w).abs()));
            assert!(worst < 1e-4, "off by {worst}");
            let most = pairs.fold(0f32, |most, (_, w)| most.max(w));
            assert!(most > 0.5, "the fixture holds beats and downbeats to find: {most}");
        }
    }

    #[test]
    fn context_covers_all_that_the_network_looks_at() {
        let reach = |blocks: &[Block]| -> usize { blocks.iter().map(|b| b.conv.reach()).sum() };
        let fast = 1 + 1 + reach(&NETWORK.fast) + 2;
        let slow = reach(&NETWORK.slow) + 2;
        assert!(fast + POOL * slow <= CONTEXT, "{fast} + {POOL} x {slow}");
        assert_eq!(CONTEXT % POOL, 0);
    }

    #[test]
    fn nothing_in_nothing_out() {
        assert_eq!(NETWORK.run(0, |_, _| {}).len(), 0);
    }
}
