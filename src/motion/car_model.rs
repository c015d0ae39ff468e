//! The car's motion as a linear model about a path: how it goes from frame to frame, and where its sticker
//! is then seen.

use super::body::FloorObservation;
use super::change_points::step_of;
use super::refine::{Joint, SwayCourse, Swayed};
use super::{CarGeometry, MotionReason, counting, jerk_model};
use crate::camera::{Projection, View};
use crate::noise::variance_inflation;
use crate::smoothing::{Observation, StateEstimate, Step};
use crate::track::{Place, Track};
use nalgebra::{Matrix2, Matrix2x6, Matrix6, Point3, SMatrix, SVector, Vector2, Vector6};

/// Part of a place's variance that no fit knows of, px².
const EXTRA_VAR_PX2: f64 = 0.0004;
/// Residuals beyond this many spreads are taken for partly hidden or mistaken marks.
const OUTLIER: f64 = 3.0;
/// A spring that lets go gives up to about this acceleration, m/s². Common practice, no source.
const START_ACCELERATION: f64 = 8.0;
/// Where the motion breaks the acceleration may jump by about this, m/s². Common practice, no source.
pub(super) const JUMP: f64 = 1.5;
/// How much the curvature may wander over a metre, 1/m.
const CURVATURE_WANDER: f64 = 0.04;
/// Prior spread of heading (rad) and curvature (1/m): a car set down by hand, an axle askew.
const HEADING_SD: f64 = 0.25;
const CURVATURE_SD: f64 = 0.4;

pub(super) struct CarModel<'a> {
    /// How points are seen at each step; `None` while a moving camera is lost.
    views: Vec<Option<Projection>>,
    car: &'a CarGeometry,
    pub(super) times: Vec<f64>,
    pub(super) places: Vec<Option<Place>>,
    /// Whether a place counts: of those at rest only the last few do.
    counts: Vec<bool>,
    released_s: Option<f64>,
    lateral: bool,
    /// What a sway adds, an entry a place, its parts and its phase.
    pub(super) swayed: Vec<Swayed>,
    parts: Vector6<f64>,
    phase: Vec<[f64; 2]>,
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

impl<'a> CarModel<'a> {
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
        let places: Vec<Option<Place>> = seen
            .map(|(place, view)| place.filter(|_| view.is_some()))
            .collect();
        Self {
            counts: counting(&times, |index| places[index].is_some(), released_s),
            places,
            views,
            car,
            times,
            released_s,
            lateral: view.lateral.is_ok(),
            swayed: vec![Swayed::default(); last + 1 - first],
            parts: Vector6::zeros(),
            phase: vec![[0.0; 2]; last + 1 - first],
        }
    }

    /// Takes over a sway for its own frames.
    pub(super) fn take(&mut self, course: &SwayCourse, first: usize) {
        let frames = first..first + self.times.len();
        self.parts = course.parts;
        self.swayed = frames.clone().map(|frame| course.at(frame)).collect();
        self.phase = frames.map(|frame| course.phase_at(frame)).collect();
    }

    /// Where each place puts the car when it heads along the aim line, and a first speed.
    pub(super) fn start(&self) -> Result<Vec<Vector6<f64>>, MotionReason> {
        let heading = self.car.aim_heading_rad;
        let offset = self.car.sticker(0.0, 0.0, heading);
        let mut points: Vec<(f64, Vector2<f64>)> = Vec::new();
        for (index, time) in self.times.iter().enumerate() {
            if let Some(p) = self.on_floor(index) {
                points.push((*time, Vector2::new(p.x - offset.x, p.y - offset.y)));
            }
        }
        if points.len() < 3 {
            return Err(MotionReason::OffTheFloor);
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

    pub(super) fn prior(&self) -> StateEstimate<6> {
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
        StateEstimate {
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

    /// From place to place about `path`; the acceleration may jump at each of the change points.
    pub(super) fn steps(
        &self,
        path: &[Vector6<f64>],
        jerk: f64,
        change_points_s: &[f64],
    ) -> Vec<Step<6>> {
        let change_points: Vec<(usize, f64)> = change_points_s
            .iter()
            .filter_map(|moment| step_of(&self.times, *moment))
            .collect();
        (0..path.len().saturating_sub(1))
            .map(|i| {
                let (from, to) = (self.times[i], self.times[i + 1]);
                let sway = self.sway_between(i);
                let mut step = match self.released_s {
                    Some(t0) if to <= t0 => resting(),
                    Some(t0) if from < t0 => self.moving(&path[i], to - t0, jerk, true, sway),
                    _ => self.moving(&path[i], to - from, jerk, false, sway),
                };
                for (_, left_s) in change_points.iter().filter(|(step, _)| *step == i) {
                    let push = self.push(&path[i], i, *left_s) * JUMP;
                    step.noise += push * push.transpose();
                }
                step
            })
            .collect()
    }

    /// What a unit jump of the acceleration does to the state by the end of a step, `left_s` later.
    pub(super) fn push(&self, about: &Vector6<f64>, step: usize, left_s: f64) -> Vector6<f64> {
        drive(about, left_s, self.sway_between(step))
            .0
            .column(4)
            .into_owned()
    }

    /// Mean sway of the heading over a step, rad.
    fn sway_between(&self, step: usize) -> f64 {
        let sway = |index: usize| self.swayed[index].heading_rad;
        f64::midpoint(sway(step), sway(step + 1))
    }

    pub(super) fn times_s(&self) -> &[f64] {
        &self.times
    }

    /// First step that lies wholly after the release.
    pub(super) fn first_moving(&self) -> usize {
        self.released_s
            .map_or(0, |t0| self.times.partition_point(|time| *time <= t0))
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

    pub(super) fn observations(
        &self,
        path: &[Vector6<f64>],
        factor: f64,
        weights: &[f64],
    ) -> Vec<Option<Observation<6, 2>>> {
        path.iter()
            .zip(weights)
            .enumerate()
            .map(|(index, (state, weight))| self.observation(index, state, factor * weight))
            .collect()
    }

    fn seen_at(&self, index: usize, state: &Vector6<f64>) -> Option<Vector2<f64>> {
        self.seen_swayed(index, state, &self.swayed[index])
    }

    fn seen_swayed(
        &self,
        index: usize,
        state: &Vector6<f64>,
        swayed: &Swayed,
    ) -> Option<Vector2<f64>> {
        let heading = state[2] + swayed.heading_rad;
        let (sin, cos) = heading.sin_cos();
        let (x, y) = (
            state[0] - swayed.aside_m * sin,
            state[1] + swayed.aside_m * cos,
        );
        let mut sticker = self.car.sticker(x, y, heading);
        sticker.z += swayed.rise_m;
        self.views[index]?.pixel(&sticker)
    }

    fn observation(
        &self,
        index: usize,
        state: &Vector6<f64>,
        factor: f64,
    ) -> Option<Observation<6, 2>> {
        let place = self.places[index].filter(|_| self.counts[index])?;
        let here = self.seen_at(index, state)?;
        let mut design = Matrix2x6::zeros();
        for column in 0..3 {
            let mut moved = *state;
            moved[column] += 1e-6;
            design.set_column(column, &((self.seen_at(index, &moved)? - here) / 1e-6));
        }
        Some(Observation {
            design,
            value: Vector2::new(place.u_px, place.v_px) - here + design * state,
            noise: SMatrix::from_diagonal(&Vector2::new(
                (place.var_u_px2 + EXTRA_VAR_PX2) * factor,
                (place.var_v_px2 + EXTRA_VAR_PX2) * factor,
            )),
        })
    }

    /// What is known before the first observation of car and sway together.
    pub(super) fn swaying_prior(&self, part_sds: [f64; 6]) -> StateEstimate<12> {
        let car = self.prior();
        let mut mean = SVector::<f64, 12>::zeros();
        mean.fixed_rows_mut::<6>(0).copy_from(&car.mean);
        let mut covariance = Joint::zeros();
        covariance
            .fixed_view_mut::<6, 6>(0, 0)
            .copy_from(&car.covariance);
        for (part, sd) in part_sds.into_iter().enumerate() {
            covariance[(6 + part, 6 + part)] = sd * sd;
        }
        StateEstimate { mean, covariance }
    }

    /// The steps of [`Self::steps`] with the parts of the sway beside the car: a sway of the heading turns
    /// the direction of travel.
    pub(super) fn swaying_steps(
        &self,
        path: &[Vector6<f64>],
        jerk: f64,
        change_points_s: &[f64],
    ) -> Vec<Step<12>> {
        let with_sway = |(index, step): (usize, Step<6>)| {
            let mut transition = Joint::identity();
            transition
                .fixed_view_mut::<6, 6>(0, 0)
                .copy_from(&step.transition);
            let mut offset = SVector::<f64, 12>::zeros();
            offset.fixed_rows_mut::<6>(0).copy_from(&step.offset);
            for part in 0..2 {
                let phase = f64::midpoint(self.phase[index][part], self.phase[index + 1][part]);
                for row in 0..2 {
                    let slope = step.transition[(row, 2)] * phase;
                    transition[(row, 6 + part)] = slope;
                    offset[row] -= slope * self.parts[part];
                }
            }
            let mut noise = Joint::zeros();
            noise.fixed_view_mut::<6, 6>(0, 0).copy_from(&step.noise);
            Step {
                transition,
                offset,
                noise,
            }
        };
        let steps = self
            .steps(path, jerk, change_points_s)
            .into_iter()
            .enumerate();
        steps.map(with_sway).collect()
    }

    /// The observations of [`Self::observations`] as looks at car and sway together.
    pub(super) fn swaying_observations(
        &self,
        path: &[Vector6<f64>],
        factor: f64,
        weights: &[f64],
    ) -> Vec<Option<Observation<12, 2>>> {
        let observations = self.observations(path, factor, weights).into_iter();
        observations
            .enumerate()
            .map(|(index, observation)| {
                self.swaying_observation(index, &path[index], &observation?)
            })
            .collect()
    }

    fn swaying_observation(
        &self,
        index: usize,
        state: &Vector6<f64>,
        observation: &Observation<6, 2>,
    ) -> Option<Observation<12, 2>> {
        let here = self.seen_at(index, state)?;
        let slope = |moved: Swayed| -> Option<Vector2<f64>> {
            Some((self.seen_swayed(index, state, &moved)? - here) / super::STEP)
        };
        let swayed = self.swayed[index];
        let slopes = [
            slope(Swayed {
                heading_rad: swayed.heading_rad + super::STEP,
                ..swayed
            })?,
            slope(Swayed {
                rise_m: swayed.rise_m + super::STEP,
                ..swayed
            })?,
            slope(Swayed {
                aside_m: swayed.aside_m + super::STEP,
                ..swayed
            })?,
        ];
        let mut design = SMatrix::<f64, 2, 12>::zeros();
        design
            .fixed_view_mut::<2, 6>(0, 0)
            .copy_from(&observation.design);
        let mut value = observation.value;
        for part in 0..6 {
            let column = slopes[part / 2] * self.phase[index][part % 2];
            design.set_column(6 + part, &column);
            value += column * self.parts[part];
        }
        Some(Observation {
            design,
            value,
            noise: observation.noise,
        })
    }

    /// Factors on the variances of frames whose residual is out of all proportion.
    pub(super) fn outliers(&self, path: &[Vector6<f64>], factor: f64) -> Vec<f64> {
        path.iter()
            .enumerate()
            .map(|(index, state)| {
                let Some((place, off)) = self.places[index].zip(self.residual(index, state)) else {
                    return 1.0;
                };
                let scaled = (off.x * off.x / (place.var_u_px2 + EXTRA_VAR_PX2))
                    .max(off.y * off.y / (place.var_v_px2 + EXTRA_VAR_PX2));
                variance_inflation(scaled / factor, OUTLIER)
            })
            .collect()
    }

    /// How far from where a state is seen a place that counts is, px.
    pub(super) fn residual(&self, index: usize, state: &Vector6<f64>) -> Option<Vector2<f64>> {
        let place = self.places[index].filter(|_| self.counts[index])?;
        Some(Vector2::new(place.u_px, place.v_px) - self.seen_at(index, state)?)
    }

    /// Where one observation alone puts the sticker.
    pub(super) fn floor_observation(&self, index: usize) -> Option<FloorObservation> {
        let (place, view) = (self.places[index]?, self.views[index]?);
        let height = self.car.sticker_height_m + self.swayed[index].rise_m;
        let at = |du: f64, dv: f64| {
            let pixel = Vector2::new(place.u_px + du, place.v_px + dv);
            let point = view.at_height(pixel, height)?;
            Some(Vector2::new(point.x, point.y))
        };
        let here = at(0.0, 0.0)?;
        let slope = Matrix2::from_columns(&[at(0.5, 0.0)? - here, at(0.0, 0.5)? - here]) * 2.0;
        Some(FloorObservation {
            at_m: here,
            per_px: slope,
            var_px2: Vector2::new(
                place.var_u_px2 + EXTRA_VAR_PX2,
                place.var_v_px2 + EXTRA_VAR_PX2,
            ),
        })
    }
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

#[cfg(test)]
mod tests;
