//! A routine as understood: parts, steps, feet, walls, order.

use crate::units::{Foot, Wall};

use super::movement::{MovementUse, Weight};
use super::timing_lines::timing_line;

/// A routine.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Routine {
    /// Title.
    pub title: String,
    /// The music it is set to, as typed.
    pub music: Option<String>,
    /// Who set it.
    pub choreographer: Option<String>,
    /// Level, as typed.
    pub level: Option<String>,
    /// Counts to wait before the first step, when stated.
    pub wait: Option<u32>,
    /// The foot that starts, left unless the sheet says otherwise.
    pub starts_on: Option<Foot>,
    /// Notes, in order.
    pub notes: Vec<String>,
    /// Parts in the order in which they are written.
    pub parts: Vec<Part>,
    /// The order in which the parts are danced.
    pub order: Vec<OrderItem>,
}

/// A part once in the order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OrderItem {
    /// Index into [`Routine::parts`].
    pub part: usize,
    /// 1 for the first time this part is danced, 2 for the second, …
    pub time_round: u32,
    /// Line of the sheet that names it, 1-based.
    pub line: usize,
}

/// What sort of part it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PartKind {
    /// A part with a place in the song: Part A, Chorus, …
    #[default]
    Part,
    /// A fill: bridges a gap, has no phrase of its own.
    Fill,
    /// A break.
    Break,
    /// The bridge.
    Bridge,
    /// The introduction, danced.
    Intro,
    /// The ending.
    Ending,
    /// A tag after the last part.
    Tag,
}

/// A section of the routine with its steps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Part {
    /// As typed: `Part A`, `Chorus`, `Fill`.
    pub name: String,
    /// Sort of part, from its name.
    pub kind: PartKind,
    /// Counts stated on its heading.
    pub stated_counts: Option<u32>,
    /// Its steps.
    pub lines: Vec<StepLine>,
    /// Line of its heading, 1-based.
    pub line: usize,
}

/// One line of steps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StepLine {
    /// The steps on it, in order.
    pub steps: Vec<StepUse>,
    /// The line as typed, trimmed.
    pub text: String,
    /// A call or note behind the steps.
    pub note: Option<String>,
    /// Line of the sheet, 1-based.
    pub line: usize,
}

impl StepLine {
    /// Counts of its steps.
    pub fn counts(&self) -> u32 {
        self.steps.iter().fold(0, |sum, s| sum.saturating_add(s.counts))
    }

    /// Its movements, step by step, as a cue sheet writes them.
    pub fn movement_line(&self) -> String {
        let written: Vec<&str> = self.steps.iter().map(|s| s.movements.as_str()).collect();
        written.join("  ").trim().to_string()
    }

    /// Its feet as a cue sheet writes them, starting with `free` free.
    pub fn feet_line(&self, free: Foot) -> String {
        let mut free = free;
        let mut words = Vec::with_capacity(self.steps.len());
        for step in &self.steps {
            words.push(step.feet_line(free));
            free = step.free_foot_after(free);
        }
        words.join("  ").trim().to_string()
    }

    /// The foot that is free after starting with `free` free.
    pub fn free_foot_after(&self, free: Foot) -> Foot {
        self.steps.iter().fold(free, |free, step| step.free_foot_after(free))
    }
}

/// A step as used in a part, once for each time danced.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StepUse {
    /// Name of the step, as the glossary writes it.
    pub name: String,
    /// Length in counts.
    pub counts: u32,
    /// Movements in short notation, `DS DS RS`.
    pub movements: String,
    /// The foot of each weight change or sounding movement, danced with the left foot free.
    pub feet: Vec<Foot>,
    /// Whether the other foot is free afterwards.
    pub swaps_free_foot: bool,
    /// Whole quarter turns; to the right is positive.
    pub turn: i32,
    /// The eighth of a turn that is left over, with the sign of its side: -1, 0 or 1.
    pub eighth: i32,
    /// The movements with their sounds; empty for a step whose movements are not known, and for a pause.
    pub moves: Vec<MovementUse>,
}

impl StepUse {
    /// A step from its movements, laid on so many counts.
    pub fn from_moves(name: &str, moves: Vec<MovementUse>, counts: u32) -> StepUse {
        let mut free = Foot::Left;
        let mut feet = Vec::new();
        let mut written = Vec::with_capacity(moves.len());
        for m in &moves {
            feet.extend(m.feet(free));
            free = m.free_after(free);
            match written.last_mut() {
                Some(last) if m.joined => *last = format!("{last}/{}", m.written()),
                _ => written.push(m.written()),
            }
        }
        StepUse {
            name: name.to_string(),
            counts,
            movements: written.join(" "),
            feet,
            swaps_free_foot: free != Foot::Left,
            turn: 0,
            eighth: 0,
            moves,
        }
    }

    /// Its turn in eighths; to the right is positive.
    pub fn eighths(&self) -> i32 {
        self.turn.saturating_mul(2).saturating_add(self.eighth)
    }

    /// Turns it by so many eighths more.
    pub fn add_eighths(&mut self, eighths: i32) {
        let sum = self.eighths().saturating_add(eighths);
        (self.turn, self.eighth) = (sum / 2, sum % 2);
    }

    /// Its turn as a cue sheet writes it, `1/4 L`, `3/8 R`, `full L`; `None` where it turns nowhere.
    pub fn turn_words(&self) -> Option<String> {
        let eighths = self.eighths();
        let side = if eighths < 0 { "L" } else { "R" };
        Some(match eighths.unsigned_abs() {
            0 => return None,
            4 => format!("1/2 {side}"),
            8 => format!("full {side}"),
            n if n % 2 == 0 => format!("{}/4 {side}", n / 2),
            n => format!("{n}/8 {side}"),
        })
    }

    /// A pause of so many counts.
    pub fn pause(counts: u32) -> StepUse {
        StepUse { name: "Pause".into(), counts, ..StepUse::default() }
    }

    /// Whether nobody moves.
    pub fn is_pause(&self) -> bool {
        self.moves.is_empty() && self.name == "Pause"
    }

    /// Whether its feet are known. A step that is neither in the glossary nor told has counts alone.
    pub fn feet_known(&self) -> bool {
        !self.moves.is_empty() || self.is_pause()
    }

    /// The foot that is free after starting with `free` free.
    pub fn free_foot_after(&self, free: Foot) -> Foot {
        if self.swaps_free_foot { free.other() } else { free }
    }

    /// The feet as a cue sheet writes them under the movements, starting with `free` free: `L R RL`.
    pub fn feet_line(&self, free: Foot) -> String {
        let mut free = free;
        let mut words: Vec<String> = Vec::new();
        for m in &self.moves {
            let feet: String = m.feet(free).into_iter().map(Foot::letter).collect();
            free = m.free_after(free);
            match words.last_mut() {
                Some(last) if m.joined => *last = format!("{last}/{feet}"),
                _ if feet.is_empty() => {}
                _ => words.push(feet),
            }
        }
        words.join(" ")
    }

    /// When its movements sound, as a cue sheet writes it: `&a1 &a2 &3`.
    pub fn timing_line(&self) -> String {
        timing_line(&self.moves)
    }

    /// How often the weight goes from one foot to the other.
    pub fn weight_changes(&self) -> u32 {
        self.moves
            .iter()
            .map(|m| match m.movement.weight {
                Weight::Onto => 1,
                Weight::Rock => 2,
                _ => 0,
            })
            .sum()
    }
}

/// A part once danced: where it comes in the dance and what it does to feet and wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Passage {
    /// Its place in the order, 0-based.
    pub order_index: usize,
    /// Index into [`Routine::parts`].
    pub part: usize,
    /// 1 for the first time this part is danced, 2 for the second, …
    pub time_round: u32,
    /// Counts danced before it; the wait is not among them.
    pub counts_before: u32,
    /// Its length in counts.
    pub counts: u32,
    /// The foot that is free at its start, on which it starts.
    pub lead_foot: Foot,
    /// The foot that is free when it is over.
    pub free_foot_after: Foot,
    /// The wall faced at its start.
    pub wall_before: Wall,
    /// The wall faced at its end.
    pub wall_after: Wall,
}

impl Routine {
    /// The part that begins on a line of the sheet.
    pub(super) fn part_begun_on(&self, line: usize) -> Option<&Part> {
        self.parts.iter().find(|part| part.line == line)
    }

    /// The dance from its first step to its last, each part of the order with its feet and walls. Starts
    /// on [`Routine::starts_on`], else on the left foot, facing the front.
    pub fn walk(&self) -> Vec<Passage> {
        let mut lead = self.starts_on.unwrap_or(Foot::Left);
        let mut wall = Wall::Front;
        let mut counts_before: u32 = 0;
        // Each part's effect is found once, however often it comes.
        let effects: Vec<Effect> = self.parts.iter().map(Part::effect).collect();
        let mut out = Vec::with_capacity(self.order.len());
        for (order_index, item) in self.order.iter().enumerate() {
            let Some(&effect) = effects.get(item.part) else { continue };
            let passage = Passage {
                order_index,
                part: item.part,
                time_round: item.time_round,
                counts_before,
                counts: effect.counts,
                lead_foot: lead,
                free_foot_after: effect.free_foot_after(lead),
                wall_before: wall,
                wall_after: effect.wall_after(wall),
            };
            lead = passage.free_foot_after;
            wall = passage.wall_after;
            counts_before = counts_before.saturating_add(effect.counts);
            out.push(passage);
        }
        out
    }

    /// Counts danced over the whole order; the wait is not among them.
    pub fn counts(&self) -> u32 {
        self.walk().last().map_or(0, |p| p.counts_before.saturating_add(p.counts))
    }
}

/// What dancing a part does to feet and walls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effect {
    /// Length in counts.
    pub counts: u32,
    /// Whether the other foot is free afterwards.
    pub swaps_free_foot: bool,
    /// Whole quarter turns; to the right is positive.
    pub turn: i32,
    /// The eighth of a turn that is left over: -1, 0 or 1.
    pub eighth: i32,
}

impl Effect {
    /// The foot that is free after starting with `free` free.
    pub fn free_foot_after(self, free: Foot) -> Foot {
        if self.swaps_free_foot { free.other() } else { free }
    }

    /// The wall faced after starting towards `wall`.
    pub fn wall_after(self, wall: Wall) -> Wall {
        wall.turned(self.turn).turned_eighths(self.eighth)
    }
}

impl Part {
    /// Counts of its steps; the stated counts for a part without step lines.
    pub fn counts(&self) -> u32 {
        if self.lines.is_empty() {
            return self.stated_counts.unwrap_or(0);
        }
        self.steps().fold(0, |sum, s| sum.saturating_add(s.counts))
    }

    /// For each of its lines: counts before it and counts in it.
    pub fn running_counts(&self) -> Vec<(u32, u32)> {
        let mut before: u32 = 0;
        self.lines
            .iter()
            .map(|line| {
                let counts = line.counts();
                let here = (before, counts);
                before = before.saturating_add(counts);
                here
            })
            .collect()
    }

    /// Its steps in order, over all lines.
    pub fn steps(&self) -> impl Iterator<Item = &StepUse> {
        self.lines.iter().flat_map(|l| &l.steps)
    }

    /// What dancing it does.
    pub fn effect(&self) -> Effect {
        let eighths = self.steps().fold(0i32, |sum, s| sum.saturating_add(s.eighths()));
        Effect {
            counts: self.counts(),
            swaps_free_foot: self.steps().filter(|s| s.swaps_free_foot).count() % 2 == 1,
            turn: eighths / 2,
            eighth: eighths % 2,
        }
    }
}
