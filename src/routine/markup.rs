//! Signs that say how a text looks and not what is danced: quoted mail, Markdown. They become spaces
//! in a line's plain text, sign by sign, so that every place stays where it was typed.

use super::heading::part_word;
use super::line::Line;
use super::words::{counts_in_brackets, number};

/// Takes such signs out of the plain text of a sheet's lines.
pub(super) fn without_markup(lines: &mut [Line<'_>]) {
    let filled = lines.iter().filter(|l| !l.text.trim().is_empty()).count();
    let quoted = lines.iter().filter(|l| l.text.trim_start().starts_with('>')).count();
    let headed = lines.iter().any(|l| l.text.trim_start().starts_with("##"))
        || lines.iter().filter(|l| is_headed(&l.text)).count() > 1;
    quoted_names(lines);
    for line in lines.iter_mut() {
        if quoted > 1 && quoted * 2 > filled {
            blank_front(&mut line.text, '>');
        }
        if headed {
            blank_front(&mut line.text, '#');
        }
        emphasis(&mut line.text);
        colons(&mut line.text);
    }
}

/// `"Chapel Step" (8)`: a step's name in quotes, which stands so on other lines too.
fn quoted_names(lines: &mut [Line<'_>]) {
    const MOST_WORDS: usize = 4;
    let named = |text: &str| -> Option<String> {
        let (inner, behind) = text.trim_start().strip_prefix('"')?.split_once('"')?;
        let counts = behind.trim_start().strip_prefix('(')?.split_once(')')?.0;
        let capital = inner.starts_with(char::is_uppercase);
        let few = inner.split_whitespace().count() <= MOST_WORDS;
        (capital && few && number(counts).is_some()).then(|| inner.to_string())
    };
    let names: Vec<String> = lines.iter().filter_map(|l| named(&l.text)).collect();
    for line in lines.iter_mut() {
        for name in &names {
            let quoted = format!("\"{name}\"");
            let danced = line.text.trim_start().starts_with(&quoted);
            // Once, in as many letters.
            let plain = if danced { format!("1 {name}") } else { format!(" {name} ") };
            line.text = line.text.replacen(&quoted, &plain, 1);
        }
    }
}

/// `# Verse (32)`: a part's name and its counts in brackets behind one sign.
fn is_headed(text: &str) -> bool {
    let Some(name) = text.trim().strip_prefix("# ") else { return false };
    counts_in_brackets(name)
        .is_some_and(|(name, _)| part_word(name.split_whitespace().next().unwrap_or("")).is_some())
}

/// `8 temps : 2 Triples`: a blank in front of a colon, as some languages have it, goes behind it.
fn colons(text: &mut String) {
    let places: Vec<usize> = text.match_indices(" :").map(|(at, _)| at + 1).collect();
    for colon in places {
        let behind = text[colon + 1..].chars().next();
        let words = text[..colon].trim_end_matches(' ').len();
        if text[..words].trim().is_empty()
            || !behind.is_some_and(|c| c.is_whitespace() || c.is_alphanumeric() || c == '"')
        {
            return;
        }
        let blanks = " ".repeat(colon - words);
        text.replace_range(words..=colon, &format!(":{blanks}"));
    }
}

/// Blanks a run of `sign` at the start.
fn blank_front(text: &mut String, sign: char) {
    let indent = text.len() - text.trim_start().len();
    let run = text[indent..].len() - text[indent..].trim_start_matches(sign).len();
    if run > 0 {
        text.replace_range(indent..indent + run, &" ".repeat(run));
    }
}

/// `**Part A**`, `*low*`, `_low_`: the signs around words. Stars between movements stay.
fn emphasis(text: &mut String) {
    for sign in ["**", "__", "*", "_"] {
        while let Some((open, close)) = pair(text, sign) {
            let blank = " ".repeat(sign.len());
            text.replace_range(open..open + sign.len(), &blank);
            text.replace_range(close..close + sign.len(), &blank);
        }
    }
}

/// The places of an opening and a closing sign around words.
fn pair(text: &str, sign: &str) -> Option<(usize, usize)> {
    let outer = |c: Option<char>| c.is_none_or(|c| c.is_whitespace() || ".,:;()!\"-".contains(c));
    let inner = |c: Option<char>| c.is_some_and(|c| !c.is_whitespace() && !sign.contains(c));
    let places = |from: usize| text[from..].match_indices(sign).map(move |(at, _)| from + at);
    let before = |at: usize| text[..at].chars().next_back();
    let after = |at: usize| text[at + sign.len()..].chars().next();
    let open = places(0).find(|&at| outer(before(at)) && inner(after(at)))?;
    let close = places(open + sign.len()).find(|&at| inner(before(at)) && outer(after(at)))?;
    Some((open, close))
}

#[cfg(test)]
mod tests {
    use super::super::line::lines_of;
    use super::*;

    fn plain(texts: &[&str]) -> Vec<String> {
        let mut lines = lines_of(texts);
        without_markup(&mut lines);
        for (line, typed) in lines.iter().zip(texts) {
            assert_eq!(line.text.chars().count(), typed.chars().count(), "{typed}");
        }
        lines.into_iter().map(|l| l.text.trim().to_string()).collect()
    }

    #[test]
    fn blanks_in_front_of_colons_go_behind_them() {
        assert_eq!(
            plain(&["8 temps : 2 Triples", ": 4", "a :: b", "a   : b  : c"]),
            ["8 temps:  2 Triples", ": 4", "a :: b", "a:    b:   c"]
        );
        // In proportion to the text's length.
        let many = format!("a{}: b", " ".repeat(1 << 20));
        assert!(plain(&[&many])[0].starts_with("a: "));
    }

    #[test]
    fn markdown_and_mail_are_read_without_their_signs() {
        assert_eq!(plain(&["## Part A", "# Lark"]), ["Part A", "Lark"]);
        assert_eq!(plain(&["# a note", "Part A"]), ["# a note", "Part A"]);
        assert_eq!(plain(&["> Part A", "> 2 Triple"]), ["Part A", "2 Triple"]);
        assert_eq!(plain(&["**Cowboy** (8)"]), ["Cowboy   (8)"]);
        assert_eq!(plain(&["2 Chain *(low)*"]), ["2 Chain  (low)"]);
    }

    #[test]
    fn stars_between_movements_stay() {
        for typed in ["DS*DS*RS", "DS * DS * RS", "* 2 Triple", "DS* DS* RS*"] {
            assert_eq!(plain(&[typed]), [typed], "{typed}");
        }
    }
}
