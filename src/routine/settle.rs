//! What can be read in two ways, settled by what the sheet says elsewhere: numbers, repeats, notes, the foot
//! that starts.

use crate::units::Foot;

use super::book::Book;
use super::build::{Built, Piece, Reading, SameAs, build};
use super::finding::{Fault, Finding, Severity};
use super::item::{Body, Item, Parsed};
use super::line::Line;
use super::lines::Kind;
use super::model::{Part, Routine};
use super::own_steps::Spells;
use super::parse::LineRole;
use super::proof::{PartClaims, goes_both_ways};
use super::sections::Section;
use super::vocabulary::{content, plain_words};

/// What is typed, line by line, with what is known of each.
pub(super) struct Typed<'s> {
    pub(super) lines: &'s [Line<'s>],
    pub(super) kinds: &'s [Kind],
    pub(super) parsed: &'s [Option<Parsed>],
    /// Whether a line only spells out the step above it.
    pub(super) spells: &'s [Spells],
    /// Whether the names of columns say that a number in front is counts.
    pub(super) numbers_are_counts: bool,
    pub(super) book: &'s Book,
}

/// Builds a part. Where movements below a name may spell it out or be danced, they are read as gives the counts of the
/// heading; without these, those that state no counts below a line that does spell it out.
pub(super) fn build_part(
    typed: &Typed<'_>,
    section: &Section,
    stated: Option<u32>,
    same_as: SameAs<'_>,
    above: &[Part],
    room: usize,
) -> Built {
    let build_as = |open_rows_spell| {
        let pieces = pieces(typed, section, open_rows_spell);
        build_pieces(typed, &pieces, stated, same_as, above, room)
    };
    let rows = section.body.windows(2).filter(|w| typed.spells[w[1]] == Spells::AboveOrNothing);
    let open: Vec<&[usize]> = rows.collect();
    if open.is_empty() {
        return build_as(false);
    }
    if stated.is_none() {
        let states = |i: usize| {
            typed.parsed[i].as_ref().is_some_and(|p| p.items.iter().any(|it| it.stated.is_some()))
        };
        return build_as(open.iter().all(|w| states(w[0]) && !states(w[1])));
    }
    let danced = build_as(false);
    if stated == Some(danced.counts()) {
        return danced;
    }
    let spelled = build_as(true);
    if stated == Some(spelled.counts()) { spelled } else { danced }
}

/// The lines of a section that say what is danced.
fn pieces<'s>(typed: &Typed<'s>, section: &Section, open_rows_spell: bool) -> Vec<Piece<'s>> {
    let Typed { lines, kinds, parsed, spells, .. } = *typed;
    let spells_out = |i: usize| match spells[i] {
        Spells::Above => true,
        Spells::AboveOrNothing => open_rows_spell,
        Spells::Nothing | Spells::WholeLine => false,
    };
    let piece = |i: usize| match (&kinds[i], &parsed[i]) {
        _ if spells[i] == Spells::WholeLine => None,
        (Kind::Feet(feet), _) => Some(Piece::Feet(&lines[i], feet)),
        (Kind::Timing(words), _) => Some(Piece::Timing(&lines[i], words)),
        (_, Some(p)) if spells_out(i) => Some(Piece::Breakdown(&lines[i], p)),
        (_, Some(p)) => Some(Piece::Steps(&lines[i], p)),
        _ => None,
    };
    section.body.iter().filter_map(|&i| piece(i)).collect()
}

/// Builds a part from its pieces. Where numbers in front or a `repeat` can mean two things, the reading is taken that
/// gives the counts of the heading.
fn build_pieces(
    typed: &Typed<'_>,
    pieces: &[Piece<'_>],
    stated: Option<u32>,
    same_as: SameAs<'_>,
    above: &[Part],
    room: usize,
) -> Built {
    let Typed { numbers_are_counts, book, .. } = *typed;
    let no_counts_stated = stated.is_none();
    let usual = Reading { numbers_are_counts, no_counts_stated, ..Reading::default() };
    let build_as = |reading| build(pieces, reading, book, same_as, above, room);
    let mut first = build_as(usual);
    let Some(stated) = stated else { return first };
    let whole_names = Reading { names_whole: true, ..usual };
    let mut usual = usual;
    if first.has_longer_names && first.counts() != stated {
        let whole = build_as(whole_names);
        if left_for_the_unknown(&whole, stated).is_some() || whole.counts() == stated {
            (first, usual) = (whole, whole_names);
        }
    }
    if let Some(counts) = left_for_the_unknown(&first, stated) {
        let reading = Reading { unknown_counts: Some(counts), ..usual };
        let whole = build_as(reading);
        if whole.counts() == stated {
            first = whole;
        }
    }
    let open = first.has_bare_numbers || first.has_open_repeat || first.has_times_behind_several;
    if first.counts() == stated || !open {
        return first;
    }
    let others = [
        (first.has_open_repeat, Reading { repeat_all: true, ..usual }),
        (first.has_bare_numbers, Reading { numbers_are_counts: !numbers_are_counts, ..usual }),
        (
            first.has_bare_numbers && first.has_open_repeat,
            Reading { numbers_are_counts: !numbers_are_counts, repeat_all: true, ..usual },
        ),
        (first.has_times_behind_several, Reading { times_of_all: true, ..usual }),
    ];
    others
        .into_iter()
        .filter(|(open, _)| *open)
        .map(|(_, reading)| build_as(reading))
        .find(|other| {
            other.counts() == stated && other.complete && mistakes(other) <= mistakes(&first)
        })
        .unwrap_or(first)
}

fn mistakes(built: &Built) -> usize {
    built.findings.iter().filter(|f| f.severity() != Severity::Remark).count()
}

/// Whether a line that is not understood may be danced all the same: it names a step, counts, or something to do again.
fn may_be_steps(text: &str) -> bool {
    let again = ["repeat", "again", "same", "more", "other", "as"];
    content(text).steps > 0
        || text.contains(|c: char| c.is_ascii_digit())
        || plain_words(text).iter().any(|w| again.contains(&w.to_lowercase().as_str()))
}

/// Whether a line has steps beside what nobody knows.
fn danced_beside(parsed: &Parsed) -> bool {
    parsed.items.iter().any(|i| !matches!(i.body, Body::Unknown | Body::Nothing))
}

/// Whether words may be the name of a step that nobody knows: few, and none of them of a sentence.
fn is_like_a_name(words: &str) -> bool {
    const MOST_WORDS: usize = 3;
    let all = content(words);
    let number = plain_words(words).len();
    number <= MOST_WORDS && all.other == number && !words.trim_end().ends_with(['.', '!', '?'])
}

/// The counts that a part leaves for each time of its only step that nobody knows.
fn left_for_the_unknown(built: &Built, stated: u32) -> Option<u32> {
    const MOST_COUNTS: u32 = 16;
    const MOST_WORDS: usize = 3;
    let (name, _) = built.unknown.first()?;
    let same = built.unknown.iter().all(|(other, _)| other == name);
    let times = built.unknown.iter().fold(0u32, |sum, (_, times)| sum.saturating_add(*times));
    let left = stated.checked_sub(built.counts()).filter(|left| *left > 0)?;
    let each = left / times;
    let whole = left % times == 0 && (1..=MOST_COUNTS).contains(&each);
    // `In place`, `other foot`, `Have fun!` say how, and are no step's name.
    let named = content(name).other > 0 && !built.unknown_aside;
    (same && whole && named && name.split(' ').count() <= MOST_WORDS).then_some(each)
}

/// Lines in a part that are nothing known: notes where the part's counts are right without them and no
/// step has a name like theirs, mistakes else.
pub(super) fn settle_notes(
    mut built: Built,
    stated: Option<u32>,
    lines: &[Line<'_>],
    parsed: &[Option<Parsed>],
    roles: &mut [LineRole],
) -> (Built, Vec<String>) {
    let right_without = stated == Some(built.counts());
    let mut notes = Vec::new();
    let mut known_wrong = false;
    let mut may_be_danced = false;
    for f in &mut built.findings {
        if !matches!(f.fault, Fault::UnknownStep { nearest: None }) {
            known_wrong |= matches!(f.fault, Fault::UnknownStep { .. });
            continue;
        }
        let index = f.line.saturating_sub(1);
        let Some(p) = parsed.get(index).and_then(Option::as_ref) else { continue };
        may_be_danced |= lines.get(index).is_none_or(|l| may_be_steps(&l.text));
        let uncounted =
            |i: &Item| i.moves.is_none() && i.stated.is_none() && i.bare.is_none() && i.times == 1;
        let alone = p.items.iter().all(|i| {
            i.body == Body::Unknown && uncounted(i)
                || i.body == Body::Nothing && i.stated.is_none() && i.bare.is_none()
        });
        if !alone {
            // Words beside steps are a note where they are more than a step's name.
            let in_line = p.items.iter().any(|i| i.body == Body::Unknown);
            let plain = in_line
                && danced_beside(p)
                && p.items.iter().filter(|i| i.body == Body::Unknown).all(uncounted);
            if plain {
                f.fault = Fault::NoStepInIt;
            } else {
                known_wrong = true;
            }
            continue;
        }
        // `Part A - The Wagon Ride`, above its steps: what the part is called as well.
        let titled = roles.get(index) == Some(&LineRole::Heading)
            && p.items.len() == 1
            && !built.lines.is_empty();
        if titled {
            f.fault = Fault::TakenAsNote;
            continue;
        }
        if right_without || !is_like_a_name(&f.words) {
            f.fault = if right_without { Fault::TakenAsNote } else { Fault::NoStepInIt };
            if let Some(line) = lines.get(index) {
                notes.push(line.typed.trim().to_string());
            }
            if let Some(role) = roles.get_mut(index) {
                *role = LineRole::Note;
            }
        } else {
            known_wrong = true;
        }
    }
    // One line makes one such finding, however many commas are in it.
    let mut seen = 0;
    let mut unknown = 0;
    built.findings.retain(|f| {
        if matches!(f.fault, Fault::UnknownStep { nearest: None }) {
            let more = f.line == unknown && !is_like_a_name(&f.words);
            unknown = f.line;
            return !more;
        }
        let noted = matches!(f.fault, Fault::TakenAsNote | Fault::NoStepInIt);
        let again = noted && f.line == seen;
        if noted {
            seen = f.line;
        }
        !again
    });
    notes.dedup();
    if !known_wrong && built.only_unknown && (right_without || !may_be_danced) {
        built.complete = true;
    }
    (built, notes)
}

/// Where the sheet does not say on which foot the dance starts, but every foot it gives in the first part,
/// twice at least, goes from the right, it starts there.
pub(super) fn start_by_claims(routine: &mut Routine, claims: &[PartClaims]) -> Option<Finding> {
    let first = routine.order.first()?;
    let feet = &claims.get(first.part)?.feet;
    let right = feet.len() > 1
        && !feet.iter().all(|c| goes_both_ways(c, feet))
        && feet.iter().all(|c| c.wrong(Foot::Left) > 0 && c.wrong(Foot::Right) == 0);
    if !right || routine.starts_on.is_some() {
        return None;
    }
    routine.starts_on = Some(Foot::Right);
    let claim = feet.first()?;
    Some(Finding {
        line: claim.line,
        column: claim.column,
        words: claim.words.clone(),
        fault: Fault::StartsOn { foot: Foot::Right },
    })
}
