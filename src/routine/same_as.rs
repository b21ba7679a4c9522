//! `same as Part A`, some counts of it danced otherwise, on the same foot or the other.

use super::build::Builder;
use super::claims::OtherFootClaim;
use super::finding::Fault;
use super::item::{Exchange, Item};
use super::line::Line;
use super::model::{StepLine, StepUse};
use super::words::nearest;

/// Parts whose names are compared with a mistyped one.
const MOST_COMPARED: usize = 300;

impl Builder<'_> {
    /// The steps that another part has, as the item says. `None` where there is no such part.
    pub(super) fn same_as_steps(
        &mut self,
        line: &Line<'_>,
        item: &Item,
        name: &str,
    ) -> Option<Vec<StepUse>> {
        let Some((part, steps)) = (self.same_as)(name) else {
            let nearest =
                nearest(name, self.above.iter().take(MOST_COMPARED).map(|p| p.name.as_str()));
            self.find(
                line,
                item.body_place,
                Fault::NoPartAbove { nearest: nearest.map(str::to_string) },
            );
            self.out.complete = false;
            self.out.only_unknown = false;
            return None;
        };
        if let Some(place) = item.other_foot {
            self.out.other_foot.push(OtherFootClaim {
                line: line.number,
                column: line.column(place.0),
                words: line.typed_between(place.0, place.1),
                part,
                from_left: self.free,
            });
        }
        let Some(exchange) = item.exchange else { return Some(steps) };
        let Some(kept) = without(&steps, exchange) else {
            let has = counts(&steps);
            self.find(line, item.place, Fault::ExchangeCuts { counts: exchange.counts, has });
            self.out.complete = false;
            self.out.only_unknown = false;
            return None;
        };
        let mut new = StepLine::default();
        let (free, turned) = (self.free, self.turned);
        if exchange.last {
            self.free = kept.iter().fold(free, |free, s| s.free_foot_after(free));
        }
        for item in &item.instead {
            self.item(line, item, &mut new);
        }
        (self.free, self.turned) = (free, turned);
        if new.steps.is_empty() {
            self.find(line, item.place, Fault::NothingInstead { counts: exchange.counts });
            self.out.complete = false;
            self.out.only_unknown = false;
            return None;
        }
        if new.counts() != exchange.counts {
            let fault = Fault::LineCounts { stated: exchange.counts, steps: new.counts() };
            self.find(line, item.place, fault);
        }
        // They are counted as made when the whole is danced.
        self.made = self.made.saturating_sub(new.steps.len());
        let mut all = kept;
        if exchange.last {
            all.append(&mut new.steps);
        } else {
            new.steps.append(&mut all);
            all = new.steps;
        }
        Some(all)
    }
}

fn counts(steps: &[StepUse]) -> u32 {
    steps.iter().fold(0, |sum, s| sum.saturating_add(s.counts))
}

/// The steps without those counts; `None` where a step would be cut in two.
fn without(steps: &[StepUse], exchange: Exchange) -> Option<Vec<StepUse>> {
    (0..=steps.len()).find_map(|at| {
        let (before, after) = steps.split_at(at);
        let (goes, stays) = if exchange.last { (after, before) } else { (before, after) };
        (counts(goes) == exchange.counts).then(|| stays.to_vec())
    })
}
