//! In what runs differ besides what they are grouped by, and whether that goes with the groups: then nobody can
//! say whether the treatment made the difference, or the car, the day or the camera.

use super::Comparison;
use super::facts::compared;
use super::order::OrderBy;
use super::reading::Run;
use crate::sheet::Compared;
use std::collections::BTreeSet;

/// Frame rates this far apart, as a share, are different rates.
const SAME_RATE: f64 = 0.05;
/// In what runs may differ without anyone meaning it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Condition {
    /// Frames a second.
    FrameRate,
    /// How the run was seen: a camera from floor marks, a plain scale.
    View,
    /// Where floor marks and phone stood.
    SetUp,
    /// The day on which the clip was made.
    Day,
    /// Something on the run sheet, by its full key.
    Sheet(String),
}

/// A condition that differs between runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Differing {
    /// In what.
    pub what: Condition,
    /// For each group each value with its runs; an unknown value is empty. A set-up is named by a run of it.
    pub by_group: Vec<Vec<(String, Vec<usize>)>>,
}

/// How a condition goes with the groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tie {
    /// Two groups have no value in common: their difference and the condition's cannot be told apart.
    Tied,
    /// Some groups have more of a value than their share.
    Uneven,
    /// Every group has its share.
    Even,
}

/// Every condition in which runs that count differ.
pub(super) fn differing(of: &Comparison) -> Vec<(Differing, Tie)> {
    let counted: Vec<usize> = (0..of.runs.len())
        .filter(|&run| of.roles[run].group().is_some())
        .collect();
    let runs: Vec<&Run> = counted.iter().map(|&run| &of.runs[run]).collect();
    let text = |of: &dyn Fn(&Run) -> Option<String>| -> Vec<String> {
        let told = runs.iter().map(|run| of(run).unwrap_or_default());
        told.collect()
    };
    let mut all = vec![
        (Condition::FrameRate, rates(&runs)),
        (Condition::View, text(&|run| run.view.clone())),
        (Condition::SetUp, set_ups(&runs)),
        (Condition::Day, text(&|run| day(run.filmed.as_deref()?))),
    ];
    for key in keys(of, &runs) {
        let told = text(&|run| run.facts.by_name(&key).map(|fact| fact.text.clone()));
        all.push((Condition::Sheet(key), told));
    }
    (all.into_iter())
        .filter(|(_, told)| told.iter().any(|value| *value != told[0]))
        .filter_map(|(what, told)| {
            let by_group = by_group(of, &counted, &told);
            let numbers = match &what {
                Condition::Sheet(key) => numbers(of, key),
                _ => None,
            };
            let tie = match numbers {
                Some(numbers) if every_run_its_own(&by_group) => tie_of_numbers(&numbers),
                None if every_run_its_own(&by_group) => return None,
                _ => tie_of_values(&by_group),
            };
            Some((Differing { what, by_group }, tie))
        })
        .collect()
}

/// Keys on any sheet but those that the question itself sorts by, notes, and what belongs to the set-up.
fn keys(of: &Comparison, runs: &[&Run]) -> BTreeSet<String> {
    let question = &of.question;
    let order = match of.ordered_by {
        OrderBy::Sheet(key) => Some(key),
        _ => None,
    };
    let sorted: Vec<String> = [Some(question.by), question.pair_by, order]
        .into_iter()
        .flatten()
        .map(|key| key.to_string())
        .collect();
    let told = runs.iter().flat_map(|run| run.facts.names());
    told.filter(|key| compared(key) == Compared::ByItself)
        .map(str::to_owned)
        .filter(|key| !sorted.contains(key))
        .collect()
}

/// The day of an ISO 8601 time.
fn day(filmed: &str) -> Option<String> {
    filmed.split('T').next().map(str::to_owned)
}

/// Rates as text, those that are nearly the same as the same text.
fn rates(runs: &[&Run]) -> Vec<String> {
    let mut known: Vec<(f64, String)> = Vec::new();
    (runs.iter())
        .map(|run| {
            let Some(rate) = run.frames_per_s else {
                return String::new();
            };
            let same = (known.iter()).find(|(one, _)| (rate / one - 1.0).abs() < SAME_RATE);
            if let Some((_, text)) = same {
                return text.clone();
            }
            known.push((rate, format!("{rate:.0}")));
            format!("{rate:.0}")
        })
        .collect()
}

/// Each run's set-up, by the name of the first run of it. Where the marks' places in the picture are not known,
/// the sheets alone tell.
fn set_ups(runs: &[&Run]) -> Vec<String> {
    let alike = |one: &Run, other: &Run| {
        let known = one.marks_at_px.is_some() && other.marks_at_px.is_some();
        one.set_up == other.set_up && (!known || one.filmed_at_one_place_as(other))
    };
    (runs.iter())
        .map(|run| {
            let first = runs.iter().find(|other| alike(other, run));
            first.map_or_else(String::new, |first| first.name.clone())
        })
        .collect()
}

fn by_group(of: &Comparison, counted: &[usize], told: &[String]) -> Vec<Vec<(String, Vec<usize>)>> {
    let mut out: Vec<Vec<(String, Vec<usize>)>> = vec![Vec::new(); of.groups.len()];
    for (&run, value) in counted.iter().zip(told) {
        let Some(group) = of.roles[run].group() else {
            continue;
        };
        match out[group].iter_mut().find(|(one, _)| one == value) {
            Some((_, runs)) => runs.push(run),
            None => out[group].push((value.clone(), vec![run])),
        }
    }
    out
}

/// Whether no two runs have the same value, and that is not because each group has one run: cars that ran once
/// each, cars weighed anew before every run.
fn every_run_its_own(by_group: &[Vec<(String, Vec<usize>)>]) -> bool {
    let mut values: Vec<&String> = by_group.iter().flatten().map(|(value, _)| value).collect();
    let runs: usize = by_group.iter().flatten().map(|(_, runs)| runs.len()).sum();
    values.sort();
    values.dedup();
    values.len() == runs && by_group.iter().any(|group| group.len() > 1)
}

/// Each group's values of a key; `None` unless every run has a number.
fn numbers(of: &Comparison, key: &str) -> Option<Vec<Vec<f64>>> {
    let number = |run: &usize| of.runs[*run].facts.by_name(key)?.number;
    let of_group = |group: &super::Group| group.runs.iter().map(number).collect();
    of.groups.iter().map(of_group).collect()
}

/// Of numbers that differ from run to run: tied where two groups of two runs or more do not overlap.
fn tie_of_numbers(groups: &[Vec<f64>]) -> Tie {
    let spans: Vec<(f64, f64)> = (groups.iter())
        .filter(|group| group.len() > 1)
        .map(|group| {
            let ends = (f64::INFINITY, f64::NEG_INFINITY);
            (group.iter()).fold(ends, |(low, high), v| (low.min(*v), high.max(*v)))
        })
        .collect();
    let apart = any_two(&spans, |one, other| one.1 < other.0 || other.1 < one.0);
    if apart { Tie::Tied } else { Tie::Even }
}

fn tie_of_values(by_group: &[Vec<(String, Vec<usize>)>]) -> Tie {
    let apart = any_two(by_group, |one, other| {
        (one.iter()).all(|(value, _)| other.iter().all(|(another, _)| value != another))
    });
    if apart {
        return Tie::Tied;
    }
    let of_group = |group: &[(String, Vec<usize>)]| group.iter().map(|(_, runs)| runs.len()).sum();
    let sizes: Vec<usize> = by_group.iter().map(|group| of_group(group)).collect();
    let all: usize = sizes.iter().sum();
    let uneven = by_group.iter().flatten().any(|(value, _)| {
        let counts: Vec<usize> = (by_group.iter())
            .map(|group| {
                let found = group.iter().find(|(one, _)| one == value);
                found.map_or(0, |(_, runs)| runs.len())
            })
            .collect();
        let share = counts.iter().sum::<usize>() as f64 / all as f64;
        // Half a run off its share is what rounding to whole runs may do.
        (counts.iter().zip(&sizes))
            .any(|(count, size)| (*count as f64 - share * *size as f64).abs() >= 0.5 - 1e-9)
    });
    if uneven { Tie::Uneven } else { Tie::Even }
}

fn any_two<T>(items: &[T], holds: impl Fn(&T, &T) -> bool) -> bool {
    (items.iter().enumerate())
        .any(|(place, one)| items[place + 1..].iter().any(|other| holds(one, other)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn groups(values: &[&[(&str, usize)]]) -> Vec<Vec<(String, Vec<usize>)>> {
        let own = |&(value, runs): &(&str, usize)| (value.to_owned(), vec![0; runs]);
        let of_group = |group: &&[(&str, usize)]| group.iter().map(own).collect();
        values.iter().map(of_group).collect()
    }

    #[test]
    fn what_goes_with_the_groups_is_told_from_what_is_shared_out() {
        let tie = |values: &[&[(&str, usize)]]| tie_of_values(&groups(values));
        assert_eq!(tie(&[&[("Tern", 4)], &[("Gull", 4)]]), Tie::Tied);
        let no_car_had_both: [&[(&str, usize)]; 2] = [&[("a", 2), ("b", 2)], &[("c", 2), ("d", 2)]];
        assert_eq!(tie(&no_car_had_both), Tie::Tied);
        let third_alone: [&[(&str, usize)]; 3] = [&[("a", 4)], &[("a", 4)], &[("b", 4)]];
        assert_eq!(tie(&third_alone), Tie::Tied);
        let three_to_one: [&[(&str, usize)]; 2] = [&[("a", 3), ("b", 1)], &[("a", 1), ("b", 3)]];
        assert_eq!(tie(&three_to_one), Tie::Uneven);
        assert_eq!(tie(&[&[("a", 4)], &[("a", 3), ("b", 1)]]), Tie::Uneven);
        let halves: [&[(&str, usize)]; 2] = [&[("a", 2), ("b", 2)], &[("a", 2), ("b", 3)]];
        assert_eq!(tie(&halves), Tie::Even);
    }

    #[test]
    fn numbers_of_every_run_are_tied_where_groups_do_not_overlap() {
        let tie = |groups: [&[f64]; 2]| tie_of_numbers(&groups.map(<[f64]>::to_vec));
        assert_eq!(tie([&[185.1, 185.3], &[190.2, 190.4]]), Tie::Tied);
        assert_eq!(tie([&[185.1, 190.3], &[185.2, 190.4]]), Tie::Even);
        assert!(every_run_its_own(&groups(&[
            &[("a", 1), ("b", 1)],
            &[("c", 1)]
        ])));
        assert!(!every_run_its_own(&groups(&[&[("a", 1)], &[("c", 1)]])));
    }
}
