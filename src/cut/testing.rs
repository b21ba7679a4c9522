//! A small song for tests: intro 16, verse 32, chorus 32, verse 32, chorus 32, bridge 16, chorus 32, ending 8,
//! at 120 counts a minute, with a sound for each kind of phrase and a little of its own for each count.

use crate::song::form::BeatSounds;
use crate::song::{CountLine, Phrase, SongView};
use crate::units::Count;

pub const FORM: [(&str, u32); 8] = [
    ("intro", 16),
    ("verse", 32),
    ("chorus", 32),
    ("verse", 32),
    ("chorus", 32),
    ("bridge", 16),
    ("chorus", 32),
    ("ending", 8),
];

pub fn song() -> (SongView, BeatSounds) {
    part_of_song(FORM.iter().map(|(_, counts)| *counts as usize).sum())
}

pub fn part_of_song(n: usize) -> (SongView, BeatSounds) {
    let time = |i: usize| 1.0 + 0.5 * i as f64;
    let counts = CountLine {
        times_s: (0..n).map(time).collect(),
        bar_positions: (0..n).map(|i| (i % 4) as u32 + 1).collect(),
        end_s: time(n),
    };
    let mut phrases = Vec::new();
    let mut sounds = BeatSounds::default();
    let mut start = 0;
    for (label, length) in FORM {
        let length = length.min((n - start) as u32);
        if length == 0 {
            break;
        }
        let kind = label.bytes().map(usize::from).sum::<usize>();
        for place in 0..length as usize {
            let mut harmony = [0.1f32; 12];
            harmony[(kind + 5 * (place / 4)) % 12] = 1.0;
            sounds.harmony.push(harmony);
            sounds.timbre.push(std::array::from_fn(|k| ((kind * (k + 1)) % 7) as f32 / 7.0));
            sounds.rhythm.push(std::array::from_fn(|k| ((kind + k + place % 4) % 5) as f32 / 5.0));
            sounds.loudness.push((kind % 11) as f32 / 11.0);
            sounds.cymbal.push(0.0);
            sounds.level_db.push(-10.0);
            sounds.sounding.push(1.0);
        }
        phrases.push(Phrase {
            letter: String::new(),
            label: label.into(),
            start: Count::from_index(start),
            counts: length,
            start_s: time(start),
            end_s: time(start + length as usize),
            set: true,
            strength: 1.0,
        });
        start += length as usize;
    }
    let song = SongView {
        entrance: None,
        title: "Lamp Oil".into(),
        artist: None,
        duration_s: time(n) + 2.0,
        counts_per_minute: 120.0,
        counts_per_bar: 4,
        counts_per_beat: 1.0,
        counts,
        phrases,
    };
    (song, sounds)
}
