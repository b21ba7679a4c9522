//! Prints the cues that phrase suggestions are made from, for learning their weights:
//! `dump_cues WAV BEATS`, where BEATS holds `seconds<TAB>place in bar`. One line a beat: its time, then
//! the cues, tab-separated. WAV is mono at 22 050 Hz.

use std::error::Error;
use std::io::Write;

use hoofbeat::rhythm::FeatureFront;
use hoofbeat::song::form::{BeatSounds, cues};

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let [_, wav, beats] = &args[..] else { return Err("dump_cues WAV BEATS".into()) };
    let mut reader = hound::WavReader::open(wav)?;
    let samples: Vec<f32> = match reader.spec().sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            let full = (1i64 << (reader.spec().bits_per_sample - 1)) as f32;
            reader.samples::<i32>().map(|s| s.map(|s| s as f32 / full)).collect::<Result<_, _>>()?
        }
    };
    let mut front = FeatureFront::new();
    front.push(&samples);
    let features = front.finish();
    let (mut times, mut places) = (Vec::new(), Vec::new());
    for line in std::fs::read_to_string(beats)?.lines() {
        let mut fields = line.split('\t');
        times.push(fields.next().unwrap_or_default().parse::<f64>()?);
        places.push(fields.next().unwrap_or_default().parse::<u32>()?);
    }
    let mut out = std::io::stdout().lock();
    for (time, row) in times.iter().zip(cues(&BeatSounds::new(&features, &times), &places).0) {
        let row: Vec<String> = row.iter().map(|x| format!("{x:.4}")).collect();
        writeln!(out, "{time:.4}\t{}", row.join("\t"))?;
    }
    Ok(())
}
