//! The answer in words: what is gone, what is shorter or longer, what is new, and what to do about it.

use super::adapt::Adapted;
use super::same::Recut;
use super::what::What;
use crate::song::SongView;
use crate::units::clock;

/// Fewer counts of other music around a part are not worth a word.
const MUSIC: usize = 8;

/// What the new cut is: the same recording or another performance, its key and its tempo.
pub fn headline(cut: &Recut) -> String {
    let what = match cut.what {
        What::Recording => "the same recording, edited",
        What::Performance => {
            "not the same recording but the song played again (live, re-recorded or by others)"
        }
        What::Part => "a part of the song among other music",
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
    let names = Names(old.names());
    let mut sentences = match cut.what {
        What::Part => part(old, cut, &names),
        _ => gone(cut, &names),
    };
    for (k, phrase) in cut.phrases.iter().enumerate() {
        match phrase.of {
            Some(p) => sentences.extend(length(old, cut, &names, k, p)),
            None => sentences.push(new_music(cut, &names, k)),
        }
    }
    match sentences.is_empty() {
        true => "Nothing is gone and nothing is new: every phrase is as long as it was.".into(),
        false => capital(&sentences.join("; ")) + ".",
    }
}

/// The old cut's names for its phrases.
struct Names(Vec<String>);

impl Names {
    /// `verse 2`, `the bridge`.
    fn the(&self, p: usize) -> String {
        let name = &self.0[p];
        let numbered = name.ends_with(|c: char| c.is_ascii_digit());
        if numbered { name.clone() } else { format!("the {name}") }
    }
}

fn gone(cut: &Recut, names: &Names) -> Vec<String> {
    let gone: Vec<String> = cut.missing.iter().map(|&p| names.the(p)).collect();
    match gone.len() {
        0 => Vec::new(),
        1 => vec![format!("{} is gone", gone[0])],
        _ => vec![format!("{} are gone", listed(&gone))],
    }
}

/// Where the part stands and what it is, and what stands around it.
fn part(old: &SongView, cut: &Recut, names: &Names) -> Vec<String> {
    let there: Vec<usize> =
        (0..cut.phrases.len()).filter(|&k| cut.phrases[k].of.is_some()).collect();
    let (Some(&first), Some(&last)) = (there.first(), there.last()) else { return Vec::new() };
    let (Some(from), Some(to)) = (cut.song.phrases.get(first), cut.song.phrases.get(last)) else {
        return Vec::new();
    };
    let mut of: Vec<String> =
        there.iter().filter_map(|&k| Some(names.the(cut.phrases[k].of?))).collect();
    of.dedup();
    let (from_s, to_s) = (clock(from.start_s.round()), clock(to.end_s.round()));
    let whole_seconds = |text: &str| text.trim_end_matches(".00").to_string();
    let here = format!(
        "only a part of {} is here, from {} to {}: {}",
        old.title,
        whole_seconds(&from_s),
        whole_seconds(&to_s),
        listed(&of)
    );
    let around: Vec<String> = [(cut.beside.before, "before"), (cut.beside.after, "after")]
        .into_iter()
        .filter(|(n, _)| *n >= MUSIC)
        .map(|(_, where_to)| where_to.to_string())
        .collect();
    vec![here, format!("the other music {} it is not counted", listed(&around))]
}

fn new_music(cut: &Recut, names: &Names, k: usize) -> String {
    let n = cut.phrases[k].counts;
    let come = if n == 1 { "comes" } else { "come" };
    match cut.phrases[k + 1..].iter().find_map(|next| next.of) {
        Some(next) => format!("{} of new music {come} before {}", counts(n), names.the(next)),
        None => format!("{} of new music {come} at the end", counts(n)),
    }
}

/// Whether a phrase comes again, or is of another length.
fn length(old: &SongView, cut: &Recut, names: &Names, k: usize, p: usize) -> Option<String> {
    let (phrase, was) = (&cut.phrases[k], old.phrases[p].counts);
    let again = cut.phrases[..k].iter().any(|earlier| earlier.of == Some(p));
    let last = k + 1 == cut.phrases.len() && cut.what != What::Part;
    let the = names.the(p);
    Some(if again {
        format!("{the} comes once more, {} long", counts(phrase.counts))
    } else if old.phrases[p].is_intro() && phrase.counts != was {
        format!("{the} is {}, not {was}", phrase.counts)
    } else if phrase.counts < was && last {
        format!("the cut ends after {} of {the}", counts(phrase.counts))
    } else if phrase.counts < was {
        format!("{the} is {} shorter", counts(was - phrase.counts))
    } else if phrase.counts > was {
        format!("{the} is {} longer", counts(phrase.counts - was))
    } else {
        return None;
    })
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
