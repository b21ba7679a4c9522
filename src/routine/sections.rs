//! The lines of a sheet gathered under their headings.

use super::field::Field;
use super::finding::{Fault, Finding};
use super::heading::Heading;
use super::item::{Body, Parsed};
use super::line::Line;
use super::lines::Kind;
use super::model::{PartKind, Routine};
use super::notation::read_movements;
use super::parse::LineRole;
use super::phrases::without_again;
use super::vocabulary::content;
use super::words::key;

/// A part's heading and the lines below it, by their index.
pub(super) struct Section {
    pub(super) heading: Option<Heading>,
    pub(super) line: usize,
    pub(super) body: Vec<usize>,
}

/// Gathers the lines under each heading. Steps before any heading make a part of their own; other lines
/// there are the title and notes.
pub(super) fn sections(
    lines: &[Line<'_>],
    kinds: &[Kind],
    parsed: &mut [Option<Parsed>],
    routine: &mut Routine,
    findings: &mut Vec<Finding>,
    roles: &mut [LineRole],
) -> Vec<Section> {
    let mut out: Vec<Section> = Vec::new();
    let mut open = false;
    let (mut first_words, mut ordered) = (true, false);
    let has_ending =
        kinds.iter().any(|k| matches!(k, Kind::Heading(h) if h.kind == PartKind::Ending));
    let no_headings = !kinds.iter().any(|k| matches!(k, Kind::Heading(_)));
    let has_order = kinds.iter().any(Kind::is_order);
    for i in 0..lines.len() {
        match &kinds[i] {
            Kind::Heading(h) => {
                if let Some(p) = parsed[i].as_mut() {
                    counts_of_the_only_step(h, p);
                }
                out.push(Section { heading: Some(h.clone()), line: i, body: Vec::new() });
                open = true;
                if let Some(p) = &parsed[i] {
                    let steps =
                        p.items.iter().any(|it| !matches!(it.body, Body::Unknown | Body::Nothing));
                    let turned = p.items.iter().any(|it| it.turn != 0 || it.wall.is_some());
                    // A name that nobody knows, with counts or times, is a step and told.
                    let counted = p.items.iter().any(|it| {
                        it.body == Body::Unknown && (it.stated.is_some() || it.times > 1)
                    });
                    let named = h.rest.is_some_and(|at| content(&lines[i].text[at..]).is_steps());
                    if steps || turned || counted || named {
                        if let Some(section) = out.last_mut() {
                            section.body.push(i);
                        }
                    } else {
                        routine.notes.push(lines[i].typed.trim().to_string());
                    }
                }
            }
            Kind::Field(Field::Order | Field::Steps, _) | Kind::Order(_) => {
                ordered |= !matches!(kinds[i], Kind::Field(Field::Steps, _));
                open = false;
            }
            // What is said of it beside the names is told.
            Kind::Again(_, to) => {
                open = false;
                let rest = lines[i].text[*to..].trim();
                let end = lines[i].text.trim_end().len();
                if rest.split_whitespace().count() > 1 && !rest.to_lowercase().starts_with("to ") {
                    findings.push(Finding::at(&lines[i], (*to, end), Fault::TakenAsNote));
                }
            }
            Kind::Steps(_) | Kind::Feet(_) | Kind::Timing(_) | Kind::FootRows(_) => {
                // `end with two stomps` under a heading that only comes again ends the dance.
                let danced = parsed[i].as_ref().is_some_and(Parsed::is_known);
                if open && danced && begins_the_end(&lines[i].text) && comes_again(&out) {
                    out.push(Section { heading: Some(ending()), line: i, body: vec![i] });
                    continue;
                }
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
                let is_title = first_words
                    && out.is_empty()
                    && routine.title.is_empty()
                    && is_named_as_a_step(i, lines, no_headings);
                let is_step = is_step && !is_title;
                let place = lines[i].whole();
                if is_step && ordered && !out.is_empty() && !has_ending {
                    // Steps behind the order are how the dance ends.
                    out.push(Section { heading: Some(ending()), line: i, body: vec![i] });
                    open = true;
                } else if is_step && has_order && !no_headings {
                    findings.push(Finding::at(&lines[i], place, Fault::OutsideParts));
                    routine.notes.push(lines[i].typed.trim().to_string());
                    roles[i] = LineRole::Note;
                } else if is_step {
                    findings.push(Finding::at(&lines[i], place, Fault::NoHeading));
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
    for section in &mut out {
        counts_of_the_first_line(section, lines, parsed);
    }
    out
}

/// `B1 16 counts: drag slides`: the counts of the heading are those of its only step.
fn counts_of_the_only_step(heading: &Heading, parsed: &mut Parsed) {
    let Some(stated) = heading.counts else { return };
    let mut danced = parsed.items.iter_mut().filter(|it| it.body != Body::Nothing);
    if let (Some(item), None) = (danced.next(), danced.next())
        && item.stated.is_none()
    {
        item.stated = Some((stated.0, item.body_place));
    }
}

/// A length in front of the first line of a part, as of each that follows, is that line's: `B2 6 bars slides` over
/// `2 bars stomps`.
fn counts_of_the_first_line(section: &mut Section, lines: &[Line<'_>], parsed: &[Option<Parsed>]) {
    let Some(heading) = section.heading.as_mut().filter(|h| h.rest.is_some()) else { return };
    let Some((first, below)) = section.body.split_first().filter(|(_, b)| !b.is_empty()) else {
        return;
    };
    let in_front = |&i: &usize| {
        let item = parsed[i].as_ref().and_then(|p| p.items.first());
        item.and_then(|it| it.stated).is_some_and(|(_, place)| place.0 == lines[i].indent())
    };
    if *first == section.line && below.iter().all(in_front) {
        heading.counts = None;
    }
}

/// Whether the last section is a part that stands above already, with nothing beneath.
fn comes_again(sections: &[Section]) -> bool {
    let name = |s: &Section| {
        let name = &s.heading.as_ref()?.name;
        Some(key(without_again(name).unwrap_or(name)))
    };
    sections.split_last().is_some_and(|(last, before)| {
        let here = name(last);
        last.body.is_empty() && before.iter().any(|s| here.is_some() && name(s) == here)
    })
}

/// Whether the first words of a sheet, though they name a step, are its title: no number stands in them, and headings or
/// a gap come before what is danced.
fn is_named_as_a_step(i: usize, lines: &[Line<'_>], no_headings: bool) -> bool {
    let said = lines[..i].iter().any(|l| !l.text.trim().is_empty());
    let gap = lines.get(i + 1).is_some_and(|l| l.text.trim().is_empty());
    let plain = !lines[i].text.contains(|c: char| c.is_ascii_digit() || matches!(c, ',' | '('));
    let movements = read_movements(lines[i].text.trim()).is_some();
    !said && plain && !movements && (!no_headings || gap)
}

fn ending() -> Heading {
    Heading::named("Ending", PartKind::Ending)
}

/// `end with two stomps`, `finally 4 claps`: how a dance ends.
pub(super) fn begins_the_end(text: &str) -> bool {
    let first = key(text.split_whitespace().next().unwrap_or(""));
    matches!(first.as_str(), "end" | "ends" | "ending" | "finish" | "finally" | "last")
}
