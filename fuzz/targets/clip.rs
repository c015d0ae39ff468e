//! The bytes of a clip, opened and decoded: one clear error, or frames whose times grow.
#![no_main]

#[path = "../../scripts/soak_study/change.rs"]
mod change;
#[path = "../../scripts/soak_study/files.rs"]
mod files;
mod never;
#[path = "../../tests/results/mod.rs"]
mod results;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| never::never(files::decoded(bytes)));
