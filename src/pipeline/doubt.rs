//! Whether the clip's clock can be right, and what is left to say where it is not.
//!
//! Slow motion stored to play slowly shows a car whose speeds are too small by the factor of slowing
//! and whose accelerations are too small by its square. So a clip taken at 240 frames a second and
//! played at 30 makes a pull of 2 m/s² look like 0.03 m/s², which no car of this kind does. What is
//! looked at is what such cars have in common however they are built: how hard they are pulled, how
//! hard they must pull for the wheel to slip, and how fast a rolling car loses speed.
//!
//! Where the clip is too slow, lengths, angles, turns and the slip ratio do not need the clock: they stay. Everything
//! with a second in its unit is *not observable* until someone says at which rate the clip was taken. Where the car is
//! pulled harder than tyres can, the floor marks may be named wrongly as well as the rate: nothing is stated then.

use crate::analysis::{Analysis, ClockDoubt, SlowSign, TooQuick};
use crate::findings::{Estimate, Key, STANDARD_GRAVITY_M_PER_S2, moments};
use crate::uncertainty::COVERAGE_FACTOR;

/// A car pulled less than this from its release to its highest speed takes more than three seconds for
/// its first metre; these cars are through the picture by then. Drawn cars lie between 0.6 and 1.2 m/s²,
/// and one in eightfold slow motion at 0.013 to 0.019. Common practice, no source.
const WEAKEST_PULL_M_PER_S2: f64 = 0.2;
/// A wheel slips only where the pull exceeds the grip: with a friction of 0.1 (polished plastics, the
/// low end of handbook tables; from memory) under two fifths of the weight, which is 0.4 m/s².
const WEAKEST_SPIN_M_PER_S2: f64 = 0.3;
/// Largest slip that is surely a spin.
const SPIN: f64 = 0.3;
/// A steel wheel on a rail loses 0.001 to 0.002 of its weight to rolling (railway handbooks, from
/// memory); no wheel on a floor loses less.
const LEAST_ROLLING_SHARE: f64 = 0.0015;
/// A car whose release is not in view is only seen coasting or being pulled: half of the 0.7 m/s that
/// such cars reach at least (common practice, no source).
const SLOWEST_PEAK_M_PER_S: f64 = 0.35;
/// The tyres' grip bounds every pull: with all the weight on the driven axle and a friction of 1.5,
/// more than rubber on a dry floor gives (0.7 to 1.1 in handbook tables; from memory).
const HARDEST_PULL_M_PER_S2: f64 = 1.5 * STANDARD_GRAVITY_M_PER_S2;
/// Pulls of ordinary cars; a rate of capture that gives one of these is named as a likely one.
const LIKELY_PULLS_M_PER_S2: std::ops::RangeInclusive<f64> = 0.5..=10.0;
/// The middle of these on a scale of factors: what a doubtful clip is worked out with.
const TYPICAL_PULL_M_PER_S2: f64 = 1.5;
/// Rates at which phones take slow motion, frames a second.
const CAPTURE_RATES: [f64; 6] = [60.0, 90.0, 120.0, 180.0, 240.0, 480.0];
/// Factors of slowing that are tried where none is known.
const SLOWINGS: [f64; 5] = [2.0, 4.0, 8.0, 16.0, 32.0];

/// What a doubted clip is worked out with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Instead {
    /// A clock slowed by this factor, which would make the car an ordinary one.
    Slowed(f64),
    /// Nothing: the sizes may as well be wrong as the clock, and nothing that rests on either is stated.
    Nothing(TooQuick),
}

/// Low end of a size's 95 % interval.
fn low(of: Estimate) -> f64 {
    of.value - COVERAGE_FACTOR * of.sd
}

/// High end.
fn high(of: Estimate) -> f64 {
    of.value + COVERAGE_FACTOR * of.sd
}

/// What a clip shows that depends on its clock.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Signs {
    /// Mean acceleration from the release to the highest speed, m/s².
    pull: Option<Estimate>,
    /// Highest speed, m/s.
    peak: Option<Estimate>,
    /// Loss of speed while coasting, m/s².
    coast: Option<Estimate>,
    /// Low end of the largest slip under power.
    slip_low: Option<f64>,
}

/// The reason to doubt the clock; `None` where the car is one that there can be.
/// `file_fps` are the frames a second by the file's own times; `stated` says that the rate of capture was named.
pub(super) fn doubt(
    analysis: &Analysis,
    file_fps: f64,
    stated: bool,
) -> Option<(ClockDoubt, Instead)> {
    judge(&signs(analysis)?, file_fps, stated)
}

fn signs(analysis: &Analysis) -> Option<Signs> {
    let scale_sd = analysis.view.scale.as_ref().ok()?.rel_sd;
    let findings = &analysis.findings;
    let sized = |key: Key| {
        let found = findings.get(key).ok()?;
        let sd = found.sd.hypot(found.value * scale_sd);
        Some(Estimate { sd, ..found })
    };
    let pull = || {
        let peak = findings.get(Key::PeakSpeedMPerS).ok()?;
        let release = findings.get(Key::ReleaseS).ok()?;
        let fastest = moments(&analysis.motion)
            .into_iter()
            .max_by(|a, b| a.body.speed_m_per_s().total_cmp(&b.body.speed_m_per_s()))?;
        let took = fastest.body.time_s - release.value;
        let value = peak.value / took;
        let share = (peak.sd / peak.value)
            .hypot(release.sd / took)
            .hypot(scale_sd);
        let sd = value * share;
        (took > 0.0 && peak.value > 0.0).then_some(Estimate { value, sd })
    };
    Some(Signs {
        pull: pull(),
        peak: sized(Key::PeakSpeedMPerS),
        coast: sized(Key::CoastDecelerationMPerS2),
        slip_low: findings.get(Key::MaxSlip).ok().map(low),
    })
}

fn judge(signs: &Signs, file_fps: f64, stated: bool) -> Option<(ClockDoubt, Instead)> {
    if let Some(quick) = too_quick(signs) {
        return Some((ClockDoubt::TooQuick(quick), Instead::Nothing(quick)));
    }
    // Whoever named the rate knows better than a rule of thumb about such cars.
    if stated {
        return None;
    }
    let sign = too_slow(signs)?;
    let pull = signs.pull.map(|pull| pull.value);
    let doubt = ClockDoubt::TooSlow {
        sign,
        file_per_s: file_fps,
        likely_per_s: pull.map_or_else(Vec::new, |pull| likely_rates(pull, file_fps)),
    };
    Some((doubt, Instead::Slowed(pull.map_or(1.0, likely_slowing))))
}

fn too_quick(signs: &Signs) -> Option<TooQuick> {
    let pull = signs.pull.filter(|p| low(*p) > HARDEST_PULL_M_PER_S2)?;
    Some(TooQuick {
        pull_m_per_s2: pull.value,
    })
}

fn too_slow(signs: &Signs) -> Option<SlowSign> {
    let spins = signs.slip_low.is_some_and(|low| low > SPIN);
    if let Some(pull) = signs.pull {
        let pull_m_per_s2 = pull.value;
        if high(pull) < WEAKEST_PULL_M_PER_S2 {
            return Some(SlowSign::WeakPull { pull_m_per_s2 });
        }
        if spins && high(pull) < WEAKEST_SPIN_M_PER_S2 {
            return Some(SlowSign::WeakSpin { pull_m_per_s2 });
        }
    }
    if let Some(coast) = signs.coast {
        let least = LEAST_ROLLING_SHARE * STANDARD_GRAVITY_M_PER_S2;
        return (high(coast) < least).then_some(SlowSign::FreeCoast {
            loss_m_per_s2: coast.value,
        });
    }
    let peak = signs.peak.filter(|_| signs.pull.is_none())?;
    (high(peak) < SLOWEST_PEAK_M_PER_S).then_some(SlowSign::LowPeak {
        peak_m_per_s: peak.value,
    })
}

fn likely_rates(pull: f64, file_fps: f64) -> Vec<f64> {
    CAPTURE_RATES
        .into_iter()
        .filter(|rate| *rate > 1.5 * file_fps)
        .filter(|rate| LIKELY_PULLS_M_PER_S2.contains(&(pull * (rate / file_fps).powi(2))))
        .collect()
}

fn likely_slowing(pull: f64) -> f64 {
    let misfit = |slowing: f64| {
        (pull * slowing * slowing / TYPICAL_PULL_M_PER_S2)
            .ln()
            .abs()
    };
    SLOWINGS
        .into_iter()
        .min_by(|a, b| misfit(*a).total_cmp(&misfit(*b)))
        .unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn sized(value: f64, sd: f64) -> Estimate {
        Estimate { value, sd }
    }

    /// A car pulled by 1.6 m/s² to 2.4 m/s that coasts at 0.18 m/s², seen `slowed` times too slow.
    fn car(slowed: f64) -> Signs {
        Signs {
            pull: Some(sized(1.6 / slowed.powi(2), 0.02 / slowed.powi(2))),
            peak: Some(sized(2.4 / slowed, 0.02 / slowed)),
            coast: Some(sized(0.18 / slowed.powi(2), 0.02 / slowed.powi(2))),
            slip_low: Some(0.0),
        }
    }

    #[test]
    fn an_ordinary_car_is_believed_and_its_slow_motion_is_not() {
        assert_eq!(judge(&car(1.0), 30.0, false), None);
        for slowed in [4.0, 8.0, 16.0] {
            let (doubt, instead) = judge(&car(slowed), 30.0, false).unwrap();
            assert!(matches!(doubt, ClockDoubt::TooSlow { .. }), "{doubt}");
            assert_eq!(instead, Instead::Slowed(slowed));
        }
    }

    #[test]
    fn the_likely_rates_are_named() {
        let (doubt, _) = judge(&car(8.0), 30.0, false).unwrap();
        let words = doubt.to_string();
        assert!(
            words.contains("180 or 240 or 480 frames a second"),
            "{words}"
        );
    }

    #[test]
    fn a_stated_rate_is_not_called_slow() {
        assert_eq!(judge(&car(8.0), 30.0, true), None);
    }

    #[test]
    fn more_than_tyres_can_push_is_doubted_whoever_named_the_rate() {
        for stated in [false, true] {
            // Eight times too fast: 1.6 m/s² becomes 102 m/s².
            let (doubt, instead) = judge(&car(1.0 / 8.0), 30.0, stated).unwrap();
            assert!(doubt.to_string().contains("more than tyres"), "{doubt}");
            assert!(matches!(instead, Instead::Nothing(_)));
        }
    }

    #[test]
    fn an_uncertain_pull_is_no_reason() {
        let mut signs = car(8.0);
        signs.pull = Some(sized(0.1, 0.2));
        signs.coast = Some(sized(0.01, 0.05));
        assert_eq!(judge(&signs, 30.0, false), None);
    }

    #[test]
    fn a_wheel_that_spins_needs_a_pull() {
        let mut signs = car(1.0);
        signs.pull = Some(sized(0.25, 0.01));
        assert_eq!(judge(&signs, 30.0, false), None);
        signs.slip_low = Some(0.6);
        assert!(judge(&signs, 30.0, false).is_some());
    }

    #[test]
    fn without_a_release_the_coast_or_else_the_speed_tells() {
        let late = |slowed: f64| Signs {
            pull: None,
            ..car(slowed)
        };
        assert_eq!(judge(&late(1.0), 30.0, false), None);
        let (doubt, _) = judge(&late(8.0), 30.0, false).unwrap();
        let ClockDoubt::TooSlow { sign, .. } = doubt else {
            panic!("{doubt}")
        };
        assert!(matches!(sign, SlowSign::FreeCoast { .. }), "{sign}");
        let no_coast = |slowed: f64| Signs {
            coast: None,
            ..late(slowed)
        };
        assert_eq!(judge(&no_coast(1.0), 30.0, false), None);
        assert!(judge(&no_coast(8.0), 30.0, false).is_some());
    }
}
