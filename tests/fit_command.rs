//! `hoofbeat fit` as a teacher and as a machine meet it.

use std::path::Path;

use assert_cmd::Command;
use serde_json::{Value, json};

/// A song map at 120 counts a minute from 0:01.00: beats heard, phrases marked as `(label, counts)`.
fn map(phrases: &[(&str, u32)]) -> Value {
    let counts: u32 = phrases.iter().map(|p| p.1).sum();
    let time = |count: u32| 1.0 + 0.5 * f64::from(count);
    let mut start = 0;
    let mut marks = Vec::new();
    for (label, counts) in phrases {
        marks.push(json!({"label": label, "start_s": time(start)}));
        start += counts;
    }
    json!({
        "format": "hoofbeat-song",
        "version": 1,
        "recording": {
            "file": "lantern.wav", "duration_s": time(counts) + 2.0, "sample_rate_hz": 44100,
            "channels": 2, "title": "Lantern Street", "artist": "The Ladder Band", "fingerprint": "0"
        },
        "heard": {
            "tempo_bpm": 120.0, "tempo_confidence": 0.9, "steady": true,
            "beats_s": (0..counts).map(time).collect::<Vec<_>>(),
            "downbeats": (0..counts).step_by(4).collect::<Vec<_>>(),
            "beats_per_bar": 4, "grid_confidence": 0.9, "other_pulses": [], "phrases": [],
            "first_count_beat": 0
        },
        "set": {"phrases": marks, "phrases_complete": true}
    })
}

const SHEET: &str = "\
Title: Lamplighters
Wait: 16

Part A (32)
4 Triple
4 Fancy Double

Part B (32)
6 Triple
4 Single Basics

Order: A B A B
";

struct Answer {
    code: i32,
    out: String,
    err: String,
}

fn run(folder: &Path, more: &[&str]) -> Answer {
    let out = Command::cargo_bin("hoofbeat")
        .unwrap()
        .current_dir(folder)
        .args(["fit", "song.json", "routine.txt"])
        .args(more)
        .output()
        .unwrap();
    Answer {
        code: out.status.code().unwrap(),
        out: String::from_utf8(out.stdout).unwrap(),
        err: String::from_utf8(out.stderr).unwrap(),
    }
}

fn fit(phrases: &[(&str, u32)], sheet: &str, more: &[&str]) -> Answer {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("song.json"), map(phrases).to_string()).unwrap();
    std::fs::write(folder.path().join("routine.txt"), sheet).unwrap();
    run(folder.path(), more)
}

const MEETS: [(&str, u32); 5] =
    [("intro", 16), ("verse", 32), ("chorus", 32), ("verse", 32), ("chorus", 32)];
const CHORUS_OF_36: [(&str, u32); 5] =
    [("intro", 16), ("verse", 32), ("chorus", 36), ("verse", 32), ("chorus", 32)];

#[test]
fn a_routine_that_fits_exits_0_and_says_so_first() {
    let answer = fit(&MEETS, SHEET, &[]);
    assert_eq!(answer.code, 0, "{} {}", answer.out, answer.err);
    assert!(
        answer.out.starts_with("It fits: 4 parts, each meets its phrases.\n"),
        "{}",
        answer.out
    );
    assert!(
        answer.out.contains(
            "wait 16 counts (2 eights): counting starts at 0:01.00, first step at 0:09.00"
        )
    );
}

#[test]
fn a_routine_that_does_not_fit_exits_1_and_says_what_would_mend_it() {
    let answer = fit(&CHORUS_OF_36, SHEET, &[]);
    assert_eq!(answer.code, 1, "{} {}", answer.out, answer.err);
    assert!(answer.out.contains(
        "Chorus 1 is 36 counts and Part B 32: 4 counts are left over at 0:41.00, left foot free."
    ));
    assert!(answer.out.contains("Fancy double: L R LR LR"), "{}", answer.out);
}

#[test]
fn the_fill_put_into_the_sheet_makes_it_fit() {
    let with_fill =
        SHEET.replace("Order: A B A B", "Fill (4)\nFancy Double\n\nOrder: A B Fill A B");
    assert_eq!(fit(&CHORUS_OF_36, &with_fill, &[]).code, 0);
    // Where there is no gap, the same fill is one too many.
    let answer = fit(&MEETS, &with_fill, &["--json"]);
    assert_eq!(answer.code, 1);
    let found: Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!(found["mismatches"][0]["kind"], "fill-without-gap");
}

#[test]
fn the_answer_for_a_machine_has_the_fields_of_the_contract() {
    let answer = fit(&CHORUS_OF_36, SHEET, &["--json"]);
    let found: Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!(found["fits"], false);
    assert_eq!(found["wait"], json!({"counts": 16, "start_s": 1.0, "end_s": 9.0}));
    let second = json!({
        "part": "Part B", "time_round": 1, "start_count": 49, "counts": 32, "danced": 32,
        "left_out": false, "start_s": 25.0, "end_s": 41.0, "phrase": "chorus", "phrase_index": 2, "lead_foot": "left",
        "free_foot_after": "left", "wall_before": "front", "wall_after": "front"
    });
    assert_eq!(found["placements"][1], second);
    let mismatch = &found["mismatches"][0];
    for (field, value) in [
        ("kind", json!("part-too-short")),
        ("at_count", json!(81)),
        ("at_s", json!(41.0)),
        ("counts", json!(4)),
        ("part", json!("Part B")),
        ("phrase", json!("chorus")),
    ] {
        assert_eq!(mismatch[field], value, "{field}");
    }
    assert!(mismatch["message"].as_str().unwrap().contains("4 counts are left over"));
    let fill = &found["suggestions"][0];
    for (field, value) in [
        ("mends", json!(0)),
        ("kind", json!("fill")),
        ("counts", json!(4)),
        ("steps", json!(["Fancy double"])),
        ("feet", json!(["L R LR LR"])),
    ] {
        assert_eq!(fill[field], value, "{field}");
    }
}

#[test]
fn errors_exit_2_and_write_nothing() {
    let bad_sheet = fit(&MEETS, "Part A\n4 Tripple\n\nOrder: A Q\n", &["-o", "out.txt"]);
    assert_eq!(bad_sheet.code, 2);
    assert!(bad_sheet.err.contains("line 2"), "{}", bad_sheet.err);
    assert!(bad_sheet.out.is_empty());

    let folder = tempfile::tempdir().unwrap();
    let missing = run(folder.path(), &[]);
    assert_eq!(missing.code, 2);
    assert!(missing.err.contains("song.json: no such file"), "{}", missing.err);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn a_mend_is_written_into_a_new_sheet_that_then_fits() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    std::fs::write(path("song.json"), map(&CHORUS_OF_36).to_string()).unwrap();
    std::fs::write(path("routine.txt"), SHEET).unwrap();
    let made = run(folder.path(), &["--apply", "1", "-o", "mended.txt"]);
    assert_eq!(made.code, 0, "{}", made.err);
    assert!(made.err.contains("it fits"), "{}", made.err);
    let mended = std::fs::read_to_string(path("mended.txt")).unwrap();
    assert!(mended.starts_with("Title: Lamplighters\nWait: 16\n\nPart A (32)\n"), "{mended}");
    assert!(mended.ends_with("Order: A B Fill A B\n"), "{mended}");
    assert_eq!(std::fs::read_to_string(path("routine.txt")).unwrap(), SHEET);
    // A sheet that is there already stays, and a number that no mend has is said.
    assert_eq!(run(folder.path(), &["--apply", "1", "-o", "mended.txt"]).code, 2);
    let none = run(folder.path(), &["--apply", "99", "-o", "other.txt"]);
    assert_eq!(none.code, 2);
    assert!(none.err.contains("numbers its mends from 1 to"), "{}", none.err);
    assert!(!path("other.txt").exists());
    std::fs::write(path("routine.txt"), mended).unwrap();
    assert_eq!(run(folder.path(), &[]).code, 0);
}

#[test]
fn a_mend_is_written_into_a_sheet_that_is_read_with_a_file_of_steps() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    std::fs::write(path("song.json"), map(&CHORUS_OF_36).to_string()).unwrap();
    std::fs::write(path("ours.txt"), "Lantern Kick = DS K DS RS\n").unwrap();
    let sheet = SHEET.replace("4 Fancy Double", "4 Lantern Kick");
    std::fs::write(path("routine.txt"), &sheet).unwrap();
    let with = ["--steps", "ours.txt", "--apply", "1", "-o", "mended.txt"];
    let made = run(folder.path(), &with);
    assert_eq!(made.code, 0, "{}", made.err);
    let mended = std::fs::read_to_string(path("mended.txt")).unwrap();
    assert!(mended.contains("Fill (4)\nLantern Kick\n"), "{mended}");
    assert!(mended.contains("4 Triple\n4 Lantern Kick\n"), "{mended}");
    std::fs::write(path("routine.txt"), mended).unwrap();
    assert_eq!(run(folder.path(), &["--steps", "ours.txt"]).code, 0);
}

#[test]
fn level_and_load_are_figures_for_a_machine_too() {
    let sheet = SHEET.replace("Wait: 16\n", "Wait: 16\nLevel: Beginner\n");
    let found: Value = serde_json::from_str(&fit(&MEETS, &sheet, &["--json"]).out).unwrap();
    assert_eq!(found["load"]["counts_a_minute"], 120.0);
    assert_eq!(found["load"]["usual_counts_a_minute"], json!([100, 115]));
    assert_eq!(found["load"]["beside_usual"], "above");
    assert_eq!(found["load"]["longest_run"]["counts"], 128);
    assert_eq!(found["load"]["longest_run"]["seconds"], 64.0);
}

#[test]
fn a_part_without_room_is_shown_as_left_out() {
    let with_fill =
        SHEET.replace("Order: A B A B", "Fill (4)\nFancy Double\n\nOrder: A B Fill A B");
    let answer = fit(&MEETS, &with_fill, &["--json"]);
    let found: Value = serde_json::from_str(&answer.out).unwrap();
    let fill = &found["placements"][2];
    assert_eq!((&fill["counts"], &fill["danced"]), (&json!(4), &json!(0)));
    assert_eq!(fill["left_out"], true);
    assert_eq!(fill["start_s"], fill["end_s"]);
    let table = fit(&MEETS, &with_fill, &[]).out;
    assert!(table.contains("0 of 4"), "{table}");
}
