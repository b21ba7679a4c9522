//! Headings that one line alone does not show: one of a row, a part that goes on line by line, a title that is none.

use std::collections::HashSet;

use super::heading::Heading;
use super::line::Line;
use super::lines::Kind;
use super::model::PartKind;
use super::words::{key, number};

/// `Set 1`, where `Set 2` is a heading: one of a row, whatever stands below it.
pub(super) fn in_one_row(lines: &[Line<'_>], kinds: &mut [Kind]) {
    let numbered = |name: &str| -> Option<String> {
        let name = key(name);
        let (word, label) = name.split_once(' ')?;
        number(label).map(|_| word.to_string())
    };
    let rows: HashSet<String> = kinds
        .iter()
        .filter_map(|kind| match kind {
            Kind::Heading(h) => numbered(&h.name),
            _ => None,
        })
        .collect();
    for (line, kind) in lines.iter().zip(kinds) {
        let name = line.text.trim();
        let plain = name.chars().all(|c| c.is_alphanumeric() || c == ' ');
        let in_row = plain && numbered(name).is_some_and(|word| rows.contains(&word));
        if in_row && matches!(kind, Kind::Steps(_) | Kind::Note) {
            *kind = Kind::Heading(Heading::named(name, PartKind::default()));
        }
    }
}

/// The first words of a sheet are its title, though they may name parts: the order stands elsewhere.
pub(super) fn title_is_no_order(lines: &[Line<'_>], kinds: &mut [Kind]) {
    let Some(first) = kinds.iter().position(|k| !matches!(k, Kind::Blank | Kind::Rule)) else {
        return;
    };
    let heading = kinds.iter().position(|k| matches!(k, Kind::Heading(_)));
    let elsewhere = heading.is_some_and(|at| kinds[at..].iter().any(Kind::is_order));
    if matches!(kinds[first], Kind::Order(_)) && elsewhere {
        kinds[first] = Kind::Steps(lines[first].indent());
    }
}

/// `A: 4 Triples` and right below `A: 8 Basics`: the part goes on under its name.
pub(super) fn headings_line_by_line(lines: &[Line<'_>], kinds: &mut [Kind]) {
    for i in 1..kinds.len() {
        let (Kind::Heading(before), Kind::Heading(here)) = (&kinds[i - 1], &kinds[i]) else {
            // Where the line before was set as steps, its name is in its text.
            continue;
        };
        let same = key(&before.name) == key(&here.name) && here.counts.is_none();
        let differ = before.rest.map(|at| &lines[i - 1].text[at..])
            != here.rest.map(|at| &lines[i].text[at..]);
        if let Some(at) = here.rest.filter(|_| same && differ && before.rest.is_some()) {
            kinds[i] = Kind::Steps(at);
        }
    }
}
