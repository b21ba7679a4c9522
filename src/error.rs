//! What can go wrong, as facts. The words a user reads are made here and nowhere else.

use std::path::PathBuf;

use thiserror::Error;

/// A result with Hoofbeat's error.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Everything that stops a command. The message says what was wrong and where; [`Error::advice`] says
/// what to do next.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum Error {
    /// A file could not be read or written.
    #[error("{}: {}", path.display(), io_words(source))]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A folder was given where a file is needed.
    #[error("{} is a folder, not a file", .0.display())]
    IsAFolder(PathBuf),
    /// The file exists and may not be overwritten unasked.
    #[error("{} exists already", .0.display())]
    Exists(PathBuf),
    /// The file is not audio, or not in a format that can be read.
    #[error("{}: not a recording that can be read ({found})", path.display())]
    NotAudio {
        /// The file.
        path: PathBuf,
        /// What was found instead.
        found: String,
    },
    /// The audio codec is known by name but cannot be decoded in this build.
    #[error("{}: {codec} audio cannot be decoded", path.display())]
    UnsupportedCodec {
        /// The file.
        path: PathBuf,
        /// Name of the codec.
        codec: String,
    },
    /// Decoding found so much damage that nothing trustworthy is left.
    #[error("{}: the recording is damaged: {lost} of {packets} packets could not be decoded", path.display())]
    TooDamaged {
        /// The file.
        path: PathBuf,
        /// Packets that failed.
        lost: u64,
        /// Packets seen.
        packets: u64,
    },
    /// No beat was found.
    #[error("{}: no pulse found: {why}", path.display())]
    NoPulse {
        /// The file.
        path: PathBuf,
        /// What was heard instead, in words.
        why: String,
    },
    /// A song map could not be understood.
    #[error("{}: not a song map that can be read: {why}", path.display())]
    BadMap {
        /// The file.
        path: PathBuf,
        /// Where and why, in words.
        why: String,
    },
    /// A song map written by a newer release.
    #[error("{}: this song map is version {found}; this release reads up to version {known}", path.display())]
    NewerMap {
        /// The file.
        path: PathBuf,
        /// The version in the file.
        found: u64,
        /// The newest version understood.
        known: u64,
    },
    /// The saved song map belongs to a recording that sounds different.
    #[error("{}: this song map is of another recording ({map_of}), not of {}", map.display(), audio.display())]
    OtherRecording {
        /// The map's file.
        map: PathBuf,
        /// The recording given.
        audio: PathBuf,
        /// What the map says it is of.
        map_of: String,
    },
    /// The recording of a song map is not where it was.
    #[error("{}: its recording, {file}, is not beside it", map.display())]
    NoRecording {
        /// The map's file.
        map: PathBuf,
        /// Name of the recording.
        file: String,
    },
    /// The new cut is of another song.
    #[error("{}: this is not the same song as {song}: {percent} % matches", audio.display())]
    OtherSong {
        /// The recording.
        audio: PathBuf,
        /// Title of the song it was held against.
        song: String,
        /// How much of it was found in the song, per cent.
        percent: u32,
    },
    /// Another command is changing the same song map.
    #[error("{}: another command is writing this song map", .0.display())]
    Busy(PathBuf),
    /// A mark that cannot be made.
    #[error("{0}")]
    BadMark(String),
    /// The file holds no text.
    #[error("{}: not a sheet that can be read: {found}", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
        /// What was found instead, in words.
        found: String,
    },
    /// The routine has mistakes; all of them are listed.
    #[error("{}: {} in the routine{}", path.display(), mistakes(findings.len()), listed(findings))]
    Routine {
        /// The file.
        path: PathBuf,
        /// Each mistake, already in words with its line and column.
        findings: Vec<String>,
    },
    /// Of several recordings, some could not be listened to.
    #[error("{} of {of} recordings could not be listened to:{}", failed.len(), listed(failed))]
    SomeFailed {
        /// What was wrong with each, in words.
        failed: Vec<String>,
        /// How many there were.
        of: usize,
    },
    /// Arguments that go together badly.
    #[error("{0}")]
    Usage(String),
}

impl Error {
    /// What the user can do next, where there is something to say.
    pub fn advice(&self) -> Option<String> {
        Some(match self {
            Error::Io { source, .. } if source.kind() == std::io::ErrorKind::NotFound => {
                "check the spelling and the folder; names with spaces need quotes".into()
            }
            Error::Io { source, .. } if source.kind() == std::io::ErrorKind::StorageFull => {
                "free some space or choose another place with -o; nothing was changed".into()
            }
            Error::IsAFolder(_) => "name a file in it".into(),
            Error::Exists(_) => "choose another name with -o, or add --force to replace it".into(),
            Error::NotAudio { .. } => {
                "MP3, M4A (AAC or ALAC), FLAC, Ogg Vorbis, WAV and AIFF can be read; \
                 convert anything else to one of these first"
                    .into()
            }
            #[cfg(not(feature = "opus"))]
            Error::UnsupportedCodec { codec, .. } if codec == "Opus" => {
                "convert the recording to MP3, M4A (AAC-LC), FLAC or WAV first, or build hoofbeat \
                 with `cargo build --release --features opus`"
                    .into()
            }
            Error::UnsupportedCodec { .. } => {
                "convert the recording to MP3, M4A (AAC-LC), FLAC or WAV first".into()
            }
            Error::TooDamaged { .. } => "try another copy of the recording".into(),
            Error::NoPulse { .. } => {
                "if you can hear one, keep an empty map with `listen --without-beats` and type the \
                 times with `mark MAP tap`"
                    .into()
            }
            Error::BadMap { .. } => {
                "listen to the recording again, or take the backup copy if you kept one".into()
            }
            Error::NewerMap { .. } => "install a newer release of hoofbeat".into(),
            Error::Busy(_) => "wait until it is done, then try again; nothing was changed".into(),
            Error::OtherRecording { .. } => {
                "write to another file with -o, so that the marks in this one are kept".into()
            }
            Error::OtherSong { .. } => {
                "if it is all the same, listen to it by itself and mark its phrases by hand".into()
            }
            Error::NoRecording { .. } => {
                "put the recording there, or say where it is with --recording FILE".into()
            }
            Error::NotText { .. } => {
                "save the sheet as plain text (.txt) and name that file".into()
            }
            Error::Routine { .. } => {
                "mend these and run it again; `hoofbeat check ROUTINE` reads a sheet without a song"
                    .into()
            }
            _ => return None,
        })
    }
}

fn io_words(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => "no such file".into(),
        ErrorKind::PermissionDenied => "permission denied".into(),
        ErrorKind::StorageFull => "no space left on the disk".into(),
        _ => error.to_string(),
    }
}

fn mistakes(number: usize) -> String {
    match number {
        1 => "1 mistake".into(),
        n => format!("{n} mistakes"),
    }
}

fn listed(findings: &[String]) -> String {
    findings.iter().map(|f| format!("\n{f}")).collect()
}
