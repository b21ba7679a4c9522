//! A sheet's own key of codes, `B=basic  T=triple`: the codes are set as the names that they stand for.

use std::collections::HashMap;

use super::glossary;
use super::line::{Line, Piece};
use super::movement::find_movement;
use super::vocabulary::{content, plain_words};
use super::words::{counts_in_brackets, foot, key, number, turn};

/// Fewest codes that make a key.
const FEWEST_CODES: usize = 3;
/// Fewest lines in nothing but codes.
const FEWEST_LINES: usize = 2;
/// The longest code, in characters.
const LONGEST: usize = 5;

/// Sets lines that are written in codes as lines of names.
pub(super) fn set_codes(lines: &mut [Line<'_>]) {
    let mut codes: HashMap<String, String> = HashMap::new();
    let (mut keys, mut of_movements) = (Vec::new(), Vec::new());
    for (i, line) in lines.iter().enumerate() {
        let pairs = pairs(&line.text);
        let known = || pairs.iter().filter(|(_, name)| stands_for(name).is_some());
        if known().filter(|(code, _)| find_movement(code).is_some()).count() >= FEWEST_CODES {
            of_movements.push(i);
        }
        if known().count() * 2 > pairs.len() {
            keys.push(i);
            let named = pairs.iter().filter(|(code, name)| !is_movement(code, name));
            codes.extend(named.filter_map(|(code, name)| Some((code.clone(), stands_for(name)?))));
        }
    }
    let steps = codes.values().filter(|name| glossary::length_of(name).is_some()).count();
    if steps < FEWEST_CODES {
        // What movements are called in short says nothing new.
        of_movements.into_iter().for_each(|i| lines[i].set_as_note());
        return;
    }
    let on_one_line = keys.len() < steps || keys.len() == 1;
    // A key of one code a line is one where lines of steps are in codes alone, `T T RC RC [16]`.
    let in_codes = |line: &&Line<'_>| {
        let words = plain_words(&line.text);
        let coded = words.iter().filter(|w| codes.contains_key(**w)).count();
        coded >= FEWEST_CODES && coded + 1 >= words.len()
    };
    if !on_one_line && lines.iter().filter(in_codes).count() < FEWEST_LINES {
        return;
    }
    for (i, line) in lines.iter_mut().enumerate() {
        if keys.contains(&i) {
            line.set_as_note();
        } else if let Some(pieces) = spelled_out(&line.text, &codes) {
            let pieces: Vec<Piece<'_>> =
                pieces.iter().map(|(words, at)| Piece::Put(words, *at)).collect();
            line.set(&pieces);
        }
    }
}

/// `STO = stomp`: a movement under the code that it has anyway.
fn is_movement(code: &str, name: &str) -> bool {
    let short = stands_for(name).and_then(|name| glossary::length_of(&name));
    find_movement(code).is_some() && short.is_none_or(|counts| counts <= 1)
}

/// `B=basic`, `lc = to the left`: codes with what they mean.
fn pairs(text: &str) -> Vec<(String, String)> {
    let mut out = Vec::new();
    let signs: Vec<usize> = text.match_indices('=').map(|(at, _)| at).collect();
    for (n, &at) in signs.iter().enumerate() {
        let before = text[..at].trim_end();
        let code = before.rsplit([' ', ',', ';', '(']).next().unwrap_or("");
        let rest = &text[at + 1..signs.get(n + 1).copied().unwrap_or(text.len())];
        // Before the next code.
        let rest = match signs.get(n + 1) {
            Some(_) => {
                // A sign between them says where a code of two words begins, `, st dbl = stomp double`.
                let sign = rest.rsplit_once([',', ';']).map(|(before, _)| before);
                let blank = || rest.trim_end().rsplit_once(' ').map(|(before, _)| before);
                sign.or_else(blank).unwrap_or(rest)
            }
            None => rest,
        };
        let rest = counts_in_brackets(rest.trim()).map_or(rest, |(name, _)| name);
        let name = rest
            .trim_matches(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '.' | '(' | ')'));
        if code.is_empty()
            || code.chars().count() > LONGEST
            || name.is_empty()
            || number(code).is_some()
            // `2 TR, 4 B = 16` is a sum.
            || number(name).is_some()
        {
            return Vec::new();
        }
        out.push((code.to_string(), name.to_string()));
    }
    out
}

/// What a code may stand for: a step, a side, a turn.
fn stands_for(name: &str) -> Option<String> {
    let words: Vec<&str> = name.split_whitespace().collect();
    let side = words.iter().find(|w| foot(w).is_some());
    if glossary::length_of(name).is_some() {
        return Some(name.to_string());
    }
    if let Some((_, used)) = turn(&words).filter(|(_, used)| *used == words.len()) {
        return (used > 0).then(|| format!("turn {name}"));
    }
    let plain = content(name);
    (plain.other == 0 && plain.steps == 0).then(|| side.map_or(name.to_string(), |s| s.to_string()))
}

/// Each word of a line of codes spelled out, with its place; `None` where a word is no code.
fn spelled_out(text: &str, codes: &HashMap<String, String>) -> Option<Vec<(String, usize)>> {
    let mut out: Vec<(String, usize)> = Vec::new();
    let mut steps = 0;
    let mut at = 0;
    // `B 16: 2 TR, 2 FD`: the part's name and counts stand as they are; a sum at the end is the part's, `B: 2 TR = 8`.
    if let Some((at, counted)) = part_in_front(text) {
        let (codes_end, sum) = sum_at_the_end(text).filter(|_| !counted).unzip();
        let steps = spelled_out(&text[at..codes_end.unwrap_or(text.len())], codes)?;
        let front = match sum {
            Some(sum) => format!("{} ({sum}): ", text[..at].trim_end_matches([' ', ':'])),
            None => format!("{} ", &text[..at]),
        };
        let front = (front, 0);
        let behind = steps.into_iter().map(|(words, place)| (words, at + place));
        return Some(std::iter::once(front).chain(behind).collect());
    }
    let is_sign = |c: char| c.is_whitespace() || matches!(c, ',' | ';' | '+');
    let words = text.split(is_sign).filter(|w| !matches!(*w, "" | "/" | "="));
    let words: Vec<&str> = words.collect();
    if let [one] = words[..]
        && one.chars().count() == 1
    {
        // A letter alone is a part.
        return None;
    }
    // `B (32)` is a part with its counts.
    if let [one, counts] = words[..]
        && one.chars().count() == 1
        && counts.starts_with('(')
    {
        return None;
    }
    let last = words.len().saturating_sub(1);
    for (i, word) in words.into_iter().enumerate() {
        let place = text[at..].find(word)? + at;
        at = place + word.len();
        let bare = word.trim_matches(|c: char| matches!(c, '(' | ')' | '[' | ']' | '.' | ':'));
        let digits = bare.bytes().take_while(u8::is_ascii_digit).count();
        let (times, code) = bare.split_at(digits);
        let (code, sign) = with_sign(code, codes);
        match codes.get(code) {
            Some(name) if glossary::length_of(name).is_some() => {
                let comma = if out.is_empty()
                    || out.last().is_some_and(|(w, _)| number(w.trim_matches([',', ' '])).is_some())
                {
                    ""
                } else {
                    ", "
                };
                steps += 1;
                let times = if times.is_empty() { String::new() } else { format!("{times} ") };
                out.push((format!("{comma}{times}{name} {sign}"), place));
            }
            Some(how) => out.push((format!(" {how} "), place)),
            // Counts at the end.
            None if code.is_empty() && !times.is_empty() && steps > 0 && i == last => {
                out.push((format!(" ({times})"), place));
            }
            None if code.is_empty() && !times.is_empty() => {
                // `8  2 TR`: its counts, and how often.
                let comma = if steps == 0 { "" } else { ", " };
                out.push((format!("{comma}{times} "), place));
            }
            None if foot(bare).is_some()
                || key(bare).starts_with('x')
                || turn(&["turn", bare]).is_some()
                || matches!(key(bare).as_str(), "ea" | "each" | "turn" | "turning") =>
            {
                out.push((format!(" {bare} "), place));
            }
            None => return None,
        }
    }
    (steps > 0).then_some(out)
}

/// Where the words behind a part's letter begin, `B: `, and whether its counts stand beside it, `B 16: `.
fn part_in_front(text: &str) -> Option<(usize, bool)> {
    let (front, _) = text.split_once(':')?;
    let mut words = front.split_whitespace();
    let letter = words.next().is_some_and(|w| w.len() == 1 && w.starts_with(char::is_uppercase));
    let counts = words.next().map(|w| number(w).is_some());
    let named = letter && counts != Some(false) && words.next().is_none();
    named.then_some((front.len() + 1, counts == Some(true)))
}

/// `2 TR, 4 B = 16`: where the sum begins, and its counts.
fn sum_at_the_end(text: &str) -> Option<(usize, u32)> {
    let at = text.rfind('=')?;
    Some((at, number(text[at + 1..].trim())?))
}

/// `RC<`: a code with a sign that is one as well.
fn with_sign<'c>(code: &'c str, codes: &'c HashMap<String, String>) -> (&'c str, &'c str) {
    let Some(last) = code.char_indices().next_back().filter(|_| !codes.contains_key(code)) else {
        return (code, "");
    };
    match codes.get(&code[last.0..]) {
        Some(how) if last.0 > 0 => (&code[..last.0], how),
        _ => (code, ""),
    }
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_codes, texts)
    }

    #[test]
    fn codes_are_spelled_out() {
        let sheet = [
            "CH=chain, OU=outhouse, TR=triple",
            "rr = to the right",
            "A",
            "2TR CH rr",
            "OU OU",
            "A B A",
        ];
        let wanted = [
            "# CH=chain, OU=outhouse, TR=triple",
            "rr = to the right",
            "A",
            "2 triple , chain",
            "outhouse , outhouse",
            "A B A",
        ];
        let said = set(&sheet);
        assert_eq!(said[0], wanted[0]);
        assert_eq!(&said[2..3], &wanted[2..3]);
        assert_eq!(said[4], wanted[4]);
        assert!(said[3].starts_with("2 triple , chain right"), "{}", said[3]);
    }

    #[test]
    fn a_letter_with_counts_is_a_part_though_it_is_a_code() {
        let sheet = ["TR=triple  FD=fancy double  B=basic", "B (16)", "2 TR, 2 FD", "2 B 1/4L ea"];
        let said = set(&sheet);
        assert_eq!(said[1], sheet[1]);
        let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(plain(&said[2]), "2 triple , 2 fancy double");
        assert_eq!(plain(&said[3]), "2 basic 1/4L ea");
    }

    #[test]
    fn sums_behind_codes_are_counts() {
        let sheet = [
            "CH=chain  OU=outhouse",
            "TR=triple",
            "B: 2 TR / 2 OU / 1 CH = 20",
            "2 CH, 1/4 R ea = 8",
        ];
        let said = set(&sheet);
        assert_eq!(said[..2], ["# CH=chain OU=outhouse", "# TR=triple"]);
        assert_eq!(said[2], "B (20): 2 triple , 2 outhouse , 1 chain");
        assert_eq!(said[3], "2 chain 1/4 R ea (8)");
    }

    #[test]
    fn few_codes_are_no_key() {
        let sheet = ["RC = Rocking Chair", "2 RC"];
        assert_eq!(set(&sheet), sheet);
    }

    #[test]
    fn movements_under_their_own_codes_stay_movements() {
        let sheet =
            ["DS DS DS RS (x2)", "DS = double step, RS = rock step, STO = stomp, TCH = touch"];
        assert_eq!(set(&sheet)[0], sheet[0]);
    }
}
