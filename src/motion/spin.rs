//! The smooth angle and rate of the wheel, once its turns are counted.

use super::body::Body;
use super::breaks::{Breaking, Settled, mixed, settle, step_of};
use super::turns::AngleLook;
use super::uneven::Uneven;
use super::wheel::WheelState;
use super::{counting, jerk_model};
use crate::noise::integrated_autocorrelation;
use crate::smoothing::{Belief, Look, Step, filter, smooth};
use nalgebra::{Matrix3, SMatrix, SVector, Vector1, Vector3};

/// A spring that lets go on a slick floor gives a wheel up to about this, rad/s². Common practice.
const START_ACCELERATION: f64 = 300.0;

/// Frames past the last look for which the wheel is still known well enough to speak of slip.
const FORECAST_FRAMES: usize = 2;
/// Where the motion breaks (the string runs out, tyres grip again) the rim's acceleration may jump by about
/// this, m/s². Common practice, no source.
const RIM_BREAK: f64 = 4.0;

/// A break that the car's motion shows and no look at the wheel is of a wheel that rolls, or the car would not
/// feel it: it jumps by about this share of that.
const UNSEEN_SHARE: f64 = 0.3;

/// Residuals beyond this many spreads are of marks half hidden, or mistaken, and weigh less.
const OUTLIER: f64 = 3.0;

/// The looks in order of time, with what the smoother needs.
pub(super) struct Chain {
    frames: Vec<usize>,
    times: Vec<f64>,
    looks: Vec<Option<(f64, f64)>>,
    /// Whether a look counts: of those at rest only the last few do.
    counts: Vec<bool>,
    /// What was taken from the looks.
    uneven: Uneven,
    released_s: Option<f64>,
    /// Typical jump of the wheel's acceleration where the motion breaks, rad/s².
    jump: f64,
}

impl Chain {
    /// `looks` are in order of time; `angles` are their angles with whole turns, `None` for strays.
    pub(super) fn new(
        looks: &[AngleLook],
        angles: &[Option<f64>],
        body: &Body,
        released_s: Option<f64>,
        wheel_radius_m: f64,
        uneven: &Uneven,
    ) -> Self {
        let taken: Vec<(&AngleLook, f64)> = looks
            .iter()
            .zip(angles)
            .filter_map(|(look, angle)| Some((look, (*angle)?)))
            .collect();
        let first = taken.first().map_or(0, |(look, _)| look.frame);
        // While the car is in view the wheel turns on, whether its mark is seen or not.
        let last = body.states.iter().rposition(Option::is_some).unwrap_or(0);
        let mut chain = Self {
            frames: Vec::new(),
            times: Vec::new(),
            looks: Vec::new(),
            counts: Vec::new(),
            uneven: *uneven,
            released_s,
            jump: RIM_BREAK / wheel_radius_m,
        };
        let mut next = taken.iter().peekable();
        for frame in first..=last {
            let mut seen = false;
            while let Some((look, angle)) = next.next_if(|(look, _)| look.frame == frame) {
                let steady = angle - uneven.at(*angle);
                chain.add(frame, look.time_s, Some((steady, look.variance)));
                seen = true;
            }
            if let Some(state) = body.states[frame].filter(|_| !seen) {
                chain.add(frame, state.time_s, None);
            }
        }
        let looks = &chain.looks;
        chain.counts = counting(&chain.times, |index| looks[index].is_some(), released_s);
        chain
    }

    fn add(&mut self, frame: usize, time_s: f64, look: Option<(f64, f64)>) {
        // A mark's row may be a little before that of a frame without looks.
        let time_s = self.times.last().map_or(time_s, |last| time_s.max(*last));
        self.frames.push(frame);
        self.times.push(time_s);
        self.looks.push(look);
    }

    /// The looks that count, an entry a step.
    fn counting(&self) -> impl Iterator<Item = Option<(f64, f64)>> {
        let looks = self.looks.iter().zip(&self.counts);
        looks.map(|(look, counts)| look.filter(|_| *counts))
    }

    fn first_belief(&self) -> Belief<3> {
        let first = self
            .looks
            .iter()
            .flatten()
            .next()
            .map_or(0.0, |look| look.0);
        let (rate, change) = if self
            .released_s
            .is_some_and(|t| self.times.first().is_some_and(|f| *f < t))
        {
            (0.0, 0.0)
        } else {
            (60.0 * 60.0, START_ACCELERATION * START_ACCELERATION)
        };
        Belief {
            mean: Vector3::new(first, 0.0, 0.0),
            covariance: Matrix3::from_diagonal(&Vector3::new(1.0, rate, change)),
        }
    }

    fn turning_steps(&self, jerk: f64, breaks_s: &[f64]) -> Vec<Step<3>> {
        let breaks: Vec<(usize, f64)> = breaks_s
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
        let last_look = self.looks.iter().rposition(Option::is_some).unwrap_or(0);
        for (step, left_s) in breaks {
            // After the last look a break is known from the car's motion alone, whose own jump it shares.
            let share = if step >= last_look { UNSEEN_SHARE } else { 1.0 };
            let push = push(left_s) * (self.jump * share);
            steps[step].noise += push * push.transpose();
        }
        steps
    }

    fn measured(&self, factor: f64, weights: &[f64]) -> Vec<Option<Look<3, 1>>> {
        self.counting()
            .zip(weights)
            .map(|(look, weight)| {
                look.map(|(value, variance)| Look {
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
        settle(self, ROUGH, &body.settled.breaks_s)
    }

    /// The wheel in each frame, and the log-likelihood of the looks.
    pub(super) fn states(
        &self,
        settled: &Settled,
        ambiguous: &[bool],
        body: &Body,
    ) -> (Vec<Option<WheelState>>, f64) {
        let steps = self.steps(settled.jerk_density, &settled.breaks_s);
        let factor = settled.variance_factor;
        let mut log_likelihood = 0.0;
        let mut weights = vec![1.0; self.looks.len()];
        let mut beliefs = Vec::new();
        for _ in 0..2 {
            let filtered = filter(self.prior(), &steps, &self.measured(factor, &weights));
            log_likelihood = filtered.log_likelihood;
            beliefs = smooth(&filtered, &steps);
            for ((weight, look), belief) in weights.iter_mut().zip(&self.looks).zip(&beliefs) {
                let Some((value, variance)) = look else {
                    continue;
                };
                let off = value - belief.mean[0];
                *weight = (off * off / (variance * factor * OUTLIER * OUTLIER)).max(1.0);
            }
        }
        let beliefs = mixed(beliefs, &settled.open, |moment| {
            let mut breaks_s = settled.breaks_s.clone();
            breaks_s.push(moment);
            let steps = self.steps(settled.jerk_density, &breaks_s);
            let looks = self.measured(factor, &weights);
            smooth(&filter(self.prior(), &steps, &looks), &steps)
        });
        let inflation = self.inflation(&beliefs);
        let last_look = self.looks.iter().rposition(Option::is_some).unwrap_or(0);
        let mut out = vec![None; body.states.len()];
        for (index, belief) in beliefs.iter().enumerate() {
            let frame = self.frames[index];
            let Some(at) = body.states[frame].map(|s| s.time_s) else {
                continue;
            };
            let (forward, _) = jerk_model(at - self.times[index]);
            let shift = Matrix3::from_fn(|i, j| forward[i][j]);
            let mean = shift * belief.mean;
            let mut covariance = shift * belief.covariance * shift.transpose() * inflation;
            let (angle_var, per_rad_var) = self.uneven.variances(mean[0]);
            covariance[(0, 0)] += angle_var;
            covariance[(1, 1)] += per_rad_var * mean[1] * mean[1];
            out[frame] = Some(WheelState {
                mean,
                covariance,
                seen: self.looks[index].is_some(),
                ambiguous: ambiguous[frame],
                forecast: index > last_look + FORECAST_FRAMES,
                look: self.looks[index].map(|(steady, var)| {
                    let seen = self.uneven.seen(steady);
                    (seen + belief.mean[1] * (at - self.times[index]), var)
                }),
            });
        }
        (out, log_likelihood)
    }

    /// How much errors that repeat from frame to frame widen what independent ones would give.
    fn inflation(&self, beliefs: &[Belief<3>]) -> f64 {
        let residuals: Vec<_> = self
            .counting()
            .zip(beliefs)
            .map(|(look, belief)| look.map(|(value, _)| Vector1::new(value - belief.mean[0])))
            .collect();
        integrated_autocorrelation(&residuals)
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

impl Breaking<3, 1> for Chain {
    /// Errors of a small mark's angle are alike for several frames, and pass for a break of little gain.
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

    fn prior(&self) -> Belief<3> {
        self.first_belief()
    }

    fn steps(&self, jerk_density: f64, breaks_s: &[f64]) -> Vec<Step<3>> {
        self.turning_steps(jerk_density, breaks_s)
    }

    fn looks(&self, variance_factor: f64) -> Vec<Option<Look<3, 1>>> {
        self.measured(variance_factor, &vec![1.0; self.looks.len()])
    }

    fn push(&self, _step: usize, left_s: f64) -> Vector3<f64> {
        push(left_s)
    }
}

#[cfg(test)]
mod tests;
