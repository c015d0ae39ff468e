//! How many runs it takes: power of the t tests from the noncentral t (J. Cohen, *Statistical Power
//! Analysis for the Behavioral Sciences*, 1988, ch. 2).

use super::describe::t_factor;
use super::noncentral::{noncentral_t_cdf, root};

/// Chance of seeing a difference that is there, which a plan should reach: common practice.
pub const WANTED_POWER: f64 = 0.80;
/// Beyond this many runs nobody plans.
pub const MOST_RUNS: f64 = 1000.0;

/// How runs are set against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Design {
    /// Two groups of as many runs each.
    Groups,
    /// Pairs, one run of each kind.
    Pairs,
}

/// Power of the two-sided 5 % t test with `n` runs a group (or pairs) for a difference of `effect` standard
/// deviations (of the runs; of the pairs' differences).
pub fn power(design: Design, effect: f64, n: f64) -> f64 {
    let (df, noncentrality) = match design {
        Design::Groups => (2.0 * n - 2.0, effect * (n / 2.0).sqrt()),
        Design::Pairs => (n - 1.0, effect * n.sqrt()),
    };
    let Some(bar) = t_factor(df) else {
        return 0.0;
    };
    1.0 - noncentral_t_cdf(bar, df, noncentrality) + noncentral_t_cdf(-bar, df, noncentrality)
}

/// Runs a group (or pairs), not rounded, at which the power is reached; `None` beyond any plan.
pub fn runs_for(design: Design, effect: f64, wanted: f64) -> Option<f64> {
    let effect = effect.abs();
    if !effect.is_finite() || power(design, effect, MOST_RUNS) < wanted {
        return None;
    }
    if power(design, effect, 2.0) >= wanted {
        return Some(2.0);
    }
    // Halving on a scale of ratios: plans go from two runs to thousands.
    Some(
        root(2f64.ln(), MOST_RUNS.ln(), |n| {
            power(design, effect, n.exp()) - wanted
        })
        .exp(),
    )
}

/// Whole runs a group (or pairs) for [`WANTED_POWER`].
pub fn whole_runs_for(design: Design, effect: f64) -> Option<usize> {
    // A ten-thousandth of a run above a whole number is rounding.
    runs_for(design, effect, WANTED_POWER).map(|n| (n - 1e-4).ceil() as usize)
}

/// The smallest difference, in standard deviations, that `n` runs a group (or pairs) show with
/// [`WANTED_POWER`]; `None` for fewer than two.
pub fn smallest_effect(design: Design, n: usize) -> Option<f64> {
    (n >= 2).then(|| {
        root(0.0, 60.0, |effect| {
            power(design, effect, n as f64) - WANTED_POWER
        })
    })
}
