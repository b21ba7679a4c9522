//! The command line: arguments in, library call, output out. One file per command.

pub mod args;
pub mod export;
pub mod mark;
pub mod output;

use crate::error::Result;

/// Runs a command.
///
/// # Errors
/// Whatever stops it.
pub fn run(cli: &args::Cli) -> Result<()> {
    match &cli.command {
        args::Command::Mark(args) => mark::run(args),
        args::Command::Export(args) => export::run(args),
    }
}
