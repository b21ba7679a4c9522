//! The networks that hear phrases, trained in `training/`: two of one shape, each with its own mistakes, whose mean errs less.
//!
//! Convolutions over beats, and attention (Vaswani et al., 2017, *Attention is all you need*), by which a beat
//! learns what stands at its likes elsewhere in the song. Weights are half floats in `weights.bin`; the
//! format is written down in `training/export_form.py`. Arithmetic is in `f32` and in a fixed order, so the same
//! beats give the same on one core or many.

use std::sync::LazyLock;

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::inputs::N_INPUTS;
use crate::rhythm::convolve::{Block, Convolution, Rows};
use crate::rhythm::weights::Reader;

static WEIGHTS: &[u8] = include_bytes!("weights.bin");

/// The trained networks. The bytes are part of the program and tested, so reading them does not fail.
static NETWORKS: LazyLock<Vec<Network>> =
    LazyLock::new(|| Network::read_all(WEIGHTS).unwrap_or_default());
/// How many there are.
const N_NETWORKS: usize = 2;

/// Sorts of phrase: not counted, intro, verse, pre-chorus, chorus, bridge, instrumental, break, ending, part of a tune.
pub const SORTS: usize = 10;
/// Values of one network's direction.
const OF_ONE: usize = 16;
/// Values of a direction: those of all networks side by side.
pub const DIRECTION: usize = N_NETWORKS * OF_ONE;
/// Beats to either side that attention leaves out: a beat's likes are elsewhere.
const NEAR: usize = 2;
/// Beats to either side of those that attend together beyond which it does not look: a longer recording is no one song.
const FAR: usize = 1024;
/// Values of one head of attention.
const HEAD: usize = 24;
/// Beats that are worked on in one piece of work for one core: a multiple of those that attend together.
const PIECE: usize = 64;
/// Beats that attend together: their values fill a vector of the widest kind.
const TOGETHER: usize = 16;
/// Keys that are compared at once: their sums stay in registers.
const KEYS: usize = 8;
/// Values of a head that are summed at once: as many as stay in registers.
const SUMS: usize = 12;

/// What is heard of each beat.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Heard {
    /// Log odds that a phrase starts on it. Shape `[n_beats]`.
    pub starts: Vec<f32>,
    /// Log probability of each sort of phrase that it may lie in. Shape `[n_beats]`.
    pub sorts: Vec<[f32; SORTS]>,
    /// Log probability that the wait is over on it, which adds up to 1 over the song. Shape `[n_beats]`.
    pub first_steps: Vec<f32>,
    /// Unit vectors, close for beats at the same place of the same music. Shape `[n_beats]`.
    pub directions: Vec<[f32; DIRECTION]>,
}

/// Hears each beat from its inputs.
pub fn hear(inputs: &[[f32; N_INPUTS]]) -> Heard {
    let opinions: Vec<Opinion> = NETWORKS.par_iter().map(|network| network.run(inputs)).collect();
    let share = 1.0 / opinions.len().max(1) as f32;
    let mut heard = Heard { first_steps: first_steps(&opinions, inputs.len()), ..Heard::default() };
    for beat in 0..inputs.len() {
        let mut start = 0.0;
        let mut sorts = [0f32; SORTS];
        let mut direction = [0.0; DIRECTION];
        for (opinion, direction) in opinions.iter().zip(direction.chunks_exact_mut(OF_ONE)) {
            let row = opinion.row(beat);
            start += share * row[0];
            let shares = log_shares(&row[1..=SORTS]);
            sorts.iter_mut().zip(shares).for_each(|(sum, log)| *sum += share * log.exp());
            direction.copy_from_slice(&row[BEFORE_DIRECTION..BEFORE_DIRECTION + OF_ONE]);
            make_long(direction, share.sqrt());
        }
        heard.starts.push(start);
        heard.sorts.push(sorts.map(f32::ln));
        heard.directions.push(direction);
    }
    heard
}

/// One network's outputs for each beat: log odds of a start, logits of the sorts and of the first step, a direction.
type Opinion = Rows;
/// Where the logit of the first step stands among them.
const FIRST_STEP: usize = 1 + SORTS;
/// Outputs in front of the direction.
const BEFORE_DIRECTION: usize = FIRST_STEP + 1;

/// Logs of the mean probabilities that the wait is over on each beat.
fn first_steps(opinions: &[Opinion], n: usize) -> Vec<f32> {
    let mut shares = vec![0f32; n];
    for opinion in opinions {
        let logits = (0..n).map(|beat| opinion.row(beat)[FIRST_STEP]);
        let all = log_sum(logits.clone()) + (opinions.len() as f32).ln();
        shares.iter_mut().zip(logits).for_each(|(sum, logit)| *sum += (logit - all).exp());
    }
    shares.into_iter().map(|share| share.max(f32::MIN_POSITIVE).ln()).collect()
}

struct Network {
    mean: Vec<f32>,
    scale: Vec<f32>,
    stem: Convolution,
    layers: Vec<Layer>,
    head: Convolution,
}

enum Layer {
    Block(Block),
    Attention(Attention),
}

/// `x + out(attention(queries, keys, values))`
struct Attention {
    heads: usize,
    queries: Convolution,
    keys: Convolution,
    values: Convolution,
    out: Convolution,
}

impl Network {
    /// Reads `weights.bin`; `None` where the bytes are not whole networks of this form, as many as there are.
    fn read_all(bytes: &[u8]) -> Option<Vec<Network>> {
        let mut r = Reader::new(bytes.strip_prefix(b"HBFORM03")?);
        let networks = (0..N_NETWORKS).map(|_| Network::read(&mut r)).collect::<Option<_>>()?;
        r.is_empty().then_some(networks)
    }

    fn read(r: &mut Reader) -> Option<Network> {
        let mut sizes = [0; 8];
        for size in &mut sizes {
            *size = r.u32()? as usize;
        }
        let [inputs, width, taps, heads, of_head, sorts, direction, n_layers] = sizes;
        if (inputs, sorts, direction, of_head) != (N_INPUTS, SORTS, OF_ONE, HEAD) {
            return None;
        }
        let plan = r.dilations(n_layers)?;
        let mean = (0..inputs).map(|_| r.f32()).collect::<Option<_>>()?;
        let scale = (0..inputs).map(|_| r.f32()).collect::<Option<_>>()?;
        let stem = r.convolution(inputs, width, taps, 1)?;
        let mut layers = Vec::with_capacity(n_layers);
        for dilation in plan {
            layers.push(match dilation {
                0 => Layer::Attention(Attention {
                    heads,
                    queries: r.convolution(width, heads * HEAD, 1, 1)?,
                    keys: r.convolution(width, heads * HEAD, 1, 1)?,
                    values: r.convolution(width, heads * HEAD, 1, 1)?,
                    out: r.convolution(heads * HEAD, width, 1, 1)?,
                }),
                _ => Layer::Block(r.block(width, taps, dilation)?),
            });
        }
        let head = r.convolution(width, BEFORE_DIRECTION + OF_ONE, 1, 1)?;
        Some(Network { mean, scale, stem, layers, head })
    }

    fn run(&self, inputs: &[[f32; N_INPUTS]]) -> Opinion {
        let mut x = Rows::new(inputs.len(), N_INPUTS);
        for (to, row) in x.inside().chunks_exact_mut(N_INPUTS).zip(inputs) {
            let centred = row.iter().zip(&self.mean).zip(&self.scale);
            to.iter_mut()
                .zip(centred)
                .for_each(|(to, ((x, mean), scale))| *to = (x - mean) * scale);
        }
        let mut seen = Rows::new(inputs.len(), self.stem.outputs());
        seen.fill(|first, rows| self.stem.apply_from(&x, first, true, rows));
        for layer in &self.layers {
            seen = match layer {
                Layer::Block(block) => block.apply(&seen),
                Layer::Attention(attention) => attention.apply(&seen),
            };
        }
        self.head.apply(&seen)
    }
}

impl Attention {
    fn apply(&self, x: &Rows) -> Rows {
        let (queries, keys, values) =
            (self.queries.apply(x), self.keys.apply(x), self.values.apply(x));
        let n = x.frames();
        let width = self.queries.outputs();
        // All rows of a head one after another.
        let by_head = |rows: &Rows| {
            let mut by_head = vec![[0f32; HEAD]; n * self.heads];
            for beat in 0..n {
                for (head, row) in rows.row(beat).as_chunks::<HEAD>().0.iter().enumerate() {
                    by_head[head * n + beat] = *row;
                }
            }
            by_head
        };
        let (queries, keys, values) = (by_head(&queries), by_head(&keys), by_head(&values));
        let attend = |piece: usize, rows: &mut [f32]| {
            let mut weights = vec![[0f32; TOGETHER]; n];
            for (k, rows) in rows.chunks_mut(TOGETHER * width).enumerate() {
                let first = piece * PIECE + k * TOGETHER;
                for head in 0..self.heads {
                    let of_head = head * n..(head + 1) * n;
                    // The widest vectors that there are, as for convolutions.
                    let mixed = Arch::new().dispatch(Attend {
                        queries: &queries[of_head.clone()],
                        keys: &keys[of_head.clone()],
                        values: &values[of_head],
                        first,
                        weights: &mut weights,
                    });
                    for (beat, row) in rows.chunks_exact_mut(width).enumerate() {
                        let to = row.as_chunks_mut::<HEAD>().0;
                        to[head] = std::array::from_fn(|value| mixed[value][beat]);
                    }
                }
            }
        };
        let mut mixed = Rows::new(n, width);
        let pieces = mixed.inside().par_chunks_mut(PIECE * width.max(1)).enumerate();
        pieces.for_each(|(piece, rows)| attend(piece, rows));
        let mut out = Rows::new(n, self.out.outputs());
        out.fill(|first, rows| self.out.apply_from(&mixed, first, false, rows));
        let outputs = self.out.outputs();
        for (beat, to) in out.inside().chunks_exact_mut(outputs).enumerate() {
            to.iter_mut().zip(x.row(beat)).for_each(|(to, x)| *to += x);
        }
        out
    }
}

/// Attention of some beats, of one head. Its rows have one beat of them to a column.
struct Attend<'a> {
    queries: &'a [[f32; HEAD]],
    keys: &'a [[f32; HEAD]],
    values: &'a [[f32; HEAD]],
    /// The first of the beats.
    first: usize,
    weights: &'a mut [[f32; TOGETHER]],
}

impl WithSimd for Attend<'_> {
    type Output = [[f32; TOGETHER]; HEAD];

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        let Attend { queries, keys, values, first, weights } = self;
        let n = keys.len();
        let beats: [usize; TOGETHER] = std::array::from_fn(|k| (first + k).min(n - 1));
        let seen = first.saturating_sub(FAR)..(first + TOGETHER + FAR).min(n);
        let (keys, values) = (&keys[seen.clone()], &values[seen.clone()]);
        let weights = &mut weights[seen.clone()];
        let mut query = [[0f32; TOGETHER]; HEAD];
        for (k, &beat) in beats.iter().enumerate() {
            query.iter_mut().zip(&queries[beat]).for_each(|(row, &q)| row[k] = q);
        }
        score(simd, &query, keys, weights);
        for (k, &beat) in beats.iter().enumerate() {
            let near = beat.saturating_sub(NEAR)..(beat + NEAR + 1).min(n);
            near.for_each(|key| weights[key - seen.start][k] = f32::NEG_INFINITY);
        }
        let mut most = [f32::NEG_INFINITY; TOGETHER];
        for row in &*weights {
            each(simd, &mut most, row, |most, x| simd.max_f32s(most, x));
        }
        // All the beats that there are lie near this one: it attends to none.
        let alone = most.map(|most| most == f32::NEG_INFINITY);
        most.iter_mut().zip(alone).filter(|(_, alone)| *alone).for_each(|(most, _)| *most = 0.0);
        for row in weights.iter_mut() {
            each(simd, row, &most, |x, most| simd.sub_f32s(x, most));
        }
        let flat = weights.as_flattened_mut();
        flat.iter_mut().for_each(|weight| *weight = exp_of_negative(*weight));
        let mut all = [0f32; TOGETHER];
        for row in &*weights {
            each(simd, &mut all, row, |all, x| simd.add_f32s(all, x));
        }
        let mut mixed = [[0f32; TOGETHER]; HEAD];
        for (part, mixed) in mixed.as_chunks_mut::<SUMS>().0.iter_mut().enumerate() {
            mix(simd, weights, values, part * SUMS, mixed);
        }
        for row in &mut mixed {
            each(simd, row, &all, |x, all| simd.div_f32s(x, all));
            row.iter_mut().zip(alone).filter(|(_, alone)| *alone).for_each(|(x, _)| *x = 0.0);
        }
        mixed
    }
}

/// `a = op(a, b)`, a vector at a time.
#[inline(always)]
fn each<S: Simd>(
    _: S,
    a: &mut [f32; TOGETHER],
    b: &[f32; TOGETHER],
    op: impl Fn(S::f32s, S::f32s) -> S::f32s,
) {
    let (a, b) = (S::as_mut_simd_f32s(a).0, S::as_simd_f32s(b).0);
    a.iter_mut().zip(b).for_each(|(a, b)| *a = op(*a, *b));
}

/// Products of some beats' queries with all keys.
#[inline(always)]
fn score<S: Simd>(
    simd: S,
    query: &[[f32; TOGETHER]; HEAD],
    keys: &[[f32; HEAD]],
    scores: &mut [[f32; TOGETHER]],
) {
    let (some, rest) = keys.as_chunks::<KEYS>();
    let (scores, last) = scores.as_chunks_mut::<KEYS>();
    for (keys, scores) in some.iter().zip(scores) {
        score_some(simd, query, keys, scores);
    }
    for (key, score) in rest.iter().zip(last) {
        score_some(simd, query, std::array::from_ref(key), std::array::from_mut(score));
    }
}

/// The same with `N` keys.
#[inline(always)]
fn score_some<S: Simd, const N: usize>(
    simd: S,
    query: &[[f32; TOGETHER]; HEAD],
    keys: &[[f32; HEAD]; N],
    scores: &mut [[f32; TOGETHER]; N],
) {
    for part in 0..TOGETHER / S::F32_LANES {
        let mut sums = [simd.splat_f32s(0.0); N];
        for (value, query) in query.iter().enumerate() {
            let query = S::as_simd_f32s(query).0[part];
            for (sum, key) in sums.iter_mut().zip(keys) {
                *sum = simd.mul_add_e_f32s(query, simd.splat_f32s(key[value]), *sum);
            }
        }
        for (score, sum) in scores.iter_mut().zip(&sums) {
            S::as_mut_simd_f32s(score).0[part] = *sum;
        }
    }
}

/// Values from `from` on, summed by some beats' weights.
#[inline(always)]
fn mix<S: Simd>(
    simd: S,
    weights: &[[f32; TOGETHER]],
    values: &[[f32; HEAD]],
    from: usize,
    mixed: &mut [[f32; TOGETHER]; SUMS],
) {
    for part in 0..TOGETHER / S::F32_LANES {
        let mut sums = [simd.splat_f32s(0.0); SUMS];
        for (weights, values) in weights.iter().zip(values) {
            let weight = S::as_simd_f32s(weights).0[part];
            for (sum, value) in sums.iter_mut().zip(&values[from..from + SUMS]) {
                *sum = simd.mul_add_e_f32s(weight, simd.splat_f32s(*value), *sum);
            }
        }
        for (row, sum) in mixed.iter_mut().zip(&sums) {
            S::as_mut_simd_f32s(row).0[part] = *sum;
        }
    }
}

/// `e^x` for `x` up to 0, within a few parts in a million; in plain arithmetic, so that many are worked out at once. No
/// less than 2^-40, which adds nothing: numbers near the least there are would be slow.
#[inline(always)]
fn exp_of_negative(x: f32) -> f32 {
    /// Added to a small number, this leaves its nearest whole number in the last bits.
    const WHOLE: f32 = 12_582_912.0;
    // 2^whole * 2^part: the first by its exponent, the second by its series in part * ln 2, to the sixth power.
    let by_two = (x * std::f32::consts::LOG2_E).max(-40.0);
    let shifted = by_two + WHOLE;
    let t = (by_two - (shifted - WHOLE)) * std::f32::consts::LN_2;
    let part = 1.0
        + t * (1.0
            + t * (1.0 / 2.0
                + t * (1.0 / 6.0 + t * (1.0 / 24.0 + t * (1.0 / 120.0 + t * (1.0 / 720.0))))));
    let whole = shifted.to_bits().wrapping_sub(WHOLE.to_bits());
    part * f32::from_bits(whole.wrapping_add(127) << 23)
}

/// The logarithm of the sum of what the logits stand for.
fn log_sum(logits: impl Iterator<Item = f32> + Clone) -> f32 {
    let most = logits.clone().fold(f32::NEG_INFINITY, f32::max);
    most + logits.map(|x| (x - most).exp()).sum::<f32>().ln()
}

fn log_shares(logits: &[f32]) -> [f32; SORTS] {
    let all = log_sum(logits.iter().copied());
    std::array::from_fn(|sort| logits.get(sort).map_or(f32::NEG_INFINITY, |x| x - all))
}

/// Makes a vector `length` long.
fn make_long(values: &mut [f32], length: f32) {
    let norm = values.iter().map(|x| x * x).sum::<f32>().sqrt().max(1e-6);
    values.iter_mut().for_each(|x| *x *= length / norm);
}

#[cfg(test)]
mod tests {
    use super::*;

    static FIXTURE: &[u8] = include_bytes!("network_fixture.bin");

    #[test]
    fn it_hears_what_pytorch_hears() {
        let (n, rest) = FIXTURE.split_first_chunk().unwrap();
        let n = u32::from_le_bytes(*n) as usize;
        let values: Vec<f32> =
            rest.as_chunks::<4>().0.iter().map(|word| f32::from_le_bytes(*word)).collect();
        let (inputs, wanted) = values.split_at(n * N_INPUTS);
        let heard = hear(inputs.as_chunks::<N_INPUTS>().0);
        for (beat, wanted) in wanted.chunks_exact(BEFORE_DIRECTION + DIRECTION).enumerate() {
            let found = std::iter::once(&heard.starts[beat])
                .chain(&heard.sorts[beat])
                .chain(std::iter::once(&heard.first_steps[beat]))
                .chain(&heard.directions[beat]);
            for (k, (found, wanted)) in found.zip(wanted).enumerate() {
                let within = 1e-3 * wanted.abs().max(1.0);
                assert!((found - wanted).abs() < within, "{beat} {k}: {found}, not {wanted}");
            }
        }
    }

    #[test]
    fn the_exponential_is_one() {
        for x in [0.0f32, -0.1, -1.0, -3.3, -20.0, -27.0] {
            let wanted = f64::from(x).exp();
            assert!((f64::from(exp_of_negative(x)) / wanted - 1.0).abs() < 2e-5, "{x}");
        }
        assert!(exp_of_negative(f32::NEG_INFINITY) < 1e-12);
    }

    #[test]
    fn a_few_beats_or_none_do_no_harm() {
        for n in [0, 1, 3, 4, 5, 7, 16, 17] {
            let heard = hear(&vec![[0.1; N_INPUTS]; n]);
            let lengths = [heard.sorts.len(), heard.first_steps.len(), heard.directions.len()];
            assert_eq!((heard.starts.len(), lengths), (n, [n; 3]));
            assert!(heard.starts.iter().all(|x| x.is_finite()), "{n}");
            assert!(heard.directions.iter().flatten().all(|x| x.is_finite()), "{n}");
        }
    }
}
