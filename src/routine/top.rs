//! The fields of a sheet taken into the routine.

use crate::units::Foot;

use super::field::{Field, foot_in_a_sentence, starting_foot};
use super::finding::{Fault, Finding};
use super::line::Line;
use super::lines::Kind;
use super::model::Routine;
use super::parse::LineRole;
use super::vocabulary::plain_words;
use super::waits::waited_anywhere;
use super::words::{key, length, nearest};

/// Title, music, wait and the like.
pub(super) fn read_fields(
    lines: &[Line<'_>],
    kinds: &[Kind],
    routine: &mut Routine,
    findings: &mut Vec<Finding>,
    roles: &mut [LineRole],
) {
    let mut top = true;
    for (i, (line, kind)) in lines.iter().zip(kinds).enumerate() {
        let typed = |at: usize| {
            // From its first letter on: what stands before it may have been put in.
            let value = line.text.get(at..).unwrap_or("");
            let from = at + value.len() - value.trim_start().len();
            let to = line.text.trim_end().len().max(from);
            let typed = line.typed_between(from, to);
            // The line of a form to write on is no part of it.
            typed.trim_matches(['"', '_']).trim().to_string()
        };
        // `R ft first`, among other words at the top.
        top &= !matches!(kind, Kind::Heading(_) | Kind::Order(_));
        if top && routine.starts_on.is_none() && matches!(kind, Kind::Steps(_) | Kind::Note) {
            routine.starts_on = foot_in_a_clause(&line.text);
        }
        match kind {
            Kind::Field(field, at) => {
                let value = typed(*at);
                // `Level: Easy   Wait: 16`: a second field behind the first.
                if !matches!(field, Field::Wait | Field::Order | Field::Steps)
                    && routine.wait.is_none()
                    && let Some(behind) = waited_anywhere(&line.text[*at..])
                {
                    read_wait(line, *at + behind, routine, findings);
                }
                match field {
                    Field::Title if routine.title.is_empty() => routine.title = value,
                    Field::Music => match &mut routine.music {
                        Some(music) if !value.is_empty() => *music = format!("{music}, {value}"),
                        _ => routine.music = Some(value),
                    },
                    Field::Choreographer => routine.choreographer = Some(value),
                    Field::Level => routine.level = Some(value),
                    Field::Wait => {
                        before_the_wait(line, *at, routine);
                        read_wait(line, *at, routine, findings);
                    }
                    Field::Starts => match starting_foot(&line.text[*at..])
                        .or_else(|| foot_in_a_sentence(&line.text[*at..]))
                    {
                        Some(foot) => routine.starts_on = Some(foot),
                        None if says_a_length(&line.text[*at..]) => {
                            let foot = line.text[*at..].split(',').find_map(starting_foot);
                            routine.starts_on = routine.starts_on.or(foot);
                            read_wait(line, *at, routine, findings);
                        }
                        None => {
                            roles[i] = LineRole::Note;
                            routine.notes.push(line.typed.trim().to_string());
                        }
                    },
                    Field::Order | Field::Steps => {}
                    Field::Title | Field::Note => routine.notes.push(line.typed.trim().to_string()),
                }
            }
            Kind::UnknownField => {
                let name = line.text.split(':').next().unwrap_or("");
                let known = [
                    "Title", "Music", "Level", "Choreo", "Wait", "Order", "Sequence", "Steps",
                    "Note", "Starts", "Artist",
                ];
                let nearest = nearest(name, known).map(str::to_string);
                findings.push(Finding::at(
                    line,
                    (line.indent(), name.trim_end().len()),
                    Fault::UnknownField { nearest },
                ));
            }
            Kind::Sum if line.text.trim().bytes().all(|b| b.is_ascii_digit()) => {
                routine.notes.push(line.typed.trim().to_string());
            }
            Kind::Note => routine.notes.push(line.typed.trim().to_string()),
            _ => {}
        }
    }
}

/// Whether words such as `after 16 counts` say a length, and name it as one.
fn says_a_length(text: &str) -> bool {
    let words = plain_words(text);
    (0..words.len()).any(|i| length(&words[i..]).is_some_and(|(_, used)| used > 1))
}

/// The foot that a clause of several words says the dance starts on.
fn foot_in_a_clause(text: &str) -> Option<Foot> {
    let says = |clause: &str| {
        let words = plain_words(clause);
        let begins = |w: &&str| {
            let lower = w.to_lowercase();
            ["start", "first", "begin", "lead"].iter().any(|word| lower.starts_with(word))
        };
        (words.len() > 1 && words.iter().any(begins)).then(|| starting_foot(clause)).flatten()
    };
    text.split(['.', ',', ';', '(', ')']).find_map(says)
}

/// What stands before the wait on its line: the foot that starts; on the sheet's first line, its title.
fn before_the_wait(line: &Line<'_>, at: usize, routine: &mut Routine) {
    let before = line.text.get(..at).unwrap_or("");
    let pieces = before.split(['.', '+', ';', ',', '(']);
    for foot in pieces.filter_map(starting_foot) {
        routine.starts_on = Some(foot);
    }
    let title = before.split(',').next().unwrap_or("").trim();
    if line.number == 1 && routine.title.is_empty() && before.contains(',') {
        routine.title = line.typed_between(0, title.len());
    }
}

fn read_wait(line: &Line<'_>, at: usize, routine: &mut Routine, findings: &mut Vec<Finding>) {
    let value = &line.text[at..];
    let words: Vec<&str> = value
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '(' | ')' | '[' | ']' | '#'))
        .filter(|w| !w.is_empty())
        .collect();
    // To start on count 17 is to wait for 16.
    let before = key(line.text.get(..at).unwrap_or(""));
    let on_a_count =
        ["count", "beat", "ct"].iter().any(|w| before.ends_with(w)) && before.contains(" on");
    let found = (0..words.len()).find_map(|i| length(&words[i..]).map(|(n, used)| (n, i, used)));
    let found =
        found.map(|(n, i, used)| (if on_a_count { n.saturating_sub(1) } else { n }, i, used));
    match found {
        Some((n, i, used)) => {
            routine.wait = Some(n);
            let rest = words[(i + used).min(words.len())..].join(" ");
            if let Some(foot) = starting_foot(&rest) {
                routine.starts_on = Some(foot);
            } else if !rest.is_empty() {
                routine.notes.push(line.typed.trim().to_string());
            }
        }
        None if matches!(key(value).as_str(), "none" | "no" | "no wait" | "nothing") => {
            routine.wait = Some(0)
        }
        None => {
            let place = line.whole();
            findings.push(Finding::at(line, place, Fault::NeedsNumber { what: "the wait" }));
        }
    }
}
