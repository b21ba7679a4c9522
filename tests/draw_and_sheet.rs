//! `draw` and `sheet` as a teacher runs them.

use std::fs;
use std::path::Path;

use tempfile::TempDir;

/// A song at 120 counts a minute, its second chorus four counts longer than the routine's.
fn map() -> String {
    let form = [
        ("intro", 16),
        ("verse", 32),
        ("chorus", 36),
        ("verse", 32),
        ("chorus", 40),
        ("bridge", 16),
        ("chorus", 36),
        ("ending", 8),
    ];
    let total: usize = form.iter().map(|p| p.1).sum();
    let time = |beat: usize| 1.86 + beat as f64 * 0.5;
    let mut at = 0;
    let mut phrases = Vec::new();
    for (label, counts) in form {
        phrases.push(serde_json::json!({ "label": label, "start_s": time(at) }));
        at += counts;
    }
    serde_json::json!({
        "format": "hoofbeat-song",
        "version": 1,
        "recording": {
            "file": "lanterns.wav", "duration_s": time(total) + 3.0, "sample_rate_hz": 44100,
            "channels": 2, "title": "Paper Lanterns", "artist": "The Sawdust Band", "fingerprint": "0"
        },
        "heard": {
            "tempo_bpm": 120.0, "tempo_confidence": 0.9, "steady": true,
            "beats_s": (0..total + 2).map(time).collect::<Vec<f64>>(),
            "downbeats": (0..total).step_by(4).collect::<Vec<usize>>(),
            "beats_per_bar": 4, "grid_confidence": 0.9, "other_pulses": [], "first_count_beat": 0,
            "phrases": [{ "label": "intro", "beat": 0, "strength": 0.5 }]
        },
        "set": { "phrases": phrases, "phrases_complete": true, "end_s": time(total) }
    })
    .to_string()
}

/// A folder with a map whose name has blanks, and the routine.
fn folder() -> TempDir {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("my lanterns.song.json"), map()).unwrap();
    let sheet = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/routines/lantern-walk.txt");
    fs::copy(sheet, folder.path().join("walk.txt")).unwrap();
    folder
}

fn hoofbeat(folder: &TempDir, args: &[&str]) -> (i32, String, String) {
    let output = crate::hoofbeat(folder.path(), args);
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

fn files(folder: &TempDir) -> usize {
    fs::read_dir(folder.path()).unwrap().count()
}

#[test]
fn a_timeline_is_saved_beside_the_map_and_drawn_anew() {
    let folder = folder();
    let (code, out, err) = hoofbeat(&folder, &["draw", "my lanterns.song.json"]);
    assert_eq!((code, out.as_str(), err.as_str()), (0, "", "saved my lanterns.timeline.svg\n"));
    let path = folder.path().join("my lanterns.timeline.svg");
    let alone = fs::read_to_string(&path).unwrap();
    let (code, ..) = hoofbeat(&folder, &["draw", "my lanterns.song.json", "walk.txt"]);
    assert_eq!(code, 0);
    let laid = fs::read_to_string(&path).unwrap();
    assert_ne!(alone, laid);
    assert!(laid.contains("Lantern Walk on Paper Lanterns"));
    assert!(laid.contains("1 place does not meet"));
    assert!(laid.contains("4 left over"));
}

#[test]
fn another_file_of_that_name_is_kept() {
    let folder = folder();
    let path = folder.path().join("my lanterns.timeline.svg");
    fs::write(&path, "mine").unwrap();
    let (code, _, err) = hoofbeat(&folder, &["draw", "my lanterns.song.json"]);
    assert_eq!(code, 2);
    assert!(err.contains("exists already") && err.contains("--force"), "{err}");
    assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
    let (code, ..) = hoofbeat(&folder, &["draw", "my lanterns.song.json", "--force"]);
    assert_eq!(code, 0);
}

#[test]
fn paper_and_place_can_be_chosen() {
    let folder = folder();
    let args = ["draw", "my lanterns.song.json", "walk.txt", "--paper", "letter", "-o", "-"];
    let (code, out, _) = hoofbeat(&folder, &args);
    assert_eq!(code, 0);
    assert!(out.contains("width=\"279.4mm\" height=\"215.9mm\""));
    assert_eq!(files(&folder), 2, "nothing is saved");
}

#[test]
fn the_sheet_has_times_feet_and_what_does_not_meet() {
    let folder = folder();
    let (code, out, _) = hoofbeat(&folder, &["sheet", "my lanterns.song.json", "walk.txt"]);
    assert_eq!(code, 0);
    for said in [
        "Lantern Walk\n============\n",
        "Start:     wait 16 counts (2 eights), count 1 at 0:01.86, first step at 0:09.86",
        // Triple: DS DS DS RS, L R L RL (Clogging 101, lessons 1-2), the next on the other foot.
        ":          DS DS DS RS  DS DS DS RS  DS DS DS RS",
        ":          L  R  L  RL  R  L  R  LR  L  R  L  RL",
        "117-152   0:59.86  Chorus, 2nd time     chorus 2       4 eights and 4  L  front",
        "DOES NOT MEET",
        "153-156   1:17.86  - no steps",
        "stop at pain",
    ] {
        assert!(out.contains(said), "{said:?} is not in\n{out}");
    }
}

#[test]
fn sheets_plans_and_packs_are_written_and_opened() {
    let folder = folder();
    let map = "my lanterns.song.json";
    for (file, begins) in [("s.html", "<!DOCTYPE html>"), ("s.pdf", "%PDF-")] {
        let (code, out, err) = hoofbeat(&folder, &["sheet", map, "walk.txt", "-o", file]);
        assert_eq!((code, out.as_str()), (0, ""), "{err}");
        assert!(fs::read(folder.path().join(file)).unwrap().starts_with(begins.as_bytes()));
    }
    let (code, out, _) = hoofbeat(&folder, &["lesson", map, "walk.txt", "--minutes", "30"]);
    assert_eq!(code, 0);
    assert!(out.contains("WARM UP") && out.contains("hoofbeat practice \"my lanterns.song.json\""));
    let (code, out, _) = hoofbeat(&folder, &["lesson", map, "walk.txt", "--json"]);
    let plan: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((code, plan["minutes"].as_u64()), (0, Some(60)));
    let (code, _, err) = hoofbeat(&folder, &["pack", map, "walk.txt", "-o", "pack.zip"]);
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("the recording is not in it"));
    // A recording that is none of these.
    let other = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-audio/acorns-in-a-hatbox.wav");
    let (code, _, err) =
        hoofbeat(&folder, &["open", "pack.zip", other.to_str().unwrap(), "--into", ".", "--force"]);
    assert_eq!(code, 2);
    assert!(err.contains("sounds different") && err.contains("recut"), "{err}");
    let before = files(&folder);
    for args in [
        &["lesson", map, "walk.txt", "--minutes", "3"][..],
        &["lesson", map, "walk.txt", "-o", "plan.pdf"],
        &["pack", map, "walk.txt", "-o", "pack.zip"],
        &["pack", map, "walk.txt", "-o", "no/such/pack.zip"],
        &["pack", map, "walk.txt", "-o", "p", "--with-recording"],
        &["open", "walk.txt", "walk.txt"],
        &["open", "none.zip", "walk.txt"],
        &["export", map, "--as", "calls"],
        &["sheet", map, "walk.txt", "-o", "no/such/s.pdf"],
        &["sheet", map, "walk.txt", "-o", "s.pdf"],
    ] {
        let (code, out, err) = hoofbeat(&folder, args);
        assert_eq!(code, 2, "{args:?}: {err}");
        assert!(out.is_empty() && err.starts_with("error: "), "{args:?}: {out}{err}");
        assert_eq!(files(&folder), before, "{args:?} leaves something");
    }
}

#[test]
fn a_routine_alone_has_a_sheet_too() {
    let folder = folder();
    let (code, out, _) = hoofbeat(&folder, &["sheet", "walk.txt"]);
    assert_eq!(code, 0);
    assert!(out.contains("ORDER, counted from the first step"));
    let (code, _, err) = hoofbeat(&folder, &["sheet", "my lanterns.song.json"]);
    assert_eq!(code, 2);
    assert!(err.contains("name the routine's sheet behind it"), "{err}");
}

#[test]
fn what_cannot_be_read_is_an_error_and_writes_nothing() {
    let folder = folder();
    fs::write(folder.path().join("empty.song.json"), "").unwrap();
    fs::write(folder.path().join("wrong.txt"), "Part A (32)\n4 Tripple\n\nOrder: A Q\n").unwrap();
    let before = files(&folder);
    for args in [
        &["draw", "none.song.json"][..],
        &["draw", "empty.song.json"],
        &["draw", "."],
        &["draw", "walk.txt"],
        &["draw", "my lanterns.song.json", "none.txt"],
        &["draw", "my lanterns.song.json", "wrong.txt"],
        &["draw", "my lanterns.song.json", "--paper", "a0"],
        &["draw", "my lanterns.song.json", "-o", "no/such/folder.svg"],
        &["sheet", "my lanterns.song.json", "wrong.txt"],
        &["sheet", "wrong.txt"],
        &["sheet"],
    ] {
        let (code, out, err) = hoofbeat(&folder, args);
        assert_eq!(code, 2, "{args:?}: {err}");
        assert!(out.is_empty() && !err.is_empty(), "{args:?}: {out}");
        assert_eq!(files(&folder), before, "{args:?}");
    }
}
