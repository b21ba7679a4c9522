//! A line of the sheet: as typed, and as it is read.

/// A line of the sheet, its typography made plain character by character, so that a place in `text`
/// is the same place in what was typed; where a line is set in another order to be read, it knows from where
/// each character came.
#[derive(Debug, Clone)]
pub struct Line<'a> {
    /// 1-based.
    pub number: usize,
    /// As typed, without its line end.
    pub typed: &'a str,
    /// Plain: one sort of dash, quote and space.
    pub text: String,
    /// For each character of `text` its place in what was typed, where that is another.
    moved: Option<Vec<usize>>,
}

/// A piece of a line that is set in another order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Piece<'p> {
    /// As it stands, from one byte of the text to another.
    Kept(usize, usize),
    /// Words put in, which stand for what is at a byte of the text.
    Put(&'p str, usize),
}

impl<'a> Line<'a> {
    /// Folds a typed line.
    pub fn new(number: usize, typed: &'a str) -> Line<'a> {
        Line { number, typed, text: typed.chars().map(plain).collect(), moved: None }
    }

    /// As typed, with plain typography but for tabs.
    pub fn as_typed(&self) -> String {
        self.typed.chars().map(|c| if c == '\t' { c } else { plain(c) }).collect()
    }

    /// Sets the line's text in another order.
    pub fn set(&mut self, pieces: &[Piece<'_>]) {
        let place_of = |at: usize| {
            let index = self.text.get(..at).map_or(0, |before| before.chars().count());
            self.typed_place(index)
        };
        let (mut text, mut moved) = (String::new(), Vec::new());
        for piece in pieces {
            match *piece {
                Piece::Kept(from, to) => {
                    let Some(kept) = self.text.get(from..to) else { continue };
                    let first = self.text[..from].chars().count();
                    moved.extend((0..kept.chars().count()).map(|i| self.typed_place(first + i)));
                    text.push_str(kept);
                }
                Piece::Put(words, at) => {
                    let place = place_of(at);
                    moved.extend(words.chars().map(|_| place));
                    text.push_str(words);
                }
            }
        }
        (self.text, self.moved) = (text, Some(moved));
    }

    /// Makes it a note: what stands on it is told and not danced.
    pub fn set_as_note(&mut self) {
        let (from, to) = self.whole();
        self.set(&[Piece::Put("# ", from), Piece::Kept(from, to)]);
    }

    /// Puts signs around a stretch.
    pub fn enclose(&mut self, (from, to): (usize, usize), open: &str, close: &str) {
        let end = self.text.len();
        self.set(&[
            Piece::Kept(0, from),
            Piece::Put(open, from),
            Piece::Kept(from, to),
            Piece::Put(close, to),
            Piece::Kept(to, end),
        ]);
    }

    /// Puts spaces where something stands that says nothing.
    pub fn blank(&mut self, from: usize, to: usize) {
        let Some(stretch) = self.text.get(from..to) else { return };
        let spaces = " ".repeat(stretch.chars().count());
        self.text.replace_range(from..to, &spaces);
    }

    /// The typed character, 0-based, that the character of that index stands for.
    fn typed_place(&self, index: usize) -> usize {
        match &self.moved {
            None => index,
            Some(moved) => moved.get(index).copied().unwrap_or_else(|| self.typed.chars().count()),
        }
    }

    /// 1-based column, in characters, of a byte offset into `text`.
    pub fn column(&self, at: usize) -> usize {
        self.text.get(..at).map_or(1, |before| self.typed_place(before.chars().count()) + 1)
    }

    /// What was typed from byte `from` to byte `to` of `text`, trimmed.
    pub fn typed_between(&self, from: usize, to: usize) -> String {
        let (Some(before), Some(within)) = (self.text.get(..from), self.text.get(from..to)) else {
            return self.typed.trim().to_string();
        };
        let (first, number) = (before.chars().count(), within.chars().count());
        let Some(last) = number.checked_sub(1) else { return String::new() };
        let (from, to) = (self.typed_place(first), self.typed_place(first + last));
        let (from, to) = (from.min(to), from.max(to));
        let words: String = self.typed.chars().skip(from).take(to + 1 - from).collect();
        words.trim().to_string()
    }

    /// All that stands on it, in bytes, without the blanks around.
    pub fn whole(&self) -> (usize, usize) {
        (self.indent(), self.text.trim_end().len())
    }

    /// Byte offset in `text` of its first character that is not a space.
    pub fn indent(&self) -> usize {
        self.text.len() - self.text.trim_start().len()
    }
}

fn plain(c: char) -> char {
    match c {
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{FE58}' | '\u{FE63}' | '\u{FF0D}' => '-',
        '\u{2018}' | '\u{2019}' | '\u{201A}' | '\u{2032}' | '`' | '\u{00B4}' => '\'',
        '\u{201C}'..='\u{201F}' | '\u{00AB}' | '\u{00BB}' | '\u{2033}' => '"',
        '\u{00D7}' | '\u{2715}' | '\u{2716}' => 'x',
        '\u{2044}' | '\u{2215}' => '/',
        '\u{2192}' | '\u{21D2}' | '\u{25B6}' => '>',
        '\u{FF1A}' => ':',
        '\u{FF08}' | '\u{2768}' | '\u{276A}' | '\u{FF5F}' => '(',
        '\u{FF09}' | '\u{2769}' | '\u{276B}' | '\u{FF60}' => ')',
        '\u{3010}' | '\u{300C}' | '\u{300E}' | '\u{3014}' | '\u{3016}' | '\u{FF3B}'
        | '\u{2772}' | '\u{3008}' | '\u{300A}' | '\u{27E6}' => '[',
        '\u{3011}' | '\u{300D}' | '\u{300F}' | '\u{3015}' | '\u{3017}' | '\u{FF3D}'
        | '\u{2773}' | '\u{3009}' | '\u{300B}' | '\u{27E7}' => ']',
        '\u{FF0C}' | '\u{3001}' => ',',
        '\u{2022}' | '\u{00B7}' | '\u{25CF}' => '\u{2022}',
        c if c.is_whitespace() || c.is_control() || c == '\u{FEFF}' => ' ',
        // Ticks, stars and small pictures: they say nothing.
        '\u{25A0}'..='\u{25FF}'
        | '\u{2600}'..='\u{27BF}'
        | '\u{2B00}'..='\u{2BFF}'
        | '\u{FE00}'..='\u{FE0F}'
        | '\u{1F000}'..='\u{1FAFF}'
        | '\u{200D}'
        | '\u{20E3}' => ' ',
        c => c,
    }
}

/// Lines of a sheet, for tests.
#[cfg(test)]
pub(super) fn lines_of<'t>(texts: &[&'t str]) -> Vec<Line<'t>> {
    texts.iter().enumerate().map(|(i, text)| Line::new(i + 1, text)).collect()
}

/// What one stage makes of lines, with one blank between words, for tests.
#[cfg(test)]
pub(super) fn set_by(stage: impl Fn(&mut [Line<'_>]), texts: &[&str]) -> Vec<String> {
    let mut lines = lines_of(texts);
    stage(&mut lines);
    lines.iter().map(|l| l.text.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_counted_in_characters() {
        let line = Line::new(1, "\u{5E9}\u{5D9}\u{5E8} – Tripple");
        let at = line.text.find("Tripple").unwrap();
        assert_eq!(line.column(at), 7);
        assert_eq!(line.typed_between(0, at), "שיר –");
    }
}
