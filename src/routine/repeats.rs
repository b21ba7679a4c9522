//! `repeat`: the line above, or all that stands above it.

use super::build::Builder;
use super::finding::Fault;
use super::glossary;
use super::item::Item;
use super::line::Line;
use super::model::{StepLine, StepUse};
use super::movement::Source;

impl Builder<'_> {
    /// Whether a `repeat` can only mean all that stands above it: by the counts stated for it, or since the line
    /// before leaves the same foot free and it is to be danced on the other.
    fn means_all(&self, item: &Item) -> bool {
        let counts = |lines: &[StepLine]| lines.iter().map(StepLine::counts).sum::<u32>();
        let swaps = |lines: &[StepLine]| {
            let steps = lines.iter().flat_map(|l| &l.steps);
            steps.filter(|s| s.swaps_free_foot).count() % 2 == 1
        };
        let all = &self.out.lines;
        let last = &all[all.len().saturating_sub(1)..];
        let times = item.times.max(1);
        match item.stated {
            Some((stated, _)) => {
                counts(last).saturating_mul(times) != stated
                    && counts(all).saturating_mul(times) == stated
            }
            // Parts are made of whole sixteens sooner than not.
            None if item.repeats_above || self.repeats_at_the_end(item) => {
                const WHOLE: u32 = 16;
                let whole = |again: &[StepLine]| {
                    let more = counts(again).saturating_mul(times);
                    counts(all).saturating_add(more).is_multiple_of(WHOLE)
                };
                !whole(last) && whole(all)
            }
            None => {
                (item.other_foot.is_some() || item.leads.len() == 1) && !swaps(last) && swaps(all)
            }
        }
    }

    /// `Repeat` alone, in a part whose counts nothing else says.
    fn repeats_at_the_end(&self, item: &Item) -> bool {
        self.reading.no_counts_stated && item.other_foot.is_none() && item.leads.is_empty()
    }

    /// How many of the lines above come to the counts stated for their repeat, where those of one line or of all do not.
    fn lines_that_make(&self, item: &Item) -> Option<usize> {
        let (stated, _) = item.stated?;
        let times = item.times.max(1);
        let lines = &self.out.lines;
        (1..=lines.len()).find(|&n| {
            let counts: u32 = lines[lines.len() - n..].iter().map(StepLine::counts).sum();
            counts.saturating_mul(times) == stated
        })
    }

    /// The lines in which counts fall that a repeat names, `repeat 1-8`, where they begin and end with lines.
    fn lines_of_counts(&self, item: &Item) -> Option<std::ops::Range<usize>> {
        let (first, last) = item.repeats_counts?;
        let mut before = vec![0];
        for line in &self.out.lines {
            before.push(before[before.len() - 1] + line.counts());
        }
        let from = before.iter().position(|n| *n + 1 == first)?;
        let to = before.iter().position(|n| *n == last)?;
        (from < to).then_some(from..to)
    }

    /// The last line above with the step from which on is repeated.
    fn line_from_which(&self, item: &Item) -> Option<usize> {
        let step = self.book.find(item.repeats_from.as_ref()?)?;
        let has = |line: &StepLine| line.steps.iter().any(|s| s.name == step.name);
        self.out.lines.iter().rposition(has)
    }

    pub(super) fn repeat(
        &mut self,
        line: &Line<'_>,
        item: &Item,
        all: bool,
        here: &mut StepLine,
    ) -> bool {
        if !all && here.steps.is_empty() {
            self.out.has_open_repeat = true;
        }
        let all = all || self.reading.repeat_all || here.steps.is_empty() && self.means_all(item);
        let mut steps: Vec<StepUse> = Vec::new();
        let other = item.repeats.as_ref().and_then(|name| (self.same_as)(name));
        if let Some((_, part)) = other {
            steps.extend(part);
        } else if let Some(from) = self.line_from_which(item) {
            steps.extend(self.out.lines[from..].iter().flat_map(|l| l.steps.iter().cloned()));
        } else if let Some(lines) = self.lines_of_counts(item) {
            steps.extend(self.out.lines[lines].iter().flat_map(|l| l.steps.iter().cloned()));
        } else if let Some(lines) = self.lines_that_make(item).filter(|_| here.steps.is_empty()) {
            let from = self.out.lines.len() - lines;
            steps.extend(self.out.lines[from..].iter().flat_map(|l| l.steps.iter().cloned()));
        } else if let Some(lines) = item.repeats_lines.filter(|_| here.steps.is_empty()) {
            let from = self.out.lines.len().saturating_sub(lines);
            steps.extend(self.out.lines[from..].iter().flat_map(|l| l.steps.iter().cloned()));
        } else if all {
            steps.extend(self.out.lines.iter().flat_map(|l| l.steps.iter().cloned()));
            steps.extend(here.steps.iter().cloned());
        } else if here.steps.is_empty() {
            steps.extend(self.out.lines.iter().rev().take(1).flat_map(|l| l.steps.iter().cloned()));
        } else {
            steps.extend(here.steps.iter().cloned());
        }
        if steps.is_empty() {
            self.find(line, item.place, Fault::NothingToRepeat);
            return false;
        }
        if let Some(place) = item.other_foot {
            let swaps = steps.iter().filter(|s| s.swaps_free_foot).count() % 2 == 1;
            if !swaps {
                let free = self.free;
                // Of a step that is danced in more than one way nobody can be sure.
                let open = |s: &StepUse| is_common_practice(s) || !s.feet_known();
                let fault = match steps.iter().any(open) {
                    true => Fault::OtherFootUnsure { free },
                    false => Fault::SameFootFree { free },
                };
                self.find(line, place, fault);
            }
        }
        let once = steps.clone();
        // `repeat x3` dances it three times more.
        for _ in 1..item.times.clamp(1, 50) {
            if steps.len() + once.len() > self.room {
                break;
            }
            steps.extend(once.iter().cloned());
        }
        self.stated_of_all(line, item, &steps);
        let plain = Item { turn_each: false, ..item.clone() };
        self.push(line, &plain, steps, here)
    }
}

/// Whether a step is danced as is common practice: no published sheet settles its feet.
pub(super) fn is_common_practice(step: &StepUse) -> bool {
    glossary::find(&step.name).is_some_and(|(known, danced)| {
        known.source == Source::CommonPractice && danced.movements == step.movements
    })
}

#[cfg(test)]
mod tests {
    use super::super::parse;

    fn counts(part: &str) -> u32 {
        let (routine, findings) = parse(&format!("Wren Lane\n\nPart A\n{part}\n"));
        assert!(findings.iter().all(|f| !f.is_mistake()), "{part}: {findings:?}");
        routine.parts[0].lines.iter().map(super::StepLine::counts).sum()
    }

    #[test]
    fn a_number_in_front_of_a_part_danced_again_is_its_counts() {
        assert_eq!(counts("4 Joeys\n16 Repeat Part A from the top"), 32);
        assert_eq!(counts("2 Joeys\n2 Triples\n16 Repeat"), 32);
    }

    #[test]
    fn the_way_a_step_goes_this_time_is_no_step() {
        assert_eq!(
            counts("Vine L (4)\n3 Joeys (12)\nRepeat above with R foot, vine to R .... 16"),
            32
        );
    }
}
