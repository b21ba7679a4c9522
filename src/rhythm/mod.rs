//! Beats, bars and pulse: from samples to a [`Grid`].

mod grid;

pub use grid::{Grid, OtherPulse};
