//! Everything about one quantity: each group in numbers, the differences, the drift, and how many runs it
//! takes.

use super::contrasts::{Contrast, Overall, contrasts, overall};
use super::describe::{describe, repeatability_factor, sd_interval};
use super::drift::{Drift, drift};
use super::groups::{Group, Role};
use super::measuring::{Measured, Spread, take_apart};
use super::plan::{Plan, plan};
use super::reading::{Run, Value95};
use super::shared::{Seen, own_uncertainty, set_up_uncertainty};
use super::straightness::{Straightness, straightness};
use super::variance::{Repeatability, repeatability};
use super::{Interval, Question, Sample};
use crate::findings::Key;
use crate::uncertainty::COVERAGE_FACTOR;

/// A quantity, compared.
#[derive(Debug, Clone, PartialEq)]
pub struct OfQuantity {
    /// The quantity.
    pub key: Key,
    /// Every run that counts and shows it, in order.
    pub points: Vec<Point>,
    /// Runs that count and do not show it, with the reason.
    pub left_out: Vec<(usize, String)>,
    /// Each group in numbers, as the groups go; `None` for a group that does not show it at all.
    pub groups: Vec<Option<GroupStatistics>>,
    /// Repeatability over all groups.
    pub repeatability: Option<Repeatability>,
    /// Whether the groups differ at all.
    pub overall: Option<Overall>,
    /// Every group against every earlier one.
    pub contrasts: Vec<Contrast>,
    /// How far off the line, and how far apart; `None` for a quantity without a side.
    pub straightness: Option<Straightness>,
    /// Drift over the order of the runs.
    pub drift: Option<Drift>,
    /// How many runs it takes.
    pub plan: Option<Plan>,
}

/// A run's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Its place among all runs.
    pub run: usize,
    /// Its group.
    pub group: usize,
    /// The value with its own interval.
    pub value: Value95,
}

/// A group in numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupStatistics {
    /// Runs, mean, standard deviation.
    pub sample: Sample,
    /// The mean's 95 % interval.
    pub interval: Option<Interval>,
    /// The standard deviation's 95 % interval.
    pub sd_interval: Option<Interval>,
    /// Repeatability limit of this group alone: two further runs differ by less in 95 of 100 cases.
    pub limit: Option<f64>,
    /// The spread, taken apart into measuring and run to run.
    pub spread: Option<Spread>,
    /// Standard uncertainty that all runs of a set-up share; it is in no interval here.
    pub shared_uncertainty: f64,
    /// The mean's 95 % interval with it: where the true mean lies, whoever measures it.
    pub full_interval: Option<Interval>,
}

/// Works out one quantity.
pub fn of_quantity(
    key: Key,
    runs: &[Run],
    roles: &[Role],
    groups: &[Group],
    question: &Question,
) -> OfQuantity {
    let (mut points, mut left_out) = (Vec::new(), Vec::new());
    for (place, (run, role)) in runs.iter().zip(roles).enumerate() {
        let Some(group) = role.group() else { continue };
        match run.values.get(&key) {
            Some(Ok(value)) => points.push(Point {
                run: place,
                group,
                value: *value,
            }),
            Some(Err(why)) => left_out.push((place, why.not_observable.clone())),
            None => left_out.push((place, "its summary does not have it".to_owned())),
        }
    }
    let grouped: Vec<Vec<Seen>> = (0..groups.len())
        .map(|group| {
            let of_group = points.iter().filter(|point| point.group == group);
            of_group.map(Point::seen).collect()
        })
        .collect();
    let values: Vec<Vec<f64>> = (grouped.iter()).map(|group| values_of(group)).collect();
    let placed: Vec<Vec<(f64, f64)>> = (grouped.iter())
        .map(|group| {
            let placed = group.iter();
            placed
                .map(|p| (p.run as f64 + 1.0, p.value.value))
                .collect()
        })
        .collect();
    let contrasts = contrasts(key, runs, &grouped, question.pair_by);
    let repeatability = repeatability(&values);
    OfQuantity {
        key,
        left_out,
        groups: (grouped.iter())
            .map(|group| in_numbers(key, runs, group))
            .collect(),
        overall: overall(&values, &contrasts),
        straightness: straightness(key, runs, &grouped, question.pair_by),
        drift: drift(&placed),
        plan: plan(key, repeatability.as_ref(), &contrasts, &values, question),
        repeatability,
        contrasts,
        points,
    }
}

impl Point {
    fn seen(&self) -> Seen {
        Seen {
            run: self.run,
            value: self.value,
            sense: 1.0,
        }
    }
}

fn values_of(seen: &[Seen]) -> Vec<f64> {
    seen.iter().map(|one| one.value.value).collect()
}

fn in_numbers(key: Key, runs: &[Run], seen: &[Seen]) -> Option<GroupStatistics> {
    let sample = describe(&values_of(seen))?;
    let measured: Vec<Measured> = (seen.iter())
        .map(|one| Measured {
            value: one.value.value,
            standard_uncertainty: own_uncertainty(&runs[one.run], key, one.value),
        })
        .collect();
    let shared_uncertainty = set_up_uncertainty(runs, seen, key);
    let interval = sample.interval();
    Some(GroupStatistics {
        sample,
        interval,
        sd_interval: sample
            .sd
            .and_then(|sd| sd_interval(sd, sample.n as f64 - 1.0)),
        limit: sample
            .sd
            .and_then(|sd| Some(repeatability_factor(sample.n as f64 - 1.0)? * sd)),
        spread: take_apart(&measured),
        shared_uncertainty,
        full_interval: interval.map(|scatter| {
            let half = (scatter.high - scatter.low) / 2.0;
            Interval::about(
                sample.mean,
                half.hypot(COVERAGE_FACTOR * shared_uncertainty),
            )
        }),
    })
}
