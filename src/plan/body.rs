//! Chassis and wheels: what the runs and the model say of length and width, and what is common practice.

use super::evidence::{Evidence, Setting};
use super::predict::{Asked, Runs, Value};
use crate::uncertainty::COVERAGE_FACTOR;
use serde::Serialize;

/// By how much a longer chassis is longer, as a share.
const LONGER: f64 = 0.25;
/// Way at which a drift is told where the task names none, m.
const STATED_M: f64 = 5.0;

/// A longer chassis.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chassis {
    /// Wheelbase now and then, m.
    pub wheelbase_m: [f64; 2],
    /// Way at which the drift is told, m.
    pub at_m: f64,
    /// How far off the line the steady curve takes the car there, left positive, m; now and with the longer chassis.
    pub off_line_m: Option<[Value; 2]>,
    /// More (+) or less (-) demand on the tyres, as a share of what they hold: a longer car moves less load back.
    pub grip_demand: Value,
}

/// What a chassis a quarter longer would do; `None` where no sheet has a wheelbase.
///
/// An axle that is askew by an angle `δ` steers a curve of `tan δ / L` (kinematic single-track model, as in
/// `findings/path.rs`), so with the same play in the same holes the curve goes by 1 / L, and the car is off by `κ D² / 2`.
pub(super) fn longer_chassis(
    evidence: &Evidence,
    asked: &Asked<'_>,
    now: &Setting,
    at_m: Option<f64>,
) -> Option<Chassis> {
    let wheelbase = now.wheelbase_m?;
    let longer = wheelbase * (1.0 + LONGER);
    let then = Setting {
        wheelbase_m: Some(longer),
        ..now.clone()
    };
    let demands = |setting: &Setting| {
        asked
            .outcomes(setting, Runs::Next)
            .into_iter()
            .map(|o| o.demand)
    };
    let differences = demands(now)
        .zip(demands(&then))
        .map(|(now, then)| then - now);
    let at_m = at_m.unwrap_or(STATED_M);
    Some(Chassis {
        wheelbase_m: [wheelbase, longer],
        at_m,
        off_line_m: curvature(evidence).map(|curvature| {
            let off = |by: f64| {
                let half_square = at_m * at_m / 2.0 * by;
                Value {
                    value: curvature.value * half_square,
                    low: curvature.low * half_square,
                    high: curvature.high * half_square,
                }
            };
            [off(1.0), off(1.0 / (1.0 + LONGER))]
        }),
        grip_demand: Value::of(differences.collect())?,
    })
}

/// Mean curvature of the runs with an interval that holds their scatter.
fn curvature(evidence: &Evidence) -> Option<Value> {
    let seen: Vec<_> = evidence
        .runs
        .iter()
        .filter_map(|run| run.curvature)
        .collect();
    let n = seen.len() as f64;
    if seen.is_empty() {
        return None;
    }
    let mean = seen.iter().map(|one| one.value).sum::<f64>() / n;
    let own = seen.iter().map(|one| one.sd * one.sd).sum::<f64>() / n;
    let scatter = seen
        .iter()
        .map(|one| (one.value - mean).powi(2))
        .sum::<f64>()
        / n;
    let half = COVERAGE_FACTOR * (own.max(scatter) / n).sqrt();
    Some(Value {
        value: mean,
        low: mean - half,
        high: mean + half,
    })
}

/// What no run and no model here tells of wheels and chassis: common practice, no source.
pub const COMMON_PRACTICE: [&str; 3] = [
    "Wheel width: narrow wheels steer and roll best; as wide as the tread needs to stay on. The measured rolling loss is \
     that of the wheels as they are, and nothing here tells one width from another",
    "For a sprint: small light wheels and a short arm, as far as the tyres hold. For distance: large light wheels, a long \
     arm, a thin axle",
    "Long chassis for straight and far, short and light for a sprint or a climb",
];
