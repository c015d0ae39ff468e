//! Everything about one quantity: each group in numbers, the differences, the drift, and how many runs it
//! takes.

use super::describe::{REPEATABILITY_FACTOR, describe, sd_interval};
use super::drift::{Drift, drift};
use super::effect_size::{EffectSize, hedges_g, hedges_g_of_pairs};
use super::facts::SheetKey;
use super::groups::{Group, Role};
use super::holm::holm;
use super::measuring::{Measured, Spread, take_apart};
use super::pairs::pairs;
use super::plan::{Plan, plan};
use super::reading::{Run, Value95};
use super::shared::{apart_variance, own_uncertainty, set_up_uncertainty};
use super::shuffles::{Shuffles, shuffle_groups, shuffle_signs};
use super::variance::{Repeatability, repeatability, welch_anova};
use super::welch::{TTest, paired_t_apart, welch_t_apart};
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
    /// Repeatability limit of this group alone, 2.8 standard deviations.
    pub limit: Option<f64>,
    /// The spread, taken apart into measuring and run to run.
    pub spread: Option<Spread>,
    /// Standard uncertainty that all runs of a set-up share; it is in no interval here.
    pub shared_uncertainty: f64,
    /// The mean's 95 % interval with it: where the true mean lies, whoever measures it.
    pub full_interval: Option<Interval>,
}

/// Whether the groups differ at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overall {
    /// Welch's t squared or Welch's F; for pairs of more than two groups there is none.
    pub f: Option<f64>,
    /// Degrees of freedom.
    pub df: Option<[f64; 2]>,
    /// Chance of as much where they do not differ. For pairs: the smallest of the pairwise tests', adjusted.
    pub p: f64,
    /// The same, adjusted for the number of quantities tested (Holm).
    pub p_among_quantities: f64,
    /// Shuffles among all groups.
    pub shuffles: Option<Shuffles>,
}

/// One group against another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contrast {
    /// From which group to which.
    pub groups: [usize; 2],
    /// Runs of each, or pairs.
    pub n: [usize; 2],
    /// Whether runs are paired.
    pub paired: bool,
    /// Second mean less first.
    pub difference: f64,
    /// The test and the difference's interval; `None` for too few runs.
    pub test: Option<TTest>,
    /// Its p, adjusted for the number of pairs of groups (Holm).
    pub p_holm: Option<f64>,
    /// Shuffles of these two groups.
    pub shuffles: Option<Shuffles>,
    /// The difference beside the runs' spread.
    pub size: Option<EffectSize>,
    /// Standard uncertainty of the difference from what the groups do not share (other sizes on the sheets,
    /// other floor marks); it is in the test and its interval.
    pub apart_uncertainty: f64,
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
            Some(Err(why)) => left_out.push((place, why.clone())),
            None => left_out.push((place, "its summary does not have it".to_owned())),
        }
    }
    let grouped: Vec<Vec<Point>> = (0..groups.len())
        .map(|group| {
            let of_group = points.iter().filter(|point| point.group == group);
            of_group.copied().collect()
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
        drift: drift(&placed),
        plan: plan(key, repeatability.as_ref(), &contrasts, &values, question),
        repeatability,
        contrasts,
        points,
    }
}

fn values_of(points: &[Point]) -> Vec<f64> {
    points.iter().map(|point| point.value.value).collect()
}

fn seen<'a>(runs: &'a [Run], points: &[Point]) -> Vec<(&'a Run, Value95)> {
    points
        .iter()
        .map(|point| (&runs[point.run], point.value))
        .collect()
}

fn in_numbers(key: Key, runs: &[Run], points: &[Point]) -> Option<GroupStatistics> {
    let sample = describe(&values_of(points))?;
    let seen = seen(runs, points);
    let measured: Vec<Measured> = (seen.iter())
        .map(|(run, value)| Measured {
            value: value.value,
            standard_uncertainty: own_uncertainty(run, key, *value),
        })
        .collect();
    let shared_uncertainty = set_up_uncertainty(&seen, key);
    let interval = sample.interval();
    Some(GroupStatistics {
        sample,
        interval,
        sd_interval: sample
            .sd
            .and_then(|sd| sd_interval(sd, sample.n as f64 - 1.0)),
        limit: sample.sd.map(|sd| REPEATABILITY_FACTOR * sd),
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

/// Every pair of groups that both show the quantity, with Holm's adjustment among them.
fn contrasts(
    key: Key,
    runs: &[Run],
    grouped: &[Vec<Point>],
    pair_by: Option<SheetKey>,
) -> Vec<Contrast> {
    let mut out = Vec::new();
    for second in 1..grouped.len() {
        for first in 0..second {
            let pair = [&grouped[first], &grouped[second]];
            let [one, other] = pair.map(|points| seen(runs, points));
            let apart = apart_variance([&one, &other], key);
            let found = match pair_by {
                None => unpaired([first, second], pair, apart),
                Some(by) => paired([first, second], pair, runs, by, apart),
            };
            out.extend(found);
        }
    }
    // Those against the first group come first, whatever the number of groups.
    out.sort_by_key(|contrast| contrast.groups);
    let tested: Vec<usize> = (0..out.len()).filter(|&i| out[i].test.is_some()).collect();
    let p: Vec<f64> = (tested.iter())
        .filter_map(|&index| out[index].test.map(|test| test.p))
        .collect();
    for (index, adjusted) in tested.into_iter().zip(holm(&p)) {
        out[index].p_holm = Some(adjusted);
    }
    out
}

fn unpaired(groups: [usize; 2], points: [&Vec<Point>; 2], apart: f64) -> Option<Contrast> {
    let values = points.map(|points| values_of(points));
    let (first, second) = (describe(&values[0])?, describe(&values[1])?);
    Some(Contrast {
        groups,
        n: [first.n, second.n],
        paired: false,
        difference: second.mean - first.mean,
        test: welch_t_apart(&first, &second, apart),
        apart_uncertainty: apart.sqrt(),
        p_holm: None,
        shuffles: shuffle_groups(&values).filter(|shuffles| shuffles.of > 2),
        size: hedges_g(&first, &second),
    })
}

fn paired(
    groups: [usize; 2],
    points: [&Vec<Point>; 2],
    runs: &[Run],
    by: SheetKey,
    apart: f64,
) -> Option<Contrast> {
    let [first, second] = points.map(|points| {
        let placed = points.iter();
        placed.map(|p| (p.run, p.value.value)).collect::<Vec<_>>()
    });
    let found = pairs(runs, by, &first, &second).differences;
    let sample = describe(&found)?;
    Some(Contrast {
        groups,
        n: [found.len(); 2],
        paired: true,
        difference: sample.mean,
        test: paired_t_apart(&found, apart),
        apart_uncertainty: apart.sqrt(),
        p_holm: None,
        shuffles: shuffle_signs(&found).filter(|shuffles| shuffles.of > 2),
        size: hedges_g_of_pairs(&sample),
    })
}

fn overall(values: &[Vec<f64>], contrasts: &[Contrast]) -> Option<Overall> {
    let seen: Vec<Vec<f64>> = values.iter().filter(|g| !g.is_empty()).cloned().collect();
    if contrasts.iter().any(|contrast| contrast.paired) || seen.len() == 2 {
        let smallest = (contrasts.iter())
            .filter(|contrast| contrast.p_holm.is_some())
            .min_by(|a, b| a.p_holm.unwrap_or(1.0).total_cmp(&b.p_holm.unwrap_or(1.0)))?;
        let p = smallest.p_holm?;
        let alone = smallest.test.filter(|_| contrasts.len() == 1);
        return Some(Overall {
            f: alone.map(|test| test.t * test.t),
            df: alone.map(|test| [1.0, test.df]),
            p,
            p_among_quantities: p,
            shuffles: smallest.shuffles.filter(|_| contrasts.len() == 1),
        });
    }
    let samples: Vec<Sample> = seen.iter().filter_map(|group| describe(group)).collect();
    let test = welch_anova(&samples)?;
    Some(Overall {
        f: Some(test.f),
        df: Some(test.df),
        p: test.p,
        p_among_quantities: test.p,
        shuffles: shuffle_groups(&seen),
    })
}
