//! The `hoofbeat` command: parses the command line, prints errors, sets the exit code.

use std::process::ExitCode;

use clap::Parser;
use hoofbeat::cli;

fn main() -> ExitCode {
    match cli::run(cli::args::Cli::parse()) {
        Ok(outcome) => outcome.into(),
        Err(error) => {
            eprintln!("error: {error}");
            if let Some(advice) = error.advice() {
                eprintln!("  {advice}");
            }
            ExitCode::from(2)
        }
    }
}
