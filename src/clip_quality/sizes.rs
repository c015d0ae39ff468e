//! The sizes of the car: which of them nobody typed, and what that costs.

use super::{Grade, Item, RunEvidence};
use crate::findings::{FindingReason, Key};
use crate::priors::Input;
use crate::texts::Texts;
use crate::uncertainty::{Quantity, QuantityReason, Result95};

/// Sizes that stand in for ones that nobody typed are what helps most where they cause more than this share of an
/// interval's variance: half of it is more than all else together.
const MOST_OF_IT: f64 = 0.5;

const TYPE_THEM: &str = "type the sizes: `gripline setup CLIP --sheet run.toml` asks for them";
const TYPE_THEM_FIRST: &str =
    "type the sizes first: `gripline setup CLIP --sheet run.toml` asks for them";

/// What is expected, by the names of its items.
const EXPECTED: [(&str, Key); 3] = [
    ("expected_speed", Key::PeakSpeedMPerS),
    ("expected_slip", Key::MaxSlip),
    ("expected_drift", Key::DriftMPerM),
];

/// The item of the sizes; `expected` are the items of what speed, slip and drift would be uncertain by.
pub(super) fn item(run: &RunEvidence<'_>, expected: &[Item]) -> Item {
    let item = |grade, says| Item::new("sizes", "sizes of the car", grade, says);
    let guessed = run.priors.guessed();
    if guessed.is_empty() {
        return item(Grade::Good, "typed, as far as they matter here".to_owned());
    }
    let name = |input: &Input| Texts::english().text(&format!("input-{}", input.as_str()));
    let names: Vec<String> = guessed.iter().map(name).collect();
    let names = names.join(", ");
    let says = format!("not typed: {names}");
    let Some(result) = run.result else {
        return item(Grade::Usable, says).change(TYPE_THEM);
    };
    let cost = (EXPECTED.into_iter())
        .filter(|(_, key)| causes_most(result, *key, &guessed))
        .filter_map(|(name, _)| expected.iter().find(|item| item.name == name))
        .map(|item| item.grade)
        .filter(|grade| matches!(grade, Grade::Usable | Grade::NotUsable))
        .max();
    match cost {
        Some(grade) => item(grade, format!("{says}; guesses make the intervals wide"))
            .change(TYPE_THEM_FIRST)
            .helps_most(),
        // Where something is not told at all, nobody knows what guesses would cost.
        None if EXPECTED.iter().any(|(_, key)| result.value(*key).is_none()) => {
            item(Grade::Usable, says).change(TYPE_THEM)
        }
        None => item(Grade::Good, format!("{says}; that costs little here")),
    }
}

/// Whether guessed sizes are most of why a quantity is as uncertain as it is, or why there is none.
fn causes_most(result: &Result95, key: Key, guessed: &[Input]) -> bool {
    if let Quantity::NotObservable { reason } = result.get(key) {
        return reason == QuantityReason::Finding(FindingReason::NoRadius);
    }
    let shares = result.budgets.get(&key).into_iter().flatten();
    let theirs = shares.filter(|share| guessed.contains(&share.input));
    theirs.map(|share| share.share).sum::<f64>() > MOST_OF_IT
}
