//! What is not found where there is no metre, or no second: a quantity is stated only where the units in its name are
//! known.

use super::{Effect, FindingReason, Findings, Key};
use crate::camera::View;

/// Quantities without a metre in their unit.
const WITHOUT_METRES: [Key; 6] = [
    Key::ReleaseS,
    Key::PoweredS,
    Key::WheelTurns,
    Key::MaxSlip,
    Key::StringSlipTurns,
    Key::LooseWheelTurns,
];
/// Quantities with a second in their unit, or measured by one.
const WITH_SECONDS: [Key; 9] = [
    Key::ReleaseS,
    Key::PoweredS,
    Key::PeakSpeedMPerS,
    Key::CoastDecelerationMPerS2,
    Key::RollingResistance,
    Key::GripCoefficient,
    Key::EnergyMovingCarJ,
    Key::EnergyLostInSlipJ,
    Key::EnergyLostRollingJ,
];

/// Where the view has no scale, every quantity in metres is not observable.
pub(super) fn without_metres(view: &View, findings: &mut Findings) {
    let Err(why) = &view.scale else { return };
    for (key, finding) in &mut findings.values {
        if !WITHOUT_METRES.contains(key) {
            *finding = Err((*why).into());
        }
    }
    for finding in findings.effects.values_mut() {
        *finding = Err((*why).into());
    }
}

impl Findings {
    /// The findings of a motion at times that are not the run's, or may not be: what needs seconds is not observable.
    #[must_use]
    pub fn without_seconds(mut self) -> Self {
        let why = FindingReason::ClockUnknown;
        for key in WITH_SECONDS {
            self.values.insert(key, Err(why));
        }
        // A coast that dies too soon is judged by its deceleration: ordinary ones are so in metres and seconds.
        for effect in [Effect::DragLost, Effect::DragLostInAll] {
            self.effects.insert(effect, Err(why));
        }
        for frame in &mut self.frames {
            frame.speed_m_per_s = None;
            frame.rim_speed_m_per_s = None;
        }
        self
    }
}
