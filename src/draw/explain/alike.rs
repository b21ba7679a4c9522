//! The last page: which stretches of the song sound alike, with the phrases along both sides.

use super::{BLACK, GREY, MARGIN, PAGE, SMALL, Shown, VERMILLION, WHITE, shortened, words};
use crate::draw::ink::Ink;
use crate::draw::scene::{Group, Rect, Text};

/// Likeness from which on each shade is drawn, and the shade.
const SHADES: [(f32, Ink); 4] = [
    (0.2, Ink(214, 214, 214)),
    (0.37, Ink(160, 160, 160)),
    (0.6, Ink(98, 98, 98)),
    (0.8, Ink(32, 32, 32)),
];
/// Phrases nearer together than this are not drawn, millimetres.
const NEAREST: f64 = 1.5;
const TOP: f64 = 24.0;
/// Left of the square: names of phrases.
const NAMES: f64 = 30.0;

/// Whether the song is long enough to be like itself.
pub(super) fn has_page(shown: &Shown<'_>) -> bool {
    shown.alike.times_s.len() >= 8
}

pub(super) fn page(shown: &Shown<'_>) -> Vec<Group> {
    let side = PAGE.1 - TOP - MARGIN - 8.0;
    let square = Rect::new(MARGIN + NAMES, TOP, side, side);
    let mut heading = Group::new("heading");
    let title = shortened("Which stretches sound alike", 180.0 / 5.4, true, 1).unwrap_or_default();
    heading.text(words(title, (MARGIN, MARGIN + 1.5), 5.4, true));
    let how = "A dark slanting line is a stretch that comes again: read down from its place in the song, \
               across to where it was heard before.";
    heading.text(words(how.into(), (MARGIN, MARGIN + 6.0), 3.1, false));
    vec![heading, cells(shown, square), phrases(shown, square), legend(square, shown.alike.beats)]
}

/// Runs of one shade in a row.
fn cells(shown: &Shown<'_>, square: Rect) -> Group {
    let like = &shown.alike.like;
    let cell = square.w / like.len() as f64;
    let mut group = Group::new("likeness");
    for (row, values) in like.iter().enumerate() {
        let shades: Vec<Option<usize>> =
            values.iter().map(|like| SHADES.iter().rposition(|(from, _)| like >= from)).collect();
        let mut from = 0;
        for run in shades.chunk_by(|a, b| a == b) {
            if let Some(shade) = run[0] {
                let (x, y) = (square.x + from as f64 * cell, square.y + row as f64 * cell);
                group.fill(Rect::new(x, y, run.len() as f64 * cell, cell), SHADES[shade].1);
            }
            from += run.len();
        }
    }
    group
}

/// Where phrases start, and what they are.
fn phrases(shown: &Shown<'_>, square: Rect) -> Group {
    let mut group = Group::new("phrases");
    let times = &shown.alike.times_s;
    let place = |time_s: f64| {
        let before = times.partition_point(|&t| t < time_s - 1e-3);
        before as f64 / times.len() as f64 * square.w
    };
    let corners = square.corners();
    group.line([&corners[..], &corners[..1]].concat(), BLACK, 0.25);
    let mut last = f64::NEG_INFINITY;
    for (phrase, name) in &shown.phrases {
        let at = place(phrase.start_s);
        // In a long recording phrases stand too close to be told apart.
        if at - last < NEAREST {
            continue;
        }
        let (x, y) = (square.x + at, square.y + at);
        group.line(vec![(x, square.y), (x, square.bottom())], VERMILLION, 0.15);
        group.line(vec![(square.x, y), (square.right(), y)], VERMILLION, 0.15);
        if at - last > SMALL {
            // A part of a tune is called by its letter, and a phrase without a word ends with it.
            let letter = phrase.letter.as_str();
            let name = match letter.is_empty() || name.split(' ').next_back() == Some(letter) {
                true => name.clone(),
                false => format!("{letter} {name}"),
            };
            let name = shortened(&name, (NAMES - 2.0) / SMALL, false, 1).unwrap_or_default();
            let words = words(name, (MARGIN, y + SMALL), SMALL, false);
            group.text(Text { ink: BLACK, ..words });
        }
        last = at;
    }
    group
}

fn legend(square: Rect, beats: usize) -> Group {
    let mut group = Group::new("legend");
    let x = square.right() + 6.0;
    let entries = ["somewhat alike", "alike enough to be one letter", "very alike", "the same"];
    for (k, ((_, ink), label)) in SHADES.iter().zip(entries).enumerate() {
        let y = square.y + 4.0 + 5.0 * k as f64;
        group.fill(Rect::new(x, y - 2.2, 4.0, 2.8), *ink);
        group.text(words(label.into(), (x + 5.5, y), SMALL, false));
    }
    let y = square.y + 25.0;
    group.line(vec![(x, y - 0.8), (x + 4.0, y - 0.8)], VERMILLION, 0.3);
    group.text(words("a phrase starts".into(), (x + 5.5, y), SMALL, false));
    let note = words(format!("each dot is {beats} beats"), (x, y + 5.0), SMALL, false);
    group.text(Text { ink: GREY, on: WHITE, ..note });
    group
}
