//! A routine made for one cut, danced to another: what to leave out, do again, or fill.

use super::same::Recut;
use crate::fit::{self, Edit, Fit, apply};
use crate::routine::{self, Routine, StepFiles};
use crate::units::ordinal;

/// Rounds of mending after the order is changed.
const MOST_MENDS: usize = 12;

/// How to dance a routine to a new cut.
#[derive(Debug, Clone)]
pub struct Adapted {
    /// The routine as it is, laid on the new cut.
    pub as_is: Fit,
    /// The routine for this cut.
    pub routine: Routine,
    /// That laid on the new cut.
    pub fit: Fit,
    /// Its sheet, where the changes can be written into the author's.
    pub sheet: Option<String>,
    /// What a teacher says differently, in order; empty when nothing changes.
    pub say: Vec<String>,
}

/// Adapts a routine whose sheet is `text`, read with steps from files. `made_for` is the routine laid on the old cut: what is danced there on a
/// phrase goes where that phrase goes. What then does not meet yet is mended by the fit's own mends.
pub fn adapt(text: &str, own_steps: &StepFiles, made_for: &Fit, cut: &Recut) -> Adapted {
    let (original, _) = routine::parse_with(text, own_steps);
    let as_is = fit::fit(&cut.song, &original);
    let unchanged = Adapted {
        as_is: as_is.clone(),
        routine: original.clone(),
        fit: as_is.clone(),
        sheet: Some(text.to_string()),
        say: Vec::new(),
    };
    if as_is.fits {
        return unchanged;
    }
    // Either may be the shorter way: following the phrases, or mending the order as it stands.
    let followed = follow(&original, made_for, cut);
    let sheet = Sheet { text, own_steps };
    let candidates = [followed, Steps::default()].map(|steps| mend(sheet, &original, steps, cut));
    let best = candidates.into_iter().min_by_key(|(sheet, _, fit, say)| {
        (fit.mismatches.len(), usize::from(sheet.is_none()), say.len())
    });
    match best {
        Some((sheet, routine, fit, say)) if fit.mismatches.len() < as_is.mismatches.len() => {
            let (routine, fit) = as_written(sheet.as_deref(), own_steps, cut, (routine, fit));
            Adapted { as_is, routine, fit, sheet, say }
        }
        _ => unchanged,
    }
}

/// As the sheet for this cut has it, whose parts have names of their own.
fn as_written(
    sheet: Option<&str>,
    own_steps: &StepFiles,
    cut: &Recut,
    mended: (Routine, Fit),
) -> (Routine, Fit) {
    let Some(sheet) = sheet else { return mended };
    let (routine, _) = routine::parse_with(sheet, own_steps);
    let fit = fit::fit(&cut.song, &routine);
    let same = fit.mismatches.len() == mended.1.mismatches.len();
    if same { (routine, fit) } else { mended }
}

/// Changes and how they are said.
#[derive(Default)]
struct Steps {
    edits: Vec<Edit>,
    say: Vec<String>,
}

/// What follows from where each phrase went: parts of phrases that are gone are left out, those of phrases that
/// come again are danced again.
fn follow(routine: &Routine, made_for: &Fit, cut: &Recut) -> Steps {
    let mut steps = Steps::default();
    let danced_on =
        |p: usize| made_for.placements.iter().filter(move |x| x.phrase_index == Some(p));
    let mut left_out = Vec::new();
    for placement in &made_for.placements {
        let gone = placement.phrase_index.is_some_and(|p| cut.missing.contains(&p));
        if gone && !placement.left_out {
            steps.edits.push(Edit::LeaveOut { at: placement.order_index });
            left_out.push(turn(routine, placement.order_index));
        }
    }
    if !left_out.is_empty() {
        steps.say.push(format!("leave out {}", listed(&left_out)));
    }
    for (k, phrase) in cut.phrases.iter().enumerate() {
        let Some(p) = phrase.of else { continue };
        if !cut.phrases[..k].iter().any(|earlier| earlier.of == Some(p)) {
            continue;
        }
        // Before what is danced on the next phrase that is there for the first time.
        let next = cut.phrases[k + 1..].iter().find_map(|later| {
            let q = later.of?;
            danced_on(q).next().map(|placement| placement.order_index)
        });
        for placement in danced_on(p) {
            let Some(item) = routine.order.get(placement.order_index) else { continue };
            let before = next.unwrap_or(routine.order.len());
            steps.edits.push(Edit::Again { before, part: item.part });
            steps.say.push(format!("dance {} once more", routine.parts[item.part].name));
        }
    }
    let wait = cut.song.wait();
    if routine.wait.is_some_and(|stated| stated != wait) {
        steps.edits.push(Edit::Wait(wait));
        let was = routine.wait.unwrap_or_default();
        steps.say.push(format!("wait {wait} counts, not {was}"));
    }
    steps
}

type Mended = (Option<String>, Routine, Fit, Vec<String>);

/// The author's sheet.
#[derive(Clone, Copy)]
struct Sheet<'a> {
    text: &'a str,
    own_steps: &'a StepFiles,
}

impl Sheet<'_> {
    fn with(self, edits: &[Edit]) -> Option<String> {
        fit::rewrite_with(self.text, edits, self.own_steps)
    }
}

fn mend(author: Sheet<'_>, original: &Routine, first: Steps, cut: &Recut) -> Mended {
    let mut routine = apply(original, &first.edits);
    let mut sheet = match first.edits.is_empty() {
        true => Some(author.text.to_string()),
        false => author.with(&first.edits),
    };
    let mut say = first.say;
    let mut laid = fit::fit(&cut.song, &routine);
    for _ in 0..MOST_MENDS {
        // The first mend of each mismatch is the one that the fit likes best.
        let tried = laid.suggestions.iter().filter(|s| !s.edits.is_empty()).find_map(|mend| {
            let changed = apply(&routine, &mend.edits);
            let fit = fit::fit(&cut.song, &changed);
            (fit.mismatches.len() < laid.mismatches.len()).then(|| (mend.clone(), changed, fit))
        });
        let Some((mend, changed, fit)) = tried else { break };
        sheet = sheet.and_then(|text| Sheet { text: &text, ..author }.with(&mend.edits));
        say.push(said(&mend.message));
        (routine, laid) = (changed, fit);
    }
    (sheet, routine, laid, say)
}

/// A mend's sentence without the full stop, ready for a list.
fn said(message: &str) -> String {
    let text = message.trim_end_matches('.');
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_lowercase().collect::<String>() + chars.as_str())
}

/// `Part A (2nd time)`.
fn turn(routine: &Routine, at: usize) -> String {
    let Some(item) = routine.order.get(at) else { return String::new() };
    let name = &routine.parts[item.part].name;
    let times = routine.order.iter().filter(|other| other.part == item.part).count();
    match times {
        1 => name.clone(),
        _ => format!("{name} ({} time)", ordinal(item.time_round)),
    }
}

fn listed(words: &[String]) -> String {
    match words {
        [all @ .., last] if !all.is_empty() => format!("{} and {last}", all.join(", ")),
        _ => words.concat(),
    }
}
