//! The difference of two groups, with an interval: Welch's t, and the paired t.

use super::Interval;
use super::describe::{Sample, describe, t_factor, t_p};

/// As good as endlessly many degrees of freedom: t is then 1.9602 for 1.9600.
const MOST_FREEDOM: f64 = 1e4;

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
    welch_t_apart(first, second, 0.0)
}

/// The same for groups that do not share all errors of measuring: `apart` is the variance that this adds to
/// the difference, known from elsewhere (JCGM 100, 5.1 and G.4.1, with endless degrees of freedom).
pub(super) fn welch_t_apart(first: &Sample, second: &Sample, apart: f64) -> Option<TTest> {
    let (a, b) = (first.mean_variance()?, second.mean_variance()?);
    if a + b <= 0.0 {
        return None;
    }
    let part = |v: f64, n: usize| v * v / (n as f64 - 1.0);
    let weight = part(a, first.n) + part(b, second.n);
    no_surer(second.mean - first.mean, a + b, apart, weight)
}

/// The t test of pairs: one difference for each pair. `None` for fewer than two pairs, or where all
/// differences are the same.
pub fn paired_t(differences: &[f64]) -> Option<TTest> {
    paired_t_apart(differences, 0.0)
}

/// The same with a further variance, as in Welch's.
pub(super) fn paired_t_apart(differences: &[f64], apart: f64) -> Option<TTest> {
    let sample = describe(differences)?;
    let own = sample.mean_variance().filter(|own| *own > 0.0)?;
    let weight = own * own / (sample.n as f64 - 1.0);
    no_surer(sample.mean, own, apart, weight)
}

/// The test with a further variance, or without it where that is the more careful one: a little variance of
/// endless degrees of freedom raises Satterthwaite's number of them, and Student's t may fall by more than the
/// variance grows. `weight` is the sum of squared variances over their degrees of freedom.
fn no_surer(difference: f64, own: f64, apart: f64, weight: f64) -> Option<TTest> {
    let with = |variance: f64| t_test(difference, variance, variance * variance / weight);
    let (plain, whole) = (with(own)?, with(own + apart)?);
    let width = |test: &TTest| test.interval.high - test.interval.low;
    Some(if width(&whole) < width(&plain) {
        plain
    } else {
        whole
    })
}

fn t_test(difference: f64, variance: f64, df: f64) -> Option<TTest> {
    // Beyond this the distribution is the normal one, and the library's quantile loses digits: 1.95985 at a
    // million degrees of freedom, for 1.95997.
    let df = df.min(MOST_FREEDOM);
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
