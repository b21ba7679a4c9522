//! Other ways to lay the same routine: another wait, another pulse, a part left out or danced once more.

use serde::Serialize;

use super::edit::Edit;
use super::judgement;
use super::lay::{Cause, Laid, lay_within, waited};
use super::mend::MANY;
use super::model::Suggestion;
use super::words::{named, number};
use crate::routine::Routine;
use crate::song::SongView;
use crate::units::{Count, clock};

/// Most alternatives that are told.
const MOST: usize = 3;
/// Latest first step that is thought of, counts from the first.
const LATEST_START: i32 = 128;
/// How many of the things amiss, from the first on, a part is left out or danced again for.
const LOOKED_INTO: usize = 3;

/// Counts a minute that people step to; common practice.
const DANCED: std::ops::RangeInclusive<f64> = 50.0..=220.0;

/// Sorts of alternative.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlternativeKind {
    /// The first step comes after another wait.
    Wait,
    /// Counts are danced at another pulse.
    Pulse,
    /// A part of the order is left out.
    LeaveOut,
    /// A part is danced once more.
    Repeat,
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
    /// What it costs by the prices of the fit: what does not meet then, and the change itself.
    pub cost: u32,
    /// Why, in a sentence.
    pub message: String,
    /// The changes to the routine that it comes to, for [`apply`](super::apply); none for another pulse.
    #[serde(skip)]
    pub edits: Vec<Edit>,
}

/// A song counted at another pulse.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherPulse {
    /// What it is called: `half pulse`.
    pub name: String,
    /// The song at it.
    pub song: SongView,
}

/// Other ways of which less is amiss than of `here`, the one that costs least first; at most three. What a
/// suggestion says already is not said again. Where very much is amiss, only ways that cost no more than now
/// are told: with half a dance beyond the end of the song less is amiss, but nothing is better.
pub(super) fn alternatives(
    here: &Laid<'_>,
    suggestions: &[Suggestion],
    pulses: &[OtherPulse],
) -> Vec<Alternative> {
    let (song, routine) = (here.song, here.routine);
    let now = here.causes.len();
    // With one thing amiss only a way without any is better, and that has room for the whole order.
    let pulses = at_pulses(song, pulses);
    let pulses =
        pulses.filter(|t| now > 1 || t.at_pulse.is_none_or(|song| has_room(song, routine)));
    let tried = waits(song, routine, here.wait.counts).chain(pulses).chain(
        orders(here).into_iter().filter(|t| !suggestions.iter().any(|s| s.edits == t.edits)),
    );
    let mut found: Vec<Alternative> = tried.filter_map(|tried| tried.lay(here, now)).collect();
    // The order in which they were thought of stays where they cost the same.
    found.sort_by_key(|other| other.cost);
    found.truncate(MOST);
    found
}

/// Whether a song is as long as the order.
fn has_room(song: &SongView, routine: &Routine) -> bool {
    let parts = routine.order.iter().filter_map(|o| routine.parts.get(o.part));
    let counts: i64 = parts.map(|part| i64::from(part.counts())).sum();
    counts < i64::from(song.counts.end().0)
}

/// Something to try.
struct Tried<'a> {
    kind: AlternativeKind,
    /// The song at another pulse, where that is tried.
    at_pulse: Option<&'a SongView>,
    edits: Vec<Edit>,
    /// Price of the change itself.
    price: u32,
    /// What is done, up to its effect.
    what: String,
}

impl Tried<'_> {
    /// What comes of it, where that is better than `now` things amiss.
    fn lay(self, here: &Laid<'_>, now: usize) -> Option<Alternative> {
        let song = self.at_pulse.unwrap_or(here.song);
        // Where much is amiss, what costs more than now is not looked into.
        let limit = (now >= MANY).then_some(here.way().price);
        let (wait, mismatches, price) = match self.at_pulse {
            None if now == 1 && !here.may_meet(&self.edits) => return None,
            None => {
                let then = here.changed(&self.edits, limit)?;
                (waited(song, then.wait, &then.way), then.causes.len(), then.way.price)
            }
            Some(song) => {
                let then = lay_within(song, here.routine, limit)?;
                (then.wait.counts, then.causes.len(), then.way().price)
            }
        };
        let as_asked = !matches!(self.edits[..], [Edit::Wait(asked)] if asked != wait);
        (as_asked && mismatches < now).then(|| Alternative {
            kind: self.kind,
            wait,
            counts_per_minute: song.counts_per_minute,
            mismatches,
            cost: price.saturating_add(self.price),
            message: format!("{}: {}.", self.what, against(mismatches, now)),
            edits: self.edits,
        })
    }
}

/// The first step on another phrase: what is amiss before another wait is thought of is seldom the wait alone.
fn waits<'a>(
    song: &'a SongView,
    routine: &Routine,
    danced: u32,
) -> impl Iterator<Item = Tried<'a>> {
    let stated = routine.wait.unwrap_or(song.wait());
    let starts = song.phrases.iter().map(|p| p.start - Count::FIRST);
    let starts = starts.take_while(|w| *w <= LATEST_START).map(|w| w.max(0) as u32);
    starts.filter(move |&wait| wait != danced).map(move |wait| {
        let first = song.counts.time_or_beyond_s(Count::FIRST + wait as i32);
        Tried {
            kind: AlternativeKind::Wait,
            at_pulse: None,
            edits: vec![Edit::Wait(wait)],
            price: judgement::other_wait(stated, wait),
            what: format!("Wait {wait} counts, first step at {}", clock(first)),
        }
    })
}

fn at_pulses<'a>(song: &SongView, pulses: &'a [OtherPulse]) -> impl Iterator<Item = Tried<'a>> {
    let heard = song.counts_per_minute;
    pulses.iter().filter(|other| DANCED.contains(&other.song.counts_per_minute)).map(move |other| {
        Tried {
            kind: AlternativeKind::Pulse,
            at_pulse: Some(&other.song),
            edits: Vec::new(),
            price: judgement::OTHER_PULSE,
            what: format!(
                "At {}, {:.0} counts a minute in place of {heard:.0}",
                other.name, other.song.counts_per_minute
            ),
        }
    })
}

/// A part left out, or danced once more, near the first things amiss. Where very much is amiss the order is not
/// thought of.
fn orders<'a>(laid: &Laid<'_>) -> Vec<Tried<'a>> {
    if laid.causes.len() >= MANY {
        return Vec::new();
    }
    let items = laid.items.len();
    let mut near: Vec<usize> = Vec::new();
    for &cause in laid.causes.iter().take(LOOKED_INTO) {
        let at = item_of(cause, items);
        near.extend((at.saturating_sub(1)..=at + 1).filter(|&i| i <= items));
    }
    near.sort_unstable();
    near.dedup();
    let mut out = Vec::new();
    for &item in near.iter().filter(|&&i| i < items) {
        let counts = laid.items[item].counts as u32;
        out.push(Tried {
            kind: AlternativeKind::LeaveOut,
            at_pulse: None,
            edits: vec![Edit::LeaveOut { at: laid.order_index(item) }],
            price: judgement::left_out(&laid.items[item]),
            what: format!("Leave {} out, {} fewer", laid.item_name(item), number(counts)),
        });
    }
    let danced = |part: &usize| laid.items.iter().any(|i| i.part == *part && i.counts > 0);
    for &before in &near {
        for part in (0..laid.routine.parts.len()).filter(danced) {
            let counts = laid.routine.parts[part].counts();
            let where_ = match before.checked_sub(1) {
                Some(after) => format!("after {}", laid.item_name(after)),
                None => "at the start".to_string(),
            };
            out.push(Tried {
                kind: AlternativeKind::Repeat,
                at_pulse: None,
                edits: vec![Edit::Again { before: laid.order_index(before), part }],
                price: judgement::again(counts as i32),
                what: format!(
                    "Dance {} once more {where_}, {} more",
                    named(&laid.routine.parts[part].name, 1),
                    number(counts)
                ),
            });
        }
    }
    out
}

/// The item before which, or in which, a cause shows.
fn item_of(cause: Cause, items: usize) -> usize {
    match cause {
        Cause::Wait { .. } => 0,
        Cause::Short { item, .. } | Cause::Long { item, .. } => item + 1,
        Cause::LeftOut { item } => item,
        Cause::Off { first, .. } => first,
        Cause::EndsFirst { .. } | Cause::LeftOver { .. } => items,
    }
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
    use super::super::{Fit, apply, fit, fit_with_alternatives};
    use super::*;
    use crate::fit::testing;
    use crate::routine::parse;

    const SHEET: &str =
        "Wait: 16\n\nPart A: 32 counts\n8 Triples\n\nPart B: 32 counts\n8 Triples\n\nOrder: A, B\n";

    /// What is told where the song can be counted at one pulse only.
    fn at_one_pulse(song: &SongView, routine: &Routine) -> (Fit, Vec<Alternative>) {
        fit_with_alternatives(song, routine, Vec::new)
    }

    #[test]
    fn a_wait_that_fits_is_found() {
        // A talk of 8, then an intro of 16: the sheet's 16 counts are over in the middle of the intro.
        let song = testing::song(&[("intro", 24), ("verse", 32), ("chorus", 32)]);
        let routine = parse(SHEET).0;
        let (laid, other) = at_one_pulse(&song, &routine);
        assert!(!laid.fits);
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
        let pulses = || vec![OtherPulse { name: "half pulse".into(), song: slow }];
        let (laid, other) = fit_with_alternatives(&fast, &routine, pulses);
        assert!(!laid.fits);
        assert_eq!((other[0].kind, other[0].mismatches), (AlternativeKind::Pulse, 0));
        assert!(other[0].message.contains("everything meets"), "{}", other[0].message);
    }

    #[test]
    fn a_part_that_the_cut_lacks_is_left_out_and_one_too_few_is_danced_again() {
        let sheet = "Wait: 16\n\nVerse: 32 counts\n8 Triples\n\nChorus: 48 counts\n12 Triples\n\nBridge: 16 counts\n\
             4 Triples\n\nOrder: Verse, Chorus, Bridge, Verse, Chorus\n";
        let routine = parse(sheet).0;
        let short = [("intro", 16), ("verse", 32), ("chorus", 48), ("verse", 32), ("chorus", 48)];
        let song = testing::song(&short);
        let stated = Routine { wait: Some(24), ..routine.clone() };
        let (laid, others) = at_one_pulse(&song, &stated);
        assert!(!laid.fits);
        for other in others {
            let changed = apply(&stated, &other.edits);
            let after = fit(&song, &changed);
            assert_eq!(after.mismatches.len(), other.mismatches, "{}", other.message);
            assert!(other.mismatches < laid.mismatches.len());
        }
        let again = [&short[..], &[("verse", 32), ("chorus", 48)]].concat();
        let song = testing::song(&again);
        let (laid, others) = at_one_pulse(&song, &routine);
        assert!(!laid.fits);
        assert!(others.len() <= MOST);
        let costs: Vec<u32> = others.iter().map(|o| o.cost).collect();
        assert!(costs.is_sorted(), "{costs:?}");
    }

    #[test]
    fn an_order_that_lacks_a_part_gets_it() {
        // The sheet forgot the second chorus in the middle, and all after it would move.
        let sheet = "Wait: 16\n\nVerse: 32 counts\n8 Triples\n\nChorus: 48 counts\n12 Triples\n\n\
             Order: Verse, Verse, Chorus\n";
        let routine = parse(sheet).0;
        let song = testing::song(&[
            ("intro", 16),
            ("verse", 32),
            ("chorus", 48),
            ("verse", 32),
            ("chorus", 48),
        ]);
        let (laid, others) = at_one_pulse(&song, &routine);
        assert!(!laid.fits);
        let said: Vec<&[Edit]> = others
            .iter()
            .map(|o| o.edits.as_slice())
            .chain(laid.suggestions.iter().map(|s| s.edits.as_slice()))
            .collect();
        assert!(said.contains(&&[Edit::Again { before: 1, part: 1 }][..]), "{said:?}");
    }

    #[test]
    fn what_fits_needs_no_other_way() {
        let song = testing::song(&[("intro", 16), ("verse", 32), ("chorus", 32)]);
        let routine = parse(SHEET).0;
        let (laid, others) = at_one_pulse(&song, &routine);
        assert!(laid.fits, "{:?}", laid.mismatches);
        assert!(others.is_empty());
    }
}
