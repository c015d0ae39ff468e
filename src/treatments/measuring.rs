//! How much of a group's spread is the car's, and how much is measuring.

use super::Interval;
use super::describe::{describe, t_factor};
use super::noncentral::root;

/// A run's value with the standard uncertainty of measuring it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
}

/// A group's spread taken apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Root mean square of the runs' own standard uncertainties.
    pub measuring_sd: f64,
    /// Standard deviation from run to run beyond that; 0 where measuring explains all of it.
    pub run_to_run_sd: f64,
    /// Mean with every run weighed by both.
    pub weighed_mean: f64,
    /// Its 95 % interval.
    pub weighed_interval: Interval,
}

/// Takes a group's spread apart; `None` for fewer than two runs.
///
/// Between-run variance by Paule and Mandel (*Journal of Research of the NBS* 87, 1982, 377): the one at which the
/// weighed squares about the weighed mean are as many as the degrees of freedom. The mean's interval is that of
/// Hartung and Knapp (*Statistics in Medicine* 20, 2001, 3875), with Student's t.
///
/// The uncertainties are to be each run's own: what all runs share, such as a floor mark put down in a wrong
/// place, does not make runs differ and does not belong here.
pub fn take_apart(runs: &[Measured]) -> Option<Spread> {
    if runs.len() < 2 {
        return None;
    }
    let df = runs.len() as f64 - 1.0;
    let squares: Vec<f64> = (runs.iter())
        .map(|run| run.standard_uncertainty.powi(2))
        .collect();
    let values: Vec<f64> = runs.iter().map(|run| run.value).collect();
    let seen = describe(&values)?.sd?;
    // A run without any uncertainty would weigh endlessly: a millionth of the spread is as good as none.
    let least = 1e-12 * (seen * seen).max(f64::MIN_POSITIVE);
    let weighed = |between: f64| {
        let weight = |square: &f64| 1.0 / (square + between).max(least);
        let weights: Vec<f64> = squares.iter().map(weight).collect();
        let total: f64 = weights.iter().sum();
        let mean = values[0]
            + (values.iter().zip(&weights))
                .map(|(v, w)| w * (v - values[0]))
                .sum::<f64>()
                / total;
        let misfit: f64 = (values.iter().zip(&weights))
            .map(|(v, w)| w * (v - mean).powi(2))
            .sum();
        (mean, misfit, total)
    };
    let between = if weighed(0.0).1 <= df {
        0.0
    } else {
        // The misfit falls as the variance grows; at this upper end it is below the degrees of freedom.
        root(0.0, 2.0 * seen * seen * (df + 1.0), |between| {
            df - weighed(between).1
        })
    };
    let (mean, misfit, total) = weighed(between);
    // Hartung and Knapp's factor may fall below 1 by chance; then the plain variance stands (it is the
    // more careful one).
    let variance = (misfit / df).max(1.0) / total;
    let half = t_factor(df)? * variance.sqrt();
    let measuring = squares.iter().sum::<f64>() / squares.len() as f64;
    Some(Spread {
        measuring_sd: measuring.sqrt(),
        run_to_run_sd: between.max(0.0).sqrt(),
        weighed_mean: mean,
        weighed_interval: Interval::about(mean, half),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(values: &[f64], uncertainties: &[f64]) -> Vec<Measured> {
        let pairs = values.iter().zip(uncertainties);
        pairs
            .map(|(&value, &standard_uncertainty)| Measured {
                value,
                standard_uncertainty,
            })
            .collect()
    }

    #[test]
    fn where_measuring_explains_the_spread_nothing_is_left() {
        let spread = take_apart(&runs(&[1.00, 1.01, 0.99], &[0.05, 0.05, 0.05])).unwrap();
        assert_eq!(spread.run_to_run_sd, 0.0);
        assert!((spread.measuring_sd - 0.05).abs() < 1e-12);
        // The weighed mean is then no better known than measuring allows.
        let half = (spread.weighed_interval.high - spread.weighed_interval.low) / 2.0;
        assert!(
            (half - 4.302_65 * 0.05 / 3f64.sqrt()).abs() < 1e-5,
            "{half}"
        );
    }

    #[test]
    fn exact_runs_give_the_plain_spread() {
        let values = [0.31, 0.42, 0.27, 0.55, 0.36];
        let spread = take_apart(&runs(&values, &[0.0; 5])).unwrap();
        let plain = describe(&values).unwrap();
        assert!((spread.run_to_run_sd - plain.sd.unwrap()).abs() < 1e-6);
        let (a, b) = (spread.weighed_interval, plain.interval().unwrap());
        assert!((a.low - b.low).abs() < 1e-6 && (a.high - b.high).abs() < 1e-6);
    }

    #[test]
    fn no_run_has_no_spread() {
        assert!(take_apart(&runs(&[1.0], &[0.1])).is_none());
        assert!(take_apart(&[]).is_none());
        // Runs alike to the last digit.
        let spread = take_apart(&runs(&[1.0, 1.0], &[0.0, 0.0])).unwrap();
        assert_eq!(spread.run_to_run_sd, 0.0);
    }
}
