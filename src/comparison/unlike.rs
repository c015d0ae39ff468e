//! What differs between runs besides what they are grouped by, in words.

use super::phrases::list;
use crate::sheet::by_full_name;
use crate::treatments::{Comparison, Condition, Differing};

/// Conditions that are told with their values; more are named only, or counted.
const TOLD: usize = 4;
/// Conditions that are named at most.
const NAMED: usize = 8;
/// Values of a condition that are told.
const VALUES: usize = 3;

/// "the car, the mass and 2 more".
pub(super) fn names(what: &[Differing], most: usize) -> String {
    let mut named: Vec<String> = what.iter().take(most).map(|one| name(&one.what)).collect();
    if what.len() > most {
        named.push(format!("{} more", what.len() - most));
    }
    list(&named)
}

fn name(what: &Condition) -> String {
    match what {
        Condition::FrameRate => "the frame rate".to_owned(),
        Condition::View => "the kind of view".to_owned(),
        Condition::SetUp => "the set-up of floor marks and camera".to_owned(),
        Condition::Day => "the day".to_owned(),
        Condition::Sheet(key) => format!("the {}", key_words(key).0),
    }
}

/// What a key is called, and its unit: "mass" and " g" for `car.mass_g`.
fn key_words(full: &str) -> (String, &'static str) {
    let key = by_full_name(full);
    if let Some(called) = key.and_then(|key| key.called) {
        return (called.to_owned(), "");
    }
    let unit = key.map_or("", |key| key.unit());
    let bare = full.trim_start_matches("car.");
    // The name ends with its unit as the file writes it.
    let named = bare.rsplit_once('_').filter(|_| !unit.is_empty());
    let bare = named.map_or(bare, |(name, _)| name);
    (bare.replace(['.', '_'], " "), unit)
}

fn value(what: &Condition, value: &str) -> String {
    match (what, value) {
        (Condition::FrameRate | Condition::Day | Condition::View | Condition::SetUp, "") => {
            "unknown".to_owned()
        }
        (Condition::Sheet(_), "") => "not on the sheet".to_owned(),
        (Condition::FrameRate, rate) => format!("{rate} a second"),
        (Condition::View, view) => view.replace('_', " "),
        (Condition::SetUp, run) => format!("that of `{run}`"),
        (Condition::Day, day) => day.to_owned(),
        (Condition::Sheet(key), value) => format!("{value}{}", key_words(key).1),
    }
}

/// Something changed along with the groups.
pub(super) fn goes_with_groups(of: &Comparison, what: &[Differing]) -> String {
    let told: Vec<String> = (of.groups.iter().enumerate())
        .map(|(group, found)| {
            let had: Vec<String> = (what.iter().take(TOLD))
                .map(|one| {
                    let values: Vec<String> = (one.by_group[group].iter().take(VALUES))
                        .map(|(text, _)| value(&one.what, text))
                        .collect();
                    let name = name(&one.what);
                    let name = name.trim_start_matches("the ");
                    format!("{name} {}", values.join(" or "))
                })
                .collect();
            format!("{}: {}", found.label, list(&had))
        })
        .collect();
    let by = of.question.by.words();
    format!(
        "{} changed along with the {by} ({}); the difference may be due to that, and more runs of this kind \
         cannot tell. Unless it belongs to the {by}, share it out: the same for every group, or every group \
         with each in turns",
        names(what, NAMED),
        told.join("; ")
    )
}

/// Something is not shared out evenly.
pub(super) fn uneven(of: &Comparison, what: &[Differing]) -> String {
    let told: Vec<String> = (what.iter().take(TOLD))
        .map(|one| {
            let groups: Vec<String> = (of.groups.iter().zip(&one.by_group))
                .map(|(group, values)| format!("{}: {}", group.label, counted(&one.what, values)))
                .collect();
            format!("{} ({})", name(&one.what), groups.join("; "))
        })
        .collect();
    let more = if what.len() > TOLD {
        format!(", and also {}", names(&what[TOLD..], NAMED))
    } else {
        String::new()
    };
    format!(
        "not shared out evenly among the groups: {}{more}; part of a difference may be due to that",
        list(&told)
    )
}

/// Runs were filmed unlike, though evenly.
pub(super) fn unlike(of: &Comparison, what: &[Differing]) -> String {
    let told: Vec<String> = (what.iter())
        .map(|one| {
            let mut values: Vec<(String, Vec<usize>)> = Vec::new();
            for (value, runs) in one.by_group.iter().flatten() {
                match values.iter_mut().find(|(same, _)| same == value) {
                    Some((_, all)) => all.extend(runs),
                    None => values.push((value.clone(), runs.clone())),
                }
            }
            format!("{} ({})", name(&one.what), counted(&one.what, &values))
        })
        .collect();
    let evenly = if of.groups.len() > 1 {
        ", though evenly among the groups"
    } else {
        ""
    };
    format!("the runs differ in {}{evenly}", list(&told))
}

/// "Tern in 3 runs, Gull in 1".
fn counted(what: &Condition, values: &[(String, Vec<usize>)]) -> String {
    let mut told: Vec<String> = (values.iter().take(VALUES))
        .map(|(text, runs)| format!("{} in {}", value(what, text), runs.len()))
        .collect();
    if values.len() > VALUES {
        told.push(format!("{} others", values.len() - VALUES));
    }
    told.join(", ")
}
