//! A line of a line dance's sheet: counts in front, then what is danced in words.
//! `1&2 Shuffle forward RLR`, `5-8 Rock R forward, recover L, rock R back, recover L`.

use crate::units::Foot;

use super::finding::Fault;
use super::item::{Item, Parsed, Place};
use super::line_figures::{codes, feet_word, is_way, step_named};
use super::line_marks::Marks;
use super::model::StepUse;
use super::movement::{MovementUse, QUARTERS_PER_COUNT, Quarters, find_movement};
use super::phrases::wall_claim;
use super::words::{foot, length, number, placed_words, turn};

/// What a clause says.
#[derive(Debug, Clone, Default)]
struct Clause {
    moves: Vec<&'static str>,
    feet: Vec<(Foot, Place)>,
    name: String,
    /// Eighths of a turn in it.
    turn: i32,
    /// Whether its figure is named in the plural: `sways`.
    several: bool,
    /// How often its figure is danced, where a number says so.
    times: usize,
    /// Whether it names a foot and nothing else.
    only_feet: bool,
}

/// Reads the words behind counts as a line dance's sheet has them. The item's movements are laid on the
/// marks; `None` where some words are no step, or the steps do not go with the counts.
pub fn read_line_steps(text: &str, marks: &Marks) -> Option<Parsed> {
    let mut item = Item::of_moves((marks.at, text.trim_end().len()));
    let mut clauses: Vec<Clause> = Vec::new();
    for (from, to) in clauses_of(text, marks.at) {
        let clause = read_clause(text, from, to, clauses.last(), &mut item)?;
        if !clause.moves.is_empty() {
            clauses.push(clause);
        }
    }
    let mut out = Parsed::default();
    if clauses.is_empty() {
        return None;
    }
    let laid = lay_on_marks(&clauses, marks).or_else(|| {
        let joined = feet_of_one_figure(&clauses);
        let laid = lay_on_marks(&joined, marks)?;
        clauses = joined;
        Some(laid)
    });
    let laid = laid.or_else(|| {
        clauses = as_long_as_the_marks(&clauses, marks);
        lay_on_marks(&clauses, marks)
    });
    let moves: Vec<&'static str> = clauses.iter().flat_map(|c| c.moves.iter().copied()).collect();
    if laid.is_none() {
        let steps = clauses.iter().map(|c| usual_counts(&c.moves)).sum();
        out.faults.push((
            Fault::LineCounts { stated: marks.counts, steps },
            (marks.at.min(text.len()) - text[..marks.at].trim_start().len(), marks.at),
        ));
    }
    let places = laid.unwrap_or_else(|| {
        // Reading goes on with the counts in front.
        let last = marks.counts * QUARTERS_PER_COUNT;
        (1..=moves.len()).map(|i| (i as u32 * QUARTERS_PER_COUNT).min(last)).collect()
    });
    let mut uses = Vec::with_capacity(moves.len());
    for (code, place) in moves.iter().zip(places) {
        let mut one = MovementUse::new(find_movement(code)?);
        one.sounds = if one.movement.timing.sounds().is_empty() { Vec::new() } else { vec![place] };
        uses.push(one);
    }
    let mut index = 0;
    for clause in &clauses {
        let each = moves_for_each_foot(clause);
        for (i, (foot, place)) in clause.feet.iter().enumerate().take(clause.moves.len()) {
            item.sequence.push((index + i * each, *foot, *place));
        }
        index += clause.moves.len();
    }
    let names: Vec<&str> = clauses.iter().map(|c| c.name.as_str()).collect();
    item.moves = Some(StepUse::from_moves(&names.join(", "), uses, marks.counts));
    out.items.push(item);
    Some(out)
}

/// How many movements each foot of a clause stands for: `4 toe struts R L R L` has a foot for each strut, on which it
/// starts.
fn moves_for_each_foot(clause: &Clause) -> usize {
    let (moves, feet) = (&clause.moves, clause.feet.len());
    if feet < 2 || !moves.len().is_multiple_of(feet) {
        return 1;
    }
    let each = moves.len() / feet;
    let same = moves.chunks(each).all(|figure| figure == &moves[..each]);
    if same { each } else { 1 }
}

/// `Shuffle back R, L, R`, `4 toe struts R, L, R, L`: the feet of one figure of three steps, or of figures, one by one.
fn feet_of_one_figure(clauses: &[Clause]) -> Vec<Clause> {
    const STEPS: usize = 3;
    let mut out: Vec<Clause> = Vec::new();
    for clause in clauses {
        let goes_on = clause.only_feet && clause.feet.len() == 1;
        let open = |last: &&mut Clause| {
            let steps = if last.moves.len() == STEPS { STEPS } else { last.times };
            (1..steps).contains(&last.feet.len())
        };
        match out.last_mut().filter(|_| goes_on).filter(open) {
            Some(last) => last.feet.extend(clause.feet.iter().copied()),
            None => out.push(clause.clone()),
        }
    }
    out
}

/// Counts that movements usually take: three steps are two counts, `1&2`.
fn usual_counts(moves: &[&str]) -> u32 {
    match moves.len() {
        3 => 2,
        n => n as u32,
    }
}

/// What may take more counts than its movements, where the counts in front say so: a pivot is danced with the step
/// before it, and one figure in the plural goes on to the end.
fn as_long_as_the_marks(clauses: &[Clause], marks: &Marks) -> Vec<Clause> {
    let mut out = clauses.to_vec();
    if let [only] = &mut out[..]
        && only.several
        && only.moves.len() == 1
        && only.feet.len() < 2
    {
        only.moves = vec![only.moves[0]; marks.places.len()];
        return out;
    }
    for (i, clause) in out.iter_mut().enumerate() {
        let before = i.checked_sub(1).and_then(|b| clauses.get(b));
        let steps = before.is_some_and(|b| b.moves == ["S"] && b.name != "pivot");
        if clause.name == "pivot" && !steps {
            clause.moves = clause.moves.iter().flat_map(|m| ["S", *m]).collect();
        }
    }
    out
}

/// The feet of letters one after another, `R L R L`, at the start of the words.
fn feet_one_by_one(words: &[(&str, Place)]) -> Vec<(Foot, Place)> {
    let letter = |w: &&(&str, Place)| matches!(w.0, "R" | "L");
    let run = words.iter().take_while(letter).filter_map(|(w, place)| Some((foot(w)?, *place)));
    let feet: Vec<(Foot, Place)> = run.collect();
    let change = feet.windows(2).all(|pair| pair[0].0 != pair[1].0);
    let ends = words.get(feet.len()).is_none();
    if feet.len() > 1 && change && ends { feet } else { Vec::new() }
}

/// Where each movement falls: on the marks one by one; else three-step figures on `1&2` and the others on a
/// count each. Claps may fall together with what comes before them.
fn lay_on_marks(clauses: &[Clause], marks: &Marks) -> Option<Vec<Quarters>> {
    let number: usize = clauses.iter().map(|c| c.moves.len()).sum();
    if number == marks.places.len() {
        return Some(marks.places.clone());
    }
    let claps = clauses.iter().flat_map(|c| &c.moves).filter(|m| **m == "CLAP").count();
    if claps > 0 && number - claps == marks.places.len() && clauses[0].moves[0] != "CLAP" {
        let mut next = marks.places.iter();
        let mut last = 0;
        let all = clauses.iter().flat_map(|c| &c.moves);
        return Some(
            all.map(|m| {
                if *m != "CLAP" {
                    last = next.next().copied().unwrap_or(last);
                }
                last
            })
            .collect(),
        );
    }
    let usual: u32 = clauses.iter().map(|c| usual_counts(&c.moves)).sum();
    if usual != marks.counts {
        return None;
    }
    let mut at = 0;
    let mut out = Vec::with_capacity(number);
    for clause in clauses {
        let start = at * QUARTERS_PER_COUNT;
        if clause.moves.len() == 3 {
            out.extend([4, 6, 8].map(|q| start + q));
        } else {
            out.extend((1..=clause.moves.len() as u32).map(|i| start + i * QUARTERS_PER_COUNT));
        }
        at += usual_counts(&clause.moves);
    }
    Some(out)
}

/// The stretches between commas, full stops and `and`, in bytes. Brackets stay whole.
fn clauses_of(text: &str, from: usize) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let (mut start, mut depth) = (from, 0usize);
    let lower = text.to_ascii_lowercase();
    for (at, c) in text.char_indices().filter(|(at, _)| *at >= from) {
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth = depth.saturating_sub(1),
            _ => {}
        }
        let word = |w: &str| lower[at..].starts_with(w);
        let length = match c {
            ',' | ';' | '.' | '+' | '&' => 1,
            ' ' if word(" and ") => 5,
            ' ' if word(" then ") => 6,
            ' ' if word(" & ") => 3,
            _ => 0,
        };
        if depth == 0 && length > 0 && at >= start {
            out.push((start, at));
            start = at + length;
        }
    }
    out.push((start, text.len()));
    out.retain(|(a, b)| a < b && text[*a..*b].chars().any(char::is_alphanumeric));
    out
}

/// Words of a clause with their places; brackets and what joins words fall away.
fn clause_words(text: &str, from: usize, to: usize) -> Vec<(&str, Place)> {
    let parts = |c: char| c.is_whitespace() || matches!(c, '(' | ')' | '[' | ']' | '*' | '"');
    placed_words(&text[from..to], parts, |c| matches!(c, ':' | '.' | '!' | '\''))
        .into_iter()
        .map(|(at, word)| (word, (from + at, from + at + word.len())))
        .collect()
}

fn read_clause(
    text: &str,
    from: usize,
    to: usize,
    before: Option<&Clause>,
    item: &mut Item,
) -> Option<Clause> {
    let words = clause_words(text, from, to);
    let mut clause = Clause::default();
    let mut named: Option<&'static str> = None;
    let (mut times, mut turned, mut aside) = (1, false, false);
    let turn_before = item.turn;
    let mut i = 0;
    while i < words.len() {
        let ahead: Vec<&str> = words[i..].iter().take(8).map(|(w, _)| *w).collect();
        let (word, place) = words[i];
        let lower = word.to_lowercase();
        if let Some((wall, used)) = wall_claim(&ahead) {
            item.wall = Some((wall, (place.0, words[i + used - 1].1.1)));
            i += used;
            continue;
        }
        if let Some((turned_by, used)) = turn(&ahead) {
            if turned_by.undirected {
                return None;
            }
            // A turn is of the whole line; where it falls in it does not matter to the wall.
            item.turn = item.turn.saturating_add(turned_by.eighths);
            turned = true;
            // `pivot 1/2 left` is a step as well.
            let pivots = words[i..i + used].iter().any(|(w, _)| w.eq_ignore_ascii_case("pivot"));
            if named.is_none() && pivots {
                named = Some("S");
                clause.name = "pivot".into();
            }
            i += used;
            continue;
        }
        if named.is_none()
            && let Some((name, moves, used)) = step_named(&ahead)
        {
            named = Some(moves);
            clause.name = name.to_string();
            let typed = words[i + used - 1].0.to_lowercase();
            clause.several = typed.ends_with('s') && !name.ends_with('s');
            i += used;
            // `behind R` says where, not which foot.
            aside = matches!(name, "behind" | "together" | "close");
            continue;
        }
        // `4 toe struts`
        let counted = number(word).filter(|n| (2..=8).contains(n));
        if let Some(n) = counted.filter(|_| named.is_none() && i == 0)
            && step_named(&ahead[1..]).is_some()
        {
            times = n as i32;
            i += 1;
            continue;
        }
        let in_a_row = feet_one_by_one(&words[i..]);
        // `…, R L R L`: the feet of the figures before.
        if named.is_none() && i == 0 && !in_a_row.is_empty() {
            let figures = before?.moves.len() / in_a_row.len();
            return (figures > 0 && before?.feet.is_empty()).then(Clause::default);
        }
        if !aside && clause.feet.is_empty() && named.is_some() && !in_a_row.is_empty() {
            i += in_a_row.len();
            clause.feet = in_a_row;
            continue;
        }
        if let Some(feet) = feet_word(word) {
            let next = words.get(i + 1).map(|(w, _)| w.to_lowercase());
            let way = next.as_deref().is_some_and(|n| {
                matches!(
                    n,
                    "side" | "diagonal" | "shoulder" | "corner" | "diag" | "forward" | "back"
                ) && i > 0
                    && aside
            });
            if (!aside || feet.len() > 1) && !way && (clause.feet.is_empty() || feet.len() > 1) {
                let alone = feet.len() == 1;
                clause.feet = feet.into_iter().map(|f| (f, place)).collect();
                aside = alone && named.is_some();
            }
            i += 1;
            continue;
        }
        match lower.as_str() {
            "over" | "beside" | "next" | "to" | "across" | "near" | "behind" | "onto"
            | "towards" | "toward" | "past" => aside = lower != "onto",
            "on" | "with" | "by" | "ball" | "stepping" | "foot" => {
                aside = aside && lower != "with" && lower != "on"
            }
            "twice" | "x2" | "2x" => times = 2,
            "x4" => times = 4,
            _ if is_way(&lower) => {}
            _ if length(&ahead).is_some_and(|(_, used)| used > 1) => {
                i += length(&ahead).map_or(1, |(_, used)| used);
                continue;
            }
            // A step behind a step says how: `vine right with a touch` goes by its name.
            _ if named.is_some() && step_named(&ahead).is_some() => {
                let (name, moves, used) = step_named(&ahead)?;
                clause.moves.extend(codes(named.unwrap_or("")));
                named = Some(moves);
                clause.name = format!("{} {name}", clause.name);
                i += used;
                continue;
            }
            _ => return None,
        }
        i += 1;
    }
    match named {
        Some(moves) => clause.moves.extend(codes(moves)),
        // A foot alone does what was done before: `walk R, L`.
        None if !clause.feet.is_empty() && !turned => {
            let before = before?;
            clause.only_feet = true;
            clause.name.clone_from(&before.name);
            clause.moves = before.moves.clone();
        }
        None if turned && words.iter().any(|(w, _)| w.eq_ignore_ascii_case("turn")) => {
            clause.name = "turn".into();
            clause.moves.push("S");
        }
        None if turned || words.is_empty() || item.wall.is_some() => {}
        // `Step pivot 1/2 left, twice`: the clause before once more.
        None if times > 1 && before.is_some() => {
            clause.clone_from(before?);
            times -= 1;
            item.turn = item.turn.saturating_add(clause.turn);
        }
        None => return None,
    }
    clause.turn = item.turn.saturating_sub(turn_before);
    item.turn = item.turn.saturating_add(clause.turn.saturating_mul(times - 1));
    let once = clause.moves.clone();
    clause.times = times.max(1) as usize;
    for _ in 1..times {
        clause.moves.extend(once.iter().copied());
    }
    // Feet written one by one, `walk RLRL`, are as many steps.
    if clause.feet.len() > clause.moves.len() && clause.moves.len() == 1 {
        clause.moves = vec![clause.moves[0]; clause.feet.len()];
    }
    Some(clause)
}

#[cfg(test)]
mod tests {
    use super::super::line_marks::marks;
    use super::*;

    fn read(text: &str) -> Option<(String, u32, String, i32)> {
        let marks = marks(text, 0)?;
        let parsed = read_line_steps(text, &marks)?;
        assert!(parsed.faults.is_empty(), "{text}: {:?}", parsed.faults);
        let item = &parsed.items[0];
        let step = item.moves.clone()?;
        let feet: String = item.sequence.iter().map(|(_, f, _)| f.letter()).collect();
        Some((step.movements, step.counts, feet, item.turn))
    }

    fn said(
        movements: &str,
        counts: u32,
        feet: &str,
        turn: i32,
    ) -> Option<(String, u32, String, i32)> {
        Some((movements.into(), counts, feet.into(), turn))
    }

    #[test]
    fn counts_in_front_are_read() {
        let counts = |t: &str| marks(t, 0).map(|m| (m.counts, m.places.len()));
        assert_eq!(counts("1-4 Step"), Some((4, 4)));
        assert_eq!(counts("1&2 Shuffle"), Some((2, 3)));
        assert_eq!(counts("5 6 7 8    Vine"), Some((4, 4)));
        assert_eq!(counts("1-2,3&4 Rock"), Some((4, 5)));
        assert_eq!(counts("& 1 Step"), Some((1, 2)));
        assert_eq!(counts("7 & 8 Coaster"), Some((2, 3)));
        assert_eq!(counts("2 Triple"), Some((1, 1)));
        assert_eq!(counts("1-4"), None);
        assert_eq!(counts("4x Triple"), None);
    }

    #[test]
    fn figures_have_the_counts_and_weight_that_are_published() {
        // Palm Coast Line Dance, Steps and Moves: cha-cha 1&2, ball change &1, Charleston 4. T. and L. Wilson,
        // Basic Line Dance Terms: coaster 1&2. Passion Linedance Club: shuffle and chassé 1&2, pivot in 2 counts,
        // each a change of weight.
        assert_eq!(read("1&2 Cha cha RLR"), said("S S S", 2, "RLR", 0));
        assert_eq!(read("3&4 Coaster step RLR"), said("S S S", 2, "RLR", 0));
        assert_eq!(read("1&2 Shuffle forward R-L-R"), said("S S S", 2, "RLR", 0));
        assert_eq!(read("5-6 Step R forward, pivot 1/2 left"), said("S S", 2, "R", -4));
        assert_eq!(
            read("1-4 Touch R forward, step R, touch L back, step L"),
            said("TCH S TCH S", 4, "RRLL", 0)
        );
    }

    #[test]
    fn words_are_read_clause_by_clause() {
        assert_eq!(read("1-2 Walk forward R, L"), said("S S", 2, "RL", 0));
        assert_eq!(read("1-2 Walk forward R& L"), said("S S", 2, "RL", 0));
        assert_eq!(
            read("1-4 Step R to side, step L behind R, step R to side, touch L beside R"),
            said("S S S TCH", 4, "RLRL", 0)
        );
        assert_eq!(read("5-8 Vine right, touch L"), said("S S S TCH", 4, "RL", 0));
        assert_eq!(
            read("1-4 Cross R over L, step L back, turn 1/4 right step R to side, step L beside R"),
            said("S S S S", 4, "RLRL", 2)
        );
        assert_eq!(read("1-4 Step pivot 1/2 left, twice"), said("S S S S", 4, "", -8));
        assert_eq!(read("1-2 Sing loudly"), None);
    }
}
