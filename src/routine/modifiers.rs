//! What stands behind a step on its line: times, counts, turns, walls, feet, movements, notes.

use super::finding::Fault;
use super::glossary::name_key;
use super::item::{Body, Item, Parsed, Place};
use super::movement::MOVEMENTS;
use super::notation::{Moves, take_group, take_movements};
use super::phrases::{
    is_abbreviation, is_code_like, is_repeat_word, is_style_word, near_code, times_word,
    turn_to_wall, wall_claim,
};
use super::repeat_line::to_each_wall;
use super::step_line::Reader;
use super::token::{Piece, Token};
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
                Piece::Round(inner) if self.numbers_the_next(inner) => return,
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

    /// `(1) Triple  (1) Stomp`: where the first step's number stands in brackets in front of it, so does the next one's.
    fn numbers_the_next(&self, inner: &str) -> bool {
        let is_number =
            |t: &Token<'_>| matches!(t.piece, Piece::Round(n) if number(n.trim()).is_some());
        number(inner.trim()).is_some()
            && self.tokens.first().is_some_and(is_number)
            && self.is_named_ahead(1)
    }

    /// Takes a word behind a step. False where the item ends before it.
    fn word_modifier(
        &mut self,
        word: &str,
        here: Place,
        item: &mut Item,
        moves: &mut Moves,
    ) -> bool {
        let lower = bare_word(word);
        if is_repeat_word(&lower) && item.body != Body::Nothing {
            return false;
        }
        if self.asks_for_another() {
            item.set_times(item.times.saturating_add(1));
            // The other turns as the first did.
            item.turn_each |= item.turn != 0;
            self.i += 2;
            return true;
        }
        if matches!(lower.as_str(), "then" | "and" | "&") {
            self.i += 1;
            return !(self.step_follows() || self.another_step_follows());
        }
        if self.how_often(word, item)
            || self.where_to(&lower, item)
            || self.how_long(word, item)
            || self.which_foot(word, here, item, moves)
        {
            return true;
        }
        if self.next_step_begins(word, item, moves) {
            return false;
        }
        self.movements_behind(word, here, item, moves) || self.words_behind(&lower, item)
    }

    /// `x4`, `x 4`, `4 times`, `Walk 8`.
    fn how_often(&mut self, word: &str, item: &mut Item) -> bool {
        let next = self.word(1);
        let times = |w: &str| w.eq_ignore_ascii_case("times");
        let (n, used) = if let Some(n) = times_word(word) {
            (n, 1)
        } else if let Some(n) = next.and_then(number).filter(|_| word.eq_ignore_ascii_case("x")) {
            (n, 2)
        } else if let Some(n) = number(word).filter(|_| next.is_some_and(times)) {
            (n, 2)
        } else if let Some(n) = number(word).filter(|n| self.is_eight_walks(*n, item)) {
            (n, 1)
        } else {
            return false;
        };
        item.set_times(n);
        self.i += used;
        true
    }

    /// `Walk 8` is eight walks: a number right behind the first step of a line, one of a single count; `Walk forward 8` too.
    fn is_eight_walks(&self, n: u32, item: &Item) -> bool {
        let beside = self.i > 0 && self.tokens[self.i - 1].word().is_some();
        // `Walk forward 4, walk back 4`
        let counted = |i: &Item| i.times > 1 && i.body == item.body;
        let first = self.out.items.iter().all(counted) && beside;
        matches!(&item.body, Body::Known(key) if self.is_of_one(key))
            && first
            && item.times == 1
            && item.bare.is_none()
            && (2..=16).contains(&n)
    }

    fn is_of_one(&self, key: &str) -> bool {
        self.book.find(key).is_some_and(|step| step.counts == 1)
    }

    /// A turn, a wall that is turned to or faced, and whether each time.
    fn where_to(&mut self, lower: &str, item: &mut Item) -> bool {
        let ahead = self.words_ahead();
        let used = if let Some(used) = to_each_wall(&ahead) {
            used
        } else if let Some((turn, used)) = words::turn(&ahead) {
            self.take_turn(turn, self.place(self.i, self.i + used), item);
            used
        } else if let Some((side, wall, used)) = turn_to_wall(&ahead) {
            item.turn_to = Some((wall, side));
            used
        } else if let Some((wall, used)) = wall_claim(&ahead) {
            item.wall = Some((wall, self.place(self.i, self.i + used)));
            used
        } else if matches!(lower, "each" | "ea") && self.word(1).is_some_and(|w| bare(w) == "way") {
            // `2 Chains, one each way`
            2
        } else if matches!(lower, "each" | "ea") {
            item.turn_each = true;
            1
        } else {
            return false;
        };
        self.i += used;
        true
    }

    /// Counts, with their unit or without.
    fn how_long(&mut self, word: &str, item: &mut Item) -> bool {
        let alone = number(word).map(|n| (n, 1));
        let Some((counts, used)) = length(&self.words_ahead()).or(alone) else { return false };
        item.stated = Some((counts, self.place(self.i, self.i + used)));
        self.i += used;
        true
    }

    /// The foot that it starts on.
    fn which_foot(&mut self, word: &str, here: Place, item: &mut Item, moves: &Moves) -> bool {
        let Some(foot) = words::foot(word) else { return false };
        let ahead = self.words_ahead();
        // `DS RS DS RS L R`: one foot for each step in them, of which the first is that of the start.
        let feet = ahead.iter().take_while(|w| w.len() == 1 && words::foot(w).is_some()).count();
        let ends = ahead.get(feet).is_none_or(|w| number(w).is_some());
        let moving = item.body == Body::Moves;
        if moving && (2..moves.moves.len()).contains(&feet) && ends {
            item.leads.push((foot, here));
            self.i += feet;
            return true;
        }
        // `Stomp L R L`, `4 Triples L R L R   16`: one for each foot.
        let one_each = |key: &str| self.is_of_one(key) || ends;
        if feet > 1 && matches!(&item.body, Body::Known(key) if one_each(key)) {
            for i in self.i..self.i + feet {
                let foot = self.tokens[i].word().and_then(words::foot);
                let place = self.place(i, i + 1);
                item.leads.extend(foot.map(|foot| (foot, place)));
            }
            self.i += feet;
            return true;
        }
        // Of `L     left` the letter is the foot, and the word says where to.
        let goes = |w: &str| words::foot(w).is_none() || word.len() > 1 || w.len() > 2;
        let last = self.word(1).is_none_or(goes);
        if !last || moving && word.len() == 1 && self.movements_ahead() > 1 {
            return false;
        }
        item.leads.push((foot, here));
        self.i += 1;
        let beside = |w: &str| is_foot_word(w) || matches!(&*bare(w), "start" | "first");
        while self.word(0).is_some_and(beside) {
            self.i += 1;
        }
        true
    }

    /// Whether a word behind a named step is the next step, with no sign between them.
    fn next_step_begins(&self, word: &str, item: &Item, moves: &Moves) -> bool {
        if !moves.is_empty() {
            return false;
        }
        // `Triple stomp stomp` is three steps; `Triple DS DS DS RS` is one.
        let named = matches!(item.body, Body::Known(_) | Body::Unknown);
        if named && !is_abbreviation(word) && self.movements_ahead() >= 2 {
            return !self.name_ends_at_a_gap(word);
        }
        let Body::Known(key) = &item.body else { return false };
        // `Stomp stomp clap`
        let of_one = self.is_of_one(key) && self.is_of_one(&name_key(word)) && word.len() > 3;
        let goes_on = self.word(1).is_none_or(|w| self.book.find(&name_key(w)).is_some());
        // `Basic basic triple`
        of_one && goes_on || self.only_names_follow()
    }

    /// `Triple Loop     DS DS LOOP S RS`: whether a word with a capital ends a name, and a gap parts it from movements.
    fn name_ends_at_a_gap(&self, word: &str) -> bool {
        const FEWEST: usize = 3;
        let (Some(here), Some(next)) = (self.tokens.get(self.i), self.tokens.get(self.i + 1))
        else {
            return false;
        };
        let mut letters = word.chars();
        let name =
            letters.next().is_some_and(char::is_uppercase) && letters.all(char::is_lowercase);
        name && next.at - here.end >= FEWEST && next.word().is_some_and(is_abbreviation)
    }

    /// Movements behind a name, or going on after a bracket; a word among movements that is meant as one.
    fn movements_behind(
        &mut self,
        word: &str,
        here: Place,
        item: &mut Item,
        moves: &mut Moves,
    ) -> bool {
        let moving = item.body == Body::Moves;
        let named = matches!(item.body, Body::Known(_) | Body::Unknown) && moves.is_empty();
        let least = if moving { 1 } else { 2 };
        let named = named && !self.name_ends_at_a_gap(word);
        if (moving || named) && self.movements_ahead() >= least {
            self.i += take_movements(&self.tokens[self.i..], moves).max(1);
            return true;
        }
        if !moving || !self.may_be_a_code(word) || is_style_word(&bare_word(word)) {
            return false;
        }
        let known = MOVEMENTS.iter().map(|m| m.code);
        let upper = word.to_uppercase();
        let near = nearest(&upper, known).map(str::to_string).or_else(|| near_code(&upper));
        self.out.faults.push((Fault::UnknownMovement { nearest: near }, here));
        self.i += 1;
        true
    }

    /// Words that are a note, or go on with the name. False where they begin another step.
    fn words_behind(&mut self, lower: &str, item: &mut Item) -> bool {
        let style = is_style_word(lower);
        // A mistyped step behind movements begins a new item, so that it is told.
        if item.body == Body::Moves && !style && self.mistyped_step() {
            return false;
        }
        if style || !matches!(item.body, Body::Known(_) | Body::Unknown | Body::Group) {
            self.note_to_next_piece(item);
            return true;
        }
        // Behind how often or a turn no name goes on.
        if item.body == Body::Unknown || self.name_is_over(item) {
            if item.body != Body::Unknown && self.mistyped_step() {
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

    /// Whether no name goes on here: behind brackets, `Basic x4 (8) front line moves up`, a turn or a foot; and a sentence
    /// is no name.
    fn name_is_over(&self, item: &Item) -> bool {
        const MOST_MORE: usize = 3;
        let ahead = self.words_ahead();
        let bracketed = matches!(self.tokens[self.i - 1].piece, Piece::Round(_) | Piece::Square(_));
        // `Goat x 4 box it`: something stands between.
        let joins = |w: &str| matches!(&*w.to_lowercase(), "and" | "then" | "&");
        let before = &self.tokens[self.i - 1];
        let apart = before.end > item.body_place.1 && !before.word().is_some_and(joins);
        bracketed
            || apart
            || item.turn != 0
            || item.turn_to.is_some()
            || item.wall.is_some()
            || !item.leads.is_empty()
            || ahead.len() > MOST_MORE && ahead.iter().all(|w| !w.starts_with(char::is_uppercase))
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

    pub(super) fn take_turn(&mut self, turn: words::Turn, place: Place, item: &mut Item) {
        if turn.undirected {
            self.out.faults.push((Fault::TurnWithoutSide, place));
        }
        item.turn = item.turn.saturating_add(turn.eighths);
        item.turn_each |= turn.each;
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
                    // `clap on the last count`, `kick on beat 4` is a note.
                    let ahead = next.words_ahead();
                    let behind = ahead.get(n).copied();
                    let on_a_count = behind.is_some_and(|w| w.eq_ignore_ascii_case("on"))
                        && ahead.get(n + 1).is_some_and(|w| {
                            matches!(&*w.to_lowercase(), "beat" | "count" | "beats" | "counts")
                        });
                    let more = |w: &str| times_word(w).is_none() && number(w).is_none();
                    if on_a_count || !numbered && key == "clap" && behind.is_some_and(more) {
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

    /// `Triple forward x 2`, `Walk forward 4`: how often the step is danced, behind nothing but the way it goes.
    fn times_behind_the_way(&self, from: usize, item: &Item) -> bool {
        let way = |i: usize| {
            let word = self.tokens[i].word().map(|w| w.to_lowercase());
            word.is_some_and(|w| is_style_word(&w) && !w.starts_with("clap"))
        };
        let crossed = |w: &str| w.len() > 1 && w.starts_with(['x', 'X', '×']);
        let x = |w: &str| matches!(w, "x" | "X" | "×");
        let steps = |w: &str| number(w).is_some_and(|n| self.is_eight_walks(n, item));
        let often = self.word(0).is_some_and(|w| {
            steps(w) && self.word(1).is_none()
                || crossed(w) && times_word(w).is_some()
                || x(w) && self.word(1).and_then(number).is_some()
        });
        often && (from..self.i).all(way)
    }

    pub(super) fn note_to_next_piece(&mut self, item: &mut Item) {
        let from = self.i;
        while self.word(0).is_some()
            && (self.i == from
                || words::turn(&self.words_ahead()).is_none()
                    && !self.leads_to_a_step()
                    && !self.asks_for_another()
                    && !self.times_behind_the_way(from, item))
        {
            self.i += 1;
        }
        let (at, end) = self.place(from, self.i);
        if let Some(note) = self.text.get(at..end) {
            item.notes.push(note.to_string());
        }
    }
}

/// A word in small letters without the sign that ends it; a sign alone stays.
fn bare_word(word: &str) -> String {
    word.trim_end_matches([':', '.', '!']).to_lowercase()
}
