//! Where each part of the order falls: the exact best by the prices in `judgement`.
//!
//! An item starts either right after the one before it, or with a phrase: later, which leaves a gap,
//! or earlier, which cuts the one before short. A fill may be left out anywhere, a part only where it
//! would start with a phrase. Over (item, start, whether a part began this phrase) the cheapest rest
//! is found backwards (see `table`), so every way is weighed and none tried twice.
//!
//! "The same part on the same sort of phrase" looks at all times round at once and so does not fit
//! into such steps. It is priced as the number of times a part is away from its most frequent sort.
//! That is the least, over all homes one could give each part, of the times it is away from home;
//! with homes given, the steps suffice. Homes are given one part at a time, the way with the lowest
//! bound first (branch and bound), until the best way found is no dearer than any bound.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::bound::Bound;
use super::ground::{Ground, Item};

use super::judgement::{NEVER, OTHER_KIND};
use super::table::Table;

/// The order laid on the song.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Alignment {
    /// Start of each item; from the song's end on they follow each other without regard to it.
    pub starts: Vec<i32>,
    /// Whether a part had started with the phrase in which the item starts.
    pub begun: Vec<bool>,
    /// Price of the whole.
    pub price: u32,
    /// Whether it is known to be the best.
    pub exact: bool,
}

impl Alignment {
    /// Whether an item is left out for want of room: the next starts where it would.
    pub fn is_left_out(&self, items: &[Item], i: usize) -> bool {
        items[i].counts > 0 && self.starts.get(i + 1) == Some(&self.starts[i])
    }
}

/// Most cells of the table, states times items: 160 MB. Two hours of song and 800 parts stay below.
const MOST_CELLS: usize = 40_000_000;
/// Most states weighed in all before the best way found is taken as it is: about two seconds.
const MOST_WORK: usize = 400_000_000;

/// Lays `items` on `ground`.
pub(super) fn align(ground: &Ground, items: &[Item], stated_wait: Option<u32>) -> Alignment {
    let states = 2 * (ground.end.max(1) as usize);
    let within = items.len().min(MOST_CELLS / states);
    let mut best = if within == 0 || ground.spans.is_empty() {
        Alignment { exact: true, ..Alignment::default() }
    } else {
        best_within_limits(ground, &items[..within], &items[within..], stated_wait)
    };
    // Parts beyond what the table holds follow each other; so do all when there is no song.
    best.exact &= within == items.len();
    for i in best.starts.len()..items.len() {
        let after = match i.checked_sub(1) {
            Some(before) => best.starts[before].saturating_add(items[before].counts),
            None => 1 + stated_wait.unwrap_or(0).min(1_000_000) as i32,
        };
        best.starts.push(after.max(ground.end));
        best.begun.push(false);
    }
    best
}

/// Lays `items` on `ground` where that costs at most `limit`: `None` where every way costs more.
pub(super) fn align_within(
    ground: &Ground,
    items: &[Item],
    stated_wait: Option<u32>,
    limit: u32,
) -> Option<Alignment> {
    let states = 2 * (ground.end.max(1) as usize);
    if items.is_empty() || ground.spans.is_empty() || items.len() > MOST_CELLS / states {
        return Some(align(ground, items, stated_wait));
    }
    let rest = rest(items, &[]);
    let bound = Bound::new(ground, items, &rest);
    if bound.least(stated_wait) > limit {
        return None;
    }
    let reach = bound.reach(stated_wait, limit);
    let mut table = Table::new(ground, items, &rest, stated_wait, reach);
    if table.least() > limit {
        return None;
    }
    let best = table.within(limit).map(|table| Search::new(table).run(limit))?;
    (best.price <= limit).then_some(best)
}

/// Counts of the items from each on, and of `beyond`.
fn rest(items: &[Item], beyond: &[Item]) -> Vec<i32> {
    let mut rest = vec![beyond.iter().fold(0i32, |sum, i| sum.saturating_add(i.counts))];
    for item in items.iter().rev() {
        rest.push(item.counts.saturating_add(rest[rest.len() - 1]));
    }
    rest.reverse();
    rest
}

/// The best way. First without the price of other sorts of phrase, which takes one pass over the table and leaves
/// few starts worth weighing; then with it, among ways that cost little more than that, and if there is none such,
/// among dearer ones. `beyond` only counts if the song is over by then.
fn best_within_limits(
    ground: &Ground,
    items: &[Item],
    beyond: &[Item],
    stated_wait: Option<u32>,
) -> Alignment {
    let rest = rest(items, beyond);
    let bound = Bound::new(ground, items, &rest);
    let table =
        |limit: u32| Table::new(ground, items, &rest, stated_wait, bound.reach(stated_wait, limit));
    let mut limit = bound.least(stated_wait).saturating_add(FIRST_LIMIT).min(NEVER - 1);
    let mut weighed = table(limit);
    let mut least = weighed.least();
    while least > limit && limit < NEVER - 1 {
        // A way found beyond the limit is a limit that there is a way within.
        let next = if least < NEVER { least } else { limit.saturating_mul(LIMIT_GROWS) };
        limit = next.saturating_add(FIRST_LIMIT).min(NEVER - 1);
        weighed = table(limit);
        least = weighed.least();
    }
    let mut more = FIRST_LIMIT;
    loop {
        let within = least.saturating_add(more).min(NEVER - 1);
        if within > limit {
            limit = within;
            weighed = table(limit);
            least = weighed.least();
        }
        let Some(near) = weighed.within(within) else {
            return Alignment { price: NEVER, exact: true, ..Alignment::default() };
        };
        let best = Search::new(near).run(within);
        let given_up = !best.exact && best.price < NEVER;
        if best.price <= within || given_up || within == NEVER - 1 {
            return best;
        }
        more = more.saturating_mul(LIMIT_GROWS);
    }
}

/// How much more than the least a way may cost at first, and by how much that grows where no way is
/// found: about the price of one part on another sort of phrase.
const FIRST_LIMIT: u32 = 64;
const LIMIT_GROWS: u32 = 2;

/// The homes given so far, and the best way with them.
struct Node {
    homes: Vec<Option<u16>>,
    way: Alignment,
}

struct Search<'a> {
    table: Table<'a>,
    nodes: Vec<Node>,
    open: BinaryHeap<Reverse<(u32, usize)>>,
    best: Alignment,
    work: usize,
}

impl<'a> Search<'a> {
    fn new(table: Table<'a>) -> Self {
        let best = Alignment { price: u32::MAX, ..Alignment::default() };
        Search { table, nodes: Vec::new(), open: BinaryHeap::new(), best, work: 0 }
    }

    /// The best way of at most `limit`, if there is one.
    fn run(mut self, limit: u32) -> Alignment {
        let parts = self.table.items.iter().map(|i| i.part + 1).max().unwrap_or(0);
        self.consider(vec![None; parts], limit);
        self.best.exact = true;
        while let Some(Reverse((bound, node))) = self.open.pop() {
            if self.best.price <= bound {
                break;
            }
            if self.work > MOST_WORK {
                self.best.exact = false;
                break;
            }
            let Node { homes, way } = &self.nodes[node];
            let away = self.away(homes, way);
            let most_away = (0..parts).filter(|&p| away[p] > 0).max_by_key(|&p| away[p]);
            let Some(part) = most_away else { continue };
            let homes = homes.clone();
            for kind in 0..self.table.ground.kinds.len() as u16 {
                let mut homes = homes.clone();
                homes[part] = Some(kind);
                self.consider(homes, limit);
            }
        }
        self.best
    }

    /// Finds the best way with these homes, and keeps it to be looked into.
    fn consider(&mut self, homes: Vec<Option<u16>>, limit: u32) {
        self.work += self.table.fill(&homes);
        let mut way = self.table.best_way(&homes);
        let bound = way.price;
        if bound > limit {
            return;
        }
        way.price += OTHER_KIND * self.away(&homes, &way).iter().sum::<u32>();
        if way.price < self.best.price {
            self.best = Alignment { exact: true, ..way.clone() };
        }
        if bound < self.best.price {
            self.open.push(Reverse((bound, self.nodes.len())));
            self.nodes.push(Node { homes, way });
        }
    }

    /// For each part without a home, how many times it is away from its most frequent sort.
    fn away(&self, homes: &[Option<u16>], way: &Alignment) -> Vec<u32> {
        let (ground, items) = (self.table.ground, self.table.items);
        let kinds = ground.kinds.len();
        let mut times = vec![0u32; homes.len() * kinds];
        for (i, item) in items.iter().enumerate() {
            let start = way.starts[i];
            if start < ground.end && !item.fill && !way.is_left_out(items, i) {
                times[item.part * kinds + usize::from(ground.span(start).kind)] += 1;
            }
        }
        let away = |(part, home): (usize, &Option<u16>)| match home {
            Some(_) => 0,
            None => {
                let times = &times[part * kinds..(part + 1) * kinds];
                times.iter().sum::<u32>() - times.iter().max().copied().unwrap_or(0)
            }
        };
        homes.iter().enumerate().map(away).collect()
    }
}
