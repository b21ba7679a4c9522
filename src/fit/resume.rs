//! A little changed order laid with what is known of the order before the change.
//!
//! Ways to the change cost what they cost before. From there on only what the change made cheaper is weighed anew: up to
//! places of items behind the change from which the cheapest rest is known.

use std::rc::Rc;

use super::align::Alignment;
use super::bound::{Bound, Changed};
use super::homes::Homes;
use super::task::{Change, Place, Task};
use super::ways::{Asked, Ways, Worth, all_ways, starts, ways};

/// All ways of an order, up to a limit, with some homes.
pub(super) struct Known {
    pub homes: Homes,
    pub bound: Rc<Bound>,
    ways: Ways,
    limit: u32,
    /// Items that may run on after the song: each with the count on which it is over, and the price of the way to it.
    running_on: Vec<(usize, i32, u32)>,
    /// Whether the best way of the order is the cheapest with these homes.
    best: bool,
}

/// What can be said of the changed order.
pub(super) enum Resumed {
    /// Every way costs more than the limit.
    Dearer,
    /// This is the cheapest way; all that cost as little come later.
    Way(Alignment),
    /// It is to be laid without what is known.
    Unsaid,
}

impl Known {
    pub fn new(
        task: &Task<'_>,
        homes: Homes,
        bound: Rc<Bound>,
        limit: u32,
        best: &Alignment,
    ) -> Known {
        let mut ways = all_ways(task, &bound, &homes, limit);
        ways.weigh(task, &homes, limit);
        let best =
            ways.cheapest(task).is_some_and(|w| w.price == best.price && w.starts == best.starts);
        let mut running_on = Vec::new();
        for (i, item) in task.items.iter().enumerate() {
            let over = ways.row(i).iter().map(|s| (i, s.place.start + item.counts, s.so_far));
            running_on.extend(over.filter(|over| over.1 >= task.ground.end));
        }
        Known { homes, bound, ways, limit, running_on, best }
    }

    /// Lays the changed order with these homes; `best` is the best way of the order before.
    pub fn resume(
        &self,
        change: &Change<'_>,
        bound: &Changed<'_>,
        best: &Alignment,
        limit: u32,
    ) -> Resumed {
        let (task, from) = (change.after, change.from);
        // Ways to the change that were too dear to be known must still be too dear.
        if self.limit < limit.saturating_add(bound.saved) {
            return Resumed::Unsaid;
        }
        // Nor is it said where the song may be over before the change.
        let ends = |&(i, end, so_far): &(usize, i32, u32)| {
            i < from && so_far.saturating_add(task.beyond(i + 1, end)) <= limit
        };
        if self.running_on.iter().any(ends) {
            return Resumed::Unsaid;
        }
        let worth = |i: usize, place: Place, so_far: u32| {
            self.worth(change, bound, limit, i, place, so_far)
        };
        let on_start = |i: usize| bound.on_start(i);
        let asked = Asked { homes: &self.homes, limit, from, most: usize::MAX };
        let mut found = if from == 0 {
            ways(task, asked, starts(task), worth, on_start)
        } else {
            let reached = self.ways.row(from).iter().map(|s| (s.place, s.so_far));
            let reached = reached.filter(|r| r.1 <= limit);
            ways(task, asked, reached, worth, on_start)
        };
        if found.least > limit {
            return Resumed::Dearer;
        }
        found.weigh(task, &self.homes, found.least);
        let Some(first) = found.first() else { return Resumed::Dearer };
        let alone = found.row(from).iter().filter(|s| s.whole() == first.whole()).count() == 1;
        let stays = Place { start: best.starts[from], begun: best.begun[from] } == first.place;
        // What leads to the first place of the best way is the first of what leads there as cheaply.
        if from > 0 && !(alone && self.best && stays) {
            return Resumed::Unsaid;
        }
        let mut way = Alignment {
            starts: best.starts[..from].to_vec(),
            begun: best.begun[..from].to_vec(),
            price: first.whole(),
            exact: true,
        };
        if let Some((item, place)) = found.follow(task, from, first, &mut way) {
            let item = item + change.before.items.len() - task.items.len();
            match self.ways.state(item, place) {
                Some(state) => _ = self.ways.follow(change.before, item, state, &mut way),
                None => return Resumed::Unsaid,
            }
        }
        Resumed::Way(way)
    }

    /// What is worth weighing of a place of item `i` in the changed order.
    fn worth(
        &self,
        change: &Change<'_>,
        bound: &Changed<'_>,
        limit: u32,
        i: usize,
        place: Place,
        so_far: u32,
    ) -> Worth {
        let (before, after) = (change.before.items.len(), change.after.items.len());
        let least = bound.of(change.after, i, place);
        if so_far.saturating_add(least) > limit {
            return Worth::Nothing;
        }
        if i + change.to_end < after {
            return Worth::Weighing(least);
        }
        match self.ways.state(i + before - after, place) {
            // Ways through it within what is known hold the cheapest.
            Some(state) if state.whole() <= self.limit => Worth::Known(state.rest),
            // The cheapest goes beyond that.
            Some(state) if so_far + (self.limit + 1 - state.so_far) > limit => Worth::Nothing,
            _ => Worth::Weighing(least),
        }
    }
}
