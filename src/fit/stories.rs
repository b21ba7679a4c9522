//! Fits a teacher would make, and what should be said of them.

use super::testing::{in_order, part, routine, song};
use super::*;
use crate::routine::PartKind;
use crate::units::{Count, Foot};

const A: (&str, PartKind, u32) = ("Part A", PartKind::Part, 32);
const B: (&str, PartKind, u32) = ("Part B", PartKind::Part, 32);
const FILL: (&str, PartKind, u32) = ("Fill", PartKind::Fill, 4);

fn kinds(fit: &Fit) -> Vec<(MismatchKind, i32, i32)> {
    fit.mismatches.iter().map(|m| (m.kind, m.at_count.0, m.counts)).collect()
}

/// Part A of 32 counts that keeps its lead foot, Part B too; feet and lengths as published (facts of
/// the trade: Clogging 101, *Cue Sheets*, lessons 1-3).
fn danced(wait: Option<u32>, order: &[usize]) -> Routine {
    let parts = vec![
        part("Part A", PartKind::Part, &[(4, "Triple"), (4, "Fancy Double")]),
        part("Part B", PartKind::Part, &[(6, "Triple"), (4, "Single Basic")]),
        part("Fill", PartKind::Fill, &[(1, "Fancy Double")]),
        part("Chug", PartKind::Part, &[(7, "Triple"), (2, "Single Basic")]),
    ];
    Routine { wait, parts, order: in_order(order), ..Routine::default() }
}

#[test]
fn a_routine_made_for_the_song_fits_and_nothing_is_said() {
    // Waits of 8, 16 and 32 and phrases of 32 are usual (common practice).
    for wait in [8, 16, 32] {
        let song =
            song(&[("intro", wait), ("verse", 32), ("chorus", 32), ("verse", 32), ("chorus", 32)]);
        for stated in [Some(wait), None] {
            let fit = fit(&song, &routine(stated, &[A, B], &[0, 1, 0, 1]));
            assert!(fit.fits, "{:?}", fit.mismatches);
            assert_eq!(fit.suggestions, []);
            assert_eq!(fit.wait.counts, wait);
            assert_eq!((fit.wait.start_s, fit.wait.end_s), (1.0, 1.0 + f64::from(wait) / 2.0));
            let starts: Vec<_> =
                fit.placements.iter().map(|p| p.start_count.0 - wait as i32).collect();
            assert_eq!(starts, [1, 33, 65, 97]);
        }
    }
}

#[test]
fn a_chorus_of_36_leaves_4_over_and_a_fill_meets_the_next_part() {
    let song = song(&[("intro", 16), ("verse", 32), ("chorus", 36), ("verse", 32), ("chorus", 32)]);
    let fit = fit(&song, &danced(Some(16), &[0, 1, 0, 1]));
    assert!(!fit.fits);
    assert_eq!(kinds(&fit), [(MismatchKind::PartTooShort, 81, 4)]);
    let short = &fit.mismatches[0];
    assert_eq!(short.at_s, 41.0);
    assert_eq!(short.part.as_deref(), Some("Part B"));
    assert_eq!(short.phrase.as_deref(), Some("chorus"));
    assert_eq!(
        short.message,
        "chorus 1 is 36 counts and Part B 32: 4 counts are left over at 0:41.00, left foot free"
    );
    let fill = &fit.suggestions[0];
    assert_eq!((fill.kind, fill.at_count, fill.counts), (SuggestionKind::Fill, Count(81), 4));
    assert_eq!((fill.lead_foot, fill.free_foot_after), (Some(Foot::Left), Some(Foot::Left)));
    assert_eq!(fill.steps, ["Fancy double"]);
    assert_eq!(fill.feet, ["L R LR LR"]);
    assert_eq!(
        fill.message,
        "a fill of 4 at 0:41.00 that starts on the left foot and leaves the left foot free for Part A \
         (2nd time): Fancy double"
    );
    // Second time round there is no gap, so no fill.
    assert!(fit.suggestions.iter().all(|s| s.at_count == Count(81)));
}

#[test]
fn steps_of_two_counts_cannot_fill_three_and_a_hold_is_offered_too() {
    let song = song(&[("intro", 16), ("verse", 32), ("chorus", 35), ("verse", 32), ("chorus", 32)]);
    let basics = |name: &str| part(name, PartKind::Part, &[(16, "Single basic")]);
    let routine = Routine {
        wait: Some(16),
        parts: vec![basics("Part A"), basics("Part B")],
        order: in_order(&[0, 1, 0, 1]),
        ..Routine::default()
    };
    let fit = fit(&song, &routine);
    assert_eq!(fit.mismatches.len(), 1);
    let kinds: Vec<_> = fit.suggestions.iter().map(|s| (s.kind, s.counts)).collect();
    let fill = (SuggestionKind::Fill, 3);
    assert_eq!(kinds, [fill, fill, (SuggestionKind::Pause, 3)], "{:?}", fit.suggestions);
    let why = "the routine's own steps are all of even counts and cannot make 3";
    let says = |n: usize| fit.suggestions[n].message.contains(why);
    assert!(says(0) && !says(1), "{:?}", fit.suggestions);
}

#[test]
fn a_fill_brings_back_the_foot_on_which_the_part_started_first() {
    // The 7 triples of Chug swap the lead foot, so the right foot is free when the gap comes.
    let song = song(&[("verse", 32), ("chorus", 36), ("verse", 32)]);
    let fit = fit(&song, &danced(None, &[0, 3, 0]));
    assert!(fit.mismatches[0].message.ends_with("right foot free"), "{:?}", fit.mismatches);
    let fill = &fit.suggestions[0];
    assert_eq!((fill.lead_foot, fill.free_foot_after), (Some(Foot::Right), Some(Foot::Left)));
    assert_eq!(
        (fill.steps.join(" "), fill.feet.join(" ")),
        ("Triple basic".into(), "R L R LR".into())
    );
}

#[test]
fn a_fill_in_the_order_where_there_is_no_gap_is_named_and_left_out() {
    let song = song(&[("verse", 32), ("chorus", 36), ("verse", 32), ("chorus", 32), ("verse", 32)]);
    let fit = fit(&song, &danced(None, &[0, 1, 2, 0, 1, 2, 0]));
    assert_eq!(kinds(&fit), [(MismatchKind::FillWithoutGap, 133, 4)]);
    assert_eq!(
        fit.mismatches[0].message,
        "Part A (3rd time) comes right after Part B (2nd time), with no gap for Fill (2nd time) (4 \
         counts), at 1:07.00"
    );
    assert_eq!(fit.suggestions.len(), 1);
    assert_eq!(fit.suggestions[0].kind, SuggestionKind::LeaveOut);
}

#[test]
fn a_part_too_long_is_cut_by_whole_steps() {
    let song = song(&[("verse", 32), ("chorus", 28), ("verse", 32)]);
    let fit = fit(&song, &danced(None, &[0, 1, 0]));
    assert_eq!(kinds(&fit), [(MismatchKind::PartTooLong, 61, 4)]);
    assert_eq!(
        fit.mismatches[0].message,
        "chorus is 28 counts and Part B 32: 4 counts too many; Part B runs over the start of verse 2 \
         at 0:31.00"
    );
    let trim = &fit.suggestions[0];
    assert_eq!((trim.kind, trim.counts), (SuggestionKind::Trim, 4));
    assert_eq!(trim.message, "leave out the last 4 counts of Part B: 2 Single basic");
}

#[test]
fn one_long_phrase_does_not_put_later_parts_off() {
    for change in [2, 4, 8] {
        let phrases = [("verse", 32), ("chorus", 32 + change), ("verse", 32), ("chorus", 32)];
        let fit = fit(&song(&phrases), &routine(None, &[A, B], &[0, 1, 0, 1]));
        assert_eq!(kinds(&fit), [(MismatchKind::PartTooShort, 65, change as i32)]);
    }
}

#[test]
fn a_mark_two_counts_askew_is_one_part_off_its_phrase() {
    let phrases = [("verse", 30), ("chorus", 34), ("verse", 32)];
    let fit = fit(&song(&phrases), &routine(None, &[A, B], &[0, 1, 0]));
    assert_eq!(kinds(&fit), [(MismatchKind::OffPhrase, 33, 2)]);
    assert_eq!(fit.mismatches[0].message, "Part B starts 2 counts after chorus does, at 0:17.00");
}

#[test]
fn parts_share_phrases_and_span_them() {
    let parts = [
        ("Part A", PartKind::Part, 16),
        ("Part B", PartKind::Part, 64),
        ("Break", PartKind::Break, 8),
    ];
    let song = song(&[("verse", 32), ("chorus", 32), ("chorus", 32), ("verse", 24)]);
    let fit = fit(&song, &routine(None, &parts, &[0, 0, 1, 0, 2]));
    assert!(fit.fits, "{:?}", fit.mismatches);
}

#[test]
fn the_wait_follows_the_song_and_the_difference_is_said() {
    let song = song(&[("intro", 20), ("verse", 32), ("chorus", 32)]);
    let fit = fit(&song, &routine(Some(16), &[A, B], &[0, 1]));
    assert_eq!(kinds(&fit), [(MismatchKind::WaitDiffers, 21, 4)]);
    assert_eq!(
        fit.mismatches[0].message,
        "the sheet says wait 16 and verse asks for 20: the first step comes 4 counts later, at 0:11.00"
    );
    assert_eq!(
        (fit.suggestions[0].kind, fit.suggestions[0].counts),
        (SuggestionKind::ChangeWait, 20)
    );
}

#[test]
fn a_shorter_cut_has_no_phrase_for_the_part_it_lacks() {
    let parts = [A, B, ("Part C", PartKind::Part, 32)];
    let order = [0, 1, 0, 1, 2, 1];
    let album = [
        ("verse", 32),
        ("chorus", 32),
        ("verse", 32),
        ("chorus", 32),
        ("bridge", 32),
        ("chorus", 32),
    ];
    assert!(fit(&song(&album), &routine(None, &parts, &order)).fits);
    let radio = [album[0], album[1], album[4], album[5]];
    let fit = fit(&song(&radio), &routine(None, &parts, &order));
    assert!(!fit.fits);
    let counts: i32 = fit.mismatches.iter().map(|m| m.counts).sum();
    assert_eq!(counts, 64, "{:?}", fit.mismatches);
    assert!(
        fit.mismatches.iter().all(|m| m.kind == MismatchKind::PartTooLong),
        "{:?}",
        fit.mismatches
    );
}

#[test]
fn the_song_ends_first_or_goes_on() {
    let verse_and_chorus = [("verse", 32), ("chorus", 32)];
    let song = song(&verse_and_chorus);
    let fit_of = |order: &[usize]| fit(&song, &danced(None, order));
    let ends = fit_of(&[0, 1, 0]);
    assert_eq!(kinds(&ends), [(MismatchKind::SongEndsFirst, 65, 32)]);
    assert_eq!(
        ends.mismatches[0].message,
        "the song is over at 0:33.00: Part A (2nd time) is not reached, 32 counts"
    );
    assert_eq!(ends.suggestions[0].message, "leave out Part A (2nd time), 32 counts");
    let over = fit_of(&[0]);
    assert_eq!(kinds(&over), [(MismatchKind::SongLeftOver, 33, 32)]);
    assert_eq!(
        over.mismatches[0].message,
        "the routine is over with Part A at 0:17.00; the song goes on for 32 counts (4 eights): chorus"
    );
    assert_eq!(over.suggestions[0].message, "dance Part A once more");
    assert_eq!(kinds(&fit_of(&[])), [(MismatchKind::SongLeftOver, 1, 64)]);
}

#[test]
fn up_to_one_eight_of_closing_music_needs_no_word() {
    let with_close = |counts| fit(&song(&[("verse", 32 + counts)]), &routine(None, &[A], &[0]));
    assert!(with_close(CLOSING_COUNTS).fits);
    assert_eq!(kinds(&with_close(CLOSING_COUNTS + 1)), [(MismatchKind::SongLeftOver, 33, 9)]);
}

#[test]
fn no_song_and_no_routine_are_no_trouble() {
    let nothing = song(&[]);
    assert!(fit(&nothing, &Routine::default()).fits);
    let all = fit(&nothing, &routine(Some(16), &[A, FILL], &[0, 1]));
    assert_eq!(all.mismatches.len(), 1);
    assert_eq!(all.mismatches[0].kind, MismatchKind::SongEndsFirst);
    let mut wrong = routine(None, &[A], &[0]);
    wrong.order[0].part = 7;
    assert_eq!(fit(&song(&[("verse", 32)]), &wrong).placements, []);
}

#[test]
fn the_report_reads_top_down() {
    let song = song(&[("intro", 16), ("verse", 32), ("chorus", 36), ("verse", 32), ("chorus", 32)]);
    let routine = Routine { title: "Lamplighters".into(), ..danced(Some(16), &[0, 1, 0, 1]) };
    let expected = "\
It does not fit: 1 thing does not meet.

Lamplighters to Lantern Street; 120 counts a minute
wait 16 counts (2 eights): counting starts at 0:01.00, first step at 0:09.00

part       round  counts  eights  from   to   starts     ends  phrase    feet  wall
Part A                32       4    17   48  0:09.00  0:25.00  verse 1   L-L   front
Part B                32       4    49   80  0:25.00  0:41.00  chorus 1  L-L   front  see 1
(nothing)              4      +4    81   84  0:41.00  0:43.00
Part A     2nd        32       4    85  116  0:43.00  0:59.00  verse 2   L-L   front
Part B     2nd        32       4   117  148  0:59.00  1:15.00  chorus 2  L-L   front

What does not meet
  1  Chorus 1 is 36 counts and Part B 32: 4 counts are left over at 0:41.00, left foot free.
";
    let text = report(&fit(&song, &routine), &song, &routine);
    let (found, mends) = text.split_once("\nWhat would mend it\n").unwrap();
    assert_eq!(found, expected);
    let first = "  1  A fill of 4 at 0:41.00 that starts on the left foot and leaves the left foot \
                 free for Part\n     A (2nd time): Fancy double. [1]\n       Fancy double: L R LR LR\n";
    assert!(mends.starts_with(first), "{mends}");
    let others = mends.matches("\n  or ").count();
    assert!((1..3).contains(&others) && mends.contains(&format!(" [{}]", others + 1)), "{mends}");
    assert!(mends.contains("\n\nTo have a mend written into a new sheet: --apply"), "{mends}");
}

#[test]
fn no_line_of_a_report_is_wider_than_a_page_and_names_cannot_break_it() {
    let long = "The part that goes round and round the room with both arms up".repeat(2);
    let name = format!("{long}\n\u{1b}[31m");
    let parts = [(name.as_str(), PartKind::Part, 32), B];
    let song = song(&[(long.as_str(), 32), ("chorus", 36), (long.as_str(), 30), ("chorus", 32)]);
    let routine = routine(Some(4), &parts, &[0, 1, 0, 1, 1]);
    let text = report(&fit(&song, &routine), &song, &routine);
    assert!(text.lines().count() > 10);
    for line in text.lines() {
        assert!(line.chars().count() <= 104, "{line}");
        assert!(!line.contains('\u{1b}'));
    }
}
