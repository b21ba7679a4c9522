//! Where an MP3 (or MP2) file has lost frames: its frames carry no timestamps, so they are counted.
//!
//! A frame whose header was hit is stepped over in silence by a decoder, and all that follows comes one
//! frame early. This walk goes from header to header as the demuxer does, sees where one frame does not
//! follow on another, and works out from the bytes between how many frames stood there.
//!
//! Source of the header's fields: ISO/IEC 11172-3 and 13818-3, section 2.4.2.3.

use std::io::{Read, Seek, SeekFrom};

/// A damaged stretch. Frames are numbered as the demuxer delivers them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Break {
    /// First frame delivered from within the damage; it is not sound.
    pub first_false: u64,
    /// First good frame after it.
    pub resume: u64,
    /// Samples by which everything from `resume` on lies later than the demuxer's timestamps say.
    pub shift: i64,
}

/// What a walk over a file found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Walk {
    /// Damaged stretches in order.
    pub breaks: Vec<Break>,
    /// Bytes of good frames.
    pub solid_bytes: u64,
    /// Bytes from the first frame to the end of the file.
    pub span_bytes: u64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Header {
    /// Version, layer, sample rate: what stays alike in one stream.
    kind: (u32, u32, u32),
    mono: bool,
    bitrate_index: u32,
    /// Samples decoded from it.
    samples: i64,
    /// Whole frame, header included.
    bytes: u64,
}

/// Bit rates in kbit/s by index: MPEG 1 layers I, II and III, MPEG 2 and 2.5 layer I, then II and III.
const KBITS: [[u64; 15]; 5] = [
    [0, 32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448],
    [0, 32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384],
    [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320],
    [0, 32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256],
    [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
];

/// Frames whose mean length tells how many frames a stretch of bytes held.
const REMEMBERED: usize = 64;

impl Header {
    fn read(word: u32) -> Option<Header> {
        let (version, layer) = (word >> 19 & 3, word >> 17 & 3);
        let (bitrate_index, rate_index) = (word >> 12 & 15, word >> 10 & 3);
        if word >> 21 != 0x7ff || version == 1 || layer == 0 {
            return None;
        }
        // Free bit rate (0) is not delivered by the demuxer.
        if !(1..=14).contains(&bitrate_index) || rate_index == 3 {
            return None;
        }
        let table = match (version, layer) {
            (3, 3) => 0,
            (3, 2) => 1,
            (3, _) => 2,
            (_, 3) => 3,
            _ => 4,
        };
        let bits = KBITS[table][bitrate_index as usize] * 1000;
        let rate = [44_100, 48_000, 32_000][rate_index as usize]
            >> match version {
                3 => 0,
                2 => 1,
                _ => 2,
            };
        let padding = u64::from(word >> 9 & 1);
        let bytes = match (layer, version) {
            (3, _) => 4 * (12 * bits / rate + padding),
            (1, 0 | 2) => 72 * bits / rate + padding,
            _ => 144 * bits / rate + padding,
        };
        let samples = match (layer, version) {
            (3, _) => 384,
            (1, 0 | 2) => 576,
            _ => 1152,
        };
        let mono = word >> 6 & 3 == 3;
        Some(Header { kind: (version, layer, rate_index), mono, bitrate_index, samples, bytes })
    }

    fn is_like(&self, other: &Header) -> bool {
        self.kind == other.kind && self.mono == other.mono
    }

    /// Offset of a Xing or Info tag in a layer III frame.
    fn info_offset(&self) -> u64 {
        4 + match (self.kind.0 == 3, self.mono) {
            (true, false) => 32,
            (false, true) => 9,
            _ => 17,
        }
    }
}

/// Walks over a whole file. `None` where no two frames in a row are found.
pub fn walk(file: &mut (impl Read + Seek)) -> Option<Walk> {
    let mut bytes = Bytes::new(file)?;
    let mut at = skip_tags(&mut bytes, 0);
    // The first frame is one that a like frame follows.
    let reference = loop {
        let (place, header) = sync(&mut bytes, at)?;
        let follows = bytes.header(place + header.bytes).is_some_and(|next| next.is_like(&header));
        let alone = place + header.bytes + 4 > bytes.length;
        if follows || alone {
            at = place;
            break header;
        }
        at = place + 1;
    };
    let mut found = Walk { span_bytes: bytes.length - at, ..Walk::default() };
    let mut promised = None;
    let mut recent = Vec::with_capacity(REMEMBERED);
    let (mut index, mut shift, mut solid_frames) = (0u64, 0i64, 0u64);
    let (mut false_frames, mut false_samples, mut held_in_all) = (0u64, 0i64, 0u64);
    let mut solid_end = at;
    let mut steady = true;
    while let Some((place, header)) = sync(&mut bytes, at) {
        let end = place + header.bytes;
        if end > bytes.length {
            break;
        }
        at = end;
        if let Some(info) = info_tag(&mut bytes, place, &header) {
            promised = promised.or(info);
            if place == solid_end {
                solid_end = end;
            }
            continue;
        }
        let next = bytes.header(end);
        let joined = next.is_some_and(|next| next.is_like(&header));
        let at_end = end + 4 > bytes.length || is_tag(&mut bytes, end);
        let unbroken = place == solid_end;
        // A constant bit rate vouches for a frame whose follower was hit.
        let expected = unbroken && steady && recent.last() == Some(&header.bitrate_index);
        if header.is_like(&reference) && (joined || (unbroken && at_end) || expected) {
            if !unbroken || false_frames > 0 {
                let from = skip_tags(&mut bytes, solid_end).min(place);
                let held = frames_held(place - from, &recent, &header, steady);
                shift += held as i64 * header.samples - false_samples;
                if held > 0 || false_frames > 0 {
                    let first_false = index - false_frames;
                    found.breaks.push(Break { first_false, resume: index, shift });
                }
                solid_frames += held;
                held_in_all += held;
            }
            steady &= recent.last().is_none_or(|last| *last == header.bitrate_index);
            if recent.len() == REMEMBERED {
                recent.remove(0);
            }
            recent.push(header.bitrate_index);
            found.solid_bytes += header.bytes;
            (solid_frames, solid_end) = (solid_frames + 1, end);
            (false_frames, false_samples) = (0, 0);
        } else {
            false_frames += 1;
            false_samples += header.samples;
        }
        index += 1;
    }
    // The header's own count settles what one damaged stretch held, if nothing is missing at the end.
    let whole = solid_end == bytes.length || is_tag(&mut bytes, solid_end);
    if let ([one], Some(promised), true) = (&mut found.breaks[..], promised, whole) {
        let error = promised as i64 - solid_frames as i64;
        if error.abs() <= 2 + held_in_all as i64 / 4 && held_in_all as i64 + error >= 0 {
            one.shift += error * reference.samples;
        }
    }
    Some(found)
}

/// How many frames `gap` bytes held, by the frames before them.
fn frames_held(gap: u64, recent: &[u32], like: &Header, steady: bool) -> u64 {
    let sizes: Vec<u64> = (1..15)
        .flat_map(|index| {
            // Any word of this kind of stream gives the frame length for a bit rate.
            let (version, layer, rate) = like.kind;
            let word = 0x7ff << 21 | version << 19 | layer << 17 | index << 12 | rate << 10;
            Header::read(word).map(|header| header.bytes)
        })
        .collect();
    let size = |index: u32| sizes.get(index as usize - 1).copied().unwrap_or(like.bytes);
    let total: u64 = recent.iter().map(|index| size(*index)).sum();
    let mean = (total as f64 / recent.len().max(1) as f64).max(1.0);
    let padding = if like.kind.1 == 3 { 4 } else { 1 };
    let one = sizes.iter().any(|size| gap == *size || gap == size + padding);
    if !steady && one && (gap as f64) < 3.0 * mean {
        return 1;
    }
    (gap as f64 / mean).round() as u64
}

/// The next place at or after `at` that reads as a header, stepping as the demuxer does.
fn sync(bytes: &mut Bytes<impl Read + Seek>, mut at: u64) -> Option<(u64, Header)> {
    loop {
        let word = bytes.word(at)?;
        match Header::read(word) {
            Some(header) => return Some((at, header)),
            // The demuxer takes these four bytes for a header and only then finds them impossible.
            None if passes_quick_check(word) => at += 4,
            None => at += 1,
        }
    }
}

fn passes_quick_check(word: u32) -> bool {
    word >> 21 == 0x7ff
        && word >> 19 & 3 != 1
        && word >> 17 & 3 != 0
        && word >> 12 & 15 != 15
        && word >> 10 & 3 != 3
}

/// `Some` when the frame is no sound but a Xing, Info or VBRI tag; inside, the frames it promises.
fn info_tag(
    bytes: &mut Bytes<impl Read + Seek>,
    place: u64,
    header: &Header,
) -> Option<Option<u64>> {
    if header.kind.1 != 1 {
        return None;
    }
    let at = place + header.info_offset();
    let name = bytes.word(at)?.to_be_bytes();
    if &name == b"Xing" || &name == b"Info" {
        let counted = bytes.word(at + 4)? & 1 == 1;
        return Some(if counted { bytes.word(at + 8).map(u64::from) } else { None });
    }
    (bytes.word(place + 36)?.to_be_bytes() == *b"VBRI").then_some(None)
}

fn is_tag(bytes: &mut Bytes<impl Read + Seek>, at: u64) -> bool {
    skip_tags(bytes, at) > at
}

/// Steps over ID3 and APE tags, which hold no sound.
fn skip_tags(bytes: &mut Bytes<impl Read + Seek>, mut at: u64) -> u64 {
    loop {
        let Some(head) = bytes.get(at, 10).and_then(|head| <[u8; 10]>::try_from(head).ok()) else {
            return at;
        };
        if head.starts_with(b"ID3") {
            let size = head[6..].iter().fold(0u64, |size, byte| size << 7 | u64::from(byte & 127));
            at += 10 + size;
        } else if head.starts_with(b"TAG") && at + 128 == bytes.length {
            at += 128;
        } else if head.starts_with(b"APETAGEX") {
            let size = bytes.word(at + 12).map_or(0, |size| u64::from(size.swap_bytes()));
            at += 32 + size;
        } else {
            return at.min(bytes.length);
        }
    }
}

/// A window over a file, moved forward as it is read.
struct Bytes<'a, F> {
    file: &'a mut F,
    length: u64,
    from: u64,
    window: Vec<u8>,
}

impl<'a, F: Read + Seek> Bytes<'a, F> {
    const WINDOW: u64 = 256 << 10;

    fn new(file: &'a mut F) -> Option<Self> {
        let length = file.seek(SeekFrom::End(0)).ok()?;
        Some(Bytes { file, length, from: 0, window: Vec::new() })
    }

    fn get(&mut self, at: u64, count: usize) -> Option<&[u8]> {
        let end = at.checked_add(count as u64).filter(|end| *end <= self.length)?;
        if at < self.from || end > self.from + self.window.len() as u64 {
            self.file.seek(SeekFrom::Start(at)).ok()?;
            self.window.clear();
            (&mut *self.file).take(Self::WINDOW).read_to_end(&mut self.window).ok()?;
            self.from = at;
        }
        let start = usize::try_from(at - self.from).ok()?;
        self.window.get(start..start + count)
    }

    fn word(&mut self, at: u64) -> Option<u32> {
        Some(u32::from_be_bytes(self.get(at, 4)?.try_into().ok()?))
    }

    fn header(&mut self, at: u64) -> Option<Header> {
        Header::read(self.word(at)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    /// 128 kbit/s at 44.1 kHz: 417 bytes, or 418 with the padding bit (ISO/IEC 11172-3).
    fn frame(padded: bool) -> Vec<u8> {
        let mut frame = vec![0x55; 417 + usize::from(padded)];
        frame[..4].copy_from_slice(&[0xff, 0xfb, 0x90 | u8::from(padded) << 1, 0x64]);
        frame
    }

    fn stream(frames: usize) -> Vec<u8> {
        (0..frames).flat_map(|n| frame(n % 2 == 1)).collect()
    }

    fn breaks(bytes: Vec<u8>) -> Vec<Break> {
        walk(&mut Cursor::new(bytes)).unwrap().breaks
    }

    #[test]
    fn a_whole_file_has_no_breaks() {
        let found = walk(&mut Cursor::new(stream(50))).unwrap();
        assert_eq!(found.breaks, []);
        assert_eq!(found.solid_bytes, found.span_bytes);
    }

    #[test]
    fn a_frame_without_its_header_is_one_frame_missing() {
        let mut bytes = stream(50);
        let at = 20 * 835 / 2;
        bytes[at..at + 4].fill(0);
        let found = breaks(bytes);
        assert_eq!(found, [Break { first_false: 20, resume: 20, shift: 1152 }]);
    }

    #[test]
    fn a_hole_of_many_frames_is_counted() {
        let mut bytes = stream(200);
        bytes[41_750 + 100..62_625 + 50].fill(0);
        let last = *breaks(bytes).last().unwrap();
        // 200 frames less those after the hole: wherever false frames were seen, time adds up.
        let false_frames = (last.resume - last.first_false) as i64;
        assert_eq!(last.resume as i64 * 1152 + last.shift, 151 * 1152, "{false_frames} false");
    }

    #[test]
    fn a_tag_between_joined_files_is_no_missing_sound() {
        let tag = [b"ID3\x04\0\0\0\0\x07\x68".to_vec(), vec![0; 1000]].concat();
        assert_eq!(breaks([stream(20), tag.clone(), stream(20)].concat()), []);
        assert_eq!(
            breaks([tag, stream(20), [b"TAG".to_vec(), vec![0; 125]].concat()].concat()),
            []
        );
    }

    #[test]
    fn noise_has_no_frames_in_a_row() {
        let mut seed = 1u32;
        let noise: Vec<u8> = (0..20_000)
            .map(|_| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (seed >> 24) as u8
            })
            .collect();
        let found = walk(&mut Cursor::new(noise));
        assert!(found.is_none_or(|w| w.solid_bytes * 2 < w.span_bytes));
        assert_eq!(walk(&mut Cursor::new(Vec::new())), None);
    }
}
