//! Five hundred mistakes planted in twenty sound sheets must be found, and nothing in the sound ones.

use std::collections::BTreeMap;

use hoofbeat::routine::{Fault, Finding, parse};

use super::habits::habits;
use super::sound_sheets;
use super::writer::{Chance, Written, write};

/// Mistakes planted in each sheet.
const PLANTED: usize = 25;

/// What is told of a sheet though nothing is wrong with it.
fn false_alarms(sheet: &Written) -> Vec<Finding> {
    let (_, findings) = parse(&sheet.text);
    let true_of_it = |f: &Finding| match f.fault {
        Fault::OtherFoot { .. } => sheet.other_foot,
        Fault::EndsFacing { .. } => sheet.ends_away,
        _ => false,
    };
    findings.into_iter().filter(|f| !true_of_it(f)).collect()
}

/// Plants mistakes in the sheets of the seeds; gives how many were planted and what was missed.
fn plant(seeds: std::ops::Range<u64>) -> (usize, Vec<String>) {
    let (mut planted, mut missed) = (0, Vec::new());
    let mut sorts: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for seed in seeds {
        let mut sheet = write(seed);
        let mut chance = Chance::new(seed ^ 0xABCD);
        // The sorts take turns, so that none is left to chance.
        let mut left: Vec<&str> = Vec::new();
        for _ in 0..PLANTED {
            if left.is_empty() {
                left = sheet.wrong.iter().map(|(what, _)| *what).collect();
                left.sort_unstable();
                left.dedup();
            }
            let sort = left.swap_remove(chance.below(left.len()));
            let of_sort: Vec<usize> =
                (0..sheet.wrong.len()).filter(|&i| sheet.wrong[i].0 == sort).collect();
            let (what, text) = sheet.wrong.swap_remove(of_sort[chance.below(of_sort.len())]);
            assert_ne!(text, sheet.text, "{what}");
            planted += 1;
            let sort = sorts.entry(what).or_default();
            sort.0 += 1;
            if parse(&text).1.iter().any(Finding::is_mistake) {
                sort.1 += 1;
            } else {
                missed.push(format!("sheet {seed}, {what}:\n{text}"));
            }
        }
    }
    for (what, (planted, found)) in sorts {
        println!("{found:4} of {planted:4} found  {what}");
    }
    println!("{} of {planted} found", planted - missed.len());
    (planted, missed)
}

#[test]
fn planted_mistakes_are_found() {
    let (planted, missed) = plant(1..21);
    assert_eq!(planted, 500);
    assert!(missed.len() * 100 <= planted * 3, "{} missed\n{}", missed.len(), missed[0]);
}

#[test]
fn planted_mistakes_are_found_in_sheets_kept_apart() {
    let (planted, missed) = plant(101..121);
    assert_eq!(planted, 500);
    assert!(missed.len() * 100 <= planted * 3, "{} missed\n{}", missed.len(), missed[0]);
}

#[test]
fn sound_sheets_raise_no_alarm() {
    for seed in (1..21).chain(101..121).chain(1000..1200) {
        let sheet = write(seed);
        let alarms = false_alarms(&sheet);
        assert!(alarms.is_empty(), "sheet {seed}: {alarms:#?}\n{}", sheet.text);
    }
    for (name, text) in sound_sheets() {
        let wrong: Vec<Finding> = parse(&text).1.into_iter().filter(Finding::is_mistake).collect();
        assert!(wrong.is_empty(), "{name}: {wrong:#?}");
    }
    for habit in habits("") {
        let wrong: Vec<Finding> =
            parse(&habit.text).1.into_iter().filter(Finding::is_mistake).collect();
        assert!(wrong.is_empty(), "{}: {wrong:#?}", habit.name);
    }
}
