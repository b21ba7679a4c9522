//! From a sheet's text to a routine, with everything found on the way.

use std::collections::{BTreeMap, HashMap};

use crate::units::Foot;

use super::book::Book;
use super::build::{Built, MOST_STEPS, Piece, Reading, build, finding};
use super::field::Field;
use super::finding::{Fault, Finding};
use super::heading::Heading;
use super::item::{Body, Parsed};
use super::line_dance::{LineDance, read_line_dance};
use super::lines::{Kind, classify, classify_steps};
use super::markup::without_markup;
use super::model::{OrderItem, Part, PartKind, Routine, StepUse};
use super::order::{OrderPlace, read_order};
use super::own_steps::{define_steps, parse_lines};
use super::proof::{PartClaims, proof_read};
use super::step_file::StepFiles;
use super::top::read_fields;
use super::words::{Line, key};

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
    let read = read_text(text, steps);
    (read.routine, read.findings)
}

/// The files of steps that a sheet names, `Steps: our-steps.txt`.
pub(super) fn steps_files_named(text: &str) -> Vec<String> {
    let lines = split_lines(text);
    lines.iter().filter_map(|line| steps_file(&line.text).map(str::to_string)).collect()
}

/// `Steps: our-steps.txt`: the name of the file.
pub(super) fn steps_file(line: &str) -> Option<&str> {
    let (name, value) = line.split_once(':')?;
    let value = value.trim().trim_matches('"');
    let is_file = [".txt", ".steps", ".md"].iter().any(|end| value.to_lowercase().ends_with(end));
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
            let place = (line.indent(), line.text.trim_end().len());
            findings.push(finding(line, place, Fault::UnknownLine { nearest: None }));
        }
    }
    findings.sort_by_key(|f| (f.line, f.column));
    (book.own_steps(), findings)
}

/// What each line of a sheet was taken for, in order.
pub fn line_roles(text: &str) -> Vec<LineRole> {
    read_text(text, &StepFiles::default()).roles
}

/// Where each item of the order is named; empty where the sheet gives no order.
pub fn order_places(text: &str) -> Vec<OrderPlace> {
    read_text(text, &StepFiles::default()).order_places
}

/// The lines of a text, each with its line end.
pub fn lines_with_ends(text: &str) -> Vec<(&str, &str)> {
    let mut out: Vec<(&str, &str)> = Vec::new();
    let mut rest = text;
    // Windows, Unix and old Macintosh ends, and the line and page breaks that word processors leave.
    while !rest.is_empty() {
        let end = rest.find(['\n', '\r', '\u{0B}', '\u{0C}', '\u{2028}', '\u{2029}', '\u{85}']);
        let (line, width) = match end.map(|at| rest.split_at(at)) {
            Some((line, after)) if after.starts_with("\r\n") => (line, 2),
            Some((line, after)) => (line, after.chars().next().map_or(1, char::len_utf8)),
            None => (rest, 0),
        };
        out.push((line, &rest[line.len()..line.len() + width]));
        rest = &rest[line.len() + width..];
    }
    out
}

struct ReadText {
    order_places: Vec<OrderPlace>,
    routine: Routine,
    findings: Vec<Finding>,
    roles: Vec<LineRole>,
}

/// A part's heading and the lines below it, by their index.
struct Section {
    heading: Option<Heading>,
    line: usize,
    body: Vec<usize>,
}

fn read_text(text: &str, steps: &StepFiles) -> ReadText {
    let lines = split_lines(text);
    let mut kinds = classify(&lines);
    let line_dance = read_line_dance(&lines, &mut kinds);
    let mut findings = Vec::new();
    let mut roles: Vec<LineRole> = kinds.iter().map(first_role).collect();

    let mut book = Book::with_filed(steps.steps.clone());
    define_steps(&lines, &kinds, &mut book, &mut findings);
    let (mut parsed, breakdowns) = parse_lines(&lines, &kinds, &mut book);

    let mut routine = Routine::default();
    read_fields(&lines, &kinds, &mut routine, &mut findings, &mut roles);
    let numbers_are_counts = kinds.contains(&Kind::Columns(true));
    let mut sections =
        sections(&lines, &kinds, &mut parsed, &mut routine, &mut findings, &mut roles);
    if let Some(dance) = &line_dance {
        sections = dance
            .parts(lines.len())
            .into_iter()
            .map(|(heading, line, body)| Section { heading: Some(heading), line, body })
            .collect();
        let starts = LineDance::starts_on(&parsed, &dance.body);
        routine.starts_on = routine.starts_on.or(starts);
    }

    let mut claims: Vec<PartClaims> = Vec::with_capacity(sections.len());
    let mut by_name: HashMap<String, usize> = HashMap::new();
    let mut room = MOST_STEPS;
    for section in &sections {
        let at = &lines[section.line];
        let (name, kind, stated) = match &section.heading {
            Some(h) => (h.name.clone(), h.kind, h.counts),
            None => ("Dance".to_string(), PartKind::Part, None),
        };
        let place = (at.indent(), at.text.trim_end().len());
        let built = {
            let parts = &routine.parts;
            let same_as = |other: &str| -> Option<(usize, Vec<StepUse>)> {
                let index = *by_name
                    .get(&key(other))
                    .or_else(|| by_name.get(&key(&format!("part {other}"))))?;
                Some((index, parts.get(index)?.steps().cloned().collect()))
            };
            build_part(
                section,
                &lines,
                &kinds,
                &parsed,
                &breakdowns,
                stated.map(|s| s.0),
                numbers_are_counts,
                &book,
                &same_as,
                parts,
                room,
            )
        };
        let (built, notes) = settle_notes(built, stated.map(|s| s.0), &lines, &parsed, &mut roles);
        let steps: usize = built.lines.iter().map(|l| l.steps.len()).sum();
        room = room.saturating_sub(steps);
        findings.extend(built.findings.iter().cloned());
        routine.notes.extend(notes);
        routine.notes.extend(built.notes.iter().cloned());
        if let Some(first) = by_name.get(&key(&name)).copied() {
            let first_line = routine.parts.get(first).map_or(0, |p| p.line);
            findings.push(finding(at, place, Fault::PartTwice { first_line }));
        } else {
            by_name.insert(key(&name), routine.parts.len());
        }
        let part = Part {
            name,
            kind,
            stated_counts: stated.map(|s| s.0),
            lines: built.lines,
            line: at.number,
        };
        let said = built.findings.iter().any(Finding::is_mistake);
        if part.lines.is_empty() && stated.is_none() && !said {
            findings.push(finding(at, place, Fault::PartEmpty));
        }
        if let Some((counts, offset)) = stated
            && !part.lines.is_empty()
            && built.complete
            && part.counts() != counts
        {
            let fault = Fault::PartCounts { stated: counts, steps: part.counts() };
            findings.push(finding(at, (place.0, place.1.max(offset)), fault));
        }
        claims.push(PartClaims {
            feet: built.feet,
            walls: built.walls,
            other_foot: built.other_foot,
        });
        routine.parts.push(part);
    }

    let order_places = match &line_dance {
        Some(dance) => {
            if let Some(part) = routine.parts.first() {
                dance.check_sections(part, &lines, &mut findings);
            }
            dance.set_order(&mut routine, &lines, &mut findings);
            Vec::new()
        }
        None => set_order(&lines, &kinds, &mut routine, &mut findings),
    };
    if routine.parts.is_empty() {
        findings
            .insert(0, Finding { line: 0, column: 1, words: String::new(), fault: Fault::Empty });
    }
    if let Some(found) = start_by_claims(&mut routine, &claims) {
        findings.push(found);
    }
    proof_read(&routine, &claims, &lines, &mut findings);
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
    ReadText { order_places, routine, findings, roles }
}

/// Begins the foot of a printed sheet: what stands from here on was worked out and is not read again.
pub const WORKED_OUT: &str = ": Worked out from here on, and not read again";

/// Whether a line is one that a printed sheet puts below what it says of itself, for the reader's eyes.
fn is_gutter(line: &str) -> bool {
    line.trim_start().strip_prefix(':').is_some_and(|rest| rest.starts_with(' '))
}

/// Whether a text is a printed sheet. In any other a line that begins with a colon is the author's.
fn is_printed(text: &str) -> bool {
    text.lines().any(|line| line.trim_start().starts_with(WORKED_OUT))
}

/// The text without what a printed sheet has worked out: lines that begin with a colon, and its foot.
pub fn without_worked_out(text: &str) -> String {
    if !is_printed(text) {
        return text.to_string();
    }
    let lines = lines_with_ends(text).into_iter();
    lines
        .take_while(|(line, _)| !line.trim_start().starts_with(WORKED_OUT))
        .filter(|(line, _)| !is_gutter(line))
        .flat_map(|(line, end)| [line, end])
        .collect()
}

/// Lines whatever their ends; a byte order mark in front falls away. What was worked out is a drawn line.
fn split_lines(text: &str) -> Vec<Line<'_>> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let mut over = false;
    let printed = is_printed(text);
    let lines = lines_with_ends(text).into_iter().enumerate();
    let mut lines: Vec<Line<'_>> = lines
        .map(|(n, (line, _))| {
            over = over || line.trim_start().starts_with(WORKED_OUT);
            Line::new(n + 1, if over || (printed && is_gutter(line)) { "-" } else { line })
        })
        .collect();
    without_markup(&mut lines);
    lines
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
        Kind::Columns(_) | Kind::Note => LineRole::Note,
    }
}

/// Gathers the lines under each heading. Steps before any heading make a part of their own; other lines
/// there are the title and notes.
fn sections(
    lines: &[Line<'_>],
    kinds: &[Kind],
    parsed: &mut [Option<Parsed>],
    routine: &mut Routine,
    findings: &mut Vec<Finding>,
    roles: &mut [LineRole],
) -> Vec<Section> {
    let mut out: Vec<Section> = Vec::new();
    let mut open = false;
    let mut first_words = true;
    let no_headings = !kinds.iter().any(|k| matches!(k, Kind::Heading(_)));
    let has_order =
        kinds.iter().any(|k| matches!(k, Kind::Order(_) | Kind::Field(Field::Order, _)));
    for i in 0..lines.len() {
        match &kinds[i] {
            Kind::Heading(h) => {
                out.push(Section { heading: Some(h.clone()), line: i, body: Vec::new() });
                open = true;
                if let Some(p) = &parsed[i] {
                    let steps =
                        p.items.iter().any(|it| !matches!(it.body, Body::Unknown | Body::Nothing));
                    let turned = p.items.iter().any(|it| it.turn != 0 || it.wall.is_some());
                    if steps || turned {
                        if let Some(section) = out.last_mut() {
                            section.body.push(i);
                        }
                    } else {
                        routine.notes.push(lines[i].typed.trim().to_string());
                    }
                }
            }
            Kind::Field(Field::Order | Field::Steps, _) | Kind::Order(_) => open = false,
            Kind::Steps(_) | Kind::Feet(_) | Kind::Timing(_) | Kind::FootRows(_) => {
                if open && let Some(section) = out.last_mut() {
                    section.body.push(i);
                    continue;
                }
                let is_step = match (&kinds[i], &parsed[i]) {
                    (Kind::Steps(_) | Kind::FootRows(_), Some(p)) => {
                        p.is_known()
                            || (no_headings
                                && p.items.iter().any(|it| it.bare.is_some() || it.times > 1))
                    }
                    _ => false,
                };
                let place = (lines[i].indent(), lines[i].text.trim_end().len());
                if is_step && has_order && !no_headings {
                    findings.push(finding(&lines[i], place, Fault::OutsideParts));
                    routine.notes.push(lines[i].typed.trim().to_string());
                    roles[i] = LineRole::Note;
                } else if is_step {
                    findings.push(finding(&lines[i], place, Fault::NoHeading));
                    out.push(Section { heading: None, line: i, body: vec![i] });
                    open = true;
                } else {
                    roles[i] = LineRole::Note;
                    let typed = lines[i].typed.trim().to_string();
                    // The first words of a sheet are its title.
                    if first_words && out.is_empty() && routine.title.is_empty() {
                        routine.title = typed;
                    } else {
                        routine.notes.push(typed);
                    }
                    first_words = false;
                    parsed[i] = None;
                }
            }
            _ => {}
        }
    }
    out
}

/// Finds the part that another is the same as: its place and its steps.
type SameAs<'a> = dyn Fn(&str) -> Option<(usize, Vec<StepUse>)> + 'a;

/// Builds a part. Where numbers in front or a `repeat` can mean two things, the reading is taken that
/// gives the counts of the heading.
#[allow(clippy::too_many_arguments)]
fn build_part(
    section: &Section,
    lines: &[Line<'_>],
    kinds: &[Kind],
    parsed: &[Option<Parsed>],
    breakdowns: &[bool],
    stated: Option<u32>,
    numbers_are_counts: bool,
    book: &Book,
    same_as: &SameAs<'_>,
    above: &[Part],
    room: usize,
) -> Built {
    let pieces: Vec<Piece<'_>> = section
        .body
        .iter()
        .filter_map(|&i| match (&kinds[i], &parsed[i]) {
            (Kind::Feet(feet), _) => Some(Piece::Feet(&lines[i], feet)),
            (Kind::Timing(words), _) => Some(Piece::Timing(&lines[i], words)),
            (_, Some(p)) if breakdowns[i] => Some(Piece::Breakdown(&lines[i], p)),
            (_, Some(p)) => Some(Piece::Steps(&lines[i], p)),
            _ => None,
        })
        .collect();
    let usual = Reading { numbers_are_counts, repeat_all: false };
    let first = build(&pieces, usual, book, same_as, above, room);
    let Some(stated) = stated else { return first };
    if first.counts() == stated || !(first.has_bare_numbers || first.has_open_repeat) {
        return first;
    }
    let others = [
        (first.has_open_repeat, Reading { repeat_all: true, ..usual }),
        (
            first.has_bare_numbers,
            Reading { numbers_are_counts: !numbers_are_counts, repeat_all: false },
        ),
        (
            first.has_bare_numbers && first.has_open_repeat,
            Reading { numbers_are_counts: !numbers_are_counts, repeat_all: true },
        ),
    ];
    others
        .into_iter()
        .filter(|(open, _)| *open)
        .map(|(_, reading)| build(&pieces, reading, book, same_as, above, room))
        .find(|other| other.counts() == stated && other.complete)
        .unwrap_or(first)
}

/// Lines in a part that are nothing known: notes where the part's counts are right without them and no
/// step has a name like theirs, mistakes else.
fn settle_notes(
    mut built: Built,
    stated: Option<u32>,
    lines: &[Line<'_>],
    parsed: &[Option<Parsed>],
    roles: &mut [LineRole],
) -> (Built, Vec<String>) {
    let right_without = stated == Some(built.counts());
    let mut notes = Vec::new();
    let mut known_wrong = false;
    for f in &mut built.findings {
        if !matches!(f.fault, Fault::UnknownStep { nearest: None }) {
            known_wrong |= matches!(f.fault, Fault::UnknownStep { .. });
            continue;
        }
        let index = f.line.saturating_sub(1);
        let Some(p) = parsed.get(index).and_then(Option::as_ref) else { continue };
        let alone = p.items.iter().all(|i| {
            i.body == Body::Unknown
                && i.moves.is_none()
                && i.stated.is_none()
                && i.bare.is_none()
                && i.times == 1
        });
        if !alone {
            known_wrong = true;
            continue;
        }
        if right_without {
            f.fault = Fault::TakenAsNote;
            if let Some(line) = lines.get(index) {
                notes.push(line.typed.trim().to_string());
            }
            if let Some(role) = roles.get_mut(index) {
                *role = LineRole::Note;
            }
        } else {
            known_wrong = true;
            let words = f.words.split_whitespace().count();
            if words > 3 {
                f.fault = Fault::UnknownLine { nearest: None };
            }
        }
    }
    // One line makes one such finding, however many commas are in it.
    let mut seen = 0;
    built.findings.retain(|f| {
        let again = f.fault == Fault::TakenAsNote && f.line == seen;
        if f.fault == Fault::TakenAsNote {
            seen = f.line;
        }
        !again
    });
    notes.dedup();
    if right_without && !known_wrong {
        built.complete = true;
    }
    (built, notes)
}

/// Where the sheet does not say on which foot the dance starts, but every foot it gives in the first part,
/// twice at least, goes from the right, it starts there.
fn start_by_claims(routine: &mut Routine, claims: &[PartClaims]) -> Option<Finding> {
    let first = routine.order.first()?;
    let feet = &claims.get(first.part)?.feet;
    let right =
        feet.len() > 1 && feet.iter().all(|c| c.wrong(Foot::Left) > 0 && c.wrong(Foot::Right) == 0);
    if !right || routine.starts_on.is_some() {
        return None;
    }
    routine.starts_on = Some(Foot::Right);
    let claim = feet.first()?;
    Some(Finding {
        line: claim.line,
        column: claim.column,
        words: claim.words.clone(),
        fault: Fault::StartsOn { foot: Foot::Right },
    })
}

/// Reads the order, or makes one where the sheet gives none.
fn set_order(
    lines: &[Line<'_>],
    kinds: &[Kind],
    routine: &mut Routine,
    findings: &mut Vec<Finding>,
) -> Vec<OrderPlace> {
    let written: Vec<(&Line<'_>, usize)> = lines
        .iter()
        .zip(kinds)
        .filter_map(|(line, kind)| match kind {
            Kind::Field(Field::Order, at) | Kind::Order(at) => Some((line, *at)),
            _ => None,
        })
        .collect();
    let before = findings.len();
    let order = read_order(&written, &routine.parts, findings);
    let has_order = !order.items.is_empty() || findings.len() > before;
    if let Some(wait) = order.wait {
        routine.wait.get_or_insert(wait);
    }
    routine.parts.extend(order.pauses);
    routine.order = order.items;
    if has_order || routine.parts.is_empty() {
        return order.places;
    }
    routine.order = routine
        .parts
        .iter()
        .enumerate()
        .map(|(part, p)| OrderItem { part, time_round: 1, line: p.line })
        .collect();
    if routine.parts.len() > 1 {
        findings.push(Finding { line: 0, column: 1, words: String::new(), fault: Fault::NoOrder });
    }
    Vec::new()
}
