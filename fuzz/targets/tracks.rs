//! Sightings that no camera would give, through every stage to verdict and files.
#![no_main]

#[path = "../../scripts/soak_study/change.rs"]
mod change;
mod draws;
mod never;
#[path = "../../tests/results/mod.rs"]
mod results;
#[path = "../../scripts/soak_study/staged.rs"]
mod staged;
#[path = "../../scripts/soak_study/tracks.rs"]
mod tracks;

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static SHEETS: LazyLock<Vec<String>> = LazyLock::new(|| {
    [
        include_str!("../../fixtures/spin-out/run.toml"),
        include_str!("../../fixtures/two-marks/run.toml"),
        "[sticker]\ncolour = \"magenta\"\n",
    ]
    .map(str::to_owned)
    .into()
});

fuzz_target!(|bytes: &[u8]| {
    never::never(tracks::measured(&mut draws::Draws::new(bytes), &SHEETS));
});
