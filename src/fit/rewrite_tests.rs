//! Mends written into sheets, read again and fitted again.

use super::testing::{Dice, song};
use super::*;
use crate::routine::parse;

const HEADS: [&str; 3] = [
    "Title: Lamplighters\nWait: 16\n\n",
    "LAMPLIGHTERS\nIntro: Wait 16 beats, left foot start\n\n",
    "Lamplighters\r\nWait: 2 eights\r\n\r\n",
];
const PARTS: &str = "Part A (32)\n4 Triple\n4 Fancy Double\n\nPart B (32)\n6 Triple   - low\n\
                     4 Single Basics\n\nChorus (32 counts)\n4 Rocking Chair (turn 1/4 L on each)\n\
                     2 Fancy Double, 2 Triple\n\n";
const ORDERS: [&str; 6] = [
    "Order: A B Chorus A B Chorus",
    "Order: A, B, Chorus, A, B, Chorus",
    "SEQUENCE: A - B - Chorus - A - B - Chorus",
    "Order:\nA\nB\nChorus\nA\nB\nChorus",
    "Order: AB chorus AB chorus",
    "Order: A B Chorus x2",
];

/// Lines of one text that the other has not, in order.
fn changed(old: &str, new: &str) -> Vec<String> {
    let mut rest: Vec<&str> = old.lines().collect();
    let other = |line: &&str| match rest.iter().position(|l| l == line) {
        Some(at) => {
            rest.remove(at);
            false
        }
        None => true,
    };
    new.lines().filter(other).map(str::to_string).collect()
}

#[test]
fn a_mend_written_into_the_sheet_takes_its_mismatch_away() {
    let mut dice = Dice::new(21);
    let (mut made, mut written) = (0, 0);
    let mut unwritten = Vec::new();
    for case in 0..150 {
        let order = ORDERS[case % ORDERS.len()];
        let head = HEADS[dice.roll(HEADS.len())];
        let sheet = if head.contains('\r') {
            format!("{head}{}{}\r\n", PARTS.replace('\n', "\r\n"), order.replace('\n', "\r\n"))
        } else if dice.roll(3) == 0 {
            format!("{head}{order}\n\n{PARTS}")
        } else {
            format!("{head}{PARTS}{order}\n")
        };
        let (routine, findings) = parse(&sheet);
        assert!(!findings.iter().any(|f| f.is_mistake()), "{findings:?}");
        let mut form = vec![("intro", [16, 16, 16, 24, 32][dice.roll(5)])];
        for item in &routine.order {
            let chorus = routine.parts[item.part].name == "Chorus";
            let by = [0, 0, 0, 4, 8, -4, -2, 2, -8, 16][dice.roll(10)];
            form.push((if chorus { "chorus" } else { "verse" }, (32 + by) as u32));
        }
        let song = song(&form);
        let before = fit(&song, &routine);
        for mend in &before.suggestions {
            made += 1;
            let Some(mended) = rewrite(&sheet, &mend.edits) else {
                unwritten.push(format!("{order}: {}", mend.message));
                continue;
            };
            written += 1;
            let (read, findings) = parse(&mended);
            assert!(!findings.iter().any(|f| f.is_mistake()), "{findings:?}\n{mended}");
            let after = fit(&song, &read);
            assert_eq!(
                after.mismatches.len() + 1,
                before.mismatches.len(),
                "{}\n{mended}\n{:?}",
                mend.message,
                after.mismatches
            );
            // Nothing but the lines of the mend: the order, a number, a few new lines.
            let lines = changed(&sheet, &mended);
            assert!(lines.len() <= 16, "{lines:#?}");
            assert_eq!(sheet.contains('\r'), mended.contains('\r'));
        }
    }
    println!("{written} of {made} mends written; not: {unwritten:#?}");
    assert!(made > 150, "{made}");
    assert!(written * 100 >= made * 99, "{written} of {made}: {unwritten:#?}");
}

#[test]
fn a_fill_changes_the_order_line_and_adds_its_own() {
    let sheet = "Title: Lamplighters\nWait: 16\n\nPart A (32)\n4 Triple\n4 Fancy Double\n\n\
                 Part B (32)\n6 Triple\n4 Single Basics\n\nOrder:  A  B  A  B   - smile\n";
    let song = song(&[("intro", 16), ("verse", 32), ("chorus", 36), ("verse", 32), ("chorus", 32)]);
    let before = fit(&song, &parse(sheet).0);
    let mended = rewrite(sheet, &before.suggestions[0].edits).unwrap();
    assert_eq!(
        changed(sheet, &mended),
        ["Fill (4)", "Fancy double", "", "Order:  A  B  Fill  A  B   - smile"]
    );
    assert!(fit(&song, &parse(&mended).0).fits);
}

#[test]
fn a_wait_changes_its_number_alone() {
    let sheet = "Lamplighters\nIntro: Wait 16 beats, left foot\nPart A (32)\n8 Triple\n";
    let mended = rewrite(sheet, &[Edit::Wait(32)]).unwrap();
    assert_eq!(mended, sheet.replace("16", "32"));
    let unsaid = "Title: Lamplighters\n\nPart A (32)\n8 Triple\n";
    let mended = rewrite(unsaid, &[Edit::Wait(24)]).unwrap();
    assert_eq!(changed(unsaid, &mended), ["Wait: 24"]);
}

#[test]
fn a_line_that_is_cut_keeps_its_note() {
    let sheet = "Wait: 16\n\nPart A (32)\n8 Triple\n\nPart B (32)\n4 Triple\n4 Fancy Double - arms up\n\n\
                 Order: A B A B\n";
    let form = [("intro", 16), ("verse", 32), ("chorus", 28), ("verse", 32), ("chorus", 32)];
    let fit = fit(&song(&form), &parse(sheet).0);
    let cut = fit.suggestions.iter().find(|s| s.kind == SuggestionKind::Trim).unwrap();
    let new = rewrite(sheet, &cut.edits).unwrap();
    assert!(new.contains("\n3 Fancy double - arms up\n"), "{new}");
}
