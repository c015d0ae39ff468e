//! What quantities are called in a sentence, and in which unit they are told.

use crate::findings::Key;
use crate::outputs::shown::{decimals, number, unit_of};
use crate::treatments::OfQuantity;

/// What a quantity is called in "… cut the spun-away distance by …".
pub(super) const fn noun(key: Key) -> &'static str {
    match key {
        Key::ReleaseS => "time of the first motion",
        Key::PoweredS => "time of the pull",
        Key::PeakSpeedMPerS => "highest speed",
        Key::DistanceM => "way in view",
        Key::WheelTurns => "turns of the wheel",
        Key::MaxSlip => "largest slip",
        Key::SpunAwayM => "spun-away distance",
        Key::GainWithoutSlipM => "gain without wheelspin",
        Key::RollingRadiusM => "rolling radius",
        Key::FinalDeviationM => "place at the end of the view",
        Key::DriftMPerM => "drift per metre",
        Key::AimErrorRad => "first heading",
        Key::CurvaturePerM => "curvature of the path",
        Key::ImpliedSkewRad => "implied skew",
        Key::WobbleM => "wobble",
        Key::StringSlipTurns => "turns that the string slipped",
        Key::LooseWheelTurns => "turns that the wheel missed",
        Key::CoastDecelerationMPerS2 => "loss of speed while coasting",
        Key::RollingResistance => "rolling resistance",
        Key::GripCoefficient => "friction under the spinning wheels",
        Key::EnergyMovingCarJ => "energy of motion",
        Key::EnergyLostInSlipJ => "energy lost in slip",
        Key::EnergyLostRollingJ => "energy lost in rolling",
    }
}

/// What the size of a quantity with a side is called, whichever side.
pub(super) const fn noun_off_line(key: Key) -> &'static str {
    match key {
        Key::FinalDeviationM => "distance from the line at the end of the view",
        Key::DriftMPerM => "drift per metre to either side",
        Key::AimErrorRad => "error of the first heading to either side",
        Key::CurvaturePerM => "curvature to either side",
        Key::ImpliedSkewRad => "implied skew to either side",
        other => noun(other),
    }
}

/// First letter in upper case.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// One unit and one number of decimals for everything that is told of a quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// The unit, empty for none.
    pub(super) unit: &'static str,
    /// Factor from the file's unit.
    pub(super) factor: f64,
    digits: usize,
}

impl Scale {
    /// From the largest value of the runs, and their spread: two digits of it are told (JCGM 100, 7.2.6).
    pub(super) fn of(quantity: &OfQuantity) -> Self {
        let values = || quantity.points.iter().map(|point| point.value);
        let size = values().map(|v| v.value.abs()).fold(0.0, f64::max);
        let unit = unit_of(quantity.key, size);
        let spread = quantity.repeatability.map(|found| found.sd);
        let own = || {
            let halves = values()
                .map(|v| (v.high - v.low) / 2.0)
                .filter(|half| *half > 0.0);
            halves.fold(f64::INFINITY, f64::min)
        };
        let fine = spread.filter(|sd| *sd > 0.0).unwrap_or_else(own);
        let most = decimals(size * unit.factor / 100.0);
        Self {
            unit: unit.words,
            factor: unit.factor,
            digits: decimals(fine * unit.factor).min(most),
        }
    }

    /// A number without its unit.
    pub(super) fn bare(&self, value: f64) -> String {
        number(value * self.factor, self.digits)
    }

    /// A number with its unit.
    pub(super) fn with_unit(&self, value: f64) -> String {
        let gap = if self.unit.is_empty() || self.unit == "°" {
            ""
        } else {
            " "
        };
        format!("{}{gap}{}", self.bare(value), self.unit)
    }

    /// The same unit with the decimals that an interval of this half width is told in.
    pub(super) fn to_half(self, half: f64) -> Self {
        Self {
            digits: decimals(half * self.factor),
            ..self
        }
    }

    /// A number with its unit, to three digits at most: for differences that someone plans for.
    pub(super) fn round(&self, value: f64) -> String {
        let shown = value.abs() * self.factor;
        // A difference far below the runs' spread keeps one digit, so that it does not look like none.
        let digits = (self.digits.min(decimals(shown / 10.0))).max(decimals(shown * 10.0));
        Self { digits, ..*self }.with_unit(value)
    }

    /// Both ends of an interval.
    pub(super) fn range(&self, low: f64, high: f64) -> String {
        format!("{} to {}", self.bare(low), self.bare(high))
    }

    /// Both ends of an interval of a size: of a fall, the sizes are told.
    pub(super) fn range_of_size(&self, low: f64, high: f64) -> String {
        if high <= 0.0 {
            self.range(-high, -low)
        } else {
            self.range(low, high)
        }
    }

    /// `, m` behind the name of an axis or a column.
    pub(super) fn comma_unit(&self) -> String {
        if self.unit.is_empty() {
            String::new()
        } else {
            format!(", {}", self.unit)
        }
    }
}
