//! Lines that may be headings by their looks: a few words, counts, and what stands behind a colon.

use super::field::is_field_name;
use super::heading::part_word;
use super::numerals::ordinal;
use super::phrases::{count_range, times_word};
use super::vocabulary::{content, plain_words};
use super::words::{is_counts_word, key, length, number};

/// The longest name of a part, in words.
pub(super) const MOST_NAME_WORDS: usize = 4;

/// A line that may be a heading.
#[derive(Debug, Clone)]
pub(super) struct Title {
    /// The bytes of its name.
    pub(super) name: (usize, usize),
    pub(super) counts: Option<(u32, usize)>,
    /// Where steps begin behind it.
    pub(super) rest: Option<usize>,
    /// Whether signs around it say that it is one: a colon, brackets, strokes, counts.
    pub(super) marked: bool,
    /// Whether other words stand beside it.
    pub(super) more: bool,
    pub(super) times: u32,
}

/// Reads a line as a title: a few words, counts, and what stands behind a colon.
pub(super) fn title(text: &str) -> Option<Title> {
    const SIGNS: &[char] = &['-', '=', '*', '~', '_', '[', ']', '#', ':', '.', ' '];
    let trimmed_end = text.trim_end().len();
    let from = text.len() - text.trim_start_matches(SIGNS).len();
    if from >= trimmed_end || text.trim().len() > 120 || text.trim_start().starts_with('#') {
        return None;
    }
    let drawn = from > text.len() - text.trim_start().len()
        && !text.trim_start().starts_with("- ")
        && !text.trim_start().starts_with("* ");
    let rest = &text[from..trimmed_end];
    let to = from + name_length(rest);
    let name = text[from..to].trim_end_matches(|c: char| SIGNS.contains(&c) || c == ',');
    let words = plain_words(name);
    if words.is_empty() || words.len() > MOST_NAME_WORDS || !name.chars().any(char::is_alphanumeric)
    {
        return None;
    }
    // `Second Step` may be a part's name.
    let numbered = words.len() == 2 && ordinal(words[0]).is_some() && key(words[1]) == "step";
    let danced = content(name).steps > 0 && !is_known_part(name) && !numbered;
    let often = words.iter().any(|w| times_word(w).is_some() || key(w) == "times")
        || words.windows(2).any(|w| w[0].eq_ignore_ascii_case("x") && number(w[1]).is_some());
    // `115-118  Moonlit Wander (4)` are counts of a part.
    let ranged = name.split_whitespace().next().and_then(count_range).is_some() && words.len() > 1;
    if number(words[0]).is_some() && words.len() > 1 || ranged || danced || often {
        return None;
    }
    let tail = &text[to..trimmed_end];
    let colon = tail.trim_start().starts_with(':')
        || name.len() < to - from && text[from + name.len()..to].contains(':');
    let mut out = Title {
        name: (from, from + name.len()),
        counts: None,
        rest: None,
        marked: drawn || colon,
        more: false,
        times: 1,
    };
    read_tail(text, (to, trimmed_end), colon, &mut out);
    Some(out).filter(|t| {
        !is_field_name(&key(name)) || t.counts.is_some() && part_word(words[0]).is_some()
    })
}

/// Bytes of a name: up to a bracket, colon, comma, dash or a number that is counts.
fn name_length(text: &str) -> usize {
    let cut =
        text.find(['(', '[', ':', ',', '=', '"', '\u{2022}', ';', '|', ']']).unwrap_or(text.len());
    let dash = text.find(" - ").or_else(|| text.find(" --")).unwrap_or(text.len());
    let gap = text.find("   ").unwrap_or(text.len());
    let cut = cut.min(dash).min(gap).max(1);
    let before = &text[..floor(text, cut)];
    // `Verse 32`: counts, not a label.
    let last = before.trim_end().rsplit(' ').next().unwrap_or("");
    let words = before.split_whitespace().count();
    let letter = words == 2 && before.trim_start().chars().nth(1) == Some(' ');
    let counted = words > 1 && number(last).is_some_and(|n| n >= 8 || letter && n > 1);
    let unit = words > 2 && is_counts_word(last);
    let mut end = before.trim_end().len();
    if unit {
        end = before[..end - last.len()].trim_end().len();
        let number_word = before[..end].rsplit(' ').next().unwrap_or("");
        return end - number_word.len();
    }
    if counted { end - last.len() } else { before.len() }
}

fn floor(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0)
}

/// Counts, times and steps behind a name.
fn read_tail(text: &str, (from, to): (usize, usize), colon: bool, out: &mut Title) {
    let tail = &text[from..to];
    let mut at = from;
    for piece in tail.split(|c: char| "()[]:,=;|\u{2022}".contains(c) || c == '"') {
        let start = at;
        at += piece.len() + text[at + piece.len()..].chars().next().map_or(0, char::len_utf8);
        let trimmed = piece.trim_matches(|c: char| {
            c.is_whitespace() || matches!(c, '-' | '.' | '*' | '~' | '#' | '>' | '<')
        });
        if trimmed.is_empty() {
            continue;
        }
        let words: Vec<&str> = trimmed.split_whitespace().collect();
        let in_digits = trimmed.starts_with(|c: char| c.is_ascii_digit()) || words.len() > 1;
        let counted =
            length(&words).filter(|(n, used)| *used <= words.len() && *n >= 2 && in_digits);
        let per = |w: &&str| {
            matches!(
                key(w).as_str(),
                "per"
                    | "each"
                    | "total"
                    | "in"
                    | "all"
                    | "couple"
                    | "long"
                    | "as"
                    | "well"
                    | "too"
                    | "also"
                    | "only"
            )
        };
        if let Some((n, _)) = counted.filter(|(_, used)| words[*used..].iter().all(per))
            && out.counts.is_none()
        {
            out.counts = Some((n, start));
            out.marked = true;
            continue;
        }
        if let [one] = words[..]
            && let Some(n) = times_word(one).filter(|n| (1..=12).contains(n))
        {
            out.times = n;
            continue;
        }
        if content(&text[start..to]).is_steps() {
            let indent = text[start..].len() - text[start..].trim_start_matches([' ', '-']).len();
            out.rest = Some(start + indent);
            out.more |= !colon && !is_known_part(&text[out.name.0..out.name.1]);
            return;
        }
        let set_off = text[..start].trim_end().ends_with(['(', '[', '"', '-']);
        out.more |= !set_off && !tail.trim_start().starts_with('-');
    }
}

/// `Verse 2`, `Part A`, `B`: a name that every reader knows.
pub(super) fn is_known_part(name: &str) -> bool {
    let name = key(name);
    let words: Vec<&str> = name.split(' ').collect();
    let letter = words.len() == 1
        && name.len() <= 2
        && name.starts_with(|c: char| c.is_ascii_alphabetic())
        && name != "l"
        && name != "r";
    letter || words.iter().any(|w| part_word(w).is_some() && w.len() > 2)
}
