//! Headings of parts: names that are known, letters, and names of the sheet's own, with their counts.

use super::glossary;
use super::lines::{Context, Section, is_wrapped_note};
use super::model::PartKind;
use super::notation::read_movements;
use super::phrases::{ONCE_MORE, count_range, times_word};
use super::vocabulary::{content, step_at};
use super::waits::waited_anywhere;
use super::words::{bare, foot, is_counts_word, key, length, nearest, number};

/// Words with which a part's heading begins, with the sort of part and other ways to write them.
pub(super) const PART_WORDS: &[(&str, PartKind, &[&str])] = &[
    ("part", PartKind::Part, &["pt", "section", "teil", "partie", "deel", "parte", "del"]),
    (
        "chorus",
        PartKind::Part,
        &["ch", "cho", "chor", "refrain", "refrein", "refräng", "estribillo", "omkvæd"],
    ),
    ("verse", PartKind::Part, &["v", "vs", "couplet", "strophe", "estrofa"]),
    ("pre-chorus", PartKind::Part, &["prechorus", "pre"]),
    (
        "break",
        PartKind::Break,
        &["br", "brk", "zwischenspiel", "mellanspel", "mellemspil", "mellomspill"],
    ),
    ("bridge", PartKind::Bridge, &["brg", "brdg", "brücke", "brug", "brygga", "puente", "pont"]),
    ("intro", PartKind::Intro, &["introduction", "int", "opening"]),
    (
        "ending",
        PartKind::Ending,
        &[
            "end", "outro", "finale", "coda", "finish", "schluss", "ende", "einde", "slut", "fin",
            "out",
        ],
    ),
    ("tag", PartKind::Tag, &["tags"]),
    ("fill", PartKind::Fill, &["filler", "fills", "transition"]),
    ("instrumental", PartKind::Part, &["inst", "instr", "solo"]),
    ("interlude", PartKind::Part, &[]),
    ("hook", PartKind::Part, &[]),
    ("figure", PartKind::Part, &["fig"]),
    ("restart", PartKind::Tag, &[]),
];

/// The sort of part that a word begins, and the word as it is usually written.
pub(super) fn part_word(word: &str) -> Option<(&'static str, PartKind)> {
    let word = word.trim_matches(|c: char| matches!(c, ':' | '.' | '(' | ')')).to_lowercase();
    PART_WORDS
        .iter()
        .find(|(name, _, also)| *name == word || also.contains(&word.as_str()))
        .map(|(name, kind, _)| (*name, *kind))
}

/// Whether a word is the trade's for something short between the parts: a fill, a break, a tag, an ending.
pub(super) fn is_short_part(word: &str) -> bool {
    use PartKind::{Break, Bridge, Ending, Fill, Tag};
    part_word(word).is_some_and(|(_, kind)| matches!(kind, Fill | Break | Bridge | Ending | Tag))
}

/// A part's heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Heading {
    /// As typed.
    pub name: String,
    /// Sort of part.
    pub kind: PartKind,
    /// Counts stated, and where.
    pub counts: Option<(u32, usize)>,
    /// Where steps or a note begin on the same line.
    pub rest: Option<usize>,
    /// How often it is danced each time that it comes: `Verse (do twice)`.
    pub times: u32,
}

impl Heading {
    /// A heading that says nothing but its name.
    pub(super) fn named(name: impl Into<String>, kind: PartKind) -> Heading {
        Heading { name: name.into(), kind, counts: None, rest: None, times: 1 }
    }
}

/// A word that leads from a part's name to its counts.
fn is_verb(word: &str) -> bool {
    const VERBS: [&str; 8] = ["is", "has", "lasts", "takes", "runs", "only", "just", "goes"];
    VERBS.iter().any(|verb| word.eq_ignore_ascii_case(verb))
}

/// A part's name without the words that lead to its counts: `Part A is only`.
pub(super) fn without_verb(name: &str) -> &str {
    let mut name = name;
    while let Some((before, last)) = name.rsplit_once(' ') {
        if !is_verb(last) {
            break;
        }
        name = before.trim_end();
    }
    name
}

/// A word of a line, with its first byte.
type Placed<'t> = (usize, &'t str);

/// A word of a name without the signs that enclose or end it.
fn without_signs(word: &str) -> &str {
    word.trim_matches(['[', ']', '(', ')', ':', '.', '*', ',', '!'])
}

/// Reads a part's heading.
pub(super) fn heading(text: &str, start: usize, context: &Context<'_>) -> Option<Heading> {
    let start = start + clock_in_front(&text[start..]);
    let rest = &text[start..];
    let words = words_with_places(rest);
    let (_, first) = *words.first()?;
    // A name between drawn strokes is all of what stands there, `--- Intro step (16) ---`.
    if let Some(found) = drawn(rest, start, &words).filter(|_| context.step_below) {
        return Some(found);
    }
    // `[Chorus]` and `(B)` are headings too; a sentence in brackets is a note, whatever it begins with.
    const MOST_WORDS_IN_BRACKETS: usize = 5;
    let opened = first.starts_with(['[', '(']);
    if opened && words.len() > MOST_WORDS_IN_BRACKETS && is_wrapped_note(rest.trim()) {
        return None;
    }
    let (used, kind) = named_words(rest, &words, context)?;
    let (last_at, last) = *words.get(used.checked_sub(1)?)?;
    let name = rest[..last_at + last.len()].trim_matches(|c: char| {
        let signs = [':', '-', '=', ',', '.', '[', ']', '(', ')', '*', '!'];
        c.is_whitespace() || signs.contains(&c)
    });
    let name = with_star(without_verb(name), rest);
    if name.is_empty() {
        return None;
    }
    let set_off = opened || last.ends_with([':', '.', ')', ']', '=', ',']);
    let found = Heading::named(name, kind);
    let lettered = letter_before_steps(rest, &words);
    let gap = lettered || words.get(used).is_some_and(|w| w.0 - (last_at + last.len()) >= WIDE_GAP);
    let named = lettered
        || is_plain_part(&words[..used])
        || gap && part_word(without_signs(first)).is_some();
    let unmarked = (named || over_counted_steps(&words))
        && words.get(used).is_some_and(|w| begins_steps(&rest[w.0..], gap));
    let mut found = read_tail(found, last, set_off || unmarked, start, &words[used..])?;
    // `Part A - 32 beats - starts front, ends back`
    if found.rest.is_some_and(|at| is_of_walls(&text[at..])) {
        found.rest = None;
    }
    let above_steps = context.steps_below && found.counts.is_none();
    if let Some(at) = found.rest.filter(|_| above_steps)
        && let Some(counts) = title_behind(&text[at..])
    {
        found.counts = Some((counts, at + text[at..].rfind('(').unwrap_or(0)));
        found.rest = None;
    }
    Some(found)
}

/// `Part A*`: a star right behind a name that has none in front is a part of it.
fn with_star<'t>(name: &'t str, rest: &'t str) -> &'t str {
    let Some(at) = rest.find(name).filter(|_| !name.is_empty()) else { return name };
    let end = at + name.len();
    let behind = &rest[end..];
    let one = behind.starts_with('*') && !behind.starts_with("**");
    if one && !rest[..end].contains('*') { &rest[at..=end] } else { name }
}

/// `Br 8 stomps`: a number of steps behind a short form, which as a movement has none behind it.
fn over_counted_steps(words: &[Placed<'_>]) -> bool {
    let behind: Vec<&str> = words.iter().skip(1).take(5).map(|(_, w)| *w).collect();
    behind.first().is_some_and(|w| number(w).is_some()) && step_at(&behind[1..]).is_some()
}

/// Whether a part is called by the trade's word in full, which begins no line of steps: `Tag`, `Chorus 2`. `Finish` may.
fn is_plain_part(words: &[Placed<'_>]) -> bool {
    let first = words.first().map(|(_, w)| without_signs(w).to_lowercase()).unwrap_or_default();
    PART_WORDS.iter().any(|(name, ..)| *name == first)
}

/// Blanks that set a part's name off from its first step, `End     Stomp`.
const WIDE_GAP: usize = 3;

/// Whether a text is steps from its first word on, with a number in front, more than one of them, or `set_off` from what
/// stands before it.
fn begins_steps(text: &str, set_off: bool) -> bool {
    let said = content(text);
    let counted = text.starts_with(|c: char| c.is_ascii_digit());
    let first = text.split_whitespace().next().unwrap_or("");
    said.is_steps() && said.before == 0 && (counted || said.steps > 1 || set_off)
        || set_off && glossary::find(first).is_some()
}

/// How many words name a part, and what sort of part it is.
fn named_words(
    rest: &str,
    words: &[Placed<'_>],
    context: &Context<'_>,
) -> Option<(usize, PartKind)> {
    const ORDINALS: [&str; 8] = ["first", "second", "third", "1st", "2nd", "3rd", "last", "final"];
    let (_, first) = *words.first()?;
    let ordinal = ORDINALS.contains(&without_signs(first).to_lowercase().as_str());
    let lead_in = usize::from(ordinal && words.len() > 1);
    let word = words.get(lead_in).map_or("", |(_, w)| without_signs(w));
    if let Some((_, kind)) = part_word(word) {
        let used = label_behind(lead_in + 1, kind, words);
        // A short form alone may be anything: `br` is a brush too.
        let lower = word.to_lowercase();
        let short = lower.chars().count() <= 3 && lower != "tag" && lower != "end";
        // `BR (8): 4 Basics`
        let counted = words.get(1).is_some_and(|(_, w)| w.starts_with('(') && w.ends_with("):"));
        let open = used == 1 && words.len() > 1 && !first.ends_with(':') && !counted;
        return (!(short && open) || over_counted_steps(words)).then_some((used, kind));
    }
    // `1st A`, `Second B`
    let alone = words.len() == lead_in + 1;
    if lead_in > 0 && alone && is_letter_label(word) && foot(word).is_none() {
        return Some((words.len(), PartKind::Part));
    }
    let letter = without_signs(first);
    let opened = first.starts_with(['[', '(']);
    let small = !opened && first.ends_with([':', ')']);
    if is_letter_label(letter) || small && is_letter_label(&letter.to_uppercase()) {
        return is_named_by_letter(rest, words).then_some((1, PartKind::Part));
    }
    // Movements name no part.
    if words.len() > 1 && read_movements(rest.trim()).is_some() {
        return None;
    }
    Some((custom_name(rest, words, context)?, PartKind::Part))
}

/// How many words name a part with the label behind its word, `Part A`, `Chorus 2`, `Break B2`, and with words that lead
/// on, `Chorus again`, `Part B is 32`.
fn label_behind(used: usize, kind: PartKind, words: &[Placed<'_>]) -> usize {
    const UNITS: [&str; 5] = ["eights", "eight", "x", "bars", "of"];
    let mut used = used;
    let closed = words[used - 1].1.ends_with([':', ',', '-', '=']);
    let again = once_more(&words[used..]);
    // `Chorus x 2`, `Chorus 2 times` say how often.
    let is_number =
        |i: usize| words.get(i).is_some_and(|(_, w)| number(without_signs(w)).is_some());
    let said = |i: usize, word: &str| words.get(i).is_some_and(|(_, w)| bare(w) == word);
    let often = |i: usize| said(i, "x") && is_number(i + 1) || is_number(i) && said(i + 1, "times");
    let label = words.get(used).filter(|_| !closed && again == 0 && !often(used)).map(|(_, w)| *w);
    if let Some(typed) = label.filter(|w| is_part_label(without_signs(w)) && !w.starts_with('(')) {
        let n = number(without_signs(typed));
        let as_count = n.is_some_and(|n| n > 3 && kind != PartKind::Part || n > 12);
        let unit = |w: &str| {
            !w.starts_with('(') && is_counts_word(w) || UNITS.contains(&w.to_lowercase().as_str())
        };
        let counts_follow = n.is_some() && words.get(used + 1).is_some_and(|(_, w)| unit(w));
        // `Tag 2 Basics, Stomp`: how often the step is danced.
        let behind: Vec<&str> = words[used + 1..].iter().take(4).map(|(_, w)| *w).collect();
        let of_a_step = n.is_some() && kind != PartKind::Part && step_at(&behind).is_some();
        used += usize::from(!as_count && !counts_follow && !of_a_step);
    }
    used += usize::from(words.get(used).is_some_and(|(_, w)| key(w) == "again"));
    used += again;
    let verbs = words[used..].iter().take_while(|(_, w)| is_verb(w)).count();
    let counted = words.get(used + verbs).is_some_and(|(_, w)| number(without_signs(w)).is_some());
    if counted { used + verbs } else { used }
}

/// Whether a letter in front names a part: `A:`, `[B]`, `C 32`, `D` alone.
fn is_named_by_letter(rest: &str, words: &[Placed<'_>]) -> bool {
    let Some(&(at, first)) = words.first() else { return false };
    let marked = first.ends_with([':', ')', '.', ']'])
        || first.starts_with(['[', '('])
        || words.len() == 1
        || is_also_called(&words[1..])
        || rest.trim_start().starts_with("[ ");
    let tail: Vec<&str> = words[1..].iter().map(|(_, w)| *w).filter(|w| !is_stroke(w)).collect();
    let counted = tail_counts(&tail).is_some();
    // `J. Mapes` is somebody's name, and a lone L or R is a foot.
    let behind = rest[at + first.len()..].trim();
    let somebody = first.ends_with('.') && !behind.is_empty() && !content(behind).is_steps();
    let is_foot =
        words.len() == 1 && !first.contains([':', ')']) && foot(without_signs(first)).is_some();
    (marked || danced_times(&words[1..]).is_some()) && !somebody && !is_foot
        || counted
        || letter_before_steps(rest, words)
}

/// `C (Chorus)`: what the part is, behind its letter.
fn is_also_called(words: &[Placed<'_>]) -> bool {
    let [(_, word)] = words else { return false };
    let inner = word.strip_prefix('(').and_then(|w| w.strip_suffix(')'));
    inner.is_some_and(|w| part_word(w).is_some())
}

/// `B  Samantha, 2 Triples`: a letter that is no foot, two blanks, and steps.
fn letter_before_steps(rest: &str, words: &[Placed<'_>]) -> bool {
    let [(at, first), (next, _), ..] = words else { return false };
    let apart = next - (at + first.len()) >= 2;
    apart
        && first.len() == 1
        && is_letter_label(first)
        && foot(first).is_none()
        && begins_steps(&rest[*next..], true)
}

/// Reads counts, times and steps behind a name whose last word is `last`. `None` where words go on with no sign between.
fn read_tail(
    mut found: Heading,
    last: &str,
    set_off: bool,
    start: usize,
    words: &[Placed<'_>],
) -> Option<Heading> {
    // `Part B is 32 as well.`
    let as_well = |w: &str| matches!(&*bare(w), "as" | "well" | "too" | "also");
    let words = &words[..words.len() - words.iter().rev().take_while(|(_, w)| as_well(w)).count()];
    let sign = |w: &str| w.chars().all(|c| matches!(c, '-' | ':' | '=' | '.' | ',' | '*'));
    let Some(from) = words.iter().position(|(_, w)| !sign(w)) else { return Some(found) };
    let tail: Vec<&str> = words[from..].iter().map(|(_, w)| *w).collect();
    let mut next = from;
    // `FINISH: (2) Stomp`: a number in brackets in front of a step is how often.
    let times_of_a_step = tail[0].starts_with('(')
        && last.ends_with(':')
        && (2..=tail.len().min(5)).any(|n| glossary::find(&tail[1..n].join(" ")).is_some());
    if let Some((counts, n)) = tail_counts(&tail).filter(|_| !times_of_a_step) {
        found.counts = Some((counts, start + words[from].0));
        next += n;
    }
    let left = &words[next.min(words.len())..];
    if let Some(times) = danced_times(left) {
        found.times = times;
        return Some(found);
    }
    let said = |w: &str| w.chars().any(char::is_alphanumeric);
    let Some((at, first)) = left.first().filter(|_| left.iter().any(|(_, w)| said(w))) else {
        return Some(found);
    };
    let goes_on = from == 0 && !set_off && found.counts.is_none();
    if goes_on && !first.starts_with(['(', '"', '[']) {
        return None;
    }
    found.rest = Some(start + at);
    Some(found)
}

/// Whether words say which walls are faced or which foot starts, and nothing else.
fn is_of_walls(text: &str) -> bool {
    const WORDS: [&str; 20] = [
        "start", "starts", "starting", "end", "ends", "ending", "stay", "stays", "face", "faces",
        "facing", "to", "the", "wall", "and", "at", "with", "on", "left", "right",
    ];
    const WALLS: [&str; 4] = ["front", "back", "foot", "lead"];
    let words: Vec<&str> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let of = |all: &[&str], w: &str| all.iter().any(|a| w.eq_ignore_ascii_case(a));
    words.iter().any(|w| of(&WALLS, w)) && words.iter().all(|w| of(&WALLS, w) || of(&WORDS, w))
}

/// `Part C - Refrain (32)`, above steps: a title behind the dash, and the counts.
fn title_behind(text: &str) -> Option<u32> {
    const MOST_WORDS: usize = 4;
    let (title, counts) = super::words::counts_in_brackets(text.trim_end())?;
    let words: Vec<&str> = title.split_whitespace().collect();
    let plain = words.iter().all(|w| w.starts_with(char::is_uppercase) && number(w).is_none());
    (plain && words.len() <= MOST_WORDS && content(title).steps == 0).then_some(counts)
}

/// How many words say that a part comes again, where nothing stands behind them: `one more time`.
fn once_more(words: &[Placed<'_>]) -> usize {
    let said: Vec<&str> = words.iter().map(|(_, w)| *w).collect();
    if ONCE_MORE.contains(&key(&said.join(" ")).trim_end_matches('!')) { said.len() } else { 0 }
}

/// A heading behind drawn strokes, with its counts: `---- Chugs ------- 8`.
fn drawn(rest: &str, start: usize, words: &[Placed<'_>]) -> Option<Heading> {
    const MOST_WORDS: usize = 4;
    let strokes = ["--", "==", "**", "~~"].iter().any(|s| rest.trim_start().starts_with(s));
    let used = words
        .iter()
        .position(|(_, w)| {
            w.starts_with(['(', '[']) || is_stroke(w) || number(w).is_some_and(|n| n > 3)
        })
        .filter(|used| strokes && (1..=MOST_WORDS).contains(used))?;
    let tail: Vec<&str> = words[used..].iter().map(|(_, w)| *w).filter(|w| !is_stroke(w)).collect();
    let (counts, n) = tail_counts(&tail)?;
    if n != tail.len() {
        return None;
    }
    let name_end = words[used - 1].0 + words[used - 1].1.len();
    let name = rest[words[0].0..name_end].trim_matches([':', ' ', '-', '=', '*', '~']);
    let kind = part_word(words[0].1).map_or(PartKind::Part, |(_, kind)| kind);
    let at = start + words[used].0;
    (!name.is_empty()).then(|| Heading { counts: Some((counts, at)), ..Heading::named(name, kind) })
}

/// Whether a word is a drawn stroke: `-`, `=====`.
fn is_stroke(word: &str) -> bool {
    word.chars().all(|c| matches!(c, '-' | '=' | '*' | '~'))
}

/// `(do 2x)`, `x2`, `(dance twice)` at the end of a heading: how often the part is danced each time.
fn danced_times(words: &[Placed<'_>]) -> Option<u32> {
    let plain: Vec<String> = words
        .iter()
        .map(|(_, w)| w.trim_matches(|c: char| matches!(c, '(' | ')' | '[' | ']' | '-' | ',')))
        .filter(|w| !w.is_empty())
        .map(str::to_lowercase)
        .collect();
    let mut times = None;
    for (i, word) in plain.iter().enumerate() {
        let behind = plain.get(i + 1).map(String::as_str);
        match word.as_str() {
            "do" | "dance" | "danced" | "times" | "time" | "this" | "part" | "all" => {}
            w if times_word(w).is_some() => times = times_word(w),
            "x" => times = number(behind?),
            w if number(w).is_some()
                && (i > 0 && plain[i - 1] == "x" || behind == Some("times")) =>
            {
                times = number(w);
            }
            _ => return None,
        }
    }
    times.filter(|n| (1..=12).contains(n))
}

/// Bytes of a song's time in front of a heading, `0:26 Chorus`; none where no part's word follows.
fn clock_in_front(text: &str) -> usize {
    let Some((time, after)) = text.split_once(char::is_whitespace) else { return 0 };
    let is_time = time.split_once(':').is_some_and(|(minutes, seconds)| {
        let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
        digits(minutes) && digits(seconds) && seconds.len() == 2
    });
    let named = after.split_whitespace().next().is_some_and(|w| part_word(w).is_some());
    if is_time && named { text.len() - after.trim_start().len() } else { 0 }
}

/// Words of a text with their places. Brackets with spaces inside stay apart word by word.
fn words_with_places(text: &str) -> Vec<(usize, &str)> {
    let mut out = Vec::new();
    let mut at = 0;
    for word in text.split_whitespace().take(40) {
        let place = text[at..].find(word).map_or(at, |p| p + at);
        // A drawn stroke or a lone bracket in front, `--- Main`, `[ A ]`, belongs to no name.
        let stroke = word.chars().all(|c| matches!(c, '-' | '=' | '*' | '~' | '[' | ']' | '_'));
        if !(stroke && out.is_empty()) {
            out.push((place, word));
        }
        at = place + word.len();
    }
    while out.len() > 1
        && out.last().is_some_and(|(_, w): &(usize, &str)| {
            w.chars().all(|c| matches!(c, '-' | '=' | '*' | '~' | '[' | ']'))
        })
    {
        out.pop();
    }
    out
}

/// `A`, `B2`, `1`, `II`: what follows the word Part.
fn is_part_label(word: &str) -> bool {
    let length = word.chars().count();
    number(word).is_some()
        || (1..=3).contains(&length) && word.chars().all(|c| c.is_alphanumeric()) && {
            let lower = word.to_lowercase();
            let letter_first = word.chars().next().is_some_and(char::is_alphabetic);
            // `A2`, and `Aa` where parts have parts.
            let small = length == 2 && word.starts_with(char::is_uppercase);
            let digits_after =
                word.chars().skip(1).all(|c| c.is_ascii_digit() || small && c.is_ascii_lowercase());
            (letter_first && digits_after)
                || number(word).is_some()
                || lower.chars().all(|c| c == 'i' || c == 'v')
        }
}

/// A single letter, with a number or without: `A`, `B2`. Feet are no parts.
fn is_letter_label(word: &str) -> bool {
    let mut chars = word.chars();
    chars.next().is_some_and(|c| c.is_ascii_uppercase())
        && word.chars().count() <= 2
        && chars.all(|c| c.is_ascii_digit() || c == '\'')
}

/// Counts in a heading's tail: `(32)`, `32 counts`, `4 eights`, `(32 cts)`.
fn tail_counts(tail: &[&str]) -> Option<(u32, usize)> {
    let first = tail.first()?;
    let open = first.starts_with(['(', '[']);
    let stripped: Vec<String> = tail
        .iter()
        .take(6)
        .map(|w| {
            w.trim_matches(|c: char| matches!(c, '(' | ')' | '[' | ']' | ',' | ':' | '.'))
                .to_string()
        })
        .collect();
    let words: Vec<&str> = stripped.iter().map(String::as_str).collect();
    // Only up to the end of the bracket.
    let within = if open {
        tail.iter()
            .position(|w| w.contains([')', ']']))
            .map_or(words.len(), |p| p + 1)
            .min(words.len())
    } else {
        words.len()
    };
    if let Some(counts) = words.first().and_then(|w| count_range(w))
        && (!open || within == 1)
    {
        return Some((counts, 1));
    }
    let (counts, used) = length(&words[..within])?;
    if open && used < within {
        return None;
    }
    // `2 Triple` is a step, no length; `32 - call` is one.
    let bare_number = used == 1 && number(words[0]).is_some() && !open;
    let followed =
        tail.get(used).is_some_and(|w| w.chars().next().is_some_and(char::is_alphanumeric));
    if bare_number && followed {
        return None;
    }
    Some((counts, used))
}

/// How many words name a part whose name is the sheet's own: it stands in the order, or counts stand
/// behind it and steps below it.
fn custom_name(rest: &str, words: &[Placed<'_>], context: &Context<'_>) -> Option<usize> {
    let strip = |w: &str| w.trim_end_matches([':', ',']).to_string();
    for used in (1..=words.len().min(5)).rev() {
        let last = words[used - 1];
        let name = strip(&rest[..last.0 + last.1.len()]);
        if !context.ordered.contains(&key(&name)) || glossary::find(&name).is_some() {
            continue;
        }
        let tail: Vec<&str> =
            words[used..].iter().map(|(_, w)| *w).filter(|w| !is_stroke(w)).collect();
        let complete = tail.is_empty() || tail_counts(&tail).is_some_and(|(_, n)| n == tail.len());
        if complete || last.1.ends_with(':') {
            return Some(used);
        }
    }
    // `Lantern Walk (32)` after a gap, with steps below; `Lantern Walk:` alone.
    let used = words
        .iter()
        .position(|(_, w)| w.starts_with(['(', '[']) || is_stroke(w) || number(w).is_some());
    let colon_alone = words.last().is_some_and(|(_, w)| w.ends_with(':')) && words.len() <= 5;
    let used = match used {
        Some(used) if used > 0 => used,
        None if colon_alone => words.len(),
        _ => return None,
    };
    let name_end = words[used - 1].0 + words[used - 1].1.len();
    let name = strip(&rest[..name_end]);
    let first = words[0].1;
    if context.defined.contains(&glossary::name_key(&name)) {
        return None;
    }
    if number(first).is_some()
        || count_range(first).is_some()
        || times_word(first).is_some()
        || glossary::find(&name).is_some()
        || read_movements(&name).is_some()
        || waited_anywhere(rest).is_some()
    {
        return None;
    }
    if colon_alone && used == words.len() {
        let parts = context.step_below && !context.defined_below;
        return (parts && context.section != Section::Order).then_some(used);
    }
    let tail: Vec<&str> = words[used..].iter().map(|(_, w)| *w).filter(|w| !is_stroke(w)).collect();
    let (counts, n) = tail_counts(&tail)?;
    let near_step = nearest(&name, glossary::names()).is_some();
    // `Middle Eight` is a part; `Back Forty` is a place.
    const MOST_IN_WORDS: u32 = 32;
    // Where there is an order, a part is named in it, if with a slip; anything else is a step with counts.
    const MOST_COMPARED: usize = 500;
    let in_order = context.ordered.is_empty()
        || context.ordered.len() > MOST_COMPARED
        || nearest(&name, context.ordered.iter().map(String::as_str)).is_some();
    // `PICKUP, 4 counts. Stomp, Stomp, Clap, Clap.`
    let ends = tail.get(n - 1).is_some_and(|w| w.ends_with(['.', ':'])) && n > 1;
    let steps_behind = ends && tail.get(n).is_some() && begins_steps(&tail[n..].join(" "), false);
    if steps_behind && context.after_gap && in_order && words[used - 1].1.ends_with(',') {
        return Some(used);
    }
    (n == tail.len()
        && counts >= 8
        && context.after_gap
        && context.step_below
        && (counts <= MOST_IN_WORDS
            || tail.iter().any(|w| w.contains(|c: char| c.is_ascii_digit())))
        && !near_step
        && in_order)
        .then_some(used)
}
