//! Blocks laid on pages.

use super::blocks::{Block, Blocks};

/// The paper with its margins and columns, in points.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    pub(super) width: f32,
    pub(super) height: f32,
    pub(super) margin: f32,
    pub(super) columns: usize,
}

/// Between two columns.
const GUTTER: f32 = 18.0;

impl Frame {
    /// The width between the margins.
    pub(super) fn full(self) -> f32 {
        self.width - 2.0 * self.margin
    }

    /// The width of a column.
    pub(super) fn column(self) -> f32 {
        let columns = self.columns.max(1) as f32;
        (self.full() - GUTTER * (columns - 1.0)) / columns
    }

    fn column_x(self, column: usize) -> f32 {
        self.margin + column as f32 * (self.column() + GUTTER)
    }
}

/// A block and where its upper left corner stands.
pub(super) struct Placed {
    pub(super) block: Block,
    pub(super) x: f32,
    pub(super) y: f32,
}

/// Blocks on pages.
#[derive(Default)]
pub(super) struct Layout {
    pub(super) pages: Vec<Vec<Placed>>,
}

/// Lays the head over the whole width, the parts in columns below it, and the foot at the bottom of the
/// last page.
pub(super) fn flow(blocks: &Blocks, frame: Frame, size: f32) -> Layout {
    let bottom = frame.height - frame.margin;
    let gap = size * 0.8;
    let mut pages: Vec<Vec<Placed>> = vec![Vec::new()];
    let mut y = frame.margin;
    for block in blocks.head.iter().flat_map(|b| b.pieces(bottom - frame.margin)) {
        if y + block.height > bottom && y > frame.margin {
            pages.push(Vec::new());
            y = frame.margin;
        }
        let height = block.height;
        put(&mut pages, block, frame.margin, y);
        y += height + gap;
    }
    let foot = blocks.foot.height;
    let parts: Vec<Block> =
        blocks.parts.iter().flat_map(|b| b.pieces(bottom - frame.margin - foot - gap)).collect();
    let mut at = 0;
    let mut top = y;
    let mut lowest = y;
    while at < parts.len() {
        let rest = &parts[at..];
        let room = bottom - top - foot - gap;
        // What fits here; the last page's columns are made even.
        let all = columns_of(rest, frame.columns, room, gap);
        let taken = all.iter().map(|c| c.len()).sum::<usize>();
        let columns = if taken == rest.len() { even(rest, frame.columns, room, gap) } else { all };
        let taken: usize = columns.iter().map(|c| c.len()).sum();
        if taken == 0 && top <= frame.margin {
            // Cannot be: pieces are never taller than a page. Better overfull than endless.
            put(&mut pages, rest[0].clone(), frame.margin, top);
            at += 1;
            continue;
        }
        for (column, blocks) in columns.iter().enumerate() {
            let mut y = top;
            for block in blocks.iter() {
                put(&mut pages, block.clone(), frame.column_x(column), y);
                y += block.height + gap;
                lowest = lowest.max(y);
            }
        }
        at += taken;
        if at < parts.len() {
            pages.push(Vec::new());
            top = frame.margin;
            lowest = top;
        }
    }
    if lowest + foot > bottom + gap {
        pages.push(Vec::new());
    }
    put(&mut pages, blocks.foot.clone(), frame.margin, bottom - foot);
    Layout { pages }
}

fn put(pages: &mut [Vec<Placed>], block: Block, x: f32, y: f32) {
    if let Some(page) = pages.last_mut() {
        page.push(Placed { block, x, y });
    }
}

/// The blocks that fit into so many columns of a height, column by column.
fn columns_of(blocks: &[Block], columns: usize, height: f32, gap: f32) -> Vec<&[Block]> {
    let mut out = Vec::new();
    let mut from = 0;
    for _ in 0..columns.max(1) {
        let mut used = 0.0;
        let mut to = from;
        while to < blocks.len() && used + blocks[to].height <= height {
            used += blocks[to].height + gap;
            to += 1;
        }
        out.push(&blocks[from..to]);
        from = to;
    }
    out
}

/// All blocks in columns as low as they can be.
fn even(blocks: &[Block], columns: usize, height: f32, gap: f32) -> Vec<&[Block]> {
    let (mut low, mut high) = (0.0, height);
    for _ in 0..24 {
        let middle = (low + high) / 2.0;
        let taken: usize = columns_of(blocks, columns, middle, gap).iter().map(|c| c.len()).sum();
        if taken == blocks.len() { high = middle } else { low = middle }
    }
    columns_of(blocks, columns, high, gap)
}
