//! What of each run's own uncertainty is its own, and what all runs of a set-up share.
//!
//! A floor mark put down two millimetres from its place is in every run's interval, but it does not make
//! runs differ, and between runs filmed at the same marks it cancels. The summary's uncertainty budget says
//! how much of an interval comes from what. That two errors are one and the same must be known, not guessed
//! from equal numbers: a size is one measurement where it is of one car; floor marks, lens and the times of the
//! rows go with one place of the phone, which the marks' places in the picture tell.

use super::facts::SheetKey;
use super::reading::{Run, Value95};
use crate::findings::Key;
use crate::uncertainty::COVERAGE_FACTOR;
use std::collections::BTreeSet;

/// The inputs of a budget that are drawn anew in every clip; all others come with the set-up. What the methods leave
/// open is taken for the clip's own, as if it differed from run to run.
const OWN: [&str; 2] = ["pixel_noise", "method"];

/// Sizes of the run sheet by the budget's names.
const SIZES: [(&str, SheetKey); 8] = [
    size("sticker_height", "sticker", "height_mm"),
    size("sticker_ahead", "sticker", "ahead_mm"),
    size("sticker_off_centre", "sticker", "off_centre_mm"),
    size("track_width", "car", "track_width_mm"),
    size("wheel_diameter", "car", "wheel_diameter_mm"),
    size("mark_radius", "wheel_mark", "radius_mm"),
    size("string_sizes", "car", "string_mm"),
    size("driven_share", "car", "driven_share"),
];

const fn size(
    input: &'static str,
    table: &'static str,
    key: &'static str,
) -> (&'static str, SheetKey) {
    (input, SheetKey { table, key })
}

/// A value of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    /// The run's place among all.
    pub(super) run: usize,
    /// The value.
    pub(super) value: Value95,
    /// 1 where the value grows with an error of the set-up, −1 where it falls: distances from the line do, of
    /// runs to the right of it.
    pub(super) sense: f64,
}

/// Standard uncertainty of a value.
pub(super) fn standard_uncertainty(value: Value95) -> f64 {
    (value.high - value.low) / (2.0 * COVERAGE_FACTOR)
}

/// The part of a value's standard uncertainty that is the clip's own. Without a budget all of it is taken
/// for the clip's own.
pub(super) fn own_uncertainty(run: &Run, key: Key, value: Value95) -> f64 {
    let share = match run.budgets.get(&key) {
        Some(shares) => {
            let own = OWN.iter().filter_map(|input| shares.get(*input));
            own.sum::<f64>().clamp(0.0, 1.0)
        }
        None => 1.0,
    };
    standard_uncertainty(value) * share.sqrt()
}

/// Standard uncertainty that comes with the set-up, as a root mean square over runs.
pub(super) fn set_up_uncertainty(runs: &[Run], seen: &[Seen], key: Key) -> f64 {
    let squares = seen.iter().map(|one| {
        let (all, own) = (
            standard_uncertainty(one.value),
            own_uncertainty(&runs[one.run], key, one.value),
        );
        (all * all - own * own).max(0.0)
    });
    (squares.sum::<f64>() / seen.len().max(1) as f64).sqrt()
}

/// One error of measuring, made once.
#[derive(Clone, Copy)]
enum Error<'a> {
    /// In a size of this car, with what its sheet says.
    Size(&'a str, Option<&'a str>),
    /// With the phone and the floor marks as in this run.
    Place(&'a Run),
    /// Nothing says whose it is: then all runs of a group may share it, and none of another group.
    Unknown(usize),
}

impl Error<'_> {
    fn is(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Size(car, size), Self::Size(other, same)) => car == other && size == same,
            (Self::Place(one), Self::Place(other)) => one.filmed_at_one_place_as(other),
            (Self::Unknown(group), Self::Unknown(other)) => group == other,
            _ => false,
        }
    }
}

/// Variance of the difference of two groups' means from errors of measuring that do not cancel: those that
/// the groups do not have in common, and what of common ones changes the two by unequal amounts.
pub(super) fn apart_variance(runs: &[Run], groups: [&[Seen]; 2], key: Key) -> f64 {
    let inputs: BTreeSet<&str> = (groups.iter().copied().flatten())
        .filter_map(|one| runs[one.run].budgets.get(&key))
        .flat_map(|shares| shares.keys().map(String::as_str))
        .filter(|input| !OWN.contains(input))
        .collect();
    let from = |input: &str| -> f64 {
        // For each error: by how much its standard uncertainty moves the difference.
        let mut moved: Vec<(Error<'_>, f64)> = Vec::new();
        for (number, group) in groups.iter().enumerate() {
            let weight = (2.0 * number as f64 - 1.0) / group.len() as f64;
            for one in *group {
                let run = &runs[one.run];
                let shares = run.budgets.get(&key);
                let share = shares.and_then(|shares| shares.get(input)).copied();
                let by = weight
                    * one.sense
                    * standard_uncertainty(one.value)
                    * share.unwrap_or(0.0).sqrt();
                let error = error_of(run, input, number);
                match moved.iter_mut().find(|(other, _)| other.is(&error)) {
                    Some((_, sum)) => *sum += by,
                    None => moved.push((error, by)),
                }
            }
        }
        moved.iter().map(|(_, by)| by * by).sum()
    };
    inputs.into_iter().map(from).sum()
}

fn error_of<'a>(run: &'a Run, input: &str, group: usize) -> Error<'a> {
    let error = match SIZES.iter().find(|(name, _)| *name == input) {
        Some((_, key)) => {
            let car = run.facts.text(SheetKey::CAR);
            car.map(|car| Error::Size(car, run.facts.text(*key)))
        }
        None => run.marks_at_px.as_ref().map(|_| Error::Place(run)),
    };
    error.unwrap_or(Error::Unknown(group))
}
