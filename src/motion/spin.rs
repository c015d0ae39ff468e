//! The smooth angle and rate of the wheel, once its turns are counted.

use super::body::Body;
use super::change_points::{Jumping, Settled, mixed, settle, step_of};
use super::turns::AngleObservation;
use super::uneven::Uneven;
use super::wheel::WheelState;
use super::{counting, jerk_model};
use crate::noise::{MOST_ALIKE_OF_SMOOTHED, integrated_autocorrelation, variance_inflation};
use crate::smoothing::{Observation, StateEstimate, Step, filter, smooth, smooth_means};
use nalgebra::{Matrix3, SMatrix, SVector, Vector1, Vector3};

/// A spring that lets go on a slick floor gives a wheel up to about this, rad/s². Common practice.
const START_ACCELERATION: f64 = 300.0;

/// Frames past the last look for which the wheel is still known well enough to speak of slip.
const FORECAST_FRAMES: usize = 2;
/// Where the motion breaks (the string runs out, tyres grip again) the rim's acceleration may jump by about
/// this, m/s². Common practice, no source.
const RIM_JUMP: f64 = 4.0;

/// A change point that the car's motion shows and no observation at the wheel is of a wheel that rolls, or the car
/// would not feel it: it jumps by about this share of that.
const UNSEEN_SHARE: f64 = 0.3;

/// Residuals beyond this many spreads are of marks half hidden, or mistaken, and weigh less.
const OUTLIER: f64 = 3.0;

/// The observations in order of time, with what the smoother needs.
pub(super) struct Chain {
    frames: Vec<usize>,
    times: Vec<f64>,
    observations: Vec<Option<(f64, f64)>>,
    /// Whether an observation counts: of those at rest only the last few do.
    counts: Vec<bool>,
    /// What was taken from the observations.
    uneven: Uneven,
    released_s: Option<f64>,
    /// Typical jump of the wheel's acceleration where the motion breaks, rad/s².
    jump: f64,
}

impl Chain {
    /// `observations` are in order of time; `angles` are their angles with whole turns, `None` for strays.
    pub(super) fn new(
        observations: &[AngleObservation],
        angles: &[Option<f64>],
        body: &Body,
        released_s: Option<f64>,
        wheel_radius_m: f64,
        uneven: &Uneven,
    ) -> Self {
        let taken: Vec<(&AngleObservation, f64)> = observations
            .iter()
            .zip(angles)
            .filter_map(|(observation, angle)| Some((observation, (*angle)?)))
            .collect();
        let first = taken
            .first()
            .map_or(0, |(observation, _)| observation.frame);
        // While the car is in view the wheel turns on, whether its mark is seen or not.
        let last = body.states.iter().rposition(Option::is_some).unwrap_or(0);
        let mut chain = Self {
            frames: Vec::new(),
            times: Vec::new(),
            observations: Vec::new(),
            counts: Vec::new(),
            uneven: *uneven,
            released_s,
            jump: RIM_JUMP / wheel_radius_m,
        };
        let mut next = taken.iter().peekable();
        for frame in first..=last {
            let mut seen = false;
            while let Some((observation, angle)) =
                next.next_if(|(observation, _)| observation.frame == frame)
            {
                let steady = angle - uneven.at(*angle);
                chain.add(
                    frame,
                    observation.time_s,
                    Some((steady, observation.variance)),
                );
                seen = true;
            }
            if let Some(state) = body.states[frame].filter(|_| !seen) {
                chain.add(frame, state.time_s, None);
            }
        }
        let observations = &chain.observations;
        chain.counts = counting(
            &chain.times,
            |index| observations[index].is_some(),
            released_s,
        );
        chain
    }

    fn add(&mut self, frame: usize, time_s: f64, observation: Option<(f64, f64)>) {
        // A mark's row may be a little before that of a frame without observations.
        let time_s = self.times.last().map_or(time_s, |last| time_s.max(*last));
        self.frames.push(frame);
        self.times.push(time_s);
        self.observations.push(observation);
    }

    /// The observations that count, an entry a step.
    fn counting(&self) -> impl Iterator<Item = Option<(f64, f64)>> {
        let observations = self.observations.iter().zip(&self.counts);
        observations.map(|(observation, counts)| observation.filter(|_| *counts))
    }

    fn first_estimate(&self) -> StateEstimate<3> {
        let first = self
            .observations
            .iter()
            .flatten()
            .next()
            .map_or(0.0, |observation| observation.0);
        let (rate, change) = if self
            .released_s
            .is_some_and(|t| self.times.first().is_some_and(|f| *f < t))
        {
            (0.0, 0.0)
        } else {
            (60.0 * 60.0, START_ACCELERATION * START_ACCELERATION)
        };
        StateEstimate {
            mean: Vector3::new(first, 0.0, 0.0),
            covariance: Matrix3::from_diagonal(&Vector3::new(1.0, rate, change)),
        }
    }

    fn turning_steps(&self, jerk: f64, change_points_s: &[f64]) -> Vec<Step<3>> {
        let change_points: Vec<(usize, f64)> = change_points_s
            .iter()
            .filter_map(|moment| step_of(&self.times, *moment))
            .collect();
        let mut steps: Vec<Step<3>> = self
            .times
            .windows(2)
            .map(|pair| match self.released_s {
                Some(t0) if pair[1] <= t0 => Step {
                    transition: Matrix3::identity(),
                    offset: Vector3::zeros(),
                    noise: Matrix3::zeros(),
                },
                Some(t0) if pair[0] < t0 => turning(pair[1] - t0, jerk, START_ACCELERATION),
                _ => turning(pair[1] - pair[0], jerk, 0.0),
            })
            .collect();
        let last_observation = self.last_observation();
        for (step, left_s) in change_points {
            // After the last observation a change point is known from the car's motion alone, whose own jump it shares.
            let share = if step >= last_observation {
                UNSEEN_SHARE
            } else {
                1.0
            };
            let push = push(left_s) * (self.jump * share);
            steps[step].noise += push * push.transpose();
        }
        steps
    }

    fn measured(&self, factor: f64, weights: &[f64]) -> Vec<Option<Observation<3, 1>>> {
        self.counting()
            .zip(weights)
            .map(|(observation, weight)| {
                observation.map(|(value, variance)| Observation {
                    design: SMatrix::<f64, 1, 3>::new(1.0, 0.0, 0.0),
                    value: SVector::<f64, 1>::new(value),
                    noise: SMatrix::<f64, 1, 1>::new(variance * factor * weight),
                })
            })
            .collect()
    }

    /// Noises and breaks of greatest likelihood. Where the car's motion breaks the wheel's does too, whether
    /// its mark is seen there or not.
    pub(super) fn settle(&self, body: &Body) -> Settled {
        settle(self, ROUGH, &body.settled.change_points_s)
    }

    /// The wheel in each frame, and the log-likelihood of the observations.
    pub(super) fn states(
        &self,
        settled: &Settled,
        ambiguous: &[bool],
        body: &Body,
    ) -> (Vec<Option<WheelState>>, f64) {
        let (estimates, log_likelihood) = self.smoothed(settled);
        let inflation = self.inflation(&estimates);
        let last_observation = self.last_observation();
        let mut out = vec![None; body.states.len()];
        for (index, estimate) in estimates.iter().enumerate() {
            let frame = self.frames[index];
            let Some(at) = body.states[frame].map(|s| s.time_s) else {
                continue;
            };
            let later_s = at - self.times[index];
            let (mean, covariance) = self.later(estimate, later_s, inflation);
            out[frame] = Some(WheelState {
                mean,
                covariance,
                seen: self.observations[index].is_some(),
                ambiguous: ambiguous[frame],
                forecast: index > last_observation + FORECAST_FRAMES,
                observation: self.observations[index].map(|(steady, var)| {
                    let seen = self.uneven.seen(steady);
                    (seen + estimate.mean[1] * later_s, var)
                }),
            });
        }
        (out, log_likelihood)
    }

    /// The estimates of two passes, the second with outliers weighed down, and the log-likelihood of the observations.
    fn smoothed(&self, settled: &Settled) -> (Vec<StateEstimate<3>>, f64) {
        let steps = self.steps(settled.jerk_density, &settled.change_points_s);
        let factor = settled.variance_factor;
        let mut weights = vec![1.0; self.observations.len()];
        let even = self.measured(factor, &weights);
        let (means, _) = smooth_means(self.prior(), &steps, &even);
        self.weigh_outliers(&mut weights, &means, factor);
        let weighed = self.measured(factor, &weights);
        let filtered = filter(self.prior(), &steps, &weighed);
        let estimates = smooth(&filtered, &steps);
        let means: Vec<Vector3<f64>> = estimates.iter().map(|estimate| estimate.mean).collect();
        self.weigh_outliers(&mut weights, &means, factor);
        let estimates = mixed(estimates, &settled.open, |moment| {
            let mut change_points_s = settled.change_points_s.clone();
            change_points_s.push(moment);
            let steps = self.steps(settled.jerk_density, &change_points_s);
            let observations = self.measured(factor, &weights);
            smooth(&filter(self.prior(), &steps, &observations), &steps)
        });
        (estimates, filtered.log_likelihood)
    }

    /// Sets the weight of each observation by how far it is off the estimates.
    fn weigh_outliers(&self, weights: &mut [f64], means: &[Vector3<f64>], factor: f64) {
        for ((weight, observation), mean) in weights.iter_mut().zip(&self.observations).zip(means) {
            let Some((value, variance)) = observation else {
                continue;
            };
            let off = value - mean[0];
            *weight = variance_inflation(off * off / (variance * factor), OUTLIER);
        }
    }

    /// Mean and covariance of a step's estimate `later_s` after it, with what repeats from frame to frame and what the
    /// uneven turn leaves open.
    fn later(
        &self,
        estimate: &StateEstimate<3>,
        later_s: f64,
        inflation: f64,
    ) -> (Vector3<f64>, Matrix3<f64>) {
        let (forward, _) = jerk_model(later_s);
        let shift = Matrix3::from_fn(|i, j| forward[i][j]);
        let mean = shift * estimate.mean;
        let mut covariance = shift * estimate.covariance * shift.transpose() * inflation;
        let (angle_var, per_rad_var) = self.uneven.variances(mean[0]);
        covariance[(0, 0)] += angle_var;
        covariance[(1, 1)] += per_rad_var * mean[1] * mean[1];
        (mean, covariance)
    }

    /// Step of the last observation.
    fn last_observation(&self) -> usize {
        let last = self.observations.iter().rposition(Option::is_some);
        last.unwrap_or(0)
    }

    /// How much errors that repeat from frame to frame widen what independent ones would give.
    fn inflation(&self, estimates: &[StateEstimate<3>]) -> f64 {
        let residuals: Vec<_> = self
            .counting()
            .zip(estimates)
            .map(|(observation, estimate)| {
                observation.map(|(value, _)| Vector1::new(value - estimate.mean[0]))
            })
            .collect();
        integrated_autocorrelation(&residuals).min(MOST_ALIKE_OF_SMOOTHED)
    }
}

fn turning(dt: f64, jerk: f64, jump: f64) -> Step<3> {
    let (transition, unit) = jerk_model(dt);
    let transition = Matrix3::from_fn(|i, j| transition[i][j]);
    let column = transition.column(2) * jump;
    Step {
        transition,
        offset: Vector3::zeros(),
        noise: Matrix3::from_fn(|i, j| unit[i][j]) * jerk + column * column.transpose(),
    }
}

/// What a unit jump of the wheel's acceleration does to its state `left_s` later.
fn push(left_s: f64) -> Vector3<f64> {
    Vector3::new(left_s * left_s / 2.0, left_s, 1.0)
}

/// Where the search for the noises starts: a jerk that smooths little, and errors twice those claimed.
const ROUGH: (f64, f64) = (1e5, 4.0);

impl Jumping<3, 1> for Chain {
    /// Errors of a small mark's angle are alike for several frames, and pass for a change point of little gain.
    const MIN_GAIN: f64 = 6.0;
    /// rad²/s⁵.
    const JERK_DENSITIES: (f64, f64) = (1e1, 1e9);

    fn jump(&self) -> f64 {
        self.jump
    }

    fn times_s(&self) -> &[f64] {
        &self.times
    }

    fn first_step(&self) -> usize {
        let moving = |t0| self.times.partition_point(|time| *time <= t0);
        self.released_s.map_or(0, moving)
    }

    fn prior(&self) -> StateEstimate<3> {
        self.first_estimate()
    }

    fn steps(&self, jerk_density: f64, change_points_s: &[f64]) -> Vec<Step<3>> {
        self.turning_steps(jerk_density, change_points_s)
    }

    fn observations(&self, variance_factor: f64) -> Vec<Option<Observation<3, 1>>> {
        self.measured(variance_factor, &vec![1.0; self.observations.len()])
    }

    fn push(&self, _step: usize, left_s: f64) -> Vector3<f64> {
        push(left_s)
    }
}

#[cfg(test)]
mod tests;
