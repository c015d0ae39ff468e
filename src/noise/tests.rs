use super::*;
use nalgebra::Vector2;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;

/// NIST `StRD`, univariate summary statistics: certified lag-1 autocorrelations.
#[test]
fn autocorrelations_are_the_certified_ones() {
    let table = include_str!("../../fixtures/outside-checks/nist-univariate.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    for (name, certified) in [
        ("Michelso", 0.535_199_668_621_283),
        ("Mavro", 0.937_989_183_438_248),
        ("Lew", -0.307_304_800_605_679),
    ] {
        let values: Vec<f64> = (rows.iter().filter(|row| &row[0] == name))
            .map(|row| row[2].trim().parse().unwrap())
            .collect();
        assert!(values.len() >= 50, "{name}");
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let found = autocorrelation(&in_a_row(values.iter().map(|v| v - mean)), 1);
        assert!((found - certified).abs() < 1e-9, "{name}: {found}");
    }
}

/// A thousand errors each: independent ones, and a first-order autoregression with `share` of the variance and
/// correlation `r` beside them.
fn errors(share: f64, r: f64, seed: u64) -> Vec<Option<Vector2<f64>>> {
    let mut random = rand::rngs::StdRng::seed_from_u64(seed);
    let mut normal = || Vector2::from_fn(|_, _| random.sample::<f64, _>(StandardNormal));
    let mut slow = normal();
    (0..1000)
        .map(|_| {
            slow = slow * r + normal() * (1.0 - r * r).sqrt();
            Some(slow * share.sqrt() + normal() * (1.0 - share).sqrt())
        })
        .collect()
}

/// The variance of a mean of autoregressive errors is `1 + 2 share r / (1 - r)` of that of independent ones: closed
/// form of the geometric series of their autocorrelations. Of errors that are autoregressive in part, seven lags are
/// summed.
#[test]
fn errors_that_stay_alike_for_long_count_for_few() {
    for (share, r) in [(1.0, 0.5), (1.0, 0.8), (0.5, 0.75), (0.5, 0.9), (0.0, 0.0)] {
        let summed = if share < 1.0 {
            1.0 - f64::powi(r, 7)
        } else {
            1.0
        };
        let wanted = 1.0 + 2.0 * share * r * summed / (1.0 - r);
        let found: Vec<f64> = (0..20)
            .map(|seed| integrated_autocorrelation(&errors(share, r, seed)))
            .collect();
        let mean = found.iter().sum::<f64>() / 20.0;
        assert!(
            (mean / wanted - 1.0).abs() < 0.15,
            "{share} {r}: {mean} for {wanted}"
        );
    }
}

#[test]
fn neither_gaps_nor_their_sign_nor_their_size_matter() {
    let whole = errors(0.5, 0.75, 7);
    let alike = integrated_autocorrelation(&whole);
    let scaled: Vec<_> = whole.iter().map(|e| e.map(|e| e * -40.0)).collect();
    assert!((integrated_autocorrelation(&scaled) - alike).abs() < 1e-9);
    let backwards: Vec<_> = whole.iter().rev().copied().collect();
    assert!((integrated_autocorrelation(&backwards) - alike).abs() < 1e-9);
    let gaps: Vec<_> = (whole.iter().enumerate())
        .map(|(i, e)| e.filter(|_| i % 7 > 1))
        .collect();
    assert!((integrated_autocorrelation(&gaps) / alike - 1.0).abs() < 0.25);
}

/// What a wrong model leaves, a slow wave here, is alike for long: neighbours alone say less of it than all lags.
#[test]
fn a_slow_part_shows_in_the_lags_and_not_in_the_neighbours() {
    let mixed = errors(0.5, 0.9, 3);
    let (near, all) = (
        first_order_inflation(&mixed),
        integrated_autocorrelation(&mixed),
    );
    assert!(all > 1.5 * near, "{near} {all}");
    let pure = errors(1.0, 0.5, 3);
    let (near, all) = (
        first_order_inflation(&pure),
        integrated_autocorrelation(&pure),
    );
    assert!((near / 3.0 - 1.0).abs() < 0.2 && all >= near && all < 1.3 * near);
}

#[test]
fn too_little_to_tell_narrows_nothing() {
    assert_eq!(integrated_autocorrelation::<1>(&[]), 1.0);
    assert_eq!(
        integrated_autocorrelation(&in_a_row([1.0, -1.0, 1.0, -1.0])),
        1.0
    );
    assert_eq!(integrated_autocorrelation(&in_a_row([0.0; 9])), 1.0);
}
