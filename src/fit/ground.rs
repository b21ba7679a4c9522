//! The two sides as the aligner sees them: the song as spans of counts, the order as lengths.

use crate::routine::{Part, PartKind, Routine};
use crate::song::SongView;
use crate::units::Count;

/// A stretch of the song from one phrase start to the next.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Span {
    /// First count.
    pub start: i32,
    /// The count after the last.
    pub end: i32,
    /// Sort of phrase: index into [`Ground::kinds`].
    pub kind: u16,
    /// Its phrase in the song view; `None` for a hole between marks.
    pub phrase: Option<usize>,
}

/// The song: spans without holes from count 1 to its end.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    pub spans: Vec<Span>,
    /// The count after the song's last danced one.
    pub end: i32,
    /// Counts before the first phrase that is danced.
    pub song_wait: i32,
    /// Sorts of phrase, by name.
    pub kinds: Vec<String>,
    /// Name of each span for a sentence: `chorus 2`.
    pub names: Vec<String>,
    span_of: Vec<u32>,
}

/// A part in the order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Item {
    /// Index into the routine's parts.
    pub part: usize,
    /// Length in counts.
    pub counts: i32,
    /// A fill: no phrase of its own, and does not begin one for others.
    pub fill: bool,
    /// Whether it matters that it starts with a phrase: fills, breaks and tags may come in anywhere.
    pub proper: bool,
    /// A danced introduction.
    pub intro: bool,
    /// The sort of phrase it is named for, where the song has that sort.
    pub named_for: Option<u16>,
}

/// What a hole between marks is called.
const UNMARKED: &str = "the stretch without a mark";

/// Longest part that is reckoned with, counts: far beyond any song, and sums stay small.
const LONGEST: u32 = 100_000;

impl Ground {
    pub fn new(song: &SongView) -> Ground {
        let counted = song.counts.end().0;
        let mut marks: Vec<(i32, i32, usize)> = song
            .phrases
            .iter()
            .enumerate()
            .map(|(i, p)| (p.start.0.max(1), p.end().0.min(counted), i))
            .filter(|(start, end, _)| start < end)
            .collect();
        marks.sort_by_key(|&(start, _, index)| (start, index));
        marks.dedup_by_key(|mark| mark.0);

        let mut kinds: Vec<String> = Vec::new();
        let mut kind_of = |label: &str| -> u16 {
            let kind = sort_of_phrase(label);
            let place = kinds.iter().position(|k| *k == kind).unwrap_or_else(|| {
                kinds.push(kind);
                kinds.len() - 1
            });
            place.min(usize::from(u16::MAX)) as u16
        };
        let mut spans: Vec<Span> = Vec::new();
        let mut here = 1;
        for (n, &(start, end, index)) in marks.iter().enumerate() {
            if start > here {
                spans.push(Span { start: here, end: start, kind: kind_of(""), phrase: None });
            }
            let end = marks.get(n + 1).map_or(end, |next| end.min(next.0));
            let kind = kind_of(&song.phrases[index].label);
            spans.push(Span { start, end, kind, phrase: Some(index) });
            here = end;
        }
        if spans.is_empty() && counted > 1 {
            spans.push(Span { start: 1, end: counted, kind: kind_of(""), phrase: None });
        }
        let end = spans.last().map_or(1, |s| s.end);
        let mut span_of = vec![0; (end - 1).max(0) as usize];
        for (n, span) in spans.iter().enumerate() {
            span_of[(span.start - 1) as usize..(span.end - 1) as usize].fill(n as u32);
        }
        let phrase_names = song.names();
        let name = |span: &Span| span.phrase.and_then(|i| phrase_names.get(i).cloned());
        let names = spans.iter().map(|s| name(s).unwrap_or_else(|| UNMARKED.into())).collect();
        let song_wait = (song.wait().min(i32::MAX as u32) as i32).min(end - 1);
        Ground { spans, end, song_wait, kinds, names, span_of }
    }

    /// Index of the span that holds a count before the end.
    #[inline]
    pub fn span_index(&self, count: i32) -> usize {
        let index = (count - 1).max(0) as usize;
        self.span_of.get(index).or(self.span_of.last()).map_or(0, |&s| s as usize)
    }

    /// The span that holds a count before the end.
    #[inline]
    pub fn span(&self, count: i32) -> &Span {
        &self.spans[self.span_index(count)]
    }

    /// Whether a phrase starts on this count.
    #[inline]
    pub fn is_start(&self, count: i32) -> bool {
        (1..self.end).contains(&count) && self.span(count).start == count
    }

    /// How many counts lie from the nearest phrase start to `count`: late is positive.
    #[inline]
    pub fn beside(&self, count: i32) -> i32 {
        let span = self.span(count);
        let (late, early) = (count - span.start, span.end - count);
        if early < late && span.end < self.end { -early } else { late }
    }
}

/// The order as the aligner sees it.
pub(super) fn items(ground: &Ground, routine: &Routine) -> Vec<Item> {
    let parts: Vec<Item> =
        routine.parts.iter().enumerate().map(|(n, part)| item(ground, n, part)).collect();
    routine.order.iter().filter_map(|o| parts.get(o.part).cloned()).collect()
}

/// A part as an item, `index` being its place among the parts.
pub(super) fn item(ground: &Ground, index: usize, part: &Part) -> Item {
    Item {
        part: index,
        counts: part.counts().min(LONGEST) as i32,
        fill: part.kind == PartKind::Fill,
        proper: !matches!(part.kind, PartKind::Fill | PartKind::Break | PartKind::Tag),
        intro: part.kind == PartKind::Intro,
        named_for: named_for(&part.name, part.kind)
            .and_then(|sort| ground.kinds.iter().position(|k| *k == sort))
            .map(|k| k as u16),
    }
}

/// The sort of phrase: its first word without numbers, so that `chorus 2`, `Chorus2` and `chorus`
/// are alike. Labels that say nothing are all of one sort.
pub(super) fn sort_of_phrase(label: &str) -> String {
    let word: String = label
        .trim_start()
        .chars()
        .take_while(|c| c.is_alphabetic() || *c == '-')
        .filter(|c| *c != '-')
        .flat_map(char::to_lowercase)
        .collect();
    match word.as_str() {
        "" => "phrase".into(),
        "refrain" => "chorus".into(),
        "outro" | "end" | "coda" => "ending".into(),
        "introduction" => "intro".into(),
        "inst" | "instr" | "solo" => "instrumental".into(),
        _ => word,
    }
}

/// The sort of phrase that a part is named for, if any: `Chorus`, `Part A`, `Bridge`.
fn named_for(name: &str, kind: PartKind) -> Option<String> {
    match kind {
        PartKind::Fill | PartKind::Break | PartKind::Tag => return None,
        PartKind::Bridge => return Some("bridge".into()),
        PartKind::Ending => return Some("ending".into()),
        PartKind::Intro => return Some("intro".into()),
        PartKind::Part => {}
    }
    let name = name.trim_start();
    let rest = match name.get(..4) {
        Some(head) if head.eq_ignore_ascii_case("part") => &name[4..],
        _ => name,
    };
    let sort = sort_of_phrase(rest);
    (sort != "phrase").then_some(sort)
}

/// A count as the rest of the crate has it.
pub(super) fn count(at: i32) -> Count {
    Count(at)
}
