//! The wheel's smooth turn alone: closed-form turns, another way to the same least squares, the change points, and what
//! mirrors and clocks do.

use super::super::body::BodyState;
use super::*;
use crate::noise::in_a_row;
use nalgebra::{DMatrix, DVector, Matrix4, Matrix6, Vector6};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

const RADIUS: f64 = 0.05;
const FPS: f64 = 60.0;

fn settled() -> Settled {
    Settled {
        jerk_density: 1e4,
        variance_factor: 1.0,
        change_points_s: Vec::new(),
        change_points_sd_s: Vec::new(),
        open: Vec::new(),
    }
}

/// A car in view for so many frames, whose sticker's row is `late_s` after the frame's time.
fn body(frames: usize, start_s: f64, late_s: f64) -> Body {
    let state = |frame: usize| BodyState {
        time_s: start_s + frame as f64 / FPS + late_s,
        mean: Vector6::zeros(),
        covariance: Matrix6::zeros(),
        sway_rad: 0.0,
        rise_m: 0.0,
        aside_m: 0.0,
        seen: true,
        observation: None,
    };
    Body {
        states: (0..frames).map(|frame| Some(state(frame))).collect(),
        settled: settled(),
        alike: 1.0,
        alike_by_all_lags: 1.0,
        residual_px: 0.0,
        log_likelihood: 0.0,
    }
}

/// Looks at a turn known in closed form.
fn observations(
    frames: usize,
    start_s: f64,
    angle: impl Fn(f64) -> f64,
) -> (Vec<AngleObservation>, Vec<Option<f64>>) {
    let observation = |frame: usize| AngleObservation {
        frame,
        time_s: start_s + frame as f64 / FPS,
        angle_rad: angle(frame as f64 / FPS),
        variance: 1e-4,
    };
    let observations: Vec<AngleObservation> = (0..frames).map(observation).collect();
    let angles = observations
        .iter()
        .map(|observation| Some(observation.angle_rad))
        .collect();
    (observations, angles)
}

fn chain(
    observations: &[AngleObservation],
    angles: &[Option<f64>],
    body: &Body,
    released_s: Option<f64>,
) -> Chain {
    Chain::new(
        observations,
        angles,
        body,
        released_s,
        RADIUS,
        &Uneven::default(),
    )
}

/// What a push of the acceleration does by then: elementary kinematics.
fn pushed(left: f64) -> Vector3<f64> {
    Vector3::new(0.5 * left * left, left, 1.0)
}

#[test]
fn a_steadily_quickening_turn_is_followed_to_the_car_s_own_times() {
    // θ = 0.4 + 3 t + 10 t²: no jerk, so that smoothing changes nothing.
    let angle = |t: f64| 0.4 + 3.0 * t + 10.0 * t * t;
    let late = 0.004;
    let body = body(50, 2.0, late);
    let (observations, mut angles) = observations(50, 2.0, angle);
    angles[20..24].fill(None);
    let (states, _) =
        chain(&observations, &angles, &body, None).states(&settled(), &[false; 50], &body);
    for (frame, state) in states.iter().enumerate() {
        let state = state.unwrap();
        let t = frame as f64 / FPS + late;
        assert!(
            (state.mean[0] - angle(t)).abs() < 1e-3,
            "{frame}: {}",
            state.mean[0] - angle(t)
        );
        assert!(
            (state.mean[1] - (3.0 + 20.0 * t)).abs() < 0.05,
            "{frame}: {}",
            state.mean
        );
        assert!(
            (state.mean[2] - 20.0).abs() < 1.0,
            "{frame}: {}",
            state.mean
        );
        assert_eq!(state.seen, !(20..24).contains(&frame));
        if let Some((seen, variance)) = state.observation {
            // The observation, carried on to the sticker's time at the wheel's rate.
            let carried = angle(frame as f64 / FPS) + state.mean[1] * late;
            assert!(
                (seen - carried).abs() < 1e-3,
                "{frame}: {seen} for {carried}"
            );
            assert_eq!(variance, 1e-4);
        }
    }
}

#[test]
fn past_the_last_look_two_frames_are_known_and_more_are_a_forecast() {
    let body = body(30, 0.0, 0.0);
    let (observations, mut angles) = observations(30, 0.0, |t| 40.0 * t);
    angles[20..].fill(None);
    let (states, _) =
        chain(&observations, &angles, &body, None).states(&settled(), &[false; 30], &body);
    for (frame, state) in states.iter().enumerate() {
        let state = state.unwrap();
        assert_eq!(state.forecast, frame > 19 + FORECAST_FRAMES, "{frame}");
        assert!(
            (state.mean[1] - 40.0).abs() < 0.2,
            "{frame}: {}",
            state.mean
        );
    }
    let known = |frame: usize| states[frame].unwrap().covariance[(1, 1)];
    assert!(known(29) > 4.0 * known(19));
}

/// Mean and covariance of the states of twelve frames all at once: least squares on angles, prior and steps.
fn dense_fit(angles: &[Option<f64>]) -> (DVector<f64>, DMatrix<f64>) {
    let size = 36;
    let mut normal = DMatrix::<f64>::zeros(size, size);
    let mut pull = DVector::<f64>::zeros(size);
    // The prior of a wheel that may turn already.
    let prior = [1.0, 3600.0, 9e4];
    for (part, variance) in prior.into_iter().enumerate() {
        normal[(part, part)] += 1.0 / variance;
    }
    pull[0] += angles[0].unwrap();
    let dt = 1.0 / FPS;
    // White jerk through three integrations (A. Gelb, Applied Optimal Estimation, section 3.6, from memory).
    let noise = Matrix3::new(
        dt.powi(5) / 20.0,
        dt.powi(4) / 8.0,
        dt.powi(3) / 6.0,
        dt.powi(4) / 8.0,
        dt.powi(3) / 3.0,
        dt * dt / 2.0,
        dt.powi(3) / 6.0,
        dt * dt / 2.0,
        dt,
    ) * 1e4;
    let weight = noise.try_inverse().unwrap();
    let go = Matrix3::new(1.0, dt, dt * dt / 2.0, 0.0, 1.0, dt, 0.0, 0.0, 1.0);
    for step in 0..11 {
        let mut equation = SMatrix::<f64, 3, 6>::zeros();
        equation.fixed_view_mut::<3, 3>(0, 0).copy_from(&-go);
        equation
            .fixed_view_mut::<3, 3>(0, 3)
            .copy_from(&Matrix3::identity());
        let part = equation.transpose() * weight * equation;
        let mut block = normal.view_mut((3 * step, 3 * step), (6, 6));
        block += part;
    }
    for (frame, angle) in angles.iter().enumerate() {
        normal[(3 * frame, 3 * frame)] += 1.0 / 1e-4;
        pull[3 * frame] += angle.unwrap() / 1e-4;
    }
    let covariance = normal.try_inverse().unwrap();
    (&covariance * pull, covariance)
}

#[test]
fn states_and_likelihood_are_those_of_one_dense_fit() {
    // Angles off a smooth turn; the states all at once by least squares on observations, prior and steps. Weights of
    // the second pass are 1: no observation is three spreads off.
    let body = body(12, 0.0, 0.0);
    let (observations, angles) = observations(12, 0.0, |t| 20.0 * t + 0.012 * (400.0 * t).sin());
    let chain = chain(&observations, &angles, &body, None);
    let (states, likelihood) = chain.states(&settled(), &[false; 12], &body);
    let (mean, covariance) = dense_fit(&angles);
    // Neighbours' errors alike widen all variances by the same factor.
    let factor = states[0].unwrap().covariance[(0, 0)] / covariance[(0, 0)];
    let residual = |frame: usize| angles[frame].unwrap() - mean[3 * frame];
    let expected = integrated_autocorrelation(&in_a_row((0..12).map(residual)));
    assert!(
        (factor / expected - 1.0).abs() < 1e-4,
        "{factor} for {expected}"
    );
    for (frame, state) in states.iter().enumerate() {
        let state = state.unwrap();
        let tolerances = [1e-7, 1e-5, 1e-3];
        for part in 0..3 {
            let off = state.mean[part] - mean[3 * frame + part];
            assert!(off.abs() < tolerances[part], "{frame} {part}: {off}");
            let variance = covariance[(3 * frame + part, 3 * frame + part)] * factor;
            let ratio = state.covariance[(part, part)] / variance;
            assert!((ratio - 1.0).abs() < 1e-4, "{frame} {part}: {ratio}");
        }
    }
    assert!(likelihood.is_finite());
}

#[test]
fn a_look_far_off_weighs_by_its_spreads() {
    let body = body(40, 0.0, 0.0);
    let angle = |t: f64| 30.0 * t;
    let off_by = |off: f64| {
        let (mut seen, mut angles) = observations(40, 0.0, angle);
        seen[20].angle_rad += off;
        angles[20] = Some(seen[20].angle_rad);
        let mut settled = settled();
        settled.jerk_density = 1.0;
        let (states, _) = chain(&seen, &angles, &body, None).states(&settled, &[false; 40], &body);
        states[20].unwrap().mean[0] - angle(20.0 / FPS)
    };
    // Within three spreads (0.01 rad each) an observation pulls in proportion; at twelve, weighed down to a sixteenth
    // of its information, a quarter as much as one at three.
    let (near, far) = (off_by(0.02), off_by(0.12));
    let share = far / (6.0 * near);
    assert!((share - 1.0 / 16.0).abs() < 0.02, "{share}");
}

#[test]
fn the_wheel_rests_until_the_release_and_then_jumps() {
    let body = body(30, 0.0, 0.0);
    let (observations, angles) = observations(30, 0.0, |_| 0.2);
    let t0 = 10.25 / FPS;
    let of = |angles: &[Option<f64>]| chain(&observations, angles, &body, Some(t0));
    let chain = of(&angles);
    assert_eq!(chain.first_step(), 11);
    assert_eq!(chain.jump(), RIM_JUMP / RADIUS);
    // Nothing turns before; the count of what rests is the last eight.
    let prior = chain.prior();
    assert_eq!(prior.mean, Vector3::new(0.2, 0.0, 0.0));
    assert_eq!(
        prior.covariance,
        Matrix3::from_diagonal(&Vector3::new(1.0, 0.0, 0.0))
    );
    assert_eq!(chain.counting().take(11).flatten().count(), 8);
    let steps = chain.turning_steps(5.0, &[20.5 / FPS, 29.0 / FPS - 1e-9]);
    for step in &steps[..10] {
        assert_eq!(
            (step.transition, step.noise),
            (Matrix3::identity(), Matrix3::zeros())
        );
    }
    let left = 0.75 / FPS;
    let column = pushed(left) * START_ACCELERATION;
    let jump = steps[10].noise - column * column.transpose();
    // What is left is white jerk of density 5.
    assert!((jump[(2, 2)] - 5.0 * left).abs() < 1e-9, "{jump}");
    assert!(
        (jump[(0, 0)] - 5.0 * left.powi(5) / 20.0).abs() < 1e-12,
        "{jump}"
    );
    // A change point within observations is the wheel's own; the last step ends with the last observation, and that
    // change point is the car's.
    let smooth = chain.turning_steps(5.0, &[]);
    let column = pushed(0.5 / FPS) * chain.jump();
    assert!((steps[20].noise - smooth[20].noise - column * column.transpose()).norm() < 1e-9);
    let mut blind = angles.clone();
    blind[20..].fill(None);
    let chain = of(&blind);
    let (steps, smooth) = (
        chain.turning_steps(5.0, &[20.5 / FPS]),
        chain.turning_steps(5.0, &[]),
    );
    let column = column * UNSEEN_SHARE;
    assert!((steps[20].noise - smooth[20].noise - column * column.transpose()).norm() < 1e-9);
}

#[test]
fn an_uneven_turn_is_steadied() {
    // A mark whose circle is off its hub by a tenth of its radius: 0.1 sin θ is added to the steady turn.
    let mut uneven = Uneven::default();
    uneven.parts[0] = 0.1;
    uneven.covariance[(0, 0)] = 4e-4;
    let steady = |t: f64| 25.0 * t;
    let body = body(60, 0.0, 0.0);
    let seen = |t: f64| {
        // Seen where its own harmonic was added: s = θ - 0.1 sin θ.
        let mut angle = steady(t);
        for _ in 0..60 {
            angle = steady(t) + 0.1 * f64::sin(angle);
        }
        angle
    };
    let (observations, angles) = observations(60, 0.0, seen);
    let chain = |uneven: &Uneven| {
        let chain = Chain::new(&observations, &angles, &body, None, RADIUS, uneven);
        chain.states(&settled(), &[false; 60], &body).0
    };
    let states = chain(&uneven);
    let sure = chain(&Uneven {
        covariance: Matrix4::zeros(),
        ..uneven
    });
    for (frame, (state, sure)) in states.iter().zip(&sure).enumerate() {
        let (state, sure) = (state.unwrap(), sure.unwrap());
        let t = frame as f64 / FPS;
        assert!(
            (state.mean[0] - steady(t)).abs() < 1e-3,
            "{frame}: {}",
            state.mean
        );
        assert!(
            (state.mean[1] - 25.0).abs() < 0.1,
            "{frame}: {}",
            state.mean
        );
        // What is not known of the sine is not known of the angle: sd 0.02 sin θ; nor of the rate: 0.02 cos θ of it.
        let more = state.covariance - sure.covariance;
        let (sin, cos) = steady(t).sin_cos();
        assert!(
            (more[(0, 0)] - 4e-4 * sin * sin).abs() < 1e-6,
            "{frame}: {more}"
        );
        assert!(
            (more[(1, 1)] - 4e-4 * (25.0 * cos).powi(2)).abs() < 3e-3,
            "{frame}: {more}"
        );
    }
}

#[test]
fn a_look_at_an_uneven_turn_is_shown_where_it_was_seen() {
    let uneven = Uneven {
        parts: nalgebra::Vector4::new(0.1, -0.05, 0.03, 0.02),
        ..Uneven::default()
    };
    let body = body(60, 0.0, 0.0);
    let (observations, angles) = observations(60, 0.0, |t| 25.0 * t);
    let chain = Chain::new(&observations, &angles, &body, None, RADIUS, &uneven);
    let (states, _) = chain.states(&settled(), &[false; 60], &body);
    for (state, angle) in states.iter().zip(&angles) {
        let (seen, _) = state.unwrap().observation.unwrap();
        assert!((seen - angle.unwrap()).abs() < 1e-8, "{seen} for {angle:?}");
    }
}

proptest! {
    #![proptest_config(Config {
        cases: 20,
        rng_seed: RngSeed::Fixed(52),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn mirrors_clocks_and_slow_motion_carry_through(
        errors in proptest::collection::vec(-0.02..0.02_f64, 40),
        rate in -60.0..60.0_f64,
        change in -100.0..100.0_f64,
        start_s in 0.0..100.0_f64,
        turned in -10.0..10.0_f64,
    ) {
        let told = |side: f64, start_s: f64, turned: f64| {
            let body = body(40, start_s, 0.003);
            let (mut seen, _) = observations(40, start_s, |t| rate * t + change * t * t / 2.0);
            for (observation, error) in seen.iter_mut().zip(&errors) {
                observation.angle_rad = turned + side * (observation.angle_rad + error);
            }
            let angles: Vec<Option<f64>> = seen.iter().map(|observation| Some(observation.angle_rad)).collect();
            let chain = chain(&seen, &angles, &body, None);
            chain.states(&settled(), &[false; 40], &body)
        };
        let (plain, likelihood) = told(1.0, 0.0, 0.0);
        for (side, start_s, turned) in [(-1.0, 0.0, 0.0), (1.0, start_s, 0.0), (-1.0, start_s, turned)] {
            let (other, its) = told(side, start_s, turned);
            for (a, b) in plain.iter().flatten().zip(other.iter().flatten()) {
                let mut expected = a.mean * side;
                expected[0] += turned;
                for (part, tolerance) in [1e-7, 1e-5, 1e-3].into_iter().enumerate() {
                    prop_assert!((b.mean[part] - expected[part]).abs() < tolerance);
                    prop_assert!((b.covariance[(part, part)] / a.covariance[(part, part)] - 1.0).abs() < 1e-5);
                }
            }
            prop_assert!((its - likelihood).abs() < 1e-5);
        }
    }
}
