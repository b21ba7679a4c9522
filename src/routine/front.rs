//! What is only typography, taken off each line before it is read: times of the song, marks of an outline, cues and
//! callers in front of steps, leaders of dots, sums written out. A sheet's habit is learned from the whole of it; what
//! was typed stays with the line.

use super::bars::set_bars;
use super::codes::set_codes;
use super::column_heads::set_column_heads;
use super::heading::part_word;
use super::leaders::{lead_from_steps, leaders, sums};
use super::line::{Line, Piece};
use super::movement_columns::{movements_at_the_left, movements_at_the_right};
use super::numbers::{set_counts_in_front, set_times_beside_ranges, set_times_in_brackets};
use super::outline::set_outline;
use super::phrases::{count_range, times_word};
use super::prose::set_prose;
use super::running::{set_columns, set_timing_at_the_right, set_totals_in_front};
use super::section_titles::set_section_titles;
use super::set_off::set_apart;
use super::shorthand::set_shorthand;
use super::times_and_counts::set_times_and_counts;
use super::vocabulary::{content, plain_words};
use super::words::{foot, is_counts_word, key, number};

/// Fewest lines that make something a habit of the sheet.
const FEWEST_LINES: usize = 2;

/// Takes such things off the plain text of a sheet's lines.
pub(super) fn set_front(lines: &mut [Line<'_>]) {
    song_times(lines);
    set_apart(lines);
    set_bars(lines);
    set_column_heads(lines);
    movements_at_the_left(lines);
    set_columns(lines);
    set_totals_in_front(lines);
    set_timing_at_the_right(lines);
    set_outline(lines);
    set_prose(lines);
    cues(lines);
    callers(lines);
    all_again(lines);
    set_codes(lines);
    set_shorthand(lines);
    set_times_and_counts(lines);
    set_times_in_brackets(lines);
    set_times_beside_ranges(lines);
    set_counts_in_front(lines);
    letters_with_dashes(lines);
    ranges_in_words(lines);
    let titles = set_section_titles(lines);
    let from_steps = lead_from_steps(lines);
    for (line, is_title) in lines.iter_mut().zip(titles) {
        short_names(line);
        with_signs(line);
        movements_at_the_right(line);
        feet_in_a_row(line);
        if !is_title {
            ranges(line);
        }
        all_in_brackets(line);
        drawn_marks(line);
        leaders(line, from_steps);
        sums(line);
    }
}

/// `V = Verse, C = Chorus`: what parts are called in short is a note.
fn short_names(line: &mut Line<'_>) {
    let text = line.text.trim();
    let pieces: Vec<&str> = text.split([',', ';']).collect();
    let says = |piece: &&str| {
        let Some((short, name)) = piece.split_once('=') else { return false };
        let (short, name) = (short.trim(), name.trim());
        let begins = |name: &str| name.to_lowercase().starts_with(&short.to_lowercase());
        (1..=3).contains(&short.chars().count())
            && short.chars().all(char::is_alphabetic)
            && part_word(name.split(' ').next().unwrap_or("")).is_some()
            && begins(name)
    };
    if pieces.len() > 1 && pieces.iter().all(says) {
        line.set_as_note();
    }
}

/// `x 2` or `x4 in all` below steps: all of it that often.
fn all_again(lines: &mut [Line<'_>]) {
    let mut below_steps = false;
    for line in lines.iter_mut() {
        let words = plain_words(&line.text);
        if words.is_empty() {
            continue;
        }
        let alone = words.len() < 3 && content(&line.text).other == 0;
        let in_all =
            words.iter().any(|w| w.eq_ignore_ascii_case("all") || w.eq_ignore_ascii_case("total"));
        let joined: String = words[0].to_string() + if words.len() == 2 { words[1] } else { "" };
        let first = times_word(words[0]).or_else(|| times_word(&joined).filter(|_| alone));
        let times = first.filter(|n| (2..=8).contains(n) && below_steps && (alone || in_all));
        let steps = content(&line.text).is_steps();
        let counts = words.iter().skip(1).filter_map(|w| number(w)).next_back();
        below_steps = steps;
        if let Some(times) = times.filter(|_| !steps) {
            let often = if times == 2 { String::new() } else { format!(" x{}", times - 1) };
            let counts = counts.filter(|_| in_all).map_or(String::new(), |n| format!(" ({n})"));
            let from = line.indent();
            line.set(&[Piece::Put(&format!("repeat all{often}{counts}"), from)]);
        }
    }
}

/// `1 to 8: 2 Triples` as `1-8: 2 Triples`.
fn ranges_in_words(lines: &mut [Line<'_>]) {
    let range = |line: &Line<'_>| -> Option<(usize, usize)> {
        let from = line.indent();
        let rest = &line.text[from..];
        let (first, behind) = rest.split_once(" to ")?;
        let digits = behind.bytes().take_while(u8::is_ascii_digit).count();
        let (a, b) = (number(first)?, number(&behind[..digits])?);
        let set_off = behind[digits..].trim_start().starts_with([':', '-', ')', '.']);
        let counts = (1..64).contains(&b.checked_sub(a)?);
        let figures = first.bytes().all(|c| c.is_ascii_digit());
        (figures && set_off && counts).then_some((from + first.len(), from + first.len() + 4))
    };
    let found: Vec<(usize, (usize, usize))> =
        lines.iter().enumerate().filter_map(|(i, l)| Some((i, range(l)?))).collect();
    if found.len() < FEWEST_LINES {
        return;
    }
    for (i, (from, to)) in found {
        let end = lines[i].text.len();
        lines[i].set(&[Piece::Kept(0, from), Piece::Put("-", from), Piece::Kept(to, end)]);
    }
}

/// `A - Triple, Triple` beside `B - Joey, Joey`: letters that name parts, each with its first steps, are set off by a colon.
fn letters_with_dashes(lines: &mut [Line<'_>]) {
    let dash = |line: &Line<'_>| -> Option<(usize, char)> {
        let from = line.indent();
        let rest = &line.text[from..];
        let letter = rest
            .chars()
            .next()
            .filter(|c| c.is_ascii_uppercase() && foot(&c.to_string()).is_none())?;
        let steps = rest[1..].strip_prefix(" - ")?;
        let said = content(steps);
        (said.is_steps() && said.before == 0).then_some((from + 1, letter))
    };
    let found: Vec<(usize, usize, char)> =
        lines.iter().enumerate().filter_map(|(i, l)| dash(l).map(|(at, c)| (i, at, c))).collect();
    let apart = found.windows(2).all(|w| w[0].2 < w[1].2);
    if found.len() < FEWEST_LINES || !apart {
        return;
    }
    for (i, at, _) in found {
        let end = lines[i].text.len();
        lines[i].set(&[Piece::Kept(0, at), Piece::Put(":", at), Piece::Kept(at + 2, end)]);
    }
}

/// `w/` is `with`, and says nothing to a reader of steps.
fn with_signs(line: &mut Line<'_>) {
    while let Some(at) = line.text.find(" w/ ") {
        line.blank(at + 1, at + 3);
    }
}

/// `Karaoke L + R`, `Triple  L,R,L`: the feet of one step, time after time.
fn feet_in_a_row(line: &mut Line<'_>) {
    let text = line.text.clone();
    if !text.contains(['+', ',', '/']) || content(&text).steps == 0 && !is_counted_code(&text) {
        return;
    }
    let is_foot = |w: &str| foot(w.trim_matches(['(', ')', '.'])).is_some();
    let mut from = 0;
    while let Some(at) = text[from..].find(['+', ',', '/']).map(|at| from + at) {
        let before = text[..at].trim_end();
        let behind = text[at + 1..].trim_start();
        let last = before.rsplit([' ', ',', '+', '/']).next().unwrap_or("");
        let next = behind.split([' ', ',', '+', '/']).next().unwrap_or("");
        let in_brackets = text[..at].matches('(').count() > text[..at].matches(')').count();
        // A step behind the foot begins another, `Triple L, R Basic`.
        let rest = &behind[next.len()..];
        let named = content(rest.split([',', '+', ';', '/']).next().unwrap_or("")).steps > 0;
        if is_foot(last) && is_foot(next) && !named && !in_brackets {
            line.text.replace_range(at..=at, "&");
        }
        from = at + 1;
    }
    spaces_around_joined_feet(line);
}

/// `2 TR  L,R  8`: a name of capitals with a number in front and another at the end.
fn is_counted_code(text: &str) -> bool {
    let words: Vec<&str> = text.split_whitespace().collect();
    let [first, name, .., last] = words[..] else { return false };
    let capitals = name.len() > 1 && name.chars().all(char::is_uppercase);
    number(first).is_some() && capitals && number(last).is_some()
}

/// `L&R` as three words.
fn spaces_around_joined_feet(line: &mut Line<'_>) {
    let text = line.text.clone();
    let joined = |at: usize| {
        let (before, behind) = (text[..at].chars().next_back(), text[at + 1..].chars().next());
        before.is_some_and(char::is_alphabetic)
            && behind.is_some_and(|c| c.is_alphabetic() || c == ' ')
    };
    let places: Vec<usize> =
        text.match_indices('&').map(|(at, _)| at).filter(|at| joined(*at)).collect();
    if places.is_empty() {
        return;
    }
    let mut pieces = Vec::new();
    let mut from = 0;
    for at in places {
        pieces.extend([Piece::Kept(from, at), Piece::Put(" & ", at)]);
        from = at + 1;
    }
    pieces.push(Piece::Kept(from, text.len()));
    line.set(&pieces);
}

/// `[1-8]`, `Counts 1-8:`, `cts 1-8`: what stands around a range of counts in front.
fn ranges(line: &mut Line<'_>) {
    let from = line.indent();
    let text = &line.text[from..];
    let word = text.find(|c: char| !c.is_alphabetic()).unwrap_or(text.len());
    let named = word > 0 && is_counts_word(&text[..word]);
    let start = if named { word } else { 0 };
    let open =
        text[start..].len() - text[start..].trim_start_matches([' ', '.', '[', '(', '#']).len();
    let begin = start + open;
    let digits = text[begin..].find(|c: char| !c.is_ascii_digit() && c != '-').unwrap_or(0);
    let range = &text[begin..begin + digits];
    let behind = text[begin + digits..].len()
        - text[begin + digits..].trim_start_matches([' ', ']', ')', ':', '.', '-', '=']).len();
    let said = text[begin + digits + behind..].chars().any(char::is_alphabetic);
    let marked = named || text.starts_with(['[', '(']);
    if marked && said && count_range(range).is_some() {
        let end = from + begin + digits;
        // The counts of a section are those of its steps.
        let first = text[begin + digits + behind..].split_whitespace().next().unwrap_or("");
        if part_word(first).is_some() {
            line.blank(from, end + behind);
            return;
        }
        line.blank(end, end + behind);
        line.blank(from, from + begin);
    }
}

/// `(2 Triples, 1 Cowboy) x2`, `2 Basics, 1 Triple     x2`: steps that are danced several times together.
fn all_in_brackets(line: &mut Line<'_>) {
    let text = line.text.clone();
    let end = text.trim_end().len();
    if let Some((open, close)) = round_group(&text) {
        let behind = text[close + 1..].trim_start();
        let times = behind.split_whitespace().next().is_some_and(|w| times_word(w).is_some());
        if times {
            line.set(&[
                Piece::Kept(0, open),
                Piece::Put("{", open),
                Piece::Kept(open + 1, close),
                Piece::Put("}", close),
                Piece::Kept(close + 1, end),
            ]);
        }
        return;
    }
    const GAP: &str = "   ";
    let from = line.indent();
    let Some(gap) = text[from..].find(GAP).map(|at| from + at) else { return };
    let behind = text[gap..].trim_start();
    let times = behind.split_whitespace().next().is_some_and(|w| times_word(w).is_some());
    let several = text[from..gap].contains([',', '+', ';']) && content(&text[from..gap]).steps > 1;
    if times && several {
        line.enclose((from, gap), "{", "}");
    }
}

/// Brackets around several steps.
fn round_group(text: &str) -> Option<(usize, usize)> {
    let open = text.find('(')?;
    let mut from = open;
    loop {
        let close = from + text[from..].find(')')?;
        let inner = &text[from + 1..close];
        if inner.contains([',', '+', ';']) && content(inner).is_steps() && content(inner).steps > 1
        {
            return Some((from, close));
        }
        from = close + text[close..].find('(')?;
    }
}

/// `0:18  VERSE`, `[1:42] Chorus`: times of the song in front of lines, each later than the one before.
fn song_times(lines: &mut [Line<'_>]) {
    let found: Vec<(usize, u32, usize, usize)> = lines
        .iter()
        .enumerate()
        .filter_map(|(i, line)| {
            let (seconds, from, to) = time_in_front(&line.text)?;
            Some((i, seconds, from, to))
        })
        .collect();
    if found.len() <= FEWEST_LINES || found.windows(2).any(|w| w[1].1 < w[0].1) {
        return;
    }
    for (i, _, from, to) in found {
        lines[i].blank(from, to);
    }
}

/// Seconds of a time in front of a line, and where it stands.
fn time_in_front(text: &str) -> Option<(u32, usize, usize)> {
    let from = text.len() - text.trim_start_matches([' ', '(', '[', '@']).len();
    let rest = &text[from..];
    let to = rest.find(|c: char| !c.is_ascii_digit() && c != ':').unwrap_or(rest.len());
    let (minutes, seconds) = rest[..to].split_once(':')?;
    let (minutes, seconds) = (number(minutes)?, number(seconds).filter(|_| seconds.len() == 2)?);
    let mut end = from + to;
    // `0:18-0:34`
    let behind = text[end..].trim_start_matches([' ', '-']);
    if let Some((_, _, until)) =
        behind.starts_with(char::is_numeric).then(|| time_in_front(behind)).flatten()
    {
        end = text.len() - behind.len() + until;
    }
    let signs = text[end..].len() - text[end..].trim_start_matches([')', ']', ' ', '-', '.']).len();
    let said = text[end + signs..].chars().any(char::is_alphabetic);
    said.then_some((minutes * 60 + seconds, text.len() - text.trim_start().len(), end + signs))
}

/// `"Stay on" -> Cowboy`, `(he whistles) -> 4 Stomps`: words of the song in front of what is danced to them.
fn cues(lines: &mut [Line<'_>]) {
    let places: Vec<(usize, usize, bool)> = lines
        .iter()
        .enumerate()
        .filter_map(|(i, line)| {
            let (before, behind) = arrow(&line.text)?;
            let cue = line.text[..before].trim();
            let quoted =
                cue.starts_with(['"', '(', '\'', '[']) && cue.ends_with(['"', ')', '\'', ']']);
            let danced = content(&line.text[behind..]).is_steps() && content(cue).steps == 0;
            (quoted || danced).then_some((i, behind, danced))
        })
        .collect();
    if places.iter().filter(|(.., danced)| *danced).count() < FEWEST_LINES {
        return;
    }
    for (i, behind, _) in places {
        let from = lines[i].indent();
        lines[i].blank(from, behind);
    }
}

/// Where the only arrow of a text stands: its first byte and the byte behind it.
fn arrow(text: &str) -> Option<(usize, usize)> {
    let at = text.find('>')?;
    if text[at + 1..].contains('>') {
        return None;
    }
    let from = text[..at].trim_end_matches(['-', '=']).len();
    (!text[..from].trim().is_empty() && !text[..from].contains('<')).then_some((from, at + 1))
}

/// `ALL: 4 Triples`, `LINE 1: 4 Triples / LINE 2: 4 Basics`: who dances. What others do at the same time is a note.
fn callers(lines: &mut [Line<'_>]) {
    let mut single = None;
    for line in lines.iter_mut() {
        let Some(colon) = line.text.find(':') else { continue };
        let from = line.indent();
        let behind = &line.text[colon + 1..];
        if colon < from || !is_group(&line.text[from..colon]) || !content(behind).is_steps() {
            single = None;
            continue;
        }
        // What the others do at the same time is a note.
        let group = key(&line.text[from..colon]);
        if group == "others" && single == Some(()) {
            line.set_as_note();
            single = None;
            continue;
        }
        single = (group != "all").then_some(());
        let second = behind.char_indices().find_map(|(at, c)| {
            let rest = behind[at + c.len_utf8()..].split(':').next()?;
            (matches!(c, '/' | ';' | '|') && is_group(rest)).then_some(colon + 1 + at)
        });
        if let Some(at) = second {
            let end = line.text.trim_end().len();
            line.set(&[
                Piece::Kept(colon + 1, at),
                Piece::Put("\"", at),
                Piece::Kept(at + 1, end),
                Piece::Put("\"", end),
            ]);
        } else {
            line.blank(from, colon + 1);
        }
    }
}

/// Whether words name dancers: `All`, `Line 2`, `front row`.
fn is_group(words: &str) -> bool {
    const GROUPS: &[&str] = &[
        "all",
        "everyone",
        "everybody",
        "both",
        "line",
        "lines",
        "row",
        "rows",
        "front",
        "back",
        "leads",
        "lead",
        "followers",
        "ladies",
        "men",
        "girls",
        "boys",
        "women",
        "couple",
        "others",
        "couples",
        "partners",
        "team",
        "group",
        "inside",
        "outside",
        "left",
        "right",
        "side",
        "odds",
        "evens",
        "ends",
        "centers",
        "solo",
        "us",
        "kids",
        "adults",
        "both lines",
        "we",
        "you",
    ];
    let words = key(words);
    let mut all = words.split(' ');
    let first = all.next().unwrap_or("");
    let known = |w: &str| GROUPS.contains(&w) || number(w).is_some() || w == "the" || w.len() == 1;
    (GROUPS.contains(&first) || first == "the")
        && words.len() < 30
        && all.all(known)
        && words.chars().any(char::is_alphabetic)
}

/// `<A>`, `>> Chorus <<`, `~ Verse ~`: signs drawn around a few words.
fn drawn_marks(line: &mut Line<'_>) {
    const SIGNS: [char; 12] = [
        '<', '>', '~', '{', '}', '^', '|', '\u{2605}', '\u{2606}', '\u{266A}', '\u{266B}',
        '\u{2666}',
    ];
    let text = line.text.trim();
    let (from, to) = line.whole();
    let front =
        text.len() - text.trim_start_matches(|c: char| SIGNS.contains(&c) || c == ' ').len();
    let back = text.trim_end_matches(|c: char| SIGNS.contains(&c) || c == ' ').len();
    if front >= back || text[front..back].contains(SIGNS) && !is_marked_one_by_one(text) {
        return;
    }
    if is_marked_one_by_one(text) {
        for (at, c) in line.text.clone().char_indices().filter(|(_, c)| matches!(c, '<' | '>')) {
            line.blank(at, at + c.len_utf8());
        }
    } else if front > 0 && back < text.len() && !text.starts_with(['{', '|']) {
        // The end first: its place changes where signs of several bytes become spaces.
        line.blank(from + back, to);
        line.blank(from, from + front);
    }
}

/// `<A> <B> <A>`.
fn is_marked_one_by_one(text: &str) -> bool {
    let (open, close) = (text.matches('<').count(), text.matches('>').count());
    open > 0 && open == close && text.find('<') < text.find('>')
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(set_front, texts)
    }

    #[test]
    fn times_of_the_song_are_taken_off() {
        let sheet = ["0:05 wait 16", "[0:12] Verse", "0:30-0:45 - Chorus", "3:02"];
        assert_eq!(set(&sheet), ["wait 16", "Verse", "Chorus", "3:02"]);
        // Walls go round; they are no times of a song.
        let walls = ["6:00 wall", "3:00 wall", "12:00 wall"];
        assert_eq!(set(&walls), walls);
    }

    #[test]
    fn cues_and_callers_are_taken_off() {
        let sheet = ["\"Oh the hill\" -> Triple, Triple", "(fiddle) => 4 Stomps", "A > B > A"];
        assert_eq!(set(&sheet), ["Triple, Triple", "4 Stomps", "A > B > A"]);
        let teams =
            ["ALL: 2 Chains", "Front row: 4 Basics / Back row: 2 Triples", "Verse: 2 Triples"];
        assert_eq!(
            set(&teams),
            ["2 Chains", "4 Basics \" Back row: 2 Triples\"", "Verse: 2 Triples"]
        );
    }

    #[test]
    fn leaders_and_sums_become_counts() {
        let sheet = [
            "Chain left ....... 4",
            "Verse ... Bridge ... Verse",
            "2 x 4 = 8  chain, to the left",
            "VS = 2 x 16 = 32",
            "Hook = 8",
        ];
        let wanted = [
            "Chain left (4)",
            "Verse , Bridge , Verse",
            "chain x2 (8) , to the left",
            "VS: (32)",
            "Hook: (8)",
        ];
        assert_eq!(set(&sheet), wanted);
        let steps = ["[A]", "CV L ... 8", "2 TR ... 8", "  SAM ... 8", "4 B ..... 8 cts"];
        let wanted = ["[A]", "1 CV L (8)", "2 TR (8)", "1 SAM (8)", "4 B (8 cts)"];
        assert_eq!(set(&steps).iter().map(|s| s.trim()).collect::<Vec<_>>(), wanted);
        let parts = ["Verse ... 32", "CV L ... 8", "2 TR ... 8", "2 CH ... 8"];
        assert_eq!(set(&parts), ["Verse (32)", "CV L (8)", "2 TR (8)", "2 CH (8)"]);
    }

    #[test]
    fn drawn_signs_are_taken_off() {
        assert_eq!(
            set(&["<A>", "~ Verse ~", "<A> <B> <A>", "{Triple, Basic} x2"]),
            ["A", "Verse", "A B A", "{Triple, Basic} x2"]
        );
    }
}
