//! Three numbers that prove a verdict, in a user's words.

use super::Cause;
use super::weigh::{Bounds, Weighed};
use crate::findings::{Effect, Key, ORDINARY_LOSS};
use crate::uncertainty::{COVERAGE_FACTOR, Quantity, Result95};

fn told(quantity: &Quantity, what: &str, unit: &str, digits: usize) -> String {
    match quantity {
        Quantity::Stated { value, low, high } => {
            let [value, low, high] = [*value, *low, *high].map(|v| rounded(v, digits));
            format!("{what} {value}{unit} ({low} to {high})")
        }
        Quantity::NotObservable { reason } => format!("{what}: not observable, {reason}"),
    }
}

/// Without a negative zero.
fn rounded(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    match text.strip_prefix('-') {
        Some(size) if !size.contains(|c: char| ('1'..='9').contains(&c)) => size.to_owned(),
        _ => text,
    }
}

/// A sideways number by its size and its side where the side is sure; with its sign where it is not.
fn sideways(quantity: &Quantity, what: &str, unit: &str, digits: usize) -> String {
    match *quantity {
        Quantity::Stated { value, low, high } if low > 0.0 || high < 0.0 => {
            let (low, high) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
            let side = if value > 0.0 { "left" } else { "right" };
            let sizes = Quantity::stated(value.abs(), low, high);
            format!("{}, to the {side}", told(&sizes, what, unit, digits))
        }
        Quantity::Stated { .. } => {
            format!("{}, left positive", told(quantity, what, unit, digits))
        }
        Quantity::NotObservable { .. } => told(quantity, what, unit, digits),
    }
}

/// What was spun away; where that is not known, the least that it was.
fn spun_or_least(result: &Result95) -> String {
    let spun = result.get(Key::SpunAwayM);
    if matches!(spun, Quantity::Stated { .. }) {
        return told(&spun, "wasted in wheelspin", " m", 2);
    }
    let what = "wasted in wheelspin while the wheel was in view, which is the least that it was";
    told(&result.effect(Effect::SpunInView), what, " m", 2)
}

/// The numbers that show it, most telling first.
pub(super) fn because(
    cause: Cause,
    result: &Result95,
    bounds: &Bounds,
    weighed: &[Weighed],
) -> Vec<String> {
    match cause {
        Cause::Grip => for_grip(result),
        Cause::Alignment => vec![
            steady_curve(result),
            aside(result, Key::ImpliedSkewRad, "axles askew by", " rad", 4),
            off_at_the_end(result),
        ],
        Cause::Aim => vec![
            aside(
                result,
                Key::AimErrorRad,
                "first heading off the aim line by",
                " rad",
                3,
            ),
            off_at_the_end(result),
            steady_curve(result),
        ],
        Cause::Wobble => vec![
            say(result, Key::WobbleM, "sway to either side", " m", 4),
            sway_model(result),
            steady_curve(result),
        ],
        Cause::Drive => for_drive(result),
        Cause::Drag => for_drag(result),
        Cause::None => [spun(result), off_at_the_end(result), all_small(bounds)]
            .into_iter()
            .chain(not_judged(weighed))
            .collect(),
        Cause::Undetermined => vec![
            spun(result),
            off_at_the_end(result),
            what_none_needs(bounds),
        ],
    }
}

fn for_grip(result: &Result95) -> Vec<String> {
    let slip = say(result, Key::MaxSlip, "largest slip under power", "", 2);
    [slip, spun_or_least(result), grips_turn(result)]
        .into_iter()
        .chain(friction(result))
        .collect()
}

fn for_drive(result: &Result95) -> Vec<String> {
    let string = "turns that the string should have given but did not";
    let axle = "turns of the axle that its wheel did not follow";
    vec![
        say(result, Key::StringSlipTurns, string, "", 2),
        say(result, Key::LooseWheelTurns, axle, "", 2),
        cost(result, Effect::DriveLost, "travel that this cost"),
    ]
}

fn for_drag(result: &Result95) -> Vec<String> {
    let loss = "loss of speed while coasting";
    vec![
        say(result, Key::CoastDecelerationMPerS2, loss, " m/s²", 2),
        ordinary_coast(result),
        cost(result, Effect::DragLost, "way lost in view"),
    ]
}

/// A quantity of the run.
fn say(result: &Result95, key: Key, what: &str, unit: &str, digits: usize) -> String {
    told(&result.get(key), what, unit, digits)
}

/// The same to a side.
fn aside(result: &Result95, key: Key, what: &str, unit: &str, digits: usize) -> String {
    sideways(&result.get(key), what, unit, digits)
}

/// What a fault cost.
fn cost(result: &Result95, effect: Effect, what: &str) -> String {
    told(&result.effect(effect), what, " m", 2)
}

fn spun(result: &Result95) -> String {
    say(result, Key::SpunAwayM, "wasted in wheelspin", " m", 2)
}

fn off_at_the_end(result: &Result95) -> String {
    let what = "end of the view off line by";
    aside(result, Key::FinalDeviationM, what, " m", 2)
}

fn steady_curve(result: &Result95) -> String {
    aside(result, Key::CurvaturePerM, "steady curve", " per metre", 3)
}

fn all_small(bounds: &Bounds) -> String {
    format!(
        "every fault looked for costs surely less than {:.0} mm",
        1000.0 * bounds.clear_m
    )
}

fn what_none_needs(bounds: &Bounds) -> String {
    format!(
        "to rule every fault out, each would have to cost surely less than {:.0} mm",
        1000.0 * bounds.clear_m
    )
}

/// Causes that nobody asked about: "no fault found" says nothing of them.
fn not_judged(weighed: &[Weighed]) -> Option<String> {
    let what: Vec<String> = weighed.iter().filter_map(Weighed::not_asked).collect();
    (!what.is_empty()).then(|| format!("not judged: {}", what.join("; ")))
}

/// Friction, where the sheet lets it be told. Handbooks give it for pairs of materials that are not this
/// wheel on this floor, so it stands alone.
fn friction(result: &Result95) -> Option<String> {
    matches!(result.get(Key::GripCoefficient), Quantity::Stated { .. }).then(|| {
        told(
            &result.get(Key::GripCoefficient),
            "friction while slipping",
            "",
            2,
        )
    })
}

fn grips_turn(result: &Result95) -> String {
    if result.models.yaw > super::SURE_MODEL {
        told(
            &result.effect(Effect::YawOff),
            "off line by turning while the wheel slipped, and only then",
            " m",
            2,
        )
    } else {
        told(&result.get(Key::PeakSpeedMPerS), "highest speed", " m/s", 2)
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
    let (low, high) = (
        ORDINARY_LOSS.value - COVERAGE_FACTOR * ORDINARY_LOSS.sd,
        ORDINARY_LOSS.value + COVERAGE_FACTOR * ORDINARY_LOSS.sd,
    );
    told(
        &result.get(Key::RollingResistance),
        "coasting loss as a share of the weight",
        "",
        3,
    ) + &format!("; such cars lose {low:.3} to {high:.3}")
}
