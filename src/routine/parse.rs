//! From a sheet's text to a routine, with everything found on the way.

use std::collections::HashMap;

use super::book::Book;
use super::build::{Built, MOST_STEPS, Piece, Reading, build, finding};
use super::finding::{Fault, Finding};
use super::glossary::name_key;
use super::lines::{Field, Heading, Kind, classify, starting_foot};
use super::model::{OrderItem, Part, PartKind, Routine, StepUse};
use super::notation::{TimingCheck, check_timing};
use super::order::read_order;
use super::proof::{PartClaims, proof_read};
use super::step_line::{Body, Parsed, parse_step_line};
use super::words::{Line, key, length, nearest};

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
    let read = read_text(text);
    (read.routine, read.findings)
}

/// What each line of a sheet was taken for, in order.
pub fn line_roles(text: &str) -> Vec<LineRole> {
    read_text(text).roles
}

struct ReadText {
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

fn read_text(text: &str) -> ReadText {
    let lines = split_lines(text);
    let kinds = classify(&lines);
    let mut findings = Vec::new();
    let mut roles: Vec<LineRole> = kinds.iter().map(first_role).collect();

    let mut book = Book::default();
    define_steps(&lines, &kinds, &mut book, &mut findings);
    let (mut parsed, breakdowns) = parse_lines(&lines, &kinds, &mut book);

    let mut routine = Routine::default();
    read_fields(&lines, &kinds, &mut routine, &mut findings, &mut roles);
    let numbers_are_counts = kinds.iter().any(|k| *k == Kind::Columns(true));
    let sections = sections(&lines, &kinds, &mut parsed, &mut routine, &mut findings, &mut roles);

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
            let same_as = |other: &str| -> Option<Vec<StepUse>> {
                let index = by_name
                    .get(&key(other))
                    .or_else(|| by_name.get(&key(&format!("part {other}"))))?;
                Some(parts.get(*index)?.steps().cloned().collect())
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
                room,
            )
        };
        let (built, notes) =
            settle_notes(built, stated.map(|s| s.0), section, &lines, &parsed, &mut roles);
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
        if part.lines.is_empty() && stated.is_none() {
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
        claims.push(PartClaims { feet: built.feet, walls: built.walls });
        routine.parts.push(part);
    }

    set_order(&lines, &kinds, &mut routine, &mut findings);
    if routine.parts.is_empty() {
        findings
            .insert(0, Finding { line: 0, column: 1, words: String::new(), fault: Fault::Empty });
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
    ReadText { routine, findings, roles }
}

/// Lines whatever their ends; a byte order mark in front falls away.
fn split_lines(text: &str) -> Vec<Line<'_>> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let mut out: Vec<Line<'_>> = Vec::new();
    // Windows, Unix and old Macintosh ends, and the line and page breaks that word processors leave.
    let mut rest = text;
    while !rest.is_empty() {
        let end = rest.find(['\n', '\r', '\u{0B}', '\u{0C}', '\u{2028}', '\u{2029}', '\u{85}']);
        let (line, after) = match end {
            Some(at) => {
                let after = &rest[at..];
                let width = if after.starts_with("\r\n") {
                    2
                } else {
                    after.chars().next().map_or(1, char::len_utf8)
                };
                (&rest[..at], &after[width..])
            }
            None => (rest, ""),
        };
        out.push(Line::new(out.len() + 1, line));
        rest = after;
    }
    out
}

fn first_role(kind: &Kind) -> LineRole {
    match kind {
        Kind::Blank | Kind::Rule => LineRole::Blank,
        Kind::Field(Field::Order, _) | Kind::Order(_) => LineRole::Order,
        Kind::Field(..) => LineRole::Field,
        Kind::UnknownField => LineRole::Unknown,
        Kind::Heading(_) => LineRole::Heading,
        Kind::Definition(..) => LineRole::Definition,
        Kind::Feet(_) | Kind::Timing(_) | Kind::Steps(_) => LineRole::Steps,
        Kind::Columns(_) | Kind::Note => LineRole::Note,
    }
}

/// Takes in the steps that the sheet defines by `Name = movements`.
fn define_steps(lines: &[Line<'_>], kinds: &[Kind], book: &mut Book, findings: &mut Vec<Finding>) {
    for (line, kind) in lines.iter().zip(kinds) {
        let Kind::Definition(name, at) = kind else { continue };
        let parsed = parse_step_line(&line.text, *at, book);
        for (fault, place) in &parsed.faults {
            findings.push(finding(line, *place, fault.clone()));
        }
        // Its movements may be written out, or be other steps one after another.
        let mut moves = Vec::new();
        let mut counts = 0;
        let mut turn = 0;
        let mut stated = None;
        for item in &parsed.items {
            let known = match &item.body {
                Body::Moves => item.moves.clone(),
                Body::Known(key) => book.find(key).cloned(),
                Body::Nothing => None,
                Body::Pause => Some(StepUse::pause(item.stated.map_or(1, |s| s.0).min(64))),
                _ => {
                    let words = line.typed_between(item.body_place.0, item.body_place.1);
                    let nearest = book.nearest(&words);
                    findings.push(finding(line, item.body_place, Fault::UnknownStep { nearest }));
                    None
                }
            };
            turn += item.turn;
            stated = item.stated.or(stated);
            let Some(step) = known else { continue };
            for _ in 0..item.times {
                if moves.len() > 1000 {
                    break;
                }
                moves.extend(step.moves.iter().cloned().map(|mut m| {
                    for sound in &mut m.sounds {
                        *sound += counts * super::movement::QUARTERS_PER_COUNT;
                    }
                    m
                }));
                counts = u32::saturating_add(counts, step.counts).min(10_000);
            }
        }
        let number = parsed.items.len();
        let whole = (*at, line.text.trim_end().len());
        if let Some((typed, place)) = stated
            && typed != counts
            && number == 1
        {
            findings.push(finding(line, place, Fault::LineCounts { stated: typed, steps: counts }));
        }
        if moves.is_empty() {
            if !findings.iter().any(|f| f.line == line.number) {
                findings.push(finding(line, whole, Fault::UnknownLine { nearest: None }));
            }
            continue;
        }
        let step = StepUse { turn, ..StepUse::from_moves(name, moves, counts) };
        let movements = step.movements.clone();
        if let Some(first) = book.define(name_key(name), step, line.number)
            && first.step.movements != movements
        {
            let fault = Fault::StepTwice {
                first_line: first.line,
                movements: first.step.movements.clone(),
            };
            findings.push(finding(line, (line.indent(), *at), fault));
        }
    }
}

/// Cuts every step line into items. A name that is not known, with movements behind it or on the line
/// below, is a step of the sheet's own from there on. The second value says which lines are such
/// movements under a name.
fn parse_lines(
    lines: &[Line<'_>],
    kinds: &[Kind],
    book: &mut Book,
) -> (Vec<Option<Parsed>>, Vec<bool>) {
    let mut parsed: Vec<Option<Parsed>> = Vec::with_capacity(lines.len());
    for (line, kind) in lines.iter().zip(kinds) {
        parsed.push(match kind {
            Kind::Steps(at) => Some(parse_step_line(&line.text, *at, book)),
            Kind::Heading(Heading { rest: Some(at), .. }) => {
                Some(parse_step_line(&line.text, *at, book))
            }
            _ => None,
        });
    }
    let mut breakdowns = vec![false; lines.len()];
    let mut defined = false;
    for i in 0..lines.len() {
        let Some([item]) = parsed[i].as_ref().map(|p| &p.items[..]) else { continue };
        let name = lines[i].typed_between(item.body_place.0, item.body_place.1);
        let named_key = name_key(&name);
        let below = movements_below(i, lines, kinds, &parsed);
        match (&item.body, &item.moves) {
            (Body::Unknown, Some(own)) => {
                let step = StepUse { name, ..own.clone() };
                defined |= book.define(named_key, step, lines[i].number).is_none();
            }
            (Body::Unknown, None) => {
                let Some((at, own)) = below else { continue };
                breakdowns[at] = true;
                let step = StepUse { name, ..own };
                defined |= book.define(named_key, step, lines[i].number).is_none();
            }
            (Body::Known(key), None) => {
                let Some((at, own)) = below else { continue };
                let Some(step) = book.find(key) else { continue };
                let deeper = lines[at].indent() > lines[i].indent();
                let same = same_movements(&own, step);
                let feet_under = matches!(kinds.get(at + 1), Some(Kind::Feet(_) | Kind::Timing(_)));
                breakdowns[at] = same || deeper || (feet_under && own.counts == step.counts);
            }
            _ => {}
        }
    }
    if defined {
        // Names that came before their definition are known now.
        for (i, line) in lines.iter().enumerate() {
            let unknown = parsed[i]
                .as_ref()
                .is_some_and(|p| p.items.iter().any(|it| it.body == Body::Unknown));
            if !unknown {
                continue;
            }
            if let Kind::Steps(at) | Kind::Heading(Heading { rest: Some(at), .. }) = &kinds[i] {
                parsed[i] = Some(parse_step_line(&line.text, *at, book));
            }
        }
    }
    (parsed, breakdowns)
}

fn same_movements(a: &StepUse, b: &StepUse) -> bool {
    a.moves.iter().map(|m| m.movement.code).eq(b.moves.iter().map(|m| m.movement.code))
}

/// The line of movements right below a name, with what it gives; a timing line under it is heeded.
fn movements_below(
    i: usize,
    lines: &[Line<'_>],
    kinds: &[Kind],
    parsed: &[Option<Parsed>],
) -> Option<(usize, StepUse)> {
    let at = i + 1;
    let [item] = &parsed.get(at)?.as_ref()?.items[..] else { return None };
    if !matches!(kinds.get(at), Some(Kind::Steps(_)))
        || item.body != Body::Moves
        || item.times != 1
        || item.bare.is_some()
    {
        return None;
    }
    let mut step = item.moves.clone()?;
    for kind in kinds.iter().take((at + 3).min(lines.len())).skip(at + 1) {
        match kind {
            Kind::Timing(words) => {
                if let TimingCheck::Placed(places, counts) = check_timing(&step.moves, words) {
                    for (m, places) in step.moves.iter_mut().zip(places) {
                        m.sounds = places;
                    }
                    step.counts = counts;
                }
            }
            Kind::Feet(_) => {}
            _ => break,
        }
    }
    Some((at, step))
}

/// Title, music, wait and the like.
fn read_fields(
    lines: &[Line<'_>],
    kinds: &[Kind],
    routine: &mut Routine,
    findings: &mut Vec<Finding>,
    roles: &mut [LineRole],
) {
    for (i, (line, kind)) in lines.iter().zip(kinds).enumerate() {
        let typed = |at: usize| {
            line.typed_between(at, line.text.len()).trim_matches('"').trim().to_string()
        };
        match kind {
            Kind::Field(field, at) => {
                let value = typed(*at);
                match field {
                    Field::Title if routine.title.is_empty() => routine.title = value,
                    Field::Music => match &mut routine.music {
                        Some(music) if !value.is_empty() => *music = format!("{music}, {value}"),
                        _ => routine.music = Some(value),
                    },
                    Field::Choreographer => routine.choreographer = Some(value),
                    Field::Level => routine.level = Some(value),
                    Field::Wait => read_wait(line, *at, routine, findings),
                    Field::Starts => match starting_foot(&line.text[*at..]) {
                        Some(foot) => routine.starts_on = Some(foot),
                        None => {
                            roles[i] = LineRole::Note;
                            routine.notes.push(line.typed.trim().to_string());
                        }
                    },
                    Field::Order | Field::Steps => {}
                    Field::Title | Field::Note => routine.notes.push(line.typed.trim().to_string()),
                }
            }
            Kind::UnknownField => {
                let name = line.text.split(':').next().unwrap_or("");
                let known = [
                    "Title", "Music", "Level", "Choreo", "Wait", "Order", "Sequence", "Steps",
                    "Note", "Starts", "Artist",
                ];
                let nearest = nearest(name, known).map(str::to_string);
                findings.push(finding(
                    line,
                    (line.indent(), name.trim_end().len()),
                    Fault::UnknownField { nearest },
                ));
            }
            Kind::Note => routine.notes.push(line.typed.trim().to_string()),
            _ => {}
        }
    }
}

fn read_wait(line: &Line<'_>, at: usize, routine: &mut Routine, findings: &mut Vec<Finding>) {
    let value = &line.text[at..];
    let words: Vec<&str> = value
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '(' | ')'))
        .filter(|w| !w.is_empty())
        .collect();
    let found = (0..words.len()).find_map(|i| length(&words[i..]).map(|(n, used)| (n, i, used)));
    match found {
        Some((n, i, used)) => {
            routine.wait = Some(n);
            let rest = words[(i + used).min(words.len())..].join(" ");
            if let Some(foot) = starting_foot(&rest) {
                routine.starts_on = Some(foot);
            } else if !rest.is_empty() {
                routine.notes.push(line.typed.trim().to_string());
            }
        }
        None if matches!(key(value).as_str(), "none" | "no" | "no wait" | "nothing") => {
            routine.wait = Some(0)
        }
        None => {
            let place = (line.indent(), line.text.trim_end().len());
            findings.push(finding(line, place, Fault::NeedsNumber { what: "the wait" }));
        }
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
            Kind::Steps(_) | Kind::Feet(_) | Kind::Timing(_) => {
                if open {
                    if let Some(section) = out.last_mut() {
                        section.body.push(i);
                        continue;
                    }
                }
                let is_step = match (&kinds[i], &parsed[i]) {
                    (Kind::Steps(_), Some(p)) => {
                        p.is_known()
                            || (no_headings
                                && p.items.iter().any(|it| it.bare.is_some() || it.times > 1))
                    }
                    _ => false,
                };
                if is_step {
                    let place = (lines[i].indent(), lines[i].text.trim_end().len());
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
    same_as: &dyn Fn(&str) -> Option<Vec<StepUse>>,
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
    let first = build(&pieces, usual, book, same_as, room);
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
        .map(|(_, reading)| build(&pieces, reading, book, same_as, room))
        .find(|other| other.counts() == stated && other.complete)
        .unwrap_or(first)
}

/// Lines in a part that are nothing known: notes where the part's counts are right without them and no
/// step has a name like theirs, mistakes else.
fn settle_notes(
    mut built: Built,
    stated: Option<u32>,
    section: &Section,
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
    let _ = section;
    (built, notes)
}

/// Reads the order, or makes one where the sheet gives none.
fn set_order(
    lines: &[Line<'_>],
    kinds: &[Kind],
    routine: &mut Routine,
    findings: &mut Vec<Finding>,
) {
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
        return;
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
}
