//! A part built from its lines: steps, and what the sheet claims about feet, timing, counts and walls.

use crate::units::{Foot, Wall};

use super::book::Book;
use super::finding::{Fault, Finding};
use super::glossary;
use super::model::{StepLine, StepUse};
use super::movement::{MovementUse, Source, Weight};
use super::notation::{TimingCheck, check_timing, timing_line};
use super::step_line::{Body, Item, MOST_PAUSE, Parsed, Place};
use super::words::Line;

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
}

/// What the sheet says about feet, to be held against what the movements give.
#[derive(Debug, Clone, PartialEq)]
pub struct FootClaim {
    /// Line, column and words of it.
    pub line: usize,
    /// Column, 1-based.
    pub column: usize,
    /// As typed.
    pub words: String,
    /// Each foot typed, with the foot that the movements give when the part starts with the left foot
    /// free, the movement, and how it moves the weight.
    pub feet: Vec<ClaimedFoot>,
    /// Whether it is said of a start only, not of each movement.
    pub lead: bool,
    /// What the movements give as a feet line, starting left and starting right.
    pub lines: [String; 2],
}

/// One foot of a claim.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedFoot {
    /// The foot typed.
    pub typed: Foot,
    /// What the movements give when the part starts with the left foot free.
    pub from_left: Foot,
    /// The movement, as written.
    pub movement: String,
    /// Whether a foot that holds the weight cannot do it.
    pub needs_free_foot: bool,
}

impl FootClaim {
    /// How many of its feet are wrong when the part starts with `lead` free.
    pub fn wrong(&self, lead: Foot) -> usize {
        self.feet.iter().filter(|f| f.typed != from_lead(f.from_left, lead)).count()
    }
}

/// Turns a foot reckoned from the left into that of a part that starts on `lead`.
pub fn from_lead(from_left: Foot, lead: Foot) -> Foot {
    match lead {
        Foot::Left => from_left,
        Foot::Right => from_left.other(),
    }
}

/// A wall that the sheet says is faced, with the quarter turns from the part's start to there.
#[derive(Debug, Clone, PartialEq)]
pub struct WallClaim {
    /// Line, 1-based.
    pub line: usize,
    /// Column, 1-based.
    pub column: usize,
    /// As typed.
    pub words: String,
    /// The wall stated.
    pub wall: Wall,
    /// Quarter turns from the start of the part.
    pub turn: i32,
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
    /// Whether every step's counts are known.
    pub complete: bool,
    /// Whether a number in front could be counts.
    pub has_bare_numbers: bool,
    /// Whether a `repeat` could mean all.
    pub has_open_repeat: bool,
    /// Notes that stand on lines without steps.
    pub notes: Vec<String>,
}

impl Built {
    /// Sum of its steps.
    pub fn counts(&self) -> u32 {
        self.lines.iter().fold(0, |sum, l| sum.saturating_add(l.counts()))
    }
}

/// Finds a part's steps by its name, for `same as Part A`.
pub type SameAs<'f> = &'f dyn Fn(&str) -> Option<Vec<StepUse>>;

/// Builds a part from its lines. At most `room` steps are made.
pub fn build(
    pieces: &[Piece<'_>],
    reading: Reading,
    book: &Book,
    same_as: SameAs<'_>,
    room: usize,
) -> Built {
    let mut builder = Builder {
        out: Built { complete: true, ..Built::default() },
        reading,
        book,
        same_as,
        room: room.min(MOST_STEPS),
        made: 0,
        free: Foot::Left,
        turned: 0,
        last: None,
        turn_waiting: 0,
    };
    for piece in pieces {
        match piece {
            Piece::Steps(line, parsed) => builder.steps(line, parsed),
            Piece::Breakdown(line, parsed) => builder.breakdown(line, parsed),
            Piece::Feet(line, feet) => builder.feet(line, feet),
            Piece::Timing(line, timing) => builder.timing(line, timing),
        }
    }
    builder.out
}

/// The steps that feet and timing lines are held against.
#[derive(Clone)]
struct Last {
    /// The foot free before the line, when the part starts left.
    free: Foot,
    /// Steps of the line.
    steps: Vec<StepUse>,
    /// One time of the last item.
    once: Option<(Foot, StepUse)>,
    /// Whether a timing line may place its movements.
    may_place: bool,
}

struct Builder<'b> {
    out: Built,
    reading: Reading,
    book: &'b Book,
    same_as: SameAs<'b>,
    room: usize,
    /// Steps made so far.
    made: usize,
    /// The foot that is free here, when the part starts with the left foot free.
    free: Foot,
    /// Quarter turns since the part's start.
    turned: i32,
    last: Option<Last>,
    /// A turn that stands before the first step.
    turn_waiting: i32,
}

impl Builder<'_> {
    fn find(&mut self, line: &Line<'_>, place: Place, fault: Fault) {
        self.out.findings.push(finding(line, place, fault));
    }

    fn steps(&mut self, line: &Line<'_>, parsed: &Parsed) {
        for (fault, place) in &parsed.faults {
            self.find(line, *place, fault.clone());
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
        for item in &parsed.items {
            notes.extend(item.notes.iter().cloned());
            let first = here.steps.len();
            let free_at_item = self.free;
            let danced = self.item(line, item, &mut here);
            if danced {
                once = here.steps.get(first).map(|s| (free_at_item, s.clone()));
                may_place = item.body == Body::Moves && parsed.items.len() == 1;
            }
            self.item_claims(line, item, free_at_item, &here.steps[first..]);
        }
        self.counts_of_the_line(line, parsed, &here);
        if here.steps.is_empty() {
            self.out.notes.extend(notes);
            return;
        }
        here.note = (!notes.is_empty()).then(|| notes.join("; "));
        self.last = Some(Last { free: free_before, steps: here.steps.clone(), once, may_place });
        self.out.lines.push(here);
    }

    /// Counts at the end of a line of several steps are those of the last, or of the whole line.
    fn counts_of_the_line(&mut self, line: &Line<'_>, parsed: &Parsed, here: &StepLine) {
        let [_, .., last] = &parsed.items[..] else { return };
        let Some((stated, place)) = last.stated else { return };
        let column = line.column(place.0);
        if stated != here.counts() {
            return;
        }
        let same_place = |f: &Finding| {
            f.line == line.number
                && f.column == column
                && matches!(f.fault, Fault::LineCounts { .. })
        };
        let of_line = self.out.findings.iter().rev().take_while(|f| f.line == line.number);
        if let Some(back) = of_line.clone().position(same_place) {
            let index = self.out.findings.len() - 1 - back;
            self.out.findings.remove(index);
        }
    }

    /// Dances an item on the line. False when it adds no step.
    fn item(&mut self, line: &Line<'_>, item: &Item, here: &mut StepLine) -> bool {
        let steps: Vec<StepUse> = match &item.body {
            Body::Nothing => {
                self.turn_alone(item.turn, here);
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
            Body::SameAs(name) => match (self.same_as)(name) {
                Some(steps) => {
                    if let Some(note) = item.notes.first() {
                        let _ = note;
                        self.find(line, item.place, Fault::UnknownLine { nearest: None });
                    }
                    steps
                }
                None => {
                    self.find(line, item.body_place, Fault::UnknownPart { nearest: None });
                    self.out.complete = false;
                    return false;
                }
            },
            Body::Moves => match &item.moves {
                Some(step) => self.times(line, item, step.clone()),
                None => return false,
            },
            Body::Known(key) => match self.book.find(key).cloned() {
                Some(step) => {
                    let step = self.variant(line, item, step);
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

    /// Adds steps to the line and turns the dancer.
    fn push(
        &mut self,
        line: &Line<'_>,
        item: &Item,
        mut steps: Vec<StepUse>,
        here: &mut StepLine,
    ) -> bool {
        if self.made + steps.len() > self.room {
            self.find(line, item.place, Fault::TooMany { most: self.room as u32 });
            self.out.complete = false;
            return false;
        }
        let number = steps.len();
        self.made += number;
        for (i, step) in steps.iter_mut().enumerate() {
            if item.turn_each || i + 1 == number {
                step.turn += item.turn;
            }
            step.turn += std::mem::take(&mut self.turn_waiting);
            self.free = step.free_foot_after(self.free);
            self.turned = self.turned.saturating_add(step.turn);
        }
        here.steps.append(&mut steps);
        number > 0
    }

    fn turn_alone(&mut self, turn: i32, here: &mut StepLine) {
        let last = match here.steps.last_mut() {
            Some(step) => Some(step),
            None => self.out.lines.last_mut().and_then(|l| l.steps.last_mut()),
        };
        match last {
            Some(step) => {
                step.turn += turn;
                self.turned += turn;
            }
            None => self.turn_waiting += turn,
        }
    }

    /// The step as often as the line says, its stated counts checked.
    fn times(&mut self, line: &Line<'_>, item: &Item, step: StepUse) -> Vec<StepUse> {
        let mut times = item.times;
        let mut stated = item.stated;
        if let Some(n) = item.bare {
            self.out.has_bare_numbers = true;
            if self.reading.numbers_are_counts && step.counts > 0 {
                let whole = n % step.counts == 0;
                times = if whole { n / step.counts } else { 1 };
                stated = stated.or(Some((n, item.place)));
            }
        }
        if let Some((counts, place)) = stated {
            let steps =
                if item.stated_each { step.counts } else { step.counts.saturating_mul(times) };
            if counts != steps {
                self.find(line, place, Fault::LineCounts { stated: counts, steps });
            }
        }
        vec![step; times as usize]
    }

    /// A known step with movements behind it on the sheet: the sheet's are used.
    fn variant(&mut self, line: &Line<'_>, item: &Item, step: StepUse) -> StepUse {
        let Some(own) = &item.moves else { return step };
        let place = item.body_place;
        self.compare_variant(line, place, &step, own)
    }

    fn compare_variant(
        &mut self,
        line: &Line<'_>,
        place: Place,
        step: &StepUse,
        own: &StepUse,
    ) -> StepUse {
        let codes = |s: &StepUse| -> Vec<&str> { plain_codes(&s.moves) };
        let own = StepUse { name: step.name.clone(), ..own.clone() };
        if codes(&own) == codes(step) {
            return own;
        }
        let settled = glossary::find(&step.name).is_some_and(|(s, _)| {
            matches!(s.source, Source::Published(page) if page.starts_with("Clogging 101"))
        });
        if own.counts != step.counts && settled {
            self.find(line, place, Fault::StepCounts { stated: step.counts, steps: own.counts });
        } else {
            self.find(
                line,
                place,
                Fault::Variant { step: step.name.clone(), glossary: step.movements.clone() },
            );
        }
        own
    }

    fn unknown(&mut self, line: &Line<'_>, item: &Item) -> Option<Vec<StepUse>> {
        let words = line.typed_between(item.body_place.0, item.body_place.1);
        if let Some(step) = &item.moves {
            // Its movements stand behind it, so it needs no glossary.
            let step = StepUse { name: words, ..step.clone() };
            return Some(self.times(line, item, step));
        }
        let nearest = self.book.nearest(&words);
        if nearest.is_none()
            && let Some((counts, _)) = item.stated
        {
            self.find(line, item.body_place, Fault::FeetUnknown { counts });
            let times = item.times.max(1);
            let each = if item.stated_each { counts } else { counts / times };
            let mut steps =
                vec![StepUse { name: words, counts: each, ..StepUse::default() }; times as usize];
            if !item.stated_each
                && let Some(last) = steps.last_mut()
            {
                last.counts += counts % times;
            }
            return Some(steps);
        }
        let likely = nearest.as_ref().and_then(|n| self.book.find(&glossary::name_key(n)).cloned());
        self.find(line, item.body_place, Fault::UnknownStep { nearest });
        match likely {
            // Reading goes on with the likeliest step, so that one slip is told once.
            Some(step) => Some(self.times(line, item, step)),
            None => {
                self.out.complete = false;
                None
            }
        }
    }

    fn repeat(&mut self, line: &Line<'_>, item: &Item, all: bool, here: &mut StepLine) -> bool {
        if !all && here.steps.is_empty() {
            self.out.has_open_repeat = true;
        }
        let all = all || self.reading.repeat_all;
        let mut steps: Vec<StepUse> = Vec::new();
        if all {
            steps.extend(self.out.lines.iter().flat_map(|l| l.steps.iter().cloned()));
            steps.extend(here.steps.iter().cloned());
        } else if here.steps.is_empty() {
            steps.extend(self.out.lines.iter().rev().take(1).flat_map(|l| l.steps.iter().cloned()));
        } else {
            steps.extend(here.steps.iter().cloned());
        }
        if steps.is_empty() {
            self.find(line, item.place, Fault::NothingToRepeat);
            return false;
        }
        if let Some(place) = item.other_foot {
            let swaps = steps.iter().filter(|s| s.swaps_free_foot).count() % 2 == 1;
            if !swaps {
                self.find(line, place, Fault::SameFootFree { free: self.free });
            }
        }
        let once = steps.clone();
        // `repeat x3` dances it three times more.
        for _ in 1..item.times.clamp(1, 50) {
            if steps.len() + once.len() > self.room {
                break;
            }
            steps.extend(once.iter().cloned());
        }
        if let Some((stated, place)) = item.stated {
            let counts = steps.iter().fold(0u32, |sum, s| sum.saturating_add(s.counts));
            if stated != counts {
                self.find(line, place, Fault::LineCounts { stated, steps: counts });
            }
        }
        let plain = Item { turn_each: false, ..item.clone() };
        self.push(line, &plain, steps, here)
    }

    /// What an item says of its foot and wall.
    fn item_claims(&mut self, line: &Line<'_>, item: &Item, free: Foot, steps: &[StepUse]) {
        if !steps.is_empty() {
            let mut free = free;
            // Two feet for two times; one foot for the start alone.
            let mut starts = Vec::new();
            for step in steps {
                starts.push(free);
                free = step.free_foot_after(free);
            }
            for (i, (foot, place)) in item.leads.iter().enumerate() {
                let Some(start) = starts.get(i) else { break };
                self.out.feet.push(FootClaim {
                    line: line.number,
                    column: line.column(place.0),
                    words: line.typed_between(place.0, place.1),
                    feet: vec![ClaimedFoot {
                        typed: *foot,
                        from_left: *start,
                        movement: String::new(),
                        needs_free_foot: true,
                    }],
                    lead: true,
                    lines: [String::new(), String::new()],
                });
            }
        }
        if let Some((wall, place)) = item.wall {
            self.out.walls.push(WallClaim {
                line: line.number,
                column: line.column(place.0),
                words: line.typed_between(place.0, place.1),
                wall,
                turn: self.turned + self.turn_waiting,
            });
        }
    }

    /// Movements under a step's name: they say what the step is, and are not danced once more.
    fn breakdown(&mut self, line: &Line<'_>, parsed: &Parsed) {
        for (fault, place) in &parsed.faults {
            self.find(line, *place, fault.clone());
        }
        let Some(item) = parsed.items.first() else { return };
        let (Some(own), Some(last)) = (&item.moves, self.last.clone()) else { return };
        let Some((free, step)) = last.once else { return };
        let own = StepUse { turn: step.turn, ..self.compare_variant(line, item.place, &step, own) };
        // The line's steps take the sheet's movements.
        if let Some(above) = self.out.lines.last_mut() {
            for danced in above.steps.iter_mut().filter(|s| s.name == step.name) {
                *danced = StepUse { turn: danced.turn, ..own.clone() };
            }
            self.free = above.free_foot_after(last.free);
            self.last = Some(Last {
                steps: above.steps.clone(),
                once: Some((free, own)),
                free: last.free,
                may_place: false,
            });
        }
    }

    fn feet(&mut self, line: &Line<'_>, typed: &[Foot]) {
        let whole = (line.indent(), line.text.trim_end().len());
        let Some(last) = self.last.clone() else {
            self.find(line, whole, Fault::NothingAbove { what: "feet" });
            return;
        };
        let all = feet_of(&last.steps, last.free);
        let once = last.once.as_ref().map(|(free, step)| {
            (feet_of(std::slice::from_ref(step), *free), *free, vec![step.clone()])
        });
        let (expected, free, steps) = if typed.len() == all.len() {
            (all, last.free, last.steps)
        } else {
            match once {
                Some((feet, free, steps)) if typed.len() == feet.len() => (feet, free, steps),
                _ => {
                    if !all.is_empty() {
                        let moves = match &once {
                            Some((feet, ..))
                                if feet.len().abs_diff(typed.len())
                                    < all.len().abs_diff(typed.len()) =>
                            {
                                feet.len()
                            }
                            _ => all.len(),
                        };
                        self.find(line, whole, Fault::FeetNumber { typed: typed.len(), moves });
                    }
                    return;
                }
            }
        };
        let written = |lead: Foot| {
            let mut free = from_lead(free, lead);
            let mut words = Vec::new();
            for step in &steps {
                words.push(step.feet_line(free));
                free = step.free_foot_after(free);
            }
            words.join("  ")
        };
        self.out.feet.push(FootClaim {
            line: line.number,
            column: line.column(whole.0),
            words: line.typed_between(whole.0, whole.1),
            feet: typed
                .iter()
                .zip(expected)
                .map(|(typed, (from_left, movement, needs_free_foot))| ClaimedFoot {
                    typed: *typed,
                    from_left,
                    movement,
                    needs_free_foot,
                })
                .collect(),
            lead: false,
            lines: [written(Foot::Left), written(Foot::Right)],
        });
    }

    fn timing(&mut self, line: &Line<'_>, words: &[Vec<char>]) {
        let whole = (line.indent(), line.text.trim_end().len());
        let Some(last) = self.last.clone() else {
            self.find(line, whole, Fault::NothingAbove { what: "timing" });
            return;
        };
        let all = moves_in_a_row(&last.steps);
        let once = last.once.as_ref().map(|(_, step)| step.moves.clone()).unwrap_or_default();
        if all.is_empty() {
            return;
        }
        let whole_line = check_timing(&all, words);
        let one = check_timing(&once, words);
        if whole_line == TimingCheck::Same || one == TimingCheck::Same {
            return;
        }
        match (one, last.may_place) {
            (TimingCheck::Placed(places, counts), true) => {
                if let Some(above) = self.out.lines.last_mut() {
                    for step in &mut above.steps {
                        for (m, places) in step.moves.iter_mut().zip(&places) {
                            m.sounds.clone_from(places);
                        }
                        step.counts = counts;
                    }
                }
            }
            (TimingCheck::Order(mark), _) => self.find(line, whole, Fault::TimingOrder { mark }),
            (_, _) => {
                let shown = if words.len() > once.len() { &all } else { &once };
                self.find(line, whole, Fault::TimingDiffers { computed: timing_line(shown) });
            }
        }
    }
}

/// A finding at a place of a line.
pub fn finding(line: &Line<'_>, place: Place, fault: Fault) -> Finding {
    Finding {
        line: line.number,
        column: line.column(place.0),
        words: line.typed_between(place.0, place.1),
        fault,
    }
}

/// Codes of movements, with what only adds a sound of the standing foot left out: `BR SL` is `BR`.
fn plain_codes(moves: &[MovementUse]) -> Vec<&'static str> {
    moves.iter().filter(|m| !m.movement.completes).map(|m| m.movement.code).collect()
}

/// Each foot that sounds, with its movement and whether only the free foot can do it.
fn feet_of(steps: &[StepUse], free: Foot) -> Vec<(Foot, String, bool)> {
    let mut free = free;
    let mut out = Vec::new();
    for m in steps.iter().flat_map(|s| &s.moves) {
        let needs_free = !matches!(m.movement.weight, Weight::Held | Weight::None);
        out.extend(
            m.feet(free).into_iter().map(|foot| (foot, m.movement.code.to_string(), needs_free)),
        );
        free = m.free_after(free);
    }
    out
}

/// The movements of steps danced one after another, with their places in the whole.
fn moves_in_a_row(steps: &[StepUse]) -> Vec<MovementUse> {
    let mut out = Vec::new();
    let mut before = 0;
    for step in steps {
        out.extend(step.moves.iter().cloned().map(|mut m| {
            for sound in &mut m.sounds {
                *sound += before * super::movement::QUARTERS_PER_COUNT;
            }
            m
        }));
        before = u32::saturating_add(before, step.counts).min(1 << 20);
    }
    out
}
