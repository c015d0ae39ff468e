//! What the runs say of the car: each unknown before them and after.

use super::Plan;
use super::predict::Value;
use super::unknowns::{Prior, Source, Unknown};
use serde::Serialize;

/// An unknown of the car, before the runs and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Learnt {
    /// Which.
    pub unknown: Unknown,
    /// In words, with its unit.
    pub words: &'static str,
    /// 95 % range before the runs.
    pub before: [f64; 2],
    /// Where that comes from.
    pub source: Source,
    /// In words.
    pub from: &'static str,
    /// After the runs.
    pub after: Value,
}

/// What the runs say of each unknown of the car.
pub fn learnt(of: &Plan) -> Vec<Learnt> {
    let garage = &of.posterior.garage;
    let one = |prior: &Prior| {
        let draws = of.posterior.draws.iter();
        let values = draws.map(|draw| garage.value(&draw.point, prior.unknown));
        Some(Learnt {
            unknown: prior.unknown,
            words: prior.words,
            before: prior.range(),
            source: prior.source,
            from: prior.from,
            after: Value::of(values.collect())?,
        })
    };
    garage.priors.iter().filter_map(one).collect()
}
