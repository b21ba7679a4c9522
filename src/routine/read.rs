//! Reading a sheet from a file.

use std::path::{Path, PathBuf};

use crate::error::{Error, Result};

use super::finding::Finding;
use super::model::Routine;
use super::parse::parse_with;
use super::step_file::StepFiles;

/// The largest file that is read, in bytes: no cue sheet comes near it.
const MOST_BYTES: u64 = 16 << 20;

/// A sheet as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// Its text as typed.
    pub text: String,
    /// What it says.
    pub routine: Routine,
    /// What was found: mistakes and remarks by their lines.
    pub findings: Vec<Finding>,
    /// Steps from files that it was read with.
    pub steps: StepFiles,
}

impl Read {
    /// The mistakes among the findings.
    pub fn mistakes(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|f| f.is_mistake())
    }
}

/// Reads a sheet and refuses it when it has mistakes, or lines without which nobody can say what is danced.
///
/// # Errors
/// As [`load`], and [`Error::Routine`] with all that must be mended or answered first.
pub fn read(path: &Path) -> Result<Read> {
    read_with(path, &[])
}

/// As [`read`], with files of steps.
///
/// # Errors
/// As [`read`] and [`StepFiles::load`].
pub fn read_with(path: &Path, steps: &[PathBuf]) -> Result<Read> {
    let read = load_with(path, steps)?;
    let stops = read.findings.iter().filter(|f| f.stops());
    let mistakes: Vec<String> = stops.map(ToString::to_string).collect();
    if mistakes.is_empty() {
        return Ok(read);
    }
    Err(Error::Routine { path: path.to_path_buf(), findings: mistakes })
}

/// Reads a sheet, mistakes or not.
///
/// # Errors
/// [`Error::IsAFolder`], [`Error::Io`], [`Error::NotText`] for a file that is no text.
pub fn load(path: &Path) -> Result<Read> {
    load_with(path, &[])
}

/// As [`load`], with files of steps beside those that the sheet names itself.
///
/// # Errors
/// As [`load`] and [`StepFiles::load`].
pub fn load_with(path: &Path, steps: &[PathBuf]) -> Result<Read> {
    let text = load_text(path)?;
    let steps = StepFiles::for_sheet(&text, path, steps)?;
    let (routine, findings) = parse_with(&text, &steps);
    Ok(Read { text, routine, findings, steps })
}

/// The text of a file, whatever its encoding.
pub(super) fn load_text(path: &Path) -> Result<String> {
    let io = |source| Error::Io { path: path.to_path_buf(), source };
    let about = std::fs::metadata(path).map_err(io)?;
    if about.is_dir() {
        return Err(Error::IsAFolder(path.to_path_buf()));
    }
    let not_text =
        |found: &str| Error::NotText { path: path.to_path_buf(), found: found.to_string() };
    if about.len() > MOST_BYTES {
        return Err(not_text("it is larger than 16 MB"));
    }
    let bytes = std::fs::read(path).map_err(io)?;
    decode(&bytes).map_err(not_text)
}

/// Text from UTF-8, from UTF-16 with its mark as Windows' editor saves it, else from Latin 1.
///
/// # Errors
/// What the bytes are instead of text, in words.
pub fn decode(bytes: &[u8]) -> std::result::Result<String, &'static str> {
    let wide = |big: bool| -> String {
        let units: Vec<u16> = bytes[2..]
            .chunks_exact(2)
            .map(|pair| {
                if big {
                    u16::from_be_bytes([pair[0], pair[1]])
                } else {
                    u16::from_le_bytes([pair[0], pair[1]])
                }
            })
            .collect();
        String::from_utf16_lossy(&units)
    };
    match bytes {
        [0xFF, 0xFE, ..] => return Ok(wide(false)),
        [0xFE, 0xFF, ..] => return Ok(wide(true)),
        [b'P', b'K', 3, 4, ..] => {
            return Err("it looks like a word processor's file or an archive");
        }
        [b'%', b'P', b'D', b'F', ..] => return Err("it is a PDF"),
        _ => {}
    }
    if bytes.contains(&0) {
        return Err("it holds bytes that no text has");
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.to_string()),
        // Old editors save in Windows' Latin 1: its dashes and quotes are the ones that matter.
        Err(_) => Ok(bytes.iter().map(|b| windows_latin(*b)).collect()),
    }
}

fn windows_latin(byte: u8) -> char {
    match byte {
        0x91 | 0x92 => '\u{2019}',
        0x93 => '\u{201C}',
        0x94 => '\u{201D}',
        0x95 => '\u{2022}',
        0x96 => '\u{2013}',
        0x97 => '\u{2014}',
        0x85 => '\u{2026}',
        _ => char::from(byte),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_read_in_the_encodings_that_editors_save() {
        assert_eq!(decode("Part A – 8".as_bytes()), Ok("Part A – 8".into()));
        assert_eq!(decode(b"Part A \x96 8"), Ok("Part A – 8".into()));
        assert_eq!(decode(b"\xFF\xFEA\0B\0"), Ok("AB".into()));
        assert_eq!(decode(b"\xFE\xFF\0A\0B"), Ok("AB".into()));
        assert!(decode(b"PK\x03\x04rest").is_err());
        assert!(decode(b"\x7fELF\0\0").is_err());
    }
}
