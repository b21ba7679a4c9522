//! Steps by their names: with movements of the sheet's own, with usual counts, or known to nobody.

use super::build::{Builder, shared_out};
use super::finding::{Fault, Finding};
use super::glossary;
use super::item::{Item, Place};
use super::line::Line;
use super::model::StepUse;
use super::movement::{MovementUse, Source, Timing};

impl Builder<'_> {
    /// Says once of each step that it is taken with its usual counts.
    pub(super) fn usual_length(&mut self, line: &Line<'_>, item: &Item, step: &StepUse) {
        let place = item.body_place;
        let words = line.typed_between(place.0, place.1);
        let told = |f: &Finding| {
            matches!(f.fault, Fault::UsualLength { .. })
                && glossary::name_key(&f.words) == glossary::name_key(&words)
        };
        if !self.out.findings.iter().any(told) {
            self.find(line, place, Fault::UsualLength { counts: step.counts });
        }
    }

    /// A known step with movements behind it on the sheet: the sheet's are used.
    pub(super) fn variant(&mut self, line: &Line<'_>, item: &Item, step: StepUse) -> StepUse {
        let Some(own) = &item.moves else { return step };
        let place = item.body_place;
        let total = item.stated.map(|(n, _)| n);
        // As many movements as the step has, and its counts stated: these fall where those do.
        if own.counts != step.counts
            && own.moves.len() == step.moves.len()
            && total == Some(step.counts.saturating_mul(item.times))
        {
            let mut timed = own.clone();
            for (moved, known) in timed.moves.iter_mut().zip(&step.moves) {
                moved.sounds.clone_from(&known.sounds);
            }
            timed.counts = step.counts;
            return self.compare_variant(line, place, &step, &timed);
        }
        self.compare_variant(line, place, &step, own)
    }

    pub(super) fn compare_variant(
        &mut self,
        line: &Line<'_>,
        place: Place,
        step: &StepUse,
        own: &StepUse,
    ) -> StepUse {
        // Of which the movements were not known.
        if step.moves.is_empty() {
            return StepUse { name: step.name.clone(), ..own.clone() };
        }
        let codes = |s: &StepUse| -> Vec<&str> { plain_codes(&s.moves) };
        // `2 Stomps: STO STO`: the movements of all times together.
        let once = codes(step);
        if !once.is_empty()
            && codes(own).len() > once.len()
            && codes(own).chunks(once.len()).all(|c| c == once)
        {
            return step.clone();
        }
        let mut own = StepUse { name: step.name.clone(), ..own.clone() };
        // As many movements as are known of it fall where these do.
        if own.counts != step.counts && own.moves.len() == step.moves.len() {
            for (moved, known) in own.moves.iter_mut().zip(&step.moves) {
                moved.sounds.clone_from(&known.sounds);
            }
            own.counts = step.counts;
        }
        if codes(&own) == codes(step) {
            return own;
        }
        let settled = glossary::find(&step.name).is_some_and(|(s, _)| {
            matches!(s.source, Source::Published(page) if page.starts_with("Clogging 101"))
        });
        if own.counts != step.counts && settled {
            self.find(line, place, Fault::StepCounts { stated: step.counts, steps: own.counts });
        } else {
            self.find(
                line,
                place,
                Fault::Variant { step: step.name.clone(), glossary: step.movements.clone() },
            );
        }
        own
    }

    /// Whether a name may stand for a step with a slip: not where the counts stated for it are other ones.
    fn may_be(&self, name: &str, item: &Item) -> bool {
        let Some(step) = self.book.find(&glossary::name_key(name)) else { return true };
        let all = step.counts.saturating_mul(item.times.max(item.leads.len() as u32));
        let stated = item.stated.filter(|_| self.alone).map(|(n, _)| n);
        let refuted = stated.is_some_and(|n| n != all && n != step.counts);
        self.share.map_or(!refuted, |share| share == step.counts)
    }

    pub(super) fn unknown(&mut self, line: &Line<'_>, item: &Item) -> Option<Vec<StepUse>> {
        let words = line.typed_between(item.body_place.0, item.body_place.1);
        if let Some(step) = &item.moves {
            // Its movements stand behind it, so it needs no glossary.
            let step = StepUse { name: words, ..step.clone() };
            return Some(self.times(line, item, step));
        }
        if let Some(step) = item.also.as_ref().and_then(|key| self.book.find(key)).cloned() {
            return Some(self.times(line, item, step));
        }
        let ways = self.book.ways_of(&glossary::name_key(&words));
        if let Some(first) = ways.first() {
            let step = self.book.find(&glossary::name_key(first)).cloned();
            let ways = ways.iter().map(|w| w.to_string()).collect();
            self.find(line, item.body_place, Fault::WhichWay { ways });
            return step.map(|step| self.times(line, item, step));
        }
        let nearest = self.book.nearest(&words).filter(|near| self.may_be(near, item));
        // `Trip`, `Sam`: a word cut short.
        const FEWEST_LETTERS: usize = 3;
        let cut = words.len() >= FEWEST_LETTERS && words.chars().all(char::is_alphabetic);
        let short = cut.then(|| glossary::only_step_begun_by(&[&words])).flatten();
        let short = short.filter(|key| self.may_be(key, item)).or_else(|| short_for(&words, item));
        if let Some(step) = short.and_then(|key| self.book.find(&key)).cloned() {
            self.find(line, item.body_place, Fault::TakenAsStep { step: step.name.clone() });
            return Some(self.times(line, item, step));
        }
        if let Some(counts) = self.share.filter(|_| nearest.is_none()) {
            self.find(line, item.body_place, Fault::FeetUnknown { counts });
            return Some(shared_out(&words, counts, item.times.max(item.leads.len() as u32), true));
        }
        if nearest.is_none()
            && let Some(step) = self.within_the_name(&words, item)
        {
            let fault = Fault::TakenAsStep { step: step.name.clone() };
            self.find(line, item.body_place, fault);
            return Some(self.times(line, item, step));
        }
        if nearest.is_none()
            && let Some((counts, _)) = item.stated
        {
            self.find(line, item.body_place, Fault::FeetUnknown { counts });
            return Some(shared_out(&words, counts, item.times, item.stated_each));
        }
        if nearest.is_none() {
            let counted = item.bare.is_some() || item.times > 1;
            let aside = !counted && (!self.alone || words.contains('!'));
            self.out.unknown_aside |= aside;
            self.out.unknown.push((glossary::name_key(&words), item.times.max(1)));
        }
        if let Some(counts) = self.reading.unknown_counts.filter(|_| nearest.is_none()) {
            self.find(line, item.body_place, Fault::FeetUnknown { counts });
            return Some(shared_out(&words, counts, item.times, true));
        }
        let likely = nearest.as_ref().and_then(|n| self.book.find(&glossary::name_key(n)).cloned());
        self.find(line, item.body_place, Fault::UnknownStep { nearest });
        match likely {
            // Reading goes on with the likeliest step, so that one slip is told once.
            Some(step) => Some(self.times(line, item, step)),
            None => {
                self.out.complete = false;
                None
            }
        }
    }
}

/// `2 fd (8)`: the step that shorthand means by the counts stated.
fn short_for(words: &str, item: &Item) -> Option<String> {
    let (stated, _) = item.stated?;
    let each = if item.stated_each { stated } else { stated / item.times.max(1) };
    let words: Vec<&str> = words.split_whitespace().collect();
    glossary::only_step_short_for(&words, each)
}

/// Codes of movements, with a pause on the upbeat and what only adds a sound of the standing foot left
/// out: `BR SL` is `BR`.
fn plain_codes(moves: &[MovementUse]) -> Vec<&'static str> {
    moves
        .iter()
        .filter(|m| !m.movement.completes && m.movement.timing != Timing::SilentUpbeat)
        .map(|m| m.movement.code)
        .collect()
}
