//! The answer in words: what is gone, what is shorter or longer, what is new, and what to do about it.

use super::adapt::Adapted;
use super::same::{Recut, What};
use crate::song::SongView;
use crate::units::clock;

/// What the new cut is: the same recording or another performance, its key and its tempo.
pub fn headline(cut: &Recut) -> String {
    let what = match cut.what {
        What::Recording => "the same recording, edited",
        What::Performance => "not the same recording: the song played again, live, re-recorded or by others",
        What::Part => "a part of the song, among other music",
        What::Other => "another song",
    };
    let what = if cut.phrases.iter().all(|p| p.of.is_some()) && cut.missing.is_empty() {
        what.trim_end_matches(", edited")
    } else {
        what
    };
    let key = match cut.semitones {
        0 => "in the same key".to_string(),
        1 => "a semitone higher".to_string(),
        -1 => "a semitone lower".to_string(),
        up @ 1.. => format!("{up} semitones higher"),
        down => format!("{} semitones lower", -down),
    };
    let percent = (100.0 * cut.tempo_ratio).round();
    let tempo = match percent as i64 {
        99..=101 => "at the same tempo".to_string(),
        other => format!("at {other} % of the tempo"),
    };
    format!("{what}, {key}, {tempo}")
}

/// A paragraph a teacher can read out: what is gone, what is shorter or longer, what is new. Names are those
/// of the old cut.
pub fn tell(old: &SongView, cut: &Recut) -> String {
    let names = old.names();
    let the = |p: usize| {
        let numbered = names[p].ends_with(|c: char| c.is_ascii_digit());
        if numbered { names[p].clone() } else { format!("the {}", names[p]) }
    };
    let mut sentences = Vec::new();
    let gone: Vec<String> = cut.missing.iter().map(|&p| the(p)).collect();
    match gone.len() {
        0 => {}
        1 => sentences.push(format!("{} is gone", gone[0])),
        _ => sentences.push(format!("{} are gone", listed(&gone))),
    }
    for (k, phrase) in cut.phrases.iter().enumerate() {
        let Some(p) = phrase.of else {
            let before = cut.phrases[k + 1..].iter().find_map(|next| next.of);
            let counts = counts(phrase.counts);
            sentences.push(match before {
                Some(next) => format!("{counts} of new music come before {}", the(next)),
                None => format!("{counts} of new music come at the end"),
            });
            continue;
        };
        let was = old.phrases[p].counts;
        let again = cut.phrases[..k].iter().any(|earlier| earlier.of == Some(p));
        let last = k + 1 == cut.phrases.len();
        if again {
            sentences.push(format!("{} comes once more, {} long", the(p), counts(phrase.counts)));
        } else if old.phrases[p].is_intro() && phrase.counts != was {
            sentences.push(format!("{} is {}, not {was}", the(p), phrase.counts));
        } else if phrase.counts < was && last {
            sentences.push(format!("the cut ends after {} of {}", counts(phrase.counts), the(p)));
        } else if phrase.counts < was {
            sentences.push(format!("{} is {} shorter", the(p), counts(was - phrase.counts)));
        } else if phrase.counts > was {
            sentences.push(format!("{} is {} longer", the(p), counts(phrase.counts - was)));
        }
    }
    match sentences.is_empty() {
        true => "Nothing is gone and nothing is new: every phrase is as long as it was.".into(),
        false => capital(&sentences.join("; ")) + ".",
    }
}

/// Whether the routine fits this cut, and what to do where it does not.
pub fn tell_fit(adapted: &Adapted) -> String {
    if adapted.as_is.fits {
        return "The routine fits this cut as it is.".into();
    }
    if adapted.say.is_empty() {
        return format!(
            "The routine does not fit: {} do not meet, and no simple change mends it. See `hoofbeat fit`.",
            things(adapted.as_is.mismatches.len())
        );
    }
    let rest = match adapted.fit.mismatches.len() {
        0 => String::new(),
        n => format!(" Then {} still do not meet.", things(n)),
    };
    format!("The routine does not fit: {}.{rest}", adapted.say.join("; "))
}

/// The phrases of the new cut, one a line.
pub fn table(old: &SongView, cut: &Recut) -> String {
    let names = old.names();
    let own = cut.song.names();
    let rows: Vec<[String; 6]> = cut
        .song
        .phrases
        .iter()
        .zip(&cut.phrases)
        .zip(own)
        .map(|((phrase, carried), own)| {
            let of = match carried.of {
                None => "new".to_string(),
                Some(p) if carried.from > 0 => {
                    format!("{} from count {}", names[p], carried.from + 1)
                }
                Some(p) => names[p].clone(),
            };
            let was = carried.of.map_or(String::new(), |p| old.phrases[p].counts.to_string());
            let sure = format!("{:.0} %", 100.0 * carried.sure);
            [own, clock(phrase.start_s), phrase.counts.to_string(), of, was, sure]
        })
        .collect();
    let heads = ["this cut", "starts", "counts", "is", "was", "sure"].map(String::from);
    let mut widths = heads.clone().map(|h| h.chars().count());
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let mut out = String::new();
    for row in std::iter::once(&heads).chain(&rows) {
        let mut line = String::from(" ");
        for (column, (cell, width)) in row.iter().zip(widths).enumerate() {
            let gap = width - cell.chars().count();
            // Numbers end under one another.
            let (before, after) = if matches!(column, 0 | 3) { (0, gap) } else { (gap, 0) };
            line.push_str(&format!(" {}{cell}{} ", " ".repeat(before), " ".repeat(after)));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

fn things(n: usize) -> String {
    if n == 1 { "1 thing".into() } else { format!("{n} things") }
}

fn counts(n: u32) -> String {
    if n == 1 { "1 count".into() } else { format!("{n} counts") }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().collect::<String>() + chars.as_str())
}

fn listed(words: &[String]) -> String {
    match words {
        [all @ .., last] if !all.is_empty() => format!("{} and {last}", all.join(", ")),
        _ => words.concat(),
    }
}
