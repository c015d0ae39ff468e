//! One lens and one set of floor marks for several frames of a moving camera.
//!
//! # Source
//! Bundle adjustment: B. Triggs and others, Bundle Adjustment: A Modern Synthesis, LNCS 1883 (2000). What is known beforehand (lens, places measured with a tape) enters as
//! observations more.

use super::path::moved;
use super::pose::LensPrior;
use super::projection::{Pinhole, Projection};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned, Point3, Vector2, Vector6};

/// A floor mark seen in a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkObservation {
    /// Which mark, by the sheet's order.
    pub mark: usize,
    /// Where its centre is seen, px.
    pub pixel: Vector2<f64>,
    /// Standard uncertainty, px.
    pub sd_px: f64,
}

/// Lens and places that fit all frames best.
#[derive(Debug, Clone, PartialEq)]
pub struct Bundle {
    /// Focal length, px.
    pub focal_px: f64,
    /// Radial distortion.
    pub k1: f64,
    /// Places of the marks on the floor, m.
    pub marks_m: Vec<Vector2<f64>>,
}

struct Problem<'a> {
    frames: &'a [(Pinhole, Vec<MarkObservation>)],
    marks_m: &'a [Vector2<f64>],
    mark_sd_m: f64,
    lens: LensPrior,
    typical_px: f64,
    /// By how much the observations are less sure than they claim.
    looseness: f64,
    parameters: DVector<f64>,
}

/// Fits lens and marks to frames whose poses are roughly known. `mark_sd_m` is how well a mark's place is known
/// beforehand; `size_px` is the picture's size.
pub fn fit_bundle(
    frames: &[(Pinhole, Vec<MarkObservation>)],
    marks_m: &[Vector2<f64>],
    mark_sd_m: f64,
    lens: &LensPrior,
    size_px: (f64, f64),
) -> Option<Bundle> {
    let first = frames.first()?.0;
    let typical_px = lens.focal_share * size_px.0.max(size_px.1);
    let mut parameters = DVector::zeros(2 + 2 * marks_m.len() + 6 * frames.len());
    parameters[0] = first.focal_px.ln();
    parameters[1] = first.k1;
    let problem = Problem {
        frames,
        marks_m,
        mark_sd_m,
        lens: *lens,
        typical_px,
        looseness: 1.0,
        parameters,
    };
    let mut solved = solve(problem)?;
    // Observations that fit worse than they claim must not outweigh what is known of lenses and tapes (R. T. Birge,
    // Phys. Rev. 40 (1932) 207).
    if let Some(misfit) = solved.misfit().filter(|misfit| *misfit > 1.0) {
        solved.looseness = misfit;
        solved = solve(solved)?;
    }
    Some(Bundle {
        focal_px: solved.parameters[0].exp(),
        k1: solved.parameters[1],
        marks_m: (0..marks_m.len())
            .map(|i| solved.mark(&solved.parameters, i))
            .collect(),
    })
}

fn solve(problem: Problem<'_>) -> Option<Problem<'_>> {
    let (solved, report) = LevenbergMarquardt::new()
        .with_patience(20)
        .minimize(problem);
    report.termination.was_successful().then_some(solved)
}

impl Problem<'_> {
    fn observations(&self) -> usize {
        self.frames
            .iter()
            .map(|(_, observations)| observations.len())
            .sum()
    }

    /// Root mean square residual of the observations in units of what they claim, degrees of freedom counted.
    fn misfit(&self) -> Option<f64> {
        let observations = 2 * self.observations();
        let squares = self
            .at(&self.parameters)?
            .rows(0, observations)
            .norm_squared();
        let free = observations as f64 - 6.0 * self.frames.len() as f64 - 2.0;
        (free > 0.0).then(|| self.looseness * (squares / free).sqrt())
    }

    fn mark(&self, p: &DVector<f64>, index: usize) -> Vector2<f64> {
        let off = Vector2::new(p[2 + 2 * index], p[3 + 2 * index]);
        self.marks_m[index] + off * self.mark_sd_m
    }

    fn at(&self, p: &DVector<f64>) -> Option<DVector<f64>> {
        let mut out = Vec::with_capacity(2 * self.observations() + 2 + 2 * self.marks_m.len());
        let poses = 2 + 2 * self.marks_m.len();
        for (index, (start, observations)) in self.frames.iter().enumerate() {
            let from = poses + 6 * index;
            let pose = Vector6::from_iterator(p.rows(from, 6).iter().copied());
            let camera = Projection::Pinhole(Pinhole {
                focal_px: p[0].exp(),
                k1: p[1],
                ..moved(start, &pose)
            });
            for observation in observations {
                let at = self.mark(p, observation.mark);
                let off = camera.pixel(&Point3::new(at.x, at.y, 0.0))? - observation.pixel;
                let sd_px = observation.sd_px * self.looseness;
                out.extend([off.x / sd_px, off.y / sd_px]);
            }
        }
        out.push((p[0] - self.typical_px.ln()) / self.lens.focal_log_sd);
        out.push((p[1] - self.lens.k1) / self.lens.k1_sd);
        out.extend(p.rows(2, 2 * self.marks_m.len()).iter());
        Some(DVector::from_vec(out))
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.parameters.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.parameters.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        self.at(&self.parameters)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let here = self.at(&self.parameters)?;
        let mut out = DMatrix::zeros(here.len(), self.parameters.len());
        for column in 0..self.parameters.len() {
            let mut up = self.parameters.clone();
            up[column] += super::STEP;
            out.set_column(column, &((self.at(&up)? - &here) / super::STEP));
        }
        Some(out)
    }
}
