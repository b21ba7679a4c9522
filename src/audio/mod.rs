//! From a file to mono samples at the working rate, every sample at its true time.

mod recording;

pub use recording::Recording;
