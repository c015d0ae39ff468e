//! The rows of the page's tables, as text.

use super::names::{Scale, capital, noun};
use super::phrases::{chance, count_words, how_often, list, need_words, plan_words, why_words};
use super::say::{Asked, fine};
use super::scatter::spread_words;
use super::terminal::percent;
use crate::outputs::shown::number;
use crate::treatments::{
    CarLog, Comparison, Contrast, GroupStatistics, OfQuantity, Overall, Role, SheetKey, Step,
};

/// A row of the differences.
pub(super) struct Difference {
    pub(super) groups: String,
    pub(super) clear: &'static str,
    pub(super) cells: Vec<String>,
}

/// Whether a difference is clear, as a word.
const fn yes_or_no(clear: bool) -> &'static str {
    if clear { "yes" } else { "no" }
}

/// A row of the plan.
pub(super) struct PlanRow {
    pub(super) first: bool,
    pub(super) quantity: String,
    pub(super) spread: String,
    pub(super) difference: String,
    pub(super) why: &'static str,
    pub(super) runs: String,
    pub(super) lines: usize,
}

/// The steps of a car.
pub(super) struct Log {
    pub(super) car: String,
    pub(super) steps: Vec<LogStep>,
}

/// One of them.
pub(super) struct LogStep {
    pub(super) number: usize,
    pub(super) change: Vec<String>,
    pub(super) runs: String,
    pub(super) cells: Vec<String>,
}

/// A row of all runs.
pub(super) struct RunRow {
    pub(super) cells: [String; 6],
    pub(super) values: Vec<String>,
    pub(super) out: bool,
}

pub(super) fn group_rows(
    of: &Comparison,
    quantity: &OfQuantity,
    scale: &Scale,
) -> Vec<[String; 8]> {
    (of.groups.iter().zip(&quantity.groups))
        .map(|(group, found)| {
            let dash = || "–".to_owned();
            let Some(found) = found else {
                return [
                    group.label.clone(),
                    "0".to_owned(),
                    "not observable".to_owned(),
                    dash(),
                    dash(),
                    dash(),
                    dash(),
                    dash(),
                ];
            };
            let mean = scale.bare(found.sample.mean);
            [
                group.label.clone(),
                found.sample.n.to_string(),
                found.interval.map_or(mean.clone(), |i| {
                    format!("{mean} ({})", scale.range(i.low, i.high))
                }),
                found
                    .full_interval
                    .map_or_else(dash, |i| scale.range(i.low, i.high)),
                found.sample.sd.map_or_else(dash, |sd| {
                    let interval = found.sd_interval.map_or_else(String::new, |interval| {
                        format!(" ({})", scale.range(interval.low, interval.high))
                    });
                    format!("{}{interval}", scale.bare(sd))
                }),
                found.limit.map_or_else(dash, |limit| scale.bare(limit)),
                found
                    .spread
                    .map_or_else(dash, |spread| scale.bare(spread.run_to_run_sd)),
                measuring(found, scale),
            ]
        })
        .collect()
}

/// What measuring adds: its standard uncertainty, and its share of the variance.
fn measuring(found: &GroupStatistics, scale: &Scale) -> String {
    let (Some(spread), Some(sd)) = (found.spread, found.sample.sd) else {
        return "–".to_owned();
    };
    let share = (spread.measuring_sd / sd).powi(2);
    if sd > 0.0 && share < 1.0 {
        format!("{} ({})", scale.bare(spread.measuring_sd), percent(share))
    } else {
        format!("{} (all)", scale.bare(spread.measuring_sd))
    }
}

/// The rows of the differences of means, or of the distances from the line.
pub(super) fn differences(of: &Comparison, quantity: &OfQuantity, asked: Asked) -> Vec<Difference> {
    (asked.contrasts(quantity).iter())
        .map(|contrast| difference(of, quantity, asked, contrast))
        .collect()
}

/// The rows of the spreads; none for a quantity without a side.
pub(super) fn spreads(of: &Comparison, quantity: &OfQuantity) -> Vec<Difference> {
    let found = (quantity.straightness.as_ref()).and_then(|found| found.spreads.as_ref());
    let Some(found) = found else {
        return Vec::new();
    };
    (found.pairs.iter())
        .filter_map(|pair| {
            let [from, to] = pair.groups.map(|group| of.groups[group].label.as_str());
            let [before, after] = spread_words(quantity, pair)?;
            Some(Difference {
                groups: format!("{to} against {from}"),
                clear: yes_or_no(found.is_clear(pair)),
                cells: vec![after, before, chance(pair.test?.p), chance(pair.p_holm?)],
            })
        })
        .collect()
}

fn difference(
    of: &Comparison,
    quantity: &OfQuantity,
    asked: Asked,
    contrast: &Contrast,
) -> Difference {
    let [from, to] = contrast.groups.map(|group| of.groups[group].label.as_str());
    let dash = || "–".to_owned();
    let test = contrast.test;
    let scale = &fine(Scale::of(quantity), contrast);
    Difference {
        groups: format!("{to} less {from}"),
        clear: yes_or_no(asked.is_clear(quantity, contrast)),
        cells: vec![
            test.map_or_else(
                || scale.bare(contrast.difference),
                |test| {
                    let interval = test.interval;
                    format!(
                        "{} ({})",
                        scale.bare(contrast.difference),
                        scale.range(interval.low, interval.high)
                    )
                },
            ),
            count_words(contrast),
            test.map_or_else(dash, |test| chance(test.p)),
            contrast.p_holm.map_or_else(dash, chance),
            contrast
                .shuffles
                .map_or_else(dash, |shuffles| how_often(&shuffles)),
            contrast.size.map_or_else(dash, |size| {
                format!(
                    "{} ({} to {})",
                    number(size.g, 1),
                    number(size.interval.low, 1),
                    number(size.interval.high, 1)
                )
            }),
        ],
    }
}

/// The tests of all groups together.
pub(super) fn overall(of: &Comparison, quantity: &OfQuantity) -> Option<String> {
    let of_means = quantity.overall.as_ref()?;
    let straightness = quantity.straightness.as_ref();
    let mut told = vec![all_groups(of, "", of_means)];
    let off_line = straightness.and_then(|found| found.overall.as_ref());
    told.extend(off_line.map(|found| all_groups(of, "distance from the line: ", found)));
    let spreads = straightness.and_then(|found| found.spreads.as_ref());
    told.extend(spreads.map(|found| {
        let [between, within] = found.overall.df;
        format!(
            "scatter (Brown and Forsythe): F({}, {}) = {}, p {}{}",
            number(between, 0),
            number(within, 0),
            number(found.overall.f, 2),
            chance(found.overall.p),
            among(of, found.p_among_questions)
        )
    }));
    Some(format!("All groups together: {}.", told.join(". Their ")))
}

fn all_groups(of: &Comparison, head: &str, found: &Overall) -> String {
    let test = match (found.f, found.df) {
        (Some(f), Some([between, within])) if of.groups.len() > 2 => format!(
            "Welch's one-way test: F({}, {}) = {}, p {}",
            number(between, 0),
            number(within, 1),
            number(f, 2),
            chance(found.p)
        ),
        _ => format!("p {}", chance(found.p)),
    };
    let shuffles = found.shuffles.map_or_else(String::new, |shuffles| {
        format!(
            "; shuffling the runs among them gives as much {}",
            how_often(&shuffles)
        )
    });
    let among = among(of, found.p_among_questions);
    format!("{head}{test}{shuffles}{among}")
}

fn among(of: &Comparison, p: f64) -> String {
    let asked = of.questions();
    if asked > 1 {
        format!("; among the {asked} questions asked here, p {}", chance(p))
    } else {
        String::new()
    }
}

pub(super) fn plans(of: &Comparison) -> Vec<PlanRow> {
    let mut out = Vec::new();
    for quantity in &of.quantities {
        let Some(plan) = &quantity.plan else { continue };
        let scale = Scale::of(quantity);
        for (place, need) in plan.needs.iter().enumerate() {
            out.push(PlanRow {
                first: place == 0,
                quantity: capital(noun(quantity.key)),
                spread: plan_words(plan, &scale),
                difference: scale.round(need.difference),
                why: why_words(need.why),
                runs: need_words(need),
                lines: plan.needs.len(),
            });
        }
    }
    out
}

pub(super) fn car_log(of: &Comparison, log: &CarLog) -> Log {
    Log {
        car: log
            .car
            .clone()
            .unwrap_or_else(|| "a car without a name".to_owned()),
        steps: (log.steps.iter().enumerate())
            .map(|(place, step)| log_step(of, place, step))
            .collect(),
    }
}

fn log_step(of: &Comparison, place: usize, step: &Step) -> LogStep {
    let mut change: Vec<String> = step.note.iter().map(|note| format!("“{note}”")).collect();
    change.extend(step.changed.iter().map(|(key, then, now)| {
        let text = |value: &Option<String>| value.clone().unwrap_or_else(|| "nothing".to_owned());
        format!(
            "{}: {} → {}",
            key.trim_start_matches("car."),
            text(then),
            text(now)
        )
    }));
    if place == 0 && change.is_empty() {
        change.push("as it began".to_owned());
    }
    let cells = (of.quantities.iter().zip(&step.values))
        .map(|(quantity, value)| {
            let scale = Scale::of(quantity);
            let Some(mean) = value.mean else {
                return "not observable".to_owned();
            };
            let mean = scale.bare(mean);
            match value.change {
                None => mean,
                Some(change) => {
                    let sign = if change.difference < 0.0 { "" } else { "+" };
                    let by = format!("{sign}{}", scale.bare(change.difference));
                    let how_sure = change.interval.map_or_else(
                        || "one run of each state: may be chance".to_owned(),
                        |interval| scale.range(interval.low, interval.high),
                    );
                    let clear = if change.is_clear() { ", clear" } else { "" };
                    format!("{mean}; {by} ({how_sure}){clear}")
                }
            }
        })
        .collect();
    let runs: Vec<String> = step.runs.iter().map(|run| (run + 1).to_string()).collect();
    LogStep {
        number: place + 1,
        change,
        runs: list(&runs),
        cells,
    }
}

pub(super) fn run_row(of: &Comparison, place: usize) -> RunRow {
    let run = &of.runs[place];
    let group = match of.roles[place] {
        Role::In(group) => of.groups[group].label.clone(),
        Role::SameClipAs(other) => format!("not counted: run {} again", other + 1),
        Role::NoGroup => format!("not counted: no {}", of.question.by.words()),
    };
    let values = (of.quantities.iter())
        .map(|quantity| match run.values.get(&quantity.key) {
            Some(Ok(v)) => {
                let scale = Scale::of(quantity);
                // An interval is not broken over lines.
                let range = scale.range(v.low, v.high).replace(' ', "\u{a0}");
                format!("{} ({range})", scale.bare(v.value))
            }
            _ => "not observable".to_owned(),
        })
        .collect();
    let own = |key| run.facts.text(key).unwrap_or("–").to_owned();
    RunRow {
        cells: [
            (place + 1).to_string(),
            run.name.clone(),
            own(SheetKey::CAR),
            group,
            own(SheetKey::CHANGE),
            run.cause.clone(),
        ],
        values,
        out: of.roles[place].group().is_none(),
    }
}
