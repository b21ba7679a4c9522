//! Sound sheets in habits of their own: nothing in them is told as a mistake, and a mistake planted in them is.

use super::{all_told, all_told_or_asked, danced, mistakes, parts, questions, remarks, sound};

const RUNNING: &str = "\
TITLE : Haywire Hornpipe
WAIT  : 4 measures (16 beats)
                        meas  beats   cum
PART A
  Triple x 2              2      8     8
  Basic x 4               2      8    16
  Chain x 2               2      8    24
PART B
  Cowboy x 1, L           2      8     8
  Fancy Double x 2        2      8    16
  Cowboy x 1, R           2      8    24
  Basic x 2               1      4    28

ORDER : A B A
TOTAL : 76 beats = 19 measures
";

const TOTALS: &str = "\
Tin Whistle Two-Step
Part\tBeats\tQty\tStep\tRemarks
A\t8\t2\tTriple\tfwd
\t4\t2\tBasic\tin place
\t12\t\trepeat above\tto the front
\t24\t\ttotal A
B\t8\t1\tClogover Vine\tL
\t8\t1\tClogover Vine\tR
\t16\t\ttotal B
Sequence:\tA-B-A
";

const PROSE: &str = "\
Notes for the Pebble Lane class
We wait 16 counts.
For the verse, start with two triples, left and then right.
Then a rocking chair to the left and another to the right.
In the chorus we do a charleston, then two basics.
Do those again.
After the second chorus there is a break: eight stomps, no turning.
So it goes verse, chorus, verse, chorus, break, and the chorus once more.
";

const BARS: &str = "\
Slate Quarry Reel, 4 to the bar
1st STEP
| DS   DS   DS   RS  | DS   RS   STO  --  |
| &1   &2   &3   &4  | &1   &2   3    (4) |
| L    R    L    RL  | R    LR   L        |
Order: 1st step
";

const OUTLINE: &str = "\
Thimble Rag
I.  Verse (24)
    A.  One Triple to the left and one Triple to the right (8)
    B.  Charleston, done twice (8)
    C.  Loop Vine left, Loop Vine right (8)
II.  Chorus (24)
    A.  Basic x4 (8) front line moves up, back line stays put
    B.  Samantha (8)
    C.  Rpt other foot [8]
Order: Verse, Chorus, Verse
(C) 1991 B. Thimble.  PLEASE ASK BEFORE COPYING.
";

#[test]
fn sums_and_running_totals_are_no_steps() {
    assert_eq!(parts(RUNNING), "PART A 24, PART B 28");
    assert_eq!(parts(TOTALS), "A 24, B 16");
}

#[test]
fn sentences_and_bars_are_read() {
    assert_eq!(parts(PROSE), "verse 16, chorus 16, break 8");
    assert_eq!(danced(&sound(PROSE)), "verse | chorus | verse | chorus | break | chorus");
    assert_eq!(parts(BARS), "1st STEP 8");
    assert_eq!(parts(OUTLINE), "Verse 24, Chorus 24");
    assert_eq!(danced(&sound(OUTLINE)), "Verse | Chorus | Verse");
}

#[test]
fn a_mistake_is_told_in_these_habits_too() {
    let planted = [
        (RUNNING, "Basic x 4 ", "Basic x 3 "),
        (RUNNING, "ORDER : A B A", "ORDER : A B D A"),
        (TOTALS, "\t24\t\ttotal A", "\t26\t\ttotal A"),
        (OUTLINE, "Samantha (8)", "Samantah x2 (8)"),
    ];
    all_told(&planted);
    all_told_or_asked(&[
        (TOTALS, "A\t8\t2\tTriple", "A\t8\t3\tTriple"),
        (BARS, "| L    R    L    RL  |", "| L    R    R    RL  |"),
        (OUTLINE, "Charleston, done twice (8)", "Charleston, done twice (9)"),
    ]);
}

#[test]
fn where_a_part_was_not_understood_whole_its_counts_are_a_remark() {
    let sheet =
        "Part A (24)\n2 Triple\nwobble like a jelly, then twice round the other way\n4 Basic\n";
    assert_eq!(mistakes(sheet), Vec::<String>::new());
    let told = questions(sheet);
    assert!(told.len() == 1 && told[0].starts_with("line 3"), "{told:?}");
    let line = "Part A (8)\n8 counts stomp, stomp, and nod to the fiddler\n";
    assert_eq!(mistakes(line), Vec::<String>::new());
    assert!(remarks(line).iter().any(|r| r.contains("what was understood of it has 2")));
}
