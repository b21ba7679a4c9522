//! Reading and saving song maps.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use serde::Serialize;
use serde_json::{Map, Value};

use crate::audio::Recording;
use crate::error::{Error, Result};
use crate::save::{Overwrite, save};

use super::check;
use super::json::ByHand;
use super::map::{Heard, SongMap, UserSet};

/// Two hours at 200 beats a minute make 24,000 beats, about 250 kB. A file a hundred times that is
/// something else.
const MOST_BYTES: u64 = 32 << 20;

/// How long to wait for another command that is writing the same map.
const PATIENCE: Duration = Duration::from_secs(10);

impl SongMap {
    /// A map of a recording as heard, with nothing set.
    pub fn new(recording: Recording, heard: Heard) -> SongMap {
        SongMap {
            format: SongMap::FORMAT.into(),
            version: SongMap::VERSION,
            recording,
            heard,
            set: UserSet::default(),
            unaided: None,
            undo: None,
        }
    }

    /// Where a recording's map is kept unless told otherwise: `<stem>.song.json` beside it.
    pub fn default_path(audio: &Path) -> PathBuf {
        let mut name = audio.file_stem().unwrap_or(audio.as_os_str()).to_os_string();
        name.push(".song.json");
        audio.with_file_name(name)
    }

    /// Takes what was heard anew, and keeps what the user set and the change that can be undone.
    pub fn listen_again(&mut self, heard: Heard, recording: Recording) {
        self.heard = heard;
        self.unaided = None;
        self.recording = recording;
    }

    /// Reads a map.
    ///
    /// # Errors
    /// [`Error::Io`], [`Error::IsAFolder`]; [`Error::BadMap`] with line and column where the text is
    /// damaged, or with the field and its value where it does not make sense; [`Error::NewerMap`].
    pub fn load(path: &Path) -> Result<SongMap> {
        Ok(read(open(path)?, path)?.map)
    }

    /// Reads a map from what its file holds; `path` is named where it does not make sense.
    ///
    /// # Errors
    /// [`Error::BadMap`], [`Error::NewerMap`].
    pub fn from_bytes(bytes: &[u8], path: &Path) -> Result<SongMap> {
        Ok(parse(bytes, path)?.map)
    }

    /// Saves the map whole or not at all.
    ///
    /// # Errors
    /// [`Error::BadMap`] when it holds what could not be read again, [`Error::Exists`],
    /// [`Error::IsAFolder`], [`Error::Io`].
    pub fn save(&self, path: &Path, overwrite: Overwrite) -> Result<()> {
        save(path, &self.to_json(path, &Map::new())?, overwrite)
    }

    /// The map as its file holds it. Seconds and likelihoods are rounded to four decimals.
    ///
    /// # Errors
    /// [`Error::BadMap`] when it holds what could not be read again; `path` is named in it.
    pub fn to_bytes(&self, path: &Path) -> Result<Vec<u8>> {
        self.to_json(path, &Map::new())
    }

    /// Reads a map, changes it and saves it, while other commands that change it wait. Keys in the
    /// file that this release does not know are kept. When `change` fails nothing is written.
    ///
    /// # Errors
    /// Those of [`SongMap::load`], [`SongMap::save`] and `change`; [`Error::Busy`] when another
    /// command holds the map for ten seconds.
    pub fn update<T>(path: &Path, change: impl FnOnce(&mut SongMap) -> Result<T>) -> Result<T> {
        // Through a link, so that the link stays one.
        let real = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let (lock, on_disk) = lock_and_read(&real, path)?;
        let mut map = on_disk.map;
        let before = map.clone();
        let answer = change(&mut map)?;
        if map != before {
            save(&real, &map.to_json(path, &on_disk.unknown)?, Overwrite::Yes)?;
        }
        drop(lock);
        Ok(answer)
    }

    fn to_json(&self, path: &Path, unknown: &Map<String, Value>) -> Result<Vec<u8>> {
        #[derive(Serialize)]
        struct Whole<'a> {
            #[serde(flatten)]
            map: &'a SongMap,
            #[serde(flatten)]
            unknown: &'a Map<String, Value>,
        }
        let bad = |why: String| Error::BadMap { path: path.to_path_buf(), why };
        check::sound(self).map_err(bad)?;
        let mut bytes = Vec::new();
        let mut writer = serde_json::Serializer::with_formatter(&mut bytes, ByHand::default());
        Whole { map: self, unknown }.serialize(&mut writer).map_err(|e| bad(e.to_string()))?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

/// A map as read, and what its file holds beyond it.
struct OnDisk {
    map: SongMap,
    unknown: Map<String, Value>,
}

fn open(path: &Path) -> Result<File> {
    if path.is_dir() {
        return Err(Error::IsAFolder(path.to_path_buf()));
    }
    File::open(path).map_err(|source| Error::Io { path: path.to_path_buf(), source })
}

/// Locks the map and reads it. A save puts a new file in the old one's place, so a lock that was
/// waited for may be on a file that is no longer the map: then the new one is locked.
fn lock_and_read(real: &Path, named: &Path) -> Result<(File, OnDisk)> {
    let started = Instant::now();
    loop {
        let file = open(real)?;
        match file.try_lock() {
            Ok(()) if is_at(&file, real) => {
                let reader = file.try_clone();
                let reader =
                    reader.map_err(|source| Error::Io { path: named.to_path_buf(), source })?;
                return Ok((file, read(reader, named)?));
            }
            Ok(()) => continue,
            Err(std::fs::TryLockError::WouldBlock) if started.elapsed() < PATIENCE => {
                std::thread::sleep(Duration::from_millis(20));
            }
            Err(std::fs::TryLockError::WouldBlock) => return Err(Error::Busy(named.to_path_buf())),
            // A file system without locks: the save is still whole.
            Err(std::fs::TryLockError::Error(_)) => {
                let reader = open(real)?;
                return Ok((file, read(reader, named)?));
            }
        }
    }
}

/// Whether an open file is still the one that stands at `path`.
#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), std::fs::metadata(path)) {
        (Ok(open), Ok(there)) => open.dev() == there.dev() && open.ino() == there.ino(),
        _ => false,
    }
}

/// Whether an open file is still the one that stands at `path`, as far as can be seen.
#[cfg(not(unix))]
fn is_at(file: &File, path: &Path) -> bool {
    match (file.metadata(), std::fs::metadata(path)) {
        (Ok(open), Ok(there)) => {
            open.len() == there.len()
                && open.modified().ok() == there.modified().ok()
                && open.created().ok() == there.created().ok()
        }
        _ => false,
    }
}

fn read(file: File, path: &Path) -> Result<OnDisk> {
    let mut bytes = Vec::new();
    file.take(MOST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|source| Error::Io { path: path.to_path_buf(), source })?;
    parse(&bytes, path)
}

fn parse(bytes: &[u8], path: &Path) -> Result<OnDisk> {
    let bad = |why: String| Error::BadMap { path: path.to_path_buf(), why };
    if bytes.len() as u64 > MOST_BYTES {
        return Err(bad(format!("it is larger than {} MB", MOST_BYTES >> 20)));
    }
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Err(bad(not_a_map(path, "it is not text")));
    };
    let text = text.trim_start_matches('\u{feff}');
    if text.trim().is_empty() {
        return Err(bad("it is empty".into()));
    }
    if !text.trim_start().starts_with('{') {
        return Err(bad(not_a_map(path, "it does not start as a song map does")));
    }
    let value: Value = serde_json::from_str(text).map_err(|e| bad(placed(&e)))?;
    let Value::Object(mut fields) = value else {
        return Err(bad("it does not start as a song map does".into()));
    };
    match fields.get("format") {
        Some(Value::String(format)) if format == SongMap::FORMAT => {}
        Some(other) => {
            return Err(bad(format!("\"format\" is {other}, not \"{}\"", SongMap::FORMAT)));
        }
        None => return Err(bad(format!("\"format\": \"{}\" is missing", SongMap::FORMAT))),
    }
    match fields.get("version").and_then(Value::as_u64) {
        Some(found) if found > SongMap::VERSION => {
            let path = path.to_path_buf();
            return Err(Error::NewerMap { path, found, known: SongMap::VERSION });
        }
        Some(1..) => {}
        _ => {
            let found = fields.get("version").map_or("missing".into(), Value::to_string);
            return Err(bad(format!("\"version\" is {found}, not {}", SongMap::VERSION)));
        }
    }
    if let Some(why) = check::misfit(&fields) {
        return Err(bad(why));
    }
    let map: SongMap = serde_json::from_str(text).map_err(|e| bad(placed(&e)))?;
    check::sound(&map).map_err(bad)?;
    fields.retain(|key, _| {
        let known = ["format", "version", "recording", "heard", "unaided", "set", "undo"];
        !known.contains(&key.as_str())
    });
    Ok(OnDisk { map, unknown: fields })
}

/// What the JSON reader found, line and column first.
fn placed(error: &serde_json::Error) -> String {
    let (line, column) = (error.line(), error.column());
    let text = error.to_string();
    let what = text.rsplit_once(" at line ").map_or(text.as_str(), |(what, _)| what);
    let what = match error.classify() {
        serde_json::error::Category::Eof => "it ends too soon; part of the file is missing",
        _ => what,
    };
    if line == 0 { what.to_string() } else { format!("line {line}, column {column}: {what}") }
}

/// Why a file is no map, and where its map may be.
fn not_a_map(path: &Path, why: &str) -> String {
    let beside = SongMap::default_path(path);
    if beside != path && beside.is_file() {
        return format!("{why}; did you mean {}?", beside.display());
    }
    why.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song::{Mark, testing};

    fn words_of(text: &str) -> String {
        match parse(text.as_bytes(), Path::new("x.song.json")) {
            Err(error) => error.to_string(),
            Ok(_) => panic!("read without complaint: {text}"),
        }
    }

    #[test]
    fn a_map_reads_back_as_it_was_saved() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.song.json");
        let mut map = testing::song(100);
        map.mark(&Mark::Half).unwrap();
        map.save(&path, Overwrite::No).unwrap();
        assert_eq!(SongMap::load(&path).unwrap(), map);
        assert!(matches!(map.save(&path, Overwrite::No), Err(Error::Exists(_))));
    }

    #[test]
    fn set_holds_only_what_was_set() {
        let text = testing::song(8).to_bytes(Path::new("x")).unwrap();
        let value: Value = serde_json::from_slice(&text).unwrap();
        assert_eq!(value["set"], serde_json::json!({}));
        assert!(value.get("undo").is_none());
    }

    #[test]
    fn a_map_stands_beside_its_recording() {
        let beside = |audio: &str| SongMap::default_path(Path::new(audio));
        assert_eq!(beside("a/Lamp Oil.mp3"), Path::new("a/Lamp Oil.song.json"));
        assert_eq!(beside("take.2.flac"), Path::new("take.2.song.json"));
        assert_eq!(beside("noend"), Path::new("noend.song.json"));
    }

    #[test]
    fn damage_is_named_with_line_and_column() {
        let whole = String::from_utf8(testing::song(40).to_bytes(Path::new("x")).unwrap()).unwrap();
        let broken = whole.replacen("\"steady\": true,", "\"steady\": true", 1);
        let line = whole.lines().position(|l| l.contains("\"steady\"")).unwrap() + 2;
        assert!(
            words_of(&broken).contains(&format!("line {line}, column")),
            "{}",
            words_of(&broken)
        );
        let nan = whole.replacen("\"tempo_bpm\": 120", "\"tempo_bpm\": NaN", 1);
        assert!(words_of(&nan).contains("line "), "{}", words_of(&nan));
        assert!(words_of(&whole[..whole.len() / 2]).contains("it ends too soon"));
    }

    #[test]
    fn every_cut_of_the_file_is_an_error_and_not_a_panic() {
        let whole = testing::song(12).to_bytes(Path::new("x")).unwrap();
        for end in 0..whole.len() - 2 {
            assert!(parse(&whole[..end], Path::new("x")).is_err(), "cut at {end}");
        }
    }

    #[test]
    fn what_makes_no_sense_is_named() {
        let whole = String::from_utf8(testing::song(40).to_bytes(Path::new("x")).unwrap()).unwrap();
        let cases = [
            ("\"beats_per_bar\": 4", "\"beats_per_bar\": 400", "beats_per_bar is 400"),
            ("\"first_count_beat\": 2", "\"first_count_beat\": 99", "only 40 beats"),
            ("0.86, 1.36", "1.36, 0.86", "does not come after"),
            ("0.86, 1.36", "\"x\", 1.36", "beats_s[0]: \"x\" does not fit here"),
            ("0.86, 1.36", "null, 1.36", "beats_s[0]: null does not fit here"),
            ("0.86, 1.36", "0.86, 1.36e300", "no time in a recording"),
            ("\"tempo_confidence\": 0.8", "\"tempo_confidence\": 8", "not between 0 and 1"),
            ("\"steady\"", "\"study\"", "heard.steady is missing"),
            ("\"set\": {}", "\"set\": []", "set is [], not fields"),
            ("\"set\": {}", "\"set\": {\"beats_per_bar\": 0}", "set.beats_per_bar is 0"),
            (
                "\"set\": {}",
                "\"set\": {\"tapped\": [{\"beats_s\": [2, 1]}]}",
                "does not come after",
            ),
            ("\"set\": {}", "\"set\": {\"tapped\": [{\"beats_s\": [2]}]}", "fewer than two"),
            (
                "\"set\": {}",
                "\"set\": {\"phrases\": [{\"label\": \" \", \"start_s\": 1}]}",
                "empty",
            ),
            ("\"set\": {}", "\"set\": {\"pulse\": {\"counts_per_minute\": -1}}", "no tempo"),
            ("\"set\": {}", "\"set\": {}, \"undo\": {\"end_s\": 1e9}", "undo.end_s is 1000000000"),
            ("hoofbeat-song", "other", "\"format\" is \"other\""),
            ("\"version\": 1", "\"version\": 0", "\"version\" is 0"),
            ("\"duration_s\": ", "\"duration_s\": -1e7, \"x\": ", "recording.duration_s"),
        ];
        for (from, to, expected) in cases {
            assert!(whole.contains(from), "{from}");
            let words = words_of(&whole.replacen(from, to, 1));
            assert!(words.contains(expected), "{to}: {words}");
        }
    }

    #[test]
    fn a_newer_map_is_refused_before_anything_else_is_read() {
        let text = "{\"format\": \"hoofbeat-song\", \"version\": 2, \"recording\": 7}";
        let error = parse(text.as_bytes(), Path::new("x")).map(|_| ()).unwrap_err();
        assert!(matches!(error, Error::NewerMap { found: 2, known: 1, .. }), "{error}");
    }

    #[test]
    fn other_files_are_told_apart() {
        assert!(words_of("").contains("empty"));
        assert!(words_of("[1, 2]").contains("does not start as a song map"));
        assert!(words_of("{}").contains("\"format\""));
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(SongMap::load(folder.path()), Err(Error::IsAFolder(_))));
        let (audio, map) = (folder.path().join("a.mp3"), folder.path().join("a.song.json"));
        std::fs::write(&audio, [0xff, 0xfb, 0x90, 0x00]).unwrap();
        testing::song(8).save(&map, Overwrite::No).unwrap();
        let words = SongMap::load(&audio).unwrap_err().to_string();
        assert!(words.contains("did you mean") && words.contains("a.song.json"), "{words}");
    }

    #[test]
    fn a_byte_order_mark_and_windows_line_ends_are_read() {
        let text = String::from_utf8(testing::song(8).to_bytes(Path::new("x")).unwrap()).unwrap();
        let windows = format!("\u{feff}{}", text.replace('\n', "\r\n"));
        let map = parse(windows.as_bytes(), Path::new("x")).map(|on_disk| on_disk.map).unwrap();
        assert_eq!(map, testing::song(8));
    }

    #[test]
    fn keys_of_others_survive_a_change() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.song.json");
        let text = String::from_utf8(testing::song(40).to_bytes(&path).unwrap()).unwrap();
        let text = text.replacen("\"version\": 1,", "\"version\": 1,\n\"my note\": [\"clap\"],", 1);
        std::fs::write(&path, text).unwrap();
        SongMap::update(&path, |map| map.mark(&Mark::Half)).unwrap();
        let value: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        assert_eq!(value["my note"], serde_json::json!(["clap"]));
        assert_eq!(value["set"]["pulse"]["counts_per_minute"], 60.0);
    }

    #[test]
    fn a_change_that_fails_leaves_the_file_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.song.json");
        testing::song(40).save(&path, Overwrite::No).unwrap();
        let before = std::fs::read(&path).unwrap();
        let failed = SongMap::update(&path, |map| {
            map.mark(&Mark::Half)?;
            map.mark(&Mark::Tap(vec![3.0]))
        });
        assert!(failed.is_err());
        assert_eq!(std::fs::read(&path).unwrap(), before);
    }

    #[test]
    fn marks_made_at_once_are_all_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.song.json");
        testing::song(400).save(&path, Overwrite::No).unwrap();
        std::thread::scope(|scope| {
            for thread in 0..4 {
                let path = &path;
                scope.spawn(move || {
                    for round in 0..8 {
                        let count = 9 + 32 * round + 8 * thread;
                        let mark =
                            crate::song::marks::words::phrases(&format!("{count} x")).unwrap();
                        SongMap::update(path, |map| map.mark(&Mark::Phrases(mark))).unwrap();
                    }
                });
            }
        });
        assert_eq!(SongMap::load(&path).unwrap().set.phrases.len(), 32);
    }

    #[test]
    fn a_map_that_could_not_be_read_again_is_not_saved() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.song.json");
        let mut map = testing::song(8);
        map.heard.grid.beats_s[3] = f64::NAN;
        assert!(matches!(map.save(&path, Overwrite::No), Err(Error::BadMap { .. })));
        assert!(!path.exists());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_to_a_map_stays_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let (path, link) = (folder.path().join("a.song.json"), folder.path().join("b.song.json"));
        testing::song(40).save(&path, Overwrite::No).unwrap();
        std::os::unix::fs::symlink(&path, &link).unwrap();
        SongMap::update(&link, |map| map.mark(&Mark::Half)).unwrap();
        assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
        assert!(SongMap::load(&path).unwrap().set.pulse.is_some());
    }
}
