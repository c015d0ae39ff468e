//! The pull of the string: when it began and ended, the highest speed, and the coast after it.

use super::ending::{ChangePoint, Of, find_change_point, turns, ways};
use super::{CarFacts, Estimate, Finding, FindingReason, Findings, Key, Moment, Phase};
use crate::motion::{Motion, MotionReason, Release};
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
    /// The change point that the end of the pull leaves in the wheel's turn, or else in the car's way.
    pub change_point: Option<ChangePoint>,
}

/// A car slower than this stands, m/s.
const STANDING_M_PER_S: f64 = 0.03;
/// The speed must have fallen this many standard uncertainties below its highest to be past it.
const PAST_PEAK_SDS: f64 = 2.5;
/// A peak between two frames, and a pull that changes faster than the smoother takes it to, leave about this
/// share of the highest speed open (seen on drawn clips).
const PEAK_SHARE: f64 = 0.004;

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
        .max_by(|a, b| a.body.speed_m_per_s().total_cmp(&b.body.speed_m_per_s()));
    let peak_s = peak
        .filter(|peak| falls_after(peak, moments))
        .map(|peak| peak.body.time_s);
    let stopped_s = peak_s.and_then(|at| {
        moments
            .iter()
            .find(|m| m.body.time_s > at && m.body.speed_m_per_s() < STANDING_M_PER_S)
            .map(|m| m.body.time_s)
    });
    let change_point = peak_s
        .and_then(|peak_s| pull_change_point(motion, moments, car, peak_s))
        .filter(|found| surely_after(found, motion.release.as_ref().ok()));
    let end_s = match change_point {
        Some(change_point) => Some(change_point.time_s.value),
        None => string_end(moments, car, release_s, peak_s).or(peak_s),
    };
    Pull {
        release_s,
        peak_s,
        end_s,
        stopped_s,
        change_point,
    }
}

/// The end of the pull as the wheel shows it; a wheel that spins goes on pushing the car, so the car's
/// own way tells only where no wheel is seen.
fn pull_change_point(
    motion: &Motion,
    moments: &[Moment<'_>],
    car: &CarFacts,
    peak_s: f64,
) -> Option<ChangePoint> {
    let fastest = moments
        .iter()
        .filter_map(|m| Some((m.body.time_s, m.wheel?.rate_rad_per_s())))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    match fastest {
        Some((time_s, _)) => {
            let breaks_s = &motion.tuning.body.change_points_s;
            turn_change_point(turns(moments), time_s, breaks_s)
        }
        None => find_change_point(&ways(moments, car.lever), peak_s, Of::Way),
    }
}

/// A wheel that spins on is fastest where its pull ends, to within about four frames, s ...
const FASTEST_S: f64 = 0.06;
/// ... and takes some frames to grip, s: a break that is nearer is the end of the pull itself. Both chosen by hand.
const SPINS_ON_S: f64 = 0.08;

/// The end of the pull in the `(time, turn, variance)` of a wheel that is fastest at `fastest_s`. A wheel that spins on
/// when the string is out grips again soon, and its turn breaks once more: then only what comes before that one of
/// `breaks_s`, at which the car's motion breaks, is looked at.
fn turn_change_point(
    mut turns: Vec<(f64, f64, f64)>,
    fastest_s: f64,
    breaks_s: &[f64],
) -> Option<ChangePoint> {
    find_change_point(&turns, fastest_s, Of::Turn).or_else(|| {
        let later = breaks_s
            .iter()
            .filter(|at_s| **at_s > fastest_s + SPINS_ON_S);
        let grips_s = later.copied().min_by(f64::total_cmp)?;
        turns.retain(|(seen_s, ..)| *seen_s < grips_s);
        find_change_point(&turns, fastest_s, Of::Turn)
            .filter(|found| (found.time_s.value - fastest_s).abs() < FASTEST_S)
    })
}

/// A pull shorter than this many standard uncertainties of its ends is none: what changes so near the release is the
/// release itself, seen in the turns of a wheel that was lost soon after.
const PULL_SDS: f64 = 3.0;

fn surely_after(found: &ChangePoint, release: Option<&Release>) -> bool {
    release.is_none_or(|release| {
        let sd_s = found.time_s.sd.hypot(release.sd_s);
        found.time_s.value - release.time_s > PULL_SDS * sd_s
    })
}

fn falls_after(peak: &Moment<'_>, moments: &[Moment<'_>]) -> bool {
    let Some(last) = moments.last() else {
        return false;
    };
    let fall = peak.body.speed_m_per_s() - last.body.speed_m_per_s();
    let sd = (peak.body.covariance[(3, 3)] + last.body.covariance[(3, 3)])
        .max(0.0)
        .sqrt();
    fall > PAST_PEAK_SDS * sd && fall > 0.01 * peak.body.speed_m_per_s()
}

/// When the wheel had made all the turns that the string can give, if that is near the highest speed:
/// if the string slips on its axle the count is reached late or never, and the speed tells better.
fn string_end(
    moments: &[Moment<'_>],
    car: &CarFacts,
    release_s: Option<f64>,
    peak_s: Option<f64>,
) -> Option<f64> {
    let (budget, _) = car.string_turns?;
    let peak_s = peak_s?;
    super::slip::seen_since_start(moments, release_s).ok()?;
    let first = moments.iter().find_map(|m| m.wheel)?.angle_rad();
    let end = moments
        .iter()
        .find(|m| {
            m.wheel
                .is_some_and(|w| (w.angle_rad() - first) / TAU >= budget)
        })?
        .body
        .time_s;
    let pulled = peak_s - moments.first()?.body.time_s;
    (end < peak_s + 0.5 * pulled).then_some(end)
}

pub(super) fn add_quantities(motion: &Motion, moments: &[Moment<'_>], out: &mut Findings) {
    let pull = out.pull;
    out.values.insert(
        Key::ReleaseS,
        match &motion.release {
            Ok(release) => Ok(Estimate {
                value: release.time_s,
                sd: release.sd_s,
            }),
            Err(why) => Err((*why).into()),
        },
    );
    out.values
        .insert(Key::PoweredS, powered_s(motion, &pull, moments));
    out.values.insert(Key::PeakSpeedMPerS, peak_speed(moments));
    out.values.insert(Key::DistanceM, distance(moments));
}

fn powered_s(motion: &Motion, pull: &Pull, moments: &[Moment<'_>]) -> Finding {
    let release = motion.release.as_ref().map_err(|why| *why)?;
    if motion.wheel.is_err() && motion.axle.is_err() {
        return Err(FindingReason::EndUntold);
    }
    let (Some(peak), Some(end)) = (pull.peak_s, pull.end_s) else {
        return Err(FindingReason::StillGaining);
    };
    let step = moments
        .get(1)
        .map_or(0.02, |m| m.body.time_s - moments[0].body.time_s);
    // A wheel that spins goes on pushing: without a change point, only one that is in view at the highest speed tells.
    let seen_at_peak = || {
        moments
            .iter()
            .any(|m| m.wheel.is_some() && m.body.time_s >= peak)
    };
    if pull.change_point.is_none() && !seen_at_peak() {
        return Err(FindingReason::EndUntold);
    }
    // Where no change point shows the end, the pull fades out: between highest speed and string end lies what
    // cannot be told.
    let sd = pull
        .change_point
        .map_or_else(
            || ((end - peak).abs() / 2.0).hypot(3.0 * step),
            |change_point| change_point.time_s.sd.hypot(0.5 * step),
        )
        .hypot(release.sd_s);
    Ok(Estimate {
        value: end - release.time_s,
        sd,
    })
}

/// Highest smoothed speed. The highest of many uncertain speeds is mostly error: one that is surely high
/// counts for more.
fn peak_speed(moments: &[Moment<'_>]) -> Finding {
    let speed = |m: &Moment<'_>| Estimate {
        value: m.body.speed_m_per_s(),
        sd: m.body.speed_sd_m_per_s(),
    };
    let surely = |e: &Estimate| e.value - e.sd;
    let highest = moments
        .iter()
        .map(speed)
        .max_by(|a, b| surely(a).total_cmp(&surely(b)))
        .ok_or(MotionReason::StickerUnseen)?;
    Ok(Estimate {
        sd: highest.sd.hypot(PEAK_SHARE * highest.value),
        ..highest
    })
}

fn distance(moments: &[Moment<'_>]) -> Finding {
    let (Some(first), Some(last)) = (moments.first(), moments.last()) else {
        return Err(MotionReason::StickerUnseen.into());
    };
    let sd = (super::slip::along_var(first) + super::slip::along_var(last)).sqrt();
    Ok(Estimate {
        value: last.travelled_m,
        sd,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wheel_that_spins_on_shows_the_end_of_its_pull_before_it_grips() {
        // By hand: at 60 frames a second a wheel gains 70 rad/s² from rest for 0.8 s, loses 250 rad/s² while it spins
        // on for 0.16 s, and then 2 rad/s² with the car, which breaks where the wheel grips.
        let (out_s, grips_s): (f64, f64) = (0.8, 0.96);
        let (rate, gripped) = (70.0 * out_s, 70.0 * out_s - 250.0 * 0.16);
        let turn = |t: f64| {
            let (pulled, spun, rolled) = (
                t.min(out_s),
                (t - out_s).clamp(0.0, grips_s - out_s),
                (t - grips_s).max(0.0),
            );
            35.0 * pulled * pulled + rate * spun - 125.0 * spun * spun + gripped * rolled
                - rolled * rolled
        };
        let noise = |i: usize| 0.02 * (7.3 * (i * i) as f64).sin();
        let seen: Vec<(f64, f64, f64)> = (0..110)
            .map(|i| (i as f64 / 60.0, turn(i as f64 / 60.0) + noise(i), 2e-4))
            .collect();
        assert_eq!(turn_change_point(seen.clone(), out_s, &[]), None);
        let found = turn_change_point(seen.clone(), out_s, &[grips_s]).unwrap();
        assert!((found.time_s.value - out_s).abs() < 0.01, "{found:?}");
        assert!(found.time_s.sd < 0.01 && found.loss < -100.0, "{found:?}");
        // A break where the wheel is fastest is the end itself, and what comes before it shows none.
        assert_eq!(turn_change_point(seen, out_s, &[out_s + 0.02]), None);
    }

    #[test]
    fn a_change_at_the_release_is_no_end_of_a_pull() {
        let release = Release {
            time_s: 0.35,
            sd_s: 0.004,
        };
        let at = |value: f64, sd: f64| ChangePoint {
            time_s: Estimate { value, sd },
            rate: Estimate {
                value: 1.0,
                sd: 0.1,
            },
            gain: 3.0,
            loss: -1.0,
        };
        // A wheel that was lost soon gave an end 0.07 s before the release.
        assert!(!surely_after(&at(0.28, 0.05), Some(&release)));
        assert!(!surely_after(&at(0.45, 0.05), Some(&release)));
        assert!(surely_after(&at(0.95, 0.05), Some(&release)));
        assert!(surely_after(&at(0.95, 0.05), None));
    }
}
