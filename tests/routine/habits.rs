//! Sheets in many authors' habits, `fixtures/habits`: how many of their lines are understood.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use hoofbeat::routine::{LineRole, line_roles, parse};

/// A sheet, with what a reader takes each line for.
pub struct Habit {
    pub name: String,
    /// The sheet alone.
    pub text: String,
    /// The letters of each line.
    codes: Vec<String>,
    /// What the `==` lines say.
    facts: HashMap<String, String>,
}

impl Habit {
    fn load(path: &Path) -> Habit {
        let typed = std::fs::read_to_string(path).unwrap();
        let (mut text, mut codes, mut facts) = (String::new(), Vec::new(), HashMap::new());
        for line in typed.lines() {
            if let Some(fact) = line.strip_prefix("== ") {
                let (key, value) = fact.split_once(' ').unwrap();
                facts.insert(key.to_string(), value.to_string());
                continue;
            }
            let (code, line) = line.split_once('|').unwrap_or_else(|| panic!("{path:?}: {line}"));
            codes.push(code.to_string());
            text.push_str(line);
            text.push('\n');
        }
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        Habit { name, text, codes, facts }
    }
}

pub fn habits(folder: &str) -> Vec<Habit> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/habits").join(folder);
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "sheet"))
        .collect();
    paths.sort();
    paths.iter().map(|path| Habit::load(path)).collect()
}

/// What is not understood in a sheet typed as `text`: a line's number and why.
fn misread(habit: &Habit, text: &str) -> Vec<(usize, String)> {
    let (routine, findings) = parse(text);
    let roles = line_roles(text);
    assert_eq!(roles.len(), habit.codes.len(), "{}: lines", habit.name);
    let walk = routine.walk();
    let mut out = Vec::new();
    let order_wrong = order_facts(habit, &routine, &walk);
    let mut order_lines = 0;
    for (i, code) in habit.codes.iter().enumerate() {
        let line = i + 1;
        let typed = habit.text.lines().nth(i).unwrap_or("");
        let mut wrong = |why: String| out.push((line, format!("`{}`: {why}", typed.trim())));
        if let Some(f) = findings.iter().find(|f| f.line == line && f.is_mistake()) {
            wrong(format!("told as wrong: {f}"));
            continue;
        }
        let letters: String = code.chars().filter(char::is_ascii_alphabetic).collect();
        let role = roles[i];
        let number = |letter: char| -> Option<u32> {
            code.split(letter)
                .nth(1)
                .and_then(|r| r.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok())
        };
        let stepped: Option<u32> = routine
            .parts
            .iter()
            .flat_map(|p| &p.lines)
            .filter(|l| l.line == line)
            .map(|l| l.counts())
            .reduce(|a, b| a.max(b));
        if letters.contains('s') && stepped != number('s') {
            wrong(format!("{stepped:?} counts, not {:?}", number('s')));
            continue;
        }
        match letters.chars().next() {
            Some('f') if !matches!(role, LineRole::Field | LineRole::Note) => {
                wrong(format!("taken as {role:?}"));
            }
            Some('n') if !matches!(role, LineRole::Note | LineRole::Field) => {
                wrong(format!("taken as {role:?}"));
            }
            Some('h') if role != LineRole::Heading => wrong(format!("taken as {role:?}")),
            Some('h') => {
                let stated = routine.parts.iter().find(|p| p.line == line).map(|p| p.stated_counts);
                // Sections of a line dance are held against their lines, and make one part together.
                let section = routine.parts.first().is_some_and(|p| p.name == "Dance");
                if let Some(n) = number('h')
                    && stated != Some(Some(n))
                    && !section
                {
                    wrong(format!("states {stated:?}, not {n}"));
                }
            }
            Some('k') if role != LineRole::Steps || stepped.is_some() => {
                wrong(format!("taken as {role:?} of {stepped:?} counts"));
            }
            Some('s') if role != LineRole::Steps => wrong(format!("taken as {role:?}")),
            Some('d') if role != LineRole::Definition => wrong(format!("taken as {role:?}")),
            Some('o') => {
                order_lines += 1;
                if role != LineRole::Order {
                    wrong(format!("taken as {role:?}"));
                } else if let Some(why) = &order_wrong {
                    wrong(why.clone());
                }
            }
            None if role != LineRole::Blank => wrong(format!("taken as {role:?}")),
            _ => {}
        }
    }
    if order_lines == 0
        && let Some(why) = order_wrong
    {
        out.push((0, why));
    }
    out
}

/// What of the `==` lines does not hold.
fn order_facts(
    habit: &Habit,
    routine: &hoofbeat::routine::Routine,
    walk: &[hoofbeat::routine::Passage],
) -> Option<String> {
    let joined = |words: Vec<String>| words.join(" ");
    for (key, value) in &habit.facts {
        let found = match key.as_str() {
            "counts" => joined(walk.iter().map(|p| p.counts.to_string()).collect()),
            "lead" => joined(walk.iter().map(|p| p.lead_foot.letter().to_string()).collect()),
            "walls" => joined(walk.iter().map(|p| p.wall_before.to_string()).collect()),
            "free" => walk.last()?.free_foot_after.letter().to_string(),
            "ends" => walk.last()?.wall_after.to_string(),
            "wait" => routine.wait.map_or("none".into(), |w| w.to_string()),
            "start" => routine.starts_on.map_or("none".into(), |f| f.letter().to_string()),
            "total" => routine.counts().to_string(),
            other => panic!("{}: == {other}", habit.name),
        };
        if found != *value {
            return Some(format!("{key} {found}, not {value}"));
        }
    }
    None
}

/// Lines understood among the lines of a folder's sheets; prints what is not.
fn understood(folder: &str) -> (usize, usize) {
    let (mut lines, mut wrong) = (0, 0);
    for habit in habits(folder) {
        lines += habit.codes.iter().filter(|c| c.as_str() != "-").count();
        for (line, why) in misread(&habit, &habit.text) {
            wrong += 1;
            println!("{}:{line}: {why}", habit.name);
        }
    }
    println!("{folder} {} of {lines} lines understood", lines - wrong.min(lines));
    (lines - wrong.min(lines), lines)
}

#[test]
fn lines_of_many_authors_are_understood() {
    let (understood, lines) = understood("");
    assert!(lines > 190, "{lines}");
    assert!(understood * 100 >= lines * 98, "{understood} of {lines}");
}

/// Kept apart while the reader was written. The first try understood 138 of 202 lines; what a second round made
/// of it is no longer kept apart, and the floor here only holds it.
#[test]
fn lines_of_sheets_kept_apart_are_understood() {
    let (understood, lines) = understood("kept-apart");
    assert!(lines > 150, "{lines}");
    assert!(understood * 100 >= lines * 83, "{understood} of {lines}");
}
