//! What the rest of the order costs at the least, and which starts that leaves worth weighing.
//!
//! A start within a phrase is taken as any start within it, so that a row has two places for each
//! phrase: its first count and somewhere after. From such a place everything costs at most what it
//! costs from any start that it stands for. With these bounds a start is worth weighing only if the
//! cheapest way to it and the bound of the rest stay within a limit; no way within the limit is lost.

use super::ground::{Ground, Item};
use super::judgement::{self, NEVER};
use super::table::Reached;

/// Bounds of the rest for each item and phrase, from the phrase's first count and from after it.
pub(super) struct Bound<'a> {
    ground: &'a Ground,
    items: &'a [Item],
    rest: &'a [i32],
    on_start: Vec<u32>,
    within: Vec<u32>,
}

impl<'a> Bound<'a> {
    /// `rest` holds the counts of the items from each on.
    pub fn new(ground: &'a Ground, items: &'a [Item], rest: &'a [i32]) -> Bound<'a> {
        let cells = ground.spans.len() * (items.len() + 1);
        let (on_start, within) = (vec![NEVER; cells], vec![NEVER; cells]);
        let mut bound = Bound { ground, items, rest, on_start, within };
        let spans = ground.spans.len();
        for (k, span) in ground.spans.iter().enumerate() {
            let cell = items.len() * spans + k;
            bound.on_start[cell] = bound.after_all(span.start);
            bound.within[cell] = bound.after_all(span.end - 1);
        }
        let mut by_phrase = Vec::with_capacity(spans + 1);
        for i in (0..items.len()).rev() {
            bound.lay_by_phrase(i + 1, &mut by_phrase);
            for k in 0..spans {
                bound.on_start[i * spans + k] = bound.least_on_start(i, k, &by_phrase);
                bound.within[i * spans + k] = bound.least_within(i, k, &by_phrase);
            }
        }
        bound
    }

    /// The least that the rest from item `i` on can cost, starting on `start`.
    pub fn of(&self, i: usize, start: i32) -> u32 {
        if start >= self.ground.end {
            return self.beyond(i, start);
        }
        if i == self.items.len() {
            return self.after_all(start);
        }
        let k = self.ground.span_index(start);
        let cell = i * self.ground.spans.len() + k;
        if self.ground.spans[k].start == start { self.on_start[cell] } else { self.within[cell] }
    }

    fn after_all(&self, start: i32) -> u32 {
        judgement::left_over(self.ground.end - start)
            + judgement::ends_first(self.rest[self.items.len()])
    }

    fn beyond(&self, i: usize, start: i32) -> u32 {
        judgement::ends_first(start.saturating_add(self.rest[i]) - self.ground.end)
    }

    /// For each phrase the least, over it and later ones, of the bound from its start and the price of
    /// the counts up to it.
    fn lay_by_phrase(&self, i: usize, out: &mut Vec<u32>) {
        let spans = self.ground.spans.len();
        let (_, each) = judgement::gap_parts();
        out.clear();
        out.resize(spans + 1, NEVER);
        for (k, span) in self.ground.spans.iter().enumerate().rev() {
            let here = self.on_start[i * spans + k].saturating_add(each * span.start as u32);
            out[k] = here.min(out[k + 1]);
        }
    }

    fn least_on_start(&self, i: usize, k: usize, by_phrase: &[u32]) -> u32 {
        let (ground, item) = (self.ground, &self.items[i]);
        let spans = &ground.spans;
        let row = (i + 1) * spans.len();
        let start = spans[k].start;
        let end = start + item.counts;
        let danced = judgement::dancing(ground, item, start, None);
        let mut least = danced + self.of(i + 1, end);
        if i + 1 == self.items.len() {
            return least;
        }
        let (base, each) = judgement::gap_parts();
        if end < ground.end {
            let later = by_phrase[ground.span_index(end) + 1];
            if later < NEVER {
                least = least.min(danced + base + later - each * end as u32);
            }
        }
        for (n, span) in spans.iter().enumerate().skip(k + 1).take_while(|(_, s)| s.start < end) {
            let price = danced + judgement::overrun(end - span.start) + self.on_start[row + n];
            least = least.min(price);
        }
        if item.counts > 0 {
            least = least.min(judgement::left_out(item) + self.on_start[row + k]);
        }
        least
    }

    fn least_within(&self, i: usize, k: usize, by_phrase: &[u32]) -> u32 {
        let (ground, item) = (self.ground, &self.items[i]);
        let spans = &ground.spans;
        let row = (i + 1) * spans.len();
        let span = &spans[k];
        if span.end - span.start < 2 {
            return NEVER;
        }
        // The item is over somewhere from `first` to `last`.
        let (first, last) = (span.start + 1 + item.counts, span.end - 1 + item.counts);
        let danced = judgement::within_at_least(ground, item, k);
        let crossing = |end: i32| match item.proper && end > span.end && span.end < ground.end {
            true => judgement::crossing_at_least(),
            false => 0,
        };
        let mut least = NEVER;
        if last >= ground.end {
            let end = first.max(ground.end);
            least = danced + crossing(end) + self.beyond(i + 1, end);
        }
        let (base, each) = judgement::gap_parts();
        if first < ground.end {
            let from = ground.span_index(first);
            let mut n = from;
            while let Some(then) = spans.get(n).filter(|s| s.start <= last) {
                if then.start >= first {
                    let price = danced + crossing(then.start) + self.on_start[row + n];
                    least = least.min(price);
                }
                if first.max(then.start + 1) <= last.min(then.end - 1) {
                    let end = last.min(then.end - 1);
                    let after = match i + 1 == self.items.len() {
                        true => self.after_all(end),
                        false => self.within[row + n],
                    };
                    least = least.min(danced + crossing(first.max(then.start + 1)) + after);
                }
                n += 1;
            }
            if i + 1 < self.items.len() {
                for then in from + 1..n {
                    least = least.min(danced + judgement::gap(1) + self.on_start[row + then]);
                }
                if by_phrase[n] < NEVER {
                    least = least.min(danced + base + by_phrase[n] - each * last as u32);
                }
            }
        }
        if i + 1 == self.items.len() {
            return least;
        }
        let over = spans.iter().enumerate().skip(k + 1).take_while(|(_, s)| s.start < last);
        for (n, then) in over {
            let price = danced + judgement::overrun((first - then.start).max(1));
            least = least.min(price + self.on_start[row + n]);
        }
        if item.fill && item.counts > 0 {
            least = least.min(judgement::left_out(item) + self.within[row + k]);
        }
        least
    }

    /// The least that any way can cost.
    pub fn least(&self, stated_wait: Option<u32>) -> u32 {
        let first = &self.items[0];
        starts(self.ground, stated_wait)
            .map(|s| judgement::start(self.ground, first, stated_wait, s) + self.of(0, s))
            .min()
            .unwrap_or(NEVER)
    }

    /// For each item the starts, ascending, through which a way of at most `limit` may lead.
    pub fn reach(&self, stated_wait: Option<u32>, limit: u32) -> Vec<Vec<Reached>> {
        let ground = self.ground;
        let states = 2 * ground.end.max(1) as usize;
        let mut here = Row::new(states);
        let mut next = Row::new(states);
        for start in starts(ground, stated_wait) {
            let price = judgement::start(ground, &self.items[0], stated_wait, start);
            if price + self.of(0, start) <= limit {
                here.offer(start, false, price);
            }
        }
        let mut all = Vec::with_capacity(self.items.len());
        for i in 0..self.items.len() {
            all.push(here.reached());
            for n in 0..here.touched.len() {
                let (start, begun) = here.touched[n];
                self.go_on(i, start, begun, here.price(start, begun), limit, &mut next);
            }
            here.clear();
            std::mem::swap(&mut here, &mut next);
        }
        all
    }

    /// Every start that can follow item `i` on `start`, with its price.
    fn go_on(&self, i: usize, start: i32, begun: bool, so_far: u32, limit: u32, next: &mut Row) {
        if i + 1 == self.items.len() {
            return;
        }
        let (ground, item) = (self.ground, &self.items[i]);
        let mut offer = |price: u32, start: i32, begun: bool| {
            if start < ground.end && price + self.of(i + 1, start) <= limit {
                next.offer(start, begun, price);
            }
        };
        let end = start + item.counts;
        let entry = judgement::entry(ground, item, start, begun);
        let danced =
            so_far + judgement::entry_price(entry) + judgement::dancing(ground, item, start, None);
        let straddling = match judgement::straddles(ground, item, start, entry) {
            true => judgement::off_phrase(ground.beside(start)),
            false => 0,
        };
        offer(danced + straddling, end, judgement::begun_then(ground, item, start, begun));
        let first = ground.span_index(start);
        if end < ground.end {
            for span in &ground.spans[ground.span_index(end) + 1..] {
                let price = danced + straddling + judgement::gap(span.start - end);
                if price > limit {
                    break;
                }
                offer(price, span.start, false);
            }
        }
        for span in ground.spans[first + 1..].iter().take_while(|s| s.start < end) {
            let straddling = if span.start > ground.spans[first].end { straddling } else { 0 };
            let price = danced + straddling + judgement::overrun(end - span.start);
            offer(price, span.start, false);
        }
        if item.counts > 0 && (item.fill || ground.is_start(start)) {
            offer(so_far + judgement::left_out(item), start, begun);
        }
    }
}

/// Starts that the first item can come to: the phrases, and right after the sheet's wait.
fn starts(ground: &Ground, stated_wait: Option<u32>) -> impl Iterator<Item = i32> {
    let waited = stated_wait
        .and_then(|w| i32::try_from(w).ok()?.checked_add(1))
        .filter(|&s| s < ground.end && !ground.is_start(s));
    ground.spans.iter().map(|s| s.start).chain(waited)
}

/// The cheapest ways to the starts of one item.
struct Row {
    prices: Vec<u32>,
    touched: Vec<(i32, bool)>,
}

impl Row {
    fn new(states: usize) -> Row {
        Row { prices: vec![NEVER; states], touched: Vec::new() }
    }

    fn cell(start: i32, begun: bool) -> usize {
        2 * start as usize + usize::from(begun)
    }

    fn price(&self, start: i32, begun: bool) -> u32 {
        self.prices[Row::cell(start, begun)]
    }

    fn offer(&mut self, start: i32, begun: bool, price: u32) {
        let cell = Row::cell(start, begun);
        if self.prices[cell] == NEVER {
            self.touched.push((start, begun));
        }
        self.prices[cell] = self.prices[cell].min(price);
    }

    fn reached(&self) -> Vec<Reached> {
        let mut starts: Vec<i32> = self.touched.iter().map(|t| t.0).collect();
        starts.sort_unstable();
        starts.dedup();
        let so_far = |start| [self.price(start, false), self.price(start, true)];
        starts.into_iter().map(|start| Reached { start, so_far: so_far(start) }).collect()
    }

    fn clear(&mut self) {
        for &(start, begun) in &self.touched {
            self.prices[Row::cell(start, begun)] = NEVER;
        }
        self.touched.clear();
    }
}
