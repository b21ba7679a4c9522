//! The parts of a sheet, built one after another from its sections.

use std::collections::HashMap;

use super::build::{Built, MOST_STEPS};
use super::doubt::is_doubt;
use super::finding::{Fault, Finding, Severity};
use super::line::Line;
use super::model::{Part, PartKind, Routine, StepUse};
use super::parse::LineRole;
use super::phrases::without_again;
use super::proof::PartClaims;
use super::sections::Section;
use super::settle::{Typed, build_part, settle_notes};
use super::titles::is_known_part;
use super::words::key;
use super::written_order::WrittenOrder;

/// Builds them, and keeps what is said beside their steps.
pub(super) struct PartsReader<'s> {
    typed: Typed<'s>,
    routine: &'s mut Routine,
    findings: &'s mut Vec<Finding>,
    roles: &'s mut [LineRole],
    by_name: HashMap<String, usize>,
    /// Steps that may still be made.
    room: usize,
    claims: Vec<PartClaims>,
    written: WrittenOrder,
}

/// What a section says of its part before its steps are read.
struct Head {
    name: String,
    kind: PartKind,
    /// Counts, and where they stand.
    stated: Option<(u32, usize)>,
    times: u32,
}

impl<'s> PartsReader<'s> {
    pub(super) fn new(
        typed: Typed<'s>,
        routine: &'s mut Routine,
        findings: &'s mut Vec<Finding>,
        roles: &'s mut [LineRole],
    ) -> PartsReader<'s> {
        PartsReader {
            written: WrittenOrder::of(typed.kinds),
            typed,
            routine,
            findings,
            roles,
            by_name: HashMap::new(),
            room: MOST_STEPS,
            claims: Vec::new(),
        }
    }

    /// What each part claims, and what the headings say of the order.
    pub(super) fn read(mut self, sections: &[Section]) -> (Vec<PartClaims>, WrittenOrder) {
        for section in sections {
            self.section(section);
        }
        (self.claims, self.written)
    }

    fn section(&mut self, section: &Section) {
        let at = &self.typed.lines[section.line];
        let head = self.head(section);
        let counts = head.stated.map(|s| s.0);
        let built = self.build(section, &head);
        let (built, notes) =
            settle_notes(built, counts, self.typed.lines, self.typed.parsed, self.roles);
        let steps: usize = built.lines.iter().map(|l| l.steps.len()).sum();
        self.room = self.room.saturating_sub(steps);
        // `Chorus`, `Repeat (32)`: under a heading that comes again its part is what is repeated.
        let again = built.lines.is_empty() && self.by_name.contains_key(&key(&head.name));
        let asked = built.findings.iter().filter(|f| !again || f.fault != Fault::NothingToRepeat);
        self.findings.extend(asked.cloned());
        self.routine.notes.extend(notes);
        self.routine.notes.extend(built.notes.iter().cloned());
        if !self.is_new(&head, &built, at) {
            return;
        }
        if self.is_no_part(&head, &built, section.line) {
            self.by_name.remove(&key(&head.name));
            self.routine.notes.push(at.typed.trim().to_string());
            self.roles[section.line] = LineRole::Note;
            return;
        }
        self.written.push(self.routine.parts.len(), head.times, at.number);
        self.check_counts(&head, &built, at);
        let part = Part {
            name: head.name,
            kind: head.kind,
            stated_counts: counts,
            lines: built.lines,
            line: at.number,
        };
        self.claims.push(PartClaims {
            feet: built.feet,
            walls: built.walls,
            other_foot: built.other_foot,
            turns: part.steps().any(|s| s.eighths() != 0),
            feet_unknown: built.feet_unknown,
        });
        self.routine.parts.push(part);
    }

    fn head(&self, section: &Section) -> Head {
        match &section.heading {
            Some(h) => Head {
                name: self.comes_again(&h.name).unwrap_or(&h.name).to_string(),
                kind: h.kind,
                stated: h.counts,
                times: h.times,
            },
            None => {
                Head { name: "Dance".to_string(), kind: PartKind::Part, stated: None, times: 1 }
            }
        }
    }

    /// `Chorus again`: the name of the part that comes again.
    fn comes_again<'n>(&self, name: &'n str) -> Option<&'n str> {
        without_again(name).filter(|part| self.by_name.contains_key(&key(part)))
    }

    fn build(&self, section: &Section, head: &Head) -> Built {
        let parts = &self.routine.parts;
        let same_as = |other: &str| -> Option<(usize, Vec<StepUse>)> {
            let other = key(other);
            // `Same as first time` under a heading that comes again.
            let earlier =
                matches!(other.as_str(), "" | "first time" | "before" | "above" | "last time");
            let index = *self
                .by_name
                .get(&other)
                .or_else(|| self.by_name.get(&key(&format!("part {other}"))))
                .or_else(|| self.by_name.get(&key(&head.name)).filter(|_| earlier))?;
            Some((index, parts.get(index)?.steps().cloned().collect()))
        };
        let counts = head.stated.map(|s| s.0);
        build_part(&self.typed, section, counts, &same_as, parts, self.room)
    }

    /// Whether a part begins here that does not stand above; one that only comes again is danced again.
    fn is_new(&mut self, head: &Head, built: &Built, at: &Line<'_>) -> bool {
        let name = key(&head.name);
        let Some(first) = self.by_name.get(&name).copied() else {
            self.by_name.insert(name, self.routine.parts.len());
            return true;
        };
        if self.written.comes_again(first, &self.routine.parts, &built.lines) {
            self.written.push(first, head.times, at.number);
            return false;
        }
        let first_line = self.routine.parts.get(first).map_or(0, |p| p.line);
        // Where the page itself is the order a part may come back danced otherwise.
        let fault = match self.written.is_given() {
            true => Fault::PartTwice { first_line },
            false => Fault::PartOtherwise { first_line },
        };
        self.findings.push(Finding::at(at, at.whole(), fault));
        true
    }

    /// A few words with nothing beneath are no part unless their name is one; a letter at the very end, which the order
    /// does not name, is a signature.
    fn is_no_part(&self, head: &Head, built: &Built, line: usize) -> bool {
        if !built.lines.is_empty() || head.stated.is_some() {
            return false;
        }
        let signed = head.name.chars().count() == 1
            && is_last(self.typed.lines, line)
            && !self.may_be_in_an_order(&head.name);
        signed || !is_told(built) && !is_known_part(&head.name)
    }

    /// Whether a line of the order has a name among its words, or no line gives the order.
    fn may_be_in_an_order(&self, name: &str) -> bool {
        let named = |l: &Line<'_>| l.text.split(|c: char| !c.is_alphanumeric()).any(|w| w == name);
        let lines = self.typed.lines.iter().zip(self.typed.kinds);
        !self.written.is_given() || lines.filter(|(_, k)| k.is_order()).any(|(l, _)| named(l))
    }

    /// Holds a part's counts against those that its heading states.
    fn check_counts(&mut self, head: &Head, built: &Built, at: &Line<'_>) {
        let place = at.whole();
        let Some((stated, offset)) = head.stated else {
            // What could not be read beneath it is told already.
            let unread = built.findings.iter().any(|f| matches!(f.fault, Fault::NoStepInIt));
            if built.lines.is_empty() && !is_told(built) && !unread {
                self.findings.push(Finding::at(at, place, Fault::PartEmpty));
            }
            return;
        };
        let steps = built.counts();
        if built.lines.is_empty() || steps == stated {
            return;
        }
        let doubtful = !built.complete || built.findings.iter().any(|f| is_doubt(&f.fault));
        let fault = match doubtful {
            false => Fault::PartCounts { stated, steps },
            true => Fault::PartUnsure { stated, steps },
        };
        self.findings.push(Finding::at(at, (place.0, place.1.max(offset)), fault));
    }
}

/// Whether something is told of a part already.
fn is_told(built: &Built) -> bool {
    built.findings.iter().any(|f| f.severity() != Severity::Remark)
}

/// Whether nothing stands below a line.
fn is_last(lines: &[Line<'_>], at: usize) -> bool {
    lines[at + 1..].iter().all(|l| l.text.trim().is_empty())
}
