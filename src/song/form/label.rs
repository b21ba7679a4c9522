//! What phrases are called, where that can be told.

use super::sound::{BeatSounds, PITCHES, TIMBRE};

/// A label for the phrase at each start.
///
/// Phrases alike in harmony, beat by beat, are one kind. The loudest kind that comes again is the
/// chorus, the next kind that comes again the verse; a soft or odd opening is the intro, what follows
/// the last repeated phrase the ending. What cannot be told is a `phrase`.
pub fn labels(sounds: &BeatSounds, starts: &[usize]) -> Vec<String> {
    let n = sounds.len();
    let phrases: Vec<(usize, usize)> = starts
        .iter()
        .enumerate()
        .map(|(i, &s)| (s, starts.get(i + 1).copied().unwrap_or(n)))
        .collect();
    let kinds = kinds(sounds, &phrases);
    let times = |kind: usize| kinds.iter().filter(|&&k| k == kind).count();
    let loudness = |kind: usize| {
        let (mut sum, mut beats) = (0.0, 0);
        for (&(from, to), &k) in phrases.iter().zip(&kinds) {
            if k == kind {
                sum += sounds.loudness[from..to].iter().sum::<f32>();
                beats += to - from;
            }
        }
        sum / beats.max(1) as f32
    };
    let mut repeated: Vec<usize> =
        (0..kinds.len()).filter(|&k| kinds[k] == k && times(k) > 1).collect();
    repeated.sort_by(|&a, &b| loudness(b).total_cmp(&loudness(a)));
    // With a single repeated kind there is no telling a verse from a chorus.
    let (chorus, verse) = match repeated[..] {
        [chorus, ..] if repeated.len() > 1 => {
            let verse = repeated[1..].iter().copied().max_by_key(|&k| (times(k), usize::MAX - k));
            (Some(chorus), verse)
        }
        _ => (None, None),
    };
    let last = phrases.len().saturating_sub(1);
    let mean_loudness = sounds.loudness.iter().sum::<f32>() / n.max(1) as f32;
    kinds
        .iter()
        .enumerate()
        .map(|(i, &kind)| {
            let (from, to) = phrases[i];
            let level = sounds.loudness[from..to].iter().sum::<f32>() / (to - from).max(1) as f32;
            let once = times(kind) == 1;
            let label = if i == 0 && phrases.len() > 1 && (once || level < 0.9 * mean_loudness) {
                "intro"
            } else if Some(kind) == chorus {
                "chorus"
            } else if Some(kind) == verse {
                "verse"
            } else if i == last && once && phrases.len() > 2 {
                "ending"
            } else {
                "phrase"
            };
            label.to_string()
        })
        .collect()
}

/// For each phrase the index of the first phrase that sounds like it (its own when none does).
fn kinds(sounds: &BeatSounds, phrases: &[(usize, usize)]) -> Vec<usize> {
    /// Phrases whose likeness exceeds this are the same again.
    const ALIKE: f32 = 0.72;
    let mut kinds: Vec<usize> = Vec::with_capacity(phrases.len());
    for (i, &phrase) in phrases.iter().enumerate() {
        let best = (0..i)
            .filter(|&j| kinds[j] == j)
            .map(|j| (j, likeness(sounds, phrases[j], phrase)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        kinds.push(match best {
            Some((j, likeness)) if likeness > ALIKE => j,
            _ => i,
        });
    }
    kinds
}

/// How alike two stretches are beat by beat, from their starts, over the shorter one; 0 where one is
/// less than two thirds of the other. Half harmony, half timbre, each correlated over the stretch.
fn likeness(sounds: &BeatSounds, a: (usize, usize), b: (usize, usize)) -> f32 {
    let (length_a, length_b) = (a.1 - a.0, b.1 - b.0);
    let shorter = length_a.min(length_b);
    if shorter * 3 < length_a.max(length_b) * 2 || shorter < 4 {
        return 0.0;
    }
    let harmony =
        correlation(&sounds.harmony[a.0..a.0 + shorter], &sounds.harmony[b.0..b.0 + shorter]);
    let timbre =
        correlation(&sounds.timbre[a.0..a.0 + shorter], &sounds.timbre[b.0..b.0 + shorter]);
    const { assert!(PITCHES > 0 && TIMBRE > 0) };
    0.7 * harmony + 0.3 * timbre
}

/// Pearson's correlation of all values of two stretches.
fn correlation<const D: usize>(a: &[[f32; D]], b: &[[f32; D]]) -> f32 {
    let n = (a.len() * D) as f32;
    let sum = |x: &[[f32; D]]| x.iter().flatten().sum::<f32>() / n;
    let (ma, mb) = (sum(a), sum(b));
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().flatten().zip(b.iter().flatten()) {
        ab += (x - ma) * (y - mb);
        aa += (x - ma).powi(2);
        bb += (y - mb).powi(2);
    }
    ab / (aa * bb).sqrt().max(1e-9)
}
