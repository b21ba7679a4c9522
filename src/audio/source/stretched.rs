//! A file that pretends to be as long as it once was.
//!
//! An M4A file cut off in the middle of its sound has a box that reaches past the end of the file, and a
//! demuxer refuses the whole box. With zeros in place of what is missing it hands out all that is there.

use std::fs::File;
use std::io::{Read, Result, Seek, SeekFrom};

use symphonia::core::io::MediaSource;

/// A file, with zeros behind its end.
pub struct Stretched {
    file: File,
    real: u64,
    pretended: u64,
    at: u64,
}

impl Stretched {
    /// `file` stands at its beginning and holds `real` bytes.
    pub fn new(file: File, real: u64, pretended: u64) -> Stretched {
        Stretched { file, real, pretended: pretended.max(real), at: 0 }
    }
}

impl Read for Stretched {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        let read = if self.at < self.real {
            self.file.read(buffer)?
        } else {
            let left =
                usize::try_from(self.pretended.saturating_sub(self.at)).unwrap_or(usize::MAX);
            let zeros = left.min(buffer.len());
            buffer[..zeros].fill(0);
            zeros
        };
        self.at += read as u64;
        Ok(read)
    }
}

impl Seek for Stretched {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        let at = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::End(by) => self.pretended.checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = at.ok_or(std::io::ErrorKind::InvalidInput)?;
        self.file.seek(SeekFrom::Start(self.at))
    }
}

impl MediaSource for Stretched {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.pretended)
    }
}
