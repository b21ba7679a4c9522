//! The cue sheet of small routines made here.

use super::*;
use crate::fit::{Mismatch, MismatchKind, Placement, Suggestion, SuggestionKind, Wait};
use crate::plain::columns;
use crate::routine::{OrderItem, Part, PartKind, StepLine, StepUse};
use crate::song::{CountLine, Phrase};
use crate::units::{Count, Foot, Wall};

use Foot::{Left as L, Right as R};

/// The six steps' movements, feet and lengths: Clogging 101, *Cue Sheets*, lessons 1-3.
fn step(name: &str) -> StepUse {
    let (movements, counts, feet, swaps): (_, _, &[Foot], _) = match name {
        "Basic" => ("DS RS", 2, &[L, R, L], true),
        "Triple" => ("DS DS DS RS", 4, &[L, R, L, R, L], true),
        "Fancy Double" => ("DS DS RS RS", 4, &[L, R, L, R, L, R], false),
        "Rocking Chair" => ("DS BR DS RS", 4, &[L, R, R, L, R], false),
        other => panic!("{other}"),
    };
    StepUse {
        name: name.into(),
        counts,
        movements: movements.into(),
        feet: feet.to_vec(),
        swaps_free_foot: swaps,
        ..StepUse::default()
    }
}

fn line(text: &str, steps: &[(u32, &str)]) -> StepLine {
    let steps =
        steps.iter().flat_map(|&(times, name)| (0..times).map(move |_| step(name))).collect();
    StepLine { steps, text: text.into(), ..StepLine::default() }
}

fn part(name: &str, kind: PartKind, lines: Vec<StepLine>) -> Part {
    Part { name: name.into(), kind, lines, ..Part::default() }
}

/// Part A 16 counts, Part B 18 with a half turn, a fill of 2; danced A B fill A B.
fn routine() -> Routine {
    let mut turning = line("2 Rocking Chair, turn half right", &[(2, "Rocking Chair")]);
    turning.steps[1].turn = 2;
    turning.note = Some("call it early".into());
    let order = [0, 1, 2, 0, 1];
    Routine {
        title: "Sawmill Stomp".into(),
        music: Some("Mill Lane".into()),
        choreographer: Some("A. Miller".into()),
        level: Some("Easy".into()),
        wait: Some(16),
        starts_on: Some(L),
        notes: vec!["Lines, all facing the front".into()],
        parts: vec![
            part(
                "Part A",
                PartKind::Part,
                vec![
                    line("2 Triple", &[(2, "Triple")]),
                    line("Fancy Double, 2 Basic", &[(1, "Fancy Double"), (2, "Basic")]),
                ],
            ),
            part(
                "Part B",
                PartKind::Part,
                vec![turning, line("2 Triple", &[(2, "Triple")]), line("Basic", &[(1, "Basic")])],
            ),
            part("Fill", PartKind::Fill, vec![line("Basic", &[(1, "Basic")])]),
        ],
        order: order
            .iter()
            .enumerate()
            .map(|(i, &part)| OrderItem {
                part,
                time_round: 1 + order[..i].iter().filter(|p| **p == part).count() as u32,
                line: 1,
            })
            .collect(),
    }
}

/// A steady song at 120, count 1 at 2 s; intro 16, verse 16, chorus 20, verse 16, chorus 20.
fn song() -> SongView {
    let form = [("intro", 16), ("verse", 16), ("chorus", 20), ("verse", 16), ("chorus", 20)];
    let time = |counts: u32| 2.0 + f64::from(counts) * 0.5;
    let mut start = 0;
    let phrases = form.map(|(label, counts)| {
        let phrase = Phrase {
            label: label.into(),
            start: Count::from_index(start as usize),
            counts,
            start_s: time(start),
            end_s: time(start + counts),
            set: true,
            strength: 1.0,
        };
        start += counts;
        phrase
    });
    SongView {
        title: "Mill Lane".into(),
        artist: Some("The Sawdust Band".into()),
        duration_s: 48.4,
        counts_per_minute: 120.0,
        counts_per_bar: 4,
        counts_per_beat: 1.0,
        counts: CountLine {
            times_s: (0..start).map(time).collect(),
            bar_positions: (0..start).map(|c| c % 4 + 1).collect(),
            end_s: time(start),
        },
        phrases: phrases.into(),
    }
}

/// The fill meets the first time; the second time two counts are left over.
fn fit() -> Fit {
    let time = |count: i32| 2.0 + f64::from(count - 1) * 0.5;
    let laid = [
        ("Part A", 1, 17, 16),
        ("Part B", 1, 33, 18),
        ("Fill", 1, 51, 2),
        ("Part A", 2, 53, 16),
        ("Part B", 2, 69, 18),
    ];
    let feet = [L, L, R, L, L];
    let walls = [Wall::Front, Wall::Front, Wall::Back, Wall::Back, Wall::Back];
    let placements = laid
        .iter()
        .enumerate()
        .map(|(i, &(name, time_round, start, counts))| Placement {
            part: name.into(),
            time_round,
            order_index: i,
            start_count: Count(start),
            counts,
            start_s: time(start),
            end_s: time(start + counts as i32),
            phrase: Some(["verse", "chorus", "chorus", "verse", "chorus"][i].into()),
            phrase_index: Some([1, 2, 2, 3, 4][i]),
            lead_foot: feet[i],
            free_foot_after: if i == 1 || i == 4 { R } else { L },
            wall_before: walls[i],
            wall_after: walls[i],
        })
        .collect();
    Fit {
        fits: false,
        wait: Wait { counts: 16, start_s: 2.0, end_s: 10.0 },
        placements,
        mismatches: vec![Mismatch {
            kind: MismatchKind::PartTooShort,
            at_count: Count(87),
            at_s: 45.0,
            counts: 2,
            part: Some("Part B".into()),
            time_round: Some(2),
            phrase: Some("chorus".into()),
            message: "chorus 2 is 20 counts and Part B 18: 2 counts are left over at 0:45.00, right foot free".into(),
        }],
        suggestions: vec![Suggestion {
            mends: 0,
            kind: SuggestionKind::Fill,
            at_count: Count(87),
            at_s: 45.0,
            counts: 2,
            steps: vec!["Basic".into()],
            lead_foot: Some(R),
            free_foot_after: Some(L),
            message: "a fill of 2 at 0:45.00 that starts on the right foot: Basic".into(),
        }],
    }
}

#[test]
fn the_sheet_of_a_small_routine_reads_so() {
    println!("{}", sheet(&routine(), &song(), &fit()));
    println!("{}", sheet_without_song(&routine()));
}
