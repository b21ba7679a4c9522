//! What holds for every fit, tried on some thousand songs and routines.

use super::testing::{Dice, in_order, part, song};
use super::*;
use crate::routine::PartKind;
use crate::units::{Foot, Wall};

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

/// The song with silence put in front of it: everything so much later.
fn after_silence(song: &SongView, silence_s: f64) -> SongView {
    let mut later = song.clone();
    later.duration_s += silence_s;
    later.counts.end_s += silence_s;
    later.counts.times_s.iter_mut().for_each(|t| *t += silence_s);
    for phrase in &mut later.phrases {
        phrase.start_s += silence_s;
        phrase.end_s += silence_s;
    }
    later
}

#[test]
fn silence_before_the_song_moves_times_and_nothing_else() {
    let mut dice = Dice::new(15);
    for _ in 0..500 {
        let (song, routine) = (song(&phrases(&mut dice)), routine(&mut dice));
        let silence_s = 0.25 * (1 + dice.roll(80)) as f64;
        let (here, later) = (fit(&song, &routine), fit(&after_silence(&song, silence_s), &routine));
        let moved = |a: f64, b: f64| (b - a - silence_s).abs() < 1e-9;
        assert_eq!(amiss(&here), amiss(&later));
        assert_eq!(here.wait.counts, later.wait.counts);
        assert!(moved(here.wait.start_s, later.wait.start_s));
        assert!(moved(here.wait.end_s, later.wait.end_s));
        assert_eq!(here.placements.len(), later.placements.len());
        for (a, b) in here.placements.iter().zip(&later.placements) {
            let times = Placement { start_s: b.start_s, end_s: b.end_s, ..a.clone() };
            assert_eq!(times, *b);
            assert!(moved(a.start_s, b.start_s) && moved(a.end_s, b.end_s));
        }
        let edits = |f: &Fit| f.suggestions.iter().map(|s| s.edits.clone()).collect::<Vec<_>>();
        assert_eq!(edits(&here), edits(&later));
        for (a, b) in here.suggestions.iter().zip(&later.suggestions) {
            assert!(moved(a.at_s, b.at_s));
            assert_eq!((a.at_count, a.mends, &a.steps), (b.at_count, b.mends, &b.steps));
        }
    }
}

#[test]
fn feet_alternate_with_the_weight_and_walls_add_up() {
    let mut dice = Dice::new(16);
    let mut turned = 0;
    for _ in 0..500 {
        let mut routine = routine(&mut dice);
        for step in routine.parts.iter_mut().flat_map(|p| &mut p.lines).flat_map(|l| &mut l.steps) {
            step.turn = [0, 0, 1, -1, 2, 3][dice.roll(6)];
        }
        let fit = fit(&song(&phrases(&mut dice)), &routine);
        let (mut changes, mut quarters) = (0, 0);
        for placement in &fit.placements {
            let odd = changes % 2 == 1;
            assert_eq!(placement.lead_foot, if odd { Foot::Right } else { Foot::Left });
            let facing = |quarters: i32| Wall::Front.turned(quarters.rem_euclid(4));
            assert_eq!(placement.wall_before, facing(quarters));
            if !placement.left_out {
                let part = &routine.parts[routine.order[placement.order_index].part];
                changes += part.steps().map(|s| s.weight_changes()).sum::<u32>();
                quarters += part.steps().map(|s| s.turn).sum::<i32>();
            }
            assert_eq!(placement.wall_after, facing(quarters));
        }
        turned += quarters.abs();
    }
    assert!(turned > 1000, "{turned}");
}

/// A song with a routine made for it: each sort of phrase has its part, of just its length.
fn made_for_each_other(dice: &mut Dice) -> (Vec<(&'static str, u32)>, Routine) {
    let labels = ["verse", "chorus", "bridge", "instrumental"];
    let lengths: Vec<u32> = labels.iter().map(|_| [16, 32, 32, 48][dice.roll(4)]).collect();
    let heard: Vec<usize> = (0..4 + dice.roll(7)).map(|_| dice.roll(labels.len())).collect();
    let mut form = vec![("intro", 16)];
    form.extend(heard.iter().map(|&label| (labels[label], lengths[label])));
    let four = ["Triple", "Fancy double", "Rocking chair"];
    let parts = labels.iter().zip(&lengths).map(|(label, counts)| {
        let lines: Vec<(u32, &str)> = (0..counts / 8).map(|_| (2, four[dice.roll(3)])).collect();
        part(label, PartKind::Part, &lines)
    });
    let parts = parts.collect();
    (form, Routine { parts, order: in_order(&heard), wait: Some(16), ..Routine::default() })
}

#[test]
fn mends_made_one_after_the_other_end_in_a_fit() {
    let mut dice = Dice::new(17);
    let (mut misfits, mut mended, mut applied, mut fitting) = (0, 0, 0, 0);
    for _ in 0..600 {
        let (mut form, routine) = made_for_each_other(&mut dice);
        assert!(fit(&song(&form), &routine).fits, "{form:?}");
        for _ in 0..1 + dice.roll(2) {
            let phrase = dice.roll(form.len());
            let by = [-8, -4, -2, 2, 4, 6, 8, 16][dice.roll(8)];
            form[phrase].1 = form[phrase].1.saturating_add_signed(by).max(2);
        }
        let song = song(&form);
        let first = fit(&song, &routine);
        if first.fits {
            continue;
        }
        // Each mend of a single mismatch is applied and fitted again.
        if first.mismatches.len() == 1 {
            for mend in &first.suggestions {
                applied += 1;
                fitting += u32::from(fit(&song, &apply(&routine, &mend.edits)).fits);
            }
        }
        misfits += 1;
        let (mut sheet, mut laid) = (routine, first);
        for _ in 0..8 {
            let Some(mend) = laid.suggestions.first() else { break };
            sheet = apply(&sheet, &mend.edits);
            laid = fit(&song, &sheet);
        }
        mended += u32::from(laid.fits);
    }
    println!("{mended} of {misfits} misfits mended; {fitting} of {applied} single mends fit");
    assert!(misfits > 400 && applied > 600, "{misfits} {applied}");
    assert!(mended * 100 >= misfits * 99, "{mended} of {misfits}");
    assert!(fitting * 100 >= applied * 99, "{fitting} of {applied}");
}
