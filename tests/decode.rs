//! Decoding keeps time in every codec and under damage. The recordings in `fixtures/audio/` come from
//! `fixtures/make_audio.sh`: encoders other than this crate's own code put a click at exactly 1.000 s.

use std::path::{Path, PathBuf};

use hoofbeat::audio::{Decoded, WORKING_RATE_HZ, decode, decode_beside};
use hoofbeat::{Error, Warning};

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/audio").join(name)
}

fn heard(path: &Path) -> Result<(Vec<f32>, Decoded), Error> {
    let mut samples = Vec::new();
    let decoded = decode(path, &mut |block| samples.extend_from_slice(block), &mut |_| {})?;
    Ok((samples, decoded))
}

/// Where clicks are, in seconds: the centre of energy around each peak above a third of full scale.
fn clicks(samples: &[f32]) -> Vec<f64> {
    let reach = WORKING_RATE_HZ as usize / 200;
    let mut found = Vec::new();
    let mut n = 0;
    while n < samples.len() {
        if samples[n].abs() < 0.3 {
            n += 1;
            continue;
        }
        let near = n.saturating_sub(reach)..(n + reach).min(samples.len());
        let energy = |n: usize| f64::from(samples[n]).powi(2);
        let total: f64 = near.clone().map(energy).sum();
        let centre = near.clone().map(|n| n as f64 * energy(n)).sum::<f64>() / total;
        found.push(centre / f64::from(WORKING_RATE_HZ));
        n = near.end;
    }
    found
}

/// Each full second in `seconds` has its click within a millisecond, and there are no others.
fn assert_clicks_at(seconds: &[f64], samples: &[f32], what: &str) {
    let found = clicks(samples);
    let right = found.len() == seconds.len()
        && found.iter().zip(seconds).all(|(found, true_s)| (found - true_s).abs() <= 0.001);
    assert!(right, "{what}: clicks at {found:?}, not at {seconds:?}");
}

fn damaged(name: &str, harm: impl FnOnce(&mut Vec<u8>)) -> (tempfile::TempDir, PathBuf) {
    let mut bytes = std::fs::read(fixture(name)).unwrap();
    harm(&mut bytes);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    (folder, path)
}

fn lost_s(decoded: &Decoded) -> f64 {
    decoded
        .warnings
        .iter()
        .map(|w| if let Warning::LostAudio { lost_s, .. } = w { *lost_s } else { 0.0 })
        .sum()
}

const EVERY_CODEC: [(&str, f64); 14] = [
    ("cbr-lame.mp3", 2.5),
    ("vbr-lame.mp3", 2.5),
    ("cbr-ffmpeg.mp3", 2.5),
    ("aac.m4a", 2.5),
    ("aac-faststart.m4a", 2.5),
    ("alac.m4a", 2.5),
    ("cover.m4a", 2.5),
    ("video.mp4", 2.5),
    ("flac.flac", 2.5),
    ("vorbis.ogg", 2.5),
    ("pcm16.wav", 1.1),
    ("pcm24.wav", 1.1),
    ("float.wav", 1.1),
    ("aiff.aiff", 1.1),
];

#[test]
fn a_click_at_one_second_is_heard_at_one_second_in_every_codec() {
    for (name, length_s) in EVERY_CODEC {
        let (samples, decoded) = heard(&fixture(name)).unwrap();
        assert_clicks_at(&[1.0], &samples, name);
        let duration_s = decoded.recording.duration_s;
        assert!((duration_s - length_s).abs() < 0.001, "{name}: {duration_s}");
        let expected = (duration_s * f64::from(WORKING_RATE_HZ)).round();
        assert!((samples.len() as f64 - expected).abs() <= 1.0, "{name}: {}", samples.len());
        assert_eq!(decoded.warnings, [], "{name}");
    }
}

#[test]
fn a_format_that_keeps_no_delay_comes_with_a_warning_that_says_how_much() {
    // LAME delays by 576 samples and decoders by 529 (LAME's documentation); layer II by 481; AAC by
    // one frame of 1024.
    for (name, samples_late) in
        [("no-lame-tag.mp3", 1105.0), ("layer2.mp2", 481.0), ("raw.aac", 1024.0)]
    {
        let (samples, decoded) = heard(&fixture(name)).unwrap();
        let [Warning::UnknownDelay { usual_s, .. }] = &decoded.warnings[..] else {
            panic!("{name}: {:?}", decoded.warnings)
        };
        assert!((usual_s - samples_late / 44_100.0).abs() < 1e-9, "{name}");
        assert_clicks_at(&[1.0 + usual_s], &samples, name);
    }
}

#[test]
fn a_lost_mp3_frame_costs_its_own_length_and_no_more() {
    // 64 kbit/s at 44.1 kHz: frames of 208 or 209 bytes. Each kind of damage hits the middle of the file.
    for name in ["long-cbr.mp3", "long-vbr.mp3"] {
        let (whole, decoded) = heard(&fixture(name)).unwrap();
        assert_clicks_at(&[1.0, 2.0, 3.0, 4.0, 5.0], &whole, name);
        let total = decoded.recording.duration_s;
        let bytes = std::fs::read(fixture(name)).unwrap();
        let headers: Vec<usize> = (bytes.len() / 2 - 3000..bytes.len() / 2 + 3000)
            .filter(|at| bytes[*at] == 0xff && bytes[at + 1] == 0xfb && bytes[at + 2] & 0x0c == 0)
            .collect();
        for start in headers.iter().take(6) {
            for (harm, len) in [("header gone", 4), ("frame zeroed", 200), ("side info hit", 30)] {
                let skip = if harm == "side info hit" { 4 } else { 0 };
                let (_folder, path) =
                    damaged(name, |bytes| bytes[start + skip..start + skip + len].fill(0));
                let (samples, decoded) = heard(&path).unwrap();
                let what = format!("{name}, {harm} at byte {start}");
                assert_clicks_at(&[1.0, 2.0, 3.0, 4.0, 5.0], &samples, &what);
                assert!((decoded.recording.duration_s - total).abs() < 0.001, "{what}");
                assert!(lost_s(&decoded) < 0.2, "{what}: {:?}", decoded.warnings);
                assert!(harm == "side info hit" || lost_s(&decoded) > 0.02, "{what}: no warning");
            }
        }
    }
}

#[test]
fn frames_cut_out_of_an_mp3_and_joined_cost_their_own_length() {
    let mut mended = 0;
    for name in ["long-cbr.mp3", "long-vbr.mp3"] {
        let bytes = std::fs::read(fixture(name)).unwrap();
        let total = heard(&fixture(name)).unwrap().1.recording.duration_s;
        let starts = frame_starts(&bytes);
        for nth in (40..180).step_by(10) {
            let (_folder, path) =
                damaged(name, |bytes| drop(bytes.drain(starts[nth]..starts[nth + 1])));
            let (samples, decoded) = heard(&path).unwrap();
            let what = format!("{name} without frame {nth}");
            // A frame whose data were exactly as long as the frame leaves no trace of its place; then the
            // rest is early by one frame of 26 ms, and a warning says so.
            if let [Warning::MissingSomewhere { missing_s }] = decoded.warnings[..] {
                assert!((missing_s - 1152.0 / 44_100.0).abs() < 1e-9, "{what}");
                continue;
            }
            mended += 1;
            let found = clicks(&samples);
            assert!(
                found.len() >= 4 && (found[found.len() - 1] - 5.0).abs() <= 0.001,
                "{what}: {found:?}"
            );
            assert!(found.iter().all(|s| (s - s.round()).abs() <= 0.001), "{what}: {found:?}");
            assert!((decoded.recording.duration_s - total).abs() < 0.001, "{what}");
            assert!((0.02..0.1).contains(&lost_s(&decoded)), "{what}: {:?}", decoded.warnings);
        }
    }
    // Nearly all at a constant bit rate, which fills every frame; fewer where the encoder has room to
    // spare, as in these faint tones at a variable one.
    assert!(mended >= 14, "only {mended} of 28 were mended");
}

/// Where MPEG 1 layer III frames begin, by their headers (ISO/IEC 11172-3, 2.4.1.3).
fn frame_starts(bytes: &[u8]) -> Vec<usize> {
    let kbits = [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320];
    let mut at = bytes.windows(2).position(|pair| pair == [0xff, 0xfb]).unwrap();
    let mut starts = Vec::new();
    while at + 4 < bytes.len() && bytes[at] == 0xff {
        starts.push(at);
        let index = usize::from(bytes[at + 2] >> 4);
        at += 144 * kbits[index] * 1000 / 44_100 + usize::from(bytes[at + 2] >> 1 & 1);
    }
    starts
}

#[test]
fn flipped_bytes_in_flac_ogg_and_m4a_leave_the_clicks_where_they_were() {
    for name in ["long.flac", "long.ogg", "long.m4a"] {
        let (whole, _) = heard(&fixture(name)).unwrap();
        assert_clicks_at(&[1.0, 2.0, 3.0, 4.0, 5.0], &whole, name);
        for place in [0.3, 0.45, 0.6, 0.75] {
            let (_folder, path) = damaged(name, |bytes| {
                let at = (bytes.len() as f64 * place) as usize;
                bytes[at..at + 5].iter_mut().for_each(|byte| *byte ^= 0x55);
            });
            let (samples, decoded) = heard(&path).unwrap();
            let what = format!("{name} hit at {place}");
            assert!((decoded.recording.duration_s - 6.0).abs() < 0.001, "{what}: {decoded:?}");
            // A click may lie in what was lost; each that is heard is heard in its place.
            let found = clicks(&samples);
            assert!(found.len() >= 4, "{what}: {found:?}");
            for click in found.iter().filter(|_| name != "long.m4a" || decoded.warnings.is_empty())
            {
                assert!((click - click.round()).abs() <= 0.001, "{what}: {found:?}");
            }
            let last = *found.last().unwrap();
            assert!((last - 5.0).abs() <= 0.001, "{what}: {found:?}");
            if name != "long.m4a" {
                assert!(lost_s(&decoded) > 0.01, "{what}: {:?}", decoded.warnings);
                assert!(lost_s(&decoded) < 1.2, "{what}: {:?}", decoded.warnings);
            }
        }
    }
}

#[test]
fn a_file_cut_off_keeps_what_came_before_or_says_why_not() {
    for (name, length_s) in EVERY_CODEC {
        for tenth in 0..10 {
            let (_folder, path) = damaged(name, |bytes| bytes.truncate(bytes.len() * tenth / 10));
            let what = format!("{name} cut at {tenth}0 %");
            match heard(&path) {
                Ok((samples, decoded)) => {
                    assert!(decoded.recording.duration_s <= length_s + 0.001, "{what}");
                    let found = clicks(&samples);
                    assert!(
                        found.iter().all(|click| (click - 1.0).abs() <= 0.001),
                        "{what}: {found:?}"
                    );
                    let early = |w: &Warning| {
                        matches!(w, Warning::EndsEarly { .. } | Warning::CutOff { .. })
                    };
                    let short = decoded.recording.duration_s < length_s - 0.15;
                    assert!(!short || decoded.warnings.iter().any(early), "{what}: {decoded:?}");
                }
                Err(Error::NotAudio { found, .. }) => {
                    let expected = if tenth == 0 { "the file is empty" } else { "cut off" };
                    assert!(found.contains(expected), "{what}: {found}");
                }
                Err(other) => panic!("{what}: {other}"),
            }
        }
    }
}

#[test]
fn an_m4a_file_cut_off_behind_its_index_keeps_all_that_is_there() {
    let (_folder, path) =
        damaged("aac-faststart.m4a", |bytes| bytes.truncate(bytes.len() * 6 / 10));
    let (samples, decoded) = heard(&path).unwrap();
    assert_clicks_at(&[1.0], &samples, "six tenths");
    assert!((1.2..1.7).contains(&decoded.recording.duration_s), "{decoded:?}");
    assert!(matches!(decoded.warnings[..], [.., Warning::EndsEarly { .. }]), "{decoded:?}");
}

#[test]
fn ogg_streams_chained_in_one_file_follow_each_other() {
    let second = std::fs::read(fixture("long.ogg")).unwrap();
    let (_folder, path) = damaged("vorbis.ogg", |bytes| bytes.extend(second));
    let (samples, decoded) = heard(&path).unwrap();
    assert_clicks_at(&[1.0, 3.5, 4.5, 5.5, 6.5, 7.5], &samples, "chained");
    assert!((decoded.recording.duration_s - 8.5).abs() < 0.001, "{decoded:?}");
    assert_eq!(decoded.warnings, []);
}

#[test]
fn tags_give_title_and_artist() {
    for name in ["cbr-lame.mp3", "cbr-ffmpeg.mp3", "aac.m4a", "alac.m4a", "flac.flac", "vorbis.ogg"]
    {
        let recording = heard(&fixture(name)).unwrap().1.recording;
        assert_eq!(recording.title.as_deref(), Some("Gravel_Road_Test"), "{name}");
        assert_eq!(recording.artist.as_deref(), Some("The_Fixture_Band"), "{name}");
        assert_eq!(recording.file, name);
    }
    let untitled = heard(&fixture("pcm16.wav")).unwrap().1.recording;
    assert_eq!((untitled.title, untitled.artist), (None, None));
}

#[test]
fn the_same_file_gives_the_same_samples_each_time_and_beside_a_listener() {
    let path = fixture("vbr-lame.mp3");
    let (first, decoded) = heard(&path).unwrap();
    assert_eq!(heard(&path).unwrap(), (first.clone(), decoded.clone()));
    let collect =
        |blocks: &mut dyn Iterator<Item = Vec<f32>>| blocks.flatten().collect::<Vec<f32>>();
    let mut shares = Vec::new();
    let beside = decode_beside(&path, collect, &mut |share| shares.push(share)).unwrap();
    assert_eq!(beside, (decoded, first));
    assert_eq!(shares.last(), Some(&1.0));
    assert!(shares.is_sorted(), "{shares:?}");
    // A listener that has had enough stops nothing.
    let (again, ()) = decode_beside(&path, |_| (), &mut |_| {}).unwrap();
    assert_eq!(again, beside.0);
}
