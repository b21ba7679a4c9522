//! `hoofbeat recut`: another cut of a song, with the marks carried over.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};

use crate::draw::{self, Paper, Ribbon};
use crate::error::{Error, Result};
use crate::fit::{self, Fit};
use crate::recut::{self, Adapted, Recut};
use crate::rhythm;
use crate::routine::{self, StepFiles};
use crate::save::Overwrite;
use crate::song::{Beats, SongMap, SongView, UserSet, kept, listen, sound_of};

use super::args::Steps;
use super::progress::Progress;
use super::{Outcome, output};

/// Says what another cut of a song has of it, carries the marks over, and says whether a routine still holds.
///
/// Exit code 0: done, and with --routine it fits. 1: the routine does not fit. 2: an error, or another song.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct RecutArgs {
    /// The song map of the cut that is marked.
    pub map: PathBuf,
    /// The new cut, or several to compare.
    #[arg(required = true, value_name = "NEW-AUDIO")]
    pub audio: Vec<PathBuf>,
    /// The routine made for the old cut: does it hold, and how to dance it all the same.
    #[arg(long, value_name = "SHEET")]
    pub routine: Option<PathBuf>,
    /// Files of own steps.
    #[command(flatten)]
    pub steps: Steps,
    /// Where to save the new cut's song map; `-` prints it. Left out, it is saved beside the new cut.
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Write the routine's sheet as it is danced to the new cut.
    #[arg(long, value_name = "FILE", requires = "routine")]
    pub sheet: Option<PathBuf>,
    /// Draw both cuts with what matches, as SVG.
    #[arg(long, value_name = "FILE")]
    pub draw: Option<PathBuf>,
    /// The old cut's recording, where it is not beside its map (only needed without NAME.heard).
    #[arg(long, value_name = "FILE")]
    pub recording: Option<PathBuf>,
    /// Replace files that exist already.
    #[arg(long)]
    pub force: bool,
    /// Answer as JSON.
    #[arg(long)]
    pub json: bool,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat recut lantern-road.song.json lantern-road-radio-edit.m4a
  hoofbeat recut lantern-road.song.json lantern-road-radio-edit.m4a --routine lantern-road.txt \\
      --sheet radio-edit.txt --draw radio-edit.svg
  hoofbeat recut lantern-road.song.json *.mp3 --routine lantern-road.txt";

/// The cut that is marked, and what is laid on it.
struct Marked {
    song: SongView,
    sound: rhythm::Heard,
    routine: Option<Made>,
}

/// The routine made for that cut.
struct Made {
    text: String,
    steps: StepFiles,
    laid: Fit,
}

/// A new cut, compared.
struct Compared {
    audio: PathBuf,
    cut: Recut,
    adapted: Option<Adapted>,
    sound: rhythm::Heard,
}

/// Runs `recut`.
///
/// # Errors
/// Those of reading the map and the routine, of listening and of writing; [`Error::OtherSong`].
pub fn run(args: &RecutArgs) -> Result<Outcome> {
    let several = args.audio.len() > 1;
    if several && (args.output.is_some() || args.sheet.is_some() || args.draw.is_some()) {
        return Err(Error::Usage(
            "-o, --sheet and --draw are for one new cut; compare first, then take the best alone"
                .into(),
        ));
    }
    let progress = Progress::new();
    let marked = marked(args, &progress)?;
    if !several {
        let audio = &args.audio[0];
        let compared = compare(args, &marked, audio, &progress)?;
        let answer = answer(args, &marked, &compared);
        output::write(None, answer.as_bytes(), false)?;
        if !compared.cut.same() {
            return Err(other_song(&marked, &compared));
        }
        save(args, &marked, &compared)?;
        return Ok(outcome(&compared));
    }
    let mut all = Vec::new();
    for audio in &args.audio {
        all.push((audio, compare(args, &marked, audio, &progress)));
    }
    let text = if args.json { many_json(args, &marked, &all) } else { many_words(&marked, &all) };
    output::write(None, text.as_bytes(), false)?;
    let failed: Vec<String> =
        all.iter().filter_map(|(_, one)| Some(one.as_ref().err()?.to_string())).collect();
    for compared in all.iter().filter_map(|(_, one)| one.as_ref().ok()).filter(|c| c.cut.same()) {
        save(args, &marked, compared)?;
    }
    if !failed.is_empty() {
        return Err(Error::SomeFailed { failed, of: all.len() });
    }
    let holds = |one: &Result<Compared>| {
        one.as_ref().is_ok_and(|c| c.cut.same() && outcome(c) == Outcome::Done)
    };
    Ok(if all.iter().any(|(_, one)| holds(one)) { Outcome::Done } else { Outcome::DoesNotFit })
}

fn marked(args: &RecutArgs, progress: &Progress) -> Result<Marked> {
    let map = SongMap::load(&args.map)?;
    let song = map.view()?;
    for warning in map.warnings() {
        eprintln!("warning: {}: {warning}", args.map.display());
    }
    let read = |path: &Path| routine::read_with(path, &args.steps.steps);
    let routine = args.routine.as_deref().map(read).transpose()?;
    let bar = progress.bar("listening to", Path::new(&map.recording.file));
    let mut tell = |share: f64| bar.set_position((share * 100.0) as u64);
    let sound = sound_of(&args.map, &map, args.recording.as_deref(), &mut tell)?;
    bar.finish_and_clear();
    let routine = routine.map(|read| {
        let laid = fit::fit(&song, &read.routine);
        Made { text: read.text, steps: read.steps, laid }
    });
    Ok(Marked { song, sound, routine })
}

fn compare(
    args: &RecutArgs,
    marked: &Marked,
    audio: &Path,
    progress: &Progress,
) -> Result<Compared> {
    // A map that may not be replaced is said before the work.
    if let Some(path) = &args.output
        && path.as_os_str() != "-"
        && path.exists()
        && !args.force
    {
        return Err(Error::Exists(path.clone()));
    }
    let bar = progress.bar("listening to", audio);
    let heard = listen(audio, &UserSet::default(), Beats::Wanted, &mut |share| {
        bar.set_position((share * 100.0) as u64);
    });
    bar.finish_and_clear();
    let heard = heard?;
    progress.warn(audio, &heard.warnings);
    let new = SongMap::new(heard.recording, heard.heard);
    let cut = recut::recut(&marked.song, &marked.sound.features, &new, &heard.sound);
    let adapted = match &marked.routine {
        Some(made) if cut.same() => Some(recut::adapt(&made.text, &made.steps, &made.laid, &cut)),
        _ => None,
    };
    Ok(Compared { audio: audio.to_path_buf(), cut, adapted, sound: heard.sound })
}

fn outcome(compared: &Compared) -> Outcome {
    match &compared.adapted {
        Some(adapted) if !adapted.as_is.fits => Outcome::DoesNotFit,
        _ => Outcome::Done,
    }
}

fn other_song(marked: &Marked, compared: &Compared) -> Error {
    Error::OtherSong {
        audio: compared.audio.clone(),
        song: marked.song.title.clone(),
        percent: (100.0 * compared.cut.share).round() as u32,
    }
}

/// Saves the new map, the sheet and the picture.
fn save(args: &RecutArgs, marked: &Marked, compared: &Compared) -> Result<()> {
    let overwrite = if args.force { Overwrite::Yes } else { Overwrite::No };
    let Compared { audio, cut, adapted, sound } = compared;
    let fingerprint = &cut.map.recording.fingerprint;
    match &args.output {
        Some(path) if path.as_os_str() == "-" => {
            output::write(None, &cut.map.to_bytes(audio)?, false)?;
        }
        Some(path) => {
            cut.map.save(path, overwrite)?;
            kept::keep(path, sound, fingerprint);
        }
        None => {
            let path = SongMap::default_path(audio);
            if path.exists() && !args.force {
                eprintln!("{} exists and was left as it is; --force replaces it", path.display());
            } else {
                cut.map.save(&path, overwrite)?;
                kept::keep(&path, sound, fingerprint);
                eprintln!("saved {}", path.display());
            }
        }
    }
    if let Some(path) = &args.draw {
        let told = recut::tell(&marked.song, cut);
        let ribbons: Vec<Ribbon> =
            cut.phrases.iter().map(|p| Ribbon { old: p.of, from: p.from, sure: p.sure }).collect();
        let svg = draw::two_cuts(&marked.song, &cut.song, &ribbons, &told, Paper::A4);
        output::replacing(path, svg.as_bytes(), args.force, draw::is_two_cuts)?;
        eprintln!("saved {}", path.display());
    }
    if let (Some(path), Some(adapted)) = (&args.sheet, adapted) {
        let Some(sheet) = &adapted.sheet else {
            return Err(Error::Usage(
                "the changes for this cut cannot be written into the sheet without changing more of it; \
                 make them by hand from what is said above"
                    .into(),
            ));
        };
        output::write(Some(path), sheet.as_bytes(), args.force)?;
        eprintln!("saved {}", path.display());
    }
    Ok(())
}

fn answer(args: &RecutArgs, marked: &Marked, compared: &Compared) -> String {
    match args.json {
        true => format!("{:#}\n", json_of(marked, compared)),
        false if compared.cut.same() => words(marked, compared),
        false => String::new(),
    }
}

fn words(marked: &Marked, compared: &Compared) -> String {
    let cut = &compared.cut;
    let name = compared.audio.file_name().unwrap_or(compared.audio.as_os_str()).to_string_lossy();
    let mut text = format!("{name}: {}.\n\n", recut::headline(cut));
    text.push_str(&wrapped(&recut::tell(&marked.song, cut)));
    if let Some(adapted) = &compared.adapted {
        text.push_str(&wrapped(&recut::tell_fit(adapted)));
    }
    text.push('\n');
    text.push_str(&recut::table(&marked.song, cut));
    text.push_str(&format!(
        "\n  {:.0} % of this cut is in the other, {:.0} % of the other in this one\n",
        100.0 * cut.share,
        100.0 * cut.share_of_old
    ));
    if let Some(adapted) = compared.adapted.as_ref().filter(|a| !a.say.is_empty()) {
        text.push_str("\nSay differently for this cut:\n");
        for (number, line) in (1..).zip(&adapted.say) {
            text.push_str(&format!("  {number}. {line}\n"));
        }
        let order: Vec<&str> = adapted
            .routine
            .order
            .iter()
            .filter_map(|item| adapted.routine.parts.get(item.part))
            .map(|part| part.name.as_str())
            .collect();
        text.push_str(&wrapped(&format!("Order: {}", order.join(", "))));
    }
    text
}

/// Lines of at most 96 columns.
fn wrapped(text: &str) -> String {
    let mut out = String::new();
    let mut column = 0;
    for word in text.split(' ') {
        let long = word.chars().count();
        if column > 0 && column + 1 + long > 96 {
            out.push('\n');
            column = 0;
        } else if column > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += long;
    }
    out + "\n"
}

fn json_of(marked: &Marked, compared: &Compared) -> Value {
    let (old, cut) = (&marked.song, &compared.cut);
    let names = old.names();
    let rounded = |x: f64| (1000.0 * x).round() / 1000.0;
    let phrase_of = |p: usize, from: u32| {
        let phrase = &old.phrases[p];
        json!({
            "name": names[p], "label": phrase.label, "index": p, "start_count": phrase.start,
            "counts": phrase.counts, "from": from,
        })
    };
    let phrases: Vec<Value> = cut
        .song
        .phrases
        .iter()
        .zip(&cut.phrases)
        .filter(|_| cut.same())
        .map(|(phrase, carried)| {
            json!({
                "label": phrase.label, "start_count": phrase.start, "counts": phrase.counts,
                "start_s": phrase.start_s, "end_s": phrase.end_s,
                "of": carried.of.map(|p| phrase_of(p, carried.from)),
                "confidence": rounded(carried.sure),
            })
        })
        .collect();
    let added: Vec<&Value> = phrases.iter().filter(|phrase| phrase["of"].is_null()).collect();
    let mut answer = json!({
        "recording": compared.audio,
        "same_song": cut.same(),
        "what": cut.what,
        "matches": rounded(cut.share),
        "matches_of_old": rounded(cut.share_of_old),
        "same_sound": rounded(cut.same_sound),
        "shift_semitones": cut.semitones,
        "tempo_ratio": (1e4 * cut.tempo_ratio).round() / 1e4,
        "added": added,
        "phrases": phrases,
        "missing": cut.missing.iter().map(|&p| phrase_of(p, 0)).collect::<Vec<_>>(),
        "message": if cut.same() { recut::tell(old, cut) } else { String::new() },
    });
    if let Some(adapted) = &compared.adapted {
        answer["fit"] = serde_json::to_value(&adapted.as_is).unwrap_or_default();
        answer["for_this_cut"] = json!({
            "message": recut::tell_fit(adapted),
            "say": adapted.say,
            "sheet": adapted.sheet,
            "fit": adapted.fit,
        });
    }
    answer
}

/// Cuts that hold the routine first, then by how little must be said differently, then by how much is there.
fn many_words(marked: &Marked, all: &[(&PathBuf, Result<Compared>)]) -> String {
    let mut rows: Vec<(f64, String)> = Vec::new();
    let name = |audio: &Path| {
        audio.file_name().unwrap_or(audio.as_os_str()).to_string_lossy().into_owned()
    };
    let width = all.iter().map(|(audio, _)| name(audio).chars().count()).max().unwrap_or(0);
    for (audio, one) in all {
        let name = name(audio);
        let (rank, told) = match one {
            Err(_) => (4e9, "could not be listened to".to_string()),
            Ok(c) if !c.cut.same() => {
                (3e9, format!("not the same song: {:.0} % matches", 100.0 * c.cut.share))
            }
            Ok(c) => {
                let there = 100.0 * c.cut.share_of_old;
                let changes =
                    c.adapted.as_ref().map(|a| (a.say.len(), a.fit.mismatches.len(), a.as_is.fits));
                let (rank, fits) = match changes {
                    None => (0.0, String::new()),
                    Some((_, _, true)) => (0.0, "fits as it is".into()),
                    Some((0, n, _)) => (2e6 + n as f64, format!("does not fit, {n} amiss")),
                    Some((say, 0, _)) => (1e3 * say as f64, format!("fits with {say} changes")),
                    Some((say, n, _)) => (1e6 * n as f64, format!("{n} amiss after {say} changes")),
                };
                let key = match c.cut.semitones {
                    0 => String::new(),
                    k => format!(", {k:+} semitones"),
                };
                let tempo = 100.0 * c.cut.tempo_ratio;
                (
                    rank + 100.0 - there,
                    format!("{fits:<24} {there:>3.0} % there, {tempo:.0} % of the tempo{key}"),
                )
            }
        };
        rows.push((rank, format!("  {name:<width$}  {told}\n")));
    }
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let what = if marked.routine.is_some() {
        "which holds the routine best"
    } else {
        "how much of the song each has"
    };
    let lines: String = rows.into_iter().map(|(_, line)| line).collect();
    format!("{} cuts of {}, {what}:\n{lines}", all.len(), marked.song.title)
}

fn many_json(_: &RecutArgs, marked: &Marked, all: &[(&PathBuf, Result<Compared>)]) -> String {
    let cuts: Vec<Value> = all
        .iter()
        .map(|(audio, one)| match one {
            Ok(compared) => json_of(marked, compared),
            Err(error) => json!({"recording": audio, "error": error.to_string()}),
        })
        .collect();
    format!("{:#}\n", json!({ "cuts": cuts }))
}
