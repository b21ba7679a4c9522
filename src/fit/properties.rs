//! What holds for every fit, tried on some thousand songs and routines.

use super::testing::{Dice, in_order, part, song};
use super::*;
use crate::routine::PartKind;

/// A song of phrases in fours and eights, now and then a few counts odd.
fn phrases(dice: &mut Dice) -> Vec<(&'static str, u32)> {
    let labels = ["verse", "chorus", "bridge", "instrumental"];
    let lengths = [16, 32, 32, 32, 36, 40, 48, 20, 8, 30];
    (0..2 + dice.roll(9))
        .map(|_| (labels[dice.roll(labels.len())], lengths[dice.roll(lengths.len())]))
        .collect()
}

/// A routine that has more or less to do with such songs.
fn routine(dice: &mut Dice) -> Routine {
    let steps = ["Triple", "Fancy double", "Rocking chair", "Single basic"];
    let mut parts: Vec<_> = (0..1 + dice.roll(4))
        .map(|n| {
            let lines: Vec<(u32, &str)> = (0..1 + dice.roll(4))
                .map(|_| ([2, 4, 4, 1][dice.roll(4)], steps[dice.roll(steps.len())]))
                .collect();
            part(&format!("Part {}", n + 1), PartKind::Part, &lines)
        })
        .collect();
    parts.push(part("Fill", PartKind::Fill, &[(1, "Triple")]));
    let order: Vec<usize> = (0..1 + dice.roll(10)).map(|_| dice.roll(parts.len())).collect();
    Routine { parts, order: in_order(&order), ..Routine::default() }
}

type Amiss = (MismatchKind, i32, i32);

fn amiss(fit: &Fit) -> Vec<Amiss> {
    fit.mismatches.iter().map(|m| (m.kind, m.at_count.0, m.counts)).collect()
}

#[test]
fn every_suggestion_removes_its_mismatch_and_adds_none() {
    let mut dice = Dice::new(11);
    let (mut tried, mut mismatches, mut with_mend) = (0, 0, 0);
    for _ in 0..1500 {
        let (song, routine) = (song(&phrases(&mut dice)), routine(&mut dice));
        let before = fit(&song, &routine);
        mismatches += before.mismatches.len();
        with_mend += (0..before.mismatches.len())
            .filter(|&m| before.suggestions.iter().any(|s| s.mends == m))
            .count();
        for suggestion in &before.suggestions {
            let after = fit(&song, &apply(&routine, &suggestion.edits));
            let mut left = amiss(&before);
            left.remove(suggestion.mends);
            for mismatch in amiss(&after) {
                let place = left.iter().position(|m| *m == mismatch);
                assert!(
                    place.is_some(),
                    "{} adds {mismatch:?} to {:?}",
                    suggestion.message,
                    amiss(&before)
                );
                left.remove(place.unwrap());
            }
            tried += 1;
        }
    }
    println!("{with_mend} of {mismatches} mismatches have a mend; {tried} mends tried");
    assert!(tried > 3000, "{tried}");
    // Most of these routines have nothing to do with their songs; still nine in ten can be mended.
    assert!(with_mend * 10 > mismatches * 9, "{with_mend} of {mismatches}");
}

#[test]
fn no_count_is_lost_between_parts_and_mismatches() {
    let mut dice = Dice::new(12);
    for _ in 0..1500 {
        let form = phrases(&mut dice);
        let (song, routine) = (song(&form), routine(&mut dice));
        let fit = fit(&song, &routine);
        let counts: i32 = form.iter().map(|p| p.1 as i32).sum();
        let danced: i32 = fit.placements.iter().map(|p| p.counts as i32).sum();
        let mut balance = counts - fit.wait.counts as i32 - danced;
        for mismatch in &fit.mismatches {
            use MismatchKind::*;
            match mismatch.kind {
                PartTooShort | SongLeftOver => balance -= mismatch.counts,
                PartTooLong | FillWithoutGap | SongEndsFirst => balance += mismatch.counts,
                OffPhrase | WaitDiffers => {}
            }
        }
        assert!((0..=CLOSING_COUNTS as i32).contains(&balance), "{balance}: {fit:?}");
        assert_eq!(fit.fits, fit.mismatches.is_empty());
    }
}

#[test]
fn a_longer_intro_moves_everything_and_changes_nothing() {
    let mut dice = Dice::new(13);
    for _ in 0..1000 {
        let form = phrases(&mut dice);
        let routine = routine(&mut dice);
        let [short, long] = [8, 8 + 4 * (1 + dice.roll(8) as u32)].map(|intro| {
            let with_intro: Vec<_> = [("intro", intro)].into_iter().chain(form.clone()).collect();
            let stated = Routine { wait: Some(intro), ..routine.clone() };
            fit(&song(&with_intro), &stated)
        });
        let moved = (long.wait.counts - short.wait.counts) as i32;
        let at = |(kind, at, counts): Amiss| (kind, at + moved, counts);
        assert_eq!(amiss(&short).into_iter().map(at).collect::<Vec<_>>(), amiss(&long));
    }
}

#[test]
fn feet_and_walls_go_on_from_part_to_part() {
    let mut dice = Dice::new(14);
    for _ in 0..300 {
        let fit = fit(&song(&phrases(&mut dice)), &routine(&mut dice));
        for pair in fit.placements.windows(2) {
            assert_eq!(pair[0].free_foot_after, pair[1].lead_foot);
            assert_eq!(pair[0].wall_after, pair[1].wall_before);
            assert!(pair[0].start_count <= pair[1].start_count);
        }
    }
}
