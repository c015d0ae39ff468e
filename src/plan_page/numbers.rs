//! `plan.json`: everything that was worked out, with full precision.

use super::say::{CAUTIONS, because, careful, headline};
use crate::plan::{COMMON_PRACTICE, Plan, TradeOff, learnt};
use serde_json::{Value, json};

/// Version of the layout; a change that readers must know of raises it.
pub const PLAN_VERSION: u32 = 1;

/// The JSON Schema (draft 2020-12) of the file.
pub const PLAN_SCHEMA: &str = include_str!("plan.schema.json");

/// The file's bytes.
///
/// # Errors
/// What the JSON writer says; writing to memory does not fail in practice.
pub fn plan_json(of: &Plan) -> Result<Vec<u8>, serde_json::Error> {
    let runs: Vec<Value> = (of.evidence.runs.iter())
        .map(|run| {
            json!({"result": run.name, "wheels_and_floor": of.evidence.floors[run.floor],
                   "string_m": run.setting.string_m,
                   "stop_m": run.stop.map(|(stop, _)| stop.value)})
        })
        .collect();
    let [middle, low, high] = of.posterior.run_to_run;
    let out = json!({
        "version": PLAN_VERSION,
        "tool": concat!("gripline ", env!("CARGO_PKG_VERSION")),
        "task": serde_json::to_value(of.task)?,
        "slope_rad": of.track.slope_rad,
        "car": of.evidence.car,
        "wheels_and_floor": of.evidence.floors[of.evidence.floor],
        "headline": headline(of),
        "because": because(of),
        "careful": careful(of),
        "runs": runs,
        "now": {
            "string_m": of.now.string_m, "axle_m": of.now.axle_m, "wheel_m": of.now.wheel_m,
            "arm_m": of.now.arm_m, "mass_kg": of.now.mass_kg,
        },
        "present": serde_json::to_value(&of.present)?,
        "pull": serde_json::to_value(&of.pull)?,
        "levers": serde_json::to_value(&of.levers)?,
        "changes": serde_json::to_value(&of.changes)?,
        "trade_off": of.trade_off.iter().map(trade_off).collect::<Vec<_>>(),
        "chassis": serde_json::to_value(&of.chassis)?,
        "common_practice": COMMON_PRACTICE,
        "cannot_be_told": serde_json::to_value(&of.open)?,
        "next": serde_json::to_value(&of.next)?,
        "update": serde_json::to_value(&of.update)?,
        "run_to_run": {"value": middle, "low": low, "high": high},
        "unknowns": serde_json::to_value(learnt(of))?,
        "cautions": CAUTIONS,
    });
    let mut bytes = serde_json::to_vec_pretty(&out)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn trade_off(of: &TradeOff) -> Value {
    let places = of.sizes.iter().zip(&of.stop_m).zip(&of.sprint_s);
    let places: Vec<Value> = places
        .map(|((size, stop), time)| {
            let time = Some(time).filter(|time| time.high.is_finite());
            json!({"size": size, "stop_m": stop, "sprint_s": time})
        })
        .collect();
    json!({"lever": of.lever, "places": places})
}
