//! What a recording is of another: a copy, another performance, a part, another song.

use super::chance::PLAINLY;
use super::old::Old;
use super::path::Path;
use super::way::Way;
use crate::song::form::BeatSounds;
use serde::Serialize;

/// Less of the new cut than this found again, and of the old one, is another song.
const SAME_SONG: f64 = 0.35;
/// A part of a medley: counts that are plainly the song's and say this much in all, nats.
const PART_SAYS: f32 = 64.0;
/// So many counts of other music before and after it make it a part; fewer are an intro or an ending that was added.
const OTHER_MUSIC: usize = 48;
/// With as much of the song there it is the song, whatever stands around it.
const WHOLE: f64 = 0.9;
/// How far the tempo of one may be from the usual ratio to the other's, in the median: players drift, copies do not.
pub(super) const MOST_DRIFT: f64 = 0.001;
/// How alike the sound must be, too: those who play to a click drift as little.
pub(super) const ONE_RECORDING: f64 = 0.25;

/// What a recording is of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// A copy or an edit of one recording.
    Recording,
    /// The same song played again: live, re-recorded, or by others.
    Performance,
    /// A part of it, of either sort, stands among other music.
    Part,
    /// Another song.
    Other,
}

/// Counts of other music before and after what is of the song.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Beside {
    /// Before it.
    pub before: usize,
    /// After it.
    pub after: usize,
}

impl Beside {
    pub(super) fn new(path: &Path, heard_first: usize) -> Beside {
        let first = path.old.iter().position(Option::is_some).unwrap_or(0);
        let last = path.old.iter().rposition(Option::is_some).map_or(0, |last| last + 1);
        Beside { before: first.saturating_sub(heard_first), after: path.old.len() - last }
    }

    fn is_other_music(self) -> bool {
        self.before + self.after >= OTHER_MUSIC
    }
}

/// What a way says before anything is taken from it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    /// Each count on it, nats.
    pub says: f32,
    /// Whether that is more than two songs have in common by chance.
    pub one_song: bool,
}

/// How much of both cuts meets.
#[derive(Debug, Clone, Copy)]
pub(super) struct Met {
    pub found: Found,
    /// Counts that are found.
    pub counts: usize,
    /// Their share of the new cut's, and of the old one's.
    pub share: f64,
    pub share_of_old: f64,
    pub same_sound: f64,
}

impl What {
    pub(super) fn of(met: &Met, beside: Beside, old: &Old, way: &Way) -> What {
        let enough = met.found.one_song && met.share.max(met.share_of_old) >= SAME_SONG;
        let stands_out =
            met.found.says >= PLAINLY && met.found.says * met.counts as f32 >= PART_SAYS;
        if !enough && !stands_out {
            What::Other
        } else if beside.is_other_music() && met.share_of_old < WHOLE {
            What::Part
        } else if met.same_sound >= ONE_RECORDING && old.drift(way) <= MOST_DRIFT {
            What::Recording
        } else {
            What::Performance
        }
    }
}

/// Likeness of attacks where both are in step, beside that of counts out of step.
/// `path` is in counts of the old cut and of what sounds before them.
pub(super) fn same_sound(old: &Old, new: &BeatSounds, path: &Path) -> f64 {
    let pairs: Vec<(usize, usize)> = path.pairs().collect();
    let distance = |j: usize, i: usize| -> f64 {
        let both = old.sounds.rhythm[i].iter().zip(&new.rhythm[j]);
        f64::from(both.map(|(x, y)| (x - y).powi(2)).sum::<f32>())
    };
    let (mut in_step, mut out_of_step) = (0.0, 1e-9);
    for (k, &(j, i)) in pairs.iter().enumerate() {
        in_step += distance(j, i);
        out_of_step += distance(j, pairs[(k + pairs.len() / 2) % pairs.len()].1);
    }
    if pairs.is_empty() { 0.0 } else { (1.0 - in_step / out_of_step).clamp(0.0, 1.0) }
}
