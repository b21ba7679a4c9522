//! All tests that run the program or use the library from outside, in one program: linking is what takes long.

// Helpers of tests may give up as tests may.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::process::Output;

mod bad_audio;
mod cut;
mod decode;
mod draw_and_sheet;
mod ear;
mod fit_command;
mod form;
mod forms;
mod marks;
mod practice;
mod recut;
mod routine;
mod stories;
mod touch;

/// A file of the demo songs.
fn demo_audio(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-audio").join(name)
}

/// Runs the program in a folder.
fn hoofbeat(folder: &Path, args: &[&str]) -> Output {
    let mut command = assert_cmd::Command::cargo_bin("hoofbeat").unwrap();
    command.current_dir(folder).args(args).output().unwrap()
}

/// Runs the program in a folder, where it must succeed; what it printed.
fn good(folder: &Path, args: &[&str]) -> String {
    let output = hoofbeat(folder, args);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{args:?}: {stderr}");
    String::from_utf8(output.stdout).unwrap()
}
