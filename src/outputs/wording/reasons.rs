//! Three numbers that prove a verdict, in a user's words.

use super::verdict::not_asked;
use crate::findings::{Effect, Key, ORDINARY_LOSS};
use crate::outputs::shown::{ShownQuantity, show, show_length};
use crate::uncertainty::{COVERAGE_FACTOR, Quantity, QuantityReason, Result95};
use crate::verdict::{Cause, SURE_MODEL, Verdict};

type Shown = Result<ShownQuantity, QuantityReason>;

fn told(what: &str, shown: Shown) -> String {
    match shown {
        Ok(shown) => format!("{what} {} ({})", shown.value, shown.interval),
        Err(reason) => format!("{what}: not observable, {reason}"),
    }
}

/// The numbers that show it, most telling first.
pub(super) fn because(verdict: &Verdict, result: &Result95) -> Vec<String> {
    match verdict.cause {
        Cause::Grip => for_grip(result),
        Cause::Alignment => vec![
            steady_curve(result),
            aside(result, Key::ImpliedSkewRad, "axles askew by"),
            off_at_the_end(result),
        ],
        Cause::Aim => vec![
            aside(
                result,
                Key::AimErrorRad,
                "first heading off the aim line by",
            ),
            off_at_the_end(result),
            steady_curve(result),
        ],
        Cause::Wobble => vec![
            say(result, Key::WobbleM, "sway to either side"),
            sway_model(result),
            steady_curve(result),
        ],
        Cause::Drive => for_drive(result),
        Cause::Drag => for_drag(result),
        Cause::None => [
            spun(result),
            off_at_the_end(result),
            bound("every fault looked for costs surely less than", verdict),
        ]
        .into_iter()
        .chain(not_judged(verdict))
        .collect(),
        Cause::Undetermined => vec![
            spun(result),
            off_at_the_end(result),
            bound(
                "to rule every fault out, each would have to cost surely less than",
                verdict,
            ),
        ],
    }
}

fn for_grip(result: &Result95) -> Vec<String> {
    let slip = say(result, Key::MaxSlip, "largest slip under power");
    [slip, spun_or_least(result), grips_turn(result)]
        .into_iter()
        .chain(friction(result))
        .collect()
}

fn for_drive(result: &Result95) -> Vec<String> {
    let string = "turns that the string should have given but did not";
    let axle = "turns of the axle that its wheel did not follow";
    vec![
        say(result, Key::StringSlipTurns, string),
        say(result, Key::LooseWheelTurns, axle),
        cost(result, Effect::DriveLost, "travel that this cost"),
    ]
}

fn for_drag(result: &Result95) -> Vec<String> {
    vec![
        say(
            result,
            Key::CoastDecelerationMPerS2,
            "loss of speed while coasting",
        ),
        ordinary_coast(result),
        cost(result, Effect::DragLost, "way lost in view"),
    ]
}

/// A quantity of the run.
fn say(result: &Result95, key: Key, what: &str) -> String {
    told(what, show(key, &result.get(key)))
}

/// The same to a side: by its size and its side where the side is sure, with its sign where it is not.
fn aside(result: &Result95, key: Key, what: &str) -> String {
    let quantity = result.get(key);
    match quantity {
        Quantity::Stated { value, low, high } if low > 0.0 || high < 0.0 => {
            let (low, high) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
            let side = if value > 0.0 { "left" } else { "right" };
            let size = Quantity::stated(value.abs(), low, high);
            format!("{}, to the {side}", told(what, show(key, &size)))
        }
        Quantity::Stated { .. } => {
            format!("{}, left positive", told(what, show(key, &quantity)))
        }
        Quantity::NotObservable { .. } => told(what, show(key, &quantity)),
    }
}

/// What a fault cost.
fn cost(result: &Result95, effect: Effect, what: &str) -> String {
    told(what, show_length(&result.effect(effect)))
}

fn spun(result: &Result95) -> String {
    say(result, Key::SpunAwayM, "wasted in wheelspin")
}

/// What was spun away; where that is not known, the least that it was.
fn spun_or_least(result: &Result95) -> String {
    if result.value(Key::SpunAwayM).is_some() {
        return spun(result);
    }
    let what = "wasted in wheelspin while the wheel was in view, which is the least that it was";
    cost(result, Effect::SpunInView, what)
}

fn off_at_the_end(result: &Result95) -> String {
    aside(result, Key::FinalDeviationM, "end of the view off line by")
}

fn steady_curve(result: &Result95) -> String {
    aside(result, Key::CurvaturePerM, "steady curve")
}

fn bound(words: &str, verdict: &Verdict) -> String {
    format!("{words} {:.0} mm", 1000.0 * verdict.bounds.clear_m)
}

fn not_judged(verdict: &Verdict) -> Option<String> {
    let what: Vec<String> = not_asked(verdict).collect();
    (!what.is_empty()).then(|| format!("not judged: {}", what.join("; ")))
}

/// Friction, where the sheet lets it be told. Handbooks give it for pairs of materials that are not this
/// wheel on this floor, so it stands alone.
fn friction(result: &Result95) -> Option<String> {
    result.value(Key::GripCoefficient)?;
    Some(say(result, Key::GripCoefficient, "friction while slipping"))
}

fn grips_turn(result: &Result95) -> String {
    if result.models.yaw > SURE_MODEL {
        let what = "off line by turning while the wheel slipped, and only then";
        cost(result, Effect::YawOff, what)
    } else {
        say(result, Key::PeakSpeedMPerS, "highest speed")
    }
}

fn sway_model(result: &Result95) -> String {
    let models = &result.models;
    if models.sway_of_driven_wheel >= models.sway_at_another_rate {
        format!(
            "the sway keeps step with the driven wheel (weight of that explanation: {:.2})",
            models.sway_of_driven_wheel
        )
    } else {
        format!(
            "the sway keeps step with something other than the driven wheel, as the other axle's wheels \
             would (weight of that explanation: {:.2})",
            models.sway_at_another_rate
        )
    }
}

fn ordinary_coast(result: &Result95) -> String {
    let half = COVERAGE_FACTOR * ORDINARY_LOSS.sd;
    let (low, high) = (ORDINARY_LOSS.value - half, ORDINARY_LOSS.value + half);
    let share = say(
        result,
        Key::RollingResistance,
        "coasting loss as a share of the weight",
    );
    format!("{share}; such cars lose {low:.3} to {high:.3}")
}
