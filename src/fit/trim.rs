//! Mends that take counts away: a fill left out, a part's last steps left out or danced otherwise.

use super::edit::{Edit, step_line, with_tail};
use super::fill::{Known, fill};
use super::lay::Laid;
use super::mend::with_steps;
use super::model::{Suggestion, SuggestionKind};
use super::words::number;
use crate::routine::{Part, StepUse};
use crate::units::Foot;

/// How many counts more than needed a trim may take away and dance otherwise: one eight.
const REDANCED: u32 = 8;

/// A trimmed part, and what was done to it.
pub(super) struct Trim {
    part: Part,
    /// Counts taken off its end.
    cut: u32,
    cut_steps: Vec<StepUse>,
    /// Steps danced in their place, fewer counts.
    more: Vec<StepUse>,
    free_foot_after: Foot,
    foot_is_right: bool,
}

impl Laid<'_> {
    /// For an item that runs over the next: leave out a fill before it, or its last steps.
    pub(super) fn shorten(&self, item: usize, counts: u32, known: &[Known]) -> Vec<Suggestion> {
        let mut choices = Vec::new();
        let mut i = item;
        loop {
            if self.items[i].fill && self.items[i].counts as u32 == counts {
                choices.push(self.leave_out(i));
            }
            let follows = |i: usize| {
                self.way().starts[i - 1] + self.items[i - 1].counts == self.way().starts[i]
            };
            if i == 0 || self.ground.is_start(self.way().starts[i]) || !follows(i) {
                break;
            }
            i -= 1;
        }
        choices.extend(self.trims(item, counts, known).into_iter().map(|t| self.trimmed(item, t)));
        choices
    }

    /// Ways to make the part of an item `counts` shorter, for this time.
    pub(super) fn trims(&self, item: usize, counts: u32, known: &[Known]) -> Vec<Trim> {
        let part = self.part_of(item);
        let lead = self.placements[item].lead_foot;
        let wanted = self.usual_lead(item + 1);
        if part.lines.is_empty() {
            let shorter = Part {
                name: format!("{} short", part.name),
                stated_counts: Some(part.counts().saturating_sub(counts)),
                ..part.clone()
            };
            return vec![Trim {
                part: shorter,
                cut: counts,
                cut_steps: vec![],
                more: vec![],
                free_foot_after: lead,
                foot_is_right: true,
            }];
        }
        let steps: Vec<&StepUse> = part.steps().collect();
        let eighths = |part: &Part| part.steps().map(StepUse::eighths).sum::<i32>();
        let turn = eighths(part);
        let mut ways: Vec<((bool, bool, u32), Trim)> = Vec::new();
        let mut cut = 0;
        for number in 1..=steps.len() {
            let cut_steps = &steps[steps.len() - number..];
            cut += cut_steps[0].counts;
            if cut < counts {
                continue;
            }
            if cut > counts + REDANCED {
                break;
            }
            let redanced = cut - counts;
            let kept_swaps =
                steps[..steps.len() - number].iter().filter(|s| s.swaps_free_foot).count();
            let free = if kept_swaps % 2 == 1 { lead.other() } else { lead };
            for end in [Foot::Left, Foot::Right] {
                let more = match redanced {
                    0 if end == free => Some(vec![]),
                    0 => None,
                    n => fill(known, n, end != free),
                };
                let Some(more) = more else { continue };
                let part = with_tail(part, number, &more);
                let turned = (eighths(&part) - turn).rem_euclid(8) != 0;
                let foot_is_right = wanted.is_none_or(|w| w == end);
                let trim = Trim {
                    part,
                    cut,
                    cut_steps: cut_steps.iter().map(|s| (*s).clone()).collect(),
                    more,
                    free_foot_after: end,
                    foot_is_right,
                };
                ways.push(((!foot_is_right, turned, cut), trim));
            }
        }
        ways.sort_by_key(|w| w.0);
        ways.into_iter().map(|w| w.1).take(2).collect()
    }

    pub(super) fn trimmed(&self, item: usize, trim: Trim) -> Suggestion {
        let at = self.way().starts[item] + self.items[item].counts - trim.cut as i32;
        let less = trim.cut - trim.more.iter().map(|s| s.counts).sum::<u32>();
        let name = self.item_name(item);
        let what = match (trim.cut_steps.as_slice(), trim.more.as_slice()) {
            ([], _) => format!("make {name} {} shorter", number(less)),
            (cut, []) => {
                format!("leave out the last {} of {name}: {}", number(less), step_line(cut).text)
            }
            (cut, more) => format!(
                "at the end of {name} dance {} in place of {}, {} less",
                step_line(more).text,
                step_line(cut).text,
                number(less)
            ),
        };
        let but = match self.placements.get(item + 1) {
            Some(next) if !trim.foot_is_right => format!(
                "; {} then starts on the {} foot, not the {}",
                self.item_name(item + 1),
                trim.free_foot_after,
                self.usual_lead(item + 1).unwrap_or(next.lead_foot)
            ),
            _ => String::new(),
        };
        let message = format!("{what}{but}");
        let lead = foot_after(&trim.part, trim.more.len(), self.placements[item].lead_foot);
        let after = (!trim.cut_steps.is_empty()).then_some(trim.free_foot_after);
        let edits = vec![Edit::Instead { at: self.order_index(item), part: trim.part }];
        let made = self.suggestion(SuggestionKind::Trim, at, less, edits, message);
        Suggestion {
            lead_foot: after.map(|_| lead),
            free_foot_after: after,
            ..with_steps(made, &trim.more, lead)
        }
    }
}

/// The foot that is free before the last `more` steps of a part.
fn foot_after(part: &Part, more: usize, lead: Foot) -> Foot {
    let kept = part.steps().count().saturating_sub(more);
    let swaps = part.steps().take(kept).filter(|s| s.swaps_free_foot).count();
    if swaps % 2 == 1 { lead.other() } else { lead }
}
