//! A cut that a routine fits.

use std::collections::HashMap;

use super::joints::{Joints, Target};
use super::plan::Plan;
use crate::error::{Error, Result};
use crate::fit::Fit;
use crate::routine::Routine;
use crate::song::SongView;

/// Counts that are played between two joins at least, where so many are left to dance.
const SHORTEST_PIECE: usize = 8;
/// A part that does not start with a phrase.
const PART_OFF_PHRASE: f64 = 3.0;
/// A part on another kind of phrase than most of its turns have in the whole song.
const OTHER_KIND: f64 = 0.5;
/// A phrase that starts in the middle of a part: within an eight, or between two of them.
const PHRASE_WITHIN_EIGHT: f64 = 2.0;
const PHRASE_BETWEEN_EIGHTS: f64 = 0.4;
/// Going back to music that was heard before.
const BACKWARD: f64 = 0.5;
/// Ends: with a phrase, faded; or anywhere, faded.
const FADED: f64 = 1.0;
const ANYWHERE: f64 = 4.0;

/// The best cut for a routine: its counts are the routine's counts, parts start with phrases where that can
/// be, and joins sound. Music may come again where the song is too short. `fit` is the routine laid on the
/// whole song; it says which part belongs to which kind of phrase, and the wait where the sheet says none.
///
/// # Errors
/// [`Error::Usage`] when the routine has no counts or the song has none.
pub fn for_routine(song: &SongView, joints: &Joints, routine: &Routine, fit: &Fit) -> Result<Plan> {
    let wait = routine.wait.unwrap_or(fit.wait.counts) as usize;
    let dance = Dance::new(song, routine, fit, wait);
    let (n, total) = (joints.len(), dance.total);
    if total == wait || n == 0 {
        return Err(Error::Usage("the routine has no counts to cut the song for".into()));
    }
    let width = n + 1;
    let mut search = Search {
        cells: vec![Cell { cost: f64::INFINITY, from: START }; (total + 1) * width],
        width,
    };
    search.relax(0, 0, 0.0, START);
    for t in 0..total {
        for here in 0..=n {
            let cost = search.cells[t * width + here].cost;
            if !cost.is_finite() {
                continue;
            }
            if here < n {
                let step = cost + dance.plays(joints, song, t, here);
                search.relax(t + 1, here + 1, step, Came { leave: here, enter: here, counts: 1 });
            }
            if t == 0 {
                continue;
            }
            for &Target { enter, cost: join, .. } in joints.targets(here) {
                let counts = SHORTEST_PIECE.min(total - t).min(n - enter);
                if counts == 0 || enter == here {
                    continue;
                }
                let playing: f64 =
                    (0..counts).map(|k| dance.plays(joints, song, t + k, enter + k)).sum();
                let back = if enter < here { BACKWARD } else { 0.0 };
                let came = Came { leave: here, enter, counts };
                search.relax(t + counts, enter + counts, cost + join + back + playing, came);
            }
        }
    }
    let ending = |here: usize| match (here == n, joints.is_edge(here)) {
        (true, _) => 0.0,
        (_, true) => FADED,
        _ => ANYWHERE,
    };
    let end = (1..=n).min_by(|&a, &b| {
        let cost = |here: usize| search.cells[total * width + here].cost + ending(here);
        cost(a).total_cmp(&cost(b))
    });
    match end.filter(|&end| search.cells[total * width + end].cost.is_finite()) {
        Some(end) => Ok(Plan::of(song, joints, &search.ranges(total, end))),
        None => Err(Error::Usage(
            "the song has too few places that can be joined to cut it for this routine".into(),
        )),
    }
}

/// What each count of the dance asks of the music.
struct Dance {
    total: usize,
    wait: usize,
    /// For each count of the dance: the part danced, and how many of its counts are over.
    places: Vec<(usize, usize)>,
    /// The label that most turns of a part are danced on.
    kinds: Vec<Option<String>>,
}

impl Dance {
    fn new(song: &SongView, routine: &Routine, fit: &Fit, wait: usize) -> Dance {
        let mut labels: Vec<HashMap<&str, u32>> = vec![HashMap::new(); routine.parts.len()];
        for placement in &fit.placements {
            let part = routine.order.get(placement.order_index).map(|item| item.part);
            let phrase = placement.phrase_index.and_then(|p| song.phrases.get(p));
            if let (Some(part), Some(phrase)) = (part, phrase)
                && phrase.start == placement.start_count
                && let Some(of_part) = labels.get_mut(part)
            {
                *of_part.entry(&phrase.label).or_default() += 1;
            }
        }
        let most = |of_part: &HashMap<&str, u32>| {
            of_part
                .iter()
                .max_by_key(|(label, times)| (**times, **label))
                .map(|(l, _)| l.to_string())
        };
        let mut places = Vec::new();
        for passage in routine.walk() {
            places.extend((0..passage.counts as usize).map(|over| (passage.part, over)));
        }
        Dance { total: wait + places.len(), wait, places, kinds: labels.iter().map(most).collect() }
    }

    /// What it costs to dance count `t` to the song's count `here`.
    fn plays(&self, joints: &Joints, song: &SongView, t: usize, here: usize) -> f64 {
        let edge = joints.is_edge(here);
        let Some(&(part, over)) = t.checked_sub(self.wait).and_then(|t| self.places.get(t)) else {
            return 0.0;
        };
        match (over, edge) {
            (0, false) => PART_OFF_PHRASE,
            (0, true) => {
                let label = joints.phrase(here).and_then(|p| song.phrases.get(p)).map(|p| &p.label);
                let wanted = self.kinds.get(part).and_then(Option::as_ref);
                if wanted.is_some() && label != wanted { OTHER_KIND } else { 0.0 }
            }
            (_, false) => 0.0,
            (_, true) if over % 8 == 0 => PHRASE_BETWEEN_EIGHTS,
            (_, true) => PHRASE_WITHIN_EIGHT,
        }
    }
}

/// How a cell was come to: counts played from `enter` on, after the recording was left at `leave`.
#[derive(Debug, Clone, Copy)]
struct Came {
    leave: usize,
    enter: usize,
    counts: usize,
}

const START: Came = Came { leave: 0, enter: 0, counts: 0 };

#[derive(Debug, Clone, Copy)]
struct Cell {
    cost: f64,
    from: Came,
}

struct Search {
    /// Shape `[counts danced, counts of the song + 1]`.
    cells: Vec<Cell>,
    width: usize,
}

impl Search {
    fn relax(&mut self, t: usize, here: usize, cost: f64, from: Came) {
        let cell = &mut self.cells[t * self.width + here];
        if cost < cell.cost {
            *cell = Cell { cost, from };
        }
    }

    fn ranges(&self, mut t: usize, mut here: usize) -> Vec<(usize, usize)> {
        let mut ranges = Vec::new();
        while t > 0 {
            let Came { leave, enter, counts } = self.cells[t * self.width + here].from;
            ranges.push((enter, here));
            (t, here) = (t - counts, leave);
        }
        ranges.reverse();
        ranges
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::testing;
    use crate::{fit, routine};

    fn cut(sheet: &str) -> (SongView, Routine, Plan) {
        let (song, sounds) = testing::song();
        let routine = routine::parse(sheet).0;
        let laid = fit::fit(&song, &routine);
        let plan = for_routine(&song, &Joints::new(&song, &sounds), &routine, &laid).unwrap();
        (song, routine, plan)
    }

    const VERSE_AND_CHORUS: &str = "Title: Lamp Oil\nWait: 16\n\nPart A: 32 counts\n8 Triples\n\n\
         Part B: 32 counts\n8 Triples\n\n";

    #[test]
    fn a_routine_that_fits_leaves_the_song_whole_to_its_end() {
        let (_, _, plan) = cut(&format!("{VERSE_AND_CHORUS}Order: A, B, A, B\n"));
        assert_eq!(plan.counts(), 16 + 128);
        assert_eq!(plan.pieces[0].from.0, 1);
        assert!(plan.joins.len() <= 1, "{plan:?}");
    }

    #[test]
    fn a_shorter_routine_gets_whole_phrases_of_its_own_kind() {
        let (song, routine, plan) = cut(&format!("{VERSE_AND_CHORUS}Order: A, B\n"));
        assert_eq!(plan.counts(), 16 + routine.counts());
        let played: Vec<usize> = plan.played().map(|c| c.index().unwrap()).collect();
        let label = |t: usize| {
            &song.phrases[song.phrase_at(crate::units::Count::from_index(played[t])).unwrap()].label
        };
        assert_eq!((label(16).as_str(), label(48).as_str()), ("verse", "chorus"));
    }

    #[test]
    fn a_longer_routine_hears_music_again() {
        let (_, routine, plan) = cut(&format!("{VERSE_AND_CHORUS}Order: A, B, A, B, A, B, A, B\n"));
        assert_eq!(plan.counts(), 16 + routine.counts());
        assert!(plan.joins.iter().any(|join| join.enter < join.leave), "{plan:?}");
        for join in &plan.joins {
            assert_eq!((join.leave - join.enter) % 4, 0);
        }
    }
}
