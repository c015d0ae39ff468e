//! A pale patch outlined by its brightness.
//!
//! A long exposure smears a fast mark over a streak whose colour is hardly there, and coding drops what is
//! left of it in blocks: what the colour outlines is then a part of the mark, off its middle. The streak
//! still darkens (or lightens) the floor or wall behind it, and brightness is kept for every pixel. A disc
//! swept along a line fades alike towards both ends, so the middle of what stands out is the middle of the
//! exposure.

use super::components::{Component, Run, connected};
use super::rim::MAX_SAMPLES;
use crate::clip::{Picture, Plane};
use nalgebra::Matrix2;
use ndarray::{Axis, s};

/// A patch is pale where its colour differs from what surrounds it by less than this, codes: a third of what
/// the floor marks of a clip drawn in good light have (50 to 63 in the one looked at).
const PALE: f64 = 16.0;
/// ... and brightness tells more where it differs by this many times as much.
const BRIGHTNESS_OVER_COLOUR: f64 = 2.0;
/// What surrounds the mark must be this much calmer than the mark stands out (half the spread of the middle
/// half of what surrounds it).
const CALM: f64 = 8.0;
/// The rim is drawn at this share of the mark's height: low, since a ball or a shiny sticker is shaded, and
/// its lighter side would be cut off. A sweep's ends are moved outwards alike by it.
const RIM_SHARE: f64 = 0.3;
/// Share of the ellipse of its own second moments that a disc or a streak of one fills: a disc all of it, a
/// disc swept along many diameters 3/π = 0.955.
const MIN_FILL: f64 = 0.90;
/// Colour outlines at least this share of a mark; what is larger is the mark and something else.
const MIN_COLOURED_SHARE: f64 = 0.2;
/// ... and at least this much, px²: a block of 8 by 8 colour samples. Coding drops colour block by block, and
/// a smaller mark's brightness is mixed with that of what it sticks to.
const MIN_COLOURED_PX2: f64 = 256.0;
/// Surroundings looked at, px beyond the patch's own size.
const MARGIN_PX: usize = 12;

/// The outline by brightness, stored-picture luma pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Silhouette {
    pub u_px: f64,
    pub v_px: f64,
    /// Second moments, px².
    pub spread: Matrix2<f64>,
    pub area_px2: f64,
}

/// The silhouette of a patch of mean chroma `chroma` (offsets from neutral, codes); `None` where its colour
/// is no paler than its brightness, or where brightness does not part a disc or streak from its
/// surroundings.
pub(super) fn silhouette(
    picture: &Picture,
    patch: &Component,
    chroma: [f64; 2],
) -> Option<Silhouette> {
    let layout = picture.chroma();
    let coloured_px2 = f64::from(patch.cells * layout.step_u * layout.step_v);
    let wide = (patch.columns.1 - patch.columns.0).max(patch.rows.1 - patch.rows.0) > MAX_SAMPLES;
    if wide || coloured_px2 < MIN_COLOURED_PX2 {
        return None;
    }
    let window = Window::around(picture, patch);
    let colour_codes = colour_contrast(picture, patch, chroma);
    if colour_codes > PALE {
        return None;
    }
    let (background, calm) = window.surroundings(picture);
    let (sign, top) = height_of(picture, patch, background)?;
    if top < BRIGHTNESS_OVER_COLOUR * colour_codes || top < CALM * calm.max(1.0) {
        return None;
    }
    let runs = window.runs(picture, patch, |code| {
        sign * (f64::from(code) - background) > RIM_SHARE * top
    });
    let (column, row) = patch.centre();
    let centre = (
        (column * f64::from(layout.step_u) + layout.offset_u_px).round() as u32,
        (row * f64::from(layout.step_v) + layout.offset_v_px).round() as u32,
    );
    let whole = connected(&runs, 1).into_iter().find(|component| {
        let holds = |run: &Run| run.row == centre.1 && (run.start..run.end).contains(&centre.0);
        component.runs.iter().any(holds)
    })?;
    let area_px2 = f64::from(whole.cells);
    let is_mark = !window.is_touched_by(&whole)
        && whole.fill() > MIN_FILL
        && coloured_px2 > MIN_COLOURED_SHARE * area_px2;
    let [xx, xy, yy] = whole.second_moments();
    let (u_px, v_px) = whole.centre();
    is_mark.then(|| Silhouette {
        u_px,
        v_px,
        spread: Matrix2::new(xx, xy, xy, yy),
        area_px2,
    })
}

/// How much a patch's colour differs from the samples next to its box, codes.
fn colour_contrast(picture: &Picture, patch: &Component, chroma: [f64; 2]) -> f64 {
    let differences = [picture.cb(), picture.cr()]
        .into_iter()
        .zip(chroma)
        .map(|(plane, own)| {
            let box_of = |(first, last): (u32, u32), end: usize| {
                (first as usize).saturating_sub(2)..(last as usize + 3).min(end)
            };
            let (columns, rows) = (
                box_of(patch.columns, plane.ncols()),
                box_of(patch.rows, plane.nrows()),
            );
            let mut round = border(&plane.slice(s![rows, columns]));
            own - (f64::from(quartiles(&mut round)[1]) - 128.0)
        });
    differences.map(|d| d * d).sum::<f64>().sqrt()
}

/// Whether the patch is brighter (1) or darker (-1) than the background, and by how much, codes: the upper
/// quartile, since its edge is soft.
fn height_of(picture: &Picture, patch: &Component, background: f64) -> Option<(f64, f64)> {
    let layout = picture.chroma();
    let plane = picture.y();
    let mut codes: Vec<u8> = patch
        .runs
        .iter()
        .filter_map(|run| {
            let row = f64::from(run.row) * f64::from(layout.step_v) + layout.offset_v_px;
            let row = plane.row((row.round().max(0.0) as usize).min(plane.nrows() - 1));
            let at = |cell: u32| (f64::from(cell) * f64::from(layout.step_u)) as usize;
            let (start, end) = (at(run.start), at(run.end).min(row.len()));
            (start <= end).then(|| row.slice_move(s![start..end]))
        })
        .flatten()
        .copied()
        .collect();
    if codes.is_empty() {
        return None;
    }
    let [low, middle, high] = quartiles(&mut codes).map(f64::from);
    Some(if middle < background {
        (-1.0, background - low)
    } else {
        (1.0, high - background)
    })
}

/// The samples along the border of a box.
fn border(part: &Plane<'_>) -> Vec<u8> {
    let ends = |axis: Axis| {
        let last = part.len_of(axis).saturating_sub(1);
        [0, last].map(|at| part.index_axis(axis, at))
    };
    let lines = ends(Axis(0)).into_iter().chain(ends(Axis(1)));
    lines.flat_map(|line| line.to_vec()).collect()
}

fn quartiles(codes: &mut [u8]) -> [u8; 3] {
    codes.sort_unstable();
    [1, 2, 3].map(|part| codes[(codes.len() - 1) * part / 4])
}

/// The luma pixels of a patch and what surrounds it.
struct Window {
    rows: std::ops::Range<usize>,
    columns: std::ops::Range<usize>,
}

impl Window {
    /// As far as the picture goes.
    fn around(picture: &Picture, patch: &Component) -> Self {
        let (layout, plane) = (picture.chroma(), picture.y());
        let box_of = |(first, last): (u32, u32), step: u32| {
            (
                first as usize * step as usize,
                (last as usize + 1) * step as usize,
            )
        };
        let (u0, u1) = box_of(patch.columns, layout.step_u);
        let (v0, v1) = box_of(patch.rows, layout.step_v);
        let margin = (u1 - u0).max(v1 - v0) / 2 + MARGIN_PX;
        Self {
            rows: v0.saturating_sub(margin)..(v1 + margin).min(plane.nrows()),
            columns: u0.saturating_sub(margin)..(u1 + margin).min(plane.ncols()),
        }
    }

    /// Median of the window's border, and half the spread of its middle half, codes.
    fn surroundings(&self, picture: &Picture) -> (f64, f64) {
        let plane = picture.y();
        let mut round = border(&plane.slice(s![self.rows.clone(), self.columns.clone()]));
        let [low, middle, high] = quartiles(&mut round).map(f64::from);
        (middle, 0.5 * (high - low))
    }

    /// Runs of what `is_in` says of the brightness, and of what the patch covers.
    fn runs(&self, picture: &Picture, patch: &Component, is_in: impl Fn(u8) -> bool) -> Vec<Run> {
        let (plane, layout) = (picture.y(), picture.chroma());
        let mut runs = Vec::new();
        for row in self.rows.clone() {
            let codes = plane.slice(s![row, self.columns.clone()]);
            let mut inside: Vec<bool> = codes.iter().map(|code| is_in(*code)).collect();
            let of_patch = |run: &&Run| run.row == row as u32 / layout.step_v;
            for run in patch.runs.iter().filter(of_patch) {
                let at = |cell: u32| (cell * layout.step_u) as usize - self.columns.start;
                let end = at(run.end).min(inside.len());
                inside[at(run.start).min(end)..end].fill(true);
            }
            let mut start = self.columns.start as u32;
            for part in inside.chunk_by(|a, b| a == b) {
                let end = start + part.len() as u32;
                if part[0] {
                    let row = row as u32;
                    runs.push(Run { row, start, end });
                }
                start = end;
            }
        }
        runs
    }

    fn is_touched_by(&self, whole: &Component) -> bool {
        whole.rows.0 as usize == self.rows.start
            || whole.rows.1 as usize + 1 == self.rows.end
            || whole.columns.0 as usize == self.columns.start
            || whole.columns.1 as usize + 1 == self.columns.end
    }
}
