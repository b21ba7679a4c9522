//! The song map of a new cut, carried over from the recording's.

use super::plan::Plan;
use crate::rhythm::Grid;
use crate::song::{Heard, Pulse, SetPhrase, SongMap, SongView, UserSet};
use crate::units::{Beat, Count};

/// The song map of a cut: `made` is a map of the written file as it was listened to, whose beats are replaced
/// by those of `song` that are played. `played_s` are the times of the counts in the new cut, in order, as it
/// was written. Labels are marked, so that listening again keeps them.
pub fn carried(made: SongMap, song: &SongView, plan: &Plan, played_s: &[f64]) -> SongMap {
    let played: Vec<Count> = plan.played().take(played_s.len()).collect();
    let bar_position = |count: &Count| count.index().and_then(|i| song.counts.bar_positions.get(i));
    let downbeats = played.iter().enumerate().filter(|(_, count)| bar_position(count) == Some(&1));
    let mut phrases: Vec<SetPhrase> = Vec::new();
    let mut before: Option<(usize, Count)> = None;
    for (count, &start_s) in played.iter().zip(played_s) {
        let phrase = song.phrase_at(*count);
        let goes_on = match (before, phrase) {
            (Some((p, last)), Some(now)) => {
                // Within a phrase, or from one turn of it into the same place of another.
                let place = |p: usize, c: Count| c - song.phrases[p].start;
                let same_kind = song.phrases[p].label == song.phrases[now].label;
                same_kind && place(now, *count) == place(p, last) + 1
            }
            _ => false,
        };
        if let Some(now) = phrase {
            if !goes_on {
                phrases.push(SetPhrase { label: song.phrases[now].label.clone(), start_s });
            }
            before = Some((now, *count));
        }
    }
    let grid = Grid {
        beats_s: played_s.to_vec(),
        downbeats: downbeats.map(|(i, _)| Beat(i)).collect(),
        beats_per_bar: song.counts_per_bar,
        tempo_bpm: song.counts_per_minute,
        ..made.heard.grid.clone()
    };
    // What rings on after the last count is not counted when it is listened to again.
    let last_s = played
        .last()
        .map(|last| song.counts.time_or_beyond_s(*last + 1) - song.counts.time_or_beyond_s(*last));
    let set = UserSet {
        end_s: played_s.last().zip(last_s).map(|(last, long)| last + long),
        phrases,
        phrases_complete: true,
        first_count_s: played_s.first().copied(),
        // Counts that were not the beats as heard stay what they are when it is listened to again.
        pulse: ((song.counts_per_beat - 1.0).abs() > 0.01)
            .then_some(Pulse { counts_per_minute: song.counts_per_minute }),
        ..UserSet::default()
    };
    let heard = Heard {
        grid,
        first_count_beat: Beat(0),
        phrases: Vec::new(),
        other_waits: Vec::new(),
        entrance: None,
    };
    SongMap { heard, set, unaided: None, undo: None, ..made }
}
