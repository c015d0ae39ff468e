//! Least-squares fit of a soft-edged elliptical disc to all three planes of a picture.
//!
//! Model of each plane: background + contrast × S, where S falls from 1 inside the ellipse to 0
//! outside over a blurred edge. Centre, shape and edge width are shared by the planes; background and
//! contrast are each plane's own and are eliminated (variable projection), so luma helps exactly as
//! much as it has contrast, and a plane whose surroundings are restless weighs less by its residual.
//! A disc fit meets the Cramér-Rao bound where a mask's centroid stops at 0.05 to 0.2 px.
//!
//! Coordinates here are those of the stored picture (not turned upright), luma pixels, pixel centres
//! on whole numbers.

use crate::clip::{Picture, Plane};
use crate::noise::cauchy_weight;
use nalgebra::{Matrix2, Matrix6, Matrix6x2, SymmetricEigen, Vector2, Vector6};

/// A fitted disc, stored-picture coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiscFit {
    /// Centre.
    pub u_px: f64,
    /// Centre.
    pub v_px: f64,
    /// Variance of `u_px` for independent noise at the level of the fit's own residual, px².
    pub var_u_px2: f64,
    /// Likewise of `v_px`.
    pub var_v_px2: f64,
    /// Long half-axis.
    pub long_px: f64,
    /// Short half-axis.
    pub short_px: f64,
    /// Squares and product (uu, vv, uv) of the half-axes: see [`Blob::outline_px2`](super::Blob).
    pub outline_px2: [f64; 3],
    /// Standard deviation of the blurred edge.
    pub edge_px: f64,
    /// Contrast of the Y, Cb and Cr planes, codes.
    pub contrast: [f64; 3],
    /// Background of the Y, Cb and Cr planes, codes.
    pub background: [f64; 3],
}

/// Width of the ring of background used around the disc, px.
const RING_PX: f64 = 2.5;
/// ... but no farther out than this many half-axes (a small mark's card is small too) ...
const RING_RATIO: f64 = 1.6;
/// ... unless that left no ring at all, px.
const MIN_RING_PX: f64 = 1.5;
/// Typical edge of a phone picture after encoding, and how firmly the fit holds to it.
const EDGE_PX: f64 = 0.9;
const EDGE_WEIGHT: f64 = 30.0;
/// Rounds of the fit at most; `DONE_PX` ends nearly all of them before.
const MAX_ITERATIONS: usize = 9;
/// The first rounds only bring the guess near, to about this, for which every second sample each way is
/// enough ...
const NEAR_PX: f64 = 0.15;
const COARSE_ROUNDS: usize = 3;
/// ... of a plane with at least this many.
const COARSE_SAMPLES: f64 = 250.0;
/// From this round on a guess that is no disc is given up: what has no edge only wanders and grows.
const SETTLED_ROUNDS: usize = 3;
/// Beyond this many widths of the logistic edge a sample is wholly in: membership is within 0.0004
/// of 1, and its slopes are nothing.
const FLAT_WIDTHS: f64 = 8.0;
/// Steps shrink to about a third from round to round: after one of this size a two-hundredth of a pixel
/// is left to go, a fifth of what noise leaves open.
const DONE_PX: f64 = 0.01;
/// Residuals beyond this many spreads lose weight (holes in a wheel, a card's border).
const ROBUST_SPREADS: f64 = 2.5;
/// Coding and rounding leave at least this much residual, codes.
const MIN_RESIDUAL: f64 = 0.7;
/// More samples than this a plane cost time and gain nothing: large discs are sampled sparsely.
const MAX_SAMPLES: f64 = 700.0;
/// A disc whose colour differs from its surroundings by less than this is not a disc, codes.
const MIN_CHROMA_CONTRAST: f64 = 4.0;
/// Logistic slope that best matches a Gaussian edge of standard deviation 1.
const LOGISTIC_PER_SD: f64 = 1.702;

/// Current guess: centre, symmetric matrix taking the ellipse to the unit circle, edge width.
#[derive(Debug, Clone, Copy)]
struct Shape {
    x: f64,
    y: f64,
    p: f64,
    q: f64,
    r: f64,
    edge: f64,
}

/// Fits a disc that starts at `centre` with the second moments `spread` (px², of a uniform patch).
///
/// Returns `None` where the window leaves the picture, the fit runs away, or nothing of a distinct
/// colour is there: the caller then keeps its rough place with a rough variance.
pub fn fit_disc(picture: &Picture, centre: (f64, f64), spread: Matrix2<f64>) -> Option<DiscFit> {
    let mut shape = start(centre, spread)?;
    let first = shape;
    let planes = [picture.y(), picture.cb(), picture.cr()];
    let grids = [true, false].map(|coarse| grids(picture, &shape, coarse));
    let mut levels = [Level::START; 3];
    let mut outcome = None;
    let mut coarse = true;
    for round in 0..MAX_ITERATIONS {
        // The first observation at each plane only finds its level and contrast.
        let observations = if round == 0 { 2 } else { 1 };
        let grids = if coarse { &grids[0] } else { &grids[1] };
        let mut system = normal_equations(&planes, grids, &shape, &mut levels)?;
        for _ in 1..observations {
            system = normal_equations(&planes, grids, &shape, &mut levels)?;
        }
        let damped = regularised(&system, &shape);
        let step = damped
            .cholesky()?
            .solve(&(system.gradient - edge_pull(&shape)));
        shape = moved(&shape, &step);
        outcome = Some(system);
        let stepped = step[0].abs().max(step[1].abs());
        if !coarse && stepped < DONE_PX {
            break;
        }
        if round + 1 >= SETTLED_ROUNDS && !is_a_disc(&first, &shape, &levels) {
            return None;
        }
        coarse &= round + 1 < COARSE_ROUNDS && stepped > NEAR_PX;
    }
    finish(&first, &shape, &outcome?, &levels)
}

/// Where a plane's samples sit: step between them and the place of sample (0, 0), luma pixels.
#[derive(Debug, Clone, Copy)]
struct Grid {
    step: (f64, f64),
    offset: (f64, f64),
    stride: usize,
    /// Variance that the sample's own box adds to a luma pixel's, px².
    box_px2: f64,
}

fn grids(picture: &Picture, shape: &Shape, coarse: bool) -> [Grid; 3] {
    let chroma = picture.chroma();
    let step = (f64::from(chroma.step_u), f64::from(chroma.step_v));
    let half = reach(shape) + RING_PX;
    let stride = |cell: f64| {
        let samples = 4.0 * half * half / cell;
        let full = (samples / MAX_SAMPLES).sqrt().ceil().max(1.0) as usize;
        let many = samples / (full * full) as f64 > COARSE_SAMPLES;
        if coarse && many { 2 * full } else { full }
    };
    let colour = Grid {
        step,
        offset: (chroma.offset_u_px, chroma.offset_v_px),
        stride: stride(step.0 * step.1),
        box_px2: (f64::midpoint(step.0 * step.0, step.1 * step.1) - 1.0) / 12.0,
    };
    let luma = Grid {
        step: (1.0, 1.0),
        offset: (0.0, 0.0),
        stride: stride(1.0),
        box_px2: 0.0,
    };
    [luma, colour, colour]
}

fn start(centre: (f64, f64), spread: Matrix2<f64>) -> Option<Shape> {
    // A uniform ellipse has second moments of a quarter of its squared half-axes.
    let eigen = SymmetricEigen::new(spread * 4.0);
    let axes = eigen.eigenvalues.map(|value| 1.0 / value.max(1.5).sqrt());
    let matrix =
        eigen.eigenvectors * Matrix2::from_diagonal(&axes) * eigen.eigenvectors.transpose();
    let shape = Shape {
        x: centre.0,
        y: centre.1,
        p: matrix[(0, 0)],
        q: matrix[(0, 1)],
        r: matrix[(1, 1)],
        edge: EDGE_PX,
    };
    [shape.x, shape.y, shape.p, shape.q, shape.r]
        .iter()
        .all(|v| v.is_finite())
        .then_some(shape)
}

fn half_axes(shape: &Shape) -> (f64, f64) {
    let eigen = SymmetricEigen::new(Matrix2::new(shape.p, shape.q, shape.q, shape.r));
    let (a, b) = (
        1.0 / eigen.eigenvalues[0].abs(),
        1.0 / eigen.eigenvalues[1].abs(),
    );
    if a > b { (a, b) } else { (b, a) }
}

/// Squares and product of the half-axes: the inverse of the square of the matrix.
fn outline(shape: &Shape) -> [f64; 3] {
    let (a, b, c) = (
        shape.p * shape.p + shape.q * shape.q,
        shape.q * (shape.p + shape.r),
        shape.q * shape.q + shape.r * shape.r,
    );
    let determinant = (a * c - b * b).max(1e-12);
    [c / determinant, a / determinant, -b / determinant]
}

fn reach(shape: &Shape) -> f64 {
    half_axes(shape).0
}

struct System {
    normal: Matrix6<f64>,
    gradient: Vector6<f64>,
}

/// A plane's own background and contrast (codes), and the spread of what they leave.
#[derive(Debug, Clone, Copy)]
struct Level {
    background: f64,
    contrast: f64,
    spread: f64,
    known: bool,
}

impl Level {
    const START: Self = Self {
        background: 0.0,
        contrast: 0.0,
        spread: 3.0,
        known: false,
    };
}

fn normal_equations(
    planes: &[Plane<'_>; 3],
    grids: &[Grid; 3],
    shape: &Shape,
    levels: &mut [Level; 3],
) -> Option<System> {
    let mut system = System {
        normal: Matrix6::zeros(),
        gradient: Vector6::zeros(),
    };
    for index in 0..3 {
        let sums = accumulate(&planes[index], &grids[index], shape, &levels[index])?;
        levels[index] = add_plane(&sums, &levels[index], &mut system)?;
    }
    Some(system)
}

/// Sums over a plane's samples of products of (shape slopes, 1, softness, residual).
struct Sums {
    shape: [[f64; 6]; 6],
    cross: [[f64; 2]; 6],
    own: [f64; 3],
    by_shape: [f64; 6],
    by_own: [f64; 2],
    squares: f64,
    count: u32,
}

/// Adds one plane's normal equations, its level and contrast eliminated; returns these updated.
fn add_plane(sums: &Sums, level: &Level, system: &mut System) -> Option<Level> {
    let own = Matrix2::new(sums.own[0], sums.own[1], sums.own[1], sums.own[2]);
    let inverse = own.try_inverse()?;
    let pull = Vector2::new(sums.by_own[0], sums.by_own[1]);
    let change = inverse * pull;
    let spread = if level.known {
        ((sums.squares - pull.dot(&change)).max(0.0) / sums.own[0])
            .sqrt()
            .max(MIN_RESIDUAL)
    } else {
        Level::START.spread
    };
    let cross = Matrix6x2::from_fn(|i, j| sums.cross[i][j]);
    let shape = Matrix6::from_fn(|i, j| {
        if i <= j {
            sums.shape[i][j]
        } else {
            sums.shape[j][i]
        }
    });
    let weight = 1.0 / (spread * spread);
    system.normal += (shape - cross * inverse * cross.transpose()) * weight;
    system.gradient += (Vector6::from(sums.by_shape) - cross * change) * weight;
    Some(Level {
        background: level.background + change.x,
        contrast: level.contrast + change.y,
        spread,
        known: true,
    })
}

/// One observation at a plane's samples within the disc and its ring; `None` where the ring leaves the
/// picture.
fn accumulate(plane: &Plane<'_>, grid: &Grid, shape: &Shape, level: &Level) -> Option<Sums> {
    let half = reach(shape) + RING_PX;
    let index = |place: f64, step: f64, offset: f64| (place - offset) / step;
    let first_u = index(shape.x - half, grid.step.0, grid.offset.0).ceil();
    let last_u = index(shape.x + half, grid.step.0, grid.offset.0).floor();
    let first_v = index(shape.y - half, grid.step.1, grid.offset.1).ceil();
    let last_v = index(shape.y + half, grid.step.1, grid.offset.1).floor();
    let inside = first_u >= 0.0
        && first_v >= 0.0
        && last_u < plane.ncols() as f64
        && last_v < plane.nrows() as f64
        && first_u <= last_u;
    if !inside {
        return None;
    }
    let edge = (shape.edge * shape.edge + grid.box_px2).sqrt();
    let mut sums = Sums {
        shape: [[0.0; 6]; 6],
        cross: [[0.0; 2]; 6],
        own: [0.0; 3],
        by_shape: [0.0; 6],
        by_own: [0.0; 2],
        squares: 0.0,
        count: 0,
    };
    for row in (first_v as usize..=last_v as usize).step_by(grid.stride) {
        let dy = row as f64 * grid.step.1 + grid.offset.1 - shape.y;
        let values = plane.row(row);
        for column in (first_u as usize..=last_u as usize).step_by(grid.stride) {
            let dx = column as f64 * grid.step.0 + grid.offset.0 - shape.x;
            if let Some((soft, slope)) = soft_disc(shape, dx, dy, edge) {
                sums.add(f64::from(values[column]), soft, slope.as_ref(), level);
            }
        }
    }
    (sums.count >= 8).then_some(sums)
}

impl Sums {
    #[inline]
    fn add(&mut self, value: f64, soft: f64, slope: Option<&[f64; 6]>, level: &Level) {
        let residual = value - level.background - level.contrast * soft;
        let weight = if level.known {
            cauchy_weight(residual, level.spread * ROBUST_SPREADS)
        } else {
            1.0
        };
        if let Some(slope) = slope {
            for i in 0..6 {
                let scaled = weight * level.contrast * slope[i];
                for (cell, other) in self.shape[i][i..].iter_mut().zip(&slope[i..]) {
                    *cell += scaled * level.contrast * other;
                }
                self.cross[i][0] += scaled;
                self.cross[i][1] += scaled * soft;
                self.by_shape[i] += scaled * residual;
            }
        }
        self.own[0] += weight;
        self.own[1] += weight * soft;
        self.own[2] += weight * soft * soft;
        self.by_own[0] += weight * residual;
        self.by_own[1] += weight * residual * soft;
        self.squares += weight * residual * residual;
        self.count += 1;
    }
}

/// Membership of a point in the soft disc and its slope by (x, y, p, q, r, edge), if it has one; `None`
/// outside the ring.
#[inline]
fn soft_disc(shape: &Shape, dx: f64, dy: f64, edge: f64) -> Option<(f64, Option<[f64; 6]>)> {
    let (e0, e1) = (shape.p * dx + shape.q * dy, shape.q * dx + shape.r * dy);
    let rho = (e0 * e0 + e1 * e1).sqrt().max(1e-6);
    let (gx, gy) = (
        (shape.p * e0 + shape.q * e1) / rho,
        (shape.q * e0 + shape.r * e1) / rho,
    );
    let steepness = (gx * gx + gy * gy).sqrt().max(1e-9);
    // Signed distance to the rim to first order; exact on a circle.
    let distance = (rho - 1.0) / steepness;
    if distance > RING_PX || (rho > RING_RATIO && distance > MIN_RING_PX) {
        return None;
    }
    let k = LOGISTIC_PER_SD / edge;
    if k * distance < -FLAT_WIDTHS {
        return Some((1.0, None));
    }
    let soft = 1.0 / (1.0 + (k * distance).min(40.0).exp());
    let by_distance = -k * soft * (1.0 - soft);
    let by_rho = by_distance / steepness;
    let by_edge = -by_distance * distance / edge * (shape.edge / edge);
    let slope = [
        -by_rho * gx,
        -by_rho * gy,
        by_rho * e0 * dx / rho,
        by_rho * (e0 * dy + e1 * dx) / rho,
        by_rho * e1 * dy / rho,
        by_edge,
    ];
    Some((soft, Some(slope)))
}

/// Weak ties that keep small or faint discs from collapsing: shape to itself, edge to a phone's.
fn regularised(system: &System, shape: &Shape) -> Matrix6<f64> {
    let radius = reach(shape);
    let tie = 0.3 * radius.powi(4);
    let mut normal = system.normal;
    for index in 0..6 {
        normal[(index, index)] *= 1.001;
        normal[(index, index)] += match index {
            0 | 1 => 1e-9,
            5 => EDGE_WEIGHT,
            _ => tie,
        };
    }
    normal
}

fn edge_pull(shape: &Shape) -> Vector6<f64> {
    Vector6::new(
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        EDGE_WEIGHT * (shape.edge - EDGE_PX),
    )
}

fn moved(shape: &Shape, step: &Vector6<f64>) -> Shape {
    let scale = f64::midpoint(shape.p, shape.r);
    let limit = |value: f64, bound: f64| value.clamp(-bound, bound);
    Shape {
        x: shape.x + limit(step[0], 1.5),
        y: shape.y + limit(step[1], 1.5),
        p: (shape.p + limit(step[2], 0.15 * scale)).max(1e-4),
        q: shape.q + limit(step[3], 0.15 * scale),
        r: (shape.r + limit(step[4], 0.15 * scale)).max(1e-4),
        edge: (shape.edge + limit(step[5], 0.3)).clamp(0.4, 3.0),
    }
}

/// Whether a guess is still about where and as large as it started, and of a distinct colour.
fn is_a_disc(first: &Shape, shape: &Shape, levels: &[Level; 3]) -> bool {
    let (long_px, short_px) = half_axes(shape);
    let started = reach(first);
    let strayed = (shape.x - first.x).hypot(shape.y - first.y) > 0.7 * started + 1.5;
    let resized = long_px > 2.0 * started + 2.0 || short_px < 0.8 || long_px < 0.4 * started;
    let colour = levels[1].contrast.hypot(levels[2].contrast);
    !strayed && !resized && colour >= MIN_CHROMA_CONTRAST
}

fn finish(first: &Shape, shape: &Shape, system: &System, levels: &[Level; 3]) -> Option<DiscFit> {
    if !is_a_disc(first, shape, levels) {
        return None;
    }
    let covariance = regularised(system, shape).try_inverse()?;
    let (long_px, short_px) = half_axes(shape);
    Some(DiscFit {
        u_px: shape.x,
        v_px: shape.y,
        var_u_px2: covariance[(0, 0)],
        var_v_px2: covariance[(1, 1)],
        long_px,
        short_px,
        outline_px2: outline(shape),
        edge_px: shape.edge,
        contrast: levels.map(|level| level.contrast),
        background: levels.map(|level| level.background),
    })
}

#[cfg(test)]
mod tests;
