//! What is true of a simulated run, worked out from the car's own equations of motion.

use super::car::{Car, State};
use super::film::Filmed;
use super::{Case, Outcome};
use gripline::findings::{Effect, Key, MIN_RIM_SPEED_M_PER_S, ORDINARY_LOSS, STATED_DISTANCE_M};
use gripline::verdict::Cause;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

const GRAVITY: f64 = 9.806_65;

/// What is true of a run, as far as it is in view.
#[derive(Debug, Clone)]
pub struct Truth {
    pub values: BTreeMap<Key, f64>,
    /// What single terms of the path and the drive did, m, with the tool's signs.
    pub effects: BTreeMap<Effect, f64>,
    /// What each cause cost within the view, m.
    pub costs: BTreeMap<Cause, f64>,
    pub distance_m: f64,
}

/// What is true of `car`, as far as the camera saw it.
pub(super) fn truth(car: &Car, wheelbase_m: f64, filmed: &Filmed, release_s: f64) -> Truth {
    let states: Vec<&State> = filmed.states.iter().flatten().collect();
    let last = **states.last().expect("the car is in view");
    let way = last.distance_m;
    let mut values = of_the_path(car, wheelbase_m, &last);
    let moving = || states.iter().filter(|s| s.time_s > 0.0);
    let slip = |s: &State| 1.0 - s.v / (s.omega * car.radius_m);
    let max_slip = moving()
        .filter(|s| s.powered && s.omega * car.radius_m > MIN_RIM_SPEED_M_PER_S)
        .map(|s| slip(s))
        .fold(0.0, f64::max);
    let peak = moving().map(|s| s.v).fold(0.0, f64::max);
    values.extend([
        (Key::ReleaseS, release_s),
        (Key::PeakSpeedMPerS, peak),
        (Key::DistanceM, way),
        (Key::WheelTurns, last.shown_rad / TAU),
        (Key::MaxSlip, max_slip),
        (Key::SpunAwayM, last.spun_m),
        (Key::GainWithoutSlipM, car.gain_without_slip_m()),
        (Key::RollingRadiusM, car.radius_m),
        (Key::LooseWheelTurns, (last.axle_rad - last.wheel_rad) / TAU),
    ]);
    if last.spun_m > 0.0 {
        values.insert(Key::GripCoefficient, car.mu_kinetic);
    }
    let mut effects = path_effects(car, &states);
    effects.insert(Effect::SpunInView, last.spun_m);
    let mut costs = BTreeMap::from([
        (Cause::Grip, last.spun_m),
        (
            Cause::Alignment,
            (0.5 * car.curvature_per_m * way * way).abs(),
        ),
        (Cause::Aim, (way * car.aim_rad.sin()).abs()),
        (Cause::Wobble, 2.0 * sway_m(car)),
    ]);
    if moving().any(|s| !s.powered) {
        let out = car.string_out();
        values.extend(at_string_end(car, &out, &last));
        let budget = car.string_m / car.winding_radius_m();
        let turned = budget * (1.0 - car.string_slip) * (1.0 - car.wheel_loose);
        effects.insert(Effect::DriveLost, (budget - turned) * car.radius_m);
        // Out of string and the wheel rolling: the coast.
        let coast: Vec<&&State> = moving()
            .filter(|s| !s.powered && !s.slipping && s.v > 0.0)
            .collect();
        if let (Some(first), Some(end)) = (coast.first(), coast.last()) {
            values.insert(Key::CoastDecelerationMPerS2, car.coast_loss(out.v));
            values.insert(Key::RollingResistance, car.coast_loss(out.v) / GRAVITY);
            let loss = car.coast_loss(f64::midpoint(first.v, end.v));
            let time = end.time_s - first.time_s;
            let more = loss - ORDINARY_LOSS.value * GRAVITY;
            costs.insert(Cause::Drag, 0.5 * more * time * time);
            costs.insert(Cause::Drive, (budget - turned) * car.radius_m);
        }
    }
    Truth {
        values,
        effects,
        costs,
        distance_m: way,
    }
}

fn sway_m(car: &Car) -> f64 {
    car.sway_rad * car.radius_m / car.sway_rate + car.shift_m
}

fn of_the_path(car: &Car, wheelbase_m: f64, last: &State) -> BTreeMap<Key, f64> {
    BTreeMap::from([
        (Key::FinalDeviationM, last.axle_left_m()),
        (Key::DriftMPerM, last.axle_left_m() / last.distance_m),
        (Key::AimErrorRad, car.aim_rad),
        (Key::CurvaturePerM, car.curvature_per_m),
        (
            Key::ImpliedSkewRad,
            (wheelbase_m * car.curvature_per_m).atan(),
        ),
        (Key::WobbleM, sway_m(car)),
    ])
}

/// What is settled once the string is out.
fn at_string_end(car: &Car, out: &State, last: &State) -> [(Key, f64); 5] {
    let budget = car.string_m / car.winding_radius_m() / TAU;
    [
        (Key::PoweredS, out.time_s),
        (Key::StringSlipTurns, budget * car.string_slip),
        (Key::EnergyMovingCarJ, 0.5 * car.mass_kg * out.v * out.v),
        (Key::EnergyLostInSlipJ, last.rubbed_j),
        (Key::EnergyLostRollingJ, out.rolled_j),
    ]
}

/// Distances off line through one term of the path alone, left positive.
fn path_effects(car: &Car, states: &[&State]) -> BTreeMap<Effect, f64> {
    let last = states.last().expect("the car is in view");
    let (way, stated) = (last.distance_m, STATED_DISTANCE_M.max(last.distance_m));
    let curve = |s: f64| {
        let (heading, k) = (car.aim_rad, car.curvature_per_m);
        if k == 0.0 {
            0.0
        } else {
            (heading.cos() - (heading + k * s).cos()) / k - s * heading.sin()
        }
    };
    let spun_area: f64 = states
        .windows(2)
        .map(|pair| {
            f64::midpoint(pair[0].spun_m, pair[1].spun_m)
                * (pair[1].distance_m - pair[0].distance_m)
        })
        .sum();
    let yaw = car.yaw_per_spun_m;
    BTreeMap::from([
        (Effect::CurveOff, curve(way)),
        (Effect::CurveOffAtStated, curve(stated)),
        (Effect::AimOff, way * car.aim_rad.sin()),
        (Effect::AimOffAtStated, stated * car.aim_rad.sin()),
        (Effect::YawOff, yaw * spun_area),
        (
            Effect::YawOffAtStated,
            yaw * (spun_area + last.spun_m * (stated - way)),
        ),
        (Effect::SwayOff, 2.0 * sway_m(car)),
        (Effect::SwayLost, way * car.sway_rad * car.sway_rad / 4.0),
    ])
}

/// Whether the interval of a quantity holds the truth; `None` where either is not known.
pub fn holds(case: &Case, outcome: &Outcome, key: Key) -> Option<bool> {
    let truth = *case.truth.values.get(&key)?;
    let quantity = outcome.result.get(key);
    Some(quantity.low()? <= truth && truth <= quantity.high()?)
}
