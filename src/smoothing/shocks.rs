//! Where a sudden push would explain the observations better than a smooth motion does.
//!
//! One backward pass over a filtered series gives, at every time, the slope and the information of the
//! log-likelihood in a push added to the state: what any push at any time would gain follows from these
//! without another fit.
//!
//! # Source
//! P. de Jong and J. Penzer, Diagnosing shocks in time series, J. Amer. Statist. Assoc. 93 (1998) 796; the
//! recursions are those of the disturbance smoother, J. Durbin and S. J. Koopman, Time Series Analysis by
//! State Space Methods, 2nd ed., section 4.5. Both from memory.

use super::{Filtered, Observation, Step};
use nalgebra::{SMatrix, SVector};

/// How the log-likelihood of all observations depends on a push that the state gets on its way to one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensitivity<const N: usize> {
    /// Its slope.
    pub slope: SVector<f64, N>,
    /// Its information: the negative of its second derivative.
    pub information: SMatrix<f64, N, N>,
}

impl<const N: usize> Sensitivity<N> {
    /// What a push along `direction`, of a size known beforehand to about `sd` times it, would gain in
    /// log-likelihood, its size averaged over.
    pub fn gain(&self, direction: &SVector<f64, N>, sd: f64) -> f64 {
        let slope = direction.dot(&self.slope) * sd;
        // Rounding may leave a shade of less than nothing where nothing was seen.
        let information = (direction.dot(&(self.information * direction)) * sd * sd).max(0.0);
        0.5 * (slope * slope / (1.0 + information) - information.ln_1p())
    }
}

/// The sensitivity at each time, before that time's look.
pub fn sensitivities<const N: usize, const M: usize>(
    filtered: &Filtered<N>,
    steps: &[Step<N>],
    observations: &[Option<Observation<N, M>>],
) -> Vec<Sensitivity<N>> {
    let mut behind = Sensitivity {
        slope: SVector::zeros(),
        information: SMatrix::zeros(),
    };
    let mut out = vec![behind; observations.len()];
    for index in (0..observations.len()).rev() {
        // What is known of the state after this time's look, from all that follows it.
        if let Some(step) = steps.get(index) {
            let back = step.transition.transpose();
            behind = Sensitivity {
                slope: back * behind.slope,
                information: back * behind.information * step.transition,
            };
        }
        let predicted = &filtered.predicted[index];
        if let Some(observation) = &observations[index] {
            let across = predicted.covariance * observation.design.transpose();
            if let Some(inverse) = (observation.design * across + observation.noise).try_inverse() {
                let keep = SMatrix::<f64, N, N>::identity() - across * inverse * observation.design;
                let told = observation.design.transpose() * inverse;
                behind = Sensitivity {
                    slope: told * (observation.value - observation.design * predicted.mean)
                        + keep.transpose() * behind.slope,
                    information: told * observation.design
                        + keep.transpose() * behind.information * keep,
                };
            }
        }
        out[index] = behind;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::{StateEstimate, filter};
    use super::*;
    use nalgebra::{Matrix2, Vector1, Vector2};

    fn series() -> (
        StateEstimate<2>,
        Vec<Step<2>>,
        Vec<Option<Observation<2, 1>>>,
    ) {
        let start = StateEstimate {
            mean: Vector2::new(0.1, -0.2),
            covariance: Matrix2::new(0.5, 0.1, 0.1, 0.4),
        };
        let step = Step {
            transition: Matrix2::new(1.0, 0.3, 0.0, 0.9),
            offset: Vector2::new(0.02, 0.0),
            noise: Matrix2::new(0.01, 0.002, 0.002, 0.05),
        };
        let values = [0.0, 0.1, 0.3, 0.2, 1.1, 1.6, 2.0, 2.6];
        let observations = values.iter().enumerate().map(|(i, value)| {
            (i != 2).then(|| Observation {
                design: SMatrix::<f64, 1, 2>::new(1.0, 0.05),
                value: Vector1::new(*value),
                noise: Vector1::new(0.02),
            })
        });
        (start, vec![step; values.len() - 1], observations.collect())
    }

    /// The gain must be what a filter with the push as extra noise finds, at every time and for any
    /// direction: that is what it stands in for.
    #[test]
    fn a_gain_is_the_likelihood_ratio_of_a_filter_with_the_push() {
        let (start, steps, observations) = series();
        let plain = filter(start, &steps, &observations);
        let sensitive = sensitivities(&plain, &steps, &observations);
        for (at, direction) in [
            (1, [0.0, 1.0]),
            (3, [0.2, 1.0]),
            (4, [1.0, 0.0]),
            (7, [0.3, 0.3]),
        ] {
            let direction = Vector2::from(direction);
            let mut pushed = steps.clone();
            pushed[at - 1].noise += direction * direction.transpose() * 0.49;
            let ratio = filter(start, &pushed, &observations).log_likelihood - plain.log_likelihood;
            let gain = sensitive[at].gain(&direction, 0.7);
            assert!((gain - ratio).abs() < 1e-9, "at {at}: {gain} and {ratio}");
        }
    }
}
