//! The filter and the smoother that carry every speed, held against numbers that others have published: the flow of
//! the Nile, the worked example of J. Durbin and S. J. Koopman, *Time Series Analysis by State Space Methods*,
//! chapter 2. Values of their model with more digits come from statsmodels 0.15, and those of the smoother from a
//! dense least-squares solution as well.
#![allow(
    clippy::unwrap_used,
    clippy::excessive_precision,
    reason = "tests fail by panicking; published digits stay as they are printed"
)]

use gripline::smoothing::{Filtered, Observation, StateEstimate, Step, filter, maximise, smooth};
use nalgebra::{SMatrix, SVector};
use std::path::Path;

/// Variances of the looks and of the level's walk: Durbin and Koopman, section 2.2.
const OBSERVATIONS: f64 = 15099.0;
const WALK: f64 = 1469.1;

fn nile() -> Vec<f64> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/outside-checks/nile.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let flow: Vec<f64> = (reader.records())
        .map(|row| row.unwrap()[1].parse().unwrap())
        .collect();
    assert_eq!(flow.len(), 100);
    flow
}

fn level_step(walk: f64) -> Step<1> {
    Step {
        transition: SMatrix::identity(),
        offset: SVector::zeros(),
        noise: SMatrix::from_element(walk),
    }
}

fn level_observation(value: f64, variance: f64) -> Observation<1, 1> {
    Observation {
        design: SMatrix::identity(),
        value: SVector::from_element(value),
        noise: SMatrix::from_element(variance),
    }
}

/// Forward pass over the Nile from a level that is known as badly as `variance` says.
fn from_level(mean: f64, variance: f64) -> (Filtered<1>, Vec<Step<1>>) {
    let flow = nile();
    let observations: Vec<_> = flow
        .iter()
        .map(|&y| Some(level_observation(y, OBSERVATIONS)))
        .collect();
    let steps = vec![level_step(WALK); flow.len() - 1];
    let start = StateEstimate {
        mean: SVector::from_element(mean),
        covariance: SMatrix::from_element(variance),
    };
    (filter(start, &steps, &observations), steps)
}

/// The same with nothing known of the first level: the first look alone says it (section 2.9, diffuse start).
fn diffuse(observations_variance: f64, walk: f64) -> (Filtered<1>, Vec<Step<1>>) {
    let flow = nile();
    let mut observations: Vec<_> = (flow.iter())
        .map(|&y| Some(level_observation(y, observations_variance)))
        .collect();
    observations[0] = None;
    let steps = vec![level_step(walk); flow.len() - 1];
    let start = StateEstimate {
        mean: SVector::from_element(flow[0]),
        covariance: SMatrix::from_element(observations_variance),
    };
    (filter(start, &steps, &observations), steps)
}

#[track_caller]
fn near(what: &str, found: f64, published: f64, tolerance: f64) {
    assert!(
        (found - published).abs() <= tolerance,
        "{what}: {found} for {published}"
    );
}

#[test]
fn the_filter_gives_the_published_predictions() {
    let (filtered, _) = from_level(0.0, 1e7);
    let means = [1118.3115, 1140.1084, 1072.3160, 1116.9748];
    let variances = [16545.3364, 9363.6575, 7248.5974, 6366.5648];
    for (index, (mean, variance)) in means.into_iter().zip(variances).enumerate() {
        let predicted = &filtered.predicted[index + 1];
        near("mean", predicted.mean[0], mean, 1e-4);
        near("variance", predicted.covariance[0], variance, 1e-4);
    }
    near("filtered", filtered.updated[0].mean[0], 1118.3115, 1e-4);
    near(
        "variance",
        filtered.updated[0].covariance[0],
        15076.2364,
        1e-4,
    );
    near("likelihood", filtered.log_likelihood, -641.5856, 1e-4);
}

#[test]
fn a_start_that_is_not_known_gives_the_published_predictions() {
    let (filtered, _) = diffuse(OBSERVATIONS, WALK);
    near("a2", filtered.predicted[1].mean[0], 1120.0, 1e-4);
    near("P2", filtered.predicted[1].covariance[0], 16568.1, 1e-4);
    near("a3", filtered.predicted[2].mean[0], 1140.9278, 1e-4);
    near("P3", filtered.predicted[2].covariance[0], 9368.8364, 1e-4);
    // statsmodels' exact diffuse likelihood at its optimum, which these variances are to all printed digits.
    near("likelihood", filtered.log_likelihood, -632.5456, 1e-4);
}

#[test]
fn the_smoother_gives_the_published_levels() {
    let (filtered, steps) = diffuse(OBSERVATIONS, WALK);
    let smoothed = smooth(&filtered, &steps);
    for (year, mean, variance) in [
        (1, 1111.66832, 4032.15794),
        (2, 1110.85766, 3242.93007),
        (3, 1105.26557, 2818.94217),
        (28, 999.58522, 2326.75696),
        (100, 798.37029, 4032.15794),
    ] {
        let estimate = &smoothed[year - 1];
        near("level", estimate.mean[0], mean, 1e-4);
        near("variance", estimate.covariance[0], variance, 1e-4);
    }
}

#[test]
fn a_long_series_reaches_the_steady_state() {
    // The closed form for a level that walks: P = (q + √(q² + 4 q h)) / 2, gain P / (P + h).
    let (filtered, _) = diffuse(OBSERVATIONS, WALK);
    let predicted = filtered.predicted[99].covariance[0];
    near("P", predicted, 5501.25794, 1e-5);
    near(
        "gain",
        predicted / (predicted + OBSERVATIONS),
        0.267_048_01,
        1e-8,
    );
    near(
        "filtered",
        filtered.updated[99].covariance[0],
        4032.15794,
        1e-5,
    );
}

/// A walk whose steps and looks have the same variance: the golden ratio, by the same closed form.
#[test]
fn equal_noises_give_the_golden_ratio() {
    let steps = vec![level_step(1.0); 99];
    let observations = vec![Some(level_observation(0.0, 1.0)); 100];
    let start = StateEstimate {
        mean: SVector::zeros(),
        covariance: SMatrix::from_element(1e6),
    };
    let predicted = filter(start, &steps, &observations).predicted[99].covariance[0];
    near("variance", predicted, 1.618_033_988_7, 1e-9);
    near("gain", predicted / (predicted + 1.0), 0.618_033_988_7, 1e-9);
}

/// Both variances from the likelihood, as the tool finds the density of the jerk and the size of the pixel noise.
#[test]
fn the_noises_of_greatest_likelihood_are_the_published_ones() {
    let (low, high, tolerance) = (100_f64.ln(), 1e6_f64.ln(), 1e-6);
    let likelihood =
        |observations: f64, walk: f64| diffuse(observations.exp(), walk.exp()).0.log_likelihood;
    let walk_for =
        |observations: f64| maximise(low, high, tolerance, |walk| likelihood(observations, walk));
    let observations = maximise(low, high, tolerance, |observations| {
        likelihood(observations, walk_for(observations))
    });
    let walk = walk_for(observations);
    near("looks", observations.exp(), 15098.5, 1.0);
    near("walk", walk.exp(), 1469.18, 1.0);
    near(
        "likelihood",
        likelihood(observations, walk),
        -632.5456,
        1e-4,
    );
}

/// A level with a slope, variances 15099, 1469.1 and 10: the two-state form of the tool's own models. Values:
/// statsmodels 0.15 and a dense least-squares solution.
#[test]
fn level_and_slope_agree_with_two_other_ways() {
    let flow = nile();
    let step = Step {
        transition: SMatrix::<f64, 2, 2>::new(1.0, 1.0, 0.0, 1.0),
        offset: SVector::zeros(),
        noise: SMatrix::from_diagonal(&SVector::from([WALK, 10.0])),
    };
    let mut observations: Vec<_> = (flow.iter())
        .map(|&y| {
            Some(Observation {
                design: SMatrix::<f64, 1, 2>::new(1.0, 0.0),
                value: SVector::from_element(y),
                noise: SMatrix::from_element(OBSERVATIONS),
            })
        })
        .collect();
    // The first look alone says the first level; a slope may be anything that a river can do.
    observations[0] = None;
    let start = StateEstimate {
        mean: SVector::from([flow[0], 0.0]),
        covariance: SMatrix::from_diagonal(&SVector::from([OBSERVATIONS, 1e7])),
    };
    let steps = vec![step; flow.len() - 1];
    let smoothed = smooth(&filter(start, &steps, &observations), &steps);
    for (year, level, slope) in [
        (1, 1124.2012, -4.48614),
        (2, 1120.1238, -4.48893),
        (28, 1000.5493, -9.06548),
        (51, 827.5560, -1.86371),
        (100, 781.2159, -6.95224),
    ] {
        near("level", smoothed[year - 1].mean[0], level, 1e-3);
        near("slope", smoothed[year - 1].mean[1], slope, 1e-3);
    }
    // A start that is only wide, and not open, costs digits of the first variances.
    near("level's", smoothed[0].covariance[(0, 0)], 4820.4136, 5e-2);
    near("slope's", smoothed[0].covariance[(1, 1)], 140.3549, 1e-2);
}
