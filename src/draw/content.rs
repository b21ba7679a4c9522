//! What the timeline shows, still in counts: blocks on two lanes, and marks where something is amiss.

use crate::fit::{Fit, Mismatch, MismatchKind, Placement, SuggestionKind};
use crate::routine::{PartKind, Routine};
use crate::song::{Phrase, SongView};
use crate::units::{Count, Wall, clock, eights, ordinal};

use super::ink::{Ink, PART_INKS};
use crate::plain::clean;

/// Counts drawn before count 1 and after the song's end at most. A routine that runs further past the
/// song is named in words; its blocks are cut here.
const MOST_BEFORE: i32 = 64;
const MOST_AFTER: i32 = 1024;

/// How a block looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// A phrase the user set.
    Set,
    /// A phrase that was only heard.
    Heard,
    /// A part in its colour; beyond the sixth part colours come again with a broken band.
    Part { ink: Ink, broken: bool },
    /// A fill.
    Fill,
    /// The wait.
    Wait,
    /// Counts without steps between or after parts.
    Gap,
    /// After the song's end.
    Beyond,
    /// A part for which there is no room: the next starts where it would. Named, not drawn.
    LeftOut,
}

/// A stretch of counts with its words.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Block {
    pub start: Count,
    /// The count just after its last.
    pub end: Count,
    pub look: Look,
    /// Its name as it stands in the list of short names.
    pub name: String,
    /// The first line, the longest wording first.
    pub heads: Vec<String>,
    /// The second line, the longest wording first; it may be left out.
    pub tails: Vec<String>,
    /// Everything about it in a sentence.
    pub sentence: String,
}

/// Which side of right a mismatch lies; each has a shape of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    /// Counts are left over: a square.
    TooFew,
    /// There are more counts than room: a diamond.
    TooMany,
    /// It starts elsewhere: a disc.
    Elsewhere,
}

impl Side {
    pub(crate) fn of(kind: MismatchKind) -> Side {
        match kind {
            MismatchKind::PartTooShort | MismatchKind::SongLeftOver => Side::TooFew,
            MismatchKind::PartTooLong
            | MismatchKind::FillWithoutGap
            | MismatchKind::SongEndsFirst => Side::TooMany,
            MismatchKind::OffPhrase | MismatchKind::WaitDiffers => Side::Elsewhere,
        }
    }
}

/// A numbered mark.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mark {
    pub number: usize,
    pub at: Count,
    pub side: Side,
    /// A word or two beside it.
    pub words: String,
    /// Where and what, for the list.
    pub sentence: String,
    /// What would mend it, for the list.
    pub mends: Vec<String>,
}

/// Everything the timeline shows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Content {
    /// First count shown, and the count just after the last.
    pub start: Count,
    pub end: Count,
    /// The count just after the song's last.
    pub song_end: Count,
    pub song: Vec<Block>,
    /// Empty where no routine was given.
    pub routine: Vec<Block>,
    /// Where a part runs on past its phrase.
    pub overhangs: Vec<(Count, Count)>,
    pub marks: Vec<Mark>,
    /// Whether a phrase was heard but not set by the user.
    pub some_only_heard: bool,
}

impl Content {
    pub(crate) fn new(song: &SongView, routine: Option<(&Routine, &Fit)>) -> Content {
        let song_end = song.counts.end();
        let placements = routine.map_or(&[][..], |(_, fit)| &fit.placements);
        let first = placements.iter().map(|p| p.start_count).min().unwrap_or(Count::FIRST);
        let last = placements.iter().map(end_of).max().unwrap_or(song_end);
        let start = first.clamp(Count::FIRST + -MOST_BEFORE, Count::FIRST);
        let end = last.clamp(song_end, song_end + MOST_AFTER);
        let mut content = Content {
            start,
            end,
            song_end,
            song: song_blocks(song, routine.is_none()),
            routine: Vec::new(),
            overhangs: Vec::new(),
            marks: Vec::new(),
            some_only_heard: song.phrases.iter().any(|p| !p.set),
        };
        if end > song_end {
            content.song.push(beyond(song_end, end));
        }
        if let Some((routine, fit)) = routine {
            content.routine = routine_blocks(song, routine, fit, end);
            content.overhangs = overhangs(fit);
            content.marks = marks(fit);
        }
        content
    }

    /// Where lines are best broken: where phrases start, or parts where there is only one phrase.
    pub(crate) fn seams(&self) -> Vec<Count> {
        let blocks = if self.song.len() > 1 { &self.song } else { &self.routine };
        blocks.iter().map(|b| b.start).collect()
    }
}

/// The count just after a placement's last danced one; after its last of all where it is left out.
fn end_of(placement: &Placement) -> Count {
    placement.start_count + i32::try_from(shown_counts(placement)).unwrap_or(i32::MAX)
}

/// Counts that a placement's block stands for: those danced, or all it has where it is left out.
fn shown_counts(placement: &Placement) -> u32 {
    if placement.left_out { placement.counts } else { placement.danced }
}

/// A length for narrow places: `4×8+4`, `4×8`, `6`.
pub(crate) fn short_length(counts: u32) -> String {
    match (counts / 8, counts % 8) {
        (0, rest) => rest.to_string(),
        (whole, 0) => format!("{whole}×8"),
        (whole, rest) => format!("{whole}×8+{rest}"),
    }
}

/// `4 eights and 4 (36 counts)`; the bracket only where it says more.
fn long_length(counts: u32) -> String {
    if counts < 8 { eights(counts) } else { format!("{} ({counts} counts)", eights(counts)) }
}

/// A name that can be shown: cleaned, and never empty.
fn shown(name: &str, otherwise: &str) -> String {
    let name = clean(name);
    if name.is_empty() { otherwise.to_string() } else { name }
}

/// `counts 81 to 116, 0:41.20 to 0:58.30`.
fn span(start: Count, counts: u32, start_s: f64, end_s: f64) -> String {
    let (from, to) = (clock(start_s), clock(end_s));
    match counts {
        0 => format!("at count {start}, {from}"),
        1 => format!("count {start}, {from} to {to}"),
        n => {
            let last = start + i32::try_from(n - 1).unwrap_or(i32::MAX);
            format!("counts {start} to {last}, {from} to {to}")
        }
    }
}

fn song_blocks(song: &SongView, alone: bool) -> Vec<Block> {
    let mut labels: Vec<String> = Vec::new();
    song.phrases
        .iter()
        .zip(song.names())
        .map(|(phrase, numbered)| {
            let name = shown(&phrase.label, "phrase");
            let kind = label_number(&mut labels, &name);
            let look = match (phrase.set, alone && !phrase.is_intro()) {
                (_, true) => part_look(kind),
                (true, _) => Look::Set,
                (false, _) => Look::Heard,
            };
            phrase_block(phrase, name, &shown(&numbered, "phrase"), look)
        })
        .collect()
}

fn phrase_block(phrase: &Phrase, name: String, numbered: &str, look: Look) -> Block {
    let length = eights(phrase.counts);
    let short = short_length(phrase.counts);
    let time = clock(phrase.start_s);
    let heard = if phrase.set { "" } else { "; heard, not set by you" };
    let span = span(phrase.start, phrase.counts, phrase.start_s, phrase.end_s);
    Block {
        start: phrase.start,
        end: phrase.end(),
        look,
        heads: if phrase.set {
            vec![numbered.to_string(), name.clone()]
        } else {
            vec![format!("{numbered} ?"), format!("{name} ?"), name.clone()]
        },
        tails: vec![
            format!("{length} · {time} · count {}", phrase.start),
            format!("{length} · {time}"),
            format!("{short} · {time}"),
            length,
            short,
        ],
        sentence: format!("{numbered}: {}, {span}{heard}", long_length(phrase.counts)),
        name,
    }
}

fn beyond(start: Count, end: Count) -> Block {
    let counts = (end - start).unsigned_abs();
    let name = "after the song".to_string();
    Block {
        start,
        end,
        look: Look::Beyond,
        heads: vec![name.clone(), "song over".into(), "over".into()],
        tails: vec![eights(counts), short_length(counts)],
        sentence: format!("The song is over; the routine goes on for {}", long_length(counts)),
        name,
    }
}

/// Number of a label among those seen, in the order of their first use.
fn label_number(seen: &mut Vec<String>, label: &str) -> usize {
    let label = label.to_lowercase();
    seen.iter().position(|s| *s == label).unwrap_or_else(|| {
        seen.push(label);
        seen.len() - 1
    })
}

fn part_look(number: usize) -> Look {
    let ink = PART_INKS[number % PART_INKS.len()];
    Look::Part { ink, broken: (number / PART_INKS.len()) % 2 == 1 }
}

fn routine_blocks(song: &SongView, routine: &Routine, fit: &Fit, end: Count) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut reached = Count::FIRST;
    if fit.wait.counts > 0 {
        blocks.push(wait_block(fit));
        reached = reached + i32::try_from(fit.wait.counts).unwrap_or(i32::MAX);
    }
    let mut parts: Vec<String> = Vec::new();
    let names = song.names();
    for (index, placement) in fit.placements.iter().enumerate() {
        if placement.start_count > reached {
            blocks.push(gap_block(song, fit, reached, placement.start_count));
        }
        let mut block = part_block(routine, placement, &names, &mut parts);
        let next = fit.placements.get(index + 1);
        if next.is_some_and(|n| n.start_count <= placement.start_count) {
            block.look = Look::LeftOut;
            block.sentence = format!("No room for {}", block.sentence);
        } else {
            reached = reached.max(end_of(placement));
        }
        blocks.push(block);
    }
    if reached < end && !fit.placements.is_empty() {
        let mut rest = gap_block(song, fit, reached, end);
        rest.heads.insert(0, "song goes on".into());
        rest.tails.insert(0, format!("{} free", eights((end - reached).unsigned_abs())));
        blocks.push(rest);
    }
    blocks
}

fn wait_block(fit: &Fit) -> Block {
    let counts = fit.wait.counts;
    let span = span(Count::FIRST, counts, fit.wait.start_s, fit.wait.end_s);
    Block {
        start: Count::FIRST,
        end: Count::FIRST + i32::try_from(counts).unwrap_or(i32::MAX),
        look: Look::Wait,
        name: "wait".into(),
        heads: vec![format!("wait {counts} counts"), format!("wait {counts}"), "wait".into()],
        tails: vec![eights(counts), short_length(counts)],
        sentence: format!("Wait {}, {span}", long_length(counts)),
    }
}

fn gap_block(song: &SongView, fit: &Fit, start: Count, end: Count) -> Block {
    let counts = (end - start).unsigned_abs();
    let within = |at: Count| at >= start && at < end;
    let fill = fit
        .suggestions
        .iter()
        .find(|s| s.kind == SuggestionKind::Fill && within(s.at_count))
        .map(|s| format!("fill of {}?", s.counts));
    let (from, to) = (song.counts.time_or_beyond_s(start), song.counts.time_or_beyond_s(end));
    let span = span(start, counts, from, to);
    let asked = fill.as_ref().map_or(String::new(), |f| format!("; {f}"));
    Block {
        start,
        end,
        look: Look::Gap,
        name: "no steps".into(),
        heads: vec![format!("{counts} counts free"), format!("{counts} free"), counts.to_string()],
        tails: match fill {
            Some(fill) => vec![fill, "fill?".into()],
            None => vec!["no steps".into(), "free".into()],
        },
        sentence: format!("No steps for {}, {span}{asked}", long_length(counts)),
    }
}

fn part_block(
    routine: &Routine,
    placement: &Placement,
    phrases: &[String],
    parts: &mut Vec<String>,
) -> Block {
    let name = shown(&placement.part, "part");
    let kind = routine
        .order
        .get(placement.order_index)
        .and_then(|item| routine.parts.get(item.part))
        .map_or(PartKind::Part, |part| part.kind);
    let look = match kind {
        PartKind::Fill => Look::Fill,
        _ => part_look(label_number(parts, &name)),
    };
    let mut heads = vec![name.clone()];
    if placement.time_round > 1 {
        heads.insert(0, format!("{name} ({})", placement.time_round));
        heads.insert(0, format!("{name}, {} time", ordinal(placement.time_round)));
    }
    let (length, short) = (eights(shown_counts(placement)), short_length(shown_counts(placement)));
    let foot = placement.lead_foot;
    let mut tails = vec![
        format!("{length} · {foot} foot"),
        format!("{short} · {foot} foot"),
        format!("{short} · {}", foot.letter()),
        short,
    ];
    if placement.wall_before != Wall::Front {
        tails.insert(0, format!("{length} · {foot} foot · {} wall", placement.wall_before));
    }
    Block {
        start: placement.start_count,
        end: end_of(placement),
        look,
        heads,
        tails,
        sentence: part_sentence(placement, phrases, &name),
        name,
    }
}

fn part_sentence(placement: &Placement, phrases: &[String], name: &str) -> String {
    let round = match placement.time_round {
        0 | 1 => String::new(),
        n => format!(", {} time", ordinal(n)),
    };
    let counts = shown_counts(placement);
    let span = span(placement.start_count, counts, placement.start_s, placement.end_s);
    let of = if counts < placement.counts {
        format!(" of {}", long_length(placement.counts))
    } else {
        String::new()
    };
    let numbered = placement.phrase_index.and_then(|p| phrases.get(p));
    let on = numbered
        .or(placement.phrase.as_ref())
        .map(|phrase| clean(phrase))
        .filter(|p| !p.is_empty())
        .map_or(String::new(), |phrase| format!(", in the phrase {phrase}"));
    let walls = match (placement.wall_before, placement.wall_after) {
        (Wall::Front, Wall::Front) => String::new(),
        (before, after) if before == after => format!("; facing the {before} wall"),
        (before, after) => format!("; from the {before} wall to the {after} wall"),
    };
    format!(
        "{name}{round}: {}{of}, {span}{on}; starts on the {} foot, {} foot free after it{walls}",
        long_length(counts),
        placement.lead_foot,
        placement.free_foot_after,
    )
}

/// The last counts of each part that runs on past its phrase.
fn overhangs(fit: &Fit) -> Vec<(Count, Count)> {
    let too_long = fit.mismatches.iter().filter(|m| m.kind == MismatchKind::PartTooLong);
    too_long
        .filter_map(|m| {
            let placement = fit.placements.iter().find(|p| {
                Some(&p.part) == m.part.as_ref() && m.time_round.is_none_or(|t| t == p.time_round)
            })?;
            let whole = i32::try_from(placement.counts).unwrap_or(i32::MAX);
            let end = placement.start_count + whole;
            Some((end + -m.counts.saturating_abs(), end))
        })
        .collect()
}

fn marks(fit: &Fit) -> Vec<Mark> {
    let mends = |number: usize| {
        fit.suggestions.iter().filter(move |s| s.mends == number).map(|s| clean(&s.message))
    };
    fit.mismatches
        .iter()
        .enumerate()
        .map(|(number, mismatch)| Mark {
            number: number + 1,
            at: mismatch.at_count,
            side: Side::of(mismatch.kind),
            words: mark_words(mismatch),
            sentence: format!(
                "{}, count {}: {}",
                clock(mismatch.at_s),
                mismatch.at_count,
                shown(&mismatch.message, &mark_words(mismatch))
            ),
            // Two fit the page; the report has the others.
            mends: mends(number).filter(|m| !m.is_empty()).take(2).collect(),
        })
        .collect()
}

fn mark_words(mismatch: &Mismatch) -> String {
    let counts = mismatch.counts.unsigned_abs();
    match mismatch.kind {
        MismatchKind::PartTooShort | MismatchKind::SongLeftOver => format!("{counts} left over"),
        MismatchKind::PartTooLong => format!("{counts} too many"),
        MismatchKind::OffPhrase => format!("{counts} off the phrase"),
        MismatchKind::WaitDiffers => format!("wait differs by {counts}"),
        MismatchKind::FillWithoutGap => {
            let fill = mismatch.part.as_deref().map(clean).filter(|p| !p.is_empty());
            format!("no gap for {} ({counts})", fill.as_deref().unwrap_or("the fill"))
        }
        MismatchKind::SongEndsFirst => format!("{counts} after the song"),
    }
}

impl Block {
    /// A block without words, for what has no phrases.
    pub(crate) fn unnamed() -> Block {
        Block {
            start: Count::FIRST,
            end: Count::FIRST,
            look: Look::Set,
            name: String::new(),
            heads: Vec::new(),
            tails: Vec::new(),
            sentence: String::new(),
        }
    }
}
