//! `comparison.json`: everything that was worked out, with full precision.

use super::care::care;
use super::say::{Asked, because, headline, sentence};
use super::scatter::spread_sentence;
use super::terminal::order_words;
use crate::outputs::meaning;
use crate::texts::Texts;
use crate::treatments::{
    CarLog, Comparison, Contrast, Design, GroupStatistics, Interval, OfQuantity, Overall, Plan,
    Role, SheetKey, Shuffles, Spreads, Straightness, Why,
};
use serde_json::{Map, Value, json};

/// Version of the layout; a change that readers must know of raises it.
pub const COMPARISON_VERSION: u32 = 2;

/// The JSON Schema (draft 2020-12) of the file.
pub const COMPARISON_SCHEMA: &str = include_str!("comparison.schema.json");

/// The file's bytes.
///
/// # Errors
/// What the JSON writer says; writing to memory does not fail in practice.
pub fn comparison_json(of: &Comparison) -> Result<Vec<u8>, serde_json::Error> {
    let groups: Vec<Value> = (of.groups.iter())
        .map(|group| {
            let runs: Vec<usize> = group.runs.iter().map(|run| run + 1).collect();
            json!({"label": group.label, "runs": runs})
        })
        .collect();
    let quantities: Map<String, Value> = (of.quantities.iter())
        .map(|quantity| (quantity.key.as_str().to_owned(), of_quantity(of, quantity)))
        .collect();
    let out = json!({
        "version": COMPARISON_VERSION,
        "tool": concat!("gripline ", env!("CARGO_PKG_VERSION")),
        "by": of.question.by.to_string(),
        "pair_by": of.question.pair_by.map(|key| key.to_string()),
        "order": order_words(of),
        "headline": headline(of),
        "because": because(of),
        "careful": care(of),
        "runs": (0..of.runs.len()).map(|place| run(of, place)).collect::<Vec<_>>(),
        "groups": groups,
        "quantities": quantities,
        "car_logs": of.logs.iter().map(|log| car_log(of, log)).collect::<Vec<_>>(),
    });
    let mut bytes = serde_json::to_vec_pretty(&out)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn run(of: &Comparison, place: usize) -> Value {
    let run = &of.runs[place];
    let same_clip = match of.roles[place] {
        Role::SameClipAs(other) => Some(other + 1),
        _ => None,
    };
    json!({
        "order": place + 1,
        "result": run.name,
        "clip": run.clip,
        "clip_sha256": run.clip_sha256,
        "group": of.roles[place].group().map(|group| &of.groups[group].label),
        "same_clip_as": same_clip,
        "car": run.facts.text(SheetKey::CAR),
        "filmed": run.filmed,
        "frames_per_s": run.frames_per_s,
        "view": run.view,
        "verdict": run.cause,
    })
}

fn ends(interval: Interval) -> Value {
    json!({"low": interval.low, "high": interval.high})
}

fn of_quantity(of: &Comparison, quantity: &OfQuantity) -> Value {
    let points: Vec<Value> = (quantity.points.iter())
        .map(|point| {
            let v = point.value;
            json!({"run": point.run + 1, "group": of.groups[point.group].label,
                   "value": v.value, "low": v.low, "high": v.high})
        })
        .collect();
    let left_out: Vec<Value> = (quantity.left_out.iter())
        .map(|(run, why)| json!({"run": run + 1, "not_observable": why}))
        .collect();
    let groups: Vec<Value> = (of.groups.iter().zip(&quantity.groups))
        .map(|(group, found)| statistics(&group.label, found.as_ref()))
        .collect();
    let repeatability = quantity.repeatability.map(|found| {
        json!({"sd": found.sd, "df": found.df, "limit": found.limit,
               "between_group_sd": found.between_sd, "reproducibility_sd": found.reproducibility_sd})
    });
    let drift = quantity.drift.map(|found| {
        json!({"per_run": found.per_run, "interval": ends(found.interval), "p": found.p,
               "df": found.df, "over_all_runs": found.over_all})
    });
    json!({
        "meaning": meaning(Texts::english(), quantity.key),
        "values": points,
        "left_out": left_out,
        "groups": groups,
        "repeatability": repeatability,
        "overall": quantity.overall.as_ref().map(overall),
        "differences": differences(of, quantity, Asked::Mean),
        "straightness": (quantity.straightness.as_ref()).map(|found| straightness(of, quantity, found)),
        "drift": drift,
        "plan": quantity.plan.as_ref().map(plan),
    })
}

fn statistics(label: &str, found: Option<&GroupStatistics>) -> Value {
    let Some(found) = found else {
        return json!({"label": label, "n": 0});
    };
    json!({
        "label": label,
        "n": found.sample.n,
        "mean": found.sample.mean,
        "mean_interval": found.interval.map(ends),
        "sd": found.sample.sd,
        "sd_interval": found.sd_interval.map(ends),
        "repeatability_limit": found.limit,
        "measuring_sd": found.spread.map(|spread| spread.measuring_sd),
        "run_to_run_sd": found.spread.map(|spread| spread.run_to_run_sd),
        "shared_uncertainty": found.shared_uncertainty,
        "full_mean_interval": found.full_interval.map(ends),
        "weighed_mean": found.spread.map(|spread| spread.weighed_mean),
        "weighed_mean_interval": found.spread.map(|spread| ends(spread.weighed_interval)),
    })
}

fn shuffled(found: &Shuffles) -> Value {
    json!({"as_far": found.as_far, "of": found.of, "all_counted": found.exact, "p": found.p(),
           "smallest_p": found.smallest_p()})
}

fn overall(found: &Overall) -> Value {
    json!({
        "f": found.f,
        "df": found.df,
        "p": found.p,
        "p_among_questions": found.p_among_questions,
        "shuffles": found.shuffles.as_ref().map(shuffled),
    })
}

fn differences(of: &Comparison, quantity: &OfQuantity, asked: Asked) -> Vec<Value> {
    (asked.contrasts(quantity).iter())
        .map(|found| contrast(of, quantity, asked, found))
        .collect()
}

/// How far off the line, and how far apart.
fn straightness(of: &Comparison, quantity: &OfQuantity, found: &Straightness) -> Value {
    let groups: Vec<Value> = (of.groups.iter().zip(&found.sizes))
        .map(|(group, size)| {
            json!({"label": group.label, "n": size.map_or(0, |size| size.n),
                   "mean": size.map(|size| size.mean),
                   "mean_interval": size.and_then(|size| size.interval()).map(ends)})
        })
        .collect();
    json!({
        "off_line": {
            "groups": groups,
            "overall": found.overall.as_ref().map(overall),
            "differences": differences(of, quantity, Asked::OffLine),
        },
        "spread": found.spreads.as_ref().map(|found| spreads(of, quantity, found)),
    })
}

fn spreads(of: &Comparison, quantity: &OfQuantity, found: &Spreads) -> Value {
    let pairs: Vec<Value> = (found.pairs.iter())
        .map(|pair| {
            let [from, to] = pair.groups.map(|group| &of.groups[group].label);
            json!({
                "from": from,
                "to": to,
                "f": pair.test.map(|test| test.f),
                "df": pair.test.map(|test| test.df),
                "p": pair.test.map(|test| test.p),
                "p_holm": pair.p_holm,
                "clear": found.is_clear(pair),
                "words": spread_sentence(of, quantity, pair),
            })
        })
        .collect();
    json!({
        "f": found.overall.f,
        "df": found.overall.df,
        "p": found.overall.p,
        "p_among_questions": found.p_among_questions,
        "pairs": pairs,
    })
}

fn contrast(of: &Comparison, quantity: &OfQuantity, asked: Asked, found: &Contrast) -> Value {
    let [from, to] = found.groups.map(|group| &of.groups[group].label);
    json!({
        "from": from,
        "to": to,
        "n": found.n,
        "paired": found.paired,
        "difference": found.difference,
        "interval": found.test.map(|test| ends(test.interval)),
        "t": found.test.map(|test| test.t),
        "df": found.test.map(|test| test.df),
        "p": found.test.map(|test| test.p),
        "p_holm": found.p_holm,
        "shuffles": found.shuffles.as_ref().map(shuffled),
        "hedges_g": found.size.map(|size| json!({"value": size.g, "low": size.interval.low,
                                                "high": size.interval.high})),
        "apart_uncertainty": found.apart_uncertainty,
        "clear": asked.is_clear(quantity, found),
        "words": sentence(of, quantity, asked, found),
    })
}

fn plan(found: &Plan) -> Value {
    let needs: Vec<Value> = (found.needs.iter())
        .map(|need| {
            let why = match need.why {
                Why::Asked => "asked",
                Why::Seen => "seen",
                Why::HalfSeen => "half_seen",
            };
            json!({"difference": need.difference, "why": why, "runs": need.runs,
                   "runs_low": need.runs_if[0], "runs_high": need.runs_if[1]})
        })
        .collect();
    json!({
        "design": match found.design { Design::Groups => "groups", Design::Pairs => "pairs" },
        "sd": found.spread,
        "sd_interval": ends(found.spread_interval),
        "runs_now": found.runs_now,
        "shown_now": found.shown_now,
        "needs": needs,
    })
}

fn car_log(of: &Comparison, log: &CarLog) -> Value {
    let steps: Vec<Value> = (log.steps.iter())
        .map(|step| {
            let changed: Vec<Value> = (step.changed.iter())
                .map(|(key, then, now)| json!({"key": key, "then": then, "now": now}))
                .collect();
            let values: Map<String, Value> = (of.quantities.iter().zip(&step.values))
                .map(|(quantity, value)| {
                    let change = value.change.map(|change| {
                        json!({"difference": change.difference,
                               "interval": change.interval.map(ends), "p": change.p,
                               "p_holm": change.p_holm, "clear": change.is_clear()})
                    });
                    let value = json!({"n": value.n, "mean": value.mean, "change": change});
                    (quantity.key.as_str().to_owned(), value)
                })
                .collect();
            let runs: Vec<usize> = step.runs.iter().map(|run| run + 1).collect();
            json!({"note": step.note, "changed": changed, "runs": runs, "values": values})
        })
        .collect();
    json!({"car": log.car, "steps": steps})
}
