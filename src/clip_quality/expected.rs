//! What speed, slip and drift would be uncertain by: from the run's own intervals, or from those of an
//! imagined run where the clip is a test shot. What to change is said by the items that they follow from.

use super::{Grade, Item, RunEvidence, at_most};
use crate::findings::Key;
use crate::uncertainty::{Quantity, QuantityReason, Result95};

/// Half-widths of the 95 % intervals. Speed as a share: 2 % tells two treatments apart, 15 % a good run from a
/// bad one.
const GOOD_SPEED: f64 = 0.02;
const USABLE_SPEED: f64 = 0.15;
/// Largest slip: cars without a grip fault slip by a few hundredths, spinning ones by some tenths.
const GOOD_SLIP: f64 = 0.05;
const USABLE_SLIP: f64 = 0.15;
/// Drift, metres a metre: 10 mm a metre is half a hand at the end of 5 m.
const GOOD_DRIFT: f64 = 0.010;
const USABLE_DRIFT: f64 = 0.030;

pub(super) fn items(run: &RunEvidence<'_>, moved: bool) -> Vec<Item> {
    let Some(result) = run.result else {
        return Vec::new();
    };
    let of = if moved { "" } else { " on an ordinary run" };
    vec![
        speed(result, of),
        slip(result, of, moved),
        drift(result, of),
    ]
}

/// Half the width of a quantity's interval.
fn half_width(quantity: &Quantity) -> Result<(f64, f64), QuantityReason> {
    match quantity {
        Quantity::Stated { value, low, high } => Ok((*value, (high - low) / 2.0)),
        Quantity::NotObservable { reason } => Err(*reason),
    }
}

fn speed(result: &Result95, of: &str) -> Item {
    let item = |grade, says| Item::new("expected_speed", "speed", grade, says);
    match half_width(&result.get(Key::PeakSpeedMPerS)) {
        Ok((value, half)) => {
            let share = half / value.abs().max(1e-9);
            let says = format!("\u{b1} {half:.3} m/s, {:.1} %{of}", 100.0 * share);
            item(at_most(share, GOOD_SPEED, USABLE_SPEED), says)
                .number("speed_half_width_m_per_s", half)
                .number("speed_half_width_share", share)
        }
        Err(why) => item(Grade::NotUsable, why.to_string()),
    }
}

fn slip(result: &Result95, of: &str, moved: bool) -> Item {
    let item = |grade, says| Item::new("expected_slip", "slip", grade, says);
    match half_width(&result.get(Key::MaxSlip)) {
        Ok((_, half)) => item(
            at_most(half, GOOD_SLIP, USABLE_SLIP),
            format!("\u{b1} {half:.3} of the largest slip{of}"),
        )
        .number("slip_half_width", half),
        Err(why) if moved => item(Grade::NotUsable, why.to_string()),
        Err(why) => item(Grade::NotSeen, why.to_string()),
    }
}

fn drift(result: &Result95, of: &str) -> Item {
    let item = |grade, says| Item::new("expected_drift", "drift", grade, says);
    match half_width(&result.get(Key::DriftMPerM)) {
        Ok((_, half)) => item(
            at_most(half, GOOD_DRIFT, USABLE_DRIFT),
            format!("\u{b1} {:.1} mm a metre{of}", 1000.0 * half),
        )
        .number("drift_half_width_m_per_m", half),
        Err(why) => item(Grade::NotUsable, why.to_string()),
    }
}
