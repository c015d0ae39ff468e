//! The shape of the path: where it pointed, how it curved, whether it swayed with the wheel.

use super::{CarFacts, Estimate, Finding, Findings, Key, Moment};
use crate::motion::Motion;
use nalgebra::{Matrix5, Vector5};

/// A constant-curvature path with a sway locked to the wheel, least squares over the clip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathFit {
    /// Deviation at the start, m.
    pub start_m: Estimate,
    /// Heading at the start against the aim line, rad.
    pub heading_rad: Estimate,
    /// Curvature, 1/m.
    pub curvature_per_m: Estimate,
    /// Half of the sideways sway from one side to the other, m, where the wheel was seen.
    pub sway_m: Option<Estimate>,
    /// Standard deviation of what is left, m.
    pub residual_m: f64,
    /// Way over which it was fitted, m.
    pub over_m: f64,
}

/// A path shorter than this has no shape, m.
const MIN_PATH_M: f64 = 0.3;
/// Neighbouring smoothed places share their errors; this many frames are worth one.
const FRAMES_PER_LOOK: f64 = 6.0;
/// Mapping errors of a few tenths of a millimetre bend along with the path and do not average out, m.
const FLOOR_M: f64 = 0.0003;

/// Signed distance from the aim line, left positive, and its standard uncertainty, m.
pub(super) fn deviation(moment: &Moment<'_>, car: &CarFacts) -> (f64, f64) {
    let (sin, cos) = car.aim_heading_rad.sin_cos();
    let mean = &moment.body.mean;
    let off = (mean[0] - car.aim_from_m[0], mean[1] - car.aim_from_m[1]);
    let c = &moment.body.covariance;
    let var = sin * sin * c[(0, 0)] - 2.0 * sin * cos * c[(0, 1)] + cos * cos * c[(1, 1)];
    (cos * off.1 - sin * off.0, var.max(0.0).sqrt())
}

/// Deviation of a path of constant curvature after the way `s`.
///
/// # Source
/// Arc of the kinematic single-track model: `y = (cos ψ0 - cos(ψ0 + k s)) / k`, R. Rajamani, Vehicle
/// Dynamics and Control, chapter 2.
pub(super) fn arc_offset_m(heading_rad: f64, curvature_per_m: f64, way_m: f64) -> f64 {
    let turn = curvature_per_m * way_m;
    if turn.abs() < 1e-6 {
        return way_m * (heading_rad + turn / 2.0).sin();
    }
    (heading_rad.cos() - (heading_rad + turn).cos()) / curvature_per_m
}

/// Angle between the axles that steers a curvature, rad.
///
/// # Source
/// `tan δ = L k`: kinematic single-track model, R. Rajamani, Vehicle Dynamics and Control, chapter 2.
pub fn implied_skew_rad(wheelbase_m: f64, curvature_per_m: f64) -> f64 {
    (wheelbase_m * curvature_per_m).atan()
}

/// Fits the path.
///
/// # Errors
/// The reason, for the user, where the car did not go far enough.
pub fn fit_path(moments: &[Moment<'_>], car: &CarFacts) -> Result<PathFit, String> {
    // A car at rest repeats one place over and over: only the way counts.
    let moving: Vec<&Moment<'_>> = moments.iter().filter(|m| m.body.seen).collect();
    let over_m = moving.last().map_or(0.0, |m| m.travelled_m);
    if over_m < MIN_PATH_M || moving.len() < 12 {
        return Err(format!(
            "the car went {over_m:.2} m in view; its path has a shape from {MIN_PATH_M} m"
        ));
    }
    let sways = moving.iter().filter(|m| m.wheel.is_some()).count() * 2 > moving.len();
    let mut p = Vector5::<f64>::zeros();
    let mut normal = Matrix5::zeros();
    let mut squares = 0.0;
    let mut weights = 0.0;
    for _ in 0..6 {
        normal = Matrix5::zeros();
        let mut right = Vector5::zeros();
        (squares, weights) = (0.0, 0.0);
        let mut before = 0.0;
        for moment in &moving {
            let s = moment.travelled_m;
            let weight = (s - before).clamp(1e-4, 0.05);
            before = s;
            let (sin, cos) = moment
                .wheel
                .filter(|_| sways)
                .map_or((0.0, 0.0), |w| w.mean[0].sin_cos());
            let row = slopes(&p, s, sin, cos);
            let model = p[0] + arc_offset_m(p[1], p[2], s) + p[3] * sin + p[4] * cos;
            let residual = deviation(moment, car).0 - model;
            normal += row * row.transpose() * weight;
            right += row * (residual * weight);
            squares += residual * residual * weight;
            weights += weight;
        }
        if !sways {
            normal[(3, 3)] = 1.0;
            normal[(4, 4)] = 1.0;
        }
        let step = normal
            .cholesky()
            .ok_or("the path is too short to have a shape")?
            .solve(&right);
        p += step;
        if step.norm() < 1e-12 {
            break;
        }
    }
    let residual_m = (squares / weights).sqrt();
    let looks = (moving.len() as f64 / FRAMES_PER_LOOK).max(4.0);
    let var = residual_m.hypot(FLOOR_M).powi(2) * weights / (looks - 3.0).max(1.0);
    let covariance = normal
        .try_inverse()
        .ok_or("the path is too short to have a shape")?
        * var;
    let estimate = |i: usize| Estimate {
        value: p[i],
        sd: covariance[(i, i)].max(0.0).sqrt(),
    };
    let sway_sd = covariance[(3, 3)].max(covariance[(4, 4)]).max(0.0).sqrt();
    Ok(PathFit {
        start_m: estimate(0),
        heading_rad: estimate(1),
        curvature_per_m: estimate(2),
        sway_m: sways.then(|| Estimate {
            value: p[3].hypot(p[4]),
            sd: sway_sd,
        }),
        residual_m,
        over_m,
    })
}

/// Slopes of the model by (start, heading, curvature, sway sine, sway cosine).
fn slopes(p: &Vector5<f64>, s: f64, sin: f64, cos: f64) -> Vector5<f64> {
    const STEP: f64 = 1e-6;
    let here = arc_offset_m(p[1], p[2], s);
    let by_heading = (arc_offset_m(p[1] + STEP, p[2], s) - here) / STEP;
    let by_curvature = (arc_offset_m(p[1], p[2] + STEP, s) - here) / STEP;
    Vector5::new(1.0, by_heading, by_curvature, sin, cos)
}

pub(super) fn add_quantities(
    _motion: &Motion,
    moments: &[Moment<'_>],
    car: &CarFacts,
    out: &mut Findings,
) {
    let path = out.path.clone();
    let last = moments.last().and_then(|m| {
        out.frames[m.frame].deviation.map(|d| {
            (
                Estimate {
                    value: d.0,
                    sd: d.1,
                },
                m.travelled_m,
            )
        })
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
                "the wheel mark was not seen often enough to tell its turns from a sway".to_owned()
            })
        }),
    );
    (out.off_line_by_curve_m, out.off_line_by_aim_m) = off_line(path.as_ref());
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

/// Distance off line at the end of the view by the curve alone and by the starting direction alone.
fn off_line(path: Result<&PathFit, &String>) -> (Finding, Finding) {
    let fit = match path {
        Ok(fit) => fit,
        Err(why) => return (Err(why.clone()), Err(why.clone())),
    };
    let s = fit.over_m;
    let straight = s * fit.heading_rad.value.sin();
    let curved = arc_offset_m(fit.heading_rad.value, fit.curvature_per_m.value, s) - straight;
    (
        Ok(Estimate {
            value: curved,
            sd: fit.curvature_per_m.sd * s * s / 2.0,
        }),
        Ok(Estimate {
            value: straight,
            sd: fit.heading_rad.sd * s,
        }),
    )
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
        // R = L / tan δ: R. Rajamani, Vehicle Dynamics and Control, chapter 2; values for δ = 1 degree.
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
