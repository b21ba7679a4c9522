//! Beats made by hand, with a known form.

use super::sound::{BeatSounds, PITCHES, RHYTHM, TIMBRE};

/// A song such as `i16 v32 C36`: for each phrase a letter, its kind, and its length in beats. A kind has its own
/// chords, a bar of four each, and its own timbre; capitals are louder. Each phrase opens with a
/// cymbal. Also returns where the phrases start.
pub fn song(form: &str) -> (BeatSounds, Vec<usize>) {
    let mut sounds = BeatSounds::default();
    let mut starts = Vec::new();
    for phrase in form.split_whitespace() {
        let kind = phrase.as_bytes()[0];
        let beats: usize = phrase[1..].parse().unwrap();
        starts.push(sounds.len());
        for beat in 0..beats {
            // Chords and timbre out of a small hash: unlike for unlike kinds, always the same.
            let chord = (usize::from(kind) * 7 + (beat / 4 % 4) * (2 + usize::from(kind) % 5)) % 12;
            let mut harmony = [0.1; PITCHES];
            for third in [0, 4, 7] {
                harmony[(chord + third) % PITCHES] = 1.0;
            }
            let norm = harmony.iter().map(|x: &f32| x * x).sum::<f32>().sqrt();
            let loud = if kind.is_ascii_uppercase() { 1.0 } else { 0.7 };
            let mut timbre = [loud; TIMBRE];
            timbre[usize::from(kind) % TIMBRE] += 0.8;
            timbre[usize::from(kind) * 5 % TIMBRE] += 0.4;
            let mut rhythm = [0.5; RHYTHM];
            rhythm[0] = if beat % 2 == 0 { 2.0 } else { 1.0 };
            rhythm[usize::from(kind) % RHYTHM] += 1.0;
            sounds.harmony.push(harmony.map(|x| x / norm));
            sounds.timbre.push(timbre);
            sounds.rhythm.push(rhythm);
            sounds.loudness.push(loud);
            sounds.cymbal.push(if beat == 0 { 2.0 } else { 0.2 });
            sounds.level_db.push(-6.0 / loud);
            sounds.sounding.push(1.0);
        }
    }
    (sounds, starts)
}

/// Places in bars of four from the first beat on.
pub fn bars_of_four(n: usize) -> Vec<u32> {
    (0..n).map(|i| i as u32 % 4 + 1).collect()
}
