//! Sheets of line dances: sections of eight, counts in front of each line, walls by the clock, tags and restarts.

use crate::units::Foot;

use super::finding::{Fault, Finding};
use super::heading::Heading;
use super::item::{Item, Parsed, Place};
use super::line::Line;
use super::line_marks::marks;
use super::line_rules::{Rule, is_tag_heading, read_rule, tag_heading};
use super::line_steps::read_line_steps;
use super::lines::Kind;
use super::model::{OrderItem, Part, PartKind, Routine, StepUse};
use super::words::{is_counts_word, number, placed_words};

/// Lines of counts with words behind them that make a sheet a line dance's.
const FEWEST_LINES: usize = 3;
/// The most times round that are reckoned.
pub(super) const MOST_ROUNDS: u32 = 100;

/// A line dance as its lines say, before its parts are built.
#[derive(Debug, Clone, Default)]
pub(super) struct LineDance {
    /// Counts stated at the top.
    pub(super) counts: Option<u32>,
    /// Walls stated at the top, and where.
    walls: Option<(u32, usize, Place)>,
    /// How often it is danced, where the sheet says.
    rounds: Option<u32>,
    /// Each section's line and the counts it states.
    pub(super) sections: Vec<(usize, Option<u32>)>,
    /// The lines of the dance itself.
    pub(super) body: Vec<usize>,
    /// Tags and restarts.
    pub(super) rules: Vec<Rule>,
}

/// Finds out whether a sheet is a line dance's, and then what its lines are.
pub(super) fn read_line_dance(lines: &[Line<'_>], kinds: &mut [Kind]) -> Option<LineDance> {
    let numbered: Vec<bool> = lines
        .iter()
        .map(|l| {
            marks(&l.text, l.indent()).is_some_and(|m| {
                m.counts > 1 && read_line_steps(&l.text, &m).is_some_and(|p| says_feet(&p))
            })
        })
        .collect();
    // Parts of its own, danced in an order, are no sections of one dance.
    let ordered = kinds.iter().any(Kind::is_order);
    let parts =
        kinds.iter().filter(|k| matches!(k, Kind::Heading(h) if h.counts.is_some())).count();
    if ordered && parts > 1 {
        return None;
    }
    let number = numbered.iter().filter(|n| **n).count();
    let headed = lines.iter().filter(|l| section_counts(&l.text).is_some()).count();
    let walls = lines.iter().take(12).any(|l| top_number(&l.text, "wall").is_some());
    // Sections and walls say it too where its lines name whole steps.
    let counted = lines.iter().filter(|l| marks(&l.text, l.indent()).is_some_and(|m| m.counts > 1));
    let by_sections = walls && headed > 1 && counted.count() >= FEWEST_LINES;
    if !by_sections && (number < FEWEST_LINES || !(walls || headed > 1)) {
        return None;
    }
    let mut dance = LineDance::default();
    let mut tag_open = false;
    // The count that comes next.
    let mut next = None;
    for (i, line) in lines.iter().enumerate() {
        if matches!(kinds[i], Kind::Blank | Kind::Rule) {
            continue;
        }
        let begun = !dance.sections.is_empty() || !dance.body.is_empty();
        if let Some(rounds) = rounds_of_an_order(&line.text).filter(|_| begun) {
            dance.rounds = dance.rounds.or(Some(rounds));
            kinds[i] = Kind::TagOrRestart;
        } else if let Some(rule) = read_rule(line, i) {
            tag_open = dance.add_rule(rule);
            kinds[i] = Kind::TagOrRestart;
        } else if begun && is_tag_heading(&line.text) && has_marks_below(lines, i) {
            tag_open = dance.add_rule(tag_heading(line, i));
            kinds[i] = Kind::TagOrRestart;
        } else if let Some(counts) = section_counts(&line.text) {
            dance.sections.push((i, counts));
            kinds[i] = Kind::LineSection;
            tag_open = false;
        } else if let Some(m) =
            marks(&line.text, line.indent()).filter(|m| m.counts > 1 || next == Some(m.first))
        {
            next = Some(m.first + m.counts);
            kinds[i] = Kind::LineSteps(m);
            match dance.rules.last_mut() {
                Some(rule) if tag_open => rule.body.push(i),
                _ => dance.body.push(i),
            }
        } else if !begun {
            read_top(line, i, &mut dance);
            if matches!(kinds[i], Kind::Steps(_) | Kind::Heading(_) | Kind::Feet(_))
                && (top_number(&line.text, "count").is_some()
                    || top_number(&line.text, "wall").is_some()
                    || line.text.to_lowercase().contains("restart"))
            {
                kinds[i] = Kind::Note;
            }
        } else if matches!(kinds[i], Kind::Steps(_) | Kind::Heading(_) | Kind::Feet(_)) {
            // A title of its own over lines with counts is a section's; anything else is a note.
            if has_marks_below(lines, i) && !tag_open && !goes_on(lines, kinds, i) {
                dance.sections.push((i, None));
                kinds[i] = Kind::LineSection;
            } else {
                kinds[i] = Kind::Note;
            }
        }
    }
    Some(dance)
}

/// Whether the next line that says anything has counts in front.
fn has_marks_below(lines: &[Line<'_>], above: usize) -> bool {
    let below = lines[above + 1..].iter().find(|l| !l.text.trim().is_empty());
    below.is_some_and(|l| marks(&l.text, l.indent()).is_some())
}

/// Whether a line is set in below one with counts in front: it says more of it.
fn goes_on(lines: &[Line<'_>], kinds: &[Kind], i: usize) -> bool {
    let above = i.checked_sub(1).filter(|a| matches!(kinds[*a], Kind::LineSteps(_)));
    above.is_some_and(|a| lines[i].indent() > lines[a].indent() + 2)
}

/// `Dance, Dance, Tag, Dance`: how often the dance comes in an order of nothing but it and its tags.
fn rounds_of_an_order(text: &str) -> Option<u32> {
    const FEWEST: u32 = 3;
    let names = text.rsplit_once(':').map_or(text, |(_, names)| names);
    let words = placed_words(names, |c| !c.is_alphanumeric(), |_| false);
    let dances = |w: &str| w.eq_ignore_ascii_case("dance");
    let other = |w: &str| {
        let lower = w.to_lowercase();
        matches!(&*lower, "tag" | "the" | "then" | "and" | "ending" | "end" | "x")
    };
    let only = words.iter().all(|(_, w)| dances(w) || other(w));
    let rounds = words.iter().filter(|(_, w)| dances(w)).count() as u32;
    (only && (FEWEST..=MOST_ROUNDS).contains(&rounds)).then_some(rounds)
}

fn says_feet(parsed: &Parsed) -> bool {
    parsed.items.iter().any(|i| !i.sequence.is_empty())
}

/// One line's steps: read word by word, else taken by the counts in front of them.
pub(super) fn line_steps(text: &str, m: &super::line_marks::Marks) -> Parsed {
    read_line_steps(text, m).unwrap_or_else(|| by_counts(text, m))
}

/// A line taken by the counts in front of it.
pub(super) fn by_counts(text: &str, m: &super::line_marks::Marks) -> Parsed {
    let place = (m.at, text.trim_end().len());
    let mut item = Item::of_moves(place);
    let name = text.get(m.at..).unwrap_or("").trim().to_string();
    item.moves = Some(StepUse { name, counts: m.counts, ..StepUse::default() });
    let mut out = Parsed::default();
    out.items.push(item);
    out.faults.push((Fault::FeetUnknown { counts: m.counts }, place));
    out
}

/// `S1 [1-8] …`, `Section 2: …`, `(17 - 24) …`, `[1-8]`: the counts stated, none where only a number stands.
/// `None` for any other line.
fn section_counts(text: &str) -> Option<Option<u32>> {
    let rest = text.trim_start_matches(|c: char| c.is_whitespace() || c == '*' || c == '#');
    let lower = rest.to_lowercase();
    let word = ["section", "sec", "group", "set", "s"].iter().find(|w| {
        lower.strip_prefix(**w).is_some_and(|after| {
            after.trim_start_matches(['.', ' ']).starts_with(|c: char| c.is_ascii_digit())
        })
    });
    let mut rest = match word {
        Some(word) => {
            let after = rest.get(word.len()..)?.trim_start_matches(['.', ' ']);
            after.trim_start_matches(|c: char| c.is_ascii_digit())
        }
        None => rest,
    };
    rest = rest.trim_start_matches(|c: char| c.is_whitespace() || matches!(c, ':' | '-' | '.'));
    let range = rest
        .strip_prefix(['[', '('])
        .and_then(|r| r.split_once([']', ')']))
        .and_then(|(inner, _)| range_counts(inner));
    match (word, range) {
        (None, None) => None,
        (_, range) => Some(range),
    }
}

/// `1 - 8`: eight.
fn range_counts(text: &str) -> Option<u32> {
    let (from, to) = text.split_once('-')?;
    let (from, to) = (number(from.trim())?, number(to.trim())?);
    (from > 0 && to > from && to - from < 64).then(|| to - from + 1)
}

/// A number with its word at the top of a sheet: `32 count`, `Count: 32`, `4w`.
fn top_number(text: &str, what: &str) -> Option<(u32, Place)> {
    let is_word = |w: &str| match what {
        "count" => is_counts_word(w),
        _ => matches!(w, "wall" | "walls" | "w"),
    };
    let parts = |c: char| c.is_whitespace() || matches!(c, ',' | '/' | '-' | '(' | ')');
    let words: Vec<(String, Place)> =
        placed_words(text, parts, |c| matches!(c, ':' | '.' | ';' | '#'))
            .into_iter()
            .map(|(at, word)| (word.to_lowercase(), (at, at + word.len())))
            .collect();
    for (i, (word, place)) in words.iter().enumerate() {
        let digits: String = word.chars().take_while(char::is_ascii_digit).collect();
        let unit = &word[digits.len()..];
        if !digits.is_empty() && is_word(unit) {
            return Some((number(&digits)?, *place));
        }
        let next = words.get(i + 1);
        if let Some(n) = number(word)
            && let Some((_, end)) = next.filter(|(w, _)| is_word(w))
            && !text[end.1..].trim_start().starts_with(':')
        {
            return Some((n, (place.0, end.1)));
        }
        if is_word(word)
            && text[place.1..].trim_start().starts_with(':')
            && let Some((n, end)) = next.and_then(|(w, end)| Some((number(w)?, end)))
        {
            return Some((n, (place.0, end.1)));
        }
    }
    None
}

fn read_top(line: &Line<'_>, index: usize, dance: &mut LineDance) {
    let lower = line.text.to_lowercase();
    if let Some(rest) = ["times round:", "walls danced:", "rounds:"]
        .iter()
        .find_map(|w| lower.trim_start().strip_prefix(w).map(str::to_string))
    {
        dance.rounds =
            rest.split_whitespace().find_map(number).filter(|n| (1..=MOST_ROUNDS).contains(n));
        return;
    }
    if lower.contains("intro") || lower.contains("wait") || lower.contains("start") {
        return;
    }
    if let Some((n, _)) = top_number(&line.text, "count") {
        dance.counts.get_or_insert(n);
    }
    if let Some((n, place)) = top_number(&line.text, "wall") {
        dance.walls.get_or_insert((n, index, place));
    }
}

impl LineDance {
    /// Adds a tag or a restart; gives whether the lines below are a tag's. A tag's lines and its times round may be told
    /// apart, `TAG (4 counts)` and `Dance the tag after wall 2`.
    fn add_rule(&mut self, rule: Rule) -> bool {
        let open = self.rules.iter_mut().rev().find(|r| r.is_tag);
        if let Some(tag) = open.filter(|tag| rule.is_tag && tag.lacks(&rule)) {
            tag.take(rule);
            return tag.body.is_empty();
        }
        let is_tag = rule.is_tag;
        self.rules.push(rule);
        is_tag
    }

    /// Headings of its parts with the lines of each: the dance, then its tags.
    pub(super) fn parts(&self, lines: usize) -> Vec<(Heading, usize, Vec<usize>)> {
        let stated = self.sections.iter().map(|(_, counts)| *counts).sum::<Option<u32>>();
        let heading = |name: String, kind, counts: Option<u32>| Heading {
            counts: counts.map(|c| (c, 0)),
            ..Heading::named(name, kind)
        };
        let first = self.sections.first().map(|s| s.0).or(self.body.first().copied());
        let counts = self.counts.or(stated.filter(|n| *n > 0));
        let mut out = vec![(
            heading("Dance".into(), PartKind::Part, counts),
            first.unwrap_or(0).min(lines.saturating_sub(1)),
            self.body.clone(),
        )];
        for (n, rule) in self.rules.iter().filter(|r| r.is_tag).enumerate() {
            let name = if n == 0 { "Tag".to_string() } else { format!("Tag {}", n + 1) };
            out.push((heading(name, PartKind::Tag, rule.counts), rule.line, rule.body.clone()));
        }
        out
    }

    /// Holds each section's counts against its lines.
    pub(super) fn check_sections(
        &self,
        part: &Part,
        lines: &[Line<'_>],
        findings: &mut Vec<Finding>,
    ) {
        for (i, (line, stated)) in self.sections.iter().enumerate() {
            let end = self.sections.get(i + 1).map_or(usize::MAX, |s| s.0 + 1);
            let steps: u32 = part
                .lines
                .iter()
                .filter(|l| l.line > line + 1 && l.line < end)
                .map(|l| l.counts())
                .fold(0, u32::saturating_add);
            let (Some(stated), Some(at)) = (*stated, lines.get(*line)) else { continue };
            if steps != stated && steps > 0 {
                let place = at.whole();
                findings.push(Finding::at(at, place, Fault::PartCounts { stated, steps }));
            }
        }
    }

    /// The order: the dance again and again, its tags and restarts where they fall. Parts cut short by a
    /// restart are added to the routine.
    pub(super) fn set_order(
        &self,
        routine: &mut Routine,
        lines: &[Line<'_>],
        findings: &mut Vec<Finding>,
    ) {
        let Some(dance) = routine.parts.first().cloned() else { return };
        let place_of = |at: &Line<'_>| at.whole();
        let turned = dance.effect();
        let eighths = turned.turn * 2 + turned.eighth;
        let reached = (1..=8).find(|n| (eighths * n).rem_euclid(8) == 0).unwrap_or(8) as u32;
        if let Some((stated, line, place)) = self.walls
            && let Some(at) = lines.get(line)
            && stated != reached
            && dance.steps().all(StepUse::feet_known)
        {
            findings.push(Finding::at(at, place, Fault::WallsDiffer { stated, reached }));
        }
        let last = self.rules.iter().flat_map(|r| &r.walls).max().map_or(0, |w| w + 1);
        let rounds = self.rounds.unwrap_or_else(|| reached.max(last)).min(MOST_ROUNDS);
        if self.rounds.is_none() {
            let fault = Fault::TimesRound { times: rounds };
            findings.push(Finding::of_the_sheet(fault));
        }
        let mut tags = Vec::new();
        let mut next_tag = 1;
        let mut short = Vec::new();
        for rule in &self.rules {
            if rule.is_tag {
                tags.push((rule, next_tag));
                next_tag += 1;
                continue;
            }
            let Some(at) = lines.get(rule.line) else { continue };
            let Some(counts) = rule.counts.or_else(|| self.counts_of_sections(rule, &dance)) else {
                findings.push(Finding::at(
                    at,
                    place_of(at),
                    Fault::NeedsNumber { what: "the restart" },
                ));
                continue;
            };
            match cut(&dance, counts) {
                Some(mut part) => {
                    part.line = at.number;
                    short.push((rule, routine.parts.len()));
                    routine.parts.push(part);
                }
                None => {
                    let fault = Fault::RestartCuts { counts, has: dance.counts() };
                    findings.push(Finding::at(at, place_of(at), fault));
                }
            }
        }
        let line = dance.line;
        for round in 1..=rounds {
            match short.iter().find(|(r, _)| r.walls.contains(&round)) {
                Some((rule, part)) => {
                    routine.order.push(OrderItem {
                        part: *part,
                        time_round: 0,
                        line: rule.line + 1,
                    });
                }
                None => routine.order.push(OrderItem { part: 0, time_round: 0, line }),
            }
            for (rule, part) in tags.iter().filter(|(r, _)| r.walls.contains(&round)) {
                routine.order.push(OrderItem { part: *part, time_round: 0, line: rule.line + 1 });
            }
        }
        let mut times = vec![0u32; routine.parts.len()];
        for item in &mut routine.order {
            if let Some(n) = times.get_mut(item.part) {
                *n += 1;
                item.time_round = *n;
            }
        }
        self.check_facing(routine, lines, findings);
    }

    /// The counts of the sections up to the one after which a restart is: those stated, or danced.
    fn counts_of_sections(&self, rule: &Rule, dance: &Part) -> Option<u32> {
        let last = rule.section?;
        let stated: Option<u32> =
            self.sections.get(..last)?.iter().map(|(_, counts)| *counts).sum();
        let end = self.sections.get(last).map_or(usize::MAX, |(line, _)| *line);
        let lines = dance.lines.iter().filter(|l| l.line <= end);
        let danced = || lines.map(|l| l.counts()).fold(0, u32::saturating_add);
        stated.or_else(|| Some(danced()).filter(|n| *n > 0))
    }

    /// `tag after wall 3 (facing 9:00)`: held against the walls as danced.
    fn check_facing(&self, routine: &Routine, lines: &[Line<'_>], findings: &mut Vec<Finding>) {
        let walk = routine.walk();
        for rule in &self.rules {
            let Some(at) = lines.get(rule.line) else { continue };
            let here = walk.iter().find(|p| {
                routine.order.get(p.order_index).is_some_and(|o| o.line == rule.line + 1)
            });
            let Some(here) = here else { continue };
            for facing in &rule.facing {
                let before = rule.is_tag || facing.at_the_start;
                let computed = if before { here.wall_before } else { here.wall_after };
                let typed = facing.wall;
                if computed != typed {
                    let fault = Fault::WallDiffers { typed, computed };
                    findings.push(Finding::at(at, facing.place, fault));
                    break;
                }
            }
        }
    }

    /// The foot that the first line says, where the sheet does not say it: line dances start on the right.
    pub(super) fn starts_on(parsed: &[Option<Parsed>], body: &[usize]) -> Option<Foot> {
        let first =
            body.iter().find_map(|i| parsed.get(*i)?.as_ref()?.items.first()?.sequence.first());
        first.filter(|(index, ..)| *index == 0).map(|(_, foot, _)| *foot)
    }
}

/// The first counts of a part as a part of its own; `None` where a line would be cut in two.
fn cut(dance: &Part, counts: u32) -> Option<Part> {
    let mut part = Part {
        name: format!("{} first {counts}", dance.name),
        stated_counts: Some(counts),
        kind: dance.kind,
        line: dance.line,
        lines: Vec::new(),
    };
    let mut sum = 0;
    for line in &dance.lines {
        if sum >= counts {
            break;
        }
        sum += line.counts();
        part.lines.push(line.clone());
    }
    (sum == counts && counts > 0).then_some(part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_order_of_the_dance_and_its_tags_says_the_rounds() {
        assert_eq!(rounds_of_an_order("Go: Dance, Dance, Tag, Dance"), Some(3));
        assert_eq!(rounds_of_an_order("Dance, Tag"), None);
        assert_eq!(rounds_of_an_order("Dance with the one you love to dance, dance"), None);
    }
}
