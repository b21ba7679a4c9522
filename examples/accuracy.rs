//! Scores the ear on recordings whose beats are known:
//! `accuracy DATA_DIR WAV_DIR [ACT_DIR] [--each] [--handmade]`.
//!
//! DATA_DIR holds `items*.jsonl` (one object a line with `name`, `cls` and `unjudged`, a list of
//! [start, end] in seconds), `NAME.beats` (`seconds<TAB>place in bar`) and `NAME.attacks` (where a sound
//! starts near each beat); WAV_DIR the recordings as `NAME.wav`, mono, 22 050 Hz, or what `listen` wrote for
//! them: `NAME.song.json` with `NAME.heard`, which is solved again without decoding. With ACT_DIR,
//! activations are not made by the ear but read from `NAME.act`: little-endian f32, `[frames, 2]`,
//! probability of a beat and of a downbeat, 50 a second. With `--handmade` they are made by the front
//! without a network.

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use hoofbeat::rhythm::features::FRAMES_PER_SECOND;
use hoofbeat::rhythm::measure::{BEAT_WINDOW_S, USUAL_TRIM_S, continuity, f_measure};
use hoofbeat::rhythm::{
    Activations, Constraints, Ear, Grid, Heard, OnsetStrength, handmade_activations, solve,
};
use hoofbeat::song::{SongMap, kept};
use serde_json::Value;

type Outcome<T> = Result<T, Box<dyn Error>>;

struct Item {
    name: String,
    class: String,
    beats_s: Vec<f64>,
    downbeats_s: Vec<f64>,
    attacks_s: Vec<f64>,
    unjudged: Vec<(f64, f64)>,
}

struct Score {
    name: String,
    class: String,
    beat_f: f64,
    cml_t: f64,
    aml_t: f64,
    downbeat_f: f64,
    /// Found less attack, milliseconds, for beats within the window.
    offsets_ms: Vec<f64>,
    heard: String,
    confidence: f64,
}

fn main() -> Outcome<()> {
    let mut args: Vec<String> = std::env::args().skip(1).collect();
    let each = args.iter().any(|a| a == "--each");
    let handmade = args.iter().any(|a| a == "--handmade");
    args.retain(|a| a != "--each" && a != "--handmade");
    let (data, wavs, given) = match args.as_slice() {
        [data, wavs] => (data, wavs, None),
        [data, wavs, given] => (data, wavs, Some(Path::new(given))),
        _ => return Err("accuracy DATA_DIR WAV_DIR [ACT_DIR] [--each] [--handmade]".into()),
    };
    let (mut scores, mut hear_s, mut solve_s, mut audio_s) = (Vec::new(), 0.0, 0.0, 0.0);
    for item in items(Path::new(data))? {
        let start = Instant::now();
        let Some(mut heard) = heard(&Path::new(wavs).join(&item.name))? else { continue };
        audio_s += heard.features.duration_s();
        if handmade {
            heard.activations = handmade_activations(&OnsetStrength::of(&heard.features));
        }
        if let Some(given) = given {
            heard.activations = activations(&given.join(&item.name).with_extension("act"))?;
        }
        hear_s += start.elapsed().as_secs_f64();
        let start = Instant::now();
        let grid = solve(&heard.activations, &heard.features, &Constraints::default());
        solve_s += start.elapsed().as_secs_f64();
        scores.push(score(&item, grid.map_err(|e| e.to_string())));
    }
    scores.sort_by(|a, b| a.beat_f.total_cmp(&b.beat_f));
    if each {
        for s in &scores {
            println!(
                "{:24} F {:.3} CMLt {:.3} AMLt {:.3} down {:.3} conf {:.2}  {}",
                s.name, s.beat_f, s.cml_t, s.aml_t, s.downbeat_f, s.confidence, s.heard
            );
        }
        println!();
    }
    let mut classes: BTreeMap<&str, Vec<&Score>> = BTreeMap::new();
    for s in &scores {
        classes.entry(&s.class).or_default().push(s);
    }
    println!(
        "{:16} {:>3} {:>6} {:>6} {:>6} {:>6} {:>6} {:>7} {:>7}  worst",
        "class", "n", "F", "CMLt", "AMLt", "down F", "right", "off ms", "spread"
    );
    for (class, of_class) in &classes {
        row(class, of_class);
    }
    row("ALL", &scores.iter().collect::<Vec<_>>());
    println!("{audio_s:.0} s of audio: heard in {hear_s:.2} s, solved in {solve_s:.2} s");
    Ok(())
}

fn row(class: &str, scores: &[&Score]) {
    let n = scores.len().max(1) as f64;
    let mean = |of: fn(&Score) -> f64| scores.iter().map(|s| of(s)).sum::<f64>() / n;
    let right = scores.iter().filter(|s| s.beat_f >= 0.95).count() as f64 / n;
    let mut offsets: Vec<f64> = scores.iter().flat_map(|s| s.offsets_ms.iter().copied()).collect();
    offsets.sort_by(f64::total_cmp);
    let quantile =
        |q: f64| offsets.get((q * offsets.len() as f64) as usize).copied().unwrap_or(f64::NAN);
    let worst = scores.first().map_or(String::new(), |s| format!("{} {:.2}", s.name, s.beat_f));
    println!(
        "{class:16} {:3} {:6.3} {:6.3} {:6.3} {:6.3} {:5.0}% {:7.1} {:7.1}  {worst}",
        scores.len(),
        mean(|s| s.beat_f),
        mean(|s| s.cml_t),
        mean(|s| s.aml_t),
        mean(|s| s.downbeat_f),
        100.0 * right,
        quantile(0.5),
        0.5 * (quantile(0.75) - quantile(0.25)),
    );
}

fn score(item: &Item, grid: Result<Grid, String>) -> Score {
    let mut score = Score {
        name: item.name.clone(),
        class: item.class.clone(),
        beat_f: 0.0,
        cml_t: 0.0,
        aml_t: 0.0,
        downbeat_f: 0.0,
        offsets_ms: Vec::new(),
        heard: String::new(),
        confidence: 0.0,
    };
    let grid = match grid {
        Ok(grid) => grid,
        Err(why) => {
            score.heard = why;
            return score;
        }
    };
    let judged = |times: &mut dyn Iterator<Item = f64>| -> Vec<f64> {
        times
            .filter(|&t| t >= USUAL_TRIM_S)
            .filter(|&t| !item.unjudged.iter().any(|&(from, to)| (from..=to).contains(&t)))
            .collect()
    };
    let known = judged(&mut item.beats_s.iter().copied());
    let found = judged(&mut grid.beats_s.iter().copied());
    let known_downbeats = judged(&mut item.downbeats_s.iter().copied());
    let found_downbeats =
        judged(&mut grid.downbeats.iter().filter_map(|b| grid.beats_s.get(b.0)).copied());
    let c = continuity(&known, &found);
    score.beat_f = f_measure(&known, &found, BEAT_WINDOW_S);
    score.cml_t = c.cml_t;
    score.aml_t = c.aml_t;
    score.downbeat_f = f_measure(&known_downbeats, &found_downbeats, BEAT_WINDOW_S);
    score.offsets_ms = item
        .attacks_s
        .iter()
        .filter(|a| a.is_finite())
        .filter_map(|attack| {
            let off = |t: &f64| (t - attack) * 1000.0;
            found.iter().map(off).min_by(|a, b| a.abs().total_cmp(&b.abs()))
        })
        .filter(|off| off.abs() <= 1000.0 * BEAT_WINDOW_S)
        .collect();
    score.confidence = grid.grid_confidence;
    let period = median_gap(&known);
    score.heard = format!(
        "{:.1} bpm in {} (known {:.1}), {} beats (known {}), pulse {:.2}, steady {}",
        grid.tempo_bpm,
        grid.beats_per_bar,
        60.0 / period,
        found.len(),
        known.len(),
        grid.tempo_confidence,
        grid.steady
    );
    score
}

fn median_gap(times: &[f64]) -> f64 {
    let mut gaps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).copied().unwrap_or(f64::NAN)
}

fn items(data: &Path) -> Outcome<Vec<Item>> {
    let mut lists: Vec<PathBuf> =
        fs::read_dir(data)?.filter_map(|e| Some(e.ok()?.path())).collect();
    lists.retain(|p| p.extension().is_some_and(|e| e == "jsonl"));
    lists.sort();
    let mut items = Vec::new();
    for list in lists {
        for line in fs::read_to_string(list)?.lines() {
            let object: Value = serde_json::from_str(line)?;
            let name = object["name"].as_str().ok_or("an item without a name")?.to_string();
            let spans = object["unjudged"].as_array().cloned().unwrap_or_default();
            let unjudged =
                spans.iter().filter_map(|s| Some((s[0].as_f64()?, s[1].as_f64()?))).collect();
            let beats = fs::read_to_string(data.join(&name).with_extension("beats"))?;
            let beats: Vec<(f64, u32)> = beats
                .lines()
                .filter_map(|l| {
                    let (time, place) = l.split_once('\t')?;
                    Some((time.parse().ok()?, place.trim().parse().ok()?))
                })
                .collect();
            let attacks = fs::read_to_string(data.join(&name).with_extension("attacks"));
            items.push(Item {
                class: object["cls"].as_str().unwrap_or("?").to_string(),
                beats_s: beats.iter().map(|b| b.0).collect(),
                downbeats_s: beats.iter().filter(|b| b.1 == 1).map(|b| b.0).collect(),
                attacks_s: attacks
                    .unwrap_or_default()
                    .lines()
                    .filter_map(|l| l.trim().parse().ok())
                    .collect(),
                unjudged,
                name,
            });
        }
    }
    Ok(items)
}

fn activations(path: &Path) -> Outcome<Activations> {
    let bytes = fs::read(path)?;
    let values: Vec<f32> =
        bytes.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]])).collect();
    Ok(Activations {
        frames_per_second: FRAMES_PER_SECOND,
        beat: values.iter().step_by(2).copied().collect(),
        downbeat: values.iter().skip(1).step_by(2).copied().collect(),
    })
}

/// What was heard of a recording, from its kept sound or its samples; none where there is neither.
fn heard(path: &Path) -> Outcome<Option<Heard>> {
    let map = path.with_extension("song.json");
    if map.exists() {
        return Ok(kept::find(&map, &SongMap::load(&map)?.recording.fingerprint));
    }
    let wav = path.with_extension("wav");
    if !wav.exists() {
        return Ok(None);
    }
    let mut ear = Ear::new();
    for block in samples(&wav)?.chunks(8192) {
        ear.hear(block);
    }
    Ok(Some(ear.finish()))
}

fn samples(wav: &Path) -> Outcome<Vec<f32>> {
    let mut reader = hound::WavReader::open(wav)?;
    let spec = reader.spec();
    if (spec.sample_rate, spec.channels) != (22_050, 1) {
        return Err(format!("{}: mono at 22050 Hz wanted", wav.display()).into());
    }
    Ok(reader
        .samples::<i16>()
        .map(|s| s.map(|s| f32::from(s) / 32_768.0))
        .collect::<Result<_, _>>()?)
}
