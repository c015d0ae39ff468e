//! The shape of the path: where it pointed, how it curved, whether it curved only while the wheel
//! slipped, whether it swayed with a wheel.
//!
//! Which of these terms a path has is not decided by thresholds: every combination is fitted to the same
//! observations and weighs by its likelihood (`motion::shape`); each number is the mean over the models.

use super::{CarFacts, Estimate, FindingReason};
use crate::motion::{
    CURVE, Compared, FreeRate, Lever, Line, Motion, Phase, Shape, ShapeFit, ShapeObservation,
    SwayCourse, YAW, compare, fit_shape, may_yaw, runs_far_enough, shape_observations, shapes,
};
use nalgebra::Vector2;
use statrs::distribution::{ContinuousCDF, Normal};

/// A path's shape.
#[derive(Debug, Clone, PartialEq)]
pub struct PathFit {
    /// Deviation at the start, m.
    pub start_m: Estimate,
    /// Heading at the start against the aim line, rad.
    pub heading_rad: Estimate,
    /// Curvature that is there whether the wheel slips or not, 1/m.
    pub curvature_per_m: Estimate,
    /// Turn for every metre spun away, rad/m.
    pub yaw_per_spun_m: Estimate,
    /// Half of the sideways sway of the reference point from one side to the other, m, where the car
    /// went far enough to show one.
    pub sway_m: Option<Estimate>,
    /// Swing of the heading to one side, rad.
    pub swing_rad: Estimate,
    /// The models with their weights.
    pub compared: Compared,
    /// Way over which it was fitted, m.
    pub over_m: f64,
    /// Where no wheel was seen, how surely the curve is there while the car coasts as well: a curve that
    /// exists only while a wheel slips ends with the pull. 1 where the slip itself was seen.
    pub coasts_on: f64,
    /// What stands for the driven wheel's turn where its mark was not seen: the radius it rolls on, m.
    pub own_radius_m: f64,
    /// `∫ L ds`, L being the way spun away so far: turns `yaw_per_spun_m` into metres off line, m².
    pub(super) spun_area_m2: f64,
    /// Way spun away in all, m.
    pub(super) spun_m: f64,
}

/// A steady curve is the same on the coast; one that has less than this share of it there came of the pull.
const STEADY_SHARE: f64 = 0.5;
/// A path shorter than this has no shape, m.
const MIN_PATH_M: f64 = 0.3;
/// A path is seen in at least this many frames.
const MIN_OBSERVATIONS: usize = 12;

impl PathFit {
    /// Weight of the models with a sway in step with the driven wheel, and of those with a sway at
    /// another rate.
    pub fn sway_weights(&self) -> (f64, f64) {
        let driven = self
            .compared
            .weight(|s| s.sways.is_some_and(|p| self.is_own(p)));
        (driven, self.compared.weight(|s| s.sways.is_some()) - driven)
    }

    fn is_own(&self, phase: Phase) -> bool {
        match phase {
            Phase::DrivenWheel => true,
            Phase::Way(radius_m) => (radius_m / self.own_radius_m - 1.0).abs() < 0.01,
        }
    }

    /// Models that are worth fitting again on slightly other inputs.
    pub fn worth_fitting(&self) -> Vec<Shape> {
        self.compared
            .models
            .iter()
            .filter(|(_, weight)| *weight > WORTH_FITTING)
            .map(|(fit, _)| fit.shape)
            .collect()
    }
}

/// A model of less weight than this changes nothing.
const WORTH_FITTING: f64 = 0.01;

/// Fits the path. `radius_m` is what the driven wheel rolls on; `coast_from_m` is the way gone at the highest
/// speed, where that was seen.
///
/// # Errors
/// The reason where the car did not go far enough.
pub fn fit_path(
    motion: &Motion,
    car: &CarFacts,
    radius_m: f64,
    coast_from_m: Option<f64>,
) -> Result<PathFit, FindingReason> {
    let line = Line {
        from_m: Vector2::from(car.aim_from_m),
        heading_rad: car.aim_heading_rad,
    };
    let observations = shape_observations(&motion.body, motion.wheel.as_ref().ok(), line, radius_m);
    let over_m = observations
        .last()
        .map_or(0.0, |observation| observation.distance_m);
    if over_m < MIN_PATH_M || observations.len() < MIN_OBSERVATIONS {
        return Err(FindingReason::ShortPath {
            over_m,
            least_m: MIN_PATH_M,
        });
    }
    let phases = phases(&observations, motion, radius_m);
    let compared = compared(&observations, &phases, motion, car.lever)?;
    let mean = |of: &dyn Fn(&ShapeFit) -> (f64, f64)| mean(&compared, of);
    let curvature_per_m = mean(&|fit| fit.parameter(CURVE));
    let coasts_on = match &motion.wheel {
        Ok(_) => 1.0,
        Err(_) => coasts_on(
            &observations,
            car.lever,
            curvature_per_m.value,
            coast_from_m,
        ),
    };
    Ok(PathFit {
        coasts_on,
        start_m: mean(&|fit| fit.start()[0]),
        heading_rad: mean(&|fit| fit.start()[1]),
        curvature_per_m,
        yaw_per_spun_m: mean(&|fit| fit.parameter(YAW)),
        sway_m: (!phases.is_empty()).then(|| sway_m(&compared, motion, radius_m)),
        swing_rad: mean(&ShapeFit::swing_rad),
        over_m,
        own_radius_m: radius_m,
        spun_area_m2: spun_area(&observations),
        spun_m: observations
            .last()
            .map_or(0.0, |observation| observation.spun_m),
        compared,
    })
}

/// The shapes that the path may have, each fitted and weighed.
fn compared(
    observations: &[ShapeObservation],
    phases: &[Phase],
    motion: &Motion,
    lever: Lever,
) -> Result<Compared, FindingReason> {
    let candidates = if motion.tuning.shapes.is_empty() {
        shapes(may_yaw(observations), phases)
    } else {
        motion.tuning.shapes.clone()
    };
    let tries = motion.tuning.free_rate.map_or(1, |free| free.tries);
    let compared = compare(observations, lever, &candidates, tries);
    if compared.models.is_empty() {
        return Err(FindingReason::NoShape);
    }
    Ok(compared)
}

/// A number of the shape, as the mean over the models.
fn mean(compared: &Compared, of: &dyn Fn(&ShapeFit) -> (f64, f64)) -> Estimate {
    let (value, sd) = compared.mean(of);
    Estimate { value, sd }
}

/// Half of the reference point's sway from one side to the other, m.
fn sway_m(compared: &Compared, motion: &Motion, radius_m: f64) -> Estimate {
    let by_swing = |fit: &ShapeFit| {
        let arm = match fit.shape.sways {
            Some(Phase::Way(free_m)) => free_m,
            _ => radius_m,
        };
        let (swing, sd) = fit.swing_rad();
        (swing * arm, sd * arm)
    };
    let mut sway_m = mean(compared, &by_swing);
    // Where the whole motion tells what the car shifts from what it points to the side, that is the sway.
    let course = motion.tuning.sway.as_ref();
    if let Some(whole) = course.and_then(SwayCourse::amplitude_m) {
        sway_m.value = whole * compared.weight(|shape| shape.sways.is_some());
    }
    sway_m
}

/// How surely the coast curves by more than half of `curvature_per_m` to the same side; 0 where no coast was
/// seen that could show it.
fn coasts_on(
    observations: &[ShapeObservation],
    lever: Lever,
    curvature_per_m: f64,
    from_m: Option<f64>,
) -> f64 {
    let Some(from_m) = from_m else { return 0.0 };
    let coast: Vec<ShapeObservation> = observations
        .iter()
        .filter(|l| l.distance_m > from_m)
        .copied()
        .collect();
    let curve = Shape {
        curves: true,
        ..Shape::default()
    };
    let Some(fit) = fit_shape(&coast, lever, curve) else {
        return 0.0;
    };
    let (value, sd) = fit.parameter(CURVE);
    let beyond = value * curvature_per_m.signum() - STEADY_SHARE * curvature_per_m.abs();
    Normal::new(0.0, 1.0).map_or(0.0, |normal| normal.cdf(beyond / sd.max(1e-12)))
}

/// What a sway may keep step with in this clip.
fn phases(observations: &[ShapeObservation], motion: &Motion, radius_m: f64) -> Vec<Phase> {
    let own = if observations
        .iter()
        .all(|observation| observation.turn_rad.is_some())
    {
        Phase::DrivenWheel
    } else {
        Phase::Way(radius_m)
    };
    let free = motion.tuning.free_rate;
    std::iter::once(own)
        .chain(free.map(|FreeRate { radius_m, .. }| Phase::Way(radius_m)))
        .filter(|phase| runs_far_enough(observations, *phase))
        .collect()
}

fn spun_area(observations: &[ShapeObservation]) -> f64 {
    observations
        .windows(2)
        .map(|pair| {
            f64::midpoint(pair[0].spun_m, pair[1].spun_m)
                * (pair[1].distance_m - pair[0].distance_m)
        })
        .sum()
}
