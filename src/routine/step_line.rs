//! One line of steps cut into items: how often, which step or movements, counts, turns, feet, notes.

use super::book::Book;
use super::finding::Fault;
use super::glossary::name_key;
use super::heading::part_word;
use super::item::{Body, Exchange, Item, MOST_TIMES, Parsed, Place};
use super::model::StepUse;
use super::notation::{Moves, take_group, take_movements};
use super::phrases::{
    count_range, is_abbreviation, is_pause_sign, is_way_word, times_word, turn_to_wall, wall_claim,
};
use super::token::{Piece, Token, tokens};
use super::vocabulary::step_at;
use super::words::{self, is_bars_word, is_counts_word, length, number};

/// The step that a pivot is, by its key.
const PIVOT: &str = "pivot turn";

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
    feet_behind_commas(&mut out.items);
    numbers_behind_commas(&mut out.items);
    // Counts in front of several steps are those of all of them.
    let danced = |i: &&Item| !matches!(i.body, Body::Nothing | Body::Unknown);
    let known = out.items.iter().filter(danced).count();
    let unknown = out.items.iter().filter(|i| i.body == Body::Unknown).count();
    let several = known > 1 || known == 0 && unknown > 1;
    if several && let Some(first) = out.items.first_mut().filter(|i| i.stated_in_front) {
        first.stated_in_front = false;
    }
    out
}

/// `Cowboy, R (8)`: feet alone behind a step's comma are those that it starts on.
fn feet_behind_commas(items: &mut Vec<Item>) {
    let mut i = 1;
    while i < items.len() {
        let (before, here) = items.split_at_mut(i);
        let (step, feet) = (&mut before[i - 1], &mut here[0]);
        let alone = feet.body == Body::Nothing
            && feet.turn == 0
            && feet.wall.is_none()
            && !feet.leads.is_empty()
            && matches!(step.body, Body::Known(_))
            && (step.stated.is_none() || feet.stated.is_none());
        if !alone {
            i += 1;
            continue;
        }
        step.leads.append(&mut feet.leads);
        step.notes.append(&mut feet.notes);
        step.stated = step.stated.or(feet.stated);
        items.remove(i);
    }
}

/// `Basics, 4`: a number alone behind a step's comma is how often it is danced.
fn numbers_behind_commas(items: &mut Vec<Item>) {
    let mut i = 1;
    while i < items.len() {
        let nothing_else = items[i].turn == 0
            && items[i].wall.is_none()
            && items[i].stated.is_none_or(|_| items[i - 1].stated.is_none());
        let number_alone = match (&items[i].body, items[i].bare) {
            (Body::Nothing, Some(n)) => Some(n),
            (Body::Nothing, None) if items[i].times > 1 => Some(items[i].times),
            _ => None,
        };
        let number_alone = number_alone.filter(|_| nothing_else);
        let before = &items[i - 1];
        let open = matches!(before.body, Body::Known(_) | Body::Moves)
            && before.times == 1
            && before.bare.is_none();
        match number_alone.filter(|_| open) {
            Some(n) => {
                items[i - 1].times = n;
                items[i - 1].bare = Some(n).filter(|_| items[i].stated.is_none());
                items[i - 1].stated = items[i - 1].stated.or(items[i].stated);
                let notes = std::mem::take(&mut items[i].notes);
                items[i - 1].notes.extend(notes);
                items.remove(i);
            }
            None => i += 1,
        }
    }
}

pub(super) struct Reader<'t, 'a, 'o> {
    pub(super) text: &'a str,
    pub(super) tokens: &'t [Token<'a>],
    pub(super) i: usize,
    pub(super) book: &'t Book,
    pub(super) out: &'o mut Parsed,
    /// Items that stand in brackets behind another: `(repeat on other foot)`.
    pub(super) after: Vec<Item>,
}

impl<'a> Reader<'_, 'a, '_> {
    pub(super) fn word(&self, ahead: usize) -> Option<&'a str> {
        self.tokens.get(self.i + ahead).and_then(Token::word)
    }

    /// The words from here to the next piece that is none, 12 at most.
    pub(super) fn words_ahead(&self) -> Vec<&'a str> {
        self.tokens[self.i.min(self.tokens.len())..]
            .iter()
            .map_while(Token::word)
            .take(12)
            .collect()
    }

    pub(super) fn place(&self, from: usize, to: usize) -> Place {
        let start = self.tokens.get(from).map_or(self.text.len(), |t| t.at);
        let end = to.checked_sub(1).and_then(|t| self.tokens.get(t)).map_or(start, |t| t.end);
        (start, end.max(start))
    }

    fn item(&mut self) {
        let start = self.i;
        let mut item = Item { body: Body::Nothing, ..Item::of_moves((0, 0)) };
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
                        // `360 L` is a turn.
                        && (n < 45 || words::turn(&self.words_ahead()).is_none())
                    {
                        if self.word(1).is_some_and(is_counts_word) {
                            item.stated = Some((n, here));
                            item.stated_in_front = true;
                            self.i += 1;
                        } else if self.word(1).is_some_and(is_bars_word) {
                            let counts = n.saturating_mul(super::bars::USUAL);
                            item.stated = Some((counts, here));
                            item.stated_in_front = true;
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
                        "then"
                            | "and"
                            | "&"
                            | "do"
                            | "dance"
                            | "a"
                            | "an"
                            | "the"
                            | "of"
                            | "*"
                            | "start"
                            | "begin"
                            | "finish"
                            | "with"
                            | "another"
                            | "next"
                            | "now"
                            | "finally"
                            | "end"
                            | "ends"
                            | "stop"
                            | "w"
                            | "on"
                            | "followed"
                            | "by"
                    ) && self.tokens.len() > self.i + 1
                    {
                    } else if let Some(foot) = words::foot(word).filter(|_| self.foot_of_a_step()) {
                        item.leads.push((foot, here));
                    } else if word.eq_ignore_ascii_case("them") && !numbers.is_empty()
                        || self.is_verb(word)
                        || self.is_everyone(word)
                        || self.is_done(word)
                    {
                    } else {
                        break;
                    }
                }
                Piece::Round(inner) if self.names_follow() => {
                    match (number(inner.trim()), times_word(inner.trim())) {
                        (Some(n), _) if numbers.len() < 2 => numbers.push((n, here)),
                        (_, Some(n)) => item.times = n,
                        _ => break,
                    }
                }
                _ => break,
            }
            self.i += 1;
        }
        match numbers[..] {
            [(n, _)] => {
                item.times = n;
                item.bare = (!item.stated_in_front).then_some(n);
                item.stated_in_front = false;
            }
            // `8 2 Triple`: eight counts, twice.
            [(counts, place), (times, _), ..] => {
                item.stated = Some((counts, place));
                item.times = times;
            }
            [] => {}
        }
    }

    /// Whether what stands in front of a step is what the bracket here does: something other than a call follows.
    fn names_follow(&self) -> bool {
        let next = self.tokens.get(self.i + 1).map(|t| t.piece);
        next.is_some_and(|piece| !matches!(piece, Piece::Quote(_)))
    }

    /// `L   Rocking Chair`: a foot in front of a step's name.
    fn foot_of_a_step(&self) -> bool {
        let ahead = self.words_ahead();
        let counted = usize::from(
            ahead.get(1).is_some_and(|w| number(w).is_some() || times_word(w).is_some()),
        );
        let rest = &ahead[(1 + counted).min(ahead.len())..];
        let most = rest.len().min(4);
        (1..=most).any(|n| self.book.find(&name_key(&rest[..n].join(" "))).is_some())
    }

    /// `Step two Basics`, `Step a Triple`: the word says to dance, and is no step.
    fn is_verb(&self, word: &str) -> bool {
        let verb = matches!(
            word.to_lowercase().as_str(),
            "step" | "walk" | "go" | "add" | "perform" | "try"
        );
        let counted = |w: &str| {
            number(w).is_some() && !w.starts_with(|c: char| c.is_ascii_digit())
                || matches!(w.to_lowercase().as_str(), "a" | "an" | "into")
        };
        let ahead = self.words_ahead();
        verb && ahead.get(1).is_some_and(|w| counted(w))
            && step_at(&ahead[2.min(ahead.len())..]).is_some()
    }

    /// `All of Chorus 1`.
    fn all_of_a_part(&self) -> bool {
        let of = self.word(1).is_some_and(|w| w.eq_ignore_ascii_case("of"));
        of && self.word(2).is_some_and(|w| part_word(w).is_some())
    }

    /// `ALL stomp L R L`: who dances.
    fn is_everyone(&self, word: &str) -> bool {
        let all = ["all", "everyone", "everybody"].iter().any(|w| word.eq_ignore_ascii_case(w));
        all && step_at(&self.words_ahead()[1..]).is_some()
    }

    /// `Charleston, done twice`: the word only leads to how often.
    fn is_done(&self, word: &str) -> bool {
        let done = ["done", "danced", "all", "both"].iter().any(|w| word.eq_ignore_ascii_case(w));
        done && self.word(1).is_some_and(|w| times_word(w).is_some())
    }

    /// Feet alone up to the next sign, behind a named step.
    fn feet_of_the_step_before(&mut self, item: &mut Item) -> bool {
        let ahead = self.words_ahead();
        let named = self.out.items.last().is_some_and(|i| matches!(i.body, Body::Known(_)));
        let joins = |w: &str| matches!(w, "&" | "and" | "then" | "in" | "turn" | "alternating");
        let all = ahead.iter().all(|w| words::foot(w).is_some() || joins(w));
        let any = ahead.iter().any(|w| words::foot(w).is_some());
        if !named || !any || !all {
            return false;
        }
        for (n, word) in ahead.iter().enumerate() {
            let place = self.place(self.i + n, self.i + n + 1);
            item.leads.extend(words::foot(word).map(|foot| (foot, place)));
        }
        self.i += ahead.len();
        true
    }

    fn body(&mut self, item: &mut Item, moves: &mut Moves) {
        if self.feet_of_the_step_before(item) {
            return;
        }
        let Some(token) = self.tokens.get(self.i).copied() else { return };
        match token.piece {
            Piece::Square(inner) | Piece::Round(inner) => {
                if !is_pause_sign(inner) && take_group(inner, moves) {
                    item.body = Body::Moves;
                    self.i += 1;
                } else if let Some(steps) = self.group(token, inner) {
                    item.body = Body::Group;
                    item.instead = steps;
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
                    "repeat" | "rep" | "rpt" | "repeats" => self.repeat(item),
                    // Alone on its line it repeats all that stands above.
                    "again" if self.tokens.len() == 1 => {
                        self.i += 1;
                        item.body = Body::Repeat { all: true };
                    }
                    "all" if self.all_of_a_part() => {
                        self.i += 1;
                        self.same_as(item);
                    }
                    _ if self.repeat_in_words(item) => {}
                    "same" => self.same_as(item),
                    // `As before`, `as verse one, last 4: …`
                    "as" if self.word(1).is_some_and(is_part_or_before) => self.same_as(item),
                    _ => self.step(item, moves),
                }
            }
            _ => {}
        }
    }

    /// Steps in braces or square brackets; `None` where some of them are not known.
    fn group(&self, token: Token<'a>, inner: &str) -> Option<Vec<Item>> {
        let square = matches!(token.piece, Piece::Square(_));
        if !square || inner.contains(['{', '[']) {
            return None;
        }
        let from = token.at + 1;
        let within = self.text.get(..from + inner.len())?;
        let parsed = parse_step_line(within, from, self.book);
        let known = parsed.items.iter().any(|i| matches!(i.body, Body::Known(_) | Body::Moves));
        (known && parsed.faults.is_empty()).then_some(parsed.items)
    }

    fn pause(&mut self, item: &mut Item) {
        self.i += 1;
        item.body = Body::Pause;
        if self.word(0).is_some_and(|w| w.eq_ignore_ascii_case("for")) {
            self.i += 1;
        }
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
                // `repeat above` is the line before, or all where only that adds up.
                "above" | "opp" | "times" => {}
                // `Repeat 3 more times`
                _ if number(&lower).is_some()
                    && self
                        .word(1)
                        .is_some_and(|w| matches!(w.to_lowercase().as_str(), "more" | "times")) =>
                {
                    item.times = number(&lower).unwrap_or(1);
                    all |= self.word(1).is_some_and(|w| w.eq_ignore_ascii_case("more"));
                }
                _ if count_range(&lower).is_some_and(|_| lower.starts_with("1-")) => all = true,
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

    /// Whether a word behind `repeat` names a part: its usual word, or a letter that is no foot.
    fn names_a_part(&self, word: &str) -> bool {
        let letter = word.len() == 1 && word.starts_with(|c: char| c.is_ascii_uppercase());
        part_word(word).is_some() || letter && words::foot(word).is_none()
    }

    /// `same as A2`, `same as A2 but last 4: Chain`, `same as A on the other foot`.
    fn same_as(&mut self, item: &mut Item) {
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
                "but"
                    | "except"
                    | "with"
                    | "on"
                    | "other"
                    | "opposite"
                    | "starting"
                    | "only"
                    | "last"
            )
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
                        "foot" | "feet" | "footwork" | "lead" | "side" => {
                            if item.leads.is_empty() {
                                item.other_foot = Some(self.place(start, self.i + 1));
                            }
                        }
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
                        "but" | "except" | "with" | "on" | "the" | "other" | "opposite" | "for"
                        | "starting" | "only" | "change" | "opp" | "ending" => {}
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

    /// A step by its name, or movements written out: whichever reads more words.
    fn step(&mut self, item: &mut Item, moves: &mut Moves) {
        if self.says_where_it_falls() {
            let (at, end) = self.place(self.i, self.i + self.words_ahead().len());
            item.notes.extend(self.text.get(at..end).map(str::to_string));
            self.i += self.words_ahead().len();
            return;
        }
        // Behind counts a pivot is a step as well as a turn, `17-20 Pivot 1/4 L, Pivot 1/4 L`.
        let pivots = self.word(0).is_some_and(|w| w.eq_ignore_ascii_case("pivot"))
            && words::turn(&self.words_ahead()).is_some();
        let counted = self.out.items.first().map_or(item.stated, |first| first.stated).is_some();
        let only = |i: &Item| matches!(&i.body, Body::Known(key) if key == PIVOT);
        if pivots && counted && self.out.items.iter().all(only) {
            item.body = Body::Known(PIVOT.to_string());
            self.i += 1;
            return;
        }
        let rest = &self.tokens[self.i..];
        let mut run = Moves::default();
        let used = take_movements(rest, &mut run);
        let run_words = rest[..used].iter().filter(|t| t.word().is_some()).count();
        let name_words = self.known_name();
        // `Slur brush R` is the step on the right foot, though R is a rock as well.
        let with_foot = name_words.as_ref().is_some_and(|(n, _)| {
            run_words == n + 1 && self.word(*n).and_then(words::foot).is_some()
        });
        // `Stomp stomp clap`: three steps, each by its name.
        let each_a_step = rest[..used].iter().all(|t| {
            t.word().is_some_and(|w| w.len() > 3 && self.book.find(&name_key(w)).is_some())
        });
        if run_words > name_words.as_ref().map_or(0, |(n, _)| *n) && !with_foot && !each_a_step {
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
        let ahead = self.words_ahead();
        if words::turn(&ahead).is_some()
            || wall_claim(&ahead).is_some()
            || turn_to_wall(&ahead).is_some()
        {
            return;
        }
        // `Basics, circle left`: how the step before it goes.
        let way = self.word(0).is_some_and(|w| is_way_word(&w.to_lowercase()));
        if way && !self.out.items.is_empty() {
            let from = self.i;
            while self.word(0).is_some()
                && (self.i == from || words::turn(&self.words_ahead()).is_none())
            {
                self.i += 1;
            }
            let (at, end) = self.place(from, self.i);
            item.notes.extend(self.text.get(at..end).map(str::to_string));
            return;
        }
        self.unknown_name(item);
    }

    /// `Chug on the beat`, behind other steps: where a movement of theirs falls.
    fn says_where_it_falls(&self) -> bool {
        let ahead = self.words_ahead();
        let said = |i: usize, words: &[&str]| {
            ahead.get(i).is_some_and(|a| words.iter().any(|w| a.eq_ignore_ascii_case(w)))
        };
        !self.out.items.is_empty()
            && said(1, &["on"])
            && said(2, &["the", "every", "each"])
            && said(ahead.len() - 1, &["beat", "count", "upbeat", "downbeat"])
    }

    /// How many words from here on name a step of the book, and its key; the longest name wins.
    pub(super) fn known_name(&self) -> Option<(usize, String)> {
        let ahead = self.words_ahead();
        for n in (1..=ahead.len().min(6)).rev() {
            if ahead[..n].iter().map(|w| w.len()).sum::<usize>() > 120 {
                continue;
            }
            let name = ahead[..n].join(" ");
            let name = name.trim_end_matches([':', '.', '!', '=']);
            let key = name_key(name);
            // `Cowboy (Texas)` is a name of its own where a file of steps has it.
            if let Some(Piece::Round(inner)) = self.tokens.get(self.i + n).map(|t| t.piece) {
                let way = format!("{key} ({})", words::key(inner));
                if self.book.find(&way).is_some() {
                    return Some((n + 1, way));
                }
            }
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

    pub(super) fn unknown_name(&mut self, item: &mut Item) {
        let from = self.i;
        while let Some(word) = self.word(0) {
            // `Clogovre vine left`: the foot is no word of the name.
            let foot_behind = words::foot(word).is_some()
                && self.word(1).is_none_or(|w| words::foot(w).is_some());
            let stops = self.i > from
                && (times_word(word).is_some()
                    || foot_behind
                    || (word.eq_ignore_ascii_case("x") && self.word(1).and_then(number).is_some())
                    || self.word(0).is_some_and(|w| matches!(w.to_lowercase().as_str(), "then"))
                    || words::turn(&self.words_ahead()).is_some()
                    || (is_abbreviation(word) && self.movements_ahead() >= 2));
            if stops {
                break;
            }
            self.i += 1;
            if word.ends_with(':') {
                break;
            }
        }
        item.body = Body::Unknown;
    }

    /// How many movements follow from here.
    pub(super) fn movements_ahead(&self) -> usize {
        let mut run = Moves::default();
        take_movements(&self.tokens[self.i.min(self.tokens.len())..], &mut run);
        run.moves.len()
    }
}

/// Whether a word behind `as` says what it is the same as.
fn is_part_or_before(word: &str) -> bool {
    let lower = word.trim_end_matches(['.', ':', ',', '!']).to_lowercase();
    matches!(lower.as_str(), "before" | "above" | "first") || part_word(&lower).is_some()
}
