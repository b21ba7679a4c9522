//! What comes again told in words: `three more of those`, `do that again`, `same again, other foot`, `reverse`.

use super::heading::part_word;
use super::item::{Body, Item};
use super::phrases::{is_way_word, times_word};
use super::step_line::Reader;
use super::token::Piece;
use super::words::{self, number};

impl Reader<'_, '_, '_> {
    /// Takes words that say that what stands above comes again, up to the next sign. False, and nothing taken, where they
    /// say anything else.
    pub(super) fn repeat_in_words(&mut self, item: &mut Item) -> bool {
        let ahead = self.words_ahead();
        let first_is_do = ahead.first().is_some_and(|w| w.eq_ignore_ascii_case("do"))
            || self.i.checked_sub(1).is_some_and(|i| {
                self.tokens[i].word().is_some_and(|w| w.eq_ignore_ascii_case("do"))
            });
        let named_at = usize::from(ahead.first().is_some_and(|w| w.eq_ignore_ascii_case("do")));
        let mut part = None;
        let (mut again, mut all, mut other) = (false, false, false);
        let (mut times, mut leads, mut used, mut lines) = (None, Vec::new(), 0, None);
        for (i, word) in ahead.iter().enumerate() {
            let lower = word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
            match lower.as_str() {
                "again" | "more" | "reverse" | "repeats" | "redo" => again = true,
                "same" if ahead.len() < 3 || ahead.get(i + 1).is_some_and(|w| is_again(w)) => {
                    again = true
                }
                // `Same 2 lines over again`
                "same" if ahead.get(i + 1).is_some_and(|w| number(w).is_some()) => again = true,
                "same" if goes_to_a_side(&ahead[i + 1..]) => again = true,
                // `The same to the right` says where it goes.
                "left" | "right" if goes_to_a_side(&ahead[i.saturating_sub(2)..]) => {}
                // `Do B again`
                _ if first_is_do
                    && i == named_at
                    && self.names_a_part(word)
                    && ahead.get(i + 1).is_some_and(|w| w.eq_ignore_ascii_case("again")) =>
                {
                    part = Some((*word).to_string());
                    all = true;
                }
                "both" => lines = Some(2),
                "all" | "everything" | "whole" => all = true,
                "other" | "opposite" | "opp" => other = true,
                "start" | "beginning" | "top" if i > 0 && from_there(&ahead[..i]) => all = true,
                _ if i > 0 && part_word(word).is_some() && is_this(ahead[i - 1]) => all = true,
                "ft" | "last" | "previous" => {}
                "do" | "those" | "that" | "these" | "this" | "it" | "them" | "of" | "the"
                | "one" | "once" | "another" | "time" | "times" | "thing" | "and" | "now"
                | "then" | "above" | "with" | "on" | "off" | "to" | "foot" | "feet" | "side"
                | "starting" | "beginning" | "leading" | "over" | "using" | "same" | "lead"
                | "from" | "start" | "top" | "way" | "two" | "steps" | "lines" | "line"
                | "just" | "for" | "repeat" | "so" | "go" | "" => {}
                _ if number(&lower).is_some()
                    && ahead.get(i + 1).is_some_and(|w| w.eq_ignore_ascii_case("lines")) =>
                {
                    lines = number(&lower).map(|n| n as usize);
                }
                _ if number(&lower).is_some() => {}
                _ if times_word(&lower).is_some() => times = times_word(&lower),
                "in" if ahead.get(i + 1).is_some_and(|w| part_word(w).is_some()) => {}
                _ if part_word(word).is_some() && all => {}
                _ => match words::foot(word) {
                    Some(foot) => leads.push((foot, self.place(self.i + i, self.i + i + 1))),
                    None => break,
                },
            }
            // `three more of those`
            let next = ahead.get(i + 1).map(|w| w.to_lowercase());
            if let Some(n) = number(&lower)
                && next.as_deref().is_some_and(|w| matches!(w, "more" | "times"))
            {
                times = Some(n);
            }
            used = i + 1;
        }
        // `Do` in front says nothing else.
        let did = self
            .i
            .checked_sub(1)
            .and_then(|i| self.tokens.get(i)?.word())
            .is_some_and(|w| w.eq_ignore_ascii_case("do"));
        let first = if did {
            "do".to_string()
        } else {
            let word = |w: &&str| w.trim_end_matches(['!', '.']).to_lowercase();
            ahead.first().map(word).unwrap_or_default()
        };
        if first == "more"
            && let Some(n) = item.bare
        {
            (again, all, times) = (true, true, Some(n));
        }
        // `Other foot` alone on its line, or with its counts.
        let counts_behind = self.tokens.iter().skip(2).all(|t| matches!(t.piece, Piece::Round(_)));
        again |= other && self.i == 0 && ahead.len() == 2 && counts_behind;
        let begins = again && other && ahead.len() == 2
            || matches!(
                first.as_str(),
                "more"
                    | "them"
                    | "do"
                    | "same"
                    | "again"
                    | "reverse"
                    | "redo"
                    | "now"
                    | "all"
                    | "everything"
            )
            || number(&first).is_some()
                && ahead.get(1).is_some_and(|w| w.eq_ignore_ascii_case("more"))
            || matches!(
                first.as_str(),
                "and"
                    | "then"
                    | "those"
                    | "them"
                    | "that"
                    | "this"
                    | "it"
                    | "the"
                    | "just"
                    | "both"
            );
        // `Do it 4 times in all`, `do that twice`: it is danced once already.
        let said: Vec<String> = ahead
            .iter()
            .map(|w| w.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase())
            .collect();
        let that = said
            .iter()
            .any(|w| matches!(w.as_str(), "that" | "it" | "this" | "those" | "all" | "these"));
        let in_all =
            said.iter().position(|w| matches!(w.as_str(), "all" | "total")).is_some_and(|i| i > 1);
        let often = said
            .iter()
            .find_map(|w| times_word(w))
            .or(said.windows(2).find_map(|w| number(&w[0]).filter(|_| w[1] == "times")));
        if let Some(n) = often.filter(|n| {
            *n > 1 && that && first == "do" && !said.iter().any(|w| w == "more" || w == "again")
        }) {
            (again, all, times, used) =
                (true, true, Some(n - 1), if in_all { ahead.len() } else { used });
        }
        all |= said.iter().any(|w| w == "it" || w == "that") && first == "do";
        // `The whole thing backing up`
        let whole_thing = first == "whole" && said.get(1).is_some_and(|w| w == "thing");
        (again, all) = (again || whole_thing, all || whole_thing);
        let begins = begins || whole_thing;
        // `Same again` below several lines.
        all |= first == "same" && said.get(1).is_some_and(|w| w == "again");
        // What goes on in other words is something else.
        let home = used > 0
            && (matches!(ahead[used - 1].to_lowercase().as_str(), "to" | "so")
                || ahead.get(used).is_some_and(|w| {
                    matches!(w.to_lowercase().as_str(), "until" | "till" | "til")
                }));
        let goes = whole_thing && ahead.get(used).is_some_and(|w| is_way_word(&w.to_lowercase()));
        let whole = goes || used == ahead.len() || words::turn(&ahead[used..]).is_some() || home;
        let used = if home { ahead.len() } else { used };
        if !again
            || !begins
            || !whole
            || used == 0
            || ahead.iter().any(|w| w.eq_ignore_ascii_case("as"))
        {
            return false;
        }
        let place = self.place(self.i, self.i + used);
        if item.times > 1 && times.is_none() {
            times = Some(item.times);
        }
        item.bare = None;
        item.times = times.unwrap_or(1);
        item.other_foot = other.then_some(place);
        item.leads.extend(leads);
        item.repeats = item.repeats.take().or(part);
        item.repeats_lines = lines;
        item.repeats_above = first == "same";
        item.body = Body::Repeat { all };
        self.i += used;
        self.on_which_foot(item);
        true
    }
}

impl Reader<'_, '_, '_> {
    /// `Same again, other foot`: the foot behind a comma.
    pub(super) fn on_which_foot(&mut self, item: &mut Item) {
        if !matches!(self.tokens.get(self.i).map(|t| t.piece), Some(Piece::Separator | Piece::Dash))
        {
            return;
        }
        let before = self.i;
        self.i += 1;
        let ahead = self.words_ahead();
        let place = self.place(self.i, self.i + ahead.len());
        let (mut other, mut used) = (false, ahead.len());
        let mut leads = Vec::new();
        for (i, word) in ahead.iter().enumerate() {
            // Counts at the end of the line.
            if i > 0 && number(word).is_some() {
                used = i;
                break;
            }
            match word.trim_end_matches(['.', '!']).to_lowercase().as_str() {
                "other" | "opposite" | "opp" => other = true,
                "foot" | "feet" | "side" | "lead" | "on" | "the" | "start" | "starting"
                | "with" | "ft" | "now" => {}
                _ => match words::foot(word) {
                    Some(foot) => leads.push((foot, place)),
                    None => {
                        self.i = before;
                        return;
                    }
                },
            }
        }
        if !other && leads.is_empty() {
            self.i = before;
            return;
        }
        item.other_foot = item.other_foot.or(other.then_some(place));
        item.leads.extend(leads);
        self.i += used;
    }
}

/// Whether the words end with `from` or `from the`.
fn from_there(words: &[&str]) -> bool {
    let words = words.strip_suffix(&["the"]).unwrap_or(words);
    words.last().is_some_and(|w| w.eq_ignore_ascii_case("from"))
}

fn is_this(word: &str) -> bool {
    ["this", "the", "that"].iter().any(|this| word.eq_ignore_ascii_case(this))
}

/// `to the right`, with no foot behind.
fn goes_to_a_side(words: &[&str]) -> bool {
    let lower = |i: usize| words.get(i).map(|w| w.to_lowercase()).unwrap_or_default();
    let side = usize::from(lower(1) == "the") + 1;
    lower(0) == "to"
        && words.get(side).is_some_and(|w| words::foot(w).is_some())
        && !lower(side + 1).starts_with("foot")
}

fn is_again(word: &str) -> bool {
    let lower = word.to_lowercase();
    matches!(
        lower.trim_matches(|c: char| !c.is_alphanumeric()),
        "again" | "thing" | "other" | "on" | "off" | "with" | "opposite" | "steps"
    )
}
