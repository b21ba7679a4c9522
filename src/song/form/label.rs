//! What phrases are called, where that can be told.

use super::novelty::particular;
use super::sound::BeatSounds;

/// A label for the phrase at each start; the last is over before the beat `end`.
///
/// Phrases alike in harmony and timbre, beat by beat, are one kind. The loudest kind that comes again is the
/// chorus, the next kind that comes again the verse; a soft or odd opening is the intro, what follows
/// the last repeated phrase the ending. Phrases of 16 counts throughout are a tune, whose kinds are
/// called by letters, as dancers do. What cannot be told is a `phrase`, with a letter where several
/// kinds are.
pub fn labels(sounds: &BeatSounds, starts: &[usize], end: usize) -> Vec<String> {
    let phrases: Vec<(usize, usize)> = starts
        .iter()
        .enumerate()
        .map(|(i, &s)| (s, starts.get(i + 1).copied().unwrap_or(end)))
        .collect();
    let kinds = kinds(sounds, &phrases);
    let words = words(sounds, &phrases, &kinds);
    let unnamed: Vec<usize> =
        (0..kinds.len()).filter(|&i| words[i] == Word::None).map(|i| kinds[i]).collect();
    let mut letters: Vec<usize> = Vec::new();
    for &kind in &unnamed {
        if !letters.contains(&kind) {
            letters.push(kind);
        }
    }
    let tune = is_tune(&phrases);
    words
        .iter()
        .zip(&kinds)
        .map(|(word, kind)| match word {
            Word::Is(word) => (*word).to_string(),
            Word::None => {
                let letter = letter(letters.iter().position(|k| k == kind).unwrap_or_default());
                match (tune, letters.len()) {
                    (true, _) => letter,
                    (false, 1) => "phrase".to_string(),
                    (false, _) => format!("phrase {letter}"),
                }
            }
        })
        .collect()
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Word {
    Is(&'static str),
    None,
}

/// A, B, …, Z, A2, B2, …
fn letter(index: usize) -> String {
    let letter = char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{}", round + 1),
    }
}

/// Whether this is the form of a dance tune: phrases of 16 beats, but for an intro and an ending.
fn is_tune(phrases: &[(usize, usize)]) -> bool {
    const BEATS: usize = 16;
    let sixteens = phrases.iter().filter(|(from, to)| to - from == BEATS).count();
    sixteens >= 4 && sixteens + 2 >= phrases.len()
}

fn words(sounds: &BeatSounds, phrases: &[(usize, usize)], kinds: &[usize]) -> Vec<Word> {
    let times = |kind: usize| kinds.iter().filter(|&&k| k == kind).count();
    let level = |from: usize, to: usize| {
        sounds.loudness.get(from..to).unwrap_or_default().iter().sum::<f32>()
    };
    let loudness = |kind: usize| {
        let of_kind = phrases.iter().zip(kinds).filter(|&(_, &k)| k == kind);
        let (sum, beats) = of_kind.fold((0.0, 0), |(sum, beats), (&(from, to), _)| {
            (sum + level(from, to), beats + to - from)
        });
        sum / beats.max(1) as f32
    };
    let mut repeated: Vec<usize> =
        (0..kinds.len()).filter(|&k| kinds[k] == k && times(k) > 1).collect();
    repeated.sort_by(|&a, &b| loudness(b).total_cmp(&loudness(a)));
    // With a single repeated kind there is no telling a verse from a chorus; a tune has neither.
    let (chorus, verse) = match repeated[..] {
        [chorus, ..] if repeated.len() > 1 && !is_tune(phrases) => {
            let verse = repeated[1..].iter().copied().max_by_key(|&k| (times(k), usize::MAX - k));
            (Some(chorus), verse)
        }
        _ => (None, None),
    };
    let last = phrases.len().saturating_sub(1);
    let (from, to) = (phrases.first().map_or(0, |p| p.0), phrases.last().map_or(0, |p| p.1));
    let mean_loudness = level(from, to) / (to - from).max(1) as f32;
    kinds
        .iter()
        .enumerate()
        .map(|(i, &kind)| {
            let (from, to) = phrases[i];
            let loudness = level(from, to) / (to - from).max(1) as f32;
            let once = times(kind) == 1;
            if i == 0 && phrases.len() > 1 && (once || loudness < 0.9 * mean_loudness) {
                Word::Is("intro")
            } else if Some(kind) == chorus {
                Word::Is("chorus")
            } else if Some(kind) == verse {
                Word::Is("verse")
            } else if i == last && once && phrases.len() > 2 {
                Word::Is("ending")
            } else {
                Word::None
            }
        })
        .collect()
}

/// For each phrase the index of the first phrase that sounds like it (its own when none does).
fn kinds(sounds: &BeatSounds, phrases: &[(usize, usize)]) -> Vec<usize> {
    /// Phrases whose likeness exceeds this are the same again.
    const ALIKE: f32 = 0.6;
    let harmony = particular(&sounds.harmony);
    let timbre = particular(&sounds.timbre);
    let likeness = |a: usize, b: usize| {
        let (a, b) = (phrases[a], phrases[b]);
        let (length_a, length_b) = (a.1 - a.0, b.1 - b.0);
        let shorter = length_a.min(length_b);
        if shorter * 3 < length_a.max(length_b) * 2 || shorter < 4 {
            return 0.0;
        }
        0.7 * alike(&harmony[a.0..a.0 + shorter], &harmony[b.0..b.0 + shorter])
            + 0.3 * alike(&timbre[a.0..a.0 + shorter], &timbre[b.0..b.0 + shorter])
    };
    let mut kinds: Vec<usize> = Vec::with_capacity(phrases.len());
    for i in 0..phrases.len() {
        // A kind is as like as the most like of its phrases: they may drift apart over a song.
        let best = (0..i).map(|j| (kinds[j], likeness(j, i))).max_by(|a, b| a.1.total_cmp(&b.1));
        kinds.push(match best {
            Some((kind, likeness)) if likeness > ALIKE => kind,
            _ => i,
        });
    }
    kinds
}

/// Mean cosine, beat by beat, of two stretches of unit vectors.
fn alike<const D: usize>(a: &[[f32; D]], b: &[[f32; D]]) -> f32 {
    let dot = |(a, b): (&[f32; D], &[f32; D])| a.iter().zip(b).map(|(a, b)| a * b).sum::<f32>();
    a.iter().zip(b).map(dot).sum::<f32>() / a.len().max(1) as f32
}

#[cfg(test)]
mod tests {
    use super::super::testing::song;
    use super::*;

    #[test]
    fn the_louder_of_two_that_come_again_is_the_chorus() {
        let (sounds, starts) = song("v32 C32 v32 C36 b32 C32 e16");
        let labels = labels(&sounds, &starts, sounds.len());
        assert_eq!(labels[1..6], ["chorus", "verse", "chorus", "phrase", "chorus"]);
        assert_eq!(labels[6], "ending");
    }

    #[test]
    fn a_tune_of_sixteens_is_called_by_letters() {
        let (sounds, starts) = song("a16 a16 b16 b16 a16 a16 b16 b16");
        let labels = labels(&sounds, &starts, sounds.len());
        assert_eq!(labels, ["A", "A", "B", "B", "A", "A", "B", "B"]);
    }

    #[test]
    fn two_kinds_that_are_no_verse_and_no_chorus_keep_apart() {
        let (sounds, starts) = song("i8 a32 c16 a32 d24 f32 e8");
        let labels = labels(&sounds, &starts, sounds.len());
        assert_eq!(labels[0], "intro");
        assert_eq!(labels[1], labels[3]);
        assert_ne!(labels[2], labels[4]);
        assert!(labels[1].starts_with("phrase "), "{labels:?}");
    }

    #[test]
    fn letters_do_not_run_out() {
        assert_eq!([letter(0), letter(25), letter(26)], ["A", "Z", "A2"]);
    }
}
