//! One analysis of a track: how it is seen, how the car moved, what that says. It decides nothing of its own; it is
//! what the pipeline scores a hypothesis with, measures the run with, and what the draws of the intervals repeat.

mod reason;

pub use reason::{AnalysisReason, ClockDoubt, SlowSign, TooQuick};

use crate::camera::View;
use crate::findings::{CarFacts, Findings, find};
use crate::motion::{Lever, Motion, Tuning, estimate};
use crate::priors::{Believed, Priors};
use crate::track::Track;

/// One analysis of a track: everything after `track`.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// How the run is seen.
    pub view: View,
    /// How the car moved.
    pub motion: Motion,
    /// What that says.
    pub findings: Findings,
}

/// Facts about the car for the findings.
pub fn car_facts(priors: &Priors) -> CarFacts {
    let aim = priors.aim_m[1] - priors.aim_m[0];
    let geometry = priors.car_geometry();
    CarFacts {
        wheel_radius_m: priors
            .wheel_radius_given
            .then_some((priors.wheel_radius_m.value, priors.wheel_radius_m.sd)),
        wheelbase_m: priors.wheelbase_m.map(|l| l.value),
        string_turns: priors.string_turns.map(|t| (t.value, t.sd)),
        driven_share: priors.driven_share,
        mass_kg: priors.mass_kg,
        aim_from_m: priors.aim_m[0].into(),
        aim_heading_rad: aim.y.atan2(aim.x),
        lever: Lever {
            ahead_m: geometry.sticker_ahead_m,
            left_m: geometry.sticker_left_m,
        },
        rolls_on_m: priors.wheel_radius_m.value,
    }
}

/// Runs camera-dependent stages on a track seen through `view`.
///
/// # Errors
/// The reason where the sticker's path cannot be put on the floor.
pub fn analyse(
    track: &Track,
    view: View,
    priors: &Priors,
    tuning: Option<Tuning>,
) -> Result<Analysis, AnalysisReason> {
    let motion = estimate(track, &view, &priors.car_geometry(), tuning)?;
    let found = find(&motion, &view, &car_facts(priors));
    let findings = match priors.clock {
        Believed::Yes => found,
        Believed::No => found.without_seconds(),
    };
    Ok(Analysis {
        view,
        motion,
        findings,
    })
}
