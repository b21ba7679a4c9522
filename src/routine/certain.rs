//! Whether what seems a mistake was read for certain. Authors type as they like, and what is misread looks like a mistake
//! as well; so a mistake is told only where each line that it rests on is typed in a way that can be read in one way only,
//! or as other lines of the sheet are that come out right.

use std::cell::OnceCell;
use std::collections::HashSet;

use super::doubt::{counts_differ, is_unread};
use super::fault::Fault;
use super::finding::{Finding, Severity};
use super::glossary;
use super::heading::part_word;
use super::line::Line;
use super::model::{Part, PartKind, Routine, StepLine, StepUse};
use super::movement::find_movement;
use super::notation::read_movements;
use super::parse::LineRole;
use super::phrases::{is_repeat_word, times_word};
use super::shapes::{is_plain_clause, is_plain_heading, shape_of_heading, shapes_of_steps};
use super::short_names::Names;
use super::titles::is_known_part;
use super::vocabulary::content;
use super::words::{foot, key, turn};

/// How many statements of counts must come out right for each that does not.
pub(super) const RIGHT_FOR_EACH_WRONG: usize = 2;

/// What shows how a sheet is to be read.
pub(super) struct Certain<'s> {
    routine: &'s Routine,
    lines: &'s [Line<'s>],
    roles: &'s [LineRole],
    shown: OnceCell<Shown>,
    own_names: OnceCell<Vec<String>>,
}

/// What the sheet shows before anything is weighed.
#[derive(Debug, Default)]
struct Shown {
    /// Shapes of clauses on lines of which the counts come out right.
    clauses: HashSet<String>,
    /// Shapes of headings of which the counts come out right.
    stating: HashSet<String>,
    /// Shapes of headings that the order names.
    named: HashSet<String>,
    /// Lines that state the counts of their steps, and those that state others.
    right_lines: usize,
    differing_lines: usize,
    /// Whether every line was understood.
    clear: bool,
    unused: usize,
    empty: usize,
    /// Names in the order that no part has.
    unknown_names: HashSet<String>,
    named_parts: usize,
}

impl<'s> Certain<'s> {
    pub(super) fn new(
        routine: &'s Routine,
        (lines, roles): (&'s [Line<'s>], &'s [LineRole]),
    ) -> Certain<'s> {
        Certain { routine, lines, roles, shown: OnceCell::new(), own_names: OnceCell::new() }
    }

    /// Whether a mistake may be told. `findings` are those of the whole sheet, before any is weighed.
    pub(super) fn is_told(&self, f: &Finding, findings: &[Finding]) -> bool {
        let shown = self.shown.get_or_init(|| self.show(findings));
        match &f.fault {
            Fault::PartCounts { .. } => self.part_is_read(f.line, shown),
            Fault::LineCounts { .. } | Fault::StepCounts { .. } => {
                let enough = shown.right_lines >= RIGHT_FOR_EACH_WRONG * shown.differing_lines
                    || shown.right_lines > 0 && self.heading_says_so(f);
                enough
                    && !self.may_be_times(f)
                    && self.line_is_read(f.line, shown)
                    && self.what_it_repeats_is_read(f, shown)
            }
            Fault::LeadDiffers { .. }
            | Fault::FeetDiffer { .. }
            | Fault::SameFootFree { .. }
            | Fault::WallDiffers { .. } => {
                !self.is_in_a_sentence(f.line)
                    && self.is_read_up_to(f.line, shown)
                    && self.counts_come_out(f.line)
                    && !(matches!(f.fault, Fault::WallDiffers { .. }) && self.turns_apart(f.line))
                    && !(matches!(f.fault, Fault::WallDiffers { .. })
                        && self.repeats_openly(f.line))
            }
            Fault::TooMany { .. } | Fault::NoTimes => self.line_is_read(f.line, shown),
            Fault::UnknownStep { nearest: Some(name) } => {
                is_letters(&f.words) && self.is_step_slip(f, name, findings)
            }
            Fault::UnknownMovement { .. } => self.is_among_movements(f),
            Fault::UnknownPart { nearest: None } => self.is_no_part(f, shown),
            Fault::UnknownPart { nearest: Some(name) }
            | Fault::NoPartAbove { nearest: Some(name) } => {
                is_letters(&f.words) && is_other_spelling(&f.words, name)
            }
            Fault::PartUnused { .. } => self.is_unused(f.line, shown),
            Fault::PartEmpty => self.is_empty(f.line, shown),
            Fault::PartTwice { first_line } => {
                self.is_same_heading(f.line, *first_line)
                    && self.is_written_out(f.line)
                    && self.is_written_out(*first_line)
            }
            Fault::TimingDiffers { .. } | Fault::TimingOrder { .. } => f.words.contains('&'),
            Fault::NothingToRepeat => {
                !self.is_in_a_sentence(f.line)
                    && !self.routine.parts.iter().any(|p| p.line < f.line && !p.lines.is_empty())
            }
            Fault::StepTwice { .. } => {
                !f.words.contains(|c: char| c.is_ascii_digit() || c == '\u{D7}')
            }
            // Beneath a name the row may be of other movements than are known of it.
            Fault::FeetNumber { .. } => {
                let above = self.lines.iter().find(|l| l.number + 1 == f.line);
                above.is_some_and(|l| read_movements(l.text.trim()).is_some())
                    && self.is_read_up_to(f.line, shown)
            }
            // What they are said of is not danced, or danced by some habit that is not known.
            Fault::Empty => self.lines.iter().all(|l| l.typed.trim().is_empty()),
            Fault::UnknownField { nearest: Some(name) } => self.is_label_slip(f, name),
            Fault::NeedsNumber { .. } => self.is_bare_wait(f.line),
            Fault::TurnWithoutSide => self.has_sides_elsewhere(f.line, findings),
            Fault::UnknownField { nearest: None } | Fault::NothingAbove { .. } => false,
            _ => true,
        }
    }

    fn show(&self, findings: &[Finding]) -> Shown {
        let lines_of = |is: fn(&Fault) -> bool| -> HashSet<usize> {
            findings.iter().filter(|f| is(&f.fault)).map(|f| f.line).collect()
        };
        let unread = lines_of(is_unread);
        let differing = lines_of(counts_differ);
        let open: HashSet<usize> = findings
            .iter()
            .filter(|f| f.severity() != Severity::Remark)
            .map(|f| f.line)
            .chain(unread.iter().copied())
            .collect();
        let mut shown = Shown {
            differing_lines: differing.len(),
            clear: unread.is_empty(),
            unused: lines_of(|f| matches!(f, Fault::PartUnused { .. })).len(),
            empty: lines_of(|f| matches!(f, Fault::PartEmpty)).len(),
            ..Shown::default()
        };
        for f in findings {
            if let Fault::UnknownPart { nearest: None } = f.fault {
                shown.unknown_names.insert(key(&f.words));
            }
        }
        let used: HashSet<usize> = self.routine.order.iter().map(|o| o.part).collect();
        shown.named_parts = used.len();
        for (i, part) in self.routine.parts.iter().enumerate() {
            let heading = self.heading_shape(part);
            if used.contains(&i) {
                shown.named.insert(heading.clone());
            }
            let right = part.stated_counts == Some(part.counts())
                && !part.lines.is_empty()
                && !part.lines.iter().any(|l| open.contains(&l.line));
            if right {
                shown.stating.insert(heading);
            }
            for line in &part.lines {
                let comes_out = !open.contains(&line.line) && self.comes_out(line);
                shown.right_lines += usize::from(comes_out);
                if right || comes_out {
                    shown.clauses.extend(self.step_shapes(line.line));
                }
            }
        }
        shown
    }

    /// Whether a line is a sentence, which may speak of another place than its own.
    fn is_in_a_sentence(&self, line: usize) -> bool {
        const FEWEST_WORDS: usize = 4;
        let typed = self.typed(line);
        let ends = typed.trim_end().trim_end_matches([')', '"', '*']).ends_with(['.', '!', '?']);
        ends && typed.split_whitespace().count() >= FEWEST_WORDS
    }

    /// The shape of a part's heading. Steps on its line stand behind a colon.
    fn heading_shape(&self, part: &Part) -> String {
        let typed = self.typed(part.line);
        match typed.split_once(':').filter(|_| part.lines.iter().any(|l| l.line == part.line)) {
            Some((heading, _)) => shape_of_heading(heading),
            None => shape_of_heading(&typed),
        }
    }

    /// The shapes of the steps on a line.
    fn step_shapes(&self, line: usize) -> Vec<String> {
        let typed = self.with_known_names(&self.typed(line));
        match typed.split_once(':').filter(|_| self.routine.part_begun_on(line).is_some()) {
            Some((_, steps)) => shapes_of_steps(steps),
            None => shapes_of_steps(&typed),
        }
    }

    /// A line on which steps of the sheet's own stand as known movements.
    fn with_known_names(&self, typed: &str) -> String {
        let own = self.own_names.get_or_init(|| {
            let steps =
                self.routine.parts.iter().flat_map(Part::steps).filter(|s| !s.moves.is_empty());
            let own = steps.filter(|s| glossary::find(&s.name).is_none() && s.name.len() > 2);
            let mut own: Vec<String> = own.map(|s| s.name.to_lowercase()).collect();
            // A name may begin with another.
            own.sort_by_key(|name| std::cmp::Reverse(name.len()));
            own
        });
        let mut out = typed.to_string();
        for name in own {
            // Only letters that stay as long in small ones.
            while let Some(at) = out.to_ascii_lowercase().find(name.as_str()) {
                out.replace_range(at..at + name.len(), "DS");
            }
        }
        out
    }

    /// Whether a part's heading is read for certain, by itself or as others in `like` are.
    fn heading_is_read(&self, part: &Part, like: &HashSet<String>) -> bool {
        let shape = self.heading_shape(part);
        let known = is_known_part(&part.name) && matches!(shape.as_str(), "w:9" | "w9" | "w 9");
        known || is_plain_heading(&shape) || like.contains(&shape)
    }

    /// A line as typed.
    fn typed(&self, line: usize) -> String {
        let line = line.checked_sub(1).and_then(|i| self.lines.get(i));
        line.map_or_else(String::new, Line::as_typed)
    }

    /// Whether a line states the counts of its steps: of known steps, and not only how often each is danced.
    fn comes_out(&self, line: &StepLine) -> bool {
        let counts = line.counts();
        let by_its_name = |step: &StepUse| glossary::length_of(&step.name) == Some(step.counts);
        let known = line.steps.iter().all(|step| step.feet_known() || by_its_name(step));
        known && counts as usize != line.steps.len() && self.numbers(line.line).contains(&counts)
    }

    /// The numbers typed on a line; the last count of `5-8` is that of its counts.
    fn numbers(&self, line: usize) -> Vec<u32> {
        let typed = self.typed(line);
        let runs = typed.split(|c: char| !c.is_ascii_digit());
        let mut numbers: Vec<u32> = runs.filter_map(|run| run.parse().ok()).collect();
        let ranges: Vec<u32> =
            numbers.windows(2).filter(|w| w[0] < w[1]).map(|w| w[1] + 1 - w[0]).collect();
        if typed.contains('-') {
            numbers.extend(ranges);
        }
        numbers
    }

    /// Whether a number on the line makes its counts right, as how often its steps are danced.
    fn may_be_times(&self, f: &Finding) -> bool {
        let (Fault::LineCounts { stated, steps } | Fault::StepCounts { stated, steps }) = f.fault
        else {
            return false;
        };
        let numbers = self.numbers(f.line);
        stated > steps && numbers.iter().any(|n| *n > 1 && n.saturating_mul(steps) == stated)
    }

    /// Whether the counts that a line states are those that its part's heading leaves for it.
    fn heading_says_so(&self, f: &Finding) -> bool {
        let (Fault::LineCounts { stated, steps } | Fault::StepCounts { stated, steps }) = f.fault
        else {
            return false;
        };
        let part = self.part_of(f.line);
        part.is_some_and(|p| p.stated_counts == Some((p.counts() + stated).saturating_sub(steps)))
    }

    /// Whether all that a line may repeat is read for certain, and its counts are not those of a part.
    fn what_it_repeats_is_read(&self, f: &Finding, shown: &Shown) -> bool {
        let (Fault::LineCounts { stated, .. } | Fault::StepCounts { stated, .. }) = f.fault else {
            return true;
        };
        let of_a_part = |p: &Part| p.stated_counts == Some(stated) || p.counts() == stated;
        // `Repeat 1, 2 and 3` may mean lines.
        const FEWEST: u32 = 4;
        !self.repeats(f.line)
            || stated >= FEWEST
                && self.is_read_up_to(f.line, shown)
                && self.nothing_is_lost_above(f.line)
                && !self.routine.parts.iter().any(of_a_part)
    }

    /// Whether a line of a part, up to one, turns steps that stand on other lines, `Turn 1/4 left on each brush`.
    fn turns_apart(&self, line: usize) -> bool {
        let Some(part) = self.part_of(line) else { return false };
        let danced = |line: usize| part.lines.iter().any(|l| l.line == line);
        (part.line + 1..=line).filter(|l| !danced(*l)).any(|l| {
            let typed = self.typed(l);
            let words: Vec<&str> = typed.split_whitespace().collect();
            let each = words.iter().any(|w| matches!(&*key(w), "each" | "every" | "ea"));
            each && (0..words.len()).any(|i| turn(&words[i..]).is_some())
        })
    }

    /// Whether the counts of the part that a line stands in are those of its heading, if it states any.
    fn counts_come_out(&self, line: usize) -> bool {
        let part = self.part_of(line);
        part.is_none_or(|p| p.stated_counts.is_none_or(|stated| stated == p.counts()))
    }

    /// Whether a line repeats what stands above it and does not say how much of that.
    fn repeats_openly(&self, line: usize) -> bool {
        self.repeats(line) && self.numbers(line).is_empty()
    }

    /// Whether a line says that something comes again.
    fn repeats(&self, line: usize) -> bool {
        key(&self.typed(line)).split(' ').any(|w| is_repeat_word(trimmed(w)) || w == "again")
    }

    /// Whether each line from a part's heading down to a line is danced, or tells of one that is.
    fn nothing_is_lost_above(&self, line: usize) -> bool {
        let Some(part) = self.part_of(line) else { return true };
        let between = self.roles.iter().take(line.saturating_sub(1)).skip(part.line);
        between.into_iter().all(|role| !matches!(role, LineRole::Note | LineRole::Unknown))
    }

    /// Whether a part has lines of its own.
    fn is_written_out(&self, line: usize) -> bool {
        let part = self.routine.part_begun_on(line);
        part.is_some_and(|p| !p.lines.is_empty() && (is_known_part(&p.name) || p.lines.len() > 1))
    }

    /// The part in which a line stands.
    fn part_of(&self, line: usize) -> Option<&Part> {
        self.routine.parts.iter().filter(|p| p.line <= line).max_by_key(|p| p.line)
    }

    fn line_is_read(&self, line: usize, shown: &Shown) -> bool {
        if self.may_be_counts_of_the_line(line) {
            return false;
        }
        let shapes = self.step_shapes(line);
        shapes.iter().all(|shape| is_plain_clause(shape) || shown.clauses.contains(shape))
    }

    /// `Stomp, Stomp, clap above the head (3 counts)`: whether the counts behind a last step that nobody knows may be those
    /// of the whole line.
    fn may_be_counts_of_the_line(&self, line: usize) -> bool {
        let mut lines = self.routine.parts.iter().flat_map(|p| &p.lines);
        let Some([before @ .., last]) = lines.find(|l| l.line == line).map(|l| &l.steps[..]) else {
            return false;
        };
        let known = |step: &StepUse| step.feet_known() || glossary::length_of(&step.name).is_some();
        !before.is_empty()
            && before.iter().all(known)
            && !known(last)
            && self.numbers(line).len() == 1
    }

    /// Whether a part's heading and all its lines are read for certain, and no heading was missed among them.
    fn part_is_read(&self, line: usize, shown: &Shown) -> bool {
        let Some(part) = self.routine.part_begun_on(line) else { return false };
        self.heading_is_read(part, &shown.stating)
            && !begins_with_a_step(&part.name)
            && part.lines.iter().all(|l| self.line_is_read(l.line, shown))
            && !self.may_have_a_heading_within(part)
            && self.ends_for_certain(part)
            && !self.may_say_the_rest(part)
    }

    /// Whether what ends a part is another that the order names, or one with a name of the trade.
    fn ends_for_certain(&self, part: &Part) -> bool {
        let parts = &self.routine.parts;
        let next = parts.iter().enumerate().filter(|(_, p)| p.line > part.line);
        next.min_by_key(|(_, p)| p.line).is_none_or(|(i, p)| {
            is_known_part(&p.name) || self.routine.order.iter().any(|o| o.part == i)
        })
    }

    /// `"Again!" = all of it (8)`: whether a line of a part that was read as no step names the counts that the part lacks.
    fn may_say_the_rest(&self, part: &Part) -> bool {
        let Some(lacks) = part.stated_counts.and_then(|n| n.checked_sub(part.counts())) else {
            return false;
        };
        let next = self.routine.parts.iter().map(|p| p.line).filter(|line| *line > part.line).min();
        let lines = part.line + 1..next.unwrap_or(self.lines.len() + 1);
        let danced = |line: usize| part.lines.iter().any(|l| l.line == line);
        lacks > 0 && lines.filter(|l| !danced(*l)).any(|l| self.numbers(l).contains(&lacks))
    }

    /// Whether a few words that were read as a note stand between lines of a part.
    fn may_have_a_heading_within(&self, part: &Part) -> bool {
        const MOST_WORDS: usize = 4;
        let (Some(first), Some(last)) = (part.lines.first(), part.lines.last()) else {
            return false;
        };
        (first.line..last.line).any(|i| {
            let noted = matches!(self.roles.get(i), Some(LineRole::Note | LineRole::Unknown));
            let text = self.lines.get(i).map_or("", |l| l.typed.trim());
            let words = text.split_whitespace().count();
            let begins = text.starts_with(|c: char| c.is_alphanumeric() || "-=*<#_".contains(c));
            noted && words <= MOST_WORDS && begins && text.chars().any(char::is_alphanumeric)
        })
    }

    /// Whether all lines of a part are read for certain up to one of them.
    fn is_read_up_to(&self, line: usize, shown: &Shown) -> bool {
        let Some(part) = self.part_of(line) else { return true };
        part.lines.iter().filter(|l| l.line <= line).all(|l| self.line_is_read(l.line, shown))
    }

    /// Whether a name is another's with a slip: the author types that elsewhere, or all other names as they are published
    /// and one letter is wrong.
    fn is_step_slip(&self, f: &Finding, name: &str, findings: &[Finding]) -> bool {
        let name = glossary::name_key(name);
        let here = |line: usize| line == f.line;
        let lines = self.routine.parts.iter().flat_map(|p| &p.lines);
        let elsewhere = lines
            .filter(|l| !here(l.line))
            .flat_map(|l| &l.steps)
            .any(|step| glossary::name_key(&step.name) == name);
        let others = findings.iter().any(|o| !here(o.line) && is_unread(&o.fault));
        let typed = glossary::name_key(&f.words);
        let joined = |name: &str| -> String {
            let letters: String = name.chars().filter(|c| c.is_alphanumeric()).collect();
            letters.trim_end_matches('s').to_string()
        };
        let spelled = joined(&typed) != joined(&name);
        let names = || {
            glossary::names().map(glossary::name_key).filter(|other| {
                glossary::find(other).is_some_and(|(step, _)| glossary::name_key(step.name) == name)
            })
        };
        let one_letter = || names().any(|other| strsim::osa_distance(&typed, &other) == 1);
        // `Triple x`, `TR triple`: more stands beside the name than a slip.
        let beside = |other: String| {
            typed.starts_with(&format!("{other} ")) || typed.ends_with(&format!(" {other}"))
        };
        // `Push turn`, of which the sheet tells below.
        let longer = name.starts_with(&format!("{} ", typed.trim_end_matches('s')));
        spelled && !longer && !names().any(beside) && (elsewhere || !others && one_letter())
    }

    /// Whether what is no movement stands among movements, and is typed as they are.
    fn is_among_movements(&self, f: &Finding) -> bool {
        const FEWEST: usize = 2;
        let typed = self.typed(f.line);
        let capitals = |word: &str| !word.chars().any(char::is_lowercase);
        let words = typed.split(|c: char| !c.is_alphabetic()).filter(|w| !w.is_empty());
        let known =
            words.filter(|w| find_movement(w).is_some() && capitals(w) == capitals(&f.words));
        let all = typed.split(|c: char| !c.is_alphabetic()).filter(|w| !w.is_empty()).count();
        let known = known.count();
        is_letters(&f.words)
            && known >= FEWEST
            && known * 2 > all
            && !self.is_set_off(f)
            && self.stands_between_movements(f)
    }

    /// Whether the words beside one are movements, where there are any: `each way` says how.
    fn stands_between_movements(&self, f: &Finding) -> bool {
        let typed = self.typed(f.line);
        let mut words = typed.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        let mut before = None;
        let here = words.by_ref().find(|w| {
            let found = *w == f.words;
            before = if found { before } else { Some(*w) };
            found
        });
        let is_one =
            |w: &str| find_movement(w).is_some() || w.starts_with(|c: char| c.is_ascii_digit());
        here.is_none() || before.is_none_or(is_one) && words.next().is_none_or(is_one)
    }

    /// Whether a gap stands in front of words, `DS DS RS     GO UP`.
    fn is_set_off(&self, f: &Finding) -> bool {
        let before: String = self.typed(f.line).chars().take(f.column.saturating_sub(1)).collect();
        !before.trim().is_empty() && (before.ends_with("   ") || before.ends_with('\t'))
    }

    /// Whether a label at the top is another with one letter wrong or two changed about, which the sheet does not have, among
    /// others that are known.
    fn is_label_slip(&self, f: &Finding, name: &str) -> bool {
        const FEWEST: usize = 2;
        let label = |text: &str| text.split(':').next().unwrap_or("").trim().to_lowercase();
        let fields = self.lines.iter().zip(self.roles).filter(|(line, role)| {
            **role == LineRole::Field && line.number != f.line && line.typed.contains(':')
        });
        let fields: Vec<String> = fields.map(|(line, _)| label(line.typed)).collect();
        let name = name.to_lowercase();
        let slip = strsim::osa_distance(&label(&self.typed(f.line)), &name) == 1;
        slip && fields.len() >= FEWEST && !fields.contains(&name)
    }

    /// Whether a wait is one word that is no number, `Wait: soon`; more words may tell of the song.
    fn is_bare_wait(&self, line: usize) -> bool {
        let typed = self.typed(line);
        let wait = typed.split_once(':').filter(|(label, _)| key(label) == "wait");
        wait.is_some_and(|(_, said)| said.split_whitespace().count() == 1)
    }

    /// Whether all other turns of the sheet have a side, and some do.
    fn has_sides_elsewhere(&self, line: usize, findings: &[Finding]) -> bool {
        let alone = findings.iter().filter(|f| f.fault == Fault::TurnWithoutSide).count() == 1;
        let turned = self.routine.parts.iter().flat_map(|p| &p.lines).filter(|l| l.line != line);
        let mut sided = turned.filter(|l| {
            let words = self.typed(l.line);
            l.steps.iter().any(|step| step.turn != 0)
                && words.split(|c: char| !c.is_alphabetic()).any(|w| foot(w).is_some())
        });
        alone && sided.next().is_some()
    }

    /// Whether a name in an order is certainly no part's: one alone, typed as names are, and nowhere else on a sheet of which
    /// every line was understood.
    fn is_no_part(&self, f: &Finding, shown: &Shown) -> bool {
        let name = key(&f.words);
        let as_a_name = f.words.starts_with(|c: char| c.is_uppercase())
            && f.words.chars().all(char::is_alphanumeric);
        let stands = |text: &str| key(text).split(' ').any(|w| trimmed(w) == name);
        let elsewhere = self.lines.iter().zip(self.roles).any(|(line, role)| {
            *role != LineRole::Order && line.number != f.line && stands(line.typed)
        });
        as_a_name
            && self.is_among_parts(f)
            && shown.clear
            && shown.unknown_names.len() == 1
            && shown.named_parts > 1
            && !elsewhere
    }

    /// Whether nearly all else that stands on a line of the order are names of parts.
    fn is_among_parts(&self, f: &Finding) -> bool {
        let typed = self.typed(f.line);
        let (label, list) = typed.split_once(':').unwrap_or(("", &typed));
        let alone = |line: &Line<'_>| {
            line.number != f.line
                && key(line.typed).trim_matches(['[', ']', ':', '*']) == key(&f.words)
        };
        if f.column <= label.chars().count() || self.lines.iter().any(alone) {
            return false;
        }
        let names = Names::new(&self.routine.parts);
        let words = list.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        // One alone on its line is within a list.
        let said = |role: &&LineRole| **role != LineRole::Blank;
        let before = self.roles.iter().take(f.line.saturating_sub(1)).rev().find(said);
        let behind = self.roles.iter().skip(f.line).find(said);
        let ends = before == Some(&LineRole::Order) && behind != before;
        if key(list.trim()) == key(&f.words) && ends && behind.is_some() {
            return false;
        }
        let (mut known, mut others) = (0, 0);
        for word in words.filter(|w| key(w) != key(&f.words)) {
            let numbered = word.bytes().all(|b| b.is_ascii_digit()) || times_word(word).is_some();
            let named = numbered || names.find(word).is_some() || part_word(word).is_some();
            known += usize::from(named);
            others += usize::from(!named);
        }
        others * 4 <= known
    }

    /// Whether a part is certainly left out of the order: the only one, under a heading like those of others that are named.
    fn is_unused(&self, line: usize, shown: &Shown) -> bool {
        let Some(part) = self.routine.part_begun_on(line) else { return false };
        let aside = matches!(part.kind, PartKind::Intro | PartKind::Ending | PartKind::Tag);
        !aside
            && shown.unused == 1
            && shown.unknown_names.is_empty()
            && !part.lines.is_empty()
            && self.heading_is_read(part, &shown.named)
            && !self.may_be_ordered(part)
            && self.is_called_as_others_are(part)
    }

    /// Whether a part has a name of the trade, or others that are danced have none either; and no other has its name.
    fn is_called_as_others_are(&self, part: &Part) -> bool {
        const MOST_WORDS: usize = 2;
        let parts = &self.routine.parts;
        let danced = self.routine.order.iter().filter_map(|o| parts.get(o.part));
        let own = |p: &Part| !is_known_part(&p.name);
        let name = key(&part.name);
        let same = self.lines.iter().filter(|line| {
            line.number != part.line && key(line.typed).trim_matches([' ', ':', '-', '*']) == name
        });
        let short = name.split(' ').count() <= MOST_WORDS;
        same.count() == 0 && (!own(part) || short && danced.into_iter().any(own))
    }

    /// Whether the last word of a part's name stands in an order, read or not.
    fn may_be_ordered(&self, part: &Part) -> bool {
        let name = key(&part.name);
        let last = name.rsplit(' ').next().unwrap_or(&name);
        let names = Names::new(&self.routine.parts);
        // `run: A B A B C`, read as a note.
        let of_names = |line: &Line<'_>| {
            let words: Vec<&str> = line
                .typed
                .split(|c: char| !c.is_alphanumeric())
                .filter(|w| !w.is_empty())
                .collect();
            let named = words.iter().filter(|w| names.find(w).is_some()).count();
            named > 2 && named * 2 > words.len()
        };
        let orders = self.lines.iter().zip(self.roles).filter(|(line, role)| match role {
            LineRole::Order => true,
            LineRole::Note | LineRole::Unknown => of_names(line),
            _ => false,
        });
        orders.into_iter().any(|(line, _)| {
            let words = line.typed.split(|c: char| !c.is_alphanumeric());
            words.into_iter().any(|word| key(word) == last)
        })
    }

    /// Whether a heading certainly lacks its steps: no other does, and it is typed as others are.
    fn is_empty(&self, line: usize, shown: &Shown) -> bool {
        let Some(part) = self.routine.part_begun_on(line) else { return false };
        part.kind == PartKind::Part
            && is_known_part(&part.name)
            && shown.empty == 1
            && self.heading_is_read(part, &HashSet::new())
            && self.stands_before_a_part(part)
    }

    /// Whether what stands behind a heading is another that is read for certain, or the order, and none of the order before it.
    fn stands_before_a_part(&self, part: &Part) -> bool {
        let said = |role: &&LineRole| **role != LineRole::Blank;
        let at = part.line.saturating_sub(1);
        let after_the_order = self.roles.iter().take(at).rev().find(said) == Some(&LineRole::Order);
        let next = self.roles.iter().enumerate().skip(part.line).find(|(_, role)| said(role));
        let before_a_part = match next {
            None => true,
            // `Repeat Verse 1` says what it is.
            Some((i, LineRole::Order)) => self.typed(i + 1).contains(':'),
            Some((i, LineRole::Heading)) => self.routine.part_begun_on(i + 1).is_some_and(|next| {
                is_known_part(&next.name) && self.heading_is_read(next, &HashSet::new())
            }),
            Some(_) => false,
        };
        !after_the_order && before_a_part
    }

    /// Whether two headings have the same words.
    fn is_same_heading(&self, line: usize, first: usize) -> bool {
        let name = |line: usize| {
            let typed = self.typed(line);
            let letters = typed.chars().map(|c| if c.is_ascii_digit() { ' ' } else { c });
            key(&letters.collect::<String>())
        };
        let plain = self
            .routine
            .part_begun_on(line)
            .is_some_and(|part| self.heading_is_read(part, &HashSet::new()));
        plain && name(line) == name(first)
    }
}

/// `Two Charlestons`: whether a name begins with a step, and how often it is danced.
fn begins_with_a_step(name: &str) -> bool {
    let said = content(name);
    said.steps > 0 && said.before == 0
}

/// Whether words have letters only.
fn is_letters(words: &str) -> bool {
    words.chars().all(|c| c.is_alphabetic() || matches!(c, ' ' | '-'))
        && words.split(' ').next().is_some_and(|first| first.chars().count() > 1)
}

/// Whether a name is another's spelled otherwise: no word of one is the other, and none is a letter alone.
fn is_other_spelling(typed: &str, name: &str) -> bool {
    let (typed, name) = (key(typed), key(name));
    let has = |all: &str, one: &str| all.split(' ').any(|word| trimmed(word) == one);
    !has(&name, &typed)
        && !has(&typed, &name)
        && typed.split(' ').all(|word| word.chars().count() > 1)
}

/// A word without signs around it.
fn trimmed(word: &str) -> &str {
    word.trim_matches(|c: char| !c.is_alphanumeric())
}
