//! What the sheet says of the spring: its arm, and what a balance showed at the arm's end.

use super::error::Problem;
use super::section::{Faults, Section};

/// More readings than anyone takes.
const MAX_READINGS: usize = 50;
/// Standard gravity, m/s² (3rd CGPM, 1901): what turns a balance's grams into newtons.
const STANDARD_GRAVITY_M_PER_S2: f64 = 9.806_65;

/// The spring and its arm, from `[spring]`.
///
/// # Units
///
/// Metres and radians; the file has millimetres and degrees.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Spring {
    /// From the coil's middle to where the string is tied (`arm_length_mm`).
    pub arm_length_m: Option<f64>,
    /// From the driven axle ahead to the coil's middle (`pivot_ahead_mm`).
    pub pivot_ahead_m: Option<f64>,
    /// How far the arm is swung back at the start, from where it rests (`swung_back_deg`).
    pub swung_back_rad: Option<f64>,
}

/// One reading of a balance, from `[[spring_reading]]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpringReading {
    /// How far the arm is swung from where it rests, in radians (`swung_deg`).
    pub swung_rad: f64,
    /// Moment about the coil's middle that holds it there, N m: `force_n`, or `balance_g` in standard gravity, times
    /// the lever `held_at_mm`.
    pub moment_n_m: f64,
}

pub(super) fn spring(section: &Section<'_>, faults: &mut Faults) -> Spring {
    Spring {
        arm_length_m: section.number("arm_length_mm", faults),
        pivot_ahead_m: section.number("pivot_ahead_mm", faults),
        swung_back_rad: section.number("swung_back_deg", faults),
    }
}

pub(super) fn spring_readings(
    top: &Section<'_>,
    spring: &Spring,
    faults: &mut Faults,
) -> Vec<SpringReading> {
    let sections = top.sections("spring_reading", faults);
    if let Some(extra) = sections.get(MAX_READINGS) {
        let what = format!("more than {MAX_READINGS} readings of the spring");
        let hint = "keep a few at angles far apart";
        faults.add(extra.at, Problem::Conflict { what, hint });
    }
    let readings = sections.iter().take(MAX_READINGS);
    readings
        .filter_map(|section| reading(section, spring, faults))
        .collect()
}

fn reading(section: &Section<'_>, spring: &Spring, faults: &mut Faults) -> Option<SpringReading> {
    section.require("swung_deg", faults);
    let swung_rad = section.number("swung_deg", faults);
    let force = section.number("force_n", faults);
    let balance = section.number("balance_g", faults);
    let lever = section.number("held_at_mm", faults);
    // What is wrong with a single number is told first.
    let swung_rad = swung_rad?;
    if section.has("force_n") == section.has("balance_g") {
        let what =
            "a reading of the spring needs `force_n` or `balance_g`, and not both".to_owned();
        let hint = "give what the balance showed: newtons as force_n, or grams as balance_g";
        faults.add(section.at, Problem::Conflict { what, hint });
        return None;
    }
    let force_n = force.or(balance.map(|mass_kg| mass_kg * STANDARD_GRAVITY_M_PER_S2))?;
    if lever.or(spring.arm_length_m).is_none() && !section.has("held_at_mm") {
        let what = "a reading of the spring does not say where on the arm it was taken".to_owned();
        let hint = "give held_at_mm in it, or arm_length_mm in [spring]";
        faults.add(section.at, Problem::Conflict { what, hint });
    }
    Some(SpringReading {
        swung_rad,
        moment_n_m: force_n * lever.or(spring.arm_length_m)?,
    })
}
