//! The three stories a teacher tells, each run through the program on recordings in MP3, M4A, FLAC,
//! Ogg and WAV: find the wait, size the fills, try another cut.

use std::path::PathBuf;
use std::process::Output;

use hoofbeat::rhythm::measure;
use serde_json::Value;
use tempfile::TempDir;

use crate::demo_audio;

/// A demo song in a folder of its own, with what is true of it.
struct Song {
    folder: TempDir,
    file: &'static str,
}

/// One song in each format.
const SONGS: [&str; 5] = [
    "lantern-road.mp3",
    "lantern-road-radio-edit.m4a",
    "coopers-left-boot.flac",
    "marrow-bay-waltz.ogg",
    "acorns-in-a-hatbox.wav",
];

impl Song {
    fn new(file: &'static str) -> Song {
        let folder = tempfile::tempdir().unwrap();
        std::fs::copy(demo_audio(file), folder.path().join(file)).unwrap();
        Song { folder, file }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn stem(&self) -> &str {
        self.file.split('.').next().unwrap()
    }

    fn map(&self) -> String {
        format!("{}.song.json", self.stem())
    }

    /// Runs the program in the song's folder.
    fn run(&self, args: &[&str]) -> Output {
        crate::hoofbeat(self.folder.path(), args)
    }

    /// Runs it, asserts its exit code, and returns what it printed.
    fn says(&self, code: i32, args: &[&str]) -> String {
        let output = self.run(args);
        let stderr = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{args:?}: {stderr}");
        String::from_utf8(output.stdout).unwrap()
    }

    fn json(&self, code: i32, args: &[&str]) -> Value {
        serde_json::from_str(&self.says(code, args)).unwrap()
    }

    /// Columns of a truth file beside the demo song.
    fn truth(&self, ending: &str) -> Vec<Vec<String>> {
        rows(&std::fs::read_to_string(demo_audio(&format!("{}.{ending}", self.stem()))).unwrap())
    }

    /// The true form, as a teacher types it.
    fn form(&self) -> String {
        let phrases = self.truth("phrases");
        let typed: Vec<String> = phrases.iter().map(|p| format!("{} {}", p[2], p[3])).collect();
        typed.join(", ")
    }

    /// Listens and marks the true form, counting from the true first count.
    fn listened_and_marked(&self) {
        self.says(0, &["listen", self.file]);
        let first = &self.truth("phrases")[0][0];
        self.says(0, &["mark", &self.map(), "first", first]);
        self.says(0, &["mark", &self.map(), "form", &self.form()]);
    }
}

fn rows(text: &str) -> Vec<Vec<String>> {
    text.lines().map(|line| line.split('\t').map(str::to_string).collect()).collect()
}

fn seconds(row: &[String]) -> f64 {
    row[0].parse().unwrap()
}

#[test]
fn find_the_wait_in_every_format() {
    for file in SONGS {
        let song = Song::new(file);
        let report = song.says(0, &["listen", file]);
        for word in ["tempo", "bars", "counting", "starts at", "wait", "phrase", "saved"] {
            assert!(report.contains(word), "{file}: no {word:?} in the report:\n{report}");
        }

        song.says(0, &["export", &song.map(), "--as", "beats", "-o", "heard.beats"]);
        let heard = rows(&std::fs::read_to_string(song.path("heard.beats")).unwrap());
        let truth = song.truth("beats");
        let (first_s, last_s) = (seconds(&truth[0]), seconds(&truth[truth.len() - 1]));
        let within = |rows: &[Vec<String>]| -> Vec<f64> {
            rows.iter()
                .map(|r| seconds(r))
                .filter(|t| (first_s - 0.1..last_s + 0.1).contains(t))
                .collect()
        };
        let f = measure::f_measure(&within(&truth), &within(&heard), measure::BEAT_WINDOW_S);
        assert!(f > 0.95, "{file}: beats F {f:.3}");

        // She marks the phrases she hears as a list of lengths, and each starts where it truly does.
        song.listened_and_marked();
        let listed = song.json(0, &["mark", &song.map(), "--json"]);
        for (phrase, truth) in
            listed["phrases"].as_array().unwrap().iter().zip(song.truth("phrases"))
        {
            let start_s = phrase["start_s"].as_f64().unwrap();
            assert_eq!(phrase["label"], truth[2], "{file}");
            assert!((start_s - seconds(&truth)).abs() < 0.05, "{file}: {phrase} for {truth:?}");
        }
    }
}

#[test]
fn the_wait_of_the_demo_song_is_sixteen_counts() {
    let song = Song::new("lantern-road.mp3");
    song.listened_and_marked();
    let listed = song.json(0, &["mark", &song.map(), "--json"]);
    assert_eq!(listed["song"]["wait"], 16);
    // The truth of the recording: count 1 at 1.857 s, the verse at 9.907 s.
    assert!((listed["song"]["first_count_s"].as_f64().unwrap() - 1.857).abs() < 0.03);
    assert!((listed["song"]["wait_end_s"].as_f64().unwrap() - 9.907).abs() < 0.03);
}

#[test]
fn size_the_fills() {
    let song = Song::new("lantern-road.mp3");
    song.listened_and_marked();
    let routine = demo_audio("lantern-road.txt");
    let fit = song.json(1, &["fit", &song.map(), routine.to_str().unwrap(), "--json"]);
    assert_eq!(fit["fits"], false);
    let mismatches = fit["mismatches"].as_array().unwrap();
    assert_eq!(mismatches.len(), 1, "the second chorus leaves no gap: {mismatches:?}");
    assert_eq!(mismatches[0]["kind"], "part-too-short");
    assert_eq!(mismatches[0]["counts"], 4);
    assert_eq!(mismatches[0]["phrase"], "chorus");
    // Wait 16, verse 32, Part B 32: the gap starts on count 81.
    assert_eq!(mismatches[0]["at_count"], 81);
    let fill = &fit["suggestions"][0];
    assert_eq!(fill["kind"], "fill");
    assert_eq!(fill["counts"], 4);
    assert_eq!((&fill["lead_foot"], &fill["free_foot_after"]), (&"left".into(), &"left".into()));
    assert!(!fill["steps"].as_array().unwrap().is_empty());

    let mended = demo_audio("lantern-road-with-fill.txt");
    let fit = song.json(0, &["fit", &song.map(), mended.to_str().unwrap(), "--json"]);
    assert_eq!(fit["fits"], true, "{}", fit["mismatches"]);
}

#[test]
fn routines_made_for_the_other_songs_fit_them() {
    for (file, routine) in [
        ("coopers-left-boot.flac", "coopers-left-boot.txt"),
        ("marrow-bay-waltz.ogg", "marrow-bay-waltz.txt"),
    ] {
        let song = Song::new(file);
        song.listened_and_marked();
        let routine = demo_audio(routine);
        let fit = song.json(0, &["fit", &song.map(), routine.to_str().unwrap(), "--json"]);
        assert_eq!(fit["fits"], true, "{file}: {}", fit["mismatches"]);
    }
}

#[test]
fn a_fill_is_sized_in_every_format() {
    // A part four counts shorter than its phrase, on the second phrase of every song.
    for file in SONGS {
        let song = Song::new(file);
        song.listened_and_marked();
        let phrases = song.truth("phrases");
        let counts = |i: usize| phrases[i][3].parse::<u32>().unwrap();
        let danced = usize::from(phrases[0][2] == "intro");
        let wait = if danced == 1 { counts(0) } else { 0 };
        let mut sheet = format!("Short measure\nWait: {wait}\n\n");
        let mut order = Vec::new();
        for i in danced..phrases.len() {
            let name = char::from(b'A' + (i - danced) as u8);
            let short = if i == danced + 1 { 4 } else { 0 };
            // Lengths are taken from the headings; these parts have no steps to count.
            sheet.push_str(&format!("Part {name} ({} counts)\n\n", counts(i) - short));
            order.push(format!("Part {name}"));
        }
        sheet.push_str(&format!("Order: {}\n", order.join(", ")));
        std::fs::write(song.path("short.txt"), sheet).unwrap();
        let fit = song.json(1, &["fit", &song.map(), "short.txt", "--json"]);
        let found: Vec<(&Value, &Value, &Value)> = fit["mismatches"]
            .as_array()
            .unwrap()
            .iter()
            .map(|m| (&m["kind"], &m["counts"], &m["part"]))
            .collect();
        let expected = (&Value::from("part-too-short"), &Value::from(4), &Value::from("Part B"));
        assert_eq!(found, [expected], "{file}: {fit}");
    }
}

#[test]
fn another_cut_does_not_fit_and_it_says_where_and_by_how_much() {
    let song = Song::new("lantern-road-radio-edit.m4a");
    song.listened_and_marked();
    let routine = demo_audio("lantern-road.txt");
    let fit = song.json(1, &["fit", &song.map(), routine.to_str().unwrap(), "--json"]);
    let kinds: Vec<&str> =
        fit["mismatches"].as_array().unwrap().iter().map(|m| m["kind"].as_str().unwrap()).collect();
    assert!(kinds.contains(&"wait-differs"), "intro 8, not 16: {kinds:?}");
    assert!(kinds.contains(&"song-ends-first"), "no ending on the edit: {kinds:?}");
    assert!(!kinds.contains(&"part-too-short"), "the edit's first chorus is 32: {kinds:?}");
}

#[test]
fn marks_survive_listening_again() {
    let song = Song::new("coopers-left-boot.flac");
    song.listened_and_marked();
    let before = song.json(0, &["mark", &song.map(), "--json"]);
    song.says(0, &["listen", song.file]);
    let after = song.json(0, &["mark", &song.map(), "--json"]);
    assert_eq!(before["phrases"], after["phrases"]);
}

#[test]
fn timeline_and_sheet_are_written_and_not_over_another_file() {
    let song = Song::new("marrow-bay-waltz.ogg");
    song.listened_and_marked();
    let routine = demo_audio("marrow-bay-waltz.txt");
    let routine = routine.to_str().unwrap();
    song.says(0, &["draw", &song.map(), routine]);
    let svg = std::fs::read_to_string(song.path("marrow-bay-waltz.timeline.svg")).unwrap();
    assert!(svg.contains("<title") && svg.contains("<desc"));
    // A timeline of before is drawn anew; a file of somebody else's is left alone.
    song.says(0, &["draw", &song.map(), routine]);
    std::fs::write(song.path("marrow-bay-waltz.timeline.svg"), "a letter").unwrap();
    song.says(2, &["draw", &song.map(), routine]);
    let kept = std::fs::read_to_string(song.path("marrow-bay-waltz.timeline.svg")).unwrap();
    assert_eq!(kept, "a letter");
    song.says(0, &["draw", &song.map(), routine, "--force"]);
    let sheet = song.says(0, &["sheet", &song.map(), routine]);
    assert!(sheet.contains("Wait"), "{sheet}");
}
