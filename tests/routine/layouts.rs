//! Layouts that say the same as the usual one, each on an invented dance.

use hoofbeat::routine::{Fault, LineRole, line_roles, parse};
use hoofbeat::units::{Foot, Wall};

use super::{danced, mistakes, questions, remarks, shows, sound};

fn counts(text: &str) -> Vec<u32> {
    let routine = sound(text);
    routine.walk().iter().map(|p| p.counts).collect()
}

#[test]
fn a_table_parted_by_commas_is_a_sheet() {
    let sheet = "Routine,Gate Latch,,\r\nPart,Step,Times,Beats\r\nIntro,Wait,1,16\r\nA,Triple,2,8\r\n\
                 A,Chain L,1,4\r\nB,Basic,4,8\r\nOrder,Intro A B A,,\r\n";
    let routine = sound(sheet);
    assert_eq!((routine.title.as_str(), routine.wait), ("Gate Latch", Some(16)));
    assert_eq!(danced(&routine), "A | B | A");
    assert_eq!(counts(sheet), [12, 8, 12]);
    // A slip is told with its place in what was typed.
    let wrong = sheet.replace("A,Triple,2,8", "A,Tripple,2,8");
    assert!(
        mistakes(&wrong)[0].starts_with("line 4, column 3: “Tripple”"),
        "{:?}",
        mistakes(&wrong)
    );
    assert!(!mistakes(&sheet.replace("2,8", "2,9")).is_empty());
}

#[test]
fn a_table_between_bars_may_have_counts_behind_its_steps() {
    let sheet = "Gate Latch\n| PART A | 16 |  |\n| Triple | 4 | L |\n| Triple | 4 | R |\n| Repeat above | 8 | L |\n\
                 |------|---|---|\n| PART B | 8 | |\n| 4 Basics, 360 L | 8 | L R L R |\n| ORDER | wait 8, A, B |\n";
    assert_eq!(counts(sheet), [16, 8]);
    assert_eq!(sound(sheet).wait, Some(8));
    assert!(!mistakes(&sheet.replace("| Triple | 4 | R |", "| Triple | 4 | L |")).is_empty());
}

#[test]
fn a_form_is_read_without_its_blanks() {
    let sheet = "____________\nTitle: __Gate Latch__\nIntro: __wait 8__\nPart: __A__   Beats: __16__\n\
                 Basics __4__ = __8__\nTriples __2__ = __8__\nSequence: __A__ __A__ ____\n";
    let routine = sound(sheet);
    assert_eq!((routine.title.as_str(), routine.wait), ("Gate Latch", Some(8)));
    assert_eq!(counts(sheet), [16, 16]);
    assert!(!mistakes(&sheet.replace("__2__ =", "__3__ =")).is_empty());
}

#[test]
fn slashes_commas_and_braces_part_steps() {
    assert_eq!(counts("A\nTriple / Triple\nRocking Chair / Basic / Basic\n"), [16]);
    assert_eq!(counts("A (16)\n- basics, 4\n- triple left & right\n"), [16]);
    assert_eq!(counts("A (32)\n{Triple, Rocking Chair, 2 Triple} x2\n"), [32]);
    assert_eq!(counts("A (8)\n[Basic x2, Triple]\n"), [8]);
    let unknown = questions("A\n{Triple, Wobbledy} x2\n");
    assert_eq!(unknown.len(), 1, "{unknown:?}");
}

#[test]
fn headings_may_be_drawn_and_danced_twice() {
    let sheet = "--- A step (16) ---\n4 Triple\n=== SHUFFLES === 8\n8 Stomps\n-- Verse (do 2x) --\n2 Triple\n\
                 -- Order --\n - A step\n - Shuffles, Verse\n - A step, then freeze\n";
    assert_eq!(danced(&sound(sheet)), "A step | SHUFFLES | Verse | Verse | A step");
}

#[test]
fn an_order_may_stand_behind_any_label() {
    let parts = "PART ONE\n2 Triple\nPART TWO\n4 Basic\nPART THREE\n2 Chain\n";
    for order in [
        "Run: One Two One Three",
        "Dance One, Two; One; Three",
        "whole thing = one + two + one + three",
        "Sequence\u{2014}One, Two, One, Three",
        "DANCE IT: One / Two / One / Three",
    ] {
        let routine = sound(&format!("{parts}\n{order}\n"));
        assert_eq!(danced(&routine), "PART ONE | PART TWO | PART ONE | PART THREE", "{order}");
    }
}

#[test]
fn names_may_be_known_by_the_line_that_they_make_up() {
    let sheet = "paper moon\nstart after 16\nfirst bit\n2 triples\nhum\n4 basics\nagain\n\nfirst bit hum first bit hum hum\n\
                 ends sudden so mind your knees\n";
    let (routine, _) = parse(sheet);
    assert_eq!(danced(&routine), "first bit | hum | first bit | hum | hum");
    assert_eq!(counts(sheet), [8, 16, 8, 16, 16]);
    assert_eq!(line_roles(sheet)[9], LineRole::Note);
}

#[test]
fn a_sheet_in_the_songs_order_needs_no_order() {
    let sheet = "Verse 1 - 8 beats\n2 Triple\n\nChorus - 8 beats\n4 Basic\n\nVerse 2 - 8 beats\nSame as verse 1\n\n\
                 Chorus - 8 beats\nSame as first time\n";
    assert_eq!(danced(&sound(sheet)), "Verse 1 | Chorus | Verse 2 | Chorus");
    let again = "PART A - 8 BEATS\n2 Triples\nPART B - 8 BEATS\n4 Basics\nREPEAT PARTS A & B TO FACE FRONT\n\
                 PART C - 4 BEATS\nChain\nREPEAT PARTS A, B\n";
    assert_eq!(
        danced(&sound(again)),
        "PART A | PART B | PART A | PART B | PART C | PART A | PART B"
    );
    let before = "Chorus - 8 beats\n4 Basic\n\nVerse - 8 beats\n2 Triple\n\nChorus again - 8 beats\nAs before\n";
    assert_eq!(danced(&sound(before)), "Chorus | Verse | Chorus");
    // Other steps under a name that was used are still told.
    let otherwise = remarks(&sheet.replace("Same as first time", "2 Chain"));
    let said = "danced otherwise than the part of this name on line 4";
    assert!(otherwise.iter().any(|r| r.contains(said)), "{otherwise:?}");
    let ordered = format!(
        "{}Order: Verse 1, Chorus, Verse 2, Chorus",
        sheet.replace("Same as first time", "2 Chain")
    );
    assert!(!mistakes(&ordered).is_empty());
}

#[test]
fn waits_stand_among_other_words() {
    for (top, start) in [
        ("Int. Plus.  Left foot.  Hold 16 cts.", Some(Foot::Left)),
        ("bpm 110 + right + wait 16", Some(Foot::Right)),
        ("(wait 16 counts; left foot)", Some(Foot::Left)),
        ("Left foot free to begin. Wait sixteen.", Some(Foot::Left)),
        ("-- Intro --\n - 16 ct wait", None),
        ("INTRO [16]\nHold [16]", None),
    ] {
        let routine = sound(&format!("Gate Latch\n{top}\n\nPart A\n2 Triple\n"));
        assert_eq!((routine.wait, routine.starts_on), (Some(16), start), "{top}");
        assert_eq!(danced(&routine), "Part A", "{top}");
    }
}

#[test]
fn steps_behind_the_order_end_the_dance() {
    for end in
        ["Last thing: Stomp, Stomp", "FINISH: (2) Stomp [2]", "last = Stomp + Stomp", "Stomp, clap"]
    {
        let routine = sound(&format!("Part A\n2 Triple\nPart B\n4 Basic\nOrder: A B A\n\n{end}\n"));
        assert_eq!(routine.counts(), 26, "{end}");
        assert_eq!(routine.order.len(), 4, "{end}");
    }
}

#[test]
fn eights_may_be_numbered_and_repeat_one_another() {
    let sheet = "PART A (three 8s and a 4)\n8 #1: Triple, Triple\n8 #2: Charleston, Charleston\n8 #3: Same as #1\n\
                 the 4: Chain\n\nHALF A (two 8s)\n8 #1 and #2 of A\n\nORDER: A, Half A\n";
    assert_eq!(counts(sheet), [28, 16]);
    assert!(shows(sheet, &sheet.replace("#1: Triple, Triple", "#1: Triple")));
}

#[test]
fn steps_are_told_at_the_end_with_their_counts() {
    let sheet = "PART A - 16 BEATS\n1 Lantern Swing\n2 Porch Kicks\n\n* * * STEPS USED * * *\n\
                 Lantern Swing (8): DS DS(xif) DS DS(xib) DS RS RS RS\nPorch Kick (4): DS K DS RS\n";
    assert_eq!(counts(sheet), [16]);
    assert_eq!(line_roles(sheet)[5], LineRole::Definition);
}

#[test]
fn a_sum_is_held_against_the_part_above_it() {
    let sheet = "Part 1\n  2 Triples    8\n  Chain        4\n             ----\n             = 12\nPart 2\n 4 Basics 8\n = 8\nDance: 1, 2, 1\n";
    assert_eq!(counts(sheet), [12, 8, 12]);
    assert!(!mistakes(&sheet.replace("= 12", "= 14")).is_empty());
}

#[test]
fn calls_may_stand_in_front() {
    let routine = sound("A (16)\nSay \"TRIPLE\"   2 Triples\n\"ROCK ON\" 2 Rocking Chairs\n");
    assert_eq!(routine.parts[0].lines[0].note.as_deref(), Some("TRIPLE"));
    assert_eq!(routine.counts(), 16);
}

#[test]
fn walls_may_stand_for_turns() {
    let named = "Part A\nTriple (to back wall)\nTriple (to front wall)\n";
    let (routine, findings) = parse(named);
    assert!(findings.iter().all(|f| matches!(f.fault, Fault::TurnTaken { .. })), "{findings:#?}");
    assert_eq!(routine.parts[0].lines[0].steps[0].eighths().abs(), 4);
    let turned = sound("Part A\n4 Basics, turn left to back\n");
    assert_eq!(turned.walk()[0].wall_after, Wall::Back);
    assert_eq!(turned.parts[0].effect().turn, -2);
}

#[test]
fn counts_behind_each_of_several_steps_are_its_own() {
    assert_eq!(counts("Gate Latch\n\nPart A (8)\nTriple (4), Latch Hop (4)\n"), [8]);
    assert_eq!(counts("Gate Latch\n\nPart A\nLatch Hop - 4, Gate Swing - 4\n"), [8]);
    assert_eq!(counts("Gate Latch\n\nPart A\n8   1 Push-off, 2 Basics\n"), [8]);
    assert_eq!(counts("Gate Latch\n\nPart A\n4 Stomps and 4 Claps = 8\n"), [8]);
    assert_eq!(counts("Gate Latch\n\nPart A\nWalk forward 4, walk back 4 (8)\n"), [8]);
}

#[test]
fn a_step_spelled_out_beside_or_below_its_name_is_danced_once() {
    assert_eq!(counts("Gate Latch\n\nPart A (8)\n4\tBrush Up\tDS BR\t8\n"), [8]);
    assert_eq!(counts("Gate Latch\n\nPart A (8)\n1 Cowboy (8)\nDS DS DS BR DS RS RS RS\n"), [8]);
    assert_eq!(counts("Gate Latch\n\nPart A (4)\n1 Stomp  STO\n3 Claps\n"), [4]);
    let both =
        "Gate Latch\n\nPart A (8)\n1 Stomp Double, 1 Triple (8)\n    STO DS DS RS   DS DS DS RS\n";
    assert_eq!(counts(both), [8]);
    let own = "Gate Latch\n\nPart A (12)\n2 Latch Hops (8)\n1 Triple (4)\n\nOUR STEPS\n  Latch Hop (4 beats)\n    DS BR DS BR\n    L  R  R  L\n\nSEQUENCE\nA\nA\n";
    let routine = sound(own);
    assert_eq!(routine.parts[0].lines[0].steps[0].moves.len(), 4);
    assert_eq!(routine.counts(), 24);
    let quoted = "Gate Latch\n\nPart A (12)\n\"Latch Hop\" (8)\nDS DT(xif) DT(out) RS DS DS DS RS\nTriple (4)\n";
    assert_eq!(counts(quoted), [12]);
}

#[test]
fn repeats_say_where_they_go() {
    let box_of = "Gate Latch\n\nPart A (16)\nTriple, turn 1/4 L (4)\n(12) Repeat 3 more times, one to each wall\n";
    assert_eq!(counts(box_of), [16]);
    let numbered = "Gate Latch\n\nPart A (16)\n1. Triple....4\n2. Chain.....4\n3. Repeat 1 and 2 to the back......8\n";
    assert_eq!(counts(numbered), [16]);
    let same = "Gate Latch\n\nPart A (16)\n2 Basics (4)\n1 Triple (4)\nRepeat Part A, same foot, ends at the front 8\n";
    assert_eq!(counts(same), [16]);
    let times =
        "Gate Latch\n\nPart A (8)\n2 Rocking Chairs, turn 1/4 left on each - 8 (left wall, back)\n";
    assert_eq!(sound(times).walk()[0].wall_after, Wall::Back);
}

#[test]
fn headings_may_have_a_title_and_tell_of_walls() {
    let titled = "Gate Latch\n\nPart A - The Refrain (8)\n2 Triples\n\nPart B - 8 beats - starts front, ends back\n2 Rocking Chairs, 1/4 L each\n";
    assert_eq!(counts(titled), [8, 8]);
}

#[test]
fn an_order_at_the_top_ends_at_a_drawn_line_or_at_steps() {
    let drawn = "Gate Latch\nSequence:  A B A\n-----------\nA\n    4 Basics ...... 8\n    2 Triples ..... 8\nB\n    2 Chains ...... 8\n";
    assert_eq!(counts(drawn), [16, 8, 16]);
    let at_once = "Gate Latch\nOrder: A, B, A\nPart A (16)\n1. Two Triples (8)\n2. Two Chains (8)\nPart B (8)\n1. Two Charlestons (8)\n";
    assert_eq!(counts(at_once), [16, 8, 16]);
}
