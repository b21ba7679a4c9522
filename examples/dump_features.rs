//! Writes the ear's features for training: `dump_features AUDIO.wav... OUT_DIR`.
//!
//! One file for each recording, `<stem>.feat`, all little-endian: the eight bytes `HBFEAT01`, then u32
//! frames, u32 values a frame, f32 frames a second, u32 spectral bands (the first values of each
//! frame; the rest are attack bands), then the band centres in hertz (f32, one for each spectral
//! band), then the frames (f32, `[frames, values]`). Frame `k` is centred on `k / frames_per_second`.
//!
//! Recordings are WAV, mono or stereo, at 22 050 Hz exactly or 44 100 Hz (filtered and halved here).

use std::error::Error;
use std::fs;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use hoofbeat::rhythm::features::FRAMES_PER_SECOND;
use hoofbeat::rhythm::{FeatureFront, Features};

fn main() -> Result<(), Box<dyn Error>> {
    let mut paths: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let out_dir =
        paths.pop().filter(|_| !paths.is_empty()).ok_or("dump_features AUDIO.wav... OUT_DIR")?;
    fs::create_dir_all(&out_dir)?;
    for path in &paths {
        let mut front = FeatureFront::new();
        front.push(&mono_22050(path)?);
        let stem = path.file_stem().ok_or("a file without a name")?;
        write(&front.finish(), &out_dir.join(stem).with_extension("feat"))?;
    }
    Ok(())
}

fn mono_22050(path: &Path) -> Result<Vec<f32>, Box<dyn Error>> {
    let mut reader = hound::WavReader::open(path)?;
    let spec = reader.spec();
    let interleaved: Vec<f32> = match spec.sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            let full = 2f32.powi(i32::from(spec.bits_per_sample) - 1);
            reader.samples::<i32>().map(|s| s.map(|s| s as f32 / full)).collect::<Result<_, _>>()?
        }
    };
    let channels = usize::from(spec.channels);
    let mono: Vec<f32> =
        interleaved.chunks(channels).map(|c| c.iter().sum::<f32>() / channels as f32).collect();
    match spec.sample_rate {
        22_050 => Ok(mono),
        44_100 => Ok(halved(&mono)),
        other => Err(format!("{}: {other} Hz; 22050 or 44100 wanted", path.display()).into()),
    }
}

/// Half the rate through a half-band low-pass of 63 taps (windowed sinc).
fn halved(samples: &[f32]) -> Vec<f32> {
    use std::f64::consts::{PI, TAU};
    const HALF: i64 = 31;
    let taps: Vec<f32> = (-HALF..=HALF)
        .map(|n| {
            let sinc = if n == 0 { 0.5 } else { (PI * n as f64 / 2.0).sin() / (PI * n as f64) };
            let window = 0.5 + 0.5 * (TAU * n as f64 / (2 * HALF + 2) as f64).cos();
            (sinc * window) as f32
        })
        .collect();
    (0..samples.len().div_ceil(2))
        .map(|k| {
            let first = 2 * k as i64 - HALF;
            taps.iter()
                .enumerate()
                .filter_map(|(n, tap)| {
                    let at = usize::try_from(first + n as i64).ok()?;
                    samples.get(at).map(|x| x * tap)
                })
                .sum()
        })
        .collect()
}

fn write(features: &Features, path: &Path) -> Result<(), Box<dyn Error>> {
    let mut file = BufWriter::new(fs::File::create(path)?);
    file.write_all(b"HBFEAT01")?;
    file.write_all(&u32::try_from(features.n_frames())?.to_le_bytes())?;
    file.write_all(&u32::try_from(features.width())?.to_le_bytes())?;
    file.write_all(&(FRAMES_PER_SECOND as f32).to_le_bytes())?;
    file.write_all(&u32::try_from(features.n_bands())?.to_le_bytes())?;
    for hz in features.band_centres_hz() {
        file.write_all(&hz.to_le_bytes())?;
    }
    let mut frame = vec![0.0; features.width()];
    for k in 0..features.n_frames() {
        features.frame(k, &mut frame);
        for value in &frame {
            file.write_all(&value.to_le_bytes())?;
        }
    }
    file.flush()?;
    Ok(())
}
