//! Copies of one recording keep time with it: what is of one piece lies on one line, the new time a fixed offset from the
//! old at a fixed ratio. The old cut's counts are laid along each such line, where the new cut's beats were heard elsewhere: at
//! another pulse for a stretch, half a count off, missed.

use std::ops::Range;

use super::counting::Counting;
use super::old::Old;
use super::path::Path;
use crate::rhythm::median;

/// Offsets further apart than this, in counts, are of two pieces.
const APART: f64 = 1.5;
/// A piece has so many counts that lie on its line, and so large a share of all.
const LEAST_ON_LINE: usize = 12;
const MOST_ON_LINE: f64 = 0.5;
/// On the line: within this share of a count.
const ON_LINE: f64 = 0.2;
/// Players come near a line too where they do not drift far, but few of their counts lie so near it, in counts: copies have
/// at least this share there.
const STEADY: f64 = 0.06;
const LEAST_STEADY: f64 = 0.4;
/// A beat that was heard stays where it is when it is as near.
const AS_HEARD: f64 = 0.12;
/// A piece goes on to where its phrase starts and ends, if that is within so many counts.
const TO_START: usize = 16;
const TO_END: usize = 8;

/// One piece of the recording as it stands in the new cut.
struct Piece {
    offset_s: f64,
    /// Old counts to be laid.
    old: Range<usize>,
}

/// A count of the new cut and the old one that it is.
#[derive(Clone, Copy)]
struct Pair {
    new: usize,
    old: usize,
}

struct Lines<'a> {
    old: &'a Old,
    counting: &'a Counting,
    pairs: Vec<Pair>,
    /// Seconds of the new cut to one of the old.
    slope: f64,
    period_s: f64,
}

/// The counting with the old cut's counts along each piece; `None` where it is so already.
pub(super) fn straightened(old: &Old, counting: &Counting, path: &Path) -> Option<Counting> {
    shifted(old, counting, path, 0.0)
}

/// The same with each count so many counts later than its line.
pub(super) fn shifted(old: &Old, counting: &Counting, path: &Path, later: f64) -> Option<Counting> {
    let pairs = path.pairs().map(|(new, old)| Pair { new, old });
    let mut lines = Lines { old, counting, pairs: pairs.collect(), slope: 1.0, period_s: 0.0 };
    lines.slope = lines.steady_slope()?;
    lines.period_s = lines.slope * 60.0 / old.counts_per_minute;
    let mut pieces = lines.pieces();
    if !lines.is_steady(&pieces) {
        return None;
    }
    pieces.iter_mut().for_each(|piece| piece.offset_s += later * lines.period_s);
    lines.laid(&pieces)
}

impl Lines<'_> {
    fn new_s(&self, pair: Pair) -> f64 {
        self.counting.beats_s[pair.new]
    }

    fn old_s(&self, pair: Pair) -> f64 {
        self.old.times_s[pair.old]
    }

    fn offset_s(&self, pair: Pair) -> f64 {
        self.new_s(pair) - self.slope * self.old_s(pair)
    }

    /// From counts in step that stand as far apart as can be found often, so that single beats weigh little; not from
    /// those between which beats come to be heard half a count off, as shorter stretches tell.
    fn steady_slope(&self) -> Option<f64> {
        const OFTEN: usize = 16;
        let rough = median(self.slopes(16)).filter(|slope| *slope > 0.0)?;
        let found = [128, 64, 32].into_iter().find_map(|far| {
            let near = |slope: &f64| (slope / rough - 1.0).abs() < 0.25 / far as f64;
            let slopes: Vec<f64> = self.slopes(far).into_iter().filter(near).collect();
            if slopes.len() < OFTEN { None } else { median(slopes) }
        });
        found.or((self.slopes(16).len() >= OFTEN).then_some(rough))
    }

    /// Of all counts in step that stand so far apart.
    fn slopes(&self, far: usize) -> Vec<f64> {
        let in_step = |k: usize| {
            let (a, b) = (self.pairs[k - far], self.pairs[k]);
            (b.new - a.new == far && b.old.checked_sub(a.old) == Some(far))
                .then(|| (self.new_s(b) - self.new_s(a)) / (self.old_s(b) - self.old_s(a)))
        };
        (far..self.pairs.len()).filter_map(in_step).collect()
    }

    /// Whether enough of what is in the pieces keeps time as a copy does.
    fn is_steady(&self, pieces: &[Piece]) -> bool {
        let within = |pair: &Pair, counts: f64| {
            let away = |piece: &Piece| (self.offset_s(*pair) - piece.offset_s).abs();
            let its = pieces.iter().filter(|piece| piece.old.contains(&pair.old));
            its.map(away).any(|away| away < counts * self.period_s)
        };
        let number = |counts: f64| self.pairs.iter().filter(|pair| within(pair, counts)).count();
        number(STEADY) as f64 >= LEAST_STEADY * number(APART) as f64
    }

    fn pieces(&self) -> Vec<Piece> {
        let mut pieces = Vec::new();
        let mut start = 0;
        for k in 1..=self.pairs.len() {
            let goes_on = k < self.pairs.len() && {
                let recent = start.max(k.saturating_sub(16))..k;
                let usual = median(recent.map(|k| self.offset_s(self.pairs[k])).collect());
                usual.is_some_and(|usual| {
                    (self.offset_s(self.pairs[k]) - usual).abs() < APART * self.period_s
                })
            };
            if !goes_on {
                pieces.extend(self.piece(start..k));
                start = k;
            }
        }
        self.reach_out(&mut pieces);
        pieces
    }

    fn piece(&self, pairs: Range<usize>) -> Option<Piece> {
        let offsets: Vec<f64> = pairs.clone().map(|k| self.offset_s(self.pairs[k])).collect();
        let offset_s = median(offsets.clone())?;
        let near = |offset: &f64| (offset - offset_s).abs() < ON_LINE * self.period_s;
        let on_line = offsets.iter().filter(|offset| near(offset)).count();
        if on_line < LEAST_ON_LINE || (on_line as f64) < MOST_ON_LINE * offsets.len() as f64 {
            return None;
        }
        let nearest = |k: usize| {
            let at_s = (self.new_s(self.pairs[k]) - offset_s) / self.slope;
            let after = self.old.times_s.partition_point(|&s| s < at_s);
            let near = after.saturating_sub(1)..(after + 1).min(self.old.times_s.len());
            near.min_by(|&a, &b| {
                let away = |i: usize| (self.old.times_s[i] - at_s).abs();
                away(a).total_cmp(&away(b))
            })
        };
        let old = nearest(pairs.start)?..nearest(pairs.end - 1)? + 1;
        (old.len() >= LEAST_ON_LINE).then_some(Piece { offset_s, old })
    }

    fn laid_s(&self, piece: &Piece, old: usize) -> f64 {
        piece.offset_s + self.slope * self.old.times_s[old]
    }

    /// Each piece goes on to where its phrases start and end, as far as it meets no other.
    fn reach_out(&self, pieces: &mut [Piece]) {
        let starts = &self.old.starts;
        for k in 0..pieces.len() {
            let (before, rest) = pieces.split_at_mut(k);
            let Some((piece, after)) = rest.split_first_mut() else { continue };
            let free_s =
                before.last().map_or(0.0, |p| self.laid_s(p, p.old.end - 1) + self.period_s / 2.0);
            let least = piece.old.start.saturating_sub(TO_START);
            let start = (least..=piece.old.start).rev().find(|&i| starts[i]);
            if let Some(start) = start.filter(|&i| self.laid_s(piece, i) >= free_s) {
                piece.old.start = start;
            }
            let next_s = after.first().map_or(f64::INFINITY, |p| self.laid_s(p, p.old.start));
            let most = (piece.old.end + TO_END).min(starts.len());
            let end = (piece.old.end..most).find(|&i| starts[i]);
            let fits = |end: &usize| self.laid_s(piece, end - 1) + self.period_s / 2.0 < next_s;
            if let Some(end) = end.filter(fits) {
                piece.old.end = end;
            }
        }
    }

    /// All counts: along the pieces those of the old cut, as heard elsewhere.
    fn laid(&self, pieces: &[Piece]) -> Option<Counting> {
        let heard = &self.counting.beats_s;
        let mut out =
            Counting { beats_s: Vec::new(), bar: Vec::new(), laid: Vec::new(), ..*self.counting };
        let mut moved = Vec::new();
        let mut from = 0;
        for piece in pieces {
            let first_s = self.laid_s(piece, piece.old.start) - self.period_s / 2.0;
            let end_s = self.laid_s(piece, piece.old.end - 1) + self.period_s / 2.0;
            let start = heard.partition_point(|&s| s < first_s).max(from);
            let end = heard.partition_point(|&s| s < end_s).max(start);
            out.beats_s.extend(&heard[from..start]);
            out.bar.extend(&self.counting.bar[from..start]);
            let mut before = start.checked_sub(1);
            for i in piece.old.clone() {
                let at_s = self.laid_s(piece, i);
                let near =
                    (start..end).find(|&k| (heard[k] - at_s).abs() < AS_HEARD * self.period_s);
                // Between two counts no other beat was heard.
                let goes_on =
                    near.is_some() && near == before.map_or(Some(0), |k| k.checked_add(1));
                if !goes_on {
                    moved.push(out.beats_s.len());
                }
                before = near;
                out.beats_s.push(near.map_or(at_s, |k| heard[k]));
                out.bar.push(self.old.bar[i]);
            }
            from = end;
        }
        out.beats_s.extend(&heard[from..]);
        out.bar.extend(&self.counting.bar[from..]);
        if moved.is_empty() && out.beats_s.len() == heard.len() {
            return None;
        }
        out.laid = stretches(&moved, out.beats_s.len());
        self.count_guessed(&mut out);
        Some(out)
    }

    /// How many stand before the first beat that was heard, and after the last.
    fn count_guessed(&self, out: &mut Counting) {
        let heard = &self.counting.beats_s;
        let first_s = heard.get(self.counting.guessed).copied().unwrap_or(0.0);
        let last = heard.len().saturating_sub(self.counting.guessed_last + 1);
        let last_s = heard.get(last).copied().unwrap_or(f64::INFINITY);
        let half_s = self.period_s / 2.0;
        out.guessed = out.beats_s.partition_point(|&s| s < first_s - half_s);
        out.guessed_last = out.beats_s.iter().rev().take_while(|&&s| s > last_s + half_s).count();
    }
}

/// Runs of places with one more on either side; those that meet are one.
fn stretches(places: &[usize], n: usize) -> Vec<Range<usize>> {
    let mut out: Vec<Range<usize>> = Vec::new();
    for &place in places {
        let (from, to) = (place.saturating_sub(1), (place + 2).min(n));
        match out.last_mut().filter(|last| last.end + 2 >= from) {
            Some(last) => last.end = to,
            None => out.push(from..to),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::song::form::BeatSounds;

    /// Phrases of 16 counts at 120 a minute from second 1 on.
    fn old(counts: usize) -> Old {
        Old {
            times_s: (0..counts).map(|i| 1.0 + 0.5 * i as f64).collect(),
            sounds: BeatSounds::default(),
            counts_per_minute: 120.0,
            before: 0,
            bar: (0..counts).map(|i| (i % 4) as u32 + 1).collect(),
            starts: (0..counts).map(|i| i % 16 == 0).collect(),
        }
    }

    fn heard(beats_s: Vec<f64>) -> Counting {
        let bar = vec![1; beats_s.len()];
        Counting { beats_s, bar, ratio: 1.0, guessed: 0, guessed_last: 0, laid: Vec::new() }
    }

    fn straight(old: &Old, beats_s: Vec<f64>, path: Vec<Option<usize>>) -> Option<Counting> {
        straightened(old, &heard(beats_s), &Path { old: path, score: 0.0 })
    }

    fn assert_beats(counting: &Counting, expected: impl Iterator<Item = f64>) {
        let expected: Vec<f64> = expected.collect();
        assert_eq!(counting.beats_s.len(), expected.len(), "{:?}", counting.beats_s);
        for (told, expected) in counting.beats_s.iter().zip(expected) {
            assert!((told - expected).abs() < 0.02, "{told} {expected}");
        }
    }

    #[test]
    fn a_copy_that_is_heard_in_time_stays_as_it_is() {
        let old = old(64);
        let beats_s: Vec<f64> = old.times_s.iter().map(|s| s * 1.1 + 0.3).collect();
        assert!(straight(&old, beats_s, (0..64).map(Some).collect()).is_none());
    }

    #[test]
    fn a_stretch_heard_at_another_pulse_has_the_old_counts() {
        let old = old(96);
        // Three beats to two counts from count 32 to count 48, and those are not found again.
        let before = (0..32).map(|i| (1.0 + 0.5 * i as f64, Some(i)));
        let fast = (0..24).map(|k| (17.0 + k as f64 / 3.0, None));
        let behind = (48..96).map(|i| (1.0 + 0.5 * i as f64, Some(i)));
        let (beats_s, path) = before.chain(fast).chain(behind).unzip();
        let counting = straight(&old, beats_s, path).unwrap();
        assert_beats(&counting, old.times_s.iter().copied());
        assert_eq!(counting.bar, old.bar);
        assert_eq!(counting.laid.len(), 1, "{:?}", counting.laid);
        assert!(counting.laid[0].start <= 33 && counting.laid[0].end >= 48, "{:?}", counting.laid);
    }

    #[test]
    fn a_phrase_entered_half_a_count_late_starts_in_time() {
        let old = old(64);
        let late = (0..8).map(|i| 1.25 + 0.5 * i as f64);
        let beats_s: Vec<f64> = late.chain((8..64).map(|i| 1.0 + 0.5 * i as f64)).collect();
        let counting = straight(&old, beats_s, (0..64).map(Some).collect()).unwrap();
        assert_beats(&counting, old.times_s.iter().copied());
    }

    #[test]
    fn new_music_between_two_pieces_keeps_its_beats() {
        let old = old(64);
        let before = (0..32).map(|i| (1.0 + 0.5 * i as f64, Some(i)));
        let new = (0..14).map(|k| (17.1 + 0.56 * k as f64, None));
        let behind = (32..64).map(|i| (25.0 + 0.5 * (i - 32) as f64, Some(i)));
        let (beats_s, path): (Vec<f64>, Vec<Option<usize>>) =
            before.chain(new).chain(behind).unzip();
        assert!(straight(&old, beats_s, path).is_none());
    }
}
