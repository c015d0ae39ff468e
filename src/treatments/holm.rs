//! Several tests at once.

/// Holm's adjusted p values, in the order given (S. Holm, *Scandinavian Journal of Statistics* 6, 1979,
/// 65): the chance of one or more false alarms among all is then below 5 % where each is read at 5 %.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut out = vec![0.0; p.len()];
    let mut most: f64 = 0.0;
    for (rank, &index) in order.iter().enumerate() {
        most = most.max(p[index] * (p.len() - rank) as f64);
        out[index] = most.min(1.0);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(p: &[f64], expected: &[f64]) {
        let found = holm(p);
        assert_eq!(found.len(), expected.len());
        for (a, b) in found.iter().zip(expected) {
            assert!((a - b).abs() < 1e-12, "{found:?}");
        }
    }

    #[test]
    fn published_examples_come_out() {
        // First printed in the documentation of a library's Holm adjustment; second statsmodels 0.15,
        // multipletests(method="holm").
        check(
            &[0.50, 0.003, 0.32, 0.054, 0.0003],
            &[0.64, 0.012, 0.64, 0.162, 0.0015],
        );
        check(&[0.01, 0.04, 0.03, 0.005], &[0.03, 0.06, 0.06, 0.02]);
        check(&[], &[]);
    }
}
