//! Why a quantity is not to be had from a motion.

use crate::camera::CameraReason;
use crate::motion::MotionReason;

/// What a run does not show, with the numbers that say so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FindingReason {
    /// The motion does not show it.
    Motion(MotionReason),
    /// The run sheet does not give a size that it takes.
    NotOnSheet(Missing),
    /// Times are not the run's, or may not be.
    ClockUnknown,
    /// The wheel mark was not seen beside the sticker.
    WheelUnseen,
    /// The wheel mark was first seen too long after the start.
    WheelLate {
        /// How long after it, s.
        late_s: f64,
    },
    /// The wheel mark was lost too long before the end for its turns to be counted.
    WheelLost,
    /// The wheel mark was lost before the string's end.
    WheelLostBeforeEnd,
    /// Wheel mark and axle mark were never seen together.
    AxleApart,
    /// The rim was too slow for slip to be defined.
    SlowRim,
    /// The wheel slipped in too few frames.
    BriefSlip,
    /// There is no coast to take the rolling radius from, and no diameter on the sheet.
    NoRadius,
    /// The car comes nearer or goes away before a plain scale.
    UnevenScale {
        /// By which share of its distance.
        by: f64,
    },
    /// The pull was not in view.
    PullUnseen,
    /// The pull was not in view from release to end.
    PullNotWhole,
    /// The car was still gaining speed when it left the view.
    StillGaining,
    /// The string's end is not in view, or does not show.
    EndUnclear,
    /// Without a wheel in view the car's speed does not tell the string's end.
    EndUntold,
    /// There is no coast, or too short a one, to measure the loss of speed.
    ShortCoast,
    /// There is no coast to tell what a metre of rolling costs.
    NoCoastForGain,
    /// The coast is too short to tell what a metre of rolling costs.
    ShortCoastForGain,
    /// The path is too short to have a shape.
    ShortPath {
        /// Way in view, m.
        over_m: f64,
        /// Way that it takes, m.
        least_m: f64,
    },
    /// No shape could be fitted to the path.
    NoShape,
    /// The path is too short to tell a sway from a curve.
    SwayUntold,
    /// Nobody computed it.
    NotComputed,
}

/// A size that the run sheet may give.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// `driven_share`
    DrivenShare,
    /// `mass_g`
    Mass,
    /// `wheelbase_mm`
    Wheelbase,
    /// `string_mm` or `axle_diameter_mm`
    String,
}

impl From<MotionReason> for FindingReason {
    fn from(reason: MotionReason) -> Self {
        Self::Motion(reason)
    }
}

impl From<CameraReason> for FindingReason {
    fn from(reason: CameraReason) -> Self {
        Self::Motion(reason.into())
    }
}
