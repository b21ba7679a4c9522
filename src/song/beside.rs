//! What belongs to a song map and stands beside it: the recording, and its sound as it was heard.

use std::path::{Path, PathBuf};

use super::{SongMap, kept};
use crate::audio::{self, is_same_recording};
use crate::error::{Error, Result};
use crate::rhythm::{self, Ear};

/// The recording of a map: the one named, or the file of that name beside the map.
///
/// # Errors
/// [`Error::NoRecording`] when there is none.
pub fn recording_of(map_path: &Path, map: &SongMap, named: Option<&Path>) -> Result<PathBuf> {
    if let Some(path) = named {
        return Ok(path.to_path_buf());
    }
    let beside = map_path.with_file_name(&map.recording.file);
    match beside.is_file() {
        true => Ok(beside),
        false => Err(Error::NoRecording {
            map: map_path.to_path_buf(),
            file: map.recording.file.clone(),
        }),
    }
}

/// The sound of a map's recording: as kept beside the map, or else heard anew and kept.
///
/// # Errors
/// Those of [`recording_of`] and [`audio::decode`]; [`Error::OtherRecording`] when the file is another
/// recording than the map is of.
pub fn sound_of(
    map_path: &Path,
    map: &SongMap,
    named: Option<&Path>,
    progress: &mut (dyn FnMut(f64) + Send),
) -> Result<rhythm::Heard> {
    if let Some(sound) = kept::find(map_path, &map.recording.fingerprint) {
        return Ok(sound);
    }
    let audio = recording_of(map_path, map, named)?;
    let (decoded, sound) = audio::decode_beside(
        &audio,
        |blocks| {
            let mut ear = Ear::new();
            blocks.for_each(|block| ear.hear(&block));
            ear.finish()
        },
        progress,
    )?;
    if !is_same_recording(&map.recording, &decoded.recording) {
        return Err(Error::OtherRecording {
            map: map_path.to_path_buf(),
            audio,
            map_of: map.recording.file.clone(),
        });
    }
    kept::keep(map_path, &sound, &map.recording.fingerprint);
    Ok(sound)
}
