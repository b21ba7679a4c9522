//! A name for several parts, `A = A1, A2`: on lines of the order it is set as these.

use super::line::{Line, Piece};
use super::phrases::times_word;
use super::words::{counts_in_brackets, key, number, runs};

/// The longest name, in words.
const MOST_WORDS: usize = 3;
/// Words that say nothing beside a name: `One Wall`, `Part A`.
const BESIDE: [&str; 4] = ["one", "part", "each", "the"];

/// One name and the parts that it stands for.
struct Group {
    line: usize,
    key: String,
    parts: String,
}

/// Sets the names of several parts as these, where each of them stands in front of a line and they do not.
pub(super) fn set_groups(lines: &mut [Line<'_>]) {
    let groups: Vec<Group> =
        (0..lines.len()).filter_map(|i| group(i, &lines[i].text, lines)).collect();
    if groups.is_empty() {
        return;
    }
    for i in 0..lines.len() {
        if groups.iter().any(|g| g.line == i) {
            lines[i].set_as_note();
            continue;
        }
        let text = lines[i].text.clone();
        let names = names_in_a_list(&text);
        let grouped = |&(from, to): &(usize, usize)| {
            let name = without_beside(&text[from..to]);
            groups.iter().find(|g| g.key == name)
        };
        let found = names.iter().filter(|name| grouped(name).is_some()).count();
        let plain = |&(from, to): &(usize, usize)| {
            let word = &text[from..to];
            let often = number(word).is_some() || times_word(word).is_some();
            often || stands_in_front(word, lines)
        };
        // Only names, and one of them for several parts at least.
        if found == 0 || !names.iter().all(|n| grouped(n).is_some() || plain(n)) || names.len() < 2
        {
            continue;
        }
        let (mut pieces, mut at) = (Vec::new(), 0);
        for name in &names {
            if let Some(group) = grouped(name) {
                pieces.extend([Piece::Kept(at, name.0), Piece::Put(&group.parts, name.0)]);
                at = name.1;
            }
        }
        pieces.push(Piece::Kept(at, text.len()));
        lines[i].set(&pieces);
    }
}

/// `Part A (64 cts) = A1 + A2`
fn group(line: usize, text: &str, lines: &[Line<'_>]) -> Option<Group> {
    let (name, parts) = text.split_once('=').filter(|(_, parts)| !parts.contains('='))?;
    let name = counts_in_brackets(name.trim()).map_or(name, |(name, _)| name).trim();
    let key = without_beside(name);
    let words = key.split(' ').count();
    if key.is_empty() || words > MOST_WORDS {
        return None;
    }
    let listed: Vec<&str> = match parts.contains([',', '+', '&']) {
        true => parts.split([',', '+', '&']).map(str::trim).collect(),
        false => parts.split_whitespace().collect(),
    };
    let known = listed.len() > 1 && listed.iter().all(|part| stands_in_front(part, lines));
    (known && !stands_in_front(name, lines)).then(|| Group { line, key, parts: listed.join(", ") })
}

/// Whether a part of this name begins on a line: alone there, or before its counts.
fn stands_in_front(name: &str, lines: &[Line<'_>]) -> bool {
    let name = key(name);
    !name.is_empty()
        && lines.iter().filter(|l| !l.text.contains('=')).any(|line| {
            let text = key(line.text.trim_start_matches([' ', '*', '-', '[']));
            let text = text.strip_prefix("part ").unwrap_or(&text);
            let named = name.strip_prefix("part ").unwrap_or(&name);
            let Some(behind) = text.strip_prefix(named) else { return false };
            let counts = behind.trim_start_matches([' ', ':', '-', '(', '[', '.', '*', ']']);
            behind.is_empty()
                || !behind.starts_with(char::is_alphanumeric)
                    && (counts.is_empty() || counts.starts_with(|c: char| c.is_ascii_digit()))
        })
}

fn without_beside(name: &str) -> String {
    let words = key(name);
    let words = words.split(' ').filter(|w| !BESIDE.contains(w));
    words.collect::<Vec<_>>().join(" ").trim_end_matches([':', '.']).to_string()
}

/// The names of a list behind its label, `Order: A, B, Tag`.
fn names_in_a_list(text: &str) -> Vec<(usize, usize)> {
    let from = text.find(':').map_or(0, |colon| colon + 1);
    let by_comma = text[from..].contains(',');
    let of_a_name = |c: char| {
        !matches!(c, ',' | ';' | '>' | '/') && (by_comma || !c.is_whitespace() && c != '-')
    };
    let placed = runs(&text[from..], of_a_name).into_iter().map(|(a, b)| (a + from, b + from));
    let trimmed = placed.map(|(a, b)| {
        let start = b - text[a..b].trim_start().len();
        (start, start + text[start..b].trim_end().trim_end_matches('.').len())
    });
    trimmed.filter(|(a, b)| a < b).collect()
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::super::parse;
    use super::*;

    #[test]
    fn a_name_for_several_parts_is_set_as_these() {
        let sheet =
            ["A1 (16)", "2 Joeys", "A2 (16)", "4 Basics", "A = A1, A2", "Tag (4)", "A, Tag, A"];
        let said = set_by(set_groups, &sheet);
        assert_eq!(said[4], "# A = A1, A2");
        assert_eq!(said[6], "A1, A2, Tag, A1, A2");
        assert_eq!(said[..4], sheet[..4]);
    }

    #[test]
    fn parts_by_one_name_are_danced() {
        let sheet = "Wren Lane\n\nS1 (8)\n2 Joeys\n\nS2 (8)\n4 Basics\n\nTag (4)\n1 Joey\n\nOne Wall = S1, S2\nOrder: Wall, Tag, Wall\n";
        let (routine, findings) = parse(sheet);
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
        let names: Vec<&str> =
            routine.order.iter().map(|o| routine.parts[o.part].name.as_str()).collect();
        assert_eq!(names, ["S1", "S2", "Tag", "S1", "S2"]);
    }

    #[test]
    fn a_step_spelled_out_is_no_name_for_parts() {
        let sheet = ["A", "2 Joeys", "B", "Lark = DS DS RS", "Order: A, B"];
        assert_eq!(set_by(set_groups, &sheet), sheet);
    }
}
