//! When a finding may be called a mistake: it must rest on lines that were understood for certain. What rests on others
//! is asked, not told.
//!
//! Three things make a reading doubtful: a line of the same part that was not understood, or one danced before it; an
//! order of which half the names are no part's; and a sheet that goes against one and the same reading again and again,
//! since its author meant something by it.

use std::collections::{HashMap, HashSet};

use super::certain::Certain;
use super::certain_line_dance::CertainLineDance;
use super::fault::Fault;
use super::finding::Finding;
use super::item::{Body, Parsed};
use super::line::Line;
use super::line_dance::LineDance;
use super::metre::in_three;
use super::model::{Part, PartKind, Routine, StepUse};
use super::other_readings::OtherReadings;
use super::own_steps::calls_itself_a_line_dance;
use super::parse::LineRole;
use super::proof::{PartClaims, as_a_side};
use super::repeats::is_common_practice;
use super::sections::Section;
use super::words::key;

/// Fewest conflicts of one sort that put the reading of the whole sheet in doubt.
const FEWEST_CONFLICTS: usize = 3;

/// What a finding is held against, one sort of statement for each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Sort {
    LineCounts,
    PartCounts,
    Feet,
    Walls,
    Names,
    Parts,
    Movements,
    Steps,
}

impl Sort {
    fn of(fault: &Fault) -> Option<Sort> {
        Some(match fault {
            Fault::LineCounts { .. } | Fault::StepCounts { .. } => Sort::LineCounts,
            Fault::PartCounts { .. } => Sort::PartCounts,
            Fault::LeadDiffers { .. }
            | Fault::FeetDiffer { .. }
            | Fault::FeetNumber { .. }
            | Fault::SameFootFree { .. } => Sort::Feet,
            Fault::WallDiffers { .. } => Sort::Walls,
            Fault::UnknownPart { .. } => Sort::Names,
            Fault::UnknownMovement { .. } => Sort::Movements,
            Fault::UnknownStep { nearest: Some(_) } => Sort::Steps,
            Fault::PartUnused { .. } | Fault::PartEmpty => Sort::Parts,
            _ => return None,
        })
    }

    /// Whether it is said of what is danced and how long; feet and walls say nothing of that.
    fn is_of_steps(self) -> bool {
        use Sort::{LineCounts, Movements, PartCounts, Steps};
        matches!(self, LineCounts | PartCounts | Movements | Steps)
    }
}

/// How many statements of each sort a sheet makes.
#[derive(Debug, Default)]
struct Statements {
    lines: usize,
    stated_parts: usize,
    feet: usize,
    walls: usize,
    names: usize,
}

impl Statements {
    fn of(
        routine: &Routine,
        sections: &[Section],
        parsed: &[Option<Parsed>],
        claims: &[PartClaims],
        line_sections: usize,
    ) -> Statements {
        let body = sections.iter().flat_map(|s| &s.body);
        let states = |i: &&usize| {
            let line = parsed.get(**i).and_then(Option::as_ref);
            line.is_some_and(|p| p.items.iter().any(|item| item.stated.is_some()))
        };
        let stated = |p: &&Part| p.stated_counts.is_some() && !p.lines.is_empty();
        Statements {
            lines: body.filter(states).count(),
            stated_parts: routine.parts.iter().filter(stated).count() + line_sections,
            feet: claims.iter().map(|c| c.feet.len() + c.other_foot.len()).sum(),
            walls: claims.iter().map(|c| c.walls.len()).sum(),
            names: routine.order.iter().map(|o| o.part).collect::<HashSet<_>>().len(),
        }
    }

    fn number(&self, sort: Sort) -> usize {
        match sort {
            Sort::LineCounts => self.lines,
            Sort::PartCounts => self.stated_parts,
            Sort::Feet => self.feet,
            Sort::Walls => self.walls,
            Sort::Names | Sort::Parts | Sort::Movements | Sort::Steps => self.names,
        }
    }
}

/// Whether a finding says that a line was not understood, or only guessed at.
pub(super) fn is_doubt(fault: &Fault) -> bool {
    matches!(
        fault,
        Fault::UnknownStep { nearest: None }
            | Fault::UnknownLine { .. }
            | Fault::NoPartAbove { .. }
            | Fault::NothingToRepeat
            | Fault::TakenAsStep { .. }
            | Fault::LineUnsure { .. }
            | Fault::AddedToPart
    )
}

/// As [`is_doubt`], with lines that were read as notes for want of a step.
pub(super) fn is_unread(fault: &Fault) -> bool {
    is_doubt(fault) || matches!(fault, Fault::NoStepInIt)
}

/// Whether something is asked of what a line dances.
fn asks_of_steps(fault: &Fault) -> bool {
    matches!(fault, Fault::Unsure(asked) if Sort::of(asked).is_some_and(Sort::is_of_steps))
}

/// Whether a line's counts are told or asked not to be those of its steps.
pub(super) fn counts_differ(fault: &Fault) -> bool {
    match fault {
        Fault::Unsure(asked) => counts_differ(asked),
        Fault::LineUnsure { .. } => true,
        _ => Sort::of(fault) == Some(Sort::LineCounts),
    }
}

/// Asks what rests on lines that were not understood for certain.
pub(super) fn weigh(
    routine: &Routine,
    sections: &[Section],
    parsed: &[Option<Parsed>],
    claims: &[PartClaims],
    line_dance: Option<&LineDance>,
    (lines, roles): (&[Line<'_>], &[LineRole]),
    findings: &mut [Finding],
) {
    // The sections of a line dance state counts as headings do.
    let line_sections = line_dance.map_or(0, |dance| dance.sections.len());
    let statements = Statements::of(routine, sections, parsed, claims, line_sections);
    let habits = against_the_habit(&statements, parsed, findings);
    let open = headings_in_doubt(routine, lines, roles, findings);
    let again = names_again(findings);
    // In a waltz the glossary's steps are taken to fill bars, which no published sheet says.
    let in_three = in_three(lines);
    // Line dances say left and right of where they go.
    if line_sections == 0 && calls_itself_a_line_dance(lines) {
        findings.iter_mut().for_each(as_a_side);
    }
    let in_conflict = findings.iter().filter(|f| counts_differ(&f.fault)).map(|f| f.line).collect();
    let others = OtherReadings { routine, sections, parsed, lines, in_conflict };
    let asked_before = asked_at_first(line_dance, routine, (lines, roles), findings);
    for (f, open) in findings.iter_mut().zip(asked_before) {
        if open {
            f.ask();
        }
    }
    // Lines of a section have their counts in front.
    let of_a_section = |line: usize| {
        line_dance.is_some_and(|dance| {
            dance.sections.iter().any(|(at, counts)| at + 1 == line && counts.is_some())
        })
    };
    // What is asked makes what rests on it doubtful in its turn.
    let mut changed = true;
    while std::mem::take(&mut changed) {
        let doubtful = Doubtful::of(routine, findings);
        for f in findings.iter_mut() {
            // What the order names may stand on a line that was not understood.
            let mut unsure = f.fault == Fault::NotWrittenOut && doubtful.anywhere();
            if let Some(sort) = Sort::of(&f.fault) {
                unsure = habits.contains(&sort)
                    || others.clears(f)
                    || match sort {
                        Sort::Feet => {
                            doubtful.before(f.line)
                                || doubtful.feet_before(f.line)
                                || leads_elsewhere(routine, f)
                        }
                        Sort::Walls => doubtful.before(f.line),
                        // One of the numbers typed is wrong, whatever the steps come to.
                        Sort::PartCounts
                            if others.goes_against_its_lines(f) || of_a_section(f.line) =>
                        {
                            false
                        }
                        Sort::PartCounts => {
                            doubtful.in_part(f.line) || in_three && doubtful.lengths_in_part(f.line)
                        }
                        Sort::Parts => habits.contains(&Sort::Names) || open.contains(&f.line),
                        // No slip of the fingers is made twice.
                        Sort::Steps => again.contains(&key(&f.words)),
                        Sort::LineCounts => doubtful.on_line(f.line),
                        Sort::Movements => doubtful.on_line(f.line) || f.words.chars().count() == 1,
                        Sort::Names => false,
                    };
            }
            if unsure {
                f.ask();
                changed = true;
            }
        }
    }
}

/// Which findings are asked since the lines that they rest on are not certain by themselves.
fn asked_at_first(
    line_dance: Option<&LineDance>,
    routine: &Routine,
    typed: (&[Line<'_>], &[LineRole]),
    findings: &[Finding],
) -> Vec<bool> {
    let certain = Certain::new(routine, typed);
    let line_dance = line_dance.map(|dance| CertainLineDance { dance, routine, findings });
    let told = |f: &Finding| {
        let in_line_dance = line_dance.as_ref().and_then(|dance| dance.is_told(f));
        in_line_dance.unwrap_or_else(|| certain.is_told(f, findings))
    };
    findings.iter().map(|f| f.is_mistake() && !told(f)).collect()
}

/// The sorts of statements of which the sheet goes against so many that its author must mean something else by them.
fn against_the_habit(
    statements: &Statements,
    parsed: &[Option<Parsed>],
    findings: &[Finding],
) -> HashSet<Sort> {
    use Sort::{Feet, LineCounts, Names, PartCounts, Walls};
    let conflicts = |sort| match sort {
        Walls => walls_apart(findings),
        Names => unknown_names(findings),
        LineCounts => lines_in_conflict(parsed, findings),
        // The first section of a line dance stands for its own counts and those of the dance.
        PartCounts => lines_with(PartCounts, findings),
        _ => findings.iter().filter(|f| Sort::of(&f.fault) == Some(sort)).count(),
    };
    let mut out = HashSet::new();
    for sort in [LineCounts, Feet, Walls] {
        let wrong = conflicts(sort);
        if wrong >= FEWEST_CONFLICTS && wrong * 3 > statements.number(sort) {
            out.insert(sort);
        }
    }
    // Of few headings two are many.
    let wrong = conflicts(PartCounts);
    if wrong >= 2 && wrong * 2 > statements.number(PartCounts) {
        out.insert(PartCounts);
    }
    // A name that no part has is not among those of the order as it was read.
    let wrong = conflicts(Names);
    if wrong >= 2 && wrong > statements.number(Names) {
        out.insert(Names);
    }
    out
}

/// Names that no step has and that stand on the sheet more than once.
fn names_again(findings: &[Finding]) -> HashSet<String> {
    let mut seen = HashSet::new();
    let unknown = findings.iter().filter(|f| matches!(f.fault, Fault::UnknownStep { .. }));
    unknown.map(|f| key(&f.words)).filter(|name| !seen.insert(name.clone())).collect()
}

/// Lines of headings that may be none, or whose place in the dance is told elsewhere: with nothing beneath them and in
/// no order; or named in a note.
fn headings_in_doubt(
    routine: &Routine,
    lines: &[Line<'_>],
    roles: &[LineRole],
    findings: &[Finding],
) -> HashSet<usize> {
    let unused: HashSet<usize> = findings
        .iter()
        .filter(|f| matches!(f.fault, Fault::PartUnused { .. }))
        .map(|f| f.line)
        .collect();
    if unused.is_empty() {
        return unused;
    }
    let noted = lines.iter().zip(roles).filter(|(_, role)| **role == LineRole::Note);
    let notes = runs_of_words(noted.map(|(line, _)| key(&line.text)));
    let told = |name: &str| {
        let name = key(name);
        name.chars().count() > 2 && notes.contains(&name)
    };
    let parts = routine.parts.iter().filter(|p| unused.contains(&p.line));
    let empty = |p: &Part| p.lines.is_empty() && p.stated_counts.is_none();
    // A tag is danced where somebody says so, in the order or not.
    let doubtful = |p: &&Part| empty(p) || told(&p.name) || p.kind == PartKind::Tag;
    parts.filter(doubtful).map(|p| p.line).collect()
}

/// A step said to start on a foot, on a line with one that is danced otherwise elsewhere, or whose feet are not known.
fn leads_elsewhere(routine: &Routine, f: &Finding) -> bool {
    let lead = matches!(f.fault, Fault::LeadDiffers { .. });
    let lines = routine.parts.iter().flat_map(|p| &p.lines).filter(|l| l.line == f.line);
    let open = |step: &StepUse| !step.feet_known() || is_common_practice(step);
    lead && lines.flat_map(|l| &l.steps).any(open)
}

/// All runs of so many words as a part's name may have.
fn runs_of_words(texts: impl Iterator<Item = String>) -> HashSet<String> {
    const MOST_WORDS: usize = 5;
    let mut out = HashSet::new();
    for text in texts {
        let words: Vec<&str> = text.split(' ').collect();
        for n in 1..=MOST_WORDS.min(words.len()) {
            out.extend(words.windows(n).map(|run| run.join(" ")));
        }
    }
    out
}

/// Lines whose counts are not those of their steps. What only repeats such a line is wrong with it.
fn lines_in_conflict(parsed: &[Option<Parsed>], findings: &[Finding]) -> usize {
    let repeats = |line: usize| {
        let read = line.checked_sub(1).and_then(|i| parsed.get(i)?.as_ref());
        read.is_some_and(|p| p.items.iter().any(|i| matches!(i.body, Body::Repeat { .. })))
    };
    let wrong = findings.iter().filter(|f| Sort::of(&f.fault) == Some(Sort::LineCounts));
    let lines: HashSet<usize> = wrong.map(|f| f.line).filter(|line| !repeats(*line)).collect();
    lines.len()
}

/// Lines of which something of a sort is found.
fn lines_with(sort: Sort, findings: &[Finding]) -> usize {
    let found = findings.iter().filter(|f| Sort::of(&f.fault) == Some(sort));
    found.map(|f| f.line).collect::<HashSet<usize>>().len()
}

/// The names in the order that no part has, each once.
fn unknown_names(findings: &[Finding]) -> usize {
    let far = |f: &&Finding| matches!(f.fault, Fault::UnknownPart { nearest: None });
    let unknown = findings.iter().filter(far);
    unknown.map(|f| key(&f.words)).collect::<HashSet<String>>().len()
}

/// Walls that differ, as often as they do by another turn than the one before: one wrong turn shows at every wall after it.
fn walls_apart(findings: &[Finding]) -> usize {
    let turns = findings.iter().filter_map(|f| match f.fault {
        Fault::WallDiffers { typed, computed } => {
            (0..8).find(|eighths| typed.turned_eighths(*eighths) == computed)
        }
        _ => None,
    });
    let mut turns: Vec<i32> = turns.collect();
    turns.dedup();
    turns.len()
}

/// The parts by the lines on which they begin.
struct PartLines(Vec<(usize, usize)>);

impl PartLines {
    fn of(routine: &Routine) -> PartLines {
        let begun = routine.parts.iter().enumerate().filter(|(_, p)| p.line > 0);
        let mut lines: Vec<(usize, usize)> = begun.map(|(i, p)| (p.line, i)).collect();
        lines.sort_unstable();
        PartLines(lines)
    }

    /// The part in which a line of the sheet stands.
    fn part_of(&self, line: usize) -> Option<usize> {
        let begun = self.0.partition_point(|(first, _)| *first <= line);
        begun.checked_sub(1).map(|last| self.0[last].1)
    }
}

/// The lines that were not understood for certain. What stands above the first part is in none.
struct Doubtful {
    parts: PartLines,
    lines: HashSet<usize>,
    /// The first such line of each part.
    first: HashMap<Option<usize>, usize>,
    /// The first line of each part whose steps are danced on feet that nobody knows.
    first_feet: HashMap<Option<usize>, usize>,
    /// Parts with steps of which only the usual counts are known: they may be danced otherwise.
    lengths: HashSet<Option<usize>>,
    /// Parts that begin with feet and walls that nobody knows, since something before them was not understood.
    begun_so: HashSet<usize>,
}

impl Doubtful {
    fn of(routine: &Routine, findings: &[Finding]) -> Doubtful {
        let parts = PartLines::of(routine);
        let danced: HashSet<usize> =
            routine.parts.iter().flat_map(|p| &p.lines).map(|l| l.line).collect();
        let lines_of =
            |is: fn(&Fault) -> bool| findings.iter().filter(move |f| is(&f.fault)).map(|f| f.line);
        // What is asked of a step's meaning says nothing of the part above it.
        let asked: HashSet<usize> =
            lines_of(asks_of_steps).filter(|line| danced.contains(line)).collect();
        let lines: HashSet<usize> = lines_of(is_unread).chain(asked).collect();
        let first_of = |lines: &mut dyn Iterator<Item = usize>| {
            let mut first = HashMap::new();
            for line in lines.filter(|line| *line > 0) {
                let known = first.entry(parts.part_of(line)).or_insert(line);
                *known = line.min(*known);
            }
            first
        };
        let first = first_of(&mut lines.iter().copied());
        let first_feet = first_of(&mut lines_of(|fault| match fault {
            Fault::Unsure(asked) => Sort::of(asked) == Some(Sort::Feet),
            _ => matches!(fault, Fault::FeetUnknown { .. }),
        }));
        let usual = lines_of(|fault| matches!(fault, Fault::UsualLength { .. }));
        let lengths = usual.map(|line| parts.part_of(line)).collect();
        let (mut begun, mut begun_so, mut open) = (HashSet::new(), HashSet::new(), false);
        for item in &routine.order {
            if begun.insert(item.part) && open {
                begun_so.insert(item.part);
            }
            open |= first.contains_key(&Some(item.part));
        }
        Doubtful { parts, lines, first, first_feet, lengths, begun_so }
    }

    /// Whether anything that is danced before a line was not understood.
    fn before(&self, line: usize) -> bool {
        let Some(part) = self.parts.part_of(line) else { return false };
        self.begun_so.contains(&part)
            || self.first.get(&Some(part)).is_some_and(|first| *first <= line)
    }

    fn feet_before(&self, line: usize) -> bool {
        let first = self.first_feet.get(&self.parts.part_of(line));
        first.is_some_and(|first| *first <= line)
    }

    fn anywhere(&self) -> bool {
        !self.lines.is_empty()
    }

    fn on_line(&self, line: usize) -> bool {
        self.lines.contains(&line)
    }

    fn lengths_in_part(&self, line: usize) -> bool {
        self.lengths.contains(&self.parts.part_of(line))
    }

    fn in_part(&self, line: usize) -> bool {
        self.first.contains_key(&self.parts.part_of(line))
    }
}
