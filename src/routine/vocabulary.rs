//! What the words of a text are: names of steps, movements, words that say how a step goes, other words. From it the
//! reader tells a line of steps from a note, whatever the line looks like.

use super::glossary;
use super::movement::find_movement;
use super::notation::read_movements;
use super::phrases::{count_range, is_style_word, times_word};
use super::words::{foot, is_counts_word, number};

/// The longest name of a step, in words.
pub(super) const MOST_NAME_WORDS: usize = 5;
/// Names stay below so many letters.
const MOST_NAME_LETTERS: usize = 60;

/// How a text is made up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Content {
    /// Names of steps and runs of movements in it.
    pub(super) steps: usize,
    /// Words of those names.
    pub(super) step_words: usize,
    /// Words that say how, how often, which way.
    pub(super) plain: usize,
    /// Any other words.
    pub(super) other: usize,
    /// Words in front of the first step that lead to no step.
    pub(super) before: usize,
}

impl Content {
    /// Whether the text is a line of steps: steps make up a good part of it, or stand at its start.
    pub(super) fn is_steps(&self) -> bool {
        let words = self.step_words + self.plain + self.other;
        let mostly = self.other <= self.step_words + 1 && words <= 4 * self.step_words + 4;
        self.steps > 0 && (self.before == 0 || mostly)
    }
}

/// Looks at the words of a text.
pub(super) fn content(text: &str) -> Content {
    let words = plain_words(text);
    let mut out = Content::default();
    let mut i = 0;
    while i < words.len() {
        if let Some(used) = step_at(&words[i..]) {
            out.steps += 1;
            out.step_words += used;
            i += used;
            continue;
        }
        match is_plain_word(words[i]) {
            true => out.plain += 1,
            false => out.other += 1,
        }
        out.before += usize::from(out.steps == 0 && !leads_to_a_step(words[i]));
        i += 1;
    }
    out
}

/// Words without the signs around them.
pub(super) fn plain_words(text: &str) -> Vec<&str> {
    text.split(|c: char| c.is_whitespace() || ",;:()[]{}+|\"!?>=".contains(c))
        .map(|w| w.trim_matches(|c: char| matches!(c, '.' | '\'' | '*' | '-' | '_' | '~' | '/')))
        .filter(|w| !w.is_empty())
        .collect()
}

/// How many words at the start name a step or are movements.
pub(super) fn step_at(words: &[&str]) -> Option<usize> {
    let named = glossary::longest_name(words, MOST_NAME_WORDS, MOST_NAME_LETTERS);
    named.or_else(|| words.first().is_some_and(|w| is_movement_word(w)).then_some(1))
}

/// `DS`, `DS-DS-RS`, `Stomp`: movements, not a word of a sentence.
fn is_movement_word(word: &str) -> bool {
    let capitals = !word.chars().any(char::is_lowercase) && word.chars().count() > 1;
    let whole_words = word.contains('-') && word.split('-').all(|w| w.len() > 2);
    let chain = word.contains(['-', '*', '/']) && (capitals || whole_words);
    match chain || capitals && word.chars().count() <= 4 {
        true => read_movements(word).is_some() && foot(word).is_none() && number(word).is_none(),
        false => {
            word.chars().count() > 3
                && !is_style_word(&word.to_lowercase())
                && find_movement(word).is_some()
        }
    }
}

/// A number, counts, a foot, or only signs: it says how often, how long, on which side.
fn is_figure(word: &str, lower: &str) -> bool {
    number(lower).is_some()
        || times_word(lower).is_some()
        || count_range(lower).is_some()
        || is_counts_word(lower)
        || foot(word).is_some()
        || !lower.chars().any(char::is_alphabetic)
}

/// Numbers and words that stand in front of a step.
fn leads_to_a_step(word: &str) -> bool {
    let lower = word.to_lowercase();
    is_figure(word, &lower)
        || matches!(
            lower.as_str(),
            "a" | "an"
                | "the"
                | "and"
                | "then"
                | "do"
                | "dance"
                | "another"
                | "x"
                | "times"
                | "now"
                | "next"
        )
}

/// Words that say how a step goes, or only join.
pub(super) fn is_plain_word(word: &str) -> bool {
    let lower = word.to_lowercase();
    is_figure(word, &lower)
        || is_style_word(&lower)
        || matches!(
            lower.as_str(),
            "and"
                | "then"
                | "a"
                | "an"
                | "the"
                | "each"
                | "ea"
                | "every"
                | "of"
                | "do"
                | "again"
                | "repeat"
                | "same"
                | "other"
                | "opposite"
                | "opp"
                | "foot"
                | "feet"
                | "ft"
                | "half"
                | "quarter"
                | "full"
                | "another"
                | "x"
                | "times"
                | "two"
                | "once"
                | "more"
                | "pause"
                | "hold"
                | "rest"
                | "alternate"
                | "alt"
                | "going"
                | "bars"
                | "bar"
                | "measures"
                | "wall"
                | "by"
                | "one"
                | "both"
                | "them"
                | "all"
                | "way"
                | "round"
                | "box"
                | "first"
                | "second"
                | "last"
                | "only"
                | "xif"
                | "xib"
                | "ots"
                | "fwd"
                | "bkwd"
                | "bk"
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_steps_are_told_from_notes() {
        for steps in [
            "2 Triple",
            "Triple forward, 4",
            "then two fancy doubles",
            "DS DS RS",
            "Mountain goat L",
            "(4) Slur vine",
        ] {
            assert!(content(steps).is_steps(), "{steps}: {:?}", content(steps));
        }
        for note in [
            "Keep your knees loose",
            "Face your partner and smile on the last chain of the verse tonight",
            "Music at www.lark.example",
            "Verse, Chorus, Verse",
        ] {
            assert!(!content(note).is_steps(), "{note}: {:?}", content(note));
        }
    }
}
