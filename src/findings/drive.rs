//! From the string to the wheel: turns that the string should have given, turns of the axle that its
//! wheel did not follow, and the travel that either lost.

use super::{CarFacts, Effect, Estimate, Finding, Findings, Key, Moment, NO_STRING};
use crate::motion::{Motion, Wheel, WheelState};
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
        (Err(why), Err(_)) => Err(why.clone()),
    };
    let round_m = out
        .rolling
        .as_ref()
        .map(|r| TAU * r.radius_m.value)
        .map_err(Clone::clone);
    let as_way = |turns: Finding| {
        let (turns, round) = (turns?, round_m.clone()?);
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

/// Turns of the wheel from the rest to the end of the pull.
fn wheel_turns_at_end(moments: &[Moment<'_>], out: &Findings) -> Finding {
    let with_wheel: Vec<(f64, f64, f64)> = moments
        .iter()
        .filter_map(|m| m.wheel.map(|w| (m.body.time_s, w.mean[0], w.mean[1])))
        .collect();
    let first = with_wheel
        .first()
        .ok_or("the wheel mark was not seen beside the sticker")?;
    let kink = out
        .pull
        .kink
        .ok_or("the end of the pull is not in view, or the pull fades out without a clear end")?;
    if out.pull.release_s.is_none() {
        return Err("the car was already moving when the clip begins".to_owned());
    }
    super::slip::seen_since_start(moments, out.pull.release_s)?;
    let end_s = kink.time_s.value;
    let after = with_wheel
        .iter()
        .find(|(t, _, _)| *t >= end_s)
        .ok_or("the wheel mark was lost before the end of the pull")?;
    let angle = after.1 - after.2 * (after.0 - end_s);
    Ok(Estimate {
        value: (angle - first.1) / TAU,
        sd: (kink.rate.value * kink.time_s.sd / TAU).hypot(UNSEEN_TURNS),
    })
}

/// A string has slack, a knot and a hook: common practice, no source; turns.
const UNSEEN_TURNS: f64 = 0.03;

fn string_slip(car: &CarFacts, wheel: &Finding) -> Finding {
    let (budget, budget_sd) = car.string_turns.ok_or(NO_STRING)?;
    let turned = wheel.as_ref().map_err(Clone::clone)?;
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
        return Err("the car was already moving when the clip begins".to_owned());
    }
    super::slip::seen_since_start(moments, out.pull.release_s)?;
    let seen: Vec<(f64, WheelState)> = moments
        .iter()
        .filter_map(|m| Some((m.body.time_s, *m.wheel?)))
        .filter(|(_, wheel)| !wheel.forecast)
        .collect();
    let (Some((_, first)), Some(fastest)) = (
        seen.first(),
        (0..seen.len()).max_by(|&a, &b| seen[a].1.mean[1].total_cmp(&seen[b].1.mean[1])),
    ) else {
        return Err("the wheel mark was not seen beside the sticker".to_owned());
    };
    let (at, wheel) = &seen[fastest];
    // When exactly it was fastest: the error of the change of rate over how fast that change falls. A wheel
    // still gaining speed when last seen had turned that much at least, whenever it would have been fastest.
    let near = seen
        .iter()
        .filter(|(t, _)| (t - at).abs() < 0.5 * PEAK_WINDOW_S);
    let (mut n, mut time, mut rate, mut cross, mut square) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (t, w) in near {
        let (t, change) = (t - at, w.mean[2]);
        n += 1.0;
        time += t;
        rate += change;
        cross += t * change;
        square += t * t;
    }
    let falls = -(cross - time * rate / n) / (square - time * time / n).max(1e-9);
    let change_sd = wheel.covariance[(2, 2)].max(0.0).sqrt();
    let when_sd_s = if fastest + 1 == seen.len() || falls <= 0.0 {
        0.0
    } else {
        (change_sd / falls).min(PEAK_WINDOW_S)
    };
    let turned = (wheel.mean[0] - first.mean[0]) / TAU;
    Ok(Estimate {
        value: budget - turned,
        sd: budget_sd
            .hypot(wheel.mean[1] * when_sd_s / TAU)
            .hypot(UNSEEN_TURNS),
    })
}

/// Part of the run about the wheel's highest rate over which the fall of its change is taken, s.
const PEAK_WINDOW_S: f64 = 0.3;

/// Turns of the axle that its wheel did not follow, over the powered part as far as both were seen.
fn loose_turns(motion: &Motion, moments: &[Moment<'_>], out: &Findings) -> Finding {
    let axle: &Wheel = motion.axle.as_ref().map_err(Clone::clone)?;
    let both: Vec<(f64, f64, f64)> = moments
        .iter()
        .filter(|m| out.pull.end_s.is_none_or(|end| m.body.time_s <= end))
        .filter_map(|m| {
            let (wheel, axle) = (m.wheel?, axle.states[m.frame]?);
            let var = wheel.covariance[(0, 0)] + axle.covariance[(0, 0)];
            Some((axle.mean[0], wheel.mean[0], var))
        })
        .collect();
    let (Some(a), Some(b)) = (both.first(), both.last()) else {
        return Err("wheel mark and axle mark were not seen together".to_owned());
    };
    // The mark is small, and its circle is fitted: a hundredth of a turn at either end.
    let sd = (a.2 + b.2).max(0.0).sqrt().hypot(0.014 * TAU) / TAU;
    Ok(Estimate {
        value: ((b.0 - a.0) - (b.1 - a.1)) / TAU,
        sd,
    })
}
