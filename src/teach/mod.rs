//! What goes out to class: exports for other programs.

pub mod export;

pub use export::Format;
