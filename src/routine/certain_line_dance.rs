//! Whether what seems a mistake in a line dance was read for certain. Its lines are sentences, which no shape shows to be
//! read right; what shows it are the counts in front of them, and that nothing was taken by these alone.

use super::certain::RIGHT_FOR_EACH_WRONG;
use super::doubt::{counts_differ, is_unread};
use super::fault::Fault;
use super::finding::Finding;
use super::line_dance::LineDance;
use super::model::{Part, Routine, StepUse};
use super::repeats::is_common_practice;

/// A line dance and what was found in it, before anything is weighed.
pub(super) struct CertainLineDance<'s> {
    pub(super) dance: &'s LineDance,
    pub(super) routine: &'s Routine,
    pub(super) findings: &'s [Finding],
}

impl CertainLineDance<'_> {
    /// Whether a mistake may be told; none where it is not of line dances alone.
    pub(super) fn is_told(&self, f: &Finding) -> Option<bool> {
        Some(match &f.fault {
            Fault::PartCounts { stated, steps } => self.counts_are_certain(f.line, *stated, *steps),
            // More than twice as many are rather misread.
            Fault::LineCounts { stated, steps } | Fault::StepCounts { stated, steps } => {
                *steps <= stated.saturating_mul(2)
                    && *stated <= steps.saturating_mul(2)
                    && self.most_lines_come_out()
            }
            Fault::LeadDiffers { .. }
            | Fault::FeetDiffer { .. }
            | Fault::FeetNumber { .. }
            | Fault::SameFootFree { .. } => {
                !self.is_open_before(f.line) && self.weight_is_certain(f.line)
            }
            Fault::WallDiffers { .. } => !self.is_open_before(f.line),
            // Where one line has several figures its end is not where the count falls.
            Fault::RestartCuts { counts, has } => counts > has,
            Fault::PartEmpty => false,
            _ => return None,
        })
    }

    /// Whether the counts of a section, or of the whole dance, are known: more than the sections state may be of a tag that
    /// was missed.
    fn counts_are_certain(&self, line: usize, stated: u32, steps: u32) -> bool {
        let unread = |f: &Finding| is_unread(&f.fault) && f.line > line;
        if self.findings.iter().any(unread) {
            return false;
        }
        let sum = self.dance.sections.iter().map(|(_, counts)| *counts).sum::<Option<u32>>();
        let of_a_section = |(at, counts): &(usize, Option<u32>)| {
            at + 1 == line && *counts == Some(stated) && sum != Some(stated)
        };
        self.dance.sections.iter().any(of_a_section) || sum != Some(stated) || steps < stated
    }

    fn most_lines_come_out(&self) -> bool {
        let lines = self.routine.parts.iter().map(|p| p.lines.len()).sum::<usize>();
        let wrong = self.findings.iter().filter(|f| counts_differ(&f.fault)).count();
        lines.saturating_sub(wrong) >= RIGHT_FOR_EACH_WRONG * wrong
    }

    /// Whether a line up to one was taken by its counts or has others, so that nobody knows its feet and turns.
    fn is_open_before(&self, line: usize) -> bool {
        let open =
            |f: &Finding| is_unread(&f.fault) || matches!(f.fault, Fault::FeetUnknown { .. });
        self.findings.iter().any(|f| f.line <= line && open(f))
    }

    /// Whether the weight is known after each step up to a line: a stomp may or may not take it.
    fn weight_is_certain(&self, line: usize) -> bool {
        let parts = self.routine.parts.iter();
        let open =
            |step: &StepUse| is_common_practice(step) || step.name.to_lowercase().contains("stomp");
        let lines = parts.flat_map(|p: &Part| &p.lines).filter(|l| l.line <= line);
        !lines.flat_map(|l| &l.steps).any(open)
    }
}
