//! Whether two routines are the same dance.

use crate::routine::{Routine, StepUse};
use crate::units::Foot;

/// Whether two routines say the same dance: parts, steps, counts, feet, turns, wait and order. Words, line
/// breaks and notes may differ.
pub fn same_dance(a: &Routine, b: &Routine) -> bool {
    let start = |r: &Routine| r.starts_on.unwrap_or(Foot::Left);
    let order = |r: &Routine| -> Vec<usize> { r.order.iter().map(|o| o.part).collect() };
    a.parts.len() == b.parts.len()
        && a.wait == b.wait
        && start(a) == start(b)
        && a.walk() == b.walk()
        && order(a) == order(b)
        && a.parts.iter().zip(&b.parts).all(|(a, b)| {
            a.name == b.name && a.kind == b.kind && a.counts() == b.counts() && {
                let (mut a, mut b) = (a.steps(), b.steps());
                loop {
                    match (a.next(), b.next()) {
                        (None, None) => break true,
                        (Some(a), Some(b)) if same_step(a, b) => {}
                        _ => break false,
                    }
                }
            }
        })
}

/// Whether two steps are danced alike; what they are called does not matter.
pub(super) fn same_step(a: &StepUse, b: &StepUse) -> bool {
    let (named, other) = (StepUse { name: String::new(), ..a.clone() }, b);
    named == StepUse { name: String::new(), ..other.clone() }
}
