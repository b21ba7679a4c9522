//! Lesson plans of a small song.

use super::*;
use crate::fit::fit;
use crate::routine::parse;
use crate::song::testing::song as map_of;

const SHEET: &str = "Mill Walk\nWait: 8\n\nPart A (16)\n2 Triple\n4 Basic\n\nPart B (16)\n2 Rocking Chair\n\
    2 Fancy Double\n\nEnding (8)\n2 Stomp Double\n\nOrder: A B A B Ending\n";

fn names() -> Names {
    Names { map: "mill.song.json".into(), routine: "mill walk.txt".into() }
}

fn planned(sheet: &str, minutes: u32) -> Lesson {
    let (routine, findings) = parse(sheet);
    assert!(!findings.iter().any(|f| f.is_mistake()), "{findings:?}");
    let song = map_of(80).view().unwrap();
    let laid = fit(&song, &routine);
    lesson(&routine, &song, &laid, minutes, &names())
}

#[test]
fn minutes_add_up_to_the_class_whatever_its_length() {
    for minutes in [0, 15, 16, 20, 30, 45, 60, 75, 90, 240, 9999] {
        let lesson = planned(SHEET, minutes);
        let whole: u32 = lesson.items.iter().map(|i| i.minutes).sum();
        assert_eq!(whole, lesson.minutes, "{minutes}");
        assert!(lesson.items.iter().all(|i| i.minutes > 0), "{minutes}");
        let starts: Vec<u32> = lesson.items.iter().map(|i| i.at_minute).collect();
        assert!(starts.windows(2).all(|w| w[0] < w[1]), "{starts:?}");
    }
}

#[test]
fn a_class_warms_up_first_and_cools_down_last() {
    let lesson = planned(SHEET, 60);
    assert_eq!(lesson.items.first().unwrap().kind, ItemKind::WarmUp);
    assert_eq!(lesson.items.last().unwrap().kind, ItemKind::CoolDown);
    let said = lesson.cautions.join(" ");
    for word in ["Warm up", "floor", "shoes", "build it up", "pain", "judge"] {
        assert!(said.contains(word), "{word}");
    }
}

#[test]
fn joins_follow_as_soon_as_both_parts_are_known() {
    let lesson = planned(SHEET, 90);
    let mut known: Vec<&str> = Vec::new();
    for (at, item) in lesson.items.iter().enumerate() {
        match item.kind {
            ItemKind::Part => known.push(&item.title),
            ItemKind::Join => {
                let (a, b) =
                    item.title.strip_prefix("End of ").unwrap().split_once(" into ").unwrap();
                assert!(known.contains(&a) && known.contains(&b), "{}", item.title);
                // Nothing but joins stands between it and the part that made it possible.
                let last =
                    lesson.items[..at].iter().rposition(|i| i.kind == ItemKind::Part).unwrap();
                assert!([a, b].contains(&lesson.items[last].title.as_str()), "{}", item.title);
            }
            _ => {}
        }
    }
    let titles: Vec<&str> = lesson.items.iter().map(|i| i.title.as_str()).collect();
    for join in ["End of Part A into Part B", "End of Part B into Part A"] {
        assert!(titles.contains(&join), "{titles:?}");
    }
}

#[test]
fn each_step_is_new_once_and_taken_apart_as_published() {
    let lesson = planned(SHEET, 90);
    let steps: Vec<&NewStep> = lesson.items.iter().flat_map(|i| &i.new_steps).collect();
    let mut movements: Vec<&str> = steps.iter().map(|s| s.movements.as_str()).collect();
    let number = movements.len();
    movements.sort_unstable();
    movements.dedup();
    assert_eq!(movements.len(), number);
    // Clogging 101, Cue Sheets, lesson 3: DS BR DS RS, L R R LR; and lessons 1-2: a triple ends RL.
    let chair = steps.iter().find(|s| s.name == "Rocking chair").unwrap();
    assert_eq!((chair.movements.as_str(), chair.feet.as_str()), ("DS BR DS RS", "L R R LR"));
    assert!(!chair.changes_foot);
    let triple = steps.iter().find(|s| s.name == "Triple basic").unwrap();
    assert_eq!((triple.feet.as_str(), triple.changes_foot), ("L R L RL", true));
}

#[test]
fn what_is_danced_most_comes_before_what_is_danced_once() {
    let lesson = planned(SHEET, 90);
    let parts: Vec<&str> = lesson
        .items
        .iter()
        .filter(|i| i.kind == ItemKind::Part)
        .map(|i| i.title.as_str())
        .collect();
    assert_eq!(parts.last(), Some(&"Ending"), "{parts:?}");
}

#[test]
fn a_class_too_short_says_what_is_left() {
    let lesson = planned(SHEET, 15);
    assert!(lesson.items.iter().any(|i| i.kind == ItemKind::Part));
    assert!(!lesson.next_class.is_empty());
    let shown = text(&lesson);
    assert!(shown.contains("For the next class"), "{shown}");
}

#[test]
fn nothing_to_teach_is_a_plan_all_the_same() {
    for sheet in
        ["Nothing\n\nPart A (8)\n\nOrder: A\n", "Pauses\n\nPart A (8)\npause 8\n\nOrder: A\n"]
    {
        let lesson = planned(sheet, 60);
        let whole: u32 = lesson.items.iter().map(|i| i.minutes).sum();
        assert!(whole <= 60);
        assert!(!text(&lesson).is_empty() && html(&lesson, Default::default()).contains("</html>"));
    }
}

#[test]
fn the_ladder_starts_slower_for_faster_songs_and_ends_at_the_songs_tempo() {
    let song = |bpm: f64| {
        let mut view = map_of(80).view().unwrap();
        view.counts_per_minute = bpm;
        let (routine, _) = parse(SHEET);
        let laid = fit(&view, &routine);
        lesson(&routine, &view, &laid, 60, &names()).ladder
    };
    assert_eq!(song(120.0), [70, 80, 90, 100]);
    assert_eq!(song(90.0), [90, 100]);
    assert_eq!(song(180.0), [60, 70, 80, 90, 100]);
    assert_eq!(song(0.0), [90, 100]);
}

#[test]
fn text_keeps_to_its_width_and_commands_are_whole() {
    let shown = text(&planned(SHEET, 60));
    for line in shown.lines() {
        assert!(line.chars().count() <= 80 || line.contains("hoofbeat practice"), "{line}");
    }
    assert!(shown.contains("\"mill walk.txt\""), "{shown}");
}
