//! Moments at which a motion that is smooth otherwise jumps in its change of pace: the string runs out, a spinning
//! wheel grips again. The acceleration jumps there, and a smoother that does not know it rounds the speed off to both
//! sides.
//!
//! They are found one after another where one explains the observations best, each only if it is worth more
//! than such a search finds by chance; the smoother is tuned anew with each, because a motion that had to
//! follow a jump passed for a restless one.

use crate::noise::weighed_by_likelihood;
use crate::smoothing::{
    Filtered, Observation, StateEstimate, Step, filter, likelihood, maximise, sensitivities,
};
use nalgebra::SVector;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// No more change points than this: release aside, a run has an end of slip and an end of pull, and an end of
/// rolling.
const MAX_CHANGE_POINTS: usize = 5;
/// Moments tried within a step.
const PARTS: usize = 8;
/// A change point this near to the end of the view is never sure: one odd observation passes for it.
const END_STEPS: usize = 5;
/// Breaks that a run has and that were not found, before the observations are asked: about one, and more where none
/// was found, since a pull must end some time.
const UNFOUND: [f64; 2] = [1.0, 3.0];
/// Two change points are at least this many steps apart: closer ones are one that the smoother may spread.
const APART_STEPS: usize = 3;
/// A change point that is placed again may move by this many steps.
const MOVED_STEPS: usize = 4;

/// What a smoother settled on, to be kept for repeats on slightly other inputs.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// Spectral density of the third derivative.
    pub jerk_density: f64,
    /// Factor between the variances seen and those that the disc fits claim.
    pub variance_factor: f64,
    /// Moments at which the acceleration may jump, s.
    pub change_points_s: Vec<f64>,
    /// Their standard uncertainties, s.
    pub change_points_sd_s: Vec<f64>,
    /// Moments of one change point more that the observations leave open (the string ran out just before the car left
    /// the view, say), and how likely each is.
    pub open: Vec<(f64, f64)>,
}

impl Settled {
    /// The same with each change point moved at random within its uncertainty, and no more left open.
    #[must_use]
    pub fn drawn(&self, random: &mut impl Rng) -> Self {
        let moved = |(moment, sd): (&f64, &f64)| {
            let normal: f64 = StandardNormal.sample(random);
            moment + normal * sd
        };
        Self {
            change_points_s: self
                .change_points_s
                .iter()
                .zip(&self.change_points_sd_s)
                .map(moved)
                .collect(),
            open: Vec::new(),
            ..self.clone()
        }
    }
}

/// A motion that may break.
pub(super) trait Jumping<const N: usize, const M: usize> {
    /// Gain in log-likelihood that a change point must bring beyond the search's own price: the logarithm of how many
    /// times more steps it was looked for in than share in being its likeliest place.
    const MIN_GAIN: f64;
    /// Within which the density of the third derivative is sought.
    const JERK_DENSITIES: (f64, f64);
    /// Typical size of a jump of the acceleration.
    fn jump(&self) -> f64;
    /// Times of the states.
    fn times_s(&self) -> &[f64];
    /// First step in which a change point may be.
    fn first_step(&self) -> usize;
    /// What is known before the first observation.
    fn prior(&self) -> StateEstimate<N>;
    /// From time to time, with this density of the third derivative and these change points.
    fn steps(&self, jerk_density: f64, change_points_s: &[f64]) -> Vec<Step<N>>;
    /// The observations, with this factor on the variances that were claimed.
    fn observations(&self, variance_factor: f64) -> Vec<Option<Observation<N, M>>>;
    /// What a unit jump of the acceleration `left_s` before the end of a step does to the state there.
    fn push(&self, step: usize, left_s: f64) -> SVector<f64, N>;
}

/// Within which the factor on the claimed variances is sought.
const VARIANCE_FACTORS: (f64, f64) = (0.1, 400.0);

/// ... and how closely the logarithms of both are: half a percent of a standard uncertainty.
const TOLERANCE: f64 = 0.01;

/// A motion under the noises that the search has come to.
struct Settling<'a, B> {
    motion: &'a B,
    jerk_density: f64,
    variance_factor: f64,
}

/// A motion, filtered.
struct Fitted<const N: usize, const M: usize> {
    steps: Vec<Step<N>>,
    observations: Vec<Option<Observation<N, M>>>,
    filtered: Filtered<N>,
}

impl<B> Settling<'_, B> {
    /// The motion with these change points under the present noises.
    fn fitted<const N: usize, const M: usize>(&self, change_points_s: &[f64]) -> Fitted<N, M>
    where
        B: Jumping<N, M>,
    {
        let steps = self.motion.steps(self.jerk_density, change_points_s);
        let observations = self.motion.observations(self.variance_factor);
        let filtered = filter(self.motion.prior(), &steps, &observations);
        Fitted {
            steps,
            observations,
            filtered,
        }
    }

    /// The same under noises of greatest likelihood, each found in turn.
    fn tuned<const N: usize, const M: usize>(&mut self, change_points_s: &[f64]) -> Fitted<N, M>
    where
        B: Jumping<N, M>,
    {
        let (motion, prior) = (self.motion, self.motion.prior());
        for _ in 0..3 {
            let (low, high) = VARIANCE_FACTORS;
            let steps = motion.steps(self.jerk_density, change_points_s);
            self.variance_factor = maximise(low.ln(), high.ln(), TOLERANCE, |log| {
                likelihood(prior, &steps, &motion.observations(log.exp())).0
            })
            .exp();
            let (low, high) = B::JERK_DENSITIES;
            let observations = motion.observations(self.variance_factor);
            self.jerk_density = maximise(low.ln(), high.ln(), TOLERANCE, |log| {
                likelihood(
                    prior,
                    &motion.steps(log.exp(), change_points_s),
                    &observations,
                )
                .0
            })
            .exp();
        }
        self.fitted(change_points_s)
    }
}

/// Which step of `times_s` a moment falls into, and how much of the step is left.
pub(super) fn step_of(times_s: &[f64], moment_s: f64) -> Option<(usize, f64)> {
    let next = times_s.partition_point(|time| *time <= moment_s);
    let step = next.checked_sub(1)?;
    Some((step, times_s.get(next)? - moment_s))
}

/// Noises and change points of greatest likelihood, those change points that are `known_s` beforehand among them. The
/// search starts at the noises of `rough`.
pub(super) fn settle<const N: usize, const M: usize, B: Jumping<N, M>>(
    motion: &B,
    rough: (f64, f64),
    known_s: &[f64],
) -> Settled {
    let mut model = Settling {
        motion,
        jerk_density: rough.0,
        variance_factor: rough.1,
    };
    let mut change_points: Vec<f64> = known_s.to_vec();
    model.tuned(&change_points);
    placed_again(&model, &mut change_points);
    let mut best = model.tuned(&change_points);
    let steps = best.steps.len().max(1) as f64;
    while change_points.len() < MAX_CHANGE_POINTS + known_s.len() {
        let tries = before_the_end(motion, gains(motion, &best, &change_points, None));
        let Some((_, moment)) = most_worth(&tries) else {
            break;
        };
        let mut tried = change_points.clone();
        tried.push(moment);
        model.tuned(&tried);
        placed_again(&model, &mut tried);
        let fitted = model.tuned(&tried);
        let gain = fitted.filtered.log_likelihood - best.filtered.log_likelihood;
        if gain + (places(&tries) / steps).ln() < B::MIN_GAIN {
            break;
        }
        change_points = tried;
        best = fitted;
    }
    let fitted = model.tuned(&change_points);
    change_points.sort_by(f64::total_cmp);
    Settled {
        jerk_density: model.jerk_density,
        variance_factor: model.variance_factor,
        open: left_open(
            &gains(motion, &fitted, &change_points, None),
            UNFOUND[usize::from(change_points.is_empty())] / steps,
        ),
        change_points_sd_s: (0..change_points.len())
            .map(|index| spread(&gains_about(&model, &change_points, index)))
            .collect(),
        change_points_s: change_points,
    }
}

/// How likely a change point that was not found is, at most.
const MOST_OPEN: f64 = 1.0 / 3.0;
/// Steps at which a change point is left open, at most.
const OPEN_STEPS: usize = 6;

/// Moments of one change point more and how likely each is; before the observations are asked, each step has one with
/// the same `odds_a_step`.
fn left_open(tries: &[(f64, f64)], odds_a_step: f64) -> Vec<(f64, f64)> {
    let mut open: Vec<(f64, f64)> = tries
        .chunks(PARTS)
        .filter_map(|step| {
            let (_, moment) = most_worth(step)?;
            let odds = step.iter().map(|(gain, _)| gain.exp()).sum::<f64>();
            Some((moment, odds_a_step * odds / PARTS as f64))
        })
        .collect();
    let odds = open.iter().map(|(_, odds)| odds).sum::<f64>();
    // No more than a third in all: observations with errors out of the ordinary pass for a change point, too.
    let all = (1.0 + odds).max(odds / MOST_OPEN);
    open.sort_by(|a, b| b.1.total_cmp(&a.1));
    open.truncate(OPEN_STEPS);
    for (_, odds) in &mut open {
        *odds /= all;
    }
    open
}

/// The state estimates of a motion with the change points that are sure, mixed with those that one change point more
/// would give: mean and covariance of the mixture.
pub(super) fn mixed<const N: usize>(
    sure: Vec<StateEstimate<N>>,
    open: &[(f64, f64)],
    with: impl Fn(f64) -> Vec<StateEstimate<N>>,
) -> Vec<StateEstimate<N>> {
    let others: Vec<(f64, Vec<StateEstimate<N>>)> = open
        .iter()
        .map(|(moment, share)| (*share, with(*moment)))
        .collect();
    let of_sure = 1.0 - open.iter().map(|(_, share)| share).sum::<f64>();
    sure.into_iter()
        .enumerate()
        .map(|(index, estimate)| {
            let mut shift = SVector::<f64, N>::zeros();
            let mut covariance = estimate.covariance * of_sure;
            for (share, estimates) in &others {
                let off = estimates[index].mean - estimate.mean;
                shift += off * *share;
                covariance += (estimates[index].covariance + off * off.transpose()) * *share;
            }
            StateEstimate {
                mean: estimate.mean + shift,
                covariance: covariance - shift * shift.transpose(),
            }
        })
        .collect()
}

/// Those that are far enough from the end of the view to be sure.
fn before_the_end<const N: usize, const M: usize, B: Jumping<N, M>>(
    motion: &B,
    mut tries: Vec<(f64, f64)>,
) -> Vec<(f64, f64)> {
    let times = motion.times_s();
    let last = times.get(times.len().saturating_sub(END_STEPS + 1));
    tries.retain(|(_, moment)| last.is_some_and(|last| moment < last));
    tries
}

/// Moves each change point to where it is worth most, the others kept. Where nothing was seen one place is as good
/// as another, and a change point stays where it was.
fn placed_again<const N: usize, const M: usize, B: Jumping<N, M>>(
    model: &Settling<'_, B>,
    change_points: &mut [f64],
) {
    for index in 0..change_points.len() {
        let tries = before_the_end(model.motion, gains_about(model, change_points, index));
        if let Some((gain, moment)) = most_worth(&tries)
            && gain > B::MIN_GAIN
        {
            change_points[index] = moment;
        }
    }
}

/// What a change point would gain at moments about one of those that there are, in its place.
fn gains_about<const N: usize, const M: usize, B: Jumping<N, M>>(
    model: &Settling<'_, B>,
    change_points: &[f64],
    index: usize,
) -> Vec<(f64, f64)> {
    let mut others = change_points.to_vec();
    let own = others.remove(index);
    let fitted = model.fitted(&others);
    gains(model.motion, &fitted, &others, Some(own))
}

/// Gain and moment of every change point that may be added to those `taken_s`; near `about_s` where that is given.
fn gains<const N: usize, const M: usize, B: Jumping<N, M>>(
    motion: &B,
    fitted: &Fitted<N, M>,
    taken_s: &[f64],
    about_s: Option<f64>,
) -> Vec<(f64, f64)> {
    let times = motion.times_s();
    let sensitive = sensitivities(&fitted.filtered, &fitted.steps, &fitted.observations);
    let step_at = |moment: &f64| step_of(times, *moment).map(|(step, _)| step);
    let taken: Vec<usize> = taken_s.iter().filter_map(step_at).collect();
    let about = about_s.and_then(|moment| step_at(&moment));
    (motion.first_step()..fitted.steps.len())
        .filter(|step| taken.iter().all(|t| t.abs_diff(*step) >= APART_STEPS))
        .filter(|step| about.is_none_or(|at| at.abs_diff(*step) <= MOVED_STEPS))
        .flat_map(|step| (0..PARTS).map(move |part| (step, part)))
        .map(|(step, part)| {
            let length = times[step + 1] - times[step];
            let left_s = length * (part as f64 + 0.5) / PARTS as f64;
            let push = motion.push(step, left_s);
            let gain = sensitive[step + 1].gain(&push, motion.jump());
            (gain, times[step + 1] - left_s)
        })
        .collect()
}

/// How many steps share in being the likeliest place.
fn places(tries: &[(f64, f64)]) -> f64 {
    let most = most_worth(tries).map_or(0.0, |(gain, _)| gain);
    tries
        .iter()
        .map(|(gain, _)| (gain - most).exp())
        .sum::<f64>()
        / PARTS as f64
}

fn most_worth(tries: &[(f64, f64)]) -> Option<(f64, f64)> {
    tries.iter().copied().max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Standard deviation of the moment, each weighing by its likelihood.
fn spread(tries: &[(f64, f64)]) -> f64 {
    let moments = tries.iter().map(|(gain, moment)| (*moment, *gain));
    weighed_by_likelihood(&moments).map_or(0.0, |(_, spread)| spread)
}

#[cfg(test)]
mod tests {
    use super::super::jerk_model;
    use super::*;
    use crate::smoothing::smooth;
    use nalgebra::{Matrix1, Matrix3, RowVector3, Vector1, Vector3};
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    const NOISE_M: f64 = 0.0003;
    const ENDS_S: f64 = 1.004;

    /// A way of constant acceleration, and of another from [`ENDS_S`] on: closed form.
    fn way(time_s: f64, before: f64, after: f64) -> f64 {
        let (until, since) = (time_s.min(ENDS_S), (time_s - ENDS_S).max(0.0));
        before * until * until / 2.0 + before * ENDS_S * since + after * since * since / 2.0
    }

    struct Car {
        times_s: Vec<f64>,
        observations: Vec<Option<Observation<3, 1>>>,
    }

    impl Car {
        fn seen(before: f64, after: f64) -> Self {
            let mut random = ChaCha8Rng::seed_from_u64(5);
            let times_s: Vec<f64> = (0..96).map(|i| f64::from(i) / 60.0).collect();
            let observation = |time: &f64| {
                let noise: f64 = StandardNormal.sample(&mut random);
                Some(Observation {
                    design: RowVector3::new(1.0, 0.0, 0.0),
                    value: Vector1::new(way(*time, before, after) + NOISE_M * noise),
                    noise: Matrix1::new(NOISE_M * NOISE_M),
                })
            };
            Self {
                observations: times_s.iter().map(observation).collect(),
                times_s,
            }
        }

        /// Speeds smoothed with these change points.
        fn speeds(&self, settled: &Settled, change_points_s: &[f64]) -> Vec<f64> {
            let steps = self.steps(settled.jerk_density, change_points_s);
            let filtered = filter(
                self.prior(),
                &steps,
                &self.observations(settled.variance_factor),
            );
            let estimates = smooth(&filtered, &steps);
            estimates.iter().map(|estimate| estimate.mean[1]).collect()
        }
    }

    impl Jumping<3, 1> for Car {
        const MIN_GAIN: f64 = 0.5;
        const JERK_DENSITIES: (f64, f64) = (1e-3, 1e4);

        fn jump(&self) -> f64 {
            1.5
        }

        fn times_s(&self) -> &[f64] {
            &self.times_s
        }

        fn first_step(&self) -> usize {
            0
        }

        fn prior(&self) -> StateEstimate<3> {
            StateEstimate {
                mean: Vector3::zeros(),
                covariance: Matrix3::from_diagonal(&Vector3::new(1e-6, 1e-6, 9.0)),
            }
        }

        fn steps(&self, jerk_density: f64, change_points_s: &[f64]) -> Vec<Step<3>> {
            let step = |pair: &[f64]| {
                let (transition, unit) = jerk_model(pair[1] - pair[0]);
                Step {
                    transition: Matrix3::from_fn(|i, j| transition[i][j]),
                    offset: Vector3::zeros(),
                    noise: Matrix3::from_fn(|i, j| unit[i][j]) * jerk_density,
                }
            };
            let mut steps: Vec<Step<3>> = self.times_s.windows(2).map(step).collect();
            for moment in change_points_s {
                let (at, left_s) = step_of(&self.times_s, *moment).expect("within the run");
                let push = self.push(at, left_s) * self.jump();
                steps[at].noise += push * push.transpose();
            }
            steps
        }

        fn observations(&self, variance_factor: f64) -> Vec<Option<Observation<3, 1>>> {
            let scaled = |one: &Option<Observation<3, 1>>| {
                one.map(|one| one.with_noise_times(variance_factor))
            };
            self.observations.iter().map(scaled).collect()
        }

        fn push(&self, _step: usize, left_s: f64) -> Vector3<f64> {
            Vector3::new(left_s * left_s / 2.0, left_s, 1.0)
        }
    }

    const ROUGH: (f64, f64) = (1.0, 1.0);

    #[test]
    fn a_pull_that_ends_at_once_is_found_and_its_peak_is_not_rounded() {
        let car = Car::seen(1.2, -0.25);
        let mut smooth = Settling {
            motion: &car,
            jerk_density: ROUGH.0,
            variance_factor: ROUGH.1,
        };
        smooth.tuned(&[]);
        let unbroken = Settled {
            jerk_density: smooth.jerk_density,
            variance_factor: smooth.variance_factor,
            change_points_s: Vec::new(),
            change_points_sd_s: Vec::new(),
            open: Vec::new(),
        };
        let worst = |speeds: &[f64]| {
            let near = car.times_s.iter().zip(speeds);
            near.filter(|(t, _)| (*t - ENDS_S).abs() < 0.1)
                .map(|(t, v)| {
                    let since = (t - ENDS_S).max(0.0);
                    (v - (1.2 * t.min(ENDS_S) - 0.25 * since)).abs()
                })
                .fold(0.0, f64::max)
        };
        let rounded = worst(&car.speeds(&unbroken, &[]));
        let settled = settle(&car, ROUGH, &[]);
        let (change_points_s, sds_s) = (&settled.change_points_s, &settled.change_points_sd_s);
        assert_eq!(change_points_s.len(), 1, "{change_points_s:?}");
        let off = (change_points_s[0] - ENDS_S).abs();
        assert!(sds_s[0] < 0.006 && off < 3.0 * sds_s[0], "{off} {sds_s:?}");
        let sharp = worst(&car.speeds(&settled, change_points_s));
        assert!(
            rounded > 0.012 && sharp < 0.4 * rounded,
            "{rounded} {sharp}"
        );
    }

    #[test]
    fn a_steady_pull_has_no_break() {
        assert_eq!(
            settle(&Car::seen(1.2, 1.2), ROUGH, &[]).change_points_s,
            [0.0; 0]
        );
    }

    /// Where nothing is seen of it, a change point that is known beforehand stays where it is.
    #[test]
    fn a_known_break_after_the_last_look_stays() {
        let mut car = Car::seen(1.2, 1.2);
        for observation in &mut car.observations[80..] {
            *observation = None;
        }
        let known = car.times_s[90] + 0.004;
        assert_eq!(settle(&car, ROUGH, &[known]).change_points_s, [known]);
    }
}
