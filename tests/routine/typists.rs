//! Sheets in typists' habits that no other test has: they are sound, and a mistake planted in them is told.

use super::{
    all_told, all_told_or_asked, danced, mistakes, parts, questions, remarks, shows, sound,
};

const CUES: &str = r#"Granite Ferry  (Clog, Easy Intermediate)
Danced to Granite Ferry by The Low Hens, 3:12
-----
INTRO  16 beats (wait)

VERSE A - 32 beats
  Triple, Triple                          8
  Basic x4, circle R                      8
  Repeat                                 16

CHORUS - 32 beats
  Cowboy (turn 1/2 L on the brush)        8
  Fancy Double, Rocking Chair             8
  Repeat to front                        16

BREAK - 8 beats
  8 claps, freestyle!                     8

DANCE ORDER: Verse / Chorus / Verse / Chorus / Break / Chorus x2 & pose

Questions? Ask Marnie.
"#;

const COLUMNS: &str = r#"Dance: "Tin Moon Rising"        Choreo: B. Lockhart       Level: Beg.

PART  STEPS                               CTS
A     2 triples                            8
      2 rocking chairs                     8
      4 basics (turning full L)            8
      2 fancy doubles                      8
B     charleston L                         4
      charleston R                         4
      2 outhouses                          8
      repeat part B                       16
FILL  4 stomps                             4

ORDER  A B fill A B A (half) B
Half A = triples & rocking chairs only
"#;

const NUMBERED: &str = r#"OATMEAL RAG
-- clogging line, level 1 --

1.  Wait 16
2.  Part 1: 2 Triples, 4 Basics ............ 16
3.  Part 2: Clogover Vine L, Clogover Vine R 16
4.  Part 1 again
5.  Part 2 again, facing back
6.  Part 3: (Stomp Double, Triple) x 2 ..... 16
7.  Part 1
8.  Part 2
9.  End: Stomp R, Stomp L, and freeze!
"#;

const BRACKETS: &str = r#"PAPER MILL POLKA — teaching notes from Ida

Start: after 8 bars
Parts

A part
Basics (4), clap on the last one – 8 counts
Triples (2), going forward – 8 counts
The whole thing backing up – 16 counts

B part
Chain left / Chain right – 8 counts
Mountain Goats (2) – 8 counts
Same thing other foot – 16 counts

Bridge – just walk around yourself, 8 counts, clapping

The dance: A A B B, A B, bridge, B B
"#;

const PHONE: &str = r#"hey all heres the new one for thurs

song: kettle creek by the pond hens
8 beat intro

A
basic basic triple
basic basic triple
2 chains
2 chains

B
charleston x 4

C
stomp stomp clap clap
triple
x4 total turn 1/4 left each time

A B A B C A B B
ends w a stomp

c u thurs -jo
"#;

const SECTIONS: &str = r#"COPPER JUG | Line | 32 counts | 4 walls | Improver
Chor. Tilde Borg (SE) 03/2021
Intro 32 counts from heavy beat

[1-8] VINE R, VINE L 1/4
1-4 Step R to R, cross L behind R, step R to R, scuff L
5-8 Step L to L, cross R behind L, 1/4 turn L stepping L fwd, scuff R

[9-16] ROCKING CHAIR, SHUFFLE x2
1-4 Rock R fwd, recover L, rock R back, recover L
5&6 Shuffle fwd R-L-R
7&8 Shuffle fwd L-R-L

[17-24] JAZZ BOX, HEEL SWITCHES
1-4 Cross R over L, step L back, step R to R, step L together
5&6& Touch R heel fwd, step R together, touch L heel fwd, step L together
7-8 Touch R heel fwd twice

[25-32] COASTER, PIVOT, STOMPS
1&2 Coaster R
3-4 Step L fwd, pivot 1/2 R
5-6 Step L fwd, pivot 1/2 R
7-8 Stomp L, stomp R

TAG: after wall 3 (4 counts): Sway R, L, R, L
Have fun & keep smiling!
"#;

#[test]
fn counts_stand_wherever_a_line_has_them() {
    assert_eq!(parts(CUES), "VERSE A 32, CHORUS 32, BREAK 8");
    assert_eq!(parts(COLUMNS), "A 32, B 32, FILL 4");
    assert_eq!(danced(&sound(COLUMNS)), "A | B | FILL | A | B | A | B");
    assert_eq!(parts(BRACKETS), "A part 32, B part 32, Bridge 8");
}

#[test]
fn the_page_and_short_words_are_read() {
    assert_eq!(parts(NUMBERED), "Part 1 16, Part 2 16, Part 3 16, End 2");
    assert_eq!(
        danced(&sound(NUMBERED)),
        "Part 1 | Part 2 | Part 1 | Part 2 | Part 3 | Part 1 | Part 2 | End"
    );
    assert_eq!(parts(PHONE), "A 32, B 16, C 32, Ending 1");
    assert_eq!(parts(SECTIONS), "Dance 32, Tag 4");
}

#[test]
fn what_is_wrong_in_them_is_told() {
    all_told(&[
        (CUES, "CHORUS - 32 beats", "CHORUS - 28 beats"),
        (CUES, "Chorus / Break", "Chorus / Braek / Zither"),
        (
            COLUMNS,
            "2 fancy doubles                      8",
            "3 fancy doubles                      8",
        ),
        (BRACKETS, "Triples (2), going forward – 8", "Triples (3), going forward – 8"),
        (SECTIONS, "[9-16] ROCKING", "[9-18] ROCKING"),
        (SECTIONS, "7-8 Stomp L, stomp R", "7-8 Stomp L, stomp R, stomp L"),
    ]);
}

const TWO_PARTS: &str = "Part A (8)\n2 Triple\n\nPart B (8)\n2 Fancy Double\n\n";

#[test]
fn an_order_says_all_that_it_has() {
    for word in ["Intro", "Fill", "Break", "bow", "pose"] {
        let sheet = format!("Mill Pond\n\n{TWO_PARTS}Order: {word} A B {word} A\n");
        let told = remarks(&sheet);
        assert!(told.iter().any(|r| r.contains(&format!("“{word}”"))), "{word}: {told:?}");
        assert_eq!(mistakes(&sheet), Vec::<String>::new(), "{word}");
    }
    let numbered = format!("{TWO_PARTS}Break (4)\nTriple\n\nOrder: A, Break 2, B, A\n");
    assert_eq!(danced(&sound(&numbered)), "Part A | Break | Part B | Part A");
}

#[test]
fn a_title_may_name_a_step_or_parts() {
    for title in ["Cowboy Roll", "A B A"] {
        let sheet = format!("{title}\n\n{TWO_PARTS}Order: A B A\n");
        let routine = sound(&sheet);
        assert_eq!((routine.title.as_str(), routine.parts.len()), (title, 2));
        assert_eq!(questions(&sheet), Vec::<String>::new());
    }
}

#[test]
fn steps_are_spelled_out_under_any_heading() {
    let sheet = format!(
        "{TWO_PARTS}Order: A B\n\nHow they go\nTriple - DS DS DS RS\nFancy Double - DS DS RS RS\n"
    );
    assert_eq!(parts(&sheet), "Part A 8, Part B 8");
    assert_eq!(danced(&sound(&sheet)), "Part A | Part B");
}

const AGAIN: &str = "Paddle Lane

PART A\t32 counts
8\t2 Triples\tL foot, R foot
Samantha (8)
Opposite foot (8)
Stomp, Stomp, Clap, Clap (4)
Again! (4)

Order: A A
";

#[test]
fn once_more_and_feet_stand_on_lines_with_counts() {
    assert_eq!(parts(AGAIN), "PART A 32");
    all_told_or_asked(&[
        (AGAIN, "Again! (4)", "Again! (8)"),
        (AGAIN, "Opposite foot (8)", "Opposite foot (4)"),
    ]);
}

#[test]
fn a_foot_for_each_step_is_that_of_its_start() {
    let clog = "Sawdust\n\nPart A\nDS DS DS RS    L    4\nDS DS DS RS    R    4\nDS RS DS RS    L R  4\n\nOrder: A\n";
    sound(clog);
    let other = clog.replace("L R  4", "R L  4");
    assert!(shows(clog, &other));
}
