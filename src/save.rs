//! Saving files whole or not at all.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::error::{Error, Result};

/// Whether a file that exists may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overwrite {
    /// Replace it.
    Yes,
    /// Refuse with [`Error::Exists`].
    No,
}

/// Writes `bytes` to `path` so that a reader sees either the old file or the whole new one, also
/// when the disk is full or the power goes.
///
/// # Errors
/// [`Error::Exists`] where it may not be replaced, [`Error::IsAFolder`], [`Error::Io`].
pub fn save(path: &Path, bytes: &[u8], overwrite: Overwrite) -> Result<()> {
    let mut draft = Draft::new(path, overwrite)?;
    draft.file.write_all(bytes).map_err(|source| Error::Io { path: path.to_path_buf(), source })?;
    draft.keep()
}

/// A file being written that nobody sees until it is whole; dropped, it leaves nothing behind.
#[derive(Debug)]
pub struct Draft {
    file: NamedTempFile,
    path: PathBuf,
    overwrite: Overwrite,
}

impl Draft {
    /// Starts a file that will stand at `path`.
    ///
    /// # Errors
    /// [`Error::Exists`] where it may not be replaced, [`Error::IsAFolder`], [`Error::Io`].
    pub fn new(path: &Path, overwrite: Overwrite) -> Result<Draft> {
        let io = |source| Error::Io { path: path.to_path_buf(), source };
        if path.is_dir() {
            return Err(Error::IsAFolder(path.to_path_buf()));
        }
        if overwrite == Overwrite::No && path.exists() {
            return Err(Error::Exists(path.to_path_buf()));
        }
        let folder = match path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        let mut builder = tempfile::Builder::new();
        builder.prefix(".hoofbeat-");
        // Temporary files are private; a saved file follows the user's umask as any other.
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let file = builder.tempfile_in(folder).map_err(io)?;
        Ok(Draft { file, path: path.to_path_buf(), overwrite })
    }

    /// Where the file will stand.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Another handle to what is being written, at its beginning.
    ///
    /// # Errors
    /// [`Error::Io`].
    pub fn handle(&self) -> Result<File> {
        self.file.reopen().map_err(|source| Error::Io { path: self.path.clone(), source })
    }

    /// Puts the file in its place.
    ///
    /// # Errors
    /// [`Error::Exists`] where somebody else put one there meanwhile, [`Error::Io`].
    pub fn keep(self) -> Result<()> {
        let Draft { file, path, overwrite } = self;
        let io = |source| Error::Io { path: path.clone(), source };
        file.as_file().sync_all().map_err(io)?;
        match overwrite {
            Overwrite::Yes => file.persist(&path).map_err(|e| io(e.error))?,
            Overwrite::No => file.persist_noclobber(&path).map_err(|e| match e.error.kind() {
                std::io::ErrorKind::AlreadyExists => Error::Exists(path.clone()),
                _ => io(e.error),
            })?,
        };
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_existing_file_is_kept_unless_told_otherwise() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.txt");
        save(&path, b"one", Overwrite::No).unwrap();
        assert!(matches!(save(&path, b"two", Overwrite::No), Err(Error::Exists(_))));
        assert_eq!(std::fs::read(&path).unwrap(), b"one");
        save(&path, b"two", Overwrite::Yes).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"two");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no leftovers");
    }

    #[test]
    fn a_draft_that_is_dropped_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let draft = Draft::new(&folder.path().join("a.wav"), Overwrite::No).unwrap();
        draft.handle().unwrap().write_all(b"half").unwrap();
        drop(draft);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_folder_is_not_a_file() {
        let folder = tempfile::tempdir().unwrap();
        let error = save(folder.path(), b"x", Overwrite::Yes).unwrap_err();
        assert!(matches!(error, Error::IsAFolder(_)));
    }
}
