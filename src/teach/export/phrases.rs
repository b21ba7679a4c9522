//! Phrases as text: `start_s<TAB>end_s<TAB>label<TAB>counts` a line, three decimals.

use std::fmt::Write;

use crate::error::Result;
use crate::song::SongMap;

use super::{Dance, Export};

/// The format.
pub(super) struct Phrases;

impl Export for Phrases {
    fn bytes(&self, song: &SongMap, _: Dance<'_>) -> Result<Vec<u8>> {
        let mut text = String::new();
        for phrase in song.view()?.phrases {
            let label: Vec<&str> = phrase.label.split_whitespace().collect();
            let (start_s, end_s, counts) = (phrase.start_s, phrase.end_s, phrase.counts);
            // Writing to a string cannot fail.
            let _ = writeln!(text, "{start_s:.3}\t{end_s:.3}\t{}\t{counts}", label.join(" "));
        }
        Ok(text.into_bytes())
    }
}
