//! The cue sheet of small routines made here, and of every routine at hand read again.

use std::path::Path;

use proptest::prelude::*;

use super::*;
use crate::fit::{Mismatch, MismatchKind, Placement, Suggestion, SuggestionKind, Wait};
use crate::fit::{fit as laid_fit, rewrite};
use crate::golden;
use crate::plain::columns;
use crate::routine::{OrderItem, Part, PartKind, Severity, StepLine, StepUse, WORKED_OUT};
use crate::routine::{glossary, parse};
use crate::song::{CountLine, Phrase};
use crate::units::{Count, Foot, Wall};

use Foot::{Left as L, Right as R};

/// A step of the glossary, whose feet are tested there against Clogging 101.
fn step(name: &str) -> StepUse {
    glossary::find(name).unwrap().1.clone()
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
            letter: String::new(),
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
        entrance: None,
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
            danced: counts,
            left_out: false,
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
            feet: vec!["R LR".into()],
            edits: vec![],
            lead_foot: Some(R),
            free_foot_after: Some(L),
            message: "a fill of 2 at 0:45.00 that starts on the right foot: Basic".into(),
        }],
    }
}

#[test]
fn the_sheet_of_a_small_routine_reads_so() {
    golden::check("sheets/on-a-song.txt", &sheet(&routine(), &song(), &fit()));
}

#[test]
fn without_a_song_the_sheet_has_counts_from_the_first_step() {
    golden::check("sheets/alone.txt", &sheet_without_song(&routine()));
}

#[test]
fn feet_change_where_a_part_comes_again_on_the_other_foot() {
    // A single basic swaps the lead foot (Clogging 101, lessons 1-2), so the second time is mirrored.
    let mut routine = routine();
    routine.parts = vec![part("Part A", PartKind::Part, vec![line("Basic", &[(1, "Basic")])])];
    let item = |time_round| OrderItem { part: 0, time_round, line: 1 };
    routine.order = vec![item(1), item(2), item(3)];
    let sheet = Sheet::of(&routine, None);
    assert_eq!(sheet.parts[0].feet, "left foot; 2nd time right foot");
    let feet: Vec<&str> = sheet.order.iter().map(|r| r.foot.as_str()).collect();
    assert_eq!(feet, ["L", "R", "L"]);
}

#[test]
fn running_counts_go_on_from_line_to_line() {
    let sheet = Sheet::of(&routine(), None);
    let running: Vec<&str> = sheet.parts[1].lines.iter().map(|l| l.running.as_str()).collect();
    assert_eq!(running, ["1-8", "9-16", "17-18"]);
}

#[test]
fn every_mismatch_is_told_with_its_mend() {
    let mut fit = fit();
    let mut stray = fit.mismatches[0].clone();
    stray.part = None;
    stray.at_count = Count(-40);
    stray.message = "something before the song".into();
    fit.mismatches.push(stray);
    let text = sheet(&routine(), &song(), &fit);
    assert!(text.contains("(1)  DOES NOT MEET: chorus 2 is 20 counts and Part B 18"));
    assert!(text.contains("to mend it: a fill of 2"));
    assert!(text.contains("(2)  DOES NOT MEET: something before the song"));
}

#[test]
fn a_part_without_room_is_said_to_have_none() {
    let mut fit = fit();
    fit.placements[2].start_count = fit.placements[3].start_count;
    let sheet = Sheet::of(&routine(), Some((&song(), &fit)));
    let row = sheet.order.iter().find(|r| r.name == "Fill").unwrap();
    assert_eq!((row.kind, row.running.as_str()), (RowKind::NoRoom, "no room"));
    assert!(sheet.order.iter().any(|r| r.kind == RowKind::Free && r.running == "51-52"));
}

#[test]
fn an_empty_routine_has_a_sheet_too() {
    let text = sheet_without_song(&Routine::default());
    assert!(text.starts_with("Routine\n"), "{text}");
}

/// The text of a routine's sheet read again, with and without a song, must be the same dance.
fn comes_back(routine: &Routine, what: &str) {
    let alone = sheet_without_song(routine);
    let (back, findings) = parse(&alone);
    let open: Vec<String> = findings
        .iter()
        .filter(|f| f.severity() != Severity::Remark)
        .map(ToString::to_string)
        .collect();
    assert!(open.is_empty(), "{what}: {open:?}\n{alone}");
    assert!(same_dance(&back, routine), "{what}\n{alone}\n{back:#?}\n{routine:#?}");
    let laid = laid_fit(&song(), routine);
    let on_song = sheet(routine, &song(), &laid);
    assert!(same_dance(&parse(&on_song).0, routine), "{what}\n{on_song}");
    // It can go round for ever. The first time words may be changed for plainer ones, then no more.
    let again = sheet_without_song(&back);
    let (back, _) = parse(&again);
    assert!(same_dance(&back, routine), "{what}\n{again}");
    assert_eq!(sheet_without_song(&back), again, "{what}");
}

#[test]
fn a_name_that_a_sheet_gives_two_meanings_comes_back() {
    let sheet = "Any Walk\n\nPart A:\nVine, Single basic\nVine\nDS-DS-DS-RS\n";
    comes_back(&parse(sheet).0, "two meanings");
}

fn sheets_in(folder: &str) -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let Ok(files) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<_> = files.map(|f| f.unwrap().path()).collect();
    files.sort();
    let is_sheet = |p: &std::path::PathBuf| p.extension().is_some_and(|e| e == "txt");
    let read = |p: &std::path::PathBuf| std::fs::read_to_string(p).ok();
    files
        .iter()
        .filter(|p| is_sheet(p))
        .filter_map(|p| Some((p.display().to_string(), read(p)?)))
        .collect()
}

#[test]
fn the_text_of_every_sheet_here_is_read_as_the_same_dance() {
    let mut tried = 0;
    for folder in ["fixtures/routines", "demo-audio"] {
        for (name, text) in sheets_in(folder) {
            let (routine, findings) = parse(&text);
            if routine.parts.is_empty() || findings.iter().any(|f| f.is_mistake()) {
                continue;
            }
            comes_back(&routine, &name);
            tried += 1;
        }
    }
    assert!(tried >= 14, "{tried}");
}

#[test]
fn mended_sheets_come_back_too() {
    for (name, text) in sheets_in("demo-audio").into_iter().chain(sheets_in("fixtures/routines")) {
        let (routine, findings) = parse(&text);
        if findings.iter().any(|f| f.is_mistake()) {
            continue;
        }
        let laid = laid_fit(&song(), &routine);
        for mend in &laid.suggestions {
            let Some(mended) = rewrite(&text, &mend.edits) else { continue };
            comes_back(&parse(&mended).0, &format!("{name}: {}", mend.message));
            // A printed sheet can be mended as well, and says nothing stale then.
            let printed = sheet(&routine, &song(), &laid);
            if let Some(mended) = rewrite(&printed, &mend.edits) {
                assert!(!mended.contains(WORKED_OUT));
                comes_back(&parse(&mended).0, &format!("{name}, printed: {}", mend.message));
            }
        }
    }
}

/// Lines as teachers type them, their steps from the glossary.
fn any_line() -> impl Strategy<Value = String> {
    let names: Vec<&'static str> = glossary::steps().map(|(s, _)| s.name).collect();
    let name = prop::sample::select(names);
    let turn = prop::sample::select(vec![
        "",
        "",
        "",
        " turn 1/4 L",
        " turn 1/2 R",
        " 360",
        " turn 1/4 R on each",
        " turn 1/8 L",
        " turn 3/8 R on each",
    ]);
    let note = prop::sample::select(vec!["", "", "", " - smile", " \"heads up\"", " (arms low)"]);
    let item = (name, 1u32..5, turn).prop_map(|(name, times, turn)| match times {
        1 => format!("{name}{turn}"),
        n => format!("{n} {name}{turn}"),
    });
    let moves = prop::sample::select(vec![
        "DS DS RS",
        "DS-DS-DS-RS",
        "DS BR(xif) DS RS",
        "DS*DS*R-S",
        "STO STO",
    ]);
    prop_oneof![
        4 => (item.clone(), note).prop_map(|(item, note)| format!("{item}{note}")),
        2 => (item.clone(), item.clone()).prop_map(|(a, b)| format!("{a}, {b}")),
        1 => moves.prop_map(String::from),
        1 => (1u32..6).prop_map(|n| format!("pause {n}")),
        1 => Just("repeat".to_string()),
        1 => Just("repeat on other foot".to_string()),
        1 => Just("Moonlit Wander (4)".to_string()),
        1 => Just("2 Lantern Kick".to_string()),
    ]
}

fn any_words() -> impl Strategy<Value = String> {
    prop_oneof!["[a-zA-Z ]{0,90}", "\\PC{0,50}", any::<String>()]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_routine_comes_back(
        parts in prop::collection::vec(prop::collection::vec(any_line(), 1..6), 1..5),
        order in prop::collection::vec(0usize..5, 1..9),
        wait in 0u32..40,
        right in any::<bool>(),
    ) {
        let names = ["Part A", "Part B", "Break", "Lantern Turn", "Ending"];
        let mut text = format!("Any Walk\nWait: {wait}\nStep: Lantern Kick = DS K DS RS\n");
        text.push_str(if right { "Starts: right\n" } else { "" });
        for (name, lines) in names.iter().zip(&parts) {
            text.push_str(&format!("\n{name}:\n{}\n", lines.join("\n")));
        }
        let order: Vec<&str> = order.iter().map(|i| names[i % parts.len()]).collect();
        text.push_str(&format!("\nOrder: {}\n", order.join(", ")));
        let (routine, findings) = parse(&text);
        // Where anything is asked the dance is not settled.
        prop_assume!(findings.iter().all(|f| f.severity() == Severity::Remark));
        comes_back(&routine, &text);
    }

    #[test]
    fn no_line_is_wider_than_the_page(
        names in prop::collection::vec(any_words(), 3..4),
        words in prop::collection::vec(any_words(), 1..12),
        movements in "[A-Z()]{0,60}( [A-Z]{1,4}){0,40}",
        counts in prop::collection::vec(0u32..5000, 1..12),
    ) {
        let mut routine = routine();
        routine.title = words[0].clone();
        routine.notes = words.clone();
        for (part, name) in routine.parts.iter_mut().zip(&names) {
            part.name = name.clone();
        }
        let lines = &mut routine.parts[0].lines;
        lines.clear();
        for (text, counts) in words.iter().zip(&counts) {
            let step = StepUse { counts: *counts, movements: movements.clone(), ..step("Triple") };
            let note = Some(text.clone());
            lines.push(StepLine { steps: vec![step.clone(), step], text: text.clone(), note, line: 1 });
        }
        let mut fit = fit();
        for (index, placement) in fit.placements.iter_mut().enumerate() {
            placement.part = names[index % 3].clone();
            placement.phrase = words.get(index).cloned();
            placement.start_count = Count(placement.start_count.0 + counts[0] as i32);
        }
        fit.mismatches[0].message = words.concat();
        for text in [sheet(&routine, &song(), &fit), sheet_without_song(&routine)] {
            for line in text.lines() {
                // What was typed on one line stays on one: broken, it would be read as two.
                let worked_out = line.starts_with(':') || !line.contains(char::is_alphanumeric);
                prop_assert!(columns(line) <= 80 || !worked_out, "{line:?}");
                prop_assert!(!line.contains(char::is_control), "{line:?}");
            }
        }
    }
}
