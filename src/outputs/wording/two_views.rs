//! Why two clips are not lined up, or not joined, in words.

use crate::two_views::{AlignmentNote, AlignmentReason, JoinReason, Missed, SnapReason, ViewName};
use crate::uncertainty::QuantityReason;
use std::fmt;

impl fmt::Display for Missed<SnapReason> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let view = name(self.view);
        match self.why {
            SnapReason::SlowMotion => {
                write!(f, "the sound of slow motion ({view}) is not in step")
            }
            SnapReason::NoSound => write!(f, "{view} has no sound"),
            SnapReason::NothingStandsOut => write!(
                f,
                "no sudden sound stands out in {view} where the car begins to move"
            ),
        }
    }
}

impl fmt::Display for Missed<QuantityReason> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (view, why) = (name(self.view), &self.why);
        write!(f, "{view} does not show the first motion ({why})")
    }
}

impl fmt::Display for AlignmentNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OtherBang { apart_s } => write!(
                f,
                "the loudest bang in the two sound tracks disagrees with the first motion by {:.0} ms, so it was \
                 not taken for the snap of the spring",
                1000.0 * apart_s
            ),
            Self::Unchecked(missed) => {
                write!(
                    f,
                    "the sound could not be checked by the pictures: {missed}"
                )
            }
            Self::NoSnap(missed) => write!(f, "not lined up by sound: {missed}"),
        }
    }
}

impl fmt::Display for AlignmentReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { sound, motion } = self;
        write!(f, "the two clips cannot be lined up: {sound}, and {motion}")
    }
}

impl fmt::Display for JoinReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotMeasured(missed) => write!(f, "{}: {}", name(missed.view), missed.why),
            Self::NotAligned(reason) => reason.fmt(f),
            Self::OtherRun { apart } => write!(
                f,
                "the two clips do not show the same run: at the same moments their speeds differ by {:.0} %",
                100.0 * apart
            ),
        }
    }
}

const fn name(view: ViewName) -> &'static str {
    match view {
        ViewName::Side => "the side view",
        ViewName::End => "the end view",
    }
}
