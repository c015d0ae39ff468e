//! How straight the cars ran: of a place or a turn with a side, the mean tells which side, and says nothing of
//! a car that leaves the line by 30 cm to the left and to the right in turns. What matters then is how far off
//! the line the runs end, whichever side, and how far apart they end.

use super::contrasts::{Contrast, Overall, contrasts, overall};
use super::describe::{Sample, describe};
use super::facts::SheetKey;
use super::reading::{Run, Value95};
use super::shared::Seen;
use super::spread::{Spreads, spreads};
use crate::findings::Key;

/// Whether a quantity is a place or a turn with a side, left positive.
pub const fn has_side(key: Key) -> bool {
    matches!(
        key,
        Key::FinalDeviationM
            | Key::DriftMPerM
            | Key::AimErrorRad
            | Key::CurvaturePerM
            | Key::ImpliedSkewRad
    )
}

/// Two further questions on a quantity with a side.
#[derive(Debug, Clone, PartialEq)]
pub struct Straightness {
    /// Sizes of each group's values, whichever side; `None` for a group that does not show the quantity.
    pub sizes: Vec<Option<Sample>>,
    /// Differences of the mean sizes.
    pub contrasts: Vec<Contrast>,
    /// Whether the mean sizes differ at all.
    pub overall: Option<Overall>,
    /// Whether the spreads differ; `None` for too few runs, and for pairs: their runs hang together.
    pub spreads: Option<Spreads>,
}

/// Works both out; `None` for a quantity without a side.
pub(super) fn straightness(
    key: Key,
    runs: &[Run],
    grouped: &[Vec<Seen>],
    pair_by: Option<SheetKey>,
) -> Option<Straightness> {
    if !has_side(key) {
        return None;
    }
    let values = |grouped: &[Vec<Seen>]| -> Vec<Vec<f64>> {
        let of_group = |group: &Vec<Seen>| group.iter().map(|one| one.value.value).collect();
        grouped.iter().map(of_group).collect()
    };
    let off: Vec<Vec<Seen>> = (grouped.iter())
        .map(|group| group.iter().map(|one| without_side(*one)).collect())
        .collect();
    let sizes = values(&off);
    let contrasts = contrasts(key, runs, &off, pair_by);
    Some(Straightness {
        overall: overall(&sizes, &contrasts),
        sizes: sizes.iter().map(|group| describe(group)).collect(),
        contrasts,
        spreads: (pair_by.is_none())
            .then(|| spreads(&values(grouped)))
            .flatten(),
    })
}

/// The size of a value. What moves a run on the right of the line to the left brings it nearer.
fn without_side(seen: Seen) -> Seen {
    let Value95 { value, low, high } = seen.value;
    if value >= 0.0 {
        return seen;
    }
    Seen {
        value: Value95 {
            value: -value,
            low: -high,
            high: -low,
        },
        sense: -seen.sense,
        ..seen
    }
}
