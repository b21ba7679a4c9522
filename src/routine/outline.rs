//! Marks of an outline in front of lines, `a)`, `II.`, `3)`, and what refers to them: `do 6 and 7 again`,
//! `a) through c) once more`.

use super::line::{Line, Piece};
use super::numerals::{capital_roman, roman};
use super::vocabulary::content;
use super::words::{counts_in_brackets, is_counts_word, key, number, runs};

/// How a line is marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    Number,
    Letter,
    /// A letter that is large: a mark only where it begins anew under several headings, else the name of a part.
    Capital,
    Roman,
}

/// A mark in front of a line.
#[derive(Debug, Clone)]
struct Label {
    line: usize,
    mark: Mark,
    close: char,
    value: u32,
    /// From its first byte to where the line's words begin.
    place: (usize, usize),
}

/// Takes the marks off, and sets lines that refer to others as these.
pub(super) fn set_outline(lines: &mut [Line<'_>]) {
    set_roman_lines(lines);
    let labels = marked(lines);
    let mut said: Vec<(Label, String)> = Vec::new();
    for label in labels {
        let line = &mut lines[label.line];
        line.blank(label.place.0, label.place.1);
        if let Some(text) = referred(&line.text, label.mark, &said) {
            let from = line.indent();
            let end = line.text.trim_end().len();
            line.set(&[Piece::Put(&text, from), Piece::Put(" ", end)]);
        } else if label.mark == Mark::Roman
            && let Some(at) = refers_to_a_part(&line.text)
        {
            let end = line.text.trim_end().len();
            let behind = line.text[at..].find([',', '(']).map_or(end, |to| at + to);
            line.blank(at, behind);
        }
        let text = line.text.trim().trim_end_matches('.').to_string();
        said.push((label, text));
    }
}

/// The marks of runs that begin at the first and go on one by one.
fn marked(lines: &[Line<'_>]) -> Vec<Label> {
    let all: Vec<Label> =
        lines.iter().enumerate().flat_map(|(i, l)| labels_of(i, &l.text)).collect();
    let mut out: Vec<Label> = Vec::new();
    for mark in [Mark::Roman, Mark::Letter, Mark::Capital, Mark::Number] {
        for close in ['.', ')'] {
            let run: Vec<&Label> =
                all.iter().filter(|l| l.mark == mark && l.close == close).collect();
            let begins = |l: &&&Label| l.value == 1 && over_steps(l, lines);
            if mark == Mark::Capital && run.iter().filter(begins).count() < 2 {
                continue;
            }
            let mut open: Vec<&Label> = Vec::new();
            for label in run {
                let next = open.last().map_or(1, |last| last.value + 1);
                if label.value != next {
                    take_run(&mut out, &mut open, lines);
                }
                if label.value == open.last().map_or(1, |last| last.value + 1) {
                    open.push(label);
                }
            }
            take_run(&mut out, &mut open, lines);
        }
    }
    out.sort_by_key(|l| l.line);
    out.dedup_by_key(|l| l.line);
    out
}

fn over_steps(label: &Label, lines: &[Line<'_>]) -> bool {
    content(&lines[label.line].text[label.place.1..]).is_steps()
}

fn take_run(out: &mut Vec<Label>, open: &mut Vec<&Label>, lines: &[Line<'_>]) {
    let is_letter = |l: &Label| matches!(l.mark, Mark::Letter | Mark::Capital);
    // Letters may be names of parts; over steps they are marks where more than one stands in a row.
    let lone_letter = open.len() < 2 && !open.iter().any(|l| is_letter(l) && over_steps(l, lines));
    if !lone_letter {
        out.extend(open.iter().map(|l| (*l).clone()));
    }
    open.clear();
}

/// `II.iii  17-24  Repeat II.i and II.ii`: Roman figures of a part and of its lines, taken off in front. What they refer
/// to is the lines before.
fn set_roman_lines(lines: &mut [Line<'_>]) {
    const FEWEST_LINES: usize = 3;
    let double = |word: &str| {
        let (part, line) = word.trim_matches([',', ';', ')', ':']).split_once('.')?;
        Some((capital_roman(part)?, roman(line)?))
    };
    let first = |line: &Line<'_>| line.text.split_whitespace().next().and_then(double);
    let marks: Vec<Option<(u32, u32)>> = lines.iter().map(first).collect();
    if marks.iter().flatten().count() < FEWEST_LINES {
        return;
    }
    for (line, mark) in lines.iter_mut().zip(marks) {
        let Some((part, number)) = mark else { continue };
        let from = line.indent();
        let to = from + line.text[from..].find(' ').unwrap_or(0);
        line.blank(from, to);
        let words = runs(&line.text, |c| !c.is_whitespace()).into_iter();
        let named: Vec<((usize, usize), (u32, u32))> =
            words.filter_map(|(a, b)| Some(((a, b), double(&line.text[a..b])?))).collect();
        let before = named
            .iter()
            .enumerate()
            .all(|(i, &(_, (p, n)))| p == part && n + (named.len() - i) as u32 == number);
        if let (Some(&((a, _), _)), Some(&((_, b), _)), true) =
            (named.first(), named.last(), before)
        {
            let put = format!("previous {} lines", named.len());
            let b = a + line.text[a..b].trim_end_matches([',', ';', ':']).len();
            let end = line.text.len();
            line.set(&[Piece::Kept(0, a), Piece::Put(&put, a), Piece::Kept(b, end)]);
        }
    }
}

/// Every way to read what stands in front of a line as a mark.
fn labels_of(line: usize, text: &str) -> Vec<Label> {
    let from = text.len() - text.trim_start().len();
    let opened = text[from..].starts_with('(');
    let start = from + usize::from(opened);
    let Some(to) = text[start..].find(['.', ')']).map(|at| start + at) else { return Vec::new() };
    let close = if text[to..].starts_with('.') { '.' } else { ')' };
    let word = &text[start..to];
    let behind = &text[to + 1..];
    // A mark has words behind it, and is no decimal number.
    if word.is_empty()
        || word.len() > 5
        || !behind.starts_with(' ')
        || !behind.chars().any(char::is_alphabetic)
    {
        return Vec::new();
    }
    if opened && close == '.' {
        return Vec::new();
    }
    let place = (from, to + 1 + behind.len() - behind.trim_start().len());
    let label = |mark, value| Label { line, mark, close, value, place };
    let mut out = Vec::new();
    // `(2) Triple` says how often.
    if let Some(n) = number(word).filter(|_| word.bytes().all(|b| b.is_ascii_digit()) && !opened) {
        out.push(label(Mark::Number, n));
    }
    if let Some(n) = capital_roman(word) {
        out.push(label(Mark::Roman, n));
    }
    let mut letters = word.chars();
    if let (Some(c), None) = (letters.next(), letters.next())
        && c.is_ascii_lowercase()
    {
        out.push(label(Mark::Letter, c as u32 - 'a' as u32 + 1));
    } else if let Some(c) =
        word.chars().next().filter(|c| word.len() == 1 && c.is_ascii_uppercase())
    {
        out.push(label(Mark::Capital, c as u32 - 'A' as u32 + 1));
    }
    out
}

/// `Verse as II`: where ` as II` begins. The heading's own name says which part comes again.
fn refers_to_a_part(text: &str) -> Option<usize> {
    let at = text.to_ascii_lowercase().find(" as ")?;
    let label = text[at + 4..].split([',', ' ', '(', '.']).next()?;
    capital_roman(label).map(|_| at)
}

/// What the lines say that a line refers to: `do 6 and 7 again`.
fn referred(text: &str, mark: Mark, said: &[(Label, String)]) -> Option<String> {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';'))
        .filter(|w| !w.is_empty())
        .collect();
    let (mut values, mut asks, mut through, mut rest) = (Vec::new(), false, false, Vec::new());
    let (mut twice, mut at_the_end) = (false, None);
    for (i, word) in words.iter().enumerate() {
        let bare = word.trim_matches(|c: char| matches!(c, '(' | ')' | '.' | ':' | '#'));
        let lower = key(bare);
        match lower.as_str() {
            "do" | "repeat" | "dance" | "again" | "redo" => asks = true,
            "same" | "as" if values.is_empty() => asks = true,
            "twice" if !values.is_empty() => twice = true,
            "through" | "thru" | "to" | "-" if !values.is_empty() => through = true,
            "and" | "&" | "then" | "steps" | "step" | "numbers" | "number" | "nos" | "no"
            | "lines" | "line" | "once" | "more" | "" => {}
            // `three more times`
            _ if !values.is_empty() && words.get(i + 1).is_some_and(|w| key(w) == "more") => {
                rest = words[i..].to_vec();
                break;
            }
            // `Repeat 1, 2 and 3 (16)`: what no line is called is their counts.
            _ if !values.is_empty()
                && bracketed(&words[i..])
                    .is_some_and(|n| said.iter().all(|(l, _)| l.value != n || l.mark != mark)) =>
            {
                rest = words[i..].to_vec();
            }
            // `Repeat 1, 2 and 3 - 16`
            _ if !values.is_empty()
                && i + 1 == words.len()
                && number(&lower)
                    .is_some_and(|n| n > 3 && said.iter().all(|(l, _)| l.value != n)) =>
            {
                at_the_end = number(&lower);
            }
            _ => match numbers_in(&lower, mark) {
                // `Repeat 1, 2 and 3, 16 counts`
                Some(found)
                    if rest.is_empty()
                        && !words.get(i + 1).is_some_and(|next| is_counts_word(next)) =>
                {
                    for value in found {
                        let from = values
                            .last()
                            .copied()
                            .filter(|_| through)
                            .map_or(value, |last: u32| last + 1);
                        values.extend(from..=value.max(from));
                        through = false;
                    }
                }
                _ => {
                    rest = words[i..].to_vec();
                    break;
                }
            },
        }
    }
    if !asks || values.is_empty() || values.len() > 12 {
        return None;
    }
    let (more, rest) = times_more(&rest);
    let above = said.len().checked_sub(values.len()).map(|from| &said[from..]);
    let marked = |l: &Label| values.contains(&l.value) && l.mark == mark;
    let just_above = above.is_some_and(|above| above.iter().all(|(l, _)| marked(l)));
    // `Repeat 1 and 2 to the back (16)`
    if let ([how @ .., counts], true) = (rest, just_above && more.is_none())
        && !how.is_empty()
        && bracketed(&[counts]).is_some()
    {
        return Some(format!("repeat {} lines {} {counts}", values.len(), how.join(" ")));
    }
    if let Some(counts) = at_the_end.or_else(|| counts_behind(rest)).or_else(|| bracketed(rest)) {
        let often = more.map_or(String::new(), |n| format!(" x{n}"));
        return just_above.then(|| format!("repeat {} lines{often} ({counts})", values.len()));
    }
    // How often it comes again is not to be lost.
    if more.is_some() {
        return None;
    }
    let of = |value: u32| {
        let found = said.iter().rev().find(|(l, _)| l.mark == mark && l.value == value);
        let danced = |t: &String| content(t).steps > 0 || counts_in_brackets(t).is_some();
        found.map(|(_, text)| text.clone()).filter(danced)
    };
    let texts: Vec<String> = values.into_iter().map(of).collect::<Option<_>>()?;
    let once = texts.join(", ");
    let all = if twice { format!("{once}, {once}") } else { once };
    Some(if rest.is_empty() {
        all
    } else {
        format!("{all} \"{}\"", rest.join(" ").replace('"', ""))
    })
}

/// `three more times` in front of other words: how often, and these.
fn times_more<'r, 't>(words: &'r [&'t str]) -> (Option<u32>, &'r [&'t str]) {
    match words {
        [n, more, times, rest @ ..]
            if more.eq_ignore_ascii_case("more") && key(times).starts_with("time") =>
        {
            (number(n), rest)
        }
        _ => (None, words),
    }
}

/// `(24)`, and nothing else.
fn bracketed(words: &[&str]) -> Option<u32> {
    let [one] = words else { return None };
    number(one.strip_prefix('(')?.strip_suffix(')')?)
}

/// `16 counts`, and nothing else.
fn counts_behind(words: &[&str]) -> Option<u32> {
    let sign = |c: char| matches!(c, '(' | ')' | '.');
    let [n, unit] = words else { return None };
    number(n.trim_matches(sign)).filter(|_| is_counts_word(unit.trim_matches(sign)))
}

/// `6`, `1-3`, `c`: the marks that a word names.
fn numbers_in(word: &str, mark: Mark) -> Option<Vec<u32>> {
    let one = |w: &str| match mark {
        Mark::Letter | Mark::Capital => {
            let mut chars = w.chars();
            let c = chars.next().filter(|c| c.is_ascii_lowercase() && chars.next().is_none())?;
            Some(c as u32 - 'a' as u32 + 1)
        }
        _ => number(w).filter(|n| (1..=60).contains(n)),
    };
    match word.split_once([' ', '-']) {
        Some((a, b)) => {
            let (a, b) = (one(a)?, one(b)?);
            (a < b && b - a < 12).then(|| (a..=b).collect())
        }
        None => one(word).map(|n| vec![n]),
    }
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_outline, texts)
    }

    #[test]
    fn capitals_are_marks_where_they_begin_anew() {
        let under =
            ["Verse", "A. Two Triples", "B. Charleston", "Chorus", "A. Cowboy", "B. Repeat A"];
        let wanted = ["Verse", "Two Triples", "Charleston", "Chorus", "Cowboy", "Cowboy"];
        assert_eq!(set(&under), wanted);
        assert_eq!(set(&["A. Two Triples", "B. Charleston"]), ["A. Two Triples", "B. Charleston"]);
    }

    #[test]
    fn roman_figures_of_a_part_and_its_lines_are_taken_off() {
        let sheet = [
            "II.i  1-8  Triple",
            "II.ii  9-12  Joey",
            "II.iii  13-24  Repeat II.i and II.ii, facing back",
        ];
        let wanted = ["1-8 Triple", "9-12 Joey", "13-24 Repeat previous 2 lines, facing back"];
        assert_eq!(set(&sheet), wanted);
        assert_eq!(
            set(&sheet[..2]),
            sheet[..2].iter().map(|s| s.replace("  ", " ")).collect::<Vec<_>>()
        );
    }

    #[test]
    fn marks_are_taken_off_where_they_count_on() {
        assert_eq!(
            set(&["I. Verse", "a) 2 Chains", "b) 4 Basics", "II. Bridge"]),
            ["Verse", "2 Chains", "4 Basics", "Bridge"]
        );
        assert_eq!(set(&["1. Triple", "2. Basic, Basic"]), ["Triple", "Basic, Basic"]);
        for typed in ["4. Triple", "A) Triple", "(2) Triple", "3) and a smile"] {
            assert_eq!(set(&[typed]), [typed]);
        }
    }

    #[test]
    fn lines_that_refer_to_others_are_these() {
        let sheet =
            ["1) Two Chains.", "2) Joey.", "3) Do 1 and 2 with the other foot.", "4) Do 2."];
        assert_eq!(
            set(&sheet),
            ["Two Chains.", "Joey.", "Two Chains, Joey \"with the other foot.\"", "Joey"]
        );
        let counted = ["1) Chain", "2) Joey", "3) Repeat 1 and 2, 16 counts"];
        assert_eq!(set(&counted)[2], "repeat 2 lines (16)");
        let bracketed = ["1. Chain", "2. Joey", "3. Repeat 1 and 2 (16)"];
        assert_eq!(set(&bracketed)[2], "repeat 2 lines (16)");
        let often = ["1) Chain", "2) Joey", "3) Do numbers 1 and 2 two more times. (16)"];
        assert_eq!(set(&often)[2], "repeat 2 lines x2 (16)");
        let letters = ["a) Chain", "b) Joey", "c) a) through b) again"];
        assert_eq!(set(&letters), ["Chain", "Joey", "Chain, Joey"]);
        assert_eq!(
            set(&["I. Verse", "II. Hook", "III. Verse as I, twice"]),
            ["Verse", "Hook", "Verse , twice"]
        );
    }
}
