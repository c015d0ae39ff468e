//! What to try next: common practice, no source, ordered by what it is likely to gain.

use super::Cause;
use crate::findings::Key;
use crate::uncertainty::Result95;

/// The caution that goes with every piece of advice.
pub const CAUTION: &str = "Cautions: a trap spring can break a finger, so hold it by its base and work \
    with it unwound; cut away from the hand; use glue, hot glue and solvents with fresh air and as their \
    labels say; follow the rules of your school or club and work under supervision.";

/// Advice for a cause, best first.
pub fn advice(cause: Cause, result: &Result95) -> Vec<String> {
    match cause {
        Cause::Grip => vec![
            "give the driven wheels a soft tread: a strip of inner tube or a thin bead of silicone, and \
             wipe wheels and floor clean of dust"
                .into(),
            "soften the start: a longer arm or a thinner axle pulls less at the rim".into(),
            "move weight over the driven axle".into(),
        ],
        Cause::Alignment => {
            let left = result.value(Key::CurvaturePerM).is_some_and(|k| k > 0.0);
            let (curve, turn) = if left { ("left", "right") } else { ("right", "left") };
            vec![
                format!(
                    "the car curves to the {curve}: turn the front axle a little to the {turn}, by the \
                     angle named above, and run again"
                ),
                "check that both axles are square to the body and that no wheel drags".into(),
                "a longer wheelbase makes the same error matter less".into(),
            ]
        }
        Cause::Aim => vec![
            "set the car down against a straightedge laid along the aim line".into(),
            "let go without a sideways push".into(),
        ],
        Cause::None => vec![
            "no fault stands out; compare runs to see whether the car is repeatable".into(),
            "for more distance, a longer arm or thinner axle spreads the same spring over more travel"
                .into(),
        ],
        Cause::Undetermined => {
            let hidden = |key: Key| result.value(key).is_none();
            let mut out = Vec::new();
            if hidden(Key::SpunAwayM) {
                out.push(
                    "to see slip: put a bright mark on the outer face of the driven wheel, name it in \
                     the run sheet, and keep it in view until the car coasts"
                        .into(),
                );
            }
            if hidden(Key::CurvaturePerM) {
                out.push(
                    "to see sideways motion: lay four or more floor marks at known places, not in a \
                     line, and keep them in view"
                        .into(),
                );
            }
            if out.is_empty() {
                out.push(
                    "the intervals are too wide to tell: film nearer, in better light, at 60 frames a \
                     second or more"
                        .into(),
                );
            }
            out
        }
    }
}
