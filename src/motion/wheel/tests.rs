//! The wheel's angle alone: a mark whose place on its wheel is known, seen by a plain scale and by cameras on both
//! sides, with rows read one after another.

use super::*;
use crate::camera::{Flat, Keystone, Pinhole};
use nalgebra::{Matrix6, Rotation3, Vector4, Vector6};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use std::f64::consts::TAU;

const CAR: CarGeometry = CarGeometry {
    sticker_height_m: 0.06,
    sticker_ahead_m: 0.10,
    sticker_left_m: 0.03,
    hub_height_m: 0.05,
    face_left_m: -0.04,
    mark_radius_m: Some(0.03),
    aim_from_m: Vector2::new(0.0, 0.0),
    aim_heading_rad: 0.0,
    readout_s: 0.016,
};
const FRAMES: usize = 50;
const FPS: f64 = 60.0;
const SPEED: f64 = 0.9;

/// A plain scale of so many px a metre, on the car's right or left: there it goes to the left.
fn flat(px_per_m: f64, from_right: bool) -> View {
    let side = if from_right { 1.0 } else { -1.0 };
    View::example(Projection::Flat(Flat {
        keystone: Keystone::default(),
        origin_px: Vector2::new(320.0 - 250.0 * side, 300.0),
        along_px_per_m: Vector2::new(px_per_m * side, 0.0),
        up_px_per_m: Vector2::new(0.0, -px_per_m),
        from_right,
    }))
}

/// A camera 2 m to the right (or left) of the track, a little above it, looking slantwise down at its middle.
fn camera(side: f64) -> View {
    let position = Point3::new(0.1, -2.0 * side, 0.8);
    let ahead = (Point3::new(0.4, 0.0, 0.0) - position).normalize();
    let right = ahead.cross(&Vector3::z()).normalize();
    let down = ahead.cross(&right);
    let rows = Matrix3::from_rows(&[right.transpose(), down.transpose(), ahead.transpose()]);
    View::example(Projection::Pinhole(Pinhole {
        focal_px: 1100.0,
        centre_px: Vector2::new(639.5, 359.5),
        k1: 0.02,
        camera_from_floor: Rotation3::from_matrix_unchecked(rows),
        position_m: position,
    }))
}

/// A car at a steady speed and heading, its sticker's row in the middle of the picture.
fn body(car: &CarGeometry, heading: f64, start_s: f64) -> Body {
    let state = |frame: usize| {
        let time_s = start_s + frame as f64 / FPS + 0.5 * car.readout_s;
        let way = SPEED * frame as f64 / FPS;
        BodyState {
            time_s,
            mean: Vector6::new(
                way * heading.cos(),
                way * heading.sin(),
                heading,
                SPEED,
                0.0,
                0.0,
            ),
            covariance: Matrix6::zeros(),
            sway_rad: 0.0,
            rise_m: 0.002,
            aside_m: -0.003,
            seen: true,
            observation: None,
        }
    };
    Body {
        states: (0..FRAMES).map(|frame| Some(state(frame))).collect(),
        settled: Settled {
            jerk_density: 1.0,
            variance_factor: 1.0,
            change_points_s: Vec::new(),
            change_points_sd_s: Vec::new(),
            open: Vec::new(),
        },
        alike: 1.0,
        alike_by_all_lags: 1.0,
        residual_px: 0.0,
        log_likelihood: 0.0,
    }
}

/// Where a mark is seen that is `ahead` of and `up` above its hub, by a row `row` of the way down the picture.
fn mark(
    car: &CarGeometry,
    view: &View,
    state: &BodyState,
    row: f64,
    (ahead, up): (f64, f64),
) -> Option<Place> {
    let (sin, cos) = state.mean[2].sin_cos();
    let travel = SPEED * (row - 0.5) * car.readout_s;
    let hub = Vector3::new(
        state.mean[0] + travel * cos - (car.face_left_m + state.aside_m) * sin,
        state.mean[1] + travel * sin + (car.face_left_m + state.aside_m) * cos,
        car.hub_height_m + state.rise_m,
    );
    let at = hub + Vector3::new(ahead * cos, ahead * sin, up);
    let pixel = view.projection.pixel(&Point3::from(at))?;
    Some(Place {
        u_px: pixel.x,
        v_px: pixel.y,
        var_u_px2: 0.01,
        var_v_px2: 0.02,
        area_px2: 60.0,
        contrast: 50.0,
        row_frac: row,
        fitted: true,
    })
}

/// A wheel that rolls, its mark ahead of the hub at first: forward takes it down, then back and up.
fn turn(car: &CarGeometry, frame: usize, row: f64) -> f64 {
    SPEED * (frame as f64 / FPS + (row - 0.5) * car.readout_s) / car.hub_height_m
}

/// Places of a mark that starts `first` rad on, on a circle of this radius about a hub that is off the sheet's.
fn places(
    car: &CarGeometry,
    view: &View,
    body: &Body,
    first: f64,
    radius: f64,
    off: [f64; 2],
) -> Places {
    (0..FRAMES)
        .map(|frame| {
            // Rows all over the picture, so that a time taken from the wrong one shows.
            let row = 0.1 + 0.8 * (frame % 7) as f64 / 7.0;
            let (sin, cos) = (first + turn(car, frame, row)).sin_cos();
            let at = (off[0] + radius * cos, off[1] - radius * sin);
            mark(car, view, body.states[frame].as_ref()?, row, at)
        })
        .collect()
}

fn times(start_s: f64) -> Vec<f64> {
    (0..FRAMES)
        .map(|frame| start_s + frame as f64 / FPS)
        .collect()
}

fn known(jerk_density: f64) -> WheelTuning {
    WheelTuning {
        settled: Settled {
            jerk_density,
            variance_factor: 1.0,
            change_points_s: Vec::new(),
            change_points_sd_s: Vec::new(),
            open: Vec::new(),
        },
        uneven: Uneven::default(),
        counted: None,
    }
}

fn smoothed(
    car: &CarGeometry,
    view: &View,
    body: &Body,
    start_s: f64,
    marks: &[Circling<'_>],
) -> Result<Wheel, MotionReason> {
    smooth_wheel(
        marks,
        &times(start_s),
        view,
        car,
        body,
        None,
        Some(&known(100.0)),
    )
}

#[test]
fn a_rolling_wheel_turns_by_its_way_over_its_radius_from_whichever_side_it_is_seen() {
    for (heading, side) in [(0.0, 1.0), (0.1, 1.0), (0.0, -1.0), (-0.1, -1.0)] {
        let car = CarGeometry {
            face_left_m: -0.04 * side,
            ..CAR
        };
        let (view, body) = (camera(side), body(&car, heading, 0.0));
        let off = [0.002, -0.001];
        let places = places(&car, &view, &body, 0.7, 0.03, off);
        assert_eq!(places.iter().flatten().count(), FRAMES);
        let circling = Circling {
            places: &places,
            radius_m: Some(0.03),
        };
        let wheel = smoothed(&car, &view, &body, 0.0, &[circling]).unwrap();
        assert!(
            (wheel.mark_radius_m - 0.03).abs() < 1e-6,
            "{}",
            wheel.mark_radius_m
        );
        for (found, expected) in wheel.hub_offset_m.iter().zip(off) {
            assert!((found - expected).abs() < 1e-6, "{:?}", wheel.hub_offset_m);
        }
        assert!(wheel.residual_m < 1e-6);
        let first = wheel.states[0].unwrap().mean[0];
        assert!((first - 0.7).abs() < 1e-3, "{first}");
        for (frame, state) in wheel.states.iter().enumerate() {
            let state = state.unwrap();
            let turned = turn(&car, frame, 0.5);
            assert!(
                (state.mean[0] - first - turned).abs() < 2e-3,
                "{frame}: {}",
                state.mean
            );
            assert!(
                (state.mean[1] - SPEED / 0.05).abs() < 0.05,
                "{frame}: {}",
                state.mean
            );
            assert!(state.seen && !state.ambiguous && !state.forecast);
        }
    }
}

#[test]
fn the_variance_of_an_angle_is_that_of_a_pixel_over_the_radius() {
    // A plain scale of s px a metre: at θ, across the radius, sd_θ² = (sin² var_u + cos² var_v) / (s r)².
    let (view, body) = (flat(800.0, true), body(&CAR, 0.0, 0.0));
    let places = places(&CAR, &view, &body, 0.2, 0.03, [0.0, 0.0]);
    let circling = Circling {
        places: &places,
        radius_m: None,
    };
    let (circle, observations) = looks_at(&circling, &times(0.0), &view, &CAR, &body).unwrap();
    assert!((circle.radius - 0.03).abs() < 1e-6 && circle.centre.norm() < 1e-6);
    assert_eq!(observations.len(), FRAMES);
    for observation in &observations {
        let row = 0.1 + 0.8 * (observation.frame % 7) as f64 / 7.0;
        let angle = 0.2 + turn(&CAR, observation.frame, row);
        let (sin, cos) = angle.sin_cos();
        let apart = (observation.angle_rad - angle).rem_euclid(TAU);
        assert!(apart.min(TAU - apart) < 1e-4, "{}", observation.frame);
        let var = sin * sin * (0.01 + EXTRA_VAR_PX2) + cos * cos * (0.02 + EXTRA_VAR_PX2);
        let expected = var / (800.0_f64 * 0.03).powi(2);
        assert!(
            (observation.variance / expected - 1.0).abs() < 1e-3,
            "{}",
            observation.frame
        );
        let time_s = observation.frame as f64 / FPS + row * CAR.readout_s;
        assert!((observation.time_s - time_s).abs() < 1e-12);
    }
}

fn circling(places: &Places) -> Circling<'_> {
    Circling {
        places,
        radius_m: None,
    }
}

#[test]
fn a_second_mark_fills_the_gaps_of_the_first_whatever_lies_between_them() {
    let (view, body) = (camera(1.0), body(&CAR, 0.0, 0.0));
    let mut first = places(&CAR, &view, &body, 0.7, 0.03, [0.0, 0.0]);
    let second = places(&CAR, &view, &body, 0.7 + 2.1, 0.022, [0.0, 0.0]);
    first[18..40].fill(None);
    let marks = [circling(&first), circling(&second)];
    let wheel = smoothed(&CAR, &view, &body, 0.0, &marks).unwrap();
    assert!((wheel.mark_radius_m - 0.03).abs() < 1e-6);
    for (frame, state) in wheel.states.iter().enumerate() {
        let state = state.unwrap();
        let turned = 0.7 + turn(&CAR, frame, 0.5);
        assert!(
            (state.mean[0] - turned).abs() < 2e-3,
            "{frame}: {}",
            state.mean
        );
        assert!(state.seen);
    }
    // Both seen too seldom together: the second tells nothing.
    let (_, own) = looks_at(&circling(&first), &times(0.0), &view, &CAR, &body).unwrap();
    let (_, further) = looks_at(&circling(&second), &times(0.0), &view, &CAR, &body).unwrap();
    assert_eq!((own.len(), further.len()), (28, FRAMES));
    assert_eq!(beside(&own[..MIN_COMMON], &further).len(), FRAMES);
    assert_eq!(beside(&own[..MIN_COMMON - 1], &further).len(), 0);
}

#[test]
fn a_car_that_points_another_way_takes_the_mark_off_its_circle() {
    let (view, true_body) = (camera(1.0), body(&CAR, 0.0, 0.0));
    let seen = places(&CAR, &view, &true_body, 0.7, 0.03, [0.0, 0.0]);
    let circling = Circling {
        places: &seen,
        radius_m: None,
    };
    let right = smoothed(&CAR, &view, &true_body, 0.0, &[circling]).unwrap();
    assert!(right.off_circle() < 0.01 && !right.off_its_circle());
    // A heading that is wrong at first and comes right, about the sticker: by hand, 0.2 rad on a lever of 0.1 m put the
    // hub 20 mm to the side, and a ray that comes down at one in three meets its plane 7 mm too high or low.
    let mut wrong = true_body;
    for (frame, state) in wrong.states.iter_mut().enumerate() {
        let state = state.as_mut().unwrap();
        let off_rad = 0.2 * (1.0 - frame as f64 / FRAMES as f64);
        state.mean[2] += off_rad;
        state.mean[1] -= CAR.sticker_ahead_m * off_rad;
    }
    let off = smoothed(&CAR, &view, &wrong, 0.0, &[circling]).unwrap();
    assert!(off.off_circle() > 0.05, "{}", off.off_circle());
}

#[test]
fn what_cannot_be_a_wheel_mark_is_refused_with_its_reason() {
    let (view, body) = (camera(1.0), body(&CAR, 0.0, 0.0));
    let refused = |places: &Places, radius_m| {
        let circling = Circling { places, radius_m };
        smoothed(&CAR, &view, &body, 0.0, &[circling]).unwrap_err()
    };
    let mut few = places(&CAR, &view, &body, 0.7, 0.03, [0.0, 0.0]);
    few[7..].fill(None);
    assert_eq!(
        refused(&few, None),
        MotionReason::FewWheelFrames {
            seen: 7,
            needed: MIN_OBSERVATIONS
        }
    );
    // Circles 20 mm ahead of the hub, two fifths of the wheel's radius.
    let elsewhere = places(&CAR, &view, &body, 0.7, 0.02, [0.02, 0.0]);
    let MotionReason::OffHub { by_m } = refused(&elsewhere, None) else {
        panic!("{}", refused(&elsewhere, None))
    };
    assert!((by_m - 0.02).abs() < 5e-4, "{by_m}");
    // A third of a turn gives no hub: the sheet must say the radius.
    let mut part = places(&CAR, &view, &body, 0.7, 0.03, [0.0, 0.0]);
    part[9..].fill(None);
    assert_eq!(refused(&part, None), MotionReason::TurnedTooLittle);
    let circling = Circling {
        places: &part,
        radius_m: Some(0.03),
    };
    let wheel = smoothed(&CAR, &view, &body, 0.0, &[circling]).unwrap();
    assert_eq!(
        (wheel.mark_radius_m, wheel.hub_offset_m),
        (0.03, [0.0, 0.0])
    );
    assert!((wheel.states[0].unwrap().mean[0] - 0.7).abs() < 1e-3);
}

#[test]
fn paces_are_those_of_a_rolling_wheel_and_coast_after_the_peak() {
    let mut body = body(&CAR, 0.0, 0.0);
    for (frame, state) in body.states.iter_mut().flatten().enumerate() {
        state.mean[3] = 2.0 - 0.01 * (frame as f64 - 20.0).powi(2);
    }
    let paces = paces(&body, &CAR);
    let peak = body.states[20].unwrap().time_s;
    for (pace, state) in paces.iter().zip(&body.states) {
        let (pace, state) = (pace.unwrap(), state.unwrap());
        assert!((pace.rolling_rate - state.mean[3] / 0.05).abs() < 1e-12);
        assert_eq!(pace.coasting, state.time_s > peak + AFTER_PEAK_S);
    }
    assert_eq!(
        paces.iter().flatten().filter(|pace| pace.coasting).count(),
        FRAMES - 24
    );
}

proptest! {
    #![proptest_config(Config {
        cases: 8,
        rng_seed: RngSeed::Fixed(53),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn sides_scales_and_clocks_carry_through(
        first in -3.0..3.0_f64,
        unit in 0.5..4.0_f64,
        start_s in 0.0..50.0_f64,
        errors in proptest::collection::vec(-0.2..0.2_f64, 2 * FRAMES),
    ) {
        // The picture is the same; metres, side and clock are told otherwise.
        let (here, plain_body) = (flat(800.0, true), body(&CAR, 0.0, 0.0));
        let mut seen = places(&CAR, &here, &plain_body, first, 0.03, [0.0, 0.0]);
        for (place, error) in seen.iter_mut().flatten().zip(errors.chunks(2)) {
            place.u_px += error[0];
            place.v_px += error[1];
        }
        let told = |view: &View, car: &CarGeometry, body: &Body, start_s: f64, seen: &Places| {
            let circling = Circling { places: seen, radius_m: None };
            smoothed(car, view, body, start_s, &[circling]).unwrap()
        };
        let plain = told(&here, &CAR, &plain_body, 0.0, &seen);
        let same = |other: &Wheel, unit: f64| {
            let off = plain.states.iter().flatten().zip(other.states.iter().flatten()).map(|(a, b)| {
                (a.mean[0] - b.mean[0]).abs() + 0.01 * (a.mean[1] - b.mean[1]).abs()
            });
            let off = off.fold(0.0, f64::max);
            off < 1e-6 && (other.mark_radius_m / (unit * plain.mark_radius_m) - 1.0).abs() < 1e-6
        };
        prop_assert!(same(&told(&here, &CAR, &body(&CAR, 0.0, start_s), start_s, &seen), 1.0));
        let mut mirrored = seen.clone();
        for place in mirrored.iter_mut().flatten() {
            place.u_px = 640.0 - place.u_px;
        }
        prop_assert!(same(&told(&flat(800.0, false), &CAR, &plain_body, 0.0, &mirrored), 1.0));
        // Every length larger by the unit, seen by a scale as much smaller.
        let car = CarGeometry {
            hub_height_m: unit * CAR.hub_height_m,
            face_left_m: unit * CAR.face_left_m,
            ..CAR
        };
        let mut large = plain_body.clone();
        for state in large.states.iter_mut().flatten() {
            for part in [0, 1, 3] {
                state.mean[part] *= unit;
            }
            state.rise_m *= unit;
            state.aside_m *= unit;
        }
        prop_assert!(same(&told(&flat(800.0 / unit, true), &car, &large, 0.0, &seen), unit));
    }
}

/// A mark as a drawn clip shows it that was stored as phones do: frame, angle (rad) and variance (1e-5 rad²). It stands
/// until frame 53 because the codec left it there, and was lost after frame 91.
#[rustfmt::skip]
const SEEN_UNDER_A_TURN: [(usize, f64, f64); 32] = [
    (44, -3.085, 84.0), (46, -3.085, 187.0), (48, -3.087, 330.0), (50, -3.089, 498.0), (52, -3.091, 673.0),
    (53, -3.093, 758.0), (55, -2.982, 47.0), (56, -2.982, 39.0), (57, -2.974, 47.0), (58, -2.981, 799.0),
    (59, -2.988, 864.0), (60, -2.872, 68.0), (61, -2.861, 69.0), (65, -2.774, 77.0), (66, -2.725, 71.0),
    (67, -2.644, 118.0), (68, -2.640, 74.0), (69, -2.522, 154.0), (70, -2.479, 185.0), (72, -2.426, 182.0),
    (73, -2.300, 185.0), (74, -2.313, 162.0), (75, -2.256, 150.0), (76, -2.196, 151.0), (77, -2.102, 165.0),
    (78, -2.043, 172.0), (79, -1.961, 154.0), (82, -1.834, 288.0), (88, -1.491, 255.0), (89, -1.439, 210.0),
    (90, -1.361, 267.0), (91, -1.194, 207.0),
];

#[test]
fn a_piece_of_a_turn_is_not_taken_for_an_unevenness() {
    // 1.9 rad of turn, 44 frames of rest before: what comes again each turn may be anything there, and its sum with
    // another angle at rest as well.
    const PER_S: f64 = 120.0;
    let mut body = body(&CAR, 0.0, 0.0);
    let first = body.states[0].unwrap();
    let state = |frame: u32| BodyState {
        time_s: f64::from(frame) / PER_S,
        ..first
    };
    body.states = (0..120).map(|frame| Some(state(frame))).collect();
    body.settled.change_points_s = vec![0.718, 0.737];
    let rest = (0..44).map(|frame| (frame, -3.08, 28.0));
    let seen: Vec<_> = rest.chain(SEEN_UNDER_A_TURN).collect();
    let observation = |&(frame, angle_rad, variance): &(usize, f64, f64)| AngleObservation {
        frame,
        time_s: (frame as f64 + 0.4) / PER_S,
        angle_rad,
        variance: 1e-5 * variance,
    };
    let observations: Vec<_> = seen.iter().map(observation).collect();
    let angles: Vec<_> = seen.iter().map(|(_, angle, _)| Some(*angle)).collect();
    let without = |uneven: &Uneven| {
        let radius_m = CAR.hub_height_m;
        Chain::new(&observations, &angles, &body, Some(0.363), radius_m, uneven)
    };
    let (settled, uneven) = settled_on(&without, &body, 1);
    assert!(uneven.parts == Vector4::zeros() && uneven.covariance[(0, 0)] > 0.0);
    let (states, _) = without(&uneven).states(&settled, &[false; 120], &body);
    for (frame, angle, _) in SEEN_UNDER_A_TURN {
        let smooth = states[frame].unwrap().angle_rad();
        assert!((smooth - angle).abs() < 0.15, "{frame}: {smooth}");
    }
}
