//! An invented song in a folder of its own, and the program run on it.

use std::path::PathBuf;

use hoofbeat::audio::Recording;
use hoofbeat::rhythm::Grid;
use hoofbeat::save::Overwrite;
use hoofbeat::song::{Heard, HeardPhrase, SongMap};
use hoofbeat::units::Beat;

/// Beats every half second from 0.86 s, bars of four; counting starts with the first whole bar, at
/// 1.86 s. Phrases of 16, 32, 36, 32 and 36 counts and an ending of 56: 208 counts.
pub fn lamp_oil() -> SongMap {
    let phrases = [16, 32, 36, 32, 36, 56];
    let labels = ["intro", "verse", "chorus", "verse", "chorus", "ending"];
    let mut beat = 2;
    let mut heard = Vec::new();
    for (label, counts) in labels.into_iter().zip(phrases) {
        heard.push(HeardPhrase {
            label: label.into(),
            letter: String::new(),
            beat: Beat(beat),
            strength: 0.5,
        });
        beat += counts;
    }
    let grid = Grid {
        tempo_bpm: 120.0,
        tempo_confidence: 0.8,
        steady: true,
        beats_s: (0..beat).map(|b| (86.0 + 50.0 * b as f64) / 100.0).collect(),
        downbeats: (2..beat).step_by(4).map(Beat).collect(),
        beats_per_bar: 4,
        grid_confidence: 0.9,
        other_pulses: Vec::new(),
    };
    let recording = Recording {
        file: "lamp_oil.mp3".into(),
        duration_s: 107.0,
        sample_rate_hz: 44_100,
        channels: 2,
        title: Some("Lamp Oil".into()),
        artist: None,
        fingerprint: "invented".into(),
    };
    let heard = Heard { grid, first_count_beat: Beat(2), phrases: heard, ..Heard::default() };
    SongMap::new(recording, heard)
}

/// A folder with the song's map in it.
pub struct Desk {
    pub folder: tempfile::TempDir,
    pub map: PathBuf,
}

/// What a run answered.
pub struct Answer {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Desk {
    pub fn new() -> Desk {
        Desk::with(&lamp_oil())
    }

    pub fn with(map: &SongMap) -> Desk {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("lamp oil.song.json");
        map.save(&path, Overwrite::No).unwrap();
        Desk { folder, map: path }
    }

    /// A folder with a file in the map's place that holds `text`.
    pub fn with_text(text: &[u8]) -> Desk {
        let desk = Desk::new();
        std::fs::write(&desk.map, text).unwrap();
        desk
    }

    pub fn text(&self) -> String {
        std::fs::read_to_string(&self.map).unwrap()
    }

    pub fn load(&self) -> SongMap {
        SongMap::load(&self.map).unwrap()
    }

    /// `hoofbeat mark MAP` with the words that stand between blanks in `words`.
    pub fn mark(&self, words: &str) -> Answer {
        self.run("mark", &words.split_whitespace().collect::<Vec<_>>(), "")
    }

    pub fn run(&self, command: &str, args: &[&str], stdin: &str) -> Answer {
        let mut run = assert_cmd::Command::cargo_bin("hoofbeat").unwrap();
        let run = run.current_dir(self.folder.path()).arg(command).arg(&self.map).args(args);
        let output = run.write_stdin(stdin).output().unwrap();
        Answer {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Makes a mark that must succeed; the first line of the answer.
    pub fn did(&self, words: &str) -> String {
        let answer = self.mark(words);
        assert_eq!(answer.code, 0, "{words}: {}{}", answer.out, answer.err);
        assert_eq!(answer.err, "");
        answer.out.lines().next().unwrap_or("").to_string()
    }

    /// Makes a mark that must fail and change nothing; the error.
    pub fn refused(&self, words: &str) -> String {
        let before = std::fs::read(&self.map).unwrap();
        let answer = self.mark(words);
        assert_eq!(answer.code, 2, "{words}: {}{}", answer.out, answer.err);
        assert_eq!(answer.out, "");
        assert_eq!(std::fs::read(&self.map).unwrap(), before, "{words} changed the file");
        answer.err
    }

    /// Each phrase as `label first-count+counts`, one string.
    pub fn form(&self) -> String {
        form_of(&self.load())
    }

    /// That a mark did what it should, that undo takes it back exactly, and undo again has it again;
    /// and that it holds when the song is heard anew with beats a little elsewhere.
    pub fn marks(&self, words: &str, expected: &str) {
        let before = self.load();
        self.did(words);
        assert_eq!(self.form(), expected, "{words}");
        let after = self.load();
        self.did("undo");
        assert_eq!(self.load().set, before.set, "undo of {words}");
        self.did("undo");
        assert_eq!(self.load().set, after.set, "undo of the undo of {words}");
        let mut again = after;
        let mut heard = again.heard.clone();
        let jitter = |(i, t): (usize, &f64)| t + 0.02 * ((i * 7 % 11) as f64 / 5.0 - 1.0);
        heard.grid.beats_s = heard.grid.beats_s.iter().enumerate().map(jitter).collect();
        let recording = again.recording.clone();
        again.listen_again(heard, recording);
        assert_eq!(form_of(&again), expected, "{words}, then heard again");
    }
}

pub fn form_of(map: &SongMap) -> String {
    let view = map.view().unwrap();
    let one = |p: &hoofbeat::song::Phrase| format!("{} {}+{}", p.label, p.start, p.counts);
    view.phrases.iter().map(one).collect::<Vec<_>>().join(", ")
}
