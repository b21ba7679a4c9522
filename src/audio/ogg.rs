//! Where an Ogg file has lost pages, so that what follows a hole stands at its true time.
//!
//! Only the end of a page has a timestamp. After a lost page the demuxer takes the end of the page
//! before it for the start of the next, so that page's packets come too early. This walk lists such
//! pages with their true end, from which their packets are placed backwards.
//!
//! Source: RFC 3533, section 6 (page header and checksum).

use std::collections::BTreeMap;
use std::io::{BufReader, Read, Seek, SeekFrom};

/// A page that follows on a hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Break {
    /// The logical stream.
    pub serial: u32,
    /// End of the last good page before the hole: where the demuxer puts this page's first packet.
    pub false_start: i64,
    /// True end of this page.
    pub end: i64,
    /// Packets that the demuxer delivers from it.
    pub packets: usize,
}

#[derive(Default)]
struct Stream {
    sequence: Option<u32>,
    end: Option<i64>,
    partial: bool,
    hole: bool,
}

const HEADER: usize = 27;

/// Walks over all pages. An empty list: nothing is missing between two pages.
pub fn walk(file: &mut (impl Read + Seek)) -> Vec<Break> {
    let mut breaks = Vec::new();
    let mut streams: BTreeMap<u32, Stream> = BTreeMap::new();
    let table = checksum_table();
    let Ok(_) = file.seek(SeekFrom::Start(0)) else { return breaks };
    let mut file = BufReader::with_capacity(256 << 10, file);
    let mut page = Vec::new();
    while next_page(&mut file, &mut page, &table).is_some() {
        let number = |at: usize| {
            page.get(at..at + 4)
                .and_then(|field| field.try_into().ok())
                .map_or(0, u32::from_le_bytes)
        };
        let flags = page[5];
        let end = i64::from(number(6)) | i64::from(number(10)) << 32;
        let (serial, sequence) = (number(14), number(18));
        let lacing = &page[HEADER..HEADER + usize::from(page[26])];
        let stream = streams.entry(serial).or_default();
        if flags & 2 != 0 {
            *stream = Stream::default();
        }
        if stream.sequence.is_some_and(|last| sequence != last && sequence != last.wrapping_add(1))
        {
            stream.hole = true;
            stream.partial = false;
        }
        stream.sequence = Some(sequence);
        let continued = flags & 1 != 0;
        let mut packets = lacing.iter().filter(|length| **length < 255).count();
        if continued && !stream.partial {
            // The packet begun on the lost page goes with it.
            if packets == 0 {
                continue;
            }
            packets -= 1;
        }
        stream.partial = lacing.last() == Some(&255);
        if packets == 0 {
            continue;
        }
        // A last page may end in padding, so its packets cannot be placed from its end.
        if let (true, Some(false_start), false) = (stream.hole, stream.end, flags & 4 != 0) {
            breaks.push(Break { serial, false_start, end, packets });
        }
        stream.hole = false;
        stream.end = Some(end);
    }
    breaks
}

/// Reads the next page whose checksum is right, skipping whatever is not one.
fn next_page(file: &mut (impl Read + Seek), page: &mut Vec<u8>, table: &[u32; 256]) -> Option<()> {
    loop {
        let mut window = [0u8; 4];
        file.read_exact(&mut window).ok()?;
        while &window != b"OggS" {
            window.rotate_left(1);
            file.read_exact(&mut window[3..]).ok()?;
        }
        page.clear();
        page.extend_from_slice(&window);
        page.resize(HEADER, 0);
        file.read_exact(&mut page[4..]).ok()?;
        let segments = usize::from(page[26]);
        page.resize(HEADER + segments, 0);
        file.read_exact(&mut page[HEADER..]).ok()?;
        let body: usize = page[HEADER..].iter().map(|length| usize::from(*length)).sum();
        page.resize(HEADER + segments + body, 0);
        file.read_exact(&mut page[HEADER + segments..]).ok()?;
        let stated = u32::from_le_bytes(page.get(22..26)?.try_into().ok()?);
        page[22..26].fill(0);
        let sum = page
            .iter()
            .fold(0u32, |sum, byte| sum << 8 ^ table[usize::from((sum >> 24) as u8 ^ *byte)]);
        if sum == stated && page[4] == 0 {
            return Some(());
        }
        // The damage may have been in the lengths: look again from just behind the marker.
        file.seek(SeekFrom::Current(4 - page.len() as i64)).ok()?;
    }
}

/// The polynomial is 0x04c11db7, the start value 0, nothing reflected (RFC 3533).
fn checksum_table() -> [u32; 256] {
    std::array::from_fn(|byte| {
        (0..8).fold((byte as u32) << 24, |sum, _| {
            if sum >> 31 == 1 { sum << 1 ^ 0x04c1_1db7 } else { sum << 1 }
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn page(flags: u8, end: i64, sequence: u32, lacing: &[u8]) -> Vec<u8> {
        let mut page = b"OggS\0".to_vec();
        page.push(flags);
        page.extend(end.to_le_bytes());
        page.extend(77u32.to_le_bytes());
        page.extend(sequence.to_le_bytes());
        page.extend([0; 4]);
        page.push(lacing.len() as u8);
        page.extend(lacing);
        page.resize(page.len() + lacing.iter().map(|l| usize::from(*l)).sum::<usize>(), 0xab);
        let table = checksum_table();
        let sum = page
            .iter()
            .fold(0u32, |sum, byte| sum << 8 ^ table[usize::from((sum >> 24) as u8 ^ *byte)]);
        page[22..26].copy_from_slice(&sum.to_le_bytes());
        page
    }

    fn pages() -> [Vec<u8>; 5] {
        [
            page(2, 0, 0, &[30]),
            page(0, 1000, 1, &[50, 50, 255]),
            page(1, 2000, 2, &[10, 60, 60]),
            page(0, 3000, 3, &[70, 70]),
            page(4, 3500, 4, &[70]),
        ]
    }

    #[test]
    fn a_whole_file_has_no_breaks() {
        assert_eq!(walk(&mut Cursor::new(pages().concat())), []);
    }

    #[test]
    fn a_damaged_page_leaves_a_hole_before_the_next() {
        let mut pages = pages();
        pages[2][40] ^= 1;
        let hole = Break { serial: 77, false_start: 1000, end: 3000, packets: 2 };
        assert_eq!(walk(&mut Cursor::new(pages.concat())), [hole]);
    }

    #[test]
    fn a_packet_whose_beginning_was_lost_is_not_counted() {
        let mut pages = pages();
        pages.swap(1, 4);
        pages[4].clear();
        pages[1] = page(0, 500, 1, &[20]);
        pages[2] = page(1, 2000, 3, &[10, 60, 60]);
        pages[3] = page(0, 3000, 4, &[9]);
        let hole = Break { serial: 77, false_start: 500, end: 2000, packets: 2 };
        assert_eq!(walk(&mut Cursor::new(pages.concat())), [hole]);
    }

    #[test]
    fn damaged_lengths_do_not_swallow_the_pages_behind() {
        let mut pages = pages();
        pages[2][26] = 255;
        let found = walk(&mut Cursor::new([pages.concat(), vec![0; 70_000]].concat()));
        assert_eq!(found.len(), 1);
    }
}
