//! What is to be drawn, in millimetres from the top left, before any library draws it.

use super::ink::Ink;
use super::text::width_em;

/// A point: across and down, millimetres.
pub(crate) type Point = (f64, f64);

/// A rectangle, millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rect {
    pub x: f64,
    pub y: f64,
    pub w: f64,
    pub h: f64,
}

impl Rect {
    pub(crate) fn new(x: f64, y: f64, w: f64, h: f64) -> Rect {
        Rect { x, y, w, h }
    }

    pub(crate) fn right(&self) -> f64 {
        self.x + self.w
    }

    pub(crate) fn bottom(&self) -> f64 {
        self.y + self.h
    }

    /// The smallest rectangle around both.
    pub(crate) fn around(self, other: Rect) -> Rect {
        let (x, y) = (self.x.min(other.x), self.y.min(other.y));
        let right = self.right().max(other.right());
        Rect::new(x, y, right - x, self.bottom().max(other.bottom()) - y)
    }

    /// Its corners, clockwise from the top left.
    pub(crate) fn corners(&self) -> [Point; 4] {
        [
            (self.x, self.y),
            (self.right(), self.y),
            (self.right(), self.bottom()),
            (self.x, self.bottom()),
        ]
    }
}

/// Where a text stands to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A line of text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Text {
    pub words: String,
    /// The point on the baseline.
    pub at: Point,
    /// Type size, millimetres.
    pub size: f64,
    pub bold: bool,
    pub anchor: Anchor,
    pub ink: Ink,
    /// What it stands on.
    pub on: Ink,
    /// Reads upwards.
    pub upwards: bool,
}

/// How far letters rise above the baseline and fall below it, in multiples of the type size.
#[cfg(test)]
pub(crate) const ASCENT: f64 = 0.95;
pub(crate) const DESCENT: f64 = 0.25;

impl Text {
    /// The room it takes at most.
    #[cfg(test)]
    pub(crate) fn room(&self) -> Rect {
        let length = width_em(&self.words, self.bold) * self.size;
        let before = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => length / 2.0,
            Anchor::End => length,
        };
        let (x, y) = self.at;
        let (up, height) = (ASCENT * self.size, (ASCENT + DESCENT) * self.size);
        if self.upwards {
            Rect::new(x - up, y + before - length, height, length)
        } else {
            Rect::new(x - before, y - up, length, height)
        }
    }
}

/// How wide `words` are at most at a type size in millimetres.
pub(crate) fn width_mm(words: &str, size: f64, bold: bool) -> f64 {
    width_em(words, bold) * size
}

/// Something drawn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Shape {
    /// A filled rectangle.
    Box(Rect, Ink),
    /// A filled outline.
    Area(Vec<Point>, Ink),
    /// A line through points; its width in millimetres.
    Line(Vec<Point>, Ink, f64),
    /// A filled disc: centre, radius in millimetres.
    Disc(Point, f64, Ink),
    /// Words.
    Text(Text),
}

impl Shape {
    fn shift(&mut self, down: f64) {
        match self {
            Shape::Box(rect, _) => rect.y += down,
            Shape::Area(points, _) | Shape::Line(points, _, _) => {
                points.iter_mut().for_each(|p| p.1 += down);
            }
            Shape::Disc(centre, _, _) => centre.1 += down,
            Shape::Text(text) => text.at.1 += down,
        }
    }
}

/// Shapes that belong together, with the words a pointer resting on them shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Group {
    /// What it is: `phrase`, `part`, `mismatch`, … Written as its class.
    pub class: &'static str,
    pub title: Option<String>,
    pub shapes: Vec<Shape>,
}

impl Group {
    pub(crate) fn new(class: &'static str) -> Group {
        Group { class, ..Group::default() }
    }

    pub(crate) fn titled(class: &'static str, title: String) -> Group {
        Group { class, title: Some(title), shapes: Vec::new() }
    }

    pub(crate) fn shift(&mut self, down: f64) {
        self.shapes.iter_mut().for_each(|s| s.shift(down));
    }

    pub(crate) fn fill(&mut self, rect: Rect, ink: Ink) {
        self.shapes.push(Shape::Box(rect, ink));
    }

    pub(crate) fn area(&mut self, points: Vec<Point>, ink: Ink) {
        self.shapes.push(Shape::Area(points, ink));
    }

    pub(crate) fn line(&mut self, points: Vec<Point>, ink: Ink, width: f64) {
        self.shapes.push(Shape::Line(points, ink, width));
    }

    pub(crate) fn disc(&mut self, centre: Point, radius: f64, ink: Ink) {
        self.shapes.push(Shape::Disc(centre, radius, ink));
    }

    pub(crate) fn text(&mut self, text: Text) {
        if !text.words.is_empty() {
            self.shapes.push(Shape::Text(text));
        }
    }

    /// A dashed line between two points.
    pub(crate) fn dashes(&mut self, from: Point, to: Point, ink: Ink, width: f64, dash: f64) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy);
        let mut at = 0.0;
        while at < length {
            let point = |d: f64| (from.0 + dx * d / length, from.1 + dy * d / length);
            self.line(vec![point(at), point((at + dash).min(length))], ink, width);
            at += dash * 1.8;
        }
    }

    /// Slanting lines over a rectangle, `apart` millimetres; `rising` to the right, or falling.
    pub(crate) fn hatch(&mut self, rect: Rect, ink: Ink, apart: f64, rising: bool) {
        let span = rect.w + rect.h;
        let mut along = apart / 2.0;
        while along < span {
            // The line meets the top edge `along` to the right and the left edge `along` down.
            let (x1, y1) = if along <= rect.w { (along, 0.0) } else { (rect.w, along - rect.w) };
            let (x2, y2) = if along <= rect.h { (0.0, along) } else { (along - rect.h, rect.h) };
            let place =
                |x: f64, y: f64| (if rising { rect.x + x } else { rect.right() - x }, rect.y + y);
            self.line(vec![place(x1, y1), place(x2, y2)], ink, 0.2);
            along += apart;
        }
    }
}

/// A page or several, one below the other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Scene {
    /// Size of one page, millimetres.
    pub page: (f64, f64),
    /// Groups of each page, measured from its own top left.
    pub pages: Vec<Vec<Group>>,
    pub title: String,
    pub description: String,
}
