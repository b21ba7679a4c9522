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

    fn of(old: &Described, new: &Described, semitones: i32) -> Likeness {
        let (n_old, n_new) = (old.len(), new.len());
        let mut standing = vec![0f32; n_new * n_old];
        for j in 0..n_new {
            let harmony = turned(&new.harmony[j], semitones);
            for i in 0..n_old {
                standing[j * n_old + i] = SHARES[0] * dot(&old.harmony[i], &harmony)
                    + SHARES[1] * dot(&old.timbre[i], &new.timbre[j])
                    + SHARES[2] * dot(&old.rhythm[i], &new.rhythm[j])
                    + SHARES[3] * old.loudness[i] * new.loudness[j];
            }
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

    /// The new recording from its last count to its first: as like the old one in all but its order.
    pub fn backwards(&self) -> Likeness {
        let turned = |pairs: &[f32]| -> Vec<f32> {
            pairs.chunks_exact(self.n_old.max(1)).rev().flatten().copied().collect()
        };
        Likeness {
            news: turned(&self.news),
            standing: turned(&self.standing),
            new_sounds: self.new_sounds.iter().rev().copied().collect(),
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

fn dot(a: &[f32], b: &[f32]) -> f32 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Pitch classes of a recording that is `semitones` higher, brought back.
fn turned(harmony: &[f32], semitones: i32) -> Vec<f32> {
    let n = harmony.len();
    (0..n).map(|k| harmony[(k as i32 + semitones).rem_euclid(n as i32) as usize]).collect()
}

/// The keys by how good a likeness stretches of the new recording find in the old one, best first.
fn likely_keys(old: &Described, new: &Described) -> Vec<i32> {
    let (n_old, n_new) = (old.len(), new.len());
    let long = KEY_COUNTS.min(n_old).min(n_new).max(1);
    let mut keys: Vec<(f32, i32)> = Vec::new();
    for semitones in -5..=6 {
        let mut highest = vec![f32::NEG_INFINITY; n_new];
        let turned: Vec<Vec<f32>> = new.harmony.iter().map(|h| turned(h, semitones)).collect();
        // Along each diagonal, the likeness of stretches.
        for lag in -(n_old as i64 - long as i64)..=(n_new as i64 - long as i64) {
            let (mut j, mut i) = (lag.max(0) as usize, (-lag).max(0) as usize);
            let mut sum = 0.0;
            let mut recent = Vec::with_capacity(n_new);
            while j < n_new && i < n_old {
                let here = dot(&old.harmony[i], &turned[j]);
                recent.push(here);
                sum += here;
                if recent.len() > long {
                    sum -= recent[recent.len() - long - 1];
                }
                if recent.len() >= long {
                    let middle = j - long / 2;
                    highest[middle] = highest[middle].max(sum / long as f32);
                }
                (i, j) = (i + 1, j + 1);
            }
        }
        let mut found: Vec<f32> = highest.into_iter().filter(|x| x.is_finite()).collect();
        // Only a part of it may be of the song.
        found.sort_by(|a, b| b.total_cmp(a));
        found.truncate(found.len().div_ceil(KEY_PART));
        keys.push((found.iter().sum::<f32>() / found.len().max(1) as f32, semitones));
    }
    keys.sort_by(|a, b| b.0.total_cmp(&a.0));
    keys.into_iter().map(|(_, semitones)| semitones).collect()
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
