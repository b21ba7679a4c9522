//! What comes again told in words: `three more of those`, `do that again`, `same again, other foot`, `reverse`.

use crate::units::Foot;

use super::heading::part_word;
use super::item::{Body, Item, Place};
use super::phrases::{is_way_word, times_word};
use super::step_line::Reader;
use super::token::Piece;
use super::words::{self, bare, is_foot_word, is_other_word, number};

/// What words say of something that comes again.
#[derive(Debug, Default)]
struct Told {
    again: bool,
    /// All that stands above, not the line before alone.
    all: bool,
    other_foot: bool,
    times: Option<u32>,
    leads: Vec<(Foot, Place)>,
    lines: Option<usize>,
    part: Option<String>,
    /// How many words say it.
    used: usize,
}

/// Words that fill such a phrase and say nothing more of it.
fn is_filler(word: &str) -> bool {
    const FILLERS: &[&str] = &[
        "do",
        "those",
        "that",
        "these",
        "this",
        "it",
        "them",
        "of",
        "the",
        "one",
        "once",
        "another",
        "time",
        "times",
        "thing",
        "and",
        "now",
        "then",
        "above",
        "with",
        "on",
        "off",
        "to",
        "side",
        "starting",
        "beginning",
        "leading",
        "over",
        "using",
        "same",
        "from",
        "start",
        "top",
        "way",
        "two",
        "steps",
        "lines",
        "line",
        "just",
        "for",
        "repeat",
        "so",
        "go",
        "last",
        "previous",
        "",
    ];
    FILLERS.contains(&word) || is_foot_word(word)
}

/// Whether a phrase that says that something comes again may begin so.
fn begins_a_repeat(first: &str, said: &[String]) -> bool {
    const FIRST: &[&str] = &[
        "more",
        "them",
        "do",
        "same",
        "again",
        "reverse",
        "redo",
        "now",
        "all",
        "everything",
        "and",
        "then",
        "those",
        "that",
        "this",
        "it",
        "the",
        "just",
        "both",
    ];
    let second = said.get(1).map(String::as_str);
    FIRST.contains(&first)
        || number(first).is_some() && second == Some("more")
        || is_the_whole_thing(said)
}

/// `The whole thing backing up`, behind its article.
fn is_the_whole_thing(said: &[String]) -> bool {
    matches!(said, [first, second, ..] if first == "whole" && second == "thing")
}

impl Reader<'_, '_, '_> {
    /// Takes words that say that what stands above comes again, up to the next sign. False, and nothing taken, where they
    /// say anything else.
    pub(super) fn repeat_in_words(&mut self, item: &mut Item) -> bool {
        let ahead = self.words_ahead();
        let said: Vec<String> = ahead.iter().map(|w| bare(w)).collect();
        // `Do` in front is read already.
        let before = self.i.checked_sub(1).and_then(|i| self.tokens.get(i)?.word());
        let did = before.is_some_and(|w| w.eq_ignore_ascii_case("do"));
        let first = if did { "do" } else { said.first().map_or("", String::as_str) };
        let mut told = self.told_again(&ahead, &said, first);
        told.heed_the_first_word(first, &said, item.bare);
        // `Other foot` alone on its line, or with its counts.
        let foot_alone = told.other_foot && said.len() == 2;
        let mut behind = self.tokens.iter().skip(2);
        told.again |=
            foot_alone && self.i == 0 && behind.all(|t| matches!(t.piece, Piece::Round(_)));
        let begins = begins_a_repeat(first, &said) || told.again && foot_alone;
        let used = told.end(&ahead, &said).filter(|used| *used > 0);
        let Some(used) = used.filter(|_| told.again && begins && !said.iter().any(|w| w == "as"))
        else {
            return false;
        };
        let place = self.place(self.i, self.i + used);
        let in_front = Some(item.times).filter(|n| *n > 1);
        item.bare = None;
        item.times = told.times.or(in_front).unwrap_or(1);
        item.other_foot = told.other_foot.then_some(place);
        item.leads.extend(told.leads);
        item.repeats = item.repeats.take().or(told.part);
        item.repeats_lines = told.lines;
        item.repeats_above = first == "same";
        item.body = Body::Repeat { all: told.all };
        self.i += used;
        self.on_which_foot(item);
        true
    }

    /// Reads word by word, up to one that says something else.
    fn told_again(&self, ahead: &[&str], said: &[String], first: &str) -> Told {
        let mut told = Told::default();
        let named_at = usize::from(said.first().is_some_and(|w| w == "do"));
        for (i, (word, lower)) in ahead.iter().zip(said).enumerate() {
            let next = said.get(i + 1).map(String::as_str);
            let n = number(lower);
            match lower.as_str() {
                "again" | "more" | "reverse" | "repeats" | "redo" => told.again = true,
                "same" if same_comes_again(&ahead[i + 1..], said.len()) => told.again = true,
                // `The same to the right` says where it goes.
                "left" | "right" if goes_to_a_side(&ahead[i.saturating_sub(2)..]) => {}
                // `Do B again`
                _ if first == "do"
                    && i == named_at
                    && self.names_a_part(word)
                    && next == Some("again") =>
                {
                    told.part = Some((*word).to_string());
                    told.all = true;
                }
                // `All of A again`
                _ if i > 1
                    && told.all
                    && said[i - 1] == "of"
                    && next == Some("again")
                    && self.names_a_part(word) =>
                {
                    told.part = Some((*word).to_string());
                }
                // `All of that over`
                "over" if next.is_none() && (told.all || said.contains(&"same".to_string())) => {
                    told.again = true;
                }
                "both" => told.lines = Some(2),
                "all" | "everything" | "whole" => told.all = true,
                w if is_other_word(w) => told.other_foot = true,
                "start" | "beginning" | "top" if from_there(&ahead[..i]) => told.all = true,
                _ if i > 0 && part_word(word).is_some() && is_this(ahead[i - 1]) => told.all = true,
                w if is_filler(w) => {}
                _ if n.is_some() && next == Some("lines") => told.lines = n.map(|n| n as usize),
                _ if n.is_some() => {}
                w if times_word(w).is_some() => told.times = times_word(w),
                "in" if next.is_some_and(|w| part_word(w).is_some()) => {}
                _ if part_word(word).is_some() && told.all => {}
                _ => match words::foot(word) {
                    Some(foot) => {
                        told.leads.push((foot, self.place(self.i + i, self.i + i + 1)));
                    }
                    None => break,
                },
            }
            // `three more of those`
            if n.is_some() && matches!(next, Some("more" | "times")) {
                told.times = n;
            }
            told.used = i + 1;
        }
        told
    }

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
            match bare(word).as_str() {
                w if is_other_word(w) => other = true,
                "side" | "on" | "the" | "start" | "starting" | "with" | "now" => {}
                w if is_foot_word(w) => {}
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

impl Told {
    /// What the first word makes of the others. `bare` is a number in front of it.
    fn heed_the_first_word(&mut self, first: &str, said: &[String], bare: Option<u32>) {
        let has = |words: &[&str]| said.iter().any(|w| words.contains(&w.as_str()));
        match first {
            "more" if bare.is_some() => (self.again, self.all, self.times) = (true, true, bare),
            "do" => {
                // `Do it 4 times in all`, `do that twice`: it is danced once already.
                let by_number =
                    || said.windows(2).find_map(|w| number(&w[0]).filter(|_| w[1] == "times"));
                let often = said.iter().find_map(|w| times_word(w)).or_else(by_number);
                let that = has(&["that", "it", "this", "those", "all", "these"]);
                let more = has(&["more", "again"]);
                if let Some(n) = often.filter(|n| *n > 1 && that && !more) {
                    (self.again, self.all, self.times) = (true, true, Some(n - 1));
                    if said.iter().position(|w| w == "all" || w == "total").is_some_and(|i| i > 1) {
                        self.used = said.len();
                    }
                }
                self.all |= has(&["it", "that"]);
            }
            // `Same again` below several lines.
            "same" => self.all |= said.get(1).is_some_and(|w| w == "again"),
            "whole" if is_the_whole_thing(said) => (self.again, self.all) = (true, true),
            _ => {}
        }
    }

    /// How many words say it; `None` where the phrase goes on in words of something else.
    fn end(&self, ahead: &[&str], said: &[String]) -> Option<usize> {
        let next = said.get(self.used).map(String::as_str);
        // `Again to home`, `all of it until the end`
        let until = matches!(next, Some("until" | "till" | "til"));
        let leads_on = self.used > 0 && matches!(said[self.used - 1].as_str(), "to" | "so");
        // `All of it again from the back wall`
        let from_a_wall = matches!(next, Some("back" | "front"))
            && from_there(&ahead[..self.used])
            && said.get(self.used + 1).is_some_and(|w| w == "wall");
        // `All that again to the back`
        let to_a_wall = self.all
            && matches!(next, Some("back" | "front"))
            && said[..self.used].ends_with(&["to".to_string(), "the".to_string()]);
        if self.used > 0 && (until || leads_on || from_a_wall || to_a_wall) {
            return Some(ahead.len());
        }
        let goes = is_the_whole_thing(said) && next.is_some_and(is_way_word);
        let whole = next.is_none() || goes || words::turn(&ahead[self.used..]).is_some();
        whole.then_some(self.used)
    }
}

/// Whether `same` in front of these words, of so many in all, says that something comes again: `same 2 lines`, `same to
/// the right`.
fn same_comes_again(behind: &[&str], all: usize) -> bool {
    const AGAIN: [&str; 6] = ["again", "thing", "on", "off", "with", "steps"];
    let next = |w: &&str| {
        let lower = bare(w);
        number(w).is_some() || AGAIN.contains(&lower.as_str()) || is_other_word(&lower)
    };
    all < 3 || behind.first().is_some_and(next) || goes_to_a_side(behind)
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
    let lower = |i: usize| words.get(i).map(|w| bare(w)).unwrap_or_default();
    let side = usize::from(lower(1) == "the") + 1;
    lower(0) == "to"
        && words.get(side).is_some_and(|w| words::foot(w).is_some())
        && !is_foot_word(&lower(side + 1))
}
