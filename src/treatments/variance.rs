//! Spread within and between groups: one-way analysis of variance, Welch's version of it for groups of
//! unequal spread, and repeatability as ISO 5725-2 has it.

use super::describe::{Sample, describe, repeatability_factor};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// A one-way analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anova {
    /// Degrees of freedom between and within.
    pub df: [f64; 2],
    /// Mean squares between and within.
    pub mean_squares: [f64; 2],
    /// Their ratio.
    pub f: f64,
    /// Share of the sum of squares that lies between the groups.
    pub r_squared: f64,
    /// Chance of a ratio as large where the groups do not differ.
    pub p: f64,
}

/// One-way analysis of variance with equal spread; `None` without two groups and a spread.
///
/// Everything is taken about the grand mean first, so that leading digits that all values share cost
/// no accuracy (NIST `StRD`, `SmLs04` and `SmLs07`).
pub fn anova(groups: &[Vec<f64>]) -> Option<Anova> {
    let all: Vec<f64> = groups.iter().flatten().copied().collect();
    let grand = describe(&all)?.mean;
    let (mut between, mut within, mut count) = (0.0, 0.0, 0.0);
    for group in groups.iter().filter(|group| !group.is_empty()) {
        let shifted: Vec<f64> = group.iter().map(|v| v - grand).collect();
        let sample = describe(&shifted)?;
        between += sample.n as f64 * sample.mean * sample.mean;
        within += shifted
            .iter()
            .map(|v| (v - sample.mean).powi(2))
            .sum::<f64>();
        count += 1.0;
    }
    let df = [count - 1.0, all.len() as f64 - count];
    if df[0] < 1.0 || df[1] < 1.0 || within <= 0.0 {
        return None;
    }
    let mean_squares = [between / df[0], within / df[1]];
    let f = mean_squares[0] / mean_squares[1];
    Some(Anova {
        df,
        mean_squares,
        f,
        r_squared: between / (between + within),
        p: f_p(f, df)?,
    })
}

/// Welch's one-way test: groups may have unequal spreads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WelchAnova {
    /// The statistic.
    pub f: f64,
    /// Degrees of freedom between and within.
    pub df: [f64; 2],
    /// Chance of a statistic as large where the means are alike.
    pub p: f64,
}

/// Welch's one-way test (B. L. Welch, *Biometrika* 38, 1951, 330); `None` where a group has fewer than
/// two runs or no spread at all, or there are fewer than two groups.
pub fn welch_anova(samples: &[Sample]) -> Option<WelchAnova> {
    let count = samples.len() as f64;
    if samples.len() < 2 {
        return None;
    }
    let weights: Vec<f64> = (samples.iter())
        .map(|s| s.mean_variance().filter(|v| *v > 0.0).map(|v| 1.0 / v))
        .collect::<Option<_>>()?;
    let total: f64 = weights.iter().sum();
    let first = samples[0].mean;
    let weighed = |(s, w): (&Sample, &f64)| w * (s.mean - first);
    let centre = first + samples.iter().zip(&weights).map(weighed).sum::<f64>() / total;
    let between: f64 = (samples.iter().zip(&weights))
        .map(|(s, w)| w * (s.mean - centre).powi(2))
        .sum::<f64>()
        / (count - 1.0);
    let lambda: f64 = (samples.iter().zip(&weights))
        .map(|(s, w)| (1.0 - w / total).powi(2) / (s.n as f64 - 1.0))
        .sum();
    let squared = count * count - 1.0;
    let f = between / (1.0 + 2.0 * (count - 2.0) / squared * lambda);
    let df = [count - 1.0, squared / (3.0 * lambda)];
    Some(WelchAnova {
        f,
        df,
        p: f_p(f, df)?,
    })
}

fn f_p(f: f64, df: [f64; 2]) -> Option<f64> {
    FisherSnedecor::new(df[0], df[1])
        .ok()
        .map(|dist| dist.sf(f))
}

/// Precision of single runs as ISO 5725-2:1994, 7.4.5, estimates it; its laboratories are our groups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// Repeatability standard deviation `s_r`: what runs of one group differ by.
    pub sd: f64,
    /// Degrees of freedom of `sd`.
    pub df: f64,
    /// Repeatability limit: two further runs of one group differ by less in 95 of 100 cases
    /// ([`repeatability_factor`] times `s_r`).
    pub limit: f64,
    /// Standard deviation between groups `s_L`; 0 where the runs' spread explains the groups'; `None` for
    /// one group.
    pub between_sd: Option<f64>,
    /// Reproducibility standard deviation, of single runs of whatever group.
    pub reproducibility_sd: Option<f64>,
}

/// Repeatability over all groups; `None` where no group has two runs.
pub fn repeatability(groups: &[Vec<f64>]) -> Option<Repeatability> {
    let samples: Vec<Sample> = groups.iter().filter_map(|group| describe(group)).collect();
    let (mut squares, mut df) = (0.0, 0.0);
    for sample in &samples {
        if let Some(sd) = sample.sd {
            squares += (sample.n as f64 - 1.0) * sd * sd;
            df += sample.n as f64 - 1.0;
        }
    }
    if df < 1.0 {
        return None;
    }
    let variance = squares / df;
    let between = between_variance(&samples, variance);
    Some(Repeatability {
        sd: variance.sqrt(),
        df,
        limit: repeatability_factor(df)? * variance.sqrt(),
        between_sd: between.map(f64::sqrt),
        reproducibility_sd: between.map(|between| (between + variance).sqrt()),
    })
}

fn between_variance(samples: &[Sample], within: f64) -> Option<f64> {
    let count = samples.len() as f64;
    if samples.len() < 2 {
        return None;
    }
    let sizes: Vec<f64> = samples.iter().map(|s| s.n as f64).collect();
    let total: f64 = sizes.iter().sum();
    let weighed = |(s, n): (&Sample, &f64)| n * (s.mean - samples[0].mean);
    let grand = samples[0].mean + samples.iter().zip(&sizes).map(weighed).sum::<f64>() / total;
    let between: f64 = (samples.iter().zip(&sizes))
        .map(|(s, n)| n * (s.mean - grand).powi(2))
        .sum::<f64>()
        / (count - 1.0);
    let typical_n = (total - sizes.iter().map(|n| n * n).sum::<f64>() / total) / (count - 1.0);
    Some(((between - within) / typical_n).max(0.0))
}
