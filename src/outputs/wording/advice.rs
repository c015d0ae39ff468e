//! What to try next: common practice, no source, ordered by what this run's numbers say it would gain.

use crate::findings::{Effect, Key};
use crate::outputs::shown::show_length;
use crate::uncertainty::{Quantity, Result95};
use crate::verdict::{Cause, SURE_MODEL, Verdict};

/// The caution that goes with every piece of advice.
pub const CAUTION: &str = "Advice is common practice, without a source. Cautions: a trap spring can break \
    a finger, so hold it by its base and work with it unwound; cut away from the hand; use glue, hot glue \
    and solvents with fresh air and as their labels say; keep ovens and heat to an adult; follow the rules \
    of your school or club and work under supervision.";

/// Share of an interval above which its main source is worth naming.
const MAIN_SOURCE: f64 = 0.5;

/// Advice for a verdict, best first: what mends the dearest fault, then one step for each other fault,
/// then what would narrow the deciding interval most.
pub(super) fn advice(verdict: &Verdict, result: &Result95) -> Vec<String> {
    let mut out = match verdict.cause {
        Cause::Undetermined => better_view(verdict, result),
        cause => steps(cause, result),
    };
    for other in &verdict.also {
        out.extend(steps(*other, result).into_iter().take(1));
    }
    out.extend(narrower(verdict.cause, result));
    out
}

/// How long something is, from the low end of its interval to the high one.
fn metres(quantity: &Quantity) -> Option<String> {
    Some(show_length(&quantity.magnitude()).ok()?.range())
}

/// What a step would change, in brackets: `words` with the metres put where `{}` stands.
fn effect(quantity: &Quantity, words: &str) -> String {
    metres(quantity).map_or_else(String::new, |m| format!(" ({})", words.replace("{}", &m)))
}

/// How far the car comes nearer to the line.
const CLOSER: &str = "brings the car {} closer to the line at the end of the view";

fn steps(cause: Cause, result: &Result95) -> Vec<String> {
    match cause {
        Cause::Grip => grip(result),
        Cause::Alignment => alignment(result),
        Cause::Aim => {
            let gain = effect(&result.effect(Effect::AimOff), CLOSER);
            vec![
                format!("set the car down against a straightedge laid along the aim line{gain}"),
                "let go without a sideways push".into(),
            ]
        }
        Cause::Wobble => wobble(result),
        Cause::Drive => drive(result),
        Cause::Drag => {
            let gain = effect(
                &result.effect(Effect::DragLostInAll),
                "an ordinary coast would go {} further before the car stands",
            );
            vec![
                format!(
                    "spin each wheel by hand with the string off and see which stops first: that one rubs \
                     or its axle is pinched{gain}"
                ),
                "give the axle a little play end to end, and a washer between wheel and body".into(),
                "check that the string comes off its axle at the end of the pull, or it brakes".into(),
                "a drop of dry lubricant in the axle's holes".into(),
            ]
        }
        Cause::None => vec![
            "compare runs to see whether the car repeats itself".into(),
            "for more distance, a longer arm or thinner axle spreads the same spring over more travel"
                .into(),
        ],
        Cause::Undetermined => Vec::new(),
    }
}

fn grip(result: &Result95) -> Vec<String> {
    let gain = without_slip(result);
    let tread = format!(
        "give the driven wheels a soft tread: a strip of inner tube or a thin bead of silicone, and wipe \
         wheels and floor clean of dust{gain}"
    );
    let soften =
        "soften the start: a longer arm or a thinner axle pulls less at the rim".to_owned();
    let weight = "move weight over the driven axle".to_owned();
    let even =
        "make both driven wheels grip alike: the car turned because one let go first".to_owned();
    let mut out = vec![tread];
    // A wheel that spins hard needs grip; one that only just lets go holds with a gentler pull.
    if result.value(Key::MaxSlip).is_some_and(|slip| slip < 0.4) {
        out.extend([soften, weight]);
    } else {
        out.extend([weight, soften]);
    }
    if result.models.yaw > SURE_MODEL {
        out.insert(1, even);
    }
    out
}

/// What slip wasted, and what the car would gain without any: at the best, since a better tread slips less but
/// may still slip.
fn without_slip(result: &Result95) -> String {
    let Some(wasted) = metres(&result.get(Key::SpunAwayM)) else {
        return String::new();
    };
    let gain = match result.get(Key::GainWithoutSlipM) {
        Quantity::NotObservable { reason } => {
            format!("how much further the car would go is not told: {reason}")
        }
        gain @ Quantity::Stated { .. } => metres(&gain).map_or_else(String::new, |m| {
            format!("without wheelspin the car would stop {m} further on")
        }),
    };
    format!(" ({wasted} wasted in wheelspin; {gain})")
}

fn alignment(result: &Result95) -> Vec<String> {
    let left = result.value(Key::CurvaturePerM).is_some_and(|k| k > 0.0);
    let (curve, turn) = if left {
        ("left", "right")
    } else {
        ("right", "left")
    };
    let angle = result
        .value(Key::ImpliedSkewRad)
        .map_or_else(String::new, |skew| {
            format!(" by {:.1} degrees", skew.abs().to_degrees())
        });
    let gain = effect(&result.effect(Effect::CurveOff), CLOSER);
    vec![
        format!(
            "the car curves to the {curve}: turn the front axle to the {turn}{angle} and run again{gain}"
        ),
        "check that both axles are square to the body and that no wheel drags".into(),
        "a longer wheelbase makes the same error matter less".into(),
    ]
}

fn wobble(result: &Result95) -> Vec<String> {
    let gain = effect(
        &result.effect(Effect::SwayOff),
        "takes out {} of sway from side to side",
    );
    let models = &result.models;
    let which = if models.sway_of_driven_wheel >= models.sway_at_another_rate {
        "a driven wheel"
    } else {
        "a wheel of the other axle"
    };
    vec![
        format!(
            "{which} is not square on its axle: hold a pencil beside the rim, turn the wheel, and true it \
             until the gap stays the same{gain}"
        ),
        "glue a wide hub or a washer on both sides of the wheel so that it cannot lean".into(),
        "replace a bent axle".into(),
    ]
}

fn drive(result: &Result95) -> Vec<String> {
    let gain = effect(
        &result.effect(Effect::DriveLost),
        "turns for {} of travel never reached the floor",
    );
    let string = format!(
        "stop the string from sliding on its axle: a hook or a knot in a notch, the first turn over itself, \
         a wrap of tape under it{gain}"
    );
    let wheel = format!(
        "fix the driven wheel to its axle: it turned less than the axle did; glue it or press it on a \
         sleeve{gain}"
    );
    let loose = result
        .value(Key::LooseWheelTurns)
        .zip(result.value(Key::StringSlipTurns));
    match loose {
        Some((loose, string_slip)) if loose > string_slip => vec![wheel, string],
        Some(_) => vec![string, wheel],
        None if result.value(Key::LooseWheelTurns).is_some() => vec![wheel],
        None => vec![
            string,
            "check that the driven wheels are fixed to their axle; a mark on the axle's end, named in the \
             run sheet as `[axle_mark]`, tells which of the two slips"
                .into(),
            "measure `string_mm`, `axle_diameter_mm` and `string_diameter_mm` again: the missing turns rest on them"
                .into(),
        ],
    }
}

fn better_view(verdict: &Verdict, result: &Result95) -> Vec<String> {
    let hidden = |key: Key| result.value(key).is_none();
    let mut out = Vec::new();
    if hidden(Key::SpunAwayM) {
        out.push(
            "to see slip: put a bright mark on the outer face of the driven wheel, name it in the run \
             sheet, and keep it in view until the car coasts"
                .into(),
        );
    }
    if hidden(Key::CurvaturePerM) {
        out.push(
            "to see sideways motion: lay four or more floor marks at known places, not in a line, and keep \
             them in view"
                .into(),
        );
    }
    let string_open = verdict
        .weighed
        .iter()
        .any(|w| w.cause == Cause::Drive && w.open().is_some());
    if string_open {
        out.push(
            "to judge the string: keep the wheel mark in view, and lit, until the string is off its axle and a little \
             longer, and give `string_mm`, `axle_diameter_mm` and `string_diameter_mm` on the run sheet"
                .into(),
        );
    }
    if out.is_empty() {
        out.push(
            "the intervals are too wide to tell: film nearer, in better light, at 60 frames a second or \
             more"
                .into(),
        );
    }
    out
}

/// The number that decides a verdict.
const fn deciding(cause: Cause) -> Option<Key> {
    match cause {
        Cause::Grip => Some(Key::SpunAwayM),
        Cause::Alignment => Some(Key::CurvaturePerM),
        Cause::Aim => Some(Key::AimErrorRad),
        Cause::Wobble => Some(Key::WobbleM),
        Cause::Drive => Some(Key::StringSlipTurns),
        Cause::Drag => Some(Key::CoastDecelerationMPerS2),
        Cause::None | Cause::Undetermined => None,
    }
}

fn narrower(cause: Cause, result: &Result95) -> Option<String> {
    let key = deciding(cause)?;
    let main = result.budgets.get(&key)?.first()?;
    let (what, action) = (main.input.name(), main.input.advice()?);
    (main.share >= MAIN_SOURCE && result.value(key).is_some()).then(|| {
        format!(
            "for a narrower interval of “{}”: {action} ({what}: {:.0} % of its variance)",
            key.meaning(),
            100.0 * main.share
        )
    })
}
