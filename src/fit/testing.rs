//! Songs and routines by hand, for tests.

use crate::routine::{OrderItem, Part, PartKind, Routine, StepLine, StepUse, glossary};
use crate::song::{CountLine, Phrase, SongView};
use crate::units::Count;

/// A song at 120 counts a minute, counting from 0:01.00, of these phrases.
pub(crate) fn song(phrases: &[(&str, u32)]) -> SongView {
    let counts: u32 = phrases.iter().map(|p| p.1).sum();
    let time = |count: Count| 1.0 + 0.5 * f64::from(count.0 - 1);
    let mut start = Count::FIRST;
    let phrases = phrases
        .iter()
        .map(|&(label, counts)| {
            let end = start + counts as i32;
            let phrase = Phrase {
                letter: String::new(),
                label: label.into(),
                start,
                counts,
                start_s: time(start),
                end_s: time(end),
                set: true,
                strength: 1.0,
            };
            start = end;
            phrase
        })
        .collect();
    SongView {
        entrance: None,
        title: "Lantern Street".into(),
        artist: None,
        duration_s: time(start) + 2.0,
        counts_per_minute: 120.0,
        counts_per_bar: 4,
        counts_per_beat: 1.0,
        counts: CountLine {
            times_s: (1..=counts as i32).map(|c| time(Count(c))).collect(),
            bar_positions: (0..counts).map(|c| c % 4 + 1).collect(),
            end_s: time(start),
        },
        phrases,
    }
}

/// A routine of parts with stated counts only.
pub(crate) fn routine(
    wait: Option<u32>,
    parts: &[(&str, PartKind, u32)],
    order: &[usize],
) -> Routine {
    let parts = parts
        .iter()
        .enumerate()
        .map(|(line, &(name, kind, counts))| Part {
            name: name.into(),
            kind,
            stated_counts: Some(counts),
            lines: Vec::new(),
            line: line + 3,
        })
        .collect();
    Routine { title: "Trial".into(), wait, parts, order: in_order(order), ..Routine::default() }
}

/// The order, each part with its time round.
pub(crate) fn in_order(order: &[usize]) -> Vec<OrderItem> {
    let time_round = |i: usize| order[..=i].iter().filter(|&&p| p == order[i]).count() as u32;
    order
        .iter()
        .enumerate()
        .map(|(i, &part)| OrderItem { part, time_round: time_round(i), line: 20 })
        .collect()
}

/// A step of the glossary.
pub(crate) fn step(name: &str) -> StepUse {
    glossary::find(name).unwrap().1.clone()
}

/// A part of these steps, each so many times.
pub(crate) fn part(name: &str, kind: PartKind, steps: &[(u32, &str)]) -> Part {
    let lines = steps
        .iter()
        .enumerate()
        .map(|(n, &(times, name))| StepLine {
            steps: (0..times).map(|_| step(name)).collect(),
            text: format!("{times} {name}"),
            note: None,
            line: n + 1,
        })
        .collect();
    Part { name: name.into(), kind, stated_counts: None, lines, line: 1 }
}

/// A small random generator, the same on every machine.
pub(crate) struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// A number below `sides`.
    pub fn roll(&mut self, sides: usize) -> usize {
        // Marsaglia's xorshift, 64 bits.
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 33) % sides as u64) as usize
    }
}
