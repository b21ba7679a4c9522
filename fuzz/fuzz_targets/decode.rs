//! Any bytes at all: decoding ends, does not panic, and hands out finite samples of the length it tells.
//! `cargo +nightly fuzz run decode fuzz/corpus/decode fixtures/audio`
#![no_main]

use std::io::Write;

use hoofbeat::audio::{WORKING_RATE_HZ, decode};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let Ok(mut file) = tempfile::NamedTempFile::new() else { return };
    if file.write_all(data).is_err() {
        return;
    }
    let mut samples = 0u64;
    let decoded = decode(
        file.path(),
        &mut |block| {
            assert!(block.iter().all(|sample| sample.is_finite()));
            samples += block.len() as u64;
        },
        &mut |share| assert!((0.0..=1.0).contains(&share)),
    );
    if let Ok(decoded) = decoded {
        let seconds = samples as f64 / f64::from(WORKING_RATE_HZ);
        assert!((seconds - decoded.recording.duration_s).abs() < 0.001);
    }
});
