//! The command line: arguments in, library call, output out. One file per command.

pub mod args;
pub mod check;
pub mod output;
