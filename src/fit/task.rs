//! What is laid on what, and what can follow what at which price.

use std::rc::Rc;

use super::ground::{Ground, Item};
use super::homes::Homes;
use super::judgement;
use super::moves::{Book, Table};

/// An order to be laid on a song.
pub(super) struct Task<'a> {
    pub ground: &'a Ground,
    pub items: &'a [Item],
    pub stated_wait: Option<u32>,
    pub reach: Rc<Reach>,
}

/// How far the items of an order reach.
pub(super) struct Reach {
    /// Counts of the items from each on.
    pub rest: Vec<i32>,
    /// The fewest counts between the start of a phrase that a part has begun and each item that shares it.
    pub begun_for: Vec<i32>,
    /// What each item can move to at the least.
    pub moves: Vec<Rc<Table>>,
}

/// A change of an order: between the items before `from` and the last `to_end`.
#[derive(Clone, Copy)]
pub(super) struct Change<'a> {
    pub before: &'a Task<'a>,
    pub after: &'a Task<'a>,
    pub from: usize,
    pub to_end: usize,
}

/// The start of an item, and whether a part has begun the phrase in which it lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    pub start: i32,
    pub begun: bool,
}

impl Reach {
    fn new(ground: &Ground, items: &[Item], beyond: &[Item], book: &mut Book) -> Reach {
        let mut rest = vec![beyond.iter().fold(0i32, |sum, i| sum.saturating_add(i.counts))];
        for item in items.iter().rev() {
            rest.push(item.counts.saturating_add(rest[rest.len() - 1]));
        }
        rest.reverse();
        let mut begun_for = vec![1];
        for (n, item) in items.iter().enumerate() {
            // A fill may be left out.
            begun_for.push(if item.fill { begun_for[n] } else { item.counts.max(1) });
        }
        let sorts = items.iter().zip(&begun_for);
        let moves = sorts.map(|(item, &begun)| book.table(ground, item, begun)).collect();
        Reach { rest, begun_for, moves }
    }
}

impl<'a> Task<'a> {
    /// `beyond` follows the items, and only counts if the song is over by then; `book` holds moves known already.
    pub fn new(
        ground: &'a Ground,
        items: &'a [Item],
        beyond: &[Item],
        stated_wait: Option<u32>,
        book: &mut Book,
    ) -> Task<'a> {
        let reach = Rc::new(Reach::new(ground, items, beyond, book));
        Task { ground, items, stated_wait, reach }
    }

    /// Starts that the first item can come to, each with its price: the phrases, and right after the sheet's wait.
    pub fn starts(&self) -> impl Iterator<Item = (i32, u32)> {
        let ground = self.ground;
        let waited = self
            .stated_wait
            .and_then(|w| i32::try_from(w).ok()?.checked_add(1))
            .filter(|&s| s < ground.end && !ground.is_start(s));
        let price = |s| judgement::start(ground, &self.items[0], self.stated_wait, s);
        ground.spans.iter().map(|s| s.start).chain(waited).map(move |s| (s, price(s)))
    }

    /// The order from item `i` on, starting when the song is over.
    #[inline]
    pub fn beyond(&self, i: usize, start: i32) -> u32 {
        judgement::ends_first(start.saturating_add(self.reach.rest[i]) - self.ground.end)
    }

    /// The song from `start` on, when all items are over.
    #[inline]
    pub fn after_all(&self, start: i32) -> u32 {
        judgement::left_over(self.ground.end - start)
            + judgement::ends_first(self.reach.rest[self.items.len()])
    }

    /// The price of what is left where no item is to be placed any more.
    #[inline]
    pub fn ending(&self, i: usize, start: i32) -> Option<u32> {
        if start >= self.ground.end {
            Some(self.beyond(i, start))
        } else {
            (i == self.items.len()).then(|| self.after_all(start))
        }
    }

    /// Every place that can follow item `i`, with its price: right after it, with a later phrase for at most `budget`, with a phrase that starts before it is over, and where it would start itself, it being left out.
    #[inline]
    pub fn each_next(
        &self,
        i: usize,
        place: Place,
        homes: &Homes,
        budget: u32,
        mut go: impl FnMut(u32, Place),
    ) {
        let (ground, item) = (self.ground, &self.items[i]);
        let Place { start, begun } = place;
        let end = start + item.counts;
        let first = ground.span_index(start);
        let phrase = &ground.spans[first];
        let entry = judgement::entry(ground, item, start, begun);
        let danced = judgement::entry_price(entry)
            + judgement::dancing(ground, item, start)
            + homes.price(item, phrase.kind);
        let straddling = match judgement::straddles(ground, item, start, entry) {
            true => judgement::off_phrase(ground.beside(start)),
            false => 0,
        };
        let on_phrase = |start: i32| Place { start, begun: false };
        let begun_then = judgement::begun_then(ground, item, start, begun);
        go(danced + straddling, Place { start: end, begun: begun_then });
        if i + 1 == self.items.len() {
            return;
        }
        if end < ground.end {
            for later in &ground.spans[ground.span_index(end) + 1..] {
                let price = danced + straddling + judgement::gap(later.start - end);
                if price > budget {
                    break;
                }
                go(price, on_phrase(later.start));
            }
        }
        for then in ground.spans[first + 1..].iter().take_while(|s| s.start < end) {
            let straddling = if then.start > phrase.end { straddling } else { 0 };
            let price = danced + straddling + judgement::overrun(end - then.start);
            go(price, on_phrase(then.start));
        }
        if item.counts > 0 && (item.fill || start == phrase.start) {
            go(judgement::left_out(item), place);
        }
    }
}
