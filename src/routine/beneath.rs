//! Lines beneath movements: the movements of a name, feet, timing; and what an item says of its foot and
//! wall.

use crate::units::Foot;

use super::build::{Builder, Last};
use super::claims::{ClaimedFoot, FootClaim, WallClaim, from_lead};
use super::finding::Fault;
use super::item::{Item, Parsed};
use super::line::Line;
use super::model::StepUse;
use super::movement::{MovementUse, Quarters, Weight};
use super::timing_lines::{TimingCheck, check_timing, timing_line};

impl Builder<'_> {
    /// What an item says of its foot and wall.
    pub(super) fn item_claims(
        &mut self,
        line: &Line<'_>,
        item: &Item,
        free: Foot,
        steps: &[StepUse],
    ) {
        // Behind a step whose feet are not known nobody can tell which foot is free.
        let known = !self.out.feet_unknown || self.starts_unknown(steps);
        if !steps.is_empty() && known {
            let mut free = free;
            // Two feet for two times; one foot for the start alone.
            let mut starts = Vec::new();
            for step in steps {
                starts.push(free);
                free = step.free_foot_after(free);
            }
            for (i, (foot, place)) in item.leads.iter().enumerate() {
                let Some(start) = starts.get(i) else { break };
                self.out.feet.push(FootClaim {
                    line: line.number,
                    column: line.column(place.0),
                    words: line.typed_between(place.0, place.1),
                    feet: vec![ClaimedFoot {
                        typed: *foot,
                        from_left: *start,
                        movement: steps[i].name.clone(),
                        needs_free_foot: true,
                    }],
                    lead: true,
                    lines: [String::new(), String::new()],
                });
            }
        }
        self.movement_feet(line, item, free, steps);
        if let Some((wall, place)) = item.wall {
            self.out.walls.push(WallClaim {
                line: line.number,
                column: line.column(place.0),
                words: line.typed_between(place.0, place.1),
                wall,
                turn: self.turned.saturating_add(self.turn_waiting),
            });
        }
    }

    /// Whether these steps are the part's first of unknown feet, and start it.
    fn starts_unknown(&self, steps: &[StepUse]) -> bool {
        let before = self.out.lines.iter().map(|l| l.steps.len()).sum::<usize>();
        before == 0 && self.made <= steps.len() && steps.len() == 1
    }

    /// Feet said of single movements, `step R to side, touch L`.
    fn movement_feet(&mut self, line: &Line<'_>, item: &Item, free: Foot, steps: &[StepUse]) {
        if item.sequence.is_empty() || self.out.feet_unknown {
            return;
        }
        let feet = feet_by_movement(steps, free);
        let written = |lead: Foot| {
            let mut free = from_lead(free, lead);
            let mut words = Vec::new();
            for step in steps {
                words.push(step.feet_line(free));
                free = step.free_foot_after(free);
            }
            words.join("  ")
        };
        let lines = [written(Foot::Left), written(Foot::Right)];
        for (index, typed, place) in &item.sequence {
            let Some(Some((from_left, movement, needs_free_foot))) = feet.get(*index).cloned()
            else {
                continue;
            };
            self.out.feet.push(FootClaim {
                line: line.number,
                column: line.column(place.0),
                words: line.typed_between(place.0, place.1),
                feet: vec![ClaimedFoot { typed: *typed, from_left, movement, needs_free_foot }],
                lead: false,
                lines: lines.clone(),
            });
        }
    }

    /// Movements under a step's name: they say what the step is, and are not danced once more.
    pub(super) fn breakdown(&mut self, line: &Line<'_>, parsed: &Parsed) {
        for (fault, place) in &parsed.faults {
            self.find(line, *place, fault.clone());
        }
        let Some(item) = parsed.items.first() else { return };
        let (Some(own), Some(last)) = (&item.moves, self.last.clone()) else { return };
        let Some((free, step)) = last.once else { return };
        let own = self.compare_variant(line, item.place, &step, own);
        // The line's steps take the sheet's movements, and their turn where the name says none.
        if let Some(above) = self.out.lines.last_mut() {
            let turns = above.steps.iter().any(|s| s.eighths() != 0);
            let more = if turns { 0 } else { item.turn };
            for danced in above.steps.iter_mut().filter(|s| s.name == step.name) {
                let mut new = StepUse { turn: danced.turn, eighth: danced.eighth, ..own.clone() };
                new.add_eighths(more);
                *danced = new;
                self.turned = self.turned.saturating_add(more);
            }
            self.free = above.free_foot_after(last.free);
            self.last = Some(Last {
                steps: above.steps.clone(),
                once: Some((free, own)),
                free: last.free,
                may_place: false,
            });
        }
    }

    pub(super) fn feet(&mut self, line: &Line<'_>, typed: &[Foot]) {
        let whole = line.whole();
        let Some(last) = self.last.clone() else {
            self.find(line, whole, Fault::NothingAbove { what: "feet" });
            return;
        };
        if self.out.feet_unknown {
            return;
        }
        let all = feet_of(&last.steps, last.free);
        let once = last.once.as_ref().map(|(free, step)| {
            (feet_of(std::slice::from_ref(step), *free), *free, vec![step.clone()])
        });
        let of_steps = of_weight_changes(&last, typed);
        let of_movements = of_steps.or_else(|| one_for_each_movement(&last, typed.len()));
        let of_sounds = typed.len() == all.len()
            || once.as_ref().is_some_and(|(feet, ..)| feet.len() == typed.len());
        let (expected, free, steps) = if typed.len() == all.len() {
            (all, last.free, last.steps)
        } else if let Some(found) = of_movements.filter(|_| !of_sounds) {
            found
        } else if let Some(starts) = one_for_each_time(&last, typed.len()).filter(|_| !of_sounds) {
            (starts, last.free, last.steps)
        } else {
            match once {
                Some((feet, free, steps)) if typed.len() == feet.len() => (feet, free, steps),
                _ => {
                    if !all.is_empty() {
                        let moves = match &once {
                            Some((feet, ..))
                                if feet.len().abs_diff(typed.len())
                                    < all.len().abs_diff(typed.len()) =>
                            {
                                feet.len()
                            }
                            _ => all.len(),
                        };
                        self.find(line, whole, Fault::FeetNumber { typed: typed.len(), moves });
                    }
                    return;
                }
            }
        };
        let written = |lead: Foot| {
            let mut free = from_lead(free, lead);
            let mut words = Vec::new();
            for step in &steps {
                words.push(step.feet_line(free));
                free = step.free_foot_after(free);
            }
            words.join("  ")
        };
        self.out.feet.push(FootClaim {
            line: line.number,
            column: line.column(whole.0),
            words: line.typed_between(whole.0, whole.1),
            feet: typed
                .iter()
                .zip(expected)
                .map(|(typed, (from_left, movement, needs_free_foot))| ClaimedFoot {
                    typed: *typed,
                    from_left,
                    movement,
                    needs_free_foot,
                })
                .collect(),
            lead: false,
            lines: [written(Foot::Left), written(Foot::Right)],
        });
    }

    /// Lays the movements of the line's steps that are as `once` on the counts beneath them.
    fn place(&mut self, once: &StepUse, places: &[Vec<Quarters>], counts: u32) {
        let Some(above) = self.out.lines.last_mut() else { return };
        for step in above.steps.iter_mut().filter(|step| step.name == once.name) {
            for (m, places) in step.moves.iter_mut().zip(places) {
                m.sounds.clone_from(places);
            }
            // Nobody hears the counts on which nobody moves.
            let silent = step.moves.last().is_some_and(|m| m.sounds.is_empty());
            step.counts = if silent { counts.max(step.counts) } else { counts };
        }
    }

    pub(super) fn timing(&mut self, line: &Line<'_>, words: &[Vec<char>]) {
        let whole = line.whole();
        let Some(last) = self.last.clone() else {
            self.find(line, whole, Fault::NothingAbove { what: "timing" });
            return;
        };
        let all = moves_in_a_row(&last.steps);
        let once = last.once.as_ref().map(|(_, step)| step.moves.clone()).unwrap_or_default();
        if all.is_empty() {
            return;
        }
        let whole_line = check_timing(&all, words);
        let one = check_timing(&once, words);
        let counts = last.steps.iter().fold(0u32, |sum, s| sum.saturating_add(s.counts));
        if whole_line == TimingCheck::Same
            || one == TimingCheck::Same
            || counts_along(words, counts)
        {
            return;
        }
        match (one, &last.once) {
            // As the sheet counts them; beneath a name, `2 Joeys`, only where they come to other counts.
            (TimingCheck::Placed(places, counts), Some((_, step))) => {
                if last.may_place || step.counts != counts {
                    self.place(step, &places, counts);
                }
            }
            (TimingCheck::Order(mark), _) => self.find(line, whole, Fault::TimingOrder { mark }),
            (_, _) => {
                let shown = if words.len() > once.len() { &all } else { &once };
                self.find(line, whole, Fault::TimingDiffers { computed: timing_line(shown) });
            }
        }
    }
}

/// `&1 &2 &3 &4` under four counts: the counts alone, whatever sounds on each.
fn counts_along(words: &[Vec<char>], counts: u32) -> bool {
    let digit = |word: &Vec<char>| match word[..] {
        ['&', n] | [n] => n.to_digit(10),
        _ => None,
    };
    let plain = words.iter().all(|w| w.len() == words[0].len());
    let on = words.iter().zip(1..).all(|(w, n)| digit(w) == Some(n));
    let silent = counts.checked_sub(words.len() as u32);
    plain && on && words.len() > 2 && silent.is_some_and(|silent| silent <= 1)
}

/// Feet with the foot before them, and the steps that they are of.
type FeetOf = (Vec<(Foot, String, bool)>, Foot, Vec<StepUse>);

/// The foot that is free before the steps above, and these: all of them, and the one that they repeat danced once.
fn whole_and_once(last: &Last) -> impl Iterator<Item = (Foot, Vec<StepUse>)> {
    let once = last.once.as_ref().map(|(free, step)| (*free, vec![step.clone()]));
    std::iter::once((last.free, last.steps.clone())).chain(once)
}

/// `L R L R` under `DS DS DS RS`: where a feet line has as many feet as there are movements, the first foot of each.
fn one_for_each_movement(last: &Last, typed: usize) -> Option<FeetOf> {
    whole_and_once(last).find_map(|(free, steps)| {
        let feet: Vec<_> = feet_by_movement(&steps, free).into_iter().flatten().collect();
        (feet.len() == typed && typed > 1).then_some((feet, free, steps))
    })
}

/// `L R L RL` under `DS SLUR S DS RS`: the feet that take the weight, where they are these; a movement without weight has none.
fn of_weight_changes(last: &Last, typed: &[Foot]) -> Option<FeetOf> {
    whole_and_once(last).find_map(|(free, steps)| {
        let all = feet_of(&steps, free);
        let stepped = feet_where(&steps, free, |w| matches!(w, Weight::Onto | Weight::Rock));
        let same = |lead: Foot| {
            stepped.iter().map(|(foot, ..)| from_lead(*foot, lead)).eq(typed.iter().copied())
        };
        let fits = stepped.len() < all.len() && (same(Foot::Left) || same(Foot::Right));
        fits.then_some((stepped, free, steps))
    })
}

/// `L R L R` beneath a step that is danced four times: the foot that each time starts on.
fn one_for_each_time(last: &Last, typed: usize) -> Option<Vec<(Foot, String, bool)>> {
    let several = typed > 1 && typed == last.steps.len();
    let alike = last.steps.windows(2).all(|w| w[0].name == w[1].name);
    (several && alike).then(|| {
        let mut free = last.free;
        last.steps
            .iter()
            .map(|step| {
                let start = free;
                free = step.free_foot_after(free);
                (start, step.name.clone(), true)
            })
            .collect()
    })
}

/// Each foot that sounds, with its movement and whether only the free foot can do it.
fn feet_of(steps: &[StepUse], free: Foot) -> Vec<(Foot, String, bool)> {
    feet_where(steps, free, |_| true)
}

/// The same of those movements alone whose weight is so.
fn feet_where(
    steps: &[StepUse],
    free: Foot,
    wanted: impl Fn(Weight) -> bool,
) -> Vec<(Foot, String, bool)> {
    let mut free = free;
    let mut out = Vec::new();
    for m in steps.iter().flat_map(|s| &s.moves) {
        let needs_free = !matches!(m.movement.weight, Weight::Held | Weight::None);
        if wanted(m.movement.weight) {
            let code = m.movement.code;
            out.extend(m.feet(free).into_iter().map(|foot| (foot, code.to_string(), needs_free)));
        }
        free = m.free_after(free);
    }
    out
}

/// The foot of each movement, none where no foot moves.
fn feet_by_movement(steps: &[StepUse], free: Foot) -> Vec<Option<(Foot, String, bool)>> {
    let mut free = free;
    let mut out = Vec::new();
    for m in steps.iter().flat_map(|s| &s.moves) {
        let needs_free = !matches!(m.movement.weight, Weight::Held | Weight::None);
        let foot = m.feet(free).first().copied();
        out.push(foot.map(|foot| (foot, m.movement.name.to_string(), needs_free)));
        free = m.free_after(free);
    }
    out
}

/// The movements of steps danced one after another, with their places in the whole.
fn moves_in_a_row(steps: &[StepUse]) -> Vec<MovementUse> {
    let mut out = Vec::new();
    let mut before = 0;
    for step in steps {
        out.extend(step.moves.iter().cloned().map(|m| m.later_by(before)));
        before = u32::saturating_add(before, step.counts).min(1 << 20);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::parse;

    #[test]
    fn feet_beneath_a_step_may_be_those_of_each_time() {
        let sheet = |feet: &str| format!("Part A\nBasic, four times (8)\n  DS RS\n  {feet}\n");
        let (_, findings) = parse(&sheet("L R L R"));
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
        let (_, findings) = parse(&sheet("L L L R R"));
        assert!(findings.iter().any(|f| f.is_mistake()));
        // Beneath a name with its movements nobody can be sure which feet are meant.
        let (_, findings) = parse("Part A\n2 Brush Ups (4)     DS BR DS BR\n    L  R  R  L\n");
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
    }

    #[test]
    fn feet_may_be_those_that_take_the_weight() {
        let sheet = |feet: &str| format!("Part A\nSlur Basic (4)\n  DS SLUR S DS RS\n  {feet}\n");
        let (_, findings) = parse(&sheet("L       R L  RL"));
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
        let (_, findings) = parse(&sheet("L       R R  RL"));
        assert!(findings.iter().any(|f| f.is_mistake()));
    }
}
