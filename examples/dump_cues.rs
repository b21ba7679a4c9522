//! Prints the cues that phrase suggestions are made from, for learning their weights: `dump_cues WAV`, mono
//! at 22 050 Hz. The beats are the ear's own. First line: beats to the bar and number of beats; then a line a beat,
//! tab-separated: its time, the cues of a phrase's start, of the first count, of the end and of a beat left out;
//! last the cues of an end after the last beat.

use std::error::Error;
use std::io::Write;

use hoofbeat::rhythm::{Constraints, Ear, solve};
use hoofbeat::song::form::{BeatSounds, cues, edge_cues};

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let [_, wav] = &args[..] else { return Err("dump_cues WAV".into()) };
    let mut reader = hound::WavReader::open(wav)?;
    let samples: Vec<f32> = match reader.spec().sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            let full = (1i64 << (reader.spec().bits_per_sample - 1)) as f32;
            reader.samples::<i32>().map(|s| s.map(|s| s as f32 / full)).collect::<Result<_, _>>()?
        }
    };
    let mut ear = Ear::new();
    samples.chunks(8192).for_each(|block| ear.hear(block));
    let heard = ear.finish();
    let grid = solve(&heard.activations, &heard.features, &Constraints::default())?;
    let sounds = BeatSounds::new(&heard.features, &grid.beats_s);
    let places = grid.bar_positions();
    let per_bar = grid.beats_per_bar.max(1) as usize;
    let edges = edge_cues(&sounds, &places);
    let mut out = std::io::stdout().lock();
    writeln!(out, "{per_bar}\t{}", sounds.len())?;
    for (i, row) in cues(&sounds, &places, per_bar).0.iter().enumerate() {
        let edge = edges.first[i].iter().chain(&edges.end[i]).chain(&edges.left_out[i]);
        let row: Vec<String> = row.iter().chain(edge).map(|x| format!("{x:.4}")).collect();
        writeln!(out, "{:.4}\t{}", grid.beats_s[i], row.join("\t"))?;
    }
    Ok(())
}
