//! The order of the parts, in lines, lists or words: `A B fill A B break B end`.

use std::collections::HashMap;

use super::finding::{Fault, Finding};
use super::heading::is_short_part;
use super::line::Line;
use super::model::{OrderItem, Part, PartKind};
use super::order_words::{
    is_beside_a_name, is_order_word, is_told, list_number_end, pieces, says_otherwise,
    tells_of_a_time, words_between, words_of_once_more,
};
use super::phrases::times_word;
use super::short_names::Names;
use super::words::{is_counts_word, is_slip, key, number};

/// The longest order that is read, in parts.
pub const MOST_ENTRIES: usize = 20_000;
/// The most times that one part is danced in a row.
const MOST_IN_A_ROW: u32 = 100;

/// Where the order names a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OrderPlace {
    /// Line of the sheet, 1-based.
    pub line: usize,
    /// First character of the name on that line, 0-based.
    pub from: usize,
    /// The character after its last; as `from` where a part is danced again without being named.
    pub to: usize,
}

/// What the order says.
#[derive(Debug, Default)]
pub struct Order {
    /// Parts in the order in which they are danced.
    pub items: Vec<OrderItem>,
    /// Where each of them is named: line, and first and last character there; none where it follows
    /// from a number of times.
    pub places: Vec<OrderPlace>,
    /// A wait at its start, in counts.
    pub wait: Option<u32>,
    /// Parts that the order itself makes: pauses.
    pub pauses: Vec<Part>,
    /// Lines below it that name no part: notes.
    pub notes: Vec<String>,
}

/// Reads the order from lines and the byte in each from which it runs.
pub fn read_order(
    lines: &[(&Line<'_>, usize)],
    parts: &[Part],
    times: &[u32],
    findings: &mut Vec<Finding>,
) -> Order {
    let names = Names::new(parts);
    let mut reader = OrderReader {
        names,
        parts,
        times,
        out: Order::default(),
        rounds: HashMap::new(),
        times_ahead: 1,
        unknown: HashMap::new(),
    };
    for (i, (line, from)) in lines.iter().enumerate() {
        let text = line.text.get(*from..).unwrap_or("");
        if i > 0 && tells_of_a_time(text) {
            reader.out.notes.push(line.typed.trim().to_string());
            continue;
        }
        let last = i > 0 && i + 1 == lines.len();
        if let Some(counts) = wait_behind_it(text).filter(|_| last) {
            reader.out.wait = reader.out.wait.or(Some(counts));
            continue;
        }
        let (items, found) = (reader.out.items.len(), findings.len());
        let (pauses, wait) = (reader.out.pauses.len(), reader.out.wait);
        reader.line(line, *from, findings);
        let named = reader.out.items[items..].iter().filter(|item| item.part < parts.len());
        let mut named: Vec<usize> = named.map(|item| item.part).collect();
        named.dedup();
        if i > 0 && is_prose(&findings[found..], named.len(), text) {
            findings.truncate(found);
            reader.take_back(items, pauses, wait);
            reader.out.notes.push(line.typed.trim().to_string());
        }
    }
    reader.out
}

/// `Wait 8`, `Wait 16 beats, then the intro`, on the last line: nobody waits when the dance is over.
fn wait_behind_it(text: &str) -> Option<u32> {
    const MOST_WORDS: usize = 6;
    let mut words = text.split_whitespace();
    let few = words.clone().count() <= MOST_WORDS;
    let waits = words.next().is_some_and(|w| key(w) == "wait");
    number(words.next()?.trim_end_matches([',', '.'])).filter(|_| few && waits)
}

/// Whether what was found in a line that goes on with the order shows that it does not: several words like no part's
/// name, and fewer names. Words that may be notes beside names are such words in a sentence alone, `Part A takes you to
/// the next wall.`
fn is_prose(found: &[Finding], named: usize, text: &str) -> bool {
    const VERBS: [&str; 11] =
        ["is", "are", "takes", "brings", "ends", "starts", "has", "will", "you", "goes", "comes"];
    const FEWEST_WORDS: usize = 6;
    let words = || text.split_whitespace();
    let sentence =
        || text.trim_end().ends_with('.') && words().any(|w| VERBS.contains(&key(w).as_str()));
    // `B goes to the back, C comes home to the front.`
    let goes = words().any(|w| matches!(&*key(w), "goes" | "comes" | "takes" | "brings"));
    if goes && sentence() && named <= 2 && words().count() >= FEWEST_WORDS {
        return true;
    }
    let number = |is: fn(&Fault) -> bool| found.iter().filter(|f| is(&f.fault)).count();
    let unknown = number(|fault| matches!(fault, Fault::UnknownPart { nearest: None }));
    let notes = number(|fault| *fault == Fault::NoteInOrder);
    unknown + notes > 1 && unknown + notes > named && (unknown > 0 || sentence())
}

pub(super) struct OrderReader<'p> {
    pub(super) names: Names,
    pub(super) parts: &'p [Part],
    /// How often each part is danced each time that it is named.
    pub(super) times: &'p [u32],
    pub(super) out: Order,
    pub(super) rounds: HashMap<usize, u32>,
    /// A number that stood before a name: `2 x A`.
    pub(super) times_ahead: u32,
    /// What mistyped names most likely mean; each is looked for once.
    pub(super) unknown: HashMap<String, Option<String>>,
}

impl OrderReader<'_> {
    /// Takes back what a line gave that turns out to be none of the order's.
    fn take_back(&mut self, items: usize, pauses: usize, wait: Option<u32>) {
        for item in self.out.items.drain(items..) {
            if let Some(round) = self.rounds.get_mut(&item.part) {
                *round = round.saturating_sub(1);
            }
        }
        self.out.places.truncate(items);
        self.out.pauses.truncate(pauses);
        self.out.wait = wait;
        self.times_ahead = 1;
    }

    fn line(&mut self, line: &Line<'_>, from: usize, findings: &mut Vec<Finding>) {
        let begun = self.out.items.len();
        let from = self.behind_a_label(&line.text, list_number_end(&line.text, from));
        for (start, end) in pieces(&line.text, from) {
            // What is danced otherwise this time is a note.
            let named = self.out.items.len() > begun;
            if named && says_otherwise(line.text.get(start..end).unwrap_or("")) {
                break;
            }
            self.piece(line, start, end, findings);
        }
    }

    /// `First half: A B A`, `Running order - we dance A, B, A`: where the names begin behind a few words that name no part.
    fn behind_a_label(&self, text: &str, from: usize) -> usize {
        const MOST_WORDS: usize = 3;
        let rest = text.get(from..).unwrap_or("");
        let says_so = |at: usize| rest[..at].split_whitespace().any(|w| key(w) == "order");
        let dash = rest.find(" - ").filter(|at| says_so(*at)).map(|at| at + 1);
        let Some(colon) = rest.find(':').or(dash) else { return from };
        let label = words_between(text, from, from + colon);
        let names = (0..label.len()).any(|i| self.known(text, &label[i..]).is_some());
        let more = text[from + colon + 1..].chars().any(char::is_alphanumeric);
        let is_label = (1..=MOST_WORDS).contains(&label.len()) && !names && more;
        if is_label { from + colon + 1 } else { from }
    }

    /// What stands between two separators.
    fn piece(&mut self, line: &Line<'_>, start: usize, end: usize, findings: &mut Vec<Finding>) {
        let words = words_between(&line.text, start, end);
        let mut unknown: Option<(usize, usize)> = None;
        let pair = self.pair_danced_again(line, start, &words);
        let mut i = 0;
        while i < words.len() {
            if pair == Some(i) {
                let from = self.out.items.len().saturating_sub(2);
                let both: Vec<usize> =
                    self.out.items[from..].iter().map(|item| item.part).collect();
                let times = line.text.get(words[i].0..words[i].1).and_then(times_word);
                for _ in 1..times.unwrap_or(1).clamp(1, MOST_IN_A_ROW) {
                    for part in &both {
                        self.add(*part, line, (words[i].0, words[i].0), findings);
                    }
                }
                i += 1;
                continue;
            }
            if let Some((part, used)) = self.known(&line.text, &words[i..]) {
                // `then the banjo break`: the word says more of it.
                let told = unknown.filter(|place| is_beside_a_name(&line.text, *place));
                if let Some(place) = told {
                    findings.push(Finding::at(line, place, Fault::NoteInOrder));
                    unknown = None;
                }
                self.report_unknown(line, unknown.take(), findings);
                let end = words.get(i + used - 1).map_or(words[i].1, |w| w.1);
                self.add(part, line, (words[i].0, end), findings);
                i += used;
                i += words_of_once_more(&line.text, words.get(i..).unwrap_or_default());
                // `Break 2`, at the end of a piece, where the sheet has one break: which of them, not how often.
                let text = line.text.get(words[i - 1].0..words[i - 1].1).unwrap_or("");
                let label = words.get(i).filter(|_| i + 1 == words.len() && is_short_part(text));
                let number =
                    label.filter(|(a, b)| line.text.get(*a..*b).and_then(number).is_some());
                if let Some(place) = number {
                    findings.push(Finding::at(line, (words[i - 1].0, place.1), Fault::NoteInOrder));
                    i += 1;
                }
                continue;
            }
            let (at, to) = words[i];
            let word = line.text.get(at..to).unwrap_or("");
            if word.eq_ignore_ascii_case("both") && self.both_again(line, at, findings) {
                self.report_unknown(line, unknown.take(), findings);
                i += 1;
                continue;
            }
            let text_words: Vec<&str> =
                words[i..].iter().take(4).filter_map(|(a, b)| line.text.get(*a..*b)).collect();
            // `B end`, where the sheet has no such part.
            if is_short_part(word) && self.stands_for_a_part(line, words.get(i + 1), at) {
                self.report_unknown(line, unknown.take(), findings);
                self.report_unknown(line, Some((at, to)), findings);
                i += 1;
                continue;
            }
            if is_told(word) || self.out.items.is_empty() && word.eq_ignore_ascii_case("intro") {
                self.report_unknown(line, unknown.take(), findings);
                findings.push(Finding::at(line, (at, to), Fault::NoteInOrder));
                i += 1;
                continue;
            }
            match self.other_word(word, &text_words, line, at) {
                0 => {
                    if let Some(letters) = self.letters(word) {
                        for part in letters {
                            self.add(part, line, (at, to), findings);
                        }
                    } else {
                        unknown = Some((unknown.map_or(at, |(a, _)| a), to));
                    }
                    i += 1;
                }
                used => {
                    self.report_unknown(line, unknown.take(), findings);
                    i += used;
                }
            }
        }
        self.report_unknown(line, unknown, findings);
    }

    /// `Verse and Chorus twice`, which no longer list leads to: both are danced again. The place of the word that says
    /// how often.
    fn pair_danced_again(
        &self,
        line: &Line<'_>,
        start: usize,
        words: &[(usize, usize)],
    ) -> Option<usize> {
        let word = |i: usize| words.get(i).and_then(|(from, to)| line.text.get(*from..*to));
        let named = |i: usize| self.known(&line.text, words.get(i..)?).map(|(_, used)| i + used);
        let once = |part: usize| self.times.get(part).copied().unwrap_or(1) == 1;
        let in_a_list = line.text.get(..start).is_some_and(|t| t.trim_end().ends_with(','));
        let first = (0..words.len()).find(|i| named(*i).is_some())?;
        if in_a_list || !(0..self.parts.len()).all(once) {
            return None;
        }
        let joined = named(first)?;
        let and = word(joined).is_some_and(|w| w == "&" || w.eq_ignore_ascii_case("and"));
        let times = named(joined + 1).filter(|_| and)?;
        let spoken = word(times)
            .is_some_and(|w| times_word(w).is_some() && w.chars().all(char::is_alphabetic));
        let each = word(times + 1).is_some_and(|w| w.eq_ignore_ascii_case("each"));
        (spoken && !each).then_some(times)
    }

    /// The part named at the start of `words`; the longest name wins.
    fn known(&self, text: &str, words: &[(usize, usize)]) -> Option<(usize, usize)> {
        let from = words.first()?.0;
        (1..=words.len().min(6)).rev().find_map(|n| {
            let name = text.get(from..words[n - 1].1)?;
            let part = self.names.find(name)?;
            (!self.is_half_a_slip(text, words, n, part)).then_some((part, n))
        })
    }

    /// Whether the words are a name cut short, and with the next word the whole name with a slip: `Lantern Wakl`.
    fn is_half_a_slip(&self, text: &str, words: &[(usize, usize)], n: usize, part: usize) -> bool {
        let whole = |n: usize| text.get(words[0].0..words.get(n)?.1);
        let Some(longer) = whole(n) else { return false };
        let name = self.parts.get(part).map_or("", |p| p.name.as_str());
        let cut = name.split(' ').count() > n
            && key(longer).split(' ').count() == name.split(' ').count();
        cut && self.names.find(longer).is_none() && is_slip(longer, name)
    }

    /// Words that name no part but say something: how many words were used, 0 for none.
    fn other_word(&mut self, word: &str, ahead: &[&str], line: &Line<'_>, at: usize) -> usize {
        let lower = word.to_lowercase();
        if let Some(times) = times_word(word) {
            // Behind a part it says how often; in front of one as well.
            self.repeat_last(times, line, at);
            return 1;
        }
        let next = ahead.get(1).copied().unwrap_or("");
        if lower == "x"
            && let Some(n) = number(next)
        {
            self.repeat_last(n, line, at);
            return 2;
        }
        if let Some(n) = number(word) {
            // `1) A  2) B` numbers a list.
            if line.text.get(at + word.len()..).is_some_and(|rest| rest.starts_with(')'))
                && !line.text.get(..at).is_some_and(|before| before.ends_with('('))
            {
                return 1;
            }
            if is_counts_word(next) {
                return 2;
            }
            // `then B two more times`
            let third = ahead.get(2).map(|w| key(w));
            if next.eq_ignore_ascii_case("more") && third.is_some_and(|w| w == "times") {
                self.repeat_last(n, line, at);
                return 3;
            }
            let used = 1 + usize::from(matches!(next.to_lowercase().as_str(), "x" | "times"));
            self.times_ahead = n.clamp(1, MOST_IN_A_ROW);
            return used;
        }
        match lower.as_str() {
            "wait" | "pause" | "hold" => {
                let counts = number(next);
                match counts {
                    Some(n) if self.out.items.is_empty() => self.out.wait = Some(n),
                    Some(n) => self.pause(n, line, at),
                    None => {}
                }
                let used = 1 + usize::from(counts.is_some());
                used + usize::from(
                    counts.is_some() && ahead.get(2).is_some_and(|w| is_counts_word(w)),
                )
            }
            "w" if self.out.items.is_empty() => 1,
            "end" | "finish" | "fin" if ahead.len() == 1 => 1,
            "order" | "repeat" | "-" => 1,
            _ if is_order_word(&lower) => 1,
            // Signs say nothing, and pictures where no part is called by one.
            _ if lower.chars().all(|c| !c.is_alphanumeric())
                && (lower.is_ascii() || !self.named_by_signs()) =>
            {
                1
            }
            _ => 0,
        }
    }

    /// Whether a part's name has signs and no letter.
    fn named_by_signs(&self) -> bool {
        self.parts.iter().any(|p| p.name.chars().all(|c| !c.is_alphanumeric()))
    }

    /// `ABAC`: parts of one letter each, typed without a space.
    fn letters(&self, word: &str) -> Option<Vec<usize>> {
        let length = word.chars().count();
        if !(2..=40).contains(&length)
            || !word.chars().all(|c| c.is_ascii_uppercase() || c == '-' || c == '/')
        {
            return None;
        }
        word.chars()
            .filter(char::is_ascii_uppercase)
            .map(|c| self.names.find(c.encode_utf8(&mut [0; 4])))
            .collect()
    }

    pub(super) fn add(
        &mut self,
        part: usize,
        line: &Line<'_>,
        place: (usize, usize),
        findings: &mut Vec<Finding>,
    ) {
        let each = self.times.get(part).copied().unwrap_or(1);
        for _ in 0..std::mem::replace(&mut self.times_ahead, 1).saturating_mul(each) {
            if self.out.items.len() >= MOST_ENTRIES {
                if self.out.items.len() == MOST_ENTRIES
                    && !findings.iter().any(|f| matches!(f.fault, Fault::TooMany { .. }))
                {
                    let fault = Fault::TooMany { most: MOST_ENTRIES as u32 };
                    findings.push(Finding::at(line, place, fault));
                }
                return;
            }
            let round = self.rounds.entry(part).or_insert(0);
            *round += 1;
            self.out.items.push(OrderItem { part, time_round: *round, line: line.number });
            self.out.places.push(OrderPlace {
                line: line.number,
                from: line.column(place.0) - 1,
                to: line.column(place.1) - 1,
            });
        }
    }

    fn repeat_last(&mut self, times: u32, line: &Line<'_>, at: usize) {
        let behind = line.text.get(..at).is_some_and(|before| {
            before
                .trim_end()
                .chars()
                .last()
                .is_some_and(|c| !matches!(c, ',' | ';' | ':' | '>' | '-'))
        });
        match self.out.items.last() {
            Some(last) if behind => {
                let part = last.part;
                // A part that is danced twice each time was named once.
                for _ in 1..times.clamp(1, MOST_IN_A_ROW) {
                    self.add(part, line, (at, at), &mut Vec::new());
                }
            }
            _ => self.times_ahead = times.clamp(1, MOST_IN_A_ROW),
        }
    }

    fn pause(&mut self, counts: u32, line: &Line<'_>, at: usize) {
        let part = self.parts.len() + self.out.pauses.len();
        self.out.pauses.push(Part {
            name: "Pause".into(),
            kind: PartKind::Fill,
            stated_counts: Some(counts),
            line: line.number,
            ..Part::default()
        });
        self.add(part, line, (at, at), &mut Vec::new());
    }

    /// Whether a word such as `end` stands where a part would: behind a part, and before a part or nothing.
    fn stands_for_a_part(&self, line: &Line<'_>, next: Option<&(usize, usize)>, at: usize) -> bool {
        let typed = |(from, to): &(usize, usize)| line.text.get(*from..*to);
        let leads_on = next.is_none_or(|next| {
            typed(next).is_some_and(|w| self.names.find(w).is_some() || is_short_part(w))
        });
        let before = line.text.get(..at).unwrap_or("").trim_end();
        let before = before.trim_end_matches(|c: char| !c.is_alphanumeric());
        let before = before.rsplit(|c: char| !c.is_alphanumeric()).next().unwrap_or("");
        leads_on
            && !before.is_empty()
            && (self.names.find(before).is_some() || is_short_part(before))
    }
}

#[cfg(test)]
mod tests {
    use super::super::heading::part_word;
    use super::*;

    fn parts(names: &[&str]) -> Vec<Part> {
        names
            .iter()
            .map(|n| Part {
                name: n.to_string(),
                kind: part_word(n.split(' ').next().unwrap_or(""))
                    .map_or(PartKind::Part, |(_, k)| k),
                ..Part::default()
            })
            .collect()
    }

    fn order(text: &str, names: &[&str]) -> (String, Vec<String>) {
        let parts = parts(names);
        let line = Line::new(1, text);
        let mut findings = Vec::new();
        let order = read_order(&[(&line, 0)], &parts, &[], &mut findings);
        let all: Vec<&Part> = parts.iter().chain(&order.pauses).collect();
        let said: Vec<&str> = order.items.iter().map(|i| all[i.part].name.as_str()).collect();
        (said.join(" | "), findings.iter().map(|f| f.words.clone()).collect())
    }

    #[test]
    fn orders_are_read_as_teachers_write_them() {
        let names = ["Part A", "Part B", "Fill", "Break", "Ending"];
        let expected = "Part A | Part B | Fill | Part A | Part B | Break | Part B | Ending";
        for typed in [
            "A B fill A B break B end",
            "A, B, Fill, A, B, Break, B, Ending",
            "A - B - Fill - A - B - Break - B - Ending",
            "A-B-fill-A-B-break-B-end",
            "Part A > Part B > Fill > Part A > Part B > Break > Part B > End",
            "AB fill AB br B ending",
            "Wait 16, A, B, Fill, A, B, Break, B, End",
        ] {
            let (said, unknown) = order(typed, &names);
            assert_eq!(unknown, Vec::<String>::new(), "{typed}");
            assert_eq!(said, expected, "{typed}");
        }
    }

    #[test]
    fn repeats_in_the_order_are_danced_again() {
        let names = ["Part A", "Chorus", "Verse 2"];
        assert_eq!(order("A x2 Chorus", &names).0, "Part A | Part A | Chorus");
        assert_eq!(order("2x A, Chorus (x2)", &names).0, "Part A | Part A | Chorus | Chorus");
        assert_eq!(order("A twice then Chorus", &names).0, "Part A | Part A | Chorus");
        assert_eq!(order("A (32) verse 2 chorus", &names).0, "Part A | Verse 2 | Chorus");
    }

    #[test]
    fn parts_come_once_more_in_words() {
        let names = ["Part 1", "Part 2", "Hook", "Bridge"];
        assert_eq!(
            order("1 2 Hook and then 2 one more time", &names).0,
            "Part 1 | Part 2 | Hook | Part 2"
        );
        let said = order("Part 1 and the Hook, then both of them over again", &names);
        assert_eq!(said, ("Part 1 | Hook | Part 1 | Hook".into(), vec![]));
        let said =
            order("We do A, then two bridges and the slow B", &["Part A", "Part B", "Bridge"]);
        assert_eq!(said.0, "Part A | Bridge | Bridge | Part B");
        let parts = parts(&names);
        let lines = [Line::new(1, "1 2 Hook"), Line::new(2, "2nd time u do part 2 u see the band")];
        let lines: Vec<(&Line<'_>, usize)> = lines.iter().map(|l| (l, 0)).collect();
        let order = read_order(&lines, &parts, &[], &mut Vec::new());
        assert_eq!((order.items.len(), order.notes.len()), (3, 1));
    }

    #[test]
    fn a_pause_in_the_order_is_danced_by_nobody() {
        assert_eq!(order("A pause 4 A", &["Part A"]).0, "Part A | Pause | Part A");
    }

    #[test]
    fn signs_around_names_are_none_of_theirs() {
        let names = ["Part A", "Part A*", "Verse", "Chorus*"];
        let said = order("\u{1F449} A, A*, \u{1F3B5}Verse, *Verse*, Chorus", &names);
        assert_eq!(said.0, "Part A | Part A* | Verse | Verse | Chorus*");
        assert!(said.1.is_empty(), "{:?}", said.1);
    }

    #[test]
    fn names_that_are_no_part_are_told() {
        assert_eq!(order("A C A", &["Part A", "Part B"]).1, ["C"]);
        assert_eq!(order("Lantern Wakl, A", &["Part A", "Lantern Walk"]).1, ["Lantern Wakl"]);
    }

    #[test]
    fn a_part_danced_again_below_a_gap_may_have_its_counts() {
        let sheet = "Wren Lane\n\nVerse (8)\n2 Joeys\n\nChorus (8)\n4 Basics\n\n";
        let again = "Repeat Verse (8)\n\nTag (4)\n1 Joey\n\nRepeat Chorus twice (16)\n";
        let (routine, _) = super::super::parse(&format!("{sheet}{again}"));
        let order: Vec<usize> = routine.order.iter().map(|i| i.part).collect();
        assert_eq!(order, [0, 1, 0, 2, 1, 1]);
    }

    #[test]
    fn a_wait_below_the_order_is_that_before_the_dance() {
        let sheet = "Wren Lane\nOrder - A, B, A\nWait 8\n\nPart A\n2 Joeys\n\nPart B\n4 Basics\n";
        let (routine, _) = super::super::parse(sheet);
        assert_eq!(routine.wait, Some(8));
        assert_eq!(routine.order.len(), 3);
    }

    #[test]
    fn a_remark_between_stars_below_the_order_is_none_of_it() {
        let sheet = "Wren Lane\n\nPart A\n2 Joeys\n\nOrder: A A\n*A is danced twice now, not three times*\n";
        let (routine, findings) = super::super::parse(sheet);
        assert_eq!(routine.order.len(), 2);
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
    }

    #[test]
    fn a_step_spelled_out_below_the_order_is_the_sheets_own() {
        let sheet = "Wren Lane\n\nPart A\n1 Lantern Stir - 8\n\nOrder: A - A\n\nLantern Stir:  DS DS RS RS DS RS DS RS\n";
        let (routine, findings) = super::super::parse(sheet);
        assert_eq!(routine.parts[0].lines[0].steps[0].moves.len(), 8);
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:?}");
    }

    #[test]
    fn a_sentence_below_the_order_is_none_of_it() {
        let sheet = "Wren Lane\n\nPart A\n4 Joeys\n\nPart B\n4 Basics\n\nOrder: A - B - A\n";
        let (routine, _) =
            super::super::parse(&format!("{sheet}Part A takes you to the new wall.\n"));
        assert_eq!(routine.order.iter().map(|i| i.part).collect::<Vec<_>>(), [0, 1, 0]);
    }
}
