//! `hoofbeat mark`: says where phrases, counts, bars and beats are.

use std::io::Read;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};

use crate::error::{Error, Result};
use crate::song::marks::{Correction, words};
use crate::song::{Done, Mark, SongMap, kept};

use super::{Outcome, output};

pub(super) mod listing;

/// Marks phrases and corrects counts, bars and beats in a song map.
///
/// A place is a count (33) or a time (0:17.86). A phrase is named by its first count or by its name
/// (verse 2). Without anything to mark, the phrases are listed.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct MarkArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// What to mark.
    #[command(subcommand)]
    pub what: Option<What>,
    /// Answer as JSON.
    #[arg(long, global = true)]
    pub json: bool,
    /// Show what would change and change nothing.
    #[arg(long, global = true, conflicts_with = "output")]
    pub dry_run: bool,
    /// Save the changed map here and leave MAP as it is; `-` prints it in place of the list.
    #[arg(short, long, global = true, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// With -o: replace a file that exists already.
    #[arg(long, global = true)]
    pub force: bool,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat mark song.song.json                              list the phrases
  hoofbeat mark song.song.json phrase 33 verse              a phrase starts on count 33
  hoofbeat mark song.song.json form intro 16, verse 4 eights, chorus 36, ending
  hoofbeat mark song.song.json first 0:01.86                counting starts here
  hoofbeat mark song.song.json half                         a count on every second beat
  hoofbeat mark song.song.json undo                         take the last change back

To drop a correction for good, say `as-heard`: first as-heard, form as-heard; so too for pulse, bar,
beats-per-bar, tap, change and end.

A correction of beats rights the rest of the song: it is solved again with what you said held fast, as
long as NAME.heard, which `listen` keeps beside the map, is there.";

/// What can be marked.
#[derive(Debug, Subcommand)]
pub enum What {
    /// List the phrases.
    List,
    /// A phrase starts here: `33 verse`, `0:17.86 verse`, `17 verse, 49 chorus`.
    #[command(visible_alias = "set")]
    Phrase(Words),
    /// A phrase starts elsewhere: `verse 2 to 37`, `33 to 37`.
    Move(Words),
    /// A phrase is called something else: `33 chorus`, `verse 2 as chorus`.
    #[command(visible_alias = "rename")]
    Label(Words),
    /// A phrase is two: `33 at 49`, `verse 2 at 49 as tag`.
    Split(Words),
    /// No phrase starts here: `33`, `verse 2`; several with commas.
    Remove(Words),
    /// The whole form as lengths from count 1 on: `intro 16, verse 4 eights, chorus 4x8, ending`.
    ///
    /// Lengths: 36, 36 counts, 4 eights, 4 eights and 4, 4x8, 9 bars. The last phrase may go without
    /// and takes the rest. With `-` the list is read from standard input.
    Form(Words),
    /// Counting starts here: `0:01.86`, `5`.
    First(Words),
    /// The last count that is danced to: `200`, or the time when it is over: `1:46.2`.
    End(Words),
    /// Half as many counts: one on every second beat.
    Half,
    /// Twice as many counts.
    Double,
    /// Counts a minute: `118`. The pulse nearest to it that goes with the beats is taken.
    Pulse(Words),
    /// Bars start elsewhere: `+1` count later, `-1` earlier; `0:10.1` or `17`: a bar starts here.
    Bar(Words),
    /// Counts to every bar: `3`.
    BeatsPerBar(Words),
    /// Beats of a stretch anew: `0:10.1 0:10.6 0:11.1 …`; a file of times, or `-`.
    Tap(Words),
    /// It changes here: tempo or bars, and a bar starts. `1:02.5`, `97`.
    Change(Words),
    /// Take the last change back; once more has it again.
    Undo,
}

/// Words, in the order typed.
#[derive(Debug, Args)]
pub struct Words {
    /// In plain words; see above.
    #[arg(required = true, num_args = 1.., allow_negative_numbers = true, value_name = "WORDS")]
    pub words: Vec<String>,
}

impl Words {
    fn joined(&self) -> String {
        self.words.join(" ")
    }
}

/// Runs `mark`.
///
/// # Errors
/// Those of [`SongMap::update`] and [`SongMap::mark`].
pub fn run(args: &MarkArgs) -> Result<Outcome> {
    let mark = match &args.what {
        None | Some(What::List) => None,
        Some(what) => Some(understood(what)?),
    };
    let (map, done) = match mark {
        None => (SongMap::load(&args.map)?, None),
        Some(mark) if args.dry_run || args.output.is_some() => {
            let mut map = SongMap::load(&args.map)?;
            let done = marked(&mut map, &mark, &args.map)?;
            (map, Some(done))
        }
        Some(mark) => SongMap::update(&args.map, |map| {
            let done = marked(map, &mark, &args.map)?;
            Ok((map.clone(), Some(done)))
        })?,
    };
    if let Some(path) = &args.output {
        output::write(Some(path), &map.to_bytes(path)?, args.force)?;
        if path.as_os_str() == "-" {
            return Ok(Outcome::Done);
        }
    }
    let answer = match args.json {
        true => listing::json(&map, done.as_ref())?,
        false => text(args, &map, done.as_ref()),
    };
    output::write(None, answer.as_bytes(), false)?;
    Ok(Outcome::Done)
}

/// Makes the mark, with what was kept of the sound beside the map.
fn marked(map: &mut SongMap, mark: &Mark, path: &Path) -> Result<Done> {
    let fingerprint = map.recording.fingerprint.clone();
    map.mark_hearing(mark, || kept::find(path, &fingerprint))
}

fn text(args: &MarkArgs, map: &SongMap, done: Option<&Done>) -> String {
    let mut text = String::new();
    if let Some(done) = done {
        let dry = if args.dry_run { "would be: " } else { "" };
        text.push_str(&format!("{dry}{}\n", done.message));
        for note in &done.notes {
            text.push_str(&format!("note: {note}\n"));
        }
        text.push('\n');
    }
    text.push_str(&listing::text(map));
    text
}

/// The mark that the words mean.
fn understood(what: &What) -> Result<Mark> {
    let heard = |words: &Words, correction| {
        matches!(words.joined().to_lowercase().as_str(), "as-heard" | "as heard")
            .then_some(Mark::AsHeard(correction))
    };
    let or = |reset: Option<Mark>, mark: &dyn Fn() -> Result<Mark>| reset.map_or_else(mark, Ok);
    match what {
        What::Phrase(typed) => Ok(Mark::Phrases(words::phrases(&typed.joined())?)),
        What::Move(typed) => words::movement(&typed.joined()),
        What::Label(typed) => words::renaming(&typed.joined()),
        What::Split(typed) => words::splitting(&typed.joined()),
        What::Remove(typed) => Ok(Mark::Remove(words::several(&typed.joined())?)),
        What::Form(typed) => or(heard(typed, Correction::Form), &|| {
            let list = match typed.words.as_slice() {
                [dash] if dash == "-" => read_text(Path::new("-"))?,
                _ => typed.joined(),
            };
            Ok(Mark::Form(words::form(&list)?))
        }),
        What::First(typed) => {
            or(heard(typed, Correction::First), &|| Ok(Mark::First(words::place(&typed.joined())?)))
        }
        What::End(typed) => {
            or(heard(typed, Correction::End), &|| Ok(Mark::End(words::place(&typed.joined())?)))
        }
        What::Half => Ok(Mark::Half),
        What::Double => Ok(Mark::Double),
        What::Pulse(typed) => or(heard(typed, Correction::Pulse), &|| pulse(&typed.joined())),
        What::Bar(typed) => or(heard(typed, Correction::Bar), &|| words::bar(&typed.joined())),
        What::BeatsPerBar(typed) => or(heard(typed, Correction::BeatsPerBar), &|| {
            let typed = typed.joined();
            typed.trim().parse().map(Mark::BeatsPerBar).map_err(|_| {
                Error::BadMark(format!(
                    "\"{typed}\" is no number of counts to the bar; write 4 or 3"
                ))
            })
        }),
        What::Tap(typed) => or(heard(typed, Correction::Tap), &|| tap(typed)),
        What::Change(typed) => or(heard(typed, Correction::Change), &|| {
            Ok(Mark::Change(words::place(&typed.joined())?))
        }),
        What::Undo => Ok(Mark::Undo),
        What::List => Err(Error::Usage("nothing to mark".into())),
    }
}

fn pulse(typed: &str) -> Result<Mark> {
    match typed.trim().to_lowercase().as_str() {
        "half" => return Ok(Mark::Half),
        "double" => return Ok(Mark::Double),
        number => number.parse().ok().filter(|rate: &f64| rate.is_finite() && *rate > 0.0),
    }
    .map(Mark::Pulse)
    .ok_or_else(|| {
        Error::BadMark(format!(
            "\"{typed}\" is no pulse; write counts a minute, as in 118, or half, double or as-heard"
        ))
    })
}

/// Times as typed, or from a file that is named instead of them.
fn tap(typed: &Words) -> Result<Mark> {
    let list = match typed.words.as_slice() {
        [only] if words::times(only).is_err() && (only == "-" || Path::new(only).exists()) => {
            read_text(Path::new(only))?
        }
        _ => typed.joined(),
    };
    Ok(Mark::Tap(words::times(&list)?))
}

/// A list of times or lengths is short; more than this is another sort of file.
const MOST_TEXT: u64 = 8 << 20;

fn read_text(path: &Path) -> Result<String> {
    if path.is_dir() {
        return Err(Error::IsAFolder(path.to_path_buf()));
    }
    let io = |source| {
        let name = if path.as_os_str() == "-" { Path::new("standard input") } else { path };
        Error::Io { path: name.to_path_buf(), source }
    };
    let mut bytes = Vec::new();
    match path.as_os_str() == "-" {
        true => std::io::stdin().lock().take(MOST_TEXT).read_to_end(&mut bytes),
        false => std::fs::File::open(path).and_then(|f| f.take(MOST_TEXT).read_to_end(&mut bytes)),
    }
    .map_err(io)?;
    String::from_utf8(bytes).map_err(|_| {
        Error::BadMark(format!("{} is not text; a list of times is needed", path.display()))
    })
}
