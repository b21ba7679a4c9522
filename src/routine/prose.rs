//! Sheets told in sentences: `For the verse, start with two Triples.` begins the part that it speaks of.

use super::heading::part_word;
use super::line::{Line, Piece};
use super::phrases::times_word;
use super::vocabulary::content;
use super::words::{bare, key, length, number, runs};

/// A sentence that begins a part: where the part's name stands, and where its steps begin.
struct Begins {
    name: (usize, usize),
    rest: usize,
}

/// Sets `For the verse, start with two Triples.` as `verse: two Triples.`
pub(super) fn set_prose(lines: &mut [Line<'_>]) {
    for line in lines.iter_mut() {
        if is_talk(&line.text) {
            line.set_as_note();
            continue;
        }
        one_like_it(line);
        makes_so_many(line);
        let text = line.text.clone();
        let end = text.trim_end().len();
        if let Some(Begins { name, rest }) = begins_a_part(&text).or_else(|| is_there(&text)) {
            line.set(&[
                Piece::Kept(name.0, name.1),
                Piece::Put(": ", name.1),
                Piece::Kept(rest, end),
            ]);
        } else if let Some((name, counts, rest)) = is_so_long(&text).or_else(|| of_counts(&text)) {
            let counts = format!(" ({counts}) ");
            line.set(&[
                Piece::Kept(name.0, name.1),
                Piece::Put(&counts, name.1),
                Piece::Kept(rest, end.max(rest)),
            ]);
        } else if let Some(rest) = ends_a_part(&text) {
            line.blank(0, rest);
        }
    }
}

/// `Clap on the last one if you feel like it.`: a sentence to the dancers, though it names a step. One that counts, or that
/// begins as lines of steps do, is no talk.
fn is_talk(text: &str) -> bool {
    const FEWEST_WORDS: usize = 5;
    const TALK: &[&str] = &[
        "you", "your", "yours", "if", "please", "not", "dont", "don't", "feel", "like", "need",
        "it", "it's", "its", "that's", "instead", "stay", "keep", "very", "is", "are", "was",
        "there", "my", "our", "they", "their", "never", "always", "because", "when", "learn",
        "danced", "comes", "so", "but", "who", "what", "for", "be",
    ];
    const BEGIN_STEPS: &[&str] = &[
        "repeat", "do", "same", "then", "again", "start", "starts", "begin", "order", "sequence",
        "wait", "turn", "now", "next", "add", "dance", "finish", "end", "as", "another", "all",
        "both",
    ];
    let all: Vec<String> = words(text).iter().map(|&(a, b)| text[a..b].to_lowercase()).collect();
    let counts = |w: &String| {
        !matches!(&**w, "one" | "twice") && (number(w).is_some() || times_word(w).is_some())
    };
    if all.len() < FEWEST_WORDS
        || BEGIN_STEPS.contains(&all[0].as_str())
        || text.contains(['=', '(', '[', '/', '|', '#', '"'])
        || all.iter().any(counts)
    {
        return false;
    }
    let talk = all.iter().filter(|w| TALK.contains(&w.as_str())).count();
    let content = content(text);
    let least = if content.before == 0 { 3 } else { 2 };
    content.steps > 0 && talk >= least && talk >= content.steps && part_word(&all[0]).is_none()
}

/// `a Joey, and another one just like it` as `a Joey and another`.
fn one_like_it(line: &mut Line<'_>) {
    const LIKE_IT: &[&str] = &[
        "another one just like it",
        "another just like it",
        "another one like it",
        "another like it",
    ];
    let lower = line.text.to_ascii_lowercase();
    let Some((at, said)) = LIKE_IT.iter().find_map(|w| Some((lower.find(w)?, w.len()))) else {
        return;
    };
    let before = lower[..at].trim_end();
    let before = before.strip_suffix("and").unwrap_or(before).trim_end_matches([' ', ',']).len();
    line.set(&[
        Piece::Kept(0, before),
        Piece::Put(" and another ", at),
        Piece::Kept(at + said, line.text.len()),
    ]);
}

/// `two Joeys and two Chains, that makes sixteen.` as `two Joeys and two Chains (16)`.
fn makes_so_many(line: &mut Line<'_>) {
    let text = &line.text;
    let Some(comma) = text.rfind(',') else { return };
    let said: Vec<String> = text[comma + 1..].split_whitespace().map(bare).collect();
    let said: Vec<&str> = said.iter().map(String::as_str).collect();
    let counts = match said[..] {
        ["that" | "which", "makes" | "is", ref counts @ ..] | ["that's", ref counts @ ..] => counts,
        _ => return,
    };
    let Some((n, _)) = length(counts).filter(|(_, used)| *used == counts.len()) else { return };
    if content(&text[..comma]).steps == 0 {
        return;
    }
    let counts = format!(" ({n})");
    line.set(&[Piece::Kept(0, comma), Piece::Put(&counts, comma)]);
}

/// Words with their first byte and the byte after their last, without signs around them.
fn words(text: &str) -> Vec<(usize, usize)> {
    runs(text, |c| c.is_alphanumeric() || c == '\'')
}

/// The part that words name from there on, `verse`, `second chorus`, `chorus 2`, and how many words that is.
fn part_at(text: &str, words: &[(usize, usize)]) -> Option<((usize, usize), usize)> {
    let word = |i: usize| words.get(i).map(|&(a, b)| &text[a..b]);
    let long = |w: &str| w.len() > 2 && part_word(w).is_some();
    let first = usize::from(!long(word(0)?));
    long(word(first)?).then(|| ((words[0].0, words[first].1), first + 1))
}

/// `For the verse, …`, `In the chorus we do …`.
fn begins_a_part(text: &str) -> Option<Begins> {
    const LEADS: &[&str] = &["for", "in", "on", "during"];
    let all = words(text);
    let word = |i: usize| all.get(i).map(|&(a, b)| key(&text[a..b])).unwrap_or_default();
    if !LEADS.contains(&word(0).as_str()) || word(1) != "the" {
        return None;
    }
    let (name, used) = part_at(text, all.get(2..)?)?;
    let rest = all.get(2 + used)?.0;
    let set_off =
        text[name.1..rest].contains([',', ':']) || matches!(word(2 + used).as_str(), "we" | "you");
    let steps = content(&text[rest..]).steps > 0;
    (set_off && steps).then(|| Begins { name, rest: behind_verbs(text, rest) })
}

/// `After the second chorus there is a break: …`.
fn is_there(text: &str) -> Option<Begins> {
    let all = words(text);
    let colon = text.find(':')?;
    let at = all.windows(2).position(|w| {
        key(&text[w[0].0..w[0].1]) == "there"
            && matches!(key(&text[w[1].0..w[1].1]).as_str(), "is" | "s" | "comes")
    })?;
    let behind: Vec<(usize, usize)> =
        all[at + 2..].iter().copied().filter(|w| w.1 <= colon).collect();
    let behind = match behind.first().map(|&(a, b)| key(&text[a..b])) {
        Some(article) if matches!(article.as_str(), "a" | "an" | "the") => &behind[1..],
        _ => &behind[..],
    };
    let (name, used) = part_at(text, behind)?;
    let steps = content(&text[colon + 1..]).steps > 0;
    (used == behind.len() && steps).then_some(Begins { name, rest: colon + 1 })
}

/// `Finish the verse with two Fancy Doubles`: where its steps begin.
fn ends_a_part(text: &str) -> Option<usize> {
    let all = words(text);
    let word = |i: usize| all.get(i).map(|&(a, b)| key(&text[a..b])).unwrap_or_default();
    let ends = matches!(word(0).as_str(), "finish" | "end" | "close") && word(1) == "the";
    let (_, used) = part_at(text, all.get(2..).filter(|_| ends)?)?;
    let rest = all.get(3 + used)?.0;
    (word(2 + used) == "with" && content(&text[rest..]).steps > 0).then_some(rest)
}

/// `The verse is 32 counts long.`: a part's name, its counts and where something else begins.
fn is_so_long(text: &str) -> Option<((usize, usize), u32, usize)> {
    const SAYS: &[&str] = &[
        "is", "has", "lasts", "runs", "takes", "comes", "next", "and", "it", "it's", "long", "as",
        "well", "too", "also", "for", "then", "now", "all",
    ];
    let all = words(text);
    let article = all.first().map(|&(a, b)| key(&text[a..b]))?;
    let (name, used) = part_at(text, all.get(1..)?)?;
    // A number in two words is joined by its dash.
    let behind = text[all.get(1 + used)?.0..].split_whitespace();
    let behind: Vec<&str> = behind.map(|w| w.trim_matches([',', '.', ';', ':', '!'])).collect();
    let at = (0..behind.len()).find(|&i| number(behind[i]).is_some())?;
    let (counts, long) = length(&behind[at..]).filter(|(n, long)| *long > 1 && *n >= 4)?;
    let mut others = behind[..at].iter().chain(&behind[at + long..]);
    let said = matches!(article.as_str(), "the" | "our" | "this") && at > 0;
    (said && others.all(|w| SAYS.contains(&key(w).as_str()))).then_some((name, counts, text.len()))
}

/// `The fiddle takes a break of 16 beats, and there we do four Joeys`: its counts stand behind the part's name, its steps
/// behind a comma.
fn of_counts(text: &str) -> Option<((usize, usize), u32, usize)> {
    let all = words(text);
    let word = |i: usize| all.get(i).map(|&(a, b)| key(&text[a..b])).unwrap_or_default();
    let article = |i: &usize| matches!(word(*i).as_str(), "a" | "an" | "the");
    let (name, of) = (0..all.len()).filter(article).find_map(|i| {
        let (name, used) = part_at(text, all.get(i + 1..)?)?;
        (word(i + 1 + used) == "of").then_some((name, i + 1 + used))
    })?;
    let behind = text.get(all.get(of + 1)?.0..)?;
    let comma = behind.find([',', ':'])?;
    let said: Vec<&str> = behind[..comma].split_whitespace().collect();
    let (counts, _) = length(&said).filter(|(_, used)| *used == said.len() && *used > 1)?;
    let rest = text.len() - behind.len() + comma + 1;
    (content(&text[rest..]).steps > 0).then(|| (name, counts, behind_verbs(text, rest)))
}

/// Behind `we start with`, `you do`.
fn behind_verbs(text: &str, from: usize) -> usize {
    const VERBS: &[&str] = &[
        "we", "you", "start", "begin", "with", "do", "dance", "it's", "its", "there", "are", "and",
        "then", "here", "where",
    ];
    let all = words(&text[from..]);
    let first =
        all.iter().find(|&&(a, b)| !VERBS.contains(&key(&text[from + a..from + b]).as_str()));
    first.map_or(from, |w| from + w.0)
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    #[test]
    fn sentences_begin_parts() {
        let sheet = [
            "For the verse, start with two Triples.",
            "In the second chorus we do a Charleston, then two Basics.",
            "After that there is a bridge: eight Stomps.",
            "Finish the verse with two Fancy Doubles.",
            "The bridge comes now, and it is thirty-two counts long.",
            "The harmonica has a break of eight beats, and there we do eight Stomps.",
            "The verse is the one that you know.",
            "A Joey, and another one just like it, going home",
            "Two Joeys and two Chains, that makes sixteen.",
            "For the class on Tuesday bring two Triples of water",
            "In the chorus keep smiling",
        ];
        let wanted = [
            "verse: two Triples.",
            "second chorus: a Charleston, then two Basics.",
            "bridge: eight Stomps.",
            "two Fancy Doubles.",
            "bridge (32)",
            "break (8) eight Stomps.",
            "The verse is the one that you know.",
            "A Joey and another , going home",
            "Two Joeys and two Chains (16)",
            "For the class on Tuesday bring two Triples of water",
            "In the chorus keep smiling",
        ];
        assert_eq!(set_by(set_prose, &sheet), wanted);
    }
}
