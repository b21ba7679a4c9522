//! Which counts are practised.

use crate::error::{Error, Result};
use crate::fit::{Fit, Placement};
use crate::song::SongView;
use crate::units::Count;

/// What a user asks to practise.
#[derive(Debug, Clone, PartialEq)]
pub enum Where {
    /// The whole recording.
    Whole,
    /// A part of the routine, and which time round.
    Part(String, u32),
    /// The end of one part into the start of the next: names of both.
    Join(String, String),
    /// A phrase of the song: `verse 2`.
    Phrase(String),
    /// Counts from one to another, both included.
    Counts(Count, Count),
}

/// A stretch of counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Passage {
    /// What it is called.
    pub name: String,
    /// Its first count.
    pub from: Count,
    /// The count just after its last.
    pub to: Count,
    /// Whether it is the whole recording, with what comes before the first count and after the last.
    pub whole: bool,
}

/// Counts of either part in a join.
const JOIN_COUNTS: i32 = 8;

impl Passage {
    /// Finds what is asked for.
    ///
    /// # Errors
    /// [`Error::Usage`] with what there is, when there is no such part or phrase; when it has no counts.
    pub fn find(song: &SongView, fit: Option<&Fit>, wanted: &Where) -> Result<Passage> {
        let passage = match wanted {
            Where::Whole => Passage {
                name: song.title.clone(),
                from: Count::FIRST,
                to: song.counts.end(),
                whole: true,
            },
            Where::Part(name, time) => {
                let turns = turns(fit, name)?;
                let placement = turns.get((*time).max(1) as usize - 1).ok_or_else(|| {
                    Error::Usage(format!(
                        "{} is danced {}; there is no time {time}",
                        turns[0].part,
                        times(turns.len())
                    ))
                })?;
                Passage {
                    name: placement.part.clone(),
                    from: placement.start_count,
                    to: placement.start_count + placement.danced as i32,
                    whole: false,
                }
            }
            Where::Join(before, after) => join(fit, before, after)?,
            Where::Phrase(name) => phrase(song, name)?,
            &Where::Counts(from, last) => Passage {
                name: format!("counts {from} to {last}"),
                from,
                to: last + 1,
                whole: false,
            },
        };
        check(song, passage)
    }

    /// How many counts it has.
    pub fn counts(&self) -> u32 {
        (self.to - self.from).max(0) as u32
    }
}

fn check(song: &SongView, passage: Passage) -> Result<Passage> {
    if passage.counts() == 0 {
        return Err(Error::Usage(format!("{} has no counts to practise", passage.name)));
    }
    if passage.from < Count::FIRST || passage.to > song.counts.end() {
        return Err(Error::Usage(format!(
            "{}: the song has counts 1 to {}, so counts {} to {} are not in it",
            passage.name,
            song.counts.len(),
            passage.from,
            passage.to + -1
        )));
    }
    Ok(passage)
}

/// Where a part is danced. `b` is found as `Part B` too.
fn turns<'a>(fit: Option<&'a Fit>, name: &str) -> Result<Vec<&'a Placement>> {
    let Some(fit) = fit else {
        return Err(Error::Usage(format!("to practise {name}, name the routine's sheet as well")));
    };
    let danced = fit.placements.iter().filter(|p| !p.left_out);
    let turns: Vec<&Placement> = danced.filter(|p| is_called(&p.part, name)).collect();
    if turns.is_empty() {
        let mut names: Vec<&str> = Vec::new();
        for placement in &fit.placements {
            if !names.contains(&placement.part.as_str()) {
                names.push(&placement.part);
            }
        }
        return Err(Error::Usage(format!(
            "no part is called \"{name}\"; there are: {}",
            names.join(", ")
        )));
    }
    Ok(turns)
}

fn is_called(part: &str, name: &str) -> bool {
    let (part, name) = (part.to_lowercase(), name.trim().to_lowercase());
    part == name || part.strip_prefix("part ") == Some(&name)
}

fn join(fit: Option<&Fit>, before: &str, after: &str) -> Result<Passage> {
    turns(fit, before)?;
    turns(fit, after)?;
    let placements: Vec<&Placement> =
        fit.map_or(Vec::new(), |fit| fit.placements.iter().filter(|p| !p.left_out).collect());
    let pair = placements
        .windows(2)
        .find(|pair| is_called(&pair[0].part, before) && is_called(&pair[1].part, after));
    let Some(&[first, second]) = pair else {
        return Err(Error::Usage(format!("{before} is never followed by {after} in this routine")));
    };
    let start = second.start_count;
    Ok(Passage {
        name: format!("{} into {}", first.part, second.part),
        from: first.start_count.max(start + -JOIN_COUNTS),
        to: start + JOIN_COUNTS.min(second.danced as i32),
        whole: false,
    })
}

fn phrase(song: &SongView, name: &str) -> Result<Passage> {
    let names = song.names();
    let same = |own: &String| own.eq_ignore_ascii_case(name.trim());
    let found =
        names.iter().position(same).or_else(|| song.phrases.iter().position(|p| same(&p.label)));
    match found.map(|p| (&song.phrases[p], &names[p])) {
        Some((phrase, name)) => {
            Ok(Passage { name: name.clone(), from: phrase.start, to: phrase.end(), whole: false })
        }
        None => Err(Error::Usage(format!(
            "no phrase is called \"{name}\"; there are: {}",
            names.join(", ")
        ))),
    }
}

fn times(n: usize) -> String {
    match n {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}
