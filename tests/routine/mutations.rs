//! Mistakes planted in sound sheets must be found; nothing must be found in the sound ones.

use hoofbeat::routine::{LineRole, line_roles, parse};

use super::sound_sheets;

fn with_line(lines: &[&str], index: usize, new: Option<String>) -> String {
    let mut out: Vec<String> = lines.iter().map(|l| l.to_string()).collect();
    match new {
        Some(new) => out[index] = new,
        None => {
            out.remove(index);
        }
    }
    out.join("\n") + "\n"
}

/// Each place where `from` stands alone as a word, replaced by `to`, one at a time.
fn each_word(line: &str, from: char, to: char) -> Vec<String> {
    let chars: Vec<char> = line.chars().collect();
    (0..chars.len())
        .filter(|&i| chars[i] == from)
        .map(|i| {
            let mut changed = chars.clone();
            changed[i] = to;
            changed.into_iter().collect()
        })
        .collect()
}

/// Sheets with one planted mistake each, and what was planted.
fn planted(text: &str) -> Vec<(String, String)> {
    let lines: Vec<&str> = text.lines().collect();
    let roles = line_roles(text);
    let (routine, _) = parse(text);
    let mut out = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let feet_only = !line.trim().is_empty()
            && line.chars().all(|c| c == 'L' || c == 'R' || c.is_whitespace());
        match roles[i] {
            // Counts: a heading that states others than its steps have.
            LineRole::Heading => {
                let part = routine.parts.iter().find(|p| p.line == i + 1);
                if let Some(part) =
                    part.filter(|p| p.stated_counts.is_some() && !p.lines.is_empty())
                {
                    let stated = part.stated_counts.unwrap().to_string();
                    let wrong = (part.stated_counts.unwrap() + 2).to_string();
                    if line.contains(&stated) {
                        out.push((
                            "heading".into(),
                            with_line(&lines, i, Some(line.replacen(&stated, &wrong, 1))),
                        ));
                    }
                }
            }
            // Feet: one letter changed.
            LineRole::Steps if feet_only => {
                for (from, to) in [('L', 'R'), ('R', 'L')] {
                    for changed in each_word(line, from, to) {
                        out.push((format!("foot {changed}"), with_line(&lines, i, Some(changed))));
                    }
                }
            }
            // Counts: a line of steps left out of a part whose counts are stated.
            LineRole::Steps => {
                let part = routine.parts.iter().rev().find(|p| p.line <= i + 1);
                let danced = part.is_some_and(|p| {
                    p.stated_counts.is_some()
                        && p.lines.len() > 1
                        && p.lines.iter().any(|l| l.line == i + 1 && l.counts() > 0)
                        && p.line != i + 1
                });
                let below = lines.get(i + 1).is_some_and(|l| {
                    l.starts_with([' ', '\t']) && roles.get(i + 1) == Some(&LineRole::Steps)
                });
                if danced && !below {
                    out.push((format!("left out {line}"), with_line(&lines, i, None)));
                }
            }
            _ => {}
        }
    }
    // Order: a name that no part has.
    for (i, line) in lines.iter().enumerate() {
        if roles[i] == LineRole::Order && line.trim().len() > 3 {
            let at = line.rfind(char::is_whitespace).map_or(0, |p| p + 1);
            let changed = format!("{}Zq{}", &line[..at], &line[at..]);
            if !line.trim_end().ends_with(':') {
                out.push((format!("order {changed}"), with_line(&lines, i, Some(changed))));
            }
        }
    }
    out
}

#[test]
fn planted_mistakes_are_found() {
    let (mut number, mut missed) = (0, Vec::new());
    for (name, text) in sound_sheets() {
        for (what, sheet) in planted(&text) {
            number += 1;
            if !parse(&sheet).1.iter().any(|f| f.is_mistake()) {
                missed.push(format!("{name}: {what}"));
            }
        }
    }
    assert!(number > 60, "{number}");
    // The floor is 97 in a hundred.
    assert!(missed.len() * 100 <= number * 3, "{} of {number} missed: {missed:#?}", missed.len());
}
