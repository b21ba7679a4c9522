//! What a sheet must not lose without a word: names in the order that no part has, and what is easily read otherwise
//! than it is meant.

use super::{danced, mistakes, remarks, sound, told_or_asked};

const TWO_PARTS: &str = "Mill Pond\n\nPart A (8)\n2 Triple\n\nPart B (8)\n2 Fancy Double\n\n";

fn told(sheet: &str, words: &str) -> bool {
    mistakes(sheet).iter().chain(&remarks(sheet)).any(|f| f.contains(&format!("“{words}”")))
}

#[test]
fn every_name_in_the_order_is_danced_or_told() {
    for label in ["Order: ", ""] {
        let sheet = format!("{TWO_PARTS}{label}A B fill A B break B end\n");
        for word in ["fill", "break", "end"] {
            assert!(told(&sheet, word), "{label}{word}: {:?}", remarks(&sheet));
        }
        assert_eq!(danced(&sound(&sheet)), "Part A | Part B | Part A | Part B | Part B");
    }
    assert!(told(&format!("{TWO_PARTS}Order: A B softly A\n"), "softly"));
    assert!(!mistakes(&format!("{TWO_PARTS}Order: A B Q A\n")).is_empty());
    let written = format!("{TWO_PARTS}Fill (4)\nFancy Double\n\nOrder: A B fill A\n");
    assert!(!told(&written, "fill"));
}

#[test]
fn a_pair_that_is_danced_twice_is_danced_twice_as_a_pair() {
    let order = |words: &str| danced(&sound(&format!("{TWO_PARTS}Order: {words}\n")));
    assert_eq!(order("A and B twice"), "Part A | Part B | Part A | Part B");
    assert_eq!(
        order("A and B twice, then B once more"),
        "Part A | Part B | Part A | Part B | Part B"
    );
    assert_eq!(order("A, B twice"), "Part A | Part B | Part B");
    assert_eq!(order("A twice and B"), "Part A | Part A | Part B");
}

const LINE_DANCE: &str = "\
Salt Road
32 count, 2 wall, easy intermediate
Intro: 16

S1 [1-8]
1-4 Vine R, touch
5-8 Vine L, touch
S2 [9-16]
1-4 Rock R forward, recover, rock back, recover
5-8 Pivot 1/2 L, pivot 1/2 L
S3 [17-24]
1-4 Jazz box 1/4 R
5-8 Jazz box 1/4 R
S4 [25-32]
1-4 Step R, touch L, step L, touch R
5-8 Sway R L R L

Tag 1: end of wall 2, 4 counts
1-4 sway R L R L
Tag 2: at the end of wall 5, 8 counts
1-8 sways
";

#[test]
fn figures_of_line_dances_last_as_long_as_the_counts_in_front_of_them() {
    let routine = sound(LINE_DANCE);
    let counts: Vec<u32> = routine.parts.iter().map(|p| p.counts()).collect();
    assert_eq!(counts, [32, 4, 8]);
    let wrong = LINE_DANCE.replace("5-8 Sway R L R L", "5-8 Sway R L");
    assert!(!mistakes(&wrong).is_empty());
}

#[test]
fn the_counts_of_a_tag_are_no_wall() {
    let sheet = LINE_DANCE.replace("Intro: 16", "Intro: 16\nTimes round: 9");
    let order = danced(&sound(&sheet));
    assert_eq!(order.matches("Tag 2").count(), 1, "{order}");
    assert_eq!(order.split(" | ").position(|p| p == "Tag 2"), Some(6), "{order}");
}

#[test]
fn feet_in_brackets_beside_movements_are_held_against_the_weight() {
    let sheet = |feet: &str| format!("Title: Feet\n\nPart A (4)\nDS DS S S\n{feet} S S\n");
    assert!(
        told_or_asked(&sheet("S(L) S(L)").replace(" S S\n", "\n").replace("(4)", "(6)"))
            .iter()
            .any(|f| f.contains("holds the weight"))
    );
    let right = sheet("S(L) S(R)").replace("(4)", "(8)");
    assert_eq!(mistakes(&right), Vec::<String>::new());
}

#[test]
fn a_number_in_front_that_a_repeat_makes_right_is_how_often() {
    let sheet = "Title: Often\n\nPart A (6)\n2 Double Basic\nrepeat on same foot\n\nOrder: A A\n";
    let wrong = mistakes(sheet);
    assert!(wrong.iter().any(|f| f.contains("Part A (6)")), "{wrong:?}");
    assert!(wrong.iter().all(|f| !f.contains("the line says")), "{wrong:?}");
}
