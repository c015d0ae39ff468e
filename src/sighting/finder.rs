//! One frame in, its blobs out.

use super::components::{Component, patches};
use super::disc::{DiscFit, fit_disc};
use super::levels::{LevelMap, base_level};
use super::light::Light;
use super::rim::{Rim, rim_of};
use super::silhouette::silhouette;
use super::{Blob, FrameSightings};
use crate::clip::{Frame, Picture, QuarterTurn};
use crate::colour::Colour;
use crate::noise::median;
use nalgebra::Matrix2;
use ndarray::s;

/// At most this many blobs of a colour are kept from one frame, the strongest.
pub const MAX_BLOBS_PER_COLOUR: usize = 40;
/// At most this many of them are placed by a disc fit; the rest keep a rough place.
pub const MAX_DISC_FITS: usize = 12;

/// Standard deviation of a rough place (mask centroid in half-resolution colour), px: a plain mask
/// stops at 0.13 to 0.19 px however good the picture (own simulation; see DEVELOPERS.md).
const ROUGH_SD_PX: f64 = 0.3;

/// ... and this share of the patch's size, because a patch that defies a fit is rarely whole.
const ROUGH_SHARE: f64 = 0.05;
/// A disc fit takes the noise of neighbouring samples as independent; after denoising and coding it is
/// not, and the variance is this much larger. Measured, as is `CODING_PX`: with both, 68 of 100 places in
/// clean, dim and strongly compressed drawn clips lie within 0.9 to 1.4 of what is claimed.
const CORRELATED: f64 = 3.0;
/// What coding alone moves a disc of one code of colour contrast, px: rounding and coarse steps shift its
/// edges, the more so the paler it is.
const CODING_PX: f64 = 2.0;
/// A disc of this area is placed no better than to a pixel, since so few colour samples make it up;
/// the doubt falls with the square of the area. Measured likewise.
const SMALL_PX2: f64 = 5.5;
/// A mask that moved by less than this since its fit is of something at rest, px: a tenth of what a
/// mask's centroid can tell apart anyway.
const SAME_PX: f64 = 0.04;
/// ... and whose area changed by less than this share.
const SAME_AREA: f64 = 0.02;
/// A fit is kept for at most this many frames, so that slowly changing light is followed.
const KEEP_FRAMES: u32 = 20;

/// Half of a colour's patches moved by more than this since they were last fitted: the camera moves, px.
const UNREST_PX: f64 = 0.3;
/// Frames for which that is remembered; a hand turns back within half a second.
const UNREST_FRAMES: u32 = 30;

/// A disc fills the ellipse of its own second moments wholly, a square to 0.95; what fills less than
/// this is no mark.
const MIN_FILL: f64 = 0.72;
/// A disc seen nearly edge-on or blurred over more than this many widths cannot be placed as a disc.
const MAX_STRETCH: f64 = 7.0;

/// A disc of less than this share of what brightness outlines is not the whole of it.
const WHOLE_SHARE: f64 = 0.8;

/// A colour to look for, and how often its blobs deserve a disc fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// The colour.
    pub colour: Colour,
    /// A disc is fitted in every frame whose number divides by this: 1 for what moves, more for
    /// what lies on the floor.
    pub fit_every: u32,
}

/// Looks for the wanted colours, one frame at a time, each frame whole.
#[derive(Debug)]
pub struct Finder {
    wanted: Vec<Wanted>,
    light: Option<Light>,
    map: LevelMap,
    /// What was placed in the frame before, by colour.
    before: Vec<Vec<Fixed>>,
    /// Whether what should lie still moves, by colour.
    unrest: Vec<Unrest>,
}

/// Where a colour's patches were at the last frame with fits for all: a camera that moves takes marks
/// on the floor along, and they then need a fit in every frame.
#[derive(Debug, Clone, Default)]
struct Unrest {
    anchors: Vec<(f64, f64)>,
    until: u32,
}

impl Unrest {
    /// Whether the patches of the frame `index` have left their anchors, now or a short while ago.
    fn moves(&mut self, index: u32, found: &[(f64, Rough)]) -> bool {
        let apart = self.anchors.iter().filter_map(|(u, v)| {
            let away = |rough: &Rough| (rough.u_px - u).hypot(rough.v_px - v);
            let all = found.iter().map(|(_, rough)| away(rough));
            all.min_by(f64::total_cmp)
        });
        if median(apart).is_some_and(|apart| apart > UNREST_PX) {
            self.until = index + UNREST_FRAMES;
        }
        index < self.until
    }

    fn anchor(&mut self, found: &[(f64, Rough)]) {
        let strongest = found.iter().take(MAX_DISC_FITS);
        self.anchors = strongest.map(|(_, r)| (r.u_px, r.v_px)).collect();
    }
}

/// A patch that was placed by a disc fit, to be kept while the picture there does not change.
#[derive(Debug, Clone, Copy)]
struct Fixed {
    rough: Rough,
    fitted: Option<DiscFit>,
    frames: u32,
}

impl Finder {
    /// A finder for these colours (at most [`crate::colour::MAX_WANTED`] different ones).
    pub fn new(wanted: Vec<Wanted>) -> Self {
        let before = vec![Vec::new(); wanted.len()];
        let unrest = vec![Unrest::default(); wanted.len()];
        Self {
            wanted,
            light: None,
            map: LevelMap::default(),
            before,
            unrest,
        }
    }

    /// The colours, in the order of the lists that [`Self::find`] returns.
    pub fn colours(&self) -> Vec<Colour> {
        self.wanted.iter().map(|wanted| wanted.colour).collect()
    }

    /// Every blob of the wanted colours in `frame`.
    pub fn find(&mut self, frame: &Frame) -> FrameSightings {
        let picture = &frame.picture;
        let mut light = match self.light.take() {
            Some(light) if light.fits(picture) => light,
            _ => Light::new(picture, &self.colours()),
        };
        light.follow(picture, frame.index);
        self.map.fill(picture, light.table());
        self.light = Some(light);
        let (blobs, rims) = (0..self.wanted.len())
            .map(|slot| self.blobs_of(slot, picture, frame.index))
            .unzip();
        FrameSightings {
            frame: frame.index,
            time_s: frame.time_s,
            blobs,
            rims,
        }
    }

    fn blobs_of(&mut self, slot: usize, picture: &Picture, index: u32) -> (Vec<Blob>, Vec<Rim>) {
        let base = base_level(&self.map, slot);
        // Only what moves is smeared, or looked for where half of it is hidden.
        let moves = self.wanted[slot].fit_every == 1;
        let patches = patches(&self.map, slot, base, moves);
        let mut ranked = strongest(picture, &patches);
        let outlined = if moves { MAX_DISC_FITS } else { 0 };
        for (_, rough, number) in ranked.iter_mut().take(outlined) {
            *rough = rough.by_brightness(picture, &patches[*number]);
        }
        without_repeats(&mut ranked);
        let rims = ranked
            .iter()
            .take(outlined)
            .map(|(_, rough, number)| rim_of(picture, &patches[*number], rough.chroma))
            .collect();
        let found: Vec<(f64, Rough)> = ranked
            .into_iter()
            .map(|(strength, rough, _)| (strength, rough))
            .collect();
        let on_turn = index.is_multiple_of(self.wanted[slot].fit_every.max(1));
        let due = self.unrest[slot].moves(index, &found) || on_turn;
        if due {
            self.unrest[slot].anchor(&found);
        }
        let fits = if due { MAX_DISC_FITS } else { 0 };
        let mut kept = Vec::with_capacity(found.len());
        let blobs = found
            .into_iter()
            .enumerate()
            .map(|(rank, (_, rough))| {
                let fixed = self.fixed(slot, picture, &rough, rank < fits);
                kept.push(fixed);
                placed(picture, &rough, fixed.fitted.as_ref())
            })
            .collect();
        self.before[slot] = kept;
        (blobs, rims)
    }

    /// The patch's fit: last frame's where nothing moved, a new one where one is due.
    fn fixed(&self, slot: usize, picture: &Picture, rough: &Rough, fit: bool) -> Fixed {
        let same = self.before[slot]
            .iter()
            .find(|old| old.frames < KEEP_FRAMES && rough.is_same(&old.rough));
        if let Some(old) = same {
            return Fixed {
                frames: old.frames + 1,
                ..*old
            };
        }
        let fitted = if fit && !rough.at_border && rough.is_disc_like() {
            fit_disc(picture, (rough.u_px, rough.v_px), rough.spread)
                .filter(|disc| rough.is_fitted_by(disc))
        } else {
            None
        };
        // A patch that was not due for a fit must not be kept without one.
        let frames = if fitted.is_some() { 0 } else { KEEP_FRAMES };
        Fixed {
            rough: *rough,
            fitted,
            frames,
        }
    }
}

/// The strongest patches, each with its strength, place and number.
fn strongest(picture: &Picture, patches: &[Component]) -> Vec<(f64, Rough, usize)> {
    let mut ranked: Vec<(f64, Rough, usize)> = patches
        .iter()
        .enumerate()
        .map(|(number, patch)| {
            let rough = rough_place(picture, patch);
            let strength = rough.chroma[0].hypot(rough.chroma[1]) * rough.area_px2.sqrt();
            (strength, rough, number)
        })
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    ranked.truncate(MAX_BLOBS_PER_COLOUR);
    ranked
}

/// A patch's place from its mask alone, stored-picture coordinates.
#[derive(Debug, Clone, Copy)]
struct Rough {
    u_px: f64,
    v_px: f64,
    spread: Matrix2<f64>,
    area_px2: f64,
    chroma: [f64; 2],
    at_border: bool,
    /// Whether brightness outlines it, since its colour is too pale to.
    by_brightness: bool,
}

/// Pieces of one mark that brightness outlines have the same outline: the strongest stands for all.
fn without_repeats(ranked: &mut Vec<(f64, Rough, usize)>) {
    let mut places: Vec<(f64, f64)> = Vec::new();
    ranked.retain(|(_, rough, _)| {
        let place = (rough.u_px, rough.v_px);
        let is_new = !rough.by_brightness || !places.contains(&place);
        if rough.by_brightness {
            places.push(place);
        }
        is_new
    });
}

impl Rough {
    /// The same patch outlined by its brightness, where its colour is too pale to outline it.
    fn by_brightness(self, picture: &Picture, patch: &Component) -> Self {
        silhouette(picture, patch, self.chroma).map_or(self, |whole| Self {
            u_px: whole.u_px,
            v_px: whole.v_px,
            spread: whole.spread,
            area_px2: whole.area_px2,
            by_brightness: true,
            ..self
        })
    }

    /// Whether the patch may be a disc, tilted or blurred into a streak: it fills the ellipse of its
    /// own second moments, and is not a line.
    fn is_disc_like(&self) -> bool {
        let eigen = self.spread.symmetric_eigenvalues();
        let (long, short) = (
            2.0 * eigen.max().max(0.0).sqrt(),
            2.0 * eigen.min().max(0.1).sqrt(),
        );
        let fill = self.area_px2 / (std::f64::consts::PI * long * short);
        fill > MIN_FILL && long < MAX_STRETCH * short
    }

    /// Whether a disc is the whole mark, where brightness outlines that: of a shaded or smeared one a fit may
    /// take a part.
    fn is_fitted_by(&self, disc: &DiscFit) -> bool {
        let share = std::f64::consts::PI * disc.long_px * disc.short_px / self.area_px2;
        !self.by_brightness || share > WHOLE_SHARE
    }

    /// Whether the mask tells no difference from an earlier frame's.
    fn is_same(&self, earlier: &Self) -> bool {
        let still = (self.u_px - earlier.u_px).abs() < SAME_PX
            && (self.v_px - earlier.v_px).abs() < SAME_PX;
        still && (self.area_px2 / earlier.area_px2 - 1.0).abs() < SAME_AREA
    }
}

fn rough_place(picture: &Picture, patch: &Component) -> Rough {
    let layout = picture.chroma();
    let (step_u, step_v) = (f64::from(layout.step_u), f64::from(layout.step_v));
    let (cb, cr) = (picture.cb(), picture.cr());
    let mut chroma = [0.0_f64; 2];
    for run in &patch.runs {
        let cells = run.start as usize..run.end as usize;
        for (sum, plane) in chroma.iter_mut().zip([cb, cr]) {
            let row = plane.slice(s![run.row as usize, cells.clone()]);
            *sum += row.iter().map(|code| f64::from(*code) - 128.0).sum::<f64>();
        }
    }
    let n = f64::from(patch.cells);
    let (mx, my) = patch.centre();
    let [xx, xy, yy] = patch.second_moments();
    let spread = Matrix2::new(
        xx * step_u * step_u,
        xy * step_u * step_v,
        xy * step_u * step_v,
        yy * step_v * step_v,
    );
    Rough {
        u_px: mx * step_u + layout.offset_u_px,
        v_px: my * step_v + layout.offset_v_px,
        spread,
        area_px2: n * step_u * step_v,
        chroma: chroma.map(|sum| sum / n),
        at_border: patch.columns.0 == 0
            || patch.rows.0 == 0
            || patch.columns.1 as usize + 1 >= cb.ncols()
            || patch.rows.1 as usize + 1 >= cb.nrows(),
        by_brightness: false,
    }
}

/// Squares and product of half-axes of the stored picture, turned upright.
fn upright_outline(picture: &Picture, [uu, vv, uv]: [f64; 3]) -> [f64; 3] {
    match picture.turn() {
        QuarterTurn::None | QuarterTurn::Half => [uu, vv, uv],
        QuarterTurn::Clockwise90 | QuarterTurn::Clockwise270 => [vv, uu, -uv],
    }
}

/// The finished blob: the disc's place where one was fitted, else the mask's.
fn placed(picture: &Picture, rough: &Rough, fitted: Option<&DiscFit>) -> Blob {
    let stored = fitted.map_or((rough.u_px, rough.v_px), |disc| (disc.u_px, disc.v_px));
    let (u_px, v_px) = picture.upright(stored.0, stored.1);
    // Where no disc could be fitted the patch is odd: half hidden, or not a disc.
    let rough_var = ROUGH_SD_PX * ROUGH_SD_PX + ROUGH_SHARE * ROUGH_SHARE * rough.area_px2;
    let (var_u, var_v) = fitted.map_or((rough_var, rough_var), |disc| {
        let area = std::f64::consts::PI * disc.long_px * disc.short_px;
        let coded = (CODING_PX / disc.contrast[1].hypot(disc.contrast[2])).powi(2)
            + (SMALL_PX2 / area).powi(4);
        (
            CORRELATED * disc.var_u_px2 + coded,
            CORRELATED * disc.var_v_px2 + coded,
        )
    });
    let sideways = matches!(
        picture.turn(),
        QuarterTurn::Clockwise90 | QuarterTurn::Clockwise270
    );
    let (var_u_px2, var_v_px2) = if sideways {
        (var_v, var_u)
    } else {
        (var_u, var_v)
    };
    let eigen = rough.spread.symmetric_eigenvalues();
    let axes = fitted.map_or(
        (eigen.max().max(0.1).sqrt(), eigen.min().max(0.1).sqrt()),
        |disc| (disc.long_px, disc.short_px),
    );
    let outline = fitted.map_or_else(
        || {
            // A uniform ellipse has second moments of a quarter of its squared half-axes.
            let spread = rough.spread * 4.0;
            [spread[(0, 0)], spread[(1, 1)], spread[(0, 1)]]
        },
        |disc| disc.outline_px2,
    );
    Blob {
        u_px,
        v_px,
        var_u_px2,
        var_v_px2,
        area_px2: fitted.map_or(rough.area_px2, |disc| {
            std::f64::consts::PI * disc.long_px * disc.short_px
        }),
        elongation: axes.0 / axes.1,
        contrast: fitted.map_or(rough.chroma[0].hypot(rough.chroma[1]), |disc| {
            disc.contrast[1].hypot(disc.contrast[2])
        }),
        outline_px2: upright_outline(picture, outline),
        chroma: rough.chroma,
        row_frac: (stored.1 + 0.5) / f64::from(picture.stored_height()),
        fitted: fitted.is_some(),
        at_border: rough.at_border,
    }
}

#[cfg(test)]
mod tests;
