//! Words around the steps of a line: whom, how often, on which foot; and feet and numbers behind a step's comma.

use super::glossary::name_key;
use super::heading::part_word;
use super::item::{Body, Item};
use super::phrases::{is_style_word, times_word};
use super::repeat_line::to_each_wall;
use super::step_line::Reader;
use super::token::Piece;
use super::vocabulary::step_at;
use super::words::{self, bare, is_bars_word, is_foot_word, number};

impl Reader<'_, '_, '_> {
    /// Whether what stands in front of a step is what the bracket here does: something other than a call follows.
    pub(super) fn names_follow(&self) -> bool {
        let next = self.tokens.get(self.i + 1).map(|t| t.piece);
        next.is_some_and(|piece| !matches!(piece, Piece::Quote(_)))
    }

    /// Whether two words with capitals in front begin a name, the first a whole word: `Heel Batter`, not `DS Hop`.
    pub(super) fn is_name_of_its_own(&self) -> bool {
        let capital = |w: &str| {
            let mut letters = w.chars();
            letters.next().is_some_and(char::is_uppercase)
                && w.len() > 3
                && letters.all(char::is_lowercase)
        };
        let second = self.word(1).filter(|w| capital(w));
        let plain = |w: &str| !is_style_word(&w.to_lowercase()) && words::foot(w).is_none();
        self.word(0).is_some_and(capital) && second.is_some_and(plain)
    }

    /// `L   Rocking Chair`: a foot in front of a step's name.
    pub(super) fn foot_of_a_step(&self) -> bool {
        let mut ahead = self.words_ahead();
        // `left foot and do two Joeys`
        let leads = |w: &&&str| is_foot_word(w) || matches!(&*w.to_lowercase(), "and" | "do");
        let led = ahead.iter().skip(1).take_while(leads).count();
        ahead.drain(1..(1 + led).min(ahead.len().max(1)));
        let counted = usize::from(
            ahead.get(1).is_some_and(|w| number(w).is_some() || times_word(w).is_some()),
        );
        self.step_named_by(&ahead[(1 + counted).min(ahead.len())..]).is_some()
    }

    /// The key of the step that words begin with, by as many of them as name one, and how many these are.
    pub(super) fn step_named_by(&self, words: &[&str]) -> Option<(String, usize)> {
        const MOST_WORDS: usize = 4;
        (1..=words.len().min(MOST_WORDS)).rev().find_map(|n| {
            let key = name_key(&words[..n].join(" "));
            self.book.find(&key).is_some().then_some((key, n))
        })
    }

    /// `Seven to the right`: a number in words with no step behind it, only where it goes, is a step's name.
    pub(super) fn is_a_name(&self, word: &str) -> bool {
        let goes = |w: &str| matches!(w.to_lowercase().as_str(), "to" | "back" | "forward");
        let (next, side) = (self.word(1), self.word(2));
        let to_a_side = next.is_some_and(|w| w.eq_ignore_ascii_case("to"))
            && side.is_some_and(|w| w.eq_ignore_ascii_case("the"));
        number(word).is_some_and(|n| n > 1)
            && word.chars().all(char::is_alphabetic)
            && (to_a_side || next.is_some_and(goes) && side.is_some_and(goes))
    }

    /// `Step two Basics`, `Step a Triple`: the word says to dance, and is no step.
    pub(super) fn is_verb(&self, word: &str) -> bool {
        let verb = matches!(
            word.to_lowercase().as_str(),
            "step" | "walk" | "go" | "add" | "perform" | "try"
        );
        let counted = |w: &str| {
            number(w).is_some() && !w.starts_with(|c: char| c.is_ascii_digit())
                || matches!(w.to_lowercase().as_str(), "a" | "an" | "into")
        };
        let ahead = self.words_ahead();
        verb && ahead.get(1).is_some_and(|w| counted(w))
            && step_at(&ahead[2.min(ahead.len())..]).is_some()
    }

    /// `a triple and another triple`: the step behind `another`.
    pub(super) fn another_step_follows(&self) -> bool {
        let ahead = self.words_ahead();
        let said =
            |i: usize, word: &str| ahead.get(i).is_some_and(|w| w.eq_ignore_ascii_case(word));
        let article = said(0, "a") || said(0, "an") || said(0, "the");
        (said(0, "another") || article) && step_at(&ahead[1..]).is_some()
            || said(0, "one") && said(1, "more") && step_at(&ahead[2..]).is_some()
    }

    /// `All of Chorus 1`.
    pub(super) fn all_of_a_part(&self) -> bool {
        let of = self.word(1).is_some_and(|w| w.eq_ignore_ascii_case("of"));
        of && self.word(2).is_some_and(|w| part_word(w).is_some())
    }

    /// `ALL stomp L R L`: who dances.
    pub(super) fn is_everyone(&self, word: &str) -> bool {
        let said = word.trim_end_matches(':');
        let all = ["all", "everyone", "everybody"].iter().any(|w| said.eq_ignore_ascii_case(w));
        let ahead = self.words_ahead();
        let behind = &ahead[1..];
        let called = self.word(0).is_some_and(|w| w.ends_with(':'));
        let counted = called && behind.first().is_some_and(|w| number(w).is_some());
        all && (step_at(behind).is_some() || counted && behind.len() > 1)
    }

    /// `Charleston, done twice`: the word only leads to how often.
    pub(super) fn is_done(&self, word: &str) -> bool {
        let done = ["done", "danced", "all", "both"].iter().any(|w| word.eq_ignore_ascii_case(w));
        done && self.word(1).is_some_and(|w| times_word(w).is_some())
    }

    /// Feet alone up to the next sign, behind a named step.
    pub(super) fn feet_of_the_step_before(&mut self, item: &mut Item) -> bool {
        let mut ahead = self.words_ahead();
        // `Joey, left foot twice`
        ahead.truncate(ahead.iter().position(|w| times_word(w).is_some()).unwrap_or(ahead.len()));
        // `Treble Hop, four times, L R L R`; of `2 Joeys, one left, one right` the second foot stands behind the first.
        let no_step = |i: &&Item| i.body == Body::Nothing && (i.times > 1 || !i.leads.is_empty());
        let last = self.out.items.iter().rev().find(|i| !no_step(i)).map(|i| &i.body);
        let unknown = matches!(last, Some(Body::Unknown));
        let named = matches!(last, Some(Body::Known(_))) || unknown && ahead.len() >= 2;
        let joins = |w: &str| {
            matches!(w, "&" | "and" | "then" | "in" | "turn" | "alternating" | "first")
                || is_foot_word(&w.to_lowercase())
        };
        let all = ahead.iter().all(|w| words::foot(w).is_some() || joins(w));
        let any = ahead.iter().any(|w| words::foot(w).is_some());
        if !named || !any || !all {
            return false;
        }
        for (n, word) in ahead.iter().enumerate() {
            let place = self.place(self.i + n, self.i + n + 1);
            item.leads.extend(words::foot(word).map(|foot| (foot, place)));
        }
        self.i += ahead.len();
        true
    }

    /// Whether a word behind `repeat` names a part: its usual word, or a letter that is no foot.
    pub(super) fn names_a_part(&self, word: &str) -> bool {
        let letter = word.len() == 1 && word.starts_with(|c: char| c.is_ascii_uppercase());
        part_word(word).is_some() || letter && words::foot(word).is_none()
    }

    /// `8 Claps, freeze on the last one`, `Stomp, and hold it!`: the last of the steps before it is held, and no count comes
    /// behind it.
    pub(super) fn stands_on_the_last(&self) -> bool {
        let ahead = self.words_ahead();
        let said = |i: usize, w: &str| ahead.get(i).is_some_and(|a| bare(a) == w);
        let on_the_last = said(1, "on") && said(2, "the") && said(3, "last")
            || said(1, "your") && said(2, "last");
        let it = ahead.len() == 2 && (said(1, "it") || said(1, "that"));
        !self.out.items.is_empty() && (on_the_last || it)
    }

    /// `Chug on the beat`, behind other steps: where a movement of theirs falls.
    pub(super) fn says_where_it_falls(&self) -> bool {
        let ahead = self.words_ahead();
        let said = |i: usize, words: &[&str]| {
            ahead.get(i).is_some_and(|a| words.iter().any(|w| a.eq_ignore_ascii_case(w)))
        };
        let last = ahead.len().wrapping_sub(1);
        // `Basics, one to a bar`, `Basics, walk around in a circle`, `8 Steps, walk a full circle to the right`
        let to_a_bar = said(0, &["to", "per"]) && ahead.last().is_some_and(|w| is_bars_word(w));
        let walked = said(0, &["walk", "walking", "go", "going"])
            && (1..=last).any(|i| said(i, &["circle", "ring", "around", "round"]))
            && self.tokens.len() == self.i + ahead.len();
        // `Repeat 3 more times, one to each wall`
        let to_walls = to_each_wall(&ahead) == Some(ahead.len());
        // `2 Chains, one each way`
        let each_way = said(0, &["each"]) && said(1, &["way"]) && last == 1;
        if !self.out.items.is_empty() && (to_a_bar || walked || to_walls || each_way) {
            return true;
        }
        if self.stands_on_the_last() && said(0, &["pause", "hold", "rest", "freeze", "wait"]) {
            return true;
        }
        let clapped = said(0, &["clap", "claps", "clapping"]) && said(1, &["on", "with", "at"]);
        if !self.out.items.is_empty() && clapped {
            return true;
        }
        !self.out.items.is_empty()
            && said(1, &["on"])
            && said(2, &["the", "every", "each"])
            && said(ahead.len() - 1, &["beat", "count", "upbeat", "downbeat"])
    }
}

/// `Cowboy, R (8)`: feet alone behind a step's comma are those that it starts on.
pub(super) fn feet_behind_commas(items: &mut Vec<Item>) {
    let mut i = 1;
    while i < items.len() {
        let (before, here) = items.split_at_mut(i);
        let (step, feet) = (&mut before[i - 1], &mut here[0]);
        // `Joey, left foot twice`
        let once = step.times == 1 && step.bare.is_none();
        let alone = feet.body == Body::Nothing
            && (feet.times == 1 || once && feet.bare.is_none())
            && feet.turn == 0
            && feet.wall.is_none()
            && !feet.leads.is_empty()
            && matches!(step.body, Body::Known(_) | Body::Unknown)
            && (step.stated.is_none() || feet.stated.is_none());
        if !alone {
            i += 1;
            continue;
        }
        step.leads.append(&mut feet.leads);
        step.notes.append(&mut feet.notes);
        if feet.times > 1 {
            step.set_times(feet.times);
        }
        step.stated = step.stated.or(feet.stated);
        items.remove(i);
    }
}

/// `Repeat, turn R   16`: counts behind other words are those of what is repeated.
pub(super) fn counts_of_a_repeat(items: &mut Vec<Item>) {
    let [first, .., last] = &mut items[..] else { return };
    let again = matches!(first.body, Body::Repeat { .. }) && first.stated.is_none();
    let other = matches!(last.body, Body::Unknown | Body::Nothing) && last.times == 1;
    if again && other && last.stated.is_some() && last.turn == 0 && last.wall.is_none() {
        first.stated = last.stated;
        items.pop();
    }
}

/// `Walk around yourself, 8 counts`: counts behind the comma of the only step of a line, which nobody knows.
pub(super) fn counts_behind_commas(items: &mut Vec<Item>) {
    let [step, counts, ..] = &mut items[..] else { return };
    let open = step.body == Body::Unknown && step.stated.is_none() && step.moves.is_none();
    let alone = counts.body == Body::Nothing && counts.turn == 0 && counts.wall.is_none();
    if open && alone && counts.stated.is_some() {
        step.stated = counts.stated;
        items.remove(1);
    }
}

/// `Rocking Chair, 1/4 turn left, four times`: how often, behind a turn that stands behind a step's comma; it turns each time.
pub(super) fn times_behind_turns(items: &mut Vec<Item>) {
    let only_turns = |i: &Item| {
        let counted = i.stated.is_some() && i.times == 1;
        let said = counted || i.bare.is_some() || i.wall.is_some();
        i.body == Body::Nothing && i.turn != 0 && !said && i.leads.is_empty()
    };
    let only_times = |i: &Item| {
        let turns = i.turn != 0 || i.turn_to.is_some() || i.wall.is_some();
        i.body == Body::Nothing && i.times > 1 && i.bare.is_none() && !turns
    };
    let open = |i: &Item| {
        let turns = i.turn != 0 || i.turn_to.is_some();
        matches!(i.body, Body::Known(_) | Body::Unknown)
            && i.times == 1
            && i.bare.is_none()
            && !turns
    };
    let mut at = 1;
    while at < items.len() {
        let [step, turn, rest @ ..] = &mut items[at - 1..] else { return };
        let behind = rest.first_mut().filter(|i| turn.times == 1 && only_times(i));
        if open(step) && only_turns(turn) && (turn.times > 1 || behind.is_some()) {
            step.times = turn.times;
            (step.turn, step.turn_each) = (turn.turn, true);
            step.stated = step.stated.or(turn.stated);
            step.notes.append(&mut turn.notes);
            let mut used = 1;
            if let Some(often) = behind {
                step.times = often.times;
                step.stated = step.stated.or(often.stated);
                step.notes.append(&mut often.notes);
                used = 2;
            }
            items.drain(at..at + used);
        }
        at += 1;
    }
}

/// `Joey L, Joey R (turn 1/4 L on each)`: each of the steps of one name before it turns.
pub(super) fn turns_of_each(items: &mut [Item]) {
    let [before @ .., last] = items else { return };
    if !last.turn_each || last.turn == 0 || last.times != 1 {
        return;
    }
    let still = |i: &Item| i.turn == 0 && i.turn_to.is_none() && i.wall.is_none();
    let named = matches!(last.body, Body::Known(_));
    let alike = |i: &&mut Item| named && i.body == last.body && i.times == 1 && still(i);
    for item in before.iter_mut().rev().take_while(alike) {
        (item.turn, item.turn_each) = (last.turn, true);
    }
}

/// `Basic, Basic     L R`, `1 Fancy Double, 2 Basics (L, L, R)`: as many feet behind the last of several steps as they are
/// danced times together.
pub(super) fn feet_of_each(items: &mut [Item]) {
    let Some((last, before)) = items.split_last_mut() else { return };
    let feet = last.leads.len() as u32;
    let named = |i: &Item| {
        matches!(i.body, Body::Known(_) | Body::Unknown | Body::Moves) && i.turn_to.is_none()
    };
    let open = |i: &&mut Item| named(i) && i.leads.is_empty();
    let all = before.iter_mut().all(|i| open(&i)) && named(last);
    let times = before.iter().map(|i| i.times).chain([last.times]).fold(0, u32::saturating_add);
    if !all || before.is_empty() || feet < 2 || feet != times {
        return;
    }
    let mut leads = std::mem::take(&mut last.leads).into_iter();
    for item in before.iter_mut().chain([last]) {
        item.leads.extend(leads.by_ref().take(item.times as usize));
    }
}

/// `Basics, 4`: a number alone behind a step's comma is how often it is danced.
pub(super) fn numbers_behind_commas(items: &mut Vec<Item>) {
    let mut i = 1;
    while i < items.len() {
        let nothing_else = items[i].turn == 0
            && items[i].wall.is_none()
            && items[i].stated.is_none_or(|_| items[i - 1].stated.is_none());
        let number_alone = match (&items[i].body, items[i].bare) {
            (Body::Nothing, Some(n)) => Some(n),
            (Body::Nothing, None) if items[i].times > 1 => Some(items[i].times),
            _ => None,
        };
        let number_alone = number_alone.filter(|_| nothing_else);
        let before = &items[i - 1];
        let open = matches!(before.body, Body::Known(_) | Body::Moves | Body::Unknown)
            && before.times == 1
            && before.bare.is_none();
        match number_alone.filter(|_| open) {
            Some(n) => {
                items[i - 1].times = n;
                items[i - 1].bare = Some(n).filter(|_| items[i].stated.is_none());
                items[i - 1].stated = items[i - 1].stated.or(items[i].stated);
                let notes = std::mem::take(&mut items[i].notes);
                items[i - 1].notes.extend(notes);
                items.remove(i);
            }
            None => i += 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::parse;

    fn counts_and_turns(line: &str) -> Vec<(u32, i32)> {
        let (routine, findings) = parse(&format!("Wren Lane\n\nPart A\n{line}\n"));
        assert!(findings.iter().all(|f| !f.is_mistake()), "{line}: {findings:?}");
        let steps = routine.parts.iter().flat_map(|p| &p.lines).flat_map(|l| &l.steps);
        steps.map(|s| (s.counts, s.eighths())).collect()
    }

    #[test]
    fn feet_and_how_often_stand_behind_one_comma() {
        assert_eq!(counts_and_turns("Joey, left foot twice"), [(4, 0), (4, 0)]);
        assert_eq!(counts_and_turns("Begin with the left foot and do two Joeys"), [(4, 0), (4, 0)]);
    }

    #[test]
    fn each_of_the_steps_of_one_name_turns() {
        let said = counts_and_turns("Joey L, Joey L (turn 1/4 R on each)");
        assert_eq!(said, [(4, 2), (4, 2)]);
        assert_eq!(counts_and_turns("Chain, Joey (turn 1/4 R)"), [(4, 0), (4, 2)]);
    }

    #[test]
    fn the_last_of_several_steps_is_held() {
        assert_eq!(counts_and_turns("4 Claps, freeze on the last one").len(), 4);
        assert_eq!(counts_and_turns("3 Claps, freeze").len(), 4);
    }

    #[test]
    fn a_step_is_danced_so_often_in_so_many_ways() {
        assert_eq!(counts_and_turns("Joey forward x 2"), [(4, 0), (4, 0)]);
        assert_eq!(counts_and_turns("1. Joey moving up x2"), [(4, 0), (4, 0)]);
        assert_eq!(counts_and_turns("8 cts - 2 Joeys"), [(4, 0), (4, 0)]);
        assert_eq!(counts_and_turns("2 - Joeys (up)"), [(4, 0), (4, 0)]);
        assert_eq!(counts_and_turns("(1) Joey  (1) Stomp"), [(4, 0), (1, 0)]);
        assert_eq!(counts_and_turns("2 Joeys, one left, one right"), [(4, 0), (4, 0)]);
        assert_eq!(counts_and_turns("Basic, making a half turn left"), [(2, -4)]);
    }

    #[test]
    fn movements_may_stand_in_front_of_their_steps() {
        let rows = "DS DS DS RS     Triple, turn 1/2 R     4\nDS DS RS RS     Fancy Double     4";
        assert_eq!(counts_and_turns(rows), [(4, 4), (4, 0)]);
    }

    #[test]
    fn counts_beneath_movements_lay_them_out() {
        let joey = "2 Joeys - 8 counts\n  DS BA(xib) BA BA BA(xib) BA S\n  &1 & 2 & 3 & 4";
        assert_eq!(counts_and_turns(joey), [(4, 0), (4, 0)]);
        assert_eq!(counts_and_turns("2 Brush Ups\n  DS BR\n  &1 &2"), [(2, 0), (2, 0)]);
    }

    #[test]
    fn what_is_said_of_a_step_is_none() {
        assert_eq!(counts_and_turns("4 Triples, 2 forward and 2 back (16)").len(), 4);
        assert_eq!(counts_and_turns("(1) Stomp right & hold"), [(1, 0)]);
        assert_eq!(
            counts_and_turns("2 Joeys\nFirst Joey to the left, second to the right").len(),
            2
        );
        assert_eq!(counts_and_turns("1 Stomp, left foot, and hold it!"), [(1, 0)]);
        assert_eq!(counts_and_turns("Triple - kick on beat 4"), [(4, 0)]);
        assert_eq!(counts_and_turns("Triple\nTriples take four beats each, so listen!"), [(4, 0)]);
    }

    #[test]
    fn counts_in_front_of_a_dash_are_asked_of_nothing() {
        let (_, findings) = parse("Wren Lane\n\nPart A (16)\n8 cts - 2 Joeys\n8 cts - 4 Basics\n");
        let asked = findings.iter().any(|f| f.words.contains("cts"));
        assert!(!asked, "{findings:?}");
    }
}
