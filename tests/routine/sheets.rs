//! Sheets typed with different habits, and what they must be read as.

use hoofbeat::routine::{LineRole, PartKind, line_roles, parse};
use hoofbeat::units::{Foot, Wall};

use super::{danced, remarks, sound, sound_sheets};

#[test]
fn sheets_typed_with_different_habits_have_no_mistakes() {
    let sheets = sound_sheets();
    assert!(sheets.len() >= 8);
    for (name, text) in sheets {
        let (routine, findings) = parse(&text);
        let wrong: Vec<String> =
            findings.iter().filter(|f| f.is_mistake()).map(ToString::to_string).collect();
        assert!(wrong.is_empty(), "{name}: {wrong:#?}");
        assert!(routine.counts() > 0, "{name}");
        let unknown = line_roles(&text).iter().filter(|r| **r == LineRole::Unknown).count();
        assert_eq!(unknown, 0, "{name}");
        for part in &routine.parts {
            if let Some(stated) = part.stated_counts {
                assert_eq!(part.counts(), stated, "{name}: {}", part.name);
            }
        }
    }
}

#[test]
fn the_top_of_a_sheet_is_read() {
    let routine = sound(
        "Title: Lantern Walk\nMusic: Paper Lanterns\nLevel: Easy\nChoreo: H. Alder\nWait: 16\n\
         Part A (4)\nTriple\n",
    );
    assert_eq!(routine.title, "Lantern Walk");
    assert_eq!(routine.music.as_deref(), Some("Paper Lanterns"));
    assert_eq!(routine.level.as_deref(), Some("Easy"));
    assert_eq!(routine.choreographer.as_deref(), Some("H. Alder"));
    assert_eq!(routine.wait, Some(16));
    let other = sound("MILL RACE\nIntro: Wait 32 beats, start on left foot\nPart A\nTriple");
    assert_eq!(
        (other.title.as_str(), other.wait, other.starts_on),
        ("MILL RACE", Some(32), Some(Foot::Left))
    );
}

#[test]
fn a_line_of_steps_may_be_typed_in_many_ways() {
    let table = [
        ("2 Triple", 8, false),
        ("Triple x2", 8, false),
        ("Triple x 2", 8, false),
        ("2x Triple", 8, false),
        ("Triple twice", 8, false),
        ("2 Triples (8)", 8, false),
        ("4 Single Basics (8)", 8, false),
        ("Fancy Double, Rocking Chair", 8, false),
        ("Fancy Double; Rocking Chair", 8, false),
        ("Fancy Double + Rocking Chair", 8, false),
        ("Fancy Double then Rocking Chair", 8, false),
        ("2 Triple - 1 Rocking Chair", 12, false),
        ("DS DS RS", 3, false),
        ("ds-ds-rs", 3, false),
        ("DS BR(xif) DS RS", 4, false),
        ("DS DS DS RS x2", 8, false),
        ("(DS RS) x 4", 8, false),
        ("[DS RS RS RS](1/2 R)", 4, true),
        ("Double Step Double Step Rock Step", 3, false),
        ("Triple DS DS DS RS", 4, true),
        ("pause 2", 2, false),
        ("hold", 1, false),
        ("hold for 4 counts", 4, false),
        ("stamp, stamp, stomp", 3, true),
        ("8 counts walk", 8, false),
        ("1-4 Triple", 4, true),
        ("* 2 Triple", 8, false),
        ("• 2 Triple", 8, false),
        ("2 Triple \"go left\"", 8, false),
        ("2 Triple – kick low", 8, false),
        ("2 TRIPLE\t\t(8)", 8, false),
        ("Triple, repeat on other foot", 8, false),
        ("Triple forward, Triple back", 8, false),
    ];
    for (line, counts, swaps) in table {
        let routine = sound(&format!("Part A\n{line}\n"));
        let effect = routine.parts[0].effect();
        assert_eq!(effect.counts, counts, "{line}");
        assert_eq!(effect.swaps_free_foot, swaps, "{line}");
        assert_eq!(routine.parts[0].lines[0].text, line, "as typed");
    }
}

#[test]
fn turns_are_added_up() {
    let table = [
        ("4 Rocking Chair (turn 1/4 L on each)", -4),
        ("4 Rocking Chair turning 1/4 left each", -4),
        ("2 Triple turn 1/2 R", 2),
        ("Triple turn 1/4 L", -1),
        ("Triple (1/2 right)", 2),
        ("Triple 360", 4),
        ("Triple full turn left", -4),
        ("Triple (turn ¼ right on 1st DS, ½ left on BR)", -1),
        ("Triple ¾R", 3),
    ];
    for (line, quarters) in table {
        let routine = sound(&format!("Part A\n{line}\n"));
        assert_eq!(routine.parts[0].effect().turn, quarters, "{line}");
    }
    let alone = sound("Part A\n2 Triple\n(turn 1/4 L)\n");
    assert_eq!(alone.walk()[0].wall_after, Wall::Left);
}

#[test]
fn repeats_repeat_the_line_or_the_whole() {
    let line = sound("Part A\n4 Triple\n2 Rocking Chair\nrepeat\n");
    assert_eq!(line.parts[0].counts(), 32);
    // So it does where only that makes whole sixteens.
    let whole = sound("Part A\nTriple\nRocking Chair\nrepeat\n");
    assert_eq!(whole.parts[0].counts(), 16);
    let all = sound("Part A\nTriple\nRocking Chair\nrepeat all\n");
    assert_eq!(all.parts[0].counts(), 16);
    // Where the heading's counts say so, `repeat` alone means all.
    let by_heading = sound("Part A (16)\nTriple\nRocking Chair\nrepeat\n");
    assert_eq!(by_heading.parts[0].counts(), 16);
    let other = sound("Part A\nTriple\nRepeat on other foot\n");
    assert_eq!(other.parts[0].lines[1].feet_line(Foot::Right), "R L R LR");
    let same = sound("Part A\n2 Triple\nPart B\nsame as Part A\n");
    assert_eq!(same.parts[1].counts(), 8);
}

#[test]
fn a_number_in_front_may_be_counts_where_only_that_adds_up() {
    let routine = sound("Part A (16)\n8 Triple\n8 Fancy Double\n");
    assert_eq!(routine.parts[0].steps().count(), 4);
    let columns = sound("Beats  Cue\nPart A\n8  Triple\n8  Fancy Double\n");
    assert_eq!(columns.parts[0].counts(), 16);
}

#[test]
fn steps_may_be_defined_on_the_sheet() {
    let ways = [
        "Step: Lantern Kick = DS K DS RS\n\nPart A (8)\n2 Lantern Kick\n",
        "Lantern Kick = DS K DS RS\n\nPart A (8)\n2 Lantern Kicks\n",
        "Steps:\nLantern Kick: DS K DS RS\n\nPart A (8)\nlantern kick x2\n",
        "Part A (8)\n2 Lantern Kick\n   DS K DS RS\n   L  R R  LR\n",
        "Part A (8)\n2 Lantern Kick  DS K DS RS\n",
        "Part A (8)\n2 Lantern Kick\n\nSteps\nLantern Kick = DS K DS RS\n",
    ];
    for sheet in ways {
        let routine = sound(sheet);
        let step = routine.parts[0].steps().next().unwrap();
        assert_eq!(step.name, "Lantern Kick", "{sheet}");
        assert_eq!((step.counts, step.swaps_free_foot), (4, false), "{sheet}");
        assert_eq!(step.feet_line(Foot::Left), "L R R LR", "{sheet}");
    }
}

#[test]
fn movements_under_a_name_are_not_danced_once_more() {
    let routine = sound("Part A (8)\n2 Triple\n  DS DS DS RS\n  L R L RL\n  &a1 &a2 &a3 &4\n");
    assert_eq!(routine.parts[0].counts(), 8);
    // Clogging 101 writes a repeat out again, with gaps between.
    let repeat = sound(
        "A) Boogie Basic\n\nDS R(XIB) S\n\nL R L\n\nRepeat on the right\n\nDS R(XIB) S\n\nR L R\n",
    );
    assert_eq!(repeat.parts[0].counts(), 4);
}

#[test]
fn a_step_with_counts_is_no_heading_where_the_order_names_the_parts() {
    let routine = sound("Part A (12)\nTriple\n\nMoonlit Wander (8)\nNote: slowly\n\nOrder: A A\n");
    assert_eq!(danced(&routine), "Part A | Part A");
    let own = sound("Lantern Walk (8)\n2 Triple\n\nOrder: Lantern Walk\n");
    assert_eq!(danced(&own), "Lantern Walk");
}

#[test]
fn orders_in_words_lines_and_lists_are_the_same() {
    let parts = "Part A\nTriple\nPart B\nTriple\nBreak\nTriple\nFill\nTriple\nEnding\nTriple\n";
    let ways = [
        "Order: A B fill A B break B end",
        "Order: A, B, Fill, A, B, Break, B, Ending",
        "Sequence: A-B-Fill-A-B-Break-B-Ending",
        "Order\u{a0}: Part A – Part B – Fill – Part A – Part B – Break – Part B – Ending",
        "ORDER:\nA\nB\nFill\nA\nB\nBreak\nB\nEnding",
        "Sequence: AB fill AB break B end",
    ];
    for way in ways {
        for sheet in [format!("{way}\n\n{parts}"), format!("{parts}\n{way}\n")] {
            let routine = sound(&sheet);
            assert_eq!(
                danced(&routine),
                "Part A | Part B | Fill | Part A | Part B | Break | Part B | Ending",
                "{way}"
            );
            assert_eq!(routine.order[3].time_round, 2);
        }
    }
}

#[test]
fn feet_and_walls_follow_over_the_whole_order() {
    let routine =
        sound("Part A (4)\nTriple turn 1/4 R\n\nBreak (4)\nRocking Chair\n\nOrder: A Break A A\n");
    let walk = routine.walk();
    let feet: Vec<Foot> = walk.iter().map(|p| p.lead_foot).collect();
    assert_eq!(feet, [Foot::Left, Foot::Right, Foot::Right, Foot::Left]);
    let walls: Vec<Wall> = walk.iter().map(|p| p.wall_after).collect();
    assert_eq!(walls, [Wall::Right, Wall::Right, Wall::Back, Wall::Left]);
    assert_eq!(walk[2].counts_before, 8);
    assert_eq!(routine.counts(), 16);
    let said = remarks("Part A (4)\nTriple turn 1/4 R\n\nOrder: A A\n");
    assert_eq!(
        said,
        [
            "the dance ends facing the back wall",
            "line 4, column 1: “Part A”: Part A starts on the right foot the second time",
        ]
    );
}

#[test]
fn sorts_of_parts_are_known_by_their_names() {
    let routine = sound(
        "Chorus (8)\nFill 4\nBridge 16 counts\nTag (4)\nEnding (2)\nOrder: chorus fill bridge tag end",
    );
    let kinds: Vec<PartKind> = routine.parts.iter().map(|p| p.kind).collect();
    assert_eq!(
        kinds,
        [PartKind::Part, PartKind::Fill, PartKind::Bridge, PartKind::Tag, PartKind::Ending]
    );
    assert_eq!(routine.counts(), 34);
}

#[test]
fn windows_ends_and_a_byte_order_mark_change_nothing() {
    for (name, text) in sound_sheets() {
        let windows = format!("\u{FEFF}{}", text.replace('\n', "\r\n"));
        let (plain, plain_findings) = parse(&text);
        let (other, other_findings) = parse(&windows);
        assert_eq!(plain, other, "{name}");
        assert_eq!(plain_findings, other_findings, "{name}");
    }
}

/// The best of three readings, in seconds: the one that other work on the machine disturbed least.
fn best_time(text: &str) -> f64 {
    let once = |_| {
        let start = std::time::Instant::now();
        assert!(!parse(text).0.parts.is_empty());
        start.elapsed().as_secs_f64()
    };
    (0..3).map(once).fold(f64::INFINITY, f64::min)
}

#[test]
fn the_time_grows_no_faster_than_the_sheet() {
    let steps = "2 Triple (8)\nDS DS RS\nL R LR\n4 Rocking Chiar\nsomething nobody knows at all\n";
    let lines = |n: usize| format!("Part A (32)\n{}", steps.repeat(n / 5));
    let headings = |n: usize| {
        (0..n / 3).map(|i| format!("Walk number{i} (8)\n2 Triple\n\n")).collect::<String>()
    };
    for make in [&lines as &dyn Fn(usize) -> String, &headings] {
        let (short, long) = (best_time(&make(400)), best_time(&make(2_400)));
        // Six times the lines: 6 when linear, 36 when every line looks at every other.
        assert!(long < 18.0 * short, "{short} s for 400 lines, {long} s for 2,400");
    }
    let (_, findings) = parse(&lines(2_400));
    assert!(findings.len() >= 960);
}
