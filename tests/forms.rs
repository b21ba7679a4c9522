//! Forms of real songs (Harmonix Set, Nieto et al., ISMIR 2019), where they lie beside the project: a
//! routine is made for each form, then one phrase is made longer or shorter by a few counts, and the
//! fit must find that, place it, size it and mend it.

use std::path::Path;

use hoofbeat::fit::{Fit, Mismatch, MismatchKind, apply, fit};
use hoofbeat::routine::{OrderItem, Part, PartKind, Routine, StepLine, StepUse};
use hoofbeat::song::{CountLine, Phrase, SongView};
use hoofbeat::units::{Count, Foot};
use serde::Deserialize;

#[derive(Deserialize)]
struct Form {
    id: u32,
    beats_s: Vec<f64>,
    position_in_bar: Vec<u32>,
    phrases: Vec<Mark>,
}

#[derive(Deserialize)]
struct Mark {
    start_s: f64,
    label: String,
}

/// A form in counts: times of the counts, and each phrase with its length.
#[derive(Clone)]
struct Counted {
    times_s: Vec<f64>,
    phrases: Vec<(String, usize)>,
}

fn forms() -> Option<Vec<Form>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/forms/forms.jsonl");
    let Ok(text) = std::fs::read_to_string(path) else {
        eprintln!("the forms of real songs are not beside the project: nothing to check");
        return None;
    };
    Some(text.lines().map(|line| serde_json::from_str(line).unwrap()).collect())
}

/// Counting starts on the first bar line; each phrase starts on the bar line nearest to its mark.
fn counted(form: &Form) -> Option<Counted> {
    let bar_lines: Vec<usize> =
        (0..form.beats_s.len()).filter(|&i| form.position_in_bar[i] == 1).collect();
    let first = *bar_lines.first()?;
    let near = |time: f64| {
        let apart = |i: &usize| (form.beats_s[*i] - time).abs();
        bar_lines.iter().copied().min_by(|a, b| apart(a).total_cmp(&apart(b))).unwrap()
    };
    let mut starts: Vec<(usize, &str)> = Vec::new();
    for mark in &form.phrases {
        let beat = near(mark.start_s);
        if starts.last().is_some_and(|last| last.0 >= beat) {
            starts.pop();
        }
        starts.push((beat, &mark.label));
    }
    if starts.first()?.0 > first {
        starts.insert(0, (first, "intro"));
    }
    let phrases: Vec<(String, usize)> =
        starts.windows(2).map(|w| (w[0].1.to_string(), w[1].0 - w[0].0)).collect();
    let (from, to) = (starts.first()?.0, starts.last()?.0);
    (phrases.len() >= 3).then(|| Counted { times_s: form.beats_s[from..to].to_vec(), phrases })
}

impl Counted {
    fn start(&self, phrase: usize) -> usize {
        self.phrases[..phrase].iter().map(|p| p.1).sum()
    }

    /// With one phrase longer or shorter at its end, and the counts after it moved.
    fn changed(&self, phrase: usize, by: isize) -> Counted {
        let end = self.start(phrase) + self.phrases[phrase].1;
        let period = self.times_s[1] - self.times_s[0];
        let mut changed = self.clone();
        let moved = self.times_s[end..].iter().map(|t| t + by as f64 * period);
        changed.times_s.truncate(end.saturating_add_signed(by.min(0)));
        for _ in 0..by {
            let last = changed.times_s[changed.times_s.len() - 1];
            changed.times_s.push(last + period);
        }
        changed.times_s.extend(moved);
        changed.phrases[phrase].1 = changed.phrases[phrase].1.saturating_add_signed(by);
        changed
    }

    fn view(&self) -> SongView {
        let end_s = self.times_s[self.times_s.len() - 1] + 0.5;
        let time = |count: usize| self.times_s.get(count).copied().unwrap_or(end_s);
        let phrase = |n: usize| Phrase {
            letter: String::new(),
            label: self.phrases[n].0.clone(),
            start: Count::from_index(self.start(n)),
            counts: self.phrases[n].1 as u32,
            start_s: time(self.start(n)),
            end_s: time(self.start(n + 1)),
            set: true,
            strength: 1.0,
        };
        SongView {
            entrance: None,
            title: "A form".into(),
            artist: None,
            duration_s: end_s + 1.0,
            counts_per_minute: 120.0,
            counts_per_bar: 4,
            counts_per_beat: 1.0,
            counts: CountLine {
                times_s: self.times_s.clone(),
                bar_positions: vec![1; self.times_s.len()],
                end_s,
            },
            phrases: (0..self.phrases.len()).map(phrase).collect(),
        }
    }
}

/// A small random generator, the same on every machine (Marsaglia's xorshift).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 33) % sides as u64) as usize
    }
}

/// Published steps (Clogging 101, *Cue Sheets*, lessons 1-3): length, whether the lead foot changes, feet.
const STEPS: [(&str, u32, bool, &str); 4] = [
    ("Triple basic", 4, true, "LRLRL"),
    ("Fancy double", 4, false, "LRLRLR"),
    ("Single basic", 2, true, "LRL"),
    ("Double basic", 3, false, "LRLR"),
];

fn steps(counts: usize, dice: &mut Dice) -> Vec<StepUse> {
    let mut left = counts as u32;
    let mut steps = Vec::new();
    while left > 0 {
        let (name, counts, swaps_free_foot, feet) = match left {
            1 => ("Stamp", 1, false, "L"),
            2 => STEPS[2],
            3 | 5 => STEPS[3],
            _ => STEPS[dice.roll(3)],
        };
        let foot = |c| if c == 'L' { Foot::Left } else { Foot::Right };
        let feet = feet.chars().map(foot).collect();
        let name = name.to_string();
        steps.push(StepUse { name, counts, swaps_free_foot, feet, ..StepUse::default() });
        left -= counts;
    }
    steps
}

/// The sort of phrase: `chorus` of `chorus2`.
fn sort_of(label: &str) -> &str {
    label.trim_end_matches(|c: char| c.is_ascii_digit())
}

/// A routine such as one would set to this form: the intro is the wait; each sort of phrase has its
/// part, as long as most of that sort; a phrase up to two eights longer gets a fill after the part, and
/// one of any other length a part of its own.
fn routine_for(song: &Counted, dice: &mut Dice) -> Routine {
    let waits = sort_of(&song.phrases[0].0) == "intro";
    let wait = if waits { song.phrases[0].1 as u32 } else { 0 };
    let danced = &song.phrases[usize::from(waits)..];
    let mut wanted: Vec<(PartKind, &str, usize)> = Vec::new();
    for (label, counts) in danced {
        let sort = sort_of(label);
        let alike: Vec<usize> =
            danced.iter().filter(|p| sort_of(&p.0) == sort).map(|p| p.1).collect();
        let times = |n: usize| alike.iter().filter(|&&c| c == n).count();
        let usual = alike.iter().copied().max_by_key(|&n| (times(n), n)).unwrap();
        if *counts > usual && *counts <= usual + 16 {
            wanted.push((PartKind::Part, sort, usual));
            wanted.push((PartKind::Fill, "", counts - usual));
        } else {
            wanted.push((PartKind::Part, sort, *counts));
        }
    }
    let mut made: Vec<(PartKind, &str, usize)> = Vec::new();
    let mut routine = Routine { wait: Some(wait), ..Routine::default() };
    for part in wanted {
        let index = made.iter().position(|m| *m == part).unwrap_or_else(|| {
            let name = match part.0 {
                PartKind::Fill => format!("Fill {}", part.2),
                _ => format!("Part {}", made.len() + 1),
            };
            let lines = steps(part.2, dice)
                .chunks(4)
                .map(|steps| StepLine { steps: steps.to_vec(), ..StepLine::default() })
                .collect();
            routine.parts.push(Part { name, kind: part.0, lines, ..Part::default() });
            made.push(part);
            made.len() - 1
        });
        let before = routine.order.iter().filter(|o| o.part == index).count() as u32;
        routine.order.push(OrderItem { part: index, time_round: before + 1, line: 1 });
    }
    routine
}

/// What was tried and what came of it.
#[derive(Debug, Default)]
struct Tally {
    songs: u32,
    false_alarms: u32,
    changes: u32,
    found: u32,
    placed: u32,
    sized: u32,
    once: u32,
    mends: u32,
    mends_fit: u32,
    mended: u32,
}

fn amiss(fit: &Fit) -> Vec<(MismatchKind, i32, i32)> {
    fit.mismatches.iter().map(|m: &Mismatch| (m.kind, m.at_count.0, m.counts)).collect()
}

fn tally(forms: &[Form], half: u32) -> Tally {
    let mut tally = Tally::default();
    for (n, form) in forms.iter().enumerate() {
        if n as u32 % 2 != half {
            continue;
        }
        let Some(song) = counted(form) else { continue };
        let mut dice = Dice(u64::from(form.id) * 2 + 1);
        let routine = routine_for(&song, &mut dice);
        tally.songs += 1;
        let as_made = fit(&song.view(), &routine);
        if !as_made.fits {
            tally.false_alarms += 1;
            eprintln!("{}: false alarm {:?} {:?}", form.id, amiss(&as_made), song.phrases);
        }
        for _ in 0..6 {
            let phrase = dice.roll(song.phrases.len());
            let by = [-8, -4, -2, 2, 4, 8][dice.roll(6)];
            // A phrase cannot lose all it has, and up to an eight of closing music is no misfit.
            let last = phrase + 1 == song.phrases.len();
            if (song.phrases[phrase].1 as isize) + by < 1 || last && by > 0 {
                continue;
            }
            let changed = song.changed(phrase, by);
            let view = changed.view();
            let fitted = fit(&view, &routine);
            let (from, to) =
                (changed.start(phrase) as i32 + 1, changed.start(phrase + 1) as i32 + 1);
            let (placed, sized) = (
                fitted.mismatches.iter().all(|m| (from..=to).contains(&m.at_count.0)),
                fitted.mismatches.iter().map(|m| m.counts.unsigned_abs()).sum::<u32>()
                    == by.unsigned_abs() as u32,
            );
            tally.changes += 1;
            let found = !fitted.fits;
            tally.found += u32::from(found);
            tally.placed += u32::from(found && placed);
            tally.sized += u32::from(found && placed && sized);
            tally.once += u32::from(found && placed && sized && fitted.mismatches.len() == 1);
            if !(found && placed && sized) {
                eprintln!(
                    "{}: phrase {phrase} by {by} ({from}..{to}): {:?} {:?}",
                    form.id,
                    amiss(&fitted),
                    changed.phrases
                );
            }
            let mendable = (0..fitted.mismatches.len())
                .all(|m| fitted.suggestions.iter().any(|s| s.mends == m));
            tally.mended += u32::from(found && mendable);
            if fitted.mismatches.len() == 1 {
                for mend in &fitted.suggestions {
                    tally.mends += 1;
                    tally.mends_fit += u32::from(fit(&view, &apply(&routine, &mend.edits)).fits);
                }
            }
            if found && !mendable {
                eprintln!("{}: no mend for {:?}", form.id, fitted.mismatches);
            }
        }
    }
    eprintln!("{tally:#?}");
    tally
}

fn check(half: u32) {
    let Some(forms) = forms() else { return };
    let tally = tally(&forms, half);
    assert!(tally.songs > 200 && tally.changes > 800, "{tally:?}");
    assert_eq!(tally.false_alarms, 0, "{tally:?}");
    let share = |part: u32, of: u32| f64::from(part) / f64::from(of);
    assert!(share(tally.sized, tally.changes) >= 0.98, "{tally:?}");
    assert!(share(tally.mended, tally.changes) >= 0.98, "{tally:?}");
    assert!(share(tally.mends_fit, tally.mends) >= 0.99, "{tally:?}");
}

#[test]
fn a_changed_phrase_of_a_real_form_is_found_placed_sized_and_mended() {
    check(0);
}

/// Songs that no price was ever set by.
#[test]
fn so_it_is_with_the_forms_kept_apart() {
    check(1);
}
