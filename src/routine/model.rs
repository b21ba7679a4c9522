//! A routine as understood: parts, steps, feet, walls, order.

use crate::units::{Foot, Wall};

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
    /// Quarter turns; to the right is positive.
    pub turn: i32,
}

/// What dancing a part does to feet and walls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effect {
    /// Length in counts.
    pub counts: u32,
    /// Whether the other foot is free afterwards.
    pub swaps_free_foot: bool,
    /// Quarter turns; to the right is positive.
    pub turn: i32,
}

impl Effect {
    /// The foot that is free after starting with `free` free.
    pub fn free_foot_after(self, free: Foot) -> Foot {
        if self.swaps_free_foot { free.other() } else { free }
    }

    /// The wall faced after starting towards `wall`.
    pub fn wall_after(self, wall: Wall) -> Wall {
        wall.turned(self.turn)
    }
}

impl Part {
    /// Counts of its steps; the stated counts for a part without step lines.
    pub fn counts(&self) -> u32 {
        if self.lines.is_empty() {
            return self.stated_counts.unwrap_or(0);
        }
        self.steps().map(|s| s.counts).sum()
    }

    /// Its steps in order, over all lines.
    pub fn steps(&self) -> impl Iterator<Item = &StepUse> {
        self.lines.iter().flat_map(|l| &l.steps)
    }

    /// What dancing it does.
    pub fn effect(&self) -> Effect {
        Effect {
            counts: self.counts(),
            swaps_free_foot: self.steps().filter(|s| s.swaps_free_foot).count() % 2 == 1,
            turn: self.steps().map(|s| s.turn).sum(),
        }
    }
}
