//! The edit list of an MP4 file: how much encoder delay to leave out, and how long the sound is.
//!
//! Source: ISO/IEC 14496-12, boxes `mvhd`, `trak`, `tkhd`, `edts`, `elst`. Older iTunes files keep the
//! same facts in the tag `com.apple.iTunes:iTunSMPB` instead ([`from_itunes_tag`]).

use std::io::{Read, Seek, SeekFrom};

/// What to leave out of a track's decoded sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edit {
    /// Ticks of the track's own clock to drop from the start.
    pub skip: i64,
    /// Silence before the sound, in seconds.
    pub silence_s: f64,
    /// Length of the sound in seconds, where stated.
    pub length_s: Option<f64>,
}

/// A `moov` box larger than this is not read: two hours of audio need about 3 MB.
const LARGEST_INDEX: u64 = 256 << 20;

/// Reads the edit list of track `track_id`; `None` when the file has none or is no MP4 file.
pub fn edit(file: &mut (impl Read + Seek), track_id: u32) -> Option<Edit> {
    let moov = find_moov(file)?;
    let movie_rate = boxes(&moov).find(|(kind, _)| kind == b"mvhd").and_then(|(_, mvhd)| {
        // Version 1 has 64-bit dates before the clock rate, version 0 32-bit ones.
        number(mvhd, if mvhd.first() == Some(&1) { 20 } else { 12 }, 4)
    })?;
    boxes(&moov)
        .filter(|(kind, _)| kind == b"trak")
        .find(|(_, trak)| {
            boxes(trak).any(|(kind, tkhd)| {
                let at = if tkhd.first() == Some(&1) { 20 } else { 12 };
                kind == b"tkhd" && number(tkhd, at, 4) == Some(u64::from(track_id))
            })
        })
        .and_then(|(_, trak)| boxes(trak).find(|(kind, _)| kind == b"edts"))
        .and_then(|(_, edts)| boxes(edts).find(|(kind, _)| kind == b"elst"))
        .and_then(|(_, elst)| read_elst(elst, movie_rate))
}

fn read_elst(elst: &[u8], movie_rate: u64) -> Option<Edit> {
    let wide = elst.first() == Some(&1);
    let (field, entry) = if wide { (8, 20) } else { (4, 12) };
    let entries = number(elst, 4, 4)?;
    let seconds = |ticks: u64| ticks as f64 / movie_rate.max(1) as f64;
    let mut silence_s = 0.0;
    for index in 0..usize::try_from(entries).ok()? {
        let at = 8 + index * entry;
        let duration = number(elst, at, field)?;
        let media_time = number(elst, at + field, field)?;
        let media_time = if wide { media_time as i64 } else { i64::from(media_time as u32 as i32) };
        if media_time < 0 {
            silence_s += seconds(duration);
            continue;
        }
        // A stated length of 0 means "the rest"; several edits in a row are not one stretch of sound.
        let last = index as u64 + 1 == entries;
        let length_s = (duration > 0 && last).then(|| seconds(duration));
        return Some(Edit { skip: media_time, silence_s, length_s });
    }
    None
}

/// How long an MP4 file says it is, by its outermost boxes; more than it holds when it was cut off.
pub fn declared_length(file: &mut (impl Read + Seek)) -> Option<u64> {
    let mut at = 0u64;
    loop {
        file.seek(SeekFrom::Start(at)).ok()?;
        let mut head = [0u8; 16];
        let Ok(()) = file.read_exact(&mut head[..8]) else { return Some(at) };
        if at == 0 && &head[4..8] != b"ftyp" {
            return None;
        }
        let size = match number(&head, 0, 4)? {
            1 => {
                file.read_exact(&mut head[8..]).ok()?;
                number(&head, 8, 8)?
            }
            size => size,
        };
        if size < 8 {
            return Some(at);
        }
        at = at.checked_add(size)?;
    }
}

/// Reads the text of an `iTunSMPB` tag: delay, padding and length in samples, as hexadecimal words.
pub fn from_itunes_tag(text: &str, rate_hz: u32) -> Option<Edit> {
    let mut words = text.split_whitespace().skip(1).map(|w| u64::from_str_radix(w, 16).ok());
    let (delay, _padding, length) = (words.next()??, words.next()??, words.next()??);
    let length_s = (length > 0).then(|| length as f64 / f64::from(rate_hz.max(1)));
    Some(Edit { skip: i64::from(u32::try_from(delay).ok()?), silence_s: 0.0, length_s })
}

fn find_moov(file: &mut (impl Read + Seek)) -> Option<Vec<u8>> {
    let mut at = 0u64;
    loop {
        file.seek(SeekFrom::Start(at)).ok()?;
        let mut head = [0u8; 16];
        file.read_exact(&mut head[..8]).ok()?;
        let (mut size, mut header) = (number(&head, 0, 4)?, 8);
        if size == 1 {
            file.read_exact(&mut head[8..]).ok()?;
            (size, header) = (number(&head, 8, 8)?, 16);
        }
        if &head[4..8] == b"moov" {
            let mut body = Vec::new();
            // Size 0 means "to the end of the file".
            let length = if size == 0 { LARGEST_INDEX } else { size.saturating_sub(header) };
            file.take(length.min(LARGEST_INDEX)).read_to_end(&mut body).ok()?;
            return Some(body);
        }
        if size < header {
            return None;
        }
        at = at.checked_add(size)?;
    }
}

/// The boxes inside a box's body, as (kind, body); stops at the first that makes no sense.
fn boxes(body: &[u8]) -> impl Iterator<Item = (&[u8], &[u8])> {
    let mut rest = body;
    std::iter::from_fn(move || {
        let (mut size, mut header) = (number(rest, 0, 4)?, 8usize);
        if size == 1 {
            (size, header) = (number(rest, 8, 8)?, 16);
        }
        let size = if size == 0 { rest.len() } else { usize::try_from(size).ok()? };
        let (kind, inside) = (rest.get(4..8)?, rest.get(header..size)?);
        rest = &rest[size..];
        Some((kind, inside))
    })
}

fn number(bytes: &[u8], at: usize, length: usize) -> Option<u64> {
    let field = bytes.get(at..at.checked_add(length)?)?;
    Some(field.iter().fold(0, |value, &byte| value << 8 | u64::from(byte)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
        let mut all = ((body.len() + 8) as u32).to_be_bytes().to_vec();
        all.extend_from_slice(kind);
        all.extend_from_slice(body);
        all
    }

    fn movie(elst: &[u8]) -> Cursor<Vec<u8>> {
        let mut mvhd = vec![0; 12];
        mvhd.extend(1000u32.to_be_bytes());
        let mut tkhd = vec![0; 12];
        tkhd.extend(7u32.to_be_bytes());
        let trak = [boxed(b"tkhd", &tkhd), boxed(b"edts", &boxed(b"elst", elst))].concat();
        let moov = [boxed(b"mvhd", &mvhd), boxed(b"trak", &trak)].concat();
        Cursor::new([boxed(b"ftyp", b"M4A "), boxed(b"moov", &moov)].concat())
    }

    fn words(values: &[u32]) -> Vec<u8> {
        values.iter().flat_map(|v| v.to_be_bytes()).collect()
    }

    #[test]
    fn narrow_and_wide_lists_say_the_same() {
        let narrow = words(&[0, 1, 2500, 1024, 0x1_0000]);
        let wide = words(&[0x0100_0000, 1, 0, 2500, 0, 1024, 0x1_0000]);
        let told = Some(Edit { skip: 1024, silence_s: 0.0, length_s: Some(2.5) });
        assert_eq!(edit(&mut movie(&narrow), 7), told);
        assert_eq!(edit(&mut movie(&wide), 7), told);
        assert_eq!(edit(&mut movie(&narrow), 8), None);
    }

    #[test]
    fn an_empty_edit_is_silence_before_the_sound() {
        let list = words(&[0, 2, 500, u32::MAX, 0x1_0000, 0, 2112, 0x1_0000]);
        let told = Edit { skip: 2112, silence_s: 0.5, length_s: None };
        assert_eq!(edit(&mut movie(&list), 7), Some(told));
    }

    #[test]
    fn broken_lists_are_no_lists() {
        for cut in 0..20 {
            let list = words(&[0, 1, 2500, 1024, 0x1_0000]);
            assert_eq!(edit(&mut movie(&list[..cut.min(12)]), 7), None);
        }
        assert_eq!(edit(&mut Cursor::new(vec![0; 64]), 7), None);
        assert_eq!(edit(&mut Cursor::new(vec![255; 64]), 7), None);
    }

    #[test]
    fn the_itunes_tag_is_read() {
        let tag = " 00000000 00000840 000001CA 00000000003F31F6 00000000 00000000";
        let told = from_itunes_tag(tag, 44_100).unwrap();
        assert_eq!(told.skip, 2112);
        assert!((told.length_s.unwrap() - 4_141_558.0 / 44_100.0).abs() < 1e-9);
        assert_eq!(from_itunes_tag("00000000 nonsense", 44_100), None);
    }
}
