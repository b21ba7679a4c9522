//! Marks: what the user says about a song, and how it is kept.
//!
//! Input: a song map and a [`Mark`]; output: the map with the mark in what was set, and [`Done`] in
//! words. What was heard is solved again where the
//! sound was kept and the mark is about beats. One change can be undone; undoing twice does it again.

mod beats;
mod form;
mod phrases;
pub mod words;

use crate::error::{Error, Result};
use crate::rhythm;
use crate::units::{Count, clock, eights};

use super::json::rounded;
use super::map::{SongMap, UserSet};
use super::view::SongView;

pub use form::FormItem;

/// Something the user says about a song.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// Phrases start here and are called this.
    Phrases(Vec<(Place, String)>),
    /// A phrase starts elsewhere.
    Move {
        /// The phrase, by its start or its name.
        which: Which,
        /// Its new start.
        to: Place,
    },
    /// A phrase is called something else.
    Label {
        /// The phrase, by a place in it or its name.
        which: Which,
        /// Its new name.
        label: String,
    },
    /// A phrase is two.
    Split {
        /// The phrase, by a place in it or its name; the one in which `at` lies when not given.
        which: Option<Which>,
        /// Where the second begins.
        at: Place,
        /// What the second is called; as the first when not given.
        label: Option<String>,
    },
    /// No phrase starts here.
    Remove(Vec<Which>),
    /// The whole form, from count 1 on.
    Form(Vec<FormItem>),
    /// Counting starts here.
    First(Place),
    /// The last count that is danced to.
    End(Place),
    /// Counts take twice as long.
    Half,
    /// Counts take half as long.
    Double,
    /// Counts a minute.
    Pulse(f64),
    /// Bars start this many counts later.
    BarShift(i32),
    /// A bar starts here.
    BarAt(Place),
    /// Counts to every bar.
    BeatsPerBar(u32),
    /// Times of beats, in seconds, in place of what was heard there.
    Tap(Vec<f64>),
    /// Tempo or bars change here; a bar starts.
    Change(Place),
    /// Back to what was heard.
    AsHeard(Correction),
    /// Takes the last change back.
    Undo,
}

/// What can go back to what was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Correction {
    /// All phrases and the end.
    Form,
    /// The first count.
    First,
    /// The end.
    End,
    /// The pulse.
    Pulse,
    /// The bar line.
    Bar,
    /// Beats to the bar.
    BeatsPerBar,
    /// Everything tapped.
    Tap,
    /// Where tempo or bars change.
    Change,
}

/// A place in the song, as typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The user's words.
    pub typed: String,
    /// What they mean.
    pub at: At,
}

/// What a place means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum At {
    /// A count.
    Count(Count),
    /// A time in seconds.
    Time(f64),
}

/// Which phrase is meant.
#[derive(Debug, Clone, PartialEq)]
pub enum Which {
    /// The one at a place.
    At(Place),
    /// The one of this name, `verse 2` or `bridge`.
    Named(String),
}

/// What a mark did, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Done {
    /// Whether anything is other than before.
    pub changed: bool,
    /// What changed, in one line.
    pub message: String,
    /// What deserves a word besides, a line each.
    pub notes: Vec<String>,
}

impl SongMap {
    /// Makes a mark. When it cannot be made the map stays as it is.
    ///
    /// # Errors
    /// [`Error::BadMark`] with the user's words, what is there instead, and what to do;
    /// [`Error::NoPulse`] for marks that need beats when there are none.
    pub fn mark(&mut self, mark: &Mark) -> Result<Done> {
        self.mark_hearing(mark, || None)
    }

    /// Makes a mark, and where it is about beats solves the rest of the song again with everything set
    /// held fast. `sound` gives what was kept of the sound, and is asked only when it is needed.
    ///
    /// # Errors
    /// As [`SongMap::mark`].
    pub fn mark_hearing(
        &mut self,
        mark: &Mark,
        sound: impl Fn() -> Option<rhythm::Heard>,
    ) -> Result<Done> {
        let mut changed = self.clone();
        if *mark == Mark::Undo {
            let done = changed.undo_last()?;
            if !changed.set.same_hearing(&self.set) {
                changed.hear_again(sound().as_ref());
            }
            *self = changed;
            return Ok(done);
        }
        let (message, notes, heard_again) = match (changed.apply(mark), mark) {
            (Ok((message, notes)), _) => (message, notes, false),
            // Beats heard at a wrong level allow no such pulse; the sound may.
            (Err(Error::BadMark(why)), &Mark::Pulse(rate)) => {
                let message = changed.follow_pulse(rate, sound().as_ref()).ok_or(bad(why))?;
                (message, Vec::new(), true)
            }
            (Err(error), _) => return Err(error),
        };
        if changed.set == self.set {
            let message = format!("nothing changed: {message}");
            return Ok(Done { changed: false, message, notes });
        }
        if !heard_again && !changed.set.same_hearing(&self.set) {
            changed.hear_again(sound().as_ref());
        }
        changed.undo = Some(Box::new(std::mem::take(&mut self.set)));
        *self = changed;
        Ok(Done { changed: true, message, notes })
    }

    fn apply(&mut self, mark: &Mark) -> Result<(String, Vec<String>)> {
        let plain = |message: Result<String>| message.map(|message| (message, Vec::new()));
        match mark {
            Mark::Phrases(phrases) => self.mark_phrases(phrases),
            Mark::Move { which, to } => plain(self.move_phrase(which, to)),
            Mark::Label { which, label } => plain(self.label_phrase(which, label)),
            Mark::Split { which, at, label } => {
                plain(self.split_phrase(which.as_ref(), at, label.as_deref()))
            }
            Mark::Remove(which) => plain(self.remove_phrases(which)),
            Mark::Form(items) => self.mark_form(items),
            Mark::First(place) => plain(self.mark_first(place)),
            Mark::End(place) => plain(self.mark_end(place)),
            Mark::Half => plain(self.scale_pulse(0.5)),
            Mark::Double => plain(self.scale_pulse(2.0)),
            Mark::Pulse(rate) => plain(self.set_pulse(*rate)),
            Mark::BarShift(counts) => plain(self.shift_bars(*counts)),
            Mark::BarAt(place) => plain(self.bar_at(place)),
            Mark::BeatsPerBar(beats) => plain(self.mark_beats_per_bar(*beats)),
            Mark::Tap(times_s) => self.tap(times_s),
            Mark::Change(place) => plain(self.mark_change(place)),
            Mark::AsHeard(correction) => Ok((self.as_heard(*correction), Vec::new())),
            Mark::Undo => Ok((String::new(), Vec::new())),
        }
    }

    fn undo_last(&mut self) -> Result<Done> {
        let Some(before) = self.undo.as_deref_mut() else {
            return Err(bad("there is no change to take back: nothing was marked in this map yet"));
        };
        std::mem::swap(&mut self.set, before);
        let message = "took the last change back (undo once more to have it again)".to_string();
        Ok(Done { changed: true, message, notes: Vec::new() })
    }

    fn as_heard(&mut self, correction: Correction) -> String {
        let UserSet { phrases, removed_s, phrases_complete, end_s, .. } = &mut self.set;
        match correction {
            Correction::Form => {
                phrases.clear();
                removed_s.clear();
                *phrases_complete = false;
                *end_s = None;
                "phrases are as they were heard".into()
            }
            Correction::End => {
                *end_s = None;
                "counting goes on to the last beat".into()
            }
            Correction::First => {
                self.set.first_count_s = None;
                "counting starts where it was heard to start".into()
            }
            Correction::Pulse => {
                self.set.pulse = None;
                "one count to a beat, as heard".into()
            }
            Correction::Bar => {
                self.set.bar_line_s = None;
                "bars start where they were heard to start".into()
            }
            Correction::BeatsPerBar => {
                self.set.beats_per_bar = None;
                "beats to the bar are as they were heard".into()
            }
            Correction::Tap => {
                self.set.tapped.clear();
                "beats are as they were heard; everything tapped is gone".into()
            }
            Correction::Change => {
                self.set.changes_s.clear();
                "tempo and bars change only where they were heard to".into()
            }
        }
    }
}

fn bad(words: impl Into<String>) -> Error {
    Error::BadMark(words.into())
}

/// A count with its time: `count 33, 0:17.86`.
fn spot(view: &SongView, count: Count) -> String {
    format!("count {count}, {}", clock(view.counts.time_or_beyond_s(count)))
}

/// A length in counts and eights: `36 counts, 4 eights and 4`.
fn long(counts: u32) -> String {
    match counts {
        0..=7 => eights(counts),
        _ => format!("{counts} counts, {}", eights(counts)),
    }
}

/// Where the mark of a count is kept: its time, as the file rounds it.
fn mark_time_s(view: &SongView, count: Count) -> f64 {
    rounded(view.counts.time_or_beyond_s(count))
}

impl Place {
    /// The count that is meant.
    fn count(&self, view: &SongView) -> Result<Count> {
        let counts = &view.counts;
        let last = counts.end() + -1;
        let (first_s, last_s) = (clock(counts.times_s[0]), clock(counts.time_or_beyond_s(last)));
        match self.at {
            At::Count(count) if count < Count::FIRST => Err(bad(format!(
                "count {} is before counting starts: the first count is 1, at {first_s}",
                self.typed
            ))),
            At::Count(count) if count > last => Err(bad(format!(
                "count {} is past the end: the last count is {last}, at {last_s}",
                self.typed
            ))),
            At::Count(count) => Ok(count),
            At::Time(time_s) => match super::lay::fall(time_s, counts) {
                super::lay::Fall::On(count) => Ok(Count(count)),
                super::lay::Fall::Before => Err(bad(format!(
                    "{} is before counting starts: count 1 is at {first_s}",
                    self.typed
                ))),
                super::lay::Fall::After => Err(bad(format!(
                    "{} is past the end: the last count is {last}, at {last_s}",
                    self.typed
                ))),
            },
        }
    }
}
