//! Why a motion, or a part of it, is not to be had.

use crate::camera::CameraReason;

/// What the marks do not show of the motion, with the numbers that say so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MotionReason {
    /// The view does not show it.
    View(CameraReason),
    /// The sticker was not seen.
    StickerUnseen,
    /// The sticker was seen in too few frames.
    StickerSeldom,
    /// The sticker's rays do not meet its height.
    OffTheFloor,
    /// No numbers come out of smoothing: frames that lie hours apart, or places that contradict one another.
    NoSmoothPath,
    /// The sticker stays where it is.
    NeverMoves,
    /// The car was moving before it was first seen.
    AlreadyMoving,
    /// The release may lie before the clip's first frame.
    RestUnsure,
    /// Too few frames to look for a release.
    ShortClip,
    /// No wheel mark was named.
    NoWheelMark,
    /// No mark on the axle's end was named, or none was seen.
    NoAxleMark,
    /// The wheel mark was seen beside the sticker in too few frames.
    FewWheelFrames {
        /// In how many it was.
        seen: usize,
        /// How many are needed.
        needed: usize,
    },
    /// What was followed circles about another point than the sheet's hub.
    OffHub {
        /// How far apart the two are, m.
        by_m: f64,
    },
    /// What was followed does not keep to a circle.
    NoCircle,
    /// The hub is not found, and the sheet does not give the mark's radius.
    TurnedTooLittle,
    /// Too few of the observations whose count is sure keep to a circle and a steady turn.
    FewKept {
        /// How many do.
        kept: usize,
        /// Of how many.
        of: usize,
    },
    /// Too many steps of more than half a turn.
    HalfTurns {
        /// How many.
        beyond: usize,
        /// Of how many observations.
        of: usize,
        /// An ordinary frame rate that would do, frames a second, where there is one.
        enough_per_s: Option<f64>,
    },
    /// The count of turns is sure for too short a part of the run.
    CountUnsure {
        /// Observations for which it is.
        sure: usize,
        /// Of how many.
        of: usize,
    },
    /// The coast asks for a wheel of another size than the sheet's.
    OtherWheel {
        /// The radius that it asks for, m.
        rolls_on_m: f64,
        /// Half the sheet's diameter, m.
        sheet_m: f64,
    },
    /// The mark turned less than the car went, as no driving wheel does.
    TurnedLess {
        /// By how much, as way, m.
        short_m: f64,
    },
}

impl From<CameraReason> for MotionReason {
    fn from(reason: CameraReason) -> Self {
        Self::View(reason)
    }
}
