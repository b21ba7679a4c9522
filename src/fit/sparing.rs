//! What a mend changes, against the least that any change needs: found by trying all of them on small songs
//! and routines with one thing amiss.

use super::lay::lay;
use super::testing::{Dice, routine, song};
use super::*;
use crate::routine::{OrderItem, Part, PartKind};
use crate::song::SongView;

/// Counts that changes add or take away.
fn changed(routine: &Routine, danced_wait: u32, edits: &[Edit]) -> u32 {
    let part_at = |at: usize| routine.parts[routine.order[at].part].counts();
    let of = |edit: &Edit| match edit {
        Edit::Wait(counts) => counts.abs_diff(routine.wait.unwrap_or(danced_wait)),
        Edit::Insert { part, .. } => part.counts(),
        Edit::Again { part, .. } => routine.parts[*part].counts(),
        Edit::LeaveOut { at } => part_at(*at),
        Edit::Instead { at, part } => part_at(*at).abs_diff(part.counts()),
    };
    edits.iter().map(of).sum()
}

/// A change: the wait, counts cut from each item, counts put in before each item and at the end.
#[derive(Clone)]
struct Change {
    wait: Option<u32>,
    cut: Vec<u32>,
    put_in: Vec<u32>,
}

impl Change {
    fn made(&self, before: &Routine) -> Routine {
        let mut after = Routine { wait: self.wait, ..Routine::default() };
        let mut add = |part: Part| {
            let order = OrderItem { part: after.parts.len(), time_round: 1, line: 0 };
            after.parts.push(part);
            after.order.push(order);
        };
        let of = |kind, counts| Part {
            name: "Fill".into(),
            kind,
            stated_counts: Some(counts),
            ..Part::default()
        };
        for (at, order) in before.order.iter().enumerate() {
            if self.put_in[at] > 0 {
                add(of(PartKind::Fill, self.put_in[at]));
            }
            let part = &before.parts[order.part];
            let counts = part.counts() - self.cut[at];
            if counts > 0 {
                add(Part { stated_counts: Some(counts), ..part.clone() });
            }
        }
        if self.put_in[before.order.len()] > 0 {
            add(of(PartKind::Fill, self.put_in[before.order.len()]));
        }
        after
    }

    /// Whether a change of just `left` counts more, in steps of `unit`, at place `from` or later, fits.
    fn fits(
        &mut self,
        song: &SongView,
        before: &Routine,
        from: usize,
        left: u32,
        unit: u32,
        tried: &mut u32,
    ) -> bool {
        let items = before.order.len();
        if left == 0 {
            *tried += 1;
            return lay(song, &self.made(before)).causes.is_empty();
        }
        for place in from..2 * items + 1 {
            for counts in (1..=left / unit).map(|n| n * unit) {
                let mut then = self.clone();
                if place < items {
                    if then.cut[place] + counts > before.parts[before.order[place].part].counts() {
                        break;
                    }
                    then.cut[place] += counts;
                } else {
                    then.put_in[place - items] += counts;
                }
                if then.fits(song, before, place + 1, left - counts, unit, tried) {
                    return true;
                }
            }
        }
        false
    }
}

/// Whether any change of just so many counts fits.
fn any_fits(
    song: &SongView,
    before: &Routine,
    wait: u32,
    counts: u32,
    unit: u32,
    tried: &mut u32,
) -> bool {
    let items = before.order.len();
    (0..=counts / unit).map(|n| n * unit).any(|by_wait| {
        let mut waits = vec![wait + by_wait];
        waits.extend(wait.checked_sub(by_wait));
        waits.into_iter().any(|wait| {
            let stated = before.wait.or((by_wait > 0).then_some(wait)).map(|_| wait);
            let mut change =
                Change { wait: stated, cut: vec![0; items], put_in: vec![0; items + 1] };
            change.fits(song, before, 0, counts - by_wait, unit, tried)
        })
    })
}

#[test]
fn no_change_of_fewer_counts_mends_what_a_mend_mends() {
    let labels = ["verse", "chorus", "bridge"];
    let mut dice = Dice::new(31);
    let (mut cases, mut without, mut tried, mut most) = (0, 0, 0, 0);
    while cases < 400 {
        let unit = [1, 2, 4][dice.roll(3)];
        let lengths = [16, 20, 24, 32];
        let mut form: Vec<(usize, u32)> = Vec::new();
        for _ in 0..2 + dice.roll(2) {
            let label = dice.roll(labels.len());
            form.push((label, lengths[(label + dice.roll(2)) % lengths.len()]));
        }
        let mut phrases: Vec<(&str, u32)> = vec![("intro", 16)];
        phrases.extend(form.iter().map(|&(label, counts)| (labels[label], counts)));
        let parts: Vec<(&str, PartKind, u32)> =
            form.iter().map(|&(label, counts)| (labels[label], PartKind::Part, counts)).collect();
        let order: Vec<usize> = (0..parts.len()).collect();
        let wait = (dice.roll(3) > 0).then_some(16);
        let changed_phrase = dice.roll(phrases.len());
        let by = unit * (1 + dice.roll(4) as u32);
        let length = &mut phrases[changed_phrase].1;
        *length = if dice.roll(2) == 0 { *length + by } else { length.saturating_sub(by) };
        let (song, routine) = (song(&phrases), routine(wait, &parts, &order));
        let laid = lay(&song, &routine);
        if laid.causes.len() != 1 {
            continue;
        }
        cases += 1;
        let fit = fit(&song, &routine);
        let mends = fit.suggestions.iter().map(|s| changed(&routine, fit.wait.counts, &s.edits));
        let Some(sparing) = mends.min() else {
            without += 1;
            continue;
        };
        most = most.max(sparing);
        let stated = routine.wait.unwrap_or(fit.wait.counts);
        for fewer in (1..=(sparing - 1) / unit).map(|n| n * unit) {
            assert!(
                !any_fits(&song, &routine, stated, fewer, unit, &mut tried),
                "{fewer} counts are enough, not {sparing}: {phrases:?} {parts:?} {wait:?} {:#?}",
                fit.mismatches
            );
        }
        // And so many are: what is tried holds what the mends do.
        assert!(
            any_fits(&song, &routine, stated, sparing, unit, &mut tried),
            "{sparing}: {phrases:?} {parts:?} {wait:?} {:#?} {:#?}",
            fit.mismatches,
            fit.suggestions
        );
    }
    println!(
        "{cases} cases, {tried} changes tried, mends of up to {most} counts, {without} without a mend"
    );
    assert!(tried > 20_000, "{tried}");
    assert!(without * 100 <= cases, "{without} of {cases} without a mend");
}
