//! What each beat sounds like.

use rayon::prelude::*;

use crate::rhythm::{ATTACK_BANDS, Features, features};

/// Parts of a beat that the rhythm is told apart in: sixteenths of a bar of four.
const RHYTHM_PARTS: usize = 4;
/// Values in a rhythm pattern.
pub const RHYTHM: usize = RHYTHM_PARTS * ATTACK_BANDS;
/// Coarse bands of timbre.
pub const TIMBRE: usize = 14;
/// Pitch classes.
pub const PITCHES: usize = 12;

/// The sound of every beat of a song; beat `i` lasts from its own time to the next.
#[derive(Debug, Clone, Default)]
pub struct BeatSounds {
    /// Harmony: strength of each pitch class, unit length. Shape `[n_beats]`.
    pub harmony: Vec<[f32; PITCHES]>,
    /// Level in coarse bands, log-compressed. Shape `[n_beats]`.
    pub timbre: Vec<[f32; TIMBRE]>,
    /// Attacks in each quarter of the beat. Shape `[n_beats]`.
    pub rhythm: Vec<[f32; RHYTHM]>,
    /// Loudness, log-compressed. Shape `[n_beats]`.
    pub loudness: Vec<f32>,
    /// Attack on the beat itself in the highest band: cymbals. Shape `[n_beats]`.
    pub cymbal: Vec<f32>,
    /// Mean level, decibels over the recording's loud frames. Shape `[n_beats]`.
    pub level_db: Vec<f32>,
    /// Share of the beat that sounds at all, 0 to 1. Shape `[n_beats]`.
    pub sounding: Vec<f32>,
}

impl BeatSounds {
    /// Averages a song's features over each of its beats.
    pub fn new(heard: &Features, beats_s: &[f64]) -> BeatSounds {
        let centres = heard.band_centres_hz();
        let pitch_class: Vec<Option<usize>> = centres.iter().map(|&hz| pitch_class(hz)).collect();
        let coarse: Vec<usize> =
            (0..centres.len()).map(|band| band * TIMBRE / centres.len().max(1)).collect();
        let mut in_coarse = [0f32; TIMBRE];
        for &band in &coarse {
            in_coarse[band] += 1.0;
        }
        let last_period = match beats_s {
            [.., a, b] => b - a,
            _ => 0.5,
        };
        let of_beat = |(i, &start_s): (usize, &f64)| {
            let end_s = beats_s.get(i + 1).copied().unwrap_or(start_s + last_period);
            let frame = |time_s: f64| (time_s * features::FRAMES_PER_SECOND).round() as usize;
            let from = frame(start_s).min(heard.n_frames());
            let to = frame(end_s).clamp(from, heard.n_frames());
            let frames = (to - from).max(1) as f32;
            let (mut harmony, mut timbre) = ([0f32; PITCHES], [0f32; TIMBRE]);
            let (mut power, mut level_db, mut sounding) = (0f32, 0f32, 0f32);
            for k in from..to {
                let db = heard.level_db(k);
                level_db += db / frames;
                sounding += f32::from(u8::from(db > -features::SILENT_DB)) / frames;
                for (band, level) in heard.bands(k).enumerate() {
                    timbre[coarse[band]] += level / (frames * in_coarse[coarse[band]]);
                    power += level / (frames * centres.len() as f32);
                }
                for (band, p) in heard.band_powers(k).enumerate() {
                    if let Some(class) = pitch_class[band] {
                        // A square root lets the tune be heard beside the bass, as chroma usually do.
                        harmony[class] += p.sqrt();
                    }
                }
            }
            normalise(&mut harmony);
            let level_db = if to > from { level_db } else { -features::SILENT_DB };
            let rhythm = rhythm_of(heard, start_s, end_s);
            (harmony, timbre, rhythm, [power, level_db, sounding])
        };
        let beats: Vec<_> = beats_s.par_iter().enumerate().map(of_beat).collect();
        let mut sounds = BeatSounds::default();
        for (harmony, timbre, rhythm, [loudness, level_db, sounding]) in beats {
            sounds.harmony.push(harmony);
            sounds.timbre.push(timbre);
            sounds.loudness.push(loudness);
            sounds.level_db.push(level_db);
            sounds.sounding.push(sounding);
            sounds.cymbal.push(rhythm[ATTACK_BANDS - 1]);
            sounds.rhythm.push(rhythm);
        }
        sounds
    }

    /// Number of beats.
    pub fn len(&self) -> usize {
        self.loudness.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.loudness.is_empty()
    }
}

/// Pitch class of a band, where the window tells semitones apart and melodies and chords live.
fn pitch_class(hz: f32) -> Option<usize> {
    const LOWEST_HZ: f32 = 110.0;
    const HIGHEST_HZ: f32 = 2100.0;
    (LOWEST_HZ..HIGHEST_HZ).contains(&hz).then(|| {
        let semitones = 12.0 * (hz / 440.0).log2();
        semitones.round().rem_euclid(12.0) as usize % PITCHES
    })
}

fn normalise(values: &mut [f32; PITCHES]) {
    let norm = values.iter().map(|x| x * x).sum::<f32>().sqrt();
    if norm > 0.0 {
        values.iter_mut().for_each(|x| *x /= norm);
    }
}

/// The steepest attack of each band within each quarter of the beat; the quarters are centred on
/// the sixteenths, so that an attack a little early still counts to its own.
fn rhythm_of(heard: &Features, start_s: f64, end_s: f64) -> [f32; RHYTHM] {
    let mut rhythm = [0f32; RHYTHM];
    let part_s = (end_s - start_s) / RHYTHM_PARTS as f64;
    let frame = |time_s: f64| (time_s * features::FRAMES_PER_SECOND).round().max(0.0) as usize;
    for (part, of_part) in rhythm.chunks_exact_mut(ATTACK_BANDS).enumerate() {
        let centre_s = start_s + part as f64 * part_s;
        for k in frame(centre_s - part_s / 2.0)..frame(centre_s + part_s / 2.0) {
            let rises = heard.attack().steepest_rise(k, heard.reference_db());
            for (strongest, rise) in of_part.iter_mut().zip(rises) {
                *strongest = strongest.max(rise);
            }
        }
    }
    rhythm
}
