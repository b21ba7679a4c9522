//! Turns that stand apart from a step, and turns that are said by walls alone.

use crate::units::Wall;

use super::build::Builder;
use super::claims::WallClaim;
use super::finding::{Fault, Finding};
use super::glossary::name_key;
use super::item::Item;
use super::line::Line;
use super::model::{StepLine, StepUse};
use super::movement::find_movement;
use super::words::foot;

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
        if here.steps.is_empty() && item.turn_each && item.turn != 0 {
            let places = self.steps_told_of(&line.text);
            for (at, step) in &places {
                self.out.lines[*at].steps[*step].add_eighths(item.turn);
                self.turned = self.turned.saturating_add(item.turn);
            }
            if !places.is_empty() {
                return;
            }
        }
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

impl Builder<'_> {
    /// `Turn 1/4 left on each brush`: the steps of the part that a line tells of by their name or a movement, by line and
    /// place, where others than those of the line above are among them.
    fn steps_told_of(&self, text: &str) -> Vec<(usize, usize)> {
        const MOST_WORDS: usize = 3;
        let words: Vec<&str> =
            text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
        let by_name = (1..=MOST_WORDS).rev().find_map(|n| {
            let mut keys = words.windows(n).map(|w| name_key(&w.join(" ")));
            keys.find_map(|key| {
                self.book.find(&key).filter(|s| s.counts > 1).map(|s| s.name.clone())
            })
        });
        let by_movement = || {
            let long = words.iter().filter(|w| w.len() > 2 && foot(w).is_none());
            long.filter(|w| !w.eq_ignore_ascii_case("turn")).find_map(|w| find_movement(w))
        };
        let told: Box<dyn Fn(&StepUse) -> bool> = match (by_name, by_movement()) {
            (Some(name), _) => Box::new(move |s: &StepUse| s.name == name),
            (None, Some(moved)) => {
                Box::new(move |s: &StepUse| s.moves.iter().any(|m| m.movement.code == moved.code))
            }
            _ => return Vec::new(),
        };
        let lines = self.out.lines.iter().enumerate();
        let places: Vec<(usize, usize)> = lines
            .flat_map(|(at, l)| l.steps.iter().enumerate().map(move |(i, s)| ((at, i), s)))
            .filter(|(_, s)| told(s) && s.eighths() == 0)
            .map(|(place, _)| place)
            .collect();
        let last = self.out.lines.len().saturating_sub(1);
        if places.iter().any(|(at, _)| *at != last) { places } else { Vec::new() }
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

#[cfg(test)]
mod tests {
    use super::super::parse;

    #[test]
    fn a_turn_told_below_is_of_the_steps_that_it_names() {
        let sheet = |turn: &str| {
            format!(
                "Part A (16)\nDS DS DS RS (4)\nDS BR DS RS (4)\nDS DS RS RS (4)\nDS BR DS RS (4)\n{turn}\n"
            )
        };
        let turns = |turn: &str| -> Vec<i32> {
            let (routine, findings) = parse(&sheet(turn));
            assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
            routine.parts[0].steps().map(|s| s.eighths()).collect()
        };
        assert_eq!(turns("Turn 1/4 left on each brush, face back"), [0, -2, 0, -2]);
        // Of no name it is that of the line above.
        assert_eq!(turns("turn 1/4 left on each"), [0, 0, 0, -2]);
    }
}
