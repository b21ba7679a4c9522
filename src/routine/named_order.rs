//! The order where no line says that it is the order: names of parts and nothing else, alone or behind a label of
//! the author's own, `Run: A B A B`, `whole thing = A + B + A`.

use std::collections::HashSet;

use super::field::Field;
use super::glossary;
use super::heading::{is_short_part, part_word};
use super::line::Line;
use super::lines::Kind;
use super::notation::read_movements;
use super::order_words::is_order_word;
use super::phrases::times_word;
use super::vocabulary::content;
use super::words::{counts_in_brackets, is_counts_word, key, number};

/// Fewest names behind a label of the author's own.
const FEWEST_BEHIND_A_LABEL: usize = 3;

/// A sheet may give its order without the word: such a line names parts and nothing else.
pub(super) fn order_without_a_name(lines: &[Line<'_>], kinds: &mut [Kind]) {
    if kinds.iter().any(Kind::is_order) {
        return;
    }
    let names = names_of_headings(kinds);
    let mut in_words = false;
    for (line, kind) in lines.iter().zip(kinds.iter_mut()) {
        let at = match kind {
            Kind::Steps(at) => *at,
            Kind::Timing(_) if by_figures(&line.text, &names) => line.indent(),
            // `VERSE - CHORUS - VERSE` begins like a heading.
            Kind::Heading(h) if h.rest.is_some() && h.counts.is_none() => line.indent(),
            _ => {
                in_words = false;
                continue;
            }
        };
        in_words = says_an_order(&line.text[at..], &names, in_words);
        if in_words {
            *kind = Kind::Order(at + behind_a_label(&line.text[at..], &names));
        }
    }
    if !kinds.iter().any(Kind::is_order) {
        order_behind_a_label(lines, kinds, &names);
    }
    if !kinds.iter().any(Kind::is_order) {
        parts_again(lines, kinds, &names);
    }
}

/// `How it runs - Verse, Chorus, Verse`: the bytes of words in front that name no part.
fn behind_a_label(text: &str, names: &HashSet<String>) -> usize {
    let behind = |sign: &&str| {
        let at = text.find(*sign)?;
        let words = text[..at].split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        let label =
            words.clone().count() > 1 && !words.clone().any(|w| names_a_part(&key(w), names));
        (label && says_an_order(&text[at + sign.len()..], names, false)).then_some(at + sign.len())
    };
    [" - ", ". ", ": "].iter().find_map(behind).unwrap_or(0)
}

/// `1 2 1 3`: parts by their numbers. Timing never goes back.
fn by_figures(text: &str, names: &HashSet<String>) -> bool {
    let figures: Option<Vec<u32>> = text
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | '-'))
        .filter(|w| !w.is_empty())
        .map(|w| number(w).filter(|_| names.contains(w)))
        .collect();
    figures.is_some_and(|f| f.len() > FEWEST_BEHIND_A_LABEL && f.windows(2).any(|w| w[1] < w[0]))
}

/// `Repeat parts A & B`, between parts that stand in the order in which they are danced.
fn parts_again(lines: &[Line<'_>], kinds: &mut [Kind], names: &HashSet<String>) {
    let mut apart = false;
    for (line, kind) in lines.iter().zip(kinds.iter_mut()) {
        let set_off = std::mem::replace(&mut apart, matches!(kind, Kind::Blank | Kind::Again(..)));
        let Kind::Steps(at) = *kind else { continue };
        let text = &line.text[at..];
        // `Repeat Verse`, below a gap.
        if let Some((from, to)) = part_named_again(text, names).filter(|_| set_off) {
            *kind = Kind::Again(at + from, at + to);
            apart = true;
            continue;
        }
        // `A1, A2 as before`
        let before = [" as before", " as above", " again"].iter().find_map(|w| {
            let end = text.trim_end().trim_end_matches('.').len();
            text[..end].strip_suffix(w).filter(|named| says_an_order(named, names, true))
        });
        if let Some(named) = before {
            *kind = Kind::Again(at, at + named.len());
            continue;
        }
        let mut words = text.split_whitespace();
        let repeats = words.next().is_some_and(|w| w.eq_ignore_ascii_case("repeat"));
        let parts = words.next().is_some_and(|w| {
            matches!(part_word(w), Some(("part", _))) || w.eq_ignore_ascii_case("parts")
        });
        if !repeats || !parts {
            continue;
        }
        // Up to a word that says how.
        let lower = text.to_ascii_lowercase();
        let ends = [" to ", " but ", " with ", " facing ", " on ", " except ", " ending "];
        let to = ends.iter().filter_map(|w| lower.find(w)).min().unwrap_or(text.len());
        let from = text.find(char::is_whitespace).unwrap_or(0);
        if says_an_order(&text[from..to], names, true) || names.contains(&key(&text[from..to])) {
            *kind = Kind::Again(at + from, at + to);
        }
    }
}

/// `Repeat Verse`, with its counts or without, and nothing else: the name, and how often.
fn part_named_again(text: &str, names: &HashSet<String>) -> Option<(usize, usize)> {
    let trimmed = text.trim_end();
    let said = counts_in_brackets(trimmed).map_or(trimmed, |(said, _)| said);
    let said = without_counts(said);
    let (verb, named) = said.split_once(' ')?;
    let name = named.rsplit_once(' ').filter(|(_, w)| times_word(w).is_some());
    let name = name.map_or(named, |(name, _)| name);
    let part = name.split_whitespace().next().is_some_and(|w| part_word(w).is_some());
    (verb.eq_ignore_ascii_case("repeat") && part && names.contains(&key(name)))
        .then_some((verb.len() + 1, said.len()))
}

/// `PART A   32 BEATS`: a name without its counts, where these have their unit.
fn without_counts(text: &str) -> &str {
    let before = |text: &'_ str| text.rsplit_once(' ').map(|(rest, _)| rest.len());
    let cut = || {
        let (rest, unit) = text.rsplit_once(' ')?;
        let (_, n) = rest.trim_end().rsplit_once(' ')?;
        (is_counts_word(unit) && number(n).is_some()).then(|| before(rest.trim_end()))?
    };
    cut().map_or(text, |end| text[..end].trim_end_matches([' ', '-', '=', '.']))
}

/// The names of parts, `part a` and `a`.
fn names_of_headings(kinds: &[Kind]) -> HashSet<String> {
    let mut names = HashSet::new();
    for kind in kinds {
        if let Kind::Heading(h) = kind {
            let name = key(&h.name);
            if let Some((_, label)) = name.split_once(' ') {
                names.insert(label.to_string());
            }
            // `First Part` is `First` in the order.
            if let Some((label, "part")) = name.rsplit_once(' ') {
                names.insert(label.to_string());
            }
            names.insert(name);
        }
    }
    names
}

/// Whether a word, as a key, is a part's name, or the trade's word of one in short.
fn names_a_part(word: &str, names: &HashSet<String>) -> bool {
    names.contains(word) || part_word(word).is_some_and(|(name, _)| names.contains(name))
}

/// Whether a text names parts and nothing else; `goes_on` where the line before did.
fn says_an_order(text: &str, names: &HashSet<String>, goes_on: bool) -> bool {
    let words: Vec<String> = text
        .split(|c: char| {
            c.is_whitespace()
                || matches!(c, ',' | '-' | '>' | '/' | ';' | '.' | '+' | '(' | ')' | '\u{2022}')
        })
        .map(key)
        .filter(|w| !w.is_empty() && times_word(w).is_none())
        .collect();
    let is_name = |w: &str| names_a_part(w, names);
    // An order told in words has other words between the names.
    let named = words.iter().filter(|w| is_name(w) && w.as_str() != "part").count();
    let by_words = words.len() > 1
        && named > usize::from(!goes_on)
        && words.iter().all(|w| is_name(w) || is_order_word(w) || named > 2 && is_short_part(w));
    // Of many names in a sentence a word or two may be anything.
    const MANY: usize = 4;
    let strange =
        words.iter().filter(|w| !is_name(w) && !is_order_word(w) && !is_short_part(w)).count();
    let repeats = words.first().is_some_and(|w| w.starts_with("repeat"));
    let told = !repeats && named >= MANY && strange <= 2 && text.matches(',').count() + 1 >= MANY;
    let letters = text.trim();
    let by_letters = letters.len() > 2
        && letters.chars().all(|c| c.is_ascii_uppercase())
        && letters.chars().all(|c| names.contains(&c.to_lowercase().to_string()));
    let plain: Vec<&str> = words.iter().map(String::as_str).collect();
    let by_tiles = tiled(&plain, is_name).is_some_and(|tiles| tiles.len() > 3);
    by_words || told || by_letters || by_tiles
}

/// An order behind a label that is no field's name: whatever stands before the colon, parts alone stand behind it.
fn order_behind_a_label(lines: &[Line<'_>], kinds: &mut [Kind], names: &HashSet<String>) {
    let mut found: Option<(usize, usize)> = None;
    for (i, (line, kind)) in lines.iter().zip(kinds.iter()).enumerate() {
        let open = match kind {
            Kind::Steps(_) | Kind::Note | Kind::Definition(..) | Kind::UnknownField => true,
            Kind::Field(field, _) => matches!(field, Field::Title | Field::Note),
            Kind::Heading(h) => h.counts.is_none() && h.rest.is_some(),
            _ => false,
        };
        let by_sign = |sign: &&str| line.text.find(*sign);
        let label = line.text.find([':', '=']).or_else(|| [". ", " - "].iter().find_map(by_sign));
        let Some(at) = label.map(|at| at + 1).filter(|_| open) else { continue };
        let behind = &line.text[at..];
        let named = behind
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| names.contains(&key(w)) || part_word(w).is_some())
            .count();
        if named >= FEWEST_BEHIND_A_LABEL && says_an_order(behind, names, false) {
            found = Some((i, at));
        }
    }
    if let Some((i, at)) = found {
        kinds[i] = Kind::Order(at);
    }
}

/// Every name that stands in an order, as keys: between separators, and each word.
pub(super) fn names_in_orders(lines: &[Line<'_>]) -> HashSet<String> {
    let mut names = HashSet::new();
    let mut in_order = false;
    let mut begun = false;
    for line in lines {
        let text = line.text.trim();
        let first = key(text.split([':', ' ']).next().unwrap_or(""));
        let begins =
            matches!(first.as_str(), "order" | "sequence" | "seq") && text.len() > first.len();
        let mut value = text;
        if begins {
            in_order = true;
            value = text.get(first.len()..).unwrap_or("").trim_start_matches([':', ' ']);
            begun = !value.is_empty();
        } else if !text.contains(char::is_alphanumeric) || content(text).is_steps() {
            // A gap, a drawn line or steps end it.
            in_order = in_order && !begun;
        }
        if !in_order || value.is_empty() {
            continue;
        }
        begun = true;
        for piece in value.split([',', ';', '>', '|', '/']).flat_map(|p| p.split(" - ")) {
            let words: Vec<&str> = piece
                .split_whitespace()
                .filter(|w| times_word(w).is_none() && !w.starts_with('('))
                .collect();
            // Words of letters and digits alone are the usual short names, which are known anyway.
            if words.len() <= 5 {
                names.insert(key(&words.join(" ")));
            }
            for word in &words {
                if word.chars().count() > 1 {
                    names.insert(key(word));
                }
            }
        }
    }
    names.extend(names_that_lines_are_made_of(lines));
    names.remove("");
    names
}

/// Short lines whose words, one such line after another, make up a longer line: `verse` and `guitar bit` where a line
/// says `verse guitar bit verse`. They are names of parts, and that line is the order.
fn names_that_lines_are_made_of(lines: &[Line<'_>]) -> Vec<String> {
    const MOST_WORDS: usize = 3;
    let short: HashSet<String> = lines
        .iter()
        .map(|l| key(&l.text))
        .filter(|k| {
            k.split(' ').count() <= MOST_WORDS && k.chars().all(|c| c.is_alphabetic() || c == ' ')
        })
        .filter(|k| !k.is_empty() && glossary::find(k).is_none() && read_movements(k).is_none())
        .collect();
    let made = lines.iter().filter_map(|line| {
        let text = key(&line.text);
        let words: Vec<&str> = text.split(' ').collect();
        if words.len() > 60 {
            return None;
        }
        let tiles = tiled(&words, |name| short.contains(name))?;
        let distinct: HashSet<&String> = tiles.iter().collect();
        (tiles.len() > 3 && distinct.len() > 1).then_some(tiles)
    });
    made.flatten().collect()
}

/// The names that words are made of, one after another and nothing between; the longest first.
fn tiled(words: &[&str], is_name: impl Fn(&str) -> bool) -> Option<Vec<String>> {
    let mut out = Vec::new();
    let mut i = 0;
    while i < words.len() {
        let longest = (1..=4.min(words.len() - i)).rev();
        let found = longest.map(|n| (n, words[i..i + n].join(" "))).find(|(_, name)| is_name(name));
        let (used, name) = found?;
        out.push(name);
        i += used;
    }
    Some(out)
}
