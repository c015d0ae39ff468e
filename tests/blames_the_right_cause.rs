//! Verdicts on more than a hundred simulated runs with every kind of fault, from none to severe. The full
//! study is `scripts/coverage`; its figures are in DEVELOPERS.md.
//!
//! Source of the truth: the equations of motion in `scripts/coverage_study/simulated`, which share
//! nothing with the tool but its input types.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

#[path = "../scripts/coverage_study/simulated/mod.rs"]
mod simulated;

use gripline::findings::{Effect, Key};
use gripline::verdict::Cause;
use rayon::prelude::*;
use simulated::causes::{KINDS, Kind, Mark, faulty, mark, names_both, true_causes};
use simulated::{Case, Faults, Filming, Outcome, case, measure};

const RUNS: u64 = 105;
const DRAWS: usize = 20;

fn runs() -> Vec<(Kind, Case, Outcome)> {
    (0..RUNS)
        .into_par_iter()
        .map(|seed| {
            let kind = KINDS[seed as usize % KINDS.len()];
            let case = faulty(kind, 3000 + seed);
            let outcome = measure(&case, DRAWS).unwrap();
            (kind, case, outcome)
        })
        .collect()
}

#[test]
fn the_dearest_cause_is_named_and_nothing_else_is_blamed() {
    let runs = runs();
    let count = |wanted: &[Mark]| {
        runs.iter()
            .filter(|(_, case, outcome)| wanted.contains(&mark(case, outcome)))
            .count()
    };
    // A confident wrong statement is the worst outcome: one run of them all lies nearer to a bound
    // than its truth can be told.
    assert!(count(&[Mark::Wrong]) <= 1, "{}", told(&runs));
    let shown = count(&[Mark::Right, Mark::Missed, Mark::Wrong]);
    assert!(shown > 80, "only {shown} runs show their cause");
    assert!(
        count(&[Mark::Right]) as f64 >= 0.95 * shown as f64,
        "{}",
        told(&runs)
    );
    let two = |wanted: bool| {
        runs.iter()
            .filter(|(_, case, outcome)| names_both(case, outcome) == Some(wanted))
            .map(|(kind, case, o)| {
                let said = (o.verdict.cause, o.verdict.also.clone());
                format!("{kind:?} {said:?} {:?}", true_causes(case))
            })
            .collect::<Vec<String>>()
    };
    let (named, not_named) = (two(true).len(), two(false));
    assert!(named >= 10, "only {named} runs have two faults");
    // One of some fifteen may lie where neither is surely there.
    assert!(not_named.len() <= 1, "{not_named:?}");
    // A view without wheel mark and string never blames what it cannot show.
    for (_, _, outcome) in runs.iter().filter(|(kind, _, _)| *kind == Kind::Unseen) {
        assert_eq!(outcome.verdict.cause, Cause::Undetermined);
        assert!(!outcome.verdict.not_seen.is_empty());
    }
    // Confidence is what it says: those said to be nearly sure are nearly all right.
    let sure: Vec<bool> = runs
        .iter()
        .filter(|(_, _, o)| o.verdict.confidence > 0.95)
        .map(|(_, case, o)| mark(case, o) != Mark::Wrong)
        .collect();
    assert!(sure.len() > 50);
    assert!(sure.iter().filter(|r| **r).count() as f64 >= 0.95 * sure.len() as f64);
}

fn told(runs: &[(Kind, Case, Outcome)]) -> String {
    let lines: Vec<String> = runs
        .iter()
        .filter(|(_, case, o)| matches!(mark(case, o), Mark::Wrong | Mark::Missed))
        .map(|(kind, case, o)| {
            format!(
                "{kind:?}: said {:?} and {:?}, true {:?}",
                o.verdict.cause,
                o.verdict.also,
                true_causes(case)
            )
        })
        .collect();
    lines.join("\n")
}

#[test]
fn two_causes_are_named_in_the_order_of_their_costs() {
    let faults = Faults {
        mu: Some(0.16),
        skew_rad: 0.02,
        ..Faults::default()
    };
    let case = case(11, &faults, &Filming::default());
    let truth = true_causes(&case);
    assert_eq!((truth[0].0, truth[1].0), (Cause::Grip, Cause::Alignment));
    let outcome = measure(&case, DRAWS).unwrap();
    assert_eq!(outcome.verdict.cause, Cause::Grip);
    assert_eq!(outcome.verdict.also, [Cause::Alignment]);
}

#[test]
fn a_curve_that_exists_only_while_slipping_is_grip_and_no_skew() {
    let faults = Faults {
        mu: Some(0.16),
        yaw_per_spun_m: 0.15,
        ..Faults::default()
    };
    let outcome = measure(&case(12, &faults, &Filming::default()), DRAWS).unwrap();
    assert_eq!(outcome.verdict.cause, Cause::Grip);
    assert!(outcome.verdict.also.is_empty());
    assert!(outcome.result.models.yaw > 0.95);
    assert!(outcome.result.value(Key::CurvaturePerM).unwrap().abs() < 0.01);
    assert!(outcome.result.effect(Effect::YawOff).low().unwrap() > 0.05);
}

#[test]
fn a_sway_is_told_by_the_axle_that_it_keeps_step_with() {
    for (rate, driven) in [(1.0, true), (1.4, false)] {
        let faults = Faults {
            sway_m: 0.003,
            sway_rate: rate,
            ..Faults::default()
        };
        let outcome = measure(&case(13, &faults, &Filming::default()), DRAWS).unwrap();
        assert_eq!(outcome.verdict.cause, Cause::Wobble);
        let models = outcome.result.models;
        let weight = if driven {
            models.sway_of_driven_wheel
        } else {
            models.sway_at_another_rate
        };
        assert!(weight > 0.95, "rate {rate}: {models:?}");
    }
}

#[test]
fn string_and_wheel_are_told_apart_by_the_axles_mark() {
    let filming = Filming {
        axle_mark: true,
        ..Filming::default()
    };
    for (string_slip, wheel_loose) in [(0.25, 0.0), (0.0, 0.25)] {
        let faults = Faults {
            string_slip,
            wheel_loose,
            ..Faults::default()
        };
        let outcome = measure(&case(14, &faults, &filming), DRAWS).unwrap();
        assert_eq!(outcome.verdict.cause, Cause::Drive);
        let string = outcome.result.value(Key::StringSlipTurns).unwrap();
        let loose = outcome.result.value(Key::LooseWheelTurns).unwrap();
        assert_eq!(string_slip > 0.0, string > loose, "{string} {loose}");
    }
}
