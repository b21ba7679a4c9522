//! What there is to teach: each part with how much of the dance it is and how hard it is.

use std::collections::HashSet;

use crate::fit::Fit;
use crate::routine::{MovementUse, Part, Routine, StepUse, glossary};

use super::{NewStep, Span};

/// A part as there is to teach it.
#[derive(Debug, Clone)]
pub(super) struct Need {
    /// Index into the routine's parts.
    pub(super) part: usize,
    /// Counts danced over the whole song.
    pub(super) danced: u32,
    /// Its first count in the song.
    pub(super) first_count: i32,
    /// Each time it is danced.
    pub(super) in_song: Vec<Span>,
    /// Whether it comes back on the other foot.
    pub(super) both_feet: bool,
}

/// The parts that are danced on this song, in the order in which they come first.
pub(super) fn needs(routine: &Routine, fit: &Fit) -> Vec<Need> {
    let mut needs: Vec<Need> = Vec::new();
    let mut leads: Vec<_> = Vec::new();
    for placement in fit.placements.iter().filter(|p| !p.left_out && p.danced > 0) {
        let Some(item) = routine.order.get(placement.order_index) else { continue };
        let Some(part) = routine.parts.get(item.part) else { continue };
        if part.lines.is_empty() {
            continue;
        }
        let span = Span { start_s: placement.start_s, end_s: placement.end_s };
        match needs.iter().position(|n| n.part == item.part) {
            Some(at) => {
                let need = &mut needs[at];
                need.danced = need.danced.saturating_add(placement.danced);
                need.in_song.push(span);
                need.both_feet |= leads[at] != placement.lead_foot;
            }
            None => {
                leads.push(placement.lead_foot);
                needs.push(Need {
                    part: item.part,
                    danced: placement.danced,
                    first_count: placement.start_count.0,
                    in_song: vec![span],
                    both_feet: false,
                });
            }
        }
    }
    needs
}

/// What makes two uses of a step the same thing to learn.
pub(super) fn step_key(step: &StepUse) -> String {
    if step.feet_known() { step.movements.clone() } else { step.name.clone() }
}

/// How hard a step is: the level from which on it is taught, 1 to 6; more where more than two feet sound
/// to a count. A rule of thumb, common practice.
pub(super) fn effort_of_step(step: &StepUse) -> f64 {
    if step.is_pause() {
        return 0.0;
    }
    let level = match glossary::find(&step.name) {
        Some((known, _)) => 1.0 + f64::from(known.level as u8),
        // The sheet's own steps, and movements written out, are nobody's routine yet.
        None => 2.0,
    };
    let sounds: usize = step.moves.iter().map(|m| m.sounds.len()).sum();
    let density = sounds as f64 / f64::from(step.counts.max(1));
    level * (1.0 + 0.25 * (density - 2.0).max(0.0))
}

/// How hard a part is when the steps in `known` need no teaching any more.
pub(super) fn effort_of_part(part: &Part, need: &Need, known: &HashSet<String>) -> f64 {
    let mut seen = HashSet::new();
    let mut effort = f64::from(part.counts()) / 16.0;
    for step in part.steps() {
        if !step.is_pause() && seen.insert(step_key(step)) {
            let new = !known.contains(&step_key(step));
            effort += effort_of_step(step) * if new { 1.0 } else { 0.25 };
        }
    }
    let turns = part.steps().any(|s| s.eighths() != 0);
    effort + if turns { 1.0 } else { 0.0 } + if need.both_feet { 1.0 } else { 0.0 }
}

/// The steps of a part that are not known yet, each once, taken apart.
pub(super) fn new_steps(part: &Part, known: &HashSet<String>) -> Vec<NewStep> {
    let mut seen = HashSet::new();
    part.steps()
        .filter(|s| !s.is_pause() && !known.contains(&step_key(s)) && seen.insert(step_key(s)))
        .map(taken_apart)
        .collect()
}

fn taken_apart(step: &StepUse) -> NewStep {
    NewStep {
        name: step.name.clone(),
        counts: step.counts,
        movements: step.movements.clone(),
        feet: step.feet_line(crate::units::Foot::Left),
        timing: step.timing_line(),
        in_words: in_words(&step.moves),
        level: glossary::find(&step.name).map(|(known, _)| known.level.name().to_string()),
        changes_foot: step.swaps_free_foot,
    }
}

/// Each movement in words, repeats told once: `3 double steps` reads better than three of them.
fn in_words(moves: &[MovementUse]) -> Vec<String> {
    let name = |m: &MovementUse| match &m.tag {
        Some(tag) => format!("{} ({tag})", m.movement.name),
        None => m.movement.name.to_string(),
    };
    moves
        .chunk_by(|a, b| name(a) == name(b))
        .filter_map(|run| {
            let words = name(run.first()?);
            Some(if run.len() > 1 { format!("{words} {} times", run.len()) } else { words })
        })
        .collect()
}
