//! The sorts of phrase on which the parts of a routine are at home.

use super::ground::Item;
use super::judgement::OTHER_KIND;

/// Where one part is at home.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Home {
    /// On this sort of phrase.
    On(u16),
    /// On any sort but these.
    NotOn(Vec<u16>),
}

/// What has been settled about where each part is at home; parts beyond the list may be anywhere.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Homes(Vec<Home>);

impl Homes {
    /// What it costs at the least that an item is danced to a sort of phrase.
    #[inline]
    pub fn price(&self, item: &Item, kind: u16) -> u32 {
        if item.fill || self.is_home(item.part, kind) { 0 } else { OTHER_KIND }
    }

    /// Whether a part may be at home on a sort of phrase.
    #[inline]
    pub fn is_home(&self, part: usize, kind: u16) -> bool {
        match self.0.get(part) {
            None => true,
            Some(Home::On(home)) => *home == kind,
            Some(Home::NotOn(kinds)) => !kinds.contains(&kind),
        }
    }

    /// The two halves of these: a part at home on a sort, and at home elsewhere.
    pub fn split(&self, part: usize, kind: u16) -> [Homes; 2] {
        let mut all = self.0.clone();
        if all.len() <= part {
            all.resize(part + 1, Home::NotOn(Vec::new()));
        }
        let mut elsewhere = match &all[part] {
            Home::On(_) => Vec::new(),
            Home::NotOn(kinds) => kinds.clone(),
        };
        elsewhere.push(kind);
        let with = |home: Home| {
            let mut homes = all.clone();
            homes[part] = home;
            Homes(homes)
        };
        [with(Home::On(kind)), with(Home::NotOn(elsewhere))]
    }
}
