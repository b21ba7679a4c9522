//! How a line is typed, whatever it says: numbers, names of steps and signs in their order. Two lines of one shape are
//! read alike; a few shapes can be read in one way only.

use super::vocabulary::{is_plain_word, step_at};
use super::words::{is_bars_word, is_counts_word, number};

/// Signs with which a line may begin, and which say nothing.
const BULLETS: [char; 4] = ['-', '*', '\u{2022}', '>'];

/// A piece of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Piece<'t> {
    Number,
    Word(&'t str),
    Sign(char),
    /// A tab or a run of blanks that sets what follows in a column.
    Gap,
}

/// The shapes of the clauses of a line of steps. Feet, turns and words that say how are left out.
pub(super) fn shapes_of_steps(text: &str) -> Vec<String> {
    let uncalled = without_calls(without_bullet(text));
    let pieces = pieces(&uncalled);
    let joins = |p: &Piece<'_>| match p {
        Piece::Sign(sign) => matches!(sign, ',' | ';' | '+' | '&'),
        Piece::Word(word) => matches!(word.to_lowercase().as_str(), "and" | "then"),
        _ => false,
    };
    pieces.split(joins).map(clause).collect()
}

/// Whether a shape of a clause of steps can be read in one way only.
pub(super) fn is_plain_clause(shape: &str) -> bool {
    const BEHIND: [&str; 9] = ["", "(9)", "x9", "x9(9)", "9x", "9x(9)", "(x9)", "(x9)(9)", "(9)x9"];
    let (numbered, shape) = match shape.strip_prefix('9') {
        Some(rest) => (true, rest.strip_prefix('x').unwrap_or(rest)),
        None => (false, shape),
    };
    let behind = shape.strip_prefix('S').unwrap_or(shape);
    // With the number of times in front, one set off behind is the counts.
    BEHIND.contains(&behind) || numbered && matches!(behind, "-9" | " 9" | ".9" | "=9")
}

/// The shape of a heading.
pub(super) fn shape_of_heading(text: &str) -> String {
    let mut out = String::new();
    // Pictures and ornaments say nothing.
    let text = text.trim_matches(|c: char| !c.is_ascii() && !c.is_alphanumeric() || c == ' ');
    for piece in pieces(text.trim()) {
        match piece {
            Piece::Word(word) => {
                push_once(&mut out, if is_unit(word) { 'u' } else { 'w' });
            }
            Piece::Number => out.push('9'),
            Piece::Gap => out.push(' '),
            Piece::Sign(sign) => push_once(&mut out, sign),
        }
    }
    out.trim_end_matches([':', ' ']).to_string()
}

/// Whether a heading's shape can be read in one way only.
pub(super) fn is_plain_heading(shape: &str) -> bool {
    let shape = shape.strip_prefix("w9").map_or(shape, |_| &shape[1..]);
    matches!(
        shape,
        "w" | "w(9)"
            | "9(9)"
            | "w(9u)"
            | "9(9u)"
            | "w[9]"
            | "9[9]"
            | "w-9"
            | "9-9"
            | "w-9u"
            | "9-9u"
            | "w9u"
            | "w 9u"
            | "w,9u"
            | "w:9u"
            | "[w]"
            | "[w]9"
            | "[w9]"
            | "-w-"
            | "-w-9"
            | "-w-(9)"
    )
}

fn is_unit(word: &str) -> bool {
    let word = word.to_lowercase();
    let eights = matches!(word.as_str(), "eights" | "eight" | "temps" | "takte");
    eights || word.len() > 1 && is_counts_word(&word) || is_bars_word(&word)
}

fn push_once(out: &mut String, sign: char) {
    if !out.ends_with(sign) {
        out.push(sign);
    }
}

/// A line without the sign in front of it.
fn without_bullet(text: &str) -> &str {
    let text = text.trim();
    match text.strip_prefix(BULLETS) {
        Some(rest) if rest.starts_with(char::is_whitespace) => rest.trim_start(),
        _ => text,
    }
}

/// A line without what stands in quotes, calls and words of the song, and without a note behind a dash.
fn without_calls(text: &str) -> String {
    let text = match text.split_once(" - ") {
        Some((steps, note)) if !note.contains(|c: char| c.is_ascii_digit()) => steps,
        _ => text,
    };
    match text.matches('"').count() {
        n if n % 2 == 1 => text.to_string(),
        _ => text.split('"').step_by(2).collect(),
    }
}

/// The shape of one clause.
fn clause(pieces: &[Piece<'_>]) -> String {
    let mut out = String::new();
    let mut i = 0;
    while let Some(piece) = pieces.get(i) {
        i += 1;
        match *piece {
            // `1/4`, `9:00`
            Piece::Number if matches!(pieces[i..], [Piece::Sign('/' | ':'), Piece::Number, ..]) => {
                i += 2;
            }
            Piece::Number => out.push('9'),
            Piece::Gap => out.push(' '),
            // `DS*DS*RS`
            Piece::Sign('*')
                if out.ends_with('S') && matches!(pieces.get(i), Some(Piece::Word(_))) => {}
            Piece::Sign(sign) => push_once(&mut out, sign),
            // `pause 2`
            Piece::Word(word) if is_pause(word) && pieces.get(i) == Some(&Piece::Number) => {
                push_once(&mut out, 'S');
                i += 1;
            }
            Piece::Word(word) => {
                let words: Vec<&str> = pieces[i - 1..].iter().map_while(word_of).collect();
                if let Some(used) = step_at(&words) {
                    push_once(&mut out, 'S');
                    i += used - 1;
                } else {
                    push_word(&mut out, word);
                }
            }
        }
    }
    // A note in brackets, `(arms low)`.
    out.replace("(w)", "").replace("()", "").trim_matches([' ', '.', '!', '-']).to_string()
}

fn push_word(out: &mut String, word: &str) {
    match word.to_lowercase().as_str() {
        "x" | "times" | "time" => push_once(out, 'x'),
        lower if number(lower).is_some() => out.push('9'),
        lower if is_bars_word(lower) => out.push('m'),
        lower if is_plain_word(word) || is_turn_word(lower) => {}
        _ => push_once(out, 'w'),
    }
}

fn is_pause(word: &str) -> bool {
    ["pause", "hold", "rest"].iter().any(|pause| word.eq_ignore_ascii_case(pause))
}

fn is_turn_word(lower: &str) -> bool {
    matches!(lower, "turn" | "turning" | "facing" | "face" | "front" | "back" | "on" | "to")
}

fn word_of<'t>(piece: &Piece<'t>) -> Option<&'t str> {
    match piece {
        Piece::Word(word) => Some(word),
        _ => None,
    }
}

fn pieces(text: &str) -> Vec<Piece<'_>> {
    let mut out = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let run = |is: fn(char) -> bool| rest.find(|c| !is(c)).unwrap_or(rest.len());
        let used = if c.is_ascii_digit() {
            let end = run(|c| c.is_ascii_digit());
            // A turn in degrees.
            if !matches!(&rest[..end], "90" | "180" | "270" | "360" | "720") {
                out.push(Piece::Number);
            }
            end
        } else if c.is_alphabetic() {
            let end = end_of_word(rest);
            out.push(Piece::Word(&rest[..end]));
            end
        } else if c.is_whitespace() {
            let end = run(char::is_whitespace);
            if end > 2 || rest[..end].contains('\t') {
                out.push(Piece::Gap);
            }
            end
        } else {
            out.push(Piece::Sign(c));
            c.len_utf8()
        };
        rest = &rest[used..];
    }
    out
}

/// Where a word ends; a dash or an apostrophe within it is a part of it.
fn end_of_word(text: &str) -> usize {
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let within =
            matches!(c, '-' | '\'') && chars.peek().is_some_and(|(_, next)| next.is_alphabetic());
        if !c.is_alphabetic() && !within {
            return at;
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_are_read_in_one_way_are_plain() {
        for line in [
            "2 Triple (8)",
            "- Triple x2 (8), turn 1/4 L on each, facing back",
            "4 Single Basics, 2 Fancy Doubles",
            "DS DS RS",
            "Rocking Chair L",
            "TRIPLE X2 (8 COUNTS)",
            "4 Triple 360 (arms low)",
            "DS*DS*R-S",
        ] {
            let shapes = shapes_of_steps(line);
            assert!(shapes.iter().all(|s| is_plain_clause(s)), "{line}: {shapes:?}");
        }
        for line in ["8   2 Triple", "Triple 2 8", "2 Tinker", "Triple .... 8", "Triple | 2 | 8"] {
            let shapes = shapes_of_steps(line);
            assert!(!shapes.iter().all(|s| is_plain_clause(s)), "{line}: {shapes:?}");
        }
    }

    #[test]
    fn headings_that_are_read_in_one_way_are_plain() {
        for line in ["Part A (32)", "Chorus:", "VERSE - 32 counts", "Part B"] {
            assert!(is_plain_heading(&shape_of_heading(line)), "{line}");
        }
        for line in ["No. 14", "In: 16", "> 1 Clap (1)", "A ~32"] {
            assert!(!is_plain_heading(&shape_of_heading(line)), "{line}");
        }
    }
}
