//! Songs and routines made here, to draw and to look at.

use super::*;
use crate::fit::{Mismatch, MismatchKind, Placement, Suggestion, SuggestionKind, Wait};
use crate::routine::{OrderItem, Part, PartKind};
use crate::song::{CountLine, Phrase};
use crate::units::{Count, Foot, Wall};

/// A steady song with phrases of these lengths, its first count at 1.86 s.
pub(crate) fn song(phrases: &[(&str, u32)], counts_per_minute: f64) -> SongView {
    let period = 60.0 / counts_per_minute;
    let total: u32 = phrases.iter().map(|p| p.1).sum();
    let time = |count: u32| 1.86 + f64::from(count) * period;
    let mut start = 0;
    let laid = phrases
        .iter()
        .map(|&(label, counts)| {
            let phrase = Phrase {
                letter: String::new(),
                label: label.into(),
                start: Count::from_index(start as usize),
                counts,
                start_s: time(start),
                end_s: time(start + counts),
                set: true,
                strength: 1.0,
            };
            start += counts;
            phrase
        })
        .collect();
    SongView {
        entrance: None,
        title: "Mill Lane".into(),
        artist: Some("The Sawdust Band".into()),
        duration_s: time(total) + 3.0,
        counts_per_minute,
        counts_per_bar: 4,
        counts_per_beat: 1.0,
        counts: CountLine {
            times_s: (0..total).map(time).collect(),
            bar_positions: (0..total).map(|c| c % 4 + 1).collect(),
            end_s: time(total),
        },
        phrases: laid,
    }
}

/// A routine of parts danced in this order, and how it lies one part after the other after the wait.
pub(crate) fn laid(song: &SongView, wait: u32, order: &[(&str, u32)]) -> (Routine, Fit) {
    let mut routine = Routine { title: "Sawmill Stomp".into(), ..Routine::default() };
    let time = |at: Count| song.counts.time_or_beyond_s(at);
    let mut placements: Vec<Placement> = Vec::new();
    let mut at = Count::FIRST + wait as i32;
    let mut foot = Foot::Left;
    for (index, &(name, counts)) in order.iter().enumerate() {
        let part = routine.parts.iter().position(|p| p.name == name).unwrap_or_else(|| {
            let kind = if name.starts_with("Fill") { PartKind::Fill } else { PartKind::Part };
            let stated_counts = Some(counts);
            routine.parts.push(Part { name: name.into(), kind, stated_counts, ..Part::default() });
            routine.parts.len() - 1
        });
        let time_round = 1 + placements.iter().filter(|p| p.part == name).count() as u32;
        routine.order.push(OrderItem { part, time_round, line: 1 });
        let end = at + counts as i32;
        let phrase = song.phrases.iter().position(|p| p.start <= at && at < p.end());
        placements.push(Placement {
            part: name.into(),
            time_round,
            order_index: index,
            start_count: at,
            counts,
            danced: counts,
            left_out: false,
            start_s: time(at),
            end_s: time(end),
            phrase: phrase.map(|p| song.phrases[p].label.clone()),
            phrase_index: phrase,
            lead_foot: foot,
            free_foot_after: foot.other(),
            wall_before: Wall::Front,
            wall_after: Wall::Front,
        });
        foot = foot.other();
        at = end;
    }
    let wait =
        Wait { counts: wait, start_s: time(Count(1)), end_s: time(Count::FIRST + wait as i32) };
    let fit = Fit { fits: true, wait, placements, mismatches: vec![], suggestions: vec![] };
    (routine, fit)
}

/// Adds a mismatch, with a mend where one is given.
pub(crate) fn amiss(
    fit: &mut Fit,
    kind: MismatchKind,
    at: i32,
    counts: i32,
    part: &str,
    mend: Option<&str>,
) {
    fit.fits = false;
    fit.mismatches.push(Mismatch {
        kind,
        at_count: Count(at),
        at_s: 1.86 + f64::from(at - 1) * 0.5,
        counts,
        part: Some(part.into()),
        time_round: Some(1),
        phrase: Some("chorus".into()),
        message: format!("{part} and its phrase differ by {counts} counts here"),
    });
    if let Some(mend) = mend {
        fit.suggestions.push(Suggestion {
            mends: fit.mismatches.len() - 1,
            kind: SuggestionKind::Fill,
            at_count: Count(at),
            at_s: 0.0,
            counts: counts.unsigned_abs(),
            steps: vec![],
            feet: vec![],
            edits: vec![],
            lead_foot: Some(Foot::Left),
            free_foot_after: Some(Foot::Left),
            message: mend.into(),
        });
    }
}

/// Three minutes, twelve parts, a chorus of 36 that leaves four counts over.
pub(crate) fn three_minutes() -> (SongView, Routine, Fit) {
    let form = [
        ("intro", 16),
        ("verse", 32),
        ("chorus", 36),
        ("verse", 32),
        ("chorus", 36),
        ("instrumental", 32),
        ("bridge", 40),
        ("verse", 32),
        ("chorus", 36),
        ("chorus", 36),
        ("ending", 20),
    ];
    let song = song(&form, 120.0);
    let order = [
        ("Part A", 32),
        ("Part B", 32),
        ("Fill", 4),
        ("Part A", 32),
        ("Part B", 32),
        ("Fill", 4),
        ("Break", 32),
        ("Bridge", 40),
        ("Part A", 32),
        ("Part B", 36),
        ("Part B", 36),
        ("Ending", 24),
    ];
    let (routine, mut fit) = laid(&song, 16, &order);
    // The first fill is missing: its four counts are free.
    fit.placements.remove(2);
    let mend = "a fill of 4 that starts with the left foot free and leaves it free, such as two single basics";
    amiss(&mut fit, MismatchKind::PartTooShort, 81, 4, "Part B", Some(mend));
    amiss(&mut fit, MismatchKind::SongEndsFirst, 349, 4, "Ending", None);
    (song, routine, fit)
}

/// Six minutes, fast, a fill each time, one of them with nowhere to go.
pub(crate) fn six_minutes() -> (SongView, Routine, Fit) {
    let mut form = vec![("intro", 32)];
    for _ in 0..5 {
        form.extend([
            ("verse", 32),
            ("verse", 32),
            ("chorus", 36),
            ("break", 16),
            ("instrumental", 32),
        ]);
    }
    let song = song(&form, 132.0);
    let mut order = Vec::new();
    for _ in 0..5 {
        order.extend([
            ("Part A", 32),
            ("Part B", 32),
            ("Chorus", 32),
            ("Fill", 4),
            ("Break", 16),
            ("Part C", 32),
        ]);
    }
    let (routine, mut fit) = laid(&song, 32, &order);
    for i in 0..5 {
        amiss(
            &mut fit,
            MismatchKind::OffPhrase,
            97 + 148 * i,
            4,
            "Chorus",
            Some("start it four counts later"),
        );
    }
    (song, routine, fit)
}

/// Long names, other scripts, a part that runs over, heard phrases, counts of half the beats.
pub(crate) fn awkward_names() -> (SongView, Routine, Fit) {
    let form = [
        ("count-in & talk", 8),
        ("first verse, sung by the whole choir in the old way", 30),
        ("שיר 🎶", 36),
        ("chorus", 32),
        ("instrumental with fiddle", 12),
        ("chorus", 32),
        ("last verse", 33),
        ("x", 2),
        ("ending", 16),
    ];
    let mut song = song(&form, 88.0);
    song.counts_per_beat = 0.5;
    song.title = "Über <Bach> & \"Brücke\" \u{202e}dne".into();
    for index in [2, 4, 7] {
        song.phrases[index].set = false;
        song.phrases[index].strength = 0.4;
    }
    let order = [
        ("Verse with the long turning chain to the back wall", 32),
        ("Verse with the long turning vine", 30),
        ("חלק ב 💃🏽", 32),
        ("Fill", 2),
        ("Fill two", 4),
        ("Tag", 1),
        ("Chorus", 32),
        ("Verse with the long turning vine", 30),
        ("Chorus", 32),
        ("Ending", 14),
    ];
    let (mut routine, mut fit) = laid(&song, 8, &order);
    routine.title = "Grand march & <turning> \"chain\" in the old style, as danced on the mill floor on winter nights".into();
    fit.placements[2].wall_before = Wall::Back;
    fit.placements[2].wall_after = Wall::Back;
    amiss(
        &mut fit,
        MismatchKind::PartTooLong,
        39,
        2,
        "Verse with the long turning chain to the back wall",
        None,
    );
    amiss(&mut fit, MismatchKind::OffPhrase, 41, 2, "Verse with the long turning vine", None);
    amiss(&mut fit, MismatchKind::WaitDiffers, 1, 8, "Verse", Some("wait 16"));
    amiss(&mut fit, MismatchKind::FillWithoutGap, 103, 2, "Fill", None);
    (song, routine, fit)
}

/// Sixty parts over ten minutes, with some names that are long.
pub(crate) fn ten_minutes() -> (SongView, Routine, Fit) {
    let labels = ["verse", "chorus", "instrumental", "bridge"];
    let form: Vec<(&str, u32)> = std::iter::once(("intro", 16))
        .chain((0..36).map(|i| (labels[i % 4], [32, 36, 32, 40][i % 4])))
        .collect();
    let song = song(&form, 126.0);
    let names = ["Part A", "Part B with the long turning chain", "Fill", "Bridge", "Tag"];
    let order: Vec<(&str, u32)> =
        (0..60).map(|i| (names[i % 5], [32, 28, 4, 32, 8][i % 5])).collect();
    let (routine, mut fit) = laid(&song, 16, &order);
    for i in 0..14 {
        amiss(
            &mut fit,
            MismatchKind::OffPhrase,
            60 + 80 * i,
            4,
            "Part A",
            (i % 3 == 0).then_some("leave the fill out here"),
        );
    }
    (song, routine, fit)
}

/// Six minutes and sixty parts, each of them short.
pub(crate) fn sixty_parts_in_six_minutes() -> (SongView, Routine, Fit) {
    let form: Vec<(&str, u32)> = std::iter::once(("intro", 16))
        .chain((0..26).map(|i| (["verse", "chorus"][i % 2], 34)))
        .collect();
    let song = song(&form, 154.0);
    let names = ["Part A", "Part B", "Fill", "Break", "Tag", "Chorus"];
    let order: Vec<(&str, u32)> =
        (0..60).map(|i| (names[i % 6], [20, 16, 4, 16, 8, 24][i % 6])).collect();
    let (routine, fit) = laid(&song, 16, &order);
    (song, routine, fit)
}
