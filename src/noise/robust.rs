//! Errors larger than the rest: how much less they weigh, and what is likeliest where several values were tried.
//!
//! `off` is always a residual in units of its standard uncertainty.

/// Weight of a residual beside one of nothing, by Cauchy's distribution of scale `bound`.
///
/// # Source
/// P. J. Huber and E. M. Ronchetti, Robust Statistics, 2nd ed., chapter 7 (from memory).
pub fn cauchy_weight(off: f64, bound: f64) -> f64 {
    1.0 / (1.0 + (off / bound).powi(2))
}

/// What a residual costs under the same, in units of a small residual's square.
pub fn cauchy_cost(off: f64, bound: f64) -> f64 {
    bound * bound * (off / bound).powi(2).ln_1p()
}

/// Weight of a residual that pulls with its size up to `bound` and no harder beyond it (Huber's function, same source).
pub fn huber_weight(off: f64, bound: f64) -> f64 {
    1.0 / (off.abs() / bound).max(1.0)
}

/// By how much the variance of an observation grows where its residual, whose square is given, is beyond `bound`: so far
/// that it lies at the bound. A smoother whose observations carry variances takes this in place of a weight.
pub fn variance_inflation(off_squared: f64, bound: f64) -> f64 {
    (off_squared / (bound * bound)).max(1.0)
}

/// Mean and standard deviation of a value that was tried at several places, each weighed by its likelihood; tries are
/// pairs of value and log-likelihood. `None` where there is none.
pub fn weighed_by_likelihood(
    tries: &(impl Iterator<Item = (f64, f64)> + Clone),
) -> Option<(f64, f64)> {
    let most = tries.clone().map(|(_, log)| log).max_by(f64::total_cmp)?;
    let weighed = || {
        tries
            .clone()
            .map(|(value, log)| (value, (log - most).exp()))
    };
    let total: f64 = weighed().map(|(_, weight)| weight).sum();
    let mean_of = |of: &dyn Fn(f64) -> f64| {
        weighed()
            .map(|(value, weight)| of(value) * weight)
            .sum::<f64>()
            / total
    };
    let mean = mean_of(&|value| value);
    Some((mean, mean_of(&|value| (value - mean).powi(2)).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn weights_are_those_of_the_published_functions() {
        // Closed forms, as in Huber and Ronchetti, chapter 7 (from memory): Cauchy's weight is half at the scale, Huber's is
        // k / |x| beyond k.
        assert!((cauchy_weight(2.5, 2.5) - 0.5).abs() < 1e-15);
        assert!((cauchy_weight(-7.5, 2.5) - 0.1).abs() < 1e-15);
        assert!((huber_weight(7.0, 3.5) - 0.5).abs() < 1e-15);
        assert!((huber_weight(-2.0, 3.5) - 1.0).abs() < 1e-15);
        assert!((variance_inflation(36.0, 3.0) - 4.0).abs() < 1e-15);
        assert!((variance_inflation(5.0, 3.0) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn a_normal_likelihood_gives_its_own_mean_and_spread() {
        // The log-likelihood of a normal distribution of mean 1.2 and standard deviation 0.05.
        let tries = (0..400).map(|i| {
            let value = 0.01 * f64::from(i) - 0.8;
            (value, -0.5 * ((value - 1.2) / 0.05_f64).powi(2))
        });
        let (mean, sd) = weighed_by_likelihood(&tries).unwrap();
        assert!(
            (mean - 1.2).abs() < 1e-9 && (sd - 0.05).abs() < 1e-6,
            "{mean} {sd}"
        );
        assert_eq!(weighed_by_likelihood(&std::iter::empty()), None);
    }

    proptest! {
        /// The weight is what the cost grows by, over the residual: the definition of an M-estimator's weight.
        #[test]
        fn the_cost_grows_by_the_weight(off in -20.0..20.0_f64, bound in 1.0..5.0_f64) {
            let step = 1e-5;
            let slope = (cauchy_cost(off + step, bound) - cauchy_cost(off - step, bound)) / (2.0 * step);
            prop_assert!((slope - 2.0 * off * cauchy_weight(off, bound)).abs() < 1e-6);
        }
    }
}
