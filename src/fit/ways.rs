//! The cheapest way with homes given, among ways of at most a limit.

use super::align::Alignment;
use super::bound::Bound;
use super::homes::Homes;
use super::judgement::NEVER;
use super::task::{Place, Task};

/// How many places of each item are gone on from to find a good way.
const FEW: usize = 4;

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
    /// What the rest costs at the least.
    at_least: u32,
    /// What follows then.
    next: Place,
    /// Its index in the next row; none where the song or the order is over.
    next_state: Option<u32>,
}

/// What is worth weighing of a state.
pub(super) enum Worth {
    /// Nothing: no way through it is cheap enough.
    Nothing,
    /// What may follow it, the rest costing so much at the least.
    Weighing(u32),
    /// It itself; its rest is known.
    Known(u32),
}

/// States, a row for each item from some item on, each row ascending by place.
pub(super) struct Ways {
    from: usize,
    rows: Vec<Vec<State>>,
    /// For each row, what the rest behind its items costs at the least where it starts with a phrase.
    behind: Vec<u32>,
    places: Places,
    /// The price of the cheapest way; [`NEVER`] where there is none.
    pub least: u32,
}

/// Which ways are asked for.
#[derive(Clone, Copy)]
pub(super) struct Asked<'a> {
    pub homes: &'a Homes,
    /// What they may cost.
    pub limit: u32,
    /// The item they go out from.
    pub from: usize,
    /// How many places of each item are gone on from: those that look best.
    pub most: usize,
}

/// The ways that start on one of some places, each with the price of the way there, through states that are worth it.
/// Their rests are not weighed yet. `on_start` is what the rest from an item on costs at the least where that starts
/// with a phrase.
pub(super) fn ways(
    task: &Task<'_>,
    asked: Asked<'_>,
    first: impl Iterator<Item = (Place, u32)>,
    worth: impl Fn(usize, Place, u32) -> Worth,
    on_start: impl Fn(usize) -> u32,
) -> Ways {
    let Asked { from, most, .. } = asked;
    let places = Places::new(task);
    let mut ways = Ways { from, rows: Vec::new(), behind: Vec::new(), places, least: NEVER };
    let first = first.filter_map(|(p, price)| State::new(p, price, worth(from, p, price)));
    let mut row = sorted(first.collect());
    for i in from..task.items.len() {
        let behind = on_start(i + 1);
        let mut next = ways.go_on(task, asked, i, &row, behind, &worth);
        keep_best(&mut next, most);
        ways.behind.push(behind);
        ways.rows.push(std::mem::replace(&mut row, sorted(next)));
        if row.is_empty() {
            break;
        }
    }
    ways
}

/// All ways of at most `limit`, homes given.
pub(super) fn all_ways(task: &Task<'_>, bound: &Bound, homes: &Homes, limit: u32) -> Ways {
    ways_from_start(task, bound, Asked { homes, limit, from: 0, most: usize::MAX })
}

/// Some good ways of at most `limit`: the best of all is seldom much cheaper.
pub(super) fn good_ways(task: &Task<'_>, bound: &Bound, homes: &Homes, limit: u32) -> Ways {
    ways_from_start(task, bound, Asked { homes, limit, from: 0, most: FEW })
}

fn ways_from_start(task: &Task<'_>, bound: &Bound, asked: Asked<'_>) -> Ways {
    ways(task, asked, starts(task), within(task, bound, asked.limit), |i| bound.on_start(i))
}

/// The places of the first item, each with its price.
pub(super) fn starts(task: &Task<'_>) -> impl Iterator<Item = (Place, u32)> {
    task.starts().map(|(start, price)| (Place { start, begun: false }, price))
}

fn within(task: &Task<'_>, bound: &Bound, limit: u32) -> impl Fn(usize, Place, u32) -> Worth {
    move |i, place, so_far| match bound.of(task, i, place) {
        rest if so_far.saturating_add(rest) > limit => Worth::Nothing,
        rest => Worth::Weighing(rest),
    }
}

/// Leaves the states through which ways look cheapest.
fn keep_best(row: &mut Vec<State>, most: usize) {
    if row.len() > most {
        row.select_nth_unstable_by_key(most, |s| s.so_far.saturating_add(s.at_least));
        row.truncate(most);
    }
}

fn sorted(mut row: Vec<State>) -> Vec<State> {
    row.sort_unstable_by_key(|s| Places::cell(s.place));
    row
}

/// What ways may cost, and what is behind an item at the least where that starts with a phrase.
#[derive(Clone, Copy)]
struct Limits {
    limit: u32,
    behind: u32,
}

/// Finds the cheapest rest for each state of item `i` with ways of at most `limit`, those of the next item being known.
fn weigh(
    task: &Task<'_>,
    i: usize,
    row: &mut [State],
    next: &[State],
    homes: &Homes,
    limits: Limits,
    places: &mut Places,
) {
    let Limits { limit, behind } = limits;
    next.iter().enumerate().for_each(|(n, s)| places.set(s.place, n as u32));
    for state in row.iter_mut().filter(|s| !s.known && s.so_far.saturating_add(s.at_least) <= limit)
    {
        let (so_far, place) = (state.so_far, state.place);
        let budget = (limit - so_far).saturating_sub(behind);
        task.each_next(i, place, homes, budget, |price, then| {
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
    /// The states of the item behind `i` that those of `row` lead to.
    fn go_on(
        &mut self,
        task: &Task<'_>,
        asked: Asked<'_>,
        i: usize,
        row: &[State],
        behind: u32,
        worth: &impl Fn(usize, Place, u32) -> Worth,
    ) -> Vec<State> {
        let Asked { homes, limit, .. } = asked;
        let Ways { places, least, .. } = self;
        let mut next: Vec<State> = Vec::with_capacity(2 * row.len());
        for state in row {
            if state.known {
                *least = (*least).min(state.whole());
                continue;
            }
            let budget = (limit - state.so_far).saturating_sub(behind);
            task.each_next(i, state.place, homes, budget, |price, then| {
                let so_far = state.so_far + price;
                if so_far > limit {
                    return;
                }
                if let Some(ending) = task.ending(i + 1, then.start) {
                    *least = (*least).min(so_far.saturating_add(ending));
                } else if let Some(n) = places.get(then) {
                    let reached = &mut next[n as usize];
                    reached.so_far = reached.so_far.min(so_far);
                } else if let Some(state) = State::new(then, so_far, worth(i + 1, then, so_far)) {
                    places.set(then, next.len() as u32);
                    next.push(state);
                }
            });
        }
        next.iter().for_each(|s| places.forget(s.place));
        next
    }

    /// Finds the cheapest rests, where ways of at most `limit` lead.
    pub fn weigh(&mut self, task: &Task<'_>, homes: &Homes, limit: u32) {
        for n in (0..self.rows.len()).rev() {
            let (here, later) = self.rows.split_at_mut(n + 1);
            let next = later.first().map_or(&[][..], Vec::as_slice);
            let limits = Limits { limit, behind: self.behind[n] };
            weigh(task, self.from + n, &mut here[n], next, homes, limits, &mut self.places);
        }
    }

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

    /// The cheapest way, once that is weighed. Of ways that cost the same it is the first by what follows each item,
    /// in the order of [`Task::each_next`], from the first item on.
    pub fn cheapest(&self, task: &Task<'_>) -> Option<Alignment> {
        let first = self.first()?;
        let mut way = Alignment { price: first.whole(), exact: true, ..Alignment::default() };
        self.follow(task, self.from, first, &mut way);
        Some(way)
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
        let (rest, known, at_least) = match worth {
            Worth::Nothing => return None,
            Worth::Weighing(least) => (NEVER, false, least),
            Worth::Known(rest) => (rest, true, rest),
        };
        Some(State { place, so_far, rest, known, at_least, next: place, next_state: None })
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
