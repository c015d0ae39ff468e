//! Quantities by value, for drawn runs whose motion and energy are known from the equations that moved the car
//! (`scripts/draw_run/`, which shares no code with the tool): each interval holds the truth, and is narrow enough
//! to say something.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

mod command;

use command::{Facts, Table, fixture, measure, median, text};
use tempfile::TempDir;

struct Priors {
    _home: TempDir,
    summary: Facts,
    frames: Table,
    truth: Facts,
    truth_frames: Table,
}

fn priors(run: &str) -> Priors {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out");
    let (clip, sheet) = (fixture(run, "clip.mp4"), fixture(run, "run.toml"));
    let output = measure(&clip, &sheet, &out, &["--no-report", "--no-overlay"]);
    assert!(output.status.success(), "{run}: {}", text(&output.stderr));
    let file = |name: &str| out.join("clip").join(name);
    Priors {
        summary: Facts::read(&file("summary.json")),
        frames: Table::read(&file("frames.csv")),
        truth: Facts::read(&fixture(run, "truth.json")),
        truth_frames: Table::read(&fixture(run, "truth_frames.csv")),
        _home: home,
    }
}

impl Priors {
    /// The interval of a quantity holds the truth, and its half is at most `half`.
    #[track_caller]
    fn states(&self, key: &str, truth: f64, half: f64) {
        Self::holds(key, &self.summary.0[key], truth, half);
    }

    #[track_caller]
    fn holds(key: &str, quantity: &serde_json::Value, truth: f64, half: f64) {
        let part = |name: &str| quantity[name].as_f64().unwrap_or(f64::NAN);
        let (low, high) = (part("low"), part("high"));
        assert!(
            low <= truth && truth <= high,
            "{key}: {truth} in {quantity}"
        );
        assert!(high - low <= 2.0 * half, "{key}: says little: {quantity}");
    }

    fn powered_s(&self) -> f64 {
        self.truth.number("string_out_time_s") - self.truth.number("release_time_s")
    }
}

#[test]
fn a_car_that_spins_its_wheels() {
    let run = priors("demo");
    let (energy, car) = (&run.truth.0["energy_j"], &run.truth.0["car"]);
    run.states("powered_s", run.powered_s(), 0.08);
    run.states(
        "rolling_radius_m",
        run.truth.number("rolling_radius_m"),
        0.0003,
    );
    run.states(
        "coast_deceleration_m_per_s2",
        run.truth.number("coast_deceleration_m_s2"),
        0.02,
    );
    // Deceleration over standard gravity (CGPM 1901, resolution 2).
    let loss = run.truth.number("coast_deceleration_m_s2") / 9.806_65;
    run.states("rolling_resistance", loss, 0.002);
    run.states(
        "grip_coefficient",
        car["mu_kinetic"].as_f64().unwrap(),
        0.05,
    );
    run.states(
        "energy_lost_in_slip_j",
        energy["slip"].as_f64().unwrap(),
        0.06,
    );
    run.states("spun_away_m", run.truth.number("spun_away_m"), 0.02);
}

/// Half the mass times the square of the speed with which the pull ends, the wheels' share left to the interval.
#[test]
fn a_car_whose_axle_binds() {
    let run = priors("drag");
    run.states("powered_s", run.powered_s(), 0.06);
    let coast = run.truth.number("coast_deceleration_m_s2");
    run.states("coast_deceleration_m_per_s2", coast, 0.04);
    run.states("rolling_resistance", coast / 9.806_65, 0.005);
    let speed = run.truth.number("peak_speed_m_s");
    let mass = run.truth.0["car"]["mass_kg"].as_f64().unwrap();
    run.states("energy_moving_car_j", 0.5 * mass * speed * speed, 0.02);
    run.states("energy_lost_in_slip_j", 0.0, 0.01);
}

#[test]
fn a_string_that_slips_and_a_wheel_that_does() {
    let slips = priors("string-slip");
    let given = slips.truth.number("wheel_turns_expected_from_string");
    let seen = slips.truth.number("wheel_turns_in_power_stroke");
    assert!(given - seen > 1.5);
    slips.states("string_slip_turns", given - seen, 0.5);
    let loose = priors("loose-wheel");
    let given = loose.truth.number("wheel_turns_expected_from_string");
    let seen = loose.truth.number("wheel_turns_in_power_stroke");
    assert!(given - seen > 1.0);
    loose.states("loose_wheel_turns", given - seen, 0.15);
    loose.states("string_slip_turns", 0.0, 0.6);
}

#[test]
fn a_wheel_that_wobbles() {
    let run = priors("wobble");
    let sway = run.truth.number("wobble_lateral_amplitude_m");
    // A car that points to and fro and one that shifts from side to side look much alike.
    run.states("wobble_m", sway, 0.0012);
}

/// A curve goes on: after five metres of path a car on a circle is `(1 - cos(5 k)) / k` off its line.
#[test]
fn what_a_curve_costs_after_five_metres() {
    for name in ["veer", "left-side"] {
        let run = priors(name);
        let curve = run.truth.number("path_curvature_1_m").abs();
        let cost = &run.summary.0["verdict"]["costs"]["alignment"];
        let after = (1.0 - (5.0 * curve).cos()) / curve;
        Priors::holds("after 5 m", &cost["after_5_m"]["off_line_m"], after, 0.06);
        let now = run.truth.number("final_deviation_m").abs();
        Priors::holds("now", &cost["off_line_m"], now, 0.01);
    }
}

/// Left is left whichever side of the car the camera sees, and the advice turns the axle the other way.
#[test]
fn a_car_that_shows_its_left_side() {
    for (name, sign, to, other) in [
        ("left-side", 1.0, "left", "right"),
        ("veer", -1.0, "right", "left"),
    ] {
        let run = priors(name);
        for key in ["final_deviation_m", "curvature_per_m", "implied_skew_rad"] {
            assert!(run.summary.value(key).unwrap() * sign > 0.0, "{name} {key}");
        }
        let skew = run.truth.number("skew_angle_rad");
        run.states("implied_skew_rad", skew, 0.002);
        run.states(
            "final_deviation_m",
            run.truth.number("final_deviation_m"),
            0.01,
        );
        let steps = run.summary.0["verdict"]["try"].as_array().unwrap();
        let first = steps[0].as_str().unwrap();
        let says = format!("curves to the {to}: turn the front axle to the {other}");
        assert!(first.contains(&says), "{first}");
    }
}

/// Speed of the rim: the wheel's rate times its radius, frame by frame.
#[test]
fn the_rims_speed_in_every_frame() {
    let run = priors("demo");
    let radius = run.truth.number("rolling_radius_m");
    let mut off = Vec::new();
    for row in 0..run.frames.len() {
        let moving = run.frames.at(row, "time_s") > run.truth.number("release_time_s") + 0.1;
        let Some(found) = run.frames.get(row, "rim_speed_m_per_s").filter(|_| moving) else {
            continue;
        };
        let truth = run.truth_frames.at(row, "omega_rad_s") * radius;
        off.push((found - truth).abs() / truth.max(0.3));
    }
    assert!(off.len() > 100, "{} frames", off.len());
    assert!(median(off.clone()) < 0.01, "{}", median(off));
}

/// The shares of an interval's causes are shares: none below nothing, and together no more than the whole.
#[test]
fn shares_of_the_uncertainty_add_up() {
    let run = priors("veer");
    let budget = run.summary.0["uncertainty_budget"].as_object().unwrap();
    assert!(budget.len() > 8, "{} quantities", budget.len());
    for (key, inputs) in budget {
        let shares: Vec<f64> = (inputs.as_array().unwrap().iter())
            .map(|input| input["share"].as_f64().unwrap())
            .collect();
        assert!(
            shares.iter().all(|share| (0.0..=1.0).contains(share)),
            "{key}"
        );
        let sum: f64 = shares.iter().sum();
        assert!((0.85..=1.0 + 1e-9).contains(&sum), "{key}: {sum}");
    }
}
