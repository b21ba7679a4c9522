//! The aligner's table: for each item and each start, the price of the cheapest rest.

use super::align::Alignment;
use super::ground::{Ground, Item};
use super::judgement::{self, NEVER};

/// A start that an item can come to, with the price of the cheapest way there, the phrase not begun and begun.
pub(super) struct Reached {
    pub start: i32,
    pub so_far: [u32; 2],
}

/// Cheapest rests, for one giving of homes at a time.
pub(super) struct Table<'a> {
    pub ground: &'a Ground,
    pub items: &'a [Item],
    stated_wait: Option<u32>,
    /// Counts of the items from each on, those that the table does not hold included.
    rest: &'a [i32],
    /// Starts that each item can come to, ascending.
    reach: Vec<Vec<i32>>,
    /// Price of the cheapest way to each of them, the phrase not begun and begun.
    so_far: Vec<Vec<[u32; 2]>>,
    /// Price of the rest for each item, each start in its reach and whether the phrase is begun.
    price: Vec<Vec<[u32; 2]>>,
    /// For the item filled last and each phrase: the least, over this phrase and later ones, of the
    /// rest from its start plus the price of the counts up to it.
    by_phrase: Vec<u32>,
}

/// What follows an item, at what price for all the rest.
#[derive(Debug, Clone, Copy)]
struct Next {
    price: u32,
    start: i32,
    begun: bool,
}

impl<'a> Table<'a> {
    /// For starts in `reach` alone; `rest` holds the counts of the items from each on.
    pub fn new(
        ground: &'a Ground,
        items: &'a [Item],
        rest: &'a [i32],
        stated_wait: Option<u32>,
        reached: Vec<Vec<Reached>>,
    ) -> Self {
        let price = reached.iter().map(|row| vec![[NEVER; 2]; row.len()]).collect();
        let reach = reached.iter().map(|row| row.iter().map(|r| r.start).collect()).collect();
        let so_far = reached.iter().map(|row| row.iter().map(|r| r.so_far).collect()).collect();
        Table { ground, items, stated_wait, rest, reach, so_far, price, by_phrase: Vec::new() }
    }

    /// The least that a way through the table costs apart from the sorts of phrase.
    pub fn least(&mut self) -> u32 {
        self.fill(&[]);
        self.first().map_or(NEVER, |first| first.1)
    }

    /// The table for those starts alone through which a way of at most `limit` leads, apart from the sorts of
    /// phrase; `None` where there is no such way.
    pub fn within(&self, limit: u32) -> Option<Table<'a>> {
        let mut kept = Table::new(self.ground, self.items, self.rest, self.stated_wait, Vec::new());
        for i in 0..self.items.len() {
            let (mut starts, mut so_far) = (Vec::new(), Vec::new());
            for (r, &start) in self.reach[i].iter().enumerate() {
                let worth =
                    |b: usize| self.so_far[i][r][b].saturating_add(self.price[i][r][b]) <= limit;
                let ways = [0, 1].map(|b| if worth(b) { self.so_far[i][r][b] } else { NEVER });
                if ways != [NEVER; 2] {
                    starts.push(start);
                    so_far.push(ways);
                }
            }
            kept.price.push(vec![[NEVER; 2]; starts.len()]);
            kept.reach.push(starts);
            kept.so_far.push(so_far);
        }
        (!kept.reach.first()?.is_empty()).then_some(kept)
    }

    /// Fills the table; returns how many states were weighed.
    pub fn fill(&mut self, homes: &[Option<u16>]) -> usize {
        let mut weighed = 0;
        for i in (0..self.items.len()).rev() {
            self.lay_by_phrase(i + 1);
            for r in 0..self.reach[i].len() {
                let start = self.reach[i][r];
                for begun in [false, true] {
                    if self.so_far[i][r][usize::from(begun)] >= NEVER {
                        continue;
                    }
                    self.price[i][r][usize::from(begun)] = self.next(i, start, begun, homes).price;
                    weighed += 1;
                }
            }
        }
        weighed
    }

    /// The cheapest way through the filled table.
    pub fn best_way(&mut self, homes: &[Option<u16>]) -> Alignment {
        let mut way = Alignment::default();
        let Some((start, price)) = self.first() else {
            way.price = NEVER;
            return way;
        };
        way.price = price;
        if way.price >= NEVER {
            return way;
        }
        let (mut start, mut begun) = (start, false);
        for i in 0..self.items.len() {
            way.starts.push(start);
            way.begun.push(begun);
            if start >= self.ground.end {
                start = start.saturating_add(self.items[i].counts);
                continue;
            }
            self.lay_by_phrase(i + 1);
            let next = self.next(i, start, begun, homes);
            (start, begun) = (next.start, next.begun);
        }
        way
    }

    /// The best start of the first item, and the price of the whole.
    fn first(&self) -> Option<(i32, u32)> {
        let first = &self.items[0];
        let whole = |start: i32| {
            judgement::start(self.ground, first, self.stated_wait, start)
                .saturating_add(self.price_at(0, start, false))
        };
        self.reach[0].iter().map(|&start| (start, whole(start))).min_by_key(|first| first.1)
    }

    fn price_at(&self, item: usize, start: i32, begun: bool) -> u32 {
        match self.reach[item].binary_search(&start) {
            Ok(r) => self.price[item][r][usize::from(begun)],
            Err(_) => NEVER,
        }
    }

    /// Price of the rest from item `i` on, starting on `start`.
    fn rest_from(&self, i: usize, start: i32, begun: bool) -> u32 {
        if start >= self.ground.end {
            return judgement::ends_first(start.saturating_add(self.rest[i]) - self.ground.end);
        }
        if i == self.items.len() {
            return judgement::left_over(self.ground.end - start)
                + judgement::ends_first(self.rest[i]);
        }
        self.price_at(i, start, begun)
    }

    fn lay_by_phrase(&mut self, item: usize) {
        let mut by_phrase = std::mem::take(&mut self.by_phrase);
        by_phrase.clear();
        if item < self.items.len() {
            let (_, each) = judgement::gap_parts();
            let mut least = NEVER;
            let mut to = self.reach[item].len();
            for span in self.ground.spans.iter().rev() {
                while to > 0 && self.reach[item][to - 1] > span.start {
                    to -= 1;
                }
                let here = match to.checked_sub(1).filter(|&r| self.reach[item][r] == span.start) {
                    Some(r) => self.price[item][r][0].saturating_add(each * span.start as u32),
                    None => NEVER,
                };
                least = least.min(here);
                by_phrase.push(least);
            }
            by_phrase.reverse();
        }
        self.by_phrase = by_phrase;
    }

    /// The cheapest of all that can follow item `i` on `start`. Needs the row of `i + 1` filled and
    /// laid by phrase.
    fn next(&self, i: usize, start: i32, begun: bool, homes: &[Option<u16>]) -> Next {
        let (ground, item) = (self.ground, &self.items[i]);
        let last = i + 1 == self.items.len();
        let end = start + item.counts;
        let entry = judgement::entry(ground, item, start, begun);
        let danced = judgement::entry_price(entry)
            + judgement::dancing(ground, item, start, homes.get(item.part).copied().flatten());
        let straddling = if judgement::straddles(ground, item, start, entry) {
            judgement::off_phrase(ground.beside(start))
        } else {
            0
        };

        // Right after it.
        let begun_then = judgement::begun_then(ground, item, start, begun);
        let mut best = Next {
            price: danced + straddling + self.rest_from(i + 1, end, begun_then),
            start: end,
            begun: begun_then,
        };
        if last {
            return best;
        }
        let mut offer = |price: u32, start: i32, begun: bool| {
            if price < best.price {
                best = Next { price, start, begun };
            }
        };
        // With a later phrase.
        let (base, each) = judgement::gap_parts();
        if end < ground.end {
            let from = ground.span_index(end) + 1;
            if let Some(&least) = self.by_phrase.get(from).filter(|&&l| l < NEVER) {
                let price = danced + straddling + base + least - each * end as u32;
                // The phrase itself matters only on the way back through the table.
                offer(price, ground.spans[from].start, false);
            }
        }
        // With a phrase that starts before it is over.
        let first = ground.span_index(start);
        for span in &ground.spans[first..] {
            if span.start >= end {
                break;
            }
            if span.start > start {
                let straddling = if span.start > ground.span(start).end { straddling } else { 0 };
                let price = danced + straddling + judgement::overrun(end - span.start);
                offer(price + self.rest_from(i + 1, span.start, false), span.start, false);
            }
        }
        // Without it.
        if item.counts > 0 && (item.fill || ground.is_start(start)) {
            offer(judgement::left_out(item) + self.rest_from(i + 1, start, begun), start, begun);
        }
        if best.start > end {
            best.start = self.phrase_after(i, end, best.price - danced - straddling);
        }
        best
    }

    /// The phrase start after a gap that makes up a price.
    fn phrase_after(&self, i: usize, end: i32, price: u32) -> i32 {
        let from = self.ground.span_index(end) + 1;
        self.ground.spans[from..]
            .iter()
            .map(|span| span.start)
            .find(|&start| {
                judgement::gap(start - end) + self.rest_from(i + 1, start, false) == price
            })
            .unwrap_or(self.ground.spans[from].start)
    }
}
