//! Lists of steps under no heading that is known, `How they go`: their lines spell out steps that are danced elsewhere.

use std::collections::HashSet;

use super::field::Field;
use super::glossary::name_key;
use super::line::Line;
use super::lines::Kind;
use super::notation::read_movements;
use super::vocabulary::content;
use super::words::{counts_in_brackets, key, length, number};

/// Fewest lines of a list.
const FEWEST_LINES: usize = 2;
/// The longest name of a step, in words.
const MOST_WORDS: usize = 4;

/// Makes definitions of lines that stand together, each a name and its movements, where no order names the words above
/// them and half of the names at least are danced on other lines.
pub(super) fn step_lists(lines: &[Line<'_>], kinds: &mut [Kind]) {
    let spelled: Vec<Option<(String, usize)>> =
        lines.iter().map(|l| name_and_movements(&l.text)).collect();
    let mut i = 0;
    while i < lines.len() {
        let number = spelled[i..].iter().take_while(|s| s.is_some()).count();
        // `Cowboy: DS DS DS BR DS RS RS RS`, beneath lines on which it is danced.
        if let (1, Some((name, value)), Kind::Steps(_)) = (number, &spelled[i], &kinds[i])
            && lines[i].text[..*value].trim_end().ends_with(':')
            && is_danced_above(name, &lines[..i])
        {
            kinds[i] = Kind::Definition(name.clone(), *value);
        }
        if number >= FEWEST_LINES && is_a_list(i, number, lines, kinds, &spelled) {
            for at in i..i + number {
                if let Some((name, value)) = &spelled[at] {
                    kinds[at] = Kind::Definition(name.clone(), *value);
                }
            }
            let titles = |kind: &Kind, line: &Line<'_>| match kind {
                Kind::Heading(_) => true,
                Kind::Steps(_) => key(&line.text).starts_with("step"),
                _ => false,
            };
            if let Some(above) = i.checked_sub(1).filter(|a| titles(&kinds[*a], &lines[*a])) {
                kinds[above] = Kind::Note;
            }
        }
        i += number.max(1);
    }
}

/// `Jelly Bean (4 beats)` and its movements on the line below, where the sheet says that it spells out its steps: makes a
/// definition of the two, and notes of the feet and the timing beneath them.
pub(super) fn steps_spelled_below(lines: &[Line<'_>], kinds: &mut [Kind]) {
    let mut within = false;
    let mut i = 0;
    while i < lines.len() {
        match &kinds[i] {
            Kind::Field(Field::Steps, _) => within = true,
            Kind::Heading(_) | Kind::Field(Field::Order, _) | Kind::Order(_) => within = false,
            _ => {}
        }
        // `Thunder (8)    STO DS DS RS`
        let danced = matches!(kinds[i], Kind::Steps(_) | Kind::Note);
        let beside = (within && danced).then(|| name_beside(&lines[i].text)).flatten();
        if let Some((name, at)) = beside {
            kinds[i] = Kind::Definition(name, at);
            i += 1;
            while matches!(kinds.get(i), Some(Kind::Feet(_) | Kind::Timing(_))) {
                kinds[i] = Kind::Note;
                i += 1;
            }
            continue;
        }
        let below = matches!(kinds.get(i + 1), Some(Kind::Steps(_)));
        let named = (within && below && matches!(kinds[i], Kind::Steps(_)))
            .then(|| name_over(&lines[i].text, &lines[i + 1].text))
            .flatten();
        if let Some(name) = named {
            kinds[i] = Kind::Definition(name.clone(), lines[i].text.len());
            kinds[i + 1] = Kind::Definition(name, lines[i + 1].indent());
            i += 1;
            while matches!(kinds.get(i + 1), Some(Kind::Feet(_) | Kind::Timing(_))) {
                kinds[i + 1] = Kind::Note;
                i += 1;
            }
        }
        i += 1;
    }
}

/// The name of a step, with its counts or without, and where its movements begin behind a gap.
fn name_beside(text: &str) -> Option<(String, usize)> {
    let start = text.len() - text.trim_start().len();
    let gap = start + text[start..].find("  ")?;
    let at = text.len() - text[gap..].trim_start().len();
    Some((name_over(&text[start..gap], &text[at..])?, at))
}

/// The name of a step on a line, with its counts or without, where movements stand on the line below.
fn name_over(text: &str, below: &str) -> Option<String> {
    let text = text.trim().trim_end_matches(':');
    let name = counts_in_brackets(text).map_or(text, |(alone, _)| alone).trim();
    let words: Vec<&str> = name.split_whitespace().collect();
    let plain = (1..=MOST_WORDS).contains(&words.len())
        && words.iter().all(|w| number(w).is_none())
        && read_movements(name).is_none();
    let spelled = read_movements(below.trim()).is_some_and(|(moves, _)| moves.len() > 1);
    (plain && spelled).then(|| name.to_string())
}

/// Whether one of the lines up to the gap above has a step's name and its counts.
fn is_danced_above(name: &str, lines: &[Line<'_>]) -> bool {
    let name = name_key(name);
    let block = lines.iter().rev().take_while(|l| !l.text.trim().is_empty());
    block.into_iter().any(|l| {
        let danced = name_key(&l.text);
        danced.contains(&name) && l.text.contains(|c: char| c.is_ascii_digit())
    })
}

fn is_a_list(
    first: usize,
    number: usize,
    lines: &[Line<'_>],
    kinds: &[Kind],
    spelled: &[Option<(String, usize)>],
) -> bool {
    let within = first..first + number;
    if kinds[within.clone()].iter().any(|k| matches!(k, Kind::Definition(..))) {
        return false;
    }
    let over = kinds[..first].iter().rposition(|k| !matches!(k, Kind::Blank | Kind::Rule));
    // Under a part's heading, or going on with its steps, they are danced.
    let danced_here = over.is_some_and(|at| match &kinds[at] {
        Kind::Heading(h) => {
            h.counts.is_some() || h.rest.is_some() || is_named(&h.name, lines, kinds)
        }
        Kind::Steps(_) => at + 1 == first && content(&lines[at].text).is_steps(),
        Kind::Feet(_) | Kind::Timing(_) => at + 1 == first,
        _ => false,
    });
    let names: Vec<String> =
        spelled[within.clone()].iter().flatten().map(|(name, _)| name_key(name)).collect();
    let elsewhere: HashSet<String> = lines
        .iter()
        .enumerate()
        .filter(|(i, _)| !within.contains(i))
        .map(|(_, line)| name_key(&line.text))
        .collect();
    let used = |name: &&String| elsewhere.iter().any(|line| line.contains(name.as_str()));
    !danced_here && names.iter().filter(used).count() * 2 >= number
}

/// Whether a line of the order has the words, or the sheet gives no order and they may be a part.
fn is_named(name: &str, lines: &[Line<'_>], kinds: &[Kind]) -> bool {
    let orders: Vec<String> = lines
        .iter()
        .zip(kinds)
        .filter(|(_, kind)| kind.is_order())
        .map(|(line, _)| key(&line.text))
        .collect();
    let name = key(name);
    let label = name.rsplit(' ').next().unwrap_or(&name);
    orders.is_empty() || orders.iter().any(|order| order.split(' ').any(|w| w == label))
}

/// `DS DS RS, 3 beats`: the movements alone.
fn counts_behind_a_comma(text: &str) -> Option<&str> {
    let (movements, counts) = text.rsplit_once(',')?;
    let counts: Vec<&str> = counts.split_whitespace().collect();
    length(&counts).is_some_and(|(_, used)| used == counts.len()).then_some(movements.trim_end())
}

/// `Triple - DS DS DS RS`: the name, and where its movements begin.
pub(super) fn name_and_movements(text: &str) -> Option<(String, usize)> {
    let from = text.len() - text.trim_start_matches([' ', '-', '*', '\u{2022}']).len();
    let rest = text.get(from..)?;
    let (at, width) = [(": ", 2), (" - ", 3), (" -- ", 4), (" = ", 3), ("=", 1)]
        .iter()
        .find_map(|(sign, width)| rest.find(sign).map(|at| (at, *width)))?;
    let name = rest[..at].trim();
    let words: Vec<&str> = name.split_whitespace().collect();
    let plain =
        (1..=MOST_WORDS).contains(&words.len()) && words.iter().all(|w| number(w).is_none());
    let movements = rest[at + width..].trim().trim_end_matches('.');
    let movements = counts_in_brackets(movements).map_or(movements, |(alone, _)| alone);
    let movements = counts_behind_a_comma(movements).unwrap_or(movements);
    let codes =
        movements.split_whitespace().next().is_some_and(|w| !w.contains(char::is_lowercase));
    let read = codes && read_movements(movements).is_some_and(|(moves, _)| moves.len() > 1);
    (plain && read && read_movements(name).is_none()).then(|| (name.to_string(), from + at + width))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_and_its_movements_are_told_apart() {
        let read =
            |text: &str| name_and_movements(text).map(|(name, at)| (name, text[at..].to_string()));
        let said = Some(("Wren Hop".to_string(), "DS DR S RS, 4 counts".to_string()));
        assert_eq!(read("Wren Hop -- DS DR S RS, 4 counts"), said);
        assert!(read("Wren Hop - DS DR S RS").is_some());
        assert_eq!(read("Wren Hop -- twice"), None);
    }
}
