//! How likely a count of one recording is the same moment as a count of another.

use super::evened::evened;
use crate::song::form::{BeatSounds, PITCHES};

/// Shares of harmony, timbre, rhythm and loudness in a likeness.
const SHARES: [f32; 4] = [0.55, 0.15, 0.2, 0.1];
/// Least distance that same moments stand out from others, in standard deviations of the others.
const LEAST_APART: f32 = 1.2;
/// Neighbouring counts are alike whether they match or not, so each tells less than it would alone.
const OWN_NEWS: f32 = 0.5;
/// Most that one count may say for or against.
const MOST_NEWS: f32 = 2.5;
/// A count sounds where this share of it does: a plucked string is soon over.
const SOUNDING: f32 = 0.1;
/// Counts over which keys are compared.
const KEY_COUNTS: usize = 16;
/// One in so many counts at least is of the song.
const KEY_PART: usize = 4;

/// Log likelihood ratios of "the same moment" against "two places of these recordings".
#[derive(Debug, Clone)]
pub struct Likeness {
    /// Old counts.
    pub n_old: usize,
    /// New counts.
    pub n_new: usize,
    /// Shape `[n_new, n_old]`.
    news: Vec<f32>,
    /// How far each pair stands out from other pairs, standard deviations. Shape `[n_new, n_old]`.
    standing: Vec<f32>,
    /// Whether anything sounds on each old count, and on each new one.
    old_sounds: Vec<bool>,
    new_sounds: Vec<bool>,
    /// Semitones by which the new recording is higher, -5 to 6.
    pub semitones: i32,
}

impl Likeness {
    /// Compares every count of two recordings, in each of the keys in which they agree best; the best first.
    pub fn in_likely_keys(old: &BeatSounds, new: &BeatSounds, keys: usize) -> Vec<Likeness> {
        let (old, new) = (Described::new(old, None), Described::new(new, None));
        let likely = likely_keys(&old, &new).into_iter().take(keys);
        likely.map(|semitones| Likeness::of(&old, &new, semitones)).collect()
    }

    /// The same in one key.
    pub fn in_key(old: &BeatSounds, new: &BeatSounds, semitones: i32) -> Likeness {
        Likeness::of(&Described::new(old, None), &Described::new(new, None), semitones)
    }

    /// The same in one key, where what the counts of a recording have in common is taken from those that are found in
    /// the other alone.
    pub fn where_they_meet(
        (old, of_old): (&BeatSounds, &[bool]),
        (new, of_new): (&BeatSounds, &[bool]),
        semitones: i32,
    ) -> Likeness {
        let (old, new) = (Described::new(old, Some(of_old)), Described::new(new, Some(of_new)));
        Likeness::of(&old, &new, semitones)
    }

    /// The same by harmony alone.
    pub fn of_harmony(old: &BeatSounds, new: &BeatSounds, semitones: i32) -> Likeness {
        let (old, new) = (Described::new(old, None), Described::new(new, None));
        Likeness::by(&old, &new, semitones, [1.0, 0.0, 0.0, 0.0])
    }

    fn of(old: &Described, new: &Described, semitones: i32) -> Likeness {
        Likeness::by(old, new, semitones, SHARES)
    }

    fn by(old: &Described, new: &Described, semitones: i32, shares: [f32; 4]) -> Likeness {
        let (n_old, n_new) = (old.len(), new.len());
        let mut standing = vec![0f32; n_new * n_old];
        let [harmony, timbre, rhythm] =
            [&old.harmony, &old.timbre, &old.rhythm].map(|rows| columns(rows));
        let loudness = [old.loudness.clone()];
        for (j, row) in standing.chunks_exact_mut(n_old.max(1)).enumerate() {
            add_products(row, &harmony, &turned(&new.harmony[j], semitones), shares[0]);
            add_products(row, &timbre, &new.timbre[j], shares[1]);
            add_products(row, &rhythm, &new.rhythm[j], shares[2]);
            add_products(row, &loudness, &[new.loudness[j]], shares[3]);
        }
        centre(&mut standing, n_old);
        let mut likeness = Likeness {
            n_old,
            n_new,
            news: vec![0.0; standing.len()],
            standing,
            old_sounds: old.sounds.clone(),
            new_sounds: new.sounds.clone(),
            semitones,
        };
        likeness.weigh(2.5);
        likeness
    }

    /// The new recording with its counts in another order: as like the old one in all but that.
    pub fn reordered(&self, order: &[usize]) -> Likeness {
        let row = |pairs: &[f32], j: usize| pairs[j * self.n_old..(j + 1) * self.n_old].to_vec();
        let moved = |pairs: &[f32]| order.iter().flat_map(|&j| row(pairs, j)).collect();
        Likeness {
            n_new: order.len(),
            news: moved(&self.news),
            standing: moved(&self.standing),
            new_sounds: order.iter().map(|&j| self.new_sounds[j]).collect(),
            ..self.clone()
        }
    }

    /// Log likelihood ratio of a pair, in nats.
    pub fn news(&self, new: usize, old: usize) -> f32 {
        self.news[new * self.n_old + old]
    }

    /// How far a pair stands out from other pairs, in their standard deviations.
    pub fn standing(&self, new: usize, old: usize) -> f32 {
        self.standing[new * self.n_old + old]
    }

    /// Weighs all pairs, where same moments stand out by `apart` standard deviations in the mean.
    pub fn weigh(&mut self, apart: f32) {
        let apart = apart.max(LEAST_APART);
        for (j, row) in self.news.chunks_exact_mut(self.n_old.max(1)).enumerate() {
            for (i, news) in row.iter_mut().enumerate() {
                let standing = self.standing[j * self.n_old + i];
                let nats = OWN_NEWS * apart * (standing - apart / 2.0);
                // Silence is like silence.
                let most = if self.old_sounds[i] || self.new_sounds[j] { MOST_NEWS } else { 0.0 };
                *news = nats.clamp(-MOST_NEWS, most);
            }
        }
    }
}

/// Counts as directions: each group of numbers without what all counts of the recording have in common, at
/// unit length, so that equalisation, level and the general sound of a recording drop out.
struct Described {
    harmony: Vec<Vec<f32>>,
    timbre: Vec<Vec<f32>>,
    rhythm: Vec<Vec<f32>>,
    loudness: Vec<f32>,
    /// Whether anything sounds.
    sounds: Vec<bool>,
}

impl Described {
    /// `usual` are the counts that say what is usual; left out, all do.
    fn new(sounds: &BeatSounds, usual: Option<&[bool]>) -> Described {
        let loudness: Vec<Vec<f32>> = sounds.loudness.iter().map(|x| vec![*x]).collect();
        Described {
            harmony: directions(of_harmony(sounds, usual)),
            timbre: directions(scaled(sounds.timbre.iter().map(|v| v.to_vec()).collect(), usual)),
            rhythm: directions(scaled(sounds.rhythm.iter().map(|v| v.to_vec()).collect(), usual)),
            loudness: scaled(loudness, usual)
                .into_iter()
                .map(|v| v[0].clamp(-2.0, 2.0) / 2.0)
                .collect(),
            sounds: sounds.sounding.iter().map(|share| *share >= SOUNDING).collect(),
        }
    }

    fn len(&self) -> usize {
        self.harmony.len()
    }
}

fn of_harmony(sounds: &BeatSounds, usual: Option<&[bool]>) -> Vec<Vec<f32>> {
    let rows = centred(sounds.harmony.iter().map(|v| v.to_vec()).collect(), usual);
    let rows: Vec<[f32; PITCHES]> = rows.iter().map(|v| std::array::from_fn(|k| v[k])).collect();
    let evened = evened(&rows, |i| usual.is_none_or(|usual| usual[i]));
    evened.into_iter().map(|v| v.to_vec()).collect()
}

fn directions(mut rows: Vec<Vec<f32>>) -> Vec<Vec<f32>> {
    for row in &mut rows {
        let length = row.iter().map(|x| x * x).sum::<f32>().sqrt();
        if length > 1e-6 {
            row.iter_mut().for_each(|x| *x /= length);
        }
    }
    rows
}

/// Mean over the usual counts of what `value` says of each row.
fn mean(rows: &[Vec<f32>], usual: Option<&[bool]>, value: impl Fn(&[f32]) -> f32) -> f32 {
    let is_usual = |i: &usize| usual.is_none_or(|usual| usual[*i]);
    let (mut sum, mut n) = (0.0, 0.0);
    for i in (0..rows.len()).filter(is_usual) {
        sum += value(&rows[i]);
        n += 1.0;
    }
    if n > 0.0 { sum / n } else { 0.0 }
}

fn centred(mut rows: Vec<Vec<f32>>, usual: Option<&[bool]>) -> Vec<Vec<f32>> {
    for k in 0..rows.first().map_or(0, Vec::len) {
        let mean = mean(&rows, usual, |row| row[k]);
        rows.iter_mut().for_each(|row| row[k] -= mean);
    }
    rows
}

fn scaled(rows: Vec<Vec<f32>>, usual: Option<&[bool]>) -> Vec<Vec<f32>> {
    let mut rows = centred(rows, usual);
    for k in 0..rows.first().map_or(0, Vec::len) {
        let spread = mean(&rows, usual, |row| row[k] * row[k]).sqrt();
        rows.iter_mut().for_each(|row| row[k] /= spread.max(1e-6));
    }
    rows
}

/// Pitch classes of a recording that is `semitones` higher, brought back.
fn turned(harmony: &[f32], semitones: i32) -> Vec<f32> {
    let n = harmony.len();
    (0..n).map(|k| harmony[(k as i32 + semitones).rem_euclid(n as i32) as usize]).collect()
}

/// The keys by how good a likeness stretches of the new recording find in the old one, best first.
fn likely_keys(old: &Described, new: &Described) -> Vec<i32> {
    let of_old = columns(&old.harmony);
    let mut keys: Vec<(f32, i32)> = (-5..=6)
        .map(|semitones| (found_in(&of_old, old.len(), new, semitones), semitones))
        .collect();
    keys.sort_by(|a, b| b.0.total_cmp(&a.0));
    keys.into_iter().map(|(_, semitones)| semitones).collect()
}

/// How good a likeness the best stretches find in one key, in the mean.
fn found_in(of_old: &[Vec<f32>], n_old: usize, new: &Described, semitones: i32) -> f32 {
    let n_new = new.len();
    let long = KEY_COUNTS.min(n_old).min(n_new).max(1);
    // Likeness of the last counts with each old one, and of the stretches that end there.
    let mut recent = vec![vec![0f32; n_old]; long];
    let mut sums = vec![0f32; n_old];
    let mut found: Vec<f32> = Vec::with_capacity(n_new);
    for j in 0..n_new {
        sums.copy_within(..n_old.saturating_sub(1), 1.min(n_old));
        sums.iter_mut().take(1).for_each(|sum| *sum = 0.0);
        let row = &mut recent[j % long];
        if j >= long {
            sums.iter_mut().skip(long).zip(&*row).for_each(|(sum, x)| *sum -= x);
        }
        row.fill(0.0);
        add_products(row, of_old, &turned(&new.harmony[j], semitones), 1.0);
        sums.iter_mut().zip(&*row).for_each(|(sum, x)| *sum += x);
        if j + 1 >= long {
            let highest = sums.iter().skip(long - 1).fold(f32::NEG_INFINITY, |a, b| a.max(*b));
            found.push(highest / long as f32);
        }
    }
    // Only a part of it may be of the song.
    found.sort_by(|a, b| b.total_cmp(a));
    found.truncate(found.len().div_ceil(KEY_PART));
    found.iter().sum::<f32>() / found.len().max(1) as f32
}

/// Each number of all counts, so that many counts are compared at once.
fn columns(rows: &[Vec<f32>]) -> Vec<Vec<f32>> {
    let width = rows.first().map_or(0, Vec::len);
    (0..width).map(|k| rows.iter().map(|row| row[k]).collect()).collect()
}

/// Adds a share of the likeness of `row` with each count in `columns`.
fn add_products(sums: &mut [f32], columns: &[Vec<f32>], row: &[f32], share: f32) {
    for (column, x) in columns.iter().zip(row) {
        let x = share * x;
        sums.iter_mut().zip(column).for_each(|(sum, y)| *sum += x * y);
    }
}

/// Takes out what a count has in common with all counts of the other recording, and scales to standard
/// deviations of what is left.
fn centre(values: &mut [f32], n_old: usize) {
    if n_old == 0 || values.is_empty() {
        return;
    }
    let n_new = values.len() / n_old;
    let mut of_old = vec![0f32; n_old];
    let mut of_new = vec![0f32; n_new];
    for (row, of_new) in values.chunks_exact(n_old).zip(&mut of_new) {
        *of_new = row.iter().sum::<f32>() / n_old as f32;
        of_old.iter_mut().zip(row).for_each(|(sum, x)| *sum += x / n_new as f32);
    }
    let mean = of_new.iter().sum::<f32>() / n_new as f32;
    for (row, of_new) in values.chunks_exact_mut(n_old).zip(&of_new) {
        row.iter_mut().zip(&of_old).for_each(|(x, of_old)| *x -= of_new + of_old - mean);
    }
    let n = values.len() as f64;
    let spread = (values.iter().map(|x| f64::from(x * x)).sum::<f64>() / n).sqrt() as f32;
    values.iter_mut().for_each(|x| *x /= spread.max(1e-6));
}
