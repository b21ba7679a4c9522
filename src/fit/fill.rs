//! Fills: a few counts of real steps from one foot to the other, or back to the same.

use crate::routine::StepUse;

/// Longest fill that is made up, counts: beyond that it is a part, and the author's to invent.
pub(super) const LONGEST_FILL: u32 = 32;

/// A step that a fill may use.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Known {
    pub step: StepUse,
    /// Danced in the routine already.
    pub own: bool,
}

/// What a step costs a fill: one from the glossary is a step more to learn, and few long steps are
/// easier to remember than many short ones.
const NEW_STEP: u32 = 20;
const EACH_STEP: u32 = 10;
/// A part of one step: a single stamp or clap is less of a step than a basic.
const ONE_COUNT: u32 = 5;

/// The fill of so many counts that swaps the free foot or does not, and comes back to the wall it
/// started from; by preference with steps of the routine, and few of them. `None` where no steps add
/// up to it.
pub(super) fn fill(known: &[Known], counts: u32, swaps: bool) -> Option<Vec<StepUse>> {
    fill_of(&known.iter().collect::<Vec<_>>(), counts, swaps)
}

fn fill_of(known: &[&Known], counts: u32, swaps: bool) -> Option<Vec<StepUse>> {
    if counts == 0 || counts > LONGEST_FILL {
        return None;
    }
    // Cheapest way to each (counts so far, foot swapped, eighths of a turn), and the step that came last.
    let states = |counts: u32| counts as usize * 16;
    let state = |counts: u32, swapped: bool, turned: i32| {
        states(counts) + usize::from(swapped) * 8 + turned.rem_euclid(8) as usize
    };
    let mut best: Vec<Option<(u32, usize)>> = vec![None; states(counts + 1)];
    best[0] = Some((0, usize::MAX));
    for so_far in 0..counts {
        for (swapped, turned) in (0..16).map(|n| (n >= 8, n % 8)) {
            let Some((cost, _)) = best[state(so_far, swapped, turned)] else { continue };
            for (n, Known { step, own }) in known.iter().enumerate() {
                let then = so_far + step.counts;
                if step.counts == 0 || then > counts {
                    continue;
                }
                let cost = cost
                    + EACH_STEP
                    + if *own { 0 } else { NEW_STEP }
                    + if step.counts == 1 { ONE_COUNT } else { 0 };
                let turned = turned + step.eighths().rem_euclid(8);
                let to = state(then, swapped ^ step.swaps_free_foot, turned);
                if best[to].is_none_or(|(least, _)| cost < least) {
                    best[to] = Some((cost, n));
                }
            }
        }
    }
    let (mut so_far, mut swapped, mut turned) = (counts, swaps, 0);
    let mut steps = Vec::new();
    while so_far > 0 {
        let (_, n) = best[state(so_far, swapped, turned)]?;
        let step = &known.get(n)?.step;
        so_far -= step.counts;
        swapped ^= step.swaps_free_foot;
        turned = (turned - step.eighths()).rem_euclid(8);
        steps.push(step.clone());
    }
    // Alike steps together.
    steps.sort_by(|a, b| b.counts.cmp(&a.counts).then_with(|| a.name.cmp(&b.name)));
    Some(steps)
}

/// Up to `most` fills, as [`fill`] makes them, the preferred one first; each of the others does without
/// the longest step of those before it.
pub(super) fn fills(known: &[Known], counts: u32, swaps: bool, most: usize) -> Vec<Vec<StepUse>> {
    let mut others: Vec<&Known> = known.iter().collect();
    let mut found: Vec<Vec<StepUse>> = fill_of(&others, counts, swaps).into_iter().collect();
    while found.len() < most {
        let Some(longest) = found.last().and_then(|steps| steps.first()) else { break };
        others.retain(|k| k.step != *longest);
        let Some(other) = fill_of(&others, counts, swaps) else { break };
        found.push(other);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_are_other_fills_to_choose_from() {
        let known = known(&["Triple basic", "Fancy double"], &ALL);
        let choices = fills(&known, 4, false, 3);
        assert_eq!(choices.len(), 3);
        assert_eq!(Some(&choices[0]), fill(&known, 4, false).as_ref());
        for (n, steps) in choices.iter().enumerate() {
            assert_eq!(steps.iter().map(|s| s.counts).sum::<u32>(), 4);
            assert_eq!(steps.iter().filter(|s| s.swaps_free_foot).count() % 2, 0);
            assert!(!choices[..n].contains(steps));
        }
    }
    use crate::fit::testing::step;

    fn known(own: &[&str], glossary: &[&str]) -> Vec<Known> {
        let as_known = |own| move |name: &&str| Known { step: step(name), own };
        own.iter().map(as_known(true)).chain(glossary.iter().map(as_known(false))).collect()
    }

    fn names(steps: Option<Vec<StepUse>>) -> Vec<String> {
        steps.unwrap().into_iter().map(|s| s.name).collect()
    }

    const ALL: [&str; 5] =
        ["Single basic", "Double basic", "Triple basic", "Fancy double", "Rocking chair"];

    #[test]
    fn four_counts_swap_with_a_triple_and_stay_with_a_fancy_double() {
        // Feet as published: a triple changes the lead foot, a fancy double and a rocking chair do not.
        assert_eq!(
            names(fill(&known(&["Triple basic", "Fancy double"], &[]), 4, true)),
            ["Triple basic"]
        );
        assert_eq!(
            names(fill(&known(&["Triple basic", "Fancy double"], &[]), 4, false)),
            ["Fancy double"]
        );
    }

    #[test]
    fn steps_of_the_routine_come_first() {
        let steps = fill(&known(&["Single basic"], &["Fancy double"]), 4, false);
        assert_eq!(names(steps), ["Single basic", "Single basic"]);
        let steps = fill(&known(&["Rocking chair"], &ALL), 4, false);
        assert_eq!(names(steps), ["Rocking chair"]);
    }

    #[test]
    fn a_step_of_an_eighth_turn_comes_in_eights_or_not_at_all() {
        let mut turning = known(&["Triple basic"], &[]);
        turning[0].step.eighth = 1;
        assert_eq!(fill(&turning, 4, true), None);
        assert_eq!(fill(&turning, 16, false), None);
        assert_eq!(names(fill(&turning, 32, false)), ["Triple basic"; 8]);
    }

    #[test]
    fn odd_counts_need_a_step_of_odd_length() {
        assert_eq!(fill(&known(&["Single basic", "Triple basic"], &[]), 5, true), None);
        let steps = fill(&known(&["Single basic", "Triple basic"], &["Double basic"]), 5, true);
        assert_eq!(names(steps), ["Double basic", "Single basic"]);
    }

    #[test]
    fn a_fill_ends_on_the_foot_and_the_wall_it_should() {
        let mut turning =
            known(&["Triple basic"], &["Single basic", "Double basic", "Fancy double"]);
        turning[0].step.turn = 1;
        // Whether any steps at all do it, by trying them.
        fn can(known: &[Known], counts: u32, swaps: bool, turn: i32) -> bool {
            let done = counts == 0 && !swaps && turn.rem_euclid(4) == 0;
            done || known.iter().map(|k| &k.step).any(|s| {
                s.counts <= counts
                    && can(known, counts - s.counts, swaps ^ s.swaps_free_foot, turn - s.turn)
            })
        }
        for counts in 1..=16 {
            for swaps in [false, true] {
                let steps = fill(&turning, counts, swaps);
                assert_eq!(steps.is_some(), can(&turning, counts, swaps, 0), "{counts} {swaps}");
                let steps = steps.unwrap_or_default();
                if !steps.is_empty() {
                    assert_eq!(steps.iter().map(|s| s.counts).sum::<u32>(), counts);
                    assert_eq!(steps.iter().filter(|s| s.swaps_free_foot).count() % 2 == 1, swaps);
                    assert_eq!(steps.iter().map(|s| s.turn).sum::<i32>() % 4, 0);
                }
            }
        }
        assert_eq!(fill(&turning, 0, false), None);
    }
}
