//! Whole steps by name. Only their movements are written down; counts, feet and weight follow from them.

use std::collections::{HashMap, HashSet};
use std::sync::OnceLock;

use super::metre::bars_in_three;
use super::model::StepUse;
use super::movement::Source;
use super::notation::read_movements;
use super::words::key;

/// Level of difficulty. The names and what belongs to each follow Steve Smith, *Descriptive Levels to
/// Guide You in Deciding the Level of Routines*.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// Double toes, drag-slides, kicks, double steps and basics.
    Basic,
    /// Simple combinations: clogovers, rocking chairs, Charlestons.
    BasicPlus,
    /// Clogging movements only, in music that is not too fast.
    EasyIntermediate,
    /// More demanding clogging steps.
    Intermediate,
    /// Some buck, flatfoot and Canadian steps.
    IntermediatePlus,
    /// Steps that ask for technical skill.
    Advanced,
}

impl Level {
    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Level::Basic => "Basic",
            Level::BasicPlus => "Basic Plus",
            Level::EasyIntermediate => "Easy Intermediate",
            Level::Intermediate => "Intermediate",
            Level::IntermediatePlus => "Intermediate Plus",
            Level::Advanced => "Advanced",
        }
    }

    /// Reads a level as typed: `Easy`, `EZ-INT`, `beginner plus`. `None` when it names none.
    pub fn read(typed: &str) -> Option<Level> {
        let typed = key(typed);
        let has = |w: &str| typed.split_whitespace().any(|t| t.trim_matches('+') == w);
        let plus = has("plus") || has("high") || typed.contains('+');
        let intermediate = typed.contains("int");
        let easy = has("easy") || has("ez");
        let basic = typed.contains("basic") || typed.contains("beginner") || has("beg");
        Some(match (intermediate, easy, plus, basic) {
            (true, true, ..) => Level::EasyIntermediate,
            (true, _, true, _) => Level::IntermediatePlus,
            (true, ..) => Level::Intermediate,
            _ if typed.contains("adv") || typed.contains("challenge") => Level::Advanced,
            (_, _, true, true) | (_, true, ..) => Level::BasicPlus,
            (.., true) => Level::Basic,
            _ => return None,
        })
    }
}

/// A whole step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// As printed.
    pub name: &'static str,
    /// Other names.
    pub also: &'static [&'static str],
    /// Its movements in short notation.
    pub movements: &'static str,
    /// From which level on it is usually taught.
    pub level: Level,
    /// Where it is published.
    pub source: Source,
}

const CLOGGING_101: Source = Source::Published("Clogging 101, Cue Sheets, lessons 1-3");
const FOREVER_BLUE: Source = Source::Published("Forever Blue, cue sheet by Narelle Williams, 1996");
const KERRI: Source = Source::Published("Kerri Clogs, Reading Cue Sheets");
const ROCKY: Source = Source::Published("Clogging 101, cue sheet by Jo Ann Gibbs");
const BULL_RUN: Source = Source::Published("Bull Run Cloggers, Clogging Info");
const PRACTICE: Source = Source::CommonPractice;

const fn step(
    name: &'static str,
    also: &'static [&'static str],
    movements: &'static str,
    level: Level,
    source: Source,
) -> Step {
    Step { name, also, movements, level, source }
}

/// The steps built in.
pub static STEPS: &[Step] = &[
    step(
        "Single basic",
        &["Basic", "Single", "Basic step", "Clog basic"],
        "DS RS",
        Level::Basic,
        CLOGGING_101,
    ),
    step("Double basic", &["Double"], "DS DS RS", Level::Basic, CLOGGING_101),
    step("Triple basic", &["Triple", "Triple step"], "DS DS DS RS", Level::Basic, CLOGGING_101),
    step("Fancy double", &["Fancy"], "DS DS RS RS", Level::Basic, CLOGGING_101),
    step(
        "Rocking chair",
        &["Rocker chair", "R chair", "Rock chair"],
        "DS BR DS RS",
        Level::BasicPlus,
        CLOGGING_101,
    ),
    step("Boogie basic", &["Boogie"], "DS R(xib) S", Level::Basic, CLOGGING_101),
    step(
        "Vine",
        &["Grapevine", "Four count vine"],
        "DS(ots) DS(xib) DS(ots) RS",
        Level::Basic,
        KERRI,
    ),
    step(
        "Stumble step",
        &["Stumble"],
        "DS DR S(xif) DS DR S(xif) DS DR S(xif) DS RS",
        Level::BasicPlus,
        FOREVER_BLUE,
    ),
    step("Pivot chain", &[], "DS RS RS RS", Level::BasicPlus, FOREVER_BLUE),
    step("Charleston brush", &[], "DS TCH(f) H TCH(b) H BR SL", Level::BasicPlus, FOREVER_BLUE),
    step("Slur brush", &[], "DS SLR S(xib) DS BR H", Level::BasicPlus, FOREVER_BLUE),
    step(
        "Cowboy roll",
        &[],
        "DS DS DS BR(xif) SL DS(xif) RS RS RS",
        Level::BasicPlus,
        FOREVER_BLUE,
    ),
    step("Stomp double", &[], "(p) STO DS DS RS", Level::BasicPlus, FOREVER_BLUE),
    step(
        "Chain",
        &[
            "Push off",
            "Pushoff",
            "Rock chain",
            "Turning push off",
            "Push turn",
            "Airplane",
            "Rockaround",
        ],
        "DS RS RS RS",
        Level::Basic,
        PRACTICE,
    ),
    step("Cowboy", &[], "DS DS DS BR SL DS RS RS RS", Level::BasicPlus, PRACTICE),
    step("Brush up", &["Brush slide", "Double brush"], "DS BR SL", Level::Basic, PRACTICE),
    step("Triple brush", &["Triple brush up"], "DS DS DS BR SL", Level::Basic, PRACTICE),
    step("Kentucky drag", &["Kentucky"], "DS DR S", Level::BasicPlus, PRACTICE),
    step("Charleston", &[], "DS TCH(f) H TCH(b) H RS", Level::BasicPlus, PRACTICE),
    step("Outhouse", &[], "DS TCH(ots) H TCH(xif) H TCH(ots) H", Level::BasicPlus, PRACTICE),
    step("Slur basic", &["Slur vine"], "DS SLR S(xib) DS RS", Level::BasicPlus, PRACTICE),
    step(
        "Clogover vine",
        &["Clogover", "Clog over", "Clog over vine", "Long vine", "Eight count vine"],
        "DS(ots) DS(xif) DS(ots) DS(xib) DS(ots) DS(xif) DS RS",
        Level::BasicPlus,
        PRACTICE,
    ),
    step("Double step", &["Doublestep"], "DS", Level::Basic, PRACTICE),
    step("Rock step", &["Rockstep", "Ball change"], "RS", Level::Basic, PRACTICE),
    step("Stomp", &[], "STO", Level::Basic, PRACTICE),
    step("Stamp", &[], "STA", Level::Basic, PRACTICE),
    step("Clap", &["Clap hands", "Hand clap"], "CLAP", Level::Basic, PRACTICE),
    step("Walk", &[], "S", Level::Basic, PRACTICE),
    step("Touch", &["Toe touch"], "TCH", Level::Basic, PRACTICE),
    step("Kick", &[], "K", Level::Basic, PRACTICE),
    step("Step touch", &["Touch step"], "S TCH", Level::Basic, PRACTICE),
    step("Step kick", &[], "S K", Level::Basic, PRACTICE),
    step("Pivot turn", &["Basketball turn", "Pivot"], "S S", Level::Basic, BULL_RUN),
    step("Vine slur", &[], "DS SLR S DS BR SL", Level::BasicPlus, ROCKY),
    step("Chug", &[], "CH", Level::Basic, PRACTICE),
    step("Rooster run", &[], "DS DS(xif) RS RS", Level::BasicPlus, PRACTICE),
    step("Joey", &[], "DS BA(xib) S BA(xib) S BA(xib) S", Level::EasyIntermediate, PRACTICE),
    step("Samantha", &[], "DS DS(xif) DR S DR S RS DS DS RS", Level::EasyIntermediate, PRACTICE),
];

/// Steps that are danced in more than one way, each with the counts that it usually takes: common practice. Their
/// movements and feet are not known, and a sheet that gives other counts is followed.
const LENGTHS: &[(&str, u32)] = &[
    ("Mountain goat", 4),
    ("Loop vine", 4),
    ("Karaoke", 8),
    ("Freestyle", 8),
    ("Triple kick", 4),
    ("Fancy triple", 6),
    ("Time step", 4),
    ("Single time step", 4),
    ("Cramp roll", 2),
    ("Paddle roll", 2),
    ("Buffalo", 2),
    ("Maxie Ford", 2),
    ("Shuffle ball change", 2),
    ("Kick ball change", 2),
    ("Coaster step", 2),
    ("Jazz box", 4),
    ("Box step", 4),
    ("Drag slide", 1),
    ("Waltz basic", 3),
    ("Waltz step", 3),
    ("Waltz clog", 3),
    ("Waltz balance", 3),
    ("Balance step", 3),
    ("Twinkle", 3),
    ("Waltz turn", 3),
    ("Waltz box", 6),
    ("Bow", 1),
];

struct Glossary {
    uses: Vec<StepUse>,
    by_name: HashMap<String, usize>,
    by_length: HashMap<String, StepUse>,
    /// Of each of `uses` what is known of it in a waltz, where that is its length alone.
    in_three: Vec<Option<StepUse>>,
    /// The first words of all these names.
    first_words: HashSet<String>,
    /// Every name with its key, those of steps first.
    keys: Vec<(&'static str, String)>,
    /// The words of each name of a step, and the step by its place in `uses`.
    words: Vec<(Vec<String>, usize)>,
    /// The words of every name, its counts, and the key by which its step is found.
    counted: Vec<(Vec<String>, u32, String)>,
}

fn glossary() -> &'static Glossary {
    static GLOSSARY: OnceLock<Glossary> = OnceLock::new();
    GLOSSARY.get_or_init(|| {
        let mut by_name = HashMap::new();
        let uses: Vec<StepUse> = STEPS
            .iter()
            .enumerate()
            .map(|(i, step)| {
                for name in step.also.iter().chain([&step.name]) {
                    by_name.insert(name_key(name), i);
                }
                // Every entry is checked to be readable by a test.
                let (moves, counts) = read_movements(step.movements).unwrap_or_default();
                StepUse::from_moves(step.name, moves, counts)
            })
            .collect();
        let by_length = LENGTHS
            .iter()
            .map(|&(name, counts)| {
                (name_key(name), StepUse { name: name.into(), counts, ..StepUse::default() })
            })
            .collect();
        let keys = by_name.keys().chain(HashMap::keys(&by_length));
        let first_words = keys.map(|key: &String| first_word(key).to_string()).collect();
        let in_three = uses.iter().map(bars_in_three).collect();
        let words_of =
            |name: &str| -> Vec<String> { key(name).split(' ').map(str::to_string).collect() };
        let words: Vec<(Vec<String>, usize)> = names()
            .filter_map(|name| Some((words_of(name), *by_name.get(&name_key(name))?)))
            .collect();
        let of_steps = words.iter().filter_map(|(words, step)| {
            Some((words.clone(), uses.get(*step)?.counts, name_key(STEPS.get(*step)?.name)))
        });
        let of_lengths = LENGTHS.iter().map(|&(name, n)| (words_of(name), n, name_key(name)));
        let counted = of_steps.chain(of_lengths).collect();
        let keys = names().chain(names_by_length()).map(|name| (name, key(name))).collect();
        Glossary { uses, by_name, by_length, in_three, first_words, keys, words, counted }
    })
}

/// The key of the only step with a name whose words begin with these, word for word.
pub(super) fn only_step_begun_by(words: &[&str]) -> Option<String> {
    let typed: Vec<String> = words.iter().map(|w| key(w)).collect();
    let begins = |(typed, word): (&String, &String)| word.starts_with(typed.trim_end_matches('s'));
    let named = glossary()
        .words
        .iter()
        .filter(|(name, _)| name.len() == typed.len() && typed.iter().zip(name).all(begins));
    let mut steps = named.map(|(_, step)| *step);
    let only = steps.next().filter(|only| steps.all(|step| step == *only))?;
    STEPS.get(only).map(|step| name_key(step.name))
}

/// The key of the only step of so many counts that these words are short for: by how its words begin, by its initials, or
/// by letters of its words.
pub(super) fn only_step_short_for(words: &[&str], counts: u32) -> Option<String> {
    let typed: Vec<String> = words.iter().map(|w| key(w)).collect();
    let so_long = || glossary().counted.iter().filter(|(_, n, _)| *n == counts);
    [begin_so, initials_are, letters_are].iter().find_map(|means| {
        let mut meant = so_long().filter(|(name, ..)| means(&typed, name)).map(|(.., key)| key);
        let only = meant.next()?;
        meant.all(|key| key == only).then(|| only.clone())
    })
}

fn begin_so(typed: &[String], name: &[String]) -> bool {
    const FEWEST_LETTERS: usize = 2;
    let begins = |(typed, word): (&String, &String)| {
        typed.len() >= FEWEST_LETTERS && word.starts_with(typed.trim_end_matches('s'))
    };
    typed.len() == name.len() && typed.iter().zip(name).all(begins)
}

fn initials_are(typed: &[String], name: &[String]) -> bool {
    let [typed] = typed else { return false };
    let initials: String = name.iter().filter_map(|w| w.chars().next()).collect();
    name.len() > 1 && *typed == initials
}

/// `mt goat`: letters of each word in their order, the first of them its first.
fn letters_are(typed: &[String], name: &[String]) -> bool {
    let of = |(typed, word): (&String, &String)| {
        let mut letters = word.chars();
        typed.chars().next() == word.chars().next()
            && typed.chars().all(|c| letters.any(|l| l == c))
    };
    typed.len() == name.len() && typed.len() > 1 && typed.iter().zip(name).all(of)
}

/// The key of a step's name: plurals are taken off, so that `Single Basics` is `single basic`.
pub fn name_key(name: &str) -> String {
    let key = key(name);
    let singular = |w: &str| -> String {
        match w.strip_suffix('s') {
            _ if w.ends_with("shes") || w.ends_with("ches") => w[..w.len() - 2].to_string(),
            Some(stem) if w.len() > 3 && !w.ends_with("ss") => stem.to_string(),
            _ => w.to_string(),
        }
    };
    // `Fancy Dbl`, `Mtn Goat`
    let whole = |w: String| match w.as_str() {
        "dbl" => "double".to_string(),
        "mtn" => "mountain".to_string(),
        "trpl" => "triple".to_string(),
        _ => w,
    };
    key.split(' ').map(singular).map(whole).collect::<Vec<_>>().join(" ")
}

/// The built-in step of that name (or other name, or plural), with the left foot free at its start.
pub fn find(name: &str) -> Option<(&'static Step, &'static StepUse)> {
    find_by_key(&name_key(name))
}

/// As [`find`], for a name that went through [`name_key`].
pub fn find_by_key(key: &str) -> Option<(&'static Step, &'static StepUse)> {
    let glossary = glossary();
    let index = *glossary.by_name.get(key)?;
    Some((STEPS.get(index)?, glossary.uses.get(index)?))
}

/// As [`find_by_key`], as the step is danced in three.
pub(super) fn find_in_three(key: &str) -> Option<&'static StepUse> {
    let glossary = glossary();
    let index = *glossary.by_name.get(key)?;
    glossary.in_three.get(index)?.as_ref().or_else(|| glossary.uses.get(index))
}

/// A step of which only the usual counts are known, by a name that went through [`name_key`].
pub(super) fn known_by_length(key: &str) -> Option<&'static StepUse> {
    glossary().by_length.get(key)
}

/// How many of the words at the start are the longest name of a step, of at most so many words and letters.
pub(super) fn longest_name(words: &[&str], most: usize, most_letters: usize) -> Option<usize> {
    let mut name = String::new();
    let (mut longest, mut letters) = (None, 0);
    for (n, word) in words.iter().take(most).enumerate() {
        letters += word.len();
        let key = name_key(word);
        // Most words start no name.
        let starts_one = n > 0 || glossary().first_words.contains(first_word(&key));
        if letters >= most_letters || !starts_one {
            break;
        }
        if !name.is_empty() && !key.is_empty() {
            name.push(' ');
        }
        name.push_str(&key);
        if find_by_key(&name).is_some() || known_by_length(&name).is_some() {
            longest = Some(n + 1);
        }
    }
    longest
}

fn first_word(key: &str) -> &str {
    key.split(' ').next().unwrap_or(key)
}

/// Counts of a step by its name, whether or not its movements are known.
pub(super) fn length_of(name: &str) -> Option<u32> {
    let key = name_key(name);
    let known = find_by_key(&key).map(|(_, step)| step).or_else(|| known_by_length(&key));
    known.map(|step| step.counts)
}

/// Every name that [`find`] knows, as printed.
pub fn names() -> impl Iterator<Item = &'static str> {
    STEPS.iter().flat_map(|s| s.also.iter().copied().chain([s.name]))
}

/// Every name with its key, those of steps of which only the usual counts are known last.
pub(super) fn names_with_keys() -> impl Iterator<Item = (&'static str, &'static str)> {
    glossary().keys.iter().map(|(name, key)| (*name, key.as_str()))
}

/// Names of the steps of which only the usual counts are known.
fn names_by_length() -> impl Iterator<Item = &'static str> {
    LENGTHS.iter().map(|(name, _)| *name)
}

/// Every built-in step with what dancing it does.
pub fn steps() -> impl Iterator<Item = (&'static Step, &'static StepUse)> {
    STEPS.iter().zip(&glossary().uses)
}

/// The built-in steps of so many counts up to a level. [`StepUse::swaps_free_foot`] says whether the
/// other foot is free after it; all of them start on the free foot.
pub fn steps_of_length(
    counts: u32,
    level: Level,
) -> impl Iterator<Item = (&'static Step, &'static StepUse)> {
    steps().filter(move |(step, danced)| danced.counts == counts && step.level <= level)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Foot;

    #[test]
    fn the_six_published_steps_have_their_feet_and_lengths() {
        // Clogging 101, Cue Sheets, lessons 1-3: step, movements, feet from the left, beats, free after.
        let table = [
            ("Single basic", "DS RS", "L RL", 2, Foot::Right),
            ("Double basic", "DS DS RS", "L R LR", 3, Foot::Left),
            ("Triple basic", "DS DS DS RS", "L R L RL", 4, Foot::Right),
            ("Fancy double", "DS DS RS RS", "L R LR LR", 4, Foot::Left),
            ("Rocking chair", "DS BR DS RS", "L R R LR", 4, Foot::Left),
            ("Boogie basic", "DS R(xib) S", "L R L", 2, Foot::Right),
        ];
        for (name, movements, feet, counts, free) in table {
            let (step, danced) = find(name).unwrap();
            assert_eq!(step.movements, movements);
            assert_eq!(danced.movements, movements, "{name}");
            assert_eq!(danced.feet_line(Foot::Left), feet, "{name}");
            assert_eq!(danced.counts, counts, "{name}");
            assert_eq!(danced.free_foot_after(Foot::Left), free, "{name}");
            assert_eq!(danced.free_foot_after(Foot::Right), free.other(), "{name}");
        }
    }

    #[test]
    fn steps_of_a_published_sheet_have_its_feet_and_beats() {
        // Forever Blue, cue sheet by Narelle Williams (1996): feet and beats as printed there.
        let table = [
            ("Stumble step", "L L R L L R L L R L RL", 8),
            ("Charleston brush", "L R L R L R L", 4),
            ("Slur brush", "L R R L R L", 4),
            ("Cowboy roll", "L R L R L R LR LR LR", 8),
            ("Stomp double", "L R L RL", 4),
            ("Pivot chain", "L RL RL RL", 4),
        ];
        for (name, feet, counts) in table {
            let (_, danced) = find(name).unwrap();
            assert_eq!(danced.feet_line(Foot::Left), feet, "{name}");
            assert_eq!(danced.counts, counts, "{name}");
        }
    }

    #[test]
    fn every_published_step_is_checked_here() {
        // A step that names a page must stand in one of the tables of what that page prints.
        let more = [
            // Kerri Clogs, Reading Cue Sheets: out to side, cross in back, out to side, rock step; 1 to 4.
            ("Vine", "L R L RL", 4),
            // Bull Run Cloggers, Clogging Info: "s s".
            ("Pivot turn", "L R", 2),
            // Clogging 101, cue sheet by Jo Ann Gibbs: feet as printed under DS Slur/Step DS BR/SL.
            ("Vine slur", "L R R L R L", 4),
        ];
        for (name, feet, counts) in more {
            let (_, danced) = find(name).unwrap();
            assert_eq!(danced.feet_line(Foot::Left), feet, "{name}");
            assert_eq!(danced.counts, counts, "{name}");
        }
        for (step, _) in steps() {
            let checked = match step.source {
                CLOGGING_101 => 6,
                FOREVER_BLUE => 6,
                KERRI | BULL_RUN | ROCKY => 1,
                _ => continue,
            };
            let number = STEPS.iter().filter(|s| s.source == step.source).count();
            assert_eq!(number, checked, "{}", step.name);
        }
    }

    #[test]
    fn steps_of_common_practice_have_the_counts_they_are_taught_with() {
        // No page is claimed: counts and the foot free after, as the trade has them.
        let table = [
            ("Chain", 4, true),
            ("Cowboy", 8, false),
            ("Brush up", 2, true),
            ("Triple brush", 4, true),
            ("Kentucky drag", 2, false),
            ("Charleston", 4, true),
            ("Outhouse", 4, true),
            ("Slur basic", 4, true),
            ("Clogover vine", 8, true),
            ("Chug", 1, false),
            ("Rooster run", 4, false),
            ("Joey", 4, true),
            ("Samantha", 8, false),
            ("Double step", 1, true),
            ("Rock step", 1, false),
            ("Stomp", 1, true),
            ("Stamp", 1, false),
            ("Clap", 1, false),
            ("Walk", 1, true),
            ("Touch", 1, false),
            ("Kick", 1, false),
            ("Step touch", 2, true),
            ("Step kick", 2, true),
        ];
        for (name, counts, swaps) in table {
            let (_, danced) = find(name).unwrap();
            assert_eq!((danced.counts, danced.swaps_free_foot), (counts, swaps), "{name}");
        }
        let number = STEPS.iter().filter(|s| s.source == PRACTICE).count();
        assert_eq!(number, table.len());
    }

    #[test]
    fn every_step_is_made_of_known_movements() {
        for (step, danced) in steps() {
            assert!(danced.counts > 0, "{}", step.name);
            assert!(!danced.moves.is_empty(), "{}", step.name);
            assert_eq!(danced.movements, step.movements.replace("(p)", "P"), "{}", step.name);
        }
    }

    #[test]
    fn no_name_means_two_steps() {
        let number = names().count();
        assert_eq!(glossary().by_name.len(), number);
    }

    #[test]
    fn plurals_case_and_hyphens_do_not_matter() {
        for typed in ["single basics", "SINGLE BASIC", "Single-Basic", "Basics"] {
            assert_eq!(find(typed).unwrap().0.name, "Single basic", "{typed}");
        }
        assert!(find("Single malt").is_none());
    }

    #[test]
    fn levels_are_read_as_typed() {
        assert_eq!(Level::read("Easy Intermediate"), Some(Level::EasyIntermediate));
        assert_eq!(Level::read("EZ-INT"), Some(Level::EasyIntermediate));
        assert_eq!(Level::read("Beginner"), Some(Level::Basic));
        assert_eq!(Level::read("Basic Plus"), Some(Level::BasicPlus));
        assert_eq!(Level::read("Easy"), Some(Level::BasicPlus));
        assert_eq!(Level::read("Int. +"), Some(Level::IntermediatePlus));
        assert_eq!(Level::read("Advanced"), Some(Level::Advanced));
        assert_eq!(Level::read("for all"), None);
    }

    #[test]
    fn there_are_fills_of_every_length_from_one_to_four() {
        for counts in 1..=4 {
            assert!(steps_of_length(counts, Level::Basic).count() > 0, "{counts}");
        }
    }
}
