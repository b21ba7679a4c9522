//! What phrases are called, where that can be told, and which are the same again.

use std::ops::Range;

use super::inputs::{HARMONY, N_INPUTS, TIMBRE};
use super::network::{Heard, SORTS};

/// Words for the sorts of phrase that the network tells apart; the first is what is not counted, the last a
/// part of a dance tune, which has a letter only.
const WORDS: [&str; SORTS] =
    ["", "intro", "verse", "pre-chorus", "chorus", "bridge", "instrumental", "break", "ending", ""];
const INTRO: usize = 1;
const ENDING: usize = 8;
const TUNE: usize = 9;
/// A word less likely than this is not said.
const SAID: f32 = 0.4;
/// Beats from which on a first phrase that comes again is no intro.
const LONG: usize = 32;
/// Phrases whose likeness exceeds this are the same again.
const ALIKE: f32 = 0.37;

/// What is said of a phrase.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// A word, where one can be told; `phrase` with its letter elsewhere; for a part of a tune its letter.
    pub word: String,
    /// The same for phrases that are the same again: A, B, …
    pub letter: String,
}

/// Labels of the phrases that start at `starts`; the last is over before the beat `end`.
///
/// Phrases whose beats sound alike and point the same way, one by one, are one kind. Phrases of a kind have one word, the
/// likeliest over all their beats; what opens the song may be its intro, what closes it the ending.
pub fn labels(
    heard: &Heard,
    inputs: &[[f32; N_INPUTS]],
    starts: &[usize],
    end: usize,
) -> Vec<Label> {
    let ends = starts.iter().skip(1).copied().chain([end]);
    let phrases: Vec<(usize, usize)> = starts.iter().copied().zip(ends).collect();
    let kinds = kinds(heard, inputs, &phrases);
    let sorts: Vec<[f32; SORTS]> = phrases.iter().map(|&phrase| sorts(heard, phrase)).collect();
    let mut letters: Vec<usize> = Vec::new();
    for &kind in &kinds {
        if !letters.contains(&kind) {
            letters.push(kind);
        }
    }
    let letter_of = |kind: usize| letter(letters.iter().position(|&k| k == kind).unwrap_or(0));
    let last = phrases.len().saturating_sub(1);
    let mut opening = true;
    let mut labels = Vec::with_capacity(phrases.len());
    for (i, &kind) in kinds.iter().enumerate() {
        let length = |phrase: usize| phrases[phrase].1 - phrases[phrase].0;
        // An intro may have the verse's chords; as long a phrase as the verse is the verse.
        let again = (i + 1..kinds.len()).any(|k| kinds[k] == kind && length(k) <= length(i));
        let verse = again && length(i) >= LONG;
        opening &= last > 0 && i < last && sorts[i][INTRO] > SAID && !verse;
        let letter = letter_of(kind);
        let word = if opening {
            WORDS[INTRO].to_string()
        } else if i == last && i > 0 && sorts[i][ENDING] > SAID {
            WORDS[ENDING].to_string()
        } else {
            let of_kind: Vec<&[f32; SORTS]> =
                kinds.iter().zip(&sorts).filter(|(k, _)| **k == kind).map(|(_, s)| s).collect();
            word(&of_kind, &letter)
        };
        labels.push(Label { word, letter });
    }
    labels
}

/// The word for phrases of one kind.
fn word(of_kind: &[&[f32; SORTS]], letter: &str) -> String {
    let share = |sort: usize| {
        of_kind.iter().map(|sorts| sorts[sort]).sum::<f32>() / of_kind.len().max(1) as f32
    };
    let inner = (INTRO + 1..SORTS).filter(|&sort| sort != ENDING);
    match inner.max_by(|&a, &b| share(a).total_cmp(&share(b))) {
        Some(TUNE) if share(TUNE) > SAID => letter.to_string(),
        Some(sort) if share(sort) > SAID => WORDS[sort].to_string(),
        _ => format!("phrase {letter}"),
    }
}

/// Mean probability of each sort over a phrase's beats.
fn sorts(heard: &Heard, (from, to): (usize, usize)) -> [f32; SORTS] {
    let beats = heard.sorts.get(from..to).unwrap_or_default();
    let n = beats.len().max(1) as f32;
    std::array::from_fn(|sort| beats.iter().map(|beat| beat[sort].exp()).sum::<f32>() / n)
}

/// A, B, …, Z, A2, B2, …
pub(in crate::song) fn letter(index: usize) -> String {
    let letter = char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{}", round + 1),
    }
}

/// For each phrase the index of the first phrase that is the same (its own when none is): the two likest groups of
/// phrases are made one until none are alike enough, likeness being the mean over all pairs between two groups.
fn kinds(heard: &Heard, inputs: &[[f32; N_INPUTS]], phrases: &[(usize, usize)]) -> Vec<usize> {
    let n = phrases.len();
    let mut like = vec![vec![0f32; n]; n];
    for a in 0..n {
        for b in 0..a {
            like[a][b] = likeness(heard, inputs, phrases[a], phrases[b]);
            like[b][a] = like[a][b];
        }
    }
    let mut groups: Vec<Vec<usize>> = (0..n).map(|phrase| vec![phrase]).collect();
    loop {
        let between = |a: &[usize], b: &[usize]| {
            let sum: f32 = a
                .iter()
                .flat_map(|&a| b.iter().map(move |&b| (a, b)))
                .map(|(a, b)| like[a][b])
                .sum();
            sum / (a.len() * b.len()) as f32
        };
        let mut likest = (ALIKE, 0, 0);
        for a in 0..groups.len() {
            for b in 0..a {
                let likeness = between(&groups[a], &groups[b]);
                if likeness > likest.0 {
                    likest = (likeness, a, b);
                }
            }
        }
        let (_, a, b) = likest;
        if a == b {
            break;
        }
        let joined = groups.remove(a);
        groups[b].extend(joined);
    }
    let mut kinds = vec![0; n];
    for group in groups {
        let first = group.iter().copied().min().unwrap_or_default();
        group.into_iter().for_each(|phrase| kinds[phrase] = first);
    }
    kinds
}

/// How alike two phrases are, beat by beat from their starts: 0 where one is much longer.
fn likeness(
    heard: &Heard,
    inputs: &[[f32; N_INPUTS]],
    a: (usize, usize),
    b: (usize, usize),
) -> f32 {
    /// Weights of the network's directions, of harmony and of timbre.
    const WEIGHTS: [f32; 3] = [0.55, 0.3, 0.15];
    const FEWEST_BEATS: usize = 4;
    let (length_a, length_b) = (a.1 - a.0, b.1 - b.0);
    let shorter = length_a.min(length_b);
    if shorter * 3 < length_a.max(length_b) * 2 || shorter < FEWEST_BEATS {
        return 0.0;
    }
    let dot = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f32>();
    let beats = (a.0..a.0 + shorter).zip(b.0..b.0 + shorter);
    let alike = beats.map(|(a, b)| {
        let sound =
            |beat: usize, part: Range<usize>| inputs.get(beat).map_or(&[][..], |x| &x[part]);
        WEIGHTS[0] * dot(&heard.directions[a], &heard.directions[b])
            + WEIGHTS[1] * dot(sound(a, HARMONY), sound(b, HARMONY))
            + WEIGHTS[2] * dot(sound(a, TIMBRE), sound(b, TIMBRE))
    });
    alike.sum::<f32>() / shorter as f32
}

#[cfg(test)]
mod tests {
    use super::super::network::DIRECTION;
    use super::*;

    /// A song such as `i16 v32 c32`: beats of a letter point its way and are of its sort.
    fn heard(form: &str) -> (Heard, Vec<usize>) {
        let (mut heard, mut starts) = (Heard::default(), Vec::new());
        for phrase in form.split_whitespace() {
            let kind = phrase.as_bytes()[0];
            let sort = match kind {
                b'i' => INTRO,
                b'v' | b'w' => 2,
                b'c' => 4,
                b'e' => ENDING,
                b't' | b'u' => TUNE,
                _ => 0,
            };
            starts.push(heard.starts.len());
            for beat in 0..phrase[1..].parse::<usize>().unwrap() {
                heard.starts.push(if beat == 0 { 5.0 } else { -5.0 });
                let flat = if sort == 0 { 1.0 / SORTS as f32 } else { 0.01 };
                let mut sorts = [flat; SORTS];
                if sort > 0 {
                    sorts[sort] = 0.91;
                }
                heard.sorts.push(sorts.map(f32::ln));
                let mut direction = [0.0; DIRECTION];
                direction[usize::from(kind) % DIRECTION] = 1.0;
                heard.directions.push(direction);
            }
        }
        (heard, starts)
    }

    fn told(form: &str) -> Vec<(String, String)> {
        let (heard, starts) = heard(form);
        let labels = labels(&heard, &[], &starts, heard.starts.len());
        labels.into_iter().map(|label| (label.word, label.letter)).collect()
    }

    fn pairs(wanted: &[(&str, &str)]) -> Vec<(String, String)> {
        wanted.iter().map(|(a, b)| ((*a).to_string(), (*b).to_string())).collect()
    }

    #[test]
    fn words_where_they_can_be_told_and_letters_always() {
        let wanted = [
            ("intro", "A"),
            ("verse", "B"),
            ("chorus", "C"),
            ("verse", "B"),
            ("phrase D", "D"),
            ("chorus", "C"),
            ("ending", "E"),
        ];
        assert_eq!(told("i16 v32 c32 v36 x16 c32 e8"), pairs(&wanted));
    }

    #[test]
    fn two_verses_of_other_music_share_the_word_and_not_the_letter() {
        assert_eq!(told("v32 w32 v32"), pairs(&[("verse", "A"), ("verse", "B"), ("verse", "A")]));
    }

    #[test]
    fn parts_of_a_tune_are_called_by_letters() {
        assert_eq!(
            told("t16 t16 u16 u16"),
            pairs(&[("A", "A"), ("A", "A"), ("B", "B"), ("B", "B")])
        );
    }

    #[test]
    fn a_long_phrase_that_sounds_like_an_intro_and_comes_again_is_none() {
        // The same music, later without the look of an intro.
        let (mut heard, starts) = heard("i32 c32 i32 c32");
        for sorts in &mut heard.sorts[64..96] {
            *sorts = [0.1f32.ln(); SORTS];
        }
        assert_ne!(labels(&heard, &[], &starts, 128)[0].word, "intro");
        assert_eq!(told("i16 c32 i16 c32")[0].0, "intro");
    }

    #[test]
    fn letters_do_not_run_out() {
        assert_eq!([letter(0), letter(25), letter(26)], ["A", "Z", "A2"]);
    }
}
