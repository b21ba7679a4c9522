//! What is not a recording is refused in words that say what it is; what is odd but sound is read.

use std::path::{Path, PathBuf};

use hoofbeat::audio::{Decoded, WORKING_RATE_HZ, decode};
use hoofbeat::{Error, Warning};

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Folder {
        Folder(tempfile::tempdir().unwrap())
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/audio").join(name)
}

fn heard(path: &Path) -> Result<(Vec<f32>, Decoded), Error> {
    let mut samples = Vec::new();
    let decoded = decode(path, &mut |block| samples.extend_from_slice(block), &mut |_| {})?;
    Ok((samples, decoded))
}

/// The refusal's words, without the path, and its advice.
fn refused(path: &Path) -> (String, String) {
    let error = heard(path).expect_err("should be refused");
    let words = error.to_string().replace(&path.display().to_string(), "FILE");
    (words, error.advice().unwrap_or_default())
}

fn assert_not_audio(name: &str, bytes: &[u8], found: &str) {
    let folder = Folder::new();
    let (words, advice) = refused(&folder.file(name, bytes));
    assert_eq!(words, format!("FILE: not a recording that can be read ({found})"));
    assert!(advice.contains("can be read; convert anything else"), "{advice}");
}

fn wav(channels: u16, rate_hz: u32, frames: impl IntoIterator<Item = f32>) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate_hz,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
    for frame in frames {
        (0..channels).for_each(|_| writer.write_sample(frame).unwrap());
    }
    writer.finalize().unwrap();
    bytes.into_inner()
}

fn noise(length: usize) -> Vec<u8> {
    let mut state = 12_345u32;
    (0..length)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 24) as u8
        })
        .collect()
}

#[test]
fn an_empty_file_is_refused() {
    assert_not_audio("song.mp3", b"", "the file is empty");
}

#[test]
fn text_is_refused() {
    let cue_sheet = "Part A 32 counts\n  brush step, brush step\n".repeat(200);
    assert_not_audio("song.mp3", cue_sheet.as_bytes(), "it is text");
    assert_not_audio("song.wav", b"x", "it is text");
}

#[test]
fn a_song_map_given_for_its_song_is_refused() {
    assert_not_audio(
        "song.song.json",
        br#"{"format": "hoofbeat-song", "version": 1}"#,
        "it is text",
    );
}

#[test]
fn a_program_named_wav_is_refused() {
    let mut program = b"\x7fELF\x02\x01\x01\0".to_vec();
    program.extend(noise(60_000));
    // Bytes that look like frame headers are all over real programs.
    for at in (1000..60_000).step_by(700) {
        program[at..at + 4].copy_from_slice(&[0xff, 0xfb, 0x90, 0x64]);
    }
    assert_not_audio("song.wav", &program, "it is a program");
    let own = std::env::current_exe().unwrap();
    let folder = Folder::new();
    let copy = folder.file("song.wav", std::fs::read(own).unwrap());
    let (words, _) = refused(&copy);
    assert!(words.ends_with("(it is a program)"), "{words}");
}

#[test]
fn random_bytes_are_refused() {
    for name in ["song.mp3", "song.flac", "song"] {
        assert_not_audio(name, &noise(100_000), "no audio format was recognised in it");
    }
    assert_not_audio("song.mp3", &[0; 100_000], "no audio format was recognised in it");
}

#[test]
fn other_kinds_of_file_are_named() {
    assert_not_audio("song.mp3", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3 ", "it is a PDF document");
    assert_not_audio("song.mp3", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "it is a picture");
    assert_not_audio("song.mp3", b"PK\x03\x04\x14\0\0\0\x08\0 ", "it is a packed archive");
    assert_not_audio(
        "song.mid",
        b"MThd\0\0\0\x06\0\x01\0\x02",
        "it is a MIDI file: notes, not sound",
    );
}

#[test]
fn a_folder_is_refused() {
    let folder = Folder::new();
    let (words, advice) = refused(folder.0.path());
    assert_eq!(
        (words.as_str(), advice.as_str()),
        ("FILE is a folder, not a file", "name a file in it")
    );
}

#[test]
fn a_missing_file_is_refused() {
    let folder = Folder::new();
    let (words, advice) = refused(&folder.0.path().join("my song.mp3"));
    assert_eq!(words, "FILE: no such file");
    assert_eq!(advice, "check the spelling and the folder; names with spaces need quotes");
}

#[cfg(unix)]
#[test]
fn an_unreadable_file_is_refused() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    let path = folder.file("song.wav", wav(1, 44_100, [0.0; 100]));
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).unwrap();
    // The superuser may read all files, so there the file is simply read.
    match std::fs::File::open(&path) {
        Ok(_) => assert!(heard(&path).is_ok()),
        Err(_) => assert_eq!(refused(&path).0, "FILE: permission denied"),
    }
}

#[cfg(unix)]
#[test]
fn a_device_is_refused_and_not_waited_for() {
    let (words, _) = refused(Path::new("/dev/zero"));
    assert!(words.ends_with("(it is a device or a pipe, not a file)"), "{words}");
    let folder = Folder::new();
    let (words, _) = refused(&folder.file("a", b"x").join("song.mp3"));
    assert!(words.starts_with("FILE: "), "{words}");
}

#[test]
fn a_wav_without_a_sample_is_refused() {
    assert_not_audio("song.wav", &wav(2, 44_100, []), "it holds no sound");
}

#[test]
fn one_sample_is_a_recording() {
    let folder = Folder::new();
    let (samples, decoded) = heard(&folder.file("song.wav", wav(1, 22_050, [0.5]))).unwrap();
    assert_eq!(samples, [0.5]);
    assert_eq!(decoded.recording.duration_s, 1.0 / 22_050.0);
    for rate_hz in [8_000, 44_100, 192_000] {
        let (_, decoded) = heard(&folder.file("song.wav", wav(1, rate_hz, [0.5]))).unwrap();
        assert_eq!(decoded.recording.duration_s, 1.0 / f64::from(rate_hz));
    }
}

#[test]
fn low_and_high_sample_rates_keep_time() {
    let folder = Folder::new();
    for rate_hz in [8_000, 11_025, 12_345, 22_050, 48_000, 96_000, 192_000] {
        let click = (0..2 * rate_hz).map(|n| if n == rate_hz { 1.0 } else { 0.0 });
        let path = folder.file("song.wav", wav(2, rate_hz, click));
        let (samples, decoded) = heard(&path).unwrap();
        let peak = (0..samples.len())
            .max_by(|a, b| samples[*a].abs().total_cmp(&samples[*b].abs()))
            .unwrap();
        assert!(peak.abs_diff(WORKING_RATE_HZ as usize) <= 22, "{rate_hz}: {peak}");
        assert_eq!(samples.len(), 2 * WORKING_RATE_HZ as usize, "{rate_hz}");
        assert_eq!(decoded.recording.sample_rate_hz, rate_hz);
        assert_eq!(decoded.recording.duration_s, 2.0);
    }
}

#[test]
fn a_sample_rate_that_no_recording_has_is_refused() {
    let mut bytes = wav(1, 44_100, [0.1; 100]);
    bytes[24..28].copy_from_slice(&3_000_000_000u32.to_le_bytes());
    assert_not_audio("song.wav", &bytes, "a sample rate of 3000000000 Hz");
}

#[test]
fn eight_channels_are_mixed_to_one() {
    let folder = Folder::new();
    let (samples, decoded) = heard(&folder.file("song.wav", wav(8, 22_050, [0.25; 500]))).unwrap();
    assert!(samples.iter().all(|s| (s - 0.25).abs() < 1e-6));
    assert_eq!((samples.len(), decoded.recording.channels), (500, 8));
}

#[test]
fn samples_that_are_no_numbers_become_silence_with_a_warning() {
    let folder = Folder::new();
    let odd = |n: usize| match n {
        22_050 => f32::NAN,
        22_051 => f32::INFINITY,
        22_052 => 1e30,
        _ => 0.125,
    };
    let path = folder.file("song.wav", wav(1, 22_050, (0..44_100).map(odd)));
    let (samples, decoded) = heard(&path).unwrap();
    assert_eq!(samples[22_049..22_054], [0.125, 0.0, 0.0, 0.0, 0.125]);
    let [warning @ Warning::BadSamples { samples: 3, .. }] = &decoded.warnings[..] else {
        panic!("{:?}", decoded.warnings)
    };
    assert!(
        warning.to_string().starts_with("3 sample(s) in the file are not numbers"),
        "{warning}"
    );
}

#[test]
fn the_name_does_not_matter() {
    let folder = Folder::new();
    for (real, name) in [
        ("cbr-lame.mp3", "song.wav"),
        ("vorbis.ogg", "song.mp3"),
        ("aac.m4a", "song.flac"),
        ("flac.flac", "song.m4a"),
        ("pcm16.wav", "song.ogg"),
        ("aiff.aiff", "song.txt"),
        ("layer2.mp2", "ein Lied für Änne 🎻"),
    ] {
        let path = folder.file(name, std::fs::read(fixture(real)).unwrap());
        let (samples, decoded) = heard(&path).unwrap();
        assert_eq!(samples, heard(&fixture(real)).unwrap().0, "{name}");
        assert_eq!(decoded.recording.file, name);
    }
}

#[test]
fn a_video_without_sound_is_refused() {
    let (words, _) = refused(&fixture("silent-video.mp4"));
    assert_eq!(
        words,
        "FILE: not a recording that can be read (it holds no sound that can be read)"
    );
}

#[cfg(not(feature = "opus"))]
#[test]
fn opus_is_named_with_what_to_do() {
    let (words, advice) = refused(&fixture("opus.ogg"));
    assert_eq!(words, "FILE: Opus audio cannot be decoded");
    assert!(advice.contains("convert the recording"), "{advice}");
    assert!(advice.contains("--features opus"), "{advice}");
}

#[cfg(feature = "opus")]
#[test]
fn opus_is_read_in_time() {
    let (samples, decoded) = heard(&fixture("opus.ogg")).unwrap();
    let peak =
        (0..samples.len()).max_by(|a, b| samples[*a].abs().total_cmp(&samples[*b].abs())).unwrap();
    assert!(peak.abs_diff(WORKING_RATE_HZ as usize) <= 22, "{peak}");
    assert!((decoded.recording.duration_s - 2.5).abs() < 0.001, "{decoded:?}");
    assert_eq!(decoded.warnings, []);
}

#[test]
fn he_aac_is_named_with_what_to_do() {
    // The stream's own description says "object type 2, low complexity" in its first five bits
    // (ISO/IEC 14496-3, AudioSpecificConfig); type 5 is spectral band replication.
    let mut bytes = std::fs::read(fixture("aac.m4a")).unwrap();
    let esds = bytes.windows(4).position(|w| w == b"esds").unwrap();
    let lc = [0x12, 0x10];
    let at = esds + bytes[esds..].windows(2).position(|w| w == lc).unwrap();
    // 5: 00101, 44.1 kHz: 0100, stereo: 0010, extension rate 44.1 kHz: 0100, then type 2: 00010.
    bytes[at..at + 3].copy_from_slice(&[0b0010_1010, 0b0001_0010, 0b0000_1000]);
    let folder = Folder::new();
    let (words, advice) = refused(&folder.file("song.m4a", bytes));
    assert_eq!(words, "FILE: HE-AAC audio cannot be decoded");
    assert!(advice.contains("AAC-LC"), "{advice}");
}

#[test]
fn a_file_of_which_most_is_damaged_is_refused() {
    let mut bytes = std::fs::read(fixture("flac.flac")).unwrap();
    let length = bytes.len();
    bytes[length / 10..].iter_mut().enumerate().for_each(|(n, b)| *b ^= (n % 251) as u8);
    let folder = Folder::new();
    let path = folder.file("song.flac", bytes);
    match heard(&path) {
        // What little is good comes with a word about the rest.
        Ok((_, decoded)) => assert!(!decoded.warnings.is_empty(), "{decoded:?}"),
        Err(error) => {
            assert!(matches!(error, Error::TooDamaged { .. } | Error::NotAudio { .. }), "{error}")
        }
    }
}

#[test]
fn a_wav_written_to_a_pipe_has_no_length_to_promise() {
    let mut bytes = wav(1, 44_100, [0.1; 44_100]);
    let data = bytes.windows(4).position(|w| w == b"data").unwrap();
    bytes[data + 4..data + 8].fill(0xff);
    bytes[4..8].fill(0xff);
    let folder = Folder::new();
    let (_, decoded) = heard(&folder.file("song.wav", bytes)).unwrap();
    assert_eq!(decoded.warnings, []);
    assert!((decoded.recording.duration_s - 1.0).abs() < 0.03, "{decoded:?}");
}

/// Every codec, hit in ways that a fixed seed chooses: bytes changed, stretches zeroed, cut out, doubled.
#[test]
fn no_damage_makes_decoding_panic_or_run_on() {
    let mut state = 2_024u32;
    let mut random = move |below: usize| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as usize % below.max(1)
    };
    let folder = Folder::new();
    for name in [
        "cbr-lame.mp3",
        "vbr-lame.mp3",
        "layer2.mp2",
        "raw.aac",
        "aac.m4a",
        "alac.m4a",
        "video.mp4",
        "flac.flac",
        "vorbis.ogg",
        "opus.ogg",
        "pcm16.wav",
        "float.wav",
        "aiff.aiff",
    ] {
        let whole = std::fs::read(fixture(name)).unwrap();
        for round in 0..40 {
            let mut bytes = whole.clone();
            // Half the rounds go for the headers.
            let reach = if round % 2 == 0 { bytes.len() } else { bytes.len().min(600) };
            for _ in 0..1 + random(6) {
                let at = random(reach.min(bytes.len()));
                let end = (at + 1 + random(40)).min(bytes.len());
                match random(4) {
                    0 => bytes[at] = random(256) as u8,
                    1 => bytes[at..end].fill(0),
                    2 => drop(bytes.drain(at..end)),
                    _ => bytes.extend_from_within(at..end),
                }
            }
            let path = folder.file(name, &bytes);
            if let Ok((samples, decoded)) = heard(&path) {
                assert!(samples.iter().all(|sample| sample.is_finite()), "{name}, round {round}");
                let seconds = samples.len() as f64 / f64::from(WORKING_RATE_HZ);
                let told = decoded.recording.duration_s;
                assert!((seconds - told).abs() < 0.001, "{name}, round {round}: {seconds} {told}");
            }
        }
    }
}
