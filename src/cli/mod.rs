//! The command line: arguments in, library call, output out. One file per command.

pub mod args;
pub mod output;
