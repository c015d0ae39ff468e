//! Weighted least squares of a few parameters on observations whose errors are a little alike.

use crate::noise::{in_a_row, integrated_autocorrelation};
use nalgebra::{DMatrix, DVector};

/// A linear fit.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// Parameters.
    pub(super) values: DVector<f64>,
    /// Their covariance, with the residuals' own size and likeness.
    pub(super) covariance: DMatrix<f64>,
    /// Weighted squares left over, in units of the claimed variances.
    pub(super) left_over: f64,
    /// How much the likeness of neighbours widens the errors.
    pub(super) inflation: f64,
    /// Observations over parameters.
    pub(super) spare: f64,
    /// What `covariance` takes an error's variance to be, in units of the claimed one.
    pub(super) factor: f64,
}

/// Fits `value = row . parameters`; each entry is (row, value, variance). `slow` is how many times the
/// claimed variance is an error that stays alike over a quarter of the observations.
pub(super) fn least_squares(observations: &[(Vec<f64>, f64, f64)], slow: f64) -> Option<Fit> {
    let columns = observations.first()?.0.len();
    let n = observations.len();
    if n < columns + 3 {
        return None;
    }
    let mut normal = DMatrix::zeros(columns, columns);
    let mut right = DVector::zeros(columns);
    for (row, value, var) in observations {
        let row = DVector::from_column_slice(row);
        right += &row * (value / var);
        normal += &row * row.transpose() / *var;
    }
    // Columns of very different size: scaled to a unit diagonal before the inverse.
    let scale = DVector::from_fn(columns, |i, _| 1.0 / f64::sqrt(normal[(i, i)]));
    let scaled = DMatrix::from_fn(columns, columns, |i, j| {
        normal[(i, j)] * scale[i] * scale[j]
    });
    let inverse = scaled.cholesky()?.inverse();
    let inverse = DMatrix::from_fn(columns, columns, |i, j| {
        inverse[(i, j)] * scale[i] * scale[j]
    });
    let values = &inverse * right;
    let residuals: Vec<f64> = observations
        .iter()
        .map(|(row, value, var)| {
            let model: f64 = row.iter().zip(values.iter()).map(|(r, v)| r * v).sum();
            (value - model) / var.sqrt()
        })
        .collect();
    let left_over: f64 = residuals.iter().map(|r| r * r).sum();
    let inflation = integrated_autocorrelation(&in_a_row(residuals.iter().copied()));
    let spare = (n - columns) as f64;
    let factor = left_over / spare * inflation + slow * n as f64 / 4.0;
    Some(Fit {
        covariance: inverse * factor,
        factor,
        values,
        left_over,
        inflation,
        spare,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_calibration_line_comes_out_as_the_guide_prints_it() {
        // JCGM 100:2008 (GUM), example H.3: eleven thermometer readings against t - 20 °C. Printed:
        // y1 -0.1712 (u 0.0029), y2 0.00218 (u 0.00067), r -0.930, s 0.0035.
        let t = [
            21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
        ];
        let b = [
            -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
        ];
        let observations: Vec<(Vec<f64>, f64, f64)> = t
            .iter()
            .zip(b)
            .map(|(t, b)| (vec![1.0, t - 20.0], b, 1.0))
            .collect();
        let fit = least_squares(&observations, 0.0).unwrap();
        let plain = &fit.covariance / fit.inflation;
        assert!((fit.values[0] + 0.171_203_79).abs() < 1e-8);
        assert!((fit.values[1] - 0.002_182_70).abs() < 1e-8);
        assert!((plain[(0, 0)].sqrt() - 0.002_877_60).abs() < 1e-8);
        assert!((plain[(1, 1)].sqrt() - 0.000_667_94).abs() < 1e-8);
        let r = plain[(0, 1)] / (plain[(0, 0)] * plain[(1, 1)]).sqrt();
        assert!((r + 0.930_429_60).abs() < 1e-7);
        assert!(((fit.left_over / fit.spare).sqrt() - 0.003_497_56).abs() < 1e-8);
        // The correction at 30 °C with its uncertainty, same example: -0.1494 (u 0.0041).
        let at = DVector::from_column_slice(&[1.0, 10.0]);
        assert!((at.dot(&fit.values) + 0.149_376_81).abs() < 1e-8);
        let u = (at.transpose() * plain * &at)[(0, 0)].sqrt();
        assert!((u - 0.004_138_60).abs() < 1e-8);
    }
}
