//! Beats of the new cut that were missed or heard twice, told by the old cut: where both are in step before and
//! behind, and time goes on as in the old cut, its counts are there. Where a phrase is entered after something new, the
//! tempo of what follows tells where its first count is.

use std::ops::Range;

use super::counting::Counting;
use super::old::Old;
use super::path::Path;

/// In step for so many counts on either side.
const IN_STEP: usize = 8;
/// Beats missed or heard twice at one place.
const MOST_SLIPPED: i64 = 2;
/// A beat is out of place by more than this share of a count.
const OUT_OF_PLACE: f64 = 0.35;

/// A stretch of the new cut to be counted as the old one is.
struct Slip {
    /// Beats of the new cut from and to which both are in step.
    new: Range<usize>,
    /// The old counts on them.
    old: Range<usize>,
    /// When the first sounds.
    from_s: f64,
}

/// The counting with such beats put right, and where; `None` where there are none.
pub(super) fn mended(old: &Old, counting: &Counting, path: &Path) -> Option<Counting> {
    let within = slips(path, &counting.beats_s).filter(|slip| time_goes_on(old, counting, slip));
    let mut all: Vec<Slip> = entries(old, counting, path).chain(within).collect();
    all.sort_by_key(|slip| slip.new.start);
    let mut free = 0;
    all.retain(|slip| {
        let apart = slip.new.start >= free;
        free = if apart { slip.new.end + 1 } else { free };
        apart
    });
    if all.is_empty() {
        return None;
    }
    let mut mended = counting.clone();
    // From the last to the first, so that places before stay.
    for slip in all.iter().rev() {
        let old_s = &old.times_s[slip.old.start..=slip.old.end];
        let long_s = counting.beats_s[slip.new.end] - slip.from_s;
        let scale = long_s / (old_s[old_s.len() - 1] - old_s[0]);
        let beats_s: Vec<f64> =
            old_s.iter().map(|s| slip.from_s + (s - old_s[0]) * scale).collect();
        let more = old_s.len() as i64 - (slip.new.len() + 1) as i64;
        mended.laid.iter_mut().for_each(|laid| *laid = moved(laid, more));
        mended.laid.insert(0, slip.new.start..slip.new.start + old_s.len());
        mended.beats_s.splice(slip.new.start..=slip.new.end, beats_s);
        let bar = old.bar[slip.old.start..=slip.old.end].iter().copied();
        mended.bar.splice(slip.new.start..=slip.new.end, bar);
    }
    Some(mended)
}

fn moved(range: &Range<usize>, by: i64) -> Range<usize> {
    range.start.saturating_add_signed(by as isize)..range.end.saturating_add_signed(by as isize)
}

/// Where a phrase is entered after something new and its first counts are not where the tempo of those that follow
/// puts them.
fn entries(old: &Old, counting: &Counting, path: &Path) -> impl Iterator<Item = Slip> {
    let is_entry = |j: &usize| path.old[*j].is_some() && (*j == 0 || path.old[j - 1].is_none());
    (0..path.old.len()).filter(is_entry).filter_map(move |j| entry(old, counting, path, j))
}

fn entry(old: &Old, counting: &Counting, path: &Path, j: usize) -> Option<Slip> {
    let beats_s = &counting.beats_s;
    let entered = path.old[j]?;
    // The phrase that starts there or soon after: a count-in may be known too.
    let near = entered.saturating_sub(MOST_SLIPPED as usize)..entered + 2 * IN_STEP;
    let start = near.into_iter().find(|&i| old.starts.get(i) == Some(&true))?;
    let heard = (j..path.old.len().min(j + 2 * IN_STEP)).find(|&k| path.old[k] == Some(start));
    // In step for two stretches from there on.
    let anchor = heard.unwrap_or(j) + IN_STEP;
    let (at, far) = (path.old.get(anchor).copied()??, anchor + 2 * IN_STEP);
    if path.old.get(far).copied()?? != at + 2 * IN_STEP || at <= start {
        return None;
    }
    let scale =
        (beats_s[far] - beats_s[anchor]) / (old.times_s[at + 2 * IN_STEP] - old.times_s[at]);
    let expected_s = beats_s[anchor] - (old.times_s[at] - old.times_s[start]) * scale;
    let period_s = (beats_s[far] - beats_s[anchor]) / (2 * IN_STEP) as f64;
    let in_place = |s: f64| (s - expected_s).abs() < OUT_OF_PLACE * period_s;
    if heard.is_some_and(|k| in_place(beats_s[k]) && anchor - k == at - start) {
        return None;
    }
    let from_s = beats_s.iter().copied().find(|s| in_place(*s)).unwrap_or(expected_s);
    let first = beats_s.partition_point(|s| *s < from_s - period_s / 2.0);
    // Nothing that is of the song before is touched.
    let free = path.old[..j].iter().rposition(Option::is_some).map_or(0, |last| last + 1);
    (from_s >= 0.0 && first >= free && first < anchor).then_some(Slip {
        new: first..anchor,
        old: start..at,
        from_s,
    })
}

/// Places where the old cut goes on by more or less than a count, in step before and behind. Each begins where the one
/// before it has ended.
fn slips(path: &Path, beats_s: &[f64]) -> impl Iterator<Item = Slip> {
    let step = |j: usize| Some(path.old[j]? as i64 - path.old[j.checked_sub(1)?]? as i64);
    let in_step = move |mut places: Range<usize>| places.all(|j| step(j) == Some(1));
    let mut after = 0;
    (1..path.old.len()).filter_map(move |j| {
        let slipped = step(j)? - 1;
        let from = j.checked_sub(1 + IN_STEP).filter(|from| *from >= after)?;
        let to = j + IN_STEP;
        let is_slip = (1..=MOST_SLIPPED).contains(&slipped.abs())
            && to < path.old.len()
            && in_step(from + 1..j)
            && in_step(j + 1..to + 1);
        if !is_slip {
            return None;
        }
        after = to;
        Some(Slip { new: from..to, old: path.old[from]?..path.old[to]?, from_s: beats_s[from] })
    })
}

/// Whether the stretch lasts as long as its old counts do, by the tempo of the stretches beside it, rather than as
/// long as the beats that were heard.
fn time_goes_on(old: &Old, counting: &Counting, slip: &Slip) -> bool {
    let (new_s, old_s) = (&counting.beats_s, &old.times_s);
    let long_s = new_s[slip.new.end] - new_s[slip.new.start];
    let in_old_s = old_s[slip.old.end] - old_s[slip.old.start];
    // The tempo of up to four times as many counts before and behind.
    let beside = 4 * IN_STEP;
    let before = beside.min(slip.new.start).min(slip.old.start);
    let behind = beside.min(new_s.len() - 1 - slip.new.end).min(old_s.len() - 1 - slip.old.end);
    let span = |times: &[f64], at: &Range<usize>| {
        times[at.start] - times[at.start - before] + times[at.end + behind] - times[at.end]
    };
    let (around_new_s, around_old_s) = (span(new_s, &slip.new), span(old_s, &slip.old));
    if before + behind < IN_STEP || around_old_s <= 0.0 || in_old_s <= 0.0 {
        return false;
    }
    let expected_s = in_old_s * around_new_s / around_old_s;
    let as_heard_s = expected_s * slip.new.len() as f64 / slip.old.len() as f64;
    (long_s - expected_s).abs() < (long_s - as_heard_s).abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(old: &[usize]) -> Path {
        Path { old: old.iter().map(|&i| Some(i)).collect(), score: 0.0 }
    }

    #[test]
    fn a_missed_beat_is_a_slip_and_a_jump_is_none() {
        let missed: Vec<usize> = (0..20).chain(21..40).collect();
        let beats_s: Vec<f64> = (0..80).map(f64::from).collect();
        let found: Vec<Slip> = slips(&path(&missed), &beats_s).collect();
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].new.clone(), found[0].old.clone()), (11..28, 11..29));
        let jump: Vec<usize> = (0..20).chain(36..60).collect();
        assert_eq!(slips(&path(&jump), &beats_s).count(), 0);
        let twice: Vec<usize> = (0..20).chain(19..40).collect();
        assert_eq!(slips(&path(&twice), &beats_s).count(), 1);
    }
}
