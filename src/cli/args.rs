//! All of the command line's grammar.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

/// Fits a dance routine to the beats of a song.
#[derive(Debug, Parser)]
#[command(name = "hoofbeat", version, propagate_version = true, max_term_width = 100)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Proof-read a routine: counts, feet, walls, order.
    Check(Check),
}

/// Arguments of `check`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  hoofbeat check fixtures/routines/lantern-walk.txt")]
pub struct Check {
    /// The routine's sheet, plain text.
    pub routine: PathBuf,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
    /// Where to write.
    #[command(flatten)]
    pub output: Output,
}

/// Where output goes.
#[derive(Debug, Args, Default)]
pub struct Output {
    /// Write here; `-` is standard output.
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace a file that exists already.
    #[arg(long)]
    pub force: bool,
}
