//! What is amiss, in sentences a teacher understands.

use super::ground::count;
use super::lay::{Cause, Laid};
use super::model::{Mismatch, MismatchKind};
use crate::units::{clock, eights};

impl Laid<'_> {
    /// A cause as a mismatch.
    pub fn mismatch(&self, cause: Cause) -> Mismatch {
        match cause {
            Cause::Wait { stated, danced } => self.wait_differs(stated, danced),
            Cause::Short { item, counts } => self.short(item, counts),
            Cause::Long { item, counts } => self.long(item, counts),
            Cause::LeftOut { item } => self.no_room(item),
            Cause::Off { first, last, counts } => self.off(first, last, counts),
            Cause::EndsFirst { counts } => self.ends_first(counts),
            Cause::LeftOver { counts } => self.left_over(counts),
        }
    }

    /// Name of an item in a sentence: `Part B (2nd time)`.
    pub fn item_name(&self, item: usize) -> String {
        let placement = &self.placements[item];
        named(&placement.part, placement.time_round)
    }

    fn time(&self, at: i32) -> String {
        clock(self.song.counts.time_or_beyond_s(count(at)))
    }

    fn end_of(&self, item: usize) -> i32 {
        self.way().starts[item] + self.items[item].counts
    }

    fn phrase_name(&self, at: i32) -> &str {
        self.ground.names.get(self.ground.span_index(at)).map_or("the song", |n| n)
    }

    /// A mismatch at a count, concerning an item and the phrase that holds `phrase_at`.
    fn at(
        &self,
        kind: MismatchKind,
        at: i32,
        counts: i32,
        item: Option<usize>,
        phrase_at: i32,
        message: String,
    ) -> Mismatch {
        let inside = (1..self.ground.end).contains(&phrase_at);
        let phrase = inside.then(|| self.ground.span(phrase_at).phrase).flatten();
        Mismatch {
            kind,
            at_count: count(at),
            at_s: self.song.counts.time_or_beyond_s(count(at)),
            counts,
            part: item.map(|i| self.placements[i].part.clone()),
            time_round: item.map(|i| self.placements[i].time_round),
            phrase: phrase.map(|i| self.song.phrases[i].label.clone()),
            message,
        }
    }

    fn wait_differs(&self, stated: u32, danced: u32) -> Mismatch {
        let start = self.way().starts[0];
        let counts = i64::from(danced) - i64::from(stated);
        let counts = counts.clamp(i64::from(i32::MIN), i64::from(i32::MAX)) as i32;
        let message = format!(
            "the sheet says wait {stated} and {} asks for {danced}: the first step comes {} {}, at {}",
            self.phrase_name(start),
            number(counts.unsigned_abs()),
            if counts > 0 { "later" } else { "earlier" },
            self.time(start),
        );
        self.at(MismatchKind::WaitDiffers, start, counts, Some(0), start, message)
    }

    fn short(&self, item: usize, counts: i32) -> Mismatch {
        let end = self.end_of(item);
        let next = end + counts;
        let foot = self.placements[item].free_foot_after;
        let first_phrase = self.ground.span_index(end);
        let last_phrase = self.ground.span_index(next - 1);
        let whole_from = first_phrase + usize::from(!self.ground.is_start(end));
        let skipped = &self.ground.names[whole_from..=last_phrase];
        let (left, phrase_at) = if whole_from == first_phrase {
            (None, end)
        } else {
            let left = self.ground.spans[first_phrase].end - end;
            (Some(format!("{} {} left over", number(left as u32), are(left as u32))), end)
        };
        let message = match (left, skipped.is_empty()) {
            (Some(left), true) => format!(
                "{}: {left} at {}, {foot} foot free",
                self.sizes(item, self.ground.spans[first_phrase].end),
                self.time(end)
            ),
            (Some(left), false) => format!(
                "{}: {left} at {}, and nothing is danced in {}: {} in all, {foot} foot free",
                self.sizes(item, self.ground.spans[first_phrase].end),
                self.time(end),
                listed(skipped),
                number(counts as u32),
            ),
            (None, _) => format!(
                "nothing is danced in {} after {}: {} from {}, {foot} foot free",
                listed(skipped),
                self.item_name(item),
                number(counts as u32),
                self.time(end)
            ),
        };
        self.at(MismatchKind::PartTooShort, end, counts, Some(item), phrase_at, message)
    }

    fn long(&self, item: usize, counts: i32) -> Mismatch {
        let over_from = self.end_of(item) - counts;
        let message = format!(
            "{}: {} too many; {} runs over the start of {} at {}",
            self.sizes(item, over_from),
            number(counts as u32),
            self.item_name(item),
            self.phrase_name(over_from),
            self.time(over_from)
        );
        let phrase_at = self.way().starts[item];
        self.at(MismatchKind::PartTooLong, over_from, counts, Some(item), phrase_at, message)
    }

    fn no_room(&self, item: usize) -> Mismatch {
        let start = self.way().starts[item];
        let counts = self.items[item].counts;
        let name = self.item_name(item);
        let next = self.item_name(item + 1);
        let (kind, message) = if self.items[item].fill {
            let why = match item.checked_sub(1) {
                Some(before) if self.end_of(before) == start => format!(
                    "{} comes right after {}, with no gap for {name} ({})",
                    next,
                    self.item_name(before),
                    number(counts as u32)
                ),
                _ => {
                    format!("there is no gap for {name} ({}) before {next}", number(counts as u32))
                }
            };
            (MismatchKind::FillWithoutGap, format!("{why}, at {}", self.time(start)))
        } else {
            let message = format!(
                "there is no phrase for {name}: {} belongs to {next}, so {} have no room, at {}",
                self.phrase_name(start),
                number(counts as u32),
                self.time(start)
            );
            (MismatchKind::PartTooLong, message)
        };
        self.at(kind, start, counts, Some(item), start, message)
    }

    fn off(&self, first: usize, last: usize, counts: i32) -> Mismatch {
        let start = self.way().starts[first];
        let phrase_at = start - counts;
        let when = if counts > 0 { "after" } else { "before" };
        let others = match last - first {
            0 => String::new(),
            1 => format!("; so does {}, next", self.item_name(last)),
            n => format!("; so do the {n} after it, up to {}", self.item_name(last)),
        };
        let message = format!(
            "{} starts {} {when} {} does, at {}{}",
            self.item_name(first),
            number(counts.unsigned_abs()),
            self.phrase_name(phrase_at),
            self.time(start),
            if last > first && self.other_offsets(first, last, counts) {
                format!("; up to {} parts start beside their phrases", self.item_name(last))
            } else {
                others
            }
        );
        self.at(MismatchKind::OffPhrase, start, counts, Some(first), phrase_at, message)
    }

    fn other_offsets(&self, first: usize, last: usize, counts: i32) -> bool {
        (first + 1..=last)
            .filter(|&i| self.items[i].proper)
            .any(|i| self.ground.beside(self.way().starts[i]) != counts)
    }

    fn ends_first(&self, counts: i32) -> Mismatch {
        let end = self.ground.end;
        let over: Vec<usize> = (0..self.items.len()).filter(|&i| self.end_of(i) > end).collect();
        let first = over.first().copied();
        let unreached: Vec<usize> =
            over.iter().copied().filter(|&i| self.way().starts[i] >= end).collect();
        let cut = first.filter(|&i| self.way().starts[i] < end);
        let fills_only = cut.is_none() && unreached.iter().all(|&i| self.items[i].fill);
        let what = match (cut, unreached.as_slice()) {
            (Some(cut), []) => {
                format!("{} goes on for {}", self.item_name(cut), number(counts as u32))
            }
            (Some(cut), rest) => format!(
                "{} is cut short and {} {} not reached, {} in all",
                self.item_name(cut),
                self.few(rest),
                if rest.len() == 1 { "is" } else { "are" },
                number(counts as u32)
            ),
            (None, rest) => format!(
                "{} {} not reached, {}",
                self.few(rest),
                if rest.len() == 1 { "is" } else { "are" },
                number(counts as u32)
            ),
        };
        let message = format!("the song is over at {}: {what}", self.time(end));
        let kind =
            if fills_only { MismatchKind::FillWithoutGap } else { MismatchKind::SongEndsFirst };
        self.at(kind, end, counts, first, end - 1, message)
    }

    fn left_over(&self, counts: i32) -> Mismatch {
        let end = self.ground.end;
        let over = end - counts;
        let item = self.items.len().checked_sub(1);
        let routine = match item {
            Some(item) => format!("the routine is over with {}", self.item_name(item)),
            None => "the order names no part".to_string(),
        };
        let from = self.ground.span_index(over) + usize::from(!self.ground.is_start(over));
        let whole = &self.ground.names[from.min(self.ground.names.len())..];
        let phrases = match whole {
            [] => format!("the rest of {}", self.phrase_name(over)),
            names if self.ground.is_start(over) => listed(names),
            names => format!("the rest of {}, then {}", self.phrase_name(over), listed(names)),
        };
        let length = match eights(counts as u32) {
            eights if counts >= 16 => format!("{} ({eights})", number(counts as u32)),
            _ => number(counts as u32),
        };
        let message =
            format!("{routine} at {}; the song goes on for {length}: {phrases}", self.time(over));
        self.at(MismatchKind::SongLeftOver, over, counts, item, over, message)
    }

    /// `chorus 1 is 36 counts and Part B 32`: the phrases up to `until`, where the parts on them
    /// should end, beside those parts together.
    fn sizes(&self, item: usize, until: i32) -> String {
        let starts = &self.way().starts;
        let mut first = item;
        while !self.ground.is_start(starts[first]) && first > 0 {
            first -= 1;
        }
        while first < item
            && (starts[first] == starts[first + 1] || self.end_of(first) < starts[first + 1])
        {
            first += 1;
        }
        let from = starts[first];
        let phrases =
            &self.ground.names[self.ground.span_index(from)..=self.ground.span_index(until - 1)];
        let length = until - from;
        let together: i32 = self.end_of(item) - from;
        let phrases = match phrases {
            [one] => format!("{one} is {}", number(length as u32)),
            many => format!("{} are {} together", listed(many), number(length as u32)),
        };
        match item - first {
            0 => format!("{phrases} and {} {together}", self.item_name(item)),
            1 => format!(
                "{phrases}, and {} and {} together {together}",
                self.item_name(first),
                self.item_name(item)
            ),
            _ => format!(
                "{phrases}, and the parts from {} to {} together {together}",
                self.item_name(first),
                self.item_name(item)
            ),
        }
    }

    /// Some items by name, at most three.
    fn few(&self, items: &[usize]) -> String {
        let names: Vec<String> = items.iter().map(|&i| self.item_name(i)).collect();
        listed(&names)
    }
}

/// `Part B`, and `Part B (2nd time)` from the second time on.
pub(super) fn named(part: &str, time_round: u32) -> String {
    match time_round {
        0 | 1 => part.to_string(),
        n => format!("{part} ({} time)", ordinal(n)),
    }
}

/// `2nd`.
pub(super) fn ordinal(n: u32) -> String {
    let ending = match (n % 10, n % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{n}{ending}")
}

/// `1 count`, `4 counts`.
pub(super) fn number(counts: u32) -> String {
    if counts == 1 { "1 count".into() } else { format!("{counts} counts") }
}

fn are(counts: u32) -> &'static str {
    if counts == 1 { "is" } else { "are" }
}

/// `verse 1, chorus 1 and verse 2`; of more than four, the first, how many between, and the last.
pub(super) fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [many @ .., last] if many.len() <= 3 => format!("{} and {last}", many.join(", ")),
        [first, between @ .., last] => {
            format!("{first} to {last} with {} between", between.len())
        }
    }
}
