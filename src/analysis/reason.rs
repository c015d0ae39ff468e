//! Why nothing of a clip's run is measured, and why its clock is not believed.

use crate::motion::MotionReason;

/// Why there is no analysis of a run, or none that may be stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AnalysisReason {
    /// The motion cannot be told.
    Motion(MotionReason),
    /// Nothing was released: the clip is a test shot, or the sticker never moved.
    NoRun,
    /// The sticker's colour never moved.
    StickerStill,
    /// The car would be quicker than tyres can push it: the clock or the sizes are wrong.
    TooQuick(TooQuick),
}

impl From<MotionReason> for AnalysisReason {
    fn from(reason: MotionReason) -> Self {
        Self::Motion(reason)
    }
}

/// A pull beyond the grip of any tyre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TooQuick {
    /// Mean acceleration from the release to the highest speed by the clip's clock, m/s².
    pub pull_m_per_s2: f64,
}

/// Why a clip's clock cannot be believed.
#[derive(Debug, Clone, PartialEq)]
pub enum ClockDoubt {
    /// The clock is wrong, or the sizes are.
    TooQuick(TooQuick),
    /// It looks like slow motion whose rate nobody names.
    TooSlow {
        /// What shows it.
        sign: SlowSign,
        /// Frames a second by the file's own times.
        file_per_s: f64,
        /// Rates of capture that would make it an ordinary car, frames a second.
        likely_per_s: Vec<f64>,
    },
}

/// What no car of this kind does, by a clip's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SlowSign {
    /// It gains speed too slowly under power.
    WeakPull {
        /// Mean acceleration, m/s².
        pull_m_per_s2: f64,
    },
    /// Its wheel spins under a pull too weak for that.
    WeakSpin {
        /// Mean acceleration, m/s².
        pull_m_per_s2: f64,
    },
    /// It coasts more freely than a train.
    FreeCoast {
        /// Loss of speed while coasting, m/s².
        loss_m_per_s2: f64,
    },
    /// It is never fast.
    LowPeak {
        /// Highest speed, m/s.
        peak_m_per_s: f64,
    },
}
