//! The picture as levels of membership, one cell a chroma sample.

use crate::clip::Picture;
use crate::colour::Membership;
use ndarray::Array2;

/// Cells looked at together: most chunks of a picture hold nothing of a colour.
pub(super) const CHUNK: usize = 32;

/// Packed membership levels of every chroma sample of a frame, kept between frames to reuse memory.
#[derive(Debug, Default, Clone)]
pub struct LevelMap {
    /// Rows by columns.
    cells: Array2<u16>,
    /// What the cells of each chunk of a row reach together, bit by bit: 0 where nothing is.
    chunks: Array2<u16>,
    /// Cells of each slot at each level 0..=7.
    counts: [[u32; 8]; 4],
}

impl LevelMap {
    /// Fills the map from a picture's colour planes.
    pub fn fill(&mut self, picture: &Picture, table: &Membership) {
        let (cb, cr) = (picture.cb(), picture.cr());
        let mut cells = emptied(&mut self.cells);
        cells.reserve(cb.len());
        for (row_b, row_r) in cb.rows().into_iter().zip(cr.rows()) {
            if let (Some(row_b), Some(row_r)) = (row_b.to_slice(), row_r.to_slice()) {
                table.extend_packed(row_b, row_r, &mut cells);
            }
        }
        self.cells = Array2::from_shape_vec(cb.raw_dim(), cells).unwrap_or_default();
        self.count(table.wanted().len());
    }

    /// Fills the map from packed cells, rows by columns (for synthetic pictures).
    #[cfg(test)]
    pub fn fill_from_cells(&mut self, cells: Array2<u16>, slots: usize) {
        self.cells = cells;
        self.count(slots);
    }

    /// Columns and rows.
    pub fn size(&self) -> (usize, usize) {
        (self.cells.ncols(), self.cells.nrows())
    }

    fn count(&mut self, slots: usize) {
        let (rows, columns) = self.cells.dim();
        let mut chunks = emptied(&mut self.chunks);
        let together = |chunk: &[u16]| chunk.iter().fold(0, |all, cell| all | cell);
        for row in 0..rows {
            chunks.extend(self.row(row).chunks(CHUNK).map(together));
        }
        let in_a_row = columns.div_ceil(CHUNK);
        self.chunks = Array2::from_shape_vec((rows, in_a_row), chunks).unwrap_or_default();
        let mut counts = [[0; 8]; 4];
        for row in 0..rows {
            let chunks = self.row(row).chunks(CHUNK).zip(self.row_chunks(row));
            for (chunk, _) in chunks.filter(|(_, together)| **together != 0) {
                for &cell in chunk.iter().filter(|&&cell| cell != 0) {
                    for (slot, counts) in counts.iter_mut().enumerate().take(slots) {
                        counts[usize::from(Membership::level(cell, slot) & 7)] += 1;
                    }
                }
            }
        }
        self.counts = counts;
    }

    /// What the cells of each `CHUNK` of a row reach together, bit by bit.
    pub fn row_chunks(&self, v: usize) -> &[u16] {
        self.chunks.row(v).to_slice().unwrap_or_default()
    }

    /// One row of packed cells.
    pub fn row(&self, v: usize) -> &[u16] {
        self.cells.row(v).to_slice().unwrap_or_default()
    }

    /// How many runs of neighbouring cells of `slot` reach at least `level`.
    pub fn runs_at_least(&self, slot: usize, level: u8) -> u32 {
        // Levels end at 7, so a packed cell is never negative as a signed number.
        let mask = 0xF_i16 << (4 * slot);
        let least = i16::from(level) << (4 * slot);
        let reaches = |cell: u16| cell.cast_signed() & mask >= least;
        (0..self.cells.nrows())
            .map(|v| {
                let row = self.row(v);
                let first = u32::from(row.first().is_some_and(|&cell| reaches(cell)));
                let starts = row.windows(2);
                first
                    + starts
                        .map(|pair| u32::from(reaches(pair[1]) && !reaches(pair[0])))
                        .sum::<u32>()
            })
            .sum()
    }

    /// How many cells of `slot` reach at least `level`.
    pub fn count_at_least(&self, slot: usize, level: u8) -> u32 {
        self.counts[slot][usize::from(level)..].iter().sum()
    }
}

/// The memory of an array, without what was in it.
fn emptied(array: &mut Array2<u16>) -> Vec<u16> {
    let (mut memory, _) = std::mem::take(array).into_raw_vec_and_offset();
    memory.clear();
    memory
}

/// Largest share of the picture that a level may cover and still be worth searching: marks are small,
/// and a level that a wooden floor reaches everywhere shows nothing.
const MAX_COVERED_SHARE: f64 = 0.04;

/// ... unless what it covers is this much at most, in wide solid areas: a poster, somebody in a shirt of
/// that colour. These are few patches, and the mark beside them has the same level.
const MAX_SOLID_SHARE: f64 = 0.30;
/// Usual cells a run of a solid area, at least: noise and grain come in short runs.
const SOLID_RUN_CELLS: u32 = 10;

/// The lowest level at which `slot` covers little enough of the picture to be searched.
pub fn base_level(map: &LevelMap, slot: usize) -> u8 {
    let cells = map.cells.len() as f64;
    (1..=7)
        .find(|&level| {
            let covered = map.count_at_least(slot, level);
            let share = f64::from(covered) / cells;
            share <= MAX_COVERED_SHARE
                || (share <= MAX_SOLID_SHARE
                    && map.runs_at_least(slot, level) * SOLID_RUN_CELLS <= covered)
        })
        .unwrap_or(7)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A map of 40 x 40 cells with something at level 3 wherever `covered` says so.
    fn map_where(covered: impl Fn(usize, usize) -> bool) -> LevelMap {
        let cells = Array2::from_shape_fn((40, 40), |(v, u)| if covered(u, v) { 3 } else { 0 });
        let mut map = LevelMap::default();
        map.fill_from_cells(cells, 1);
        map
    }

    #[test]
    fn a_wide_poster_does_not_blind_the_search() {
        let map = map_where(|u, v| u < 20 && v < 20);
        assert_eq!((map.runs_at_least(0, 3), base_level(&map, 0)), (20, 1));
    }

    #[test]
    fn a_floor_of_speckles_is_not_searched() {
        let map = map_where(|u, v| (u + v) % 4 == 0);
        assert_eq!((map.runs_at_least(0, 3), base_level(&map, 0)), (400, 4));
    }

    #[test]
    fn a_level_that_is_everywhere_is_not_searched() {
        assert_eq!(base_level(&map_where(|_, _| true), 0), 4);
    }
}
