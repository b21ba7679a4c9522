//! How long a fit takes, and to look for other ways: 60 parts on a song of ten minutes, 1500 counts.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use hoofbeat::fit::{fit, fit_with_alternatives};
use hoofbeat::routine::{OrderItem, Part, PartKind, Routine, StepLine, StepUse};
use hoofbeat::song::{CountLine, Phrase, SongView};
use hoofbeat::units::{Count, Foot};

const COUNTS: u32 = 1500;
const PARTS: usize = 60;

fn song(lengths: &[u32]) -> SongView {
    let labels = ["verse", "verse", "chorus", "bridge", "verse", "chorus", "solo", "chorus"];
    let time = |count: u32| f64::from(count) * 0.4;
    let mut start = 0;
    let phrases: Vec<Phrase> = lengths
        .iter()
        .enumerate()
        .map(|(n, &counts)| {
            let phrase = Phrase {
                letter: String::new(),
                label: labels[n % labels.len()].into(),
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
        title: "Ten Minutes".into(),
        artist: None,
        duration_s: time(start),
        counts_per_minute: 150.0,
        counts_per_bar: 4,
        counts_per_beat: 1.0,
        counts: CountLine {
            times_s: (0..start).map(time).collect(),
            bar_positions: (0..start).map(|c| c % 4 + 1).collect(),
            end_s: time(start),
        },
        phrases,
    }
}

fn step(name: &str, counts: u32, swaps_free_foot: bool) -> StepUse {
    let feet = vec![Foot::Left, Foot::Right, Foot::Left];
    StepUse { name: name.into(), counts, swaps_free_foot, feet, ..StepUse::default() }
}

/// Five parts of 24 counts in triples and single basics, danced in the order of the song's phrases.
fn routine(with_fills: bool) -> Routine {
    let part = |name: &str, kind, triples: usize, basics: usize| {
        let mut steps = vec![step("Triple basic", 4, true); triples];
        steps.extend(vec![step("Single basic", 2, true); basics]);
        let lines = steps.chunks(4).map(|s| StepLine { steps: s.to_vec(), ..Default::default() });
        Part { name: name.into(), kind, lines: lines.collect(), ..Part::default() }
    };
    let parts = vec![
        part("Part A", PartKind::Part, 4, 4),
        part("Part B", PartKind::Part, 5, 2),
        part("Part C", PartKind::Part, 6, 0),
        part("Part D", PartKind::Part, 3, 6),
        part("Fill", PartKind::Fill, 1, 0),
    ];
    let by_phrase = [0, 0, 1, 2, 0, 1, 3, 1];
    let order: Vec<usize> = (0..PARTS)
        .map(|n| if with_fills && n % 7 == 6 { 4 } else { by_phrase[n % by_phrase.len()] })
        .collect();
    let order = order
        .iter()
        .enumerate()
        .map(|(n, &part)| OrderItem {
            part,
            time_round: order[..=n].iter().filter(|&&p| p == part).count() as u32,
            line: n,
        })
        .collect();
    Routine { parts, order, ..Routine::default() }
}

fn lengths(odd: bool) -> Vec<u32> {
    let mut left = COUNTS;
    let mut lengths = Vec::new();
    for n in 0.. {
        let counts = if odd { [24, 28, 24, 20, 32, 24, 26, 24, 25][n % 9] } else { 24 };
        lengths.push(left.min(counts));
        left = left.saturating_sub(counts);
        if left == 0 {
            return lengths;
        }
    }
    lengths
}

fn fits(criterion: &mut Criterion) {
    let cases =
        [("meets", false, false), ("odd phrases", true, false), ("odd phrases, fills", true, true)];
    for (name, odd, with_fills) in cases {
        let (song, routine) = (song(&lengths(odd)), routine(with_fills));
        let found = fit(&song, &routine);
        eprintln!(
            "{name}: {} phrases, {} mismatches, {} suggestions",
            song.phrases.len(),
            found.mismatches.len(),
            found.suggestions.len()
        );
        criterion.bench_function(&format!("fit 60 parts on 1500 counts: {name}"), |b| {
            b.iter(|| fit(black_box(&song), black_box(&routine)));
        });
        criterion.bench_function(&format!("with other ways: {name}"), |b| {
            b.iter(|| fit_with_alternatives(black_box(&song), black_box(&routine), Vec::new));
        });
    }
}

criterion_group!(benches, fits);
criterion_main!(benches);
