//! Fills the cells of a [`Sheet`].

use crate::fit::{Fit, Mismatch, Placement};
use crate::plain::clean;
use crate::routine::{Part, PartKind, Passage, Routine, StepLine, StepUse};
use crate::song::SongView;
use crate::units::{Count, Foot, clock, eights, ordinal, pulse_words};

use super::{Flag, Movements, PartSheet, Row, RowKind, Sheet, StepRow};

const CAUTIONS: &str = "Warm up first. Mind the floor and your shoes. Learn it slowly and build \
the tempo up; stop at pain. The teacher's own judgement stands.";

type OnSong<'a> = Option<(&'a SongView, &'a Fit)>;

impl Sheet {
    /// The sheet of a routine, with the song's times and what does not meet where a fit is given.
    pub fn of(routine: &Routine, on: OnSong<'_>) -> Sheet {
        let title = clean(&routine.title);
        let mut sheet = Sheet {
            title: if title.is_empty() { "Routine".into() } else { title },
            facts: facts(routine, on),
            notes: routine.notes.iter().map(|n| clean(n)).filter(|n| !n.is_empty()).collect(),
            with_song: on.is_some(),
            cautions: CAUTIONS.into(),
            ..Sheet::default()
        };
        let passages = routine.walk();
        sheet.parts =
            routine.parts.iter().enumerate().map(|(i, p)| part_sheet(i, p, &passages)).collect();
        sheet.order = match on {
            Some((song, fit)) => order_on_song(routine, song, fit, &mut sheet.elsewhere),
            None => order_alone(routine, &passages),
        };
        sheet
    }
}

fn facts(routine: &Routine, on: OnSong<'_>) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    let mut put = |what: &str, value: Option<String>| {
        if let Some(value) = value.map(|v| clean(&v)).filter(|v| !v.is_empty()) {
            facts.push((what.to_string(), value));
        }
    };
    put("Music", music(routine, on));
    put("Choreo", routine.choreographer.clone());
    put("Level", routine.level.clone());
    put("Wait", wait(routine, on));
    put("Starts", Some(format!("{} foot", routine.starts_on.unwrap_or(Foot::Left))));
    put("Tempo", on.map(|(song, _)| tempo(song)));
    facts
}

fn music(routine: &Routine, on: OnSong<'_>) -> Option<String> {
    let Some((song, _)) = on else { return routine.music.clone() };
    let heard = match &song.artist {
        Some(artist) => format!("{}, {artist}", song.title),
        None => song.title.clone(),
    };
    let length = clock(song.duration_s.round());
    let length = length.trim_end_matches(".00");
    Some(match &routine.music {
        // The sheet's own words first; they may name another edit than the recording.
        Some(typed) if !heard.contains(typed.as_str()) => {
            format!("{typed} (on this recording: {heard}, {length})")
        }
        _ => format!("{heard} ({length})"),
    })
}

fn wait(routine: &Routine, on: OnSong<'_>) -> Option<String> {
    let words = |counts: u32| match counts {
        0 => "none".to_string(),
        n if n < 8 => eights(n),
        n => format!("{n} counts ({})", eights(n)),
    };
    match on {
        Some((_, fit)) => Some(format!(
            "{}; count 1 at {}, first step at {}",
            words(fit.wait.counts),
            clock(fit.wait.start_s),
            clock(fit.wait.end_s)
        )),
        None => routine.wait.map(words),
    }
}

fn tempo(song: &SongView) -> String {
    format!(
        "{:.0} counts a minute, {}; learn it slower",
        song.counts_per_minute,
        pulse_words(song.counts_per_beat)
    )
}

fn part_sheet(index: usize, part: &Part, passages: &[Passage]) -> PartSheet {
    let rounds: Vec<&Passage> = passages.iter().filter(|p| p.part == index).collect();
    let lead = rounds.first().map_or(Foot::Left, |p| p.lead_foot);
    let mut free = lead;
    let mut done = 0u32;
    let mut lines = Vec::with_capacity(part.lines.len());
    for line in &part.lines {
        lines.push(step_row(line, &mut free, &mut done));
    }
    PartSheet {
        name: clean(&part.name),
        length: length(part.counts()),
        feet: feet_of_rounds(lead, &rounds),
        lines,
    }
}

fn length(counts: u32) -> String {
    if counts < 8 { eights(counts) } else { format!("{} ({counts} counts)", eights(counts)) }
}

/// `left foot`, and the rounds that start on the other one.
fn feet_of_rounds(lead: Foot, rounds: &[&Passage]) -> String {
    let other: Vec<String> =
        rounds.iter().filter(|p| p.lead_foot != lead).map(|p| ordinal(p.time_round)).collect();
    match other.as_slice() {
        [] if rounds.is_empty() => "not in the order".into(),
        [] => format!("{lead} foot"),
        _ => format!("{lead} foot; {} time {} foot", other.join(", "), lead.other()),
    }
}

fn step_row(line: &StepLine, free: &mut Foot, done: &mut u32) -> StepRow {
    let counts = line.counts();
    let movements = line
        .steps
        .iter()
        .map(|step| {
            let here = movements(step, *free);
            *free = step.free_foot_after(*free);
            here
        })
        .filter(|m| !m.words.is_empty())
        .collect();
    let row = StepRow {
        running: running(*done, counts),
        counts,
        steps: clean(&line.text),
        movements,
        note: note_beside(line),
    };
    *done = done.saturating_add(counts);
    row
}

/// The note of a line, unless the line as typed says it already.
fn note_beside(line: &StepLine) -> String {
    let note = line.note.as_deref().map(clean).unwrap_or_default();
    let typed = clean(&line.text).to_lowercase();
    if typed.contains(&note.to_lowercase()) { String::new() } else { note }
}

/// Counts after `before`, so many: `9-16`, `9`, or nothing.
fn running(before: u32, counts: u32) -> String {
    match counts {
        0 => String::new(),
        1 => before.saturating_add(1).to_string(),
        n => format!("{}-{}", before.saturating_add(1), before.saturating_add(n)),
    }
}

/// A step's movements with the feet under them, danced with `free` free.
fn movements(step: &StepUse, free: Foot) -> Movements {
    let movements = clean(&step.movements);
    let words: Vec<String> =
        movements.split(' ').filter(|w| !w.is_empty()).map(String::from).collect();
    let feet = step.feet_line(free).split(' ').map(String::from).collect();
    Movements { words, feet }
}

fn row_name(part: &str, time_round: u32) -> String {
    let name = clean(part);
    if time_round > 1 { format!("{name}, {} time", ordinal(time_round)) } else { name }
}

fn kind_of(routine: &Routine, part: usize) -> RowKind {
    match routine.parts.get(part).map(|p| p.kind) {
        Some(PartKind::Fill) => RowKind::Fill,
        _ => RowKind::Part,
    }
}

fn order_alone(routine: &Routine, passages: &[Passage]) -> Vec<Row> {
    let row = |p: &Passage| Row {
        kind: kind_of(routine, p.part),
        name: row_name(&routine.parts[p.part].name, p.time_round),
        running: running(p.counts_before, p.counts),
        length: eights(p.counts),
        foot: p.lead_foot.letter().to_string(),
        wall: p.wall_before.to_string(),
        ..Row::default()
    };
    passages.iter().map(row).collect()
}

/// The order as it lies on the song: the wait, parts, and counts without steps between them.
fn order_on_song(
    routine: &Routine,
    song: &SongView,
    fit: &Fit,
    elsewhere: &mut Vec<Flag>,
) -> Vec<Row> {
    let names = song.names();
    let mut rows: Vec<(Count, Row)> = Vec::new();
    let mut reached = Count::FIRST;
    if fit.wait.counts > 0 {
        rows.push((
            reached,
            free_row((song, &names), RowKind::Wait, "wait", reached, fit.wait.counts),
        ));
        reached = after(reached, fit.wait.counts);
    }
    for (index, placement) in fit.placements.iter().enumerate() {
        let start = placement.start_count;
        if start > reached {
            let counts = (start - reached).unsigned_abs();
            rows.push((
                reached,
                free_row((song, &names), RowKind::Free, "no steps", reached, counts),
            ));
        }
        let next = fit.placements.get(index + 1);
        let no_room = next.is_some_and(|n| n.start_count <= start);
        rows.push((start, placed_row(routine, &names, placement, no_room)));
        if !no_room {
            reached = reached.max(after(start, placement.danced));
        }
    }
    let end = song.counts.end();
    if reached < end && !fit.placements.is_empty() {
        let counts = (end - reached).unsigned_abs();
        rows.push((
            reached,
            free_row((song, &names), RowKind::Free, "song goes on", reached, counts),
        ));
    }
    for (number, mismatch) in fit.mismatches.iter().enumerate() {
        let flag = flag(fit, number, mismatch);
        match row_of(&rows, fit, mismatch) {
            Some(row) => rows[row].1.flags.push(flag),
            None => elsewhere.push(flag),
        }
    }
    rows.into_iter().map(|(_, row)| row).collect()
}

fn after(start: Count, counts: u32) -> Count {
    start + i32::try_from(counts).unwrap_or(i32::MAX)
}

fn free_row(
    (song, names): (&SongView, &[String]),
    kind: RowKind,
    name: &str,
    start: Count,
    counts: u32,
) -> Row {
    Row {
        kind,
        name: name.into(),
        running: counts_of(start, counts),
        time: clock(song.counts.time_or_beyond_s(start)),
        phrase: song
            .phrase_at(start)
            .and_then(|p| names.get(p))
            .map(|n| clean(n))
            .unwrap_or_default(),
        length: eights(counts),
        ..Row::default()
    }
}

fn placed_row(routine: &Routine, names: &[String], placement: &Placement, no_room: bool) -> Row {
    let part = routine.order.get(placement.order_index).map_or(usize::MAX, |item| item.part);
    Row {
        kind: if no_room { RowKind::NoRoom } else { kind_of(routine, part) },
        name: row_name(&placement.part, placement.time_round),
        running: if no_room {
            "no room".into()
        } else {
            counts_of(placement.start_count, placement.danced)
        },
        time: clock(placement.start_s),
        phrase: placement
            .phrase_index
            .and_then(|p| names.get(p))
            .or(placement.phrase.as_ref())
            .map(|name| clean(name))
            .unwrap_or_default(),
        length: placed_length(placement),
        foot: placement.lead_foot.letter().to_string(),
        wall: placement.wall_before.to_string(),
        flags: Vec::new(),
    }
}

/// Its length, and of how many counts it is all that there is room for.
fn placed_length(placement: &Placement) -> String {
    if placement.left_out || placement.danced == placement.counts {
        return eights(placement.counts);
    }
    format!("{} of {}", eights(placement.danced), placement.counts)
}

/// `17-48`, in counts of the song.
fn counts_of(start: Count, counts: u32) -> String {
    match counts {
        0 => String::new(),
        1 => start.to_string(),
        n => format!("{start}-{}", after(start, n - 1)),
    }
}

fn flag(fit: &Fit, number: usize, mismatch: &Mismatch) -> Flag {
    let mends = fit.suggestions.iter().filter(|s| s.mends == number).map(|s| clean(&s.message));
    Flag {
        number: number + 1,
        words: clean(&mismatch.message),
        // One is enough to hand out; the report has the others.
        mends: mends.filter(|m| !m.is_empty()).take(1).collect(),
    }
}

/// The row under which a mismatch is told: its part's, else the last that has begun by then.
fn row_of(rows: &[(Count, Row)], fit: &Fit, mismatch: &Mismatch) -> Option<usize> {
    let placement = fit.placements.iter().find(|p| {
        Some(&p.part) == mismatch.part.as_ref()
            && mismatch.time_round.is_some_and(|t| t == p.time_round)
    });
    let named = placement.and_then(|p| {
        let name = row_name(&p.part, p.time_round);
        rows.iter().position(|(start, row)| *start == p.start_count && row.name == name)
    });
    named.or_else(|| rows.iter().rposition(|(start, _)| *start <= mismatch.at_count))
}
