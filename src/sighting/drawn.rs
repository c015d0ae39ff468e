//! Pictures of discs with a known place, drawn by integration over each sample's own box: for tests.

use crate::clip::{ChromaLayout, ColourCoding, Matrix, Picture, QuarterTurn};
use statrs::distribution::{ContinuousCDF, Normal};

pub(super) const CODING: ColourCoding = ColourCoding {
    matrix: Matrix::Bt709,
    matrix_assumed: false,
    full_range: false,
    range_assumed: false,
};

/// Colour samples in the middle between two rows and on every second column, as H.264 has them by default.
pub(super) const LEFT_420: ChromaLayout = ChromaLayout {
    step_u: 2,
    step_v: 2,
    offset_u_px: 0.0,
    offset_v_px: 0.5,
    assumed: false,
};

/// A colour sample for each pixel.
pub(super) const EVERY_PIXEL: ChromaLayout = ChromaLayout {
    step_u: 1,
    step_v: 1,
    offset_u_px: 0.0,
    offset_v_px: 0.0,
    assumed: false,
};

/// An elliptical patch of one colour, its edge blurred by a Gaussian.
#[derive(Debug, Clone, Copy)]
pub(super) struct Patch {
    /// Centre, stored picture, px.
    pub(super) at_px: (f64, f64),
    /// Half-axes, px: the first along `angle_rad`.
    pub(super) axes_px: (f64, f64),
    /// From u towards v, rad.
    pub(super) angle_rad: f64,
    /// Y, Cb and Cr over those of the floor, codes.
    pub(super) contrast: [f64; 3],
}

impl Patch {
    pub(super) fn disc(u_px: f64, v_px: f64, radius_px: f64, contrast: [f64; 3]) -> Self {
        Self {
            at_px: (u_px, v_px),
            axes_px: (radius_px, radius_px),
            angle_rad: 0.0,
            contrast,
        }
    }

    /// How far out a place is: 1 on the rim.
    fn rim(&self, u: f64, v: f64) -> f64 {
        let (sin, cos) = self.angle_rad.sin_cos();
        let (du, dv) = (u - self.at_px.0, v - self.at_px.1);
        let along = (du * cos + dv * sin) / self.axes_px.0;
        let across = (dv * cos - du * sin) / self.axes_px.1;
        along.hypot(across)
    }
}

/// A picture to be drawn.
#[derive(Debug, Clone)]
pub(super) struct Scene {
    pub(super) size: (u32, u32),
    pub(super) layout: ChromaLayout,
    pub(super) turn: QuarterTurn,
    /// Standard deviation of the blur, px.
    pub(super) blur_px: f64,
    /// Y, Cb and Cr of the floor.
    pub(super) floor: [f64; 3],
    pub(super) patches: Vec<Patch>,
}

/// Steps of the integration in a pixel.
const STEPS: i32 = 6;

impl Scene {
    pub(super) fn of(patches: Vec<Patch>) -> Self {
        Self {
            size: (64, 56),
            layout: LEFT_420,
            turn: QuarterTurn::None,
            blur_px: 0.8,
            floor: [120.0, 128.0, 128.0],
            patches,
        }
    }

    /// One plane, not rounded: row by row.
    pub(super) fn plane(&self, plane: usize) -> (usize, Vec<f64>) {
        let (step, offset) = if plane == 0 {
            ((1.0, 1.0), (0.0, 0.0))
        } else {
            (
                (f64::from(self.layout.step_u), f64::from(self.layout.step_v)),
                (self.layout.offset_u_px, self.layout.offset_v_px),
            )
        };
        let (width, height) = (
            (f64::from(self.size.0) / step.0).ceil() as usize,
            (f64::from(self.size.1) / step.1).ceil() as usize,
        );
        let (across, down) = (self.weights(step.0), self.weights(step.1));
        let mut out = Vec::with_capacity(width * height);
        for row in 0..height {
            for column in 0..width {
                let u = column as f64 * step.0 + offset.0;
                let v = row as f64 * step.1 + offset.1;
                let shares = (self.patches.iter())
                    .map(|patch| patch.contrast[plane] * share(patch, (u, v), &across, &down));
                out.push(self.floor[plane] + shares.sum::<f64>());
            }
        }
        (width, out)
    }

    /// Places about a sample and their weights: a Gaussian seen through a box is a difference of two normal
    /// distributions.
    fn weights(&self, box_px: f64) -> Vec<(f64, f64)> {
        let normal = Normal::new(0.0, self.blur_px).unwrap();
        let reach = ((4.0 * self.blur_px + box_px) * f64::from(STEPS)).ceil() as i32;
        let mut out: Vec<(f64, f64)> = (-reach..=reach)
            .map(|step| {
                let x = f64::from(step) / f64::from(STEPS);
                (
                    x,
                    normal.cdf(x + box_px / 2.0) - normal.cdf(x - box_px / 2.0),
                )
            })
            .collect();
        let sum: f64 = out.iter().map(|(_, weight)| weight).sum();
        for (_, weight) in &mut out {
            *weight /= sum;
        }
        out
    }

    /// The picture, with `disturbed` called on each plane's samples before they are rounded.
    pub(super) fn drawn_with(&self, mut disturbed: impl FnMut(usize, &mut Vec<f64>)) -> Picture {
        let [y, cb, cr] = [0, 1, 2].map(|plane| {
            let (_, mut samples) = self.plane(plane);
            disturbed(plane, &mut samples);
            let rounded = samples
                .iter()
                .map(|code| code.round().clamp(0.0, 255.0) as u8);
            rounded.collect::<Vec<u8>>()
        });
        let (width, height) = self.size;
        Picture::from_planes(width, height, y, cb, cr, self.layout, CODING, self.turn).unwrap()
    }

    pub(super) fn drawn(&self) -> Picture {
        self.drawn_with(|_, _| ())
    }
}

/// How much of a sample a patch covers.
fn share(patch: &Patch, (u, v): (f64, f64), across: &[(f64, f64)], down: &[(f64, f64)]) -> f64 {
    let reach = across
        .iter()
        .chain(down)
        .map(|(x, _)| x.abs())
        .fold(0.0, f64::max)
        * 1.5;
    let short = patch.axes_px.0.min(patch.axes_px.1);
    let off = (patch.rim(u, v) - 1.0) * short;
    if off > reach {
        return 0.0;
    }
    if off < -reach * patch.axes_px.0.max(patch.axes_px.1) / short {
        return 1.0;
    }
    let mut sum = 0.0;
    for (dv, of_row) in down {
        let inside = across
            .iter()
            .filter(|(du, _)| patch.rim(u + du, v + dv) < 1.0);
        sum += of_row * inside.map(|(_, weight)| weight).sum::<f64>();
    }
    sum
}
