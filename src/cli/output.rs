//! Writing results: to standard output, or to a file at once and whole.

use std::io::Write;
use std::path::Path;

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
