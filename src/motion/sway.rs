//! The sway of a wobbling wheel, found in the sticker's sideways observations.

use super::body::{Body, BodyState};
use super::refine::SwayCourse;
use super::shape::{
    Lever, Phase, SWAY_COS, SWAY_SIN, Shape, ShapeObservation, YAW, compare, runs_far_enough,
};
use super::wheel::Wheel;
use super::{CarGeometry, shape};
use nalgebra::{Matrix6, Vector2, Vector6};

/// The aim line: a point on it and its direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// A point on it, m.
    pub from_m: Vector2<f64>,
    /// Its direction, rad.
    pub heading_rad: f64,
}

/// Looks at rest say the same thing over and over: this many are enough.
const REST_OBSERVATIONS: usize = 6;
/// Slower than this the car stands, m/s.
const STANDING: f64 = 1e-3;

/// How far the car had gone at a frame.
#[derive(Debug, Clone, Copy)]
struct Gone<'a> {
    frame: usize,
    state: &'a BodyState,
    distance_m: f64,
    spun_m: f64,
    turn_rad: Option<f64>,
}

/// Way, spun-away way and turn of the wheel at every frame in view.
fn gone<'a>(body: &'a Body, wheel: Option<&Wheel>, radius_m: f64) -> Vec<Gone<'a>> {
    let mut distance_m = 0.0;
    let mut before: Option<&BodyState> = None;
    let mut first_turn = None;
    let mut spun_m: f64 = 0.0;
    let mut rolled_from: Option<(f64, f64)> = None;
    let last_seen = wheel.and_then(|w| w.states.iter().rposition(|s| s.is_some_and(|s| s.seen)));
    let mut out = Vec::new();
    for (frame, state) in body.states.iter().enumerate() {
        let Some(state) = state else { continue };
        if let Some(last) = before {
            let step = Vector2::new(state.x_m() - last.x_m(), state.y_m() - last.y_m());
            distance_m += step.norm().copysign(state.speed_m_per_s());
        }
        before = Some(state);
        let here = wheel.and_then(|w| w.states[frame]);
        let turn_rad = match (here, rolled_from) {
            // A mark that is not seen again leaves a forecast of the wheel that soon is out of step; the
            // way keeps step with a wheel that rolls.
            (Some(_), Some((turn, from_m))) if last_seen.is_some_and(|last| frame > last) => {
                Some(turn + (distance_m - from_m) / radius_m)
            }
            (Some(state), _) => {
                rolled_from = Some((state.angle_rad(), distance_m));
                Some(state.angle_rad())
            }
            (None, _) => None,
        };
        if let Some(turn) = turn_rad {
            let first = *first_turn.get_or_insert(turn - distance_m / radius_m);
            spun_m = spun_m.max((turn - first) * radius_m - distance_m);
        }
        out.push(Gone {
            frame,
            state,
            distance_m,
            spun_m,
            turn_rad,
        });
    }
    out
}

/// The sticker's sideways observations along the way. `radius_m` is what the wheel rolls on.
pub fn shape_observations(
    body: &Body,
    wheel: Option<&Wheel>,
    line: Line,
    radius_m: f64,
) -> Vec<ShapeObservation> {
    let normal = Vector2::new(-line.heading_rad.sin(), line.heading_rad.cos());
    let mut out = Vec::new();
    let mut resting: usize = 0;
    for here in gone(body, wheel, radius_m) {
        let Some(observation) = here.state.observation else {
            continue;
        };
        if here.state.speed_m_per_s().abs() < STANDING && here.distance_m < STANDING {
            resting += 1;
        }
        let (var_m2, pixel_m) = observation.along(normal);
        out.push(ShapeObservation {
            distance_m: here.distance_m,
            spun_m: here.spun_m,
            turn_rad: here.turn_rad,
            lateral_m: (observation.at_m - line.from_m).dot(&normal),
            var_m2,
            pixel_m,
        });
    }
    out.drain(..resting.saturating_sub(REST_OBSERVATIONS).min(out.len()));
    out
}

/// A sway at a free rate: how it was sought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FreeRate {
    /// Way for a radian of its phase, m.
    pub radius_m: f64,
    /// How many rates were tried.
    pub tries: usize,
}

/// Radii of wheels that such cars have, m: from a bottle cap to a record. Common practice, no source.
const RADII: (f64, f64) = (0.012, 0.16);
/// Steps of the search, a factor: fine enough that a dozen turns stay in step.
const RADIUS_STEP: f64 = 1.03;
/// A rate this near to the driven wheel's is the driven wheel's.
const SAME_RADIUS: f64 = 0.12;

/// The rate, other than that of `own_m`, at which a sway explains most.
fn free_rate(
    observations: &[ShapeObservation],
    lever: Lever,
    own_m: f64,
    yaws: bool,
) -> Option<FreeRate> {
    let mut tries = 0;
    let mut best: Option<(f64, f64)> = None;
    let mut radius_m = RADII.0;
    while radius_m < RADII.1 {
        let phase = Phase::Way(radius_m);
        if (radius_m / own_m).ln().abs() > SAME_RADIUS && runs_far_enough(observations, phase) {
            let shape = Shape {
                curves: true,
                yaws,
                sways: Some(phase),
            };
            tries += 1;
            if let Some(fit) = shape::scan_shape(observations, lever, shape)
                && best.is_none_or(|(_, least)| fit.left_over < least)
            {
                best = Some((radius_m, fit.left_over));
            }
        }
        radius_m *= RADIUS_STEP;
    }
    best.map(|(radius_m, _)| FreeRate { radius_m, tries })
}

/// What a wheel of `own_m` keeps step with while it rolls. A radius off by a hundredth is out of step by the sixteenth of
/// a turn after six, so that the one that explains most is taken from those that the sheet's may be.
fn rolling_phase(observations: &[ShapeObservation], lever: Lever, own_m: f64, yaws: bool) -> Phase {
    let left_over = |radius_m: f64| {
        let shape = Shape {
            curves: true,
            yaws,
            sways: Some(Phase::Way(radius_m)),
        };
        shape::scan_shape(observations, lever, shape).map_or(f64::INFINITY, |fit| fit.left_over)
    };
    let radii = (-OWN_TRIES..=OWN_TRIES).map(|step| own_m * (1.0 + f64::from(step) * OWN_STEP));
    radii
        .map(|radius_m| (radius_m, left_over(radius_m)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(Phase::Way(own_m), |(radius_m, _)| Phase::Way(radius_m))
}

/// Radii tried to either side of the sheet's, and how far apart as a share: about three standard uncertainties of a wheel
/// measured with a ruler to either side.
const OWN_TRIES: i32 = 8;
const OWN_STEP: f64 = 0.0025;

/// A sway must be this sure before the motion is smoothed with it.
const SURE: f64 = 0.99;
/// A wheel that spins away more than this share of the way may turn the car as well.
const YAW_SHARE: f64 = 0.05;

/// What a wobbling wheel, or a wheel that lets go before the other, adds to the heading in every frame;
/// `None` where the observations show neither.
pub fn find_sway(body: &Body, wheel: Option<&Wheel>, car: &CarGeometry) -> Option<SwayCourse> {
    let (observations, lever) = of_car(body, wheel, car);
    let yaws = may_yaw(&observations);
    let mut phases = vec![rolling_phase(&observations, lever, car.hub_height_m, yaws)];
    if observations.iter().all(|l| l.turn_rad.is_some()) {
        phases.push(Phase::DrivenWheel);
    }
    let mut tries = 1;
    if let Some(free) = free_rate(&observations, lever, car.hub_height_m, yaws) {
        phases.push(Phase::Way(free.radius_m));
        tries = free.tries;
    }
    phases.retain(|phase| runs_far_enough(&observations, *phase));
    let compared = compare(&observations, lever, &shapes(yaws, &phases), tries);
    let sways = compared.weight(|shape| shape.sways.is_some()) > SURE;
    let turns = compared.weight(|shape| shape.yaws) > SURE;
    let (best, _) = compared
        .models
        .iter()
        .find(|(fit, _)| (fit.shape.sways.is_some() || !sways) && (fit.shape.yaws || !turns))?;
    let step = best.shape.sways.filter(|_| sways);
    let yaw_per_spun_m = if turns { best.values[YAW] } else { 0.0 };
    let mut course = course(body, wheel, car.hub_height_m, step, yaw_per_spun_m);
    if sways {
        course.parts[0] = best.values[SWAY_SIN];
        course.parts[1] = best.values[SWAY_COS];
    }
    (sways || turns).then_some(course)
}

fn of_car(body: &Body, wheel: Option<&Wheel>, car: &CarGeometry) -> (Vec<ShapeObservation>, Lever) {
    let line = Line {
        from_m: car.aim_from_m,
        heading_rad: car.aim_heading_rad,
    };
    let lever = Lever {
        ahead_m: car.sticker_ahead_m,
        left_m: car.sticker_left_m,
    };
    (
        shape_observations(body, wheel, line, car.hub_height_m),
        lever,
    )
}

/// Whether the wheel spun enough for a curve that comes of it.
pub fn may_yaw(observations: &[ShapeObservation]) -> bool {
    observations
        .last()
        .is_some_and(|last| last.spun_m > YAW_SHARE * last.distance_m)
}

/// A rate other than the driven wheel's at which the sideways observations may sway: the other axle's.
pub fn other_rate(body: &Body, wheel: Option<&Wheel>, car: &CarGeometry) -> Option<FreeRate> {
    let (observations, lever) = of_car(body, wheel, car);
    free_rate(
        &observations,
        lever,
        car.hub_height_m,
        may_yaw(&observations),
    )
}

/// Every model with and without each term.
pub fn shapes(yaws: bool, phases: &[Phase]) -> Vec<Shape> {
    let sways: Vec<Option<Phase>> = std::iter::once(None)
        .chain(phases.iter().map(|p| Some(*p)))
        .collect();
    let turns: &[bool] = if yaws { &[false, true] } else { &[false] };
    let mut out = Vec::new();
    for curves in [false, true] {
        for &yaws in turns {
            for &sways in &sways {
                out.push(Shape {
                    curves,
                    yaws,
                    sways,
                });
            }
        }
    }
    out
}

/// What a sway that keeps step with `step`, its parts still nothing, and a turn of `yaw_per_spun_m` add in every frame.
fn course(
    body: &Body,
    wheel: Option<&Wheel>,
    radius_m: f64,
    step: Option<Phase>,
    yaw_per_spun_m: f64,
) -> SwayCourse {
    let mut turn_rad = vec![0.0; body.states.len()];
    let mut phase = vec![[0.0; 2]; body.states.len()];
    let mut angle = 0.0;
    let mut at_rest = None;
    for here in gone(body, wheel, radius_m) {
        angle = here.turn_rad.unwrap_or(angle);
        let along = match step {
            Some(Phase::Way(radius_m)) => here.distance_m / radius_m,
            _ => angle,
        };
        let rest: [f64; 2] = *at_rest.get_or_insert([along.sin(), along.cos()]);
        phase[here.frame] = [along.sin() - rest[0], along.cos() - rest[1]];
        turn_rad[here.frame] = yaw_per_spun_m * here.spun_m;
    }
    SwayCourse {
        turn_rad,
        phase: if step.is_some() { phase } else { Vec::new() },
        step,
        yaw_per_spun_m,
        arm_m: match step {
            Some(Phase::Way(distance_m)) => distance_m,
            _ => radius_m,
        },
        parts: Vector6::zeros(),
        covariance: Matrix6::zeros(),
    }
}

/// The same sway beside a motion that was smoothed anew; `None` where what it keeps step with is no longer seen.
pub(super) fn beside(
    body: &Body,
    wheel: Option<&Wheel>,
    car: &CarGeometry,
    sway: &SwayCourse,
) -> Option<SwayCourse> {
    if sway.step == Some(Phase::DrivenWheel) {
        let (observations, _) = of_car(body, wheel, car);
        observations
            .iter()
            .all(|l| l.turn_rad.is_some())
            .then_some(())?;
    }
    let (step, yaw_per_spun_m) = (sway.step, sway.yaw_per_spun_m);
    Some(SwayCourse {
        parts: sway.parts,
        ..course(body, wheel, car.hub_height_m, step, yaw_per_spun_m)
    })
}

/// Courses in step with the driven wheel that add nothing yet: by its own turn where that is seen, and by the
/// way, which a wheel that rolls keeps step with. None where the car did not go far enough.
pub(super) fn in_step(body: &Body, wheel: Option<&Wheel>, car: &CarGeometry) -> Vec<SwayCourse> {
    let (observations, lever) = of_car(body, wheel, car);
    let yaws = may_yaw(&observations);
    let mut phases = vec![rolling_phase(&observations, lever, car.hub_height_m, yaws)];
    if observations.iter().all(|l| l.turn_rad.is_some()) {
        phases.push(Phase::DrivenWheel);
    }
    phases.retain(|phase| runs_far_enough(&observations, *phase));
    let of = |phase: &Phase| course(body, wheel, car.hub_height_m, Some(*phase), 0.0);
    phases.iter().map(of).collect()
}
