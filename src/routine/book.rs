//! The steps that a sheet may use: the glossary's and those that the sheet defines.

use std::collections::BTreeMap;

use super::glossary;
use super::model::StepUse;
use super::words::nearest;

/// A step defined in the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Defined {
    /// What it is.
    pub step: StepUse,
    /// Line of the definition, 1-based.
    pub line: usize,
}

/// Steps by the key of their name. The sheet's own come first.
#[derive(Debug, Clone, Default)]
pub struct Book {
    own: BTreeMap<String, Defined>,
}

impl Book {
    /// The step of that key.
    pub fn find(&self, key: &str) -> Option<&StepUse> {
        match self.own.get(key) {
            Some(defined) => Some(&defined.step),
            None => glossary::find_by_key(key).map(|(_, step)| step),
        }
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
        let mut names: Vec<&str> =
            self.own.values().take(MOST_OWN).map(|d| d.step.name.as_str()).collect();
        for name in glossary::names() {
            names.push(name);
        }
        let shorter = typed.trim_end_matches(['s', 'S']);
        let found = nearest(shorter, names)?;
        Some(match glossary::find(found) {
            Some((step, _)) if !self.own.contains_key(&glossary::name_key(found)) => {
                step.name.to_string()
            }
            _ => found.to_string(),
        })
    }
}
