//! Sheets as they land in a teacher's mailbox: waltzes, tags on one line, columns of counts, endings behind the order,
//! names cut short, definitions with counts.

use super::{danced, mistakes, parts, questions, remarks, shows, sound, told_or_asked};

const TWO_PARTS: &str = "Brick Kiln\n\nPart A (16)\n4 Triple\n\nPart B (8)\n2 Chain\n\n";

#[test]
fn a_waltz_is_read_in_three() {
    let stated = "Larkspur\n3/4 time\n\nPart A (24)\n2 Waltz Basics (6)\nBasic (3)\nStep (3)\n\
         Step Point Hold (3)\nDS DRAG S (3)\n2 Slur Basics (6)\n\nPart B (12)\n4 Basics\n\nA B A\n";
    assert_eq!(parts(stated), "Part A 24, Part B 12");
    // A bar has three counts, of the wait too.
    let bars =
        "Larkspur Waltz\nWaltz time\nWait 4 bars\n\nVERSE (8 bars)\n4 Basics\n4 Triples\n\nVERSE\n";
    assert_eq!((sound(bars).wait, parts(bars).as_str()), (Some(12), "VERSE 24"));
    let shared = "Larkspur\n3/4 time\n\nA: 4 waltz basics, 2 waltz hops (18)\n\nA\n";
    assert_eq!(parts(shared), "A 18");
}

#[test]
fn a_waltz_in_name_alone_stays_in_four() {
    let sheet = "Larkspur Waltz\n\nPart A (16)\n4 Triple\n\nPart B (8)\n4 Basics\n\nA B\n";
    assert_eq!(parts(sheet), "Part A 16, Part B 8");
    assert_eq!(mistakes(&sheet.replace("(16)", "(20)")).len(), 1);
}

#[test]
fn counts_that_do_not_fill_a_waltz_are_told_or_asked() {
    let sheet =
        "Larkspur\n3/4 time\n\nPart A (24)\n2 Waltz Basics (6)\nDS DS RS (3)\nBasic L\n\nA A\n";
    assert!(mistakes(sheet).is_empty());
    assert!(questions(sheet).iter().any(|q| q.contains("“Part A (24)”")), "{:?}", questions(sheet));
    let by_movements = "Larkspur\n3/4 time\n\nPart A (6)\nDS DS RS (4)\nDS DS RS\n\nA A\n";
    assert!(told_or_asked(by_movements).iter().any(|m| m.contains("“(4)”")));
}

#[test]
fn a_tag_has_its_steps_on_its_line() {
    for (tag, counts) in [
        ("Tag: 2 Basics, Stomp", 5),
        ("Tag 2 Basics, Stomp", 5),
        ("Tag - 2 Basics, Stomp (5)", 5),
        ("Tag (5): 2 Basics, Stomp", 5),
        ("Tag (4) 4 Stomps", 4),
        ("Tag Triple, Stomp", 5),
    ] {
        let sheet = format!("{TWO_PARTS}{tag}\n\nOrder: A B Tag A\n");
        assert_eq!(parts(&sheet), format!("Part A 16, Part B 8, Tag {counts}"), "{tag}");
        assert_eq!(danced(&sound(&sheet)), "Part A | Part B | Tag | Part A", "{tag}");
    }
    let short = format!("{TWO_PARTS}Br 8 stomps\n\nOrder: A B Br A\n");
    assert_eq!(parts(&short), "Part A 16, Part B 8, Br 8");
    let wrong = format!("{TWO_PARTS}Tag (8): 2 Basics, Stomp\n\nOrder: A B Tag A\n");
    assert_eq!(mistakes(&wrong).len(), 1);
    // Where it is danced may be said elsewhere.
    let apart = format!("{TWO_PARTS}Tag: 2 Basics\n\nOrder: A B A\n");
    assert_eq!((mistakes(&apart).len(), questions(&apart).len()), (0, 1));
}

#[test]
fn counts_may_stand_before_a_heading() {
    for (one, two) in [
        ("16  SECTION ONE", "8   SECTION TWO"),
        ("16 cts - SECTION ONE", "8 cts - SECTION TWO"),
        ("(16) SECTION ONE", "(8) SECTION TWO"),
        ("16: SECTION ONE", "8: SECTION TWO"),
    ] {
        let sheet = |one: &str| {
            format!(
                "Brick Kiln\nWait 16\n\n{one}\n4 Triple\n\n{two}\n2 Chain\n\nOrder: One, Two, One\n"
            )
        };
        assert_eq!(parts(&sheet(one)), "SECTION ONE 16, SECTION TWO 8", "{one}");
        assert_eq!(told_or_asked(&sheet(&one.replace("16", "24"))).len(), 1, "{one}");
    }
    let in_words = "Brick Kiln\nWait 16\n\nSixteen Chorus\n4 Triple\n\nOrder: Chorus, Chorus\n";
    assert_eq!(parts(in_words), "Chorus 16");
    assert_eq!(told_or_asked(&in_words.replace("Sixteen", "Twelve")).len(), 1);
}

#[test]
fn the_end_may_stand_behind_the_order() {
    for (end, counts) in [
        ("Final: Stomp L, Stomp R, hold 2", 4),
        ("Finish: Stomp, Stomp", 2),
        ("Final steps: 4 Stomps", 4),
        ("Final - Triple, Stomp", 5),
        ("ends w a stomp", 1),
        ("end with 2 stomps", 2),
    ] {
        let routine = sound(&format!("{TWO_PARTS}Order: A B A B\n{end}\n"));
        let last = routine.order.last().map(|o| routine.parts[o.part].counts());
        assert_eq!((routine.order.len(), last), (5, Some(counts)), "{end}");
    }
    // Steps among the names are no part's, and asked about.
    let within = format!("{TWO_PARTS}Order: A B A B, Finish: 4 Stomps\n");
    assert_eq!((mistakes(&within).len(), questions(&within).len()), (0, 1));
}

#[test]
fn a_name_that_is_not_written_out_is_asked_where_the_sheet_is_in_doubt() {
    let order = "Order: A B Break A\n";
    let known = format!("{TWO_PARTS}{order}");
    assert!(questions(&known).is_empty());
    assert!(remarks(&known).iter().any(|r| r.contains("“Break”")));
    let doubtful =
        format!("{}{order}", TWO_PARTS.replace("Part B (8)\n", "Part B\n3 Moonlit Wander\n"));
    assert!(questions(&doubtful).iter().any(|q| q.contains("“Break”")));
}

#[test]
fn words_cut_short_are_the_only_step_that_begins_so() {
    let sheet = "Mule\nhold 16\n\nVerse\nTrip, Trip\nSam\n\nChorus\n2 rock chairs\nmtn goat x 2\n\nVerse\nChorus\n";
    assert_eq!(parts(sheet), "Verse 16, Chorus 16");
    // Several steps begin with `Ch`; a slip is told as before.
    assert_eq!(questions(&sheet.replace("Sam", "Che")).len(), 1);
    assert_eq!(told_or_asked(&sheet.replace("Sam", "Samntha")).len(), 1);
}

#[test]
fn a_step_that_the_sheet_counts_is_no_slip_of_one_with_other_counts() {
    let own = "Plank Road\n\nPart A (16)\n4 Triple\n\nPart B (8)\nChug 4 times, Backstep twice (8)\n\nA B\n";
    assert_eq!(parts(own), "Part A 16, Part B 8");
    let slip = own.replace("Backstep twice", "Basci twice");
    assert_eq!(mistakes(&slip).len(), 1);
}

#[test]
fn feet_in_a_row_are_those_of_one_step_time_after_time() {
    let sheet = "Mill\n\nA (24)\n4 Triples L R L R     16\n2 Lantern Kicks          8\n\nA A\n";
    assert_eq!(parts(sheet), "A 24");
    // One foot twice may say to which side.
    let twice = remarks(&sheet.replace("L R L R", "L R L L"));
    assert!(twice.iter().any(|r| r.contains("“L”")), "{twice:?}");
}

#[test]
fn movements_stand_one_to_a_count_where_there_are_as_many() {
    let sheet = "Plank Road\n\nPart A (8)\nH T H T H T S S (8)\n\nA A\n";
    assert_eq!(parts(sheet), "Part A 8");
    let wrong = told_or_asked(&sheet.replace("T S S (8)", "T S S (9)"));
    assert!(wrong.iter().any(|m| m.contains("“(9)”")), "{wrong:?}");
}

#[test]
fn definitions_may_state_their_counts() {
    let sheet = "Star\nWait: 16\n\nPart A (16)\n1. Triple, Triple (8)\n2. Moonwalker (4)\n3. Chain (4)\n\n\
         Part B (32)\n1. Triple, Triple (8)\n2. Moonwalker (4)\n3. Chain (4)\n4. Repeat 1.-3. (16)\n\n\
         Steps explained\nTriple: DS DS DS RS\nMoonwalker: DS SL S DS RS (4 counts)\n\nOrder: A B\n";
    assert_eq!(parts(sheet), "Part A 16, Part B 32");
    assert!(shows(sheet, &sheet.replace("Part B (32)", "Part B (28)")));
}

#[test]
fn titles_over_lines_with_counts_are_danced_once() {
    let sheet = "Saddle\n16 count, 1 wall, beginner line dance\n\n1-8: VINE RIGHT, VINE LEFT\n\
         1-4  Vine R, touch L\n5-8  Vine L, touch R\n\n9-16: WALKS\n1-3  Walk forward R, L, R\n4  Kick L\n\
         5-7  Walk back L, R, L\n8  Touch R\n";
    assert_eq!(parts(sheet), "Dance 16");
    let asked = questions(&sheet.replace("5-7  Walk back L, R, L\n", ""));
    assert!(asked.iter().any(|q| q.contains("“9-16: WALKS”")), "{asked:?}");
}

#[test]
fn the_other_foot_of_a_step_that_nobody_knows_is_not_told() {
    let sheet = "Bridge\n\nA (32)\nTriple (4)\nRocking Chair (4)\nFancy Triple (6)\nBasic (2)\n\
         Repeat opposite foot (16)\n\nA A\n";
    assert!(mistakes(sheet).is_empty(), "{:?}", mistakes(sheet));
    assert!(shows(sheet, &sheet.replace("Fancy Triple (6)", "2 Double Basic (6)")));
}
