//! Marks on phrases: set, move, label, split, remove.

use crate::error::Result;
use crate::plain;
use crate::units::Count;

use super::super::check::LONGEST_LABEL;
use super::super::lay::{Fall, fall, nearness};
use super::super::map::{SetPhrase, SongMap};
use super::super::view::{Phrase, SongView};
use super::{At, Place, Which, bad, long, mark_time_s, spot};

/// A name as it is kept: one line, single spaces, the user's own words.
pub(super) fn clean_label(typed: &str) -> Result<String> {
    let text = plain::clean(typed);
    if text.is_empty() {
        return Err(bad("a phrase needs a name: verse, chorus, bridge, or a word of your own"));
    }
    if text.chars().count() > LONGEST_LABEL {
        let start: String = text.chars().take(20).collect();
        return Err(bad(format!(
            "the name \"{start}…\" is too long: {LONGEST_LABEL} characters are the most"
        )));
    }
    if super::words::place(&text).is_ok() {
        return Err(bad(format!(
            "\"{text}\" is a count or a time, not a name; a phrase needs a word, as in \"verse\""
        )));
    }
    Ok(text)
}

impl SongMap {
    pub(super) fn mark_phrases(
        &mut self,
        phrases: &[(Place, String)],
    ) -> Result<(String, Vec<String>)> {
        let view = self.view()?;
        let mut said: Vec<String> = Vec::new();
        let mut marked: Vec<Count> = Vec::new();
        for (place, label) in phrases {
            let (count, label) = (place.count(&view)?, clean_label(label)?);
            if marked.contains(&count) {
                return Err(bad(format!(
                    "two phrases cannot start on count {count} (\"{}\"); give them a count each",
                    place.typed
                )));
            }
            marked.push(count);
            let there = view.phrases.iter().position(|p| p.set && p.start == count);
            match there {
                Some(index) if view.phrases[index].label == label => {}
                Some(index) => {
                    let name = &view.names()[index];
                    return Err(bad(format!(
                        "{name} is marked on count {count} already; two phrases cannot start there. \
                         To call it something else: label {count} {label}. To start it elsewhere: \
                         move {count} to COUNT"
                    )));
                }
                None => self.set_phrase(&view, count, &label),
            }
            let instead = in_place_of(&view, count, None);
            said.push(format!("{label} starts on {}{instead}", spot(&view, count)));
        }
        let after = self.view()?;
        let names = after.names();
        let notes = marked
            .iter()
            .flat_map(|count| {
                let index = after.phrase_at(*count);
                [index.and_then(|index| index.checked_sub(1)), index].into_iter().flatten()
            })
            .filter(|&index| (after.phrases[index].counts as i32) < nearness(after.counts_per_bar))
            .map(|index| {
                let counts = after.phrases[index].counts;
                format!("{} is only {} long now", names[index], long(counts))
            })
            .collect();
        Ok((said.join("; "), notes))
    }

    pub(super) fn move_phrase(&mut self, which: &Which, to: &Place) -> Result<String> {
        let view = self.view()?;
        let index = which.starting(&view)?;
        let (name, phrase) = (&view.names()[index], &view.phrases[index]);
        let target = to.count(&view)?;
        if phrase.start == target {
            return Ok(format!("{name} starts on {} already", spot(&view, target)));
        }
        if index == 0 && !phrase.set && phrase.is_intro() {
            return Err(bad(format!(
                "the {name} is what comes before the first phrase and always starts on count 1; mark \
                 where the next phrase starts instead, or set the first count with \"first\""
            )));
        }
        let (low, high) = (phrase.start.min(target), phrase.start.max(target));
        let near = nearness(view.counts_per_bar);
        let in_the_way = view.phrases.iter().enumerate().find(|(other, p)| {
            let superseded = !p.set && (p.start - target).abs() < near;
            *other != index && p.start >= low && p.start <= high && !superseded
        });
        // The intro that merely fills the counts before the first phrase is in nobody's way.
        if let Some((other, p)) = in_the_way.filter(|(_, p)| p.start > Count::FIRST || p.set) {
            return Err(bad(format!(
                "{name} cannot move from count {} to count {target}: {} starts on count {}. Move or \
                 remove that one first",
                phrase.start,
                view.names()[other],
                p.start
            )));
        }
        self.unset(&view, phrase);
        self.set_phrase(&view, target, &phrase.label);
        self.hide_suggestions(phrase.start, target)?;
        let (from, to) = (phrase.start, spot(&view, target));
        let instead = in_place_of(&view, target, Some(index));
        Ok(format!("{name} moved from count {from} to {to}{instead}"))
    }

    pub(super) fn label_phrase(&mut self, which: &Which, label: &str) -> Result<String> {
        let view = self.view()?;
        let index = which.containing(&view)?;
        let (name, phrase) = (&view.names()[index], &view.phrases[index]);
        let label = clean_label(label)?;
        if phrase.set && phrase.label == label {
            return Ok(format!("{name} on count {} has that name already", phrase.start));
        }
        self.unset(&view, phrase);
        self.set_phrase(&view, phrase.start, &label);
        Ok(format!("{name} on {} is now {label}", spot(&view, phrase.start)))
    }

    pub(super) fn split_phrase(
        &mut self,
        which: Option<&Which>,
        at: &Place,
        label: Option<&str>,
    ) -> Result<String> {
        let view = self.view()?;
        let count = at.count(&view)?;
        let index = match which {
            Some(which) => which.containing(&view)?,
            None => view.phrase_at(count).unwrap_or(0),
        };
        let (name, phrase) = (&view.names()[index], &view.phrases[index]);
        if count <= phrase.start || count >= phrase.end() {
            return Err(bad(format!(
                "{name} cannot be split at count {count}: it has counts {} to {}; split it after \
                 its first count and before its end",
                phrase.start,
                phrase.end() + -1
            )));
        }
        let second = clean_label(label.unwrap_or(&phrase.label))?;
        if !phrase.set {
            self.set_phrase(&view, phrase.start, &phrase.label);
        }
        self.set_phrase(&view, count, &second);
        let (first_part, second_part) = (count - phrase.start, phrase.end() - count);
        Ok(format!(
            "{name} split on {}: {} and, as {second}, {}",
            spot(&view, count),
            long(first_part.max(0) as u32),
            long(second_part.max(0) as u32)
        ))
    }

    pub(super) fn remove_phrases(&mut self, which: &[Which]) -> Result<String> {
        let view = self.view()?;
        let mut said = Vec::new();
        // All are looked up before any goes, so that "remove verse 1, verse 2" means what it says.
        let indices: Vec<usize> =
            which.iter().map(|which| which.starting(&view)).collect::<Result<_>>()?;
        for index in indices {
            let (name, phrase) = (&view.names()[index], &view.phrases[index]);
            if phrase.start == Count::FIRST && !phrase.set {
                return Err(bad(format!(
                    "{name} starts on count 1, where something always starts; to call it something \
                     else: label 1 NAME"
                )));
            }
            self.unset(&view, phrase);
            if phrase.start > Count::FIRST {
                self.hide_suggestions(phrase.start, Count::FIRST)?;
            }
            said.push(format!(
                "no phrase starts on {} any more ({name})",
                spot(&view, phrase.start)
            ));
        }
        Ok(said.join("; "))
    }

    fn set_phrase(&mut self, view: &SongView, count: Count, label: &str) {
        let start_s = mark_time_s(view, count);
        let phrases = &mut self.set.phrases;
        phrases.push(SetPhrase { label: label.to_string(), start_s });
        phrases.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    }

    /// Takes away the user's marks that make a phrase of the view start where it does.
    fn unset(&mut self, view: &SongView, phrase: &Phrase) {
        let counts = &view.counts;
        let earliest = phrase.start == Count::FIRST;
        self.set.phrases.retain(|mark| match fall(mark.start_s, counts) {
            Fall::On(count) => Count(count) != phrase.start,
            // A mark before counting starts may be the one heard on count 1.
            Fall::Before => !(earliest && phrase.set && mark.label == phrase.label),
            Fall::After => true,
        });
    }

    /// Takes away suggestions that would now start a phrase at or near `count`, where the user has
    /// none any more; not one on `keep`.
    fn hide_suggestions(&mut self, count: Count, keep: Count) -> Result<()> {
        let after = self.view()?;
        let near = nearness(after.counts_per_bar);
        let back = after.phrases.iter().filter(|p| {
            !p.set && p.start != keep && (p.start - count).abs() < near && p.strength >= 0.0
        });
        let hidden: Vec<f64> = back.map(|p| mark_time_s(&after, p.start)).collect();
        self.set.removed_s.extend(hidden);
        self.set.removed_s.sort_by(f64::total_cmp);
        self.set.removed_s.dedup();
        Ok(())
    }
}

/// Names the suggestions that a mark on `count` takes the place of, but for the phrase at `but`.
fn in_place_of(view: &SongView, count: Count, but: Option<usize>) -> String {
    let near = nearness(view.counts_per_bar);
    let names = view.names();
    let gone: Vec<&str> = (0..names.len())
        .filter(|&index| Some(index) != but)
        .filter(|&index| {
            let p = &view.phrases[index];
            // What merely fills the counts from 1 on gives way without a word.
            let real = p.start == count || p.start > Count::FIRST;
            !p.set && real && (p.start - count).abs() < near
        })
        .map(|index| names[index].as_str())
        .collect();
    if gone.is_empty() { String::new() } else { format!(", in place of {}", gone.join(" and ")) }
}

impl Which {
    /// The phrase that starts at the place, or has the name.
    fn starting(&self, view: &SongView) -> Result<usize> {
        let Which::At(place) = self else {
            return self.containing(view);
        };
        let count = place.count(view)?;
        // A time is read off a player by a person: within a bar it means the phrase that starts there.
        let slack = match place.at {
            At::Count(_) => 1,
            At::Time(_) => nearness(view.counts_per_bar),
        };
        let distance = |index: &usize| (view.phrases[*index].start - count).abs();
        let nearest = (0..view.phrases.len()).min_by_key(distance).unwrap_or(0);
        if distance(&nearest) < slack {
            return Ok(nearest);
        }
        let (name, start) = (&view.names()[nearest], view.phrases[nearest].start);
        Err(bad(format!(
            "no phrase starts at {}; the nearest is {name}, which starts on {}",
            place.typed,
            spot(view, start)
        )))
    }

    /// The phrase in which the place lies, or that has the name.
    fn containing(&self, view: &SongView) -> Result<usize> {
        let named = match self {
            Which::At(place) => {
                let count = place.count(view)?;
                return Ok(view.phrase_at(count).unwrap_or(0));
            }
            Which::Named(name) => name,
        };
        let folded =
            |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let wanted = folded(named);
        let names = view.names();
        let called = |label: &dyn Fn(usize) -> String| -> Vec<usize> {
            (0..names.len()).filter(|&i| folded(&label(i)) == wanted).collect()
        };
        let by_label = called(&|i| view.phrases[i].label.clone());
        let by_name = called(&|i| names[i].clone());
        match (by_label.as_slice(), by_name.as_slice()) {
            ([one], _) | (_, [one]) => Ok(*one),
            ([], []) => {
                let likeness = |i: &usize| strsim::jaro_winkler(&folded(&names[*i]), &wanted);
                let nearest = (0..names.len())
                    .max_by(|a, b| likeness(a).total_cmp(&likeness(b)))
                    .unwrap_or(0);
                Err(bad(format!(
                    "no phrase is called \"{named}\"; did you mean {} on count {}?",
                    names[nearest], view.phrases[nearest].start
                )))
            }
            (several, others) => {
                let several = if several.is_empty() { others } else { several };
                let all: Vec<String> = several
                    .iter()
                    .map(|&i| format!("{} on count {}", names[i], view.phrases[i].start))
                    .collect();
                Err(bad(format!(
                    "\"{named}\" could be {} phrases: {}. Say which by its number or its count",
                    several.len(),
                    all.join(", ")
                )))
            }
        }
    }
}
