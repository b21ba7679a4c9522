//! What comes in while the dancers wait.

use std::ops::Range;

use super::sound::BeatSounds;
use crate::rhythm::ATTACK_BANDS;
use crate::song::map::{Entered, Entrance};
use crate::units::Beat;

/// Beats that must be heard without it, and that are listened to from then on.
const BEFORE: usize = 4;
const AFTER: usize = 8;

/// Where in `waiting`, on a beat that starts a bar, the drums or else the whole band come in. `bar_positions` is each
/// beat's place in its bar, 1-based.
pub fn entrance(
    sounds: &BeatSounds,
    bar_positions: &[u32],
    waiting: Range<usize>,
) -> Option<Entrance> {
    /// Drums are heard when attacks grow by so much in the lowest band and in the highest.
    const LOW: f32 = 1.5;
    const HIGH: f32 = 2.5;
    /// A band comes in when all grows louder by so many decibels.
    const LOUDER_DB: f32 = 8.0;
    let n = sounds.len();
    let kick: Vec<f32> = sounds.rhythm.iter().map(|r| strongest(r, 0)).collect();
    let hat: Vec<f32> = sounds.rhythm.iter().map(|r| strongest(r, ATTACK_BANDS - 1)).collect();
    // Softer than over most of the song is not yet the drums.
    let usual = mean(&hat, 0..n);
    let candidates = (waiting.start + BEFORE..waiting.end.min(n.saturating_sub(BEFORE)))
        .filter(|&beat| bar_positions.get(beat) == Some(&1));
    let growth = |values: &[f32], beat: usize| {
        let before = mean(values, waiting.start..beat);
        mean(values, beat..(beat + AFTER).min(n)) / before.max(0.05)
    };
    let drums = candidates
        .clone()
        .filter(|&beat| growth(&kick, beat) > LOW && growth(&hat, beat) > HIGH)
        .filter(|&beat| mean(&hat, beat..(beat + AFTER).min(n)) > 0.7 * usual)
        .max_by(|&a, &b| growth(&hat, a).total_cmp(&growth(&hat, b)));
    if let Some(beat) = drums {
        return Some(Entrance { beat: Beat(beat), what: Entered::Drums });
    }
    let rise = |beat: usize| {
        let level = &sounds.level_db;
        mean(level, beat..(beat + AFTER).min(n)) - mean(level, beat - BEFORE..beat)
    };
    let band = candidates.filter(|&beat| rise(beat) > LOUDER_DB);
    let beat = band.max_by(|&a, &b| rise(a).total_cmp(&rise(b)))?;
    Some(Entrance { beat: Beat(beat), what: Entered::Band })
}

/// The strongest attack of a beat in one band.
fn strongest(rhythm: &[f32], band: usize) -> f32 {
    rhythm.iter().skip(band).step_by(ATTACK_BANDS).copied().fold(0.0, f32::max)
}

fn mean(values: &[f32], range: Range<usize>) -> f32 {
    let part = values.get(range).unwrap_or_default();
    part.iter().sum::<f32>() / part.len().max(1) as f32
}

#[cfg(test)]
mod tests {
    use super::super::testing::{bars_of_four, song};
    use super::*;

    fn without_drums(sounds: &mut BeatSounds, beats: Range<usize>) {
        for beat in beats {
            for (k, attack) in sounds.rhythm[beat].iter_mut().enumerate() {
                if [0, ATTACK_BANDS - 1].contains(&(k % ATTACK_BANDS)) {
                    *attack = 0.1;
                }
            }
        }
    }

    #[test]
    fn drums_that_come_in_on_nine_do() {
        let (mut sounds, _) = song("i16 v32 C32 v32");
        for rhythm in &mut sounds.rhythm {
            *rhythm = [1.0; super::super::sound::RHYTHM];
        }
        without_drums(&mut sounds, 0..8);
        let found = entrance(&sounds, &bars_of_four(sounds.len()), 0..16);
        assert_eq!(found, Some(Entrance { beat: Beat(8), what: Entered::Drums }));
    }

    #[test]
    fn drums_all_along_do_not_come_in() {
        let (sounds, _) = song("i16 v32 C32 v32");
        assert_eq!(entrance(&sounds, &bars_of_four(sounds.len()), 0..16), None);
        assert_eq!(entrance(&sounds, &bars_of_four(sounds.len()), 0..0), None);
        assert_eq!(entrance(&BeatSounds::default(), &[], 0..16), None);
    }

    #[test]
    fn a_band_that_comes_in_is_told_by_its_level() {
        let (mut sounds, _) = song("i16 v32 C32 v32");
        sounds.level_db[..8].fill(-24.0);
        let found = entrance(&sounds, &bars_of_four(sounds.len()), 0..16);
        assert_eq!(found, Some(Entrance { beat: Beat(8), what: Entered::Band }));
    }
}
