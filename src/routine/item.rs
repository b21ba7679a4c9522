//! What one line of steps says: its items.

use crate::units::{Foot, Wall};

use super::book::Book;
use super::finding::Fault;
use super::model::StepUse;

/// The most times that a step is danced in one go.
pub const MOST_TIMES: u32 = 200;

/// The longest pause, in counts.
pub const MOST_PAUSE: u32 = 1000;

/// A place in the line, in bytes.
pub type Place = (usize, usize);

/// What an item says to dance.
#[derive(Debug, Clone, PartialEq)]
pub enum Body {
    /// A step of the book, by its key.
    Known(String),
    /// Movements written out.
    Moves,
    /// A name that is in no book.
    Unknown,
    /// Nobody moves.
    Pause,
    /// What came before, once more.
    Repeat {
        /// All of the part, not only the line before.
        all: bool,
    },
    /// All the steps of another part.
    SameAs(String),
    /// Several steps in braces, danced one after the other: `{Triple, Basic} x2`.
    Group,
    /// Nothing: only a turn, a wall or a note.
    Nothing,
}

/// One thing danced on a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Where it stands.
    pub place: Place,
    /// Where its name or movements stand.
    pub body_place: Place,
    /// What it is.
    pub body: Body,
    /// Of [`Body::Repeat`]: the part that it names.
    pub repeats: Option<String>,
    /// Of [`Body::Repeat`]: the step from which on it goes, by its key.
    pub repeats_from: Option<String>,
    /// Of [`Body::Repeat`]: whether it says `above`, which may be one line or several.
    pub repeats_above: bool,
    /// Of [`Body::Repeat`]: how many lines it goes back, where that is said.
    pub repeats_lines: Option<usize>,
    /// Of [`Body::Repeat`]: the counts of the part that it names, `repeat 1-8`.
    pub repeats_counts: Option<(u32, u32)>,
    /// Another step that brackets behind its name say it is.
    pub also: Option<String>,
    /// Movements written out: its own for [`Body::Moves`], those behind a name else.
    pub moves: Option<StepUse>,
    /// How often.
    pub times: u32,
    /// A number in front that could be counts as well as times.
    pub bare: Option<u32>,
    /// Counts stated for all of it.
    pub stated: Option<(u32, Place)>,
    /// Whether the stated counts are those of one time.
    pub stated_each: bool,
    /// Whether they stand in front of the number of times, so that either may be meant: `Vine (8) x 2`.
    pub stated_before_times: bool,
    /// Whether they stand in front without a number of times: `8 count walk`.
    pub stated_in_front: bool,
    /// Eighths of a turn, right positive.
    pub turn: i32,
    /// Whether it turns each time.
    pub turn_each: bool,
    /// Feet that it is said to start on, time after time.
    pub leads: Vec<(Foot, Place)>,
    /// Feet said of single movements: which, and the foot.
    pub sequence: Vec<(usize, Foot, Place)>,
    /// Whether it is said to start on the other foot.
    pub other_foot: Option<Place>,
    /// The wall said to be faced after it.
    pub wall: Option<(Wall, Place)>,
    /// A wall that is turned to, and the side: -1 left, 1 right, 0 unsaid.
    pub turn_to: Option<(Wall, i32)>,
    /// Calls and notes.
    pub notes: Vec<String>,
    /// Of [`Body::SameAs`]: which counts of the other part are danced otherwise.
    pub exchange: Option<Exchange>,
    /// What is danced there; of [`Body::Group`], its steps.
    pub instead: Vec<Item>,
}

/// Counts of a part that are danced otherwise: `but last 4: Chain`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Exchange {
    /// Those at its end; those at its start else.
    pub last: bool,
    /// How many.
    pub counts: u32,
}

impl Item {
    /// Movements at a place, with nothing else said of them.
    pub(super) fn of_moves(place: Place) -> Item {
        Item {
            place,
            body_place: place,
            body: Body::Moves,
            repeats: None,
            repeats_from: None,
            repeats_above: false,
            repeats_lines: None,
            repeats_counts: None,
            also: None,
            moves: None,
            times: 1,
            bare: None,
            stated: None,
            stated_each: false,
            stated_before_times: false,
            stated_in_front: false,
            turn: 0,
            turn_each: false,
            leads: Vec::new(),
            sequence: Vec::new(),
            other_foot: None,
            wall: None,
            turn_to: None,
            notes: Vec::new(),
            exchange: None,
            instead: Vec::new(),
        }
    }

    /// Whether its counts stand behind it.
    pub(super) fn stated_behind(&self) -> bool {
        self.stated.is_some_and(|(_, place)| place.0 > self.body_place.0)
    }

    /// The counts that it usually comes to, where its step is known.
    pub(super) fn usual_counts(&self, book: &Book) -> Option<u32> {
        Some(self.counts_once(book)?.saturating_mul(self.times.max(self.leads.len() as u32)))
    }

    /// The same danced once.
    pub(super) fn counts_once(&self, book: &Book) -> Option<u32> {
        Some(match &self.body {
            Body::Known(key) => book.find(key)?.counts,
            Body::Moves => self.moves.as_ref()?.counts,
            Body::Nothing => 0,
            _ => return None,
        })
    }

    /// Takes a number of times that stands behind the step.
    pub(super) fn set_times(&mut self, times: u32) {
        self.times = times;
        self.bare = None;
        self.stated_before_times = self.stated.is_some();
        self.stated_in_front = false;
    }
}

/// A line cut into items.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Parsed {
    /// The items in order.
    pub items: Vec<Item>,
    /// What is wrong with it, and where.
    pub faults: Vec<(Fault, Place)>,
}

impl Parsed {
    /// Whether every item is understood.
    pub fn is_known(&self) -> bool {
        !self.items.is_empty()
            && self.items.iter().all(|i| i.body != Body::Unknown)
            && self.items.iter().any(|i| i.body != Body::Nothing)
    }
}
