//! Rows of tables, bars, titles of sections, lists of steps, and what comes again, each on an invented dance.

use hoofbeat::routine::{LineRole, line_roles};

use super::{danced, mistakes, shows, sound, told_or_asked};

fn counts(text: &str) -> Vec<u32> {
    let routine = sound(text);
    routine.walk().iter().map(|p| p.counts).collect()
}

#[test]
fn a_list_of_steps_is_not_danced() {
    let sheet = "Mill Race\nWait 8\n\n[A] 16 counts\n- 2 Karaoke\n\nOrder: A, A\n\nStep glossary\n\
                 Karaoke (8): DS DS(xif) DS DS(xib) RS DS DS RS\nBasic (2): DS RS\n";
    assert_eq!(counts(sheet), [16, 16]);
    assert_eq!(line_roles(sheet)[9..11], [LineRole::Definition; 2]);
    let first = "Mill Race\nSteps you need:\nTR = Triple  DS DS DS RS (4)\nWait 8 beats\n\nVerse (8)\n2 TR\n";
    assert_eq!((counts(first), sound(first).wait), (vec![8], Some(8)));
    // Of movements of which one is not known the counts are those that are stated.
    let partly = "A (4)\nLoop Vine\n\nStep notes\nLoop Vine (4): DS SWOOP-S DS RS\n";
    assert_eq!(counts(partly), [4]);
}

#[test]
fn a_table_may_be_parted_by_bars_alone() {
    let sheet = "Mill Race\nWait 8\n\nstep          | cts | feet\n--------------+-----+-----\n\
                 BREAK         |  16 |\n2 Triple      |   8 | L R\n1 Cowboy      |   8 | L\n\
                 VERSE         |  12 |\n2 Basic       |   4 | L R\nrepeat these two | 4 | L R\n\
                 2 Stomp, 2 Clap | 4 | L R\n\nOrder: Break, Verse\n";
    assert_eq!(counts(sheet), [16, 12]);
    assert!(!mistakes(&sheet.replace("1 Cowboy      |   8", "1 Cowboy      |   6")).is_empty());
}

#[test]
fn a_column_may_spell_the_steps_out() {
    let sheet = "Mill Race\nWait:\t8\n\nSTEP\tCTS\tFEET\nPART A\t18\t\n2 Triple\t8\tDS DS DS RS\n\
                 2 Joey\t8\tDS T T T T T S\n2 Stomp\t2\tSTO STO\n\nORDER\t\tA A\n";
    assert_eq!(counts(sheet), [18, 18]);
    assert!(shows(sheet, &sheet.replace("2 Joey\t8", "2 Joey\t6")));
}

#[test]
fn a_title_of_moves_over_lines_with_counts_is_not_danced() {
    let sheet = "Mill Race\n16 counts | 1 wall\n\n[1-8] ROCKS AND A JAZZ BOX\n\
                 1-2\tRock R back, recover on L\n3-4\tRock R back, recover on L\n\
                 5-8\tJazz box with R: cross, back, side, together\n\n[9-16] SHUFFLES, WALKS\n\
                 9&10\tShuffle to R side (R-L-R)\n11&12\tShuffle to L side (L-R-L)\n\
                 13-16\tWalk R, L, R, L\n";
    assert_eq!(sound(sheet).parts[0].counts(), 16);
    assert!(!mistakes(&sheet.replace("5-8\tJ", "5-7\tJ")).is_empty());
}

#[test]
fn bars_lead_the_lines_of_a_part() {
    let sheet = "Mill Race\nWe count 2 beats to every bar.\nWait 8 bars.\n\nFirst Step - 16 bars\n\
                 bars 1-4   Drum Hop x 2\nbars 5-8   4 Basics, one to a bar\n\
                 bars 9-16  same off the right foot\n\nFinish - 2 bars: one Triple\n\n\
                 Order: First Step, Finish\n";
    assert_eq!((counts(sheet), sound(sheet).wait), (vec![32, 4], Some(16)));
    assert!(shows(sheet, &sheet.replace("bars 5-8 ", "bars 5-7 ")));
    let told = "Mill Race\n(a measure here is 4 beats)\n\nA part, low pipes, 2 measures\nBasic x4\n\n\
                B part, high pipes, 2 measures\nTriple x2\n\nEnding, 1 measure\n4 Stomps\n\n\
                Goes like this: A A B Ending\n";
    assert_eq!(counts(told), [8, 8, 8, 4]);
}

#[test]
fn movements_under_a_step_left_and_right_spell_it_out() {
    let sheet = "SEQ: A-B\n\nA:\t16 CTS\n\tTRIPLE X2 (L & R)\t8\t1/4 R EA.\n\t  DS DS DS RS\n\
                 \tREPEAT ABOVE, OPP. FT\t8\n\nB:\t16 CTS\n\tCHAIN L, CHAIN R\t8\n\t  DS RS RS RS\n\
                 \tCOWBOY\t8\tFWD 4, BACK 4\n\t  DS DS DS BR SL DS RS RS RS\n";
    assert_eq!(counts(sheet), [16, 16]);
}

#[test]
fn an_order_may_be_told_by_figures() {
    let sheet = "Part 1 (8)\n4 Basics\n\nPart 2 (4)\nTriple\n\nPart 3 (2)\nBasic\n\n1 2 1 3 1 2\n";
    assert_eq!(danced(&sound(sheet)), "Part 1 | Part 2 | Part 1 | Part 3 | Part 1 | Part 2");
}

#[test]
fn steps_stand_one_after_another() {
    assert_eq!(counts("A (8)\n4 stomps 4 claps\n"), [8]);
    assert_eq!(counts("A (8)\ntriple triple\n"), [8]);
    assert_eq!(counts("A (8)\nthen a triple and another triple\n"), [8]);
    assert_eq!(counts("A (16)\n8 basics, walk around in a circle\n"), [16]);
    assert_eq!(counts("A (8)\n8 steps, walk a full circle to the right\n"), [8]);
}

#[test]
fn what_comes_again_may_be_named_by_its_first_step() {
    let sheet = "A (40)\n4 basics\n4 charlestons (16)\nrepeat from the charlestons\n";
    assert_eq!(counts(sheet), [40]);
    let again = "verse\n2 triples\nchorus\n4 basics\nverse\nchorus\nchorus one more time\n";
    assert_eq!(danced(&sound(again)), "verse | chorus | verse | chorus | chorus");
}

#[test]
fn parts_named_letter_first_come_again_down_the_page() {
    let sheet = "Willow Bank\n\nA PART\t\t32 beats\n4 Triples\t16\n8 Basics\t16\nB PART\t\t16 beats\n4 Charleston\t16\n\
                 A PART again\nB PART again\nC PART\t\t16 beats\n2 Samantha\t16\nA PART\nTAG\t\t8 beats\n2 Triples\t8\n";
    assert_eq!(counts(sheet), [32, 16, 32, 16, 16, 32, 8]);
}

#[test]
fn how_often_stands_behind_a_turn_too() {
    let said = [
        "Rocking Chair, quarter turn left, four times (16 beats)",
        "Rocking Chair, quarter turn left four times (16 beats)",
        "Rocking Chair, 1/4 turn left, 4 times",
        "Rocking Chair, turn 1/4 L, x4",
    ];
    for said in said {
        let sheet = format!("A (16)\n{said}\n");
        assert_eq!(counts(&sheet), [16], "{said}");
        let walls =
            format!("{sheet}B (4)\nTriple, 1/4 turn left (face the left wall)\nOrder: A B\n");
        let found = told_or_asked(&walls);
        assert!(found.is_empty(), "{said}: {found:?}");
        assert!(shows(&walls, &walls.replace("the left wall", "the back wall")), "{said}");
    }
}
