//! The end of the pull: the moment at which something that was gaining speed stops gaining.
//!
//! When the string has run out the push stops at once, so way and turn have a change point in their second
//! derivative. It is found as a change point: before it a cubic, after it a parabola, joined without a
//! step in value or rate; the time's own likelihood gives its uncertainty.

use super::least::{Fit, Rows};
use super::{Estimate, Moment};
use crate::noise::weighed_by_likelihood;

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
    let mut about = About::of(&near, peak_s, of);
    let tries = about.tries(step);
    let (best_s, least) = tries.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let best: Fit = about.broken_at(best_s).solved()?.fit(0.0);
    let size = best.left_over / best.spare * best.inflation;
    let smooth = about.unbroken(best_s).solved()?.left_over;
    if smooth - least < MIN_GAIN * size {
        return None;
    }
    // `size` is the variance of an error in units of the claimed one.
    let likely = (tries.iter()).map(|(t, left_over)| (*t, -left_over / (2.0 * size)));
    let (time_s, spread_s) = weighed_by_likelihood(&likely)?;
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

/// The observations about a change point that is sought: the same for every moment that is tried, or their likelihoods
/// could not be compared.
struct About<'a> {
    /// All that are near; change points are sought among them.
    near: &'a [(f64, f64, f64)],
    /// Those that are fitted ...
    used: Vec<(f64, f64, f64)>,
    /// ... and, of a turn, sine and cosine of the waves in step with it; else nothing.
    waves: Vec<[f64; 4]>,
    peak_s: f64,
    rows: Rows,
}

impl<'a> About<'a> {
    fn of(near: &'a [(f64, f64, f64)], peak_s: f64, of: Of) -> Self {
        let used: Vec<_> = near
            .iter()
            .filter(|p| (p.0 - peak_s).abs() < SEARCH_S + BEFORE_S.max(AFTER_S) / 2.0)
            .copied()
            .collect();
        let span = used.last().map_or(0.0, |p| p.1) - used.first().map_or(0.0, |p| p.1);
        let waves = of == Of::Turn && span.abs() > WAVE_TURNS * std::f64::consts::TAU;
        let wave = |(_, value, _): &(f64, f64, f64)| {
            let ((sin, cos), (sin_2, cos_2)) = (value.sin_cos(), (2.0 * value).sin_cos());
            [sin, cos, sin_2, cos_2]
        };
        let waves: Vec<[f64; 4]> = if waves {
            used.iter().map(wave).collect()
        } else {
            Vec::new()
        };
        Self {
            near,
            used,
            waves,
            peak_s,
            rows: Rows::new(0),
        }
    }

    /// Change points tried `step` apart, each with the squares that it leaves over.
    fn tries(&mut self, step: f64) -> Vec<(f64, f64)> {
        let near = self.near;
        let from = (self.peak_s - SEARCH_S).max(near[MIN_SIDE].0);
        let to = (self.peak_s + SEARCH_S).min(near[near.len() - 1 - MIN_SIDE].0);
        let count = ((to - from) / step).max(0.0) as u32;
        (0..=count)
            .map(|i| from + f64::from(i) * step)
            .filter_map(|t| {
                let after = self.used.iter().filter(|p| p.0 > t).count();
                let enough = after >= MIN_SIDE && self.used.len() - after >= MIN_SIDE;
                let solved = enough.then(|| self.broken_at(t).solved()).flatten();
                Some((t, solved?.left_over))
            })
            .collect()
    }

    /// One, time, and powers of the time before and after a change point.
    fn broken_at(&mut self, change_point_s: f64) -> &Rows {
        self.filled(change_point_s, |dt| {
            let (before, after) = (dt.min(0.0), dt.max(0.0));
            [1.0, dt, before * before, before.powi(3), after * after]
        })
    }

    /// One cubic, without a change point.
    fn unbroken(&mut self, about_s: f64) -> &Rows {
        self.filled(about_s, |dt| [1.0, dt, dt * dt, dt.powi(3)])
    }

    fn filled<const N: usize>(&mut self, about_s: f64, row: impl Fn(f64) -> [f64; N]) -> &Rows {
        let waves = self.waves.first().map_or(0, |wave| wave.len());
        if self.rows.columns() == N + waves {
            self.rows.clear();
        } else {
            self.rows = Rows::new(N + waves);
        }
        for (index, (t, value, var)) in self.used.iter().enumerate() {
            let wave = self.waves.get(index).into_iter().flatten().copied();
            self.rows
                .push(row(t - about_s).into_iter().chain(wave), *value, *var);
        }
        &self.rows
    }
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
