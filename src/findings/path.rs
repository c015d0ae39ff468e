//! The shape of the path: where it pointed, how it curved, whether it curved only while the wheel
//! slipped, whether it swayed with a wheel.
//!
//! Which of these terms a path has is not decided by thresholds: every combination is fitted to the same
//! looks and weighs by its likelihood (`motion::shape`); each number is the mean over the models.

use super::{CarFacts, Effect, Estimate, Finding, Findings, Key, Moment, STATED_DISTANCE_M};
use crate::motion::{
    CURVE, Compared, FreeRate, Lever, Line, Motion, Phase, Shape, ShapeFit, ShapeObservation,
    SwayCourse, YAW, compare, fit_shape, may_yaw, runs_far_enough, shape_observations, shapes,
};
use nalgebra::Vector2;
use statrs::distribution::{ContinuousCDF, Normal};

/// A path's shape.
#[derive(Debug, Clone, PartialEq)]
pub struct PathFit {
    /// Deviation at the start, m.
    pub start_m: Estimate,
    /// Heading at the start against the aim line, rad.
    pub heading_rad: Estimate,
    /// Curvature that is there whether the wheel slips or not, 1/m.
    pub curvature_per_m: Estimate,
    /// Turn for every metre spun away, rad/m.
    pub yaw_per_spun_m: Estimate,
    /// Half of the sideways sway of the reference point from one side to the other, m, where the car
    /// went far enough to show one.
    pub sway_m: Option<Estimate>,
    /// Swing of the heading to one side, rad.
    pub swing_rad: Estimate,
    /// The models with their weights.
    pub compared: Compared,
    /// Way over which it was fitted, m.
    pub over_m: f64,
    /// Where no wheel was seen, how surely the curve is there while the car coasts as well: a curve that
    /// exists only while a wheel slips ends with the pull. 1 where the slip itself was seen.
    pub coasts_on: f64,
    /// What stands for the driven wheel's turn where its mark was not seen: the radius it rolls on, m.
    pub own_radius_m: f64,
    /// `∫ L ds`, L being the way spun away so far: turns `yaw_per_spun_m` into metres off line, m².
    spun_area_m2: f64,
    /// Way spun away in all, m.
    spun_m: f64,
}

/// A steady curve is the same on the coast; one that has less than this share of it there came of the pull.
const STEADY_SHARE: f64 = 0.5;
/// A path shorter than this has no shape, m.
const MIN_PATH_M: f64 = 0.3;
/// A path is seen in at least this many frames.
const MIN_OBSERVATIONS: usize = 12;

impl PathFit {
    /// Weight of the models with a sway in step with the driven wheel, and of those with a sway at
    /// another rate.
    pub fn sway_weights(&self) -> (f64, f64) {
        let driven = self
            .compared
            .weight(|s| s.sways.is_some_and(|p| self.is_own(p)));
        (driven, self.compared.weight(|s| s.sways.is_some()) - driven)
    }

    fn is_own(&self, phase: Phase) -> bool {
        match phase {
            Phase::DrivenWheel => true,
            Phase::Way(radius_m) => (radius_m / self.own_radius_m - 1.0).abs() < 0.01,
        }
    }

    /// Models that are worth fitting again on slightly other inputs.
    pub fn worth_fitting(&self) -> Vec<Shape> {
        self.compared
            .models
            .iter()
            .filter(|(_, weight)| *weight > WORTH_FITTING)
            .map(|(fit, _)| fit.shape)
            .collect()
    }
}

/// A model of less weight than this changes nothing.
const WORTH_FITTING: f64 = 0.01;

/// Signed distance from the aim line of the middle of the driven axle, left positive, and its standard
/// uncertainty, m. What a wheel that is not true shifts the car to the side is part of it.
pub(super) fn deviation(moment: &Moment<'_>, car: &CarFacts) -> (f64, f64) {
    let (sin, cos) = car.aim_heading_rad.sin_cos();
    let mean = &moment.body.mean;
    let off = (mean[0] - car.aim_from_m[0], mean[1] - car.aim_from_m[1]);
    let c = &moment.body.covariance;
    let var = sin * sin * c[(0, 0)] - 2.0 * sin * cos * c[(0, 1)] + cos * cos * c[(1, 1)];
    let aside = moment.body.aside_m * (mean[2] - car.aim_heading_rad).cos();
    (cos * off.1 - sin * off.0 + aside, var.max(0.0).sqrt())
}

/// Deviation of a path of constant curvature after the way `s`.
///
/// # Source
/// Arc of the kinematic single-track model: `y = (cos ψ0 - cos(ψ0 + k s)) / k`, R. Rajamani, Vehicle
/// Dynamics and Control, chapter 2 (citation from memory).
pub(super) fn arc_offset_m(heading_rad: f64, curvature_per_m: f64, distance_m: f64) -> f64 {
    let turn = curvature_per_m * distance_m;
    if turn.abs() < 1e-6 {
        return distance_m * (heading_rad + turn / 2.0).sin();
    }
    (heading_rad.cos() - (heading_rad + turn).cos()) / curvature_per_m
}

/// Angle between the axles that steers a curvature, rad.
///
/// # Source
/// `tan δ = L k`: kinematic single-track model, R. Rajamani, Vehicle Dynamics and Control, chapter 2 (citation
/// from memory).
pub fn implied_skew_rad(wheelbase_m: f64, curvature_per_m: f64) -> f64 {
    (wheelbase_m * curvature_per_m).atan()
}

/// Fits the path. `radius_m` is what the driven wheel rolls on; `coast_from_m` is the way gone at the highest
/// speed, where that was seen.
///
/// # Errors
/// The reason, for the user, where the car did not go far enough.
pub fn fit_path(
    motion: &Motion,
    car: &CarFacts,
    radius_m: f64,
    coast_from_m: Option<f64>,
) -> Result<PathFit, String> {
    let line = Line {
        from_m: Vector2::from(car.aim_from_m),
        heading_rad: car.aim_heading_rad,
    };
    let observations = shape_observations(&motion.body, motion.wheel.as_ref().ok(), line, radius_m);
    let over_m = observations
        .last()
        .map_or(0.0, |observation| observation.distance_m);
    if over_m < MIN_PATH_M || observations.len() < MIN_OBSERVATIONS {
        return Err(format!(
            "the car went {over_m:.2} m in view; its path has a shape from {MIN_PATH_M} m"
        ));
    }
    let phases = phases(&observations, motion, radius_m);
    let candidates = if motion.tuning.shapes.is_empty() {
        shapes(may_yaw(&observations), &phases)
    } else {
        motion.tuning.shapes.clone()
    };
    let tries = motion.tuning.free_rate.map_or(1, |free| free.tries);
    let compared = compare(&observations, car.lever, &candidates, tries);
    if compared.models.is_empty() {
        return Err("the path is too short to have a shape".to_owned());
    }
    let mean = |of: &dyn Fn(&ShapeFit) -> (f64, f64)| {
        let (value, sd) = compared.mean(of);
        Estimate { value, sd }
    };
    let sway = |fit: &ShapeFit| {
        let arm = match fit.shape.sways {
            Some(Phase::Way(free_m)) => free_m,
            _ => radius_m,
        };
        let (swing, sd) = fit.swing_rad();
        (swing * arm, sd * arm)
    };
    let mut sway_m = mean(&sway);
    // Where the whole motion tells what the car shifts from what it points to the side, that is the sway.
    if let Some(whole) = motion
        .tuning
        .sway
        .as_ref()
        .and_then(SwayCourse::amplitude_m)
    {
        sway_m.value = whole * compared.weight(|shape| shape.sways.is_some());
    }
    let curvature_per_m = mean(&|fit| fit.parameter(CURVE));
    let coasts_on = match &motion.wheel {
        Ok(_) => 1.0,
        Err(_) => coasts_on(
            &observations,
            car.lever,
            curvature_per_m.value,
            coast_from_m,
        ),
    };
    Ok(PathFit {
        coasts_on,
        start_m: mean(&|fit| fit.start()[0]),
        heading_rad: mean(&|fit| fit.start()[1]),
        curvature_per_m,
        yaw_per_spun_m: mean(&|fit| fit.parameter(YAW)),
        sway_m: (!phases.is_empty()).then_some(sway_m),
        swing_rad: mean(&ShapeFit::swing_rad),
        over_m,
        own_radius_m: radius_m,
        spun_area_m2: spun_area(&observations),
        spun_m: observations
            .last()
            .map_or(0.0, |observation| observation.spun_m),
        compared,
    })
}

/// How surely the coast curves by more than half of `curvature_per_m` to the same side; 0 where no coast was
/// seen that could show it.
fn coasts_on(
    observations: &[ShapeObservation],
    lever: Lever,
    curvature_per_m: f64,
    from_m: Option<f64>,
) -> f64 {
    let Some(from_m) = from_m else { return 0.0 };
    let coast: Vec<ShapeObservation> = observations
        .iter()
        .filter(|l| l.distance_m > from_m)
        .copied()
        .collect();
    let curve = Shape {
        curves: true,
        ..Shape::default()
    };
    let Some(fit) = fit_shape(&coast, lever, curve) else {
        return 0.0;
    };
    let (value, sd) = fit.parameter(CURVE);
    let beyond = value * curvature_per_m.signum() - STEADY_SHARE * curvature_per_m.abs();
    Normal::new(0.0, 1.0).map_or(0.0, |normal| normal.cdf(beyond / sd.max(1e-12)))
}

/// What a sway may keep step with in this clip.
fn phases(observations: &[ShapeObservation], motion: &Motion, radius_m: f64) -> Vec<Phase> {
    let own = if observations
        .iter()
        .all(|observation| observation.turn_rad.is_some())
    {
        Phase::DrivenWheel
    } else {
        Phase::Way(radius_m)
    };
    let free = motion.tuning.free_rate;
    std::iter::once(own)
        .chain(free.map(|FreeRate { radius_m, .. }| Phase::Way(radius_m)))
        .filter(|phase| runs_far_enough(observations, *phase))
        .collect()
}

fn spun_area(observations: &[ShapeObservation]) -> f64 {
    observations
        .windows(2)
        .map(|pair| {
            f64::midpoint(pair[0].spun_m, pair[1].spun_m)
                * (pair[1].distance_m - pair[0].distance_m)
        })
        .sum()
}

pub(super) fn add_quantities(moments: &[Moment<'_>], car: &CarFacts, out: &mut Findings) {
    let path = out.path.clone();
    let last = moments.last().and_then(|m| {
        let (value, sd) = out.frames[m.frame].deviation?;
        Some((Estimate { value, sd }, m.travelled_m))
    });
    let unseen = || match &path {
        Err(why) => why.clone(),
        Ok(_) => "the sticker was not seen".to_owned(),
    };
    out.values.insert(
        Key::FinalDeviationM,
        last.map(|(d, _)| d).ok_or_else(unseen),
    );
    let drift = match (last, &path) {
        (Some((d, way)), Ok(fit)) => Ok(Estimate {
            value: (d.value - fit.start_m.value) / way,
            sd: d.sd.hypot(fit.start_m.sd) / way,
        }),
        _ => Err(unseen()),
    };
    out.values.insert(Key::DriftMPerM, drift);
    let of = |get: fn(&PathFit) -> Estimate| path.as_ref().map(get).map_err(Clone::clone);
    out.values
        .insert(Key::AimErrorRad, of(|fit| fit.heading_rad));
    out.values
        .insert(Key::CurvaturePerM, of(|fit| fit.curvature_per_m));
    out.values
        .insert(Key::ImpliedSkewRad, skew(path.as_ref(), car));
    out.values.insert(
        Key::WobbleM,
        path.as_ref().map_err(Clone::clone).and_then(|fit| {
            fit.sway_m.ok_or_else(|| {
                "the car did not go far enough in view to tell a sway from a curve".to_owned()
            })
        }),
    );
    for effect in Effect::OF_THE_PATH {
        let finding = path
            .as_ref()
            .map(|fit| off_line(fit, effect))
            .map_err(Clone::clone);
        out.effects.insert(effect, finding);
    }
}

/// Distance off line, m, through one term of the path alone.
fn off_line(fit: &PathFit, effect: Effect) -> Estimate {
    let way = fit.over_m;
    let beyond = (STATED_DISTANCE_M - way).max(0.0);
    let curve = |s: f64| {
        let (heading, k) = (fit.heading_rad.value, fit.curvature_per_m);
        Estimate {
            value: arc_offset_m(heading, k.value, s) - s * heading.sin(),
            sd: k.sd * s * s / 2.0,
        }
    };
    let aim = |s: f64| Estimate {
        value: s * fit.heading_rad.value.sin(),
        sd: s * fit.heading_rad.sd,
    };
    let yaw = |area: f64| Estimate {
        value: fit.yaw_per_spun_m.value * area,
        sd: fit.yaw_per_spun_m.sd * area,
    };
    match effect {
        Effect::CurveOff => curve(way),
        Effect::CurveOffAtStated => curve(STATED_DISTANCE_M.max(way)),
        Effect::AimOff => aim(way),
        Effect::AimOffAtStated => aim(STATED_DISTANCE_M.max(way)),
        Effect::YawOff => yaw(fit.spun_area_m2),
        Effect::YawOffAtStated => yaw(fit.spun_area_m2 + fit.spun_m * beyond),
        // From one side to the other.
        Effect::SwayOff => {
            let sway = fit.sway_m.unwrap_or(Estimate {
                value: 0.0,
                sd: 0.0,
            });
            Estimate {
                value: 2.0 * sway.value,
                sd: 2.0 * sway.sd,
            }
        }
        // A path that swings by an angle to either side is longer than its middle line by a quarter of
        // the angle squared (mean of 1 - cos).
        _ => {
            let swing = fit.swing_rad;
            Estimate {
                value: way * swing.value * swing.value / 4.0,
                sd: way * swing.value * swing.sd / 2.0,
            }
        }
    }
}

fn skew(path: Result<&PathFit, &String>, car: &CarFacts) -> Finding {
    let fit = path.map_err(Clone::clone)?;
    let wheelbase = car
        .wheelbase_m
        .ok_or("the run sheet does not give `wheelbase_mm`")?;
    let k = fit.curvature_per_m;
    let slope = wheelbase / (1.0 + (wheelbase * k.value).powi(2));
    Ok(Estimate {
        value: implied_skew_rad(wheelbase, k.value),
        sd: slope * k.sd,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_arc_runs_off_line_as_far_as_geometry_says() {
        // y = R (1 - cos(s / R)), worked values recomputed from the closed form: (R, s, y), m.
        for (radius, way, offset) in [
            (10.0, 1.0, 0.049_958_3),
            (10.0, 3.0, 0.446_635_1),
            (10.0, 5.0, 1.224_174_4),
            (25.0, 5.0, 0.498_335_6),
            (5.0, 2.0, 0.394_695_0),
        ] {
            assert!((arc_offset_m(0.0, 1.0 / radius, way) - offset).abs() < 1e-7);
        }
        assert!((arc_offset_m(0.1, 0.0, 2.0) - 2.0 * 0.1_f64.sin()).abs() < 1e-12);
    }

    #[test]
    fn a_curve_implies_the_skew_of_the_single_track_model() {
        // R = L / tan δ: R. Rajamani, Vehicle Dynamics and Control, chapter 2 (citation from memory); values for δ = 1
        // degree.
        for (wheelbase, radius) in [(0.15, 8.593_49), (0.20, 11.457_99), (0.30, 17.186_99)] {
            let skew = implied_skew_rad(wheelbase, 1.0 / radius).to_degrees();
            assert!((skew - 1.0).abs() < 1e-5, "{skew}");
        }
        let half = implied_skew_rad(0.20, 1.0 / 22.917_73).to_degrees();
        let two = implied_skew_rad(0.20, 1.0 / 5.727_25).to_degrees();
        assert!((half - 0.5).abs() < 1e-5 && (two - 2.0).abs() < 1e-5);
        // Sideways after 5 m of path, same source.
        for (radius, offset) in [
            (8.593_49, 1.414_01),
            (11.457_99, 1.073_74),
            (17.186_99, 0.722_18),
        ] {
            assert!((arc_offset_m(0.0, 1.0 / radius, 5.0) - offset).abs() < 2e-5);
        }
    }
}
