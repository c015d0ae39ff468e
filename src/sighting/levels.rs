//! The picture as levels of membership, one cell a chroma sample.

use crate::clip::Picture;
use crate::colour::Membership;

/// Packed membership levels of every chroma sample of a frame, kept between frames to reuse memory.
#[derive(Debug, Default, Clone)]
pub struct LevelMap {
    /// Cells a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    cells: Vec<u16>,
    /// Cells of each slot at each level 0..=7.
    counts: [[u32; 8]; 4],
}

impl LevelMap {
    /// Fills the map from a picture's colour planes.
    pub fn fill(&mut self, picture: &Picture, table: &Membership) {
        let (cb, cr) = (picture.cb(), picture.cr());
        self.width = cb.width;
        self.height = cb.height;
        self.cells.clear();
        self.cells.reserve(self.width * self.height);
        for v in 0..self.height {
            let (row_b, row_r) = (cb.row(v), cr.row(v));
            self.cells
                .extend(row_b.iter().zip(row_r).map(|(&b, &r)| table.packed(b, r)));
        }
        self.count(table.wanted().len());
    }

    /// Fills the map from packed cells, row by row (for synthetic pictures).
    pub fn fill_from_cells(&mut self, width: usize, cells: &[u16], slots: usize) {
        self.width = width;
        self.height = cells.len().checked_div(width).unwrap_or(0);
        self.cells.clear();
        self.cells
            .extend_from_slice(&cells[..self.width * self.height]);
        self.count(slots);
    }

    fn count(&mut self, slots: usize) {
        self.counts = [[0; 8]; 4];
        for &cell in self.cells.iter().filter(|&&cell| cell != 0) {
            for (slot, counts) in self.counts.iter_mut().enumerate().take(slots) {
                counts[usize::from(Membership::level(cell, slot) & 7)] += 1;
            }
        }
    }

    /// One row of packed cells.
    pub fn row(&self, v: usize) -> &[u16] {
        &self.cells[v * self.width..(v + 1) * self.width]
    }

    /// How many cells of `slot` reach at least `level`.
    pub fn count_at_least(&self, slot: usize, level: u8) -> u32 {
        self.counts[slot][usize::from(level)..].iter().sum()
    }
}

/// Largest share of the picture that a level may cover and still be worth searching: marks are small,
/// and a level that a wooden floor reaches everywhere shows nothing.
const MAX_COVERED_SHARE: f64 = 0.04;

/// The lowest level at which `slot` covers little enough of the picture to be searched.
pub fn base_level(map: &LevelMap, slot: usize) -> u8 {
    let limit = (MAX_COVERED_SHARE * (map.width * map.height) as f64) as u32;
    (1..=7)
        .find(|&level| map.count_at_least(slot, level) <= limit)
        .unwrap_or(7)
}
