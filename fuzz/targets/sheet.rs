//! The text of a run sheet: one clear error, or facts and priors that are all numbers.
#![no_main]

#[path = "../../scripts/soak_study/change.rs"]
mod change;
mod never;
#[path = "../../scripts/soak_study/sheets.rs"]
mod sheets;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| never::never(sheets::judged(&String::from_utf8_lossy(bytes))));
