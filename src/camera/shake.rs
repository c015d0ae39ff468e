//! The smooth pose of a hand-held camera from every observation at a floor mark, each at its own row's time.
//!
//! State: turn and shift away from a base pose, and their rates; their changes are white noise whose
//! two densities (of turning and of shifting), like the factor on the pixels' variances, are those of
//! greatest likelihood. The model is linearised about the path of the pass before.

use super::path::{CameraPath, PoseNode, moved, pose_from_base, turn_slopes};
use super::projection::Pinhole;
use crate::noise::variance_inflation;
use crate::smoothing::{Observation, StateEstimate, Step, likelihood, maximise, smooth_means};
use nalgebra::{Matrix2x6, Matrix6, Point3, SMatrix, SVector, Vector2, Vector6};

/// A look at a floor mark at its row's time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TimedObservation {
    pub(super) time_s: f64,
    /// The mark's place on the floor, m.
    pub(super) floor_m: Vector2<f64>,
    /// Where its centre is seen, px.
    pub(super) pixel: Vector2<f64>,
    /// Variance on each axis, px².
    pub(super) var_px2: Vector2<f64>,
    /// The camera about then, roughly.
    pub(super) about: Pinhole,
}

/// What the smoother settled on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShakeTuning {
    /// Spectral density of the change of the turning rate, rad²/s³.
    pub turn_density: f64,
    /// Spectral density of the change of the shifting rate, m²/s³.
    pub shift_density: f64,
    /// Factor on the pixels' variances.
    pub variance_factor: f64,
}

/// Rounds of weighing observations and smoothing the path.
const PASSES: usize = 3;
/// With everything settled before, a pass less does.
const PASSES_AGAIN: usize = 2;
/// A residual beyond this many spreads is of a mark half hidden or mistaken.
const OUTLIER: f64 = 4.0;
/// Part of a place's variance that no fit knows of, px².
const EXTRA_VAR_PX2: f64 = 0.0004;

/// A smoothed path.
pub(super) struct Smoothed {
    pub(super) path: CameraPath,
    pub(super) tuning: ShakeTuning,
    /// Root mean square residual, px.
    pub(super) residual_px: f64,
    pub(super) log_likelihood: f64,
}

/// Smooths the pose over all observations, which are in order of time.
pub(super) fn smooth_path(
    base: &Pinhole,
    observations: &[TimedObservation],
    tuning: Option<ShakeTuning>,
) -> Option<Smoothed> {
    let mut poses: Vec<Vector6<f64>> = observations
        .iter()
        .map(|l| pose_from_base(base, &l.about))
        .collect();
    poses.first()?;
    let mut settled = tuning.unwrap_or(ShakeTuning {
        turn_density: 0.05,
        shift_density: 0.02,
        variance_factor: 2.0,
    });
    let mut weights = vec![1.0; observations.len()];
    let mut states: Vec<SVector<f64, 12>> = Vec::new();
    let mut log_likelihood = 0.0;
    let passes = if tuning.is_some() {
        PASSES_AGAIN
    } else {
        PASSES
    };
    for pass in 0..passes {
        let about = linearised(base, observations, &poses)?;
        if pass == 1 && tuning.is_none() {
            settled = tune(observations, &about, &weights, &poses[0], settled);
        }
        let steps = steps(observations, &settled);
        let measured = measured(observations, &about, &weights, settled.variance_factor);
        (states, log_likelihood) = smooth_means(prior(&poses[0]), &steps, &measured);
        poses = states.iter().map(pose).collect();
        weights = outliers(base, observations, &poses, settled.variance_factor)?;
    }
    let squares: f64 = observations
        .iter()
        .zip(&poses)
        .filter_map(|(observation, pose)| {
            Some((seen(base, observation, pose)? - observation.pixel).norm_squared())
        })
        .sum();
    let nodes = states
        .iter()
        .zip(observations)
        .map(|(state, observation)| PoseNode {
            time_s: observation.time_s,
            pose: pose(state),
            rate: state.fixed_rows::<6>(6).into_owned(),
        })
        .collect();
    Some(Smoothed {
        path: CameraPath { base: *base, nodes },
        tuning: settled,
        residual_px: (squares / observations.len() as f64).sqrt(),
        log_likelihood,
    })
}

fn pose(state: &SVector<f64, 12>) -> Vector6<f64> {
    state.fixed_rows::<6>(0).into_owned()
}

fn seen(
    base: &Pinhole,
    observation: &TimedObservation,
    pose: &Vector6<f64>,
) -> Option<Vector2<f64>> {
    moved(base, pose).pixel(&on_floor(observation))
}

fn on_floor(observation: &TimedObservation) -> Point3<f64> {
    Point3::new(observation.floor_m.x, observation.floor_m.y, 0.0)
}

/// For each observation, the slopes of its pixel by the pose, and the pixel that a pose of zero would have.
type About = (Matrix2x6<f64>, Vector2<f64>);

fn linearised(
    base: &Pinhole,
    observations: &[TimedObservation],
    poses: &[Vector6<f64>],
) -> Option<Vec<About>> {
    observations
        .iter()
        .zip(poses)
        .map(|(observation, pose)| {
            let seen = moved(base, pose).seen(&on_floor(observation))?;
            let mut slopes = Matrix2x6::zeros();
            let by_turn = seen.by_turn * turn_slopes(pose);
            slopes.fixed_columns_mut::<3>(0).copy_from(&by_turn);
            slopes.fixed_columns_mut::<3>(3).copy_from(&-seen.by_place);
            Some((slopes, seen.pixel - slopes * pose))
        })
        .collect()
}

fn prior(first: &Vector6<f64>) -> StateEstimate<12> {
    // A phone in a hand or following a car: up to about a metre and a radian a second.
    let mut mean = SVector::<f64, 12>::zeros();
    mean.fixed_rows_mut::<6>(0).copy_from(first);
    let spread = [
        0.1, 0.1, 0.1, 0.2, 0.2, 0.2, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0_f64,
    ];
    StateEstimate {
        mean,
        covariance: SMatrix::from_diagonal(&SVector::from(spread.map(|s| s * s))),
    }
}

fn steps(observations: &[TimedObservation], tuning: &ShakeTuning) -> Vec<Step<12>> {
    let (turn, shift) = (tuning.turn_density, tuning.shift_density);
    let density = Matrix6::from_diagonal(&Vector6::new(turn, turn, turn, shift, shift, shift));
    observations
        .windows(2)
        .map(|pair| {
            let dt = pair[1].time_s - pair[0].time_s;
            let mut transition = SMatrix::<f64, 12, 12>::identity();
            let mut noise = SMatrix::<f64, 12, 12>::zeros();
            for i in 0..6 {
                transition[(i, i + 6)] = dt;
                let q = density[(i, i)];
                noise[(i, i)] = q * dt * dt * dt / 3.0;
                noise[(i, i + 6)] = q * dt * dt / 2.0;
                noise[(i + 6, i)] = q * dt * dt / 2.0;
                noise[(i + 6, i + 6)] = q * dt;
            }
            Step {
                transition,
                offset: SVector::zeros(),
                noise,
            }
        })
        .collect()
}

fn measured(
    observations: &[TimedObservation],
    about: &[About],
    weights: &[f64],
    factor: f64,
) -> Vec<Option<Observation<12, 2>>> {
    observations
        .iter()
        .zip(about)
        .zip(weights)
        .map(|((observation, (slopes, zero)), weight)| {
            let mut design = SMatrix::<f64, 2, 12>::zeros();
            design.fixed_columns_mut::<6>(0).copy_from(slopes);
            let var = observation.var_px2.add_scalar(EXTRA_VAR_PX2) * (factor * weight);
            Some(Observation {
                design,
                value: observation.pixel - zero,
                noise: SMatrix::from_diagonal(&var),
            })
        })
        .collect()
}

/// Noises are sought to within so much of their logarithms.
const TOLERANCE: f64 = 0.03;

fn tune(
    observations: &[TimedObservation],
    about: &[About],
    weights: &[f64],
    first: &Vector6<f64>,
    start: ShakeTuning,
) -> ShakeTuning {
    let likelihood = |tuning: &ShakeTuning| {
        let measured = measured(observations, about, weights, tuning.variance_factor);
        likelihood(prior(first), &steps(observations, tuning), &measured).0
    };
    let mut best = start;
    for _ in 0..2 {
        best.variance_factor = maximise(0.1_f64.ln(), 400.0_f64.ln(), TOLERANCE, |log| {
            likelihood(&ShakeTuning {
                variance_factor: log.exp(),
                ..best
            })
        })
        .exp();
        best.turn_density = maximise(1e-6_f64.ln(), 1e3_f64.ln(), TOLERANCE, |log| {
            likelihood(&ShakeTuning {
                turn_density: log.exp(),
                ..best
            })
        })
        .exp();
        best.shift_density = maximise(1e-7_f64.ln(), 1e3_f64.ln(), TOLERANCE, |log| {
            likelihood(&ShakeTuning {
                shift_density: log.exp(),
                ..best
            })
        })
        .exp();
    }
    best
}

fn outliers(
    base: &Pinhole,
    observations: &[TimedObservation],
    poses: &[Vector6<f64>],
    factor: f64,
) -> Option<Vec<f64>> {
    observations
        .iter()
        .zip(poses)
        .map(|(observation, pose)| {
            let off = seen(base, observation, pose)? - observation.pixel;
            let var = observation.var_px2.add_scalar(EXTRA_VAR_PX2) * factor;
            let scaled = (off.x * off.x / var.x).max(off.y * off.y / var.y);
            Some(variance_inflation(scaled, OUTLIER))
        })
        .collect()
}
