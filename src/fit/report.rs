//! A fit as a page of text.

use super::model::{Fit, Placement};
use super::words::{number, ordinal};
use crate::routine::Routine;
use crate::song::SongView;
use crate::units::{Foot, clock, eights};

/// Widest line of text, and of the table, columns.
const WIDTH: usize = 96;
const TABLE_WIDTH: usize = 104;
/// Narrowest that a column of names is made to keep the table within [`TABLE_WIDTH`].
const NARROWEST: usize = 14;

/// The report: the verdict, the wait, a table part by part, what does not meet, what would mend it.
pub fn report(fit: &Fit, song: &SongView, routine: &Routine) -> String {
    let mut out = String::new();
    out.push_str(&wrapped(&verdict(fit, song), "", ""));
    out.push('\n');
    out.push_str(&wrapped(&heading(song, routine), "", "  "));
    out.push_str(&wrapped(&wait_line(fit), "", "  "));
    if !fit.placements.is_empty() {
        out.push('\n');
        out.push_str(&table(fit, song));
    }
    if !fit.mismatches.is_empty() {
        out.push_str("\nWhat does not meet\n");
        for (n, mismatch) in fit.mismatches.iter().enumerate() {
            let number = format!("{:>3}  ", n + 1);
            out.push_str(&wrapped(&sentence(&mismatch.message), &number, "     "));
        }
        out.push_str("\nWhat would mend it\n");
        for n in 0..fit.mismatches.len() {
            mends(fit, n, &mut out);
        }
        if !fit.suggestions.is_empty() {
            let how = "To have a mend written into a new sheet: --apply with its number in brackets, \
                       and -o with the new sheet's name.";
            out.push('\n');
            out.push_str(&wrapped(how, "", ""));
        }
    }
    out
}

fn verdict(fit: &Fit, song: &SongView) -> String {
    match fit.mismatches.len() {
        0 => {
            let end = fit.placements.last().map(|p| p.start_count + p.counts as i32);
            let over = match (end, song.phrases.last()) {
                (Some(end), Some(last)) => last.end() - end,
                _ => 0,
            };
            let parts = match fit.placements.len() {
                1 => "1 part meets its phrases".to_string(),
                n => format!("{n} parts, each meets its phrases"),
            };
            match over {
                1.. => format!(
                    "It fits: {parts}. The song goes on for {} after the last step.",
                    number(over as u32)
                ),
                _ => format!("It fits: {parts}."),
            }
        }
        1 => "It does not fit: 1 thing does not meet.".to_string(),
        n => format!("It does not fit: {n} things do not meet."),
    }
}

fn heading(song: &SongView, routine: &Routine) -> String {
    let by = song.artist.iter().filter(|a| !a.is_empty()).map(|a| format!(", {a}"));
    let song_name = format!("{}{}", song.title, by.collect::<String>());
    let routine = if routine.title.is_empty() { "the routine" } else { &routine.title };
    format!("{routine} to {song_name}; {:.0} counts a minute", song.counts_per_minute)
}

fn wait_line(fit: &Fit) -> String {
    let wait = &fit.wait;
    let length = match wait.counts {
        counts @ 8.. => format!("{} ({})", number(counts), eights(counts)),
        counts => number(counts),
    };
    format!(
        "wait {length}: counting starts at {}, first step at {}",
        clock(wait.start_s),
        clock(wait.end_s)
    )
}

/// Length in eights for a column: `4`, `2+4`, `-` below one.
fn in_eights(counts: u32) -> String {
    match (counts / 8, counts % 8) {
        (0, rest) => format!("+{rest}"),
        (eights, 0) => eights.to_string(),
        (eights, rest) => format!("{eights}+{rest}"),
    }
}

const HEAD: [&str; 11] =
    ["part", "round", "counts", "eights", "from", "to", "starts", "ends", "phrase", "feet", "wall"];
/// Columns of numbers and times stand to the right.
const TO_THE_RIGHT: [bool; 11] =
    [false, false, true, true, true, true, true, true, false, false, false];
const PART: usize = 0;
const PHRASE: usize = 8;

fn table(fit: &Fit, song: &SongView) -> String {
    let mut rows: Vec<Vec<String>> = vec![HEAD.iter().map(ToString::to_string).collect()];
    let names = song.names();
    // For each line after the head, the placement that it shows; a gap shows none.
    let mut shown: Vec<Option<usize>> = Vec::new();
    for (item, placement) in fit.placements.iter().enumerate() {
        rows.push(row(placement, song, &names));
        shown.push(Some(item));
        if let Some(next) = fit.placements.get(item + 1)
            && placement.start_count + (placement.danced as i32) < next.start_count
        {
            rows.push(gap(placement, next));
            shown.push(None);
        }
    }
    let mut widths: Vec<usize> = (0..HEAD.len())
        .map(|c| rows.iter().map(|r| r[c].chars().count()).max().unwrap_or(0))
        .collect();
    let marks = if fit.fits { 0 } else { "  see 10, 11".len() };
    let between = 2 * (HEAD.len() - 1) + marks;
    loop {
        let wide = widths.iter().sum::<usize>() + between;
        let widest = if widths[PART] >= widths[PHRASE] { PART } else { PHRASE };
        if wide <= TABLE_WIDTH || widths[widest] <= NARROWEST {
            break;
        }
        widths[widest] -= 1;
    }
    let mut out = String::new();
    for (n, row) in rows.iter().enumerate() {
        let cells = row.iter().zip(&widths).zip(TO_THE_RIGHT).map(|((cell, &width), right)| {
            let cell = cut(cell, width);
            if right { format!("{cell:>width$}") } else { format!("{cell:<width$}") }
        });
        let mut line = cells.collect::<Vec<_>>().join("  ");
        if let Some(item) = n.checked_sub(1).and_then(|n| shown[n]) {
            let numbers = amiss_at(fit, item);
            if !numbers.is_empty() {
                line.push_str(&format!("  see {}", numbers.join(", ")));
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Counts without steps between two parts.
fn gap(before: &Placement, next: &Placement) -> Vec<String> {
    let from = before.start_count + before.danced as i32;
    let counts = (next.start_count - from).unsigned_abs();
    let mut row = vec![String::new(); HEAD.len()];
    row[0] = "(nothing)".into();
    row[2] = counts.to_string();
    row[3] = in_eights(counts);
    row[4] = from.to_string();
    row[5] = (next.start_count + -1).to_string();
    row[6] = clock(before.end_s);
    row[7] = clock(next.start_s);
    row
}

fn row(placement: &Placement, song: &SongView, names: &[String]) -> Vec<String> {
    let p = placement;
    let round = match p.time_round {
        1 => String::new(),
        n => ordinal(n),
    };
    let last = p.start_count + p.danced as i32 + -1;
    let counts = if p.danced < p.counts {
        format!("{} of {}", p.danced, p.counts)
    } else {
        p.counts.to_string()
    };
    // A part left out has no last count.
    let ends = |end: String| if p.left_out { "-".into() } else { end };
    let feet = |from: Foot, to: Foot| format!("{}-{}", from.letter(), to.letter());
    let wall = if p.wall_before == p.wall_after {
        p.wall_before.to_string()
    } else {
        format!("{}-{}", p.wall_before, p.wall_after)
    };
    let phrase = match p.phrase_index.and_then(|i| Some((i, song.phrases.get(i)?))) {
        Some((i, phrase)) => match p.start_count - phrase.start {
            0 => plain(&names[i]),
            into => format!("{} +{into}", plain(&names[i])),
        },
        None => "-".into(),
    };
    vec![
        plain(&p.part),
        round,
        counts,
        if p.left_out { "-".into() } else { in_eights(p.danced) },
        p.start_count.to_string(),
        ends(last.to_string()),
        clock(p.start_s),
        ends(clock(p.end_s)),
        phrase,
        feet(p.lead_foot, p.free_foot_after),
        wall,
    ]
}

/// Numbers of the mismatches that name this part, this time round.
fn amiss_at(fit: &Fit, item: usize) -> Vec<String> {
    let placement = &fit.placements[item];
    fit.mismatches
        .iter()
        .enumerate()
        .filter(|(_, m)| {
            m.part.as_ref() == Some(&placement.part) && m.time_round == Some(placement.time_round)
        })
        .map(|(n, _)| (n + 1).to_string())
        .collect()
}

fn mends(fit: &Fit, mismatch: usize, out: &mut String) {
    let numbered = fit.suggestions.iter().zip(1..);
    let mut choices = numbered.filter(|(s, _)| s.mends == mismatch).peekable();
    if choices.peek().is_none() {
        let none = "no single change was found that mends this without spoiling something else";
        out.push_str(&wrapped(none, &format!("{:>3}  ", mismatch + 1), "     "));
        return;
    }
    for (n, (choice, number)) in choices.enumerate() {
        let first = if n == 0 { format!("{:>3}  ", mismatch + 1) } else { "  or ".to_string() };
        let words = format!("{} [{number}]", sentence(&choice.message));
        out.push_str(&wrapped(&words, &first, "     "));
        for (step, feet) in choice.steps.iter().zip(&choice.feet) {
            let line = if feet.is_empty() { step.clone() } else { format!("{step}: {feet}") };
            out.push_str(&wrapped(&line, "       ", "         "));
        }
    }
}

/// Text for a line of its own: without what would move the cursor or break the line.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", chars.as_str())
}

fn cut(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_string();
    }
    text.chars().take(width.saturating_sub(1)).chain(['…']).collect()
}

/// Text in lines of at most [`WIDTH`], the first after `first`, the others after `others`.
fn wrapped(text: &str, first: &str, others: &str) -> String {
    let mut out = String::new();
    let mut line = first.to_string();
    let mut empty = true;
    for word in plain(text).split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push_str(line.trim_end());
            out.push('\n');
            line = others.to_string();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}
