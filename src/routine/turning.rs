//! Turns that stand apart from a step, and turns that are said by walls alone.

use super::build::Builder;
use super::claims::WallClaim;
use super::finding::{Fault, Finding};
use super::item::Item;
use super::line::Line;
use super::model::StepLine;
use crate::units::Wall;

impl Builder<'_> {
    /// Where no step of the part is said to turn and the walls it names are different ones, it turns from wall to wall.
    pub(super) fn turns_by_walls(&mut self) {
        let steps = self.out.lines.iter().flat_map(|l| &l.steps);
        let still = steps.clone().all(|s| s.eighths() == 0);
        let walls: Vec<Wall> = self.out.walls.iter().map(|c| c.wall).collect();
        if !still || walls.windows(2).all(|w| w[0] == w[1]) {
            return;
        }
        self.turned = 0;
        for claim in 0..self.out.walls.len() {
            let (line, wall) = (self.out.walls[claim].line, self.out.walls[claim].wall);
            let eighths = eighths_to(self.turned, wall, 0);
            let here = self.out.lines.iter_mut().find(|l| l.line == line);
            if let Some(last) = here.and_then(|l| l.steps.last_mut()) {
                last.add_eighths(eighths);
                self.turned = self.turned.saturating_add(eighths);
            }
            self.out.walls[claim].turn = self.turned;
            let WallClaim { line, column, words, .. } = self.out.walls[claim].clone();
            let fault = Fault::TurnTaken { wall };
            self.out.findings.push(Finding { line, column, words, fault });
        }
    }

    /// A turn that stands without a step, `2 Triple, turn 1/4 L on each`: it is of the steps before it.
    pub(super) fn turn_alone(&mut self, line: &Line<'_>, item: &Item, here: &mut StepLine) {
        let turned = self.turned;
        let steps = if here.steps.is_empty() {
            self.out.lines.last_mut().map(|l| &mut l.steps)
        } else {
            Some(&mut here.steps)
        };
        if let (Some((wall, side)), Some(last)) =
            (item.turn_to, steps.as_ref().and_then(|s| s.last()))
            && last.eighths() == 0
        {
            let eighths = eighths_to(turned, wall, side);
            if let Some(last) = steps.and_then(|s| s.last_mut()) {
                last.add_eighths(eighths);
                self.turned = self.turned.saturating_add(eighths);
            }
            return;
        }
        let Some(steps) = steps.filter(|s| !s.is_empty()) else {
            self.turn_waiting = self.turn_waiting.saturating_add(item.turn);
            if item.turn != 0 {
                self.waiting =
                    Some(Finding::at(line, item.place, Fault::NothingAbove { what: "turn" }));
            }
            return;
        };
        let from = match item.turn_each {
            true => steps.len().saturating_sub(self.last_times.max(1)),
            false => steps.len() - 1,
        };
        for step in &mut steps[from..] {
            step.add_eighths(item.turn);
            self.turned = self.turned.saturating_add(item.turn);
        }
    }
}

/// Eighths from where the dancer faces, the part begun towards the front, to a wall; the shorter way where no side
/// is said.
pub(super) fn eighths_to(turned: i32, wall: Wall, side: i32) -> i32 {
    let here = Wall::Front.turned_eighths(turned);
    let right = (0..8).find(|n| here.turned_eighths(*n) == wall).unwrap_or(0);
    match side {
        -1 if right > 0 => right - 8,
        0 if right > 4 => right - 8,
        _ => right,
    }
}
