//! Whether the runs drift as the day goes on: a tread that wears, a spring that tires.

use super::Interval;
use super::describe::{describe, t_factor, t_p};

/// A straight line through values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Value at x = 0; of the first group where there are several.
    pub intercept: f64,
    /// Its standard error.
    pub intercept_error: f64,
    /// Change for each unit of x.
    pub slope: f64,
    /// Its standard error.
    pub slope_error: f64,
    /// Standard deviation about the line.
    pub residual_sd: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Share of the sum of squares within the groups that the line explains.
    pub r_squared: f64,
}

/// Least squares of one slope through groups with a level each: with one group, the straight line of the
/// textbooks; with several, the analysis of covariance. `None` where the slope or its error cannot be told.
///
/// Sums are taken about each group's means, which keeps the digits (NIST `StRD`, Norris).
pub fn common_slope(groups: &[Vec<(f64, f64)>]) -> Option<Line> {
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    let (mut count, mut levels) = (0.0, 0.0);
    let mut centres = Vec::new();
    for group in groups.iter().filter(|group| !group.is_empty()) {
        let (x, y): (Vec<f64>, Vec<f64>) = group.iter().copied().unzip();
        let (x_mean, y_mean) = (describe(&x)?.mean, describe(&y)?.mean);
        for (x, y) in x.iter().zip(&y) {
            sxx += (x - x_mean).powi(2);
            sxy += (x - x_mean) * (y - y_mean);
            syy += (y - y_mean).powi(2);
        }
        centres.push((x_mean, y_mean));
        count += group.len() as f64;
        levels += 1.0;
    }
    let df = count - levels - 1.0;
    if sxx <= 0.0 || df < 1.0 {
        return None;
    }
    let slope = sxy / sxx;
    let mut residual = 0.0;
    for (group, (x_mean, y_mean)) in groups.iter().filter(|g| !g.is_empty()).zip(&centres) {
        residual += (group.iter())
            .map(|(x, y)| (y - y_mean - slope * (x - x_mean)).powi(2))
            .sum::<f64>();
    }
    let variance = residual / df;
    let slope_error = (variance / sxx).sqrt();
    let (x_mean, y_mean) = *centres.first()?;
    let first = groups.iter().find(|group| !group.is_empty())?.len() as f64;
    Some(Line {
        intercept: y_mean - slope * x_mean,
        intercept_error: (variance / first + (x_mean * slope_error).powi(2)).sqrt(),
        slope,
        slope_error,
        residual_sd: variance.sqrt(),
        df,
        r_squared: if syy > 0.0 { 1.0 - residual / syy } else { 0.0 },
    })
}

/// A drift over the order of the runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// Change from each run to the next, whatever its group.
    pub per_run: f64,
    /// Its 95 % interval.
    pub interval: Interval,
    /// Two-sided chance of as large a drift where there is none.
    pub p: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// What the drift comes to from the first run to the last.
    pub over_all: f64,
}

/// The drift of groups of (place in the order, value); `None` where there are too few runs to tell, or
/// none of them differ.
pub fn drift(groups: &[Vec<(f64, f64)>]) -> Option<Drift> {
    let line = common_slope(groups)?;
    if line.slope_error <= 0.0 {
        return None;
    }
    let places = || groups.iter().flatten().map(|(place, _)| *place);
    let span = places().fold(f64::MIN, f64::max) - places().fold(f64::MAX, f64::min);
    Some(Drift {
        per_run: line.slope,
        interval: Interval::about(line.slope, t_factor(line.df)? * line.slope_error),
        p: t_p(line.slope / line.slope_error, line.df)?,
        df: line.df,
        over_all: line.slope * span,
    })
}
