//! Other simple readings of a line or part by which its stated counts are right. Where there is one, nobody can say that
//! they are wrong.

use std::collections::HashSet;

use super::fault::Fault;
use super::finding::Finding;
use super::glossary;
use super::item::{Body, Item, Parsed};
use super::line::Line;
use super::model::{Part, Routine, StepUse};
use super::sections::Section;
use super::vocabulary::content;
use super::words::{in_figures, is_bars_word};

/// What is looked at for other readings.
pub(super) struct OtherReadings<'s> {
    pub(super) routine: &'s Routine,
    pub(super) sections: &'s [Section],
    pub(super) parsed: &'s [Option<Parsed>],
    pub(super) lines: &'s [Line<'s>],
    /// Lines whose counts are not those of their steps.
    pub(super) in_conflict: HashSet<usize>,
}

impl OtherReadings<'_> {
    /// Whether what a finding holds to be wrong is right by another reading.
    pub(super) fn clears(&self, f: &Finding) -> bool {
        match f.fault {
            Fault::PartCounts { stated, steps } => {
                is_absurd(stated, steps) || self.part_is_right(f.line, stated, steps)
            }
            Fault::LineCounts { stated, .. } | Fault::StepCounts { stated, .. } => {
                self.line_is_right(f.line, stated)
            }
            _ => false,
        }
    }

    /// Whether every line of a part states the counts that it is danced by, and these do not come to those of its heading.
    pub(super) fn goes_against_its_lines(&self, f: &Finding) -> bool {
        let Fault::PartCounts { stated, .. } = f.fault else { return false };
        let Some(part) = self.routine.part_begun_on(f.line) else { return false };
        let typed = |line: usize| -> Option<u32> {
            let read = self.parsed.get(line.checked_sub(1)?)?.as_ref()?;
            let items = read.items.iter().filter(|item| !item.stated_each);
            items.filter_map(|item| Some(item.stated?.0)).reduce(u32::saturating_add)
        };
        let all =
            part.lines.len() > 1 && part.lines.iter().all(|l| typed(l.line) == Some(l.counts()));
        all && self.slips_in(part) && part.counts() != stated
    }

    fn part_is_right(&self, line: usize, stated: u32, steps: u32) -> bool {
        let Some(part) = self.routine.part_begun_on(line) else { return false };
        let Some(section) = self.sections.iter().find(|s| s.line + 1 == line) else { return false };
        self.by_numbers(section, stated)
            || !self.slips_in(part) && by_glossary(part.steps()) == stated
            || self.without_rows_of_movements(part) == Some(stated)
            || self.speaks_of_bars() && (steps == 2 * stated || stated == 2 * steps)
            || part.lines.iter().any(|l| {
                let rest = steps.saturating_sub(l.counts());
                self.may_be_other_counts(part, l.line, l.counts())
                    .into_iter()
                    .any(|other| rest + other == stated)
            })
    }

    /// The counts of a part whose lines of movements below named steps only spell them out; none where it has no such lines.
    fn without_rows_of_movements(&self, part: &Part) -> Option<u32> {
        let bodies = |line: usize| -> Vec<&Body> {
            let read = line.checked_sub(1).and_then(|i| self.parsed.get(i)?.as_ref());
            let bodies = read.map_or(Vec::new(), |p| p.items.iter().map(|i| &i.body).collect());
            bodies.into_iter().filter(|body| **body != Body::Nothing).collect()
        };
        let named = |line: usize| {
            let mut all = bodies(line).into_iter();
            all.next().is_some() && !bodies(line).contains(&&Body::Moves)
        };
        let row = |line: usize| matches!(bodies(line)[..], [Body::Moves]);
        let rows = part.lines.windows(2).filter(|w| named(w[0].line) && row(w[1].line));
        let counts = rows.map(|w| w[1].counts()).reduce(u32::saturating_add)?;
        part.counts().checked_sub(counts)
    }

    /// Whether counts of a line of a part are not those of its steps: then the slip may be there.
    fn slips_in(&self, part: &Part) -> bool {
        part.lines.iter().any(|l| self.in_conflict.contains(&l.line))
    }

    /// Whether each line of a part has a number in the same place, and these come to its counts.
    fn by_numbers(&self, section: &Section, stated: u32) -> bool {
        let texts: Vec<&str> = section
            .body
            .iter()
            .filter(|i| **i != section.line)
            .filter_map(|i| Some(self.lines.get(*i)?.typed))
            .filter(|text| text.chars().any(char::is_alphanumeric))
            .collect();
        let sum = |of: fn(&str) -> Option<u32>| -> Option<u32> {
            texts.iter().try_fold(0u32, |sum, text| sum.checked_add(of(text)?))
        };
        // Numbers that were read as counts say that another is wrong.
        let read = |i: &usize| {
            let line = self.parsed.get(*i).and_then(Option::as_ref);
            line.is_some_and(|p| p.items.iter().any(|item| item.stated.is_some()))
        };
        texts.len() > 1
            && !section.body.iter().all(read)
            && [first_number, last_number, only_number]
                .into_iter()
                .any(|of| sum(of) == Some(stated))
    }

    fn speaks_of_bars(&self) -> bool {
        self.lines.iter().any(|l| l.text.split(|c: char| !c.is_alphabetic()).any(is_bars_word))
    }

    /// Other counts that a line of a part may come to: none where it is told in a sentence, those of other repeats where
    /// it does not say how often or how far back.
    fn may_be_other_counts(&self, part: &Part, line: usize, counts: u32) -> Vec<u32> {
        let Some(read) = line.checked_sub(1).and_then(|i| self.parsed.get(i)?.as_ref()) else {
            return Vec::new();
        };
        let text = self.lines.get(line - 1).map_or("", |l| l.text.as_str());
        let mut out = Vec::new();
        if content(text).other > 2 {
            out.push(0);
        }
        let before = part.lines.iter().take_while(|l| l.line < line);
        let above: Vec<u32> = before.map(|l| l.counts()).collect();
        for item in &read.items {
            if item.stated_before_times {
                out.extend([counts * item.times, counts / item.times.max(1)]);
            }
            if matches!(item.body, Body::Repeat { .. })
                && item.repeats.is_none()
                && item.repeats_lines.is_none()
            {
                // So many of the lines above, once or as often as is said.
                let back = (1..=above.len()).map(|n| above[above.len() - n..].iter().sum::<u32>());
                out.extend(back.flat_map(|sum| [sum, sum.saturating_mul(item.times)]));
            }
        }
        out
    }

    /// Whether the counts of a line are those of its steps as the glossary has them.
    fn line_is_right(&self, line: usize, stated: u32) -> bool {
        let Some(read) = line.checked_sub(1).and_then(|i| self.parsed.get(i)?.as_ref()) else {
            return false;
        };
        let once = |item: &Item| match &item.body {
            Body::Known(key) => glossary::find_by_key(key).map(|(_, step)| step.counts),
            _ => None,
        };
        let all = |item: &Item| Some(once(item)?.saturating_mul(item.times.max(1)));
        read.items.iter().any(|item| all(item) == Some(stated))
            || read.items.iter().filter_map(all).sum::<u32>() == stated
    }
}

/// Whether steps are so far from what is stated that they were hardly understood.
fn is_absurd(stated: u32, steps: u32) -> bool {
    steps > stated.saturating_mul(2) || steps.saturating_mul(2) < stated
}

/// What steps come to by their names, whatever movements the sheet gives them.
fn by_glossary<'p>(steps: impl Iterator<Item = &'p StepUse>) -> u32 {
    steps
        .map(|step| glossary::length_of(&step.name).unwrap_or(step.counts))
        .fold(0, u32::saturating_add)
}

/// A word as a number, without brackets and the like around it.
fn plain_number(word: &str) -> Option<u32> {
    let word = word.trim_matches(|c: char| !c.is_alphanumeric() && !matches!(c, '-' | '/' | '&'));
    in_figures(word)
}

fn first_number(text: &str) -> Option<u32> {
    text.split_whitespace().next().and_then(plain_number)
}

fn last_number(text: &str) -> Option<u32> {
    text.split_whitespace().rev().take(2).find_map(plain_number)
}

fn only_number(text: &str) -> Option<u32> {
    let mut numbers = text.split_whitespace().filter_map(plain_number);
    numbers.next().filter(|_| numbers.next().is_none())
}
