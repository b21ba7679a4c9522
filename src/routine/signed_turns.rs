//! Turns by signs, `+90°`: which way a sign turns the sheet says once, `+ is to the left`.

use super::line::{Line, Piece};
use super::words::runs;

/// Says the side of each signed turn in words.
pub(super) fn set_signed_turns(lines: &mut [Line<'_>]) {
    let Some((told, plus_is_left)) =
        lines.iter().enumerate().find_map(|(i, line)| Some((i, side_of_plus(&line.text)?)))
    else {
        return;
    };
    for (_, line) in lines.iter_mut().enumerate().filter(|(i, _)| *i != told) {
        let text = line.text.clone();
        let (mut pieces, mut kept) = (Vec::new(), 0);
        for (from, to) in runs(&text, |c| c.is_ascii_digit() || c == '/') {
            let Some(sign) = text[..from].chars().next_back().filter(|c| "+-".contains(*c)) else {
                continue;
            };
            let amount = &text[from..to];
            let degrees = text[to..].starts_with('\u{b0}');
            if !degrees && !matches!(amount, "1/4" | "1/2" | "3/4" | "1/8") {
                continue;
            }
            // `1-1/4` is an amount.
            let before = text[..from - 1].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric()) {
                continue;
            }
            let side = if (sign == '+') == plus_is_left { " left" } else { " right" };
            let end = to + if degrees { '\u{b0}'.len_utf8() } else { 0 };
            pieces.extend([
                Piece::Kept(kept, from - 1),
                Piece::Kept(from, to),
                Piece::Put(side, to),
            ]);
            kept = end;
        }
        if kept > 0 {
            pieces.push(Piece::Kept(kept, text.len()));
            line.set(&pieces);
        }
    }
}

/// Whether a line says that a plus turns to the left, or to the right.
fn side_of_plus(text: &str) -> Option<bool> {
    let lower = text.to_lowercase();
    let at = ["+ is ", "+ means ", "+ = ", "+ : ", "+ turns ", "plus is ", "plus means "]
        .iter()
        .find_map(|says| Some(lower.find(says)? + says.len()))?;
    let side = |word: &str| match word {
        "left" | "counterclockwise" | "counter" | "ccw" | "anticlockwise" | "anti" => Some(true),
        "right" | "clockwise" | "cw" => Some(false),
        _ => None,
    };
    lower[at..].split(|c: char| !c.is_alphabetic()).find_map(side)
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    #[test]
    fn signs_turn_as_the_sheet_says() {
        let sheet = ["Signs: + means clockwise", "2 Joey +90\u{b0} each", "Chain -1/2", "A-1/4"];
        let wanted = [sheet[0], "2 Joey 90 right each", "Chain 1/2 left", "A-1/4"];
        assert_eq!(set_by(set_signed_turns, &sheet), wanted);
        let unsaid = ["2 Joey +90\u{b0}"];
        assert_eq!(set_by(set_signed_turns, &unsaid), unsaid);
    }
}
