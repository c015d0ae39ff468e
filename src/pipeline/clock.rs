//! What is stated of a clip's clock: whether the file's times are those of the run, or slow motion whose rate the clip
//! or the run sheet names. Whether that can be believed is decided in `doubt.rs`, from what the car does by it.

use super::Observed;
use crate::noise::median_step_s;
use crate::sheet::RunSheet;
use crate::sighting::Sightings;

/// Where real time comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Clock {
    /// The frames' own times.
    File,
    /// Slow motion: the file's times divided by `slowed`.
    Slowed {
        /// Frames taken a second.
        capture_fps: f64,
        /// File time over real time.
        slowed: f64,
        /// Whether the run sheet names that rate, or the clip itself.
        by_sheet: bool,
    },
}

/// A rate this near to the file's own is the same rate.
const SAME_RATE: f64 = 0.05;

impl Clock {
    /// The clock that the sheet, else the clip names; else the file's.
    pub(super) fn stated(observed: &Observed, sheet: &RunSheet) -> Self {
        let Some(file_fps) = file_fps(&observed.seen) else {
            return Self::File;
        };
        let by_sheet = sheet.camera.capture_fps.is_some();
        match sheet.camera.capture_fps.or(observed.clip.capture_fps) {
            Some(capture_fps) if (capture_fps / file_fps - 1.0).abs() > SAME_RATE => Self::Slowed {
                capture_fps,
                slowed: capture_fps / file_fps,
                by_sheet,
            },
            _ => Self::File,
        }
    }

    /// The frames' real times, s.
    pub(super) fn times_s(self, seen: &Sightings) -> Vec<f64> {
        let slowed = self.slowed();
        seen.frames
            .iter()
            .map(|frame| frame.time_s / slowed)
            .collect()
    }

    /// File time over real time.
    pub const fn slowed(self) -> f64 {
        match self {
            Self::File => 1.0,
            Self::Slowed { slowed, .. } => slowed,
        }
    }
}

/// Frames a second by the file's own times.
pub(super) fn file_fps(seen: &Sightings) -> Option<f64> {
    let times_s: Vec<f64> = seen.frames.iter().map(|frame| frame.time_s).collect();
    median_step_s(&times_s).map(|step_s| 1.0 / step_s)
}
