//! Names made short enough for their place, and the list that says what the short ones mean.

use super::content::Block;
use super::scene::width_mm;
use super::text::shortened;

/// Letters of a name that must be left for a cut name to mean something.
const LEAST_LETTERS: usize = 3;

/// How a label is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Label {
    /// From left to right, at this share of the usual size.
    Across(String, f64),
    /// Reading upwards.
    Upwards(String),
    /// There is no room for any.
    None,
}

/// The room for a label, millimetres.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    pub width: f64,
    pub height: f64,
    /// The usual type size.
    pub size: f64,
}

/// Hands out short names and remembers which were needed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Names {
    /// All different names, in order of their first use.
    all: Vec<String>,
    /// Short form and what it stands for, in order of first use.
    pub used: Vec<(String, String)>,
    numbered: Vec<String>,
}

/// Type of a label in a narrow place, as a share of the usual size.
const SMALLER: f64 = 0.8;
/// Height of a line of upward text, in multiples of its type size.
const LINE: f64 = 1.2;

impl Names {
    pub(crate) fn new<'a>(blocks: impl Iterator<Item = &'a Block>) -> Names {
        let mut names = Names::default();
        for block in blocks {
            if !names.all.contains(&block.name) {
                names.all.push(block.name.clone());
            }
        }
        names
    }

    /// The best label for a block: the whole name if it fits in any way, else a short one.
    pub(crate) fn label(&mut self, heads: &[String], block: &Block, place: Place) -> Label {
        let across =
            |words: &str, share: f64| width_mm(words, place.size * share, true) <= place.width;
        let small = place.size * SMALLER;
        let upwards_fits = place.width >= small * LINE;
        for share in [1.0, SMALLER] {
            if let Some(head) = heads.iter().find(|h| across(h, share)) {
                return Label::Across(head.clone(), share);
            }
        }
        let whole_upwards = heads.iter().find(|h| width_mm(h, small, true) <= place.height);
        if let Some(head) = whole_upwards.filter(|_| upwards_fits) {
            return Label::Upwards(head.clone());
        }
        if let Some(short) = self.cut(&block.name, place.width / small) {
            return Label::Across(short, SMALLER);
        }
        let number = self.number(&block.name);
        if across(&number, SMALLER) {
            self.give_number(number.clone(), &block.name);
            return Label::Across(number, SMALLER);
        }
        if upwards_fits && width_mm(&number, small, true) <= place.height {
            self.give_number(number.clone(), &block.name);
            return Label::Upwards(number);
        }
        self.remember(
            format!("at count {}", block.start),
            heads.first().cloned().unwrap_or_default(),
        );
        Label::None
    }

    /// The name cut to a width in multiples of the type size, if no other name is cut alike.
    fn cut(&mut self, name: &str, most_em: f64) -> Option<String> {
        let short = shortened(name, most_em, true, LEAST_LETTERS)?;
        let beginning = short.trim_end_matches('…');
        if self.all.iter().filter(|n| n.starts_with(beginning)).count() != 1 {
            return None;
        }
        self.remember(short.clone(), name.to_string());
        Some(short)
    }

    /// The number a name has, or would get.
    fn number(&self, name: &str) -> String {
        let at = self.numbered.iter().position(|n| n == name).unwrap_or(self.numbered.len());
        format!("#{}", at + 1)
    }

    fn give_number(&mut self, number: String, name: &str) {
        if !self.numbered.iter().any(|n| n == name) {
            self.numbered.push(name.to_string());
        }
        self.remember(number, name.to_string());
    }

    fn remember(&mut self, short: String, name: String) {
        if short == name || self.used.iter().any(|(s, _)| *s == short) {
            return;
        }
        // Of several cuts of one name the shortest explains the others.
        let is_cut = |s: &str| s.ends_with('…');
        let other = self.used.iter_mut().find(|(s, n)| *n == name && is_cut(s));
        match other.filter(|_| is_cut(&short)) {
            Some((other, _)) if other.len() > short.len() => *other = short,
            Some(_) => {}
            None => self.used.push((short, name)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::content::Look;
    use super::*;
    use crate::units::Count;

    fn block(name: &str) -> Block {
        Block {
            start: Count(9),
            end: Count(17),
            look: Look::Set,
            name: name.into(),
            heads: vec![name.into()],
            tails: vec![],
            sentence: String::new(),
        }
    }

    fn place(width: f64) -> Place {
        Place { width, height: 8.0, size: 3.0 }
    }

    #[test]
    fn names_cut_alike_get_a_number_instead() {
        let (one, two) = (block("Verse with turns one"), block("Verse with turns two"));
        let mut names = Names::new([&one, &two].into_iter());
        let label = names.label(&one.heads, &one, place(14.0));
        assert_eq!(label, Label::Across("#1".into(), SMALLER));
        assert_eq!(names.used, [("#1".to_string(), one.name.clone())]);
    }

    #[test]
    fn a_cut_name_is_explained() {
        let one = block("Chorus with the long clap");
        let mut names = Names::new([&one, &block("Verse")].into_iter());
        let Label::Across(short, _) = names.label(&one.heads, &one, place(14.0)) else { panic!() };
        assert!(short.ends_with('…'));
        assert_eq!(names.used, [(short, one.name.clone())]);
    }

    #[test]
    fn a_block_too_narrow_for_words_is_named_by_its_count() {
        let one = block("Chorus");
        let mut names = Names::new([&one].into_iter());
        assert_eq!(names.label(&one.heads, &one, place(0.5)), Label::None);
        assert_eq!(names.used, [("at count 9".to_string(), "Chorus".to_string())]);
    }
}
