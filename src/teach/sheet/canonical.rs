//! A line of steps written so that it can be read in one way only.

use crate::routine::{StepLine, StepUse, glossary};

/// The steps of the line as lines of a sheet: names of the glossary and of `own` where they say it, the
/// movements else.
pub(super) fn lines(line: &StepLine, own: &[(String, String)]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut open = false;
    for run in line.steps.chunk_by(|a, b| a == b) {
        let Some(step) = run.first() else { continue };
        let words = item(step, run.len(), own);
        // Timing stands under movements that are alone on their line.
        let timed = step.feet_known() && !step.is_pause() && step.name == step.movements;
        match out.last_mut() {
            Some(last) if open && !timed => *last = format!("{last}, {words}"),
            _ => out.push(words),
        }
        open = !timed;
        if timed {
            out.push(format!("  {}", step.timing_line()));
        }
    }
    out.retain(|line| !line.trim().is_empty());
    out
}

/// `2 Triple turn 1/4 L each`.
fn item(step: &StepUse, times: usize, own: &[(String, String)]) -> String {
    if step.is_pause() {
        return format!("pause {}", step.counts as usize * times);
    }
    let number = if times > 1 { format!("{times} ") } else { String::new() };
    let turn = step.turn_words().map_or(String::new(), |turn| {
        format!(" turn {turn}{}", if times > 1 { " each" } else { "" })
    });
    if !step.feet_known() {
        return format!("{number}{} ({}){turn}", step.name, step.counts as usize * times);
    }
    let by_name = glossary::find(&step.name).is_some_and(|(_, known)| known.moves == step.moves)
        || own.iter().any(|(name, movements)| *name == step.name && *movements == step.movements);
    if by_name {
        return format!("{number}{}{turn}", step.name);
    }
    if step.name == step.movements || step.name.is_empty() {
        return format!("{number}{}{turn}", step.movements);
    }
    format!("{number}{} [{}]{turn}", step.name, step.movements)
}
