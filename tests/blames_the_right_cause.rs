//! Verdicts on more than a hundred simulated runs with every kind of fault, from none to severe. The full
//! study is `scripts/coverage`; its figures are in DEVELOPERS.md.
//!
//! Source of the truth: the equations of motion in `scripts/coverage_study/simulated`, which share
//! nothing with the tool but its input types.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

#[path = "../scripts/coverage_study/simulated/mod.rs"]
mod simulated;

use gripline::findings::{Effect, FindingReason, Key, Missing};
use gripline::outputs::verdict_words;
use gripline::texts::Texts;
use gripline::uncertainty::{ModelWeights, Quantity, Result95};
use gripline::verdict::{CLEAR_SHARE, Cause, NEGLIGIBLE_M, judge};
use rayon::prelude::*;
use simulated::causes::{KINDS, Kind, Mark, faulty, mark, names_both, true_causes};
use simulated::{Case, Faults, Filming, Outcome, case, measure};
use std::collections::BTreeMap;

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
        let words = verdict_words(Texts::english(), &outcome.verdict, &outcome.result);
        assert!(!words.not_seen.is_empty());
    }
    // "No fault found" is said only where every cost that was asked for is surely small, and the end of the
    // view surely near the line.
    let nothing: Vec<&Outcome> = runs
        .iter()
        .map(|(_, _, outcome)| outcome)
        .filter(|outcome| outcome.verdict.cause == Cause::None)
        .collect();
    assert!(nothing.len() >= 7, "{}", nothing.len());
    for outcome in nothing {
        let way = outcome.result.value(Key::DistanceM).unwrap();
        let limit = (CLEAR_SHARE * way).max(2.0 * NEGLIGIBLE_M);
        for (cause, cost) in outcome.verdict.costs() {
            for part in [&cost.travel_lost_m, &cost.off_line_m] {
                let high = part.magnitude().high();
                let small = high.is_none_or(|high| high < limit) || cause == Cause::Drive;
                assert!(small, "{cause:?} {cost:?}");
            }
        }
        let end = outcome.result.get(Key::FinalDeviationM).magnitude();
        assert!(end.high().unwrap() < limit, "{end:?}");
    }
}

/// A result of which only these costs and the place at the end of the view are known; the way is 2 m.
fn result(costs: &[(Effect, Quantity)], end_m: Quantity) -> Result95 {
    let nothing = || Quantity::stated(0.0, -0.001, 0.001);
    let mut effects: BTreeMap<Effect, Quantity> = Effect::ALL
        .into_iter()
        .map(|effect| (effect, nothing()))
        .collect();
    effects.extend(costs.iter().copied());
    let way = Quantity::stated(2.0, 1.99, 2.01);
    let values = [
        (Key::DistanceM, way),
        (Key::SpunAwayM, nothing()),
        (Key::StringSlipTurns, nothing()),
        (Key::FinalDeviationM, end_m),
    ];
    Result95 {
        values: values.into(),
        effects,
        budgets: BTreeMap::new(),
        models: ModelWeights {
            curve_coasts_on: 1.0,
            ..ModelWeights::default()
        },
        frame_spread: Vec::new(),
        draws: 0,
        scale_rel_sd: 0.0,
    }
}

#[test]
fn no_fault_is_found_only_where_every_cost_is_surely_small() {
    let on_line = || Quantity::stated(0.0, -0.01, 0.01);
    let rough = || Quantity::stated(0.02, -0.2, 0.24);
    assert_eq!(judge(&result(&[], on_line())).cause, Cause::None);
    // A place that may be a third of a metre off the line is not on it.
    let off = judge(&result(&[], Quantity::stated(0.10, -0.13, 0.33)));
    assert_eq!(off.cause, Cause::Undetermined);
    for effect in [
        Effect::DriveLost,
        Effect::DragLost,
        Effect::SwayOff,
        Effect::CurveOff,
    ] {
        // A bound on what the string lost must not be nearer than its cost.
        let bound = (Effect::DriveLostAtMost, rough());
        let verdict = judge(&result(&[bound, (effect, rough())], on_line()));
        assert_eq!(verdict.cause, Cause::Undetermined, "{effect:?}");
    }
}

#[test]
fn a_string_whose_end_was_not_seen_is_judged_by_the_turns_until_then() {
    let unseen = || Quantity::not_observable(FindingReason::EndUnclear);
    let with = |at_most: Quantity| {
        let costs = [
            (Effect::DriveLost, unseen()),
            (Effect::DriveLostAtMost, at_most),
        ];
        let mut result = result(&costs, Quantity::stated(0.0, -0.01, 0.01));
        result.values.insert(Key::StringSlipTurns, unseen());
        let verdict = judge(&result);
        (
            verdict.cause,
            verdict_words(Texts::english(), &verdict, &result),
        )
    };
    // Nearly all that the string can give was seen.
    assert_eq!(with(Quantity::stated(0.05, -0.02, 0.12)).0, Cause::None);
    // A third of it was.
    let (cause, open) = with(Quantity::stated(0.9, 0.8, 1.0));
    assert_eq!(cause, Cause::Undetermined);
    assert!(
        open.not_seen
            .iter()
            .any(|why| why.contains("up to 1000 mm")),
        "{open:?}"
    );
    assert!(
        open.try_next
            .iter()
            .any(|step| step.contains("until the string is off")),
        "{open:?}"
    );
    // The sheet says nothing of a string: nobody asked, which is said.
    let no_string = FindingReason::NotOnSheet(Missing::String);
    let (cause, unasked) = with(Quantity::not_observable(no_string));
    assert_eq!(cause, Cause::None);
    assert!(
        unasked
            .because
            .iter()
            .any(|why| why.starts_with("not judged: drive")),
        "{unasked:?}"
    );
}

#[test]
fn a_string_that_nobody_measured_the_thickness_of_is_not_blamed() {
    // Thick string on a thin axle: taken for one of no thickness, a faultless car would miss an eighth of its
    // turns.
    let filming = Filming {
        thickness_on_sheet: false,
        ..Filming::default()
    };
    let verdicts: Vec<(f64, Cause)> = (40..52)
        .into_par_iter()
        .map(|seed| {
            let case = case(seed, &Faults::default(), &filming);
            let outcome = measure(&case, DRAWS).unwrap();
            (case.car.string_diameter_m, outcome.verdict.cause)
        })
        .collect();
    let thick = verdicts.iter().filter(|(thickness, _)| *thickness > 0.001);
    assert!(thick.count() >= 3, "{verdicts:?}");
    assert!(
        verdicts.iter().all(|(_, cause)| *cause != Cause::Drive),
        "{verdicts:?}"
    );
    let none = verdicts.iter().filter(|(_, cause)| *cause == Cause::None);
    assert!(none.count() >= 9, "{verdicts:?}");
}

#[test]
fn advice_against_slip_promises_what_the_energy_gives() {
    let faults = Faults {
        mu: Some(0.16),
        ..Faults::default()
    };
    let case = case(15, &faults, &Filming::default());
    let outcome = measure(&case, DRAWS).unwrap();
    let (gain, spun) = (
        outcome.result.get(Key::GainWithoutSlipM),
        outcome.result.get(Key::SpunAwayM),
    );
    let truth = case.truth.values[&Key::GainWithoutSlipM];
    assert!(
        gain.low().unwrap() <= truth && truth <= gain.high().unwrap(),
        "{truth} {gain:?}"
    );
    // Without slip the car goes much further than the distance that the wheels wasted.
    assert!(
        gain.low().unwrap() > spun.high().unwrap(),
        "{gain:?} {spun:?}"
    );
    let try_next = verdict_words(Texts::english(), &outcome.verdict, &outcome.result).try_next;
    let first = &try_next[0];
    assert!(
        first.contains("wasted in wheelspin; without wheelspin the car would stop"),
        "{first}"
    );
    assert!(!try_next.join(" ").contains("worth"), "{first}");
    // No coast in view: nothing says what a metre of rolling costs, and nothing is promised.
    let short = Filming {
        duration_s: 1.2,
        ..Filming::default()
    };
    let case = simulated::case(15, &faults, &short);
    let outcome = measure(&case, DRAWS).unwrap();
    assert!(outcome.result.value(Key::GainWithoutSlipM).is_none());
    let try_next = verdict_words(Texts::english(), &outcome.verdict, &outcome.result).try_next;
    assert!(!try_next.join(" ").contains("further on"));
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
