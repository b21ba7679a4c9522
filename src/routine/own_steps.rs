//! Steps that the sheet itself defines: by `Name = movements`, behind a name, or on the line below it.

use std::collections::BTreeMap;

use super::book::Book;
use super::finding::{Fault, Finding};
use super::glossary::name_key;
use super::heading::Heading;
use super::item::{Body, Item, Parsed};
use super::line::Line;
use super::line_dance::{by_counts, line_steps};
use super::line_figures::is_way;
use super::line_marks::{Marks, counts_with_unit, marks};
use super::line_steps::read_line_steps;
use super::lines::Kind;
use super::model::StepUse;
use super::movement::{MovementUse, QUARTERS_PER_COUNT};
use super::step_line::parse_step_line;
use super::timing_lines::{TimingCheck, check_timing};
use super::words::{counts_in_brackets, number};

/// Takes in the steps that the sheet defines by `Name = movements`.
pub(super) fn define_steps(
    lines: &[Line<'_>],
    kinds: &[Kind],
    book: &mut Book,
    findings: &mut Vec<Finding>,
) {
    for (line, kind) in lines.iter().zip(kinds) {
        let Kind::Definition(name, at) = kind else { continue };
        // Its movements stand on the line below.
        if line.text[*at..].trim().is_empty() {
            continue;
        }
        let parsed = parse_step_line(&line.text, *at, book);
        for (fault, place) in &parsed.faults {
            findings.push(Finding::at(line, *place, fault.clone()));
        }
        // Its movements may be written out, or be other steps one after another.
        let mut moves = Vec::new();
        let mut counts = 0;
        let mut turn = 0;
        let mut stated = None;
        let mut unknown = Vec::new();
        let by_counts = |counts: u32| StepUse { name: name.clone(), counts, ..StepUse::default() };
        for (i, item) in parsed.items.iter().enumerate() {
            let known = match &item.body {
                Body::Moves => item.moves.clone(),
                Body::Known(key) => book.find(key).cloned(),
                Body::Nothing => None,
                // Counts behind the last of several may be those of all.
                Body::Pause => {
                    let all = moves.len() > 1 && i + 1 == parsed.items.len();
                    let own = item.stated.filter(|s| !(all && s.0 == counts + 1));
                    Some(StepUse::pause(own.map_or(1, |s| s.0).min(64)))
                }
                _ => {
                    let words = line.typed_between(item.body_place.0, item.body_place.1);
                    let nearest = book.nearest(&words);
                    let fault = Fault::UnknownStep { nearest };
                    unknown.push(Finding::at(line, item.body_place, fault));
                    None
                }
            };
            turn = i32::saturating_add(turn, item.turn);
            stated = item.stated.or(stated);
            let Some(step) = known else { continue };
            for _ in 0..item.times {
                if moves.len() > 1000 {
                    break;
                }
                moves.extend(step.moves.iter().cloned().map(|m| m.later_by(counts)));
                counts = u32::saturating_add(counts, step.counts).min(10_000);
            }
        }
        // `Popcorn = jump high, jump high, clap (4 counts)`: danced by its counts alone.
        if let Some((typed, _)) = stated.filter(|_| !unknown.is_empty() || moves.is_empty()) {
            book.define(name_key(name), by_counts(typed), line.number);
            continue;
        }
        findings.append(&mut unknown);
        // `Loop Vine (4): DS LOOP-S DS RS`: of movements of which one is not known the counts are not these.
        let unread = parsed.items.iter().any(|i| !i.notes.is_empty());
        if unread && counts_in_brackets(name_typed(line, *at)).is_some_and(|(_, n)| n != counts) {
            continue;
        }
        // `Joey = DS BA BA BA BA BA S`: as many movements as the step of that name has, on the same counts.
        let typed =
            counts_in_brackets(name_typed(line, *at)).map(|(_, n)| n).or(stated.map(|s| s.0));
        if let Some(known) = book.find(&name_key(name))
            && known.counts != counts
            && known.moves.len() == moves.len()
            && typed.is_none_or(|n| n == known.counts)
        {
            for (moved, known) in moves.iter_mut().zip(&known.moves) {
                moved.sounds.clone_from(&known.sounds);
            }
            counts = known.counts;
        }
        let number = parsed.items.len();
        let whole = (*at, line.text.trim_end().len());
        if let Some((typed, place)) = stated
            && typed != counts
            && number == 1
        {
            // Its author counts it as it is danced, and the movements may fall otherwise than they usually do.
            let fault = Fault::LineCounts { stated: typed, steps: counts };
            findings.push(Finding::at(line, place, Fault::Unsure(Box::new(fault))));
            book.define(name_key(name), by_counts(typed), line.number);
            continue;
        }
        if moves.is_empty() {
            if !findings.iter().any(|f| f.line == line.number) {
                findings.push(Finding::at(line, whole, Fault::UnknownLine { nearest: None }));
            }
            continue;
        }
        let mut step = StepUse::from_moves(name, moves, counts);
        step.add_eighths(turn);
        let movements = step.movements.clone();
        if let Some(first) = book.define(name_key(name), step, line.number)
            && first.step.movements != movements
        {
            let fault = Fault::StepTwice {
                first_line: first.line,
                movements: first.step.movements.clone(),
            };
            findings.push(Finding::at(line, (line.indent(), *at), fault));
        }
    }
}

/// What stands in front of a definition's movements.
fn name_typed<'l>(line: &'l Line<'_>, at: usize) -> &'l str {
    line.text[..at].trim_end_matches([' ', ':', '=', '-'])
}

/// `back 4`: where it goes, and for how long.
fn goes_a_way(words: &str) -> bool {
    let mut all = words.split_whitespace();
    let to_a_side = ["to the left", "to the right", "to the side"];
    to_a_side.iter().any(|way| words.trim().eq_ignore_ascii_case(way))
        || all.next().is_some_and(|w| is_way(&w.to_lowercase())) && all.all(|w| number(w).is_some())
}

/// Whether a sheet calls itself a line dance's.
pub(super) fn calls_itself_a_line_dance(lines: &[Line<'_>]) -> bool {
    let says = |l: &Line<'_>| {
        let lower = l.typed.to_lowercase();
        let walls = lower.split(|c: char| !c.is_alphanumeric()).collect::<Vec<_>>();
        let counted = |w: &[&str]| number(w[0]).is_some() && matches!(w[1], "wall" | "walls");
        lower.contains("line dance") || walls.windows(2).any(counted)
    };
    lines.iter().any(says)
}

/// Counts of the steps on a line whose counts are known.
fn counts_of(parsed: &Parsed, book: &Book) -> u32 {
    let known = parsed.items.iter().filter_map(|item| item.usual_counts(book));
    known.fold(0, u32::saturating_add)
}

/// A line that as steps goes against the counts in front of it, and in the words of line dances with them: in a sheet of
/// parts too `1-4: Walk forward R, L, R, kick L` is four counts.
fn as_a_line_dance(
    text: &str,
    at: usize,
    usual: &Parsed,
    book: &Book,
    line_dance: bool,
) -> Option<Parsed> {
    let in_front = marks(text, at).filter(|m| m.counts > 1);
    let by_unit = marks_of_a_unit(text, at).filter(|_| line_dance);
    let (text, marks) = match in_front.or_else(|| by_unit.clone()) {
        Some(marks) => (text, marks),
        None => counts_at_the_end(text, at).filter(|_| line_dance)?,
    };
    let plain = |i: &Item| i.turn != 0 || i.wall.is_some() || i.stated.is_some();
    let understood = |i: &Item| match i.body {
        Body::Unknown => false,
        Body::Nothing => plain(i),
        _ => true,
    };
    let whole = usual.items.iter().all(understood);
    // Steps that are counted, and what comes again, are said in words of their own.
    let again = |i: &Item| match i.body {
        Body::Repeat { .. } | Body::SameAs(_) | Body::Group => true,
        Body::Known(_) => i.times > 1,
        _ => false,
    };
    if by_unit.is_none() && usual.items.iter().any(again)
        || whole && counts_of(usual, book) == marks.counts
    {
        return None;
    }
    match read_line_steps(text, &marks).filter(|p| p.faults.is_empty()) {
        Some(said) => Some(one_by_one(said)),
        // In words that nobody knows it is danced by its counts.
        None => by_unit.map(|marks| by_counts(text, &marks)),
    }
}

/// `4 cts: toe struts forward`: the counts as if they stood in figures.
fn marks_of_a_unit(text: &str, at: usize) -> Option<Marks> {
    const MOST_COUNTS: u32 = 16;
    let (counts, words) = counts_with_unit(&text[at..])?;
    if !(2..=MOST_COUNTS).contains(&counts) {
        return None;
    }
    let places = (1..=counts).map(|n| n * QUARTERS_PER_COUNT).collect();
    Some(Marks { places, counts, first: 1, at: at + words })
}

/// `Step R forward, pivot 1/2 L (2)`: the words, and the counts as if they stood in front.
fn counts_at_the_end(text: &str, at: usize) -> Option<(&str, Marks)> {
    const MOST_COUNTS: u32 = 16;
    let (words, counts) = counts_in_brackets(text.trim_end())?;
    let places = (1..=counts).map(|n| n * QUARTERS_PER_COUNT).collect();
    (2..=MOST_COUNTS).contains(&counts).then_some((words, Marks { places, counts, first: 1, at }))
}

/// A line of as many figures as movements, one to a count, as steps one by one.
fn one_by_one(line: Parsed) -> Parsed {
    let [item] = &line.items[..] else { return line };
    let Some(step) = &item.moves else { return line };
    let names: Vec<&str> = step.name.split(", ").collect();
    let counts = step.counts as usize;
    if names.len() != counts || step.moves.len() != counts {
        return line;
    }
    let of_one = |(i, (name, moved)): (usize, (&&str, &MovementUse))| {
        let mut moved = moved.clone();
        moved.sounds.iter_mut().for_each(|at| *at = QUARTERS_PER_COUNT);
        let last = i + 1 == counts;
        let here = item.sequence.iter().filter(|(index, ..)| *index == i);
        Item {
            moves: Some(StepUse::from_moves(name, vec![moved], 1)),
            sequence: here.map(|(_, foot, place)| (0, *foot, *place)).collect(),
            turn: if last { item.turn } else { 0 },
            wall: item.wall.filter(|_| last),
            ..Item::of_moves(item.place)
        }
    };
    let items = names.iter().zip(&step.moves).enumerate().map(of_one).collect();
    Parsed { items, ..line }
}

/// A line of a line dance: by its own words; else by the names of whole steps, where these take as many counts as
/// stand in front; else by those counts.
fn line_dance_steps(text: &str, marks: &Marks, book: &Book) -> Parsed {
    let mut named = parse_step_line(text, marks.at, book);
    let sum = counts_of(&named, book);
    let fits = named.is_known() && named.faults.is_empty() && sum == marks.counts;
    // What is said of feet is held against the steps of the line dance's own words only.
    named.items.iter_mut().for_each(|item| item.bare = None);
    let own = read_line_steps(text, marks).filter(|p| p.faults.is_empty());
    // `1-4 Triple, L foot` is the clogger's step; a line dance's triple step takes two counts.
    let triple = |i: &Item| {
        i.times == 1
            && matches!(&i.body, Body::Known(key) if matches!(&**key, "triple" | "triple basic"))
    };
    if fits && (own.is_none() || matches!(&named.items[..], [one] if triple(one))) {
        return named;
    }
    if let Some(own) = own {
        return own;
    }
    // `Jazz box: cross, back, side, together`: what stands behind the colon spells it out.
    let spelled = text.find(": ").filter(|colon| *colon > marks.at);
    let figure = spelled.and_then(|colon| read_line_steps(&text[..colon], marks));
    figure.filter(|p| p.faults.is_empty()).unwrap_or_else(|| line_steps(text, marks))
}

/// Names that no book has and that stand on the sheet more than once.
fn recurring(lines: &[Line<'_>], parsed: &[Option<Parsed>]) -> Vec<String> {
    let mut times: BTreeMap<String, usize> = BTreeMap::new();
    for (line, parsed) in lines.iter().zip(parsed) {
        let items = parsed.iter().flat_map(|p| &p.items).filter(|i| i.body == Body::Unknown);
        for item in items {
            let name = line.typed_between(item.body_place.0, item.body_place.1);
            *times.entry(name_key(&name)).or_default() += 1;
        }
    }
    times.into_iter().filter(|(_, n)| *n > 1).map(|(name, _)| name).collect()
}

/// Whether a line of movements spells out the step named above it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Spells {
    /// It is danced.
    Nothing,
    Above,
    /// The several steps of the line above.
    WholeLine,
    /// The step above is as long: danced, if the counts of the part are right so, or else not.
    AboveOrNothing,
}

/// Cuts every step line into items. A name that is not known, with movements behind it or on the line
/// below, is a step of the sheet's own from there on. The second value says which lines are such
/// movements under a name.
pub(super) fn parse_lines(
    lines: &[Line<'_>],
    kinds: &[Kind],
    book: &mut Book,
) -> (Vec<Option<Parsed>>, Vec<Spells>) {
    let mut parsed: Vec<Option<Parsed>> = Vec::with_capacity(lines.len());
    let line_dance = calls_itself_a_line_dance(lines);
    for (line, kind) in lines.iter().zip(kinds) {
        parsed.push(match kind {
            Kind::FootRows(written) => Some(parse_step_line(written, 0, book)),
            Kind::LineSteps(marks) => Some(line_dance_steps(&line.text, marks, book)),
            Kind::Steps(at) => {
                let usual = parse_step_line(&line.text, *at, book);
                let danced = as_a_line_dance(&line.text, *at, &usual, book, line_dance);
                let usual = danced.unwrap_or(usual);
                Some(if usual.is_known() { usual } else { in_words(line).unwrap_or(usual) })
            }
            Kind::Heading(Heading { rest: Some(at), .. }) => {
                Some(parse_step_line(&line.text, *at, book))
            }
            _ => None,
        });
    }
    book.recur(recurring(lines, &parsed));
    let mut breakdowns = vec![Spells::Nothing; lines.len()];
    let mut defined = false;
    for i in 0..lines.len() {
        // A turn or a wall behind the name, `2 Triple, turn 1/4 L`, is no step of its own.
        let Some(items) = parsed[i].as_ref().map(|p| &p.items) else { continue };
        // `Cowboy, fwd 4, back 4` says how one step goes.
        let goes = |item: &Item| {
            let words = &lines[i].text[item.body_place.0..item.body_place.1];
            item.body == Body::Unknown && goes_a_way(words)
        };
        let mut danced = items.iter().filter(|item| item.body != Body::Nothing && !goes(item));
        let Some(item) = danced.next() else { continue };
        // `Chain left, Chain right` over the movements of one.
        let all_alike =
            danced.clone().all(|other| other.body == item.body && other.moves.is_none());
        let alone = danced.next().is_none();
        let is_known = matches!(item.body, Body::Known(_)) && item.moves.is_none();
        if !(alone || all_alike && is_known) {
            let counts = items.iter().map(|i| i.usual_counts(book)).sum::<Option<u32>>();
            let stated = items.last().and_then(|i| i.stated).map(|(n, _)| n);
            let counts = counts.or(stated);
            if let Some((at, own)) = movements_below(i, kinds, &parsed)
                && lines[at].indent() > lines[i].indent()
                && counts == Some(own.counts)
            {
                breakdowns[at] = Spells::WholeLine;
            }
            continue;
        }
        let name = lines[i].typed_between(item.body_place.0, item.body_place.1);
        let name = name.trim_end_matches(':').to_string();
        let named_key = name_key(&name);
        let below = movements_below(i, kinds, &parsed);
        let gap = below.as_ref().is_some_and(|(at, _)| *at > i + 1);
        match (&item.body, &item.moves) {
            (Body::Unknown, Some(own)) => {
                let step = StepUse { name, ..own.clone() };
                defined |= book.define(named_key, step, lines[i].number).is_none();
            }
            (Body::Unknown, None) => {
                let Some((at, own)) = below else { continue };
                let near = book.nearest(&name).and_then(|n| book.find(&name_key(&n)).cloned());
                let deeper = lines[at].indent() > lines[i].indent()
                    || matches!(kinds.get(at), Some(Kind::FootRows(_)));
                let feet_under = matches!(kinds.get(at + 1), Some(Kind::Feet(_) | Kind::Timing(_)));
                match near {
                    // A known step with a slip in its name, written out.
                    Some(near) if same_movements(&near, &own) => {
                        breakdowns[at] = Spells::Above;
                        continue;
                    }
                    // A slip in a name, and other movements on a line of their own.
                    Some(_) if !deeper && !feet_under => continue,
                    _ => breakdowns[at] = Spells::Above,
                }
                let step = StepUse { name, ..own };
                defined |= book.define(named_key, step, lines[i].number).is_none();
            }
            (Body::Known(key), None) => {
                let Some((at, own)) = below else { continue };
                let Some(step) = book.find(key) else { continue };
                let deeper = lines[at].indent() > lines[i].indent()
                    || matches!(kinds.get(at), Some(Kind::FootRows(_)));
                let same = same_movements(&own, step);
                let feet_under = matches!(kinds.get(at + 1), Some(Kind::Feet(_) | Kind::Timing(_)));
                let as_long = own.counts == step.counts || own.moves.len() == step.moves.len();
                let as_all = own.counts == step.counts.saturating_mul(item.times);
                let meant = deeper || (feet_under && as_long);
                breakdowns[at] = match same || (meant && !gap) {
                    true => Spells::Above,
                    false if as_long || as_all => Spells::AboveOrNothing,
                    false => Spells::Nothing,
                };
            }
            // A repeat on the other foot may be written out once more.
            (Body::Repeat { .. }, None) => {
                // Of a line of several steps nobody could tell which they spell out.
                let one =
                    |p: &Parsed| p.items.iter().filter(|it| it.body != Body::Nothing).count() == 1;
                let above = (0..i).rev().filter_map(|j| parsed[j].as_ref()).find_map(|p| {
                    p.items.iter().rev().filter(|_| one(p)).find_map(|it| match &it.body {
                        Body::Known(key) => book.find(key).cloned(),
                        Body::Moves => it.moves.clone(),
                        _ => None,
                    })
                });
                let Some((at, own)) = below else { continue };
                // With feet under them or set in they spell it out; else they are danced.
                let under = lines[at].indent() > lines[i].indent() || feet_below(at, kinds);
                if under && above.is_some_and(|above| same_movements(&above, &own)) {
                    breakdowns[at] = Spells::Above;
                }
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

/// A line with counts in front that is told in words, as line dances are.
fn in_words(line: &Line<'_>) -> Option<Parsed> {
    let marks = marks(&line.text, line.indent()).filter(|m| m.places.len() > 1)?;
    read_line_steps(&line.text, &marks).filter(|p| p.faults.is_empty())
}

fn same_movements(a: &StepUse, b: &StepUse) -> bool {
    a.moves.iter().map(|m| m.movement.code).eq(b.moves.iter().map(|m| m.movement.code))
}

/// Whether feet or timing stand under a line, a gap between or not.
fn feet_below(at: usize, kinds: &[Kind]) -> bool {
    let below = kinds.iter().skip(at + 1).find(|k| !matches!(k, Kind::Blank));
    matches!(below, Some(Kind::Feet(_) | Kind::Timing(_)))
}

/// The line of movements right below a name, with what it gives; a timing line under it is heeded.
fn movements_below(
    i: usize,
    kinds: &[Kind],
    parsed: &[Option<Parsed>],
) -> Option<(usize, StepUse)> {
    let at = i + 1 + usize::from(matches!(kinds.get(i + 1), Some(Kind::Blank)));
    let [item] = &parsed.get(at)?.as_ref()?.items[..] else { return None };
    if !matches!(kinds.get(at), Some(Kind::Steps(_) | Kind::FootRows(_)))
        || item.body != Body::Moves
        || item.times != 1
        || item.bare.is_some()
    {
        return None;
    }
    let mut step = item.moves.clone()?;
    for kind in kinds.iter().take(at + 3).skip(at + 1) {
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
