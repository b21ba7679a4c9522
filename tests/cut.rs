//! Recordings cut to order through the program, held against the songs' true beats.

use std::path::PathBuf;
use std::process::Output;

use serde_json::Value;
use tempfile::TempDir;

use crate::demo_audio;

struct Desk {
    folder: TempDir,
    /// True times of the beats, counts from the first on.
    truth_s: Vec<f64>,
}

impl Desk {
    /// A demo song listened to as `song`, its true form marked.
    fn listened(file: &str) -> Desk {
        let (stem, ending) = file.split_once('.').unwrap();
        let folder = tempfile::tempdir().unwrap();
        let audio = format!("song.{ending}");
        std::fs::copy(demo_audio(file), folder.path().join(&audio)).unwrap();
        let rows = |name: String| std::fs::read_to_string(demo_audio(&name)).unwrap();
        let column = |line: &str, n: usize| line.split('\t').nth(n).unwrap().to_string();
        let beats = rows(format!("{stem}.beats"));
        let truth_s = beats.lines().map(|line| column(line, 0).parse().unwrap());
        let form: Vec<String> = rows(format!("{stem}.phrases"))
            .lines()
            .map(|line| format!("{} {}", column(line, 2), column(line, 3)))
            .collect();
        let desk = Desk { folder, truth_s: truth_s.collect() };
        desk.good(&["listen", &audio]);
        let first = desk.truth_s[0].to_string();
        desk.good(&["mark", "song.song.json", "first", &first]);
        desk.good(&["mark", "song.song.json", "form", &form.join(", ")]);
        desk
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, args: &[&str]) -> Output {
        crate::hoofbeat(self.folder.path(), args)
    }

    fn good(&self, args: &[&str]) -> String {
        crate::good(self.folder.path(), args)
    }

    fn cut(&self, order: &[&str], to: &str) -> Value {
        let text = self.good(&[&["cut", "song.song.json", "--json", "-o", to], order].concat());
        serde_json::from_str(&text).unwrap()
    }

    fn beats_s(&self, map: &str) -> Vec<f64> {
        let text = std::fs::read_to_string(self.at(map)).unwrap();
        let map: Value = serde_json::from_str(&text).unwrap();
        let beats = map["heard"]["beats_s"].as_array().unwrap();
        beats.iter().map(|beat| beat.as_f64().unwrap()).collect()
    }
}

/// Where the true beats of the song come to lie in a cut, found from how far each piece was moved.
fn true_times_in_cut(desk: &Desk, answer: &Value, new_beats_s: &[f64]) -> Vec<f64> {
    let old_beats_s = desk.beats_s("song.song.json");
    let first = old_beats_s
        .iter()
        .position(|b| (b - desk.truth_s[0]).abs() < 0.1)
        .expect("the first count was heard");
    let mut times_s = Vec::new();
    for piece in answer["pieces"].as_array().unwrap() {
        let from = piece["from"].as_u64().unwrap() as usize - 1;
        let to = piece["to"].as_u64().unwrap() as usize - 1;
        // The first count after a join is laid by ear; the others tell how far the piece was moved.
        let moved_s = old_beats_s[first + from + 1] - new_beats_s[times_s.len() + 1];
        times_s.extend((from..to).map(|count| desk.truth_s[count] - moved_s));
    }
    times_s
}

#[test]
fn joins_are_exact_in_every_format() {
    let orders: [(&str, &[&[&str]]); 3] = [
        (
            "lantern-road.mp3",
            &[
                &["--to", "1:30"],
                &["--to", "0:55"],
                &["--keep", "intro, verse 1, chorus 3, bridge, verse 2, ending"],
            ],
        ),
        ("marrow-bay-waltz.ogg", &[&["--to", "1:10"], &["--to", "1:20-1:40"]]),
        ("coopers-left-boot.flac", &[&["--to", "0:50"], &["--keep", "A 1, B 2, A 1, A 2"]]),
    ];
    let (mut joins, mut cuts) = (0, 0);
    for (file, orders) in orders {
        let desk = Desk::listened(file);
        for (order, ending) in orders.iter().zip(["wav", "flac", "ogg"]) {
            let to = format!("cut-{cuts}.{ending}");
            let answer = desk.cut(order, &to);
            let new_beats_s = desk.beats_s(&format!("cut-{cuts}.song.json"));
            assert_eq!(new_beats_s.len() as u64, answer["counts"].as_u64().unwrap());
            cuts += 1;
            let times_s = true_times_in_cut(&desk, &answer, &new_beats_s);
            let (mut here, mut left, mut join_of_cut) = (0, 0, 0);
            for piece in answer["pieces"].as_array().unwrap() {
                if here > 0 {
                    let across_s = times_s[here] - times_s[here - 1];
                    let next = piece["from"].as_u64().unwrap() as usize - 1;
                    // The last interval before a place; the song's first and last are at its ends.
                    let before_s = |count: usize| {
                        let count = count.clamp(1, desk.truth_s.len() - 1);
                        desk.truth_s[count] - desk.truth_s[count - 1]
                    };
                    let even_s = (before_s(left) + before_s(next)) / 2.0;
                    let unlike = answer["joins"][join_of_cut]["unlike"].as_f64().unwrap();
                    let off_s = across_s - even_s;
                    println!("{file} {order:?}: {:+.1} ms, {unlike:.2} unlike", 1000.0 * off_s);
                    assert!(off_s.abs() < 0.005, "{file} {order:?}: {across_s} {even_s}");
                    join_of_cut += 1;
                    joins += 1;
                }
                here += (piece["to"].as_u64().unwrap() - piece["from"].as_u64().unwrap()) as usize;
                left = piece["to"].as_u64().unwrap() as usize - 1;
            }
        }
    }
    assert!(joins >= 7, "{joins} joins were heard");
}

#[test]
fn a_cut_is_within_its_limit_and_its_map_goes_on_working() {
    let desk = Desk::listened("lantern-road.mp3");
    let answer = desk.cut(&["--to", "1:30"], "short.wav");
    let duration_s = answer["duration_s"].as_f64().unwrap();
    assert!(duration_s <= 90.0);
    let written = hound::WavReader::open(desk.at("short.wav")).unwrap();
    let written_s = f64::from(written.duration()) / f64::from(written.spec().sample_rate);
    assert!((written_s - duration_s).abs() < 0.01, "{written_s} {duration_s}");
    let phrases = desk.good(&["export", "short.song.json", "--as", "phrases", "-o", "-"]);
    let counts: u64 =
        phrases.lines().map(|l| l.split('\t').nth(3).unwrap().parse::<u64>().unwrap()).sum();
    assert_eq!(counts, answer["counts"].as_u64().unwrap());
    assert!(phrases.lines().next().unwrap().contains("intro\t16"), "{phrases}");
    // Listening to the cut anew keeps what was carried.
    desk.good(&["listen", "short.wav"]);
    let again = desk.good(&["export", "short.song.json", "--as", "phrases", "-o", "-"]);
    let labels = |text: &str| -> Vec<String> {
        text.lines().map(|l| l.split('\t').skip(2).collect::<Vec<_>>().join(" ")).collect()
    };
    assert_eq!(labels(&again), labels(&phrases));
}

#[test]
fn a_routine_fits_the_cut_made_for_it() {
    let desk = Desk::listened("lantern-road.mp3");
    std::fs::copy(demo_audio("lantern-road.txt"), desk.at("routine.txt")).unwrap();
    assert_eq!(desk.run(&["fit", "song.song.json", "routine.txt"]).status.code(), Some(1));
    desk.cut(&["--routine", "routine.txt"], "made.flac");
    assert_eq!(desk.run(&["fit", "made.song.json", "routine.txt"]).status.code(), Some(0));
}

#[test]
fn what_cannot_be_done_is_said_and_nothing_is_written() {
    let desk = Desk::listened("lantern-road.mp3");
    let refused = |args: &[&str], words: &str| {
        let output = desk.run(&[&["cut", "song.song.json"], args].concat());
        let stderr = String::from_utf8_lossy(&output.stderr).to_string();
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(stderr.contains(words), "{args:?}: {stderr}");
    };
    refused(&[], "say what the cut is for");
    refused(&["--to", "soon"], "2:00");
    refused(&["--to", "2:00-1:00"], "1:30-2:00");
    refused(&["--to", "0:02"], "no cut between");
    refused(&["--keep", "polka"], "\"polka\"");
    refused(&["--to", "1:00", "-o", "a.mp3"], ".wav, .flac or .ogg");
    refused(&["--to", "1:00", "-o", "song.mp3"], "exists already");
    refused(&["--to", "1:00", "-o", "song.mp3", "--force"], "name of its own");
    refused(&["--to", "1:00", "-o", "no/such/folder/a.wav"], "no/such/folder");
    refused(&["--to", "1:00", "--recording", "gone.mp3", "-o", "a.wav"], "gone.mp3");
    std::fs::remove_file(desk.at("song.mp3")).unwrap();
    refused(&["--to", "1:00", "-o", "a.wav"], "--recording");
    let left: Vec<String> = std::fs::read_dir(desk.folder.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert!(left.iter().all(|name| name.starts_with("song.")), "{left:?}");
}
