//! Tags and restarts of a line dance.

use crate::units::Wall;

use super::glossary;
use super::item::Place;
use super::line::Line;
use super::line_dance::MOST_ROUNDS;
use super::phrases::wall_claim;
use super::words::{is_counts_word, number, placed_words};

/// A tag or a restart.
#[derive(Debug, Clone, Default)]
pub(super) struct Rule {
    /// The line that says it.
    pub(super) line: usize,
    /// A tag; a restart else.
    pub(super) is_tag: bool,
    /// The times round it is for.
    pub(super) walls: Vec<u32>,
    /// Counts of the tag, or counts danced before the restart.
    pub(super) counts: Option<u32>,
    /// The section after which it is, where that is said.
    pub(super) section: Option<usize>,
    /// The walls said to be faced.
    pub(super) facing: Vec<Facing>,
    /// The tag's lines.
    pub(super) body: Vec<usize>,
}

/// A wall said to be faced at a tag or a restart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Facing {
    pub(super) wall: Wall,
    pub(super) place: Place,
    /// Where the time round begins, `on wall 5 (starts 12:00)`; where the tag or the restart is, else.
    pub(super) at_the_start: bool,
}

impl Rule {
    /// Whether a tag's lines are here and its times round there, or the other way round.
    pub(super) fn lacks(&self, other: &Rule) -> bool {
        let walls_there = self.walls.is_empty() && !other.walls.is_empty();
        let lines_there = self.body.is_empty() && !self.walls.is_empty() && other.walls.is_empty();
        walls_there && other.counts.is_none_or(|n| self.counts == Some(n)) || lines_there
    }

    /// Takes what another says of the same tag.
    pub(super) fn take(&mut self, other: Rule) {
        self.counts = self.counts.or(other.counts);
        if self.facing.is_empty() {
            self.facing = other.facing;
        }
        if self.walls.is_empty() {
            self.walls = other.walls;
        }
    }
}

/// `TAG (4 counts)`: a tag that does not say when it is danced.
pub(super) fn is_tag_heading(text: &str) -> bool {
    const MOST_WORDS: usize = 4;
    let words: Vec<&str> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let tag = words
        .first()
        .is_some_and(|w| w.eq_ignore_ascii_case("tag") || w.eq_ignore_ascii_case("bridge"));
    tag && words.len() <= MOST_WORDS
}

/// The rule of such a heading.
pub(super) fn tag_heading(line: &Line<'_>, index: usize) -> Rule {
    let words: Vec<&str> = line.text.split(|c: char| !c.is_alphanumeric()).collect();
    let counted = words.windows(2).find(|w| is_counts_word(&w[1].to_lowercase()));
    let counts = counted.and_then(|w| number(w[0]));
    Rule { line: index, is_tag: true, counts, ..Rule::default() }
}

/// Reads a line that says a tag or a restart, with the times round it is for.
pub(super) fn read_rule(line: &Line<'_>, index: usize) -> Option<Rule> {
    let lower = line.text.to_lowercase();
    let parts = |c: char| c.is_whitespace() || matches!(c, ',' | '(' | ')' | '*' | '&');
    let words: Vec<(&str, Place)> =
        placed_words(&lower, parts, |c| matches!(c, '.' | ';' | '-' | '!' | '#' | ':'))
            .into_iter()
            .map(|(at, word)| (word, (at, at + word.len())))
            .collect();
    let has = |w: &str| words.iter().any(|(x, _)| *x == w || x.strip_suffix('s') == Some(w));
    let (tag, restart) = (has("tag") || has("bridge"), has("restart"));
    if !(tag || restart) || words.first().is_some_and(|(w, _)| *w == "no") {
        return None;
    }
    let leading = words.iter().take(3).any(|(w, _)| {
        matches!(w.trim_end_matches('s'), "tag" | "restart" | "bridge") || *w == "there"
    });
    let plain = |w: &str| {
        let digits = w.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        number(w).or_else(|| number(digits)).filter(|n| *n <= MOST_ROUNDS)
    };
    let mut walls = Vec::new();
    let (mut counts, mut section) = (None, None);
    let mut facing = Vec::new();
    let mut i = 0;
    while i < words.len() {
        let ahead: Vec<&str> = words[i..].iter().take(6).map(|(w, _)| *w).collect();
        let (word, place) = words[i];
        if let Some((wall, used)) = wall_claim(&ahead) {
            let place = (place.0, words[i + used - 1].1.1);
            let at_the_start = i > 0 && words[i - 1].0.starts_with("start");
            // Where it is comes first; behind that a wall may be that of another place.
            if facing.iter().all(|before: &Facing| before.at_the_start) {
                facing.push(Facing { wall, place, at_the_start });
            }
            i += used;
            continue;
        }
        let next = words.get(i + 1).map(|(w, _)| *w);
        if matches!(word, "wall" | "walls" | "round" | "rounds") {
            let mut j = i + 1;
            while let Some((w, _)) = words.get(j) {
                let unit = w.trim_start_matches(|c: char| c.is_ascii_digit());
                let counts = is_counts_word(unit)
                    || words.get(j + 1).is_some_and(|(next, _)| is_counts_word(next));
                match plain(w).filter(|_| !counts) {
                    Some(n) if n > 0 => walls.push(n),
                    _ if matches!(*w, "and" | "the") => {}
                    _ => break,
                }
                j += 1;
            }
            i = j;
            continue;
        }
        if matches!(word, "section" | "sec" | "set" | "group")
            && let Some(n) = next.and_then(plain)
        {
            section = Some(n as usize);
            i += 2;
            continue;
        }
        // `S2`
        if let Some(n) = word.strip_prefix('s').and_then(number) {
            section = Some(n as usize);
            i += 1;
            continue;
        }
        if let Some(n) = plain(word) {
            match next {
                Some("wall" | "walls") => walls.push(n),
                Some(w) if is_counts_word(w) => counts = counts.or(Some(n)),
                _ if i > 0 && is_counts_word(words[i - 1].0) => counts = counts.or(Some(n)),
                _ => {}
            }
            if next.is_some_and(|w| matches!(w, "wall" | "walls") || is_counts_word(w)) {
                i += 1;
            }
        }
        i += 1;
    }
    if walls.is_empty() || !leading {
        return None;
    }
    // `Tag after wall 5: 4 stomps`
    if tag && counts.is_none() {
        let steps = words.windows(2).find_map(|w| {
            let step = glossary::find(w[1].0)?.1;
            Some(number(w[0].0)?.saturating_mul(step.counts))
        });
        counts = steps.filter(|n| (1..=64).contains(n));
    }
    Some(Rule { line: index, is_tag: tag, walls, counts, section, facing, body: Vec::new() })
}
