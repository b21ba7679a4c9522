//! The routine: a cue sheet that the tool can read.

mod model;

pub use model::{Effect, OrderItem, Part, PartKind, Routine, StepLine, StepUse};
