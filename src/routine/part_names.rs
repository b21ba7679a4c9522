//! The names of the parts, and which lines name them: learned from the whole sheet, since a heading looks like any
//! other line. A line without a step over lines of steps begins a part; a line of such names alone is the order.

use std::collections::HashSet;

use super::heading::{Heading, part_word, without_verb};
use super::line::Line;
use super::lines::spells_out;
use super::model::PartKind;
use super::names_on_line::{Named, behind_a_label, names_on};
use super::notation::read_movements;
use super::phrases::{is_repeat_word, without_again};
use super::short_names::{initials, short_names};
use super::titles::{Title, is_known_part, title};
use super::vocabulary::{content, plain_words};
use super::waits::waited_anywhere;
use super::words::{bare, counts_in_brackets, is_other_word, key};

/// What is known of a sheet's lines before they are read one by one.
#[derive(Debug, Default)]
pub(super) struct Structure {
    /// Lines that begin a part under a name of the sheet's own.
    pub(super) heads: Vec<Option<Heading>>,
    /// Lines of the order, each with the byte where it begins.
    pub(super) orders: Vec<Option<usize>>,
    /// Every way to name a part.
    names: HashSet<String>,
}

/// Learns them.
pub(super) fn structure(lines: &[Line<'_>]) -> Structure {
    let titles: Vec<Option<Title>> = lines.iter().map(|l| title(&l.text)).collect();
    let named = |i: usize, t: &Title| key(&lines[i].text[t.name.0..t.name.1]);
    let found = titles.iter().enumerate().filter_map(|(i, t)| Some((i, t.as_ref()?)));
    let spelled = found.filter(|(i, t)| is_a_step(*i, t, lines)).map(|(i, t)| named(i, t));
    let spelled: HashSet<String> = spelled.collect();
    let kept = |(i, t): (usize, Option<Title>)| t.filter(|t| !spelled.contains(&named(i, t)));
    let titles: Vec<Option<Title>> = titles.into_iter().enumerate().map(kept).collect();
    let noted = |text: &str| text.trim_start().starts_with('#');
    let danced = |text: &str| content(text).is_steps() && !spells_out(text);
    let steps: Vec<bool> = lines.iter().map(|l| !noted(&l.text) && danced(&l.text)).collect();
    let mut headed: Vec<bool> =
        (0..lines.len()).map(|i| begins_a_part(i, lines, &titles, &steps)).collect();
    in_the_same_way(&mut headed, &titles);
    let mut names = HashSet::new();
    let mut full = HashSet::new();
    for (i, title) in titles.iter().enumerate() {
        if let Some(title) = title.as_ref().filter(|_| headed[i]) {
            let name = without_verb(&lines[i].text[title.name.0..title.name.1]);
            full.insert(key(name));
            names.extend(short_names(name));
            names.extend(initials(name));
        }
    }
    // `A B A` is made of names and is none.
    let made_of = |name: &String| {
        let words: Vec<&str> = name.split(' ').collect();
        words.len() > 2 && words.iter().all(|w| full.contains(*w) || names.contains(*w))
    };
    let whole: Vec<String> = full.iter().filter(|name| !made_of(name)).cloned().collect();
    names.extend(whole);
    let orders = orders(lines, &titles, &headed, &steps, &names);
    let ordered = orders.iter().any(Option::is_some);
    let heads = titles
        .into_iter()
        .enumerate()
        .map(|(i, title)| {
            if !ordered && !headed[i] && !steps[i] {
                return comes_again(&lines[i].text, title?, &names, &full);
            }
            let title = title.filter(|_| headed[i] && orders[i].is_none())?;
            // Where there is an order a part stands in it.
            let name = &lines[i].text[title.name.0..title.name.1];
            let named = !ordered || title.marked || is_named(name, lines, &orders);
            named.then(|| heading_of(&title, name))
        })
        .collect();
    Structure { heads, orders, names }
}

/// `Lantern Kick (8)` over movements that come to as much, with no gap above it: a step of the sheet's own, spelled out.
fn is_a_step(i: usize, title: &Title, lines: &[Line<'_>]) -> bool {
    let name = &lines[i].text[title.name.0..title.name.1];
    let first = name.split_whitespace().next().unwrap_or("");
    let joined = i > 0 && !lines[i - 1].text.trim().is_empty();
    let below = || lines.get(i + 1).and_then(|l| read_movements(l.text.trim()));
    title.counts.is_some_and(|(stated, _)| {
        joined && part_word(first).is_none() && below().is_some_and(|(_, counts)| counts == stated)
    })
}

impl Structure {
    /// Whether a line of several words below an order names no part at all.
    pub(super) fn names_none(&self, text: &str) -> bool {
        let named = names_on(text, &self.names);
        let none = named.names == 0 && (named.numbers == 0 || !named.only);
        !self.names.is_empty() && plain_words(text).len() > 2 && none
    }
}

/// `Harmonica again, other foot`: where no line gives the order, a name alone is that part once more.
fn comes_again(
    text: &str,
    title: Title,
    names: &HashSet<String>,
    full: &HashSet<String>,
) -> Option<Heading> {
    let named = names_on(text, names);
    let typed = &text[title.name.0..title.name.1];
    let name = without_again(typed).unwrap_or(typed.trim_end());
    let known = full.contains(&key(name));
    (known && named.only && named.names == 1).then(|| heading_of(&title, name))
}

fn heading_of(title: &Title, name: &str) -> Heading {
    let kind = name.split_whitespace().find_map(part_word).map_or(PartKind::Part, |(_, kind)| kind);
    Heading {
        name: without_verb(name).to_string(),
        kind,
        counts: title.counts,
        rest: title.rest,
        times: title.times,
    }
}

/// Whether a name or a short form of it stands in a line of the order.
fn is_named(name: &str, lines: &[Line<'_>], orders: &[Option<usize>]) -> bool {
    let mut ways = short_names(name);
    ways.extend(initials(name));
    ways.push(key(name));
    let texts = lines
        .iter()
        .zip(orders)
        .filter_map(|(l, at)| Some(format!(" {} ", key(&l.text[(*at)?..]))));
    texts.into_iter().any(|text| {
        let text: String =
            text.chars().map(|c| if c.is_alphanumeric() || c == '\'' { c } else { ' ' }).collect();
        let text = format!(" {} ", text.split_whitespace().collect::<Vec<_>>().join(" "));
        ways.iter().any(|way| text.contains(&format!(" {way} ")))
    })
}

/// Whether a part begins at a line: a title with steps behind it or below.
fn begins_a_part(i: usize, lines: &[Line<'_>], titles: &[Option<Title>], steps: &[bool]) -> bool {
    let Some(title) = &titles[i] else { return false };
    let text = lines[i].text.trim();
    let name = &lines[i].text[title.name.0..title.name.1];
    let first_word = key(&bare(name.split_whitespace().next().unwrap_or("")));
    let known = is_known_part(name);
    if begins_no_name(&first_word, known) {
        return false;
    }
    if waited_anywhere(text).is_some() && title.counts.is_none()
        || steps[i] && !title.marked
        || title.more
    {
        return false;
    }
    // Amid steps a name with few counts is a step that nobody knows.
    const FEWEST_OF_A_PART: u32 = 8;
    let above = i.checked_sub(1).map_or("", |above| lines[above].text.trim());
    let amid = i > 0 && steps[i - 1]
        || above.contains(char::is_alphanumeric) && part_word(&first_word).is_none();
    if (!known || part_word(&first_word).is_none())
        && amid
        && title.counts.is_some_and(|(n, _)| n < FEWEST_OF_A_PART)
    {
        return false;
    }
    if known && title.counts.is_some() && title.rest.is_none() {
        return true;
    }
    if title.rest.is_some() {
        return known || title.marked && title.counts.is_some();
    }
    // Drawn lines and one gap may stand between.
    let says = |j: &usize| lines[*j].text.chars().any(char::is_alphanumeric);
    let below = (i + 1..lines.len()).find(says);
    let gaps = |j: usize| lines[i + 1..j].iter().filter(|l| l.text.trim().is_empty()).count();
    // Lines with counts of their own are danced, whatever their steps are called.
    const MOST_OF_A_LINE: u32 = 16;
    let counted = |j: usize| {
        let counts = counts_in_brackets(lines[j].text.trim_end());
        counts.is_some_and(|(_, n)| n <= MOST_OF_A_LINE) && gaps(j) == 0
    };
    let danced = below.is_some_and(|j| steps[j] && gaps(j) < 2 || counted(j));
    let gap = i > 0 && lines[i - 1].text.trim().chars().all(|c| !c.is_alphanumeric());
    let capitals = text.chars().any(char::is_alphabetic) && !text.chars().any(char::is_lowercase);
    let below_small = below.is_some_and(|j| lines[j].text.chars().any(char::is_lowercase));
    let sentence =
        text.ends_with(['.', '!', '?']) || name.starts_with(char::is_lowercase) && capitals;
    let looks = known || title.marked && !sentence || gap && !sentence || capitals && below_small;
    // What stands first is the title of the sheet.
    let first = lines[..i].iter().all(|l| !l.text.chars().any(char::is_alphanumeric));
    danced && looks && (known || !first || title.marked)
}

/// Where some parts stand on one line with their steps, `Verse: 4 Triples`, another that does is a part as well.
fn in_the_same_way(headed: &mut [bool], titles: &[Option<Title>]) {
    const FEWEST: usize = 2;
    let on_one_line =
        |t: &Option<Title>| t.as_ref().is_some_and(|t| t.rest.is_some() && t.marked && !t.more);
    let number = headed.iter().zip(titles).filter(|(h, t)| **h && on_one_line(t)).count();
    if number < FEWEST {
        return;
    }
    for (head, title) in headed.iter_mut().zip(titles) {
        *head |= on_one_line(title);
    }
}

/// Whether no part's name begins with a word; with some only one that every reader knows, `Start of Verse`.
fn begins_no_name(first: &str, known: bool) -> bool {
    const AGAIN: &[&str] = &["same", "again", "do", "as"];
    const NO_NAMES: &[&str] = &[
        "then", "and", "on", "to", "face", "facing", "turn", "turning", "note", "hold", "pause",
        "wait", "start", "with", "in", "or", "if", "for", "now", "next", "at", "by", "left",
        "right", "l", "r", "clap", "everyone", "watch", "keep", "use", "x", "choreo", "music",
        "song", "artist", "level", "restart",
    ];
    is_repeat_word(first)
        || AGAIN.contains(&first)
        || !known && (NO_NAMES.contains(&first) || is_other_word(first))
}

/// Lines that name parts and nothing else, with the byte where the names begin.
fn orders(
    lines: &[Line<'_>],
    titles: &[Option<Title>],
    headed: &[bool],
    steps: &[bool],
    names: &HashSet<String>,
) -> Vec<Option<usize>> {
    let mut out: Vec<Option<usize>> = vec![None; lines.len()];
    let named: Vec<Named> = lines.iter().map(|l| names_on(&l.text, names)).collect();
    let last_headed = headed.iter().rposition(|h| *h).unwrap_or(0);
    for i in 0..lines.len() {
        let only_names = named[i].only && named[i].names > 1;
        if headed[i] && titles[i].as_ref().is_some_and(|t| t.rest.is_some() || t.counts.is_some())
            || steps[i] && !only_names
        {
            continue;
        }
        // Several names on one line, alone or behind a label.
        let several = named[i].names >= 2 || named[i].numbers >= 3;
        let many = named[i].names > 2;
        let all_names = named[i].only || named[i].slip;
        if all_names && several && (many || !begins_steps(i, lines, steps)) {
            out[i] = Some(named[i].from);
        } else if let Some(at) = behind_a_label(&lines[i].text, names) {
            out[i] = Some(at);
        }
    }
    renamed_line_by_line(lines, names, &mut out);
    // Line after line of names, down the page.
    let mut i = 0;
    while i < lines.len() {
        let run = (i..lines.len())
            .take_while(|&j| {
                let waits = named[j].only && waited_anywhere(&lines[j].text).is_some();
                !lines[j].text.trim().is_empty()
                    && named[j].only
                    && (named[j].names > 0 || waits)
                    && (out[j].is_some() || !begins_steps(j, lines, steps))
            })
            .count();
        let single = (i..i + run).filter(|&j| named[j].names == 1).count();
        let titled = i > 0
            && titles_an_order(&lines[i - 1].text, &titles[i - 1])
            && !named[i - 1].only
            && !steps[i - 1];
        // Where names stand alone before the last part too, the page itself is the order.
        let apart = i == 0 || lines[i - 1].text.trim().chars().all(|c| !c.is_alphanumeric());
        let on_the_page =
            (0..last_headed).any(|j| named[j].only && named[j].names == 1 && !headed[j]);
        let below_all = i > last_headed && (titled || apart && !on_the_page);
        if run >= 2 && (single < run || titled || run > 2) && below_all {
            for (offset, place) in out[i..i + run].iter_mut().enumerate() {
                place.get_or_insert(named[i + offset].from);
            }
            // What stands over the list is its title.
            if titled && out[i - 1].is_none() {
                out[i - 1] = Some(lines[i - 1].text.len());
            }
        }
        i += run.max(1);
    }
    out
}

/// `1st verse: Main Bit`, `2nd verse: Main Bit, facing back`: which part is danced to each piece of the song.
fn renamed_line_by_line(lines: &[Line<'_>], names: &HashSet<String>, out: &mut [Option<usize>]) {
    const FEWEST: usize = 3;
    let behind = |line: &Line<'_>| {
        let at = line.text.find(':')? + 1;
        let label = plain_words(&line.text[..at]).len();
        let said = line.text[at..].split([',', ';']).next()?;
        let said = names_on(said, names);
        ((1..=4).contains(&label) && said.only && said.names > 0).then_some(at)
    };
    let places: Vec<Option<usize>> = lines.iter().map(behind).collect();
    let mut i = 0;
    while i < lines.len() {
        let run = places[i..].iter().take_while(|p| p.is_some()).count();
        if run >= FEWEST {
            out[i..i + run].copy_from_slice(&places[i..i + run]);
        }
        i += run.max(1);
    }
}

/// Whether a line may stand over an order as its title.
fn titles_an_order(text: &str, title: &Option<Title>) -> bool {
    let few = (1..=8).contains(&plain_words(text).len());
    match title {
        Some(title) => title.counts.is_none() && title.rest.is_none(),
        None => few && text.trim_end().ends_with(':'),
    }
}

/// Whether steps stand right below a line.
fn begins_steps(i: usize, lines: &[Line<'_>], steps: &[bool]) -> bool {
    (i + 1..lines.len())
        .find(|&j| !lines[j].text.trim().is_empty())
        .is_some_and(|j| steps[j] && j == i + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(sheet: &str) -> (Vec<String>, Vec<String>) {
        let lines: Vec<Line<'_>> =
            sheet.lines().enumerate().map(|(i, l)| Line::new(i + 1, l)).collect();
        let found = structure(&lines);
        let heads = found.heads.iter().flatten().map(|h| h.name.clone()).collect();
        let orders = lines
            .iter()
            .zip(&found.orders)
            .filter_map(|(l, at)| Some(l.text[(*at)?..].trim().to_string()));
        (heads, orders.collect())
    }

    #[test]
    fn names_of_the_sheets_own_are_headings_over_steps() {
        let (heads, orders) = read(
            "Lark Song\nby Ann\n\nTHE WHEEL\n2 Triples\n\nThe Gate, 16:\n4 Basics\n\nwheel, gate, wheel\n",
        );
        assert_eq!(heads, ["THE WHEEL", "The Gate"]);
        assert_eq!(orders, ["wheel, gate, wheel"]);
    }

    #[test]
    fn orders_are_lines_of_names() {
        let parts = "A\n2 Triples\nB\n4 Basics\n";
        for order in ["A, B, A", "A > B > A x2", "Run it so: A B A", "Dance A then B"] {
            let (_, orders) = read(&format!("{parts}\n{order}\n"));
            assert_eq!(orders.len(), 1, "{order}");
        }
        let (_, orders) = read(&format!("{parts}\nPut it together:\nA x2\nB\nA\n"));
        assert_eq!(orders, ["", "A x2", "B", "A"]);
    }

    #[test]
    fn a_step_spelled_out_below_its_counts_begins_no_part() {
        let sheet =
            "Wren Lane\n\nA (24 cts)\nStir (8)\n  DS DS RS RS DS RS DS RS\n2 Joeys (8)\nStir (8)\n";
        let (routine, findings) = super::super::parse(sheet);
        let parts: Vec<&str> = routine.parts.iter().map(|p| p.name.as_str()).collect();
        assert_eq!(parts, ["A"]);
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
    }
}
