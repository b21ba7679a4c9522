//! Beats before the first that was heard, back to where the music sets in.
//!
//! The first notes of a song, often played by one player or softly, may be too weak to be heard as beats. Music
//! that sets in out of silence does so on a beat: what lies between the two is counted, too.

use super::features::{FRAMES_PER_SECOND, Features, SILENT_DB, frame_time_s};
use super::grid::first_period_s;

/// Sound nearer to them than this is music, decibels.
const MUSIC_DB: f32 = 25.0;
/// Within how long silence becomes music where it sets in, seconds.
const SETS_IN_S: f64 = 0.12;
/// How long the silence before it lasts at least, seconds.
const SILENCE_S: f64 = 0.1;
/// As many beats are missed at most: where more are, what is played there has no beat to count.
const MOST_BEATS: f64 = 3.0;
/// How far from a beat the music may set in, in beats.
const NEAR: f64 = 0.3;

/// Times of the beats between where the music sets in and the first of `beats_s`, ascending.
pub fn beats_before(beats_s: &[f64], features: &Features) -> Vec<f64> {
    let (Some(&first), Some(period_s)) = (beats_s.first(), first_period_s(beats_s)) else {
        return Vec::new();
    };
    let Some(start_s) = sets_in_s(features, first) else { return Vec::new() };
    let beats = (first - start_s) / period_s;
    let whole = beats.round();
    if !(1.0..=MOST_BEATS).contains(&whole) || (beats - whole).abs() > NEAR {
        return Vec::new();
    }
    let step_s = (first - start_s) / whole;
    (0..whole as usize).map(|beat| start_s + beat as f64 * step_s).collect()
}

/// Where music first comes out of silence, if it does so before `until_s`.
fn sets_in_s(features: &Features, until_s: f64) -> Option<f64> {
    let frames = ((until_s * FRAMES_PER_SECOND) as usize).min(features.n_frames());
    let music = (0..frames).find(|&frame| features.level_db(frame) > -MUSIC_DB)?;
    let rise = (SETS_IN_S * FRAMES_PER_SECOND) as usize;
    let silent = |frame: &usize| features.level_db(*frame) < -SILENT_DB;
    let last_silent = (music.saturating_sub(rise)..music).rev().find(silent)?;
    let silence = (SILENCE_S * FRAMES_PER_SECOND) as usize;
    let long =
        last_silent + 1 >= silence && (last_silent + 1 - silence..last_silent).all(|f| silent(&f));
    long.then(|| frame_time_s(last_silent + 1))
}

#[cfg(test)]
mod tests {
    use super::super::features::{FeatureFront, SAMPLE_RATE_HZ};
    use super::*;

    /// Eight seconds, silent up to `from_s`.
    fn music_from(from_s: f64) -> Features {
        let rate = f64::from(SAMPLE_RATE_HZ);
        let mut front = FeatureFront::new();
        let samples = (0..(8.0 * rate) as usize).map(|n| {
            let t = n as f64 / rate;
            let sounds = t >= from_s;
            if sounds { (0.3 * (t * 440.0 * std::f64::consts::TAU).sin()) as f32 } else { 0.0 }
        });
        front.push(&samples.collect::<Vec<f32>>());
        front.finish()
    }

    fn before(from_s: f64, first_beat_s: f64) -> Vec<f64> {
        let beats_s: Vec<f64> = (0..12).map(|beat| first_beat_s + 0.5 * f64::from(beat)).collect();
        beats_before(&beats_s, &music_from(from_s))
    }

    #[test]
    fn beats_go_back_to_where_the_music_sets_in() {
        let found = before(1.0, 2.0);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!((found[0] - 1.0).abs() < 0.05 && (found[1] - 1.5).abs() < 0.05, "{found:?}");
    }

    #[test]
    fn nothing_is_put_before_where_music_sets_in_elsewhere() {
        // Between two beats, long before, on the first beat itself, or before the recording begins.
        for (from_s, first_beat_s) in [(1.25, 2.0), (1.0, 4.0), (2.0, 2.0), (0.0, 1.0)] {
            let found = before(from_s, first_beat_s);
            assert!(found.is_empty(), "{from_s} {first_beat_s}: {found:?}");
        }
    }
}
