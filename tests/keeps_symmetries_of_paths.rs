//! What must hold of a path's shape for any run: on a floor in other units the curve is scaled, in a mirrored run it
//! bends to the other side, and a clock that started earlier changes nothing. The looks carry errors, so that no
//! answer is exact by accident.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use gripline::findings::{CarFacts, PathFit, fit_path};
use gripline::motion::{
    Body, BodyState, FloorObservation, Lever, Motion, MotionReason, Settled, Tuning,
};
use nalgebra::{Matrix2, Matrix6, Vector2, Vector6};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

/// A run along a curve, in its own unit of length.
#[derive(Debug, Clone)]
struct Run {
    heading_rad: f64,
    curvature: f64,
    gain: f64,
    left: f64,
    errors: Vec<f64>,
}

fn runs() -> impl Strategy<Value = Run> {
    let shape = (-0.08..0.08, -0.3..0.3);
    (shape, 1.0..3.0, -0.05..0.05, vec(-1.0..1.0, 80)).prop_map(
        |((heading_rad, curvature), gain, left, errors)| Run {
            heading_rad,
            curvature,
            gain,
            left,
            errors,
        },
    )
}

/// How the same run is written down: metres for each of its units, 1 or -1 for its mirror image, and the clock's start.
#[derive(Debug, Clone, Copy)]
struct Written {
    unit: f64,
    side: f64,
    start_s: f64,
}

const PLAIN: Written = Written {
    unit: 1.0,
    side: 1.0,
    start_s: 0.0,
};
const AHEAD: f64 = 0.09;
const RADIUS: f64 = 0.05;

impl Run {
    fn state(&self, frame: usize, as_: Written) -> BodyState {
        let Written { unit, side, .. } = as_;
        let t = frame as f64 / 60.0;
        let (way, speed) = (0.5 * self.gain * t * t, self.gain * t);
        let turn = self.curvature * way;
        let heading = self.heading_rad + turn;
        // Far below a millionth of a metre from the arc for such curves: the arc's chord.
        let chord = self.heading_rad + turn / 2.0;
        let short = way * (1.0 - turn * turn / 24.0);
        let at = Vector2::new(short * chord.cos(), short * chord.sin());
        let (sin, cos) = heading.sin_cos();
        let sticker =
            at + Vector2::new(AHEAD * cos - self.left * sin, AHEAD * sin + self.left * cos);
        let flip = Vector2::new(unit, unit * side);
        let off = Vector2::new(0.0, 0.000_4 * self.errors[frame]);
        BodyState {
            time_s: as_.start_s + t,
            mean: Vector6::new(
                unit * at.x,
                unit * side * at.y,
                side * heading,
                unit * speed,
                unit * self.gain,
                side * self.curvature / unit,
            ),
            covariance: Matrix6::identity() * 1e-8,
            sway_rad: 0.0,
            rise_m: 0.0,
            aside_m: 0.0,
            seen: true,
            observation: Some(FloorObservation {
                at_m: (sticker + off).component_mul(&flip),
                per_px: Matrix2::from_diagonal(&Vector2::new(0.002, -0.002)) * unit,
                var_px2: Vector2::new(0.01, 0.01),
            }),
        }
    }

    fn fitted(&self, as_: Written) -> PathFit {
        let settled = Settled {
            jerk_density: 1.0,
            variance_factor: 1.0,
            change_points_s: Vec::new(),
            change_points_sd_s: Vec::new(),
            open: Vec::new(),
        };
        let motion = Motion {
            release: Err(MotionReason::StickerUnseen),
            body: Body {
                states: (0..80).map(|frame| Some(self.state(frame, as_))).collect(),
                settled: settled.clone(),
                alike: 1.0,
                alike_by_all_lags: 1.0,
                residual_px: 0.1,
                log_likelihood: 0.0,
            },
            wheel: Err(MotionReason::StickerUnseen),
            axle: Err(MotionReason::StickerUnseen),
            tuning: Tuning {
                release: None,
                body: settled,
                wheel: None,
                axle: None,
                sway: None,
                free_rate: None,
                shapes: Vec::new(),
            },
        };
        let car = CarFacts {
            wheel_radius_m: None,
            wheelbase_m: None,
            string_turns: None,
            driven_share: None,
            mass_kg: None,
            aim_from_m: [0.0, 0.0],
            aim_heading_rad: 0.0,
            lever: Lever {
                ahead_m: AHEAD * as_.unit,
                left_m: self.left * as_.unit * as_.side,
            },
            rolls_on_m: RADIUS * as_.unit,
        };
        fit_path(&motion, &car, RADIUS * as_.unit, None).unwrap()
    }
}

/// Start, heading, curvature and sway with their uncertainties, as a run written plainly has them.
fn told(fit: &PathFit, as_: Written) -> [f64; 8] {
    let Written { unit, side, .. } = as_;
    let sway = fit.sway_m.unwrap();
    [
        fit.start_m.value * side / unit,
        fit.heading_rad.value * side,
        fit.curvature_per_m.value * side * unit,
        sway.value / unit,
        fit.start_m.sd / unit,
        fit.heading_rad.sd,
        fit.curvature_per_m.sd * unit,
        sway.sd / unit,
    ]
}

fn config() -> Config {
    Config {
        cases: 48,
        rng_seed: RngSeed::Fixed(21),
        failure_persistence: None,
        ..Config::default()
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_path_knows_no_unit_no_side_and_no_clock(
        run in runs(), unit in 0.7..3.0, mirrored in any::<bool>(), start_s in -5.0..50.0,
    ) {
        let as_ = Written { unit, side: if mirrored { -1.0 } else { 1.0 }, start_s };
        let (plain, other) = (told(&run.fitted(PLAIN), PLAIN), told(&run.fitted(as_), as_));
        for (a, b) in plain.iter().zip(&other) {
            prop_assert!((a - b).abs() < 1e-6 + 1e-3 * a.abs(), "{plain:?} {other:?}");
        }
    }

    /// The curve that the run was laid along, within what the fit says of itself.
    #[test]
    fn a_path_is_the_one_that_was_laid(run in runs()) {
        let fit = run.fitted(PLAIN);
        for (found, laid) in [(fit.heading_rad, run.heading_rad), (fit.curvature_per_m, run.curvature)] {
            let off = (found.value - laid).abs();
            prop_assert!(off < 4.0 * found.sd, "{found:?} {laid}");
            prop_assert!(found.sd < 0.05, "{found:?}");
        }
    }
}
