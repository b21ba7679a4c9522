//! Laying decoded pieces on one time line: gaps become silence, overlaps are cut.

/// More silence than this in all, in seconds, is taken for broken timestamps.
const LONGEST_GAP_S: u64 = 3600;
/// Silence is written in blocks of this many frames.
const SILENCE: [f32; 4096] = [0.0; 4096];

/// What was lost on the way.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Losses {
    /// Packets that failed, were missing, or made no sense.
    pub packets: u64,
    /// Frames of silence that stand in for them.
    pub frames: u64,
    /// Where the first of them begins, in frames.
    pub first_at: Option<u64>,
}

/// The time line of a recording, in frames at the file's rate. Frame 0 is the first true sample.
pub struct Timeline {
    next: u64,
    /// Samples to a frame.
    width: usize,
    limit: Option<u64>,
    longest_gap: u64,
    /// Timestamps nearer than this to the end of the last piece are rounding, not gaps.
    rounding: u64,
    losses: Losses,
    typical_piece: u64,
}

impl Timeline {
    /// An empty time line at `rate_hz`, `width` samples to a frame, to be cut at `limit` frames where the
    /// true length is known.
    pub fn new(rate_hz: u32, width: usize, limit: Option<u64>, rounding: u64) -> Timeline {
        Timeline {
            next: 0,
            width: width.max(1),
            limit,
            longest_gap: LONGEST_GAP_S * u64::from(rate_hz),
            rounding,
            losses: Losses::default(),
            typical_piece: 0,
        }
    }

    /// Frames laid so far.
    pub fn len(&self) -> u64 {
        self.next
    }

    /// What was lost so far.
    pub fn losses(&self) -> Losses {
        self.losses
    }

    /// Counts a packet that failed before its place could be known.
    pub fn lose_unplaced(&mut self) {
        self.losses.packets += 1;
        self.losses.first_at.get_or_insert(self.next);
    }

    /// Lays a piece whose first frame belongs at `at`; before frame 0 is encoder delay and dropped.
    pub fn lay(&mut self, at: i64, piece: &[f32], sink: &mut dyn FnMut(&[f32])) {
        let mut piece = piece;
        let mut at = at;
        if at.unsigned_abs().abs_diff(self.next) <= self.rounding && at >= 0 {
            at = self.next as i64;
        }
        let next = i64::try_from(self.next).unwrap_or(i64::MAX);
        if at < next {
            let early = usize::try_from(next.saturating_sub(at)).unwrap_or(usize::MAX);
            if early >= piece.len() / self.width {
                return;
            }
            piece = &piece[early * self.width..];
            at = next;
        }
        let at = at.unsigned_abs();
        let gap = at - self.next;
        if gap > 0 && !piece.is_empty() {
            if gap + self.losses.frames > self.longest_gap
                || self.limit.is_some_and(|limit| at >= limit)
            {
                return self.lose_unplaced();
            }
            let pieces = gap.checked_div(self.typical_piece).unwrap_or(1).max(1);
            self.lose(pieces, gap, sink);
        }
        let room = self.limit.map_or(u64::MAX, |limit| limit.saturating_sub(self.next));
        let frames = piece.len() / self.width;
        let fits = usize::try_from(room).unwrap_or(usize::MAX).min(frames);
        if fits > 0 {
            sink(&piece[..fits * self.width]);
            self.next += fits as u64;
            self.typical_piece = self.typical_piece.max(frames as u64);
        }
    }

    /// Fills the place of a failed packet, as far as nothing lies there yet.
    pub fn lay_loss(&mut self, at: i64, frames: u64, sink: &mut dyn FnMut(&[f32])) {
        let end = u64::try_from(at.saturating_add_unsigned(frames)).unwrap_or(0);
        let end = self.limit.map_or(end, |limit| end.min(limit));
        let missing = end.saturating_sub(self.next);
        if missing + self.losses.frames > self.longest_gap {
            return self.lose_unplaced();
        }
        self.lose(1, missing, sink);
    }

    fn lose(&mut self, packets: u64, frames: u64, sink: &mut dyn FnMut(&[f32])) {
        self.losses.packets += packets;
        self.losses.frames += frames;
        self.losses.first_at.get_or_insert(self.next);
        let mut left = frames;
        while left > 0 {
            let part = left.min((SILENCE.len() / self.width) as u64);
            sink(&SILENCE[..part as usize * self.width]);
            left -= part;
        }
        self.next += frames;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laid(timeline: &mut Timeline, pieces: &[(i64, &[f32])]) -> Vec<f32> {
        let mut out = Vec::new();
        for (at, piece) in pieces {
            timeline.lay(*at, piece, &mut |b| out.extend_from_slice(b));
        }
        out
    }

    #[test]
    fn a_gap_becomes_silence_and_is_counted() {
        let mut t = Timeline::new(100, 1, None, 0);
        let out = laid(&mut t, &[(0, &[1.0, 2.0]), (4, &[3.0])]);
        assert_eq!(out, [1.0, 2.0, 0.0, 0.0, 3.0]);
        assert_eq!(t.losses(), Losses { packets: 1, frames: 2, first_at: Some(2) });
    }

    #[test]
    fn delay_before_zero_overlap_and_what_lies_past_the_end_are_cut() {
        let mut t = Timeline::new(100, 1, Some(4), 0);
        let out = laid(&mut t, &[(-1, &[9.0, 1.0, 2.0]), (1, &[8.0, 3.0, 4.0, 5.0]), (5, &[6.0])]);
        assert_eq!(out, [1.0, 2.0, 3.0, 4.0]);
    }

    #[test]
    fn frames_of_two_samples_stay_together() {
        let mut t = Timeline::new(100, 2, Some(4), 0);
        let out =
            laid(&mut t, &[(-1, &[9.0, 9.0, 1.0, 2.0]), (2, &[3.0, 4.0, 5.0, 6.0, 7.0, 8.0])]);
        assert_eq!(out, [1.0, 2.0, 0.0, 0.0, 3.0, 4.0, 5.0, 6.0]);
        assert_eq!(t.len(), 4);
    }

    #[test]
    fn rounded_timestamps_leave_no_holes() {
        let mut t = Timeline::new(100, 1, None, 2);
        assert_eq!(laid(&mut t, &[(0, &[1.0; 3]), (4, &[2.0; 3]), (5, &[3.0])]).len(), 7);
        assert_eq!(t.losses(), Losses::default());
    }

    #[test]
    fn a_wild_timestamp_is_refused_and_counted() {
        let mut t = Timeline::new(100, 1, None, 0);
        let out = laid(&mut t, &[(0, &[1.0]), (i64::MAX, &[2.0]), (i64::MIN, &[2.0]), (1, &[3.0])]);
        assert_eq!(out, [1.0, 3.0]);
        assert_eq!(t.losses().packets, 1);
    }

    #[test]
    fn a_failed_packet_at_the_end_keeps_its_length() {
        let mut t = Timeline::new(100, 1, None, 0);
        let mut out = Vec::new();
        t.lay(0, &[1.0; 4], &mut |b| out.extend_from_slice(b));
        t.lay_loss(4, 4, &mut |b| out.extend_from_slice(b));
        t.lay_loss(2, 4, &mut |b| out.extend_from_slice(b));
        assert_eq!(out.len(), 8);
        assert_eq!(t.losses(), Losses { packets: 2, frames: 4, first_at: Some(4) });
    }
}
