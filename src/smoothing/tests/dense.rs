//! Filter, smoother and likelihood against one dense least-squares problem over the whole series, on any small linear
//! model; and what units, sides, orders and clocks do to them.

use super::super::*;
use super::cases;
use nalgebra::{DMatrix, DVector};
use proptest::collection::vec;
use proptest::prelude::*;

/// A short series of three states, seen through two numbers or not at all, with a model of its own at each time.
#[derive(Debug, Clone)]
struct Series {
    start: StateEstimate<3>,
    steps: Vec<Step<3>>,
    observations: Vec<Option<Observation<3, 2>>>,
}

const LENGTH: usize = 7;

/// A positive definite matrix from any numbers.
fn spread<const N: usize>(numbers: &[f64], least: f64) -> SMatrix<f64, N, N> {
    let half = SMatrix::<f64, N, N>::from_column_slice(&numbers[..N * N]);
    half * half.transpose() + SMatrix::identity() * least
}

fn series() -> impl Strategy<Value = Series> {
    let step = vec(-1.0..1.0, 9 + 3 + 9);
    let observation = (vec(-1.0..1.0, 6 + 2 + 4), 0..5);
    let parts = (
        vec(-1.0..1.0, 3 + 9),
        vec(step, LENGTH - 1),
        vec(observation, LENGTH),
    );
    parts.prop_map(|(start, steps, observations)| Series {
        start: StateEstimate {
            mean: SVector::from_column_slice(&start[..3]),
            covariance: spread(&start[3..], 0.2),
        },
        steps: steps
            .iter()
            .map(|n| Step {
                transition: SMatrix::from_column_slice(&n[..9]),
                offset: SVector::from_column_slice(&n[9..12]),
                noise: spread(&n[12..], 0.1),
            })
            .collect(),
        observations: observations
            .iter()
            .map(|(n, kind)| {
                (*kind > 0).then(|| Observation {
                    design: SMatrix::from_column_slice(&n[..6]),
                    value: SVector::from_column_slice(&n[6..8]),
                    noise: spread(&n[8..], 0.05),
                })
            })
            .collect(),
    })
}

/// Everything at once: all states in one vector, their mean and covariance before the observations and after them, and
/// the logarithm of the observations' density. Gauss's least squares, no recursion.
struct Dense {
    mean: DVector<f64>,
    covariance: DMatrix<f64>,
    log_likelihood: f64,
}

fn dense(series: &Series) -> Dense {
    let size = 3 * LENGTH;
    // What is known beforehand, as equations: one for the start and one for each step, weighed by its noise.
    let mut equations = DMatrix::<f64>::identity(size, size);
    let mut right = DVector::<f64>::zeros(size);
    let mut weights = DMatrix::<f64>::zeros(size, size);
    right.rows_mut(0, 3).copy_from(&series.start.mean);
    let inverse = series.start.covariance.try_inverse().unwrap();
    weights.view_mut((0, 0), (3, 3)).copy_from(&inverse);
    for (i, step) in series.steps.iter().enumerate() {
        let (from, to) = (3 * i, 3 * i + 3);
        equations
            .view_mut((to, from), (3, 3))
            .copy_from(&(-step.transition));
        right.rows_mut(to, 3).copy_from(&step.offset);
        let inverse = step.noise.try_inverse().unwrap();
        weights.view_mut((to, to), (3, 3)).copy_from(&inverse);
    }
    let seen: Vec<(usize, Observation<3, 2>)> = (series.observations.iter().enumerate())
        .filter_map(|(i, observation)| Some((i, (*observation)?)))
        .collect();
    let (mut design, mut values) = (
        DMatrix::<f64>::zeros(2 * seen.len(), size),
        DVector::<f64>::zeros(2 * seen.len()),
    );
    let mut noise = DMatrix::<f64>::zeros(2 * seen.len(), 2 * seen.len());
    for (row, (i, observation)) in seen.iter().enumerate() {
        design
            .view_mut((2 * row, 3 * i), (2, 3))
            .copy_from(&observation.design);
        values.rows_mut(2 * row, 2).copy_from(&observation.value);
        noise
            .view_mut((2 * row, 2 * row), (2, 2))
            .copy_from(&observation.noise);
    }
    let noise_inverse = noise.clone().try_inverse().unwrap();
    let before = equations.transpose() * &weights * &equations;
    let normal = &before + design.transpose() * &noise_inverse * &design;
    let pull =
        equations.transpose() * &weights * &right + design.transpose() * &noise_inverse * &values;
    let covariance = normal.try_inverse().unwrap();
    let foreseen = equations.try_inverse().unwrap() * right;
    let across = &design * before.try_inverse().unwrap() * design.transpose() + noise;
    let off = values - &design * foreseen;
    let scaled = across.clone().try_inverse().unwrap() * &off;
    let log_two_pi = std::f64::consts::TAU.ln();
    Dense {
        mean: &covariance * pull,
        log_likelihood: -0.5
            * (off.len() as f64 * log_two_pi + across.determinant().ln() + off.dot(&scaled)),
        covariance,
    }
}

fn smoothed(series: &Series) -> (Filtered<3>, Vec<StateEstimate<3>>) {
    let filtered = filter(series.start, &series.steps, &series.observations);
    let estimates = smooth(&filtered, &series.steps);
    let (means, _) = smooth_means(series.start, &series.steps, &series.observations);
    for (estimate, mean) in estimates.iter().zip(means) {
        let off = (estimate.mean - mean).norm();
        assert!(off < 1e-8 * (1.0 + mean.norm()), "means are off by {off}");
    }
    let (alone, last) = likelihood(series.start, &series.steps, &series.observations);
    assert_eq!(alone, filtered.log_likelihood);
    assert_eq!(Some(&last), filtered.updated.last());
    (filtered, estimates)
}

/// The same series with every length `unit` times as large; a negative unit is its mirror image.
fn in_units(series: &Series, unit: f64) -> Series {
    let square = unit * unit;
    Series {
        start: StateEstimate {
            mean: series.start.mean * unit,
            covariance: series.start.covariance * square,
        },
        steps: (series.steps.iter())
            .map(|step| Step {
                offset: step.offset * unit,
                noise: step.noise * square,
                ..*step
            })
            .collect(),
        observations: (series.observations.iter())
            .map(|observation| {
                observation.map(|observation| Observation {
                    value: observation.value * unit,
                    noise: observation.noise * square,
                    ..observation
                })
            })
            .collect(),
    }
}

proptest! {
    #![proptest_config(cases(60))]

    #[test]
    fn filter_and_smoother_are_one_least_squares_fit(series in series()) {
        let (filtered, estimates) = smoothed(&series);
        let whole = dense(&series);
        prop_assert_eq!(estimates.len(), LENGTH);
        for (i, estimate) in estimates.iter().enumerate() {
            let mean = whole.mean.rows(3 * i, 3);
            let covariance = whole.covariance.view((3 * i, 3 * i), (3, 3));
            let off = (estimate.mean - mean).norm();
            prop_assert!(off < 1e-7, "mean at {i}: {off}");
            let off = (estimate.covariance - covariance).norm();
            prop_assert!(off < 1e-7, "covariance at {i}: {off}");
        }
        // What the filter knows at a time is the same fit to the observations until then; what it foresees, to those
        // before.
        for until in 0..LENGTH {
            let cut = |observations: usize| {
                let mut short = series.clone();
                short.observations[observations..].fill(None);
                dense(&short).mean.rows(3 * until, 3).into_owned()
            };
            if series.observations[..until].iter().any(Option::is_some) {
                prop_assert!((filtered.predicted[until].mean - cut(until)).norm() < 1e-7);
                prop_assert!((filtered.updated[until].mean - cut(until + 1)).norm() < 1e-7);
            }
        }
        let off = filtered.log_likelihood - whole.log_likelihood;
        prop_assert!(off.abs() < 1e-7, "likelihood: {off}");
    }

    /// What a smoother does to its residuals is minus the blocks beside the diagonal of the fit to everything at once.
    #[test]
    fn residuals_are_as_unlike_as_the_whole_fit_says(series in series()) {
        let (filtered, estimates) = smoothed(&series);
        let found = unlikeness(&filtered, &series.steps, &estimates, &series.observations, 3);
        let whole = dense(&series).covariance;
        let seen: Vec<(usize, Observation<3, 2>)> = (series.observations.iter().enumerate())
            .filter_map(|(at, one)| Some((at, (*one)?)))
            .collect();
        let between = |(a, one): &(usize, Observation<3, 2>), (b, other): &(usize, Observation<3, 2>)| {
            let block = whole.fixed_view::<3, 3>(3 * a, 3 * b).into_owned();
            (one.design * block * other.design.transpose()).trace()
        };
        let mean = |values: Vec<f64>| values.iter().sum::<f64>() / values.len().max(1) as f64;
        let left = mean(seen.iter().map(|one| one.1.noise.trace() - between(one, one)).collect());
        for lag in 1..=3 {
            let pairs = seen.iter().flat_map(|one| seen.iter().map(move |other| (one, other)));
            let shared = pairs.filter(|(one, other)| one.0 + lag == other.0);
            let expected = mean(shared.map(|(one, other)| between(one, other)).collect()) / left;
            prop_assert!((found[lag - 1] - expected).abs() < 1e-6 * (1.0 + expected.abs()), "lag {lag}: {} {expected}", found[lag - 1]);
        }
    }

    #[test]
    fn units_and_sides_carry_through(series in series(), unit in prop_oneof![Just(-1.0), 0.01..100.0]) {
        let ((filtered, here), (other, there)) = (smoothed(&series), smoothed(&in_units(&series, unit)));
        for (a, b) in here.iter().zip(&there) {
            prop_assert!((a.mean * unit - b.mean).norm() < 1e-9 * unit.abs());
            prop_assert!((a.covariance * unit * unit - b.covariance).norm() < 1e-9 * unit * unit);
        }
        // A density over lengths falls with the unit for every number seen.
        let seen = 2.0 * series.observations.iter().flatten().count() as f64;
        let expected = filtered.log_likelihood - seen * unit.abs().ln();
        prop_assert!((other.log_likelihood - expected).abs() < 1e-7);
    }

    #[test]
    fn looks_at_one_time_may_come_in_any_order(series in series()) {
        let observations: Vec<Observation<3, 2>> = series.observations.iter().flatten().copied().collect();
        prop_assume!(observations.len() > 1);
        let after = |order: &mut dyn Iterator<Item = &Observation<3, 2>>| {
            order.fold((series.start, 0.0), |(estimate, sum), observation| {
                let (estimate, gain) = update(&estimate, observation).unwrap();
                (estimate, sum + gain)
            })
        };
        let (there, back) = (after(&mut observations.iter()), after(&mut observations.iter().rev()));
        prop_assert!((there.0.mean - back.0.mean).norm() < 1e-8);
        prop_assert!((there.0.covariance - back.0.covariance).norm() < 1e-8);
        prop_assert!((there.1 - back.1).abs() < 1e-7);
    }

    #[test]
    fn a_clock_that_starts_earlier_changes_nothing(series in series(), wait in 1_usize..4) {
        let mut waited = series.clone();
        let still = Step {
            transition: SMatrix::identity(),
            offset: SVector::zeros(),
            noise: SMatrix::zeros(),
        };
        waited.steps.splice(0..0, vec![still; wait]);
        waited.observations.splice(0..0, vec![None; wait]);
        let ((filtered, here), (other, there)) = (smoothed(&series), smoothed(&waited));
        prop_assert_eq!(there.len(), here.len() + wait);
        for (a, b) in here.iter().zip(&there[wait..]) {
            prop_assert!((a.mean - b.mean).norm() < 1e-8);
        }
        prop_assert!((filtered.log_likelihood - other.log_likelihood).abs() < 1e-9);
        // Whatever is learnt later is true of the wait as well.
        prop_assert!((there[0].mean - here[0].mean).norm() < 1e-7);
    }
}
