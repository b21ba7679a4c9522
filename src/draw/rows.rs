//! Breaks the counts into lines, as a page of text is broken: where phrases start, if it can be.

use crate::units::Count;

/// A line of the timeline: counts from `start` up to, not including, `end`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Row {
    pub start: Count,
    pub end: Count,
}

/// A line is broken at a seam only where it is at least this full, so that lines do not become ragged.
const LEAST_FULL: f64 = 0.55;

/// Lines of at most `capacity` counts (at least 8) from `start` to `end`. `seams` (ascending) are where
/// a break does no harm; without one in reach the line breaks after whole eights from the last seam.
pub(crate) fn break_rows(start: Count, end: Count, seams: &[Count], capacity: i32) -> Vec<Row> {
    let capacity = capacity.max(8);
    let mut rows = Vec::new();
    let mut from = start;
    while from < end {
        let to = if end - from <= capacity { end } else { best_break(from, seams, capacity) };
        rows.push(Row { start: from, end: to });
        from = to;
    }
    rows
}

fn best_break(from: Count, seams: &[Count], capacity: i32) -> Count {
    let furthest = from + capacity;
    let least = from + (f64::from(capacity) * LEAST_FULL) as i32;
    let upto = seams.partition_point(|s| *s <= furthest);
    match seams[..upto].last() {
        Some(&seam) if seam >= least => seam,
        // Whole eights of the phrase that is running.
        Some(&seam) => furthest + -(furthest - seam).rem_euclid(8),
        None => furthest + -(capacity.rem_euclid(8)),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn starts(rows: &[Row]) -> Vec<i32> {
        rows.iter().map(|r| r.start.0).collect()
    }

    #[test]
    fn lines_break_where_phrases_start() {
        let seams = [1, 17, 49, 85, 117].map(Count);
        let rows = break_rows(Count(1), Count(149), &seams, 72);
        assert_eq!(starts(&rows), [1, 49, 117]);
    }

    #[test]
    fn a_phrase_longer_than_a_line_breaks_after_whole_eights() {
        let seams = [1, 5].map(Count);
        let rows = break_rows(Count(1), Count(205), &seams, 64);
        for row in &rows[1..] {
            assert_eq!((row.start.0 - 5) % 8, 0, "{row:?}");
        }
    }

    proptest! {
        #[test]
        fn lines_cover_all_counts_once(
            start in -60i32..2, length in 0i32..3000, capacity in 0i32..260,
            mut seams in prop::collection::vec(-50i32..3100, 0..80),
        ) {
            seams.sort_unstable();
            let seams: Vec<Count> = seams.into_iter().map(Count).collect();
            let (start, end) = (Count(start), Count(start + length));
            let rows = break_rows(start, end, &seams, capacity);
            let mut at = start;
            for row in rows {
                prop_assert_eq!(row.start, at);
                prop_assert!(row.end > row.start && row.end - row.start <= capacity.max(8));
                at = row.end;
            }
            prop_assert_eq!(at, end);
        }
    }
}
