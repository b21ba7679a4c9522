//! Where each part of the order falls: the exact best by the prices in `judgement`.
//!
//! An item starts either right after the one before it, or with a phrase: later, which leaves a gap,
//! or earlier, which cuts the one before short. A fill may be left out anywhere, a part only where it
//! would start with a phrase. Over (item, start, whether a part began this phrase) the cheapest rest
//! is found backwards (see `ways`), so every way is weighed and none tried twice.
//!
//! "The same part on the same sort of phrase" looks at all times round at once and so does not fit
//! into such steps. It is priced as the number of times a part is away from its most frequent sort.
//! That is the least, over all homes one could give each part, of the times it is away from home;
//! with homes given, the steps suffice. Homes are settled one part at a time, on one sort or elsewhere,
//! what has the lowest bound first (branch and bound), until the best way found is cheaper than any bound.
//!
//! Of ways that cost the same the first is taken: by its first start, then by what follows each item.

use std::cell::{OnceCell, RefCell};
use std::cmp::{Ordering, Reverse};
use std::collections::BinaryHeap;
use std::rc::Rc;

use super::bound::{Bound, Changed};
use super::ground::{Ground, Item};
use super::homes::Homes;
use super::judgement::{NEVER, OTHER_KIND};
use super::moves::Book;
use super::resume::{Known, Resumed};
use super::task::{Change, Place, Reach, Task};
use super::ways::{all_ways, good_ways};

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

/// Most states, times items, that are reckoned with. Two hours of song and 800 parts stay below.
const MOST_CELLS: usize = 40_000_000;
/// Most states weighed in all before the best way found is taken as it is: about two seconds.
const MOST_WORK: usize = 400_000_000;
/// Most bounds kept for orders that are laid after this one, and how much more than the best way others may cost that
/// are known for them: about as much as a change saves.
const MOST_KEPT: usize = 16;
const KNOWN_BEYOND: u32 = 128;

/// An order laid on a song, with what was learnt on the way: homes that together leave nothing out, each with its
/// bound. An order that is little changed is laid by it much faster.
pub(super) struct Laying {
    pub way: Alignment,
    stated_wait: Option<u32>,
    kept: Option<Kept>,
    book: RefCell<Book>,
    known: OnceCell<Vec<Known>>,
}

/// What was learnt of the whole order.
struct Kept {
    reach: Rc<Reach>,
    homes: Vec<(Homes, Rc<Bound>)>,
}

/// Lays `items` on `ground`.
#[cfg(test)]
pub(super) fn align(ground: &Ground, items: &[Item], stated_wait: Option<u32>) -> Alignment {
    lay_order(ground, items, stated_wait, NEVER - 1).way
}

/// Lays `items` on `ground`. Where every way costs more than `limit` the price is [`NEVER`].
pub(super) fn lay_order(
    ground: &Ground,
    items: &[Item],
    stated_wait: Option<u32>,
    limit: u32,
) -> Laying {
    let within = items.len().min(most_items(ground));
    let (mut kept, mut book) = (None, Book::default());
    let mut way = if within == 0 || ground.spans.is_empty() {
        Alignment { exact: true, ..Alignment::default() }
    } else {
        let (laid, beyond) = items.split_at(within);
        let task = Task::new(ground, laid, beyond, stated_wait, &mut book);
        let homes = Homes::default();
        let whole = (homes.clone(), Rc::new(Bound::new(&task, &homes)));
        let mut search = Search::new(&task, limit.min(NEVER - 1));
        search.run(vec![whole]);
        if within == items.len() && (1..=MOST_KEPT).contains(&search.seen.len()) {
            let homes = std::mem::take(&mut search.seen);
            kept = Some(Kept { reach: Rc::clone(&task.reach), homes });
        }
        search.best.unwrap_or(Alignment { price: NEVER, exact: true, ..Alignment::default() })
    };
    // Parts beyond what is reckoned with follow each other; so do all when there is no song.
    way.exact &= within == items.len();
    for i in way.starts.len()..items.len() {
        let after = match i.checked_sub(1) {
            Some(before) => way.starts[before].saturating_add(items[before].counts),
            None => 1 + stated_wait.unwrap_or(0).min(1_000_000) as i32,
        };
        way.starts.push(after.max(ground.end));
        way.begun.push(false);
    }
    Laying { way, stated_wait, kept, book: RefCell::new(book), known: OnceCell::new() }
}

fn most_items(ground: &Ground) -> usize {
    MOST_CELLS / (2 * ground.end.max(1) as usize)
}

impl Laying {
    /// Lays a changed order, `items` being the order that was laid: the same as [`lay_order`] finds. `None` where
    /// every way costs more than `limit`.
    pub fn lay_changed(
        &self,
        ground: &Ground,
        items: &[Item],
        changed: &[Item],
        stated_wait: Option<u32>,
        limit: u32,
    ) -> Option<Alignment> {
        let anew = || {
            let way = lay_order(ground, changed, stated_wait, limit).way;
            Some(way).filter(|w| w.price <= limit)
        };
        let too_many = changed.is_empty() || changed.len() > most_items(ground);
        let Some(kept) = self.kept.as_ref().filter(|_| !too_many) else { return anew() };
        let alike = |pairs: &mut dyn Iterator<Item = (&Item, &Item)>| -> usize {
            pairs.take_while(|(a, b)| a == b).count()
        };
        let fewest = items.len().min(changed.len());
        let from = match stated_wait == self.stated_wait {
            true => alike(&mut items.iter().zip(changed)),
            false => 0,
        };
        let to_end = alike(&mut items.iter().rev().zip(changed.iter().rev())).min(fewest - from);
        let reach = Rc::clone(&kept.reach);
        let before = Task { ground, items, stated_wait: self.stated_wait, reach };
        let task = Task::new(ground, changed, &[], stated_wait, &mut self.book.borrow_mut());
        let limit = match self.as_before(&task, items, from, to_end) {
            Some(way) => limit.min(way),
            None => limit,
        };
        // Behind the last item other things can follow than behind the others.
        let from = if to_end == 0 { from.min(fewest - 1) } else { from };
        // The place of the item before the change is mostly the same.
        let from = from.saturating_sub(1);
        let limit = limit.min(NEVER - 1);
        let change = Change { before: &before, after: &task, from, to_end };
        let known = self.known.get_or_init(|| self.learnt(&before, &kept.homes));
        let bounds: Vec<Changed<'_>> =
            known.iter().map(|k| k.bound.changed(&change, &k.homes)).collect();
        match self.resumed(&change, known, &bounds, limit) {
            Resumed::Dearer => return None,
            Resumed::Way(way) => return Some(way),
            Resumed::Unsaid => {}
        }
        let mut search = Search::new(&task, limit);
        let whole =
            |(k, b): (&Known, &Changed<'_>)| (k.homes.clone(), Rc::new(b.whole(changed.len())));
        search.run(known.iter().zip(&bounds).map(whole).collect());
        match search.best {
            Some(way) => Some(way),
            None if limit >= NEVER - 1 => anew(),
            None => None,
        }
    }

    /// All ways that cost little more than the best, with the homes kept.
    fn learnt(&self, task: &Task<'_>, kept: &[(Homes, Rc<Bound>)]) -> Vec<Known> {
        let limit = self.way.price.saturating_add(KNOWN_BEYOND).min(NEVER - 1);
        let known = |(homes, bound): &(Homes, Rc<Bound>)| {
            Known::new(task, homes.clone(), Rc::clone(bound), limit, &self.way)
        };
        kept.iter().map(known).collect()
    }

    /// The best way of the changed order, where what is known says it: of the homes known all but one lead to dearer
    /// ways only, and with that one nothing is left open.
    fn resumed(
        &self,
        change: &Change<'_>,
        known: &[Known],
        bounds: &[Changed<'_>],
        limit: u32,
    ) -> Resumed {
        let mut best: Option<Alignment> = None;
        for (known, bound) in known.iter().zip(bounds) {
            let limit = best.as_ref().map_or(limit, |best| best.price);
            match known.resume(change, bound, &self.way, limit) {
                Resumed::Dearer => {}
                Resumed::Way(way)
                    if best.is_none() && is_settled(change.after, &known.homes, &way) =>
                {
                    best = Some(way);
                }
                _ => return Resumed::Unsaid,
            }
        }
        best.map_or(Resumed::Dearer, Resumed::Way)
    }

    /// The price of the changed order where all that is not changed stays in its place, if that is a way.
    fn as_before(
        &self,
        task: &Task<'_>,
        items: &[Item],
        from: usize,
        to_end: usize,
    ) -> Option<u32> {
        let mut starts = self.way.starts[..from].to_vec();
        let changed = task.items.len() - to_end;
        for i in from..changed {
            let start = match i.checked_sub(1) {
                Some(before) => starts[before].saturating_add(task.items[before].counts),
                None => *self.way.starts.first()?,
            };
            starts.push(start);
        }
        starts.extend_from_slice(&self.way.starts[items.len() - to_end..]);
        price_of(task, &starts)
    }
}

/// Whether a way costs what it costs with these homes.
fn is_settled(task: &Task<'_>, homes: &Homes, way: &Alignment) -> bool {
    let paid: u32 = danced(task, way).map(|(item, kind)| homes.price(item, kind)).sum();
    let away: u32 = times_away(task, &Homes::default(), way).iter().map(|a| a.1).sum();
    paid == OTHER_KIND * away
}

/// The price of a way; `None` where that is none.
fn price_of(task: &Task<'_>, starts: &[i32]) -> Option<u32> {
    let first = *starts.first()?;
    let mut price = task.starts().find(|s| s.0 == first)?.1;
    let mut way = Alignment { starts: starts.to_vec(), ..Alignment::default() };
    let mut place = Place { start: first, begun: false };
    for i in 0..starts.len() {
        let wanted = starts.get(i + 1).copied();
        let mut best: Option<(u32, Place)> = None;
        task.each_next(i, place, &Homes::default(), NEVER, |price, then| {
            let is_next = wanted.is_none_or(|w| w == then.start);
            if is_next && best.is_none_or(|b| price < b.0) {
                best = Some((price, then));
            }
        });
        let (step, then) = best?;
        price = price.saturating_add(step);
        if let Some(ending) = task.ending(i + 1, then.start) {
            price = price.saturating_add(ending);
            way.price = price;
            break;
        }
        place = then;
    }
    let away: u32 = times_away(task, &Homes::default(), &way).iter().map(|a| a.1).sum();
    Some(price.saturating_add(OTHER_KIND * away))
}

/// How much more than the least ways may cost for the bound before a split to say enough: two parts on other sorts of
/// phrase than most times.
const NEAR: u32 = 2 * OTHER_KIND;

/// Homes that are not settled yet, and the best way with them.
struct Node {
    homes: Homes,
    bound: Rc<Bound>,
    part: usize,
    kind: u16,
}

struct Search<'a> {
    task: &'a Task<'a>,
    limit: u32,
    best: Option<Alignment>,
    nodes: Vec<Option<Node>>,
    open: BinaryHeap<Reverse<(u32, usize)>>,
    /// Homes that need not be looked into further.
    seen: Vec<(Homes, Rc<Bound>)>,
    work: usize,
}

impl<'a> Search<'a> {
    fn new(task: &'a Task<'a>, limit: u32) -> Self {
        Search {
            task,
            limit,
            best: None,
            nodes: Vec::new(),
            open: BinaryHeap::new(),
            seen: Vec::new(),
            work: 0,
        }
    }

    /// The most that a way may cost that is still of use.
    fn most(&self) -> u32 {
        self.best.as_ref().map_or(self.limit, |best| best.price)
    }

    /// Finds the best way within the limit, among those with any of these homes.
    fn run(&mut self, among: Vec<(Homes, Rc<Bound>)>) {
        let mut exact = true;
        for (homes, bound) in among {
            self.consider(homes, bound);
        }
        while let Some(Reverse((price, n))) = self.open.pop() {
            let Some(node) = self.nodes[n].take() else { continue };
            if price > self.most() {
                self.seen.push((node.homes, node.bound));
                continue;
            }
            if self.work > MOST_WORK {
                exact = false;
                break;
            }
            for homes in node.homes.split(node.part, node.kind) {
                let bound = self.bound(&homes, &node.bound);
                self.consider(homes, bound);
            }
        }
        if let Some(best) = &mut self.best {
            best.exact = exact;
        }
        if !exact {
            self.seen.clear();
        }
    }

    /// The bound with these homes, or that before they were split: where few ways are of use still, that says enough.
    fn bound(&mut self, homes: &Homes, before: &Rc<Bound>) -> Rc<Bound> {
        if self.most() <= before.least(self.task).saturating_add(NEAR) {
            return Rc::clone(before);
        }
        let bound = Bound::new(self.task, homes);
        self.work += bound.cells();
        Rc::new(bound)
    }

    /// Finds the best way with these homes, and keeps them to be looked into.
    fn consider(&mut self, homes: Homes, bound: Rc<Bound>) {
        let Some(mut way) = self.cheapest(&homes, &bound) else {
            self.seen.push((homes, bound));
            return;
        };
        let price = way.price;
        let astray = times_away(self.task, &homes, &way);
        let unsettled = (0..astray.len()).filter(|&p| astray[p].1 > 0).max_by_key(|&p| astray[p].1);
        let settled = times_away(self.task, &Homes::default(), &way);
        let paid = self.paid(&homes, &way);
        way.price = price - paid + OTHER_KIND * settled.iter().map(|a| a.1).sum::<u32>();
        let better = self.best.as_ref().is_none_or(|best| {
            let by_price = way.price.cmp(&best.price);
            by_price.then_with(|| first_of(self.task.items, &way, best)) == Ordering::Less
        });
        if better && way.price <= self.limit {
            self.best = Some(way);
        }
        match unsettled {
            Some(part) if price <= self.most() => {
                self.open.push(Reverse((price, self.nodes.len())));
                let kind = astray[part].0;
                self.nodes.push(Some(Node { homes, bound, part, kind }));
            }
            _ => self.seen.push((homes, bound)),
        }
    }

    /// The cheapest way with these homes that is still of use, found among those that cost no more than a good one.
    fn cheapest(&mut self, homes: &Homes, bound: &Bound) -> Option<Alignment> {
        let (least, most) = (bound.least(self.task), self.most());
        if least > most {
            return None;
        }
        let good = good_ways(self.task, bound, homes, most);
        let within = good.least.min(most);
        let mut ways = all_ways(self.task, bound, homes, within);
        self.work += good.weighed() + ways.weighed();
        if ways.least > within {
            return None;
        }
        ways.weigh(self.task, homes, ways.least);
        ways.cheapest(self.task)
    }

    /// What a way pays for being away from home.
    fn paid(&self, homes: &Homes, way: &Alignment) -> u32 {
        danced(self.task, way).map(|(item, kind)| homes.price(item, kind)).sum()
    }
}

/// The items that are danced on the song, and the sort of phrase of each.
fn danced<'a>(task: &'a Task<'_>, way: &'a Alignment) -> impl Iterator<Item = (&'a Item, u16)> {
    let (ground, items) = (task.ground, task.items);
    let on_song = move |i: usize| {
        let start = way.starts[i];
        (start < ground.end && !items[i].fill && !way.is_left_out(items, i))
            .then(|| (&items[i], ground.span(start).kind))
    };
    (0..items.len()).filter_map(on_song)
}

/// For each part its most frequent sort among those on which it may be at home, and how many times it is on others of
/// these.
fn times_away(task: &Task<'_>, homes: &Homes, way: &Alignment) -> Vec<(u16, u32)> {
    let parts = task.items.iter().map(|i| i.part + 1).max().unwrap_or(0);
    let kinds = task.ground.kinds.len();
    let mut times = vec![0u32; parts * kinds];
    for (item, kind) in danced(task, way).filter(|(item, kind)| homes.is_home(item.part, *kind)) {
        times[item.part * kinds + usize::from(kind)] += 1;
    }
    let away = |times: &[u32]| {
        let most = (0..kinds).rev().max_by_key(|&k| times[k]).unwrap_or(0);
        (most as u16, times.iter().sum::<u32>() - times[most])
    };
    times.chunks(kinds.max(1)).map(away).collect()
}

/// Which of two ways comes first: by the first start, then by what follows each item, in the order of
/// [`Task::each_next`].
fn first_of(items: &[Item], a: &Alignment, b: &Alignment) -> Ordering {
    let Some(i) = (0..items.len()).find(|&i| a.starts[i] != b.starts[i]) else {
        return Ordering::Equal;
    };
    let follows = |way: &Alignment| {
        let start = way.starts[i];
        let Some(before) = i.checked_sub(1) else { return (0, start) };
        let (from, end) = (way.starts[before], way.starts[before] + items[before].counts);
        let rank = match start {
            _ if start == end => 0,
            _ if start > end => 1,
            _ if start > from => 2,
            _ => 3,
        };
        (rank, start)
    };
    follows(a).cmp(&follows(b))
}
