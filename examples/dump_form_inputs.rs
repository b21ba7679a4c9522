//! Writes what the network that hears phrases is told, for training it: `dump_form_inputs WAV OUT`, mono at 22 050 Hz.
//! The beats are the ear's own. Little-endian: beats, values a beat, beats to the bar and sounds a beat as `u32`; then, as
//! `f32`, the beats' times, their places in the bar, their values, and their sounds that the values are made of: harmony,
//! timbre, rhythm, loudness, cymbal, level in decibels, share that sounds.

use std::error::Error;
use std::io::Write;

use hoofbeat::rhythm::{Constraints, Ear, solve};
use hoofbeat::song::form::{BeatSounds, N_INPUTS, inputs};

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let [_, wav, out] = &args[..] else { return Err("dump_form_inputs WAV OUT".into()) };
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
    let rows = inputs(&sounds, &places, grid.beats_per_bar.max(1) as usize);
    let mut out = std::io::BufWriter::new(std::fs::File::create(out)?);
    let raw: Vec<Vec<f32>> = (0..sounds.len()).map(|beat| sounds_of(&sounds, beat)).collect();
    let n_sounds = raw.first().map_or(0, Vec::len) as u32;
    for n in [rows.len() as u32, N_INPUTS as u32, grid.beats_per_bar, n_sounds] {
        out.write_all(&n.to_le_bytes())?;
    }
    let values = grid.beats_s.iter().map(|&t| t as f32);
    let values = values.chain(places.iter().map(|&p| p as f32)).chain(rows.into_iter().flatten());
    let values = values.chain(raw.into_iter().flatten());
    values.into_iter().try_for_each(|x| out.write_all(&x.to_le_bytes()))?;
    Ok(out.flush()?)
}

fn sounds_of(sounds: &BeatSounds, beat: usize) -> Vec<f32> {
    let single = [&sounds.loudness, &sounds.cymbal, &sounds.level_db, &sounds.sounding];
    let bands = sounds.harmony[beat].iter().chain(&sounds.timbre[beat]).chain(&sounds.rhythm[beat]);
    bands.copied().chain(single.map(|values| values[beat])).collect()
}
