//! The likeliest way of a new cut through the counts of an old one.

use super::likeness::Likeness;

/// What jumps cost, in nats.
const JUMP: f32 = 8.0;
/// What going back costs more.
const BACK: f32 = 1.0;
/// A beat heard twice or not at all.
pub(super) const SLIP: f32 = 6.0;
/// To leave for what is new, and to come back.
const TO_NEW: f32 = 5.0;
const FROM_NEW: f32 = 5.0;
/// To land where no phrase starts, to leave where none ends, and to land at another place in the bar.
const OFF_START: f32 = 2.5;
const OFF_END: f32 = 1.5;
const OFF_BAR: f32 = 1.0;
/// To begin at the beginning, at another phrase, with what is new.
const BEGIN: [f32; 3] = [1.0, 3.0, 2.0];

/// What is known of the counts of both cuts beside their sound.
#[derive(Debug, Clone)]
pub struct Shape {
    /// Whether a phrase starts on each old count.
    pub starts: Vec<bool>,
    /// Place in the bar of each old count, 1-based.
    pub old_bar: Vec<u32>,
    /// Place in the bar of each new count, 1-based.
    pub new_bar: Vec<u32>,
}

/// Which old count each new count is.
#[derive(Debug, Clone)]
pub struct Path {
    /// For each new count, the index of the old count; `None` where it is new.
    pub old: Vec<Option<usize>>,
    /// Log likelihood of the whole way over that of being all new, nats.
    pub score: f32,
}

impl Path {
    /// Each new count that is an old one, with that.
    pub fn pairs(&self) -> impl Iterator<Item = (usize, usize)> + Clone {
        self.old.iter().enumerate().filter_map(|(new, old)| Some((new, (*old)?)))
    }
}

impl Shape {
    fn landing(&self, new: usize, old: usize) -> f32 {
        let start = if self.starts[old] { 0.0 } else { OFF_START };
        let bar = if self.old_bar[old] == self.new_bar[new] { 0.0 } else { OFF_BAR };
        -start - bar
    }

    fn leaving(&self, old: usize) -> f32 {
        match self.starts.get(old + 1) {
            Some(false) => -OFF_END,
            _ => 0.0,
        }
    }

    fn begin(&self, new: usize, old: usize) -> f32 {
        match old {
            0 => -BEGIN[0],
            _ => -BEGIN[1] + self.landing(new, old),
        }
    }
}

/// Where a state was come from: an old count, or one past the last for what is new.
type From = u32;

/// The likeliest path (Viterbi). Every jump is weighed: the best place to leave before and behind each count is
/// found once for all, so that the work is counts times counts.
pub fn likeliest(likeness: &Likeness, shape: &Shape) -> Path {
    let (n, m) = (likeness.n_old, likeness.n_new);
    if n == 0 || m == 0 {
        return Path { old: vec![None; m], score: 0.0 };
    }
    let new_state = n;
    let mut score: Vec<f32> = (0..n).map(|i| shape.begin(0, i) + likeness.news(0, i)).collect();
    score.push(-BEGIN[2]);
    let mut came: Vec<From> = vec![0; m * (n + 1)];
    let mut next = vec![0f32; n + 1];
    let mut behind = vec![(f32::NEG_INFINITY, 0u32); n + 1];
    for j in 1..m {
        // Best place to leave at or behind each count.
        for i in (0..n).rev() {
            let here = (score[i] + shape.leaving(i) - BACK, i as u32);
            behind[i] = if here.0 > behind[i + 1].0 { here } else { behind[i + 1] };
        }
        let mut before = (f32::NEG_INFINITY, 0u32);
        let row = &mut came[j * (n + 1)..(j + 1) * (n + 1)];
        for i in 0..n {
            let mut best = (score[new_state] - FROM_NEW, new_state as u32);
            let mut consider = |value: f32, from: u32| {
                if value > best.0 {
                    best = (value, from);
                }
            };
            consider(before.0 - JUMP, before.1);
            consider(behind[i].0 - JUMP, behind[i].1);
            best.0 += shape.landing(j, i);
            let mut step = |value: f32, from: u32| {
                if value > best.0 {
                    best = (value, from);
                }
            };
            step(score[i] - SLIP, i as u32);
            if i >= 1 {
                step(score[i - 1], i as u32 - 1);
            }
            if i >= 2 {
                step(score[i - 2] - SLIP, i as u32 - 2);
            }
            next[i] = best.0 + likeness.news(j, i);
            row[i] = best.1;
            let leave = score[i] + shape.leaving(i);
            if leave > before.0 {
                before = (leave, i as u32);
            }
        }
        let stay = (score[new_state], new_state as u32);
        let go = (before.0 - TO_NEW, before.1);
        let best = if go.0 > stay.0 { go } else { stay };
        (next[new_state], row[new_state]) = best;
        std::mem::swap(&mut score, &mut next);
    }
    let end = (0..=n).max_by(|&a, &b| score[a].total_cmp(&score[b])).unwrap_or(new_state);
    let mut old = vec![None; m];
    let mut state = end;
    for j in (0..m).rev() {
        old[j] = (state < n).then_some(state);
        if j > 0 {
            state = came[j * (n + 1) + state] as usize;
        }
    }
    Path { old, score: score[end] }
}

/// How likely each new count is each old one, by the same model summed over all ways (forward and backward).
pub(super) struct Posterior {
    /// Shape `[n_new, n_old + 1]`, the last of each row for "new".
    likely: Vec<f32>,
    width: usize,
}

impl Posterior {
    pub(super) fn new(likeness: &Likeness, shape: &Shape) -> Posterior {
        let width = likeness.n_old + 1;
        let mut likely = vec![0f32; likeness.n_new * width];
        each_posterior(likeness, shape, &mut |j, row| {
            likely[j * width..(j + 1) * width].copy_from_slice(row);
        });
        Posterior { likely, width }
    }

    /// Of each new count.
    pub(super) fn rows(&self) -> impl Iterator<Item = &[f32]> {
        self.likely.chunks_exact(self.width)
    }
}

/// Row by row, last new count first.
fn each_posterior(likeness: &Likeness, shape: &Shape, each: &mut dyn FnMut(usize, &[f32])) {
    let (n, m) = (likeness.n_old, likeness.n_new);
    if n == 0 || m == 0 {
        return;
    }
    let weight = |nats: f32| f64::from(nats).exp();
    let (jump, back, slip) = (weight(-JUMP), weight(-JUMP - BACK), weight(-SLIP));
    let (to_new, from_new) = (weight(-TO_NEW), weight(-FROM_NEW));
    let leaving: Vec<f64> = (0..n).map(|i| weight(shape.leaving(i))).collect();
    let landing = |j: usize, i: usize| weight(shape.landing(j, i));
    let news = |j: usize, i: usize| weight(likeness.news(j, i));
    let mut forward = vec![0f32; m * (n + 1)];
    let mut now: Vec<f64> = (0..n).map(|i| weight(shape.begin(0, i)) * news(0, i)).collect();
    now.push(weight(-BEGIN[2]));
    let scale = |row: &mut [f64]| {
        let sum: f64 = row.iter().sum();
        row.iter_mut().for_each(|x| *x /= sum.max(1e-300));
    };
    let keep = |all: &mut [f32], j: usize, row: &[f64]| {
        all[j * (n + 1)..(j + 1) * (n + 1)].iter_mut().zip(row).for_each(|(a, b)| *a = *b as f32);
    };
    scale(&mut now);
    keep(&mut forward, 0, &now);
    let mut next = vec![0f64; n + 1];
    for j in 1..m {
        let total: f64 = (0..n).map(|i| now[i] * leaving[i]).sum();
        let mut before = 0.0;
        for i in 0..n {
            let behind = total - before;
            let jumped = before * jump + behind * back + now[n] * from_new;
            let mut sum = jumped * landing(j, i) + now[i] * slip;
            if i >= 1 {
                sum += now[i - 1];
            }
            if i >= 2 {
                sum += now[i - 2] * slip;
            }
            next[i] = sum * news(j, i);
            before += now[i] * leaving[i];
        }
        next[n] = now[n] + total * to_new;
        scale(&mut next);
        keep(&mut forward, j, &next);
        std::mem::swap(&mut now, &mut next);
    }
    let mut later = vec![1f64; n + 1];
    let mut row = vec![0f32; n + 1];
    for j in (0..m).rev() {
        let here = &forward[j * (n + 1)..(j + 1) * (n + 1)];
        row.iter_mut()
            .zip(here)
            .zip(&later)
            .for_each(|((p, a), b)| *p = (f64::from(*a) * b) as f32);
        let sum: f32 = row.iter().sum();
        row.iter_mut().for_each(|p| *p /= sum.max(1e-30));
        each(j, &row);
        if j == 0 {
            break;
        }
        // What follows each state at j - 1.
        let arrive: Vec<f64> = (0..n).map(|i| later[i] * news(j, i)).collect();
        let landed: Vec<f64> = (0..n).map(|i| arrive[i] * landing(j, i)).collect();
        let all: f64 = landed.iter().sum();
        let mut up_to = 0.0; // landed at or before this count
        let mut earlier = vec![0f64; n + 1];
        for i in 0..n {
            up_to += landed[i];
            let ahead = all - up_to;
            let mut sum = leaving[i] * (ahead * jump + up_to * back + to_new * later[n]);
            sum += arrive[i] * slip;
            if i + 1 < n {
                sum += arrive[i + 1];
            }
            if i + 2 < n {
                sum += arrive[i + 2] * slip;
            }
            earlier[i] = sum;
        }
        earlier[n] = later[n] + from_new * all;
        scale(&mut earlier);
        later = earlier;
    }
}
