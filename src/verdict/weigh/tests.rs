//! The scales alone: each cause's size as a worked example, when it counts and when it is clear, and what mirrors and
//! other units do.

use super::*;
use crate::uncertainty::ModelWeights;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use std::collections::BTreeMap;

/// A run of 4 m with nothing wrong: every effect is nothing to within a millimetre.
fn sound() -> Result95 {
    let mut result = Result95 {
        values: BTreeMap::new(),
        effects: BTreeMap::new(),
        budgets: BTreeMap::new(),
        models: ModelWeights {
            curve: 1.0,
            curve_coasts_on: 1.0,
            yaw: 1.0,
            sway_of_driven_wheel: 1.0,
            sway_at_another_rate: 0.0,
        },
        frame_spread: Vec::new(),
        draws: 0,
        scale_rel_sd: 0.0,
    };
    for effect in Effect::ALL {
        result.effects.insert(effect, within(0.0, 0.001));
    }
    result.values.insert(Key::DistanceM, within(4.0, 0.01));
    result.values.insert(Key::SpunAwayM, within(0.0, 0.001));
    result
        .values
        .insert(Key::StringSlipTurns, within(0.0, 0.01));
    result
}

fn within(value: f64, half: f64) -> Quantity {
    Quantity::stated(value, value - half, value + half)
}

fn with(effects: &[(Effect, Quantity)]) -> Result95 {
    let mut result = sound();
    result.effects.extend(effects.iter().copied());
    result
}

fn of(result: &Result95, cause: Cause) -> Weighed {
    let weighed = weigh(result, &Bounds::of(result));
    assert_eq!(weighed.len(), 6);
    weighed.into_iter().find(|w| w.cause == cause).unwrap()
}

#[track_caller]
fn is(quantity: &Quantity, value: f64, low: f64, high: f64) {
    let Quantity::Stated {
        value: v,
        low: l,
        high: h,
    } = quantity
    else {
        panic!("{quantity:?}");
    };
    let off = (v - value).abs().max((l - low).abs()).max((h - high).abs());
    assert!(off < 1e-12, "{quantity:?} for {value} from {low} to {high}");
}

#[test]
fn bounds_are_shares_of_the_way_and_never_below_what_a_tape_reads() {
    for (way, negligible, clear) in [
        (4.0, 0.08, 0.32),
        (0.6, 0.02, 0.048),
        (0.4, 0.02, 0.04),
        (10.0, 0.2, 0.8),
    ] {
        let mut result = sound();
        result.values.insert(Key::DistanceM, within(way, 0.01));
        let bounds = Bounds::of(&result);
        assert!((bounds.negligible_m - negligible).abs() < 1e-12, "{way}");
        assert!((bounds.clear_m - clear).abs() < 1e-12, "{way}");
    }
}

#[test]
fn slip_is_what_was_spun_away_and_what_it_turned_the_car_by_added_in_squares() {
    let mut result = with(&[
        (Effect::YawOff, within(-0.30, 0.04)),
        (Effect::YawOffAtStated, within(-0.50, 0.06)),
    ]);
    result.values.insert(Key::SpunAwayM, within(0.50, 0.03));
    let grip = of(&result, Cause::Grip);
    // 0.5 + 0.3, and a 3-4-5 triangle of the halves.
    is(&grip.size, 0.80, 0.75, 0.85);
    is(&grip.cost.travel_lost_m, 0.50, 0.47, 0.53);
    is(&grip.cost.off_line_m, 0.30, 0.26, 0.34);
    is(&grip.cost.after_5_m.off_line_m, 0.50, 0.44, 0.56);
    is(&grip.cost.after_5_m.travel_lost_m, 0.50, 0.47, 0.53);
    assert!(grip.counts() && !grip.clear());
    // A turn that no model surely shows is no part of it.
    result.models.yaw = SURE_MODEL;
    let grip = of(&result, Cause::Grip);
    is(&grip.size, 0.50, 0.47, 0.53);
    is(&grip.cost.off_line_m, 0.0, 0.0, 0.0);
}

#[test]
fn slip_whose_start_was_not_seen_is_at_least_what_was_seen() {
    let mut result = with(&[(Effect::SpunInView, within(0.2, 0.05))]);
    let unseen = Quantity::not_observable(FindingReason::WheelUnseen);
    result.values.insert(Key::SpunAwayM, unseen);
    let grip = of(&result, Cause::Grip);
    // The yaw's millimetre adds in squares.
    let half = 0.05_f64.hypot(0.001);
    is(&grip.size, 0.2, 0.2 - 0.05, 0.2 + half);
    assert!(grip.counts());
    assert_eq!(grip.cost.travel_lost_m, unseen);
    // Little seen is no proof of little lost.
    result
        .effects
        .insert(Effect::SpunInView, within(0.0, 0.001));
    let grip = of(&result, Cause::Grip);
    assert!(!grip.counts() && !grip.clear());
    assert_eq!(grip.open(), None);
}

#[test]
fn a_cause_counts_above_its_bound_and_is_clear_below_the_clear_one() {
    // Over 4 m: 0.08 m and 0.32 m.
    for (value, half, counts, clear) in [
        (0.20, 0.119, true, true),
        (0.20, 0.121, false, false),
        (-0.20, 0.119, true, true),
        (0.10, 0.219, false, true),
        (-0.10, 0.221, false, false),
    ] {
        let result = with(&[(Effect::AimOff, within(value, half))]);
        let aim = of(&result, Cause::Aim);
        assert_eq!(
            (aim.counts(), aim.clear()),
            (counts, clear),
            "{value} {half}"
        );
        assert!((aim.size_m() - value.abs()).abs() < 1e-12);
    }
}

#[test]
fn a_curve_that_the_coast_does_not_show_is_not_surely_the_axles() {
    let mut result = with(&[
        (Effect::CurveOff, within(0.5, 0.1)),
        (Effect::CurveOffAtStated, within(0.9, 0.1)),
        (Effect::AimOff, within(0.4, 0.1)),
    ]);
    assert!(of(&result, Cause::Alignment).counts() && of(&result, Cause::Aim).counts());
    is(
        &of(&result, Cause::Alignment).cost.after_5_m.off_line_m,
        0.9,
        0.8,
        1.0,
    );
    result.models.curve_coasts_on = SURE_MODEL;
    let alignment = of(&result, Cause::Alignment);
    assert!(alignment.another_may() && !alignment.counts() && !alignment.clear());
    // The first heading rests on the shape of the path.
    assert!(!of(&result, Cause::Aim).counts());
    // Where the curve is nothing, the heading is sure whatever makes it.
    result.effects.insert(Effect::CurveOff, within(0.0, 0.01));
    assert!(of(&result, Cause::Aim).counts());
}

#[test]
fn a_small_sway_does_not_outweigh_a_large_curve_of_unsure_cause() {
    let judged = |curve_m: f64, coasts_on: f64| {
        let mut result = with(&[
            (Effect::SwayOff, within(0.1, 0.002)),
            (Effect::CurveOff, within(curve_m, 0.005)),
        ]);
        result.models.curve_coasts_on = coasts_on;
        let verdict = crate::verdict::judge(&result);
        (verdict.cause, verdict.also)
    };
    let [wobble, alignment] = [Cause::Wobble, Cause::Alignment];
    assert_eq!(judged(0.5, 0.5), (Cause::Undetermined, vec![wobble]));
    assert_eq!(judged(0.5, 1.0), (alignment, vec![wobble]));
    assert_eq!(judged(0.05, 0.5), (wobble, Vec::new()));
}

#[test]
fn a_sway_counts_from_two_millimetres_by_the_models_of_both_rates_together() {
    let mut result = with(&[
        (Effect::SwayOff, within(0.004, 0.0019)),
        (Effect::SwayLost, within(0.01, 0.002)),
    ]);
    result.models.sway_of_driven_wheel = 0.5;
    result.models.sway_at_another_rate = 0.46;
    let wobble = of(&result, Cause::Wobble);
    assert!(wobble.counts() && wobble.clear());
    is(&wobble.cost.travel_lost_m, 0.01, 0.008, 0.012);
    is(&wobble.cost.off_line_m, 0.004, 0.0021, 0.0059);
    result.models.sway_at_another_rate = 0.44;
    assert!(!of(&result, Cause::Wobble).counts());
    result.models.sway_at_another_rate = 0.46;
    result
        .effects
        .insert(Effect::SwayOff, within(0.004, 0.0021));
    assert!(!of(&result, Cause::Wobble).counts());
}

#[test]
fn turns_of_the_string_count_as_seen_or_bound_what_they_can_be() {
    let (lost, most) = (within(0.3, 0.1), within(0.15, 0.15));
    let mut result = with(&[(Effect::DriveLost, lost), (Effect::DriveLostAtMost, most)]);
    // Surely lost: seen whole, whatever the bound.
    assert_eq!(of(&result, Cause::Drive).size, lost);
    assert!(of(&result, Cause::Drive).counts());
    // Not surely lost: the nearer bound says more, and never blames.
    result.effects.insert(Effect::DriveLost, within(0.3, 0.3));
    let drive = of(&result, Cause::Drive);
    assert_eq!(drive.size, most);
    assert!(!drive.counts() && drive.clear());
    // The farther bound says less.
    result
        .effects
        .insert(Effect::DriveLostAtMost, within(0.4, 0.4));
    let drive = of(&result, Cause::Drive);
    assert_eq!(drive.size, within(0.3, 0.3));
    let hidden = Open::Hidden { at_most_m: 0.6 };
    assert_eq!(drive.open(), Some(hidden));
    // The end not seen: only the bound is left, and is named in the words.
    result.values.remove(&Key::StringSlipTurns);
    let drive = of(&result, Cause::Drive);
    assert_eq!(drive.size, within(0.4, 0.4));
    let unseen = Open::EndUnseen { at_most_m: 0.8 };
    assert_eq!(drive.open(), Some(unseen));
    // No string on the sheet: nobody asked.
    let no_string = FindingReason::NotOnSheet(Missing::String);
    let why = Quantity::not_observable(no_string);
    result.effects.insert(Effect::DriveLostAtMost, why);
    result.effects.insert(Effect::DriveLost, why);
    let drive = of(&result, Cause::Drive);
    assert!(drive.clear() && !drive.counts());
    assert_eq!(drive.not_asked(), Some(no_string.into()));
}

#[test]
fn a_coast_counts_by_what_it_loses_in_all_and_is_compared_by_what_it_lost_in_view() {
    let mut result = with(&[
        (Effect::DragLost, within(0.05, 0.01)),
        (Effect::DragLostInAll, within(2.0, 1.91)),
    ]);
    let drag = of(&result, Cause::Drag);
    assert!(drag.counts());
    is(&drag.size, 0.05, 0.04, 0.06);
    is(&drag.cost.after_5_m.travel_lost_m, 2.0, 0.09, 3.91);
    result
        .effects
        .insert(Effect::DragLostInAll, within(2.0, 1.93));
    assert!(!of(&result, Cause::Drag).counts());
    let unseen = Quantity::not_observable(FindingReason::ShortCoast);
    result.effects.insert(Effect::DragLost, unseen);
    let drag = of(&result, Cause::Drag);
    assert!(drag.clear() && !drag.counts() && drag.not_asked().is_some());
}

/// What the scales say of every cause.
fn said(result: &Result95) -> Vec<(Cause, f64, bool, bool)> {
    weigh(result, &Bounds::of(result))
        .iter()
        .map(|w| (w.cause, w.size_m(), w.counts(), w.clear()))
        .collect()
}

proptest! {
    #![proptest_config(Config {
        cases: 200,
        rng_seed: RngSeed::Fixed(48),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn sides_do_not_matter_and_units_carry_through(
        parts in proptest::collection::vec((-1.0..1.0_f64, 0.0..0.6_f64), 13),
        spun in (0.0..1.0_f64, 0.0..0.3_f64),
        weights in proptest::collection::vec(0.9..1.0_f64, 3),
        unit in 1.0..5.0_f64,
    ) {
        let written = |side: f64, unit: f64| {
            let mut result = sound();
            for (effect, (value, half)) in Effect::ALL.into_iter().zip(&parts) {
                // What turns or points the car has a side; ways lost have none.
                let has_side = Effect::OF_THE_PATH[..6].contains(&effect);
                let value = if has_side { side * value } else { value.abs() };
                result.effects.insert(effect, within(unit * value, unit * half));
            }
            result.values.insert(Key::SpunAwayM, within(unit * spun.0, unit * spun.1));
            result.values.insert(Key::DistanceM, within(unit * 4.0, 0.01));
            result.models.curve_coasts_on = weights[0];
            result.models.yaw = weights[1];
            result.models.sway_of_driven_wheel = weights[2];
            result
        };
        let plain = said(&written(1.0, 1.0));
        prop_assert_eq!(&said(&written(-1.0, 1.0)), &plain);
        for ((cause, size, counts, clear), (_, m, c, l)) in plain.iter().zip(said(&written(1.0, unit))) {
            prop_assert!((size * unit - m).abs() < 1e-9);
            // The play of a wheel is a length of its own.
            prop_assert!(*cause == Cause::Wobble || (*counts, *clear) == (c, l), "{cause:?}");
        }
    }
}
