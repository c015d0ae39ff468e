//! The car on the floor: place, heading, speed, acceleration and curvature from the sticker's pixels.
//!
//! State: reference point x, y (m), heading (rad), speed (m/s), acceleration (m/s²), path curvature
//! (1/m). A car goes where it points, so heading and curvature are seen even at rest, from what follows.
//! The model is curved; it is linearised about the trajectory of the pass before and smoothed again.

use super::car_model::{CarModel, JUMP};
use super::change_points::{Jumping, Settled, mixed, settle};
use super::refine::SwayCourse;
use super::{CarGeometry, MotionReason};
use crate::camera::View;
use crate::noise::{
    LONGEST_LAG_OF_SMOOTHED, MOST_ALIKE_OF_SMOOTHED, carried_on, first_order_inflation,
    integrated_beyond, median_step_s,
};
use crate::smoothing::{
    Observation, StateEstimate, Step, filter, smooth, smooth_means, unlikeness,
};
use crate::track::Track;
use nalgebra::{Matrix2, Matrix6, Vector2, Vector6};

/// The car at one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BodyState {
    /// Time of the sticker's row, s since the first row of the first frame.
    pub time_s: f64,
    /// x, y, heading, speed, acceleration, curvature.
    pub mean: Vector6<f64>,
    /// Covariance of these, inflated for errors that repeat from frame to frame.
    pub covariance: Matrix6<f64>,
    /// How much of the heading is a sway or a turn through spinning, rad.
    pub sway_rad: f64,
    /// How far the car stands above where it stood at rest, m.
    pub rise_m: f64,
    /// How far it is shifted to the left of its way, m.
    pub aside_m: f64,
    /// Whether the sticker was seen in this frame.
    pub seen: bool,
    /// Where the sticker's own observation puts it, unsmoothed; `None` where it was not seen.
    pub observation: Option<FloorObservation>,
}

impl BodyState {
    /// The reference point along the aim line.
    pub fn x_m(&self) -> f64 {
        self.mean[0]
    }

    /// The reference point to the left of the aim line.
    pub fn y_m(&self) -> f64 {
        self.mean[1]
    }

    /// Heading, positive to the left.
    pub fn heading_rad(&self) -> f64 {
        self.mean[2]
    }

    /// Speed, positive forward.
    pub fn speed_m_per_s(&self) -> f64 {
        self.mean[3]
    }

    /// Standard uncertainty of the speed.
    pub fn speed_sd_m_per_s(&self) -> f64 {
        self.covariance[(3, 3)].max(0.0).sqrt()
    }

    /// Acceleration along the way.
    pub fn acceleration_m_per_s2(&self) -> f64 {
        self.mean[4]
    }
}

/// The sticker's centre on the floor's axes, from one frame alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FloorObservation {
    /// x and y of the sticker (not of the reference point), m.
    pub at_m: Vector2<f64>,
    /// How far a pixel to the right and a pixel down go on the floor, columns, m.
    pub per_px: Matrix2<f64>,
    /// Variances of the pixels as the disc fit claims them, px².
    pub var_px2: Vector2<f64>,
}

impl FloorObservation {
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
    /// What the smoother settled on: the density of the jerk is in m²/s⁵.
    pub settled: Settled,
    /// How many observations with errors as alike as these are worth one, by the next frame alone: this much widens the
    /// covariances while the motion is sought ...
    pub alike: f64,
    /// ... and by all lags, which widens them once it is found.
    pub alike_by_all_lags: f64,
    /// Root mean square residual, px.
    pub residual_px: f64,
    /// Log-likelihood of the observations under the last pass.
    pub log_likelihood: f64,
}

/// Rounds of weighing observations and smoothing the path.
const PASSES: usize = 3;

/// Smooths the sticker's path. `tuning` is what the smoother settled on where that is already known;
/// `sway` is what a wobbling wheel adds to the heading, where such a sway was found.
///
/// # Errors
/// The reason where the sticker was not seen or its rays do not meet its height.
pub fn smooth_body(
    track: &Track,
    view: &View,
    car: &CarGeometry,
    released_s: Option<f64>,
    tuning: Option<&Settled>,
    sway: Option<&SwayCourse>,
) -> Result<Body, MotionReason> {
    let first = track
        .sticker
        .iter()
        .position(Option::is_some)
        .ok_or(MotionReason::StickerUnseen)?;
    let last = track.in_view.1.min(track.sticker.len() - 1).max(first);
    let mut model = CarModel::new(track, view, car, released_s, (first, last));
    if let Some(sway) = sway {
        model.take(sway, first);
    }
    let mut path = model.start()?;
    let mut settled = tuning.cloned().unwrap_or_else(rough);
    let mut estimates = Vec::new();
    let (mut log_likelihood, mut unlike) = (0.0, Vec::new());
    for pass in 1..=PASSES {
        let weights = if pass == 1 {
            vec![1.0; path.len()]
        } else {
            model.outliers(&path, settled.variance_factor)
        };
        if pass == 2 && tuning.is_none() {
            settled = settled_about(&model, &path, &weights);
        }
        let observations = model.observations(&path, settled.variance_factor, &weights);
        let steps = model.steps(&path, settled.jerk_density, &settled.change_points_s);
        if pass < PASSES {
            (path, _) = smooth_means(model.prior(), &steps, &observations);
            continue;
        }
        let filtered = filter(model.prior(), &steps, &observations);
        log_likelihood = filtered.log_likelihood;
        let smoothed = smooth(&filtered, &steps);
        unlike = unlikeness(
            &filtered,
            &steps,
            &smoothed,
            &observations,
            LONGEST_LAG_OF_SMOOTHED,
        );
        estimates = over_open_moments(smoothed, &model, &path, &settled, &observations);
    }
    let finite =
        |of: &StateEstimate<6>| of.mean.iter().chain(&of.covariance).all(|n| n.is_finite());
    if !estimates.iter().all(finite) {
        return Err(MotionReason::NoSmoothPath);
    }
    let frames = (first, track.times_s.len());
    let mut body = finished(&model, &estimates, frames, settled, &unlike);
    body.log_likelihood = log_likelihood;
    Ok(body)
}

/// What the first pass smooths with, before anything is settled.
fn rough() -> Settled {
    Settled {
        jerk_density: ROUGH.0,
        variance_factor: ROUGH.1,
        change_points_s: Vec::new(),
        change_points_sd_s: Vec::new(),
        open: Vec::new(),
    }
}

/// Noises and change points of greatest likelihood about a path.
fn settled_about(model: &CarModel<'_>, path: &[Vector6<f64>], weights: &[f64]) -> Settled {
    let about = AboutPath {
        observations: model.observations(path, 1.0, weights),
        model,
        path,
    };
    settle(&about, ROUGH, &[])
}

/// The estimates as a mean over what a change point may be whose moment is open.
fn over_open_moments(
    estimates: Vec<StateEstimate<6>>,
    model: &CarModel<'_>,
    path: &[Vector6<f64>],
    settled: &Settled,
    observations: &[Option<Observation<6, 2>>],
) -> Vec<StateEstimate<6>> {
    mixed(estimates, &settled.open, |moment| {
        let mut change_points_s = settled.change_points_s.clone();
        change_points_s.push(moment);
        let steps = model.steps(path, settled.jerk_density, &change_points_s);
        smooth(&filter(model.prior(), &steps, observations), &steps)
    })
}

/// Where the search for the noises starts: a jerk that smooths little, and errors twice those claimed.
const ROUGH: (f64, f64) = (50.0, 4.0);

/// The car's motion linearised about one path.
struct AboutPath<'a> {
    model: &'a CarModel<'a>,
    path: &'a [Vector6<f64>],
    /// The observations with the variances that the disc fits claim.
    observations: Vec<Option<Observation<6, 2>>>,
}

impl Jumping<6, 2> for AboutPath<'_> {
    /// A change point where there is none costs little: a few frames are smoothed less.
    const MIN_GAIN: f64 = 0.5;
    /// m²/s⁵.
    const JERK_DENSITIES: (f64, f64) = (0.02, 2e5);

    fn jump(&self) -> f64 {
        JUMP
    }

    fn times_s(&self) -> &[f64] {
        self.model.times_s()
    }

    fn first_step(&self) -> usize {
        self.model.first_moving()
    }

    fn prior(&self) -> StateEstimate<6> {
        self.model.prior()
    }

    fn steps(&self, jerk_density: f64, change_points_s: &[f64]) -> Vec<Step<6>> {
        self.model.steps(self.path, jerk_density, change_points_s)
    }

    fn observations(&self, variance_factor: f64) -> Vec<Option<Observation<6, 2>>> {
        let scaled =
            |one: &Option<Observation<6, 2>>| one.map(|one| one.with_noise_times(variance_factor));
        self.observations.iter().map(scaled).collect()
    }

    fn push(&self, step: usize, left_s: f64) -> Vector6<f64> {
        self.model.push(&self.path[step], step, left_s)
    }
}

fn finished(
    model: &CarModel<'_>,
    estimates: &[StateEstimate<6>],
    (first, frames): (usize, usize),
    settled: Settled,
    unlike: &[f64],
) -> Body {
    let residuals: Vec<Option<Vector2<f64>>> = estimates
        .iter()
        .enumerate()
        .map(|(index, estimate)| model.residual(index, &estimate.mean))
        .collect();
    let alike = first_order_inflation(&residuals).min(MOST_ALIKE_OF_SMOOTHED);
    let least_alike = median_step_s(&model.times).map_or(1.0, carried_on);
    let alike_by_all_lags = integrated_beyond(&residuals, unlike)
        .max(least_alike)
        .min(MOST_ALIKE_OF_SMOOTHED);
    let squares: Vec<f64> = residuals
        .iter()
        .flatten()
        .map(Vector2::norm_squared)
        .collect();
    let mut states = vec![None; frames];
    for (index, estimate) in estimates.iter().enumerate() {
        let mut mean = estimate.mean;
        let swayed = model.swayed[index];
        mean[2] += swayed.heading_rad;
        states[first + index] = Some(BodyState {
            time_s: model.times[index],
            mean,
            covariance: estimate.covariance * alike,
            sway_rad: swayed.heading_rad,
            rise_m: swayed.rise_m,
            aside_m: swayed.aside_m,
            seen: model.places[index].is_some(),
            observation: model.floor_observation(index),
        });
    }
    Body {
        states,
        settled,
        alike,
        alike_by_all_lags,
        residual_px: (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt(),
        log_likelihood: 0.0,
    }
}

impl Body {
    /// The same with covariances for errors that stay alike for longer than a frame. Not before the motion is found:
    /// what is smoothed by a wrong model leaves errors that are alike for long, and would be too unsure for the
    /// wheel's turns to be counted, by which the right model is found.
    pub(super) fn widened(mut self) -> Self {
        let more = self.alike_by_all_lags / self.alike;
        for state in self.states.iter_mut().flatten() {
            state.covariance *= more;
        }
        self.alike = self.alike_by_all_lags;
        self
    }
}
