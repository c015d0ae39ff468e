//! One lens and one set of floor marks for several frames of a moving camera.
//!
//! # Source
//! Bundle adjustment: B. Triggs and others, Bundle Adjustment: A Modern Synthesis, LNCS 1883 (2000). What is known
//! beforehand (lens, places measured with a tape) enters as observations more. Each frame's pose stands in its own
//! observations only, so it is taken out of the normal equations before they are solved (section 6.1 there): what is
//! left is as large as lens and marks are, however many frames share in the fit.

use super::path::moved;
use super::pose::{FOUND_SHARE, LEAST_DAMPING, LensPrior, MOST_DAMPING};
use super::projection::Pinhole;
use nalgebra::{
    Cholesky, DMatrix, DVector, Dyn, Matrix2x6, Matrix6, OMatrix, Point3, U6, Vector2, Vector6,
};

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
}

/// What is sought.
#[derive(Clone)]
struct State {
    /// Logarithm of the focal length, distortion, and how far each mark is off its place in standard uncertainties.
    shared: DVector<f64>,
    /// Each frame's camera, but for the lens.
    poses: Vec<Pinhole>,
}

impl State {
    /// The camera of a frame.
    fn camera(&self, frame: usize) -> Pinhole {
        Pinhole {
            focal_px: self.shared[0].exp(),
            k1: self.shared[1],
            ..self.poses[frame]
        }
    }
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
    let mut problem = Problem {
        frames,
        marks_m,
        mark_sd_m,
        lens: *lens,
        typical_px: lens.focal_share * size_px.0.max(size_px.1),
        looseness: 1.0,
    };
    let mut shared = DVector::zeros(2 + 2 * marks_m.len());
    shared[0] = first.focal_px.ln();
    shared[1] = first.k1;
    let poses = frames.iter().map(|(pose, _)| *pose).collect();
    let mut solved = problem.solved(State { shared, poses })?;
    // Observations that fit worse than they claim must not outweigh what is known of lenses and tapes (R. T. Birge,
    // Phys. Rev. 40 (1932) 207).
    if let Some(misfit) = problem.misfit(&solved).filter(|misfit| *misfit > 1.0) {
        problem.looseness = misfit;
        solved = problem.solved(solved)?;
    }
    Some(Bundle {
        focal_px: solved.shared[0].exp(),
        k1: solved.shared[1],
        marks_m: (0..marks_m.len())
            .map(|index| problem.mark(&solved.shared, index))
            .collect(),
    })
}

/// Steps after which lens and marks are given up.
const STEPS: usize = 100;

/// A frame's share of the normal equations.
struct FrameEquations {
    /// Of its pose alone ...
    pose: Matrix6<f64>,
    pose_right: Vector6<f64>,
    /// ... and of the pose with what all frames share.
    mixed: OMatrix<f64, Dyn, U6>,
}

/// The normal equations about a state.
struct Equations {
    shared: DMatrix<f64>,
    right: DVector<f64>,
    frames: Vec<FrameEquations>,
    /// Residuals squared, in units of their uncertainties.
    squares: f64,
}

impl Problem<'_> {
    /// The state that fits best, found by damped Gauss-Newton steps (D. W. Marquardt, J. SIAM 11 (1963) 431).
    fn solved(&self, mut state: State) -> Option<State> {
        let mut here = self.equations(&state)?;
        let mut damping = 1e-4;
        for _ in 0..STEPS {
            let Some((shared, poses)) = here.step(damping) else {
                damping *= 10.0;
                continue;
            };
            let tried = State {
                shared: &state.shared + &shared,
                poses: (state.poses.iter().zip(&poses))
                    .map(|(pose, step)| moved(pose, step))
                    .collect(),
            };
            let next = self.equations(&tried);
            if let Some(next) = next.filter(|next| next.squares <= here.squares) {
                let fell = here.squares - next.squares;
                (state, here) = (tried, next);
                damping = (damping * 0.1).max(LEAST_DAMPING);
                if fell <= FOUND_SHARE * (1e-3 + here.squares) {
                    return Some(state);
                }
            } else {
                damping *= 10.0;
                if damping > MOST_DAMPING {
                    return Some(state);
                }
            }
        }
        None
    }

    /// Root mean square residual of the observations in units of what they claim, degrees of freedom counted.
    fn misfit(&self, state: &State) -> Option<f64> {
        let (mut squares, mut count) = (0.0, 0);
        for (index, (_, observations)) in self.frames.iter().enumerate() {
            let camera = state.camera(index);
            for observation in observations {
                let at = self.place(&state.shared, observation.mark);
                let off = camera.pixel(&at)? - observation.pixel;
                squares += off.norm_squared() / (observation.sd_px * observation.sd_px);
                count += 2;
            }
        }
        let free = f64::from(count) - 6.0 * self.frames.len() as f64 - 2.0;
        (free > 0.0).then(|| (squares / free).sqrt())
    }

    fn mark(&self, shared: &DVector<f64>, index: usize) -> Vector2<f64> {
        let off = Vector2::new(shared[2 + 2 * index], shared[3 + 2 * index]);
        self.marks_m[index] + off * self.mark_sd_m
    }

    fn place(&self, shared: &DVector<f64>, index: usize) -> Point3<f64> {
        let at = self.mark(shared, index);
        Point3::new(at.x, at.y, 0.0)
    }

    /// The normal equations, what is known beforehand included; `None` where a mark would be behind a camera.
    fn equations(&self, state: &State) -> Option<Equations> {
        let size = state.shared.len();
        let mut out = Equations {
            shared: DMatrix::zeros(size, size),
            right: DVector::zeros(size),
            frames: Vec::with_capacity(self.frames.len()),
            squares: 0.0,
        };
        for (index, (_, observations)) in self.frames.iter().enumerate() {
            let camera = state.camera(index);
            let mut of_frame = FrameEquations {
                pose: Matrix6::zeros(),
                pose_right: Vector6::zeros(),
                mixed: OMatrix::<f64, Dyn, U6>::zeros(size),
            };
            for observation in observations {
                self.add(observation, &camera, state, &mut out, &mut of_frame)?;
            }
            out.frames.push(of_frame);
        }
        let known = [
            (self.typical_px.ln(), self.lens.focal_log_sd),
            (self.lens.k1, self.lens.k1_sd),
        ];
        for (index, value) in state.shared.iter().enumerate() {
            let (expected, sd) = known.get(index).copied().unwrap_or((0.0, 1.0));
            let off = (expected - value) / sd;
            out.shared[(index, index)] += 1.0 / (sd * sd);
            out.right[index] += off / sd;
            out.squares += off * off;
        }
        Some(out)
    }

    /// Adds one observation.
    fn add(
        &self,
        observation: &MarkObservation,
        camera: &Pinhole,
        state: &State,
        out: &mut Equations,
        of_frame: &mut FrameEquations,
    ) -> Option<()> {
        let seen = camera.seen(&self.place(&state.shared, observation.mark))?;
        let sd_px = observation.sd_px * self.looseness;
        let mark = 2 + 2 * observation.mark;
        let along = |axis: usize| seen.by_place.column(axis) * self.mark_sd_m;
        let shared = [
            (0, seen.by_log_focal / sd_px),
            (1, seen.by_k1 / sd_px),
            (mark, along(0) / sd_px),
            (mark + 1, along(1) / sd_px),
        ];
        let mut pose = Matrix2x6::zeros();
        pose.fixed_columns_mut::<3>(0).copy_from(&seen.by_turn);
        pose.fixed_columns_mut::<3>(3).copy_from(&-seen.by_place);
        pose /= sd_px;
        let off = (observation.pixel - seen.pixel) / sd_px;
        for (row, slope) in &shared {
            for (column, other) in &shared {
                out.shared[(*row, *column)] += slope.dot(other);
            }
            out.right[*row] += slope.dot(&off);
            let mut mixed = of_frame.mixed.row_mut(*row);
            mixed += slope.transpose() * pose;
        }
        of_frame.pose += pose.transpose() * pose;
        of_frame.pose_right += pose.transpose() * off;
        out.squares += off.norm_squared();
        Some(())
    }
}

impl Equations {
    /// The step to the least squares, damped: of what is shared, and of each frame's pose.
    fn step(&self, damping: f64) -> Option<(DVector<f64>, Vec<Vector6<f64>>)> {
        let (mut left, mut right) = (self.shared.clone(), self.right.clone());
        for i in 0..left.nrows() {
            left[(i, i)] *= 1.0 + damping;
        }
        let mut poses: Vec<Cholesky<f64, U6>> = Vec::with_capacity(self.frames.len());
        for frame in &self.frames {
            let mut pose = frame.pose;
            for i in 0..6 {
                pose[(i, i)] *= 1.0 + damping;
            }
            let pose = pose.cholesky()?;
            let taken_out = pose.solve(&frame.mixed.transpose());
            left -= &frame.mixed * taken_out;
            right -= &frame.mixed * pose.solve(&frame.pose_right);
            poses.push(pose);
        }
        let shared = left.cholesky()?.solve(&right);
        let steps = (self.frames.iter().zip(&poses))
            .map(|(frame, pose)| pose.solve(&(frame.pose_right - frame.mixed.tr_mul(&shared))))
            .collect();
        Some((shared, steps))
    }
}
