//! Counts stated on a line of several steps: whose they are, what they leave, and when nobody can be sure.

use std::borrow::Cow;

use super::build::Builder;
use super::finding::{Fault, Finding};
use super::glossary;
use super::item::{Body, Item, MOST_TIMES, Parsed, Place};
use super::line::Line;
use super::model::{StepLine, StepUse};
use super::phrases::times_word;
use super::vocabulary::{content, plain_words};
use super::words::{self, number};

impl Builder<'_> {
    /// Where words on a line may say more than was understood, nobody can say that its counts are wrong: it is danced by
    /// them.
    pub(super) fn unsure_of_the_line(&mut self, line: &Line<'_>, here: &mut StepLine) {
        let mut counts = None;
        for f in self.out.findings.iter_mut().rev().take_while(|f| f.line == line.number) {
            if let Fault::LineCounts { stated, .. } = f.fault {
                f.fault = Fault::LineUnsure { stated, steps: here.counts() };
                counts = Some(stated);
            }
        }
        let Some(counts) = counts.filter(|counts| *counts > here.counts()) else { return };
        let rest = counts - here.counts();
        let name = "the rest of the line".to_string();
        here.steps.push(StepUse { name, counts: rest, ..StepUse::default() });
        self.out.feet_unknown = true;
    }

    /// Counts at the end of a line of several steps, and the range of counts in front of it, are those of
    /// one step or of the whole line.
    pub(super) fn counts_of_the_line(&mut self, line: &Line<'_>, parsed: &Parsed, here: &StepLine) {
        let [first, .., last] = &parsed.items[..] else { return };
        for (stated, place) in [first.stated, last.stated].into_iter().flatten() {
            let column = line.column(place.0);
            if stated != here.counts() {
                continue;
            }
            let same_place = |f: &Finding| {
                f.line == line.number
                    && f.column == column
                    && matches!(f.fault, Fault::LineCounts { .. })
            };
            let of_line = self.out.findings.iter().rev().take_while(|f| f.line == line.number);
            if let Some(back) = of_line.clone().position(same_place) {
                let index = self.out.findings.len() - 1 - back;
                self.out.findings.remove(index);
            }
        }
    }

    /// `Loop Vine L, Loop Vine R [8]`: where the usual counts of several steps come to those behind the last, these are
    /// of all of them.
    pub(super) fn without_counts_of_several<'i>(
        &self,
        text: &str,
        items: &'i [Item],
    ) -> Cow<'i, [Item]> {
        let mut out = Cow::Borrowed(items);
        // What they leave for a step that nobody knows is told of the line, not of its last step.
        if self.share.is_some() && items.first().is_some_and(|item| item.stated.is_none()) {
            out.to_mut().last_mut().into_iter().for_each(|last| last.stated = None);
            return out;
        }
        // `(1) Stomp & hold`: the step is held, and no count comes behind it.
        if let [steps @ .., last] = items
            && let Some(first) = steps.first()
            && last.body == Body::Pause
            && last.stated.is_none()
            && is_joined(text, last)
        {
            let sum = steps.iter().map(|i| i.usual_counts(self.book)).sum::<Option<u32>>();
            let in_front = first.stated.map(|(n, _)| n).or(first.bare);
            if sum.is_some() && sum == in_front {
                return Cow::Borrowed(steps);
            }
        }
        // `3 Stomps, hold (4)`: a hold is one count, unless its own stand right behind it, `hold 4`.
        let bracketed = |(_, place): (u32, Place)| {
            text.get(place.0..).is_some_and(|t| t.starts_with(['(', '[']))
        };
        let (mut sum, mut danced) = (Some(0u32), 0);
        for (i, item) in items.iter().enumerate() {
            let held = item.body == Body::Pause && item.stated.is_some_and(bracketed);
            let usual = if held { Some(1) } else { item.usual_counts(self.book) };
            sum = sum.and_then(|sum| Some(sum.saturating_add(usual?)));
            danced += usize::from(item.body != Body::Nothing);
            let Some((stated, _)) = item.stated.filter(|_| !item.stated_in_front) else { continue };
            // So, too, where the counts stand behind, `Stomp & hold (1)`.
            let before = sum.and_then(|sum| sum.checked_sub(1));
            if held && is_joined(text, item) && i > 0 && before == Some(stated) {
                out.to_mut()[i - 1].stated = item.stated;
                out.to_mut().remove(i);
                return out;
            }
            // Counts behind a comma are held against the line later on.
            if danced > 1 && sum == Some(stated) && item.body != Body::Nothing {
                out.to_mut()[i].stated = None;
            }
            (sum, danced) = (Some(0), 0);
        }
        out
    }

    /// `Triples (2), going forward - 8 counts`: a number behind the only step is how often, where the counts at the end of
    /// the line say so.
    pub(super) fn times_in_brackets<'i>(&self, items: Cow<'i, [Item]>) -> Cow<'i, [Item]> {
        let [step, .., last] = &items[..] else { return items };
        let (Body::Known(key), Some((n, _)), Some((all, _))) =
            (&step.body, step.stated, last.stated)
        else {
            return items;
        };
        let alone = items[1..].iter().all(|item| matches!(item.body, Body::Nothing));
        let counts = self.book.find(key).map_or(0, |s| s.counts);
        if !alone || step.times != 1 || step.bare.is_some() || n.saturating_mul(counts) != all {
            return items;
        }
        let mut out = items.into_owned();
        (out[0].times, out[0].stated) = (n, None);
        Cow::Owned(out)
    }

    /// `Step, Clap x4`: where the part is read so, all of them that often.
    pub(super) fn times_of_all<'i>(&mut self, items: Cow<'i, [Item]>) -> Cow<'i, [Item]> {
        let [first @ .., last] = &items[..] else { return items };
        let set = self.times_of_all_stated(&items).or_else(|| self.counts_in_front(&items));
        if let Some(set) = set {
            return Cow::Owned(set);
        }
        let step = |i: &Item| {
            matches!(i.body, Body::Known(_) | Body::Moves) && i.bare.is_none() && i.leads.is_empty()
        };
        let once = |i: &Item| i.times == 1 && i.stated.is_none() && step(i);
        if first.is_empty() || !first.iter().all(once) || last.times < 2 || !step(last) {
            return items;
        }
        self.out.has_times_behind_several = true;
        if !self.reading.times_of_all {
            return items;
        }
        let times = last.times.min(MOST_TIMES) as usize;
        let once = |item: &Item| Item { times: 1, ..item.clone() };
        let all = (0..times).flat_map(|_| items.iter().map(once)).collect();
        Cow::Owned(all)
    }

    /// `(8) Triple, Triple`: a number in front of several steps that is what they come to together.
    fn counts_in_front(&self, items: &[Item]) -> Option<Vec<Item>> {
        const FEWEST: u32 = 4;
        let [first, others @ ..] = items else { return None };
        let n = first.bare.filter(|n| *n >= FEWEST && *n == first.times)?;
        let first = Item { times: 1, bare: None, ..first.clone() };
        let usual = |item: &Item| item.usual_counts(self.book);
        let sum = others.iter().map(usual).sum::<Option<u32>>()?.checked_add(usual(&first)?)?;
        let danced = others.iter().any(|item| item.body != Body::Nothing);
        let open = others.iter().any(|item| item.bare.is_some() || item.stated.is_some());
        (danced && !open && sum == n)
            .then(|| std::iter::once(first).chain(others.iter().cloned()).collect())
    }

    /// `25-32 Stomp, Clap (4 times)`: all of them that often, where the counts in front say so.
    fn times_of_all_stated(&self, items: &[Item]) -> Option<Vec<Item>> {
        let [first, .., last] = items else { return None };
        let (stated, _) = first.stated?;
        let once: u32 = items.iter().map(|i| i.counts_once(self.book)).sum::<Option<u32>>()?;
        let others = &items[..items.len() - 1];
        let danced = items.iter().filter(|i| i.body != Body::Nothing);
        let plain = last.times > 1
            && danced.clone().count() > 1
            && others.iter().all(|i| i.times == 1 && i.bare.is_none())
            && items.iter().skip(1).all(|i| i.stated.is_none());
        if !plain || once.saturating_mul(last.times) != stated {
            return None;
        }
        let one = |item: &Item| Item { times: 1, stated: None, leads: Vec::new(), ..item.clone() };
        Some((0..last.times.min(MOST_TIMES)).flat_map(|_| danced.clone().map(one)).collect())
    }

    /// What the counts of a line of several steps leave for each that nobody knows.
    pub(super) fn share_of_the_line(&self, line: &Line<'_>, parsed: &Parsed) -> Option<u32> {
        const MOST_COUNTS: u32 = 8;
        let (first, last) = (parsed.items.first()?, parsed.items.last()?);
        let (stated, _) = first.stated.or(last.stated).filter(|_| parsed.items.len() > 1)?;
        // Counts behind several steps are each one's own.
        if parsed.items.iter().filter(|item| item.stated_behind()).count() > 1 {
            return None;
        }
        let (mut known, mut unknown) = (0u32, 0u32);
        for item in &parsed.items {
            let times = item.times.max(item.leads.len() as u32);
            let step = match &item.body {
                Body::Known(key) => self.book.find(key)?,
                Body::Moves => item.moves.as_ref()?,
                Body::Nothing => continue,
                Body::Unknown if item.moves.is_none() => {
                    let words = line.typed_between(item.body_place.0, item.body_place.1);
                    let few = words.split_whitespace().count() <= 3;
                    unknown = unknown.saturating_add(times);
                    if !few {
                        return None;
                    }
                    continue;
                }
                _ => return None,
            };
            known = known.saturating_add(step.counts.saturating_mul(times));
        }
        let left = stated.checked_sub(known).filter(|left| *left > 0 && unknown > 0)?;
        let each = left / unknown;
        (left % unknown == 0 && each <= MOST_COUNTS).then_some(each)
    }

    /// The known step with which a longer name begins or ends, where it takes the counts that the sheet states.
    pub(super) fn within_the_name(&mut self, words: &str, item: &Item) -> Option<StepUse> {
        let words: Vec<&str> = words.split_whitespace().collect();
        let most = words.len().saturating_sub(1);
        let of = |words: &[&str]| self.book.find(&glossary::name_key(&words.join(" "))).cloned();
        let step = (1..=most)
            .rev()
            .find_map(|n| of(&words[..n]).or_else(|| of(&words[words.len() - n..])))?;
        let fits = |n: u32| {
            n == step.counts.saturating_mul(item.times) || item.stated_each && n == step.counts
        };
        if let Some((stated, _)) = item.stated {
            return fits(stated).then_some(step);
        }
        self.out.has_longer_names = true;
        (!self.reading.names_whole && words.len() <= 3).then_some(step)
    }
}

/// Whether an item is joined to the one before it by more than a comma.
fn is_joined(text: &str, item: &Item) -> bool {
    let before = text.get(..item.place.0).unwrap_or("").trim_end();
    before.ends_with('&') || before.ends_with(" and")
}

/// Whether words behind a step may be something to dance: a step, how often, or feet one after another.
pub(super) fn says_more(note: &str) -> bool {
    const MORE: [&str; 5] = ["another", "more", "add", "plus", "then"];
    let words = plain_words(note);
    let feet = words.iter().filter(|w| words::foot(w).is_some()).count();
    content(note).steps > 0
        || feet > 1
        || words.iter().any(|w| {
            number(w).is_some()
                || times_word(w).is_some()
                || MORE.iter().any(|more| w.eq_ignore_ascii_case(more))
        })
}
