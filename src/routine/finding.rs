//! What proof-reading found in a sheet, with its place.

use std::fmt;

use serde::Serialize;

pub use super::fault::Fault;
use super::fault_words::shortened;
use super::item::Place;
use super::line::Line;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// The sheet is wrong or cannot be read there.
    Mistake,
    /// Not understood, or not for certain; the sheet may be right.
    Question,
    /// Worth knowing; nothing is wrong.
    Remark,
}

/// One thing found, with its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Line of the sheet, 1-based; 0 when it is about the whole sheet.
    pub line: usize,
    /// Column in characters, 1-based.
    pub column: usize,
    /// The words typed there.
    pub words: String,
    /// What is the matter.
    pub fault: Fault,
}

impl Finding {
    /// What is found at a place of a line.
    pub(super) fn at(line: &Line<'_>, place: Place, fault: Fault) -> Finding {
        Finding {
            line: line.number,
            column: line.column(place.0),
            words: line.typed_between(place.0, place.1),
            fault,
        }
    }

    /// What is found in the whole sheet, on no line of it.
    pub(super) fn of_the_sheet(fault: Fault) -> Finding {
        Finding { line: 0, column: 1, words: String::new(), fault }
    }

    /// How much it matters.
    pub fn severity(&self) -> Severity {
        match self.fault {
            Fault::TakenAsNote
            | Fault::NoStepInIt
            | Fault::UsualLength { .. }
            | Fault::NotWrittenOut
            | Fault::NoteInOrder
            | Fault::TakenAsStep { .. }
            | Fault::FeetUnknown { .. }
            | Fault::NoHeading
            | Fault::OutsideParts
            | Fault::StartsOn { .. }
            | Fault::NoOrder
            | Fault::Variant { .. }
            | Fault::OtherFoot { .. }
            | Fault::TimesRound { .. }
            | Fault::FileVariant { .. }
            | Fault::EndsFacing { .. }
            | Fault::TurnUnsaid { .. }
            | Fault::TurnTaken { .. }
            | Fault::FootOrSide { .. }
            | Fault::OtherFootUnsure { .. }
            | Fault::PartUnsure { .. }
            | Fault::LineUnsure { .. }
            | Fault::PartOtherwise { .. }
            | Fault::AddedToPart
            | Fault::NotClosed => Severity::Remark,
            Fault::Unsure(_)
            | Fault::UnknownStep { nearest: None }
            | Fault::UnknownLine { nearest: None }
            | Fault::UnknownField { nearest: None }
            | Fault::NoPartAbove { nearest: None } => Severity::Question,
            _ => Severity::Mistake,
        }
    }

    /// Whether it is a mistake.
    pub fn is_mistake(&self) -> bool {
        self.severity() == Severity::Mistake
    }

    /// Asks what it told: it may be read otherwise.
    pub(super) fn ask(&mut self) {
        self.fault = Fault::Unsure(Box::new(self.fault.clone()));
    }

    /// Whether it must be mended or answered before the routine is laid on a song, since that would have to guess.
    pub fn stops(&self) -> bool {
        let fault = match &self.fault {
            Fault::Unsure(asked) => asked,
            fault => fault,
        };
        let leaves_open = matches!(
            fault,
            Fault::Empty
                | Fault::UnknownStep { .. }
                | Fault::UnknownLine { .. }
                | Fault::NoPartAbove { .. }
                | Fault::NothingToRepeat
                | Fault::RestartCuts { .. }
        );
        self.is_mistake() || leaves_open
    }

    /// Why, in a sentence without its end.
    pub fn why(&self) -> String {
        self.fault.to_string()
    }

    /// What to do about it.
    pub fn mend(&self) -> Option<String> {
        self.fault.mend(&self.words)
    }
}

/// `line 12, column 5: “Tripple”: no step has this name; did you mean “Triple basic”?`
impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line > 0 {
            write!(f, "line {}, column {}: ", self.line, self.column)?;
        }
        if !self.words.is_empty() {
            write!(f, "“{}”: ", shortened(&self.words))?;
        }
        write!(f, "{}", self.fault)?;
        match self.mend() {
            Some(mend) => write!(f, "; {mend}"),
            None => Ok(()),
        }
    }
}

impl Serialize for Finding {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let mut out = serializer.serialize_struct("Finding", 7)?;
        out.serialize_field("severity", &self.severity())?;
        out.serialize_field("kind", self.fault.kind())?;
        out.serialize_field("line", &self.line)?;
        out.serialize_field("column", &self.column)?;
        out.serialize_field("words", &self.words)?;
        out.serialize_field("why", &self.why())?;
        out.serialize_field("mend", &self.mend())?;
        out.end()
    }
}
