//! Slip of the driven wheel, the radius it rolls on, and the travel that was spun away.

use super::{
    CarFacts, Effect, Estimate, Finding, FindingReason, Findings, Key, MIN_RIM_SPEED_M_PER_S,
    Missing, Moment, Phase, Pull, STANDARD_GRAVITY_M_PER_S2,
};
use crate::camera::{CameraReason, Scale, View};
use crate::motion::{Motion, MotionReason, Wheel, WheelState};
use serde::Serialize;
use std::f64::consts::TAU;

/// Slip ratio of a driving wheel: 0 rolls, 1 spins on the spot; negative while the wheel drags.
///
/// # Units
/// Speed in m/s, wheel rate in rad/s, radius in m; the ratio has none. `None` for a wheel at rest.
///
/// # Source
/// `s = 1 - v / (r ω)`: J. Y. Wong, Theory of Ground Vehicles, chapter 1, longitudinal slip (citation from memory).
pub fn slip_ratio(speed_m_per_s: f64, rate_rad_per_s: f64, radius_m: f64) -> Option<f64> {
    let rim = rate_rad_per_s * radius_m;
    (rim != 0.0).then(|| 1.0 - speed_m_per_s / rim)
}

/// Slip ratio in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlipAt {
    /// `1 - v / (r ω)`.
    pub ratio: f64,
    /// Its standard uncertainty.
    pub sd: f64,
}

/// Where the rolling radius comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RollingSource {
    /// From the coast in the same clip, where the wheel rolls: the scale cancels out of the slip.
    Coast,
    /// Half the diameter in the run sheet.
    RunSheet,
}

/// What the driven wheel rolls on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RollingRadius {
    /// The radius, m.
    pub radius_m: Estimate,
    /// Where it comes from.
    pub source: RollingSource,
    /// Way over which the wheel was watched rolling, m (0 for the run sheet).
    pub over_m: f64,
}

/// A coast of fewer radians than this does not give a radius.
const MIN_COAST_RAD: f64 = 4.0;
/// The largest of some tens of independent normal values lies about two standard deviations above
/// their mean; the interval of the largest slip is widened by this factor to reach back.
const LARGEST_OF_MANY: f64 = 1.7;
/// The middle of the mark's circle is fitted; what is left of its error turns the first and the last
/// angle by about this, rad (seen over simulated runs) ...
const OFF_CENTRE_RAD: f64 = 0.018;
/// A mark that turns is lit and blurred differently once a turn; this much of slip cannot be told from
/// it, however smooth the curve.
const ONCE_A_TURN_SD: f64 = 0.004;
/// Slip above this counts as slipping when friction is taken from the acceleration.
const CLEAR_SLIP: f64 = 0.15;

/// How much of a plain scale's uncertainty may be a change along the way that nothing shows.
const UNEVEN_SCALE_SHARE: f64 = 0.5;
/// A plain scale that changes by more than this along the way makes a slip of that much from nothing.
const MAX_UNEVEN: f64 = 0.04;

/// The radius from the coast where there is one, else from the sheet. `scale` says how sure lengths along
/// the track are: a speed that they make wrong looks like slip.
///
/// # Errors
/// The reason where neither is to be had.
pub fn rolling_radius(
    motion: &Motion,
    moments: &[Moment<'_>],
    pull: &Pull,
    car: &CarFacts,
    scale: &Result<Scale, CameraReason>,
) -> Result<RollingRadius, FindingReason> {
    let wheel = motion.wheel.as_ref().map_err(|why| *why)?;
    // Without metres all lengths are in pixels, and alike.
    let scale = scale.as_ref().copied().unwrap_or_default();
    if scale.uneven > MAX_UNEVEN {
        return Err(FindingReason::UnevenScale { by: scale.uneven });
    }
    let coasting: Vec<&Moment<'_>> = moments
        .iter()
        .filter(|m| pull.past_peak(m) && m.wheel.is_some_and(|w| w.seen) && m.body.seen)
        .collect();
    if let (Some(first), Some(last)) = (coasting.first(), coasting.last())
        && let (Some(a), Some(b)) = (first.wheel, last.wheel)
        && b.angle_rad() - a.angle_rad() > MIN_COAST_RAD
    {
        let turned = b.angle_rad() - a.angle_rad();
        let over_m = last.travelled_m - first.travelled_m;
        let radius = over_m / turned;
        let way_var = along_var(first) + along_var(last);
        let turn_var = a.angle_var_rad2() + b.angle_var_rad2();
        // A plain scale that is wrong everywhere alike cancels out of the slip; one that changes along
        // the way does not.
        let sd = ((way_var + turn_var * radius * radius).sqrt() / turned)
            .hypot(off_centre_rad(wheel) * radius / turned)
            .hypot((UNEVEN_SCALE_SHARE * scale.rel_sd).max(scale.uneven) * radius);
        if radius > 0.0 {
            return Ok(RollingRadius {
                radius_m: Estimate { value: radius, sd },
                source: RollingSource::Coast,
                over_m,
            });
        }
    }
    let (value, sd) = car.wheel_radius_m.ok_or(FindingReason::NoRadius)?;
    Ok(RollingRadius {
        radius_m: Estimate {
            value,
            sd: sd.hypot(scale.rel_sd.max(scale.uneven) * value),
        },
        source: RollingSource::RunSheet,
        over_m: 0.0,
    })
}

/// ... and by as much as the mark is seen off its circle: what displaces it outwards displaces it along as well, and a
/// car that points another way than it is taken to does so for many frames alike.
fn off_centre_rad(wheel: &Wheel) -> f64 {
    OFF_CENTRE_RAD.max(wheel.off_circle())
}

/// Variance of a frame's place along the heading, m².
pub(super) fn along_var(moment: &Moment<'_>) -> f64 {
    let (sin, cos) = moment.body.heading_rad().sin_cos();
    let c = &moment.body.covariance;
    (cos * cos * c[(0, 0)] + 2.0 * sin * cos * c[(0, 1)] + sin * sin * c[(1, 1)]).max(0.0)
}

/// Slip in one frame; `None` where the rim is too slow for it to be defined, or the wheel not in view.
pub fn slip_at(moment: &Moment<'_>, rolling: &RollingRadius) -> Option<SlipAt> {
    let wheel = moment.wheel.filter(|wheel| !wheel.forecast)?;
    let radius = rolling.radius_m;
    let rim = wheel.rate_rad_per_s() * radius.value;
    if rim < MIN_RIM_SPEED_M_PER_S {
        return None;
    }
    let speed = moment.body.speed_m_per_s();
    let ratio = slip_ratio(speed, wheel.rate_rad_per_s(), radius.value)?;
    // First-order propagation (JCGM 100, 5.1.2).
    let by_speed = moment.body.speed_sd_m_per_s() / rim;
    let by_rate = (1.0 - ratio) * wheel.rate_sd_rad_per_s() / wheel.rate_rad_per_s();
    let by_radius = (1.0 - ratio) * radius.sd / radius.value;
    Some(SlipAt {
        ratio,
        sd: by_speed
            .hypot(by_rate)
            .hypot(by_radius)
            .hypot(ONCE_A_TURN_SD),
    })
}

pub(super) fn add_quantities(
    motion: &Motion,
    view: &View,
    moments: &[Moment<'_>],
    car: &CarFacts,
    out: &mut Findings,
) {
    let uneven = view.scale.as_ref().map_or(0.0, |scale| scale.uneven);
    // What was missed of a spinning wheel's start cannot be made up for later.
    let since_start = seen_since_start(moments, out.pull.release_s);
    let from_rest = match out.pull.release_s {
        Some(_) => since_start,
        None => Err(MotionReason::AlreadyMoving.into()),
    };
    let turns = since_start.and_then(|()| wheel_turns(motion, moments, uneven));
    let max = from_rest.and_then(|()| max_slip(moments, out));
    let spun = from_rest.and_then(|()| spun_away(motion, moments, out));
    let in_view: Vec<Moment<'_>> = moments
        .iter()
        .filter(|m| m.wheel.is_some_and(|wheel| !wheel.forecast))
        .copied()
        .collect();
    let seen = spun_away(motion, &in_view, out);
    let radius = out.rolling.map(|r| r.radius_m);
    let grip = grip_coefficient(moments, car, out);
    out.values.insert(Key::WheelTurns, turns);
    out.values.insert(Key::MaxSlip, max);
    out.values.insert(Key::SpunAwayM, spun);
    out.effects.insert(Effect::SpunInView, seen);
    out.values.insert(Key::RollingRadiusM, radius);
    out.values.insert(Key::GripCoefficient, grip);
}

/// Frames after the release (or after the car came into view) within which the wheel mark must be seen
/// first: in so few a wheel that starts from rest turns by a few degrees.
const FIRST_FRAMES: usize = 3;

/// # Errors
/// That the wheel mark was first seen too long after the release, or after the car came into view.
pub(super) fn seen_since_start(
    moments: &[Moment<'_>],
    release_s: Option<f64>,
) -> Result<(), FindingReason> {
    let Some(first) = moments.iter().find(|m| m.wheel.is_some()) else {
        // The reason why there is none says more.
        return Ok(());
    };
    let start_s = release_s.or_else(|| moments.first().map(|m| m.body.time_s));
    let missed = moments.iter().filter(|m| {
        m.body.time_s < first.body.time_s && start_s.is_none_or(|start| m.body.time_s > start)
    });
    if missed.count() <= FIRST_FRAMES {
        return Ok(());
    }
    let late_s = first.body.time_s - start_s.unwrap_or(first.body.time_s);
    Err(FindingReason::WheelLate { late_s })
}

/// A forecast of the wheel after its mark was lost counts turns only while it is surer than this, rad: beyond,
/// the 95 % interval reaches half a turn to either side and the count itself is open.
const COUNTED_SD_RAD: f64 = 0.25 * TAU;

/// # Errors
/// That the wheel mark was lost too long before.
fn counted(wheel: &WheelState) -> Result<(), FindingReason> {
    if wheel.forecast && wheel.angle_var_rad2() > COUNTED_SD_RAD * COUNTED_SD_RAD {
        return Err(FindingReason::WheelLost);
    }
    Ok(())
}

/// A forecast whose rate is off what it was when the mark was last seen by more than this share of it guesses: the wheel
/// may have gripped since, and is not forecast to.
const STEADY_SHARE: f64 = 0.5;

/// # Errors
/// That the wheel mark was lost while the wheel gained or lost speed fast.
fn steady_since(sighted: &WheelState, last: &WheelState) -> Result<(), FindingReason> {
    let change = last.rate_rad_per_s() - sighted.rate_rad_per_s();
    if last.forecast && change.abs() > STEADY_SHARE * sighted.rate_rad_per_s().abs() {
        return Err(FindingReason::WheelLost);
    }
    Ok(())
}

/// Turns while in view. Where a plain scale changes by the share `uneven`, the hub's place against the
/// sticker does as well, and the first or the last angle is read about a wrong middle by as much.
fn wheel_turns(motion: &Motion, moments: &[Moment<'_>], uneven: f64) -> Finding {
    let wheel = motion.wheel.as_ref().map_err(|why| *why)?;
    let mut seen = moments.iter().filter_map(|m| m.wheel);
    let first = seen.next().ok_or(FindingReason::WheelUnseen)?;
    let last = seen.next_back().unwrap_or(first);
    counted(last)?;
    let sighted = moments
        .iter()
        .rev()
        .filter_map(|m| m.wheel)
        .find(|wheel| !wheel.forecast);
    steady_since(sighted.unwrap_or(first), last)?;
    let sd = (first.angle_var_rad2() + last.angle_var_rad2())
        .max(0.0)
        .sqrt();
    // Whether what comes again each turn is the wheel's own or only its mark's, the turn does not tell.
    let uneven_at = |state: &WheelState| wheel.tuning.uneven.at(state.angle_rad());
    let sd = sd.hypot(uneven_at(last) - uneven_at(first));
    Ok(Estimate {
        value: (last.angle_rad() - first.angle_rad()) / TAU,
        sd: sd.hypot(off_centre_rad(wheel)).hypot(uneven) / TAU,
    })
}

fn powered<'a, 'b>(
    moments: &'b [Moment<'a>],
    out: &'b Findings,
) -> impl Iterator<Item = &'b Moment<'a>> {
    moments
        .iter()
        .filter(|m| out.frames[m.frame].phase == Some(Phase::Powered))
}

/// The largest slip under power. The largest of many uncertain values is mostly error, so each is first
/// drawn towards no slip by as much as the frames' scatter is explained by their own uncertainty
/// (empirical Bayes: B. Efron and C. Morris, J. Amer. Statist. Assoc. 68 (1973) 117).
fn max_slip(moments: &[Moment<'_>], out: &Findings) -> Finding {
    out.rolling?;
    let slips: Vec<SlipAt> = powered(moments, out)
        .filter_map(|m| out.frames[m.frame].slip)
        .collect();
    if slips.is_empty() {
        return Err(FindingReason::SlowRim);
    }
    // A frame says the more, the smaller its own uncertainty.
    let weight: f64 = slips.iter().map(|s| s.sd.powi(-2)).sum();
    let scatter = slips
        .iter()
        .map(|s| (s.ratio / s.sd).powi(2) - 1.0)
        .sum::<f64>()
        / weight;
    let real = scatter.max(0.0);
    let drawn = |s: &SlipAt| s.ratio * real / (real + s.sd * s.sd);
    let largest = slips
        .iter()
        .max_by(|a, b| drawn(a).total_cmp(&drawn(b)))
        .ok_or(FindingReason::SlowRim)?;
    // A driven car does not run backwards: no more than all of the rim's way is lost.
    // ... and once more as the largest: what its own widened uncertainty may be is not stated as slip
    // (positive-part shrinkage, same source).
    let (value, sd) = (drawn(largest).clamp(0.0, 1.0), LARGEST_OF_MANY * largest.sd);
    let sure = if value > sd {
        1.0 - (sd / value).powi(2)
    } else {
        0.0
    };
    Ok(Estimate {
        value: value * sure,
        sd,
    })
}

/// `∫ (ω R - v) dt` from the release to the end of the pull, as turned way less travelled way.
fn spun_away(motion: &Motion, moments: &[Moment<'_>], out: &Findings) -> Finding {
    let rolling = out.rolling?;
    let wheel = motion.wheel.as_ref().map_err(|why| *why)?;
    let with_wheel: Vec<&Moment<'_>> = moments.iter().filter(|m| m.wheel.is_some()).collect();
    let start = with_wheel
        .iter()
        .rfind(|m| out.frames[m.frame].phase == Some(Phase::Rest))
        .or(with_wheel.first())
        .ok_or(FindingReason::WheelUnseen)?;
    let end = with_wheel
        .iter()
        .rfind(|m| {
            out.frames[m.frame].phase == Some(Phase::Powered)
                || out.pull.settled_s().is_some_and(|t| m.body.time_s <= t)
        })
        .ok_or(FindingReason::PullUnseen)?;
    let (Some(a), Some(b)) = (start.wheel, end.wheel) else {
        return Err(FindingReason::WheelUnseen);
    };
    counted(b)?;
    let turned = b.angle_rad() - a.angle_rad();
    let radius = rolling.radius_m;
    let value = turned * radius.value - (end.travelled_m - start.travelled_m);
    // The pull ends where the coast begins, so both have that angle's error in common: with q turns of pull
    // for one of coast, three independent errors of the angles leave 1 + q + q² of their variance, of which
    // the radius holds q².
    let shared = match rolling.source {
        RollingSource::Coast => 1.0 + turned.max(0.0) * radius.value / rolling.over_m,
        RollingSource::RunSheet => 1.0,
    };
    let sd = (turned * radius.sd)
        .hypot(
            radius.value
                * (a.angle_var_rad2() + b.angle_var_rad2())
                    .max(0.0)
                    .sqrt()
                    .hypot(off_centre_rad(wheel) * shared.sqrt()),
        )
        .hypot((along_var(start) + along_var(end)).sqrt());
    Ok(Estimate { value, sd })
}

/// Sliding friction from the acceleration while the driven wheels clearly slip: their push is then
/// `μ` times the load on them, and drives the whole mass and the rolling losses.
fn grip_coefficient(moments: &[Moment<'_>], car: &CarFacts, out: &Findings) -> Finding {
    let share = car
        .driven_share
        .ok_or(FindingReason::NotOnSheet(Missing::DrivenShare))?;
    let slipping: Vec<&Moment<'_>> = powered(moments, out)
        .filter(|m| {
            out.frames[m.frame]
                .slip
                .is_some_and(|s| s.ratio - 2.0 * s.sd > CLEAR_SLIP)
        })
        .collect();
    if slipping.len() < 5 {
        return Err(FindingReason::BriefSlip);
    }
    let loss = out
        .get(Key::CoastDecelerationMPerS2)
        .map_or(0.2, |e| e.value);
    let n = slipping.len() as f64;
    let mean = slipping
        .iter()
        .map(|m| m.body.acceleration_m_per_s2())
        .sum::<f64>()
        / n;
    let spread = (slipping
        .iter()
        .map(|m| (m.body.acceleration_m_per_s2() - mean).powi(2))
        .sum::<f64>()
        / n)
        .sqrt();
    let per_g = 1.0 / (share * STANDARD_GRAVITY_M_PER_S2);
    Ok(Estimate {
        value: (mean + loss) * per_g,
        sd: (spread / 2.0).hypot(0.1) * per_g,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::BodyState;

    #[test]
    fn the_slip_ratio_agrees_with_its_definition() {
        // Rows of the worked table: r 0.06 m. Wong's chapter 1 is cited from memory.
        let rows = [
            (1.0, 20.0, 1.0 / 6.0),
            (1.5, 25.0, 0.0),
            (0.3, 20.0, 0.75),
            (0.0, 10.0, 1.0),
            (1.2, 18.0, -1.0 / 9.0),
        ];
        for (speed, rate, wong) in rows {
            let found = slip_ratio(speed, rate, 0.06).unwrap();
            assert!((found - wong).abs() < 1e-12, "v {speed}");
        }
    }

    #[test]
    fn a_wheel_at_rest_has_no_slip_ratio() {
        assert_eq!(slip_ratio(0.4, 0.0, 0.06), None);
    }

    #[test]
    fn a_mark_off_its_circle_makes_turns_less_sure() {
        let wheel = |residual_m: f64| Wheel {
            states: Vec::new(),
            mark_radius_m: 0.03,
            hub_offset_m: [0.0; 2],
            residual_m,
            tuning: crate::motion::WheelTuning {
                settled: crate::motion::Settled {
                    jerk_density: 1.0,
                    variance_factor: 1.0,
                    change_points_s: Vec::new(),
                    change_points_sd_s: Vec::new(),
                    open: Vec::new(),
                },
                uneven: crate::motion::Uneven::default(),
                counted: None,
            },
            log_likelihood: 0.0,
        };
        assert_eq!(off_centre_rad(&wheel(0.0003)), OFF_CENTRE_RAD);
        // By hand, 1.5 mm on a circle of 30 mm.
        assert!((off_centre_rad(&wheel(0.0015)) - 0.05).abs() < 1e-12);
    }

    #[test]
    fn a_forecast_that_turns_backwards_counts_no_turns() {
        let at = |rate: f64, forecast: bool| WheelState {
            mean: nalgebra::Vector3::new(46.0, rate, -100.0),
            covariance: nalgebra::Matrix3::identity(),
            seen: !forecast,
            ambiguous: false,
            forecast,
            observation: None,
        };
        let lost = Err(FindingReason::WheelLost);
        assert_eq!(steady_since(&at(36.0, false), &at(30.0, true)), Ok(()));
        assert_eq!(steady_since(&at(36.0, false), &at(-26.0, true)), lost);
        assert_eq!(steady_since(&at(36.0, false), &at(-26.0, false)), Ok(()));
    }

    /// A body that starts after half a second at 60 frames a second, and a wheel first seen in frame `first`.
    fn late_wheel(first: usize) -> Vec<(BodyState, Option<WheelState>)> {
        (0..90)
            .map(|frame| {
                let body = BodyState {
                    time_s: frame as f64 / 60.0,
                    mean: nalgebra::Vector6::zeros(),
                    covariance: nalgebra::Matrix6::zeros(),
                    sway_rad: 0.0,
                    rise_m: 0.0,
                    aside_m: 0.0,
                    seen: true,
                    observation: None,
                };
                let wheel = WheelState {
                    mean: nalgebra::Vector3::zeros(),
                    covariance: nalgebra::Matrix3::zeros(),
                    seen: true,
                    ambiguous: false,
                    forecast: false,
                    observation: None,
                };
                (body, (frame >= first).then_some(wheel))
            })
            .collect()
    }

    #[test]
    fn a_wheel_first_seen_long_after_the_release_gives_no_totals() {
        for (first, release_s, whole) in [
            (0, Some(0.5), true),
            (29, Some(0.5), true),
            (33, Some(0.5), true),
            (60, Some(0.5), false),
            (0, None, true),
            (60, None, false),
        ] {
            let states = late_wheel(first);
            let moments: Vec<Moment<'_>> = states
                .iter()
                .enumerate()
                .map(|(frame, (body, wheel))| Moment {
                    frame,
                    body,
                    wheel: wheel.as_ref(),
                    travelled_m: 0.0,
                })
                .collect();
            let seen = seen_since_start(&moments, release_s);
            assert_eq!(seen.is_ok(), whole, "{first} {release_s:?}: {seen:?}");
        }
    }
}
