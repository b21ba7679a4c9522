//! Beats as text: `seconds<TAB>position-in-bar` a line, three decimals. The corrected grid with its
//! pulse, beats before the first count included.

use std::fmt::Write;

use crate::error::Result;
use crate::song::SongMap;

use super::{Dance, Export, grid_with_beats};

/// The format.
pub(super) struct Beats;

impl Export for Beats {
    fn bytes(&self, song: &SongMap, _: Dance<'_>) -> Result<Vec<u8>> {
        let grid = grid_with_beats(song)?;
        let mut text = String::new();
        for (time_s, position) in grid.beats_s.iter().zip(grid.bar_positions()) {
            // Writing to a string cannot fail.
            let _ = writeln!(text, "{time_s:.3}\t{position}");
        }
        Ok(text.into_bytes())
    }
}
