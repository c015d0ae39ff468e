//! Where a patch ends: places on its rim to a fraction of a sample.
//!
//! A mark that something thin lies across is seen as pieces. No piece's middle is the mark's, but what
//! is left of the rim still tells where the mark is: see `track/hidden.rs`.

use super::components::Component;
use crate::clip::Picture;
use crate::noise::{median, quantile};
use ndarray::{Array2, Zip, s};

/// At most this many places are kept of a rim, spread evenly round it: a place on a disc is as sure.
const MAX_POINTS: usize = 72;
/// Patches wider than this many samples are posters and walls, no marks.
pub(super) const MAX_SAMPLES: u32 = 160;
/// Samples round the patch that show what surrounds it.
const MARGIN: usize = 2;
/// The rim is where the colour has fallen to this share of the patch's own, above its surroundings.
const RIM_SHARE: f64 = 0.5;

/// Places on the rim of a patch, upright picture, px.
pub type Rim = Vec<[f32; 2]>;

/// The rim of a patch: wherever its colour crosses half height between two neighbouring samples.
pub(super) fn rim_of(picture: &Picture, patch: &Component, chroma: [f64; 2]) -> Rim {
    let strength = chroma[0].hypot(chroma[1]);
    let wide = patch.columns.1 - patch.columns.0 > MAX_SAMPLES
        || patch.rows.1 - patch.rows.0 > MAX_SAMPLES;
    if wide || strength < 1.0 {
        return Rim::new();
    }
    let window = Window::around(picture, patch, chroma.map(|c| c / strength));
    let half = window.half_height(strength);
    let mut rim = Rim::new();
    for ((row, column), _) in window.inside.indexed_iter().filter(|(_, inside)| **inside) {
        for (du, dv) in [(1_i32, 0_i32), (-1, 0), (0, 1), (0, -1)] {
            let Some(share) = window.crossing((column, row), (du, dv), half) else {
                continue;
            };
            let along = |at: usize, step: i32| at as f64 + share * f64::from(step);
            let (u, v) = window.stored(picture, along(column, du), along(row, dv));
            let (u, v) = picture.upright(u, v);
            rim.push([u as f32, v as f32]);
        }
    }
    let step = rim.len().div_ceil(MAX_POINTS).max(1);
    rim.into_iter().step_by(step).collect()
}

/// The samples of a patch and a margin round it, as heights along the patch's own colour.
struct Window {
    first: (usize, usize),
    heights: Array2<f64>,
    inside: Array2<bool>,
}

impl Window {
    fn around(picture: &Picture, patch: &Component, along: [f64; 2]) -> Self {
        let (cb, cr) = (picture.cb(), picture.cr());
        let box_of = |(first, last): (u32, u32), end: usize| {
            (first as usize).saturating_sub(MARGIN)..(last as usize + MARGIN + 1).min(end)
        };
        let (columns, rows) = (
            box_of(patch.columns, cb.ncols()),
            box_of(patch.rows, cb.nrows()),
        );
        let first = (columns.start, rows.start);
        let part = s![rows, columns];
        let mut heights = Array2::zeros(cb.slice(part).raw_dim());
        Zip::from(&mut heights)
            .and(cb.slice(part))
            .and(cr.slice(part))
            .for_each(|height, b, r| {
                *height = (f64::from(*b) - 128.0) * along[0] + (f64::from(*r) - 128.0) * along[1];
            });
        let mut inside = Array2::from_elem(heights.raw_dim(), false);
        for run in &patch.runs {
            let cells = run.start as usize - first.0..run.end as usize - first.0;
            let row = run.row as usize - first.1;
            inside.slice_mut(s![row, cells]).fill(true);
        }
        Self {
            first,
            heights,
            inside,
        }
    }

    /// Half way between the surroundings' height and the patch's.
    fn half_height(&self, strength: f64) -> f64 {
        let (rows, columns) = self.heights.dim();
        let round = (self.heights.indexed_iter()).filter(|((row, column), _)| {
            *row == 0 || *column == 0 || row + 1 == rows || column + 1 == columns
        });
        let surroundings = median(round.map(|(_, height)| *height)).unwrap_or(0.0);
        // The patch's mean is lower than its top, since its edge is soft.
        let own = self
            .heights
            .iter()
            .zip(&self.inside)
            .filter(|(_, inside)| **inside);
        let top = quantile(own.map(|(height, _)| *height), (3, 4)).unwrap_or(strength);
        surroundings + RIM_SHARE * (top - surroundings)
    }

    /// How far towards a neighbour the height falls through `half`, as a share of the way.
    fn crossing(&self, at: (usize, usize), step: (i32, i32), half: f64) -> Option<f64> {
        let column = at.0.checked_add_signed(step.0 as isize)?;
        let row = at.1.checked_add_signed(step.1 as isize)?;
        let there = *self.heights.get((row, column))?;
        let here = self.heights[(at.1, at.0)];
        (here >= half && there < half).then(|| (here - half) / (here - there))
    }

    /// Stored luma coordinates of a place in the window.
    fn stored(&self, picture: &Picture, column: f64, row: f64) -> (f64, f64) {
        let layout = picture.chroma();
        (
            (self.first.0 as f64 + column) * f64::from(layout.step_u) + layout.offset_u_px,
            (self.first.1 as f64 + row) * f64::from(layout.step_v) + layout.offset_v_px,
        )
    }
}
