//! A cut in words: what is kept, what is gone, which joins to hear.

use std::collections::BTreeMap;

use super::plan::{Ending, Join, Plan};
use crate::song::SongView;
use crate::units::{Count, clock, eights};

/// The report of a cut.
pub fn report(song: &SongView, plan: &Plan, joins: &[Join]) -> String {
    let names = song.names();
    let mut text = format!(
        "{}: {} counts, {} (the recording has {}, {})\n",
        song.title,
        plan.counts(),
        clock(plan.duration_s),
        song.counts.len(),
        clock(song.duration_s)
    );
    let (kept, gone) = kept_and_gone(song, &names, plan);
    text.push_str(&format!("  kept      {}\n", kept.join(" · ")));
    if !gone.is_empty() {
        text.push_str(&format!("  left out  {}\n", gone.join(", ")));
    }
    text.push_str(match plan.ending {
        Ending::AsRecorded => "  ending    as recorded\n",
        Ending::Faded => "  ending    faded out over the last eight\n",
    });
    if joins.is_empty() {
        text.push_str("  joins     none: nothing is cut inside\n");
        return text;
    }
    text.push_str("\nJoins to hear before you use it:\n");
    for (number, join) in (1..).zip(joins) {
        text.push_str(&format!(
            "  {number}. {} (count {}): from {} to {} – {}\n",
            clock(join.at_s),
            join.at_count,
            place(song, &names, join.leave, true),
            place(song, &names, join.enter, false),
            likeness(join.unlike)
        ));
    }
    text
}

/// Phrases that are played, in order, and those that are not played at all or not whole.
fn kept_and_gone(song: &SongView, names: &[String], plan: &Plan) -> (Vec<String>, Vec<String>) {
    let mut played: BTreeMap<usize, u32> = BTreeMap::new();
    let mut kept: Vec<(usize, u32)> = Vec::new();
    for piece in &plan.pieces {
        for count in (piece.from.0..piece.to.0).map(Count) {
            let Some(phrase) = song.phrase_at(count) else { continue };
            *played.entry(phrase).or_default() += 1;
            match kept.last_mut() {
                Some((last, counts)) if *last == phrase && count != song.phrases[phrase].start => {
                    *counts += 1;
                }
                _ => kept.push((phrase, 1)),
            }
        }
    }
    let kept = kept.iter().map(|&(phrase, counts)| match counts == song.phrases[phrase].counts {
        true => format!("{} {counts}", names[phrase]),
        false => format!("{counts} of {}'s {}", names[phrase], song.phrases[phrase].counts),
    });
    let gone = song.phrases.iter().enumerate().filter_map(|(p, phrase)| {
        match phrase.counts.saturating_sub(played.get(&p).copied().unwrap_or(0)) {
            0 => None,
            all if all == phrase.counts => Some(names[p].clone()),
            some => Some(format!("{some} counts of {}", names[p])),
        }
    });
    (kept.collect(), gone.collect())
}

/// A place as a teacher finds it: `the end of chorus 1`, `the start of bridge`, `2 eights into verse 2`.
fn place(song: &SongView, names: &[String], count: Count, leaving: bool) -> String {
    let starts = song.phrases.iter().position(|p| p.start == count);
    match (starts, leaving) {
        (Some(next), true) if next > 0 => format!("the end of {}", names[next - 1]),
        (None, true) if count >= song.counts.end() => "the end of the song".into(),
        (Some(phrase), false) => format!("the start of {}", names[phrase]),
        _ => match song.phrase_at(count) {
            Some(p) => {
                let into = (count - song.phrases[p].start).max(0) as u32;
                format!("{} into {}", eights(into), names[p])
            }
            None => format!("count {count}"),
        },
    }
}

fn likeness(unlike: f64) -> String {
    let alike = (100.0 * (1.0 - unlike)).clamp(0.0, 100.0);
    let words = match unlike {
        u if u < 0.15 => "the two places sound the same",
        u if u < 0.4 => "they sound alike",
        u if u < 0.8 => "they differ: listen closely",
        _ => "they sound different: judge by ear",
    };
    format!("{words} ({alike:.0} % alike)")
}

#[cfg(test)]
mod tests {
    use crate::cut::{Joints, keep, testing};

    #[test]
    fn a_cut_reads_as_a_teacher_would_say_it() {
        let (song, sounds) = testing::song();
        let plan =
            keep(&song, &Joints::new(&song, &sounds), "intro, verse 1, chorus 3, ending").unwrap();
        let text = super::report(&song, &plan, &plan.joins);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0], "Lamp Oil: 88 counts, 0:47.00 (the recording has 200, 1:43.00)");
        assert_eq!(lines[1], "  kept      intro 16 · verse 1 32 · chorus 3 32 · ending 8");
        assert_eq!(lines[2], "  left out  chorus 1, verse 2, chorus 2, bridge");
        assert_eq!(lines[3], "  ending    as recorded");
        assert!(
            lines[6].starts_with(
                "  1. 0:25.00 (count 49): from the end of verse 1 to the start of chorus 3 – "
            ),
            "{}",
            lines[6]
        );
    }
}
