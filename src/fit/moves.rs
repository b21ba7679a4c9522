//! What starts somewhere in a phrase lead to at the least, by sort of item.

use std::rc::Rc;

use super::ground::{Ground, Item, Span};
use super::judgement;
use super::task::Place;

/// How a start stands in its phrase: on its first count, or somewhere after, the phrase being begun by a part or not.
pub(super) const ON_START: usize = 0;
pub(super) const BEGUN: usize = 1;
pub(super) const UNBEGUN: usize = 2;

/// How many sorts of start there are.
pub(super) const SORTS: usize = 3;

/// What may follow an item: the next on such a start in a phrase.
pub(super) struct Move {
    /// Where the next stands, as [`stand`] has it.
    pub to: u32,
    pub price: u32,
}

/// All that may follow an item from such a start in a phrase.
pub(super) struct Moves {
    /// Where its moves in the table end, and its ends.
    moves_end: u32,
    ends_end: u32,
    /// Where the song is over first: the price, and the count on which the item is over.
    pub beyond: Option<(u32, i32)>,
    /// With this phrase or a later one: the price, without that of the counts from the count on which the item is over.
    pub later: Option<(u32, i32, u32)>,
    /// Left out.
    pub out: Option<u32>,
}

/// The moves from each sort of start in each phrase.
pub(super) struct Table {
    from: Vec<Moves>,
    moves: Vec<Move>,
    /// What an item costs that another may follow right after, and the latest count on which it is over then.
    ends: Vec<(u32, i32)>,
}

/// What may follow from a start, the moves to a place, and the ends.
pub(super) type Follows<'t> = (&'t Moves, &'t [Move], &'t [(u32, i32)]);

/// Tables for sorts of item.
#[derive(Default)]
pub(super) struct Book(Vec<(Sort, Rc<Table>)>);

/// What the moves of an item depend on.
#[derive(Clone, PartialEq, Eq)]
struct Sort {
    counts: i32,
    fill: bool,
    proper: bool,
    named_for: Option<u16>,
    begun_for: i32,
}

impl Book {
    /// The table of an item; the phrase that it shares has been begun for so many counts at least.
    pub fn table(&mut self, ground: &Ground, item: &Item, begun_for: i32) -> Rc<Table> {
        let Item { counts, fill, proper, named_for, .. } = *item;
        let sort = Sort { counts, fill, proper, named_for, begun_for };
        if let Some((_, table)) = self.0.iter().find(|(known, _)| *known == sort) {
            return Rc::clone(table);
        }
        let table = Rc::new(Table::new(ground, item, begun_for));
        self.0.push((sort, Rc::clone(&table)));
        table
    }
}

impl Table {
    fn new(ground: &Ground, item: &Item, begun_for: i32) -> Table {
        let phrases = 0..ground.spans.len();
        let mut table = Table { from: Vec::new(), moves: Vec::new(), ends: Vec::new() };
        phrases.clone().for_each(|k| table.add_from_start(ground, item, k));
        phrases.clone().for_each(|k| table.add_from_within(ground, item, k, Some(begun_for)));
        phrases.for_each(|k| table.add_from_within(ground, item, k, None));
        table
    }

    /// What may follow from each start, in the order of [`stands`].
    #[inline]
    pub fn each(&self) -> impl Iterator<Item = Follows<'_>> {
        let (mut moves, mut ends) = (0, 0);
        self.from.iter().map(move |from| {
            let (first_move, first_end) = (moves, ends);
            (moves, ends) = (from.moves_end as usize, from.ends_end as usize);
            (from, &self.moves[first_move..moves], &self.ends[first_end..ends])
        })
    }

    /// Adds a move to those from `first` on. Of moves to one place the cheapest says all.
    fn go(&mut self, first: usize, to: usize, price: u32) {
        match self.moves[first..].iter_mut().find(|m| m.to == to as u32) {
            Some(known) => known.price = known.price.min(price),
            None => self.moves.push(Move { to: to as u32, price }),
        }
    }

    fn add_from_start(&mut self, ground: &Ground, item: &Item, k: usize) {
        let first_move = self.moves.len();
        let spans = &ground.spans;
        let start = spans[k].start;
        let end = start + item.counts;
        let danced = judgement::dancing(ground, item, start);
        let (mut beyond, mut later) = (None, None);
        if end >= ground.end {
            beyond = Some((danced, end));
        } else {
            let phrase = ground.span_index(end);
            let to = match spans[phrase].start == end {
                true => ON_START,
                false if judgement::begun_then(ground, item, start, false) => BEGUN,
                false => UNBEGUN,
            };
            self.go(first_move, stand(ground, to, phrase), danced);
            self.ends.push((danced, end));
            later = Some((danced + judgement::gap_parts().0, end, phrase as u32 + 1));
        }
        for (phrase, span) in
            spans.iter().enumerate().skip(k + 1).take_while(|(_, s)| s.start < end)
        {
            let price = danced + judgement::overrun(end - span.start);
            self.go(first_move, stand(ground, ON_START, phrase), price);
        }
        let out = (item.counts > 0).then(|| judgement::left_out(item));
        self.add(beyond, later, out);
    }

    /// `begun_for` is how long the phrase has been begun at least, if it has.
    fn add_from_within(&mut self, ground: &Ground, item: &Item, k: usize, begun_for: Option<i32>) {
        let first_move = self.moves.len();
        let spans = &ground.spans;
        let span = &spans[k];
        let (begun, earliest) = (begun_for.is_some(), span.start + begun_for.unwrap_or(1));
        if earliest >= span.end {
            return self.add(None, None, None);
        }
        // The item is over somewhere from `first` to `last`.
        let (first, last) = (earliest + item.counts, span.end - 1 + item.counts);
        // The least that it costs where it is over somewhere from `a` to `b`.
        let danced = |a: i32, b: i32| {
            judgement::within_at_least(ground, item, k, begun, a - item.counts, b - item.counts)
        };
        let beyond = (last >= ground.end).then(|| {
            let end = first.max(ground.end);
            (danced(end, last), end)
        });
        let mut later = None;
        if first < ground.end {
            let from = ground.span_index(first);
            let until = from + spans[from..].iter().take_while(|s| s.start <= last).count();
            for (phrase, then) in spans.iter().enumerate().take(until).skip(from) {
                if then.start >= first {
                    let price = danced(then.start, then.start);
                    self.go(first_move, stand(ground, ON_START, phrase), price);
                    self.ends.push((price, then.start));
                }
                let (a, b) = (first.max(then.start + 1), last.min(then.end - 1));
                if a <= b {
                    let to = if begun && phrase == k { BEGUN } else { UNBEGUN };
                    self.go(first_move, stand(ground, to, phrase), danced(a, b));
                    self.ends.push((danced(a, b), b));
                }
                if phrase > from {
                    let price = after_gap(span, then.start, first, last, &danced);
                    if let Some(price) = price {
                        self.go(first_move, stand(ground, ON_START, phrase), price);
                    }
                }
            }
            later = Some((danced(first, last) + judgement::gap_parts().0, last, until as u32));
        }
        let over = spans.iter().enumerate().skip(k + 1).take_while(|(_, s)| s.start < last);
        for (phrase, then) in over {
            let a = first.max(then.start + 1);
            // What is cut at the end of its phrase does not run over that.
            let danced = match then.start > span.end || !begun {
                true => danced(a, last),
                false => judgement::sharing_at_least(ground, item, k),
            };
            let price = danced + judgement::overrun(a - then.start);
            self.go(first_move, stand(ground, ON_START, phrase), price);
        }
        let out = (item.fill && item.counts > 0).then(|| judgement::left_out(item));
        self.add(beyond, later, out);
    }

    fn add(
        &mut self,
        beyond: Option<(u32, i32)>,
        later: Option<(u32, i32, u32)>,
        out: Option<u32>,
    ) {
        let (moves_end, ends_end) = (self.moves.len() as u32, self.ends.len() as u32);
        self.from.push(Moves { moves_end, ends_end, beyond, later, out });
    }
}

/// Where such a start in a phrase stands among all.
#[inline]
pub(super) fn stand(ground: &Ground, sort: usize, phrase: usize) -> usize {
    sort * ground.spans.len() + phrase
}

/// The least that an item in `span` costs with a gap up to `start`, it being over somewhere from `first` to `last`.
fn after_gap(
    span: &Span,
    start: i32,
    first: i32,
    last: i32,
    danced: &impl Fn(i32, i32) -> u32,
) -> Option<u32> {
    let before = |a: i32, b: i32| (a <= b).then(|| judgement::gap(start - b) + danced(a, b));
    let within = before(first, last.min(span.end).min(start - 1));
    let over = before(first.max(span.end + 1), last.min(start - 1));
    within.into_iter().chain(over).min()
}

/// How a place stands in its phrase, as [`stand`] has it.
#[inline]
pub(super) fn stands(ground: &Ground, place: Place) -> usize {
    let k = ground.span_index(place.start);
    let to = match ground.spans[k].start == place.start {
        true => ON_START,
        false if place.begun => BEGUN,
        false => UNBEGUN,
    };
    stand(ground, to, k)
}
