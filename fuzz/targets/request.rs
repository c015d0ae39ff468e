//! What the set-up page sends: refused, or a sheet's text that can be read again.
#![no_main]

#[path = "../../scripts/soak_study/change.rs"]
mod change;
mod never;
#[path = "../../scripts/soak_study/sheets.rs"]
mod sheets;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let base = include_str!("../../fixtures/spin-out/run.toml");
    never::never(sheets::written(Some(base), bytes));
});
