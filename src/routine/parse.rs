//! From a sheet's text to a routine, with everything found on the way.

use std::collections::{BTreeMap, HashSet};

use super::book::Book;
use super::doubt::weigh;
use super::field::Field;
use super::finding::{Fault, Finding};
use super::line::Line;
use super::line_dance::{LineDance, read_line_dance};
use super::lines::{Kind, classify, classify_steps};
use super::metre::in_three;
use super::model::{Routine, StepUse};
use super::order::OrderPlace;
use super::own_steps::{calls_itself_a_line_dance, define_steps, parse_lines};
use super::parts::PartsReader;
use super::proof::proof_read;
use super::sections::{Section, sections};
use super::settle::{Typed, start_by_claims};
use super::sheet_lines::split_lines;
use super::step_file::StepFiles;
use super::tail::notes_at_the_end;
use super::top::read_fields;
use super::words::key;
use super::written_order::wait_of_the_intro;

/// What became of a line of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LineRole {
    /// Nothing on it, or a drawn line.
    Blank,
    /// Title, music, wait and the like.
    Field,
    /// A part's heading.
    Heading,
    /// Steps, or movements, feet and timing of a step.
    Steps,
    /// What a step of the sheet's own is.
    Definition,
    /// The order of the parts.
    Order,
    /// A note, a call, names of columns.
    Note,
    /// Not understood; a finding says so.
    Unknown,
}

/// Reads a sheet. The routine holds whatever could be understood; the findings, in the order of their
/// lines, say what could not, and what proof-reading found. Takes any text and never fails; the time is
/// in proportion to the text's length.
pub fn parse(text: &str) -> (Routine, Vec<Finding>) {
    parse_with(text, &StepFiles::default())
}

/// As [`parse`], with steps from files.
pub fn parse_with(text: &str, steps: &StepFiles) -> (Routine, Vec<Finding>) {
    let read = read_sheet(text, steps);
    (read.routine, read.findings)
}

/// How the names of files of own steps end.
const STEPS_FILE_ENDS: [&str; 3] = [".txt", ".steps", ".md"];

/// The files of steps that a sheet names, `Steps: our-steps.txt`.
pub(super) fn steps_files_named(text: &str) -> Vec<String> {
    // Few sheets name any.
    let lower = text.to_lowercase();
    if !STEPS_FILE_ENDS.iter().any(|end| lower.contains(end)) {
        return Vec::new();
    }
    let lines = split_lines(text);
    lines.iter().filter_map(|line| steps_file(&line.text).map(str::to_string)).collect()
}

/// `Steps: our-steps.txt`: the name of the file.
pub(super) fn steps_file(line: &str) -> Option<&str> {
    let (name, value) = line.split_once(':')?;
    let value = value.trim().trim_matches('"');
    let is_file = STEPS_FILE_ENDS.iter().any(|end| value.to_lowercase().ends_with(end));
    (matches!(key(name).as_str(), "steps" | "steps file" | "own steps") && is_file).then_some(value)
}

/// The steps that a file of steps defines, each with its line, and what is wrong with the file.
pub(super) fn steps_defined(
    text: &str,
    before: &StepFiles,
) -> (BTreeMap<String, (StepUse, usize)>, Vec<Finding>) {
    let lines = split_lines(text);
    let kinds = classify_steps(&lines);
    let mut book = Book::with_filed(before.steps.clone());
    let mut findings = Vec::new();
    define_steps(&lines, &kinds, &mut book, &mut findings);
    for (line, kind) in lines.iter().zip(&kinds) {
        let known = matches!(
            kind,
            Kind::Blank
                | Kind::Rule
                | Kind::Note
                | Kind::Definition(..)
                | Kind::Field(..)
                | Kind::Columns(_)
        );
        if !known {
            let place = line.whole();
            findings.push(Finding::at(line, place, Fault::UnknownLine { nearest: None }));
        }
    }
    findings.sort_by_key(|f| (f.line, f.column));
    (book.own_steps(), findings)
}

/// What each line of a sheet was taken for, in order.
pub fn line_roles(text: &str) -> Vec<LineRole> {
    read_sheet(text, &StepFiles::default()).roles
}

/// Where each item of the order is named; empty where the sheet gives no order.
pub fn order_places(text: &str) -> Vec<OrderPlace> {
    read_sheet(text, &StepFiles::default()).order_places
}

/// All that is read from a sheet's text.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetRead {
    /// What it says.
    pub routine: Routine,
    /// What was found, as [`parse`] gives it.
    pub findings: Vec<Finding>,
    /// What each line was taken for, in order.
    pub roles: Vec<LineRole>,
    /// Where each item of the order is named; empty where the sheet gives no order.
    pub order_places: Vec<OrderPlace>,
}

/// Reads a sheet, with steps from files, and says what became of each of its lines.
pub fn read_sheet(text: &str, steps: &StepFiles) -> SheetRead {
    let lines = split_lines(text);
    let mut kinds = classify(&lines);
    let line_dance = read_line_dance(&lines, &mut kinds);
    let mut findings = Vec::new();
    let mut roles: Vec<LineRole> = kinds.iter().map(first_role).collect();

    let mut book = Book::with_filed(steps.steps.clone());
    book.in_three = in_three(&lines);
    define_steps(&lines, &kinds, &mut book, &mut findings);
    let (mut parsed, spells) = parse_lines(&lines, &kinds, &mut book);

    let mut routine = Routine::default();
    read_fields(&lines, &kinds, &mut routine, &mut findings, &mut roles);
    let mut sections =
        sections(&lines, &kinds, &mut parsed, &mut routine, &mut findings, &mut roles);
    if let Some(dance) = &line_dance {
        sections = dance
            .parts(lines.len())
            .into_iter()
            .map(|(heading, line, body)| Section { heading: Some(heading), line, body })
            .collect();
        note_what_is_left(&lines, &sections, &mut routine, &mut roles);
        let starts = LineDance::starts_on(&parsed, &dance.body);
        routine.starts_on = routine.starts_on.or(starts);
    }

    // Line dances start on the right; told in parts, they may.
    if line_dance.is_none() && calls_itself_a_line_dance(&lines) {
        let body: Vec<usize> = sections.iter().flat_map(|s| s.body.iter().copied()).collect();
        routine.starts_on = routine.starts_on.or(LineDance::starts_on(&parsed, &body));
    }

    let typed = Typed {
        lines: &lines,
        kinds: &kinds,
        parsed: &parsed,
        spells: &spells,
        numbers_are_counts: kinds.contains(&Kind::Columns(true)),
        book: &book,
    };
    let reader = PartsReader::new(typed, &mut routine, &mut findings, &mut roles);
    let (mut claims, written) = reader.read(&sections);

    let order_places = match &line_dance {
        Some(dance) => {
            if let Some(part) = routine.parts.first() {
                dance.check_sections(part, &lines, &mut findings);
            }
            dance.set_order(&mut routine, &lines, &mut findings);
            Vec::new()
        }
        None => {
            let mut places = written.set(&lines, &kinds, &mut routine, &mut findings);
            wait_of_the_intro(&mut routine, &mut claims, &mut places);
            places
        }
    };
    notes_at_the_end(&lines, &mut routine, &mut roles, &mut findings);
    if routine.parts.is_empty() {
        findings.insert(0, Finding::of_the_sheet(Fault::Empty));
    }
    if let Some(found) = start_by_claims(&mut routine, &claims) {
        findings.push(found);
    }
    proof_read(&routine, &claims, &lines, &mut findings);
    let typed = (&lines[..], &roles[..]);
    weigh(&routine, &sections, &parsed, &claims, line_dance.as_ref(), typed, &mut findings);
    for f in &findings {
        if matches!(
            f.fault,
            Fault::UnknownLine { .. } | Fault::UnknownStep { .. } | Fault::UnknownField { .. }
        ) && let Some(role) = f.line.checked_sub(1).and_then(|l| roles.get_mut(l))
        {
            *role = LineRole::Unknown;
        }
    }
    findings.sort_by_key(|f| (f.line, f.column));
    SheetRead { routine, findings, roles, order_places }
}

/// Lines among the sections of a line dance that are none of its steps are notes.
fn note_what_is_left(
    lines: &[Line<'_>],
    sections: &[Section],
    routine: &mut Routine,
    roles: &mut [LineRole],
) {
    let danced: HashSet<usize> = sections.iter().flat_map(|s| s.body.iter().copied()).collect();
    for (i, (line, role)) in lines.iter().zip(roles).enumerate() {
        if *role == LineRole::Steps && !danced.contains(&i) {
            *role = LineRole::Note;
            routine.notes.push(line.typed.trim().to_string());
        }
    }
}

fn first_role(kind: &Kind) -> LineRole {
    match kind {
        Kind::Blank | Kind::Rule => LineRole::Blank,
        Kind::Field(Field::Order, _) | Kind::Order(_) => LineRole::Order,
        Kind::Field(..) => LineRole::Field,
        Kind::UnknownField => LineRole::Unknown,
        Kind::Heading(_) | Kind::LineSection => LineRole::Heading,
        Kind::LineSteps(_) => LineRole::Steps,
        Kind::TagOrRestart => LineRole::Order,
        Kind::Definition(..) => LineRole::Definition,
        Kind::Feet(_) | Kind::Timing(_) | Kind::Steps(_) | Kind::FootRows(_) => LineRole::Steps,
        Kind::Again(..) => LineRole::Order,
        Kind::Columns(_) | Kind::Note | Kind::Sum => LineRole::Note,
    }
}
