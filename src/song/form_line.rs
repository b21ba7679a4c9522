//! The form of a song in one line, as a choreographer jots it: `16 · A32 B36 A32 B32, odd: B1 is 4
//! over at 1:04`.

use super::form::letter;
use super::{Entered, Phrase, SongMap, SongView};
use crate::units::{Count, clock};

impl SongView {
    /// The form in one line: the wait, then each phrase as a letter with its length in counts, the
    /// same letter for phrases of one name; then which are odd, how, and where that is felt: at their end.
    pub fn form_line(&self) -> String {
        let waiting = self.phrases.iter().take_while(|p| p.is_intro()).count();
        let danced = self.phrases.get(waiting..).unwrap_or_default();
        if danced.is_empty() {
            return String::new();
        }
        let letters = letters(danced);
        let lengths: Vec<String> = danced
            .iter()
            .zip(&letters)
            .map(|(p, letter)| format!("{letter}{}", p.counts))
            .collect();
        let wait = match self.wait() {
            0 => String::new(),
            wait => format!("{wait} · "),
        };
        let mut line = wait + &lengths.join(" ");
        let odd: Vec<String> = (0..danced.len())
            // The recording ends the last phrase where it will.
            .filter(|&i| i + 1 < danced.len())
            .filter_map(|i| self.oddity(danced, &letters, i))
            .collect();
        if !odd.is_empty() {
            line.push_str(&format!("; odd: {}", odd.join(", ")));
        }
        line
    }

    /// The letter of each phrase in the form's line, the same for phrases that are the same again; empty for those of
    /// the wait. In the order of `phrases`.
    pub fn letters(&self) -> Vec<String> {
        let waiting = self.phrases.iter().take_while(|p| p.is_intro()).count();
        let waits = std::iter::repeat_n(String::new(), waiting);
        waits.chain(letters(self.phrases.get(waiting..).unwrap_or_default())).collect()
    }

    /// What a teacher says of the wait: `wait 16 counts; the drums come in on 9`; `None` without a count.
    pub fn wait_line(&self) -> Option<String> {
        if self.counts.is_empty() {
            return None;
        }
        let wait = self.wait();
        let mut line = match wait {
            0 => return Some("no wait: step on the first count".into()),
            wait if wait % 8 == 0 && wait > 8 => {
                format!("wait {wait} counts, that is {} eights", wait / 8)
            }
            wait => format!("wait {wait} counts"),
        };
        if let Some((count, what)) = self.entrance
            && (2..=wait as i32).contains(&count.0)
        {
            let what = match what {
                Entered::Drums => "the drums come in",
                Entered::Band => "the band comes in",
            };
            line.push_str(&format!("; {what} on {count}"));
        }
        Some(line)
    }

    fn oddity(&self, danced: &[Phrase], letters: &[String], i: usize) -> Option<String> {
        let phrase = &danced[i];
        let unit = self.whole();
        if phrase.counts.is_multiple_of(unit) {
            return None;
        }
        let round = letters[..=i].iter().filter(|l| **l == letters[i]).count();
        let by = phrase.counts as i64 - self.usual(danced, letters, i) as i64;
        let (by, how) = if by > 0 { (by, "over") } else { (-by, "short") };
        Some(format!("{}{round} is {by} {how} at {}", letters[i], clock(phrase.end_s)))
    }

    /// Lengths are whole when they are multiples of this: eights where bars fill eights, else four bars.
    fn whole(&self) -> u32 {
        match self.counts_per_bar {
            1 | 2 | 4 | 8 => 8,
            bar => 4 * bar.max(1),
        }
    }

    /// The whole length that an odd phrase is told against: the nearest that others of its letter have
    /// within half of the whole, else the nearest there is.
    fn usual(&self, danced: &[Phrase], letters: &[String], i: usize) -> u32 {
        let (counts, unit) = (danced[i].counts, self.whole());
        let same = danced.iter().zip(letters).filter(|(_, letter)| **letter == letters[i]);
        same.map(|(p, _)| p.counts)
            .filter(|other| other.is_multiple_of(unit) && other.abs_diff(counts) <= unit / 2)
            .min_by_key(|other| other.abs_diff(counts))
            .unwrap_or_else(|| ((counts + (unit - 1) / 2) / unit).max(1) * unit)
    }
}

impl SongMap {
    /// Other lengths that the wait may have, in counts, with their likelihoods, likeliest first. Empty
    /// once the user has marked a phrase or the first count: then the wait is theirs.
    pub fn other_waits(&self) -> Vec<(u32, f64)> {
        let theirs = !self.set.phrases.is_empty() || self.set.first_count_s.is_some();
        let Some(view) = self.view().ok().filter(|_| !theirs) else { return Vec::new() };
        let mut waits: Vec<(u32, f64)> = Vec::new();
        for other in &self.heard.other_waits {
            let time = self.heard.grid.beats_s.get(other.beat.0);
            let count = time.and_then(|&time| view.counts.nearest(time));
            let wait = count.map_or(0, |count| (count - Count::FIRST).max(0) as u32);
            let named = waits.iter().any(|(named, _)| *named == wait);
            if wait > 0 && wait != view.wait() && !named {
                waits.push((wait, other.score));
            }
        }
        waits
    }
}

/// A letter for each phrase, in order of first appearance: the same for those that sound the same again
/// or, where that was not heard, have the same label.
fn letters(phrases: &[Phrase]) -> Vec<String> {
    let mut known: Vec<(&str, String)> = Vec::new();
    let mut letters = Vec::with_capacity(phrases.len());
    for phrase in phrases {
        let key = (
            phrase.letter.as_str(),
            match phrase.letter.is_empty() {
                true => phrase.label.to_lowercase(),
                false => String::new(),
            },
        );
        let index = known.iter().position(|k| *k == key).unwrap_or_else(|| {
            known.push(key);
            known.len() - 1
        });
        letters.push(letter(index));
    }
    letters
}

#[cfg(test)]
mod tests {
    use crate::song::testing::song;
    use crate::song::{OtherWait, SetPhrase, SongMap};
    use crate::units::Beat;

    fn marked(phrases: &[(&str, usize)]) -> SongMap {
        let total: usize = phrases.iter().map(|p| p.1).sum();
        let mut map = song(total + 2);
        map.set.phrases_complete = true;
        let mut beat = 2;
        for (label, counts) in phrases {
            let start_s = map.heard.grid.beats_s[beat];
            map.set.phrases.push(SetPhrase { label: (*label).into(), start_s });
            beat += counts;
        }
        map
    }

    #[test]
    fn the_form_is_the_wait_then_letters_with_lengths_and_what_is_odd() {
        let form = [("intro", 16), ("verse", 32), ("chorus", 36), ("Verse", 32), ("chorus", 32)];
        let view = marked(&form).view().unwrap();
        // 0.5 s a count from 0:01.86 on: the first chorus ends 84 counts later.
        assert_eq!(view.form_line(), "16 · A32 B36 A32 B32; odd: B1 is 4 over at 0:43.86");
        assert_eq!(view.wait_line().unwrap(), "wait 16 counts, that is 2 eights");
    }

    #[test]
    fn two_short_is_short_and_four_under_its_twins_is_short() {
        let form = [("verse", 30), ("chorus", 32), ("verse", 32), ("chorus", 28), ("end", 6)];
        let line = marked(&form).view().unwrap().form_line();
        assert!(line.starts_with("A30 B32 A32 B28 C6; odd: A1 is 2 short at "), "{line}");
        assert!(line.contains("B2 is 4 short at "), "{line}");
        assert!(!line.contains("C1"), "the recording ends the last: {line}");
    }

    #[test]
    fn other_waits_are_in_counts_until_the_user_has_marked_a_phrase() {
        let mut map = song(170);
        map.heard.other_waits = vec![
            OtherWait { beat: Beat(34), score: 0.2 },
            OtherWait { beat: Beat(18), score: 0.1 },
        ];
        // The chosen wait, 16 counts, is not named again.
        assert_eq!(map.other_waits(), [(32, 0.2)]);
        map.set.phrases.push(SetPhrase { label: "verse".into(), start_s: 9.86 });
        assert_eq!(map.other_waits(), []);
    }

    #[test]
    fn a_song_with_nothing_danced_has_no_form() {
        assert_eq!(marked(&[("intro", 16)]).view().unwrap().form_line(), "");
    }
}
