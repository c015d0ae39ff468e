//! What of each run's own uncertainty is its own, and what all runs of a set-up share.
//!
//! A floor mark put down two millimetres from its place is in every run's interval, but it does not make
//! runs differ, and between runs filmed at the same marks it cancels. The summary's uncertainty budget
//! says how much of an interval comes from what, and the sheets say whether two runs had it in common.

use super::facts::SheetKey;
use super::reading::{Run, Value95};
use crate::findings::Key;
use crate::uncertainty::COVERAGE_FACTOR;
use std::collections::BTreeSet;

/// The input of a budget that is drawn anew in every clip; all others come with the set-up.
const OWN: &str = "pixel_noise";

/// Sizes of the run sheet by the budget's names.
const SIZES: [(&str, SheetKey); 6] = [
    (
        "sticker_height",
        SheetKey {
            table: "sticker",
            key: "height_mm",
        },
    ),
    (
        "sticker_ahead",
        SheetKey {
            table: "sticker",
            key: "ahead_mm",
        },
    ),
    (
        "sticker_off_centre",
        SheetKey {
            table: "sticker",
            key: "off_centre_mm",
        },
    ),
    (
        "track_width",
        SheetKey {
            table: "car",
            key: "track_width_mm",
        },
    ),
    (
        "wheel_diameter",
        SheetKey {
            table: "car",
            key: "wheel_diameter_mm",
        },
    ),
    (
        "mark_radius",
        SheetKey {
            table: "wheel_mark",
            key: "radius_mm",
        },
    ),
];

/// Standard uncertainty of a value.
pub(super) fn standard_uncertainty(value: Value95) -> f64 {
    (value.high - value.low) / (2.0 * COVERAGE_FACTOR)
}

/// The part of a value's standard uncertainty that is the clip's own. Without a budget all of it is taken
/// for the clip's own.
pub(super) fn own_uncertainty(run: &Run, key: Key, value: Value95) -> f64 {
    let share = match run.budgets.get(&key) {
        Some(shares) => shares.get(OWN).copied().unwrap_or(0.0).clamp(0.0, 1.0),
        None => 1.0,
    };
    standard_uncertainty(value) * share.sqrt()
}

/// Standard uncertainty that comes with the set-up, as a root mean square over runs.
pub(super) fn set_up_uncertainty(runs: &[(&Run, Value95)], key: Key) -> f64 {
    mean(runs.iter().map(|(run, value)| {
        let (all, own) = (
            standard_uncertainty(*value),
            own_uncertainty(run, key, *value),
        );
        (all * all - own * own).max(0.0)
    }))
    .sqrt()
}

/// Variance of the difference of two groups from what they do not have in common: sizes that the sheets
/// say differently, and floor marks where the set-ups differ.
pub(super) fn apart_variance(groups: [&[(&Run, Value95)]; 2], key: Key) -> f64 {
    let all = || groups.iter().flat_map(|group| group.iter());
    let inputs: BTreeSet<&str> = all()
        .filter_map(|(run, _)| run.budgets.get(&key))
        .flat_map(|shares| shares.keys().map(String::as_str))
        .filter(|input| *input != OWN)
        .collect();
    let apart = inputs.into_iter().filter(|input| {
        let told: BTreeSet<Option<String>> = all().map(|(run, _)| told(run, input)).collect();
        told.len() > 1
    });
    apart
        .map(|input| {
            let variance = |group: &&[(&Run, Value95)]| {
                mean(group.iter().map(|(run, value)| {
                    let shares = run.budgets.get(&key);
                    let share = shares.and_then(|shares| shares.get(input)).copied();
                    standard_uncertainty(*value).powi(2) * share.unwrap_or(0.0)
                }))
            };
            groups.iter().map(variance).sum::<f64>()
        })
        .sum()
}

/// What a run's sheet says about an input.
fn told(run: &Run, input: &str) -> Option<String> {
    match SIZES.iter().find(|(name, _)| *name == input) {
        Some((_, key)) => run.facts.text(*key).map(str::to_owned),
        // Floor marks, a plain scale, the lens and its rows go with the place of the phone.
        None => run.set_up.clone(),
    }
}

fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len().max(1) as f64;
    values.sum::<f64>() / count
}
