//! The steps that a sheet may use: the glossary's and those that the sheet defines.

use std::collections::{BTreeMap, BTreeSet};

use super::glossary;
use super::model::StepUse;
use super::words::{is_slip_of_keys, key, nearest};

/// A step defined in the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Defined {
    /// What it is.
    pub step: StepUse,
    /// Line of the definition, 1-based.
    pub line: usize,
}

/// Steps by the key of their name. The sheet's own come first, then those of files of steps, then the
/// glossary's.
#[derive(Debug, Clone, Default)]
pub struct Book {
    own: BTreeMap<String, Defined>,
    filed: BTreeMap<String, StepUse>,
    /// Whether the sheet is a waltz, so that the glossary's steps fill bars of three counts.
    pub in_three: bool,
    /// Names of no book that stand on the sheet more than once.
    recurring: BTreeSet<String>,
}

impl Book {
    /// Takes in names that stand on the sheet more than once.
    pub fn recur(&mut self, names: impl IntoIterator<Item = String>) {
        self.recurring.extend(names);
    }

    /// The step of that key.
    pub fn find(&self, key: &str) -> Option<&StepUse> {
        match self.own.get(key) {
            Some(defined) => Some(&defined.step),
            None => self.beside_the_sheet(key),
        }
    }

    /// The step of that key in a file of steps, else in the glossary.
    pub fn beside_the_sheet(&self, key: &str) -> Option<&StepUse> {
        let filed = self.filed.get(key);
        let built_in = || match self.in_three {
            true => glossary::find_in_three(key),
            false => glossary::find_by_key(key).map(|(_, step)| step),
        };
        filed.or_else(built_in).or_else(|| glossary::known_by_length(key))
    }

    /// The step of that key in a file of steps, where the glossary has another of this name.
    pub fn filed_otherwise(&self, key: &str) -> Option<(&StepUse, &'static StepUse)> {
        let filed = self.filed.get(key)?;
        let (_, built_in) = glossary::find_by_key(key)?;
        (!self.own.contains_key(key) && filed.movements != built_in.movements)
            .then_some((filed, built_in))
    }

    /// Takes in the steps of files.
    pub fn with_filed(filed: BTreeMap<String, StepUse>) -> Book {
        Book { filed, ..Book::default() }
    }

    /// Names that stand for one name danced in several ways, `Cowboy (Texas)`, `Cowboy (Ohio)`.
    pub fn ways_of(&self, key: &str) -> Vec<&str> {
        let start = format!("{key} (");
        let own = self.own.iter().map(|(k, d)| (k, d.step.name.as_str()));
        let filed = self.filed.iter().map(|(k, s)| (k, s.name.as_str()));
        own.chain(filed).filter(|(k, _)| k.starts_with(&start)).map(|(_, name)| name).collect()
    }

    /// Adds a step. The first definition of a name stands; gives it back when there was one.
    pub fn define(&mut self, key: String, step: StepUse, line: usize) -> Option<&Defined> {
        use std::collections::btree_map::Entry;
        match self.own.entry(key) {
            Entry::Occupied(first) => Some(first.into_mut()),
            Entry::Vacant(place) => {
                place.insert(Defined { step, line });
                None
            }
        }
    }

    /// The name that `typed` most likely means.
    pub fn nearest(&self, typed: &str) -> Option<String> {
        // A sheet with thousands of own steps is not searched through for each mistyped word.
        const MOST_OWN: usize = 200;
        let own = self.own.values().take(MOST_OWN).map(|d| d.step.name.as_str());
        let filed = self.filed.values().take(MOST_OWN).map(|s| s.name.as_str());
        let shorter = typed.trim_end_matches(['s', 'S']);
        let (whole, short) = (key(typed), key(shorter));
        let is_slip = |name: &str| is_slip_of_keys(&short, name) || is_slip_of_keys(&whole, name);
        let own = own.chain(filed).filter(|name| is_slip(&key(name)));
        let built_in = glossary::names_with_keys().filter(|(_, key)| is_slip(key));
        let slips = own.chain(built_in.map(|(name, _)| name));
        let found = nearest(shorter, slips)?;
        // `Flap` again and again is no slip of `Clap`: those seldom begin a word, and seldom come twice.
        let first = |name: &str| glossary::name_key(name).chars().next();
        if self.recurring.contains(&glossary::name_key(typed)) && first(found) != first(typed) {
            return None;
        }
        Some(match glossary::find(found) {
            Some((step, _)) if !self.is_own(&glossary::name_key(found)) => step.name.to_string(),
            _ => found.to_string(),
        })
    }

    /// The sheet's own steps, each with its line.
    pub fn own_steps(self) -> BTreeMap<String, (StepUse, usize)> {
        self.own.into_iter().map(|(key, d)| (key, (d.step, d.line))).collect()
    }

    fn is_own(&self, key: &str) -> bool {
        self.own.contains_key(key) || self.filed.contains_key(key)
    }
}
