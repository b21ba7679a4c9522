//! Other ways to name a part: short forms, numbers, first letters.

use std::collections::HashMap;

use super::heading::{PART_WORDS, part_word};
use super::model::{Part, PartKind};
use super::numerals::{ordinal, roman, ways_to_write};
use super::words::{key, nearest, number};

/// Parts whose names are compared with a mistyped one.
const MOST_COMPARED: usize = 300;

/// Parts by every way to name them.
pub(super) struct Names {
    by_key: HashMap<String, usize>,
    compared: Vec<String>,
}

impl Names {
    pub(super) fn new(parts: &[Part]) -> Names {
        let mut by_key = HashMap::new();
        // Full names first, so that none is lost to another's short name.
        for (i, part) in parts.iter().enumerate() {
            by_key.entry(key(&part.name)).or_insert(i);
        }
        for (i, part) in parts.iter().enumerate() {
            for short in short_names(&part.name) {
                by_key.entry(short).or_insert(i);
            }
        }
        for (i, part) in parts.iter().enumerate() {
            for short in initials(&part.name) {
                by_key.entry(short).or_insert(i);
            }
        }
        // A star that no other part is told by may be left out.
        for (i, part) in parts.iter().enumerate().filter(|(_, p)| p.name.ends_with('*')) {
            let plain = part.name.trim_end_matches('*');
            for name in short_names(plain).into_iter().chain([key(plain)]) {
                by_key.entry(name).or_insert(i);
            }
        }
        let compared = parts.iter().take(MOST_COMPARED).map(|p| p.name.clone()).collect();
        Names { by_key, compared }
    }

    pub(super) fn find(&self, name: &str) -> Option<usize> {
        let name = key(name);
        let found = self.by_key.get(&name).or_else(|| self.by_key.get(without_signs(&name)));
        let one = || singular(&name).find_map(|one| self.by_key.get(one));
        found.or_else(one).copied()
    }

    /// The part that a mistyped name most likely means, as the order would write it.
    pub(super) fn nearest(&self, typed: &str) -> Option<String> {
        nearest(typed, self.compared.iter().map(String::as_str)).map(str::to_string)
    }
}

/// What a name in the plural may be of: `choruses`, `verses`.
pub(super) fn singular(name: &str) -> impl Iterator<Item = &str> {
    const SHORTEST: usize = 5;
    let long = move |one: &&str| one.len() >= SHORTEST;
    ["s", "es"].into_iter().filter_map(|end| name.strip_suffix(end)).filter(long)
}

/// A name without the stars and pictures around it; a name of nothing else is left as it is.
fn without_signs(name: &str) -> &str {
    let sign = |c: char| c == '*' || c == ' ' || !c.is_ascii() && !c.is_alphanumeric();
    let plain = name.trim_matches(sign);
    if plain.is_empty() { name } else { plain }
}

/// Other names of a part: `A` for `Part A`, `br 2` and `br2` for `Break 2`.
pub(super) fn short_names(name: &str) -> Vec<String> {
    let name = key(name);
    if let Some(plain) = name.strip_prefix("the ") {
        let mut out = short_names(plain);
        out.push(plain.to_string());
        return out;
    }
    let mut out = numbered_ways(&name);
    let (first, label) = name.split_once(' ').unwrap_or((&name, ""));
    if let Some((word, kind)) = part_word(first) {
        let also =
            PART_WORDS.iter().find(|(w, ..)| *w == word).map_or(&[][..], |(_, _, also)| also);
        for written in also.iter().chain([&word]) {
            if label.is_empty() {
                out.push(written.to_string());
            } else {
                out.push(format!("{written} {label}"));
                out.push(format!("{written}{label}"));
            }
        }
        if kind == PartKind::Part && !label.is_empty() && matches!(word, "part" | "figure") {
            out.push(label.to_string());
        }
    } else if name.chars().count() <= 2 {
        out.push(format!("part {name}"));
    }
    out
}

/// `1st step`, `first step`, `step one`, `step 1` and `1` are the same.
fn numbered_ways(name: &str) -> Vec<String> {
    let words: Vec<&str> = name.split(' ').collect();
    let (n, word) = match words[..] {
        [one] => (ordinal(one), ""),
        [a, b] => match ordinal(a) {
            Some(n) => (Some(n), b),
            None => (number(b).or_else(|| roman(b)), a),
        },
        _ => (None, ""),
    };
    let Some(n) = n.filter(|n| (1..=20).contains(n)) else { return Vec::new() };
    let mut ways = ways_to_write(n);
    if !word.is_empty() {
        let alone = ways.clone();
        ways.extend(alone.iter().map(|way| format!("{way} {word}")));
        ways.extend(alone.iter().map(|way| format!("{word} {way}")));
    }
    ways.retain(|way| way != name);
    // A verse and a chorus may both have a number: it alone names neither.
    if !matches!(
        word,
        "" | "part" | "section" | "figure" | "fig" | "step" | "phrase" | "pattern" | "block"
    ) {
        ways.retain(|way| way.contains(' '));
    }
    ways
}

/// The shortest names, which hold where no other part has them: `v` for `Verse`, `wheel` for `Wheel Step`.
pub(super) fn initials(name: &str) -> Vec<String> {
    let name = key(name);
    let plain = name.strip_prefix("the ").unwrap_or(&name);
    let words: Vec<&str> = plain.split(' ').collect();
    let first = |w: &str| w.chars().next().map(|c| c.to_string());
    let mut out = Vec::new();
    // `Verse words`: whatever stands behind the word.
    if let Some((word, _)) = words.first().and_then(|w| part_word(w)).filter(|_| words.len() > 1) {
        out.push(word.to_string());
    }
    match words[..] {
        [one] if one.len() > 2 => out.extend(first(one)),
        [one, ..] if words.len() > 1 => {
            out.push(words.iter().filter_map(|w| first(w)).collect());
            let label = words[1..].concat();
            if label.len() <= 2 {
                out.extend(first(one).map(|c| format!("{c}{label}")));
            } else {
                out.push(one.to_string());
            }
        }
        _ => {}
    }
    out
}
