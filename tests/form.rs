//! The form of the invented songs in `demo-audio/`, against the scores they were made from.

use std::path::Path;

use hoofbeat::song::{Beats, SongMap, SongView, UserSet, listen};

/// A start is right when it lies this near, seconds: a fifth of a beat at most.
const NEAR_S: f64 = 0.1;

struct Scored {
    name: &'static str,
    view: SongView,
    /// Start of each phrase and its length in counts, as written by the generator.
    written: Vec<(f64, String, u32)>,
}

fn listened() -> Vec<Scored> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-audio");
    let songs = [
        ("acorns-in-a-hatbox", "wav"),
        ("coopers-left-boot", "flac"),
        ("lantern-road", "mp3"),
        ("lantern-road-radio-edit", "m4a"),
        ("marrow-bay-waltz", "ogg"),
    ];
    songs
        .into_iter()
        .map(|(name, kind)| {
            let audio = folder.join(name).with_extension(kind);
            let listened = listen(&audio, &UserSet::default(), Beats::Wanted, &mut |_| {}).unwrap();
            let view = SongMap::new(listened.recording, listened.heard).view().unwrap();
            let text =
                std::fs::read_to_string(folder.join(name).with_extension("phrases")).unwrap();
            let written = text
                .lines()
                .map(|line| {
                    let fields: Vec<&str> = line.split('\t').collect();
                    (fields[0].parse().unwrap(), fields[2].into(), fields[3].parse().unwrap())
                })
                .collect();
            Scored { name, view, written }
        })
        .collect()
}

#[test]
fn phrases_of_the_demo_songs_start_where_they_were_written() {
    let mut amiss = Vec::new();
    let mut extra = 0;
    for Scored { name, view, written } in listened() {
        println!("{name}: {}", view.form_line());
        let starts: Vec<f64> = view.phrases.iter().map(|p| p.start_s).collect();
        for (start, label, counts) in &written {
            let found = view.phrases.iter().find(|p| (p.start_s - start).abs() < NEAR_S);
            let last = written.last().is_some_and(|last| last.0 == *start);
            match found {
                None => amiss.push(format!("{name}: no start at {start} ({label})")),
                // The recording ends the last phrase where it will; a verse of 48 may be heard as two of 24.
                Some(p) if counts % p.counts != 0 && !last => {
                    amiss.push(format!("{name}: {label} has {} counts, not {counts}", p.counts));
                }
                Some(_) => {}
            }
        }
        for start in starts {
            if !written.iter().any(|w| (w.0 - start).abs() < NEAR_S) {
                println!("{name}: a start at {start} that was not written");
                extra += 1;
            }
        }
    }
    // A floor under what is heard today, not an aim: over five songs, the waltz's pickup bar is counted
    // and two of its verses are cut in half, two parts of the jig start a bar early (so the one
    // before them is short too).
    for line in &amiss {
        println!("{line}");
    }
    assert!(amiss.len() <= 4, "{} starts are amiss", amiss.len());
    assert!(extra <= 7, "{extra} starts that were not written");
}

#[test]
fn the_wait_and_the_odd_chorus_of_lantern_road_are_found() {
    let songs = listened();
    let road = songs.iter().find(|s| s.name == "lantern-road").unwrap();
    assert_eq!(road.view.wait(), 16);
    let line = road.view.form_line();
    assert!(line.starts_with("16 · A32 B36 A32 B32 "), "{line}");
    assert!(line.contains("odd: B1 is 4 over at 0:44.0"), "{line}");
}
