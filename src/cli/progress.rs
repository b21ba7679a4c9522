//! Progress on a terminal; nothing elsewhere.

use std::path::Path;

use indicatif::{MultiProgress, ProgressBar, ProgressStyle};

use crate::warning::Warning;

/// Progress bars, one for each file at work.
pub struct Progress(MultiProgress);

impl Progress {
    /// None yet.
    pub fn new() -> Progress {
        Progress(MultiProgress::new())
    }

    /// A bar from 0 to 100 for what is done with a file: `listening to` it, `writing` it.
    pub fn bar(&self, doing: &str, file: &Path) -> ProgressBar {
        let bar = self.0.add(ProgressBar::new(100));
        if let Ok(style) = ProgressStyle::with_template("{msg} [{bar:30}] {percent}% {eta}") {
            bar.set_style(style);
        }
        let name = file.file_name().unwrap_or(file.as_os_str()).to_string_lossy();
        bar.set_message(format!("{doing} {name}"));
        bar
    }

    /// Says what the user should know of a file, above the bars.
    pub fn warn(&self, file: &Path, warnings: &[Warning]) {
        self.0.suspend(|| {
            for warning in warnings {
                eprintln!("warning: {}: {warning}", file.display());
            }
        });
    }
}
