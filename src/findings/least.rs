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

/// Observations as rows of a linear model: what is fitted is `value = row . parameters`.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    columns: usize,
    /// Row after row.
    cells: Vec<f64>,
    /// Value and variance of each row.
    values: Vec<(f64, f64)>,
}

impl Rows {
    /// No rows yet, of so many columns.
    pub(super) fn new(columns: usize) -> Self {
        Self {
            columns,
            cells: Vec::new(),
            values: Vec::new(),
        }
    }

    /// Adds an observation.
    pub(super) fn push(&mut self, row: impl IntoIterator<Item = f64>, value: f64, variance: f64) {
        self.cells.extend(row);
        self.values.push((value, variance));
    }

    /// Takes all rows out, and keeps their room.
    pub(super) fn clear(&mut self) {
        self.cells.clear();
        self.values.clear();
    }

    /// How many parameters there are.
    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    /// How many observations there are.
    pub(super) fn len(&self) -> usize {
        self.values.len()
    }

    fn each(&self) -> impl Iterator<Item = (&[f64], f64, f64)> {
        let rows = self.cells.chunks_exact(self.columns.max(1));
        let values = self.values.iter();
        rows.zip(values)
            .map(|(row, (value, var))| (row, *value, *var))
    }

    /// The parameters of least squares; `None` where the observations do not determine them.
    pub(super) fn solved(&self) -> Option<Solved<'_>> {
        let columns = self.columns;
        if self.len() < columns + 3 {
            return None;
        }
        let mut normal = DMatrix::<f64>::zeros(columns, columns);
        let mut right = DVector::<f64>::zeros(columns);
        for (row, value, var) in self.each() {
            let weight = 1.0 / var;
            for (j, one) in row.iter().enumerate() {
                let weighed = one * weight;
                right[j] += weighed * value;
                let below = &mut normal.as_mut_slice()[j * columns + j..(j + 1) * columns];
                for (entry, other) in below.iter_mut().zip(&row[j..]) {
                    *entry += other * weighed;
                }
            }
        }
        // Columns of very different size: scaled to a unit diagonal before the inverse.
        let scale = DVector::from_fn(columns, |i, _| 1.0 / f64::sqrt(normal[(i, i)]));
        // Only the lower half is read.
        let scaled = DMatrix::from_fn(columns, columns, |i, j| {
            normal[(i, j)] * scale[i] * scale[j]
        });
        let inverse = scaled.cholesky()?.inverse();
        let inverse = DMatrix::from_fn(columns, columns, |i, j| {
            inverse[(i, j)] * scale[i] * scale[j]
        });
        let values = &inverse * right;
        let mut solved = Solved {
            rows: self,
            inverse,
            values,
            left_over: 0.0,
        };
        solved.left_over = solved.residuals().map(|left| left * left).sum();
        Some(solved)
    }
}

/// Parameters of least squares, without what the residuals say of their uncertainty.
#[derive(Debug, Clone)]
pub(super) struct Solved<'a> {
    rows: &'a Rows,
    inverse: DMatrix<f64>,
    values: DVector<f64>,
    /// Weighted squares left over, in units of the claimed variances.
    pub(super) left_over: f64,
}

impl Solved<'_> {
    /// Residuals in units of the claimed standard uncertainties.
    fn residuals(&self) -> impl Iterator<Item = f64> {
        self.rows.each().map(|(row, value, var)| {
            let model: f64 = row.iter().zip(self.values.iter()).map(|(r, v)| r * v).sum();
            (value - model) / var.sqrt()
        })
    }

    /// The fit with its uncertainty. `slow` is how many times the claimed variance is an error that stays alike over a
    /// quarter of the observations.
    pub(super) fn fit(self, slow: f64) -> Fit {
        let n = self.rows.len();
        let inflation = integrated_autocorrelation(&in_a_row(self.residuals()));
        let spare = (n - self.rows.columns) as f64;
        let factor = self.left_over / spare * inflation + slow * n as f64 / 4.0;
        Fit {
            covariance: self.inverse * factor,
            factor,
            values: self.values,
            left_over: self.left_over,
            inflation,
            spare,
        }
    }
}

/// Fits `value = row . parameters`; each entry is (row, value, variance). `slow` is as in [`Solved::fit`].
pub(super) fn least_squares(observations: &[(Vec<f64>, f64, f64)], slow: f64) -> Option<Fit> {
    let mut rows = Rows::new(observations.first()?.0.len());
    for (row, value, var) in observations {
        rows.push(row.iter().copied(), *value, *var);
    }
    Some(rows.solved()?.fit(slow))
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
