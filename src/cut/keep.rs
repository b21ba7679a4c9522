//! A cut of the phrases that a user names.

use super::joints::Joints;
use super::plan::Plan;
use crate::error::{Error, Result};
use crate::song::SongView;

/// The cut that plays the named phrases in the named order: `intro, verse 1, chorus 1, chorus 3`. A label
/// alone (`chorus`) is its next turn after the phrase named before it, or its first.
///
/// # Errors
/// [`Error::Usage`] with the word that is no phrase of the song, and what the phrases are called.
pub fn keep(song: &SongView, joints: &Joints, named: &str) -> Result<Plan> {
    let names = song.names();
    let mut ranges = Vec::new();
    let mut last: Option<usize> = None;
    for word in named.split([',', ';', '\n']).map(str::trim).filter(|word| !word.is_empty()) {
        let phrase = find(song, &names, word, last).ok_or_else(|| {
            Error::Usage(format!("no phrase is called \"{word}\"; there are: {}", names.join(", ")))
        })?;
        last = Some(phrase);
        let start = song.phrases[phrase].start.index().unwrap_or(0);
        ranges.push((start, start + song.phrases[phrase].counts as usize));
    }
    if ranges.is_empty() {
        return Err(Error::Usage(format!("name phrases to keep; there are: {}", names.join(", "))));
    }
    Ok(Plan::of(song, joints, &ranges))
}

fn find(song: &SongView, names: &[String], word: &str, last: Option<usize>) -> Option<usize> {
    let same = |name: &str| name.eq_ignore_ascii_case(word);
    if let Some(exact) = names.iter().position(|name| same(name)) {
        return Some(exact);
    }
    let turns = || (0..song.phrases.len()).filter(|&p| same(&song.phrases[p].label));
    let after = turns().find(|&p| last.is_none_or(|last| p > last));
    after.or_else(|| turns().next())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::testing;

    fn pieces(named: &str) -> Result<Vec<(i32, i32)>> {
        let (song, sounds) = testing::song();
        let plan = keep(&song, &Joints::new(&song, &sounds), named)?;
        Ok(plan.pieces.iter().map(|p| (p.from.0, p.to.0)).collect())
    }

    #[test]
    fn phrases_are_taken_by_name_and_neighbours_become_one_piece() {
        assert_eq!(pieces("intro, Verse 1, chorus 3, ending").unwrap(), [(1, 49), (161, 201)]);
        assert_eq!(pieces("intro, verse, chorus, verse, bridge").unwrap(), [(1, 113), (145, 161)]);
        assert_eq!(pieces("bridge; bridge").unwrap(), [(145, 161), (145, 161)]);
    }

    #[test]
    fn what_is_no_phrase_is_named() {
        let words = pieces("intro, refrain").unwrap_err().to_string();
        assert!(words.contains("\"refrain\"") && words.contains("verse 1"), "{words}");
        assert!(pieces(" , ").is_err());
    }
}
