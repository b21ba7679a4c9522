//! Practice audio made through the program: what is asked for, and what cannot be.

use std::path::PathBuf;
use std::process::Output;

use serde_json::Value;
use tempfile::TempDir;

use crate::demo_audio;

struct Desk(TempDir);

impl Desk {
    fn listened() -> Desk {
        let desk = Desk(tempfile::tempdir().unwrap());
        std::fs::copy(demo_audio("lantern-road.mp3"), desk.at("song.mp3")).unwrap();
        std::fs::copy(demo_audio("lantern-road.txt"), desk.at("routine.txt")).unwrap();
        assert!(desk.run(&["listen", "song.mp3"]).status.success());
        desk
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, args: &[&str]) -> Output {
        crate::hoofbeat(self.0.path(), args)
    }

    fn practice(&self, args: &[&str], to: &str) -> Value {
        let given = ["practice", "song.song.json", "routine.txt", "--json", "-o", to];
        let output = self.run(&[&given, args].concat());
        assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    }

    /// Left channel and rate of a WAV.
    fn sound(&self, name: &str) -> (Vec<f32>, f64) {
        let mut reader = hound::WavReader::open(self.at(name)).unwrap();
        let rate = f64::from(reader.spec().sample_rate);
        let samples: Vec<f32> =
            reader.samples::<i16>().map(|x| f32::from(x.unwrap()) / 32_768.0).collect();
        (samples.into_iter().step_by(2).collect(), rate)
    }
}

/// Times at which a click starts: loud after 20 quiet milliseconds.
fn clicks(samples: &[f32], rate: f64) -> Vec<f64> {
    let quiet = (0.02 * rate) as usize;
    let mut last_loud = 0;
    let mut found = Vec::new();
    for (n, x) in samples.iter().enumerate() {
        if x.abs() > 0.02 {
            if n - last_loud > quiet {
                found.push(n as f64 / rate);
            }
            last_loud = n;
        }
    }
    found
}

#[test]
fn clicks_stand_at_the_counts_at_any_tempo() {
    let desk = Desk::listened();
    for percent in ["60", "75", "100", "120"] {
        let told = desk.practice(
            &["--counts", "49-80", "--tempo", percent, "--times", "2", "--no-music", "--force"],
            "clicks.wav",
        );
        let map: Value =
            serde_json::from_slice(&std::fs::read(desk.at("song.song.json")).unwrap()).unwrap();
        let beats: Vec<f64> = map["heard"]["beats_s"]
            .as_array()
            .unwrap()
            .iter()
            .map(|b| b.as_f64().unwrap())
            .collect();
        let first = map["heard"]["first_count_beat"].as_u64().unwrap() as usize;
        let (samples, rate) = desk.sound("clicks.wav");
        let heard = clicks(&samples, rate);
        assert_eq!(heard.len(), 8 + 2 * 32, "{percent}: a lead-in of 8, and 32 counts twice");
        let tempo: f64 = percent.parse::<f64>().unwrap() / 100.0;
        let mut at = 8;
        for marker in told["markers"].as_array().unwrap() {
            for count in 48..80 {
                let song_s = beats[first + count] - beats[first + 48];
                let wanted_s = marker["at_s"].as_f64().unwrap() + song_s / tempo;
                assert!(
                    (heard[at] - wanted_s).abs() < 0.001,
                    "{percent}: {} {wanted_s}",
                    heard[at]
                );
                at += 1;
            }
        }
    }
}

#[test]
fn loops_have_no_seam_and_nothing_is_at_full_scale() {
    let desk = Desk::listened();
    let args = ["--part", "B", "--tempo", "80", "--times", "3", "--no-click", "--lead-in", "0"];
    let told = desk.practice(&args, "loop.wav");
    let (samples, rate) = desk.sound("loop.wav");
    assert!(samples.iter().all(|x| x.abs() < 0.95));
    let rise = |n: usize| (samples[n + 1] - samples[n]).abs();
    let anywhere = (0..samples.len() - 1).map(rise).fold(0f32, f32::max);
    for marker in &told["markers"].as_array().unwrap()[1..] {
        let seam = (marker["at_s"].as_f64().unwrap() * rate) as usize;
        let around = seam - (0.03 * rate) as usize..seam;
        let here = around.clone().map(rise).fold(0f32, f32::max);
        assert!(here <= anywhere, "no click at the seam");
        let power = |range: std::ops::Range<usize>| {
            samples[range.clone()].iter().map(|x| x * x).sum::<f32>() / range.len() as f32
        };
        let before = power(seam - (0.2 * rate) as usize..seam - (0.05 * rate) as usize);
        assert!(power(around) > 0.05 * before, "no hole at the seam");
    }
}

#[test]
fn steps_sound_the_routine_and_calls_come_ahead() {
    let desk = Desk::listened();
    let steps = ["--part", "A", "--no-music", "--no-click", "--steps", "--lead-in", "0"];
    desk.practice(&steps, "steps.wav");
    let (samples, rate) = desk.sound("steps.wav");
    // Part A: 2 triples (DS DS DS RS: 11 sounds each), 4 rocking chairs, 2 fancy doubles: far more than counts.
    let heard = clicks(&samples, rate).len();
    assert!(heard > 60, "{heard} sounds");
    // Part B starts on count 49, 16 counts after the start of this stretch, and is called two counts ahead.
    let calls = ["--counts", "33-64", "--no-music", "--no-click", "--calls", "--lead-in", "0"];
    let told = desk.practice(&calls, "calls.wav");
    let (samples, rate) = desk.sound("calls.wav");
    let part_s = told["markers"][1]["at_s"].as_f64().unwrap();
    assert_eq!(told["markers"][1]["name"], "Part B");
    let heard = clicks(&samples, rate);
    assert!(heard.iter().any(|t| (part_s - t - 1.0).abs() < 0.03), "{part_s} {heard:?}");
    assert!(heard.iter().all(|t| (part_s - t).abs() > 0.03), "nothing on the count itself");
}

#[test]
fn what_cannot_be_done_is_said_and_nothing_is_written() {
    let desk = Desk::listened();
    std::fs::create_dir(desk.at("empty")).unwrap();
    let refused = |args: &[&str], words: &str| {
        let output = desk.run(&[&["practice", "song.song.json"], args].concat());
        let stderr = String::from_utf8_lossy(&output.stderr).to_string();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {stderr}");
        assert!(stderr.contains(words), "{args:?}: {stderr}");
    };
    let r = "routine.txt";
    refused(&[r, "--part", "B", "--tempo", "0", "-o", "a.wav"], "between 60 and 120");
    refused(&[r, "--part", "B", "--tempo", "1000", "-o", "a.wav"], "between 60 and 120");
    refused(&[r, "--counts", "1-9000", "-o", "a.wav"], "the song has counts 1 to");
    refused(&[r, "--counts", "9-3", "-o", "a.wav"], "65-96");
    refused(&[r, "--part", "Q", "-o", "a.wav"], "no part is called \"Q\"");
    refused(&[r, "--part", "B", "--time", "9", "-o", "a.wav"], "no time 9");
    refused(&[r, "--join", "A", "-o", "a.wav"], "B > Break");
    refused(&[r, "--join", "Ending > A", "-o", "a.wav"], "never followed");
    refused(&["--part", "B", "-o", "a.wav"], "name the routine's sheet");
    refused(&["--steps", "-o", "a.wav"], "name its sheet");
    refused(&["--phrase", "polka", "-o", "a.wav"], "no phrase is called");
    refused(&["--no-music", "--no-click", "-o", "a.wav"], "nothing is left to hear");
    refused(&["--times", "0", "-o", "a.wav"], "from 1 to");
    refused(&["--loudness", "drums=3", "-o", "a.wav"], "click=-6");
    refused(&["--voice", "empty", "--spoken", "-o", "a.wav"], "one.wav to eight.wav");
    refused(&[r, "--words", "empty", "--calls", "-o", "a.wav"], "no recording of any call");
    refused(&["-o", "a.mp3"], ".wav, .flac or .ogg");
    refused(&["-o", "song.mp3"], "exists already");
    std::fs::write(desk.at("nothing.txt"), "Part A (0)\n\nOrder: A\n").unwrap();
    refused(&["nothing.txt", "--part", "A", "-o", "a.wav"], "A");
    std::fs::rename(desk.at("song.mp3"), desk.at("moved.mp3")).unwrap();
    refused(&["-o", "a.wav"], "--recording");
    std::fs::copy(demo_audio("coopers-left-boot.flac"), desk.at("other.flac")).unwrap();
    refused(&["--recording", "other.flac", "-o", "a.wav"], "another recording");
    assert!(!desk.at("a.wav").exists());
    let left: Vec<_> = std::fs::read_dir(desk.0.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| name.starts_with(".hoofbeat"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}
