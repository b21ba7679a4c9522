//! The command line: arguments in, library call, output out. One file per command.

use std::process::ExitCode;

use crate::error::Result;

pub mod args;
pub mod check;
pub mod cut;
pub mod demo;
pub mod draw;
pub mod export;
pub mod fit;
pub mod listen;
pub mod mark;
pub mod output;
pub mod practice;
mod progress;
pub mod recut;
pub mod sheet;

/// How a command ended when nothing went wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Done; for `fit` and `recut`: it fits. Exit code 0.
    Done,
    /// It does not fit, or a sheet has mistakes. Exit code 1.
    DoesNotFit,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> ExitCode {
        match outcome {
            Outcome::Done => ExitCode::SUCCESS,
            Outcome::DoesNotFit => ExitCode::from(1),
        }
    }
}

/// Runs a command.
///
/// # Errors
/// Whatever stops it; `main` prints it and exits with 2.
pub fn run(cli: args::Cli) -> Result<Outcome> {
    use args::Command;
    match cli.command {
        Command::Listen(args) => listen::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Mark(args) => mark::run(&args),
        Command::Fit(args) => fit::run(&args),
        Command::Cut(args) => cut::run(&args),
        Command::Recut(args) => recut::run(&args),
        Command::Practice(args) => practice::run(&args),
        Command::Draw(args) => draw::run(&args),
        Command::Sheet(args) => sheet::run(&args),
        Command::Demo(args) => demo::run(&args),
        Command::Export(args) => export::run(&args),
    }
}
