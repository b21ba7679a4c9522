//! `repeat …` and `same as …` on a line of steps.

use super::finding::Fault;
use super::heading::part_word;
use super::item::{Body, Exchange, Item};
use super::phrases::count_range;
use super::step_line::{Reader, parse_step_line};
use super::token::Piece;
use super::words::{self, bare, is_foot_word, is_other_word, length, number};

/// `one to each wall`, `to all 4 walls`: how many words say that it is danced to all of them in turn.
pub(super) fn to_each_wall(ahead: &[&str]) -> Option<usize> {
    let said = |i: usize, words: &[&str]| ahead.get(i).is_some_and(|w| words.contains(&&*bare(w)));
    let mut i = usize::from(said(0, &["one", "once"]));
    if !said(i, &["to", "on", "at", "for", "facing"])
        || !said(i + 1, &["each", "every", "all", "the"])
    {
        return None;
    }
    i += 2;
    while said(i, &["the", "other", "of"]) || ahead.get(i).is_some_and(|w| number(w).is_some()) {
        i += 1;
    }
    said(i, &["wall", "walls"]).then_some(i + 1)
}

impl Reader<'_, '_, '_> {
    /// Whether no other word than `lines` or `steps` stands behind so many words.
    fn ends_here(&self, words: usize) -> bool {
        self.word(words).is_none_or(|w| matches!(&*bare(w), "lines" | "steps"))
    }

    /// The key of the step behind `from` and how many words that is with it.
    fn step_from_which(&self) -> Option<(String, usize)> {
        let ahead = self.words_ahead();
        let the = usize::from(ahead.get(1).is_some_and(|w| w.eq_ignore_ascii_case("the")));
        let (key, used) = self.step_named_by(ahead.get(1 + the..)?)?;
        Some((key, 1 + the + used))
    }

    /// The key of the first of several steps named here, and how many words name them and nothing else.
    fn steps_named_again(&self) -> Option<(String, usize)> {
        let ahead = self.words_ahead();
        let (mut first, mut at) = (None, 0);
        while at < ahead.len() {
            let Some((key, used)) = self.step_named_by(&ahead[at..]) else { break };
            first = first.or(Some(key));
            at += used;
            let joined = ahead.get(at).is_some_and(|w| matches!(&*bare(w), "and" | "&"));
            if !joined {
                break;
            }
            at += 1;
        }
        (at == ahead.len()).then_some(first?).map(|key| (key, at))
    }

    /// Whether one of these words stands right before this one.
    fn said_before(&self, words: &[&str]) -> bool {
        let before = self.i.checked_sub(1).and_then(|i| self.tokens.get(i)?.word());
        before.is_some_and(|w| words.contains(&w.to_lowercase().as_str()))
    }

    fn names_no_step_behind_it(&self) -> bool {
        let ahead = self.words_ahead();
        super::vocabulary::step_at(&ahead[1.min(ahead.len())..]).is_none()
    }

    pub(super) fn repeat(&mut self, item: &mut Item) {
        let from = self.i;
        self.i += 1;
        let mut all = false;
        while let Some(word) = self.word(0) {
            let lower = word.to_lowercase();
            if let Some(used) = to_each_wall(&self.words_ahead()) {
                self.i += used;
                continue;
            }
            match lower.as_str() {
                // `repeat above` is the line before, or all where only that adds up.
                "above" => item.repeats_above = true,
                "times" => {}
                // `Repeat 3 more times`
                _ if number(&lower).is_some()
                    && self
                        .word(1)
                        .is_some_and(|w| matches!(w.to_lowercase().as_str(), "more" | "times")) =>
                {
                    item.times = number(&lower).unwrap_or(1);
                    all |= self.word(1).is_some_and(|w| w.eq_ignore_ascii_case("more"));
                }
                _ if count_range(&lower).is_some() => {
                    let (from, to) = lower.split_once('-').unwrap_or_default();
                    item.repeats_counts = number(from).zip(number(to));
                    all |= lower.starts_with("1-");
                }
                "all" | "top" | "everything" | "whole" | "sequence" => all = true,
                _ if item.repeats.is_none() && self.names_a_part(word) => {
                    // `Repeat part B`, `repeat V`: the part's name, and its label.
                    let label = self.word(1).filter(|w| {
                        part_word(word).is_some() && (w.chars().count() <= 2 || number(w).is_some())
                    });
                    let to = self.i + 1 + usize::from(label.is_some());
                    let (at, end) = self.place(self.i, to);
                    item.repeats = self
                        .text
                        .get(at..end)
                        .map(|name| name.trim_end_matches([':', '.']).to_string());
                    all = true;
                    self.i = to - 1;
                }
                // `Repeat Karaoke and Joeys`: from the first of them.
                _ if item.repeats_from.is_none() && self.steps_named_again().is_some() => {
                    let (key, used) = self.steps_named_again().unwrap_or_default();
                    item.repeats_from = Some(key);
                    self.i += used - 1;
                }
                // `Repeat all 4 steps`
                _ if all
                    && self.said_before(&["all", "the", "these", "those"])
                    && number(&lower).is_some_and(|n| n > 1)
                    && self.word(1).is_some_and(|w| matches!(&*bare(w), "steps" | "lines")) => {}
                // `Repeat those 2 on the other foot`
                _ if number(&lower).is_some_and(|n| n > 1)
                    && self.said_before(&["those", "these", "last", "previous", "above"])
                    && self.names_no_step_behind_it() =>
                {
                    item.repeats_lines = number(&lower).map(|n| n as usize);
                }
                // `Repeat from the Charlestons`
                "from" if self.step_from_which().is_some() => {
                    let (key, used) = self.step_from_which().unwrap_or_default();
                    item.repeats_from = Some(key);
                    self.i += used - 1;
                }
                _ if is_other_word(&lower) => {}
                _ if (is_foot_word(&lower) && !lower.starts_with("lead") || lower == "side")
                    && item.leads.is_empty() =>
                {
                    item.other_foot = Some(self.place(from, self.i + 1));
                }
                _ if words::foot(word).is_some() => {
                    if let Some(foot) = words::foot(word) {
                        item.leads.push((foot, self.place(self.i, self.i + 1)));
                    }
                }
                "on" | "with" | "the" | "from" | "of" | "this" | "once" | "more" | "again"
                | "to" | "side" | "line" | "that" | "step" | "steps" | "it" | "using"
                | "starting" | "these" | "those" | "lines" => {}
                _ if is_foot_word(&lower) => {}
                // `Repeat these two`: its counts say which.
                "both" if self.ends_here(1) => item.repeats_lines = Some(2),
                "last" | "previous" => {}
                _ if number(&lower).is_some()
                    && self.word(1).is_some_and(|w| {
                        w.trim_end_matches([',', '.']).eq_ignore_ascii_case("lines")
                    }) =>
                {
                    item.repeats_lines = number(&lower).map(|n| n as usize);
                }
                "two" | "three" if self.ends_here(1) => {}
                _ => break,
            }
            self.i += 1;
        }
        item.body = Body::Repeat { all };
        // Behind a comma the other foot may be the other side as well.
        let said = item.other_foot;
        self.on_which_foot(item);
        item.other_foot = said;
        self.goes_to_a_side(item);
    }

    /// `Repeat above with R foot, vine to R`: which way one of its steps goes this time, behind a comma.
    fn goes_to_a_side(&mut self, item: &mut Item) {
        let said_foot = item.other_foot.is_some() || !item.leads.is_empty();
        let comma = self.tokens.get(self.i).is_some_and(|t| t.piece == Piece::Separator);
        if !said_foot || !comma {
            return;
        }
        self.i += 1;
        let ahead = self.words_ahead();
        let to = ahead.iter().position(|w| w.eq_ignore_ascii_case("to")).unwrap_or(0);
        let the = usize::from(ahead.get(to + 1).is_some_and(|w| w.eq_ignore_ascii_case("the")));
        let side = ahead.get(to + the + 1).is_some_and(|w| words::foot(w).is_some());
        let ends = ahead.get(to + the + 2).is_none_or(|w| number(w).is_some());
        let named = to > 0 && self.step_named_by(&ahead[..to]).is_some_and(|(_, used)| used == to);
        if !(named && side && ends) {
            self.i -= 1;
            return;
        }
        let (at, end) = self.place(self.i, self.i + to + the + 2);
        item.notes.extend(self.text.get(at..end).map(str::to_string));
        self.i += to + the + 2;
    }

    /// `same as A2`, `same as A2 but last 4: Chain`, `same as A on the other foot`.
    pub(super) fn same_as(&mut self, item: &mut Item) {
        let start = self.i;
        let said = self.word(0).is_some_and(|w| w.eq_ignore_ascii_case("same"));
        let skip = usize::from(said && self.word(1).is_some_and(|w| w.eq_ignore_ascii_case("as")));
        self.i += 1 + skip;
        if self.word(0).is_some_and(|w| w.eq_ignore_ascii_case("in")) {
            self.i += 1;
        }
        let from = self.i;
        let ends = |w: &str| {
            let lower = w.to_lowercase();
            matches!(
                lower.as_str(),
                "but" | "except" | "with" | "on" | "starting" | "only" | "last"
            ) || is_other_word(w)
        };
        while self
            .word(0)
            .is_some_and(|w| !ends(w) && words::foot(w).is_none_or(|_| self.i == from))
        {
            self.i += 1;
        }
        let (at, end) = self.place(from, self.i);
        let name = self.text.get(at..end).unwrap_or("").trim_end_matches([':', '.']).to_string();
        let mut exchange = None;
        loop {
            match self.tokens.get(self.i).map(|t| t.piece) {
                Some(Piece::Word(word)) => {
                    let lower = word.trim_end_matches([':', '.']).to_lowercase();
                    match lower.as_str() {
                        _ if is_foot_word(&lower) || lower == "side" => {
                            if item.leads.is_empty() {
                                item.other_foot = Some(self.place(start, self.i + 1));
                            }
                        }
                        _ if is_other_word(&lower) => {}
                        "last" | "first" => {
                            let last = lower == "last";
                            let ahead = &self.words_ahead()[1..];
                            let counted: Vec<&str> =
                                ahead.iter().map(|w| w.trim_end_matches(':')).collect();
                            let Some((counts, used)) = length(&counted) else { break };
                            exchange = Some(Exchange { last, counts });
                            self.i += 1 + used;
                            break;
                        }
                        // What is added may lie on its last counts, or come behind them.
                        "add" | "adding" => {
                            let (at, end) = self.place(self.i, self.tokens.len());
                            self.out.faults.push((Fault::AddedToPart, (at, end)));
                            item.notes.extend(self.text.get(at..end).map(str::to_string));
                            self.i = self.tokens.len();
                            break;
                        }
                        "but" | "except" | "with" | "on" | "the" | "for" | "starting" | "only"
                        | "change" | "ending" => {}
                        _ => match words::foot(word) {
                            Some(foot) => item.leads.push((foot, self.place(self.i, self.i + 1))),
                            None => break,
                        },
                    }
                }
                Some(Piece::Separator | Piece::Dash)
                    if self.word(1).is_some_and(|w| {
                        matches!(w.to_lowercase().as_str(), "last" | "but" | "except")
                    }) => {}
                _ => break,
            }
            self.i += 1;
        }
        if let Some(exchange) = exchange {
            // What stands behind it is danced instead.
            let at = self.place(self.i, self.i).0;
            let rest = self.text.get(at..).unwrap_or("");
            let signs = rest.len()
                - rest
                    .trim_start_matches(|c: char| c.is_whitespace() || matches!(c, ':' | '-' | '='))
                    .len();
            let within = parse_step_line(self.text, at + signs, self.book);
            self.out.faults.extend(within.faults);
            item.instead = within.items;
            item.exchange = Some(exchange);
            self.i = self.tokens.len();
        }
        item.body = Body::SameAs(name);
    }
}
