//! The pull of the string: when it began and ended, the highest speed, and the coast after it.

use super::{CarFacts, Estimate, Finding, Findings, Key, Moment, Phase, STANDARD_GRAVITY_M_PER_S2};
use crate::motion::Motion;
use std::f64::consts::TAU;

/// When the pull began and ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pull {
    /// First motion, s; `None` where the clip begins later.
    pub release_s: Option<f64>,
    /// Time of the highest speed, s; `None` where the speed was still rising at the end of the view.
    pub peak_s: Option<f64>,
    /// End of the pull, s: when the wheel had turned as often as the string allows, else the highest
    /// speed.
    pub end_s: Option<f64>,
    /// When the car stood still again, s.
    pub stopped_s: Option<f64>,
}

/// A car slower than this stands, m/s.
const STANDING_M_PER_S: f64 = 0.03;
/// The speed must have fallen this many standard uncertainties below its highest to be past it.
const PAST_PEAK_SDS: f64 = 2.5;
/// A coast shorter than this shows no deceleration, s.
const MIN_COAST_S: f64 = 0.25;
/// The first part of the coast still has the spring's last pull in it.
const SETTLING_SHARE: f64 = 0.3;

/// The smoother rounds or overshoots a sharp peak by up to about this share (seen on drawn clips).
const PEAK_SHARE: f64 = 0.005;
/// A scale that bends by a thousandth along the coast changes its slope by this share.
const BENT_SCALE_SHARE: f64 = 0.03;

impl Pull {
    /// Which part of the run a moment belongs to.
    pub fn phase(&self, moment: &Moment<'_>) -> Phase {
        let time = moment.body.time_s;
        if self.release_s.is_some_and(|t| time <= t) {
            Phase::Rest
        } else if self.stopped_s.is_some_and(|t| time >= t) {
            Phase::Stopped
        } else if self.end_s.is_some_and(|t| time > t) {
            Phase::Coast
        } else {
            Phase::Powered
        }
    }

    /// When nothing drives the car any more: string out and highest speed over. A wheel that still
    /// spins after the string is out goes on pushing.
    pub fn settled_s(&self) -> Option<f64> {
        self.peak_s
            .map(|peak| self.end_s.map_or(peak, |end| end.max(peak)))
    }

    /// Whether the highest speed is over: from then on nothing pushes harder than the losses, so the
    /// driven wheel rolls.
    pub fn past_peak(&self, moment: &Moment<'_>) -> bool {
        let time = moment.body.time_s;
        self.peak_s.is_some_and(|t| time >= t) && self.stopped_s.is_none_or(|t| time < t)
    }
}

/// Finds release, highest speed and the end of the pull.
pub fn find_pull(motion: &Motion, moments: &[Moment<'_>], car: &CarFacts) -> Pull {
    let release_s = motion.release.as_ref().ok().map(|r| r.time_s);
    let peak = moments
        .iter()
        .max_by(|a, b| a.body.mean[3].total_cmp(&b.body.mean[3]));
    let peak_s = peak
        .filter(|peak| falls_after(peak, moments))
        .map(|peak| peak.body.time_s);
    let stopped_s = peak_s.and_then(|at| {
        moments
            .iter()
            .find(|m| m.body.time_s > at && m.body.mean[3] < STANDING_M_PER_S)
            .map(|m| m.body.time_s)
    });
    Pull {
        release_s,
        peak_s,
        end_s: string_end(moments, car, peak_s).or(peak_s),
        stopped_s,
    }
}

fn falls_after(peak: &Moment<'_>, moments: &[Moment<'_>]) -> bool {
    let Some(last) = moments.last() else {
        return false;
    };
    let fall = peak.body.mean[3] - last.body.mean[3];
    let sd = (peak.body.covariance[(3, 3)] + last.body.covariance[(3, 3)])
        .max(0.0)
        .sqrt();
    fall > PAST_PEAK_SDS * sd && fall > 0.01 * peak.body.mean[3]
}

/// When the wheel had made all the turns that the string can give, if that is near the highest speed:
/// if the string slips on its axle the count is reached late or never, and the speed tells better.
fn string_end(moments: &[Moment<'_>], car: &CarFacts, peak_s: Option<f64>) -> Option<f64> {
    let (budget, _) = car.string_turns?;
    let peak_s = peak_s?;
    let first = moments.iter().find_map(|m| m.wheel)?.mean[0];
    let end = moments
        .iter()
        .find(|m| m.wheel.is_some_and(|w| (w.mean[0] - first) / TAU >= budget))?
        .body
        .time_s;
    let pulled = peak_s - moments.first()?.body.time_s;
    (end < peak_s + 0.5 * pulled).then_some(end)
}

pub(super) fn add_quantities(
    motion: &Motion,
    moments: &[Moment<'_>],
    car: &CarFacts,
    out: &mut Findings,
) {
    let pull = out.pull;
    out.values.insert(
        Key::ReleaseS,
        match &motion.release {
            Ok(release) => Ok(Estimate {
                value: release.time_s,
                sd: release.sd_s,
            }),
            Err(why) => Err(why.clone()),
        },
    );
    out.values
        .insert(Key::PoweredS, powered_s(motion, &pull, moments));
    out.values.insert(Key::PeakSpeedMPerS, peak_speed(moments));
    out.values.insert(Key::DistanceM, distance(moments));
    let coast = coast_deceleration(moments, &pull);
    out.values.insert(
        Key::RollingResistance,
        coast.clone().map(|a| Estimate {
            value: a.value / STANDARD_GRAVITY_M_PER_S2,
            sd: a.sd / STANDARD_GRAVITY_M_PER_S2,
        }),
    );
    out.values.insert(Key::CoastDecelerationMPerS2, coast);
    out.values
        .insert(Key::StringSlipTurns, string_slip(moments, &pull, car));
}

fn powered_s(motion: &Motion, pull: &Pull, moments: &[Moment<'_>]) -> Finding {
    let release = motion.release.as_ref().map_err(Clone::clone)?;
    let (Some(peak), Some(end)) = (pull.peak_s, pull.end_s) else {
        return Err("the car was still gaining speed when it left the view".to_owned());
    };
    let step = moments
        .get(1)
        .map_or(0.02, |m| m.body.time_s - moments[0].body.time_s);
    // The spring's pull fades out; between highest speed and string end lies what cannot be told.
    let sd = ((end - peak).abs() / 2.0)
        .hypot(3.0 * step)
        .hypot(release.sd_s);
    Ok(Estimate {
        value: end - release.time_s,
        sd,
    })
}

fn peak_speed(moments: &[Moment<'_>]) -> Finding {
    moments
        .iter()
        .max_by(|a, b| a.body.mean[3].total_cmp(&b.body.mean[3]))
        .map(|m| Estimate {
            value: m.body.mean[3],
            sd: m.body.covariance[(3, 3)]
                .max(0.0)
                .sqrt()
                .hypot(PEAK_SHARE * m.body.mean[3]),
        })
        .ok_or_else(|| "the sticker was not seen".to_owned())
}

fn distance(moments: &[Moment<'_>]) -> Finding {
    let (Some(first), Some(last)) = (moments.first(), moments.last()) else {
        return Err("the sticker was not seen".to_owned());
    };
    let sd = (super::slip::along_var(first) + super::slip::along_var(last)).sqrt();
    Ok(Estimate {
        value: last.travelled_m,
        sd,
    })
}

/// Slope of the speed over the settled part of the coast: from the way travelled in its two halves, so
/// that the smoother's local wiggles do not enter.
fn coast_deceleration(moments: &[Moment<'_>], pull: &Pull) -> Finding {
    let coasting: Vec<&Moment<'_>> = moments
        .iter()
        .filter(|m| {
            pull.phase(m) == Phase::Coast
                && m.body.seen
                && pull.settled_s().is_some_and(|t| m.body.time_s > t)
        })
        .collect();
    let short = || "the clip shows no coast long enough to measure its slowing down".to_owned();
    let (Some(first), Some(last)) = (coasting.first(), coasting.last()) else {
        return Err(short());
    };
    let settled_s = first.body.time_s + SETTLING_SHARE * (last.body.time_s - first.body.time_s);
    let settled: Vec<&&Moment<'_>> = coasting
        .iter()
        .filter(|m| m.body.time_s >= settled_s)
        .collect();
    if settled.len() < 6 || last.body.time_s - settled_s < MIN_COAST_S {
        return Err(short());
    }
    let (a, b, c) = (
        settled[0],
        settled[settled.len() / 2],
        settled[settled.len() - 1],
    );
    let (t1, t2) = (b.body.time_s - a.body.time_s, c.body.time_s - b.body.time_s);
    let early = (b.travelled_m - a.travelled_m) / t1;
    let late = (c.travelled_m - b.travelled_m) / t2;
    let apart = f64::midpoint(t1, t2);
    // Second difference of three places with their own errors.
    let var = |m: &Moment<'_>| super::slip::along_var(m);
    let sd = (var(a) / (t1 * t1) + var(b) * (1.0 / t1 + 1.0 / t2).powi(2) + var(c) / (t2 * t2))
        .sqrt()
        / apart;
    // Errors that wander slowly look like a change of slope: the smoother's own doubt about the
    // acceleration says how much of that there may be.
    let wander = 0.5 * b.body.covariance[(4, 4)].max(0.0).sqrt();
    let sd = sd
        .hypot(BENT_SCALE_SHARE * (early - late) / apart)
        .hypot(wander);
    Ok(Estimate {
        value: (early - late) / apart,
        sd,
    })
}

/// Turns missing against the string's budget. The string may still pull a little after the highest
/// speed, so the turns at its end lie between that moment's and those at the settled coast.
fn string_slip(moments: &[Moment<'_>], pull: &Pull, car: &CarFacts) -> Finding {
    let (budget, budget_sd) = car
        .string_turns
        .ok_or("the run sheet does not give both `axle_diameter_mm` and `string_mm`")?;
    let peak_s = pull.peak_s.ok_or("the end of the pull is not in view")?;
    let with_wheel: Vec<(&Moment<'_>, f64)> = moments
        .iter()
        .filter_map(|m| Some((m, m.wheel?.mean[0])))
        .collect();
    let first = with_wheel
        .first()
        .ok_or("the wheel mark was not seen beside the sticker")?
        .1;
    let turns_at = |time: f64| {
        with_wheel
            .iter()
            .find(|(m, _)| m.body.time_s >= time)
            .map(|(_, a)| (a - first) / TAU)
    };
    let at_peak = turns_at(peak_s).ok_or("the wheel mark was lost before the end of the pull")?;
    let last_s = with_wheel.last().map_or(peak_s, |(m, _)| m.body.time_s);
    let settled_s = peak_s + SETTLING_SHARE * (last_s - peak_s);
    let at_settled = turns_at(settled_s).unwrap_or(at_peak);
    // Once the budget is reached nothing is missing, whatever the wheel turns on the coast.
    let turned = if at_settled >= budget {
        budget
    } else {
        f64::midpoint(at_peak, at_settled)
    };
    let spread = if at_settled >= budget {
        0.02
    } else {
        (at_settled - at_peak) / 4.0
    };
    Ok(Estimate {
        value: budget - turned,
        sd: budget_sd.hypot(spread),
    })
}
