//! From an alignment to what it says: placements, and each thing amiss once.

use super::align::{Alignment, Laying, lay_order};
use super::edit::{Edit, outcome};
use super::ground::{Ground, Item, count, item, items};
use super::judgement::{self, CLOSING_COUNTS, Entry, NEVER};
use super::model::{Placement, Wait};
use crate::routine::Routine;
use crate::song::SongView;
use crate::units::{Foot, Wall};

/// A routine laid on a song, before it is put into words.
pub(super) struct Laid<'a> {
    pub song: &'a SongView,
    pub routine: &'a Routine,
    pub ground: Ground,
    pub items: Vec<Item>,
    pub laying: Laying,
    pub wait: Wait,
    pub placements: Vec<Placement>,
    pub causes: Vec<Cause>,
}

/// A changed routine, laid on the same song.
pub(super) struct Changed {
    /// Its wait, where it says one.
    pub wait: Option<u32>,
    pub items: Vec<Item>,
    pub way: Alignment,
    pub causes: Vec<Cause>,
}

impl Laid<'_> {
    /// Where the items are.
    pub fn way(&self) -> &Alignment {
        &self.laying.way
    }

    /// Lays the routine with changes made on the song, as [`lay`] does. `None` where every way costs more than
    /// `limit`.
    pub fn changed(&self, edits: &[Edit], limit: Option<u32>) -> Option<Changed> {
        let (wait, items) = self.order_with(edits);
        let limit = limit.unwrap_or(NEVER);
        let way = self.laying.lay_changed(&self.ground, &self.items, &items, wait, limit)?;
        let causes = causes(wait, &self.ground, &items, &way);
        Some(Changed { wait, items, way, causes })
    }

    /// Whether the song can end with the order, changes made, when every count of that is danced; else something is
    /// amiss wherever it is laid.
    pub fn may_meet(&self, edits: &[Edit]) -> bool {
        let (wait, items) = self.order_with(edits);
        let danced: i64 = items.iter().map(|i| i64::from(i.counts)).sum();
        let left = i64::from(self.ground.end - 1) - i64::from(wait.unwrap_or(0)) - danced;
        let ends = wait.is_none() || left <= i64::from(CLOSING_COUNTS);
        danced == 0 || (left >= 0 && ends)
    }

    /// The wait that a changed routine says, and its order.
    fn order_with(&self, edits: &[Edit]) -> (Option<u32>, Vec<Item>) {
        let after = outcome(self.routine, edits);
        let known = self.routine.parts.len();
        let as_item = |&(part, _): &(usize, usize)| match self.items.iter().find(|i| i.part == part)
        {
            Some(item) => Some(item.clone()),
            None if part < known => Some(item(&self.ground, part, &self.routine.parts[part])),
            None => Some(item(&self.ground, part, after.new_parts.get(part - known)?)),
        };
        (after.wait, after.order.iter().filter_map(as_item).collect())
    }
}

/// One thing amiss.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cause {
    /// The sheet's wait is not the one danced.
    Wait {
        /// On the sheet.
        stated: u32,
        /// Danced.
        danced: u32,
    },
    /// Counts are left over between an item and the next.
    Short {
        /// The item before the gap.
        item: usize,
        counts: i32,
    },
    /// An item runs over the start of the next.
    Long { item: usize, counts: i32 },
    /// An item finds no room at all.
    LeftOut { item: usize },
    /// Items start beside their phrases, by as many counts as the first of them; early is negative.
    Off { first: usize, last: usize, counts: i32 },
    /// The song is over before the order.
    EndsFirst { counts: i32 },
    /// The order is over before the song.
    LeftOver { counts: i32 },
}

/// Lays a routine on a song.
pub(super) fn lay<'a>(song: &'a SongView, routine: &'a Routine) -> Laid<'a> {
    let ground = Ground::new(song);
    let items = items(&ground, routine);
    let laying = lay_order(&ground, &items, routine.wait, NEVER - 1);
    laid(song, routine, ground, items, laying)
}

/// As [`lay`]; `None` where every way costs more than `limit`.
pub(super) fn lay_within<'a>(
    song: &'a SongView,
    routine: &'a Routine,
    limit: Option<u32>,
) -> Option<Laid<'a>> {
    let ground = Ground::new(song);
    let items = items(&ground, routine);
    let laying = lay_order(&ground, &items, routine.wait, limit.unwrap_or(NEVER - 1));
    let is_within = limit.is_none_or(|most| laying.way.price <= most);
    is_within.then(|| laid(song, routine, ground, items, laying))
}

fn laid<'a>(
    song: &'a SongView,
    routine: &'a Routine,
    ground: Ground,
    items: Vec<Item>,
    laying: Laying,
) -> Laid<'a> {
    let way = &laying.way;
    let placements = placements(song, routine, &ground, &items, way);
    let waited = waited(song, routine.wait, way);
    let wait = Wait {
        counts: waited,
        start_s: song.counts.time_or_beyond_s(count(1)),
        end_s: song.counts.time_or_beyond_s(count(1) + waited.min(i32::MAX as u32) as i32),
    };
    let causes = causes(routine.wait, &ground, &items, way);
    Laid { song, routine, ground, items, laying, wait, placements, causes }
}

/// Counts from count 1 to the first step.
pub(super) fn waited(song: &SongView, stated: Option<u32>, way: &Alignment) -> u32 {
    way.starts.first().map_or(stated.unwrap_or(song.wait()), |s| (s - 1) as u32)
}

fn placements(
    song: &SongView,
    routine: &Routine,
    ground: &Ground,
    items: &[Item],
    way: &Alignment,
) -> Vec<Placement> {
    let mut foot = routine.starts_on.unwrap_or(Foot::Left);
    let mut wall = Wall::Front;
    let effects: Vec<_> = routine.parts.iter().map(|p| p.effect()).collect();
    let valid = routine.order.iter().enumerate().filter(|(_, o)| o.part < routine.parts.len());
    valid
        .zip(items)
        .zip(&way.starts)
        .enumerate()
        .map(|(i, (((order_index, order), item), &start))| {
            let part = &routine.parts[order.part];
            let effect = effects[order.part];
            let left_out = way.is_left_out(items, i);
            let room = way.starts.get(i + 1).map_or(item.counts, |next| next.saturating_sub(start));
            let danced = item.counts.min(room).max(0);
            let phrase = (start < ground.end).then(|| ground.span(start).phrase).flatten();
            let placement = Placement {
                part: part.name.clone(),
                time_round: order.time_round,
                order_index,
                start_count: count(start),
                counts: item.counts as u32,
                danced: danced as u32,
                left_out,
                start_s: song.counts.time_or_beyond_s(count(start)),
                end_s: song.counts.time_or_beyond_s(count(start) + danced),
                phrase: phrase.map(|i| song.phrases[i].label.clone()),
                phrase_index: phrase,
                lead_foot: foot,
                free_foot_after: if left_out { foot } else { effect.free_foot_after(foot) },
                wall_before: wall,
                wall_after: if left_out { wall } else { effect.wall_after(wall) },
            };
            foot = placement.free_foot_after;
            wall = placement.wall_after;
            placement
        })
        .collect()
}

/// Everything amiss along the way, in the order of the song, each cause once.
pub(super) fn causes(
    stated_wait: Option<u32>,
    ground: &Ground,
    items: &[Item],
    way: &Alignment,
) -> Vec<Cause> {
    let mut causes = Vec::new();
    let starts = &way.starts;
    if let (Some(stated), Some(&start)) = (stated_wait, starts.first()) {
        let danced = (start - 1) as u32;
        if danced != stated && start < ground.end {
            causes.push(Cause::Wait { stated, danced });
        }
    }
    // The run of items off their phrases that is being passed through.
    let mut off: Option<Cause> = None;
    for (i, item) in items.iter().enumerate() {
        let (start, end) = (starts[i], starts[i] + item.counts);
        if start >= ground.end {
            break;
        }
        let next = starts.get(i + 1).copied();
        if way.is_left_out(items, i) {
            causes.extend(off.take());
            causes.push(Cause::LeftOut { item: i });
            continue;
        }
        if item.proper && item.counts > 0 {
            match (beside(ground, item, start, way.begun[i], next), &mut off) {
                (Some(_), Some(Cause::Off { last, .. })) => *last = i,
                (Some(counts), _) => off = Some(Cause::Off { first: i, last: i, counts }),
                (None, _) => causes.extend(off.take()),
            }
        }
        let Some(next) = next else { break };
        if next != end {
            causes.extend(off.take());
        }
        if next > end {
            causes.push(Cause::Short { item: i, counts: next - end });
        } else if next < end {
            causes.push(Cause::Long { item: i, counts: end - next });
        }
    }
    causes.extend(off);
    let over = match (starts.last(), items.last()) {
        (Some(start), Some(item)) => start.saturating_add(item.counts),
        _ => 1,
    };
    if over > ground.end {
        causes.push(Cause::EndsFirst { counts: over - ground.end });
    } else if over + (CLOSING_COUNTS as i32) < ground.end {
        causes.push(Cause::LeftOver { counts: ground.end - over });
    }
    causes
}

/// How many counts an item starts beside a phrase start, where that is amiss.
fn beside(ground: &Ground, item: &Item, start: i32, begun: bool, next: Option<i32>) -> Option<i32> {
    let entry = judgement::entry(ground, item, start, begun);
    let cut_at_phrase_end =
        next.is_some_and(|n| n < start + item.counts && n <= ground.span(start).end);
    match entry {
        Entry::Off(counts) => Some(counts),
        _ if judgement::straddles(ground, item, start, entry) && !cut_at_phrase_end => {
            Some(ground.beside(start))
        }
        _ => None,
    }
}
