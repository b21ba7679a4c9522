//! What a fit says. Report, timeline, cue sheet and practice audio all read this.

use serde::Serialize;

use super::edit::Edit;
use crate::units::{Count, Foot, Wall};

/// A routine laid on a song.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fit {
    /// Whether nothing is amiss.
    pub fits: bool,
    /// The wait before the first step.
    pub wait: Wait,
    /// Where each part of the order falls.
    pub placements: Vec<Placement>,
    /// What does not meet.
    pub mismatches: Vec<Mismatch>,
    /// What would mend it.
    pub suggestions: Vec<Suggestion>,
}

/// The wait before the first step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Wait {
    /// Its length in counts.
    pub counts: u32,
    /// Time of count 1, seconds.
    pub start_s: f64,
    /// Time of the first step, seconds.
    pub end_s: f64,
}

/// A part of the order, placed on the song.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Placement {
    /// Name of the part.
    pub part: String,
    /// 1 for the first time it is danced, 2 for the second, …
    pub time_round: u32,
    /// Its place in the order, 0-based.
    #[serde(skip)]
    pub order_index: usize,
    /// Its first count.
    pub start_count: Count,
    /// Its length in counts, danced whole.
    pub counts: u32,
    /// Counts danced until the next part starts: fewer than [`counts`](Self::counts) where there is no
    /// room for more. A part that the song leaves no music for is reckoned as danced.
    pub danced: u32,
    /// Whether it finds no room at all, so that the next part starts in its place.
    pub left_out: bool,
    /// Time of its first count, seconds.
    pub start_s: f64,
    /// Time when its last danced count is over, seconds.
    pub end_s: f64,
    /// Label of the phrase in which it starts.
    pub phrase: Option<String>,
    /// Index of that phrase in the song view, 0-based.
    pub phrase_index: Option<usize>,
    /// The foot it starts on.
    pub lead_foot: Foot,
    /// The foot that is free when it is over, danced whole; its lead foot where it is left out.
    pub free_foot_after: Foot,
    /// The wall faced at its start.
    pub wall_before: Wall,
    /// The wall faced at its end.
    pub wall_after: Wall,
}

/// Sorts of mismatch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum MismatchKind {
    /// The phrase goes on after its parts are over: counts are left over.
    PartTooShort,
    /// The part runs past the end of its phrase.
    PartTooLong,
    /// The part does not start where a phrase starts.
    OffPhrase,
    /// The sheet's wait is not the song's.
    WaitDiffers,
    /// A fill stands where there is no gap.
    FillWithoutGap,
    /// The song is over before the routine.
    SongEndsFirst,
    /// The routine is over before the song.
    SongLeftOver,
}

/// Something that does not meet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mismatch {
    /// What sort.
    pub kind: MismatchKind,
    /// The count where it shows.
    pub at_count: Count,
    /// Its time, seconds.
    pub at_s: f64,
    /// How many counts it is about. Negative where a part starts before its phrase, or the first step
    /// comes before the sheet's wait is over.
    pub counts: i32,
    /// The part concerned.
    pub part: Option<String>,
    /// Which time round.
    pub time_round: Option<u32>,
    /// The phrase concerned.
    pub phrase: Option<String>,
    /// In a sentence.
    pub message: String,
}

/// Sorts of mend.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SuggestionKind {
    /// Put a fill in.
    Fill,
    /// Leave steps out at the end of a part.
    Trim,
    /// Dance a part once more.
    Repeat,
    /// Wait longer or shorter.
    ChangeWait,
    /// Leave a fill or part out this time.
    LeaveOut,
    /// Hold or pause.
    Pause,
}

/// Something that would mend a mismatch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suggestion {
    /// Index into [`Fit::mismatches`] of what it mends.
    pub mends: usize,
    /// What sort.
    pub kind: SuggestionKind,
    /// The count where it goes.
    pub at_count: Count,
    /// Its time, seconds.
    pub at_s: f64,
    /// Its length in counts.
    pub counts: u32,
    /// Steps, as cue sheet lines; empty when none are needed.
    pub steps: Vec<String>,
    /// The feet of each of those lines.
    pub feet: Vec<String>,
    /// The foot that must be free at its start.
    pub lead_foot: Option<Foot>,
    /// The foot that must be free when it is over.
    pub free_foot_after: Option<Foot>,
    /// In a sentence.
    pub message: String,
    /// The changes to the routine that it comes to, for [`apply`](super::apply).
    #[serde(skip)]
    pub edits: Vec<Edit>,
}
