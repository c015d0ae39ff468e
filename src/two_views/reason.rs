//! Why two clips are not lined up, or not joined.

use super::ViewName;
use crate::analysis::AnalysisReason;
use crate::uncertainty::QuantityReason;

/// Why no snap of the spring is heard in a clip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SnapReason {
    /// The sound of slow motion is not in step with its frames.
    SlowMotion,
    /// The clip has no sound.
    NoSound,
    /// No sudden sound stands out.
    NothingStandsOut,
}

/// Why a clip does not tell when the spring snapped, or when the car first moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Missed<R> {
    /// In which clip.
    pub view: ViewName,
    /// Why.
    pub why: R,
}

/// What to know of how two clips are lined up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AlignmentNote {
    /// The loudest bang is not the release.
    OtherBang {
        /// The sound's offset less the motion's, s.
        apart_s: f64,
    },
    /// The pictures could not check the sound.
    Unchecked(Missed<QuantityReason>),
    /// There was no snap to go by.
    NoSnap(Missed<SnapReason>),
}

/// Why two clips cannot be lined up: neither sound nor first motion is to be had in both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlignmentReason {
    /// Which sound is missing.
    pub sound: Missed<SnapReason>,
    /// Which first motion is missing.
    pub motion: Missed<QuantityReason>,
}

/// Why two clips are not joined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum JoinReason {
    /// One of them is not measured.
    NotMeasured(Missed<AnalysisReason>),
    /// They cannot be lined up.
    NotAligned(AlignmentReason),
    /// They show different runs.
    OtherRun {
        /// Share by which their speeds differ at the same moments.
        apart: f64,
    },
}
