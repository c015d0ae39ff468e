//! The driven wheel's angle and rate from its mark, seen on the plane of the wheel's face.

use super::body::{Body, BodyState};
use super::turns::{AngleLook, Pace, Turns, count_turns};
use super::{CarGeometry, jerk_model};
use crate::camera::{Circle, View, fit_circle};
use crate::smoothing::{Belief, Look, Step, filter, maximise, smooth};
use crate::track::{Place, Places};
use nalgebra::{Matrix3, SMatrix, SVector, Vector2, Vector3};
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
    /// The angle that the mark's own look gives, unsmoothed, and its claimed variance (rad, rad²).
    pub look: Option<(f64, f64)>,
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
    /// Spectral density of the angular jerk, rad²/s⁵.
    pub jerk_density: f64,
    /// Factor between the variances seen and those claimed.
    pub variance_factor: f64,
    /// Log-likelihood of the looks under the last pass.
    pub log_likelihood: f64,
}

/// Fewer looks than this show no turning.
const MIN_LOOKS: usize = 8;
/// The mark must cover this much of its circle before the circle gives the hub.
const COVERED_FOR_HUB: f64 = 1.2 * PI;
/// A circle whose centre is farther from the sheet's hub than this share of the wheel's radius is not
/// the wheel mark's.
const MAX_OFF_HUB: f64 = 0.3;
/// A mark farther from its circle than this share of the radius is something else.
const OFF_CIRCLE_SHARE: f64 = 0.35;
/// Part of a place's variance that no fit knows of, px²: a mark is lit and blurred differently as it
/// turns.
const EXTRA_VAR_PX2: f64 = 0.0025;
/// A spring that lets go on a slick floor gives a wheel up to about this, rad/s². Common practice.
const START_ACCELERATION: f64 = 300.0;

/// Mark relative to the hub: along the heading and up, m.
#[derive(Debug, Clone, Copy)]
struct Relative {
    at: Vector2<f64>,
    per_px: [Vector2<f64>; 2],
    var_px2: Vector2<f64>,
    time_s: f64,
}

/// Smooths the angle of a wheel, or of an axle, from the `places` of its mark; `times_s` are the frames'
/// times. `tuning` is (angular jerk density, variance factor) where known.
///
/// # Errors
/// The reason, for the user, where the wheel's turning cannot be seen.
pub fn smooth_wheel(
    places: &Places,
    times_s: &[f64],
    view: &View,
    car: &CarGeometry,
    body: &Body,
    released_s: Option<f64>,
    tuning: Option<(f64, f64)>,
) -> Result<Wheel, String> {
    let relative: Vec<Option<Relative>> = (0..places.len())
        .map(|i| {
            relative(
                places[i].as_ref()?,
                body.states[i].as_ref()?,
                times_s[i],
                view,
                car,
            )
        })
        .collect();
    if relative.iter().flatten().count() < MIN_LOOKS {
        return Err(format!(
            "the wheel mark was seen beside the sticker in {} frames; at least {MIN_LOOKS} are needed",
            relative.iter().flatten().count()
        ));
    }
    let circle = circle_of(&relative, car)?;
    let off_hub = circle.centre.norm();
    if view.lateral.is_ok()
        && car.sticker_ahead_m != 0.0
        && off_hub > MAX_OFF_HUB * car.hub_height_m
    {
        return Err(format!(
            "what has the wheel mark's colour circles a point {:.0} mm from the hub that the run sheet \
             gives; check `ahead_mm` and the wheel's diameter, and that nothing else near the car has \
             that colour",
            1000.0 * off_hub
        ));
    }
    let looks: Vec<Option<AngleLook>> = relative
        .iter()
        .map(|r| angle_of(r.as_ref()?, &circle))
        .collect();
    let turns = count_turns(&looks, &paces(body, car), released_s);
    let (angles, ambiguous) = (&turns.angles, &turns.ambiguous);
    settled_count(&turns, looks.iter().flatten().count())?;
    if angles.iter().flatten().count() < MIN_LOOKS {
        return Err(
            "what has the wheel mark's colour does not keep to a circle about the hub".into(),
        );
    }
    let chain = Chain::new(angles, body, released_s);
    let (jerk_density, variance_factor) = tuning.unwrap_or_else(|| chain.tune());
    let (states, log_likelihood) = chain.states(jerk_density, variance_factor, ambiguous, body);
    Ok(Wheel {
        states,
        mark_radius_m: circle.radius,
        hub_offset_m: [circle.centre.x, circle.centre.y],
        residual_m: circle.residual,
        jerk_density,
        variance_factor,
        log_likelihood,
    })
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
    let travel = state.mean[3] * (time_s - state.time_s);
    let (sin, cos) = state.mean[2].sin_cos();
    let hub = car.hub(
        state.mean[0] + travel * cos,
        state.mean[1] + travel * sin,
        state.mean[2],
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

/// The mark's circle: fitted where it turned enough, else about the hub that the sheet gives.
fn circle_of(relative: &[Option<Relative>], car: &CarGeometry) -> Result<Circle, String> {
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
    let fitted = circle.filter(|c| c.covered_rad > COVERED_FOR_HUB && points.len() >= MIN_LOOKS);
    if let Some(circle) = fitted {
        return Ok(circle);
    }
    let radius = car.mark_radius_m.ok_or(
        "the wheel turned too little for its hub to be found, and the run sheet does not give the \
         mark's radius",
    )?;
    Ok(Circle {
        centre: Vector2::zeros(),
        radius,
        residual: 0.0,
        covered_rad: 0.0,
    })
}

/// The angle, growing forwards; `None` off the circle.
fn angle_of(relative: &Relative, circle: &Circle) -> Option<AngleLook> {
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
    Some(AngleLook {
        time_s: relative.time_s,
        angle_rad: -off.y.atan2(off.x),
        variance,
    })
}

/// Frames past the last look for which the wheel is still known well enough to speak of slip.
const FORECAST_FRAMES: usize = 2;
/// Where the string runs out the wheel's pull stops at once: its acceleration may jump by about this over
/// three steps about the car's highest speed, rad/s² each.
const END_JUMP: f64 = 15.0;

type Angles = Vec<Option<(f64, f64, f64)>>;

/// Where the count is sure for less than this share of the looks, it is not stated.
const MIN_SURE_SHARE: f64 = 0.8;
/// More than this share of looks with over half a turn since the one before: the count rests on the
/// steadiness of the motion alone, and is not stated.
const MAX_AMBIGUOUS_SHARE: f64 = 0.2;
/// Ordinary frame rates of phones, frames a second.
const FRAME_RATES: [f64; 4] = [60.0, 120.0, 240.0, 480.0];

/// # Errors
/// The reason, for the user, where another count of turns is nearly as good.
fn settled_count(turns: &Turns, looks: usize) -> Result<(), String> {
    let sure = turns.angles.iter().flatten().count();
    let beyond = turns.ambiguous.iter().filter(|a| **a).count();
    if sure as f64 >= MIN_SURE_SHARE * looks as f64
        && beyond as f64 <= MAX_AMBIGUOUS_SHARE * looks as f64
    {
        return Ok(());
    }
    let needed = turns.top_rate / PI;
    let advice = FRAME_RATES.iter().find(|fps| **fps > needed).map_or_else(
        || "use a larger wheel or a slower start".to_owned(),
        |fps| format!("film at {fps:.0} frames a second or more"),
    );
    Err(if beyond > 0 {
        format!(
            "the wheel turns by more than half a turn from one look at its mark to the next in {beyond} \
             of {looks} looks, so its turns cannot be counted surely; {advice}"
        )
    } else {
        format!(
            "only {sure} of {looks} looks at the wheel mark keep to a circle and to a steady turn; film \
             in better light or nearer, with nothing else of its colour near the car"
        )
    })
}

/// The car coasts when it is this long past its highest speed, s.
const AFTER_PEAK_S: f64 = 0.06;
/// A wheel's size, and slip while it coasts, may differ from what is taken by this share.
const PACE_REL_SD: f64 = 0.12;

/// When the car is fastest; `None` where that is at an end of the view.
fn fastest_s(body: &Body) -> Option<f64> {
    let states: Vec<&BodyState> = body.states.iter().flatten().collect();
    let (at, state) = states
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.mean[3].total_cmp(&b.1.mean[3]))?;
    (at > 3 && at + 4 < states.len()).then_some(state.time_s)
}

/// What the car's pace says of the wheel in each frame.
fn paces(body: &Body, car: &CarGeometry) -> Vec<Option<Pace>> {
    let speed = |state: &BodyState| state.mean[3];
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

/// The looks in order of time, with what the smoother needs.
struct Chain {
    frames: Vec<usize>,
    times: Vec<f64>,
    looks: Vec<Option<(f64, f64)>>,
    released_s: Option<f64>,
    /// When the car is fastest, where that is not at an end of the view.
    pull_ends_s: Option<f64>,
}

impl Chain {
    fn new(angles: &Angles, body: &Body, released_s: Option<f64>) -> Self {
        let first = angles.iter().position(Option::is_some).unwrap_or(0);
        // While the car is in view the wheel turns on, whether its mark is seen or not.
        let last = body.states.iter().rposition(Option::is_some).unwrap_or(0);
        let mut chain = Self {
            frames: Vec::new(),
            times: Vec::new(),
            looks: Vec::new(),
            released_s,
            pull_ends_s: fastest_s(body),
        };
        for (index, angle) in angles.iter().enumerate().take(last + 1).skip(first) {
            let Some(time) = angle.map(|a| a.0).or(body.states[index].map(|s| s.time_s)) else {
                continue;
            };
            chain.frames.push(index);
            chain.times.push(time);
            chain
                .looks
                .push(angle.map(|(_, value, variance)| (value, variance)));
        }
        chain
    }

    fn prior(&self) -> Belief<3> {
        let first = self
            .looks
            .iter()
            .flatten()
            .next()
            .map_or(0.0, |look| look.0);
        let (rate, change) = if self
            .released_s
            .is_some_and(|t| self.times.first().is_some_and(|f| *f < t))
        {
            (0.0, 0.0)
        } else {
            (60.0 * 60.0, START_ACCELERATION * START_ACCELERATION)
        };
        Belief {
            mean: Vector3::new(first, 0.0, 0.0),
            covariance: Matrix3::from_diagonal(&Vector3::new(1.0, rate, change)),
        }
    }

    fn steps(&self, jerk: f64) -> Vec<Step<3>> {
        self.times
            .windows(2)
            .map(|pair| match self.released_s {
                Some(t0) if pair[1] <= t0 => Step {
                    transition: Matrix3::identity(),
                    offset: Vector3::zeros(),
                    noise: Matrix3::zeros(),
                },
                Some(t0) if pair[0] < t0 => turning(pair[1] - t0, jerk, START_ACCELERATION),
                _ => {
                    let dt = pair[1] - pair[0];
                    let about = |end: f64| pair[0] < end + dt && end < pair[1] + dt;
                    let ends = self.pull_ends_s.is_some_and(about);
                    turning(dt, jerk, if ends { END_JUMP } else { 0.0 })
                }
            })
            .collect()
    }

    fn measured(&self, factor: f64, weights: &[f64]) -> Vec<Option<Look<3, 1>>> {
        self.looks
            .iter()
            .zip(weights)
            .map(|(look, weight)| {
                look.map(|(value, variance)| Look {
                    design: SMatrix::<f64, 1, 3>::new(1.0, 0.0, 0.0),
                    value: SVector::<f64, 1>::new(value),
                    noise: SMatrix::<f64, 1, 1>::new(variance * factor * weight),
                })
            })
            .collect()
    }

    fn tune(&self) -> (f64, f64) {
        let (mut jerk, mut factor) = (1e5, 4.0);
        let ones = vec![1.0; self.looks.len()];
        for _ in 0..3 {
            let steps = self.steps(jerk);
            factor = maximise(0.1_f64.ln(), 400.0_f64.ln(), 14, |log| {
                filter(self.prior(), &steps, &self.measured(log.exp(), &ones)).log_likelihood
            })
            .exp();
            let looks = self.measured(factor, &ones);
            jerk = maximise(1e2_f64.ln(), 1e9_f64.ln(), 16, |log| {
                filter(self.prior(), &self.steps(log.exp()), &looks).log_likelihood
            })
            .exp();
        }
        (jerk, factor)
    }

    fn states(
        &self,
        jerk: f64,
        factor: f64,
        ambiguous: &[bool],
        body: &Body,
    ) -> (Vec<Option<WheelState>>, f64) {
        let steps = self.steps(jerk);
        let mut log_likelihood = 0.0;
        let mut weights = vec![1.0; self.looks.len()];
        let mut beliefs = Vec::new();
        for _ in 0..2 {
            let filtered = filter(self.prior(), &steps, &self.measured(factor, &weights));
            log_likelihood = filtered.log_likelihood;
            beliefs = smooth(&filtered, &steps);
            for ((weight, look), belief) in weights.iter_mut().zip(&self.looks).zip(&beliefs) {
                let Some((value, variance)) = look else {
                    continue;
                };
                let off = value - belief.mean[0];
                *weight = (off * off / (variance * factor * 16.0)).max(1.0);
            }
        }
        let inflation = self.inflation(&beliefs);
        let last_look = self.looks.iter().rposition(Option::is_some).unwrap_or(0);
        let mut out = vec![None; body.states.len()];
        for (index, belief) in beliefs.iter().enumerate() {
            let frame = self.frames[index];
            let Some(at) = body.states[frame].map(|s| s.time_s) else {
                continue;
            };
            let (forward, _) = jerk_model(at - self.times[index]);
            let shift = Matrix3::from_fn(|i, j| forward[i][j]);
            out[frame] = Some(WheelState {
                mean: shift * belief.mean,
                covariance: shift * belief.covariance * shift.transpose() * inflation,
                seen: self.looks[index].is_some(),
                ambiguous: ambiguous[frame],
                forecast: index > last_look + FORECAST_FRAMES,
                look: self.looks[index]
                    .map(|(v, var)| (v + belief.mean[1] * (at - self.times[index]), var)),
            });
        }
        (out, log_likelihood)
    }

    /// How much errors that repeat from frame to frame widen what independent ones would give.
    fn inflation(&self, beliefs: &[Belief<3>]) -> f64 {
        let residuals: Vec<Option<f64>> = self
            .looks
            .iter()
            .zip(beliefs)
            .map(|(look, belief)| look.map(|(value, _)| value - belief.mean[0]))
            .collect();
        let (mut products, mut squares) = (0.0, 0.0);
        for pair in residuals.windows(2) {
            if let (Some(a), Some(b)) = (pair[0], pair[1]) {
                products += a * b;
                squares += f64::midpoint(a * a, b * b);
            }
        }
        let correlation = if squares > 0.0 {
            (products / squares).clamp(0.0, 0.8)
        } else {
            0.0
        };
        (1.0 + correlation) / (1.0 - correlation)
    }
}

fn turning(dt: f64, jerk: f64, jump: f64) -> Step<3> {
    let (transition, unit) = jerk_model(dt);
    let transition = Matrix3::from_fn(|i, j| transition[i][j]);
    let column = transition.column(2) * jump;
    Step {
        transition,
        offset: Vector3::zeros(),
        noise: Matrix3::from_fn(|i, j| unit[i][j]) * jerk + column * column.transpose(),
    }
}
