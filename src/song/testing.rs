//! An invented song for tests.

use crate::audio::Recording;
use crate::rhythm::{Grid, OtherPulse};
use crate::units::Beat;

use super::map::{Heard, HeardPhrase, SongMap};

/// Beats every half second from 0.86 s; bars of four and count 1 from the third beat on, at 1.86 s;
/// phrases of 16, 32, 36, 32, 36 counts and an ending, so far as the beats reach.
pub(crate) fn song(beats: usize) -> SongMap {
    let beats_s: Vec<f64> = (0..beats).map(|b| 0.86 + 0.5 * b as f64).collect();
    let phrases = [
        ("intro", 2),
        ("verse", 18),
        ("chorus", 50),
        ("verse", 86),
        ("chorus", 118),
        ("ending", 154),
    ];
    let recording = Recording {
        file: "lamp_oil.mp3".into(),
        duration_s: 0.86 + 0.5 * beats as f64 + 1.0,
        sample_rate_hz: 44_100,
        channels: 2,
        title: Some("Lamp Oil".into()),
        artist: None,
        fingerprint: "invented".into(),
    };
    let heard = Heard {
        grid: Grid {
            tempo_bpm: 120.0,
            tempo_confidence: 0.8,
            steady: true,
            downbeats: (2..beats).step_by(4).map(Beat).collect(),
            beats_s,
            beats_per_bar: 4,
            grid_confidence: 0.9,
            other_pulses: vec![OtherPulse { tempo_bpm: 60.0, ratio: 0.5, score: 0.3 }],
        },
        first_count_beat: Beat(2),
        phrases: phrases
            .into_iter()
            .filter(|(_, beat)| *beat < beats)
            .map(|(label, beat)| HeardPhrase {
                label: label.into(),
                letter: String::new(),
                beat: Beat(beat),
                strength: 0.5,
            })
            .collect(),
        ..Heard::default()
    };
    let mut map = SongMap::new(recording, heard);
    for time in &mut map.heard.grid.beats_s {
        *time = super::json::rounded(*time);
    }
    map
}
