//! What a routine asks of a dancer: counts a minute beside what its level is usually taught at, and the longest
//! run without a rest. It counts; it judges no body.

use serde::Serialize;

use super::glossary::Level;
use super::model::Routine;

/// A pause of so many counts is a rest: half an eight. Common practice, no source.
pub const REST_COUNTS: u32 = 4;

/// Counts a minute at which a level is usually taught; common practice, no source.
pub fn usual_tempo(level: Level) -> (u32, Option<u32>) {
    match level {
        Level::Basic | Level::BasicPlus => (100, Some(115)),
        Level::EasyIntermediate | Level::Intermediate => (115, Some(130)),
        Level::IntermediatePlus | Level::Advanced => (130, None),
    }
}

/// The longest stretch that is danced without a rest.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LongestRun {
    /// Counts of it.
    pub counts: u32,
    /// Counts danced before it.
    pub counts_before: u32,
    /// The part where it begins, an index into the order.
    pub from: usize,
    /// The part where it ends, an index into the order.
    pub to: usize,
}

/// The longest run without a rest of [`REST_COUNTS`] over the whole order; the first of several.
pub fn longest_run(routine: &Routine) -> LongestRun {
    let mut best = LongestRun::default();
    let mut run = LongestRun::default();
    let (mut danced, mut still) = (0u32, 0u32);
    for (index, item) in routine.order.iter().enumerate() {
        let Some(part) = routine.parts.get(item.part) else { continue };
        // A part that is told by its counts alone is danced, unless it is a pause.
        let alone = [(part.counts(), part.name == "Pause")];
        let steps = part.steps().map(|s| (s.counts, s.is_pause()));
        let all = steps.chain(alone.into_iter().filter(|_| part.lines.is_empty()));
        for (counts, pause) in all {
            if pause {
                still = still.saturating_add(counts);
            } else {
                if still >= REST_COUNTS || run.counts == 0 {
                    run = LongestRun { counts: 0, counts_before: danced, from: index, to: index };
                } else {
                    run.counts = run.counts.saturating_add(still);
                }
                still = 0;
                run.counts = run.counts.saturating_add(counts);
                run.to = index;
                if run.counts > best.counts {
                    best = run.clone();
                }
            }
            danced = danced.saturating_add(counts);
        }
    }
    best
}

/// Level and load as figures, for machines to read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Load<'r> {
    /// The level that the sheet states, by its usual name.
    pub level: Option<&'static str>,
    /// Counts a minute, where they are known.
    pub counts_a_minute: Option<f64>,
    /// What that level is usually taught at, from and to; no end for the highest.
    pub usual_counts_a_minute: Option<(u32, Option<u32>)>,
    /// `under`, `within` or `above` that.
    pub beside_usual: Option<&'static str>,
    /// The longest run without a rest.
    pub longest_run: RunFigures<'r>,
}

/// The longest run without a rest, with the names of its parts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunFigures<'r> {
    /// Counts of it.
    pub counts: u32,
    /// Counts danced before it.
    pub counts_before: u32,
    /// Its time, where counts a minute are known.
    pub seconds: Option<f64>,
    /// The part where it begins.
    pub from: &'r str,
    /// The part where it ends.
    pub to: &'r str,
}

/// Level and load of a routine as figures.
pub fn load_figures(routine: &Routine, counts_a_minute: Option<f64>) -> Load<'_> {
    let level = stated_level(routine);
    let LongestRun { counts, counts_before, from, to } = longest_run(routine);
    let seconds = counts_a_minute.filter(|t| *t > 0.0).map(|t| f64::from(counts) * 60.0 / t);
    let (from, to) = (name_at(routine, from), name_at(routine, to));
    Load {
        level: level.map(Level::name),
        counts_a_minute,
        usual_counts_a_minute: level.map(usual_tempo),
        beside_usual: level.zip(counts_a_minute).map(|(level, tempo)| beside_usual(level, tempo)),
        longest_run: RunFigures { counts, counts_before, seconds, from, to },
    }
}

fn stated_level(routine: &Routine) -> Option<Level> {
    routine.level.as_deref().and_then(Level::read)
}

/// Name of the part at a place of the order.
fn name_at(routine: &Routine, index: usize) -> &str {
    let item = routine.order.get(index);
    item.and_then(|o| routine.parts.get(o.part)).map_or("", |p| p.name.as_str())
}

/// The level as the sheet calls it, by its usual name where that is told in many words.
fn called(routine: &Routine, level: Level) -> String {
    const MOST_WORDS: usize = 2;
    let typed = routine.level.as_deref().unwrap_or("");
    let first = typed.split([',', ';', '(', '/', '.']).next().unwrap_or("").trim();
    match first.split_whitespace().count() {
        1..=MOST_WORDS => first.to_string(),
        _ => level.name().to_string(),
    }
}

/// How counts a minute stand beside what a level is usually taught at.
fn beside_usual(level: Level, counts_a_minute: f64) -> &'static str {
    let (from, to) = usual_tempo(level);
    let rounded = counts_a_minute.round();
    if rounded < f64::from(from) {
        "under"
    } else if to.is_some_and(|to| rounded > f64::from(to)) {
        "above"
    } else {
        "within"
    }
}

/// Counts a minute as the sheet states them, in a line `Tempo: 118`.
pub fn stated_tempo(routine: &Routine) -> Option<f64> {
    routine.notes.iter().find_map(|note| {
        let (name, value) = note.split_once(':')?;
        let name = name.trim().to_lowercase();
        if !matches!(name.as_str(), "tempo" | "bpm" | "speed") {
            return None;
        }
        let number: String =
            value.trim_start().chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
        number.parse().ok().filter(|n: &f64| (30.0..=400.0).contains(n))
    })
}

/// What is said of level and load, line by line; `counts_a_minute` where it is known.
pub fn load_words(routine: &Routine, counts_a_minute: Option<f64>) -> Vec<String> {
    let mut out = Vec::new();
    let level = stated_level(routine);
    let range = |level: Level| match usual_tempo(level) {
        (from, Some(to)) => format!("{from} to {to}"),
        (from, None) => format!("{from} and up"),
    };
    match (counts_a_minute, level) {
        (Some(tempo), Some(level)) => {
            out.push(format!(
                "{} counts a minute, {} the {} that {} is usually taught at",
                tempo.round(),
                beside_usual(level, tempo),
                range(level),
                called(routine, level)
            ));
        }
        (Some(tempo), None) => out.push(format!("{} counts a minute", tempo.round())),
        (None, Some(level)) => out.push(format!(
            "{} is usually taught at {} counts a minute",
            called(routine, level),
            range(level)
        )),
        (None, None) => {}
    }
    let run = longest_run(routine);
    if run.counts > 0 {
        let name = |index: usize| name_at(routine, index);
        let time = counts_a_minute
            .filter(|t| *t > 0.0)
            .map(|t| {
                let seconds = (f64::from(run.counts) * 60.0 / t).round() as u64;
                format!(", {}:{:02} minutes", seconds / 60, seconds % 60)
            })
            .unwrap_or_default();
        let whole = run.counts == routine.counts();
        let place = if whole {
            "the whole dance".to_string()
        } else if run.from == run.to {
            format!("within {}", name(run.from))
        } else {
            format!("from {} to {}", name(run.from), name(run.to))
        };
        out.push(format!("longest run without a rest: {} counts{time}, {place}", run.counts));
    }
    if !out.is_empty() {
        out.push(
            "warm up first; mind floor and shoes; build the tempo up slowly; stop at pain".into(),
        );
        out.push("what a class can do is for its teacher to judge".into());
    }
    out
}

/// [`load_words`] as a section of a report; empty where nothing is danced.
pub fn load_section(routine: &Routine, counts_a_minute: Option<f64>) -> String {
    if longest_run(routine).counts == 0 {
        return String::new();
    }
    let lines = load_words(routine, counts_a_minute);
    lines.iter().fold("\nlevel and load\n".to_string(), |all, line| format!("{all}  {line}\n"))
}

#[cfg(test)]
mod tests {
    use super::super::parse::parse;
    use super::*;

    #[test]
    fn the_longest_run_ends_at_a_rest() {
        let sheet =
            "Part A (16)\n2 Triple\npause 4\nTriple\n\nPart B (8)\n2 Triple\n\nOrder: A B A B\n";
        let (routine, _) = parse(sheet);
        // 8 | rest 4 | 4 + 8 + 8 | rest 4 | 4 + 8
        let run = longest_run(&routine);
        assert_eq!((run.counts, run.counts_before, run.from, run.to), (20, 12, 0, 2));
        let short = sheet.replace("pause 4\nTriple", "pause 2\nTriple, pause 2");
        // Two counts are no rest: all of it is one run, (16 + 8) twice.
        assert_eq!(longest_run(&parse(&short).0).counts, 48);
        assert_eq!(longest_run(&Routine::default()), LongestRun::default());
    }

    #[test]
    fn figures_say_what_the_words_say() {
        let (routine, _) = parse("Level: Beginner\n\nPart A (8)\n2 Triple\n");
        let load = load_figures(&routine, Some(120.0));
        assert_eq!(
            (load.level, load.usual_counts_a_minute),
            (Some("Basic"), Some((100, Some(115))))
        );
        assert_eq!((load.beside_usual, load.longest_run.seconds), (Some("above"), Some(4.0)));
        assert_eq!((load.longest_run.counts, load.longest_run.from), (8, "Part A"));
        let unknown = load_figures(&routine, None);
        assert_eq!((unknown.beside_usual, unknown.longest_run.seconds), (None, None));
    }

    #[test]
    fn counts_a_minute_stand_beside_the_level() {
        // Common practice, no source: beginners near 100-115, intermediate 115-130, advanced 130 and up.
        let (routine, _) = parse("Level: Beginner\nTempo: 124\n\nPart A (8)\n2 Triple\n");
        assert_eq!(stated_tempo(&routine), Some(124.0));
        let words = load_words(&routine, stated_tempo(&routine));
        assert_eq!(
            words[0],
            "124 counts a minute, above the 100 to 115 that Beginner is usually taught at"
        );
        assert_eq!(words[1], "longest run without a rest: 8 counts, 0:04 minutes, the whole dance");
        let said = |level: &str, tempo: f64| {
            let (routine, _) = parse(&format!("Level: {level}\n\nPart A (8)\n2 Triple\n"));
            load_words(&routine, Some(tempo))[0].clone()
        };
        assert!(said("Advanced", 160.0).contains("within the 130 and up"));
        assert!(said("Intermediate", 110.0).contains("under the 115 to 130"));
    }
}
