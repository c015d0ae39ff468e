//! A run that was made towards an earlier plan: what was asked, what came, what to change next.

use super::evidence::{Evidence, RunEvidence, StopBy};
use super::levers::Lever;
use super::predict::Value;
use crate::uncertainty::COVERAGE_FACTOR;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

/// A string within this share of the planned one was set as planned.
const AS_PLANNED: f64 = 0.012;

/// What an earlier plan asked for.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Earlier {
    /// Target, m.
    pub metres: f64,
    /// String, m.
    pub string_m: f64,
    /// Where it was to stop: low and high end, m.
    pub stop_m: [f64; 2],
    /// Results that it was made of.
    pub runs: Vec<String>,
}

impl Earlier {
    /// From the bytes of an earlier `plan.json`; `None` for a plan without a stopping place reached by the string,
    /// or for a slope.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let plan: Json = serde_json::from_slice(bytes).ok()?;
        let metres = plan.get("task")?.get("metres")?.as_f64()?;
        if plan.get("task")?.get("kind")?.as_str()? != "distance" {
            return None;
        }
        let rises = plan.get("slope_rad").and_then(Json::as_f64);
        if rises.is_some_and(|slope_rad| slope_rad != 0.0) {
            return None;
        }
        let levers = plan.get("levers")?.as_array()?;
        let string = levers
            .iter()
            .find(|lever| lever.get("lever").and_then(Json::as_str) == Some("string"))?;
        let stop = string.get("prediction")?.get("stop_m")?;
        let runs = plan.get("runs")?.as_array()?;
        Some(Self {
            metres,
            string_m: string.get("size")?.get("value")?.as_f64()?,
            stop_m: [stop.get("low")?.as_f64()?, stop.get("high")?.as_f64()?],
            runs: (runs.iter())
                .filter_map(|run| Some(run.get("result")?.as_str()?.to_owned()))
                .collect(),
        })
    }
}

/// What became of an earlier plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Update {
    /// The run that was made towards it.
    pub run: String,
    /// What was asked, m.
    pub asked_m: f64,
    /// Where it was to stop, m: low and high end.
    pub expected_m: [f64; 2],
    /// Where it stopped, m.
    pub got_m: Value,
    /// Whether the clip shows it, or a tape.
    pub by_tape: bool,
    /// How much more string does it now, m, with the interval of the new setting.
    pub more_string_m: Option<Value>,
}

/// The newest run that was set as an earlier plan said and was not part of it.
pub(super) fn update(
    earlier: &Earlier,
    evidence: &Evidence,
    string_now: Option<Value>,
) -> Option<Update> {
    let towards = |run: &&RunEvidence| {
        let as_planned = (run.setting.string_m / earlier.string_m - 1.0).abs() < AS_PLANNED;
        as_planned && run.stop.is_some() && !earlier.runs.contains(&run.name)
    };
    let run = evidence.runs.iter().rev().find(towards)?;
    let (stop, by) = run.stop?;
    let half = COVERAGE_FACTOR * stop.sd;
    let more = |size: Value| Value {
        value: Lever::String.rounded(size.value - run.setting.string_m),
        low: size.low - run.setting.string_m,
        high: size.high - run.setting.string_m,
    };
    Some(Update {
        run: run.name.clone(),
        asked_m: earlier.metres,
        expected_m: earlier.stop_m,
        got_m: Value {
            value: stop.value,
            low: stop.value - half,
            high: stop.value + half,
        },
        by_tape: by == StopBy::Tape,
        more_string_m: string_now.map(more),
    })
}
