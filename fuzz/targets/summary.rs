//! Four summaries, some of them changed: one clear error, or a comparison that is all numbers.
#![no_main]

#[path = "../../scripts/soak_study/change.rs"]
mod change;
mod draws;
mod never;
#[path = "../../tests/results/mod.rs"]
mod results;
#[path = "../../scripts/soak_study/summaries.rs"]
mod summaries;

use libfuzzer_sys::fuzz_target;
use serde_json::Value;
use std::sync::LazyLock;

static EVENING: LazyLock<Vec<Value>> = LazyLock::new(|| {
    [
        include_str!("../../fixtures/club-evening/results/run01/summary.json"),
        include_str!("../../fixtures/club-evening/results/run02/summary.json"),
        include_str!("../../fixtures/club-evening/results/run05/summary.json"),
        include_str!("../../fixtures/club-evening/results/run06/summary.json"),
    ]
    .map(|text| serde_json::from_str(text).expect("the fixture is JSON"))
    .into()
});

fuzz_target!(|bytes: &[u8]| {
    never::never(summaries::compared(&mut draws::Draws::new(bytes), &EVENING));
});
