//! How wide words are at most, and how to make them fit.

use crate::plain::{boundaries, rides_along};

/// Most widths in hundredths of the type size for U+0020 to U+007E: for each character the wider of
/// DejaVu Sans and Nimbus Sans (the metrics of Helvetica and Arial), so that a label fits whichever
/// sans-serif the reader's machine has.
const REGULAR: [u8; 95] = [
    32, 41, 46, 84, 64, 96, 78, 28, 40, 40, 50, 84, 32, 37, 32, 34, 64, 64, 64, //
    64, 64, 64, 64, 64, 64, 64, 34, 34, 84, 84, 84, 56, 102, 69, 69, 73, 78, 67, //
    62, 78, 76, 30, 50, 67, 56, 87, 75, 79, 67, 79, 73, 67, 62, 74, 69, 99, 69, //
    67, 69, 40, 34, 40, 84, 56, 50, 62, 64, 55, 64, 62, 36, 64, 64, 28, 28, 58, //
    28, 98, 64, 62, 64, 64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84,
];
/// The same for the bold faces.
const BOLD: [u8; 95] = [
    35, 46, 53, 84, 70, 101, 88, 31, 46, 46, 53, 84, 38, 42, 38, 37, 70, 70, 70, //
    70, 70, 70, 70, 70, 70, 70, 40, 40, 84, 84, 84, 62, 100, 78, 77, 74, 84, 69, //
    69, 83, 84, 38, 56, 78, 64, 100, 84, 86, 74, 86, 78, 73, 69, 82, 78, 111, 78, //
    73, 73, 46, 37, 46, 84, 56, 50, 68, 72, 60, 72, 68, 44, 72, 72, 35, 35, 67, //
    35, 105, 72, 69, 72, 72, 50, 60, 48, 72, 66, 93, 65, 66, 59, 72, 37, 72, 84,
];

/// How wide a text is at most, in multiples of the type size.
pub(crate) fn width_em(text: &str, bold: bool) -> f64 {
    let table = if bold { &BOLD } else { &REGULAR };
    let one = |c: char| match (c as u32).checked_sub(0x20).and_then(|i| table.get(i as usize)) {
        Some(hundredths) => f64::from(*hundredths) / 100.0,
        None => width_beyond_ascii(c),
    };
    text.chars().map(one).sum()
}

fn width_beyond_ascii(c: char) -> f64 {
    match c as u32 {
        _ if rides_along(c) => 0.0,
        0x00b7 => 0.4, // middle dot
        0x00c6 | 0x00e6 | 0x0132..=0x0133 | 0x0152..=0x0153 | 0x0174 => 1.2, // Æ, IJ, Œ, Ŵ
        0x00c0..=0x017f | 0x05d0..=0x05ea => 1.0, // Latin with marks; Hebrew
        0x2013 | 0x2018..=0x201f => 0.7, // dash, quotation marks
        0x2014 | 0x2026 => 1.0, // long dash, ellipsis
        0x2e3a..=0x2e3b | 0x1_2000..=0x1_254f => 3.0, // very long dashes, cuneiform
        0xfdf0..=0xfdff => 9.0, // whole Arabic phrases in one character
        _ => 1.5,
    }
}

/// The text cut after whole characters so that it takes at most `most_em` with the `…` behind it; as
/// it is where it fits; `None` where not even `least` characters fit.
pub(crate) fn shortened(text: &str, most_em: f64, bold: bool, least: usize) -> Option<String> {
    if width_em(text, bold) <= most_em {
        return Some(text.to_string());
    }
    let mut best = None;
    for (number, end) in boundaries(text).into_iter().enumerate() {
        let candidate = format!("{}…", text[..end].trim_end());
        if width_em(&candidate, bold) > most_em {
            break;
        }
        if number + 1 >= least {
            best = Some(candidate);
        }
    }
    best
}

/// The text in lines of at most `most_em`, broken at blanks; a word that is too long is cut.
pub(crate) fn wrapped(text: &str, most_em: f64, bold: bool) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let longer = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if width_em(&longer, bold) <= most_em {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        line = shortened(word, most_em, bold, 1).unwrap_or_default();
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shortening_never_cuts_inside_a_character() {
        let family = "👩\u{200d}👩\u{200d}👧";
        let name = format!("{family}{family}{family}");
        let one = width_em(family, true);
        let short = shortened(&name, one + 1.5, true, 1).unwrap();
        assert_eq!(short, format!("{family}…"));
        assert_eq!(
            shortened("e\u{301}e\u{301}e\u{301}e\u{301}", 2.0, true, 1).unwrap(),
            "e\u{301}…"
        );
        assert_eq!(shortened("Chorus", 0.5, true, 1), None);
        assert_eq!(shortened("Chorus", 10.0, true, 1).unwrap(), "Chorus");
    }

    #[test]
    fn wrapped_lines_stay_within_their_width() {
        let text = "Part A is 32 counts and its phrase 36, so that four are left over here";
        let lines = wrapped(text, 12.0, false);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|l| width_em(l, false) <= 12.0), "{lines:?}");
        assert_eq!(lines.join(" "), text);
        assert_eq!(wrapped("", 12.0, false), [""]);
        assert!(width_em(&wrapped(&"W".repeat(400), 12.0, false)[0], false) <= 12.0);
    }
}
