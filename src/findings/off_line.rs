//! How far the car is off line, and what of that each term of the path's shape does.

use super::{
    CarFacts, Effect, Estimate, Finding, FindingReason, Findings, Key, Missing, Moment, PathFit,
    STATED_DISTANCE_M,
};
use crate::motion::MotionReason;

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

/// Adds what is said of the path: where it ended, its terms, and what each of them cost.
pub(super) fn add_quantities(moments: &[Moment<'_>], car: &CarFacts, out: &mut Findings) {
    let path = out.path.clone();
    let last = moments.last().and_then(|m| {
        let (value, sd) = out.frames[m.frame].deviation?;
        Some((Estimate { value, sd }, m.travelled_m))
    });
    let unseen = || match &path {
        Err(why) => *why,
        Ok(_) => MotionReason::StickerUnseen.into(),
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
    let of = |get: fn(&PathFit) -> Estimate| path.as_ref().map(get).map_err(|why| *why);
    out.values
        .insert(Key::AimErrorRad, of(|fit| fit.heading_rad));
    out.values
        .insert(Key::CurvaturePerM, of(|fit| fit.curvature_per_m));
    out.values
        .insert(Key::ImpliedSkewRad, skew(path.as_ref(), car));
    out.values.insert(
        Key::WobbleM,
        path.as_ref()
            .map_err(|why| *why)
            .and_then(|fit| fit.sway_m.ok_or(FindingReason::SwayUntold)),
    );
    for effect in Effect::OF_THE_PATH {
        let finding = path
            .as_ref()
            .map(|fit| off_line(fit, effect))
            .map_err(|why| *why);
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

fn skew(path: Result<&PathFit, &FindingReason>, car: &CarFacts) -> Finding {
    let fit = path.map_err(|why| *why)?;
    let wheelbase = car
        .wheelbase_m
        .ok_or(FindingReason::NotOnSheet(Missing::Wheelbase))?;
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
