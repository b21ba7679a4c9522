//! A part built from its lines: steps, and what the sheet claims about feet, timing, counts and walls.

use crate::units::Foot;

use super::book::Book;
use super::claims::{FootClaim, OtherFootClaim, WallClaim};
use super::finding::{Fault, Finding};
use super::glossary::name_key;
use super::item::{Body, Item, MOST_PAUSE, MOST_TIMES, Parsed, Place};
use super::line::Line;
use super::line_counts::says_more;
use super::metre::BAR_IN_THREE;
use super::model::{Part, StepLine, StepUse};
use super::movement::{MovementUse, QUARTERS_PER_COUNT};
use super::numbers::is_several;
use super::repeats::is_common_practice;
use super::turning::eighths_to;

/// The most steps that one sheet is read with: repeats of repeats end somewhere.
pub const MOST_STEPS: usize = 50_000;

/// A line that belongs to a part, with what it is.
#[derive(Debug)]
pub enum Piece<'s> {
    /// Steps.
    Steps(&'s Line<'s>, &'s Parsed),
    /// Movements of the step named above, not danced once more.
    Breakdown(&'s Line<'s>, &'s Parsed),
    /// Feet under movements.
    Feet(&'s Line<'s>, &'s [Foot]),
    /// Timing under movements.
    Timing(&'s Line<'s>, &'s [Vec<char>]),
}

/// How numbers and repeats in a part are read, where they can mean two things.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Reading {
    /// A single number in front of a step is its counts, not how often it is danced.
    pub numbers_are_counts: bool,
    /// `repeat` alone repeats all that stands above it, not the line before.
    pub repeat_all: bool,
    /// A name that begins or ends with a known step's is not taken for that step.
    pub names_whole: bool,
    /// A number of times behind the last of several steps is that of all of them: `Step, Clap x4`.
    pub times_of_all: bool,
    /// Whether the part's heading states no counts.
    pub no_counts_stated: bool,
    /// Counts of each step that nobody knows, where those of the part leave so many for it.
    pub unknown_counts: Option<u32>,
}

/// A part as built.
#[derive(Debug, Clone, Default)]
pub struct Built {
    /// Its lines.
    pub lines: Vec<StepLine>,
    /// What was found on the way.
    pub findings: Vec<Finding>,
    /// Claims about feet.
    pub feet: Vec<FootClaim>,
    /// Claims about walls.
    pub walls: Vec<WallClaim>,
    /// Claims to start on the other foot than another part.
    pub other_foot: Vec<OtherFootClaim>,
    /// Whether every step's counts are known.
    pub complete: bool,
    /// Whether nothing but steps that nobody knows is missing in it.
    pub only_unknown: bool,
    /// Whether a number in front could be counts.
    pub has_bare_numbers: bool,
    /// Whether a number of times behind the last step of a line could be that of all of them.
    pub has_times_behind_several: bool,
    /// Whether a `repeat` could mean all.
    pub has_open_repeat: bool,
    /// Notes that stand on lines without steps.
    pub notes: Vec<String>,
    /// Whether a step was taken for one whose name is a part of its own.
    pub has_longer_names: bool,
    /// Whether one of the names that nobody knows may be no step's: no number stands by it, and a step stands on its line
    /// or an exclamation in it.
    pub unknown_aside: bool,
    /// Steps that nobody knows and how often each is danced.
    pub unknown: Vec<(String, u32)>,
    /// Whether a step is danced whose feet are not known.
    pub feet_unknown: bool,
}

impl Built {
    /// Sum of its steps.
    pub fn counts(&self) -> u32 {
        self.lines.iter().fold(0, |sum, l| sum.saturating_add(l.counts()))
    }
}

/// Finds a part's index and steps by its name, for `same as Part A`.
pub type SameAs<'f> = &'f dyn Fn(&str) -> Option<(usize, Vec<StepUse>)>;

/// Builds a part from its lines. At most `room` steps are made.
pub fn build(
    pieces: &[Piece<'_>],
    reading: Reading,
    book: &Book,
    same_as: SameAs<'_>,
    above: &[Part],
    room: usize,
) -> Built {
    let mut builder = Builder {
        out: Built { complete: true, only_unknown: true, ..Built::default() },
        reading,
        book,
        same_as,
        above,
        room: room.min(MOST_STEPS),
        made: 0,
        free: Foot::Left,
        turned: 0,
        last: None,
        turn_waiting: 0,
        waiting: None,
        last_times: 0,
        share: None,
        alone: false,
    };
    for piece in pieces {
        match piece {
            Piece::Steps(line, parsed) => builder.steps(line, parsed),
            Piece::Breakdown(line, parsed) => builder.breakdown(line, parsed),
            Piece::Feet(line, feet) => builder.feet(line, feet),
            Piece::Timing(line, timing) => builder.timing(line, timing),
        }
    }
    builder.turns_by_walls();
    builder.out.findings.extend(builder.waiting);
    builder.out
}

/// The steps that feet and timing lines are held against.
#[derive(Clone)]
pub(super) struct Last {
    /// The foot free before the line, when the part starts left.
    pub(super) free: Foot,
    /// Steps of the line.
    pub(super) steps: Vec<StepUse>,
    /// One time of the last item.
    pub(super) once: Option<(Foot, StepUse)>,
    /// Whether a timing line may place its movements.
    pub(super) may_place: bool,
}

pub(super) struct Builder<'b> {
    pub(super) out: Built,
    pub(super) reading: Reading,
    pub(super) book: &'b Book,
    pub(super) same_as: SameAs<'b>,
    /// The parts that stand above.
    pub(super) above: &'b [Part],
    pub(super) room: usize,
    /// Steps made so far.
    pub(super) made: usize,
    /// The foot that is free here, when the part starts with the left foot free.
    pub(super) free: Foot,
    /// Eighths of a turn since the part's start.
    pub(super) turned: i32,
    pub(super) last: Option<Last>,
    /// A turn that stands before the first step.
    pub(super) turn_waiting: i32,
    /// What is told where no step comes for it.
    pub(super) waiting: Option<Finding>,
    /// How often the last step was danced in one go.
    pub(super) last_times: usize,
    /// Counts of each step of the line that nobody knows, where the line's counts leave so many.
    pub(super) share: Option<u32>,
    /// Whether the line has one step and no other, so that its counts are that step's.
    pub(super) alone: bool,
}

impl Builder<'_> {
    pub(super) fn find(&mut self, line: &Line<'_>, place: Place, fault: Fault) {
        self.out.findings.push(Finding::at(line, place, fault));
    }

    fn steps(&mut self, line: &Line<'_>, parsed: &Parsed) {
        for (fault, place) in &parsed.faults {
            self.find(line, *place, fault.clone());
        }
        if parsed.items.is_empty() && parsed.faults.is_empty() {
            let whole = line.whole();
            self.find(line, whole, Fault::UnknownLine { nearest: None });
        }
        let free_before = self.free;
        let mut here = StepLine {
            text: line.typed.trim().to_string(),
            line: line.number,
            ..StepLine::default()
        };
        let mut notes = Vec::new();
        let mut once = None;
        let mut may_place = false;
        self.share = self.share_of_the_line(line, parsed);
        let items =
            self.times_in_brackets(self.without_counts_of_several(&line.text, &parsed.items));
        let mut items = self.times_of_all(items);
        // `8   1 Chain, 2 Basics`: the line's counts stand in front, and the other numbers say how often.
        let in_front = |i: &Item| i.stated.is_some() && !i.stated_behind();
        if items.first().is_some_and(in_front) && items[1..].iter().any(|i| i.bare.is_some()) {
            items.to_mut()[1..].iter_mut().for_each(|i| i.bare = None);
        }
        self.alone = items.iter().filter(|item| item.body != Body::Nothing).count() == 1;
        for (i, item) in items.iter().enumerate() {
            // `Cowboy, half left, and home. (8)`: counts behind other words are those of the line.
            let last = i > 0 && i + 1 == items.len();
            if last && !here.steps.is_empty() && says_only_counts(item) {
                self.stated_of_all(line, item, &here.steps);
                continue;
            }
            // So they are where a step that is danced in many ways would be too much, `8 claps, freestyle!   8`.
            let by_length = |key: &String| self.book.find(key).is_some_and(|s| s.moves.is_empty());
            let open = match &item.body {
                Body::Unknown => true,
                Body::Known(key) => by_length(key) && item.bare.is_none(),
                _ => false,
            };
            // Where the steps before it state theirs these are its own.
            let own = items[..i].iter().any(|before| before.stated_behind());
            let last = last && open && !own;
            if last && item.times == 1 && item.stated.is_some_and(|(n, _)| n == here.counts()) {
                notes.push(line.typed_between(item.body_place.0, item.body_place.1));
                continue;
            }
            notes.extend(item.notes.iter().cloned());
            let first = here.steps.len();
            let free_at_item = self.free;
            let danced = self.item(line, item, &mut here);
            if danced {
                once = here.steps.get(first).map(|s| (free_at_item, s.clone()));
                may_place = item.body == Body::Moves && items.len() == 1;
            }
            // `Repeat facing back, end facing front`: of two walls the first is where it begins.
            let begins = matches!(item.body, Body::Repeat { .. })
                && items[i + 1..].iter().any(|behind| behind.wall.is_some());
            let claimed = Item { wall: item.wall.filter(|_| !begins), ..item.clone() };
            self.item_claims(line, &claimed, free_at_item, &here.steps[first..]);
        }
        self.counts_of_the_line(line, parsed, &here);
        let unread = |f: &Finding| {
            matches!(f.fault, Fault::UnknownStep { nearest: None } | Fault::NoStepInIt)
        };
        let open = self.out.findings.iter().rev().take_while(|f| f.line == line.number).any(unread);
        if open || notes.iter().any(|note| says_more(note)) {
            self.unsure_of_the_line(line, &mut here);
        }
        if here.steps.is_empty() {
            self.out.notes.extend(notes);
            return;
        }
        here.note = (!notes.is_empty()).then(|| notes.join("; "));
        self.last = Some(Last { free: free_before, steps: here.steps.clone(), once, may_place });
        self.out.lines.push(here);
    }

    /// Dances an item on the line. False when it adds no step.
    pub(super) fn item(&mut self, line: &Line<'_>, item: &Item, here: &mut StepLine) -> bool {
        let steps: Vec<StepUse> = match &item.body {
            Body::Nothing => {
                // A number alone says nothing.
                if item.turn == 0
                    && item.wall.is_none()
                    && item.turn_to.is_none()
                    && item.notes.is_empty()
                {
                    self.find(line, item.place, Fault::UnknownLine { nearest: None });
                }
                self.turn_alone(line, item, here);
                return false;
            }
            Body::Pause => {
                let counts = item.stated.map_or(1, |(n, _)| n);
                if counts > MOST_PAUSE {
                    self.find(line, item.place, Fault::TooMany { most: MOST_PAUSE });
                }
                vec![StepUse::pause(counts.min(MOST_PAUSE))]
            }
            Body::Repeat { all } => return self.repeat(line, item, *all, here),
            Body::SameAs(name) => match self.same_as_steps(line, item, name) {
                Some(steps) => steps,
                None => return false,
            },
            Body::Group => {
                let mut within = StepLine::default();
                let (free, turned) = (self.free, self.turned);
                for time in 0..item.times.clamp(1, MOST_TIMES) {
                    let told = self.out.findings.len();
                    for step in &item.instead {
                        let (first, free) = (within.steps.len(), self.free);
                        self.item(line, step, &mut within);
                        self.item_claims(line, step, free, &within.steps[first..]);
                    }
                    // What is wrong with them is told once.
                    if time > 0 {
                        self.out.findings.truncate(told);
                    }
                }
                (self.free, self.turned) = (free, turned);
                // They were counted as they were made.
                self.made = self.made.saturating_sub(within.steps.len());
                self.stated_of_all(line, item, &within.steps);
                within.steps
            }
            Body::Moves => match &item.moves {
                Some(step) => self.times(line, item, step.clone()),
                None => return false,
            },
            Body::Known(key) => match self.step_of(key, item) {
                Some(step) => {
                    if let Some((_, built_in)) = self.book.filed_otherwise(key)
                        && item.moves.is_none()
                        && !self.out.findings.iter().any(|f| matches!(&f.fault, Fault::FileVariant { step: s, .. } if *s == step.name))
                    {
                        let fault = Fault::FileVariant {
                            step: step.name.clone(),
                            movements: step.movements.clone(),
                            glossary: built_in.movements.clone(),
                        };
                        self.find(line, item.body_place, fault);
                    }
                    let step = self.variant(line, item, step);
                    if step.moves.is_empty() && item.stated.is_none() {
                        self.usual_length(line, item, &step);
                    }
                    self.times(line, item, step)
                }
                None => return false,
            },
            Body::Unknown => match self.unknown(line, item) {
                Some(steps) => steps,
                None => return false,
            },
        };
        self.push(line, item, steps, here)
    }

    /// Counts stated behind several steps are those of all of them.
    pub(super) fn stated_of_all(&mut self, line: &Line<'_>, item: &Item, steps: &[StepUse]) {
        let counts = steps.iter().fold(0u32, |sum, s| sum.saturating_add(s.counts));
        if let Some((stated, place)) = item.stated
            && stated != counts
        {
            self.find(line, place, Fault::LineCounts { stated, steps: counts });
        }
    }

    /// Adds steps to the line and turns the dancer.
    pub(super) fn push(
        &mut self,
        line: &Line<'_>,
        item: &Item,
        mut steps: Vec<StepUse>,
        here: &mut StepLine,
    ) -> bool {
        if self.made + steps.len() > self.room {
            self.find(line, item.place, Fault::TooMany { most: self.room as u32 });
            self.out.complete = false;
            self.out.only_unknown = false;
            return false;
        }
        let number = steps.len();
        self.made += number;
        self.out.feet_unknown |= steps.iter().any(|s| !s.feet_known());
        for (i, step) in steps.iter_mut().enumerate() {
            if item.turn_each || i + 1 == number {
                step.add_eighths(item.turn);
            }
            step.add_eighths(std::mem::take(&mut self.turn_waiting));
            self.waiting = None;
            if let Some((wall, side)) = item.turn_to.filter(|_| i + 1 == number) {
                step.add_eighths(eighths_to(self.turned, wall, side));
            }
            self.free = step.free_foot_after(self.free);
            self.turned = self.turned.saturating_add(step.eighths());
        }
        here.steps.append(&mut steps);
        self.last_times = number;
        number > 0
    }

    /// The step as often as the line says, its stated counts checked.
    pub(super) fn times(&mut self, line: &Line<'_>, item: &Item, step: StepUse) -> Vec<StepUse> {
        let step = self.placed_by_counts(item, step);
        let mut times = item.times;
        let mut stated = item.stated;
        // `Slur vine left & right`: once on either foot.
        let feet = item.leads.len() as u32;
        let either = feet >= 2 && times == 1 && item.bare.is_none();
        if either && stated.is_none_or(|(n, _)| n == step.counts.saturating_mul(feet)) {
            times = feet;
        }
        // `8 counts of Basics`, `Basics (8)`: as often as the counts take.
        let several = item.stated_in_front
            || item.bare.is_none() && times == 1 && !item.stated_each && self.is_plural(line, item);
        if let (true, Some((n, _))) = (several, stated)
            && n.checked_rem(step.counts) == Some(0)
        {
            times = n / step.counts;
        }
        if let Some(n) = item.bare {
            self.out.has_bare_numbers = true;
            if self.reading.numbers_are_counts && step.counts > 0 && stated.is_none() {
                let whole = n % step.counts == 0;
                times = if whole { n / step.counts } else { 1 };
                stated = stated.or(Some((n, item.place)));
            }
        }
        if times == 0 {
            self.find(line, item.place, Fault::NoTimes);
        }
        // Where the movements are not known the sheet's counts stand.
        if let Some((counts, _)) = stated.filter(|_| step.moves.is_empty())
            && counts != step.counts.saturating_mul(times)
        {
            return shared_out(&step.name, counts, times, item.stated_each);
        }
        if let Some((counts, place)) = stated {
            let steps =
                if item.stated_each { step.counts } else { step.counts.saturating_mul(times) };
            let each = item.stated_before_times && counts == step.counts;
            if counts != steps && !each {
                let fault = Fault::LineCounts { stated: counts, steps };
                let own = self.dances_otherwise(line, item, &step, (counts, times));
                let Some(own) = own else {
                    self.find(line, place, fault);
                    return vec![step; times.min(MOST_TIMES) as usize];
                };
                // The sheet knows its own step; what is common practice elsewhere may not be here.
                self.find(line, place, Fault::Unsure(Box::new(fault)));
                return shared_out(&step.name, own, times, true);
            }
        }
        vec![step; times.min(MOST_TIMES) as usize]
    }

    /// Movements written out that fall otherwise than they usually do, by the counts stated for them: one to a count where
    /// there are as many, `H T H T (4)`; in a waltz the last is held to the end of its bar, `Step (3)`.
    fn placed_by_counts(&self, item: &Item, mut step: StepUse) -> StepUse {
        let times = item.times.max(1);
        let each = item.stated.map(|(n, _)| if item.stated_each { n } else { n / times });
        let Some(counts) = each.filter(|n| *n > step.counts) else { return step };
        let single = |m: &MovementUse| !m.joined && m.movement.timing.sounds().len() == 1;
        let written = item.body == Body::Moves;
        let one_to_a_count = step.moves.len() == counts as usize;
        let bars = self.book.in_three && counts.is_multiple_of(BAR_IN_THREE);
        if one_to_a_count && (written && step.moves.iter().all(single) || bars) {
            for (moved, count) in step.moves.iter_mut().zip(1..) {
                moved.sounds = vec![count * QUARTERS_PER_COUNT];
            }
        } else if !(bars && (written || step.counts == 1)) {
            return step;
        }
        step.counts = counts;
        step
    }

    /// The counts of one time of the only step of a line, of common practice or under a name in short, where those stated
    /// make of it a figure of another usual length.
    fn dances_otherwise(
        &self,
        line: &Line<'_>,
        item: &Item,
        step: &StepUse,
        (stated, times): (u32, u32),
    ) -> Option<u32> {
        const USUAL: [u32; 3] = [4, 8, 16];
        let each = stated.checked_div(times).filter(|each| each * times == stated)?;
        let typed = line.text.get(item.body_place.0..item.body_place.1).unwrap_or("");
        // `Stumble (4)` is another than the `Stumble step`, which is published with eight.
        let in_short = each < step.counts && name_key(typed) != name_key(&step.name);
        let open = is_common_practice(step) || in_short;
        (self.alone && open && step.counts > 2 && USUAL.contains(&each)).then_some(each)
    }

    /// Whether a step's name is typed as more than one: `Basics`.
    fn is_plural(&self, line: &Line<'_>, item: &Item) -> bool {
        let typed = line.text.get(item.body_place.0..item.body_place.1).unwrap_or("");
        is_several(typed, self.book)
    }

    /// The step of a name; the one that stands in brackets behind it where only that takes the counts stated.
    fn step_of(&self, key: &str, item: &Item) -> Option<StepUse> {
        let step = self.book.find(key)?;
        let fits = |step: &StepUse| {
            item.stated.is_none_or(|(n, _)| n == step.counts.saturating_mul(item.times))
        };
        let also = item.also.as_ref().and_then(|key| self.book.find(key));
        Some(also.filter(|also| !fits(step) && fits(also)).unwrap_or(step).clone())
    }
}

/// `…, eight beats`: counts and nothing else.
fn says_only_counts(item: &Item) -> bool {
    item.body == Body::Nothing
        && item.stated.is_some()
        && item.turn == 0
        && item.wall.is_none()
        && item.turn_to.is_none()
}

/// A step of which only counts are known, as often as it is danced: the counts are those of one time, or of all.
pub(super) fn shared_out(name: &str, counts: u32, times: u32, of_each: bool) -> Vec<StepUse> {
    let times = times.clamp(1, MOST_TIMES);
    let each = if of_each { counts } else { counts / times };
    let step = StepUse { name: name.to_string(), counts: each, ..StepUse::default() };
    let mut steps = vec![step; times as usize];
    if !of_each && let Some(last) = steps.last_mut() {
        last.counts += counts % times;
    }
    steps
}
