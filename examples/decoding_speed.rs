//! Times decoding alone against decoding to the working rate: `cargo run --release --features measure --example
//! decoding_speed -- song.mp3 [runs]`. The best of all runs counts. On Linux it is processor time that is
//! compared, which other programs disturb less; elsewhere time on the wall.

use std::fs::File;
use std::path::Path;
use std::time::Instant;

use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::TrackType;
use symphonia::core::io::MediaSourceStream;

/// Every packet decoded and dropped, by the decoder's own means.
fn alone(path: &Path) -> Option<usize> {
    let stream = MediaSourceStream::new(Box::new(File::open(path).ok()?), Default::default());
    let probe = symphonia::default::get_probe();
    let mut reader =
        probe.probe(&Default::default(), stream, Default::default(), Default::default()).ok()?;
    let track = reader.default_track(TrackType::Audio)?;
    let (id, params) = (track.id, track.codec_params.as_ref()?.audio()?.clone());
    let options = AudioDecoderOptions::default();
    let mut decoder =
        symphonia::default::get_codecs().make_audio_decoder(&params, &options).ok()?;
    let mut frames = 0;
    while let Ok(Some(packet)) = reader.next_packet() {
        if packet.track_id == id {
            frames += decoder.decode(&packet).map_or(0, |buffer| buffer.frames());
        }
    }
    Some(frames)
}

/// Nanoseconds this thread has worked, where the system tells; else since `start`.
fn worked_ns(start: Instant) -> u128 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let ran = told.and_then(|line| line.split(' ').next()?.parse().ok());
    ran.unwrap_or_else(|| start.elapsed().as_nanos())
}

fn best(runs: usize, mut work: impl FnMut()) -> f64 {
    let start = Instant::now();
    let mut time = || {
        let before = worked_ns(start);
        work();
        (worked_ns(start) - before) as f64 / 1e9
    };
    (0..runs).map(|_| time()).fold(f64::INFINITY, f64::min)
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let Some(path) = arguments.next() else {
        eprintln!("usage: decoding_speed AUDIO [RUNS]");
        std::process::exit(2);
    };
    let runs = arguments.next().and_then(|runs| runs.parse().ok()).unwrap_or(5);
    let path = Path::new(&path);
    if let Err(error) = hoofbeat::audio::decode(path, &mut |_| {}, &mut |_| {}) {
        eprintln!("{error}");
        std::process::exit(2);
    }
    let alone_s = best(runs, || {
        std::hint::black_box(alone(path));
    });
    let whole_s = best(runs, || {
        std::hint::black_box(hoofbeat::audio::decode(path, &mut |_| {}, &mut |_| {}).ok());
    });
    println!(
        "decoding alone {alone_s:.3} s, to the working rate {whole_s:.3} s: {:.2} times",
        whole_s / alone_s
    );
}
