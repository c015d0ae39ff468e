//! What a wheel that is not true does to its car once a turn: sizes and uncertainty from all looks at once.
//!
//! The car turns to and fro, shifts from side to side and rises and falls, each by a sine and a cosine in
//! step with the wheel. Seen from one side these look alike, and like a car that goes unsteadily; the observations
//! along the whole way, and the steadiness of the car's own speed, tell them apart as far as they can be
//! told apart. They are estimated beside the car's motion as constants of the same linear model, so that
//! their covariance says what stays open.

use super::CarGeometry;
use super::body::Body;
use super::car_model::CarModel;
use super::shape::Phase;
use crate::camera::View;
use crate::smoothing::{StateEstimate, likelihood};
use crate::track::Track;
use nalgebra::{Matrix6, SMatrix, Vector6};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

/// A course of the heading, and of the car's place beside and above its way, that is known frame by frame:
/// the sway of a wobbling wheel with the shift and the rise that go with it, and the turn of a car whose
/// wheel spins.
#[derive(Debug, Clone, PartialEq)]
pub struct SwayCourse {
    /// Turn through spinning, rad, an entry a frame.
    pub turn_rad: Vec<f64>,
    /// Sine and cosine of the sway's phase, less what they were at rest, an entry a frame; nothing where
    /// the car does not sway.
    pub phase: Vec<[f64; 2]>,
    /// What the sway keeps step with; `None` where the car does not sway.
    pub step: Option<Phase>,
    /// Turn for every metre spun away, rad/m.
    pub yaw_per_spun_m: f64,
    /// Way for a radian of the phase, m.
    pub arm_m: f64,
    /// Sine and cosine part of the heading's sway (rad), of the rise (m) and of the shift to the left (m).
    pub parts: Vector6<f64>,
    /// Covariance of these.
    pub covariance: Matrix6<f64>,
}

/// What a sway adds at a frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Swayed {
    /// To the smooth heading, rad.
    pub heading_rad: f64,
    /// To the car's height, m.
    pub rise_m: f64,
    /// To its place, to the left, m.
    pub aside_m: f64,
}

impl SwayCourse {
    /// The same where frames are counted from a later one.
    pub(super) fn starting_at(&self, from: usize) -> Self {
        Self {
            turn_rad: self.turn_rad[from.min(self.turn_rad.len())..].to_vec(),
            phase: self.phase[from.min(self.phase.len())..].to_vec(),
            ..self.clone()
        }
    }

    /// Added to the smooth motion at a frame.
    pub fn at(&self, frame: usize) -> Swayed {
        let turn = self.turn_rad.get(frame).copied().unwrap_or(0.0);
        let [sin, cos] = self.phase_at(frame);
        Swayed {
            heading_rad: turn + self.parts[0] * sin + self.parts[1] * cos,
            rise_m: self.parts[2] * sin + self.parts[3] * cos,
            aside_m: self.parts[4] * sin + self.parts[5] * cos,
        }
    }

    /// Half of the sway of the reference point from one side to the other, m, where the car sways: what it
    /// shifts, and how far it goes to the side while it points there.
    pub fn amplitude_m(&self) -> Option<f64> {
        let aside = |shift: f64, turn: f64| shift + self.arm_m * turn;
        let (sin, cos) = (
            aside(self.parts[4], self.parts[1]),
            aside(self.parts[5], -self.parts[0]),
        );
        (!self.phase.is_empty()).then(|| sin.hypot(cos))
    }

    /// Logarithm of how probable its parts are among wheels that are not true, up to a constant.
    pub(super) fn log_prior(&self) -> f64 {
        let parts = self.parts.iter().zip(PART_SDS);
        -0.5 * parts.map(|(part, sd)| (part / sd).powi(2)).sum::<f64>()
    }

    /// Sine and cosine of the phase at a frame, less what they were at rest.
    pub(super) fn phase_at(&self, frame: usize) -> [f64; 2] {
        self.phase.get(frame).copied().unwrap_or_default()
    }

    /// The same with its parts drawn within their uncertainty.
    #[must_use]
    pub fn drawn(&self, random: &mut impl Rng) -> Self {
        let normal = Vector6::from_fn(|_, _| StandardNormal.sample(random));
        let moved = self.covariance.cholesky().map(|c| c.l() * normal);
        Self {
            parts: self.parts + moved.unwrap_or_default(),
            ..self.clone()
        }
    }
}

/// How far a wheel that is not true turns its car (rad), lifts it and shifts it (m), standard deviations of
/// sine and cosine parts. Common practice, no source: such wheels are cut and drilled by hand.
const PART_SDS: [f64; 6] = [0.1, 0.1, 0.002, 0.002, 0.006, 0.006];
/// A motion that had to follow a sway, or a turn its unevenness, passed for a restless one seen badly: with it, it may
/// be this much steadier and seen this much better. Steps of a search, chosen by hand; not measured.
pub(super) const STEADIER: [f64; 5] = [1.0, 0.1, 0.01, 1e-3, 1e-4];
pub(super) const SEEN_BETTER: [f64; 3] = [1.0, 0.4, 0.16];

/// A sway of greatest likelihood.
pub(super) struct Refined {
    pub(super) course: SwayCourse,
    /// Logarithm of how many times likelier the observations are with it than without any.
    pub(super) gain: f64,
}

/// Car and sway together: six of the motion, six parts of the sway.
pub(super) type Joint = SMatrix<f64, 12, 12>;

/// The sway in step with the phases of `course`, about which `body` was smoothed.
pub(super) fn refine_sway(
    track: &Track,
    view: &View,
    car: &CarGeometry,
    released_s: Option<f64>,
    body: &Body,
    course: &SwayCourse,
) -> Option<Refined> {
    let first = body.states.iter().position(Option::is_some)?;
    let last = body.states.iter().rposition(Option::is_some)?;
    let mut model = CarModel::new(track, view, car, released_s, (first, last));
    let path: Vec<Vector6<f64>> = (first..=last)
        .map(|frame| {
            let mut mean = body.states[frame].map(|s| s.mean)?;
            mean[2] -= body.states[frame].map_or(0.0, |s| s.sway_rad);
            Some(mean)
        })
        .collect::<Option<_>>()?;
    model.take(course, first);
    let weights = model.outliers(&path, body.settled.variance_factor);
    let joint = |sds: [f64; 6], steadier: f64, better: f64| -> (f64, StateEstimate<12>) {
        let jerk = body.settled.jerk_density * steadier;
        let steps = model.swaying_steps(&path, jerk, &body.settled.change_points_s);
        let factor = body.settled.variance_factor * better;
        let observations = model.swaying_observations(&path, factor, &weights);
        likelihood(model.swaying_prior(sds), &steps, &observations)
    };
    let best = |sds: [f64; 6]| {
        let tries: Vec<(f64, f64)> = STEADIER
            .iter()
            .flat_map(|steadier| SEEN_BETTER.iter().map(|better| (*steadier, *better)))
            .collect();
        let tried: Vec<(f64, StateEstimate<12>)> = tries
            .par_iter()
            .map(|(steadier, better)| joint(sds, *steadier, *better))
            .collect();
        tried
            .into_iter()
            .filter(|(likelihood, _)| likelihood.is_finite())
            .max_by(|a, b| a.0.total_cmp(&b.0))
    };
    let (without, _) = best([0.0; 6])?;
    let (with, end) = best(PART_SDS)?;
    // Errors that are alike from frame to frame count for fewer observations.
    let alike = body.alike;
    Some(Refined {
        course: SwayCourse {
            parts: end.mean.fixed_rows::<6>(6).into_owned(),
            covariance: end.covariance.fixed_view::<6, 6>(6, 6) * alike,
            ..course.clone()
        },
        gain: (with - without) / alike,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course(parts: [f64; 6]) -> SwayCourse {
        SwayCourse {
            turn_rad: Vec::new(),
            phase: vec![[0.0, 0.0], [1.0, -1.0]],
            step: Some(Phase::Way(0.05)),
            yaw_per_spun_m: 0.0,
            arm_m: 0.05,
            parts: Vector6::from(parts),
            covariance: Matrix6::zeros(),
        }
    }

    #[test]
    fn a_car_that_points_to_and_fro_goes_to_and_fro() {
        // A heading A sin(s / r) takes the axle r A to either side: the integral of its sine part.
        let turns = course([0.1, 0.0, 0.0, 0.0, 0.0, 0.0]);
        assert!((turns.amplitude_m().unwrap() - 0.005).abs() < 1e-12);
        let shifts = course([0.0, 0.0, 0.0, 0.0, 0.003, 0.004]);
        assert!((shifts.amplitude_m().unwrap() - 0.005).abs() < 1e-12);
        let hops = course([0.0, 0.0, 0.002, 0.0, 0.0, 0.0]);
        assert!(hops.amplitude_m().unwrap() < 1e-12);
        let swayed = hops.at(1);
        assert!((swayed.rise_m - 0.002).abs() < 1e-12 && swayed.aside_m == 0.0);
    }
}
