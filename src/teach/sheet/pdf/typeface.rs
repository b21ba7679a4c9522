//! The type that PDFs are set in, and how wide words are in it.

use krilla::text::Font;

use crate::error::{Error, Result};

const REGULAR: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSansCondensed.ttf");
const BOLD: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSansCondensed-Bold.ttf");

/// Stands for what the type has no sign for.
const NO_SIGN: char = '\u{FFFD}';

/// Regular and bold.
pub(super) struct Typeface {
    regular: (Font, ttf_parser::Face<'static>),
    bold: (Font, ttf_parser::Face<'static>),
}

impl Typeface {
    pub(super) fn new() -> Result<Typeface> {
        let cut = |bytes: &'static [u8]| {
            let font = Font::new(bytes.into(), 0);
            let face = ttf_parser::Face::parse(bytes, 0).ok();
            font.zip(face).ok_or_else(|| Error::Usage("the type of the PDF cannot be read".into()))
        };
        Ok(Typeface { regular: cut(REGULAR)?, bold: cut(BOLD)? })
    }

    pub(super) fn font(&self, bold: bool) -> Font {
        if bold { self.bold.0.clone() } else { self.regular.0.clone() }
    }

    /// The text with a sign in the place of each that the type has not.
    pub(super) fn printable(&self, text: &str) -> String {
        let has = |c: char| self.regular.1.glyph_index(c).is_some();
        text.chars().map(|c| if has(c) { c } else { NO_SIGN }).collect()
    }

    /// How wide a text is at a size, in points.
    pub(super) fn width(&self, text: &str, size: f32, bold: bool) -> f32 {
        let face = if bold { &self.bold.1 } else { &self.regular.1 };
        let units: u32 = text
            .chars()
            .filter_map(|c| face.glyph_index(c).or_else(|| face.glyph_index(NO_SIGN)))
            .filter_map(|glyph| face.glyph_hor_advance(glyph))
            .map(u32::from)
            .sum();
        units as f32 * size / f32::from(face.units_per_em())
    }

    /// The text in lines no wider than `most`, broken at blanks; longer words are broken inside.
    pub(super) fn wrapped(&self, text: &str, most: f32, size: f32, bold: bool) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in text.split(' ').filter(|w| !w.is_empty()) {
            let longer = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
            if self.width(&longer, size, bold) <= most {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in word.chars() {
                line.push(c);
                if self.width(&line, size, bold) > most && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, c.to_string()));
                }
            }
        }
        if !line.is_empty() || lines.is_empty() {
            lines.push(line);
        }
        lines
    }
}
