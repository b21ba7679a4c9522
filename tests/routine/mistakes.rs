//! What is said about mistakes, word for word.

use hoofbeat::error::Error;
use hoofbeat::routine::{Finding, load, parse, read};

use super::{mistakes, questions, remarks};

#[test]
fn ten_mistakes_are_told_in_one_run() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/routines/ten-mistakes.txt");
    let Err(Error::Routine { findings, .. }) = read(path.as_ref()) else { panic!("not refused") };
    let told = [
        "line 1, column 1: “Titel”: not a line that a sheet begins with; did you mean “Title:”?",
        "line 2, column 1: “Wait: soon”: the wait needs a number; write the wait in counts, for example 16",
        "line 6, column 3: “Tripple”: no step has this name; did you mean “Triple basic”?",
        "line 7, column 4: “DZ”: no movement is written like this; did you mean “DS”?",
        "line 13, column 1: “&1 &2 &3 &5”: the timing jumps at 5; write the counts one after another, \
         for example &1 &2 &3",
        "line 16, column 1: “Chorus”: the part has neither steps nor counts; write its steps below the \
         heading, or its counts behind it",
        "line 18, column 19: “Q”: the order names it, but no part is called so; add a heading `Q` with \
         its counts, or take it out of the order",
    ];
    assert_eq!(findings, told);
    // Of a sheet with so many nobody can be sure of the others.
    let asked = [
        (
            "line 5, column 1: “Part A (32)”",
            "the heading says 32 counts (4 eights), its steps have 26 (3 eights and 2); add 6 counts, or \
             change the heading to 26",
        ),
        (
            "line 8, column 16: “(9)”",
            "the line says 9 counts, its steps have 8; change the number to 8, or the steps",
        ),
        (
            "line 12, column 1: “L R L LR”",
            "RS on the left foot, but the left foot holds the weight; the movements give L R L RL",
        ),
        ("line 14, column 1: “turn 1/4”", "a turn that says no side; write L or R behind it"),
    ];
    let as_far =
        |(place, why): (&str, &str)| format!("{place}: as far as the sheet is understood {why}");
    let text = load(path.as_ref()).unwrap().text;
    assert_eq!(questions(&text), asked.map(as_far));
}

#[test]
fn each_mistake_has_its_words() {
    let table: &[(&str, &[&str])] = &[
        (
            "",
            &[
                "the sheet has no part and no step; write a heading such as `Part A (32)` and its steps below it",
            ],
        ),
        (
            "Part A (8)\nTriple\n",
            &[
                "line 1, column 1: “Part A (8)”: the heading says 8 counts (1 eight), its steps have 4 (4 counts); \
               add 4 counts, or change the heading to 8",
            ],
        ),
        (
            "Part A\nTriple\nPart A\nTriple\nOrder: A",
            &[
                "line 3, column 1: “Part A”: a part of this name begins on line 1 already; give one of them another name",
            ],
        ),
        (
            "Part A\nTriple\nPart B\nTriple\nOrder: A",
            &[
                "line 3, column 1: “Part B”: the order never comes to Part B; add it to the order, or take the part out",
            ],
        ),
        (
            "Part A\nTriple\nChorus\nTriple\nOrder: A Chrous A",
            &[
                "line 5, column 10: “Chrous”: the order names it, but no part is called so; did you mean “Chorus”?",
            ],
        ),
        (
            "Part A\nDS DS DS RS\nR L R LR\n",
            &[
                "line 3, column 1: “R L R LR”: starts on the right foot, but the left foot is free there; start on the \
               left foot, or write `Starts: right` at the top if the dance starts so",
            ],
        ),
        (
            "Part A\nDS DS DS RS\nL R L\n",
            &[
                "line 3, column 1: “L R L”: the line names 3 feet, the movements above it have 5; write one foot for \
               each sound of the feet",
            ],
        ),
        (
            "Part A\nDS DS RS\n&1 &2 3\n",
            &[
                "line 3, column 1: “&1 &2 3”: the timing does not go with the movements; the movements give &a1 &a2 &3",
            ],
        ),
        (
            "Part A\nRocking Chair\nrepeat on other foot\n",
            &[
                "line 3, column 1: “repeat on other foot”: the left foot is free again, so it does not start on the \
               other foot; write only `repeat` to start on the left foot again, or change the step before",
            ],
        ),
        (
            "Part A\nrepeat\n",
            &[
                "line 2, column 1: “repeat”: nothing stands before it to repeat; write the steps that it repeats",
            ],
        ),
        (
            "Part A\nTriple turn 1/2 R, facing the front wall\n",
            &[
                "line 2, column 20: “facing the front wall”: the sheet says the front wall, the turns give the back \
               wall; write the back wall, or change a turn before it",
            ],
        ),
        (
            "Part A\n999 Triple\n",
            &[
                "line 2, column 1: “999 Triple”: more than 200 cannot be meant; write a smaller number",
            ],
        ),
        (
            "Step: Bell = DS RS\nStep: Bell = DS DS RS\nPart A\nBell\n",
            &[
                "line 2, column 1: “Step: Bell =”: a step of this name is on line 1 already, as DS RS; give one of them another name",
            ],
        ),
    ];
    for (sheet, expected) in table {
        let said = mistakes(sheet);
        let expected: Vec<String> =
            expected.iter().map(|s| s.replace("heading to 8", "heading to 4")).collect();
        assert_eq!(said, expected, "{sheet}");
    }
}

#[test]
fn what_nobody_knows_is_asked() {
    let sheet = "Part A\nMoonlit Wander\n";
    assert_eq!(mistakes(sheet), Vec::<String>::new());
    let expected = "line 2, column 1: “Moonlit Wander”: no step has this name; say what it is, \
         `Step: Moonlit Wander = DS DS RS`, or put its counts in brackets behind it";
    assert_eq!(questions(sheet), [expected]);
    // How long the part is stays open, so it cannot be laid on a song.
    assert!(parse(sheet).1.iter().any(Finding::stops));
}

#[test]
fn what_rests_on_a_line_that_nobody_knows_is_asked() {
    let known = "Part A\n2 Basic\nTriple R\n";
    assert_eq!(mistakes(known).len(), 1);
    let unknown = known.replace("2 Basic", "2 Basic\nMoonlit Wander");
    assert_eq!(mistakes(&unknown), Vec::<String>::new());
    assert_eq!(questions(&unknown).len(), 2);
}

#[test]
fn a_sheet_that_goes_against_one_reading_again_and_again_means_another() {
    let sheet = |wrong: usize| {
        let line = |i: usize| format!("2 Triple ({})\n", if i < wrong { 6 } else { 8 });
        (0..6).map(line).fold("Part A\n".to_string(), |sheet, line| sheet + &line)
    };
    assert_eq!((mistakes(&sheet(1)).len(), mistakes(&sheet(2)).len()), (1, 2));
    assert_eq!((mistakes(&sheet(4)).len(), questions(&sheet(4)).len()), (0, 4));
}

#[test]
fn remarks_are_no_mistakes() {
    let table = [
        (
            "Part A\nTriple\nPart B\nTriple\n",
            "no order is given: the parts are danced once each, as written; to change that add a line such as `Order: A B A`",
        ),
        (
            "Part A\nMoonlit Wander (4)\n",
            "line 2, column 1: “Moonlit Wander”: not in the glossary: its 4 counts are taken from the sheet, and the same foot is taken to be free after it; to have its feet checked say what it is, `Step: Moonlit Wander = DS DS RS`",
        ),
        (
            "Part A (4)\nTriple\nhug your neighbour tightly\n",
            "line 3, column 1: “hug your neighbour tightly”: read as a note, since the counts of the part are right without it; start the line with `Note:` to say so",
        ),
        (
            "2 Triple\n",
            "line 1, column 1: “2 Triple”: steps before any heading; read as one part; write a heading such as `Part A` above them",
        ),
        (
            "Part A\nTriple (turn\n",
            "line 2, column 8: “(”: the bracket is not closed; read as closed at the end of the line",
        ),
    ];
    for (sheet, expected) in table {
        assert_eq!(mistakes(sheet), Vec::<String>::new(), "{sheet}");
        assert!(remarks(sheet).iter().any(|r| r == expected), "{sheet}: {:#?}", remarks(sheet));
    }
}

#[test]
fn findings_are_in_the_order_of_their_lines_and_tell_their_place() {
    let text = "Part A (9)\n  4 Tripple\n\u{5E9}\u{5D9}\u{5E8} – 2 Rocking Chiar\nOrder: A Q\n";
    let (_, findings) = parse(text);
    assert!(findings.windows(2).all(|w| w[0].line <= w[1].line));
    let lines: Vec<&str> = text.lines().collect();
    for f in findings.iter().filter(|f| f.line > 0) {
        let there: String =
            lines[f.line - 1].chars().skip(f.column - 1).take(f.words.chars().count()).collect();
        assert_eq!(there, f.words, "{f}");
    }
}

#[test]
fn findings_are_told_as_json_too() {
    let (_, findings) = parse("Part A\n4 Tripple\n");
    let json = serde_json::to_value(&findings).unwrap();
    assert_eq!(json[0]["kind"], "unknown-step");
    assert_eq!(json[0]["severity"], "mistake");
    assert_eq!((&json[0]["line"], &json[0]["column"]), (&2.into(), &3.into()));
    assert_eq!(json[0]["words"], "Tripple");
    assert_eq!(json[0]["mend"], "did you mean “Triple basic”?");
    assert!(findings.iter().all(Finding::is_mistake));
}

#[test]
fn files_that_are_no_sheets_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    assert!(matches!(load(folder.path()), Err(Error::IsAFolder(_))));
    assert!(matches!(load(&folder.path().join("none.txt")), Err(Error::Io { .. })));
    let zip = folder.path().join("sheet.docx");
    std::fs::write(&zip, b"PK\x03\x04....").unwrap();
    let error = load(&zip).unwrap_err();
    assert!(error.to_string().ends_with(
        "not a sheet that can be read: it looks like a word processor's file or an archive"
    ));
    assert_eq!(error.advice().unwrap(), "save the sheet as plain text (.txt) and name that file");
}
