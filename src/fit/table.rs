//! The aligner's table: for each item and each start, the price of the cheapest rest.

use super::align::Alignment;
use super::ground::{Ground, Item};
use super::judgement::{self, Entry, NEVER};

/// Cheapest rests, for one giving of homes at a time.
pub(super) struct Table<'a> {
    pub ground: &'a Ground,
    pub items: &'a [Item],
    stated_wait: Option<u32>,
    /// Counts of the items from each on, those that the table does not hold included.
    rest: Vec<i32>,
    /// Starts that each item can come to, ascending.
    reach: Vec<Vec<i32>>,
    /// Price of the rest for each item, start and whether the phrase is begun.
    price: Vec<u32>,
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
    /// `beyond` are items after `items` that only count if the song is over by then.
    pub fn new(
        ground: &'a Ground,
        items: &'a [Item],
        beyond: &[Item],
        stated_wait: Option<u32>,
    ) -> Self {
        let mut rest = vec![beyond.iter().fold(0i32, |sum, i| sum.saturating_add(i.counts))];
        for item in items.iter().rev() {
            rest.push(item.counts.saturating_add(rest[rest.len() - 1]));
        }
        rest.reverse();
        let reach = reach(ground, items, stated_wait);
        let states = 2 * (ground.end - 1) as usize;
        let price = vec![NEVER; states * items.len()];
        Table { ground, items, stated_wait, rest, reach, price, by_phrase: Vec::new() }
    }

    /// Fills the table; returns how many states were weighed.
    pub fn fill(&mut self, homes: &[Option<u16>]) -> usize {
        let mut weighed = 0;
        for i in (0..self.items.len()).rev() {
            self.lay_by_phrase(i + 1);
            for r in 0..self.reach[i].len() {
                let start = self.reach[i][r];
                let on_start = self.ground.is_start(start);
                for begun in [false, true] {
                    if begun && on_start {
                        continue;
                    }
                    let cell = self.cell(i, start, begun);
                    self.price[cell] = self.next(i, start, begun, homes).price;
                    weighed += 1;
                }
            }
        }
        weighed
    }

    /// The cheapest way through the filled table.
    pub fn best_way(&mut self, homes: &[Option<u16>]) -> Alignment {
        let mut way = Alignment::default();
        let first = &self.items[0];
        let whole = |&start: &i32| {
            judgement::start(self.ground, first, self.stated_wait, start)
                .saturating_add(self.price[self.cell(0, start, false)])
        };
        let Some(&start) = self.reach[0].iter().min_by_key(|start| whole(start)) else {
            return way;
        };
        way.price = whole(&start);
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

    fn cell(&self, item: usize, start: i32, begun: bool) -> usize {
        let states = 2 * (self.ground.end - 1) as usize;
        item * states + 2 * (start - 1) as usize + usize::from(begun)
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
        self.price[self.cell(i, start, begun)]
    }

    fn lay_by_phrase(&mut self, item: usize) {
        let mut by_phrase = std::mem::take(&mut self.by_phrase);
        by_phrase.clear();
        if item < self.items.len() {
            let (_, each) = judgement::gap_parts();
            let mut least = NEVER;
            for span in self.ground.spans.iter().rev() {
                let here = self.price[self.cell(item, span.start, false)]
                    .saturating_add(each * span.start as u32);
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
        let began = match entry {
            Entry::OnStart => !item.fill,
            _ => begun,
        };
        let begun_then = end < ground.end
            && !ground.is_start(end)
            && ground.span_index(end) == ground.span_index(start)
            && began;
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

/// Starts that each item can come to.
fn reach(ground: &Ground, items: &[Item], stated_wait: Option<u32>) -> Vec<Vec<i32>> {
    let phrases = || ground.spans.iter().map(|s| s.start);
    let mut here = vec![false; ground.end as usize];
    phrases().for_each(|start| here[start as usize] = true);
    if let Some(start) = stated_wait.and_then(|w| i32::try_from(w).ok()?.checked_add(1))
        && start < ground.end
    {
        here[start as usize] = true;
    }
    let mut all = Vec::with_capacity(items.len());
    for item in items {
        let starts: Vec<i32> = (1..ground.end).filter(|&s| here[s as usize]).collect();
        if !item.fill {
            here.fill(false);
            phrases().for_each(|start| here[start as usize] = true);
        }
        for start in &starts {
            let end = start + item.counts;
            if end < ground.end {
                here[end as usize] = true;
            }
        }
        all.push(starts);
    }
    all
}
