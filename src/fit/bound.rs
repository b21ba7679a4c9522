//! What the rest of the order costs at the least.
//!
//! A start within a phrase is taken as any start within it, so that a row has three places for each
//! phrase: its first count, and somewhere after, the phrase being begun by a part or not. From such a
//! place everything costs at most what it costs from any start that it stands for. With these bounds a start is worth weighing only if the
//! cheapest way to it and the bound of the rest stay within a limit; no way within the limit is lost.

use super::homes::Homes;
use super::judgement::{self, NEVER};
use super::moves::{Move, ON_START, stands};
use super::task::{Change, Place, Task};
use super::ways::starts;

/// Bounds of the rest for each item and phrase, a row for each sort of start.
pub(super) struct Bound {
    spans: usize,
    /// The item of the first cells.
    first: usize,
    rows: [Vec<u32>; 3],
    /// The least for each item that starts with any phrase.
    on_start: Vec<u32>,
}

impl Bound {
    /// With homes given.
    pub fn new(task: &Task<'_>, homes: &Homes) -> Bound {
        let (spans, items) = (task.ground.spans.len(), task.items.len());
        let mut bound = Bound::empty(spans, 0, items);
        bound.fill(task, homes, 0..items);
        bound
    }

    /// For a changed order, `self` being the bound of the order before.
    pub fn changed(&self, change: &Change<'_>, homes: &Homes) -> Changed<'_> {
        let Change { before, after: task, from, to_end } = *change;
        let (spans, items) = (self.spans, task.items.len());
        // Where the phrase of the first item behind the change is begun depends on what is before that.
        let is_alike = |n: usize| {
            before.reach.begun_for[before.items.len() - n] == task.reach.begun_for[items - n]
        };
        let to_end = (1..=to_end).rev().find(|&n| is_alike(n)).unwrap_or(0);
        let (until, same) = (items - to_end, before.items.len() - to_end);
        let mut rows = Bound::empty(spans, from, until - from);
        for (to, of) in rows.rows.iter_mut().zip(&self.rows) {
            to[(until - from) * spans..].copy_from_slice(&of[same * spans..(same + 1) * spans]);
        }
        rows.on_start[until - from] = self.on_start[same];
        rows.fill(task, homes, from..until);
        let saved = if from > 0 { self.most_saved(before, task, &rows, from) } else { 0 };
        Changed { before: self, rows, until, same, saved }
    }

    /// The most by which the rest from item `i` on costs less in `changed`, wherever that starts.
    fn most_saved(&self, before: &Task<'_>, task: &Task<'_>, changed: &Bound, i: usize) -> u32 {
        let mut saved = match before.reach.rest[i] - task.reach.rest[i] {
            fewer @ 1.. => judgement::ends_first(fewer) + 1,
            _ => 0,
        };
        let row = |bound: &Bound| bound.cell(i, 0)..bound.cell(i + 1, 0);
        for (of, then) in self.rows.iter().zip(&changed.rows) {
            let pairs = of[row(self)].iter().zip(&then[row(changed)]);
            saved = pairs.map(|(of, then)| of.saturating_sub(*then)).fold(saved, u32::max);
        }
        saved
    }

    /// How many bounds there are.
    pub fn cells(&self) -> usize {
        self.rows.iter().map(Vec::len).sum()
    }

    #[inline]
    fn cell(&self, i: usize, k: usize) -> usize {
        (i - self.first) * self.spans + k
    }

    fn empty(spans: usize, first: usize, items: usize) -> Bound {
        let rows = [0, 1, 2].map(|_| vec![NEVER; spans * (items + 1)]);
        Bound { spans, first, rows, on_start: vec![NEVER; items + 1] }
    }

    /// Finds the bounds of some items, those of the items behind them being known.
    fn fill(&mut self, task: &Task<'_>, homes: &Homes, items: std::ops::Range<usize>) {
        let mut by_phrase = Vec::with_capacity(self.spans + 1);
        for i in items.rev() {
            self.lay_by_phrase(task, i + 1, &mut by_phrase);
            for (k, span) in task.ground.spans.iter().enumerate() {
                let home = homes.price(&task.items[i], span.kind);
                let cell = self.cell(i, k);
                for from in 0..self.rows.len() {
                    self.rows[from][cell] = self.least_from(task, i, k, from, home, &by_phrase);
                }
            }
            let row = &self.rows[ON_START][self.cell(i, 0)..self.cell(i + 1, 0)];
            self.on_start[i - self.first] = row.iter().copied().min().unwrap_or(NEVER);
        }
    }

    /// The least that the rest from item `i` on can cost, starting so in phrase `k`.
    #[inline]
    fn least_from(
        &self,
        task: &Task<'_>,
        i: usize,
        k: usize,
        from: usize,
        home: u32,
        by_phrase: &[u32],
    ) -> u32 {
        let moves = &task.reach.moves[i][k][from];
        let beyond = moves.beyond.map(|(price, end)| price + task.beyond(i + 1, end));
        let mut least = beyond.unwrap_or(NEVER);
        if i + 1 == task.items.len() {
            let ends = |m: &Move| Some(m.price + task.after_all(m.right_after?));
            return moves.moves.iter().filter_map(ends).fold(least, u32::min).saturating_add(home);
        }
        let next = self.cell(i + 1, 0);
        for m in &moves.moves {
            least = least.min(m.price + self.rows[m.to][next + m.phrase]);
        }
        if let Some((price, end, phrase)) = moves.later
            && by_phrase[phrase] < NEVER
        {
            least = least.min(price + by_phrase[phrase] - judgement::gap_parts().1 * end as u32);
        }
        least = least.saturating_add(home);
        moves.out.map_or(least, |out| least.min(out + self.rows[from][next + k]))
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
        let (k, to) = stands(task.ground, place);
        self.rows[to][self.cell(i, k)]
    }

    /// The least that any way can cost.
    pub fn least(&self, task: &Task<'_>) -> u32 {
        let starts = starts(task).map(|(place, price)| price + self.of(task, 0, place));
        starts.min().unwrap_or(NEVER)
    }

    /// For each phrase the least, over it and later ones, of the bound from its start and the price of
    /// the counts up to it.
    fn lay_by_phrase(&self, task: &Task<'_>, i: usize, out: &mut Vec<u32>) {
        let (_, each) = judgement::gap_parts();
        out.clear();
        out.resize(self.spans + 1, NEVER);
        for (k, span) in task.ground.spans.iter().enumerate().rev() {
            let here =
                self.rows[ON_START][self.cell(i, k)].saturating_add(each * span.start as u32);
            out[k] = here.min(out[k + 1]);
        }
    }
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
        let (spans, from) = (self.rows.spans, self.rows.first);
        let mut bound = Bound::empty(spans, 0, items);
        let parts = self.before.rows.iter().zip(&self.rows.rows);
        for (to, (before, changed)) in bound.rows.iter_mut().zip(parts) {
            for (to, of) in to.iter_mut().zip(before).take(from * spans) {
                *to = of.saturating_sub(self.saved);
            }
            to[from * spans..(self.until + 1) * spans].copy_from_slice(changed);
            to[self.until * spans..].copy_from_slice(&before[self.same * spans..]);
        }
        for (i, to) in bound.on_start.iter_mut().enumerate() {
            *to = match i < from {
                true => self.before.on_start(i).saturating_sub(self.saved),
                false => self.on_start(i),
            };
        }
        bound
    }
}
