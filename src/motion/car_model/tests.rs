//! The car's model alone: its drive against arcs of circles, its slopes against differences, its noise against an
//! integral, its observations against elementary geometry, and what turns, mirrors, units and clocks do.

use super::*;
use crate::camera::{Flat, Keystone};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

const CAR: CarGeometry = CarGeometry {
    sticker_height_m: 0.06,
    sticker_ahead_m: 0.10,
    sticker_left_m: 0.03,
    hub_height_m: 0.05,
    face_left_m: 0.04,
    mark_radius_m: Some(0.03),
    aim_from_m: Vector2::new(0.0, 0.0),
    aim_heading_rad: 0.0,
    readout_s: 0.02,
};

/// 500 px a metre along and up, the origin at (80, 300).
fn view() -> View {
    View::example(Projection::Flat(Flat {
        keystone: Keystone::default(),
        origin_px: Vector2::new(80.0, 300.0),
        along_px_per_m: Vector2::new(500.0, 0.0),
        up_px_per_m: Vector2::new(0.0, -500.0),
        from_right: true,
    }))
}

fn place(u_px: f64, v_px: f64) -> Place {
    Place {
        u_px,
        v_px,
        var_u_px2: 0.01,
        var_v_px2: 0.04,
        area_px2: 100.0,
        contrast: 60.0,
        row_frac: 0.25,
        fitted: true,
    }
}

/// A clip at 50 frames a second of a sticker at these places.
fn track(places: Vec<Option<Place>>) -> Track {
    let frames = places.len();
    Track {
        width_px: 640.0,
        height_px: 360.0,
        times_s: (0..frames).map(|frame| 0.02 * frame as f64).collect(),
        in_view: (0, frames - 1),
        sticker: places,
        wheel: Vec::new(),
        more_wheel: Vec::new(),
        axle: Vec::new(),
        floor: Vec::new(),
        floor_paths: Vec::new(),
        notes: Vec::new(),
    }
}

/// A car at rest at x = 0 for 0.1 s and then at 1 m/s along the aim line; 12 frames.
fn starting() -> Track {
    let along = |frame: usize| (0.02 * frame as f64 - 0.1).max(0.0);
    track(
        (0..12)
            .map(|frame| Some(place(80.0 + 500.0 * (along(frame) + 0.10), 270.0)))
            .collect(),
    )
}

fn model<'a>(track: &Track, view: &View, released_s: Option<f64>) -> CarModel<'a> {
    CarModel::new(track, view, &CAR, released_s, (0, track.sticker.len() - 1))
}

/// Where a car ends that starts in a state: an arc of a circle, x = (sin(ψ + k s) - sin ψ) / k (kinematic single-track
/// model; integrated by hand).
fn arc(state: &Vector6<f64>, dt: f64) -> Vector6<f64> {
    let way = state[3] * dt + state[4] * dt * dt / 2.0;
    let (from, k) = (state[2], state[5]);
    let to = from + k * way;
    let (x, y) = if k == 0.0 {
        (way * from.cos(), way * from.sin())
    } else {
        ((to.sin() - from.sin()) / k, (from.cos() - to.cos()) / k)
    };
    Vector6::new(
        state[0] + x,
        state[1] + y,
        to,
        state[3] + state[4] * dt,
        state[4],
        k,
    )
}

fn states() -> impl Strategy<Value = Vector6<f64>> {
    (
        (-2.0..2.0_f64, -2.0..2.0_f64, -3.0..3.0_f64),
        (0.1..3.0_f64, -5.0..5.0_f64, -1.5..1.5_f64),
    )
        .prop_map(|((x, y, h), (v, a, k))| Vector6::new(x, y, h, v, a, k))
}

/// A state told in another frame: turned, mirrored, and with another unit of length.
fn told(state: &Vector6<f64>, turn: f64, side: f64, unit: f64) -> Vector6<f64> {
    let (sin, cos) = turn.sin_cos();
    let (x, y) = (state[0], side * state[1]);
    Vector6::new(
        unit * (x * cos - y * sin),
        unit * (x * sin + y * cos),
        side * state[2] + turn,
        unit * state[3],
        unit * state[4],
        side * state[5] / unit,
    )
}

proptest! {
    #![proptest_config(Config {
        cases: 200,
        rng_seed: RngSeed::Fixed(51),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn a_step_ends_on_the_arc(state in states(), dt in 0.002..0.05_f64) {
        let (_, next) = drive(&state, dt, 0.0);
        let exact = arc(&state, dt);
        // The chord's direction is exact, its length longer by (k s)² / 24 of itself.
        let way = state[3] * dt + state[4] * dt * dt / 2.0;
        let bound = (state[5] * way).powi(2) * way.abs() / 20.0 + 1e-12;
        prop_assert!((next - exact).norm() <= bound, "{next} for {exact}");
    }

    #[test]
    fn slopes_are_those_of_the_step(state in states(), dt in 0.002..0.05_f64, sway in -0.1..0.1_f64) {
        let (slopes, _) = drive(&state, dt, sway);
        for column in 0..6 {
            const STEP: f64 = 1e-5;
            let at = |off: f64| {
                let mut moved = state;
                moved[column] += off;
                drive(&moved, dt, sway).1
            };
            let difference = (at(STEP) - at(-STEP)) / (2.0 * STEP);
            prop_assert!((slopes.column(column) - difference).norm() < 1e-8, "column {column}");
        }
    }

    #[test]
    fn a_sway_turns_the_way_and_not_the_heading(state in states(), sway in -0.2..0.2_f64) {
        let (_, next) = drive(&state, 0.02, sway);
        let mut turned = state;
        turned[2] += sway;
        let (_, other) = drive(&turned, 0.02, 0.0);
        prop_assert!((next.fixed_rows::<2>(0) - other.fixed_rows::<2>(0)).norm() < 1e-14);
        prop_assert!((other[2] - next[2] - sway).abs() < 1e-14);
    }

    #[test]
    fn turns_mirrors_units_and_clocks_carry_through(
        state in states(),
        turn in -3.0..3.0_f64,
        unit in 0.1..10.0_f64,
        slower in 0.2..5.0_f64,
    ) {
        let (_, next) = drive(&state, 0.02, 0.05);
        for side in [1.0, -1.0] {
            let (_, other) = drive(&told(&state, turn, side, unit), 0.02, side * 0.05);
            prop_assert!((other - told(&next, turn, side, unit)).norm() < 1e-11 * unit.max(1.0 / unit));
        }
        // A film that is played slower shows the same path.
        let mut slow = state;
        slow[3] /= slower;
        slow[4] /= slower * slower;
        let (_, late) = drive(&slow, 0.02 * slower, 0.05);
        prop_assert!((late.fixed_rows::<3>(0) - next.fixed_rows::<3>(0)).norm() < 1e-12);
    }

    #[test]
    fn noise_is_the_integral_of_white_jerk_along_the_way(state in states(), dt in 0.005..0.05_f64, jerk in 0.1..10.0_f64) {
        const PARTS: usize = 200;
        let track = starting();
        let view = view();
        let model = model(&track, &view, None);
        let step = model.moving(&state, dt, jerk, false, 0.1);
        // A jerk at u before the end gives u² / 2 of way, u of speed and 1 of acceleration; Simpson's rule is exact for
        // powers up to three, and near enough for the fourth when cut into parts.
        let (sin, cos) = (state[2] + 0.1).sin_cos();
        let mut noise = Matrix6::<f64>::zeros();
        let at = |u: f64| {
            let way = u * u / 2.0;
            let push = Vector6::new(way * cos, way * sin, 0.0, u, 1.0, 0.0);
            push * push.transpose()
        };
        for part in 0..PARTS {
            let (a, b) = (dt * part as f64 / PARTS as f64, dt * (part + 1) as f64 / PARTS as f64);
            noise += (at(a) + at(f64::midpoint(a, b)) * 4.0 + at(b)) * ((b - a) / 6.0 * jerk);
        }
        noise[(5, 5)] = CURVATURE_WANDER.powi(2) * ((state[3] * dt).abs() + 1e-6);
        let off = (step.noise - noise).abs().max();
        prop_assert!(off < 1e-9 * noise.max(), "{off}");
        // The step is linear about the state that it was taken about.
        let (_, next) = drive(&state, dt, 0.1);
        prop_assert!((step.transition * state + step.offset - next).norm() < 1e-12);
        // At the release the acceleration jumps: half a square of time of way, as far as the chord's turn allows.
        let released = model.moving(&state, dt, jerk, true, 0.1);
        let push = step.transition.column(4) * START_ACCELERATION;
        prop_assert!((released.noise - step.noise - push * push.transpose()).norm() < 1e-12);
    }
}

#[test]
fn the_car_rests_until_its_release_and_jumps_within_that_step() {
    let (track, view) = (starting(), view());
    // Rows are taken a quarter of the readout late.
    let model = model(&track, &view, Some(0.112));
    for (frame, time) in model.times_s().iter().enumerate() {
        assert!((time - (0.02 * frame as f64 + 0.25 * 0.02)).abs() < 1e-12);
    }
    assert_eq!(model.first_moving(), 6);
    let path = vec![Vector6::zeros(); 12];
    let steps = model.steps(&path, 2.0, &[0.15]);
    assert_eq!(steps.len(), 11);
    for step in &steps[..5] {
        assert_eq!(*step, resting());
    }
    // From 0.105 to 0.125 s: 0.013 s are left of the step.
    let left = 0.125 - 0.112;
    let unit = [left * left / 2.0, 0.0, 0.0, left, 1.0, 0.0];
    for (row, column) in [(0, 0), (0, 3), (3, 4), (4, 4)] {
        let jump = START_ACCELERATION.powi(2) * unit[row] * unit[column];
        // White jerk of density 2.
        let jerk = match (row, column) {
            (0, 0) => left.powi(5) / 10.0,
            (0, 3) => left.powi(4) / 4.0,
            (3, 4) => left * left,
            _ => 2.0 * left,
        };
        let found = steps[5].noise[(row, column)];
        assert!(
            (found - jump - jerk).abs() < 1e-12 * (1.0 + jump),
            "{row} {column}"
        );
    }
    // The break at 0.15 s lies in the step from 0.145 to 0.165 s, of which 0.015 s are left.
    let plain = model.steps(&path, 2.0, &[]);
    let more = steps[7].noise - plain[7].noise;
    assert!((more[(4, 4)] - JUMP * JUMP).abs() < 1e-12);
    assert!((more[(3, 3)] - (JUMP * 0.015).powi(2)).abs() < 1e-12);
    assert!((more[(0, 0)] - (JUMP * 0.015 * 0.015 / 2.0).powi(2)).abs() < 1e-15);
    for step in (0..11).filter(|step| *step != 7) {
        assert_eq!(steps[step], plain[step]);
    }
}

#[test]
fn looks_are_those_of_a_lever_on_a_plain_scale() {
    let (track, view) = (starting(), view());
    let model = model(&track, &view, None);
    let state = Vector6::new(0.7, -0.2, 0.3, 1.0, 0.0, 0.0);
    let observation = model.observation(4, &state, 3.0).unwrap();
    // u = 80 + 500 (x + a cos ψ - b sin ψ): its slope by ψ is -500 (a sin ψ + b cos ψ); v knows height alone.
    let (sin, cos) = 0.3_f64.sin_cos();
    let slope = -500.0 * (0.10 * sin + 0.03 * cos);
    assert!((observation.design[(0, 0)] - 500.0).abs() < 1e-3);
    assert!(
        (observation.design[(0, 2)] - slope).abs() < 1e-3,
        "{} for {slope}",
        observation.design
    );
    let rest = observation.design.sum() - observation.design[(0, 0)] - observation.design[(0, 2)];
    assert!(rest.abs() < 1e-9);
    let u = 80.0 + 500.0 * (0.7 + 0.10 * cos - 0.03 * sin);
    let off = observation.value - observation.design * state;
    // Seen at 80 + 500 (0 + 0.10), at a height of 0.06.
    assert!(
        (off.x - (130.0 - u)).abs() < 1e-9 && off.y.abs() < 1e-9,
        "{off}"
    );
    assert!((observation.noise[(0, 0)] - 3.0 * (0.01 + EXTRA_VAR_PX2)).abs() < 1e-15);
    assert!((observation.noise[(1, 1)] - 3.0 * (0.04 + EXTRA_VAR_PX2)).abs() < 1e-15);
    let residual = model.residual(4, &state).unwrap();
    assert!((residual - off).norm() < 1e-9);
    // Three spreads are still in proportion; six weigh a quarter.
    let near = Vector6::new(0.10 - 0.10, 0.0, 0.0, 0.0, 0.0, 0.0);
    let spread = (2.0 * (0.01_f64 + EXTRA_VAR_PX2)).sqrt() / 500.0;
    for (spreads, weight) in [(2.9, 1.0), (-6.0, 4.0), (9.0, 9.0)] {
        let mut path = vec![near; 12];
        path[4][0] += spreads * spread;
        let found = model.outliers(&path, 2.0)[4];
        assert!((found - weight).abs() < 1e-6, "{found} for {weight}");
    }
    let floor = model.floor_observation(4).unwrap();
    assert!((floor.at_m - Vector2::new(0.10, 0.0)).norm() < 1e-12);
    assert!((floor.per_px[(0, 0)] - 1.0 / 500.0).abs() < 1e-12);
    assert_eq!(
        floor.var_px2,
        Vector2::new(0.01 + EXTRA_VAR_PX2, 0.04 + EXTRA_VAR_PX2)
    );
}

#[test]
fn the_start_is_where_the_looks_put_the_car_at_the_slope_of_a_line() {
    // A steady car: the straight line is exact everywhere.
    let steady = |frame: usize| 0.3 + 1.5 * (0.02 * frame as f64 + 0.005);
    let places = (0..20)
        .map(|frame| (frame % 4 != 1).then(|| place(80.0 + 500.0 * (steady(frame) + 0.10), 270.0)))
        .collect();
    let (track, view) = (track(places), view());
    let model = model(&track, &view, None);
    for (frame, state) in model.start().unwrap().iter().enumerate() {
        // A frame without an observation has the row of the one before.
        assert!((state[0] - steady(frame)).abs() < 1e-9, "{frame}: {state}");
        assert!((state[3] - 1.5).abs() < 1e-9, "{state}");
        // A plain scale puts everything on y = 0: the sticker's 0.03 m are the car's to the right.
        assert!((state[1] + 0.03).abs() < 1e-12, "{state}");
    }
    let prior = model.prior();
    assert!((prior.mean[0] - steady(0)).abs() < 1e-9);
    assert!((prior.covariance[(2, 2)] - HEADING_SD * HEADING_SD).abs() < 1e-15);
    assert!((prior.covariance[(3, 3)] - 9.0).abs() < 1e-15);
}

#[test]
fn a_sticker_that_was_not_seen_gives_no_start() {
    let (track, view) = (track(vec![None; 20]), view());
    assert!(model(&track, &view, None).start().is_err());
}

#[test]
fn a_local_line_is_least_squares_over_eight_neighbours() {
    // Points off a line by a zigzag: slope and value by the textbook's sums, done apart.
    let points: Vec<(f64, Vector2<f64>)> = (0..30)
        .map(|i| {
            let t = 0.02 * f64::from(i) + 0.001 * f64::from(i % 3);
            let off = [0.004, -0.003, 0.001][i as usize % 3];
            (
                t,
                Vector2::new(0.2 + 0.9 * t + off, -0.1 + 0.4 * t - 2.0 * off),
            )
        })
        .collect();
    let along = Vector2::new(0.6, 0.8);
    let time = 0.305;
    let near = points.iter().position(|(t, _)| *t >= time).unwrap();
    let part = &points[near - 4..near + 4];
    let design =
        nalgebra::DMatrix::from_fn(8, 2, |i, j| if j == 0 { 1.0 } else { part[i].0 - time });
    let values = nalgebra::DMatrix::from_fn(8, 2, |i, j| part[i].1[j]);
    let solved = design.svd(true, true).solve(&values, 1e-12).unwrap();
    let state = local_state(&points, time, 0.25, along);
    assert!((state[0] - solved[(0, 0)]).abs() < 1e-9 && (state[1] - solved[(0, 1)]).abs() < 1e-9);
    let speed = 0.6 * solved[(1, 0)] + 0.8 * solved[(1, 1)];
    assert!((state[3] - speed).abs() < 1e-9, "{} for {speed}", state[3]);
    assert_eq!((state[2], state[4], state[5]), (0.25, 0.0, 0.0));
}

/// Heading, rise and aside of a sway, each with a sine and a cosine of the phase.
const SWAY: [f64; 6] = [0.02, -0.01, 0.003, 0.001, 0.004, -0.002];

/// Sine and cosine of a sway's phase.
fn phase(frame: usize) -> [f64; 2] {
    [(0.4 * frame as f64).sin(), (0.4 * frame as f64).cos()]
}

/// The same model with that sway for twelve frames.
fn swaying(mut model: CarModel<'_>) -> CarModel<'_> {
    model.parts = Vector6::from(SWAY);
    model.phase = (0..12).map(phase).collect();
    model.swayed = (0..12)
        .map(|frame| {
            let [sin, cos] = phase(frame);
            Swayed {
                heading_rad: SWAY[0] * sin + SWAY[1] * cos,
                rise_m: SWAY[2] * sin + SWAY[3] * cos,
                aside_m: SWAY[4] * sin + SWAY[5] * cos,
            }
        })
        .collect();
    model
}

/// A path of twelve frames about which it is looked at.
fn way_of_a_swaying_car() -> Vec<Vector6<f64>> {
    (0..12)
        .map(|frame| Vector6::new(0.02 * f64::from(frame), 0.01, 0.2, 1.0, 0.5, 0.1))
        .collect()
}

/// The car's state and the sway's parts in one.
fn joint(state: &Vector6<f64>) -> SVector<f64, 12> {
    let mut joint = SVector::<f64, 12>::zeros();
    joint.fixed_rows_mut::<6>(0).copy_from(state);
    joint.fixed_rows_mut::<6>(6).copy_from(&Vector6::from(SWAY));
    joint
}

#[test]
fn a_sway_beside_the_car_is_seen_where_its_parts_put_it() {
    let (track, view) = (starting(), view());
    let model = swaying(model(&track, &view, None));
    let path = way_of_a_swaying_car();
    let observations = model.swaying_observations(&path, 2.0, &[1.0; 12]);
    for (frame, observation) in observations.iter().enumerate() {
        let observation = observation.unwrap();
        let off = observation.value - observation.design * joint(&path[frame]);
        assert!(
            (off - model.residual(frame, &path[frame]).unwrap()).norm() < 1e-6,
            "{frame}"
        );
        // v = 300 - 500 (z + rise): a part of the rise is seen by its phase.
        let [sin, cos] = phase(frame);
        assert!((observation.design[(1, 8)] + 500.0 * sin).abs() < 1e-3);
        assert!((observation.design[(1, 9)] + 500.0 * cos).abs() < 1e-3);
        // Aside of a car that heads 0.2 rad (and sways) to the left is back along x.
        let heading = 0.2 + SWAY[0] * sin + SWAY[1] * cos;
        assert!((observation.design[(0, 10)] + 500.0 * heading.sin() * sin).abs() < 1e-3);
        assert!((observation.design[(0, 11)] + 500.0 * heading.sin() * cos).abs() < 1e-3);
    }
}

#[test]
fn about_the_path_the_step_with_a_sway_is_the_cars_own() {
    let (track, view) = (starting(), view());
    let model = swaying(model(&track, &view, None));
    let path = way_of_a_swaying_car();
    let (alone, steps) = (
        model.steps(&path, 2.0, &[]),
        model.swaying_steps(&path, 2.0, &[]),
    );
    assert_eq!(steps.len(), 11);
    for (frame, (step, car)) in steps.iter().zip(&alone).enumerate() {
        let next = step.transition * joint(&path[frame]) + step.offset;
        let expected = joint(&(car.transition * path[frame] + car.offset));
        assert!((next - expected).norm() < 1e-12, "{frame}");
        assert_eq!(step.noise.fixed_view::<6, 6>(0, 0), car.noise);
        // More of a part that turns the heading goes where more heading goes.
        let middle = f64::midpoint(phase(frame)[1], phase(frame + 1)[1]);
        for row in 0..2 {
            let slope = car.transition[(row, 2)] * middle;
            assert!((step.transition[(row, 7)] - slope).abs() < 1e-15);
        }
    }
}
