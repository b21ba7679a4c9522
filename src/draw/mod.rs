//! The timeline: song phrases over routine parts, on a ruler of eights and of time, to print and
//! hang up.
//!
//! ```text
//! (SongView, Routine, Fit) ─▶ content (blocks and marks, in counts)
//!                            ─▶ rows (lines broken where phrases start)
//!                            ─▶ lanes, ruler, marks, foot (millimetres)
//!                            ─▶ page (heading, pages) ─▶ scene ─▶ svg
//! ```
//!
//! Lines run like lines of text and break where phrases start. The ruler counts eights afresh from
//! where each phrase starts, as dancers do, and says what is over. Nothing is said by colour alone.

mod content;
mod cuts;
mod explain;
mod foot;
mod ink;
mod lanes;
mod legend;
mod marks;
mod names;
mod page;
mod rows;
mod ruler;
mod scene;
mod svg;
mod text;
mod words;

#[cfg(test)]
mod samples;
#[cfg(test)]
mod tests;

use crate::fit::Fit;
use crate::routine::Routine;
use crate::song::SongView;
pub use cuts::{Ribbon, is_two_cuts, two_cuts};
pub use explain::{explanation, is_explanation};

/// Paper, lying on its long side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 297 × 210 mm.
    #[default]
    A4,
    /// 11 × 8.5 inches: 279.4 × 215.9 mm.
    Letter,
}

impl Paper {
    /// Width and height in millimetres.
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (297.0, 210.0),
            Paper::Letter => (279.4, 215.9),
        }
    }
}

/// How the timeline is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Options {
    /// The paper it is for.
    pub paper: Paper,
}

/// Draws the timeline of a song, with a routine laid on it where one is given, as an SVG document.
///
/// A song of up to six minutes goes on one page. Longer ones take several, one below the other in
/// the same document, each as high as the paper, so that a browser prints a page on each sheet.
/// The same input gives the same document, byte for byte.
pub fn timeline(song: &SongView, routine: Option<(&Routine, &Fit)>, options: &Options) -> String {
    svg::write(&scene_of(song, routine, options))
}

/// Whether a file that begins so is a timeline drawn here. A kilobyte tells.
pub fn is_timeline(beginning: &[u8]) -> bool {
    svg::is_own(beginning)
}

fn scene_of(song: &SongView, routine: Option<(&Routine, &Fit)>, options: &Options) -> scene::Scene {
    let content = content::Content::new(song, routine);
    page::Layout { song, routine, content, paper: options.paper.size_mm() }.scene()
}
