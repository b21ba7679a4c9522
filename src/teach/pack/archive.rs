//! Packs as folders and as zip files: written whole or not at all, and read with care.
//!
//! A pack comes from somebody else. Of it only the files that its own page names are read, under names
//! without a folder in them, and no more of each than such a file can need.

use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use crate::error::{Error, Result};
use crate::routine;
use crate::save::{Draft, Overwrite};
use crate::song::SongMap;

use super::{Manifest, Opened, PackFile, own_name};

/// The most that is read of a pack's own page, of a map and of a routine, in bytes.
const MOST_MANIFEST: u64 = 1 << 20;
const MOST_MAP: u64 = 64 << 20;
const MOST_ROUTINE: u64 = 16 << 20;

/// Writes a pack as a folder that does not exist yet. Where it cannot be finished nothing is left.
/// `recording` is a file to copy into it, and its name there.
///
/// # Errors
/// [`Error::Exists`], [`Error::Io`].
pub fn write_folder(
    folder: &Path,
    files: &[PackFile],
    recording: Option<(&Path, &str)>,
) -> Result<()> {
    std::fs::create_dir(folder).map_err(|source| match source.kind() {
        std::io::ErrorKind::AlreadyExists => Error::Exists(folder.to_path_buf()),
        _ => Error::Io { path: folder.to_path_buf(), source },
    })?;
    let fill = || -> Result<()> {
        for file in files {
            let path = folder.join(&file.name);
            crate::save::save(&path, &file.bytes, Overwrite::No)?;
        }
        if let Some((from, name)) = recording {
            let to = folder.join(name);
            std::fs::copy(from, &to).map_err(|source| Error::Io { path: to, source })?;
        }
        Ok(())
    };
    fill().inspect_err(|_| {
        // It was made just now and holds nothing of anybody else's; the error that counts is the first.
        let _ = std::fs::remove_dir_all(folder);
    })
}

/// Writes a pack as a zip file. The same files give the same bytes.
///
/// # Errors
/// [`Error::Exists`] where it may not be replaced, [`Error::IsAFolder`], [`Error::Io`].
pub fn write_zip(
    path: &Path,
    files: &[PackFile],
    recording: Option<(&Path, &str)>,
    overwrite: Overwrite,
) -> Result<()> {
    let draft = Draft::new(path, overwrite)?;
    let io = |source| Error::Io { path: path.to_path_buf(), source };
    let broken =
        |e: zip::result::ZipError| Error::Io { path: path.to_path_buf(), source: e.into() };
    let mut zip = ZipWriter::new(draft.handle()?);
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644);
    for file in files {
        zip.start_file(file.name.as_str(), options).map_err(broken)?;
        zip.write_all(&file.bytes).map_err(io)?;
    }
    if let Some((from, name)) = recording {
        // Recordings are as small as they get.
        let stored = options.compression_method(CompressionMethod::Stored).large_file(true);
        zip.start_file(name, stored).map_err(broken)?;
        let mut source =
            File::open(from).map_err(|source| Error::Io { path: from.to_path_buf(), source })?;
        std::io::copy(&mut source, &mut zip).map_err(io)?;
    }
    zip.finish().map_err(broken)?;
    draft.keep()
}

/// Opens a pack, a folder or a zip file.
///
/// # Errors
/// [`Error::BadPack`], those of [`SongMap::load`], [`Error::Io`].
pub fn open(path: &Path) -> Result<Opened> {
    let mut pack = if path.is_dir() {
        Pack::Folder(path.to_path_buf())
    } else {
        let file =
            File::open(path).map_err(|source| Error::Io { path: path.to_path_buf(), source })?;
        let archive =
            ZipArchive::new(file).map_err(|_| bad(path, "it is no folder and no zip file"))?;
        Pack::Zip(path.to_path_buf(), Box::new(archive))
    };
    let page = pack.read(Manifest::NAME, MOST_MANIFEST)?;
    let kind: serde_json::Value = serde_json::from_slice(&page)
        .map_err(|e| bad(path, &format!("its own page, {}: {e}", Manifest::NAME)))?;
    if kind["format"] != Manifest::FORMAT {
        return Err(bad(path, "its own page does not say that it is a pack"));
    }
    if kind["version"].as_u64().is_none_or(|v| v > Manifest::VERSION) {
        return Err(bad(path, "it is of a newer release of hoofbeat; install that"));
    }
    let manifest: Manifest = serde_json::from_value(kind)
        .map_err(|e| bad(path, &format!("its own page, {}: {e}", Manifest::NAME)))?;
    for (name, stem, ending) in
        [(&manifest.map, "song", ".song.json"), (&manifest.routine, "routine", ".txt")]
    {
        // Only names that this tool gives: none with a folder in it.
        if own_name(name, stem, ending) != *name {
            return Err(bad(path, &format!("it names a file {name:?}, which no pack does")));
        }
    }
    let map = pack.read(&manifest.map, MOST_MAP)?;
    let map = SongMap::from_bytes(&map, &path.join(&manifest.map))?;
    let text = pack.read(&manifest.routine, MOST_ROUTINE)?;
    let routine_text = routine::decode(&text)
        .map_err(|why| bad(path, &format!("the routine, {}: {why}", manifest.routine)))?;
    Ok(Opened { map, routine_text, routine_name: manifest.routine })
}

enum Pack {
    Folder(PathBuf),
    Zip(PathBuf, Box<ZipArchive<File>>),
}

impl Pack {
    /// A file of the pack, which may have `most` bytes.
    fn read(&mut self, name: &str, most: u64) -> Result<Vec<u8>> {
        let mut bytes = Vec::new();
        let path = match self {
            Pack::Folder(folder) => {
                let path = folder.join(name);
                let file = File::open(&path).map_err(|e| match e.kind() {
                    std::io::ErrorKind::NotFound => {
                        bad(folder, &format!("there is no {name} in it"))
                    }
                    _ => Error::Io { path: path.clone(), source: e },
                })?;
                file.take(most + 1)
                    .read_to_end(&mut bytes)
                    .map_err(|source| Error::Io { path: path.clone(), source })?;
                folder.clone()
            }
            Pack::Zip(path, archive) => {
                let entry = archive
                    .by_name(name)
                    .map_err(|e| bad(path, &format!("{name} cannot be read in it: {e}")))?;
                entry
                    .take(most + 1)
                    .read_to_end(&mut bytes)
                    .map_err(|e| bad(path, &format!("{name} is damaged in it: {e}")))?;
                path.clone()
            }
        };
        if bytes.len() as u64 > most {
            return Err(bad(&path, &format!("{name} in it is far too large")));
        }
        Ok(bytes)
    }
}

fn bad(path: &Path, why: &str) -> Error {
    Error::BadPack { path: path.to_path_buf(), why: why.to_string() }
}
