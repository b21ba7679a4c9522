//! Ways to lay out a line that say the same as another: blanks of a form, calls in front of steps, numbered eights,
//! slashes between steps. Such a line is set as the usual one; each character knows from where it came.

use std::collections::HashMap;

use super::field::is_field_name;
use super::heading::part_word;
use super::line::{Line, Piece};
use super::names_in_a_row::names_in_a_row;
use super::notation::read_movements;
use super::numerals::ordinal;
use super::phrases::is_repeat_word;
use super::vocabulary::{content, plain_words};
use super::words::{is_bars_word, is_counts_word, key, length, number, runs};

/// Sets lines that are laid out otherwise as the usual ones.
pub(super) fn set_layout(lines: &mut [Line<'_>]) {
    for i in 0..lines.len() {
        if let Some(pieces) = counts_before_a_heading(&lines[i]).filter(|_| is_over_steps(lines, i))
        {
            lines[i].set(&pieces);
        }
    }
    let mut eights = NumberedEights::default();
    for line in lines.iter_mut() {
        form_blanks(&mut line.text);
        pictures(&mut line.text);
        waves(&mut line.text);
        field_dash(&mut line.text);
        slashes(&mut line.text);
        run_together(line);
        call_in_front(line);
        times_and_counts(line);
        form_heading(line);
        letter_part(line);
        names_in_a_row(line);
        last_thing(line);
        eights.set(line);
    }
}

/// Words of a text with their first byte and the byte after their last.
fn words(text: &str) -> Vec<(usize, usize)> {
    runs(text, |c| !c.is_whitespace())
}

/// `DSDSDSRS`: movements typed without a sign between them.
fn run_together(line: &mut Line<'_>) {
    const CODES: [&str; 6] = ["DS", "RS", "BR", "SL", "DR", "DT"];
    let text = line.text.clone();
    let is_run = |&(from, to): &(usize, usize)| {
        let word = &text[from..to];
        let codes = word.is_ascii() && word.len() > 3 && word.len().is_multiple_of(2);
        codes
            && word.contains("DS")
            && (0..word.len()).step_by(2).all(|i| CODES.contains(&&word[i..i + 2]))
    };
    let found: Vec<(usize, usize)> =
        runs(&text, char::is_alphanumeric).into_iter().filter(is_run).collect();
    if found.is_empty() {
        return;
    }
    let mut pieces = Vec::new();
    let mut kept = 0;
    for (from, to) in found {
        for at in (from + 2..to).step_by(2) {
            pieces.extend([Piece::Kept(kept, at), Piece::Put("-", at)]);
            kept = at;
        }
    }
    pieces.push(Piece::Kept(kept, text.len()));
    line.set(&pieces);
}

/// Pictures in front of steps say nothing; a part may be called by one.
fn pictures(text: &mut String) {
    let is_picture = |c: char| ('\u{1F000}'..='\u{1FAFF}').contains(&c);
    let rest = text.trim_start_matches(|c: char| is_picture(c) || c == ' ');
    if !text.trim_start().starts_with(is_picture)
        || content(rest).steps == 0
        || content(rest).before > 0
    {
        return;
    }
    let front = text.len() - rest.len();
    let blanks = " ".repeat(text[..front].chars().count());
    text.replace_range(..front, &blanks);
}

/// `1~8`: from one count to another.
fn waves(text: &mut String) {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let between = |at: usize, text: &str| {
        digit(text[..at].chars().next_back()) && digit(text[at + 1..].chars().next())
    };
    while let Some(at) = text.match_indices('~').map(|(at, _)| at).find(|at| between(*at, text)) {
        text.replace_range(at..=at, "-");
    }
}

/// `Title: ____Lark____`: the line to write on says nothing.
fn form_blanks(text: &mut String) {
    let only_rule = text.trim().chars().all(|c| c == '_');
    while let Some(at) = text.find("__").filter(|_| !only_rule) {
        let run = text[at..].bytes().take_while(|b| *b == b'_').count();
        text.replace_range(at..at + run, &" ".repeat(run));
    }
}

/// `Sequence-A, B, A`, `Abbrev.-xif: …`: a dash in a colon's place.
fn field_dash(text: &mut String) {
    let indent = text.len() - text.trim_start().len();
    // `Sequence = A B A`
    if let Some(at) = text.find('=').filter(|&at| at > indent) {
        let name = key(&text[indent..at]);
        let ordered = ["order", "sequence", "seq"].contains(&name.as_str());
        // `choreo = Ann Reed`
        let said = is_field_name(&name) && part_word(&name).is_none() && content(text).steps == 0;
        let one = text.matches('=').count() == 1 && text[at..].contains(char::is_alphabetic);
        if ordered || said && one {
            text.replace_range(at..=at, ":");
        }
        return;
    }
    let Some(at) = text.find('-').filter(|&at| at > indent) else { return };
    let name = key(&text[indent..at]);
    // `Music - The Hollow Oaks`
    let spaced = text[indent..at].ends_with(' ') && text[at + 1..].starts_with(' ');
    if spaced
        && is_field_name(&name)
        && part_word(name.as_str()).is_none()
        && content(text).steps == 0
    {
        text.replace_range(at..=at, ":");
        return;
    }
    let joined = !text[indent..at].ends_with(' ');
    let is_field = ["sequence", "order", "seq", "abbrev", "abbreviations", "note", "notes"];
    if joined && is_field.contains(&name.as_str()) {
        text.replace_range(at..=at, ":");
    }
}

/// `Triple / Triple`: slashes with blanks around part steps, as commas do. Between movements they join.
fn slashes(text: &mut String) {
    if !text.contains(" / ") || text.split(" / ").all(|p| read_movements(p).is_some()) {
        return;
    }
    *text = text.replace(" / ", " , ");
}

/// `Say "TRIPLE"   4 Triples`: the call goes behind what is called.
fn call_in_front(line: &mut Line<'_>) {
    let text = &line.text;
    let indent = line.indent();
    let Some(open) = text[indent..].find('"').map(|at| at + indent) else { return };
    let before = key(text[indent..open].trim_end_matches(':'));
    let says = ["", "say", "call", "cue", "shout", "yell", "calls"];
    let Some(close) = text[open + 1..].find('"').map(|at| open + 1 + at) else { return };
    let behind = text[close + 1..].trim_start();
    let rest = behind.trim_start_matches(['=', '-', ':', '>', ' ']);
    // A sign may stand between the call and what is danced to it.
    let again = |w: &&str| {
        let lower = w.to_lowercase();
        is_repeat_word(&lower) || matches!(&*lower, "again" | "over" | "same")
    };
    let danced = rest.len() == behind.len()
        || content(rest).steps > 0
        || plain_words(rest).iter().any(again);
    if !says.contains(&before.as_str()) || !rest.starts_with(char::is_alphanumeric) || !danced {
        return;
    }
    let from = text.len() - rest.len();
    let end = text.trim_end().len();
    line.set(&[
        Piece::Kept(0, indent),
        Piece::Kept(from, end),
        Piece::Put(" ", close),
        Piece::Kept(open, close + 1),
    ]);
}

/// `Basics   4  = 8`: how often, and the counts that it comes to.
fn times_and_counts(line: &mut Line<'_>) {
    let all = words(&line.text);
    let [.., name, times, equals, counts] = all[..] else { return };
    let word = |(from, to): (usize, usize)| &line.text[from..to];
    let digits = |w: &str| w.bytes().all(|b| b.is_ascii_digit());
    let named = word(name).chars().any(char::is_alphabetic);
    if named && digits(word(times)) && word(equals) == "=" && digits(word(counts)) {
        line.set(&[
            Piece::Kept(0, name.1),
            Piece::Put(" x", times.0),
            Piece::Kept(times.0, times.1),
            Piece::Put(" (", equals.0),
            Piece::Kept(counts.0, counts.1),
            Piece::Put(")", counts.1),
        ]);
    }
}

/// `Part: A   Beats: 32` as `Part A (32)`.
fn form_heading(line: &mut Line<'_>) {
    let all = words(&line.text);
    let word = |(from, to): (usize, usize)| &line.text[from..to];
    let [first, label, .., unit, counts] = all[..] else { return };
    let part =
        word(first).strip_suffix(':').is_some_and(|w| matches!(part_word(w), Some(("part", _))));
    let is_counts = word(unit).ends_with(':') && is_counts_word(word(unit));
    if part && is_counts && number(word(counts)).is_some() {
        let before = all[all.len() - 3];
        line.set(&[
            Piece::Kept(first.0, first.1 - 1),
            Piece::Put(" ", label.0),
            Piece::Kept(label.0, before.1),
            Piece::Put(" (", unit.0),
            Piece::Kept(counts.0, counts.1),
            Piece::Put(")", counts.1),
        ]);
    }
}

/// Whether steps stand on the next line that says anything.
fn is_over_steps(lines: &[Line<'_>], at: usize) -> bool {
    let below = lines[at + 1..].iter().find(|l| l.text.contains(char::is_alphanumeric));
    below.is_some_and(|l| content(&l.text).is_steps())
}

/// `32  SECTION ONE`, `(16) Chorus`, `32 cts - Part A` as `SECTION ONE (32)`: counts in a column in front of a heading.
fn counts_before_a_heading(line: &Line<'_>) -> Option<[Piece<'static>; 4]> {
    const FEWEST: u32 = 6;
    let all = words(&line.text);
    let word = |i: usize| all.get(i).map_or("", |&(from, to)| &line.text[from..to]);
    let signs = ['(', '[', ')', ']', ':', '-', '='];
    // `8.` numbers a list.
    let counts = word(0).trim_matches(signs);
    number(counts).filter(|n| *n >= FEWEST)?;
    let at = line.text.find(counts)?;
    let mut said = (1..all.len()).filter(|i| word(*i).contains(char::is_alphanumeric));
    let next = said.next()?;
    let next = if is_counts_word(word(next)) { said.next()? } else { next };
    let (from, _) = all[next];
    let end = line.text.trim_end().len();
    let name = &line.text[from..end];
    let first = name.split_whitespace().next().unwrap_or("");
    let named = first.len() > 2 && part_word(first).is_some();
    let alone = name.split_whitespace().count() <= 3 && !name.contains([',', '(', '=', '/']);
    (named && alone && content(name).steps == 0).then_some([
        Piece::Kept(from, end),
        Piece::Put(" (", at),
        Piece::Kept(at, at + counts.len()),
        Piece::Put(")", at + counts.len()),
    ])
}

/// `B part, high fiddle, 8 bars` as `Part B (8 bars) "high fiddle"`.
fn letter_part(line: &mut Line<'_>) {
    let text = &line.text;
    let all = words(text);
    let [letter, part, .., count, unit] = all[..] else { return };
    let word = |(from, to): (usize, usize)| &text[from..to];
    let one_letter = word(letter).len() == 1 && word(letter).starts_with(char::is_uppercase);
    let is_part = word(part).trim_end_matches([',', ':', '-']).eq_ignore_ascii_case("part");
    let is_unit = is_counts_word(word(unit)) || is_bars_word(word(unit));
    if !one_letter || !is_part || !is_unit || number(word(count)).is_none() || count.0 < part.1 {
        return;
    }
    let said = text[part.1..count.0].trim_matches([' ', ',', ':', '-', '(']);
    // `A part, 8 bars` is read as it stands.
    if said.is_empty() {
        return;
    }
    let said = format!(" \"{said}\"");
    let end = unit.0 + word(unit).trim_end_matches(')').len();
    line.set(&[
        Piece::Kept(0, letter.0),
        Piece::Put("Part ", part.0),
        Piece::Kept(letter.0, letter.1),
        Piece::Put(" (", count.0),
        Piece::Kept(count.0, end),
        Piece::Put(")", end),
        Piece::Put(&said, part.1),
    ]);
}

/// `Last thing: stomp`, `last = stomp`: the ending by another name.
fn last_thing(line: &mut Line<'_>) {
    let text = &line.text;
    let indent = line.indent();
    let dash = || text.find(" - ").map(|at| at + 1);
    let Some(at) = text.find([':', '=']).or_else(dash).filter(|&at| at > indent) else { return };
    let name = key(&text[indent..at]);
    let names = [
        "final",
        "finally",
        "final step",
        "final steps",
        "final pose",
        "last",
        "last time",
        "very last",
        "last thing",
        "at the end",
        "very end",
        "the end",
        "to end",
        "to finish",
    ];
    // `LAST 4 CTS: stomp, bow`
    let words: Vec<&str> = name.split(' ').collect();
    if let ["last" | "final", rest @ ..] = &words[..]
        && let Some((counts, _)) = length(rest).filter(|l| l.1 == rest.len() && l.1 > 1)
    {
        let heading = format!("Ending ({counts}):");
        line.set(&[Piece::Put(&heading, indent), Piece::Kept(at + 1, text.len())]);
        return;
    }
    let behind = &text[at + 1..];
    let said = match text[at..].starts_with('-') {
        true => content(behind).is_steps(),
        false => !behind.trim().is_empty(),
    };
    if names.contains(&name.as_str()) && said {
        line.set(&[Piece::Put("Ending:", indent), Piece::Kept(at + 1, text.len())]);
    }
}

/// Lines numbered by their eights, `8 #1: Triple, Triple`, and what repeats them, `same as #1`.
#[derive(Default)]
struct NumberedEights {
    /// The part that is being read, `a` of `Part A`.
    part: String,
    /// What stands on each numbered line.
    lines: HashMap<(String, u32), String>,
}

impl NumberedEights {
    fn set(&mut self, line: &mut Line<'_>) {
        let text = line.text.clone();
        let all = words(&text);
        let word = |i: usize| all.get(i).map_or("", |&(from, to)| &text[from..to]);
        if let Some((name, _)) = part_word(word(0)) {
            self.part = if name == "part" { key(word(1)) } else { key(word(0)) };
            return;
        }
        if self.set_numbers_alone(line, &text, &all) {
            return;
        }
        let Some((counts, label, used)) = front(&text, &all) else { return };
        let from = all.get(used).map_or(text.len(), |w| w.0);
        let at = all[0].0;
        let range = format!("1-{counts} ");
        let rest = key(&text[from..]);
        let same = rest
            .strip_prefix("the ")
            .unwrap_or(&rest)
            .strip_prefix("same as ")
            .and_then(eight_referred);
        let same = same.and_then(|n| self.lines.get(&(self.part.clone(), n)).cloned());
        let pieces = match &same {
            Some(before) => vec![Piece::Put(&range, at), Piece::Put(before, from)],
            None => vec![Piece::Put(&range, at), Piece::Kept(from, text.len())],
        };
        if let Some(label) = label {
            let said = same.clone().unwrap_or_else(|| text[from..].to_string());
            self.lines.insert((self.part.clone(), label), said);
        }
        line.set(&pieces);
    }

    /// `8 #1 and #2 of A`: lines of a part by their numbers alone.
    fn set_numbers_alone(&self, line: &mut Line<'_>, text: &str, all: &[(usize, usize)]) -> bool {
        let (mut labels, mut part, mut of) = (Vec::new(), self.part.clone(), false);
        for (i, &(from, to)) in all.iter().enumerate() {
            let word = text[from..to].trim_end_matches(',');
            let label = word.strip_prefix('#').and_then(number);
            match (label, key(word).as_str()) {
                (Some(label), _) => labels.push(label),
                (None, "of" | "from") => of = true,
                (None, "and" | "&" | "part" | "eight" | "eights" | "8") => {}
                (None, name) if of => part = name.to_string(),
                (None, name) if i == 0 && number(name).is_some() => {}
                _ => return false,
            }
        }
        let found: Option<Vec<String>> =
            labels.iter().map(|n| self.lines.get(&(part.clone(), *n)).cloned()).collect();
        match found.filter(|f| !f.is_empty() && of) {
            Some(found) => {
                let said = found.join(", ");
                line.set(&[Piece::Put(&said, all[0].0)]);
                true
            }
            None => false,
        }
    }
}

/// `#1`, `1st 8`: the number of the eight that words refer to.
fn eight_referred(words: &str) -> Option<u32> {
    let words = words.strip_prefix("the ").unwrap_or(words);
    let counted = || words.split_once(' ').filter(|(_, unit)| matches!(*unit, "8" | "eight"));
    number(words.trim_start_matches('#')).or_else(|| ordinal(counted()?.0))
}

/// `8 #1:`, `1st 8:` or `the 4:` in front of a line: counts, number, and how many words that is.
fn front(text: &str, all: &[(usize, usize)]) -> Option<(u32, Option<u32>, usize)> {
    let word = |i: usize| all.get(i).map(|&(from, to)| &text[from..to]);
    let (first, second) = (word(0)?, word(1)?);
    let label = second.trim_end_matches([':', '.', ')']).strip_prefix('#').and_then(number);
    if let (Some(counts), Some(label)) = (number(first), label) {
        let said = all.len() > 2;
        return (said && counts > 0 && counts <= 64).then_some((counts, Some(label), 2));
    }
    let counts = second.strip_suffix(':').and_then(number)?;
    if let Some(label) = ordinal(first).filter(|_| counts == 8 && all.len() > 2) {
        return Some((counts, Some(label), 2));
    }
    let last = first.eq_ignore_ascii_case("the") || first.eq_ignore_ascii_case("last");
    (last && all.len() > 2 && counts > 0 && counts <= 64).then_some((counts, None, 2))
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_layout, texts)
    }

    #[test]
    fn forms_are_read_without_their_blanks() {
        assert_eq!(set(&["Title: ____Lark____"]), ["Title: Lark"]);
        assert_eq!(set(&["Basics   ____4____  = ____8____"]), ["Basics x4 (8)"]);
        assert_eq!(set(&["Part: ____A____  Beats: ____32____"]), ["Part A (32)"]);
        assert_eq!(set(&["________________"]), ["________________"]);
    }

    #[test]
    fn calls_go_behind_and_slashes_part_steps() {
        assert_eq!(set(&["Say \"TRIPLE\"   4 Triples"]), ["4 Triples \"TRIPLE\""]);
        assert_eq!(set(&["\"Fancy!\" = 2 Triples (8)"]), ["2 Triples (8) \"Fancy!\""]);
        assert_eq!(set(&["\"Lark Song\" - The Hollow Oaks"]), ["\"Lark Song\" - The Hollow Oaks"]);
        assert_eq!(set(&["\"Lantern Lane\""]), ["\"Lantern Lane\""]);
        assert_eq!(set(&["Triple / Fancy Double"]), ["Triple , Fancy Double"]);
        assert_eq!(set(&["DS / S"]), ["DS / S"]);
        assert_eq!(set(&["Sequence\u{2014}A, B"]), ["Sequence:A, B"]);
    }

    #[test]
    fn numbered_eights_repeat_one_another() {
        let sheet = [
            "PART A",
            "8 #1: Triple, Triple",
            "8 #2: Same as #1",
            "the 4: Chain",
            "HALF A",
            "8 #1 and #2 of A",
            "1st 8: Joey L, Joey R",
            "second 8: the same as 1st 8",
        ];
        let wanted = [
            "PART A",
            "1-8 Triple, Triple",
            "1-8 Triple, Triple",
            "1-4 Chain",
            "HALF A",
            "Triple, Triple, Triple, Triple",
            "1-8 Joey L, Joey R",
            "1-8 Joey L, Joey R",
        ];
        assert_eq!(set(&sheet), wanted);
    }
}
