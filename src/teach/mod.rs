//! What goes out to class: the cue sheet, and exports for other programs.

pub mod export;
pub mod practice;
pub mod sheet;

pub use export::Format;
pub use sheet::{sheet, sheet_without_song};
