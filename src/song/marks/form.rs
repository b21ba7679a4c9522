//! The whole form as a list of lengths: "intro 16, verse 32, chorus 36".

use crate::error::Result;
use crate::units::{Count, clock};

use super::super::map::{SetPhrase, SongMap};
use super::super::pulse::Ratio;
use super::phrases::clean_label;
use super::{bad, long, mark_time_s};

/// A phrase of the form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FormItem {
    /// Its name.
    pub label: String,
    /// Its length.
    pub length: Length,
}

/// A length as the user gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Length {
    /// In counts.
    Counts(u32),
    /// In bars.
    Bars(u32),
    /// Whatever is left of the song. Only the last phrase can have it.
    Rest,
}

impl SongMap {
    pub(super) fn mark_form(&mut self, items: &[FormItem]) -> Result<(String, Vec<String>)> {
        // An end set for an earlier form is no end of this one.
        self.set.end_s = None;
        let view = self.view()?;
        let song = view.counts.len() as u64;
        let mut starts: Vec<(u64, String)> = Vec::new();
        let mut total: u64 = 0;
        for (place, item) in items.iter().enumerate() {
            let label = clean_label(&item.label)?;
            let counts = match item.length {
                Length::Counts(counts) => u64::from(counts),
                Length::Bars(bars) => u64::from(bars) * u64::from(view.counts_per_bar),
                Length::Rest if place + 1 < items.len() => {
                    return Err(bad(format!(
                        "\"{label}\" has no length; only the last phrase may take the rest. Write it \
                         as in \"{label} 32\" or \"{label} 4 eights\""
                    )));
                }
                Length::Rest => song.saturating_sub(total).max(1),
            };
            if counts == 0 {
                return Err(bad(format!("\"{label}\" has no counts; leave it out")));
            }
            starts.push((total, label));
            total = total.saturating_add(counts);
        }
        let Some((last_start, last_label)) = starts.last() else {
            return Err(bad("the form is empty; write it as in \"intro 16, verse 32, chorus 36\""));
        };
        if *last_start >= song {
            return Err(self.form_too_long(&starts, total, song));
        }
        let mut notes = Vec::new();
        if total > song {
            notes.push(format!(
                "the song has {} fewer than the list: {last_label} gets {} of its {}",
                counts(total - song),
                song - last_start,
                counts(total - last_start)
            ));
        } else if total < song {
            let end = Count::from_index(total as usize);
            self.set.end_s = Some(mark_time_s(&view, end));
            notes.push(format!(
                "{} of the song are left over after {last_label}, from {} on; they are not counted. If \
                 they are danced, add a phrase for them at the end of the list",
                counts(song - total),
                clock(view.counts.time_or_beyond_s(end))
            ));
            notes.extend(self.pulse_hint(total, song));
        }
        let number = starts.len();
        self.set.phrases = starts
            .into_iter()
            .map(|(before, label)| {
                let start_s = mark_time_s(&view, Count::from_index(before as usize));
                SetPhrase { label, start_s }
            })
            .collect();
        self.set.removed_s.clear();
        self.set.phrases_complete = true;
        let length = u32::try_from(total.min(song)).unwrap_or(u32::MAX);
        let phrases = if number == 1 { "1 phrase".into() } else { format!("{number} phrases") };
        Ok((format!("the form is {phrases} from count 1 on: {}", long(length)), notes))
    }

    fn form_too_long(
        &self,
        starts: &[(u64, String)],
        total: u64,
        song: u64,
    ) -> crate::error::Error {
        let beyond = starts.iter().find(|(start, _)| *start >= song);
        let (start, label) = beyond.map_or((0, ""), |(start, label)| (*start, label.as_str()));
        let mut words = format!(
            "the list has {}, the song only {song}: {} are missing, and {label} would start on count \
             {}, past the end",
            counts(total),
            counts(total - song),
            start.saturating_add(1)
        );
        match self.pulse_hint(total, song) {
            Some(hint) => words = format!("{words}. {hint}"),
            None => words.push_str(". Check the lengths"),
        }
        bad(words)
    }

    /// A total near half or double the song's counts points at the pulse.
    fn pulse_hint(&self, total: u64, song: u64) -> Option<String> {
        let ratio = total as f64 / song as f64;
        let near = |r: f64| (ratio / r).ln().abs() < 1.15_f64.ln();
        let (word, command) = match () {
            () if near(2.0) => ("double", "double"),
            () if near(0.5) => ("half", "half"),
            () => return None,
        };
        let pulse = self.corrected().ratio;
        (pulse == Ratio::ONE || self.set.pulse.is_some()).then(|| {
            format!(
                "The list is about {word} the song: perhaps the pulse is too {}; try \
                 \"{command}\" first",
                if word == "double" { "slow" } else { "fast" }
            )
        })
    }
}

fn counts(counts: u64) -> String {
    if counts == 1 { "1 count".into() } else { format!("{counts} counts") }
}
