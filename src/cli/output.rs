//! Writing results: to standard output, or to a file at once and whole.

use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

use super::args::Output;
use crate::error::{Error, Result};
use crate::save::{Overwrite, save};

/// Writes to `path`, or to standard output where it is `-` or not given. A closed pipe is no error.
pub fn write(path: Option<&Path>, bytes: &[u8], force: bool) -> Result<()> {
    match path {
        Some(path) if path.as_os_str() != "-" => {
            let overwrite = if force { Overwrite::Yes } else { Overwrite::No };
            save(path, bytes, overwrite)
        }
        _ => {
            let mut out = std::io::stdout().lock();
            match out.write_all(bytes).and_then(|()| out.flush()) {
                Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
                Err(source) => Err(Error::Io { path: "standard output".into(), source }),
                Ok(()) => Ok(()),
            }
        }
    }
}

/// Writes where `to` says; where it says nothing, beside `map` with `ending` for its ending, and says
/// so on standard error. A file there that `is_own` knows by its first kilobyte is replaced unasked.
pub fn beside(
    to: &Output,
    map: &Path,
    ending: &str,
    bytes: &[u8],
    is_own: fn(&[u8]) -> bool,
) -> Result<()> {
    if to.output.is_some() {
        return write(to.output.as_deref(), bytes, to.force);
    }
    let name = map.file_name().unwrap_or(map.as_os_str()).to_string_lossy();
    let stem = name.strip_suffix(".song.json").or_else(|| name.strip_suffix(".json"));
    let path = map.with_file_name(format!("{}.{ending}", stem.unwrap_or(&name)));
    replacing(&path, bytes, to.force, is_own)?;
    eprintln!("saved {}", path.display());
    Ok(())
}

/// Writes to `path`. A file there that `is_own` knows by its first kilobyte is replaced unasked.
pub fn replacing(path: &Path, bytes: &[u8], force: bool, is_own: fn(&[u8]) -> bool) -> Result<()> {
    let mut start = [0; 1024];
    let there = File::open(path).and_then(|mut file| file.read(&mut start));
    let own = there.is_ok_and(|length| is_own(&start[..length]));
    write(Some(path), bytes, force || own)
}
