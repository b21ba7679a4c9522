//! A [`Sheet`] as a PDF: the order over the whole width, below it the parts in columns, none of them
//! split where it can be helped, and all of it on one page where that stays readable.

mod blocks;
mod flow;
mod typeface;

use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::text::TextDirection;

use crate::error::{Error, Result};

use super::{Look, Paper, Sheet};
use blocks::Ink;
use flow::{Layout, Placed};
use typeface::Typeface;

/// Type sizes in points, tried one after the other until all fits on a page: body text below 8 is too
/// small to read from a music stand.
const SIZES: [f32; 5] = [10.5, 10.0, 9.5, 9.0, 8.5];
/// For the studio, read from across the room.
const BIG: f32 = 17.0;
/// Points to a millimetre.
const MM: f32 = 72.0 / 25.4;

/// Width and height in points.
fn paper_size(paper: Paper) -> (f32, f32) {
    match paper {
        // ISO 216.
        Paper::A4 => (210.0 * MM, 297.0 * MM),
        // ANSI/ASME Y14.1: 8½ by 11 inches.
        Paper::Letter => (612.0, 792.0),
    }
}

pub(super) fn write(sheet: &Sheet, look: Look) -> Result<Vec<u8>> {
    let type_ = Typeface::new()?;
    let (width, height) = paper_size(look.paper);
    let layout = |size: f32, columns: usize| {
        let frame = flow::Frame { width, height, margin: 12.0 * MM, columns };
        let parts = blocks::of(sheet, look, &type_, size, frame.full(), frame.column());
        flow::flow(&parts, frame, size)
    };
    let placed = if look.big {
        layout(BIG, 1)
    } else {
        let tried = SIZES.iter().map(|&size| layout(size, 2));
        let mut last = None;
        let mut fits = None;
        for layout in tried {
            if layout.pages.len() <= 1 {
                fits = Some(layout);
                break;
            }
            last.get_or_insert(layout);
        }
        // Where it takes two pages anyway, they may as well be easy to read.
        fits.or(last).unwrap_or_default()
    };
    draw(sheet, &placed, (width, height), &type_)
}

fn draw(
    sheet: &Sheet,
    layout: &Layout,
    (width, height): (f32, f32),
    type_: &Typeface,
) -> Result<Vec<u8>> {
    let failed = |why: &str| Error::Usage(format!("the PDF could not be made: {why}"));
    let mut document = Document::new();
    let about = Metadata::new()
        .title(sheet.title.clone())
        .language("en".into())
        .creator(concat!("hoofbeat ", env!("CARGO_PKG_VERSION")).into());
    document.set_metadata(about);
    for placed in &layout.pages {
        let settings =
            PageSettings::from_wh(width, height).ok_or_else(|| failed("the paper has no size"))?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        for Placed { block, x, y } in placed {
            for word in &block.words {
                surface.set_stroke(None);
                surface.set_fill(Some(fill(word.ink)));
                surface.draw_text(
                    Point::from_xy(x + word.x, y + word.y),
                    type_.font(word.bold),
                    word.size,
                    &word.text,
                    false,
                    TextDirection::Auto,
                );
            }
            for rule in &block.rules {
                let mut path = PathBuilder::new();
                path.move_to(x + rule.from.0, y + rule.from.1);
                path.line_to(x + rule.to.0, y + rule.to.1);
                if let Some(path) = path.finish() {
                    surface.set_fill(None);
                    surface.set_stroke(Some(stroke(rule.ink, rule.thick)));
                    surface.draw_path(&path);
                }
            }
        }
        surface.finish();
        page.finish();
    }
    document.finish().map_err(|e| failed(&format!("{e:?}")))
}

fn colour(ink: Ink) -> rgb::Color {
    match ink {
        Ink::Black => rgb::Color::new(0, 0, 0),
        // 7 to 1 on white and more: WCAG 2.2, 1.4.6.
        Ink::Grey => rgb::Color::new(64, 64, 64),
        Ink::Red => rgb::Color::new(138, 28, 0),
        Ink::Light => rgb::Color::new(190, 190, 190),
    }
}

fn fill(ink: Ink) -> Fill {
    Fill { paint: colour(ink).into(), opacity: NormalizedF32::ONE, ..Fill::default() }
}

fn stroke(ink: Ink, thick: f32) -> Stroke {
    Stroke { paint: colour(ink).into(), width: thick, ..Stroke::default() }
}
