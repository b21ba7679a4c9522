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
    let map: SongMap = serde_json::from_str(text)
        .map_err(|e| bad(check::misfit(&fields).unwrap_or_else(|| placed(&e))))?;
    check::sound(&map).map_err(bad)?;
    fields.retain(|key, _| {
        !matches!(key.as_str(), "format" | "version" | "recording" | "heard" | "set" | "undo")
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
