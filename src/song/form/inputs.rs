//! What the network that hears phrases is told of each beat.

use std::ops::Range;

use super::novelty::{self, N_CUES, particular};
use super::sound::{BeatSounds, PITCHES, RHYTHM, TIMBRE as TIMBRES};

/// Values a beat: harmony, timbre, rhythm, the cues, loudness, level, share that
/// sounds, the length of the bar (2, 3, 4, other), and how near the song's first and last beats are.
pub const N_INPUTS: usize = PITCHES + TIMBRES + RHYTHM + N_CUES + 3 + 4 + 2;
/// Which of them are harmony: what is particular to the beat, unit length.
pub const HARMONY: Range<usize> = 0..PITCHES;
/// Loudness, in deviations over the song.
pub const LOUDNESS: usize = PITCHES + TIMBRES + RHYTHM + N_CUES;

/// Inputs of each beat. `bar_positions` is each beat's place in its bar, 1-based. Shape `[n_beats, N_INPUTS]`.
pub fn inputs(sounds: &BeatSounds, bar_positions: &[u32], per_bar: usize) -> Vec<[f32; N_INPUTS]> {
    /// Beats beyond which the ends of a song are far.
    const FAR: usize = 64;
    let n = sounds.len();
    let harmony = particular(&sounds.harmony);
    let timbre = particular(&sounds.timbre);
    let cues = novelty::cues(sounds, bar_positions, per_bar).0;
    let rhythm_scale = 1.0 / root_mean_square(sounds.rhythm.iter().flatten().copied());
    let loudness = mean_and_deviation(&sounds.loudness);
    let mut out = vec![[0.0; N_INPUTS]; n];
    for (i, row) in out.iter_mut().enumerate() {
        let mut to = row.iter_mut();
        let mut put = |x: f32| {
            if let Some(to) = to.next() {
                *to = x.clamp(-LARGEST, LARGEST);
            }
        };
        harmony[i].iter().for_each(|&x| put(x));
        timbre[i].iter().for_each(|&x| put(x));
        sounds.rhythm[i].iter().for_each(|&x| put(x * rhythm_scale));
        cues[i].iter().for_each(|&x| put(x as f32));
        put((sounds.loudness[i] - loudness.0) / loudness.1);
        put(sounds.level_db[i] / 20.0);
        put(sounds.sounding[i]);
        for length in [2, 3, 4] {
            put(f32::from(u8::from(per_bar == length)));
        }
        put(f32::from(u8::from(!(2..=4).contains(&per_bar))));
        put(i.min(FAR) as f32 / FAR as f32);
        put((n - i).min(FAR) as f32 / FAR as f32);
    }
    out
}

/// Inputs beyond this say no more.
const LARGEST: f32 = 6.0;

fn root_mean_square(values: impl Iterator<Item = f32> + Clone) -> f32 {
    let n = values.clone().count().max(1) as f32;
    (values.map(|x| x * x).sum::<f32>() / n).sqrt().max(1e-6)
}

fn mean_and_deviation(values: &[f32]) -> (f32, f32) {
    let n = values.len().max(1) as f32;
    let mean = values.iter().sum::<f32>() / n;
    (mean, root_mean_square(values.iter().map(|x| x - mean)))
}
