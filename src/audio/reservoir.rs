//! Where frames were cut out of an MP3 file and the ends joined, so that no header shows it.
//!
//! Layer III frames borrow room from those before them: each says how many bytes back its data begin,
//! and its side information how long they are. In a whole stream each frame's data begin where the last
//! one's end. Where frames are missing they do not.
//!
//! Source: ISO/IEC 11172-3, 2.4.1.7 and 2.4.2.7 (`main_data_begin`, `part2_3_length`); 13818-3 for the
//! shorter side information of the low sample rates.

/// Follows the data through the frames of a stream.
#[derive(Default)]
pub struct Reservoir {
    /// Bytes of room in all frames so far.
    room: i64,
    /// Where the last frame's data end, in bytes of room.
    data_end: Option<i64>,
    frames: u64,
    /// Frames whose data begin before the last one's end: the first, and how many.
    overlaps: (Option<u64>, u64),
    /// Frames whose data leave room unused before them: the first, and how many.
    gaps: (Option<u64>, u64),
}

/// What a frame's side information says.
struct Side {
    borrowed: i64,
    data_bits: i64,
    room: i64,
}

impl Reservoir {
    /// Takes the next frame, header included.
    pub fn follow(&mut self, frame: &[u8]) {
        let Some(side) = read_side(frame) else {
            self.data_end = None;
            return;
        };
        let begin = self.room - side.borrowed;
        if let Some(end) = self.data_end.filter(|end| *end != begin) {
            let seams = if begin < end { &mut self.overlaps } else { &mut self.gaps };
            seams.0.get_or_insert(self.frames);
            seams.1 += 1;
        }
        self.data_end = Some(begin + (side.data_bits + 7) / 8);
        self.room += side.room;
        self.frames += 1;
    }

    /// The frame in front of which frames are missing, if one place stands out: data that overlap,
    /// which no encoder writes, or the only gap within the stream.
    pub fn seam(&self) -> Option<u64> {
        // Encoders leave gaps at the ends, and in music so quiet that there is room to spare.
        let inside = |frame: u64| frame > 3 && frame + 3 < self.frames;
        match (self.overlaps, self.gaps) {
            ((Some(frame), 1), _) => Some(frame),
            ((None, _), (Some(frame), 1)) if inside(frame) => Some(frame),
            _ => None,
        }
    }
}

fn read_side(frame: &[u8]) -> Option<Side> {
    let header = u32::from_be_bytes(frame.get(..4)?.try_into().ok()?);
    let full_rate = header >> 19 & 3 == 3;
    let channels: usize = if header >> 6 & 3 == 3 { 1 } else { 2 };
    let start = if header >> 16 & 1 == 0 { 6 } else { 4 };
    // Bits: how far back, private bits and shared scale factors; then each granule of each channel.
    let (back, before, each, granules, length) = match (full_rate, channels) {
        (true, 1) => (9, 18, 59, 2, 17),
        (true, _) => (9, 20, 59, 2, 32),
        (false, 1) => (8, 9, 63, 1, 9),
        (false, _) => (8, 10, 63, 1, 17),
    };
    let side = frame.get(start..start + length)?;
    let data_bits = (0..granules * channels).map(|part| bits(side, before + part * each, 12)).sum();
    Some(Side {
        borrowed: bits(side, 0, back),
        data_bits,
        room: frame.len() as i64 - (start + length) as i64,
    })
}

fn bits(bytes: &[u8], at: usize, count: usize) -> i64 {
    (at..at + count).fold(0, |value, bit| {
        let byte = bytes.get(bit / 8).copied().unwrap_or(0);
        value << 1 | i64::from(byte >> (7 - bit % 8) & 1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A mono frame of 100 bytes with room for 79, that borrows `back` bytes and holds `data`.
    fn frame(back: u32, data: u32) -> Vec<u8> {
        let mut frame = vec![0u8; 100];
        frame[..4].copy_from_slice(&[0xff, 0xfb, 0x90, 0xc0]);
        let mut put = |at: usize, count: usize, value: u32| {
            for bit in 0..count {
                let set = value >> (count - 1 - bit) & 1 == 1;
                frame[4 + (at + bit) / 8] |= u8::from(set) << (7 - (at + bit) % 8);
            }
        };
        put(0, 9, back);
        put(18, 12, data * 8);
        frame
    }

    fn seam(frames: &[(u32, u32)]) -> Option<u64> {
        let mut reservoir = Reservoir::default();
        frames.iter().for_each(|(back, data)| reservoir.follow(&frame(*back, *data)));
        reservoir.seam()
    }

    const WHOLE: [(u32, u32); 10] = [
        (0, 69),
        (10, 79),
        (10, 59),
        (30, 100),
        (9, 79),
        (9, 80),
        (8, 60),
        (27, 90),
        (16, 70),
        (25, 70),
    ];

    #[test]
    fn a_whole_stream_has_no_seam() {
        assert_eq!(seam(&WHOLE), None);
    }

    #[test]
    fn a_frame_cut_out_leaves_a_seam_where_it_was() {
        for cut in 4..7 {
            let mut frames = WHOLE.to_vec();
            let (_, data) = frames.remove(cut);
            // Data as long as a frame's room leave no trace.
            assert_eq!(seam(&frames), (data != 79).then_some(cut as u64), "{cut}");
        }
    }
}
