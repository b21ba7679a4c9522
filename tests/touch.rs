//! One correction rights the rest of the song: songs with known beats are listened to, one thing is
//! said through the program, and the exported beats are held against the truth.

use std::path::PathBuf;

use hoofbeat::rhythm::measure::{BEAT_WINDOW_S, f_measure};
use tempfile::TempDir;

use crate::demo_audio;

struct Desk(TempDir);

impl Desk {
    /// A demo song in a folder of its own, listened to.
    fn listened(song: &str) -> Desk {
        let desk = Desk(tempfile::tempdir().unwrap());
        std::fs::copy(demo_audio(song), desk.at(song)).unwrap();
        desk.run(&["listen", song, "-o", "a.song.json"]);
        desk
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, args: &[&str]) -> String {
        crate::good(self.0.path(), args)
    }

    fn mark(&self, words: &[&str]) {
        self.run(&[&["mark", "a.song.json"], words].concat());
    }

    fn map(&self) -> Vec<u8> {
        std::fs::read(self.at("a.song.json")).unwrap()
    }

    fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.map()).unwrap()
    }

    /// Time and place in the bar of each beat, as exported.
    fn beats(&self) -> Vec<(f64, u32)> {
        let text = self.run(&["export", "a.song.json", "--as", "beats", "-o", "-"]);
        rows(&text)
    }
}

fn rows(text: &str) -> Vec<(f64, u32)> {
    let row = |line: &str| {
        let (time, place) = line.split_once('\t').unwrap();
        (time.parse().unwrap(), place.trim().parse().unwrap())
    };
    text.lines().map(row).collect()
}

fn truth(song: &str) -> Vec<(f64, u32)> {
    let stem = song.split('.').next().unwrap();
    rows(&std::fs::read_to_string(demo_audio(&format!("{stem}.beats"))).unwrap())
}

fn times(beats: &[(f64, u32)]) -> Vec<f64> {
    beats.iter().map(|beat| beat.0).collect()
}

fn bars(beats: &[(f64, u32)]) -> Vec<f64> {
    beats.iter().filter(|beat| beat.1 == 1).map(|beat| beat.0).collect()
}

/// F of `found` over the stretch in which the truth is known.
fn f(truth: &[f64], found: &[f64]) -> f64 {
    let known = truth[0] - 0.1..truth[truth.len() - 1] + 0.1;
    let found: Vec<f64> = found.iter().copied().filter(|t| known.contains(t)).collect();
    f_measure(truth, &found, BEAT_WINDOW_S)
}

const SONG: &str = "lantern-road.mp3";

#[test]
fn half_takes_every_second_true_beat_and_double_has_all_of_them_again() {
    let desk = Desk::listened(SONG);
    let truth = times(&truth(SONG));
    desk.mark(&["half"]);
    let half = times(&desk.beats());
    let every = |first: usize| truth.iter().copied().skip(first).step_by(2).collect::<Vec<_>>();
    let best = f(&every(0), &half).max(f(&every(1), &half));
    assert!(best > 0.97, "half: F {best}");
    // What was heard is renewed, so every later stage reads the same beats.
    let heard = desk.json()["heard"]["beats_s"].as_array().unwrap().len();
    assert!(heard.abs_diff(truth.len() / 2) < 8, "{heard} beats heard at half pulse");
    desk.mark(&["double"]);
    let double = f(&truth, &times(&desk.beats()));
    assert!(double > 0.97, "double: F {double}");
}

#[test]
fn a_shifted_bar_line_is_shifted_through_the_whole_song() {
    let desk = Desk::listened(SONG);
    let truth = truth(SONG);
    let before = f(&bars(&truth), &bars(&desk.beats()));
    desk.mark(&["bar", "+1"]);
    let late: Vec<f64> = truth.iter().filter(|beat| beat.1 == 2).map(|beat| beat.0).collect();
    let shifted = f(&late, &bars(&desk.beats()));
    assert!(shifted >= before - 0.02, "{shifted} on the second beats, {before} before");
    desk.mark(&["bar", "-1"]);
    let back = f(&bars(&truth), &bars(&desk.beats()));
    assert!(back >= before - 0.02, "{back} shifted back, {before} before");
}

#[test]
fn the_first_count_starts_a_bar_and_the_suggested_phrases() {
    let desk = Desk::listened(SONG);
    let truth = truth(SONG);
    // The third beat of the second bar: wrong, but what the user says holds.
    let third = truth.iter().filter(|beat| beat.1 == 3).nth(1).unwrap().0;
    desk.mark(&["first", &format!("0:{third:.2}")]);
    let beats = desk.beats();
    let near = beats.iter().find(|beat| (beat.0 - third).abs() < 0.07).unwrap();
    assert_eq!(near.1, 1);
    let json = desk.json();
    let phrase = json["heard"]["phrases"][0]["beat"].as_u64().unwrap() as usize;
    let starts = json["heard"]["beats_s"][phrase].as_f64().unwrap();
    assert!((starts - third).abs() < 0.07, "phrases from {starts}, first count at {third}");
}

#[test]
fn beats_tapped_beside_those_heard_right_the_rest() {
    let desk = Desk::listened(SONG);
    let true_beats = times(&truth(SONG));
    // Eight taps between the beats: the whole song is then counted on the off-beats.
    let between: Vec<f64> = true_beats.windows(2).map(|w| (w[0] + w[1]) / 2.0).collect();
    let taps: Vec<String> = between[60..68].iter().map(|t| format!("{t:.3}")).collect();
    desk.mark(&[&["tap"], taps.iter().map(String::as_str).collect::<Vec<_>>().as_slice()].concat());
    let found = f(&between, &times(&desk.beats()));
    assert!(found > 0.95, "F {found} against the off-beats");
    // Taps on the beats right it again.
    let taps: Vec<String> = true_beats[58..70].iter().map(|t| format!("{t:.3}")).collect();
    desk.mark(&[&["tap"], taps.iter().map(String::as_str).collect::<Vec<_>>().as_slice()].concat());
    let found = f(&true_beats, &times(&desk.beats()));
    assert!(found > 0.97, "F {found} against the beats");
}

#[test]
fn undo_leads_back_exactly() {
    let desk = Desk::listened(SONG);
    let marks: [&[&str]; 6] = [
        &["half"],
        &["bar", "+1"],
        &["first", "0:05.9"],
        &["change", "1:00"],
        &["beats-per-bar", "3"],
        &["double"],
    ];
    for mark in marks {
        let before = desk.json();
        desk.mark(mark);
        let after = desk.json();
        assert_ne!(before["set"], after["set"], "{mark:?}");
        desk.mark(&["undo"]);
        let back = desk.json();
        for part in ["heard", "set", "unaided"] {
            assert_eq!(before[part], back[part], "{part} after {mark:?} and undo");
        }
        desk.mark(&["undo"]);
        for part in ["heard", "set", "unaided"] {
            assert_eq!(after[part], desk.json()[part], "{part} after {mark:?} and undo twice");
        }
    }
}

#[test]
fn listening_again_gives_what_the_corrections_gave() {
    let desk = Desk::listened(SONG);
    desk.mark(&["half"]);
    desk.mark(&["bar", "+1"]);
    let before = desk.json();
    desk.run(&["listen", SONG, "-o", "a.song.json"]);
    let after = desk.json();
    assert_eq!(before, after);
}

#[test]
fn without_what_was_kept_corrections_hold_as_before() {
    let desk = Desk::listened(SONG);
    let true_beats = truth(SONG);
    let heard = desk.json()["heard"].clone();
    std::fs::write(desk.at("a.heard"), "HOOFHEAR, but damaged").unwrap();
    desk.mark(&["bar", "+1"]);
    assert_eq!(desk.json()["heard"], heard, "laid over what was heard, which stays");
    std::fs::remove_file(desk.at("a.heard")).unwrap();
    desk.mark(&["half"]);
    assert_eq!(desk.json()["heard"], heard);
    assert!(desk.beats().len().abs_diff(true_beats.len() / 2) < 8);
}

#[test]
fn a_file_deleted_between_two_corrections_loses_neither() {
    let desk = Desk::listened(SONG);
    let heard = desk.json()["heard"].clone();
    desk.mark(&["half"]);
    std::fs::remove_file(desk.at("a.heard")).unwrap();
    desk.mark(&["bar", "+1"]);
    let json = desk.json();
    assert_eq!(json["heard"], heard, "what was heard unaided is back");
    assert!(json.get("unaided").is_none());
    assert!(json["set"]["pulse"].is_object() && json["set"]["bar_line_s"].is_number());
    desk.mark(&["pulse", "as-heard"]);
    let whole = f(&times(&truth(SONG)), &times(&desk.beats()));
    assert!(whole > 0.95, "F {whole}");
}

#[test]
fn no_cache_keeps_nothing() {
    let desk = Desk(tempfile::tempdir().unwrap());
    std::fs::copy(demo_audio(SONG), desk.at(SONG)).unwrap();
    desk.run(&["listen", SONG, "--no-cache"]);
    assert!(!desk.at("lantern-road.heard").exists());
    desk.run(&["listen", SONG]);
    assert!(desk.at("lantern-road.heard").exists());
}

#[test]
fn bars_start_where_the_song_is_said_to_change() {
    let desk = Desk::listened(SONG);
    let beats = desk.beats();
    let second = beats.iter().filter(|beat| beat.1 == 2).nth(20).unwrap().0;
    desk.mark(&["change", &format!("0:{second:.2}")]);
    let after = desk.beats();
    let at = after.iter().position(|beat| (beat.0 - second).abs() < 0.07).unwrap();
    assert_eq!(after[at].1, 1);
    assert_eq!(after[at + 4].1, 1);
    let before = bars(&beats).into_iter().filter(|&t| t < second - 3.0).collect::<Vec<_>>();
    let kept = bars(&after).into_iter().filter(|&t| t < second - 3.0).collect::<Vec<_>>();
    assert!(f(&before, &kept) > 0.95, "bars before the change stay");
}
