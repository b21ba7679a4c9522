//! A part of a song among other music, and a song played by another band.

use hoofbeat::audio::Full;
use serde_json::Value;

use super::Desk;
use crate::demo_audio;

const RATE_HZ: u32 = 22_050;

/// From one time to another of a demo song, mono, at the rate of these tests.
fn demo(name: &str, from_s: f64, to_s: f64) -> Vec<f32> {
    let mut full = Full::decode(&demo_audio(name), &mut |_| {}).unwrap();
    let channels = full.channels();
    let mut all = vec![0f32; full.frames() as usize * channels];
    full.read(0, &mut all).unwrap();
    let mono: Vec<f32> = all
        .chunks_exact(channels)
        .map(|frame| frame.iter().sum::<f32>() / channels as f32)
        .collect();
    let step = f64::from(full.rate_hz()) / f64::from(RATE_HZ);
    let n = ((to_s - from_s) * f64::from(RATE_HZ)) as usize;
    (0..n)
        .map(|k| {
            let at = from_s * f64::from(full.rate_hz()) + k as f64 * step;
            let sample = |n: usize| mono.get(n).copied().unwrap_or(0.0);
            let part = at.fract() as f32;
            sample(at as usize) * (1.0 - part) + sample(at as usize + 1) * part
        })
        .collect()
}

// What lantern-road.phrases tells of it.
const LANTERN_ROAD: [(&str, u64); 11] = [
    ("intro", 16),
    ("verse", 32),
    ("chorus", 36),
    ("verse", 32),
    ("chorus", 32),
    ("instrumental", 16),
    ("bridge", 32),
    ("verse", 32),
    ("chorus", 32),
    ("chorus", 32),
    ("ending", 16),
];
const FIRST_S: f64 = 1.857;

#[test]
fn the_part_in_a_medley_is_found_and_nothing_else_is_carried() {
    let desk = Desk::new();
    desk.write("song.wav", 1, RATE_HZ, &demo("lantern-road.mp3", 0.0, 158.0));
    desk.mark("song.wav", FIRST_S, LANTERN_ROAD.into_iter());
    // The second verse, the second chorus and the instrumental, 44.019 s to 83.993 s, between two other songs.
    let medley = [
        demo("coopers-left-boot.flac", 3.0, 48.0),
        demo("lantern-road.mp3", 44.019, 83.993),
        demo("marrow-bay-waltz.ogg", 10.0, 50.0),
    ]
    .concat();
    desk.write("medley.wav", 1, RATE_HZ, &medley);
    let answer = desk.json(&["medley.wav"]);
    assert_eq!(answer["same_song"], true);
    assert_eq!(answer["what"], "part");
    assert_eq!(answer["shift_semitones"], 0);
    let told: Vec<(f64, String, u64)> = answer["phrases"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| {
            let name = p["of"]["name"].as_str().unwrap_or("new").to_string();
            (p["start_s"].as_f64().unwrap(), name, p["counts"].as_u64().unwrap())
        })
        .collect();
    // Times in the medley: the first other song lasts 45 s.
    let truth = [(45.0, "verse 2", 32), (61.047, "chorus 2", 32), (76.959, "instrumental", 16)];
    assert_eq!(told.len(), truth.len(), "{told:?}");
    for ((start_s, name, counts), truth) in told.iter().zip(truth) {
        assert!((start_s - truth.0).abs() < 0.1, "{told:?}");
        assert_eq!((name.as_str(), *counts), (truth.1, truth.2), "{told:?}");
    }
    let text = desk.good(&["recut", "song.song.json", "medley.wav", "--force"]);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        text.starts_with(
            "medley.wav: a part of the song among other music, in the same key, at the same tempo. Only a part of \
             song.wav is here, from 0:45 to 1:25: verse 2, chorus 2 and the instrumental; the other music before and \
             after it is not counted."
        ),
        "{text}"
    );
    // The map counts the part alone.
    let phrases = desk.good(&["export", "medley.song.json", "--as", "phrases", "-o", "-"]);
    assert_eq!(phrases.lines().count(), 3, "{phrases}");
}

#[test]
fn a_medley_of_other_songs_is_refused() {
    let desk = Desk::new();
    desk.write("song.wav", 1, RATE_HZ, &demo("lantern-road.mp3", 0.0, 158.0));
    desk.mark("song.wav", FIRST_S, LANTERN_ROAD.into_iter());
    let medley = [
        demo("coopers-left-boot.flac", 3.0, 48.0),
        demo("marrow-bay-waltz.ogg", 10.0, 50.0),
        demo("acorns-in-a-hatbox.wav", 2.0, 40.0),
    ]
    .concat();
    desk.write("medley.wav", 1, RATE_HZ, &medley);
    assert_eq!(desk.json(&["medley.wav"])["what"], "other");
    assert_eq!(desk.run(&["recut", "song.song.json", "medley.wav"]).status.code(), Some(2));
}

/// How a band plays.
struct Band {
    counts_per_minute: f64,
    semitones: i32,
    /// Loudness of each harmonic of its chords and of its tune.
    chords: &'static [f32],
    tune: &'static [f32],
    /// Whether chords are broken into eighths or struck on each count.
    broken: bool,
    /// Eighths of a bar of four that a low and a high drum sound on.
    low: &'static [usize],
    high: &'static [usize],
}

const FIRST_BAND: Band = Band {
    counts_per_minute: 120.0,
    semitones: 0,
    chords: &[1.0, 0.6, 0.4, 0.3, 0.2],
    tune: &[1.0, 0.1, 0.3],
    broken: false,
    low: &[0, 4],
    high: &[2, 6],
};

const OTHER_BAND: Band = Band {
    counts_per_minute: 106.0,
    semitones: 3,
    chords: &[1.0, 0.0, 0.3],
    tune: &[0.6, 1.0, 0.5, 0.7, 0.4, 0.3],
    broken: true,
    low: &[0, 3, 4],
    high: &[1, 2, 5, 6, 7],
};

/// Chords of four bars and eighths of two bars of tune, degrees of the major scale; each label has its own.
struct Music(&'static [(&'static str, [i32; 4], [i32; 16])]);

const OURS: Music = Music(&[
    ("intro", [0, 0, 3, 4], [0, 0, 0, 0, 2, 2, 2, 2, 4, 4, 4, 4, 2, 2, 2, 2]),
    ("verse", [0, 5, 3, 4], [4, 4, 5, 4, 2, 2, 0, 0, 1, 1, 2, 1, 0, 0, 0, 0]),
    ("chorus", [3, 4, 0, 5], [7, 7, 7, 6, 5, 5, 4, 5, 6, 6, 6, 5, 4, 4, 4, 4]),
    ("bridge", [5, 2, 1, 4], [2, 3, 4, 3, 2, 1, 2, 2, 3, 4, 5, 4, 3, 2, 3, 3]),
]);

const THEIRS: Music = Music(&[
    ("intro", [0, 4, 0, 4], [4, 2, 4, 2, 4, 2, 4, 2, 1, 1, 1, 1, 1, 1, 1, 1]),
    ("verse", [0, 2, 3, 3], [0, 2, 4, 7, 4, 2, 0, 0, 3, 5, 7, 5, 3, 3, 3, 3]),
    ("chorus", [5, 3, 0, 4], [4, 4, 2, 2, 4, 4, 2, 2, 6, 6, 4, 4, 1, 1, 1, 1]),
    ("bridge", [1, 4, 1, 4], [8, 7, 6, 5, 4, 3, 2, 1, 8, 7, 6, 5, 4, 4, 4, 4]),
]);

const FORM: [(&str, u64); 8] = [
    ("intro", 16),
    ("verse", 32),
    ("chorus", 32),
    ("verse", 32),
    ("chorus", 28),
    ("bridge", 16),
    ("chorus", 32),
    ("verse", 16),
];

fn pitch_hz(degree: i32, octave: i32, semitones: i32) -> f64 {
    const MAJOR: [i32; 7] = [0, 2, 4, 5, 7, 9, 11];
    let steps = MAJOR[degree.rem_euclid(7) as usize] + 12 * degree.div_euclid(7);
    220.0 * 2f64.powf(f64::from(steps + 12 * octave + semitones) / 12.0)
}

fn add_tone(out: &mut [f32], at_s: f64, long_s: f64, hz: f64, harmonics: &[f32], level: f32) {
    let rate = f64::from(RATE_HZ);
    let (from, n) = ((at_s * rate) as usize, (long_s * rate) as usize);
    for (k, sample) in out.iter_mut().skip(from).take(n).enumerate() {
        let t = k as f64 / rate;
        let swell = (t / 0.004).min(1.0).min((long_s - t) / 0.02) * (-2.5 * t).exp();
        for (harmonic, loud) in (1..).zip(harmonics) {
            let phase = std::f64::consts::TAU * hz * f64::from(harmonic) * t;
            *sample += level * loud * (swell * phase.sin()) as f32;
        }
    }
}

fn add_drum(out: &mut [f32], at_s: f64, low: bool, noise: &mut u32) {
    let rate = f64::from(RATE_HZ);
    let from = (at_s * rate) as usize;
    for (k, sample) in out.iter_mut().skip(from).take(RATE_HZ as usize / 8).enumerate() {
        let t = k as f64 / rate;
        *noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let hiss = (*noise >> 8) as f32 / 8_388_608.0 - 1.0;
        *sample += match low {
            true => 0.5 * ((-18.0 * t).exp() * (std::f64::consts::TAU * 60.0 * t).sin()) as f32,
            false => 0.18 * hiss * (-40.0 * t).exp() as f32,
        };
    }
}

/// A song played by a band; count 1 is at 0.5 s.
fn played(music: &Music, band: &Band) -> Vec<f32> {
    let eighth_s = 30.0 / band.counts_per_minute;
    let counts: u64 = FORM.iter().map(|(_, n)| n).sum();
    let long_s = 2.0 + counts as f64 * 2.0 * eighth_s;
    let mut out = vec![0f32; (long_s * f64::from(RATE_HZ)) as usize];
    let (mut at_s, mut noise) = (0.5, 7);
    for (label, n) in FORM {
        let (_, chords, tune) = music.0.iter().find(|m| m.0 == label).unwrap();
        for e in 0..2 * n as usize {
            let root = chords[e / 8 % 4];
            let third = |k: usize| pitch_hz(root + 2 * k as i32, 0, band.semitones);
            if band.broken {
                add_tone(&mut out, at_s, eighth_s, third(e % 3), band.chords, 0.12);
            } else if e % 2 == 0 {
                for k in 0..3 {
                    add_tone(&mut out, at_s, 2.0 * eighth_s, third(k), band.chords, 0.06);
                }
            }
            if e % 4 == 0 {
                let bass = pitch_hz(root, -2, band.semitones);
                add_tone(&mut out, at_s, 4.0 * eighth_s, bass, &[1.0, 0.5], 0.15);
            }
            let degree = tune[e % 16];
            if e % 16 == 0 || tune[e % 16 - 1] != degree {
                let held = (e % 16..16).take_while(|&k| tune[k] == degree).count();
                let hz = pitch_hz(degree, 1, band.semitones);
                add_tone(&mut out, at_s, held as f64 * eighth_s, hz, band.tune, 0.12);
            }
            if band.low.contains(&(e % 8)) {
                add_drum(&mut out, at_s, true, &mut noise);
            }
            if band.high.contains(&(e % 8)) {
                add_drum(&mut out, at_s, false, &mut noise);
            }
            at_s += eighth_s;
        }
    }
    out
}

#[test]
fn a_cover_by_another_band_is_said_to_be_one_and_carried() {
    let desk = Desk::new();
    desk.write("song.wav", 1, RATE_HZ, &played(&OURS, &FIRST_BAND));
    desk.mark("song.wav", 0.5, FORM.into_iter());
    desk.write("cover.wav", 1, RATE_HZ, &played(&OURS, &OTHER_BAND));
    let answer = desk.json(&["cover.wav"]);
    assert_eq!(answer["what"], "performance", "{answer:#}");
    assert_eq!(answer["shift_semitones"], 3);
    let ratio = answer["tempo_ratio"].as_f64().unwrap();
    assert!((ratio - 106.0 / 120.0).abs() < 0.01, "{ratio}");
    let told: Vec<(String, u64)> = answer["phrases"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| (p["label"].as_str().unwrap().to_string(), p["counts"].as_u64().unwrap()))
        .collect();
    let truth: Vec<(String, u64)> = FORM.iter().map(|(l, n)| (l.to_string(), *n)).collect();
    assert_eq!(told, truth);
    let text = desk.good(&["recut", "song.song.json", "cover.wav", "--force"]);
    assert!(
        text.starts_with(
            "cover.wav: not the same recording but the song played again (live, re-recorded or by others), 3 semitones \
             higher, at 88 % of the tempo."
        ),
        "{text}"
    );
    // The band alone does not make it the song.
    desk.write("other.wav", 1, RATE_HZ, &played(&THEIRS, &FIRST_BAND));
    assert_eq!(desk.json(&["other.wav"])["what"], "other");
}

#[test]
fn a_cut_heard_at_half_the_pulse_of_the_map_is_followed_anew_at_that_pulse() {
    let desk = Desk::new();
    desk.write("song.wav", 1, RATE_HZ, &played(&OURS, &FIRST_BAND));
    desk.good(&["listen", "song.wav"]);
    desk.good(&["mark", "song.song.json", "double"]);
    let form = FORM.map(|(label, n)| format!("{label} {}", 2 * n)).join(", ");
    desk.good(&["mark", "song.song.json", "first", "0.5"]);
    desk.good(&["mark", "song.song.json", "form", &form]);
    let slower = Band { counts_per_minute: 110.0, ..FIRST_BAND };
    desk.write("slower.wav", 1, RATE_HZ, &played(&OURS, &slower));
    let answer = desk.json(&["slower.wav"]);
    let counts: Vec<u64> = answer["phrases"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["counts"].as_u64().unwrap())
        .collect();
    assert_eq!(counts, FORM.map(|(_, n)| 2 * n), "{answer:#}");
    let map: Value =
        serde_json::from_slice(&std::fs::read(desk.at("slower.song.json")).unwrap()).unwrap();
    let tempo = |heard: &Value| heard["tempo_bpm"].as_f64().unwrap();
    assert!((tempo(&map["unaided"]) - 110.0).abs() < 1.0, "{}", map["unaided"]["tempo_bpm"]);
    assert!((tempo(&map["heard"]) - 220.0).abs() < 2.0, "{}", map["heard"]["tempo_bpm"]);
    assert!((map["set"]["pulse"]["counts_per_minute"].as_f64().unwrap() - 220.0).abs() < 4.0);
    // Every eighth is a beat now.
    let beats: Vec<f64> =
        map["heard"]["beats_s"].as_array().unwrap().iter().map(|b| b.as_f64().unwrap()).collect();
    let eighth_s = 30.0 / 110.0;
    let inside = beats.iter().filter(|b| (0.4..100.0).contains(*b));
    for beat in inside {
        let off = (beat - 0.5) / eighth_s;
        assert!((off - off.round()).abs() * eighth_s < 0.04, "{beat}");
    }
}
