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
    /// Listen to recordings and write their song maps.
    Listen(super::listen::ListenArgs),
    /// Proof-read a routine: counts, feet, walls, order.
    Check(super::check::CheckArgs),
    /// Mark phrases and correct counts, bars and beats.
    Mark(super::mark::MarkArgs),
    /// Lay a routine on a song: what fits, what does not, what would mend it.
    Fit(super::fit::FitArgs),
    /// Draw the timeline.
    Draw(super::draw::DrawArgs),
    /// Write the cue sheet.
    Sheet(super::sheet::SheetArgs),
    /// Carry the marks of a song over to another cut of it.
    Recut(super::recut::RecutArgs),
    /// Cut a recording to order: for a time limit, for a routine, or by phrases.
    Cut(super::cut::CutArgs),
    /// Do the whole job on an invented song.
    Demo(super::demo::DemoArgs),
    /// Make audio to practise to: slower, looped, counted, called.
    Practice(Box<super::practice::PracticeArgs>),
    /// Write beats or phrases for other programs.
    Export(super::export::ExportArgs),
}

/// Files of the user's own steps.
#[derive(Debug, Args, Default)]
pub struct Steps {
    /// A file of your own steps, `Lantern Kick = DS K DS RS` on a line each; may be given more than once.
    #[arg(long, value_name = "FILE")]
    pub steps: Vec<PathBuf>,
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
