//! An outline of known shape laid over what is left of a mark's rim.
//!
//! Places on the rim lie on the outline; places where something cuts the mark lie inside it; none lies
//! outside. A search over the centre finds where most places are on it, and a few steps of weighted
//! least squares (Tukey's biweight) settle centre, size and shape. Size and shape are held to what is known of them.

use crate::sighting::Rim;
use nalgebra::{Matrix2, SMatrix, SVector, Vector2};

/// A place is on the outline within this, px ...
const ON_PX: f64 = 0.7;
/// ... or this share of the half-axis.
const ON_SHARE: f64 = 0.08;
/// How well a mark's size is known from other frames, as a share.
const SIZE_SD: f64 = 0.03;
/// How well its shape is known, as a share: it leans otherwise where the car is seen from another side.
const SHAPE_SD: f64 = 0.03;
/// Half width of the search in half-axes, and its step, px.
const SEARCH: f64 = 1.0;
const STEP_PX: f64 = 0.4;
/// ... or this share of the half-axis, if that is more.
const STEP_SHARE: f64 = 0.05;
/// Rounds of the fit.
const ROUNDS: usize = 8;
/// Places on a rim are no surer than this, px: samples of colour are two pixels wide.
const LEAST_PX: f64 = 0.15;
/// Neighbouring places share samples: this many are worth one.
const ALIKE: f64 = 3.0;
/// A part of a rim places a mark when this many places lie on it ...
const MIN_ON: f64 = 10.0;
/// ... and its centre is surer than this share of the half-axis.
const MAX_SD_SHARE: f64 = 0.08;

/// An ellipse about any centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct Outline {
    inverse: Matrix2<f64>,
    half_axis_px: f64,
}

/// Where an outline lies.
#[derive(Debug, Clone, Copy)]
pub(super) struct Laid {
    pub(super) at: (f64, f64),
    pub(super) var_px2: (f64, f64),
}

impl Outline {
    /// From squares and product (uu, vv, uv) of the half-axes, px².
    pub(super) fn new([uu, vv, uv]: [f64; 3]) -> Option<Self> {
        let matrix = Matrix2::new(uu, uv, uv, vv);
        let inverse = matrix.try_inverse()?;
        let area = matrix.determinant();
        (area > 0.0 && uu > 0.0).then(|| Self {
            inverse,
            half_axis_px: area.powf(0.25),
        })
    }

    /// Takes places relative to the centre to a circle of radius 1.
    fn to_circle(self) -> Option<Matrix2<f64>> {
        self.inverse.cholesky().map(|root| root.l().transpose())
    }

    /// Geometric mean of the half-axes, px.
    pub(super) fn half_axis_px(&self) -> f64 {
        self.half_axis_px
    }

    /// How far a rim is from it about a centre, root mean square as a share of the half-axis.
    pub(super) fn misfit(&self, rim: &Rim, centre: (f64, f64)) -> f64 {
        let offs: Vec<f64> = rim.iter().map(|p| self.off(*p, centre)).collect();
        let n = offs.len().max(1) as f64;
        let mean = offs.iter().sum::<f64>() / n;
        (offs.iter().map(|off| (off - mean).powi(2)).sum::<f64>() / n).sqrt()
    }

    /// How far outside a place is, as a share of the half-axis there; negative inside.
    pub(super) fn off(&self, place: [f32; 2], centre: (f64, f64)) -> f64 {
        let (x, y) = (
            f64::from(place[0]) - centre.0,
            f64::from(place[1]) - centre.1,
        );
        let m = &self.inverse;
        (m[(0, 0)] * x * x + 2.0 * m[(0, 1)] * x * y + m[(1, 1)] * y * y).sqrt() - 1.0
    }
}

/// Lays an outline over pieces of a mark near a place; `None` where the rim that is left does not say
/// where the mark is. The first rim must lie within it, the others may be of something else.
pub(super) fn lay(outline: &Outline, near: (f64, f64), rims: &[&Rim]) -> Option<Laid> {
    let half = outline.half_axis_px;
    let on = ON_PX.max(ON_SHARE * half) / half;
    let (first, score) = search(outline, near, rims, on);
    if score < MIN_ON {
        return None;
    }
    let sticks_out = |rim: &Rim| {
        let out = rim.iter().filter(|p| outline.off(**p, first) > 1.5 * on);
        out.count() * 8 > rim.len()
    };
    if rims.first().is_none_or(|main| sticks_out(main)) {
        return None;
    }
    // Pieces that stick out are of something else.
    let parts: Vec<&[f32; 2]> = rims
        .iter()
        .filter(|rim| !sticks_out(rim))
        .flat_map(|rim| rim.iter())
        .collect();
    settle(outline, first, &parts, on)
}

fn search(outline: &Outline, near: (f64, f64), rims: &[&Rim], on: f64) -> ((f64, f64), f64) {
    let half = outline.half_axis_px;
    let step = STEP_PX.max(STEP_SHARE * half);
    let reach = (SEARCH * half / step).ceil() as i32;
    let mut best = (near, f64::NEG_INFINITY);
    for i in -reach..=reach {
        for j in -reach..=reach {
            let centre = (near.0 + f64::from(i) * step, near.1 + f64::from(j) * step);
            let mut each = rims.iter().map(|rim| worth(outline, centre, rim, on));
            let first = each.next().unwrap_or(0.0);
            let score = first + each.map(|worth| worth.max(0.0)).sum::<f64>();
            if score > best.1 {
                best = (centre, score);
            }
        }
    }
    best
}

/// What a piece's rim says for a centre.
fn worth(outline: &Outline, centre: (f64, f64), rim: &Rim, on: f64) -> f64 {
    let of = |place: &[f32; 2]| {
        let off = outline.off(*place, centre) / on;
        if off > 1.0 {
            -(off - 1.0).min(2.0)
        } else {
            (1.0 - off * off).max(0.0)
        }
    };
    rim.iter().map(of).sum()
}

fn settle(outline: &Outline, first: (f64, f64), parts: &[&[f32; 2]], on: f64) -> Option<Laid> {
    let half = outline.half_axis_px;
    let to_circle = outline.to_circle()?;
    // The centre's two shifts (px), and by how much the outline is stretched: as a share, along both axes alike, along
    // the first against the second, and aslant.
    let mut at = SVector::<f64, 5>::new(first.0, first.1, 0.0, 0.0, 0.0);
    let prior = SVector::<f64, 5>::from([0.0, 0.0, SIZE_SD, SHAPE_SD, SHAPE_SD])
        .map(|sd| if sd > 0.0 { 1.0 / (sd * sd) } else { 0.0 });
    let mut covariance = SMatrix::<f64, 5, 5>::zeros();
    for round in 0..ROUNDS {
        let width = if round < ROUNDS / 2 { 1.6 * on } else { on };
        let mut normal = SMatrix::<f64, 5, 5>::zeros();
        let mut pull = SVector::<f64, 5>::zeros();
        let (mut squares, mut weights) = (0.0, 0.0);
        for place in parts {
            let seen = Vector2::new(f64::from(place[0]) - at[0], f64::from(place[1]) - at[1]);
            let on_circle = to_circle * seen;
            let radius = on_circle.norm().max(1e-6);
            let way = on_circle / radius;
            let stretch = [1.0, way.x * way.x - way.y * way.y, 2.0 * way.x * way.y];
            let off = radius - 1.0 - at[2] * stretch[0] - at[3] * stretch[1] - at[4] * stretch[2];
            let share = off / width;
            if share.abs() >= 1.0 {
                continue;
            }
            let weight = (1.0 - share * share).powi(2);
            let outwards = to_circle.transpose() * way;
            let slope = SVector::<f64, 5>::from([
                outwards.x, outwards.y, stretch[0], stretch[1], stretch[2],
            ]);
            normal += slope * slope.transpose() * weight;
            pull += slope * (off * weight);
            squares += weight * off * off;
            weights += weight;
        }
        if weights < MIN_ON / 2.0 {
            return None;
        }
        let spread = (squares / weights).sqrt().max(LEAST_PX / half);
        let var = ALIKE * spread * spread;
        let held = SVector::from([0.0, 0.0, at[2], at[3], at[4]]).component_mul(&prior);
        covariance = (normal / var + SMatrix::from_diagonal(&prior)).try_inverse()?;
        let step = covariance * (pull / var - held);
        let bound = SVector::from([0.3 * half, 0.3 * half, 0.1, 0.1, 0.1]);
        at += step.zip_map(&bound, |step, most| step.clamp(-most, most));
    }
    let most = (MAX_SD_SHARE * half).powi(2);
    let sure = covariance[(0, 0)] < most && covariance[(1, 1)] < most;
    sure.then_some(Laid {
        at: (at[0], at[1]),
        var_px2: (covariance[(0, 0)], covariance[(1, 1)]),
    })
}
