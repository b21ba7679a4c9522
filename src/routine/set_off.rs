//! Numbers typed close to other signs: counts behind a dash or two dots at the end of a line, `Fancy Doubles-8`,
//! `4 Claps ..4`, and numbers typed on to a word or a label, `WAIT16`, `A32: …`.

use std::collections::HashSet;

use super::glossary;
use super::heading::part_word;
use super::line::{Line, Piece};
use super::vocabulary::content;
use super::words::{bare, in_figures, length, runs};

/// Fewest lines that make counts behind a dash a habit of the sheet.
const FEWEST_LINES: usize = 2;
/// The most counts of a line.
const MOST_COUNTS: u32 = 64;

/// Sets counts behind a dash or dots in brackets, and a blank between such a word and its number.
pub(super) fn set_apart(lines: &mut [Line<'_>]) {
    lines.iter_mut().for_each(typed_on);
    lines.iter_mut().for_each(takes);
    lines.iter_mut().for_each(counts_of_each);
    lines.iter_mut().for_each(noted_label);
    labels_with_counts(lines);
    codes_typed_on(lines);
    for sign in ['-', '.'] {
        let found: Vec<(usize, usize, usize)> = lines
            .iter()
            .enumerate()
            .filter_map(|(i, line)| set_off_by(&line.text, sign).map(|(a, b)| (i, a, b)))
            .collect();
        if found.len() < FEWEST_LINES {
            continue;
        }
        for (line, from, to) in found {
            let end = lines[line].text.trim_end().len();
            in_brackets(&mut lines[line], from, (to, end));
        }
    }
}

/// Sets counts in brackets behind the words that end at a byte; what stands between falls away.
fn in_brackets(line: &mut Line<'_>, words: usize, (from, to): (usize, usize)) {
    let end = line.text.len();
    line.set(&[
        Piece::Kept(0, words),
        Piece::Put(" (", words),
        Piece::Kept(from, to),
        Piece::Put(")", to),
        Piece::Kept(to, end),
    ]);
}

/// Puts blanks at some bytes, ascending.
fn blanks_at(line: &mut Line<'_>, cuts: &[usize]) {
    let ends = cuts.iter().copied().chain([line.text.len()]);
    let mut pieces = Vec::new();
    let mut kept = 0;
    for end in ends {
        pieces.push(Piece::Kept(kept, end));
        pieces.push(Piece::Put(" ", end));
        kept = end;
    }
    pieces.pop();
    if !cuts.is_empty() {
        line.set(&pieces);
    }
}

/// `C (drums only): 4 Stomps` as `C: 4 Stomps "drums only"`.
fn noted_label(line: &mut Line<'_>) {
    let text = line.text.trim_end().to_string();
    let from = line.indent();
    let Some((open, close)) = text.find(" (").zip(text.find("):")) else { return };
    let name = &text[from..open.max(from)];
    let Some(words) = text.get(open + 2..close) else { return };
    let letter = name.len() == 1 && name.starts_with(|c: char| c.is_ascii_uppercase());
    let said = words.chars().all(|c| c.is_alphabetic() || c == ' ') && words.len() > 2;
    let steps = &text[close + 2..];
    if letter && said && content(steps).is_steps() && content(words).steps == 0 {
        let words = format!(" \"{words}\"");
        line.set(&[
            Piece::Kept(0, open),
            Piece::Kept(close + 1, text.len()),
            Piece::Put(&words, open),
        ]);
    }
}

/// `(2+2+4) Brush Up, Basic, Outhouse` as `(8) Brush Up, Basic, Outhouse`: one number for each of them, summed up.
fn counts_of_each(line: &mut Line<'_>) {
    let text = line.text.clone();
    let from = line.indent();
    let Some(inner) = text[from..].strip_prefix('(').and_then(|t| t.split(')').next()) else {
        return;
    };
    let to = from + inner.len() + 2;
    let numbers: Option<Vec<u32>> = inner.split('+').map(|n| in_figures(n.trim())).collect();
    let Some(numbers) = numbers.filter(|n| n.len() > 1) else { return };
    let names: Vec<&str> = text.get(to..).unwrap_or("").split(',').collect();
    let each = names.iter().zip(&numbers).all(|(name, n)| {
        glossary::length_of(name.trim().trim_end_matches('.')).is_some_and(|counts| counts == *n)
    });
    if names.len() == numbers.len() && each {
        let sum = format!("({}) ", numbers.iter().sum::<u32>());
        let end = text.len();
        line.set(&[Piece::Kept(0, from), Piece::Put(&sum, from), Piece::Kept(to, end)]);
    }
}

/// `S S S STA, takes 4 counts` as `S S S STA (4 counts)`.
fn takes(line: &mut Line<'_>) {
    let text = line.text.trim_end().to_string();
    let lower = text.to_ascii_lowercase();
    let Some(at) = ["takes ", "lasts "].iter().find_map(|verb| lower.find(verb)) else { return };
    let behind = at + "takes ".len();
    let words: Vec<&str> = text[behind..].trim_end_matches('.').split_whitespace().collect();
    let counted = length(&words).is_some_and(|(_, used)| used == 2 && words.len() == 2);
    let before = text[..at].trim_end_matches([' ', ',', ';', '-']);
    if counted && !before.trim().is_empty() && text[before.len()..at].contains([',', ';', '-']) {
        in_brackets(line, before.len(), (behind, text.len()));
    }
}

/// `A32: 2TRI, 4BAS` as `A (32): 2TRI, 4BAS`, where all such labels of a sheet have numbers that are counts. `A1` is a name.
fn labels_with_counts(lines: &mut [Line<'_>]) {
    const FEWEST_COUNTS: u32 = 4;
    let found: Vec<(usize, (usize, usize), u32)> = lines
        .iter()
        .enumerate()
        .filter_map(|(i, line)| {
            let from = line.indent();
            let label = line.text[from..].split(':').next()?;
            let letters = label.trim_end_matches(|c: char| c.is_ascii_digit());
            let counts = in_figures(&label[letters.len()..])?;
            let capitals = letters.chars().all(|c| c.is_ascii_uppercase());
            let part = letters.len() == 1 || part_word(letters).is_some();
            let labelled = line.text[from + label.len()..].starts_with(':');
            (capitals && part && labelled).then_some((
                i,
                (from + letters.len(), from + label.len()),
                counts,
            ))
        })
        .collect();
    if found.len() < FEWEST_LINES || found.iter().any(|(.., n)| *n < FEWEST_COUNTS) {
        return;
    }
    for (i, (from, to), _) in found {
        in_brackets(&mut lines[i], from, (from, to));
    }
}

/// `2RC(1/2 L each), 4BAS` as `2 RC(1/2 L each), 4 BAS`, where the sheet says what `RC` and `BAS` are.
fn codes_typed_on(lines: &mut [Line<'_>]) {
    const LONGEST: usize = 5;
    let code = |line: &Line<'_>| {
        let name = line.text.split_once('=')?.0.trim();
        let short = (2..=LONGEST).contains(&name.len());
        (short && name.chars().all(|c| c.is_ascii_uppercase())).then(|| name.to_string())
    };
    let codes: HashSet<String> = lines.iter().filter_map(code).collect();
    if codes.is_empty() {
        return;
    }
    for line in lines.iter_mut() {
        let text = line.text.clone();
        let cuts: Vec<usize> = runs(&text, |c| c.is_ascii_alphanumeric())
            .into_iter()
            .filter_map(|(from, to)| {
                let digits = text[from..to].bytes().take_while(u8::is_ascii_digit).count();
                (digits > 0 && codes.contains(&text[from + digits..to])).then_some(from + digits)
            })
            .collect();
        blanks_at(line, &cuts);
    }
}

/// Where the signs in front of counts at the end of a line begin, and where the counts do.
fn set_off_by(text: &str, sign: char) -> Option<(usize, usize)> {
    let text = text.trim_end();
    let to = text.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    in_figures(&text[to..]).filter(|n| *n <= MOST_COUNTS)?;
    let before = text[..to].trim_end_matches(sign);
    // A lone dot may end a sentence; several dashes draw a line.
    let (fewest, most) = if sign == '.' { (2, 2) } else { (1, 1) };
    let signs = to - before.len();
    let words = before.trim_end();
    let said = words.ends_with(|c: char| c.is_alphabetic() || c == ')');
    // `Pick-8` without a blank may be a name, where the word has a dash of its own: `x-2`.
    let one_letter = words.rsplit(' ').next().is_some_and(|w| w.chars().count() < 2);
    let joined = before.len() == words.len();
    ((fewest..=most).contains(&signs) && said && !(joined && one_letter))
        .then_some((words.len(), to))
}

/// `WAIT16` as `WAIT 16`, `TURN1/2` as `TURN 1/2`.
fn typed_on(line: &mut Line<'_>) {
    const WORDS: [&str; 4] = ["wait", "hold", "turn", "pause"];
    let cut = runs(&line.text, |c| !c.is_whitespace()).into_iter().find_map(|(from, to)| {
        let word = &line.text[from..to];
        let letters = word.len() - word.trim_start_matches(char::is_alphabetic).len();
        let number = word[letters..].starts_with(|c: char| c.is_ascii_digit());
        (number && WORDS.contains(&bare(&word[..letters]).as_str())).then_some(from + letters)
    });
    blanks_at(line, cut.as_slice());
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    #[test]
    fn counts_behind_a_dash_or_two_dots_stand_in_brackets() {
        let dashes =
            ["2 Lark Hops -8", "3 Otter Slides-12", "Repeat on the right -20", "Repeat 1-8"];
        let wanted =
            ["2 Lark Hops (8)", "3 Otter Slides (12)", "Repeat on the right (20)", "Repeat 1-8"];
        assert_eq!(set_by(set_apart, &dashes), wanted);
        assert_eq!(
            set_by(set_apart, &["2 Hops ..8", "4 Claps ..4"]),
            ["2 Hops (8)", "4 Claps (4)"]
        );
        // Once is no habit, and more dots are leaders.
        for alone in [["2 Hops -8", "Basic x-2"], ["2 Hops .....8", "2 Slides .....8"]] {
            assert_eq!(set_by(set_apart, &alone), alone);
        }
    }

    #[test]
    fn counts_typed_on_to_a_label_stand_in_brackets() {
        let sheet = ["A32: 2TRI, 4BAS", "BR8: 4BAS", "SEQ: A BR A"];
        assert_eq!(
            set_by(set_apart, &sheet),
            ["A (32): 2TRI, 4BAS", "BR (8): 4BAS", "SEQ: A BR A"]
        );
        let names = ["A1: 2 Triples", "A2: 4 Basics", "B32: 2 Chains"];
        assert_eq!(set_by(set_apart, &names), names);
        let takes = ["Otter = S S S STA, takes 4 counts", "It takes 4 counts"];
        assert_eq!(
            set_by(set_apart, &takes),
            ["Otter = S S S STA (4 counts)", "It takes 4 counts"]
        );
    }

    #[test]
    fn counts_of_each_in_front_are_summed_up() {
        assert_eq!(set_by(set_apart, &["(2+4) Basic, Triple"]), ["(6) Basic, Triple"]);
        assert_eq!(set_by(set_apart, &["(2+2) Basic, Triple"]), ["(2+2) Basic, Triple"]);
        assert_eq!(set_by(set_apart, &["D (no bass): 4 Stomps"]), ["D: 4 Stomps \"no bass\""]);
    }

    #[test]
    fn numbers_typed_on_to_codes_stand_alone() {
        let sheet = ["OT=DS DS RS", "Part A", "2OT(1/2 L), 4 OTX"];
        assert_eq!(set_by(set_apart, &sheet)[2], "2 OT(1/2 L), 4 OTX");
        assert_eq!(set_by(set_apart, &["2OT, 4OT"]), ["2OT, 4OT"]);
    }

    #[test]
    fn numbers_typed_on_to_a_word_stand_alone() {
        assert_eq!(set_by(set_apart, &["LEFT LEAD  WAIT16"]), ["LEFT LEAD WAIT 16"]);
        assert_eq!(set_by(set_apart, &["1 Cowboy turn1/2 L"]), ["1 Cowboy turn 1/2 L"]);
        assert_eq!(set_by(set_apart, &["Part A1"]), ["Part A1"]);
    }
}
