//! Which places of a song can be joined: how unlike what follows is to what would have followed, and
//! what came before to what would have come before.

use crate::song::SongView;
use crate::song::form::BeatSounds;
use crate::units::Count;

/// Counts heard on either side of a join when two places are compared.
const BEFORE: usize = 4;
const AFTER: usize = 4;
/// How much each count of the comparison weighs, from the earliest to the latest: most at the join.
const WEIGHTS: [f32; BEFORE + AFTER] = [0.05, 0.10, 0.15, 0.20, 0.20, 0.15, 0.10, 0.05];
/// Targets kept for each place, beside phrase starts.
const MOST_TARGETS: usize = 24;
/// Shares of harmony, timbre, rhythm and loudness in how unlike two counts are.
const SHARES: [f32; 4] = [0.4, 0.25, 0.2, 0.15];

/// Places of a song that can be joined.
#[derive(Debug, Clone)]
pub struct Joints {
    /// For each count, 0-based: where one may go on instead.
    targets: Vec<Vec<Target>>,
    phrase_starts: Vec<bool>,
    /// The phrase of each count and its place in it; the count after the last belongs to none.
    in_phrase: Vec<Option<(usize, u32)>>,
    phrase_counts: Vec<u32>,
}

/// Another place to go on from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Index of the count to go on with, 0-based.
    pub enter: usize,
    /// How unlike the two places sound: 0, the same; 1, like two places taken at random.
    pub unlike: f64,
    /// What the join costs: 1 for a join that nobody hears and that breaks no phrase.
    pub cost: f64,
}

impl Joints {
    /// Compares all places of a song. `sounds` are of its counts, in order.
    pub fn new(song: &SongView, sounds: &BeatSounds) -> Joints {
        let n = song.counts.len().min(sounds.len());
        let mut phrase_starts = vec![false; n + 1];
        let mut in_phrase = vec![None; n + 1];
        for (p, phrase) in song.phrases.iter().enumerate() {
            let start = phrase.start.index().unwrap_or(0).min(n);
            phrase_starts[start] = true;
            for place in 0..phrase.counts {
                if let Some(slot) = in_phrase.get_mut(start + place as usize).filter(|_| start < n)
                {
                    *slot = Some((p, place));
                }
            }
        }
        in_phrase[n] = None;
        let mut joints = Joints {
            targets: vec![Vec::new(); n + 1],
            phrase_starts,
            in_phrase,
            phrase_counts: song.phrases.iter().map(|p| p.counts).collect(),
        };
        joints.compare(song, &vectors(sounds, n));
        joints
    }

    /// Number of counts.
    pub fn len(&self) -> usize {
        self.targets.len() - 1
    }

    /// Whether there are no counts.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Where one may go on instead of with the count of this index; cheapest first.
    pub fn targets(&self, leave: usize) -> &[Target] {
        self.targets.get(leave).map_or(&[], Vec::as_slice)
    }

    /// Whether a phrase starts on the count of this index, or the song is over there.
    pub fn is_edge(&self, index: usize) -> bool {
        index == self.len() || self.phrase_starts.get(index).copied().unwrap_or(false)
    }

    /// The phrase in which the count of this index lies, as an index into the song's phrases.
    pub fn phrase(&self, index: usize) -> Option<usize> {
        self.in_phrase.get(index).copied().flatten().map(|(phrase, _)| phrase)
    }

    /// Walks along the diagonals of the song compared with itself, so that each pair of counts is compared once.
    fn compare(&mut self, song: &SongView, vectors: &[Vec<f32>]) {
        let n = vectors.len();
        let scale = mean_square_distance(vectors);
        let bar = &song.counts.bar_positions;
        // The place just after the last count may be left, never entered.
        let position = |i: usize| bar.get(i).copied();
        let expected_at_end = n.checked_sub(1).map(|last| {
            let next = bar[last] + 1;
            if next > song.counts_per_bar { 1 } else { next }
        });
        for lag in 4..n.saturating_sub(AFTER) {
            // Kept short while growing; see below.
            if lag % 512 == 0 {
                self.prune();
            }
            let distances: Vec<f32> = (0..n - lag)
                .map(|i| square_distance(&vectors[i], &vectors[i + lag]) / scale)
                .collect();
            for early in 0..=n - lag {
                let late = early + lag;
                let here = position(early);
                let there = position(late).or(expected_at_end);
                if here.is_none() || here != there {
                    continue;
                }
                let unlike = around(&distances, early);
                if late < n {
                    self.add(early, late, unlike);
                }
                self.add(late, early, unlike);
            }
        }
        self.prune();
    }

    /// Leaves each place its cheapest targets, and all phrase starts.
    fn prune(&mut self) {
        for targets in &mut self.targets {
            targets.sort_by(|a, b| a.cost.total_cmp(&b.cost).then(a.enter.cmp(&b.enter)));
            let mut others = 0;
            let starts = &self.phrase_starts;
            targets.retain(|target| {
                others += usize::from(!starts[target.enter]);
                starts[target.enter] || others <= MOST_TARGETS
            });
        }
    }

    fn add(&mut self, leave: usize, enter: usize, unlike: f32) {
        let unlike = f64::from(unlike);
        let cost = self.cost(leave, enter, unlike);
        self.targets[leave].push(Target { enter, unlike, cost });
    }

    /// What a join costs. At the edge of a phrase the music turns anyway, so that a difference in sound is
    /// forgiven; within phrases it must sound alike and keep the phrase's length.
    fn cost(&self, leave: usize, enter: usize, unlike: f64) -> f64 {
        const AT_AN_EDGE: f64 = 2.0;
        const WITHIN: f64 = 8.0;
        const BROKEN_PHRASE: f64 = 2.0;
        /// A phrase left after whole eights: what is left out was over and above.
        const AFTER_EIGHTS: f64 = 4.0;
        const SHORTENED_PHRASE: f64 = 0.7;
        let edges = (self.is_edge(leave), self.is_edge(enter));
        let whole = match (self.in_phrase[leave], self.in_phrase[enter]) {
            (Some((from, a)), Some((to, b))) => {
                a == b && self.phrase_counts[from] == self.phrase_counts[to]
            }
            _ => false,
        };
        match edges {
            (true, true) => 1.0 + AT_AN_EDGE * unlike,
            _ if whole => 1.0 + WITHIN * unlike,
            (false, true) if self.in_phrase[leave].is_some_and(|(_, place)| place % 8 == 0) => {
                1.0 + AFTER_EIGHTS * unlike + SHORTENED_PHRASE
            }
            _ => 1.0 + WITHIN * unlike + BROKEN_PHRASE,
        }
    }
}

/// How unlike two places of a diagonal are; sides that the song does not have count for nothing.
fn around(distances: &[f32], join: usize) -> f32 {
    let (mut sum, mut weight) = (0.0, 0.0);
    for (k, w) in WEIGHTS.iter().enumerate() {
        if let Some(d) = (join + k).checked_sub(BEFORE).and_then(|i| distances.get(i)) {
            sum += w * d;
            weight += w;
        }
    }
    if weight > 0.0 { sum / weight } else { 1.0 }
}

/// Each count as one list of numbers whose squared distances mean something.
fn vectors(sounds: &BeatSounds, n: usize) -> Vec<Vec<f32>> {
    let groups: [Vec<Vec<f32>>; 4] = [
        sounds.harmony[..n].iter().map(|v| v.to_vec()).collect(),
        sounds.timbre[..n].iter().map(|v| v.to_vec()).collect(),
        sounds.rhythm[..n].iter().map(|v| v.to_vec()).collect(),
        sounds.loudness[..n].iter().map(|&v| vec![v]).collect(),
    ];
    let mut out = vec![Vec::new(); n];
    for (group, share) in groups.iter().zip(SHARES) {
        let scale = (share / mean_square_distance(group)).sqrt();
        for (all, values) in out.iter_mut().zip(group) {
            all.extend(values.iter().map(|x| x * scale));
        }
    }
    out
}

/// Mean squared distance of two entries taken at random: twice the summed variance.
fn mean_square_distance(entries: &[Vec<f32>]) -> f32 {
    let n = entries.len().max(1) as f32;
    let width = entries.first().map_or(0, Vec::len);
    let variance: f32 = (0..width)
        .map(|k| {
            let mean = entries.iter().map(|e| e[k]).sum::<f32>() / n;
            entries.iter().map(|e| (e[k] - mean).powi(2)).sum::<f32>() / n
        })
        .sum();
    (2.0 * variance).max(1e-9)
}

fn square_distance(a: &[f32], b: &[f32]) -> f32 {
    a.iter().zip(b).map(|(x, y)| (x - y) * (x - y)).sum()
}

/// The count of a 0-based index, for words and plans.
pub(super) fn count(index: usize) -> Count {
    Count::from_index(index)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::testing;

    #[test]
    fn twins_are_alike_and_bars_are_kept() {
        let (song, sounds) = testing::song();
        let joints = Joints::new(&song, &sounds);
        // The two verses start on counts 17 and 81 and sound the same.
        let twin = joints.targets(20).iter().find(|t| t.enter == 84).unwrap();
        assert!(twin.unlike < 0.2, "{twin:?}");
        assert!(twin.cost < 3.0);
        for leave in 0..joints.len() {
            for target in joints.targets(leave) {
                assert_eq!(
                    leave % 4,
                    target.enter % 4,
                    "bars go on across {leave} -> {}",
                    target.enter
                );
                assert!(target.enter.abs_diff(leave) >= 4);
            }
        }
        let costs: Vec<f64> = joints.targets(20).iter().map(|t| t.cost).collect();
        assert!(costs.is_sorted());
    }

    #[test]
    fn every_phrase_start_can_follow_every_phrase() {
        let (song, sounds) = testing::song();
        let joints = Joints::new(&song, &sounds);
        for leave in song.phrases.iter().skip(1).map(|p| p.start.index().unwrap()) {
            for enter in song.phrases.iter().map(|p| p.start.index().unwrap()) {
                let there = joints.targets(leave).iter().any(|t| t.enter == enter);
                assert_eq!(there, leave != enter, "{leave} -> {enter}");
            }
        }
    }

    #[test]
    fn short_songs_have_no_joints_and_do_not_panic() {
        for n in 0..9 {
            let (song, sounds) = testing::part_of_song(n);
            let joints = Joints::new(&song, &sounds);
            assert_eq!(joints.len(), n);
        }
    }
}
