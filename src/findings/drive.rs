//! From the string to the wheel: turns that the string should have given, turns of the axle that its
//! wheel did not follow, and the travel that either lost.

use super::ending::{turns, ways};
use super::least::least_squares;
use super::{CarFacts, Effect, Estimate, Finding, FindingReason, Findings, Key, Missing, Moment};
use crate::motion::{Motion, MotionReason, Wheel, WheelState};
use std::f64::consts::TAU;

pub(super) fn add_quantities(
    motion: &Motion,
    moments: &[Moment<'_>],
    car: &CarFacts,
    out: &mut Findings,
) {
    let wheel = wheel_turns_at_end(moments, out);
    let loose = loose_turns(motion, moments, out);
    let string = match (string_slip(car, &wheel), &loose) {
        // What the axle turned more than its wheel is no fault of the string's.
        (Ok(missing), Ok(loose)) => Ok(Estimate {
            value: missing.value - loose.value,
            sd: missing.sd.hypot(loose.sd),
        }),
        (other, _) => other,
    };
    let lost = match (&string, &loose) {
        (Ok(string), Ok(loose)) => Ok(Estimate {
            value: string.value + loose.value,
            sd: string.sd,
        }),
        (Ok(turns), Err(_)) | (Err(_), Ok(turns)) => Ok(*turns),
        (Err(why), Err(_)) => Err(*why),
    };
    let round_m = out.rolling.map(|r| TAU * r.radius_m.value);
    let as_way = |turns: Finding| {
        let (turns, round) = (turns?, round_m?);
        Ok(Estimate {
            value: turns.value * round,
            sd: turns.sd * round,
        })
    };
    let at_most = missing_at_most(moments, car, out);
    out.effects.insert(Effect::DriveLost, as_way(lost));
    out.effects.insert(Effect::DriveLostAtMost, as_way(at_most));
    out.values.insert(Key::StringSlipTurns, string);
    out.values.insert(Key::LooseWheelTurns, loose);
}

const NO_STRING: FindingReason = FindingReason::NotOnSheet(Missing::String);

/// Turns of the wheel from the rest to the end of the pull.
fn wheel_turns_at_end(moments: &[Moment<'_>], out: &Findings) -> Finding {
    let with_wheel: Vec<(f64, f64, f64)> = moments
        .iter()
        .filter_map(|m| {
            m.wheel
                .map(|w| (m.body.time_s, w.angle_rad(), w.rate_rad_per_s()))
        })
        .collect();
    let first = with_wheel.first().ok_or(FindingReason::WheelUnseen)?;
    let change_point = out.pull.change_point.ok_or(FindingReason::EndUnclear)?;
    if out.pull.release_s.is_none() {
        return Err(MotionReason::AlreadyMoving.into());
    }
    super::slip::seen_since_start(moments, out.pull.release_s)?;
    let end_s = change_point.time_s.value;
    let after = with_wheel
        .iter()
        .find(|(t, _, _)| *t >= end_s)
        .ok_or(FindingReason::WheelLostBeforeEnd)?;
    let angle = after.1 - after.2 * (after.0 - end_s);
    Ok(Estimate {
        value: (angle - first.1) / TAU,
        sd: (change_point.rate.value * change_point.time_s.sd / TAU).hypot(UNSEEN_TURNS),
    })
}

/// A string has slack, a knot and a hook: common practice, no source; turns.
const UNSEEN_TURNS: f64 = 0.03;

fn string_slip(car: &CarFacts, wheel: &Finding) -> Finding {
    let (budget, budget_sd) = car.string_turns.ok_or(NO_STRING)?;
    let turned = wheel.as_ref().map_err(|why| *why)?;
    Ok(Estimate {
        value: budget - turned.value,
        sd: budget_sd.hypot(turned.sd),
    })
}

/// The most turns that can be missing between string and wheel: what the string can give, less what the wheel
/// had turned when it was fastest. A wheel gains speed only while something pulls it, so until then every turn
/// came from the string. How many more it gave after that a pull that fades out, or whose end is out of view,
/// does not show.
fn missing_at_most(moments: &[Moment<'_>], car: &CarFacts, out: &Findings) -> Finding {
    let (budget, budget_sd) = car.string_turns.ok_or(NO_STRING)?;
    if out.pull.release_s.is_none() {
        return Err(MotionReason::AlreadyMoving.into());
    }
    super::slip::seen_since_start(moments, out.pull.release_s)?;
    let seen: Vec<(f64, WheelState)> = moments
        .iter()
        .filter_map(|m| Some((m.body.time_s, *m.wheel?)))
        .filter(|(_, wheel)| !wheel.forecast)
        .collect();
    let rate = |(_, wheel): &(f64, WheelState)| wheel.rate_rad_per_s();
    let (Some((_, first)), Some((peak_s, _)), Some((last_s, last))) = (
        seen.first(),
        seen.iter().max_by(|a, b| rate(a).total_cmp(&rate(b))),
        seen.last(),
    ) else {
        return Err(FindingReason::WheelUnseen);
    };
    // A car whose wheel rolls is fastest when its wheel is, and is placed better. (Where the wheel spins, slip is
    // to blame anyway.)
    let by_wheel = fastest_s(&turns(moments), *peak_s);
    let by_car = out
        .pull
        .peak_s
        .and_then(|at| fastest_s(&ways(moments, car.lever), at));
    let fastest = by_wheel
        .into_iter()
        .chain(by_car)
        .min_by(|a, b| a.sd.total_cmp(&b.sd))
        .unwrap_or(Estimate {
            value: *peak_s,
            // A wheel that still gains speed when it is last seen had turned that much at least.
            sd: if peak_s < last_s { PEAK_SD_S } else { 0.0 },
        });
    let (at, wheel) = seen
        .iter()
        .copied()
        .find(|(t, _)| *t >= fastest.value)
        .unwrap_or((*last_s, *last));
    let turned = wheel.angle_rad()
        - first.angle_rad()
        - wheel.rate_rad_per_s() * (at - fastest.value).max(0.0);
    Ok(Estimate {
        value: budget - turned / TAU,
        sd: budget_sd
            .hypot(wheel.rate_rad_per_s() * fastest.sd / TAU)
            .hypot(UNSEEN_TURNS),
    })
}

/// Part of the run on either side of the highest smoothed rate over which its true time is sought, s. Over
/// less the observations' own errors grow fast, over more the pull's slow fading draws the time forward.
const PEAK_WINDOW_S: f64 = 0.2;
/// Observations that it takes on either side.
const PEAK_OBSERVATIONS: usize = 5;
/// A pull that ends at once and a cubic that is fitted over it differ by about this in the time of the highest
/// rate: a step from 1.3 h to -0.7 h in the change of the rate, seen over 0.2 s to either side, is a straight
/// line that passes zero 0.04 s late, and such cars stay within half of that.
const PEAK_MODEL_SD_S: f64 = 0.02;
/// ... and where there are too few looks for a fit, this much of the smoothed time is open.
const PEAK_SD_S: f64 = 0.1;

/// When wheel or car was fastest: where the change of rate of a cubic through its observations near the highest
/// smoothed rate passes zero.
fn fastest_s(observations: &[(f64, f64, f64)], peak_s: f64) -> Option<Estimate> {
    let near = |t: &f64| (t - peak_s).abs() < PEAK_WINDOW_S;
    let rows: Vec<(Vec<f64>, f64, f64)> = observations
        .iter()
        .filter(|(t, _, _)| near(t))
        .map(|(t, value, var)| {
            let dt = t - peak_s;
            (vec![1.0, dt, dt * dt, dt.powi(3)], *value, *var)
        })
        .collect();
    let after = rows.iter().filter(|(row, _, _)| row[1] > 0.0).count();
    if after < PEAK_OBSERVATIONS || rows.len() - after < PEAK_OBSERVATIONS {
        return None;
    }
    let fit = least_squares(&rows, 0.0)?;
    let (square, cube) = (fit.values[2], fit.values[3]);
    let off_s = -square / (3.0 * cube);
    if cube >= 0.0 || off_s.abs() > PEAK_WINDOW_S {
        return None;
    }
    // First-order propagation (JCGM 100, 5.2.2).
    let (by_square, by_cube) = (-1.0 / (3.0 * cube), square / (3.0 * cube * cube));
    let var = by_square * by_square * fit.covariance[(2, 2)]
        + by_cube * by_cube * fit.covariance[(3, 3)]
        + 2.0 * by_square * by_cube * fit.covariance[(2, 3)];
    Some(Estimate {
        value: peak_s + off_s,
        sd: var.max(0.0).sqrt().hypot(PEAK_MODEL_SD_S),
    })
}

/// Observations after the pull's end that are taken in when axle and wheel are compared: the end is known to about a
/// frame.
const FRAMES_AFTER_END: f64 = 2.0;

/// Turns of the axle that its wheel did not follow, over the powered part as far as both were seen.
///
/// A string that is out turns nothing, so axle and wheel keep step from then on: an observation a little after the end
/// misses nothing, where one a frame before it misses what the axle ran ahead in that frame.
fn loose_turns(motion: &Motion, moments: &[Moment<'_>], out: &Findings) -> Finding {
    let axle: &Wheel = motion.axle.as_ref().map_err(|why| *why)?;
    let step = moments
        .get(1)
        .map_or(0.02, |m| m.body.time_s - moments[0].body.time_s);
    let end_sd_s = out
        .pull
        .change_point
        .map_or(0.0, |change_point| change_point.time_s.sd);
    let until_s = out
        .pull
        .end_s
        .map(|end| end + FRAMES_AFTER_END * (step + end_sd_s));
    let both: Vec<(f64, f64, f64)> = moments
        .iter()
        .filter(|m| until_s.is_none_or(|until| m.body.time_s <= until))
        .filter_map(|m| {
            let (wheel, axle) = (m.wheel?, axle.states[m.frame]?);
            let var = wheel.angle_var_rad2() + axle.angle_var_rad2();
            Some((axle.angle_rad(), wheel.angle_rad(), var))
        })
        .collect();
    let (Some(a), Some(b)) = (both.first(), both.last()) else {
        return Err(FindingReason::AxleApart);
    };
    // The mark is small, and its circle is fitted: a hundredth of a turn at either end.
    let sd = (a.2 + b.2).max(0.0).sqrt().hypot(0.014 * TAU) / TAU;
    Ok(Estimate {
        value: ((b.0 - a.0) - (b.1 - a.1)) / TAU,
        sd,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wheel_is_fastest_where_its_change_of_rate_passes_zero() {
        // Turn t + 2 t - t³ about 1 s: the change of rate, -6 (t - 1), passes zero at 1 s.
        let turn = |t: f64| 2.0 * (t - 1.0) - (t - 1.0).powi(3);
        let observations: Vec<(f64, f64, f64)> = (0..120)
            .map(|i| f64::from(i) / 60.0)
            .map(|t| (t, turn(t), 1e-4))
            .collect();
        let found = fastest_s(&observations, 0.9).unwrap();
        assert!(
            (found.value - 1.0).abs() < 1e-6 && found.sd < 0.06,
            "{found:?}"
        );
        // Too few observations after it, or a wheel that gains ever more: not found.
        assert_eq!(fastest_s(&observations[..60], 0.98), None);
        let gains: Vec<(f64, f64, f64)> = observations
            .iter()
            .map(|(t, _, var)| (*t, t.powi(3), *var))
            .collect();
        assert_eq!(fastest_s(&gains, 1.0), None);
    }
}
