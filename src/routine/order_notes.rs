//! What an order says beside the names of its parts, and names that no part has.

use super::finding::{Fault, Finding};
use super::heading::{is_short_part, part_word};
use super::line::Line;
use super::model::PartKind;
use super::order::OrderReader;
use super::order_words::words_between;
use super::vocabulary::content;

impl OrderReader<'_> {
    /// `then both of them again`: the last two parts, where they are different ones.
    pub(super) fn both_again(
        &mut self,
        line: &Line<'_>,
        at: usize,
        findings: &mut Vec<Finding>,
    ) -> bool {
        let last: Vec<usize> = self.out.items.iter().rev().take(2).map(|item| item.part).collect();
        let [second, first] = last[..] else { return false };
        if first == second {
            return false;
        }
        self.add(first, line, (at, at), findings);
        self.add(second, line, (at, at), findings);
        true
    }

    fn named_in_capitals(&self, line: &Line<'_>) -> bool {
        let last = self.out.places.last().filter(|p| p.line == line.number && p.to > p.from);
        match last {
            Some(p) => line.typed.chars().nth(p.from).is_some_and(char::is_uppercase),
            // In front of the first name: those that follow.
            None => line.text.split(|c: char| !c.is_alphanumeric()).any(|word| {
                word.starts_with(char::is_uppercase) && self.names.find(word).is_some()
            }),
        }
    }

    /// Whether every part's name begins with a capital.
    fn all_in_capitals(&self) -> bool {
        !self.parts.is_empty() && self.parts.iter().all(|p| p.name.starts_with(char::is_uppercase))
    }

    fn nearest(&mut self, words: &str) -> Option<String> {
        if let Some(known) = self.unknown.get(words) {
            return known.clone();
        }
        let found = self.names.nearest(words);
        self.unknown.insert(words.to_string(), found.clone());
        found
    }

    /// What is short and not written out word by word, any other words together.
    fn report_small_letters(
        &self,
        line: &Line<'_>,
        (at, to): (usize, usize),
        words: &[(usize, usize)],
        findings: &mut Vec<Finding>,
    ) {
        let short: Vec<&(usize, usize)> = words
            .iter()
            .filter(|(from, to)| line.text.get(*from..*to).is_some_and(is_short_part))
            .collect();
        if short.is_empty() {
            findings.push(Finding::at(line, (at, to), Fault::NoteInOrder));
        }
        for place in short {
            findings.push(Finding::at(line, *place, Fault::NotWrittenOut));
        }
    }

    pub(super) fn report_unknown(
        &mut self,
        line: &Line<'_>,
        place: Option<(usize, usize)>,
        findings: &mut Vec<Finding>,
    ) {
        let Some((at, to)) = place else { return };
        self.times_ahead = 1;
        let words = line.typed_between(at, to);
        let nearest = self.nearest(&words);
        let separate = words_between(&line.text, at, to);
        // Words in small letters among names in capitals say how, or stand for something short.
        if nearest.is_none()
            && words.starts_with(char::is_lowercase)
            && (self.named_in_capitals(line) || self.all_in_capitals())
        {
            self.report_small_letters(line, (at, to), &separate, findings);
            return;
        }
        // Several words that are near no name together are told one by one.
        if nearest.is_none() && separate.len() > 1 && separate.len() < 8 {
            for (at, to) in separate {
                self.report_unknown(line, Some((at, to)), findings);
            }
            return;
        }
        // `Finish: 4 Stomps`: steps in the order are danced, and no part's.
        if nearest.is_none() && content(&words).is_steps() {
            let fault = Fault::Unsure(Box::new(Fault::NotWrittenOut));
            findings.push(Finding::at(line, (at, to), fault));
            return;
        }
        // `Simple!` is said of it.
        let exclaimed = line.text.get(to..).is_some_and(|rest| rest.starts_with(['!', '?']))
            || words.ends_with(['!', '?']);
        if nearest.is_none() && exclaimed {
            findings.push(Finding::at(line, (at, to), Fault::NoteInOrder));
            return;
        }
        // The trade's words for something short stand for it, written out or not.
        let fault = match nearest.is_none() && is_between_parts(&words) {
            true => Fault::NotWrittenOut,
            false => Fault::UnknownPart { nearest },
        };
        findings.push(Finding::at(line, (at, to), fault));
    }
}

/// Whether words are the trade's for what stands between verses and choruses.
fn is_between_parts(words: &str) -> bool {
    let said = part_word(words);
    said.is_some_and(|(word, kind)| {
        kind != PartKind::Part || matches!(word, "instrumental" | "interlude" | "hook")
    })
}
