//! Sheets in habits of their own, read by what the whole sheet says: where counts stand, what the parts are called,
//! what comes again.

use super::{all_told, danced, parts, sound};

const LEADERS: &str = "\
\"Gooseberry Lane\" 
Choreo - Tamsin Vole  tvole@geese.example
Music - Gooseberry Lane, The Hollow Oaks, 3:05
Low Intermediate, 126 bpm

Intro: wait 32 beats

Part A - 32
2 Triples (fwd) ............... 8
1 Clogover Vine (L) ........... 8
2 Triples (back) .............. 8
1 Clogover Vine (R) ........... 8

Part B - 32
(4) Turkey Trots 1/4 L each ... 16
(2) Rocking Chairs ............ 8
(4) Basics .................... 8

Break - 8
8 Stomps

Sequence: A-B-A-B-Break-B
";

const PHONE_NOTE: &str = "\
hi all! heres the one from saturday
MILLPOND SHUFFLE (Corky & the Ditch Lilies)
we start on the left, hold 16 

V
basic x4
2 rocking chairs
repeat V
 
C
karaoke L + R
2 charlestons
4 basics turning all the way round to the left

V C V C 
then C again and a stomp to finish

any questions text me. wear yr taps!
";

const COLUMNS_WITH_SUMS: &str = "\
SQUIRREL IN THE SMOKEHOUSE
Level: Easy Int.   Speed: 118   Wait: 16 cts
Choreographer: Pell Ashdown

PART I
  2   Triple                L,R      8
  1   Samantha              L        8
  2   Fancy Double          L,L      8
  4   Basic (1/2 turn L)    L        8
                                   ---
                                    32
PART II
  1   Cowboy                L        8
  1   Cowboy                R        8
                                   ---
                                    16
PART III
  2   Joey                  L,R      8
  2   Mountain Goat         L,R      8

ORDER: I, II, I, II, III, II, II
";

const NUMBERED_LINES: &str = "\
Dance: Dandelion Clock
Song: Dandelion Clock - Ivy Marsh
32 count intro

[Verse]
1. Triple L, Triple R
2. Chain L, Chain R
3. Repeat 1 & 2
[Chorus]
1. Clogover vine left
2. Clogover vine right
3. 2 Rocking chairs turning 1/4 left on each
4. 4 Basics
[Bridge]
1. 4 Kentucky drags
2. 8 claps!

Running order
Verse
Chorus
Verse
Chorus
Bridge
Chorus x2
";

const FIELDS_WITH_DOTS: &str = "\
Title.......Hen House Hop
By..........Ned Loam
Wait........8

A. (16 beats)
Basic, Basic, Triple
Same again on the other foot
B. (16 beats)
Push off left (4)
Push off right (4)
Rocking chair, 1/2 turn L (4)
Rocking chair, 1/2 turn L (4)
C. (8 beats)
Stomp Stomp Clap Clap
Stomp Stomp Clap Clap

A A B C A A B C B B
";

const COUNTS_AND_A_DASH: &str = "\
Rain on the Tin — routine by Otto Grebe (2021)
Beginner / left lead / 104 BPM / wait 4 eights

PART A (4x8)
8 - 2 triples
8 - 4 basics
8 - 2 triples
8 - 2 fancy doubles

PART B (2x8)
8 - outhouse, outhouse
8 - 4 basics (full turn right)

A B A B B
Keep it light, keep it low. Drink water!
";

const BULLETS: &str = "\
* FERRY AT DAWN *
(cue sheet - Wed. beginners)

- Intro: 16 counts, start walking in place on 9

- A: 4 x Triple  (16)
- A: 8 x Basic  (16)

- B: Loop vine L, loop vine R, Charleston x 2  (16)
- B: do that twice

- Order = A A B A B B
- Last time: finish with 3 stomps
";

const COUNTS_IN_FRONT: &str = "\
NUTMEG TWO STEP                          16 BT INTRO
PART A  (32)
  4  2 BASICS
  4  TRIPLE
  8  REPEAT ON R FT
 16  ALL AGAIN, TURN 1/2 L
PART B  (24)
  8  SLUR VINE L, SLUR VINE R
  8  2 CHARLESTON
  8  4 BASIC - ROLL LEFT (360)
BREAK  (4)
  4  4 STOMPS
SEQ: A B A B BRK B A
";

const IN_WORDS: &str = "\
How we dance \"Paper Kite\" - from Gert

Wait for the drum, then 16.

FIRST VERSE
Four triples, alternating feet
Two rocking chairs
Four basics

CHORUS
Clogover vine to the left
Clogover vine to the right
Repeat chorus

SECOND VERSE
Same as first verse

CHORUS

FIDDLE BREAK
Stomp, stomp, clap, clap
Do it 4 times in all

CHORUS
CHORUS (again)

Big finish: jump and throw your hat
";

#[test]
fn counts_are_found_wherever_they_stand() {
    assert_eq!(parts(LEADERS), "Part A 32, Part B 32, Break 8");
    assert_eq!(parts(COLUMNS_WITH_SUMS), "PART I 32, PART II 16, PART III 16");
    assert_eq!(parts(COUNTS_AND_A_DASH), "PART A 32, PART B 16");
    assert_eq!(parts(COUNTS_IN_FRONT), "PART A 32, PART B 24, BREAK 4");
}

#[test]
fn what_comes_again_is_found_in_any_words() {
    assert_eq!(parts(PHONE_NOTE), "V 32, C 32");
    assert_eq!(parts(NUMBERED_LINES), "Verse 32, Chorus 32, Bridge 16");
    assert_eq!(parts(FIELDS_WITH_DOTS), "A 16, B 16, C 8");
    assert_eq!(parts(BULLETS), "A 32, B 32, Ending 3");
    assert_eq!(parts(IN_WORDS), "FIRST VERSE 32, CHORUS 32, SECOND VERSE 32, FIDDLE BREAK 16");
}

#[test]
fn orders_are_found_in_any_shape() {
    assert_eq!(danced(&sound(PHONE_NOTE)), "V | C | V | C | C");
    assert_eq!(
        danced(&sound(COLUMNS_WITH_SUMS)),
        "PART I | PART II | PART I | PART II | PART III | PART II | PART II"
    );
    assert_eq!(
        danced(&sound(NUMBERED_LINES)),
        "Verse | Chorus | Verse | Chorus | Bridge | Chorus | Chorus"
    );
    assert_eq!(danced(&sound(FIELDS_WITH_DOTS)), "A | A | B | C | A | A | B | C | B | B");
    assert_eq!(danced(&sound(BULLETS)), "A | A | B | A | B | B | Ending");
    assert_eq!(
        danced(&sound(IN_WORDS)),
        "FIRST VERSE | CHORUS | SECOND VERSE | CHORUS | FIDDLE BREAK | CHORUS | CHORUS"
    );
}

/// Counts in front of several steps, steps danced so often together, where steps go, steps in full one after another, and an
/// order behind a few words of its own.
const IN_FRONT_AND_TOGETHER: &str = "\
Otter Bend
Let 16 go by.

Meadow (32)
(8) Triple, Triple
9-16 Stomp, Clap (4 times)
2 Triples, 1 up & 1 back
stomp stomp clap clap = 4
again = 4

Bank (8)
4 Basics, a quarter turn left with each

How it runs - Meadow, Bank, Meadow
";

#[test]
fn counts_and_times_of_several_steps_are_those_of_all() {
    assert_eq!(parts(IN_FRONT_AND_TOGETHER), "Meadow 32, Bank 8");
    let routine = sound(IN_FRONT_AND_TOGETHER);
    assert_eq!(danced(&routine), "Meadow | Bank | Meadow");
    assert_eq!(routine.wait, Some(16));
    let turned: i32 = routine.parts[1].steps().map(|step| step.eighths()).sum();
    assert_eq!(turned, -8);
}

#[test]
fn counts_of_a_part_in_front_of_a_step_nobody_knows_begin_no_part() {
    let sheet = "Part A (9):\n1-4  Heron Wander (4)\n5-9  pause 5\n\nOrder: Part A, Part A\n";
    assert_eq!(parts(sheet), "Part A 9");
    let sheet = "Part A (123)\n1-114  57 Basic\n115-118  Heron Wander (4)\n119-123  pause 5\n\nOrder: Part A\n";
    assert_eq!(parts(sheet), "Part A 123");
}

/// A line that was read as no step may say what its part lacks: nobody can be sure, and it is asked.
#[test]
fn what_a_line_may_say_is_asked() {
    let sheet = "Bend (16)\n2 Triples (8)\n~ wade the whole brook once more, 8 ~\n\nBank (8)\n4 Basics (8)\n";
    let findings = hoofbeat::routine::parse(sheet).1;
    assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:#?}");
    assert!(findings.iter().any(|f| f.line == 1), "{findings:#?}");
}

#[test]
fn waits_are_found_wherever_they_stand() {
    let waits = [
        (LEADERS, 32),
        (PHONE_NOTE, 16),
        (COLUMNS_WITH_SUMS, 16),
        (NUMBERED_LINES, 32),
        (FIELDS_WITH_DOTS, 8),
        (COUNTS_AND_A_DASH, 32),
        (COUNTS_IN_FRONT, 16),
        (IN_WORDS, 16),
    ];
    for (sheet, wait) in waits {
        assert_eq!(sound(sheet).wait, Some(wait), "{sheet}");
    }
}

#[test]
fn a_mistake_is_told_in_these_habits_too() {
    let slips = [
        (LEADERS, "2 Triples (fwd) ............... 8", "3 Triples (fwd) ............... 8"),
        (LEADERS, "Break - 8", "Break - 12"),
        (
            COLUMNS_WITH_SUMS,
            "1   Cowboy                R        8",
            "1   Cowboy                R        4",
        ),
        (COLUMNS_WITH_SUMS, "III, II, II", "IV, II, II"),
        (COUNTS_AND_A_DASH, "8 - 4 basics\n8 - 2 triples", "8 - 4 basics\n8 - 3 triples"),
        (COUNTS_IN_FRONT, "  8  2 CHARLESTON", "  8  3 CHARLESTON"),
        (FIELDS_WITH_DOTS, "Push off left (4)", "Push off left (6)"),
        (NUMBERED_LINES, "Clogover vine left", "Clogovre vine left"),
        (PHONE_NOTE, "V C V C \n", "V C Q C \n"),
    ];
    all_told(&slips);
}

#[test]
fn times_behind_several_steps_are_of_all_where_only_so_the_counts_come_out() {
    let sheet = |counts: u32| format!("Mill\n\nVerse ({counts})\nStep, Clap x4\n\nOrder: Verse\n");
    for counts in [8, 5] {
        assert_eq!(super::parts(&sheet(counts)), format!("Verse {counts}"));
    }
    assert!(!super::told_or_asked(&sheet(6)).is_empty());
}

#[test]
fn steps_and_parts_named_again_are_danced_again() {
    let steps = "Mill\n\nVerse (32)\nKaraoke\n2 Joeys\nRepeat Karaoke and Joeys\n\nOrder: Verse\n";
    assert_eq!(super::parts(steps), "Verse 32");
    let parts = "Mill\n\nVerse (8)\n2 Triples\n\nChorus (8)\n2 Chains\n\nRepeat Verse\nRepeat Chorus\n\nTag (4)\nChain\n";
    let routine = super::sound(parts);
    assert_eq!(super::danced(&routine), "Verse | Chorus | Verse | Chorus | Tag");
}

#[test]
fn numbers_of_sections_are_no_counts() {
    let sheet = "Mill\n\nSection 1 (counts 1-8)\n2 Triples\n\nSection 2 (counts 9-16)\n2 Chains\n";
    assert_eq!(super::parts(sheet), "Section 1 8, Section 2 8");
}
