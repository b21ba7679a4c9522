//! What a sheet says about feet and walls, to be held against what its movements give.

use crate::units::{Foot, Wall};

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

/// A wall that the sheet says is faced, with the eighths of a turn from the part's start to there.
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
    /// Eighths of a turn from the start of the part.
    pub turn: i32,
}

/// A part said to start on the other foot than another part.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherFootClaim {
    /// Line, 1-based.
    pub line: usize,
    /// Column, 1-based.
    pub column: usize,
    /// As typed.
    pub words: String,
    /// The other part, an index into the routine's.
    pub part: usize,
    /// The foot free there when this part starts with the left foot free.
    pub from_left: Foot,
}
