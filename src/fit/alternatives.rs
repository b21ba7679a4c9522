//! Other ways to lay the same routine: another wait, another pulse.

use serde::Serialize;

use super::fit;
use super::model::Fit;
use crate::routine::Routine;
use crate::song::SongView;
use crate::units::{Count, clock};

/// Most alternatives that are told.
const MOST: usize = 3;
/// Latest first step that is thought of, counts from the first.
const LATEST_START: i32 = 128;

/// Counts a minute that people step to; common practice.
const DANCED: std::ops::RangeInclusive<f64> = 50.0..=220.0;

/// Sorts of alternative.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlternativeKind {
    /// The first step comes after another wait.
    Wait,
    /// Counts are danced at another pulse.
    Pulse,
}

/// Another way to lay a routine on a song.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alternative {
    /// What is different.
    pub kind: AlternativeKind,
    /// Counts of the wait.
    pub wait: u32,
    /// Counts a minute.
    pub counts_per_minute: f64,
    /// How many things do not meet then.
    pub mismatches: usize,
    /// Why, in a sentence.
    pub message: String,
}

/// A song counted at another pulse.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherPulse {
    /// What it is called: `half pulse`.
    pub name: String,
    /// The song at it.
    pub song: SongView,
}

/// Other ways of which less is amiss than of `laid`, best first; at most three.
pub fn alternatives(
    song: &SongView,
    routine: &Routine,
    laid: &Fit,
    pulses: &[OtherPulse],
) -> Vec<Alternative> {
    let now = laid.mismatches.len();
    let mut found: Vec<(usize, usize, Alternative)> = Vec::new();
    let mut offer = |kind, song: &SongView, other: &Fit, message: String| {
        let mismatches = other.mismatches.len();
        if mismatches >= now {
            return;
        }
        let counts_per_minute = song.counts_per_minute;
        let wait = other.wait.counts;
        let place = found.len();
        let alternative = Alternative { kind, wait, counts_per_minute, mismatches, message };
        found.push((mismatches, place, alternative));
    };
    // What is amiss before another wait is thought of is seldom the wait alone; a fit needs no other.
    if now > 0 {
        let starts = song.phrases.iter().map(|p| p.start - Count::FIRST);
        for wait in starts.take_while(|w| *w <= LATEST_START).map(|w| w.max(0) as u32) {
            if wait == laid.wait.counts {
                continue;
            }
            let other = fit(song, &Routine { wait: Some(wait), ..routine.clone() });
            if other.wait.counts == wait {
                let at = clock(other.wait.end_s);
                let message = format!(
                    "Wait {wait} counts, first step at {at}: {}.",
                    against(other.mismatches.len(), now)
                );
                offer(AlternativeKind::Wait, song, &other, message);
            }
        }
        let danced = |song: &SongView| DANCED.contains(&song.counts_per_minute);
        for OtherPulse { name, song } in pulses.iter().filter(|other| danced(&other.song)) {
            let other = fit(song, routine);
            let message = format!(
                "At {name} ({:.0} counts a minute): {}.",
                song.counts_per_minute,
                against(other.mismatches.len(), now)
            );
            offer(AlternativeKind::Pulse, song, &other, message);
        }
    }
    found.sort_by_key(|(mismatches, place, _)| (*mismatches, *place));
    found.into_iter().map(|(_, _, alternative)| alternative).take(MOST).collect()
}

fn against(then: usize, now: usize) -> String {
    let things = |n: usize| match n {
        0 => "everything meets".to_string(),
        1 => "1 thing does not meet".to_string(),
        n => format!("{n} things do not meet"),
    };
    format!("{}, not {now}", things(then))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::testing;
    use crate::routine::parse;

    const SHEET: &str =
        "Wait: 16\n\nPart A: 32 counts\n8 Triples\n\nPart B: 32 counts\n8 Triples\n\nOrder: A, B\n";

    #[test]
    fn a_wait_that_fits_is_found() {
        // A talk of 8, then an intro of 16: the sheet's 16 counts are over in the middle of the intro.
        let song = testing::song(&[("intro", 24), ("verse", 32), ("chorus", 32)]);
        let routine = parse(SHEET).0;
        let laid = fit(&song, &routine);
        assert!(!laid.fits);
        let other = alternatives(&song, &routine, &laid, &[]);
        assert!(other.len() <= MOST);
        for other in other {
            let sheet = Routine { wait: Some(other.wait), ..routine.clone() };
            assert_eq!(fit(&song, &sheet).mismatches.len(), other.mismatches);
            assert!(other.mismatches < laid.mismatches.len());
        }
    }

    #[test]
    fn half_pulse_is_offered_where_it_fits() {
        // Heard twice as fast: every phrase is twice as long.
        let fast = testing::song(&[("intro", 32), ("verse", 64), ("chorus", 64)]);
        let slow = testing::song(&[("intro", 16), ("verse", 32), ("chorus", 32)]);
        let routine = parse(SHEET).0;
        let laid = fit(&fast, &routine);
        assert!(!laid.fits);
        let pulses = [OtherPulse { name: "half pulse".into(), song: slow }];
        let other = alternatives(&fast, &routine, &laid, &pulses);
        assert_eq!((other[0].kind, other[0].mismatches), (AlternativeKind::Pulse, 0));
        assert!(other[0].message.contains("everything meets"), "{}", other[0].message);
    }

    #[test]
    fn what_fits_needs_no_other_way() {
        let song = testing::song(&[("intro", 16), ("verse", 32), ("chorus", 32)]);
        let routine = parse(SHEET).0;
        let laid = fit(&song, &routine);
        assert!(laid.fits, "{:?}", laid.mismatches);
        assert!(alternatives(&song, &routine, &laid, &[]).is_empty());
    }
}
