//! What the rest of the order costs at the least.
//!
//! A start within a phrase is taken as any start within it, so that a row has three places for each
//! phrase: its first count, and somewhere after, the phrase being begun by a part or not. From such a
//! place everything costs at most what it costs from any start that it stands for. With these bounds a start is worth weighing only if the
//! cheapest way to it and the bound of the rest stay within a limit; no way within the limit is lost.

use super::homes::Homes;
use super::judgement::{self, NEVER};
use super::moves::{Follows, SORTS, stands};
use super::task::{Change, Place, Task};
use super::ways::starts;

/// Bounds of the rest for each item: a row for each, of the starts in the order of [`stands`].
pub(super) struct Bound {
    /// Starts in a row.
    starts: usize,
    /// The item of the first row.
    first: usize,
    rows: Vec<u32>,
    /// The least for each item that starts with any phrase.
    on_start: Vec<u32>,
}

impl Bound {
    /// With homes given.
    pub fn new(task: &Task<'_>, homes: &Homes) -> Bound {
        let items = task.items.len();
        let mut bound = Bound::empty(SORTS * task.ground.spans.len(), 0, items);
        bound.fill(task, homes, 0..items);
        bound
    }

    /// For a changed order, `self` being the bound of the order before.
    pub fn changed(&self, change: &Change<'_>, homes: &Homes) -> Changed<'_> {
        let Change { before, after: task, from, to_end } = *change;
        let items = task.items.len();
        // Where the phrase of the first item behind the change is begun depends on what is before that.
        let is_alike = |n: usize| {
            before.reach.begun_for[before.items.len() - n] == task.reach.begun_for[items - n]
        };
        let to_end = (1..=to_end).rev().find(|&n| is_alike(n)).unwrap_or(0);
        let (until, same) = (items - to_end, before.items.len() - to_end);
        let mut rows = Bound::empty(self.starts, from, until - from);
        let last = rows.row(until);
        rows.rows[last].copy_from_slice(&self.rows[self.row(same)]);
        rows.on_start[until - from] = self.on_start[same];
        rows.fill(task, homes, from..until);
        let saved = if from > 0 { self.most_saved(before, task, &rows, from) } else { 0 };
        Changed { before: self, rows, until, same, saved }
    }

    /// The most by which the rest from item `i` on costs less in `changed`, wherever that starts.
    fn most_saved(&self, before: &Task<'_>, task: &Task<'_>, changed: &Bound, i: usize) -> u32 {
        let saved = match before.reach.rest[i] - task.reach.rest[i] {
            fewer @ 1.. => judgement::ends_first(fewer) + 1,
            _ => 0,
        };
        let row = self.rows[self.row(i)].iter().zip(&changed.rows[changed.row(i)]);
        row.map(|(of, then)| of.saturating_sub(*then)).fold(saved, u32::max)
    }

    /// How many bounds there are.
    pub fn cells(&self) -> usize {
        self.rows.len()
    }

    #[inline]
    fn row(&self, i: usize) -> std::ops::Range<usize> {
        let start = (i - self.first) * self.starts;
        start..start + self.starts
    }

    fn empty(starts: usize, first: usize, items: usize) -> Bound {
        let rows = vec![NEVER; starts * (items + 1)];
        Bound { starts, first, rows, on_start: vec![NEVER; items + 1] }
    }

    /// Finds the bounds of some items, those of the items behind them being known.
    fn fill(&mut self, task: &Task<'_>, homes: &Homes, items: std::ops::Range<usize>) {
        let spans = task.ground.spans.len();
        for i in items.rev() {
            let (here, behind) = self.rows.split_at_mut((i + 1 - self.first) * self.starts);
            let row = &mut here[(i - self.first) * self.starts..];
            let table = &task.reach.moves[i];
            let then = Then::new(task, i + 1, &behind[..self.starts]);
            let home = task.ground.spans.iter().map(|s| homes.price(&task.items[i], s.kind));
            let home: Vec<u32> = home.collect();
            let is_last = i + 1 == task.items.len();
            let cells = row.iter_mut().zip(home.iter().cycle());
            for (stand, ((cell, &home), from)) in cells.zip(table.each()).enumerate() {
                *cell = match is_last {
                    true => least_at_end(task, home, from),
                    false => then.least_from(task, i, stand, home, from),
                };
            }
            let on_start = row[..spans].iter().copied().min();
            self.on_start[i - self.first] = on_start.unwrap_or(NEVER);
        }
    }

    /// The least that the rest from item `i` on can cost, starting at a place.
    #[inline]
    pub fn of(&self, task: &Task<'_>, i: usize, place: Place) -> u32 {
        task.ending(i, place.start).unwrap_or_else(|| self.at(task, i, place))
    }

    /// The least that the rest from item `i` on can cost, starting with any phrase.
    #[inline]
    pub fn on_start(&self, i: usize) -> u32 {
        self.on_start[i - self.first]
    }

    /// As [`of`](Self::of), at a place where neither the song nor the order is over.
    #[inline]
    fn at(&self, task: &Task<'_>, i: usize, place: Place) -> u32 {
        self.rows[(i - self.first) * self.starts + stands(task.ground, place)]
    }

    /// The least that any way can cost.
    pub fn least(&self, task: &Task<'_>) -> u32 {
        let starts = starts(task).map(|(place, price)| price + self.of(task, 0, place));
        starts.min().unwrap_or(NEVER)
    }
}

/// The bounds behind an item.
struct Then<'r> {
    row: &'r [u32],
    /// For each phrase the least, over it and later ones, of the bound from its start and the price of the counts up to
    /// it.
    by_phrase: Vec<u32>,
}

impl<'r> Then<'r> {
    fn new(task: &Task<'_>, i: usize, row: &'r [u32]) -> Then<'r> {
        let (_, each) = judgement::gap_parts();
        let spans = &task.ground.spans;
        let mut by_phrase = vec![NEVER; spans.len() + 1];
        if i < task.items.len() {
            for (k, span) in spans.iter().enumerate().rev() {
                let here = row[k].saturating_add(each * span.start as u32);
                by_phrase[k] = here.min(by_phrase[k + 1]);
            }
        }
        Then { row, by_phrase }
    }

    /// The least that the rest from item `i` on, before these, can cost, starting so.
    #[inline]
    fn least_from(
        &self,
        task: &Task<'_>,
        i: usize,
        stand: usize,
        home: u32,
        (from, moves, _): Follows<'_>,
    ) -> u32 {
        if moves.is_empty() && from.beyond.is_none() {
            return NEVER;
        }
        let beyond = from.beyond.map(|(price, end)| price + task.beyond(i + 1, end));
        let mut least = beyond.unwrap_or(NEVER);
        least = moves.iter().map(|m| m.price + self.row[m.to as usize]).fold(least, u32::min);
        if let Some((price, end, phrase)) = from.later
            && self.by_phrase[phrase as usize] < NEVER
        {
            let after = self.by_phrase[phrase as usize] - judgement::gap_parts().1 * end as u32;
            least = least.min(price + after);
        }
        least = least.saturating_add(home);
        from.out.map_or(least, |out| least.min(out + self.row[stand]))
    }
}

/// The least that the last item can cost, starting so.
fn least_at_end(task: &Task<'_>, home: u32, (from, _, ends): Follows<'_>) -> u32 {
    let beyond = from.beyond.map(|(price, end)| price + task.beyond(task.items.len(), end));
    let ends = ends.iter().map(|&(price, end)| price + task.after_all(end));
    ends.fold(beyond.unwrap_or(NEVER), u32::min).saturating_add(home)
}

/// The bound of a changed order, by that of the order before.
pub(super) struct Changed<'b> {
    before: &'b Bound,
    /// From the first item changed to the first behind the change.
    rows: Bound,
    until: usize,
    /// The first item behind the change, before it was made.
    same: usize,
    /// What the change saves at most. Everything before it costs less by at most that.
    pub saved: u32,
}

impl Changed<'_> {
    /// As [`Bound::of`], from the change on.
    #[inline]
    pub fn of(&self, task: &Task<'_>, i: usize, place: Place) -> u32 {
        match task.ending(i, place.start) {
            Some(ending) => ending,
            None if i < self.until => self.rows.of(task, i, place),
            None => self.before.at(task, self.same + i - self.until, place),
        }
    }

    /// As [`Bound::on_start`], from the change on.
    #[inline]
    pub fn on_start(&self, i: usize) -> u32 {
        match i < self.until {
            true => self.rows.on_start(i),
            false => self.before.on_start(self.same + i - self.until),
        }
    }

    /// For all items.
    pub fn whole(&self, items: usize) -> Bound {
        let (starts, from) = (self.rows.starts, self.rows.first);
        let mut bound = Bound::empty(starts, 0, items);
        let (start, behind) = (from * starts, self.until * starts);
        for (to, of) in bound.rows.iter_mut().zip(&self.before.rows).take(start) {
            *to = of.saturating_sub(self.saved);
        }
        bound.rows[start..behind + starts].copy_from_slice(&self.rows.rows);
        bound.rows[behind..].copy_from_slice(&self.before.rows[self.same * starts..]);
        for (i, to) in bound.on_start.iter_mut().enumerate() {
            *to = match i < from {
                true => self.before.on_start(i).saturating_sub(self.saved),
                false => self.on_start(i),
            };
        }
        bound
    }
}
