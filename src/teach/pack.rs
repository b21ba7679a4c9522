//! The hand-over pack: all that another teacher needs to teach the dance, and what was set, so that they
//! need not mark it again on their own copy of the recording.
//!
//! ```text
//! (SongMap, routine's text) ─▶ Vec<PackFile> ─▶ folder · zip
//! folder · zip ─▶ Opened (SongMap, routine's text) ─▶ checked against a recording by its fingerprint
//! ```
//!
//! The recording itself is no part of it unless its owner asks.

mod archive;
mod index;

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::draw;
use crate::error::{Error, Result};
use crate::fit::fit;
use crate::routine::Routine;
use crate::song::SongMap;

use super::export::Format;
use super::lesson::{self, Names};
use super::sheet::{Look, Paper, Sheet};

pub use archive::{open, write_folder, write_zip};

/// A file of a pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackFile {
    /// Its name; no folder in it.
    pub name: String,
    /// What it is, in words.
    pub what: &'static str,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// The pack's own page: what it is of and which file is which.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Manifest {
    /// Always `hoofbeat-pack`.
    pub format: String,
    /// Version of the format; this release writes 1.
    pub version: u64,
    /// The release that made it.
    pub made_with: String,
    /// The file of the song map.
    pub map: String,
    /// The file of the routine.
    pub routine: String,
}

impl Manifest {
    /// The file that it is kept in.
    pub const NAME: &str = "pack.json";
    /// The value of `format`.
    pub const FORMAT: &str = "hoofbeat-pack";
    /// The version written by this release.
    pub const VERSION: u64 = 1;
}

/// What a pack is made of.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// The song map.
    pub map: &'a SongMap,
    /// The map's file name.
    pub map_name: &'a str,
    /// The routine.
    pub routine: &'a Routine,
    /// The routine's text as typed.
    pub routine_text: &'a str,
    /// The routine's file name.
    pub routine_name: &'a str,
    /// Name of the recording within the pack, where it is given along.
    pub recording: Option<&'a str>,
    /// Length of the class that the lesson plan is for, minutes.
    pub minutes: u32,
}

/// All files of a pack but the recording; the index page first.
///
/// # Errors
/// [`Error::NoPulse`] for a map without counts, and those of the sheet's PDF.
pub fn pack(source: Source<'_>) -> Result<Vec<PackFile>> {
    let view = source.map.view()?;
    let laid = fit(&view, source.routine);
    let dance = Some((source.routine, &laid));
    let sheet = Sheet::of(source.routine, Some((&view, &laid)));
    let map_name = own_name(source.map_name, "song", ".song.json");
    let routine_name = own_name(source.routine_name, "routine", ".txt");
    let names = Names { map: map_name.clone(), routine: routine_name.clone() };
    let plan = lesson::lesson(source.routine, &view, &laid, source.minutes, &names);
    let options = draw::Options::default();
    let look = |paper| Look { paper, ..Look::default() };

    let mut files = Vec::new();
    let mut put = |name: &str, what: &'static str, bytes: Vec<u8>| {
        files.push(PackFile { name: name.to_string(), what, bytes });
    };
    put("sheet.pdf", "the cue sheet, to print on A4", sheet.pdf(look(Paper::A4))?);
    put("sheet-letter.pdf", "the cue sheet, to print on Letter", sheet.pdf(look(Paper::Letter))?);
    put("sheet.html", "the cue sheet, to read on a screen", sheet.html(Look::default()).into());
    put("sheet.txt", "the cue sheet as text, which can be changed and read again", {
        sheet.text(source.routine, false).into()
    });
    put("timeline.svg", "the song's phrases over the parts", {
        draw::timeline(&view, dance, &options).into()
    });
    put("lesson.html", "a plan for a class", lesson::html(&plan, Look::default()).into());
    let exports = [
        (Format::Calls, "calls.vtt", "the steps called ahead of time, as captions"),
        (Format::Captions, "counts.vtt", "the counts, as captions"),
        (Format::Markers, "markers.csv", "where everything is, as a table"),
        (Format::Midi, "tempo.mid", "the tempo map with markers and a click"),
    ];
    for (format, name, what) in exports {
        put(name, what, format.bytes(source.map, dance)?);
    }
    put(&map_name, "the song map: what was heard and what was set", {
        source.map.to_bytes(Path::new(&map_name))?
    });
    put(&routine_name, "the routine as typed", source.routine_text.into());
    let manifest = Manifest {
        format: Manifest::FORMAT.into(),
        version: Manifest::VERSION,
        made_with: concat!("hoofbeat ", env!("CARGO_PKG_VERSION")).into(),
        map: map_name,
        routine: routine_name,
    };
    let manifest = serde_json::to_vec_pretty(&manifest)
        .map_err(|e| Error::Usage(format!("the pack's own page cannot be written: {e}")))?;
    put(Manifest::NAME, "what hoofbeat opens the pack by", manifest);
    let page = index::page(&sheet, source.map, source.recording, &files);
    files.insert(
        0,
        PackFile { name: "index.html".into(), what: "this page", bytes: page.into_bytes() },
    );
    Ok(files)
}

/// Names of a pack's files that are always the same.
const TAKEN: [&str; 12] = [
    "index.html",
    "sheet.pdf",
    "sheet-letter.pdf",
    "sheet.html",
    "sheet.txt",
    "timeline.svg",
    "lesson.html",
    "calls.vtt",
    "counts.vtt",
    "markers.csv",
    "tempo.mid",
    Manifest::NAME,
];

/// A file's own name as it can stand in any folder on any machine; `stem` where nothing is left of it.
pub(super) fn own_name(name: &str, stem: &str, ending: &str) -> String {
    let base = name.rsplit(['/', '\\']).next().unwrap_or("");
    let base = base.strip_suffix(ending).unwrap_or(base);
    let kept: String = base
        .chars()
        .filter(|c| !c.is_control())
        .map(|c| if matches!(c, '<' | '>' | ':' | '"' | '|' | '?' | '*') { '-' } else { c })
        .take(80)
        .collect();
    let kept = kept.trim_matches([' ', '.']);
    let name = format!("{}{ending}", if kept.is_empty() { stem } else { kept });
    if TAKEN.iter().any(|taken| taken.eq_ignore_ascii_case(&name)) {
        return format!("{stem}-{name}");
    }
    name
}

/// A pack opened.
#[derive(Debug, Clone, PartialEq)]
pub struct Opened {
    /// The song map in it.
    pub map: SongMap,
    /// The routine's text.
    pub routine_text: String,
    /// The routine's file name.
    pub routine_name: String,
}

#[cfg(test)]
mod tests;
