//! `hoofbeat mark` and `hoofbeat export`, run as a teacher runs them, on an invented song.

// Helpers of tests may give up as tests may.
mod bad_input;
mod beats;
mod exports;
mod phrases;
mod properties;
mod support;
