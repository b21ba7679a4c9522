//! One line of steps cut into items: how often, which step or movements, counts, turns, feet, notes.

use crate::units::{Foot, Wall};

use super::book::Book;
use super::finding::Fault;
use super::glossary::name_key;
use super::model::StepUse;
use super::notation::{Moves, take_movements};
use super::token::{Piece, Token, tokens};
use super::words::{self, is_counts_word, length, nearest, number};

/// The most times that a step is danced in one go.
pub const MOST_TIMES: u32 = 200;
/// The longest pause, in counts.
pub const MOST_PAUSE: u32 = 1000;

/// A place in the line, in bytes.
pub type Place = (usize, usize);

/// What an item says to dance.
#[derive(Debug, Clone, PartialEq)]
pub enum Body {
    /// A step of the book, by its key.
    Known(String),
    /// Movements written out.
    Moves,
    /// A name that is in no book.
    Unknown,
    /// Nobody moves.
    Pause,
    /// What came before, once more.
    Repeat {
        /// All of the part, not only the line before.
        all: bool,
    },
    /// All the steps of another part.
    SameAs(String),
    /// Nothing: only a turn, a wall or a note.
    Nothing,
}

/// One thing danced on a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Where it stands.
    pub place: Place,
    /// Where its name or movements stand.
    pub body_place: Place,
    /// What it is.
    pub body: Body,
    /// Movements written out: its own for [`Body::Moves`], those behind a name else.
    pub moves: Option<StepUse>,
    /// How often.
    pub times: u32,
    /// A number in front that could be counts as well as times.
    pub bare: Option<u32>,
    /// Counts stated for all of it.
    pub stated: Option<(u32, Place)>,
    /// Whether the stated counts are those of one time.
    pub stated_each: bool,
    /// Quarter turns, right positive.
    pub turn: i32,
    /// Whether it turns each time.
    pub turn_each: bool,
    /// Feet that it is said to start on, time after time.
    pub leads: Vec<(Foot, Place)>,
    /// Whether it is said to start on the other foot.
    pub other_foot: Option<Place>,
    /// The wall said to be faced after it.
    pub wall: Option<(Wall, Place)>,
    /// Calls and notes.
    pub notes: Vec<String>,
}

/// A line cut into items.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Parsed {
    /// The items in order.
    pub items: Vec<Item>,
    /// What is wrong with it, and where.
    pub faults: Vec<(Fault, Place)>,
}

impl Parsed {
    /// Whether every item is understood.
    pub fn is_known(&self) -> bool {
        !self.items.is_empty()
            && self.items.iter().all(|i| i.body != Body::Unknown)
            && self.items.iter().any(|i| i.body != Body::Nothing)
    }
}

/// Cuts `text` from byte `from` on into items.
pub fn parse_step_line(text: &str, from: usize, book: &Book) -> Parsed {
    let (tokens, open) = tokens(text.get(from..).unwrap_or(""), from);
    let mut out = Parsed::default();
    if let Some(at) = open {
        out.faults.push((Fault::NotClosed, (at, at + 1)));
    }
    let mut i = 0;
    while i < tokens.len() {
        if matches!(tokens[i].piece, Piece::Separator | Piece::Dash) {
            i += 1;
            continue;
        }
        let mut reader =
            Reader { text, tokens: &tokens, i, book, out: &mut out, after: Vec::new() };
        reader.item();
        // Every item takes one token at least, so this ends.
        i = reader.i.max(i + 1);
    }
    out
}

struct Reader<'t, 'a, 'o> {
    text: &'a str,
    tokens: &'t [Token<'a>],
    i: usize,
    book: &'t Book,
    out: &'o mut Parsed,
    /// Items that stand in brackets behind another: `(repeat on other foot)`.
    after: Vec<Item>,
}

impl<'a> Reader<'_, 'a, '_> {
    fn word(&self, ahead: usize) -> Option<&'a str> {
        self.tokens.get(self.i + ahead).and_then(Token::word)
    }

    /// The words from here to the next piece that is none, 12 at most.
    fn words_ahead(&self) -> Vec<&'a str> {
        self.tokens[self.i.min(self.tokens.len())..]
            .iter()
            .map_while(Token::word)
            .take(12)
            .collect()
    }

    fn place(&self, from: usize, to: usize) -> Place {
        let start = self.tokens.get(from).map_or(self.text.len(), |t| t.at);
        let end = to.checked_sub(1).and_then(|t| self.tokens.get(t)).map_or(start, |t| t.end);
        (start, end.max(start))
    }

    fn item(&mut self) {
        let start = self.i;
        let mut item = Item {
            place: (0, 0),
            body_place: (0, 0),
            body: Body::Nothing,
            moves: None,
            times: 1,
            bare: None,
            stated: None,
            stated_each: false,
            turn: 0,
            turn_each: false,
            leads: Vec::new(),
            other_foot: None,
            wall: None,
            notes: Vec::new(),
        };
        self.numbers_in_front(&mut item);
        let mut moves = Moves::default();
        let body_from = self.i;
        self.body(&mut item, &mut moves);
        item.body_place = self.place(body_from, self.i);
        self.modifiers(&mut item, &mut moves);
        if !moves.is_empty() {
            let counts = moves.lay_out();
            let step = StepUse::from_moves("", moves.moves, counts);
            item.moves = Some(StepUse { name: step.movements.clone(), ..step });
        }
        item.place = self.place(start, self.i);
        if item.times > MOST_TIMES {
            self.out.faults.push((Fault::TooMany { most: MOST_TIMES }, item.place));
            item.times = 1;
        }
        self.out.items.push(item);
        self.out.items.append(&mut self.after);
    }

    /// `2`, `8 2`, `2x`, `(2)`, `1-4`, `twice`, `8 counts`.
    fn numbers_in_front(&mut self, item: &mut Item) {
        let mut numbers: Vec<(u32, Place)> = Vec::new();
        while let Some(token) = self.tokens.get(self.i).copied() {
            let here = (token.at, token.end);
            match token.piece {
                Piece::Word(raw) => {
                    let word = raw.trim_end_matches([':', '.']);
                    // `1.` numbers a list; it is no number of times.
                    if raw.ends_with('.') && number(word).is_some() {
                        self.i += 1;
                        continue;
                    }
                    if let Some(times) = times_word(word) {
                        item.times = times;
                    } else if let Some(counts) = count_range(word) {
                        item.stated = Some((counts, here));
                    } else if let Some(n) = number(word)
                        && numbers.len() < 2
                    {
                        if self.word(1).is_some_and(is_counts_word) {
                            item.stated = Some((n, here));
                            self.i += 1;
                        } else if self
                            .word(1)
                            .is_some_and(|w| matches!(w.to_lowercase().as_str(), "x" | "times"))
                        {
                            item.times = n;
                            self.i += 1;
                        } else {
                            numbers.push((n, here));
                        }
                    } else if matches!(
                        word.to_lowercase().as_str(),
                        "then" | "and" | "&" | "do" | "dance" | "a" | "an" | "the" | "of" | "*"
                    ) && self.tokens.len() > self.i + 1
                    {
                    } else {
                        break;
                    }
                }
                Piece::Round(inner) if self.i + 1 < self.tokens.len() => {
                    match number(inner.trim()).or_else(|| times_word(inner.trim())) {
                        Some(n) => item.times = n,
                        None => break,
                    }
                }
                _ => break,
            }
            self.i += 1;
        }
        match numbers[..] {
            [(n, _)] => {
                item.times = n;
                item.bare = Some(n);
            }
            // `8 2 Triple`: eight counts, twice.
            [(counts, place), (times, _), ..] => {
                item.stated = Some((counts, place));
                item.times = times;
            }
            [] => {}
        }
    }

    fn body(&mut self, item: &mut Item, moves: &mut Moves) {
        let Some(token) = self.tokens.get(self.i).copied() else { return };
        match token.piece {
            Piece::Square(inner) | Piece::Round(inner) => {
                let (inside, _) = tokens(inner, 0);
                let mut within = Moves::default();
                let whole = take_movements(&inside, &mut within) == inside.len();
                if whole && !within.is_empty() && !is_pause_sign(inner) {
                    *moves = within;
                    item.body = Body::Moves;
                    self.i += 1;
                } else if is_pause_sign(inner) {
                    self.i += take_movements(&self.tokens[self.i..], moves);
                    item.body = Body::Moves;
                }
            }
            Piece::Word(word) => {
                let lower = word.trim_end_matches([':', '.']).to_lowercase();
                match lower.as_str() {
                    "pause" | "hold" | "holds" | "rest" | "freeze" | "wait" | "pauses" => {
                        self.pause(item)
                    }
                    "repeat" | "rep" | "repeats" => self.repeat(item),
                    "same" => self.same_as(item),
                    _ => self.step(item, moves),
                }
            }
            _ => {}
        }
    }

    fn pause(&mut self, item: &mut Item) {
        self.i += 1;
        item.body = Body::Pause;
        if let Some((counts, used)) = length(&self.words_ahead()) {
            item.stated = Some((counts, self.place(self.i, self.i + used)));
            self.i += used;
        } else if let Some(n) = item.bare.take() {
            item.stated = Some((n, item.place));
        }
        item.times = 1;
        item.bare = None;
    }

    fn repeat(&mut self, item: &mut Item) {
        let from = self.i;
        self.i += 1;
        let mut all = false;
        while let Some(word) = self.word(0) {
            let lower = word.to_lowercase();
            match lower.as_str() {
                "all" | "above" | "top" | "everything" | "whole" | "part" | "sequence" => {
                    all = true
                }
                "other" | "opposite" => {}
                "foot" | "footwork" | "feet" | "side" if item.leads.is_empty() => {
                    item.other_foot = Some(self.place(from, self.i + 1));
                }
                _ if words::foot(word).is_some() => {
                    if let Some(foot) = words::foot(word) {
                        item.leads.push((foot, self.place(self.i, self.i + 1)));
                    }
                }
                "on" | "with" | "the" | "from" | "of" | "this" | "once" | "more" | "again"
                | "to" | "foot" | "side" | "lead" | "line" | "that" | "step" | "steps" | "it"
                | "using" | "starting" => {}
                _ => break,
            }
            self.i += 1;
        }
        item.body = Body::Repeat { all };
    }

    fn same_as(&mut self, item: &mut Item) {
        let skip = usize::from(self.word(1).is_some_and(|w| w.eq_ignore_ascii_case("as")));
        self.i += 1 + skip;
        let from = self.i;
        while self.word(0).is_some_and(|w| !w.eq_ignore_ascii_case("but")) {
            self.i += 1;
        }
        let (at, end) = self.place(from, self.i);
        item.body = Body::SameAs(self.text.get(at..end).unwrap_or("").to_string());
    }

    /// A step by its name, or movements written out: whichever reads more words.
    fn step(&mut self, item: &mut Item, moves: &mut Moves) {
        let rest = &self.tokens[self.i..];
        let mut run = Moves::default();
        let used = take_movements(rest, &mut run);
        let run_words = rest[..used].iter().filter(|t| t.word().is_some()).count();
        let name_words = self.known_name();
        if run_words > name_words.as_ref().map_or(0, |(n, _)| *n) {
            *moves = run;
            item.body = Body::Moves;
            self.i += used;
            return;
        }
        if let Some((words, key)) = name_words {
            // A name goes on as far as plain words go: `Triple Lantern` is not `Triple`.
            item.body = Body::Known(key);
            self.i += words;
            return;
        }
        if words::turn(&self.words_ahead()).is_some() || wall_claim(&self.words_ahead()).is_some() {
            return;
        }
        self.unknown_name(item);
    }

    /// How many words from here on name a step of the book, and its key; the longest name wins.
    fn known_name(&self) -> Option<(usize, String)> {
        let ahead = self.words_ahead();
        for n in (1..=ahead.len().min(6)).rev() {
            if ahead[..n].iter().map(|w| w.len()).sum::<usize>() > 120 {
                continue;
            }
            let name = ahead[..n].join(" ");
            let name = name.trim_end_matches([':', '.', '!', '=']);
            let key = name_key(name);
            if self.book.find(&key).is_some() {
                return Some((n, key));
            }
            // `Triple steps` is `Triple`; the word alone adds nothing.
            if let Some(shorter) = key.strip_suffix(" step")
                && n > 1
                && self.book.find(shorter).is_some()
            {
                return Some((n, shorter.to_string()));
            }
        }
        None
    }

    fn unknown_name(&mut self, item: &mut Item) {
        let from = self.i;
        while let Some(word) = self.word(0) {
            let stops = self.i > from
                && (times_word(word).is_some()
                    || (word.eq_ignore_ascii_case("x") && self.word(1).and_then(number).is_some())
                    || self.word(0).is_some_and(|w| matches!(w.to_lowercase().as_str(), "then"))
                    || words::turn(&self.words_ahead()).is_some()
                    || self.movements_ahead() >= 2);
            if stops {
                break;
            }
            self.i += 1;
            if word.ends_with(':') {
                break;
            }
        }
        item.body = Body::Unknown;
        let _ = from;
    }

    /// How many movements follow from here.
    fn movements_ahead(&self) -> usize {
        let mut run = Moves::default();
        take_movements(&self.tokens[self.i.min(self.tokens.len())..], &mut run);
        run.moves.len()
    }

    fn modifiers(&mut self, item: &mut Item, moves: &mut Moves) {
        while let Some(token) = self.tokens.get(self.i).copied() {
            let here = (token.at, token.end);
            match token.piece {
                Piece::Separator => return,
                Piece::Dash => {
                    self.i += 1;
                    if self.step_follows() {
                        self.i -= 1;
                        return;
                    }
                    let ahead = self.words_ahead();
                    let goes_on = words::turn(&ahead).is_some()
                        || wall_claim(&ahead).is_some()
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
                    let (inside, _) = tokens(inner, 0);
                    let mut within = Moves::default();
                    let whole = take_movements(&inside, &mut within) == inside.len();
                    if whole && moves.is_empty() && !within.is_empty() {
                        *moves = within;
                    } else {
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
        if matches!(lower.as_str(), "then" | "and" | "&") {
            self.i += 1;
            if self.step_follows() {
                return false;
            }
            return true;
        }
        if let Some(times) = times_word(word) {
            item.times = times;
            item.bare = None;
            self.i += 1;
            return true;
        }
        if lower == "x"
            && let Some(n) = self.word(1).and_then(number)
        {
            item.times = n;
            item.bare = None;
            self.i += 2;
            return true;
        }
        if let Some((turn, used)) = words::turn(&ahead) {
            self.take_turn(turn, self.place(self.i, self.i + used), item);
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
                item.times = n;
                item.bare = None;
                self.i += 2;
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
        if let Some(foot) = words::foot(word)
            && self.word(1).is_none_or(|w| !words::foot(w).is_some() || word.len() > 1)
            && !(item.body == Body::Moves && word.len() == 1 && self.movements_ahead() > 1)
        {
            item.leads.push((foot, here));
            self.i += 1;
            while self.word(0).is_some_and(|w| {
                matches!(
                    w.trim_end_matches('.').to_lowercase().as_str(),
                    "foot" | "lead" | "start" | "first" | "ft"
                )
            }) {
                self.i += 1;
            }
            return true;
        }
        // Movements behind a name, or going on after a bracket.
        let least = if item.body == Body::Moves { 1 } else { 2 };
        let named = matches!(item.body, Body::Known(_) | Body::Unknown) && moves.is_empty();
        if (item.body == Body::Moves || named) && self.movements_ahead() >= least {
            self.i += take_movements(&self.tokens[self.i..], moves).max(1);
            return true;
        }
        if item.body == Body::Moves && is_code_like(word) && !is_style_word(&lower) {
            let known = super::movement::MOVEMENTS.iter().map(|m| m.code);
            let upper = word.to_uppercase();
            let near = nearest(&upper, known).map(str::to_string).or_else(|| near_code(&upper));
            self.out.faults.push((Fault::UnknownMovement { nearest: near }, here));
            self.i += 1;
            return true;
        }
        let plain_note = is_style_word(&lower)
            || matches!(item.body, Body::Moves | Body::Repeat { .. } | Body::SameAs(_));
        if plain_note || item.body == Body::Nothing || item.body == Body::Pause {
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

    fn take_turn(&mut self, turn: words::Turn, place: Place, item: &mut Item) {
        if turn.undirected {
            self.out.faults.push((Fault::TurnWithoutSide, place));
        }
        item.turn += turn.quarters;
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
            .is_some_and(|w| matches!(w.to_lowercase().as_str(), "repeat" | "rep"))
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
        let times = match inner_words[..] {
            [one] => times_word(one),
            [n, x] if matches!(x.to_lowercase().as_str(), "times" | "x") => number(n),
            [x, n] if x.eq_ignore_ascii_case("x") => number(n),
            _ => None,
        };
        if let Some(times) = times {
            item.times = times;
            item.bare = None;
            return;
        }
        let feet: Vec<Foot> = inner_words.iter().filter_map(|w| words::foot(w)).collect();
        let feet_only = inner_words.iter().all(|w| {
            words::foot(w).is_some()
                || matches!(
                    w.to_lowercase().as_str(),
                    "&" | "and" | "foot" | "lead" | "start" | "starts" | "on" | "then"
                )
        });
        if !feet.is_empty() && feet_only {
            item.leads.extend(feet.into_iter().map(|f| (f, here)));
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
                if matches!(word.as_str(), "1/8" | "⅛" | "1/8l" | "1/8r" | "3/8" | "45°" | "45")
                {
                    self.out.faults.push((Fault::TurnNotQuarters, here));
                }
                i += 1;
            }
        }
        if !turned {
            if item.body == Body::Moves && !moves.is_empty() && inner.len() <= 12 {
                moves.tag(inner);
            }
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
                let named = next.known_name().is_some_and(|(n, _)| {
                    // What comes behind the name must be no other word of a sentence.
                    numbered
                        || next.words_ahead().get(n).is_none_or(|w| {
                            times_word(w).is_some() || is_style_word(&w.to_lowercase())
                        })
                });
                let moving =
                    next.movements_ahead() >= 2 || (numbered && next.movements_ahead() >= 1);
                let other = next.word(0).is_some_and(|w| {
                    matches!(w.to_lowercase().as_str(), "pause" | "hold" | "repeat" | "rest")
                });
                named || moving || other
            }
            Piece::Square(_) => true,
            _ => false,
        }
    }

    fn note_to_the_end(&mut self, item: &mut Item) {
        let (at, end) = self.place(self.i, self.tokens.len());
        if let Some(note) = self.text.get(at..end) {
            item.notes.push(note.trim().trim_matches('"').to_string());
        }
        self.i = self.tokens.len();
    }

    fn note_to_next_piece(&mut self, item: &mut Item) {
        let from = self.i;
        while self.word(0).is_some()
            && (self.i == from || words::turn(&self.words_ahead()).is_none())
        {
            self.i += 1;
        }
        let (at, end) = self.place(from, self.i);
        if let Some(note) = self.text.get(at..end) {
            item.notes.push(note.to_string());
        }
    }
}

fn is_pause_sign(inner: &str) -> bool {
    inner.trim().eq_ignore_ascii_case("p")
}

/// `x4`, `4x`, `twice`.
pub fn times_word(word: &str) -> Option<u32> {
    let lower = word.trim_end_matches([':', '.']).to_lowercase();
    match lower.as_str() {
        "once" => return Some(1),
        "twice" => return Some(2),
        "thrice" => return Some(3),
        _ => {}
    }
    let digits = lower.strip_prefix('x').or_else(|| lower.strip_suffix('x'))?;
    number(digits).filter(|_| digits.bytes().all(|b| b.is_ascii_digit()))
}

/// `1-4` and `5-8`, as line dance sheets number their counts: how many counts that is.
fn count_range(word: &str) -> Option<u32> {
    let (from, to) = word.split_once('-')?;
    let (from, to) = (number(from)?, number(to)?);
    (from > 0 && to >= from && to - from < MOST_PAUSE).then(|| to - from + 1)
}

/// The wall that the words say is faced: `facing back`, `face the front wall`, `6:00`, `6 o'clock`. Gives
/// it and how many words were used.
pub fn wall_claim(words: &[&str]) -> Option<(Wall, usize)> {
    let lower: Vec<String> = words
        .iter()
        .take(6)
        .map(|w| w.trim_matches(|c: char| matches!(c, '.' | ',' | '!' | '(' | ')')).to_lowercase())
        .collect();
    let mut i = 0;
    let mut facing = false;
    while let Some(word) = lower.get(i) {
        match word.as_str() {
            "face" | "facing" | "faces" | "ends" | "end" => facing = true,
            "to" | "the" | "at" | "on" if facing => {}
            _ => break,
        }
        i += 1;
    }
    let name = lower.get(i)?;
    let clock = match name.as_str() {
        "12:00" | "12" => Some(Wall::Front),
        "3:00" | "3" => Some(Wall::Right),
        "6:00" | "6" => Some(Wall::Back),
        "9:00" | "9" => Some(Wall::Left),
        _ => None,
    };
    let next = lower.get(i + 1).map(String::as_str);
    if let Some(wall) = clock {
        let oclock = next.is_some_and(|w| matches!(w, "o'clock" | "oclock"));
        return (name.contains(':') || oclock).then_some((wall, i + 1 + usize::from(oclock)));
    }
    let wall = match name.as_str() {
        "front" | "forward" => Wall::Front,
        "back" | "rear" => Wall::Back,
        "right" => Wall::Right,
        "left" => Wall::Left,
        _ => return None,
    };
    let said = next == Some("wall");
    (said || (facing && next != Some("foot"))).then_some((wall, i + 1 + usize::from(said)))
}

/// A word such as cue sheets put behind a step to say how or where it goes.
fn is_style_word(lower: &str) -> bool {
    const WORDS: &[&str] = &[
        "forward",
        "fwd",
        "forwards",
        "backward",
        "backwards",
        "back",
        "bkwd",
        "moving",
        "move",
        "travel",
        "traveling",
        "travelling",
        "to",
        "in",
        "on",
        "at",
        "with",
        "while",
        "around",
        "across",
        "circle",
        "circling",
        "turning",
        "turn",
        "spin",
        "rolling",
        "facing",
        "face",
        "from",
        "toward",
        "towards",
        "up",
        "down",
        "out",
        "side",
        "sideways",
        "together",
        "partner",
        "partners",
        "hands",
        "arms",
        "clap",
        "clapping",
        "lines",
        "line",
        "left",
        "right",
        "starting",
        "start",
        "beginning",
        "using",
        "for",
        "step",
        "steps",
        "lead",
        "leading",
        "alternating",
        "alternate",
        "as",
        "over",
        "away",
        "into",
        "keep",
        "use",
        "like",
        "ends",
        "end",
        "no",
        "not",
        "shout",
        "yell",
        "smile",
        "your",
        "style",
        "diagonal",
        "diagonally",
        "place",
        "slowly",
        "fast",
        "or",
    ];
    WORDS.contains(&lower)
}

/// Whether a word among movements is meant as one: letters only, three at most.
fn is_code_like(word: &str) -> bool {
    let length = word.chars().count();
    (1..=3).contains(&length) && word.chars().all(char::is_alphabetic)
}

/// The two-letter movement that shares a first letter with a mistyped one.
fn near_code(upper: &str) -> Option<String> {
    let first = upper.chars().next()?;
    super::movement::MOVEMENTS
        .iter()
        .map(|m| m.code)
        .find(|c| c.starts_with(first) && c.len() == upper.len())
        .map(str::to_string)
}
