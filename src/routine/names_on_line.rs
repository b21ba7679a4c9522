//! How many names of parts stand on a line, and whether anything else does.

use std::collections::HashSet;

use super::order_words::is_order_word;
use super::phrases::times_word;
use super::short_names::singular;
use super::titles::MOST_NAME_WORDS;
use super::vocabulary::plain_words;
use super::words::{key, number};

/// What a line says of parts.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Named {
    pub(super) names: usize,
    /// Names and numbers that are names.
    pub(super) numbers: usize,
    /// Whether one word more stands among several names: a name with a slip, or of a part that is missing.
    pub(super) slip: bool,
    /// Whether nothing else is on it.
    pub(super) only: bool,
    pub(super) from: usize,
}

/// Counts the names on a line.
pub(super) fn names_on(text: &str, names: &HashSet<String>) -> Named {
    let from =
        text.len() - text.trim_start_matches(|c: char| !c.is_alphanumeric() && c != '(').len();
    const FEWEST_BESIDE_A_SLIP: usize = 3;
    const FEWEST_IN_A_SENTENCE: usize = 5;
    let mut out = Named { names: 0, numbers: 0, only: true, slip: false, from };
    if text.trim_start().starts_with(['#', '/']) {
        return Named::default();
    }
    let without_brackets = outside_brackets(&text[from..]);
    let parts = |c: char| c.is_whitespace() || ",;:>/|+=.!&\u{2022}\u{2026}".contains(c);
    let words: Vec<String> = without_brackets
        .split(|c: char| parts(c) || c == '-')
        .map(key)
        .filter(|w| !w.is_empty())
        .collect();
    if words.len() > 60 {
        return Named { only: false, ..out };
    }
    let mut i = 0;
    while i < words.len() {
        let longest = (1..=MOST_NAME_WORDS.min(words.len() - i)).rev();
        let is_name = |n: &usize| {
            let name = words[i..i + n].join(" ");
            names.contains(&name) || singular(&name).any(|one| names.contains(one))
        };
        if let Some(n) = longest.into_iter().find(is_name) {
            // A number alone may be anything, and a small `a` among capitals is no part.
            let article = n == 1
                && words[i] == "a"
                && text.contains(char::is_uppercase)
                && !has_word(text, "A");
            out.names += usize::from((number(&words[i]).is_none() || n > 1) && !article);
            out.numbers += 1;
            i += n;
            continue;
        }
        let word = words[i].as_str();
        let known = is_order_word(word)
            || times_word(word).is_some()
            || matches!(
                word,
                "x" | "wait"
                    | "hold"
                    | "pose"
                    | "freeze"
                    | "bow"
                    | "out"
                    | "half"
                    | "only"
                    | "other"
                    | "opposite"
                    | "foot"
                    | "order"
                    | "sequence"
                    | "twice"
                    | "w"
            )
            || number(word).is_some_and(|n| n < 65);
        if !known && !is_letters(word, names, text) {
            // One such word may be a slip.
            (out.only, out.slip) = (false, out.only);
            i += 1;
            continue;
        }
        out.names += if known { 0 } else { word.len() };
        i += 1;
    }
    // Nothing but names beside it, or many in a sentence.
    let alone = out.names >= FEWEST_BESIDE_A_SLIP && out.names + 1 == words.len();
    out.slip &= alone || out.names >= FEWEST_IN_A_SENTENCE;
    out
}

fn has_word(text: &str, word: &str) -> bool {
    plain_words(text).contains(&word)
}

/// `ABAC`: names of one letter each.
fn is_letters(word: &str, names: &HashSet<String>, text: &str) -> bool {
    let upper = word.to_uppercase();
    word.len() > 2 && text.contains(&upper) && word.chars().all(|c| names.contains(&c.to_string()))
}

/// A text without what stands in brackets.
fn outside_brackets(text: &str) -> String {
    let mut depth = 0usize;
    text.chars()
        .filter_map(|c| match c {
            '(' => {
                depth += 1;
                Some(' ')
            }
            ')' => {
                depth = depth.saturating_sub(1);
                Some(' ')
            }
            '[' | ']' | '<' | '>' if depth == 0 => Some(' '),
            c => (depth == 0).then_some(c),
        })
        .collect()
}

/// `Run it like this: A, B, A`: names alone behind a label of the author's own.
pub(super) fn behind_a_label(text: &str, names: &HashSet<String>) -> Option<usize> {
    let at = text.find([':', '='])? + 1;
    if text.trim_start().starts_with('#') {
        return None;
    }
    let label = key(&text[..at - 1]);
    let named = names_on(&text[at..], names);
    (named.only && (named.names >= 2 || named.numbers > 3) && label.split(' ').count() <= 6)
        .then_some(at)
}
