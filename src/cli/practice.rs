//! `hoofbeat practice`: audio to practise to.

use std::collections::HashMap;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use crate::audio::Full;
use crate::audio::write::{Marker, Tags, Writer};
use crate::error::{Error, Result};
use crate::fit;
use crate::routine;
use crate::save::Overwrite;
use crate::song::{SongMap, recording_of};
use crate::teach::practice::{
    CAUTION, Layers, Passage, Script, TEMPI, Voice, Where, Wishes, own_calls, perform, script,
};
use crate::units::{Count, clock};

use super::progress::Progress;
use super::{Outcome, output};

/// Makes practice audio: the song or a stretch of it, slower with its pitch kept, looped, counted, called.
///
/// Clicks, counts, steps and calls stand at their counts at any tempo: they are made after the music is stretched.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct PracticeArgs {
    /// The song map, as `listen` wrote it.
    pub map: PathBuf,
    /// The routine's sheet; needed for parts, steps and calls.
    pub routine: Option<PathBuf>,
    /// Practise this part: `B`, or `Part B`.
    #[arg(long, value_name = "PART", group = "what")]
    pub part: Option<String>,
    /// Which time round of the part.
    #[arg(long, value_name = "N", default_value_t = 1, requires = "part")]
    pub time: u32,
    /// Practise the end of one part into the start of the next: "B > Break".
    #[arg(long, value_name = "PART > PART", group = "what")]
    pub join: Option<String>,
    /// Practise this phrase of the song: "verse 2".
    #[arg(long, value_name = "PHRASE", group = "what")]
    pub phrase: Option<String>,
    /// Practise these counts: 65-96.
    #[arg(long, value_name = "FROM-TO", group = "what")]
    pub counts: Option<String>,
    /// Per cent of the song's tempo, 60 to 120; several make a ladder: 70,80,90,100.
    #[arg(long, value_name = "PER CENT", value_delimiter = ',', default_value = "100")]
    pub tempo: Vec<f64>,
    /// How often at each tempo.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub times: u32,
    /// Counts that lead in [default: 8, none for the whole song].
    #[arg(long, value_name = "COUNTS")]
    pub lead_in: Option<u32>,
    /// Leave the recording out.
    #[arg(long)]
    pub no_music: bool,
    /// Leave the clicks out; else there is one on every count, higher on the first of an eight.
    #[arg(long)]
    pub no_click: bool,
    /// Speak the counts.
    #[arg(long)]
    pub spoken: bool,
    /// Say "and" between the counts too.
    #[arg(long)]
    pub and: bool,
    /// Your own words for the counts: a folder with one.wav to eight.wav, or 1.wav to 8.wav.
    #[arg(long, value_name = "FOLDER")]
    pub voice: Option<PathBuf>,
    /// Sound the routine's own steps, foot by foot.
    #[arg(long)]
    pub steps: bool,
    /// Call parts and steps ahead: a chime, or your own words.
    #[arg(long)]
    pub calls: bool,
    /// How loud each is, in decibels: music, click, spoken, steps, calls.
    #[arg(long, value_name = "NAME=DB", value_delimiter = ',')]
    pub loudness: Vec<String>,
    /// Your own words for calls: a folder with recordings named as parts and steps are.
    #[arg(long, value_name = "FOLDER")]
    pub words: Option<PathBuf>,
    /// How many counts ahead a call comes.
    #[arg(long, value_name = "COUNTS", default_value_t = 2)]
    pub ahead: u32,
    /// Music on the left, all the rest on the right.
    #[arg(long)]
    pub apart: bool,
    /// The recording, where it is not beside the map.
    #[arg(long, value_name = "FILE")]
    pub recording: Option<PathBuf>,
    /// Write here: .wav (with markers), .flac or .ogg.
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// Replace a file that exists already.
    #[arg(long)]
    pub force: bool,
    /// Answer as JSON.
    #[arg(long)]
    pub json: bool,
}

const EXAMPLES: &str = "\
Examples:
  hoofbeat practice lantern-road.song.json lantern-road.txt --part B --tempo 70,80,90,100 --times 4 -o b.wav
  hoofbeat practice lantern-road.song.json lantern-road.txt --join \"B > Break\" --spoken --steps -o join.flac
  hoofbeat practice lantern-road.song.json lantern-road.txt --tempo 85 --calls -o whole.ogg
  hoofbeat practice lantern-road.song.json --phrase \"verse 2\" --no-music --spoken --and -o counts.wav

Warm up, mind floor and shoes, build tempo up slowly, stop at pain. What a class can do is for its teacher to
judge. The recording may be under copyright: what you may do with this audio is for you to know.";

/// Runs `practice`.
///
/// # Errors
/// Those of reading the map, the routine, the recording and the words, and of writing.
pub fn run(args: &PracticeArgs) -> Result<Outcome> {
    let map = SongMap::load(&args.map)?;
    let song = map.view()?;
    let read = args.routine.as_deref().map(routine::read).transpose()?;
    let laid = read.as_ref().map(|read| fit::fit(&song, &read.routine));
    let passage = Passage::find(&song, laid.as_ref(), &wanted(args)?)?;
    let wishes = wishes(args, passage, read.is_some())?;
    let routine = read.as_ref().zip(laid.as_ref()).map(|(read, laid)| (&read.routine, laid));
    let track = script(&song, routine, &wishes);

    let audio = recording_of(&args.map, &map, args.recording.as_deref())?;
    let overwrite = if args.force { Overwrite::Yes } else { Overwrite::No };
    if args.output.exists() && !args.force {
        return Err(Error::Exists(args.output.clone()));
    }
    let progress = Progress::new();
    let bar = progress.bar("reading", &audio);
    let mut full = Full::decode(&audio, &mut |share| bar.set_position((share * 100.0) as u64))?;
    bar.finish_and_clear();
    let apart_s =
        (full.frames() as f64 / f64::from(full.rate_hz()) - map.recording.duration_s).abs();
    if apart_s > 0.1 {
        return Err(Error::OtherRecording {
            map: args.map.clone(),
            audio,
            map_of: map.recording.file.clone(),
        });
    }
    let voice = match &args.voice {
        Some(folder) => Voice::from_folder(folder, full.rate_hz())?,
        None => Voice::ours(full.rate_hz())?,
    };
    let calls = match &args.words {
        Some(folder) => own_calls(folder, &track, full.rate_hz())?,
        None => HashMap::new(),
    };
    let tags = Tags {
        title: map
            .recording
            .title
            .as_ref()
            .map(|title| format!("{title} – practice: {}", wishes.passage.name)),
        artist: map.recording.artist.clone(),
    };
    let mut writer = Writer::create(&args.output, 2, full.rate_hz(), &tags, overwrite)?;
    let bar = progress.bar("writing", &args.output);
    let mut tell = |share: f64| bar.set_position((share * 100.0) as u64);
    perform(&track, &mut full, &voice, &calls, &mut |block| writer.push(block), &mut tell)?;
    bar.finish_and_clear();
    let markers =
        track.markers.iter().map(|(at_s, name)| Marker { at_s: *at_s, name: name.clone() });
    writer.finish(&markers.collect::<Vec<_>>())?;
    output::write(None, answer(args, &wishes, &track).as_bytes(), false)?;
    eprintln!("saved {}", args.output.display());
    eprintln!(
        "the recording may be under copyright: what you may do with this audio is for you to know"
    );
    Ok(Outcome::Done)
}

fn answer(args: &PracticeArgs, wishes: &Wishes, track: &Script) -> String {
    let passage = &wishes.passage;
    if args.json {
        let answer = json!({
            "passage": passage.name,
            "from_count": passage.from,
            "to_count": passage.to + -1,
            "tempi": wishes.tempi,
            "times": wishes.times,
            "duration_s": track.duration_s,
            "markers": track.markers.iter().map(|(at_s, name)| json!({"at_s": at_s, "name": name}))
                .collect::<Vec<_>>(),
            "caution": CAUTION,
        });
        return format!("{answer:#}\n");
    }
    let tempi: Vec<String> = wishes.tempi.iter().map(|t| format!("{:.0} %", 100.0 * t)).collect();
    let times = match wishes.times {
        1 => String::new(),
        n => format!(", {n} times each"),
    };
    format!(
        "{}: counts {} to {}, at {} of the tempo{times}; {} long\n{CAUTION}\n",
        passage.name,
        passage.from,
        passage.to + -1,
        tempi.join(", "),
        clock(track.duration_s)
    )
}

fn wanted(args: &PracticeArgs) -> Result<Where> {
    if let Some(part) = &args.part {
        return Ok(Where::Part(part.clone(), args.time));
    }
    if let Some(join) = &args.join {
        let parts = join.split_once('>').map(|(a, b)| (a.trim(), b.trim()));
        return match parts {
            Some((a, b)) if !a.is_empty() && !b.is_empty() => Ok(Where::Join(a.into(), b.into())),
            _ => Err(Error::Usage(format!("--join {join}: a join is typed as \"B > Break\""))),
        };
    }
    if let Some(phrase) = &args.phrase {
        return Ok(Where::Phrase(phrase.clone()));
    }
    if let Some(counts) = &args.counts {
        let number = |text: &str| text.trim().parse::<i32>().ok().map(Count);
        let ends = counts.split_once(['-', '–']).map(|(a, b)| (number(a), number(b)));
        return match ends {
            Some((Some(from), Some(to))) if from <= to => Ok(Where::Counts(from, to)),
            _ => Err(Error::Usage(format!("--counts {counts}: counts are typed as 65-96"))),
        };
    }
    Ok(Where::Whole)
}

fn wishes(args: &PracticeArgs, passage: Passage, with_routine: bool) -> Result<Wishes> {
    let mut tempi = Vec::new();
    for percent in &args.tempo {
        let tempo = percent / 100.0;
        if !TEMPI.contains(&tempo) {
            return Err(Error::Usage(format!(
                "--tempo {percent}: between {:.0} and {:.0} per cent; further out the music is no longer \
                 itself",
                100.0 * TEMPI.start(),
                100.0 * TEMPI.end()
            )));
        }
        tempi.push(tempo);
    }
    const MOST_TIMES: u32 = 100;
    if args.times == 0 || args.times > MOST_TIMES {
        return Err(Error::Usage(format!("--times {}: from 1 to {MOST_TIMES}", args.times)));
    }
    let mut layers = Layers {
        music: (!args.no_music).then_some(-3.0),
        click: (!args.no_click).then_some(-6.0),
        voice: args.spoken.then_some(0.0),
        and: args.and,
        steps: args.steps.then_some(-3.0),
        calls: args.calls.then_some(0.0),
        apart: args.apart,
    };
    for wish in &args.loudness {
        set_loudness(&mut layers, wish)?;
    }
    if layers
        == (Layers { music: None, click: None, voice: None, steps: None, calls: None, ..layers })
    {
        return Err(Error::Usage("nothing is left to hear: leave music or clicks in".into()));
    }
    if !with_routine && (layers.steps.is_some() || layers.calls.is_some()) {
        return Err(Error::Usage(
            "--steps and --calls sound what the routine says: name its sheet after the map".into(),
        ));
    }
    let lead_in = args.lead_in.unwrap_or(if passage.whole { 0 } else { 8 });
    if lead_in > 64 {
        return Err(Error::Usage(format!("--lead-in {lead_in}: at most 64 counts")));
    }
    if args.ahead > 16 {
        return Err(Error::Usage(format!("--ahead {}: at most 16 counts", args.ahead)));
    }
    Ok(Wishes { passage, times: args.times, tempi, lead_in, layers, call_ahead: args.ahead })
}

/// `click=-6`. A layer that is named is heard, unless it was left out by name.
fn set_loudness(layers: &mut Layers, wish: &str) -> Result<()> {
    let wrong = || {
        Error::Usage(format!(
            "--loudness {wish}: typed as click=-6; the names are music, click, spoken, steps, calls, and \
             decibels go from -60 to 12"
        ))
    };
    let (name, db) = wish.split_once('=').ok_or_else(wrong)?;
    let db: f64 = db.trim().trim_end_matches("dB").trim().parse().map_err(|_| wrong())?;
    if !(-60.0..=12.0).contains(&db) {
        return Err(wrong());
    }
    let layer = match name.trim().to_lowercase().as_str() {
        "music" => &mut layers.music,
        "click" => &mut layers.click,
        "spoken" => &mut layers.voice,
        "steps" => &mut layers.steps,
        "calls" => &mut layers.calls,
        _ => return Err(wrong()),
    };
    if layer.is_none() {
        return Err(Error::Usage(format!(
            "--loudness {wish}: {name} is left out; ask for it as well"
        )));
    }
    *layer = Some(db);
    Ok(())
}
