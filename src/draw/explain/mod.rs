//! How a song was heard, as a picture: for the doubtful, and for papers.
//!
//! Lines of time from left to right. In each, top to bottom: phrases; onset strength with the
//! likelihood of a beat, over bars in two shades; beats; the tempogram with the tempo that was
//! followed; how clear the beats are. On a page of its own, which stretches of a song sound alike. Shades and
//! shapes say everything that colours say.

mod alike;
mod line;
mod tempi;

use super::ink::{BLACK, BLUE, GREY, Ink, PALE, VERMILLION, WHITE};
use super::scene::{Anchor, Group, Point, Rect, Scene, Text, width_mm};
use super::{svg, text::shortened};
use crate::rhythm::{self, Grid, OnsetStrength};
use crate::song::form::SelfLikeness;
use crate::song::{Phrase, SongMap};
use crate::units::clock;
use line::{Line, Lines};
use tempi::Tempi;

/// A4, lying on its long side, millimetres.
const PAGE: (f64, f64) = (297.0, 210.0);
const MARGIN: f64 = 11.0;
/// Left of the lines: what each part of them shows.
const GUTTER: f64 = 23.0;
/// From the top of the page to the first line, and from the last to the bottom.
const HEAD: f64 = 20.0;
const FOOT: f64 = 13.0;
/// Seconds that a line shows, and lines to a page. A song too long for three pages has longer lines.
const LINE_S: f64 = 60.0;
const SHORTEST_LINE_S: f64 = 15.0;
const LINES_TO_A_PAGE: usize = 4;
const MOST_LINES: usize = 12;
/// A line is no higher than this, however few there are.
const HIGHEST: f64 = 62.0;

const SMALL: f64 = 2.5;

/// Everything that is shown.
struct Shown<'a> {
    map: &'a SongMap,
    grid: Grid,
    phrases: Vec<(Phrase, String)>,
    sound: &'a rhythm::Heard,
    /// Onset strength, 0 to 1: a hundredth of the frames are stronger than 1 and cut off.
    onset: Vec<f32>,
    clarity: Vec<f32>,
    tempi: Tempi,
    alike: SelfLikeness,
}

/// Draws how a song was heard, as SVG. `map` is its map, with what is set laid over what was heard;
/// `sound` what was heard in it.
pub fn explanation(map: &SongMap, sound: &rhythm::Heard) -> String {
    let onset = OnsetStrength::of(&sound.features);
    let grid = map.corrected_grid();
    let view = map.view().ok();
    let names = view.as_ref().map(|view| view.names()).unwrap_or_default();
    let letters = view.as_ref().map(|view| view.letters()).unwrap_or_default();
    let mut phrases = view.map(|view| view.phrases).unwrap_or_default();
    // The letters of the form's line, which the wait has no part in.
    phrases.iter_mut().zip(letters).for_each(|(phrase, letter)| phrase.letter = letter);
    let shown = Shown {
        clarity: sound.activations.clarity(&grid.beats_s),
        tempi: Tempi::of(&onset.all, onset.frames_per_second),
        alike: SelfLikeness::of(&sound.features, &grid),
        onset: levelled(&onset.all),
        phrases: phrases.into_iter().zip(names).collect(),
        map,
        grid,
        sound,
    };
    svg::write(&scene(&shown))
}

/// Whether a document that begins so was drawn by [`explanation`].
pub fn is_explanation(beginning: &[u8]) -> bool {
    let mark = b"How it was heard: ";
    svg::is_own(beginning) && beginning.windows(mark.len()).any(|part| part == mark)
}

fn levelled(curve: &[f32]) -> Vec<f32> {
    let mut sorted = curve.to_vec();
    sorted.sort_by(f32::total_cmp);
    let strong = sorted.get(sorted.len() * 99 / 100).copied().unwrap_or(1.0).max(1e-6);
    curve.iter().map(|x| (x / strong).clamp(0.0, 1.0)).collect()
}

fn scene(shown: &Shown<'_>) -> Scene {
    let duration_s = shown.sound.features.duration_s().max(1.0);
    let lines = ((duration_s / LINE_S).ceil() as usize).clamp(1, MOST_LINES);
    let span_s = match lines {
        1 => duration_s.max(SHORTEST_LINE_S),
        MOST_LINES => (duration_s / MOST_LINES as f64).max(LINE_S),
        _ => LINE_S,
    };
    let to_a_page = lines.min(LINES_TO_A_PAGE);
    let height = ((PAGE.1 - HEAD - FOOT - MARGIN) / to_a_page as f64).min(HIGHEST);
    let layout = Lines { shown, left: MARGIN + GUTTER, right: PAGE.0 - MARGIN, height };
    let all: Vec<usize> = (0..lines).collect();
    let mut pages: Vec<Vec<Group>> = all
        .chunks(LINES_TO_A_PAGE)
        .map(|numbers| {
            let mut groups = vec![heading(shown)];
            for (place, &number) in numbers.iter().enumerate() {
                let from_s = number as f64 * span_s;
                let line = Line {
                    from_s,
                    to_s: from_s + span_s,
                    end_s: duration_s.min(from_s + span_s),
                    top: HEAD + place as f64 * height,
                };
                groups.extend(layout.draw(&line));
            }
            let end = HEAD + numbers.len() as f64 * height;
            groups.push(legend(end + 3.0));
            groups
        })
        .collect();
    pages.extend(alike::has_page(shown).then(|| alike::page(shown)));
    Scene {
        page: PAGE,
        pages,
        title: format!("How it was heard: {}", name(shown)),
        description: description(shown),
    }
}

fn name(shown: &Shown<'_>) -> String {
    let recording = &shown.map.recording;
    recording.title.clone().unwrap_or_else(|| recording.file.clone())
}

fn heading(shown: &Shown<'_>) -> Group {
    let mut group = Group::new("heading");
    let title = name(shown);
    let title = shortened(&title, 180.0 / 5.4, true, 1).unwrap_or_default();
    group.text(words(title, (MARGIN, MARGIN + 1.5), 5.4, true));
    group.text(words(summary(shown), (MARGIN, MARGIN + 6.0), 3.1, false));
    group
}

fn summary(shown: &Shown<'_>) -> String {
    let grid = &shown.grid;
    if grid.beats_s.is_empty() {
        return format!("{}; no steady beat was heard", clock(shown.sound.features.duration_s()));
    }
    let steady = if grid.steady { "steady" } else { "not steady" };
    let set =
        if shown.map.set == crate::song::UserSet::default() { "" } else { ", with what was set" };
    let mut words = format!(
        "{:.1} a minute, {steady}; {} to the bar; sure of the pulse {:.2}, of beats and bars {:.2}{set}",
        grid.tempo_bpm, grid.beats_per_bar, grid.tempo_confidence, grid.grid_confidence
    );
    for other in grid.other_pulses.iter().take(2) {
        words.push_str(&format!("; or else {:.1} ({:.2})", other.tempo_bpm, other.score));
    }
    words
}

fn description(shown: &Shown<'_>) -> String {
    let grid = &shown.grid;
    let ends = match (grid.beats_s.first(), grid.beats_s.last()) {
        (Some(&first), Some(&last)) => {
            format!("{} beats from {} to {}. ", grid.beats_s.len(), clock(first), clock(last))
        }
        _ => String::new(),
    };
    let phrases: Vec<String> = shown
        .phrases
        .iter()
        .map(|(phrase, name)| format!("{name} at {}", clock(phrase.start_s)))
        .collect();
    let phrases = match phrases.as_slice() {
        [] => String::new(),
        some => format!("Phrases: {}. ", some.join(", ")),
    };
    let alike = match alike::has_page(shown) {
        true => " The last page shows which stretches sound alike.",
        false => "",
    };
    format!(
        "{}. {ends}{phrases}Each line shows, from the top: phrases; onset strength and the likelihood \
         of a beat, over bars in two shades; beats, those that start a bar longer; the tempogram with \
         the tempo followed; how clear the beats are.{alike}",
        summary(shown)
    )
}

/// What the shapes mean, in one line.
fn legend(top: f64) -> Group {
    let mut group = Group::new("legend");
    let mut x = MARGIN;
    let y = top + 2.0;
    let middle = y - 0.9;
    type Swatch = fn(&mut Group, f64, f64);
    let entries: [(Swatch, &str); 6] = [
        (
            |g, x, y| {
                g.area(
                    vec![(x, y + 1.2), (x + 2.0, y - 1.2), (x + 3.0, y), (x + 5.0, y + 1.2)],
                    ONSET,
                )
            },
            "onset strength",
        ),
        (
            |g, x, y| {
                g.line(vec![(x, y + 1.1), (x + 2.5, y - 1.1), (x + 5.0, y + 1.1)], BLUE, 0.35)
            },
            "likelihood of a beat",
        ),
        (|g, x, y| g.line(vec![(x + 2.5, y - 0.2), (x + 2.5, y + 1.2)], BLACK, 0.25), "beat"),
        (
            |g, x, y| g.line(vec![(x + 2.5, y - 1.4), (x + 2.5, y + 1.2)], BLACK, 0.5),
            "beat that starts a bar",
        ),
        (
            |g, x, y| {
                for (k, level) in (1..=tempi::LEVELS).enumerate() {
                    g.fill(Rect::new(x + k as f64, y - 1.2, 1.0, 2.4), tempi::shade(level));
                }
            },
            "strength of a tempo",
        ),
        (
            |g, x, y| {
                g.line(vec![(x, y), (x + 5.0, y)], WHITE, 1.1);
                g.line(vec![(x, y), (x + 5.0, y)], VERMILLION, 0.5);
            },
            "tempo followed",
        ),
    ];
    for (draw, label) in entries {
        draw(&mut group, x, middle);
        group.text(words(label.into(), (x + 6.3, y), SMALL, false));
        x += 6.3 + width_mm(label, SMALL, false) + 4.0;
    }
    let clear = "clear: 1, all that is heard lies on the beats; ½, as much half way between them. \
                 Slanting lines: no beat was heard.";
    group.text(words(clear.into(), (MARGIN, y + 4.0), SMALL, false));
    group
}

const ONSET: Ink = Ink(150, 150, 150);

fn words(words: String, at: Point, size: f64, bold: bool) -> Text {
    Text { words, at, size, bold, anchor: Anchor::Start, ink: BLACK, on: WHITE, upwards: false }
}

#[cfg(test)]
mod tests;
