//! Changes to a routine, as data, and making them.

use crate::routine::{OrderItem, Part, Routine, StepLine, StepUse};

/// One change to a routine. Places in the order are those before any change is made, 0-based.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// Wait so many counts.
    Wait(u32),
    /// Dance a new part before the item that stands at `before`; at the end when there is none.
    Insert {
        /// Place in the order.
        before: usize,
        /// The new part.
        part: Part,
    },
    /// Dance a part of the routine once more before the item that stands at `before`.
    Again {
        /// Place in the order.
        before: usize,
        /// Index into the routine's parts.
        part: usize,
    },
    /// Leave an item of the order out.
    LeaveOut {
        /// Place in the order.
        at: usize,
    },
    /// Dance this in the place of an item, this time only.
    Instead {
        /// Place in the order.
        at: usize,
        /// What is danced instead.
        part: Part,
    },
}

/// The routine with changes made to it. New parts get names of their own, and the order its times
/// round anew. Changes that name a part or place that is not there do nothing.
pub fn apply(routine: &Routine, edits: &[Edit]) -> Routine {
    let mut changed = routine.clone();
    let after = outcome(routine, edits);
    changed.wait = after.wait;
    for part in after.new_parts {
        add(&mut changed, part);
    }
    changed.order.clear();
    let mut times = vec![0; changed.parts.len()];
    for (part, line) in after.order {
        if let Some(times) = times.get_mut(part) {
            *times += 1;
            changed.order.push(OrderItem { part, time_round: *times, line });
        }
    }
    changed
}

/// What changes come to.
pub(super) struct Outcome<'e> {
    pub wait: Option<u32>,
    /// Parts that the routine does not have; they are counted on behind its own.
    pub new_parts: Vec<&'e Part>,
    /// The parts danced, each with the line of the sheet where its place in the order is.
    pub order: Vec<(usize, usize)>,
}

/// What changes to a routine come to, without a copy of it.
pub(super) fn outcome<'e>(routine: &Routine, edits: &'e [Edit]) -> Outcome<'e> {
    let mut wait = routine.wait;
    let mut new_parts: Vec<&Part> = Vec::new();
    let mut add = |part: &'e Part| {
        new_parts.push(part);
        routine.parts.len() + new_parts.len() - 1
    };
    let places = routine.order.len();
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); places + 1];
    let mut here: Vec<Option<usize>> = routine.order.iter().map(|o| Some(o.part)).collect();
    for edit in edits {
        match edit {
            Edit::Wait(counts) => wait = Some(*counts),
            Edit::Insert { before: at, part } => {
                let part = add(part);
                before[(*at).min(places)].push(part);
            }
            Edit::Again { before: at, part } if *part < routine.parts.len() => {
                before[(*at).min(places)].push(*part);
            }
            Edit::LeaveOut { at } if *at < places => here[*at] = None,
            Edit::Instead { at, part } if *at < places => {
                here[*at] = Some(add(part));
            }
            Edit::Again { .. } | Edit::LeaveOut { .. } | Edit::Instead { .. } => {}
        }
    }
    let mut order = Vec::with_capacity(places + edits.len());
    let mut line = routine.order.first().map_or(0, |o| o.line);
    for (at, before) in before.iter().enumerate() {
        line = routine.order.get(at).map_or(line, |item| item.line);
        let here = here.get(at).copied().flatten();
        order.extend(before.iter().copied().chain(here).map(|part| (part, line)));
    }
    Outcome { wait, new_parts, order }
}

/// Adds a part under a name not yet taken.
fn add(routine: &mut Routine, part: &Part) {
    let taken = |name: &str| routine.parts.iter().any(|p| p.name.eq_ignore_ascii_case(name));
    let mut part = part.clone();
    if taken(&part.name) {
        let numbered = (2..).map(|n| format!("{} {n}", part.name));
        part.name = numbered.into_iter().find(|name| !taken(name)).unwrap_or_default();
    }
    routine.parts.push(part);
}

/// A step line written from its steps: `2 Triple basic, Fancy double`.
pub(super) fn step_line(steps: &[StepUse]) -> StepLine {
    let text: Vec<String> = grouped(steps)
        .map(|(times, step)| match times {
            1 => step.name.clone(),
            n => format!("{n} {}", step.name),
        })
        .collect();
    StepLine { steps: steps.to_vec(), text: text.join(", "), note: None, line: 0 }
}

/// Steps that follow each other alike, taken together.
pub(super) fn grouped(steps: &[StepUse]) -> impl Iterator<Item = (usize, &StepUse)> {
    steps.chunk_by(|a, b| a == b).filter_map(|alike| Some((alike.len(), alike.first()?)))
}

/// The part without its last `cut` steps and with `more` in their place. Lines that stay whole keep
/// the author's words.
pub(super) fn with_tail(part: &Part, cut: usize, more: &[StepUse]) -> Part {
    let mut keep = part.steps().count().saturating_sub(cut);
    let mut lines = Vec::new();
    for line in &part.lines {
        let kept = line.steps.len().min(keep);
        keep -= kept;
        if kept == line.steps.len() {
            lines.push(line.clone());
        } else if kept > 0 {
            lines.push(StepLine {
                note: line.note.clone(),
                line: line.line,
                ..step_line(&line.steps[..kept])
            });
        }
    }
    if !more.is_empty() {
        lines.push(step_line(more));
    }
    let counts = lines.iter().flat_map(|l| &l.steps).map(|s| s.counts).sum();
    Part {
        name: format!("{} short", part.name),
        stated_counts: Some(counts),
        lines,
        ..part.clone()
    }
}
