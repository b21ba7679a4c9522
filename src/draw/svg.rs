//! Writes a [`Scene`] as SVG. The only place that knows plotters.

use plotters::prelude::{DrawingBackend, RGBColor, SVGBackend, ShapeStyle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontFamily, FontStyle, FontTransform, TextStyle};

use super::ink::Ink;
use super::scene::{Anchor, Group, Point, Scene, Shape, Text};

/// Steps to the millimetre: the backend takes whole numbers, and a twentieth of a millimetre is below
/// what a printer or an eye tells apart.
const STEPS: f64 = 20.0;

/// Faces with the same metrics first, then whatever sans-serif there is.
const FACES: &str = "Helvetica, Arial, Liberation Sans, Nimbus Sans, DejaVu Sans, sans-serif";

/// How the backend moves a text down from its top to its baseline. Taken out, and the point on the
/// baseline given instead: some viewers lose the move where a text changes its writing direction.
const MOVED_DOWN: &str = " dy=\"0.76em\"";

/// The backend divides type sizes by this.
const TYPE_DIVISOR: f64 = 1.24;

/// The scene as an SVG document whose size is that of the paper.
pub(crate) fn write(scene: &Scene) -> String {
    let (width, page_height) = scene.page;
    let height = page_height * scene.pages.len() as f64;
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    out.push_str(&format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {} {}\" font-family=\"{FACES}\" role=\"img\" aria-labelledby=\"timeline-title timeline-desc\" \
         lang=\"en\" xml:lang=\"en\">\n",
        steps(width),
        steps(height)
    ));
    out.push_str(&format!("<title id=\"timeline-title\">{}</title>\n", escaped(&scene.title)));
    out.push_str(&format!("<desc id=\"timeline-desc\">{}</desc>\n", escaped(&scene.description)));
    // A browser prints each page on a sheet of its own.
    out.push_str(&format!(
        "<style>@page {{ size: {width}mm {page_height}mm; margin: 0 }}</style>\n"
    ));
    for (number, groups) in scene.pages.iter().enumerate() {
        let down = steps(page_height) * number as i32;
        out.push_str(&format!("<g class=\"page\" transform=\"translate(0 {down})\">\n"));
        out.push_str(&format!(
            "<rect width=\"{}\" height=\"{}\" fill=\"#FFFFFF\"/>\n",
            steps(width),
            steps(page_height)
        ));
        for group in groups {
            write_group(group, scene.page, &mut out);
        }
        out.push_str("</g>\n");
    }
    out.push_str("</svg>\n");
    out
}

/// Whether a document that begins so was written by [`write`].
pub(crate) fn is_own(beginning: &[u8]) -> bool {
    let mark = b"aria-labelledby=\"timeline-title timeline-desc\"";
    beginning.starts_with(b"<?xml") && beginning.windows(mark.len()).any(|part| part == mark)
}

fn write_group(group: &Group, page: (f64, f64), out: &mut String) {
    out.push_str(&format!("<g class=\"{}\">\n", group.class));
    if let Some(title) = &group.title {
        out.push_str(&format!("<title>{}</title>\n", escaped(title)));
    }
    out.push_str(&drawn(&group.shapes, page));
    out.push_str("</g>\n");
}

/// The shapes as SVG elements, one a line.
fn drawn(shapes: &[Shape], page: (f64, f64)) -> String {
    let mut buffer = String::new();
    {
        let size = (steps(page.0).max(0) as u32, steps(page.1).max(0) as u32);
        let mut backend = SVGBackend::with_string(&mut buffer, size);
        for shape in shapes {
            // Writing to a string cannot fail.
            let _ = draw(&mut backend, shape);
        }
    }
    // The backend wraps everything in an <svg> of its own, which is left open until it is presented
    // or dropped, and puts line ends around the words of a text.
    let body = buffer.split_once('\n').map_or("", |(_, body)| body);
    let body = body.trim_end().trim_end_matches("</svg>");
    // The faces are said once, for the whole document.
    let faces = format!(" font-family=\"{FACES}\"");
    let mut lines = String::with_capacity(body.len());
    for line in body.lines() {
        // Quotation marks in the user's words are escaped, so these are the backend's own.
        let line = line.replace(&faces, "").replace(" opacity=\"1\"", "").replace(" \"/>", "\"/>");
        lines.push_str(&line.replace(MOVED_DOWN, ""));
        let inside_text = line.starts_with("<text") || !line.starts_with('<');
        if !inside_text {
            lines.push('\n');
        }
    }
    lines
}

fn draw(
    backend: &mut SVGBackend<'_>,
    shape: &Shape,
) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
    match shape {
        Shape::Box(rect, ink) => {
            let style = ShapeStyle::from(colour(*ink)).filled();
            let corners = rect.corners();
            backend.draw_rect(place(corners[0]), place(corners[2]), &style, true)?;
        }
        Shape::Area(points, ink) => {
            let style = ShapeStyle::from(colour(*ink)).filled();
            backend.fill_polygon(points.iter().copied().map(place), &style)?;
        }
        Shape::Line(points, ink, width) => {
            let style = ShapeStyle::from(colour(*ink)).stroke_width(steps(*width).max(1) as u32);
            match points.as_slice() {
                [from, to] => backend.draw_line(place(*from), place(*to), &style)?,
                points => backend.draw_path(points.iter().copied().map(place), &style)?,
            }
        }
        Shape::Disc(centre, radius, ink) => {
            let style = ShapeStyle::from(colour(*ink)).filled();
            backend.draw_circle(place(*centre), steps(*radius).max(1) as u32, &style, true)?;
        }
        Shape::Text(text) => draw_text(backend, text)?,
    }
    Ok(())
}

fn draw_text(
    backend: &mut SVGBackend<'_>,
    text: &Text,
) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
    let h_pos = match text.anchor {
        Anchor::Start => HPos::Left,
        Anchor::Middle => HPos::Center,
        Anchor::End => HPos::Right,
    };
    let style = if text.bold { FontStyle::Bold } else { FontStyle::Normal };
    let mut font = FontDesc::new(FontFamily::Name(FACES), type_size(text.size), style);
    if text.upwards {
        font = font.transform(FontTransform::Rotate270);
    }
    let ink = colour(text.ink);
    let style = TextStyle::from(font).color(&ink).pos(Pos::new(h_pos, VPos::Top));
    backend.draw_text(&text.words, &style, place(text.at))?;
    Ok(())
}

/// The size that comes out of the backend as a whole number of steps.
fn type_size(mm: f64) -> f64 {
    let wanted = f64::from(steps(mm));
    let near = wanted * TYPE_DIVISOR;
    [near, near.next_up(), near.next_down()]
        .into_iter()
        .find(|size| size / TYPE_DIVISOR == wanted)
        .unwrap_or(near)
}

fn colour(ink: Ink) -> plotters::style::RGBAColor {
    RGBColor(ink.0, ink.1, ink.2).to_rgba()
}

fn steps(mm: f64) -> i32 {
    (mm * STEPS).round() as i32
}

fn place((x, y): Point) -> (i32, i32) {
    (steps(x), steps(y))
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            '\n' => out.push('\n'),
            // Not characters in XML.
            c if c.is_control() || (c as u32) & 0xfffe == 0xfffe => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
