//! A step line cut into words, brackets, quotes and separators, each with its place.

/// What a piece of a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Piece<'a> {
    /// Letters, digits and signs up to the next space, bracket or separator.
    Word(&'a str),
    /// What stands in `( )`.
    Round(&'a str),
    /// What stands in `[ ]` or `{ }`: movements that belong together.
    Square(&'a str),
    /// What stands in double quotes.
    Quote(&'a str),
    /// Ends a step: `,` `;` `+` `>`.
    Separator,
    /// A dash with space around it: a step or a note follows.
    Dash,
}

/// A piece and its place in the line, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Token<'a> {
    /// What it is.
    pub piece: Piece<'a>,
    /// First byte.
    pub at: usize,
    /// Byte after the last.
    pub end: usize,
}

impl<'a> Token<'a> {
    /// The word, when it is one.
    pub fn word(&self) -> Option<&'a str> {
        match self.piece {
            Piece::Word(word) => Some(word),
            _ => None,
        }
    }
}

/// Cuts `text` into tokens; places count from `offset`. The second value is the place of a bracket or
/// quote that is never closed.
pub fn tokens(text: &str, offset: usize) -> (Vec<Token<'_>>, Option<usize>) {
    let mut out = Vec::new();
    let mut open = None;
    let mut at = 0;
    while let Some(c) = text[at..].chars().next() {
        let start = at;
        at += c.len_utf8();
        let piece = match c {
            c if c.is_whitespace() || matches!(c, ')' | ']' | '}' | '\u{2022}') => continue,
            '(' | '[' | '{' => {
                let (inner, after, closed) = bracketed(text, at, c);
                at = after;
                if !closed {
                    open = Some(offset + start);
                }
                if c == '(' { Piece::Round(inner) } else { Piece::Square(inner) }
            }
            '"' => {
                let rest = &text[at..];
                let inner = match rest.find('"') {
                    Some(end) => &rest[..end],
                    None => {
                        open = Some(offset + start);
                        rest
                    }
                };
                at = (at + inner.len() + 1).min(text.len());
                Piece::Quote(inner)
            }
            ',' | ';' | '+' | '>' | '|' => Piece::Separator,
            _ => {
                let rest = &text[start..];
                let length = rest
                    .find(|c: char| c.is_whitespace() || "()[]{}\",;+>|".contains(c))
                    .unwrap_or(rest.len());
                at = start + length;
                let word = &rest[..length];
                if word.chars().all(|c| c == '-') { Piece::Dash } else { Piece::Word(word) }
            }
        };
        out.push(Token { piece, at: offset + start, end: offset + at });
    }
    (out, open)
}

/// What stands inside the bracket opened before `at`, the place behind it, and whether it is closed.
fn bracketed(text: &str, at: usize, opened: char) -> (&str, usize, bool) {
    let (open, close) = match opened {
        '[' => ('[', ']'),
        '{' => ('{', '}'),
        _ => ('(', ')'),
    };
    let mut depth = 1;
    for (i, c) in text[at..].char_indices() {
        if c == open {
            depth += 1;
        } else if c == close {
            depth -= 1;
            if depth == 0 {
                return (&text[at..at + i], at + i + c.len_utf8(), true);
            }
        }
    }
    (&text[at..], text.len(), false)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_cut_with_its_places() {
        let (tokens, open) = tokens("2 Triple (8), DS-DS - \"go", 0);
        let pieces: Vec<_> = tokens.iter().map(|t| t.piece).collect();
        assert_eq!(
            pieces,
            [
                Piece::Word("2"),
                Piece::Word("Triple"),
                Piece::Round("8"),
                Piece::Separator,
                Piece::Word("DS-DS"),
                Piece::Dash,
                Piece::Quote("go"),
            ]
        );
        assert_eq!(tokens[1].at, 2);
        assert_eq!(open, Some(22));
    }

    #[test]
    fn unclosed_and_nested_brackets_end_somewhere() {
        for text in ["((((", "(a(b)c", ")))", "[(]", "\"", "é(ü", "(("] {
            let (tokens, _) = tokens(text, 0);
            assert!(tokens.iter().all(|t| t.end <= text.len()));
        }
    }
}
