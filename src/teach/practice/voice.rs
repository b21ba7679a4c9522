//! Nine spoken words: ours, or the user's own recordings in a folder.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::script::{Layer, Script};
use super::sounds::{Sound, at_rate};
use crate::audio::Full;
use crate::error::{Error, Result};

/// The words, in the order in which they are kept.
const WORDS: [&str; 9] = ["one", "two", "three", "four", "five", "six", "seven", "eight", "and"];

/// Ours; how they were made and their licence: `assets/voice`.
const OURS: [&[u8]; 9] = [
    include_bytes!("../../../assets/voice/one.wav"),
    include_bytes!("../../../assets/voice/two.wav"),
    include_bytes!("../../../assets/voice/three.wav"),
    include_bytes!("../../../assets/voice/four.wav"),
    include_bytes!("../../../assets/voice/five.wav"),
    include_bytes!("../../../assets/voice/six.wav"),
    include_bytes!("../../../assets/voice/seven.wav"),
    include_bytes!("../../../assets/voice/eight.wav"),
    include_bytes!("../../../assets/voice/and.wav"),
];

/// Endings of recordings that are looked for in a folder.
const ENDINGS: [&str; 8] = ["wav", "flac", "ogg", "mp3", "m4a", "aiff", "aif", "WAV"];
/// A word longer than this is a recording of something else, seconds.
const LONGEST_S: f64 = 3.0;

/// Spoken counts, ready to be placed.
#[derive(Debug, Clone)]
pub struct Voice {
    words: Vec<Sound>,
}

impl Voice {
    /// Our own voice, English.
    ///
    /// # Errors
    /// None in practice: the words are part of the program.
    pub fn ours(rate_hz: u32) -> Result<Voice> {
        let words = OURS.iter().map(|bytes| {
            let broken =
                |e: hound::Error| Error::Usage(format!("a word of the voice is damaged: {e}"));
            let mut reader = hound::WavReader::new(*bytes).map_err(broken)?;
            let own_hz = reader.spec().sample_rate;
            let samples = reader.samples::<i16>().map(|x| x.map(|x| f32::from(x) / 32_768.0));
            let samples: Vec<f32> = samples.collect::<Result<_, _>>().map_err(broken)?;
            Ok(spoken(&at_rate(&samples, own_hz, rate_hz), rate_hz))
        });
        Ok(Voice { words: words.collect::<Result<_>>()? })
    }

    /// The user's own: `one.wav` to `eight.wav` and `and.wav`, or `1.wav` to `8.wav`, in any format that can be
    /// read. `and` may be missing.
    ///
    /// # Errors
    /// [`Error::Usage`] with the words that are missing; those of decoding, and [`Error::Usage`] for a recording
    /// that is too long to be a word.
    pub fn from_folder(folder: &Path, rate_hz: u32) -> Result<Voice> {
        let mut words = Vec::new();
        let mut missing = Vec::new();
        for (k, word) in WORDS.iter().enumerate() {
            match recording(folder, word).or_else(|| recording(folder, &(k + 1).to_string())) {
                Some(path) => words.push(word_of(&path, rate_hz)?),
                None if *word == "and" => words.push(Sound { samples: Vec::new(), onset: 0 }),
                None => missing.push(*word),
            }
        }
        if !missing.is_empty() {
            return Err(Error::Usage(format!(
                "{}: no recording of {}; name them one.wav to eight.wav, or 1.wav to 8.wav (.flac, .ogg, \
                 .mp3 and .m4a are read too)",
                folder.display(),
                missing.join(", ")
            )));
        }
        Ok(Voice { words })
    }

    /// A count, 1 to 8.
    pub fn count(&self, number: u32) -> &Sound {
        &self.words[(number.clamp(1, 8) - 1) as usize]
    }

    /// The word between two counts.
    pub fn and(&self) -> &Sound {
        &self.words[8]
    }
}

/// The teacher's own words for the calls of a script, by name in lower case. Calls without a recording are left
/// to the chime.
///
/// # Errors
/// [`Error::Usage`] when the folder has none at all, with the names that are looked for; those of decoding.
pub fn own_calls(folder: &Path, script: &Script, rate_hz: u32) -> Result<HashMap<String, Sound>> {
    let mut names: Vec<&str> = Vec::new();
    for event in &script.events {
        if let Layer::Call(name) = &event.layer
            && !names.contains(&name.as_str())
        {
            names.push(name);
        }
    }
    let mut calls = HashMap::new();
    for name in &names {
        let found = recording(folder, name).or_else(|| recording(folder, &name.to_lowercase()));
        if let Some(path) = found {
            calls.insert(name.to_lowercase(), word_of(&path, rate_hz)?);
        }
    }
    match calls.is_empty() && !names.is_empty() {
        true => Err(Error::Usage(format!(
            "{}: no recording of any call; they are looked for as {}.wav and so on: {}",
            folder.display(),
            names[0].to_lowercase(),
            names.join(", ")
        ))),
        false => Ok(calls),
    }
}

/// A recording of that name in a folder.
pub(super) fn recording(folder: &Path, name: &str) -> Option<PathBuf> {
    ENDINGS.iter().map(|ending| folder.join(format!("{name}.{ending}"))).find(|path| path.is_file())
}

/// A recorded word, placed by its vowel.
pub(super) fn word_of(path: &Path, rate_hz: u32) -> Result<Sound> {
    let mut full = Full::decode(path, &mut |_| {})?;
    let long_s = full.frames() as f64 / f64::from(full.rate_hz());
    if long_s > LONGEST_S {
        return Err(Error::Usage(format!(
            "{}: {long_s:.1} s is too long for a word (at most {LONGEST_S:.0} s)",
            path.display()
        )));
    }
    let channels = full.channels();
    let mut samples = vec![0.0; full.frames() as usize * channels];
    full.read(0, &mut samples)?;
    let mono: Vec<f32> =
        samples.chunks_exact(channels).map(|f| f.iter().sum::<f32>() / channels as f32).collect();
    let peak = mono.iter().fold(0f32, |p, x| p.max(x.abs()));
    if peak < 1e-3 {
        return Err(Error::Usage(format!("{}: nothing is heard in it", path.display())));
    }
    let level: Vec<f32> = mono.iter().map(|x| 0.7 * x / peak).collect();
    Ok(spoken(&at_rate(&level, full.rate_hz(), rate_hz), rate_hz))
}

/// A word, to be placed by where its vowel starts: that is where it is heard to fall, not where the breath
/// of an "s" begins (Morton, Marcus & Frankish 1976, *Perceptual centers*).
fn spoken(samples: &[f32], rate_hz: u32) -> Sound {
    Sound { samples: samples.to_vec(), onset: vowel_onset(samples, rate_hz) }
}

/// Where the power below 1.2 kHz first comes within 6 dB of its highest.
fn vowel_onset(samples: &[f32], rate_hz: u32) -> usize {
    let rate = f64::from(rate_hz);
    // Two one-pole low passes, and a mean over 8 ms.
    let pole = (-std::f64::consts::TAU * 1200.0 / rate).exp() as f32;
    let slow = (-1.0 / (0.008 * rate)).exp() as f32;
    let (mut a, mut b, mut power) = (0f32, 0f32, 0f32);
    let curve: Vec<f32> = samples
        .iter()
        .map(|x| {
            a += (1.0 - pole) * (x - a);
            b += (1.0 - pole) * (a - b);
            power += (1.0 - slow) * (b * b - power);
            power
        })
        .collect();
    let most = curve.iter().fold(0f32, |p, x| p.max(*x));
    let reached = curve.iter().position(|x| *x > most / 4.0).unwrap_or(0);
    // The mean lags by about its own length.
    reached.saturating_sub((0.006 * rate) as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_fall_on_their_vowels() {
        let voice = Voice::ours(44_100).unwrap();
        for number in 1..=8 {
            let word = voice.count(number);
            let onset_s = word.onset as f64 / 44_100.0;
            println!(
                "{number}: vowel at {:.0} ms of {:.0}",
                1000.0 * onset_s,
                word.samples.len() as f64 / 44.1
            );
            assert!(onset_s < 0.16, "{number}: {onset_s}");
        }
        // "six" and "seven" begin with a long hiss, "eight" with its vowel.
        assert!(voice.count(6).onset > voice.count(8).onset + 1000);
        assert!(voice.count(7).onset > voice.count(8).onset + 1000);
        assert!(!voice.and().samples.is_empty());
    }

    #[test]
    fn a_folder_must_have_the_eight_words() {
        let folder = tempfile::tempdir().unwrap();
        let words = Voice::from_folder(folder.path(), 44_100).unwrap_err().to_string();
        assert!(words.contains("one, two, three") && words.contains("1.wav"), "{words}");
        for (k, bytes) in OURS.iter().take(8).enumerate() {
            std::fs::write(folder.path().join(format!("{}.wav", k + 1)), bytes).unwrap();
        }
        let own = Voice::from_folder(folder.path(), 44_100).unwrap();
        let ours = Voice::ours(44_100).unwrap();
        assert!(own.count(6).onset.abs_diff(ours.count(6).onset) < 50);
        std::fs::write(folder.path().join("3.wav"), "not sound").unwrap();
        assert!(Voice::from_folder(folder.path(), 44_100).is_err());
    }
}
