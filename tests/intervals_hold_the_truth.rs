//! How often the 95 % intervals hold the truth, over simulated runs whose inputs are as uncertain as the
//! tool assumes. The full study is `scripts/coverage`; its figures are in DEVELOPERS.md.
//!
//! Source of the truth: the equations of motion in `scripts/coverage_study/simulated`, which share
//! nothing with the tool but its input types. The measure: an interval of 95 % holds the truth in 95 of 100
//! cases (JCGM 101:2008, 3.12).
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

#[path = "../scripts/coverage_study/simulated/mod.rs"]
mod simulated;

use gripline::findings::Key;
use gripline::known::Input;
use rayon::prelude::*;
use simulated::{Case, Faults, Filming, Outcome, View, case, holds, measure};

const RUNS: u64 = 36;
const DRAWS: usize = 40;
const KEYS: [Key; 5] = [
    Key::PeakSpeedMPerS,
    Key::MaxSlip,
    Key::SpunAwayM,
    Key::FinalDeviationM,
    Key::CurvaturePerM,
];

fn runs() -> Vec<(Case, Outcome)> {
    (0..RUNS)
        .into_par_iter()
        .map(|seed| {
            let faults = Faults {
                mu: (seed % 2 == 0).then_some(0.15 + 0.003 * seed as f64),
                skew_rad: if seed % 3 == 0 { 0.02 } else { 0.0 },
                aim_rad: if seed % 5 == 0 { -0.04 } else { 0.0 },
                ..Faults::default()
            };
            let filming = Filming {
                view: if seed % 4 < 2 {
                    View::Side
                } else {
                    View::Oblique
                },
                noise_px: 0.05 + 0.002 * seed as f64,
                ..Filming::default()
            };
            let case = case(500 + seed, &faults, &filming);
            let outcome = measure(&case, DRAWS).unwrap();
            (case, outcome)
        })
        .collect()
}

#[test]
fn intervals_of_the_main_numbers_hold_the_truth() {
    let runs = runs();
    let mut all = Vec::new();
    for key in KEYS {
        let held: Vec<bool> = runs
            .iter()
            .filter_map(|(case, outcome)| holds(case, outcome, key))
            .collect();
        assert_eq!(
            held.len(),
            RUNS as usize,
            "{} is not observable",
            key.as_str()
        );
        let share = held.iter().filter(|h| **h).count() as f64 / held.len() as f64;
        // With 36 runs a true share of 0.95 gives less than 0.83 once in two hundred times (binomial).
        assert!(
            share >= 0.83,
            "{} holds in {share:.2} of the runs",
            key.as_str()
        );
        all.extend(held);
    }
    let share = all.iter().filter(|h| **h).count() as f64 / all.len() as f64;
    assert!(
        (0.90..=0.995).contains(&share),
        "all together hold in {share:.3}"
    );
}

#[test]
fn a_rolling_wheel_is_not_said_to_slip() {
    const ROLLING: u64 = 24;
    let mut small = 0;
    for seed in 0..ROLLING {
        let case = case(900 + seed, &Faults::default(), &Filming::default());
        let outcome = measure(&case, DRAWS).unwrap();
        let slip = outcome.result.get(Key::MaxSlip);
        assert_eq!(slip.low(), Some(0.0), "{seed}: {slip:?}");
        // The largest of a hundred values with a standard uncertainty of 0.01 to 0.02 each would read
        // 0.03 to 0.05.
        let value = slip.value().unwrap();
        assert!(value < 0.1, "{seed}: {slip:?}");
        small += u64::from(value < 0.02);
    }
    // Where the errors of a run's first frames happen to lie alike, about one in eight reads more. None is said
    // to slip: every interval goes down to nothing.
    assert!(small >= ROLLING - 4, "{small} of {ROLLING}");
}

#[test]
fn the_budget_names_what_makes_a_number_uncertain() {
    let case = case(77, &Faults::default(), &Filming::default());
    let outcome = measure(&case, 200).unwrap();
    let budget = &outcome.result.budgets[&Key::FinalDeviationM];
    let total: f64 = budget.iter().map(|share| share.share).sum();
    assert!((0.9..=1.000_1).contains(&total), "{budget:?}");
    // Seen from the side and above, a millimetre of height is two of distance from the camera, and a
    // millimetre of the sticker's own place is one.
    assert!(
        matches!(
            budget[0].input,
            Input::StickerHeight | Input::StickerOffCentre
        ),
        "{budget:?}"
    );
}
