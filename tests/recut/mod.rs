//! Other cuts of songs: marks carried over, held against what is true of the cut.

mod cuts;
mod others;

use std::path::PathBuf;
use std::process::Output;

use hoofbeat::audio::write::{Tags, Writer};
use hoofbeat::save::Overwrite;
use serde_json::Value;
use tempfile::TempDir;

/// A folder to work in.
struct Desk(TempDir);

impl Desk {
    fn new() -> Desk {
        Desk(tempfile::tempdir().unwrap())
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, args: &[&str]) -> Output {
        crate::hoofbeat(self.0.path(), args)
    }

    fn good(&self, args: &[&str]) -> String {
        crate::good(self.0.path(), args)
    }

    fn json(&self, args: &[&str]) -> Value {
        let output = self.run(&[&["recut", "song.song.json", "--json"], args].concat());
        serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&output.stderr)))
    }

    /// Writes samples, channel by channel in turn.
    fn write(&self, name: &str, channels: usize, rate_hz: u32, samples: &[f32]) {
        let to = self.at(name);
        let (channels, tags) = (channels as u16, Tags::default());
        let mut writer = Writer::create(&to, channels, rate_hz, &tags, Overwrite::No).unwrap();
        writer.push(samples).unwrap();
        writer.finish(&[]).unwrap();
    }

    /// Listens to a recording called `song` and marks it with its form, as `song.song.json`.
    fn mark<'a>(&self, audio: &str, first_s: f64, form: impl Iterator<Item = (&'a str, u64)>) {
        self.good(&["listen", audio]);
        let form: Vec<String> = form.map(|(label, counts)| format!("{label} {counts}")).collect();
        self.good(&["mark", "song.song.json", "first", &first_s.to_string()]);
        self.good(&["mark", "song.song.json", "form", &form.join(", ")]);
    }
}
