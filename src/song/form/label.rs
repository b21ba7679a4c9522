//! What phrases are called, where that can be told, and which are the same again.

use super::inputs::{HARMONY, LOUDNESS, N_INPUTS};
use super::network::{Heard, SORTS};

/// Words for the sorts of phrase that the network tells apart; the first is what is not counted, the last a
/// part of a dance tune, which has a letter only.
const WORDS: [&str; SORTS] =
    ["", "intro", "verse", "pre-chorus", "chorus", "bridge", "instrumental", "break", "ending", ""];
const INTRO: usize = 1;
pub(super) const INTRO_WORD: &str = WORDS[INTRO];
const BREAK: usize = 7;
const ENDING: usize = 8;
const TUNE: usize = 9;
/// A word less likely than this is not said.
const SAID: f32 = 0.4;
/// What opens the song is called its intro from here on where it does not come again, and where it does.
const INTRO_SAID: [f32; 2] = [0.2, 0.5];
/// Beats up to which what opens a dance tune and does not come again, as every part of a tune does, is its intro.
const BEFORE_TUNE: usize = 16;
/// Beats from which on a first phrase that comes again is no intro, unless it is this likely to be one.
const LONG: usize = 32;
const SURELY: f32 = 0.75;
/// Phrases are the same again that exceed the song's usual likeness by this share of what is left up to 1.
const ALIKE: f32 = 0.19;
/// A song's usual likeness is held to be no more than this: all phrases of a hymn are one.
const MOST_USUAL: f32 = 0.5;

/// What is said of a phrase.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// A word, where one can be told; `phrase` with its letter elsewhere; for a part of a tune its letter.
    pub word: String,
    /// The same for phrases that are the same again: A, B, …; empty for an intro that does not come again.
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
    let opening = opening(&phrases, &kinds, &intros(heard, &phrases, &sorts), &sorts);
    // An intro takes no letter from what is danced.
    let mut letters: Vec<usize> = Vec::new();
    for &kind in &kinds[opening..] {
        if !letters.contains(&kind) {
            letters.push(kind);
        }
    }
    let told: Vec<Kind> = letters
        .iter()
        .map(|&kind| Kind::of(kind, &kinds, &sorts, |phrase| loudness(inputs, phrases[phrase])))
        .collect();
    let words = words_of(&told);
    let last = phrases.len().saturating_sub(1);
    let mut labels = Vec::with_capacity(phrases.len());
    for (i, &kind) in kinds.iter().enumerate() {
        let place = letters.iter().position(|&k| k == kind);
        let letter = place.map(letter).unwrap_or_default();
        let word = match place.map(|place| words[place]) {
            _ if i < opening => WORDS[INTRO].to_string(),
            _ if i == last && i > 0 && sorts[i][ENDING] > SAID => WORDS[ENDING].to_string(),
            Some(TUNE) => letter.clone(),
            Some(sort) if sort > 0 => WORDS[sort].to_string(),
            _ => format!("phrase {letter}"),
        };
        labels.push(Label { word, letter });
    }
    labels
}

/// Odds of each phrase to be the intro: the mean of what its beats say, and of what is heard of where the wait is over, here or
/// after it.
fn intros(heard: &Heard, phrases: &[(usize, usize)], sorts: &[[f32; SORTS]]) -> Vec<f32> {
    /// Beats to either side of a phrase's start that are heard as it.
    const NEAR: usize = 1;
    /// Where nothing is heard, all phrases are as likely.
    const LEAST: f32 = 1e-4;
    /// Odds beyond this say no more, log.
    const MOST: f32 = 9.0;
    let steps = |&(start, _): &(usize, usize)| {
        let last = (start + NEAR + 1).min(heard.first_steps.len());
        let near = start.saturating_sub(NEAR)..last;
        LEAST + near.map(|beat| heard.first_steps[beat].exp()).sum::<f32>()
    };
    let here: Vec<f32> = phrases.iter().map(steps).collect();
    let log_odds = |yes: f32, no: f32| (yes / no).ln().clamp(-MOST, MOST);
    let both = (0..phrases.len()).map(|i| {
        let later: f32 = here[i + 1..].iter().sum();
        let said = sorts[i][INTRO];
        let odds = (log_odds(said, 1.0 - said) + log_odds(later, here[i])) / 2.0;
        1.0 / (1.0 + (-odds).exp())
    });
    both.collect()
}

/// How many phrases open the song as its intro; never all.
fn opening(
    phrases: &[(usize, usize)],
    kinds: &[usize],
    intros: &[f32],
    sorts: &[[f32; SORTS]],
) -> usize {
    let length = |phrase: usize| phrases[phrase].1 - phrases[phrase].0;
    let intro = |&i: &usize| {
        // An intro may have the verse's chords; as long a phrase as the verse is the verse.
        let same = |&k: &usize| k != i && kinds[k] == kinds[i];
        let again = (i + 1..kinds.len()).filter(same).any(|k| length(k) <= length(i));
        let alone = !(0..kinds.len()).any(|k| same(&k));
        let before_tune = i == 0 && alone && sorts[i][TUNE] > SAID && length(i) <= BEFORE_TUNE;
        let likely = intros[i];
        before_tune
            || likely > INTRO_SAID[usize::from(!alone)]
                && (likely > SURELY || !(again && length(i) >= LONG))
    };
    (0..phrases.len().saturating_sub(1)).take_while(intro).count()
}

/// What is known of the phrases of one kind.
struct Kind {
    /// How many there are.
    times: usize,
    /// Mean probability of each sort.
    sorts: [f32; SORTS],
    /// Mean loudness, in deviations over the song.
    loudness: f32,
}

impl Kind {
    fn of(
        kind: usize,
        kinds: &[usize],
        sorts: &[[f32; SORTS]],
        loudness: impl Fn(usize) -> f32,
    ) -> Kind {
        let of_kind: Vec<usize> = (0..kinds.len()).filter(|&i| kinds[i] == kind).collect();
        let mean = |value: &dyn Fn(usize) -> f32| {
            of_kind.iter().map(|&i| value(i)).sum::<f32>() / of_kind.len().max(1) as f32
        };
        Kind {
            times: of_kind.len(),
            sorts: std::array::from_fn(|sort| mean(&|i| sorts[i][sort])),
            loudness: mean(&loudness),
        }
    }
}

/// A sort for each kind, 0 where none can be told. One kind at most is the chorus and one the verse: a chorus comes again,
/// is the louder, and seldom first.
fn words_of(kinds: &[Kind]) -> Vec<usize> {
    const VERSE: usize = 2;
    const CHORUS: usize = 4;
    const LOUDER: f32 = 0.3;
    const LATER: f32 = 0.2;
    let share = |kind: usize, sort: usize| kinds[kind].sorts[sort];
    let mut words = vec![0; kinds.len()];
    let tune = |kind: usize| share(kind, TUNE) > SAID;
    (0..kinds.len()).filter(|&kind| tune(kind)).for_each(|kind| words[kind] = TUNE);
    let repeated: Vec<usize> =
        (0..kinds.len()).filter(|&kind| kinds[kind].times > 1 && !tune(kind)).collect();
    if repeated.len() > 1 {
        let chorus = |kind: usize| {
            let later = if kind == repeated[0] { 0.0 } else { LATER };
            share(kind, CHORUS) - share(kind, VERSE) + LOUDER * kinds[kind].loudness + later
        };
        let best = repeated.iter().copied().max_by(|&a, &b| chorus(a).total_cmp(&chorus(b)));
        best.into_iter().for_each(|kind| words[kind] = CHORUS);
        let verse = |kind: usize| {
            kinds[kind].times as f32 + share(kind, VERSE) - share(kind, INTRO) - share(kind, BREAK)
        };
        let rest = repeated.iter().copied().filter(|&kind| Some(kind) != best);
        let best = rest.max_by(|&a, &b| verse(a).total_cmp(&verse(b)));
        best.into_iter().for_each(|kind| words[kind] = VERSE);
    }
    for kind in 0..kinds.len() {
        let told =
            [3, 5, 6, BREAK].into_iter().max_by(|&a, &b| share(kind, a).total_cmp(&share(kind, b)));
        if words[kind] == 0 {
            words[kind] = told.filter(|&sort| share(kind, sort) > SAID).unwrap_or(0);
        }
    }
    words
}

/// Mean loudness of a phrase, in deviations over the song; 0 where that is not known.
fn loudness(inputs: &[[f32; N_INPUTS]], (from, to): (usize, usize)) -> f32 {
    let beats = inputs.get(from..to).unwrap_or_default();
    beats.iter().map(|beat| beat[LOUDNESS]).sum::<f32>() / beats.len().max(1) as f32
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
    let like = likenesses(heard, inputs, phrases);
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

/// How much more alike any two phrases are than phrases of this song usually are: chords or a beat that go through the
/// whole song tell nothing. 0 as usual, 1 the same; pairs too unequal to compare are 0.
fn likenesses(
    heard: &Heard,
    inputs: &[[f32; N_INPUTS]],
    phrases: &[(usize, usize)],
) -> Vec<Vec<f32>> {
    let n = phrases.len();
    let length = |phrase: usize| (phrases[phrase].1 - phrases[phrase].0) as f32;
    let mut like = vec![vec![None; n]; n];
    let (mut sum, mut weights) = (0f32, 0f32);
    for a in 0..n {
        for b in 0..a {
            let Some(likeness) = compared(heard, inputs, phrases[a], phrases[b]) else { continue };
            like[a][b] = Some(likeness);
            like[b][a] = Some(likeness);
            sum += length(a) * length(b) * likeness;
            weights += length(a) * length(b);
        }
    }
    // Of two phrases there is nothing that is usual.
    let usual = if n > 2 { (sum / weights.max(1.0)).clamp(0.0, MOST_USUAL) } else { 0.0 };
    let above = |likeness: Option<f32>| likeness.map_or(0.0, |l| (l - usual) / (1.0 - usual));
    like.into_iter().map(|row| row.into_iter().map(above).collect()).collect()
}

/// How alike two phrases are, beat by beat from their starts, for as long as the shorter lasts: half a verse is the verse.
/// 0 where one is too short to tell.
pub(super) fn likeness(
    heard: &Heard,
    inputs: &[[f32; N_INPUTS]],
    a: (usize, usize),
    b: (usize, usize),
) -> f32 {
    compared(heard, inputs, a, b).unwrap_or(0.0)
}

/// The same, or `None` where one is too short to tell.
fn compared(
    heard: &Heard,
    inputs: &[[f32; N_INPUTS]],
    a: (usize, usize),
    b: (usize, usize),
) -> Option<f32> {
    const FEWEST_BEATS: usize = 4;
    /// Fewer than this are told apart only from about as few.
    const FEW_BEATS: usize = 8;
    let (length_a, length_b) = (a.1 - a.0, b.1 - b.0);
    let shorter = length_a.min(length_b);
    let much_longer = shorter * 3 < length_a.max(length_b) * 2;
    if shorter < FEWEST_BEATS || much_longer && shorter < FEW_BEATS {
        return None;
    }
    let beats = (a.0..a.0 + shorter).zip(b.0..b.0 + shorter);
    Some(beats.map(|(a, b)| likeness_of_beats(heard, inputs, a, b)).sum::<f32>() / shorter as f32)
}

/// How alike two beats are, in harmony and in where they point; up to 1.
pub(super) fn likeness_of_beats(
    heard: &Heard,
    inputs: &[[f32; N_INPUTS]],
    a: usize,
    b: usize,
) -> f32 {
    /// Weights of the network's directions and of harmony.
    const WEIGHTS: [f32; 2] = [0.6, 0.4];
    let dot = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f32>();
    let harmony = |beat: usize| inputs.get(beat).map_or(&[][..], |x| &x[HARMONY]);
    WEIGHTS[0] * dot(&heard.directions[a], &heard.directions[b])
        + WEIGHTS[1] * dot(harmony(a), harmony(b))
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
                b'c' | b'd' => 4,
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
        // Of the first step nothing is known but that it is on the first or second phrase.
        heard.first_steps = vec![-20.0; heard.starts.len()];
        starts.iter().take(2).for_each(|&start| heard.first_steps[start] = 0.5f32.ln());
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
            ("intro", ""),
            ("verse", "A"),
            ("chorus", "B"),
            ("verse", "A"),
            ("phrase C", "C"),
            ("chorus", "B"),
            ("ending", "D"),
        ];
        assert_eq!(told("i16 v32 c32 v36 x16 c32 e8"), pairs(&wanted));
    }

    #[test]
    fn one_kind_at_most_is_the_chorus() {
        let wanted = [("verse", "A"), ("chorus", "B"), ("verse", "A"), ("chorus", "B")];
        assert_eq!(told("c32 d32 c32 d32"), pairs(&wanted), "where both look like one");
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
        // The same music, later without the look of an intro, which is likely but not sure at first.
        let (mut heard, starts) = heard("i32 c32 i32 c32");
        heard.sorts[..32].iter_mut().for_each(|sorts| sorts[INTRO] = 0.6f32.ln());
        for sorts in &mut heard.sorts[64..96] {
            *sorts = [0.1f32.ln(); SORTS];
        }
        assert_ne!(labels(&heard, &[], &starts, 128)[0].word, "intro");
        assert_eq!(told("i16 c32 i16 c32")[0].0, "intro");
    }

    #[test]
    fn an_opening_that_never_comes_again_is_sooner_an_intro() {
        let first = |form: &str, likely: f32| {
            let (mut heard, starts) = heard(form);
            heard.sorts[..16].iter_mut().for_each(|sorts| sorts[INTRO] = likely.ln());
            labels(&heard, &[], &starts, heard.starts.len()).remove(0).word
        };
        assert_eq!(first("x16 v32 c32 v32 c32", 0.3), "intro");
        assert_ne!(first("x16 v32 c32 x16 c32", 0.3), "intro");
        assert_ne!(first("x16 v32 c32 v32 c32", 0.04), "intro");
    }

    #[test]
    fn the_wait_is_over_where_the_first_step_is_heard() {
        let first = |steps: [f32; 2]| {
            let (mut heard, starts) = heard("x16 v32 c32 v32 c32");
            heard.sorts[..16].iter_mut().for_each(|sorts| sorts[INTRO] = 0.2f32.ln());
            for (&start, step) in starts.iter().zip(steps) {
                heard.first_steps[start] = step.ln();
            }
            labels(&heard, &[], &starts, heard.starts.len()).remove(0).word
        };
        assert_eq!(first([0.05, 0.9]), "intro");
        assert_ne!(first([0.9, 0.05]), "intro");
    }

    #[test]
    fn a_few_bars_before_a_tune_are_its_intro() {
        assert_eq!(told("u8 t16 t16 w16 w16")[0].0, "intro");
        assert_eq!(told("u16 t16 u16 t16")[0].0, "A");
        assert_eq!(told("u32 t16 t16 w16 w16")[0].0, "A");
    }

    #[test]
    fn letters_do_not_run_out() {
        assert_eq!([letter(0), letter(25), letter(26)], ["A", "Z", "A2"]);
    }
}
