//! How many lines of a folder of sheets are understood. Beside each `NAME.txt` stands `NAME.tsv`, a row for each
//! line that says something: its number, what sort of line it is, and what it means.
//!
//!     cargo run --release --features measure --example lines_understood -- FOLDER
//!
//! Rows: `fact`, `wait`, `heading`, `steps`, `movements`, `repeat`, `turn`, `order`, `note`, `ornament`. In the third
//! column are looked at: `wait=16`, `counts=32` of a heading, `part=A` of a heading, `total=8` of steps and each of
//! `2×Triple(4)`, `turn=1/4L each`, `define=`, and the names of an order.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use hoofbeat::routine::{
    Finding, LineRole, Part, Routine, Severity, SheetRead, StepFiles, StepUse, read_sheet,
};

fn main() -> ExitCode {
    let Some(folder) = std::env::args().nth(1).map(PathBuf::from) else {
        eprintln!("which folder of sheets?");
        return ExitCode::from(2);
    };
    match measure(&folder) {
        Ok(told) => {
            let share = 100.0 * f64::from(told.understood) / f64::from(told.lines.max(1));
            println!(
                "{} of {} lines understood, {share:.1} %; {} told as mistakes, {} asked",
                told.understood, told.lines, told.alarms, told.asked
            );
            ExitCode::SUCCESS
        }
        Err(why) => {
            eprintln!("{}: {why}", folder.display());
            ExitCode::from(2)
        }
    }
}

/// What is told of a folder of sheets.
#[derive(Debug, Default)]
pub struct Told {
    /// Lines that say something.
    pub lines: u32,
    /// Those of them that are understood.
    pub understood: u32,
    /// Findings told as mistakes.
    pub alarms: usize,
    /// Findings asked.
    pub asked: usize,
}

/// Reads the sheets of a folder and holds them against their tables.
pub fn measure(folder: &Path) -> std::io::Result<Told> {
    let mut sheets: Vec<PathBuf> = std::fs::read_dir(folder)?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "txt"))
        .filter(|path| path.with_extension("tsv").exists())
        .collect();
    sheets.sort();
    let mut told = Told::default();
    for path in &sheets {
        let text = hoofbeat::routine::decode(&std::fs::read(path)?).unwrap_or_default();
        let rows = std::fs::read_to_string(path.with_extension("tsv"))?;
        let read = read_sheet(&text, &StepFiles::default());
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let meant: Vec<Row> = rows.lines().filter_map(Row::read).collect();
        let order = order_meant(&meant);
        let mut here = 0;
        for row in &meant {
            told.lines += 1;
            match misread(row, &read, &order) {
                None => here += 1,
                Some(why) => {
                    let typed = text.lines().nth(row.line - 1).unwrap_or("").trim();
                    println!(
                        "{name}:{}: `{typed}`: {why} (meant: {} {})",
                        row.line, row.sort, row.means
                    );
                }
            }
        }
        for finding in read.findings.iter().filter(|f| f.is_mistake()) {
            told.alarms += 1;
            println!("{name}: told as a mistake: {finding}");
        }
        for finding in read.findings.iter().filter(|f| f.severity() == Severity::Question) {
            told.asked += 1;
            println!("{name}: asked: {finding}");
        }
        println!("{name}: {here} of {} lines", meant.len());
        told.understood += here;
    }
    Ok(told)
}

struct Row<'t> {
    line: usize,
    sort: &'t str,
    means: &'t str,
}

impl<'t> Row<'t> {
    fn read(row: &'t str) -> Option<Row<'t>> {
        let mut cells = row.splitn(3, '\t');
        Some(Row {
            line: cells.next()?.trim().parse().ok()?,
            sort: cells.next()?.trim(),
            means: cells.next().unwrap_or("").trim(),
        })
    }

    /// What stands behind `key=`, up to the next blank or sign.
    fn value(&self, key: &str) -> Option<&'t str> {
        let at = self.means.split([' ', ';', '|']).find_map(|w| w.trim().strip_prefix(key))?;
        at.strip_prefix('=')
    }

    fn number(&self, key: &str) -> Option<u32> {
        self.value(key)?.parse().ok()
    }

    /// Counts of each step: `2×Triple(4); 1×Hold(1)`.
    fn steps(&self) -> Vec<u32> {
        let mut out = Vec::new();
        for piece in self.means.split([';', '|']) {
            let Some((times, rest)) = piece.trim().split_once('×') else { continue };
            let counts = rest.split_once('(').and_then(|(_, c)| c.split_once(')'));
            let (Ok(times), Some(Ok(counts))) =
                (times.parse::<usize>(), counts.map(|(c, _)| c.parse::<u32>()))
            else {
                continue;
            };
            out.extend(std::iter::repeat_n(counts, times));
        }
        out
    }

    /// Eighths of a turn over the whole line, `None` where it says nothing that can be added up.
    fn turn(&self) -> Option<i32> {
        let pieces: Vec<Row<'_>> =
            self.means.split([';', '|']).map(|means| Row { means, ..*self }).collect();
        let turns = pieces.iter().filter(|p| p.value("turn").is_some()).count();
        if turns > 1 {
            // Steps that turn one by one.
            return pieces.iter().filter(|p| p.value("turn").is_some()).map(Row::turn).sum();
        }
        let said = self.value("turn")?;
        let each = self.means.contains(" each") || self.number("times").is_some();
        let side = if said.ends_with('L') { -1 } else { 1 };
        let eighths = match said.trim_end_matches(['L', 'R']) {
            "360" => 8,
            "1/8" => 1,
            "1/4" => 2,
            "1/2" => 4,
            "3/4" => 6,
            _ => return None,
        };
        let plain: u32 = self.means.split("of previous").nth(1).map_or(0, |rest| {
            rest.trim().split('×').next().and_then(|n| n.parse().ok()).unwrap_or(0)
        });
        let said = self.number("times").unwrap_or(1);
        let times = (self.steps().len() as u32).max(plain).max(said).max(1) as i32;
        Some(side * eighths * if each { times } else { 1 })
    }
}

/// The names of the order over all rows that give it, each as often as it is danced.
fn order_meant(rows: &[Row<'_>]) -> Vec<String> {
    let mut out = Vec::new();
    let mut several: Vec<(&str, Vec<&str>)> = Vec::new();
    // Where parts are written out below the first line of the order, the page itself is the order.
    let mut of_order =
        rows.iter().filter(|r| r.sort == "order" && !r.means.contains(" = ")).map(|r| r.line);
    let first = of_order.next().unwrap_or(usize::MAX);
    let last = of_order.next_back().unwrap_or(first);
    let on_the_page = rows
        .iter()
        .any(|r| r.sort == "heading" && (first..last).contains(&r.line) && r.means.contains('|'));
    for row in rows.iter() {
        if row.sort == "heading" && on_the_page {
            out.extend(row.value("part").map(str::to_string));
        }
        if row.sort != "order" {
            continue;
        }
        // `A = Aa, Ab` is a name for several; the order proper names it.
        if let Some((name, parts)) = row.means.split_once(" = ") {
            several.push((name, parts.split(',').map(str::trim).collect()));
            continue;
        }
        for name in row.means.split(',').map(str::trim) {
            // `Verse time=0:54`: what is said of it behind its name is judged elsewhere.
            let name = match name.split_once('=') {
                Some((before, _)) => before.rsplit_once(' ').map_or(name, |(name, _)| name),
                None => name,
            };
            let (name, times) = match name.split_once('×') {
                Some((name, times)) => (name, times.parse().unwrap_or(1)),
                None => (name, 1),
            };
            if name.contains("wait=")
                || matches!(
                    name.to_lowercase().as_str(),
                    "freeze" | "hold" | "bow" | "pose" | "wait" | ""
                )
            {
                continue;
            }
            let named = several.iter().find(|(n, _)| *n == name);
            for _ in 0..times {
                match named {
                    Some((_, parts)) => out.extend(parts.iter().map(ToString::to_string)),
                    None => out.push(name.to_string()),
                }
            }
        }
    }
    out
}

fn plain(name: &str) -> String {
    let lower = name.to_lowercase();
    let lower = lower.strip_prefix("the ").unwrap_or(&lower);
    let labels = ["part ", "section ", "teil ", "partie "];
    let lower = labels.iter().find_map(|label| lower.strip_prefix(label)).unwrap_or(lower);
    lower.chars().filter(|c| c.is_alphanumeric()).collect()
}

/// The usual short forms of parts' names, written out.
fn spelled(name: &str) -> String {
    let plain = plain(name);
    match plain.as_str() {
        "vs" => "verse".into(),
        "ch" | "cho" => "chorus".into(),
        "br" | "brk" => "break".into(),
        _ => plain,
    }
}

/// Whether a part is meant by a name: `V` for Verse, `End` for Ending.
fn same_name(a: &str, b: &str) -> bool {
    let (a, b) = (spelled(a), spelled(b));
    a == b || (!a.is_empty() && b.starts_with(&a)) || (!b.is_empty() && a.starts_with(&b))
}

fn on_line(routine: &Routine, line: usize) -> Option<Vec<&StepUse>> {
    let mut lines =
        routine.parts.iter().flat_map(|p| &p.lines).filter(|l| l.line == line).peekable();
    lines.peek()?;
    // A part may stand twice where its lines are danced twice; the first stands for all.
    Some(lines.next()?.steps.iter().collect())
}

/// Why a line is not understood.
fn misread(row: &Row<'_>, read: &SheetRead, order: &[String]) -> Option<String> {
    let role = read.roles.get(row.line - 1).copied().unwrap_or(LineRole::Blank);
    let wrong = read.findings.iter().find(|f: &&Finding| f.line == row.line && f.is_mistake());
    if let Some(finding) = wrong {
        return Some(format!("told as wrong: {}", finding.why()));
    }
    let routine = &read.routine;
    if let Some(wait) = row.number("wait")
        && routine.wait != Some(wait)
    {
        return Some(format!("waits {:?}", routine.wait));
    }
    let said = |roles: &[LineRole]| (!roles.contains(&role)).then(|| format!("taken as {role:?}"));
    match row.sort {
        "fact" | "note" | "ornament" => {
            said(&[LineRole::Field, LineRole::Note, LineRole::Blank, LineRole::Order])
        }
        "wait" => said(&[LineRole::Field, LineRole::Note, LineRole::Order, LineRole::Steps]),
        "heading" => heading(row, role, routine),
        "movements" if row.value("define").is_some() => said(&[LineRole::Definition]),
        // What only spells out, or counts, the steps of another line is not danced once more.
        "movements" if row.number("total").is_none() => said(&[LineRole::Steps]),
        // `Left foot lead` stands at the top.
        "feet" => said(&[LineRole::Steps, LineRole::Field]),
        "steps" | "movements" | "turn" => steps(row, role, routine),
        "repeat" if row.number("total").is_some() && on_line(routine, row.line).is_some() => {
            steps(row, role, routine)
        }
        "repeat" => said(&[LineRole::Order, LineRole::Steps, LineRole::Heading]),
        // `A = Aa, Ab`: a name for several.
        "order" if row.means.contains(" = ") => said(&[LineRole::Order, LineRole::Note]),
        // A part named again down the page is a heading, and stands in the order all the same.
        "order" => said(&[LineRole::Order, LineRole::Heading]).or_else(|| ordered(routine, order)),
        _ => said(&[]),
    }
}

fn heading(row: &Row<'_>, role: LineRole, routine: &Routine) -> Option<String> {
    let named = row.means.split("part=").nth(1).unwrap_or("");
    let named = named.split(" counts=").next().unwrap_or("").split(" face=").next().unwrap_or("");
    let named = named.split([';', '|']).next().unwrap_or("").split(" times=").next().unwrap_or("");
    if same_name(named, "Order") && role == LineRole::Order
        || ["Glossary", "Key", "Abbreviations"].iter().any(|list| same_name(named, list))
            && matches!(role, LineRole::Field | LineRole::Note | LineRole::Blank)
    {
        return None;
    }
    // An introduction that is only waited through is a wait.
    if same_name(named, "Intro") && matches!(role, LineRole::Field | LineRole::Order) {
        return None;
    }
    // A tag's line says where it is danced, and begins the tag's part.
    let begins = routine.parts.iter().any(|p| p.line == row.line);
    if role != LineRole::Heading && !(begins && role == LineRole::Order) {
        return Some(format!("taken as {role:?}"));
    }
    let part: Option<&Part> = routine.parts.iter().find(|p| p.line == row.line);
    let sections = routine.parts.first().is_some_and(|p| p.name == "Dance");
    match part {
        // Sections of a line dance make one part together.
        Some(part) if part.name == "Dance" => None,
        Some(part) if !same_name(&part.name, named) => Some(format!("named {}", part.name)),
        Some(part) if row.number("counts").is_some_and(|n| part.counts() != n) => {
            Some(format!("of {} counts", part.counts()))
        }
        Some(_) => row.number("total").and_then(|_| steps(row, LineRole::Steps, routine)),
        // A part that comes again is the part of that name.
        None if routine.parts.iter().any(|p| same_name(&p.name, named)) => None,
        // Sections of a line dance make one part together.
        None => (!sections && !same_name(named, "Intro")).then(|| "begins no part".to_string()),
    }
}

fn steps(row: &Row<'_>, role: LineRole, routine: &Routine) -> Option<String> {
    let danced = on_line(routine, row.line);
    if row.sort == "turn" {
        return (role != LineRole::Steps).then(|| format!("taken as {role:?}"));
    }
    let Some(danced) = danced else { return Some(format!("taken as {role:?}, nothing danced")) };
    let counts: Vec<u32> = danced.iter().map(|s| s.counts).collect();
    let total: u32 = counts.iter().sum();
    if let Some(meant) = row.number("total")
        && meant != total
    {
        return Some(format!("{total} counts"));
    }
    let mut meant = row.steps();
    let mut found = counts.clone();
    meant.sort_unstable();
    found.sort_unstable();
    // A line of a line dance is one step of all its counts.
    let section = routine.parts.first().is_some_and(|p| p.name == "Dance") && found.len() == 1;
    if row.sort == "steps" && !meant.is_empty() && meant != found && !section {
        return Some(format!("steps of {counts:?} counts"));
    }
    let turned: i32 = danced.iter().map(|s| s.eighths()).sum();
    match row.turn() {
        Some(turn) if (turn - turned).rem_euclid(8) != 0 => {
            Some(format!("turns {turned} eighths, not {turn}"))
        }
        _ => None,
    }
}

fn ordered(routine: &Routine, meant: &[String]) -> Option<String> {
    let names: Vec<&str> = routine
        .order
        .iter()
        .filter_map(|o| routine.parts.get(o.part))
        .map(|p| p.name.as_str())
        .filter(|name| *name != "Pause")
        .collect();
    // An introduction that is only waited through is no part, and what stands behind the order comes last.
    let waited = !routine.parts.iter().any(|p| same_name(&p.name, "Intro"));
    let meant: Vec<&String> =
        meant.iter().filter(|name| !(waited && same_name(name, "Intro"))).collect();
    let ends = usize::from(names.len() > meant.len() && names.len() == meant.len() + 1);
    let names = &names[..names.len() - ends];
    let same = names.len() == meant.len() && names.iter().zip(meant).all(|(a, b)| same_name(a, b));
    (!same).then(|| format!("order {}", names.join(", ")))
}
