//! Cars drawn at random, what differs from run to run, and what a measurement of a run gives.

use crate::car::{Car, Run};
use gripline::plan::{Evidence, Measured, RunEvidence, Setting, StopBy};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Run-to-run standard deviations of pull, rolling loss and friction. Together the stopping place scatters by about 2 %.
pub(crate) const SCATTER: [f64; 3] = [0.012, 0.016, 0.03];
/// A string is tied this well, m.
const TIED_SD_M: f64 = 0.001;
/// Errors of a measurement over the standard uncertainties that it states: those of the coverage study are smaller than
/// stated.
const ERROR_SHARE: f64 = 0.8;

pub(crate) fn gauss(random: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(random)
}

/// A car that may be one of a class.
pub(crate) fn car(random: &mut ChaCha8Rng) -> Car {
    let mut between = |low: f64, high: f64| random.random_range(low..high);
    let arm_m = between(0.08, 0.24);
    let wheel_m: f64 = between(0.07, 0.13);
    let wheels_kg = between(0.020, 0.060);
    let sliding = between(0.25, 0.7);
    let mut car = Car {
        stiffness: between(0.06, 0.25),
        wound_at_rest_rad: between(0.5, 1.6),
        arm_m,
        arm_kg: between(0.004, 0.012),
        coil_m: [arm_m + between(0.008, 0.022), between(0.0, 0.018)],
        start_rad: between(155.0_f64, 173.0).to_radians(),
        string_m: 0.0,
        string_thickness_m: between(0.0004, 0.0014),
        axle_m: between(0.004, 0.013),
        wheel_m,
        mass_kg: between(0.13, 0.30),
        wheels_kg_m2: wheels_kg * (wheel_m / 2.0).powi(2) * between(0.5, 0.75),
        free_wheels_kg: between(0.005, 0.016),
        driven_share: between(0.48, 0.68),
        height_m: between(0.03, 0.06),
        wheelbase_m: between(0.18, 0.34),
        friction_sliding: sliding,
        friction_highest: sliding * between(1.08, 1.35),
        rolling: between(0.008, 0.024),
        bearing_n_m: between(0.0, 0.0008),
        string_loss: between(0.02, 0.10),
        drag_area_m2: between(0.006, 0.016),
    };
    car.string_m = car.longest() * between(0.80, 0.97);
    car
}

/// The car of one run: nothing was changed, and yet.
pub(crate) fn of_one_run(car: &Car, random: &mut ChaCha8Rng) -> Car {
    let [pull, roll, grip] = SCATTER.map(|sd| (sd * gauss(random)).exp());
    Car {
        stiffness: car.stiffness * pull,
        rolling: car.rolling * roll,
        bearing_n_m: car.bearing_n_m * roll,
        friction_sliding: car.friction_sliding * grip,
        friction_highest: car.friction_highest * grip,
        ..*car
    }
}

/// What the sheet says: sizes as they are measured.
pub(crate) fn sheet(car: &Car, random: &mut ChaCha8Rng) -> Setting {
    let thickness = random.random::<f64>() < 0.5;
    let pivot = random.random::<f64>() < 0.5;
    let mut read = |value: f64, sd: f64| value + sd * gauss(random);
    let arm_m = read(car.arm_m, 0.001);
    Setting {
        string_m: car.string_m,
        axle_m: read(car.axle_m, 0.0001),
        wheel_m: read(car.wheel_m, 0.0003),
        arm_m: Some(arm_m),
        pivot_m: pivot.then(|| read(car.coil_m[0], 0.001)),
        swung_back_rad: None,
        string_diameter_m: thickness.then(|| read(car.string_thickness_m, 0.0001).max(1e-4)),
        mass_kg: Some(car.mass_kg * read(1.0, 0.005)),
        added_kg: 0.0,
        driven_share: Some(read(car.driven_share, 0.01)),
        wheelbase_m: Some(read(car.wheelbase_m, 0.001)),
    }
}

/// The car with a string tied to a length, as well as one can.
pub(crate) fn tied(car: &Car, string_m: f64, random: &mut ChaCha8Rng) -> Car {
    Car {
        string_m: string_m + TIED_SD_M * gauss(random),
        ..*car
    }
}

/// A run as gripline measures it: values with the uncertainties of its own coverage study (DEVELOPERS.md).
pub(crate) fn measured(
    name: &str,
    run: &Run,
    car: &Car,
    setting: Setting,
    taped: bool,
    random: &mut ChaCha8Rng,
) -> RunEvidence {
    let mut seen = |value: f64, half: f64| {
        let sd = half / 1.96;
        Measured {
            value: value + ERROR_SHARE * sd * gauss(random),
            sd,
        }
    };
    let slid = if Car::spun(run) {
        Some(true)
    } else {
        (run.max_slip < 0.08).then_some(false)
    };
    let end = run.pull.last().map_or(0.0, |(x, _)| *x);
    let speeds = [0.2, 0.4, 0.6, 0.8].map(|share| {
        let at = run.pull.iter().find(|(x, _)| *x >= share * end);
        at.map(|&(x, v)| (x, seen(v, 0.012 + 0.01 * v)))
    });
    RunEvidence {
        name: name.to_owned(),
        setting,
        floor: 0,
        peak_speed: Some(seen(run.peak_speed, 0.0137)),
        powered: Some(seen(run.powered_s, 0.069)),
        coast_loss: Some(seen(run.coast_loss, 0.034)),
        spun_away: Some(seen(run.spun_m, 0.010)),
        grip: Car::spun(run).then(|| seen(car.friction_sliding, 0.03)),
        rolling_radius: Some(seen(car.wheel_m / 2.0, 0.000_36)),
        slid,
        stop: taped.then(|| (seen(run.stop_m, 0.02), StopBy::Tape)),
        speeds: speeds.into_iter().flatten().collect(),
        curvature: None,
        string_slip: None,
    }
}

pub(crate) fn evidence(runs: Vec<RunEvidence>) -> Evidence {
    Evidence {
        car: Some("drawn".to_owned()),
        runs,
        floors: vec!["as drawn".to_owned()],
        floor: 0,
        readings: Vec::new(),
        notes: Vec::new(),
    }
}
