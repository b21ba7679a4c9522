//! What holds for every song map, however odd.

use hoofbeat::song::marks::{At, Correction, FormItem, Place, Which, words};
use hoofbeat::song::{Mark, Pulse, SetPhrase, SongMap, Tapped, UserSet};
use hoofbeat::units::{Beat, Count};
use proptest::prelude::*;

use super::support::lamp_oil;

/// A song of up to 120 beats, unevenly spaced, with bars and suggestions anywhere.
fn songs() -> impl Strategy<Value = SongMap> {
    let beats = prop::collection::vec(0.05..2.0f64, 0..120);
    let phrases = prop::collection::vec((0..120usize, "[a-c]{1,3}", 0.0..1.0f64), 0..8);
    (beats, 0..8u32, 0..120usize, phrases, prop::collection::btree_set(0..120usize, 0..40))
        .prop_map(|(gaps, bar, first, phrases, downbeats)| {
            let mut map = lamp_oil();
            let mut time = 0.3;
            let mut beats_s = Vec::new();
            for gap in gaps {
                beats_s.push((time * 1e4_f64).round() / 1e4);
                time += gap;
            }
            let n = beats_s.len();
            let inside = |beat: &usize| *beat < n;
            map.heard.grid.downbeats = downbeats.into_iter().filter(inside).map(Beat).collect();
            map.heard.grid.beats_s = beats_s;
            map.heard.grid.beats_per_bar = bar;
            map.heard.first_count_beat = Beat(if n == 0 { 0 } else { first % n });
            map.heard.phrases.clear();
            for (beat, label, strength) in phrases.into_iter().filter(|(beat, ..)| inside(beat)) {
                let beat = Beat(beat);
                map.heard.phrases.push(hoofbeat::song::HeardPhrase {
                    label,
                    letter: String::new(),
                    beat,
                    strength,
                });
            }
            map.recording.duration_s = time;
            map
        })
}

fn odd_seconds() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => 0.0..120.0f64,
        1 => -50.0..2000.0f64,
        1 => prop::num::f64::ANY,
    ]
}

/// Anything a `UserSet` can hold, sense or not.
fn sets() -> impl Strategy<Value = UserSet> {
    let seconds = || prop::option::of(odd_seconds());
    let pulse = prop::option::of(prop_oneof![4 => 10.0..500.0f64, 1 => prop::num::f64::ANY]);
    let taps = prop::collection::vec(prop::collection::vec(odd_seconds(), 0..12), 0..4);
    let phrases = prop::collection::vec(("[a-c]{0,3}", odd_seconds()), 0..8);
    (
        (seconds(), pulse, seconds(), prop::option::of(0..20u32)),
        (taps, any::<bool>(), phrases),
        (prop::collection::vec(odd_seconds(), 0..4), any::<bool>(), seconds()),
        prop::collection::vec(odd_seconds(), 0..3),
    )
        .prop_map(
            |(
                (first, pulse, bar_line, bar),
                (taps, sorted, phrases),
                (removed, whole, end),
                changes,
            )| {
                let tapped = taps.into_iter().map(|mut beats_s| {
                    if sorted {
                        beats_s.sort_by(f64::total_cmp);
                        beats_s.dedup();
                    }
                    Tapped { beats_s }
                });
                let set_phrase = |(label, start_s): (String, f64)| SetPhrase { label, start_s };
                UserSet {
                    first_count_s: first,
                    pulse: pulse.map(|counts_per_minute| Pulse { counts_per_minute }),
                    bar_line_s: bar_line,
                    beats_per_bar: bar,
                    tapped: tapped.collect(),
                    changes_s: changes,
                    phrases: phrases.into_iter().map(set_phrase).collect(),
                    removed_s: removed,
                    phrases_complete: whole,
                    end_s: end,
                }
            },
        )
}

fn places() -> impl Strategy<Value = Place> {
    prop_oneof![
        (-5..140i32).prop_map(|c| Place { typed: c.to_string(), at: At::Count(Count(c)) }),
        (-1.0..130.0f64).prop_map(|t| Place { typed: format!("{t:.2}"), at: At::Time(t) }),
    ]
}

fn marks() -> impl Strategy<Value = Mark> {
    let which =
        || prop_oneof![places().prop_map(Which::At), "[a-c]{1,2}( [12])?".prop_map(Which::Named)];
    let lengths = prop::collection::vec(1..60u32, 0..6);
    let form = lengths.prop_map(|lengths| {
        let item = |counts| words::form(&format!("x {counts}")).unwrap().remove(0);
        Mark::Form(lengths.into_iter().map(item).collect::<Vec<FormItem>>())
    });
    let heard = prop::sample::select(vec![
        Correction::Form,
        Correction::First,
        Correction::End,
        Correction::Pulse,
        Correction::Bar,
        Correction::BeatsPerBar,
        Correction::Tap,
    ]);
    prop_oneof![
        (places(), "[a-c]{1,3}").prop_map(|(place, label)| Mark::Phrases(vec![(place, label)])),
        (which(), places()).prop_map(|(which, to)| Mark::Move { which, to }),
        (which(), "[a-c]{1,3}").prop_map(|(which, label)| Mark::Label { which, label }),
        (prop::option::of(which()), places(), prop::option::of("[a-c]{1,3}"))
            .prop_map(|(which, at, label)| Mark::Split { which, at, label }),
        which().prop_map(|which| Mark::Remove(vec![which])),
        form,
        places().prop_map(Mark::First),
        places().prop_map(Mark::End),
        Just(Mark::Half),
        Just(Mark::Double),
        (20.0..300.0f64).prop_map(Mark::Pulse),
        (-9..9i32).prop_map(Mark::BarShift),
        places().prop_map(Mark::BarAt),
        (0..9u32).prop_map(Mark::BeatsPerBar),
        prop::collection::vec(0.0..100.0f64, 0..9).prop_map(|mut times| {
            times.sort_by(f64::total_cmp);
            Mark::Tap(times)
        }),
        heard.prop_map(Mark::AsHeard),
        Just(Mark::Undo),
    ]
}

/// Phrases lie end to end from count 1 to the last, times agree with the counts, and the counts are
/// the corrected grid's beats.
fn check_view(map: &SongMap) {
    let grid = map.corrected_grid();
    assert!(grid.beats_s.windows(2).all(|pair| pair[0] < pair[1]), "grid goes forward");
    assert!(grid.downbeats.iter().all(|b| b.0 < grid.beats_s.len()));
    assert!(grid.downbeats.windows(2).all(|pair| pair[0] < pair[1]));
    let Ok(view) = map.view() else {
        assert!(grid.beats_s.is_empty(), "no view only without beats");
        return;
    };
    let mut next = Count::FIRST;
    for phrase in &view.phrases {
        assert_eq!(phrase.start, next, "no hole, no overlap");
        assert!(phrase.counts > 0);
        assert_eq!(Some(phrase.start_s), view.counts.time_s(phrase.start));
        assert_eq!(Some(phrase.end_s), view.counts.time_s(phrase.end()));
        next = phrase.end();
    }
    assert_eq!(next, view.counts.end());
    assert!(view.counts.times_s.iter().all(|t| grid.beats_s.contains(t)), "times are the grid's");
    assert!(view.counts.end_s > *view.counts.times_s.last().unwrap());
    assert_eq!(view.counts.bar_positions.len(), view.counts.len());
    assert_eq!(view.names().len(), view.phrases.len());
    assert!(view.wait() as usize <= view.counts.len());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..Default::default() })]

    #[test]
    fn phrases_partition_the_counts_whatever_was_set(map in songs(), set in sets()) {
        let map = SongMap { set, ..map };
        check_view(&map);
        let _ = map.warnings();
    }

    #[test]
    fn any_marks_in_any_order_leave_a_sound_map(map in songs(), marks in prop::collection::vec(marks(), 1..12)) {
        let mut map = map;
        for mark in &marks {
            let before = map.clone();
            match map.mark(mark) {
                Ok(done) => prop_assert_eq!(done.changed, map.set != before.set || *mark == Mark::Undo),
                Err(_) => prop_assert_eq!(&map, &before, "a refused mark changes nothing"),
            }
            check_view(&map);
            prop_assert_eq!(&map.heard, &before.heard, "marks never touch what was heard");
            if map.set != before.set && *mark != Mark::Undo {
                let mut undone = map.clone();
                undone.mark(&Mark::Undo).unwrap();
                prop_assert_eq!(&undone.set, &before.set, "undo restores exactly");
            }
        }
        // What was set in this way can be saved and read back exactly.
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.song.json");
        map.save(&path, hoofbeat::save::Overwrite::No).unwrap();
        let read = SongMap::load(&path).unwrap();
        prop_assert_eq!(&read.set, &map.set);
        prop_assert_eq!(&read.undo, &map.undo);
    }

    #[test]
    fn no_words_make_the_readers_panic(typed in "\\PC{0,40}") {
        let _ = words::place(&typed);
        let _ = words::phrases(&typed);
        let _ = words::movement(&typed);
        let _ = words::renaming(&typed);
        let _ = words::splitting(&typed);
        let _ = words::several(&typed);
        let _ = words::bar(&typed);
        let _ = words::times(&typed);
        let _ = words::form(&typed);
    }
}
