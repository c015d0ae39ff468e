//! The difference of two groups, with an interval: Welch's t, and the paired t.

use super::Interval;
use super::describe::{Sample, describe, t_factor, t_p};

/// A difference of means and how it stands to chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TTest {
    /// Second less first.
    pub difference: f64,
    /// 95 % interval of the difference.
    pub interval: Interval,
    /// The statistic.
    pub t: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Two-sided chance of as large a statistic where there is no difference.
    pub p: f64,
}

/// Welch's t for two groups of possibly unequal spread (B. L. Welch, *Biometrika* 34, 1947, 28; degrees of
/// freedom by Satterthwaite). `None` where a group has fewer than two runs, or nothing spreads at all.
pub fn welch_t(first: &Sample, second: &Sample) -> Option<TTest> {
    let (a, b) = (first.mean_variance()?, second.mean_variance()?);
    let variance = a + b;
    let part = |v: f64, n: usize| v * v / (n as f64 - 1.0);
    let df = variance * variance / (part(a, first.n) + part(b, second.n));
    t_test(second.mean - first.mean, variance, df)
}

/// The t test of pairs: one difference for each pair. `None` for fewer than two pairs, or where all
/// differences are the same.
pub fn paired_t(differences: &[f64]) -> Option<TTest> {
    let sample = describe(differences)?;
    t_test(sample.mean, sample.mean_variance()?, sample.n as f64 - 1.0)
}

fn t_test(difference: f64, variance: f64, df: f64) -> Option<TTest> {
    if variance <= 0.0 || !df.is_finite() {
        return None;
    }
    let t = difference / variance.sqrt();
    Some(TTest {
        difference,
        interval: Interval::about(difference, t_factor(df)? * variance.sqrt()),
        t,
        df,
        p: t_p(t, df)?,
    })
}
