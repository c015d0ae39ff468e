//! The car on the floor: place, heading, speed, acceleration and curvature from the sticker's pixels.
//!
//! State: reference point x, y (m), heading (rad), speed (m/s), acceleration (m/s²), path curvature
//! (1/m). A car goes where it points, so heading and curvature are seen even at rest, from what follows.
//! The model is curved; it is linearised about the trajectory of the pass before and smoothed again.

use super::refine::SwayCourse;
use super::{CarGeometry, jerk_model};
use crate::camera::{Projection, View};
use crate::smoothing::{Belief, Look, Step, filter, maximise, smooth};
use crate::track::{Place, Track};
use nalgebra::{Matrix2, Matrix2x6, Matrix6, Point3, SMatrix, Vector2, Vector6};

/// The car at one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BodyState {
    /// Time of the sticker's row, s since the first row of the first frame.
    pub time_s: f64,
    /// x, y, heading, speed, acceleration, curvature.
    pub mean: Vector6<f64>,
    /// Covariance of these, inflated for errors that repeat from frame to frame.
    pub covariance: Matrix6<f64>,
    /// How far the car stands above where it stood at rest, m.
    pub rise_m: f64,
    /// Whether the sticker was seen in this frame.
    pub seen: bool,
    /// Where the sticker's own look puts it, unsmoothed; `None` where it was not seen.
    pub look: Option<FloorLook>,
}

/// The sticker's centre on the floor's axes, from one frame alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FloorLook {
    /// x and y of the sticker (not of the reference point), m.
    pub at_m: Vector2<f64>,
    /// How far a pixel to the right and a pixel down go on the floor, columns, m.
    pub per_px: Matrix2<f64>,
    /// Variances of the pixels as the disc fit claims them, px².
    pub var_px2: Vector2<f64>,
}

impl FloorLook {
    /// Variance (m²) along a direction of the floor, and the size of a pixel there (m).
    pub fn along(&self, direction: Vector2<f64>) -> (f64, f64) {
        let seen = self.per_px.transpose() * direction;
        (seen.component_mul(&seen).dot(&self.var_px2), seen.norm())
    }
}

/// The car over the clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// An entry a frame.
    pub states: Vec<Option<BodyState>>,
    /// Spectral density of the jerk that explains the clip best, m²/s⁵.
    pub jerk_density: f64,
    /// Factor between the pixel variances seen and those that the disc fits claim.
    pub variance_factor: f64,
    /// Autocorrelation of the residuals from one frame to the next.
    pub residual_correlation: f64,
    /// Root mean square residual, px.
    pub residual_px: f64,
    /// Log-likelihood of the looks under the last pass.
    pub log_likelihood: f64,
}

const PASSES: usize = 3;
/// Part of a place's variance that no fit knows of, px².
const EXTRA_VAR_PX2: f64 = 0.0004;
/// Residuals beyond this many spreads are taken for partly hidden or mistaken marks.
const OUTLIER: f64 = 4.0;
/// A spring that lets go gives up to about this acceleration, m/s². Common practice, no source.
const START_ACCELERATION: f64 = 8.0;
/// Where the string runs out the pull stops at once: the acceleration may jump by about this over three
/// steps about the highest speed, m/s² each. Without it the smoother rounds the peak off.
const END_JUMP: f64 = 0.7;
/// How much the curvature may wander over a metre, 1/m.
const CURVATURE_WANDER: f64 = 0.04;
/// Prior spread of heading (rad) and curvature (1/m): a car set down by hand, an axle askew.
const HEADING_SD: f64 = 0.25;
const CURVATURE_SD: f64 = 0.4;

pub(super) struct Problem<'a> {
    /// How points are seen at each step; `None` while a moving camera is lost.
    views: Vec<Option<Projection>>,
    car: &'a CarGeometry,
    times: Vec<f64>,
    places: Vec<Option<Place>>,
    released_s: Option<f64>,
    lateral: bool,
    /// Sway of the heading and rise of the sticker, an entry a place.
    sway_rad: Vec<f64>,
    rise_m: Vec<f64>,
    /// Step at which the pull ends, once a first pass has shown the highest speed.
    pull_ends: Option<usize>,
}

/// Smooths the sticker's path. `tuning` is (jerk density, variance factor) where already known; `sway`
/// is what a wobbling wheel adds to the heading, where such a sway was found.
///
/// # Errors
/// The reason, for the user, where the sticker was not seen or its rays do not meet its height.
pub fn smooth_body(
    track: &Track,
    view: &View,
    car: &CarGeometry,
    released_s: Option<f64>,
    tuning: Option<(f64, f64)>,
    sway: Option<&SwayCourse>,
) -> Result<Body, String> {
    let first = track
        .sticker
        .iter()
        .position(Option::is_some)
        .ok_or_else(|| "the sticker was not seen".to_owned())?;
    let last = track.in_view.1.min(track.sticker.len() - 1).max(first);
    let mut problem = Problem::new(track, view, car, released_s, (first, last));
    if let Some(sway) = sway {
        problem.take(sway, first);
    }
    let mut path = problem.start()?;
    let (mut jerk, mut factor) = tuning.unwrap_or((50.0, 4.0));
    let mut beliefs = Vec::new();
    let mut log_likelihood = 0.0;
    for pass in 0..PASSES {
        let weights = if pass == 0 {
            vec![1.0; path.len()]
        } else {
            problem.outliers(&path, factor)
        };
        if pass > 0 {
            problem.pull_ends = highest_speed(&path);
        }
        if pass == 1 && tuning.is_none() {
            (jerk, factor) = problem.tune(&path, &weights, jerk, factor);
        }
        let steps = problem.steps(&path, jerk);
        let looks = problem.looks(&path, factor, &weights);
        let filtered = filter(problem.prior(), &steps, &looks);
        log_likelihood = filtered.log_likelihood;
        beliefs = smooth(&filtered, &steps);
        path = beliefs.iter().map(|b| b.mean).collect();
    }
    let body = problem.finish(&beliefs, (first, track.times_s.len()), jerk, factor);
    Ok(Body {
        log_likelihood,
        ..body
    })
}

/// When each frame's row with the sticker was taken; rows between are interpolated by the last seen.
fn row_times(track: &Track, first: usize, last: usize, readout_s: f64) -> Vec<f64> {
    let mut row = 0.5;
    (first..=last)
        .map(|i| {
            row = track.sticker[i].map_or(row, |p| p.row_frac);
            track.times_s[i] + row * readout_s
        })
        .collect()
}

impl<'a> Problem<'a> {
    pub(super) fn new(
        track: &Track,
        view: &View,
        car: &'a CarGeometry,
        released_s: Option<f64>,
        (first, last): (usize, usize),
    ) -> Self {
        let times = row_times(track, first, last, car.readout_s);
        let views: Vec<Option<Projection>> = times.iter().map(|time| view.at(*time)).collect();
        let seen = track.sticker[first..=last].iter().zip(&views);
        Self {
            places: seen
                .map(|(place, view)| place.filter(|_| view.is_some()))
                .collect(),
            views,
            car,
            times,
            released_s,
            lateral: view.lateral.is_ok(),
            sway_rad: vec![0.0; last + 1 - first],
            rise_m: vec![0.0; last + 1 - first],
            pull_ends: None,
        }
    }

    /// Log-likelihood of the looks about `path` with a sway and rise taken over.
    pub(super) fn likelihood(
        &mut self,
        course: &SwayCourse,
        first: usize,
        path: &[Vector6<f64>],
        (jerk, factor): (f64, f64),
    ) -> f64 {
        self.take(course, first);
        self.pull_ends = highest_speed(path);
        let weights = vec![1.0; path.len()];
        let steps = self.steps(path, jerk);
        let looks = self.looks(path, factor, &weights);
        filter(self.prior(), &steps, &looks).log_likelihood
    }

    /// Takes over a sway and rise for its own frames.
    fn take(&mut self, course: &SwayCourse, first: usize) {
        for (index, (sway, rise)) in self.sway_rad.iter_mut().zip(&mut self.rise_m).enumerate() {
            *sway = course.heading_rad(first + index);
            *rise = course.rise_m(first + index);
        }
    }

    /// Where each place puts the car when it heads along the aim line, and a first speed.
    fn start(&self) -> Result<Vec<Vector6<f64>>, String> {
        let heading = self.car.aim_heading_rad;
        let offset = self.car.sticker(0.0, 0.0, heading);
        let mut points: Vec<(f64, Vector2<f64>)> = Vec::new();
        for (index, time) in self.times.iter().enumerate() {
            if let Some(p) = self.on_floor(index) {
                points.push((*time, Vector2::new(p.x - offset.x, p.y - offset.y)));
            }
        }
        if points.len() < 3 {
            return Err(
                "the sticker's place does not meet the floor in this view; check the floor \
                        marks' places and the sticker's height"
                    .to_owned(),
            );
        }
        let along = Vector2::new(heading.cos(), heading.sin());
        Ok(self
            .times
            .iter()
            .map(|&time| local_state(&points, time, heading, along))
            .collect())
    }

    /// Where the sticker of a step is, floor frame.
    fn on_floor(&self, index: usize) -> Option<Point3<f64>> {
        let place = self.places[index]?;
        let pixel = Vector2::new(place.u_px, place.v_px);
        self.views[index]?.at_height(pixel, self.car.sticker_height_m)
    }

    fn prior(&self) -> Belief<6> {
        let heading = self.car.aim_heading_rad;
        let offset = self.car.sticker(0.0, 0.0, heading);
        let first = (0..self.places.len())
            .find_map(|index| self.on_floor(index))
            .unwrap_or_default();
        let lateral = if self.lateral { 1.0 } else { 0.0 };
        let (speed_var, acceleration_var) = if self.released_s.is_some() {
            (0.0, 0.0)
        } else {
            (9.0, 100.0)
        };
        let y = if self.lateral {
            first.y - offset.y
        } else {
            0.0
        };
        Belief {
            mean: Vector6::new(first.x - offset.x, y, heading, 0.0, 0.0, 0.0),
            covariance: Matrix6::from_diagonal(&Vector6::new(
                0.25,
                0.25 * lateral,
                HEADING_SD * HEADING_SD * lateral,
                speed_var,
                acceleration_var,
                CURVATURE_SD * CURVATURE_SD * lateral,
            )),
        }
    }

    fn steps(&self, path: &[Vector6<f64>], jerk: f64) -> Vec<Step<6>> {
        (0..path.len().saturating_sub(1))
            .map(|i| {
                let (from, to) = (self.times[i], self.times[i + 1]);
                let sway = f64::midpoint(self.sway_rad[i], self.sway_rad[i + 1]);
                let mut step = match self.released_s {
                    Some(t0) if to <= t0 => resting(),
                    Some(t0) if from < t0 => self.moving(&path[i], to - t0, jerk, true, sway),
                    _ => self.moving(&path[i], to - from, jerk, false, sway),
                };
                if self.pull_ends.is_some_and(|end| i.abs_diff(end) <= 1) {
                    step.noise[(4, 4)] += END_JUMP * END_JUMP;
                }
                step
            })
            .collect()
    }

    /// One step of the car's motion, linearised about `about`. `starting` adds the jump of
    /// acceleration at the release.
    fn moving(
        &self,
        about: &Vector6<f64>,
        dt: f64,
        jerk: f64,
        starting: bool,
        sway_rad: f64,
    ) -> Step<6> {
        let (transition, next) = drive(about, dt, sway_rad);
        let (_, unit) = jerk_model(dt);
        let (sin, cos) = (about[2] + sway_rad).sin_cos();
        let mut noise = Matrix6::zeros();
        // Noise of travel, speed and acceleration; travel goes along the heading.
        let spread = [(0, 0, cos), (1, 0, sin), (3, 1, 1.0), (4, 2, 1.0)];
        for &(row, r, a) in &spread {
            for &(column, c, b) in &spread {
                noise[(row, column)] = unit[r][c] * a * b * jerk;
            }
        }
        if starting {
            let column = transition.column(4) * START_ACCELERATION;
            noise += column * column.transpose();
        }
        if self.lateral {
            let travelled = (about[3] * dt).abs() + 1e-6;
            noise[(5, 5)] += CURVATURE_WANDER * CURVATURE_WANDER * travelled;
        }
        Step {
            transition,
            offset: next - transition * about,
            noise,
        }
    }

    fn looks(
        &self,
        path: &[Vector6<f64>],
        factor: f64,
        weights: &[f64],
    ) -> Vec<Option<Look<6, 2>>> {
        path.iter()
            .zip(weights)
            .enumerate()
            .map(|(index, (state, weight))| self.look(index, state, factor * weight))
            .collect()
    }

    fn seen_at(&self, index: usize, state: &Vector6<f64>) -> Option<Vector2<f64>> {
        let heading = state[2] + self.sway_rad[index];
        let mut sticker = self.car.sticker(state[0], state[1], heading);
        sticker.z += self.rise_m[index];
        self.views[index]?.pixel(&sticker)
    }

    fn look(&self, index: usize, state: &Vector6<f64>, factor: f64) -> Option<Look<6, 2>> {
        let place = self.places[index]?;
        let here = self.seen_at(index, state)?;
        let mut design = Matrix2x6::zeros();
        for column in 0..3 {
            let mut moved = *state;
            moved[column] += 1e-6;
            design.set_column(column, &((self.seen_at(index, &moved)? - here) / 1e-6));
        }
        Some(Look {
            design,
            value: Vector2::new(place.u_px, place.v_px) - here + design * state,
            noise: SMatrix::from_diagonal(&Vector2::new(
                (place.var_u_px2 + EXTRA_VAR_PX2) * factor,
                (place.var_v_px2 + EXTRA_VAR_PX2) * factor,
            )),
        })
    }

    /// Factors on the variances of frames whose residual is out of all proportion.
    fn outliers(&self, path: &[Vector6<f64>], factor: f64) -> Vec<f64> {
        path.iter()
            .enumerate()
            .map(|(index, state)| {
                let Some((place, off)) = self.places[index].zip(self.residual(index, state)) else {
                    return 1.0;
                };
                let scaled = (off.x * off.x / (place.var_u_px2 + EXTRA_VAR_PX2))
                    .max(off.y * off.y / (place.var_v_px2 + EXTRA_VAR_PX2));
                (scaled / (factor * OUTLIER * OUTLIER)).max(1.0)
            })
            .collect()
    }

    fn residual(&self, index: usize, state: &Vector6<f64>) -> Option<Vector2<f64>> {
        let place = self.places[index]?;
        Some(Vector2::new(place.u_px, place.v_px) - self.seen_at(index, state)?)
    }

    /// Where one look alone puts the sticker.
    fn floor_look(&self, index: usize) -> Option<FloorLook> {
        let (place, view) = (self.places[index]?, self.views[index]?);
        let height = self.car.sticker_height_m + self.rise_m[index];
        let at = |du: f64, dv: f64| {
            let pixel = Vector2::new(place.u_px + du, place.v_px + dv);
            let point = view.at_height(pixel, height)?;
            Some(Vector2::new(point.x, point.y))
        };
        let here = at(0.0, 0.0)?;
        let slope = Matrix2::from_columns(&[at(0.5, 0.0)? - here, at(0.0, 0.5)? - here]) * 2.0;
        Some(FloorLook {
            at_m: here,
            per_px: slope,
            var_px2: Vector2::new(
                place.var_u_px2 + EXTRA_VAR_PX2,
                place.var_v_px2 + EXTRA_VAR_PX2,
            ),
        })
    }

    /// Jerk density and variance factor of greatest likelihood, each in turn.
    fn tune(
        &self,
        path: &[Vector6<f64>],
        weights: &[f64],
        mut jerk: f64,
        mut factor: f64,
    ) -> (f64, f64) {
        let prior = self.prior();
        for _ in 0..3 {
            let steps = self.steps(path, jerk);
            factor = maximise(0.1_f64.ln(), 400.0_f64.ln(), 14, |log| {
                filter(prior, &steps, &self.looks(path, log.exp(), weights)).log_likelihood
            })
            .exp();
            let looks = self.looks(path, factor, weights);
            jerk = maximise(0.5_f64.ln(), 2e5_f64.ln(), 14, |log| {
                filter(prior, &self.steps(path, log.exp()), &looks).log_likelihood
            })
            .exp();
        }
        (jerk, factor)
    }

    fn finish(
        &self,
        beliefs: &[Belief<6>],
        (first, frames): (usize, usize),
        jerk_density: f64,
        variance_factor: f64,
    ) -> Body {
        let residuals: Vec<Option<Vector2<f64>>> = beliefs
            .iter()
            .enumerate()
            .map(|(index, belief)| self.residual(index, &belief.mean))
            .collect();
        let correlation = lag_one(&residuals);
        let inflation = ((1.0 + correlation) / (1.0 - correlation)).clamp(1.0, 8.0);
        let squares: Vec<f64> = residuals
            .iter()
            .flatten()
            .map(Vector2::norm_squared)
            .collect();
        let mut states = vec![None; frames];
        for (index, belief) in beliefs.iter().enumerate() {
            let mut mean = belief.mean;
            mean[2] += self.sway_rad[index];
            states[first + index] = Some(BodyState {
                time_s: self.times[index],
                mean,
                covariance: belief.covariance * inflation,
                rise_m: self.rise_m[index],
                seen: self.places[index].is_some(),
                look: self.floor_look(index),
            });
        }
        Body {
            states,
            jerk_density,
            variance_factor,
            residual_correlation: correlation,
            residual_px: (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt(),
            log_likelihood: 0.0,
        }
    }
}

/// Step with the highest speed, where that is not at either end of the view.
fn highest_speed(path: &[Vector6<f64>]) -> Option<usize> {
    let (at, _) = path
        .iter()
        .enumerate()
        .max_by(|a, b| a.1[3].total_cmp(&b.1[3]))?;
    (at > 3 && at + 4 < path.len()).then_some(at)
}

fn resting() -> Step<6> {
    Step {
        transition: Matrix6::identity(),
        offset: Vector6::zeros(),
        noise: Matrix6::zeros(),
    }
}

/// Place and speed about `time` from a straight line through the nearest few points.
fn local_state(
    points: &[(f64, Vector2<f64>)],
    time: f64,
    heading: f64,
    along: Vector2<f64>,
) -> Vector6<f64> {
    let near = points.partition_point(|(t, _)| *t < time);
    let low = near.saturating_sub(4);
    let part = &points[low..(near + 4).min(points.len())];
    let n = part.len() as f64;
    let mean_t = part.iter().map(|(t, _)| t).sum::<f64>() / n;
    let mean_p = part.iter().map(|(_, p)| p).sum::<Vector2<f64>>() / n;
    let spread: f64 = part.iter().map(|(t, _)| (t - mean_t).powi(2)).sum();
    let rate = if spread > 0.0 {
        part.iter()
            .map(|(t, p)| (p - mean_p) * (t - mean_t))
            .sum::<Vector2<f64>>()
            / spread
    } else {
        Vector2::zeros()
    };
    let here = mean_p + rate * (time - mean_t);
    Vector6::new(here.x, here.y, heading, rate.dot(&along), 0.0, 0.0)
}

/// The single-track model without side slip: transition matrix and next state after `dt`.
///
/// `sway_rad` turns the direction of travel, not the state's heading.
fn drive(state: &Vector6<f64>, dt: f64, sway_rad: f64) -> (Matrix6<f64>, Vector6<f64>) {
    let (speed, acceleration, curvature) = (state[3], state[4], state[5]);
    let half = dt * dt / 2.0;
    let travel = speed * dt + acceleration * half;
    let (sin, cos) = (state[2] + sway_rad + curvature * travel / 2.0).sin_cos();
    let mut f = Matrix6::identity();
    let by_travel = [
        cos - travel * sin * curvature / 2.0,
        sin + travel * cos * curvature / 2.0,
        curvature,
    ];
    for (row, slope) in by_travel.into_iter().enumerate() {
        f[(row, 3)] = slope * dt;
        f[(row, 4)] = slope * half;
    }
    f[(0, 2)] = -travel * sin;
    f[(1, 2)] = travel * cos;
    f[(0, 5)] = -travel * sin * travel / 2.0;
    f[(1, 5)] = travel * cos * travel / 2.0;
    f[(2, 5)] = travel;
    f[(3, 4)] = dt;
    let next = Vector6::new(
        state[0] + travel * cos,
        state[1] + travel * sin,
        state[2] + curvature * travel,
        speed + acceleration * dt,
        acceleration,
        curvature,
    );
    (f, next)
}

/// Autocorrelation of residuals at one frame, both axes together, never below 0.
fn lag_one(residuals: &[Option<Vector2<f64>>]) -> f64 {
    let (mut products, mut squares) = (0.0, 0.0);
    for pair in residuals.windows(2) {
        if let (Some(a), Some(b)) = (pair[0], pair[1]) {
            products += a.dot(&b);
            squares += f64::midpoint(a.norm_squared(), b.norm_squared());
        }
    }
    if squares > 0.0 {
        (products / squares).clamp(0.0, 0.9)
    } else {
        0.0
    }
}
