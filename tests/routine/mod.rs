//! The routine reader against sheets as teachers type them.

mod command;
mod fuzz;
mod gaps;
mod general;
mod habits;
mod layouts;
mod mailbox;
mod mistakes;
mod mutations;
mod planted;
mod property;
mod retyped;
mod rows;
mod sheets;
mod sound_habits;
mod tables;
mod typists;
mod writer;

use std::path::PathBuf;

use hoofbeat::routine::{Finding, Routine, Severity, parse};

/// The sheets in `fixtures/routines` whose names do not say that they have mistakes.
fn sound_sheets() -> Vec<(String, String)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/routines");
    let mut out: Vec<(String, String)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "txt"))
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let text = std::fs::read_to_string(&path).unwrap();
            (name, text)
        })
        .filter(|(name, _)| !name.contains("mistake"))
        .collect();
    out.sort();
    out
}

fn mistakes(text: &str) -> Vec<String> {
    parse(text).1.iter().filter(|f| f.is_mistake()).map(Finding::to_string).collect()
}

/// Whether more is told or asked of a sheet than of the sound one that it was.
fn shows(sound: &str, spoiled: &str) -> bool {
    told_or_asked(spoiled).len() > told_or_asked(sound).len()
}

/// Mistakes, and what would be one if it were read for certain.
fn told_or_asked(text: &str) -> Vec<String> {
    mistakes(text).into_iter().chain(questions(text)).collect()
}

/// What is not understood, or not for certain.
fn questions(text: &str) -> Vec<String> {
    let (_, findings) = parse(text);
    let asked = findings.iter().filter(|f| f.severity() == Severity::Question);
    asked.map(Finding::to_string).collect()
}

fn remarks(text: &str) -> Vec<String> {
    parse(text)
        .1
        .iter()
        .filter(|f| f.severity() == Severity::Remark)
        .map(Finding::to_string)
        .collect()
}

/// The routine of a sheet that has no mistakes.
fn sound(text: &str) -> Routine {
    let (routine, findings) = parse(text);
    let wrong: Vec<String> =
        findings.iter().filter(|f| f.is_mistake()).map(Finding::to_string).collect();
    assert!(wrong.is_empty(), "{wrong:#?}\n{text}");
    routine
}

/// Parts with their counts.
fn parts(sheet: &str) -> String {
    let parts: Vec<String> =
        sound(sheet).parts.iter().map(|p| format!("{} {}", p.name, p.counts())).collect();
    parts.join(", ")
}

/// Names of the parts in the order in which they are danced.
fn danced(routine: &Routine) -> String {
    let names: Vec<&str> =
        routine.order.iter().map(|o| routine.parts[o.part].name.as_str()).collect();
    names.join(" | ")
}

/// Each mistake, put in the place of what is right in a sound sheet, is told.
fn all_told(planted: &[(&str, &str, &str)]) {
    for (sheet, right, wrong) in planted {
        let spoiled = sheet.replacen(right, wrong, 1);
        assert_ne!(spoiled, *sheet, "{right}");
        assert!(!mistakes(&spoiled).is_empty(), "{wrong}");
    }
}

/// As [`all_told`], in sheets too short to show how their lines are read: it may be asked.
fn all_told_or_asked(planted: &[(&str, &str, &str)]) {
    for (sheet, right, wrong) in planted {
        let spoiled = sheet.replacen(right, wrong, 1);
        assert_ne!(spoiled, *sheet, "{right}");
        assert!(shows(sheet, &spoiled), "{wrong}");
    }
}
