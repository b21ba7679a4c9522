//! What is kept of the sound beside a song map, so that one correction can right the rest of the song
//! without decoding again.
//!
//! The file is `NAME.heard` beside `NAME.song.json`. It may be deleted at any time: without it, and
//! where it is damaged, older than this release or of another recording, corrections are laid over what
//! was heard, and nothing is said.
//!
//! Layout, numbers little-endian:
//!
//! | bytes | what |
//! | --- | --- |
//! | 8 | `HOOFHEAR` |
//! | 4 | version of this layout and of the ear's front, `VERSION` |
//! | 4 + n | fingerprint of the recording: its length, then UTF-8 |
//! | 8 | samples heard, at 22 050 a second |
//! | 4 | level of the recording's loud frames, decibels (`f32`) |
//! | 8 + n | decibel bytes of the bands, `[n_frames, n_bands]` |
//! | 8 + n | decibel bytes of the attack bands, `[n_points, 4]` |
//! | 8 | activations a second (`f64`) |
//! | 8 + 4 n | likelihood of a beat (`f32`), `[n_frames]` |
//! | 8 + 4 n | likelihood of a downbeat (`f32`), `[n_frames]` |
//! | 8 | checksum of everything before |

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::rhythm::{Activations, FeatureParts, Features, Heard};
use crate::save::{Overwrite, save};

const MAGIC: &[u8; 8] = b"HOOFHEAR";
/// Raised whenever the layout, the bands or what a byte stands for change.
const VERSION: u32 = 1;
/// Twelve hours take 270 MB.
const MOST_BYTES: u64 = 512 << 20;

/// Where the sound of a map's recording is kept.
pub fn path_beside(map: &Path) -> PathBuf {
    let name = map.file_name().unwrap_or(map.as_os_str()).to_string_lossy().into_owned();
    let stem = name.strip_suffix(".song.json").or_else(|| name.strip_suffix(".json"));
    map.with_file_name(format!("{}.heard", stem.unwrap_or(&name)))
}

/// Keeps what was heard beside a map. That it could not be kept is no error: it is only a help. A file
/// of that name that is something else is left alone.
pub fn keep(map: &Path, sound: &Heard, fingerprint: &str) {
    let path = path_beside(map);
    let mut start = [0; MAGIC.len()];
    let foreign = match File::open(&path) {
        Ok(mut file) => file.read_exact(&mut start).is_err() || &start != MAGIC,
        Err(_) => false,
    };
    if !foreign {
        // Said above: no error.
        let _ = save(&path, &to_bytes(sound, fingerprint), Overwrite::Yes);
    }
}

/// What was kept beside a map, if it is there, whole, and of the recording.
pub fn find(map: &Path, fingerprint: &str) -> Option<Heard> {
    let file = File::open(path_beside(map)).ok()?;
    let length = file.metadata().ok()?.len();
    if length > MOST_BYTES {
        return None;
    }
    let mut bytes = Vec::with_capacity(length as usize);
    file.take(MOST_BYTES).read_to_end(&mut bytes).ok()?;
    from_bytes(&bytes, fingerprint)
}

fn to_bytes(sound: &Heard, fingerprint: &str) -> Vec<u8> {
    let parts = sound.features.parts();
    let curves = [&sound.activations.beat, &sound.activations.downbeat];
    let size = parts.levels.len() + parts.attack.len() + 8 * curves[0].len() + 256;
    let mut out = Vec::with_capacity(size);
    let block = |out: &mut Vec<u8>, bytes: &[u8]| {
        out.extend((bytes.len() as u64).to_le_bytes());
        out.extend(bytes);
    };
    out.extend(MAGIC);
    out.extend(VERSION.to_le_bytes());
    out.extend((fingerprint.len() as u32).to_le_bytes());
    out.extend(fingerprint.as_bytes());
    out.extend(parts.n_samples.to_le_bytes());
    out.extend(parts.reference_db.to_le_bytes());
    block(&mut out, parts.levels);
    block(&mut out, parts.attack);
    out.extend(sound.activations.frames_per_second.to_le_bytes());
    for curve in curves {
        out.extend((curve.len() as u64).to_le_bytes());
        out.extend(curve.iter().flat_map(|x| x.to_le_bytes()));
    }
    let sum = checksum(&out);
    out.extend(sum.to_le_bytes());
    out
}

fn from_bytes(bytes: &[u8], fingerprint: &str) -> Option<Heard> {
    let (body, sum) = bytes.split_last_chunk::<8>()?;
    let mut rest = Rest(body);
    if rest.take(MAGIC.len())? != MAGIC
        || u32::from_le_bytes(rest.array()?) != VERSION
        || checksum(body) != u64::from_le_bytes(*sum)
    {
        return None;
    }
    let length = u32::from_le_bytes(rest.array()?) as usize;
    if rest.take(length)? != fingerprint.as_bytes() {
        return None;
    }
    let n_samples = u64::from_le_bytes(rest.array()?);
    let reference_db = f32::from_le_bytes(rest.array()?);
    let levels = rest.block(1)?;
    let attack = rest.block(1)?;
    let frames_per_second = f64::from_le_bytes(rest.array()?);
    let [beat, downbeat] = [rest.curve()?, rest.curve()?];
    let features = Features::from_parts(&FeatureParts { n_samples, reference_db, levels, attack })?;
    let sound = frames_per_second.is_finite() && beat.len() == downbeat.len() && rest.0.is_empty();
    let activations = Activations { frames_per_second, beat, downbeat };
    sound.then_some(Heard { features, activations })
}

/// Bytes not read yet.
struct Rest<'a>(&'a [u8]);

impl<'a> Rest<'a> {
    fn take(&mut self, length: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(length)?;
        self.0 = rest;
        Some(taken)
    }

    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (taken, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*taken)
    }

    /// A number of items and the items, `size` bytes each.
    fn block(&mut self, size: usize) -> Option<&'a [u8]> {
        let items = usize::try_from(u64::from_le_bytes(self.array()?)).ok()?;
        self.take(items.checked_mul(size)?)
    }

    fn curve(&mut self) -> Option<Vec<f32>> {
        let (values, _) = self.block(4)?.as_chunks::<4>();
        Some(values.iter().map(|x| f32::from_le_bytes(*x)).collect())
    }
}

/// FNV-1a over words of eight bytes: quick, and sure to notice a damaged or missing piece.
fn checksum(bytes: &[u8]) -> u64 {
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    let (words, rest) = bytes.as_chunks::<8>();
    let start = 0xcbf2_9ce4_8422_2325 ^ bytes.len() as u64;
    let sum = words.iter().fold(start, |sum, word| {
        (sum ^ u64::from_le_bytes(*word)).wrapping_mul(PRIME).rotate_left(23)
    });
    rest.iter().fold(sum, |sum, &byte| (sum ^ u64::from(byte)).wrapping_mul(PRIME))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rhythm::Ear;

    fn sound() -> Heard {
        let mut ear = Ear::new();
        let samples: Vec<f32> = (0..50_000)
            .map(|n| if n % 11_025 < 300 { (n % 8) as f32 / 8.0 } else { 0.0 })
            .collect();
        ear.hear(&samples);
        ear.finish()
    }

    #[test]
    fn what_is_kept_comes_back_exactly() {
        let sound = sound();
        let back = from_bytes(&to_bytes(&sound, "abc"), "abc").unwrap();
        assert_eq!(back.features.parts(), sound.features.parts());
        assert_eq!(back.activations, sound.activations);
        assert_eq!(to_bytes(&back, "abc"), to_bytes(&sound, "abc"));
    }

    #[test]
    fn the_sound_of_another_recording_is_not_taken() {
        assert!(from_bytes(&to_bytes(&sound(), "abc"), "abd").is_none());
    }

    #[test]
    fn any_damage_is_noticed() {
        let whole = to_bytes(&sound(), "abc");
        for at in (0..whole.len()).step_by(997).chain(0..64).chain(whole.len() - 64..whole.len()) {
            let mut damaged = whole.clone();
            damaged[at] ^= 0x10;
            assert!(from_bytes(&damaged, "abc").is_none(), "byte {at}");
            assert!(from_bytes(&whole[..at], "abc").is_none(), "cut at {at}");
        }
        let longer = [&whole[..], b"more"].concat();
        assert!(from_bytes(&longer, "abc").is_none());
    }

    #[test]
    fn a_file_of_another_program_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let map = folder.path().join("lamp.song.json");
        let path = path_beside(&map);
        assert_eq!(path, folder.path().join("lamp.heard"));
        std::fs::write(&path, "my own notes").unwrap();
        keep(&map, &sound(), "abc");
        assert_eq!(std::fs::read(&path).unwrap(), b"my own notes");
        assert!(find(&map, "abc").is_none());
        std::fs::remove_file(&path).unwrap();
        keep(&map, &sound(), "abc");
        assert!(find(&map, "abc").is_some());
    }
}
