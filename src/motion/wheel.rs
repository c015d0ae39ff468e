//! The driven wheel's angle and rate from its mark, seen on the plane of the wheel's face.

use super::body::{Body, BodyState};
use super::change_points::Settled;
use super::spin::Chain;
use super::turns::{AngleObservation, Counted, Pace, Turns, count_turns};
use super::uneven::Uneven;
use super::{CarGeometry, MotionReason};
use crate::camera::{Circle, Projection, View, fit_circle, fit_drifting_circle};
use crate::track::{Place, Places};
use nalgebra::{Matrix3, Point3, Vector2, Vector3};
use rand::Rng;
use std::f64::consts::PI;

/// The wheel at one frame, at the time of the sticker's row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WheelState {
    /// Angle (rad, forward positive), rate (rad/s), change of rate (rad/s²).
    pub mean: Vector3<f64>,
    /// Covariance of these, inflated for errors that repeat from frame to frame.
    pub covariance: Matrix3<f64>,
    /// Whether the mark was seen in this frame.
    pub seen: bool,
    /// Whether the wheel turned by more than half a turn since the frame before, so that the count of
    /// turns rests on the steadiness of the motion alone.
    pub ambiguous: bool,
    /// Whether the mark was last seen too long ago, and is not seen again: the state is a forecast.
    pub forecast: bool,
    /// The angle that the mark's own observation gives, unsmoothed, and its claimed variance (rad, rad²).
    pub observation: Option<(f64, f64)>,
}

impl WheelState {
    /// Angle of the wheel, forward positive.
    pub fn angle_rad(&self) -> f64 {
        self.mean[0]
    }

    /// Variance of the angle, rad².
    pub fn angle_var_rad2(&self) -> f64 {
        self.covariance[(0, 0)]
    }

    /// Rate of the wheel.
    pub fn rate_rad_per_s(&self) -> f64 {
        self.mean[1]
    }

    /// Standard uncertainty of the rate.
    pub fn rate_sd_rad_per_s(&self) -> f64 {
        self.covariance[(1, 1)].max(0.0).sqrt()
    }
}

/// What the smoother of a wheel settled on.
#[derive(Debug, Clone, PartialEq)]
pub struct WheelTuning {
    /// Noises and change points; the density of the angular jerk is in rad²/s⁵.
    pub settled: Settled,
    /// What the mark's angle adds to the wheel's once and twice a turn.
    pub uneven: Uneven,
    /// How its turns were counted; `None`: they are counted afresh.
    pub counted: Option<Counted>,
}

impl WheelTuning {
    /// The same where frames are counted from a later one.
    pub(super) fn starting_at(&self, from: usize) -> Self {
        Self {
            counted: self
                .counted
                .as_ref()
                .map(|counted| counted.starting_at(from)),
            ..self.clone()
        }
    }

    /// The same with its change points drawn within their uncertainties.
    #[must_use]
    pub fn drawn(&self, random: &mut impl Rng) -> Self {
        Self {
            settled: self.settled.drawn(random),
            ..self.clone()
        }
    }
}

/// The driven wheel over the clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Wheel {
    /// An entry a frame.
    pub states: Vec<Option<WheelState>>,
    /// Distance of the mark from the hub, fitted, m.
    pub mark_radius_m: f64,
    /// Where the hub was found, ahead of and above where the sheet puts it, m.
    pub hub_offset_m: [f64; 2],
    /// Root mean square distance of the mark from its circle, m.
    pub residual_m: f64,
    /// What the smoother settled on.
    pub tuning: WheelTuning,
    /// Log-likelihood of the observations under the last pass.
    pub log_likelihood: f64,
}

impl Wheel {
    /// How far the mark is off its circle, root mean square, as a share of the circle's radius.
    pub fn off_circle(&self) -> f64 {
        self.residual_m / self.mark_radius_m
    }

    /// Whether what was followed circles too badly to be the wheel's mark beside this car.
    pub(super) fn off_its_circle(&self) -> bool {
        self.off_circle() > OFF_CIRCLE
    }
}

/// Fewer observations than this show no turning.
const MIN_OBSERVATIONS: usize = 8;
/// The mark must cover this much of its circle before the circle gives the hub.
const COVERED_FOR_HUB: f64 = 1.2 * PI;
/// A circle whose centre is farther from the sheet's hub than this share of the wheel's radius is not
/// the wheel mark's.
const MAX_OFF_HUB: f64 = 0.3;
/// A mark farther from its circle than this share of the radius is something else.
const OFF_CIRCLE_SHARE: f64 = 0.35;
/// A mark that is farther from its circle than this share of the circle's radius, as a root mean square, is another
/// thing, or the car points another way than was found: over 126 drawn clips it is 0.115 at most, 0.016 in the middle.
const OFF_CIRCLE: f64 = 0.15;
/// Part of a place's variance that no fit knows of, px²: a mark is lit and blurred differently as it
/// turns.
const EXTRA_VAR_PX2: f64 = 0.0025;
/// Mark relative to the hub: along the heading and up, m.
#[derive(Debug, Clone, Copy)]
struct Relative {
    at: Vector2<f64>,
    per_px: [Vector2<f64>; 2],
    var_px2: Vector2<f64>,
    time_s: f64,
}

/// A mark that goes round with a wheel.
#[derive(Debug, Clone, Copy)]
pub struct Circling<'a> {
    /// Where it was seen, an entry a frame.
    pub places: &'a Places,
    /// Distance from the hub, if the sheet gives it, m.
    pub radius_m: Option<f64>,
}

/// Smooths the angle of a wheel, or of an axle, from its marks; `times_s` are the frames' times. The
/// angle is that of the first mark; the others' angles against it are taken from the clip. `tuning` is
/// what the smoother settled on, where that is known.
///
/// # Errors
/// The reason where the wheel's turning cannot be seen.
pub fn smooth_wheel(
    marks: &[Circling<'_>],
    times_s: &[f64],
    view: &View,
    car: &CarGeometry,
    body: &Body,
    released_s: Option<f64>,
    tuning: Option<&WheelTuning>,
) -> Result<Wheel, MotionReason> {
    let mut seen = marks
        .iter()
        .map(|mark| looks_at(mark, times_s, view, car, body));
    let (circle, first) = seen.next().unwrap_or(Err(MotionReason::NoWheelMark))?;
    let mut observations = first;
    // A further mark that cannot be followed takes nothing away from the first.
    for (_, further) in seen.flatten() {
        observations.extend(beside(&observations, &further));
    }
    observations.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    // Sizes drawn a little differently do not change how often a wheel turned.
    let known = tuning.and_then(|known| known.counted.as_ref());
    let (counted, angles) = if let Some(known) = known {
        (known.clone(), known.angles(&observations))
    } else {
        let turns = count_turns(&observations, &paces(body, car), released_s);
        settled_count(&turns, observations.len())?;
        (turns.counted(&observations), turns.angles)
    };
    let without = |uneven: &Uneven| {
        let radius_m = car.hub_height_m;
        Chain::new(&observations, &angles, body, released_s, radius_m, uneven)
    };
    let (settled, uneven) = match tuning {
        Some(known) => (known.settled.clone(), known.uneven),
        None => settled_on(&without, body, marks.len()),
    };
    let (states, log_likelihood) = without(&uneven).states(&settled, &counted.ambiguous, body);
    let tuning = WheelTuning {
        settled,
        uneven,
        counted: Some(counted),
    };
    Ok(Wheel {
        states,
        mark_radius_m: circle.radius,
        hub_offset_m: [circle.centre.x, circle.centre.y],
        residual_m: circle.residual,
        tuning,
        log_likelihood,
    })
}

/// What the smoother settles on for observations `without` an unevenness, of so many marks.
fn settled_on(without: &dyn Fn(&Uneven) -> Chain, body: &Body, marks: usize) -> (Settled, Uneven) {
    let seen = without(&Uneven::default());
    let settled = seen.settle(body);
    // Marks on several sides of the hub are uneven each in its own way.
    if marks > 1 {
        return (settled, Uneven::default());
    }
    let rough = Uneven::found(&seen, &settled, &Uneven::default());
    let steady = without(&rough);
    let settled = steady.settle(body);
    let uneven = Uneven::found(&steady, &settled, &rough);
    (settled, uneven)
}

/// A mark's circle and the observations that keep to it.
fn looks_at(
    mark: &Circling<'_>,
    times_s: &[f64],
    view: &View,
    car: &CarGeometry,
    body: &Body,
) -> Result<(Circle, Vec<AngleObservation>), MotionReason> {
    let relative: Vec<Option<Relative>> = (0..mark.places.len())
        .map(|i| {
            let (place, state) = (mark.places[i].as_ref()?, body.states[i].as_ref()?);
            relative(place, state, times_s[i], view, car)
        })
        .collect();
    let count = relative.iter().flatten().count();
    if count < MIN_OBSERVATIONS {
        return Err(MotionReason::FewWheelFrames {
            seen: count,
            needed: MIN_OBSERVATIONS,
        });
    }
    let relative = match view.projection {
        Projection::Flat(_) => without_parallax(relative, body),
        Projection::Pinhole(_) => relative,
    };
    let circle = circle_of(&relative, mark.radius_m)?;
    let off_hub = circle.centre.norm();
    if view.lateral.is_ok()
        && car.sticker_ahead_m != 0.0
        && off_hub > MAX_OFF_HUB * car.hub_height_m
    {
        return Err(MotionReason::OffHub { by_m: off_hub });
    }
    let observations: Vec<AngleObservation> = relative
        .iter()
        .enumerate()
        .filter_map(|(frame, r)| angle_of(frame, r.as_ref()?, &circle))
        .collect();
    if observations.len() < MIN_OBSERVATIONS {
        return Err(MotionReason::NoCircle);
    }
    Ok((circle, observations))
}

/// Frames that show both marks, needed for the angle between them.
const MIN_COMMON: usize = 5;

/// The looks at a further mark, turned to where the first mark would be seen. The angle between the two
/// is the mean over the frames that show both: rows that see one earlier at one time see it later half a
/// turn on.
fn beside(first: &[AngleObservation], further: &[AngleObservation]) -> Vec<AngleObservation> {
    let (mut sin, mut cos, mut common) = (0.0, 0.0, 0);
    for observation in further {
        if let Some(own) = first.iter().find(|own| own.frame == observation.frame) {
            let apart = observation.angle_rad - own.angle_rad;
            sin += apart.sin();
            cos += apart.cos();
            common += 1;
        }
    }
    if common < MIN_COMMON {
        return Vec::new();
    }
    let apart = sin.atan2(cos);
    let turned = |observation: &AngleObservation| AngleObservation {
        angle_rad: observation.angle_rad - apart,
        ..*observation
    };
    further.iter().map(turned).collect()
}

fn relative(
    place: &Place,
    state: &BodyState,
    frame_s: f64,
    view: &View,
    car: &CarGeometry,
) -> Option<Relative> {
    let time_s = frame_s + place.row_frac * car.readout_s;
    // The mark's row is a little earlier or later than the sticker's: the car is moved along.
    let travel = state.speed_m_per_s() * (time_s - state.time_s);
    let (sin, cos) = state.heading_rad().sin_cos();
    let hub = car.hub(
        state.x_m() + travel * cos,
        state.y_m() + travel * sin,
        state.heading_rad(),
    );
    let aside = state.aside_m;
    let hub = Point3::new(
        hub.x - aside * sin,
        hub.y + aside * cos,
        hub.z + state.rise_m,
    );
    let seen_by = view.at(time_s)?;
    let normal = Vector3::new(-sin, cos, 0.0);
    let forward = Vector3::new(cos, sin, 0.0);
    let at = |du: f64, dv: f64| {
        let pixel = Vector2::new(place.u_px + du, place.v_px + dv);
        let point = seen_by.on_plane(pixel, &hub, &normal)?;
        let off = point - hub;
        Some(Vector2::new(off.dot(&forward), off.z))
    };
    let here = at(0.0, 0.0)?;
    Some(Relative {
        at: here,
        per_px: [at(1.0, 0.0)? - here, at(0.0, 1.0)? - here],
        var_px2: Vector2::new(
            place.var_u_px2 + EXTRA_VAR_PX2,
            place.var_v_px2 + EXTRA_VAR_PX2,
        ),
        time_s,
    })
}

/// In a view with a plain scale the hub drifts against the sticker as the car goes by, and a circle may be
/// flattened: both are taken out where the mark itself shows them.
fn without_parallax(relative: Vec<Option<Relative>>, body: &Body) -> Vec<Option<Relative>> {
    let way = |frame: usize| body.states[frame].as_ref().map_or(0.0, BodyState::x_m);
    let points: Vec<(Vector2<f64>, f64)> = relative
        .iter()
        .enumerate()
        .filter_map(|(frame, r)| Some((r.as_ref()?.at, way(frame))))
        .collect();
    let Some(circle) = fit_drifting_circle(&points).filter(|c| c.covered_rad > COVERED_FOR_HUB)
    else {
        return relative;
    };
    relative
        .into_iter()
        .enumerate()
        .map(|(frame, r)| {
            let r = r?;
            Some(Relative {
                at: circle.round(r.at, way(frame)),
                ..r
            })
        })
        .collect()
}

/// The mark's circle: fitted where it turned enough, else about the hub that the sheet gives.
fn circle_of(relative: &[Option<Relative>], radius_m: Option<f64>) -> Result<Circle, MotionReason> {
    let mut points: Vec<Vector2<f64>> = relative.iter().flatten().map(|r| r.at).collect();
    let mut circle = None;
    for _ in 0..3 {
        let Some(fitted) = fit_circle(&points) else {
            break;
        };
        let bound = (2.5 * fitted.residual).max(0.15 * fitted.radius);
        let before = points.len();
        points.retain(|p| ((p - fitted.centre).norm() - fitted.radius).abs() < bound);
        circle = Some(fitted);
        if points.len() == before {
            break;
        }
    }
    let fitted =
        circle.filter(|c| c.covered_rad > COVERED_FOR_HUB && points.len() >= MIN_OBSERVATIONS);
    if let Some(circle) = fitted {
        return Ok(circle);
    }
    let radius = radius_m.ok_or(MotionReason::TurnedTooLittle)?;
    Ok(Circle {
        centre: Vector2::zeros(),
        radius,
        residual: 0.0,
        covered_rad: 0.0,
    })
}

/// The angle, growing forwards; `None` off the circle.
fn angle_of(frame: usize, relative: &Relative, circle: &Circle) -> Option<AngleObservation> {
    let off = relative.at - circle.centre;
    let distance = off.norm();
    if (distance - circle.radius).abs() > OFF_CIRCLE_SHARE * circle.radius {
        return None;
    }
    // Rolling forward takes the mark from up to ahead: clockwise in (ahead, up).
    let across = Vector2::new(-off.y, off.x) / (distance * distance);
    let variance: f64 = relative
        .per_px
        .iter()
        .zip(relative.var_px2.iter())
        .map(|(per_px, var)| across.dot(per_px).powi(2) * var)
        .sum();
    Some(AngleObservation {
        frame,
        time_s: relative.time_s,
        angle_rad: -off.y.atan2(off.x),
        variance,
    })
}

/// Where the count is sure for less than this share of the observations, it is not stated ...
const MIN_SURE_SHARE: f64 = 0.5;
/// ... nor where of those observations less than this share is of the mark.
const MIN_KEPT_SHARE: f64 = 0.8;
/// More than this share of observations with over half a turn since the one before: the count rests on the
/// steadiness of the motion alone, and is not stated.
const MAX_AMBIGUOUS_SHARE: f64 = 0.2;
/// Ordinary frame rates of phones, frames a second.
const FRAME_RATES: [f64; 4] = [60.0, 120.0, 240.0, 480.0];

/// # Errors
/// The reason where another count of turns is nearly as good.
fn settled_count(turns: &Turns, observations: usize) -> Result<(), MotionReason> {
    let kept = turns.angles.iter().flatten().count();
    let beyond = turns.ambiguous.iter().filter(|a| **a).count();
    let (sure, all) = (turns.sure_observations as f64, observations as f64);
    if (kept as f64) < MIN_KEPT_SHARE * sure {
        return Err(MotionReason::FewKept {
            kept,
            of: turns.sure_observations,
        });
    }
    if beyond as f64 > MAX_AMBIGUOUS_SHARE * all {
        let needed_per_s = turns.top_rate / PI;
        return Err(MotionReason::HalfTurns {
            beyond,
            of: observations,
            enough_per_s: FRAME_RATES.into_iter().find(|fps| *fps > needed_per_s),
        });
    }
    if sure < MIN_SURE_SHARE * all {
        return Err(MotionReason::CountUnsure {
            sure: turns.sure_observations,
            of: observations,
        });
    }
    Ok(())
}

/// The car coasts when it is this long past its highest speed, s.
const AFTER_PEAK_S: f64 = 0.06;
/// A wheel's size, and slip while it coasts, may differ from what is taken by this share.
const PACE_REL_SD: f64 = 0.12;

/// What the car's pace says of the wheel in each frame.
fn paces(body: &Body, car: &CarGeometry) -> Vec<Option<Pace>> {
    let speed = |state: &BodyState| state.speed_m_per_s();
    let fastest = body
        .states
        .iter()
        .flatten()
        .max_by(|a, b| speed(a).total_cmp(&speed(b)));
    let coasts_from_s = fastest.map_or(f64::INFINITY, |state| state.time_s + AFTER_PEAK_S);
    body.states
        .iter()
        .map(|state| {
            state.as_ref().map(|state| Pace {
                rolling_rate: speed(state) / car.hub_height_m,
                rel_sd: PACE_REL_SD,
                coasting: state.time_s > coasts_from_s,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests;
