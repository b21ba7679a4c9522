//! `hoofbeat fit`: a routine laid on a song.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use serde_json::{Value, json};

use crate::error::{Error, Result};
use crate::fit::{self, Alternative, AlternativeKind};
use crate::routine::{self, load::load_figures};
use crate::song::{Pulse, SongMap, SongView};

use super::args::{Output, Steps};
use super::{Outcome, output};

/// Lays a routine on a song: where each part falls, what does not meet, what would mend it.
///
/// Exit code 0: it fits. 1: it does not. 2: an error.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct FitArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// The routine's sheet, plain text.
    pub routine: PathBuf,
    /// Answer as JSON.
    #[arg(long, conflicts_with = "apply")]
    pub json: bool,
    /// Write the routine's sheet with this mend made: its number in the report, from 1 on.
    #[arg(long, value_name = "NUMBER")]
    pub apply: Option<usize>,
    /// The map of another cut: does the routine hold on both, and is there one sheet that does? With -o that
    /// sheet is written.
    #[arg(long, value_name = "MAP", conflicts_with = "apply")]
    pub against: Option<PathBuf>,
    /// Files of own steps.
    #[command(flatten)]
    pub steps: Steps,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat fit lantern-road.song.json lantern-road.txt
  hoofbeat fit lantern-road.song.json lantern-road.txt --json -o fit.json
  hoofbeat fit lantern-road.song.json lantern-road.txt --apply 1 -o mended.txt
  hoofbeat fit lantern-road.song.json lantern-road.txt --against lantern-road-radio-edit.song.json";

/// Runs `fit`.
///
/// # Errors
/// Those of reading the map and the routine, and of writing.
pub fn run(args: &FitArgs) -> Result<Outcome> {
    let map = SongMap::load(&args.map)?;
    let song = map.view()?;
    for warning in map.warnings() {
        eprintln!("warning: {}: {warning}", args.map.display());
    }
    let read = routine::read_with(&args.routine, &args.steps.steps)?;
    let routine = &read.routine;
    if let Some(number) = args.apply {
        return apply(args, &song, &read, &fit::fit(&song, routine), number);
    }
    if let Some(other) = &args.against {
        return both(args, &song, &read, other);
    }
    let (laid, others) = fit::fit_with_alternatives(&song, routine, || pulses(&map, &song));
    let text = if args.json {
        let mut json = to_json(&laid)?;
        json["alternatives"] = to_json(&others)?;
        json["load"] = to_json(&load_figures(routine, Some(song.counts_per_minute)))?;
        format!("{json:#}\n")
    } else {
        fit::report(&laid, &song, routine)
            + &told(&others, &args.map)
            + &routine::load::load_section(routine, Some(song.counts_per_minute))
    };
    output::write(args.output.output.as_deref(), text.as_bytes(), args.output.force)?;
    Ok(if laid.fits { Outcome::Done } else { Outcome::DoesNotFit })
}

fn to_json(value: &impl Serialize) -> Result<Value> {
    serde_json::to_value(value).map_err(|e| Error::Usage(format!("no JSON could be made: {e}")))
}

/// The song counted at half and at double pulse.
fn pulses(map: &SongMap, song: &SongView) -> Vec<fit::OtherPulse> {
    let at = |ratio: f64, name: &str| {
        let mut map = map.clone();
        map.set.pulse = Some(Pulse { counts_per_minute: song.counts_per_minute * ratio });
        Some(fit::OtherPulse { name: name.into(), song: map.view().ok()? })
    };
    [at(0.5, "half pulse"), at(2.0, "double pulse")].into_iter().flatten().collect()
}

/// Alternatives in the report.
fn told(others: &[Alternative], map: &Path) -> String {
    if others.is_empty() {
        return String::new();
    }
    let mut text = String::from("\nOr another way\n");
    for other in others {
        text.push_str(&format!("  {}", other.message));
        if other.kind == AlternativeKind::Pulse {
            text.push_str(&format!(
                " (`hoofbeat mark {} pulse {:.0}`)",
                map.display(),
                other.counts_per_minute
            ));
        }
        text.push('\n');
    }
    text
}

/// The routine on two cuts.
fn both(args: &FitArgs, song: &SongView, read: &routine::Read, other: &Path) -> Result<Outcome> {
    let other_map = SongMap::load(other)?;
    let other_song = other_map.view()?;
    for warning in other_map.warnings() {
        eprintln!("warning: {}: {warning}", other.display());
    }
    let both = fit::against([song, &other_song], &read.routine);
    let mut sheet = Some(read.text.clone());
    for (edits, _) in &both.changes {
        sheet = sheet.and_then(|sheet| fit::rewrite_with(&sheet, edits, &read.steps));
    }
    let changes: Vec<&String> = both.changes.iter().map(|(_, message)| message).collect();
    let names = [&args.map, other].map(|path| path.display().to_string());
    let text = if args.json {
        let [first, second] = &both.fits;
        let answer = json!({
            "fits": both.fits.iter().all(|fit| fit.fits),
            "maps": names,
            "each": [to_json(first)?, to_json(second)?],
            "changes": changes,
            "one_sheet_holds": both.one_sheet_holds(),
            "sheet": sheet.as_ref().filter(|_| both.one_sheet_holds()),
        });
        format!("{answer:#}\n")
    } else {
        both_in_words(&both, &names, &changes)
    };
    output::write(None, text.as_bytes(), false)?;
    if let Some(path) = &args.output.output {
        match sheet.filter(|_| both.one_sheet_holds() && !changes.is_empty()) {
            Some(sheet) => {
                output::write(Some(path), sheet.as_bytes(), args.output.force)?;
                eprintln!("saved {}", path.display());
            }
            None => eprintln!("no sheet was written: there is none to write that holds on both"),
        }
    }
    Ok(if both.fits.iter().all(|fit| fit.fits) { Outcome::Done } else { Outcome::DoesNotFit })
}

fn both_in_words(both: &fit::Both, names: &[String; 2], changes: &[&String]) -> String {
    let things = |n: usize| match n {
        0 => "it fits".to_string(),
        1 => "1 thing does not meet".to_string(),
        n => format!("{n} things do not meet"),
    };
    let mut text = String::new();
    for (name, fit) in names.iter().zip(&both.fits) {
        text.push_str(&format!("{name}: {}\n", things(fit.mismatches.len())));
    }
    let (shared, own) = both.shared_and_own();
    let list = |text: &mut String, head: &str, mismatches: &[&fit::Mismatch]| {
        if !mismatches.is_empty() {
            text.push_str(&format!("\n{head}\n"));
            for mismatch in mismatches {
                text.push_str(&format!("  {}.\n", capital(&mismatch.message)));
            }
        }
    };
    list(&mut text, "On both", &shared);
    list(&mut text, &format!("Only on {}", names[0]), &own[0]);
    list(&mut text, &format!("Only on {}", names[1]), &own[1]);
    if !changes.is_empty() {
        text.push_str("\nOne sheet for both\n");
        for (number, change) in (1..).zip(changes) {
            text.push_str(&format!("  {number}. {change}\n"));
        }
        let left = [0, 1].map(|k| things(both.after[k].mismatches.len()));
        text.push_str(&format!(
            "  Then, on {}: {}; on {}: {}.\n",
            names[0], left[0], names[1], left[1]
        ));
    }
    if !both.one_sheet_holds() {
        text.push_str(
            "\nNo one sheet holds on both; give each cut its own (`hoofbeat recut … --sheet`).\n",
        );
    }
    text
}

fn capital(text: &str) -> String {
    let mut chars = text.trim_end_matches('.').chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().collect::<String>() + chars.as_str())
}

/// Writes the sheet with one mend made, and says what then still does not meet.
fn apply(
    args: &FitArgs,
    song: &SongView,
    read: &routine::Read,
    laid: &fit::Fit,
    number: usize,
) -> Result<Outcome> {
    let chosen = number.checked_sub(1).and_then(|n| laid.suggestions.get(n));
    let Some(mend) = chosen else {
        let why = match laid.suggestions.len() {
            0 => "there is no mend to apply".to_string(),
            most => format!("--apply {number}: the report numbers its mends from 1 to {most}"),
        };
        return Err(Error::Usage(why));
    };
    let Some(sheet) = fit::rewrite_with(&read.text, &mend.edits, &read.steps) else {
        return Err(Error::Usage(format!(
            "mend {number} cannot be written into this sheet without changing more of it; make it by \
             hand: {}",
            mend.message
        )));
    };
    output::write(args.output.output.as_deref(), sheet.as_bytes(), args.output.force)?;
    let after = fit::fit(song, &routine::parse_with(&sheet, &read.steps).0);
    eprintln!("mend {number} made: {}", mend.message);
    match after.mismatches.len() {
        0 => eprintln!("it fits"),
        1 => eprintln!("1 thing still does not meet"),
        n => eprintln!("{n} things still do not meet"),
    }
    Ok(if after.fits { Outcome::Done } else { Outcome::DoesNotFit })
}
