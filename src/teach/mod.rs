//! What goes out to class: the cue sheet.

pub mod sheet;

pub use sheet::{sheet, sheet_without_song};
