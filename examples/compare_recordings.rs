//! Prints how alike recordings sound to the fingerprint, each with each:
//! `cargo run --release --features measure --example compare_recordings -- a.mp3 b.ogg c.wav`.

use std::path::Path;

use hoofbeat::audio::{decode, fingerprint};

fn main() {
    let mut heard = Vec::new();
    for name in std::env::args().skip(1) {
        match decode(Path::new(&name), &mut |_| {}, &mut |_| {}) {
            Ok(decoded) => heard.push((name, decoded.recording.fingerprint)),
            Err(error) => eprintln!("{error}"),
        }
    }
    for (index, (a, mark)) in heard.iter().enumerate() {
        for (b, other) in &heard[index + 1..] {
            match fingerprint::similarity(mark, other) {
                Some(alike) => println!("{alike:.4}\t{a}\t{b}"),
                None => println!("too short\t{a}\t{b}"),
            }
        }
    }
}
