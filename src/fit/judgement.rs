//! What a teacher minds, and how much: the prices by which one way to lay a routine on a song is
//! held to be better than another.
//!
//! Prices are points; only their order and their ratios matter. In words:
//!
//! 1. Parts start on phrase starts first. Starting one or two counts beside it is thought of as a
//!    pickup or a mark set askew; from three counts on it is worse than stopping short or cutting the
//!    part before it.
//! 2. The same part falls on the same sort of phrase each time. That is worth more than one gap of an
//!    eight, and less than a whole phrase without dancing.
//! 3. Counts left over are better than counts too many: a dancer can hold, but cannot dance faster.
//! 4. What is amiss is better at the end of the song than in its middle.
//! 5. The wait is as the sheet says, as far as the song allows.

use super::ground::{Ground, Item, Span};

/// No way at all. Low enough that sums of it do not overflow.
pub(super) const NEVER: u32 = u32::MAX / 8;

/// Stopping short of the next phrase, and for each count of it.
const GAP: u32 = 16;
const GAP_COUNT: u32 = 2;
/// Running on over the start of the phrase where the next part starts, and for each count.
const OVERRUN: u32 = 20;
const OVERRUN_COUNT: u32 = 3;
/// Leaving a whole part out for want of room, and for each count in halves: cheaper than cutting
/// nearly all of a long one, dearer than cutting an eight or less.
const LEFT_OUT: u32 = 36;
const LEFT_OUT_COUNT_HALVES: u32 = 3;
/// Leaving a fill out, and for each count: a light change, fills are there to be left out.
const FILL_LEFT_OUT: u32 = 12;
const FILL_LEFT_OUT_COUNT: u32 = 2;
/// A part that does not start with its phrase, and for each count to the nearest phrase start, up to
/// an eight.
const OFF_PHRASE: u32 = 24;
const OFF_PHRASE_COUNT: u32 = 10;
const OFF_PHRASE_MOST: i32 = 8;
/// A part that comes in at the half of a phrase into which the part before it ran. Half-phrases are
/// musical places too, so nothing is amiss; but whole phrases are better.
const HALF_PHRASE: u32 = 6;
/// Sharing a phrase with the part before, and passing a phrase start within a part: nothing is amiss,
/// and one part to one phrase is better.
const SHARED: u32 = 1;
const PASSED_START: u32 = 1;
/// A part on another sort of phrase than most times. A shorter cut that lacks a verse and a chorus lacks
/// these two parts; that is a better reading than everything moved up and the end lost.
pub(super) const OTHER_KIND: u32 = 56;
/// A part named for a sort of phrase (Chorus, Bridge) on another sort.
const OTHER_NAME: u32 = 30;
/// Another wait than the sheet's, and for each count.
const OTHER_WAIT: u32 = 10;
const OTHER_WAIT_COUNT: u32 = 1;
/// Dancing a part once more than the sheet's order, and for each count: as dear as leaving one out, but nothing that
/// was learnt is lost.
const AGAIN: u32 = 36;
const AGAIN_COUNT: u32 = 1;
/// Counting the song at another pulse than it was marked with: the whole dance becomes another.
pub(super) const OTHER_PULSE: u32 = 48;
/// Dancing in the song's intro, with a part that is none, unasked, and for each count of it: dearer than
/// losing as many counts at the song's end.
const IN_INTRO: u32 = 24;
const IN_INTRO_COUNT: u32 = 2;
/// Running on after the end of the song, and for each count in halves.
const ENDS_FIRST: u32 = 20;
const ENDS_FIRST_COUNT_HALVES: u32 = 3;
/// Being over before the song, and for each count.
const LEFT_OVER: u32 = 12;
const LEFT_OVER_COUNT: u32 = 1;

/// Music after the last step that needs no word: up to one eight, the time of a last pose while the
/// sound dies away.
pub const CLOSING_COUNTS: u32 = 8;

/// The shortest phrase whose half is long enough to be a place of its own: two eights and two eights.
const HALVED_PHRASE: i32 = 32;

#[inline]
fn points(base: u32, each: u32, counts: i32) -> u32 {
    base.saturating_add(each.saturating_mul(counts.max(0) as u32)).min(NEVER)
}

/// Stopping `counts` short of the next part.
#[inline]
pub(super) fn gap(counts: i32) -> u32 {
    if counts <= 0 { 0 } else { points(GAP, GAP_COUNT, counts) }
}

/// The part of [`gap`] that does not depend on where the next part starts, and the price of a count.
#[inline]
pub(super) fn gap_parts() -> (u32, u32) {
    (GAP, GAP_COUNT)
}

/// Running on for `counts` over the start of the next part.
#[inline]
pub(super) fn overrun(counts: i32) -> u32 {
    if counts <= 0 { 0 } else { points(OVERRUN, OVERRUN_COUNT, counts) }
}

/// Leaving an item out.
#[inline]
pub(super) fn left_out(item: &Item) -> u32 {
    match (item.counts, item.fill) {
        (0, _) => 0,
        (counts, true) => points(FILL_LEFT_OUT, FILL_LEFT_OUT_COUNT, counts),
        (counts, false) => points(LEFT_OUT, 0, 0) + points(0, LEFT_OUT_COUNT_HALVES, counts) / 2,
    }
}

/// Dancing a part of so many counts once more than the order says.
pub(super) fn again(counts: i32) -> u32 {
    points(AGAIN, AGAIN_COUNT, counts)
}

/// Waiting `danced` counts where the sheet says `stated`.
pub(super) fn other_wait(stated: u32, danced: u32) -> u32 {
    points(OTHER_WAIT, OTHER_WAIT_COUNT, stated.abs_diff(danced).min(i32::MAX as u32) as i32)
}

/// Starting `counts` beside the nearest phrase start.
#[inline]
pub(super) fn off_phrase(counts: i32) -> u32 {
    points(OFF_PHRASE, OFF_PHRASE_COUNT, counts.abs().min(OFF_PHRASE_MOST))
}

/// The routine going on for `counts` after the song.
#[inline]
pub(super) fn ends_first(counts: i32) -> u32 {
    if counts <= 0 { 0 } else { ENDS_FIRST + points(0, ENDS_FIRST_COUNT_HALVES, counts) / 2 }
}

/// The song going on for `counts` after the routine.
#[inline]
pub(super) fn left_over(counts: i32) -> u32 {
    if counts <= CLOSING_COUNTS as i32 {
        points(0, LEFT_OVER_COUNT, counts)
    } else {
        points(LEFT_OVER, LEFT_OVER_COUNT, counts)
    }
}

/// Starting the routine on `start`, the first item being `first`.
pub(super) fn start(ground: &Ground, first: &Item, stated_wait: Option<u32>, start: i32) -> u32 {
    let wait = start - 1;
    let in_intro = if wait < ground.song_wait && !first.intro {
        points(IN_INTRO, IN_INTRO_COUNT, ground.song_wait - wait)
    } else {
        0
    };
    match stated_wait.map(|w| w.min(i32::MAX as u32) as i32) {
        Some(stated) if stated == wait => 0,
        Some(stated) => {
            points(OTHER_WAIT, OTHER_WAIT_COUNT, stated.saturating_sub(wait).saturating_abs())
                + in_intro
        }
        None if wait > ground.song_wait => gap(wait - ground.song_wait),
        None => in_intro,
    }
}

/// How a part that starts on `start` sits in its phrase.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Entry {
    /// Starts with the phrase.
    OnStart,
    /// Shares a phrase that was begun by a part, or fills up one where that does not matter.
    Sharing,
    /// Comes in at the half of a phrase that was not begun, and is over by its end.
    AtHalf,
    /// Comes in anywhere else in a phrase that was not begun: so many counts late, or, where
    /// negative, early for the next.
    Off(i32),
}

/// How an item starting on `start` sits in its phrase, `begun` saying whether a part started with
/// that phrase. Whether it then runs over the phrase's end is [`straddles`].
#[inline]
pub(super) fn entry(ground: &Ground, item: &Item, start: i32, begun: bool) -> Entry {
    let phrase = ground.span(start);
    let into = start - phrase.start;
    let length = phrase.end - phrase.start;
    if into == 0 {
        Entry::OnStart
    } else if begun || !item.proper {
        Entry::Sharing
    } else if length >= HALVED_PHRASE
        && into * 2 == length
        && into % 8 == 0
        && start + item.counts <= phrase.end
    {
        Entry::AtHalf
    } else {
        Entry::Off(ground.beside(start))
    }
}

/// Price of an entry.
#[inline]
pub(super) fn entry_price(entry: Entry) -> u32 {
    match entry {
        Entry::OnStart => 0,
        Entry::Sharing => SHARED,
        Entry::AtHalf => HALF_PHRASE,
        Entry::Off(counts) => off_phrase(counts),
    }
}

/// Whether a part that shares a phrase and is danced whole runs over that phrase's end although the
/// song goes on there: it neither starts nor ends with a phrase.
#[inline]
pub(super) fn straddles(ground: &Ground, item: &Item, start: i32, entry: Entry) -> bool {
    let phrase = ground.span(start);
    item.proper
        && entry == Entry::Sharing
        && start + item.counts > phrase.end
        && phrase.end < ground.end
}

/// What it costs to dance an item from `start` on, apart from its entry: phrase starts passed, and
/// the sort of phrase that it is named for.
#[inline]
pub(super) fn dancing(ground: &Ground, item: &Item, start: i32) -> u32 {
    let first = ground.span_index(start);
    let last = ground.span_index((start + item.counts - 1).min(ground.end - 1).max(start));
    let mut price = PASSED_START * (last - first) as u32;
    if !item.fill {
        let kind = ground.spans[first].kind;
        if item.named_for.is_some_and(|named| named != kind) {
            price += OTHER_NAME;
        }
    }
    price
}

/// Whether a part has begun the phrase in which the item after this one starts, right after it.
#[inline]
pub(super) fn begun_then(ground: &Ground, item: &Item, start: i32, begun: bool) -> bool {
    let end = start + item.counts;
    let began = if ground.is_start(start) { !item.fill } else { begun };
    end < ground.end
        && !ground.is_start(end)
        && ground.span_index(end) == ground.span_index(start)
        && began
}

/// The least that it costs to dance an item from somewhere within a span that is begun, apart from its end.
#[inline]
pub(super) fn sharing_at_least(ground: &Ground, item: &Item, span: usize) -> u32 {
    let kind = ground.spans[span].kind;
    let named = !item.fill && item.named_for.is_some_and(|named| named != kind);
    SHARED + if named { OTHER_NAME } else { 0 }
}

/// The least that it costs to dance an item from somewhere within a span, from `first` to `last`, whether that is begun
/// or not: where it runs over the end of that, or where a part has not begun that, it is beside a phrase.
#[inline]
pub(super) fn within_at_least(
    ground: &Ground,
    item: &Item,
    span: usize,
    begun: bool,
    first: i32,
    last: i32,
) -> u32 {
    let least = sharing_at_least(ground, item, span);
    let Span { start, end, .. } = ground.spans[span];
    if !item.proper {
        return least;
    }
    // Beside the phrase least at either end.
    let beside = |at: i32| match end < ground.end {
        true => off_phrase((at - start).min(end - at)),
        false => off_phrase(at - start),
    };
    let beside = [beside(first), beside(last)];
    let beside = beside[0].min(beside[1]);
    if begun {
        let runs_over = first + item.counts > end && end < ground.end;
        return least + if runs_over { beside } else { 0 };
    }
    let half = start + (end - start) / 2;
    let at_half =
        (first..=last).contains(&half) && end - start >= HALVED_PHRASE && half + item.counts <= end;
    least - SHARED + if at_half { HALF_PHRASE.min(beside) } else { beside }
}
