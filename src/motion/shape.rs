//! Shapes that a path can have, fitted to the sticker's own observations and compared as models on the same
//! data: straight, a constant curve, a curve that exists only while the wheel slips, a sway locked to the
//! driven wheel's turn, a sway at another rate.
//!
//! The observations are taken as the frames gave them, not smoothed: their errors are nearly independent, so
//! their likelihood means something. Heading is `ψ0 + k s + c L + A sin θ + B cos θ`, with s the way
//! travelled, L the way spun away so far, and θ the phase of the sway; the reference point goes where
//! the car points, and the sticker is carried with it on its lever.
//!
//! # Source
//! Schwarz, Estimating the dimension of a model, Ann. Statist. 6 (1978) 461, for the criterion; weights
//! of models by `exp(-BIC/2)`, K. P. Burnham and D. R. Anderson, Model Selection and Multimodel
//! Inference, 2nd ed., section 6.4 (from memory).

use crate::noise::{first_order_inflation, huber_weight, in_a_row, integrated_autocorrelation};
use nalgebra::{DMatrix, DVector};
use std::f64::consts::TAU;

/// One observation at the sticker.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapeObservation {
    /// Way of the reference point since the first frame, m.
    pub distance_m: f64,
    /// Way that the rim turned and the floor did not get, so far, m.
    pub spun_m: f64,
    /// Angle of the driven wheel, rad, where it is known.
    pub turn_rad: Option<f64>,
    /// Distance of the sticker from the aim line, left positive, m.
    pub lateral_m: f64,
    /// Variance of that as the disc fit claims it, m².
    pub var_m2: f64,
    /// Size of a pixel at the sticker, m.
    pub pixel_m: f64,
}

/// Where the sticker sits on the car, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lever {
    /// Ahead of the driven axle.
    pub ahead_m: f64,
    /// Left of the centre line.
    pub left_m: f64,
}

/// What a sway keeps step with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Phase {
    /// The driven wheel's angle, as its mark shows it.
    DrivenWheel,
    /// The way travelled, one turn in `TAU` times this radius, m.
    Way(f64),
}

impl Phase {
    /// Phase angle at an observation, rad.
    pub fn at(self, observation: &ShapeObservation) -> Option<f64> {
        match self {
            Self::DrivenWheel => observation.turn_rad,
            Self::Way(radius_m) => Some(observation.distance_m / radius_m),
        }
    }
}

/// One model: which terms the heading has besides its start.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Shape {
    /// A constant curvature.
    pub curves: bool,
    /// A turn in proportion to the way spun away.
    pub yaws: bool,
    /// A sway in step with this.
    pub sways: Option<Phase>,
}

/// A fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeFit {
    /// Which one.
    pub shape: Shape,
    /// Start (m), heading (rad), curvature (1/m), turn per metre spun away (rad/m), sine and cosine of the
    /// sway (rad); 0 where the model has no such term.
    pub values: [f64; 6],
    /// Covariance of these.
    pub covariance: DMatrix<f64>,
    /// Weighted mean square of what is left, in units of the claimed variance.
    pub left_over: f64,
    /// How many observations with errors as alike as these are worth one, by all lags.
    pub alike: f64,
    /// The same by neighbours alone, which counts where models are compared: what a model lacks stays alike for long.
    pub alike_as_neighbours: f64,
    /// Observations used.
    pub observations: usize,
}

/// Index of the parameters.
const START: usize = 0;
/// First heading.
const HEADING: usize = 1;
/// Constant curvature.
pub const CURVE: usize = 2;
/// Turn per metre spun away.
pub const YAW: usize = 3;
/// Sine part of the sway.
pub const SWAY_SIN: usize = 4;
/// Cosine part.
pub const SWAY_COS: usize = 5;

/// Residuals beyond this many spreads weigh less.
const OUTLIER: f64 = 3.5;
/// Errors that stay alike over an eighth of the view (shading, a lens, a seam) do not average out: this
/// many pixels of them, from our own drawn clips.
const SLOW_ERROR_PX: f64 = 0.04;
/// ... which leaves this many independent observations.
const SLOW_OBSERVATIONS: f64 = 8.0;

/// Fits one model; `None` where the data do not determine it.
pub fn fit_shape(
    observations: &[ShapeObservation],
    lever: Lever,
    shape: Shape,
) -> Option<ShapeFit> {
    fit_in(observations, lever, shape, 6)
}

/// The same with fewer rounds, good enough to see at which rate a sway explains most.
pub(super) fn scan_shape(
    observations: &[ShapeObservation],
    lever: Lever,
    shape: Shape,
) -> Option<ShapeFit> {
    fit_in(observations, lever, shape, 2)
}

fn fit_in(
    observations: &[ShapeObservation],
    lever: Lever,
    shape: Shape,
    rounds: usize,
) -> Option<ShapeFit> {
    let course = Course::of(observations, lever, shape)?;
    let free: Vec<usize> = free_parameters(shape);
    if observations.len() < 2 * free.len() + 4 {
        return None;
    }
    let mut values = [0.0; 6];
    values[START] = observations[0].lateral_m - lever.left_m;
    let mut weights: Vec<f64> = observations.iter().map(|l| 1.0 / l.var_m2).collect();
    let mut inverse = DMatrix::zeros(0, 0);
    let mut residuals = Vec::new();
    let mut scale = 1.0;
    for round in 0..rounds {
        let (here, design) = course.laterals(&values, &free);
        residuals = observations
            .iter()
            .zip(&here)
            .map(|(l, y)| l.lateral_m - y)
            .collect();
        if round > 0 {
            scale = spread(observations, &residuals);
            for ((weight, observation), left) in
                weights.iter_mut().zip(observations).zip(&residuals)
            {
                let off = left.abs() / (scale * observation.var_m2).sqrt();
                *weight = huber_weight(off, OUTLIER) / observation.var_m2;
            }
        }
        let weighted = DMatrix::from_fn(observations.len(), free.len(), |i, j| {
            design[(i, j)] * weights[i]
        });
        let normal = design.transpose() * &weighted;
        let right = weighted.transpose() * DVector::from_column_slice(&residuals);
        inverse = normal.cholesky()?.inverse();
        let step = &inverse * right;
        for (place, change) in free.iter().zip(step.iter()) {
            values[*place] += change;
        }
        if round > 2 && step.norm() < 1e-7 {
            break;
        }
    }
    finish(
        observations,
        shape,
        &free,
        values,
        &inverse,
        (&residuals, scale),
    )
}

fn finish(
    observations: &[ShapeObservation],
    shape: Shape,
    free: &[usize],
    values: [f64; 6],
    inverse: &DMatrix<f64>,
    (residuals, scale): (&[f64], f64),
) -> Option<ShapeFit> {
    if values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let scaled: Vec<f64> = residuals
        .iter()
        .zip(observations)
        .map(|(left, observation)| {
            let off = left / (scale * observation.var_m2).sqrt();
            off.clamp(-OUTLIER, OUTLIER)
        })
        .collect();
    let scaled_in_a_row = in_a_row(scaled.iter().copied());
    let alike = integrated_autocorrelation(&scaled_in_a_row);
    let n = observations.len() as f64;
    let mean_square = scaled.iter().map(|r| r * r).sum::<f64>() / n * scale;
    let slow = observations
        .iter()
        .map(|l| (SLOW_ERROR_PX * l.pixel_m).powi(2) / l.var_m2)
        .sum::<f64>()
        / n
        * (n / SLOW_OBSERVATIONS);
    let factor = mean_square * n / (n - free.len() as f64) * alike + slow;
    let mut covariance = DMatrix::zeros(6, 6);
    for (i, &a) in free.iter().enumerate() {
        for (j, &b) in free.iter().enumerate() {
            covariance[(a, b)] = inverse[(i, j)] * factor;
        }
    }
    Some(ShapeFit {
        shape,
        values,
        covariance,
        left_over: mean_square,
        alike,
        alike_as_neighbours: first_order_inflation(&scaled_in_a_row),
        observations: observations.len(),
    })
}

fn free_parameters(shape: Shape) -> Vec<usize> {
    let mut free = vec![START, HEADING];
    if shape.curves {
        free.push(CURVE);
    }
    if shape.yaws {
        free.push(YAW);
    }
    if shape.sways.is_some() {
        free.extend([SWAY_SIN, SWAY_COS]);
    }
    free
}

/// Way, way spun away, sine and cosine of the sway's phase: what the heading's terms go by.
#[derive(Debug, Clone, Copy)]
struct Regressors([f64; 4]);

impl Regressors {
    fn at(way: f64, spun: f64, phase: Option<f64>) -> Self {
        // Without a sway its terms are 0 whatever the phase.
        let (sin, cos) = phase.map_or((0.0, 1.0), f64::sin_cos);
        Self([way, spun, sin, cos])
    }

    fn heading(&self, p: &[f64; 6]) -> f64 {
        let [way, spun, sin, cos] = self.0;
        p[HEADING] + p[CURVE] * way + p[YAW] * spun + p[SWAY_SIN] * sin + p[SWAY_COS] * cos
    }

    /// How the heading grows with a parameter.
    fn slope(&self, parameter: usize) -> f64 {
        match parameter {
            START => 0.0,
            HEADING => 1.0,
            CURVE => self.0[0],
            YAW => self.0[1],
            SWAY_SIN => self.0[2],
            _ => self.0[3],
        }
    }
}

/// Where observations lie on a path, whatever its parameters are.
struct Course {
    lever: Lever,
    /// At each observation, half-way from the one before to it, and how far it is from there to it.
    steps: Vec<(Regressors, Regressors, f64)>,
}

impl Course {
    /// `None` where the phase of the sway is not known at every observation.
    fn of(observations: &[ShapeObservation], lever: Lever, shape: Shape) -> Option<Self> {
        let phase_at = |one: &ShapeObservation| match shape.sways {
            None => Some(None),
            Some(phase) => phase.at(one).map(Some),
        };
        let mut steps = Vec::with_capacity(observations.len());
        let mut before: Option<(&ShapeObservation, Option<f64>)> = None;
        for one in observations {
            let phase = phase_at(one)?;
            let (last, last_phase) = before.unwrap_or((one, phase));
            let middle = Regressors::at(
                f64::midpoint(last.distance_m, one.distance_m),
                f64::midpoint(last.spun_m, one.spun_m),
                last_phase.zip(phase).map(|(a, b)| f64::midpoint(a, b)),
            );
            let here = Regressors::at(one.distance_m, one.spun_m, phase);
            steps.push((here, middle, one.distance_m - last.distance_m));
            before = Some((one, phase));
        }
        Some(Self { lever, steps })
    }

    /// Where the model puts the sticker, metres from the aim line, at every observation, and how that grows with each of
    /// the parameters that are `free`, a column each.
    fn laterals(&self, p: &[f64; 6], free: &[usize]) -> (Vec<f64>, DMatrix<f64>) {
        let mut laterals = Vec::with_capacity(self.steps.len());
        let mut slopes = DMatrix::zeros(self.steps.len(), free.len());
        let mut y = p[START];
        let mut y_slopes = [0.0; 6];
        y_slopes[START] = 1.0;
        let mut last: Option<(Regressors, f64, f64)> = None;
        for (row, (here, middle, length)) in self.steps.iter().enumerate() {
            let (sin, cos) = here.heading(p).sin_cos();
            if let Some((before, sin_before, cos_before)) = last {
                let (sin_middle, cos_middle) = middle.heading(p).sin_cos();
                // Simpson's rule over the step.
                y += length * ((sin_before + 4.0 * sin_middle + sin) / 6.0);
                for &parameter in free {
                    let by_heading = cos_before * before.slope(parameter)
                        + 4.0 * cos_middle * middle.slope(parameter)
                        + cos * here.slope(parameter);
                    y_slopes[parameter] += length * (by_heading / 6.0);
                }
            }
            last = Some((*here, sin, cos));
            laterals.push(y + self.lever.ahead_m * sin + self.lever.left_m * cos);
            let swung = self.lever.ahead_m * cos - self.lever.left_m * sin;
            for (column, &parameter) in free.iter().enumerate() {
                slopes[(row, column)] = y_slopes[parameter] + swung * here.slope(parameter);
            }
        }
        (laterals, slopes)
    }
}

/// Robust mean square of the residuals in units of the claimed variances: from their median size.
fn spread(observations: &[ShapeObservation], residuals: &[f64]) -> f64 {
    let mut squares: Vec<f64> = residuals
        .iter()
        .zip(observations)
        .map(|(left, observation)| left * left / observation.var_m2)
        .collect();
    let middle = squares.len() / 2;
    let (_, median, _) = squares.select_nth_unstable_by(middle, f64::total_cmp);
    // The median of a squared standard normal value is 0.4549.
    (*median / 0.4549).max(1e-6)
}

/// Models with their weights, which sum to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// Each fitted model with its weight, heaviest first.
    pub models: Vec<(ShapeFit, f64)>,
}

/// Compares models on the same observations. `tries` is how many rates a sway at a free rate was sought at; the
/// more, the likelier that chance fits one.
pub fn compare(
    observations: &[ShapeObservation],
    lever: Lever,
    shapes: &[Shape],
    tries: usize,
) -> Compared {
    let fits: Vec<ShapeFit> = shapes
        .iter()
        .filter_map(|shape| fit_shape(observations, lever, *shape))
        .collect();
    // One measure of the errors' likeness for all: that of the model which leaves least.
    let alike = fits
        .iter()
        .min_by(|a, b| a.left_over.total_cmp(&b.left_over))
        .map_or(1.0, |fit| fit.alike_as_neighbours);
    let worth = observations.len() as f64 / alike;
    let least = fits
        .iter()
        .map(|f| f.left_over)
        .fold(f64::INFINITY, f64::min);
    let floor = slow_floor(observations);
    let bic = |fit: &ShapeFit| {
        let searched = match fit.shape.sways {
            Some(Phase::Way(_)) if tries > 1 => 2.0 * (tries as f64).ln() + worth.ln(),
            _ => 0.0,
        };
        let terms = free_parameters(fit.shape).len() as f64;
        worth * ((fit.left_over + floor) / (least + floor)).ln() + terms * worth.ln() + searched
    };
    let scores: Vec<f64> = fits.iter().map(bic).collect();
    let best = scores.iter().copied().fold(f64::INFINITY, f64::min);
    let raw: Vec<f64> = scores.iter().map(|s| (-0.5 * (s - best)).exp()).collect();
    let total: f64 = raw.iter().sum();
    let mut models: Vec<(ShapeFit, f64)> = fits
        .into_iter()
        .zip(raw)
        .map(|(fit, weight)| (fit, weight / total))
        .collect();
    models.sort_by(|a, b| b.1.total_cmp(&a.1));
    Compared { models }
}

/// Mean square of the slow errors in units of the claimed variance: a model is not believed for
/// explaining less than these.
fn slow_floor(observations: &[ShapeObservation]) -> f64 {
    observations
        .iter()
        .map(|l| (SLOW_ERROR_PX * l.pixel_m).powi(2) / l.var_m2)
        .sum::<f64>()
        / observations.len().max(1) as f64
}

impl Compared {
    /// Weight of all models that have a property.
    pub fn weight(&self, has: impl Fn(&Shape) -> bool) -> f64 {
        self.models
            .iter()
            .filter(|(fit, _)| has(&fit.shape))
            .map(|(_, weight)| weight)
            .sum()
    }

    /// Mean and standard uncertainty of something over all models: their own uncertainty, and how far
    /// they differ.
    pub fn mean(&self, of: impl Fn(&ShapeFit) -> (f64, f64)) -> (f64, f64) {
        let parts: Vec<(f64, f64, f64)> = self
            .models
            .iter()
            .map(|(fit, weight)| {
                let (value, sd) = of(fit);
                (*weight, value, sd)
            })
            .collect();
        let mean: f64 = parts.iter().map(|(w, v, _)| w * v).sum();
        let var: f64 = parts
            .iter()
            .map(|(w, v, sd)| w * (sd * sd + (v - mean).powi(2)))
            .sum();
        (mean, var.sqrt())
    }
}

impl ShapeFit {
    /// A parameter and its standard uncertainty; nothing and certain where the model has no such term.
    pub fn parameter(&self, index: usize) -> (f64, f64) {
        (
            self.values[index],
            self.covariance[(index, index)].max(0.0).sqrt(),
        )
    }

    /// Deviation of the start (m) and heading there (rad).
    pub fn start(&self) -> [(f64, f64); 2] {
        [self.parameter(START), self.parameter(HEADING)]
    }

    /// Swing of the heading from its mean to one side, rad.
    pub fn swing_rad(&self) -> (f64, f64) {
        let (sin, cos) = (self.values[SWAY_SIN], self.values[SWAY_COS]);
        let swing = sin.hypot(cos);
        let var = if swing > 0.0 {
            (sin * sin * self.covariance[(SWAY_SIN, SWAY_SIN)]
                + 2.0 * sin * cos * self.covariance[(SWAY_SIN, SWAY_COS)]
                + cos * cos * self.covariance[(SWAY_COS, SWAY_COS)])
                / (swing * swing)
        } else {
            0.0
        };
        (swing, var.max(0.0).sqrt())
    }
}

/// Turns that a sway must be seen for.
const MIN_SWAY_TURNS: f64 = 1.5;

/// Whether a phase runs far enough in these observations to be told from a curve.
pub fn runs_far_enough(observations: &[ShapeObservation], phase: Phase) -> bool {
    let ends = (observations.first(), observations.last());
    let (Some(first), Some(last)) = ends else {
        return false;
    };
    match (phase.at(first), phase.at(last)) {
        (Some(a), Some(b)) => (b - a).abs() > MIN_SWAY_TURNS * TAU,
        _ => false,
    }
}

#[cfg(test)]
mod tests;
