//! The command line: parse it, run it, print errors, give the exit code.

use std::process::ExitCode;

use clap::Parser;
use hoofbeat::cli::args::{Cli, Command};

fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Check(args) => hoofbeat::cli::check::run(&args),
    };
    done.unwrap_or_else(|error| {
        eprintln!("error: {error}");
        if let Some(advice) = error.advice() {
            eprintln!("try: {advice}");
        }
        ExitCode::from(2)
    })
}
