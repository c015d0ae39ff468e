//! Kalman filter and Rauch-Tung-Striebel smoother for linear models with an offset.
//!
//! A curved model is smoothed by linearising it about a trajectory, smoothing, and doing it again
//! about the result: each pass is linear, and this file is all the filtering there is.
//!
//! # Source
//! R. E. Kalman, J. Basic Eng. 82 (1960) 35; H. E. Rauch, F. Tung, C. T. Striebel, AIAA J. 3 (1965)
//! 1445. The likelihood is the prediction-error decomposition, J. Durbin and S. J. Koopman, Time
//! Series Analysis by State Space Methods, 2nd ed., section 7.2.

mod shocks;
#[cfg(test)]
mod tests;

pub use shocks::{Sensitivity, sensitivities};

use nalgebra::{SMatrix, SVector};

/// How the state goes from one time to the next: `next = transition * state + offset + noise`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step<const N: usize> {
    /// Transition matrix.
    pub transition: SMatrix<f64, N, N>,
    /// Constant part.
    pub offset: SVector<f64, N>,
    /// Covariance of the noise.
    pub noise: SMatrix<f64, N, N>,
}

/// What was measured at a time: `value = design * state + noise`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation<const N: usize, const M: usize> {
    /// Design matrix.
    pub design: SMatrix<f64, M, N>,
    /// Measured value.
    pub value: SVector<f64, M>,
    /// Covariance of the measurement.
    pub noise: SMatrix<f64, M, M>,
}

impl<const N: usize, const M: usize> Observation<N, M> {
    /// The same with that many times the covariance.
    #[must_use]
    pub fn with_noise_times(self, factor: f64) -> Self {
        Self {
            noise: self.noise * factor,
            ..self
        }
    }
}

/// Mean and covariance of the state at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StateEstimate<const N: usize> {
    /// Mean.
    pub mean: SVector<f64, N>,
    /// Covariance.
    pub covariance: SMatrix<f64, N, N>,
}

/// Outcome of a forward pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Filtered<const N: usize> {
    /// Before each time's measurement.
    pub predicted: Vec<StateEstimate<N>>,
    /// After it.
    pub updated: Vec<StateEstimate<N>>,
    /// Log-likelihood of all measurements.
    pub log_likelihood: f64,
}

/// Forward pass. `steps[i]` leads from time i to time i + 1; `observations[i]` was measured at time i.
pub fn filter<const N: usize, const M: usize>(
    start: StateEstimate<N>,
    steps: &[Step<N>],
    observations: &[Option<Observation<N, M>>],
) -> Filtered<N> {
    let mut predicted = Vec::with_capacity(observations.len());
    let mut updated = Vec::with_capacity(observations.len());
    let mut log_likelihood = 0.0;
    let mut estimate = start;
    for (index, observation) in observations.iter().enumerate() {
        if let Some(step) = index.checked_sub(1).and_then(|before| steps.get(before)) {
            estimate = StateEstimate {
                mean: step.transition * estimate.mean + step.offset,
                covariance: step.transition * estimate.covariance * step.transition.transpose()
                    + step.noise,
            };
        }
        predicted.push(estimate);
        if let Some(observation) = observation
            && let Some((after, gain)) = update(&estimate, observation)
        {
            estimate = after;
            log_likelihood += gain;
        }
        updated.push(estimate);
    }
    Filtered {
        predicted,
        updated,
        log_likelihood,
    }
}

/// A state estimate after an observation, and the log-likelihood of that observation; `None` where it has no spread.
pub fn update<const N: usize, const M: usize>(
    estimate: &StateEstimate<N>,
    observation: &Observation<N, M>,
) -> Option<(StateEstimate<N>, f64)> {
    let innovation = observation.value - observation.design * estimate.mean;
    let across = estimate.covariance * observation.design.transpose();
    let spread = observation.design * across + observation.noise;
    let inverse = spread.try_inverse()?;
    let gain = across * inverse;
    let keep = SMatrix::<f64, N, N>::identity() - gain * observation.design;
    // Joseph form: stays symmetric and positive however small the noise.
    let covariance =
        keep * estimate.covariance * keep.transpose() + gain * observation.noise * gain.transpose();
    let distance = (innovation.transpose() * inverse * innovation)[(0, 0)];
    let log_det = -log_determinant(&inverse);
    let log_two_pi = std::f64::consts::TAU.ln();
    let likelihood = -0.5 * (M as f64 * log_two_pi + log_det + distance);
    Some((
        StateEstimate {
            mean: estimate.mean + gain * innovation,
            covariance,
        },
        likelihood,
    ))
}

/// ln of the determinant of a small symmetric positive matrix (M is 1 or 2 here).
fn log_determinant<const M: usize>(matrix: &SMatrix<f64, M, M>) -> f64 {
    let dynamic = nalgebra::DMatrix::from_column_slice(M, M, matrix.as_slice());
    dynamic.determinant().max(1e-300).ln()
}

/// Backward pass: the state estimate at each time given all measurements.
pub fn smooth<const N: usize>(filtered: &Filtered<N>, steps: &[Step<N>]) -> Vec<StateEstimate<N>> {
    let mut out = filtered.updated.clone();
    for index in (0..out.len().saturating_sub(1)).rev() {
        let ahead = &filtered.predicted[index + 1];
        let here = &filtered.updated[index];
        let Some(gain) = smoother_gain(here, &steps[index], &ahead.covariance) else {
            continue;
        };
        let mean = here.mean + gain * (out[index + 1].mean - ahead.mean);
        let covariance = here.covariance
            + gain * (out[index + 1].covariance - ahead.covariance) * gain.transpose();
        out[index] = StateEstimate {
            mean,
            covariance: (covariance + covariance.transpose()) * 0.5,
        };
    }
    out
}

/// `P Fᵀ P_ahead⁻¹`; the pseudo-inverse copes with states that are known exactly (a car at rest).
fn smoother_gain<const N: usize>(
    here: &StateEstimate<N>,
    step: &Step<N>,
    ahead: &SMatrix<f64, N, N>,
) -> Option<SMatrix<f64, N, N>> {
    // Scale to a unit diagonal first: metres, radians and 1/m differ by orders of magnitude.
    let scale = SVector::<f64, N>::from_fn(|i, _| {
        let variance = ahead[(i, i)];
        if variance > 0.0 {
            1.0 / variance.sqrt()
        } else {
            0.0
        }
    });
    let scaled = SMatrix::<f64, N, N>::from_fn(|i, j| {
        let value = ahead[(i, j)] * scale[i] * scale[j];
        if i == j {
            value + if scale[i] == 0.0 { 1.0 } else { 1e-12 }
        } else {
            value
        }
    });
    let inverse = scaled.try_inverse()?;
    let ahead_inverse = SMatrix::<f64, N, N>::from_fn(|i, j| inverse[(i, j)] * scale[i] * scale[j]);
    Some(here.covariance * step.transition.transpose() * ahead_inverse)
}

/// Log-likelihood maximised over a scale parameter by golden section on its logarithm.
///
/// Returns the logarithm (base e) at the maximum.
pub fn maximise(low: f64, high: f64, tries: usize, likelihood: impl Fn(f64) -> f64) -> f64 {
    // (√5 − 1) / 2.
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (low, high);
    let (mut x, mut y) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut fx, mut fy) = (likelihood(x), likelihood(y));
    for _ in 0..tries {
        if fx > fy {
            (b, y, fy) = (y, x, fx);
            x = b - GOLDEN * (b - a);
            fx = likelihood(x);
        } else {
            (a, x, fx) = (x, y, fy);
            y = a + GOLDEN * (b - a);
            fy = likelihood(y);
        }
    }
    f64::midpoint(a, b)
}
