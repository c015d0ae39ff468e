//! What can be changed on the car, one thing at a time.

use super::evidence::Setting;
use super::fit::Posterior;
use super::unknowns::Unknown;
use serde::Serialize;

/// One thing to change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Lever {
    /// Length of the string, with the arm all the way back at the start.
    String,
    /// Ballast over the driven axle.
    Ballast,
    /// Diameter of the axle where the string is wound.
    Axle,
    /// Length of the arm, with string and coil moved along so that the arm swings through the same angle.
    Arm,
    /// Diameter of the driven wheels, of the same make.
    Wheel,
}

/// Places of a lever's range that are looked at.
pub(super) const PLACES: usize = 13;

impl Lever {
    /// All, the least work first.
    pub const ALL: [Self; 5] = [
        Self::String,
        Self::Ballast,
        Self::Axle,
        Self::Arm,
        Self::Wheel,
    ];

    /// What it is, in a user's words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::String => "string",
            Self::Ballast => "ballast over the driven axle",
            Self::Axle => "axle diameter",
            Self::Arm => "arm",
            Self::Wheel => "driven wheels' diameter",
        }
    }

    /// How it is done.
    pub const fn how(self) -> &'static str {
        match self {
            Self::String => {
                "tie the string at another length and wind until the arm is back as before"
            }
            Self::Ballast => "tape weights down over the driven axle",
            Self::Axle => {
                "wind tape or a sleeve round the axle, or use a thinner one; the string's length stays"
            }
            Self::Arm => {
                "another arm; move the coil and cut the string so that the arm swings through the same angle"
            }
            Self::Wheel => "other wheels of the same make; the string's length stays",
        }
    }

    /// Minutes of work: common practice, no source.
    pub const fn effort_min(self) -> f64 {
        match self {
            Self::String | Self::Ballast => 5.0,
            Self::Axle => 10.0,
            Self::Arm => 20.0,
            Self::Wheel => 40.0,
        }
    }

    /// The size is told in this unit, and rounded to this many of it.
    pub const fn unit(self) -> (&'static str, f64) {
        match self {
            Self::Ballast => ("g", 1.0),
            Self::Axle => ("mm", 0.1),
            Self::String | Self::Arm | Self::Wheel => ("mm", 1.0),
        }
    }

    /// Rounded as it can be set, SI.
    pub fn rounded(self, value: f64) -> f64 {
        let step = self.unit().1 / 1000.0;
        (value / step).round() * step
    }

    /// What a sheet has to say for it to be planned: the key, where it is missing.
    pub const fn missing(self, at: &Setting) -> Option<&'static str> {
        match self {
            Self::Arm if at.arm_m.is_none() => Some("arm_length_mm in [spring]"),
            Self::Ballast if at.mass_kg.is_none() => Some("mass_g in [car]"),
            _ => None,
        }
    }

    /// Its size in a setting, SI.
    pub fn now(self, at: &Setting) -> f64 {
        match self {
            Self::String => at.string_m,
            Self::Ballast => at.added_kg,
            Self::Axle => at.axle_m,
            Self::Arm => at.arm_m.unwrap_or(0.0),
            Self::Wheel => at.wheel_m,
        }
    }

    /// The setting with another size of it.
    #[must_use]
    pub fn set(self, at: &Setting, value: f64) -> Setting {
        let mut out = at.clone();
        match self {
            Self::String => out.string_m = value,
            Self::Ballast => out.added_kg = value,
            Self::Axle => out.axle_m = value,
            Self::Wheel => out.wheel_m = value,
            Self::Arm => {
                let before = self.now(at);
                out.arm_m = Some(value);
                out.pivot_m = at.pivot_m.map(|pivot| pivot + value - before);
                out.string_m = at.string_m * value / before;
            }
        }
        out
    }

    /// The smallest and the largest size that is looked at: what can be built on such a car without building another.
    /// Common practice, no source. A string is not longer than the arm can pull.
    pub fn range(self, at: &Setting, posterior: &Posterior, floor: usize) -> [f64; 2] {
        let now = self.now(at);
        match self {
            Self::String => {
                let mut longest: Vec<f64> = (posterior.draws.iter())
                    .map(|draw| {
                        let car = posterior.garage.car(&draw.point, floor, at, [0.0; 3]);
                        car.longest_pull_m()
                    })
                    .collect();
                longest.sort_by(f64::total_cmp);
                let middle = longest.get(longest.len() / 2).copied().unwrap_or(now);
                // What was wound can be wound.
                [0.25 * now, middle.max(now)]
            }
            Self::Ballast => [0.0, 0.6 * at.mass_kg.unwrap_or(0.2)],
            Self::Axle => [(0.3 * now).max(0.0015), 3.0 * now],
            Self::Arm => [0.5 * now, 2.0 * now],
            Self::Wheel => [0.6 * now, 1.6 * now],
        }
    }

    /// Places over the range: in equal steps of ballast, else in equal ratios.
    pub fn places(self, range: [f64; 2]) -> Vec<f64> {
        let [low, high] = range;
        let share = |place: usize| place as f64 / (PLACES - 1) as f64;
        (0..PLACES)
            .map(|place| match self {
                Self::Ballast => low + share(place) * (high - low),
                _ => low * (high / low).powf(share(place)),
            })
            .collect()
    }
}

/// How far the coil sits ahead of the axle for an arm, by the draws' middle, m: told beside a new arm.
pub(super) fn middle_gap_m(posterior: &Posterior) -> f64 {
    let of = |draw: &super::fit::Draw| posterior.garage.value(&draw.point, Unknown::Gap);
    let mut gaps: Vec<f64> = posterior.draws.iter().map(of).collect();
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).copied().unwrap_or(0.015)
}
