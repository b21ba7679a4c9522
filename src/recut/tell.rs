//! The answer in words: what is gone, what is shorter or longer, what is new.

use super::same::Recut;
use crate::song::SongView;

/// A paragraph a teacher can read out. Names are those of the old cut.
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
        if again {
            sentences.push(format!("{} comes once more, {} long", the(p), counts(phrase.counts)));
        } else if old.phrases[p].is_intro() && phrase.counts != was {
            sentences.push(format!("{} is {}, not {was}", the(p), phrase.counts));
        } else if phrase.counts < was {
            sentences.push(format!("{} is {} shorter", the(p), counts(was - phrase.counts)));
        } else if phrase.counts > was {
            sentences.push(format!("{} is {} longer", the(p), counts(phrase.counts - was)));
        }
    }
    if sentences.is_empty() {
        return "Nothing is gone and nothing is new: every phrase is as long as it was.".into();
    }
    let text = sentences.join("; ") + ".";
    let mut chars = text.chars();
    chars
        .next()
        .map_or(String::new(), |first| first.to_uppercase().collect::<String>() + chars.as_str())
}

fn counts(n: u32) -> String {
    if n == 1 { "1 count".into() } else { format!("{n} counts") }
}

fn listed(words: &[String]) -> String {
    match words {
        [all @ .., last] if !all.is_empty() => format!("{} and {last}", all.join(", ")),
        _ => words.concat(),
    }
}
