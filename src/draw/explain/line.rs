//! One line of the picture: a stretch of time with everything heard in it.

use super::{
    BLACK, BLUE, GREY, ONSET, PALE, SMALL, Shown, VERMILLION, WHITE, shortened, tempi, words,
};
use crate::draw::scene::{Anchor, Group, Point, Rect};
use crate::units::clock;

/// Points of a curve are this far apart, millimetres.
const POINT: f64 = 0.4;
/// Ticks nearer together than this cannot be told apart, millimetres.
const NEAREST_TICKS: f64 = 0.7;

/// What all lines share.
pub(super) struct Lines<'a> {
    pub shown: &'a Shown<'a>,
    /// Left and right edge of the time shown, millimetres.
    pub left: f64,
    pub right: f64,
    /// From one line to the next.
    pub height: f64,
}

/// A stretch of time and where it stands.
pub(super) struct Line {
    pub from_s: f64,
    pub to_s: f64,
    /// Where the recording ends in it, or `to_s`.
    pub end_s: f64,
    pub top: f64,
}

/// The parts of a line, top to bottom.
struct Parts {
    phrases: Rect,
    curves: Rect,
    ticks: Rect,
    tempi: Rect,
    clear: Rect,
}

impl Lines<'_> {
    pub(super) fn draw(&self, line: &Line) -> Vec<Group> {
        let parts = self.parts(line);
        vec![
            self.bars(line, &parts),
            self.curves(line, &parts),
            self.beats(line, &parts),
            self.tempi(line, &parts),
            self.clear(line, &parts),
            self.silences(line, &parts),
            self.phrases(line, &parts),
            self.frame(line, &parts),
        ]
    }

    fn parts(&self, line: &Line) -> Parts {
        let room = self.height - 4.0 - 3.6 - 2.6 - 4.2;
        let width = self.x(line, line.end_s) - self.left;
        let mut top = line.top;
        let mut part = |height: f64, gap: f64| {
            let rect = Rect::new(self.left, top, width, height);
            top += height + gap;
            rect
        };
        Parts {
            phrases: part(4.0, 0.0),
            curves: part(0.42 * room, 0.0),
            ticks: part(2.6, 0.6),
            tempi: part(0.40 * room, 0.8),
            clear: part(0.18 * room, 0.0),
        }
    }

    fn x(&self, line: &Line, time_s: f64) -> f64 {
        let share = (time_s - line.from_s) / (line.to_s - line.from_s);
        self.left + share.clamp(0.0, 1.0) * (self.right - self.left)
    }

    /// Every second bar in a shade, behind the curves.
    fn bars(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("bars");
        let grid = &self.shown.grid;
        let time = |beat: usize| grid.beats_s.get(beat).copied();
        let width = (self.right - self.left) / (line.to_s - line.from_s);
        for pair in grid.downbeats.windows(2).skip(1).step_by(2) {
            let (Some(from), Some(to)) = (time(pair[0].0), time(pair[1].0)) else { continue };
            let seen = to > line.from_s && from < line.end_s;
            // A pause within a bar is no bar.
            let whole =
                to - from < 3.0 * 60.0 / grid.tempo_bpm.max(20.0) * f64::from(grid.beats_per_bar);
            if seen && whole && (to - from) * width > NEAREST_TICKS {
                let (from, to) = (self.x(line, from), self.x(line, to.min(line.end_s)));
                let rect = Rect::new(from, parts.curves.y, to - from, parts.curves.h);
                group.fill(rect, PALE);
            }
        }
        group
    }

    fn curves(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("curves");
        let rect = parts.curves;
        let onset =
            self.curve(line, rect, &self.shown.onset, crate::rhythm::features::FRAMES_PER_SECOND);
        if let (Some(first), Some(last)) = (onset.first(), onset.last()) {
            let (start, end) = ((first.0, rect.bottom()), (last.0, rect.bottom()));
            let outline = std::iter::once(start).chain(onset.iter().copied()).chain([end]);
            group.area(outline.collect(), ONSET);
        }
        let activations = &self.shown.sound.activations;
        let beat = self.curve(line, rect, &activations.beat, activations.frames_per_second);
        if beat.len() > 1 {
            group.line(beat, BLUE, 0.25);
        }
        group
    }

    /// Points of a curve of values from 0 to 1, the highest within each point's time.
    fn curve(&self, line: &Line, rect: Rect, values: &[f32], per_second: f64) -> Vec<Point> {
        let points = (rect.w / POINT).floor() as usize;
        let span_s = line.end_s - line.from_s;
        let frame = |point: f64| {
            let time = line.from_s + span_s * point / points.max(1) as f64;
            (time * per_second).round().max(0.0) as usize
        };
        (0..points)
            .map(|point| {
                let from = frame(point as f64).min(values.len());
                let to = frame(point as f64 + 1.0).max(from + 1).min(values.len());
                let most = values[from..to].iter().fold(0f32, |a, &b| a.max(b));
                let x = rect.x + (point as f64 + 0.5) * POINT;
                (x, rect.bottom() - f64::from(most) * (rect.h - 0.8))
            })
            .collect()
    }

    fn beats(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("beats");
        let grid = &self.shown.grid;
        let width = (self.right - self.left) / (line.to_s - line.from_s);
        let apart = 60.0 / grid.tempo_bpm.max(20.0) * width;
        let bar_apart = apart * f64::from(grid.beats_per_bar.max(1));
        let rect = parts.ticks;
        let mut downbeats = grid.downbeats.iter().map(|beat| beat.0).peekable();
        for (beat, &time) in grid.beats_s.iter().enumerate() {
            while downbeats.peek().is_some_and(|&next| next < beat) {
                downbeats.next();
            }
            if !(line.from_s..line.end_s).contains(&time) {
                continue;
            }
            let x = self.x(line, time);
            if downbeats.peek() == Some(&beat) {
                if bar_apart >= NEAREST_TICKS {
                    group.line(vec![(x, rect.y), (x, rect.bottom())], BLACK, 0.5);
                }
            } else if apart >= NEAREST_TICKS {
                group.line(vec![(x, rect.y), (x, rect.y + 0.55 * rect.h)], BLACK, 0.25);
            }
        }
        group
    }

    fn tempi(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("tempogram");
        let rect = parts.tempi;
        for cell in self.shown.tempi.cells(line.from_s, line.end_s) {
            let (from, to) = (self.x(line, cell.from_s), self.x(line, cell.to_s));
            let (low, high) =
                (rect.bottom() - cell.low * rect.h, rect.bottom() - cell.high * rect.h);
            group.fill(Rect::new(from, high, to - from, low - high), tempi::shade(cell.level));
        }
        // The tempo over four beats, broken where there is no pulse.
        let beats = &self.shown.grid.beats_s;
        let usual = 60.0 / self.shown.grid.tempo_bpm.max(20.0);
        let mut run: Vec<Point> = Vec::new();
        let mut runs = Vec::new();
        let step = (POINT * 2.0 * (line.to_s - line.from_s) / (self.right - self.left)).max(0.01);
        let mut last = f64::NEG_INFINITY;
        for five in beats.windows(5).filter(|w| w[0] >= line.from_s && w[4] < line.end_s) {
            if five.windows(2).any(|w| w[1] - w[0] > 3.0 * usual) {
                runs.push(std::mem::take(&mut run));
                continue;
            }
            if five[2] - last < step {
                continue;
            }
            last = five[2];
            let share = tempi::height_of(240.0 / (five[4] - five[0]));
            if (0.0..=1.0).contains(&share) {
                run.push((self.x(line, five[2]), rect.bottom() - share * rect.h));
            }
        }
        runs.push(run);
        for run in runs.into_iter().filter(|run| run.len() > 1) {
            group.line(run.clone(), WHITE, 1.1);
            group.line(run, VERMILLION, 0.5);
        }
        group
    }

    fn clear(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("clear");
        let rect = parts.clear;
        let beats = self.shown.grid.beats_s.iter().zip(&self.shown.clarity);
        let usual = 60.0 / self.shown.grid.tempo_bpm.max(20.0);
        let height = |clarity: f32| rect.bottom() - f64::from(clarity) * (rect.h - 0.3);
        let mut last: Option<(f64, f64)> = None;
        let mut run: Vec<Point> = Vec::new();
        let mut runs = Vec::new();
        for (&time, &clarity) in beats.filter(|(time, _)| (line.from_s..line.end_s).contains(*time))
        {
            let x = self.x(line, time);
            match last {
                Some((before, _)) if time - before > 3.0 * usual => {
                    runs.push(std::mem::take(&mut run))
                }
                Some((_, before)) if x - before < POINT => continue,
                _ => {}
            }
            last = Some((time, x));
            run.push((x, height(clarity)));
        }
        runs.push(run);
        for run in runs.into_iter().filter(|run| run.len() > 1) {
            let (from, to) = (run[0].0, run[run.len() - 1].0);
            let ends = [(to, rect.bottom()), (from, rect.bottom())];
            group.area(run.iter().copied().chain(ends).collect(), BLUE.thinned(0.3));
            group.line(run, BLUE, 0.35);
        }
        group.dashes((rect.x, height(0.5)), (rect.right(), height(0.5)), GREY, 0.15, 1.0);
        group
    }

    /// Where no beat was heard.
    fn silences(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("no-beat");
        let beats = &self.shown.grid.beats_s;
        let usual = 60.0 / self.shown.grid.tempo_bpm.max(20.0);
        let starts = std::iter::once(0.0).chain(beats.iter().copied());
        let ends = beats.iter().copied().chain([self.shown.sound.features.duration_s()]);
        for (from, to) in starts.zip(ends).filter(|(from, to)| to - from > 3.0 * usual) {
            let (from, to) = (from.max(line.from_s), to.min(line.end_s));
            if from < to {
                let (from, to) = (self.x(line, from), self.x(line, to));
                let rect = Rect::new(from, parts.ticks.y, to - from, parts.ticks.h);
                group.hatch(rect, GREY, 1.6, true);
                let rect = Rect::new(from, parts.clear.y, to - from, parts.clear.h);
                group.hatch(rect, GREY, 1.6, true);
            }
        }
        group
    }

    fn phrases(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("phrases");
        for (phrase, name) in &self.shown.phrases {
            let (from, to) = (phrase.start_s.max(line.from_s), phrase.end_s.min(line.end_s));
            if from >= to {
                continue;
            }
            let (x, end) = (self.x(line, from), self.x(line, to));
            let starts = phrase.start_s >= line.from_s;
            if starts {
                let foot = parts.clear.bottom();
                group.line(vec![(x, parts.phrases.y), (x, foot)], BLACK, 0.3);
            }
            let name = if starts { name.clone() } else { format!("({name})") };
            if let Some(name) = shortened(&name, (end - x - 1.2) / 2.9, true, 2) {
                group.text(words(name, (x + 0.8, parts.phrases.bottom() - 1.0), 2.9, true));
            }
        }
        group
    }

    /// Edges, ticks of time, and what each part is.
    fn frame(&self, line: &Line, parts: &Parts) -> Group {
        let mut group = Group::new("axes");
        for rect in [parts.curves, parts.tempi, parts.clear] {
            let [a, b, c, d] = rect.corners();
            group.line(vec![a, b, c, d, a], GREY, 0.15);
        }
        let foot = parts.clear.bottom();
        let span_s = line.to_s - line.from_s;
        let step = [1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0]
            .into_iter()
            .find(|step| span_s / step <= 14.0)
            .unwrap_or(1800.0);
        let mut time = (line.from_s / step).ceil() * step;
        while time <= line.end_s + 1e-6 {
            let x = self.x(line, time);
            group.line(vec![(x, foot), (x, foot + 0.9)], BLACK, 0.2);
            let clock = clock(time);
            let label = clock.split('.').next().unwrap_or_default().to_string();
            let mut text = words(label, (x, foot + 3.2), SMALL, false);
            text.anchor = Anchor::Middle;
            group.text(text);
            time += step;
        }
        let mut label = |rect: Rect, label: &str| {
            let mut text =
                words(label.into(), (self.left - 8.0, rect.y + rect.h / 2.0 + 0.9), SMALL, false);
            text.anchor = Anchor::End;
            group.text(text);
        };
        label(parts.curves, "onsets");
        label(parts.ticks, "beats, bars");
        label(parts.tempi, "tempo");
        label(parts.clear, "clear");
        let mut scale = |y: f64, label: &str| {
            group.line(vec![(self.left - 0.9, y), (self.left, y)], BLACK, 0.2);
            let mut text = words(label.into(), (self.left - 1.4, y + 0.75), 2.1, false);
            text.anchor = Anchor::End;
            group.text(text);
        };
        for bpm in [60.0, 120.0, 240.0] {
            scale(parts.tempi.bottom() - tempi::height_of(bpm) * parts.tempi.h, &format!("{bpm}"));
        }
        scale(parts.clear.y + 0.3, "1");
        scale(parts.clear.bottom(), "0");
        group
    }
}
