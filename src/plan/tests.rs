//! The planning model against closed forms and another solver, and the calibration on cars of its own.
//!
//! What is checked against the outside names its source; `tests/plans_runs.rs` plans from results on disk, and
//! `scripts/plan_study` from cars that another model drives.

use super::predict::quantile;
use super::*;
use std::f64::consts::PI;
use std::fmt::Write as _;

const G: f64 = 9.806_65;

fn car() -> Car {
    Car {
        stiffness_n_m_per_rad: 0.12,
        preload_rad: 1.0,
        swung_back_rad: 2.95,
        arm_m: 0.12,
        pivot_m: 0.135,
        pull_kept: 1.0,
        string_m: 0.2,
        winding_radius_m: 0.003,
        wheel_radius_m: 0.05,
        mass_kg: 0.2,
        driven_wheels_kg: 0.024,
        free_wheels_kg: 0.01,
        driven_share: 0.55,
        transfer: 0.2,
        grip_static: 0.6,
        grip_sliding: 0.5,
        rolling: 0.02,
        air_kg_per_m: 0.0,
        slope_rad: 0.0,
    }
}

#[test]
fn the_spring_s_moment_and_energy_are_those_of_a_handbook() {
    // M = k θ and U = k θ² / 2 (any handbook of springs; Shigley, Mechanical Engineering Design, from memory), with
    // k = 0.12 N m/rad: at a quarter turn from loose 0.188 496 N m and 0.148 044 J.
    let loose = Car {
        preload_rad: 0.0,
        ..car()
    };
    assert!((loose.moment_n_m(PI / 2.0) - 0.188_496).abs() < 1e-6);
    assert!((loose.spring_energy_j(PI / 2.0, 0.0) - 0.148_044).abs() < 1e-6);
}

#[test]
fn the_string_does_the_work_that_the_spring_gives() {
    // Conservation of energy: ∫ pull ds over the string = k (θ₁² - θ₂²) / 2.
    let car = car();
    let steps = 20_000;
    let step = car.string_m / f64::from(steps);
    let work: f64 = (0..steps)
        .map(|n| car.pull_n((f64::from(n) + 0.5) * step) * step)
        .sum();
    let given = car.spring_energy_j(car.swung_back_rad, car.swung_rad(car.string_m));
    assert!((work - given).abs() < 1e-6 * given, "{work} {given}");
}

#[test]
fn energy_is_kept_from_the_spring_to_the_standstill() {
    // Without wheelspin and air all of the spring's energy goes into rolling: E = c m g S, so S = E / (c m g), as a body
    // that rolled down a height h = E / (m g) goes h / c along the level (energy; textbook incline).
    let sticky = Car {
        grip_static: 50.0,
        grip_sliding: 50.0,
        ..car()
    };
    let ran = drive(&sticky).unwrap();
    let energy = sticky.spring_energy_j(sticky.swung_back_rad, sticky.swung_rad(sticky.string_m));
    let stops = energy / (sticky.rolling * sticky.mass_kg * G);
    assert!(
        (ran.stop_m / stops - 1.0).abs() < 1e-4,
        "{} {stops}",
        ran.stop_m
    );
    // While it rolls, the way of the pull is the string times wheel over winding radius.
    let way = sticky.string_m * sticky.wheel_radius_m / sticky.winding_radius_m;
    assert!(ran.spun_away_m.abs() < 1e-4 * way, "{}", ran.spun_away_m);
    assert!((ran.speed_at_m_per_s(way) / ran.speed_at_string_end_m_per_s - 1.0).abs() < 1e-3);
}

#[test]
fn a_coast_goes_as_far_as_the_closed_form_says() {
    // v² = 2 a S without air: 2 m/s at 0.2 m/s² go 10 m. With b = 0.05 per metre S = ln(1 + b v² / a) / 2b = ln 2 / 0.1.
    assert!((coast_way_m(2.0, 0.2, 0.0) - 10.0).abs() < 1e-9);
    assert!((coast_way_m(2.0, 0.2, 0.05) - 6.931_472).abs() < 1e-6);
    // Time of v' = -(a + b v²) from 2 m/s until the car stands: atan(v √(b/a)) / √(ab) = (π / 4) / 0.1 = 7.854 s.
    let aired = Car {
        air_kg_per_m: 0.02,
        grip_static: 50.0,
        grip_sliding: 50.0,
        ..car()
    };
    let ran = drive(&aired).unwrap();
    let (a, b) = (aired.coast_loss_m_per_s2(0.0), 0.02 / aired.rolling_kg());
    let last = *ran.moments.last().unwrap();
    let takes = (last.speed_m_per_s * (b / a).sqrt()).atan() / (a * b).sqrt();
    let almost = ran.time_to_s(ran.stop_m - 1e-6).unwrap();
    assert!(
        (almost - last.time_s - takes).abs() < 1e-2,
        "{almost} {takes}"
    );
    assert_eq!(ran.time_to_s(ran.stop_m + 0.01), None);
}

#[test]
fn sliding_wheels_push_as_rigid_bodies_do() {
    // Rigid-body rolling with slip: with F = μ λ m g under the driven wheels the car gains (F - c m g) / M whatever the
    // spring does (J. Y. Wong, Theory of Ground Vehicles; Coulomb friction, from memory). No load transfer here.
    let spins = Car {
        grip_static: 0.13,
        grip_sliding: 0.12,
        transfer: 0.0,
        ..car()
    };
    assert!(spins.peak_demand() > 1.5);
    let ran = drive(&spins).unwrap();
    let gain = (0.12 * 0.55 * 0.2 * G - 0.02 * 0.2 * G) / 0.21;
    let early = ran.moments.iter().find(|m| m.time_s > 0.05).unwrap();
    assert!((early.speed_m_per_s / (gain * early.time_s) - 1.0).abs() < 1e-3);
    assert!((early.way_m / (0.5 * gain * early.time_s.powi(2)) - 1.0).abs() < 1e-2);
    assert!(ran.spun_away_m > 0.05, "{}", ran.spun_away_m);
    // A grip that just holds the strongest pull is told from one that does not.
    let edge = spins.peak_demand() * 0.13;
    let with = |grip: f64| Car {
        grip_static: grip,
        grip_sliding: grip / 1.2,
        ..spins
    };
    assert!(drive(&with(edge * 1.01)).unwrap().spun_away_m.abs() < 1e-3);
    assert!(drive(&with(edge * 0.95)).unwrap().spun_away_m > 1e-3);
}

#[test]
fn a_rising_track_takes_what_the_textbook_incline_takes() {
    // Energy on an incline (any textbook of mechanics): E = m g S (sin α + c cos α), so the car stops at
    // S = E / (m g (sin α + c cos α)); and a coast loses g (sin α + c cos α) m / M.
    let slope_rad = 6.0_f64.to_radians();
    let climbs = Car {
        grip_static: 50.0,
        grip_sliding: 50.0,
        winding_radius_m: 0.008,
        slope_rad,
        ..car()
    };
    let takes = slope_rad.sin() + climbs.rolling * slope_rad.cos();
    let energy = climbs.spring_energy_j(climbs.swung_back_rad, climbs.swung_rad(climbs.string_m));
    let stops = energy / (climbs.mass_kg * G * takes);
    let ran = drive(&climbs).unwrap();
    assert!(
        (ran.stop_m / stops - 1.0).abs() < 1e-4,
        "{} {stops}",
        ran.stop_m
    );
    let loss = G * takes * climbs.mass_kg / climbs.rolling_kg();
    assert!((climbs.coast_loss_m_per_s2(0.0) / loss - 1.0).abs() < 1e-9);
    // A thinner axle pulls less, and the car stands where the string has done as much work as the climb took.
    let stalls = Car {
        winding_radius_m: 0.003,
        ..climbs
    };
    let ran = drive(&stalls).unwrap();
    let off = ran.stop_m * stalls.winding_radius_m / stalls.wheel_radius_m;
    assert!(off < 0.9 * stalls.string_m, "{off}");
    let work = stalls.spring_energy_j(stalls.swung_back_rad, stalls.swung_rad(off));
    let climbed = stalls.mass_kg * G * takes * ran.stop_m;
    assert!((work / climbed - 1.0).abs() < 1e-3, "{work} {climbed}");
    // A wheel on the point of sliding, standing on a slope of tan α = μ λ / (1 - μ h / L), rear wheels driven (limit of
    // gradeability by adhesion; J. Y. Wong, Theory of Ground Vehicles, from memory): with μ = 0.6, λ = 0.55 and
    // h / L = 0.2, α = 20.556°. There the whole grip is spent on standing still.
    let limit = Car {
        slope_rad: (0.6_f64 * 0.55 / (1.0 - 0.6 * 0.2)).atan(),
        rolling: 0.0,
        ..car()
    };
    assert!((limit.slope_rad.to_degrees() - 20.556).abs() < 1e-3);
    let holds = limit.grip_static * limit.driven_load_n(0.0);
    assert!((limit.loss_n(0.0) / holds - 1.0).abs() < 1e-9);
    // Sliding wheels do not get it up there.
    assert_eq!(
        drive(&Car {
            grip_static: 0.2,
            grip_sliding: 0.1,
            ..limit
        }),
        None
    );
}

#[test]
fn another_solver_comes_to_the_same_run() {
    // Fixed steps of Heun's method, half a tenth of a millisecond each, without any event search.
    let sticky = Car {
        grip_static: 50.0,
        grip_sliding: 50.0,
        air_kg_per_m: 0.006,
        ..car()
    };
    let winding = sticky.winding_radius_m / sticky.wheel_radius_m;
    let rate = |way: f64, v: f64| {
        (sticky.rim_push_n(way * winding) - sticky.loss_n(v)) / sticky.rolling_kg()
    };
    let (mut t, mut x, mut v, h) = (0.0, 0.0, 0.0, 5e-5);
    while x * winding < sticky.string_m {
        let a = rate(x, v);
        let b = rate(x + h * v, v + h * a);
        x += h * (v + 0.5 * h * a);
        v += 0.5 * h * (a + b);
        t += h;
    }
    let ran = drive(&sticky).unwrap();
    assert!((ran.powered_s - t).abs() < 2e-4, "{} {t}", ran.powered_s);
    assert!((ran.speed_at_string_end_m_per_s / v - 1.0).abs() < 1e-4);
}

#[test]
fn another_solver_comes_to_the_same_wheelspin() {
    // As before, for heavy wheels on a slippery floor, which spin through the pull and long after it.
    let spins = Car {
        stiffness_n_m_per_rad: 0.16,
        winding_radius_m: 0.0086,
        driven_wheels_kg: 0.041,
        grip_static: 0.275,
        grip_sliding: 0.243,
        air_kg_per_m: 0.006,
        string_m: 0.142,
        ..car()
    };
    let winding = spins.winding_radius_m / spins.wheel_radius_m;
    let rates = |off: f64, v: f64| {
        let push = if off < spins.string_m {
            spins.rim_push_n(off)
        } else {
            0.0
        };
        let force = spins.sliding_force_n(v);
        [
            (push - force) / spins.driven_wheels_kg,
            (force - spins.loss_n(v)) / spins.pushed_kg(),
        ]
    };
    let (mut turned, mut rim, mut x, mut v, mut t, h) = (0.0, 0.0, 0.0, 0.0, 0.0, 2e-5);
    let mut powered = None;
    while rim >= v {
        let a = rates(turned * winding, v);
        let b = rates((turned + h * rim) * winding, v + h * a[1]);
        turned += h * (rim + 0.5 * h * a[0]);
        x += h * (v + 0.5 * h * a[1]);
        rim += 0.5 * h * (a[0] + b[0]);
        v += 0.5 * h * (a[1] + b[1]);
        t += h;
        if turned * winding >= spins.string_m {
            powered = powered.or(Some(t));
        }
    }
    let ran = drive(&spins).unwrap();
    assert!(t > 2.0 * powered.unwrap(), "{t} {powered:?}");
    assert!((ran.powered_s - powered.unwrap()).abs() < 1e-4);
    assert!(
        (ran.spun_away_m / (turned - x) - 1.0).abs() < 1e-3,
        "{}",
        ran.spun_away_m
    );
    assert!(
        (ran.peak_speed_m_per_s / v - 1.0).abs() < 1e-3,
        "{} {v}",
        ran.peak_speed_m_per_s
    );
    let rolls = spins.coast_loss_m_per_s2(0.0);
    let stops = x + coast_way_m(v, rolls, spins.air_kg_per_m / spins.rolling_kg());
    assert!(
        (ran.stop_m / stops - 1.0).abs() < 1e-3,
        "{} {stops}",
        ran.stop_m
    );
}

#[test]
fn a_spring_that_is_too_weak_moves_nothing() {
    let weak = Car {
        stiffness_n_m_per_rad: 1e-5,
        ..car()
    };
    assert_eq!(drive(&weak), None);
    let long = Car {
        string_m: 5.0,
        ..car()
    };
    assert!(long.pulled_m() < 2.0 * 0.135);
    assert!(drive(&long).is_some());
}

#[test]
fn quantiles_lie_between_neighbours() {
    // By hand: of 1, 2, 3, 4 the middle is 2.5, and a third of the way is 2.
    assert_eq!(quantile(&[1.0, 2.0, 3.0, 4.0], 0.5), Some(2.5));
    assert_eq!(quantile(&[1.0, 2.0, 3.0, 4.0], 1.0 / 3.0), Some(2.0));
    assert_eq!(quantile(&[], 0.5), None);
}

fn setting(string_m: f64) -> Setting {
    Setting {
        string_m,
        axle_m: 0.0052,
        wheel_m: 0.1,
        arm_m: Some(0.12),
        pivot_m: Some(0.135),
        swung_back_rad: None,
        string_diameter_m: Some(0.0008),
        mass_kg: Some(0.2),
        added_kg: 0.0,
        driven_share: Some(0.55),
        wheelbase_m: Some(0.22),
    }
}

/// A car whose spring pulls its string with nearly the same force all along, which closed forms take for granted: far
/// from loose, the arm about square to the string.
fn even_pull(winding_radius_m: f64) -> Car {
    Car {
        stiffness_n_m_per_rad: 0.002,
        preload_rad: 100.0,
        swung_back_rad: 2.2,
        string_m: 0.01,
        winding_radius_m,
        driven_wheels_kg: 0.001,
        free_wheels_kg: 0.0,
        transfer: 0.0,
        rolling: 1e-6,
        ..car()
    }
}

#[test]
fn the_fastest_axle_is_the_one_that_the_tyres_just_hold() {
    // A constant pull P over a string L through n = wheel over winding radius pushes with P / n over the way n L, and gives
    // the speed v = √(2 P L / m) whatever n is. Over D > n L it takes t = 2 n L / v + (D - n L) / v = (D + n L) / v: the less
    // n the better, until the tyres let go at P / n = μ λ m g. Uniform acceleration, any textbook of mechanics; worked here.
    let first = even_pull(0.003);
    let (pull, string, distance) = (first.pull_n(0.005), first.string_m, 2.0);
    let v = (2.0 * pull * string / first.mass_kg).sqrt();
    let held = first.grip_static * first.driven_share * first.mass_kg * G;
    let best_ratio = pull / held;
    let time = |ratio: f64| {
        let car = even_pull(first.wheel_radius_m / ratio);
        drive(&car).unwrap().time_to_s(distance).unwrap()
    };
    for ratio in [best_ratio * 1.05, best_ratio * 1.5, best_ratio * 2.0] {
        let says = (distance + ratio * string) / v;
        assert!(
            (time(ratio) / says - 1.0).abs() < 0.01,
            "{ratio}: {} {says}",
            time(ratio)
        );
    }
    assert!(time(best_ratio * 1.05) < time(best_ratio * 1.5));
    // Just past it wheels spin, and time is lost again.
    assert!(time(best_ratio * 0.9) > time(best_ratio * 1.05));
}

/// A run of `car()` with another string, as exactly as results say it.
fn seen(name: &str, string_m: f64) -> RunEvidence {
    let ran = drive(&Car { string_m, ..car() }).unwrap();
    let value = |value: f64, sd: f64| Some(Measured { value, sd });
    RunEvidence {
        name: name.to_owned(),
        setting: setting(string_m),
        floor: 0,
        peak_speed: value(ran.peak_speed_m_per_s, 0.007),
        powered: value(ran.powered_s, 0.02),
        coast_loss: value(ran.coast_loss_m_per_s2, 0.015),
        spun_away: value(ran.spun_away_m, 0.005),
        grip: None,
        rolling_radius: value(0.05, 0.0002),
        slid: Some(ran.peak_demand > 1.0),
        stop: Some((
            Measured {
                value: ran.stop_m,
                sd: 0.01,
            },
            StopBy::Tape,
        )),
        speeds: Vec::new(),
        curvature: None,
        string_slip: None,
    }
}

fn three_runs() -> Evidence {
    Evidence {
        car: Some("Tern".to_owned()),
        runs: vec![seen("run1", 0.2), seen("run2", 0.14), seen("run3", 0.17)],
        floors: vec!["bare".to_owned()],
        floor: 0,
        readings: Vec::new(),
        notes: Vec::new(),
    }
}

#[test]
fn runs_without_errors_give_the_string_that_does_it() {
    let target = drive(&Car {
        string_m: 0.155,
        ..car()
    })
    .unwrap()
    .stop_m;
    let planned = plan(
        three_runs(),
        Task::Distance { metres: target },
        Track::LEVEL,
        None,
    )
    .unwrap();
    let string = planned
        .levers
        .iter()
        .find(|one| one.lever == Lever::String)
        .unwrap();
    let Answer::Set {
        size, prediction, ..
    } = &string.answer
    else {
        panic!("{string:?}");
    };
    assert!((size.value - 0.155).abs() < 0.003, "{size:?}");
    assert!((size.low..=size.high).contains(&0.155));
    assert!((prediction.stop_m.low..=prediction.stop_m.high).contains(&target));
    assert!(prediction.stop_m.relative_half() < 0.15, "{prediction:?}");
    // The same runs give the same plan, to the last digit.
    let again = plan(
        three_runs(),
        Task::Distance { metres: target },
        Track::LEVEL,
        None,
    )
    .unwrap();
    assert_eq!(again.levers, planned.levers);
    assert_eq!(again.next, planned.next);
}

#[test]
fn a_climb_is_planned_from_runs_on_the_level() {
    let track = Track {
        slope_rad: 2.0_f64.to_radians(),
    };
    let planned = plan(three_runs(), Task::Far, track, None).unwrap();
    let climbs = drive(&Car {
        slope_rad: track.slope_rad,
        string_m: 0.17,
        ..car()
    });
    let stops = climbs.unwrap().stop_m;
    let said = &planned.present.stop_m;
    assert!((said.low..=said.high).contains(&stops), "{said:?} {stops}");
    assert!(said.relative_half() < 0.25, "{said:?}");
    // An earlier plan for the level has nothing to do with it.
    let earlier = Earlier {
        metres: 8.0,
        string_m: 0.17,
        stop_m: [7.0, 9.0],
        runs: Vec::new(),
    };
    let again = plan(three_runs(), Task::Far, track, Some(&earlier)).unwrap();
    assert!(again.update.is_none());
}

#[test]
fn thin_data_are_told_as_such() {
    let mut blind = three_runs();
    for run in &mut blind.runs {
        run.coast_loss = None;
        run.stop = None;
    }
    let why = plan(blind.clone(), Task::Far, Track::LEVEL, None).unwrap_err();
    assert!(
        why.to_string()
            .contains("cannot be told where the car stops, because no run shows its coast"),
        "{why}"
    );
    assert!(why.hint().contains("rolled_mm"));
    // What needs no coast is told all the same.
    assert!(plan(blind, Task::Fast { metres: 1.0 }, Track::LEVEL, None).is_ok());
    let mut slipless = three_runs();
    for run in &mut slipless.runs {
        run.slid = None;
    }
    let why = plan(slipless, Task::NoSlip, Track::LEVEL, None).unwrap_err();
    assert!(
        why.to_string()
            .contains("because no run on this floor shows the slip"),
        "{why}"
    );
    let mut unweighed = three_runs();
    for run in &mut unweighed.runs {
        run.setting.mass_kg = None;
        run.setting.arm_m = None;
    }
    let told = plan(unweighed, Task::Far, Track::LEVEL, None).unwrap();
    for lever in [Lever::Ballast, Lever::Arm] {
        let one = told.levers.iter().find(|one| one.lever == lever).unwrap();
        assert!(matches!(&one.answer, Answer::CannotTell { .. }), "{one:?}");
    }
    assert!(told.pull.given_n.is_none());
    assert!(
        told.open
            .iter()
            .any(|open| open.measure.contains("kitchen balance"))
    );
}

#[test]
fn runs_that_no_car_could_make_are_no_plan() {
    let mut wrong = three_runs();
    // Twice the speed of the others with less string.
    let peak = wrong.runs[1].peak_speed.as_mut().unwrap();
    peak.value *= 3.0;
    let why = plan(wrong, Task::Far, Track::LEVEL, None).unwrap_err();
    assert!(matches!(&why, PlanError::NoCar { .. }), "{why}");
}

#[test]
fn a_run_towards_an_earlier_plan_says_what_to_change() {
    let earlier = Earlier {
        metres: 8.0,
        string_m: 0.17,
        stop_m: [7.0, 9.0],
        runs: vec!["run1".to_owned(), "run2".to_owned()],
    };
    let planned = plan(
        three_runs(),
        Task::Distance { metres: 8.0 },
        Track::LEVEL,
        Some(&earlier),
    )
    .unwrap();
    let update = planned.update.unwrap();
    assert_eq!(update.run, "run3");
    let got = drive(&Car {
        string_m: 0.17,
        ..car()
    })
    .unwrap()
    .stop_m;
    assert!((update.got_m.value - got).abs() < 1e-9);
    let more = update.more_string_m.unwrap();
    assert_eq!(more.value > 0.0, got < 8.0, "{more:?} {got}");
}

#[test]
fn frames_tell_the_speed_along_the_pull_and_a_standstill() {
    let mut text = "x_m,y_m,speed_m_per_s,speed_low_m_per_s,speed_high_m_per_s,phase\n".to_owned();
    for n in 0..=50 {
        let x = f64::from(n) * 0.01;
        let v = (2.0 * x).sqrt();
        writeln!(
            text,
            "{x},0,{v},{},{},powered",
            v - 0.019_599_64,
            v + 0.019_599_64
        )
        .unwrap();
    }
    text += "0.6,0,0,,,stopped\n";
    let read = frames(text.as_bytes()).unwrap();
    assert!(read.stood_still);
    assert_eq!(read.speeds.len(), 4);
    let (way, speed) = read.speeds[1];
    assert!((way - 0.2).abs() < 0.011 && (speed.value - (2.0 * way).sqrt()).abs() < 1e-9);
    assert!((speed.sd - 0.01).abs() < 1e-9);
    assert!(
        frames("a,b\n1,2\n".as_bytes())
            .unwrap_err()
            .contains("no column `x_m`")
    );
}
