//! One line of the timeline: its ruler, its song lane and its routine lane.

use crate::song::SongView;
use crate::units::{Count, clock};

use super::content::{Block, Content, Look};
use super::ink::{BLACK, GREY, Ink, PALE, VERMILLION, WHITE};
use super::marks;
use super::names::{Label, Names, Place};
use super::rows::Row;
use super::ruler;
use super::scene::{Anchor, DESCENT, Group, Rect, Text, width_mm};

/// How large things are drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Measures {
    /// Where counts begin and the paper's margin ends on the right, millimetres.
    pub left: f64,
    pub right: f64,
    /// Width of a count, millimetres.
    pub count: f64,
    /// Heights and type sizes as a multiple of the usual.
    pub scale: f64,
}

/// Smallest type on the page, millimetres: about 6 points.
pub(crate) const LEAST_TYPE: f64 = 2.15;

impl Measures {
    pub(crate) fn x(&self, row: Row, at: Count) -> f64 {
        self.left + f64::from(at - row.start) * self.count
    }

    /// A type size at this scale.
    pub(crate) fn type_size(&self, usual: f64) -> f64 {
        (usual * self.scale).max(LEAST_TYPE)
    }
}

/// Heights at scale 1, millimetres.
const RULER_BOTTOM: f64 = 8.6;
const SONG_HEIGHT: f64 = 8.0;
const ROUTINE_TOP: f64 = RULER_BOTTOM + SONG_HEIGHT + 0.6;
const ROUTINE_HEIGHT: f64 = 9.6;
const BAND: f64 = 1.4;
const BETWEEN_ROWS: f64 = 2.6;

/// A line as drawn: its groups measured from its own top, and its height.
#[derive(Debug, Clone)]
pub(crate) struct DrawnRow {
    pub groups: Vec<Group>,
    pub height: f64,
}

/// Height of a line without marks, millimetres.
pub(crate) fn least_height(scale: f64, with_routine: bool) -> f64 {
    let bottom =
        if with_routine { ROUTINE_TOP + ROUTINE_HEIGHT } else { RULER_BOTTOM + SONG_HEIGHT };
    (bottom + BETWEEN_ROWS) * scale
}

/// Draws a line.
pub(crate) fn draw(
    row: Row,
    content: &Content,
    song: &SongView,
    measures: &Measures,
    names: &mut Names,
) -> DrawnRow {
    let k = measures.scale;
    let mut groups = vec![ruler::draw(row, content, song, measures)];
    groups.push(margin_words(row, content, song, measures));
    for (index, block) in content.song.iter().enumerate() {
        let lane = Lane { top: RULER_BOTTOM * k, height: SONG_HEIGHT * k, band: 0.0 };
        groups.extend(block_group(
            "phrase",
            block,
            content.song.get(index + 1),
            row,
            lane,
            measures,
            names,
        ));
    }
    let mut bottom = (RULER_BOTTOM + SONG_HEIGHT) * k;
    if !content.routine.is_empty() {
        let lane = Lane { top: ROUTINE_TOP * k, height: ROUTINE_HEIGHT * k, band: BAND * k };
        for (index, block) in content.routine.iter().enumerate() {
            let next = content.routine.get(index + 1);
            groups.extend(block_group("part", block, next, row, lane, measures, names));
        }
        for &(start, end) in &content.overhangs {
            groups.extend(overhang(start, end, row, lane, measures));
        }
        bottom = (ROUTINE_TOP + ROUTINE_HEIGHT) * k;
        let (marked, below) = marks::draw_lane(row, content, measures, bottom);
        groups.extend(marked);
        bottom = below;
    }
    DrawnRow { groups, height: bottom + BETWEEN_ROWS * k }
}

/// What each lane is, and where the line starts.
fn margin_words(row: Row, content: &Content, song: &SongView, measures: &Measures) -> Group {
    let k = measures.scale;
    let mut group = Group::new("margin");
    let mut word = |words: String, baseline: f64, bold: bool| {
        group.text(Text {
            words,
            at: (measures.left - 1.6, baseline * k),
            size: measures.type_size(2.4),
            bold,
            anchor: Anchor::End,
            ink: if bold { BLACK } else { GREY },
            on: WHITE,
            upwards: false,
        });
    };
    word(clock(song.counts.time_or_beyond_s(row.start)), 2.8, false);
    word(format!("count {}", row.start), 7.0, true);
    word("song".into(), RULER_BOTTOM + 4.6, false);
    if !content.routine.is_empty() {
        word("routine".into(), ROUTINE_TOP + 5.6, false);
    }
    group
}

/// Where a lane lies on its line, millimetres; `band` is the coloured band along its top.
#[derive(Debug, Clone, Copy)]
struct Lane {
    top: f64,
    height: f64,
    band: f64,
}

/// The piece of a block that lies on this line.
fn block_group(
    class: &'static str,
    block: &Block,
    next: Option<&Block>,
    row: Row,
    lane: Lane,
    measures: &Measures,
    names: &mut Names,
) -> Option<Group> {
    let (start, end) = (block.start.max(row.start), block.end.min(row.end));
    if start >= end || block.look == Look::LeftOut {
        return None;
    }
    let (x, right) = (measures.x(row, start), measures.x(row, end));
    let piece = Rect::new(x, lane.top, right - x, lane.height);
    let begins = start == block.start;
    let mut group = Group::titled(class, block.sentence.clone());
    let ground = paint(&mut group, block.look, piece, lane.band);
    if matches!(block.look, Look::Part { .. }) && lane.band > 0.0 {
        eights_of_part(&mut group, block, row, lane, measures);
    }
    outline(&mut group, block.look, piece, begins, end == block.end);

    // Where the next block begins before this one is over, words stay clear of it.
    let words_end = next.map_or(end, |n| n.start.clamp(start, end));
    let free = Rect { w: measures.x(row, words_end) - x, ..piece };
    let (heads, tails) =
        if begins { (block.heads.clone(), &block.tails[..]) } else { (going_on(block), &[][..]) };
    let words = Words { block, heads: &heads, tails, ground };
    write_words(&mut group, &words, free, lane, measures, names);
    Some(group)
}

/// How a block is headed that began on an earlier line.
fn going_on(block: &Block) -> Vec<String> {
    let name = &block.name;
    match block.look {
        Look::Gap | Look::Beyond => vec![name.clone()],
        _ => vec![format!("{name} goes on"), format!("… {name}"), name.clone()],
    }
}

/// Colours the piece and says what colour words then stand on.
fn paint(group: &mut Group, look: Look, piece: Rect, band: f64) -> Ink {
    match look {
        Look::Set | Look::Heard | Look::Gap | Look::LeftOut => {
            group.fill(piece, WHITE);
            WHITE
        }
        Look::Part { ink, broken } => {
            let ground = ink.thinned(0.4);
            group.fill(piece, ground);
            let mut x = piece.x;
            let dash = if broken { 2.4 } else { piece.w };
            while x < piece.right() && band > 0.0 {
                group.fill(Rect::new(x, piece.y, dash.min(piece.right() - x), band), ink);
                x += dash * 2.0;
            }
            ground
        }
        Look::Fill => {
            group.fill(piece, WHITE);
            group.hatch(piece, BLACK, 1.3, true);
            WHITE
        }
        Look::Wait => {
            group.fill(piece, PALE);
            PALE
        }
        Look::Beyond => {
            group.fill(piece, WHITE);
            group.hatch(piece, GREY, 2.6, false);
            WHITE
        }
    }
}

/// The outline; open on the side where the block goes on to another line.
fn outline(group: &mut Group, look: Look, piece: Rect, begins: bool, ends: bool) {
    let [a, b, c, d] = piece.corners();
    let dashed = matches!(look, Look::Heard | Look::Gap | Look::Beyond);
    let sides = [(a, b, true), (d, c, true), (a, d, begins), (b, c, ends)];
    for (from, to, _) in sides.into_iter().filter(|side| side.2) {
        if dashed {
            group.dashes(from, to, BLACK, 0.3, 1.1);
        } else {
            group.line(vec![from, to], BLACK, 0.35);
        }
    }
}

/// The part's own eights, as ticks on its band: where they miss the ruler's, it is off its phrase.
fn eights_of_part(group: &mut Group, block: &Block, row: Row, lane: Lane, measures: &Measures) {
    let skipped = (row.start - block.start).max(0) / 8;
    let mut at = block.start + skipped.saturating_add(1).saturating_mul(8);
    while at < block.end.min(row.end) {
        if at > row.start {
            let x = measures.x(row, at);
            group.line(vec![(x, lane.top), (x, lane.top + lane.band)], BLACK, 0.35);
        }
        at = at + 8;
    }
}

/// What is written on a piece.
struct Words<'a> {
    block: &'a Block,
    heads: &'a [String],
    tails: &'a [String],
    /// The colour it stands on.
    ground: Ink,
}

fn write_words(
    group: &mut Group,
    words: &Words<'_>,
    free: Rect,
    lane: Lane,
    measures: &Measures,
    names: &mut Names,
) {
    let k = measures.scale;
    let (size, small) = (measures.type_size(3.4), measures.type_size(2.7));
    let side = (0.9 * k).min(free.w * 0.08);
    let room = free.w - 2.0 * side;
    let inner = lane.height - lane.band;
    let place = Place { width: room, height: inner - 0.6 * k, size };
    let words_ground = words.ground;
    let text = |words: String, at, size, bold, upwards| Text {
        words,
        at,
        size,
        bold,
        anchor: if upwards { Anchor::Middle } else { Anchor::Start },
        ink: BLACK,
        on: words_ground,
        upwards,
    };
    let mut lines = Vec::new();
    match names.label(words.heads, words.block, place) {
        Label::Across(head, share) => {
            let tail = words.tails.iter().find(|t| width_mm(t, small, false) <= room);
            let spare = inner - size * share * 1.2 - tail.map_or(0.0, |_| small * 1.2);
            let first = lane.top + lane.band + spare / 2.0 + size * share * 0.95;
            lines.push(text(head, (free.x + side, first), size * share, true, false));
            if let Some(tail) = tail {
                let second = first + size * share * DESCENT + small * 0.95;
                lines.push(text(tail.clone(), (free.x + side, second), small, false, false));
            }
        }
        Label::Upwards(head) => {
            let small = size * 0.8;
            let x = free.x + free.w / 2.0 + small * 0.35;
            let y = lane.top + lane.band + inner / 2.0;
            lines.push(text(head, (x, y), small, true, true));
        }
        Label::None => {}
    }
    if matches!(words.block.look, Look::Fill | Look::Beyond)
        && let Some(plate) = lines.iter().map(plate).reduce(|a, b| a.around(b))
    {
        group.fill(plate, WHITE);
    }
    lines.into_iter().for_each(|line| group.text(line));
}

/// A plain ground for words over hatching: the room that their letters take at most.
fn plate(text: &Text) -> Rect {
    let length = width_mm(&text.words, text.size, text.bold);
    let (x, y) = text.at;
    let (up, height) = (text.size * 0.82, text.size * 1.06);
    if text.upwards {
        Rect::new(x - up, y - length / 2.0, height, length)
    } else {
        Rect::new(x - 0.2, y - up, length, height)
    }
}

/// The band of a part over the counts for which its phrase has no room.
fn overhang(start: Count, end: Count, row: Row, lane: Lane, measures: &Measures) -> Option<Group> {
    let (start, end) = (start.max(row.start), end.min(row.end));
    if start >= end {
        return None;
    }
    let (x, right) = (measures.x(row, start), measures.x(row, end));
    let band = Rect::new(x, lane.top, right - x, lane.band);
    let mut group = Group::titled("overhang", "Runs on past its phrase".into());
    group.fill(band, VERMILLION);
    group.hatch(band, BLACK, 1.0, true);
    group.hatch(band, BLACK, 1.0, false);
    Some(group)
}
