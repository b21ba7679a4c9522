//! What would mend it. Each suggestion is tried: only what removes its mismatch and adds none is made.

use super::align::Alignment;
use super::edit::{Edit, grouped, step_line};
use super::fill::{Known, LONGEST_FILL, fill, fills};
use super::ground::{Ground, Item, count};
use super::judgement::CLOSING_COUNTS;
use super::lay::{Cause, Changed, Laid};
use super::model::{Suggestion, SuggestionKind};
use super::words::{listed, number};
use crate::routine::glossary::{self, Level};
use crate::routine::{Part, PartKind, StepUse};
use crate::units::{Foot, clock};

/// Most suggestions for one mismatch, and from how many mismatches on there is only one for each: so
/// much amiss asks for another routine or better marks, not for a choice of mends.
const CHOICES: usize = 3;
pub(super) const MANY: usize = 9;
/// The shortest gap for which dancing a part once more is thought of: two eights.
const PART_LENGTH: i32 = 16;
/// The level of steps offered for a routine that states none: easy ones.
const USUAL_LEVEL: Level = Level::BasicPlus;

/// Tried suggestions for everything amiss.
pub(super) fn suggestions(laid: &Laid<'_>) -> Vec<Suggestion> {
    if laid.causes.is_empty() {
        return Vec::new();
    }
    let known = known_steps(laid);
    let choices = if laid.causes.len() >= MANY { 1 } else { CHOICES };
    let mut made = Vec::new();
    for (mends, &cause) in laid.causes.iter().enumerate() {
        let tried = laid.candidates(cause, &known).into_iter().filter(|s| laid.is_mend(cause, s));
        made.extend(tried.take(choices).map(|s| Suggestion { mends, ..s }));
    }
    made
}

/// Steps for fills: those of the routine, then those of the glossary up to the routine's level.
fn known_steps(laid: &Laid<'_>) -> Vec<Known> {
    let mut known: Vec<Known> = Vec::new();
    let mut add = |step: &StepUse, own: bool| {
        let usable = step.counts > 0 && !step.feet.is_empty();
        if usable && !known.iter().any(|k| k.step.name == step.name && k.step == *step) {
            known.push(Known { step: step.clone(), own });
        }
    };
    laid.routine.parts.iter().flat_map(Part::steps).for_each(|step| add(step, true));
    let level = laid.routine.level.as_deref().and_then(Level::read).unwrap_or(USUAL_LEVEL);
    let taught = glossary::steps().filter(|(step, _)| step.level <= level);
    taught.for_each(|(_, step)| add(step, false));
    known
}

impl Laid<'_> {
    /// Whether a suggestion, made, removes its cause and adds none.
    fn is_mend(&self, cause: Cause, suggestion: &Suggestion) -> bool {
        // Where much is amiss, what costs more than now is not looked into.
        let limit = (self.causes.len() >= MANY).then_some(self.way().price);
        let Some(Changed { items, way, causes: after, .. }) =
            self.changed(&suggestion.edits, limit)
        else {
            return false;
        };
        let place_of = |c| place(&self.ground, &self.items, self.way(), c);
        let mut before: Vec<_> = self.causes.iter().map(|&c| place_of(c)).collect();
        let Some(this) = before.iter().position(|c| *c == place_of(cause)) else { return false };
        before.swap_remove(this);
        after.into_iter().all(|c| {
            let place = place(&self.ground, &items, &way, c);
            let same = before.iter().position(|b| *b == place);
            same.map(|i| before.swap_remove(i)).is_some()
        })
    }

    fn candidates(&self, cause: Cause, known: &[Known]) -> Vec<Suggestion> {
        match cause {
            Cause::Wait { stated, danced } => vec![self.change_wait(stated, danced)],
            Cause::Short { item, counts } => self.fill_gap(item, counts, known),
            Cause::Long { item, counts } => self.shorten(item, counts as u32, known),
            Cause::LeftOut { item } => vec![self.leave_out(item)],
            Cause::Off { first, last, counts } => self.back_on_phrase(first, last, counts, known),
            Cause::EndsFirst { counts } => self.end_earlier(counts as u32, known),
            Cause::LeftOver { counts } => self.go_on(counts, known),
        }
    }

    pub(super) fn order_index(&self, item: usize) -> usize {
        self.placements.get(item).map_or(self.routine.order.len(), |p| p.order_index)
    }

    pub(super) fn part_of(&self, item: usize) -> &Part {
        &self.routine.parts[self.items[item].part]
    }

    fn at_time(&self, at: i32) -> (f64, String) {
        let at_s = self.song.counts.time_or_beyond_s(count(at));
        (at_s, clock(at_s))
    }

    /// The foot on which the part of an item starts the first time it is danced.
    pub(super) fn usual_lead(&self, item: usize) -> Option<Foot> {
        let part = self.items.get(item)?.part;
        let first = self.items.iter().position(|i| i.part == part)?;
        self.placements.get(first).map(|p| p.lead_foot)
    }

    pub(super) fn suggestion(
        &self,
        kind: SuggestionKind,
        at: i32,
        counts: u32,
        edits: Vec<Edit>,
        message: String,
    ) -> Suggestion {
        Suggestion {
            mends: 0,
            kind,
            at_count: count(at),
            at_s: self.at_time(at).0,
            counts,
            steps: Vec::new(),
            feet: Vec::new(),
            lead_foot: None,
            free_foot_after: None,
            message,
            edits,
        }
    }

    fn change_wait(&self, stated: u32, danced: u32) -> Suggestion {
        let start = self.way().starts[0];
        let longer = if danced > stated { "longer" } else { "shorter" };
        let message = format!(
            "wait {}, {} {longer} than the sheet says: the first step then comes at {}",
            number(danced),
            number(danced.abs_diff(stated)),
            self.at_time(start).1
        );
        let edits = vec![Edit::Wait(danced)];
        self.suggestion(SuggestionKind::ChangeWait, start, danced, edits, message)
    }

    /// For counts left over after an item: a part once more, a fill, a pause.
    fn fill_gap(&self, item: usize, counts: i32, known: &[Known]) -> Vec<Suggestion> {
        let at = self.way().starts[item] + self.items[item].counts;
        let mut choices = Vec::new();
        if counts >= PART_LENGTH {
            let sort = self.ground.span(at).kind;
            choices.extend(self.part_for(sort, counts, item).map(|part| {
                let name = &self.routine.parts[part].name;
                let message = format!(
                    "dance {name} once more at {}, {}, before {}",
                    self.at_time(at).1,
                    number(counts as u32),
                    self.item_name(item + 1)
                );
                let edits = vec![Edit::Again { before: self.order_index(item + 1), part }];
                self.suggestion(SuggestionKind::Repeat, at, counts as u32, edits, message)
            }));
        }
        choices.extend(self.put_fill(at, counts as u32, item + 1, known));
        choices
    }

    /// A part of just this length, best one that is mostly danced to this sort of phrase, then the
    /// one danced last.
    fn part_for(&self, sort: u16, counts: i32, item: usize) -> Option<usize> {
        let on_sort = |part: usize| {
            let danced = self.items.iter().zip(&self.way().starts).filter(|(i, start)| {
                i.part == part
                    && **start < self.ground.end
                    && self.ground.span(**start).kind == sort
            });
            danced.count()
        };
        let is_last = |part: usize| self.items.get(item).is_some_and(|i| i.part == part);
        self.items
            .iter()
            .filter(|i| i.counts == counts && !i.fill)
            .map(|i| i.part)
            .max_by_key(|&part| (on_sort(part), is_last(part)))
    }

    /// Fills of `counts` before item `next`, from the foot free there to the foot on which that
    /// usually starts; where no steps do that, what comes nearest.
    fn put_fill(&self, at: i32, counts: u32, next: usize, known: &[Known]) -> Vec<Suggestion> {
        let lead = self.foot_free_before(next);
        let wanted = self.usual_lead(next).unwrap_or(lead);
        let before = self.order_index(next);
        let meets = match self.placements.get(next) {
            Some(_) => format!(" for {}", self.item_name(next)),
            None => String::new(),
        };
        let time = self.at_time(at).1;
        let mut choices = Vec::new();
        let mut put = |steps: Vec<StepUse>, free: Foot, but: &str| {
            let cue = step_line(&steps);
            let message = format!(
                "a fill of {counts} at {time} that starts on the {lead} foot and leaves the {free} foot free{meets}: {}{but}",
                cue.text
            );
            let part = Part {
                name: "Fill".into(),
                kind: PartKind::Fill,
                stated_counts: Some(counts),
                lines: vec![cue],
                line: 0,
            };
            let edits = vec![Edit::Insert { before, part }];
            let made = self.suggestion(SuggestionKind::Fill, at, counts, edits, message);
            choices.push(Suggestion {
                lead_foot: Some(lead),
                free_foot_after: Some(free),
                ..with_steps(made, &steps, lead)
            });
        };
        // Where the routine's own steps cannot do it, a hold may be what the author would rather have.
        let by_twos = counts % 2 == 1 && go_by_twos(known);
        let most = match self.causes.len() >= MANY {
            true => 1,
            false if by_twos => CHOICES - 1,
            false => CHOICES,
        };
        let ways = fills(known, counts, lead != wanted, most);
        if !ways.is_empty() {
            let but = match by_twos {
                true => format!(
                    " (the routine's own steps are all of even counts and cannot make {counts})"
                ),
                false => String::new(),
            };
            for (n, steps) in ways.into_iter().enumerate() {
                put(steps, wanted, if n == 0 { &but } else { "" });
            }
        } else if let Some(steps) = fill(known, counts, lead == wanted) {
            let but =
                format!(" (no known steps of {} leave the {wanted} foot free)", number(counts));
            put(steps, wanted.other(), &but);
        }
        let but = if choices.is_empty() && counts <= LONGEST_FILL {
            format!("; no known steps add up to {}", number(counts))
        } else {
            String::new()
        };
        let part = Part {
            name: "Pause".into(),
            kind: PartKind::Fill,
            stated_counts: Some(counts),
            ..Part::default()
        };
        let message = format!(
            "hold for {} at {time}: the {lead} foot stays free{meets}{but}",
            number(counts)
        );
        let edits = vec![Edit::Insert { before, part }];
        let pause = self.suggestion(SuggestionKind::Pause, at, counts, edits, message);
        let foot = Some(lead);
        choices.push(Suggestion { lead_foot: foot, free_foot_after: foot, ..pause });
        choices
    }

    fn foot_free_before(&self, item: usize) -> Foot {
        match item.checked_sub(1).and_then(|i| self.placements.get(i)) {
            Some(before) => before.free_foot_after,
            None => self.routine.starts_on.unwrap_or(Foot::Left),
        }
    }

    pub(super) fn leave_out(&self, item: usize) -> Suggestion {
        let at = self.way().starts[item];
        let counts = self.items[item].counts as u32;
        let message = format!(
            "leave {} out at {}, {}",
            self.item_name(item),
            self.at_time(at).1,
            number(counts)
        );
        let edits = vec![Edit::LeaveOut { at: self.order_index(item) }];
        self.suggestion(SuggestionKind::LeaveOut, at, counts, edits, message)
    }

    /// For parts that start beside their phrases: take away before them and put in after them, or the
    /// other way round.
    fn back_on_phrase(
        &self,
        first: usize,
        last: usize,
        counts: i32,
        known: &[Known],
    ) -> Vec<Suggestion> {
        let size = counts.unsigned_abs();
        let at = self.way().starts[first];
        if first == 0 {
            let danced = (at - 1) as u32;
            let Some(wait) = danced.checked_add_signed(-counts) else { return vec![] };
            let message = format!("wait {} in place of {danced}", number(wait));
            let edits = vec![Edit::Wait(wait)];
            return vec![self.suggestion(SuggestionKind::ChangeWait, at, wait, edits, message)];
        }
        let after = self.way().starts[last] + self.items[last].counts;
        let (befores, afters) = if counts > 0 {
            (self.shorten(first - 1, size, known), self.put_fill(after, size, last + 1, known))
        } else {
            (self.put_fill(at, size, first, known), self.shorten(last, size, known))
        };
        let Some(before) = befores.into_iter().next() else { return vec![] };
        let both = afters.into_iter().next().map(|after| Suggestion {
            edits: [before.edits.clone(), after.edits].concat(),
            message: format!("{}; and {}", before.message, after.message),
            ..before.clone()
        });
        [Some(before), both].into_iter().flatten().collect()
    }

    /// For a song that is over first: leave out whole parts from the end, and the last steps of
    /// the one before them.
    fn end_earlier(&self, counts: u32, known: &[Known]) -> Vec<Suggestion> {
        let mut left = counts;
        let mut edits = Vec::new();
        let mut names = Vec::new();
        let mut item = self.items.len();
        while item > 0 && left >= self.items[item - 1].counts as u32 {
            item -= 1;
            left -= self.items[item].counts as u32;
            edits.push(Edit::LeaveOut { at: self.order_index(item) });
            names.insert(0, self.item_name(item));
        }
        let out = (!names.is_empty()).then(|| format!("leave out {}", listed(&names)));
        let at = self.ground.end;
        let (kind, message) = match (item.checked_sub(1), left) {
            (Some(item), 1..) => {
                let Some(trim) = self.trims(item, left, known).into_iter().next() else {
                    return vec![];
                };
                let made = self.trimmed(item, trim);
                edits.extend(made.edits);
                let message = match out {
                    Some(out) => format!("{}, and {out}", made.message),
                    None => made.message,
                };
                (SuggestionKind::Trim, message)
            }
            _ => (
                SuggestionKind::LeaveOut,
                format!("{}, {}", out.unwrap_or_default(), number(counts)),
            ),
        };
        vec![self.suggestion(kind, at, counts, edits, message)]
    }

    /// For a song that goes on: a fill to the next phrase, then for each phrase a part of its length.
    fn go_on(&self, counts: i32, known: &[Known]) -> Vec<Suggestion> {
        let end = self.items.len();
        let over = self.ground.end - counts;
        let before = self.order_index(end);
        let mut at = over;
        let mut made: Vec<Suggestion> = Vec::new();
        while at < self.ground.end {
            let span = self.ground.span(at);
            let length = span.end - at;
            let whole = at == span.start;
            let part =
                if whole { self.part_for(span.kind, length, end.wrapping_sub(1)) } else { None };
            let next = match part {
                Some(part) => {
                    let message = format!("dance {} once more", self.routine.parts[part].name);
                    let edits = vec![Edit::Again { before, part }];
                    Some(self.suggestion(SuggestionKind::Repeat, at, length as u32, edits, message))
                }
                None => self.put_fill(at, length as u32, end, known).into_iter().next(),
            };
            made.extend(next);
            at = span.end;
        }
        let kind = match made.iter().any(|s| s.kind == SuggestionKind::Repeat) {
            true => SuggestionKind::Repeat,
            false => made.first().map_or(SuggestionKind::Pause, |s| s.kind),
        };
        let message = made.iter().map(|s| s.message.clone()).collect::<Vec<_>>().join("; then ");
        let edits = made.iter().flat_map(|s| s.edits.clone()).collect();
        let mut choices = vec![self.suggestion(kind, over, counts as u32, edits, message)];
        choices.extend(self.up_to_the_pose(over, counts, known));
        choices
    }

    /// Fewest counts for a song that goes on: a fill, and the last eight left to a pose.
    fn up_to_the_pose(&self, over: i32, counts: i32, known: &[Known]) -> Option<Suggestion> {
        let counts = (counts as u32).checked_sub(CLOSING_COUNTS).filter(|&n| n <= LONGEST_FILL)?;
        let fill = self.put_fill(over, counts, self.items.len(), known).into_iter().next()?;
        let message = format!("{}; the last {CLOSING_COUNTS} are for a pose", fill.message);
        Some(Suggestion { message, ..fill })
    }
}

/// Whether the steps that the routine has are all of even counts.
fn go_by_twos(known: &[Known]) -> bool {
    let mut own = known.iter().filter(|k| k.own).peekable();
    own.peek().is_some() && own.all(|k| k.step.counts % 2 == 0)
}

/// What tells one cause from another, also after parts have been put in or left out.
fn place(ground: &Ground, items: &[Item], way: &Alignment, cause: Cause) -> (u8, i32, i32) {
    let end_of = |i: usize| way.starts[i] + items[i].counts;
    match cause {
        Cause::Wait { stated, danced } => (0, stated as i32, danced as i32),
        Cause::Short { item, counts } => (1, end_of(item), counts),
        Cause::Long { item, counts } => (2, end_of(item), counts),
        Cause::LeftOut { item } => (3, way.starts[item], items[item].counts),
        Cause::Off { first, counts, .. } => (4, way.starts[first], counts),
        Cause::EndsFirst { counts } => (5, ground.end, counts),
        Cause::LeftOver { counts } => (6, ground.end, counts),
    }
}

/// A suggestion with its steps as cue sheet lines, and their feet.
pub(super) fn with_steps(suggestion: Suggestion, steps: &[StepUse], lead: Foot) -> Suggestion {
    let mut free = lead;
    let mut feet = Vec::new();
    let mut lines = Vec::new();
    for (times, step) in grouped(steps) {
        let mut line = Vec::new();
        for _ in 0..times {
            line.push(step.feet_line(free));
            free = step.free_foot_after(free);
        }
        feet.push(line.join("  ").trim().to_string());
        lines.push(match times {
            1 => step.name.clone(),
            n => format!("{n} {}", step.name),
        });
    }
    Suggestion { steps: lines, feet, ..suggestion }
}
