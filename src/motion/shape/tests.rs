//! The shapes of a path alone: closed-form paths, ordinary least squares from a textbook, and what mirrors, units and
//! shifts do to a fit.

use super::*;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

const LEVER: Lever = Lever {
    ahead_m: 0.12,
    left_m: 0.02,
};

/// What a path is made of: start, heading, curve, yaw, sine and cosine of the sway.
type Parts = [f64; 6];

const RADIUS: f64 = 0.045;

/// Observations every `step_m` along a path; the wheel spins away half as much again as it drives over the first metre.
///
/// The way to the side is integrated finely, by the midpoint rule, and not by the steps of the observations.
fn observations(parts: &Parts, count: usize, step_m: f64, radius_m: f64) -> Vec<ShapeObservation> {
    const FINE: usize = 40;
    let spun = |way: f64| 0.5 * way.min(1.0);
    let heading = |way: f64| {
        let (sin, cos) = (way / radius_m).sin_cos();
        parts[1] + parts[2] * way + parts[3] * spun(way) + parts[4] * sin + parts[5] * cos
    };
    let mut y = parts[0];
    (0..count)
        .map(|i| {
            let way = step_m * i as f64;
            if i > 0 {
                let fine = step_m / FINE as f64;
                y += (0..FINE)
                    .map(|k| fine * heading(way - step_m + fine * (k as f64 + 0.5)).sin())
                    .sum::<f64>();
            }
            let (sin, cos) = heading(way).sin_cos();
            ShapeObservation {
                distance_m: way,
                spun_m: spun(way),
                turn_rad: Some(way / radius_m),
                lateral_m: y + LEVER.ahead_m * sin + LEVER.left_m * cos,
                var_m2: 1e-8,
                pixel_m: 0.0,
            }
        })
        .collect()
}

const ALL: Shape = Shape {
    curves: true,
    yaws: true,
    sways: Some(Phase::Way(RADIUS)),
};

#[test]
fn every_part_of_a_path_is_recovered() {
    let parts = [0.03, -0.04, 0.06, -0.09, 0.012, -0.007];
    let observations = observations(&parts, 160, 0.012, RADIUS);
    for sways in [Phase::Way(RADIUS), Phase::DrivenWheel] {
        let shape = Shape {
            sways: Some(sways),
            ..ALL
        };
        let fit = fit_shape(&observations, LEVER, shape).unwrap();
        for (found, expected) in fit.values.iter().zip(parts) {
            assert!(
                (found - expected).abs() < 1e-5,
                "{:?} for {parts:?}",
                fit.values
            );
        }
        assert!((fit.swing_rad().0 - 0.012_f64.hypot(0.007)).abs() < 1e-5);
        assert_eq!(fit.observations, 160);
    }
}

#[test]
fn a_constant_curve_is_an_arc_of_a_circle() {
    // Closed form: from heading ψ on a curve k, y = (cos ψ - cos(ψ + k s)) / k. No lever.
    let (heading, k) = (-0.15_f64, 0.8);
    let none = Lever {
        ahead_m: 0.0,
        left_m: 0.0,
    };
    let observations: Vec<ShapeObservation> = (0..60)
        .map(|i| {
            let way = 0.03 * f64::from(i);
            ShapeObservation {
                distance_m: way,
                spun_m: 0.0,
                turn_rad: None,
                lateral_m: 0.2 + (heading.cos() - (heading + k * way).cos()) / k,
                var_m2: 1e-8,
                pixel_m: 0.0,
            }
        })
        .collect();
    let curves = Shape {
        curves: true,
        ..Shape::default()
    };
    let fit = fit_shape(&observations, none, curves).unwrap();
    assert!((fit.values[0] - 0.2).abs() < 1e-8, "{:?}", fit.values);
    assert!((fit.values[1] - heading).abs() < 1e-8, "{:?}", fit.values);
    assert!((fit.values[CURVE] - k).abs() < 1e-8, "{:?}", fit.values);
    let in_step = Shape {
        sways: Some(Phase::DrivenWheel),
        ..curves
    };
    assert!(fit_shape(&observations, none, in_step).is_none());
    // Two observations a term and four more.
    assert!(fit_shape(&observations[..9], none, curves).is_none());
    assert!(fit_shape(&observations[..10], none, curves).is_some());
}

/// Observations along a nearly straight line, off it in turn to both sides by what looks like no neighbour's error.
fn about_a_line(pixel_m: f64) -> Vec<ShapeObservation> {
    (0..40)
        .map(|i| {
            let way = 0.05 * f64::from(i);
            let off = [1.0, -0.7, 0.4, -1.2, 0.8, -0.3][i as usize % 6] * 1e-3;
            ShapeObservation {
                distance_m: way,
                spun_m: 0.0,
                turn_rad: None,
                lateral_m: 0.01 + 0.002 * way + off,
                var_m2: 2.5e-7,
                pixel_m,
            }
        })
        .collect()
}

const STRAIGHT: Lever = Lever {
    ahead_m: 0.0,
    left_m: 0.0,
};

/// Line through points by the formulas of a textbook: intercept, slope, their variances, and the sum of squares left
/// (N. R. Draper, H. Smith, Applied Regression Analysis, chapter 1, from memory).
fn line(observations: &[ShapeObservation]) -> [f64; 5] {
    let n = observations.len() as f64;
    let mean = |of: &dyn Fn(&ShapeObservation) -> f64| observations.iter().map(of).sum::<f64>() / n;
    let (x, y) = (mean(&|l| l.distance_m), mean(&|l| l.lateral_m));
    let sxx = n * mean(&|l| (l.distance_m - x).powi(2));
    let slope = n * mean(&|l| (l.distance_m - x) * (l.lateral_m - y)) / sxx;
    let start = y - slope * x;
    let left = n * mean(&|l| (l.lateral_m - start - slope * l.distance_m).powi(2));
    let square = left / (n - 2.0);
    [
        start,
        slope,
        square * (1.0 / n + x * x / sxx),
        square / sxx,
        left,
    ]
}

#[test]
fn a_straight_fit_is_the_textbooks_line_with_its_uncertainties() {
    let observations = about_a_line(0.0);
    let [start, slope, var_start, var_slope, left] = line(&observations);
    let fit = fit_shape(&observations, STRAIGHT, Shape::default()).unwrap();
    // The heading is the slope's arc sine: the same to a millionth here.
    assert!(
        (fit.values[0] / start - 1.0).abs() < 1e-6,
        "{:?}",
        fit.values
    );
    assert!(
        (fit.values[1] / slope - 1.0).abs() < 1e-4,
        "{:?}",
        fit.values
    );
    // Neighbours that differ more than chance narrow nothing.
    assert_eq!(fit.alike, 1.0);
    assert!((fit.left_over / (left / 40.0 / 2.5e-7) - 1.0).abs() < 1e-9);
    let [(_, sd_start), (_, sd_heading)] = fit.start();
    assert!((sd_start.powi(2) / var_start - 1.0).abs() < 1e-4);
    assert!((sd_heading.powi(2) / var_slope - 1.0).abs() < 1e-4);
    // An error of 0.04 px that stays alike over an eighth of the observations: as if of five observations only.
    let slow = fit_shape(&about_a_line(0.02), STRAIGHT, Shape::default()).unwrap();
    let more = (0.04_f64 * 0.02).powi(2) * 40.0 / 8.0 / (left / 38.0);
    let ratio = slow.parameter(0).1.powi(2) / var_start;
    assert!(
        (ratio - 1.0 - more).abs() < 1e-4,
        "{ratio} for {}",
        1.0 + more
    );
}

#[test]
fn models_weigh_by_schwarzs_criterion() {
    // Two models with n ln(RSS / n) + p ln n each; weights exp(-BIC / 2), normalised.
    let mut observations = about_a_line(0.0);
    for observation in &mut observations {
        observation.lateral_m += 0.5 * 0.0009 * observation.distance_m.powi(2);
    }
    let curves = Shape {
        curves: true,
        ..Shape::default()
    };
    let compared = compare(&observations, STRAIGHT, &[Shape::default(), curves], 1);
    let n = 40.0_f64;
    let bic = |shape: Shape, terms: f64| {
        let fit = fit_shape(&observations, STRAIGHT, shape).unwrap();
        n * fit.left_over.ln() + terms * n.ln()
    };
    let odds = (-0.5 * (bic(curves, 3.0) - bic(Shape::default(), 2.0))).exp();
    let expected = odds / (1.0 + odds);
    let found = compared.weight(|shape| shape.curves);
    assert!((0.05..0.95).contains(&expected), "{expected}");
    assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
    assert!((compared.weight(|_| true) - 1.0).abs() < 1e-12);
    // A rate that was sought at fifty places costs 2 ln 50 and one more term.
    let sways = Shape {
        sways: Some(Phase::Way(0.1)),
        ..Shape::default()
    };
    let weight = |tries| {
        compare(&observations, STRAIGHT, &[Shape::default(), sways], tries)
            .weight(|s| s.sways.is_some())
    };
    let odds = |weight: f64| (weight / (1.0 - weight)).ln();
    let price = odds(weight(1)) - odds(weight(50));
    assert!(
        (price - f64::midpoint(2.0 * 50.0_f64.ln(), n.ln())).abs() < 1e-6,
        "{price}"
    );
    // Mean and spread of a mixture: total variance.
    let (mean, sd) = compared.mean(|fit| {
        if fit.shape.curves {
            (3.0, 0.2)
        } else {
            (1.0, 0.1)
        }
    });
    let (w, v) = (found, 1.0 - found);
    assert!((mean - (3.0 * w + v)).abs() < 1e-12);
    assert!((sd * sd - (w * 0.04 + v * 0.01 + 4.0 * w * v)).abs() < 1e-12);
}

#[test]
fn the_swing_and_its_uncertainty_follow_from_both_parts() {
    // Slope of sqrt(s² + c²) is (s, c) / swing; here (0.6, 0.8).
    let mut covariance = DMatrix::zeros(6, 6);
    covariance[(SWAY_SIN, SWAY_SIN)] = 4.0;
    covariance[(SWAY_COS, SWAY_COS)] = 9.0;
    covariance[(SWAY_SIN, SWAY_COS)] = -1.5;
    covariance[(SWAY_COS, SWAY_SIN)] = -1.5;
    let mut fit = fit_shape(&about_a_line(0.0), STRAIGHT, Shape::default()).unwrap();
    assert_eq!(fit.swing_rad(), (0.0, 0.0));
    fit.values = [0.0, 0.0, 0.0, 0.0, 3.0, 4.0];
    fit.covariance = covariance;
    let (swing, sd) = fit.swing_rad();
    assert!((swing - 5.0).abs() < 1e-12);
    assert!((sd * sd - (0.36 * 4.0 + 0.64 * 9.0 - 2.0 * 0.48 * 1.5)).abs() < 1e-12);
}

#[test]
fn a_sway_must_be_seen_for_one_and_a_half_turns() {
    let long = |turns: f64| {
        let mut observations = about_a_line(0.0);
        let last = observations.len() - 1;
        observations[last].distance_m = observations[0].distance_m + turns * TAU * 0.1;
        runs_far_enough(&observations, Phase::Way(0.1))
    };
    assert!(long(1.51) && !long(1.49));
    assert!(!runs_far_enough(&about_a_line(0.0), Phase::DrivenWheel));
    assert!(!runs_far_enough(&[], Phase::Way(0.1)));
}

fn paths() -> impl Strategy<Value = (Parts, Vec<f64>)> {
    let parts = (
        -0.1..0.1_f64,
        -0.1..0.1_f64,
        -0.2..0.2_f64,
        -0.2..0.2_f64,
        -0.02..0.02_f64,
        -0.02..0.02_f64,
    );
    let errors = proptest::collection::vec(-1e-3..1e-3_f64, 80);
    (parts, errors).prop_map(|((a, b, c, d, e, f), errors)| ([a, b, c, d, e, f], errors))
}

proptest! {
    #![proptest_config(Config {
        cases: 40,
        rng_seed: RngSeed::Fixed(49),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn mirrors_and_units_carry_through((parts, errors) in paths(), unit in 0.2..5.0_f64) {
        let mut seen = observations(&parts, 80, 0.025, RADIUS);
        for (observation, error) in seen.iter_mut().zip(&errors) {
            observation.lateral_m += error;
        }
        let written = |side: f64, unit: f64| -> ShapeFit {
            let seen: Vec<ShapeObservation> = seen
                .iter()
                .map(|observation| ShapeObservation {
                    distance_m: unit * observation.distance_m,
                    spun_m: unit * observation.spun_m,
                    lateral_m: side * unit * observation.lateral_m,
                    var_m2: unit * unit * observation.var_m2,
                    ..*observation
                })
                .collect();
            let lever = Lever {
                ahead_m: unit * LEVER.ahead_m,
                left_m: side * unit * LEVER.left_m,
            };
            let shape = Shape { sways: Some(Phase::DrivenWheel), ..ALL };
            fit_shape(&seen, lever, shape).unwrap()
        };
        let plain = written(1.0, 1.0);
        for (side, unit) in [(-1.0, 1.0), (1.0, unit), (-1.0, unit)] {
            let other = written(side, unit);
            // The start is a length, the curve and the yaw are angles over one, all have a side.
            let powers = [1, 0, -1, -1, 0, 0];
            for (index, power) in powers.into_iter().enumerate() {
                let factor = side * unit.powi(power);
                let (here, sd) = plain.parameter(index);
                let (there, other_sd) = other.parameter(index);
                prop_assert!((there - factor * here).abs() < 1e-4 * sd * factor.abs(), "{index}");
                prop_assert!((other_sd / (sd * factor.abs()) - 1.0).abs() < 1e-3, "{index}");
            }
            prop_assert!((other.left_over / plain.left_over - 1.0).abs() < 1e-4);
        }
    }

    #[test]
    fn a_way_counted_from_elsewhere_turns_the_heading_and_the_phase((parts, errors) in paths(), shift in -2.0..2.0_f64) {
        let mut seen = observations(&parts, 80, 0.025, RADIUS);
        for (observation, error) in seen.iter_mut().zip(&errors) {
            observation.lateral_m += error;
        }
        let here = fit_shape(&seen, LEVER, ALL).unwrap();
        for observation in &mut seen {
            observation.distance_m += shift;
        }
        let there = fit_shape(&seen, LEVER, ALL).unwrap();
        let (k, yaw) = (here.parameter(CURVE), here.parameter(YAW));
        prop_assert!((there.values[CURVE] - k.0).abs() < 1e-4 * k.1);
        prop_assert!((there.values[YAW] - yaw.0).abs() < 1e-4 * yaw.1);
        let turned = here.values[1] - k.0 * shift;
        prop_assert!((there.values[1] - turned).abs() < 1e-5);
        prop_assert!((there.swing_rad().0 - here.swing_rad().0).abs() < 1e-6);
        prop_assert!((there.left_over / here.left_over - 1.0).abs() < 1e-4);
    }
}
