//! `hoofbeat demo`: the whole job on invented songs, step by step.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::draw;
use crate::error::{Error, Result};
use crate::fit::{Fit, fit, report};
use crate::routine;
use crate::save::{Overwrite, save};
use crate::song::marks::words;
use crate::song::{Beats, Mark, SongMap, SongView, UserSet, listen};
use crate::teach;
use crate::units::{Count, clock, eights};

use super::args::Steps;
use super::mark::listing;
use super::recut::RecutArgs;
use super::{Outcome, output};

/// Does the whole job on an invented song and its radio edit, and keeps every file it makes.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  hoofbeat demo --into lesson-1")]
pub struct DemoArgs {
    /// The folder to write to; it must not exist. Without it a new folder is made here.
    #[arg(long, value_name = "FOLDER")]
    pub into: Option<PathBuf>,
}

const SONG: &[u8] = include_bytes!("../../demo-audio/lantern-road.mp3");
const EDIT: &[u8] = include_bytes!("../../demo-audio/lantern-road-radio-edit.m4a");
const ROUTINE: &str = include_str!("../../demo-audio/lantern-road.txt");

/// What a teacher hears in the song, as she would type it.
const FORM: &str = "intro 16, verse 32, chorus 36, verse 32, chorus 32, instrumental 16, bridge 32, \
                    verse 32, chorus 32, chorus 32, ending";
/// Runs `demo`.
///
/// # Errors
/// [`Error::Exists`] for a folder that exists; those of writing.
pub fn run(args: &DemoArgs) -> Result<Outcome> {
    let folder = new_folder(args.into.as_deref())?;
    let at = |name: &str| folder.join(name);
    let keep = |name: &str, bytes: &[u8]| save(&at(name), bytes, Overwrite::No);
    keep("lantern-road.mp3", SONG)?;
    keep("lantern-road-radio-edit.m4a", EDIT)?;
    keep("lantern-road.txt", ROUTINE.as_bytes())?;

    say("1  Find the wait\n")?;
    let song = heard(&at("lantern-road.mp3"))?;
    say(&phrases_marked(&song, &at("lantern-road.song.json"), FORM)?)?;
    let view = SongMap::load(&at("lantern-road.song.json"))?.view()?;
    say(&wait_line(&view))?;

    say("\n2  Size the fills\n")?;
    let routine = routine::read(&at("lantern-road.txt"))?.routine;
    let laid = fit(&view, &routine);
    say(&format!(
        "$ hoofbeat fit {} {}\n",
        shown(&at("lantern-road.song.json")),
        shown(&at("lantern-road.txt"))
    ))?;
    say(&report(&laid, &view, &routine))?;
    keep("lantern-road.timeline.svg", timeline(&view, &routine, &laid).as_bytes())?;
    keep("lantern-road.sheet.txt", teach::sheet(&routine, &view, &laid).as_bytes())?;

    say("\n3  Another cut: the radio edit\n")?;
    say(&format!(
        "$ hoofbeat recut {} {} --routine {} --sheet {} --draw {}\n",
        shown(&at("lantern-road.song.json")),
        shown(&at("lantern-road-radio-edit.m4a")),
        shown(&at("lantern-road.txt")),
        shown(&at("lantern-road-radio-edit.txt")),
        shown(&at("two-cuts.svg"))
    ))?;
    super::recut::run(&RecutArgs {
        map: at("lantern-road.song.json"),
        audio: vec![at("lantern-road-radio-edit.m4a")],
        routine: Some(at("lantern-road.txt")),
        steps: Steps::default(),
        output: None,
        sheet: Some(at("lantern-road-radio-edit.txt")),
        draw: Some(at("two-cuts.svg")),
        recording: None,
        force: false,
        json: false,
    })?;
    let view = SongMap::load(&at("lantern-road-radio-edit.song.json"))?.view()?;
    let routine = routine::read(&at("lantern-road-radio-edit.txt"))?.routine;
    let laid = fit(&view, &routine);
    say(&format!(
        "\n$ hoofbeat fit {} {}\n",
        shown(&at("lantern-road-radio-edit.song.json")),
        shown(&at("lantern-road-radio-edit.txt"))
    ))?;
    say(&report(&laid, &view, &routine))?;
    keep("lantern-road-radio-edit.timeline.svg", timeline(&view, &routine, &laid).as_bytes())?;

    say(&format!(
        "\nAll of it is in {}: two songs, their maps, the routine for each, the cue sheet, two\n\
         timelines and both cuts side by side (open the .svg files in a browser). The songs are invented and free to use.\n",
        shown(&folder)
    ))?;
    Ok(Outcome::Done)
}

fn say(text: &str) -> Result<()> {
    output::write(None, text.as_bytes(), false)
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}

fn new_folder(wanted: Option<&Path>) -> Result<PathBuf> {
    let make = |path: &Path| std::fs::create_dir(path);
    let failed = |path: &Path, source: std::io::Error| match source.kind() {
        std::io::ErrorKind::AlreadyExists => Error::Exists(path.to_path_buf()),
        _ => Error::Io { path: path.to_path_buf(), source },
    };
    if let Some(path) = wanted {
        return make(path).map(|()| path.to_path_buf()).map_err(|e| failed(path, e));
    }
    for number in 1.. {
        let path = match number {
            1 => PathBuf::from("hoofbeat-demo"),
            n => PathBuf::from(format!("hoofbeat-demo-{n}")),
        };
        match make(&path) {
            Ok(()) => return Ok(path),
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(failed(&path, e)),
        }
    }
    Err(Error::Usage("no folder could be made here; name one with --into".into()))
}

/// Listens, saves the map, and says what was heard.
fn heard(audio: &Path) -> Result<SongMap> {
    say(&format!("$ hoofbeat listen {}\n", shown(audio)))?;
    let listened = listen(audio, &UserSet::default(), Beats::Wanted, &mut |_| {})?;
    let map = SongMap::new(listened.recording, listened.heard);
    let path = SongMap::default_path(audio);
    map.save(&path, Overwrite::No)?;
    say(&super::listen::report::text(&map, &path, false))?;
    Ok(map)
}

/// Marks the form that the teacher hears and shows what became of it.
fn phrases_marked(heard: &SongMap, map: &Path, form: &str) -> Result<String> {
    let form = form.trim();
    let mut text = format!("\n$ hoofbeat mark {} form \"{form}\"\n", shown(map));
    let suggested = heard.view()?.phrases;
    let done = SongMap::update(map, |map| {
        let done = map.mark(&Mark::Form(words::form(form)?))?;
        Ok((map.clone(), done))
    })?;
    let (marked, done) = done;
    text.push_str(&format!("{}\n\n", done.message));
    text.push_str(&listing::text(&marked));
    let view = marked.view()?;
    let found =
        view.phrases.iter().filter(|p| suggested.iter().any(|s| s.start == p.start)).count();
    text.push_str(&format!(
        "  ({found} of the {} phrase starts had been suggested to the count)\n",
        view.phrases.len()
    ));
    Ok(text)
}

fn wait_line(view: &SongView) -> String {
    let wait = view.wait();
    format!(
        "Wait {wait} counts ({}): counting starts at {}, the first step is at {}.\n",
        eights(wait),
        clock(view.counts.time_or_beyond_s(Count::FIRST)),
        clock(view.counts.time_or_beyond_s(Count::FIRST + wait as i32)),
    )
}

fn timeline(view: &SongView, routine: &routine::Routine, laid: &Fit) -> String {
    draw::timeline(view, Some((routine, laid)), &draw::Options::default())
}
