//! A cut for a time limit.

use super::joints::{Joints, Target};
use super::plan::{Plan, RING_S};
use crate::error::{Error, Result};
use crate::song::SongView;
use crate::units::{Count, clock};

/// How long a cut may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// At least so many seconds.
    pub least_s: f64,
    /// At most so many seconds.
    pub most_s: f64,
}

/// Step of elapsed time in the search, seconds; the exact time is carried beside it.
const STEP_S: f64 = 0.2;
/// Counts that are played between two joins at least.
const SHORTEST_PIECE: usize = 8;
/// What it costs to stay under the limit by all of it; ten per cent under costs six tenths of a join.
const ALL_SHORT: f64 = 6.0;
/// What it costs to end by fading instead of as the recording does.
const FADED: f64 = 2.0;

/// The best cut of a song within a time limit: it leaves stretches out, keeps the order, and ends with the
/// recording or on a phrase. The cheapest of all such cuts, to a fifth of a second.
///
/// # Errors
/// [`Error::Usage`] when no cut is that long or short, with the nearest that there is.
pub fn shorten(song: &SongView, joints: &Joints, limit: Limit) -> Result<Plan> {
    let n = joints.len();
    let time = |index: usize| song.counts.time_or_beyond_s(Count::from_index(index));
    let lead_s = time(0).max(0.0);
    let rest_s = (song.duration_s - time(n)).max(0.0);
    let bins = (limit.most_s.clamp(0.0, 24.0 * 3600.0) / STEP_S) as usize + 1;
    let mut search = Search { cells: vec![Cell::NONE; (n + 1) * bins], bins };
    search.relax(0, lead_s, 0.0, Step::Start);
    for here in 0..n {
        for bin in 0..bins {
            let cell = search.cells[here * bins + bin];
            if !cell.cost.is_finite() {
                continue;
            }
            let played = |to: usize, from: usize| cell.elapsed_s + time(to) - time(from);
            search.relax(here + 1, played(here + 1, here), cell.cost, Step::Play(here, bin));
            for &Target { enter, cost, .. } in joints.targets(here) {
                // A piece that is over sooner is allowed where the song is over sooner.
                let until = (enter + SHORTEST_PIECE).min(n);
                if enter > here && here > 0 {
                    let total = cell.cost + cost;
                    search.relax(until, played(until, enter), total, Step::Join(here, bin, enter));
                }
            }
        }
    }
    let ends = (1..=n).filter(|&end| joints.is_edge(end));
    let mut best: Option<(f64, usize, usize)> = None;
    let mut nearest_s: Option<f64> = None;
    for end in ends {
        let (after_s, fading) = if end == n { (rest_s, 0.0) } else { (RING_S, FADED) };
        for bin in 0..bins {
            let cell = search.cells[end * bins + bin];
            let total_s = cell.elapsed_s + after_s;
            if !cell.cost.is_finite() || total_s > limit.most_s {
                continue;
            }
            if total_s < limit.least_s {
                nearest_s = Some(nearest_s.map_or(total_s, |other: f64| other.max(total_s)));
                continue;
            }
            let short = (limit.most_s - total_s) / limit.most_s.max(1.0);
            let cost = cell.cost + fading + ALL_SHORT * short;
            if best.is_none_or(|(other, ..)| cost < other) {
                best = Some((cost, end, bin));
            }
        }
    }
    match best {
        Some((_, end, bin)) => Ok(Plan::of(song, joints, &search.ranges(end, bin))),
        None => Err(Error::Usage(none_found(song, limit, nearest_s))),
    }
}

fn none_found(song: &SongView, limit: Limit, nearest_s: Option<f64>) -> String {
    if song.duration_s < limit.least_s {
        return format!(
            "the recording is {} long; a cut of at least {} would have to repeat parts of it: name \
             them with --keep",
            clock(song.duration_s),
            clock(limit.least_s)
        );
    }
    let nearest = match nearest_s {
        Some(s) => format!("; the nearest below is {}", clock(s)),
        None => String::new(),
    };
    format!(
        "no cut between {} and {} ends on a phrase{nearest}: allow more, or name what to keep with \
         --keep",
        clock(limit.least_s),
        clock(limit.most_s)
    )
}

/// How a cell was come to.
#[derive(Debug, Clone, Copy)]
enum Step {
    Start,
    /// Played on from the count before, from its bin.
    Play(usize, usize),
    /// Left at a count, in its bin, to go on with another.
    Join(usize, usize, usize),
}

#[derive(Debug, Clone, Copy)]
struct Cell {
    cost: f64,
    elapsed_s: f64,
    step: Step,
}

impl Cell {
    const NONE: Cell = Cell { cost: f64::INFINITY, elapsed_s: 0.0, step: Step::Start };
}

struct Search {
    /// Shape `[n_counts + 1, bins]`: the cheapest way to stand before a count after such a time.
    cells: Vec<Cell>,
    bins: usize,
}

impl Search {
    fn relax(&mut self, to: usize, elapsed_s: f64, cost: f64, step: Step) {
        let bin = (elapsed_s / STEP_S) as usize;
        if bin < self.bins {
            let cell = &mut self.cells[to * self.bins + bin];
            if cost < cell.cost {
                *cell = Cell { cost, elapsed_s, step };
            }
        }
    }

    /// What is played on the way to a cell, as index ranges.
    fn ranges(&self, mut here: usize, mut bin: usize) -> Vec<(usize, usize)> {
        let mut ranges = Vec::new();
        loop {
            match self.cells[here * self.bins + bin].step {
                Step::Start => break,
                Step::Play(before, in_bin) => {
                    ranges.push((before, here));
                    (here, bin) = (before, in_bin);
                }
                Step::Join(left, in_bin, enter) => {
                    ranges.push((enter, here));
                    (here, bin) = (left, in_bin);
                }
            }
        }
        ranges.reverse();
        ranges
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::{Ending, testing};

    fn cut(least_s: f64, most_s: f64) -> Result<Plan> {
        let (song, sounds) = testing::song();
        shorten(&song, &Joints::new(&song, &sounds), Limit { least_s, most_s })
    }

    #[test]
    fn a_song_that_is_short_enough_stays_whole() {
        let plan = cut(0.0, 300.0).unwrap();
        assert!(plan.joins.is_empty());
        assert_eq!(plan.counts(), 200);
        assert_eq!(plan.ending, Ending::AsRecorded);
        assert!((plan.duration_s - 103.0).abs() < 1e-9);
    }

    #[test]
    fn one_clean_join_keeps_whole_phrases_and_the_ending() {
        // 200 counts are 103 s; 64 counts less are 71 s.
        let plan = cut(0.0, 72.0).unwrap();
        assert_eq!(plan.joins.len(), 1, "{plan:?}");
        assert_eq!(plan.ending, Ending::AsRecorded);
        assert!((plan.duration_s - 71.0).abs() < 1e-9);
        assert!(plan.joins[0].unlike < 0.2);
        assert_eq!(plan.counts() % 8, 0);
    }

    #[test]
    fn a_cut_is_never_longer_than_asked_and_plays_every_count_once_in_order() {
        for most_s in (12..104).map(f64::from) {
            let Ok(plan) = cut(0.0, most_s) else { continue };
            assert!(plan.duration_s <= most_s + 1e-9, "{most_s}: {}", plan.duration_s);
            let played: Vec<Count> = plan.played().collect();
            assert!(played.is_sorted_by(|a, b| a < b), "{most_s}");
            assert_eq!(played.len() as u32, plan.counts());
            assert_eq!(plan.joins.len() + 1, plan.pieces.len());
        }
    }

    #[test]
    fn what_cannot_be_is_said() {
        let words = cut(200.0, 210.0).unwrap_err().to_string();
        assert!(words.contains("repeat"), "{words}");
        let words = cut(20.05, 20.1).unwrap_err().to_string();
        assert!(words.contains("nearest below"), "{words}");
        assert!(cut(0.0, 0.0).is_err());
    }
}
