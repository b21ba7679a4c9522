//! Puts lines, heading, legend and list on pages.

use crate::fit::Fit;
use crate::routine::Routine;
use crate::song::SongView;

use super::content::{Content, Side};
use super::foot::{Foot, draw_columns};
use super::ink::{BLACK, GREY, WHITE};
use super::lanes::{DrawnRow, Measures, draw, least_height};
use super::legend::Legend;
use super::marks::draw_shape;
use super::names::Names;
use super::rows::{Row, break_rows};
use super::scene::{Anchor, Group, Scene, Text, width_mm};
use super::text::{shortened, wrapped};
use super::words;

/// White paper all round, millimetres; office printers reach to about 5.
pub(crate) const MARGIN: f64 = 9.0;
/// For the words before each line.
const GUTTER: f64 = 18.5;
/// Eights on a line, from large to small.
const LEAST_EIGHTS: i32 = 8;
const MOST_EIGHTS: i32 = 26;
/// Eights on a line and scale where the song takes several pages; the first that takes fewest is used.
const SEVERAL_PAGES: [(i32, f64); 3] = [(16, 0.95), (18, 0.88), (20, SMALLEST)];
/// Lines get longer by this many eights rather than tear one more phrase.
const EIGHTS_FOR_A_TEAR: i32 = 3;
/// How far lines shrink to stay on one page, and grow to fill it.
const SMALLEST: f64 = 0.8;
const USUAL: f64 = 0.95;
const LARGEST: f64 = 1.5;
/// Songs up to this length are put on one page, seconds.
const ONE_PAGE_S: f64 = 360.0;

/// Everything needed to lay out a page.
pub(crate) struct Layout<'a> {
    pub song: &'a SongView,
    pub routine: Option<(&'a Routine, &'a Fit)>,
    pub content: Content,
    /// Width and height of the paper, millimetres.
    pub paper: (f64, f64),
}

/// Lines at one size, and the names they needed made short.
struct Lines {
    rows: Vec<DrawnRow>,
    names: Names,
}

impl Lines {
    fn height(&self) -> f64 {
        self.rows.iter().map(|r| r.height).sum()
    }
}

impl Layout<'_> {
    pub(crate) fn scene(&self) -> Scene {
        let (heading, top) = self.heading();
        let bottom = self.paper.1 - MARGIN;
        let (lines, foot) = self.best_lines(bottom - top);

        let mut pages = vec![vec![heading]];
        let mut at = top;
        for row in lines.rows {
            if at + row.height > bottom && at > top {
                let (small, below) = self.small_heading();
                pages.push(vec![small]);
                at = below;
            }
            let mut groups = row.groups;
            groups.iter_mut().for_each(|g| g.shift(at));
            if let Some(page) = pages.last_mut() {
                page.extend(groups);
            }
            at += row.height;
        }
        self.put_foot(&mut pages, foot, at, bottom);
        number_pages(&mut pages, self.paper);
        Scene {
            page: self.paper,
            pages,
            title: words::title(self.song, self.routine),
            description: words::description(self.song, self.routine, &self.content),
        }
    }

    /// The best lines with which everything stays on one page; usual ones where it takes several.
    fn best_lines(&self, room: f64) -> (Lines, Foot) {
        for scale in [USUAL, SMALLEST] {
            if let Some(best) = self.best_on_one_page(room, scale) {
                return best;
            }
            if self.song.duration_s > ONE_PAGE_S {
                break;
            }
        }
        let tried = SEVERAL_PAGES.map(|(eights, scale)| self.with_foot(self.lines(eights, scale)));
        let pages =
            |(lines, foot): &(Lines, Foot)| ((lines.height() + foot.height()) / room).ceil() as i64;
        tried.into_iter().min_by_key(pages).unwrap_or_else(|| {
            let (eights, scale) = SEVERAL_PAGES[0];
            self.with_foot(self.lines(eights, scale))
        })
    }

    /// The lines that tear the fewest phrases and are the largest, grown to fill the page.
    fn best_on_one_page(&self, room: f64, scale: f64) -> Option<(Lines, Foot)> {
        let seams = self.content.seams();
        let mut candidates: Vec<(i32, i32)> = (LEAST_EIGHTS..=MOST_EIGHTS)
            .filter_map(|eights| {
                let rows = self.break_rows(eights);
                let least = rows.len() as f64 * least_height(scale, self.routine.is_some());
                let torn = rows.iter().skip(1).filter(|r| !seams.contains(&r.start)).count();
                let cost = EIGHTS_FOR_A_TEAR.saturating_mul(torn as i32) + eights;
                (least <= room).then_some((cost, eights))
            })
            .collect();
        candidates.sort_unstable();
        for (_, eights) in candidates {
            let (lines, foot) = self.with_foot(self.lines(eights, scale));
            let spare = room - lines.height() - foot.height();
            if spare < 0.0 {
                continue;
            }
            let grown = (scale * (1.0 + spare / lines.height().max(1.0)) - 0.005).min(LARGEST);
            // Larger type must not make more names short: then grow less.
            let sizes = [1.0, 0.85, 0.7, 0.5, 0.3].map(|share| scale + (grown - scale) * share);
            let fitting = sizes.into_iter().find_map(|size| {
                let larger = self.with_foot(self.lines(eights, size));
                let as_whole = larger.0.names.used.len() <= lines.names.used.len();
                (as_whole && larger.0.height() + larger.1.height() <= room).then_some(larger)
            });
            return Some(fitting.unwrap_or((lines, foot)));
        }
        None
    }

    fn with_foot(&self, lines: Lines) -> (Lines, Foot) {
        let foot = Foot::new(&self.content, &lines.names.used, self.width());
        (lines, foot)
    }

    fn width(&self) -> f64 {
        self.paper.0 - 2.0 * MARGIN
    }

    fn lines(&self, eights_to_a_line: i32, scale: f64) -> Lines {
        let (left, right) = (MARGIN + GUTTER, self.paper.0 - MARGIN);
        let count = (right - left) / f64::from(eights_to_a_line * 8);
        let measures = Measures { left, right, count, scale };
        let content = &self.content;
        let mut names = Names::new(content.song.iter().chain(&content.routine));
        let rows = self
            .break_rows(eights_to_a_line)
            .into_iter()
            .map(|row| draw(row, content, self.song, &measures, &mut names))
            .collect();
        Lines { rows, names }
    }

    fn break_rows(&self, eights_to_a_line: i32) -> Vec<Row> {
        let content = &self.content;
        break_rows(content.start, content.end, &content.seams(), eights_to_a_line * 8)
    }

    /// What is under the lines: the list in columns, then the legend at the end of the last page.
    fn put_foot(&self, pages: &mut Vec<Vec<Group>>, foot: Foot, at: f64, bottom: f64) {
        let legend = Legend::new(&self.content, self.width());
        let mut at = at;
        let mut rest = Some(foot);
        while let Some(foot) = rest {
            let (now, later) = foot.split(bottom - at);
            if let Some(page) = pages.last_mut() {
                page.extend(draw_columns(&now, MARGIN, at, self.width()));
            }
            if later.is_some() {
                let (small, below) = self.small_heading();
                pages.push(vec![small]);
                at = below;
            }
            rest = later;
        }
        if let Some(page) = pages.last_mut() {
            page.push(legend.draw(MARGIN, bottom));
        }
    }

    /// Title, music, pulse, wait and verdict; and where the first line may start.
    fn heading(&self) -> (Group, f64) {
        let mut group = Group::new("heading");
        let mut baseline = MARGIN + 5.4;
        let verdict_width = self.verdict(&mut group);
        let width = self.width() - verdict_width - 4.0;
        let title = words::heading(self.song, self.routine);
        let sizes = [6.4, 5.4, 4.6];
        let fitting = sizes.into_iter().find(|size| width_mm(&title, *size, true) <= width);
        let size = fitting.unwrap_or(sizes[2]);
        let title = shortened(&title, width / size, true, 1).unwrap_or_default();
        group.text(line(title, (MARGIN, baseline), size, true));
        baseline += 1.2;
        let mut put = |words: &str, size: f64, most: usize, width: f64| {
            for words in wrapped(words, width / size, false).into_iter().take(most) {
                baseline += size * 1.42;
                group.text(line(words, (MARGIN, baseline), size, false));
            }
        };
        put(&words::music(self.song, self.routine.is_some()), 3.3, 2, width);
        put(&words::pulse_and_wait(self.song, self.routine), 3.3, 2, self.width());
        (group, baseline + 4.2)
    }

    /// Whether it fits, in words and as a shape, at the top right; gives its width.
    fn verdict(&self, group: &mut Group) -> f64 {
        let Some((_, fit)) = self.routine else { return 0.0 };
        let words = words::verdict(fit);
        let size = 4.6;
        let (right, baseline) = (self.paper.0 - MARGIN, MARGIN + 5.0);
        let mut text = line(words.clone(), (right - 6.0, baseline), size, true);
        text.anchor = Anchor::End;
        group.text(text);
        let (x, y) = (right - 2.4, baseline - 1.6);
        if fit.fits {
            group.line(vec![(x - 2.0, y), (x - 0.5, y + 1.7), (x + 2.2, y - 2.0)], BLACK, 0.9);
        } else {
            draw_shape(group, Side::TooMany, (x, y), 2.0);
        }
        width_mm(&words, size, true) + 8.0
    }

    /// The heading of pages after the first.
    fn small_heading(&self) -> (Group, f64) {
        let mut group = Group::new("heading");
        let title = words::heading(self.song, self.routine);
        let title = shortened(&title, (self.width() - 30.0) / 4.0, true, 1).unwrap_or_default();
        group.text(line(title, (MARGIN, MARGIN + 3.6), 4.0, true));
        (group, MARGIN + 7.5)
    }
}

fn line(words: String, at: (f64, f64), size: f64, bold: bool) -> Text {
    Text { words, at, size, bold, anchor: Anchor::Start, ink: BLACK, on: WHITE, upwards: false }
}

/// `page 2 of 3`, where there is more than one.
fn number_pages(pages: &mut [Vec<Group>], paper: (f64, f64)) {
    let of = pages.len();
    if of < 2 {
        return;
    }
    for (number, page) in pages.iter_mut().enumerate() {
        let mut group = Group::new("page-number");
        let mut text = line(format!("page {} of {of}", number + 1), (0.0, 0.0), 2.6, false);
        text.at = (paper.0 - MARGIN, paper.1 - MARGIN + 3.6);
        text.anchor = Anchor::End;
        text.ink = GREY;
        group.text(text);
        page.push(group);
    }
}
