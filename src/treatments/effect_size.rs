//! How large a difference is beside the runs' own spread.

use super::Interval;
use super::describe::Sample;
use super::noncentral::noncentrality_at;
use statrs::function::gamma::ln_gamma;

/// A standardised difference: in standard deviations of single runs (of the pairs' differences where
/// runs are paired), with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffectSize {
    /// Hedges' g.
    pub g: f64,
    /// Its 95 % interval, from the noncentral t.
    pub interval: Interval,
}

/// Hedges' factor against the small-sample bias of a standardised difference (L. V. Hedges, *Journal of
/// Educational Statistics* 6, 1981, 107): Γ(m/2) / (Γ((m−1)/2) √(m/2)) for m degrees of freedom.
pub fn small_sample_factor(df: f64) -> f64 {
    (ln_gamma(df / 2.0) - ln_gamma((df - 1.0) / 2.0)).exp() / (df / 2.0).sqrt()
}

/// Hedges' g of two groups, with the pooled standard deviation (Borenstein et al., *Introduction to
/// Meta-Analysis*, 2009, ch. 4). `None` where a group has fewer than two runs or nothing spreads.
pub fn hedges_g(first: &Sample, second: &Sample) -> Option<EffectSize> {
    let (n, m) = (first.n as f64, second.n as f64);
    let df = n + m - 2.0;
    let squares = (n - 1.0) * first.sd?.powi(2) + (m - 1.0) * second.sd?.powi(2);
    let pooled = (squares / df).sqrt();
    standardised(second.mean - first.mean, pooled, df, n * m / (n + m))
}

/// The same for pairs: their mean difference in standard deviations of the differences.
pub fn hedges_g_of_pairs(differences: &Sample) -> Option<EffectSize> {
    let n = differences.n as f64;
    standardised(differences.mean, differences.sd?, n - 1.0, n)
}

/// `size` is the number by whose root a standardised difference becomes a t.
fn standardised(difference: f64, sd: f64, df: f64, size: f64) -> Option<EffectSize> {
    if sd <= 0.0 || df < 2.0 {
        return None;
    }
    let d = difference / sd;
    let factor = small_sample_factor(df);
    let t = d * size.sqrt();
    let at = |share: f64| factor * noncentrality_at(t, df, share) / size.sqrt();
    Some(EffectSize {
        g: factor * d,
        interval: Interval {
            low: at(0.975),
            high: at(0.025),
        },
    })
}
