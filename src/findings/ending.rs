//! The end of the pull: the moment at which something that was gaining speed stops gaining.
//!
//! When the string has run out the push stops at once, so way and turn have a change point in their second
//! derivative. It is found as a change point: before it a cubic, after it a parabola, joined without a
//! step in value or rate; the time's own likelihood gives its uncertainty.

use super::least::{Fit, least_squares};
use super::{Estimate, Moment};

/// A change point: where gaining speed turns into losing it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChangePoint {
    /// When, s.
    pub time_s: Estimate,
    /// Rate at that moment: m/s of a way, rad/s of a turn.
    pub rate: Estimate,
    /// Change of the rate just before.
    pub gain: f64,
    /// Change of the rate afterwards.
    pub loss: f64,
}

// Numbers below whose comments name no source were chosen by hand; not measured.
/// How far from the highest rate a change point is sought, s.
const SEARCH_S: f64 = 0.30;
/// How much before and after a change point is looked at, s.
const BEFORE_S: f64 = 0.35;
const AFTER_S: f64 = 0.35;
/// Observations needed on either side.
const MIN_SIDE: usize = 5;
/// A change point must explain the observations better than a cubic by this much, in units of the errors squared, for
/// its one parameter more: BIC's `ln n` for some fifty observations, and as much again for the search.
const MIN_GAIN: f64 = 8.0;

/// What the values of a change point's observations are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Of {
    /// The car's way, m.
    Way,
    /// The wheel's turn, rad. A wheel that is not true, or whose circle is seen askew, adds to it once and twice a
    /// turn; such a wave, cut off by the end of the observations, passes for a change point unless it may be there
    /// too.
    Turn,
}

/// Turns of the wheel in the observations from which on a wave in step with it is told from a change point.
const WAVE_TURNS: f64 = 2.0;

/// Finds the change point in `(time, value, variance)` near `peak_s`, the time of the highest smoothed rate.
pub(super) fn find_change_point(
    points: &[(f64, f64, f64)],
    peak_s: f64,
    of: Of,
) -> Option<ChangePoint> {
    let near: Vec<(f64, f64, f64)> = points
        .iter()
        .filter(|p| p.0 > peak_s - SEARCH_S - BEFORE_S && p.0 < peak_s + SEARCH_S + AFTER_S)
        .copied()
        .collect();
    let near = gathered(&near);
    if near.len() < 3 * MIN_SIDE {
        return None;
    }
    let step = (near[near.len() - 1].0 - near[0].0) / near.len() as f64 / 4.0;
    let tries = tries(&near, peak_s, of, step);
    let (best_s, best) = tries
        .iter()
        .min_by(|a, b| a.1.left_over.total_cmp(&b.1.left_over))?;
    let size = best.left_over / best.spare * best.inflation;
    let smooth = least_squares(&rows(&near, *best_s, peak_s, of, false), 0.0)?;
    if smooth.left_over - best.left_over < MIN_GAIN * size {
        return None;
    }
    let (time_s, spread_s) = likely_time(&tries, best.left_over, size);
    let (gain, loss) = (2.0 * best.values[2], 2.0 * best.values[4]);
    (gain > 0.0 && loss < 0.0).then(|| ChangePoint {
        time_s: Estimate {
            value: time_s,
            sd: spread_s.hypot(step),
        },
        rate: Estimate {
            value: best.values[1],
            sd: best.covariance[(1, 1)].max(0.0).sqrt(),
        },
        gain,
        loss,
    })
}

/// Change points tried `step` apart about `peak_s`, each with its fit.
fn tries(near: &[(f64, f64, f64)], peak_s: f64, of: Of, step: f64) -> Vec<(f64, Fit)> {
    let from = (peak_s - SEARCH_S).max(near[MIN_SIDE].0);
    let to = (peak_s + SEARCH_S).min(near[near.len() - 1 - MIN_SIDE].0);
    let count = ((to - from) / step).max(0.0) as u32;
    (0..=count)
        .map(|i| from + f64::from(i) * step)
        .filter_map(|t| Some((t, fit_at(near, t, peak_s, of)?)))
        .collect()
}

/// Mean and standard deviation of the time over the tries, each weighed by its likelihood beside the best one;
/// `size` is the variance of an error in units of the claimed one.
fn likely_time(tries: &[(f64, Fit)], least_left_over: f64, size: f64) -> (f64, f64) {
    let weighted: Vec<(f64, f64)> = tries
        .iter()
        .map(|(t, fit)| {
            (
                *t,
                (-(fit.left_over - least_left_over) / (2.0 * size)).exp(),
            )
        })
        .collect();
    let total: f64 = weighted.iter().map(|(_, w)| w).sum();
    let mean = weighted.iter().map(|(t, w)| t * w).sum::<f64>() / total;
    let var = weighted
        .iter()
        .map(|(t, w)| (t - mean).powi(2) * w)
        .sum::<f64>()
        / total;
    (mean, var.sqrt())
}

/// Observations closer together than this say the same thing about a change point, s.
const OBSERVATION_S: f64 = 1.0 / 75.0;

/// Means of observations that lie within [`OBSERVATION_S`]: a clip of many frames a second has no more to say of a
/// change point, only at greater cost.
fn gathered(observations: &[(f64, f64, f64)]) -> Vec<(f64, f64, f64)> {
    let span = observations.last().map_or(0.0, |l| l.0) - observations.first().map_or(0.0, |l| l.0);
    let interval = span / observations.len().max(2) as f64;
    let each = ((OBSERVATION_S / interval.max(1e-6)) as usize).max(1);
    observations
        .chunks(each)
        .map(|part| {
            let n = part.len() as f64;
            let mean = |of: &dyn Fn(&(f64, f64, f64)) -> f64| part.iter().map(of).sum::<f64>() / n;
            (mean(&|p| p.0), mean(&|p| p.1), mean(&|p| p.2) / n)
        })
        .collect()
}

fn fit_at(near: &[(f64, f64, f64)], change_point_s: f64, peak_s: f64, of: Of) -> Option<Fit> {
    let rows = rows(near, change_point_s, peak_s, of, true);
    let after = rows.iter().filter(|(row, _, _)| row[4] != 0.0).count();
    (after >= MIN_SIDE && rows.len() - after >= MIN_SIDE)
        .then(|| least_squares(&rows, 0.0))
        .flatten()
}

/// One, time, and powers of the time before and after the change point; without a change point one cubic. Of a turn
/// the waves in step with it as well. The observations are the same for every change point tried, or their likelihoods
/// could not be compared.
fn rows(
    near: &[(f64, f64, f64)],
    change_point_s: f64,
    peak_s: f64,
    of: Of,
    with_change_point: bool,
) -> Vec<(Vec<f64>, f64, f64)> {
    let near: Vec<_> = near
        .iter()
        .filter(|p| (p.0 - peak_s).abs() < SEARCH_S + BEFORE_S.max(AFTER_S) / 2.0)
        .collect();
    let span = near.last().map_or(0.0, |p| p.1) - near.first().map_or(0.0, |p| p.1);
    let waves = of == Of::Turn && span.abs() > WAVE_TURNS * std::f64::consts::TAU;
    near.iter()
        .map(|(t, value, var)| {
            let dt = t - change_point_s;
            let (before, after) = (dt.min(0.0), dt.max(0.0));
            let mut row = if with_change_point {
                vec![1.0, dt, before * before, before.powi(3), after * after]
            } else {
                vec![1.0, dt, dt * dt, dt.powi(3)]
            };
            if waves {
                let ((sin, cos), (sin_2, cos_2)) = (value.sin_cos(), (2.0 * value).sin_cos());
                row.extend([sin, cos, sin_2, cos_2]);
            }
            (row, *value, *var)
        })
        .collect()
}

/// The car's way as its observations give it, not smoothed.
pub(super) fn ways(moments: &[Moment<'_>], lever: crate::motion::Lever) -> Vec<(f64, f64, f64)> {
    moments
        .iter()
        .filter_map(|m| {
            let observation = m.body.observation?;
            let (sin, cos) = m.body.heading_rad().sin_cos();
            let along = nalgebra::Vector2::new(cos, sin);
            let expected = nalgebra::Vector2::new(
                m.body.x_m() + lever.ahead_m * cos - lever.left_m * sin,
                m.body.y_m() + lever.ahead_m * sin + lever.left_m * cos,
            );
            let off = (observation.at_m - expected).dot(&along);
            Some((
                m.body.time_s,
                m.travelled_m + off,
                observation.along(along).0,
            ))
        })
        .collect()
}

/// The wheel's turn as its observations give it, rad.
pub(super) fn turns(moments: &[Moment<'_>]) -> Vec<(f64, f64, f64)> {
    moments
        .iter()
        .filter_map(|m| {
            let (value, var) = m.wheel?.observation?;
            Some((m.body.time_s, value, var))
        })
        .collect()
}
