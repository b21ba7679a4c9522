//! What can be the matter with a sheet, as facts. Words for them are in `fault_words`.

use crate::units::{Foot, Wall};

/// What is the matter, as facts.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Fault {
    /// Nothing to dance in the whole sheet.
    Empty,
    /// A line that is no step, heading or note; `nearest` is the likeliest meaning.
    UnknownLine {
        /// The likeliest name.
        nearest: Option<String>,
    },
    /// As [`Fault::UnknownLine`], where the part's counts are right without it.
    TakenAsNote,
    /// No step that is known is in a line, and no name of one with a slip.
    NoStepInIt,
    /// A name that is not known, which begins or ends with a step's that is: that step is taken.
    TakenAsStep {
        /// Name of that step.
        step: String,
    },
    /// A step that is danced in more than one way, taken with its usual counts.
    UsualLength {
        /// Those counts.
        counts: u32,
    },
    /// No step has this name.
    UnknownStep {
        /// The likeliest name.
        nearest: Option<String>,
    },
    /// A step that is not known, whose counts the sheet states.
    FeetUnknown {
        /// Counts stated.
        counts: u32,
    },
    /// Among movements, one that is not known.
    UnknownMovement {
        /// The likeliest movement.
        nearest: Option<String>,
    },
    /// A heading line such as `Titel:` that is not known.
    UnknownField {
        /// The likeliest one.
        nearest: Option<String>,
    },
    /// The order names something that is no part.
    UnknownPart {
        /// The likeliest part.
        nearest: Option<String>,
    },
    /// The order has a fill, a break or the like that no heading writes out.
    NotWrittenOut,
    /// Words in the order that name no part, in small letters where the names are in capitals.
    NoteInOrder,
    /// `same as` a part that does not stand above.
    NoPartAbove {
        /// The likeliest part.
        nearest: Option<String>,
    },
    /// `but last 4`, where that cuts a step in two.
    ExchangeCuts {
        /// Counts that go.
        counts: u32,
        /// Counts of the part.
        has: u32,
    },
    /// `but last 4`, and nothing is said to be danced there.
    NothingInstead {
        /// Counts that go.
        counts: u32,
    },
    /// A number is needed.
    NeedsNumber {
        /// What for: `the wait`.
        what: &'static str,
    },
    /// A number too large to be meant.
    TooMany {
        /// The most that is read.
        most: u32,
    },
    /// A step that is danced no times.
    NoTimes,
    /// A quarter turn to neither side.
    TurnWithoutSide,
    /// A bracket or quote that is not closed.
    NotClosed,
    /// `repeat` with nothing before it.
    NothingToRepeat,
    /// A feet or timing line under no movements.
    NothingAbove {
        /// `feet` or `timing`.
        what: &'static str,
    },
    /// Steps before any heading.
    NoHeading,
    /// Steps before the first heading of a sheet that has headings and an order.
    OutsideParts,
    /// Every foot in the first part says that the dance starts on the right.
    StartsOn {
        /// The foot that starts.
        foot: Foot,
    },
    /// The sheet gives no order.
    NoOrder,
    /// Two parts of one name.
    PartTwice {
        /// Line of the first.
        first_line: usize,
    },
    /// The order never names the part.
    PartUnused {
        /// Name of the part.
        part: String,
    },
    /// A part with neither steps nor counts.
    PartEmpty,
    /// A part's heading states other counts than its steps have.
    PartCounts {
        /// Stated on the heading.
        stated: u32,
        /// Sum of the steps.
        steps: u32,
    },
    /// As [`Fault::PartCounts`], where not every line of the part was understood.
    PartUnsure {
        /// Stated on the heading.
        stated: u32,
        /// Sum of the steps that were understood.
        steps: u32,
    },
    /// As [`Fault::LineCounts`], where words on the line may say more than was understood.
    LineUnsure {
        /// Stated on the line.
        stated: u32,
        /// Sum of the steps that were understood.
        steps: u32,
    },
    /// A part comes again and is danced otherwise; no line gives the order.
    PartOtherwise {
        /// Line of the first.
        first_line: usize,
    },
    /// What would be a mistake if the lines that it rests on were understood for certain.
    Unsure(Box<Fault>),
    /// `same, but add a stomp`: steps added to a part, which nobody can place.
    AddedToPart,
    /// A line states other counts than its steps have.
    LineCounts {
        /// Stated on the line.
        stated: u32,
        /// Sum of the steps.
        steps: u32,
    },
    /// Two ways of giving a step's counts or movements do not agree.
    StepCounts {
        /// As stated.
        stated: u32,
        /// As its movements have it.
        steps: u32,
    },
    /// A feet line has more or fewer feet than the movements above it.
    FeetNumber {
        /// Feet typed.
        typed: usize,
        /// Feet in the movements.
        moves: usize,
    },
    /// A feet line that the movements do not give.
    FeetDiffer {
        /// What the movements give, as a feet line.
        computed: String,
        /// The movement where they part.
        movement: String,
        /// The foot typed for it.
        typed: Foot,
        /// Whether that foot holds the weight and cannot take it.
        holds_weight: bool,
    },
    /// The sheet says that a step starts on a foot that is not free.
    LeadDiffers {
        /// The foot it says.
        typed: Foot,
        /// The foot that is free.
        free: Foot,
        /// Whether it is where the dance starts.
        first: bool,
    },
    /// `on the other foot`, but the same foot is free.
    SameFootFree {
        /// The foot that is free.
        free: Foot,
    },
    /// `on the other foot`, but by the usual way to dance the step the same foot is free.
    OtherFootUnsure {
        /// The foot that is free.
        free: Foot,
    },
    /// A timing line that does not go with the movements.
    TimingDiffers {
        /// The movements' own timing.
        computed: String,
    },
    /// A timing line whose counts do not follow one another.
    TimingOrder {
        /// The mark that is out of order.
        mark: String,
    },
    /// One name defined twice with other movements.
    StepTwice {
        /// Line of the first definition.
        first_line: usize,
        /// Movements of the first.
        movements: String,
    },
    /// The sheet's movements for a step differ from the glossary's.
    Variant {
        /// Name of the step.
        step: String,
        /// Movements in the glossary.
        glossary: String,
    },
    /// A step of the user's own file that the glossary has otherwise.
    FileVariant {
        /// Name of the step.
        step: String,
        /// Movements in the file.
        movements: String,
        /// Movements in the glossary.
        glossary: String,
    },
    /// A name that stands for several ways of dancing it.
    WhichWay {
        /// Their names.
        ways: Vec<String>,
    },
    /// A part comes back on the other foot.
    OtherFoot {
        /// Name of the part.
        part: String,
        /// The first time round on which it does.
        time_round: u32,
        /// The foot it starts on then.
        lead: Foot,
    },
    /// The sheet says another wall than the turns give.
    WallDiffers {
        /// Wall stated.
        typed: Wall,
        /// Wall that the turns give.
        computed: Wall,
    },
    /// A wall is said to be faced in a part in which nothing is said to turn.
    TurnUnsaid {
        /// Wall stated.
        typed: Wall,
        /// Wall faced there without a turn.
        computed: Wall,
    },
    /// A turn that is said only by the wall turned to.
    TurnTaken {
        /// That wall.
        wall: Wall,
    },
    /// `left` or `right` behind a step, where the other foot is free: it may say where the step goes.
    FootOrSide {
        /// The side it says.
        typed: Foot,
        /// The foot that is free.
        free: Foot,
    },
    /// A line dance of so many walls by its top that comes to other walls by its turns.
    WallsDiffer {
        /// Stated at the top.
        stated: u32,
        /// As its turns have it.
        reached: u32,
    },
    /// A restart that falls inside a line.
    RestartCuts {
        /// Counts danced before it.
        counts: u32,
        /// Counts of the whole.
        has: u32,
    },
    /// A line dance that says not how often it is danced.
    TimesRound {
        /// Times reckoned.
        times: u32,
    },
    /// The dance does not end facing the front.
    EndsFacing {
        /// The wall.
        wall: Wall,
    },
}

impl Fault {
    /// A short name that stays the same from release to release.
    pub fn kind(&self) -> &'static str {
        match self {
            Fault::Empty => "empty",
            Fault::UnknownLine { .. } => "unknown-line",
            Fault::TakenAsNote => "taken-as-note",
            Fault::NoStepInIt => "no-step-in-it",
            Fault::UsualLength { .. } => "usual-length",
            Fault::TakenAsStep { .. } => "taken-as-step",
            Fault::UnknownStep { .. } => "unknown-step",
            Fault::FeetUnknown { .. } => "feet-unknown",
            Fault::UnknownMovement { .. } => "unknown-movement",
            Fault::UnknownField { .. } => "unknown-field",
            Fault::UnknownPart { .. } => "unknown-part",
            Fault::NotWrittenOut => "not-written-out",
            Fault::NoteInOrder => "note-in-order",
            Fault::NeedsNumber { .. } => "needs-number",
            Fault::TooMany { .. } => "too-many",
            Fault::FileVariant { .. } => "file-variant",
            Fault::WhichWay { .. } => "which-way",
            Fault::NoTimes => "no-times",
            Fault::WallsDiffer { .. } => "walls-differ",
            Fault::RestartCuts { .. } => "restart-cuts",
            Fault::TimesRound { .. } => "times-round",
            Fault::NoPartAbove { .. } => "no-part-above",
            Fault::ExchangeCuts { .. } => "exchange-cuts",
            Fault::NothingInstead { .. } => "nothing-instead",
            Fault::TurnWithoutSide => "turn-without-side",
            Fault::NotClosed => "not-closed",
            Fault::NothingToRepeat => "nothing-to-repeat",
            Fault::NothingAbove { .. } => "nothing-above",
            Fault::NoHeading => "no-heading",
            Fault::OutsideParts => "outside-parts",
            Fault::StartsOn { .. } => "starts-on",
            Fault::NoOrder => "no-order",
            Fault::PartTwice { .. } => "part-twice",
            Fault::PartUnused { .. } => "part-unused",
            Fault::PartEmpty => "part-empty",
            Fault::PartCounts { .. } => "part-counts",
            Fault::PartUnsure { .. } => "part-unsure",
            Fault::LineUnsure { .. } => "line-unsure",
            Fault::PartOtherwise { .. } => "part-otherwise",
            Fault::Unsure(fault) => fault.kind(),
            Fault::AddedToPart => "added-to-part",
            Fault::LineCounts { .. } => "line-counts",
            Fault::StepCounts { .. } => "step-counts",
            Fault::FeetNumber { .. } => "feet-number",
            Fault::FeetDiffer { .. } => "feet-differ",
            Fault::LeadDiffers { .. } => "lead-differs",
            Fault::SameFootFree { .. } => "same-foot-free",
            Fault::OtherFootUnsure { .. } => "other-foot-unsure",
            Fault::TimingDiffers { .. } => "timing-differs",
            Fault::TimingOrder { .. } => "timing-order",
            Fault::StepTwice { .. } => "step-twice",
            Fault::Variant { .. } => "variant",
            Fault::OtherFoot { .. } => "other-foot",
            Fault::WallDiffers { .. } => "wall-differs",
            Fault::TurnUnsaid { .. } => "turn-unsaid",
            Fault::TurnTaken { .. } => "turn-taken",
            Fault::FootOrSide { .. } => "foot-or-side",
            Fault::EndsFacing { .. } => "ends-facing",
        }
    }
}
