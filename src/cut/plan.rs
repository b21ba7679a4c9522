//! Which counts of a recording are kept, and where they are joined.

use serde::Serialize;

use super::joints::{Joints, count};
use crate::song::SongView;
use crate::units::Count;

/// A stretch of counts, played through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Piece {
    /// Its first count in the recording.
    pub from: Count,
    /// The count just after its last.
    pub to: Count,
}

impl Piece {
    /// How many counts it has.
    pub fn counts(&self) -> u32 {
        (self.to - self.from).max(0) as u32
    }
}

/// How a cut ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ending {
    /// As the recording does.
    AsRecorded,
    /// At the end of a phrase, faded out over its last counts.
    Faded,
}

/// A place where two pieces meet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Join {
    /// The count of the new cut that comes first after the join.
    pub at_count: Count,
    /// Its time in the new cut, seconds.
    pub at_s: f64,
    /// The count of the recording that would have followed.
    pub leave: Count,
    /// The count of the recording that follows.
    pub enter: Count,
    /// How unlike the two places sound: 0, the same; 1, like two places taken at random.
    pub unlike: f64,
}

/// A cut, as counts of a recording.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plan {
    /// What is kept, in the order it is played.
    pub pieces: Vec<Piece>,
    /// Where pieces meet, in order; one fewer than there are pieces.
    pub joins: Vec<Join>,
    /// How it ends.
    pub ending: Ending,
    /// Length of the new cut, seconds.
    pub duration_s: f64,
    /// What stands before the first count and is kept, seconds.
    pub lead_s: f64,
}

/// Silence after a faded end, seconds.
pub(super) const RING_S: f64 = 0.5;

impl Plan {
    /// A plan from its pieces, as index ranges into the counts. Pieces that meet in the recording become one.
    pub(super) fn of(song: &SongView, joints: &Joints, ranges: &[(usize, usize)]) -> Plan {
        let mut merged: Vec<(usize, usize)> = Vec::new();
        for &(from, to) in ranges.iter().filter(|(from, to)| from < to) {
            match merged.last_mut() {
                Some(last) if last.1 == from => last.1 = to,
                _ => merged.push((from, to)),
            }
        }
        let times = &song.counts;
        let time = |index: usize| times.time_or_beyond_s(count(index));
        let starts_at_start = merged.first().is_some_and(|first| first.0 == 0);
        let lead_s = match merged.first() {
            Some(_) if starts_at_start => time(0).max(0.0),
            // What leads into the first count from before it: an upbeat.
            Some(&(first, _)) => (time(first) - time(first - 1)).min(1.0),
            None => 0.0,
        };
        let mut at_s = lead_s;
        let mut counted = 0;
        let mut joins = Vec::new();
        for (k, &(from, to)) in merged.iter().enumerate() {
            if let Some(&(_, leave)) = k.checked_sub(1).and_then(|before| merged.get(before)) {
                let unlike = joints.targets(leave).iter().find(|t| t.enter == from);
                joins.push(Join {
                    at_count: count(counted),
                    at_s,
                    leave: count(leave),
                    enter: count(from),
                    unlike: unlike.map_or(1.0, |target| target.unlike),
                });
            }
            // The interval across a join is that of the piece that is left.
            at_s += time(to) - time(from);
            counted += to - from;
        }
        let whole_end = merged.last().is_some_and(|last| last.1 == song.counts.len());
        let rest_s = song.duration_s - time(song.counts.len());
        let ending = if whole_end { Ending::AsRecorded } else { Ending::Faded };
        let duration_s = at_s + if whole_end { rest_s.max(0.0) } else { RING_S };
        let pieces = merged.iter().map(|&(from, to)| Piece { from: count(from), to: count(to) });
        Plan { pieces: pieces.collect(), joins, ending, duration_s, lead_s }
    }

    /// Counts in the new cut.
    pub fn counts(&self) -> u32 {
        self.pieces.iter().map(Piece::counts).sum()
    }

    /// The counts of the recording that are played, in order.
    pub fn played(&self) -> impl Iterator<Item = Count> + '_ {
        self.pieces.iter().flat_map(|piece| (piece.from.0..piece.to.0).map(Count))
    }
}
