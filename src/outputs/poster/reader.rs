//! Colours of a decoded frame at places between its pixels.

use crate::clip::{Picture, Plane};
use nalgebra::Vector2;

/// Reads colours of a frame for a raster.
pub(super) struct Reader<'a> {
    picture: &'a Picture,
    luma: Samples<'a>,
    /// Cb and Cr.
    chroma: [Samples<'a>; 2],
    /// Samples along each side of a pixel of the raster, and how far they are apart, px.
    samples: usize,
    apart_px: f64,
}

impl<'a> Reader<'a> {
    /// For a raster with so many pixels to one of the picture's, along each side.
    pub(super) fn new(picture: &'a Picture, scale: f64) -> Self {
        let samples = (1.0 / scale).round().clamp(1.0, 2.0) as usize;
        Self {
            picture,
            luma: Samples::of(&picture.y()),
            chroma: [picture.cb(), picture.cr()].map(|plane| Samples::of(&plane)),
            samples,
            apart_px: 1.0 / scale / samples as f64,
        }
    }

    /// Red, green and blue at a place of the upright picture, px.
    pub(super) fn colour(&self, at: Vector2<f64>) -> [u8; 3] {
        let mut luma = 0.0;
        let middle = (self.samples - 1) as f64 / 2.0;
        for part in 0..self.samples * self.samples {
            let off = |n: usize| (n as f64 - middle) * self.apart_px;
            let (u, v) = (
                at.x + off(part % self.samples),
                at.y + off(part / self.samples),
            );
            let (u, v) = self.picture.stored(u, v);
            luma += self.luma.between(u, v);
        }
        luma /= (self.samples * self.samples) as f64;
        let layout = self.picture.chroma();
        let (u, v) = self.picture.stored(at.x, at.y);
        let u = (u - layout.offset_u_px) / f64::from(layout.step_u.max(1));
        let v = (v - layout.offset_v_px) / f64::from(layout.step_v.max(1));
        let [cb, cr] = self.chroma.each_ref().map(|plane| plane.between(u, v));
        let rgb = self.picture.coding().rgb(luma, cb, cr);
        rgb.map(|part| (part + 0.5).clamp(0.0, 255.0) as u8)
    }
}

/// The rows of a plane, found once for millions of samples.
struct Samples<'a> {
    rows: Vec<&'a [u8]>,
    /// The last column and row, as numbers and as places.
    last: (usize, usize),
    ends: (f64, f64),
}

impl<'a> Samples<'a> {
    fn of(plane: &Plane<'a>) -> Self {
        let rows: Vec<&[u8]> = (*plane)
            .into_outer_iter()
            .map(|row| row.to_slice().unwrap_or_default())
            .collect();
        let columns = rows.first().map_or(0, |row| row.len());
        let last = (columns.saturating_sub(1), rows.len().saturating_sub(1));
        Self {
            rows,
            last,
            ends: (last.0 as f64, last.1 as f64),
        }
    }

    /// The value between the samples, by straight lines; the edge's beyond the edge.
    fn between(&self, u: f64, v: f64) -> f64 {
        let (u, v) = (u.clamp(0.0, self.ends.0), v.clamp(0.0, self.ends.1));
        let (left, top) = (u as usize, v as usize);
        let (across, down) = (u - left as f64, v - top as f64);
        let right = (left + 1).min(self.last.0);
        let pair = |row: usize| {
            let codes = self.rows.get(row).copied().unwrap_or_default();
            let at = |column: usize| codes.get(column).map_or(0.0, |&code| f64::from(code));
            (at(left), at(right))
        };
        let (upper_left, upper_right) = pair(top);
        if across == 0.0 && down == 0.0 {
            return upper_left;
        }
        let (lower_left, lower_right) = pair((top + 1).min(self.last.1));
        let upper = upper_left * (1.0 - across) + upper_right * across;
        let lower = lower_left * (1.0 - across) + lower_right * across;
        upper * (1.0 - down) + lower * down
    }
}
