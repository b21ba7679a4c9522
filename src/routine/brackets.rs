//! What stands in brackets behind a step.

use crate::units::Wall;

use super::glossary::name_key;
use super::item::{Body, Item, Place};
use super::notation::Moves;
use super::phrases::{is_repeat_word, times_word, wall_claim};
use super::step_line::{Reader, parse_step_line};
use super::words::{self, is_foot_word, length, number};

impl Reader<'_, '_, '_> {
    /// What stands in brackets behind a step.
    pub(super) fn bracket(&mut self, inner: &str, here: Place, item: &mut Item, moves: &mut Moves) {
        let words: Vec<&str> = inner
            .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';'))
            .filter(|w| !w.is_empty())
            .collect();
        if words.first().is_some_and(|w| is_repeat_word(&w.to_lowercase())) {
            self.repeat_in_brackets(inner, here);
        } else if let Some((counts, each)) = counts_of(&words) {
            item.stated = Some((counts, here));
            item.stated_each |= each;
        } else if let Some(times) = times_of(&words) {
            item.set_times(times);
        } else if says_feet(&words) {
            let feet = words.iter().filter_map(|w| words::foot(w));
            item.leads.extend(feet.map(|foot| (foot, here)));
        } else if let Some(key) = self.another_name(inner, item) {
            item.also = Some(key);
        } else {
            let turned = self.turns_and_walls(&words, here, item);
            if !turned && item.body == Body::Moves && !moves.is_empty() && inner.len() <= 12 {
                moves.tag(inner);
            }
            item.notes.push(inner.trim().to_string());
        }
    }

    /// `(repeat on other foot)`: what comes again behind the step. Places are those of the bracket.
    fn repeat_in_brackets(&mut self, inner: &str, here: Place) {
        for mut item in parse_step_line(inner, 0, self.book).items {
            item.place = here;
            item.body_place = here;
            item.other_foot = item.other_foot.map(|_| here);
            item.leads = item.leads.into_iter().map(|(f, _)| (f, here)).collect();
            item.stated = item.stated.map(|(n, _)| (n, here));
            item.wall = item.wall.map(|(w, _)| (w, here));
            self.after.push(item);
        }
    }

    /// The key of a step that the brackets say it is.
    fn another_name(&self, inner: &str, item: &Item) -> Option<String> {
        let key = name_key(inner);
        let named = matches!(item.body, Body::Known(_) | Body::Unknown);
        (named && self.book.find(&key).is_some()).then_some(key)
    }

    /// Turns and walls among other words. Whether it turns.
    fn turns_and_walls(&mut self, words: &[&str], here: Place, item: &mut Item) -> bool {
        const OF_WALLS: [&str; 14] = [
            "face", "facing", "faces", "end", "ends", "to", "the", "wall", "then", "and", "front",
            "back", "left", "right",
        ];
        let plain = words.iter().all(|w| OF_WALLS.contains(&w.to_lowercase().as_str()));
        let (mut turned, mut walled) = (false, false);
        let mut i = 0;
        while i < words.len() {
            // `(right wall, front)`: the wall of each time; the last is where it ends.
            if let Some(wall) = bare_wall(&words[i..]).filter(|_| walled && plain) {
                item.wall = Some((wall, here));
                i += 1;
            } else if let Some((turn, used)) = words::turn(&words[i..]) {
                self.take_turn(turn, here, item);
                turned = true;
                i += used.max(1);
            } else if let Some((wall, used)) = wall_claim(&words[i..]) {
                (item.wall, walled) = (Some((wall, here)), true);
                i += used.max(1);
            } else {
                item.turn_each |= turned && is_each(words[i]);
                i += 1;
            }
        }
        turned
    }
}

/// A wall's name alone, at the end or before the next one.
fn bare_wall(words: &[&str]) -> Option<Wall> {
    let alone = words.get(1).is_none_or(|w| matches!(*w, "then" | "and" | "&"));
    let facing = ["facing", words.first()?];
    wall_claim(&facing).map(|(wall, _)| wall).filter(|_| alone)
}

fn is_each(word: &str) -> bool {
    word.eq_ignore_ascii_case("each") || word.eq_ignore_ascii_case("ea")
}

/// `8`, `8 counts`, `4 each`, `that's 16`, `the other 16`: the counts, and whether they are those of each time.
fn counts_of(words: &[&str]) -> Option<(u32, bool)> {
    const LEADS: [&str; 8] = ["that's", "thats", "the", "other", "total", "all", "makes", "is"];
    let each = words.last().is_some_and(|w| is_each(w));
    let counted = &words[..words.len() - usize::from(each)];
    if let Some((counts, _)) = length(counted).filter(|(_, used)| *used == counted.len()) {
        return Some((counts, each));
    }
    let (last, leads) = counted.split_last().filter(|(_, leads)| !leads.is_empty())?;
    let led = leads.iter().all(|w| LEADS.contains(&w.to_lowercase().as_str()));
    number(last).filter(|_| led).map(|n| (n, false))
}

/// `x2`, `2 times`, `x 2`.
fn times_of(words: &[&str]) -> Option<u32> {
    let sign = |w: &str| w.eq_ignore_ascii_case("x");
    match *words {
        [one] => times_word(one),
        [n, x] if sign(x) || x.eq_ignore_ascii_case("times") => number(n),
        [x, n] if sign(x) => number(n),
        _ => None,
    }
}

/// `L`, `R & L`, `left foot start`: feet and nothing else.
fn says_feet(words: &[&str]) -> bool {
    const BESIDE: [&str; 6] = ["&", "and", "start", "starts", "on", "then"];
    let foot = |w: &str| words::foot(w).is_some();
    let beside = |w: &str| is_foot_word(w) || BESIDE.contains(&w.to_lowercase().as_str());
    words.iter().any(|w| foot(w)) && words.iter().all(|w| foot(w) || beside(w))
}
