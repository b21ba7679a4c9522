//! Other cuts of the demo songs.

use hoofbeat::audio::Full;
use serde_json::Value;

use super::Desk;
use crate::demo_audio;

/// Start, label and counts of each phrase, as the demo song's own file tells them.
fn truth(stem: &str) -> Vec<(f64, String, u64)> {
    let text = std::fs::read_to_string(demo_audio(&format!("{stem}.phrases"))).unwrap();
    let row = |line: &str| {
        let cells: Vec<&str> = line.split('\t').collect();
        (cells[0].parse().unwrap(), cells[2].to_string(), cells[3].parse().unwrap())
    };
    text.lines().map(row).collect()
}

impl Desk {
    /// A demo song listened to and marked with its true form, as `song.song.json`.
    fn marked(file: &str) -> Desk {
        let desk = Desk::new();
        let (stem, ending) = file.split_once('.').unwrap();
        let audio = format!("song.{ending}");
        std::fs::copy(demo_audio(file), desk.at(&audio)).unwrap();
        let truth = truth(stem);
        let form = truth.iter().map(|(_, label, counts)| (label.as_str(), *counts));
        desk.mark(&audio, truth[0].0, form);
        desk
    }

    /// The demo song played faster or slower, with its pitch, as a record is: `speed` times.
    fn played_at(&self, file: &str, speed: f64, to: &str) {
        let mut full = Full::decode(&demo_audio(file), &mut |_| {}).unwrap();
        let channels = full.channels();
        let mut samples = vec![0f32; full.frames() as usize * channels];
        full.read(0, &mut samples).unwrap();
        let frames = (full.frames() as f64 / speed) as usize - 2;
        let mut out = Vec::with_capacity(frames * channels);
        for k in 0..frames {
            let at = k as f64 * speed;
            let (whole, part) = (at as usize, (at.fract()) as f32);
            for c in 0..channels {
                let sample = |n: usize| samples.get(n * channels + c).copied().unwrap_or(0.0);
                out.push(0.9 * (sample(whole) * (1.0 - part) + sample(whole + 1) * part));
            }
        }
        self.write(to, channels, full.rate_hz(), &out);
    }
}

fn carried(answer: &Value) -> Vec<(f64, String, u64)> {
    let phrases = answer["phrases"].as_array().unwrap();
    let row = |p: &Value| {
        let label = p["label"].as_str().unwrap().to_string();
        (p["start_s"].as_f64().unwrap(), label, p["counts"].as_u64().unwrap())
    };
    phrases.iter().map(row).collect()
}

fn assert_same_form(told: &[(f64, String, u64)], truth: &[(f64, String, u64)], speed: f64) {
    assert_eq!(told.len(), truth.len(), "{told:?}");
    for (told, truth) in told.iter().zip(truth) {
        assert_eq!((&told.1, told.2), (&truth.1, truth.2), "{told:?} {truth:?}");
        assert!((told.0 - truth.0 / speed).abs() < 0.05, "{told:?} {truth:?}");
    }
}

#[test]
fn the_radio_edit_is_known_phrase_by_phrase() {
    let desk = Desk::marked("lantern-road.mp3");
    std::fs::copy(demo_audio("lantern-road.txt"), desk.at("routine.txt")).unwrap();
    std::fs::copy(demo_audio("lantern-road-radio-edit.m4a"), desk.at("radio.m4a")).unwrap();
    let answer = desk.json(&["radio.m4a", "--routine", "routine.txt", "--draw", "two.svg"]);
    assert_same_form(&carried(&answer), &truth("lantern-road-radio-edit"), 1.0);
    assert_eq!(answer["shift_semitones"], 0);
    assert!((answer["tempo_ratio"].as_f64().unwrap() - 1.0).abs() < 0.01);
    let missing: Vec<&str> =
        answer["missing"].as_array().unwrap().iter().map(|p| p["name"].as_str().unwrap()).collect();
    assert_eq!(missing, ["instrumental", "verse 3", "ending"]);
    assert!(answer["added"].as_array().unwrap().is_empty());
    for phrase in answer["phrases"].as_array().unwrap() {
        assert!(phrase["confidence"].as_f64().unwrap() > 0.9, "{phrase}");
    }
    assert_eq!(answer["fit"]["fits"], false);
    assert_eq!(answer["for_this_cut"]["fit"]["fits"], true);
    // The picture can be drawn by another program.
    let svg = std::fs::read(desk.at("two.svg")).unwrap();
    resvg::usvg::Tree::from_data(&svg, &resvg::usvg::Options::default()).unwrap();
    // The map that was saved is a map like any other, and the sheet for this cut fits it.
    let sheet = desk.run(&[
        "recut",
        "song.song.json",
        "radio.m4a",
        "--routine",
        "routine.txt",
        "--sheet",
        "radio.txt",
        "--force",
    ]);
    assert_eq!(sheet.status.code(), Some(1));
    // The order that is said is the sheet's, by the names that its parts have there.
    let order = |text: &str| -> String {
        let from = text.rfind("Order:").unwrap();
        text[from..].split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let written = std::fs::read_to_string(desk.at("radio.txt")).unwrap();
    assert_eq!(order(&String::from_utf8_lossy(&sheet.stdout)), order(&written));
    assert_eq!(desk.run(&["fit", "radio.song.json", "routine.txt"]).status.code(), Some(1));
    assert_eq!(desk.run(&["fit", "radio.song.json", "radio.txt"]).status.code(), Some(0));
    // A map with marks of its own is not written over unasked.
    desk.good(&["mark", "radio.song.json", "label", "chorus 1", "as", "refrain"]);
    let marked = std::fs::read(desk.at("radio.song.json")).unwrap();
    desk.good(&["recut", "song.song.json", "radio.m4a"]);
    assert_eq!(std::fs::read(desk.at("radio.song.json")).unwrap(), marked);
}

#[test]
fn a_routine_with_steps_of_its_own_is_written_for_the_cut() {
    let desk = Desk::marked("lantern-road.mp3");
    let sheet = std::fs::read_to_string(demo_audio("lantern-road.txt")).unwrap();
    let own = sheet.replace("4 Rocking Chair turn 1/4 L on each", "4 Lantern Kick");
    assert_ne!(own, sheet);
    std::fs::write(desk.at("routine.txt"), own).unwrap();
    std::fs::write(desk.at("our-steps.txt"), "Lantern Kick = DS K DS RS\n").unwrap();
    std::fs::copy(demo_audio("lantern-road-radio-edit.m4a"), desk.at("radio.m4a")).unwrap();
    let steps = ["--steps", "our-steps.txt"];
    let for_the_cut = ["--routine", "routine.txt", "--sheet", "radio.txt"];
    let answer = desk.json(&[&["radio.m4a"][..], &for_the_cut, &steps].concat());
    assert_eq!(answer["for_this_cut"]["fit"]["fits"], true);
    let written = std::fs::read_to_string(desk.at("radio.txt")).unwrap();
    assert!(written.contains("4 Lantern Kick"), "{written}");
    let fit = desk.run(&[&["fit", "radio.song.json", "radio.txt"][..], &steps].concat());
    assert_eq!(fit.status.code(), Some(0));
}

#[test]
fn the_words_are_those_of_a_teacher() {
    let desk = Desk::marked("lantern-road.mp3");
    std::fs::copy(demo_audio("lantern-road-radio-edit.m4a"), desk.at("radio.m4a")).unwrap();
    let text = desk.good(&["recut", "song.song.json", "radio.m4a"]);
    let told = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.starts_with(
            "radio.m4a: the same recording, edited, in the same key, at the same tempo. The instrumental, \
             verse 3 and the ending are gone; the intro is 8, not 16; chorus 1 is 4 counts shorter; the cut \
             ends after 20 counts of chorus 4."
        ),
        "{told}"
    );
}

#[test]
fn a_record_played_slower_or_faster_is_the_same_song() {
    // A semitone is a twelfth of an octave: the speed is 2 to the number of semitones over 12.
    for (file, stem, semitones) in [
        ("lantern-road.mp3", "lantern-road", -2),
        ("marrow-bay-waltz.ogg", "marrow-bay-waltz", 1),
        ("coopers-left-boot.flac", "coopers-left-boot", 3),
    ] {
        let desk = Desk::marked(file);
        let speed = 2f64.powf(f64::from(semitones) / 12.0);
        desk.played_at(file, speed, "other.wav");
        let answer = desk.json(&["other.wav"]);
        assert_eq!(answer["shift_semitones"], semitones, "{file}");
        assert!((answer["tempo_ratio"].as_f64().unwrap() / speed - 1.0).abs() < 0.005, "{file}");
        assert_same_form(&carried(&answer), &truth(stem), speed);
        assert!(answer["missing"].as_array().unwrap().is_empty());
    }
}

#[test]
fn another_song_is_refused() {
    let desk = Desk::marked("lantern-road.mp3");
    for other in ["coopers-left-boot.flac", "marrow-bay-waltz.ogg", "acorns-in-a-hatbox.wav"] {
        std::fs::copy(demo_audio(other), desk.at(other)).unwrap();
        let output = desk.run(&["recut", "song.song.json", other]);
        let stderr = String::from_utf8_lossy(&output.stderr).to_string();
        assert_eq!(output.status.code(), Some(2), "{other}: {stderr}");
        assert!(stderr.contains("not the same song as Lantern Road"), "{stderr}");
        assert!(stderr.contains("% matches"), "{stderr}");
        let map = other.split('.').next().unwrap().to_string() + ".song.json";
        assert!(!desk.at(&map).exists());
    }
}

#[test]
fn several_cuts_are_ranked() {
    let desk = Desk::marked("lantern-road.mp3");
    std::fs::copy(demo_audio("lantern-road.txt"), desk.at("routine.txt")).unwrap();
    std::fs::copy(demo_audio("lantern-road-radio-edit.m4a"), desk.at("radio.m4a")).unwrap();
    std::fs::copy(demo_audio("coopers-left-boot.flac"), desk.at("boot.flac")).unwrap();
    let output = desk.run(&[
        "recut",
        "song.song.json",
        "boot.flac",
        "radio.m4a",
        "song.mp3",
        "--routine",
        "routine.txt",
    ]);
    assert_eq!(output.status.code(), Some(1));
    let text = String::from_utf8(output.stdout).unwrap();
    let first_words: Vec<&str> =
        text.lines().skip(1).filter_map(|line| line.split_whitespace().next()).collect();
    assert_eq!(first_words, ["song.mp3", "radio.m4a", "boot.flac"], "{text}");
    let refused = desk.run(&["recut", "song.song.json", "radio.m4a", "song.mp3", "-o", "x.json"]);
    assert_eq!(refused.status.code(), Some(2));
}
