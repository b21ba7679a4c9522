//! What goes out to class: the cue sheet, the lesson plan, the pack for another teacher, and exports for
//! other programs.

pub mod export;
pub mod lesson;
pub mod pack;
pub mod practice;
pub mod sheet;

pub use export::Format;
pub use sheet::{sheet, sheet_without_song};
