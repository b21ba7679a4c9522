//! All tests that run the program or use the library from outside, in one program: linking is what takes long.

// Helpers of tests may give up as tests may.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

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
