//! A value with its 95 % interval, or why there is none.

use super::{FrameSpread, QuantityReason, Share};
use crate::findings::{Effect, FindingReason, Key};
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;

/// Standard uncertainties on each side of a 95 % interval (normal distribution; JCGM 100, table G.1).
pub const COVERAGE_FACTOR: f64 = 1.959_964;

/// A value with its 95 % interval, or the reason why the view does not show it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Quantity {
    /// Measured.
    Stated {
        /// Best value.
        value: f64,
        /// Low end of the 95 % interval.
        low: f64,
        /// High end.
        high: f64,
    },
    /// Not to be had from this clip.
    NotObservable {
        /// Why.
        #[serde(rename = "not_observable", serialize_with = "in_words")]
        reason: QuantityReason,
    },
}

fn in_words<S: Serializer>(reason: &QuantityReason, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(reason)
}

impl Quantity {
    /// A measured value.
    pub const fn stated(value: f64, low: f64, high: f64) -> Self {
        Self::Stated { value, low, high }
    }

    /// A value that this clip does not show.
    pub fn not_observable(reason: impl Into<QuantityReason>) -> Self {
        Self::NotObservable {
            reason: reason.into(),
        }
    }

    /// Low end of the interval.
    pub const fn low(&self) -> Option<f64> {
        if let Self::Stated { low, .. } = self {
            Some(*low)
        } else {
            None
        }
    }

    /// High end of the interval.
    pub const fn high(&self) -> Option<f64> {
        if let Self::Stated { high, .. } = self {
            Some(*high)
        } else {
            None
        }
    }

    /// The value, if known.
    pub const fn value(&self) -> Option<f64> {
        if let Self::Stated { value, .. } = self {
            Some(*value)
        } else {
            None
        }
    }

    pub(crate) fn value_or_zero(&self) -> f64 {
        self.value().unwrap_or(0.0)
    }

    /// The size of a signed value: its interval ends at zero where the sign is open.
    #[must_use]
    pub fn magnitude(&self) -> Self {
        match *self {
            Self::Stated { value, low, high } if value < 0.0 => {
                Self::stated(-value, (-high).max(0.0), -low)
            }
            Self::Stated { value, low, high } => Self::stated(value, low.max(0.0), high),
            Self::NotObservable { .. } => *self,
        }
    }

    /// Sum of two independent quantities; not observable where one is not.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        match (self, other) {
            (
                Self::Stated { value, low, high },
                Self::Stated {
                    value: v,
                    low: l,
                    high: h,
                },
            ) => {
                let sum = value + v;
                Self::stated(
                    sum,
                    sum - (value - low).hypot(v - l),
                    sum + (high - value).hypot(h - v),
                )
            }
            (Self::NotObservable { .. }, _) => *self,
            (_, Self::NotObservable { .. }) => *other,
        }
    }
}

/// Everything found in a run, with 95 % intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct Result95 {
    /// The quantities.
    pub values: BTreeMap<Key, Quantity>,
    /// What each fault cost, m; off line is left positive.
    pub effects: BTreeMap<Effect, Quantity>,
    /// Where each quantity's uncertainty comes from, largest share first.
    pub budgets: BTreeMap<Key, Vec<Share>>,
    /// How the rival explanations of the path weigh.
    pub models: ModelWeights,
    /// Uncertainty of each frame's columns that repeats all along the clip.
    pub frame_spread: Vec<FrameSpread>,
    /// Monte Carlo draws that could be used.
    pub draws: usize,
    /// Standard uncertainty of the floor's scale as a share, where it is a plain scale.
    pub scale_rel_sd: f64,
}

/// Weights, from 0 to 1, of the models of the path that have a term; each is compared with all that do
/// without it, on the same observations.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct ModelWeights {
    /// A curve that is there whether the wheel slips or not.
    pub curve: f64,
    /// How surely such a curve is there while the car coasts; 1 where the slip was seen.
    pub curve_coasts_on: f64,
    /// A curve that exists only while the wheel slips.
    pub yaw: f64,
    /// A sway in step with the driven wheel.
    pub sway_of_driven_wheel: f64,
    /// A sway in step with something else, such as the other axle.
    pub sway_at_another_rate: f64,
}

impl Result95 {
    /// What a fault cost.
    pub fn effect(&self, effect: Effect) -> Quantity {
        self.effects
            .get(&effect)
            .copied()
            .unwrap_or_else(|| Quantity::not_observable(FindingReason::NotComputed))
    }

    /// A quantity.
    pub fn get(&self, key: Key) -> Quantity {
        self.values
            .get(&key)
            .copied()
            .unwrap_or_else(|| Quantity::not_observable(FindingReason::NotComputed))
    }

    /// Its value, if known.
    pub fn value(&self, key: Key) -> Option<f64> {
        self.get(key).value()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_whose_sign_is_open_may_be_nothing() {
        let quantity = Quantity::stated(-0.03, -0.10, 0.04).magnitude();
        assert_eq!(quantity, Quantity::stated(0.03, 0.0, 0.10));
    }
}
