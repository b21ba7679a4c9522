use super::*;
use crate::audio::Recording;
use crate::rhythm::{Constraints, Ear, solve};
use crate::song::Heard;

/// Ticks twice a second from `from_s` on.
fn ticking(duration_s: usize, from_s: usize) -> (SongMap, rhythm::Heard) {
    let mut ear = Ear::new();
    for second in 0..duration_s {
        let mut samples = vec![0f32; 22_050];
        for tick in [0, 11_025].into_iter().filter(|_| second >= from_s) {
            for n in 0..300 {
                samples[tick + n] = (1.0 - n as f32 / 300.0) * if n % 8 < 4 { 0.5 } else { -0.5 };
            }
        }
        ear.hear(&samples);
    }
    let sound = ear.finish();
    let grid = solve(&sound.activations, &sound.features, &Constraints::default());
    let heard = Heard { grid: grid.unwrap_or_default(), ..Heard::default() };
    let recording = Recording {
        file: "ticks <&> tocks.wav".into(),
        duration_s: duration_s as f64,
        sample_rate_hz: 22_050,
        channels: 1,
        title: None,
        artist: None,
        fingerprint: "invented".into(),
    };
    (SongMap::new(recording, heard), sound)
}

#[test]
fn the_picture_is_sound_svg_with_title_and_description() {
    let (map, sound) = ticking(20, 0);
    let svg = explanation(&map, &sound);
    let tree = resvg::usvg::Tree::from_str(&svg, &resvg::usvg::Options::default()).unwrap();
    let (width, height) = (tree.size().width(), tree.size().height());
    // Two pages of A4 on its long side, one under the other: lines of time, and what sounds alike.
    let pages = height / (width * 210.0 / 297.0);
    assert!((pages - 2.0).abs() < 0.1, "{pages}");
    assert!(svg.contains("Which stretches sound alike"));
    assert!(svg.contains("How it was heard: ticks &lt;&amp;&gt; tocks.wav"));
    assert!(svg.contains("<desc") && svg.contains("120.0 a minute"));
    assert!(is_explanation(svg.as_bytes().get(..1024).unwrap()));
}

#[test]
fn there_is_a_tick_for_every_beat() {
    let (map, sound) = ticking(20, 0);
    let svg = explanation(&map, &sound);
    let beats = svg.split("<g class=\"beats\">").nth(1).unwrap().split("</g>").next().unwrap();
    assert_eq!(beats.matches("<line").count(), map.heard.grid.beats_s.len());
}

#[test]
fn silence_first_is_hatched_and_no_beats_still_make_a_picture() {
    let (map, sound) = ticking(30, 12);
    let hatched = |svg: &str| {
        let part = svg.split("<g class=\"no-beat\">").nth(1).unwrap().split("</g>").next().unwrap();
        part.contains("<line")
    };
    assert!(hatched(&explanation(&map, &sound)));
    let (full, ticks) = ticking(20, 0);
    assert!(!hatched(&explanation(&full, &ticks)));
    let (silent, nothing) = ticking(5, 5);
    let svg = explanation(&silent, &nothing);
    assert!(svg.contains("no steady beat was heard"));
}

#[test]
fn two_hours_stay_under_a_megabyte() {
    let (mut map, mut sound) = ticking(30, 0);
    let repeated = |curve: &[f32]| curve.repeat(240);
    sound.activations.beat = repeated(&sound.activations.beat);
    sound.activations.downbeat = repeated(&sound.activations.downbeat);
    map.heard.grid.beats_s = (0..14_400).map(|beat| f64::from(beat) * 0.5).collect();
    map.heard.grid.downbeats = (0..14_400).step_by(4).map(crate::units::Beat).collect();
    let parts = sound.features.parts();
    let (levels, attack) = (parts.levels.repeat(240), parts.attack.repeat(240));
    let long = rhythm::FeatureParts {
        n_samples: parts.n_samples * 240,
        reference_db: parts.reference_db,
        levels: &levels,
        attack: &attack,
    };
    sound.features = rhythm::Features::from_parts(&long).unwrap();
    let svg = explanation(&map, &sound);
    assert!(svg.len() < 1_000_000, "{} bytes", svg.len());
}
