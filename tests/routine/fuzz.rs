//! Bytes by chance and sheets spoiled by chance: no panic, and every line accounted for.

use std::io::Write;

use hoofbeat::routine::{LineRole, Routine, line_roles, load, parse};

use super::habits::habits;
use super::sound_sheets;
use super::writer::Chance;

/// Each line that is not blank is a step, a heading, a field, a definition, the order, a note that is kept, or
/// a finding says what is the matter with it.
fn every_line_is_accounted_for(text: &str) {
    let (routine, findings) = parse(text);
    let roles = line_roles(text);
    let plain = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let lines: Vec<(&str, &str)> = hoofbeat::routine::lines_with_ends(plain);
    assert_eq!(roles.len(), lines.len());
    for (i, (role, (line, _))) in roles.iter().zip(&lines).enumerate() {
        let told = findings.iter().any(|f| f.line == i + 1);
        let kept = |r: &Routine| {
            let line = line.trim();
            r.notes.iter().any(|n| n.trim() == line || line.contains(n.as_str()))
                || r.title == line
                || r.parts.iter().any(|p| p.line == i + 1)
        };
        let accounted = match role {
            // A drawn line holds no letter.
            LineRole::Blank => !line.chars().any(|c| c.is_ascii_alphanumeric()),
            LineRole::Unknown => told,
            LineRole::Note => told || kept(&routine) || is_columns(line),
            LineRole::Steps => {
                told || routine.parts.iter().flat_map(|p| &p.lines).any(|l| l.line <= i + 1)
                    || kept(&routine)
            }
            LineRole::Field | LineRole::Heading | LineRole::Definition | LineRole::Order => true,
        };
        assert!(accounted, "line {} `{line}` is {role:?} and nowhere kept\n{text}", i + 1);
    }
}

/// Names of columns say what stands below them, and are not kept.
fn is_columns(line: &str) -> bool {
    let lower = line.to_lowercase();
    ["beat", "count", "step", "cts", "foot", "feet"].iter().any(|w| lower.contains(w))
}

/// A sheet with a few characters, words or lines changed.
fn spoiled(text: &str, chance: &mut Chance) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    let strange = [
        '(', ')', '"', '\t', '\r', '0', '9', '/', '-', 'L', '&', '\u{FEFF}', '\u{A0}', '×', '|',
        '#', '*', '>', ':', '=', '½', '\u{2028}',
    ];
    for _ in 0..1 + chance.below(6) {
        let at = chance.below(chars.len() + 1);
        match chance.below(5) {
            0 if at < chars.len() => {
                chars.remove(at);
            }
            1 => chars.insert(at.min(chars.len()), strange[chance.below(strange.len())]),
            2 if at < chars.len() => chars[at] = strange[chance.below(strange.len())],
            3 => {
                // A stretch of the sheet somewhere else.
                let to = (at + chance.below(40)).min(chars.len());
                let piece: Vec<char> = chars[at..to].to_vec();
                let place = chance.below(chars.len() + 1);
                chars.splice(place..place, piece);
            }
            _ => chars.truncate(chars.len() - chance.below(chars.len() / 4 + 1)),
        }
    }
    chars.into_iter().collect()
}

#[test]
fn spoiled_sheets_are_read_line_by_line() {
    let mut texts: Vec<String> = sound_sheets().into_iter().map(|(_, t)| t).collect();
    texts.extend(habits("").into_iter().map(|h| h.text));
    let mut chance = Chance::new(7);
    for _ in 0..60 {
        for text in &texts {
            every_line_is_accounted_for(&spoiled(text, &mut chance));
        }
    }
}

#[test]
fn any_bytes_are_read_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.txt");
    let mut chance = Chance::new(11);
    for round in 0..400 {
        let bytes: Vec<u8> = (0..chance.below(300))
            .map(|_| match round % 3 {
                0 => chance.below(256) as u8,
                1 => 32 + chance.below(224) as u8,
                _ => b"AB()2 DSR\n\r\tL14/&-:"[chance.below(19)],
            })
            .collect();
        std::fs::File::create(&path).unwrap().write_all(&bytes).unwrap();
        if let Ok(read) = load(&path) {
            every_line_is_accounted_for(&read.text);
        }
    }
}

#[test]
fn how_a_sheet_is_saved_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.txt");
    for habit in habits("") {
        let (routine, _) = parse(&habit.text);
        let ways: [(&str, String); 6] = [
            ("Windows ends", habit.text.replace('\n', "\r\n")),
            ("Macintosh ends", habit.text.replace('\n', "\r")),
            ("a mark in front", format!("\u{FEFF}{}", habit.text)),
            ("hard spaces", habit.text.replace("  ", "\u{A0}\u{A0}")),
            ("long dashes", habit.text.replace(" - ", " \u{2013} ")),
            ("curly quotes", habit.text.replace('\'', "\u{2019}")),
        ];
        for (way, text) in ways {
            std::fs::write(&path, &text).unwrap();
            let read = load(&path).unwrap();
            assert_eq!(read.routine.walk(), routine.walk(), "{}: {way}", habit.name);
        }
        // Windows' Latin 1, where every sign has a place in it.
        let latin: Option<Vec<u8>> = habit
            .text
            .chars()
            .map(|c| match c {
                '\u{2019}' => Some(0x92),
                '\u{201C}' => Some(0x93),
                '\u{201D}' => Some(0x94),
                '\u{2013}' => Some(0x96),
                '\u{2022}' => Some(0x95),
                c => u8::try_from(u32::from(c)).ok(),
            })
            .collect();
        if let Some(bytes) = latin {
            std::fs::write(&path, bytes).unwrap();
            assert_eq!(load(&path).unwrap().routine.walk(), routine.walk(), "{}", habit.name);
        }
    }
}
