//! Two cuts of a song, one above the other, with ribbons between what is the same.
//!
//! Both run from left to right on one scale of seconds. What is gone is hatched above, what is new is hatched
//! below; hatching and the absence of a ribbon say it, not colour.

use super::ink::{BLACK, GREY, Ink, PALE, PART_INKS, WHITE};
use super::scene::{Anchor, Group, Rect, Scene, Text};
use super::text::shortened;
use super::{Paper, svg};
use crate::song::SongView;
use crate::units::clock;

const MARGIN: f64 = 11.0;
const BLOCK: f64 = 22.0;
/// From the top to the old cut, and from one to the other.
const HEAD: f64 = 42.0;
const APART: f64 = 66.0;
const SMALL: f64 = 2.6;

/// A phrase of the new cut, and the old phrase that it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ribbon {
    /// Index of the old phrase; `None` for what is new.
    pub old: Option<usize>,
    /// Counts of the old phrase that are left out at its start.
    pub from: u32,
    /// How sure, 0 to 1.
    pub sure: f64,
}

/// Draws two cuts with what matches. `ribbons` has one for each phrase of `new`. The same input gives the same
/// document, byte for byte.
pub fn two_cuts(
    old: &SongView,
    new: &SongView,
    ribbons: &[Ribbon],
    told: &str,
    paper: Paper,
) -> String {
    svg::write(&scene(old, new, ribbons, told, paper.size_mm()))
}

/// Whether a document that begins so was drawn by [`two_cuts`].
pub fn is_two_cuts(beginning: &[u8]) -> bool {
    let mark = b"Two cuts: ";
    svg::is_own(beginning) && beginning.windows(mark.len()).any(|part| part == mark)
}

fn scene(
    old: &SongView,
    new: &SongView,
    ribbons: &[Ribbon],
    told: &str,
    page: (f64, f64),
) -> Scene {
    let longest_s = old.duration_s.max(new.duration_s).max(1.0);
    let scale = (page.0 - 2.0 * MARGIN) / longest_s;
    let x = |s: f64| MARGIN + s.clamp(0.0, longest_s) * scale;
    let (top, bottom) = (HEAD, HEAD + APART);
    let mut groups = vec![heading(old, new, told, page)];
    let inks = inks(old);

    let mut of_ribbons = Group::new("ribbons");
    for (phrase, ribbon) in new.phrases.iter().zip(ribbons) {
        let Some(source) = ribbon.old.and_then(|p| old.phrases.get(p)) else { continue };
        let last = source.start + (ribbon.from + phrase.counts).min(source.counts) as i32;
        let from_s = old.counts.time_or_beyond_s(source.start + ribbon.from as i32);
        let to_s = old.counts.time_or_beyond_s(last);
        let ink = ribbon.old.map_or(PALE, |p| inks[p]).thinned(0.25 + 0.35 * ribbon.sure);
        let (y1, y2) = (top + BLOCK, bottom);
        of_ribbons.area(
            vec![(x(from_s), y1), (x(to_s), y1), (x(phrase.end_s), y2), (x(phrase.start_s), y2)],
            ink,
        );
        for (above, below) in [(from_s, phrase.start_s), (to_s, phrase.end_s)] {
            of_ribbons.line(vec![(x(above), y1), (x(below), y2)], GREY, 0.15);
        }
    }
    groups.push(of_ribbons);

    groups.push(uncounted(old, top, &x));
    groups.push(uncounted(new, bottom, &x));

    let there = |p: usize| ribbons.iter().any(|ribbon| ribbon.old == Some(p));
    let names = old.names();
    for (p, phrase) in old.phrases.iter().enumerate() {
        let block = Rect::new(x(phrase.start_s), top, x(phrase.end_s) - x(phrase.start_s), BLOCK);
        let gone = if there(p) { "" } else { " – gone" };
        let title = format!("{} {} counts{gone}", names[p], phrase.counts);
        let mut group = drawn(block, inks[p], &names[p], phrase.counts, title, !there(p));
        group.text(small(clock_short(phrase.start_s), (block.x, top - 1.2), Anchor::Start, GREY));
        groups.push(group);
    }
    for (k, (phrase, ribbon)) in new.phrases.iter().zip(ribbons).enumerate() {
        let block =
            Rect::new(x(phrase.start_s), bottom, x(phrase.end_s) - x(phrase.start_s), BLOCK);
        let (ink, name) = match ribbon.old {
            Some(p) => (inks[p], names[p].clone()),
            None => (WHITE, new.names()[k].clone()),
        };
        let title = match ribbon.old {
            Some(p) => format!(
                "{name} {} counts of {}, {:.0} % sure",
                phrase.counts,
                old.phrases[p].counts,
                100.0 * ribbon.sure
            ),
            None => format!("{name} {} counts – new", phrase.counts),
        };
        let mut group = drawn(block, ink, &name, phrase.counts, title, ribbon.old.is_none());
        let below = bottom + BLOCK + SMALL + 0.8;
        group.text(small(clock_short(phrase.start_s), (block.x, below), Anchor::Start, GREY));
        groups.push(group);
    }
    groups.push(foot(bottom + BLOCK + 12.0));
    let height = (bottom + BLOCK + 34.0).min(page.1);
    Scene {
        page: (page.0, height),
        pages: vec![groups],
        title: format!("Two cuts: {}", new.title),
        description: told.to_string(),
    }
}

/// What of a recording stands before its first phrase and after its last: frames with nothing in them.
fn uncounted(song: &SongView, y: f64, x: &dyn Fn(f64) -> f64) -> Group {
    const WIDE: f64 = 24.0;
    let mut group = Group::new("uncounted");
    let (Some(first), Some(last)) = (song.phrases.first(), song.phrases.last()) else {
        return group;
    };
    for (from_s, to_s) in [(0.0, first.start_s), (last.end_s, song.duration_s)] {
        let block = Rect::new(x(from_s), y, (x(to_s) - x(from_s)).max(0.0), BLOCK);
        let mut outline = block.corners().to_vec();
        outline.push(outline[0]);
        group.line(outline, GREY, 0.1);
        if block.w > WIDE {
            let at = (block.x + 0.6, block.y + 4.4);
            group.text(small("not counted".into(), at, Anchor::Start, GREY));
        }
    }
    group
}

/// One colour for each label, as often as it comes.
fn inks(song: &SongView) -> Vec<Ink> {
    let mut labels: Vec<&str> = Vec::new();
    let mut ink_of = |label| {
        let known = labels.iter().position(|other| *other == label);
        let place = known.unwrap_or_else(|| {
            labels.push(label);
            labels.len() - 1
        });
        PART_INKS[place % PART_INKS.len()].thinned(if place < PART_INKS.len() { 1.0 } else { 0.5 })
    };
    song.phrases.iter().map(|phrase| ink_of(phrase.label.as_str())).collect()
}

fn drawn(block: Rect, ink: Ink, name: &str, counts: u32, title: String, alone: bool) -> Group {
    let mut group = Group::titled("phrase", title);
    let paper = if alone { WHITE } else { ink.thinned(0.55) };
    group.fill(block, paper);
    if alone {
        group.hatch(block, GREY.thinned(0.6), 2.4, true);
    }
    let mut outline = block.corners().to_vec();
    outline.push(outline[0]);
    group.line(outline, BLACK, 0.2);
    let inside = block.w - 1.2;
    let at = |down: f64| (block.x + 0.6, block.y + down);
    if let Some(label) = shortened(name, inside / 3.0, true, 3) {
        let text = |words: String, down: f64, size: f64, bold: bool| Text {
            words,
            at: at(down),
            size,
            bold,
            anchor: Anchor::Start,
            ink: BLACK,
            on: paper,
            upwards: false,
        };
        if alone {
            // Words stand on white, not on hatching.
            group.fill(Rect::new(block.x + 0.3, block.y + 1.2, inside + 0.6, 8.6), WHITE);
        }
        group.text(text(label, 4.4, 3.0, true));
        group.text(text(
            shortened(&counts.to_string(), inside / SMALL, false, 1).unwrap_or_default(),
            8.4,
            SMALL,
            false,
        ));
    }
    group
}

fn heading(old: &SongView, new: &SongView, told: &str, page: (f64, f64)) -> Group {
    let mut group = Group::new("heading");
    let wide = page.0 - 2.0 * MARGIN;
    let title = shortened(&new.title, wide / 5.4, true, 1).unwrap_or_default();
    let text = |words: String, y: f64, size: f64, bold: bool, ink: Ink| Text {
        words,
        at: (MARGIN, y),
        size,
        bold,
        anchor: Anchor::Start,
        ink,
        on: WHITE,
        upwards: false,
    };
    group.text(text(title, MARGIN + 1.5, 5.4, true, BLACK));
    for (k, line) in super::text::wrapped(told, wide / 3.2, false).into_iter().take(3).enumerate() {
        group.text(text(line, MARGIN + 8.0 + 4.4 * k as f64, 3.2, false, BLACK));
    }
    group.text(text(
        format!("The cut that is marked, {}", clock_short(old.duration_s)),
        HEAD - 6.0,
        SMALL,
        true,
        BLACK,
    ));
    group.text(text(
        format!("This cut, {}", clock_short(new.duration_s)),
        HEAD + APART + BLOCK + 9.0,
        SMALL,
        true,
        BLACK,
    ));
    group
}

fn foot(y: f64) -> Group {
    let mut group = Group::new("legend");
    let words = "Ribbons join what is the same. Hatched above: gone. Hatched below: new. A paler ribbon is less sure: listen there.";
    group.text(small(words.into(), (MARGIN, y + 4.0), Anchor::Start, GREY));
    group
}

fn small(words: String, at: (f64, f64), anchor: Anchor, ink: Ink) -> Text {
    Text { words, at, size: SMALL, bold: false, anchor, ink, on: WHITE, upwards: false }
}

/// Minutes and seconds: `1:04`.
fn clock_short(seconds: f64) -> String {
    clock(seconds.round()).trim_end_matches(".00").to_string()
}
