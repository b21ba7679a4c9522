//! One line of steps cut into items: how often, which step or movements, counts, turns, feet, notes.

use super::book::Book;
use super::finding::Fault;
use super::glossary::name_key;
use super::heading::part_word;
use super::item::{Body, Item, MOST_TIMES, Parsed, Place};
use super::model::StepUse;
use super::notation::{Moves, feet_beside, take_group, take_movements};
use super::phrases::{
    count_range, is_abbreviation, is_pause_sign, is_repeat_word, is_style_word, is_way_word,
    times_word, turn_to_wall, wall_claim,
};
use super::step_words::{
    counts_behind_commas, counts_of_a_repeat, feet_behind_commas, feet_of_each,
    numbers_behind_commas, times_behind_turns, turns_of_each,
};
use super::token::{Piece, Token, tokens};
use super::vocabulary::step_at;
use super::words::{self, bare, is_bars_word, is_counts_word, is_foot_word, length, number};

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
    counts_of_a_repeat(&mut out.items);
    counts_behind_commas(&mut out.items);
    times_behind_turns(&mut out.items);
    numbers_behind_commas(&mut out.items);
    feet_behind_commas(&mut out.items);
    turns_of_each(&mut out.items);
    feet_of_each(&mut out.items);
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

/// Whether blanks set what follows in a column of its own.
fn is_gap(blanks: &str) -> bool {
    blanks.len() > 2
}

/// Nothing is repeated so often: a number in front of it is its counts.
const FEWEST_AGAIN: u32 = 8;

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
        if self.foot_of_the_next_time() {
            return;
        }
        let start = self.i;
        let mut item = Item { body: Body::Nothing, ..Item::of_moves((0, 0)) };
        self.numbers_in_front(&mut item);
        let mut moves = Moves::default();
        let body_from = self.i;
        let numeral = self.word(0).is_some_and(|word| self.is_a_name(word));
        if numeral {
            item.body = Body::Unknown;
            self.i += 1;
        } else {
            self.body(&mut item, &mut moves);
        }
        item.body_place = self.place(body_from, self.i);
        if numeral && self.word(0).is_some() {
            // Where it goes.
            self.note_to_next_piece(&mut item);
        }
        self.modifiers(&mut item, &mut moves);
        if !moves.is_empty() {
            if item.body == Body::Moves {
                self.foot_behind_movements(&mut item, &mut moves, body_from);
            }
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

    /// Whether pieces are movements, all of them, and take as long as a step.
    fn spells_out_the_step(&self, key: &str, pieces: &[Token<'a>]) -> bool {
        let mut moves = Moves::default();
        let all = take_movements(pieces, &mut moves) == pieces.len();
        // `Stomp STO`; `Stomp Stomp` are two.
        let code = pieces[0].word().is_some_and(|w| w.len() > 1 && is_abbreviation(w));
        all && (moves.moves.len() > 1 || code)
            && self.book.find(key).is_some_and(|step| step.counts == moves.lay_out())
    }

    /// `2 Triples L foot, R foot`: the second foot is that of the second time, what stands behind it the step's.
    fn foot_of_the_next_time(&mut self) -> bool {
        let ahead = self.words_ahead();
        let [foot, word] = ahead[..] else { return false };
        let led = |item: &mut Item| matches!(item.body, Body::Known(_)) && !item.leads.is_empty();
        if !is_foot_word(word) || words::foot(foot).is_none() {
            return false;
        }
        let Some(mut item) = self.out.items.pop_if(led) else { return false };
        self.i += 2;
        self.modifiers(&mut item, &mut Moves::default());
        self.out.items.push(item);
        true
    }

    /// `2`, `8 2`, `2x`, `(2)`, `1-4`, `twice`, `8 counts`.
    fn numbers_in_front(&mut self, item: &mut Item) {
        let mut numbers: Vec<(u32, Place)> = Vec::new();
        while let Some(token) = self.tokens.get(self.i).copied() {
            let here = (token.at, token.end);
            match token.piece {
                Piece::Word(raw) => {
                    let word = raw.trim_end_matches([':', '.']);
                    // `ends at the front` is a wall.
                    if wall_claim(&self.words_ahead()).is_some() {
                        break;
                    }
                    // `1.` numbers a list; it is no number of times.
                    if raw.ends_with('.') && number(word).is_some() {
                        self.i += 1;
                        continue;
                    }
                    if let Some(times) = times_word(word) {
                        item.times = times;
                    } else if let Some(counts) = count_range(word) {
                        item.stated = Some((counts, here));
                    } else if self.is_a_name(word) {
                        break;
                    } else if let Some(n) = number(word)
                        && numbers.len() < 2
                        // `360 L` is a turn.
                        && (n < 45 || words::turn(&self.words_ahead()).is_none())
                    {
                        if self.word(1).is_some_and(is_counts_word) {
                            item.stated = Some((n, here));
                            item.stated_in_front = true;
                            self.i += 1;
                            // `8 cts - 2 Triples`
                            let dash = self.dash_ahead() && self.word(2).is_some();
                            self.i += usize::from(dash && numbers.is_empty());
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
                            // `2 - Slur Basics`
                            self.i += usize::from(self.dash_before_a_name());
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
                            | "first"
                            | "by"
                            | "give"
                            | "me"
                            | "follow"
                    ) && self.tokens.len() > self.i + 1
                    {
                    } else if let Some(foot) = words::foot(word).filter(|_| self.foot_of_a_step()) {
                        item.leads.push((foot, here));
                    } else if is_foot_word(word) && !item.leads.is_empty()
                        // `Follow that with four Joeys`
                        || word == "that" && self.word(1).is_some_and(|w| w == "with")
                        || word.eq_ignore_ascii_case("more")
                            && !numbers.is_empty()
                            && step_at(&self.words_ahead()[1..]).is_some()
                        || word.eq_ignore_ascii_case("them") && !numbers.is_empty()
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
                    "pause" | "hold" | "holds" | "rest" | "freeze" | "wait" | "pauses"
                        if !self.stands_on_the_last() =>
                    {
                        self.pause(item)
                    }
                    word if is_repeat_word(word) => {
                        self.repeat(item);
                        // `16 Repeat`: its counts, for nothing is danced so often.
                        if let Some(n) = item.bare.filter(|n| *n >= FEWEST_AGAIN) {
                            item.stated = item.stated.or(Some((n, item.place)));
                            // `24 Repeat 3 more times`
                            if item.times == n {
                                item.times = 1;
                            }
                            item.bare = None;
                        }
                    }
                    // Alone on its line it repeats all that stands above.
                    "again" if self.tokens.len() == 1 => {
                        self.i += 1;
                        item.body = Body::Repeat { all: true };
                    }
                    "all" if self.all_of_a_part() => {
                        self.i += 1;
                        self.same_as(item);
                    }
                    // `Repeat Part B, same foot`
                    "same"
                        if self.word(1).is_some_and(is_foot_word) && !self.out.items.is_empty() =>
                    {
                        self.note_to_next_piece(item);
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
        // `(Stomp Double, Triple) x 2`
        let often = self.word(1).is_some_and(|w| times_word(w).is_some() || w == "x");
        let several = often && inner.contains([',', '+', ';']);
        let square = matches!(token.piece, Piece::Square(_)) || several;
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
        let mut used = take_movements(rest, &mut run);
        // `2 Triples, up`: in small letters it says where to.
        if used == 1 && self.word(0) == Some("up") && !self.out.items.is_empty() {
            (run, used) = (Moves::default(), 0);
        }
        let run_words = rest[..used].iter().filter(|t| t.word().is_some()).count();
        let name_words = self.known_name();
        // `Heel Batter`: a name of the sheet's own, though its first word is a movement's.
        let begins_a_name = name_words.is_none() && used == 1 && self.is_name_of_its_own();
        // `Slur brush R` is the step on the right foot, though R is a rock as well.
        let with_foot = name_words.as_ref().is_some_and(|(n, _)| {
            run_words == n + 1 && self.word(*n).and_then(words::foot).is_some()
        });
        // `Brush Up     DS BR`: the name, and what it is behind it.
        let set_off = name_words.as_ref().is_some_and(|(n, key)| {
            *n < used
                && (is_gap(&self.text[rest[*n - 1].end..rest[*n].at])
                    || self.spells_out_the_step(key, &rest[*n..used]))
        });
        // `Stomp stomp clap`: three steps, each by its name.
        let each_a_step = rest[..used].iter().all(|t| {
            t.word().is_some_and(|w| w.len() > 3 && self.book.find(&name_key(w)).is_some())
        });
        if run_words > name_words.as_ref().map_or(0, |(n, _)| *n)
            && !with_foot
            && !each_a_step
            && !begins_a_name
            && !set_off
        {
            *moves = run;
            item.body = Body::Moves;
            item.sequence = feet_beside(&rest[..used]);
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
        let turns = self.word(0).is_some_and(|w| w.eq_ignore_ascii_case("turn"))
            && self.word(1).is_some_and(|w| words::foot(w).is_some());
        // `…, fwd`, `…, clapping`: words that say how, and nothing else.
        let ahead = self.words_ahead();
        let how = !self.out.items.is_empty()
            // `…, 1 up & 1 back`
            && item.bare.is_none_or(|n| n == 1)
            && item.times == 1
            && ahead.first().is_some_and(|w| is_style_word(&bare(w)))
            && ahead.iter().all(|w| {
                is_style_word(&bare(w)) && words::foot(w).is_none()
                    || matches!(*w, "&" | "and" | "1" | "one")
            });
        let way = how
            // `4 Triples, 2 forward and 2 back`
            || self.goes_in_turns(item, &ahead)
            || turns
            || self.word(0).is_some_and(|w| is_way_word(&w.to_lowercase()));
        if way && !self.out.items.is_empty() {
            let from = self.i;
            // Counts at the end of the line are none of its words.
            let last = |i: usize| self.tokens.len() == i + 1;
            while self.word(0).is_some_and(|w| !(last(self.i) && number(w).is_some()))
                && (self.i == from || words::turn(&self.words_ahead()).is_none())
            {
                self.i += 1;
            }
            item.bare = None;
            let (at, end) = self.place(from, self.i);
            item.notes.extend(self.text.get(at..end).map(str::to_string));
            return;
        }
        self.unknown_name(item);
    }

    /// Whether numbers that come to how often the step before is danced, and words that say where to, are all that stands here.
    fn goes_in_turns(&self, item: &Item, ahead: &[&str]) -> bool {
        let Some(before) = self.out.items.last().filter(|_| item.leads.is_empty()) else {
            return false;
        };
        let more = ahead.iter().filter_map(|w| number(w)).sum::<u32>();
        let said = |w: &&str| is_style_word(&bare(w)) && words::foot(w).is_none();
        item.bare.is_some_and(|n| n == item.times && n.saturating_add(more) == before.times)
            && more > 0
            && ahead.iter().any(said)
            && ahead.iter().all(|w| {
                said(w) || number(w).is_some() || *w == "&" || w.eq_ignore_ascii_case("and")
            })
    }

    /// Whether a dash stands behind this word, and behind that the name of a step.
    fn dash_before_a_name(&self) -> bool {
        let counted = self.word(2).is_some_and(|w| number(w).is_some());
        self.dash_ahead() && !counted && self.is_named_ahead(2)
    }

    /// Whether a dash stands behind this piece.
    fn dash_ahead(&self) -> bool {
        self.tokens.get(self.i + 1).is_some_and(|t| t.piece == Piece::Dash)
    }

    /// Whether a step of the book is named so many pieces further on.
    pub(super) fn is_named_ahead(&self, ahead: usize) -> bool {
        let i = self.i + ahead;
        let next = Reader { i, out: &mut Parsed::default(), after: Vec::new(), ..*self };
        next.known_name().is_some_and(|(used, _)| used > 0)
    }

    /// How many words from here on name a step of the book, and its key; the longest name wins.
    pub(super) fn known_name(&self) -> Option<(usize, String)> {
        let ahead = self.words_ahead();
        if let Some(found) = self.shortened_name(&ahead).filter(|(n, _)| *n > 1) {
            return Some(found);
        }
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
            // `Balance` is the `Balance step`.
            const FEWEST_LETTERS: usize = 5;
            let longer = format!("{key} step");
            if n == 1 && key.len() >= FEWEST_LETTERS && self.book.find(&longer).is_some() {
                return Some((n, longer));
            }
            // `Triple steps` is `Triple`; the word alone adds nothing.
            if let Some(shorter) = key.strip_suffix(" step")
                && n > 1
                && self.book.find(shorter).is_some()
            {
                return Some((n, shorter.to_string()));
            }
        }
        self.shortened_name(&ahead)
    }

    pub(super) fn unknown_name(&mut self, item: &mut Item) {
        let from = self.i;
        while let Some(word) = self.word(0) {
            // `Clogovre vine left`: the foot is no word of the name.
            let foot_behind = words::foot(word).is_some()
                && self.word(1).is_none_or(|w| words::foot(w).is_some());
            // Counts at the end of the line, set off by a gap.
            let counts = number(word).is_some()
                || word.starts_with(|c: char| c.is_ascii_digit()) && length(&[word]).is_some();
            let set_off = self.tokens.len() == self.i + 1
                && counts
                && self.i > 0
                && self.tokens[self.i].at > self.tokens[self.i - 1].end + 1;
            let stops = self.i > from
                && (set_off
                    || times_word(word).is_some()
                    || foot_behind
                    || (word.eq_ignore_ascii_case("x") && self.word(1).and_then(number).is_some())
                    || number(word).is_some() && self.word(1).is_some_and(|w| bare(w) == "times")
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
    let lower = bare(word);
    matches!(lower.as_str(), "before" | "above" | "first") || part_word(&lower).is_some()
}
