//! A mend written into the author's sheet: changed lines alone change.
//!
//! What the sheet says after a change is read again and held against the routine that the mend makes.
//! Only a sheet that says just that, without a new mistake, is given out; of several ways to write a
//! change the first that holds is taken.

use super::edit::{Edit, apply, grouped};
use crate::routine::{
    LineRole, OrderPlace, Part, Routine, SheetRead, StepFiles, StepLine, StepUse, lines_with_ends,
    read_sheet, without_worked_out,
};

/// The sheet with changes made to it, the author's words and layout kept. `None` where the changes
/// cannot be written so that the sheet, read again, says just what they make.
pub fn rewrite(text: &str, edits: &[Edit]) -> Option<String> {
    rewrite_with(text, edits, &StepFiles::default())
}

/// As [`rewrite`], for a sheet that is read with steps from files.
pub fn rewrite_with(text: &str, edits: &[Edit], steps: &StepFiles) -> Option<String> {
    // A printed sheet's own workings would no longer hold.
    let text = &without_worked_out(text);
    let read = read_sheet(text, steps);
    let wanted = apply(&read.routine, edits);
    let ways = (0..NAMINGS).flat_map(|naming| [false, true].map(|spelled| (naming, spelled)));
    let in_place = [true, false];
    in_place
        .into_iter()
        .flat_map(|in_place| ways.clone().map(move |(naming, spelled)| (in_place, naming, spelled)))
        .filter_map(|(in_place, naming, spelled)| {
            let mut sheet = Sheet::new(text, &read)?;
            sheet.write(edits, &wanted, Way { in_place, naming, spelled })?;
            Some(sheet.text())
        })
        .find(|sheet| says(&read_sheet(sheet, steps), &read, &wanted))
}

/// How many ways to name a new part are tried.
const NAMINGS: usize = 6;

/// One way to write a change.
#[derive(Clone, Copy)]
struct Way {
    /// A part danced no more as it was is changed where it stands.
    in_place: bool,
    /// Which name a new part gets.
    naming: usize,
    /// Steps one by one, `Triple, Triple`, not `2 Triple`.
    spelled: bool,
}

/// Whether a sheet, read, is the routine wanted and has no mistake that the old one has not.
fn says(read: &SheetRead, old: &SheetRead, wanted: &Routine) -> bool {
    let mistakes = |sheet: &SheetRead| sheet.findings.iter().filter(|f| f.stops()).count();
    let (before, fewer) = (&old.routine, mistakes(read) <= mistakes(old));
    let read = &read.routine;
    let danced = |routine: &Routine| -> Vec<_> {
        let parts = routine.order.iter().filter_map(|o| routine.parts.get(o.part));
        parts.map(|p| (p.kind, p.effect())).collect()
    };
    let names = |routine: &Routine, known: &Routine| -> Vec<String> {
        let is_known = |name: &str| known.parts.iter().any(|p| p.name == name);
        let parts = routine.order.iter().filter_map(|o| routine.parts.get(o.part));
        parts.map(|p| p.name.clone()).filter(|name| is_known(name)).collect()
    };
    let kept = |routine: &Routine| names(routine, before);
    let in_place = kept(read).len() >= kept(wanted).len();
    read.wait == wanted.wait
        && read.starts_on == wanted.starts_on
        && read.title == wanted.title
        && danced(read) == danced(wanted)
        && in_place
        && fewer
}

/// A sheet line by line while it is changed.
struct Sheet<'t> {
    lines: Vec<String>,
    ends: Vec<&'t str>,
    /// Lines put in after each line; before the first under 0.
    after: Vec<Vec<String>>,
    gone: Vec<bool>,
    roles: Vec<LineRole>,
    places: Vec<OrderPlace>,
    routine: &'t Routine,
    mark: &'t str,
}

impl<'t> Sheet<'t> {
    fn new(text: &'t str, read: &'t SheetRead) -> Option<Sheet<'t>> {
        let (mark, rest) = match text.strip_prefix('\u{FEFF}') {
            Some(rest) => (&text[..text.len() - rest.len()], rest),
            None => ("", text),
        };
        let lines = lines_with_ends(rest);
        let (routine, places) = (&read.routine, read.order_places.clone());
        // Without an order of its own the sheet gets one only where something changes in it.
        (places.is_empty() || places.len() == routine.order.len()).then(|| Sheet {
            after: vec![Vec::new(); lines.len() + 1],
            gone: vec![false; lines.len()],
            roles: read.roles.clone(),
            lines: lines.iter().map(|l| l.0.to_string()).collect(),
            ends: lines.iter().map(|l| l.1).collect(),
            places,
            routine,
            mark,
        })
    }

    fn text(&self) -> String {
        let end = self.ends.iter().copied().find(|e| !e.is_empty()).unwrap_or("\n");
        let mut out = self.mark.to_string();
        let put_in = |out: &mut String, lines: &[String]| {
            for line in lines {
                if !out.is_empty() && !out.ends_with(end) && out != self.mark {
                    out.push_str(end);
                }
                out.push_str(line);
                out.push_str(end);
            }
        };
        put_in(&mut out, &self.after[0]);
        for (n, line) in self.lines.iter().enumerate() {
            if !self.gone[n] {
                out.push_str(line);
                out.push_str(self.ends[n]);
            }
            put_in(&mut out, &self.after[n + 1]);
        }
        out
    }

    fn write(&mut self, edits: &[Edit], wanted: &Routine, way: Way) -> Option<()> {
        let old = self.routine.order.len();
        let mut before: Vec<Vec<String>> = vec![Vec::new(); old + 1];
        let mut here: Vec<Option<String>> =
            self.routine.order.iter().map(|o| self.routine.parts.get(o.part)).map(named).collect();
        let mut new_parts: Vec<(String, &Part)> = Vec::new();
        let mut changed_order = false;
        for edit in edits {
            match edit {
                Edit::Wait(counts) => self.wait(*counts)?,
                Edit::Insert { before: at, part } => {
                    let name = self.name_part(part, way, &mut new_parts);
                    before.get_mut(*at)?.push(name);
                    changed_order = true;
                }
                Edit::Again { before: at, part } => {
                    before.get_mut(*at)?.push(self.routine.parts.get(*part)?.name.clone());
                    changed_order = true;
                }
                Edit::LeaveOut { at } => {
                    *here.get_mut(*at)? = None;
                    changed_order = true;
                }
                Edit::Instead { at, part } => {
                    let old = self.routine.order.get(*at)?.part;
                    let once = self.routine.order.iter().filter(|o| o.part == old).count() == 1;
                    if once && way.in_place {
                        self.shorten(old, part, way)?;
                    } else {
                        *here.get_mut(*at)? = Some(self.name_part(part, way, &mut new_parts));
                        changed_order = true;
                    }
                }
            }
        }
        for (name, part) in new_parts {
            self.add_part(&name, part, way);
        }
        if changed_order {
            self.order(&before, &here)?;
        }
        for (index, part) in self.routine.parts.iter().enumerate() {
            let danced = |r: &Routine| r.order.iter().any(|o| o.part == index);
            let was_named = self.places.is_empty() || danced(self.routine);
            let still = here.iter().flatten().chain(before.iter().flatten());
            if was_named && !danced(wanted) && !still.into_iter().any(|n| *n == part.name) {
                self.put_aside(part);
            }
        }
        Some(())
    }

    /// Changes the number of the wait, or says the wait below the title where the sheet does not.
    fn wait(&mut self, counts: u32) -> Option<()> {
        let Some(stated) = self.routine.wait else {
            let title = self.roles.iter().rposition(|r| *r == LineRole::Field);
            let at = title.or_else(|| self.roles.iter().position(|r| *r != LineRole::Blank));
            self.after[at.map_or(0, |n| n + 1)].push(format!("Wait: {counts}"));
            return Some(());
        };
        let (eights, number) = (stated / 8, stated.to_string());
        for n in 0..self.lines.len() {
            let line = &self.lines[n];
            let lower = line.to_lowercase();
            let about_it = matches!(self.roles[n], LineRole::Field | LineRole::Order)
                && ["wait", "intro", "start", "hold"].iter().any(|w| lower.contains(w));
            if !about_it {
                continue;
            }
            if let Some((from, to)) = number_in(line, &number) {
                self.lines[n].replace_range(from..to, &counts.to_string());
                return Some(());
            }
            let in_eights = lower.contains("eights") && stated % 8 == 0;
            if in_eights && let Some((from, _)) = number_in(line, &eights.to_string()) {
                let end = from + line[from..].to_lowercase().find("eights")? + "eights".len();
                let words = match counts % 8 {
                    0 => format!("{} eights", counts / 8),
                    _ => format!("{counts} counts"),
                };
                self.lines[n].replace_range(from..end, &words);
                return Some(());
            }
        }
        None
    }

    /// The name under which a new part stands in the sheet; a pause needs none.
    fn name_part<'e>(
        &self,
        part: &'e Part,
        way: Way,
        new_parts: &mut Vec<(String, &'e Part)>,
    ) -> String {
        if part.lines.is_empty() && part.name == "Pause" {
            return format!("pause {}", part.counts());
        }
        let (name, short) = match part.name.strip_suffix(" short") {
            Some(name) => (name, true),
            None => (part.name.as_str(), false),
        };
        let taken = |name: &str| {
            self.routine
                .parts
                .iter()
                .map(|p| p.name.as_str())
                .chain(new_parts.iter().map(|p| p.0.as_str()))
                .any(|n| n.eq_ignore_ascii_case(name))
        };
        let first = if short { format!("Short {name}") } else { name.to_string() };
        let letters = ('B'..='Z').map(|c| format!("{name} {c}"));
        // `Part A2` beside `Part A`; `Chorus 2` beside `Chorus`.
        let lettered = name.split(' ').nth(1).is_some_and(|label| label.chars().count() == 1);
        let joined = (2..4).filter(|_| lettered).map(|n| format!("{name}{n}"));
        let numbered = (2..4).map(|n| format!("{name} {n}"));
        let all = [first].into_iter().chain(joined).chain(numbered).chain(letters);
        let free: Vec<String> = all.filter(|n| !taken(n)).take(NAMINGS).collect();
        let chosen = free.get(way.naming).or(free.last()).cloned().unwrap_or_default();
        new_parts.push((chosen.clone(), part));
        chosen
    }

    /// Writes a new part below the last one.
    fn add_part(&mut self, name: &str, part: &Part, way: Way) {
        let of_part = |r: &LineRole| matches!(r, LineRole::Heading | LineRole::Steps);
        let last = self.roles.iter().rposition(of_part).map_or(0, |n| n + 1);
        let mut lines = vec![String::new(), format!("{name} ({})", part.counts())];
        lines.extend(part.lines.iter().map(|line| step_words(line, way)));
        if self.roles.get(last).is_some_and(|r| *r != LineRole::Blank) {
            lines.push(String::new());
        }
        // Behind what is there already.
        self.after[last].extend(lines);
    }

    /// Changes a part where it stands: its counts, and its lines from the first that differs on.
    fn shorten(&mut self, index: usize, new: &Part, way: Way) -> Option<()> {
        let old = self.routine.parts.get(index)?;
        let heading = old.line.checked_sub(1)?;
        if let Some(stated) = old.stated_counts
            && let Some((from, to)) = number_in(self.lines.get(heading)?, &stated.to_string())
        {
            self.lines[heading].replace_range(from..to, &new.counts().to_string());
        } else if old.stated_counts.is_some() {
            return None;
        }
        let same = old.lines.iter().zip(&new.lines).take_while(|(a, b)| a == b).count();
        let Some(first) = old.lines.get(same) else { return Some(()) };
        let from = first.line.checked_sub(1)?;
        // Up to the part's last line of steps.
        let of_part = |n: &usize| *n > from && self.roles[*n] == LineRole::Heading;
        let next = (from + 1..self.lines.len()).find(of_part).unwrap_or(self.lines.len());
        let last = (from..next).rev().find(|&n| self.roles[n] == LineRole::Steps).unwrap_or(from);
        if from <= heading {
            return None;
        }
        let indent: String = self.lines[from].chars().take_while(|c| c.is_whitespace()).collect();
        let more = new.lines[same..].iter().map(|l| format!("{indent}{}", step_words(l, way)));
        self.after[from].extend(more);
        for n in from..=last {
            if self.roles[n] == LineRole::Steps {
                self.gone[n] = true;
            }
        }
        Some(())
    }

    /// Keeps a part that is danced no more as a note.
    fn put_aside(&mut self, part: &Part) {
        let Some(heading) = part.line.checked_sub(1) else { return };
        for n in heading..self.lines.len() {
            let of_part = match self.roles[n] {
                LineRole::Heading => n == heading,
                LineRole::Steps => true,
                LineRole::Blank | LineRole::Note => continue,
                _ => false,
            };
            if !of_part {
                break;
            }
            self.lines[n].insert_str(0, "Note: ");
        }
    }

    /// Writes the changed order: name by name where each part is named once, else the line anew.
    fn order(&mut self, before: &[Vec<String>], here: &[Option<String>]) -> Option<()> {
        if self.places.is_empty() {
            let names: Vec<String> = before
                .iter()
                .enumerate()
                .flat_map(|(n, b)| b.iter().chain(here.get(n).and_then(Option::as_ref)))
                .cloned()
                .collect();
            let last = self.lines.len();
            self.after[last].extend([String::new(), format!("Order: {}", names.join(", "))]);
            return Some(());
        }
        let mut from = 0;
        while from < self.places.len() {
            let line = self.places[from].line;
            let to = from + self.places[from..].iter().take_while(|p| p.line == line).count();
            let end = to == self.places.len();
            self.order_line(line.checked_sub(1)?, from..to, end, before, here)?;
            from = to;
        }
        Some(())
    }

    fn order_line(
        &mut self,
        line: usize,
        items: std::ops::Range<usize>,
        last: bool,
        before: &[Vec<String>],
        here: &[Option<String>],
    ) -> Option<()> {
        let was = |n: usize| named(self.routine.parts.get(self.routine.order[n].part));
        let none = Vec::new();
        let at_end = if last { before.get(items.end).unwrap_or(&none) } else { &none };
        let unchanged = items.clone().all(|n| before[n].is_empty() && here[n] == was(n));
        if unchanged && at_end.is_empty() {
            return Some(());
        }
        let chars: Vec<char> = self.lines.get(line)?.chars().collect();
        let text = |a: usize, b: usize| chars.get(a..b).map(|c| c.iter().collect::<String>());
        let places = &self.places[items.clone()];
        let one_by_one =
            places.iter().all(|p| p.from < p.to) && places.windows(2).all(|p| p[0].to <= p[1].from);
        let head = text(0, places.first()?.from)?;
        if one_by_one && places.len() == 1 && !head.chars().any(char::is_alphanumeric) {
            // A list, a line for each part.
            let one = items.start;
            self.after[line].extend(before[one].iter().map(|name| format!("{head}{name}")));
            match &here[one] {
                Some(name) if Some(name) == was(one).as_ref() => {}
                Some(name) => {
                    let tail = text(places[0].to, chars.len())?;
                    self.lines[line] = format!("{head}{name}{tail}");
                }
                None => self.gone[line] = true,
            }
            self.after[line + 1].extend(at_end.iter().map(|name| format!("{head}{name}")));
            return Some(());
        }
        let between = |n: usize| text(places[n].to, places[n + 1].from);
        let usual = (0..places.len().saturating_sub(1))
            .filter(|_| one_by_one)
            .filter_map(between)
            .find(|s| !s.chars().any(char::is_alphanumeric) && !s.contains(['(', ')']))
            .unwrap_or_else(|| ", ".into());
        let mut out = head;
        let mut first = true;
        let put = |out: &mut String, name: &str, separator: &str, first: &mut bool| {
            if !*first {
                out.push_str(separator);
            }
            out.push_str(name);
            *first = false;
        };
        for (k, n) in items.clone().enumerate() {
            for name in &before[n] {
                put(&mut out, name, &usual, &mut first);
            }
            let separator = match k.checked_sub(1).filter(|_| one_by_one).and_then(between) {
                Some(own) if before[n].is_empty() && here[n - 1].is_some() => own,
                _ => usual.clone(),
            };
            match &here[n] {
                Some(name) if Some(name) == was(n).as_ref() && one_by_one => {
                    let typed = text(places[k].from, places[k].to)?;
                    put(&mut out, &typed, &separator, &mut first);
                }
                Some(name) => put(&mut out, name, &separator, &mut first),
                None => {}
            }
        }
        for name in at_end {
            put(&mut out, name, &usual, &mut first);
        }
        if one_by_one {
            out.push_str(&text(places.last()?.to, chars.len())?);
        }
        self.lines[line] = out;
        Some(())
    }
}

fn named(part: Option<&Part>) -> Option<String> {
    part.map(|p| p.name.clone())
}

/// The first place where a number stands by itself.
fn number_in(line: &str, number: &str) -> Option<(usize, usize)> {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    line.match_indices(number).map(|(at, n)| (at, at + n.len())).find(|&(from, to)| {
        !digit(line[..from].chars().next_back()) && !digit(line[to..].chars().next())
    })
}

/// A line of steps as the sheet writes it: the author's words, or else the steps by name.
fn step_words(line: &StepLine, way: Way) -> String {
    if line.line > 0 && !way.spelled {
        return match &line.note {
            Some(note) if !line.text.contains(note.as_str()) => format!("{} - {note}", line.text),
            _ => line.text.clone(),
        };
    }
    let typed: Vec<String> = grouped(&line.steps)
        .flat_map(|(times, step)| match way.spelled {
            true => vec![step_name(step); times],
            false if times == 1 => vec![step_name(step)],
            false => vec![format!("{times} {}", step_name(step))],
        })
        .collect();
    typed.join(", ")
}

/// A step by its name, with its turn.
fn step_name(step: &StepUse) -> String {
    match step.turn_words() {
        None => step.name.clone(),
        Some(turn) => format!("{} (turn {turn})", step.name),
    }
}
