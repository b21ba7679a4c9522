//! The words for what is the matter with a sheet, and for what to do about it.

use std::fmt;

use super::fault::Fault;
use crate::units::eights;

impl Fault {
    /// What to do about it, `words` being what was typed there.
    pub(super) fn mend(&self, words: &str) -> Option<String> {
        let did_you_mean = |name: &str| format!("did you mean “{name}”?");
        Some(match self {
            Fault::Unsure(fault) => return fault.mend(words),
            Fault::Empty => "write a heading such as `Part A (32)` and its steps below it".into(),
            Fault::UnknownLine { nearest: Some(name) }
            | Fault::UnknownStep { nearest: Some(name) }
            | Fault::UnknownMovement { nearest: Some(name) }
            | Fault::UnknownPart { nearest: Some(name) } => did_you_mean(name),
            Fault::UnknownField { nearest: Some(name) } => did_you_mean(&format!("{name}:")),
            Fault::UnknownField { nearest: None } => {
                "if it is a note, start the line with `Note:`".into()
            }
            Fault::UnknownLine { nearest: None } => {
                "write a step, or start the line with `Note:` if it is one".into()
            }
            Fault::UnknownStep { nearest: None } => format!(
                "say what it is, `Step: {} = DS DS RS`, or put its counts in brackets behind it",
                shortened(words)
            ),
            Fault::UnknownMovement { nearest: None } => {
                "write it out in known movements, or name the step and put its counts in brackets"
                    .into()
            }
            Fault::UnknownPart { nearest: None } => {
                format!(
                    "add a heading `{}` with its counts, or take it out of the order",
                    shortened(words)
                )
            }
            Fault::NotWrittenOut => {
                format!("write a heading `{}` with its counts or steps", shortened(words))
            }
            Fault::NoteInOrder => {
                format!("if it is danced write a heading `{}` with its counts", shortened(words))
            }
            Fault::WhichWay { ways } => format!(
                "write `{}`, or in the file of steps `{} = {}`",
                ways.first().map_or("", String::as_str),
                shortened(words),
                ways.first().map_or("", String::as_str)
            ),
            Fault::WallsDiffer { reached, .. } => {
                format!("write {reached} at the top, or change a turn")
            }
            Fault::RestartCuts { .. } => "restart where a line ends, or cut the line in two".into(),
            Fault::TimesRound { .. } => {
                "to have it otherwise write `Times round: 6` at the top".into()
            }
            Fault::NoPartAbove { nearest: Some(name) } => did_you_mean(name),
            Fault::NoPartAbove { nearest: None } => {
                "write its steps out, or name a part that stands above".into()
            }
            Fault::ExchangeCuts { .. } => "write its steps out, or change the number".into(),
            Fault::NothingInstead { counts: n } => {
                format!("write what is danced instead, for example `but last {n}: Triple`")
            }
            Fault::TakenAsStep { .. } => {
                "if it takes other counts put them in brackets behind it".into()
            }
            Fault::FeetUnknown { .. } | Fault::UsualLength { .. } => format!(
                "to have its feet checked say what it is, `Step: {} = DS DS RS`",
                shortened(words)
            ),
            Fault::TakenAsNote => "start the line with `Note:` to say so".into(),
            Fault::NoStepInIt => {
                "write a step that is known, with its counts, if it is danced".into()
            }
            Fault::NeedsNumber { what } => format!("write {what} in counts, for example 16"),
            Fault::TooMany { .. } => "write a smaller number".into(),
            Fault::NoTimes => "write how often, or take the line out".into(),
            Fault::TurnWithoutSide => "write L or R behind it".into(),
            Fault::NothingToRepeat => "write the steps that it repeats".into(),
            Fault::NothingAbove { what } => format!("put the {what} line under its movement line"),
            Fault::NoHeading => "write a heading such as `Part A` above them".into(),
            Fault::OutsideParts => "to have them danced put them under a heading".into(),
            Fault::StartsOn { foot } => format!("write `Starts: {foot}` at the top to say so"),
            Fault::NoOrder => "to change that add a line such as `Order: A B A`".into(),
            Fault::PartTwice { .. } => "give one of them another name".into(),
            Fault::PartUnused { .. } => "add it to the order, or take the part out".into(),
            Fault::PartEmpty => "write its steps below the heading, or its counts behind it".into(),
            Fault::PartCounts { stated, steps } => {
                let missing = i64::from(*stated) - i64::from(*steps);
                if missing > 0 {
                    format!("add {}, or change the heading to {steps}", counts(missing as u32))
                } else {
                    format!(
                        "take out {}, or change the heading to {steps}",
                        counts((-missing) as u32)
                    )
                }
            }
            Fault::PartUnsure { .. } | Fault::LineUnsure { .. } => {
                "write out in known steps what was not understood, and it is checked".into()
            }
            Fault::PartOtherwise { .. } => "if they are two parts give one another name".into(),
            Fault::AddedToPart => "write its last steps out".into(),
            Fault::LineCounts { steps, .. } | Fault::StepCounts { steps, .. } => {
                format!("change the number to {steps}, or the steps")
            }
            Fault::FeetNumber { .. } => "write one foot for each sound of the feet".into(),
            Fault::FeetDiffer { computed, .. } => format!("the movements give {computed}"),
            Fault::LeadDiffers { typed, free, first: true } => format!(
                "start on the {free} foot, or write `Starts: {typed}` at the top if the dance starts so"
            ),
            Fault::LeadDiffers { free, .. } => {
                format!("start on the {free} foot, or change the step before")
            }
            Fault::OtherFootUnsure { .. } => {
                "to have its feet checked write the step's movements on the sheet".into()
            }
            Fault::SameFootFree { free } => {
                format!(
                    "write only `repeat` to start on the {free} foot again, or change the step before"
                )
            }
            Fault::TimingDiffers { computed } => format!("the movements give {computed}"),
            Fault::TimingOrder { .. } => {
                "write the counts one after another, for example &1 &2 &3".into()
            }
            Fault::StepTwice { .. } => "give one of them another name".into(),
            Fault::TurnTaken { .. } | Fault::TurnUnsaid { .. } => {
                "write the turn, for example 1/2 L".into()
            }
            Fault::WallDiffers { computed, .. } => {
                format!("write the {computed} wall, or change a turn before it")
            }
            _ => return None,
        })
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::Unsure(fault) => write!(f, "as far as the sheet is understood {fault}"),
            Fault::Empty => f.write_str("the sheet has no part and no step"),
            Fault::UnknownLine { .. } => f.write_str("this line is no step, heading or note"),
            Fault::TakenAsNote => {
                f.write_str("read as a note, since the counts of the part are right without it")
            }
            Fault::NoStepInIt => f.write_str("read as a note, since no known step is in it"),
            Fault::UsualLength { counts: n } => write!(
                f,
                "danced in more than one way: the usual {} are taken, and its feet are not checked",
                counts(*n)
            ),
            Fault::TakenAsStep { step } => write!(f, "no step has this name; read as “{step}”"),
            Fault::UnknownStep { .. } => f.write_str("no step has this name"),
            Fault::FeetUnknown { counts: n } => write!(
                f,
                "not in the glossary: its {} are taken from the sheet, and the same foot is taken to be \
                 free after it",
                counts(*n)
            ),
            Fault::UnknownMovement { .. } => f.write_str("no movement is written like this"),
            Fault::UnknownField { .. } => f.write_str("not a line that a sheet begins with"),
            Fault::UnknownPart { .. } => {
                f.write_str("the order names it, but no part is called so")
            }
            Fault::NotWrittenOut => {
                f.write_str("it is in the order but not written out: its counts are missing")
            }
            Fault::NoteInOrder => {
                f.write_str("read as a note in the order, since no part is called so")
            }
            Fault::FileVariant { step, movements, glossary } => write!(
                f,
                "{step} is danced as in your file, {movements}; the glossary has {glossary}"
            ),
            Fault::WhichWay { ways } => {
                write!(f, "the name stands for several steps: {}", ways.join(", "))
            }
            Fault::WallsDiffer { stated, reached } => {
                let walls =
                    |n: &u32| if *n == 1 { "1 wall".to_string() } else { format!("{n} walls") };
                write!(f, "the top says {}, the turns come to {}", walls(stated), walls(reached))
            }
            Fault::RestartCuts { counts: n, has } if n >= has => {
                write!(
                    f,
                    "the dance has {}, so nothing is left out after {}",
                    counts(*has),
                    counts(*n)
                )
            }
            Fault::RestartCuts { counts: n, .. } => {
                write!(f, "no line ends after {}", counts(*n))
            }
            Fault::TimesRound { times } => {
                write!(
                    f,
                    "the sheet says not how often it is danced; {times} times round are reckoned"
                )
            }
            Fault::NoPartAbove { .. } => f.write_str("no part above this line is called so"),
            Fault::ExchangeCuts { counts: n, has } if n > has => {
                write!(f, "the part has {} and not {}", counts(*has), counts(*n))
            }
            Fault::ExchangeCuts { counts: n, .. } => {
                write!(f, "no step begins {} from there, so one would be cut in two", counts(*n))
            }
            Fault::NothingInstead { .. } => f.write_str("nothing is said to be danced instead"),
            Fault::NeedsNumber { what } => write!(f, "{what} needs a number"),
            Fault::TooMany { most } => write!(f, "more than {most} cannot be meant"),
            Fault::NoTimes => f.write_str("danced no times"),
            Fault::TurnWithoutSide => f.write_str("a turn that says no side"),
            Fault::NotClosed => {
                f.write_str("the bracket is not closed; read as closed at the end of the line")
            }
            Fault::NothingToRepeat => f.write_str("nothing stands before it to repeat"),
            Fault::NothingAbove { what } => {
                write!(f, "a {what} line, but no movements stand above it")
            }
            Fault::NoHeading => f.write_str("steps before any heading; read as one part"),
            Fault::OutsideParts => f.write_str("steps that stand in no part; read as a note"),
            Fault::StartsOn { foot } => {
                write!(f, "read as a dance that starts on the {foot} foot")
            }
            Fault::NoOrder => {
                f.write_str("no order is given: the parts are danced once each, as written")
            }
            Fault::PartTwice { first_line } => {
                write!(f, "a part of this name begins on line {first_line} already")
            }
            Fault::PartUnused { part } => write!(f, "the order never comes to {part}"),
            Fault::PartEmpty => f.write_str("the part has neither steps nor counts"),
            Fault::PartCounts { stated, steps } => write!(
                f,
                "the heading says {} ({}), its steps have {steps} ({})",
                counts(*stated),
                eights(*stated),
                eights(*steps)
            ),
            Fault::PartUnsure { stated, steps } => write!(
                f,
                "the heading says {}; the lines that were understood have {steps}",
                counts(*stated)
            ),
            Fault::LineUnsure { stated, steps } => write!(
                f,
                "the line says {}; what was understood of it has {steps}",
                counts(*stated)
            ),
            Fault::PartOtherwise { first_line } => {
                write!(f, "danced otherwise than the part of this name on line {first_line}")
            }
            Fault::AddedToPart => f.write_str("not danced: nobody can tell where it is added"),
            Fault::LineCounts { stated, steps } => {
                write!(f, "the line says {}, its steps have {steps}", counts(*stated))
            }
            Fault::StepCounts { stated, steps } => {
                write!(
                    f,
                    "the step has {} by its name, but its movements have {steps}",
                    counts(*stated)
                )
            }
            Fault::FeetNumber { typed, moves } => {
                write!(f, "the line names {typed} feet, the movements above it have {moves}")
            }
            Fault::FeetDiffer { movement, typed, holds_weight: true, .. } => {
                write!(f, "{movement} on the {typed} foot, but the {typed} foot holds the weight")
            }
            Fault::FeetDiffer { movement, typed, .. } => {
                write!(f, "{movement} on the {typed} foot, but it is the other foot's")
            }
            Fault::LeadDiffers { typed, free, .. } => {
                write!(f, "starts on the {typed} foot, but the {free} foot is free there")
            }
            Fault::SameFootFree { free } => {
                write!(f, "the {free} foot is free again, so it does not start on the other foot")
            }
            Fault::OtherFootUnsure { free } => write!(
                f,
                "as it is usually danced the {free} foot is free again; the other foot may mean the other side"
            ),
            Fault::TimingDiffers { .. } => f.write_str("the timing does not go with the movements"),
            Fault::TimingOrder { mark } => write!(f, "the timing jumps at {mark}"),
            Fault::StepTwice { first_line, movements } => match first_line {
                0 => write!(f, "a step of this name is in another file already, as {movements}"),
                n => write!(f, "a step of this name is on line {n} already, as {movements}"),
            },
            Fault::Variant { step, glossary } => write!(
                f,
                "the sheet's own {step}; the glossary has {glossary}. The sheet's is used"
            ),
            Fault::OtherFoot { part, time_round, lead } => {
                write!(f, "{part} starts on the {lead} foot the {} time", ordinal(*time_round))
            }
            Fault::WallDiffers { typed, computed } => {
                write!(f, "the sheet says the {typed} wall, the turns give the {computed} wall")
            }
            Fault::TurnUnsaid { typed, computed } => write!(
                f,
                "the sheet says the {typed} wall, but no step of the part is said to turn: read as facing the {computed} wall"
            ),
            Fault::TurnTaken { wall } => {
                write!(f, "no turn is written here: read as turning to the {wall} wall")
            }
            Fault::FootOrSide { typed, free } => write!(
                f,
                "the {free} foot is free there, so {typed} is read as the side to which the step goes"
            ),
            Fault::EndsFacing { wall } => write!(f, "the dance ends facing the {wall} wall"),
        }
    }
}

/// `1 count`, `4 counts`.
fn counts(n: u32) -> String {
    match n {
        1 => "1 count".into(),
        n => format!("{n} counts"),
    }
}

/// `first`, `2nd`, …
fn ordinal(n: u32) -> String {
    match (n, n % 10, n % 100) {
        (1, ..) => "first".into(),
        (2, ..) => "second".into(),
        (3, ..) => "third".into(),
        (_, 1, r) if r != 11 => format!("{n}st"),
        (_, 2, r) if r != 12 => format!("{n}nd"),
        (_, 3, r) if r != 13 => format!("{n}rd"),
        _ => format!("{n}th"),
    }
}

/// What was typed, cut to a length that reads.
pub(super) fn shortened(words: &str) -> String {
    const MOST: usize = 60;
    if words.chars().count() <= MOST {
        return words.to_string();
    }
    words.chars().take(MOST).chain(['…']).collect()
}
