//! A group of runs in numbers: how many, their mean, their spread, and how well either is known.

use super::Interval;
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};
use statrs::statistics::Statistics;

/// Share of cases in which an interval holds the true value.
pub const CONFIDENCE: f64 = 0.95;
/// Half of what an interval leaves out.
const TAIL: f64 = (1.0 - CONFIDENCE) / 2.0;

/// A sample: each value is one run's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Values.
    pub n: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation with n − 1; `None` for fewer than two values.
    pub sd: Option<f64>,
}

/// Mean and standard deviation; `None` without values.
///
/// The variance is taken about the mean in two passes, so that values that differ in their last digits
/// only keep them (NIST `StRD`, `NumAcc3` and `NumAcc4`).
pub fn describe(values: &[f64]) -> Option<Sample> {
    if values.is_empty() {
        return None;
    }
    let rough = values.mean();
    // What is left of the mean's rounding error is taken out, then the deviations are small numbers.
    let mean = rough + values.iter().map(|v| v - rough).mean();
    let sd = (values.len() > 1).then(|| {
        let residuals: Vec<f64> = values.iter().map(|v| v - mean).collect();
        residuals.as_slice().std_dev()
    });
    Some(Sample {
        n: values.len(),
        mean,
        sd,
    })
}

/// Student's t for a two-sided 95 % interval; `None` for no degrees of freedom.
pub fn t_factor(df: f64) -> Option<f64> {
    StudentsT::new(0.0, 1.0, df)
        .ok()
        .map(|t| t.inverse_cdf(1.0 - TAIL))
}

/// What a standard deviation with these degrees of freedom is multiplied by to give the difference that
/// two further single results stay below in 95 of 100 cases; `None` for no degrees of freedom.
///
/// ISO 5725-6:1994, 4.1.4, gives 1.96 √2, rounded to 2.8, for a standard deviation that is well known. With a
/// few runs Student's t takes the place of 1.96: the difference of two further results over √2 s has that
/// distribution. 2.8 would hold 70 of 100 differences after two runs, and 86 after four.
pub fn repeatability_factor(df: f64) -> Option<f64> {
    t_factor(df).map(|t| t * std::f64::consts::SQRT_2)
}

/// Two-sided p of a t statistic.
pub(super) fn t_p(t: f64, df: f64) -> Option<f64> {
    StudentsT::new(0.0, 1.0, df)
        .ok()
        .map(|dist| 2.0 * dist.sf(t.abs()))
}

impl Sample {
    /// Variance of the mean; `None` for fewer than two values.
    pub fn mean_variance(&self) -> Option<f64> {
        self.sd.map(|sd| sd * sd / self.n as f64)
    }

    /// The mean's 95 % interval by Student's t; `None` for fewer than two values.
    pub fn interval(&self) -> Option<Interval> {
        let half = t_factor(self.n as f64 - 1.0)? * self.mean_variance()?.sqrt();
        Some(Interval::about(self.mean, half))
    }
}

/// The 95 % interval of a standard deviation with these degrees of freedom, for normal values
/// (chi-squared; NIST/SEMATECH e-Handbook, 7.2.3.1).
pub fn sd_interval(sd: f64, df: f64) -> Option<Interval> {
    let dist = ChiSquared::new(df).ok()?;
    let at = |share: f64| sd * (df / dist.inverse_cdf(share)).sqrt();
    Some(Interval {
        low: at(1.0 - TAIL),
        high: at(TAIL),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn t_factors_are_those_of_the_table() {
        // Standard table of Student's t, 0.975 (recomputed with scipy 1.17; the last two are scipy's).
        let table = [
            (1.0, 12.7062),
            (2.0, 4.3027),
            (3.0, 3.1824),
            (4.0, 2.7764),
            (5.0, 2.5706),
            (9.0, 2.2622),
            (10.0, 2.2281),
            (16.0, 2.1199),
            (18.0, 2.1009),
            (20.0, 2.0860),
            (30.0, 2.0423),
            (50.0, 2.0086),
            (100.0, 1.9840),
            (1e3, 1.962_339),
            (1e4, 1.960_201),
        ];
        for (df, expected) in table {
            let found = t_factor(df).unwrap();
            assert!((found - expected).abs() < 5e-5, "{df}: {found}");
        }
    }

    #[test]
    fn the_repeatability_limit_is_wider_after_few_runs() {
        // Student's t of the table above, times the root of 2.
        for (df, expected) in [(1.0, 17.9693), (3.0, 4.5006), (9.0, 3.1992)] {
            let found = repeatability_factor(df).unwrap();
            assert!((found - expected).abs() < 1e-4, "{df}: {found}");
        }
        // ISO 5725-6:1994, 4.1.4: 2.8 where the standard deviation is known.
        let known = repeatability_factor(1e4).unwrap();
        assert!((known - 2.8).abs() < 0.03, "{known}");
        assert_eq!(repeatability_factor(0.0), None);
    }

    #[test]
    fn four_runs_say_little_about_their_spread() {
        // scipy 1.17.1: sqrt(3 / chi2.ppf([0.975, 0.025], 3)).
        let interval = sd_interval(1.0, 3.0).unwrap();
        assert!((interval.low - 0.566_489_55).abs() < 1e-7, "{interval:?}");
        assert!((interval.high - 3.728_547_28).abs() < 1e-7, "{interval:?}");
    }

    #[test]
    fn one_run_has_no_spread() {
        let one = describe(&[3.0]).unwrap();
        assert_eq!((one.n, one.mean, one.sd), (1, 3.0, None));
        assert!(one.interval().is_none());
        assert!(describe(&[]).is_none());
    }
}
