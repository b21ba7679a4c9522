//! The order as the sheet has it: on lines that give it, else heading after heading, a part that comes again named
//! again.

use super::field::Field;
use super::finding::{Fault, Finding};
use super::line::Line;
use super::lines::Kind;
use super::model::{OrderItem, Part, PartKind, Routine, StepLine};
use super::order::{OrderPlace, read_order};
use super::proof::PartClaims;
use super::vocabulary::plain_words;

/// What the headings say of the order.
#[derive(Debug, Default)]
pub(super) struct WrittenOrder {
    /// Whether lines of the sheet give the order.
    given: bool,
    /// The part of each heading, and its line, in order.
    headings: Vec<(usize, usize)>,
    /// How often each part is danced each time that it comes.
    times: Vec<u32>,
}

impl WrittenOrder {
    pub(super) fn of(kinds: &[Kind]) -> WrittenOrder {
        WrittenOrder { given: kinds.iter().any(Kind::is_order), ..WrittenOrder::default() }
    }

    /// Whether lines of the sheet give the order.
    pub(super) fn is_given(&self) -> bool {
        self.given
    }

    /// Whether a heading of the name of part `first` is that part once more: no line gives the order, and beneath it
    /// stand no steps or the same.
    pub(super) fn comes_again(&self, first: usize, parts: &[Part], lines: &[StepLine]) -> bool {
        let Some(part) = parts.get(first) else { return false };
        let steps = lines.iter().flat_map(|l| &l.steps);
        lines.is_empty() || !self.given && steps.eq(part.steps())
    }

    /// A heading, its part and how often that is danced.
    pub(super) fn push(&mut self, part: usize, times: u32, line: usize) {
        self.headings.push((part, line));
        if self.times.len() <= part {
            self.times.resize(part + 1, 1);
        }
        self.times[part] = self.times[part].max(times);
    }

    /// Reads the order, or makes one where the sheet gives none.
    pub(super) fn set(
        &self,
        lines: &[Line<'_>],
        kinds: &[Kind],
        routine: &mut Routine,
        findings: &mut Vec<Finding>,
    ) -> Vec<OrderPlace> {
        let written: Vec<(&Line<'_>, usize)> = lines
            .iter()
            .zip(kinds)
            .filter_map(|(line, kind)| match kind {
                Kind::Field(Field::Order, at) | Kind::Order(at) => Some((line, *at)),
                _ => None,
            })
            .collect();
        let before = findings.len();
        let order = read_order(&written, &routine.parts, &self.times, findings);
        // Where the wait is known an introduction without a part of its own is that.
        let waited = routine.wait.or(order.wait).is_some();
        let is_wait = |f: &Finding| {
            matches!(f.fault, Fault::NoteInOrder) && f.words.eq_ignore_ascii_case("intro")
        };
        let has_order = !order.items.is_empty() || findings.len() > before;
        if waited {
            findings.retain(|f| !is_wait(f));
        }
        if let Some(wait) = order.wait {
            routine.wait.get_or_insert(wait);
        }
        routine.parts.extend(order.pauses);
        routine.notes.extend(order.notes);
        routine.order = order.items;
        if has_order || routine.parts.is_empty() {
            let last = written.iter().map(|(line, _)| line.number).max().unwrap_or(0);
            ending_behind_the_order(routine, last);
            return order.places;
        }
        let mut danced: Vec<(usize, usize)> = self.headings.clone();
        let parts = routine.parts.len();
        for (line, kind) in lines.iter().zip(kinds) {
            let Kind::Again(from, to) = *kind else { continue };
            let named = Line::new(line.number, line.text.get(..to).unwrap_or(""));
            let again = read_order(&[(&named, from)], &routine.parts, &self.times, findings);
            danced.extend(
                again.items.iter().filter(|o| o.part < parts).map(|o| (o.part, line.number)),
            );
        }
        danced.sort_by_key(|&(_, line)| line);
        let again = danced.len() > self.headings.len();
        let mut rounds = vec![0; parts];
        for (part, line) in danced {
            for _ in 0..self.times.get(part).copied().unwrap_or(1) {
                if let Some(round) = rounds.get_mut(part) {
                    *round += 1;
                    routine.order.push(OrderItem { part, time_round: *round, line });
                }
            }
        }
        // A heading that comes again is an order of its own.
        if parts > 1 && self.headings.len() == parts && !again {
            findings.push(Finding::of_the_sheet(Fault::NoOrder));
        }
        Vec::new()
    }
}

/// An ending that stands behind the order and that the order does not name is danced at the end.
fn ending_behind_the_order(routine: &mut Routine, last_line: usize) {
    for part in 0..routine.parts.len() {
        let here = &routine.parts[part];
        let named = routine.order.iter().any(|o| o.part == part);
        if here.kind == PartKind::Ending && here.line > last_line && !named {
            routine.order.push(OrderItem { part, time_round: 1, line: here.line });
        }
    }
}

/// A pause with which an introduction begins, alone on its line, is the wait.
pub(super) fn wait_of_the_intro(
    routine: &mut Routine,
    claims: &mut Vec<PartClaims>,
    places: &mut Vec<OrderPlace>,
) {
    // `Intro - 8 counts`, which no order names and no step fills.
    let alone = |(i, p): (usize, &Part)| {
        let named = routine.order.iter().any(|o| o.part == i);
        let counted = p.stated_counts.filter(|_| p.kind == PartKind::Intro && p.lines.is_empty());
        counted.filter(|_| !named && routine.wait.is_none()).map(|counts| (i, counts))
    };
    if let Some((i, counts)) = routine.parts.iter().enumerate().find_map(alone) {
        routine.wait = Some(counts);
        remove(routine, claims, i);
        return;
    }
    let unnamed = routine.order.iter().all(|o| o.part != 0);
    let Some(first) = routine.order.first().map(|o| if unnamed { 0 } else { o.part }) else {
        return;
    };
    let once = routine.order.iter().filter(|o| o.part == first).count() < 2;
    let Some(part) = routine.parts.get_mut(first).filter(|p| p.kind == PartKind::Intro) else {
        return;
    };
    let Some(line) = part.lines.first() else { return };
    // Nobody waits amid a dance: where the introduction comes again it is danced alone.
    let waits = plain_words(&line.text).first().is_some_and(|w| w.eq_ignore_ascii_case("wait"));
    if !(once || waits && part.lines.len() > 1) {
        return;
    }
    let counts = line.counts();
    let only_pause = !line.steps.is_empty() && line.steps.iter().all(|s| s.is_pause());
    let other_wait = routine.wait.is_some_and(|wait| wait != counts);
    if !only_pause || other_wait || unnamed && part.lines.len() > 1 {
        return;
    }
    routine.wait = Some(counts);
    part.lines.remove(0);
    part.stated_counts = part.stated_counts.map(|stated| stated.saturating_sub(counts));
    if !part.lines.is_empty() {
        return;
    }
    // Nothing is danced in it.
    if !places.is_empty() && !unnamed {
        places.remove(0);
    }
    remove(routine, claims, first);
}

/// Takes out a part that stands first, or nowhere, in the order.
fn remove(routine: &mut Routine, claims: &mut Vec<PartClaims>, first: usize) {
    routine.parts.remove(first);
    if first < claims.len() {
        claims.remove(first);
    }
    routine.order.retain(|o| o.part != first);
    for item in routine.order.iter_mut().filter(|o| o.part > first) {
        item.part -= 1;
    }
}
