//! The routine: a cue sheet that the tool can read.
//!
//! ```text
//! text ──lines──▶ what each line is ──parse──▶ Routine + findings ──proof──▶ more findings
//! ```
//!
//! ```
//! let sheet = "Title: Lantern Walk\nWait: 16\n\nPart A (8)\n2 Triple\n\nOrder: A A\n";
//! let (routine, findings) = hoofbeat::routine::parse(sheet);
//! assert!(findings.is_empty());
//! assert_eq!(routine.counts(), 16);
//! ```

mod beneath;
mod book;
mod build;
mod claims;
mod field;
mod finding;
pub mod glossary;
mod heading;
mod item;
mod lines;
mod model;
mod modifiers;
mod movement;
mod notation;
mod order;
mod own_steps;
mod parse;
mod phrases;
mod proof;
mod read;
mod step_line;
mod token;
mod top;
mod words;

pub use finding::{Fault, Finding, Severity};
pub use model::{Effect, OrderItem, Part, PartKind, Passage, Routine, StepLine, StepUse};
pub use movement::{
    MOVEMENTS, Movement, MovementUse, QUARTERS_PER_COUNT, Quarters, Source, Timing, Weight,
    find_movement, timing_mark,
};
pub use notation::{read_feet, read_movements, read_timing};
pub use order::OrderPlace;
pub use parse::{
    LineRole, WORKED_OUT, line_roles, lines_with_ends, order_places, parse, without_worked_out,
};
pub use read::{Read, decode, load, read};
