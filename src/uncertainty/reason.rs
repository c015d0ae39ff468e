//! Why a quantity is not stated.

use crate::analysis::AnalysisReason;
use crate::findings::FindingReason;

/// Why a quantity of a run is not observable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum QuantityReason {
    /// The run does not show it.
    Finding(FindingReason),
    /// Nothing of the run is measured.
    NoAnalysis(AnalysisReason),
    /// The numbers do not determine it.
    Indeterminate,
    /// The wheel spun, and the view that shows the path does not show the wheel.
    SpunOutOfSight,
}

impl From<FindingReason> for QuantityReason {
    fn from(reason: FindingReason) -> Self {
        Self::Finding(reason)
    }
}

impl From<AnalysisReason> for QuantityReason {
    fn from(reason: AnalysisReason) -> Self {
        Self::NoAnalysis(reason)
    }
}
