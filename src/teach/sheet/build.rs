//! Fills the cells of a [`Sheet`].

use crate::fit::{Fit, Mismatch, Placement};
use crate::plain::clean;
use crate::routine::{Part, PartKind, Passage, Routine, StepLine, StepUse, glossary};
use crate::song::SongView;
use crate::units::{Count, Foot, Wall, clock, eights, ordinal, pulse_words};

use super::canonical;
use super::{Flag, Movements, PartSheet, Row, RowKind, Sheet, StepRow};

const CAUTIONS: &str = "Warm up first. Mind the floor and your shoes. Learn it slowly and build \
the tempo up; stop at pain. The teacher's own judgement stands.";

type OnSong<'a> = Option<(&'a SongView, &'a Fit)>;

impl Sheet {
    /// The sheet of a routine, with the song's times and what does not meet where a fit is given.
    pub fn of(routine: &Routine, on: OnSong<'_>) -> Sheet {
        let title = clean(&routine.title);
        let own_steps = own_steps(routine);
        let mut sheet = Sheet {
            title: if title.is_empty() { "Routine".into() } else { title },
            facts: facts(routine),
            song_facts: on.map(|(song, fit)| song_facts(routine, song, fit)).unwrap_or_default(),
            notes: routine.notes.iter().map(|n| clean(n)).filter(|n| !n.is_empty()).collect(),
            with_song: on.is_some(),
            cautions: CAUTIONS.into(),
            ..Sheet::default()
        };
        let passages = routine.walk();
        sheet.names = passages
            .iter()
            .filter_map(|p| routine.parts.get(p.part))
            .map(|part| match is_pause(part) {
                true => format!("pause {}", part.counts()),
                false => clean(&part.name),
            })
            .collect();
        sheet.parts = routine
            .parts
            .iter()
            .enumerate()
            .filter(|(_, part)| !is_pause(part))
            .map(|(i, part)| part_sheet(i, part, &passages, &own_steps))
            .collect();
        sheet.own_steps = own_steps;
        sheet.order = match on {
            Some((song, fit)) => order_on_song(routine, song, fit, &mut sheet.elsewhere),
            None => order_alone(routine, &passages),
        };
        sheet
    }
}

/// Whether a part is a pause that the order itself names.
fn is_pause(part: &Part) -> bool {
    part.name == "Pause" && part.kind == PartKind::Fill && part.lines.is_empty()
}

/// Steps that are not the glossary's, each with its movements; those that come in two ways are left to
/// their lines.
fn own_steps(routine: &Routine) -> Vec<(String, String)> {
    let mut own: Vec<(&StepUse, bool)> = Vec::new();
    for step in routine.parts.iter().flat_map(Part::steps) {
        let in_glossary = || glossary::find(&step.name).is_some_and(|(_, s)| s.moves == step.moves);
        let unsaid = || step.name == step.movements || !canonical::can_be_named(step);
        if step.moves.is_empty() || unsaid() || in_glossary() {
            continue;
        }
        match own.iter_mut().find(|(known, _)| known.name == step.name) {
            Some((known, one_way)) => *one_way &= known.moves == step.moves,
            None => own.push((step, true)),
        }
    }
    let one_way = own.into_iter().filter(|(_, one_way)| *one_way);
    one_way.map(|(step, _)| (clean(&step.name), clean(&step.movements))).collect()
}

fn put(facts: &mut Vec<(String, String)>, what: &str, value: Option<String>) {
    if let Some(value) = value.map(|v| clean(&v)).filter(|v| !v.is_empty()) {
        facts.push((what.to_string(), value));
    }
}

fn facts(routine: &Routine) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    put(&mut facts, "Music", routine.music.clone());
    put(&mut facts, "Choreo", routine.choreographer.clone());
    put(&mut facts, "Level", routine.level.clone());
    put(&mut facts, "Wait", routine.wait.map(wait_words));
    let foot = routine.starts_on.unwrap_or(Foot::Left);
    put(&mut facts, "Starts", Some(format!("{foot} foot")));
    facts
}

fn wait_words(counts: u32) -> String {
    match counts {
        0 => "none".to_string(),
        1 => "1 count".to_string(),
        n => format!("{n} counts"),
    }
}

fn song_facts(routine: &Routine, song: &SongView, fit: &Fit) -> Vec<(String, String)> {
    let heard = match &song.artist {
        Some(artist) => format!("{}, {artist}", song.title),
        None => song.title.clone(),
    };
    let length = clock(song.duration_s.round());
    let length = length.trim_end_matches(".00");
    let mut facts = Vec::new();
    put(&mut facts, "Recording", Some(format!("{heard} ({length})")));
    put(&mut facts, "Tempo", Some(tempo(song)));
    let wait = match (fit.wait.counts, routine.wait) {
        (n, Some(typed)) if n != typed => format!("wait {} here, ", wait_words(n)),
        (0, _) => String::new(),
        (n, _) if n < 8 => format!("wait {}, ", wait_words(n)),
        (n, _) => format!("wait {} ({}), ", wait_words(n), eights(n)),
    };
    let starts = format!(
        "{wait}count 1 at {}, first step at {}",
        clock(fit.wait.start_s),
        clock(fit.wait.end_s)
    );
    put(&mut facts, "Start", Some(starts));
    facts
}

fn tempo(song: &SongView) -> String {
    format!(
        "{:.0} counts a minute, {}; learn it slower",
        song.counts_per_minute,
        pulse_words(song.counts_per_beat)
    )
}

fn part_sheet(
    index: usize,
    part: &Part,
    passages: &[Passage],
    own_steps: &[(String, String)],
) -> PartSheet {
    let rounds: Vec<&Passage> = passages.iter().filter(|p| p.part == index).collect();
    let lead = rounds.first().map_or(Foot::Left, |p| p.lead_foot);
    let mut dancer = Dancer {
        free: lead,
        faces: rounds.first().map_or(Wall::Front, |p| p.wall_before),
        done: 0,
    };
    let lines = part.lines.iter().map(|line| dancer.line(part, line, own_steps)).collect();
    PartSheet {
        index: Some(index),
        name: clean(&part.name),
        counts: part.counts(),
        length: length(part.counts()),
        feet: feet_of_rounds(lead, &rounds),
        walls: walls_of_rounds(&rounds),
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

/// `front wall`, `front to back wall`, and the rounds that face otherwise.
fn walls_of_rounds(rounds: &[&Passage]) -> String {
    let words = |p: &Passage| match (p.wall_before, p.wall_after) {
        (before, after) if before == after => format!("{before} wall"),
        (before, after) => format!("{before} to {after} wall"),
    };
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for round in rounds {
        let here = words(round);
        match told.iter_mut().find(|(words, _)| *words == here) {
            Some((_, times)) => times.push(ordinal(round.time_round)),
            None => told.push((here, vec![ordinal(round.time_round)])),
        }
    }
    let told: Vec<String> = told
        .into_iter()
        .enumerate()
        .map(
            |(n, (words, times))| {
                if n == 0 { words } else { format!("{} time {words}", times.join(", ")) }
            },
        )
        .collect();
    told.join("; ")
}

/// Where the dancer stands in a part, the first time round.
struct Dancer {
    free: Foot,
    faces: Wall,
    done: u32,
}

impl Dancer {
    fn line(&mut self, part: &Part, line: &StepLine, own_steps: &[(String, String)]) -> StepRow {
        let counts = line.counts();
        let mut cells: Vec<Movements> = Vec::new();
        let mut turns = false;
        for step in &line.steps {
            let here = movements(step, self.free);
            self.free = step.free_foot_after(self.free);
            self.faces = turned(self.faces, step);
            turns |= step.eighths() != 0;
            match cells.last_mut() {
                Some(last) if last.words == here.words && last.feet == here.feet => last.times += 1,
                _ if here.words.is_empty() => {}
                _ => cells.push(here),
            }
        }
        let row = StepRow {
            running: running(self.done, counts),
            counts,
            steps: steps_alone(part, line),
            movements: cells,
            faces: if turns { self.faces.to_string() } else { String::new() },
            note: note_beside(line),
            plain: canonical::lines(line, own_steps),
        };
        self.done = self.done.saturating_add(counts);
        row
    }
}

fn turned(wall: Wall, step: &StepUse) -> Wall {
    wall.turned_eighths(step.eighths())
}

/// The words as typed, without the heading that they may follow on its line, a bullet, and the counts in
/// front, `9-16`, which the sheet says itself.
fn steps_alone(part: &Part, line: &StepLine) -> String {
    let typed = clean(&line.text);
    let mut words = typed.as_str();
    if line.line == part.line && line.line > 0 {
        let after = words
            .trim_start_matches(['[', '(', '*', '-', ' '])
            .strip_prefix(clean(&part.name).as_str());
        if let Some(after) = after {
            words = after
                .trim_start_matches(|c: char| c.is_ascii_punctuation() && c != '(' || c == ' ');
            let stated = words.strip_prefix('(').and_then(|w| w.split_once(')'));
            if let Some((_, rest)) =
                stated.filter(|(n, _)| n.starts_with(|c: char| c.is_ascii_digit()))
            {
                words = rest
                    .trim_start_matches(|c: char| c.is_ascii_punctuation() && c != '(' || c == ' ');
            }
        }
    }
    for bullet in ["* ", "- ", "• ", "> "] {
        words = words.strip_prefix(bullet).unwrap_or(words);
    }
    let digits = |w: &str| !w.is_empty() && w.chars().all(|c| c.is_ascii_digit());
    let range = |w: &str| w.split_once(['-', '–']).is_some_and(|(a, b)| digits(a) && digits(b));
    match words.split_once(' ') {
        Some((first, rest)) if range(first) => rest.trim_start().to_string(),
        _ => words.to_string(),
    }
}

/// The note of a line, unless the line as typed says it already.
fn note_beside(line: &StepLine) -> String {
    let note = line.note.as_deref().map(clean).unwrap_or_default();
    let typed = clean(&line.text).to_lowercase();
    if typed.contains(&note.to_lowercase()) { String::new() } else { note }
}

/// Counts after `before`, so many: `9-16`, or nothing. A single count is a range too, `9-9`: a lone number
/// would say how often.
fn running(before: u32, counts: u32) -> String {
    match counts {
        0 => String::new(),
        n => format!("{}-{}", before.saturating_add(1), before.saturating_add(n)),
    }
}

/// A step's movements with the feet under them, danced with `free` free.
fn movements(step: &StepUse, free: Foot) -> Movements {
    let movements = clean(&step.movements);
    let words: Vec<String> =
        movements.split(' ').filter(|w| !w.is_empty()).map(String::from).collect();
    let feet = step.feet_line(free).split(' ').map(String::from).collect();
    Movements { words, feet, times: 1 }
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
