//! Quantities as people read them: rounded to their uncertainty, in units of a handy size.

use crate::findings::Key;
use crate::texts::{Texts, say};
use crate::uncertainty::{Quantity, QuantityReason};

/// A quantity in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ShownQuantity {
    /// Value with its unit.
    pub value: String,
    /// Both ends with one unit, as in "between 1.2 and 1.4 m".
    pub between: String,
    /// Ends of the 95 % interval, with the unit.
    pub interval: String,
    /// The unit, after a space where one belongs; empty for none.
    pub unit: String,
}

impl ShownQuantity {
    /// The interval with its unit.
    pub(crate) fn range(&self) -> String {
        format!("{}{}", self.interval, self.unit)
    }

    /// The value with its interval in brackets.
    pub(crate) fn both(&self) -> String {
        format!("{} ({})", self.value, self.interval)
    }
}

/// What follows the number, and the factor from the file's unit.
pub(crate) struct Unit {
    /// The unit's name, empty for none.
    pub(crate) words: &'static str,
    /// What a value of the files is multiplied by.
    pub(crate) factor: f64,
}

/// Lengths below this are told in millimetres, m.
const SMALL_M: f64 = 0.1;

/// Decimals of a millimetre that mean something in a picture.
const FINEST_MM: usize = 2;

/// Units by the ending of a key's name, longest first.
pub(crate) const END_UNITS: [(&str, &str); 9] = [
    ("_m_per_s2", "m/s²"),
    ("_m_per_s", "m/s"),
    ("_m_per_m", "m per metre"),
    ("_per_m", "per metre"),
    ("_rad", "°"),
    ("_turns", "turns"),
    ("_m", "m"),
    ("_s", "s"),
    ("_j", "J"),
];

/// The unit in which a quantity of this size is told.
pub(crate) fn unit_of(key: Key, size: f64) -> Unit {
    let name = key.as_str();
    let words = END_UNITS
        .into_iter()
        .find(|(ending, _)| name.ends_with(ending))
        .map_or("", |(_, words)| words);
    match words {
        "°" => Unit {
            words,
            factor: 1f64.to_degrees(),
        },
        "m" if size.abs() < SMALL_M => Unit {
            words: "mm",
            factor: 1000.0,
        },
        _ => Unit { words, factor: 1.0 },
    }
}

/// Decimals at which a half width has two digits (GUM, JCGM 100, 7.2.6), at most five.
pub(crate) fn decimals(half: f64) -> usize {
    if half <= 0.0 || !half.is_finite() {
        return 3;
    }
    (1.0 - half.log10().floor()).clamp(0.0, 5.0) as usize
}

/// Decimals at which a number of this size has four digits: more is not read, and is in the files.
fn most_decimals(size: f64) -> usize {
    if size > 0.0 && size.is_finite() {
        (3.0 - size.log10().floor()).clamp(0.0, 5.0) as usize
    } else {
        3
    }
}

/// A number in English with a true minus sign and without a negative zero.
pub(crate) fn number(value: f64, digits: usize) -> String {
    Texts::english().number(value, digits)
}

/// A quantity in words; the reason where it is not observable.
///
/// # Errors
/// The reason.
pub(crate) fn show(
    texts: &Texts,
    key: Key,
    quantity: &Quantity,
) -> Result<ShownQuantity, QuantityReason> {
    match quantity {
        Quantity::NotObservable { reason } => Err(*reason),
        Quantity::Stated { value, low, high } => {
            let size = value.abs().max(low.abs()).max(high.abs());
            Ok(in_unit(texts, [*value, *low, *high], &unit_of(key, size)))
        }
    }
}

/// Lengths within half of this of nothing are not worth their digits, m.
const NOTHING_M: f64 = 1e-3;

/// A cost in words, with its interval.
///
/// # Errors
/// The reason where it is not observable.
pub(crate) fn show_cost(texts: &Texts, quantity: &Quantity) -> Result<String, QuantityReason> {
    match quantity {
        Quantity::Stated { low, high, .. } if low.abs().max(high.abs()) < NOTHING_M / 2.0 => {
            Ok(texts.text("cost-none"))
        }
        quantity => show_length(texts, quantity).map(|shown| shown.both()),
    }
}

/// A length in words.
///
/// # Errors
/// The reason where it is not observable.
pub(crate) fn show_length(
    texts: &Texts,
    quantity: &Quantity,
) -> Result<ShownQuantity, QuantityReason> {
    show(texts, Key::DistanceM, quantity)
}

fn in_unit(texts: &Texts, of: [f64; 3], unit: &Unit) -> ShownQuantity {
    let [value, low, high] = of.map(|v| v * unit.factor);
    let half = (high - low) / 2.0;
    let size = value.abs().max(half);
    let finest = if unit.words == "mm" {
        FINEST_MM
    } else {
        usize::MAX
    };
    let digits = decimals(half).min(most_decimals(size)).min(finest);
    let gap = if unit.words.is_empty() || unit.words == "°" {
        ""
    } else {
        " "
    };
    let unit = format!("{gap}{}", unit_words(texts, unit.words));
    let [value, low, high] = [value, low, high].map(|v| texts.number(v, digits));
    let [low, high] = [low.as_str(), high.as_str()];
    ShownQuantity {
        value: format!("{value}{unit}"),
        between: say!(
            texts,
            "between",
            low = low,
            high = high,
            unit = unit.as_str()
        ),
        interval: say!(texts, "interval", low = low, high = high),
        unit,
    }
}

/// A unit's name; the units of the SI are the same in all languages.
fn unit_words(texts: &Texts, unit: &str) -> String {
    match unit {
        "turns" => texts.text("unit-turns"),
        "m per metre" => texts.text("unit-m-per-metre"),
        "per metre" => texts.text("unit-per-metre"),
        unit => unit.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(key: Key, value: f64, half: f64) -> (String, String) {
        let quantity = Quantity::stated(value, value - half, value + half);
        let shown = show(Texts::english(), key, &quantity).unwrap();
        (shown.value, shown.interval)
    }

    #[test]
    fn values_are_rounded_to_two_digits_of_their_uncertainty() {
        // JCGM 100:2008, 7.2.6: 10,057 62 ohm with 27 milliohm is told as 10,058.
        assert_eq!(decimals(0.027), 3);
        let speed = shown(Key::PeakSpeedMPerS, 1.028_4, 0.012);
        assert_eq!(speed, ("1.028 m/s".into(), "1.016 to 1.040".into()));
        let radius = shown(Key::RollingRadiusM, 0.054_96, 0.000_21);
        assert_eq!(radius, ("54.96 mm".into(), "54.75 to 55.17".into()));
        let aim = shown(Key::AimErrorRad, -0.017_453_3, 0.001_745_33);
        assert_eq!(aim, ("−1.00°".into(), "−1.10 to −0.90".into()));
        let turns = shown(Key::WheelTurns, 10.262_2, 0.004);
        assert_eq!(turns, ("10.26 turns".into(), "10.26 to 10.27".into()));
        let slip = shown(Key::MaxSlip, 0.5, 0.2);
        assert_eq!(slip.0, "0.50");
    }

    #[test]
    fn there_is_no_negative_zero() {
        assert_eq!(number(-0.000_4, 2), "0.00");
        assert_eq!(number(-0.4, 1), "−0.4");
    }
}
