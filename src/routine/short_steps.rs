//! Steps typed short: words cut with a full stop, and a foot behind movements.

use super::glossary::{name_key, only_step_begun_by};
use super::item::Item;
use super::movement::find_movement;
use super::notation::Moves;
use super::step_line::Reader;
use super::words::{self, number};

impl Reader<'_, '_, '_> {
    /// `STO DS DS RS  R  (4)`: a last R is the right foot, no rock, where only so the counts come out.
    pub(super) fn foot_behind_movements(&self, item: &mut Item, moves: &mut Moves, from: usize) {
        let Some((stated, _)) = item.stated.filter(|_| item.leads.is_empty()) else { return };
        let mut words = self.tokens[from..self.i].iter().enumerate();
        let last = words.rfind(|(_, t)| t.word().is_some_and(|w| find_movement(w).is_some()));
        let Some((at, foot)) = last.and_then(|(i, t)| Some((from + i, words::foot(t.word()?)?)))
        else {
            return;
        };
        let times = item.times.max(1);
        let (mut with, mut without) = (moves.clone(), moves.clone());
        without.drop_last();
        let comes = |moves: &mut Moves| moves.lay_out().saturating_mul(times) == stated;
        if !without.is_empty() && !comes(&mut with) && comes(&mut without.clone()) {
            item.leads.push((foot, self.place(at, at + 1)));
            *moves = without;
        }
    }

    /// `Rock. Chair`, `Charl.`, `rock chair`: words cut short, with a full stop or in a name of several, where they are one
    /// step's only.
    pub(super) fn shortened_name(&self, ahead: &[&str]) -> Option<(usize, String)> {
        const FEWEST_LETTERS: usize = 3;
        let short = |w: &&str| w.ends_with('.') && w.len() > FEWEST_LETTERS && number(w).is_none();
        let long = |w: &&str| w.len() >= FEWEST_LETTERS && w.chars().all(char::is_alphabetic);
        (1..=ahead.len().min(3)).rev().find_map(|n| {
            let words = &ahead[..n];
            let whole = || self.book.find(&name_key(&words.join(" "))).is_some();
            let cut = words.iter().any(short) || n > 1 && words.iter().all(long) && !whole();
            cut.then(|| only_step_begun_by(words)).flatten().map(|key| (n, key))
        })
    }
}
