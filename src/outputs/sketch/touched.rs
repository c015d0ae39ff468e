//! Which parts of a sheet were drawn on: a frame's drawing covers little of it, and only that is laid over the frame
//! and cleared again.

use std::ops::Range;
use tiny_skia::{Path, PathSegment, Point, Rect};

/// Tiles of a row: bits of a number.
const TILES: u32 = u64::BITS;

/// The tiles of each row that were drawn on.
#[derive(Debug, Clone)]
pub(super) struct Touched {
    width: u32,
    /// Width of a tile, even: two columns share their colour.
    tile_px: u32,
    rows: Vec<u64>,
}

impl Touched {
    /// None of a sheet of this size.
    pub(super) fn none_of(width: u32, height: u32) -> Self {
        Self {
            width,
            tile_px: width.div_ceil(TILES).next_multiple_of(2).max(2),
            rows: vec![0; height as usize],
        }
    }

    /// Forgets all of it.
    pub(super) fn clear(&mut self) {
        self.rows.fill(0);
    }

    /// The columns of some rows in which one of them was drawn on, from left to right.
    pub(super) fn runs(&self, rows: Range<usize>) -> impl Iterator<Item = Range<usize>> + use<> {
        let last = rows.end.min(self.rows.len());
        let rows = self.rows.get(rows.start.min(last)..last);
        let mut left = rows
            .unwrap_or_default()
            .iter()
            .fold(0, |all, row| all | row);
        let (tile_px, width) = (self.tile_px, self.width);
        std::iter::from_fn(move || {
            if left == 0 {
                return None;
            }
            let from = left.trailing_zeros();
            let run = (left >> from).trailing_ones();
            let end = from + run;
            left &= u64::MAX.checked_shl(end).unwrap_or(0);
            Some((from * tile_px) as usize..(end * tile_px).min(width) as usize)
        })
    }

    /// Notes that a rectangle of the sheet was drawn on, edges with their soft pixels included.
    pub(super) fn mark(&mut self, bounds: Bounds, margin: f32) {
        let (width, height) = (self.width as f32, self.rows.len() as f32);
        let reach = margin + 1.0;
        let rows = (bounds.top - reach).clamp(0.0, height) as usize
            ..(bounds.bottom + reach).ceil().clamp(0.0, height) as usize;
        let from = (bounds.left - reach).clamp(0.0, width) as u32;
        let to = (bounds.right + reach).ceil().clamp(0.0, width) as u32;
        if from >= to {
            return;
        }
        let (first, last) = (from / self.tile_px, (to - 1) / self.tile_px);
        let tiles = (u64::MAX >> (TILES - 1 - (last - first))) << first;
        for row in &mut self.rows[rows] {
            *row |= tiles;
        }
    }

    /// Notes a line along a path: only what lies beside its pieces.
    pub(super) fn mark_along(&mut self, path: &Path, width: f32) {
        for_each_piece(path, &mut |piece, _| self.mark(piece, width));
    }

    /// Notes a filled path: each of its closed parts.
    pub(super) fn mark_filled(&mut self, path: &Path) {
        let mut part: Option<Bounds> = None;
        for_each_piece(path, &mut |piece, begins| {
            part = match part {
                Some(before) if begins => {
                    self.mark(before, 0.0);
                    Some(piece)
                }
                Some(before) => Some(before.with(&piece)),
                None => Some(piece),
            };
        });
        if let Some(part) = part {
            self.mark(part, 0.0);
        }
    }
}

/// An upright rectangle of the sheet, which may be no wider or higher than a line: the library leaves such ones out where
/// it joins rectangles.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds {
    left: f32,
    top: f32,
    right: f32,
    bottom: f32,
}

impl Bounds {
    /// About some places.
    fn about(places: &[Point]) -> Self {
        let least = |part: fn(&Point) -> f32| places.iter().map(part).fold(f32::INFINITY, f32::min);
        let most =
            |part: fn(&Point) -> f32| places.iter().map(part).fold(f32::NEG_INFINITY, f32::max);
        Self {
            left: least(|at| at.x),
            top: least(|at| at.y),
            right: most(|at| at.x),
            bottom: most(|at| at.y),
        }
    }

    const fn with(&self, other: &Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }
}

impl From<Rect> for Bounds {
    fn from(rect: Rect) -> Self {
        Self {
            left: rect.left(),
            top: rect.top(),
            right: rect.right(),
            bottom: rect.bottom(),
        }
    }
}

/// The bounds of each piece of a path, and whether a new part begins with it. A curve lies within its control points.
fn for_each_piece(path: &Path, each: &mut dyn FnMut(Bounds, bool)) {
    let (mut start, mut at, mut begins) = (Point::zero(), Point::zero(), true);
    for segment in path.segments() {
        let (points, count) = match segment {
            PathSegment::MoveTo(to) => {
                (start, at, begins) = (to, to, true);
                continue;
            }
            PathSegment::LineTo(to) => ([at, to, to, to], 2),
            PathSegment::QuadTo(one, to) => ([at, one, to, to], 3),
            PathSegment::CubicTo(one, two, to) => ([at, one, two, to], 4),
            PathSegment::Close => ([at, start, start, start], 2),
        };
        each(Bounds::about(&points[..count]), begins);
        begins = false;
        at = points[count - 1];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_are_the_tiles_that_were_marked() {
        // Tiles of 4 pixels, 64 of them.
        let mut touched = Touched::none_of(256, 3);
        assert_eq!(touched.runs(0..3).count(), 0);
        let at = |left, right| Bounds {
            left,
            top: 1.0,
            right,
            bottom: 1.0,
        };
        touched.mark(at(9.0, 13.0), 0.0);
        touched.mark(at(250.0, 300.0), 0.0);
        touched.mark(at(-9.0, -5.0), 0.0);
        assert_eq!(touched.runs(1..2).collect::<Vec<_>>(), [8..16, 248..256]);
        touched.mark(at(-5.0, 500.0), 0.0);
        assert_eq!(touched.runs(0..3).next(), Some(0..256));
        touched.clear();
        assert_eq!(touched.runs(1..9).count(), 0);
    }

    #[test]
    fn odd_widths_end_with_the_sheet() {
        let mut touched = Touched::none_of(131, 1);
        let sheet = Rect::from_ltrb(0.0, 0.0, 131.0, 1.0).unwrap();
        touched.mark(sheet.into(), 0.0);
        assert_eq!(touched.runs(0..1).next(), Some(0..131));
    }
}
