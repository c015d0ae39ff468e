//! The coast: how fast the car loses its speed once nothing drives it, and what that costs.

use super::ending::ways;
use super::least::{Fit, least_squares};
use super::{
    CarFacts, Effect, Estimate, Finding, FindingReason, Findings, Key, Moment, Pull,
    STANDARD_GRAVITY_M_PER_S2,
};
use nalgebra::DVector;

/// What an ordinary car of this kind loses while it coasts, as a share of its weight, air included, and
/// the standard uncertainty of that over such cars. Common practice, no source: drawn and built cars of
/// 150 to 250 g on hard wheels lose 1 to 4 hundredths. Handbook values for large wheels are lower: 0.002
/// for a bicycle tyre on concrete, 0.010 to 0.015 for a car tyre (engineering tables), 0.008 for a
/// pneumatic tyre on a hard road (Marks' handbook, after Moyer).
pub const ORDINARY_LOSS: Estimate = Estimate {
    value: 0.022,
    sd: 0.008,
};
/// A coast shorter than this shows no deceleration, s.
const MIN_COAST_S: f64 = 0.2;
/// Frames after the end of the pull that are left out: its moment is known to about a frame.
const SETTLING_FRAMES: f64 = 1.5;
/// Air takes about this share of speed squared, 1/m: half the air's density (1.2 kg/m³) times drag area
/// (0.012 m²) over mass (0.2 kg). Common practice, no source; good to a factor of two.
pub(super) const AIR_PER_M: f64 = 0.035;
/// Standard uncertainty of that: half of it.
pub(super) const AIR_PER_M_SD: f64 = 0.018;
/// Standard uncertainties on each side of a 95 % interval.
pub(super) const COVERAGE: f64 = 1.96;
/// Errors that stay alike over a quarter of the coast, px, as they are expected before the looks at it say more.
const SLOW_ERROR_PX: f64 = 0.04;
/// How much that expectation counts, in looks at slow errors: a little less than the coast's own, since cameras differ
/// widely, but three observations alone scatter.
const EXPECTED_OBSERVATIONS: f64 = 2.0;
/// Powers of the time beyond the fit's square by which slow errors are seen: the nearest ones. Slow errors fade
/// towards higher powers.
const NEXT_POWERS: [i32; 3] = [3, 4, 5];

/// A fitted coast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coast {
    /// Speed when it begins, m/s.
    pub speed_m_per_s: f64,
    /// Mean loss of speed while it is seen, m/s².
    pub loss: Estimate,
    /// Loss of speed at the speed that the car had when the string ran out, m/s².
    pub loss_at_string_end: Estimate,
    /// What of the loss does not depend on speed, m/s².
    pub rolling: Estimate,
    /// How that changes with the share that the air is taken to have, m/s² for each 1/m.
    pub rolling_by_air: f64,
    /// How long it is in view, up to a standstill, s.
    pub seen_s: f64,
}

/// Fits `s(t)` of a car that loses `a + b v²`: a and the speed at the start from the observations, b from what
/// such cars have.
///
/// # Errors
/// The reason where there is too little of a coast.
pub fn fit_coast(
    moments: &[Moment<'_>],
    pull: &Pull,
    car: &CarFacts,
) -> Result<Coast, FindingReason> {
    let short = FindingReason::ShortCoast;
    let part = coasting(moments, pull).ok_or(short)?;
    let observations = ways(&part, car.lever);
    let (Some(first), Some(last)) = (observations.first(), observations.last()) else {
        return Err(short);
    };
    let seen_s = last.0 - first.0;
    if seen_s < MIN_COAST_S {
        return Err(short);
    }
    let fits = fit_losses(&observations, &part).ok_or(short)?;
    let speed = part[0].body.speed_m_per_s();
    let mean_square = part
        .iter()
        .map(|m| m.body.speed_m_per_s().powi(2))
        .sum::<f64>()
        / part.len() as f64;
    // Wheels that spin on after the string's end push the car to a higher speed than it had then.
    let end_speed = moments
        .iter()
        .find(|m| pull.end_s.is_some_and(|end| m.body.time_s >= end))
        .map_or(speed, |m| m.body.speed_m_per_s());
    let fitted_speed = fits.with_air.values[1];
    Ok(Coast {
        speed_m_per_s: if fitted_speed > 0.0 {
            fitted_speed
        } else {
            speed
        },
        loss: fits.loss_at(mean_square),
        loss_at_string_end: fits.loss_at(end_speed * end_speed),
        rolling: Estimate {
            value: fits.with_air.values[2],
            sd: fits.rolling_sd(),
        },
        rolling_by_air: (fits.with_air.values[2] - fits.without_air.values[2]) / AIR_PER_M,
        seen_s,
    })
}

/// The moments from shortly after the end of the pull to the standstill; `None` where that end was not seen.
fn coasting<'a>(moments: &[Moment<'a>], pull: &Pull) -> Option<Vec<Moment<'a>>> {
    let step = moments
        .get(1)
        .map_or(0.02, |m| m.body.time_s - moments[0].body.time_s);
    let start_s = pull.settled_s()? + SETTLING_FRAMES * step;
    let coasts = |m: &&Moment<'_>| {
        m.body.time_s >= start_s && pull.stopped_s.is_none_or(|stop| m.body.time_s < stop)
    };
    Some(moments.iter().filter(coasts).copied().collect())
}

/// The way of a coast fitted by its start, its speed there and its loss of speed.
struct LossFits {
    /// With the share of the air that such cars have.
    with_air: Fit,
    /// As if there were none.
    without_air: Fit,
}

/// Fits the observed ways `(time, way, variance)` of the coast `part`.
fn fit_losses(observations: &[(f64, f64, f64)], part: &[Moment<'_>]) -> Option<LossFits> {
    let from_s = observations.first()?.0;
    let slow = slow_share(part);
    let air = air_way(part);
    let rows = |b: f64| -> Vec<(Vec<f64>, f64, f64)> {
        observations
            .iter()
            .map(|(t, way, var)| {
                let dt = t - from_s;
                (vec![1.0, dt, -0.5 * dt * dt], way + b * at(&air, *t), *var)
            })
            .collect()
    };
    let with_air_rows = rows(AIR_PER_M);
    let mut with_air = least_squares(&with_air_rows, slow)?;
    with_air.covariance *= slow_error_variance(&with_air_rows, with_air.factor) / with_air.factor;
    let without_air = least_squares(&rows(0.0), slow)?;
    Some(LossFits {
        with_air,
        without_air,
    })
}

impl LossFits {
    fn rolling_sd(&self) -> f64 {
        self.with_air.covariance[(2, 2)].max(0.0).sqrt()
    }

    /// Loss of speed at a speed whose square is given, m/s².
    fn loss_at(&self, square: f64) -> Estimate {
        let value = self.with_air.values[2] + AIR_PER_M * square;
        // What the air's share is not known by, in proportion to what leaving it out changes.
        let by_air = (value - self.without_air.values[2]) * AIR_PER_M_SD / AIR_PER_M;
        Estimate {
            value,
            sd: self.rolling_sd().hypot(by_air),
        }
    }
}

/// Variance of errors that last about as long as the coast, in units of the claimed one; `expected` is what it would
/// be without a look at the coast itself.
///
/// What bends the fit is error as slow as the square of the time, and how much of that there is differs from camera to
/// camera: a sharpened or coded mark keeps its halo while it crosses a part of the picture, and neighbouring frames
/// then tell nothing of it. It is seen in the powers of the time just beyond the square: a car that coasts has none of
/// these, so each, made perpendicular to those before, is one observation at the error's size at nearly that pace.
/// With the expectation as a prior (scaled inverse chi-squared) the mean of the posterior is returned.
///
/// # Source
/// Gelman et al., Bayesian Data Analysis, conjugate prior of a normal variance (from memory).
fn slow_error_variance(rows: &[(Vec<f64>, f64, f64)], expected: f64) -> f64 {
    let powers = 3 + NEXT_POWERS.len();
    let length = rows.last().map_or(0.0, |(row, _, _)| row[1]);
    if rows.len() < 2 * powers || length <= 0.0 {
        return expected;
    }
    let weighted = |of: &dyn Fn(f64, f64) -> f64| {
        DVector::from_iterator(
            rows.len(),
            rows.iter()
                .map(|(row, way, var)| of(2.0 * row[1] / length - 1.0, *way) / var.sqrt()),
        )
    };
    let mut left = weighted(&|_, way| way);
    let mut basis: Vec<DVector<f64>> = Vec::with_capacity(powers);
    let mut seen = 0.0;
    for power in (0..3).chain(NEXT_POWERS) {
        let mut next = weighted(&|t, _| t.powi(power));
        for before in &basis {
            let along = before.dot(&next);
            next.axpy(-along, before, 1.0);
        }
        let next = next.normalize();
        let size = next.dot(&left);
        left.axpy(-size, &next, 1.0);
        if power > 2 {
            seen += size * size;
        }
        basis.push(next);
    }
    let observations = NEXT_POWERS.len() as f64;
    (EXPECTED_OBSERVATIONS * expected + seen) / (EXPECTED_OBSERVATIONS + observations - 2.0)
}

/// `∫∫ v² dt dt` since the first moment: what the air has taken of the way, per unit of its share.
fn air_way(part: &[Moment<'_>]) -> Vec<(f64, f64)> {
    let (mut speed_lost, mut way_lost) = (0.0, 0.0);
    let mut out = Vec::with_capacity(part.len());
    for (index, moment) in part.iter().enumerate() {
        if index > 0 {
            let before = &part[index - 1];
            let dt = moment.body.time_s - before.body.time_s;
            let square = f64::midpoint(
                before.body.speed_m_per_s().powi(2),
                moment.body.speed_m_per_s().powi(2),
            );
            way_lost += speed_lost * dt + 0.5 * square * dt * dt;
            speed_lost += square * dt;
        }
        out.push((moment.body.time_s, way_lost));
    }
    out
}

fn at(air: &[(f64, f64)], time_s: f64) -> f64 {
    let index = air.partition_point(|(t, _)| *t < time_s);
    air.get(index).or(air.last()).map_or(0.0, |(_, way)| *way)
}

fn slow_share(part: &[Moment<'_>]) -> f64 {
    let shares: Vec<f64> = part
        .iter()
        .filter_map(|m| {
            let observation = m.body.observation?;
            let (sin, cos) = m.body.heading_rad().sin_cos();
            let (var, pixel) = observation.along(nalgebra::Vector2::new(cos, sin));
            Some((SLOW_ERROR_PX * pixel).powi(2) / var)
        })
        .collect();
    shares.iter().sum::<f64>() / shares.len().max(1) as f64
}

pub(super) fn add_quantities(
    moments: &[Moment<'_>],
    car: &CarFacts,
    out: &mut Findings,
) -> Result<Coast, FindingReason> {
    let coast = fit_coast(moments, &out.pull, car);
    let of = |get: &dyn Fn(&Coast) -> Estimate| -> Finding {
        coast.as_ref().map(get).map_err(|why| *why)
    };
    out.values.insert(
        Key::CoastDecelerationMPerS2,
        of(&|coast| coast.loss_at_string_end),
    );
    out.values.insert(
        Key::RollingResistance,
        of(&|coast| Estimate {
            value: coast.loss_at_string_end.value / STANDARD_GRAVITY_M_PER_S2,
            sd: coast.loss_at_string_end.sd / STANDARD_GRAVITY_M_PER_S2,
        }),
    );
    let view_end_s = moments.last().map_or(0.0, |m| m.body.time_s);
    let standing_s = out
        .pull
        .stopped_s
        .map_or(0.0, |stop| (view_end_s - stop).max(0.0));
    out.effects
        .insert(Effect::DragLost, of(&|c| lost_in_view(c, standing_s)));
    out.effects
        .insert(Effect::DragLostInAll, of(&lost_to_standstill));
    coast
}

const fn ordinary() -> Estimate {
    Estimate {
        value: ORDINARY_LOSS.value * STANDARD_GRAVITY_M_PER_S2,
        sd: ORDINARY_LOSS.sd * STANDARD_GRAVITY_M_PER_S2,
    }
}

/// Way that an ordinary coast from the same speed would have gone further while this one was in view.
fn lost_in_view(coast: &Coast, standing_s: f64) -> Estimate {
    let ordinary = ordinary();
    let half = 0.5 * coast.seen_s * coast.seen_s;
    let while_moving = half * (coast.loss.value - ordinary.value);
    // Once this one stands, the ordinary one still rolls.
    let ahead = (coast.speed_m_per_s - ordinary.value * coast.seen_s).max(0.0);
    let rolls_s = standing_s.min(ahead / ordinary.value);
    let afterwards = ahead * rolls_s - 0.5 * ordinary.value * rolls_s * rolls_s;
    Estimate {
        value: while_moving + afterwards,
        sd: half * coast.loss.sd.hypot(ordinary.sd) + 0.3 * afterwards,
    }
}

/// The same until both stand: `v² / 2a` for either.
fn lost_to_standstill(coast: &Coast) -> Estimate {
    let ordinary = ordinary();
    // A loss that the observations cannot tell from none would go on for ever.
    let loss = coast.loss.value.max(0.1 * ordinary.value);
    let energy = 0.5 * coast.speed_m_per_s.powi(2);
    // The way goes by the reciprocal, far from a straight line over such a range: the low end is what
    // the worst of the ordinary cars against the best of this one's interval would give.
    let worst = ordinary.value + COVERAGE * ordinary.sd;
    let by_ordinary = energy / ordinary.value - energy / worst;
    let by_loss = energy / loss - energy / (loss + COVERAGE * coast.loss.sd);
    Estimate {
        value: energy / ordinary.value - energy / loss,
        sd: by_ordinary.hypot(by_loss) / COVERAGE,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A coast that is seen for a second, from 1 m/s.
    fn losing(loss_m_per_s2: f64) -> Coast {
        let loss = Estimate {
            value: loss_m_per_s2,
            sd: 0.0,
        };
        Coast {
            speed_m_per_s: 1.0,
            loss,
            loss_at_string_end: loss,
            rolling: loss,
            rolling_by_air: 0.0,
            seen_s: 1.0,
        }
    }

    #[test]
    fn a_coast_to_a_standstill_costs_what_the_energy_says() {
        // By hand, v² / 2a: 5 m at 0.1 m/s², 0.5 m at 1 m/s². What such cars lose is 0.022 of 9.806 65 m/s²
        // (0.215 746 3 m/s²) and lets them roll 2.317 537 m.
        for (loss, way) in [(0.1, 5.0), (1.0, 0.5)] {
            let lost = lost_to_standstill(&losing(loss)).value;
            assert!((lost - (2.317_537 - way)).abs() < 1e-6, "{lost}");
        }
    }

    /// A second of a coast from 1 m/s at 60 frames a second, its observations claimed to 0.1 mm, with an error.
    fn rows(error_mm: impl Fn(f64) -> f64) -> Vec<(Vec<f64>, f64, f64)> {
        (0..60)
            .map(|i| f64::from(i) / 59.0)
            .map(|t| {
                let way = t - 0.1 * t * t + 1e-3 * error_mm(t);
                (vec![1.0, t, -0.5 * t * t], way, 1e-8)
            })
            .collect()
    }

    #[test]
    fn slow_errors_are_seen_in_the_powers_that_no_coast_has() {
        // Nothing but a coast: two thirds of what was expected, by hand 2 · 3 / (2 + 3 - 2).
        assert!((slow_error_variance(&rows(|_| 0.0), 3.0) - 2.0).abs() < 1e-6);
        // What changes from frame to frame adds next to nothing.
        let quick = slow_error_variance(&rows(|t| 0.1 * (180.0 * t).cos()), 3.0);
        assert!(quick < 2.2, "{quick}");
        // A slow wave of the same size: 60 observations of 1² / 2 in all, nearly all of it at that pace.
        let slow = slow_error_variance(&rows(|t| 0.1 * (9.0 * t).sin()), 3.0);
        assert!(slow > 4.0, "{slow}");
        // Whatever is fitted shows as no error.
        let fitted = slow_error_variance(&rows(|t| 5.0 + 3.0 * t - 40.0 * t * t), 3.0);
        assert!((fitted - 2.0).abs() < 1e-6, "{fitted}");
    }

    #[test]
    fn a_coast_that_dies_loses_way_while_in_view() {
        // By hand, v t - a t² / 2: this car goes 0.5 m in its second and stands; such cars go 0.892 127 m in one
        // second, 1.568 507 m in two, and 2.317 537 m until they stand after 4.635 s.
        for (standing_s, ordinary_m) in [(0.0, 0.892_127), (1.0, 1.568_507), (9.0, 2.317_537)] {
            let lost = lost_in_view(&losing(1.0), standing_s).value;
            assert!((lost - (ordinary_m - 0.5)).abs() < 1e-6, "{lost}");
        }
    }
}
