//! The cheapest way with homes given, among ways of at most a limit.

use super::align::Alignment;
use super::bound::Bound;
use super::homes::Homes;
use super::judgement::NEVER;
use super::task::{Place, Task};

/// A place that an item can come to.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub place: Place,
    /// Price of the cheapest way there.
    pub so_far: u32,
    /// Price of the cheapest rest.
    pub rest: u32,
    /// Whether that was known before it was weighed.
    pub known: bool,
    /// What follows then.
    next: Place,
    /// Its index in the next row; none where the song or the order is over.
    next_state: Option<u32>,
}

/// What is worth weighing of a state.
pub(super) enum Worth {
    /// Nothing: no way through it is cheap enough.
    Nothing,
    /// What may follow it.
    Weighing,
    /// It itself; its rest is known.
    Known(u32),
}

/// States, a row for each item from some item on, each row ascending by place, with their cheapest rests.
pub(super) struct Ways {
    from: usize,
    rows: Vec<Vec<State>>,
}

/// The ways from item `from` on that start on one of some places, each with the price of the way there, through
/// states that are worth it.
pub(super) fn ways(
    task: &Task<'_>,
    homes: &Homes,
    limit: u32,
    from: usize,
    first: impl Iterator<Item = (Place, u32)>,
    worth: impl Fn(usize, Place, u32) -> Worth,
) -> Ways {
    let mut places = Places::new(task);
    let first = first.filter_map(|(p, price)| State::new(p, price, worth(from, p, price)));
    let mut rows = vec![sorted(first.collect())];
    for i in from..task.items.len() - 1 {
        let mut next: Vec<State> = Vec::new();
        for state in rows[i - from].iter().filter(|s| !s.known) {
            task.each_next(i, state.place, homes, limit - state.so_far, |price, then| {
                let so_far = state.so_far + price;
                if then.start >= task.ground.end || so_far > limit {
                    return;
                }
                if let Some(n) = places.get(then) {
                    let reached = &mut next[n as usize];
                    reached.so_far = reached.so_far.min(so_far);
                } else if let Some(state) = State::new(then, so_far, worth(i + 1, then, so_far)) {
                    places.set(then, next.len() as u32);
                    next.push(state);
                }
            });
        }
        next.iter().for_each(|s| places.forget(s.place));
        rows.push(sorted(next));
    }
    for n in (0..rows.len()).rev() {
        let (here, later) = rows.split_at_mut(n + 1);
        let next = later.first().map_or(&[][..], Vec::as_slice);
        weigh(task, from + n, &mut here[n], next, homes, limit, &mut places);
    }
    Ways { from, rows }
}

/// All ways of at most `limit`, homes given.
pub(super) fn all_ways(task: &Task<'_>, bound: &Bound, homes: &Homes, limit: u32) -> Ways {
    ways(task, homes, limit, 0, starts(task), within(task, bound, limit))
}

/// The places of the first item, each with its price.
pub(super) fn starts(task: &Task<'_>) -> impl Iterator<Item = (Place, u32)> {
    task.starts().map(|(start, price)| (Place { start, begun: false }, price))
}

fn within(task: &Task<'_>, bound: &Bound, limit: u32) -> impl Fn(usize, Place, u32) -> Worth {
    move |i, place, so_far| match so_far.saturating_add(bound.of(task, i, place)) > limit {
        true => Worth::Nothing,
        false => Worth::Weighing,
    }
}

fn sorted(mut row: Vec<State>) -> Vec<State> {
    row.sort_unstable_by_key(|s| Places::cell(s.place));
    row
}

/// Finds the cheapest rest for each state of item `i`, those of the next item being known.
fn weigh(
    task: &Task<'_>,
    i: usize,
    row: &mut [State],
    next: &[State],
    homes: &Homes,
    limit: u32,
    places: &mut Places,
) {
    next.iter().enumerate().for_each(|(n, s)| places.set(s.place, n as u32));
    for state in row.iter_mut().filter(|s| !s.known) {
        let (so_far, place) = (state.so_far, state.place);
        task.each_next(i, place, homes, limit - so_far, |price, then| {
            let (rest, next_state) = match task.ending(i + 1, then.start) {
                Some(ending) => (price.saturating_add(ending), None),
                None => match places.get(then) {
                    Some(n) => (price + next[n as usize].rest, Some(n)),
                    None => return,
                },
            };
            if rest < state.rest {
                (state.rest, state.next, state.next_state) = (rest, then, next_state);
            }
        });
    }
    next.iter().for_each(|s| places.forget(s.place));
}

impl Ways {
    /// How many states there are.
    pub fn weighed(&self) -> usize {
        self.rows.iter().map(Vec::len).sum()
    }

    /// The states of an item.
    pub fn row(&self, item: usize) -> &[State] {
        item.checked_sub(self.from).and_then(|n| self.rows.get(n)).map_or(&[], Vec::as_slice)
    }

    /// The state of an item at a place.
    pub fn state(&self, item: usize, place: Place) -> Option<&State> {
        let row = self.row(item);
        row.binary_search_by_key(&Places::cell(place), |s| Places::cell(s.place))
            .ok()
            .map(|n| &row[n])
    }

    /// The cheapest way of at most `limit`. Of ways that cost the same it is the first by what follows each item,
    /// in the order of [`Task::each_next`], from the first item on.
    pub fn cheapest(&self, task: &Task<'_>, limit: u32) -> Option<Alignment> {
        let first = self.first()?;
        let price = first.whole();
        let mut way = Alignment { price, exact: true, ..Alignment::default() };
        self.follow(task, self.from, first, &mut way);
        (price <= limit).then_some(way)
    }

    /// The state of the first row through which the cheapest way leads.
    pub fn first(&self) -> Option<&State> {
        self.rows.first()?.iter().min_by_key(|s| s.whole())
    }

    /// Puts the places from a state of an item on at the end of a way, up to one whose rest was known before;
    /// returns that and its item.
    pub fn follow(
        &self,
        task: &Task<'_>,
        item: usize,
        state: &State,
        way: &mut Alignment,
    ) -> Option<(usize, Place)> {
        let (mut place, mut state) = (state.place, Some(state));
        for (i, item) in task.items.iter().enumerate().skip(item) {
            if state.is_some_and(|s| s.known) {
                return Some((i, place));
            }
            way.starts.push(place.start);
            way.begun.push(place.begun);
            place = match state {
                Some(state) => state.next,
                None => Place { start: place.start.saturating_add(item.counts), begun: false },
            };
            let next = state.and_then(|s| s.next_state);
            state = next.and_then(|n| self.row(i + 1).get(n as usize));
        }
        None
    }
}

impl State {
    fn new(place: Place, so_far: u32, worth: Worth) -> Option<State> {
        let (rest, known) = match worth {
            Worth::Nothing => return None,
            Worth::Weighing => (NEVER, false),
            Worth::Known(rest) => (rest, true),
        };
        Some(State { place, so_far, rest, known, next: place, next_state: None })
    }

    /// The cheapest whole way through it.
    pub fn whole(&self) -> u32 {
        self.so_far.saturating_add(self.rest)
    }
}

/// Where the states of a row stand, by place.
struct Places(Vec<u32>);

impl Places {
    fn new(task: &Task<'_>) -> Places {
        Places(vec![u32::MAX; 2 * task.ground.end.max(1) as usize])
    }

    #[inline]
    fn cell(place: Place) -> usize {
        2 * place.start as usize + usize::from(place.begun)
    }

    #[inline]
    fn get(&self, place: Place) -> Option<u32> {
        Some(self.0[Places::cell(place)]).filter(|&n| n != u32::MAX)
    }

    #[inline]
    fn set(&mut self, place: Place, n: u32) {
        self.0[Places::cell(place)] = n;
    }

    #[inline]
    fn forget(&mut self, place: Place) {
        self.0[Places::cell(place)] = u32::MAX;
    }
}
