//! A line of steps written so that it can be read in one way only.

use crate::routine::{StepLine, StepUse, glossary, read_movements};

/// The steps of the line as lines of a sheet: names of the glossary and of `own` where they say it, the
/// movements else.
pub(super) fn lines(line: &StepLine, own: &[(String, String)]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut open = false;
    for run in line.steps.chunk_by(|a, b| a == b) {
        let Some(step) = run.first() else { continue };
        let words = item(step, run.len(), own);
        // Timing stands under movements that are alone on their line.
        let timed = step.feet_known()
            && !step.is_pause()
            && says(step, own) == Says::Movements
            && !(falls_as_usual(step) && step.moves.iter().any(|m| m.sounds.is_empty()));
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

/// What a step is written by.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Says {
    Name,
    NameAndMovements,
    Movements,
}

fn says(step: &StepUse, own: &[(String, String)]) -> Says {
    // What the sheet calls a step holds on all its lines, whatever the glossary has.
    let by_name = match own.iter().find(|(name, _)| *name == step.name) {
        Some((_, movements)) => *movements == step.movements,
        None => glossary::find(&step.name).is_some_and(|(_, known)| known.moves == step.moves),
    };
    match by_name {
        true => Says::Name,
        false if step.name != step.movements && can_be_named(step) => Says::NameAndMovements,
        false => Says::Movements,
    }
}

/// Whether a step can be told by a name with its movements: the name is one to a reader, and the movements fall on the
/// counts as they do without timing. Of a line dance's line, `step, shuffle`, neither need be so.
pub(super) fn can_be_named(step: &StepUse) -> bool {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '-' | '\'' | '(' | ')');
    !step.name.is_empty() && step.name.chars().all(plain) && falls_as_usual(step)
}

/// Whether its movements fall on the counts as they do without timing.
fn falls_as_usual(step: &StepUse) -> bool {
    let laid = read_movements(&step.movements);
    laid.is_some_and(|(moves, counts)| moves == step.moves && counts == step.counts)
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
        let name = words_of(&step.name);
        return format!("{number}{name} ({}){turn}", step.counts as usize * times);
    }
    match says(step, own) {
        Says::Name => format!("{number}{}{turn}", step.name),
        Says::NameAndMovements => format!("{number}{} [{}]{turn}", step.name, step.movements),
        // In brackets nothing among them is a word of its own, as `HOLD` would be.
        Says::Movements if step.movements.starts_with("HOLD") => {
            format!("{number}[{}]{turn}", step.movements)
        }
        Says::Movements => format!("{number}{}{turn}", step.movements),
    }
}

/// The words of a name of which only the counts are known: signs in it would part it.
fn words_of(name: &str) -> String {
    let plain = |c: char| if c.is_alphanumeric() || "-'().".contains(c) { c } else { ' ' };
    let words: String = name.chars().map(plain).collect();
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}
