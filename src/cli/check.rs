//! `check`: proof-reads a routine without a song.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use crate::error::{Error, Result};
use crate::routine::load::{Load, load_figures, load_section, stated_tempo};
use crate::routine::{Finding, Passage, Read, Severity, load_with};
use crate::units::{Foot, Wall, eights};

use super::args::{Output, Steps};
use super::{Outcome, output};

/// Proof-reads a routine without a song.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct CheckArgs {
    /// The routine's sheet, plain text.
    pub routine: PathBuf,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
    /// Counts a minute of the music, to be told beside what the level is usually taught at.
    #[arg(long, value_name = "COUNTS")]
    pub tempo: Option<f64>,
    /// Files of own steps.
    #[command(flatten)]
    pub steps: Steps,
    /// Where it goes.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat check lantern-road.txt
  hoofbeat check lantern-road.txt --tempo 120
  hoofbeat check lantern-road.txt --steps our-steps.txt";

/// Runs `check`. Exit 0 where the sheet can be danced as it stands, 1 with mistakes or lines that leave open what is danced.
///
/// # Errors
/// Those of [`load_with`] and of writing.
pub fn run(args: &CheckArgs) -> Result<Outcome> {
    if args.tempo.is_some_and(|t| !(t > 0.0 && t <= 1000.0)) {
        return Err(Error::Usage("--tempo needs counts a minute, for example 120".into()));
    }
    let read = load_with(&args.routine, &args.steps.steps)?;
    let tempo = args.tempo.or_else(|| stated_tempo(&read.routine));
    let text = if args.json {
        json(&read, tempo)
    } else {
        report(&read, &args.routine.display().to_string(), tempo)
    };
    output::write(args.output.output.as_deref(), text.as_bytes(), args.output.force)?;
    let stops = read.findings.iter().any(Finding::stops);
    Ok(if stops { Outcome::DoesNotFit } else { Outcome::Done })
}

/// What `check --json` prints.
#[derive(Serialize)]
struct Checked<'r> {
    sound: bool,
    title: &'r str,
    wait: Option<u32>,
    counts: u32,
    #[serde(flatten)]
    load: Load<'r>,
    findings: &'r [Finding],
    order: Vec<Danced<'r>>,
}

/// A part of the order in `check --json`.
#[derive(Serialize)]
struct Danced<'r> {
    part: &'r str,
    time_round: u32,
    counts: u32,
    lead_foot: Foot,
    free_foot_after: Foot,
    wall_before: Wall,
    wall_after: Wall,
}

fn json(read: &Read, counts_a_minute: Option<f64>) -> String {
    let name = |p: &Passage| read.routine.parts.get(p.part).map_or("", |part| part.name.as_str());
    let walk = read.routine.walk();
    let checked = Checked {
        sound: !read.findings.iter().any(Finding::stops),
        title: &read.routine.title,
        wait: read.routine.wait,
        counts: read.routine.counts(),
        load: load_figures(&read.routine, counts_a_minute),
        findings: &read.findings,
        order: walk
            .iter()
            .map(|p| Danced {
                part: name(p),
                time_round: p.time_round,
                counts: p.counts,
                lead_foot: p.lead_foot,
                free_foot_after: p.free_foot_after,
                wall_before: p.wall_before,
                wall_after: p.wall_after,
            })
            .collect(),
    };
    // Nothing in it can fail to be written as JSON.
    serde_json::to_string_pretty(&checked).unwrap_or_default() + "\n"
}

/// The report as text.
fn report(read: &Read, file: &str, tempo: Option<f64>) -> String {
    let routine = &read.routine;
    let mut out = String::new();
    let title = if routine.title.is_empty() { file } else { &routine.title };
    out.push_str(&format!("{title}\n"));
    if let Some(wait) = routine.wait {
        out.push_str(&format!("wait {wait} counts ({})\n", eights(wait)));
    }
    let walk = routine.walk();
    let longest = walk
        .iter()
        .filter_map(|p| routine.parts.get(p.part))
        .map(|p| p.name.chars().count())
        .max()
        .unwrap_or(0);
    for p in &walk {
        let Some(part) = routine.parts.get(p.part) else { continue };
        let pad = " ".repeat(longest.saturating_sub(part.name.chars().count()));
        let mut line = format!(
            "  {}{pad}  {:>3} counts  starts {:<5}  leaves {:<5} free",
            part.name,
            p.counts,
            p.lead_foot.to_string(),
            p.free_foot_after.to_string()
        );
        if p.wall_before != Wall::Front || p.wall_after != Wall::Front {
            line.push_str(&format!("  faces {}", p.wall_before));
            if p.wall_after != p.wall_before {
                line.push_str(&format!(", then {}", p.wall_after));
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    if !walk.is_empty() {
        let counts = routine.counts();
        out.push_str(&format!("{counts} counts danced ({})\n", eights(counts)));
    }
    out.push_str(&load_section(routine, tempo));
    let mut section = |severity: Severity, one: &str, many: &str| -> usize {
        let found: Vec<&Finding> =
            read.findings.iter().filter(|f| f.severity() == severity).collect();
        if !found.is_empty() {
            let word = if found.len() == 1 { one } else { many };
            out.push_str(&format!("\n{} {word}\n", found.len()));
            for f in &found {
                out.push_str(&format!("  {f}\n"));
            }
        }
        found.len()
    };
    let mistakes = section(Severity::Mistake, "mistake", "mistakes");
    section(Severity::Question, "question", "questions");
    section(Severity::Remark, "remark", "remarks");
    if mistakes == 0 {
        out.push_str("\nno mistakes found\n");
    }
    out
}
