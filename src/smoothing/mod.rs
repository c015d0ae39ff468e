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
    let (log_likelihood, _) = pass(start, steps, observations, |before, after| {
        predicted.push(*before);
        updated.push(*after);
    });
    Filtered {
        predicted,
        updated,
        log_likelihood,
    }
}

/// The log-likelihood that [`filter`] finds, and the last state after its measurement; nothing on the way is kept.
pub fn likelihood<const N: usize, const M: usize>(
    start: StateEstimate<N>,
    steps: &[Step<N>],
    observations: &[Option<Observation<N, M>>],
) -> (f64, StateEstimate<N>) {
    pass(start, steps, observations, |_, _| {})
}

/// The forward pass; `each` is told the state before and after each time's measurement.
fn pass<const N: usize, const M: usize>(
    start: StateEstimate<N>,
    steps: &[Step<N>],
    observations: &[Option<Observation<N, M>>],
    mut each: impl FnMut(&StateEstimate<N>, &StateEstimate<N>),
) -> (f64, StateEstimate<N>) {
    let mut log_likelihood = 0.0;
    let mut estimate = start;
    for (index, observation) in observations.iter().enumerate() {
        if let Some(step) = index.checked_sub(1).and_then(|before| steps.get(before)) {
            estimate = StateEstimate {
                mean: step.transition * estimate.mean + step.offset,
                covariance: carried(&step.transition, &estimate.covariance) + step.noise,
            };
        }
        let before = estimate;
        if let Some(observation) = observation
            && let Some((after, gain)) = update(&estimate, observation)
        {
            estimate = after;
            log_likelihood += gain;
        }
        each(&before, &estimate);
    }
    (log_likelihood, estimate)
}

/// `F P Fᵀ`. Most entries of a large transition are 0, and are passed over.
fn carried<const N: usize>(
    transition: &SMatrix<f64, N, N>,
    covariance: &SMatrix<f64, N, N>,
) -> SMatrix<f64, N, N> {
    if N <= SMALL {
        return transition * covariance * transition.transpose();
    }
    let by_transpose = |of: &SMatrix<f64, N, N>| {
        let mut out = SMatrix::<f64, N, N>::zeros();
        for k in 0..N {
            for j in 0..N {
                let factor = transition[(j, k)];
                if factor != 0.0 {
                    for i in 0..N {
                        out[(i, j)] += of[(i, k)] * factor;
                    }
                }
            }
        }
        out
    };
    let half = by_transpose(covariance);
    by_transpose(&half.transpose()).transpose()
}

/// States of no more numbers than this are carried faster than their transitions are searched for zeros.
const SMALL: usize = 6;

/// A state estimate after an observation, and the log-likelihood of that observation; `None` where it has no spread.
pub fn update<const N: usize, const M: usize>(
    estimate: &StateEstimate<N>,
    observation: &Observation<N, M>,
) -> Option<(StateEstimate<N>, f64)> {
    Gain::of(estimate, observation).map(|gain| gain.taken(estimate, observation))
}

/// How an observation is taken: all but its value is in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain<const N: usize, const M: usize> {
    matrix: SMatrix<f64, N, M>,
    /// Of the innovation's covariance.
    inverse: SMatrix<f64, M, M>,
    log_determinant: f64,
    /// Of the state afterwards.
    covariance: SMatrix<f64, N, N>,
}

impl<const N: usize, const M: usize> Gain<N, M> {
    /// `None` where the observation has no spread.
    pub fn of(estimate: &StateEstimate<N>, observation: &Observation<N, M>) -> Option<Self> {
        let across = estimate.covariance * observation.design.transpose();
        let spread = observation.design * across + observation.noise;
        let inverse = spread.try_inverse()?;
        let gain = across * inverse;
        // Joseph form, `(I - K H) P (I - K H)ᵀ + K R Kᵀ`: stays symmetric and positive however small the noise. Each
        // factor changes P by no more than the rank of the observation. `H P` is not taken as the transpose of `P Hᵀ`: what
        // rounding leaves between the two would grow from step to step.
        let kept = estimate.covariance - gain * (observation.design * estimate.covariance);
        let left = gain * observation.noise - kept * observation.design.transpose();
        Some(Self {
            matrix: gain,
            inverse,
            log_determinant: -log_determinant(&inverse),
            covariance: kept + left * gain.transpose(),
        })
    }

    /// The state after an observation of this design and noise, and the observation's log-likelihood.
    pub fn taken(
        &self,
        estimate: &StateEstimate<N>,
        observation: &Observation<N, M>,
    ) -> (StateEstimate<N>, f64) {
        let innovation = observation.value - observation.design * estimate.mean;
        let distance = (innovation.transpose() * self.inverse * innovation)[(0, 0)];
        let log_two_pi = std::f64::consts::TAU.ln();
        let likelihood = -0.5 * (M as f64 * log_two_pi + self.log_determinant + distance);
        let after = StateEstimate {
            mean: estimate.mean + self.matrix * innovation,
            covariance: self.covariance,
        };
        (after, likelihood)
    }
}

/// ln of the determinant of a small symmetric positive matrix (M is 1 or 2 here).
fn log_determinant<const M: usize>(matrix: &SMatrix<f64, M, M>) -> f64 {
    let determinant = match matrix.as_slice() {
        [only] => *only,
        [a, b, c, d] => a * d - b * c,
        more => nalgebra::DMatrix::from_column_slice(M, M, more).determinant(),
    };
    determinant.max(1e-300).ln()
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

/// How unlike a smoother makes its own residuals, by lag from 1 to `lags`: the mean of `tr(H P(t, t + lag) Hᵀ)` over that
/// of `tr(R - H P Hᵀ)`. Of independent errors it leaves residuals whose autocorrelation is the negative of this, for it
/// follows what neighbouring errors have in common.
///
/// # Source
/// The covariance of smoothed states of different times is the product of the smoother's gains between them and the
/// later covariance (B. D. O. Anderson and J. B. Moore, Optimal Filtering (1979), chapter 7, from memory); residuals
/// are what is left of errors of which the estimates are linear functions.
pub fn unlikeness<const N: usize, const M: usize>(
    filtered: &Filtered<N>,
    steps: &[Step<N>],
    smoothed: &[StateEstimate<N>],
    observations: &[Option<Observation<N, M>>],
    lags: usize,
) -> Vec<f64> {
    let count = smoothed.len();
    let gains: Vec<SMatrix<f64, N, N>> = (1..count)
        .map(|ahead| {
            let covariance = &filtered.predicted[ahead].covariance;
            let gain = smoother_gain(&filtered.updated[ahead - 1], &steps[ahead - 1], covariance);
            gain.unwrap_or_else(SMatrix::zeros)
        })
        .collect();
    let (mut shared, mut pairs) = (vec![0.0; lags], vec![0_u32; lags]);
    let (mut left, mut seen) = (0.0, 0_u32);
    for (at, here) in observations.iter().enumerate().take(count) {
        let Some(here) = here else { continue };
        let fitted = here.design * smoothed[at].covariance * here.design.transpose();
        left += (here.noise - fitted).trace();
        seen += 1;
        let mut across = here.design;
        for lag in 1..=lags.min(count - 1 - at) {
            across *= gains[at + lag - 1];
            let Some(there) = &observations[at + lag] else {
                continue;
            };
            let both = across * smoothed[at + lag].covariance * there.design.transpose();
            shared[lag - 1] += both.trace();
            pairs[lag - 1] += 1;
        }
    }
    let left = left / f64::from(seen.max(1));
    let share = |(shared, pairs): (&f64, &u32)| {
        let mean = shared / f64::from((*pairs).max(1));
        if left > 0.0 { mean / left } else { 0.0 }
    };
    shared.iter().zip(&pairs).map(share).collect()
}

/// The means that [`smooth`] gives after [`filter`], without their covariances, and the log-likelihood of all
/// measurements: enough to linearise about. No matrix has to be inverted that is larger than an observation, and half as
/// much is kept on the way.
///
/// # Source
/// The fast state smoother of S. J. Koopman, Biometrika 80 (1993) 117; J. Durbin and S. J. Koopman (as above), section
/// 4.6.2. Both from memory.
pub fn smooth_means<const N: usize, const M: usize>(
    start: StateEstimate<N>,
    steps: &[Step<N>],
    observations: &[Option<Observation<N, M>>],
) -> (Vec<SVector<f64, N>>, f64) {
    let mut predicted = Vec::with_capacity(observations.len());
    let (log_likelihood, _) = pass(start, steps, observations, |before, _| {
        predicted.push(*before);
    });
    // How the log-likelihood of what follows grows with the state.
    let mut slope = SVector::<f64, N>::zeros();
    let mut out = vec![slope; observations.len()];
    for (index, before) in predicted.iter().enumerate().rev() {
        if let Some(step) = steps.get(index) {
            slope = step.transition.tr_mul(&slope);
        }
        if let Some(observation) = &observations[index] {
            let across = before.covariance * observation.design.transpose();
            if let Some(inverse) = (observation.design * across + observation.noise).try_inverse() {
                let innovation = observation.value - observation.design * before.mean;
                let told = inverse * (innovation - across.tr_mul(&slope));
                slope += observation.design.tr_mul(&told);
            }
        }
        out[index] = before.mean + before.covariance * slope;
    }
    (out, log_likelihood)
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

/// A log-likelihood maximised over the logarithm of a scale parameter.
///
/// Returns the logarithm (base e) at the maximum, to within three times `tolerance`, and much nearer where the top is
/// round. A place where the likelihood is no number is not taken.
///
/// # Source
/// R. P. Brent, Algorithms for Minimization without Derivatives (1973), chapter 5 (from memory): the top of the parabola
/// through the three best places, and a golden section where that leads nowhere.
pub fn maximise(low: f64, high: f64, tolerance: f64, likelihood: impl Fn(f64) -> f64) -> f64 {
    // (3 - √5) / 2.
    const GOLDEN: f64 = 0.381_966_011_250_105_1;
    let likelihood = |at: f64| likelihood(at).max(f64::NEG_INFINITY);
    let (mut low, mut high) = (low, high);
    let start = low + GOLDEN * (high - low);
    let start = (start, likelihood(start));
    let (mut best, mut second, mut third) = (start, start, start);
    let (mut step, mut step_before) = (0.0_f64, 0.0_f64);
    loop {
        let middle = f64::midpoint(low, high);
        if (best.0 - middle).abs() + (high - low) / 2.0 <= 2.0 * tolerance {
            return best.0;
        }
        let top = top_of_parabola(best, second, third);
        step = match top {
            Some(to_top)
                if to_top.abs() < step_before.abs() / 2.0
                    && (low..=high).contains(&(best.0 + to_top)) =>
            {
                step_before = step;
                let at = best.0 + to_top;
                // An end of the interval is not asked for itself.
                if at - low < 2.0 * tolerance || high - at < 2.0 * tolerance {
                    tolerance.copysign(middle - best.0)
                } else {
                    to_top
                }
            }
            _ => {
                step_before = if best.0 < middle { high } else { low } - best.0;
                GOLDEN * step_before
            }
        };
        // Nearer than the tolerance nothing is learnt.
        let at = best.0 + step.abs().max(tolerance).copysign(step);
        let tried = (at, likelihood(at));
        if tried.1 >= best.1 {
            *(if at < best.0 { &mut high } else { &mut low }) = best.0;
            (third, second, best) = (second, best, tried);
        } else {
            *(if at < best.0 { &mut low } else { &mut high }) = at;
            if tried.1 >= second.1 || second.0 == best.0 {
                (third, second) = (second, tried);
            } else if tried.1 >= third.1 || third.0 == best.0 || third.0 == second.0 {
                third = tried;
            }
        }
    }
}

/// How far the top of the parabola through three places and their values is from the first of them; `None` where they
/// have none.
fn top_of_parabola(best: (f64, f64), second: (f64, f64), third: (f64, f64)) -> Option<f64> {
    let (to_second, to_third) = (second.0 - best.0, third.0 - best.0);
    let (less_at_second, less_at_third) = (best.1 - second.1, best.1 - third.1);
    let across = to_third * less_at_second - to_second * less_at_third;
    let along = to_third * to_third * less_at_second - to_second * to_second * less_at_third;
    let top = along / (2.0 * across);
    top.is_finite().then_some(top)
}
