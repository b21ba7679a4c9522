//! Whatever is typed: no panic, and no line that is dropped without a word.

use proptest::prelude::*;

use hoofbeat::routine::{LineRole, glossary, line_roles, parse};
use hoofbeat::units::{Foot, Wall};

/// Lines made of what cue sheets are made of, in any order.
fn sheet_like() -> impl Strategy<Value = String> {
    let words = prop::sample::select(vec![
        "Part",
        "A",
        "B",
        "Chorus",
        "(",
        ")",
        "32",
        "8",
        "2",
        "x2",
        "Triple",
        "Rocking",
        "Chair",
        "DS",
        "RS",
        "DS-DS-RS",
        "BR(xif)",
        "*",
        "/",
        "L",
        "R",
        "RL",
        "&1",
        "&a2",
        "1/4",
        "turn",
        "each",
        "repeat",
        "all",
        "other",
        "foot",
        "Order:",
        "Wait:",
        "Step:",
        "=",
        ":",
        "-",
        "–",
        "\"",
        "[",
        "]",
        ",",
        "pause",
        "same",
        "as",
        "x",
        "999999999",
        "fill",
        "end",
        "🌙",
        "שיר",
        "\t",
        "\u{FEFF}",
        "'",
        "counts",
        "eights",
        "of",
        "sixteen",
        "Eight",
        "Tag",
        "Final:",
        "cts",
        "9-16",
        "(8)",
        "waltz",
        "times",
        "again",
        "do",
        "that",
        "more",
        "then",
        "Heel",
        "Batter",
        "4.",
        "walls",
    ]);
    let line = prop::collection::vec(words, 0..8).prop_map(|w| w.join(" "));
    prop::collection::vec(line, 0..14).prop_map(|l| l.join("\n"))
}

fn no_line_is_dropped(text: &str) -> Result<(), TestCaseError> {
    let (routine, findings) = parse(text);
    let roles = line_roles(text);
    let plain = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let number = plain
        .split_inclusive(['\n', '\r', '\u{0B}', '\u{0C}', '\u{2028}', '\u{2029}', '\u{85}'])
        .count();
    prop_assert!(roles.len() <= number);
    for (i, role) in roles.iter().enumerate() {
        if *role == LineRole::Unknown {
            prop_assert!(
                findings.iter().any(|f| f.line == i + 1),
                "line {} has no finding\n{text}",
                i + 1
            );
        }
    }
    let _ = (routine.counts(), routine.walk().len());
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text_is_read_without_a_panic(text in any::<String>()) {
        no_line_is_dropped(&text)?;
    }

    #[test]
    fn anything_like_a_sheet_is_read_without_a_panic(text in sheet_like()) {
        no_line_is_dropped(&text)?;
    }

    #[test]
    fn a_line_under_a_heading_is_danced_noted_or_told(line in "[A-Za-z0-9 ()&/,-]{1,40}") {
        let text = format!("Part Q\n{line}\n");
        let (routine, findings) = parse(&text);
        let danced = routine.parts.iter().any(|p| p.line == 2 || p.lines.iter().any(|l| l.line == 2));
        let noted = !routine.notes.is_empty() || !routine.order.is_empty() && line_roles(&text)[1] == LineRole::Order;
        let other = matches!(line_roles(&text)[1], LineRole::Blank | LineRole::Note | LineRole::Field | LineRole::Definition);
        let told = findings.iter().any(|f| f.line == 2);
        prop_assert!(danced || noted || told || other, "{text}{:?}", line_roles(&text));
    }

    #[test]
    fn feet_alternate_with_each_change_of_weight(picks in prop::collection::vec(0usize..31, 1..12)) {
        let steps: Vec<_> = glossary::steps().map(|(_, s)| s).collect();
        let mut free = Foot::Left;
        let mut changes = 0;
        for pick in picks {
            let step = steps[pick % steps.len()];
            changes += step.weight_changes();
            free = step.free_foot_after(free);
        }
        prop_assert_eq!(free == Foot::Right, changes % 2 == 1);
    }

    #[test]
    fn counts_add_up_line_by_line(picks in prop::collection::vec((0usize..31, 1u32..4), 1..10)) {
        let steps: Vec<_> = glossary::steps().collect();
        let total: u32 = picks.iter().map(|(p, n)| steps[p % steps.len()].1.counts * n).sum();
        let lines: Vec<String> = picks.iter().map(|(p, n)| format!("{n} {}", steps[p % steps.len()].0.name)).collect();
        let text = format!("Part A ({total})\n{}\n", lines.join("\n"));
        let (routine, findings) = parse(&text);
        prop_assert!(findings.iter().all(|f| !f.is_mistake()), "{text}{findings:#?}");
        let (before, last) = *routine.parts[0].running_counts().last().unwrap();
        prop_assert_eq!(before + last, total);
    }

    #[test]
    fn walls_add_up_in_eighths(turns in prop::collection::vec((1i32..9, any::<bool>(), any::<bool>(), 1i32..4), 1..8)) {
        let mut text = String::from("Part A\n");
        let mut sum = 0;
        for (eighths, right, each, times) in turns {
            let side = if right { 'R' } else { 'L' };
            let on = if each { " on each" } else { "" };
            text.push_str(&format!("{times} Triple turn {eighths}/8 {side}{on}\n"));
            sum += eighths * if right { 1 } else { -1 } * if each { times } else { 1 };
        }
        let (routine, findings) = parse(&text);
        prop_assert!(findings.iter().all(|f| !f.is_mistake()), "{text}{findings:#?}");
        let round = [
            Wall::Front, Wall::FrontRight, Wall::Right, Wall::BackRight,
            Wall::Back, Wall::BackLeft, Wall::Left, Wall::FrontLeft,
        ];
        prop_assert_eq!(routine.walk()[0].wall_after, round[sum.rem_euclid(8) as usize], "{}", text);
    }

    #[test]
    fn counts_are_kept_over_the_order(lengths in prop::collection::vec(1u32..6, 3), order in prop::collection::vec(0usize..3, 1..12)) {
        let mut text = String::new();
        for (name, n) in ["A", "B", "C"].iter().zip(&lengths) {
            text.push_str(&format!("Part {name} ({})\n{n} Triple\n\n", n * 4));
        }
        let names: Vec<&str> = order.iter().map(|p| ["A", "B", "C"][*p]).collect();
        text.push_str(&format!("Order: {}\n", names.join(" ")));
        let (routine, _) = parse(&text);
        let walk = routine.walk();
        let mut before = 0;
        for (passage, part) in walk.iter().zip(&order) {
            prop_assert_eq!(passage.counts_before, before);
            prop_assert_eq!(passage.counts, lengths[*part] * 4);
            before += passage.counts;
        }
        prop_assert_eq!(walk.len(), order.len());
        prop_assert_eq!(routine.counts(), before);
        for pair in walk.windows(2) {
            prop_assert_eq!(pair[0].free_foot_after, pair[1].lead_foot);
            prop_assert_eq!(pair[0].wall_after, pair[1].wall_before);
        }
    }
}
