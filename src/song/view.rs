//! What dancers count: counts and phrases, found from what was heard and what was set.

use std::collections::HashMap;

use super::map::Entered;
use crate::units::Count;

/// A song as it is danced: its counts and its phrases.
#[derive(Debug, Clone, PartialEq)]
pub struct SongView {
    /// Title from the tags, else the file name.
    pub title: String,
    /// Artist from the tags.
    pub artist: Option<String>,
    /// Length of the recording, seconds.
    pub duration_s: f64,
    /// Counts a minute over the song's middle (median).
    pub counts_per_minute: f64,
    /// Counts to the bar.
    pub counts_per_bar: u32,
    /// Counts to one heard beat: 1, 0.5 (a count on every second beat), 2, …
    pub counts_per_beat: f64,
    /// Where each count falls.
    pub counts: CountLine,
    /// What comes in while the dancers wait, and on which count.
    pub entrance: Option<(Count, Entered)>,
    /// Phrases in order, without holes from the first count to the last.
    pub phrases: Vec<Phrase>,
}

impl SongView {
    /// The wait: counts from the first count to the first phrase that is danced, which is the first
    /// one not labelled an intro (or wait, talk, count-in). 0 when the song starts with such a phrase.
    pub fn wait(&self) -> u32 {
        self.phrases
            .iter()
            .find(|p| !p.is_intro())
            .or(self.phrases.first())
            .map_or(0, |p| p.start - Count::FIRST)
            .max(0) as u32
    }

    /// What each phrase is called where all are listed: its label, numbered when another phrase has
    /// the same one (`verse 1`, `verse 2`). In the order of `phrases`.
    pub fn names(&self) -> Vec<String> {
        let folded: Vec<String> = self.phrases.iter().map(|p| p.label.to_lowercase()).collect();
        let mut all: HashMap<&str, u32> = HashMap::new();
        for label in &folded {
            *all.entry(label).or_default() += 1;
        }
        let mut so_far: HashMap<&str, u32> = HashMap::new();
        let mut names = Vec::with_capacity(folded.len());
        for (phrase, label) in self.phrases.iter().zip(&folded) {
            let number = so_far.entry(label).or_default();
            *number += 1;
            let suffix = match all.get(label.as_str()) {
                Some(1) | None => String::new(),
                Some(_) => format!(" {number}"),
            };
            names.push(phrase.label.clone() + &suffix);
        }
        names
    }

    /// The phrase in which a count lies, as an index into `phrases`.
    pub fn phrase_at(&self, count: Count) -> Option<usize> {
        self.phrases.iter().position(|p| p.start <= count && count < p.end())
    }
}

/// The counts of a song and the time of each.
#[derive(Debug, Clone, PartialEq)]
pub struct CountLine {
    /// Time of count 1, 2, 3, … in seconds, ascending.
    pub times_s: Vec<f64>,
    /// Place in the bar of each count, 1-based.
    pub bar_positions: Vec<u32>,
    /// When the last count is over, seconds.
    pub end_s: f64,
}

impl CountLine {
    /// How many counts there are.
    pub fn len(&self) -> usize {
        self.times_s.len()
    }

    /// Whether there is no count at all.
    pub fn is_empty(&self) -> bool {
        self.times_s.is_empty()
    }

    /// The count just after the last one, where the song has ended.
    pub fn end(&self) -> Count {
        Count::from_index(self.times_s.len())
    }

    /// Time of a count. The count after the last stands at `end_s`; `None` further out or before 1.
    pub fn time_s(&self, count: Count) -> Option<f64> {
        let index = count.index()?;
        match self.times_s.get(index) {
            Some(time) => Some(*time),
            None if index == self.times_s.len() => Some(self.end_s),
            None => None,
        }
    }

    /// Time of a count, going on at the tempo of the nearest counts outside the song. Without counts
    /// it is 0.
    pub fn time_or_beyond_s(&self, count: Count) -> f64 {
        if let Some(time) = self.time_s(count) {
            return time;
        }
        let Some(&first) = self.times_s.first() else {
            return 0.0;
        };
        let period = |a: f64, b: f64| if b > a { b - a } else { 0.5 };
        if count < Count::FIRST {
            let second = self.time_s(Count(2)).unwrap_or(first + 0.5);
            first + f64::from(count - Count::FIRST) * period(first, second)
        } else {
            let last = self.times_s[self.times_s.len() - 1];
            self.end_s + f64::from(count - self.end()) * period(last, self.end_s)
        }
    }

    /// The count nearest to a time; `None` when there are none.
    pub fn nearest(&self, time_s: f64) -> Option<Count> {
        let after = self.times_s.partition_point(|&t| t < time_s);
        let candidates = [after.checked_sub(1), Some(after)];
        candidates
            .into_iter()
            .flatten()
            .filter(|&i| i < self.times_s.len())
            .min_by(|&a, &b| {
                let distance = |i: usize| (self.times_s[i] - time_s).abs();
                distance(a).total_cmp(&distance(b))
            })
            .map(Count::from_index)
    }
}

/// A phrase of the song, in counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Phrase {
    /// What it is called.
    pub label: String,
    /// The same for phrases that sound the same again: A, B, …; empty where only the label tells.
    pub letter: String,
    /// Its first count.
    pub start: Count,
    /// Its length in counts.
    pub counts: u32,
    /// When it starts, seconds.
    pub start_s: f64,
    /// When it ends, seconds: the start of the next.
    pub end_s: f64,
    /// Whether the user set it (else it was suggested).
    pub set: bool,
    /// How strong the change at its start is, 0 to 1; 1 when set.
    pub strength: f64,
}

impl Phrase {
    /// The count just after its last.
    pub fn end(&self) -> Count {
        self.start + self.counts as i32
    }

    /// Whether nobody dances yet: an intro, a wait, talk or a count-in.
    pub fn is_intro(&self) -> bool {
        is_intro(&self.label)
    }
}

/// Whether a label says that nobody dances yet.
pub(super) fn is_intro(label: &str) -> bool {
    let first = label.split_whitespace().next().unwrap_or("").to_lowercase();
    matches!(first.as_str(), "intro" | "introduction" | "wait" | "talk" | "count-in" | "pickup")
}
