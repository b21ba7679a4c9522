//! What stands behind a step on its line: times, counts, turns, walls, feet, movements, notes.

use crate::units::Foot;

use super::finding::Fault;
use super::glossary::name_key;
use super::item::{Body, Item, Parsed, Place};
use super::movement::MOVEMENTS;
use super::notation::{Moves, take_group, take_movements};
use super::phrases::{
    is_abbreviation, is_code_like, is_style_word, near_code, times_word, turn_to_wall, wall_claim,
};
use super::step_line::{Reader, parse_step_line};
use super::token::Piece;
use super::vocabulary::step_at;
use super::words::{self, bare, is_foot_word, length, nearest, number};

impl<'a> Reader<'_, 'a, '_> {
    pub(super) fn modifiers(&mut self, item: &mut Item, moves: &mut Moves) {
        while let Some(token) = self.tokens.get(self.i).copied() {
            let here = (token.at, token.end);
            match token.piece {
                Piece::Separator => return,
                Piece::Dash => {
                    self.i += 1;
                    if self.step_follows() && !self.spells_out(item, moves) {
                        self.i -= 1;
                        return;
                    }
                    let ahead = self.words_ahead();
                    let goes_on = words::turn(&ahead).is_some()
                        || wall_claim(&ahead).is_some()
                        || turn_to_wall(&ahead).is_some()
                        || (item.moves.is_none()
                            && moves.is_empty()
                            && self.movements_ahead() >= 2)
                        || ahead
                            .first()
                            .is_some_and(|w| times_word(w).is_some() || words::foot(w).is_some())
                        || length(&ahead).is_some_and(|(_, used)| used > 1 || ahead.len() == 1)
                        || !matches!(
                            self.tokens.get(self.i).map(|t| t.piece),
                            Some(Piece::Word(_))
                        );
                    if !goes_on {
                        if self.mistyped_step() {
                            self.i -= 1;
                            return;
                        }
                        self.note_to_the_end(item);
                        return;
                    }
                }
                Piece::Quote(inner) => {
                    item.notes.push(inner.trim().to_string());
                    self.i += 1;
                }
                Piece::Round(inner) => {
                    self.i += 1;
                    self.bracket(inner, here, item, moves);
                }
                Piece::Square(inner) => {
                    self.i += 1;
                    if (item.body != Body::Moves && !moves.is_empty()) || !take_group(inner, moves)
                    {
                        self.bracket(inner, here, item, moves);
                    }
                }
                Piece::Word(word) => {
                    if !self.word_modifier(word, here, item, moves) {
                        return;
                    }
                }
            }
        }
    }

    /// Takes a word behind a step. False where the item ends before it.
    fn word_modifier(
        &mut self,
        word: &str,
        here: Place,
        item: &mut Item,
        moves: &mut Moves,
    ) -> bool {
        let ahead = self.words_ahead();
        let lower = word.trim_end_matches([':', '.', '!']).to_lowercase();
        if matches!(lower.as_str(), "repeat" | "repeats") && item.body != Body::Nothing {
            return false;
        }
        if self.asks_for_another() {
            item.set_times(item.times.saturating_add(1));
            self.i += 2;
            return true;
        }
        if matches!(lower.as_str(), "then" | "and" | "&") {
            self.i += 1;
            if self.step_follows() || self.another_step_follows() {
                return false;
            }
            return true;
        }
        if let Some(times) = times_word(word) {
            item.set_times(times);
            self.i += 1;
            return true;
        }
        if lower == "x"
            && let Some(n) = self.word(1).and_then(number)
        {
            item.set_times(n);
            self.i += 2;
            return true;
        }
        if let Some((turn, used)) = words::turn(&ahead) {
            self.take_turn(turn, self.place(self.i, self.i + used), item);
            self.i += used;
            return true;
        }
        if let Some((side, wall, used)) = turn_to_wall(&ahead) {
            item.turn_to = Some((wall, side));
            self.i += used;
            return true;
        }
        if let Some((wall, used)) = wall_claim(&ahead) {
            item.wall = Some((wall, self.place(self.i, self.i + used)));
            self.i += used;
            return true;
        }
        if matches!(lower.as_str(), "each" | "ea") {
            item.turn_each = true;
            self.i += 1;
            return true;
        }
        if let Some(n) = number(word) {
            if self.word(1).is_some_and(|w| w.eq_ignore_ascii_case("times")) {
                item.set_times(n);
                self.i += 2;
                return true;
            }
            // `Walk 8` is eight walks.
            let of_one = matches!(&item.body, Body::Known(key)
                if self.book.find(key).is_some_and(|step| step.counts == 1));
            let beside = self.i > 0 && self.tokens[self.i - 1].word().is_some();
            let first = self.out.items.is_empty() && beside;
            if of_one && first && item.times == 1 && item.bare.is_none() && (2..=16).contains(&n) {
                item.set_times(n);
                self.i += 1;
                return true;
            }
            let (counts, used) = length(&ahead).unwrap_or((n, 1));
            item.stated = Some((counts, self.place(self.i, self.i + used)));
            self.i += used;
            return true;
        }
        if let Some((counts, used)) = length(&ahead) {
            item.stated = Some((counts, self.place(self.i, self.i + used)));
            self.i += used;
            return true;
        }
        // `DS RS DS RS L R`: one foot for each step in them, of which the first is that of the start.
        let feet = ahead.iter().take_while(|w| w.len() == 1 && words::foot(w).is_some()).count();
        let ends = ahead.get(feet).is_none_or(|w| number(w).is_some());
        if let Some(foot) = words::foot(word)
            && item.body == Body::Moves
            && (2..moves.moves.len()).contains(&feet)
            && ends
        {
            item.leads.push((foot, here));
            self.i += feet;
            return true;
        }
        if let Some(foot) = words::foot(word)
            && self.word(1).is_none_or(|w| words::foot(w).is_none() || word.len() > 1)
            && !(item.body == Body::Moves && word.len() == 1 && self.movements_ahead() > 1)
        {
            item.leads.push((foot, here));
            self.i += 1;
            let beside = |w: &str| is_foot_word(w) || matches!(&*bare(w), "start" | "first");
            while self.word(0).is_some_and(beside) {
                self.i += 1;
            }
            return true;
        }
        // Movements behind a name, or going on after a bracket.
        let least = if item.body == Body::Moves { 1 } else { 2 };
        let named = matches!(item.body, Body::Known(_) | Body::Unknown) && moves.is_empty();
        // `Triple stomp stomp` is three steps; `Triple DS DS DS RS` is one.
        if named && !is_abbreviation(word) && self.movements_ahead() >= 2 {
            return false;
        }
        // `Stomp stomp clap`
        let of_one = |name: &str| self.book.find(name).is_some_and(|step| step.counts == 1);
        if matches!(&item.body, Body::Known(key) if of_one(key))
            && word.len() > 3
            && moves.is_empty()
            && of_one(&name_key(word))
            && self.word(1).is_none_or(|w| self.book.find(&name_key(w)).is_some())
        {
            return false;
        }
        // `Basic basic triple`
        let known = matches!(item.body, Body::Known(_)) && moves.is_empty();
        if known && self.only_names_follow() {
            return false;
        }
        if (item.body == Body::Moves || named) && self.movements_ahead() >= least {
            self.i += take_movements(&self.tokens[self.i..], moves).max(1);
            return true;
        }
        if item.body == Body::Moves && self.may_be_a_code(word) && !is_style_word(&lower) {
            let known = MOVEMENTS.iter().map(|m| m.code);
            let upper = word.to_uppercase();
            let near = nearest(&upper, known).map(str::to_string).or_else(|| near_code(&upper));
            self.out.faults.push((Fault::UnknownMovement { nearest: near }, here));
            self.i += 1;
            return true;
        }
        // A mistyped step behind movements begins a new item, so that it is told.
        if item.body == Body::Moves && !is_style_word(&lower) && self.mistyped_step() {
            return false;
        }
        let plain_note = is_style_word(&lower)
            || matches!(item.body, Body::Moves | Body::Repeat { .. } | Body::SameAs(_));
        if plain_note || item.body == Body::Nothing || item.body == Body::Pause {
            self.note_to_next_piece(item);
            return true;
        }
        // Behind brackets no name goes on, `Basic x4 (8) front line moves up`.
        let bracketed = matches!(self.tokens[self.i - 1].piece, Piece::Round(_) | Piece::Square(_));
        // Nor behind a turn or a foot, and a sentence is no name.
        const MOST_MORE: usize = 3;
        let over = item.turn != 0
            || item.turn_to.is_some()
            || item.wall.is_some()
            || !item.leads.is_empty()
            || ahead.len() > MOST_MORE && ahead.iter().all(|w| !w.starts_with(char::is_uppercase));
        if matches!(item.body, Body::Known(_)) && (bracketed || over) {
            if self.mistyped_step() {
                return false;
            }
            self.note_to_next_piece(item);
            return true;
        }
        // The name goes on, so it is another one.
        if matches!(item.body, Body::Known(_)) {
            item.body = Body::Unknown;
        }
        self.unknown_name(item);
        item.body_place.1 = self.place(0, self.i).1;
        true
    }

    /// Whether the words up to the next sign are names of steps and nothing else.
    fn only_names_follow(&self) -> bool {
        let mut ahead =
            Reader { i: self.i, out: &mut Parsed::default(), after: Vec::new(), ..*self };
        while ahead.word(0).is_some() {
            let Some((used, _)) = ahead.known_name().filter(|(used, _)| *used > 0) else {
                return false;
            };
            ahead.i += used;
        }
        ahead.i > self.i
    }

    /// Whether a word among movements is meant as one: among codes in capitals no small word is.
    fn may_be_a_code(&self, word: &str) -> bool {
        let before = self.i.checked_sub(1).and_then(|i| self.tokens[i].word()).unwrap_or("");
        let in_capitals = before.chars().all(char::is_uppercase) && before.len() > 1;
        is_code_like(word) && !(in_capitals && word.chars().all(char::is_lowercase))
    }

    fn take_turn(&mut self, turn: words::Turn, place: Place, item: &mut Item) {
        if turn.undirected {
            self.out.faults.push((Fault::TurnWithoutSide, place));
        }
        item.turn = item.turn.saturating_add(turn.eighths);
        item.turn_each |= turn.each;
    }

    /// What stands in brackets behind a step.
    fn bracket(&mut self, inner: &str, here: Place, item: &mut Item, moves: &mut Moves) {
        let inner_words: Vec<&str> = inner
            .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';'))
            .filter(|w| !w.is_empty())
            .collect();
        if inner_words
            .first()
            .is_some_and(|w| matches!(w.to_lowercase().as_str(), "repeat" | "rep" | "rpt"))
        {
            let parsed = parse_step_line(inner, 0, self.book);
            for mut item in parsed.items {
                // Places are those of the bracket.
                item.place = here;
                item.body_place = here;
                item.other_foot = item.other_foot.map(|_| here);
                item.leads = item.leads.into_iter().map(|(f, _)| (f, here)).collect();
                item.stated = item.stated.map(|(n, _)| (n, here));
                item.wall = item.wall.map(|(w, _)| (w, here));
                self.after.push(item);
            }
            return;
        }
        let last_each =
            inner_words.last().is_some_and(|w| matches!(w.to_lowercase().as_str(), "each" | "ea"));
        let counted = &inner_words[..inner_words.len() - usize::from(last_each)];
        if let Some((counts, used)) = length(counted)
            && used == counted.len()
        {
            item.stated = Some((counts, here));
            item.stated_each = last_each;
            return;
        }
        // `(that's 16)`, `(the other 16)`
        const LEADS: [&str; 8] = ["that's", "thats", "the", "other", "total", "all", "makes", "is"];
        if let [lead @ .., last] = counted
            && let Some(n) = number(last)
            && !lead.is_empty()
            && lead.iter().all(|w| LEADS.contains(&w.to_lowercase().as_str()))
        {
            item.stated = Some((n, here));
            return;
        }
        let times = match inner_words[..] {
            [one] => times_word(one),
            [n, x] if matches!(x.to_lowercase().as_str(), "times" | "x") => number(n),
            [x, n] if x.eq_ignore_ascii_case("x") => number(n),
            _ => None,
        };
        if let Some(times) = times {
            item.set_times(times);
            return;
        }
        let feet: Vec<Foot> = inner_words.iter().filter_map(|w| words::foot(w)).collect();
        let feet_only = inner_words.iter().all(|w| {
            words::foot(w).is_some()
                || is_foot_word(w)
                || matches!(
                    w.to_lowercase().as_str(),
                    "&" | "and" | "start" | "starts" | "on" | "then"
                )
        });
        if !feet.is_empty() && feet_only {
            item.leads.extend(feet.into_iter().map(|f| (f, here)));
            return;
        }
        let named = name_key(inner);
        if matches!(item.body, Body::Known(_) | Body::Unknown) && self.book.find(&named).is_some() {
            item.also = Some(named);
            return;
        }
        let mut turned = false;
        let mut i = 0;
        while i < inner_words.len() {
            if let Some((turn, used)) = words::turn(&inner_words[i..]) {
                self.take_turn(turn, here, item);
                turned = true;
                i += used.max(1);
            } else if let Some((wall, used)) = wall_claim(&inner_words[i..]) {
                item.wall = Some((wall, here));
                i += used.max(1);
            } else {
                let word = inner_words[i].to_lowercase();
                item.turn_each |= turned && matches!(word.as_str(), "each" | "ea");
                i += 1;
            }
        }
        if !turned && item.body == Body::Moves && !moves.is_empty() && inner.len() <= 12 {
            moves.tag(inner);
        }
        item.notes.push(inner.trim().to_string());
    }

    /// Whether a step, movements or a number of steps follow from here: then a new item begins.
    fn step_follows(&self) -> bool {
        let Some(token) = self.tokens.get(self.i) else { return false };
        match token.piece {
            Piece::Word(word) => {
                let numbered = number(word).is_some() || times_word(word).is_some();
                let next = Reader {
                    i: self.i + usize::from(numbered),
                    out: &mut Parsed::default(),
                    after: Vec::new(),
                    ..*self
                };
                let named = next.known_name().is_some_and(|(n, key)| {
                    // `clap on the last count` is a note.
                    let behind = next.words_ahead().get(n).copied();
                    if key == "clap" && behind.is_some_and(|w| times_word(w).is_none()) {
                        return false;
                    }
                    // What comes behind the name must be no other word of a sentence.
                    numbered
                        || next.words_ahead().get(n).is_none_or(|w| {
                            times_word(w).is_some() || is_style_word(&w.to_lowercase())
                        })
                });
                let moving =
                    next.movements_ahead() >= 2 || (numbered && next.movements_ahead() >= 1);
                // `hold it and smile` is a note.
                let said = next.word(1).is_some_and(|w| {
                    matches!(
                        w.to_lowercase().as_str(),
                        "it" | "that" | "your" | "the" | "and" | "hands" | "arms"
                    )
                });
                let other = !said
                    && next.word(0).is_some_and(|w| {
                        matches!(w.to_lowercase().as_str(), "pause" | "hold" | "repeat" | "rest")
                    });
                named || moving || other
            }
            Piece::Square(_) => true,
            _ => false,
        }
    }

    /// Whether the movements from here on are what the step before them is: they take as many counts.
    fn spells_out(&self, item: &Item, moves: &Moves) -> bool {
        let (Body::Known(key), true, None) = (&item.body, moves.is_empty(), &item.moves) else {
            return false;
        };
        let mut run = Moves::default();
        take_movements(&self.tokens[self.i.min(self.tokens.len())..], &mut run);
        let abbreviated = self.word(0).is_some_and(is_abbreviation);
        run.moves.len() >= 2
            && abbreviated
            && self.book.find(key).is_some_and(|step| step.counts == run.lay_out())
    }

    /// Whether the few words from here to the next piece are nearly the name of a step.
    fn mistyped_step(&self) -> bool {
        let ahead = self.words_ahead();
        let name = ahead.join(" ");
        (1..=3).contains(&ahead.len())
            && name.chars().count() > 4
            && self.book.nearest(&name).is_some()
    }

    fn note_to_the_end(&mut self, item: &mut Item) {
        let (at, end) = self.place(self.i, self.tokens.len());
        if let Some(note) = self.text.get(at..end) {
            item.notes.push(note.trim().trim_matches('"').to_string());
        }
        self.i = self.tokens.len();
    }

    /// `and one Triple to the right`, `then 2 Basics`: a number of steps behind a joining word.
    fn leads_to_a_step(&self) -> bool {
        let joins = |w: &str| matches!(w.to_lowercase().as_str(), "and" | "then" | "&");
        let counted =
            |w: &str| number(w).is_some() || matches!(w.to_lowercase().as_str(), "a" | "an");
        let ahead = self.words_ahead();
        ahead.first().is_some_and(|w| joins(w))
            && ahead.get(1).is_some_and(|w| counted(w))
            && step_at(&ahead[2..]).is_some()
    }

    /// `and another to the right`: the step once more.
    fn asks_for_another(&self) -> bool {
        let ahead = self.words_ahead();
        let said = |i: usize, w: &str| ahead.get(i).is_some_and(|a| a.eq_ignore_ascii_case(w));
        said(0, "and") && said(1, "another") && step_at(&ahead[2..]).is_none()
    }

    pub(super) fn note_to_next_piece(&mut self, item: &mut Item) {
        let from = self.i;
        while self.word(0).is_some()
            && (self.i == from
                || words::turn(&self.words_ahead()).is_none()
                    && !self.leads_to_a_step()
                    && !self.asks_for_another())
        {
            self.i += 1;
        }
        let (at, end) = self.place(from, self.i);
        if let Some(note) = self.text.get(at..end) {
            item.notes.push(note.to_string());
        }
    }
}
